package console

import (
	"strings"
	"testing"

	"oddcup/session"
)

// named takes a seat under a name, by the phone of a number.
func (b *table) named(seat int, name string, phone byte) {
	b.t.Helper()
	b.as(session.Taster(seat), session.Sit{Seat: seat, Name: b.text(name), Token: session.HashToken([]byte{phone})})
}

// One person who takes a second seat is told of while something can be done about
// it: in the lobby and on the board, at once and in a later flight.
func TestHostHearsOfOnePersonInTwoSeats(t *testing.T) {
	b := start(t, flightsPlan())
	const two = "Seats 1 and 3 are under one name, Zoë."
	b.do(session.OpenLobby{})
	b.named(1, "Zoë", 1)
	b.named(2, "Ori", 2)
	b.saysNot(b.page("lobby"), "under one name", "one phone")
	b.named(3, " ZOE ", 3)
	b.named(4, "Ulm", 4)
	b.wants(b.page("lobby"), two, "If it is one person, free seat 3")
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.wants(b.page("board"), two, "mark seat 3 as gone before it answers")
	b.taste([]int{1, 2, 3, 4}, always(true))
	b.press("flight/end", "lobby", "flight", "1")
	// The flight that is over can't be helped any more.
	b.saysNot(b.page("lobby"), "under one name")
	b.do(session.OpenLobby{})
	b.named(5, "ulm", 5)
	b.named(6, "Pia", 2)
	b.named(7, "Sol", 7)
	body := b.page("lobby")
	b.wants(body, "Seats 4 and 5 are under one name, Ulm.", "Seats 2 and 6 were taken by one phone.", "who comes again is no new assessor")
	b.saysNot(body, two)
	if n := strings.Count(body, "If it is one person"); n != 2 {
		t.Errorf("%d warnings, want 2", n)
	}
}

// Two lobbies that are open at once are allowed, and said on both and at home.
func TestTwoOpenLobbiesAreSaid(t *testing.T) {
	b := start(t, tablePlan(6))
	b.do(session.OpenLobby{})
	b.saysNot(b.page("lobby"), "Another lobby is open")
	b.saysNot(b.home(), "lobbies are open at once")

	const second = session.ID("20260414-100000-other")
	p := tablePlan(6)
	p.Title = "Evening session"
	room, err := b.rooms.New(t.Context(), second)
	if err != nil {
		t.Fatal(err)
	}
	sealing, err := session.Seal(p, strings.NewReader(strings.Repeat("another seed of the draw, and its salt ", 9)))
	if err != nil {
		t.Fatal(err)
	}
	pin, err := session.NewPin("4711", tableChance())
	if err != nil {
		t.Fatal(err)
	}
	for _, act := range []session.Act{session.Draft{Plan: p}, session.SetPin{Pin: pin}, session.SealPlan{Sealing: sealing}, session.OpenLobby{}} {
		if _, err := room.Do(t.Context(), session.Command{At: b.at, Actor: session.Host, Act: act}); err != nil {
			t.Fatalf("%T: %v", act, err)
		}
	}
	b.wants(b.page("lobby"), "Another lobby is open as well", "Evening session", `href="/s/`+string(second)+`/lobby"`)
	b.wants(b.home(), "2 lobbies are open at once", "Tuesday session", "Evening session")
	b.sit(1)
	b.do(session.FreezeList{})
	b.saysNot(b.home(), "lobbies are open at once")
}

// The board tells the tray that was taken out from another seat's.
func TestBoardKnowsTheTrayTakenOut(t *testing.T) {
	b := start(t, tablePlan(6))
	b.come()
	b.do(session.Serve{Round: 1})
	b.do(session.Void{Seat: 2, Set: 1, Reason: b.text("spilled"), Replace: true})
	s := b.room.State()
	if got, want := whoseCode(s, &s.Seats[1], s.Codes(2, 1, 0)[0]), "It stands on the tray of this set that was taken out: take that one away."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
