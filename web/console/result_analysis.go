package console

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"oddcup/session"
	"oddcup/stats"
	"oddcup/web/look"
)

// testView is one test of the result.
type testView struct {
	Head     string // "First test, triangle"
	Question string
	Sides    []string // short notes for the margin
	Count    string   // what was counted, as a sentence
	Chance   string   // the p-value of the difference, as a sentence
	Alike    string   // that of similarity
	Verdict  string
	Mark     string        // of the outcome
	Plot     template.HTML // empty where no answer counts
	Facts    []resultFact
	Null     []nullRow
	Of       string // what is counted, for the table
	Looks    []lookRow
	Flights  bool // the looks are of several flights
	LookPlot template.HTML
	Checks   []resultFact // beside what was registered
	Trays    trayTable
}

type resultFact struct{ Name, Value string }

type nullRow struct {
	X     int
	P     string
	Least bool // shows a difference
	Most  bool // shows similarity
	Here  bool // this session
}

// lookRow is a look of a sequential test.
type lookRow struct {
	Flight, Round, N, Correct int
	Lower, Upper              string // the lines there
	Decision                  string
}

var ordinals = []string{"First", "Second", "Third", "Fourth", "Fifth", "Sixth"}

// testOf makes a test's words, numbers and plot. number is its place in the
// registered order, shown what the test before it in that order showed, "" for
// none.
func testOf(t session.TestResult, number int, shown string) testView {
	v := testView{
		Head:  fmt.Sprintf("Test %d, %s", number, t.Method.Name),
		Count: t.Sentence(), Chance: t.PSentence(), Alike: t.SimilarSentence(),
		Verdict: t.Verdict(), Mark: outcomeMark(t.Outcome),
		Question: questionOf(t), Of: countedAs(t),
	}
	switch {
	case t.Plan.Blank != "":
		v.Head = "Blank test, " + t.Method.Name
	case number <= len(ordinals):
		v.Head = ordinals[number-1] + " test, " + t.Method.Name
	}
	v.Sides = sidesOf(t, shown)
	v.Facts = factsOfResult(t)
	if t.N == 0 || t.Plan.Sequential {
		return v
	}
	v.Plot = nullPlot(t, v.Of)
	for x, p := range t.Null {
		v.Null = append(v.Null, nullRow{
			X: x, P: probability(p), Here: x == t.Correct,
			Least: t.HasMin && (x >= t.MinCorrect || t.Plan.TwoSided && x <= t.N-t.MinCorrect),
			Most:  hasMaximum(t) && x <= t.MaxCorrect && x >= t.MinSimilar,
		})
	}
	return v
}

// hasMaximum reports whether similarity is told by the count itself: with
// several sets a seat it is not.
func hasMaximum(t session.TestResult) bool {
	return t.Plan.WantsSimilarity() && t.HasMax && t.Replicated == nil
}

func questionOf(t session.TestResult) string {
	switch {
	case t.Plan.Blank != "":
		return "Could two brews of one lot be told apart?"
	case !t.Method.Overall:
		return t.Method.Ask(t.Plan)
	case t.Plan.Goal == session.GoalSimilarity:
		return "Are they alike within the limit?"
	case t.Plan.Goal == session.GoalBoth:
		return "Can they be told apart, and by how many?"
	}
	return "Can they be told apart at all?"
}

// countedAs names what is counted, for axes and tables.
func countedAs(t session.TestResult) string {
	if t.Plan.Sets > 1 && !t.Method.Overall {
		return "tasters who mostly picked the processed lot"
	}
	return t.Method.CountedAs
}

