package console

import (
	"fmt"

	"oddcup/session"
)

// twiceWords warn the host of seats that one person may have taken, as far as the
// flight at the table has one of them.
func twiceWords(s *session.State) []string {
	var all []string
	for _, t := range s.SeatedTwice() {
		now := 0
		for _, n := range t.Seats {
			if s.InFlight(n) && s.Seats[n-1].Taken() {
				now = n
			}
		}
		if now == 0 {
			continue
		}
		say := fmt.Sprintf("%s were taken by one phone.", capital(seatsInWords(t.Seats)))
		if t.Name != "" {
			say = fmt.Sprintf("%s are under one name, %s.", capital(seatsInWords(t.Seats)), t.Name)
		}
		do := fmt.Sprintf("free seat %d", now)
		if s.Frozen || s.Tasting {
			do = fmt.Sprintf("mark seat %d as gone before it answers", now)
		}
		all = append(all, say+" One person’s answers are not independent, and who comes again is no new assessor. If it is one person, "+do+"; if they are two, go on.")
	}
	return all
}
