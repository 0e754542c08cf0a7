package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// R fitted the panel with every judge deleted in turn, on grids of 0.01 and 0.02.
func TestPanelReference(t *testing.T) {
	fit := FitPanel(invented(t), 0.95)
	eachRecord(t, judgesFolder+"panel_fit.csv", 1, func(r record) bool {
		r.close("spread_first", fit.Difficulty.Spread, 0.005)
		r.close("spread", fit.Spread, 0.005)
		return true
	})
	eachRecord(t, judgesFolder+"abilities.csv", 7, func(r record) bool {
		j := fit.Judges[r.int("judge")]
		if j.Sets != r.int("sets") || j.Correct != r.int("correct") {
			t.Errorf("judge %d: %d of %d, want %s of %s", j.Judge, j.Correct, j.Sets, r.text("correct"), r.text("sets"))
		}
		r.close("expected", j.Expected, 0.02)
		r.close("sd", j.SD, 0.01)
		r.close("log_mean", j.LogMean, 0.01)
		r.close("log_sd", j.LogSD, 0.01)
		r.near("lower", j.Interval.Lower, 0.02)
		r.near("median", j.Ability, 0.01)
		r.near("upper", j.Interval.Upper, 0.02)
		return true
	})
}

// The panel is simulated from the model itself, so the fit must find it again.
func TestPanelRecovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	const judges = 40
	ability := make([]float64, judges)
	for j := range ability {
		ability[j] = math.Exp(0.35 * rng.NormFloat64())
	}
	methods := []Psychometric{Triangle, PairedComparison, DuoTrio, ThreeAFC, Tetrad}
	var tests []JudgedTest
	for i := range 300 {
		test := JudgedTest{Method: methods[i%5]}
		size := 0.0
		if rng.Float64() > 0.4 {
			size = math.Abs(1.8 * rng.NormFloat64())
		}
		for j := range judges {
			c := JudgeCount{Judge: j, N: 1}
			if rng.Float64() < test.Method.PC(ability[j]*size) {
				c.Correct = 1
			}
			test.Counts = append(test.Counts, c)
		}
		tests = append(tests, test)
	}
	fit := FitPanel(tests, 0.9)
	if math.Abs(fit.Spread-0.35) > 0.1 || math.Abs(fit.Difficulty.Nothing-0.4) > 0.15 || math.Abs(fit.Difficulty.Scale-1.8) > 0.4 {
		t.Errorf("spread %v, nothing %v, scale %v", fit.Spread, fit.Difficulty.Nothing, fit.Difficulty.Scale)
	}
	inside := 0
	for j, a := range fit.Judges {
		if a.Interval.Lower <= ability[j] && ability[j] <= a.Interval.Upper {
			inside++
		}
	}
	// 36 of 40 expected; below 30 has a probability of 0.002.
	if inside < 30 {
		t.Errorf("%d of %d intervals of 0.9 hold the ability", inside, judges)
	}
	again := fitDifficulty(tests, fit.Spread, usualSizes)
	third := PanelFit{Difficulty: again}
	if next := bestSpread(third.judge(math.MaxInt)); math.Abs(next-fit.Spread) > 0.02 {
		t.Errorf("a third round moves spread from %v to %v", fit.Spread, next)
	}
}

// 4 of 5 has the larger share; 40 of 55 is the better record.
func TestShrinkageOrder(t *testing.T) {
	var tests []JudgedTest
	for i := range 60 {
		test := JudgedTest{Method: Triangle, Known: 1.5}
		right := func(yes bool) int {
			if yes {
				return 1
			}
			return 0
		}
		if i < 5 {
			test.Counts = append(test.Counts, JudgeCount{0, 1, right(i < 4)})
		}
		if i < 55 {
			test.Counts = append(test.Counts, JudgeCount{1, 1, right(i < 40)})
		}
		for j := 2; j < 8; j++ {
			test.Counts = append(test.Counts, JudgeCount{j, 1, right((i+j)%2 == 0)})
		}
		tests = append(tests, test)
	}
	fit := FitPanel(tests, 0.95)
	few, many := fit.Judges[0], fit.Judges[1]
	if few.Ability >= many.Ability || few.LogSD <= many.LogSD || few.Ability <= 1 {
		t.Errorf("4 of 5: %+v\n40 of 55: %+v", few, many)
	}
	d, limits := many.DPrimeAt(2)
	if d != 2*many.Ability || limits.Lower != 2*many.Interval.Lower || limits.Confidence != 0.95 {
		t.Errorf("at d′ 2: %v %v", d, limits)
	}
}

