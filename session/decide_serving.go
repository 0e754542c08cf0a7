package session

import (
	"fmt"
	"time"
)

func (s *State) decideOpen(releases []Release) ([]Event, error) {
	if err := s.beforeTasting(); err != nil {
		return nil, err
	}
	if !s.Frozen {
		return nil, fmt.Errorf("the list is not closed yet: %w", ErrPhase)
	}
	for _, lot := range []Lot{s.Plan.Untreated, s.Plan.Processed} {
		found := false
		for _, r := range releases {
			found = found || r.Lot == lot.ID
		}
		if !found {
			return nil, fmt.Errorf("lot %s: %w", lot.Words(), ErrReleased)
		}
	}
	return one(&Opened{releases})
}

func (s *State) decideServe(a Serve) ([]Event, error) {
	round := a.Round
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	switch {
	case !s.Tasting:
		return nil, fmt.Errorf("the flight has not been opened: %w", ErrPhase)
	case s.Paused:
		return nil, fmt.Errorf("the table is paused: %w", ErrPhase)
	case round == len(s.Rounds):
		return nil, nil // pressed twice
	case round != len(s.Rounds)+1 || round > s.Plan.SetsPerSeat():
		return nil, fmt.Errorf("set %d can't be served after set %d of %d: %w", round, len(s.Rounds), s.Plan.SetsPerSeat(), ErrNotFront)
	}
	looked, err := s.look()
	if err != nil {
		return nil, err
	}
	if looked != nil {
		return one(looked)
	}
	outside, err := s.Plan.Serving.checkTemperature(a.CupC, a.Reason)
	if err != nil {
		return nil, err
	}
	served := &RoundServed{round, a.CupC}
	if !outside {
		return one(served)
	}
	return []Event{served, &DeviationNoted{Words: a.Reason, Round: round}}, nil
}

// decideServeAgain serves a replacement that the gate holds back. One that is
// served already changes nothing.
func (s *State) decideServeAgain(a ServeAgain) ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	seat := s.seat(a.Seat)
	if seat == nil || a.Set < 1 || a.Set > len(seat.Sets) || a.Take < 1 || a.Take >= len(seat.Sets[a.Set-1].Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	take := &seat.Sets[a.Set-1].Takes[a.Take]
	switch {
	case take.Void != nil:
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	case !take.Waits || take.Answer != nil:
		return nil, nil
	case !seat.Taken():
		return nil, fmt.Errorf("seat %d: %w", a.Seat, ErrNotHere)
	case !s.InFlight(a.Seat):
		return nil, fmt.Errorf("seat %d: %w", a.Seat, ErrFlight)
	case s.Paused:
		return nil, fmt.Errorf("the table is paused: %w", ErrPhase)
	}
	outside, err := s.Plan.Serving.checkTemperature(a.CupC, a.Reason)
	if err != nil {
		return nil, err
	}
	served := &ReplacementServed{Seat: a.Seat, Set: a.Set, Take: a.Take, CupC: a.CupC}
	if outside {
		served.Reason = &a.Reason
	}
	return one(served)
}

// decideEndFlight ends the flight at the table, with the look that a sequential
// test wants before another one.
func (s *State) decideEndFlight() ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	switch {
	case !s.Tasting:
		return nil, fmt.Errorf("the flight has not been opened: %w", ErrPhase)
	case s.Flight >= len(s.Plan.FlightSizes()):
		return nil, fmt.Errorf("this is the last flight; close the session instead: %w", ErrPhase)
	}
	ended := &FlightEnded{s.Flight}
	looked, err := s.look()
	if err != nil {
		return nil, err
	}
	if looked == nil {
		return one(ended)
	}
	return []Event{looked, ended}, nil
}

