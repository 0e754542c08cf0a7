package stats

import (
	"math"
	"testing"
)

// replicates reads a data set of g_data.csv.
func replicates(t *testing.T, dataset string) []Replicates {
	t.Helper()
	var list []Replicates
	eachRecord(t, "g_data.csv", 119, func(r record) bool {
		if r.text("dataset") == dataset {
			for range r.int("weight") {
				list = append(list, Replicates{N: r.int("n"), Correct: r.int("x")})
			}
		}
		return true
	})
	if len(list) == 0 {
		t.Fatalf("g_data.csv: no data set %q", dataset)
	}
	return list
}

// modelChance reads column C, empty for the plain model.
func (r record) modelChance() float64 {
	r.t.Helper()
	if r.empty("C") {
		return 0
	}
	return r.fraction("C")
}

func TestBetaBinomialLogLikelihoodAgainstReference(t *testing.T) {
	eachRecord(t, "g2_loglik_points.csv", 12, func(r record) bool {
		b := BetaBinomial{r.modelChance(), r.float("mu"), r.float("gamma")}
		data := replicates(t, r.text("dataset"))
		got := b.LogLikelihood(data)
		r.near("loglik", got, 1e-14)
		for _, a := range data {
			got -= logChoose(a.N, a.Correct)
		}
		r.near("loglik_without_binomial_coefficients", got, 1e-14)
		return true
	})
}

func TestFitBetaBinomialAgainstReference(t *testing.T) {
	status := map[string]Overdispersion{
		"":        OverdispersionEstimated,
		"gamma=0": OverdispersionNone,
		"gamma=1": OverdispersionFull,
	}
	eachRecord(t, "g3_fits.csv", 16, func(r record) bool {
		got := FitBetaBinomial(replicates(t, r.text("dataset")), r.modelChance(), 0.95)
		if got.N != r.int("total_trials") || got.Correct != r.int("total_correct") || got.Chance != r.modelChance() {
			t.Errorf("%s:%d: terms %+v", r.file, r.line, got)
		}
		if want := status[r.text("boundary")]; got.Overdispersion != want {
			t.Errorf("%s:%d: overdispersion %s, want %s", r.file, r.line, got.Overdispersion, want)
		}
		r.near("mu", got.Mu, 1e-10)
		r.near("gamma", got.Gamma, 1e-10)
		r.near("mean_pc", got.PC, 1e-10)
		r.near("loglik", got.LogLikelihood, 1e-13)
		r.near("loglik_binomial", got.BinomialLogLikelihood, 1e-13)
		r.near("LR", got.LR, 1e-11)
		r.near("p_half_chi2", got.PValue, 1e-11)
		if r.empty("se_mu") {
			if !math.IsNaN(got.SEMu) || !math.IsNaN(got.SEGamma) || len(got.Warnings) == 0 {
				t.Errorf("%s:%d: standard errors %v and %v at the bound, warnings %v", r.file, r.line, got.SEMu, got.SEGamma, got.Warnings)
			}
			return true
		}
		r.near("se_mu", got.SEMu, 1e-9)
		r.near("se_gamma", got.SEGamma, 1e-9)
		return true
	})
}

// R 4.2.2: the log-likelihood by lbeta(), the other parameter by optimize() on
// its logit, the limits by uniroot() at qchisq(0.95, 1)/2 below the maximum.
func TestBetaBinomialIntervalsAgainstR(t *testing.T) {
	for _, c := range []struct {
		dataset                string
		chance                 float64
		muLo, muHi, gaLo, gaHi float64
	}{
		{"inv_tri_20x8", 0, 0.477901420, 0.705637648, 0.053214664, 0.348530689},
		{"inv_tri_20x8", 1.0 / 3, 0.228632184, 0.556467721, 0.125574997, 0.658961580},
		{"inv_tri_12x4", 0, 0.326916972, 0.721217506, 0.074109142, 0.662750508},
		{"inv_duo_10x6", 0, 0.463881903, 0.821595367, 0.028306501, 0.562664372},
		{"inv_tri_unequal", 0, 0.353041460, 0.771729498, 0.052869495, 0.665211133},
	} {
		f := FitBetaBinomial(replicates(t, c.dataset), c.chance, 0.95)
		for _, limit := range []struct{ got, want float64 }{
			{f.MuInterval.Lower, c.muLo}, {f.MuInterval.Upper, c.muHi},
			{f.GammaInterval.Lower, c.gaLo}, {f.GammaInterval.Upper, c.gaHi},
			{f.PCInterval.Lower, c.chance + (1-c.chance)*c.muLo},
		} {
			if math.Abs(limit.got-limit.want) > 2e-9 {
				t.Errorf("%s chance %v: limit %.10f, want %.10f", c.dataset, c.chance, limit.got, limit.want)
			}
		}
		if f.MuInterval.Confidence != 0.95 || f.GammaInterval.Confidence != 0.95 || f.PCInterval.Confidence != 0.95 {
			t.Errorf("%s: confidence %+v", c.dataset, f)
		}
	}
}

