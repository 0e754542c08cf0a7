package session

import (
	"fmt"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"
)

// Decide says which events a command causes, or why it is refused. It changes
// nothing. A command whose id has been accepted before causes none: see
// [State.Outcome].
func (s *State) Decide(c Command) ([]Event, error) {
	switch a := c.Act.(type) {
	case Draft:
		return s.decideDraft(a)
	case SetPin:
		if err := s.want(PhaseDrafted); err != nil {
			return nil, err
		}
		return one(&PinSet{a.Pin})
	case SealPlan:
		return s.decideSeal(a.Sealing)
	case OpenLobby:
		if err := s.beforeTasting(); err != nil {
			return nil, err
		}
		if s.LobbyOpen || s.Frozen {
			return nil, fmt.Errorf("the lobby: %w", ErrPhase)
		}
		return one(&LobbyOpened{})
	case Sit:
		return s.decideSit(a)
	case SitByHand:
		return s.decideSitByHand(a)
	case FreeSeat:
		return s.decideFree(a.Seat)
	case MoveSeat:
		seat, err := s.occupied(a.Seat)
		if err != nil {
			return nil, err
		}
		if seat.Claiming {
			return nil, nil
		}
		return one(&SeatMoved{Seat: a.Seat})
	case FreezeList:
		return s.decideFreeze()
	case Open:
		return s.decideOpen(a.Releases)
	case Serve:
		return s.decideServe(a)
	case EndFlight:
		return s.decideEndFlight()
	case Pause:
		if err := s.want(PhaseOpen); err != nil || s.Paused {
			return nil, err
		}
		return one(&Paused{})
	case Resume:
		if err := s.want(PhaseOpen); err != nil || !s.Paused {
			return nil, err
		}
		return one(&Resumed{})
	case Lock:
		return s.decideLock(a)
	case ServeAgain:
		return s.decideServeAgain(a)
	case Void:
		return s.decideVoid(a)
	case LeaveSeat:
		if _, err := s.occupied(a.Seat); err != nil {
			return nil, err
		}
		if !s.Frozen {
			return nil, fmt.Errorf("seat %d: free it in the lobby: %w", a.Seat, ErrPhase)
		}
		if err := checkWords(a.Reason); err != nil {
			return nil, err
		}
		return one(&SeatLeft{a.Seat, a.Reason})
	case OpenPourSheet:
		return s.decidePourSheet(a.Pin, c.At)
	case SeePourSheet:
		if err := s.poured(); err != nil {
			return nil, err
		}
		return one(&PourSheetSeen{})
	case PrintPourSheet:
		if err := s.poured(); err != nil {
			return nil, err
		}
		return one(&PourSheetPrinted{File: a.File, Vessels: a.Vessels})
	case BreakSeal:
		return s.decideBreak(a)
	case NoteDeviation:
		switch s.Phase {
		case PhaseSealed, PhaseOpen, PhaseClosed:
		default:
			return nil, s.want(PhaseOpen)
		}
		if err := checkWords(a.Words); err != nil {
			return nil, err
		}
		return one(&DeviationNoted{Words: a.Words})
	case NameRole:
		return s.decideRole(a)
	case Confirm:
		return s.decideConfirm(a)
	case Amend:
		return s.decideAmend(a)
	case Close:
		if err := s.want(PhaseOpen); err != nil {
			return nil, err
		}
		return one(&Closed{Head: s.Head})
	case Reveal:
		if err := s.want(PhaseClosed); err != nil {
			return nil, err
		}
		return one(s.reveal())
	case Abandon:
		switch s.Phase {
		case PhaseNone, PhaseRevealed, PhaseAbandoned:
			return nil, s.want(PhaseDrafted)
		}
		if err := checkWords(a.Reason); err != nil {
			return nil, err
		}
		return one(&Abandoned{a.Reason})
	}
	return nil, fmt.Errorf("a session can't do %T: %w", c.Act, ErrPhase)
}

// Outcome gives what the same command has caused before, nil if nothing.
func (s *State) Outcome(c Command) []Recorded { return s.outcomes.of(c) }

func one(e Event) ([]Event, error) { return []Event{e}, nil }

func (s *State) want(p Phase) error {
	if s.Phase != p {
		now := string(s.Phase)
		if s.Phase == PhaseNone {
			now = "not drafted"
		}
		return fmt.Errorf("the session is %s, and this needs it %s: %w", now, p, ErrPhase)
	}
	return nil
}

