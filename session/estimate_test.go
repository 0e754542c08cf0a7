package session

import (
	"strings"
	"testing"

	"oddcup/stats"
)

// TestEstimateWords: no estimate is printed below its own interval, and no interval
// without width. By the limits of Clopper and Pearson: R 4.2.2,
//
//	binom.test(7, 24, conf.level = 0.9)$conf.int  # upper 0.4788, pd 1.5 × 0.4788 − 0.5 = 0.22
//	binom.test(2, 24, conf.level = 0.9)$conf.int  # upper 0.2397, below 1/3
func TestEstimateWords(t *testing.T) {
	for _, x := range []struct {
		correct int
		pd, d   string
	}{
		{7, "0; fewer were right than guessing gives (90 % interval up to 0.22)", "0; fewer were right than guessing gives (90 % interval up to 1.3"},
		{2, "0; fewer were right than guessing gives (the whole 90 % interval lies below guessing)", "0; fewer were right than guessing gives (the whole 90 % interval lies below guessing)"},
		{8, "0.00 (90 % interval 0.00 to 0.28)", "0.00 (90 % interval 0.00 to "},
		{16, "0.50 (90 % interval 0.22 to 0.73)", "2."},
	} {
		r := Analyse(UsualPlan().Tests[0], []stats.Replicates{{N: 24, Correct: x.correct}})
		if got := r.PdWords(); got != x.pd {
			t.Errorf("%d of 24: pd %s", x.correct, got)
		}
		if got := r.DPrimeWords(); !strings.HasPrefix(got, x.d) {
			t.Errorf("%d of 24: d′ %s", x.correct, got)
		}
		if r.PdShown() < 0 || x.correct < 8 && r.Pd >= 0 {
			t.Errorf("%d of 24: pd %v is shown as %v", x.correct, r.Pd, r.PdShown())
		}
	}
	two := UsualPlan().Tests[1]
	two.TwoSided = true
	r := Analyse(two, []stats.Replicates{{N: 24, Correct: 4}})
	if got := r.PdWords(); r.BelowGuessing() || !strings.HasPrefix(got, "−0.67 (95 % interval −0.") {
		t.Errorf("two-sided: %s", got)
	}
}
