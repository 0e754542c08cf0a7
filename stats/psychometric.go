package stats

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Link is the shape F of a psychometric function, from 0 to 1 and ½ at 0. The
// zero value is none.
type Link int

const (
	// Logistic is F(x) = 1/(1 + e^-x).
	Logistic Link = iota + 1
	// Probit is the normal distribution function, F = Φ.
	Probit
)

// String returns "logistic" or "probit".
func (l Link) String() string {
	switch l {
	case Logistic:
		return "logistic"
	case Probit:
		return "probit"
	}
	return fmt.Sprintf("Link(%d)", int(l))
}

// at returns F, 1 - F and the first two derivatives of F.
func (l Link) at(x float64) (f, rest, slope, bend float64) {
	switch l {
	case Logistic:
		f, rest = logistic(x), logistic(-x)
		slope = f * rest
		return f, rest, slope, slope * (rest - f)
	case Probit:
		slope = normalDensity(x)
		return normalCDF(x), normalCDF(-x), slope, -x * slope
	}
	panic(fmt.Sprintf("stats: link %d is none", int(l)))
}

// LevelCount is what was answered at one level of a stimulus: Correct of N
// answers. Level is on the scale on which the psychometric function is
// symmetric, for a concentration commonly its logarithm.
type LevelCount struct {
	Level      float64
	N, Correct int
}

// ThresholdStatus tells whether a psychometric function could be fitted, and
// why not.
type ThresholdStatus string

const (
	// ThresholdFitted: there is a finite maximum of the likelihood.
	ThresholdFitted ThresholdStatus = "fitted"
	// ThresholdStep: the data are separated. Below one level answers are no
	// better than guesses and above it all are correct, so the likelihood
	// rises with the slope without end. The threshold lies from StepFrom to
	// StepTo.
	ThresholdStep ThresholdStatus = "step"
	// ThresholdNoTrend: the share correct does not rise with the level.
	ThresholdNoTrend ThresholdStatus = "no-trend"
	// ThresholdBelow: all answers are correct; the threshold lies below the
	// lowest level, if anywhere.
	ThresholdBelow ThresholdStatus = "below"
	// ThresholdAbove: no level does better than guessing; the threshold lies
	// above the highest level, if anywhere.
	ThresholdAbove ThresholdStatus = "above"
	// ThresholdOneLevel: there is one level only.
	ThresholdOneLevel ThresholdStatus = "one-level"
)

// The kinds of warning beside a fitted threshold.
const (
	// ThresholdUnfitted: there is no finite estimate; Status says why.
	ThresholdUnfitted WarningKind = "threshold-unfitted"
	// ThresholdUnbounded: an interval has no limit on one side or on both.
	ThresholdUnbounded WarningKind = "threshold-unbounded"
	// ThresholdOutside: the estimate lies outside the levels that were served.
	ThresholdOutside WarningKind = "threshold-outside"
	// ThresholdUnchecked: two levels, which any two parameters fit.
	ThresholdUnchecked WarningKind = "threshold-unchecked"
)

// ThresholdErrors holds standard errors.
type ThresholdErrors struct {
	Intercept, Slope, Threshold float64
}

// ThresholdFit is a psychometric function with a fixed guess rate, fitted by
// maximum likelihood:
//
//	pc(level) = Guess + (1 - Guess) F(Intercept + Slope level), Slope > 0
//
// F is Link. There is no allowance for lapses: far above the threshold pc is 1.
type ThresholdFit struct {
	Guess      float64
	Link       Link
	Levels     int // distinct ones
	N, Correct int // of all levels
	Status     ThresholdStatus

	// Intercept, Slope and Threshold = -Intercept/Slope, the level at which F is
	// ½ and pc (1 + Guess)/2. NaN unless Status is ThresholdFitted, as are the
	// standard errors and limits.
	Intercept, Slope, Threshold float64

	// Standard errors from the observed information and from the expected one,
	// which differ where Guess > 0; the threshold's by the delta method.
	Observed, Expected ThresholdErrors

	// Two-sided profile-likelihood intervals, not standard errors times a
	// quantile. The threshold's may reach from -Inf or to +Inf, the slope's from
	// 0 or to +Inf, where the data leave that open.
	ThresholdInterval, SlopeInterval Interval

	// LogLikelihood counts the binomial coefficients. Without a fit it is the
	// supremum that the likelihood tends to.
	LogLikelihood float64

	// Deviance is twice the log-likelihood that is lacking of one pc per level,
	// and DF = Levels - 2. With few answers a level the chi-square distribution
	// is no guide to it, so no p-value is given. NaN without a fit.
	Deviance float64
	DF       int

	// StepFrom and StepTo hold the threshold between them where Status is
	// ThresholdStep, ThresholdBelow or ThresholdAbove (then one is infinite).
	// They are equal where a level sits on the step; StepPC is its share
	// correct. NaN otherwise.
	StepFrom, StepTo, StepPC float64

	Warnings []Warning
}

