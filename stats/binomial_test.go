package stats

import (
	"math"
	"testing"
)

// The printed tails reach from 1 down to about 1e-10000. A value that a
// float64 cannot hold must come out as 0, and its logarithm must still be right.
func TestTailsAgainstReference(t *testing.T) {
	eachRecord(t, "a_binomial_tails.csv", 219, func(r record) bool {
		n, x, p := r.int("n"), r.int("x"), r.fraction("p0")
		plain := map[string]float64{
			"upper_P_X_ge_x": UpperTail(n, x, p),
			"lower_P_X_le_x": LowerTail(n, x, p),
			"pmf_P_X_eq_x":   PMF(n, x, p),
		}
		for column, got := range plain {
			if want := r.float(column); want < 0x1p-1022 {
				if math.Abs(got-want) > 1e-312 {
					t.Errorf("%s:%d: %s = %g, want %g", r.file, r.line, column, got, want)
				}
				continue
			}
			r.near(column, got, 1e-12)
		}
		logs := map[string]float64{
			"ln_upper": LogUpperTail(n, x, p),
			"ln_lower": LogLowerTail(n, x, p),
			"ln_pmf":   LogPMF(n, x, p),
		}
		for column, got := range logs {
			want := r.float(column)
			tolerance := 1e-12 // 1e-12 absolutely or 1e-14 relatively, and relatively near 0
			if math.Abs(want) > 1 {
				tolerance = max(1e-12/math.Abs(want), 1e-14)
			}
			r.near(column, got, tolerance)
		}
		return true
	})
}

// Every n up to 200 and every x, against whole-number arithmetic, to the
// documented errors. The smallest of these tails are about 1e-200.
func TestTailsAgainstExact(t *testing.T) {
	tested := 0
	for _, g := range guesses {
		p := float64(g.num) / float64(g.den)
		for n := 1; n <= exactSizes; n++ {
			exact := exactBinomials()[key{n, g.num, g.den}]
			for x := 0; x <= n; x++ {
				for i, pair := range [][2]float64{
					{PMF(n, x, p), exact.pmf(x)},
					{UpperTail(n, x, p), exact.upperTail(x)},
					{LowerTail(n, x, p), exact.lowerTail(x)},
				} {
					tolerance := 1e-12
					if pair[1] > 1e-10 {
						tolerance = 1e-13
					}
					if !agrees(pair[0], pair[1], tolerance) {
						t.Errorf("%s(%d, %d, %v) = %.17g, want %.17g", [...]string{"PMF", "UpperTail", "LowerTail"}[i], n, x, p, pair[0], pair[1])
					}
				}
				for i, pair := range [][2]float64{
					{LogUpperTail(n, x, p), exact.logShare(exact.upper[x])},
					{LogLowerTail(n, x, p), exact.logShare(exact.lower(x))},
				} {
					// Near P = 1 the error is relative, not absolute.
					if got, want := pair[0], pair[1]; !agrees(got, want, 1e-12) && (want > -1 || math.Abs(got-want) > 1e-12) {
						t.Errorf("%s(%d, %d, %v) = %.17g, want %.17g", [...]string{"LogUpperTail", "LogLowerTail"}[i], n, x, p, got, want)
					}
				}
				tested++
			}
		}
	}
	if tested != 3*20300 {
		t.Errorf("tested %d points", tested)
	}
}

// R 4.2.2. Each value carries the call that printed it, with digits = 17.
func TestTailsAgainstR(t *testing.T) {
	tests := []struct {
		call      string
		got, want float64
	}{
		{`binom.test(25, 50, 1/3, alternative="greater")$p.value`, UpperTail(50, 25, 1.0/3), 0.010826684448815994},
		{`binom.test(27, 60, 1/3, alternative="greater")$p.value`, UpperTail(60, 27, 1.0/3), 0.039692404290915431},
		{`binom.test(12, 36, 1/3, alternative="greater")$p.value`, UpperTail(36, 12, 1.0/3), 0.56237203669113989},
		{`binom.test(4, 30, 1/3, alternative="less")$p.value`, LowerTail(30, 4, 1.0/3), 0.012229723837675951},
		{`pbinom(54, 60, 1/3, lower.tail=FALSE)`, UpperTail(60, 55, 1.0/3), 4.3134349812494119e-21},
		{`pbinom(499, 600, 1/3, lower.tail=FALSE, log.p=TRUE)`, LogUpperTail(600, 500, 1.0/3), -322.5421616628945},
		{`dbinom(25, 50, 1/3)`, PMF(50, 25, 1.0/3), 0.0059084106245119485},
	}
	for _, tt := range tests {
		if !agrees(tt.got, tt.want, 2e-13) {
			t.Errorf("%s = %.17g, want %.17g", tt.call, tt.got, tt.want)
		}
	}
}

