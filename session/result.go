package session

import (
	"fmt"
	"math"

	"oddcup/stats"
)

// Outcome is what a test's registered analysis says.
type Outcome string

// The outcomes of a difference test. Undecided never reads as "the same".
const (
	Different Outcome = "different"
	Undecided Outcome = "undecided"
)

// TestResult is a test's registered result: counts, exact p, and how large the
// difference looks.
type TestResult struct {
	Plan   TestPlan
	Method Method
	Number int // of the test, from 1

	Seats   int // on the list
	N       int // answers counted
	Correct int // among them
	Voided  int // trays taken out
	Missing int // sets of listed seats with no answer that counts

	P           float64   // exact; 1 where N is 0
	MinCorrect  int       // smallest count that shows a difference at α
	HasMin      bool      // false: no count of N answers can
	ActualAlpha float64   // probability of reaching MinCorrect by guessing
	Power       float64   // of N answers at the planned pd
	Null        []float64 // probability of 0 to N correct by guessing alone

	// Estimates, with intervals at Confidence, two-sided: 1 − 2α beside a
	// one-sided test and 1 − α beside a two-sided one, so that interval and p
	// never disagree. Pd is guess-corrected and may be negative; its interval
	// is cut at 0. DPrime is 0 at or below chance, and unbounded above where
	// every answer is correct. In a two-sided test both have a sign and nothing
	// is cut. They hold for independent answers.
	Confidence     float64
	Pd             float64
	PdInterval     stats.Interval
	DPrime         float64
	DPrimeInterval stats.Interval

	// Decided is false where the registered order stops before this test: then
	// the count stands, and no conclusion may be drawn from it.
	Decided bool
	Outcome Outcome
}

// Result is what a session shows, computed from the open key.
type Result struct {
	Tests    []TestResult
	Answers  []SeatAnswer
	Cautions []string
	Seal     bool // the digest fits plan, layout and seed
}

// SeatAnswer is one tray of one seat with its key.
type SeatAnswer struct {
	Seat, Set, Take int
	Test            int
	Codes           []Code
	Order           string
	Counted         Code // the odd cup; in an attribute test the processed lot's
	Answer          *Answer
	Void            *Voiding
	Correct         bool
}

// Compute gives the registered result. The key must be open: before the reveal
// the error is ErrSealed.
func (s *State) Compute() (Result, error) {
	if s.Phase != PhaseRevealed {
		return Result{}, ErrSealed
	}
	return s.compute(), nil
}

func (s *State) reveal() *Revealed {
	r := s.compute()
	e := &Revealed{SealHolds: r.Seal}
	for _, t := range r.Tests {
		e.Tests = append(e.Tests, Revealing{t.Method.Key, t.N, t.Correct, t.P, t.Decided, t.Outcome})
	}
	return e
}

func (s *State) compute() Result {
	var r Result
	d, err := sealDigest(s.sealed.Plan, s.sealed.Layout, Seed(s.sealed.Seed), s.sealed.Salt)
	r.Seal = err == nil && d == s.sealed.Digest
	r.Answers = s.seatAnswers()
	open := true // the registered order has not stopped
	for i, p := range s.Plan.Tests {
		t := s.testResult(i, p, r.Answers)
		t.Decided = open
		if !open || !t.significant() {
			t.Outcome, open = Undecided, false
		} else {
			t.Outcome = Different
		}
		r.Tests = append(r.Tests, t)
	}
	r.Cautions = s.cautions(r)
	return r
}

// AnswersOf gives one seat's trays with their key; ErrSealed before the reveal.
func (s *State) AnswersOf(seat int) ([]SeatAnswer, error) {
	if s.Phase != PhaseRevealed {
		return nil, ErrSealed
	}
	if s.seat(seat) == nil {
		return nil, fmt.Errorf("seat %d: %w", seat, ErrNoSeat)
	}
	return s.answersOf(seat - 1), nil
}

func (s *State) seatAnswers() []SeatAnswer {
	var all []SeatAnswer
	for i := range s.Seats {
		if s.Seats[i].Listed {
			all = append(all, s.answersOf(i)...)
		}
	}
	return all
}

func (s *State) answersOf(i int) []SeatAnswer {
	var all []SeatAnswer
	seat := &s.Seats[i]
	for _, set := range seat.Sets {
		dealt := s.sealed.Layout.Seats[i][set.Number-1]
		m, _ := MethodByKey(s.Plan.Tests[set.Test].Method)
		for _, take := range set.Takes {
			a := SeatAnswer{
				Seat: seat.Number, Set: set.Number, Take: take.Number, Test: set.Test,
				Codes: dealt.Takes[take.Number], Order: dealt.Order,
				Answer: take.Answer, Void: take.Void,
			}
			a.Counted = a.Codes[m.Counted(dealt.Order)]
			a.Correct = a.Answer != nil && a.Answer.Pick == a.Counted
			all = append(all, a)
		}
	}
	return all
}

func (s *State) testResult(i int, p TestPlan, answers []SeatAnswer) TestResult {
	m, _ := MethodByKey(p.Method)
	t := TestResult{Plan: p, Method: m, Number: i + 1}
	for _, seat := range s.Seats {
		if seat.Listed {
			t.Seats++
		}
	}
	for _, a := range answers {
		switch {
		case a.Test != i:
		case a.Void != nil:
			t.Voided++
		case a.Answer != nil:
			t.N++
			if a.Correct {
				t.Correct++
			}
		}
	}
	t.Missing = t.Seats*p.Sets - t.N
	t.analyse()
	return t
}

