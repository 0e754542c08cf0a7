package stats

import (
	"math"
	"testing"
)

func TestPoissonBinomialReference(t *testing.T) {
	eachRecord(t, judgesFolder+"poisson_binomial.csv", 17, func(r record) bool {
		p, x := r.floats("p"), r.int("x")
		got := PoissonBinomial(p)
		parts := make([][]float64, len(p))
		for i, q := range p {
			parts[i] = []float64{1 - q, q}
		}
		sum := sumOf(parts)
		r.close("pmf", got[x], 1e-13)
		r.close("at_most", sum.atMost(x), 1e-13)
		r.close("at_least", sum.atLeast(x), 1e-13)
		return len(got) == r.int("n")+1
	})
}

func TestPoissonBinomialLikeAnswers(t *testing.T) {
	for _, n := range []int{1, 50, 1500} {
		p := make([]float64, n)
		for i := range p {
			p[i] = 0.37
		}
		got := PoissonBinomial(p)
		for x := range got {
			if want := PMF(n, x, 0.37); want > 1e-55 && !agrees(got[x], want, 1e-11) {
				t.Fatalf("n %d x %d: %v, want %v", n, x, got[x], want)
			}
		}
	}
	if got := PoissonBinomial(nil); len(got) != 1 || got[0] != 1 {
		t.Errorf("of no answers: %v", got)
	}
	if !panics(func() { PoissonBinomial([]float64{1.1}) }) || !panics(func() { PoissonBinomial([]float64{math.NaN()}) }) {
		t.Error("no panic")
	}
}
