package session

import (
	"fmt"
	"slices"
	"strings"
)

// PaperTests says of which records a judge's record makes several tests, though their
// day, method and control are one: those that differ in source, or in the known size
// of the difference. Judges are compared within one test alone. Told is only what at
// least one of the records is about; those that the register has are looked at too.
func (l *Lab) PaperTests(records []PaperRecord) []string {
	type tasting struct{ date, method, control string }
	type group struct {
		sources []string
		sizes   []float64
		control string
		fresh   bool
	}
	groups, order := map[tasting]*group{}, []tasting(nil)
	take := func(p PaperRecord, fresh bool) {
		if p.Kind != KindControl {
			return
		}
		k := tasting{p.Date, p.Method, foldName(p.Control)}
		g := groups[k]
		if g == nil {
			g = &group{control: p.Control}
			groups[k], order = g, append(order, k)
		}
		g.fresh = g.fresh || fresh
		if !slices.Contains(g.sources, p.Source) {
			g.sources = append(g.sources, p.Source)
		}
		if !slices.Contains(g.sizes, p.DPrime) {
			g.sizes = append(g.sizes, p.DPrime)
		}
	}
	for _, p := range l.Papers {
		take(p, false)
	}
	for _, p := range records {
		take(p, true)
	}
	var say []string
	for _, k := range order {
		g := groups[k]
		var differ []string
		if n := len(g.sources); n > 1 {
			first := g.sources[:min(n, mostSourcesTold)]
			words := fmt.Sprintf("%d sources (“%s”", n, strings.Join(first, "”, “"))
			if n > len(first) {
				words += ", …"
			}
			differ = append(differ, words+")")
		}
		if n := len(g.sizes); n > 1 {
			differ = append(differ, fmt.Sprintf("%d values of dprime", n))
		}
		if !g.fresh || len(differ) == 0 {
			continue
		}
		m, _ := MethodByKey(k.method)
		say = append(say, fmt.Sprintf("%s, %s, “%s” has %s, and so is several tests. Where it was one tasting, write one source and one dprime in all its rows.",
			k.date, m.Name, g.control, strings.Join(differ, " and ")))
	}
	return say
}

// mostSourcesTold are named of one tasting.
const mostSourcesTold = 4
