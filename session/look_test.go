package session

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"oddcup/stats"
)

// rule is the registered rule of a sequential test, written down anew: looks
// after every round of this many seats, the last one at the planned number.
func rule(t TestPlan, seats, most int) stats.Sequential {
	m, _ := MethodByKey(t.Method)
	c := m.Chance()
	return stats.Sequential{P0: c, P1: c + t.Pd*(1-c), Alpha: t.Alpha, Beta: t.Beta, Every: seats, Max: most, AtMax: stats.MaxUndecided}
}

// walk plays a sequential session, all seats in seat order, until it is told to
// stop or has served all, and gives the answers in the order in which they came.
func walk(t *testing.T, p Plan, right func() bool) (*game, []bool) {
	t.Helper()
	g := newGame(t).toSealed(p)
	var answers []bool
	for flight := range p.FlightSizes() {
		if flight > 0 {
			g.do(EndFlight{})
			if g.s.Stopped {
				return g, answers
			}
		}
		seats := g.seatFlight()
		for set := 1; set <= p.SetsPerSeat(); set++ {
			if g.s.LookDue() {
				g.do(Serve{Round: set}) // takes the look alone
			}
			if g.s.Stopped {
				return g, answers
			}
			g.do(Serve{Round: set})
			for _, seat := range seats {
				correct := right()
				if p.TestOfSet(set) == len(p.Tests)-1 {
					answers = append(answers, correct)
				}
				g.do(g.answer(seat, set, 0, correct))
			}
		}
	}
	return g, answers
}

// The decision is that of stats.Sequential, followed by hand over the answers in
// the order of rounds and seats, for every method and goal, sets or flights.
func TestSequentialDecisionsFollowTheLines(t *testing.T) {
	r := rand.New(chance(8))
	ends := map[stats.Decision]int{}
	stops := 0
	for i := range 90 {
		m := Methods[i%len(Methods)]
		goal := []string{GoalDifference, GoalBoth}[r.IntN(2)]
		sets := 1
		if m.Overall {
			sets = 1 + r.IntN(3)
		}
		test := testOf(m, goal, sets)
		test.Sequential, test.Pd, test.Beta = true, 0.5, 0.1
		if goal == GoalBoth {
			test.PdLimit = test.Pd
		}
		size, flights := 4+r.IntN(5), 1
		if sets == 1 || r.IntN(2) == 0 {
			flights = 2 + r.IntN(3)
		}
		p := planOf(size*flights, test)
		if flights > 1 {
			p.Flights = repeat(size, flights)
		} else if r.IntN(2) == 0 {
			p.Tests = []TestPlan{triangles(1), test} // looks begin with its own rounds
		}
		if p.Check() != nil {
			continue
		}
		pc := m.Chance() + []float64{0, 0.2, 0.5, 0.9}[r.IntN(4)]*(1-m.Chance())
		g, answers := walk(t, p, func() bool { return r.Float64() < pc })
		want := rule(test, size, size*sets*flights).Follow(answers)
		g.do(Close{})
		got := g.open().Tests[len(p.Tests)-1]
		at := fmt.Sprintf("%s for %s, %d seats in %v, %d sets", m.Key, goal, p.Seats, p.Flights, sets)

		if len(got.Looks) != (want.N+size-1)/size {
			t.Errorf("%s: %d looks at %d answers", at, len(got.Looks), want.N)
		}
		for j, l := range got.Looks {
			correct := 0
			for _, right := range answers[:size*(j+1)] {
				if right {
					correct++
				}
			}
			hand := rule(test, size, size*sets*flights).Look(size*(j+1), correct)
			if l.N != hand.N || l.Correct != correct || l.Decision != hand.Decision {
				t.Errorf("%s, look %d: %+v, want %d of %d and %s", at, j+1, l, correct, hand.N, hand.Decision)
			}
			round := j%sets + 1 + p.SetsPerSeat() - sets
			if l.Flight != j/sets+1 || l.Round != round {
				t.Errorf("%s, look %d: in round %d of flight %d, want %d of %d", at, j+1, l.Round, l.Flight, round, j/sets+1)
			}
		}
		last := got.Looks[len(got.Looks)-1]
		if last.Decision != want.Decision || last.N != want.N || last.Correct != want.Correct {
			t.Errorf("%s: ended %+v, by hand %+v", at, last, want)
		}
		// The line was reached in time to be told of, or at the very end.
		if g.s.Stopped != (want.N < size*sets*flights) {
			t.Errorf("%s: told to stop %v, by hand after %d", at, g.s.Stopped, want.N)
		}
		outcome := map[stats.Decision]Outcome{stats.Different: Different, stats.Undecided: Undecided, stats.Similar: Undecided}
		if goal == GoalBoth {
			outcome[stats.Similar] = Similar
		}
		if len(p.Tests) == 1 && got.Outcome != outcome[want.Decision] {
			t.Errorf("%s: %s, by hand %s", at, got.Outcome, want.Decision)
		}
		if got.PSentence() == "" || !strings.Contains(got.PSentence(), "no p-value") || got.SimilarSentence() != "" {
			t.Errorf("%s: %q %q", at, got.PSentence(), got.SimilarSentence())
		}
		if !reflect.DeepEqual(g.s, g.replayed(g.s.Seq)) {
			t.Errorf("%s: the replayed journal is another state than the live one", at)
		}
		ends[want.Decision]++
		if g.s.Stopped {
			stops++
		}
	}
	if ends[stats.Different] < 10 || ends[stats.Similar] < 10 || ends[stats.Undecided] < 5 || stops < 20 {
		t.Errorf("ends %v, %d early", ends, stops)
	}
}

