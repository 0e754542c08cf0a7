package stats

import "testing"

// With mean and overdispersion given, as [FitBetaBinomial] finds them: R fits the same,
// and integrates over the ability.
func TestSharesGivenThePanelReference(t *testing.T) {
	panels := map[string][]Replicates{}
	chances := map[string]float64{}
	eachRecord(t, judgesFolder+"shrunk_shares.csv", 24, func(r record) bool {
		set := r.text("set")
		panels[set] = append(panels[set], Replicates{r.int("n"), r.int("x")})
		chances[set] = r.fraction("chance")
		return true
	})
	eachRecord(t, judgesFolder+"shrunk_shares.csv", 24, func(r record) bool {
		set := r.text("set")
		fit := FitBetaBinomial(panels[set], chances[set], 0.95)
		prior, likelihood := betaCells(fit.Mu, fit.Gamma), shareLikelihood(r.int("n"), r.int("x"), chances[set])
		s := shareGiven(r.int("n"), r.int("x"), chances[set], 0.95, &prior, &likelihood)
		r.close("mu", fit.Mu, 1e-4)
		r.close("gamma", fit.Gamma, 1e-4)
		r.close("pc", s.PC, 1e-4)
		r.close("lower", s.Interval.Lower, 2e-4)
		r.close("upper", s.Interval.Upper, 2e-4)
		return true
	})
}

func TestShrinkSharesReference(t *testing.T) {
	panels := map[string][]Replicates{}
	at := map[string]int{}
	eachRecord(t, judgesFolder+"integrated_shares.csv", 39, func(r record) bool {
		set := r.text("set")
		panels[set] = append(panels[set], Replicates{r.int("n"), r.int("x")})
		return true
	})
	eachRecord(t, judgesFolder+"integrated_shares.csv", 39, func(r record) bool {
		set := r.text("set")
		s := ShrinkShares(panels[set], r.fraction("chance"), 0.95)[at[set]]
		at[set]++
		r.close("pc", s.PC, 1e-3)
		r.close("lower", s.Interval.Lower, 1e-3)
		r.close("upper", s.Interval.Upper, 1e-3)
		return s.N == r.int("n") && s.Correct == r.int("x")
	})
}

// Whose answers are alike, or few, is not put down as known: each keeps an interval
// that his or her own exact one tells of.
func TestShrinkSharesOfFew(t *testing.T) {
	even := ShrinkShares([]Replicates{{12, 6}, {12, 7}, {12, 6}, {12, 7}}, 1.0/3, 0.95)
	if i := even[0].Interval; even[0].PC >= even[1].PC || i.Upper-i.Lower < 0.25 {
		t.Errorf("answers alike: %+v", even)
	}
	// 12 judges of 40 sets, of whom one guesses.
	panel := []Replicates{{40, 13}}
	for _, x := range []int{27, 29, 26, 28, 27, 30, 26, 28, 25, 31, 27} {
		panel = append(panel, Replicates{40, x})
	}
	s := ShrinkShares(panel, 1.0/3, 0.95)
	if s[0].Interval.Lower > 0.37 || s[0].Interval.Upper > s[1].PC || s[0].PC > s[1].PC-0.1 {
		t.Errorf("the guesser %+v, another %+v", s[0], s[1])
	}
	classes := ShrinkShares([]Replicates{{8, 8}, {8, 8}, {8, 2}, {8, 3}, {8, 8}, {8, 2}}, 1.0/3, 0.95)
	if classes[0].PC < 0.9 || classes[2].PC > 0.45 {
		t.Errorf("two classes: %+v", classes)
	}
	// Of one assessor the panel says nothing, and still 4 of 5 does not outrank 40 of 55.
	one := ShrinkShares([]Replicates{{5, 5}}, 0.5, 0.95)[0]
	if !(one.PC > 0.5 && one.PC < 1 && one.Interval.Lower < 0.6 && one.Interval.Upper > 0.97) {
		t.Errorf("one assessor: %+v", one)
	}
	if two := ShrinkShares([]Replicates{{5, 4}, {55, 40}, {30, 12}}, 1.0/3, 0.95); two[0].PC >= two[1].PC {
		t.Errorf("4 of 5 outranks 40 of 55: %+v", two)
	}
	if !panics(func() { ShrinkShares(nil, 0.5, 0.95) }) || !panics(func() { ShrinkShares([]Replicates{{5, 5}}, 0.5, 1) }) {
		t.Error("no panic for nobody, or for a confidence of 1")
	}
}