func TestBetaBinomialPMFAddsUp(t *testing.T) {
	for _, chance := range []float64{0, 1.0 / 3, 0.5} {
		for _, mu := range []float64{0, 1e-6, 0.2, 0.5, 0.95, 1} {
			for _, gamma := range []float64{0, 1e-15, 1e-6, 0.1, 0.5, 1 - 1e-9, 1} {
				for _, n := range []int{1, 2, 5, 40, 1000} {
					b := BetaBinomial{chance, mu, gamma}
					sum, mean := 0.0, 0.0
					if n == 1000 && (chance > 0 || gamma != 0.1) {
						continue // slow, and no different
					}
					for x := range n + 1 {
						p := math.Exp(b.LogPMF(n, x))
						sum += p
						mean += p * float64(x)
					}
					if math.Abs(sum-1) > 1e-11 || math.Abs(mean/float64(n)-PcFromPd(mu, chance)) > 1e-11 {
						t.Errorf("%+v, n %d: adds up to %v, mean %v", b, n, sum, mean)
					}
				}
			}
		}
	}
}

// mpmath 1.3.0, 60 digits: the beta functions themselves, mixed over the
// answers guessed right.
func TestBetaBinomialLogPMFOfManyReplicates(t *testing.T) {
	for _, c := range []struct {
		b    BetaBinomial
		n, x int
		want float64
	}{
		{BetaBinomial{0, 0.3, 0.1}, 1000, 250, -5.93127362553261179},
		{BetaBinomial{0, 0.3, 0.001}, 1000, 999, -677.873781008618616},
		{BetaBinomial{1.0 / 3, 0.3, 0.1}, 1000, 400, -6.1238449734989248},
		{BetaBinomial{0.5, 0.05, 0.9}, 200, 40, -41.2831211203274817},
		{BetaBinomial{1.0 / 3, 0.3, 0.1}, 1000, 1000, -30.8336042268159385},
		{BetaBinomial{1.0 / 3, 0.7, 0.2}, 50, 0, -29.4646896714252895},
	} {
		if got := c.b.LogPMF(c.n, c.x); math.Abs(got-c.want) > 1e-11 {
			t.Errorf("%+v: ln P(%d of %d) = %.17g, want %.17g", c.b, c.x, c.n, got, c.want)
		}
	}
}

// Towards γ = 0 gamma functions cancel; the sums of logarithms do not.
func TestBetaBinomialNearTheBinomial(t *testing.T) {
	for _, gamma := range []float64{0, 1e-17, 1e-14, 1e-12} {
		for x := range 9 {
			got, want := BetaBinomial{0, 0.4, gamma}.LogPMF(8, x), LogPMF(8, x, 0.4)
			if math.Abs(got-want) > 1e-13+100*gamma {
				t.Errorf("γ %v: ln P(%d of 8) = %.17g, binomial %.17g", gamma, x, got, want)
			}
			got = BetaBinomial{1.0 / 3, 0.4, gamma}.LogPMF(8, x)
			if want := LogPMF(8, x, 0.6); math.Abs(got-want) > 1e-13+100*gamma {
				t.Errorf("γ %v: chance-corrected ln P(%d of 8) = %.17g, binomial %.17g", gamma, x, got, want)
			}
		}
	}
	even := FitBetaBinomial([]Replicates{{4, 2}, {4, 2}, {4, 1}, {4, 3}, {4, 2}, {4, 2}}, 0, 0.95)
	if even.Overdispersion != OverdispersionNone || even.Gamma != 0 || even.LR != 0 || even.PValue != 1 || even.GammaInterval.Lower != 0 {
		t.Errorf("underdispersed: %+v", even)
	}
}

