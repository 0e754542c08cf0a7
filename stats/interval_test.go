package stats

import (
	"math"
	"testing"
)

func TestClopperPearsonAgainstReference(t *testing.T) {
	eachRecord(t, "e_ci_proportion.csv", 90, func(r record) bool {
		got := ClopperPearson(r.int("x"), r.int("n"), r.float("conf"))
		r.near("cp_lower", got.Lower, 1e-13)
		r.near("cp_upper", got.Upper, 1e-13)
		// The one-sided limits at level c are the two-sided ones at 2c - 1.
		got = ClopperPearson(r.int("x"), r.int("n"), 2*r.float("conf")-1)
		r.near("cp_one_sided_lower", got.Lower, 1e-13)
		r.near("cp_one_sided_upper", got.Upper, 1e-13)
		return true
	})
}

func TestPdIntervalAgainstReference(t *testing.T) {
	eachRecord(t, "e2_ci_pd.csv", 60, func(r record) bool {
		got := PdInterval(r.int("x"), r.int("n"), r.fraction("p0"), r.float("conf"))
		if got.Confidence != r.float("conf") {
			t.Errorf("%s:%d: confidence = %v", r.file, r.line, got.Confidence)
		}
		// Where pc is near chance the subtraction leaves absolute accuracy only.
		for column, limit := range map[string]float64{"cp_lower_t": got.Lower, "cp_upper_t": got.Upper} {
			if want := r.float(column); math.Abs(limit-want) > 1e-15 && !agrees(limit, want, 1e-13) {
				t.Errorf("%s:%d: %s = %.17g, want %.17g", r.file, r.line, column, limit, want)
			}
		}
		return true
	})
}

// R 4.2.2, digits = 17. R takes the upper limit from the quantile at 1 - a, which
// keeps ten digits or so of an a like 5e-7. The last call is where a library's
// inverse beta function answers 0.999999.
func TestClopperPearsonAgainstR(t *testing.T) {
	tests := []struct {
		call         string
		got          Interval
		lower, upper float64
	}{
		{`binom.test(15, 30, conf.level=0.95)$conf.int`, ClopperPearson(15, 30, 0.95), 0.31297028586802750, 0.68702971413197256},
		{`binom.test(1, 1000, conf.level=0.999999)$conf.int`, ClopperPearson(1, 1000, 0.999999), 5.0000012488941957e-10, 1.7279905261063155e-02},
		{`binom.test(0, 392, conf.level=1-1e-6)$conf.int`, ClopperPearson(0, 392, 1-1e-6), 0, 0.036335314968955368},
	}
	for _, tt := range tests {
		if !agrees(tt.got.Lower, tt.lower, 1e-12) || !agrees(tt.got.Upper, tt.upper, 1e-10) {
			t.Errorf("%s = %.17g %.17g, want %.17g %.17g", tt.call, tt.got.Lower, tt.got.Upper, tt.lower, tt.upper)
		}
	}
}

// A limit put back into its tail gives the risk it was made from.
func TestClopperPearsonSolvesTheTails(t *testing.T) {
	for _, confidence := range []float64{0.01, 0.5, 0.9, 0.95, 0.999, 1 - 1e-6, 1 - 1e-12} {
		a := (1 - confidence) / 2
		for _, n := range []int{1, 2, 3, 30, 400} {
			for x := 0; x <= n; x += 1 + n/40 {
				limits := ClopperPearson(x, n, confidence)
				seen := float64(x) / float64(n)
				if limits.Lower > seen || limits.Upper < seen {
					t.Errorf("%d of %d at %v: %v leaves out what was seen", x, n, confidence, limits)
				}
				if x > 0 && !agrees(UpperTail(n, x, limits.Lower), a, 1e-12) {
					t.Errorf("%d of %d at %v: P(X ≥ x | lower) = %v, want %v", x, n, confidence, UpperTail(n, x, limits.Lower), a)
				}
				// The tail moves by n ulp(1)/(1-upper) with the last bit of a limit near 1.
				if x < n && !agrees(LowerTail(n, x, limits.Upper), a, 1e-12+float64(n)*2e-16/(1-limits.Upper)) {
					t.Errorf("%d of %d at %v: P(X ≤ x | upper) = %v, want %v", x, n, confidence, LowerTail(n, x, limits.Upper), a)
				}
				if x == 0 && limits.Lower != 0 || x == n && limits.Upper != 1 {
					t.Errorf("%d of %d at %v: %v", x, n, confidence, limits)
				}
			}
		}
	}
}

func TestPdIntervalIsCut(t *testing.T) {
	if got, want := PdInterval(0, 60, 1.0/3, 0.95), (Interval{0, 0, 0.95}); got != want {
		t.Errorf("none of 60 = %v, want %v", got, want)
	}
	if got := PdInterval(20, 20, 1.0/3, 0.95); got.Upper != 1 || got.Lower <= 0 {
		t.Errorf("all of 20 = %v", got)
	}
}

func TestIntervalPanics(t *testing.T) {
	bad := map[string]func(){
		"n 0":            func() { ClopperPearson(0, 0, 0.95) },
		"x above n":      func() { ClopperPearson(6, 5, 0.95) },
		"x negative":     func() { ClopperPearson(-1, 5, 0.95) },
		"confidence 0":   func() { ClopperPearson(2, 5, 0) },
		"confidence 1":   func() { ClopperPearson(2, 5, 1) },
		"confidence NaN": func() { ClopperPearson(2, 5, math.NaN()) },
		"chance 1":       func() { PdInterval(2, 5, 1, 0.95) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkClopperPearson(b *testing.B) {
	for b.Loop() {
		ClopperPearson(27, 60, 0.95)
	}
}
