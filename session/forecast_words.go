package session

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"oddcup/stats"
)

// warn says in plain words where the plan falls short.
func (f *Forecast) warn() {
	add := func(format string, args ...any) { f.Warnings = append(f.Warnings, fmt.Sprintf(format, args...)) }
	wanted := f.Plan.Power
	if f.Risks != nil {
		if p := f.Finds(); p == 0 && f.BarWords() != "" {
			add("%s", f.BarWords())
		} else if p < wanted {
			add("%s at most %s%s short. %s would stop for a difference that %s of people perceive; you want %.0f. Plan more seats or rounds.",
				counted(f.N, f.Counts()), fall(f.N), byLittle(p, wanted), f.ofSessions(p, f.Reached), percent(f.Plan.Pd), 100*wanted)
		}
	} else if f.Plan.WantsDifference() {
		switch p := f.Finds(); {
		case f.HasMin && p == 0 && f.BarWords() != "":
			add("%s", f.BarWords())
		case !f.HasMin:
			add("No result of %s can be significant at α %s. Plan more seats.", counted(f.N, f.Counts()), risk(f.Plan.Alpha))
		case p < wanted:
			say := f.falls() + byLittle(p, wanted) + fmt.Sprintf(" short. %s would find a difference that %s of people perceive; you want %.0f.",
				f.ofSessions(p, f.Reached), percent(f.Plan.Pd), 100*wanted) + f.wouldDo(f.Reached)
			if p < 0.5 {
				say += " A result that is not significant would say almost nothing."
			} else if p < 0.6 {
				say += " That is hardly better than a coin."
			}
			add("%s", say)
		}
		if f.AtBest > f.Power && f.HasMin {
			add("Power goes by people who perceive the difference in every set or in none, as pd does. If all perceive it equally well, %s of 100 such panels would find it.",
				ofHundred(f.AtBest, wanted))
		}
	}
	if p := f.Passes(); f.Plan.WantsSimilarity() && f.Risks != nil && p < wanted {
		add("%s at most %s%s short for similarity. Of 100 pairs of identical lots, %s would end as similar; you want %.0f.",
			counted(f.N, f.Counts()), fall(f.N), byLittle(p, wanted), ofHundred(p, wanted), 100*wanted)
	}
	if f.Plan.WantsSimilarity() && f.Risks == nil {
		about := ""
		if f.Plan.Sets > 1 {
			about = "about "
		}
		switch p := f.Passes(); {
		case !f.HasMax:
			add("%s", f.NoConclusion())
		case p == 0 && f.BarWords() != "":
			if !slices.Contains(f.Warnings, f.BarWords()) {
				add("%s", f.BarWords())
			}
		case p < wanted && f.ReachedAlike < 1:
			add("%s%s short for similarity. %s would pass lots that are alike in this; you want %.0f.%s",
				f.falls(), byLittle(p, wanted), f.ofSessions(p, f.ReachedAlike), 100*wanted, f.wouldDo(f.ReachedAlike))
		case p < wanted:
			add("%s%s short for similarity. Of 100 pairs of identical lots, %s%s would pass; you want %.0f.%s",
				f.falls(), byLittle(p, wanted), about, ofHundred(p, wanted), 100*wanted, f.wouldDo(1))
		}
		if f.Few() && (f.HasMax || f.Plan.Sets == 1) {
			add("Fewer than %d assessors: similarity is not advised.", FewForSimilarity)
		}
	}
	if f.against() {
		add("%s", f.OrderAdvice())
	}
	f.Short = len(f.Warnings)
	if f.Plan.WantsSimilarity() && f.Risks == nil && f.Plan.Sets > 1 && f.HasMax {
		add("%s", similarFromSets)
	}
	if f.Risks != nil {
		if f.BestEnd != nil {
			add("How often it stops for a difference goes by people who perceive it in every set or in none, as pd does. If all perceive it equally well, %s of 100 such panels would.",
				ofHundred(f.BestEnd.Different, wanted))
		}
		for _, w := range f.Risks.Warnings {
			if w.Kind == stats.SequentialBeta && !f.Plan.WantsSimilarity() {
				add("The risk of ending a difference that %s of people perceive as “no difference found” is %.3g, above the planned β %s.",
					percent(f.Plan.Pd), f.Risks.AtP1.Similar, risk(f.Plan.Beta))
				continue
			}
			add("%s", w.Say)
		}
	}
	if f.majorities() && f.Plan.Sets%2 == 0 {
		add("With an even number of pairs a seat some tasters will split evenly and count for nothing, so that fewer are counted than are seated.")
	}
}

// similarFromSets holds with several sets a seat: see passByPeople for how near
// its estimate comes.
const similarFromSets = "Similarity is decided from each taster’s own share of right answers, so no count of all answers is a maximum for it. How often identical lots pass is estimated: for 12 to 66 people it was off by up to 13 of 100."

