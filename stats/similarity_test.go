package stats

import (
	"math"
	"math/big"
	"testing"
)

func TestMaxCorrectAgainstReference(t *testing.T) {
	inconclusive := 0
	eachRecord(t, "d_similarity_max_correct.csv", 800, func(r record) bool {
		n, chance, beta, pd := r.int("n"), r.fraction("p0"), r.float("beta"), r.float("pd")
		pc := PcFromPd(pd, chance)
		x, ok := MaxCorrect(n, chance, beta, pd)
		if want := r.int("max_correct"); x != want {
			t.Errorf("%s:%d: MaxCorrect(%d, %v, %v, %v) = %d, want %d", r.file, r.line, n, chance, beta, pd, x, want)
			return true
		}
		if below := r.text("max_below_chance_expectation") == "true"; ok == below {
			t.Errorf("%s:%d: MaxCorrect(%d, %v, %v, %v): ok = %v", r.file, r.line, n, chance, beta, pd, ok)
		}
		r.near("P_X_le_max_given_pd", SimilarityP(n, x, chance, pd), 1e-13)
		r.near("P_X_le_max_plus_1_given_pd", SimilarityP(n, x+1, chance, pd), 1e-13)
		r.near("P_X_gt_max_given_identical", UpperTail(n, x+1, chance), 1e-13)
		if !ok {
			inconclusive++
			if got := SimilarityPower(n, chance, beta, pd, chance); got != 0 {
				t.Errorf("%s:%d: passes with probability %v without a conclusion", r.file, r.line, got)
			}
			return true
		}
		r.near("P_X_le_max_given_pd", SimilarityPower(n, chance, beta, pd, pc), 1e-13)
		r.near("P_X_gt_max_given_identical", SimilarityPanel(n, chance, beta, pc).ActualAlpha, 1e-13)
		return true
	})
	if inconclusive == 0 || inconclusive == 800 {
		t.Errorf("%d rows without a conclusion: one side was not tested", inconclusive)
	}
}

// The similarity columns of the file that power_test.go reads.
func TestSimilarityPanelAgainstReference(t *testing.T) {
	eachRecord(t, "d3_power.csv", 144, func(r record) bool {
		n, chance, beta, pd := r.int("n"), r.fraction("p0"), r.float("alpha_or_beta"), r.float("pd")
		x, ok := MaxCorrect(n, chance, beta, pd)
		if want := r.int("sim_max_correct"); x != want {
			t.Errorf("%s:%d: MaxCorrect = %d, want %d", r.file, r.line, x, want)
		}
		p := SimilarityPanel(n, chance, beta, PcFromPd(pd, chance))
		if p.Conclusive != ok || p.MaxCorrect != x || p.N != n {
			t.Errorf("%s:%d: panel %+v beside MaxCorrect %d, %v", r.file, r.line, p, x, ok)
		}
		if !ok {
			if p.Power != 0 || p.ActualBeta != 0 || p.ActualAlpha != 1 {
				t.Errorf("%s:%d: panel %+v without a conclusion", r.file, r.line, p)
			}
			return true
		}
		r.near("sim_actual_beta", p.ActualBeta, 1e-13)
		r.near("sim_power_if_identical", p.Power, 1e-13)
		return true
	})
}

// similarityLimits are proportions of discriminators with their pc as a
// fraction: pd 1/2, 3/10 and 1/10 for each of the guesses.
var similarityLimits = []struct {
	guessed, of int64 // chance
	pd          float64
	num, den    int64 // pc
}{
	{1, 3, 0.5, 2, 3}, {1, 3, 0.3, 8, 15}, {1, 3, 0.1, 2, 5},
	{1, 2, 0.5, 3, 4}, {1, 2, 0.3, 13, 20}, {1, 2, 0.1, 11, 20},
	{1, 10, 0.5, 11, 20}, {1, 10, 0.3, 37, 100}, {1, 10, 0.1, 19, 100},
}

