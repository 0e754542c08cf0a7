package console

import (
	"strings"
	"testing"

	"oddcup/session"
)

// TestPlanGoesByPeople: 12 seats of six triangles at pd 30 % find it with 0.829 by
// people who perceive or guess, and with 0.948 if all perceive it equally well (R
// 4.2.2, dbinom and pbinom).
func TestPlanGoesByPeople(t *testing.T) {
	d := newDesk(t)
	d.lots()
	page := worked(d, "tell", map[string]string{"seats": "12", "tests.0.sets": "6", "tests.0.pd": "30"})
	tells(t, "answer", part(t, page, "part-answer", "</ul>"), "12 seats can show a difference that 30 % of people perceive (d′ 1.64)",
		"Of 100 such panels, 83 would find a difference that 30 % of people perceive (d′ 1.64) (at best 95, if all perceive it equally well); you want 80.")
	tells(t, "facts", part(t, page, "part-forecast-0", "</details>"),
		"answers needed, the smallest number that reaches both risks 66, of 11 seats",
		"d′ 1.64, where those perceive it in every set and all others guess 0.83", "power at best, if all perceive it equally well 0.95", "smallest pd that this panel finds with power 0.8 28.3 %")
	// Similarity takes people, not sets.
	few := worked(d, "same", map[string]string{"seats": "12", "flights": "", "tests.0.sets": "4", "tests.0.goal": "similarity"})
	tells(t, "few", part(t, few, "part-answer", "</section>"), "Fewer than 30 people: similarity is generally not advised.", "Make it 30 seats", "For similarity no fewer than 30 people are offered, however many sets each gets")
	tells(t, "few, advice", words(few), "Identical lots pass either way about as often")
	if strings.Contains(words(few), "best case") {
		t.Error("similarity has a best case")
	}
	// None is enough for a difference that hardly anybody perceives.
	tells(t, "none", part(t, worked(d, "tell", map[string]string{"tests.0.pd": "1"}), "part-answer", "</section>"), "No number of seats up to 500")
}

// TestLaterTestOfAnotherSizeIsRemarkedOn: 40 % of people are d′ 0.74 in a pair and
// 1.98 in a triangle, which in a pair is pd 83.8 % (R 4.2.2, qnorm and integrate).
func TestLaterTestOfAnotherSizeIsRemarkedOn(t *testing.T) {
	d := newDesk(t)
	d.lots()
	for _, c := range []struct {
		name, pd, want string
	}{
		{"smaller", "40", "Test 1 looks for d′ 1.98, and this one, at d′ 0.74, for a smaller difference. The d′ of test 1 is pd 83.8 % here. One attribute may well differ by less"},
		{"larger", "95", "and this one, at d′ 2.77, for a larger difference. The d′ of test 1 is pd 83.8 % here. One attribute hardly differs by more"},
		{"about the same", "80", ""},
	} {
		notes := part(t, worked(d, "body", map[string]string{"tests.1.pd": c.pd}), "tests.1.pd-notes", "</div>")
		if strings.Contains(notes, "of test 1") != (c.want != "") || !strings.Contains(notes, c.want) {
			t.Errorf("%s: %s", c.name, notes)
		}
	}
}

// TestQuestionIsThatOfTheGoal: similarity asks whether lots may pass as alike.
func TestQuestionIsThatOfTheGoal(t *testing.T) {
	one, other := session.Lot{ID: "a", Number: "N-1", Treatment: "untreated"}, session.Lot{ID: "b", Number: "N-2", Treatment: "water"}
	ask := func(change func(*session.Plan)) string {
		p := session.UsualPlan()
		p.Untreated, p.Processed = one, other
		change(&p)
		return strings.ReplaceAll(question(p), "\u00a0", " ")
	}
	n1, n2 := "lot "+one.Words(), "lot "+other.Words()
	alike := func(t *session.TestPlan, goal string) {
		t.Goal, t.Beta, t.PdLimit = goal, 0.05, 0.3
	}
	for _, c := range []struct {
		change func(*session.Plan)
		want   string
	}{
		{func(*session.Plan) {}, "Can the panel tell " + n1 + " from " + n2 + ", and by body?"},
		{func(p *session.Plan) { p.Tests = p.Tests[1:] }, "Can the panel tell " + n1 + " from " + n2 + " by body?"},
		{func(p *session.Plan) { p.Tests = p.Tests[:1]; alike(&p.Tests[0], session.GoalSimilarity) }, "May " + n2 + " pass as " + n1 + ", that is, do fewer than 30 % of people perceive a difference?"},
		{func(p *session.Plan) { p.Tests = p.Tests[:1]; alike(&p.Tests[0], session.GoalBoth) }, "Can the panel tell " + n1 + " from " + n2 + ", or may " + n2 + " pass as " + n1 + ", that is, do fewer than 30 % of people perceive a difference?"},
		{func(p *session.Plan) { p.Processed = session.Lot{} }, "Which two lots are to be told apart?"},
	} {
		if got := ask(c.change); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// TestFlightsAreBalancedEach: whole blocks in every flight, and spare cups beyond
// those of one table only where there are any. 66 seats have 21 spare cups at one
// table (a tenth of 198, in whole trays), and flights of 30 and 36 have as many.
func TestFlightsAreBalancedEach(t *testing.T) {
	d := newDesk(t)
	d.lots()
	uneven := worked(d, "tell", map[string]string{"seats": "24", "flights": "14, 10"})
	tells(t, "14 and 10", part(t, uneven, "part-forecast-0", "</section>"), "every flight a multiple of 6 seats; now flight 1 has 14, flight 2 has 10", "make the flights whole blocks")
	even := worked(d, "tell", map[string]string{"seats": "24", "flights": "12, 12"})
	tells(t, "12 and 12", part(t, even, "part-forecast-0", "</section>"), "every flight a multiple of 6 seats, as it is")
	table := func(flights ...int) int {
		p := session.UsualPlan()
		p.Tests, p.Seats, p.Flights = p.Tests[:1], sum(flights), flights
		return spareMore(p)
	}
	if got := table(24); got != 0 {
		t.Errorf("one flight has %d spare cups beyond those of one table", got)
	}
	if got := table(6, 6, 6, 6); got <= 0 {
		t.Errorf("four small flights have %d spare cups beyond those of one table", got)
	}
}
