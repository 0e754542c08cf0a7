package stats

import (
	"fmt"
	"sort"
)

// Holm returns the p-values adjusted for being m tests of one question, in the
// order given. Those at or below a are significant together, with a
// probability of at most a that any of them is a false alarm, whatever the
// dependence of the tests. With p_(1) ≤ … ≤ p_(m)
//
//	adjusted_(i) = max_{j ≤ i} min(1, (m-j+1) p_(j))
//
// (S. Holm, Scandinavian Journal of Statistics 6, 1979; from memory.) None is
// below its unadjusted value. The result is exact but for rounding.
//
// It panics unless all are probabilities.
func Holm(p []float64) []float64 {
	order := rising(p)
	adjusted := make([]float64, len(p))
	largest := 0.0
	for i, at := range order {
		largest = max(largest, min(1, float64(len(p)-i)*p[at]))
		adjusted[at] = largest
	}
	return adjusted
}

// BenjaminiHochberg returns the p-values adjusted for the false discovery rate,
// in the order given: of those at or below a, a share of at most a is expected
// to be false alarms, where the tests are independent or positively dependent.
// It is weaker than [Holm], for screening. With p_(1) ≤ … ≤ p_(m)
//
//	adjusted_(i) = min_{j ≥ i} min(1, m p_(j) / j)
//
// (Y. Benjamini, Y. Hochberg, Journal of the Royal Statistical Society B 57,
// 1995; from memory.) The result is exact but for rounding.
//
// It panics unless all are probabilities.
func BenjaminiHochberg(p []float64) []float64 {
	order := rising(p)
	adjusted := make([]float64, len(p))
	smallest := 1.0
	for i := len(order) - 1; i >= 0; i-- {
		smallest = min(smallest, float64(len(p))/float64(i+1)*p[order[i]])
		adjusted[order[i]] = smallest
	}
	return adjusted
}

// rising returns the indices of p in rising order of the values.
func rising(p []float64) []int {
	order := make([]int, len(p))
	for i, value := range p {
		checkProbability(fmt.Sprintf("p-value %d", i+1), value)
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	return order
}
