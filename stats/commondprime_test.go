package stats

import (
	"math"
	"strings"
	"testing"
)

func TestPoolDPrimeReference(t *testing.T) {
	eachRecord(t, judgesFolder+"pooled_dprime.csv", 4, func(r record) bool {
		var outcomes []Outcome
		xs, ns := r.floats("correct"), r.floats("n")
		for i, name := range strings.Split(r.text("methods"), ";") {
			outcomes = append(outcomes, Outcome{methodNamed(t, name), int(ns[i]), int(xs[i])})
		}
		p := PoolDPrime(outcomes, 0.95)
		r.close("dprime", p.DPrime, 1e-5)
		r.close("lower", p.Interval.Lower, 1e-5)
		r.close("upper", p.Interval.Upper, 1e-5)
		r.close("lr", p.LR, 1e-5)
		return p.DF == len(outcomes)-1
	})
}

// All right, or none: R solves the exact probability, and the limit of one method is that
// of Clopper and Pearson's interval.
func TestPoolDPrimeAtTheEdge(t *testing.T) {
	eachRecord(t, judgesFolder+"pooled_edges.csv", 7, func(r record) bool {
		var outcomes []Outcome
		xs, ns := r.floats("correct"), r.floats("n")
		for i, name := range strings.Split(r.text("methods"), ";") {
			outcomes = append(outcomes, Outcome{methodNamed(t, name), int(ns[i]), int(xs[i])})
		}
		p := PoolDPrime(outcomes, 0.95)
		if xs[0] > 0 {
			r.close("limit", p.Interval.Lower, 1e-7)
			return p.Exact && math.IsInf(p.DPrime, 1) && math.IsInf(p.Interval.Upper, 1)
		}
		r.close("limit", p.Interval.Upper, 1e-7)
		return p.Exact && p.DPrime == 0 && p.Interval.Lower == 0
	})
	for _, x := range []int{0, 5} {
		p, exact := PoolDPrime([]Outcome{{Triangle, 5, x}}, 0.95), ClopperPearson(x, 5, 0.95)
		for _, end := range [][2]float64{{p.Interval.Lower, exact.Lower}, {p.Interval.Upper, exact.Upper}} {
			if want := Triangle.DPrime(end[1]); !agrees(end[0], want, 1e-8) && end[0] != want {
				t.Errorf("%d of 5: d′ %v at the limit %v of the share, want %v", x, end[0], end[1], want)
			}
		}
	}
	if PoolDPrime([]Outcome{{Triangle, 5, 4}}, 0.95).Exact {
		t.Error("4 of 5 is at no edge")
	}
}

func TestPoolDPrimeOfOne(t *testing.T) {
	for _, m := range []Psychometric{Triangle, DuoTrio, PairedComparison} {
		p, e := PoolDPrime([]Outcome{{m, 40, 27}}, 0.9), m.Estimate(27, 40, 0.9)
		if !agrees(p.DPrime, e.DPrime, 1e-8) || !agrees(p.Interval.Upper, e.Profile.Upper, 1e-6) ||
			math.Abs(p.Interval.Lower-e.Profile.Lower) > 1e-5 || p.LR > 1e-9 || p.PValue != 1 {
			t.Errorf("%s: %+v, alone %+v", m.Name(), p, e)
		}
	}
	all := PoolDPrime([]Outcome{{Triangle, 5, 5}, {DuoTrio, 6, 6}}, 0.95)
	if !math.IsInf(all.DPrime, 1) || !math.IsInf(all.Interval.Upper, 1) || !(all.Interval.Lower > 0.5) || all.PValue != 1 {
		t.Errorf("all right: %+v", all)
	}
	if !panics(func() { PoolDPrime(nil, 0.95) }) || !panics(func() { PoolDPrime([]Outcome{{Triangle, 3, 1}}, 1) }) {
		t.Error("no panic")
	}
}
