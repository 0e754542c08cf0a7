package stats

import (
	"fmt"
	"math"
)

// PooledDPrime is one d′ for several outcomes of one and the same difference, by
// whatever methods: what shares correct of a triangle and of a duo-trio test have
// in common. DPrime is the maximum-likelihood estimate over d′ ≥ 0, +Inf where
// all answers are correct; Interval is the two-sided profile-likelihood interval, or,
// where Exact, one from the exact probability of such an outcome.
//
// LR is twice the log-likelihood that one d′ lacks of a d′ for each outcome, with DF
// degrees of freedom, and PValue its chi-square tail: small where the outcomes do
// not share one d′. It is an approximation, rough for few answers.
type PooledDPrime struct {
	N, Correct int
	DPrime     float64
	Interval   Interval
	Exact      bool
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
// Where all answers are correct, or none is, the likelihood has no summit to measure
// from, and the limit is the d′ at which that outcome has just half of the risk,
//
//	Π_i pc_i(d)^n_i = (1 - confidence)/2    or    Π_i (1 - pc_i(d))^n_i
//
// which for one method is the limit of [ClopperPearson]; 0 where guessing alone
// has more of it, or, with none correct, no d′ has as much. The other limit is +Inf, or 0.
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
	if p.Correct == 0 {
		best, top = 0, -lack(0)
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
	if p.Exact = p.Correct == 0 || p.Correct == p.N; p.Exact {
		p.Interval = edgeDPrime(outcomes, p.Correct > 0, confidence)
	} else {
		cut := chiSquareCut(confidence) - top
		p.Interval = Interval{0, math.Inf(1), confidence}
		start := min(best, unseen)
		if lack(0) > cut {
			p.Interval.Lower = zero(0, start, func(d float64) float64 { return lack(d) - cut })
		}
		p.Interval.Upper = zero(start, unseen, func(d float64) float64 { return cut - lack(d) })
	}
	p.LR = max(0, -top-own)
	p.PValue = chiSquareUpper(p.LR, p.DF)
	return p
}

// edgeDPrime is the interval where all answers are correct, or none is.
func edgeDPrime(outcomes []Outcome, all bool, confidence float64) Interval {
	least := math.Log((1 - confidence) / 2)
	beyond := func(d float64) float64 { // how much likelier than half of the risk
		log := -least
		for _, o := range outcomes {
			miss := o.Method.Miss(d)
			if all {
				log += float64(o.N) * math.Log1p(-miss)
			} else {
				log += float64(o.N) * math.Log(miss)
			}
		}
		return log
	}
	at0 := beyond(0)
	switch {
	case all && at0 < 0:
		return Interval{zero(0, unseen, func(d float64) float64 { return -beyond(d) }), math.Inf(1), confidence}
	case all:
		return Interval{0, math.Inf(1), confidence}
	case at0 > 0:
		return Interval{0, zero(0, unseen, beyond), confidence}
	}
	return Interval{0, 0, confidence}
}
