package console

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/stats"
	"oddcup/web/look"
)

// resultRoutes are the pages after the tasting, and the audit trail.
func (c *Console) resultRoutes(r chi.Router) {
	r.Get("/s/{id}/reveal", c.page(c.showReveal))
	r.Post("/s/{id}/reveal", c.page(c.press("result", func(*http.Request) (session.Act, error) { return session.Reveal{}, nil })))
	r.Get("/s/{id}/result", c.page(c.showResult))
	r.Get("/s/{id}/result.csv", c.page(c.resultCSV))
	r.Get("/s/{id}/result.json", c.page(c.resultJSON))
	r.Get("/s/{id}/trail", c.page(c.showTrail))
}

// revealView is the page between the close and the reveal.
type revealView struct {
	ID       session.ID
	Title    string
	Phase    session.Phase
	Answer   string
	Sub      string
	Closed   time.Time
	Digest   session.Hash
	ClosedAt session.Hash
	Entries  int    // before the close
	Counts   string // what was answered
	Next     navItem
	Go       string
}

func revealOf(s *session.State) revealView {
	v := revealView{
		ID: s.ID, Title: head(s).Title, Phase: s.Phase, Closed: s.Times[session.PhaseClosed],
		Digest: s.Digest, ClosedAt: s.ClosedAt, Next: nextPage(s),
	}
	v.Answer, v.Sub = whyNotRevealed(s)
	switch s.Phase {
	case session.PhaseClosed:
		for _, step := range s.Trail {
			if _, ok := step.Event.(*session.Closed); ok {
				v.Entries = int(step.Seq) - 1
			}
		}
		v.Counts = answeredWords(s)
	case session.PhaseRevealed:
		v.Go = sessionPath(s, "result")
	}
	return v
}

// answeredWords says how much was answered, the same under every key.
func answeredWords(s *session.State) string {
	listed, kept := s.Listed(), 0
	for _, n := range listed {
		kept += s.Seats[n-1].Answered()
	}
	return fmt.Sprintf("%d of %s answered.", kept, setsAre(len(listed)*s.Plan.SetsPerSeat()))
}

func setsAre(n int) string { return counted(n, "set") + " " + areIs(n) }

// whyNotRevealed says how things stand before there is a result.
func whyNotRevealed(s *session.State) (answer, sub string) {
	switch s.Phase {
	case session.PhaseNone, session.PhaseDrafted:
		return "There is no result: the plan is not sealed yet.", "A result needs a sealed plan, a tasting and its close."
	case session.PhaseSealed:
		return "There is no result: nobody has tasted yet.", "The key is sealed. It opens after the tasting is closed."
	case session.PhaseOpen:
		return "There is no result yet: the tasting is not closed.", "The key stays sealed until then, so that nobody at the table can be led by it."
	case session.PhaseClosed:
		return "The tasting is closed. The key is still sealed.", "Nothing can be answered or taken out any more. Write the hash below on paper, then reveal."
	case session.PhaseAbandoned:
		return "There is no result: the session was abandoned.", "Its reason stands in the trail. The key stays sealed."
	}
	return "The key is open.", ""
}

func (c *Console) showReveal(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	if s.Phase == session.PhaseRevealed {
		return seeOther(w, r, sessionPath(s, "result"))
	}
	p := Page{Title: "Reveal", Nav: "result", Session: head(s), Body: revealOf(s)}
	if s.Phase == session.PhaseClosed {
		p.Live = liveAddress(s, "reveal", false, 0)
	}
	return c.render(w, "reveal.html", p)
}

// resultView is the result as its template shows it, and prints it as a report.
type resultView struct {
	ID       session.ID
	Title    string
	Demo     bool
	Answer   string
	Outcome  string // of the first test: a mark's name, and its word
	Sub      string
	Revealed time.Time
	Tests    []testView
	Sizes    sizeView
	Cautions []string
	Seal     bool
	Digest   session.Hash
	Sealed   time.Time
	ClosedAt session.Hash
	Entries  int
	Releases []releaseLine
}

type releaseLine struct{ Lot, By, Report string }

// testView is one test of the result.
type testView struct {
	Head     string // "First test, triangle"
	Question string
	Sides    []string // short notes for the margin
	Count    string   // what was counted, as a sentence
	Chance   string   // its p-value, as a sentence
	Verdict  string
	Outcome  string
	Plot     template.HTML // empty where no answer counts
	Facts    []fact
	Null     []nullRow
	Of       string // what is counted, for the table
	Trays    trayTable
}

