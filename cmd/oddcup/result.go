package main

import (
	"fmt"
	"io"
	"slices"

	"oddcup/session"
	"oddcup/stats"
)

// resultCommand analyses a count of a test, or a file of ballots.
//
// # A count
//
// With --method, --n and --correct. With --json it prints, by the glossary's
// names: method, goal, sided, n, correct, chance, alpha, pValue (exact),
// minCorrect (null where no count of n reaches alpha), outcome (different,
// different but small, similar or undecided), pc, pd and dPrime (each estimate,
// lower, upper, confidence; null where unbounded), and warnings (kind, say);
// where similarity is a goal also beta, pdLimit, similarPValue, minSimilar (of a
// two-sided test), maxCorrect (null where no count shows similarity),
// actualBeta, identicalPass (the probability that identical lots pass) and
// pdUpper (one-sided, at 1 − beta). What the goal leaves out is null. Intervals
// are exact (Clopper and Pearson, carried through), two-sided, at 1 − 2α beside
// a one-sided test (1 − 2β where only similarity is tested) and 1 − α beside a
// two-sided one unless --confidence names another level. In a
// one-sided test the limits of pd are cut at 0 and its estimate is not: it is below 0
// where fewer were right than guessing gives, and the text then says so and prints 0.
//
// # A file
//
// FILE.csv has a row for each set of each seat, in any order, below a row of
// column names, in any order; cells are separated by commas, semicolons or tabs,
// and a line such as sep=; may stand above. A number may be typed as text, as
// '380 or ="380, with decimals that are 0, or a code with spaces. Cells in quotes may
// go on over several lines:
//
//	seat     number of the seat
//	set      number of the set, counted for each seat through all tests, as in
//	         the layout. Where each seat has one set it may be left out
//	pick     code of the cup that was picked, with --key
//	also     in a tetrad the code of the cup that goes with it
//	correct  1 or 0 (yes or no): without a key, instead of pick; beside a key it
//	         must agree with it
//	guess    1 or 0, may be left out: the taster called it a guess. It counts
//	         like any other answer
//	void     may be left out: why the set was taken out. Such a row counts for
//	         nothing, and pick may be empty
//
// With --key the plan in the key registered the tests, their order, goals and
// risks. Without it the file holds one test, which the flags describe; its
// largest set number is the number of sets for each seat. A seat with no row is
// taken as one that nobody came for.
//
// A row that can't be read, a code that is not on the tray, or a set with two
// answers makes the whole file fail, each such row named by its line, unless
// --skip-bad leaves them out.
//
// With --json it prints file, digest (null without a key), readFirst (sentences to
// be read before the answer), answer (a sentence), counted (sets), takenOut,
// replaced, guessed, leftOut (line, seat and set or 0, reason), leftOutSeats (with
// wrong rows and no other), missingSeats (without a row), missingSets (seat, set),
// unusedColumns, noSetColumn (every row is set 1), cautions (sentences) and
// tests, each with number, method, goal, sided, sets (for each seat), seats,
// n, correct, even (assessors whose sets split evenly: where assessors are
// counted), missing, chance, and what a count has from alpha on, with power (of
// n answers at the planned pd), decided, and sentences. In a test of several
// sets that is to show similarity, pdUpper comes from each taster's sets and
// decides: similarPValue and maxCorrect are null.
type resultCommand struct {
	File       string `arg:"" optional:"" help:"Ballots as CSV, with the columns seat, set and pick (with --key) or correct. See README." placeholder:"FILE.csv"`
	testFlags  `embed:""`
	N          *int     `name:"n" help:"Number of answers; for similarity, and for an attribute, each of another person." placeholder:"N"`
	Correct    *int     `help:"Number of correct ones." placeholder:"X"`
	Confidence *float64 `help:"Level of a count's intervals. Default: 1 - 2α, two-sided 1 - α." placeholder:"LEVEL"`
	Key        string   `help:"Serving key of the ballots, as oddcup layout wrote it." placeholder:"KEY.json"`
	SkipBad    bool     `help:"Leave wrong rows of the file out."`
	JSON       bool     `help:"Print JSON."`
}

type estimateOut struct {
	Estimate   *float64 `json:"estimate"`
	Lower      *float64 `json:"lower"`
	Upper      *float64 `json:"upper"`
	Confidence float64  `json:"confidence"`
}

type resultOut struct {
	Method  string  `json:"method"`
	Goal    string  `json:"goal"`
	Sided   string  `json:"sided"`
	N       int     `json:"n"`
	Correct int     `json:"correct"`
	Chance  float64 `json:"chance"`
	decision
	Warnings []warningOut `json:"warnings"`
}

