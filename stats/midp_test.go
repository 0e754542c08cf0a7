package stats

import (
	"fmt"
	"math"
	"testing"
)

// Whole numbers: twice the mid-p value is the sum of two neighbouring tails.
func TestMidPAgainstExact(t *testing.T) {
	checked := 0
	for _, g := range guesses {
		chance := float64(g.num) / float64(g.den)
		for n := 1; n <= exactSizes; n++ {
			exact := exactBinomials()[key{n, g.num, g.den}]
			for x := 0; x <= n; x++ {
				for i, pair := range [][2]float64{
					{UpperTailMidP(n, x, chance), exact.upperMidP(x)},
					{LowerTailMidP(n, x, chance), exact.lowerMidP(x)},
				} {
					tolerance := 1e-13
					if pair[1] < 1e-10 {
						tolerance = 1e-12 // as PMF promises
					}
					if !agrees(pair[0], pair[1], tolerance) {
						t.Errorf("%s(%d, %d, %d/%d) = %.17g, want %.17g", [...]string{"UpperTailMidP", "LowerTailMidP"}[i], n, x, g.num, g.den, pair[0], pair[1])
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

// The p-values called exact are valid under the null: P(p ≤ a) ≤ a for every
// a, with the probabilities of the counts from whole numbers.
func TestExactPValuesAreValid(t *testing.T) {
	for _, g := range guesses {
		p := float64(g.num) / float64(g.den)
		for n := 1; n <= exactSizes; n += 1 + n/50 {
			exact := exactBinomials()[key{n, g.num, g.den}]
			for name, value := range map[string]func(x int) float64{
				"UpperTail": func(x int) float64 { return UpperTail(n, x, p) },
				"LowerTail": func(x int) float64 { return LowerTail(n, x, p) },
				"TwoSidedP": func(x int) float64 { return TwoSidedP(n, x) },
			} {
				if name == "TwoSidedP" && p != 0.5 {
					continue
				}
				var outcomes []nullP
				for x := 0; x <= n; x++ {
					outcomes = append(outcomes, nullP{value(x), exact.pmf(x)})
				}
				checkValid(t, fmt.Sprintf("%s, n %d, p %v", name, n, p), outcomes)
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
