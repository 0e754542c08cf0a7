package session

import (
	"encoding/json"
	"errors"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
)

func keysOf(checks []BenchCheck) []string {
	var keys []string
	for _, c := range checks {
		keys = append(keys, c.Key)
	}
	return keys
}

func TestChecksComeFromThePlan(t *testing.T) {
	p := planOf(12, triangles(1))
	if got := strings.Join(keysOf(Checks(p)), " "); got != "cups alike instruments release hot allergens" {
		t.Errorf("with no conditions: %s", got)
	}
	p.Conditions, p.Serving.Allergens = fullConditions(), "milk"
	checks := Checks(p)
	want := slices.Sorted(maps.Keys(benchNames))
	if got := slices.Sorted(slices.Values(keysOf(checks))); !slices.Equal(got, want) {
		t.Errorf("with all conditions: %v, want %v", got, want)
	}
	group := 0
	for _, c := range checks {
		at := slices.Index([]string{GroupRoom, GroupCups, GroupCoffee, GroupPeople}, c.Group)
		if at < group {
			t.Errorf("%s: group %q is out of its order", c.Key, c.Group)
		}
		group = at
		if c.Name == "" || !strings.HasSuffix(c.Words, ".") || strings.HasSuffix(c.Words, "..") {
			t.Errorf("%s: %q, %q", c.Key, c.Name, c.Words)
		}
	}
	for key, words := range map[string]string{
		"light": "red lamps.", "cups": "40 cups", "alike": "white bowls, 150 ml.", "discard": "15 min", "instruments": "30 g each, and are served at 55 to 65 °C",
		"hold": "for 40 min at most, at 70 to 80 °C.", "allergens": "milk.", "retaste": "may be tasted again", "warmUp": "a third lot.",
	} {
		i := slices.Index(keysOf(checks), key)
		if !strings.Contains(checks[i].Words, words) {
			t.Errorf("%s: %q does not say %q", key, checks[i].Words, words)
		}
	}
	p.Conditions.Light, p.Serving.RedLight, p.Conditions.Retaste, p.Conditions.HoldHighC = "", true, RetasteNot, 0
	p.Flights = []int{8, 4}
	say := ""
	for _, c := range Checks(p) {
		say += c.Words + "\n"
	}
	// 8 seats of three cups, a tenth more and at least one tray: of the larger flight.
	for _, words := range []string{"red light, as the phones do", "no cup is tasted again", "27 cups are found and washed for a flight", "for 40 min at most.\n"} {
		if !strings.Contains(say, words) {
			t.Errorf("no check says %q in\n%s", words, say)
		}
	}
}

// A plan with no conditions is sealed by the same bytes as before there were any.
func TestNoConditionsLeaveNoTrace(t *testing.T) {
	b, err := json.Marshal(planOf(3, triangles(1)))
	if err != nil {
		t.Fatal(err)
	}
	for _, word := range []string{"conditions", "gate"} {
		if strings.Contains(string(b), word) {
			t.Errorf("%s holds %q", b, word)
		}
	}
	p := planOf(3, triangles(1))
	p.Conditions.Lids, p.Serving.Gate = true, true
	if b, _ = json.Marshal(p); !strings.Contains(string(b), `"conditions":{"lids":true}`) || !strings.Contains(string(b), `"gate":true`) {
		t.Errorf("%s", b)
	}
}

func TestHint(t *testing.T) {
	p := planOf(3, triangles(1))
	for _, m := range Methods {
		for _, retaste := range []string{"", RetasteAllowed} {
			p.Conditions.Retaste = retaste
			if p.Hint(m) != m.Hint {
				t.Errorf("%s, %q: %q", m.Key, retaste, p.Hint(m))
			}
		}
		p.Conditions.Retaste = RetasteNot
		if h := p.Hint(m); strings.Contains(h, "again") || !strings.Contains(h, "Do not go back") {
			t.Errorf("%s: %q", m.Key, h)
		}
	}
}

