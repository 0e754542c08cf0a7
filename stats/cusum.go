package stats

import (
	"fmt"
	"math"
)

// DriftTrial is one test, or one set, of a series that is watched for drift:
// the distributions of the number correct, from 0 to n, of a judge in control and
// of one who has drifted.
type DriftTrial struct {
	InControl, Drifted []float64
}

// DriftSet returns the trial of one set: correct with probability p0 in control
// and p1 after a drift.
//
// It panics unless 0 < p1 < p0 < 1.
func DriftSet(p0, p1 float64) DriftTrial {
	if !(p1 > 0 && p1 < p0 && p0 < 1) {
		panic(fmt.Sprintf("stats: p1 = %v after a drift is not below p0 = %v", p1, p0))
	}
	return DriftTrial{InControl: []float64{1 - p0, p0}, Drifted: []float64{1 - p1, p1}}
}

// driftUnit is the step of a score, in natural logarithms. Scores are rounded to
// it, so that the chart is a walk over whole numbers and its run lengths are
// those of a finite Markov chain, without approximation.
const driftUnit = 0.01

// highestLimit bounds the limit of a drift chart, in natural logarithms.
const highestLimit = 40

// score returns what x correct adds to the chart, in units.
func (t DriftTrial) score(x int) int {
	in, out := t.InControl[x], t.Drifted[x]
	switch {
	case in == out:
		return 0
	case in == 0 || out == 0:
		return int(math.Copysign(highestLimit/driftUnit, out-in))
	}
	s := math.Round(math.Log(out/in) / driftUnit)
	return int(max(-highestLimit/driftUnit, min(highestLimit/driftUnit, s)))
}

// DriftPoint is the chart after one trial. Sum is what speaks for a drift, in
// natural logarithms, from 0; Signal tells that it has reached the limit there. After a
// signal the sum starts at 0 again.
type DriftPoint struct {
	Correct, N int // in this trial
	Expected   float64
	Sum        float64
	Signal     bool
}

// DriftChart is a judge's series on a chart of drift. FirstSignal is the index of
// the first point with a signal, -1 for none. FalseAlarm is the exact probability
// that a judge in control has a signal somewhere in these very trials, whose
// difficulty varies as it did. It is exact for the distributions given; where they are
// fitted, [SimulatedPanel] tells how near it comes.
type DriftChart struct {
	Limit       float64
	Points      []DriftPoint
	FirstSignal int
	FalseAlarm  float64
}

// FollowDrift draws the cumulative sum for a drift downwards (E. S. Page, Biometrika
// 41, 1954; for single answers M. R. Reynolds, Z. G. Stoumbos, 1999; from memory):
//
//	S_0 = 0    S_t = max(0, S_{t-1} + ln(Drifted_t(x_t)/InControl_t(x_t)))
//
// with a signal where S_t ≥ limit. The logarithm is rounded to 0.01, so that run
// lengths are exact; a limit is rounded up to 0.01. For a set it is ln(p1/p0) where
// right and ln((1-p1)/(1-p0)) where not.
//
// It panics unless there are as many counts as trials, each trial has two
// distributions of one length that sum to 1 within 1e-6, the counts are in range
// and 0 < limit ≤ 40.
func FollowDrift(trials []DriftTrial, correct []int, limit float64) DriftChart {
	if len(trials) != len(correct) {
		panic(fmt.Sprintf("stats: %d counts of %d trials", len(correct), len(trials)))
	}
	top := driftLimit(limit)
	chart := DriftChart{Limit: float64(top) * driftUnit, FirstSignal: -1}
	sum := 0
	for i, t := range trials {
		t.check()
		x := correct[i]
		if x < 0 || x >= len(t.InControl) {
			panic(fmt.Sprintf("stats: %d correct in a trial of %d", x, len(t.InControl)-1))
		}
		sum = max(0, sum+t.score(x))
		mean, _ := meanOf([][]float64{t.InControl})
		p := DriftPoint{Correct: x, N: len(t.InControl) - 1, Expected: mean, Sum: float64(sum) * driftUnit, Signal: sum >= top}
		if p.Signal {
			sum = 0
			if chart.FirstSignal < 0 {
				chart.FirstSignal = i
			}
		}
		chart.Points = append(chart.Points, p)
	}
	chart.FalseAlarm = FalseDrift(trials, limit)
	return chart
}

// FalseDrift returns the exact probability that a judge in control has a signal in
// a series of trials, one after the other, whatever their difficulties.
//
// It panics as [FollowDrift] does.
func FalseDrift(trials []DriftTrial, limit float64) float64 { return FalseDriftFrom(trials, limit, 0) }

