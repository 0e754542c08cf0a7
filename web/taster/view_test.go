package taster

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// table is a session in memory, played by acts.
type table struct {
	t    *testing.T
	room *session.Room[*session.State]
}

// sevens is chance that always gives the same byte.
type sevens struct{}

func (sevens) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 7
	}
	return len(p), nil
}

var noon = time.Date(2026, 4, 14, 12, 0, 0, 0, time.UTC)

// newTable is a table in a room of its own.
func newTable(t *testing.T, change func(*session.Plan)) *table {
	t.Helper()
	room, err := session.OpenRoom(t.Context(), new(session.Memory), "20260414-120000-table")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(room.Close)
	return tableIn(t, room, change)
}

// tableIn is sealed, with three seats, two triangles and a paired comparison.
func tableIn(t *testing.T, room *session.Room[*session.State], change func(*session.Plan)) *table {
	t.Helper()
	p := session.UsualPlan()
	p.Title = "Tuesday session"
	p.Untreated = session.Lot{ID: "lot-1", Number: "X-11", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "X-11", Treatment: "water"}
	p.Seats, p.Tests[0].Sets = 3, 2
	p.Serving.OwnResult = true
	if change != nil {
		change(&p)
	}
	s, err := session.Seal(p, sevens{})
	if err != nil {
		t.Fatal(err)
	}
	pin, err := session.NewPin("8031", sevens{})
	if err != nil {
		t.Fatal(err)
	}
	b := &table{t: t, room: room}
	b.do(session.Draft{Plan: p}, session.SetPin{Pin: pin}, session.SealPlan{Sealing: s})
	return b
}

func (b *table) do(acts ...session.Act) {
	b.t.Helper()
	for _, act := range acts {
		if _, err := b.room.Do(b.t.Context(), session.Command{At: noon, Actor: session.Host, Act: act}); err != nil {
			b.t.Fatalf("%T: %v", act, err)
		}
	}
}

