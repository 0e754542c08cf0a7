package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// ShrunkenShare is what is known of one assessor's probability of a correct answer
// in sets of one kind, given how the whole panel spreads: the posterior mean and an
// interval with its confidence, half of the rest to each side. Share is Correct/N.
type ShrunkenShare struct {
	N, Correct int
	Share      float64
	PC         float64
	Interval   Interval
}

// ShrinkShares shrinks what each assessor did in the same kind of sets towards the
// panel, by the chance-corrected beta-binomial fitted to all (empirical Bayes; from
// memory), so that 4 of 5 does not outrank 40 of 55. For sets of mixed difficulty
// or method use [FitPanel].
//
// An assessor's ability π above chance C is Beta(a, b) over the panel, a = μ(1-γ)/γ,
// b = (1-μ)(1-γ)/γ. Given x of n it is a mixture over the k answers that were
// guessed right,
//
//	Σ_k w_k Beta(a+x-k, b+n-x)    w_k ∝ Bin(k; n, C) C(n-k, x-k) B(a+x-k, b+n-x)
//
// and PC = C + (1-C) E[π]. Where the fit finds no spread (γ = 0) or cannot tell it,
// all assessors get the panel's PC and an interval of that width 0; the fit's
// Overdispersion says which. Where γ = 1 there are those always right and those who
// guess, and PC lies between by their odds. The panel's own uncertainty is not in the
// intervals, so few assessors make them too narrow. The error is below 1e-9.
//
// It panics as [FitBetaBinomial] does.
func ShrinkShares(assessors []Replicates, chance, confidence float64) ([]ShrunkenShare, BetaBinomialFit) {
	fit := FitBetaBinomial(assessors, chance, confidence)
	known := map[Replicates]ShrunkenShare{}
	out := make([]ShrunkenShare, 0, len(assessors))
	for _, a := range assessors {
		s, ok := known[a]
		if !ok {
			s = shrinkShare(a, fit, confidence)
			known[a] = s
		}
		out = append(out, s)
	}
	return out, fit
}

func shrinkShare(r Replicates, fit BetaBinomialFit, confidence float64) ShrunkenShare {
	s := ShrunkenShare{N: r.N, Correct: r.Correct, Share: float64(r.Correct) / float64(r.N)}
	c := fit.Chance
	switch gamma := fit.Gamma; {
	case !(gamma > 1e-9) || fit.Mu == 0 || fit.Mu == 1: // no spread, or none that can be told
		s.PC = fit.PC
		s.Interval = Interval{fit.PC, fit.PC, confidence}
	case gamma > 1-1e-9:
		perfect := 0.0
		if r.Correct == r.N {
			guessed := (1 - fit.Mu) * math.Pow(c, float64(r.N))
			perfect = fit.Mu / (fit.Mu + guessed)
		}
		s.PC = perfect + (1-perfect)*c
		s.Interval = Interval{c, c, confidence}
		if tail := (1 - confidence) / 2; perfect > tail {
			s.Interval.Upper = 1
			if 1-perfect <= tail {
				s.Interval.Lower = 1
			}
		}
	default:
		a, b := fit.Mu*(1-gamma)/gamma, (1-fit.Mu)*(1-gamma)/gamma
		m := newBetas(r, c, a, b)
		s.PC = PcFromPd(m.mean(), c)
		tail := (1 - confidence) / 2
		lower := bisectTo(1e-10, func(pi float64) bool { return m.below(pi) >= tail })
		upper := bisectTo(1e-10, func(pi float64) bool { return m.above(pi) <= tail })
		s.Interval = Interval{PcFromPd(lower, c), PcFromPd(upper, c), confidence}
	}
	return s
}

// betas is a mixture of beta distributions.
type betas struct {
	weight, a []float64
	b         float64
}

func newBetas(r Replicates, chance, a, b float64) betas {
	m := betas{b: b + float64(r.N-r.Correct)}
	for k, w := range newGroup(r.N, r.Correct, 1, chance).weight {
		up := a + float64(r.Correct-k)
		m.a = append(m.a, up)
		m.weight = append(m.weight, w+mathext.Lbeta(up, m.b))
	}
	lift(m.weight)
	sum := massOf(m.weight)
	for k := range m.weight {
		m.weight[k] /= sum
	}
	return m
}

func (m betas) mean() (mean float64) {
	for k, w := range m.weight {
		mean += w * m.a[k] / (m.a[k] + m.b)
	}
	return mean
}

func (m betas) below(x float64) (p float64) {
	for k, w := range m.weight {
		p += w * mathext.RegIncBeta(m.a[k], m.b, x)
	}
	return p
}

func (m betas) above(x float64) (p float64) {
	for k, w := range m.weight {
		p += w * mathext.RegIncBeta(m.b, m.a[k], 1-x)
	}
	return p
}

// bisectTo returns where past turns from false to true between 0 and 1, to within
// width.
func bisectTo(width float64, past func(float64) bool) float64 {
	lo, hi := 0.0, 1.0
	for hi-lo > width {
		if mid := (lo + hi) / 2; past(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return (lo + hi) / 2
}
