package console

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// kinds are the kinds of a session's entries by its trail.
func (d *desk) kinds(id session.ID) map[string]int {
	n := map[string]int{}
	for _, step := range d.room(id).State().Trail {
		n[step.Event.Kind()]++
	}
	return n
}

func TestPourSheetIsShutWithoutThePin(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	door := "/pour/" + string(id)
	shut := func(why string) {
		t.Helper()
		for _, path := range []string{"/sheet", "/vessels"} {
			if r := d.get(door + path); r.status != http.StatusSeeOther || r.to != door {
				t.Errorf("%s: GET %s: status %d to %q", why, path, r.status, r.to)
			}
		}
		for _, path := range []string{"/printed", "/sheet.pdf"} {
			if r := d.post(door+path, nil); r.to != door || strings.Contains(r.body, "%PDF") {
				t.Errorf("%s: POST %s: status %d to %q", why, path, r.status, r.to)
			}
		}
		if n := d.kinds(id)["pour sheet printed"]; n != 0 {
			t.Errorf("%s: %d prints are in the journal", why, n)
		}
	}
	shut("without a PIN")
	for _, wrong := range []string{"", "918273645546", "471104711047"} {
		r := d.post(door, filled("pin", wrong).values)
		if r.status != http.StatusUnprocessableEntity {
			t.Errorf("PIN %q: status %d", wrong, r.status)
		}
		d.says(r.body, "is not the pourer's PIN")
		if wrong != "" {
			d.saysNot(r.body, wrong)
		}
		if len(d.cookies) != 0 {
			t.Fatalf("PIN %q: a cookie was set", wrong)
		}
	}
	if n := d.kinds(id)["pin refused"]; n != 3 {
		t.Errorf("%d wrong PINs are in the journal, want 3", n)
	}
	shut("after wrong PINs")
	d.cookies = []*http.Cookie{{Name: pourCookie, Value: strings.Repeat("0", 32), Path: door}}
	shut("with a made-up cookie")
}

func TestPourSheetListensToNoPinAfterFiveWrongOnes(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	for range 5 {
		d.post("/pour/"+string(id), filled("pin", "0000").values)
	}
	r := d.post("/pour/"+string(id), filled("pin", "4711").values)
	if r.status != http.StatusTooManyRequests || len(d.cookies) != 0 {
		t.Errorf("the sixth PIN within a minute: status %d", r.status)
	}
	d.says(r.body, "Too many wrong PINs", "Wait a minute")
	d.at = d.at.Add(time.Minute)
	d.goes("/pour/"+string(id), "pin", "4711")
}

