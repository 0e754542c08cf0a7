package stats

import (
	"fmt"
	"math"
	"math/big"
	"sort"
	"testing"
)

func TestFisherAgainstReference(t *testing.T) {
	eachRecord(t, "i3_fisher_exact.csv", 6, func(r record) bool {
		table := Fisher(r.int("a"), r.int("b"), r.int("c"), r.int("d"))
		r.near("p_two_sided", table.PValue, 1e-12)
		r.near("p_greater", table.PGreater, 1e-12)
		r.near("p_less", table.PLess, 1e-12)
		return true
	})
}

// Whole numbers, every table of two rows of up to 9 and some larger: each of
// the three p-values, and that each is valid.
func TestFisherAgainstWholeNumbers(t *testing.T) {
	type rows struct{ r, s int }
	var pairs []rows
	for r := 1; r <= 9; r++ {
		for s := 1; s <= 9; s++ {
			pairs = append(pairs, rows{r, s})
		}
	}
	pairs = append(pairs, rows{30, 40}, rows{24, 24}, rows{3, 100})
	for _, p := range pairs {
		for m := 0; m <= p.r+p.s; m++ {
			fisherAgainstWholeNumbers(t, p.r, p.s, m)
		}
	}
	fisherAgainstWholeNumbers(t, 4_000, 6_000, 5_000)
}

func fisherAgainstWholeNumbers(t *testing.T, r, s, m int) {
	t.Helper()
	lowest, highest := max(0, m-s), min(r, m)
	var weights []*big.Int
	w := new(big.Int).Binomial(int64(r), int64(lowest))
	w.Mul(w, new(big.Int).Binomial(int64(s), int64(m-lowest)))
	for x := lowest; x <= highest; x++ {
		weights = append(weights, new(big.Int).Set(w))
		w.Mul(w, big.NewInt(int64(r-x)*int64(m-x)))
		w.Quo(w, big.NewInt(int64(x+1)*int64(s-m+x+1)))
	}
	total := new(big.Float).SetPrec(200).SetInt(new(big.Int).Binomial(int64(r+s), int64(m)))
	share := func(in func(x int) bool) float64 {
		sum := new(big.Int)
		for i, w := range weights {
			if in(i) {
				sum.Add(sum, w)
			}
		}
		whole := new(big.Float).SetPrec(200).SetInt(sum)
		f, _ := whole.Quo(whole, total).Float64()
		return f
	}
	step := 1
	if len(weights) > 500 {
		step = 397
	}
	var two, greater, less []nullP
	for i := 0; i < len(weights); i += step {
		a := lowest + i
		got := Fisher(a, r-a, m-a, s-m+a)
		wants := []float64{
			share(func(x int) bool { return weights[x].Cmp(weights[i]) <= 0 }),
			share(func(x int) bool { return x >= i }),
			share(func(x int) bool { return x <= i }),
		}
		for j, p := range []float64{got.PValue, got.PGreater, got.PLess} {
			if !agrees(p, wants[j], 1e-11) && wants[j] > 1e-290 {
				t.Errorf("table %d of %d, %d of %d: p-value %d is %v, want %v (%.1e)", a, r, m-a, s, j, p, wants[j], relative(p, wants[j]))
			}
		}
		chance := share(func(x int) bool { return x == i })
		two = append(two, nullP{got.PValue, chance})
		greater = append(greater, nullP{got.PGreater, chance})
		less = append(less, nullP{got.PLess, chance})
	}
	if step > 1 {
		return
	}
	name := fmt.Sprintf("rows of %d and %d, column of %d", r, s, m)
	checkValid(t, name+", two-sided", two)
	checkValid(t, name+", greater", greater)
	checkValid(t, name+", less", less)
	first := Fisher(lowest, r-lowest, m-lowest, s-m+lowest)
	if got := warnsOf(first.Warnings, NothingSignificant); got != (two[0].p > 0.05) {
		t.Errorf("%s: the smallest p is %v, warned %v", name, two[0].p, got)
	}
}

// Different tables are further apart in probability than the tolerance that
// joins equal ones.
func TestFisherTablesAreApart(t *testing.T) {
	closest := math.Inf(1)
	for _, n := range []int{5, 12, 24, 31, 48, 60} {
		for r := 1; r <= n/2; r++ {
			for m := 1; m <= n/2; m++ {
				var weights []float64 // most of them whole
				for x := max(0, m+r-n); x <= min(r, m); x++ {
					w := new(big.Int).Binomial(int64(r), int64(x))
					w.Mul(w, new(big.Int).Binomial(int64(n-r), int64(m-x)))
					f, _ := new(big.Float).SetInt(w).Float64()
					weights = append(weights, f)
				}
				sort.Float64s(weights)
				for i := 1; i < len(weights); i++ {
					if apart := 1 - weights[i-1]/weights[i]; apart > 1e-15 {
						closest = min(closest, apart)
					}
				}
			}
		}
	}
	t.Logf("different tables of 5 to 60 differ by at least %.2e", closest)
	if closest < 10*sameProbability {
		t.Errorf("two tables differ by %v only", closest)
	}
}

func TestFisherDegenerate(t *testing.T) {
	for _, c := range []struct {
		a, b, c, d int
		kind       WarningKind
	}{
		{0, 0, 0, 0, NothingToTest}, {5, 3, 0, 0, NothingSignificant}, {0, 4, 0, 9, NothingSignificant}, {1, 0, 0, 1, NothingSignificant},
	} {
		got := Fisher(c.a, c.b, c.c, c.d)
		if got.PValue != 1 || !warnsOf(got.Warnings, c.kind) || len(got.Warnings) != 1 {
			t.Errorf("%+v", got)
		}
	}
	if !panics(func() { Fisher(1, 2, -1, 3) }) {
		t.Error("a negative count did not panic")
	}
}

func BenchmarkFisher(b *testing.B) {
	for b.Loop() {
		Fisher(45, 15, 30, 30)
	}
}
