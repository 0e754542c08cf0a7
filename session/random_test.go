package session

import (
	"flag"
	"math"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// What fails is printed with its seed; no file is left behind.
func init() {
	if err := flag.Set("rapid.nofailfile", "true"); err != nil {
		panic(err)
	}
}

// randomAct draws an act that is often sensible and sometimes absurd.
func randomAct(t *rapid.T, s *State) Act {
	n := func(name string) int {
		return rapid.SampledFrom([]int{1, 1, 1, 1, 2, 2, 2, 3, 3, 4, 0, -1, 9, math.MaxInt, math.MinInt}).Draw(t, name)
	}
	words := func() Text { return text(rapid.SampledFrom([]string{"spilt", "ill", "Ena", ""}).Draw(t, "words")) }
	take := func() int {
		return rapid.SampledFrom([]int{0, 0, 0, 1, 1, 2, -1, math.MaxInt, math.MinInt}).Draw(t, "take")
	}
	switch rapid.IntRange(0, 28).Draw(t, "act") {
	case 0:
		return Draft{Plan: randomPlan(t), Demo: rapid.Bool().Draw(t, "demo")}
	case 1:
		return SetPin{testPin}
	case 2:
		p := s.Plan
		if rapid.IntRange(0, 5).Draw(t, "foreign") == 0 {
			p = randomPlan(t)
		}
		seal, _ := Seal(p, chance(rapid.Uint64().Draw(t, "seed")))
		return SealPlan{seal}
	case 3:
		return OpenLobby{}
	case 4, 5, 6:
		return Sit{Seat: rapid.OneOf(rapid.Just(0), rapid.IntRange(-1, 9)).Draw(t, "seat"), Name: words(), Token: phone(rapid.IntRange(1, 5).Draw(t, "phone"))}
	case 7:
		return FreeSeat{n("seat")}
	case 8:
		return MoveSeat{n("seat")}
	case 9:
		return FreezeList{}
	case 10:
		return Open{releases()[:rapid.SampledFrom([]int{2, 2, 2, 2, 1, 0}).Draw(t, "releases")]}
	case 11, 12:
		return Serve{Round: rapid.OneOf(rapid.Just(len(s.Rounds)+1), rapid.IntRange(-1, 9)).Draw(t, "round")}
	case 13:
		return Pause{}
	case 14:
		return Resume{}
	case 15, 16, 17, 18, 19:
		l := Lock{Seat: n("seat"), Set: n("set"), Take: take(), Guess: rapid.Bool().Draw(t, "guess"), PhoneAt: noon}
		l.Pick = Code(rapid.IntRange(-1, 1100).Draw(t, "pick"))
		if seat := s.seat(l.Seat); seat != nil && rapid.IntRange(0, 4).Draw(t, "front") > 0 {
			l.Set, l.Take, _ = seat.Front()
		}
		if codes := s.Codes(l.Seat, l.Set, l.Take); codes != nil {
			l.Pick = rapid.SampledFrom(codes).Draw(t, "code")
			if s.methodOf(l.Set).Picks == 2 || rapid.IntRange(0, 9).Draw(t, "two") == 0 {
				l.Also = rapid.SampledFrom(codes).Draw(t, "also")
			}
		}
		return l
	case 20, 21:
		v := Void{n("seat"), n("set"), take(), words(), rapid.Bool().Draw(t, "replace")}
		if len(s.Rounds) > 0 && rapid.Bool().Draw(t, "last") {
			v.Set = len(s.Rounds)
		}
		return v
	case 22:
		return LeaveSeat{n("seat"), words()}
	case 23:
		switch rapid.IntRange(0, 2).Draw(t, "bench") {
		case 0:
			return NameRole{rapid.SampledFrom(append(Roles, "")).Draw(t, "role"), words()}
		case 1:
			return Confirm{rapid.SampledFrom([]string{"cups", "hot", "lids"}).Draw(t, "check"), rapid.Bool().Draw(t, "held"), words()}
		}
		return rapid.SampledFrom([]Act{PrintPourSheet{}, SeePourSheet{}}).Draw(t, "sheet")
	case 24:
		return rapid.SampledFrom([]Act{Close{}, nil, nil, EnterLot{}}).Draw(t, "end")
	case 25, 26, 27:
		// Of a flight: on with the next one, whatever it stands at.
		switch {
		case !s.Tasting && !s.LobbyOpen && !s.Frozen:
			return OpenLobby{}
		case !s.Tasting && s.LobbyOpen && len(s.Occupied()) > 1:
			return FreezeList{}
		case !s.Tasting && s.Frozen:
			return Open{releases()}
		case len(s.Rounds) == 0:
			return Serve{Round: 1}
		}
		return EndFlight{}
	case 28:
		// Rarely, since it ends all.
		if rapid.IntRange(0, 9).Draw(t, "abandon") == 0 {
			return Abandon{words()}
		}
		return Reveal{}
	default:
		// No PIN: hashing is slow. A PIN of letters is never hashed.
		return OpenPourSheet{Pin: "none"}
	}
}

func randomPlan(t *rapid.T) Plan {
	p := planOf(rapid.IntRange(1, 4).Draw(t, "seats"), triangles(rapid.IntRange(1, 2).Draw(t, "sets")))
	if rapid.Bool().Draw(t, "pair") {
		p.Tests = append(p.Tests, pairOn("body"))
	}
	if rapid.IntRange(0, 9).Draw(t, "flights") == 0 {
		p.Flights = []int{p.Seats, 2}
	}
	return p
}

// walkPlan is a plan of six seats that passes Check: any method and goal, one
// flight or several, and a test that may stop early or not.
func walkPlan(t *rapid.T) Plan {
	m := rapid.SampledFrom(Methods).Draw(t, "method")
	p := planOf(6, testOf(m, rapid.SampledFrom(goalsOf(m)).Draw(t, "goal"), rapid.IntRange(1, 2).Draw(t, "sets")))
	test := &p.Tests[0]
	if m.Key == ThreeAFC.Key {
		test.Sets = 1
	}
	p.Flights = rapid.SampledFrom([][]int{nil, {3, 3}, {2, 2, 2}}).Draw(t, "flights")
	p.Practice = rapid.Bool().Draw(t, "practice")
	if fixed := *test; rapid.Bool().Draw(t, "sequential") {
		// α this large, so that a few answers decide.
		test.Sequential, test.Alpha, test.Beta, test.PdLimit = true, 0.4, 0.4, test.Pd
		if p.Check() != nil {
			*test = fixed
		}
	}
	if f := p.Check(); f != nil {
		t.Fatalf("%v", f)
	}
	return p
}

// TestRandomSessions plays random commands and holds what must always be so.
// Most begin at a table that is served already.
func TestRandomSessions(t *testing.T) {
	reached := map[Phase]int{}
	answers, replacements, ends, looks, stops := 0, 0, 0, 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		g := newGame(rt)
		switch rapid.SampledFrom([]int{3, 3, 3, 3, 2, 2, 1, 0}).Draw(rt, "begin") {
		case 3:
			g.toSealed(walkPlan(rt))
			seats := g.seatFlight()
			g.do(Serve{Round: 1})
			if rapid.IntRange(0, 3).Draw(rt, "all in") > 0 {
				for _, seat := range seats {
					g.do(g.answer(seat, 1, 0, rapid.Bool().Draw(rt, "right")))
				}
				if len(g.s.Plan.Flights) > 1 && g.s.Plan.SetsPerSeat() == 1 {
					g.do(EndFlight{})
				} else if g.s.Plan.SetsPerSeat() > 1 {
					g.do(Serve{Round: 2})
				}
			}
		case 1:
			g.toSealed(planOf(4, triangles(2), pairOn("body"))).do(OpenLobby{})
		case 2:
			g.toOpen(planOf(4, triangles(2), pairOn("body")), 3).do(Serve{Round: 1})
		}
		for range rapid.IntRange(40, 90).Draw(rt, "steps") {
			g.now = g.now.Add(time.Duration(rapid.IntRange(0, 30).Draw(rt, "seconds")) * time.Second)
			c := Command{At: g.now, Actor: Host, Act: randomAct(rt, g.s)}
			if rapid.Bool().Draw(rt, "id") {
				c.ID = cmdID(rapid.Uint64Range(1, 1<<60).Draw(rt, "command"))
			}
			before := g.s
			events, err := g.try(c) // fails where Decide changes the state
			if (err != nil || len(events) == 0) && g.s.Seq != before.Seq {
				rt.Fatalf("%T: refused or idle, and the journal grew", c.Act)
			}
			holdsAlways(rt, before, g.s)
		}
		reached[g.s.Phase]++
		for _, step := range g.s.Trail {
			switch step.Event.(type) {
			case *Locked:
				answers++
			case *ReplacementCalled:
				replacements++
			case *FlightEnded:
				ends++
			case *Looked:
				looks++
			}
		}
		if g.s.Stopped {
			stops++
		}
		if !reflect.DeepEqual(g.s, g.replayed(g.s.Seq)) {
			rt.Fatal("the replayed journal is another state than the live one")
		}
		if err := CheckChain(g.entries); err != nil {
			rt.Fatal(err)
		}
		row, err := FoldRow(Row{ID: g.s.ID}, g.entries)
		if err != nil || row.Phase != g.s.Phase || row.Seq != g.s.Seq {
			rt.Fatalf("row %+v of a session that is %s: %v", row, g.s.Phase, err)
		}
	})
	// The random walk comes round: else the rules above held nothing.
	for _, p := range []Phase{PhaseSealed, PhaseOpen, PhaseRevealed} {
		if reached[p] == 0 {
			t.Errorf("no random session ended %s: %v", p, reached)
		}
	}
	if answers < 20 || replacements < 1 || ends < 1 || looks < 1 || stops < 1 {
		t.Errorf("%d answers, %d replacements, %d flights ended, %d looks and %d stops in all", answers, replacements, ends, looks, stops)
	}
}

