package session

import (
	"cmp"
	"fmt"
	"slices"
)

// SeatRef is a seat of a session, of this laboratory or a received one.
type SeatRef struct {
	Session ID  `json:"session"`
	Seat    int `json:"seat"`
}

func (r SeatRef) String() string { return fmt.Sprintf("session %s, seat %d", r.Session, r.Seat) }

// mostTied bounds the seats of one act.
const mostTied = 5000

// PersonOf finds who had a seat, past every merge; ok is false where nobody has
// said.
func (l *Lab) PersonOf(session ID, seat int) (p Person, ok bool) {
	id, ok := l.ties[SeatRef{session, seat}]
	if !ok {
		return Person{}, false
	}
	return l.Same(id)
}

// SeatsOf are the seats that a person is said to have had, by session and seat.
func (l *Lab) SeatsOf(id PersonID) []SeatRef {
	var seats []SeatRef
	entries := l.entriesFor(id)
	for ref, tied := range l.ties {
		if slices.Contains(entries, tied) {
			seats = append(seats, ref)
		}
	}
	slices.SortFunc(seats, compareSeats)
	return seats
}

func compareSeats(a, b SeatRef) int {
	return cmp.Or(cmp.Compare(a.Session, b.Session), cmp.Compare(a.Seat, b.Seat))
}

// Suggest gives for each typed name the one person of the register who bears it,
// without regard to case, spaces and accents; "" where none does, or several do.
// A name is no proof: the host confirms each.
func (l *Lab) Suggest(names ...string) []PersonID {
	book, found := l.nameBook(), make([]PersonID, len(names))
	for i, name := range names {
		if ids := book.byName[foldName(name)]; len(ids) == 1 {
			found[i] = ids[0]
		}
	}
	return found
}

// decideTie leaves out the seats that are the person's already.
func (l *Lab) decideTie(a TieSeats) ([]Event, error) {
	p, err := l.present(a.Person)
	if err != nil {
		return nil, err
	}
	if len(a.Seats) > mostTied {
		return nil, fmt.Errorf("%s: %d seats at once are more than %d: %w", p.Pseudonym, len(a.Seats), mostTied, ErrWords)
	}
	var seats []SeatRef
	seen := map[SeatRef]bool{}
	for _, ref := range a.Seats {
		if !ref.Session.Valid() || ref.Session == LabID || ref.Seat < 1 || ref.Seat > 500 {
			return nil, fmt.Errorf("session %q, seat %d: %w", ref.Session, ref.Seat, ErrNoSeat)
		}
		switch had, ok := l.PersonOf(ref.Session, ref.Seat); {
		case ok && had.ID != p.ID:
			return nil, fmt.Errorf("%s is %s: untie it first: %w", ref, had.Pseudonym, ErrTied)
		case !ok && !seen[ref]:
			seats, seen[ref] = append(seats, ref), true
		}
	}
	if len(seats) == 0 {
		return nil, nil
	}
	return one(&SeatsTied{p.ID, seats})
}

func (l *Lab) decideUntie(a UntieSeat) ([]Event, error) {
	p, ok := l.PersonOf(a.Seat.Session, a.Seat.Seat)
	switch {
	case !ok:
		return nil, nil
	case p.Erased:
		return nil, fmt.Errorf("%s: %w", p.Pseudonym, ErrErased)
	}
	return one(&SeatUntied{a.Seat})
}
