package stats

import (
	"fmt"
	"math"
)

// The kinds of warning beside a best-estimate threshold.
const (
	// AscendingOutside: the threshold was put one step beyond the levels.
	AscendingOutside WarningKind = "ascending-outside"
	// AscendingFew: fewer assessors than a group's threshold should rest on.
	AscendingFew WarningKind = "ascending-few"
)

// BestEstimate is an assessor's threshold from one ascending series, such as of
// 3-AFC sets, by the best-estimate rule.
type BestEstimate struct {
	// Threshold is √(LastMissed NextHigher), in the unit of the levels.
	Threshold float64

	// LastMissed is the highest level answered wrongly and NextHigher the one
	// above it. Where no level was missed LastMissed lies one step below the
	// lowest, where the highest was missed NextHigher lies one step above it.
	LastMissed, NextHigher float64

	// Outside is true where one of the two was not served.
	Outside bool

	Warnings []Warning
}

// BestEstimateThreshold returns the best-estimate threshold of one assessor
// from the answers at levels that ascend: the geometric mean of the highest
// level missed and the next higher one, after which all are correct. A step
// beyond the levels has the ratio of the two levels at that end. (ASTM E679,
// rule from memory.)
//
// The levels are concentrations or other amounts, not logarithms. The rule is
// simple and biased: a guess that happens to be right lowers the threshold, one
// series cannot tell it from detection. In 3-AFC an assessor who detects
// nothing still ends below the highest level one time in three. [FitThreshold]
// allows for guesses, on the answers of a group.
//
// It panics unless there are two levels or more, ascending, from 1e-100 to 1e100
// each, and an answer for each.
func BestEstimateThreshold(levels []float64, correct []bool) BestEstimate {
	checkLadder(levels, len(correct))
	last := len(levels) - 1
	missed := -1
	for i, right := range correct {
		if !right {
			missed = i
		}
	}
	var e BestEstimate
	switch missed {
	case -1:
		e.LastMissed, e.NextHigher = levels[0]*(levels[0]/levels[1]), levels[0]
		e.Outside = true
		e.Warnings = []Warning{{AscendingOutside, fmt.Sprintf(
			"No level was missed, so the threshold lies below %v and was put one step lower.", levels[0])}}
	case last:
		e.LastMissed, e.NextHigher = levels[last], levels[last]*(levels[last]/levels[last-1])
		e.Outside = true
		e.Warnings = []Warning{{AscendingOutside, fmt.Sprintf(
			"The highest level was missed, so the threshold lies above %v and was put one step higher.", levels[last])}}
	default:
		e.LastMissed, e.NextHigher = levels[missed], levels[missed+1]
	}
	// Not √(a b), which can overflow.
	e.Threshold = math.Sqrt(e.LastMissed) * math.Sqrt(e.NextHigher)
	return e
}

func checkLadder(levels []float64, answers int) {
	if len(levels) < 2 || answers != len(levels) {
		panic(fmt.Sprintf("stats: %d answers at %d levels of an ascending series", answers, len(levels)))
	}
	for i, level := range levels {
		// Within these bounds a step beyond the levels is a number, too.
		if !(level >= 1e-100 && level <= 1e100) || (i > 0 && !(level > levels[i-1])) {
			panic(fmt.Sprintf("stats: level %v of an ascending series %v", level, levels))
		}
	}
}

// GroupThreshold is the threshold of a group from its members' best estimates.
type GroupThreshold struct {
	Assessors int

	// Threshold is the geometric mean, in the unit of the levels.
	Threshold float64

	// Log10SD is the standard deviation of the decimal logarithms, with n - 1;
	// NaN for one assessor. Half of a group lies within about 10^(±0.67 Log10SD)
	// of the mean, if logarithms are normally distributed.
	Log10SD float64

	// Outside counts the members whose threshold lies beyond the levels.
	Outside int

	Warnings []Warning
}

// GroupBestEstimate returns the geometric mean of the members' thresholds and
// how much they spread. No interval is given: the members' own errors are part
// of the spread, and no single series tells the two apart.
//
// It panics on an empty list and on a threshold that is not positive.
func GroupBestEstimate(members []BestEstimate) GroupThreshold {
	if len(members) == 0 {
		panic("stats: threshold of no assessor")
	}
	g := GroupThreshold{Assessors: len(members), Log10SD: math.NaN()}
	var sum float64
	for _, m := range members {
		if !(m.Threshold > 0) || math.IsInf(m.Threshold, 1) {
			panic(fmt.Sprintf("stats: threshold %v is no level", m.Threshold))
		}
		sum += math.Log10(m.Threshold)
		if m.Outside {
			g.Outside++
		}
	}
	mean := sum / float64(len(members))
	g.Threshold = math.Pow(10, mean)
	if len(members) > 1 {
		var squares float64
		for _, m := range members {
			off := math.Log10(m.Threshold) - mean
			squares += off * off
		}
		g.Log10SD = math.Sqrt(squares / float64(len(members)-1))
	}
	if g.Outside > 0 {
		g.Warnings = append(g.Warnings, Warning{AscendingOutside, fmt.Sprintf(
			"%d of %d thresholds lie outside the levels served, so the mean rests on where they were put.", g.Outside, g.Assessors)})
	}
	if g.Assessors < fewAssessors {
		g.Warnings = append(g.Warnings, Warning{AscendingFew, fmt.Sprintf(
			"With %d the group is too small for its mean to stand for others.", g.Assessors)})
	}
	return g
}
