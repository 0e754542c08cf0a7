package session

import (
	"fmt"
	"strings"
	"testing"

	"oddcup/stats"
)

// shown is the result of a plan with this many correct answers in each test.
func shown(p Plan, counts ...int) Result {
	left := append([]int(nil), counts...)
	return answered(p, seedOf(11), func(_, set int) bool {
		i := p.TestOfSet(set)
		left[i]--
		return left[i] >= 0
	}).compute()
}

// At 60 seats and the limit 0.4 the counts of the triangle and the tetrad are
// similar up to 26, different but small up to 29, then different; see
// oneInThree. At 24 seats 12 show neither.
func TestAnswersOfEveryGoal(t *testing.T) {
	const (
		limit = "fewer than 40 % of people perceive the difference"
		by    = "fewer than 40 % of people perceive a difference in body"
	)
	tri := func(goal string) TestPlan { return testOf(Triangle, goal, 1) }
	tet := func(goal string) TestPlan { return testOf(Tetrad, goal, 1) }
	pair := func(goal string) TestPlan {
		p := testOf(PairedComparison, goal, 1)
		p.TwoSided = p.WantsSimilarity()
		return p
	}
	for _, c := range []struct {
		name   string
		plan   Plan
		counts []int
		want   string
	}{
		{"both, different", planOf(60, tri(GoalBoth)), []int{30}, "Yes. The panel could tell the two lots apart."},
		{"both, different but small", planOf(60, tri(GoalBoth)), []int{29},
			"Yes, by little. The panel could tell the two lots apart, and at risk β 0.05 " + limit + "."},
		{"both, similar", planOf(60, tri(GoalBoth)), []int{26},
			"Similar within the limit. At risk β 0.05 " + limit + ". That is not the same as no difference."},
		{"both, undecided", planOf(24, tri(GoalBoth)), []int{12},
			"Undecided. These answers show neither that the panel could tell the two lots apart nor that " + limit + "."},
		{"similarity, similar", planOf(60, tet(GoalSimilarity)), []int{29},
			"Similar within the limit. At risk β 0.05 " + limit + ". That is not the same as no difference."},
		{"similarity, undecided", planOf(60, tet(GoalSimilarity)), []int{30},
			"Undecided. These answers do not show that " + limit + "; they do not show that there is one either."},
		{"pairs, both, undecided", planOf(24, pair(GoalBoth)), []int{16},
			"Undecided. These answers show neither that the panel could tell the two lots apart by body nor that " + by + "."},
		{"pairs, both, similar", planOf(24, pair(GoalBoth)), []int{12},
			"Similar within the limit. At risk β 0.05 " + by + ". That is not the same as no difference."},
		{"pairs, similarity, undecided", planOf(24, pair(GoalSimilarity)), []int{13},
			"Undecided. These answers do not show that " + by + "; they do not show that there is one either."},
		{"similar in both tests", planOf(60, tri(GoalSimilarity), pair(GoalSimilarity)), []int{26, 30},
			"Similar within the limit. At risk β 0.05 " + limit + ". That is not the same as no difference. They are similar within the limit by body."},
		{"similar, then different", planOf(60, tri(GoalSimilarity), pair(GoalDifference)), []int{26, 50},
			"Similar within the limit. At risk β 0.05 " + limit + ". That is not the same as no difference. The panel could tell them apart by body."},
		{"similar, then neither", planOf(60, tri(GoalSimilarity), pair(GoalDifference)), []int{26, 30},
			"Similar within the limit. At risk β 0.05 " + limit + ". That is not the same as no difference. Whether they can be told apart by body is undecided."},
		{"small, then by body", planOf(60, tri(GoalBoth), pair(GoalDifference)), []int{29, 50},
			"Yes, by little. The panel could tell the two lots apart, and at risk β 0.05 " + limit + ". The panel could tell them apart by body."},
		{"a blank test found nothing", planOf(24, blankTest(), tri(GoalDifference)), []int{12, 13},
			"Yes. The panel could tell the two lots apart."},
		{"a blank test found a difference", planOf(24, blankTest(), tri(GoalDifference)), []int{13, 13},
			"The brewing may be what was tasted: two brews of one lot could be told apart. The panel could tell the two lots apart."},
		{"a blank test for both goals found a small one", planOf(60, func() TestPlan {
			b := tri(GoalBoth)
			b.Blank = BlankUntreated
			return b
		}(), tri(GoalDifference)), []int{29, 40},
			"The brewing may be what was tasted: two brews of one lot could be told apart. The panel could tell the two lots apart."},
		{"a blank test found a difference, the lots none", planOf(24, blankTest(), tri(GoalDifference)), []int{13, 12},
			"The brewing may be what was tasted: two brews of one lot could be told apart. " +
				"Undecided. These answers do not show that the panel could tell the two lots apart; they do not show that the lots are the same."},
	} {
		if f := c.plan.Check(); f != nil {
			t.Errorf("%s: %v", c.name, f)
		}
		if got := shown(c.plan, c.counts...).Answer(); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
}

// Where the registered order stops no later test is decided: a difference must
// be found where one was looked for, else similarity be shown.
func TestRegisteredOrderOfEveryGoal(t *testing.T) {
	// By 60 answers to a triangle: similar, small, different; 28 of 60 is both.
	counts := map[Outcome]map[string]int{
		Different:      {GoalDifference: 30, GoalBoth: 30},
		DifferentSmall: {GoalBoth: 29},
		Similar:        {GoalSimilarity: 26, GoalBoth: 26},
		Undecided:      {GoalDifference: 26, GoalSimilarity: 30},
	}
	tried := 0
	for _, m := range []Method{Triangle, Tetrad} {
		for outcome, of := range counts {
			for goal, x := range of {
				goesOn := outcome == Different || outcome == DifferentSmall || outcome == Similar && goal == GoalSimilarity
				r := shown(planOf(60, testOf(m, goal, 1), testOf(PairedComparison, GoalDifference, 1)), x, 60)
				first, then := r.Tests[0], r.Tests[1]
				if first.Outcome != outcome || !first.Decided {
					t.Errorf("%s for %s, %d of 60: %s", m.Key, goal, x, first.Outcome)
				}
				if then.Decided != goesOn || (then.Outcome == Different) != goesOn || then.Correct != 60 || then.P > 1e-17 {
					t.Errorf("%s for %s is %s; then 60 of 60 are %s, decided %v", m.Key, goal, outcome, then.Outcome, then.Decided)
				}
				if !goesOn && (strings.Contains(r.Answer(), "by body") || !strings.HasPrefix(then.Verdict(), "Not decided")) {
					t.Errorf("the order stopped, and: %s %s", r.Answer(), then.Verdict())
				}
				tried++
			}
		}
	}
	if tried != 14 {
		t.Errorf("%d orders", tried)
	}
	// Blank tests stand outside, whatever they show, and wherever they stand.
	for _, x := range []int{0, 24} {
		r := shown(planOf(24, triangles(1), blankTest(), pairOn("body")), 13, x, 17)
		if !r.Tests[1].Decided || !r.Tests[2].Decided || r.Tests[2].Outcome != Different || (r.Tests[1].Outcome == Different) != (x == 24) {
			t.Errorf("blank %d of 24: %s, then %s", x, r.Tests[1].Outcome, r.Tests[2].Outcome)
		}
		r = shown(planOf(24, blankTest(), triangles(1), pairOn("body")), x, 12, 24)
		if !r.Tests[0].Decided || r.Tests[1].Outcome != Undecided || r.Tests[2].Decided {
			t.Errorf("blank %d of 24 first: %+v", x, r.Tests)
		}
	}
	if r := shown(planOf(24, triangles(1), blankTest(), pairOn("body")), 12, 24, 24); !r.Tests[1].Decided || r.Tests[1].Outcome != Different || r.Tests[2].Decided {
		t.Errorf("the order stopped before the blank test: %+v", r.Tests)
	}
	// A third test waits for the second.
	r := shown(planOf(24, triangles(1), pairOn("body"), pairOn("acidity")), 13, 16, 24)
	if !r.Tests[1].Decided || r.Tests[2].Decided || r.Tests[2].Outcome != Undecided {
		t.Errorf("13, 16 and 24 of 24: %+v", r.Tests)
	}
}

// Undecided never reads as the same, and similar never as no difference: in all
// sentences of every method, goal and count.
func TestNoOutcomeReadsAsMoreThanItIs(t *testing.T) {
	allowedWords := []string{
		"they do not show that the lots are the same", "That is not the same as no difference",
		"sorted the cups into the two pairs",
	}
	seen := map[Outcome]int{}
	for _, m := range Methods {
		for _, goal := range goals {
			for _, twoSided := range []bool{false, true} {
				if twoSided && m.Key != PairedComparison.Key {
					continue
				}
				test := testOf(m, goal, 1)
				test.TwoSided = twoSided
				for _, n := range []int{3, 24, 60} {
					for x := 0; x <= n; x++ {
						one := TestResult{Plan: test, Method: m, Number: 1, N: n, Correct: x, Decided: true}
						one.analyse(nil)
						one.Outcome = one.outcome()
						seen[one.Outcome]++
						r := Result{Tests: []TestResult{one}}
						all := strings.Join([]string{r.Answer(), one.Verdict(), one.Sentence(), one.PSentence(), one.SimilarSentence()}, " ")
						at := fmt.Sprintf("%s for %s, two-sided %v, %d of %d (%s)", m.Key, goal, twoSided, x, n, one.Outcome)
						for _, w := range allowedWords {
							all = strings.ReplaceAll(all, w, "")
						}
						for _, bad := range []string{"the same", "no difference", "identical", "alike", "equal", "could not", "cannot", "NaN", "  ", "%!"} {
							if strings.Contains(strings.TrimSpace(strings.ReplaceAll(all, "  ", " ")), bad) {
								t.Errorf("%s reads %q: %s", at, bad, all)
							}
						}
						says := func(word string) bool { return strings.Contains(all, word) }
						different := one.Outcome == Different || one.Outcome == DifferentSmall
						similar := one.Outcome == Similar || one.Outcome == DifferentSmall
						if strings.HasPrefix(r.Answer(), "Yes") != different {
							t.Errorf("%s: %s", at, r.Answer())
						}
						if strings.HasPrefix(r.Answer(), "Similar") != (one.Outcome == Similar) || strings.HasPrefix(r.Answer(), "Undecided") != (one.Outcome == Undecided) {
							t.Errorf("%s: %s", at, r.Answer())
						}
						if !strings.HasPrefix(one.Verdict(), capital(string(one.Outcome))+": ") {
							t.Errorf("%s: %s", at, one.Verdict())
						}
						if says("At risk β") != (one.Outcome == Similar) || says("at risk β") != (one.Outcome == DifferentSmall) {
							t.Errorf("%s: a promise of similarity where there is none, or none where there is: %s", at, all)
						}
						reached := says("reaches the minimum") || says("the minimum for either side is")
						kept := says("keeps to the maximum") || says("lies within")
						if reached != different || kept != similar {
							t.Errorf("%s: %s", at, one.Verdict())
						}
						if (one.PSentence() != "") != test.WantsDifference() || (one.SimilarSentence() != "") != test.WantsSimilarity() {
							t.Errorf("%s: “%s” “%s”", at, one.PSentence(), one.SimilarSentence())
						}
					}
				}
			}
		}
	}
	for _, o := range []Outcome{Different, DifferentSmall, Similar, Undecided} {
		if seen[o] < 9 {
			t.Errorf("%s was read %d times", o, seen[o])
		}
	}
}

// Where the two goals have other risks, the interval of pd reaches beyond the limit
// of lots that are similar: 29 of 66 in a triangle has pd up to 0.3219 at 90 %, and
// up to 0.28864 at 80 % two-sided (R: binom.test(29, 66, conf.level = 0.9), 0.8).
func TestTheLimitThatDecidesStandsBesideTheVerdict(t *testing.T) {
	test := testOf(Triangle, GoalBoth, 1)
	test.Alpha, test.Beta, test.PdLimit = 0.01, 0.1, 0.3
	r := Analyse(test, []stats.Replicates{{N: 66, Correct: 29}})
	if r.Outcome != Similar || r.PdInterval.Upper < 0.3219 {
		t.Fatalf("%s, pd %s: the example shows nothing", r.Outcome, r.PdWords())
	}
	if got, want := r.LimitSentence(), "The share who perceive it, pd, is at most 28.9 % at the one-sided level 90 % (1 − β); that, and no interval at another level, is held against the limit of 30 %."; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	for upper, want := range map[float64]string{0.29996: "29.996 %", 0.2991: "29.91 %", 0.3: "30 %", 0.30004: "30.1 %", -0.1: "0 %"} {
		r.PdUpper = upper
		if got := r.PdUpperWords(); got != want {
			t.Errorf("an upper limit of %v is printed as %s, want %s", upper, got, want)
		}
	}
	r.Decided = false
	if got := r.LimitSentence(); strings.Contains(got, "held against") {
		t.Error("nothing was decided: " + got)
	}
}

func TestSimilaritySentences(t *testing.T) {
	test := testOf(Triangle, GoalSimilarity, 1)
	r := shown(planOf(60, test), 27).Tests[0] // p 0.0133 by R, see oneInThree
	if got, want := r.SimilarSentence(), "If 40 % of people perceived the difference, 27 or fewer would turn up in 13 of 1000 such sessions (p\u00a0=\u00a00.013)."; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if got, want := r.Verdict(), "Similar: the count keeps to the maximum of 29 for similarity at β 0.05 and a pd limit of 40 %."; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	// The limit by R, binom.test(27, 60, conf.level = 0.9): pc up to 0.56399, so pd up
	// to 0.34599.
	if got, want := r.LimitSentence(), "The share who perceive it, pd, is at most 34.6 % at the one-sided level 95 % (1 − β); that is held against the limit of 40 %."; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if got := shown(planOf(60, test), 30).Tests[0].Verdict(); got != "Undecided: the count exceeds the maximum of 29 for similarity at β 0.05 and a pd limit of 40 %." {
		t.Error(got)
	}
	test.PdLimit = 0.2
	if got := shown(planOf(24, test), 6).Tests[0].Verdict(); got != "Undecided: no count of 24 allows the conclusion of similarity at β 0.05 and a pd limit of 20 %." {
		t.Error(got)
	}
	two := testOf(PairedComparison, GoalSimilarity, 1)
	two.TwoSided, two.PdLimit = true, 0.3
	for x, want := range map[int]string{
		63: "Similar: the count lies within 63 to 87, the range of similarity at β 0.05 and a pd limit of 30 %.",
		62: "Undecided: the count lies outside 63 to 87, the range of similarity at β 0.05 and a pd limit of 30 %.",
		88: "Undecided: the count lies outside 63 to 87, the range of similarity at β 0.05 and a pd limit of 30 %.",
	} {
		r := shown(planOf(150, two), x).Tests[0]
		if got := r.Verdict(); got != want {
			t.Errorf("%d of 150: %s", x, got)
		}
		// R: pbinom(87, 150, .65) 0.0448, pbinom(88, 150, .65) 0.0629.
		side := map[int]string{63: "87 or fewer on their side would turn up in 45 of 1000", 62: "88 or fewer on their side would turn up in 63 of 1000", 88: "88 or fewer on their side would turn up in 63 of 1000"}[x]
		if got := r.SimilarSentence(); !strings.Contains(got, "perceived the difference, all in one direction, "+side) {
			t.Error(got)
		}
		// R: binom.test(87, 150, conf.level = 0.9) ends at pc 0.647968, pd 0.295935.
		if got := r.LimitSentence(); x == 63 && got != "The share who perceive it either way, if all who do perceive it in one direction, pd, is at most 29.6 % at the one-sided level 95 % (1 − β); that is held against the limit of 30 %." {
			t.Error(got)
		}
	}
}

// The cautions of a two-sided test are those of its own chance to pass: 48
// identical pairs lie in the range of β 0.05 and the limit 0.4 with probability
// 0.69; one side alone would let 0.84 of them pass. By R 4.2.2:
//
//	M <- max(which(pbinom(0:48, 48, .7) <= .05)) - 1
//	pbinom(M, 48, .5) - pbinom(47-M, 48, .5); pbinom(M, 48, .5)
func TestCautionsOfTwoSidedSimilarity(t *testing.T) {
	test := testOf(PairedComparison, GoalSimilarity, 1)
	if got := shown(planOf(48, test), 24).Cautions; holds(got, "Even identical products") {
		t.Errorf("one-sided: %q", got)
	}
	test.TwoSided = true
	if got := shown(planOf(48, test), 24).Cautions; !holds(got, "Even identical products would pass with probability 0.69 only") {
		t.Errorf("two-sided: %q", got)
	}
	if got := shown(planOf(24, test), 12).Cautions; !holds(got, "Fewer than 30 assessors") {
		t.Errorf("24 pairs: %q", got)
	}
}

func TestCautionsOfFlightsPracticeAndBlanks(t *testing.T) {
	p := planOf(12, blankTest(), triangles(1))
	p.Practice, p.Flights = true, []int{6, 6}
	s := answered(p, seedOf(1), counting(24))
	for i := range s.Seats {
		s.Seats[i].Name = text([]string{"Ena", "Ori", "Ulm", "Sol", "Ivo", "Mei", "ENA ", "Pia"}[i%8])
	}
	s.SheetOpenings = 2
	r := s.compute()
	for _, want := range []string{
		"This was practice", "a blank test of two brews of the processed lot, found a difference", "took a seat in more than one flight",
	} {
		if !holds(r.Cautions, want) {
			t.Errorf("no caution says %q: %q", want, r.Cautions)
		}
	}
	// Each flight has a sheet of its own, to be opened once.
	if holds(r.Cautions, "pour sheet was") {
		t.Errorf("the sheet was opened once a flight: %q", r.Cautions)
	}
	s.SheetOpenings = 3
	if r = s.compute(); !holds(r.Cautions, "The pour sheet was opened 3 times") {
		t.Errorf("a third time: %q", r.Cautions)
	}
	s.SheetLooks = 2
	if r = s.compute(); !holds(r.Cautions, "The pour sheet was seen again without the PIN 2 times") {
		t.Errorf("seen again: %q", r.Cautions)
	}
	p.Practice, p.Flights = false, nil
	if r = answered(p, seedOf(1), counting(12)).compute(); holds(r.Cautions, "practice") || holds(r.Cautions, "more than one flight") || holds(r.Cautions, "own brew") {
		t.Errorf("%q", r.Cautions)
	}
}
