package session

import (
	"errors"
	"slices"
	"testing"
)

func TestFirstAnswerStands(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 3)
	g.do(Serve{Round: 1})
	first := g.answer(1, 1, 0, true)
	first.Guess = true
	g.do(first)
	kept := g.s.Seats[0].Sets[0].Kept()
	if kept == nil || kept.Pick != first.Pick || !kept.Guess || !kept.At.Equal(g.now) || !kept.PhoneAt.Equal(first.PhoneAt) {
		t.Fatalf("kept: %+v", kept)
	}
	g.nothing(first)
	later := first
	later.PhoneAt = later.PhoneAt.AddDate(1, 0, 0)
	g.nothing(later)
	g.refuse(g.answer(1, 1, 0, false), ErrAnswered)
	sure := first
	sure.Guess = false
	g.refuse(sure, ErrAnswered)
	stranger := first
	stranger.Pick = 999
	g.refuse(stranger, ErrAnswered)
	if g.s.Seats[0].Answered() != 1 {
		t.Errorf("%d sets answered", g.s.Seats[0].Answered())
	}
}

func TestAnswersThatAreRefused(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 3)
	g.refuse(Lock{Seat: 1, Set: 1, Pick: g.s.Codes(1, 1, 0)[0]}, ErrNotFront)
	g.do(Serve{Round: 1})
	mine, yours := g.s.Codes(1, 1, 0), g.s.Codes(2, 1, 0)
	for _, c := range []struct {
		name string
		lock Lock
		want error
	}{
		{"no code", Lock{Seat: 1, Set: 1}, ErrNotInSet},
		{"a code of no cup", Lock{Seat: 1, Set: 1, Pick: 609}, ErrNotInSet},
		{"another seat's code", Lock{Seat: 1, Set: 1, Pick: yours[0]}, ErrNotInSet},
		{"a code of the next set", Lock{Seat: 1, Set: 1, Pick: g.s.Codes(1, 2, 0)[0]}, ErrNotInSet},
		{"a code of the replacement", Lock{Seat: 1, Set: 1, Pick: g.s.Codes(1, 1, 1)[0]}, ErrNotInSet},
		{"the replacement not called", Lock{Seat: 1, Set: 1, Take: 1, Pick: g.s.Codes(1, 1, 1)[0]}, ErrNotFront},
		{"take -1", Lock{Seat: 1, Set: 1, Take: -1, Pick: mine[0]}, ErrNotFront},
		{"the next set", Lock{Seat: 1, Set: 2, Pick: g.s.Codes(1, 2, 0)[0]}, ErrNotFront},
		{"set 0", Lock{Seat: 1, Set: 0, Pick: mine[0]}, ErrNotFront},
		{"set 3", Lock{Seat: 1, Set: 3, Pick: mine[0]}, ErrNotFront},
		{"seat 0", Lock{Seat: 0, Set: 1, Pick: mine[0]}, ErrNotFront},
		{"seat 5", Lock{Seat: 5, Set: 1, Pick: mine[0]}, ErrNotFront},
		{"an empty seat", Lock{Seat: 4, Set: 1, Pick: g.s.Codes(4, 1, 0)[0]}, ErrNotFront},
	} {
		if _, err := g.try(Command{Act: c.lock}); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		}
	}
	if g.s.Seats[0].Answered() != 0 {
		t.Error("a refused answer is kept")
	}
	for i, c := range mine {
		g := newGame(t).toOpen(planOf(4, triangles(2)), 3)
		g.do(Serve{Round: 1}, Lock{Seat: 1, Set: 1, Pick: c})
		if g.s.Seats[0].Answered() != 1 {
			t.Errorf("cup %d can't be picked", i+1)
		}
	}
}

// Sets are answered in order: a seat that is late has its earlier set in front.
func TestLateSeatAnswersInOrder(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 2)
	g.do(Serve{Round: 1}, Serve{Round: 2})
	g.refuse(g.answer(1, 2, 0, true), ErrNotFront)
	g.do(g.answer(1, 1, 0, true), g.answer(1, 2, 0, true))
	if _, _, ok := g.s.Seats[0].Front(); ok {
		t.Error("all is answered, and a set is in front")
	}
	g.do(Pause{}, g.answer(2, 1, 0, true)) // answers in hand are kept in a pause
}

