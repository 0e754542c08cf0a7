package console

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// methodPlan is one test of a method, with twelve seats.
func methodPlan(m session.Method) session.Plan {
	p := tablePlan(12)
	t := p.Tests[0]
	if !m.Overall {
		t = p.Tests[1]
	}
	t.Method = m.Key
	p.Tests = []session.TestPlan{t}
	return p
}

// TestEveryMethodFromSealToFile runs each method through the pages: 9 of 12 are
// right. P(X ≥ 9) of 12 is 299/4096 with 1/2 and 2049/531441 with 1/3 (exact
// integers, by hand).
func TestEveryMethodFromSealToFile(t *testing.T) {
	for _, m := range session.Methods {
		t.Run(m.Key, func(t *testing.T) {
			b := start(t, methodPlan(m))
			test := b.room.State().Plan.Tests[0]
			b.wants(b.page("print/ballots"), m.Ask(test), m.Hint)
			b.taste(b.come(), func(seat, _ int) bool { return seat <= 9 })
			b.do(session.OpenPourSheet{Pin: "4711"})
			x := b.revealed().Tests[0]
			want, p := "0.073", 299.0/4096
			if m.Chance() < 0.4 {
				want, p = "0.0039", 2049.0/531441
			}
			if x.Correct != 9 || x.N != 12 || x.P < p-1e-12 || x.P > p+1e-12 {
				t.Fatalf("%d of %d, p %v; want 9 of 12, p %v", x.Correct, x.N, x.P, p)
			}
			body := b.page("result")
			words := struct{ column, right, wrong string }{m.CupHead, m.Found, m.Missed}
			b.wants(body, "9 of 12 "+m.Find(test), "p\u00a0=\u00a0"+want, x.Verdict(), words.column, "Side checks", "exact)")
			if n := strings.Count(body, "<span>"+words.right+"</span>"); n != 9 {
				t.Errorf("%d trays are %q, want 9", n, words.right)
			}
			if n := strings.Count(body, "<span>"+words.wrong+"</span>"); n != 3 {
				t.Errorf("%d trays are %q, want 3", n, words.wrong)
			}
			if n := strings.Count(body, `class="table-r"`); n != 12*m.References() {
				t.Errorf("%d references, want %d", n, 12*m.References())
			}
			// Each tray's codes, those counted, and those picked.
			if n := len(anyCode.FindAllString(body, -1)); n != 12*(m.Cups+2*m.Picks) {
				t.Errorf("%d codes stand on the page, want %d", n, 12*(m.Cups+2*m.Picks))
			}
			checkMethodFiles(t, b, m)
		})
	}
}

