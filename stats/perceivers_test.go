package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// By R 4.2.2, with crit the smallest count of significance:
//
//	m <- 0:N; sum(dbinom(m, N, pd) * pbinom(crit - m*k - 1, (N-m)*k, q, lower.tail = FALSE))
//
// and at best pbinom(crit - 1, N*k, q + pd*(1-q), lower.tail = FALSE).
func TestPooledPowerAgainstR(t *testing.T) {
	for _, c := range []struct {
		people, sets      int
		chance, alpha, pd float64
		want, atBest      float64
	}{
		{12, 6, 1.0 / 3, 0.05, 0.3, 0.8290790787608846, 0.94831531522732893},
		{24, 1, 1.0 / 3, 0.05, 0.4, 0.7869782010394587, 0.78697820103945948},
		{24, 3, 1.0 / 3, 0.05, 0.3, 0.89046575596931477, 0.94831531522732893},
		{18, 2, 0.5, 0.05, 0.4, 0.71367789015419136, 0.73651438794177992},
		{10, 4, 1.0 / 3, 0.01, 0.5, 0.90010386070133974, 0.97855926647021296},
		{100, 6, 1.0 / 3, 0.05, 0.1, 0.89797711383841117, 0.95675557258631805},
		{2, 1, 1.0 / 3, 0.05, 0.4, 0, 0}, // no count is significant
	} {
		p := Perceivers{c.sets, c.chance, c.pd}
		if got := p.PooledPower(c.people, c.alpha); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%d people of %d sets: %.17g, want %.17g", c.people, c.sets, got, c.want)
		}
		if got := Power(c.people*c.sets, c.chance, c.alpha, PcFromPd(c.pd, c.chance)); math.Abs(got-c.atBest) > 1e-12 {
			t.Errorf("%d people of %d sets, at best: %.17g, want %.17g", c.people, c.sets, got, c.atBest)
		}
	}
}

// The sum over perceivers and the sum person by person are two ways to one
// number; with one set a person both are the binomial power.
func TestPooledPowersAreThePowerOfEachSize(t *testing.T) {
	for _, c := range []struct {
		sets          int
		chance, alpha float64
	}{{1, 1.0 / 3, 0.05}, {2, 0.5, 0.05}, {3, 1.0 / 3, 0.001}, {6, 1.0 / 3, 0.2}} {
		for _, pd := range []float64{0, 0.01, 0.3, 0.9, 1} {
			p := Perceivers{c.sets, c.chance, pd}
			all := p.PooledPowers(60, c.alpha)
			if len(all) != 61 || all[0] != 0 {
				t.Fatalf("%d sizes, nobody %v", len(all), all[0])
			}
			for n := 1; n <= 60; n++ {
				if want := p.PooledPower(n, c.alpha); math.Abs(all[n]-want) > 1e-12 {
					t.Errorf("%+v, %d people: %.17g, want %.17g", p, n, all[n], want)
				}
				if want := Power(n, c.chance, c.alpha, PcFromPd(pd, c.chance)); c.sets == 1 && math.Abs(all[n]-want) > 1e-12 {
					t.Errorf("one set of %d people at pd %v: %.17g, want %.17g", n, pd, all[n], want)
				}
			}
		}
	}
}

// By R 4.2.2, the sum of dmultinom over all numbers of majorities one way, the
// other way and none, where pbinom of a sign test is at most alpha.
func TestMajorityPowersAgainstR(t *testing.T) {
	for _, c := range []struct {
		people, sets int
		alpha, pd    float64
		sided        Sided
		want         float64
	}{
		{20, 3, 0.05, 0.4, OneSided, 0.41637082944748016},
		{20, 2, 0.05, 0.4, OneSided, 0.63649739843937692},
		{24, 1, 0.05, 0.4, OneSided, 0.56467400993342631},
		{24, 1, 0.05, 0.4, TwoSided, 0.38859618516885969},
		{15, 5, 0.05, 0.3, OneSided, 0.17269648716948455},
		{15, 4, 0.05, 0.3, TwoSided, 0.17784633579198511},
		{20, 6, 0.1, 0.5, OneSided, 0.85483558900191192},
	} {
		p := Perceivers{c.sets, 0.5, c.pd}
		all := p.MajorityPowers(c.people+5, c.alpha, c.sided)
		if got := all[c.people]; math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v, %d people, %s: %.17g, want %.17g", p, c.people, c.sided, got, c.want)
		}
		if one := (Perceivers{1, 0.5, c.pd}).MajorityPowers(30, c.alpha, OneSided); math.Abs(one[30]-Power(30, 0.5, c.alpha, PcFromPd(c.pd, 0.5))) > 1e-12 {
			t.Errorf("one pair at pd %v: %v", c.pd, one[30])
		}
	}
}

