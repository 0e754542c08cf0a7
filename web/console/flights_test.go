package console

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
)

// flightsPlan is a triangle in three flights of four.
func flightsPlan() session.Plan {
	p := tablePlan(12)
	p.Tests, p.Flights = p.Tests[:1], []int{4, 4, 4}
	return p
}

// start is a sealed table whose key the test knows.
func start(t *testing.T, p session.Plan) *table {
	t.Helper()
	var dealt [][]session.DealtSet
	b := newTable(t, p, func(s *session.Sealing) { dealt = s.Layout.Seats }, true)
	b.dealt = dealt
	return b
}

// come opens the lobby of the flight at the table, seats all of it and opens
// the tasting.
func (b *table) come() []int {
	b.t.Helper()
	s := b.room.State()
	seats := spans(s.Plan)[s.Flight-1].Numbers()
	b.do(session.OpenLobby{})
	b.sit(seats...)
	b.do(session.FreezeList{})
	b.press("open", "board")
	return seats
}

// taste serves each set of the flight at the table and answers it; right says
// which seats are right.
func (b *table) taste(seats []int, right func(seat, set int) bool) {
	b.t.Helper()
	for set := 1; set <= b.room.State().Plan.SetsPerSeat(); set++ {
		b.do(session.Serve{Round: set})
		for _, seat := range seats {
			b.answer(seat, set, right(seat, set))
		}
	}
}

func always(right bool) func(int, int) bool { return func(int, int) bool { return right } }

func (b *table) saysNot(body string, words ...string) {
	b.t.Helper()
	for _, w := range words {
		if strings.Contains(body, w) {
			b.t.Errorf("the page “%s” says %q", heading(body), w)
		}
	}
}

func (b *table) home() string {
	b.t.Helper()
	req, err := http.NewRequest(http.MethodGet, b.url+"/", nil)
	if err != nil {
		b.t.Fatal(err)
	}
	status, body, _ := b.send(req)
	if status != http.StatusOK {
		b.t.Fatalf("home: status %d", status)
	}
	return body
}

func TestFlightsFollowOneAnother(t *testing.T) {
	b := start(t, flightsPlan())
	body := b.page("lobby")
	b.wants(body, "Flight 1 of 3", "seats 1 to 4", "Open the lobby of flight 1 of 3", "Flights 2 and 3, seats 5 to 12, follow.")
	b.saysNot(body, `id="seat-5"`)
	b.come()
	b.do(session.Serve{Round: 1})
	body = b.page("board")
	b.wants(body, "Flight 1 of 3: 0 of 4 have locked set 1.", "Flights 2 and 3, seats 5 to 12, follow.",
		"End flight 1 now?", "4 sets of seats 1 to 4 would stay without an answer", "Flights 2 and 3, seats 5 to 12, would never taste.")
	b.saysNot(body, `id="seat-5"`)
	for seat := 1; seat <= 4; seat++ {
		b.answer(seat, 1, true)
	}
	body = b.page("board")
	b.wants(body, "Every set of flight 1 is in. Flight 2 follows, from its own brews.")
	b.saysNot(body, "End flight 1 now?", "Close the session</button></form>\n<p class=\"note\">")
	if n := len(primary.FindAllString(body, -1)); n != 1 {
		t.Errorf("%d primary acts", n)
	}

	b.press("flight/end", "lobby", "flight", "1")
	body = b.page("lobby")
	b.wants(body, "Flight 1 is done. Flight 2 is next.", "seats 5 to 8", "Open the lobby of flight 2 of 3", "Flight 1, seats 1 to 4, has tasted; flight 3, seats 9 to 12, follows.")
	b.saysNot(body, `id="seat-1"`, `id="seat-9"`)
	b.wants(b.page("board"), "Flight 1 is done. Flight 2 is next.", "Go to the lobby of flight 2 of 3", "8 to 12, would never taste"[5:])
	b.wants(b.home(), "Flight 1 is done. Flight 2 of 3 is next.", "Open the lobby of flight 2", "flight 2 of 3", "3 flights")
	b.wants(b.page("trail"), "Flight 1 of 3, seats 1 to 4", "Flight 1 ended.", "Go to the lobby of flight 2")

	b.press("lobby", "lobby")
	b.sit(5, 7)
	b.wants(b.page("lobby"), "Seat 6 is empty.", "run from 5 without a gap", "192.0.2.14:7734/j/")
	b.wants(b.home(), "Flight 2 of 3: the lobby is open, 2 of 4 seats taken.")
	b.press("freeze", "lobby")
	b.wants(b.page("lobby"), "2 are poured for. The list is closed.", "Start flight 2")
	b.press("open", "board")
	b.wants(b.page("board"), "Flight 2 of 3: 2 at the table.", "Flight 1, seats 1 to 4, has tasted; flight 3, seats 9 to 12, follows.")
	b.wants(b.page("board?seat=3"), "Of flight 1, which is not at the table.", "its flight has ended")
	b.saysNot(b.page("board?seat=3"), "Hand to another phone", "Has left")
	b.taste([]int{5, 7}, always(true))
	b.press("flight/end", "lobby", "flight", "2")
	b.taste(b.come(), always(false))
	body = b.page("board")
	b.wants(body, "Every set is in. Nothing more is to be served.", "Close the session")
	b.saysNot(body, "End this flight")
	b.revealed()
	body = b.page("result")
	b.wants(body, "Flight 1 of 3", "Flight 2 of 3", "Flight 3 of 3", "6 of 10 found the odd cup")
	b.wants(b.page("trail"), "Flight 3 of 3, seats 9 to 12", "After the last flight")
}