var phaseOrder = map[Phase]int{PhaseNone: 0, PhaseDrafted: 1, PhaseSealed: 2, PhaseOpen: 3, PhaseClosed: 4, PhaseRevealed: 5, PhaseAbandoned: 6}

func holdsAlways(t *rapid.T, before, s *State) {
	if uint64(len(s.Trail)) != s.Seq {
		t.Fatalf("trail of %d entries, the last is %d", len(s.Trail), s.Seq)
	}
	if phaseOrder[s.Phase] < phaseOrder[before.Phase] {
		t.Fatalf("from %s back to %s", before.Phase, s.Phase)
	}
	if before.Phase != PhaseNone && before.Phase != PhaseDrafted && (!reflect.DeepEqual(before.Plan, s.Plan) || before.sealed != s.sealed) {
		t.Fatal("a sealed plan changed")
	}
	if s.Flight < before.Flight || s.Flight > max(1, len(s.Plan.FlightSizes())) {
		t.Fatalf("from flight %d to %d of %d", before.Flight, s.Flight, len(s.Plan.FlightSizes()))
	}
	if before.Stopped && (!s.Stopped || len(s.Rounds) > len(before.Rounds) || s.LobbyOpen && !before.LobbyOpen || len(s.looks) > len(before.looks)) {
		t.Fatal("after stop the tasting went on")
	}
	for i, l := range before.looks {
		if s.looks[i] != l {
			t.Fatalf("look %d changed from %+v to %+v", i+1, l, s.looks[i])
		}
	}
	type phoneIn struct {
		token  Hash
		flight int
	}
	tokens := map[phoneIn]bool{}
	for i := range s.Seats {
		seat := &s.Seats[i]
		if seat.Person != "" && !seat.Claiming {
			flight, _ := s.Plan.FlightOf(seat.Number)
			if tokens[phoneIn{seat.Token, flight}] {
				t.Fatalf("seat %d: its phone has two seats in a flight", seat.Number)
			}
			tokens[phoneIn{seat.Token, flight}] = true
		}
		for j := range seat.Sets {
			set := &seat.Sets[j]
			answered := 0
			for k := range set.Takes {
				take := &set.Takes[k]
				if take.Number != k || k > 0 && set.Takes[k-1].Void == nil {
					t.Fatalf("seat %d, set %d: take %d where the one before stands", seat.Number, set.Number, k)
				}
				if take.Answer != nil && take.Void == nil {
					answered++
				}
				if a := take.Answer; a != nil {
					pick, also, ok := s.methodOf(set.Number).Answer(s.Codes(seat.Number, set.Number, k), a.Pick, a.Also)
					if !ok || pick != a.Pick || also != a.Also {
						t.Fatalf("seat %d, set %d: %d and %d are no answer as it is kept", seat.Number, set.Number, a.Pick, a.Also)
					}
				}
			}
			if answered > 1 {
				t.Fatalf("seat %d, set %d: %d answers", seat.Number, set.Number, answered)
			}
			if len(set.Takes) > 0 && (s.InFlight(seat.Number) && set.Number > len(s.Rounds) || !seat.Listed) {
				t.Fatalf("seat %d, set %d: on the table and never served", seat.Number, set.Number)
			}
			holdsAnswers(t, before, seat, set)
		}
	}
	locked := map[[3]int]int{}
	for _, step := range s.Trail {
		if e, ok := step.Event.(*Locked); ok {
			locked[[3]int{e.Seat, e.Set, e.Take}]++
		}
	}
	for at, n := range locked {
		if n > 1 {
			t.Fatalf("seat, set, take %v: locked %d times", at, n)
		}
	}
}

// holdsAnswers holds that an answer once locked is never another.
func holdsAnswers(t *rapid.T, before *State, seat *Seat, set *Set) {
	if len(before.Seats) == 0 {
		return
	}
	for k, old := range before.Seats[seat.Number-1].Sets[set.Number-1].Takes {
		if old.Answer != nil && !reflect.DeepEqual(old.Answer, set.Takes[k].Answer) {
			t.Fatalf("seat %d, set %d: a locked answer changed", seat.Number, set.Number)
		}
	}
}