func TestPourSheetOpensWithThePin(t *testing.T) {
	d := newDesk(t)
	id, other := d.sealed(6), d.sealed(6)
	door := "/pour/" + string(id)
	if to := d.goes(door, "pin", "4711"); to != door+"/sheet" {
		t.Errorf("the PIN leads to %s", to)
	}
	c := d.cookies[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != door || c.MaxAge != 0 {
		t.Errorf("the cookie is %v", c)
	}
	trail := d.room(id).State().Trail
	if last := trail[len(trail)-1]; last.Event.Kind() != "pour sheet opened" || last.Actor != session.Pourer {
		t.Errorf("the last entry is %s by %s", last.Event.Kind(), last.Actor)
	}
	d.page(door + "/vessels")
	if r := d.post(door+"/printed", nil); r.status != http.StatusNoContent || d.kinds(id)["pour sheet printed"] != 1 {
		t.Errorf("a print: status %d, %d in the journal", r.status, d.kinds(id)["pour sheet printed"])
	}

	// The cookie is good for this session alone.
	d.cookies[0].Path = "/pour/"
	if r := d.get("/pour/" + string(other) + "/sheet"); r.to != "/pour/"+string(other) {
		t.Errorf("the cookie opens another session's sheet: status %d", r.status)
	}
	d.cookies[0].Path = door

	// The print lets it close after two minutes, whatever is looked at.
	d.at = d.at.Add(2*time.Minute - time.Second)
	d.page(door + "/sheet")
	d.at = d.at.Add(time.Second)
	if r := d.get(door + "/sheet"); r.to != door {
		t.Errorf("two minutes after a print the sheet is open: status %d", r.status)
	}
}

// The sheet closes ten minutes after the last look, and every look but those
// within a minute of another is in the journal.
func TestOpenSheetIsSeenForAShortWhile(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	door := "/pour/" + string(id)
	d.goes(door, "pin", "4711")
	looks := func(want int) {
		t.Helper()
		if n := d.kinds(id)["pour sheet seen again"]; n != want {
			t.Errorf("%d further looks are in the journal, want %d", n, want)
		}
	}
	d.page(door + "/sheet")
	d.at = d.at.Add(59 * time.Second)
	d.page(door + "/vessels")
	looks(0)
	d.at = d.at.Add(time.Second)
	d.page(door + "/sheet?order=vessel")
	looks(1)
	d.at = d.at.Add(10*time.Minute - time.Second)
	d.page(door + "/vessels")
	looks(2)
	if s := d.room(id).State(); s.SheetOpenings != 1 || s.SheetLooks != 2 {
		t.Errorf("%d openings and %d looks", s.SheetOpenings, s.SheetLooks)
	}
	d.says(d.page("/s/"+string(id)+"/trail"), "Pour sheet seen again where it was open; no PIN was asked.")

	// The door tells the host that the sheet is open, and neither shows it nor leads to it.
	d.at = d.at.Add(time.Minute)
	at := d.page(door)
	d.says(at, "The sheet is open in this browser until 09:21.", "Close the sheet", "The pourer types the PIN")
	d.saysNot(at, door+"/sheet", door+"/vessels")
	d.at = d.at.Add(9 * time.Minute)
	if r := d.get(door + "/sheet"); r.to != door {
		t.Errorf("ten minutes after the last look the sheet is open: status %d", r.status)
	}
	d.saysNot(d.page(door), "is open in this browser")
	looks(2)
}

func TestClosedSheetStaysClosed(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	door := "/pour/" + string(id)
	d.goes(door, "pin", "4711")
	old := *d.cookies[0]
	d.goes(door + "/leave")
	if len(d.cookies) != 0 {
		t.Error("the cookie is still there")
	}
	d.cookies = []*http.Cookie{&old}
	if r := d.get(door + "/sheet"); r.to != door {
		t.Errorf("the old cookie opens the sheet again: status %d", r.status)
	}
}

var (
	pourRow  = regexp.MustCompile(`(?s)<tr><th class="pour-seat" scope="row">.*?</tr>`)
	pourCell = regexp.MustCompile(`aria-label="(\d{3})"[^>]*>.*?aria-label="(disc|diamond|cross)"`)
)

func TestPourSheetHoldsEveryCupOnce(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(30)
	d.open(id, 26)
	d.goes("/pour/"+string(id), "pin", "4711")
	body := d.page("/pour/" + string(id) + "/sheet")
	sheet, err := d.room(id).State().PourSheet()
	if err != nil {
		t.Fatal(err)
	}
	var want []session.PourCup
	for _, round := range sheet.Rounds {
		for _, tray := range round.Trays {
			want = append(want, tray.Cups...)
		}
	}
	var got []string
	for _, row := range pourRow.FindAllString(body, -1) {
		for _, m := range pourCell.FindAllStringSubmatch(row, -1) {
			got = append(got, m[1]+" "+m[2])
		}
	}
	if len(want) != 26*5 || len(got) != len(want) {
		t.Fatalf("%d cups on the sheet, %d in the layout, want 130", len(got), len(want))
	}
	for i, cup := range want {
		if w := num(float64(cup.Code)) + " " + string(cup.Vessel); got[i] != w {
			t.Fatalf("cup %d is %s, want %s", i, got[i], w)
		}
	}
	// 26 trays a round are 24 and 2.
	d.says(body, "sheet 1 of 4", "sheet 4 of 4", "For the pourer only", session.ShortDigest(d.room(id).State().Digest))
	if n := strings.Count(body, `<tbody>`); n != 2*(4+1) {
		t.Errorf("%d blocks of six or fewer, want 10", n)
	}
	d.saysNot(body, "lot 2207", "untreated")
}

func TestCalledReplacementIsOnTheSheetAndNew(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	d.goes("/pour/"+string(id), "pin", "4711")
	d.open(id, 6)
	d.do(id, session.Serve{Round: 1})
	sheet := "/pour/" + string(id) + "/sheet"
	d.saysNot(d.page(sheet), "Poured again", "to pour again")
	d.do(id, session.Void{Seat: 2, Set: 1, Reason: d.text("spilled"), Replace: true})
	body := d.page(sheet)
	d.says(body, "1 set to pour again, not printed yet", "Poured again: triangle, set 1", "<b>new</b>")
	for _, code := range d.room(id).State().Codes(2, 1, 1) {
		d.says(body, num(float64(code)))
	}
	d.post("/pour/"+string(id)+"/printed?page=vessels", nil) // holds no tray
	d.says(d.page(sheet), "1 set to pour again, not printed yet", "<b>new</b>")
	d.at = d.at.Add(time.Minute)
	d.post("/pour/"+string(id)+"/printed", nil)
	d.saysNot(d.page(sheet), "<b>new</b>", "to pour again")
	d.do(id, session.Void{Seat: 3, Set: 1, Reason: d.text("spilled"), Replace: true})
	d.says(d.page(sheet), "1 change since the last print: seat 3, set 1 to pour again", "<b>new</b>")
	trail := d.page("/s/" + string(id) + "/trail")
	d.says(trail, "Page of vessels sent to a printer.", "Pour sheet sent to a printer.")
	d.saysNot(trail, "made into a PDF")
	d.post("/pour/"+string(id)+"/sheet.pdf", nil)
	d.says(d.page("/s/"+string(id)+"/trail"), "Pour sheet made into a PDF")
}

// What was served says so and has no box to tick; a seat that left since the last
// print stands in the heading.
func TestPourSheetKnowsWhatWasPoured(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6) // a triangle, then a paired comparison
	sheet := "/pour/" + string(id) + "/sheet"
	d.goes("/pour/"+string(id), "pin", "4711")
	d.saysNot(d.page(sheet), "since the last print", "to pour again")
	d.post("/pour/"+string(id)+"/printed", nil)
	d.open(id, 5) // seat 6 stays empty
	d.at = d.at.Add(30 * time.Second)
	d.says(d.page(sheet), "1 change since the last print: the list was closed: seats 1 to 5 only")
	d.do(id, session.Serve{Round: 1})
	served := "served " + clock(d.at)
	body := d.page(sheet)
	if n := strings.Count(body, "<b>"+served+"</b>"); n != 5 {
		t.Errorf("%d trays were %s, want 5", n, served)
	}
	d.says(body, "15 cups on this sheet, all poured before", "10 cups on this sheet<", "Everything: 10 trays", "Only what is not served yet: 5 trays", "Only what is new since the last print: 0 trays")
	d.do(id, session.LeaveSeat{Seat: 4, Reason: d.text("unwell")})
	d.do(id, session.Void{Seat: 2, Set: 1, Reason: d.text("spilled"), Replace: true})
	body = d.page(sheet)
	d.says(body, "3 changes since the last print: seat 2, set 1 to pour again; seat 4 left; the list was closed: seats 1 to 5 only", "Only what is new since the last print: 1 tray<")

	// rows are the trays on a sheet, as "seat of a page".
	rows := func(query string) []string {
		var all []string
		for n, page := range strings.Split(d.page(sheet+query), "<section")[1:] {
			for _, m := range regexp.MustCompile(`<tr[^>]*><th class="pour-seat" scope="row">.*?aria-label="(\d+)"`).FindAllStringSubmatch(page, -1) {
				all = append(all, m[1]+" on "+num(float64(n+1)))
			}
		}
		return all
	}
	for query, want := range map[string][]string{
		"?only=new":               {"2 on 1"},
		"?only=open":              {"2 on 1", "1 on 2", "2 on 2", "3 on 2", "5 on 2"},
		"?only=open&order=vessel": {"2 on 1", "1 on 2", "2 on 2", "3 on 2", "5 on 2"},
		"?only=some":              {"2 on 1", "1 on 2", "2 on 2", "3 on 2", "4 on 2", "5 on 2", "1 on 3", "2 on 3", "3 on 3", "4 on 3", "5 on 3"},
	} {
		if got := rows(query); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", query, got, want)
		}
	}
	d.says(d.page(sheet+"?only=new"), "3 cups on this sheet<", "sheet 1 of 1", "only what is not on the last print")
	d.says(d.page(sheet+"?only=open"), "3 cups on this sheet<", "8 cups on this sheet<", "All 2 sheets", "<b>11 cups</b>", "sheet 2 of 2")

	// The replacement is in: nothing is new any more, and no print is noted for none.
	codes := d.room(id).State().Codes(2, 1, 1)
	d.do(id, session.Lock{Seat: 2, Set: 1, Take: 1, Pick: codes[0]})
	d.says(d.page(sheet), "2 changes since the last print: seat 4 left", "answer in "+clock(d.at))
	d.says(d.page(sheet+"?only=new"), "There is nothing to print:")
	prints := d.kinds(id)["pour sheet printed"]
	if r := d.post(sheet+".pdf", filled("only", "new").values); r.status != http.StatusConflict || d.kinds(id)["pour sheet printed"] != prints {
		t.Errorf("a file of nothing: status %d", r.status)
	}
	if r := d.post(sheet+".pdf", filled("only", "open").values); r.status != http.StatusOK {
		t.Errorf("a file of what is not served yet: status %d", r.status)
	}
	d.saysNot(d.page(sheet), "change since the last print", "changes since the last print")
}

