package record

import (
	"math"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/stats"
)

// Who holds a rule, whose time runs out, and who is near it.
func TestReady(t *testing.T) {
	l := newLab(t, 6)
	mark := session.Rule{Name: "Triangles", Method: "triangle", Kind: session.KindRoutine, Trials: 6, Mark: 5, ValidMonths: 1}
	lines := session.Rule{Name: "Lines", Method: "triangle", Kind: session.KindRoutine, Lines: &session.RuleLines{P0: 1.0 / 3, P1: 0.7, Alpha: 0.05, Beta: 0.05}}
	l.do(session.SetRule{Rule: mark}, session.SetRule{Rule: lines})
	s := newSession("s-1", l.now, session.JudgedTest{Method: "triangle"})
	right := map[int][]bool{
		1: {true, true, true, true, true, true}, // reached
		2: {true, true, true, true},             // near
		3: {false, false, true, true},           // out of reach
		4: {true, true},                         // too early
		5: {true, true, true, true, true, true}, // holds it already
		6: {true, true, true, true},             // holds the lines
	}
	set := 0
	for seat := 1; seat <= 6; seat++ {
		for _, r := range right[seat] {
			set++
			s.set(seat, 0, set, r)
		}
		l.do(session.TieSeats{Person: person(seat), Seats: []session.SeatRef{{Session: "s-1", Seat: seat}}})
	}
	l.do(session.Qualify{Person: "p-5", Rule: "Triangles", Held: true, Basis: "six of six", Right: 6, Of: 6},
		session.Qualify{Person: "p-6", Rule: "Lines", Held: true, Basis: "four of four", Right: 4, Of: 4})
	b := Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now)
	all := b.Ready()
	if len(all) != 2 || all[0].Rule != "Triangles" || len(all[0].Holders) != 1 || len(all[0].Near) != 3 || len(all[1].Holders) != 1 {
		t.Fatalf("%+v", all)
	}
	h := all[0].Holders[0]
	if h.Pseudonym != "J 05" || !h.RunsOut || h.Say != "holds it until "+day(h.Until)+": it runs out soon" {
		t.Errorf("%+v", h)
	}
	if e := all[1].Holders[0]; e.Pseudonym != "J 06" || e.RunsOut || e.Say != "holds it without end" {
		t.Errorf("%+v", e)
	}
	if n := all[0].Near; n[0].Person != "p-1" || !n[0].Reached || n[1].Person != "p-2" || n[1].Reached || n[1].Say != "is near it: 4 right of 4 so far, 1 more right of the last 2 reach the mark" {
		t.Errorf("%+v", n)
	}
	// Wald's lines from memory: ln(0.95/0.05) = 2.944, a right set adds ln(0.7·3) = 0.742,
	// a wrong one ln(0.3·1.5) = −0.799. So four right in a row reach the upper line, and two
	// right need two more.
	near := map[session.PersonID]string{}
	for _, n := range all[1].Near {
		near[n.Person] = n.Say
	}
	if near["p-4"] != "is near it: 2 right of 2 so far, 2 more in a row all right reach the upper line" || !strings.Contains(near["p-2"], "to be decided") || near["p-6"] != "" {
		t.Errorf("%v", near)
	}
	// Who holds it against the record is told so, and so is who ran out, for a year.
	l.do(session.Qualify{Person: "p-3", Rule: "Triangles", Held: true, Basis: "elsewhere", Right: 6, Of: 6, Record: b.Evaluate("p-3", mark).Counts(), Against: true})
	words := func(days int) string {
		return strings.Join(Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now.AddDate(0, 0, days)).Ready()[0].Words(), "\n")
	}
	if say := words(1); !strings.Contains(say, "J 03 holds it until 6 February 2031: it runs out soon; decided against the record.") || strings.Contains(say, "J 05 holds it until 6 February 2031: it runs out soon; ") {
		t.Errorf("%s", say)
	}
	if say := words(60); !strings.Contains(say, "Nobody holds it now.") || !strings.Contains(say, "J 05 held it until 6 February 2031, when it ran out.") ||
		!strings.Contains(say, "J 03 held it until 6 February 2031, when it ran out; decided against the record.") {
		t.Errorf("%s", say)
	}
	if say := words(31 + 366); strings.Contains(say, "held it") {
		t.Errorf("%s", say)
	}
	l.do(session.ErasePerson{Person: "p-5"})
	if again := Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now).Ready(); len(again[0].Holders) != 1 || again[0].Holders[0].Person != "p-3" {
		t.Errorf("who is erased holds it: %+v", again[0].Holders)
	}
}

