package record

import (
	"math"
	"slices"
	"sync"

	"oddcup/session"
	"oddcup/stats"
)

// fitted is the model of all tests, fitted when it is first asked for.
type fitted struct {
	tests  []stats.JudgedTest
	people []session.PersonID // by number; "" for a seat that is tied to nobody
	number map[session.PersonID]int

	once  sync.Once
	fit   stats.PanelFit
	flags map[session.PersonID]stats.JudgeFlag
	all   []stats.TestDifficulty // by test, given all answers
	size  float64                // median of the tests that count
	known bool                   // whether any does

	sessions uint64 // stamp of the sessions
	agreed   sync.Once
	pairs    []pair
	sharing  sync.Once
	shares   map[controlKey]map[session.PersonID]stats.ShrunkenShare
	drifting sync.Once
	drifts   []charted
	limits   sync.Map // of drift charts, driftLimit by person: the search for one takes most of a page's time
}

// same reports whether two models are of the same answers by the same people.
func (f *fitted) same(g *fitted) bool {
	return f.sessions == g.sessions && slices.Equal(f.people, g.people) && slices.EqualFunc(f.tests, g.tests, func(a, b stats.JudgedTest) bool {
		return a.Method == b.Method && a.Known == b.Known && slices.Equal(a.Counts, b.Counts)
	})
}

// ready fits.
func (f *fitted) ready() *fitted {
	f.once.Do(func() {
		f.fit = stats.FitPanel(f.tests, Confidence)
		var records [][]stats.JudgeTrial
		var who []session.PersonID
		for n, person := range f.people {
			if person != "" {
				records, who = append(records, f.fit.Trials(n)), append(who, person)
			}
		}
		f.flags = make(map[session.PersonID]stats.JudgeFlag, len(who))
		for i, flag := range stats.FlagJudges(records, Level) {
			f.flags[who[i]] = flag
		}
		var sizes []float64
		for t := range f.tests {
			d := f.fit.Difficulty.All(t)
			f.all = append(f.all, d)
			if d.Counting == stats.TestCounts {
				sizes = append(sizes, d.Mean)
			}
		}
		f.size, f.known = f.fit.Difficulty.Scale, len(sizes) > 0
		if f.known {
			slices.Sort(sizes)
			f.size = sizes[len(sizes)/2]
		}
	})
	return f
}

// ability is what is known of a person; of somebody of whom nothing is in the
// model the panel's own spread.
func (f *fitted) ability(id session.PersonID) stats.JudgeAbility {
	if n, ok := f.number[id]; ok {
		return f.fit.Judges[n]
	}
	z := 1.959963984540054 // of the normal distribution, 0.975
	return stats.JudgeAbility{Ability: 1, LogSD: f.fit.Spread, Interval: stats.Interval{
		Lower: math.Exp(-z * f.fit.Spread), Upper: math.Exp(z * f.fit.Spread), Confidence: Confidence,
	}}
}

// flag compares a person with a typical panellist.
func (f *fitted) flag(id session.PersonID) stats.JudgeFlag {
	if flag, ok := f.flags[id]; ok {
		return flag
	}
	return stats.JudgeFlag{Standing: stats.StandingUnknown, PWeak: 1, PStrong: 1, AdjustedWeak: 1, AdjustedStrong: 1}
}

// trials are a person's counted tests, by test of the model.
func (f *fitted) trials(id session.PersonID) map[int]stats.JudgeTrial {
	n, ok := f.number[id]
	if !ok {
		return nil
	}
	all := f.fit.Trials(n)
	by := make(map[int]stats.JudgeTrial, len(all))
	for _, t := range all {
		by[t.Test] = t
	}
	return by
}

// whyNot is why a test of the model does not count, "" where it does.
func whyNot(c stats.Counting) Why {
	switch c {
	case stats.TestTooHard:
		return WhyTooHard
	case stats.TestTooEasy:
		return WhyTooEasy
	case stats.TestNobodyElse:
		return WhyNobodyElse
	}
	return ""
}

func meanOf(counts []float64) (mean float64) {
	for x, p := range counts {
		mean += float64(x) * p
	}
	return mean
}

// raw is the ability at which a judge expects as many right as there were: 0 for
// no more than no ability has, +Inf for more than any, NaN where nothing counts.
func (f *fitted) raw(id session.PersonID) float64 {
	n, ok := f.number[id]
	if !ok || f.fit.Judges[n].Sets == 0 {
		return math.NaN()
	}
	right := float64(f.fit.Judges[n].Correct)
	expects := func(ability float64) (sum float64) {
		for _, counts := range f.fit.Expected(n, ability) {
			sum += meanOf(counts)
		}
		return sum
	}
	const least, most = 0.02, 15
	switch {
	case right <= expects(0)+1e-9: // sums of chances round
		return 0
	case right >= expects(most):
		return math.Inf(1)
	}
	lo, hi := math.Log(least), math.Log(most)
	for hi-lo > 0.002 {
		if mid := (lo + hi) / 2; expects(math.Exp(mid)) < right {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp((lo + hi) / 2)
}
