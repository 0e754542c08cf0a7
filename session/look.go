package session

import (
	"fmt"

	"oddcup/stats"
)

// tally is what a test's answers amount to.
type tally struct{ n, correct int }

// lookTaken is a look with the count that it saw.
type lookTaken struct {
	Looked
	tally
}

// sequentialOf gives the lines of a sequential test as they were registered:
// looks after whole rounds of all seats, undecided where the planned number is
// reached between the lines. See [stats.Sequential].
func (p Plan) sequentialOf(i int) stats.Sequential {
	t := p.Tests[i]
	m, _ := MethodByKey(t.Method)
	return stats.Sequential{
		P0: m.Chance(), P1: stats.PcFromPd(t.Pd, m.Chance()), Alpha: t.Alpha, Beta: t.Beta,
		Every: p.FlightSizes()[0], Max: p.Seats * t.Sets, AtMax: stats.MaxUndecided,
	}
}

// look is what the registered rule says before another round is served, nil
// where none is asked: the round at the table must be whole.
func (s *State) look() (*Looked, error) {
	if s.Stopped {
		return nil, ErrStopped
	}
	i := s.sequentialTest()
	if i < 0 || len(s.Rounds) == 0 || s.Plan.TestOfSet(len(s.Rounds)) != i || s.looked() {
		return nil, nil
	}
	if !s.AllIn() {
		return nil, fmt.Errorf("set %d is not in from every seat, and the registered rule looks at whole rounds only: %w", len(s.Rounds), ErrRound)
	}
	d := s.decisionAt(i, s.tallyOf(i))
	return &Looked{Flight: s.Flight, Round: len(s.Rounds), Stop: d != stats.Continue}, nil
}

// looked reports whether the look after the round at the table was taken.
func (s *State) looked() bool {
	n := len(s.looks)
	return n > 0 && s.looks[n-1].Flight == s.Flight && s.looks[n-1].Round == len(s.Rounds)
}

// LookDue reports whether the registered rule of a sequential test wants a look
// before anything else is served.
func (s *State) LookDue() bool {
	i := s.sequentialTest()
	return i >= 0 && !s.Stopped && len(s.Rounds) > 0 && s.Plan.TestOfSet(len(s.Rounds)) == i && !s.looked()
}

// sequentialTest is the index of the test that may stop early, -1 for none.
func (s *State) sequentialTest() int {
	if n := len(s.Plan.Tests); n > 0 && s.Plan.Tests[n-1].Sequential {
		return n - 1
	}
	return -1
}

// decisionAt is what the lines say of a count. Seats that left make rounds
// smaller than planned, so the lines are read at the number that came.
func (s *State) decisionAt(i int, t tally) stats.Decision {
	rule := s.Plan.sequentialOf(i)
	rule.Every, rule.Max, rule.AtMax = 1, 0, ""
	if t.n == 0 {
		return stats.Continue
	}
	return rule.Look(t.n, t.correct).Decision
}

// tallyOf counts the answers of a test that now count.
func (s *State) tallyOf(i int) tally {
	var t tally
	for _, a := range s.seatAnswers() {
		if a.Test == i && a.Void == nil && a.Answer != nil {
			t.n++
			if a.Correct {
				t.correct++
			}
		}
	}
	return t
}