// The p-values that a session is likely to meet, also to four digits.
// Source: recomputed from exact integers.
func TestTrianglePValues(t *testing.T) {
	tests := []struct {
		x, n    int
		rounded float64
	}{
		{5, 6, 0.0178}, {7, 12, 0.0664}, {8, 12, 0.0188}, {10, 18, 0.0433}, {13, 24, 0.0284},
		{15, 30, 0.0435}, {18, 36, 0.0283}, {27, 60, 0.0397}, {25, 60, 0.1101}, {12, 36, 0.5624},
	}
	for _, tt := range tests {
		got := UpperTail(tt.n, tt.x, 1.0/3)
		want := newExactBinomial(tt.n, 1, 3).upperTail(tt.x)
		if !agrees(got, want, 1e-13) {
			t.Errorf("%d of %d: p = %.17g, want %.17g", tt.x, tt.n, got, want)
		}
		if math.Abs(got-tt.rounded) > 0.00005 {
			t.Errorf("%d of %d: p = %.6f, want %.4f", tt.x, tt.n, got, tt.rounded)
		}
	}
}

func TestPMFSumsToOne(t *testing.T) {
	for _, p := range []float64{0, 1e-9, 0.1, 1.0 / 3, 0.5, 0.77, 1 - 1e-9, 1} {
		for _, n := range []int{1, 2, 3, 17, 100, 1000, 10000} {
			var sum float64
			for x := 0; x <= n; x++ {
				sum += PMF(n, x, p)
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Errorf("n = %d, p = %v: sum = %.17g", n, p, sum)
			}
		}
	}
}

func TestTailsAtTheEdges(t *testing.T) {
	minusInf := math.Inf(-1)
	for _, n := range []int{1, 2, 7, 500} {
		tests := []struct {
			x                                          int
			p                                          float64
			upper, lower, pmf, logUpper, logLower, log float64
		}{
			{0, 0, 1, 1, 1, 0, 0, 0},
			{n, 0, 0, 1, 0, minusInf, 0, minusInf},
			{0, 1, 1, 0, 0, 0, minusInf, minusInf},
			{n, 1, 1, 1, 1, 0, 0, 0},
		}
		for _, tt := range tests {
			got := []float64{UpperTail(n, tt.x, tt.p), LowerTail(n, tt.x, tt.p), PMF(n, tt.x, tt.p),
				LogUpperTail(n, tt.x, tt.p), LogLowerTail(n, tt.x, tt.p), LogPMF(n, tt.x, tt.p)}
			want := []float64{tt.upper, tt.lower, tt.pmf, tt.logUpper, tt.logLower, tt.log}
			for i := range got {
				if got[i] != want[i] || math.Signbit(got[i]) != math.Signbit(want[i]) {
					t.Errorf("n = %d, x = %d, p = %v: got %v, want %v", n, tt.x, tt.p, got, want)
					break
				}
			}
		}
	}
	// Between the edges of p = 0 and 1 every count but one is impossible.
	if got := []float64{PMF(9, 4, 0), PMF(9, 4, 1), UpperTail(9, 4, 0), UpperTail(9, 4, 1), LowerTail(9, 4, 0), LowerTail(9, 4, 1)}; got[0] != 0 ||
		got[1] != 0 || got[2] != 0 || got[3] != 1 || got[4] != 1 || got[5] != 0 {
		t.Errorf("x = 4 of 9 at p = 0 and 1: %v", got)
	}
	// A tail of 1 less too little for a float64 is 1, and its logarithm +0.
	if got := LogUpperTail(2000, 1, 0.999); got != 0 || math.Signbit(got) {
		t.Errorf("LogUpperTail(2000, 1, 0.999) = %v, want 0", got)
	}
}

// A p too small for 1 - p to show it: ln (1-p)^n = -n (p + p²/2 + …).
func TestLogTailOfRareHits(t *testing.T) {
	if got, want := LogLowerTail(10, 0, 1e-12), -1.0000000000005e-11; !agrees(got, want, 1e-15) {
		t.Errorf("LogLowerTail(10, 0, 1e-12) = %.17g, want %.17g", got, want)
	}
}

