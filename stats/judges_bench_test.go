package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// largePanel is invented: 200 judges, 5,000 tests of 20 judges with one set
// each, a third of the tests with nothing to find.
func largePanel() []JudgedTest {
	rng := rand.New(rand.NewPCG(7, 1))
	ability := make([]float64, 200)
	for j := range ability {
		ability[j] = math.Exp(0.3 * rng.NormFloat64())
	}
	methods := []Psychometric{Triangle, PairedComparison, DuoTrio, ThreeAFC, Tetrad}
	var tests []JudgedTest
	for t := range 5000 {
		test := JudgedTest{Method: methods[t%len(methods)]}
		size := 0.0
		if t%3 > 0 {
			size = math.Abs(1.5 * rng.NormFloat64())
		}
		for _, j := range rng.Perm(len(ability))[:20] {
			c := JudgeCount{Judge: j, N: 1}
			if rng.Float64() < test.Method.PC(ability[j]*size) {
				c.Correct = 1
			}
			test.Counts = append(test.Counts, c)
		}
		tests = append(tests, test)
	}
	return tests
}

func BenchmarkDifficulty(b *testing.B) {
	tests := largePanel()
	for b.Loop() {
		FitDifficulty(tests, 0.3)
	}
}

func BenchmarkLeftOut(b *testing.B) {
	tests := largePanel()
	d := FitDifficulty(tests, 0.3)
	for b.Loop() {
		for t, test := range tests {
			for i := range test.Counts {
				d.LeftOut(t, i)
			}
		}
	}
}

func BenchmarkPanel(b *testing.B) {
	tests := largePanel()
	for b.Loop() {
		FitPanel(tests, 0.95)
	}
}

// BenchmarkAbilities is the last round of a fit, difficulties given.
func BenchmarkAbilities(b *testing.B) {
	fit := PanelFit{Difficulty: FitDifficulty(largePanel(), 0.3)}
	for b.Loop() {
		likelihoods := fit.judge(math.MaxInt)
		spread := bestSpread(likelihoods)
		for j := range fit.Judges {
			fit.Judges[j] = JudgeAbility{}
			fit.Judges[j].shrink(likelihoods[j], spread, 0.95)
		}
	}
}

func BenchmarkFlags(b *testing.B) {
	fit := FitPanel(largePanel(), 0.95)
	var records [][]JudgeTrial
	for j := range fit.Judges {
		records = append(records, fit.Trials(j))
	}
	for b.Loop() {
		FlagJudges(records, 0.05)
	}
}

// BenchmarkDrift follows one judge of 500 sets, with the limit for a given risk.
func BenchmarkDrift(b *testing.B) {
	var trials []DriftTrial
	var correct []int
	for i := range 500 {
		p0 := 0.4 + 0.5*float64(i%11)/10
		trials = append(trials, DriftSet(p0, p0-0.15))
		correct = append(correct, min(1, i%3))
	}
	for b.Loop() {
		FollowDrift(trials, correct, DriftLimitFor(trials, 0.01))
	}
}

func BenchmarkDriftLimit(b *testing.B) {
	mix := []DriftMix{{DriftSet(0.9, 0.7), 0.5}, {DriftSet(0.6, 0.45), 0.5}}
	for b.Loop() {
		DriftLimit(mix, 370)
	}
}

func BenchmarkAgreePairs(b *testing.B) {
	judges := make([][]SetAnswer, 200)
	for t, test := range largePanel() {
		for _, c := range test.Counts {
			judges[c.Judge] = append(judges[c.Judge], SetAnswer{t, c.Correct == 1})
		}
	}
	for b.Loop() {
		AgreePairs(judges, 20, 0.95)
	}
}

func BenchmarkHabitOfThree(b *testing.B) {
	for b.Loop() {
		HabitOfThree([3][3]int{{0, 31, 19}, {22, 0, 28}, {25, 25, 0}})
	}
}
