package record

import (
	"fmt"
	"math"
	"slices"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// driftChart is a judge's chart without its words and run lengths.
type driftChart struct {
	Drift
	series []stats.DriftTrial
	limit  float64
}

// driftOf follows a person's counted tests in the order of time; ok is false with
// fewer than two.
func (p *pages) driftOf(id session.PersonID) (c driftChart, ok bool) {
	f := p.fitted
	n, ok := f.number[id]
	if !ok || len(f.fit.Trials(n)) < 2 {
		return c, false
	}
	trials, drifted, own := f.fit.Trials(n), f.fit.Expected(n, DriftAbility), f.fit.Expected(n, f.fit.Judges[n].Ability)
	var correct []int
	for i, t := range trials {
		c.series = append(c.series, stats.DriftTrial{InControl: t.Typical, Drifted: drifted[i]})
		correct = append(correct, t.Correct)
		c.At, c.Session = append(c.At, p.tests[t.Test].at), append(c.Session, p.tests[t.Test].session)
	}
	run, ok := stats.DriftLimit(mixOf(c.series), DriftRun)
	if !ok {
		return c, false
	}
	c.limit = run.Limit
	c.Chart = stats.FollowDrift(c.series, correct, run.Limit)
	for i, point := range c.Chart.Points {
		if len(c.Signals) > 0 {
			c.Since.Sets += point.N
			c.Since.Right += point.Correct
			c.SinceExpected += point.Expected
		}
		if point.Signal {
			c.Signals = append(c.Signals, i)
		}
	}
	c.FallPValue = fallPValue(correct, own)
	return c, true
}

// fallPValue is the one-sided p-value that a record falls from test to test, beside
// one of the same ability all along, whose counts are distributed as own: the score test
// of a trend (the form of Cochran and Armitage's, normal approximation; from memory).
func fallPValue(correct []int, own [][]float64) float64 {
	var variances, excess []float64
	var all, at float64
	for i, counts := range own {
		mean, square := meanOf(counts), 0.0
		for x, p := range counts {
			square += p * float64(x) * float64(x)
		}
		v := max(0, square-mean*mean)
		variances, excess = append(variances, v), append(excess, float64(correct[i])-mean)
		all += v
		at += v * float64(i)
	}
	if all == 0 {
		return 1
	}
	var score, variance float64
	for i, v := range variances {
		w := float64(i) - at/all
		score += w * excess[i]
		variance += w * w * v
	}
	if variance == 0 {
		return 1
	}
	return math.Erfc(-score/math.Sqrt(2*variance)) / 2
}

// drift is the chart of a judge with its words.
func (p *pages) drift(s *sheet) *Drift {
	c, ok := p.driftOf(s.person.ID)
	if !ok {
		return nil
	}
	// The limit was found with like trials put together; what is stated is of all of
	// them as they are.
	each := make([]stats.DriftMix, len(c.series))
	for i, t := range c.series {
		each[i] = stats.DriftMix{DriftTrial: t, Share: 1 / float64(len(c.series))}
	}
	d := &c.Drift
	d.Run = stats.DriftRunLength(each, c.limit)
	if len(d.Signals) > 0 {
		d.Say = fmt.Sprintf("%s: fewer right than a typical panellist, as after a drift. It is a reason for control sets, no verdict; a judge who was always weaker gets one too, and one who falls from far above to typical gets none. "+
			"The chart begins at 0 again after each signal, so a low sum after one is no recovery. %s", capital(d.signals()), d.since())
	} else {
		d.Say = "No signal of a drift. That does not show that there is none."
	}
	d.Say += fmt.Sprintf(" As able as a typical panellist, a judge has a false signal every %.0f tests in the mean, and in these %d in %s cases; at half that ability the first comes after %.0f in the mean.",
		d.Run.InControl, len(c.series), ofHundred(d.Chart.FalseAlarm), d.Run.Drifted)
	if slices.ContainsFunc(p.fitted.fit.Trials(p.fitted.number[s.person.ID]), func(t stats.JudgeTrial) bool { return p.tests[t.Test].known == 0 }) {
		d.Say += " Where sizes are told by the others, as for some of these tests, false signals come more often than that: about 4 where 3 are stated, in simulated panels."
	}
	return d
}

// signals tells how many there were: "a signal on 5 March 2031", or "3 signals, the
// first on 5 March 2031 and the last on 2 May 2031".
func (d Drift) signals() string {
	n := len(d.Signals)
	if n == 1 {
		return "a signal on " + day(d.At[d.Signals[0]])
	}
	return fmt.Sprintf("%d signals, the first on %s and the last on %s", n, day(d.At[d.Signals[0]]), day(d.At[d.Signals[n-1]]))
}

// since tells what became of the record after the first signal.
func (d Drift) since() string {
	if d.Since.Sets == 0 {
		return "No test counts since."
	}
	return fmt.Sprintf("Since the first signal %d of %s were right, where a typical panellist expects about %s.",
		d.Since.Right, counted(d.Since.Sets, "set"), roughly(d.SinceExpected))
}

// Drifting is a judge of the present panel whose chart of drift has given a signal.
type Drifting struct {
	Person    session.PersonID
	Pseudonym string
	Signals   int
	Last      time.Time
	Say       string // "3 signals, the first on … and the last on …. Since the first signal …"
}

// Drifting lists those of the present panel whose charts have given a signal, the
// newest signal first.
func (b *Book) Drifting() []Drifting {
	f := b.fitted.ready()
	f.drifting.Do(func() { f.drifts = b.makeDrifting() })
	var all []Drifting
	for _, d := range f.drifts {
		// The fit outlives changes of the register.
		if s := b.sheets[d.Person]; s != nil && present(s.person) {
			d.Pseudonym = s.person.Pseudonym
			all = append(all, d)
		}
	}
	return all
}

func (p *pages) makeDrifting() []Drifting {
	var found []Drifting
	for _, id := range p.order {
		if c, ok := p.driftOf(id); ok && len(c.Signals) > 0 {
			found = append(found, Drifting{
				Person: id, Signals: len(c.Signals), Last: c.At[c.Signals[len(c.Signals)-1]], Say: capital(c.signals()) + ". " + c.since(),
			})
		}
	}
	slices.SortStableFunc(found, func(a, b Drifting) int { return b.Last.Compare(a.Last) })
	return found
}

// present reports whether a person is of the present panel.
func present(p session.Person) bool { return !p.Erased && p.Status != session.StatusResting }

// mixOf puts like trials together, so that a limit for hundreds of tests of as many
// difficulties is quickly found.
func mixOf(series []stats.DriftTrial) []stats.DriftMix {
	type like struct{ sets, share, drifted int }
	const steps = 10 // of the share right
	at := map[like]int{}
	var mix []stats.DriftMix
	for _, t := range series {
		n := len(t.InControl) - 1
		k := like{n, int(math.Round(steps * meanOf(t.InControl) / float64(n))), int(math.Round(steps * meanOf(t.Drifted) / float64(n)))}
		i, ok := at[k]
		if !ok {
			i = len(mix)
			at[k] = i
			mix = append(mix, stats.DriftMix{DriftTrial: stats.DriftTrial{InControl: make([]float64, n+1), Drifted: make([]float64, n+1)}})
		}
		for x := range n + 1 {
			mix[i].InControl[x] += t.InControl[x]
			mix[i].Drifted[x] += t.Drifted[x]
		}
		mix[i].Share++
	}
	for i := range mix {
		for x := range mix[i].InControl {
			mix[i].InControl[x] /= mix[i].Share
			mix[i].Drifted[x] /= mix[i].Share
		}
		mix[i].Share /= float64(len(series))
	}
	return mix
}
