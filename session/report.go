package session

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"
)

// TestReport is the test report of a revealed session: what a reader needs who
// was not there. It asks what the report clause of ISO 4120 asks, objective,
// result and conclusion, and what is recommended beside them (from memory). The
// page and the file show the same parts in the same order.
//
// Tasters are seat numbers in it, and nothing tells what a seat answered. What
// nobody recorded stands there as [NotRecorded].
type TestReport struct {
	Laboratory string // "" where the register has no name
	Session    ID
	Title      string
	Demo       bool
	Practice   bool
	Digest     Hash
	Sealed     time.Time
	Revealed   time.Time
	Issued     time.Time // set by who issues it, in the zone of the report; zero: not said
	Broken     string    // that, when and why the seal was broken early; "" where it held

	Goal   string   // that was registered for the first test of the two lots
	Answer string   // what the session showed, in a few sentences
	Lots   []string // the two that the answer is about: their role, number and treatment
	Marks  []string // what has to be read with the answer before anything else

	Tests []TestResult // for the plots: those of the first parts, in their order
	Parts []ReportPart
}

// ReportPart is a part of a test report under one heading.
type ReportPart struct {
	Key    string // "test-1", "samples": names the part in addresses
	Title  string
	Note   string // what has to be known of the whole part; may be empty
	Test   int    // number of the test that the part is about, from 1; 0 for none
	Items  []ReportItem
	Tables []ReportTable
}

// Split gives what stands before a test's plot, objective, result and conclusion,
// and what stands after it.
func (p ReportPart) Split() (before, after []ReportItem) {
	n := min(3, len(p.Items))
	if p.Test == 0 {
		n = len(p.Items)
	}
	return p.Items[:n], p.Items[n:]
}

// Plotted reports whether a part has the plot of its test's count against
// guessing alone: where an answer counts, a whole count decides, and there is a
// verdict.
func (r TestReport) Plotted(p ReportPart) (TestResult, bool) {
	if p.Test < 1 || p.Test > len(r.Tests) || r.Practice {
		return TestResult{}, false
	}
	t := r.Tests[p.Test-1]
	return t, t.N > 0 && !t.Plan.Sequential
}

// ReportItem is one thing of a part, by its name.
type ReportItem struct {
	Name        string
	Says        []string // a sentence or paragraph each; none: it was not recorded
	Exploratory bool     // not registered: nothing is decided by it
}

// NotRecorded stands for what nobody recorded.
const NotRecorded = "not recorded"

// Words are what the item says, never nothing.
func (i ReportItem) Words() []string {
	if len(i.Says) == 0 {
		return []string{NotRecorded}
	}
	return i.Says
}

// ReportTable is a table of a part. Each row has a cell for each head.
type ReportTable struct {
	Caption string
	Heads   []string
	Rows    [][]string
}

// ReportSources are what a test report is made of beside its session.
type ReportSources struct {
	Laboratory string
	Checked    Report        // of the session's journal
	Pair       []PairSession // the other sessions on the same pair of lots, the newest first
	Zone       *time.Location

	// Lab is the register as it stands, for who had which seat; nil where nobody
	// knows.
	Lab *Lab
}

// NewTestReport makes the test report of a session. Before the reveal the error
// is [ErrSealed], and for good where the session was abandoned. Practice has a
// report without a verdict.
func NewTestReport(s *State, from ReportSources) (TestReport, error) {
	res, err := s.Compute()
	if err != nil {
		return TestReport{}, fmt.Errorf("session %s: %w", s.ID, err)
	}
	w := reporter{s: s, res: res, from: from, flights: flightsHeld(s)}
	title := s.Plan.Title
	if title == "" {
		title = "Session without a title"
	}
	r := TestReport{
		Laboratory: from.Laboratory, Session: s.ID, Title: title, Demo: s.Demo, Practice: s.Plan.Practice,
		Digest: s.Digest, Sealed: s.Times[PhaseSealed], Revealed: s.Times[PhaseRevealed],
		Answer: res.Answer(), Lots: w.lots(), Marks: w.marks(), Tests: res.Tests,
	}
	if s.Broken != nil {
		r.Broken = w.broken()
	}
	if first, _, _ := res.split(); first != nil {
		r.Goal = first.Plan.goalWords()
	}
	for i := range res.Tests {
		r.Parts = append(r.Parts, w.test(i))
	}
	r.Parts = append(r.Parts, w.cautions(), w.pair(), w.samples(), w.panel(), w.instructions(), w.environment(),
		w.roles(), w.conditions(), w.departures(), w.exploratory(), w.proof(), w.limits())
	return r, nil
}

// TestReport makes the test report of a session that is kept here, with times in
// a zone; see [NewTestReport].
func (r *Rooms) TestReport(ctx context.Context, id ID, zone *time.Location) (TestReport, error) {
	room, err := r.Session(ctx, id)
	if err != nil {
		return TestReport{}, err
	}
	s := room.State()
	if s.Phase != PhaseRevealed {
		return TestReport{}, fmt.Errorf("session %s: %w", id, ErrSealed)
	}
	pair, err := r.samePair(ctx, s)
	if err != nil {
		return TestReport{}, err
	}
	entries, texts, err := r.journal.Load(ctx, id)
	if err != nil {
		return TestReport{}, fmt.Errorf("%w: %w", ErrJournal, err)
	}
	return NewTestReport(s, ReportSources{
		Laboratory: r.lab.State().Name, Checked: Verify(id, entries, texts, Paper{}), Pair: pair, Zone: zone, Lab: r.lab.State(),
	})
}

// reporter writes the parts of one session's test report.
type reporter struct {
	s       *State
	res     Result
	from    ReportSources
	flights []heldFlight
}

