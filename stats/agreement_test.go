package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestAgreeReference(t *testing.T) {
	eachRecord(t, judgesFolder+"agreement.csv", 6, func(r record) bool {
		a := Agree(r.int("both"), r.int("first"), r.int("second"), r.int("neither"), 0.95)
		r.close("kappa", a.Kappa, 1e-12)
		r.close("se", a.SE, 1e-7)
		r.close("phi", a.Phi, 1e-12)
		r.close("p_value", a.PValue, 1e-12)
		return true
	})
}

func TestAgreeExtremes(t *testing.T) {
	none := Agree(0, 0, 0, 0, 0.95)
	if !math.IsNaN(none.Kappa) || none.PValue != 1 || len(none.Warnings) != 1 {
		t.Errorf("no sets: %+v", none)
	}
	if a := Agree(40, 0, 0, 0, 0.95); !math.IsNaN(a.Kappa) || !math.IsNaN(a.Phi) || a.Observed != 1 {
		t.Errorf("always right: %+v", a)
	}
	if a := Agree(20, 0, 0, 20, 0.95); math.Abs(a.Kappa-1) > 1e-12 || a.Interval.Upper != 1 || a.SE > 1e-7 {
		t.Errorf("always alike: %+v", a)
	}
	if !panics(func() { Agree(-1, 0, 0, 0, 0.95) }) || !panics(func() { Agree(1, 0, 0, 0, 0) }) {
		t.Error("no panic")
	}
}

// The pairs by bits, against counting them one by one.
func TestAgreePairs(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	judges := make([][]SetAnswer, 6)
	byJudge := make([]map[int]bool, 6)
	for j := range judges {
		byJudge[j] = map[int]bool{}
		for range 150 {
			a := SetAnswer{rng.IntN(300), rng.IntN(3) > 0}
			judges[j] = append(judges[j], a)
			byJudge[j][a.Set] = a.Right
		}
	}
	judges = append(judges, nil)
	pairs := AgreePairs(judges, 1, 0.95)
	if len(pairs) != 15 {
		t.Fatalf("%d pairs", len(pairs))
	}
	for _, p := range pairs {
		var both, first, second, neither int
		for set, a := range byJudge[p.First] {
			b, common := byJudge[p.Second][set]
			switch {
			case !common:
			case a && b:
				both++
			case a:
				first++
			case b:
				second++
			default:
				neither++
			}
		}
		if g := p.Agreement; g.Both != both || g.First != first || g.Second != second || g.Neither != neither {
			t.Errorf("%d and %d: %+v", p.First, p.Second, g)
		}
	}
	if got := AgreePairs(judges, 200, 0.95); len(got) != 0 {
		t.Errorf("pairs with 200 sets in common: %d", len(got))
	}
	if !panics(func() { AgreePairs([][]SetAnswer{{{-1, true}}}, 1, 0.95) }) || !panics(func() { AgreePairs(nil, 0, 0.95) }) {
		t.Error("no panic")
	}
}

// Easy and hard sets make two judges alike who know nothing of each other: kappa
// is fooled, the comparison given difficulty is not.
func TestAgreementGivenDifficulty(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	var independent, copied []CommonSet
	var both, first, second, neither int
	for i := range 400 {
		p := 0.35
		if i%2 == 0 {
			p = 0.95
		}
		s := CommonSet{p, p, rng.Float64() < p, rng.Float64() < p}
		independent = append(independent, s)
		switch {
		case s.First && s.Second:
			both++
		case s.First:
			first++
		case s.Second:
			second++
		default:
			neither++
		}
		if i%3 == 0 {
			s.Second = s.First
		}
		copied = append(copied, s)
	}
	if a := Agree(both, first, second, neither, 0.95); a.Interval.Lower <= 0.1 {
		t.Errorf("kappa is not fooled: %+v", a)
	}
	if g := AgreementGivenDifficulty(independent); g.PMore < 0.05 || g.PLess < 0.05 || g.N != 400 {
		t.Errorf("independent: %+v", g)
	}
	if g := AgreementGivenDifficulty(copied); g.PMore > 1e-3 {
		t.Errorf("copied: %+v", g)
	}
	if g := AgreementGivenDifficulty(nil); g.PMore != 1 || g.PLess != 1 {
		t.Errorf("no sets: %+v", g)
	}
	if !panics(func() { AgreementGivenDifficulty([]CommonSet{{PFirst: 2}}) }) {
		t.Error("no panic")
	}
}
