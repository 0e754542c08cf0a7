package session

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// UntiedName is a name that was typed at seats which are tied to nobody, however
// it was written: without regard to case, spaces and accents.
type UntiedName struct {
	Name       string   // as typed last
	Spellings  []string // other ways in which it was typed
	Received   bool     // in sessions of another laboratory, whose people may be namesakes
	Laboratory string   // its name
	Seats      []UntiedSeat

	// Suggested is the one person of the register who bears the name, as in
	// [Lab.Suggest]; "" where none does, or several do, or the seats are another
	// laboratory's.
	Suggested PersonID
}

// UntiedSeat is one of the seats, with its session's title and beginning.
type UntiedSeat struct {
	SeatRef
	Title string
	At    time.Time
}

// UntiedNames lists the names typed at listed seats that are tied to nobody, those
// with most seats first; nameless counts such seats whose name was erased. Left
// out are demonstrations, practice and abandoned sessions, which tell nothing of
// anybody. It is the same under every key.
func (r *Rooms) UntiedNames(ctx context.Context) (names []UntiedName, nameless int, err error) {
	lab := r.lab.State()
	type key struct{ name, laboratory string }
	at := map[key]int{}
	add := func(s *State, received bool, laboratory string) {
		if s.Demo || s.Plan.Practice || s.Phase == PhaseAbandoned {
			return
		}
		for _, seat := range s.Seats {
			if !seat.Listed {
				continue
			}
			if _, tied := lab.PersonOf(s.ID, seat.Number); tied {
				continue
			}
			typed := foldName(seat.Name.Words)
			if typed == "" {
				nameless++
				continue
			}
			k := key{name: typed}
			if received {
				k.laboratory = "\x00" + laboratory
			}
			i, known := at[k]
			if !known {
				i = len(names)
				at[k] = i
				names = append(names, UntiedName{Name: seat.Name.Words, Received: received, Laboratory: laboratory})
			}
			n := &names[i]
			if seat.Name.Words != n.Name && !slices.Contains(n.Spellings, seat.Name.Words) {
				n.Spellings = append(n.Spellings, seat.Name.Words)
			}
			n.Seats = append(n.Seats, UntiedSeat{SeatRef{s.ID, seat.Number}, s.Plan.Title, s.Times[PhaseDrafted]})
		}
	}
	rows, err := r.Rows(ctx)
	if err != nil {
		return nil, 0, err
	}
	for _, row := range rows {
		if row.Demo || row.Phase == PhaseDrafted || row.Phase == PhaseAbandoned {
			continue
		}
		room, err := r.Session(ctx, row.ID)
		if err != nil {
			return nil, 0, err
		}
		add(room.State(), false, "")
	}
	received, err := r.Received(ctx)
	if err != nil {
		return nil, 0, err
	}
	for _, row := range received {
		s, err := r.receivedState(row.ID)
		if err != nil {
			return nil, 0, err
		}
		add(s, true, row.Laboratory)
	}
	typed := make([]string, len(names))
	for i := range names {
		typed[i] = names[i].Name
	}
	for i, id := range lab.Suggest(typed...) {
		if !names[i].Received {
			names[i].Suggested = id
		}
	}
	slices.SortStableFunc(names, func(a, b UntiedName) int {
		return cmp.Or(cmp.Compare(len(b.Seats), len(a.Seats)), cmp.Compare(foldName(a.Name), foldName(b.Name)))
	})
	return names, nameless, nil
}
