package session

import (
	"math"
	"slices"
	"strings"
	"testing"

	"oddcup/stats"
)

// p by R 4.2.2: binom.test(13, 24, 1/3, "greater")$p.value and so on; two-sided
// binom.test(18, 24)$p.value.
func TestResultsAgainstR(t *testing.T) {
	twoSided := pairOn("body")
	twoSided.TwoSided = true
	for _, c := range []struct {
		name      string
		plan      Plan
		people    int
		counts    []int
		n         int
		p         []float64
		min       []int
		different []bool
		decided   []bool
	}{
		{"13 of 24 and 17 of 24", planOf(24, triangles(1), pairOn("body")), 24, []int{13, 17}, 24,
			[]float64{0.028441128095468789, 0.031957328319549602}, []int{13, 17}, []bool{true, true}, []bool{true, true}},
		{"13 of 24 and 16 of 24", planOf(24, triangles(1), pairOn("body")), 24, []int{13, 16}, 24,
			[]float64{0.028441128095468789, 0.075794816017150934}, []int{13, 17}, []bool{true, false}, []bool{true, true}},
		{"the order stops", planOf(24, triangles(1), pairOn("body")), 24, []int{12, 24}, 24,
			[]float64{0.067658779032431476, 1.0 / (1 << 24)}, []int{13, 17}, []bool{false, false}, []bool{true, false}},
		{"25 of 50", planOf(50, triangles(1)), 50, []int{25}, 50,
			[]float64{0.010826684448815994}, []int{23}, []bool{true}, []bool{true}},
		{"two sets a seat pooled, 25 of 50", planOf(25, triangles(2)), 25, []int{25}, 50,
			[]float64{0.010826684448815994}, []int{23}, []bool{true}, []bool{true}},
		{"half the seats came", planOf(24, triangles(1)), 12, []int{8}, 12,
			[]float64{0.018758432262471293}, []int{8}, []bool{true}, []bool{true}},
		{"half the seats came, one short", planOf(24, triangles(1)), 12, []int{7}, 12,
			[]float64{0.066447639531010946}, []int{8}, []bool{false}, []bool{true}},
		{"two-sided, high", planOf(24, triangles(1), twoSided), 24, []int{24, 18}, 24,
			[]float64{math.Pow(3, -24), 0.022655844688415548}, []int{13, 18}, []bool{true, true}, []bool{true, true}},
		{"two-sided, low", planOf(24, triangles(1), twoSided), 24, []int{24, 6}, 24,
			[]float64{math.Pow(3, -24), 0.022655844688415548}, []int{13, 18}, []bool{true, true}, []bool{true, true}},
		{"two-sided, neither", planOf(24, triangles(1), twoSided), 24, []int{24, 7}, 24,
			[]float64{math.Pow(3, -24), 0.063914656639099204}, []int{13, 18}, []bool{true, false}, []bool{true, true}},
		{"none of 24", planOf(24, triangles(1)), 24, []int{0}, 24, []float64{1}, []int{13}, []bool{false}, []bool{true}},
	} {
		_, r := played(t, c.plan, c.people, c.counts...)
		if len(r.Tests) != len(c.counts) || !r.Seal {
			t.Fatalf("%s: %d results, seal %v", c.name, len(r.Tests), r.Seal)
		}
		for i, got := range r.Tests {
			if got.N != c.n || got.Correct != c.counts[i] || got.Seats != c.people || got.Missing != 0 || got.Voided != 0 || got.Number != i+1 {
				t.Errorf("%s, test %d: %d of %d, seats %d, missing %d, voided %d", c.name, i+1, got.Correct, got.N, got.Seats, got.Missing, got.Voided)
			}
			if math.Abs(got.P/c.p[i]-1) > 1e-12 || got.MinCorrect != c.min[i] || !got.HasMin {
				t.Errorf("%s, test %d: p %.17g, minimum %d; want %.17g, %d", c.name, i+1, got.P, got.MinCorrect, c.p[i], c.min[i])
			}
			if (got.Outcome == Different) != c.different[i] || got.Decided != c.decided[i] {
				t.Errorf("%s, test %d: %s, decided %v", c.name, i+1, got.Outcome, got.Decided)
			}
			sum := 0.0
			for _, q := range got.Null {
				sum += q
			}
			if len(got.Null) != got.N+1 || !near(sum, 1, 1e-12) {
				t.Errorf("%s, test %d: %d chances that sum to %v", c.name, i+1, len(got.Null), sum)
			}
		}
	}
}