// toLook serves a sequential test of six seats and two rounds, and answers all
// of the first but one.
func toLook(t *testing.T, right bool) *game {
	g := newGame(t).toOpen(planOf(6, sequential(3)), 6)
	g.do(Serve{Round: 1})
	for seat := 1; seat <= 5; seat++ {
		g.do(g.answer(seat, 1, 0, right))
	}
	return g
}

func TestLooksAreAtWholeRoundsOnly(t *testing.T) {
	g := toLook(t, true)
	g.refuse(Serve{Round: 2}, ErrRound)
	if _, err := g.try(Command{Act: Serve{Round: 2}}); err == nil || !strings.Contains(err.Error(), "set 1") {
		t.Errorf("the error names no set: %v", err)
	}
	// A set that is taken out is in; so is that of a seat that left.
	for name, then := range map[string][]Act{
		"answered": {g.answer(6, 1, 0, true)},
		"void":     {Void{Seat: 6, Set: 1, Reason: text("spilt")}},
		"left":     {LeaveSeat{6, text("ill")}},
	} {
		g := toLook(t, true)
		g.do(then...)
		events := g.do(Serve{Round: 2})
		if len(events) != 1 || !reflect.DeepEqual(events[0], &Looked{Flight: 1, Round: 1, Stop: true}) {
			t.Errorf("%s: %+v", name, events)
		}
	}
	// A replacement that has been called is not in.
	g.do(Void{Seat: 6, Set: 1, Reason: text("spilt"), Replace: true})
	g.refuse(Serve{Round: 2}, ErrRound)
	g.do(g.answer(6, 1, 1, true), Serve{Round: 2})
	if !g.s.Stopped {
		t.Error("six of six do not stop the test")
	}
}

