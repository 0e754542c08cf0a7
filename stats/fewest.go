package stats

// FewestAnswers returns a number of independent answers below which no test at
// all does: none finds a difference with probability at most alpha where each
// answer is correct with probability chance, and misses it with probability at
// most beta where that is pc. With D the Kullback-Leibler divergence of two
// probabilities of a correct answer it is
//
//	max( D(alpha, 1-beta)/D(chance, pc), D(1-beta, alpha)/D(pc, chance) )
//
// (data processing inequality, a textbook result, from memory). A test of
// similarity tells the same two apart, so the bound holds for it as well; 0
// where the risks ask for nothing. It takes no search: use it to see beforehand
// that a panel would be too large.
//
// It is unbounded where pc equals chance. It panics unless chance, alpha, beta
// and pc lie between 0 and 1.
func FewestAnswers(chance, alpha, beta, pc float64) float64 {
	checkRisk("chance", chance)
	checkRisk("alpha", alpha)
	checkRisk("beta", beta)
	checkRisk("pc", pc)
	reached := 1 - beta
	if alpha >= reached {
		return 0
	}
	return max(divergence(alpha, reached)/divergence(chance, pc), divergence(reached, alpha)/divergence(pc, chance))
}
