package stats

import (
	"fmt"
	"math"
	"math/big"
	"testing"
)

// R 4.2.2: README.md of the reference folder has the lines that made the file.
func TestSimilarBothWaysAgainstReference(t *testing.T) {
	similar, empty := 0, 0
	eachRecord(t, "d4_similarity_both_ways.csv", 540, func(r record) bool {
		n, x, beta, pd := r.int("n"), r.int("x"), r.float("beta"), r.float("pd")
		got := SimilarBothWays(n, x, beta, pd)
		if got.N != n || got.X != x || got.Beta != beta || got.Pd != pd {
			t.Errorf("%s:%d: terms of %+v", r.file, r.line, got)
		}
		r.near("p_upper", got.PUpper, 1e-12)
		r.near("p_lower", got.PLower, 1e-12)
		if got.PValue != max(got.PUpper, got.PLower) {
			t.Errorf("%s:%d: p-value %v of %v and %v", r.file, r.line, got.PValue, got.PUpper, got.PLower)
		}
		interval := got.Estimate.PdInterval
		for column, limit := range map[string]float64{"pc_lower": interval.Lower, "pc_upper": interval.Upper} {
			if want := 2*r.float(column) - 1; math.Abs(limit-want) > 1e-12 {
				t.Errorf("%s:%d: %s of pd = %.17g, want %.17g", r.file, r.line, column, limit, want)
			}
		}
		if interval.Confidence != 1-2*beta {
			t.Errorf("%s:%d: confidence %v", r.file, r.line, interval.Confidence)
		}
		if got.Conclusive == r.empty("highest") {
			t.Errorf("%s:%d: conclusive is %v", r.file, r.line, got.Conclusive)
			return true
		}
		power := SimilarityPowerBothWays(n, beta, pd, r.float("p"))
		if !got.Conclusive {
			empty++
			if got.Similar || got.Lowest != 0 || got.Highest != 0 || got.Power != 0 || power != 0 {
				t.Errorf("%s:%d: %+v without a conclusion", r.file, r.line, got)
			}
			return true
		}
		if got.Lowest != r.int("lowest") || got.Highest != r.int("highest") {
			t.Errorf("%s:%d: similar from %d to %d, want %s to %s", r.file, r.line, got.Lowest, got.Highest, r.text("lowest"), r.text("highest"))
		}
		if want := r.int("lowest") <= x && x <= r.int("highest"); got.Similar != want {
			t.Errorf("%s:%d: similar is %v", r.file, r.line, got.Similar)
		} else if want {
			similar++
		}
		r.near("power_identical", got.Power, 1e-12)
		r.near("power_at_p", power, 1e-12)
		panel := SimilarityPanelBothWays(n, beta, PcFromPd(pd, 0.5))
		r.near("actual_beta", panel.ActualBeta, 1e-12)
		if panel.MaxCorrect != got.Highest || panel.Power != got.Power || math.Abs(panel.Power+panel.ActualAlpha-1) > 1e-14 {
			t.Errorf("%s:%d: panel %+v beside %+v", r.file, r.line, panel, got)
		}
		return true
	})
	if similar < 100 || empty < 100 {
		t.Errorf("%d rows similar, %d without a conclusion: too few of one kind", similar, empty)
	}
}

func TestAssessorsSimilarBothWaysAgainstReference(t *testing.T) {
	eachRecord(t, "d5_similarity_both_ways_sizes.csv", 80, func(r record) bool {
		alpha, beta, pc := r.float("alpha"), r.float("beta"), PcFromPd(r.float("pd"), 0.5)
		s := AssessorsSimilarBothWays(alpha, beta, pc)
		if !s.Found || s.Goal != GoalSimilarity || s.Sided != TwoSided || s.Chance != 0.5 || s.Alpha != alpha || s.Beta != beta || s.Pc != pc {
			t.Errorf("%s:%d: terms of %+v", r.file, r.line, s)
		}
		for suffix, p := range map[string]Panel{"first": s.Assessors, "stable": s.Stable} {
			if p.N != r.int("n_"+suffix) || p.MaxCorrect != r.int("highest_"+suffix) {
				t.Errorf("%s:%d: %s = %+v, want n %s", r.file, r.line, suffix, p, r.text("n_"+suffix))
			}
			r.near("power_"+suffix, p.Power, 1e-12)
			if p.ActualAlpha > alpha || p.ActualBeta > beta {
				t.Errorf("%s:%d: risks of %+v", r.file, r.line, p)
			}
		}
		r.near("actual_beta_first", s.Assessors.ActualBeta, 1e-12)
		failing := 0
		for n := s.Assessors.N; n <= s.ProvenFrom; n++ {
			if p := SimilarityPanelBothWays(n, beta, pc); !p.Conclusive || p.ActualAlpha > alpha {
				failing++
			}
		}
		if failing != r.int("n_failing_after_n_first") || s.ProvenFrom > r.int("scanned_to_n") {
			t.Errorf("%s:%d: %d sizes fail up to %d, want %s", r.file, r.line, failing, s.ProvenFrom, r.text("n_failing_after_n_first"))
		}
		if s.Assessors.N < 30 {
			warned(t, "few", s.Warnings, FewForSimilarity)
		} else {
			warned(t, "enough", s.Warnings)
		}
		return true
	})
}

