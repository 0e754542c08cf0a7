package stats

import (
	"fmt"
	"math"
)

// Standing is how a judge's record compares with a typical panellist.
type Standing string

const (
	// StandingTypical: nothing speaks clearly against a typical panellist. It does
	// not mean that the judge is one: little may be known.
	StandingTypical Standing = "typical"
	// StandingWeak: fewer correct than a typical panellist in the same sets.
	StandingWeak Standing = "weak"
	// StandingStrong: more.
	StandingStrong Standing = "strong"
	// StandingUnknown: too few tests count to say anything.
	StandingUnknown Standing = "unknown"
)

// fewestTests is the number of counted tests from which a judge is compared at
// all (own choice: two tests, so that one alone never decides).
const fewestTests = 2

// JudgeFlag is one judge's record held against a typical panellist in the same
// sets. Expected and SD are mean and standard deviation of that panellist's
// number correct.
//
// PWeak is the probability that he or she has Correct or fewer right, PStrong that
// it is Correct or more. AdjustedWeak and AdjustedStrong are those of [Holm] over
// both ends of all judges who are compared; 1 for a judge who is not.
//
// OneTest tells that the record would be flagged but for resting on one test.
type JudgeFlag struct {
	Judge                        int
	Tests, Sets, Correct         int
	Expected, SD                 float64
	PWeak, PStrong               float64
	AdjustedWeak, AdjustedStrong float64
	Standing                     Standing
	OneTest                      bool
}

// FlagJudges compares every judge with a typical panellist, by what
// [PanelFit.Trials] says of that panellist, judges in the order given. The
// p-values are exact tails of the sum of the trials' distributions, each one-sided.
//
// A judge is flagged as weak or strong where the adjusted p-value is at most level,
// and the plain one remains at most level whichever one test is left out: nobody
// is flagged on one test alone. A judge with fewer than 2 counted tests is not
// compared.
//
// If all judges are typical, the probability that any is flagged, either way, is
// at most level (S. Holm, 1979; from memory), whatever the dependence between
// judges who sat in the same tests. That is exact for given Typical distributions,
// and holds for fitted ones as far as the fit does; [SimulatePanel] counts how far.
// It does not cover looking again after every session: a judge who is looked at
// often is flagged more often. Look at stated times, or follow [FollowDrift].
//
// It panics unless 0 < level < 1, and on a trial whose count is not in Typical.
func FlagJudges(records [][]JudgeTrial, level float64) []JudgeFlag {
	checkRisk("level", level)
	for _, record := range records {
		for _, t := range record {
			checkTrial(t)
		}
	}
	flags := make([]JudgeFlag, len(records))
	inParallel(len(records), func(j int) { flags[j] = compare(j, records[j]) })
	var compared []int
	var ps []float64
	for j, f := range flags {
		if f.Tests >= fewestTests {
			compared = append(compared, j)
			ps = append(ps, f.PWeak, f.PStrong)
		}
	}
	adjusted := Holm(ps)
	for i, j := range compared {
		f := &flags[j]
		f.Standing = StandingTypical
		f.AdjustedWeak, f.AdjustedStrong = adjusted[2*i], adjusted[2*i+1]
		weak, strong := f.AdjustedWeak <= level, f.AdjustedStrong <= level
		if !weak && !strong {
			continue
		}
		lessWeak, lessStrong := withoutAny(records[j])
		switch {
		case weak && lessWeak <= level:
			f.Standing = StandingWeak
		case strong && lessStrong <= level:
			f.Standing = StandingStrong
		default:
			f.OneTest = true
		}
	}
	return flags
}

// compare works out one judge's plain tails.
func compare(judge int, record []JudgeTrial) JudgeFlag {
	f := JudgeFlag{Judge: judge, Tests: len(record), Standing: StandingUnknown,
		PWeak: 1, PStrong: 1, AdjustedWeak: 1, AdjustedStrong: 1}
	parts := make([][]float64, len(record))
	for i, t := range record {
		parts[i] = t.Typical
		f.Sets += t.Sets()
		f.Correct += t.Correct
	}
	f.Expected, f.SD = meanOf(parts)
	sum := sumOf(parts)
	f.PWeak, f.PStrong = sum.atMost(f.Correct), sum.atLeast(f.Correct)
	return f
}

// withoutAny returns the largest tails of a record with any one of its tests left
// out. The sum without a test is that of the tests before it and of those after.
func withoutAny(record []JudgeTrial) (weak, strong float64) {
	n := len(record)
	after := make([]counted, n+1) // after[i]: the tests from i on
	after[n] = counted{mass: []float64{1}}
	correct := 0
	for i := n - 1; i >= 0; i-- {
		next := after[i+1]
		after[i] = counted{from: next.from, mass: append([]float64(nil), next.mass...)}
		after[i].add(record[i].Typical)
		after[i].trim()
		correct += record[i].Correct
	}
	before := counted{mass: []float64{1}}
	for i, t := range record {
		low, high := joint(before, after[i+1], correct-t.Correct)
		weak, strong = max(weak, low), max(strong, high)
		before.add(t.Typical)
		before.trim()
	}
	return weak, strong
}

// joint returns P(X + Y ≤ s) and P(X + Y ≥ s) of independent counts.
func joint(x, y counted, s int) (atMost, atLeast float64) {
	up := make([]float64, len(y.mass)+1) // up[i]: P(Y ≥ y.from + i)
	for i := len(y.mass) - 1; i >= 0; i-- {
		up[i] = up[i+1] + y.mass[i]
	}
	down := make([]float64, len(y.mass)+1) // down[i]: P(Y < y.from + i)
	for i, m := range y.mass {
		down[i+1] = down[i] + m
	}
	for i, m := range x.mass {
		left := s - (x.from + i) - y.from // of Y beyond its first count
		atMost += m * down[max(0, min(left+1, len(y.mass)))]
		atLeast += m * up[max(0, min(left, len(y.mass)))]
	}
	return min(1, atMost), min(1, atLeast)
}

// meanOf returns mean and standard deviation of a sum of independent counts.
func meanOf(parts [][]float64) (mean, sd float64) {
	var variance float64
	for _, part := range parts {
		var m, square float64
		for x, p := range part {
			m += p * float64(x)
			square += p * float64(x) * float64(x)
		}
		mean += m
		variance += max(0, square-m*m)
	}
	return mean, math.Sqrt(variance)
}

func checkTrial(t JudgeTrial) {
	if t.Correct < 0 || t.Correct >= len(t.Typical) {
		panic(fmt.Sprintf("stats: %d correct in a trial of %d", t.Correct, len(t.Typical)-1))
	}
}