func TestVoidAndReplacement(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 2)
	g.do(Serve{Round: 1}, g.answer(1, 1, 0, true))
	spilt := Void{Seat: 1, Set: 1, Reason: text("spilt"), Replace: true}
	if events := g.do(spilt); len(events) != 2 {
		t.Fatalf("%d events, want voided and called", len(events))
	}
	if g.s.Seats[0].Answered() != 0 || g.s.Seats[0].Sets[0].Kept() != nil {
		t.Error("the answer of a voided set counts")
	}
	if set, take, ok := g.s.Seats[0].Front(); !ok || set != 1 || take != 1 {
		t.Errorf("in front: set %d, take %d, %v", set, take, ok)
	}
	if a, b := g.s.Codes(1, 1, 0), g.s.Codes(1, 1, 1); slices.Equal(a, b) {
		t.Error("the replacement has the codes of the set")
	}
	g.refuse(spilt, ErrVoided)
	g.refuse(g.answer(1, 1, 0, true), ErrVoided)
	g.refuse(Lock{Seat: 1, Set: 1, Take: 1, Pick: g.s.Codes(1, 1, 0)[0]}, ErrNotInSet)
	g.do(g.answer(1, 1, 1, false))
	if k := g.s.Seats[0].Sets[0].Kept(); k == nil || g.s.Seats[0].Answered() != 1 {
		t.Errorf("kept after the replacement: %+v", k)
	}
	again := Void{Seat: 1, Set: 1, Take: 1, Reason: text("cold"), Replace: true}
	g.refuse(again, ErrNoMore)
	if g.s.Seats[0].Sets[0].Takes[1].Void != nil {
		t.Error("a refused void took the set out")
	}
	again.Replace = false
	g.do(again)
	if g.s.Seats[0].Answered() != 0 {
		t.Error("the answer of a voided replacement counts")
	}
}

func TestVoidsThatAreRefused(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 2)
	g.do(Serve{Round: 1})
	why := text("spilt")
	for _, c := range []struct {
		name string
		void Void
		want error
	}{
		{"no reason", Void{Seat: 1, Set: 1}, ErrWords},
		{"seat 0", Void{Set: 1, Reason: why}, ErrNotFront},
		{"seat 9", Void{Seat: 9, Set: 1, Reason: why}, ErrNotFront},
		{"a set to come", Void{Seat: 1, Set: 2, Reason: why}, ErrNotFront},
		{"set 0", Void{Seat: 1, Reason: why}, ErrNotFront},
		{"take -1", Void{Seat: 1, Set: 1, Take: -1, Reason: why}, ErrNotFront},
		{"take 1", Void{Seat: 1, Set: 1, Take: 1, Reason: why}, ErrNotFront},
		{"a seat off the list", Void{Seat: 4, Set: 1, Reason: why}, ErrNotFront},
	} {
		if _, err := g.try(Command{Act: c.void}); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		}
	}
}

// Nobody goes back to an earlier set: its replacement would follow a later one,
// and a triangle an attribute test.
func TestNoReplacementBehindALaterSet(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(1), pairOn("body")), 2)
	g.do(Serve{Round: 1}, g.answer(1, 1, 0, true), Serve{Round: 2})
	void := Void{Seat: 1, Set: 1, Reason: text("wrong vessel"), Replace: true}
	g.refuse(void, ErrNoMore)
	if err := g.s.CanReplace(1, 1, 0); !errors.Is(err, ErrNoMore) {
		t.Errorf("can it be poured again: %v", err)
	}
	void.Replace = false
	g.do(void)
	if g.s.Seats[0].Answered() != 0 {
		t.Error("a voided answer counts")
	}
	if set, _, ok := g.s.Seats[0].Front(); !ok || set != 2 {
		t.Errorf("in front is set %d, %v", set, ok)
	}
}

func TestNoReplacementForWhoLeft(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(1)), 2)
	g.do(Serve{Round: 1}, LeaveSeat{1, text("ill")})
	void := Void{Seat: 1, Set: 1, Reason: text("not tasted"), Replace: true}
	g.refuse(void, ErrNotHere)
	void.Replace = false
	g.do(void)
	for _, seat := range []int{0, 5} {
		if g.s.CanReplace(seat, 1, 0) == nil {
			t.Errorf("seat %d can be poured for again", seat)
		}
	}
}

func TestCodesAreCopies(t *testing.T) {
	g := newGame(t).toSealed(planOf(4, triangles(1)))
	g.s.Codes(1, 1, 0)[0] = 1
	if g.s.Codes(1, 1, 0)[0] == 1 {
		t.Error("a caller can change the codes of the state")
	}
	for _, c := range [][3]int{{0, 1, 0}, {5, 1, 0}, {1, 0, 0}, {1, 2, 0}, {1, 1, -1}, {1, 1, 2}} {
		if g.s.Codes(c[0], c[1], c[2]) != nil {
			t.Errorf("tray %v has codes", c)
		}
	}
}
