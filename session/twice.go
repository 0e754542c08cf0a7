package session

import "fmt"

// Twice are seats that one person may have taken: answers of one person are not
// independent, and a second time is no new assessor.
type Twice struct {
	Seats []int  // rising, two or more
	Name  string // that they were taken under, as typed first; "" where the names differ
	Phone bool   // by one phone
}

// SeatedTwice looks for seats that were taken under one name, without regard to
// case, spaces and accents, or by one phone. Seats that were freed again don't
// count; those of who left do. It tells of a possibility only: two people may share
// a name, and a phone may be handed on.
func (s *State) SeatedTwice() []Twice {
	var all []Twice
	group := func(key func(*Seat) string, found func(first *Seat, seats []int) Twice) {
		at := map[string]int{} // key: its place in groups
		var groups [][]int
		for i := range s.Seats {
			seat := &s.Seats[i]
			if seat.Person == "" && !seat.Listed {
				continue
			}
			k := key(seat)
			if k == "" {
				continue
			}
			if _, ok := at[k]; !ok {
				at[k] = len(groups)
				groups = append(groups, nil)
			}
			groups[at[k]] = append(groups[at[k]], seat.Number)
		}
		for _, seats := range groups {
			if len(seats) > 1 {
				all = append(all, found(&s.Seats[seats[0]-1], seats))
			}
		}
	}
	named := map[string]bool{} // groups of seats that a name tells of already
	group(func(seat *Seat) string { return foldName(seat.Name.Words) }, func(first *Seat, seats []int) Twice {
		named[fmt.Sprint(seats)] = true
		return Twice{Seats: seats, Name: first.Name.Words}
	})
	group(func(seat *Seat) string {
		if seat.Token == (Hash{}) { // on paper
			return ""
		}
		return seat.Token.String()
	}, func(_ *Seat, seats []int) Twice { return Twice{Seats: seats, Phone: true} })
	var kept []Twice
	for _, t := range all {
		if !t.Phone || !named[fmt.Sprint(t.Seats)] {
			kept = append(kept, t)
		}
	}
	return kept
}