func TestFitBetaBinomialOfLittleData(t *testing.T) {
	repeat := func(a Replicates, times int) (list []Replicates) {
		for range times {
			list = append(list, a)
		}
		return list
	}
	singles := append(repeat(Replicates{1, 1}, 14), repeat(Replicates{1, 0}, 10)...)
	for name, c := range map[string]struct {
		data   []Replicates
		chance float64
		status Overdispersion
		mu     float64
		kinds  []WarningKind
	}{
		"all right":            {repeat(Replicates{4, 4}, 12), 0, OverdispersionUnknown, 1, []WarningKind{ReplicatesAlike}},
		"all right, corrected": {repeat(Replicates{4, 4}, 12), 1.0 / 3, OverdispersionUnknown, 1, []WarningKind{ReplicatesAlike}},
		"none right":           {repeat(Replicates{4, 0}, 12), 0, OverdispersionUnknown, 0, []WarningKind{ReplicatesAlike}},
		"none, corrected":      {repeat(Replicates{4, 0}, 12), 0.5, OverdispersionUnknown, 0, []WarningKind{ReplicatesAlike}},
		"one replicate":        {singles, 0, OverdispersionUnknown, 14.0 / 24, []WarningKind{ReplicatesSingle}},
		"one, corrected":       {singles, 1.0 / 3, OverdispersionUnknown, 0.375, []WarningKind{ReplicatesSingle}},
		"one answer":           {[]Replicates{{1, 1}}, 1.0 / 3, OverdispersionUnknown, 1, []WarningKind{ReplicatesSingle, ReplicatesFew}},
		"one assessor":         {[]Replicates{{6, 3}}, 0, OverdispersionNone, 0.5, []WarningKind{ReplicatesAtBound, ReplicatesFew}},
		"all at chance":        {repeat(Replicates{3, 1}, 12), 1.0 / 3, OverdispersionNone, 0, []WarningKind{ReplicatesAtBound}},
		"two classes":          {append(repeat(Replicates{5, 5}, 6), repeat(Replicates{5, 0}, 6)...), 0, OverdispersionFull, 0.5, []WarningKind{ReplicatesAtBound}},
	} {
		f := FitBetaBinomial(c.data, c.chance, 0.95)
		if f.Overdispersion != c.status || math.Abs(f.Mu-c.mu) > 1e-9 || f.Assessors != len(c.data) {
			t.Errorf("%s: %+v", name, f)
		}
		checkKinds(t, name, f.Warnings, c.kinds)
		if (c.status == OverdispersionUnknown) != math.IsNaN(f.Gamma) {
			t.Errorf("%s: gamma %v", name, f.Gamma)
		}
		if c.status == OverdispersionUnknown && (f.LR != 0 || f.PValue != 1 || f.GammaInterval != (Interval{0, 1, 0.95})) {
			t.Errorf("%s: LR %v, p %v, gamma in %v", name, f.LR, f.PValue, f.GammaInterval)
		}
		if !(f.MuInterval.Lower <= f.Mu && f.Mu <= f.MuInterval.Upper) || f.MuInterval.Upper-f.MuInterval.Lower <= 0 {
			t.Errorf("%s: mu %v in %v", name, f.Mu, f.MuInterval)
		}
	}
	// With γ free, twelve assessors who are always right are twelve answers, not
	// forty-eight: the lower limit is that of 12 of 12, exp(-χ²/(2·12)).
	f := FitBetaBinomial(repeat(Replicates{4, 4}, 12), 0, 0.95)
	if want := math.Exp(-3.841458820694124 / 24); !agrees(f.MuInterval.Lower, want, 1e-9) { // R 4.2.2: qchisq(0.95, 1)
		t.Errorf("all right: lower limit %v, want %v", f.MuInterval.Lower, want)
	}
}

func TestBetaBinomialPanics(t *testing.T) {
	good := []Replicates{{4, 2}}
	bad := map[string]func(){
		"no assessor":     func() { FitBetaBinomial(nil, 0, 0.95) },
		"too many":        func() { FitBetaBinomial([]Replicates{{4, 5}}, 0, 0.95) },
		"no replicate":    func() { FitBetaBinomial([]Replicates{{4, 2}, {0, 0}}, 0, 0.95) },
		"chance 1":        func() { FitBetaBinomial(good, 1, 0.95) },
		"confidence 95":   func() { FitBetaBinomial(good, 0, 95) },
		"gamma above 1":   func() { BetaBinomial{0, 0.5, 1.5}.LogPMF(4, 2) },
		"mu NaN":          func() { BetaBinomial{0, math.NaN(), 0.5}.LogLikelihood(good) },
		"negative chance": func() { BetaBinomial{-0.1, 0.5, 0.5}.LogPMF(4, 2) },
		"x above n":       func() { BetaBinomial{0, 0.5, 0.5}.LogPMF(4, 5) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkFitBetaBinomial(b *testing.B) {
	for name, chance := range map[string]float64{"plain": 0, "chance-corrected": 1.0 / 3} {
		b.Run(name, func(b *testing.B) {
			var data []Replicates // 100 assessors, 4 replicates
			for x, many := range []int{12, 22, 25, 21, 20} {
				for range many {
					data = append(data, Replicates{4, x})
				}
			}
			for b.Loop() {
				FitBetaBinomial(data, chance, 0.95)
			}
		})
	}
}