// Intervals by R 4.2.2: binom.test(13, 24, conf.level = 0.9)$conf.int, mapped
// from pc to pd by (pc - 1/3)·3/2; two-sided 18 of 24 at 0.95 by (pc - 1/2)·2.
func TestEstimatesAgainstR(t *testing.T) {
	twoSided := pairOn("body")
	twoSided.TwoSided = true
	_, r := played(t, planOf(24, triangles(1), twoSided), 24, 13, 18)
	got := r.Tests[0]
	if !near(got.Confidence, 0.9, 1e-15) || !near(got.Pd, (13.0/24-1.0/3)*1.5, 1e-14) ||
		!near(got.PdInterval.Lower, 0.0363459390197813, 1e-12) || !near(got.PdInterval.Upper, 0.576466710140686, 1e-12) {
		t.Errorf("triangle: pd %v, %+v", got.Pd, got.PdInterval)
	}
	got = r.Tests[1]
	if !near(got.Confidence, 0.95, 1e-15) || !near(got.Pd, 0.5, 1e-14) ||
		!near(got.PdInterval.Lower, 0.0657743951546614, 1e-12) || !near(got.PdInterval.Upper, 0.804539181050934, 1e-12) {
		t.Errorf("pair: pd %v, %+v", got.Pd, got.PdInterval)
	}
}

func TestAllRightIsUnbounded(t *testing.T) {
	_, r := played(t, planOf(6, triangles(1)), 6, 6)
	got := r.Tests[0]
	if !near(got.P, 1.0/729, 1e-17) || got.Outcome != Different || !math.IsInf(got.DPrime, 1) || !math.IsInf(got.DPrimeInterval.Upper, 1) ||
		!near(got.PdInterval.Lower, 0.410443346504376, 1e-12) || got.PdInterval.Upper != 1 {
		t.Errorf("%+v", got)
	}
	if w := got.DPrimeWords(); !strings.HasPrefix(w, "unbounded (90 % interval ") || !strings.HasSuffix(w, " to unbounded)") {
		t.Errorf("d′ reads %q", w)
	}
	_, r = played(t, planOf(6, triangles(1)), 6, 0)
	got = r.Tests[0]
	if got.P != 1 || got.Outcome != Undecided || got.DPrime != 0 || !near(got.Pd, -0.5, 1e-15) || got.PdInterval.Lower != 0 {
		t.Errorf("none right: %+v", got)
	}
}

func TestNoAnswersAtAll(t *testing.T) {
	r := newGame(t).toOpen(planOf(6, triangles(1), pairOn("body")), 3).reveal()
	for _, got := range r.Tests {
		if got.N != 0 || got.P != 1 || got.Outcome != Undecided || got.Missing != 3 || got.HasMin || got.Verdict() != "Nothing to decide on." ||
			got.Sentence() != "No answer counts." || got.PSentence() != "" {
			t.Errorf("%+v", got)
		}
	}
	if !strings.HasPrefix(r.Answer(), "There is no answer") {
		t.Error(r.Answer())
	}
	if !holds(r.Cautions, "no answer counts") {
		t.Errorf("cautions: %q", r.Cautions)
	}
}

func holds(all []string, part string) bool {
	return slices.ContainsFunc(all, func(s string) bool { return strings.Contains(s, part) })
}

