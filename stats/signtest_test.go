package stats

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

func TestSignAgainstReference(t *testing.T) {
	eachRecord(t, "i_sign_test.csv", 12, func(r record) bool {
		test := Sign(r.int("n_plus"), r.int("n_minus"), 3)
		r.near("P_one_sided_plus", test.PGreater, 1e-13)
		r.near("P_two_sided", test.PValue, 1e-13)
		if test.N != r.int("n") || test.Ties != 3 {
			t.Errorf("%s:%d: %+v", r.file, r.line, test)
		}
		mirror := Sign(r.int("n_minus"), r.int("n_plus"), 0)
		if mirror.PLess != test.PGreater || mirror.PValue != test.PValue {
			t.Errorf("%s:%d: mirrored %+v", r.file, r.line, mirror)
		}
		return true
	})
}

func TestSignIsValid(t *testing.T) {
	for n := 1; n <= 60; n++ {
		var two, greater []nullP
		for plus := 0; plus <= n; plus++ {
			test := Sign(plus, n-plus, 0)
			two = append(two, nullP{test.PValue, PMF(n, plus, 0.5)})
			greater = append(greater, nullP{test.PGreater, PMF(n, plus, 0.5)})
		}
		name := fmt.Sprintf("%d differences", n)
		checkValid(t, name+", two-sided", two)
		checkValid(t, name+", greater", greater)
		smallest := 2 * math.Pow(0.5, float64(n))
		if got := warnsOf(Sign(n, 0, 0).Warnings, NothingSignificant); got != (smallest > 0.05) {
			t.Errorf("%s: the smallest p is %v, warned %v", name, smallest, got)
		}
	}
}

func TestSignDegenerate(t *testing.T) {
	got := Sign(0, 0, 12)
	if got.PValue != 1 || got.PGreater != 1 || got.PLess != 1 || !warnsOf(got.Warnings, NothingToTest) {
		t.Errorf("ties only: %+v", got)
	}
	for _, bad := range [][3]int{{-1, 2, 0}, {1, -2, 0}, {1, 2, -1}} {
		if !panics(func() { Sign(bad[0], bad[1], bad[2]) }) {
			t.Errorf("%v did not panic", bad)
		}
	}
}

func TestSignByMajority(t *testing.T) {
	got := SignByMajority([]Replicates{{4, 3}, {4, 2}, {4, 1}, {3, 2}, {1, 1}, {1, 0}, {2, 1}, {5, 5}, {math.MaxInt, math.MaxInt - 1}})
	if want := Sign(5, 2, 2); got.Plus != 5 || got.Minus != 2 || got.Ties != 2 || got.PValue != want.PValue || got.PGreater != want.PGreater {
		t.Errorf("%+v, want %+v", got, want)
	}
	if got := SignByMajority(nil); got.PValue != 1 || !warnsOf(got.Warnings, NothingToTest) {
		t.Errorf("nobody: %+v", got)
	}
	for _, bad := range []Replicates{{0, 0}, {4, 5}, {4, -1}} {
		if !panics(func() { SignByMajority([]Replicates{bad}) }) {
			t.Errorf("%v did not panic", bad)
		}
	}
}

// Every result of assessors with 1 to 3 sets whose answers depend on each other
// as in the beta-binomial model: without a difference on average the test holds
// its level, where one that counts every answer does not.
func TestSignByMajorityIsValid(t *testing.T) {
	sets := []int{1, 2, 3, 3, 3, 2, 3, 3, 3}
	for _, gamma := range []float64{0, 0.3, 0.9} {
		var two, greater, pooled []nullP
		var fill func(done []Replicates, chance float64)
		fill = func(done []Replicates, chance float64) {
			if i := len(done); i < len(sets) {
				for x := range sets[i] + 1 {
					p := math.Exp(BetaBinomial{0, 0.5, gamma}.LogPMF(sets[i], x))
					fill(append(done, Replicates{sets[i], x}), chance*p)
				}
				return
			}
			test := SignByMajority(done)
			two = append(two, nullP{test.PValue, chance})
			greater = append(greater, nullP{test.PGreater, chance})
			n, x := 0, 0
			for _, a := range done {
				n, x = n+a.N, x+a.Correct
			}
			pooled = append(pooled, nullP{TwoSidedP(n, x), chance})
		}
		fill(nil, 1)
		name := fmt.Sprintf("gamma %v", gamma)
		checkValid(t, name+", two-sided", two)
		checkValid(t, name+", greater", greater)
		if excess := worstExcess(pooled, 0, 0.2); (excess > 1e-11) != (gamma > 0) {
			t.Errorf("%s: all answers counted singly exceed by %v", name, excess)
		}
	}
}

func BenchmarkSignByMajority(b *testing.B) {
	data := slices.Repeat([]Replicates{{4, 3}, {4, 2}, {4, 1}}, 34)
	for b.Loop() {
		SignByMajority(data)
	}
}

func BenchmarkSign(b *testing.B) {
	for b.Loop() {
		Sign(61, 39, 4)
	}
}
