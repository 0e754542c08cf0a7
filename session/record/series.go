package record

import (
	"fmt"
	"slices"
	"strconv"
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
	last, after, denied := b.decided(who.ID, rule)
	out.Denied = denied
	terms := session.SeriesTerms{Method: rule.Method, Kind: rule.Kind, Label: rule.Label}
	sets := b.lab.Sets(session.Series{Person: who.ID, SeriesTerms: terms, Begun: after}, b.sheets[who.ID].sessions)
	m, _ := session.MethodByKey(rule.Method)
	var luck float64 // of one attempt
	var rest []session.JudgedSet
	if rule.Lines == nil {
		rest = out.takeMark(rule, sets)
		luck = stats.UpperTail(rule.Trials, rule.Mark, m.Chance())
	} else {
		rest = out.takeLines(rulePlan(*rule.Lines), sets)
		luck = Ends(*rule.Lines, m.Chance()).Different
	}
	out.decide(rest)
	none := 1.0
	for range out.Attempts {
		none *= 1 - luck
	}
	out.ByLuck = 1 - none
	from := ""
	if last != nil {
		from = " since the decision of " + day(last.DecidedAt)
		if last.OnRecord() {
			from = " after the sets of the decision of " + day(last.DecidedAt)
		}
	}
	out.Say = out.words(rule, from)
	return out
}

// decided is the newest decision on a person by a rule, nil for none, after what time the
// next attempt begins, and how many decisions there were since it was last found to hold.
func (b *Book) decided(person session.PersonID, rule session.Rule) (last *Held, after time.Time, denied int) {
	held := false
	for _, h := range b.held(person) { // the newest first
		named, ok := b.lab.Rule(h.Rule)
		if !ok || named.Name != rule.Name {
			continue
		}
		if last == nil {
			last = &h
		}
		// One that was entered later may be of an earlier day: no set is used twice.
		if next := h.NextAfter(); next.After(after) {
			after = next
		}
		if held = held || h.Qualification.Held; !held {
			denied++
		}
	}
	return last, after, denied
}

// attempt counts sets that were tried together.
func attempt(sets []session.JudgedSet) (a Attempt) {
	for _, s := range sets {
		a.Right += one(s.Right)
	}
	if a.Of = len(sets); a.Of > 0 {
		a.From, a.To = sets[0].At, sets[len(sets)-1].At
	}
	return a
}

// takeMark cuts whole blocks and returns the sets behind them.
func (b *Basis) takeMark(rule session.Rule, sets []session.JudgedSet) []session.JudgedSet {
	for ; len(sets) >= rule.Trials; sets = sets[rule.Trials:] {
		a := attempt(sets[:rule.Trials])
		a.Reached = a.Right >= rule.Mark
		b.Attempts = append(b.Attempts, a)
	}
	return sets
}

// takeLines follows paths to a line and returns the sets behind them.
func (b *Basis) takeLines(plan stats.Sequential, sets []session.JudgedSet) []session.JudgedSet {
	for len(sets) > 0 {
		rights := make([]bool, len(sets))
		for i := range sets {
			rights[i] = sets[i].Right
		}
		at := plan.Follow(rights)
		if at.Decision == stats.Continue {
			break
		}
		a := attempt(sets[:at.N])
		a.Reached = at.Decision == stats.Different
		b.Attempts = append(b.Attempts, a)
		sets = sets[at.N:]
	}
	return sets
}

// decide finds the attempt that decides, or else takes what there is so far.
func (b *Basis) decide(rest []session.JudgedSet) {
	so := attempt(rest)
	if n := len(b.Attempts); n > 0 {
		b.Begun = Count{so.Of, so.Right}
		b.Whole, b.Attempt = true, n
		if i := slices.IndexFunc(b.Attempts, func(a Attempt) bool { return a.Reached }); i >= 0 {
			b.Attempt = i + 1
		}
		so = b.Attempts[b.Attempt-1]
	}
	b.Right, b.Of, b.From, b.To, b.Reached = so.Right, so.Of, so.From, so.To, so.Reached
}

// words say what the record has of a rule; from says since when.
func (b Basis) words(rule session.Rule, from string) string {
	sets := what(rule.Method, rule.Kind, rule.Label)
	if b.Of == 0 {
		return fmt.Sprintf("No set yet%s (%s).", from, sets)
	}
	say := fmt.Sprintf("%d right of %s from %s to %s (%s): ", b.Right, counted(b.Of, "set"), day(b.From), day(b.To), sets)
	unit, goal := "block", fmt.Sprintf("%d of %d", rule.Mark, rule.Trials)
	if rule.Lines != nil {
		unit, goal = "path", "the upper line"
	}
	n := len(b.Attempts)
	switch {
	case n == 0 && rule.Lines != nil:
		return say + "between the lines" + from + ", nothing is decided yet."
	case n == 0:
		return say + fmt.Sprintf("%d more to a whole block%s.", rule.Trials-b.Of, from)
	case n == 1 && b.Reached:
		say += fmt.Sprintf("%s reached, %s 1%s", goal, unit, from)
	case n == 1 && rule.Lines != nil:
		say += fmt.Sprintf("the lower line reached, path 1%s", from)
	case n == 1:
		say += fmt.Sprintf("%s not reached, block 1%s", goal, from)
	case b.Reached:
		say += fmt.Sprintf("%s reached by %s of %d%s", goal, b.reachedBy(unit), n, from)
	default:
		say += fmt.Sprintf("%s not reached by any of %d %ss%s", goal, n, unit, from)
	}
	within := unit + "s"
	if n == 1 {
		within = unit
	} else if n <= mostAttemptsTold {
		say += ": " + b.all(rule)
	}
	say += fmt.Sprintf(". Guessing alone reaches it within %d %s in %s cases.", n, within, ofHundred(b.ByLuck))
	if b.Begun.Sets > 0 {
		say += fmt.Sprintf(" Of %s %d so far %d right of %d.", unit, n+1, b.Begun.Right, b.Begun.Sets)
	}
	if b.Denied > 0 {
		say += fmt.Sprintf(" It was decided %s before that it does not hold: each decision begins the count of %ss anew, and who is tried often enough reaches any mark.", often(b.Denied), unit)
	}
	return say
}

// mostAttemptsTold are told one by one.
const mostAttemptsTold = 8

// reachedBy names the attempts that reached the rule: "block 2", "blocks 2 and 5".
func (b Basis) reachedBy(unit string) string {
	var which []string
	for i, a := range b.Attempts {
		if a.Reached {
			which = append(which, strconv.Itoa(i+1))
		}
	}
	switch n := len(which); {
	case n == 1:
		return unit + " " + which[0]
	case n > mostAttemptsTold:
		return fmt.Sprintf("%d %ss, the first of them %s,", n, unit, which[0])
	}
	return unit + "s " + list(which)
}

// all lists the attempts: "8, 6 and 4 right", or of paths "10 of 15 (upper) and 2 of 9
// (lower)".
func (b Basis) all(rule session.Rule) string {
	var each []string
	for _, a := range b.Attempts {
		switch {
		case rule.Lines == nil:
			each = append(each, strconv.Itoa(a.Right))
		case a.Reached:
			each = append(each, fmt.Sprintf("%d of %d (upper)", a.Right, a.Of))
		default:
			each = append(each, fmt.Sprintf("%d of %d (lower)", a.Right, a.Of))
		}
	}
	if rule.Lines == nil {
		return list(each) + " right"
	}
	return list(each)
}
