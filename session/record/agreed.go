package record

import (
	"fmt"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// How far the panel's own d′ of a control may lie from the agreed one (own choice,
// no source): the interval of doubtConfidence reaches into agreed/doubtFactor to
// agreed·doubtFactor. Judges differ, so that a panel never meets it exactly.
const (
	doubtConfidence = 0.99
	doubtFactor     = 1.25
)

// AgreedSize holds the agreed d′ of a control against what all who tasted it
// perceive together. Where Doubtful, a judge who is called weak or strong may owe it
// to the agreed size. The sets go on counting: whether the size or the panel is off
// is for people to settle.
type AgreedSize struct {
	ControlSize
	Judges   int // who tasted it
	Seats    int // that tasted it and are tied to nobody
	Doubtful bool
}

type agreedKey struct {
	label string // in lower case
	known float64
}

// agreedSizes are the controls with an agreed size, in the order first served.
func (p *pages) agreedSizes() []AgreedSize {
	var all []AgreedSize
	at := map[agreedKey]int{}
	by := map[agreedKey]map[stats.Psychometric]stats.Outcome{}
	who := map[agreedKey]map[taster]bool{}
	for _, t := range p.tests {
		if t.kind != session.KindControl || t.known == 0 {
			continue
		}
		k := agreedKey{strings.ToLower(t.label), t.known}
		if _, ok := at[k]; !ok {
			at[k] = len(all)
			all = append(all, AgreedSize{ControlSize: ControlSize{Label: t.label, Known: t.known}})
			by[k], who[k] = map[stats.Psychometric]stats.Outcome{}, map[taster]bool{}
		}
		for i, c := range t.counts {
			o := by[k][t.method.Curve]
			o.Method = t.method.Curve
			o.N += c.Sets
			o.Correct += c.Right
			by[k][t.method.Curve] = o
			who[k][t.who[i]] = true
		}
	}
	for k, i := range at {
		var outcomes []stats.Outcome
		for _, m := range session.Methods {
			if o, ok := by[k][m.Curve]; ok {
				outcomes = append(outcomes, o)
			}
		}
		for w := range who[k] {
			if w.person == "" {
				all[i].Seats++
			} else {
				all[i].Judges++
			}
		}
		all[i].weigh(outcomes)
	}
	return all
}

func (a *AgreedSize) weigh(outcomes []stats.Outcome) {
	a.Methods = len(outcomes)
	who, many := counted(a.Judges, "judge"), a.Judges+a.Seats > 1
	if a.Seats > 0 {
		who += " and " + counted(a.Seats, "seat") + " tied to nobody"
	}
	a.Pooled = stats.PoolDPrime(outcomes, doubtConfidence)
	low, high := a.Pooled.Interval.Lower, a.Pooled.Interval.Upper
	a.Doubtful = many && (high < a.Known/doubtFactor || low > a.Known*doubtFactor)
	found := fmt.Sprintf("“%s”: d′ %s is agreed, and %s perceive %s together (%s to %s, 99 %%)",
		a.Label, trim(a.Known, 2), who, trim(a.Pooled.DPrime, 2), trim(low, 2), trim(high, 2))
	switch {
	case !many:
		a.Say = fmt.Sprintf("“%s”: d′ %s is agreed, and one judge alone tasted it.", a.Label, trim(a.Known, 2))
	case a.Doubtful:
		a.Say = found + ". Either the agreed size does not fit this control, or the whole panel is unlike those it was agreed for. " +
			"Until that is settled, whoever is called weak or strong may owe it to the agreed size."
	default:
		a.Say = found + "."
	}
}

// doubt says that the agreed size of a control that a person tasted is in doubt, ""
// where none is.
func (p *pages) doubt(s *sheet) string {
	for _, a := range p.agreed() {
		if !a.Doubtful {
			continue
		}
		for _, t := range s.sat {
			if t.model >= 0 && t.kind == session.KindControl && t.known == a.Known && strings.EqualFold(t.label, a.Label) {
				return a.Say
			}
		}
	}
	return ""
}
