package stats

import (
	"math"
	"testing"
)

func TestShrinkSharesReference(t *testing.T) {
	panels := map[string][]Replicates{}
	chances := map[string]float64{}
	eachRecord(t, judgesFolder+"shrunk_shares.csv", 24, func(r record) bool {
		set := r.text("set")
		panels[set] = append(panels[set], Replicates{r.int("n"), r.int("x")})
		chances[set] = r.fraction("chance")
		return true
	})
	at := map[string]int{}
	eachRecord(t, judgesFolder+"shrunk_shares.csv", 24, func(r record) bool {
		set := r.text("set")
		shares, fit := ShrinkShares(panels[set], chances[set], 0.95)
		s := shares[at[set]]
		at[set]++
		r.close("mu", fit.Mu, 1e-4)
		r.close("gamma", fit.Gamma, 1e-4)
		r.close("pc", s.PC, 1e-4)
		r.close("lower", s.Interval.Lower, 2e-4)
		r.close("upper", s.Interval.Upper, 2e-4)
		return s.N == r.int("n") && s.Correct == r.int("x")
	})
}

func TestShrinkSharesAtBounds(t *testing.T) {
	even := []Replicates{{12, 6}, {12, 7}, {12, 6}, {12, 7}}
	shares, fit := ShrinkShares(even, 1.0/3, 0.95)
	if fit.Overdispersion != OverdispersionNone || shares[0].PC != fit.PC || shares[1].PC != fit.PC {
		t.Errorf("no spread: %+v, %+v", shares, fit)
	}
	classes := []Replicates{{8, 8}, {8, 8}, {8, 2}, {8, 3}, {8, 8}, {8, 2}}
	shares, fit = ShrinkShares(classes, 1.0/3, 0.95)
	if fit.Overdispersion != OverdispersionFull || shares[0].PC < 0.99 || math.Abs(shares[2].PC-1.0/3) > 1e-6 {
		t.Errorf("two classes: %+v, %+v", shares, fit.Overdispersion)
	}
	shares, _ = ShrinkShares([]Replicates{{5, 5}}, 0.5, 0.95)
	if math.IsNaN(shares[0].PC) {
		t.Errorf("one assessor: %+v", shares)
	}
	if !panics(func() { ShrinkShares(nil, 0.5, 0.95) }) {
		t.Error("no panic for nobody")
	}
}
