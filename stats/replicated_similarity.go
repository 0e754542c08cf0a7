package stats

import (
	"fmt"
	"math"
)

// ReplicatedSimilarity is the similarity decision from assessors who did the
// same test several times each: whether the mean over all assessors of their own
// pd, Mu of the [BetaBinomial] model, lies below a limit.
type ReplicatedSimilarity struct {
	Assessors, N, Correct int     // N evaluations in all
	Chance                float64 // of the method
	Pd, Beta              float64 // the limit and the risk, as asked

	// Estimate is the maximum-likelihood estimate of the mean pd, Upper its
	// one-sided upper limit at confidence 1 - Beta.
	Estimate, Upper float64

	// Guessing is what Upper would be if the answers spread just as guesses are
	// expected to. Conclusive tells whether it is at most Pd, else nothing less
	// than luck can show similarity, and whether there are
	// [FewestForReplicatedSimilarity] assessors; where it is false no conclusion is
	// drawn.
	Guessing   float64
	Conclusive bool

	// Similar is true where Conclusive is and Upper is at most Pd.
	Similar bool

	Warnings []Warning
}

// FewestForReplicatedSimilarity is the number of assessors below which
// [DecideReplicatedSimilarity] draws no conclusion, however many sets each has:
// the likelihood ratio is an approximation for many, and with few of them, all
// at chance by luck, it says "similar" too often. Over 2 to 6 sets, chance 1/3 and
// 1/2, limits of 0.2, 0.3, 0.4 and 0.5, the largest risk of a wrong "similar" where
// a share of just the limit perceives the difference in every set and all others
// guess, by enumeration of every panel without this rule:
//
//	assessors   3     4     5     6     7     8     9     10    11
//	beta 0.05  0.145 0.101 0.110 0.087 0.065 0.087 0.078 0.064 0.072
//	beta 0.10  0.208 0.172 0.177 0.145 0.134 0.116 0.137 0.125 0.096
//
// From 12 to 18 assessors it is at most 0.050 and 0.100 with 2 to 4 sets, and at
// most 0.066 and 0.129 with 5 and 6, where no number of people up to 18 keeps beta
// to the last digit; with 20 it is 0.047 and 0.106 there. Other people than those, a beta-binomial with γ 0, 0.3 or 0.6,
// are called similar at the limit with at most 0.066 and 0.125.
const FewestForReplicatedSimilarity = 12