func (s *State) decideDraft(a Draft) ([]Event, error) {
	if s.Phase != PhaseNone && s.Phase != PhaseDrafted {
		return nil, s.want(PhaseDrafted)
	}
	if a.Plan.figuresMissing() {
		return nil, fmt.Errorf("a figure is no number: %w", ErrPlan)
	}
	return one(&Drafted{Plan: a.Plan, Demo: a.Demo && s.Phase == PhaseNone})
}

func (s *State) decideSeal(seal Sealing) ([]Event, error) {
	if err := s.want(PhaseDrafted); err != nil {
		return nil, err
	}
	if f := s.Plan.Check(); f != nil {
		return nil, f
	}
	if !s.pin.isSet() {
		return nil, ErrNoPin
	}
	if !reflect.DeepEqual(seal.Plan, s.Plan) {
		return nil, fmt.Errorf("%w: the plan has changed since", ErrSeal)
	}
	if err := seal.Layout.fits(s.Plan); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrSeal, err)
	}
	if err := s.Plan.checkEligible(seal.Eligible); err != nil {
		return nil, err
	}
	return one(&Sealed{
		Plan: s.Plan, Layout: seal.Layout, Seed: Hash(seal.Seed), Salt: seal.Salt, Digest: seal.Digest, Eligible: seal.Eligible,
	})
}

// beforeTasting is nil while people of a flight can take their seats and the
// flight's tasting has not begun.
func (s *State) beforeTasting() error {
	switch {
	case s.Phase == PhaseSealed:
		return nil
	case s.Phase != PhaseOpen || s.Tasting:
		return s.want(PhaseSealed)
	case s.Stopped:
		return ErrStopped
	case s.Flight > len(s.Plan.FlightSizes()):
		return fmt.Errorf("the last flight has been served: %w", ErrPhase)
	}
	return nil
}

// decideBreak opens the key early. A second time changes nothing.
func (s *State) decideBreak(a BreakSeal) ([]Event, error) {
	switch s.Phase {
	case PhaseSealed, PhaseOpen, PhaseClosed:
	default:
		return nil, s.want(PhaseSealed)
	}
	if s.Broken != nil {
		return nil, nil
	}
	if err := checkWords(a.Reason); err != nil {
		return nil, err
	}
	return one(&SealBroken{a.Reason})
}

// decideAmend takes a set out after the close: the registered result stands.
func (s *State) decideAmend(a Amend) ([]Event, error) {
	if s.Phase != PhaseClosed && s.Phase != PhaseRevealed {
		return nil, s.want(PhaseClosed)
	}
	seat := s.seat(a.Seat)
	if seat == nil || a.Set < 1 || a.Set > len(seat.Sets) || a.Take < 0 || a.Take >= len(seat.Sets[a.Set-1].Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	if t := &seat.Sets[a.Set-1].Takes[a.Take]; t.Void != nil || t.Amend != nil {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	}
	if err := checkWords(a.Reason); err != nil {
		return nil, err
	}
	return one(&Amended{a.Seat, a.Set, a.Take, a.Reason})
}

func checkName(t Text) error { return checkText(t, "a name", 40) }

// mostWords is the most characters of a text that is not a name.
const mostWords = 200

func checkWords(t Text) error { return checkText(t, "a reason", mostWords) }

func checkText(t Text, what string, most int) error {
	if strings.TrimSpace(t.Words) == "" || utf8.RuneCountInString(t.Words) > most || !utf8.ValidString(t.Words) {
		return fmt.Errorf("%s has 1 to %d characters: %w", what, most, ErrWords)
	}
	return nil
}

const (
	pinTries = 5
	pinWait  = time.Minute
)

// poured reports whether the pour sheet exists and is still of use.
func (s *State) poured() error {
	if s.sealed == nil || s.Phase == PhaseAbandoned {
		return s.want(PhaseSealed)
	}
	return nil
}

// decidePourSheet opens the pour sheet, or records that a PIN was wrong. After
// five wrong ones within a minute it listens to none until the minute is over.
func (s *State) decidePourSheet(pin string, at time.Time) ([]Event, error) {
	if err := s.poured(); err != nil {
		return nil, err
	}
	if n := len(s.pinMiss); n >= pinTries && at.Sub(s.pinMiss[n-pinTries]) < pinWait {
		return nil, ErrPinWait
	}
	if !s.pin.matches(pin) {
		return one(&PinRefused{})
	}
	return one(&PourSheetOpened{})
}
