package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// draw returns the count of one assessor.
func (b BetaBinomial) draw(rng *rand.Rand, n int) Replicates {
	u, x := rng.Float64(), 0
	for x < n {
		if u -= math.Exp(b.LogPMF(n, x)); u < 0 {
			break
		}
		x++
	}
	return Replicates{n, x}
}

// The doc comment of DecideReplicatedSimilarity states what exact enumeration of
// every panel finds here, and how far off a count of all answers is.
func TestReplicatedSimilarityRisk(t *testing.T) {
	const chance, beta = 1.0 / 3, 0.05
	pooledWorst := 0.0
	for _, c := range []struct {
		assessors, replicates int
		least, most           float64 // as the doc comment has them
	}{{12, 3, 0.024, 0.056}, {30, 2, 0.026, 0.050}} {
		type risks struct{ total, missed, similar, pooled float64 }
		truths := map[BetaBinomial]*risks{}
		for _, mu := range []float64{0.2, 0.3, 0.5} {
			for _, gamma := range []float64{0, 0.1, 0.3, 0.6, 1} {
				truths[BetaBinomial{chance, mu, gamma}] = &risks{}
			}
		}
		n := c.assessors * c.replicates
		eachPanel(c.assessors, c.replicates, func(p panel) {
			s := DecideReplicatedSimilarity(p.replicates(), chance, beta, 0.3)
			for b, r := range truths {
				probability := p.probability(b)
				r.total += probability
				if s.Upper < b.Mu {
					r.missed += probability
				}
				if s.Similar && b.Mu == s.Pd {
					r.similar += probability
				}
				if x, _ := MaxCorrect(n, chance, beta, b.Mu); s.Correct <= x {
					r.pooled += probability
				}
			}
		})
		least, most := 1.0, 0.0
		for b, r := range truths {
			if !agrees(r.total, 1, 1e-11) {
				t.Fatalf("%+v: probabilities add up to %v", b, r.total)
			}
			least, most = min(least, r.missed), max(most, r.missed)
			pooledWorst = max(pooledWorst, r.pooled)
			if r.similar > r.missed+1e-12 || (b.Mu == 0.3) != (r.similar > 0) {
				t.Errorf("%+v: similar at the limit with %v, upper limit below with %v", b, r.similar, r.missed)
			}
		}
		t.Logf("%d assessors, %d replicates: %.4f to %.4f", c.assessors, c.replicates, least, most)
		if least < c.least || most > c.most {
			t.Errorf("%d assessors, %d replicates: risk %v to %v, the comment says %v to %v", c.assessors, c.replicates, least, most, c.least, c.most)
		}
	}
	t.Logf("by a count of all answers up to %.4f", pooledWorst)
	if math.Abs(pooledWorst-0.089) > 0.0005 {
		t.Errorf("by a count of all answers: %v, the comment says 0.089", pooledWorst)
	}
}

// A simulation, for panels that are too large to enumerate or have unequal
// replicates, around what the doc comment says of them.
func TestReplicatedSimilarityRiskSimulated(t *testing.T) {
	const seed, chance, beta, mu, panels = 20260301, 1.0 / 3, 0.05, 0.3, 150
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	for name, c := range map[string]struct {
		sizes  []int
		gamma  float64
		stated float64
	}{
		"40 assessors, 4 replicates":      {slices.Repeat([]int{4}, 40), 0.5, 0.053},
		"24 assessors, 1 to 5 replicates": {slices.Repeat([]int{1, 2, 3, 4, 5, 3}, 4), 0.5, 0.051},
	} {
		missed, wrong := 0, 0
		for range panels {
			var data []Replicates
			for _, n := range c.sizes {
				data = append(data, BetaBinomial{chance, mu, c.gamma}.draw(rng, n))
			}
			s := DecideReplicatedSimilarity(data, chance, beta, mu)
			if s.Upper < mu {
				missed++
			}
			if s.Similar {
				wrong++
			}
		}
		share := float64(missed) / panels
		t.Logf("%s: %.3f", name, share)
		// Four standard errors of the simulation.
		if tolerance := 4 * math.Sqrt(c.stated*(1-c.stated)/panels); math.Abs(share-c.stated) > tolerance || missed == 0 || wrong > missed {
			t.Errorf("%s: limit missed with %v, stated %v; wrongly similar %d times", name, share, c.stated, wrong)
		}
	}
}

