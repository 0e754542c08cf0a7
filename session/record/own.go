package record

import (
	"fmt"

	"oddcup/session"
	"oddcup/stats"
)

// Own is the record in plain words, for the judge's own eyes: a sentence or a few a
// line, chance beside every count, and no other judge named or compared.
func (j Judge) Own() []string {
	c := j.Counted()
	var say []string
	switch {
	case c.Sets == 0:
		say = append(say, "No set counts in your record yet.")
	case !j.Enough:
		say = append(say, fmt.Sprintf("You were right in %d of %s that count. That is too few to say how well you taste.", c.Right, counted(c.Sets, "set")))
	default:
		say = append(say, fmt.Sprintf("You were right in %d of %s that count. %s", c.Right, counted(c.Sets, "set"), ownStanding(j.Row)))
	}
	for _, g := range j.Groups {
		m, _ := session.MethodByKey(g.Method)
		what := "tests of two lots with a " + g.Label + " difference"
		if g.Kind == session.KindControl {
			what = "control sets (" + g.Label + ")"
		}
		say = append(say, fmt.Sprintf("%s, %s: you were right in %d of %d. Guessing alone is right %s, in about %s of %d.",
			capital(m.Name), what, g.Count.Right, g.Count.Sets, m.Luck, trim(g.Chance*float64(g.Count.Sets), 0), g.Count.Sets))
	}
	for _, l := range j.LeftOut {
		say = append(say, l.Say)
	}
	if j.Guesses.Luck.N > 0 {
		say = append(say, fmt.Sprintf("You called %s a guess and were right in %d of them. Luck alone gives about %s.",
			counted(j.Guesses.Luck.N, "answer"), j.Guesses.Luck.Correct, trim(j.Guesses.Luck.Expected, 0)))
	}
	for _, d := range j.Directions {
		say = append(say, fmt.Sprintf("Asked about %s, you picked the processed lot's cup in %d of %s. Neither is right or wrong there.", d.Attribute, d.Processed, counted(d.Sets, "set")))
	}
	for _, h := range j.Habits {
		if h.PValue <= Level && h.Place != "" {
			say = append(say, fmt.Sprintf("With %s you pick %s more often than the answers explain (%s). The place never tells the answer.", list(h.Methods), h.Place, pValue(h.PValue)))
		}
	}
	for _, s := range j.Series {
		say = append(say, s.Say)
	}
	if j.Drift != nil && j.Drift.Chart.FirstSignal >= 0 {
		say = append(say, "Over time you were right less often than expected. Control sets would show whether that stands; a bad week can do it too.")
	}
	for _, h := range j.Qualifications {
		if h.Latest {
			say = append(say, h.Say)
		}
	}
	if j.Time.N > 0 {
		say = append(say, fmt.Sprintf("You take %s for a set in the median.", j.Time.Median))
	}
	return append(say, "No single test says how well anybody tastes.")
}

func ownStanding(r Row) string {
	expects := fmt.Sprintf("Somebody typical expects %s in the same sets. ", trim(r.Expected, 1))
	switch r.Standing {
	case stats.StandingWeak:
		return expects + "You were right less often than that, beyond luck."
	case stats.StandingStrong:
		return expects + "You were right more often than that, beyond luck."
	}
	return expects + "No clear difference from that was found, which does not show that there is none."
}