// The door says that a sheet closed by itself, when and why; until then it is to
// be asked again when its time is over.
func TestDoorSaysThatTheSheetClosed(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	door := "/pour/" + string(id)
	d.goes(door, "pin", "4711")
	opened := d.at
	d.says(d.page(door+"/sheet"), `data-open="600"`, "It closes by itself at "+clock(opened.Add(10*time.Minute))+", or two minutes after a print.")
	d.at = opened.Add(time.Minute + 300*time.Millisecond)
	d.says(d.page(door), `data-left="540"`, "pour.js") // rounded up: at 539 s the door would still be open
	d.at = opened.Add(10 * time.Minute)
	d.says(d.page(door), "The sheet is shut.", "It closed by itself at "+clock(d.at)+", ten minutes after the last look.")
	d.saysNot(d.page(door), "data-left", "Close the sheet")
	d.at = opened.Add(70 * time.Minute)
	d.saysNot(d.page(door), "It closed by itself")

	d.goes(door, "pin", "4711")
	printed := d.at
	r := d.post(door+"/printed", nil)
	if got := r.header.Get("Closes-In"); got != "120" {
		t.Errorf("a print closes the sheet in %q s", got)
	}
	line := "Printed " + clock(printed) + ", closes by itself at " + clock(printed.Add(2*time.Minute)) + "."
	for _, page := range []string{"/sheet", "/vessels"} {
		d.says(d.page(door+page), line, " data-done>")
	}
	d.at = printed.Add(2 * time.Minute)
	d.says(d.page(door), "It closed by itself at "+clock(d.at)+", two minutes after a print.")

	// Who closes it is not told that it closed.
	d.goes(door, "pin", "4711")
	d.goes(door + "/leave")
	d.saysNot(d.page(door), "It closed by itself", "is open in this browser")
}