func words(t *testing.T, s string) session.Text {
	t.Helper()
	text, err := session.NewText(s, sevens{})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func claim(n byte) session.Hash { return session.HashToken([]byte{n}) }

// sit seats phone n at seat n.
func (b *table) sit(seats ...int) {
	b.t.Helper()
	for _, n := range seats {
		b.do(session.Sit{Seat: n, Name: words(b.t, "Iva"), Token: claim(byte(n))})
	}
}

// begin seats all three and opens the tasting.
func (b *table) begin() {
	b.t.Helper()
	b.do(session.OpenLobby{})
	b.sit(1, 2, 3)
	b.do(session.FreezeList{}, session.Open{Releases: []session.Release{{Lot: "lot-1"}, {Lot: "lot-2"}}})
}

// lock answers with the cup at a place, from 0.
func (b *table) lock(seat, set, take, at int) {
	b.t.Helper()
	b.do(session.Lock{Seat: seat, Set: set, Take: take, Pick: b.room.State().Codes(seat, set, take)[at], PhoneAt: noon})
}

func (b *table) void(seat, set, take int, replace bool) {
	b.t.Helper()
	b.do(session.Void{Seat: seat, Set: set, Take: take, Reason: words(b.t, "spilled"), Replace: replace})
}

// whole plays to the close: seat 2 has a replacement and a set taken out.
func (b *table) whole() {
	b.t.Helper()
	b.begin()
	b.do(session.Serve{Round: 1})
	b.lock(1, 1, 0, 0)
	b.void(2, 1, 0, true)
	b.lock(2, 1, 1, 1)
	b.lock(3, 1, 0, 0)
	b.do(session.Serve{Round: 2})
	b.lock(1, 2, 0, 1)
	b.void(2, 2, 0, false)
	b.do(session.LeaveSeat{Seat: 3, Reason: words(b.t, "had to go")})
	b.do(session.Serve{Round: 3})
	b.lock(1, 3, 0, 0)
	b.lock(2, 3, 0, 1)
	b.do(session.Close{})
}

// TestView holds the picture for a phone, at every phase and step.
func TestView(t *testing.T) {
	type want struct {
		step            string
		seat            int
		here            bool
		say             string // part of it; "-" for none at all
		front           [2]int // set and take in front
		kept, results   int
		paused, calling bool
	}
	const stranger = 9 // a phone without a seat
	for _, c := range []struct {
		name   string
		change func(*session.Plan)
		play   func(*table)
		asked  int
		phone  byte
		sign   Sign
		want   want
	}{
		// At the door.
		{name: "sealed, lobby shut", phone: stranger,
			want: want{step: stepDoor, say: "has not opened the table yet"}},
		{name: "lobby open, the session's door", play: func(b *table) { b.do(session.OpenLobby{}) }, phone: stranger,
			want: want{step: stepDoor, here: true, say: "-"}},
		{name: "lobby open, a seat card's door", play: func(b *table) { b.do(session.OpenLobby{}) }, asked: 2, phone: stranger,
			want: want{step: stepDoor, seat: 2, here: true, say: "-"}},
		{name: "another has the card's seat", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(2) }, asked: 2, phone: stranger,
			want: want{step: stepDoor, seat: 2, say: "Seat 2 is taken"}},
		{name: "another seat is taken", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(2) }, asked: 1, phone: stranger,
			want: want{step: stepDoor, seat: 1, here: true, say: "-"}},
		{name: "every seat is taken", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(1, 2, 3) }, phone: stranger,
			want: want{step: stepDoor, say: "Every seat is taken"}},
		{name: "a seat is freed again", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(1, 2, 3); b.do(session.FreeSeat{Seat: 2}) }, phone: 2,
			want: want{step: stepDoor, here: true, say: "-"}},
		{name: "the list is closed", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(1); b.do(session.FreezeList{}) }, phone: stranger,
			want: want{step: stepDoor, say: "The list is closed"}},
		{name: "the tasting runs", play: (*table).begin, phone: stranger,
			want: want{step: stepDoor, say: "The list is closed"}},
		{name: "the seat is handed on", play: func(b *table) { b.begin(); b.do(session.MoveSeat{Seat: 2}) }, asked: 2, phone: stranger,
			want: want{step: stepDoor, seat: 2, here: true, say: "lets this seat go on with this phone"}},
		{name: "the seat is handed on, the old phone", play: func(b *table) { b.begin(); b.do(session.MoveSeat{Seat: 2}) }, asked: 2, phone: 2,
			want: want{step: stepDoor, seat: 2, here: true, say: "lets this seat go on with this phone"}},
		{name: "another seat is handed on", play: func(b *table) { b.begin(); b.do(session.MoveSeat{Seat: 2}) }, asked: 1, phone: stranger,
			want: want{step: stepDoor, seat: 1, say: "The list is closed"}},
		{name: "the session's door while a seat is handed on", play: func(b *table) { b.begin(); b.do(session.MoveSeat{Seat: 2}) }, phone: stranger,
			want: want{step: stepDoor, say: "The list is closed"}},
		{name: "closed, no seat", play: (*table).whole, phone: stranger,
			want: want{step: stepOver, say: "This session is over"}},
		{name: "revealed, no seat", play: func(b *table) { b.whole(); b.do(session.Reveal{}) }, phone: stranger,
			want: want{step: stepOver, say: "This session is over"}},
		{name: "abandoned, no seat", play: func(b *table) { b.do(session.Abandon{Reason: words(b.t, "fire alarm")}) }, phone: stranger,
			want: want{step: stepOver, say: "ended this session without a result"}},
		{name: "abandoned while a seat is handed on", asked: 2, phone: stranger,
			play: func(b *table) {
				b.begin()
				b.do(session.MoveSeat{Seat: 2}, session.Abandon{Reason: words(b.t, "fire alarm")})
			},
			want: want{step: stepOver, seat: 2, say: "ended this session without a result"}},

		// Seated.
		{name: "lobby", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(2) }, phone: 2,
			want: want{step: stepLobby, seat: 2, say: "waits for the others"}},
		{name: "lobby, by another seat's door", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(2) }, asked: 3, phone: 2,
			want: want{step: stepLobby, seat: 2, say: "waits for the others"}},
		{name: "list closed", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(2); b.do(session.FreezeList{}) }, phone: 2,
			want: want{step: stepLobby, seat: 2, say: "The list is closed"}},
		{name: "calling from the lobby", play: func(b *table) { b.do(session.OpenLobby{}); b.sit(2) }, phone: 2, sign: Sign{Calling: "spill"},
			want: want{step: stepLobby, seat: 2, say: "waits", calling: true}},
		{name: "no set yet", play: (*table).begin, phone: 1,
			want: want{step: stepWait, seat: 1, say: "pouring the first set"}},
		{name: "paused before the first set", play: func(b *table) { b.begin(); b.do(session.Pause{}) }, phone: 1,
			want: want{step: stepWait, seat: 1, say: "paused the table", paused: true}},
		{name: "first set", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}) }, phone: 1,
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{1, 0}}},
		{name: "paused with a tray in front", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}, session.Pause{}) }, phone: 1,
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{1, 0}, paused: true}},
		{name: "resumed", play: func(b *table) { b.begin(); b.do(session.Pause{}, session.Resume{}) }, phone: 1,
			want: want{step: stepWait, seat: 1, say: "pouring the first set"}},
		{name: "first set locked", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.lock(1, 1, 0, 0) }, phone: 1,
			want: want{step: stepWait, seat: 1, say: "Set 2 follows", kept: 1}},
		{name: "another locked", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.lock(2, 1, 0, 0) }, phone: 1,
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{1, 0}}},
		{name: "second set served over an open first", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}, session.Serve{Round: 2}) }, phone: 1,
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{1, 0}}},
		{name: "taken out, replacement called", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.void(1, 1, 0, true) }, phone: 1,
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{1, 1}}},
		{name: "taken out for good", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.void(1, 1, 0, false) }, phone: 1,
			want: want{step: stepWait, seat: 1, say: "Set 2 follows"}},
		{name: "locked, then taken out", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.lock(1, 1, 0, 0); b.void(1, 1, 0, false) }, phone: 1,
			want: want{step: stepWait, seat: 1, say: "Set 2 follows"}},
		{name: "locked, taken out, replaced", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.lock(1, 1, 0, 0); b.void(1, 1, 0, true) }, phone: 1,
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{1, 1}}},
		{name: "replacement locked", phone: 1,
			play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}); b.void(1, 1, 0, true); b.lock(1, 1, 1, 0) },
			want: want{step: stepWait, seat: 1, say: "Set 2 follows", kept: 1}},
		{name: "attribute set", phone: 1,
			play: func(b *table) {
				b.begin()
				for set := 1; set <= 3; set++ {
					b.do(session.Serve{Round: set})
					if set < 3 {
						b.lock(1, set, 0, 0)
					}
				}
			},
			want: want{step: stepSet, seat: 1, say: "-", front: [2]int{3, 0}, kept: 2}},
		{name: "left", play: func(b *table) {
			b.begin()
			b.do(session.Serve{Round: 1})
			b.lock(1, 1, 0, 0)
			b.do(session.LeaveSeat{Seat: 1, Reason: words(b.t, "ill")})
		}, phone: 1, want: want{step: stepOver, seat: 1, say: "noted that you left", kept: 1}},
		{name: "all in", phone: 1,
			play: func(b *table) {
				b.begin()
				for set := 1; set <= 3; set++ {
					b.do(session.Serve{Round: set})
					b.lock(1, set, 0, 0)
				}
			},
			want: want{step: stepDone, seat: 1, say: "All sets are in", kept: 3}},
		{name: "last set taken out", phone: 1,
			play: func(b *table) {
				b.begin()
				for set := 1; set <= 3; set++ {
					b.do(session.Serve{Round: set})
				}
				b.lock(1, 1, 0, 0)
				b.lock(1, 2, 0, 0)
				b.void(1, 3, 0, false)
			},
			want: want{step: stepDone, seat: 1, say: "All sets are in", kept: 2}},
		{name: "closed", play: (*table).whole, phone: 1,
			want: want{step: stepDone, seat: 1, say: "has closed the session", kept: 3}},
		{name: "closed with a tray in front", play: func(b *table) { b.begin(); b.do(session.Serve{Round: 1}, session.Close{}) }, phone: 1,
			want: want{step: stepDone, seat: 1, say: "has closed the session"}},
		{name: "closed while paused", play: func(b *table) { b.begin(); b.do(session.Pause{}, session.Close{}) }, phone: 1,
			want: want{step: stepDone, seat: 1, say: "has closed the session"}},
		{name: "revealed, own results", play: func(b *table) { b.whole(); b.do(session.Reveal{}) }, phone: 1,
			want: want{step: stepResults, seat: 1, say: "Thank you", kept: 3, results: 3}},
		{name: "revealed, with a replacement and a set taken out", play: func(b *table) { b.whole(); b.do(session.Reveal{}) }, phone: 2,
			want: want{step: stepResults, seat: 2, say: "Thank you", kept: 2, results: 2}},
		{name: "revealed, left early", play: func(b *table) { b.whole(); b.do(session.Reveal{}) }, phone: 3,
			want: want{step: stepResults, seat: 3, say: "Thank you", kept: 1, results: 1}},
		{name: "revealed, the plan keeps results from tasters", phone: 1,
			change: func(p *session.Plan) { p.Serving.OwnResult = false },
			play:   func(b *table) { b.whole(); b.do(session.Reveal{}) },
			want:   want{step: stepDone, seat: 1, say: "Thank you", kept: 3}},
		{name: "revealed, nothing answered", play: func(b *table) { b.begin(); b.do(session.Close{}, session.Reveal{}) }, phone: 1,
			want: want{step: stepDone, seat: 1, say: "Thank you"}},
		{name: "abandoned", play: func(b *table) { b.begin(); b.do(session.Abandon{Reason: words(b.t, "fire alarm")}) }, phone: 1,
			want: want{step: stepOver, seat: 1, say: "ended this session without a result"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newTable(t, c.change)
			if c.play != nil {
				c.play(b)
			}
			s := b.room.State()
			asked := -1
			v := viewOf(s, func(seat int) Sign { asked = seat; return c.sign }, c.asked, claim(c.phone))
			if v.Step != c.want.step || v.Seat != c.want.seat || v.Here != c.want.here || v.Paused != c.want.paused || v.Calling != c.want.calling {
				t.Errorf("step %s, seat %d, here %v, paused %v, calling %v; want %+v", v.Step, v.Seat, v.Here, v.Paused, v.Calling, c.want)
			}
			if c.want.say == "-" && v.Say != "" || c.want.say != "-" && !strings.Contains(v.Say, c.want.say) {
				t.Errorf("says %q, want %q", v.Say, c.want.say)
			}
			if len(v.Kept) != c.want.kept || len(v.Results) != c.want.results || v.Kept == nil {
				t.Errorf("%d kept (%v), %d results; want %+v", len(v.Kept), v.Kept, len(v.Results), c.want)
			}
			front := [2]int{}
			if v.Front != nil {
				front = [2]int{v.Front.N, v.Front.Take}
				b.checkFront(v)
			}
			if front != c.want.front || (v.Front == nil) == (c.want.step == stepSet) {
				t.Errorf("in front: %+v, want %v", v.Front, c.want.front)
			}
			if c.want.step != stepDoor && asked > 0 && asked != c.want.seat {
				t.Errorf("asked for the sign of seat %d", asked)
			}
			for _, r := range v.Results {
				if r.Right != (r.Pick == r.Answer) || !slices.Contains(r.Codes, r.Answer) || r.Chance == "" {
					t.Errorf("result %+v does not hold together", r)
				}
			}
			if v.T != "view" || v.V != WireVersion || v.Title != "Tuesday session" || v.Sets != 3 || v.Cups != 8 || v.Demo || v.Rinse != 60 {
				t.Errorf("head of the view: %+v", v)
			}
		})
	}
}

