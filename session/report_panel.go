package session

import (
	"fmt"
	"strings"
)

// experience counts the assessors by their standing on the register, as it is
// when the report is made; nothing names anybody. It is empty where no seat is
// tied to a person.
func (w *reporter) experience() []string {
	people, untied := w.tied()
	if len(people) == 0 {
		return nil
	}
	of := map[Status]int{}
	for _, p := range people {
		of[p.Status]++
	}
	var say []string
	for i := len(Statuses) - 1; i >= 0; i-- {
		if s := Statuses[i]; s != StatusResting && of[s] > 0 {
			say = append(say, fmt.Sprintf("%d %s", of[s], s))
		}
	}
	if n := of[StatusResting]; n > 0 {
		say = append(say, fmt.Sprintf("%d resting, their standing before that %s", n, NotRecorded))
	}
	if untied > 0 {
		say = append(say, fmt.Sprintf("%d not tied to a person of the register", untied))
	}
	return []string{strings.Join(say, ", ") + ".", "By the laboratory’s register, as it stands when this report is made."}
}

// training counts the assessors who held the rules of the register when the
// tasting began; empty where no seat is tied to a person, or no rule is known.
func (w *reporter) training() []string {
	people, untied := w.tied()
	if len(people) == 0 || len(w.from.Lab.Rules) == 0 {
		return nil
	}
	held := map[PersonID]map[string]bool{}
	for _, q := range w.from.Lab.Latest() {
		if q.Holds(w.s.Times[PhaseOpen]) {
			if held[q.Person] == nil {
				held[q.Person] = map[string]bool{}
			}
			held[q.Person][foldName(q.Rule)] = true
		}
	}
	var say []string
	for _, r := range w.from.Lab.Rules {
		n := 0
		for _, p := range people {
			if held[p.ID][foldName(r.Name)] {
				n++
			}
		}
		if n > 0 {
			say = append(say, fmt.Sprintf("%d of %d held the rule “%s” when the tasting began.", n, len(people), r.Name))
		}
	}
	if len(say) == 0 {
		say = append(say, fmt.Sprintf("None of %d held a rule of the register when the tasting began.", len(people)))
	}
	if untied > 0 {
		say = append(say, fmt.Sprintf("Of %d more nobody has said who they were.", untied))
	}
	return say
}

// tied are the people who had the listed seats, one for each seat that is tied,
// and the number of those that are not.
func (w *reporter) tied() (people []Person, untied int) {
	for _, n := range w.s.Listed() {
		p, ok := Person{}, false
		if w.from.Lab != nil {
			p, ok = w.from.Lab.PersonOf(w.s.ID, n)
		}
		if ok {
			people = append(people, p)
		} else {
			untied++
		}
	}
	return people, untied
}