func TestVesselsHoldWhatTheSheetSays(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	d.goes("/pour/"+string(id), "pin", "4711")
	body := d.page("/pour/" + string(id) + "/vessels")
	sheet, err := d.room(id).State().PourSheet()
	if err != nil {
		t.Fatal(err)
	}
	for mark, lot := range sheet.Lots {
		if !regexp.MustCompile(`(?s)the vessel with the ` + string(mark) + ` holds</p><p class="vessel-lot">lot ` + regexp.QuoteMeta(lot.Words())).MatchString(body) {
			t.Errorf("the page does not say that the %s holds %s", mark, lot.Words())
		}
	}
}

func TestNoSheetBeforeTheSeal(t *testing.T) {
	d := newDesk(t)
	id := d.drafted()
	d.says(d.page("/pour/"+string(id)), "There is no pour sheet yet.")
	if r := d.post("/pour/"+string(id), filled("pin", "4711").values); r.status != http.StatusConflict {
		t.Errorf("a PIN before the seal: status %d", r.status)
	}
}

func TestPourFileIsAPrint(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(26)
	door := "/pour/" + string(id)
	d.goes(door, "pin", "4711")
	seen := map[string]bool{}
	for i, form := range [][]string{{}, {"paper", "letter"}, {"order", "vessel"}, {"order", "vessel", "paper", "letter"}} {
		r := d.post(door+"/sheet.pdf", filled(form...).values)
		if r.status != http.StatusOK || !strings.HasPrefix(r.body, "%PDF-") || r.header.Get("Cache-Control") != "no-store" {
			t.Errorf("%v: status %d, headers %v", form, r.status, r.header)
		}
		if seen[r.body] {
			t.Errorf("%v: the file is one of the others", form)
		}
		seen[r.body] = true
		if n := d.kinds(id)["pour sheet printed"]; n != i+1 {
			t.Errorf("%v: %d prints are in the journal, want %d", form, n, i+1)
		}
	}
	// Nothing fetches the file by itself.
	if r := d.get(door + "/sheet.pdf"); r.status != http.StatusMethodNotAllowed {
		t.Errorf("GET of the file: status %d", r.status)
	}
	if n := d.kinds(id)["pour sheet printed"]; n != 4 {
		t.Errorf("%d prints are in the journal after a GET", n)
	}
}

// By vessel the page says when that is allowed, and holds the same cups.
func TestPourSheetByVessel(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(26)
	d.goes("/pour/"+string(id), "pin", "4711")
	cups := func(query string) []string {
		body := d.page("/pour/" + string(id) + "/sheet" + query)
		d.says(body, "held lidded at one serving temperature", "72 cups on this sheet", "All 4 sheets", "130 cups")
		var all []string
		for _, row := range pourRow.FindAllString(body, -1) {
			for _, m := range pourCell.FindAllStringSubmatch(row, -1) {
				all = append(all, m[1]+" "+m[2])
			}
		}
		slices.Sort(all)
		return all
	}
	one, two := cups(""), cups("?order=vessel")
	if len(one) != 130 || !slices.Equal(one, two) {
		t.Errorf("%d cups tray by tray, %d by vessel", len(one), len(two))
	}
	d.says(d.page("/pour/"+string(id)+"/sheet?order=vessel"), "first the disc", "then the diamond", "first the diamond", "then the disc")
}
