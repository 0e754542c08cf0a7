package session

import (
	"errors"
	"strings"
	"testing"
)

// Who has no phone sits by hand and answers on paper, which the host types in
// under the rules of every answer.
func TestPaperBallot(t *testing.T) {
	g := newGame(t).toSealed(planOf(3, triangles(1)))
	g.do(OpenLobby{}, sit(1, 1), SitByHand{Name: text("Odo")}, SitByHand{Seat: 3, Name: text("Ulla")})
	g.refuse(SitByHand{Seat: 3, Name: text("Ben")}, ErrTaken)
	g.refuse(SitByHand{Name: text("Ben")}, ErrFull)
	g.refuse(SitByHand{Seat: 9, Name: text("Ben")}, ErrNoSeat)
	if !g.s.Seats[1].ByHand() || !g.s.Seats[2].ByHand() || g.s.Seats[0].ByHand() {
		t.Fatal("who sits by hand?")
	}
	// A seat without a phone answers to no token, the zero one least of all.
	if n := g.s.SeatOfToken(Hash{}); n != 0 {
		t.Errorf("the zero token has seat %d", n)
	}
	g.do(FreezeList{}, Open{releases()}, Serve{Round: 1})
	lock := g.answer(2, 1, 0, true)
	lock.Paper = true
	g.do(lock)
	g.nothing(lock)
	other := g.answer(2, 1, 0, false)
	other.Paper = true
	g.refuse(other, ErrAnswered)
	if a := g.s.Seats[1].Sets[0].Kept(); a == nil || !a.Paper {
		t.Fatalf("%+v", a)
	}
	// A phone found later takes the seat over.
	g.do(MoveSeat{3}, Sit{Seat: 3, Name: text("Ulla"), Token: phone(7)})
	if g.s.Seats[2].ByHand() || g.s.SeatOfToken(phone(7)) != 3 {
		t.Error("the seat has no phone")
	}
	g.do(g.answer(1, 1, 0, false), g.answer(3, 1, 0, false))
	r := g.reveal()
	if r.Tests[0].N != 3 || r.Tests[0].Correct != 1 {
		t.Errorf("%d of %d", r.Tests[0].Correct, r.Tests[0].N)
	}
	if !holds(r.Cautions, "Seat 2 answered on paper") || holds(r.Cautions, "Seat 3") || !holds(r.Cautions, "was not shown whether it was right") {
		t.Errorf("%q", r.Cautions)
	}
}

// What is done while the seal is broken is told as done by who could know.
func TestBrokenSealIsToldWithWhatFollowed(t *testing.T) {
	paper := func(g *game, seat int) {
		lock := g.answer(seat, 1, 0, true)
		lock.Paper = true
		g.do(lock)
	}
	g := newGame(t).toOpen(planOf(3, triangles(1)), 3)
	g.do(Serve{Round: 1})
	paper(g, 1)
	g.do(BreakSeal{text("two vessels were mixed up")})
	paper(g, 2)
	g.do(g.answer(3, 1, 0, true), Close{}, Amend{Seat: 3, Set: 1, Reason: text("wrong tray")})
	if reason, yes := g.s.SingleBlind(); !yes || !strings.Contains(reason, "broken before the tasting ended") {
		t.Errorf("single blind: %q", reason)
	}
	r := g.open()
	for _, want := range []string{
		"Seat 1 answered on paper, and the host typed it in: the host knew what was picked, and was not shown",
		"Seat 2 answered on paper, and the host typed it in after the seal was broken: the host knew what was picked, and could know whether it was right.",
		"That was after the seal was broken, when the key and so the answers could be known.", "Single blind: the seal was broken before the tasting ended",
	} {
		if !holds(r.Cautions, want) {
			t.Errorf("no caution says %q: %q", want, r.Cautions)
		}
	}
	g.do(Amend{Seat: 2, Set: 1, Reason: text("wrong tray")})
	if k := g.s.Seats[1].Sets[0].Takes[0].Amend.Known; k != KnownByReveal {
		t.Errorf("after the reveal the answers are known by %q", k)
	}

	// After the close nobody tastes any more.
	g = newGame(t).toOpen(planOf(3, triangles(1)), 3)
	g.do(Serve{Round: 1}, Close{}, BreakSeal{text("curious")})
	if reason, yes := g.s.SingleBlind(); yes {
		t.Errorf("broken after the tasting: %q", reason)
	}
}