// R 4.2.2: the log-likelihood by lbeta(), its maximum by optim() on the logits,
// the profile over gamma by optimize(), two classes beside it, the limit by
// uniroot() at qnorm(0.95)^2/2 below the maximum.
func TestReplicatedSimilarityAgainstR(t *testing.T) {
	for _, c := range []struct {
		dataset string
		upper   float64
	}{
		{"inv_tri_20x8", 0.5302628575},
		{"inv_tri_12x4", 0.5399660967},
		{"inv_tri_unequal", 0.5549976057},
	} {
		s := DecideReplicatedSimilarity(replicates(t, c.dataset), 1.0/3, 0.05, 0.3)
		if math.Abs(s.Upper-c.upper) > 1e-8 {
			t.Errorf("%s: upper limit %.10f, want %.10f", c.dataset, s.Upper, c.upper)
		}
	}
}

// With one answer each there is nothing but a binomial count, whose likelihood
// ratio has a closed form.
func TestReplicatedSimilarityOfSingles(t *testing.T) {
	for _, right := range []int{12, 20, 24, 40} {
		data := append(slices.Repeat([]Replicates{{1, 1}}, right), slices.Repeat([]Replicates{{1, 0}}, 60-right)...)
		s := DecideReplicatedSimilarity(data, 1.0/3, 0.1, 0.3)
		pc := PcFromPd(s.Upper, 1.0/3)
		best := max(1.0/3, float64(right)/60)
		lack := 2 * (LogPMF(60, right, best) - LogPMF(60, right, pc))
		if want := 1.2815515655446004 * 1.2815515655446004; !agrees(lack, want, 1e-9) { // R 4.2.2: qnorm(0.9)
			t.Errorf("%d of 60: lacks %v at the limit %v, want %v", right, lack, s.Upper, want)
		}
		// What exact limits say is near.
		if exact := PdLimits(right, 60, 1.0/3, 0.9, ClopperPearsonLimits, OneSided).Upper; right >= 20 && math.Abs(s.Upper-exact) > 0.03 {
			t.Errorf("%d of 60: upper limit %v, exact %v", right, s.Upper, exact)
		}
		if s.Similar != (s.Upper <= 0.3) || !s.Conclusive {
			t.Errorf("%d of 60: %+v", right, s)
		}
	}
}

func TestReplicatedSimilarityOfLittleData(t *testing.T) {
	repeat := slices.Repeat[[]Replicates]
	for name, c := range map[string]struct {
		data                []Replicates
		similar, conclusive bool
		kinds               []WarningKind
	}{
		"all at chance":        {repeat([]Replicates{{3, 1}}, 30), true, true, nil},
		"all right":            {repeat([]Replicates{{4, 4}}, 30), false, true, []WarningKind{ReplicatesAlike}},
		"none right":           {repeat([]Replicates{{4, 0}}, 30), true, true, []WarningKind{ReplicatesAlike, FarBelowChance}},
		"two classes":          {append(repeat([]Replicates{{4, 4}}, 15), repeat([]Replicates{{4, 1}}, 15)...), false, true, nil},
		"few assessors":        {repeat([]Replicates{{6, 2}}, 12), true, true, []WarningKind{FewForSimilarity}},
		"one assessor":         {repeat([]Replicates{{60, 20}}, 1), false, false, []WarningKind{FewForSimilarity, ReplicatesFew, NoConclusion}},
		"one answer":           {repeat([]Replicates{{1, 0}}, 1), false, false, []WarningKind{FewForSimilarity, ReplicatesSingle, ReplicatesFew, NoConclusion}},
		"lucky and too few":    {repeat([]Replicates{{2, 0}}, 5), false, false, []WarningKind{FewForSimilarity, ReplicatesAlike, ReplicatesFew, NoConclusion, FarBelowChance}},
		"one replicate, 30":    {repeat([]Replicates{{1, 0}, {1, 0}, {1, 1}}, 20), true, true, []WarningKind{ReplicatesSingle}},
		"as many as asked, 30": {append(repeat([]Replicates{{2, 0}, {2, 1}, {2, 1}}, 20), Replicates{7, 2}), true, true, nil},
	} {
		s := DecideReplicatedSimilarity(c.data, 1.0/3, 0.05, 0.3)
		if s.Similar != c.similar || s.Conclusive != c.conclusive || s.Assessors != len(c.data) || s.Beta != 0.05 || s.Pd != 0.3 {
			t.Errorf("%s: %+v", name, s)
		}
		if !(s.Estimate >= 0 && s.Estimate <= s.Upper && s.Upper <= 1 && s.Guessing > 0 && s.Guessing <= 1) {
			t.Errorf("%s: %v, limit %v, of guesses %v", name, s.Estimate, s.Upper, s.Guessing)
		}
		checkKinds(t, name, s.Warnings, c.kinds)
	}
}