// Whole numbers, trying every count of every panel up to 200.
func TestMaxCorrectAgainstExact(t *testing.T) {
	checked := 0
	for _, l := range similarityLimits {
		chance := float64(l.guessed) / float64(l.of)
		for n := 1; n <= exactSizes; n++ {
			exact := newExactBinomial(n, l.num, l.den)
			for _, level := range []string{"0.2", "0.1", "0.05", "0.01", "0.001"} {
				exactBeta, _ := new(big.Rat).SetString(level)
				beta, _ := exactBeta.Float64()
				want := exact.maxCorrect(exactBeta)
				x, ok := MaxCorrect(n, chance, beta, l.pd)
				if x != want || ok != (want >= 0 && int64(want)*l.of >= int64(n)*l.guessed) {
					t.Errorf("MaxCorrect(%d, %v, %v, %v) = %d, %v, want %d", n, chance, beta, l.pd, x, ok, want)
				}
				checked++
			}
			for x := 0; x <= n; x++ {
				tail := exact.lowerTail(x)
				if got := SimilarityP(n, x, chance, l.pd); !agrees(got, tail, 1e-12) {
					t.Errorf("SimilarityP(%d, %d, %v, %v) = %.17g, want %.17g", n, x, chance, l.pd, got, tail)
				}
				// A tail that equals beta reaches it.
				if tail > 0.999 || n > 60 {
					continue
				}
				if got, _ := MaxCorrect(n, chance, tail, l.pd); got != x {
					t.Errorf("MaxCorrect(%d, %v, %v, %v) = %d, want the tie %d", n, chance, tail, l.pd, got, x)
				}
			}
		}
	}
	if checked != 9*200*5 {
		t.Errorf("checked %d panels", checked)
	}
}

func TestMaxCorrectAtTheEdges(t *testing.T) {
	tests := []struct {
		n                int
		chance, beta, pd float64
		x                int
		ok               bool
	}{
		{12, 1.0 / 3, 0.2, 0.3, 4, true},    // 4 is what guessing gives: a conclusion
		{12, 1.0 / 3, 0.1, 0.3, 3, false},   // 3 is below it
		{1, 1.0 / 2, 0.25, 0.5, 0, false},   // tie: P(0 of 1 | 3/4) is 1/4
		{2, 1.0 / 2, 0.0625, 0.5, 0, false}, // tie: 1/16
		{5, 1.0 / 3, 0.001, 0.1, -1, false}, // (3/5)^5 is more
		{10, 1.0 / 3, 0.05, 1, 9, true},     // everybody perceives: one miss is enough
		{10, 1.0 / 3, 1, 0.1, 10, true},     // no risk is too much
		{10, 1.0 / 3, 0, 0.5, -1, false},    // and none too little
		{100, 0.07, 0.15, 0.05, 7, true},    // the float64 product 100·0.07 exceeds 7
		{5, 0, 0.6, 0.1, 0, true},           // where nobody guesses right 0 is not below chance
		{30, 1.0 / 3, 0.05, 0, 5, false},    // limit 0: nothing is below it
	}
	for _, tt := range tests {
		x, ok := MaxCorrect(tt.n, tt.chance, tt.beta, tt.pd)
		if x != tt.x || ok != tt.ok {
			t.Errorf("MaxCorrect(%d, %v, %v, %v) = %d, %v, want %d, %v", tt.n, tt.chance, tt.beta, tt.pd, x, ok, tt.x, tt.ok)
		}
	}
}

// The decision equals the one by the exact one-sided upper limit of pd.
func TestMaxCorrectAgreesWithTheUpperLimit(t *testing.T) {
	for _, chance := range []float64{1.0 / 3, 1.0 / 2} {
		for _, n := range []int{3, 18, 30, 61, 100} {
			for _, beta := range []float64{0.01, 0.05, 0.2} {
				for x := 0; x < n; x++ {
					limit := PdLimits(x, n, chance, 1-beta, ClopperPearsonLimits, OneSided).Upper
					if limit == 0 { // cut
						continue
					}
					if got, _ := MaxCorrect(n, chance, beta, min(1, limit*(1+1e-9))); got != x {
						t.Errorf("n %d, beta %v: MaxCorrect at the limit of %d = %d", n, beta, x, got)
					}
					if got, _ := MaxCorrect(n, chance, beta, limit*(1-1e-9)); got != x-1 {
						t.Errorf("n %d, beta %v: MaxCorrect below the limit of %d = %d", n, beta, x, got)
					}
				}
			}
		}
	}
}

// P(p ≤ b) ≤ b for every pc at or above the limit.
func TestSimilarityPIsValid(t *testing.T) {
	for _, chance := range []float64{1.0 / 3, 1.0 / 2} {
		for n := 1; n <= 40; n++ {
			for _, pd := range []float64{0.1, 0.3, 0.5} {
				for _, truth := range []float64{pd, (1 + pd) / 2, 0.99} {
					pc := PcFromPd(truth, chance)
					for _, beta := range []float64{0.001, 0.01, 0.05, 0.1, 0.2, 0.5, 0.9} {
						var reached float64
						for x := 0; x <= n; x++ {
							if SimilarityP(n, x, chance, pd) <= beta {
								reached += PMF(n, x, pc)
							}
						}
						if reached > beta*(1+1e-12) {
							t.Errorf("n %d, chance %v, pd %v of %v: P(p ≤ %v) = %v", n, chance, pd, truth, beta, reached)
						}
					}
				}
			}
		}
	}
}

