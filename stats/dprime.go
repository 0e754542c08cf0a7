package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// The kinds of warning beside a d′.
const (
	// DPrimeAtChance: no more correct answers than guessing gives.
	DPrimeAtChance WarningKind = "d-prime-at-chance"
	// DPrimeUnbounded: every answer was correct.
	DPrimeUnbounded WarningKind = "d-prime-unbounded"
	// DPrimeRough: so few correct or wrong answers that the approximations
	// behind a standard error and a profile-likelihood interval are poor.
	DPrimeRough WarningKind = "d-prime-rough"
)

// fewAnswers is the number of correct, or of wrong, answers below which an
// approximation by the normal distribution is called rough (common practice,
// no source).
const fewAnswers = 5

// DPrimeEstimate is the d′ that a discrimination test shows, with its
// uncertainty.
type DPrimeEstimate struct {
	Method     Psychometric
	N, Correct int

	// DPrime is the maximum-likelihood estimate over d′ ≥ 0: 0 where the share
	// correct is at or below chance, +Inf where every answer is correct.
	DPrime float64

	// SE is the standard error of DPrime, NaN where that is 0 or +Inf; see
	// [Psychometric.StandardError].
	SE float64

	// Profile is the two-sided [Psychometric.ProfileInterval].
	Profile Interval

	Warnings []Warning
}

// Estimate returns d′ from x correct of n, with its standard error and its
// profile-likelihood interval. The conservative interval beside it is
// [Psychometric.DPrimeInterval].
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 < confidence < 1.
func (m Psychometric) Estimate(x, n int, confidence float64) DPrimeEstimate {
	e := DPrimeEstimate{
		Method:  m,
		N:       n,
		Correct: x,
		DPrime:  m.estimate(x, n),
		SE:      m.StandardError(x, n),
		Profile: m.ProfileInterval(x, n, confidence),
	}
	switch {
	case e.DPrime == 0:
		e.warn(DPrimeAtChance, fmt.Sprintf("%d of %d correct is no more than guessing gives, so d′ is put at 0 and has no standard error.", x, n))
	case x == n:
		e.warn(DPrimeUnbounded, fmt.Sprintf("All %d answers are correct, so d′ has no upper limit: only its lower limit says something.", n))
	}
	if x != n && min(x, n-x) < fewAnswers {
		e.warn(DPrimeRough, fmt.Sprintf("With %d correct and %d wrong the standard error and the profile-likelihood interval are rough; the exact limits are safer.", x, n-x))
	}
	return e
}

func (e *DPrimeEstimate) warn(kind WarningKind, say string) {
	e.Warnings = append(e.Warnings, Warning{Kind: kind, Say: say})
}

// StandardError returns the standard error of the d′ estimated from x correct
// of n, by the delta method:
//
//	SE = √(pc (1 - pc) / n) / (dpc/dd′), pc = x/n
//
// with [Psychometric.Slope] at the estimate. It is NaN where the estimate is 0
// or +Inf: x ≤ n chance, x = n. d′ ± z SE is no good interval near 0, where the
// estimate is far from normally distributed; use the profile likelihood.
// Common practice, from memory.
//
// It panics unless n ≥ 1 and 0 ≤ x ≤ n.
func (m Psychometric) StandardError(x, n int) float64 {
	d := m.estimate(x, n)
	if d == 0 || math.IsInf(d, 1) {
		return math.NaN()
	}
	right, wrong, size := float64(x), float64(n-x), float64(n)
	return math.Sqrt(right/size*wrong/size/size) / m.Slope(d)
}

// ProfileInterval returns the two-sided profile-likelihood interval of d′ for x
// correct of n: every d′ ≥ 0 with
//
//	2 (ℓ(best) - ℓ(d′)) ≤ χ²(confidence)
//
// where ℓ is the binomial log-likelihood, best its maximum over d′ ≥ 0 and χ²
// the quantile of the chi-square distribution with 1 degree of freedom. Lower
// is 0 where 0 is in, as always when x ≤ n chance; Upper is +Inf at x = n. The
// limits have a relative error below 1e-10.
//
// It is narrower than [Psychometric.DPrimeInterval] and not exact. By
// enumeration over x, for n from 6 to 60 and d′ from 0.05 to 3, an interval of
// 0.95 covers 0.954 of the time on average, at least 0.91 where 5 wrong answers
// or more are expected, and at least 0.80 where fewer are. From memory (S. S.
// Wilks, Ann. Math. Stat. 9, 1938, for the chi-square distribution).
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 < confidence < 1.
func (m Psychometric) ProfileInterval(x, n int, confidence float64) Interval {
	best := m.estimate(x, n)
	cut := chiSquareCut(confidence) + m.lack(x, n, best)
	limits := Interval{Lower: 0, Upper: math.Inf(1), Confidence: confidence}
	if m.lack(x, n, 0) > cut {
		limits.Lower = zero(0, min(best, unseen), func(d float64) float64 { return m.lack(x, n, d) - cut })
	}
	if x < n {
		limits.Upper = zero(best, unseen, func(d float64) float64 { return cut - m.lack(x, n, d) })
	}
	return limits
}

// estimate is the maximum-likelihood d′. The smaller of the two shares is the
// one that keeps its digits.
func (m Psychometric) estimate(x, n int) float64 {
	checkCount(n, x)
	if 2*x > n {
		return m.DPrimeFromMiss(float64(n-x) / float64(n))
	}
	return m.DPrime(float64(x) / float64(n))
}

