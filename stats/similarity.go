package stats

import (
	"math"
	"sort"
)

// MaxCorrect returns the largest x that shows similarity at risk beta and the
// limit pd:
//
//	P(X ≤ x) ≤ beta, X ~ Bin(n, pc), pc = chance + pd (1 - chance)
//
// With at most x correct answers fewer than a share pd of the assessors
// perceive the difference, at risk beta; equivalently the exact one-sided upper
// limit of pd (see [PdLimits]) does not exceed pd. The test is exact and
// one-sided. A tail equal to beta reaches it; equal means within 1e-12 of it,
// relatively.
//
// ok is false where no conclusion can be drawn: x is below the number n·chance
// that guessing alone leads to be expected, where the standards print a dash
// (ISO 4120), or it is -1 because not even no correct answer reaches beta.
//
// Where either product may be the one picked more often, as in a two-sided paired
// comparison, [SimilarBothWays] is the test. Each answer should come from
// another assessor: replicates counted as independent are not valid for
// similarity.
//
// It panics unless n ≥ 1, 0 ≤ chance < 1, 0 ≤ beta ≤ 1 and 0 ≤ pd ≤ 1.
func MaxCorrect(n int, chance, beta, pd float64) (x int, ok bool) {
	checkSize(n)
	checkChance(chance)
	checkProbability("pd", pd)
	return maxCorrect(n, chance, beta, PcFromPd(pd, chance))
}

// maxCorrect is [MaxCorrect] with the limit as the probability pc.
func maxCorrect(n int, chance, beta, pc float64) (x int, ok bool) {
	checkSize(n)
	checkChance(chance)
	checkProbability("beta", beta)
	checkProbability("pc", pc)
	level := math.Log(beta) + tie
	x = sort.Search(n+1, func(x int) bool { return LogLowerTail(n, x, pc) > level }) - 1
	return x, atLeastChance(n, x, chance)
}

// atLeastChance tells whether x is no less than n·chance, in spite of the last
// bit of the product.
func atLeastChance(n, x int, chance float64) bool {
	return x >= 0 && float64(x) >= float64(n)*chance*(1-tie)
}

// SimilarityP returns the p-value of the similarity test: the probability of
// at most x correct answers if a share pd perceives the difference,
//
//	P(X ≤ x), X ~ Bin(n, chance + pd (1 - chance))
//
// At or below beta it shows, at that risk, that fewer than pd perceive it. It
// is exact and one-sided, with the relative error of [LowerTail]. A small value
// with fewer than n·chance correct answers shows nothing: see [MaxCorrect].
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n, 0 ≤ chance < 1 and 0 ≤ pd ≤ 1.
func SimilarityP(n, x int, chance, pd float64) float64 {
	checkCount(n, x)
	checkChance(chance)
	checkProbability("pd", pd)
	return LowerTail(n, x, PcFromPd(pd, chance))
}

// SimilarityPower returns the probability that n evaluations, each correct
// with probability pc, reach the similarity decision of [MaxCorrect] at beta
// and the limit pd; 0 where it allows no conclusion. At pc = chance it is the
// probability that identical products pass, at the pc of pd the actual beta.
//
// It panics where [MaxCorrect] does and unless 0 ≤ pc ≤ 1.
func SimilarityPower(n int, chance, beta, pd, pc float64) float64 {
	checkProbability("pc", pc)
	x, ok := MaxCorrect(n, chance, beta, pd)
	if !ok {
		return 0
	}
	return LowerTail(n, x, pc)
}

// SimilarWithin returns the smallest limit pd that a panel of n can promise to
// test: at it the similarity test has a risk of at most beta, and identical
// products pass it with a probability of at least 1 - alpha. ok is false, and
// pd 1, where there is none but pd = 1.
//
// With k the smallest count with P(X > k) ≤ alpha when everybody guesses, and
// k ≥ n·chance, pd belongs to the pc that solves
//
//	P(X ≤ k) = beta, X ~ Bin(n, pc)
//
// It is exact, with an absolute error below 1e-14 for beta up to 1/2.
//
// It panics unless n ≥ 1, 0 ≤ chance < 1, 0 < alpha < 1 and 0 < beta < 1.
func SimilarWithin(n int, chance, alpha, beta float64) (pd float64, ok bool) {
	checkSize(n)
	checkChance(chance)
	checkRisk("alpha", alpha)
	checkRisk("beta", beta)
	k := n
	if x, ok := MinCorrect(n, chance, alpha); ok {
		k = max(x-1, 0)
	}
	for k < n && !atLeastChance(n, k, chance) {
		k++
	}
	if k == n {
		return 1, false
	}
	pc := max(chance, upperLimit(k, n, beta))
	return PdFromPc(pc, chance), true
}
