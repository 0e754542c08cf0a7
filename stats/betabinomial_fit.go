package stats

import (
	"fmt"
	"math"
)

// Overdispersion tells what replicates say about how much assessors differ.
type Overdispersion string

const (
	// OverdispersionEstimated: Gamma lies between its bounds.
	OverdispersionEstimated Overdispersion = "estimated"
	// OverdispersionNone: Gamma is 0. The assessors vary no more than the
	// binomial, or all at chance, allows.
	OverdispersionNone Overdispersion = "none"
	// OverdispersionFull: Gamma is 1. The likelihood rises all the way to two
	// classes of assessors, those always right and those who guess.
	OverdispersionFull Overdispersion = "full"
	// OverdispersionUnknown: the data say nothing about Gamma. There is one
	// replicate each, or all answers are correct, or none.
	OverdispersionUnknown Overdispersion = "unknown"
)

// The kinds of warning beside a beta-binomial fit.
const (
	// ReplicatesSingle: no assessor has a second replicate.
	ReplicatesSingle WarningKind = "replicates-single"
	// ReplicatesAlike: all answers are correct, or none is.
	ReplicatesAlike WarningKind = "replicates-alike"
	// ReplicatesAtBound: an estimate lies on the bound of its range, where it
	// has no standard error.
	ReplicatesAtBound WarningKind = "replicates-at-bound"
	// ReplicatesFew: fewer assessors than a fit of two parameters needs.
	ReplicatesFew WarningKind = "replicates-few"
)

// fewAssessors is the number of assessors below which a spread between them is
// called poorly known (common practice, no source).
const fewAssessors = 10

// BetaBinomialFit is a [BetaBinomial] fitted to replicates by maximum
// likelihood, beside the binomial model without differences between assessors.
type BetaBinomialFit struct {
	Assessors, N, Correct int // N evaluations in all
	Chance                float64
	Overdispersion        Overdispersion

	// The estimates. Gamma is NaN where Overdispersion is unknown.
	Mu, Gamma float64

	// Standard errors from the observed information; NaN unless Overdispersion
	// is estimated.
	SEMu, SEGamma float64

	// PC = Chance + (1 - Chance) Mu is the mean probability of a correct answer.
	PC float64

	// Two-sided profile-likelihood intervals; see [FitBetaBinomial].
	MuInterval, GammaInterval, PCInterval Interval

	// LogLikelihood is the supremum where Gamma is at a bound.
	LogLikelihood, BinomialLogLikelihood float64

	// LR tests Gamma = 0; PValue is P(LR ≥ the one found) by half a chi-square
	// distribution. See [FitBetaBinomial].
	LR, PValue float64

	Warnings []Warning
}

// FitBetaBinomial fits the beta-binomial model with the given chance (0 for the
// plain one) to what each assessor did, by maximum likelihood over Mu and Gamma
// in [0, 1], both bounds included and compared explicitly.
//
// The likelihood ratio against the binomial model, Gamma = 0 with the best Mu,
//
//	LR = 2 (max ℓ(Mu, Gamma) - max ℓ(Mu, 0))
//
// does not follow the chi-square distribution with 1 degree of freedom, as 0 is
// the bound of Gamma: under the binomial model about half of all data have
// LR = 0. It is taken against the even mixture of 0 and that distribution (S. G.
// Self, K.-Y. Liang, J. Am. Stat. Assoc. 82, 1987; from memory), one-sided:
//
//	PValue = ½ P(χ² ≥ LR), and 1 where LR = 0
//
// This is an approximation, on the safe side at 0.05: by exact enumeration of
// panels of 8 assessors with 2 and 4 replicates, 15 with 2 and 12 with 3, both
// models (chance 1/3), and a binomial Mu from 0 or 0.1 to 0.9, P(p ≤ 0.05) is at
// most 0.045, P(p ≤ 0.01) at most 0.020 and P(p ≤ 0.1) at most 0.117; LR = 0 has
// a probability of 0.56 to 0.97.
//
// The intervals hold every value whose profile likelihood, the other parameter
// at its best, is within half the chi-square quantile of the maximum. They are
// approximate too. By exact enumeration of 8 and 12 assessors with 3 replicates,
// Mu 0.2, 0.4, 0.7 and Gamma 0, 0.1, 0.3, 0.7, an interval of 0.95 covers Mu at
// least 0.911 and Gamma at least 0.906 of the time, both models. An interval for
// Gamma that leaves out 0 goes with a PValue below (1 - confidence)/2: the
// interval is two-sided, the test one-sided.
//
// Data too small or too even for the model are answered, with Overdispersion and
// Warnings saying so. It is not a test of a difference: for that the binomial
// count of all answers stays valid, with replicates too, since without a
// difference every answer is a guess.
//
// It panics on an empty list, an impossible count, a chance outside [0, 1) and
// a confidence not between 0 and 1.
func FitBetaBinomial(assessors []Replicates, chance, confidence float64) BetaBinomialFit {
	cut := chiSquareCut(confidence) / 2
	t := newTally(assessors, chance)
	f := t.fit()
	f.MuInterval, f.GammaInterval = t.profiles(f, cut)
	f.MuInterval.Confidence, f.GammaInterval.Confidence = confidence, confidence
	f.PCInterval = Interval{
		Lower:      PcFromPd(f.MuInterval.Lower, chance),
		Upper:      PcFromPd(f.MuInterval.Upper, chance),
		Confidence: confidence,
	}
	f.Warnings = t.warnings(f)
	return f
}