// DecideReplicatedSimilarity decides whether fewer than a share pd perceive the
// difference, on average over the assessors, at risk beta. Upper is the largest
// mean pd μ that the profile likelihood of the chance-corrected beta-binomial
// model, with the overdispersion γ at its best for each μ, does not reject:
//
//	2 (max ℓ(μ, γ) - max_γ ℓ(Upper, γ)) = z²,   Φ(-z) = beta
//
// (the signed root of the likelihood ratio; common practice, from memory). One
// binomial count of all answers, as [MaxCorrect] takes it, is no test of
// similarity here: where assessors differ its real risk exceeds beta.
//
// The decision is one-sided and not exact. With chance 1/3 and beta 0.05 the
// probability that Upper falls below the true mean pd is, over means of 0.2, 0.3
// and 0.5 and γ of 0, 0.1, 0.3, 0.6 and 1, by exact enumeration of every panel
//
//	12 assessors with 3 replicates   0.024 to 0.056
//	30 assessors with 2 replicates   0.026 to 0.050
//
// and at a mean of 0.3, by simulation of 5000 panels, each within 0.003,
//
//	40 assessors with 4 replicates        0.045 (γ = 0)   0.053 (γ = 0.5)
//	24 assessors with 1 to 5 replicates   0.043 (γ = 0)   0.051 (γ = 0.5)
//
// The risk of a wrong "similar" is that or, where a panel is not Conclusive, 0.
// By a count of all answers it is up to 0.089 in the panels enumerated.
//
// Assessors may have different numbers of replicates. With one each γ cannot be
// known and Upper is that of the binomial model; [PdLimits] is exact then.
//
// It panics on an empty list, an impossible count, a chance outside [0, 1), a
// beta that is not between 0 and 1/2, and a pd that is not between 0 and 1.
func DecideReplicatedSimilarity(assessors []Replicates, chance, beta, pd float64) ReplicatedSimilarity {
	checkRisk("pd", pd)
	if !(beta > 0 && beta < 0.5) { // NaN fails too
		panic(fmt.Sprintf("stats: beta = %v is not between 0 and 1/2", beta))
	}
	cut := chiSquareCut(1-2*beta) / 2
	t := newTally(assessors, chance)
	f := t.fit()
	s := ReplicatedSimilarity{
		Assessors: t.assessors, N: t.n, Correct: t.correct, Chance: chance, Pd: pd, Beta: beta,
		Estimate: f.Mu,
		Upper:    t.upper(f.Mu, f.LogLikelihood-cut),
	}
	guesses := t.guessing()
	s.Guessing = guesses.upper(0, guesses.loglik(0, 1, 0, 1)-cut)
	few := t.assessors < FewestForReplicatedSimilarity
	s.Conclusive = !few && s.Guessing <= pd*(1+tie)
	s.Similar = s.Conclusive && s.Upper <= pd*(1+tie)
	s.Warnings = adviceFewForSimilarity(t.assessors)
	for _, w := range t.warnings(f) {
		if w.Kind != ReplicatesAtBound { // the limit does without standard errors
			s.Warnings = append(s.Warnings, w)
		}
	}
	switch {
	case few:
		s.Warnings = append(s.Warnings, Warning{NoConclusion, fmt.Sprintf(
			"With several answers each, no conclusion of similarity is drawn from fewer than %d assessors: by chance hardly any of so few may be of those who perceive a difference, however many sets each had.", FewestForReplicatedSimilarity)})
	case !s.Conclusive:
		s.Warnings = append(s.Warnings, Warning{NoConclusion, fmt.Sprintf(
			"Even answers that spread just as guesses would leave a mean pd of up to %.2f open, above the limit of %v: no conclusion of similarity is drawn from such a panel.", s.Guessing, pd)})
	}
	s.Warnings = append(s.Warnings, AdviceForCount(t.n, t.correct, chance)...)
	return s
}

// upper returns the largest Mu above the best whose profile likelihood is at
// least so large.
func (t tally) upper(best, least float64) float64 {
	return within(best, func(mu float64) float64 { return t.bestGamma(mu) - least }).Upper
}

// LeastReplicatedSimilarity returns the smallest number of assessors, each with so
// many sets, from which [DecideReplicatedSimilarity] draws a conclusion: the
// likelihood of guesses grows with each assessor alike, so Guessing reaches the
// limit pd at
//
//	z²/2 / (ℓ(0) - max_γ ℓ(pd, γ)),   ℓ the mean log-likelihood of one guesser
//
// of them, and there are never fewer than [FewestForReplicatedSimilarity]. It is 0
// where more than [LargestPanel] are needed.
//
// It panics unless sets ≥ 1, 0 ≤ chance < 1, 0 < beta < 1/2 and 0 < pd < 1.
func LeastReplicatedSimilarity(sets int, chance, beta, pd float64) int {
	checkSize(sets)
	checkRisk("pd", pd)
	checkHalfRisk(beta)
	guesser := newTally([]Replicates{{N: sets}}, chance).guessing()
	needed := math.Ceil(chiSquareCut(1-2*beta) / 2 / (guesser.loglik(0, 1, 0, 1) - guesser.bestGamma(pd)) * (1 - 1e-9))
	if !(needed <= LargestPanel) {
		return 0
	}
	return max(int(needed), FewestForReplicatedSimilarity)
}

// guessing returns the tally of the same assessors if their answers spread just
// as those of guessers are expected to: every count as often as it is probable.
func (t tally) guessing() tally {
	sizes := map[int]float64{}
	for _, g := range t.groups {
		sizes[g.n] += g.many
	}
	guesses := tally{chance: t.chance, most: t.most}
	for n := 1; n <= t.most; n++ {
		for x := 0; x <= n && sizes[n] > 0; x++ {
			g := newGroup(n, x, 1, t.chance)
			g.many = sizes[n] * math.Exp(LogPMF(n, x, t.chance))
			if g.many > 0 {
				guesses.groups = append(guesses.groups, g)
			}
		}
	}
	return guesses
}
