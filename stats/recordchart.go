package stats

import "slices"

// Qualification is where a judge stands on a chart of Wald's lines.
type Qualification string

const (
	// Qualified: the path has reached the upper line.
	Qualified Qualification = "qualified"
	// NotYet: it lies between the lines. More sets are needed.
	NotYet Qualification = "not-yet"
	// BelowMark: it has reached the lower line.
	BelowMark Qualification = "below"
)

// RecordPoint is the path of a judge's record after N sets: Correct of them right,
// with the lines there.
type RecordPoint struct {
	N, Correct   int
	Lower, Upper float64
	Standing     Qualification
}

// RecordChart is a judge's series of like sets, such as controls of one size in
// one method, between the lines of a sequential test.
//
// Points holds every set, also those after the end; the standing never changes
// once a line is reached. DecidedAt is the number of sets at that, 0 before.
// MoreCorrect is how many sets in a row must all be right, from here, to qualify,
// and MoreWrong how many must all be wrong to fall below; both are 0 once decided,
// and where the plan's maximum comes before.
type RecordChart struct {
	Plan                   Sequential
	Lines                  SequentialLines
	Points                 []RecordPoint
	Standing               Qualification
	DecidedAt              int
	MoreCorrect, MoreWrong int
}

// FollowRecord draws the record of a judge, true where a set was right, in the
// order in which the sets were served. P0 of the plan is the share correct of a
// judge who must not qualify, P1 that of one who must: Alpha is the risk to qualify
// the former, Beta to put the latter below. (Wald's sequential test; ISO 16820
// names the selection and monitoring of assessors as a use; from memory.)
//
// A plan that ends at its maximum undecided leaves the judge not yet qualified.
// Sets after a line was reached belong to another chart, such as one of drift.
//
// It panics as [Sequential] does.
func FollowRecord(plan Sequential, right []bool) RecordChart {
	chart := RecordChart{Plan: plan, Lines: plan.Lines(), Standing: NotYet}
	correct := 0
	for i, ok := range right {
		if ok {
			correct++
		}
		n := i + 1
		if chart.Standing == NotYet && plan.isLook(n) && !plan.past(n) {
			chart.Standing = qualification(plan.decide(chart.Lines, n, correct))
			if chart.Standing != NotYet {
				chart.DecidedAt = n
			}
		}
		chart.Points = append(chart.Points, RecordPoint{
			N: n, Correct: correct,
			Lower:    chart.Lines.LowerIntercept + chart.Lines.Slope*float64(n),
			Upper:    chart.Lines.UpperIntercept + chart.Lines.Slope*float64(n),
			Standing: chart.Standing,
		})
	}
	if chart.Standing == NotYet {
		chart.MoreCorrect = plan.inARow(chart.Lines, len(right), correct, Qualified)
		chart.MoreWrong = plan.inARow(chart.Lines, len(right), correct, BelowMark)
	}
	return chart
}

// past tells whether the test has ended before n sets.
func (p Sequential) past(n int) bool { return p.Max > 0 && n > p.Max }

// inARow returns how many more sets, all right or all wrong, lead to a standing.
func (p Sequential) inARow(lines SequentialLines, n, correct int, want Qualification) int {
	more := 0
	for at := p.nextLook(n); at > 0; at = p.nextLook(at) {
		more = at - n
		then := correct
		if want == Qualified {
			then += more
		}
		if qualification(p.decide(lines, at, then)) == want {
			return more
		}
	}
	return 0
}

func qualification(d Decision) Qualification {
	switch d {
	case Different:
		return Qualified
	case Similar:
		return BelowMark
	}
	return NotYet
}

// RecordOdds is what a chart's lines do with a judge whose share correct is PC: the
// probabilities to qualify, to fall below and to end undecided at the maximum, and
// the mean number of sets to the end.
type RecordOdds struct {
	PC                          float64
	Qualified, Below, Undecided float64
	ExpectedN                   float64
	Warnings                    []Warning
}

// RecordCharacteristic returns the operating characteristic of a chart in rising order
// of the share correct: at steps+1 shares from 0 to 1, at P0 and P1, and at the slope of
// the lines, near which the series are longest. The values are exact, by
// [Sequential.Outcome].
//
// It panics as [Sequential] does, and unless steps ≥ 1.
func RecordCharacteristic(plan Sequential, steps int) []RecordOdds {
	checkSize(steps)
	shares := []float64{plan.P0, plan.P1, plan.Lines().Slope}
	for i := range steps + 1 {
		shares = append(shares, float64(i)/float64(steps))
	}
	slices.Sort(shares)
	var odds []RecordOdds
	for _, pc := range slices.Compact(shares) {
		o := plan.Outcome(pc)
		odds = append(odds, RecordOdds{pc, o.Different, o.Similar, o.Undecided, o.ExpectedN, o.Warnings})
	}
	return odds
}
