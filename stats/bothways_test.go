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
			if e.Pd != -m.Pd || e.DPrime != -m.DPrime ||
				e.PdInterval.Lower != -m.PdInterval.Upper || e.DPrimeInterval.Lower != -m.DPrimeInterval.Upper {
				t.Fatalf("%d of %d: %+v and %+v", x, n, e, m)
			}
			if 2*x >= n && (e.DPrime != PairedComparison.estimate(x, n) || !agrees(e.Pd, PdFromPc(float64(x)/float64(n), 0.5), 1e-14)) {
				t.Fatalf("%d of %d: pd %v, d′ %v", x, n, e.Pd, e.DPrime)
			}
			if one := PairedComparison.DPrimeInterval(x, n, 0.95); max(0, e.DPrimeInterval.Lower) != one.Lower || max(0, e.DPrimeInterval.Upper) != one.Upper {
				t.Fatalf("%d of %d: d′ from %v to %v, one-sided %v", x, n, e.DPrimeInterval.Lower, e.DPrimeInterval.Upper, one)
			}
			p, outside := TwoSidedP(n, x), e.DPrimeInterval.Lower > 0 || e.DPrimeInterval.Upper < 0
			if math.Abs(p-0.05) > 1e-9 && outside != (p < 0.05) {
				t.Fatalf("%d of %d: p = %v, and d′ from %v to %v", x, n, p, e.DPrimeInterval.Lower, e.DPrimeInterval.Upper)
			}
		}
	}
	even := EstimateBothWays(10, 20, 0.9)
	if even.Pd != 0 || even.DPrime != 0 || math.Signbit(even.Pd) || math.Signbit(even.DPrime) {
		t.Errorf("an even split: %+v", even)
	}
}

// R 4.2.2, digits = 17. The last two have limits next to 0 and 1.
func TestEstimateBothWaysAgainstR(t *testing.T) {
	// b <- binom.test(18, 24)$conf.int; 2*b - 1; sqrt(2)*qnorm(b)
	e := EstimateBothWays(18, 24, 0.95)
	for _, pair := range [][2]float64{
		{e.PdInterval.Lower, 2*0.532887197577331 - 1}, {e.PdInterval.Upper, 2*0.902269590525467 - 1},
		{e.DPrimeInterval.Lower, 0.11671443759596625}, {e.DPrimeInterval.Upper, 1.830830361613726},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-12 {
			t.Errorf("18 of 24: %.17g, want %.17g", pair[0], pair[1])
		}
	}
	// q <- -expm1(log1p(-0.025)/1e6); 2*q - 1; sqrt(2)*qnorm(q)
	e = EstimateBothWays(1, 1_000_000, 0.95)
	if !agrees(e.PdInterval.Lower, -0.99999994936438463, 1e-15) || !agrees(e.DPrimeInterval.Lower, -7.7061400922857635, 1e-12) {
		t.Errorf("1 of a million: %+v", e)
	}
	// a <- (1-0.999999)/2; q <- -expm1(log1p(-a)/1000); -sqrt(2)*qnorm(q)
	e = EstimateBothWays(999, 1000, 0.999999)
	if !agrees(e.DPrimeInterval.Upper, 8.6400107134465021, 1e-12) {
		t.Errorf("999 of 1000: d′ up to %.17g", e.DPrimeInterval.Upper)
	}
}

// Both intervals cover at least with their confidence whichever product is
// picked more often, by exact enumeration.
func TestEstimateBothWaysCoverage(t *testing.T) {
	for _, confidence := range []float64{0.8, 0.95} {
		for _, n := range []int{1, 2, 5, 12, 31, 60} {
			var all []BothWays
			for x := 0; x <= n; x++ {
				all = append(all, EstimateBothWays(x, n, confidence))
			}
			for step := -49; step <= 49; step++ {
				pd := float64(step) / 50
				pc := PcFromPd(pd, 0.5)
				d := signedDPrime(pc, 1-pc)
				var inPd, inDPrime float64
				for x, e := range all {
					if e.PdInterval.Lower <= pd && pd <= e.PdInterval.Upper {
						inPd += PMF(n, x, pc)
					}
					if e.DPrimeInterval.Lower <= d && d <= e.DPrimeInterval.Upper {
						inDPrime += PMF(n, x, pc)
					}
				}
				if inPd < confidence || inDPrime < confidence {
					t.Errorf("n %d, pd %v: covered with %v and %v, want %v", n, pd, inPd, inDPrime, confidence)
				}
			}
		}
	}
}

func TestEstimateBothWaysPanics(t *testing.T) {
	for name, f := range map[string]func(){
		"n 0":          func() { EstimateBothWays(0, 0, 0.95) },
		"x above n":    func() { EstimateBothWays(6, 5, 0.95) },
		"confidence 1": func() { EstimateBothWays(2, 5, 1) },
	} {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkEstimateBothWays(b *testing.B) {
	for b.Loop() {
		EstimateBothWays(18, 24, 0.95)
	}
}
