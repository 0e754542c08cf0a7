package stats

import (
	"fmt"
	"math"
)

// FitThreshold fits a psychometric function with the given guess rate (1/3 for
// a 3-AFC, 1/2 for a paired comparison, 0 for yes and no) to the counts at each
// level, by maximum likelihood with Slope > 0. Counts of one level are added up.
//
// Whether there is a finite maximum is settled first, on the shares that suit
// the data best among all that do not fall with the level. Where those make a
// step, do not rise, or never leave chance or 1, no fit is tried and Status says
// so. What this leaves is fitted from several starts, and the result compared
// with the best step and the best constant, which it must beat.
//
// The intervals hold every value whose profile likelihood, the other parameter
// at its best, is within half the chi-square quantile of the maximum. They are
// approximate: in 300 simulated 3-AFC series of 5 levels with 20 answers each,
// those of 0.95 covered the threshold 0.95 (logistic) and 0.96 (probit) of the
// time and the slope 0.95 and 0.98. A threshold's interval that has not ended
// 1000 half-spans beyond the levels is given as endless.
//
// It panics on an empty list, an impossible count, a level that is not finite, a
// guess outside [0, 1), an unknown link and a confidence not between 0 and 1.
func FitThreshold(counts []LevelCount, guess float64, link Link, confidence float64) ThresholdFit {
	cut := chiSquareCut(confidence) / 2
	l := newLadder(counts, guess, link)
	none := math.NaN()
	f := ThresholdFit{
		Guess: guess, Link: link, Levels: len(l.rungs), N: l.n, Correct: l.correct,
		Intercept: none, Slope: none, Threshold: none,
		Observed: ThresholdErrors{none, none, none}, Expected: ThresholdErrors{none, none, none},
		ThresholdInterval: Interval{none, none, confidence}, SlopeInterval: Interval{none, none, confidence},
		Deviance: none, DF: max(0, len(l.rungs)-2),
		StepFrom: none, StepTo: none, StepPC: none,
	}
	s, flat := l.bestStep(), l.flat()
	f.Status = l.foresee()
	if f.Status == ThresholdFitted {
		at, top := l.climb()
		switch {
		case top.value > max(s.loglikelihood, flat)+even:
			f.LogLikelihood = top.value + l.coefficients()
			l.describe(&f, at)
			f.ThresholdInterval.Lower, f.ThresholdInterval.Upper = l.thresholdLimits(at, top.value-cut)
			f.SlopeInterval.Lower, f.SlopeInterval.Upper = l.slopeLimits(at, top.value-cut, s, flat)
		case s.loglikelihood > flat:
			f.Status = ThresholdStep
		default:
			f.Status = ThresholdNoTrend
		}
	}
	if f.Status != ThresholdFitted {
		f.LogLikelihood = max(s.loglikelihood, flat) + l.coefficients()
		l.bracket(&f, s)
	}
	f.Warnings = l.warnings(f)
	return f
}

// foresee tells from the data alone whether a fit can succeed.
func (l ladder) foresee() ThresholdStatus {
	shares := l.rising()
	inside, last := 0, len(shares)-1
	for _, p := range shares {
		if p > l.guess && p < 1 {
			inside++
		}
	}
	switch {
	case last == 0:
		return ThresholdOneLevel
	case shares[0] == 1:
		return ThresholdBelow
	case shares[last] == l.guess:
		return ThresholdAbove
	case shares[0] == shares[last]:
		return ThresholdNoTrend
	case inside <= 1:
		return ThresholdStep
	}
	return ThresholdFitted
}

// climb returns the best top with a rising slope, in the ladder's scale, from
// starts with slopes that rise over the whole ladder up to such that rise
// between its closest rungs.
func (l ladder) climb() ([2]float64, summit) {
	var at [2]float64
	top := summit{value: math.Inf(-1)}
	for slope := 0.3; slope <= 30/l.gap; slope *= 2.5 {
		place := l.bestPlace(slope)
		end, there := climb([2]float64{0, 1}, l.around(place, slope).summit)
		if end[1] > 0 && there.value > top.value {
			at, top = [2]float64{end[0] - end[1]*slope*place, end[1] * slope}, there
		}
	}
	return at, l.summit(at)
}

