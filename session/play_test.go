package session

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"time"
)

// The scenario of these tests is invented: lots, names and reports stand for
// nothing that exists.
var (
	lotGreen = Lot{ID: "lot-1", Number: "QX-301", Treatment: "untreated"}
	lotWater = Lot{ID: "lot-2", Number: "QX-302", Treatment: "water"}
	noon     = time.Date(2031, 3, 5, 12, 0, 0, 123456789, time.UTC)
)

// testPin is the PIN "4711", hashed once: hashing is slow on purpose.
var testPin = func() Pin {
	p, err := NewPin("4711", chance(1))
	if err != nil {
		panic(err)
	}
	return p
}()

// tester is what testing.TB and rapid.T have in common here.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// chance is a fixed source of bytes.
func chance(n uint64) *rand.ChaCha8 { return rand.NewChaCha8(seedOf(n)) }

func seedOf(n uint64) Seed {
	var s Seed
	for i := range 8 {
		s[i] = byte(n >> (8 * i))
	}
	return s
}

func phone(n int) Hash { return HashToken(fmt.Appendf(nil, "phone %d", n)) }

func cmdID(n uint64) CommandID {
	s := seedOf(n)
	return CommandID(s[:16])
}

func text(words string) Text {
	t, err := NewText(words, chance(uint64(len(words))+77))
	if err != nil {
		panic(err)
	}
	return t
}

func releases() []Release {
	return []Release{
		{Lot: lotGreen.ID, By: text("Mira Tal"), Report: "R-1", At: noon},
		{Lot: lotWater.ID, By: text("Mira Tal"), Report: "R-2", At: noon},
	}
}

func triangles(sets int) TestPlan {
	return TestPlan{Method: Triangle.Key, Goal: GoalDifference, Sets: sets, Alpha: 0.05, Pd: 0.4, Power: 0.8}
}

func pairOn(attribute string) TestPlan {
	return TestPlan{
		Method: PairedComparison.Key, Goal: GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.4, Power: 0.8,
		Attribute: attribute, Definition: "How full the coffee feels in the mouth.",
	}
}

// testOf is a test of any method and goal that passes Check, at the α, pd and
// power of triangles, β 0.05 and the pd limit 0.4.
func testOf(m Method, goal string, sets int) TestPlan {
	t := triangles(sets)
	t.Method, t.Goal = m.Key, goal
	if !m.Overall {
		t.Attribute, t.Definition = "body", "How full the coffee feels in the mouth."
	}
	if t.WantsSimilarity() {
		t.Beta, t.PdLimit = 0.05, 0.4
	}
	if !t.WantsDifference() {
		t.Alpha, t.Pd = 0, 0
	}
	return t
}

// goalsOf are the goals that a plan may give a one-sided test of a method.
func goalsOf(m Method) []string {
	if m.Overall {
		return goals
	}
	return goals[:1]
}

func constantDuoTrio() TestPlan {
	t := testOf(DuoTrio, GoalDifference, 1)
	t.Reference = ReferenceConstant
	return t
}

func blankTest() TestPlan {
	t := testOf(Tetrad, GoalDifference, 1)
	t.Blank = BlankProcessed
	return t
}

// sequential is a triangle test that may stop after each round.
func sequential(sets int) TestPlan {
	t := triangles(sets)
	t.Sequential, t.Beta = true, 0.1
	return t
}

// inFlights splits a plan's seats.
func inFlights(p Plan, sizes ...int) Plan {
	p.Flights = sizes
	return p
}

// planOf is a plan that passes Check.
func planOf(seats int, tests ...TestPlan) Plan {
	return Plan{
		Title: "Wednesday table", Untreated: lotGreen, Processed: lotWater, Tests: tests, Seats: seats,
		Serving: Serving{FillG: 30, LowC: 55, HighC: 65, DoseGPerL: 60, RinseS: 60},
	}
}

