package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"oddcup/stats"
)

// cautions are what must be read with the answer.
func (s *State) cautions(r Result) []string {
	var c []string
	add := func(format string, args ...any) { c = append(c, fmt.Sprintf(format, args...)) }
	if s.Demo {
		add("This is a demonstration with simulated tasters. It is invented and never counts.")
	}
	if !r.Seal {
		add("The seal does not hold: plan, layout and seed do not give the digest that was published, or the seed does not give the layout. Treat the result as unproved.")
	}
	if s.Broken != nil {
		add("The seal was broken before the reveal (%s). What was done after that was not blind.", words(s.Broken.Words))
	}
	if s.Plan.Practice {
		add("This was practice: each taster was told at once whether an answer was right. It never counts.")
	}
	if c := s.Plan.Control; c != nil {
		add("These were control sets: the difference was made on purpose (%s). They tell of those who tasted, not of a treatment.", c.Words)
	}
	for _, t := range r.Tests {
		for _, say := range t.cautions() {
			add("Test %d, %s: %s", t.Number, t.Method.Name, say)
		}
		if t.Plan.Blank != "" && t.claims() && t.Plan.WantsDifference() {
			add("Test %d, a blank test of two brews of the %s lot, found a difference. It can only come from brewing or serving, and so can what the other tests found.", t.Number, t.Plan.Blank)
		}
		if !t.Method.Overall && (t.Outcome == Different || t.Outcome == DifferentSmall) {
			add("Who recognises a lot by another cue and expects %s %s of it may name it by inference.", t.Plan.less(), t.Plan.Attribute)
		}
	}
	if similar, more := s.similarityTests(); more {
		add("%d tests were for similarity. The risk β holds for each of them, not for all together.", similar)
	}
	if names := s.sameNames(); names != "" {
		add("%s. Answers of one person are not independent; the tests take them as if they were.", names)
	}
	if reason, yes := s.SingleBlind(); yes {
		add("Single blind: %s Who knows a cup can give it away without meaning to.", strings.ToLower(reason[:1])+reason[1:])
	}
	for _, a := range r.Answers {
		if a.Void != nil {
			add("Seat %d, set %d was taken out (%s).", a.Seat, a.Set, words(a.Void.Reason))
		}
	}
	for _, a := range r.Answers {
		if a.Amend != nil {
			// Which seat's it was stands in the trail: beside the two counts it would
			// tell what that seat answered.
			add("A set of test %d was taken out after the close (%s). The registered result counts it; the amended one beside it does not.%s", a.Test+1, words(a.Amend.Reason), knownWords(a.Amend.Known))
		}
	}
	if seats := onPaper(r.Answers, false); seats != "" {
		add("%s answered on paper, and the host typed it in: the host knew what was picked, and was not shown whether it was right.", seats)
	}
	if seats := onPaper(r.Answers, true); seats != "" {
		add("%s answered on paper, and the host typed it in after the seal was broken: the host knew what was picked, and could know whether it was right.", seats)
	}
	for _, d := range s.Deviations {
		add("Not as planned: %s", d.Say())
	}
	for _, say := range s.unconfirmed() {
		add("%s", say)
	}
	for _, seat := range s.Seats {
		if seat.Left {
			add("Seat %d left before the end.", seat.Number) // why is nobody's business
		}
	}
	if s.SheetOpenings > len(s.Plan.FlightSizes()) { // each flight has its own sheet
		add("The pour sheet was opened %d times with the pourer’s PIN, for %s. By itself that is no fault: the sheet closes after a while, and is opened anew for a replacement.", s.SheetOpenings, counted(len(s.Plan.FlightSizes()), "flight"))
	}
	if s.SheetLooks > 0 {
		add("The pour sheet was seen again without the PIN %s, in the browser where it was open: nothing here shows by whom.", times(s.SheetLooks))
	}
	if s.SheetOpenings == 0 {
		add("The pour sheet was never opened here: the cups can't have been poured from it.")
	}
	return c
}

// unconfirmed name the conditions that nobody had confirmed when a flight's
// tasting began: what was planned is not shown to have been so.
func (s *State) unconfirmed() []string {
	var say []string
	for _, o := range s.Openings {
		open := o.Unconfirmed(s.Plan)
		if len(open) == 0 {
			continue
		}
		var names []string
		for _, c := range open {
			names = append(names, c.Name)
		}
		what := "Not confirmed before the tasting: " + strings.Join(names, ", ") + "."
		if all := len(Checks(s.Plan)); len(open) == all {
			what = fmt.Sprintf("None of the %d conditions was confirmed before the tasting.", all)
		}
		if len(s.Plan.FlightSizes()) > 1 {
			what = fmt.Sprintf("Flight %d: %s", o.Flight, what)
		}
		say = append(say, what)
	}
	return say
}

// knownWords say, to follow a sentence, that an amendment was made by who could
// know whether the answer was right; "" while the key was shut.
func knownWords(known Known) string {
	if known == "" {
		return ""
	}
	return " That was " + known.Words() + "."
}