type fact struct{ Name, Value string }

type nullRow struct {
	X     int
	P     string
	Least bool // from the minimum correct up
	Here  bool // this session
}

// trayTable is every tray of one test with its key.
type trayTable struct {
	Name    string
	Counted string // head of the column: "odd cup"
	Sets    bool   // more than one set a seat
	Rows    []trayRow
}

type trayRow struct {
	Seat, Set    int
	Again        bool
	Codes        []session.Code
	Counted      session.Code
	Picked       session.Code // 0 for no answer
	Mark, Result string
	Own          string
}

func (c *Console) showResult(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	switch s.Phase {
	case session.PhaseRevealed:
	case session.PhaseClosed:
		return seeOther(w, r, sessionPath(s, "reveal"))
	default:
		return c.renderAs(w, http.StatusForbidden, "reveal.html", Page{Title: "Result", Nav: "result", Session: head(s), Body: revealOf(s)})
	}
	v, err := resultOf(s)
	if err != nil {
		return err
	}
	return c.render(w, "result.html", Page{Title: "Result", Nav: "result", Session: head(s), Body: v})
}

func resultOf(s *session.State) (*resultView, error) {
	res, err := s.Compute()
	if err != nil {
		return nil, err
	}
	v := &resultView{
		ID: s.ID, Title: head(s).Title, Demo: s.Demo, Answer: res.Answer(), Outcome: string(session.Undecided),
		Revealed: s.Times[session.PhaseRevealed], Cautions: res.Cautions, Seal: res.Seal,
		Digest: s.Digest, Sealed: s.Times[session.PhaseSealed], ClosedAt: s.ClosedAt, Entries: len(s.Trail),
	}
	v.Sub = fmt.Sprintf("Lot %s, against lot %s. Registered analysis, %s.", s.Plan.Untreated.Words(), s.Plan.Processed.Words(), inOrder(len(res.Tests)))
	if len(res.Tests) > 0 {
		v.Outcome = string(res.Tests[0].Outcome)
	}
	for i, t := range res.Tests {
		tv := testOf(t)
		tv.Trays = traysOf(i, t, res.Answers)
		v.Tests = append(v.Tests, tv)
	}
	v.Sizes = sizesOf(res.Tests)
	for _, r := range s.Releases {
		lot := s.Plan.Untreated
		if r.Lot == s.Plan.Processed.ID {
			lot = s.Plan.Processed
		}
		v.Releases = append(v.Releases, releaseLine{lot.Words(), typedWords(r.By), r.Report})
	}
	return v, nil
}

func inOrder(tests int) string {
	switch tests {
	case 1:
		return "one test"
	case 2:
		return "both tests in the registered order"
	}
	return fmt.Sprintf("all %d tests in the registered order", tests)
}

var ordinals = []string{"First", "Second", "Third", "Fourth", "Fifth", "Sixth"}

// testOf makes a test's words, numbers and plot.
func testOf(t session.TestResult) testView {
	v := testView{
		Head: fmt.Sprintf("Test %d, %s", t.Number, t.Method.Name), Count: t.Sentence(), Chance: t.PSentence(),
		Verdict: t.Verdict(), Outcome: string(t.Outcome),
		Question: "Can they be told apart at all?", Of: "odd cup found",
	}
	if t.Number <= len(ordinals) {
		v.Head = ordinals[t.Number-1] + " test, " + t.Method.Name
	}
	if !t.Method.Overall {
		v.Question, v.Of = fmt.Sprintf("Which cup has less %s?", t.Plan.Attribute), "processed lot picked"
	}
	v.Sides = sidesOf(t)
	v.Facts = factsOf(t)
	if t.N == 0 {
		return v
	}
	v.Plot = nullPlot(t, v.Of)
	for x, p := range t.Null {
		shows := t.HasMin && (x >= t.MinCorrect || t.Plan.TwoSided && x <= t.N-t.MinCorrect)
		v.Null = append(v.Null, nullRow{x, probability(p), shows, x == t.Correct})
	}
	return v
}

