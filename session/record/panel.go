package record

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"oddcup/session"
	"oddcup/stats"
)

// Panel is the record of all judges. The slices are shared: read them only.
func (b *Book) Panel() Panel {
	b.once.Do(func() { b.panel = b.makePanel() })
	return b.panel
}

// ByEstimate is the judges ordered by the shrunken estimate, highest first; equal
// ones in the order of the register. Those with too few sets to read come after all
// others, and at the end those of whom nothing counts. Where intervals overlap, the
// order says little.
func (p Panel) ByEstimate() []Row {
	rows := slices.Clone(p.Judges)
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(cmp.Compare(one(!a.Enough), one(!b.Enough)), cmp.Compare(one(a.Counted().Sets == 0), one(b.Counted().Sets == 0)), cmp.Compare(b.Ability, a.Ability))
	})
	return rows
}

func (p *pages) makePanel() Panel {
	f := p.fitted.ready()
	out := Panel{
		Adjustment: fmt.Sprintf("Each judge is compared with a typical panellist in the same sets, both ways; the p-values are adjusted by Holm over all judges, "+
			"so that in %.0f of 100 panels of typical judges at most anybody is called weak or strong by chance, for a look at a stated time. Nobody is, on one test alone. "+
			"A typical panellist is one drawn from this panel at random: the mean over its spread, and no fixed standard. In a mixed panel the able ones raise that mean, "+
			"so judges may be called weak who are as good as ever, and with enough sets even a small distance is found: read the interval too.", 100*Level),
		Size: f.size, Chance: session.Triangle.Chance(), Typical: f.fit.TypicalPC(stats.Triangle, f.size), Spread: f.fit.Spread,
		Untied: p.untied, Due: p.due(),
	}
	out.SizeSay = fmt.Sprintf("d′ %s, the median size of the tests that count", trim(f.size, 2))
	if !f.known {
		out.SizeSay = fmt.Sprintf("d′ %s, a usual size: no test counts yet", trim(f.size, 2))
	}
	left := map[Why]int{}
	for why, n := range p.left {
		left[why] += n
	}
	for _, id := range p.order {
		s := p.sheets[id]
		out.Judges = append(out.Judges, p.row(s))
		for why, n := range p.leftOf(s) {
			left[why] += n
		}
	}
	out.LeftOut = leftOut(left)
	out.Headline = headline(out.Judges)
	out.Agreed = p.agreed()
	out.Detect = p.detect()
	out.Agreement = p.agreement()
	out.Tests = p.testRows()
	out.Tally = tally(out.Tests)
	return out
}

// leftOf are all sets of a judge that do not count.
func (p *pages) leftOf(s *sheet) map[Why]int {
	a := p.fitted.ability(s.person.ID)
	left := map[Why]int{WhyTooHard: a.TooHard, WhyTooEasy: a.TooEasy, WhyNobodyElse: a.Alone}
	for why, n := range s.left {
		left[why] += n
	}
	return left
}

// row is a judge's line of the panel.
func (p *pages) row(s *sheet) Row {
	f, id := p.fitted, s.person.ID
	a, flag := f.ability(id), f.flag(id)
	r := Row{
		Person: id, Pseudonym: s.person.Pseudonym, Status: s.person.Status, Erased: s.person.Erased,
		Blank: s.blank, Paper: s.paper, Tests: a.Tests,
		Ability: a.Ability, AbilityInterval: a.Interval,
		Expected: a.Expected, SD: a.SD, Standing: flag.Standing, OneTest: flag.OneTest,
		Adjusted: min(flag.AdjustedWeak, flag.AdjustedStrong),
		Enough:   a.Sets >= Enough && a.Tests >= 2,
	}
	r.DPrime, r.DPrimeInterval = a.DPrimeAt(f.size)
	r.Right = stats.Triangle.PC(r.DPrime)
	r.RightInterval = stats.Interval{
		Lower: stats.Triangle.PC(r.DPrimeInterval.Lower), Upper: stats.Triangle.PC(r.DPrimeInterval.Upper), Confidence: Confidence,
	}
	counting := f.trials(id)
	for _, t := range s.sat {
		if t.model < 0 {
			continue
		}
		if _, ok := counting[t.model]; !ok {
			continue
		}
		to := &r.Routine
		if t.kind == session.KindControl {
			to = &r.Control
		}
		to.Sets += t.count.Sets
		to.Right += t.count.Right
		r.ByGuessing += t.method.Chance() * float64(t.count.Sets)
	}
	for why, n := range p.leftOf(s) {
		if why != WhyDemo {
			r.NotCounted += n
		}
	}
	r.Say = standing(r)
	return r
}

func standing(r Row) string {
	switch {
	case r.Standing == stats.StandingWeak:
		return fmt.Sprintf("Fewer right than a typical panellist in the same sets, and not by one test alone (adjusted %s).", pValue(r.Adjusted))
	case r.Standing == stats.StandingStrong:
		return fmt.Sprintf("More right than a typical panellist in the same sets, and not by one test alone (adjusted %s).", pValue(r.Adjusted))
	case r.OneTest:
		return "A difference from a typical panellist rests on one test alone, so nothing is said."
	case r.Standing == stats.StandingUnknown:
		return "Too few tests count to compare with a typical panellist."
	}
	return fmt.Sprintf("No clear difference from a typical panellist (adjusted %s). That does not show that there is none.", pValue(r.Adjusted))
}

