package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// RuleStand is who of the present panel holds a rule, and who is near it.
type RuleStand struct {
	Rule    string
	Holders []Holder // whose time runs out first, those without end last
	RanOut  []Holder // who held it and may again, the newest first
	Near    []Near   // in the order of the register
}

// Holder is one who holds a rule now, or held it until a time within [RanOutWithin].
// Until is zero where it has no end. Against is that it was decided against the record.
type Holder struct {
	Person    session.PersonID
	Pseudonym string
	Until     time.Time
	RunsOut   bool // within [RunsOutWithin]
	Against   bool
	Say       string // "holds it until 5 March 2032", "held it until …, when it ran out"
}

// Near is one who does not hold a rule and whose record shows what it wants, which
// nobody has decided on, or may soon: half of a mark's block is answered and the rest
// can reach the mark, or a path lies at most [nearSets] sets right below the upper line.
type Near struct {
	Person    session.PersonID
	Pseudonym string
	Reached   bool
	Say       string
}

// nearSets is how many sets right in a row below a line are near it (own choice).
const nearSets = 2

// Ready tells of every rule of the laboratory who holds it and who is near it.
func (b *Book) Ready() []RuleStand {
	var all []RuleStand
	latest := b.lab.Latest()
	for _, rule := range b.lab.Rules {
		r := RuleStand{Rule: rule.Name}
		holds := map[session.PersonID]bool{}
		for _, q := range latest {
			s := b.sheets[q.Person]
			if named, _ := b.lab.Rule(q.Rule); s == nil || !present(s.person) || !q.Held || named.Name != rule.Name || q.DecidedAt.After(b.now) {
				continue
			}
			h := Holder{Person: q.Person, Pseudonym: s.person.Pseudonym, Until: q.Until, Against: q.Against}
			if !q.Holds(b.now) {
				if h.Until.After(b.now.Add(-RanOutWithin)) {
					h.Say = "held it until " + day(h.Until) + ", when it ran out" + h.against()
					r.RanOut = append(r.RanOut, h)
				}
				continue
			}
			holds[q.Person] = true
			h.Say = "holds it without end"
			if !h.Until.IsZero() {
				h.Say = "holds it until " + day(h.Until)
				if h.RunsOut = !h.Until.After(b.now.Add(RunsOutWithin)); h.RunsOut {
					h.Say += ": it runs out soon"
				}
			}
			h.Say += h.against()
			r.Holders = append(r.Holders, h)
		}
		slices.SortStableFunc(r.RanOut, func(x, y Holder) int { return y.Until.Compare(x.Until) })
		slices.SortStableFunc(r.Holders, func(x, y Holder) int {
			if x.Until.IsZero() != y.Until.IsZero() {
				return one(x.Until.IsZero()) - one(y.Until.IsZero())
			}
			return x.Until.Compare(y.Until)
		})
		for _, id := range b.order {
			s := b.sheets[id]
			if holds[id] || !present(s.person) || len(s.sessions) == 0 {
				continue
			}
			if say, reached := b.Evaluate(id, rule).near(rule); say != "" {
				which := "is near it: "
				if reached {
					which = "shows what it wants: "
				}
				r.Near = append(r.Near, Near{id, s.person.Pseudonym, reached, which + say})
			}
		}
		all = append(all, r)
	}
	return all
}

// against tells of a decision that the record does not bear.
func (h Holder) against() string {
	if h.Against {
		return "; decided against the record"
	}
	return ""
}

// Words are a sentence for each who holds the rule, held it or is near it.
func (r RuleStand) Words() []string {
	var say []string
	for _, h := range append(slices.Clone(r.Holders), r.RanOut...) {
		say = append(say, h.Pseudonym+" "+h.Say+".")
	}
	if len(r.Holders) == 0 {
		say = append([]string{"Nobody holds it now."}, say...)
	}
	for _, n := range r.Near {
		say = append(say, n.Pseudonym+" "+n.Say+".")
	}
	return say
}

// near tells how near a record is to a rule, "" where it is not.
func (b Basis) near(rule session.Rule) (say string, reached bool) {
	so := fmt.Sprintf("%d right of %d", b.Right, b.Of)
	switch {
	case b.Reached && len(b.Attempts) > 1:
		unit := "block"
		if rule.Lines != nil {
			unit = "path"
		}
		return fmt.Sprintf("%s reach it, to be decided; %s of %d did, and guessing alone reaches it within so many in %s cases", so, b.reachedBy(unit), len(b.Attempts), ofHundred(b.ByLuck)), true
	case b.Reached:
		return so + " reach it, to be decided", true
	case b.Whole:
		return "", false
	case rule.Lines == nil:
		left, wanted := rule.Trials-b.Of, rule.Mark-b.Right
		if 2*b.Of < rule.Trials || wanted > left {
			return "", false
		}
		if wanted <= 0 {
			return fmt.Sprintf("%s so far, which is the mark, with %s to come", so, counted(left, "set")), false
		}
		return fmt.Sprintf("%s so far, %d more right of the last %d reach the mark", so, wanted, left), false
	}
	more := 0
	for plan := rulePlan(*rule.Lines); more <= nearSets; more++ {
		if b.Of > 0 && plan.Look(b.Of+more, b.Right+more).Decision == stats.Different {
			break
		}
	}
	if more > nearSets || more == 0 {
		return "", false
	}
	return fmt.Sprintf("%s so far, %d more in a row all right reach the upper line", so, more), false
}

// byTypical is the probability that a typical panellist, right in such sets as those who
// tasted them show, reaches a rule in one attempt; ok is false where no such set counts.
func (p *pages) byTypical(rule session.Rule) (reach float64, ok bool) {
	f := p.fitted.ready()
	var sets, right float64
	for t, e := range p.tests {
		if e.method.Key != rule.Method || e.kind != rule.Kind || f.all[t].Counting != stats.TestCounts ||
			e.kind == session.KindControl && !strings.EqualFold(e.label, rule.Label) {
			continue
		}
		for _, c := range e.counts {
			sets += float64(c.Sets)
			right += f.all[t].PC * float64(c.Sets)
		}
	}
	if sets == 0 {
		return 0, false
	}
	pc := right / sets
	if rule.Lines == nil {
		return stats.UpperTail(rule.Trials, rule.Mark, pc), true
	}
	return Ends(*rule.Lines, pc).Different, true
}

// TypicalSay tells how often a typical panellist reaches a rule, "" where no such set
// counts yet.
func (b *Book) TypicalSay(rule session.Rule) string {
	reach, ok := b.byTypical(rule)
	if !ok {
		return ""
	}
	return fmt.Sprintf("A typical panellist, going by the sets so far, reaches it in %s attempts.", ofHundred(reach))
}