// bestPlace returns about where a curve of that slope is best put.
func (l ladder) bestPlace(slope float64) float64 {
	value := func(place float64) float64 { return l.loglik(-slope*place, slope) }
	at, best := highest(-1.5, 1.5, 24, value)
	look := func(place float64) {
		if v := value(place); v > best {
			at, best = place, v
		}
	}
	for i, r := range l.rungs {
		look(r.Level)
		if i > 0 {
			look((l.rungs[i-1].Level + r.Level) / 2)
		}
	}
	return at
}

// describe fills in the estimates and what belongs to them.
func (l ladder) describe(f *ThresholdFit, at [2]float64) {
	f.Slope = at[1] / l.half
	f.Intercept = at[0] - at[1]*l.center/l.half
	f.Threshold = l.level(-at[0] / at[1])
	// On the curve's own scale intercept and slope are hardly correlated, however
	// uneven the levels are.
	own, itself := l.around(-at[0]/at[1], at[1]), [2]float64{0, 1}
	bend := own.summit(itself).bend
	f.Observed = l.errors(at, [3]float64{-bend[0], -bend[1], -bend[2]})
	f.Expected = l.errors(at, own.expected(itself))
	f.Deviance = 0
	for _, r := range l.rungs {
		share, rest, _, _ := l.link.at(at[0] + at[1]*r.Level)
		f.Deviance += 2 * (shortfall(r.Correct, r.N, l.guess+(1-l.guess)*share) +
			shortfall(r.N-r.Correct, r.N, (1-l.guess)*rest))
	}
}

// errors returns the standard errors, in the unit of the levels, from an
// information about intercept and slope on the curve's own scale.
func (l ladder) errors(at [2]float64, information [3]float64) ThresholdErrors {
	v, ok := invert(information)
	if !ok {
		return ThresholdErrors{math.NaN(), math.NaN(), math.NaN()}
	}
	shift := at[1]*l.center/l.half - at[0]
	return ThresholdErrors{
		Intercept: math.Sqrt(v[0] - 2*shift*v[1] + shift*shift*v[2]),
		Slope:     math.Sqrt(v[2]) * at[1] / l.half,
		Threshold: math.Sqrt(v[0]) / at[1] * l.half,
	}
}

// thresholdLimits returns where the profile likelihood of the threshold falls
// to least.
func (l ladder) thresholdLimits(at [2]float64, least float64) (lower, upper float64) {
	place := -at[0] / at[1]
	over := func(place float64) float64 {
		// From slopes that are flat over the levels to such that are a step
		// between the closest two.
		flat, steep := -8-math.Log(1+math.Abs(place)), 9-math.Log(l.gap)
		_, value := highest(flat, steep, int(1.5*(steep-flat)), func(log float64) float64 {
			slope := math.Exp(log)
			return l.loglik(-slope*place, slope)
		})
		return value - least
	}
	lower, upper = math.Inf(-1), math.Inf(1)
	for reach := l.gap / 4; reach <= 1024; reach *= 2 {
		if math.IsInf(upper, 1) && over(place+reach) < 0 {
			upper = l.level(zero(place, place+reach, over))
		}
		if math.IsInf(lower, -1) && over(place-reach) < 0 {
			lower = l.level(zero(place-reach, place, func(p float64) float64 { return -over(p) }))
		}
	}
	return lower, upper
}

// slopeLimits returns where the profile likelihood of the slope falls to least.
// Towards 0 it tends to a constant pc and towards infinity to a step.
func (l ladder) slopeLimits(at [2]float64, least float64, s step, flat float64) (lower, upper float64) {
	over := func(log float64) float64 {
		return l.bestIntercept(math.Exp(log)) - least
	}
	best := math.Log(at[1])
	lower, upper = 0, math.Inf(1)
	if flat < least {
		for reach := 0.5; reach <= 32; reach *= 2 {
			if over(best-reach) < 0 {
				lower = math.Exp(zero(best-reach, best, func(x float64) float64 { return -over(x) })) / l.half
				break
			}
		}
	}
	if s.loglikelihood < least {
		for reach := 0.5; reach <= 16; reach *= 2 {
			if over(best+reach) < 0 {
				upper = math.Exp(zero(best, best+reach, over)) / l.half
				break
			}
		}
	}
	return lower, upper
}

