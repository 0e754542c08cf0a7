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
// d′ is -Inf at x = 0 and +Inf at x = n. It panics unless n ≥ 1, 0 ≤ x ≤ n and
// 0 < confidence < 1.
func EstimateBothWays(x, n int, confidence float64) BothWays {
	limits := ClopperPearson(x, n, confidence)
	pc := float64(x) / float64(n)
	through := func(f func(float64) float64) Interval {
		return Interval{Lower: f(limits.Lower), Upper: f(limits.Upper), Confidence: confidence}
	}
	return BothWays{
		Pd: signedPd(pc), PdInterval: through(signedPd),
		DPrime: signedDPrime(pc), DPrimeInterval: through(signedDPrime),
	}
}

func signedPd(pc float64) float64 { return 2*pc - 1 }

func signedDPrime(pc float64) float64 {
	if pc < 0.5 {
		return -PairedComparison.DPrime(1 - pc)
	}
	return PairedComparison.DPrime(pc)
}
