package stats

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// GOST ISO 16820-2015, example 2, as printed (seen): decisions after 11 and 12
// answers and none after 30. The lines at each answer are computed here from the
// formulas of the standard (from memory), not taken from the package.
func TestRecordChartPublished(t *testing.T) {
	want := map[Decision]Qualification{Similar: BelowMark, Different: Qualified, Continue: NotYet}
	eachRecord(t, "h4_sprt_published.csv", 3, func(r record) bool {
		p0, p1, alpha, beta := r.fraction("p0"), r.float("p1"), r.float("alpha"), r.float("beta")
		g := math.Log(p1 * (1 - p0) / p0 / (1 - p1))
		slope, low, up := math.Log((1-p0)/(1-p1))/g, math.Log(beta/(1-alpha))/g, math.Log((1-beta)/alpha)/g
		plan := Sequential{P0: p0, P1: p1, Alpha: alpha, Beta: beta, Every: 1}
		var right []bool
		last := 0
		for field := range strings.FieldsSeq(r.text("cumulative_correct")) {
			c, err := strconv.Atoi(field)
			if err != nil {
				t.Fatal(err)
			}
			right = append(right, c > last)
			last = c
		}
		// Two more sets after the end change nothing but the path.
		chart := FollowRecord(plan, append(right, true, false))
		if r.text("decision") == "continue" {
			chart = FollowRecord(plan, right)
		}
		end := r.int("answers")
		correct := 0
		for i, p := range chart.Points {
			if i < len(right) && right[i] || i == len(right) {
				correct++
			}
			n := float64(i + 1)
			standing := NotYet
			if i+1 >= end {
				standing = want[Decision(r.text("decision"))]
			}
			if p.N != i+1 || p.Correct != correct || p.Standing != standing ||
				math.Abs(p.Lower-low-slope*n) > 1e-12 || math.Abs(p.Upper-up-slope*n) > 1e-12 {
				t.Errorf("sample %s set %d: %+v, want %d correct, %s", r.text("sample"), i+1, p, correct, standing)
			}
			crossed := float64(correct) >= up+slope*n || float64(correct) <= low+slope*n
			if i+1 <= end && crossed != (i+1 == end && standing != NotYet) {
				t.Errorf("sample %s set %d: the lines are crossed at another place", r.text("sample"), i+1)
			}
		}
		if standing := want[Decision(r.text("decision"))]; chart.Standing != standing || standing != NotYet && chart.DecidedAt != end {
			t.Errorf("sample %s: %s at %d", r.text("sample"), chart.Standing, chart.DecidedAt)
		}
		return true
	})
}

// Lines for triangles by one judge: slope and intercept to three decimals, computed
// by hand from Wald's formulas (from memory).
func TestRecordChartLines(t *testing.T) {
	for _, c := range []struct{ p1, risk, slope, h float64 }{
		{0.60, 0.05, 0.465, 2.680}, {0.60, 0.10, 0.465, 2.000}, {2.0 / 3, 0.05, 0.500, 2.124}, {0.50, 0.05, 0.415, 4.248},
	} {
		l := FollowRecord(Sequential{P0: 1.0 / 3, P1: c.p1, Alpha: c.risk, Beta: c.risk, Every: 1}, nil).Lines
		if math.Abs(l.Slope-c.slope) > 6e-4 || math.Abs(l.UpperIntercept-c.h) > 6e-4 || math.Abs(l.LowerIntercept+c.h) > 6e-4 {
			t.Errorf("p1 %v, risks %v: %+v", c.p1, c.risk, l)
		}
	}
}

// What is still needed, by trying it.
func TestRecordChartMore(t *testing.T) {
	plan := Sequential{P0: 0.5, P1: 0.75, Alpha: 0.1, Beta: 0.1, Every: 1}
	right := []bool{true, false, true, true, false, true}
	chart := FollowRecord(plan, right)
	for _, c := range []struct {
		more int
		ok   bool
		want Qualification
	}{{chart.MoreCorrect, true, Qualified}, {chart.MoreWrong, false, BelowMark}} {
		if c.more < 1 {
			t.Fatalf("more sets: %+v", chart)
		}
		series := append([]bool{}, right...)
		for range c.more {
			if s := FollowRecord(plan, series).Standing; s != NotYet {
				t.Errorf("%s before all %d", s, c.more)
			}
			series = append(series, c.ok)
		}
		if s := FollowRecord(plan, series).Standing; s != c.want {
			t.Errorf("after %d more: %s, want %s", c.more, s, c.want)
		}
	}
	short := plan
	short.Max, short.AtMax = 7, MaxUndecided
	if c := FollowRecord(short, right); c.MoreCorrect != 0 || c.MoreWrong != 0 {
		t.Errorf("with one set left: %+v", c)
	}
	if c := FollowRecord(short, append(right, true, true, true, true, true, true)); c.Standing != NotYet || len(c.Points) != 12 {
		t.Errorf("past the maximum: %+v", c)
	}
	if !panics(func() { FollowRecord(Sequential{}, nil) }) {
		t.Error("no panic")
	}
}

// The characteristic against exact probabilities by forward recursion in Python.
func TestRecordCharacteristic(t *testing.T) {
	eachRecord(t, "h3_sprt_oc_asn.csv", 96, func(r record) bool {
		plan := Sequential{P0: r.fraction("p0"), P1: r.fraction("p1"), Alpha: r.float("alpha"), Beta: r.float("beta"), Every: 1}
		// Twentieths, P0, P1 and the slope are all shares in the file.
		for _, o := range RecordCharacteristic(plan, 20) {
			if math.Abs(o.PC-r.float("p_true")) < 1e-12 {
				r.close("P_no_difference_exact", o.Below, 1e-11)
				r.close("P_difference_exact", o.Qualified, 1e-11)
				r.near("ASN_exact", o.ExpectedN, 1e-10)
				return true
			}
		}
		return false
	})
	odds := RecordCharacteristic(Sequential{P0: 0.5, P1: 0.7, Alpha: 0.1, Beta: 0.1, Every: 1}, 10)
	if len(odds) != 12 {
		t.Errorf("%d points", len(odds))
	}
	for i := range odds[1:] {
		if odds[i+1].PC <= odds[i].PC || odds[i+1].Qualified < odds[i].Qualified {
			t.Errorf("not rising: %+v, %+v", odds[i], odds[i+1])
		}
	}
}
