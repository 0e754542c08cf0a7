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
		"Of 100 such panels, 83 would find a difference that 30 % of people perceive (d′ 1.64) (95 if all perceive it equally well); you want 80.")
	tells(t, "facts", part(t, page, "part-forecast-0", "</details>"),
		"answers needed, the smallest number that keeps α and has the power wanted 66, of 11 seats",
		"d′ 1.64, where those perceive it in every set and all others guess 0.83", "power if all perceive it equally well 0.95", "smallest pd that this panel finds with power 0.8 28.3 %")
	// Similarity takes people, not sets.
	few := worked(d, "same", map[string]string{"seats": "12", "flights": "", "tests.0.sets": "4", "tests.0.goal": "similarity"})
	tells(t, "few", part(t, few, "part-answer", "</section>"), "Fewer than 30 people: similarity is generally not advised.", "Make it 30 seats", "For similarity no fewer than 30 people are offered, however many sets each gets")
	tells(t, "few, advice", words(few), "Similarity is decided from each taster’s own share of right answers", "Of 100 pairs of identical lots, about 86 would pass as similar; you want 95.",
		"fewest people from whom similarity can be concluded 12 people advised 30 or more", "probability that identical lots pass, estimated about 0.86")
	for _, not := range []string{"best case", "maximum correct", "actual β", "smallest pd limit", "keeps α and has", "keeps β and passes"} {
		if strings.Contains(part(t, few, "part-forecast-0", "</details>"), not) {
			t.Errorf("of a count that does not decide the page says %q", not)
		}
	}
	// From a handful of people nothing is concluded, whatever their sets.
	five := worked(d, "same", map[string]string{"seats": "6", "flights": "", "tests.0.sets": "6", "tests.0.goal": "similarity", "tests.0.pdLimit": "50", "tests.0.beta": "0.1"})
	tells(t, "six people", words(heading(five)), "6 seats cannot show that fewer than 50 % of people perceive a difference")
	tells(t, "six people", part(t, five, "part-answer", "</section>"), "Similarity is not concluded from fewer than 12 people, however many sets each gets", "This test takes 12 people; 30 or more are advised.", "30 seats need more codes than there are")
	if strings.Contains(part(t, five, "part-answer", "</section>"), "would pass") {
		t.Error("six people are promised something")
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
		// Each claim has a limit of its own.
		{func(p *session.Plan) {
			alike(&p.Tests[0], session.GoalSimilarity)
			alike(&p.Tests[1], session.GoalSimilarity)
			p.Tests[0].PdLimit, p.Tests[1].PdLimit, p.Tests[1].TwoSided = 0.2, 0.4, true
		}, "May " + n2 + " pass as " + n1 + ", and by body, that is, do fewer than 20 % of people perceive a difference and fewer than 40 % one in body?"},
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

// TestTestsBeforeAreOfTheSameLots: what passes as similar within 30 % hardly differs
// by d′ 1.72, and the page says so instead of a number of seats. Of 60 people, R
// 4.2.2: pbinom(25, 60, 0.548) is 0.0275, times the duo-trio's power 0.937.
func TestTestsBeforeAreOfTheSameLots(t *testing.T) {
	d := newDesk(t)
	d.lots()
	page := worked(d, "body", map[string]string{
		"seats": "60", "tests.0.goal": "similarity", "tests.0.pdLimit": "30", "tests.0.beta": "0.05",
		"tests.1.method": "duo-trio", "tests.1.goal": "difference", "tests.1.pd": "40",
	})
	tells(t, "heading", words(heading(page)), "will mostly fail to show a difference that 40 % of people perceive (d′ 1.72)")
	tells(t, "answer", part(t, page, "part-answer", "</section>"),
		"Of 100 such sessions, 3 would find a difference", "3 come to this test, since lots that differ so reach the limit of test 1 and pass as similar by error only; of 100 of these, 94 find it, if the tests are independent.",
		"ask for the difference and for similarity in one test, with the goal “both”", "the order of the tests stands against one of them")
	tells(t, "facts", part(t, page, "part-forecast-1", "</details>"), "to which 3 of 100 sessions come, since lots that differ so reach the limit of test 1")
	back := worked(d, "body", map[string]string{
		"seats": "60", "tests.1.method": "duo-trio", "tests.1.goal": "similarity", "tests.1.pdLimit": "40", "tests.1.beta": "0.05",
	})
	tells(t, "other way round", part(t, back, "part-answer", "</section>"),
		"Of 100 such sessions, 4 would pass lots that are alike in this", "4 come to this test, since lots that are alike are called different in test 1 by error only")
}

// TestEvenSplitsAreCounted: 20 people with four pairs, two-sided at α 0.1, call equal
// lots different with 0.056 (R 4.2.2, over all numbers of majorities).
func TestEvenSplitsAreCounted(t *testing.T) {
	d := newDesk(t)
	d.lots()
	page := worked(d, "body", map[string]string{"seats": "20", "tests.1.sets": "4", "tests.1.sided": "two", "tests.1.alpha": "0.1"})
	tells(t, "pairs", part(t, page, "part-forecast-1", "</details>"), "minimum correct, if nobody splits evenly 15 of 20, either way", "actual α, whoever splits evenly left out 0.056")
}

// TestBlankIsNotPrimary: a blank test stands outside the order, so that the first
// that asks something of the lots is primary.
func TestBlankIsNotPrimary(t *testing.T) {
	d := newDesk(t)
	d.lots()
	page := worked(d, "body", map[string]string{"tests.0.blank": session.BlankUntreated, "tests.1.method": "triangle"})
	one, two, ok := strings.Cut(page, "Test 2: ")
	if !ok || strings.Contains(one[strings.LastIndex(one, "Test 1: "):], "Primary.") || !strings.Contains(two, "Primary.") {
		t.Error("the blank test is called primary, or the other is not")
	}
}