func TestVoidsAndMissingSets(t *testing.T) {
	g := newGame(t).toOpen(planOf(8, triangles(2)), 6)
	g.do(Serve{Round: 1})
	for seat := 1; seat <= 4; seat++ {
		g.do(g.answer(seat, 1, 0, true))
	}
	g.do(
		Void{Seat: 1, Set: 1, Reason: text("wrong vessel"), Replace: true}, g.answer(1, 1, 1, false), // right before, wrong now
		Void{Seat: 2, Set: 1, Reason: text("talked")},
		Void{Seat: 5, Set: 1, Reason: text("spilt"), Replace: true}, // never answered
		LeaveSeat{6, text("ill")},
		Serve{Round: 2}, g.answer(1, 2, 0, true),
	)
	r := g.reveal()
	got := r.Tests[0]
	// Counted: seats 1 (wrong), 3 and 4 of round 1, seat 1 of round 2.
	if got.N != 4 || got.Correct != 3 || got.Voided != 3 || got.Missing != 12-4 || got.Seats != 6 {
		t.Errorf("%d of %d, voided %d, missing %d, seats %d", got.Correct, got.N, got.Voided, got.Missing, got.Seats)
	}
	for _, want := range []string{"Seat 1, set 1 was taken out (wrong vessel)", "Seat 2, set 1 was taken out (talked)",
		"Seat 6 left before the end.", "8 sets of the listed seats have no answer", "2 sets a seat"} {
		if !holds(r.Cautions, want) {
			t.Errorf("no caution says %q: %q", want, r.Cautions)
		}
	}
	if holds(r.Cautions, "pour sheet was") {
		t.Errorf("the pour sheet was opened once: %q", r.Cautions)
	}
	own, err := g.s.AnswersOf(1)
	if err != nil || len(own) != 3 || own[0].Void == nil || own[1].Take != 1 || own[1].Correct || !own[2].Correct {
		t.Errorf("seat 1: %+v, %v", own, err)
	}
	for _, a := range r.Answers {
		right, _ := g.counted(a.Seat, a.Set, a.Take)
		if a.Counted[0] != right || !slices.Equal(a.Codes, g.s.Codes(a.Seat, a.Set, a.Take)) {
			t.Errorf("seat %d, set %d, take %d: %+v", a.Seat, a.Set, a.Take, a)
		}
	}
}

func TestRevealedHoldsWhatComputeGives(t *testing.T) {
	g, r := played(t, planOf(24, triangles(1), pairOn("body")), 24, 13, 16)
	e := g.s.Result
	if e == nil || !e.SealHolds || len(e.Tests) != 2 {
		t.Fatalf("%+v", e)
	}
	for i, x := range r.Tests {
		if e.Tests[i] != (Revealing{x.Method.Key, x.N, x.Correct, x.P, x.Decided, x.Outcome, x.SimilarP}) {
			t.Errorf("test %d: %+v", i+1, e.Tests[i])
		}
	}
}

func TestCautions(t *testing.T) {
	g := newGame(t)
	g.do(Draft{planOf(2, triangles(1)), true}, SetPin{testPin}, SealPlan{sealing(t, planOf(2, triangles(1)), 5)}, OpenLobby{},
		sit(0, 1), sit(0, 2), FreezeList{}, Open{releases()})
	r := g.play(2, func(int, int) bool { return true }).reveal()
	for _, want := range []string{"demonstration", "never counts", "never opened", "no result of 2 answers can be significant"} {
		if !holds(r.Cautions, want) {
			t.Errorf("no caution says %q: %q", want, r.Cautions)
		}
	}
	g = newGame(t).toOpen(planOf(24, triangles(1), pairOn("body")), 24)
	g.do(OpenPourSheet{"4711"}, OpenPourSheet{"4711"})
	r = g.play(24, func(seat, set int) bool { return set == 1 && seat <= 13 || set == 2 && seat <= 17 }).reveal()
	for _, want := range []string{"opened 3 times", "expects less body of it may name it by inference"} {
		if !holds(r.Cautions, want) {
			t.Errorf("no caution says %q: %q", want, r.Cautions)
		}
	}
	_, r = played(t, planOf(12, triangles(1)), 12, 5)
	if !holds(r.Cautions, "below the wanted 0.8.") {
		t.Errorf("low power goes unsaid: %q", r.Cautions)
	}
	_, r = played(t, planOf(36, triangles(1)), 36, 5)
	if holds(r.Cautions, "below the wanted") {
		t.Errorf("36 triangles have power 0.92 (R 4.2.2), and: %q", r.Cautions)
	}
}