func TestConfirming(t *testing.T) {
	g := newGame(t).toFrozen(stagePlan, 2)
	all := len(Checks(stagePlan))
	if n := len(g.s.Unconfirmed()); n != all || n < 6 {
		t.Fatalf("%d of %d unconfirmed", n, all)
	}
	g.refuse(Confirm{Check: "cups"}, ErrWords)
	g.refuse(Confirm{Check: "cups", Note: text(strings.Repeat("x", 201))}, ErrWords)
	g.refuse(Confirm{Check: "cups", Held: true, Note: text(strings.Repeat("x", 201))}, ErrWords)
	g.do(Confirm{Check: "cups", Held: true}, Confirm{Check: "release", Held: true, Note: text("both on file")})
	g.nothing(Confirm{Check: "cups", Held: true})
	g.nothing(Confirm{Check: "release", Held: true})
	g.do(Confirm{Check: "hot", Note: text("one came late")}, Confirm{Check: "alike", Note: text("two kinds")})
	g.nothing(Confirm{Check: "alike", Note: text("two kinds")})
	g.do(Confirm{Check: "alike", Held: true}) // mended in time
	if n := len(g.s.Unconfirmed()); n != all-4 {
		t.Errorf("%d unconfirmed, want %d", n, all-4)
	}
	if len(g.s.Deviations) != 0 {
		t.Errorf("deviations before the tasting: %v", g.s.Deviations)
	}
	g.do(Open{releases()})
	if len(g.s.Deviations) != 1 || g.s.Deviations[0].Say() != "Caution of hot coffee: one came late." {
		t.Errorf("deviations at the opening: %+v", g.s.Deviations)
	}
	g.do(Confirm{Check: "hot", Held: true}, Confirm{Check: "instruments", Note: text("the scales went dark")}, NoteDeviation{text("rain")})
	var say []string
	for _, d := range g.s.Deviations {
		say = append(say, d.Say())
	}
	if got := strings.Join(say, " "); got != "Caution of hot coffee: one came late. Scales and thermometer: the scales went dark. rain." {
		t.Errorf("deviations: %s", got)
	}
	o := g.s.Openings[0]
	if len(g.s.Openings) != 1 || o.Flight != 1 || len(o.Unconfirmed(stagePlan)) != all-4 || o.Confirmed["hot"].Held {
		t.Errorf("openings %+v", g.s.Openings)
	}
	cautions := strings.Join(g.reveal().Cautions, "\n")
	if !strings.Contains(cautions, "Not as planned: Scales and thermometer: the scales went dark.") {
		t.Errorf("cautions:\n%s", cautions)
	}
	// What nobody had looked at by then is named, and nothing that somebody had.
	_, open, _ := strings.Cut(cautions, "Not confirmed before the tasting: ")
	open, _, _ = strings.Cut(open, ".")
	var want []string
	for _, c := range o.Unconfirmed(stagePlan) {
		want = append(want, c.Name)
	}
	if open != strings.Join(want, ", ") || !strings.Contains(open, "scales and thermometer") || strings.Contains(open, "cups alike") {
		t.Errorf("not confirmed are %q", open)
	}
}

// Each flight has its own cups and brews, perhaps another day.
func TestEachFlightIsConfirmedAnew(t *testing.T) {
	g := newGame(t).toSealed(inFlights(planOf(4, triangles(1)), 2, 2))
	g.do(Confirm{Check: "cups", Held: true}, OpenLobby{}, Sit{Name: text("Ena"), Token: phone(1)}, FreezeList{}, Open{releases()}, EndFlight{})
	if len(g.s.Confirmed) != 0 {
		t.Errorf("flight 2 begins with %v", g.s.Confirmed)
	}
	g.do(OpenLobby{}, Sit{Name: text("Ori"), Token: phone(2)}, Confirm{Check: "hot", Held: true}, FreezeList{}, Open{releases()})
	if len(g.s.Openings) != 2 || g.s.Openings[1].Flight != 2 || g.s.Openings[0].Confirmed["cups"].At.IsZero() || len(g.s.Openings[1].Confirmed) != 1 {
		t.Errorf("openings %+v", g.s.Openings)
	}
	say := strings.Join(g.s.unconfirmed(), "\n")
	if !strings.HasPrefix(say, "Flight 1: Not confirmed before the tasting: ") || !strings.Contains(say, "\nFlight 2: Not confirmed before the tasting: number of cups") {
		t.Errorf("not confirmed: %s", say)
	}
}

func gated() Plan {
	p := planOf(3, triangles(2))
	p.Serving.Gate = true
	return p
}