// The same answers by methods of unlike chance: half right means nothing in a pair
// and much in a triangle.
func TestAbilityAcrossMethods(t *testing.T) {
	var tests []JudgedTest
	for i := range 40 {
		tests = append(tests, JudgedTest{Method: Triangle, Known: 1, Counts: []JudgeCount{{0, 1, i % 2}}},
			JudgedTest{Method: PairedComparison, Known: 1, Counts: []JudgeCount{{1, 1, i % 2}}})
	}
	fit := FitPanel(tests, 0.95)
	if fit.Judges[0].Ability < 1 || fit.Judges[1].Ability > 0.8 {
		t.Errorf("half right: triangle %v, pairs %v", fit.Judges[0].Ability, fit.Judges[1].Ability)
	}
}

func TestPanelSmallAndEmpty(t *testing.T) {
	if fit := FitPanel(nil, 0.95); len(fit.Judges) != 0 {
		t.Errorf("judges of no tests: %+v", fit.Judges)
	}
	fit := FitPanel([]JudgedTest{{Method: Triangle, Counts: []JudgeCount{{2, 3, 3}}}}, 0.95)
	if len(fit.Judges) != 3 || fit.Judges[2].Alone != 3 || fit.Judges[2].Tests != 0 || math.Abs(fit.Judges[2].Ability-1) > 1e-9 {
		t.Errorf("one judge alone: %+v", fit.Judges)
	}
	if fit.Judges[0].Sets != 0 || !(fit.Judges[0].Interval.Lower < 1 && fit.Judges[0].Interval.Upper > 1) {
		t.Errorf("a judge without answers: %+v", fit.Judges[0])
	}
	if len(fit.Trials(2)) != 0 || len(fit.Expected(2, 1)) != 0 {
		t.Error("trials of a judge without counted tests")
	}
	for name, f := range map[string]func(){
		"judge": func() { fit.Trials(3) }, "below": func() { fit.Expected(-1, 1) },
		"ability": func() { fit.Expected(0, -1) }, "infinite": func() { fit.Expected(0, math.Inf(1)) },
		"confidence": func() { FitPanel(nil, 1) }, "size": func() { fit.Judges[0].DPrimeAt(-1) },
	} {
		if !panics(f) {
			t.Errorf("%s: no panic", name)
		}
	}
}

// Trials and expectations are distributions, and ability orders them.
func TestTrialsAreDistributions(t *testing.T) {
	fit := FitPanel(invented(t), 0.95)
	seen := 0
	for j := range fit.Judges {
		low, high := fit.Expected(j, 0.3), fit.Expected(j, 2)
		for i, trial := range fit.Trials(j) {
			seen++
			for _, p := range [][]float64{trial.Typical, low[i], high[i]} {
				if math.Abs(massOf(p)-1) > 1e-9 || len(p) != trial.Sets()+1 {
					t.Fatalf("judge %d trial %d: %v", j, i, p)
				}
			}
			a, _ := meanOf([][]float64{low[i]})
			b, _ := meanOf([][]float64{trial.Typical})
			c, _ := meanOf([][]float64{high[i]})
			if !(a < b && b < c) {
				t.Errorf("judge %d trial %d: expected %v, %v, %v", j, i, a, b, c)
			}
		}
	}
	if seen < 50 {
		t.Errorf("%d trials", seen)
	}
}

// The processors must not matter.
func TestPanelIsDeterministic(t *testing.T) {
	tests := randomTests(rand.New(rand.NewPCG(1, 9)), 40, 9, 0.3)
	first := FitPanel(tests, 0.95)
	for range 5 {
		if again := FitPanel(tests, 0.95); again.Spread != first.Spread || again.Judges[3] != first.Judges[3] {
			t.Fatalf("%+v, then %+v", first.Judges[3], again.Judges[3])
		}
	}
}
