package stats

import (
	"fmt"
	"math"
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

func BenchmarkSign(b *testing.B) {
	for b.Loop() {
		Sign(61, 39, 4)
	}
}