// NoConclusion says why the test can't show similarity, and what it takes; "" where
// it can.
func (f *Forecast) NoConclusion() string {
	t := f.Plan
	switch {
	case f.HasMax || !t.WantsSimilarity():
		return ""
	case t.Sets > 1 && f.People == 0:
		return fmt.Sprintf("From %d sets each the conclusion that fewer than %s of people perceive a difference, at β %s, takes more than %d people: no plan takes so many. Set a larger limit.",
			t.Sets, percent(t.PdLimit), risk(t.Beta), mostSeats)
	case t.Sets > 1 && f.Answers/t.Sets < stats.FewestForReplicatedSimilarity:
		return fmt.Sprintf("Similarity is not concluded from fewer than %d people, however many sets each gets: of so few, hardly any may by chance be of those who perceive a difference. This test takes %d people; %d or more are advised.",
			stats.FewestForReplicatedSimilarity, f.People, max(FewForSimilarity, f.People))
	case t.Sets > 1:
		return fmt.Sprintf("Even guesses of %d people would leave open that %s of people or more perceive a difference, at β %s: it takes %d people, and %d or more are advised.",
			f.Answers/t.Sets, percent(t.PdLimit), risk(t.Beta), f.People, max(FewForSimilarity, f.People))
	}
	say := fmt.Sprintf("No result of %s allows the conclusion that fewer than %s of people perceive a difference, at β %s", counted(f.N, f.Counts()), percent(t.PdLimit), risk(t.Beta))
	most, _ := stats.MaxCorrect(f.N, f.Method.Chance(), t.Beta, t.PdLimit)
	switch {
	case most < 0:
		return say + ": not even none right would. Plan more seats."
	case t.TwoSided:
		return say + fmt.Sprintf(": either lot could be picked %d times at most, and one always is picked more often. Plan more seats.", most)
	}
	source := "ISO 4120"
	if f.Method.Key != Triangle.Key {
		source += " for the triangle, and here by the same reasoning"
	}
	return say + fmt.Sprintf(": it takes at most %d right, and that is below the %s that guessing gives. Fewer right answers than guesses give are no sign of alike lots (%s). Plan more seats.",
		most, meanCount(float64(f.N)*f.Method.Chance()), source)
}

// meanCount prints a mean count with one decimal where it has any.
func meanCount(x float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0")
}

// OrderWords says, after the number of sessions that come to a later test, what
// must come before it where the lots differ, or are alike, as it supposes.
func (f *Forecast) OrderWords(alike bool) string {
	o := f.Order
	switch {
	case !alike && o.Against:
		return fmt.Sprintf("since lots that differ so reach the limit of %s and pass as similar by error only", testsOf(o.AsAlike))
	case !alike && len(o.AsAlike) > 0 && o.atMost:
		return fmt.Sprintf("at most, since lots that differ so must first pass as similar in %s, and all together they may differ by more", testsOf(o.AsAlike))
	case !alike && len(o.AsAlike) > 0:
		return fmt.Sprintf("since lots that differ so must first pass as similar in %s", testsOf(o.AsAlike)) + o.larger(", and ", "they have")
	case !alike && len(o.Larger) > 0:
		return o.larger("since ", "such lots have")
	case !alike && len(o.Smaller) > 0:
		return "as those before it find a difference in such lots"
	case !alike:
		return "as those before it show what they look for"
	case len(o.AsDifferent) > 0:
		return fmt.Sprintf("since lots that are alike are called different in %s by error only", testsOf(o.AsDifferent))
	case o.ElsewhereAgainst:
		return "since lots that differ in something else must first pass as similar, by error"
	case o.Elsewhere:
		return "as those before it show that the lots differ in something else"
	}
	return "as lots that are alike pass those before it"
}

// larger names the tests that look for a larger difference; "" where none does.
func (o Order) larger(before, than string) string {
	if len(o.Larger) == 0 {
		return ""
	}
	look := "looks"
	if len(o.Larger) > 1 {
		look = "look"
	}
	return fmt.Sprintf("%s%s %s for a larger difference than %s", before, testsOf(o.Larger), look, than)
}

// OrderAdvice says what to do where the order stands against a test; "" elsewhere.
func (f *Forecast) OrderAdvice() string {
	if !f.against() {
		return ""
	}
	return "No number of seats mends that: ask for the difference and for similarity in one test, with the goal “both”, or turn to two sessions."
}

func testsOf(numbers []int) string {
	if len(numbers) == 1 {
		return fmt.Sprintf("test %d", numbers[0])
	}
	var all []string
	for _, n := range numbers {
		all = append(all, fmt.Sprint(n))
	}
	return "tests " + strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}

// ofSessions says of how many panels p is true, or of how many sessions where the
// order may not come to the test.
func (f *Forecast) ofSessions(p, reached float64) string {
	if reached < 1 {
		come := fmt.Sprintf("%.0f", 100*reached)
		if reached < 0.01 {
			come = "fewer than 1"
		}
		return fmt.Sprintf("Of 100 such sessions, %s come to this test, and %s", come, ofHundred(p, f.Plan.Power))
	}
	return "Of 100 such panels, " + ofHundred(p, f.Plan.Power)
}

func (f *Forecast) falls() string {
	return counted(f.N, f.Counts()) + " " + fall(f.N)
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

func (f *Forecast) wouldDo(reached float64) string {
	if f.Even == 0 || reached < 1 {
		return "" // what does for this test alone need not do in its place in the order
	}
	n := f.Even
	if !f.majorities() {
		n *= f.Plan.Sets
	}
	if n <= f.N {
		return ""
	}
	return fmt.Sprintf(" %s would do, with every serving order equally often.", counted(n, f.Counts()))
}

// ofHundred prints a power as a number of a hundred, with a decimal, cut off,
// where the whole number would not show that it is below the wanted one, and
// never a false 100.
func ofHundred(power, wanted float64) string {
	if power > 0.99 && math.Round(100*power) > 99 {
		return "more than 99"
	}
	if power >= wanted || math.Round(100*power) < math.Round(100*wanted) {
		return fmt.Sprintf("%.0f", 100*power)
	}
	return fmt.Sprintf("%.1f", math.Floor(1000*power)/10)
}