func TestSimilarWithinAgainstR(t *testing.T) {
	// R 4.2.2, digits = 17: k <- max(qbinom(1-alpha, n, p0), ceiling(n*p0));
	// pd from qbeta(1-beta, k+1, n-k).
	tests := []struct {
		n                   int
		chance, alpha, beta float64
		want                float64
	}{
		{60, 1.0 / 3, 0.1, 0.05, 0.29652242847130822},
		{30, 1.0 / 3, 0.2, 0.05, 0.3490821081798165},
		{100, 1.0 / 2, 0.1, 0.1, 0.25440197243585638},
		{36, 1.0 / 3, 0.9, 0.05, 0.22512257397846974}, // the maximum may not be below n/3
	}
	for _, tt := range tests {
		got, ok := SimilarWithin(tt.n, tt.chance, tt.alpha, tt.beta)
		if !ok || !agrees(got, tt.want, 1e-13) {
			t.Errorf("SimilarWithin(%d, %v, %v, %v) = %.17g, %v, want %.17g", tt.n, tt.chance, tt.alpha, tt.beta, got, ok, tt.want)
		}
	}
}

// At the limit found the panel keeps both risks; just below it does not.
func TestSimilarWithinIsTheSmallestLimit(t *testing.T) {
	for _, chance := range []float64{1.0 / 3, 1.0 / 2} {
		for _, n := range []int{4, 12, 30, 60, 200, 2000} {
			for _, alpha := range []float64{0.05, 0.2, 0.8} {
				const beta = 0.05
				pd, ok := SimilarWithin(n, chance, alpha, beta)
				if !ok {
					if p := SimilarityPanel(n, chance, beta, PcFromPd(0.999999, chance)); p.Conclusive && p.ActualAlpha <= alpha {
						t.Errorf("SimilarWithin(%d, %v, %v, %v) finds nothing where %+v is", n, chance, alpha, beta, p)
					}
					continue
				}
				at := SimilarityPanel(n, chance, beta, PcFromPd(pd*(1+1e-9), chance))
				if !at.Conclusive || at.ActualAlpha > alpha || at.ActualBeta > beta {
					t.Errorf("SimilarWithin(%d, %v, %v, %v) = %v: %+v", n, chance, alpha, beta, pd, at)
				}
				if p := SimilarityPanel(n, chance, beta, PcFromPd(pd*(1-1e-9), chance)); p.Conclusive && p.ActualAlpha <= alpha {
					t.Errorf("SimilarWithin(%d, %v, %v, %v) = %v, but below it %+v", n, chance, alpha, beta, pd, p)
				}
			}
		}
	}
	if pd, ok := SimilarWithin(2, 1.0/3, 0.05, 0.05); ok || pd != 1 {
		t.Errorf("two triangles promise %v, %v", pd, ok)
	}
}

func TestSimilarityPanics(t *testing.T) {
	bad := map[string]func(){
		"n 0":         func() { MaxCorrect(0, 0.5, 0.05, 0.3) },
		"chance 1":    func() { MaxCorrect(5, 1, 0.05, 0.3) },
		"beta":        func() { MaxCorrect(5, 0.5, 1.05, 0.3) },
		"pd negative": func() { MaxCorrect(5, 0.5, 0.05, -0.1) },
		"pd NaN":      func() { SimilarityP(5, 2, 0.5, math.NaN()) },
		"x above n":   func() { SimilarityP(5, 6, 0.5, 0.3) },
		"pc":          func() { SimilarityPower(5, 0.5, 0.05, 0.3, 1.2) },
		"alpha 0":     func() { SimilarWithin(5, 0.5, 0, 0.05) },
		"beta 1":      func() { SimilarWithin(5, 0.5, 0.05, 1) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkMaxCorrect(b *testing.B) {
	for b.Loop() {
		MaxCorrect(60, 1.0/3, 0.05, 0.3)
	}
}

func BenchmarkSimilarWithin(b *testing.B) {
	for b.Loop() {
		SimilarWithin(60, 1.0/3, 0.1, 0.05)
	}
}
