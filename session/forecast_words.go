package session

import (
	"fmt"
	"math"
)

// warn says in plain words where the plan falls short.
func (f *Forecast) warn() {
	add := func(format string, args ...any) { f.Warnings = append(f.Warnings, fmt.Sprintf(format, args...)) }
	wanted := f.Plan.Power
	if f.Risks != nil {
		if p := f.Finds(); p < wanted {
			add("%s at most %s%s short. %s would stop for a difference that %s of people perceive; you want %.0f. Plan more seats or rounds.",
				counted(f.N, "answer"), fall(f.N), byLittle(p, wanted), f.ofSessions(p), percent(f.Plan.Pd), 100*wanted)
		}
	} else if f.Plan.WantsDifference() {
		switch p := f.Finds(); {
		case !f.HasMin:
			add("No result of %s can be significant at α %s. Plan more seats.", counted(f.N, "answer"), risk(f.Plan.Alpha))
		case p < wanted:
			say := f.falls() + byLittle(p, wanted) + fmt.Sprintf(" short. %s would find a difference that %s of people perceive; you want %.0f.",
				f.ofSessions(p), percent(f.Plan.Pd), 100*wanted) + f.wouldDo()
			if p < 0.5 {
				say += " A result that is not significant would say almost nothing."
			} else if p < 0.6 {
				say += " That is hardly better than a coin."
			}
			add("%s", say)
		}
		if f.AtBest > f.Power && f.HasMin {
			add("Power goes by people who perceive the difference in every set or in none, as pd does. If all perceive it equally well, %s of 100 such panels would find it: that is at best.",
				ofHundred(f.AtBest, wanted))
		}
	}
	if f.Plan.WantsSimilarity() && f.Risks == nil {
		switch p := f.Passes(); {
		case !f.HasMax:
			add("No result of %s allows the conclusion that fewer than %s of people perceive a difference, at β %s. Plan more seats.",
				counted(f.N, "answer"), percent(f.Plan.PdLimit), risk(f.Plan.Beta))
		case p < wanted && f.Reached < 1:
			add("%s%s short for similarity. %s would pass lots that are alike in this; you want %.0f.%s", f.falls(), byLittle(p, wanted), f.ofSessions(p), 100*wanted, f.wouldDo())
		case p < wanted:
			add("%s%s short for similarity. Of 100 pairs of identical lots, %s would pass; you want %.0f.%s", f.falls(), byLittle(p, wanted), ofHundred(p, wanted), 100*wanted, f.wouldDo())
		}
		if f.Few() {
			add("Fewer than %d assessors: similarity is not advised.", FewForSimilarity)
		}
	}
	f.Short = len(f.Warnings)
	if f.Plan.WantsSimilarity() && f.Risks == nil && f.Plan.Sets > 1 {
		add("%s", pooledSimilarity)
	}
	if f.Risks != nil {
		if f.Plan.Sets > 1 {
			add("These risks take all answers as independent. How often it finds the difference is what it does at best, if all perceive it equally well; the risk of calling equal lots different holds as it stands.")
		}
		for _, w := range f.Risks.Warnings {
			add("%s", w.Say)
		}
	}
	if f.majorities() && f.Plan.Sets%2 == 0 {
		add("With an even number of pairs a seat some tasters will split evenly and count for nothing, so that fewer are counted than are seated.")
	}
}

// pooledSimilarity holds with several sets a seat. The shares are of simulations,
// 1500 panels each of 12 to 66 people who all guess, with 2 to 6 sets each, chance
// 1/3 and 1/2, β 0.05 and 0.1, limits of 0.2 to 0.5: identical lots passed
// [stats.DecideReplicatedSimilarity] from 0.009 less to 0.046 more often than the
// count of all answers does, exactly.
const pooledSimilarity = "Similarity is decided from each taster’s own share of right answers; these figures count all answers together. Identical lots pass either way about as often: in simulated panels from 1 of 100 less to 5 more. Lots that some people tell apart pass the count of all answers too often, which is why it does not decide."

// ofSessions says of how many panels p is true, or of how many sessions where the
// order may not come to the test.
func (f *Forecast) ofSessions(p float64) string {
	if f.Reached < 1 {
		return fmt.Sprintf("Of 100 such sessions, %.0f come to this test, and %s", 100*f.Reached, ofHundred(p, f.Plan.Power))
	}
	return "Of 100 such panels, " + ofHundred(p, f.Plan.Power)
}

func (f *Forecast) falls() string {
	return counted(f.N, "answer") + " " + fall(f.N)
}

func fall(n int) string {
	if n == 1 {
		return "falls"
	}
	return "fall"
}

// byLittle says that a probability is only a little less than the wanted one.
func byLittle(p, wanted float64) string {
	if p >= wanted-0.05 {
		return " a little"
	}
	return ""
}

func (f *Forecast) wouldDo() string {
	if f.Even == 0 || f.Reached < 1 {
		return "" // what does for this test alone need not do in its place in the order
	}
	n := f.Even
	if !f.majorities() {
		n *= f.Plan.Sets
	}
	if n <= f.N {
		return ""
	}
	return fmt.Sprintf(" %d answers would do, with every serving order equally often.", n)
}

// ofHundred prints a power as a number of a hundred, with a decimal, cut off,
// where the whole number would not show that it is below the wanted one.
func ofHundred(power, wanted float64) string {
	if power >= wanted || math.Round(100*power) < math.Round(100*wanted) {
		return fmt.Sprintf("%.0f", 100*power)
	}
	return fmt.Sprintf("%.1f", math.Floor(1000*power)/10)
}