// even is the difference in log-likelihood below which a bound is preferred to
// a point inside: there the climb has run towards the bound, or the two say the
// same.
const even = 1e-9

// fit finds the maximum, without intervals and warnings.
func (t tally) fit() BetaBinomialFit {
	f := BetaBinomialFit{
		Assessors: t.assessors, N: t.n, Correct: t.correct, Chance: t.chance,
		SEMu: math.NaN(), SEGamma: math.NaN(),
	}
	f.Overdispersion = OverdispersionNone
	f.Mu = min(1, max(0, PdFromPc(float64(t.correct)/float64(t.n), t.chance)))
	f.BinomialLogLikelihood = t.loglik(f.Mu, 1-f.Mu, 0, 1)
	f.LogLikelihood = f.BinomialLogLikelihood
	if t.silent() {
		f.Overdispersion = OverdispersionUnknown
		f.Gamma = math.NaN()
	} else {
		if mu, value := t.bestClasses(); value > f.LogLikelihood+even {
			f.Overdispersion, f.Mu, f.Gamma, f.LogLikelihood = OverdispersionFull, mu, 1, value
		}
		if at, top := t.climb(); top.value > f.LogLikelihood+even {
			f.Overdispersion, f.LogLikelihood = OverdispersionEstimated, top.value
			f.Mu, f.Gamma = logistic(at[0]), logistic(at[1])
			if v, ok := top.covariance(); ok {
				// From the logits to the parameters themselves.
				f.SEMu = math.Sqrt(v[0]) * f.Mu * (1 - f.Mu)
				f.SEGamma = math.Sqrt(v[2]) * f.Gamma * (1 - f.Gamma)
			}
		}
	}
	f.PC = PcFromPd(f.Mu, t.chance)
	f.LR = max(0, 2*(f.LogLikelihood-f.BinomialLogLikelihood))
	f.PValue = 1
	if f.LR > 0 {
		f.PValue = chiSquareTail(f.LR) / 2
	}
	return f
}

// silent tells whether the data say nothing about Gamma.
func (t tally) silent() bool {
	return t.most == 1 || t.correct == t.n || t.correct == 0
}

// bestClasses returns the best Mu of two classes. The likelihood has a single
// top, as it is a sum of logarithms of what is linear in Mu.
func (t tally) bestClasses() (mu, value float64) {
	slope := func(mu float64) float64 {
		var sum float64
		for _, g := range t.groups {
			guess := PMF(g.n, g.x, t.chance)
			if g.x == g.n {
				sum += g.many * (1 - guess) / (mu + (1-mu)*guess)
			} else {
				sum -= g.many / (1 - mu)
			}
		}
		return sum
	}
	mu = zero(0, 1, slope)
	return mu, t.classes(mu, 1-mu)
}

