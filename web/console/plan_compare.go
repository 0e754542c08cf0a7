package console

import (
	"fmt"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// compareView puts the methods side by side, at one d′ and the risks of the
// plan's first test.
type compareView struct {
	Own     string // what the field means while it is empty
	Risks   string // "d′ 1.98, α 0.05, power 0.8"
	Says    []string
	Rows    []compareRow
	Trouble string // what is wrong with the field, "" for nothing
}

// compareRow is what one method needs, in words.
type compareRow struct {
	Method   string
	Question string
	Planned  bool // a test of the plan asks that way
	Fewest   bool
	Figures  []compareFigure
	Note     string
}

type compareFigure struct{ Name, Value string }

// compareNames are the columns.
var compareNames = []string{
	"assessors, smallest", "from here on all", "seats, whole blocks", "cups",
	"to find and wash", "coffee, g", "water, L", "cups a taster", "caffeine a taster, mg",
}

// Names are the columns.
func (compareView) Names() []string { return compareNames }

// compareOf works the comparison out. Its field is no part of the plan: what is
// wrong with it keeps nothing from being sealed.
func compareOf(p session.Plan, f *form) compareView {
	var v compareView
	c, own := comparisonOf(p)
	if own > 0 {
		v.Own = fmt.Sprintf("Left empty it is %s, which %s.", fixed(own, 2), ownWords(p.Tests[0]))
		c.DPrime = own
	} else {
		v.Own = "Left empty it is what the first test’s pd is in its own method."
	}
	if typed := f.text("dPrime"); typed != "" {
		own := &form{values: f.values}
		c.DPrime = own.number("dPrime", "d′")
		if own.Bad() {
			v.Trouble = own.Fault("dPrime")
		} else if c.DPrime < 0.05 || c.DPrime > 10 {
			v.Trouble = fmt.Sprintf("D′: %s lies outside 0.05 to 10.", num(c.DPrime))
		}
	}
	needs := c.Compare()
	if v.Trouble != "" || needs == nil {
		return v
	}
	v.Risks = "d′ " + trim(c.DPrime, 2)
	if c.Goal != session.GoalSimilarity {
		v.Risks += ", α " + num(c.Alpha)
	}
	if c.Goal != session.GoalDifference {
		v.Risks += ", β " + num(c.Beta)
	}
	v.Risks += ", power " + num(c.Power) + ", goal " + c.Goal
	for _, n := range needs {
		v.Rows = append(v.Rows, compareRowOf(n, p, c.Goal != session.GoalDifference && !n.Method.ShowsSimilarity(n.TwoSided)))
		if n.Fewest {
			v.Says = append(v.Says, cheapest(n))
		}
	}
	return v
}

// comparisonOf takes goal and risks from the plan's first test, and gives the d′
// of its pd, or of its pd limit where it asks for similarity only; 0 for none.
func comparisonOf(p session.Plan) (session.Comparison, float64) {
	t := session.UsualPlan().Tests[0]
	if len(p.Tests) > 0 {
		t = p.Tests[0]
	}
	c := session.Comparison{Goal: t.Goal, Alpha: t.Alpha, Beta: t.Beta, Power: t.Power, Serving: p.Serving}
	m, ok := session.MethodByKey(t.Method)
	pd := t.Pd
	if !t.WantsDifference() {
		pd = t.PdLimit
	}
	if !ok || len(p.Tests) == 0 || !(pd >= 0.01 && pd <= 0.99) {
		return c, 0
	}
	return c, m.Curve.DPrime(stats.PcFromPd(pd, m.Chance()))
}

func ownWords(t session.TestPlan) string {
	m, _ := session.MethodByKey(t.Method)
	if t.WantsDifference() {
		return "pd " + pct(t.Pd) + " is in the first test, a " + m.Name
	}
	return "the pd limit " + pct(t.PdLimit) + " is in the first test, a " + m.Name
}

// comparedName names a method, the paired comparison with its sides.
func comparedName(n session.MethodNeeds) string {
	if n.Method.Key != session.PairedComparison.Key {
		return n.Method.Name
	}
	if n.TwoSided {
		return n.Method.Name + ", two-sided"
	}
	return n.Method.Name + ", one-sided"
}

func compareRowOf(n session.MethodNeeds, p session.Plan, oneWay bool) compareRow {
	r := compareRow{Method: comparedName(n), Fewest: n.Fewest}
	attribute := "of the attribute"
	for _, t := range p.Tests {
		if m, ok := session.MethodByKey(t.Method); ok && !m.Overall && strings.TrimSpace(t.Attribute) != "" {
			attribute = t.Attribute
		}
		r.Planned = r.Planned || t.Method == n.Method.Key && t.TwoSided == n.TwoSided
	}
	r.Question = "Any difference? “" + n.Method.Ask(session.TestPlan{}) + "”"
	if !n.Method.Overall {
		r.Question = "A named attribute? “" + n.Method.Ask(session.TestPlan{Attribute: attribute}) + "”"
	}
	switch {
	case n.Method.Key == session.ThreeAFC.Key:
		r.Note = "Only where the lots differ in strength alone, never in a sitting with a triangle."
	case n.TwoSided:
		r.Note = "Where it was not known beforehand which lot has less."
	}
	values := make([]string, len(compareNames))
	for i := range values {
		values[i] = "–"
	}
	if n.Found {
		values[0], values[1], values[2], values[3] = fmt.Sprint(n.First), fmt.Sprint(n.Stable), fmt.Sprint(n.Seats), fmt.Sprint(n.Cups)
		values[4], values[7] = fmt.Sprint(n.Cups+n.Supplies.Spare), fmt.Sprint(n.Supplies.CupsPerSeat)
		if a := (amounts{n.Supplies}); a.WaterEachG > 0 {
			values[5], values[6], values[8] = fixed(a.CoffeeG(), 0), fixed(a.WaterL(), 1), fixed(a.CaffeineMg, 0)
		}
	} else if n.Beyond {
		most := fmt.Sprintf("%d\u00a0%03d", session.LargestCompared/1000, session.LargestCompared%1000)
		values[0] = ">\u00a0" + most
		r.Note = strings.TrimSpace("More than " + most + " assessors: out of reach for a difference this small. " + r.Note)
	} else if oneWay {
		r.Note = "Looks one way only, so it can’t show similarity: lots that differ the other way would pass."
	} else {
		r.Note = strings.TrimSpace("No number of assessors can be promised. " + r.Note)
	}
	for i, name := range compareNames {
		r.Figures = append(r.Figures, compareFigure{name, values[i]})
	}
	return r
}

// cheapest names the method with the fewest cups for its question.
func cheapest(n session.MethodNeeds) string {
	what := "For any difference"
	if !n.Method.Overall {
		what = "For a named attribute"
	}
	return fmt.Sprintf("%s the %s is cheapest: %s, in whole blocks %s and %s.",
		what, comparedName(n), counted(n.First, "assessor"), counted(n.Seats, "seat"), counted(n.Cups, "cup"))
}