// Once the rule has said stop nothing is served, whoever asks; the session can
// only be closed. No later answer changes what was decided.
func TestStopIsTheEnd(t *testing.T) {
	g := toLook(t, true)
	g.do(g.answer(6, 1, 0, true), Serve{Round: 2})
	if len(g.s.Rounds) != 1 || g.s.Seats[0].Sets[1].Last() != nil {
		t.Error("a round was served after stop")
	}
	g.refuse(Serve{Round: 2}, ErrStopped)
	g.nothing(Serve{Round: 1})
	// A tray of the last round may still be taken out, but is not poured again:
	// the count at the look stays, and what counts now is shown beside it.
	g.refuse(Void{Seat: 1, Set: 1, Reason: text("wrong vessel"), Replace: true}, ErrStopped)
	g.do(Void{Seat: 1, Set: 1, Reason: text("wrong vessel")})
	r := g.reveal().Tests[0]
	if len(r.Looks) != 1 || r.Looks[0].N != 6 || r.Looks[0].Correct != 6 || r.Looks[0].Decision != stats.Different {
		t.Errorf("looks %+v", r.Looks)
	}
	if r.N != 5 || r.Correct != 5 || r.Voided != 1 || r.Outcome != Different || r.Missing != 1 {
		t.Errorf("%+v", r)
	}
	if v := r.Verdict(); !strings.HasPrefix(v, "Different: after 6 answers, 6 correct, the count reached the upper line") {
		t.Error(v)
	}
}

// A look serves nothing: after "go on" the round is poured and served. Later
// answers don't change what the look saw.
func TestLookThatGoesOn(t *testing.T) {
	g := newGame(t).toOpen(planOf(6, sequential(2)), 6)
	g.do(Serve{Round: 1})
	for seat := 1; seat <= 6; seat++ {
		g.do(g.answer(seat, 1, 0, seat <= 3))
	}
	events := g.do(Serve{Round: 2})
	want := []Event{&Looked{Flight: 1, Round: 1, Stop: false}}
	if !reflect.DeepEqual(events, want) || g.s.LookDue() || len(g.s.Rounds) != 1 {
		t.Fatalf("%+v", events)
	}
	// The trays are poured after that, and the same press again serves them.
	if events := g.do(Serve{Round: 2}); !reflect.DeepEqual(events, []Event{&RoundServed{Round: 2}}) {
		t.Fatalf("%+v", events)
	}
	for seat := 1; seat <= 6; seat++ {
		g.do(g.answer(seat, 2, 0, seat <= 3))
	}
	g.do(Void{Seat: 1, Set: 1, Reason: text("talked")}) // of the first round, later
	r := g.reveal().Tests[0]
	if len(r.Looks) != 2 || r.Looks[0].N != 6 || r.Looks[0].Correct != 3 || r.Looks[0].Decision != stats.Continue {
		t.Fatalf("looks %+v", r.Looks)
	}
	if end := r.Looks[1]; end.N != 11 || end.Correct != 5 || end.Round != 2 || end.Decision != stats.Undecided || r.Outcome != Undecided {
		t.Errorf("the end %+v: %s", end, r.Outcome)
	}
	if v := r.Verdict(); v != "Undecided: after 11 answers, 5 correct, the count lay between the lines at the end." {
		t.Error(v)
	}
}

// A session closed between flights ends with the look that was taken: it isn't
// told of twice.
func TestCloseAfterALook(t *testing.T) {
	g := newGame(t).toSealed(inFlights(planOf(12, sequential(1)), 6, 6))
	for i, seat := range g.seatFlight() {
		if i == 0 {
			g.do(Serve{Round: 1})
		}
		g.do(g.answer(seat, 1, 0, i < 3))
	}
	if events := g.do(EndFlight{}); len(events) != 2 || events[0].(*Looked).Stop {
		t.Fatalf("%+v", events)
	}
	r := g.reveal().Tests[0]
	if len(r.Looks) != 1 || r.Looks[0] != (Look{1, 1, 6, 3, stats.Undecided, false}) || r.Outcome != Undecided {
		t.Errorf("looks %+v: %s", r.Looks, r.Outcome)
	}
}

// A session closed within a round is decided by no count: the rule looks at
// whole rounds only.
func TestCloseWithinARound(t *testing.T) {
	g := newGame(t).toOpen(planOf(12, sequential(2)), 12)
	g.do(Serve{Round: 1})
	for seat := 1; seat <= 10; seat++ {
		g.do(g.answer(seat, 1, 0, true))
	}
	r := g.reveal().Tests[0]
	if len(r.Looks) != 1 || !r.Looks[0].Cut || r.Looks[0].Decision != stats.Undecided || r.Outcome != Undecided {
		t.Errorf("looks %+v: %s", r.Looks, r.Outcome)
	}
	if v := r.Verdict(); v != "Undecided: the session was closed within a round, after 10 answers, 10 correct, and the registered rule looks at whole rounds only." {
		t.Error(v)
	}
}