// The table and the series, where they meet. Source: exact factorials, Python
// 3.11 decimal with 60 digits.
func TestStirlingError(t *testing.T) {
	for n, want := range map[int]float64{
		1:  0.0810614667953272582196,
		15: 0.0055547335519628013710,
		16: 0.0052076559196096404406,
	} {
		if got := stirlingError(n); !agrees(got, want, 1e-15) {
			t.Errorf("stirlingError(%d) = %.17g, want %.17g", n, got, want)
		}
	}
}

func TestImpossibleCountsPanic(t *testing.T) {
	functions := map[string]func(n, x int, p float64) float64{
		"PMF": PMF, "LogPMF": LogPMF, "UpperTail": UpperTail, "LogUpperTail": LogUpperTail,
		"LowerTail": LowerTail, "LogLowerTail": LogLowerTail,
	}
	bad := []struct {
		n, x int
		p    float64
	}{{0, 0, 0.5}, {-1, 0, 0.5}, {5, -1, 0.5}, {5, 6, 0.5}, {5, 2, -0.1}, {5, 2, 1.1}, {5, 2, math.NaN()}}
	for name, f := range functions {
		for _, b := range bad {
			if !panics(func() { f(b.n, b.x, b.p) }) {
				t.Errorf("%s(%d, %d, %v) did not panic", name, b.n, b.x, b.p)
			}
		}
	}
}

func FuzzTails(f *testing.F) {
	f.Add(uint16(50), uint16(25), 1.0/3)
	f.Add(uint16(1), uint16(0), 0.0)
	f.Add(uint16(10000), uint16(9999), 0.1)
	f.Add(uint16(300), uint16(299), 1-1e-16)
	f.Add(uint16(7), uint16(3), 2.3e-308)
	f.Fuzz(func(t *testing.T, size, correct uint16, p float64) {
		n := 1 + int(size)%10000
		x := int(correct) % (n + 1)
		if !(p >= 0 && p <= 1) || (p > 0 && p < 2.3e-308) {
			t.Skip("p outside the domain")
		}
		pmf, upper, lower := PMF(n, x, p), UpperTail(n, x, p), LowerTail(n, x, p)
		for _, v := range []float64{pmf, upper, lower} {
			if !(v >= 0 && v <= 1) {
				t.Fatalf("n %d x %d p %v: pmf %v upper %v lower %v", n, x, p, pmf, upper, lower)
			}
		}
		if math.Abs(upper+lower-pmf-1) > 1e-12 {
			t.Errorf("n %d x %d p %v: upper + lower - pmf = %.17g", n, x, p, upper+lower-pmf)
		}
		if x > 0 && math.Abs(upper+LowerTail(n, x-1, p)-1) > 1e-12 {
			t.Errorf("n %d x %d p %v: the tails do not complement each other", n, x, p)
		}
		if x < n && UpperTail(n, x+1, p) > upper*(1+1e-12) {
			t.Errorf("n %d x %d p %v: the upper tail rises with x", n, x, p)
		}
		if p >= 0.5 { // then 1 - p is exact
			if mirrored := LowerTail(n, n-x, 1-p); upper > 1e-300 && !agrees(upper, mirrored, 4e-12) {
				t.Errorf("n %d x %d p %v: upper %.17g, mirrored lower %.17g", n, x, p, upper, mirrored)
			}
		}
		if u := LogUpperTail(n, x, p); upper > 1e-300 && !agrees(math.Exp(u), upper, 1e-12) {
			t.Errorf("n %d x %d p %v: exp(log upper) %.17g, upper %.17g", n, x, p, math.Exp(u), upper)
		}
		if l := LogLowerTail(n, x, p); lower > 1e-300 && !agrees(math.Exp(l), lower, 1e-12) {
			t.Errorf("n %d x %d p %v: exp(log lower) %.17g, lower %.17g", n, x, p, math.Exp(l), lower)
		}
	})
}

func BenchmarkUpperTail(b *testing.B) {
	for b.Loop() {
		UpperTail(60, 27, 1.0/3)
	}
}

func BenchmarkUpperTailOfTenThousand(b *testing.B) {
	for b.Loop() {
		UpperTail(10000, 3400, 1.0/3)
	}
}