// FalseDriftFrom returns the exact probability that a judge in control has a signal
// in the trials from index from on, of a chart that began at the first trial and began
// at 0 again after each signal before.
//
// It panics unless 0 ≤ from ≤ the number of trials, and as [FollowDrift] does.
func FalseDriftFrom(trials []DriftTrial, limit float64, from int) float64 {
	if from < 0 || from > len(trials) {
		panic(fmt.Sprintf("stats: signals from trial %d of %d", from, len(trials)))
	}
	walk := newWalk(driftLimit(limit))
	for _, t := range trials[:from] {
		t.check()
		walk.mass[0] += walk.step(t.steps(t.InControl))
	}
	signal := 0.0
	for _, t := range trials[from:] {
		t.check()
		signal += walk.step(t.steps(t.InControl))
	}
	return min(1, signal)
}

// DriftMix is a kind of trial and how often it comes, for run lengths of a series
// whose difficulties vary at random.
type DriftMix struct {
	DriftTrial
	Share float64
}

// RunLength is the mean number of trials from the start to a signal: InControl the
// mean distance of false alarms, Drifted the mean delay where the drift was there
// from the start.
type RunLength struct {
	Limit              float64
	InControl, Drifted float64
}

// DriftRunLength returns the mean run lengths of a chart whose trials are drawn from
// a mix, or are all alike. The sum is a Markov chain over the multiples of 0.01
// below the limit; with S_n the probability that no signal has come in n trials
//
//	mean = Σ_{n≥0} S_n
//
// summed until S_n falls by one factor from trial to trial, and the rest as a
// geometric series. The relative error is below 1e-8. A mean beyond 1e9 is given
// as +Inf.
//
// It panics unless the shares are above 0 and sum to 1 within 1e-9, and as
// [FollowDrift] does.
func DriftRunLength(mix []DriftMix, limit float64) RunLength {
	checkMix(mix)
	top := driftLimit(limit)
	return RunLength{
		Limit:     float64(top) * driftUnit,
		InControl: meanRun(mixedSteps(mix, false), top),
		Drifted:   meanRun(mixedSteps(mix, true), top),
	}
}

// DriftLimit returns the smallest limit, a multiple of 0.01 up to 40, at which the
// mean run length in control is at least as wanted, with its run lengths. ok is
// false where no limit reaches it.
//
// It panics unless 1 ≤ inControl ≤ 1e6, and as [DriftRunLength] does.
func DriftLimit(mix []DriftMix, inControl float64) (run RunLength, ok bool) {
	checkMix(mix)
	if !(inControl >= 1 && inControl <= 1e6) {
		panic(fmt.Sprintf("stats: mean run length = %v is not between 1 and 1e6", inControl))
	}
	steps := mixedSteps(mix, false)
	// The mean rises with the limit. Doubling first keeps the walks short.
	lo, hi := 0, 1
	const most = int(highestLimit / driftUnit)
	for meanRun(steps, hi) < inControl {
		if hi == most {
			return RunLength{}, false
		}
		lo, hi = hi, min(2*hi, most)
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; meanRun(steps, mid) < inControl {
			lo = mid
		} else {
			hi = mid
		}
	}
	return DriftRunLength(mix, float64(hi)*driftUnit), true
}

// driftStep is a score with its probability.
type driftStep struct {
	score int
	p     float64
}

func (t DriftTrial) steps(p []float64) []driftStep {
	var steps []driftStep
	for x, mass := range p {
		steps = append(steps, driftStep{t.score(x), mass})
	}
	return steps
}

// mixedSteps returns the steps of a trial drawn from the mix, each score once.
func mixedSteps(mix []DriftMix, drifted bool) []driftStep {
	at := map[int]int{}
	var steps []driftStep
	for _, m := range mix {
		p := m.InControl
		if drifted {
			p = m.Drifted
		}
		for _, s := range m.steps(p) {
			i, seen := at[s.score]
			if !seen {
				i = len(steps)
				at[s.score] = i
				steps = append(steps, driftStep{score: s.score})
			}
			steps[i].p += m.Share * s.p
		}
	}
	return steps
}

// walk is the distribution of a sum that has not reached the limit. highest is where
// it ends.
type walk struct {
	mass, next []float64
	highest    int
}

func newWalk(limit int) *walk {
	w := &walk{mass: make([]float64, limit), next: make([]float64, limit)}
	w.mass[0] = 1
	return w
}

