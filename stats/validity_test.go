package stats

import (
	"math"
	"sort"
	"testing"
)

// nullP is a p-value that occurs under the null hypothesis, and how probably.
type nullP struct{ p, chance float64 }

// worstExcess returns the largest P(p ≤ a) - a over all a from lo to hi. P
// rises at the p-values that occur only, so nothing lies between them.
func worstExcess(outcomes []nullP, lo, hi float64) float64 {
	sort.Slice(outcomes, func(i, j int) bool { return outcomes[i].p < outcomes[j].p })
	worst, below := math.Inf(-1), 0.0
	for i, o := range outcomes {
		below += o.chance
		last := i == len(outcomes)-1
		if !last && outcomes[i+1].p <= o.p*(1+tie) {
			continue // the same p-value, but for rounding
		}
		if a := max(lo, o.p); a <= hi && (last || lo < outcomes[i+1].p) {
			worst = max(worst, below-a)
		}
	}
	return worst
}

// checkValid reports a p-value called exact that is below what occurs under the
// null hypothesis: P(p ≤ a) > a for some a.
func checkValid(t *testing.T, name string, outcomes []nullP) {
	t.Helper()
	sum := 0.0
	for _, o := range outcomes {
		sum += o.chance
	}
	if len(outcomes) == 0 || math.Abs(sum-1) > 1e-9 {
		t.Errorf("%s: %d outcomes of total probability %v", name, len(outcomes), sum)
	}
	if excess := worstExcess(outcomes, 0, 1); excess > 1e-11 {
		t.Errorf("%s: P(p ≤ a) exceeds some a by %v", name, excess)
	}
}

func TestWorstExcess(t *testing.T) {
	outcomes := []nullP{{0.5, 0.3}, {0.01, 0.04}, {0.2, 0.1}, {0.2, 0.1}, {1, 0.46}}
	for _, c := range []struct{ lo, hi, want float64 }{
		{0, 1, 0.04}, {0, 0.1, 0.03}, {0.03, 0.1, 0.01}, {0.3, 0.4, -0.06}, {0.2, 0.3, 0.04}, {0.6, 1, 0},
	} {
		if got := worstExcess(outcomes, c.lo, c.hi); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("from %v to %v: %v, want %v", c.lo, c.hi, got, c.want)
		}
	}
}
