package record

import (
	"fmt"
	"slices"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// SeriesDue lists the series whose line is reached and whose end is to be
// journalled, those of erased people left out.
func (b *Book) SeriesDue() []SeriesDue { return b.due() }

func (p *pages) due() []SeriesDue {
	var all []SeriesDue
	for _, s := range p.lab.Series {
		if d := p.seriesDue(s); d != nil {
			all = append(all, *d)
		}
	}
	return all
}

// seriesDue is nil where the series has ended or lies between its lines.
func (p *pages) seriesDue(s session.Series) *SeriesDue {
	who, ok := p.lab.Same(s.Person)
	if !ok || s.Outcome != "" || who.Erased {
		return nil
	}
	at := s.Stand(p.lab.Sets(s, p.sheets[who.ID].sessions))
	d := SeriesDue{Series: s.ID, Person: who.ID, Pseudonym: who.Pseudonym, Right: at.Correct, Of: at.N}
	switch at.Decision {
	case stats.Different:
		d.Outcome = session.SeriesUpper
	case stats.Similar:
		d.Outcome = session.SeriesLower
	default:
		return nil
	}
	d.Say = fmt.Sprintf("%s has reached the %s of a series (%s): %d right of %s.", d.Pseudonym, d.Outcome, what(s.Method, s.Kind, s.Label), d.Right, counted(d.Of, "set"))
	return &d
}

// charts draws all series of a judge.
func (p *pages) charts(s *sheet) (all []SeriesChart, say string) {
	series := p.lab.SeriesOf(s.person.ID)
	for i, one := range series {
		all = append(all, p.chart(s, one, i+1))
	}
	givenUp := 0
	for _, one := range series {
		if one.Outcome == session.SeriesGivenUp {
			givenUp++
		}
	}
	switch n := len(series); {
	case n == 0:
		return nil, "No series was begun."
	case n == 1:
		say = "One series was begun"
	default:
		say = capital(inWords(n)) + " series were begun"
	}
	if givenUp > 0 {
		say += fmt.Sprintf(", of which %s given up", inWords(givenUp))
	}
	return all, say + ". Who begins often enough reaches any line: each series has the whole risk α anew."
}

func (p *pages) chart(s *sheet, series session.Series, number int) SeriesChart {
	sets := p.lab.Sets(series, s.sessions)
	if !series.Ended.IsZero() {
		after := slices.IndexFunc(sets, func(j session.JudgedSet) bool { return j.At.After(series.Ended) })
		if after >= 0 {
			sets = sets[:after]
		}
	}
	c := SeriesChart{Series: series, Number: number, Due: p.seriesDue(series)}
	at := series.Stand(sets)
	sets = sets[:at.N]
	rights := make([]bool, len(sets))
	for i, set := range sets {
		rights[i] = set.Right
		c.At = append(c.At, set.At)
	}
	c.Chart = stats.FollowRecord(stats.Sequential{P0: series.P0, P1: series.P1, Alpha: series.Alpha, Beta: series.Beta, Every: 1}, rights)
	if series.Outcome == session.SeriesUpper || series.Outcome == session.SeriesLower {
		c.Changed = at.N != series.Of || at.Correct != series.Right || c.Chart.Standing == stats.NotYet
	}
	c.Say = c.words(at)
	return c
}

func (c SeriesChart) words(at stats.SequentialState) string {
	say := fmt.Sprintf("Series %d, begun %s: %s. ", c.Number, day(c.Begun), what(c.Method, c.Kind, c.Label))
	right, of := at.Correct, at.N
	if c.Of > 0 {
		right, of = c.Right, c.Of
	}
	so := fmt.Sprintf("%d right of %s", right, counted(of, "set"))
	switch {
	case c.Outcome == session.SeriesUpper:
		say += "Qualified: the upper line was reached with " + so + "."
	case c.Outcome == session.SeriesLower:
		say += "Below: the lower line was reached with " + so + "."
	case c.Outcome == session.SeriesGivenUp:
		say += "Given up on " + day(c.Ended) + ", with " + so + "."
	case c.Due != nil:
		say += capital(string(c.Due.Outcome)) + " reached with " + so + "."
	case of == 0:
		say += "Not yet: no set was answered since."
	default:
		say += "Not yet: " + so + " lie between the lines."
	}
	if c.Outcome == "" && c.Due == nil && c.Chart.MoreCorrect > 0 {
		say += fmt.Sprintf(" %d more in a row all right would reach the upper line, %d all wrong the lower one.", c.Chart.MoreCorrect, c.Chart.MoreWrong)
	}
	if c.Changed {
		say += fmt.Sprintf(" The same sets now give %d right of %d: answers were taken out, or seats tied, since.", at.Correct, at.N)
	}
	return say
}

// Evaluate holds the record of a person against a rule. Counts from paper have no
// order and are left out.
func (b *Book) Evaluate(person session.PersonID, rule session.Rule) Basis {
	out := Basis{Person: person, Rule: rule.Name}
	who, ok := b.lab.Same(person)
	if !ok {
		out.Say = "Nobody on the register is meant."
		return out
	}
	out.Person = who.ID
	since, denied := b.decided(who.ID, rule)
	out.Denied = denied
	terms := session.SeriesTerms{Method: rule.Method, Kind: rule.Kind, Label: rule.Label}
	sets := b.lab.Sets(session.Series{Person: who.ID, SeriesTerms: terms, Begun: since}, b.sheets[who.ID].sessions)
	m, _ := session.MethodByKey(rule.Method)
	var luck float64 // of one attempt
	if rule.Lines == nil {
		out.takeMark(rule, sets)
		luck = stats.UpperTail(rule.Trials, rule.Mark, m.Chance())
	} else {
		out.takeLines(rulePlan(*rule.Lines), sets)
		luck = Ends(*rule.Lines, m.Chance()).Different
	}
	none := 1.0
	for range out.Attempt {
		none *= 1 - luck
	}
	out.ByLuck = 1 - none
	out.Say = out.words(rule, since)
	return out
}

// decided is when the newest decision on a person by a rule was made, and how many
// there were since it was last found to hold.
func (b *Book) decided(person session.PersonID, rule session.Rule) (since time.Time, denied int) {
	for _, h := range b.held(person) { // the newest first
		named, ok := b.lab.Rule(h.Rule)
		if !ok || named.Name != rule.Name {
			continue
		}
		if since.IsZero() {
			since = h.DecidedAt
		}
		if h.Qualification.Held {
			break
		}
		denied++
	}
	return since, denied
}

// take makes sets those that decide.
func (b *Basis) take(sets []session.JudgedSet) {
	b.Right, b.Of = 0, len(sets)
	for _, s := range sets {
		b.Right += one(s.Right)
	}
	if len(sets) > 0 {
		b.From, b.To = sets[0].At, sets[len(sets)-1].At
	}
}

func (b *Basis) takeMark(rule session.Rule, sets []session.JudgedSet) {
	if b.Attempt = len(sets) / rule.Trials; b.Attempt == 0 {
		b.take(sets)
		return
	}
	b.Whole = true
	b.take(sets[(b.Attempt-1)*rule.Trials : b.Attempt*rule.Trials])
	b.Reached = b.Right >= rule.Mark
}

func (b *Basis) takeLines(plan stats.Sequential, sets []session.JudgedSet) {
	for rest := sets; len(rest) > 0; {
		rights := make([]bool, len(rest))
		for i := range rest {
			rights[i] = rest[i].Right
		}
		at := plan.Follow(rights)
		if at.Decision == stats.Continue {
			if !b.Whole {
				b.take(rest)
			}
			return
		}
		b.Whole, b.Reached = true, at.Decision == stats.Different
		b.Attempt++
		b.take(rest[:at.N])
		rest = rest[at.N:]
	}
}

func (b Basis) words(rule session.Rule, since time.Time) string {
	sets := what(rule.Method, rule.Kind, rule.Label)
	from := ""
	if !since.IsZero() {
		from = " since the decision of " + day(since)
	}
	if b.Of == 0 {
		return fmt.Sprintf("No set yet%s (%s).", from, sets)
	}
	say := fmt.Sprintf("%d right of %s from %s to %s (%s): ", b.Right, counted(b.Of, "set"), day(b.From), day(b.To), sets)
	unit, goal := "block", fmt.Sprintf("%d of %d", rule.Mark, rule.Trials)
	if rule.Lines != nil {
		unit, goal = "path", "the upper line"
	}
	switch {
	case b.Reached:
		say += goal + " reached"
	case b.Whole && rule.Lines != nil:
		say += "the lower line reached"
	case b.Whole:
		say += goal + " not reached"
	case rule.Lines != nil:
		return say + "between the lines, nothing is decided yet."
	default:
		return say + fmt.Sprintf("%d more to a whole block.", rule.Trials-b.Of)
	}
	within := unit + "s"
	if b.Attempt == 1 {
		within = unit
	}
	say += fmt.Sprintf(", %s %d%s. Guessing alone reaches it within %d %s in %s cases.", unit, b.Attempt, from, b.Attempt, within, ofHundred(b.ByLuck))
	if b.Denied > 0 {
		say += fmt.Sprintf(" It was decided %s before that it does not hold: each decision begins the count of %ss anew, and who is tried often enough reaches any mark.", often(b.Denied), unit)
	}
	return say
}
