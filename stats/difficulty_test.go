package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestCurve(t *testing.T) {
	worst := 0.0
	for m := range curves {
		c := curveOf(m)
		for d := 0.0; d < 20; d += 0.0037 {
			worst = max(worst, math.Abs(c.at(d)-min(m.PC(d), 1-rarest)))
		}
	}
	if worst > 1e-6 || worst < 1e-9 {
		t.Errorf("curves are off by %v", worst)
	}
	if got := curveOf(Triangle).at(math.Inf(1)); got != 1-rarest {
		t.Errorf("pc at infinity = %v", got)
	}
	if !panics(func() { curveOf(Psychometric{}) }) {
		t.Error("no panic for no test")
	}
}

func TestPriorOfSizesDerivatives(t *testing.T) {
	var row [grids]float64
	for g, d := range gridSizes {
		row[g] = math.Exp(-sq(d-1.3)) + 0.1
	}
	at := func(x [3]float64) moments {
		p := newSizePrior(x)
		sum := p.weak()
		sum.add(p, &row, 1)
		sum.add(p, &row, 1)
		return sum
	}
	const h = 1e-4
	x := [3]float64{0.3, 0.2, 0.4}
	here := at(x)
	for i := range x {
		up, down := x, x
		up[i] += h
		down[i] -= h
		a, b := at(up), at(down)
		if got, want := here.slope[i], (a.value-b.value)/2/h; math.Abs(got-want) > 1e-6 {
			t.Errorf("derivative %d = %v, by differences %v", i, got, want)
		}
		for j := range x {
			if got, want := here.bend[j][i], (a.slope[j]-b.slope[j])/2/h; math.Abs(got-want) > 1e-6 {
				t.Errorf("derivative %d, %d = %v, by differences %v", j, i, got, want)
			}
		}
	}
}

// R refitted everything with the judge's answers deleted, on a grid of 0.01.
func TestLeftOutReference(t *testing.T) {
	tests := invented(t)
	d := FitDifficulty(tests, 0.3)
	eachRecord(t, judgesFolder+"panel_fit.csv", 1, func(r record) bool {
		r.close("nothing", d.Nothing, 0.003)
		r.close("scale", d.Scale, 0.01)
		r.close("shape", d.Shape, 0.02)
		return true
	})
	eachRecord(t, judgesFolder+"left_out.csv", 74, func(r record) bool {
		test := r.int("test")
		for i, c := range tests[test].Counts {
			if c.Judge != r.int("judge") {
				continue
			}
			got := d.LeftOut(test, i)
			r.close("nothing", got.Nothing, 0.004)
			r.close("mean", got.Mean, 0.02)
			r.close("sd", got.SD, 0.02)
			r.close("pc", got.PC, 0.001)
			r.close("pc_sd", got.PCSD, 0.001)
			if string(got.Counting) != r.text("counting") {
				t.Errorf("test %d judge %d: %s, want %s", test, c.Judge, got.Counting, r.text("counting"))
			}
			return true
		}
		return false
	})
}

// What a judge answers changes nothing of the difficulty that the record of this
// judge is held against, to the last bit but that of rounding.
func TestLeftOutIgnoresTheJudge(t *testing.T) {
	tests := invented(t)
	before := FitDifficulty(tests, 0.3)
	changed := invented(t)
	const judge = 2
	for test := range changed {
		for i, c := range changed[test].Counts {
			if c.Judge == judge {
				changed[test].Counts[i].Correct = c.N
			}
		}
	}
	after := FitDifficulty(changed, 0.3)
	moved := false
	for test := range tests {
		for i, c := range tests[test].Counts {
			a, b := before.LeftOut(test, i), after.LeftOut(test, i)
			off := math.Abs(a.PC - b.PC)
			if c.Judge == judge && (off > 2e-4 || a.Counting != b.Counting) {
				t.Errorf("test %d: the judge's own answers move pc by %v, %s to %s", test, off, a.Counting, b.Counting)
			}
			moved = moved || c.Judge != judge && off > 0.01
		}
	}
	if !moved {
		t.Error("the answers change nothing for the others either")
	}
}

// One of Newton's steps is near the fit without the judge's answers, also where
// there are few tests and the judge's answers are a large part.
func TestLeaveNearRefit(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 5))
		tests := randomTests(rng, 3+int(seed)*3, 5, 0.3)
		d := FitDifficulty(tests, 0.3)
		for judge := range 5 {
			var rest []JudgedTest
			for _, test := range tests {
				less := JudgedTest{Method: test.Method}
				for _, c := range test.Counts {
					if c.Judge != judge {
						less.Counts = append(less.Counts, c)
					}
				}
				rest = append(rest, less)
			}
			exact := FitDifficulty(rest, 0.3)
			for g := range grids {
				if off := math.Abs(d.without[judge].mass[g] - exact.prior.mass[g]); off > 2e-3 {
					t.Fatalf("seed %d judge %d: prior at d′ %v is off by %v", seed, judge, gridSizes[g], off)
				}
			}
		}
	}
}

// randomTests are invented: everybody sits in every test, half have nothing to find.
func randomTests(rng *rand.Rand, many, judges int, spread float64) []JudgedTest {
	ability := make([]float64, judges)
	for j := range ability {
		ability[j] = math.Exp(spread * rng.NormFloat64())
	}
	methods := []Psychometric{Triangle, PairedComparison, DuoTrio, ThreeAFC, Tetrad}
	var tests []JudgedTest
	for t := range many {
		test := JudgedTest{Method: methods[t%len(methods)]}
		size := 0.0
		if rng.IntN(2) > 0 {
			size = math.Abs(1.5 * rng.NormFloat64())
		}
		for j := range judges {
			c := JudgeCount{Judge: j, N: 1 + t%3}
			for range c.N {
				if rng.Float64() < test.Method.PC(ability[j]*size) {
					c.Correct++
				}
			}
			test.Counts = append(test.Counts, c)
		}
		tests = append(tests, test)
	}
	return tests
}

