package session

import (
	"errors"
	"fmt"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

// stages are states of a session of three seats, two of them taken, one
// triangle each; where a round is served seat 2 has answered.
var stages = []struct {
	name string
	play func(g *game)
}{
	{"none", func(*game) {}},
	{"drafted", func(g *game) { g.do(Draft{Plan: stagePlan}, SetPin{testPin}) }},
	{"sealed", func(g *game) { g.toSealed(stagePlan) }},
	{"lobby", func(g *game) {
		g.toSealed(stagePlan).do(OpenLobby{},
			Sit{Name: text("Ena"), Token: phone(1)}, Sit{Name: text("Ori"), Token: phone(2)})
	}},
	{"frozen", func(g *game) { g.toFrozen(stagePlan, 2) }},
	{"open", func(g *game) { g.toOpen(stagePlan, 2) }},
	{"served", stageServed},
	{"paused", func(g *game) { stageServed(g); g.do(Pause{}) }},
	{"closed", func(g *game) { stageServed(g); g.do(Close{}) }},
	{"revealed", func(g *game) { stageServed(g); g.do(Close{}, Reveal{}) }},
	{"abandoned", func(g *game) { stageServed(g); g.do(Abandon{text("power cut")}) }},
}

var stagePlan = planOf(3, triangles(1))

func stageServed(g *game) {
	g.toOpen(stagePlan, 2).do(Serve{Round: 1})
	g.do(g.answer(2, 1, 0, true))
}

// TestEveryActInEveryPhase is a matrix: a column a stage, a row an act.
//
//	.  accepted, with events       -  accepted, and nothing happens
//	P  ErrPhase                    H  ErrNotHere
//	F  ErrFrozen                   N  ErrNotFront
//	O  ErrPours                    R  ErrNoRole
//	C  ErrNoCheck
func TestEveryActInEveryPhase(t *testing.T) {
	sentinels := map[rune]error{
		'P': ErrPhase, 'H': ErrNotHere, 'F': ErrFrozen, 'N': ErrNotFront, 'O': ErrPours, 'R': ErrNoRole, 'C': ErrNoCheck,
	}
	seal := SealPlan{sealing(t, stagePlan, 5)}
	lock := func(g *game) Act {
		if g.s.sealed == nil {
			return Lock{Seat: 1, Set: 1}
		}
		return g.answer(1, 1, 0, false)
	}
	tried := map[string]bool{}
	var played []*game
	for _, stage := range stages {
		g := newGame(t)
		stage.play(g)
		g.entries = g.entries[:len(g.entries):len(g.entries)]
		played = append(played, g)
	}
	is := func(a Act) func(*game) Act { return func(*game) Act { return a } }
	for _, row := range []struct {
		name string
		act  func(*game) Act
		want string // none drafted sealed lobby frozen open served paused closed revealed abandoned
	}{
		{"draft", is(Draft{Plan: stagePlan}), "..PPPPPPPPP"},
		{"set PIN", is(SetPin{testPin}), "P.PPPPPPPPP"},
		{"seal", is(seal), "P.PPPPPPPPP"},
		{"open lobby", is(OpenLobby{}), "PP.PPPPPPPP"},
		{"sit, new", is(Sit{Name: text("Ulm"), Token: phone(9)}), "PPP.FFFFPPP"},
		{"sit, by card", is(Sit{Seat: 3, Name: text("Ulm"), Token: phone(9)}), "PPP.FFFFPPP"},
		{"sit again", is(Sit{Seat: 3, Name: text("Ena"), Token: phone(1)}), "PPP-----PPP"},
		{"sit by hand", is(SitByHand{Name: text("Ulm")}), "PPP.FFFFPPP"},
		{"free seat", is(FreeSeat{1}), "PPH.FFFFPPP"},
		{"move seat", is(MoveSeat{1}), "PPH.....PPP"},
		{"move empty seat", is(MoveSeat{3}), "PPHHHHHHPPP"},
		{"freeze", is(FreezeList{}), "PPH.FPPPPPP"},
		{"open", is(Open{releases()}), "PPPP.PPPPPP"},
		{"serve 1", is(Serve{Round: 1}), "PPPPP.-PPPP"},
		{"serve 2", is(Serve{Round: 2}), "PPPPPNNPPPP"},
		{"end flight", is(EndFlight{}), "PPPPPPPPPPP"},
		{"pause", is(Pause{}), "PPPPP..-PPP"},
		{"resume", is(Resume{}), "PPPPP--.PPP"},
		{"lock", lock, "PPPPPN..PPP"},
		{"void", is(Void{Seat: 1, Set: 1, Reason: text("spilt")}), "PPPPPN..PPP"},
		{"void, replace", is(Void{Seat: 2, Set: 1, Reason: text("spilt"), Replace: true}), "PPPPPN..PPP"},
		{"serve again", is(ServeAgain{Seat: 1, Set: 1, Take: 1, CupC: 60}), "PPPPPNNNPPP"},
		{"leave", is(LeaveSeat{1, text("ill")}), "PPHP....PPP"},
		{"pour sheet", is(OpenPourSheet{Pin: "4711"}), "PP........P"},
		{"pour sheet, wrong PIN", is(OpenPourSheet{Pin: "4712"}), "PP........P"},
		{"see the pour sheet again", is(SeePourSheet{}), "PP........P"},
		{"print pour sheet", is(PrintPourSheet{}), "PP........P"},
		{"break seal", is(BreakSeal{text("a fire")}), "PP.......PP"},
		{"note deviation", is(NoteDeviation{text("one kettle")}), "PP.......PP"},
		{"name role", is(NameRole{RolePourer, text("Pia")}), "P.......PPP"},
		{"name the pourer like a taster", is(NameRole{RolePourer, text(" taster  1")}), "P...OOOOPPP"},
		{"name role of no kind", is(NameRole{"butler", text("Pia")}), "PRRRRRRRPPP"},
		{"confirm", is(Confirm{Check: "cups", Held: true}), "PP......PPP"},
		{"confirm, not held", is(Confirm{Check: "cups", Note: text("two short")}), "PP......PPP"},
		{"confirm nothing of the plan", is(Confirm{Check: "lids", Held: true}), "PPCCCCCCPPP"},
		{"amend", is(Amend{Seat: 1, Set: 1, Reason: text("wrong vessel")}), "PPPPPPPP..P"},
		{"close", is(Close{}), "PPPPP...PPP"},
		{"reveal", is(Reveal{}), "PPPPPPPP.PP"},
		{"abandon", is(Abandon{text("power cut")}), "P........PP"},
		{"name lab", is(NameLab{"Bench"}), "PPPPPPPPPPP"},
		{"enter lot", is(EnterLot{lotGreen}), "PPPPPPPPPPP"},
		{"release lot", is(ReleaseLot{Lot: "lot-1"}), "PPPPPPPPPPP"},
		{"enter person", is(EnterPerson{}), "PPPPPPPPPPP"},
		{"change person", is(ChangePerson{}), "PPPPPPPPPPP"},
		{"merge people", is(MergePeople{}), "PPPPPPPPPPP"},
		{"erase person", is(ErasePerson{}), "PPPPPPPPPPP"},
		{"finish erasure", is(FinishErasure{}), "PPPPPPPPPPP"},
		{"tie seats", is(TieSeats{}), "PPPPPPPPPPP"},
		{"untie seat", is(UntieSeat{}), "PPPPPPPPPPP"},
		{"begin series", is(BeginSeries{}), "PPPPPPPPPPP"},
		{"end series", is(EndSeries{}), "PPPPPPPPPPP"},
		{"set rule", is(SetRule{}), "PPPPPPPPPPP"},
		{"qualify", is(Qualify{}), "PPPPPPPPPPP"},
		{"import records", is(ImportRecords{}), "PPPPPPPPPPP"},
		{"note backup", is(NoteBackup{}), "PPPPPPPPPPP"},
		{"no act", is(nil), "PPPPPPPPPPP"},
	} {
		if len(row.want) != len(stages) {
			t.Fatalf("%s: %d results for %d stages", row.name, len(row.want), len(stages))
		}
		for i, want := range row.want {
			g := *played[i]
			g.s = played[i].s.Clone()
			act := row.act(&g)
			tried[fmt.Sprintf("%T", act)] = true
			seq := g.s.Seq
			events, err := g.try(Command{At: g.now, Actor: Host, Act: act})
			switch {
			case want == '.' && (err != nil || len(events) == 0):
				t.Errorf("%s, %s: %d events, error %v; want it accepted", row.name, stages[i].name, len(events), err)
			case want == '-' && (err != nil || len(events) != 0):
				t.Errorf("%s, %s: %d events, error %v; want nothing", row.name, stages[i].name, len(events), err)
			case sentinels[want] != nil && !errors.Is(err, sentinels[want]):
				t.Errorf("%s, %s: error %v, want %v", row.name, stages[i].name, err, sentinels[want])
			case g.s.Seq != seq+uint64(len(events)):
				t.Errorf("%s, %s: from entry %d to %d by %d events", row.name, stages[i].name, seq, g.s.Seq, len(events))
			}
		}
	}
	acts := regexp.MustCompile(`(?m)^func \((\w+)\) act\(\)`).FindAllSubmatch(readFile(t, "command.go"), -1)
	if len(acts) < 20 {
		t.Fatalf("found %d acts in the source", len(acts))
	}
	for _, a := range acts {
		if !tried["session."+string(a[1])] {
			t.Errorf("act %s has no row in the matrix", a[1])
		}
	}
}

func readFile(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestUnknownActsAreRefusedByName(t *testing.T) {
	g := newGame(t)
	_, err := g.try(Command{Act: &Close{}})
	if !errors.Is(err, ErrPhase) || !strings.Contains(err.Error(), "*session.Close") {
		t.Errorf("a pointer to an act: %v", err)
	}
}

func TestDemoComesFromTheFirstDraftOnly(t *testing.T) {
	for _, c := range []struct{ first, second bool }{{true, false}, {false, true}, {true, true}, {false, false}} {
		g := newGame(t)
		g.do(Draft{stagePlan, c.first}, Draft{stagePlan, c.second})
		if g.s.Demo != c.first {
			t.Errorf("drafts with demo %v then %v: demo %v", c.first, c.second, g.s.Demo)
		}
		if e := g.s.Trail[1].Event.(*Drafted); e.Demo {
			t.Error("a second draft says that it is a demonstration")
		}
	}
}

func TestDraftReplacesThePlan(t *testing.T) {
	g := newGame(t)
	other := planOf(6, triangles(2))
	g.do(Draft{Plan: stagePlan}, Draft{Plan: other})
	if !reflect.DeepEqual(g.s.Plan, other) || g.s.Phase != PhaseDrafted {
		t.Errorf("phase %s, plan %+v", g.s.Phase, g.s.Plan)
	}
	// A plan with faults can be kept as a draft, and not sealed.
	other.Seats = 0
	g.do(Draft{Plan: other}, SetPin{testPin})
	g.refuse(SealPlan{}, ErrPlan)
}

func TestSealNeedsAPin(t *testing.T) {
	g := newGame(t)
	seal := SealPlan{sealing(t, stagePlan, 5)}
	g.do(Draft{Plan: stagePlan})
	g.refuse(seal, ErrNoPin)
	g.do(SetPin{})
	g.refuse(seal, ErrNoPin)
	g.do(SetPin{testPin}, seal)
	if g.s.Phase != PhaseSealed || g.s.Digest != seal.Sealing.Digest || len(g.s.Seats) != 3 || g.s.Door() == "" {
		t.Errorf("phase %s, digest %v, %d seats", g.s.Phase, g.s.Digest, len(g.s.Seats))
	}
}

func TestSealRefusesAForeignLayout(t *testing.T) {
	g := newGame(t)
	g.do(Draft{Plan: stagePlan}, SetPin{testPin})
	g.refuse(SealPlan{sealing(t, planOf(4, triangles(1)), 5)}, ErrSeal)
	g.refuse(SealPlan{}, ErrSeal)
}

func TestOpenNeedsAReleaseOfBothLots(t *testing.T) {
	g := newGame(t).toFrozen(stagePlan, 2)
	r := releases()
	for _, have := range [][]Release{nil, r[:1], r[1:], {r[0], r[0]}, {r[0], {Lot: "lot-9"}}} {
		g.refuse(Open{have}, ErrReleased)
	}
	g.do(Open{r})
	if !reflect.DeepEqual(g.s.Releases, r) || g.s.Phase != PhaseOpen {
		t.Errorf("phase %s, releases %v", g.s.Phase, g.s.Releases)
	}
}

func TestServeInOrder(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2), pairOn("body")), 2)
	for _, round := range []int{-1, 2, 3, 4, 1 << 40} {
		g.refuse(Serve{Round: round}, ErrNotFront)
	}
	for round := 1; round <= 3; round++ {
		g.do(Serve{Round: round})
		g.nothing(Serve{Round: round})
		if len(g.s.Rounds) != round {
			t.Errorf("%d rounds after round %d", len(g.s.Rounds), round)
		}
	}
	g.refuse(Serve{Round: 4}, ErrNotFront)
	g.refuse(Serve{Round: 1}, ErrNotFront)
	for i, seat := range g.s.Seats {
		for _, set := range seat.Sets {
			if listed := i < 2; (set.Last() != nil) != listed {
				t.Errorf("seat %d, set %d: served %v, on the list %v", i+1, set.Number, set.Last() != nil, listed)
			}
		}
	}
}

