package console

import (
	"slices"

	"oddcup/session"
)

// judgingFields are the fields of what a session is to tell of its judges, in the
// page's order.
var judgingFields = []string{"control.words", "control.percent", "control.dPrime", "eligible"}

// setJudging writes what a plan says of its judges into the fields.
func (f *form) setJudging(p session.Plan) {
	f.values.Set("eligible", p.Eligible)
	c := p.Control
	if c == nil {
		return
	}
	f.values.Set("control", "on")
	f.values.Set("control.words", c.Words)
	if c.Percent != 0 {
		f.values.Set("control.percent", num(c.Percent))
	}
	if c.DPrime != 0 {
		f.values.Set("control.dPrime", num(c.DPrime))
	}
}

// control reads the control of a session of control sets, nil for any other. An
// empty figure is not known; a typed 0 is refused rather than taken for that.
func (f *form) control() *session.Control {
	if !f.Is("control", "on") {
		return nil
	}
	figure := func(name, what string) float64 {
		if f.text(name) == "" {
			return 0
		}
		x := f.number(name, what)
		if x == 0 {
			f.bad(name, what+": 0 says nothing; leave it empty where it is not known")
		}
		return x
	}
	return &session.Control{
		Words: f.text("control.words"), Percent: figure("control.percent", "strength of the treated brew"), DPrime: figure("control.dPrime", "known d′"),
	}
}

// JudgingOpen reports whether the fields of judges are unfolded: something is
// stated there, or refused.
func (v planView) JudgingOpen() bool {
	return v.Form.Is("control", "on") || v.Form.text("eligible") != "" ||
		slices.ContainsFunc(judgingFields, func(name string) bool { return v.Notes[name].Fault != "" })
}

// RuleChoices are the choices for who is to taste, values and words in turn, with
// how many hold each now.
func (v planView) RuleChoices() []any {
	choices := []any{"", "anybody"}
	for _, r := range v.Rules {
		holders := "nobody holds it now"
		if n := v.Holders[r.Name]; n > 0 {
			holders = counted(n, "holder") + " now"
		}
		choices = append(choices, r.Name, "who holds “"+r.Name+"”: "+holders)
	}
	return choices
}