// climb returns the best top that is found from a grid of starts.
func (t tally) climb() ([2]float64, summit) {
	type start struct {
		at    [2]float64
		value float64
	}
	var starts []start
	for _, mu := range []float64{0.03, 0.15, 0.3, 0.5, 0.7, 0.85, 0.97} {
		best := start{value: math.Inf(-1)}
		for _, gamma := range []float64{0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95} {
			if v := t.loglik(mu, 1-mu, gamma, 1-gamma); v > best.value {
				best = start{[2]float64{logit(mu), logit(gamma)}, v}
			}
		}
		starts = append(starts, best)
	}
	var at [2]float64
	top := summit{value: math.Inf(-1)}
	for i, s := range starts {
		// From the foot of a slope another start leads up the same hill.
		if (i > 0 && starts[i-1].value > s.value) || (i+1 < len(starts) && starts[i+1].value > s.value) {
			continue
		}
		if end, there := climb(s.at, t.summit); there.value > top.value {
			at, top = end, there
		}
	}
	return at, top
}

// profiles returns the limits at which the profile likelihoods of Mu and Gamma
// fall below the maximum by cut.
func (t tally) profiles(f BetaBinomialFit, cut float64) (mu, gamma Interval) {
	least := f.LogLikelihood - cut
	alongMu := func(mu float64) float64 { return t.bestGamma(mu) - least }
	alongGamma := func(gamma float64) float64 { return t.bestMu(gamma) - least }
	mu = within(f.Mu, alongMu)
	if math.IsNaN(f.Gamma) {
		return mu, Interval{Lower: 0, Upper: 1}
	}
	return mu, within(f.Gamma, alongGamma)
}

// within returns the limits in [0, 1] around at between which f is not negative.
func within(at float64, f func(float64) float64) Interval {
	limits := Interval{Lower: 0, Upper: 1}
	if at > 0 && f(0) < 0 {
		limits.Lower = zero(0, at, func(x float64) float64 { return -f(x) })
	}
	if at < 1 && f(1) < 0 {
		limits.Upper = zero(at, 1, f)
	}
	return limits
}

// reach is how far out on the logit scale a profile looks before it goes over
// to the bound itself.
const reach = 12

// bestGamma returns the largest log-likelihood at a given Mu.
func (t tally) bestGamma(mu float64) float64 {
	nu := 1 - mu
	_, inside := highest(-reach, reach, 2*reach, func(x float64) float64 {
		return t.loglik(mu, nu, logistic(x), logistic(-x))
	})
	return max(inside, t.loglik(mu, nu, 0, 1), t.loglik(mu, nu, 1, 0))
}

// bestMu returns the largest log-likelihood at a given Gamma.
func (t tally) bestMu(gamma float64) float64 {
	delta := 1 - gamma
	_, inside := highest(-reach, reach, 2*reach, func(x float64) float64 {
		return t.loglik(logistic(x), logistic(-x), gamma, delta)
	})
	return max(inside, t.loglik(0, 1, gamma, delta), t.loglik(1, 0, gamma, delta))
}

func (t tally) warnings(f BetaBinomialFit) []Warning {
	var list []Warning
	warn := func(kind WarningKind, say string, args ...any) {
		list = append(list, Warning{Kind: kind, Say: fmt.Sprintf(say, args...)})
	}
	switch {
	case t.most == 1:
		warn(ReplicatesSingle, "Every assessor has one evaluation only, so nothing can be said about differences between assessors.")
	case t.correct == t.n:
		warn(ReplicatesAlike, "All %d answers are correct, so nothing can be said about differences between assessors.", t.n)
	case t.correct == 0:
		warn(ReplicatesAlike, "None of %d answers is correct, so nothing can be said about differences between assessors.", t.n)
	case f.Overdispersion == OverdispersionNone && f.Mu == 0:
		warn(ReplicatesAtBound, "The answers are no better than guesses, so the model is at its bound and has no standard errors.")
	case f.Overdispersion == OverdispersionNone:
		warn(ReplicatesAtBound, "The assessors differ no more than chance makes them, so the overdispersion is put at 0 and has no standard error.")
	case f.Overdispersion == OverdispersionFull:
		warn(ReplicatesAtBound, "The answers fit best to two kinds of assessors, always right or guessing, so the overdispersion is put at 1 and has no standard error.")
	}
	if t.assessors < fewAssessors {
		warn(ReplicatesFew, "With %s the differences between them are poorly known, however many replicates there are.", assessorsOf(t.assessors))
	}
	return list
}

func assessorsOf(n int) string {
	if n == 1 {
		return "1 assessor"
	}
	return fmt.Sprintf("%d assessors", n)
}