func TestCloseMidWay(t *testing.T) {
	g := newGame(t).toOpen(planOf(4, triangles(2)), 3)
	g.do(Serve{Round: 1})
	g.do(g.answer(1, 1, 0, true), Pause{})
	head := g.s.Head
	g.do(Close{})
	if g.s.Phase != PhaseClosed || g.s.ClosedAt != head || g.s.Paused || g.s.Times[PhaseClosed] != g.now {
		t.Errorf("phase %s, closed at %v, paused %v", g.s.Phase, g.s.ClosedAt, g.s.Paused)
	}
	g.refuse(g.answer(2, 1, 0, true), ErrPhase)
	r := g.open()
	if r.Tests[0].N != 1 || r.Tests[0].Missing != 5 {
		t.Errorf("%d answers count, %d missing; want 1 and 5", r.Tests[0].N, r.Tests[0].Missing)
	}
}

func TestAbandonNeedsAReason(t *testing.T) {
	g := newGame(t).toSealed(stagePlan)
	for _, words := range []string{"", "  \n", strings.Repeat("x", 201), "\xff"} {
		g.refuse(Abandon{text(words)}, ErrWords)
	}
	g.do(OpenLobby{}, Abandon{text("the kettle broke")})
	if g.s.Phase != PhaseAbandoned || g.s.AbandonedFor.Words != "the kettle broke" || g.s.LobbyOpen {
		t.Errorf("phase %s, for %q", g.s.Phase, g.s.AbandonedFor.Words)
	}
	if _, err := g.s.PourSheet(); !errors.Is(err, ErrPhase) {
		t.Errorf("the pour sheet of an abandoned session: %v", err)
	}
}

// A zero State is no session that any journal gives, but no command may bring
// the host program down.
func TestZeroStateRefuses(t *testing.T) {
	var s State
	for _, a := range []Act{
		SetPin{}, SealPlan{}, OpenLobby{}, Sit{}, Sit{Seat: -1}, FreeSeat{}, MoveSeat{}, FreezeList{}, Open{}, Serve{},
		Pause{}, Resume{}, Lock{}, Void{}, LeaveSeat{}, OpenPourSheet{}, SeePourSheet{}, PrintPourSheet{}, Close{}, Reveal{}, Abandon{}, nil,
	} {
		if events, err := s.Decide(Command{Act: a}); !errors.Is(err, ErrPhase) || events != nil {
			t.Errorf("%T: %v", a, err)
		}
	}
	if s.Door() != "" || s.PlaceDoor(1) != "" || s.Codes(1, 1, 0) != nil || s.NextFree() != 0 || s.SeatOfToken(Hash{}) != 0 || !s.AllIn() {
		t.Error("a zero state has something")
	}
}
