package console

import (
	"crypto/rand"
	"fmt"
	"html"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/web/guard"
	"oddcup/web/taster"
)

// desk is a console without any entry, driven through its guard as a browser
// would: it follows no redirects and keeps cookies by path.
type desk struct {
	t       *testing.T
	c       *Console
	rooms   *session.Rooms
	handler http.Handler
	at      time.Time
	cookies []*http.Cookie
}

// reply is an answer of the console.
type reply struct {
	status int
	to     string // where a redirect leads
	body   string
	header http.Header
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	rooms, err := session.NewRooms(t.Context(), &session.Memory{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	d := &desk{t: t, rooms: rooms, at: time.Date(2026, 4, 15, 9, 0, 0, 0, time.UTC)}
	now := func() time.Time { return d.at }
	d.c = New(Config{
		Rooms: rooms, Presence: taster.NewPresence(now), Now: now, Chance: rand.Reader,
		Draw: func(p session.Plan) (session.Sealing, error) { return session.Seal(p, rand.Reader) },
		Join: "http://192.0.2.14:7734", Log: slog.New(slog.DiscardHandler),
	})
	d.handler = d.c.Handler(guard.Names{"127.0.0.1"})
	return d
}

func (d *desk) send(r *http.Request) reply {
	d.t.Helper()
	for _, c := range d.cookies {
		if strings.HasPrefix(r.URL.Path, c.Path) {
			r.AddCookie(c)
		}
	}
	w := httptest.NewRecorder()
	d.handler.ServeHTTP(w, r)
	for _, c := range w.Result().Cookies() {
		kept := d.cookies[:0]
		for _, have := range d.cookies {
			if have.Name != c.Name || have.Path != c.Path {
				kept = append(kept, have)
			}
		}
		d.cookies = kept
		if c.MaxAge >= 0 {
			d.cookies = append(d.cookies, c)
		}
	}
	return reply{w.Code, w.Header().Get("Location"), w.Body.String(), w.Header()}
}

func (d *desk) get(path string) reply {
	d.t.Helper()
	return d.send(httptest.NewRequest("GET", "http://127.0.0.1:7733"+path, nil))
}

// page is a page that must be there.
func (d *desk) page(path string) string {
	d.t.Helper()
	r := d.get(path)
	if r.status != http.StatusOK {
		d.t.Fatalf("GET %s: status %d, to %q: %s", path, r.status, r.to, heading(r.body))
	}
	return r.body
}

func (d *desk) post(path string, values url.Values) reply {
	d.t.Helper()
	r := httptest.NewRequest("POST", "http://127.0.0.1:7733"+path, strings.NewReader(values.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://127.0.0.1:7733")
	return d.send(r)
}

// goes posts a form that must be taken, and gives where it leads.
func (d *desk) goes(path string, pairs ...string) string {
	d.t.Helper()
	r := d.post(path, filled(pairs...).values)
	if r.status != http.StatusSeeOther {
		d.t.Fatalf("POST %s %v: status %d: %s", path, pairs, r.status, heading(r.body))
	}
	return r.to
}

func (d *desk) says(body string, words ...string) {
	d.t.Helper()
	for _, w := range words {
		if !strings.Contains(html.UnescapeString(body), w) {
			d.t.Errorf("the page does not say %q; its heading: %s", w, heading(body))
		}
	}
}

func (d *desk) saysNot(body string, words ...string) {
	d.t.Helper()
	for _, w := range words {
		if strings.Contains(html.UnescapeString(body), w) {
			d.t.Errorf("the page says %q", w)
		}
	}
}

var inputTag = regexp.MustCompile(`<input [^>]*>`)

// holds is what a form's input holds.
func (d *desk) holds(body, id string) string {
	d.t.Helper()
	for _, tag := range inputTag.FindAllString(body, -1) {
		if strings.Contains(tag, ` id="`+id+`"`) {
			m := regexp.MustCompile(` value="([^"]*)"`).FindStringSubmatch(tag)
			if m == nil {
				return ""
			}
			return html.UnescapeString(m[1])
		}
	}
	d.t.Fatalf("the page has no input %q", id)
	return ""
}

// lots enters an untreated and a processed lot, and releases both.
func (d *desk) lots() {
	d.t.Helper()
	d.goes("/lots", "number", "2207", "treatment", "untreated")
	d.goes("/lots", "number", "2207", "treatment", "water")
	for _, lot := range []string{"lot-1", "lot-2"} {
		d.goes("/lots/"+lot+"/release", "by", "M. Invented", "report", "R-118")
	}
}

// drafted begins a session and gives its ID.
func (d *desk) drafted() session.ID {
	d.t.Helper()
	to := d.goes("/sessions")
	id, isSession := strings.CutPrefix(to, "/s/")
	id, isPlan := strings.CutSuffix(id, "/plan")
	if !isSession || !isPlan {
		d.t.Fatalf("a new session leads to %s", to)
	}
	return session.ID(id)
}

func (d *desk) room(id session.ID) *session.Room[*session.State] {
	d.t.Helper()
	room, err := d.rooms.Session(d.t.Context(), id)
	if err != nil {
		d.t.Fatal(err)
	}
	return room
}

func (d *desk) do(id session.ID, act session.Act) {
	d.t.Helper()
	d.at = d.at.Add(time.Second)
	if _, err := d.c.do(d.t.Context(), d.room(id), act); err != nil {
		d.t.Fatalf("%T: %v", act, err)
	}
}

func (d *desk) text(words string) session.Text {
	d.t.Helper()
	t, err := d.c.words(words)
	if err != nil {
		d.t.Fatal(err)
	}
	return t
}

// sealed is a session of so many seats, sealed with the PIN 4711.
func (d *desk) sealed(seats int) session.ID {
	d.t.Helper()
	if len(d.rooms.Lab().State().Lots) == 0 {
		d.lots()
	}
	d.at = d.at.Add(time.Minute)
	id := d.drafted()
	f := planForm(d.room(id).State().Plan).values
	f.Set("seats", fmt.Sprint(seats))
	f.Set("pin", "4711")
	f.Set("pin2", "4711")
	if r := d.post("/s/"+string(id)+"/seal", f); r.status != http.StatusSeeOther {
		d.t.Fatalf("seal: status %d: %s", r.status, r.body)
	}
	return id
}

// open goes on to the tasting with the first so many seats taken.
func (d *desk) open(id session.ID, people int) {
	d.t.Helper()
	d.do(id, session.OpenLobby{})
	for i := range people {
		d.do(id, session.Sit{Name: d.text(fmt.Sprintf("J %02d", i+1)), Token: session.HashToken([]byte{byte(i)})})
	}
	d.do(id, session.FreezeList{})
	d.do(id, session.Open{Releases: d.rooms.Lab().State().ReleasesOf("lot-1", "lot-2")})
}

var primaryAct = regexp.MustCompile(`<(?:a|button)[^>]*button-primary[^>]*>([^<]*)<`)

func TestFirstStartLeadsToADraft(t *testing.T) {
	d := newDesk(t)
	next := func(want string) {
		t.Helper()
		found := primaryAct.FindAllStringSubmatch(d.page("/"), -1)
		if len(found) != 1 || found[0][1] != want {
			t.Errorf("the primary acts are %q, want %q alone", found, want)
		}
	}
	next("Keep the name")
	d.goes("/lab", "name", "Lab of the Tall Window (invented)")
	next("Enter a lot")
	d.goes("/lots", "number", "2207", "treatment", "untreated")
	next("Enter a lot")
	d.goes("/lots", "number", "2207", "treatment", "water")
	next("Draft a session")
	id := d.drafted()
	next("Go on with the plan")
	d.says(d.page("/"), "Lab of the Tall Window (invented)", "Wednesday session")
	p := d.room(id).State().Plan
	if p.Untreated.ID != "lot-1" || p.Processed.ID != "lot-2" {
		t.Errorf("the only pair of lots is not chosen: %q, %q", p.Untreated.ID, p.Processed.ID)
	}
}

func TestPairIsChosenWhenOnlyOneFits(t *testing.T) {
	lot := func(id, number, treatment string) session.Lot {
		return session.Lot{ID: session.LotID(id), Number: number, Treatment: treatment}
	}
	before, after := lot("1", "2207", "untreated"), lot("2", "2207", "water")
	other, odd := lot("3", "2209", "untreated"), lot("4", "2210", "carbon dioxide")
	for _, test := range []struct {
		name string
		lots []session.Lot
		want session.LotID // the processed lot, "" for no choice
	}{
		{"none", nil, ""},
		{"no processed lot", []session.Lot{before, other}, ""},
		{"one pair of one number", []session.Lot{odd, after, before, other}, "2"},
		{"one pair of two numbers", []session.Lot{other, odd}, "4"},
		{"two of one number", []session.Lot{before, after, lot("5", "2207", "ethyl acetate")}, ""},
		{"two of other numbers", []session.Lot{before, other, odd}, ""},
	} {
		u, p, ok := onlyPair(test.lots)
		if p.ID != test.want || ok != (test.want != "") || ok && !u.Untreated() {
			t.Errorf("%s: chose %q and %q (%v), want %q", test.name, u.ID, p.ID, ok, test.want)
		}
	}
}

func TestRefusedDeskFormsKeepWhatWasTyped(t *testing.T) {
	d := newDesk(t)
	d.lots()
	long := strings.Repeat("long ", 20)
	for _, test := range []struct {
		path  string
		pairs []string
		holds map[string]string
		says  string
	}{
		{"/lab", []string{"name", long}, map[string]string{"name": long}, "1 to 60 characters"},
		{
			"/lots", []string{"number", "2207", "treatment", "water", "note", "a note <b>"},
			map[string]string{"number": "2207", "note": "a note <b>"}, "it is in the register already",
		},
		{"/lots", []string{"number", "", "treatment", "water", "note", "n"}, map[string]string{"note": "n"}, "1 to 30 characters"},
		{
			"/lots/lot-1/release", []string{"by", "N. Invented", "report", ""},
			map[string]string{"by-lot-1": "N. Invented", "by-lot-2": ""}, "name the laboratory report",
		},
		{
			"/lots/lot-2/release", []string{"by", "", "report", "R-9"},
			map[string]string{"report-lot-2": "R-9"}, "a name has 1 to 40 characters",
		},
	} {
		before := d.rooms.Lab().State().Seq
		r := d.post(test.path, filled(test.pairs...).values)
		if r.status != http.StatusUnprocessableEntity {
			t.Errorf("POST %s %v: status %d", test.path, test.pairs, r.status)
			continue
		}
		for id, want := range test.holds {
			if got := d.holds(r.body, id); got != want {
				t.Errorf("POST %s: field %s holds %q, want %q", test.path, id, got, want)
			}
		}
		d.says(r.body, `role="alert"`, test.says)
		if d.rooms.Lab().State().Seq != before {
			t.Errorf("POST %s: a refused form is in the register", test.path)
		}
	}
	if r := d.post("/lots/lot-9/release", filled("by", "N", "report", "R").values); r.status != http.StatusNotFound {
		t.Errorf("a release of no lot: status %d", r.status)
	}
}

func TestLotsSayWhatIsNotReleased(t *testing.T) {
	d := newDesk(t)
	d.goes("/lots", "number", "2207", "treatment", "untreated")
	d.says(d.page("/lots"), "1 lot. One is not released for tasting.", "never judged by taste")
	d.goes("/lots/lot-1/release", "by", "M. Invented", "report", "R-118")
	d.says(d.page("/lots"), "1 lot, released for tasting.", "by M. Invented, report R-118")
}

func TestEverySessionIsListed(t *testing.T) {
	d := newDesk(t)
	gone := d.sealed(6)
	d.goes("/s/"+string(gone)+"/abandon", "reason", "kettle failed")
	shown := d.sealed(6)
	d.open(shown, 4)
	d.do(shown, session.Serve{Round: 1})
	d.says(d.page("/"), "0 of 4 have locked set 1 of 2.")
	for seat := 1; seat <= 4; seat++ {
		d.do(shown, session.Lock{Seat: seat, Set: 1, Pick: d.room(shown).State().Codes(seat, 1, 0)[0]})
	}
	d.do(shown, session.Close{})
	home := d.page("/")
	d.says(home, "abandoned: kettle failed", "The key is sealed until you reveal it.")
	d.saysNot(home, " of 4<", "undecided", "different<")
	d.do(shown, session.Reveal{})
	res, err := d.room(shown).State().Compute()
	if err != nil {
		t.Fatal(err)
	}
	first := res.Tests[0]
	d.says(d.page("/"), fmt.Sprintf("%d of 4", first.Correct), pvalue(first.P), string(first.Outcome), "0 of 0")
	if got := d.get("/s/" + string(gone)); got.to != "/s/"+string(gone)+"/trail" {
		t.Errorf("an abandoned session leads to %q", got.to)
	}
}

func TestDeskPagesAreSound(t *testing.T) {
	d := newDesk(t)
	seen := 0
	look := func(name, body string) {
		t.Helper()
		seen++
		if m := inline.FindString(body); m != "" {
			t.Errorf("%s: inline style or script: %q", name, m)
		}
		if n := len(h1.FindAllString(body, -1)); n != 1 {
			t.Errorf("%s: %d h1", name, n)
		}
		if n := len(primary.FindAllString(body, -1)); n != 1 {
			t.Errorf("%s: %d primary acts", name, n)
		}
		checkIDs(t, name, body)
		if strings.Contains(body, "ZgotmplZ") || strings.Contains(body, "%!") {
			t.Errorf("%s: a value did not fit its place", name)
		}
	}
	all := func(paths ...string) {
		t.Helper()
		for _, p := range paths {
			look(p, d.page(p))
		}
	}
	all("/", "/lots")
	look("no page", d.get("/nowhere").body)
	look("refused name", d.post("/lab", filled("name", "").values).body)
	id := d.drafted()
	at := "/s/" + string(id)
	look("plan without lots", d.page(at+"/plan"))
	look("seal refused", d.post(at+"/seal", filled("seats", "x").values).body)
	all("/", "/lots", "/pour/"+string(id))
	id = d.sealed(6)
	at = "/s/" + string(id)
	papers := []string{"/print/labels", "/print/trays", "/print/seats", "/print/ballots", "/print/labels?seat=1&set=1"}
	all("/", at+"/plan", at+"/print", "/pour/"+string(id))
	look("wrong PIN", d.post("/pour/"+string(id), filled("pin", "0000").values).body)
	d.goes("/pour/"+string(id), "pin", "4711")
	all("/pour/"+string(id)+"/sheet", "/pour/"+string(id)+"/vessels")
	for _, p := range papers {
		all(at + p)
	}
	d.open(id, 4)
	d.do(id, session.Serve{Round: 1})
	d.do(id, session.Void{Seat: 2, Set: 1, Reason: d.text("spilled"), Replace: true})
	all("/", at+"/plan", at+"/print", "/pour/"+string(id)+"/sheet")
	d.goes(at+"/abandon", "reason", "kettle failed")
	all("/", at+"/plan")
	if seen < 25 {
		t.Fatalf("only %d pages were seen", seen)
	}
}