// Whole numbers, every panel up to 200 and every count: the range, both
// p-values, the power of identical products and the actual beta.
func TestSimilarBothWaysAgainstExact(t *testing.T) {
	checked := 0
	for _, l := range similarityLimits {
		if l.of != 2 {
			continue
		}
		for n := 1; n <= exactSizes; n++ {
			limit, even := newExactBinomial(n, l.num, l.den), exactBinomials()[key{n, 1, 2}]
			for _, level := range []string{"0.2", "0.1", "0.05", "0.01", "0.001"} {
				exactBeta, _ := new(big.Rat).SetString(level)
				beta, _ := exactBeta.Float64()
				// Both tests, each count: P(X ≤ x | h) ≤ beta and P(X ≤ n-x | h) ≤ beta.
				rejects := make([]bool, n+1)
				for x := range rejects {
					rejects[x] = limit.atMost(limit.lower(x), exactBeta)
				}
				lowest, highest := -1, -1
				for x := 0; x <= n; x++ {
					if rejects[x] && rejects[n-x] {
						if lowest < 0 {
							lowest = x
						}
						highest = x
					}
				}
				lo, hi, ok := SimilarityRange(n, beta, l.pd)
				if ok != (lowest >= 0) || ok && (lo != lowest || hi != highest) {
					t.Errorf("SimilarityRange(%d, %v, %v) = %d, %d, %v, want %d, %d", n, beta, l.pd, lo, hi, ok, lowest, highest)
					continue
				}
				checked++
				if !ok {
					continue
				}
				power, actual := even.between(lowest, highest), limit.between(lowest, highest)
				p := SimilarityPanelBothWays(n, beta, PcFromPd(l.pd, 0.5))
				if !agrees(p.Power, power, 1e-12) || !agrees(p.ActualBeta, actual, 1e-12) || math.Abs(p.ActualAlpha+power-1) > 1e-14 {
					t.Errorf("n %d, beta %v, pd %v: %+v, want power %.17g, actual beta %.17g", n, beta, l.pd, p, power, actual)
				}
			}
			for x := 0; x <= n; x += 1 + n/20 {
				got := SimilarBothWays(n, x, 0.05, l.pd)
				if !agrees(got.PUpper, limit.lowerTail(x), 1e-12) || !agrees(got.PLower, limit.lowerTail(n-x), 1e-12) {
					t.Errorf("%d of %d within %v: %v and %v", x, n, l.pd, got.PUpper, got.PLower)
				}
			}
		}
	}
	if checked != 3*200*5 {
		t.Errorf("checked %d panels", checked)
	}
}

// The decision, the p-value and the interval at 1 - 2·beta say the same of
// every count, whichever product is counted.
func TestSimilarBothWaysAgreesWithTheInterval(t *testing.T) {
	for _, n := range []int{1, 2, 3, 8, 29, 30, 75} {
		for _, beta := range []float64{0.001, 0.05, 0.2, 0.45} {
			for _, pd := range []float64{0, 0.07, 0.2, 0.31, 0.6, 0.999, 1} {
				for x := 0; x <= n; x++ {
					got, other := SimilarBothWays(n, x, beta, pd), SimilarBothWays(n, n-x, beta, pd)
					interval := got.Estimate.PdInterval
					if within := -pd < interval.Lower && interval.Upper < pd; got.Similar != within {
						t.Errorf("%d of %d, beta %v: similar within %v is %v, interval %v", x, n, beta, pd, got.Similar, interval)
					}
					if got.Similar != (got.PValue <= beta) {
						t.Errorf("%d of %d, beta %v: similar within %v is %v, p-value %v", x, n, beta, pd, got.Similar, got.PValue)
					}
					if other.Similar != got.Similar || other.PUpper != got.PLower || other.PValue != got.PValue {
						t.Errorf("%d of %d and the other way round: %+v and %+v", x, n, got, other)
					}
				}
			}
		}
	}
}