// sidesOf are the margin's notes: what was fixed before the tasting.
func sidesOf(t session.TestResult) []string {
	sided := "one-sided"
	if t.Plan.TwoSided {
		sided = "two-sided"
	}
	notes := []string{fmt.Sprintf("α %s, %s.", num(t.Plan.Alpha), sided)}
	if !t.Method.Overall && !t.Plan.TwoSided {
		notes = append(notes, "The processed lot was named as the one with less before sealing.")
	}
	if t.Number > 1 && t.Decided {
		notes = append(notes, "Decided because the test before was significant.")
	}
	return notes
}

func factsOf(t session.TestResult) []fact {
	minimum := "no count can show a difference"
	actual := "–"
	if t.HasMin {
		minimum, actual = fmt.Sprintf("%d of %d", t.MinCorrect, t.N), probability(t.ActualAlpha)
		if t.Plan.TwoSided {
			minimum = fmt.Sprintf("%d, or %d or fewer, of %d", t.MinCorrect, t.N-t.MinCorrect, t.N)
		}
	}
	facts := []fact{{"answers counted", countedWords(t)}}
	if t.N == 0 {
		return facts
	}
	return append(facts,
		fact{"minimum correct", minimum},
		fact{"α planned, and actual with " + counted(t.N, "answer"), num(t.Plan.Alpha) + ", " + actual},
		fact{"power of " + counted(t.N, "answer") + " at pd " + num(t.Plan.Pd) + " (wanted " + num(t.Plan.Power) + ")", share(t.Power)},
		fact{"pd, with " + pct(t.Confidence) + " interval", pdWords(t)},
		fact{"d′, with " + pct(t.Confidence) + " interval", dPrimeWords(t)},
	)
}

// countedWords says how many answers count, and why others don't.
func countedWords(t session.TestResult) string {
	say := fmt.Sprintf("%d of %d", t.N, t.Seats*t.Plan.Sets)
	if t.Voided > 0 {
		say += fmt.Sprintf(", %s taken out", counted(t.Voided, "tray"))
	}
	if t.Missing > 0 {
		say += fmt.Sprintf(", %s without an answer", counted(t.Missing, "set"))
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
		N: t.N, Chance: t.Method.Chance(), PMF: t.Null, Observed: t.Correct, P: t.P,
		Title:  "The counts that guessing alone gives, " + t.Method.Name,
		XLabel: fmt.Sprintf("%s, of %d", of, t.N),
	}
	if t.HasMin {
		p.MinCorrect, p.TwoSided = t.MinCorrect, t.Plan.TwoSided
		p.MinimumNote = "chance alone reaches it in " + perThousand(t.ActualAlpha) + " sessions"
		if t.Plan.TwoSided {
			p.MinimumNote = "chance alone reaches one of the two in " + perThousand(t.ActualAlpha) + " sessions"
		}
	}
	return look.NullDistribution(p)
}

// sizeView is how large the difference looks, test by test.
type sizeView struct {
	Pd, DPrime template.HTML
	Level      string // of the intervals, in a sentence for the margin
	Note       string
}

func sizesOf(tests []session.TestResult) sizeView {
	var v sizeView
	pd := look.EstimatePlot{
		Min: -0.2, Max: 1, AxisLabel: "pd, the count corrected for guessing", Chance: new(float64),
		Title: "Share who perceive the difference",
	}
	dp := look.EstimatePlot{
		Min: 0, Max: 3, AxisLabel: "d′, in units of one taster’s own noise; the one scale on which methods meet",
		Title: "Size of the difference, d′",
	}
	var levels []string
	for _, t := range tests {
		name := nameOf(t.Plan)
		level := pct(t.Confidence) + " interval"
		levels = append(levels, pct(t.Confidence))
		if t.N == 0 {
			none := look.Estimate{Label: name, Sub: "no answer counts", Value: math.NaN(), Words: "no estimate"}
			pd.Rows, dp.Rows = append(pd.Rows, none), append(dp.Rows, none)
			continue
		}
		pd.Rows = append(pd.Rows, look.Estimate{
			Label: name, Sub: "pd, " + level, Value: t.Pd, Lower: t.PdInterval.Lower, Upper: t.PdInterval.Upper,
			LowerCut: !lowerLimit(t.PdInterval, t.Plan.TwoSided), Words: pdWords(t),
		})
		least := t.Pd
		if t.Plan.TwoSided {
			least = min(least, t.PdInterval.Lower)
		}
		for pd.Min > least {
			pd.Min -= 0.2
		}
		dp.Rows = append(dp.Rows, look.Estimate{
			Label: name, Sub: "d′, " + level, Value: t.DPrime, Lower: t.DPrimeInterval.Lower, Upper: t.DPrimeInterval.Upper,
			LowerCut: !lowerLimit(t.DPrimeInterval, t.Plan.TwoSided), UpperCut: math.IsInf(t.DPrimeInterval.Upper, 1), Words: dPrimeWords(t),
		})
		for _, x := range []float64{t.DPrime, t.DPrimeInterval.Lower, t.DPrimeInterval.Upper} {
			if !math.IsInf(x, 0) && !math.IsNaN(x) {
				dp.Max = max(dp.Max, math.Ceil(x))
				if t.Plan.TwoSided {
					dp.Min = min(dp.Min, math.Floor(x))
				}
			}
		}
		if t.Plan.TwoSided && 2*t.Correct < t.N {
			v.Note = fmt.Sprintf("%s: fewer than half picked the processed lot, so counted that way both figures lie at or below guessing.", capital(name))
		}
	}
	v.Level = "Dots with " + listed(unique(levels)) + " intervals. One-sided tests at α go with 1 − 2α, so that interval and p never disagree."
	pd.Desc, dp.Desc = sizeDesc(pd), sizeDesc(dp)
	v.Pd, v.DPrime = look.Estimates(pd), look.Estimates(dp)
	return v
}

