package session

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// flightPlan has two flights of three and two seats, one triangle each.
var flightPlan = inFlights(planOf(5, triangles(1)), 3, 2)

// seatFlight gives the flight's seats to phones of their own, closes the list
// and opens the tasting.
func (g *game) seatFlight() []int {
	g.t.Helper()
	g.do(OpenLobby{})
	for i := range g.s.Seats {
		if g.s.InFlight(i + 1) {
			g.do(Sit{Seat: i + 1, Name: text(fmt.Sprintf("Taster %d", i+1)), Token: phone(i + 1)})
		}
	}
	g.do(FreezeList{}, Open{releases()})
	return g.s.Occupied()
}

// playFlights plays all flights; right says who answers correctly.
func (g *game) playFlights(right func(seat, set int) bool) *game {
	g.t.Helper()
	for flight := range g.s.Plan.FlightSizes() {
		if flight > 0 {
			g.do(EndFlight{})
		}
		seats := g.seatFlight()
		for set := 1; set <= g.s.Plan.SetsPerSeat(); set++ {
			g.do(Serve{Round: set})
			for _, seat := range seats {
				g.do(g.answer(seat, set, 0, right(seat, set)))
			}
		}
	}
	return g
}

// TestEveryActInEveryFlight is the matrix of [TestEveryActInEveryPhase] at the
// second of two flights. Seat 1 was of the first flight, and its phone sits at
// seat 4 now; seat 2 of the first flight has not answered.
//
//	.  accepted, with events       -  accepted, and nothing happens
//	P  ErrPhase                    H  ErrNotHere
//	F  ErrFrozen                   N  ErrNotFront
//	L  ErrFlight                   T  ErrTaken
//	A  ErrAnswered                 X  ErrStopped
func TestEveryActInEveryFlight(t *testing.T) {
	sentinels := map[rune]error{
		'P': ErrPhase, 'H': ErrNotHere, 'F': ErrFrozen, 'N': ErrNotFront, 'L': ErrFlight, 'T': ErrTaken, 'A': ErrAnswered, 'X': ErrStopped,
	}
	one := func(g *game) {
		g.toSealed(flightPlan)
		g.seatFlight()
		g.do(Serve{Round: 1}, g.answer(1, 1, 0, true))
	}
	between := func(g *game) { one(g); g.do(EndFlight{}) }
	lobby := func(g *game) {
		between(g)
		g.do(OpenLobby{}, Sit{Seat: 4, Name: text("Taster 1"), Token: phone(1)})
	}
	frozen := func(g *game) { lobby(g); g.do(FreezeList{}) }
	open := func(g *game) { frozen(g); g.do(Open{releases()}) }
	served := func(g *game) { open(g); g.do(Serve{Round: 1}) }
	// The look after the first flight of a sequential test said stop.
	stopped := func(g *game) {
		g.toSealed(inFlights(planOf(12, sequential(1)), 6, 6))
		for _, seat := range g.seatFlight() {
			if seat == 1 {
				g.do(Serve{Round: 1})
			}
			g.do(g.answer(seat, 1, 0, true))
		}
		g.do(EndFlight{})
		if !g.s.Stopped {
			t.Fatal("six of six do not stop the test")
		}
	}
	var played []*game
	names := []string{"first flight", "between", "second lobby", "second frozen", "second open", "second served", "stopped"}
	for _, play := range []func(*game){one, between, lobby, frozen, open, served, stopped} {
		g := newGame(t)
		play(g)
		g.entries = g.entries[:len(g.entries):len(g.entries)]
		played = append(played, g)
	}
	is := func(a Act) func(*game) Act { return func(*game) Act { return a } }
	lock := func(seat int) func(*game) Act {
		return func(g *game) Act { return g.answer(seat, 1, 0, seat != 1) }
	}
	for _, row := range []struct {
		name string
		act  func(*game) Act
		want string // first flight, between, second lobby, frozen, open, served, stopped
	}{
		{"open lobby", is(OpenLobby{}), "P.PPPPX"},
		{"sit, new", is(Sit{Name: text("Ulm"), Token: phone(9)}), "FP.FFFP"},
		{"sit by a card of the first flight", is(Sit{Seat: 3, Name: text("Ulm"), Token: phone(9)}), "FPLFFFP"},
		{"sit by a card of the second flight", is(Sit{Seat: 5, Name: text("Ulm"), Token: phone(9)}), "FP.FFFP"},
		{"sit where somebody sits", is(Sit{Seat: 4, Name: text("Ulm"), Token: phone(9)}), "FPTFFFP"},
		{"a phone of the first flight sits again", is(Sit{Seat: 5, Name: text("Taster 2"), Token: phone(2)}), "-P.FFFP"},
		{"a phone of the second flight sits again", is(Sit{Seat: 5, Name: text("Taster 1"), Token: phone(1)}), "-P----P"},
		{"free a seat of the first flight", is(FreeSeat{1}), "FLLLLLL"},
		{"free a seat of the second flight", is(FreeSeat{4}), "LH.FFFL"},
		{"move a seat of the first flight", is(MoveSeat{1}), ".LLLLLL"},
		{"move a seat of the second flight", is(MoveSeat{4}), "LH....L"},
		{"freeze", is(FreezeList{}), "PH.FPPX"},
		{"open", is(Open{releases()}), "PPP.PPX"},
		{"serve 1", is(Serve{Round: 1}), "-PPP.-P"},
		{"serve 2", is(Serve{Round: 2}), "NPPPNNP"},
		{"end flight", is(EndFlight{}), ".PPPPPP"},
		{"pause", is(Pause{}), "......."},
		{"lock, late, of the first flight", lock(2), "......-"},
		{"lock again, of the first flight", lock(1), "AAAAAAA"},
		{"lock of the second flight", lock(4), "NNNNN.-"},
		{"void in the first flight", is(Void{Seat: 1, Set: 1, Reason: text("wrong vessel")}), "......."},
		{"void and replace in the first flight", is(Void{Seat: 1, Set: 1, Reason: text("spilt"), Replace: true}), ".LLLLLL"},
		{"void and replace in the second flight", is(Void{Seat: 4, Set: 1, Reason: text("spilt"), Replace: true}), "NNNNN.L"},
		{"leave from the first flight", is(LeaveSeat{1, text("ill")}), ".LLLLLL"},
		{"leave from the second flight", is(LeaveSeat{4, text("ill")}), "LHP...L"},
		{"leave from an empty seat", is(LeaveSeat{5, text("ill")}), "LHHHHHL"},
		{"pour sheet", is(OpenPourSheet{Pin: "4711"}), "......."},
		{"close", is(Close{}), "......."},
		{"reveal", is(Reveal{}), "PPPPPPP"},
		{"abandon", is(Abandon{text("power cut")}), "......."},
	} {
		if len(row.want) != len(played) {
			t.Fatalf("%s: %d results for %d stages", row.name, len(row.want), len(played))
		}
		for i, want := range row.want {
			g := *played[i]
			g.s = played[i].s.Clone()
			events, err := g.try(Command{At: g.now, Actor: Host, Act: row.act(&g)})
			switch {
			case want == '.' && (err != nil || len(events) == 0):
				t.Errorf("%s, %s: %d events, error %v; want it accepted", row.name, names[i], len(events), err)
			case want == '-' && (err != nil || len(events) != 0):
				t.Errorf("%s, %s: %d events, error %v; want nothing", row.name, names[i], len(events), err)
			case sentinels[want] != nil && !errors.Is(err, sentinels[want]):
				t.Errorf("%s, %s: error %v, want %v", row.name, names[i], err, sentinels[want])
			}
		}
	}
}