// sidesOf are the margin's notes: what was fixed before the tasting.
func sidesOf(t session.TestResult, shown string) []string {
	notes := []string{"Goal: " + goalWords(t.Plan.Goal) + "."}
	if t.Plan.WantsDifference() {
		sided := "one-sided"
		if t.Plan.TwoSided {
			sided = "two-sided"
		}
		notes = append(notes, fmt.Sprintf("α %s, %s.", num(t.Plan.Alpha), sided))
	}
	if t.Plan.WantsSimilarity() {
		notes = append(notes, fmt.Sprintf("β %s at a pd limit of %s.", num(t.Plan.Beta), pct(t.Plan.PdLimit)))
	}
	if !t.Method.Overall && !t.Plan.TwoSided {
		less := "less"
		if t.Plan.More {
			less = "more"
		}
		notes = append(notes, "The processed lot was named as the one with "+less+" before sealing.")
	}
	if t.Method.References() > 0 {
		which := "Either lot was the reference equally often."
		if t.Plan.Reference == session.ReferenceConstant {
			which = "The untreated lot was the reference throughout."
		}
		notes = append(notes, which)
	}
	if t.Plan.Sequential {
		notes = append(notes, "Planned to stop early, after whole rounds only.")
	}
	switch {
	case t.Plan.Blank != "":
		notes = append(notes, fmt.Sprintf("Two brews of the %s lot. It stands outside the registered order.", t.Plan.Blank))
	case shown != "" && t.Decided:
		notes = append(notes, "Decided because the test before came out “"+shown+"”.")
	}
	for i := range notes {
		notes[i] = strings.ReplaceAll(notes[i], " %", "\u00a0%")
	}
	return notes
}

func factsOfResult(t session.TestResult) []resultFact {
	facts := []resultFact{{"answers counted", countedWords(t)}}
	if t.Sets != t.N {
		facts = append(facts, resultFact{"tasters counted, by most of their own answers", majorityWords(t)})
	}
	if t.N == 0 {
		return facts
	}
	if t.Plan.WantsDifference() && !t.Plan.Sequential {
		facts = append(facts, differenceFacts(t)...)
	}
	if t.Plan.WantsSimilarity() && !t.Plan.Sequential {
		facts = append(facts, similarityFacts(t)...)
	}
	exploratory := ""
	if t.Exploratory() {
		exploratory = ", exploratory"
	}
	beside := exploratory
	if t.Plan.Goal == session.GoalBoth && !t.Plan.Sequential {
		beside += ", not held against the pd limit"
	}
	return append(facts,
		resultFact{"pd, with " + pct(t.Confidence) + " interval" + beside, pdWords(t)},
		resultFact{"d′, with " + pct(t.Confidence) + " interval" + exploratory, dPrimeWords(t)},
	)
}

func differenceFacts(t session.TestResult) []resultFact {
	minimum, actual := "no count can show a difference", "–"
	if t.HasMin {
		minimum, actual = fmt.Sprintf("%d of %d", t.MinCorrect, t.N), probability(t.ActualAlpha)
		if t.Plan.TwoSided {
			minimum = fmt.Sprintf("%d, or %d or fewer, of %d", t.MinCorrect, t.N-t.MinCorrect, t.N)
		}
	}
	n := countedNoun(t)
	return []resultFact{
		{"minimum correct", minimum},
		{"α planned, and actual with " + n, num(t.Plan.Alpha) + ", " + actual},
		{"power of " + n + " at pd " + num(t.Plan.Pd) + " (wanted " + num(t.Plan.Power) + ")", share(t.Power)},
	}
}

func similarityFacts(t session.TestResult) []resultFact {
	limit := resultFact{
		"largest pd that these answers leave room for, at the one-sided level " + num(1-t.Plan.Beta) + " (limit " + num(t.Plan.PdLimit) + ")",
		pdUpperWords(t),
	}
	if t.Replicated != nil {
		judged := "each taster’s own share, by a beta-binomial model (an approximation)"
		if few := stats.FewestForReplicatedSimilarity; t.Replicated.Assessors < few {
			judged = fmt.Sprintf("nothing: from fewer than %d people with several sets each no conclusion is drawn, and the limit above does not hold its level", few)
		}
		return []resultFact{limit, {"judged from", judged}}
	}
	most, actual, pass := "no count can show similarity", "–", "–"
	if t.HasMax {
		most, actual, pass = fmt.Sprintf("%d of %d", t.MaxCorrect, t.N), probability(t.ActualBeta), share(t.PassAlike)
		if t.Plan.TwoSided {
			most = fmt.Sprintf("%d to %d of %d", t.MinSimilar, t.MaxCorrect, t.N)
		}
	}
	name := "maximum correct for similarity"
	if t.Plan.TwoSided {
		name = "range of similarity"
	}
	n := countedNoun(t)
	return []resultFact{
		{name, most},
		{"β planned, and actual with " + n, num(t.Plan.Beta) + ", " + actual},
		{"chance that identical lots pass with " + n + " (wanted " + num(t.Plan.Power) + ")", pass},
		limit,
	}
}

