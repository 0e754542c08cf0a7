package stats

import "fmt"

// PcFromPd returns the probability of a correct answer when a share pd of the
// assessors perceives the difference and the others guess:
//
//	pc = chance + pd (1 - chance)
//
// pd = 1 gives exactly 1, pd = 0 exactly chance. A negative pd is taken as it
// is, for limits that were not cut; the result is a probability for pd from
// -chance/(1 - chance) to 1.
//
// It panics unless 0 ≤ chance < 1.
func PcFromPd(pd, chance float64) float64 {
	checkChance(chance)
	return chance + pd*(1-chance)
}

// PdFromPc returns the proportion of discriminators that goes with pc:
//
//	pd = (pc - chance) / (1 - chance)
//
// It is negative where pc is below chance; the caller decides whether to show
// that or to cut it at 0.
//
// It panics unless 0 ≤ chance < 1.
func PdFromPc(pc, chance float64) float64 {
	checkChance(chance)
	return (pc - chance) / (1 - chance)
}

// Power returns the probability that n evaluations, each correct with
// probability pc, reach the [MinCorrect] x of chance and alpha; 0 where no count
// does:
//
//	P(X ≥ x), X ~ Bin(n, pc)
//
// It is one-sided and exact, with the relative error of [UpperTail]. At pc =
// chance it is the actual alpha of the test.
//
// Power rises with pc but not with n: it is a saw-tooth, as the minimum jumps
// by whole answers.
//
// It panics unless n ≥ 1 and chance, alpha and pc lie in [0, 1].
func Power(n int, chance, alpha, pc float64) float64 {
	checkProbability("pc", pc)
	x, ok := MinCorrect(n, chance, alpha)
	if !ok {
		return 0
	}
	return UpperTail(n, x, pc)
}

func checkChance(chance float64) {
	if !(chance >= 0 && chance < 1) { // NaN fails too
		panic(fmt.Sprintf("stats: chance = %v leaves nothing to perceive", chance))
	}
}