// checkFront holds the set in front to the plan.
func (b *table) checkFront(v viewOut) {
	b.t.Helper()
	f := v.Front
	if !slices.Equal(f.Codes, b.room.State().Codes(v.Seat, f.N, f.Take)) {
		b.t.Errorf("codes %v of seat %d, set %d, take %d", f.Codes, v.Seat, f.N, f.Take)
	}
	// A replacement tells of the tray that was taken back, so that its codes are
	// known when they are typed.
	var old []session.Code
	if f.Take > 0 {
		old = b.room.State().Codes(v.Seat, f.N, 0)
	}
	if !slices.Equal(f.Old, old) {
		b.t.Errorf("codes taken back %v of seat %d, set %d, want %v", f.Old, v.Seat, f.N, old)
	}
	method, question, define := "triangle", "Which one is different?", ""
	if f.N == 3 {
		method, question, define = "paired-comparison", "Which cup has less body?", b.room.State().Plan.Tests[1].Definition
	}
	if f.Method != method || f.Question != question || f.Define != define || f.Again != (f.Take > 0) || f.Hint == "" {
		b.t.Errorf("in front: %+v", f)
	}
}

// TestViewOfThePlan: what the plan says of serving, light and demonstration.
func TestViewOfThePlan(t *testing.T) {
	b := newTable(t, func(p *session.Plan) {
		p.Serving.RedLight, p.Serving.LowC, p.Serving.HighC = true, 50, 60
		p.Serving.Allergens, p.Serving.Swallow, p.Serving.RinseS = "milk", "Spit.", 0
	})
	v := viewOf(b.room.State(), func(int) Sign { return Sign{} }, 0, claim(9))
	if v.Light != "red" || v.Serving != "50 to 60 °C" || v.Allergens != "milk" || v.Swallow != "Spit." || v.Rinse != 0 {
		t.Errorf("view %+v", v)
	}
	want := fmt.Sprintf("about %.0f mg if all is swallowed, robusta about %.0f mg (an estimate)", b.room.State().Plan.Supplies().CaffeineMg, b.room.State().Plan.Supplies().RobustaMg)
	if v.Caffeine != want {
		t.Errorf("caffeine: %q", v.Caffeine)
	}
}