// The p-value is valid wherever the products differ by the limit or more:
// P(p ≤ b) ≤ b for every b. With that the risk of calling them alike is at most
// beta, at the limits themselves and beyond.
func TestSimilarBothWaysIsValid(t *testing.T) {
	for _, n := range []int{1, 2, 7, 20, 31, 60, 120} {
		for _, pd := range []float64{0, 0.1, 0.3, 0.5, 1} {
			var values []float64
			for x := 0; x <= n; x++ {
				values = append(values, SimilarBothWays(n, x, 0.05, pd).PValue)
			}
			for _, truth := range []float64{-1, -(1 + pd) / 2, -pd, pd, (1 + pd) / 2, 1} {
				pc := PcFromPd(truth, 0.5)
				var outcomes []nullP
				for x, p := range values {
					outcomes = append(outcomes, nullP{p, PMF(n, x, pc)})
				}
				checkValid(t, fmt.Sprintf("n %d, limit %v, pd %v", n, pd, truth), outcomes)
				for _, beta := range []float64{0.01, 0.05, 0.2, 0.49} {
					if wrong := SimilarityPowerBothWays(n, beta, pd, pc); wrong > beta*(1+1e-12) {
						t.Errorf("n %d, beta %v, limit %v: alike with probability %v at pd %v", n, beta, pd, wrong, truth)
					}
				}
			}
		}
	}
}

// Highest for identical products, the same in both directions, falling from
// there outwards.
func TestSimilarityPowerBothWaysShape(t *testing.T) {
	for _, n := range []int{30, 31, 100, 1001} {
		for _, beta := range []float64{0.01, 0.05, 0.3} {
			const pd = 0.4
			before := 1.0
			for i := 0; i <= 64; i++ {
				pc := 0.5 + float64(i)/128
				got := SimilarityPowerBothWays(n, beta, pd, pc)
				if got > before*(1+1e-13) || got < 0 {
					t.Errorf("n %d, beta %v: power goes from %v to %v at %v", n, beta, before, got, pc)
				}
				if back := SimilarityPowerBothWays(n, beta, pd, 1-pc); back != got {
					t.Errorf("n %d, beta %v: power %v at %v, %v at %v", n, beta, got, pc, back, 1-pc)
				}
				lowest, highest, _ := SimilarityRange(n, beta, pd)
				var sum float64
				for x := lowest; x <= highest && highest > 0; x++ {
					sum += PMF(n, x, pc)
				}
				if !agrees(got, sum, 1e-11) && got > 1e-300 {
					t.Errorf("n %d, beta %v, pc %v: power %v, the counts add up to %v", n, beta, pc, got, sum)
				}
				before = got
			}
		}
	}
}

// Every size tried, by the definition.
func TestSimilarSizesBothWaysByTrying(t *testing.T) {
	for _, c := range []struct{ alpha, beta, pd float64 }{
		{0.2, 0.05, 0.35}, {0.05, 0.2, 0.3}, {0.9, 0.3, 0.2}, {0.99, 0.45, 0.15}, {0.01, 0.01, 0.8}, {0.3, 0.1, 0.97},
	} {
		pc := PcFromPd(c.pd, 0.5)
		s := AssessorsSimilarBothWays(c.alpha, c.beta, pc)
		first, stable := 0, 3
		for n := 3; n <= 2*s.ProvenFrom+20; n++ {
			if SimilarityPowerBothWays(n, c.beta, c.pd, 0.5) >= (1-c.alpha)*(1-1e-12) {
				if first == 0 {
					first = n
				}
			} else {
				stable = n + 1
			}
		}
		if s.Assessors.N != first || s.Stable.N != stable {
			t.Errorf("%+v: %d, %d, want %d, %d", c, s.Assessors.N, s.Stable.N, first, stable)
		}
		// Planned one way at the same alpha the panel is too small both ways.
		if one := AssessorsSimilar(0.5, c.alpha, c.beta, pc); one.Assessors.N > s.Assessors.N {
			t.Errorf("%+v: %d one way, %d both ways", c, one.Assessors.N, s.Assessors.N)
		}
	}
}

