package session

import (
	"testing"
	"time"
)

// TestUntiedNames: one row a name, whatever its spelling; tied, erased and practice
// seats are none, and a name is suggested where one person bears it.
func TestUntiedNames(t *testing.T) {
	rooms, err := NewRooms(t.Context(), new(Memory))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	at := noon
	lab := func(act Act) {
		t.Helper()
		at = at.Add(time.Second)
		if _, err := rooms.Lab().Do(t.Context(), Command{At: at, Actor: Host, Act: act}); err != nil {
			t.Fatalf("%T: %v", act, err)
		}
	}
	lab(EnterPerson{Facts: PersonFacts{Name: text("Ána Vell"), Pseudonym: "J 01"}})
	lab(EnterPerson{Facts: PersonFacts{Name: text("Bo Tarn"), Pseudonym: "J 02"}})
	lab(EnterPerson{Facts: PersonFacts{Name: text("bo tarn"), Pseudonym: "J 03"}})
	play := func(id ID, practice bool, names ...string) {
		t.Helper()
		room, err := rooms.New(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		p := planOf(4, triangles(1))
		p.Practice = practice
		do := func(who Actor, act Act) {
			t.Helper()
			at = at.Add(time.Second)
			if _, err := room.Do(t.Context(), Command{At: at, Actor: who, Act: act}); err != nil {
				t.Fatalf("%T: %v", act, err)
			}
		}
		do(Host, Draft{Plan: p})
		pin, err := NewPin("4711", chance(1))
		if err != nil {
			t.Fatal(err)
		}
		do(Host, SetPin{Pin: pin})
		do(Host, SealPlan{Sealing: sealing(t, p, 1)})
		do(Host, OpenLobby{})
		for i, name := range names {
			do(Taster(i+1), Sit{Seat: i + 1, Name: text(name), Token: phone(i + 1)})
		}
		do(Host, FreezeList{})
	}
	find := func(want map[string]int, nameless int) map[string]UntiedName {
		t.Helper()
		names, none, err := rooms.UntiedNames(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]UntiedName{}
		for _, n := range names {
			got[n.Name] = n
			if len(n.Seats) != want[n.Name] {
				t.Errorf("%q has %d seats, want %d", n.Name, len(n.Seats), want[n.Name])
			}
		}
		if len(names) != len(want) || none != nameless {
			t.Errorf("%d names and %d seats without one, want %d and %d: %+v", len(names), none, len(want), nameless, names)
		}
		return got
	}
	const first, second, practice = ID("20260414-090000-aaaa"), ID("20260415-090000-bbbb"), ID("20260416-090000-cccc")
	play(first, false, "ana vell", "Bo Tarn", "Cira")
	play(second, false, "ANA  VELL", "Dov")
	play(practice, true, "Ebba", "Fenn")
	got := find(map[string]int{"ANA  VELL": 2, "Bo Tarn": 1, "Cira": 1, "Dov": 1}, 0)
	if ana := got["ANA  VELL"]; ana.Suggested != "p-1" || len(ana.Spellings) != 1 || ana.Seats[0].Session != second {
		t.Errorf("under two spellings: %+v", ana)
	}
	if bo := got["Bo Tarn"]; bo.Suggested != "" {
		t.Errorf("a name that two bear suggests %s", bo.Suggested)
	}
	lab(TieSeats{Person: "p-1", Seats: []SeatRef{{first, 1}, {second, 1}}})
	find(map[string]int{"Bo Tarn": 1, "Cira": 1, "Dov": 1}, 0)
	lab(TieSeats{Person: "p-2", Seats: []SeatRef{{first, 2}}})
	if err := rooms.Erase(t.Context(), Command{At: at, Actor: Host, Act: ErasePerson{Person: "p-2"}}); err != nil {
		t.Fatal(err)
	}
	find(map[string]int{"Cira": 1, "Dov": 1}, 0)
	lab(UntieSeat{SeatRef{second, 1}})
	find(map[string]int{"ANA  VELL": 1, "Cira": 1, "Dov": 1}, 0)
	// An erased person's seats stay that person's. Where the words are gone from a
	// seat that is nobody's, it is counted.
	lab(TieSeats{Person: "p-3", Seats: []SeatRef{{first, 3}}})
	if err := rooms.Erase(t.Context(), Command{At: at, Actor: Host, Act: ErasePerson{Person: "p-3"}}); err != nil {
		t.Fatal(err)
	}
	find(map[string]int{"ANA  VELL": 1, "Dov": 1}, 0)
	if err := rooms.Erase(t.Context(), Command{At: at, Actor: Host, Act: ErasePerson{Person: "p-1", Everywhere: true}}); err != nil {
		t.Fatal(err)
	}
	find(map[string]int{"Dov": 1}, 1)
}