// TestViewOfMethods: what each method's tray looks like to a phone, what is kept
// of an answer of two, and that whether it was right is told in practice only.
func TestViewOfMethods(t *testing.T) {
	attribute := func(m session.Method) session.TestPlan {
		return session.TestPlan{Method: m.Key, Goal: session.GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.3, Power: 0.8, Attribute: "body", Definition: "Body: how full it feels."}
	}
	overall := func(m session.Method) session.TestPlan {
		return session.TestPlan{Method: m.Key, Goal: session.GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.3, Power: 0.8}
	}
	for _, c := range []struct {
		test                    session.TestPlan
		cups, picks, references int
	}{
		{overall(session.Triangle), 3, 1, 0},
		{overall(session.DuoTrio), 3, 1, 1},
		{overall(session.Tetrad), 4, 2, 0},
		{attribute(session.PairedComparison), 2, 1, 0},
		{attribute(session.ThreeAFC), 3, 1, 0},
	} {
		for _, practice := range []bool{false, true} {
			b := newTable(t, func(p *session.Plan) {
				p.Tests, p.Practice = []session.TestPlan{c.test}, practice
				p.Serving.OwnResult = true
			})
			b.begin()
			b.do(session.Serve{Round: 1})
			view := func() viewOut { return viewOf(b.room.State(), func(int) Sign { return Sign{} }, 0, claim(1)) }
			f := view().Front
			if f == nil || len(f.Codes) != c.cups || f.Picks != c.picks || f.References != c.references || (f.Define != "") != (c.test.Attribute != "") {
				t.Fatalf("%s: in front: %+v", c.test.Method, f)
			}
			// The last cup, or the two last: their sorting goes by the first cup's pair.
			lock := session.Lock{Seat: 1, Set: 1, Pick: f.Codes[c.cups-1], PhoneAt: noon}
			pick, also := lock.Pick, session.Code(0)
			if c.picks == 2 {
				lock.Also = f.Codes[c.cups-2]
				pick, also = f.Codes[0], f.Codes[1]
			}
			b.do(lock)
			kept := view().Kept
			if len(kept) != 1 || kept[0].Pick != pick || kept[0].Also != also {
				t.Fatalf("%s: kept %+v, want %d and %d", c.test.Method, kept, pick, also)
			}
			if right, _, _ := b.room.State().Practised(1, 1, 0); (kept[0].Right != nil) != practice || practice && *kept[0].Right != right {
				t.Errorf("%s, practice %v: told %v", c.test.Method, practice, kept[0].Right)
			}
			if practice {
				continue
			}
			b.lock2(2, lock)
			b.lock2(3, lock)
			b.do(session.Close{}, session.Reveal{})
			results := view().Results
			if len(results) != 1 || results[0].Pick != pick || results[0].Also != also || (results[0].AnswerAlso != 0) != (c.picks == 2) ||
				results[0].Right != (results[0].Answer == pick && results[0].AnswerAlso == also) {
				t.Errorf("%s: results %+v", c.test.Method, results)
			}
		}
	}
}

// lock2 answers for another seat from the same places as a lock of seat 1.
func (b *table) lock2(seat int, as session.Lock) {
	b.t.Helper()
	from, to := b.room.State().Codes(1, as.Set, as.Take), b.room.State().Codes(seat, as.Set, as.Take)
	at := func(c session.Code) session.Code {
		if i := slices.Index(from, c); i >= 0 {
			return to[i]
		}
		return 0
	}
	as.Seat, as.Pick, as.Also = seat, at(as.Pick), at(as.Also)
	b.do(as)
}
