package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// record of single sets with given probabilities, the first x of them right.
func singles(p []float64, x int) []JudgeTrial {
	var trials []JudgeTrial
	for i, q := range p {
		t := JudgeTrial{Test: i, Typical: []float64{1 - q, q}}
		if i < x {
			t.Correct = 1
		}
		trials = append(trials, t)
	}
	return trials
}

func TestFlagsReference(t *testing.T) {
	var records [][]JudgeTrial
	eachRecord(t, judgesFolder+"flags.csv", 4, func(r record) bool {
		records = append(records, singles(r.floats("p"), r.int("correct")))
		return true
	})
	flags := FlagJudges(records, 0.05)
	eachRecord(t, judgesFolder+"flags.csv", 4, func(r record) bool {
		f := flags[r.int("judge")]
		r.close("p_weak", f.PWeak, 1e-12)
		r.close("p_strong", f.PStrong, 1e-12)
		r.close("adjusted_weak", f.AdjustedWeak, 1e-11)
		r.close("adjusted_strong", f.AdjustedStrong, 1e-11)
		return true
	})
	for j, want := range []Standing{StandingWeak, StandingTypical, StandingStrong, StandingTypical} {
		if flags[j].Standing != want || flags[j].OneTest {
			t.Errorf("judge %d: %+v, want %s", j, flags[j], want)
		}
	}
}

// One test of 12 sets says everything, the others nothing.
func TestNobodyIsFlaggedOnOneTest(t *testing.T) {
	big := JudgeTrial{Correct: 0, Typical: make([]float64, 13)}
	addBinomial(big.Typical, 0.7, 1)
	record := append(singles([]float64{0.6, 0.6, 0.6, 0.6}, 2), big)
	f := FlagJudges([][]JudgeTrial{record, record[4:], nil}, 0.05)
	if f[0].Standing != StandingTypical || !f[0].OneTest || f[0].AdjustedWeak > 0.001 {
		t.Errorf("on one test of many sets: %+v", f[0])
	}
	if f[1].Standing != StandingUnknown || f[2].Standing != StandingUnknown || f[2].PWeak != 1 {
		t.Errorf("one test, none: %+v, %+v", f[1], f[2])
	}
}

// The tails without any one test, against summing the others anew.
func TestWithoutAny(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	for range 20 {
		var record []JudgeTrial
		for range 2 + rng.IntN(12) {
			trial := JudgeTrial{Typical: make([]float64, 2+rng.IntN(4))}
			addBinomial(trial.Typical, 0.3+0.6*rng.Float64(), 1)
			trial.Correct = rng.IntN(len(trial.Typical))
			record = append(record, trial)
		}
		var weak, strong float64
		for i := range record {
			less := append(append([]JudgeTrial{}, record[:i]...), record[i+1:]...)
			f := compare(0, less)
			weak, strong = max(weak, f.PWeak), max(strong, f.PStrong)
		}
		gotWeak, gotStrong := withoutAny(record)
		if math.Abs(gotWeak-weak) > 1e-12 || math.Abs(gotStrong-strong) > 1e-12 {
			t.Errorf("%v %v, want %v %v", gotWeak, gotStrong, weak, strong)
		}
	}
}

// Each tail is valid under its own model: P(p ≤ a) ≤ a, by enumeration.
func TestFlagTailsAreValid(t *testing.T) {
	p := []float64{0.4, 0.55, 0.7, 0.85, 0.6, 0.5}
	mass := PoissonBinomial(p)
	var weak, strong []nullP
	for x, m := range mass {
		f := compare(0, singles(p, x))
		weak, strong = append(weak, nullP{f.PWeak, m}), append(strong, nullP{f.PStrong, m})
	}
	checkValid(t, "weak", weak)
	checkValid(t, "strong", strong)
}

func TestFlagsPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"level": func() { FlagJudges(nil, 0) },
		"count": func() { FlagJudges([][]JudgeTrial{{{Correct: 2, Typical: []float64{0.5, 0.5}}}}, 0.05) },
		"empty": func() { FlagJudges([][]JudgeTrial{{{}}}, 0.05) },
	} {
		if !panics(f) {
			t.Errorf("%s: no panic", name)
		}
	}
	if got := FlagJudges(nil, 0.05); len(got) != 0 {
		t.Errorf("flags of nobody: %v", got)
	}
}
