package console

import (
	"fmt"
	"html"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/web/guard"
	"oddcup/web/taster"
)

// table is a console over a session in memory, driven like a browser would.
type table struct {
	t     *testing.T
	c     *Console
	room  *session.Room[*session.State]
	at    time.Time
	url   string
	rooms *session.Rooms
	dealt [][]session.DealtSet // the key, as only a test can have it
}

const tableID = session.ID("20260414-090000-test")

// tableChance is the same in every run.
func tableChance() io.Reader { return rand.NewChaCha8([32]byte{1, 2, 3}) }

func tablePlan(seats int) session.Plan {
	p := session.UsualPlan()
	p.Title, p.Seats = "Tuesday session", seats
	p.Untreated = session.Lot{ID: "lot-1", Number: "2207", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "2207", Treatment: "water"}
	return p
}

// newTable is a sealed session with both lots in the register; released says
// whether they may be tasted.
func newTable(t *testing.T, plan session.Plan, alter func(*session.Sealing), released bool) *table {
	t.Helper()
	ctx := t.Context()
	rooms, err := session.NewRooms(ctx, &session.Memory{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	b := &table{t: t, at: time.Date(2026, 4, 14, 9, 0, 0, 0, time.UTC), rooms: rooms}
	chance := tableChance()
	now := func() time.Time { return b.at }
	b.c = New(Config{
		Rooms: rooms, Presence: taster.NewPresence(now), Now: now, Chance: chance,
		Join: "http://192.0.2.14:7734", Log: slog.New(slog.DiscardHandler),
	})
	for _, lot := range []session.Lot{plan.Untreated, plan.Processed} {
		b.lab(session.EnterLot{Lot: lot})
		if released {
			b.lab(session.ReleaseLot{Lot: lot.ID, By: b.text("M. Invented"), Report: "R-118"})
		}
	}
	if b.room, err = rooms.New(ctx, tableID); err != nil {
		t.Fatal(err)
	}
	pin, err := session.NewPin("4711", tableChance())
	if err != nil {
		t.Fatal(err)
	}
	sealing, err := session.Seal(plan, tableChance())
	if err != nil {
		t.Fatal(err)
	}
	if alter != nil {
		alter(&sealing)
	}
	b.do(session.Draft{Plan: plan})
	b.do(session.SetPin{Pin: pin})
	b.do(session.SealPlan{Sealing: sealing})
	server := httptest.NewServer(b.c.Handler(guard.Names{"127.0.0.1"}))
	t.Cleanup(server.Close)
	b.url = server.URL
	return b
}

func (b *table) lab(act session.Act) {
	b.t.Helper()
	if _, err := b.rooms.Lab().Do(b.t.Context(), session.Command{At: b.at, Actor: session.Host, Act: act}); err != nil {
		b.t.Fatal(err)
	}
}

func (b *table) text(words string) session.Text {
	b.t.Helper()
	text, err := session.NewText(words, tableChance())
	if err != nil {
		b.t.Fatal(err)
	}
	return text
}

func (b *table) do(act session.Act) {
	b.t.Helper()
	b.as(session.Host, act)
}

func (b *table) as(who session.Actor, act session.Act) {
	b.t.Helper()
	b.at = b.at.Add(time.Second)
	if _, err := b.room.Do(b.t.Context(), session.Command{At: b.at, Actor: who, Act: act}); err != nil {
		b.t.Fatalf("%T: %v", act, err)
	}
}

func (b *table) sit(seats ...int) {
	b.t.Helper()
	for _, n := range seats {
		b.as(session.Taster(n), session.Sit{Seat: n, Name: b.text(fmt.Sprintf("Taster %d", n)), Token: session.HashToken([]byte{byte(n)})})
	}
}

// lock answers with the cup at a place of the tray, from 0.
func (b *table) lock(seat, set, take, at int) {
	b.t.Helper()
	code := b.room.State().Codes(seat, set, take)[at]
	b.as(session.Taster(seat), session.Lock{Seat: seat, Set: set, Take: take, Pick: code, PhoneAt: b.at})
}

func upTo(n int) []int {
	var all []int
	for i := range n {
		all = append(all, i+1)
	}
	return all
}

func (b *table) path(page string) string { return "/s/" + string(tableID) + "/" + page }

func (b *table) send(req *http.Request) (status int, body, to string) {
	b.t.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	if err != nil {
		b.t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return res.StatusCode, string(raw), res.Header.Get("Location")
}

func (b *table) get(page string) (int, string) {
	b.t.Helper()
	req, err := http.NewRequest(http.MethodGet, b.url+b.path(page), nil)
	if err != nil {
		b.t.Fatal(err)
	}
	status, body, _ := b.send(req)
	return status, body
}

// page gets a page that must be there.
func (b *table) page(name string) string {
	b.t.Helper()
	status, body := b.get(name)
	if status != http.StatusOK {
		b.t.Fatalf("GET %s: status %d: %s", name, status, heading(body))
	}
	return body
}

func (b *table) post(page string, pairs ...string) (status int, body, to string) {
	b.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	req, err := http.NewRequest(http.MethodPost, b.url+b.path(page), strings.NewReader(form.Encode()))
	if err != nil {
		b.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", b.url)
	return b.send(req)
}

// press posts a form that must lead on to a page.
func (b *table) press(page, to string, pairs ...string) {
	b.t.Helper()
	status, body, at := b.post(page, pairs...)
	if status != http.StatusSeeOther || at != b.path(to) {
		b.t.Fatalf("POST %s: status %d to %q, want 303 to %q: %s", page, status, at, b.path(to), heading(body))
	}
}

var h1 = regexp.MustCompile(`(?s)<h1[^>]*>(.*?)</h1>`)

func heading(body string) string {
	m := h1.FindStringSubmatch(body)
	if m == nil {
		return ""
	}
	return html.UnescapeString(m[1])
}

func (b *table) wants(body string, words ...string) {
	b.t.Helper()
	plain := html.UnescapeString(body)
	for _, w := range words {
		if !strings.Contains(plain, w) {
			b.t.Errorf("the page “%s” does not say %q", heading(body), w)
		}
	}
}

func TestTastingThroughTheForms(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.wants(b.page("lobby"), "The lobby is shut.", "Open the lobby")
	b.press("lobby", "lobby")
	b.wants(b.page("lobby"), "Nobody is here yet. 6 are expected.", "192.0.2.14:7734/j/"+b.room.State().Door())
	b.sit(1, 2, 3, 4, 5, 6)
	b.press("seats/6/free", "lobby")
	if b.room.State().Seats[5].Taken() {
		t.Fatal("seat 6 is still taken after it was freed")
	}
	b.wants(b.page("lobby"), "Pour for the 5 who came")
	b.press("seats/2/move", "lobby")
	b.as(session.Taster(2), session.Sit{Seat: 2, Name: b.text("Taster 2"), Token: session.HashToken([]byte{200})})
	b.press("freeze", "lobby")
	b.wants(b.page("lobby"), "5 are poured for. The list is closed.", "Start with 6 not confirmed")
	b.press("open", "board")
	if got := len(b.room.State().Releases); got != 2 {
		t.Fatalf("opened on %d releases, want both lots'", got)
	}
	b.wants(b.page("board"), "5 at the table. Nothing is served yet.", "Serve set 1")
	b.press("serve", "board", "round", "1")
	b.press("pause", "board")
	b.wants(b.page("board"), "The table is paused.")
	b.press("resume", "board")
	for _, n := range []int{1, 2, 3} {
		b.lock(n, 1, 0, 0)
	}
	b.press("void", "board", "seat", "4", "set", "1", "take", "0", "reason", "spilled a cup", "replace", "1")
	body := b.page("board")
	b.wants(body, "3 of 5 have locked set 1.", "Set 1 of seat 4, again", b.path("print/labels?seat=4&set=1&take=1"), "The pourer’s page lists it now.")
	b.lock(4, 1, 1, 2)
	b.press("seats/5/leave", "board", "reason", "had to go")
	b.wants(b.page("board"), "Set 1 is in. Set 2 is the paired comparison, body.", "Serve set 2")
	b.press("serve", "board", "round", "2")
	for _, n := range []int{1, 2, 3} {
		b.lock(n, 2, 0, 1)
	}
	b.wants(b.page("board"), "Close early", "3 sets of seats 4 and 5 would stay without an answer")
	b.lock(4, 2, 0, 0)
	b.wants(b.page("board"), "Every set is in.", "Close the session")
	b.press("close", "reveal")
	closed := b.room.State()
	b.wants(b.page("reveal"), closed.ClosedAt.String(), closed.Digest.String(), "8 of 10 sets are answered.")
	b.press("reveal", "result")
	b.wants(b.page("result"), "Seat 4, set 1 was taken out (spilled a cup).", "Seat 5 left before the end.")
}

func TestTableRefusesInWordsWhatIsOutOfTurn(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	refused := func(status int, page string, pairs ...string) {
		t.Helper()
		before := b.room.State().Seq
		got, body, _ := b.post(page, pairs...)
		if got != status {
			t.Errorf("POST %s in phase %s: status %d, want %d", page, b.room.State().Phase, got, status)
		}
		if heading(body) == "" || strings.Contains(heading(body), "went wrong") {
			t.Errorf("POST %s in phase %s: no words for it: %q", page, b.room.State().Phase, heading(body))
		}
		if after := b.room.State().Seq; after != before {
			t.Errorf("POST %s in phase %s: refused, and the journal went from %d to %d", page, b.room.State().Phase, before, after)
		}
	}
	for _, page := range []string{"open", "pause", "resume", "close", "reveal"} {
		refused(http.StatusConflict, page)
	}
	refused(http.StatusConflict, "serve", "round", "1")
	refused(http.StatusConflict, "freeze")
	refused(http.StatusConflict, "seats/1/leave", "reason", "gone")
	refused(http.StatusConflict, "seats/1/free")
	b.do(session.OpenLobby{})
	refused(http.StatusConflict, "lobby")
	b.sit(1, 2)
	b.do(session.FreezeList{})
	refused(http.StatusConflict, "freeze")
	refused(http.StatusConflict, "seats/1/free")
	b.press("open", "board")
	refused(http.StatusConflict, "open")
	refused(http.StatusConflict, "reveal")
	b.press("pause", "board")
	refused(http.StatusConflict, "serve", "round", "1")
	b.press("close", "reveal")
	for _, page := range []string{"pause", "resume", "close", "open", "freeze", "lobby"} {
		refused(http.StatusConflict, page)
	}
}

func TestForeignNumbersChangeNothing(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2, 3)
	b.press("freeze", "lobby")
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	for _, x := range []struct {
		page  string
		pairs []string
	}{
		{"seats/99/move", nil}, {"seats/0/move", nil}, {"seats/-1/coming", nil}, {"seats/99/coming", nil},
		{"seats/x/free", nil}, {"seats/6/leave", []string{"reason", "gone"}}, {"seats/99/leave", []string{"reason", "gone"}},
		{"serve", []string{"round", "9"}}, {"serve", []string{"round", "-3"}}, {"serve", []string{"round", "two"}}, {"serve", nil},
		{"void", []string{"seat", "99", "set", "1", "take", "0", "reason", "x"}},
		{"void", []string{"seat", "1", "set", "9", "take", "0", "reason", "x"}},
		{"void", []string{"seat", "1", "set", "2", "take", "0", "reason", "x"}},
		{"void", []string{"seat", "1", "set", "1", "take", "1", "reason", "x"}},
		{"void", []string{"seat", "1", "set", "1", "take", "-1", "reason", "x", "replace", "1"}},
		{"void", []string{"seat", "1", "set", "", "take", "0", "reason", "x"}},
	} {
		before := b.room.State().Seq
		status, body, _ := b.post(x.page, x.pairs...)
		if status < 400 || status >= 500 {
			t.Errorf("POST %s %v: status %d, want a refusal", x.page, x.pairs, status)
		}
		if heading(body) == "" {
			t.Errorf("POST %s %v: refused without a word", x.page, x.pairs)
		}
		if after := b.room.State().Seq; after != before {
			t.Errorf("POST %s %v: the journal went from %d to %d", x.page, x.pairs, before, after)
		}
	}
	for _, page := range []string{"board?seat=99", "board?seat=-1", "board?seat=x", "lobby?seat=99"} {
		if status, _ := b.get(page); status != http.StatusOK {
			t.Errorf("GET %s: status %d, want the whole page", page, status)
		}
	}
	if status, _ := b.get("live?page=pour"); status != http.StatusNotFound {
		t.Errorf("live page of another kind: status %d, want 404", status)
	}
}

func TestLotWithoutReleaseStopsTheStart(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, false)
	b.do(session.OpenLobby{})
	b.sit(1)
	b.do(session.FreezeList{})
	before := b.room.State().Seq
	b.wants(b.page("lobby"), "is not released for tasting.", "the tasting can’t be started")
	b.saysNot(b.page("lobby"), `id="lobby-start"`)
	status, body, _ := b.post("open")
	if status != http.StatusConflict || b.room.State().Seq != before {
		t.Fatalf("status %d and journal at %d, want 409 and %d", status, b.room.State().Seq, before)
	}
	b.wants(body, "The tasting was not started.", "Lot 2207, untreated, is not released for tasting.", "2207, processed with water", `href="/lots"`)
	b.lab(session.ReleaseLot{Lot: "lot-1", By: b.text("M. Invented"), Report: "R-118"})
	if status, body, _ := b.post("open"); status != http.StatusConflict || strings.Contains(body, "untreated, is not") {
		t.Errorf("with one lot released: status %d, and the released lot may be named as missing", status)
	}
	b.lab(session.ReleaseLot{Lot: "lot-2", By: b.text("M. Invented"), Report: "R-119"})
	b.press("open", "board")
}

func TestReasonThatCanNotStandIsKeptInItsField(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.press("freeze", "lobby")
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	long := strings.Repeat("x", 201)
	for _, x := range []struct{ page, field, reason string }{
		{"void", "void-2-1-0", long}, {"void", "void-2-1-0", "  "},
	} {
		before := b.room.State().Seq
		status, body, _ := b.post(x.page, "seat", "2", "set", "1", "take", "0", "reason", x.reason)
		if status != http.StatusUnprocessableEntity || b.room.State().Seq != before {
			t.Errorf("%s: status %d, journal from %d to %d", x.page, status, before, b.room.State().Seq)
		}
		b.wants(body, `href="#`+x.field+`"`, `id="`+x.field+`" name="reason" maxlength="200" required value="`+x.reason+`" aria-invalid="true"`)
		if strings.Index(body, `role="alert"`) > strings.Index(body, "<h1") {
			t.Errorf("%s: the summary of what is wrong does not stand on top", x.page)
		}
	}
}

func TestLobbySaysWhoIsMissing(t *testing.T) {
	b := newTable(t, tablePlan(24), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2, 3)
	body := b.page("lobby")
	b.wants(body, "Nobody is in touch. 21 are expected, three phones went quiet.", "Seats 1 to 3 went quiet.", "Hand the seat cards out in number order")
	b.sit(5, 11)
	b.wants(b.page("lobby"), "Seats 4 and 6 to 10 are empty. Serving orders are as even as they can be only where the seats taken run from 1 without a gap: let whoever comes next sit there.")
	b.as(session.Taster(24), session.Sit{Seat: 24, Name: b.text(`<b onclick="x">&`), Token: session.HashToken([]byte{99})})
	if body := b.page("lobby?seat=24"); strings.Contains(body, "<b onclick") || !strings.Contains(body, "&lt;b onclick") {
		t.Error("a name came through as markup")
	}
	for _, x := range []struct {
		seats, here, quiet int
		want               string
	}{
		{24, 22, 1, "22 are here. One is expected, one phone went quiet."},
		{24, 24, 0, "All 24 are here."},
		{24, 1, 0, "1 is here. 23 are expected."},
		{24, 20, 0, "20 are here. Four are expected."},
		{3, 1, 2, "1 is here. Two phones went quiet."},
	} {
		if got := arrivals(x.seats, x.here, x.quiet); got != x.want {
			t.Errorf("%d seats, %d here, %d quiet: %q, want %q", x.seats, x.here, x.quiet, got, x.want)
		}
	}
}

func TestSeatsInWords(t *testing.T) {
	for _, x := range []struct {
		seats []int
		want  string
	}{
		{[]int{4}, "seat 4"}, {[]int{4, 10}, "seats 4 and 10"}, {[]int{1, 2}, "seats 1 and 2"},
		{[]int{1, 2, 3, 7, 9, 10, 11, 12}, "seats 1 to 3, 7 and 9 to 12"},
	} {
		if got := seatsInWords(x.seats); got != x.want {
			t.Errorf("%v: %q, want %q", x.seats, got, x.want)
		}
	}
	if got := gapsIn([]int{2, 3, 6}, 1); !slices.Equal(got, []int{1, 4, 5}) {
		t.Errorf("gaps in 2, 3, 6: %v", got)
	}
}