func TestFlightsInTurn(t *testing.T) {
	g := newGame(t).toSealed(flightPlan)
	listed := func(want ...int) {
		t.Helper()
		if got := g.s.Listed(); !slices.Equal(got, want) {
			t.Errorf("listed are %v, want %v", got, want)
		}
		sheet, err := g.s.PourSheet()
		if err != nil {
			t.Fatal(err)
		}
		var poured []int
		for _, tray := range sheet.Rounds[0].Trays {
			poured = append(poured, tray.Seat)
		}
		if !slices.Equal(poured, want) {
			t.Errorf("poured for are %v, want %v", poured, want)
		}
	}
	listed(1, 2, 3)
	if g.s.NextFree() != 1 || g.s.Flight != 1 {
		t.Errorf("next free %d of flight %d", g.s.NextFree(), g.s.Flight)
	}
	g.do(OpenLobby{}, sit(0, 1), sit(3, 3), FreezeList{})
	listed(1, 3)
	g.do(Open{releases()}, Serve{Round: 1}, g.answer(1, 1, 0, true))
	if g.s.AllIn() {
		t.Error("seat 3 has not answered, and all are in")
	}
	g.do(Pause{}, EndFlight{})
	if s := g.s; s.Flight != 2 || s.LobbyOpen || s.Frozen || s.Tasting || s.Paused || len(s.Rounds) != 0 || s.Phase != PhaseOpen || !s.AllIn() || s.NextFree() != 4 {
		t.Errorf("between flights: %+v", s)
	}
	if len(g.s.Occupied()) != 0 {
		t.Errorf("occupied: %v", g.s.Occupied())
	}
	listed(4, 5)
	// The phone of seat 1 sits again, under its own name, as another person.
	g.do(OpenLobby{}, sit(0, 1))
	if a, b := g.s.Seats[0], g.s.Seats[3]; b.Token != a.Token || b.Person == "" || b.Person == a.Person || g.s.SeatOfToken(phone(1)) != 4 {
		t.Errorf("seat 1 %+v, seat 4 %+v", a, b)
	}
	// Leaving the lobby gives the phone its old seat again.
	g.do(FreeSeat{4})
	if got := g.s.SeatOfToken(phone(1)); got != 1 {
		t.Errorf("after leaving, the phone has seat %d", got)
	}
	g.do(sit(5, 1), FreezeList{})
	listed(5)
	g.do(Open{releases()}, Serve{Round: 1})
	// Seat 3's answer was on its way when the flight ended.
	g.do(g.answer(3, 1, 0, true), g.answer(5, 1, 0, false))
	if !g.s.AllIn() {
		t.Error("seat 5 has answered, and not all are in")
	}
	g.refuse(EndFlight{}, ErrPhase)
	r := g.reveal().Tests[0]
	if r.N != 3 || r.Correct != 2 || r.Seats != 3 || r.Missing != 0 {
		t.Errorf("%+v", r)
	}
	if got := g.s.Listed(); !slices.Equal(got, []int{1, 3, 5}) {
		t.Errorf("listed after all: %v", got)
	}
	if !reflect.DeepEqual(g.s, g.replayed(g.s.Seq)) {
		t.Error("the replayed journal is another state than the live one")
	}
}

