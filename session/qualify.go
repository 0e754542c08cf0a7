package session

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"oddcup/stats"
)

// Rule is what somebody must show to qualify. The laboratory writes its own;
// none is built in, since those in use differ.
type Rule struct {
	Name   string     `json:"name"`
	Method string     `json:"method"`
	Kind   JudgedKind `json:"kind"`
	Label  string     `json:"label,omitempty"` // what difference: as in [SeriesTerms]

	// A mark: at least Mark right of exactly Trials sets.
	Trials int `json:"trials,omitempty"`
	Mark   int `json:"mark,omitempty"`

	// Or Wald's lines, whose upper one is to be reached; nil for a mark.
	Lines *RuleLines `json:"lines,omitempty"`

	ValidMonths int `json:"validMonths,omitempty"` // 0: it does not run out
}

// RuleLines are Wald's lines of a rule, as in [SeriesTerms].
type RuleLines struct {
	P0    float64 `json:"p0"`
	P1    float64 `json:"p1"`
	Alpha float64 `json:"alpha"`
	Beta  float64 `json:"beta"`
}

// Qualification is a dated decision on one person by one rule, with its basis.
type Qualification struct {
	Person    PersonID  `json:"person"`
	Rule      string    `json:"rule"`
	Held      bool      `json:"held"` // false: it does not hold, or no longer
	Basis     string    `json:"basis"`
	Right     int       `json:"right"`
	Of        int       `json:"of"`
	DecidedAt time.Time `json:"decidedAt"`
	Until     time.Time `json:"until,omitzero"` // it holds before this; zero: it does not run out

	// Record is what the record had for the rule at the decision, nil where that was
	// not looked at. Against is that who decided was told that it says otherwise.
	Record  *RuleCounts `json:"record,omitempty"`
	Against bool        `json:"against,omitempty"`
}

// RuleCounts are the counts of a record that decide by a rule, or, where Whole is
// false, those that there are so far.
//
// They are of attempt Attempt, from 1, of the Attempts blocks or paths that were whole
// since the decision before. Last is when the last set of all these was answered, zero
// in decisions of before it was kept.
type RuleCounts struct {
	Right    int       `json:"right"`
	Of       int       `json:"of"`
	Whole    bool      `json:"whole,omitempty"`
	Reached  bool      `json:"reached,omitempty"` // they are what the rule wants
	Attempt  int       `json:"attempt,omitempty"`
	Attempts int       `json:"attempts,omitempty"`
	Last     time.Time `json:"last,omitzero"`
}

// Typed reports whether the decision's counts are not those of the record.
func (q Qualification) Typed() bool {
	return q.Record != nil && (q.Right != q.Record.Right || q.Of != q.Record.Of)
}

// OnRecord reports whether the decision rests on sets of the record.
func (q Qualification) OnRecord() bool { return q.Record != nil && q.Record.Of > 0 && !q.Typed() }

// NextAfter is when the next attempt by the rule begins: after the last set that the
// decision rests on, so that no set is used twice and none falls between, or, where it
// rests on none of the record, after the decision.
func (q Qualification) NextAfter() time.Time {
	if q.OnRecord() && !q.Record.Last.IsZero() {
		return q.Record.Last
	}
	return q.DecidedAt
}

// contradicts reports whether the record says otherwise, or does not show what the
// decision rests on.
func (q Qualification) contradicts() bool {
	return q.Typed() || q.Record != nil && q.Record.Whole && q.Held != q.Record.Reached
}

// CountWords say what the decision's counts are, and what the record had beside them.
func (q Qualification) CountWords() string {
	so := fmt.Sprintf("%d of %d", q.Right, q.Of)
	if q.Record == nil {
		return "Counts: " + so + "; what the record had then was not noted."
	}
	say := "Counts: " + so + ", as in the record" + q.Record.attempt() + "."
	if q.Typed() {
		say = "Typed: " + so + "; " + q.Record.Words() + "."
	}
	if q.Against {
		say += " Who decided knew that and decided all the same."
	}
	return say
}