// decideLock takes the first answer to the set in front of the seat. The same
// answer again changes nothing, because a phone resends what it was not told
// of; a different one is refused.
func (s *State) decideLock(a Lock) ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	seat := s.seat(a.Seat)
	if seat == nil || !seat.Taken() || a.Set < 1 || a.Set > len(seat.Sets) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	set := &seat.Sets[a.Set-1]
	if a.Take < 0 || a.Take >= len(set.Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	take := &set.Takes[a.Take]
	switch {
	case take.Void != nil:
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	case take.Answer != nil && s.sameAnswer(take.Answer, a):
		return nil, nil
	case take.Answer != nil:
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrAnswered)
	}
	if n, t, ok := seat.Front(); !ok || n != a.Set || t != a.Take {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	pick, also, ok := s.methodOf(a.Set).Answer(s.Codes(a.Seat, a.Set, a.Take), a.Pick, a.Also)
	if !ok {
		return nil, fmt.Errorf("seat %d, set %d, code %d: %w", a.Seat, a.Set, a.Pick, ErrNotInSet)
	}
	return one(&Locked{a.Seat, a.Set, a.Take, pick, also, a.Guess, phoneClock(a.PhoneAt), a.Paper})
}

// sameAnswer reports whether a lock says again what is kept.
func (s *State) sameAnswer(kept *Answer, a Lock) bool {
	pick, also, ok := s.methodOf(a.Set).Answer(s.Codes(a.Seat, a.Set, a.Take), a.Pick, a.Also)
	return ok && pick == kept.Pick && also == kept.Also && a.Guess == kept.Guess
}

// methodOf is the method of a set, numbered from 1.
func (s *State) methodOf(set int) Method {
	m, _ := MethodByKey(s.Plan.Tests[s.Plan.TestOfSet(set)].Method)
	return m
}

// phoneClock is a phone's time as a journal can hold it; a clock that is out of
// its mind gives the zero time and costs nobody an answer.
func phoneClock(at time.Time) time.Time {
	at = at.UTC()
	if at.Year() < 1 || at.Year() > 9999 {
		return time.Time{}
	}
	return at
}

// decideVoid takes a served set out. Its replacement can be called as long as
// the seat has been served no later set: nobody goes back to an earlier one,
// and a test for any difference must not follow an attribute test.
func (s *State) decideVoid(a Void) ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	seat := s.seat(a.Seat)
	if seat == nil || a.Set < 1 || a.Set > len(seat.Sets) || a.Take < 0 || a.Take >= len(seat.Sets[a.Set-1].Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	if seat.Sets[a.Set-1].Takes[a.Take].Void != nil {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	}
	if err := checkWords(a.Reason); err != nil {
		return nil, err
	}
	events := []Event{&Voided{a.Seat, a.Set, a.Take, a.Reason}}
	if !a.Replace {
		return events, nil
	}
	if err := s.CanReplace(a.Seat, a.Set, a.Take); err != nil {
		return nil, err
	}
	return append(events, &ReplacementCalled{a.Seat, a.Set, a.Take + 1}), nil
}

// CanReplace says why a take that is voided could not be poured again, nil if
// it could.
func (s *State) CanReplace(seat, set, take int) error {
	st := s.seat(seat)
	if st == nil || set < 1 || set > len(st.Sets) {
		return fmt.Errorf("seat %d, set %d: %w", seat, set, ErrNotFront)
	}
	if !s.InFlight(seat) {
		return fmt.Errorf("seat %d: %w", seat, ErrFlight)
	}
	if s.Stopped {
		return fmt.Errorf("seat %d, set %d: %w", seat, set, ErrStopped)
	}
	if !st.Taken() {
		return fmt.Errorf("seat %d: %w", seat, ErrNotHere)
	}
	if set < len(st.Sets) && st.Sets[set].Last() != nil {
		return fmt.Errorf("seat %d, set %d: a later set has been served: %w", seat, set, ErrNoMore)
	}
	if s.Codes(seat, set, take+1) == nil {
		return fmt.Errorf("seat %d, set %d: %w", seat, set, ErrNoMore)
	}
	return nil
}
