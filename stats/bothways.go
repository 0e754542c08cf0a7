package stats

// BothWays is how large a difference looks in a two-sided paired comparison.
// Estimates have a sign: below zero, the other product is picked more often.
// Nothing is cut at zero, so that an interval and [TwoSidedP] do not disagree.
type BothWays struct {
	Pd, DPrime                 float64
	PdInterval, DPrimeInterval Interval
}

// EstimateBothWays returns the signed estimates for x picks of one product out
// of n, with the [ClopperPearson] limits of pc carried through:
//
//	pd = 2 pc - 1    d′(pc) = -d′(1 - pc)
//
// d′ is -Inf at x = 0 and +Inf at x = n. pd ranges from -1 to 1. The intervals
// are two-sided and exact: they cover at least with the confidence. The absolute
// error of d′ and its limits is below 1e-12, that of pd below 1e-15.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 < confidence < 1.
func EstimateBothWays(x, n int, confidence float64) BothWays {
	checkCount(n, x)
	// Picks of the one product and of the other. Near 0 a probability keeps the
	// digits that its complement has lost.
	one, other := ClopperPearson(x, n, confidence), ClopperPearson(n-x, n, confidence)
	size := float64(n)
	return BothWays{
		Pd:             float64(2*x-n) / size,
		PdInterval:     Interval{2*one.Lower - 1, 1 - 2*other.Lower, confidence},
		DPrime:         signedDPrime(float64(x)/size, float64(n-x)/size),
		DPrimeInterval: Interval{signedDPrime(one.Lower, other.Upper), signedDPrime(one.Upper, other.Lower), confidence},
	}
}

// signedDPrime returns the d′ of the probabilities of picking the one product
// and of picking the other, which add up to 1.
func signedDPrime(one, other float64) float64 {
	if one < other {
		return -PairedComparison.DPrimeFromMiss(one)
	}
	return PairedComparison.DPrimeFromMiss(other)
}
