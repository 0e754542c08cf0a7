package console

import (
	"fmt"
	"slices"
	"strings"

	"oddcup/session"
)

// enough is a number of seats that would do for every test, with every serving
// order equally often.
type enough struct {
	Seats   int
	Balance bool  // the planned number does as well, but leaves orders uneven
	Below   bool  // no larger number balances and does, so it is a smaller one
	Over    bool  // more are planned than one session takes
	People  bool  // similarity takes more people than are planned
	None    bool  // no number that a plan takes does
	Order   bool  // nor any, since the order stands against a test
	Most    int   // seats that fit into one session of these tests, by its codes
	Flights []int // to split them in, nil for none
	block   int   // seats that use every serving order of every test once
}

// Fits reports whether one session takes so many seats.
func (e enough) Fits() bool { return e.Seats <= e.Most }

// after puts the number behind what would be shown, in its bracket if it has one.
func (e enough) after(say string) string {
	words := fmt.Sprintf("%d seats would do", e.Seats)
	if !e.Fits() {
		words += fmt.Sprintf(", and %d fit into one session of these tests", e.Most)
	}
	if open, ok := strings.CutSuffix(say, ")"); ok {
		return open + "; " + words + ")"
	}
	return say + " (" + words + ")"
}

// Make is the value of the button that takes them.
func (e enough) Make() string { return fmt.Sprint(e.Seats) }

// MakeFlights is the same, split in flights: seats, the largest flight, and what
// each flight is a multiple of.
func (e enough) MakeFlights() string {
	return fmt.Sprintf("%d/%d/%d", e.Seats, slices.Max(e.Flights), e.block)
}

// FlightWords say how large the flights are.
func (e enough) FlightWords() string {
	switch largest, least := slices.Max(e.Flights), slices.Min(e.Flights); {
	case largest == least:
		return fmt.Sprintf("%d flights of %d", len(e.Flights), largest)
	case len(e.Flights) > 3:
		return fmt.Sprintf("%d flights of at most %d", len(e.Flights), largest)
	}
	var sizes []string
	for _, n := range e.Flights {
		sizes = append(sizes, fmt.Sprint(n))
	}
	return fmt.Sprintf("%d flights of %s", len(e.Flights), listed(sizes))
}

// wholeBlock is the number of seats that uses every serving order of every test
// equally often.
func wholeBlock(forecasts []session.Forecast) int {
	block := 1
	for _, f := range forecasts {
		block = lcm(block, f.Block)
	}
	return block
}

// onlyBlank reports whether no test asks anything of the lots.
func onlyBlank(p session.Plan) bool {
	return !slices.ContainsFunc(p.Tests, func(t session.TestPlan) bool { return t.Blank == "" })
}

// enoughFor finds it, nil where there is nothing to offer.
func enoughFor(p session.Plan, forecasts []session.Forecast) *enough {
	if len(forecasts) == 0 || len(forecasts) != len(p.Tests) || p.Practice || onlyBlank(p) {
		return nil
	}
	block, balanced, similar := wholeBlock(forecasts), true, false
	for _, f := range forecasts {
		if f.Refused != "" || f.Plan.Sequential {
			return nil // what stops early has no number that is known beforehand
		}
		balanced = balanced && f.Balanced
		similar = similar || f.Plan.WantsSimilarity()
	}
	ok := enoughAll(forecasts)
	if ok && balanced {
		return nil
	}
	e := &enough{Balance: ok, Most: p.MostSeats(), Over: p.Seats > p.MostSeats(), block: block}
	e.Seats = session.SeatsEnough(forecasts, p.Seats, block)
	if ok && (e.Seats == 0 || !e.Fits()) {
		e.Seats, e.Below = session.SeatsEnoughBelow(forecasts, min(p.Seats, e.Most), block), true
	}
	if e.Seats == 0 {
		return &enough{None: true, Balance: ok, Order: session.AnyAgainst(forecasts)}
	}
	e.People = similar && p.Seats < session.FewForSimilarity
	table := p.Seats
	if len(p.Flights) > 0 {
		table = slices.Max(p.Flights)
	}
	if size := max(table/block, 1) * block; size < e.Seats && (len(p.Flights) > 1 || !ok) {
		e.Flights = flightsOf(e.Seats, size, block)
		q := p
		q.Seats, q.Flights = e.Seats, e.Flights
		if slices.ContainsFunc(q.Check(), func(x session.Fault) bool { return x.Field == "flights" }) {
			e.Flights = nil // more flights than a session takes
		}
	}
	return e
}

func lcm(a, b int) int {
	x, y := a, b
	for y != 0 {
		x, y = y, x%y
	}
	return a / x * b
}

// flightsOf splits seats into the fewest flights of at most a size, as even as
// multiples of block allow.
func flightsOf(seats, size, block int) []int {
	n := (seats + size - 1) / size
	blocks := seats / block
	sizes := make([]int, n)
	for i := range sizes {
		sizes[i] = blocks / n * block
		if i < blocks%n {
			sizes[i] += block
		}
	}
	return sizes
}

// reserveOf says of the number of seats that does whether fewer would do as well,
// and what it costs if somebody stays away; "" where no number is known that does.
func reserveOf(p session.Plan, forecasts []session.Forecast, e *enough) string {
	if len(forecasts) == 0 || len(forecasts) != len(p.Tests) || p.Practice {
		return ""
	}
	seats := p.Seats
	if e != nil {
		seats = e.Seats
	}
	stable := session.SeatsStable(forecasts)
	if seats == 0 || stable == 0 || max(seats, stable) > p.MostSeats() || onlyBlank(p) || e != nil && !e.Fits() {
		return ""
	}
	block := wholeBlock(forecasts)
	reserve := (stable + block) / block * block // the first whole blocks above it
	say := fmt.Sprintf("%d seats do, and so does every larger number.", seats)
	switch {
	case stable < seats:
		say = fmt.Sprintf("From %d seats on every number does, so of %d people %d may stay away.", stable, seats, seats-stable)
	case stable > seats && reserve <= p.MostSeats():
		say = fmt.Sprintf("%d seats do, but not every number above: from %d on all do. To have people in reserve for those who don’t come, plan %d.", seats, stable, reserve)
	case stable > seats:
		say = fmt.Sprintf("%d seats do, but not every number above: from %d on all do.", seats, stable)
	}
	if block > 1 {
		say += " If one person stays away the panel is uneven: some serving orders are used once less than others."
	}
	return say
}