func sizeDesc(p look.EstimatePlot) string {
	var rows []string
	for _, r := range p.Rows {
		rows = append(rows, r.Label+": "+r.Words)
	}
	return strings.Join(rows, "; ") + "."
}

func unique(words []string) []string {
	var all []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w], all = true, append(all, w)
		}
	}
	return all
}

func pdWords(t session.TestResult) string {
	return intervalWords(t.Pd, t.PdInterval, t.Plan.TwoSided)
}

func dPrimeWords(t session.TestResult) string {
	return intervalWords(t.DPrime, t.DPrimeInterval, t.Plan.TwoSided)
}

// lowerLimit reports whether an interval's lower end is a limit. A one-sided
// test's scale ends at 0; a two-sided one's has a sign and goes on.
func lowerLimit(i stats.Interval, twoSided bool) bool {
	return i.Lower > 0 || twoSided && !math.IsInf(i.Lower, -1)
}

// intervalWords is an estimate with its interval; an end at the scale's bound
// is no limit and is not given as one.
func intervalWords(x float64, i stats.Interval, twoSided bool) string {
	value := fixed(x, 2)
	if math.IsInf(x, 0) || math.IsNaN(x) {
		value = "unbounded"
	}
	low, high := lowerLimit(i, twoSided), !math.IsInf(i.Upper, 1)
	switch {
	case low && high:
		return fmt.Sprintf("%s (%s to %s)", value, fixed(i.Lower, 2), fixed(i.Upper, 2))
	case high:
		return fmt.Sprintf("%s (at most %s)", value, fixed(i.Upper, 2))
	case low:
		return fmt.Sprintf("%s (at least %s)", value, fixed(i.Lower, 2))
	}
	return value + " (no limit)"
}

// traysOf are the trays of one test with what was on them.
func traysOf(test int, t session.TestResult, answers []session.SeatAnswer) trayTable {
	table := trayTable{Name: capital(nameOf(t.Plan)), Counted: "odd cup", Sets: t.Plan.Sets > 1}
	if !t.Method.Overall {
		table.Counted = "processed lot"
	}
	for _, a := range answers {
		if a.Test != test {
			continue
		}
		row := trayRow{Seat: a.Seat, Set: a.Set, Again: a.Take > 0, Codes: a.Codes, Counted: a.Counted}
		if a.Answer != nil {
			row.Picked = a.Answer.Pick
			row.Own = "no mark"
			if a.Answer.Guess {
				row.Own = "a guess"
			}
		}
		row.Mark, row.Result = trayResult(a, t.Method.Overall)
		table.Rows = append(table.Rows, row)
	}
	return table
}

func trayResult(a session.SeatAnswer, overall bool) (mark, words string) {
	switch {
	case a.Void != nil:
		return "void", "taken out: " + typedWords(a.Void.Reason)
	case a.Answer == nil:
		return "empty", "no answer"
	case a.Correct && overall:
		return "done", "odd cup found"
	case overall:
		return "notdone", "not found"
	case a.Correct:
		return "done", "processed lot"
	}
	return "notdone", "untreated lot"
}