// The rule of what counts, at its edges.
func TestCounting(t *testing.T) {
	for _, c := range []struct {
		pc, chance float64
		judges     int
		want       Counting
	}{
		{1.0 / 3, 1.0 / 3, 10, TestTooHard}, {0.5199, 0.5, 10, TestTooHard}, {0.5201, 0.5, 10, TestCounts},
		{0.9499, 0.5, 10, TestCounts}, {0.9501, 0.5, 10, TestTooEasy}, {0.7, 0.5, 0, TestNobodyElse},
	} {
		if got := counting(c.pc, c.chance, c.judges); got != c.want {
			t.Errorf("counting(%v, %v, %d) = %s, want %s", c.pc, c.chance, c.judges, got, c.want)
		}
	}
}

// One perfect judge among guessers: the tests must not count for that judge, since
// the others show nothing.
func TestPerfectJudgeMakesNothingCount(t *testing.T) {
	var tests []JudgedTest
	for range 40 {
		test := JudgedTest{Method: Triangle, Counts: []JudgeCount{{0, 3, 3}}}
		for j := 1; j < 13; j++ {
			test.Counts = append(test.Counts, JudgeCount{j, 3, 1})
		}
		tests = append(tests, test)
	}
	d := FitDifficulty(tests, 0.3)
	if got := d.LeftOut(0, 0); got.Counting != TestTooHard {
		t.Errorf("counts for the perfect judge: %+v", got)
	}
}

// Significant tests alone would be flattering: at a true pc just above ½ the mean
// share of a panel of 11, where significant, is far above it. The model's is not.
func TestDifficultyIsNotFlattered(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	const judges, many = 12, 600
	size := Triangle.DPrime(0.51)
	var tests []JudgedTest
	for range many {
		test := JudgedTest{Method: Triangle}
		for j := range judges {
			c := JudgeCount{Judge: j, N: 1}
			if rng.Float64() < 0.51 {
				c.Correct = 1
			}
			test.Counts = append(test.Counts, c)
		}
		tests = append(tests, test)
	}
	d := FitDifficulty(tests, 0.3)
	least, _ := MinCorrect(judges-1, 1.0/3, 0.05)
	var naive, significant, fair float64
	for i, test := range tests {
		others := 0
		for _, c := range test.Counts[1:] {
			others += c.Correct
		}
		if others >= least {
			naive += float64(others) / (judges - 1)
			significant++
		}
		fair += d.LeftOut(i, 0).PC / many
	}
	if naive /= significant; naive < 0.65 {
		t.Errorf("mean share of significant tests = %v: the trap is gone", naive)
	}
	if math.Abs(fair-0.51) > 0.015 {
		t.Errorf("mean pc = %v, want 0.51 (d′ %.2f)", fair, size)
	}
}

func TestDifficultyEmptyAndWrong(t *testing.T) {
	d := FitDifficulty(nil, 0.3)
	if math.Abs(d.Nothing-0.5) > 1e-6 || math.Abs(d.Scale-1.5) > 1e-6 {
		t.Errorf("without tests: nothing %v, scale %v", d.Nothing, d.Scale)
	}
	for name, tests := range map[string][]JudgedTest{
		"twice":     {{Method: Triangle, Counts: []JudgeCount{{0, 1, 1}, {0, 1, 0}}}},
		"no judge":  {{Method: Triangle, Counts: []JudgeCount{{-1, 1, 1}}}},
		"count":     {{Method: Triangle, Counts: []JudgeCount{{0, 1, 2}}}},
		"no sets":   {{Method: Triangle, Counts: []JudgeCount{{0, 0, 0}}}},
		"no method": {{Counts: []JudgeCount{{0, 1, 1}}}},
		"known":     {{Method: Triangle, Known: -1}},
		"NaN":       {{Method: Triangle, Known: math.NaN()}},
	} {
		if !panics(func() { FitDifficulty(tests, 0.3) }) {
			t.Errorf("%s: no panic", name)
		}
	}
	if !panics(func() { FitDifficulty(nil, 3) }) || !panics(func() { FitDifficulty(nil, math.NaN()) }) {
		t.Error("spread: no panic")
	}
}

// Many sets by one judge: with abilities alike the row of all answers has lost what
// the others say, and it is added up anew.
func TestLeftOutOfManySets(t *testing.T) {
	tests := []JudgedTest{{Method: PairedComparison, Counts: []JudgeCount{{0, 400, 200}, {1, 5, 5}, {2, 5, 5}}}}
	alone := []JudgedTest{{Method: PairedComparison, Counts: []JudgeCount{{1, 5, 5}, {2, 5, 5}}}}
	for spread, steep := range map[float64]bool{0: true, 0.3: false} {
		d := FitDifficulty(tests, spread)
		got, want := d.LeftOut(0, 0), FitDifficulty(alone, spread).All(0)
		if !(math.Abs(got.PC-want.PC) <= 1e-3) || d.readings[d.at[0][0]].steep != steep {
			t.Errorf("spread %v: pc = %v, want %v", spread, got.PC, want.PC)
		}
	}
}