// Words say what the record has.
func (c RuleCounts) Words() string {
	say := fmt.Sprintf("the record has %d of %d%s for this rule, ", c.Right, c.Of, c.attempt())
	switch {
	case c.Of == 0:
		return "the record has 0 sets for this rule"
	case !c.Whole:
		return say + "which decides nothing yet"
	case c.Reached:
		return say + "which is what it wants"
	}
	return say + "which is not what it wants"
}

// attempt says which of several attempts the counts are of, "" of one.
func (c RuleCounts) attempt() string {
	if c.Attempts < 2 {
		return ""
	}
	return fmt.Sprintf(" (attempt %d of %d)", c.Attempt, c.Attempts)
}

// Holds reports whether the decision holds at a time.
func (q Qualification) Holds(at time.Time) bool {
	return q.Held && !q.DecidedAt.After(at) && (q.Until.IsZero() || at.Before(q.Until))
}

// Eligible is somebody who held the rule of a plan when it was sealed.
type Eligible struct {
	Person    PersonID `json:"person"`
	Pseudonym string   `json:"pseudonym"`
}

const (
	mostRuleName = 60
	mostBasis    = 300
	mostMonths   = 600
)

// Rule finds a rule by its name.
func (l *Lab) Rule(name string) (Rule, bool) {
	if i := l.ruleAt(name); i >= 0 {
		return l.Rules[i], true
	}
	return Rule{}, false
}

func (l *Lab) ruleAt(name string) int {
	return slices.IndexFunc(l.Rules, func(r Rule) bool { return foldName(r.Name) == foldName(name) })
}

// Latest are the newest decisions, one for each person and rule, past every
// merge, in the order of people and rules on the register. Erased people are
// left out.
func (l *Lab) Latest() []Qualification {
	type key struct {
		person PersonID
		rule   string
	}
	newest := map[key]Qualification{}
	for _, q := range l.Qualifications {
		p, ok := l.Same(q.Person)
		if !ok || p.Erased {
			continue
		}
		q.Person = p.ID
		k := key{p.ID, foldName(q.Rule)}
		if have, ok := newest[k]; !ok || !q.DecidedAt.Before(have.DecidedAt) {
			newest[k] = q
		}
	}
	var all []Qualification
	for _, q := range newest {
		all = append(all, q)
	}
	slices.SortFunc(all, func(a, b Qualification) int {
		return cmp.Or(cmp.Compare(l.personAt(a.Person), l.personAt(b.Person)), cmp.Compare(l.ruleAt(a.Rule), l.ruleAt(b.Rule)))
	})
	return all
}

// RunsOut lists the newest decisions that have run out or will within a time,
// the soonest first.
func (l *Lab) RunsOut(now time.Time, within time.Duration) []Qualification {
	var out []Qualification
	for _, q := range l.Latest() {
		if q.Held && !q.Until.IsZero() && !q.Until.After(now.Add(within)) {
			out = append(out, q)
		}
	}
	slices.SortStableFunc(out, func(a, b Qualification) int { return a.Until.Compare(b.Until) })
	return out
}

// Holders are the people who hold a rule at a time, resting ones left out, in
// the order of the register: what a session's seal takes with it.
func (l *Lab) Holders(rule string, at time.Time) []Eligible {
	var all []Eligible
	for _, q := range l.Latest() {
		p, _ := l.Person(q.Person)
		if foldName(q.Rule) == foldName(rule) && q.Holds(at) && p.Status != StatusResting {
			all = append(all, Eligible{p.ID, p.Pseudonym})
		}
	}
	return all
}

// EligibilityCautions say which seats were not of those who held the plan's rule
// when it was sealed, as far as seats are tied to people. No answer is dropped
// for it: the list was a wish beforehand, not a filter afterwards.
func EligibilityCautions(s *State, lab *Lab) []string {
	if s.Plan.Eligible == "" || len(s.Eligible) == 0 {
		return nil
	}
	listed := map[PersonID]bool{}
	for _, e := range s.Eligible {
		if p, ok := lab.Same(e.Person); ok {
			listed[p.ID] = true
		}
	}
	var outside []string
	untied := 0
	for _, seat := range s.Seats {
		if !seat.Listed {
			continue
		}
		switch p, ok := lab.PersonOf(s.ID, seat.Number); {
		case !ok:
			untied++
		case !listed[p.ID]:
			outside = append(outside, fmt.Sprintf("seat %d (%s)", seat.Number, p.Pseudonym))
		}
	}
	var say []string
	if len(outside) > 0 {
		say = append(say, fmt.Sprintf("Planned for people who hold the rule “%s”, fixed at the seal; not of them: %s. Their answers count all the same.",
			s.Plan.Eligible, strings.Join(outside, ", ")))
	}
	if untied > 0 {
		say = append(say, fmt.Sprintf("Planned for people who hold the rule “%s”; nobody has said who had %s.", s.Plan.Eligible, counted(untied, "seat")))
	}
	return say
}

