package stats

import (
	"fmt"
	"math"
)

// PooledDPrime is one d′ for several outcomes of one and the same difference, by
// whatever methods: what shares correct of a triangle and of a duo-trio test have
// in common. DPrime is the maximum-likelihood estimate over d′ ≥ 0, +Inf where
// all answers are correct; Interval is the two-sided profile-likelihood interval.
//
// LR is twice the log-likelihood that one d′ lacks of a d′ for each outcome, with DF
// degrees of freedom, and PValue its chi-square tail: small where the outcomes do
// not share one d′. It is an approximation, rough for few answers.
type PooledDPrime struct {
	N, Correct int
	DPrime     float64
	Interval   Interval
	LR         float64
	DF         int
	PValue     float64
}

// PoolDPrime returns the d′ that several outcomes have in common:
//
//	ℓ(d) = Σ_i x_i ln pc_i(d) + (n_i - x_i) ln(1 - pc_i(d))
//
// the maximum found by a scan up to 12 and a climb, the interval every d with
// 2 (ℓ(best) - ℓ(d)) ≤ χ²(confidence), with 1 degree of freedom (S. S. Wilks, 1938;
// from memory). The relative error of the estimate is below 1e-8, as far as the
// curve near 0 lets it be told, that of a limit below 1e-6. It is for controls of
// one size; abilities over sets of mixed difficulty are [FitPanel]'s.
//
// It panics on no outcome, an impossible count, and unless 0 < confidence < 1.
func PoolDPrime(outcomes []Outcome, confidence float64) PooledDPrime {
	if len(outcomes) == 0 {
		panic("stats: d′ of no outcome")
	}
	if !(confidence > 0 && confidence < 1) {
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	p := PooledDPrime{DF: len(outcomes) - 1}
	own := 0.0 // lack of the outcomes' own d′
	for _, o := range outcomes {
		checkCount(o.N, o.Correct)
		p.N += o.N
		p.Correct += o.Correct
		own += o.lack(o.estimate())
	}
	lack := func(d float64) (sum float64) {
		for _, o := range outcomes {
			sum += o.lack(d)
		}
		return sum
	}
	const far = 12 // beyond it all but every answer is right in every method
	best, top := highest(0, far, 240, func(d float64) float64 { return -lack(d) })
	if p.Correct == p.N {
		best, top = math.Inf(1), 0
	}
	p.DPrime = best
	if p.DPrime > 0 && !math.IsInf(p.DPrime, 1) {
		// The value is flat at the top; the slope tells better where it is.
		rise := func(d float64) (sum float64) {
			for _, o := range outcomes {
				sum += o.rise(d)
			}
			return sum
		}
		if lo, hi := max(best-0.01, best/2), best+0.01; rise(lo) > 0 && rise(hi) < 0 {
			p.DPrime = zero(lo, hi, rise)
			top = -lack(p.DPrime)
		}
	}
	cut := chiSquareCut(confidence) - top
	p.Interval = Interval{0, math.Inf(1), confidence}
	start := min(best, unseen)
	if lack(0) > cut {
		p.Interval.Lower = zero(0, start, func(d float64) float64 { return lack(d) - cut })
	}
	if p.Correct < p.N {
		p.Interval.Upper = zero(start, unseen, func(d float64) float64 { return cut - lack(d) })
	}
	p.LR = max(0, -top-own)
	p.PValue = chiSquareUpper(p.LR, p.DF)
	return p
}