// At the promised limit the panel keeps both risks; just below it does not.
func TestSimilarWithinBothWaysIsTheSmallestLimit(t *testing.T) {
	for _, n := range []int{12, 30, 61, 200, 2000} {
		for _, alpha := range []float64{0.05, 0.2, 0.8} {
			const beta = 0.05
			pd, ok := SimilarWithinBothWays(n, alpha, beta)
			at := SimilarityPanelBothWays(n, beta, PcFromPd(pd*(1+1e-9), 0.5))
			if !ok || !at.Conclusive || at.ActualAlpha > alpha {
				t.Errorf("SimilarWithinBothWays(%d, %v, %v) = %v, %v: %+v", n, alpha, beta, pd, ok, at)
			}
			if p := SimilarityPanelBothWays(n, beta, PcFromPd(pd*(1-1e-9), 0.5)); p.Conclusive && p.ActualAlpha <= alpha {
				t.Errorf("SimilarWithinBothWays(%d, %v, %v) = %v, but below it %+v", n, alpha, beta, pd, p)
			}
		}
	}
	if pd, ok := SimilarWithinBothWays(3, 0.1, 0.05); ok || pd != 1 {
		t.Errorf("three answers promise %v, %v", pd, ok)
	}
}

func TestSimilarBothWaysAtTheEdges(t *testing.T) {
	tests := []struct {
		n               int
		beta, pd        float64
		lowest, highest int
		ok              bool
	}{
		{1, 0.05, 1, 0, 0, false},                  // one answer is never an even split
		{2, 0.05, 1, 1, 1, true},                   // 1 of 2: neither is always picked
		{9, 0.05, 1, 1, 8, true},                   // all but all of them
		{30, 0.05, 0, 0, 0, false},                 // within nothing
		{2, 0.4375, 0.5, 1, 1, true},               // tie: P(at most 1 of 2 | 3/4) is 7/16
		{2, 0.4375 * (1 - 1e-9), 0.5, 0, 0, false}, // just below it
	}
	for _, tt := range tests {
		lo, hi, ok := SimilarityRange(tt.n, tt.beta, tt.pd)
		if lo != tt.lowest || hi != tt.highest || ok != tt.ok {
			t.Errorf("SimilarityRange(%d, %v, %v) = %d, %d, %v, want %d, %d, %v", tt.n, tt.beta, tt.pd, lo, hi, ok, tt.lowest, tt.highest, tt.ok)
		}
	}
	// 60 of 100: R 4.2.2, binom.test(60, 100)$p.value is 0.05689 and at 450 of
	// 800 0.00046. The first is neither, the second both.
	if s, p := SimilarBothWays(100, 60, 0.05, 0.3), TwoSidedP(100, 60); s.Similar || p <= 0.05 {
		t.Errorf("60 of 100: similar %v, p %v", s.Similar, p)
	}
	if s, p := SimilarBothWays(800, 450, 0.05, 0.3), TwoSidedP(800, 450); !s.Similar || p > 0.05 {
		t.Errorf("450 of 800: similar %v, p %v", s.Similar, p)
	}
	// Within a limit of 1 everything is alike but a unanimous panel.
	s := AssessorsSimilarBothWays(0.05, 0.05, 1)
	if !s.Found || s.Assessors.N != 6 || s.Stable.N != 6 || s.Assessors.MaxCorrect != 5 || s.Assessors.ActualBeta != 0 {
		t.Errorf("limit 1: %+v, want 6: 2/64 of identical panels are unanimous", s)
	}
	// With every risk allowed a panel still needs a count that decides.
	s = AssessorsSimilarBothWays(math.Nextafter(1, 0), 0.3, 0.7)
	for n := 3; n <= s.Stable.N; n++ {
		p := SimilarityPanelBothWays(n, 0.3, 0.7)
		if p.Conclusive && n < s.Assessors.N || !p.Conclusive && (n == s.Assessors.N || n == s.Stable.N) {
			t.Errorf("alpha next to 1: %d and %d, but at %d %+v", s.Assessors.N, s.Stable.N, n, p)
		}
	}
	for name, s := range map[string]Sizes{
		"limit at 1/2":    AssessorsSimilarBothWays(0.05, 0.05, 0.5),
		"limit below 1/2": AssessorsSimilarBothWays(0.05, 0.05, 0.2),
	} {
		if s.Found {
			t.Errorf("%s: %+v", name, s)
		}
		warned(t, name, s.Warnings, NothingToPlan)
	}
	warned(t, "too close", AssessorsSimilarBothWays(0.05, 0.05, math.Nextafter(0.5, 1)).Warnings, TooLargeToPlan)
}