// A set taken out after the close changes an amended result, and never the
// registered one.
func TestAmendment(t *testing.T) {
	g, r := played(t, planOf(24, triangles(1), pairOn("body")), 24, 13, 17)
	if r.Amended != nil {
		t.Fatal("nothing was amended")
	}
	entry := g.s.Result
	right := 0
	for seat := 1; seat <= 24 && right == 0; seat++ {
		if a := g.s.Seats[seat-1].Sets[0].Kept(); a != nil && a.Pick == g.s.answersOf(seat - 1)[0].Counted[0] {
			right = seat
		}
	}
	g.refuse(Amend{Seat: right, Set: 1, Take: 1, Reason: text("wrong vessel")}, ErrNotFront)
	g.refuse(Amend{Seat: right, Set: 1}, ErrWords)
	g.do(Amend{Seat: right, Set: 1, Reason: text("wrong vessel")})
	g.refuse(Amend{Seat: right, Set: 1, Reason: text("again")}, ErrVoided)
	after, err := g.s.Compute()
	if err != nil {
		t.Fatal(err)
	}
	if x := after.Tests[0]; x.N != 24 || x.Correct != 13 || x.Outcome != Different || g.s.Result != entry {
		t.Errorf("the registered result changed: %d of %d, %s", x.Correct, x.N, x.Outcome)
	}
	// 12 of 23 by R 4.2.2: pbinom(11, 23, 1/3, lower.tail = FALSE), and with it
	// the order goes on to the pairs.
	if x := after.Amended[0]; x.N != 23 || x.Correct != 12 || !near(x.P, 0.048049953564, 1e-11) || x.Outcome != Different {
		t.Errorf("amended: %d of %d, p %v, %s", x.Correct, x.N, x.P, x.Outcome)
	}
	if x := after.Amended[1]; x.N != 24 || x.Outcome != Different {
		t.Errorf("amended pairs: %+v", x)
	}
	if !holds(after.Cautions, "taken out after the close (wrong vessel)") {
		t.Errorf("%q", after.Cautions)
	}
}

// Breaking the seal is deliberate, once, and stands in every later answer.
func TestBrokenSeal(t *testing.T) {
	g := newGame(t).toOpen(planOf(6, triangles(1)), 6)
	if _, err := g.s.Key(); !errors.Is(err, ErrSealed) {
		t.Fatalf("the key is open: %v", err)
	}
	g.refuse(BreakSeal{}, ErrWords)
	g.do(BreakSeal{text("the vessels were mixed up")})
	g.nothing(BreakSeal{text("again")})
	if _, err := g.s.Key(); err != nil {
		t.Errorf("the key is shut: %v", err)
	}
	if _, err := g.s.Compute(); !errors.Is(err, ErrSealed) {
		t.Errorf("a result before the reveal: %v", err)
	}
	r := g.play(6, func(int, int) bool { return true }).reveal()
	if len(r.Cautions) == 0 || !strings.HasPrefix(r.Cautions[0], "The seal was broken before the reveal (the vessels were mixed up).") {
		t.Errorf("%q", r.Cautions)
	}
}

func TestDeviations(t *testing.T) {
	g := newGame(t).toOpen(planOf(6, triangles(1)), 6)
	g.refuse(NoteDeviation{}, ErrWords)
	g.do(NoteDeviation{text("The lamp over seat 3 was white")}, NoteDeviation{text("one kettle, two pours.")})
	if len(g.s.Deviations) != 2 || g.s.Deviations[0].Words.Words != "The lamp over seat 3 was white" {
		t.Fatalf("%+v", g.s.Deviations)
	}
	r := g.play(6, func(int, int) bool { return true }).reveal()
	if !holds(r.Cautions, "Not as planned: The lamp over seat 3 was white.") || !holds(r.Cautions, "Not as planned: one kettle, two pours.") {
		t.Errorf("%q", r.Cautions)
	}
}
