package stats

import "math"

// GuessCount is what a judge had right of the answers declared to be guesses, in
// sets of one method.
type GuessCount struct {
	Chance     float64
	N, Correct int
}

// GuessLuck holds declared guesses against luck: Correct of N, with mean and
// standard deviation of pure luck, and the exact probabilities of at least and at
// most as many by luck. A small PMore says that the judge perceives more than he or
// she trusts in. A large one does not say that all were guesses.
type GuessLuck struct {
	N, Correct   int
	Expected, SD float64
	PMore, PLess float64
}

// GuessesAgainstLuck compares declared guesses of any methods with luck: a sum of
// binomials, one for each chance, which is the binomial where there is one. For many
// judges adjust by [Holm].
//
// It panics on an impossible count, unless 0 < chance < 1. A count of 0 sets is
// allowed.
func GuessesAgainstLuck(counts []GuessCount) GuessLuck {
	var g GuessLuck
	var parts [][]float64
	var variance float64
	for _, c := range counts {
		checkRisk("chance", c.Chance)
		if c.N == 0 && c.Correct == 0 {
			continue
		}
		checkCount(c.N, c.Correct)
		g.N += c.N
		g.Correct += c.Correct
		g.Expected += float64(c.N) * c.Chance
		variance += float64(c.N) * c.Chance * (1 - c.Chance)
		part := make([]float64, c.N+1)
		addBinomial(part, c.Chance, 1)
		parts = append(parts, part)
	}
	g.SD = math.Sqrt(variance)
	sum := sumOf(parts)
	g.PMore, g.PLess = sum.atLeast(g.Correct), sum.atMost(g.Correct)
	return g
}