// onPaper names the seats that answered on paper, before the seal was broken or,
// with known, after it.
func onPaper(answers []SeatAnswer, known bool) string {
	var seats []string
	for _, a := range answers {
		n := fmt.Sprint(a.Seat)
		if a.Answer != nil && a.Answer.Paper && a.Answer.Known == known && !slices.Contains(seats, n) {
			seats = append(seats, n)
		}
	}
	switch len(seats) {
	case 0:
		return ""
	case 1:
		return "Seat " + seats[0]
	}
	return "Seats " + strings.Join(seats[:len(seats)-1], ", ") + " and " + seats[len(seats)-1]
}

// sentence ends words that a person typed.
func sentence(words string) string {
	words = strings.TrimSpace(words)
	if strings.HasSuffix(words, ".") || strings.HasSuffix(words, "!") || strings.HasSuffix(words, "?") {
		return words
	}
	return words + "."
}

// cautions are what must be read with one test.
func (t *TestResult) cautions() []string {
	var c []string
	add := func(format string, args ...any) { c = append(c, fmt.Sprintf(format, args...)) }
	if t.N == 0 {
		return []string{"no answer counts, so nothing can be said."}
	}
	undecided := t.Outcome == Undecided
	if t.Plan.WantsDifference() && !t.Plan.Sequential {
		switch {
		case !t.HasMin:
			add("no result of %s can be significant at %s.", counted(t.N, "answer"), risk(t.Plan.Alpha))
		case t.Power < t.Plan.Power && undecided:
			add("with %s the power at pd %s was %s, below the wanted %s. “Undecided” says little here.",
				counted(t.N, "answer"), percent(t.Plan.Pd), num(t.Power), risk(t.Plan.Power))
		}
	}
	if t.Plan.WantsSimilarity() && !t.Plan.Sequential && t.Replicated == nil {
		advice := stats.AdviceForSimilarity(t.N, t.Method.Chance(), t.Plan.Beta, t.Plan.PdLimit)
		if t.Plan.TwoSided {
			advice = stats.AdviceForSimilarityBothWays(t.N, t.Plan.Beta, t.Plan.PdLimit)
		}
		for _, w := range advice {
			add("%s", w.Say)
		}
	}
	if t.Replicated != nil {
		for _, w := range t.Replicated.Warnings {
			add("%s", w.Say)
		}
	}
	if !t.Plan.TwoSided {
		for _, w := range stats.AdviceForCount(t.N, t.Correct, t.Method.Chance()) {
			add("%s", w.Say)
		}
	}
	if t.Missing > 0 {
		add("%s of the listed seats %s no answer that counts.", counted(t.Missing, "set"), hasHave(t.Missing))
	}
	if t.Spread != nil {
		add("%d sets a seat. The test of difference stands; the intervals take the answers as independent and are too narrow where tasters differ (%s).",
			t.Plan.Sets, spreadWords(*t.Spread))
	}
	if t.Plan.Sequential {
		add("the test could stop early, which makes pd and d′ look larger than they are where it stopped for a difference.")
	}
	return c
}

// spreadWords says how far tasters differ.
func spreadWords(f stats.BetaBinomialFit) string {
	switch f.Overdispersion {
	case stats.OverdispersionUnknown:
		return "these data do not show whether they do"
	case stats.OverdispersionNone:
		return "no sign that they do, γ 0"
	}
	return fmt.Sprintf("their overdispersion γ is estimated at %s, exploratory", num(f.Gamma))
}

// similarityTests counts the tests for similarity; more is true from two on.
func (s *State) similarityTests() (n int, more bool) {
	for _, t := range s.Plan.Tests {
		if t.WantsSimilarity() {
			n++
		}
	}
	return n, n > 1
}

// sameNames says how many names stand for several seats of the lists: of several
// flights, or at one table.
func (s *State) sameNames() string {
	flights, table := 0, 0
	for _, t := range s.SeatedTwice() {
		if t.Name == "" {
			continue
		}
		seated := map[int]bool{} // by flight
		listed := 0
		for _, n := range t.Seats {
			if s.Seats[n-1].Listed {
				flight, _ := s.Plan.FlightOf(n)
				seated[flight], listed = true, listed+1
			}
		}
		switch {
		case len(seated) > 1:
			flights++
		case listed > 1:
			table++
		}
	}
	var say []string
	if flights > 0 {
		say = append(say, counted(flights, "name")+" took a seat in more than one flight")
	}
	if table > 0 {
		say = append(say, counted(table, "name")+" took more than one seat at a table")
	}
	return strings.Join(say, ", and ")
}

func words(t Text) string {
	if t.Words == "" {
		return "reason not there: erased, or taken out of the file"
	}
	return t.Words
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func hasHave(n int) string {
	if n == 1 {
		return "has"
	}
	return "have"
}

// num prints a number of two significant digits at most, as on all pages.
func num(x float64) string {
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return "unbounded"
	case x > 0.99 && x < 1:
		return "over 0.99"
	case x >= 0.1 || x == 0:
		return fmt.Sprintf("%.2f", x)
	case x < 0:
		return fmt.Sprintf("%.2g", x)
	default:
		return significant(x, 2)
	}
}

// percent prints a share as it was typed, to a hundredth of a percent.
func percent(x float64) string {
	return strconv.FormatFloat(math.Round(1e4*x)/100, 'f', -1, 64) + " %"
}

// risk prints a planned risk as it was typed.
func risk(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }
