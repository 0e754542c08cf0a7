package session

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
)

func sit(seat, n int) Sit {
	return Sit{Seat: seat, Name: text(fmt.Sprintf("Taster %d", n)), Token: phone(n)}
}

func TestSeatsGoInDealtOrder(t *testing.T) {
	g := newGame(t).toSealed(planOf(4, triangles(1)))
	g.do(OpenLobby{}, sit(2, 1), sit(0, 2), sit(0, 3), sit(0, 4))
	for n, seat := range map[int]int{1: 2, 2: 1, 3: 3, 4: 4, 5: 0} {
		if got := g.s.SeatOfToken(phone(n)); got != seat {
			t.Errorf("phone %d has seat %d, want %d", n, got, seat)
		}
	}
	g.refuse(sit(0, 5), ErrFull)
	g.refuse(sit(4, 5), ErrTaken)
	g.refuse(sit(5, 5), ErrNoSeat)
	g.refuse(sit(-1, 5), ErrNoSeat)
	g.nothing(sit(0, 1))
	g.nothing(sit(3, 1))
	if g.s.SeatOfToken(phone(1)) != 2 {
		t.Error("a phone lost its seat by asking for another")
	}
}

func TestFreedSeatCanBeTaken(t *testing.T) {
	g := newGame(t).toSealed(planOf(3, triangles(1)))
	g.do(OpenLobby{}, sit(0, 1), sit(0, 2), MoveSeat{1}, FreeSeat{1})
	if s := g.s.Seats[0]; s.Person != "" || s.Name.Words != "" || !s.Token.IsZero() || s.Claiming || s.Number != 1 || len(s.Sets) != 1 {
		t.Errorf("a freed seat keeps %+v", s)
	}
	g.refuse(FreeSeat{1}, ErrNotHere)
	g.refuse(FreeSeat{9}, ErrNoSeat)
	g.do(sit(0, 3))
	if g.s.SeatOfToken(phone(3)) != 1 || g.s.SeatOfToken(phone(1)) != 0 {
		t.Error("the freed seat did not go to the next phone")
	}
}

func TestDoors(t *testing.T) {
	g := newGame(t).toSealed(planOf(3, triangles(1)))
	if seat, ok := g.s.SeatOfDoor(g.s.Door()); !ok || seat != 0 {
		t.Errorf("the common door gives seat %d, %v", seat, ok)
	}
	for n := 1; n <= 3; n++ {
		if seat, ok := g.s.SeatOfDoor(g.s.PlaceDoor(n)); !ok || seat != n {
			t.Errorf("the card of seat %d gives %d, %v", n, seat, ok)
		}
	}
	for _, door := range []string{"", "XXXXXX", strings.ToLower(g.s.Door())} {
		if _, ok := g.s.SeatOfDoor(door); ok {
			t.Errorf("door %q opens", door)
		}
	}
	if g.s.PlaceDoor(0) != "" || g.s.PlaceDoor(4) != "" {
		t.Error("there are cards for seats that are not")
	}
}

func TestFrozenListKeepsLateJoinersOut(t *testing.T) {
	g := newGame(t).toSealed(planOf(5, triangles(1)))
	g.do(OpenLobby{}, sit(4, 1), sit(0, 2), FreezeList{})
	for _, seat := range []int{0, 2, 5, 4} {
		g.refuse(sit(seat, 7), ErrFrozen)
	}
	if got := g.s.Listed(); !slices.Equal(got, []int{1, 4}) {
		t.Errorf("the list is %v, want seats 1 and 4", got)
	}
	g.refuse(FreeSeat{1}, ErrFrozen)
	g.refuse(FreezeList{}, ErrFrozen)
	g.refuse(OpenLobby{}, ErrPhase)
}

func TestListBeforeTheFreeze(t *testing.T) {
	g := newGame(t).toSealed(planOf(3, triangles(1)))
	g.refuse(FreezeList{}, ErrNotHere)
	g.do(OpenLobby{}, sit(0, 1))
	if got := g.s.Listed(); len(got) != 3 {
		t.Errorf("before the freeze all seats are poured for, not %v", got)
	}
	if got := g.s.Occupied(); !slices.Equal(got, []int{1}) {
		t.Errorf("occupied: %v", got)
	}
}

// A person whose phone has died goes on with another one: the old phone loses
// the seat at once, the next that claims the seat gets it, and what the seat
// holds stays.
func TestSeatMoves(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 2)
	g.do(Serve{Round: 1}, g.answer(1, 1, 0, true))
	before := g.s.Seats[0]
	g.do(MoveSeat{1})
	g.nothing(MoveSeat{1})
	if g.s.SeatOfToken(phone(1)) != 0 {
		t.Error("the old phone still has the seat")
	}
	g.refuse(sit(0, 8), ErrFrozen)
	g.refuse(sit(2, 8), ErrFrozen)
	if events := g.do(Sit{Seat: 1, Token: phone(8)}); len(events) != 1 {
		t.Fatalf("claiming caused %d events", len(events))
	}
	after := g.s.Seats[0]
	if g.s.SeatOfToken(phone(8)) != 1 || g.s.SeatOfToken(phone(1)) != 0 || after.Claiming {
		t.Error("the seat did not go to the phone that claimed it")
	}
	if after.Person != before.Person || after.Name.Words != before.Name.Words || after.Answered() != 1 || !after.Joined.Equal(before.Joined) {
		t.Errorf("the person changed: %+v, before %+v", after, before)
	}
	g.refuse(sit(1, 1), ErrFrozen)
	g.refuse(sit(1, 9), ErrFrozen)
	g.nothing(sit(1, 8))
	g.do(Serve{Round: 2}, g.answer(1, 2, 0, true))
}

// A phone that has a seat keeps it: it can't claim a second one.
func TestSeatedPhoneClaimsNoOther(t *testing.T) {
	g := newGame(t).toFrozen(planOf(4, triangles(1)), 2)
	g.do(MoveSeat{1})
	g.nothing(sit(1, 2))
	if g.s.SeatOfToken(phone(2)) != 2 || !g.s.Seats[0].Claiming {
		t.Error("seat 1 went to the phone at seat 2")
	}
}

// The person number is what a person's answers are kept and erased by: a phone
// that is handed on must not make two persons one.
func TestPersonsAreDistinct(t *testing.T) {
	g := newGame(t).toSealed(planOf(4, triangles(1)))
	g.do(OpenLobby{}, sit(1, 1), MoveSeat{1}, Sit{Seat: 1, Token: phone(2)})
	g.do(Sit{Seat: 2, Name: text("Somebody else"), Token: phone(1)})
	if a, b := g.s.Seats[0].Person, g.s.Seats[1].Person; a == b || a == "" {
		t.Errorf("seats 1 and 2 have the same person %q", a)
	}
	first := g.s.Seats[1].Person
	g.do(FreeSeat{2}, Sit{Seat: 2, Name: text("A third"), Token: phone(1)})
	if g.s.Seats[1].Person == first {
		t.Errorf("who sat down at a freed seat has the person %q of who left it", first)
	}
}

func TestLeaving(t *testing.T) {
	g := newGame(t).toSealed(planOf(4, triangles(2)))
	g.do(OpenLobby{}, sit(0, 1), sit(0, 2), sit(0, 3))
	g.refuse(LeaveSeat{1, text("ill")}, ErrPhase)
	g.do(FreezeList{}, Open{releases()}, Serve{Round: 1})
	g.do(g.answer(1, 1, 0, true))
	g.refuse(LeaveSeat{1, text(" ")}, ErrWords)
	g.refuse(LeaveSeat{4, text("ill")}, ErrNotHere)
	g.do(LeaveSeat{1, text("ill")})
	g.refuse(LeaveSeat{1, text("ill")}, ErrNotHere)
	g.refuse(MoveSeat{1}, ErrNotHere)
	g.do(LeaveSeat{2, text("a call")})
	if s := g.s.Seats[0]; !s.Left || s.LeftFor.Words != "ill" || s.Answered() != 1 {
		t.Errorf("seat 1: %+v", s)
	}
	g.refuse(g.answer(2, 1, 0, true), ErrNotFront)
	if got := g.s.Occupied(); !slices.Equal(got, []int{3}) {
		t.Errorf("occupied: %v", got)
	}
	if g.s.AllIn() {
		t.Error("seat 3 has not answered, and all are in")
	}
	g.do(g.answer(3, 1, 0, false))
	if !g.s.AllIn() {
		t.Error("who has not left has answered, and not all are in")
	}
	g.do(Serve{Round: 2})
	if g.s.Seats[0].Sets[1].Last() != nil || g.s.Seats[2].Sets[1].Last() == nil {
		t.Error("round 2 went to who left, or not to who stayed")
	}
}

func TestNames(t *testing.T) {
	g := newGame(t).toSealed(planOf(6, triangles(1)))
	g.do(OpenLobby{})
	for _, name := range []string{"", "   ", strings.Repeat("é", 41), "Em\xff"} {
		g.refuse(Sit{Name: text(name), Token: phone(1)}, ErrWords)
	}
	g.do(Sit{Name: text(strings.Repeat("é", 40)), Token: phone(1)})
}

// A name or reason has an end, blanks included: it is kept as typed.
func TestBlanksDoNotStretchWords(t *testing.T) {
	g := newGame(t).toSealed(planOf(6, triangles(1)))
	g.do(OpenLobby{})
	long := text("Em" + strings.Repeat(" ", 100_000))
	if _, err := g.try(Command{Act: Sit{Name: long, Token: phone(1)}}); !errors.Is(err, ErrWords) {
		t.Errorf("a name of 100002 characters: %v", err)
	}
	if _, err := g.try(Command{Act: Abandon{long}}); !errors.Is(err, ErrWords) {
		t.Errorf("a reason of 100002 characters: %v", err)
	}
}

// A phone whose seat was handed over is known, as long as the seat's flight is at
// the table and the seat is not up for another hand-over.
func TestMovedOn(t *testing.T) {
	g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	if g.s.MovedOn(phone(1)) || g.s.MovedOn(phone(9)) || g.s.MovedOn(Hash{}) {
		t.Error("nothing was handed over")
	}
	old := g.s.Seats[0].Token
	g.do(MoveSeat{1})
	if g.s.MovedOn(old) {
		t.Error("the old phone could take the seat again, and is sent away")
	}
	g.do(Sit{Seat: 1, Name: text("Taster 1"), Token: phone(50)})
	if !g.s.MovedOn(old) || g.s.MovedOn(phone(50)) || g.s.MovedOn(phone(9)) {
		t.Error("seat 1 goes on with phone 50")
	}
	g.do(MoveSeat{1}, Sit{Seat: 1, Name: text("Taster 1"), Token: phone(51)})
	if !g.s.MovedOn(old) || !g.s.MovedOn(phone(50)) {
		t.Error("both old phones had seat 1")
	}
	g.do(LeaveSeat{Seat: 1, Reason: text("had to go")})
	if g.s.MovedOn(old) {
		t.Error("nobody has seat 1 any more")
	}
}
