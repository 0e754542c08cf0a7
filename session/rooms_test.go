package session

import (
	"bytes"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

func openRooms(t *testing.T, j Journal) *Rooms {
	t.Helper()
	r, err := NewRooms(t.Context(), j)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// record plays acts into a session of its own, and returns its Room.
func record(t *testing.T, rooms *Rooms, id ID, seed uint64, acts ...Act) *Room[*State] {
	t.Helper()
	room, err := rooms.New(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	p := planOf(3, triangles(1))
	acts = append([]Act{Draft{Plan: p}, SetPin{testPin}, SealPlan{sealing(t, p, seed)}}, acts...)
	for i, a := range acts {
		mustDo(t, room, Command{At: noon.Add(time.Duration(i) * time.Second), Actor: Host, Act: a})
	}
	return room
}

func TestRoomsComeBackAfterARestart(t *testing.T) {
	var j Memory
	rooms := openRooms(t, &j)
	record(t, rooms, "a-1", 1, OpenLobby{}, sit(0, 1), sit(0, 2), FreezeList{}, Open{releases()}, Serve{Round: 1},
		Void{Seat: 1, Set: 1, Reason: text("spilt"), Replace: true})
	record(t, rooms, "b-2", 2, OpenLobby{}, sit(0, 3))
	record(t, rooms, "c-3", 3, Abandon{text("power cut")})
	mustLab(t, rooms, NameLab{"Bench 2"})
	before := map[ID]*State{}
	for _, room := range rooms.Live() {
		before[room.State().ID] = room.State()
	}
	lab := rooms.Lab().State()
	if len(before) != 3 {
		t.Fatalf("%d live rooms", len(before))
	}
	rooms.Close()

	rooms = openRooms(t, &j)
	defer rooms.Close()
	if _, ok := rooms.ByDoor(before["a-1"].Door()); ok {
		t.Error("a door opens before its session is live")
	}
	if err := rooms.OpenAll(t.Context()); err != nil {
		t.Fatal(err)
	}
	if n := len(rooms.Live()); n != 3 {
		t.Errorf("%d live rooms, want all three", n)
	}
	for id, old := range before {
		room, err := rooms.Session(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(room.State(), old) {
			t.Errorf("session %s came back otherwise", id)
		}
	}
	if !reflect.DeepEqual(rooms.Lab().State(), lab) {
		t.Error("the register came back otherwise")
	}
	for _, id := range []ID{"a-1", "b-2"} {
		for _, door := range []string{before[id].Door(), before[id].PlaceDoor(3)} {
			if room, ok := rooms.ByDoor(door); !ok || room.State().ID != id {
				t.Errorf("door %s of session %s gives %v", door, id, ok)
			}
		}
	}
	for _, door := range []string{"", "XXXXXX"} {
		if _, ok := rooms.ByDoor(door); ok {
			t.Errorf("door %q opens", door)
		}
	}
	rows, err := rooms.Rows(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var ids []ID
	for _, row := range rows {
		ids = append(ids, row.ID)
	}
	if !slices.Equal(ids, []ID{"c-3", "b-2", "a-1"}) {
		t.Errorf("rows %v, want the newest first and no register", ids)
	}
}

func mustLab(t *testing.T, rooms *Rooms, a Act) []Recorded {
	t.Helper()
	rec, err := rooms.Lab().Do(t.Context(), Command{At: noon, Actor: Host, Act: a})
	if err != nil {
		t.Fatalf("%T: %v", a, err)
	}
	return rec
}

func TestRoomsKnowTheirSessions(t *testing.T) {
	rooms := openRooms(t, &Memory{})
	for _, id := range []ID{"", "lab", "Upper", "a b", "-a", "../x", "a\n", ID(strings.Repeat("a", 41)), "nobody"} {
		if _, err := rooms.Session(t.Context(), id); !errors.Is(err, ErrNoSession) {
			t.Errorf("session %q: %v", id, err)
		}
		if id == "nobody" {
			continue
		}
		if _, err := rooms.New(t.Context(), id); !errors.Is(err, ErrNoSession) {
			t.Errorf("new session %q: %v", id, err)
		}
	}
	a := record(t, rooms, "a-1", 1)
	for range 2 {
		if b, err := rooms.Session(t.Context(), "a-1"); err != nil || a != b {
			t.Errorf("the same session has another Room: %v", err)
		}
	}
	rooms.Close()
	for _, open := range []func() (*Room[*State], error){
		func() (*Room[*State], error) { return rooms.Session(t.Context(), "a-1") },
		func() (*Room[*State], error) { return rooms.New(t.Context(), "b-2") },
		func() (*Room[*State], error) { return a, must3(a.Do(t.Context(), Command{Act: Close{}})) },
		func() (*Room[*State], error) { return nil, must3(rooms.Lab().Do(t.Context(), Command{Act: Close{}})) },
	} {
		if _, err := open(); !errors.Is(err, ErrClosedRoom) {
			t.Errorf("after Close: %v", err)
		}
	}
	rooms.Close()
}

func must3(_ []Recorded, err error) error { return err }

// Session gives ErrNoSession for one that has no entry, whether or not somebody
// has begun to make it.
func TestNoSessionWithoutAnEntry(t *testing.T) {
	rooms := openRooms(t, &Memory{})
	defer rooms.Close()
	if _, err := rooms.New(t.Context(), "a-1"); err != nil {
		t.Fatal(err)
	}
	if _, err := rooms.Session(t.Context(), "a-1"); !errors.Is(err, ErrNoSession) {
		t.Errorf("a session with no entry: %v", err)
	}
}

// The door of an abandoned session still leads to it, before a restart as after
// one: a phone is told there that the session is over.
func TestDoorOfAnAbandonedSession(t *testing.T) {
	journal := &Memory{}
	rooms := openRooms(t, journal)
	room := record(t, rooms, "a-1", 1, OpenLobby{})
	mustDo(t, room, Command{At: noon, Actor: Host, Act: Abandon{text("power cut")}})
	door := room.State().Door()
	if _, ok := rooms.ByDoor(door); !ok {
		t.Error("the door is shut")
	}
	rooms.Close()
	again := openRooms(t, journal)
	defer again.Close()
	if err := again.OpenAll(t.Context()); err != nil {
		t.Fatal(err)
	}
	if found, ok := again.ByDoor(door); !ok || found.State().Phase != PhaseAbandoned {
		t.Error("the door is shut after a restart")
	}
}

func TestLabRegister(t *testing.T) {
	rooms := openRooms(t, &Memory{})
	defer rooms.Close()
	refuse := func(a Act, want error) {
		t.Helper()
		rec, err := rooms.Lab().Do(t.Context(), Command{At: noon, Actor: Host, Act: a})
		if !errors.Is(err, want) || rec != nil {
			t.Errorf("%T %+v: %v, want %v", a, a, err, want)
		}
	}
	for _, name := range []string{"", "  ", strings.Repeat("x", 61)} {
		refuse(NameLab{name}, ErrWords)
	}
	mustLab(t, rooms, NameLab{" Bench 2 "})
	if rec := mustLab(t, rooms, NameLab{"Bench 2"}); rec != nil {
		t.Errorf("the same name: %v", rec)
	}
	for _, lot := range []Lot{
		{Treatment: "water"}, {Number: strings.Repeat("x", 31), Treatment: "water"}, {Number: "1", Treatment: "steam"}, {Number: "1"},
		{Number: "1", Treatment: "water", Note: strings.Repeat("x", 201)},
	} {
		refuse(EnterLot{lot}, ErrWords)
	}
	mustLab(t, rooms, EnterLot{Lot{ID: "lot-99", Number: " QX-301 ", Treatment: "untreated"}})
	mustLab(t, rooms, EnterLot{Lot{Number: "QX-301", Treatment: "water"}})
	refuse(EnterLot{Lot{Number: "qx-301", Treatment: "water"}}, ErrTaken)
	for _, like := range []string{"QX 301", "qx\u2013301", "\uff31\uff38-301", " QX-  301", "QX\u2011301", "QX301", "QX-301.", "qx/301"} {
		refuse(EnterLot{Lot{Number: like, Treatment: "water"}}, ErrTaken)
	}
	lab := rooms.Lab().State()
	if lot, ok := lab.Lot("lot-1"); !ok || lot.Number != "QX-301" || len(lab.Lots) != 2 || lab.Name != "Bench 2" {
		t.Errorf("register: %+v", lab.Lots)
	}
	if _, ok := lab.Lot("lot-99"); ok {
		t.Error("a caller chose a lot's ID")
	}
	by := text("Mira Tal")
	refuse(ReleaseLot{"lot-9", by, "R-1"}, ErrNoLot)
	refuse(ReleaseLot{"lot-1", text(" "), "R-1"}, ErrWords)
	refuse(ReleaseLot{"lot-1", by, " "}, ErrWords)
	refuse(ReleaseLot{"lot-1", by, strings.Repeat("x", 81)}, ErrWords)
	refuse(Close{}, ErrPhase)
	refuse(nil, ErrPhase)
	mustLab(t, rooms, ReleaseLot{"lot-1", by, " R-1 "})
	mustLab(t, rooms, ReleaseLot{"lot-1", by, "R-2"})
	got := rooms.Lab().State().ReleasesOf("lot-1", "lot-2")
	if len(got) != 1 || got[0].Report != "R-2" || !got[0].At.Equal(noon) || got[0].By.Words != "Mira Tal" {
		t.Errorf("releases: %+v", got)
	}
	if len(lab.Releases) != 0 {
		t.Error("a published register was changed")
	}
	if got := (Lot{Number: "1", Treatment: "water"}).Words(); got != "1, processed with water" {
		t.Errorf("a lot reads %q", got)
	}
	if got := lab.Lots[0].Words(); got != "QX-301, untreated" {
		t.Errorf("a lot reads %q", got)
	}
}

func TestIDs(t *testing.T) {
	a, err := NewID(noon, chance(1))
	if err != nil || !a.Valid() || !strings.HasPrefix(string(a), "20310305-120000-") {
		t.Errorf("%q, %v", a, err)
	}
	b, _ := NewID(noon.Add(time.Second), chance(2))
	if a >= b {
		t.Errorf("%s does not sort before %s", a, b)
	}
	if _, err := NewID(noon, bytes.NewReader(nil)); err == nil {
		t.Error("an id without chance")
	}
	id := cmdID(7)
	if got, err := ParseCommandID(id.String()); err != nil || got != id || id.IsZero() || !(CommandID{}).IsZero() {
		t.Errorf("%v came back as %v, %v", id, got, err)
	}
	for _, s := range []string{"", "12", strings.Repeat("g", 32), strings.Repeat("0", 33)} {
		if _, err := ParseCommandID(s); err == nil {
			t.Errorf("command id %q passes", s)
		}
	}
	if Taster(3) != "seat 3" {
		t.Errorf("the taster at seat 3 is %q", Taster(3))
	}
}
