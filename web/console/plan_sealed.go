package console

import (
	"strconv"

	"oddcup/session"
)

// Registered is the test as it was registered, in words: all that the analysis
// goes by.
func (t planTest) Registered() []planFact {
	p := t.Test
	all := []planFact{{"method", t.Name}}
	add := func(name, value string) { all = append(all, planFact{name, value}) }
	switch p.Goal {
	case session.GoalDifference:
		add("goal", "to show a difference")
	case session.GoalSimilarity:
		add("goal", "to show similarity")
	case session.GoalBoth:
		add("goal", "a difference and similarity, each by its own rule")
	}
	switch p.Blank {
	case session.BlankUntreated:
		add("blank test", "two brews of the untreated lot")
	case session.BlankProcessed:
		add("blank test", "two brews of the processed lot")
	}
	if t.Method.Ask != nil {
		add("tasters are asked", t.Method.Ask(p))
	}
	if t.Shape.Uses("reference") {
		words := "balanced: either lot equally often"
		if p.Reference == session.ReferenceConstant {
			words = "constant: always the untreated lot"
		}
		add("reference", words)
	}
	if t.Shape.Uses("attribute") {
		add("attribute", p.Attribute)
		add("tasters are told", p.Definition)
		side := "one-sided: the processed lot was said to have " + lessMore(p)
		if p.TwoSided {
			side = "two-sided: either lot may have " + lessMore(p)
		}
		add("sides", side)
	}
	add("sets per seat", strconv.Itoa(p.Sets))
	if p.WantsDifference() {
		add("α, risk of calling equal lots different", num(p.Alpha))
		add("pd worth finding", pct(p.Pd))
	}
	if p.WantsSimilarity() {
		add("pd limit: similar means that fewer perceive it", pct(p.PdLimit))
	}
	if t.Shape.Uses("beta") {
		add(t.BetaLabel(), num(p.Beta))
	}
	add(t.PowerLabel(), num(p.Power))
	if p.Sequential {
		add("stopping", "may stop early, after a whole round")
	} else {
		add("stopping", "none: all answers are taken")
	}
	return all
}

func lessMore(p session.TestPlan) string {
	if p.More {
		return "more"
	}
	return "less"
}