// For every count, the outcome, the minimum and the interval agree: p ≤ α where
// the minimum is reached. Where a tail equals α exactly, as 1/16 of four pairs
// does, it reaches it (stats.MinCorrect); a decision by p ≤ α must not lose it
// to the last bit.
func TestOutcomeMinimumAndIntervalAgree(t *testing.T) {
	checked := 0
	for n := 1; n <= 24; n++ {
		for x := 0; x <= n; x++ {
			for _, test := range []TestPlan{triangles(1), pairOn("body")} {
				for _, twoSided := range []bool{false, true} {
					test.TwoSided = twoSided
					m, _ := MethodByKey(test.Method)
					if twoSided && m.Overall {
						continue
					}
					alphas := []float64{0.05, 0.01}
					if n <= 12 && !m.Overall { // dyadic tails are exact
						tail := 0.0
						for k := n; k >= 0; k-- {
							tail += float64(choose(n, k)) / float64(int(1)<<n)
							if tail >= 0.0001 && tail <= 0.4 {
								alphas = append(alphas, tail)
							}
						}
					}
					for _, alpha := range alphas {
						checked++
						test.Alpha = alpha
						outcome, min, ok := decided(test, n, x)
						side := x
						if twoSided {
							side = max(x, n-x)
						}
						if reached := ok && side >= min; reached != (outcome == Different) {
							t.Errorf("%s, two-sided %v, %d of %d at α %v: %s, and the minimum is %d", m.Name, twoSided, x, n, alpha, outcome, min)
						}
					}
					test.Alpha = 0.05
					r := TestResult{Plan: test, Method: m, N: n, Correct: x}
					r.analyse(nil)
					if !twoSided && (r.PdInterval.Lower > 0) != (r.P <= 0.05) {
						t.Errorf("%s, %d of %d: p %v beside an interval from %v", m.Name, x, n, r.P, r.PdInterval.Lower)
					}
				}
			}
		}
	}
	if checked < 1000 {
		t.Errorf("checked %d cases", checked)
	}
}

func choose(n, k int) int {
	c := 1
	for i := range k {
		c = c * (n - i) / (i + 1)
	}
	return c
}

// decided runs the decision of compute on counts alone.
func decided(p TestPlan, n, x int) (Outcome, int, bool) {
	m, _ := MethodByKey(p.Method)
	s := &State{Plan: Plan{Tests: []TestPlan{p}}, sealed: &Sealed{Layout: Layout{Seats: make([][]DealtSet, n)}}}
	set := DealtSet{Order: m.Orders[0], Takes: [][]Code{[]Code{417, 532, 736}[:m.Cups]}}
	right := set.Takes[0][m.Counted(set.Order)[0]]
	wrong := set.Takes[0][(m.Counted(set.Order)[0]+1)%m.Cups]
	for i := range n {
		s.sealed.Layout.Seats[i] = []DealtSet{set}
		pick := wrong
		if i < x {
			pick = right
		}
		s.Seats = append(s.Seats, Seat{Number: i + 1, Listed: true, Sets: []Set{{Number: 1, Takes: []Take{{Answer: &Answer{Pick: pick}}}}}})
	}
	r := s.compute().Tests[0]
	return r.Outcome, r.MinCorrect, r.HasMin
}

// Beside a two-sided test, the picture must not say "no difference" where p says
// that there is one, on whichever side.
func TestTwoSidedEstimatesAgreeWithP(t *testing.T) {
	test := pairOn("body")
	test.TwoSided = true
	for x := 0; x <= 24; x++ {
		r := TestResult{Plan: test, Method: PairedComparison, N: 24, Correct: x}
		r.analyse(nil)
		if r.P > 0.05 {
			continue
		}
		zero := stats.Interval{Confidence: r.DPrimeInterval.Confidence}
		if r.DPrime == 0 || r.DPrimeInterval == zero {
			t.Errorf("%d of 24: p = %.4f, and d′ is %s", x, r.P, r.DPrimeWords())
		}
	}
}