// lack returns twice the log-likelihood that d′ lacks of the best that pc = x/n
// could give. It is 0 at that pc, in a form that does not cancel near it.
func (m Psychometric) lack(x, n int, d float64) float64 {
	miss := m.Miss(d)
	return 2 * (shortfall(x, n, 1-miss) + shortfall(n-x, n, miss))
}

// shortfall returns x ln(x/m) + m - x with m = n p, also at x = 0.
func shortfall(x, n int, p float64) float64 {
	if x == 0 {
		return float64(n) * p
	}
	return deviance(float64(x), float64(n), p)
}

// chiSquareCut returns the quantile of the chi-square distribution with 1
// degree of freedom.
func chiSquareCut(confidence float64) float64 {
	if !(confidence > 0 && confidence < 1) { // NaN fails too
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	z := distuv.UnitNormal.Quantile((1 - confidence) / 2)
	return z * z
}

// chiSquareTail returns P(χ² ≥ statistic) with 1 degree of freedom.
func chiSquareTail(statistic float64) float64 {
	return math.Erfc(math.Sqrt(max(0, statistic) / 2))
}

// Outcome is the result of one discrimination test: Correct of N evaluations.
type Outcome struct {
	Method     Psychometric
	N, Correct int
}

// DPrimeComparison is the test that two discrimination tests, of one method or
// of two, have the same d′.
type DPrimeComparison struct {
	First, Second Outcome

	// Estimates, as [Psychometric.Estimate] gives them.
	FirstDPrime, SecondDPrime float64

	// Common is the one d′ ≥ 0 that suits both outcomes best.
	Common float64

	// LR is the likelihood-ratio statistic, 2 (ℓ(two d′) - ℓ(Common)).
	LR float64

	// PValue is two-sided: P(χ² ≥ LR), 1 degree of freedom. It is an
	// approximation; see [CompareDPrime].
	PValue float64

	Warnings []Warning
}

// CompareDPrime tests whether two tests with independent answers have the same
// d′, by the likelihood ratio:
//
//	LR = 2 (max ℓ1(d1) + max ℓ2(d2) - max (ℓ1(d) + ℓ2(d)))    d1, d2, d ≥ 0
//
// against the chi-square distribution with 1 degree of freedom, two-sided. The
// methods may differ, as d′ is on one scale for all. Two outcomes at or below
// chance, or two that are all correct, agree: LR is 0 and the p-value 1.
//
// The p-value is not exact. By enumeration over both counts, for all pairs of
// methods, sizes 10 and 20, and d′ from 0 to 3, P(p ≤ 0.1), P(p ≤ 0.05) and
// P(p ≤ 0.01) are at most
//
//	0.117   0.063   0.014    where 5 wrong answers or more are expected in both
//	0.21    0.10    0.023    anywhere
//
// Near d′ = 0 it errs to the other side: the p-values are too large.
//
// It panics unless N ≥ 1 and 0 ≤ Correct ≤ N in both.
func CompareDPrime(first, second Outcome) DPrimeComparison {
	c := DPrimeComparison{
		First:        first,
		Second:       second,
		FirstDPrime:  first.estimate(),
		SecondDPrime: second.estimate(),
	}
	c.Common = commonDPrime(first, second)
	if c.FirstDPrime != c.SecondDPrime { // else LR is 0, even where both are +Inf
		lack := first.lack(c.Common) + second.lack(c.Common)
		c.LR = max(0, lack-first.lack(c.FirstDPrime)-second.lack(c.SecondDPrime))
	}
	c.PValue = chiSquareTail(c.LR)
	for _, o := range []Outcome{first, second} {
		wrong := o.N - o.Correct
		if min(o.Correct, wrong) < fewAnswers {
			c.Warnings = append(c.Warnings, Warning{DPrimeRough, fmt.Sprintf(
				"With %d correct and %d wrong in the %s test the p-value is rough.", o.Correct, wrong, o.Method.Name())})
		}
	}
	return c
}

func (o Outcome) estimate() float64 {
	return o.Method.estimate(o.Correct, o.N)
}

func (o Outcome) lack(d float64) float64 {
	return o.Method.lack(o.Correct, o.N, d)
}

// rise returns the slope of the log-likelihood at d.
func (o Outcome) rise(d float64) float64 {
	miss := o.Method.Miss(d)
	return o.Method.Slope(d) * (float64(o.Correct)/(1-miss) - float64(o.N-o.Correct)/miss)
}

// commonDPrime returns the d′ that suits both outcomes best. It lies between
// their estimates, as each likelihood falls to both sides of its own. There may
// be more than one summit between them, at 0 in particular, where the
// likelihoods of most methods are level; all that a scan shows are climbed.
func commonDPrime(first, second Outcome) float64 {
	if first.Method == second.Method {
		return first.Method.estimate(first.Correct+second.Correct, first.N+second.N)
	}
	lo, hi := first.estimate(), second.estimate()
	if lo > hi {
		lo, hi = hi, lo
	}
	if lo == hi {
		return lo
	}
	if math.IsInf(hi, 1) {
		hi = lo + 12 // past 12 even the test that sees least is all but always correct
	}
	rise := func(d float64) float64 { return first.rise(d) + second.rise(d) }
	best, least := lo, first.lack(lo)+second.lack(lo)
	const steps = 20
	from, rises := lo, false
	for i := 1; i <= steps; i++ {
		share := float64(i) / steps
		to := lo + (hi-lo)*share*share // closer together near 0, where the curves bend
		if i == steps {
			to = hi
		}
		falls := i == steps || rise(to) <= 0
		if falls && (rises || i == 1) {
			d := zero(from, to, rise)
			if l := first.lack(d) + second.lack(d); l < least {
				best, least = d, l
			}
		}
		from, rises = to, !falls
	}
	return best
}