// headline says how many records can be read.
func headline(rows []Row) string {
	enough := 0
	var not []string
	for _, r := range rows {
		switch {
		case r.Erased || r.Status == session.StatusResting:
		case r.Enough:
			enough++
		default:
			not = append(not, r.Pseudonym)
		}
	}
	say := "One has enough sets to read."
	switch {
	case enough+len(not) == 0:
		return "Nobody is on the panel yet."
	case enough == 0:
		return "Nobody has enough sets to read yet."
	case enough > 1:
		say = capital(inWords(enough)) + " have enough sets to read."
	}
	switch n := len(not); {
	case n == 1:
		say += " " + not[0] + " does not yet."
	case n > 4:
		say += " " + capital(inWords(n)) + " do not yet."
	case n > 1:
		say += " " + list(not) + " do not yet."
	}
	return say
}

// detect tells what a triangle and a paired comparison by the present panel show.
func (p *pages) detect() []Detect {
	var abilities []float64
	for _, id := range p.order {
		if s := p.sheets[id]; !s.person.Erased && s.person.Status != session.StatusResting {
			abilities = append(abilities, p.fitted.ability(id).Ability)
		}
	}
	if len(abilities) == 0 {
		return nil
	}
	slices.Sort(abilities)
	var all []Detect
	for _, m := range []session.Method{session.Triangle, session.PairedComparison} {
		d := Detect{Method: m.Key, Judges: len(abilities), Sets: 1, Alpha: Alpha, Size: p.fitted.size}
		// A panel's mean pc hardly changes where its abilities are thinned out evenly.
		const most = 25
		thin := abilities
		if len(abilities) > most {
			thin = nil
			for i := range most {
				thin = append(thin, abilities[(2*i+1)*len(abilities)/(2*most)])
			}
		}
		pc := func(size float64) (mean float64) {
			for _, a := range thin {
				mean += m.Curve.PC(a*size) / float64(len(thin))
			}
			return mean
		}
		power := func(size float64) float64 { return stats.Power(d.Judges, m.Chance(), Alpha, min(1, pc(size))) }
		d.PC = pc(d.Size)
		d.Power = power(d.Size)
		d.MinCorrect, _ = stats.MinCorrect(d.Judges, m.Chance(), Alpha)
		const usualPower, largest = 0.8, 6
		if power(largest) >= usualPower {
			lo, hi := 0.0, float64(largest)
			for hi-lo > 0.005 {
				if mid := (lo + hi) / 2; power(mid) < usualPower {
					lo = mid
				} else {
					hi = mid
				}
			}
			d.Detectable = hi
		}
		d.Say = d.words(m)
		all = append(all, d)
	}
	return all
}

func (d Detect) words(m session.Method) string {
	if d.MinCorrect == 0 {
		return fmt.Sprintf("A %s by %s, one set each, can't show a difference at α %v: not even if all are right.", m.Name, counted(d.Judges, "judge"), d.Alpha)
	}
	say := fmt.Sprintf("A %s by %s, one set each, shows a difference from %d right (α %v, one-sided). It would find d′ %s in %s such tests",
		m.Name, counted(d.Judges, "judge"), d.MinCorrect, d.Alpha, trim(d.Size, 2), ofHundred(d.Power))
	if d.Detectable == 0 {
		return say + "; more judges or sets are needed to find any usual size in 80 of 100."
	}
	return say + fmt.Sprintf(", and d′ %s in 80 of 100.", trim(d.Detectable, 2))
}

// median is NaN of nothing.
func median(xs []float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	slices.Sort(xs)
	return (xs[(len(xs)-1)/2] + xs[len(xs)/2]) / 2
}

func (p *pages) testRows() []TestRow {
	rows := make([]TestRow, 0, len(p.tests))
	for t, e := range slices.Backward(p.tests) {
		d := p.fitted.all[t]
		r := TestRow{
			Session: e.session, Test: e.test + 1, At: e.at, Method: e.method.Key, Kind: e.kind, Label: e.label, Tasters: len(e.who),
			Size: d.Mean, Interval: d.Interval, PC: d.PC, Why: whyNot(d.Counting),
		}
		for _, c := range e.counts {
			r.Count.Sets += c.Sets
			r.Count.Right += c.Right
		}
		if len(e.who) == 1 && e.known == 0 { // by its answers it might count, and for nobody it does
			r.Why = WhyNobodyElse
		}
		r.Counts = r.Why == ""
		r.Say = counts(r.Why, e.kind, e.known, r.PC, e.method.Chance())
		rows = append(rows, r)
	}
	return rows
}

func tally(rows []TestRow) []Tally {
	at := map[Why]*Tally{}
	for _, r := range rows {
		if at[r.Why] == nil {
			at[r.Why] = &Tally{Why: r.Why}
		}
		at[r.Why].Tests++
		at[r.Why].Sets += r.Count.Sets
	}
	var all []Tally
	for _, why := range append([]Why{""}, whys...) {
		t := at[why]
		switch {
		case t == nil:
			continue
		case why == "":
			t.Say = fmt.Sprintf("%s count: %s.", counted(t.Tests, "test"), counted(t.Sets, "set"))
			if t.Tests == 1 {
				t.Say = fmt.Sprintf("1 test counts: %s.", counted(t.Sets, "set"))
			}
		default:
			t.Say = fmt.Sprintf("Not counted: %s, %s.", counted(t.Tests, "test"), reasons[why])
		}
		all = append(all, *t)
	}
	return all
}