// By R 4.2.2, uniroot to 1e-13 of the sums above.
func TestDetectableByPeopleAgainstR(t *testing.T) {
	pd, ok := Perceivers{Sets: 6, Chance: 1.0 / 3}.PooledDetectable(12, 0.05, 0.8)
	if !ok || math.Abs(pd-0.282765094733) > 2e-9 {
		t.Errorf("12 people of 6 triangles: %.12f, %v", pd, ok)
	}
	pairs := Perceivers{Sets: 3, Chance: 0.5}
	if pd, ok := pairs.MajorityDetectable(20, 0.05, 0.8, OneSided); !ok || math.Abs(pd-0.597440997546) > 2e-9 {
		t.Errorf("20 people of 3 pairs: %.12f, %v", pd, ok)
	}
	// Nothing reaches it, and two-sided less is found than one-sided.
	if pd, ok := (Perceivers{Sets: 1, Chance: 1.0 / 3}).PooledDetectable(2, 0.05, 0.8); ok || pd != 1 {
		t.Errorf("two triangles: %v, %v", pd, ok)
	}
	if pd, ok := pairs.MajorityDetectable(4, 0.05, 0.8, OneSided); ok || pd != 1 {
		t.Errorf("four people: %v, %v", pd, ok)
	}
	one, _ := pairs.MajorityDetectable(24, 0.05, 0.8, OneSided)
	if two, ok := pairs.MajorityDetectable(24, 0.05, 0.8, TwoSided); !ok || two <= one {
		t.Errorf("24 people: one-sided %v, two-sided %v", one, two)
	}
}

func TestPerceiversRefuseTheImpossible(t *testing.T) {
	for name, f := range map[string]func(){
		"no set":            func() { Perceivers{0, 0.5, 0.3}.PooledPower(10, 0.05) },
		"nobody":            func() { Perceivers{2, 0.5, 0.3}.PooledPower(0, 0.05) },
		"pd 2":              func() { Perceivers{2, 0.5, 2}.PooledPowers(10, 0.05) },
		"majorities of 1/3": func() { Perceivers{2, 1.0 / 3, 0.3}.MajorityPowers(10, 0.05, OneSided) },
		"power 1":           func() { Perceivers{2, 0.5, 0.3}.PooledDetectable(10, 0.05, 1) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s passes", name)
				}
			}()
			f()
		}()
	}
}

func BenchmarkPooledPowers500PeopleOf6(b *testing.B) {
	for b.Loop() {
		Perceivers{6, 1.0 / 3, 0.3}.PooledPowers(500, 0.05)
	}
}

func BenchmarkMajorityPowers500PeopleOf6(b *testing.B) {
	for b.Loop() {
		Perceivers{6, 0.5, 0.3}.MajorityPowers(500, 0.05, OneSided)
	}
}

func BenchmarkDetectable100PeopleOf6(b *testing.B) {
	for b.Loop() {
		Perceivers{Sets: 6, Chance: 1.0 / 3}.PooledDetectable(100, 0.05, 0.8)
		Perceivers{Sets: 6, Chance: 0.5}.MajorityDetectable(100, 0.05, 0.8, OneSided)
	}
}