func (l *Lab) decideRule(a SetRule) ([]Event, error) {
	r := a.Rule
	r.Name, r.Label = strings.Join(strings.Fields(r.Name), " "), strings.TrimSpace(r.Label)
	if err := checkLabel(r.Name, "a rule's name", mostRuleName); err != nil {
		return nil, err
	}
	m, ok := MethodByKey(r.Method)
	switch {
	case !ok:
		return nil, fmt.Errorf("rule %s: no method is called %q: %w", r.Name, r.Method, ErrTerms)
	case !slices.Contains(JudgedKinds, r.Kind):
		return nil, fmt.Errorf("rule %s, kind %q: choose routine, control or blank sets: %w", r.Name, r.Kind, ErrTerms)
	case r.ValidMonths < 0 || r.ValidMonths > mostMonths:
		return nil, fmt.Errorf("rule %s: it is valid for 0 to %d months, 0 without end: %w", r.Name, mostMonths, ErrTerms)
	case r.Lines != nil && (r.Trials != 0 || r.Mark != 0):
		return nil, fmt.Errorf("rule %s: give a mark or lines, not both: %w", r.Name, ErrTerms)
	case r.Lines == nil && (r.Trials < 1 || r.Trials > mostSets || r.Mark < 1 || r.Mark > r.Trials):
		return nil, fmt.Errorf("rule %s: %d right of %d sets is no mark: %w", r.Name, r.Mark, r.Trials, ErrTerms)
	case r.Kind == KindControl && r.Label == "":
		return nil, fmt.Errorf("rule %s: name the control, in the words of its sessions: %w", r.Name, ErrTerms)
	}
	if r.Label != "" {
		if err := checkLabel(r.Label, "what difference", mostControlWords); err != nil {
			return nil, fmt.Errorf("rule %s: %w", r.Name, err)
		}
	}
	if r.Lines != nil {
		lines := *r.Lines
		if err := checkLines(lines.P0, lines.P1, lines.Alpha, lines.Beta, m.Chance()); err != nil {
			return nil, fmt.Errorf("rule %s: %w", r.Name, err)
		}
		r.Lines = &lines
	}
	if err := l.checkHoldsNoName(r.Name, "the rule’s name"); err != nil {
		return nil, err
	}
	if err := l.checkHoldsNoName(r.Label, "what differs"); err != nil {
		return nil, err
	}
	return one(&RuleSet{r})
}

// Served reports whether a session that was revealed had sets such as the rule wants,
// and names the controls that were served by its method. Demonstrations are left out.
func (r Rule) Served(sessions []JudgedSession) (served bool, controls []string) {
	for _, j := range sessions {
		for i, t := range j.Tests {
			if j.Demo || t.Method != r.Method || t.Kind != r.Kind {
				continue
			}
			label := j.Label(i)
			if r.Kind != KindControl || foldName(label) == foldName(r.Label) {
				served = true
			}
			if label != "" && !slices.Contains(controls, label) {
				controls = append(controls, label)
			}
		}
	}
	return served, controls
}

// PaperCounts are a person's counts from paper with sets such as the rule wants. They
// feed no rule: such a count has no order of its sets, and blocks and paths are cut
// from sets in their order.
func (l *Lab) PaperCounts(id PersonID, r Rule) (right, of int) {
	for _, p := range l.PapersOf(id) {
		if p.Method == r.Method && p.Kind == r.Kind && (r.Kind != KindControl || foldName(p.Control) == foldName(r.Label)) {
			right, of = right+p.Right, of+p.Sets
		}
	}
	return right, of
}