// countedNoun is the number that is counted, with its noun.
func countedNoun(t session.TestResult) string {
	if t.Sets != t.N {
		return counted(t.N, "taster")
	}
	return counted(t.N, "answer")
}

// countedWords says how many answers count, and why others don't.
func countedWords(t session.TestResult) string {
	planned := t.Seats * t.Plan.Sets
	if t.Plan.Sequential { // those that no round was served for are no gap
		say := fmt.Sprintf("%d, of up to %d", t.Sets, planned)
		if t.Voided > 0 {
			say += fmt.Sprintf(", %s taken out", counted(t.Voided, "tray"))
		}
		return say
	}
	say := fmt.Sprintf("%d of %d", t.Sets, planned)
	if t.Voided > 0 {
		say += fmt.Sprintf(", %s taken out", counted(t.Voided, "tray"))
	}
	if t.Missing > 0 {
		say += fmt.Sprintf(", %s without an answer", counted(t.Missing, "set"))
	}
	return say
}

func majorityWords(t session.TestResult) string {
	say := fmt.Sprintf("%d", t.N)
	if t.Even > 0 {
		say += fmt.Sprintf(", %s left out whose own answers split evenly", counted(t.Even, "taster"))
	}
	return say
}

// probability is a number between 0 and 1 with two significant digits.
func probability(p float64) string {
	if p == 0 {
		return "0"
	}
	return pvalue(p)
}

func nullPlot(t session.TestResult, of string) template.HTML {
	p := look.NullPlot{
		N: t.N, Chance: t.Method.Chance(), PMF: t.Null, Observed: t.Correct, P: t.P, PWords: session.PWords(t.P),
		Title:  "The counts that guessing alone gives, " + t.Method.Name,
		XLabel: fmt.Sprintf("%s, of %d", of, t.N),
	}
	if !t.Plan.WantsDifference() {
		p.P = -1 // a p of difference was not registered and is not computed
	}
	if t.HasMin {
		p.MinCorrect, p.TwoSided = t.MinCorrect, t.Plan.TwoSided
		p.MinimumNote = "chance alone reaches it in " + perThousand(t.ActualAlpha) + " sessions"
		if t.Plan.TwoSided {
			p.MinimumNote = "chance alone reaches one of the two in " + perThousand(t.ActualAlpha) + " sessions"
		}
	}
	if hasMaximum(t) {
		p.Alike, p.AlikeFrom, p.AlikeTo = true, t.MinSimilar, t.MaxCorrect
	}
	return look.NullDistribution(p)
}

// sequentialForecast is what was known beforehand of the plan's sequential
// test, nil without one.
func sequentialForecast(p session.Plan) *session.Forecast {
	if n := len(p.Tests); n == 0 || !p.Tests[n-1].Sequential {
		return nil
	}
	for _, f := range p.Forecast() {
		if f.Risks != nil {
			return &f
		}
	}
	return nil
}

// sequential fills in the looks and what they were decided by.
func (v *testView) sequential(t session.TestResult, flights bool, f *session.Forecast) {
	if f == nil || f.Risks == nil || len(t.Looks) == 0 {
		return
	}
	v.Flights = flights
	at := func(intercept float64, n int) float64 { return intercept + f.Lines.Slope*float64(n) }
	p := look.LinesPlot{
		Max: max(f.Answers, t.N), Slope: f.Lines.Slope, Lower: f.Lines.LowerIntercept, Upper: f.Lines.UpperIntercept,
		Above: "different", Between: "go on", Below: "similar",
		Title: "The looks of the test, and its two lines", XLabel: "answers", YLabel: v.Of,
	}
	if !t.Plan.WantsSimilarity() {
		p.Below = "no difference found"
	}
	for _, l := range t.Looks {
		v.Looks = append(v.Looks, lookRow{
			Flight: l.Flight, Round: l.Round, N: l.N, Correct: l.Correct,
			Lower: fixed(at(f.Lines.LowerIntercept, l.N), 1), Upper: fixed(at(f.Lines.UpperIntercept, l.N), 1),
			Decision: decisionWords(l.Decision, t.Plan),
		})
		p.Looks = append(p.Looks, look.LookPoint{N: l.N, Correct: l.Correct})
	}
	v.LookPlot = look.SequentialLines(p)
	v.Facts = append(v.Facts,
		resultFact{"planned risks: α, and β at pd " + num(t.Plan.Pd), num(t.Plan.Alpha) + ", " + num(t.Plan.Beta)},
		resultFact{fmt.Sprintf("exact risk of “different” for identical lots, with looks after whole rounds up to %s", counted(f.Answers, "answer")), probability(f.Risks.AtP0.Different)},
		resultFact{"exact risk of “" + p.Below + "” at pd " + num(t.Plan.Pd), probability(f.Risks.AtP1.Similar)},
	)
	if last := t.Looks[len(t.Looks)-1]; t.N != last.N || t.Correct != last.Correct {
		v.Facts = append(v.Facts, resultFact{
			"answers at the deciding look, and now", fmt.Sprintf("%d correct of %d; %d of %d, which changes nothing of the decision", last.Correct, last.N, t.Correct, t.N),
		})
	}
}