func TestReplicatedSimilarityPanics(t *testing.T) {
	good := []Replicates{{4, 2}}
	bad := map[string]func(){
		"no assessor": func() { DecideReplicatedSimilarity(nil, 0.5, 0.05, 0.3) },
		"too many":    func() { DecideReplicatedSimilarity([]Replicates{{4, 5}}, 0.5, 0.05, 0.3) },
		"chance 1":    func() { DecideReplicatedSimilarity(good, 1, 0.05, 0.3) },
		"beta 0":      func() { DecideReplicatedSimilarity(good, 0.5, 0, 0.3) },
		"beta 1/2":    func() { DecideReplicatedSimilarity(good, 0.5, 0.5, 0.3) },
		"beta NaN":    func() { DecideReplicatedSimilarity(good, 0.5, math.NaN(), 0.3) },
		"pd 0":        func() { DecideReplicatedSimilarity(good, 0.5, 0.05, 0) },
		"pd 1":        func() { DecideReplicatedSimilarity(good, 0.5, 0.05, 1) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkDecideReplicatedSimilarity(b *testing.B) {
	var data []Replicates // 100 assessors, 4 replicates
	for x, many := range []int{18, 34, 28, 14, 6} {
		data = append(data, slices.Repeat([]Replicates{{4, x}}, many)...)
	}
	for b.Loop() {
		DecideReplicatedSimilarity(data, 1.0/3, 0.05, 0.3)
	}
}

// A panel at the limit, where that share gets every set right and all others
// guess, is called similar with a probability of at most beta: every panel
// enumerated. Without FewestForReplicatedSimilarity it is 0.205, 0.136 and
// 0.101 in the three that are smaller.
func TestReplicatedSimilarityKeepsItsRisk(t *testing.T) {
	const chance = 1.0 / 3
	for _, c := range []struct {
		assessors, sets int
		pd, beta        float64
	}{
		{2, 6, 0.5, 0.1}, {3, 4, 0.4, 0.1}, {4, 6, 0.4, 0.05}, {12, 2, 0.4, 0.1},
	} {
		wrong := 0.0
		eachPanel(c.assessors, c.sets, func(p panel) {
			if p.probability(BetaBinomial{chance, c.pd, 1}) < 1e-9 {
				return
			}
			if s := DecideReplicatedSimilarity(p.replicates(), chance, c.beta, c.pd); s.Similar {
				wrong += p.probability(BetaBinomial{chance, c.pd, 1})
			}
		})
		t.Logf("%+v: %.4f", c, wrong)
		if wrong > c.beta || (wrong > 0) != (c.assessors >= FewestForReplicatedSimilarity) {
			t.Errorf("%d assessors of %d sets are called similar at the limit %v with probability %v, beta is %v", c.assessors, c.sets, c.pd, wrong, c.beta)
		}
	}
}

// The smallest panel that can be conclusive is just that, and says why smaller ones
// are not.
func TestLeastReplicatedSimilarity(t *testing.T) {
	for _, c := range []struct {
		sets             int
		chance, beta, pd float64
	}{
		{2, 1.0 / 3, 0.05, 0.2}, {3, 0.5, 0.01, 0.25}, {6, 1.0 / 3, 0.1, 0.1}, {6, 1.0 / 3, 0.1, 0.5}, {2, 0.5, 0.05, 0.3},
	} {
		least := LeastReplicatedSimilarity(c.sets, c.chance, c.beta, c.pd)
		decide := func(people int) ReplicatedSimilarity {
			return DecideReplicatedSimilarity(slices.Repeat([]Replicates{{N: c.sets}}, people), c.chance, c.beta, c.pd)
		}
		if below, at := decide(least-1), decide(least); below.Conclusive || !at.Conclusive {
			t.Errorf("%+v: %d people are the least; one fewer conclusive %v, they %v", c, least, below.Conclusive, at.Conclusive)
		}
	}
	if got := LeastReplicatedSimilarity(2, 0.5, 0.05, 1e-4); got != 0 {
		t.Errorf("a limit of 0.0001 takes %d people", got)
	}
	eleven := DecideReplicatedSimilarity(slices.Repeat([]Replicates{{6, 2}}, 11), 1.0/3, 0.1, 0.5)
	said := slices.ContainsFunc(eleven.Warnings, func(w Warning) bool {
		return w.Kind == NoConclusion && strings.Contains(w.Say, "fewer than 12 assessors")
	})
	if !said {
		t.Errorf("11 people: %+v", eleven.Warnings)
	}
}