// Whole sessions in flights: all answers are one test's, by the order of each
// flight's own blocks.
func TestWholeSessionInFlights(t *testing.T) {
	for _, m := range Methods {
		p := inFlights(planOf(14, testOf(m, GoalDifference, 1), testOf(PairedComparison, GoalDifference, 1)), 5, 4, 5)
		if m.Key == PairedComparison.Key {
			p.Tests[1].Attribute = "acidity"
		}
		g := newGame(t).toSealed(p).playFlights(func(seat, set int) bool { return seat%2 == 0 || set == 2 })
		r := g.reveal()
		if len(r.Answers) != 28 || r.Tests[0].N != 14 || r.Tests[0].Correct != 7 || r.Tests[1].Correct != 14 || !r.Seal || r.Tests[0].Missing != 0 {
			t.Errorf("%s: %d answers, %+v", m.Key, len(r.Answers), r.Tests)
		}
		if !reflect.DeepEqual(g.s, g.replayed(g.s.Seq)) {
			t.Errorf("%s: the replayed journal is another state", m.Key)
		}
	}
}

// Close needs no last flight: what was not served is missing, and seats of a
// flight that never closed its list are on no list.
func TestCloseInAnyFlight(t *testing.T) {
	for name, c := range map[string]struct {
		then                    []Act
		seats, missing, answers int
	}{
		"between":       {nil, 3, 1, 2},
		"in the lobby":  {[]Act{OpenLobby{}, sit(4, 4)}, 3, 1, 2},
		"with a list":   {[]Act{OpenLobby{}, sit(4, 4), FreezeList{}}, 4, 2, 2},
		"in the second": {[]Act{OpenLobby{}, sit(4, 4), FreezeList{}, Open{releases()}, Serve{Round: 1}}, 4, 2, 2},
	} {
		g := newGame(t).toSealed(flightPlan)
		g.seatFlight()
		g.do(Serve{Round: 1}, g.answer(1, 1, 0, true), g.answer(2, 1, 0, false), EndFlight{})
		g.do(c.then...)
		g.do(Close{})
		if g.s.LobbyOpen {
			t.Errorf("%s: the lobby is open after the close", name)
		}
		g.refuse(g.answer(3, 1, 0, true), ErrPhase)
		if r := g.open().Tests[0]; r.Seats != c.seats || r.Missing != c.missing || r.N != c.answers {
			t.Errorf("%s: %d seats, %d missing, %d answers", name, r.Seats, r.Missing, r.N)
		}
	}
}