func checkMethodFiles(t *testing.T, b *table, m session.Method) {
	t.Helper()
	var w wireResult
	_, body := b.get("result.json")
	if err := json.Unmarshal([]byte(body), &w); err != nil {
		t.Fatal(err)
	}
	right := 0
	for _, tray := range w.Trays {
		if len(tray.Codes) != m.Cups || len(tray.Counted) != m.Picks || len(tray.Answer.Picked) != m.Picks {
			t.Errorf("tray %+v of a method with %d cups and %d picks", tray, m.Cups, m.Picks)
		}
		if slices.Equal(tray.Counted, tray.Answer.Picked) {
			right++
		}
	}
	if g := w.Tests[0]; right != 9 || len(w.Trays) != 12 || g.Correct != 9 || g.Answers != 12 || (g.Reference != "") != (m.References() > 0) {
		t.Errorf("%d of %d trays right in the file; %+v", right, len(w.Trays), g)
	}
	sum := 0
	for _, n := range w.Tests[0].Checks.Positions {
		sum += n
	}
	if sum != 12 || w.Tests[0].Checks.PositionsP == nil {
		t.Errorf("places named: %+v", w.Tests[0].Checks)
	}
	_, body = b.get("result.csv")
	rows, err := csv.NewReader(strings.NewReader(body)).ReadAll()
	if err != nil || len(rows) != 13 {
		t.Fatalf("%d rows: %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		cell := func(name string) string { return row[slices.Index(csvColumns, name)] }
		if len(strings.Fields(cell("counted_code"))) != m.Picks || (cell("counted_code") == cell("picked_code")) != (cell("correct") == "1") ||
			cell("flight") != "1" || cell("practice") != "0" || len(cell("order")) != m.Cups {
			t.Errorf("row %v", row)
		}
	}
}

var ballotSheetRe = regexp.MustCompile(`(?s)<section class="sheet sheet-ballot">.*?</section>`)

// A reference is shown as one and can't be ticked; a tetrad asks for two.
func TestPaperByMethod(t *testing.T) {
	for _, m := range session.Methods {
		b := start(t, methodPlan(m))
		sheet := ballotSheetRe.FindString(b.page("print/ballots"))
		ticks := strings.Count(sheet, `<li><span class="tick">`)
		if ticks != m.Cups-m.References() || strings.Count(sheet, ">R</span>") != m.References() {
			t.Errorf("%s: a ballot has %d boxes and %d references", m.Key, ticks, strings.Count(sheet, ">R</span>"))
		}
		if two := strings.Contains(sheet, "Mark two cups"); two != (m.Picks == 2) {
			t.Errorf("%s: asks for two cups: %v", m.Key, two)
		}
		for _, page := range []string{"print/labels", "print/trays"} {
			body := b.page(page)
			if n := strings.Count(body, ">R</span>"); n != 12*m.References() {
				t.Errorf("%s, %s: %d references, want %d", m.Key, page, n, 12*m.References())
			}
		}
		labels := codesOf(labelCode, b.page("print/labels"))
		if want := wanted(b.room.State()); !slices.Equal(labels, want) {
			t.Errorf("%s: labels %v, want %v", m.Key, labels, want)
		}
	}
}

// The places are named as they stand, the reference beside its place.
func TestPlacesByNumberOfCups(t *testing.T) {
	for n, want := range map[int]string{2: "left right", 3: "left middle right", 4: "left second third right"} {
		var words []string
		for i := range n {
			words = append(words, place(i, n))
		}
		if got := strings.Join(words, " "); got != want {
			t.Errorf("%d cups: %q, want %q", n, got, want)
		}
	}
}

// blankPlan is the plan of a blank test between a tetrad and a pair.
func blankPlan() session.Plan {
	p := tablePlan(12)
	tetrad, blank := p.Tests[0], p.Tests[0]
	tetrad.Method, blank.Blank = session.Tetrad.Key, session.BlankUntreated
	p.Tests = []session.TestPlan{tetrad, blank, p.Tests[1]}
	p.Flights = []int{6, 6}
	return p
}

func TestPourSheetOfFourCupsAndASecondBrew(t *testing.T) {
	b := start(t, blankPlan())
	d := &desk{t: t, c: b.c, rooms: b.rooms, handler: b.c.Handler([]string{"127.0.0.1"}), at: b.at}
	door := "/pour/" + string(tableID)
	d.goes(door, "pin", "4711")
	pages := strings.Split(d.page(door+"/sheet"), `<section class="sheet sheet-pour">`)[1:]
	sheet, err := b.room.State().PourSheet()
	if err != nil {
		t.Fatal(err)
	}
	if len(pages) != 3 {
		t.Fatalf("%d sheets, want one a set", len(pages))
	}
	for i, page := range pages {
		cups := 0
		for _, tray := range sheet.Rounds[i].Trays {
			cups += len(tray.Cups)
		}
		if got := len(pourCell.FindAllString(strings.Join(pourRow.FindAllString(page, -1), ""), -1)); got != cups || cups == 0 {
			t.Errorf("sheet %d holds %d cups, want %d", i+1, got, cups)
		}
		// The sums of all sheets, on the last one, name every vessel.
		trays, _, _ := strings.Cut(page, `<p class="sheet-sum">`)
		if cross := strings.Contains(trays, `aria-label="cross"`); cross != (i == 1) {
			t.Errorf("sheet %d has a cross: %v", i+1, cross)
		}
		d.says(page, "flight 1 of 2")
	}
	d.says(pages[0], "second cup", "third cup", "Pour sheet, flight 1 of 2: tetrad, set 1")
	vessels := d.page(door + "/vessels")
	d.says(vessels, "Vessels, flight 1 of 2", "the vessel with the cross holds", "lot 2207, untreated: its second brew", "Brew anew for each flight.", "all three vessels")
	b.taste(b.come(), always(true))
	b.press("flight/end", "lobby", "flight", "1")
	body := d.page(door + "/sheet")
	d.says(body, "Pour sheet, flight 2 of 2: tetrad, set 1")
	if n := len(pourRow.FindAllString(body, -1)); n != 6*3 {
		t.Errorf("%d trays for flight 2, want 18", n)
	}
	plain := start(t, methodPlan(session.DuoTrio))
	d = &desk{t: t, c: plain.c, rooms: plain.rooms, handler: plain.c.Handler([]string{"127.0.0.1"}), at: plain.at}
	d.goes(door, "pin", "4711")
	d.says(d.page(door+"/sheet"), "left cup, R")
	d.saysNot(d.page(door+"/vessels"), "cross")
}

// In a flight's pour sheet a replacement of an earlier flight is no business of
// the pourer any more.
func TestCalledReplacementsAreOfTheFlight(t *testing.T) {
	b := start(t, flightsPlan())
	seats := b.come()
	b.do(session.Serve{Round: 1})
	b.do(session.Void{Seat: 2, Set: 1, Reason: b.text("spilled"), Replace: true})
	d := &desk{t: t, c: b.c, rooms: b.rooms, handler: b.c.Handler([]string{"127.0.0.1"}), at: b.at}
	door := "/pour/" + string(tableID)
	d.goes(door, "pin", "4711")
	d.says(d.page(door+"/sheet"), "Poured again, flight 1 of 3: triangle, set 1")
	for _, seat := range seats {
		if seat != 2 {
			b.answer(seat, 1, true)
		}
	}
	b.lock(2, 1, 1, 0)
	b.press("flight/end", "lobby", "flight", "1")
	d.saysNot(d.page(door+"/sheet"), "Poured again", "to pour again")
	// The next flight's call is new, and has its own time.
	b.come()
	b.do(session.Serve{Round: 1})
	b.do(session.Void{Seat: 6, Set: 1, Reason: b.text("spilled"), Replace: true})
	b.at = b.at.Add(time.Hour)
	d.goes(door, "pin", "4711") // the sheet has closed by itself
	d.says(d.page(door+"/sheet"), "<b>new</b>", "1 set to pour again")
	if r := d.post(door+"/printed", nil); r.status != http.StatusNoContent {
		t.Errorf("a print: status %d", r.status)
	}
	d.saysNot(d.page(door+"/sheet"), "<b>new</b>")
}

func TestResultNamesTheBlankTest(t *testing.T) {
	p := blankPlan()
	p.Flights = nil
	b := start(t, p)
	b.wants(b.page("lobby"), "12 seats are sealed")
	seats := b.come()
	b.taste(seats[:2], always(true)) // two are enough for the words
	res := b.revealed()
	body := b.page("result")
	b.wants(body, "First test, tetrad", "Blank test, triangle", "Second test, paired comparison", "Two brews of the untreated lot. It stands outside the registered order.",
		"both tests in the registered order, and a blank test beside", "Could two brews of one lot be told apart?", res.Answer(), "Triangle, blank test")
	b.saysNot(body, "Third test")
	var w wireResult
	_, file := b.get("result.json")
	if err := json.Unmarshal([]byte(file), &w); err != nil {
		t.Fatal(err)
	}
	if w.Tests[1].Blank != "untreated" || w.Tests[0].Blank != "" {
		t.Errorf("blank: %q and %q", w.Tests[0].Blank, w.Tests[1].Blank)
	}
	b.wants(b.home(), "triangle, blank test")
	b.wants(b.page("trail"), "Test 2, triangle, blank test:")
	if got := fmt.Sprint(res.Tests[1].Decided); got != "true" {
		t.Errorf("the blank test is decided: %s", got)
	}
	b.saysNot(body, "the brewing may have been tasted")
}

// Where two brews of one lot were told apart as well, no page says a plain
// "different".
func TestBlankTestThatFindsADifferenceStandsFirst(t *testing.T) {
	p := blankPlan()
	p.Flights = nil
	b := start(t, p)
	b.taste(b.come(), always(true))
	res := b.revealed()
	if !res.BrewingTold() || res.Tests[0].Outcome != session.Different || res.Tests[2].Outcome != session.Different {
		t.Fatalf("outcomes: %v, %v, %v", res.Tests[0].Outcome, res.Tests[1].Outcome, res.Tests[2].Outcome)
	}
	body := b.page("result")
	if got := heading(body); !strings.HasPrefix(got, "The brewing may be what was tasted: two brews of one lot could be told apart.") || strings.Contains(got, "Yes") {
		t.Errorf("the answer is %q", got)
	}
	b.wants(body, "different, but the brewing may have been tasted", "But two brews of one lot were told apart too, so the brewing may have been tasted.")
	home := b.home()
	b.wants(home, "Revealed: the brewing may have been tasted", "<span>different, but the brewing may have been tasted</span>", "<span>two brews of one lot told apart</span>")
	b.saysNot(home, "<span>different</span>")
}