// A stopped sequential test says which line was reached, and without the goal of
// similarity the lower line is not called similar.
func TestSequentialVerdicts(t *testing.T) {
	for _, c := range []struct {
		goal  string
		right int
		want  string
	}{
		{GoalDifference, 10, "Different: after 12 answers, 10 correct, the count reached the upper line (α 0.05)."},
		{GoalDifference, 0, "Undecided: after 12 answers, 0 correct, the count reached the lower line: a difference that 40 % of people perceive was not found (β 0.1)."},
		{GoalBoth, 0, "Similar: after 12 answers, 0 correct, the count reached the lower line (β 0.1 at pd 40 %)."},
		{GoalBoth, 6, "Undecided: after 12 answers, 6 correct, the count lay between the lines at the end."},
	} {
		test := sequential(2)
		if test.Goal = c.goal; c.goal == GoalBoth {
			test.PdLimit = test.Pd
		}
		r := answered(planOf(6, test), seedOf(1), counting(c.right)).compute()
		if got := r.Tests[0].Verdict(); got != c.want {
			t.Errorf("%s, %d right: %s\nwant %s", c.goal, c.right, got, c.want)
		}
		if !holds(r.Cautions, "could stop early") {
			t.Errorf("%q", r.Cautions)
		}
	}
}

// What comes out before the reveal says nothing but stop or go on: two sessions
// alike but for the key, and for who was right, have the same journal but for
// the answers, codes and that word.
func TestLooksTellNothingButStop(t *testing.T) {
	for _, stop := range []bool{true, false} {
		journals := map[string]bool{}
		for _, correct := range [][]int{{1, 2, 3}, {2, 4, 6}} {
			g := newGame(t).toOpen(planOf(6, sequential(2)), 6)
			g.do(Serve{Round: 1})
			for seat := 1; seat <= 6; seat++ {
				g.do(g.answer(seat, 1, 0, stop || seat == correct[0] || seat == correct[1] || seat == correct[2]))
			}
			g.do(Serve{Round: 2})
			if g.s.Stopped != stop {
				t.Fatalf("stopped %v", g.s.Stopped)
			}
			after := ""
			for _, step := range g.s.Trail {
				switch e := step.Event.(type) {
				case *Locked, *Sealed, *Drafted, *PinSet, *Joined:
				default:
					after += fmt.Sprintf("%s %s\n", e.Kind(), must(json.Marshal(e)))
				}
			}
			journals[after] = true
			if !strings.Contains(after, fmt.Sprintf(`looked {"flight":1,"round":1,"stop":%v}`, stop)) {
				t.Errorf("%s", after)
			}
		}
		if len(journals) != 1 {
			t.Errorf("stop %v: the journals differ: %v", stop, journals)
		}
	}
	// The event has no other field than these, and the state no other exported
	// one than Stopped.
	fields := reflect.VisibleFields(reflect.TypeFor[Looked]())
	if len(fields) != 3 || fields[0].Name != "Flight" || fields[1].Name != "Round" || fields[2].Name != "Stop" {
		t.Errorf("a look tells %v", fields)
	}
}

// Only a sequential test looks, and only from its own first round.
func TestOthersNeverLook(t *testing.T) {
	p := planOf(6, triangles(2), sequential(2))
	p.Tests[1].Method = Tetrad.Key
	g := newGame(t).toOpen(p, 6)
	for set := 1; set <= 3; set++ {
		// Rounds that nobody looks at need not be whole.
		if events := g.do(Serve{Round: set}); len(events) != 1 {
			t.Fatalf("round %d: %+v", set, events)
		}
	}
	g.refuse(Serve{Round: 4}, ErrRound)
	if _, err := g.s.Compute(); !errors.Is(err, ErrSealed) {
		t.Error("a result before the reveal")
	}
}