// game plays a session command by command, as a Room does but without one.
type game struct {
	t       tester
	s       *State
	now     time.Time
	entries []Entry
	texts   map[Hash]Text
}

func newGame(t tester) *game {
	return &game{t: t, s: NewState("20310305-120000-0102030405"), now: noon, texts: map[Hash]Text{}}
}

func (g *game) try(c Command) ([]Event, error) {
	g.t.Helper()
	before := g.s.Clone()
	events, err := g.s.Decide(c)
	if !reflect.DeepEqual(before, g.s) {
		g.t.Fatalf("%T: Decide changed the state", c.Act)
	}
	if err != nil && events != nil {
		g.t.Fatalf("%T: both refused (%v) and accepted", c.Act, err)
	}
	g.s = before
	for _, ev := range events {
		seq, head := g.s.Position()
		rec := Recorded{Seq: seq + 1, At: c.At.UTC(), Actor: c.Actor, Command: c.ID, Event: ev}
		e, err := NewEntry(seq+1, head, rec)
		if err != nil {
			g.t.Fatalf("%T: %v", c.Act, err)
		}
		rec.Hash = e.Hash
		g.entries = append(g.entries, e)
		for _, x := range textsOf(ev) {
			g.texts[x.Digest] = *x
		}
		g.s.Apply(rec)
	}
	return events, err
}

// do plays acts that must be accepted, a second apart, and returns the events
// of the last.
func (g *game) do(acts ...Act) []Event {
	g.t.Helper()
	var events []Event
	for _, a := range acts {
		g.now = g.now.Add(time.Second)
		var err error
		if events, err = g.try(Command{At: g.now, Actor: Host, Act: a}); err != nil {
			g.t.Fatalf("%T %+v: %v", a, a, err)
		}
	}
	return events
}

// nothing plays an act that must be accepted and cause nothing.
func (g *game) nothing(a Act) {
	g.t.Helper()
	if events := g.do(a); len(events) != 0 {
		g.t.Errorf("%T caused %d events, want none", a, len(events))
	}
}

func (g *game) refuse(a Act, want error) {
	g.t.Helper()
	events, err := g.try(Command{At: g.now, Actor: Host, Act: a})
	if !errors.Is(err, want) {
		g.t.Errorf("%T %+v: error %v, want %v", a, a, err, want)
	}
	if len(events) != 0 {
		g.t.Errorf("%T: refused, but with %d events", a, len(events))
	}
}

