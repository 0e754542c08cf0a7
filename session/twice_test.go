package session

import (
	"fmt"
	"testing"
)

func TestSeatedTwice(t *testing.T) {
	p := inFlights(planOf(8, triangles(1)), 4, 4)
	g := newGame(t).toSealed(p)
	seated := func() string {
		var say string
		for _, x := range g.s.SeatedTwice() {
			say += fmt.Sprintf("%v %q %v; ", x.Seats, x.Name, x.Phone)
		}
		return say
	}
	for _, c := range []struct {
		act  Act
		want string
	}{
		{OpenLobby{}, ""},
		{Sit{Seat: 1, Name: text("Zoë"), Token: phone(1)}, ""},
		{Sit{Seat: 2, Name: text("Ori"), Token: phone(2)}, ""},
		{Sit{Seat: 3, Name: text(" zoe"), Token: phone(3)}, `[1 3] "Zoë" false; `},
		{FreeSeat{Seat: 3}, ""},
		{SitByHand{Seat: 3, Name: text("ORI")}, `[2 3] "Ori" false; `},
		{SitByHand{Seat: 4, Name: text("Ulm")}, `[2 3] "Ori" false; `}, // paper is no phone
		{FreezeList{}, `[2 3] "Ori" false; `},
		{Open{releases()}, `[2 3] "Ori" false; `},
		{EndFlight{}, `[2 3] "Ori" false; `},
		{OpenLobby{}, `[2 3] "Ori" false; `},
		{Sit{Seat: 5, Name: text("Pia"), Token: phone(1)}, `[2 3] "Ori" false; [1 5] "" true; `},
		{Sit{Seat: 6, Name: text("ori"), Token: phone(2)}, `[2 3 6] "Ori" false; [1 5] "" true; [2 6] "" true; `},
	} {
		g.do(c.act)
		if got := seated(); got != c.want {
			t.Errorf("after %T: %s, want %s", c.act, got, c.want)
		}
	}
}

// One name at one table is told of in the result as well, and one that nobody is
// seated under twice is not.
func TestResultTellsOfOneNameAtATable(t *testing.T) {
	p := planOf(6, triangles(1))
	s := answered(p, seedOf(1), counting(6))
	names := []string{"Ena", "Ori", "Ulm", "Sol", "Ivo", "Mei"}
	name := func() {
		for i := range s.Seats {
			s.Seats[i].Name, s.Seats[i].Person = text(names[i]), fmt.Sprint(i)
		}
	}
	if name(); holds(s.compute().Cautions, "one person") {
		t.Errorf("%q", s.compute().Cautions)
	}
	names[4] = "ENA"
	if name(); !holds(s.compute().Cautions, "1 name took more than one seat at a table. Answers of one person are not independent") {
		t.Errorf("%q", s.compute().Cautions)
	}
}