// A page of before, or a second press, must not end another flight.
func TestEndOfAFlightIsOfTheOneShown(t *testing.T) {
	b := start(t, flightsPlan())
	refused := func(status int, flight string) {
		t.Helper()
		before := b.room.State().Seq
		got, body, _ := b.post("flight/end", "flight", flight)
		if got != status || b.room.State().Seq != before || heading(body) == "" {
			t.Errorf("flight %q in phase %s: status %d, journal from %d to %d, %q", flight, b.room.State().Phase, got, before, b.room.State().Seq, heading(body))
		}
	}
	refused(http.StatusConflict, "1") // nobody tastes yet
	b.taste(b.come(), always(true))
	refused(http.StatusUnprocessableEntity, "one")
	refused(http.StatusConflict, "2")
	b.press("flight/end", "lobby", "flight", "1")
	refused(http.StatusConflict, "1")
	seats := b.come()
	refused(http.StatusConflict, "1")
	b.taste(seats, always(true))
	b.press("flight/end", "lobby", "flight", "2")
	b.taste(b.come(), always(true))
	refused(http.StatusConflict, "3") // the last one is closed instead
}

func TestPaperOfEachFlight(t *testing.T) {
	b := start(t, flightsPlan())
	codes := func(page string) []string { return codesOf(labelCode, b.page("print/"+page)) }
	want := func(seats ...int) (all []string) {
		for _, seat := range seats {
			for _, c := range b.room.State().Codes(seat, 1, 0) {
				all = append(all, num(float64(c)))
			}
		}
		return all
	}
	if got := codes("labels"); !slices.Equal(got, want(1, 2, 3, 4)) {
		t.Errorf("labels of the flight at the table: %v", got)
	}
	if got := codes("labels?flight=3"); !slices.Equal(got, want(9, 10, 11, 12)) {
		t.Errorf("labels of flight 3, ahead: %v", got)
	}
	b.wants(b.page("print/labels?flight=3"), "12 labels, flight 3 of 3")
	b.wants(b.page("print"), "Flight 1 of 3. 4 seats to print for.", "Print ahead", b.path("print/trays?flight=2"))
	b.saysNot(b.page("print"), "flight=1")
	for _, bad := range []string{"0", "4", "two", "-1"} {
		if status, body := b.get("print/labels?flight=" + bad); status != http.StatusNotFound || heading(body) == "" {
			t.Errorf("flight %s: status %d", bad, status)
		}
	}
	b.do(session.OpenLobby{})
	b.sit(1, 3)
	b.do(session.FreezeList{})
	if got := codes("labels?flight=1"); !slices.Equal(got, want(1, 3)) {
		t.Errorf("labels of the frozen flight: %v", got)
	}
	b.press("open", "board")
	b.taste([]int{1, 3}, always(true))
	b.press("flight/end", "lobby", "flight", "1")
	if got := codes("labels?flight=1"); !slices.Equal(got, want(1, 3)) {
		t.Errorf("labels of a flight that has tasted: %v", got)
	}
	if got := codes("labels"); !slices.Equal(got, want(5, 6, 7, 8)) {
		t.Errorf("labels of the next flight: %v", got)
	}
}

func TestOtherFlightsInWords(t *testing.T) {
	s := session.NewState("x")
	s.Plan = flightsPlan()
	s.Plan.Seats, s.Plan.Flights = 20, []int{4, 4, 4, 4, 4}
	for flight, want := range map[int]string{
		1: "Flights 2 to 5, seats 5 to 20, follow.",
		2: "Flight 1, seats 1 to 4, has tasted; flights 3 to 5, seats 9 to 20, follow.",
		4: "Flights 1 to 3, seats 1 to 12, have tasted; flight 5, seats 17 to 20, follows.",
		5: "Flights 1 to 4, seats 1 to 16, have tasted.",
	} {
		s.Flight = flight
		if got := otherFlights(s); got != want {
			t.Errorf("flight %d: %q, want %q", flight, got, want)
		}
	}
	s.Plan.Flights = nil
	if got := otherFlights(s); got != "" {
		t.Errorf("one flight: %q", got)
	}
}