// step takes one trial and returns the probability of a signal at it.
func (w *walk) step(steps []driftStep) (signal float64) {
	clear(w.next)
	limit, highest := len(w.mass), 0
	mass := w.mass[:w.highest+1]
	for _, s := range steps {
		if s.p == 0 {
			continue
		}
		held := min(len(mass), max(0, 1-s.score))       // end at 0 or below
		out := max(held, min(len(mass), limit-s.score)) // from here on beyond the limit
		var zero, beyond float64
		for _, m := range mass[:held] {
			zero += m
		}
		for _, m := range mass[out:] {
			beyond += m
		}
		if out > held {
			to := w.next[held+s.score : out+s.score]
			for i, m := range mass[held:out] {
				to[i] += s.p * m
			}
			highest = max(highest, out+s.score-1)
		}
		if held > 0 && s.score < limit {
			w.next[0] += s.p * zero
		} else if held > 0 {
			beyond += zero
		}
		signal += s.p * beyond
	}
	w.mass, w.next, w.highest = w.next, w.mass, highest
	return signal
}

// meanRun returns the mean number of trials to a signal.
func meanRun(steps []driftStep, limit int) float64 {
	w := newWalk(limit)
	mean, rest, last := 0.0, 1.0, math.NaN()
	steady := 0
	for n := 0; n < 1_000_000; n++ {
		mean += rest
		w.step(steps)
		now := massOf(w.mass)
		if now == 0 {
			return mean
		}
		factor := now / rest
		rest = now
		if math.Abs(factor-last) <= max(1e-10*(1-factor), 2e-15) {
			steady++
		} else {
			steady = 0
		}
		last = factor
		if rest < 1e-14*mean*(1-factor) || steady >= 50 {
			break
		}
	}
	// What is left of the sum is a geometric series, endless within rounding where
	// nearly nothing is lost at a trial.
	lost := 1 - last
	if lost < 1e-9 || mean+rest/lost > 1e9 {
		return math.Inf(1)
	}
	return mean + rest/lost
}

func driftLimit(limit float64) int {
	if !(limit > 0 && limit <= highestLimit) {
		panic(fmt.Sprintf("stats: limit = %v of a drift chart is not between 0 and %d", limit, highestLimit))
	}
	return int(math.Ceil(limit/driftUnit - 1e-9))
}

func (t DriftTrial) check() {
	if len(t.InControl) < 2 || len(t.InControl) != len(t.Drifted) {
		panic(fmt.Sprintf("stats: trial with %d and %d outcomes", len(t.InControl), len(t.Drifted)))
	}
	for _, p := range [][]float64{t.InControl, t.Drifted} {
		if sum := massOf(p); !(math.Abs(sum-1) <= 1e-6) {
			panic(fmt.Sprintf("stats: outcomes of a trial sum to %v", sum))
		}
	}
}

func checkMix(mix []DriftMix) {
	var sum float64
	for _, m := range mix {
		m.check()
		if !(m.Share > 0) {
			panic(fmt.Sprintf("stats: share = %v of a trial", m.Share))
		}
		sum += m.Share
	}
	if !(math.Abs(sum-1) <= 1e-9) {
		panic(fmt.Sprintf("stats: shares of trials sum to %v", sum))
	}
}

// DriftLimitFor returns the smallest limit, a multiple of 0.01, at which a judge in
// control has a signal in these very trials with probability at most risk; 40, the
// highest, where none is low enough.
//
// It panics unless 0 < risk < 1, and as [FollowDrift] does.
func DriftLimitFor(trials []DriftTrial, risk float64) float64 {
	checkRisk("risk", risk)
	lo, hi := 0, int(highestLimit/driftUnit)
	at := min(hi-1, max(1, int(-math.Log(risk)/driftUnit)))
	for tries := 0; hi-lo > 1; tries++ {
		alarm := FalseDrift(trials, float64(at)*driftUnit)
		if alarm <= risk {
			hi = at
		} else {
			lo = at
		}
		// The risk falls about as e to the minus limit; later by halves, should it not.
		at = (lo + hi) / 2
		if guess := math.Log(alarm/risk) / driftUnit; tries < 6 && !math.IsInf(guess, 0) {
			var near int
			if alarm <= risk {
				near = hi + int(math.Floor(guess)) - 1
			} else {
				near = lo + int(math.Ceil(guess)) + 1
			}
			at = max(lo+1, min(hi-1, near))
		}
	}
	return float64(hi) * driftUnit
}
