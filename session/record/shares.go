package record

import (
	"slices"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// fewestSharers is from how many judges on their shares are drawn towards each other.
const fewestSharers = 3

// controlKey is the sets of one control by one method.
type controlKey struct {
	method *session.Method
	label  string // in lower case
}

// shares are [pages.controlShares], kept for as long as the fit is.
func (p *pages) shares() map[controlKey]map[session.PersonID]stats.ShrunkenShare {
	f := p.fitted
	f.sharing.Do(func() { f.shares = p.controlShares() })
	return f.shares
}

// controlShares are the shares right in the sets of each control and method, drawn
// towards the panel's by [stats.ShrinkShares]. Seats that are tied to
// nobody are left out, since several may be one person's.
func (p *pages) controlShares() map[controlKey]map[session.PersonID]stats.ShrunkenShare {
	counts := map[controlKey]map[session.PersonID]stats.Replicates{}
	for _, t := range p.tests {
		if t.kind != session.KindControl {
			continue
		}
		k := controlKey{t.method, strings.ToLower(t.label)}
		if counts[k] == nil {
			counts[k] = map[session.PersonID]stats.Replicates{}
		}
		for i, who := range t.who {
			if who.person != "" {
				c := counts[k][who.person]
				counts[k][who.person] = stats.Replicates{N: c.N + t.counts[i].Sets, Correct: c.Correct + t.counts[i].Right}
			}
		}
	}
	all := map[controlKey]map[session.PersonID]stats.ShrunkenShare{}
	for k, by := range counts {
		if len(by) < fewestSharers {
			continue
		}
		var who []session.PersonID
		for id := range by {
			who = append(who, id)
		}
		slices.Sort(who)
		assessors := make([]stats.Replicates, len(who))
		for i, id := range who {
			assessors[i] = by[id]
		}
		shares := stats.ShrinkShares(assessors, k.method.Chance(), Confidence)
		all[k] = map[session.PersonID]stats.ShrunkenShare{}
		for i, id := range who {
			all[k][id] = shares[i]
		}
	}
	return all
}