// bestIntercept returns the largest log-likelihood at a given slope.
func (l ladder) bestIntercept(slope float64) float64 {
	const wide = 12
	best, from := math.Inf(-1), math.Inf(-1)
	look := func(lo, hi float64) {
		steps := max(4, min(60, int(hi-lo)))
		_, value := highest(lo, hi, steps, func(shift float64) float64 { return l.loglik(-shift, slope) })
		best = max(best, value)
	}
	if slope < 20 {
		look(-slope-wide, slope+wide)
		return best
	}
	// The curve crosses ½ near a rung, between two, or beyond them all. At a
	// steep slope these are places far apart, so each is searched by itself.
	for _, r := range l.rungs {
		lo, hi := slope*r.Level-wide, slope*r.Level+wide
		if from < lo && !math.IsInf(from, -1) {
			look(from, lo)
		}
		look(max(from, lo), hi)
		from = hi
	}
	return best
}

// bracket says where the threshold must lie when there is no estimate.
func (l ladder) bracket(f *ThresholdFit, s step) {
	last := len(l.levels) - 1
	switch f.Status {
	case ThresholdBelow:
		f.StepFrom, f.StepTo = math.Inf(-1), l.levels[0]
	case ThresholdAbove:
		f.StepFrom, f.StepTo = l.levels[last], math.Inf(1)
	case ThresholdStep:
		from, to := s.rung, s.rung
		switch {
		case s.pc == l.guess:
			to++
		case s.pc == 1:
			from--
		default:
			f.StepPC = s.pc
		}
		f.StepFrom, f.StepTo = l.levels[from], l.levels[to]
	}
}

func (l ladder) warnings(f ThresholdFit) []Warning {
	var list []Warning
	warn := func(kind WarningKind, say string, args ...any) {
		list = append(list, Warning{Kind: kind, Say: fmt.Sprintf(say, args...)})
	}
	switch f.Status {
	case ThresholdOneLevel:
		warn(ThresholdUnfitted, "There is one level only, and a threshold needs at least two.")
	case ThresholdBelow:
		warn(ThresholdUnfitted, "All answers are correct, so the threshold is not among the levels: serve lower ones.")
	case ThresholdAbove:
		warn(ThresholdUnfitted, "At no level are the answers better than guesses, so the threshold is not among the levels: serve higher ones.")
	case ThresholdNoTrend:
		warn(ThresholdUnfitted, "The share correct does not rise with the level, so there is no threshold to be found in these answers.")
	case ThresholdStep:
		if f.StepFrom == f.StepTo {
			warn(ThresholdUnfitted, "Below level %.6g answers are guesses and above it all are correct: the threshold is about there, and how steeply detection rises cannot be told.", f.StepFrom)
		} else {
			warn(ThresholdUnfitted, "Up to level %.6g answers are guesses and from %.6g on all are correct: the threshold lies between, and how steeply detection rises cannot be told.", f.StepFrom, f.StepTo)
		}
	case ThresholdFitted:
		lo, hi := l.levels[0], l.levels[len(l.levels)-1]
		if f.Threshold < lo || f.Threshold > hi {
			warn(ThresholdOutside, "The threshold of %.4g lies outside the levels served, %.4g to %.4g, and rests on the shape of the curve alone.", f.Threshold, lo, hi)
		}
		t, s := f.ThresholdInterval, f.SlopeInterval
		if math.IsInf(t.Lower, -1) || math.IsInf(t.Upper, 1) || s.Lower == 0 || math.IsInf(s.Upper, 1) {
			warn(ThresholdUnbounded, "There are too few answers, or too few levels near the threshold, to limit the threshold and the slope on both sides.")
		}
		if f.Levels == 2 {
			warn(ThresholdUnchecked, "Two levels fit any curve, so nothing tells whether this one is right.")
		}
	}
	return list
}
