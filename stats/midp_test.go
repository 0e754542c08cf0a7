package stats

import (
	"math"
	"math/big"
	"testing"
)

// Whole numbers: twice the mid-p value is the sum of two neighbouring tails.
func TestMidPAgainstExact(t *testing.T) {
	checked := 0
	for _, g := range guesses {
		chance := float64(g.num) / float64(g.den)
		for n := 1; n <= 200; n++ {
			exact := exactBinomials[key{n, g.num, g.den}]
			for x := 0; x <= n; x++ {
				upper := half(new(big.Rat).Add(exact.upperTail(x), exact.upperTail(x+1)))
				lower := exact.lowerTail(x)
				if x > 0 {
					lower.Add(lower, exact.lowerTail(x-1))
				}
				for name, pair := range map[string][2]float64{
					"UpperTailMidP": {UpperTailMidP(n, x, chance), upper},
					"LowerTailMidP": {LowerTailMidP(n, x, chance), half(lower)},
				} {
					tolerance := 1e-13
					if pair[1] < 1e-10 {
						tolerance = 1e-12 // as PMF promises
					}
					if !agrees(pair[0], pair[1], tolerance) {
						t.Errorf("%s(%d, %d, %d/%d) = %.17g, want %.17g", name, n, x, g.num, g.den, pair[0], pair[1])
					}
				}
				checked++
			}
		}
	}
	if checked != 3*20300 {
		t.Errorf("checked %d counts", checked)
	}
}

func half(x *big.Rat) float64 {
	f, _ := x.Quo(x, big.NewRat(2, 1)).Float64()
	return f
}

func TestMidPAgainstR(t *testing.T) {
	tests := []struct { // R 4.2.2, digits = 17
		call      string
		got, want float64
	}{
		{`pbinom(13, 24, 1/3, lower.tail=FALSE) + dbinom(13, 24, 1/3)/2`, UpperTailMidP(24, 13, 1.0/3), 0.019390900956169736},
		{`pbinom(12, 24, 1/3) + dbinom(13, 24, 1/3)/2`, LowerTailMidP(24, 13, 1.0/3), 0.9806090990438302},
		{`2*(pbinom(14, 20, 1/2, lower.tail=FALSE) + dbinom(14, 20, 1/2)/2)`, TwoSidedMidP(20, 14), 0.078353881835937611},
		{`the same from the other side`, TwoSidedMidP(20, 6), 0.078353881835937611},
	}
	for _, tt := range tests {
		if !agrees(tt.got, tt.want, 1e-13) {
			t.Errorf("%s = %.17g, want %.17g", tt.call, tt.got, tt.want)
		}
	}
	if p := TwoSidedMidP(20, 10); !agrees(p, 1, 1e-14) || p > 1 {
		t.Errorf("TwoSidedMidP(20, 10) = %v, want 1", p)
	}
}

func TestMidPShape(t *testing.T) {
	for _, n := range []int{1, 2, 7, 30, 500, 10000} {
		for _, p := range []float64{0, 0.1, 1.0 / 3, 0.5, 0.9, 1} {
			before := math.Inf(1)
			for x := 0; x <= n; x += 1 + n/100 {
				upper, lower := UpperTailMidP(n, x, p), LowerTailMidP(n, x, p)
				if math.Abs(upper+lower-1) > 1e-13 {
					t.Errorf("n %d, x %d, p %v: %v and %v do not add up to 1", n, x, p, upper, lower)
				}
				if upper > before*(1+1e-13) {
					t.Errorf("n %d, x %d, p %v: rises from %v to %v", n, x, p, before, upper)
				}
				if upper > UpperTail(n, x, p) {
					t.Errorf("n %d, x %d, p %v: mid-p above the exact value", n, x, p)
				}
				before = upper
			}
		}
	}
}

// What the comments of midp.go say of the excess.
func TestMidPExcess(t *testing.T) {
	tests := []struct {
		alpha, excess float64
		n             int
		chance        float64
	}{
		{0.2, 0.1439, 4, 1.0 / 10},
		{0.1, 0.0900, 2, 1.0 / 10},
		{0.05, 0.0315, 5, 1.0 / 10},
		{0.01, 0.0078, 6, 1.0 / 3},
		{0.001, 0.00095, 9, 1.0 / 2},
	}
	for _, tt := range tests {
		worst, atN, atChance := 0.0, 0, 0.0
		for _, chance := range []float64{1.0 / 3, 1.0 / 2, 1.0 / 10} {
			for n := 1; n <= 200; n++ {
				for x := 0; x <= n; x++ {
					if UpperTailMidP(n, x, chance) <= tt.alpha {
						if excess := UpperTail(n, x, chance) - tt.alpha; excess > worst {
							worst, atN, atChance = excess, n, chance
						}
						break
					}
				}
			}
		}
		digit := 5e-5
		if tt.alpha == 0.001 {
			digit = 5e-6
		}
		if math.Abs(worst-tt.excess) > digit || atN != tt.n || atChance != tt.chance {
			t.Errorf("alpha %v: worst excess %v at n = %d, chance %v; the comment says %v, %d, %v",
				tt.alpha, worst, atN, atChance, tt.excess, tt.n, tt.chance)
		}
	}

	worst, atN := 0.0, 0
	for n := 1; n <= 200; n++ {
		for x := (n + 1) / 2; x <= n; x++ {
			if TwoSidedMidP(n, x) <= 0.05 {
				if p := TwoSidedP(n, x); p > worst {
					worst, atN = p, n
				}
				break
			}
		}
	}
	if math.Abs(worst-0.0768) > 5e-5 || atN != 16 {
		t.Errorf("two-sided: P = %v at n = %d; the comment says 0.0768 at 16", worst, atN)
	}
}

// The p-values called exact are valid: P(p ≤ a) ≤ a under the null.
func TestExactPValuesAreValid(t *testing.T) {
	levels := []float64{0.001, 0.005, 0.01, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.75, 0.9, 0.99}
	for n := 1; n <= 60; n++ {
		for _, p := range []float64{0.1, 1.0 / 3, 0.4, 0.5, 0.6} {
			for _, a := range levels {
				var upper, lower, both float64
				for x := 0; x <= n; x++ {
					weight := PMF(n, x, p)
					if UpperTail(n, x, p) <= a {
						upper += weight
					}
					if LowerTail(n, x, p) <= a {
						lower += weight
					}
					if p == 0.5 && TwoSidedP(n, x) <= a {
						both += weight
					}
				}
				if worst := max(upper, lower, both); worst > a*(1+1e-12) {
					t.Errorf("n %d, p %v: P(p-value ≤ %v) = %v", n, p, a, worst)
				}
			}
		}
	}
}

func TestMidPPanics(t *testing.T) {
	bad := map[string]func(){
		"x above n":  func() { UpperTailMidP(5, 6, 0.5) },
		"x negative": func() { LowerTailMidP(5, -1, 0.5) },
		"p NaN":      func() { UpperTailMidP(5, 5, math.NaN()) },
		"n 0":        func() { TwoSidedMidP(0, 0) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkUpperTailMidP(b *testing.B) {
	for b.Loop() {
		UpperTailMidP(60, 27, 1.0/3)
	}
}