// A seat that is being moved when its flight ends is claimed no more: not by a
// newcomer with its card, and not by a phone that sat beside it, which would
// have two seats then. The phone that had it sits in the next flight.
func TestSeatMovedAcrossFlights(t *testing.T) {
	g := newGame(t).toSealed(flightPlan)
	g.seatFlight()
	g.do(Serve{Round: 1}, MoveSeat{2}, EndFlight{})
	claim := func(n int) Sit { return Sit{Seat: 2, Name: text("Taster 2"), Token: phone(n)} }
	g.refuse(claim(8), ErrPhase)
	g.refuse(claim(1), ErrPhase)
	g.do(OpenLobby{}, sit(0, 2))
	g.refuse(claim(8), ErrFlight)
	g.refuse(claim(1), ErrFlight)
	if got := g.s.SeatOfToken(phone(2)); got != 4 {
		t.Errorf("the old phone has seat %d", got)
	}
	// In its own flight it is claimed, as ever.
	g.do(MoveSeat{4}, Sit{Seat: 4, Name: text("Taster 2"), Token: phone(8)})
	if got := g.s.SeatOfToken(phone(8)); got != 4 {
		t.Errorf("the new phone has seat %d", got)
	}
}

// A replacement keeps the serving order of its set, under other codes, whatever
// the method; a blank test's cups are of one lot from two vessels.
func TestReplacementsAndVessels(t *testing.T) {
	for _, blank := range []string{"", BlankUntreated, BlankProcessed} {
		for _, m := range Methods {
			if blank != "" && !m.Overall {
				continue
			}
			test := testOf(m, GoalDifference, 1)
			test.Blank = blank
			p := planOf(6, test)
			if blank != "" {
				p.Tests = append(p.Tests, triangles(1))
			}
			g := newGame(t).toOpen(p, 6)
			g.do(Serve{Round: 1}, Void{Seat: 2, Set: 1, Reason: text("spilt"), Replace: true}, g.answer(2, 1, 1, true))
			sheet, err := g.s.PourSheet()
			if err != nil {
				t.Fatal(err)
			}
			first, again := sheet.Rounds[0].Trays[1], sheet.Called[0]
			if len(sheet.Called) != 1 || again.Seat != 2 || again.Take != 1 || len(again.Cups) != m.Cups {
				t.Fatalf("%s: called %+v", m.Key, sheet.Called)
			}
			used := map[Vessel]bool{}
			for i, cup := range again.Cups {
				if cup.Vessel != first.Cups[i].Vessel || cup.Code == first.Cups[i].Code {
					t.Errorf("%s %s: the replacement %v of %v", m.Key, blank, again.Cups, first.Cups)
				}
				used[cup.Vessel] = true
			}
			// Each vessel's lot, by the order; a blank test's cups are of one lot.
			order := g.s.sealed.Layout.Seats[1][0].Order
			lots := map[string]Lot{"A": lotGreen, "B": lotWater}
			if blank == BlankUntreated {
				lots["B"] = lotGreen
			}
			if blank == BlankProcessed {
				lots["A"] = lotWater
			}
			for i, cup := range first.Cups {
				if second := blank != "" && order[i] == 'B'; (cup.Vessel == Cross) != second {
					t.Errorf("%s %s, cup %d of %s: from the vessel %s", m.Key, blank, i+1, order, cup.Vessel)
				}
				if got := sheet.Lots[cup.Vessel]; got != lots[order[i:i+1]] {
					t.Errorf("%s %s, cup %d of %s: lot %s", m.Key, blank, i+1, order, got.Number)
				}
			}
			if len(used) != 2 || used[Cross] != (blank != "") || (sheet.Lots[Cross] != Lot{}) != (blank != "") {
				t.Errorf("%s %s: vessels %v, lots %v", m.Key, blank, used, sheet.Lots)
			}
			if r := g.reveal(); r.Tests[0].N != 1 || r.Tests[0].Correct != 1 || r.Tests[0].Voided != 1 {
				t.Errorf("%s %s: %+v", m.Key, blank, r.Tests[0])
			}
		}
	}
}

