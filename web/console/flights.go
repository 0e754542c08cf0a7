package console

import (
	"fmt"
	"strings"

	"oddcup/session"
)

// span is the seats of one flight.
type span struct{ Flight, First, Last int }

// Seats is how many there are.
func (s span) Seats() int { return s.Last - s.First + 1 }

// Numbers are the seats' numbers.
func (s span) Numbers() []int {
	var all []int
	for n := s.First; n <= s.Last; n++ {
		all = append(all, n)
	}
	return all
}

// spans are the seats of all flights of a plan, in the order of the flights.
func spans(p session.Plan) []span {
	var all []span
	next := 1
	for i, n := range p.FlightSizes() {
		all = append(all, span{i + 1, next, next + n - 1})
		next += n
	}
	return all
}

// severalFlights reports whether the plan's seats are served in parts.
func severalFlights(p session.Plan) bool { return len(p.Flights) > 1 }

// flightWords name the flight at the table, as "flight 2 of 6"; "" where all
// seats are one flight, and before the seal.
func flightWords(s *session.State) string {
	if !severalFlights(s.Plan) || s.Flight == 0 {
		return ""
	}
	return fmt.Sprintf("flight %d of %d", s.Flight, len(s.Plan.Flights))
}

// flightPrefix begins a sentence about the flight at the table; "" where all
// seats are one flight.
func flightPrefix(s *session.State) string {
	if words := flightWords(s); words != "" {
		return capital(words) + ": "
	}
	return ""
}

// betweenFlights reports whether a flight has ended and the next has not begun
// to taste.
func betweenFlights(s *session.State) bool { return s.Phase == session.PhaseOpen && !s.Tasting }

// atLobby reports whether people can come now: before the first flight tastes,
// and between two.
func atLobby(s *session.State) bool {
	return s.Phase == session.PhaseSealed || betweenFlights(s) && !s.Stopped
}

// flightSeats are the seats of the flight at the table.
func flightSeats(s *session.State) []*session.Seat {
	var all []*session.Seat
	for i := range s.Seats {
		if s.InFlight(i + 1) {
			all = append(all, &s.Seats[i])
		}
	}
	return all
}

// otherFlights says in a line what is not at the table now; "" where all seats
// are one flight.
func otherFlights(s *session.State) string {
	if !severalFlights(s.Plan) || s.Flight == 0 {
		return ""
	}
	all := spans(s.Plan)
	var words []string
	if done := all[:s.Flight-1]; len(done) > 0 {
		words = append(words, runOf(done)+" "+isOne(len(done), "has", "have")+" tasted")
	}
	if later := all[s.Flight:]; len(later) > 0 {
		words = append(words, runOf(later)+" "+isOne(len(later), "follows", "follow"))
	}
	return capital(strings.Join(words, "; ")) + "."
}

// runOf names neighbouring flights with their seats: "flights 3 to 6, seats 25
// to 66,".
func runOf(run []span) string {
	first, last := run[0], run[len(run)-1]
	if len(run) == 1 {
		return fmt.Sprintf("flight %d, seats %d to %d,", first.Flight, first.First, first.Last)
	}
	join := "to"
	if len(run) == 2 {
		join = "and"
	}
	return fmt.Sprintf("flights %d %s %d, seats %d to %d,", first.Flight, join, last.Flight, first.First, last.Last)
}

func isOne(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

// lookDue reports whether the registered rule of a sequential test looks at the
// answers before anything more is served.
func lookDue(s *session.State) bool { return s.LookDue() }

// ruleWords is all that anybody hears of a sequential test before the reveal:
// what its registered rule said last; "" before the first look.
func ruleWords(s *session.State) string {
	for i := len(s.Trail) - 1; i >= 0; i-- {
		if e, ok := s.Trail[i].Event.(*session.Looked); ok {
			return lookWords(e)
		}
	}
	return ""
}

func lookWords(e *session.Looked) string {
	if e.Stop {
		return "The registered rule says stop: close the session."
	}
	return "The registered rule says go on."
}