func TestGate(t *testing.T) {
	why := text("the kettle was slow")
	for _, c := range []struct {
		name string
		gate bool
		act  Serve
		want error
		say  string // in the error, or of the deviation
	}{
		{"inside", true, Serve{1, 60, Text{}}, nil, ""},
		{"at the lower end", true, Serve{1, 55, Text{}}, nil, ""},
		{"at the upper end", true, Serve{1, 65, Text{}}, nil, ""},
		{"inside, with a reason", true, Serve{1, 60, why}, nil, ""},
		{"missing", true, Serve{Round: 1}, ErrNoTemperature, "55 to 65 °C"},
		{"missing, with a reason", true, Serve{1, 0, why}, nil, "Set 1 was served and no cup’s temperature was measured: the kettle was slow."},
		{"below", true, Serve{1, 54.9, Text{}}, ErrOutsideWindow, "54.9 °C measured, and cups are served at 55 to 65 °C"},
		{"above", true, Serve{1, 65.5, Text{}}, ErrOutsideWindow, "65.5 °C measured"},
		{"below, with a blank reason", true, Serve{1, 50, text(" ")}, ErrOutsideWindow, "50 °C"},
		{"below, with a reason", true, Serve{1, 50, why}, nil, "Set 1 was served at 50 °C, outside 55 to 65 °C: the kettle was slow."},
		{"above, with a reason", true, Serve{1, 75, why}, nil, "Set 1 was served at 75 °C, outside"},
		{"with a reason too long", true, Serve{1, 50, text(strings.Repeat("x", 201))}, ErrWords, ""},
		{"scalding", true, Serve{1, 75.1, Text{}}, ErrScald, "75.1 °C is above 75 °C"},
		{"scalding, with a reason", true, Serve{1, 80, why}, ErrScald, "80 °C"},
		{"below nothing", true, Serve{1, -1, why}, ErrNoTemperature, "no cup's temperature"},
		{"no number", true, Serve{1, math.NaN(), why}, ErrNoTemperature, ""},
		{"without end", true, Serve{1, math.Inf(1), why}, ErrScald, ""},
		{"no gate", false, Serve{Round: 1}, nil, ""},
		{"no gate, given", false, Serve{1, 61, Text{}}, nil, ""},
		{"no gate, outside", false, Serve{1, 50, Text{}}, nil, ""},
		{"no gate, outside, with a reason", false, Serve{1, 50, why}, nil, "Set 1 was served at 50 °C"},
		{"no gate, scalding", false, Serve{1, 76, why}, ErrScald, ""},
		{"no gate, no number", false, Serve{1, math.NaN(), Text{}}, ErrNoTemperature, ""},
	} {
		p := gated()
		p.Serving.Gate = c.gate
		g := newGame(t).toOpen(p, 2)
		events, err := g.try(Command{At: g.now, Actor: Host, Act: c.act})
		if c.want != nil {
			if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.say) || len(g.s.Rounds) != 0 {
				t.Errorf("%s: %v; want %v, %q", c.name, err, c.want, c.say)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		served := events[0].(*RoundServed)
		if served.CupC != c.act.CupC || len(g.s.Rounds) != 1 || g.s.Temperatures[0] != c.act.CupC {
			t.Errorf("%s: served %+v, temperatures %v", c.name, served, g.s.Temperatures)
		}
		said := ""
		for _, d := range g.s.Deviations {
			said += d.Say()
		}
		if (c.say == "") != (said == "") || !strings.Contains(said, c.say) {
			t.Errorf("%s: deviation %q, want %q", c.name, said, c.say)
		}
		g.nothing(Serve{Round: 1}) // pressed twice: nothing is asked anew
	}
}

// A replacement passes the same gate: until a cup of it is measured, or a reason
// is given, it is not in front of its seat, nor is anything after it.
func TestGateOfAReplacement(t *testing.T) {
	why := text("the kettle was slow")
	for _, c := range []struct {
		name string
		act  ServeAgain
		want error
		say  string // in the error, or of the deviation
	}{
		{"inside", ServeAgain{2, 1, 1, 60, Text{}}, nil, ""},
		{"inside, with a reason", ServeAgain{2, 1, 1, 60, why}, nil, ""},
		{"not measured", ServeAgain{Seat: 2, Set: 1, Take: 1}, ErrNoTemperature, "55 to 65 °C"},
		{"not measured, with a reason", ServeAgain{2, 1, 1, 0, why}, nil, "Seat 2, set 1, poured again, was served and no cup’s temperature was measured: the kettle was slow."},
		{"below", ServeAgain{2, 1, 1, 50, Text{}}, ErrOutsideWindow, "50 °C measured"},
		{"below, with a reason", ServeAgain{2, 1, 1, 50, why}, nil, "Seat 2, set 1, poured again, was served at 50 °C, outside 55 to 65 °C: the kettle was slow."},
		{"scalding, with a reason", ServeAgain{2, 1, 1, 76, why}, ErrScald, "76 °C"},
		{"frozen, with a reason", ServeAgain{2, 1, 1, -3, why}, ErrNoTemperature, "-3 °C"},
		{"the tray before it", ServeAgain{2, 1, 0, 60, Text{}}, ErrNotFront, ""},
		{"a tray never called", ServeAgain{1, 1, 1, 60, Text{}}, ErrNotFront, ""},
		{"no seat", ServeAgain{9, 1, 1, 60, Text{}}, ErrNotFront, ""},
	} {
		g := newGame(t).toOpen(gated(), 2)
		g.do(Serve{1, 60, Text{}}, g.answer(1, 1, 0, true), Void{Seat: 2, Set: 1, Reason: text("spilt"), Replace: true})
		seat := &g.s.Seats[1]
		if _, _, ok := seat.Front(); ok || g.s.AllIn() {
			t.Fatalf("%s: it is in front before it is measured, or nothing is missing", c.name)
		}
		if set, take, ok := seat.Awaits(); !ok || set != 1 || take != 1 {
			t.Fatalf("%s: the seat awaits set %d, take %d, %v", c.name, set, take, ok)
		}
		g.refuse(g.answer(2, 1, 1, true), ErrNotFront)
		events, err := g.try(Command{At: g.now, Actor: Host, Act: c.act})
		if c.want != nil {
			if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.say) {
				t.Errorf("%s: %v; want %v, %q", c.name, err, c.want, c.say)
			}
			continue
		}
		if err != nil || len(events) != 1 {
			t.Errorf("%s: %v, %v", c.name, events, err)
			continue
		}
		said := ""
		for _, d := range g.s.Deviations {
			said += d.Say()
		}
		if said != c.say {
			t.Errorf("%s: deviation %q, want %q", c.name, said, c.say)
		}
		if take := g.s.Seats[1].Sets[0].Takes[1]; take.CupC != c.act.CupC || take.Waits {
			t.Errorf("%s: %+v", c.name, take)
		}
		g.nothing(c.act) // pressed twice
		g.do(g.answer(2, 1, 1, true))
		if !g.s.AllIn() {
			t.Errorf("%s: not all in", c.name)
		}
		g.nothing(c.act)
		if r := g.replayed(g.s.Seq); !reflect.DeepEqual(r.Seats, g.s.Seats) || !reflect.DeepEqual(r.Deviations, g.s.Deviations) {
			t.Errorf("%s: replayed as %+v", c.name, r.Seats)
		}
	}
}