// What is said to be enough is, and so is all above it, up to twice as many.
func TestPooledEnoughIsEnough(t *testing.T) {
	for _, c := range []struct {
		p           Perceivers
		alpha, beta float64
		most        int // more would be no help to a search
	}{
		{Perceivers{6, 1.0 / 3, 0.3}, 0.05, 0.2, 60},
		{Perceivers{1, 1.0 / 3, 0.4}, 0.05, 0.05, 100},
		{Perceivers{3, 0.5, 0.2}, 0.01, 0.1, 300},
		{Perceivers{2, 1.0 / 3, 0.99}, 0.001, 0.01, 30},
	} {
		n := c.p.PooledEnough(c.alpha, c.beta)
		if n < 1 || n > c.most {
			t.Errorf("%+v: %d people", c.p, n)
		}
		for m, power := range c.p.PooledPowers(2*n, c.alpha) {
			if m >= n && power < 1-c.beta {
				t.Errorf("%+v: %d people are said to be enough, and %d have power %v", c.p, n, m, power)
			}
		}
	}
	if n := (Perceivers{2, 0.5, 0}).PooledEnough(0.05, 0.2); n != 0 {
		t.Errorf("nobody perceives it, and %d are enough", n)
	}
}

func BenchmarkPooledEnough(b *testing.B) {
	for b.Loop() {
		Perceivers{6, 1.0 / 3, 0.3}.PooledEnough(0.05, 0.2)
	}
}

// Ten people with three triangles, one with two and one with one, pd 0.4: by R
// 4.2.2, convolve over the people's distributions, P(X ≥ 17).
func TestPooledPowerOfUnevenSetsAgainstR(t *testing.T) {
	people := []Replicates{{N: 2}, {N: 0}, {N: 1}}
	for range 10 {
		people = append(people, Replicates{N: 3})
	}
	if got := PooledPowerOf(people, 1.0/3, 0.4, 17); math.Abs(got-0.805208423755775) > 1e-12 {
		t.Errorf("%.15g", got)
	}
	even := make([]Replicates, 12)
	for i := range even {
		even[i].N = 6
	}
	if got, want := PooledPowerOf(even, 1.0/3, 0.3, 32), (Perceivers{6, 1.0 / 3, 0.3}).PooledPower(12, 0.05); math.Abs(got-want) > 1e-12 {
		t.Errorf("12 people of 6: %.15g, want %.15g", got, want)
	}
}

// R 4.2.2: the sum over m of dbinom(m, 30, pd) * pbinom(39 - 3*m, (30 - m)*3, 1/3).
func TestPooledAtMost(t *testing.T) {
	for pd, want := range map[float64]float64{0: 0.9816754605178533, 0.03779046783: 0.9295831104588753} {
		if got := (Perceivers{3, 1.0 / 3, pd}).PooledAtMost(30, 39); math.Abs(got-want) > 1e-8 {
			t.Errorf("pd %v: %.12f, want %.12f", pd, got, want)
		}
	}
	all := Perceivers{6, 0.5, 0.3}
	if got := all.PooledAtMost(5, 30); math.Abs(got-1) > 1e-12 {
		t.Errorf("no more than all: %v", got)
	}
}

// Identical lots pass the decision on replicates about as often as they pass the
// count of all answers, whose probability is exact: 300 panels of guessers each.
func TestIdenticalLotsPassReplicatedSimilarity(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ people, sets int }{{30, 2}, {12, 3}} {
		const panels = 300
		passed := 0
		for range panels {
			all := make([]Replicates, c.people)
			for i := range all {
				all[i].N = c.sets
				for range c.sets {
					if chance.Float64() < 1.0/3 {
						all[i].Correct++
					}
				}
			}
			if DecideReplicatedSimilarity(all, 1.0/3, 0.05, 0.3).Similar {
				passed++
			}
		}
		exact := SimilarityPower(c.people*c.sets, 1.0/3, 0.05, 0.3, 1.0/3)
		if share := float64(passed) / panels; share < exact-0.06 || share > exact+0.1 {
			t.Errorf("%d people of %d sets: %v pass, the count of all answers %v", c.people, c.sets, share, exact)
		}
	}
}
