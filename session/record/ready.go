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
	Near    []Near   // in the order of the register
}

// Holder is one who holds a rule now. Until is zero where it has no end.
type Holder struct {
	Person    session.PersonID
	Pseudonym string
	Until     time.Time
	RunsOut   bool   // within [RunsOutWithin]
	Say       string // "until 5 March 2032"
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
		for _, who := range b.lab.Holders(rule.Name, b.now) {
			s := b.sheets[who.Person]
			if s == nil || !present(s.person) {
				continue
			}
			holds[who.Person] = true
			h := Holder{Person: who.Person, Pseudonym: s.person.Pseudonym, Say: "without end"}
			i := slices.IndexFunc(latest, func(q session.Qualification) bool {
				return q.Person == who.Person && strings.EqualFold(q.Rule, rule.Name)
			})
			if i >= 0 && !latest[i].Until.IsZero() {
				h.Until = latest[i].Until
				h.RunsOut = !h.Until.After(b.now.Add(RunsOutWithin))
				h.Say = "until " + day(h.Until)
			}
			r.Holders = append(r.Holders, h)
		}
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
				r.Near = append(r.Near, Near{id, s.person.Pseudonym, reached, say})
			}
		}
		all = append(all, r)
	}
	return all
}

// near tells how near a record is to a rule, "" where it is not.
func (b Basis) near(rule session.Rule) (say string, reached bool) {
	so := fmt.Sprintf("%d right of %d", b.Right, b.Of)
	switch {
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