// item adds what was said to a part; empty words were not recorded.
func (p *ReportPart) item(name string, says ...string) *ReportItem {
	says = slices.DeleteFunc(says, func(w string) bool { return strings.TrimSpace(w) == "" })
	p.Items = append(p.Items, ReportItem{Name: name, Says: says})
	return &p.Items[len(p.Items)-1]
}

// typed adds words that a person typed.
func (p *ReportPart) typed(name, words string) {
	if words = strings.TrimSpace(words); words != "" {
		words = sentence(capitalFirst(words))
	}
	p.item(name, words)
}

func (w *reporter) clock(t time.Time) string { return t.In(w.from.Zone).Format("15:04") }

func (w *reporter) day(t time.Time) string { return t.In(w.from.Zone).Format("Monday, 2 January 2006") }

func (w *reporter) when(t time.Time) string {
	return t.In(w.from.Zone).Format("2 January 2006, 15:04")
}

// broken says that the seal was broken early.
func (w *reporter) broken() string {
	b := w.s.Broken
	return fmt.Sprintf("The seal was broken before the reveal, on %s: %s", w.when(b.At), sentence(words(b.Words)))
}

// lots name the lots that the answer speaks of.
func (w *reporter) lots() []string {
	a, b := w.s.Plan.Untreated, w.s.Plan.Processed
	second := "Processed lot: "
	if w.s.Plan.Control != nil {
		second = "Lot of the control sets: " // it may be the same one, changed on purpose
	}
	return []string{"Untreated lot: " + a.Words() + ".", second + b.Words() + "."}
}

// marks are what no reader may miss.
func (w *reporter) marks() []string {
	var m []string
	if w.s.Demo {
		m = append(m, "This is a demonstration with simulated tasters. It is invented and never counts.")
	}
	if w.s.Plan.Practice {
		m = append(m, "This was practice: each taster was told at once whether an answer was right. It never counts, so there is no verdict.")
	}
	if w.s.Broken != nil {
		m = append(m, w.broken()+" What was done after that was not blind.")
	}
	if !w.res.Seal {
		m = append(m, "The seal does not hold: treat the result as unproved.")
	}
	if !w.from.Checked.OK() {
		m = append(m, "The journal does not stand up to a check: "+sentence(w.from.Checked.Words()))
	}
	if reason, yes := w.s.SingleBlind(); yes {
		m = append(m, "Single blind: "+reason)
	}
	if n := len(w.amendments()); n > 0 {
		m = append(m, fmt.Sprintf("%s taken out after the close. The registered result comes first and stands; the amended one is beside it.",
			setsWere(n)))
	}
	return m
}

func setsWere(n int) string {
	if n == 1 {
		return "1 set was"
	}
	return fmt.Sprintf("%d sets were", n)
}

// capitalFirst begins with a capital letter, in any alphabet.
func capitalFirst(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// goalWords are the registered goal in words.
func (t TestPlan) goalWords() string {
	if t.Goal == GoalBoth {
		return "difference and similarity"
	}
	return t.Goal
}

// heldFlight is a flight as it was held.
type heldFlight struct {
	Number        int
	Seats         []int // poured for
	Opened, Ended time.Time
	Rounds        []heldRound
	Again         []heldAgain
}

type heldRound struct {
	At   time.Time
	CupC float64
	Why  *Text // given where no cup was measured, or one outside the plan
}

// heldAgain is a replacement that waited for its temperature.
type heldAgain struct {
	heldRound
	Seat, Set int
}

// flightsHeld reads from the trail when each flight was tasting.
func flightsHeld(s *State) []heldFlight {
	all := make([]heldFlight, len(s.Plan.FlightSizes()))
	for i := range all {
		all[i].Number = i + 1
	}
	for i := range s.Seats {
		if flight, _ := s.Plan.FlightOf(i + 1); s.Seats[i].Listed && flight > 0 {
			all[flight-1].Seats = append(all[flight-1].Seats, i+1)
		}
	}
	at := &all[0]
	for _, step := range s.Trail {
		switch e := step.Event.(type) {
		case *Opened:
			at.Opened = step.At
		case *RoundServed:
			at.Rounds = append(at.Rounds, heldRound{At: step.At, CupC: e.CupC})
		case *DeviationNoted:
			if e.Round > 0 && e.Round <= len(at.Rounds) {
				at.Rounds[e.Round-1].Why = &e.Words
			}
		case *ReplacementServed:
			at.Again = append(at.Again, heldAgain{heldRound{step.At, e.CupC, e.Reason}, e.Seat, e.Set})
		case *FlightEnded:
			at.Ended = step.At
			if e.Flight < len(all) {
				at = &all[e.Flight]
			}
		case *Closed:
			if !at.Opened.IsZero() {
				at.Ended = step.At
			}
		}
	}
	return all
}

func (w *reporter) severalFlights() bool { return len(w.flights) > 1 }

// seatsInOrder names seats, runs of three or more drawn together.
func seatsInOrder(seats []int) string {
	var words []string
	for i := 0; i < len(seats); {
		j := i
		for j+1 < len(seats) && seats[j+1] == seats[j]+1 {
			j++
		}
		if j-i >= 2 {
			words = append(words, fmt.Sprintf("%d to %d", seats[i], seats[j]))
		} else {
			for k := i; k <= j; k++ {
				words = append(words, fmt.Sprint(seats[k]))
			}
		}
		i = j + 1
	}
	switch {
	case len(seats) == 0:
		return "none"
	case len(seats) == 1:
		return "seat " + words[0]
	case len(words) == 1:
		return "seats " + words[0]
	}
	return "seats " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
