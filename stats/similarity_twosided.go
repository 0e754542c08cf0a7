package stats

import "fmt"

// BothWaysSimilarity is the answer to whether a paired comparison shows that
// two products are alike both ways: neither of them is picked much more often
// than the other.
//
// The two are alike within Pd when the probability pc of picking the one
// product lies strictly between 1/2 - Pd/2 and 1/2 + Pd/2. Each side is a test
// of its own at risk Beta, and Similar is true only when both reject.
type BothWaysSimilarity struct {
	N, X     int // X of N answers picked the one product
	Pd, Beta float64

	// PUpper tests pc ≥ 1/2 + Pd/2 and PLower pc ≤ 1/2 - Pd/2: how probable it is,
	// at that limit, that the one product is picked so seldom or so often. Both are
	// exact and one-sided. PValue, the larger of them, is the exact p-value of
	// the decision.
	PUpper, PLower, PValue float64

	// Lowest and Highest bound the counts that show similarity, both included;
	// see [SimilarityRange]. Conclusive is false, and they are 0, where none does.
	Lowest, Highest int
	Conclusive      bool

	Similar bool

	// Power is the probability that identical products pass; 0 where nothing does.
	Power float64

	// Estimate has the exact intervals at confidence 1 - 2·Beta. That of pd lies
	// within -Pd and Pd just where Similar is true (but for Pd = 1, which it
	// touches when all picked the same).
	Estimate BothWays

	Warnings []Warning
}

// SimilarBothWays decides, at risk beta, whether x picks of one product out of
// n show that the products are alike within the limit pd, whichever is picked
// more often. The two p-values are, with h = 1/2 + pd/2,
//
//	PUpper = P(X ≤ x),     X ~ Bin(n, h)
//	PLower = P(X ≥ x),     X ~ Bin(n, 1-h)
//
// and both must be at most beta, a tie counting as in [MaxCorrect]. There is
// nothing to adjust for: where the products differ by pd or more one of the two
// rejections is an error, so "alike" is wrong with a probability of at most
// beta (two one-sided tests, D. J. Schuirmann, 1987; from memory). It is exact; the
// relative error of the p-values is that of [LowerTail].
//
// A result may be similar and, by [TwoSidedP], significantly different too: a
// large panel sees a difference that is smaller than the limit. It may be
// neither. The limit of a d′ is the [PdFromPc] of its pc. Each answer should
// come from another assessor: replicates counted as independent are not valid
// for similarity.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n, 0 < beta < 1/2 and 0 ≤ pd ≤ 1.
func SimilarBothWays(n, x int, beta, pd float64) BothWaysSimilarity {
	checkCount(n, x)
	s := BothWaysSimilarity{N: n, X: x, Pd: pd, Beta: beta}
	s.Lowest, s.Highest, s.Conclusive = SimilarityRange(n, beta, pd)
	s.Similar = s.Conclusive && s.Lowest <= x && x <= s.Highest
	s.PUpper = SimilarityP(n, x, 0.5, pd)
	s.PLower = SimilarityP(n, n-x, 0.5, pd) // the other product's picks, so that 1-h is not rounded
	s.PValue = max(s.PUpper, s.PLower)
	s.Power = SimilarityPowerBothWays(n, beta, pd, 0.5)
	s.Estimate = EstimateBothWays(x, n, 1-2*beta)
	s.Warnings = AdviceForSimilarityBothWays(n, beta, pd)
	return s
}

// SimilarityRange returns the lowest and the highest number of picks of one
// product out of n that show similarity both ways at risk beta and the limit
// pd; see [SimilarBothWays]. With k the [MaxCorrect] of chance 1/2 it is
//
//	n - k to k
//
// ok is false, and both are 0, where no count does: k is below n/2.
//
// It panics unless n ≥ 1, 0 < beta < 1/2 and 0 ≤ pd ≤ 1.
func SimilarityRange(n int, beta, pd float64) (lowest, highest int, ok bool) {
	checkHalfRisk(beta)
	k, ok := MaxCorrect(n, 0.5, beta, pd)
	if !ok {
		return 0, 0, false
	}
	return n - k, k, true
}

// SimilarityPowerBothWays returns the probability that n answers, each for the
// one product with probability pc, show similarity both ways at risk beta and
// the limit pd:
//
//	P(lowest ≤ X ≤ highest), X ~ Bin(n, pc)
//
// over the [SimilarityRange]; 0 where that is empty. It is the same at pc and
// 1 - pc and highest at 1/2, where the products are identical. From the limits
// 1/2 ± pd/2 outwards it is at most beta. Its relative error is below 1e-11
// for n up to 10 000, wherever it is a normal float64.
//
// It panics unless n ≥ 1, 0 < beta < 1/2, 0 ≤ pd ≤ 1 and 0 ≤ pc ≤ 1.
func SimilarityPowerBothWays(n int, beta, pd, pc float64) float64 {
	checkProbability("pc", pc)
	_, highest, ok := SimilarityRange(n, beta, pd)
	if !ok {
		return 0
	}
	return betweenWays(n, highest+1, pc)
}

// SimilarityPanelBothWays returns what a similarity test both ways with n
// answers does at risk beta and the limit pc: the largest number for the larger
// side, MaxCorrect, its actual beta at the limit, and the probability that
// identical products pass, all exact. Without a conclusion nothing ever passes:
// the actual beta is 0 and the actual alpha 1.
//
// It panics unless n ≥ 1, 0 < beta < 1/2 and 0 ≤ pc ≤ 1.
func SimilarityPanelBothWays(n int, beta, pc float64) Panel {
	checkHalfRisk(beta)
	p := Panel{N: n, ActualAlpha: 1}
	p.MaxCorrect, p.Conclusive = maxCorrect(n, 0.5, beta, pc)
	if !p.Conclusive {
		return p
	}
	p.ActualBeta = betweenWays(n, p.MaxCorrect+1, pc)
	p.Power = betweenWays(n, p.MaxCorrect+1, 0.5)
	p.ActualAlpha = bothWays(n, p.MaxCorrect+1, 0.5)
	return p
}

// AssessorsSimilarBothWays returns the numbers of assessors that a similarity
// test both ways needs: at most beta to call products alike where one of them is
// picked with probability pc or more, at most alpha to miss that identical
// products are alike. The pc of a limit pd is 1/2 + pd/2, that of a d′ comes from
// [Psychometric.PC] of the paired comparison.
//
// Identical products miss the range on either side with the same probability,
// so this is the one-sided plan of [AssessorsSimilar] for alpha/2, not for
// alpha. The search and its bounds are those of [Assessors]. A warning tells
// where fewer than 30 would do, which is not advised.
//
// It panics unless 0 ≤ pc ≤ 1, 0 < alpha < 1 and 0 < beta < 1/2. A pc not above
// 1/2, or one too close to it, is answered by a warning.
func AssessorsSimilarBothWays(alpha, beta, pc float64) Sizes {
	checkHalfRisk(beta)
	s := newSizes(GoalSimilarity, TwoSided, 0.5, alpha, beta, pc)
	if len(s.Warnings) > 0 {
		return s
	}
	search := sizeSearch{
		null: 1 - pc, alt: 0.5, level: beta, missed: alpha / 2, highest: beta,
		conclusive: func(n, wrong int) bool { return atLeastChance(n, n-wrong, 0.5) },
	}
	s = s.fill(search, func(n int) Panel { return SimilarityPanelBothWays(n, beta, pc) })
	if s.Found {
		s.Warnings = append(s.Warnings, adviceFewForSimilarity(s.Assessors.N)...)
	}
	return s
}

// SimilarWithinBothWays returns the smallest limit pd that a panel of n can
// promise to test both ways: at it the risk is at most beta, and identical
// products pass with a probability of at least 1 - alpha. It is the
// [SimilarWithin] of chance 1/2 and alpha/2. ok is false, and pd 1, where there
// is none but pd = 1.
//
// It panics unless n ≥ 1, 0 < alpha < 1 and 0 < beta < 1/2.
func SimilarWithinBothWays(n int, alpha, beta float64) (pd float64, ok bool) {
	checkRisk("alpha", alpha)
	checkHalfRisk(beta)
	return SimilarWithin(n, 0.5, alpha/2, beta)
}

// AdviceForSimilarityBothWays returns what n answers cannot show in a
// similarity test both ways at risk beta and the limit pd: that fewer than 30
// are not advised, that no count allows a conclusion, or that identical
// products would pass with a probability below 0.8. nil when there is nothing
// to say.
//
// It panics unless n ≥ 1, 0 < beta < 1/2 and 0 ≤ pd ≤ 1.
func AdviceForSimilarityBothWays(n int, beta, pd float64) []Warning {
	_, _, ok := SimilarityRange(n, beta, pd)
	all := adviceFewForSimilarity(n)
	if !ok {
		return append(all, Warning{NoConclusion, fmt.Sprintf(
			"No result of %s shows similarity both ways within this limit, not even an even split.", answers(n))})
	}
	return append(all, adviceIdenticalFail(SimilarityPowerBothWays(n, beta, pd, 0.5))...)
}

func checkHalfRisk(beta float64) {
	if !(beta > 0 && beta < 0.5) { // NaN fails too
		panic(fmt.Sprintf("stats: beta = %v is not between 0 and 1/2", beta))
	}
}
