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
	byLuck float64 // probability that a typical judge has a signal among the recent sets
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
	limit := f.driftLimit(id, c.series)
	if !limit.found {
		return c, false
	}
	c.limit = limit.at
	c.Chart = stats.FollowDrift(c.series, correct, c.limit)
	from := recentFrom(c.Chart.Points)
	for i, point := range c.Chart.Points {
		if point.Signal {
			c.Signals = append(c.Signals, i)
		}
		if point.Signal && i >= from {
			c.Recent = append(c.Recent, i)
		}
	}
	if len(c.Signals) > 0 {
		c.Since, c.SinceExpected = c.after(c.Signals[0])
	}
	c.byLuck = stats.FalseDriftFrom(c.series, c.limit, from)
	c.FallPValue = fallPValue(correct, own)
	return c, true
}

// driftLimit is the limit of a chart; found is false where none has the run length.
type driftLimit struct {
	at    float64
	found bool
}

func (f *fitted) driftLimit(id session.PersonID, series []stats.DriftTrial) driftLimit {
	if kept, ok := f.limits.Load(id); ok {
		return kept.(driftLimit)
	}
	run, ok := stats.DriftLimit(mixOf(series), DriftRun)
	limit := driftLimit{run.Limit, ok}
	f.limits.Store(id, limit)
	return limit
}

// recentFrom is the first test whose last set is among the newest [DriftRecent] sets.
func recentFrom(points []stats.DriftPoint) int {
	from, sets := len(points), 0
	for from > 0 && sets < DriftRecent {
		from--
		sets += points[from].N
	}
	return from
}

// after is what was answered after the test at i, and what a typical panellist expects.
func (d Drift) after(i int) (c Count, expected float64) {
	for _, point := range d.Chart.Points[i+1:] {
		c.Sets += point.N
		c.Right += point.Correct
		expected += point.Expected
	}
	return c, expected
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
	if p.toldByOthers(s.person.ID) {
		d.Say += " Where sizes are told by the others, as for some of these tests, false signals come more often than that: about 4 where 3 are stated, in simulated panels."
	}
	return d
}

// signals tells how many there were: "a signal on 5 March 2031", or "3 signals, the
// first on 5 March 2031 and the last on 2 May 2031".
func (d Drift) signals() string { return d.signalsOf(d.Signals) }

func (d Drift) signalsOf(signals []int) string {
	n := len(signals)
	if n == 1 {
		return "a signal on " + day(d.At[signals[0]])
	}
	return fmt.Sprintf("%d signals, the first on %s and the last on %s", n, day(d.At[signals[0]]), day(d.At[signals[n-1]]))
}

// since tells what became of the record after the first signal.
func (d Drift) since() string { return d.sinceThe("first signal", d.Since, d.SinceExpected) }

func (d Drift) sinceThe(signal string, c Count, expected float64) string {
	if c.Sets == 0 {
		return "No test counts since."
	}
	return fmt.Sprintf("Since the %s %d of %s were right, where a typical panellist expects about %s.",
		signal, c.Right, counted(c.Sets, "set"), roughly(expected))
}

// recent tells of the signals among the newest sets, and that there are older ones.
func (d Drift) recent() string {
	c, expected := d.after(d.Recent[0])
	say, which := capital(d.signalsOf(d.Recent)), "signal"
	if len(d.Recent) > 1 {
		which = "first of them"
	}
	say += ". " + d.sinceThe(which, c, expected)
	switch older := len(d.Signals) - len(d.Recent); {
	case older == 1:
		say += " The chart has an older one too."
	case older > 1:
		say += fmt.Sprintf(" The chart has %s older ones too.", inWords(older))
	}
	return say
}

// Drifting is a judge of the present panel whose chart of drift has given a signal among
// the last [DriftRecent] sets that count.
type Drifting struct {
	Person    session.PersonID
	Pseudonym string
	Signals   int // among those sets
	Last      time.Time
	Say       string // "A signal on …. Since the signal …"
}

// DriftSignals are the signals of the present panel's charts, the newest first, and how
// many judges of those with a chart would be listed by luck: were all of them typical
// and nobody drifting.
type DriftSignals struct {
	Judges []Drifting
	Charts int     // judges of the present panel who have one
	ByLuck float64 // expected number of judges listed
	Say    string  // that, "" where nobody has a chart
}

// charted is a judge with a chart of drift. Its words are empty without a recent signal.
type charted struct {
	Drifting
	byLuck float64
	told   bool // by the others: some of the tests have no known size
}

// Drifting lists those of the present panel whose charts have given a signal of late.
// Older signals stand on the judges' own charts alone: with them everybody typical would
// be listed sooner or later.
func (b *Book) Drifting() DriftSignals {
	f := b.fitted.ready()
	f.drifting.Do(func() { f.drifts = b.makeDrifting() })
	var all DriftSignals
	told := false
	for _, d := range f.drifts {
		// The fit outlives changes of the register.
		s := b.sheets[d.Person]
		if s == nil || !present(s.person) {
			continue
		}
		all.Charts++
		all.ByLuck += d.byLuck
		told = told || d.told
		if d.Signals > 0 {
			d.Pseudonym = s.person.Pseudonym
			all.Judges = append(all.Judges, d.Drifting)
		}
	}
	if all.Charts > 0 {
		all.Say = fmt.Sprintf("Of %s with a chart about %s would stand here by luck, were all of them typical and nobody drifting.",
			counted(all.Charts, "judge"), roughly(all.ByLuck))
		if all.ByLuck < 0.05 {
			all.Say = fmt.Sprintf("Of %s with a chart fewer than 0.1 would stand here by luck, were all of them typical and nobody drifting.", counted(all.Charts, "judge"))
		}
		if told {
			all.Say += " Where sizes are told by the others, it may be a third more."
		}
		all.Say += " In a mixed panel its weaker judges stand here more often, drift or not."
	}
	return all
}

func (p *pages) makeDrifting() []charted {
	var found []charted
	for _, id := range p.order {
		c, ok := p.driftOf(id)
		if !ok {
			continue
		}
		d := charted{Drifting: Drifting{Person: id}, byLuck: c.byLuck, told: p.toldByOthers(id)}
		if n := len(c.Recent); n > 0 {
			d.Signals, d.Last, d.Say = n, c.At[c.Recent[n-1]], c.recent()
		}
		found = append(found, d)
	}
	slices.SortStableFunc(found, func(a, b charted) int { return b.Last.Compare(a.Last) })
	return found
}

// toldByOthers reports whether a judge's chart has tests of no known size.
func (p *pages) toldByOthers(id session.PersonID) bool {
	return slices.ContainsFunc(p.fitted.fit.Trials(p.fitted.number[id]), func(t stats.JudgeTrial) bool { return p.tests[t.Test].known == 0 })
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