// PC returns the fitted probability of a correct answer at a level, NaN unless
// Status is ThresholdFitted.
func (f ThresholdFit) PC(level float64) float64 {
	share, _, _, _ := f.Link.at(f.Intercept + f.Slope*level)
	return PcFromPd(share, f.Guess)
}

// ladder is the data of a fit: distinct levels, ascending, on a scale from -1
// at the lowest to 1 at the highest, so that searches know their way whatever
// the unit.
type ladder struct {
	guess      float64
	link       Link
	rungs      []LevelCount
	levels     []float64 // as given, for the rungs
	center     float64
	half       float64 // half the span, 1 for a single level
	gap        float64 // the smallest distance of two rungs, 2 for a single level
	n, correct int
}

func newLadder(counts []LevelCount, guess float64, link Link) ladder {
	checkChance(guess)
	link.at(0) // panics at none
	if len(counts) == 0 {
		panic("stats: counts of no level")
	}
	l := ladder{guess: guess, link: link}
	ordered := slices.Clone(counts)
	slices.SortStableFunc(ordered, func(a, b LevelCount) int { return cmp.Compare(a.Level, b.Level) })
	for _, c := range ordered {
		checkCount(c.N, c.Correct)
		if math.IsNaN(c.Level) || math.IsInf(c.Level, 0) {
			panic(fmt.Sprintf("stats: level %v is no number", c.Level))
		}
		l.n += c.N
		l.correct += c.Correct
		if last := len(l.rungs) - 1; last >= 0 && l.rungs[last].Level == c.Level {
			l.rungs[last].N += c.N
			l.rungs[last].Correct += c.Correct
			continue
		}
		l.rungs = append(l.rungs, c)
	}
	lo, hi := l.rungs[0].Level, l.rungs[len(l.rungs)-1].Level
	l.center, l.half = lo/2+hi/2, hi/2-lo/2
	if l.half == 0 {
		l.half = 1
	}
	for i := range l.rungs {
		l.levels = append(l.levels, l.rungs[i].Level)
		l.rungs[i].Level = (l.rungs[i].Level - l.center) / l.half
	}
	l.gap = 2
	for i := range l.rungs[1:] {
		// Rounding of the center can put two levels on one place.
		l.gap = min(l.gap, max(1e-12, l.rungs[i+1].Level-l.rungs[i].Level))
	}
	return l
}

// around returns the ladder on a scale on which a curve of that slope, ½ at
// place, has slope 1 and is ½ at 0.
func (l ladder) around(place, slope float64) ladder {
	l.rungs = slices.Clone(l.rungs)
	for i := range l.rungs {
		l.rungs[i].Level = slope * (l.rungs[i].Level - place)
	}
	return l
}

// level turns a place on the ladder's scale back into a level.
func (l ladder) level(place float64) float64 {
	return l.center + l.half*place
}

// loglik returns the log-likelihood of F(intercept + slope place), without the
// binomial coefficients.
func (l ladder) loglik(intercept, slope float64) float64 {
	var sum float64
	for _, r := range l.rungs {
		f, rest, _, _ := l.link.at(intercept + slope*r.Level)
		sum += evidence(r, l.guess+(1-l.guess)*f, (1-l.guess)*rest)
	}
	return sum
}

// evidence returns the log-likelihood of one level, without the binomial
// coefficient, at a probability pc with 1 - pc = miss.
func evidence(r LevelCount, pc, miss float64) float64 {
	var sum float64
	if r.Correct > 0 {
		sum += float64(r.Correct) * math.Log(pc)
	}
	if wrong := r.N - r.Correct; wrong > 0 {
		sum += float64(wrong) * math.Log(miss)
	}
	return sum
}

