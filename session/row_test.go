package session

import (
	"bytes"
	"encoding/json"
	"reflect"
	"testing"
)

func TestRowInEveryPhase(t *testing.T) {
	phases := map[string]Phase{
		"none": PhaseNone, "drafted": PhaseDrafted, "sealed": PhaseSealed, "lobby": PhaseSealed, "frozen": PhaseSealed, "open": PhaseOpen,
		"served": PhaseOpen, "paused": PhaseOpen, "closed": PhaseClosed, "revealed": PhaseRevealed, "abandoned": PhaseAbandoned,
	}
	for _, stage := range stages {
		g := newGame(t)
		stage.play(g)
		row, err := FoldRow(Row{ID: g.s.ID}, g.entries)
		if err != nil {
			t.Fatal(err)
		}
		want := Row{ID: g.s.ID, Seq: g.s.Seq, Phase: phases[stage.name]}
		if stage.name != "none" {
			want.Title, want.Lots, want.Methods = "Wednesday table", [2]Lot{lotGreen, lotWater}, []string{"triangle"}
			want.Begun, want.Changed = g.s.Trail[0].At, g.s.Trail[len(g.s.Trail)-1].At
		}
		if stage.name == "abandoned" {
			want.Reason = Text{Digest: g.s.AbandonedFor.Digest}
		}
		if stage.name == "revealed" {
			want.Tests = []Revealing{{"triangle", 1, 1, 1.0 / 3, true, Undecided, 0}}
		}
		if len(row.Tests) == 1 && near(row.Tests[0].P, 1.0/3, 1e-15) {
			row.Tests[0].P = 1.0 / 3
		}
		if !reflect.DeepEqual(row, want) {
			t.Errorf("%s: %+v, want %+v", stage.name, row, want)
		}
		// An entry at a time gives the same.
		one := Row{ID: g.s.ID}
		for i := range g.entries {
			if one, err = FoldRow(one, g.entries[i:i+1]); err != nil {
				t.Fatal(err)
			}
		}
		if len(one.Tests) == 1 {
			one.Tests[0].P = 1.0 / 3
		}
		if !reflect.DeepEqual(one, row) {
			t.Errorf("%s: an entry at a time: %+v, want %+v", stage.name, one, row)
		}
	}
}

// Two sessions that differ in seed, and so in every order and code, and in all
// answers have the same row until the reveal.
func TestRowDoesNotDependOnTheKey(t *testing.T) {
	rows := func(seed uint64, right bool) (closed, revealed []byte) {
		g := newGame(t)
		p := planOf(12, triangles(1), pairOn("body"))
		g.do(Draft{Plan: p}, SetPin{testPin}, SealPlan{sealing(t, p, seed)}, OpenLobby{})
		for n := range 12 {
			g.do(sit(0, n))
		}
		g.do(FreezeList{}, Open{releases()})
		g.play(12, func(int, int) bool { return right })
		row := func() []byte {
			r, err := FoldRow(Row{ID: g.s.ID}, g.entries)
			return must(json.Marshal(must2(r, err)))
		}
		g.do(Close{})
		closed = row()
		g.do(Reveal{})
		return closed, row()
	}
	closedA, revealedA := rows(1, true)
	closedB, revealedB := rows(2, false)
	if !bytes.Equal(closedA, closedB) {
		t.Errorf("before the reveal:\n%s\n%s", closedA, closedB)
	}
	if bytes.Equal(revealedA, revealedB) {
		t.Error("all right and none right have the same row after the reveal")
	}
}

func must2(r Row, err error) Row {
	if err != nil {
		panic(err)
	}
	return r
}
