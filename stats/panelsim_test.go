package stats

import (
	"reflect"
	"testing"
)

// routine is an invented panel of 12: half of the tests have nothing to find, the
// others are of d′ 1 and 1.5.
func routine(judges []SimulatedJudge, tests int) PanelSimulation {
	return PanelSimulation{
		Judges: judges, Tests: tests, Sets: 2,
		Methods: []Psychometric{Triangle, PairedComparison}, Sizes: []float64{0, 0, 1, 1.5},
		Level: 0.05, DriftAbility: 0.4,
	}
}

// Judges of equal ability: any of them is flagged in no more than the stated
// share of panels, within what so many replicates can tell.
func TestSimulatedEqualPanel(t *testing.T) {
	const replicates = 150
	out := SimulatePanel(routine([]SimulatedJudge{{Name: "typical", Many: 12, Ability: 1}}, 40), replicates, 17)
	t.Logf("any flagged %d, any drift %d of %d panels; %+v", out.AnyFlag, out.AnyDrift, replicates, out.Rates)
	for what, x := range map[string]int{"flagged": out.AnyFlag, "drifting": out.AnyDrift} {
		// Improbable at a rate of 0.05. The seed is fixed, so nothing fails by chance.
		if UpperTail(replicates, x, 0.05) < 5e-4 {
			t.Errorf("%s in %d of %d panels of equal judges: more than 0.05", what, x, replicates)
		}
		if x == 0 {
			t.Errorf("nobody %s in %d panels: the procedure is asleep", what, replicates)
		}
	}
	if a := out.Rates[0].Ability; a < 0.97 || a > 1.04 {
		t.Errorf("mean ability of equal judges = %v", a)
	}
}

// The right ones are flagged, each by what is made for it.
func TestSimulatedOddPanel(t *testing.T) {
	const replicates = 30
	out := SimulatePanel(routine([]SimulatedJudge{
		{Name: "typical", Many: 9, Ability: 1},
		{Name: "drifting", Many: 1, Ability: 1, DriftFrom: 76},
		{Name: "guessing", Many: 1},
		{Name: "brilliant", Many: 1, Ability: 3},
		{Name: "brilliant, five tests", Many: 1, Ability: 3, Tests: 5},
	}, 150), replicates, 23)
	rates := map[string]SimulatedRate{}
	for _, r := range out.Rates {
		t.Logf("%+v", r)
		rates[r.Name] = r
	}
	t.Logf("any typical flagged %d, drift %d of %d", out.AnyFlag, out.AnyDrift, replicates)
	least := func(name, what string, got int, share float64) {
		t.Helper()
		if float64(got) < share*replicates {
			t.Errorf("%s: %s in %d of %d", name, what, got, replicates)
		}
	}
	least("guessing", "weak", rates["guessing"].Weak, 0.7)
	least("brilliant", "strong", rates["brilliant"].Strong, 0.9)
	least("drifting", "signal", rates["drifting"].Drifting, 0.7)
	if r := rates["brilliant, five tests"]; r.Strong > replicates/10 || r.Weak > 0 || r.Ability >= rates["brilliant"].Ability {
		t.Errorf("five tests prove too much: %+v", r)
	}
	if r := rates["guessing"]; r.Strong > 0 || r.Ability > 0.5 {
		t.Errorf("guessing: %+v", r)
	}
	if r := rates["brilliant"]; r.Weak > 0 || r.Drifting > replicates/10 {
		t.Errorf("brilliant: %+v", r)
	}
	if UpperTail(replicates, out.AnyFlag, 0.05) < 5e-4 {
		t.Errorf("a typical judge is flagged in %d of %d panels", out.AnyFlag, replicates)
	}
}

func TestSimulatePanelRepeats(t *testing.T) {
	plan := routine([]SimulatedJudge{{Name: "typical", Many: 4, Ability: 1}, {Name: "two tests", Many: 1, Ability: 1, Tests: 2}}, 6)
	first, again, other := SimulatePanel(plan, 10, 4), SimulatePanel(plan, 10, 4), SimulatePanel(plan, 10, 5)
	if !reflect.DeepEqual(first, again) {
		t.Errorf("%+v, then %+v", first, again)
	}
	if reflect.DeepEqual(first, other) {
		t.Error("another seed gives the same")
	}
	if first.Rates[0].Judges != 40 || first.Rates[1].Judges != 10 || first.Rates[1].Unjudged == 0 {
		t.Errorf("%+v", first.Rates)
	}
	for name, change := range map[string]func(*PanelSimulation){
		"judges": func(s *PanelSimulation) { s.Judges = nil }, "tests": func(s *PanelSimulation) { s.Tests = 0 },
		"sets": func(s *PanelSimulation) { s.Sets = 0 }, "methods": func(s *PanelSimulation) { s.Methods = nil },
		"sizes": func(s *PanelSimulation) { s.Sizes = []float64{-1} }, "level": func(s *PanelSimulation) { s.Level = 1 },
		"ability": func(s *PanelSimulation) { s.Judges = []SimulatedJudge{{Many: 1, Ability: -1}} },
		"nobody":  func(s *PanelSimulation) { s.Judges = []SimulatedJudge{{Ability: 1}} },
		"drift":   func(s *PanelSimulation) { s.DriftAbility = 1.5 },
		"method":  func(s *PanelSimulation) { s.Methods = []Psychometric{{}} },
	} {
		bad := plan
		change(&bad)
		if !panics(func() { SimulatePanel(bad, 1, 1) }) {
			t.Errorf("%s: no panic", name)
		}
	}
}