// coefficients returns the sum of the logarithms of the binomial coefficients.
func (l ladder) coefficients() float64 {
	var sum float64
	for _, r := range l.rungs {
		sum += logChoose(r.N, r.Correct)
	}
	return sum
}

// summit returns the log-likelihood with its derivatives by intercept and
// slope.
func (l ladder) summit(at [2]float64) summit {
	var sum summit
	for _, r := range l.rungs {
		f, rest, slope, bend := l.link.at(at[0] + at[1]*r.Level)
		pc, miss := l.guess+(1-l.guess)*f, (1-l.guess)*rest
		sum.value += evidence(r, pc, miss)
		slope, bend = slope*(1-l.guess), bend*(1-l.guess)
		var push, pull float64 // by pc: the first derivative and minus the second
		if right := float64(r.Correct); right > 0 {
			push += right / pc
			pull += right / pc / pc
		}
		if wrong := float64(r.N - r.Correct); wrong > 0 {
			push -= wrong / miss
			pull += wrong / miss / miss
		}
		first, second := slope*push, bend*push-slope*slope*pull
		sum.slope[0] += first
		sum.slope[1] += first * r.Level
		sum.bend[0] += second
		sum.bend[1] += second * r.Level
		sum.bend[2] += second * r.Level * r.Level
	}
	return sum
}

// expected returns the expected information of intercept and slope.
func (l ladder) expected(at [2]float64) (information [3]float64) {
	for _, r := range l.rungs {
		f, rest, slope, _ := l.link.at(at[0] + at[1]*r.Level)
		if slope == 0 {
			continue // so far out that the level tells nothing
		}
		slope *= 1 - l.guess
		weight := float64(r.N) * slope * slope / ((l.guess + (1-l.guess)*f) * (1 - l.guess) * rest)
		information[0] += weight
		information[1] += weight * r.Level
		information[2] += weight * r.Level * r.Level
	}
	return information
}

// rising returns the shares correct that suit the data best among those that
// do not fall from level to level and stay in [guess, 1]: neighbours that fall
// are pooled (the pool-adjacent-violators rule, from memory). No psychometric
// function with this guess rate can have a larger likelihood.
func (l ladder) rising() []float64 {
	type pool struct{ n, correct, levels int }
	var pools []pool
	for _, r := range l.rungs {
		pools = append(pools, pool{r.N, r.Correct, 1})
		for last := len(pools) - 1; last > 0; last-- {
			a, b := pools[last-1], pools[last]
			if a.correct*b.n < b.correct*a.n {
				break
			}
			pools = append(pools[:last-1], pool{a.n + b.n, a.correct + b.correct, a.levels + b.levels})
		}
	}
	var shares []float64
	for _, p := range pools {
		for range p.levels {
			shares = append(shares, max(l.guess, float64(p.correct)/float64(p.n)))
		}
	}
	return shares
}

// step is a psychometric function of endless slope: guesses below a level, pc
// at it, and correct answers above.
type step struct {
	rung          int
	pc            float64
	loglikelihood float64
}

// bestStep returns the step with the largest likelihood; that is -Inf where
// some answer speaks against a step at any place.
func (l ladder) bestStep() step {
	best := step{loglikelihood: math.Inf(-1)}
	for i, at := range l.rungs {
		s := step{rung: i, pc: max(l.guess, float64(at.Correct)/float64(at.N))}
		for j, r := range l.rungs {
			switch {
			case j < i:
				s.loglikelihood += evidence(r, l.guess, 1-l.guess)
			case j == i:
				s.loglikelihood += evidence(r, s.pc, 1-s.pc)
			default:
				s.loglikelihood += evidence(r, 1, 0)
			}
		}
		if s.loglikelihood > best.loglikelihood {
			best = s
		}
	}
	return best
}

// flat returns the log-likelihood of one pc for all levels, at its best.
func (l ladder) flat() float64 {
	all := LevelCount{N: l.n, Correct: l.correct}
	pc := max(l.guess, float64(l.correct)/float64(l.n))
	return evidence(all, pc, 1-pc)
}