// reached reports whether counts are what a rule wants.
func (r Rule) reached(right, of int) bool {
	if r.Lines == nil {
		return of == r.Trials && right >= r.Mark
	}
	lines := stats.Sequential{P0: r.Lines.P0, P1: r.Lines.P1, Alpha: r.Lines.Alpha, Beta: r.Lines.Beta, Every: 1}
	return of > 0 && lines.Look(of, right).Decision == stats.Different
}

func (l *Lab) decideQualify(a Qualify, at time.Time) ([]Event, error) {
	p, err := l.present(a.Person)
	if err != nil {
		return nil, err
	}
	rule, ok := l.Rule(a.Rule)
	if !ok {
		return nil, fmt.Errorf("rule %q: %w", a.Rule, ErrNoRule)
	}
	q := Qualification{
		Person: p.ID, Rule: rule.Name, Held: a.Held, Basis: strings.TrimSpace(a.Basis), Right: a.Right, Of: a.Of, DecidedAt: a.At.UTC(),
		Record: a.Record,
	}
	if a.At.IsZero() {
		q.DecidedAt = at.UTC()
	}
	// Days are those of whoever decides: a decision is dated, and its sets have hours.
	place := at.Location()
	if !a.At.IsZero() {
		place = a.At.Location()
	}
	decided := isoDate(q.DecidedAt, place)
	switch {
	case decided > isoDate(at, place) || q.DecidedAt.Year() < 1:
		return nil, fmt.Errorf("%s, rule %s: a day that is still to come: %w", p.Pseudonym, rule.Name, ErrWords)
	case q.OnRecord() && decided < isoDate(q.Record.Last, place):
		last := isoDate(q.Record.Last, place)
		return nil, fmt.Errorf("%s, rule %s: it rests on sets of the record, the last of %s, and is dated %s; a decision comes after its sets: write %s or a later day: %w",
			p.Pseudonym, rule.Name, last, decided, last, ErrWords)
	case q.Right < 0 || q.Of < 0 || q.Of > mostSets || q.Right > q.Of:
		return nil, fmt.Errorf("%s, rule %s: %d right of %d sets: %w", p.Pseudonym, rule.Name, q.Right, q.Of, ErrMark)
	case q.Held && !rule.reached(q.Right, q.Of):
		return nil, fmt.Errorf("%s, rule %s: %d right of %d sets is not what it wants: %w", p.Pseudonym, rule.Name, q.Right, q.Of, ErrMark)
	}
	if err := checkLabel(q.Basis, "the basis of a decision", mostBasis); err != nil {
		return nil, fmt.Errorf("%s, rule %s: %w", p.Pseudonym, rule.Name, err)
	}
	if word := nameWordIn(q.Basis, p.Name.Words); word != "" {
		return nil, fmt.Errorf("the basis holds “%s”, a part of the name of %s; it stays in the journal for good, and could not be erased with the name: "+
			"write %s instead, or leave it out: %w", word, p.Pseudonym, p.Pseudonym, ErrTellsName)
	}
	if err := l.checkTellsNobody(q.Basis, "the basis"); err != nil {
		return nil, err
	}
	if q.contradicts() {
		if q.Against = a.Against; !q.Against {
			return nil, fmt.Errorf("%s, rule %s: it is decided on %d of %d, and %s; tick below that you know it and decide so, with the basis on which you do, or take the record’s counts: %w",
				p.Pseudonym, rule.Name, q.Right, q.Of, q.Record.Words(), ErrAgainstRecord)
		}
	}
	if q.Held && rule.ValidMonths > 0 {
		q.Until = q.DecidedAt.AddDate(0, rule.ValidMonths, 0)
	}
	return one(&Qualified{q})
}

func isoDate(t time.Time, place *time.Location) string { return t.In(place).Format(time.DateOnly) }

// checkEligible says what is wrong with the list that a seal takes with it.
func (p Plan) checkEligible(list []Eligible) error {
	switch {
	case p.Eligible == "" && len(list) > 0:
		return fmt.Errorf("%w: the plan names no rule, and people who hold one are listed", ErrSeal)
	case p.Eligible != "" && len(list) == 0:
		return fmt.Errorf("rule %q: %w", p.Eligible, ErrNotEligible)
	}
	return nil
}
