package record

import (
	"fmt"
	"strings"
	"time"

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
		say = append(say, fmt.Sprintf("You were right in %d of %s that count. Guessing alone gives about %s. These are too few sets to say how well you taste.",
			c.Right, counted(c.Sets, "set"), roughly(j.ByGuessing)))
	default:
		if by := j.byMethod(); len(by) > 1 {
			var rights []string
			for _, g := range by {
				m, _ := session.MethodByKey(g.Method)
				rights = append(rights, fmt.Sprintf("%d of %d %s sets", g.Count.Right, g.Count.Sets, m.Short))
			}
			say = append(say, fmt.Sprintf("You were right in %s.", list(rights)))
			for _, g := range by {
				m, _ := session.MethodByKey(g.Method)
				say[0] += fmt.Sprintf(" %s: guessing alone gives about %s, a typical panellist about %s.", capital(m.Short), roughly(g.Chance*float64(g.Count.Sets)), roughly(g.Typical))
			}
		} else {
			say = append(say, fmt.Sprintf("You were right in %d of %s that count. Guessing alone gives about %s, and a typical panellist is right in about %s.",
				c.Right, counted(c.Sets, "set"), roughly(j.ByGuessing), roughly(j.Expected)))
		}
		say = append(say, ownStanding(j.Row)...)
	}
	if j.Doubt != "" {
		say = append(say, j.Doubt)
	}
	for _, g := range j.Groups {
		m, _ := session.MethodByKey(g.Method)
		what := "tests of two lots with a " + g.Label + " difference"
		if g.Kind == session.KindControl {
			what = "control sets (" + g.Label + ")"
		}
		say = append(say, fmt.Sprintf("%s, %s: you were right in %d of %s. Guessing alone is right %s: about %s of %d.",
			capital(m.Name), what, g.Count.Right, counted(g.Count.Sets, "set"), m.Luck, roughly(g.Chance*float64(g.Count.Sets)), g.Count.Sets))
	}
	for _, l := range j.LeftOut {
		say = append(say, l.Say)
	}
	if l := j.Guesses.Luck; l.N == 1 {
		say = append(say, fmt.Sprintf("You called one answer a guess, and it was %s. One tells nothing.", map[bool]string{true: "right", false: "not right"}[l.Correct == 1]))
	} else if l.N > 1 {
		say = append(say, fmt.Sprintf("You called %d answers a guess, and %d of them were right. Luck alone gives about %s (%s).", l.N, l.Correct, roughly(l.Expected), pValue(l.PMore)))
		if l.PMore <= Level {
			say[len(say)-1] += " You may perceive more than you trust in."
		}
	}
	if j.Blanks.Sets > 0 {
		say = append(say, fmt.Sprintf("In %s both brews were of one lot, with nothing to find. You were right in %d; luck alone gives about %s.",
			counted(j.Blanks.Sets, "set"), j.Blanks.Right, roughly(j.Blanks.Luck.Expected)))
	}
	for _, d := range j.Directions {
		say = append(say, fmt.Sprintf("Asked about %s, you picked the processed lot's cup in %d of %s. Neither is right or wrong there.", d.Attribute, d.Processed, counted(d.Sets, "set")))
	}
	for _, h := range j.Habits {
		if h.Found() {
			say = append(say, fmt.Sprintf("In sets by %s you pick %s more often than the answers explain (adjusted %s; without any habit that happens to about 1 judge in 20). The place never tells the answer.",
				list(h.Methods), h.Place, pValue(h.Adjusted)))
		}
	}
	for _, s := range j.Series {
		say = append(say, s.Say)
	}
	if d := j.Drift; d != nil && len(d.Signals) > 0 {
		say = append(say, d.own()...)
	}
	for _, h := range j.Qualifications {
		if h.Latest {
			say = append(say, h.Say)
		}
	}
	for _, b := range j.Shown {
		if len(b.Attempts) > 0 {
			say = append(say, fmt.Sprintf("By the rule “%s” your record has this, on which nobody has decided yet. %s", b.Rule, b.Say))
		}
	}
	if j.Time.N > 0 {
		say = append(say, fmt.Sprintf("Half of your sets took you less than %s from serving to the kept answer. Slow or quick is no merit.", inTime(j.Time.Median)))
	}
	return append(say, "No single test says how well anybody tastes.")
}

// ownStanding tells how the record compares, and what it does not mean.
func ownStanding(r Row) []string {
	const luck = "Where all judges of a panel are typical, in at most 5 of 100 such panels anybody is told this by luck."
	switch r.Standing {
	case stats.StandingWeak:
		return []string{
			fmt.Sprintf("You were right less often than a typical panellist, more so than luck explains (adjusted %s). %s", pValue(r.Adjusted), luck),
			"It says nothing of why. A cold, too little practice with this difference, or tired days do it, and much of it can be trained. " +
				"It tells of these sets alone; ask for control sets, which show how you taste from now on.",
		}
	case stats.StandingStrong:
		return []string{fmt.Sprintf("You were right more often than a typical panellist, more so than luck explains (adjusted %s). %s", pValue(r.Adjusted), luck)}
	}
	return []string{"No clear difference from a typical panellist was found, which does not show that there is none."}
}

// own tells of the signals: of a fall only where later tests went worse than earlier
// ones, since who was never better gets a signal too.
func (d Drift) own() []string {
	say := fmt.Sprintf("The chart of your tests in their order gave %s: there you were right less often than a typical panellist. Nothing in it shows that you were better before.", d.signals())
	if d.FallPValue <= Level {
		say = fmt.Sprintf("Over time you were right less often (%s for a fall from your earlier tests to your later ones; it is looked at only after a signal, so luck shows such a p more often than it says). The chart of your tests gave %s.", pValue(d.FallPValue), d.signals())
	}
	return []string{
		say + fmt.Sprintf(" Of 100 judges who are typical all along, %s get a signal by luck in as many tests. A bad week can do it too; control sets show whether it stays.", ofHundredAlone(d.Chart.FalseAlarm)),
		"The chart begins anew after each signal. " + d.since(),
	}
}

// roughly writes an expected number of sets: whole from ten on.
func roughly(x float64) string {
	if x >= 10 {
		return trim(x, 0)
	}
	return trim(x, 1)
}

// ofHundredAlone is a probability as a number of hundred.
func ofHundredAlone(p float64) string {
	say := strings.TrimSuffix(ofHundred(p), " of 100")
	if p < 0.01 || p > 0.99 {
		return say
	}
	return "about " + say
}

// inTime writes a time in words: "1 min 5 s".
func inTime(d time.Duration) string {
	d = d.Round(time.Second)
	minutes, seconds := int(d/time.Minute), int(d%time.Minute/time.Second)
	switch {
	case minutes == 0:
		return fmt.Sprintf("%d s", seconds)
	case seconds == 0:
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d min %d s", minutes, seconds)
}
