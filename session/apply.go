package session

import "fmt"

// Apply takes an event into the state. It has no rule and no error: Decide made
// sure of what it relies on, and an event of the laboratory's register here is
// our own bug.
func (s *State) Apply(rec Recorded) {
	s.Seq, s.Head = rec.Seq, rec.Hash
	s.Trail = append(s.Trail, Step{Seq: rec.Seq, At: rec.At, Actor: rec.Actor, Event: withoutKey(rec.Event)})
	s.outcomes.add(rec)
	switch e := rec.Event.(type) {
	case *Drafted:
		if s.Phase == PhaseNone {
			s.Demo = e.Demo
			s.enter(PhaseDrafted, rec)
		}
		s.Plan = e.Plan
	case *PinSet:
		s.pin = e.Pin
	case *Sealed:
		s.applySealed(e, rec)
	case *LobbyOpened:
		s.LobbyOpen = true
	case *Joined:
		seat := s.seat(e.Seat)
		seat.Person, seat.Name, seat.Token, seat.Joined = e.Person, e.Name, e.Token, rec.At
	case *SeatFreed:
		old := s.seat(e.Seat)
		*old = Seat{Number: old.Number, Sets: old.Sets}
	case *SeatMoved:
		seat := s.seat(e.Seat)
		seat.Claiming = e.Token == nil
		if e.Token != nil {
			seat.Token = *e.Token
		}
	case *ListFrozen:
		s.Frozen, s.LobbyOpen = true, false // of the flight at the table
		for _, n := range e.Seats {
			s.seat(n).Listed = true
		}
	case *Opened:
		s.Releases, s.Tasting = e.Releases, true
		s.applyOpening(rec)
		if s.Phase != PhaseOpen {
			s.enter(PhaseOpen, rec)
		}
	case *RoundServed:
		s.applyServed(e, rec)
	case *Paused:
		s.Paused = true
	case *Resumed:
		s.Paused = false
	case *Locked:
		s.take(e.Seat, e.Set, e.Take).Answer = &Answer{
			Pick: e.Pick, Also: e.Also, Guess: e.Guess, At: rec.At, PhoneAt: e.PhoneAt, Paper: e.Paper, Known: s.Broken != nil, Command: rec.Command,
		}
	case *Voided:
		s.take(e.Seat, e.Set, e.Take).Void = &Voiding{At: rec.At, Reason: e.Reason}
	case *ReplacementCalled:
		set := &s.seat(e.Seat).Sets[e.Set-1]
		set.Takes = append(set.Takes, Take{Number: e.Take, At: rec.At, Waits: s.Plan.Serving.Gate})
	case *ReplacementServed:
		s.applyServedAgain(e, rec)
	case *SeatLeft:
		seat := s.seat(e.Seat)
		seat.Left, seat.LeftFor = true, e.Reason
	case *FlightEnded:
		for i := range s.Seats {
			if s.InFlight(i + 1) {
				s.Seats[i].Claiming = false // its phone may still bring an answer
			}
		}
		s.Flight = e.Flight + 1
		s.LobbyOpen, s.Frozen, s.Tasting, s.Paused, s.Rounds = false, false, false, false, nil
		s.Confirmed, s.Temperatures = nil, nil
	case *Looked:
		s.looks = append(s.looks, lookTaken{*e, s.tallyOf(s.sequentialTest())})
		s.Stopped = s.Stopped || e.Stop
	case *SealBroken:
		s.Broken = &Noting{At: rec.At, Words: e.Reason}
	case *Amended:
		s.take(e.Seat, e.Set, e.Take).Amend = &Voiding{At: rec.At, Reason: e.Reason, Known: s.Known()}
	case *DeviationNoted:
		s.Deviations = append(s.Deviations, Noting{rec.At, e.Words, s.servedOutside(e.Round)})
	case *RoleNamed:
		s.nameRole(e)
	case *Confirmed:
		s.applyConfirmed(e, rec)
	case *PourSheetOpened:
		if s.Phase == PhaseSealed || s.Phase == PhaseOpen {
			s.SheetOpenings++
		}
		s.pinMiss = nil
	case *PourSheetSeen:
		if s.Phase == PhaseSealed || s.Phase == PhaseOpen {
			s.SheetLooks++
		}
	case *PourSheetPrinted:
	case *PinRefused:
		s.pinMiss = append(s.pinMiss, rec.At)
	case *Closed:
		s.ClosedAt, s.LobbyOpen, s.Paused = e.Head, false, false
		s.enter(PhaseClosed, rec)
	case *Revealed:
		s.Result = e
		s.enter(PhaseRevealed, rec)
	case *Abandoned:
		s.AbandonedFor, s.LobbyOpen = e.Reason, false
		s.enter(PhaseAbandoned, rec)
	default:
		panic("session: event of kind " + rec.Event.Kind() + " in a session's journal")
	}
}

// withoutKey is an event as the audit trail may hold it at any time.
func withoutKey(e Event) Event {
	if sealed, ok := e.(*Sealed); ok {
		return &Sealed{Plan: sealed.Plan, Digest: sealed.Digest, Eligible: sealed.Eligible}
	}
	return e
}

func (s *State) enter(p Phase, rec Recorded) {
	s.Phase = p
	s.Times[p] = rec.At
}

func (s *State) applySealed(e *Sealed, rec Recorded) {
	s.enter(PhaseSealed, rec)
	s.sealed, s.Plan, s.Digest, s.Flight = e, e.Plan, e.Digest, 1
	s.Eligible = e.Eligible
	s.Seats = make([]Seat, e.Plan.Seats)
	for i := range s.Seats {
		s.Seats[i] = Seat{Number: i + 1, Sets: make([]Set, e.Plan.SetsPerSeat())}
		for j := range s.Seats[i].Sets {
			s.Seats[i].Sets[j] = Set{Number: j + 1, Test: e.Plan.TestOfSet(j + 1)}
		}
	}
}

func (s *State) applyServed(e *RoundServed, rec Recorded) {
	s.Rounds = append(s.Rounds, rec.At)
	s.Temperatures = append(s.Temperatures, e.CupC)
	for i := range s.Seats {
		if seat := &s.Seats[i]; seat.Listed && !seat.Left && s.InFlight(i+1) {
			set := &seat.Sets[e.Round-1]
			set.Takes = append(set.Takes, Take{At: rec.At})
		}
	}
}

func (s *State) applyServedAgain(e *ReplacementServed, rec Recorded) {
	t := s.take(e.Seat, e.Set, e.Take)
	t.Waits, t.CupC, t.At = false, e.CupC, rec.At
	if e.Reason != nil {
		tray := fmt.Sprintf("seat %d, set %d, poured again,", e.Seat, e.Set)
		s.Deviations = append(s.Deviations, Noting{rec.At, *e.Reason, s.servedWords(tray, e.CupC)})
	}
}

func (s *State) take(seat, set, take int) *Take {
	return &s.seat(seat).Sets[set-1].Takes[take]
}
