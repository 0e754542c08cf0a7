package session

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// reportOf makes a game's test report, with its journal checked.
func reportOf(t *testing.T, g *game, pair ...PairSession) TestReport {
	t.Helper()
	r, err := NewTestReport(g.s, ReportSources{
		Laboratory: "Bench 2 (invented)", Checked: Verify(g.s.ID, g.entries, g.texts, Paper{}), Pair: pair, Zone: time.UTC,
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// part finds a part of a report.
func (r TestReport) part(t *testing.T, key string) ReportPart {
	t.Helper()
	for _, p := range r.Parts {
		if p.Key == key {
			return p
		}
	}
	t.Fatalf("the report has no part %q", key)
	return ReportPart{}
}

// says gives an item of a part as one text.
func (p ReportPart) says(t *testing.T, name string) string {
	t.Helper()
	for _, it := range p.Items {
		if it.Name == name {
			return strings.Join(it.Words(), " ")
		}
	}
	t.Errorf("%s: no item %q", p.Key, name)
	return ""
}

// all is the whole report as one text.
func (r TestReport) all() string {
	say := []string{r.Laboratory, r.Title, r.Broken, r.Goal, r.Answer}
	say = append(say, r.Marks...)
	for _, p := range r.Parts {
		say = append(say, p.Title, p.Note)
		for _, it := range p.Items {
			say = append(append(say, it.Name), it.Words()...)
		}
		for _, t := range p.Tables {
			say = append(append(say, t.Caption), t.Heads...)
			for _, row := range t.Rows {
				say = append(say, row...)
			}
		}
	}
	return strings.Join(say, "\n")
}

func TestNoTestReportBeforeTheReveal(t *testing.T) {
	seen := 0
	for _, stage := range stages {
		g := newGame(t)
		stage.play(g)
		if g.s.Phase == PhaseRevealed {
			continue
		}
		seen++
		r, err := NewTestReport(g.s, ReportSources{Zone: time.UTC})
		if !errors.Is(err, ErrSealed) || r.Parts != nil || r.Tests != nil || r.Answer != "" {
			t.Errorf("%s: %v, %d parts", stage.name, err, len(r.Parts))
		}
	}
	if seen < 9 {
		t.Errorf("only %d stages before the reveal", seen)
	}
}

// reportItems are what ISO 4120's report clause asks for, and what is recommended
// beside it (from memory; facts of the trade: common practice, no source).
var reportItems = map[string][]string{
	"test-1": {
		"objective", "result", "conclusion", "method", "number of assessors", "answers counted", "number correct", "risks and limits, registered",
	},
	"samples": {
		"nature of the treatment", "untreated lot", "processed lot", "origin, as noted in the register", "releases for tasting",
		"preparation, planned", "quantity, planned", "storage of the lots and of the roasted coffee", "portion, planned",
		"serving temperature, planned", "serving temperature, measured", "brews as made: time, mass, strength",
	},
	"panel": {
		"number of assessors", "paper ballots", "experience of the assessors", "training of the assessors", "age and sex of the assessors", "sets answered",
	},
	"instructions": {"test 1, triangle", "forced choice", "swallowing"},
	"environment": {
		"place of the tasting", "dates", "panel leader", "booths or partitions, planned", "presentation", "light, planned", "masking of looks, planned",
		"whether identities were disclosed afterwards, and how",
	},
	"roles":      {"led the panel", "roasted", "brewed", "poured", "carried the trays", "trained the tasters", "single blind"},
	"conditions": {"confirmed", "temperature gate"},
	"departures": {
		"deviations noted", "seal broken early", "sets taken out at the table", "replacements called", "sets taken out after the close",
		"seats that left", "sets without an answer that counts",
	},
	"proof":  {"digest of the seal", "head hash at the close", "checked again for this report"},
	"pair":   {"other sessions"},
	"limits": {"precision and bias"},
}

// Nothing is left out because nobody recorded it.
func TestReportLeavesNothingOut(t *testing.T) {
	p := planOf(24, triangles(1))
	p.Serving.Swallow = ""
	g, _ := played(t, p, 24, 13)
	r := reportOf(t, g)
	for key, names := range reportItems {
		part := r.part(t, key)
		for _, name := range names {
			if part.says(t, name) == "" {
				t.Errorf("%s, %s says nothing", key, name)
			}
		}
	}
	for key, names := range map[string][]string{
		"samples":      {"origin, as noted in the register", "storage of the lots and of the roasted coffee", "roast, planned", "serving temperature, measured"},
		"panel":        {"experience of the assessors", "training of the assessors"},
		"environment":  {"place of the tasting", "panel leader", "booths or partitions, planned", "light, planned", "masking of looks, planned"},
		"roles":        {"led the panel", "roasted", "brewed", "poured", "carried the trays", "trained the tasters", "single blind"},
		"instructions": {"swallowing"},
	} {
		for _, name := range names {
			if got := r.part(t, key).says(t, name); got != NotRecorded {
				t.Errorf("%s, %s: %q, and nobody recorded it", key, name, got)
			}
		}
	}
	// 13 of 24 is the minimum at 0.05 and 0.028 its size: exact binomial, as
	// testdata/reference has both.
	one := r.part(t, "test-1")
	if got := one.says(t, "minimum correct for a difference"); got != "13 of 24; guessing alone reaches it with probability 0.028 (actual α)." {
		t.Errorf("minimum: %q", got)
	}
	if got := one.says(t, "result"); !strings.Contains(got, "13 of 24 found the odd cup") || !strings.Contains(got, "p\u00a0=\u00a00.028") {
		t.Errorf("result: %q", got)
	}
	if r.Answer == "" || !strings.HasPrefix(r.Answer, "Yes.") || len(r.Marks) != 0 {
		t.Errorf("answer %q, marks %q", r.Answer, r.Marks)
	}
	if got := r.part(t, "pair").says(t, "other sessions"); !strings.Contains(got, "the only one in this file") {
		t.Errorf("pair: %q", got)
	}
}

// What was recorded stands in its place.
func TestReportSaysWhatWasRecorded(t *testing.T) {
	p := planOf(6, triangles(1))
	p.Untreated.Note = "washed, crop of 2030"
	p.Serving.Gate, p.Serving.OwnResult, p.Serving.Allergens = true, true, "wheat (crackers)"
	p.Conditions = Conditions{
		Place: "bench 2", Storage: "cool and dry",
		Light: "red lamps", Partitions: "booths of board", Masking: "opaque lids", Vessels: "white bowls", Lids: true, Roast: "both to colour 92", Water: "filtered",
		HoldMin: 45, HoldLowC: 70, HoldHighC: 80, WarmUp: "untreated lot", Cleanser: "water and crackers", Retaste: RetasteNot,
	}
	g := newGame(t).toSealed(p)
	for _, x := range Roles {
		g.do(NameRole{Role: x, Name: text("The " + string(x))})
	}
	g.do(OpenLobby{})
	for i := 1; i <= 6; i++ {
		g.do(Sit{Seat: i, Name: text(fmt.Sprintf("Taster %d", i)), Token: phone(i)})
	}
	g.do(FreezeList{}, Confirm{Check: "light", Held: true}, Confirm{Check: "water", Held: false, Note: text("tap water")},
		OpenPourSheet{Pin: "4711"}, Open{Releases: releases()}, Serve{Round: 1, CupC: 66.5, Reason: text("the kettle was late")})
	for i := 1; i <= 6; i++ {
		g.do(g.answer(i, 1, 0, true))
	}
	g.reveal()
	r := reportOf(t, g)
	for key, items := range map[string]map[string]string{
		"samples": {
			"origin, as noted in the register": "washed, crop of 2030", "roast, planned": "Both to colour 92.", "brewing water, planned": "Filtered.",
			"holding of the brew, planned": "45 min", "cups, planned": "White bowls. Each cup had a lid.", "serving temperature, measured": "Set 1 66.5 °C.",
			"releases for tasting": "by Mira Tal, report R-1",
		},
		"environment": {
			"panel leader": "The host.", "place of the tasting": "Bench 2.", "booths or partitions, planned": "Booths of board.", "light, planned": "Red lamps.", "masking of looks, planned": "Opaque lids.",
			"tasting again": "Not allowed.", "dates": "Wednesday, 5 March 2031, 12:00 to 12:00.", "whether identities were disclosed afterwards, and how": "After the reveal each phone could show the own answers",
		},
		"instructions": {"test 1, triangle": "Do not go back to a cup", "cautions shown": "wheat (crackers)"},
		"roles":        {"poured": "The pourer.", "single blind": "No sign of it"},
		"departures":   {"deviations noted": "66.5 °C, outside 55 to 65 °C: the kettle was late."},
	} {
		for name, want := range items {
			if got := r.part(t, key).says(t, name); !strings.Contains(got, want) {
				t.Errorf("%s, %s: %q does not say %q", key, name, got, want)
			}
		}
	}
	if got := r.part(t, "departures").says(t, "deviations noted"); !strings.Contains(got, "tap water.") {
		t.Errorf("a check that did not hold is no deviation: %q", got)
	}
	states := map[string]string{}
	for _, row := range r.part(t, "conditions").Tables[0].Rows {
		states[row[0]] = row[1]
	}
	if len(states) != len(Checks(p)) {
		t.Errorf("%d checks in the table, want %d", len(states), len(Checks(p)))
	}
	for words, want := range map[string]string{
		"The light is as planned: red lamps.": "confirmed, ", "Brewing water is as planned: filtered.": "not so, ", "Every cup has a lid.": "not confirmed",
	} {
		if !strings.HasPrefix(states[words], want) {
			t.Errorf("%s: %q, want %q", words, states[words], want)
		}
	}
}

// A report names the panel: seats are numbers, and who was right is nowhere.
func TestReportNamesNoTaster(t *testing.T) {
	reports := map[bool]string{}
	for _, first := range []bool{true, false} {
		g := newGame(t).toOpen(planOf(6, triangles(1)), 6)
		// In both runs three of six are right, and other people are.
		g.play(6, func(seat, _ int) bool { return (seat <= 3) == first })
		g.reveal()
		r := reportOf(t, g)
		text := r.all()
		if strings.Contains(text, "Taster 1") || strings.Contains(text, "Taster 6") {
			t.Error("a taster is named")
		}
		// Hashes and places named differ with the answers, as they must.
		for _, h := range []Hash{g.s.ClosedAt, g.s.Head, g.s.Digest} {
			text = strings.ReplaceAll(text, h.String(), "")
		}
		var lines []string
		for _, l := range strings.Split(text, "\n") {
			if !strings.HasPrefix(l, "Cups named, by place") {
				lines = append(lines, l)
			}
		}
		reports[first] = strings.Join(lines, "\n")
	}
	if reports[true] != reports[false] {
		t.Error("the report tells who was right")
	}
}

func TestReportOfABrokenAndAmendedSession(t *testing.T) {
	g := newGame(t).toOpen(planOf(24, triangles(1), pairOn("body")), 24)
	g.do(BreakSeal{text("the vessels were mixed up")}, NoteDeviation{text("one kettle, two pours")}, Serve{Round: 1})
	g.do(Void{Seat: 2, Set: 1, Reason: text("spilled"), Replace: true})
	for seat := 1; seat <= 24; seat++ {
		take := 0
		if seat == 2 {
			take = 1
		}
		g.do(g.answer(seat, 1, take, seat <= 13))
	}
	g.do(Serve{Round: 2}, LeaveSeat{Seat: 24, Reason: text("had to go")})
	for seat := 1; seat <= 23; seat++ {
		g.do(g.answer(seat, 2, 0, seat <= 17))
	}
	g.do(Close{}, Amend{Seat: 1, Set: 1, Reason: text("poured from one vessel")}, Reveal{})
	r := reportOf(t, g)
	for _, want := range []string{"The seal was broken before the reveal, on 5 March 2031", "the vessels were mixed up.", "1 set was taken out after the close."} {
		if !strings.Contains(strings.Join(r.Marks, "\n"), want) {
			t.Errorf("marks %q do not say %q", r.Marks, want)
		}
	}
	if !strings.Contains(r.Broken, "the vessels were mixed up") {
		t.Errorf("broken: %q", r.Broken)
	}
	if got := r.part(t, "roles").says(t, "single blind"); !strings.Contains(got, "the host could know the key. The key was known from 5 March 2031") {
		t.Errorf("single blind: %q", got)
	}
	one := r.part(t, "test-1")
	names := func() (all []string) {
		for _, it := range one.Items {
			all = append(all, it.Name)
		}
		return all
	}()
	registered, amended := slices.Index(names, "result"), slices.Index(names, "amended result, beside the registered one")
	if registered < 0 || amended < registered {
		t.Fatalf("items %q", names)
	}
	if got := one.says(t, "result"); !strings.Contains(got, "13 of 24 ") {
		t.Errorf("registered: %q", got)
	}
	// 12 of 23, as TestAmendment has it from R.
	if got := one.says(t, "amended result, beside the registered one"); !strings.Contains(got, "12 of 23 ") || !strings.Contains(got, "p\u00a0=\u00a00.048") {
		t.Errorf("amended: %q", got)
	}
	if got := r.part(t, "test-2").says(t, "amended result, beside the registered one"); !strings.Contains(got, "The same") {
		t.Errorf("amended pair: %q", got)
	}
	d := r.part(t, "departures")
	for name, want := range map[string]string{
		"deviations noted": "One kettle, two pours.", "seal broken early": "the vessels were mixed up.", "sets taken out at the table": "Seat 2, set 1: spilled.",
		"replacements called": "Seat 2, set 1.", "sets taken out after the close": "poured from one vessel.", "seats that left": "Seat 24, on ",
		"sets without an answer that counts": "1.",
	} {
		if got := d.says(t, name); !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	// Beside the two counts the seat would stand with its answer.
	for _, words := range []string{"Seat 1,", "Seat 1 ", "seat 1,"} {
		if strings.Contains(r.all(), words) {
			t.Errorf("the report tells of %q", words)
		}
	}
	for _, row := range r.part(t, "panel").Tables[0].Rows {
		if row[0] == "1" {
			t.Errorf("the report tells of seat 1: %q", row)
		}
	}
}

// Practice has a report, and no verdict in it.
func TestReportOfPracticeHasNoVerdict(t *testing.T) {
	p := planOf(12, triangles(1), testOf(Tetrad, GoalBoth, 1))
	p.Practice = true
	g, _ := played(t, p, 12, 12, 12)
	r := reportOf(t, g)
	if !strings.Contains(strings.Join(r.Marks, " "), "practice") {
		t.Errorf("marks %q", r.Marks)
	}
	for _, key := range []string{"test-1", "test-2"} {
		if got := r.part(t, key).says(t, "conclusion"); got != "None: practice never counts." {
			t.Errorf("%s: conclusion %q", key, got)
		}
		if _, ok := r.Plotted(r.part(t, key)); ok {
			t.Errorf("%s has a plot", key)
		}
	}
	for _, word := range []string{"Different:", "Similar:", "Undecided:", "p\u00a0=", "p\u00a0<", "minimum correct", "actual α"} {
		if strings.Contains(r.all(), word) {
			t.Errorf("a report of practice says %q", word)
		}
	}
}

// What the registered analysis does not decide is marked.
func TestReportMarksWhatIsExploratory(t *testing.T) {
	g, _ := played(t, planOf(12, triangles(1), testOf(Tetrad, GoalDifference, 1)), 12, 2, 9)
	r := reportOf(t, g)
	marked := func(key, name string) bool {
		for _, it := range r.part(t, key).Items {
			if it.Name == name {
				return it.Exploratory
			}
		}
		t.Errorf("%s: no item %q", key, name)
		return false
	}
	for _, x := range []struct {
		key, name string
		want      bool
	}{
		{"test-1", "result", false}, {"test-1", "d′", false}, {"test-2", "result", true}, {"test-2", "d′", true}, {"test-2", "pd, guess-corrected", true},
		{"exploratory", "test 1, triangle", true}, {"exploratory", "test 2, tetrad", true},
	} {
		if got := marked(x.key, x.name); got != x.want {
			t.Errorf("%s, %s is exploratory: %v", x.key, x.name, got)
		}
	}
	for _, p := range []TestPlan{testOf(Triangle, GoalSimilarity, 1), sequential(3)} {
		g := newGame(t).toOpen(planOf(24, p), 24)
		for set := 1; set <= p.Sets; set++ {
			if g.do(Serve{Round: set}); len(g.s.Rounds) < set && !g.s.Stopped { // a look was taken instead
				g.do(Serve{Round: set})
			}
			if g.s.Stopped {
				break
			}
			for seat := 1; seat <= 24; seat++ {
				g.do(g.answer(seat, set, 0, seat <= 8))
			}
		}
		g.reveal()
		for _, it := range reportOf(t, g).part(t, "test-1").Items {
			if (it.Name == "d′" || it.Name == "pd, guess-corrected") && !it.Exploratory {
				t.Errorf("%s, sequential %v: %s is not marked", p.Goal, p.Sequential, it.Name)
			}
		}
	}
}

// Every session on the pair of lots is listed, and no other; what is not
// revealed has no outcome.
func TestReportListsEverySessionOnThePair(t *testing.T) {
	ctx := t.Context()
	journal := &Memory{}
	add := func(id ID, edit func(*Plan), play func(g *game)) {
		g := newGame(t)
		g.s = NewState(id)
		p := planOf(2, triangles(1))
		p.Title = "Table " + string(id[:8])
		edit(&p)
		g.do(Draft{Plan: p})
		play(g)
		var texts []Text
		for _, x := range g.texts {
			texts = append(texts, x)
		}
		if err := journal.Append(ctx, id, g.entries, texts); err != nil {
			t.Fatal(err)
		}
	}
	none := func(*Plan) {}
	sealed := func(g *game) { g.do(SetPin{testPin}, SealPlan{sealing(t, g.s.Plan, 5)}) }
	tasted := func(g *game) {
		sealed(g)
		g.do(OpenLobby{}, sit(1, 1), sit(2, 2), FreezeList{}, Open{[]Release{{Lot: g.s.Plan.Untreated.ID, By: text("Mira Tal"), Report: "R-1"}, {Lot: g.s.Plan.Processed.ID, By: text("Mira Tal"), Report: "R-2"}}})
		g.play(2, func(int, int) bool { return true })
	}
	add("20310301-120000-0102030405", none, func(*game) {})
	add("20310302-120000-0102030405", none, sealed)
	add("20310303-120000-0102030405", none, func(g *game) { tasted(g); g.do(Close{}) })
	add("20310304-120000-0102030405", none, func(g *game) { sealed(g); g.do(BreakSeal{text("a look")}, Abandon{text("no water")}) })
	add("20310310-120000-0102030405", none, func(g *game) { tasted(g); g.do(Abandon{text("late")}) })
	add("20310305-120000-0102030405", none, func(g *game) { tasted(g); g.reveal() })
	add("20310306-120000-0102030405", func(p *Plan) { p.Untreated, p.Processed = p.Processed, p.Untreated }, func(*game) {})
	add("20310307-120000-0102030405", func(p *Plan) { p.Practice = true }, func(g *game) { tasted(g); g.reveal() })
	add("20310308-120000-0102030405", func(p *Plan) { p.Processed.ID = "lot-3" }, func(g *game) { tasted(g); g.reveal() })
	add("20310309-120000-0102030405", none, func(g *game) {
		tasted(g)
		g.do(Close{}, Amend{Seat: 1, Set: 1, Reason: text("cold")}, Reveal{})
	})
	rooms, err := NewRooms(ctx, journal)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	for _, id := range []ID{"20310301-120000-0102030405", "20310303-120000-0102030405", "20310304-120000-0102030405"} {
		if _, err := rooms.TestReport(ctx, id, time.UTC); !errors.Is(err, ErrSealed) {
			t.Errorf("%s: %v", id, err)
		}
	}
	if _, err := rooms.TestReport(ctx, "20310399-120000-0102030405", time.UTC); !errors.Is(err, ErrNoSession) {
		t.Errorf("no session: %v", err)
	}
	r, err := rooms.TestReport(ctx, "20310305-120000-0102030405", time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	rows := r.part(t, "pair").Tables[0].Rows
	want := [][3]string{ // the newest first
		{"20310310", "abandoned: late", "none: abandoned with 2 answers in, of 2 sets served"},
		{"20310309", "revealed; amended after the close", "triangle, 2 of 2: undecided"},
		{"20310307", "revealed; practice", "none: practice never counts"},
		{"20310306", "drafted", "none yet: not revealed"},
		{"20310304", "abandoned: no water; seal broken before the reveal", "none: abandoned before a set was served"},
		{"20310303", "closed", "none yet: not revealed"},
		{"20310302", "sealed", "none yet: not revealed"},
		{"20310301", "drafted", "none yet: not revealed"},
	}
	if len(rows) != len(want) {
		t.Fatalf("%d sessions, want %d: %q", len(rows), len(want), rows)
	}
	for i, w := range want {
		if !strings.HasPrefix(rows[i][0], "Table "+w[0]) || rows[i][2] != w[1] || rows[i][3] != w[2] {
			t.Errorf("row %d: %q, want %q", i+1, rows[i], w)
		}
	}
	alone, err := rooms.TestReport(ctx, "20310308-120000-0102030405", time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	if got := alone.part(t, "pair").says(t, "other sessions"); !strings.Contains(got, "the only one") {
		t.Errorf("another pair: %q", got)
	}
}

// Each flight has its date and its seats.
func TestReportOfFlights(t *testing.T) {
	g := newGame(t).toSealed(inFlights(planOf(4, triangles(1)), 2, 2))
	for flight := range 2 {
		if flight > 0 {
			g.now = g.now.Add(24 * time.Hour)
		}
		g.do(OpenLobby{}, sit(2*flight+1, 2*flight+1), sit(2*flight+2, 2*flight+2), FreezeList{}, Open{releases()}, Serve{Round: 1, CupC: 60 + float64(flight)})
		for i := range 2 {
			g.do(g.answer(2*flight+i+1, 1, 0, true))
		}
		if flight == 0 {
			g.do(EndFlight{})
		}
	}
	g.reveal()
	r := reportOf(t, g)
	for key, items := range map[string]map[string][]string{
		"environment": {"dates": {"Flight 1: Wednesday, 5 March 2031", "Flight 2: Thursday, 6 March 2031"}},
		"panel":       {"by flight": {"Flight 1: 2 assessors, seats 1 and 2.", "Flight 2: 2 assessors, seats 3 and 4."}},
		"samples":     {"serving temperature, measured": {"Flight 1: set 1 60 °C.", "Flight 2: set 1 61 °C."}},
	} {
		for name, wants := range items {
			got := r.part(t, key).says(t, name)
			for _, want := range wants {
				if !strings.Contains(got, want) {
					t.Errorf("%s, %s: %q does not say %q", key, name, got, want)
				}
			}
		}
	}
}

// What was served, handed over and copied is counted from entries, not from the plan.
func TestReportCountsWhatHappened(t *testing.T) {
	g := newGame(t).toOpen(planOf(7, triangles(1)), 7)
	g.do(Serve{Round: 1}, Void{Seat: 2, Set: 1, Reason: text("spilled"), Replace: true}, MoveSeat{3}, Sit{Seat: 3, Name: text("Taster 3"), Token: phone(99)})
	want := map[string]int{}
	for i, sets := range g.s.sealed.Layout.Seats {
		want[sets[0].Order]++
		if i == 1 {
			want[sets[0].Order]++ // poured again
		}
	}
	for seat := 1; seat <= 7; seat++ {
		g.do(g.answer(seat, 1, map[bool]int{true: 1}[seat == 2], seat < 4))
	}
	g.reveal()
	lab := NewLab()
	for _, at := range []time.Time{
		g.s.Times[PhaseSealed].Add(-time.Second), g.s.Times[PhaseSealed], g.s.Times[PhaseRevealed].Add(-time.Nanosecond), g.s.Times[PhaseRevealed],
	} {
		lab.Backups = append(lab.Backups, Backup{At: at, File: "copy"})
	}
	r, err := NewTestReport(g.s, ReportSources{Checked: Verify(g.s.ID, g.entries, g.texts, Paper{}), Zone: time.UTC, Lab: lab})
	if err != nil {
		t.Fatal(err)
	}
	if got := r.part(t, "roles").says(t, "copies of the data file made between seal and reveal"); !strings.HasPrefix(got, "2, as the register notes them") {
		t.Errorf("copies: %q", got)
	}
	if got := r.part(t, "departures").says(t, "seats handed to another phone"); !strings.HasPrefix(got, "Seat 3, on ") {
		t.Errorf("handed over: %q", got)
	}
	served := strings.Join(strings.Fields(fmt.Sprint(r.part(t, "test-1").Items)), " ")
	for order, n := range want {
		if !strings.Contains(served, fmt.Sprintf("%s %d", order, n)) {
			t.Errorf("order %s was served %d times, and the report says %q", order, n, served)
		}
	}
}