func TestAdviceForSimilarityBothWays(t *testing.T) {
	tests := []struct {
		name     string
		n        int
		beta, pd float64
		want     []WarningKind
	}{
		{"few", 29, 0.05, 0.8, []WarningKind{FewForSimilarity}},
		{"enough", 100, 0.05, 0.4, nil},
		{"no conclusion", 30, 0.05, 0.2, []WarningKind{NoConclusion}},
		{"one", 1, 0.05, 0.3, []WarningKind{FewForSimilarity, NoConclusion}},
		{"hard to pass", 50, 0.05, 0.3, []WarningKind{IdenticalOftenFail}},
	}
	for _, tt := range tests {
		warned(t, tt.name, AdviceForSimilarityBothWays(tt.n, tt.beta, tt.pd), tt.want...)
		warned(t, tt.name, SimilarBothWays(tt.n, tt.n/2, tt.beta, tt.pd).Warnings, tt.want...)
	}
	got := AdviceForSimilarityBothWays(30, 0.05, 0.2)
	if want := "No result of 30 answers shows similarity both ways within this limit, not even an even split."; len(got) != 1 || got[0].Say != want {
		t.Errorf("%v, want %q", got, want)
	}
}

func TestSimilarBothWaysPanics(t *testing.T) {
	bad := map[string]func(){
		"n 0":         func() { SimilarBothWays(0, 0, 0.05, 0.3) },
		"x above n":   func() { SimilarBothWays(5, 6, 0.05, 0.3) },
		"beta 1/2":    func() { SimilarityRange(5, 0.5, 0.3) },
		"beta above":  func() { SimilarBothWays(5, 2, 0.6, 0.3) },
		"beta 0":      func() { SimilarityRange(5, 0, 0.3) },
		"beta NaN":    func() { AssessorsSimilarBothWays(0.05, math.NaN(), 0.7) },
		"pd negative": func() { SimilarityRange(5, 0.05, -0.1) },
		"pd NaN":      func() { AdviceForSimilarityBothWays(5, 0.05, math.NaN()) },
		"pc above 1":  func() { SimilarityPowerBothWays(5, 0.05, 0.3, 1.1) },
		"pc NaN":      func() { SimilarityPanelBothWays(5, 0.05, math.NaN()) },
		"alpha 1":     func() { AssessorsSimilarBothWays(1, 0.05, 0.7) },
		"alpha 0":     func() { SimilarWithinBothWays(5, 0, 0.05) },
		"n negative":  func() { SimilarWithinBothWays(-5, 0.1, 0.05) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkSimilarBothWays(b *testing.B) {
	for b.Loop() {
		SimilarBothWays(100, 52, 0.05, 0.3)
	}
}

func BenchmarkAssessorsSimilarBothWaysHardest(b *testing.B) {
	for b.Loop() {
		AssessorsSimilarBothWays(0.001, 0.001, PcFromPd(0.1, 0.5))
	}
}

// A table of 3 alphas, 3 betas and 4 limits.
func BenchmarkAssessorsSimilarBothWaysTable(b *testing.B) {
	for b.Loop() {
		for _, alpha := range []float64{0.2, 0.1, 0.05} {
			for _, beta := range []float64{0.1, 0.05, 0.01} {
				for _, pd := range []float64{0.2, 0.3, 0.4, 0.5} {
					AssessorsSimilarBothWays(alpha, beta, PcFromPd(pd, 0.5))
				}
			}
		}
	}
}
