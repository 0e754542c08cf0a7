package stats

import (
	"math"
	"sort"
)

// tie is the relative difference below which a tail and alpha count as equal.
// The rule is P ≤ alpha, and a tail such as 1/10 or 7/27 that equals alpha
// exactly must not be lost to the last bit of a float64.
const tie = 1e-12

// MinCorrect returns the smallest x with P(X ≥ x) ≤ alpha for X ~ Bin(n, chance):
// the number of correct answers that shows a difference at level alpha, one-sided.
// A tail equal to alpha reaches it; equal means within 1e-12 of it, relatively.
// ok is false, and x 0, where not even x = n reaches alpha: the panel is too small.
// With alpha = 1 the answer is 0.
//
// It panics unless n ≥ 1, 0 ≤ chance ≤ 1 and 0 ≤ alpha ≤ 1.
func MinCorrect(n int, chance, alpha float64) (x int, ok bool) {
	checkSize(n)
	checkProbability("chance", chance)
	checkProbability("alpha", alpha)
	level := logLevel(alpha)
	x = sort.Search(n+1, func(x int) bool { return LogUpperTail(n, x, chance) <= level })
	if x > n {
		return 0, false
	}
	return x, true
}

// logLevel is what the logarithm of a tail must not exceed. Logarithms, so that a
// tail too small for a float64 is not taken for 0.
func logLevel(alpha float64) float64 { return math.Log(alpha) + tie }

// TwoSidedP returns the two-sided p-value of a paired comparison in which x of
// n answers named one product, when both are equally likely to be named:
//
//	min(1, 2 P(X ≥ max(x, n-x))), X ~ Bin(n, 1/2)
//
// It is for a comparison whose direction was not fixed before the test. Its
// relative error is that of [UpperTail].
//
// It panics unless n ≥ 1 and 0 ≤ x ≤ n.
func TwoSidedP(n, x int) float64 {
	checkCount(n, x)
	return min(1, 2*UpperTail(n, max(x, n-x), 0.5))
}