func sealing(t tester, p Plan, n uint64) Sealing {
	t.Helper()
	s, err := Seal(p, chance(n))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// toSealed drafts and seals a plan.
func (g *game) toSealed(p Plan) *game {
	g.t.Helper()
	g.do(Draft{Plan: p}, SetPin{testPin}, SealPlan{sealing(g.t, p, 5)})
	return g
}

// toFrozen fills the first seats and closes the list.
func (g *game) toFrozen(p Plan, people int) *game {
	g.t.Helper()
	g.toSealed(p).do(OpenLobby{})
	for i := 1; i <= people; i++ {
		g.do(Sit{Seat: i, Name: text(fmt.Sprintf("Taster %d", i)), Token: phone(i)})
	}
	g.do(FreezeList{})
	return g
}

// toOpen opens the tasting, the pour sheet once before.
func (g *game) toOpen(p Plan, people int) *game {
	g.t.Helper()
	g.toFrozen(p, people).do(OpenPourSheet{Pin: "4711"}, Open{Releases: releases()})
	return g
}

// counted is the code in a take whose pick counts as correct, and other one
// that does not.
func (g *game) counted(seat, set, take int) (right, wrong Code) {
	dealt := g.s.sealed.Layout.Seats[seat-1][set-1]
	m, _ := MethodByKey(g.s.Plan.Tests[dealt.Test].Method)
	i := m.Counted(dealt.Order)[0]
	codes := dealt.Takes[take]
	return codes[i], codes[(i+1)%len(codes)]
}

// named are the cups of a right answer and of a wrong one in a take.
func (g *game) named(seat, set, take int, correct bool) (pick, also Code) {
	return namedOf(g.s.Plan, g.s.sealed.Layout.Seats[seat-1][set-1], take, correct)
}

func namedOf(p Plan, dealt DealtSet, take int, correct bool) (pick, also Code) {
	m, _ := MethodByKey(p.Tests[dealt.Test].Method)
	codes, at := dealt.Takes[take], m.Counted(dealt.Order)
	if !correct {
		// Another cup than the right one, and no reference.
		last := len(at) - 1
		at[last] = at[last]%(m.Cups-1) + 1
		if m.Picks == 1 && m.References() == 0 {
			at[0] = (m.Counted(dealt.Order)[0] + 1) % m.Cups
		}
	}
	if m.Picks == 2 {
		also = codes[at[1]]
	}
	return codes[at[0]], also
}

func (g *game) answer(seat, set, take int, correct bool) Lock {
	l := Lock{Seat: seat, Set: set, Take: take, PhoneAt: noon}
	l.Pick, l.Also = g.named(seat, set, take, correct)
	return l
}

// play serves every round to all people; right says who answers correctly.
func (g *game) play(people int, right func(seat, set int) bool) *game {
	g.t.Helper()
	for set := 1; set <= g.s.Plan.SetsPerSeat(); set++ {
		g.do(Serve{Round: set})
		for seat := 1; seat <= people; seat++ {
			g.do(g.answer(seat, set, 0, right(seat, set)))
		}
	}
	return g
}

// reveal closes, and opens the key.
func (g *game) reveal() Result {
	g.t.Helper()
	g.do(Close{})
	return g.open()
}

// open opens the key of a closed session.
func (g *game) open() Result {
	g.t.Helper()
	g.do(Reveal{})
	r, err := g.s.Compute()
	if err != nil {
		g.t.Fatal(err)
	}
	return r
}

// played is a whole session of one table: counts[i] is the number of correct
// answers in test i, where all sets of a test go on one pile.
func played(t tester, p Plan, people int, counts ...int) (*game, Result) {
	t.Helper()
	g := newGame(t).toOpen(p, people)
	left := append([]int(nil), counts...)
	g.play(people, func(_, set int) bool {
		i := p.TestOfSet(set)
		left[i]--
		return left[i] >= 0
	})
	return g, g.reveal()
}

// answered is a revealed session with the orders of its plan's layout, as the
// seats' correct and wrong answers make it: no journal, and the same codes on
// every tray, so that it is quick and has no end of seats.
func answered(p Plan, seed Seed, right func(seat, set int) bool) *State {
	l := ordersOf(p, seed)
	s := &State{Plan: p, Phase: PhaseRevealed, Flight: len(p.FlightSizes()), sealed: &Sealed{Plan: p, Layout: l}}
	for i, sets := range l.Seats {
		seat := Seat{Number: i + 1, Listed: true}
		for j := range sets {
			sets[j].Takes = [][]Code{[]Code{417, 532, 736, 845}[:len(sets[j].Order)]}
			a := &Answer{}
			a.Pick, a.Also = namedOf(p, sets[j], 0, right(i+1, j+1))
			seat.Sets = append(seat.Sets, Set{Number: j + 1, Test: sets[j].Test, Takes: []Take{{Answer: a}}})
		}
		s.Seats = append(s.Seats, seat)
	}
	return s
}

// counting makes the first n answers correct.
func counting(n int) func(int, int) bool {
	return func(int, int) bool { n--; return n >= 0 }
}

// replayed folds the journal's first entries anew.
func (g *game) replayed(upTo uint64) *State {
	g.t.Helper()
	s := NewState(g.s.ID)
	for _, e := range g.entries[:upTo] {
		rec, err := e.Record(g.texts)
		if err != nil {
			g.t.Fatal(err)
		}
		s.Apply(rec)
	}
	return s
}