// decision is what the analysis of a test says, from alpha on.
type decision struct {
	Alpha         *float64    `json:"alpha"`
	PValue        *float64    `json:"pValue"`
	MinCorrect    *int        `json:"minCorrect"`
	Beta          *float64    `json:"beta"`
	PdLimit       *float64    `json:"pdLimit"`
	SimilarPValue *float64    `json:"similarPValue"`
	MinSimilar    *int        `json:"minSimilar"`
	MaxCorrect    *int        `json:"maxCorrect"`
	ActualBeta    *float64    `json:"actualBeta"`
	IdenticalPass *float64    `json:"identicalPass"`
	PdUpper       *float64    `json:"pdUpper"`
	Outcome       string      `json:"outcome"`
	Pc            estimateOut `json:"pc"`
	Pd            estimateOut `json:"pd"`
	DPrime        estimateOut `json:"dPrime"`
}

// mostAnswers bounds what one count can hold.
const mostAnswers = 1_000_000

// Run implements the command.
func (c *resultCommand) Run(to streams) error {
	if c.File != "" {
		return c.runFile(to)
	}
	switch {
	case c.Key != "" || c.SkipBad:
		return usage("--key and --skip-bad are for a file of ballots, and none is named", "name it: oddcup result FILE.csv")
	case c.Method == "":
		return usage("neither a file of ballots nor a count was given", "name a file, or give --method, --n and --correct")
	}
	_, sided, err := methodOf(c.Method, c.TwoSided)
	switch {
	case err != nil:
		return err
	case c.N == nil || c.Correct == nil:
		return usage("a count needs both --n and --correct", "give the number of answers and how many of them were correct")
	case *c.N < 1 || *c.N > mostAnswers:
		return usage(fmt.Sprintf("--n %d is outside 1 to %d", *c.N, mostAnswers), "give the number of answers that count")
	case *c.Correct < 0 || *c.Correct > *c.N:
		return usage(fmt.Sprintf("--correct %d is not a count of %d answers", *c.Correct, *c.N), fmt.Sprintf("give a number from 0 to %d", *c.N))
	}
	plan, err := c.testPlan(1)
	if err != nil {
		return err
	}
	if c.Confidence != nil {
		if err := inside("confidence", *c.Confidence, 0, 1); err != nil {
			return err
		}
	}
	t := session.Analyse(plan, []stats.Replicates{{N: *c.N, Correct: *c.Correct}})
	if c.Confidence != nil {
		estimateAt(&t, *c.Confidence)
	}
	out := resultOut{
		Method: c.Method, Goal: plan.Goal, Sided: string(sided), N: t.N, Correct: t.Correct, Chance: t.Method.Chance(),
		decision: decisionOf(t), Warnings: warningsOut(adviceFor(t)),
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	tellCount(to.out, t, out)
	return nil
}

// testPlan is the test that the flags describe, with figures in range.
func (c *resultCommand) testPlan(sets int) (session.TestPlan, error) {
	t, err := c.plan(sets)
	if err != nil {
		return t, err
	}
	for _, f := range []struct {
		flag string
		x    *float64
		high float64
	}{
		{"alpha", c.Alpha, 0.5}, {"beta", c.Beta, 0.5}, {"pd", c.Pd, 1}, {"pd-limit", c.PdLimit, 1}, {"power", c.Power, 1},
	} {
		if f.x != nil {
			if err := inside(f.flag, *f.x, 0, f.high); err != nil {
				return t, err
			}
		}
	}
	if t.Goal != session.GoalDifference && t.Goal != session.GoalSimilarity && t.Goal != session.GoalBoth {
		return t, usage(fmt.Sprintf("--goal %q is not known", t.Goal), "use difference, similarity or both")
	}
	if m, ok := session.MethodByKey(t.Method); ok {
		return t, goalOf(t.Goal, m, t.TwoSided)
	}
	return t, nil
}

// estimateAt computes the intervals of a count at another level.
func estimateAt(t *session.TestResult, confidence float64) {
	t.Confidence = confidence
	if t.Plan.TwoSided {
		e := stats.EstimateBothWays(t.Correct, t.N, confidence)
		t.PdInterval, t.DPrimeInterval = e.PdInterval, e.DPrimeInterval
		return
	}
	t.PdInterval = stats.PdInterval(t.Correct, t.N, t.Method.Chance(), confidence)
	t.DPrimeInterval = t.Method.Curve.DPrimeInterval(t.Correct, t.N, confidence)
}

// decisionOf is a test's analysis with nothing in it that its goal leaves out.
func decisionOf(t session.TestResult) decision {
	d := decision{Outcome: string(t.Outcome)}
	if t.N > 0 {
		pc := float64(t.Correct) / float64(t.N)
		i := stats.ClopperPearson(t.Correct, t.N, t.Confidence)
		d.Pc = estimateOut{&pc, finite(i.Lower), finite(i.Upper), t.Confidence}
		d.Pd = estimateOut{finite(t.Pd), finite(t.PdInterval.Lower), finite(t.PdInterval.Upper), t.Confidence}
		d.DPrime = estimateOut{finite(t.DPrime), finite(t.DPrimeInterval.Lower), finite(t.DPrimeInterval.Upper), t.Confidence}
	}
	if t.Plan.WantsDifference() {
		d.Alpha, d.PValue = &t.Plan.Alpha, &t.P
		if t.HasMin {
			d.MinCorrect = &t.MinCorrect
		}
	}
	if !t.Plan.WantsSimilarity() {
		return d
	}
	d.Beta, d.PdLimit = &t.Plan.Beta, &t.Plan.PdLimit
	if t.N == 0 {
		return d
	}
	d.PdUpper = finite(t.PdUpper)
	if t.Replicated != nil {
		return d // it has no p and no maximum
	}
	d.SimilarPValue = finite(t.SimilarP)
	d.ActualBeta, d.IdenticalPass = &t.ActualBeta, &t.PassAlike
	if t.HasMax {
		d.MaxCorrect = &t.MaxCorrect
		if t.Plan.TwoSided {
			d.MinSimilar = &t.MinSimilar
		}
	}
	return d
}

// adviceFor is what a count of so many answers can't show.
func adviceFor(t session.TestResult) []stats.Warning {
	var all []stats.Warning
	chance, p := t.Method.Chance(), t.Plan
	if p.WantsDifference() {
		all = append(all, stats.AdviceForDifference(t.N, chance, p.Alpha, sidedOf(p))...)
	}
	if p.WantsSimilarity() {
		if p.TwoSided {
			all = append(all, stats.AdviceForSimilarityBothWays(t.N, p.Beta, p.PdLimit)...)
		} else {
			all = append(all, stats.AdviceForSimilarity(t.N, chance, p.Beta, p.PdLimit)...)
		}
	}
	if !p.TwoSided {
		all = append(all, stats.AdviceForCount(t.N, t.Correct, chance)...)
	}
	return all
}

func sidedOf(p session.TestPlan) stats.Sided {
	if p.TwoSided {
		return stats.TwoSided
	}
	return stats.OneSided
}

// signed explains the estimates of a two-sided test.
const signed = "Both have a sign: above 0 more picked the processed lot as the question asks, below 0 the untreated one."

// ofPeople stands beside a count that several sets a taster would spoil: sets of
// one person make no people (ISO 10399, a note), and one may lean one way steadily.
const ofPeople = "Each answer must come from another person: several sets of one taster are not so many people. For those give a file of ballots."

// sizeOfPeople is for a difference over all: the test itself holds for several sets
// a taster as well (ISO 10399, a note).
const sizeOfPeople = "pd, d′ and their intervals take each answer from another person; with several sets a taster they are too narrow."

// ofTheKey reports whether a warning doubts the serving key.
func ofTheKey(w warningOut) bool { return w.Kind == string(stats.FarBelowChance) }

func tellCount(w io.Writer, t session.TestResult, out resultOut) {
	fmt.Fprintf(w, "%d of %d correct by %s (%s); guessing alone gives %.3g on average.\n", out.Correct, out.N, t.Method.Name, out.Sided, float64(out.N)*out.Chance)
	for _, x := range out.Warnings {
		if ofTheKey(x) { // before any conclusion
			fmt.Fprintf(w, "Read this first: %s\n", x.Say)
		}
	}
	if t.Plan.WantsDifference() {
		fmt.Fprintf(w, "If nobody could taste a difference, a count like this or clearer has probability %s.\n", session.PWords(t.P))
	}
	if t.Plan.WantsSimilarity() {
		fmt.Fprintln(w, t.SimilarSentence())
		fmt.Fprintln(w, t.LimitSentence())
	}
	switch {
	case t.Plan.Goal != session.GoalDifference:
		fmt.Fprintln(w, t.Verdict())
	case out.MinCorrect == nil:
		fmt.Fprintf(w, "Undecided: no count of %d can be significant at α %v.\n", out.N, t.Plan.Alpha)
	case t.Outcome == session.Different && t.Plan.TwoSided && 2*t.Correct < t.N:
		fmt.Fprintf(w, "Different: %d of %d point the other way, and the minimum for either side at α %v is %d.\n", t.N-t.Correct, t.N, t.Plan.Alpha, *out.MinCorrect)
	case t.Outcome == session.Different:
		fmt.Fprintf(w, "Different: the minimum at α %v is %d.\n", t.Plan.Alpha, *out.MinCorrect)
	default:
		fmt.Fprintf(w, "Undecided: the minimum at α %v is %d. That is no sign that the products are the same.\n", t.Plan.Alpha, *out.MinCorrect)
	}
	fmt.Fprintf(w, "pd, share who perceive it: %s\nd′, size of the difference: %s\n", t.PdWords(), t.DPrimeWords())
	if t.Plan.TwoSided {
		fmt.Fprintln(w, signed)
	}
	if t.Plan.WantsSimilarity() || !t.Method.Overall {
		fmt.Fprintln(w, ofPeople)
	} else {
		fmt.Fprintln(w, sizeOfPeople)
	}
	printWarnings(w, slices.DeleteFunc(slices.Clone(out.Warnings), ofTheKey))
}