// Practice tells each taster at once, and only practice does.
func TestPracticeTellsAtOnce(t *testing.T) {
	p := planOf(3, testOf(Tetrad, GoalDifference, 2))
	for _, practice := range []bool{true, false} {
		p.Practice = practice
		g := newGame(t).toOpen(p, 2)
		g.do(Serve{Round: 1}, g.answer(1, 1, 0, true), g.answer(2, 1, 0, false))
		for seat, want := range map[int]bool{1: true, 2: false} {
			if right, _, ok := g.s.Practised(seat, 1, 0); ok != practice || right != (want && practice) {
				t.Errorf("practice %v, seat %d: right %v, told %v", practice, seat, right, ok)
			}
		}
		for _, at := range [][3]int{{1, 2, 0}, {1, 1, 1}, {3, 1, 0}, {0, 1, 0}, {4, 1, 0}} {
			if right, _, ok := g.s.Practised(at[0], at[1], at[2]); right || ok {
				t.Errorf("seat, set, take %v: %v, %v", at, right, ok)
			}
		}
		if got := holds(g.reveal().Cautions, "It never counts"); got != practice {
			t.Errorf("practice %v, and the caution stands: %v", practice, got)
		}
	}
	var s State
	if right, _, ok := s.Practised(1, 1, 0); right || ok {
		t.Error("a zero state tells of an answer")
	}
}

// What a lock says of a tetrad is kept as one answer, however it is named; the
// same sorting again changes nothing, another is refused.
func TestLockOfATetrad(t *testing.T) {
	g := newGame(t).toOpen(planOf(2, testOf(Tetrad, GoalDifference, 1)), 1)
	g.do(Serve{Round: 1})
	codes := g.s.Codes(1, 1, 0)
	lock := func(i, j int) Lock { return Lock{Seat: 1, Set: 1, Pick: codes[i], Also: codes[j], PhoneAt: noon} }
	g.refuse(Lock{Seat: 1, Set: 1, Pick: codes[0]}, ErrNotInSet)
	g.refuse(lock(2, 2), ErrNotInSet)
	g.do(lock(3, 1))
	if a := g.s.Seats[0].Sets[0].Kept(); a == nil || a.Pick != codes[0] || a.Also != codes[2] || !slices.Equal(a.Codes(), []Code{codes[0], codes[2]}) {
		t.Errorf("kept %+v of %v", a, codes)
	}
	for _, same := range [][2]int{{0, 2}, {2, 0}, {1, 3}, {3, 1}} {
		g.nothing(lock(same[0], same[1]))
	}
	for _, other := range [][2]int{{0, 1}, {2, 3}, {0, 3}, {1, 2}} {
		g.refuse(lock(other[0], other[1]), ErrAnswered)
	}
	guess := lock(0, 2)
	guess.Guess = true
	g.refuse(guess, ErrAnswered)
	d := newGame(t).toOpen(planOf(2, testOf(DuoTrio, GoalDifference, 1)), 1)
	d.do(Serve{Round: 1})
	d.refuse(Lock{Seat: 1, Set: 1, Pick: d.s.Codes(1, 1, 0)[0]}, ErrNotInSet)
}

// Errors of flights say which seat, and what is the matter.
func TestFlightErrorsSayWhat(t *testing.T) {
	g := newGame(t).toSealed(flightPlan)
	g.seatFlight()
	g.do(Serve{Round: 1}, EndFlight{}, OpenLobby{})
	_, err := g.try(Command{Act: Sit{Seat: 1, Name: text("Ulm"), Token: phone(9)}})
	if err == nil || !strings.Contains(err.Error(), "seat 1") || !strings.Contains(err.Error(), "another flight") {
		t.Errorf("a card of another flight: %v", err)
	}
}
