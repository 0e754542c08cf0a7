package stats

import (
	"math"
	"testing"
)

// TestEstimateBothWays: the two sides mirror each other, the upper side is what
// the one-sided functions give, and the interval leaves out zero exactly where
// the two-sided p-value is below 1 - confidence.
func TestEstimateBothWays(t *testing.T) {
	for n := 1; n <= 60; n++ {
		for x := 0; x <= n; x++ {
			e, m := EstimateBothWays(x, n, 0.95), EstimateBothWays(n-x, n, 0.95)
			mirrored := func(a, b float64) bool { return a == -b || math.Abs(a+b) < 1e-10 }
			if !mirrored(e.Pd, m.Pd) || !mirrored(e.DPrime, m.DPrime) ||
				!mirrored(e.PdInterval.Lower, m.PdInterval.Upper) || !mirrored(e.DPrimeInterval.Lower, m.DPrimeInterval.Upper) {
				t.Fatalf("%d of %d: %+v and %+v", x, n, e, m)
			}
			if 2*x >= n && e.DPrime != PairedComparison.DPrime(float64(x)/float64(n)) {
				t.Fatalf("%d of %d: d′ %v", x, n, e.DPrime)
			}
			p, outside := TwoSidedP(n, x), e.DPrimeInterval.Lower > 0 || e.DPrimeInterval.Upper < 0
			if math.Abs(p-0.05) > 1e-9 && outside != (p < 0.05) {
				t.Fatalf("%d of %d: p = %v, and d′ from %v to %v", x, n, p, e.DPrimeInterval.Lower, e.DPrimeInterval.Upper)
			}
		}
	}
	// 18 of 24, R 4.2.2: binom.test(18, 24)$conf.int is 0.532887197577331 to 0.902269590525467.
	e := EstimateBothWays(18, 24, 0.95)
	if math.Abs(e.PdInterval.Lower-(2*0.532887197577331-1)) > 1e-12 || math.Abs(e.PdInterval.Upper-(2*0.902269590525467-1)) > 1e-12 {
		t.Errorf("pd from %v to %v", e.PdInterval.Lower, e.PdInterval.Upper)
	}
}
