package session

import (
	"encoding/csv"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// The judged sets are held to the registered result, which is computed another
// way: as many are right as the result counts, in every method.
func TestJudgedSetsAreThoseThatCount(t *testing.T) {
	for _, m := range Methods {
		p := planOf(8, testOf(m, GoalDifference, 1))
		g := newGame(t).toOpen(p, 7)
		g.do(Serve{Round: 1})
		if JudgedSets(g.s) != nil {
			t.Errorf("%s: sets are judged before the reveal", m.Key)
		}
		for seat := 1; seat <= 6; seat++ {
			l := g.answer(seat, 1, 0, seat%2 == 0)
			l.Guess, l.Paper = seat == 3, seat == 4
			g.do(l)
		}
		served := g.s.Rounds[0]
		g.do(Void{Seat: 5, Set: 1, Reason: text("spilt"), Replace: true})
		called := g.now
		g.do(g.answer(5, 1, 1, true))
		result := g.reveal()
		sets := JudgedSets(g.s)
		if len(sets) != result.Tests[0].N || len(sets) != 6 {
			t.Fatalf("%s: %d sets, and the result counts %d", m.Key, len(sets), result.Tests[0].N)
		}
		right := 0
		for _, s := range sets {
			if s.Right {
				right++
			}
			codes := g.s.Codes(s.Seat, s.Set, s.Take)
			a := g.s.Seats[s.Seat-1].Sets[0].Takes[s.Take].Answer
			if codes[s.Place-1] != a.Pick || (s.AlsoPlace > 0) != (a.Also != 0) || s.AlsoPlace > 0 && codes[s.AlsoPlace-1] != a.Also {
				t.Errorf("%s, seat %d: place %d and %d of %v, picked %d and %d", m.Key, s.Seat, s.Place, s.AlsoPlace, codes, a.Pick, a.Also)
			}
			// An answer is right where it names the counted cup, with the leftmost one in a
			// method of two.
			last := a.Pick
			if a.Also != 0 {
				last = a.Also
			}
			if (codes[s.Counted-1] == last) != s.Right {
				t.Errorf("%s, seat %d: right %v, the counted cup at place %d of %v, and named was %d", m.Key, s.Seat, s.Right, s.Counted, codes, last)
			}
			from := served
			if s.Seat == 5 {
				from = called
			}
			took := a.At.Sub(from)
			if s.Paper {
				took = 0
			}
			if s.Took != took || !s.At.Equal(a.At) || s.Guess != (s.Seat == 3) || s.Paper != (s.Seat == 4) || s.Take != 0 != (s.Seat == 5) {
				t.Errorf("%s: %+v, want %v", m.Key, s, took)
			}
			if s.Method != m.Key || s.Kind != KindRoutine || s.Processed != (s.Right && !m.Overall) {
				t.Errorf("%s: %+v", m.Key, s)
			}
		}
		if right != result.Tests[0].Correct || right != 4 {
			t.Errorf("%s: %d right, and the result counts %d", m.Key, right, result.Tests[0].Correct)
		}
		// Taken out after the reveal, a set is judged no more.
		g.do(Amend{Seat: 2, Set: 1, Reason: text("wrong vessel")})
		if sets = JudgedSets(g.s); len(sets) != 5 || slices.ContainsFunc(sets, func(s JudgedSet) bool { return s.Seat == 2 }) {
			t.Errorf("%s: an amended set is judged: %+v", m.Key, sets)
		}
		j, ok := Judged(g.s)
		if !ok || j.Tests[0].Seats != 5 || j.Tests[0].Chance != m.Chance() || j.Seq != g.s.Seq || !j.At.Equal(g.s.Times[PhaseRevealed]) || j.Label(0) != "" {
			t.Errorf("%s: %+v", m.Key, j)
		}
		if again, ok, err := FoldJudged(g.s.ID, g.entries); err != nil || !ok || !reflect.DeepEqual(again, j) {
			t.Errorf("%s: the entries give %+v, %v", m.Key, again, err)
		}
	}
}

func TestJudgedKinds(t *testing.T) {
	p := planOf(6, triangles(1), blankTest(), pairOn("body"))
	p.Processed, p.Control = p.Untreated, &Control{Words: "brew diluted to 90 %", Percent: 90, DPrime: 1.4}
	g, r := played(t, p, 6, 4, 2, 5)
	j, ok := Judged(g.s)
	if !ok || j.Tests[0].Kind != KindControl || j.Tests[1].Kind != KindBlank || j.Tests[2].Kind != KindControl || *j.Control != *p.Control {
		t.Fatalf("%+v", j)
	}
	if j.Label(0) != "brew diluted to 90 %" || j.Label(1) != "" {
		t.Errorf("labels %q and %q", j.Label(0), j.Label(1))
	}
	if !holds(r.Cautions, "They tell of those who tasted, not of a treatment") {
		t.Errorf("%q", r.Cautions)
	}
	if !g.verified(Paper{}).OK() {
		t.Errorf("%v", g.verified(Paper{}).Findings)
	}
	// The pourer is told which vessel holds the treated brew of the one lot.
	sheet, err := g.s.PourSheet()
	if err != nil {
		t.Fatal(err)
	}
	l, _ := g.s.Key()
	if a, b := sheet.Lots[l.vessel('A')], sheet.Lots[l.vessel('B')]; a.Number != "QX-301" || b.Number != "QX-301 (brew diluted to 90 %)" || b.ID != a.ID {
		t.Errorf("vessels of %+v and %+v", a, b)
	}

	p.Practice = true
	g, _ = played(t, p, 6, 4, 2, 5)
	if j, ok := Judged(g.s); ok || JudgedSets(g.s) != nil || j.Tests != nil {
		t.Error("practice is judged")
	}
}

// Sets that were answered after a sequential test's stop were tasted like others.
func TestJudgedAfterTheStop(t *testing.T) {
	p := planOf(4, sequential(6))
	g := newGame(t).toOpen(p, 4)
	for set := 1; set <= 6 && !g.s.Stopped; set++ {
		g.do(Serve{Round: set})
		if g.s.Stopped {
			break
		}
		if len(g.s.Rounds) < set { // that was the look
			g.do(Serve{Round: set})
		}
		for seat := 1; seat <= 4; seat++ {
			g.do(g.answer(seat, set, 0, true))
		}
	}
	if !g.s.Stopped {
		t.Fatal("all right, and no stop")
	}
	answered := 4 * len(g.s.Rounds)
	g.do(Close{}, Reveal{})
	if got := len(JudgedSets(g.s)); got != answered {
		t.Errorf("%d sets are judged of %d answered", got, answered)
	}
}

// Rooms keep what they decoded, and see a reveal and an amendment.
func TestRoomsJudged(t *testing.T) {
	var j Memory
	rooms := openRooms(t, &j)
	defer rooms.Close()
	judged := func() []JudgedSession {
		t.Helper()
		all, err := rooms.Judged(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	a := record(t, rooms, "a-1", 1, OpenLobby{}, sit(0, 1), sit(0, 2), FreezeList{}, Open{releases()}, Serve{Round: 1})
	if len(judged()) != 0 {
		t.Error("an open session is judged")
	}
	key := a.State().sealed.Layout.Seats[0][0]
	pick, _ := namedOf(a.State().Plan, key, 0, true)
	for i, act := range []Act{Lock{Seat: 1, Set: 1, Pick: pick, PhoneAt: noon}, Close{}, Reveal{}} {
		mustDo(t, a, Command{At: noon.Add(time.Hour + time.Duration(i)*time.Second), Actor: Host, Act: act})
	}
	all := judged()
	if len(all) != 1 || len(all[0].Sets) != 1 || !all[0].Sets[0].Right {
		t.Fatalf("%+v", all)
	}
	if again := judged(); &again[0] != &all[0] {
		t.Error("nothing has changed, and all is computed again")
	}
	mustDo(t, a, Command{At: noon.Add(2 * time.Hour), Actor: Host, Act: Amend{Seat: 1, Set: 1, Reason: text("wrong vessel")}})
	if now := judged(); len(now) != 1 || len(now[0].Sets) != 0 || len(all[0].Sets) != 1 {
		t.Errorf("after an amendment %+v", now)
	}
	fresh := openRooms(t, &j)
	defer fresh.Close()
	if got, err := fresh.Judged(t.Context()); err != nil || !reflect.DeepEqual(got, judged()) {
		t.Errorf("after a restart %+v, %v", got, err)
	}
}

func TestRecordsCSV(t *testing.T) {
	p := planOf(4, triangles(1), pairOn("body"))
	p.Control = &Control{Words: "brew, diluted to 90 %", Percent: 90, DPrime: 1.5}
	g, _ := played(t, p, 4, 3, 2)
	j, _ := Judged(g.s)
	d := newDesk(t).enter("Ena Sol", "Ori Vell")
	d.do(
		TieSeats{"p-1", []SeatRef{{j.Session, 1}, {j.Session, 2}}},
		ImportRecords{[]PaperRecord{{"p-2", "2029-11-05", Triangle.Key, KindControl, "brew diluted to 80 %", 2, 12, 9, "binder 3"}}},
	)
	b, err := RecordsCSV(d.l, []JudgedSession{j})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(b))).ReadAll()
	if err != nil || len(rows) != 1+8+1 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	if len(at) != len(recordColumns) {
		t.Errorf("columns %q", rows[0])
	}
	right, people := 0, map[string]int{}
	for _, r := range rows[1:9] {
		people[r[at["person"]]]++
		if r[at["right"]] == "1" {
			right++
		}
		if r[at["control"]] != "brew, diluted to 90 %" || r[at["percent"]] != "90" || r[at["dprime"]] != "1.5" || r[at["sets"]] != "1" || r[at["kind"]] != "control" {
			t.Errorf("%q", r)
		}
	}
	if right != 5 || people["Judge 1"] != 4 || people[""] != 4 {
		t.Errorf("%d right, by %v", right, people)
	}
	last := rows[9]
	if last[at["person"]] != "Judge 2" || last[at["sets"]] != "12" || last[at["right"]] != "9" || last[at["at"]] != "2029-11-05" || last[at["source"]] != "binder 3" {
		t.Errorf("%q", last)
	}
	for _, name := range []string{"Ena", "Ori", "Taster"} {
		if strings.Contains(string(b), name) {
			t.Errorf("the table holds %q", name)
		}
	}
}

// A session that another hand has written is an error, and no panic.
func TestFoldJudgedOfASenselessJournal(t *testing.T) {
	g, _ := played(t, planOf(3, triangles(1)), 3, 2)
	if _, _, err := FoldJudged(g.s.ID, g.entries[3:]); !errors.Is(err, ErrSenseless) {
		t.Errorf("without its seal: %v", err)
	}
	p := planOf(3, triangles(1))
	p.Tests[0].Method = "sip"
	other := slices.Clone(g.entries)
	for i, e := range other {
		rec := must(e.Record(nil))
		if sealed, ok := rec.Event.(*Sealed); ok {
			sealed.Plan = p
			other[i] = must(NewEntry(e.Seq, e.Prev, rec))
		}
	}
	if _, _, err := FoldJudged(g.s.ID, other); !errors.Is(err, ErrSenseless) {
		t.Errorf("with a method that is none: %v", err)
	}
}

// Control sets of one lot are two brews, never two lots.
func TestAnswerOfOneLot(t *testing.T) {
	p := Plan{Untreated: Lot{ID: "lot-1"}, Processed: Lot{ID: "lot-1"}, Control: &Control{Words: "brew diluted to 90 %"}}
	two := Plan{Untreated: Lot{ID: "lot-1"}, Processed: Lot{ID: "lot-2"}, Control: p.Control}
	if !p.OneLot() || two.OneLot() || (Plan{}).OneLot() {
		t.Error("one lot")
	}
	for _, c := range []struct{ correct, low int }{{13, 18}, {12, 6}, {13, 6}} {
		r := result(of(triangles(1), c.correct, 24), of(twoSidedOn("body"), c.low, 24))
		of := r.Answer()
		if !strings.Contains(of, "two lots") {
			t.Fatalf("%q", of)
		}
		r.OneLot = true
		if say := r.Answer(); strings.Contains(say, "lot") || !strings.Contains(say, "tell the two brews apart") {
			t.Errorf("%q", say)
		}
		if say := p.OfBrews(of); say != r.Answer() || two.OfBrews(of) != of {
			t.Errorf("%q", say)
		}
	}
	s := &State{Plan: p}
	if w := (&reporter{s: s}).objective(&TestResult{Plan: triangles(1), Method: Triangle}); strings.Contains(strings.Join(w, " "), "lot") {
		t.Errorf("%q", w)
	}
}