// What is served, taken out or gone meanwhile.
func TestReplacementHeldBack(t *testing.T) {
	called := func() *game {
		g := newGame(t).toOpen(gated(), 2)
		g.do(Serve{1, 60, Text{}}, Void{Seat: 2, Set: 1, Reason: text("spilt"), Replace: true})
		return g
	}
	again := ServeAgain{2, 1, 1, 60, Text{}}
	g := called()
	g.do(Pause{})
	g.refuse(again, ErrPhase)
	g.do(Resume{}, Serve{2, 60, Text{}})
	if _, _, ok := g.s.Seats[1].Front(); ok {
		t.Error("set 2 overtakes the replacement of set 1")
	}
	g.do(again)
	if set, take, ok := g.s.Seats[1].Front(); !ok || set != 1 || take != 1 {
		t.Errorf("in front: set %d, take %d, %v", set, take, ok)
	}
	g = called()
	g.do(Void{Seat: 2, Set: 1, Take: 1, Reason: text("spilt again")})
	g.refuse(again, ErrVoided)
	g = called()
	g.do(LeaveSeat{2, text("gone")})
	g.refuse(again, ErrNotHere)
	// Without a gate a replacement is in front at once.
	p := gated()
	p.Serving.Gate = false
	g = newGame(t).toOpen(p, 2)
	g.do(Serve{Round: 1}, Void{Seat: 2, Set: 1, Reason: text("spilt"), Replace: true})
	if _, take, ok := g.s.Seats[1].Front(); !ok || take != 1 {
		t.Error("the replacement waits for a gate that is not there")
	}
	g.nothing(again)
}

func TestGateInALaterFlightNamesIt(t *testing.T) {
	p := gated()
	p.Seats, p.Flights = 4, []int{2, 2}
	g := newGame(t).toOpen(p, 2)
	g.do(Serve{1, 60, Text{}}, EndFlight{}, OpenLobby{}, Sit{Name: text("Ori"), Token: phone(9)}, FreezeList{}, Open{releases()})
	g.do(Serve{1, 50, text("a draught")})
	if len(g.s.Temperatures) != 1 || len(g.s.Deviations) != 1 || !strings.HasPrefix(g.s.Deviations[0].Say(), "Flight 2, set 1 was served at 50 °C") {
		t.Errorf("%v, %+v", g.s.Temperatures, g.s.Deviations)
	}
}

// The look of a test that may stop early comes before anything is measured.
func TestLookComesBeforeTheThermometer(t *testing.T) {
	p := planOf(6, sequential(2))
	p.Serving.Gate = true
	g := newGame(t).toOpen(p, 6)
	g.do(Serve{1, 60, Text{}})
	for seat := 1; seat <= 6; seat++ {
		g.do(g.answer(seat, 1, 0, seat%3 == 0))
	}
	if events := g.do(Serve{Round: 2}); len(events) != 1 || events[0].Kind() != "looked" {
		t.Fatalf("%v", events)
	}
	g.refuse(Serve{Round: 2}, ErrNoTemperature)
	g.do(Serve{2, 60, Text{}})
}
