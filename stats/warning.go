package stats

import (
	"fmt"
	"math"
)

// WarningKind names what a [Warning] is about, for a caller that shows some
// warnings differently or words them in its own way. The kinds are constants
// beside the functions that give them; their text is stable and is also what
// machine-readable output prints.
type WarningKind string

// Warning is one thing that a reader must know before trusting a result: the
// data are too little, too one-sided or too rough for it. Warnings never
// replace a result and never change a number.
type Warning struct {
	Kind WarningKind
	Say  string // one plain sentence for people, capital letter to full stop
}

// What the advice of this file is about. None of these says that a result is
// wrong; each says what it cannot show.
const (
	NothingSignificant   WarningKind = "nothing-significant"
	OnlyLargeDifferences WarningKind = "only-large-differences"
	FewForSimilarity     WarningKind = "few-for-similarity"
	NoConclusion         WarningKind = "no-conclusion"
	IdenticalOftenFail   WarningKind = "identical-often-fail"
	FarBelowChance       WarningKind = "far-below-chance"
)

// fewForSimilarity is the number of assessors below which ISO 5495 does not
// advise a similarity test (note to its table A.3). For the triangle the same
// holds in common practice, no source.
const fewForSimilarity = 30

// largeDifference is the largest proportion of discriminators for which the
// standards' tables of the number of assessors are made (from memory).
const largeDifference = 0.5

// usualPower is the power that advice looks for (common practice, no source).
const usualPower = 0.8

// AdviceForDifference returns what n evaluations cannot show in a difference
// test at level alpha: nothing at all, or only a difference that more than half
// of the assessors perceive. It is for plans as well as for results; nil when
// there is nothing to say.
//
// It panics unless n ≥ 1, 0 < chance < 1 and 0 < alpha < 1, or when sided is
// [TwoSided] and chance is not 1/2.
func AdviceForDifference(n int, chance, alpha float64, sided Sided) []Warning {
	checkRisk("chance", chance)
	checkRisk("alpha", alpha)
	pd, ok := Detectable(n, chance, alpha, usualPower, sided)
	switch {
	case !ok:
		say := fmt.Sprintf("No result of %s can be significant at %v", answers(n), alpha)
		if least := leastSignificant(chance, alpha, sided); least > 0 {
			say += fmt.Sprintf("; it takes at least %s", answers(least))
		}
		return []Warning{{NothingSignificant, say + "."}}
	case pd > largeDifference:
		return []Warning{{OnlyLargeDifferences, fmt.Sprintf(
			"With %s only a large difference is found with probability %v: one that %.0f in 100 assessors perceive.",
			answers(n), usualPower, math.Ceil(pd*100))}}
	}
	return nil
}

// AdviceForSimilarity returns what n evaluations cannot show in a similarity
// test at risk beta and the limit pd: that fewer than 30 are not advised, that
// no count allows a conclusion, or that identical products would pass with a
// probability below 0.8. nil when there is nothing to say.
//
// It panics unless n ≥ 1, 0 < chance < 1, 0 < beta < 1 and 0 ≤ pd ≤ 1.
func AdviceForSimilarity(n int, chance, beta, pd float64) []Warning {
	checkRisk("chance", chance)
	checkRisk("beta", beta)
	checkProbability("pd", pd)
	all := adviceFewForSimilarity(n)
	panel := SimilarityPanel(n, chance, beta, PcFromPd(pd, chance))
	switch {
	case !panel.Conclusive:
		all = append(all, Warning{NoConclusion, fmt.Sprintf(
			"No result of %s allows the conclusion of similarity: the maximum correct would lie below what guessing gives.", answers(n))})
	default:
		all = append(all, adviceIdenticalFail(panel.Power)...)
	}
	return all
}

// adviceIdenticalFail tells when identical products pass a similarity test with
// too small a probability.
func adviceIdenticalFail(passes float64) []Warning {
	if passes >= usualPower {
		return nil
	}
	return []Warning{{IdenticalOftenFail, fmt.Sprintf(
		"Even identical products would pass with probability %.2f only.", passes)}}
}

func adviceFewForSimilarity(n int) []Warning {
	if n >= fewForSimilarity {
		return nil
	}
	return []Warning{{FewForSimilarity, fmt.Sprintf("Fewer than %d assessors: similarity is not advised.", fewForSimilarity)}}
}

// AdviceForCount tells when x correct of n are so few that guessing hardly
// explains them, P(X ≤ x) ≤ 0.05 at chance: a sign that codes were mixed up or
// the question was misread, and no evidence of similarity. nil otherwise.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ chance ≤ 1.
func AdviceForCount(n, x int, chance float64) []Warning {
	p := LowerTail(n, x, chance)
	if p > 0.05 {
		return nil
	}
	return []Warning{{FarBelowChance, fmt.Sprintf(
		"%d correct of %d is fewer than guessing explains (probability %.2g): check the serving key before you read the result. In a one-sided comparison the lots may also differ the other way, which it can’t show.", x, n, p)}}
}

// adviceBelowChance tells that an estimate of pd was below 0.
func adviceBelowChance(n, x int, chance float64) []Warning {
	if atLeastChance(n, x, chance) {
		return nil
	}
	return []Warning{{BelowChance, fmt.Sprintf(
		"%d correct of %d is fewer than guessing leads to expect: the estimated proportion of discriminators is none.", x, n)}}
}

// leastSignificant returns the smallest number of answers that can be
// significant at alpha, 0 when that is beyond [LargestPanel].
func leastSignificant(chance, alpha float64, sided Sided) int {
	if sided == TwoSided {
		alpha /= 2
	}
	atLeast := math.Log(alpha) / math.Log(chance)
	if atLeast > LargestPanel {
		return 0
	}
	for n := max(1, int(atLeast)-1); ; n++ {
		if _, ok := MinCorrect(n, chance, alpha); ok {
			return n
		}
	}
}

func answers(n int) string {
	if n == 1 {
		return "1 answer"
	}
	return fmt.Sprintf("%d answers", n)
}