// analyse fills in all that follows from the counts.
func (t *TestResult) analyse() {
	chance := t.Method.Chance()
	t.P, t.Confidence = 1, 1-2*t.Plan.Alpha
	if t.Plan.TwoSided {
		t.Confidence = 1 - t.Plan.Alpha
	}
	if t.N == 0 {
		return
	}
	t.P = pValue(t.N, t.Correct, t.Plan, t.Method)
	t.MinCorrect, t.HasMin = minCorrect(t.N, t.Plan, t.Method)
	if t.HasMin {
		t.ActualAlpha = pValue(t.N, t.MinCorrect, t.Plan, t.Method)
	}
	t.Power = powerOf(t.N, t.Plan, t.Method, t.Plan.Pd)
	for x := 0; x <= t.N; x++ {
		t.Null = append(t.Null, stats.PMF(t.N, x, chance))
	}
	pc := float64(t.Correct) / float64(t.N)
	t.Pd = stats.PdFromPc(pc, chance)
	if t.Plan.TwoSided {
		e := stats.EstimateBothWays(t.Correct, t.N, t.Confidence)
		t.Pd, t.PdInterval, t.DPrime, t.DPrimeInterval = e.Pd, e.PdInterval, e.DPrime, e.DPrimeInterval
		return
	}
	t.PdInterval = stats.PdInterval(t.Correct, t.N, chance, t.Confidence)
	t.DPrime = t.Method.Curve.DPrime(pc)
	t.DPrimeInterval = t.Method.Curve.DPrimeInterval(t.Correct, t.N, t.Confidence)
}

// significant compares counts, not probabilities: where the tail is α itself, a
// last digit must not decide.
func (t *TestResult) significant() bool {
	x := t.Correct
	if t.Plan.TwoSided {
		x = max(x, t.N-x)
	}
	return t.N > 0 && t.HasMin && x >= t.MinCorrect
}

func pValue(n, x int, p TestPlan, m Method) float64 {
	if p.TwoSided {
		return stats.TwoSidedP(n, x)
	}
	return stats.UpperTail(n, x, m.Chance())
}

// minCorrect of a two-sided test is the smallest number for the larger side.
func minCorrect(n int, p TestPlan, m Method) (int, bool) {
	alpha := p.Alpha
	if p.TwoSided {
		alpha /= 2
	}
	return stats.MinCorrect(n, m.Chance(), alpha)
}

func powerOf(n int, p TestPlan, m Method, pd float64) float64 {
	pc := stats.PcFromPd(pd, m.Chance())
	if !p.TwoSided {
		return stats.Power(n, m.Chance(), p.Alpha, pc)
	}
	x, ok := minCorrect(n, p, m)
	if !ok {
		return 0
	}
	return stats.UpperTail(n, x, pc) + stats.LowerTail(n, n-x, pc)
}

// cautions are what must be read with the answer.
func (s *State) cautions(r Result) []string {
	var c []string
	add := func(format string, args ...any) { c = append(c, fmt.Sprintf(format, args...)) }
	if s.Demo {
		add("This is a demonstration with simulated tasters. It is invented and never counts.")
	}
	if !r.Seal {
		add("The seal does not hold: plan, layout and seed do not give the digest that was published. Treat the result as unproved.")
	}
	for _, t := range r.Tests {
		switch {
		case t.N == 0:
			add("Test %d, %s: no answer counts, so nothing can be said.", t.Number, t.Method.Name)
		case !t.HasMin:
			add("Test %d, %s: no result of %s can be significant at %s.", t.Number, t.Method.Name, counted(t.N, "answer"), num(t.Plan.Alpha))
		case t.Power < t.Plan.Power && t.Outcome == Undecided:
			add("Test %d, %s: with %s the power at pd %s was %s, below the wanted %s. “Undecided” says little here.",
				t.Number, t.Method.Name, counted(t.N, "answer"), percent(t.Plan.Pd), num(t.Power), num(t.Plan.Power))
		}
		if t.Missing > 0 && t.N > 0 {
			add("Test %d, %s: %s of the listed seats %s no answer that counts.", t.Number, t.Method.Name, counted(t.Missing, "set"), hasHave(t.Missing))
		}
		if t.Plan.Sets > 1 && t.N > 0 {
			add("Test %d, %s: %d sets a seat. The test of difference stands; the intervals take the answers as independent and are too narrow where tasters differ.",
				t.Number, t.Method.Name, t.Plan.Sets)
		}
		if !t.Method.Overall && t.Outcome == Different {
			add("Who recognises a lot by another cue and expects less %s of it may name %s by inference.", t.Plan.Attribute, t.Plan.Attribute)
		}
	}
	for _, a := range r.Answers {
		if a.Void != nil {
			add("Seat %d, set %d was taken out (%s).", a.Seat, a.Set, words(a.Void.Reason))
		}
	}
	for _, seat := range s.Seats {
		if seat.Left {
			add("Seat %d left before the end (%s).", seat.Number, words(seat.LeftFor))
		}
	}
	if s.SheetOpenings > 1 {
		add("The pour sheet was opened %d times.", s.SheetOpenings)
	}
	if s.SheetOpenings == 0 {
		add("The pour sheet was never opened here: the cups can't have been poured from it.")
	}
	return c
}

func words(t Text) string {
	if t.Words == "" {
		return "reason erased"
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

func percent(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