func decisionWords(d stats.Decision, p session.TestPlan) string {
	switch d {
	case stats.Continue:
		return "go on"
	case stats.Different:
		return "stop: different"
	case stats.Similar:
		if p.WantsSimilarity() {
			return "stop: similar"
		}
		return "stop: no difference found"
	}
	return "undecided at the end"
}

// sideChecks stand beside what was registered: whether places were named
// evenly, and how far tasters differ.
func sideChecks(t session.TestResult, places []int) []resultFact {
	var checks []resultFact
	if c, ok := placesNamed(t, places); ok {
		checks = append(checks, c)
	}
	if t.Spread != nil {
		checks = append(checks, resultFact{"how far tasters differ, γ from 0 (alike) to 1", spreadOf(*t.Spread)})
	}
	return checks
}

// choiceOf tests whether each place that an answer can name was named equally
// often, as it is by people without a favourite place where serving orders are
// in balance. The reference is no answer, and in a tetrad every answer names the
// leftmost cup. ok is false where nothing was named.
func choiceOf(t session.TestResult, places []int) (c stats.PositionChoice, ok bool) {
	skip := firstNamed(t.Method)
	if len(places)-skip < 2 {
		return c, false
	}
	c = stats.UniformChoice(places[skip:])
	return c, c.N > 0
}

// firstNamed is the leftmost place, from 0, that is counted by place.
func firstNamed(m session.Method) int {
	if m.Picks > 1 {
		return 1
	}
	return m.References()
}

func placesNamed(t session.TestResult, places []int) (resultFact, bool) {
	c, ok := choiceOf(t, places)
	if !ok {
		return resultFact{}, false
	}
	name := "cups named, by place on the tray"
	if t.Method.Picks > 1 {
		name = "cups put with the leftmost, by place on the tray"
	}
	var words []string
	for i := firstNamed(t.Method); i < len(places); i++ {
		words = append(words, fmt.Sprintf("%s %d", place(i, len(places)), places[i]))
	}
	how := "exact"
	if c.Method != stats.Exact {
		how = "approximately"
	}
	return resultFact{name, fmt.Sprintf("%s; choices without a favourite place are as uneven in %s sessions (%s, %s)",
		listed(words), perThousandOrAll(c.PValue), session.PWords(c.PValue), how)}, true
}

func perThousandOrAll(p float64) string {
	if p >= 0.9995 {
		return "all such"
	}
	return perThousand(p) + " such"
}

func spreadOf(f stats.BetaBinomialFit) string {
	switch f.Overdispersion {
	case stats.OverdispersionUnknown:
		return "these answers do not show it"
	case stats.OverdispersionNone:
		return "0: no sign that they do"
	}
	say := fixed(f.Gamma, 2)
	if i := f.GammaInterval; !math.IsNaN(i.Lower) && !math.IsNaN(i.Upper) {
		say += fmt.Sprintf(" (%s interval %s to %s)", pct(i.Confidence), fixed(i.Lower, 2), fixed(i.Upper, 2))
	}
	return say + "; that it is 0: " + session.PWords(f.PValue) + ", approximately"
}
