package session

import (
	"encoding/hex"
	"fmt"
)

// occupied finds a seat that somebody has, in a phase where this matters.
func (s *State) occupied(n int) (*Seat, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseOpen)
	}
	seat := s.seat(n)
	switch {
	case seat == nil:
		return nil, fmt.Errorf("seat %d: %w", n, ErrNoSeat)
	case !s.InFlight(n):
		return nil, fmt.Errorf("seat %d: %w", n, ErrFlight)
	case !seat.Taken():
		return nil, fmt.Errorf("seat %d: %w", n, ErrNotHere)
	}
	return seat, nil
}

// decideSit gives a seat. A phone that has one keeps it, whatever it asks for;
// a seat that is being moved goes to the phone that claims it. Seats of a flight
// that has ended are not claimed: the phone may have another one there.
func (s *State) decideSit(a Sit) ([]Event, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseSealed)
	}
	if s.InFlight(s.SeatOfToken(a.Token)) {
		return nil, nil
	}
	if seat := s.seat(a.Seat); seat != nil && seat.Claiming && seat.Taken() && s.InFlight(a.Seat) {
		token := a.Token
		return one(&SeatMoved{Seat: a.Seat, Token: &token})
	}
	if s.Frozen {
		return nil, ErrFrozen
	}
	if !s.LobbyOpen {
		return nil, fmt.Errorf("the lobby is not open: %w", ErrPhase)
	}
	return s.giveSeat(a.Seat, a.Name, a.Token)
}

// giveSeat gives a free seat of the flight, the next one where n is 0.
func (s *State) giveSeat(n int, name Text, token Hash) ([]Event, error) {
	if n == 0 {
		if n = s.NextFree(); n == 0 {
			return nil, ErrFull
		}
	}
	seat := s.seat(n)
	switch {
	case seat == nil:
		return nil, fmt.Errorf("seat %d: %w", n, ErrNoSeat)
	case !s.InFlight(n):
		return nil, fmt.Errorf("seat %d: %w", n, ErrFlight)
	case seat.Person != "":
		return nil, fmt.Errorf("seat %d: %w", n, ErrTaken)
	}
	if err := checkName(name); err != nil {
		return nil, err
	}
	if s.pours(name.Words) {
		return nil, ErrPours
	}
	return one(&Joined{Seat: n, Person: personOf(token, s.Seq+1), Name: name, Token: token})
}

// decideSitByHand seats somebody with no phone, as long as seats can be taken.
func (s *State) decideSitByHand(a SitByHand) ([]Event, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseSealed)
	}
	if s.Frozen {
		return nil, ErrFrozen
	}
	if !s.LobbyOpen {
		return nil, fmt.Errorf("the lobby is not open: %w", ErrPhase)
	}
	return s.giveSeat(a.Seat, a.Name, Hash{})
}

// personOf makes a session's opaque name for who sat down with a phone at an
// entry: the same phone, later, may be in other hands.
func personOf(token Hash, seq uint64) string {
	h := HashToken(append(fmt.Appendf(nil, "person at entry %d ", seq), token[:]...))
	return "p-" + hex.EncodeToString(h[:6])
}

func (s *State) decideFree(n int) ([]Event, error) {
	if _, err := s.occupied(n); err != nil {
		return nil, err
	}
	if s.Frozen {
		return nil, fmt.Errorf("seat %d: %w", n, ErrFrozen)
	}
	return one(&SeatFreed{n})
}

func (s *State) decideFreeze() ([]Event, error) {
	if err := s.beforeTasting(); err != nil {
		return nil, err
	}
	if s.Frozen {
		return nil, ErrFrozen
	}
	seats := s.Occupied()
	if len(seats) == 0 {
		return nil, fmt.Errorf("nobody has taken a seat: %w", ErrNotHere)
	}
	return one(&ListFrozen{seats})
}
