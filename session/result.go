package session

import (
	"fmt"
	"slices"
)

// Result is what a session shows, computed from the open key.
type Result struct {
	Tests    []TestResult
	Amended  []TestResult // without the sets taken out after the close; nil where none was
	Answers  []SeatAnswer
	Cautions []string
	Practice bool // it never counts, so nothing is decided
	OneLot   bool // both brews are of one lot, as in control sets: there are no two lots to speak of
	Seal     bool // the digest fits plan, layout, seed and salt, and the seed gives the layout
}

// SeatAnswer is one tray of one seat with its key.
type SeatAnswer struct {
	Seat, Set, Take int
	Test            int
	Codes           []Code
	Order           string
	Counted         []Code // the cups that a correct answer names, left to right
	Answer          *Answer
	Void            *Voiding
	Amend           *Voiding // taken out after the close
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
		e.Tests = append(e.Tests, Revealing{t.Method.Key, t.N, t.Correct, t.P, t.Decided, t.Outcome, t.SimilarP})
	}
	return e
}

func (s *State) compute() Result {
	r := Result{Practice: s.Plan.Practice, OneLot: s.Plan.OneLot()}
	r.Seal = s.sealed.check() == nil
	r.Answers = s.seatAnswers()
	for i, p := range s.Plan.Tests {
		r.Tests = append(r.Tests, s.testResult(i, p, r.Answers))
	}
	DecideInOrder(r.Tests)
	r.Amended = s.amended(r.Answers)
	r.Cautions = s.cautions(r)
	return r
}

// amended are the results without the sets taken out after the close, nil where
// none was: the registered result stands, and these are shown beside it. The
// looks of a sequential test can't be taken again and stay as they were.
func (s *State) amended(answers []SeatAnswer) []TestResult {
	left := slices.Clone(answers)
	found := false
	for i := range left {
		if left[i].Void == nil && left[i].Amend != nil {
			left[i].Void, found = left[i].Amend, true
		}
	}
	if !found {
		return nil
	}
	var tests []TestResult
	for i, p := range s.Plan.Tests {
		tests = append(tests, s.testResult(i, p, left))
	}
	DecideInOrder(tests)
	return tests
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
				Answer: take.Answer, Void: take.Void, Amend: take.Amend,
			}
			for _, place := range m.Counted(dealt.Order) {
				a.Counted = append(a.Counted, a.Codes[place])
			}
			a.Correct = a.Answer != nil && slices.Equal(a.Answer.Codes(), a.Counted)
			all = append(all, a)
		}
	}
	return all
}