// A typical panellist is the mean over the panel, wherever one is named.
func TestOneTypicalPanellist(t *testing.T) {
	l := newLab(t, 8)
	l.controlPapers("1.5", 10, 16, 14, 25, 17, 13, 28, 12)
	l.do(session.SetRule{Rule: session.Rule{Name: "Mark", Method: "triangle", Kind: session.KindControl, Label: "brew diluted to 90 %", Trials: 24, Mark: 13}})
	b := l.book()
	p := b.Panel()
	if p.Size != 1.5 || p.Typical == stats.Triangle.PC(1.5) {
		t.Errorf("at %v a typical panellist is right in %v, the median one in %v", p.Size, p.Typical, stats.Triangle.PC(1.5))
	}
	for n := 1; n <= 8; n++ {
		j := judgeOf(t, b, n)
		if math.Abs(j.Groups[0].Typical-p.Typical) > 1e-9 || math.Abs(j.Expected-p.Typical*float64(j.Counted().Sets)) > 1e-6 {
			t.Errorf("judge %d: %v right, expected %v, the panel's %v", n, j.Groups[0].Typical, j.Expected, p.Typical)
		}
	}
	rule := l.lab().Rules[0]
	if say, want := b.TypicalSay(rule), ofHundred(stats.UpperTail(24, 13, p.Typical)); !strings.Contains(say, " in "+want+" attempts") {
		t.Errorf("%q, want %s", say, want)
	}
	rule.Label = "another"
	if say := b.TypicalSay(rule); say != "" {
		t.Errorf("of no set: %q", say)
	}
}

// A headline of unlike methods has a count for each, and whole sets.
func TestHeadlineByMethod(t *testing.T) {
	j := Judge{Row: Row{Enough: true, Routine: Count{30, 20}, Expected: 21.4, Say: "So."}, Groups: []Group{
		{Method: "triangle", Label: "small", Count: Count{6, 3}, Chance: 1.0 / 3, Typical: 0.5},
		{Method: "triangle", Label: "large", Count: Count{14, 9}, Chance: 1.0 / 3, Typical: 0.75},
		{Method: "paired-comparison", Label: "large", Count: Count{10, 8}, Chance: 0.5, Typical: 0.79},
	}}
	if got, want := j.headline(), "Right in 12 of 20 triangle sets and 8 of 10 pair sets that count, where a typical panellist expects about 14 and 7.9. So."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if own, want := j.Own()[0], "You were right in 12 of 20 triangle sets and 8 of 10 pair sets. Triangle: guessing alone gives about 6.7, a typical panellist about 14. Pair: guessing alone gives about 5, a typical panellist about 7.9."; own != want {
		t.Errorf("%q, want %q", own, want)
	}
	j.Groups = j.Groups[:2]
	if got, want := j.headline(), "Right in 20 of 30 sets that count, where a typical panellist expects about 21. So."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Five of five does not head those whose records can be read.
func TestTooFewStandBelow(t *testing.T) {
	p := Panel{Judges: []Row{
		{Pseudonym: "five of five", Ability: 1.6, Control: Count{5, 5}},
		{Pseudonym: "nothing", Ability: 1},
		{Pseudonym: "read", Ability: 1.2, Enough: true, Control: Count{40, 25}},
		{Pseudonym: "read, weaker", Ability: 0.7, Enough: true, Control: Count{40, 15}},
	}}
	var order []string
	for _, r := range p.ByEstimate() {
		order = append(order, r.Pseudonym)
	}
	if got := strings.Join(order, "; "); got != "read; read, weaker; five of five; nothing" {
		t.Error(got)
	}
}
