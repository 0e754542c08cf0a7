package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

func (r record) lineCheck(got SumOfSquares) {
	r.t.Helper()
	r.near("ss", got.SS, 1e-12)
	if got.DF != r.int("df") {
		r.t.Errorf("%s:%d: %d degrees of freedom", r.file, r.line, got.DF)
	}
	if !r.empty("ms") {
		r.near("ms", got.MS, 1e-12)
	}
}

func TestAnovaAgainstReference(t *testing.T) {
	analysis := JudgeBySample(cuppingScores(t))
	lines := map[string]SumOfSquares{
		"judge": analysis.Judge, "sample": analysis.Sample, "judge:sample": analysis.Interaction,
		"residual": analysis.Residual, "total": analysis.Total,
	}
	models := map[string]JudgeModel{
		"fixed": JudgeFixed, "judge_random": JudgeRandomRestricted, "judge_random_unrestricted": JudgeRandomUnrestricted,
	}
	eachRecord(t, "k2_anova.csv", 9, func(r record) bool {
		line, known := lines[r.text("term")]
		model, modelled := models[r.text("model")]
		if !known || !modelled {
			return false
		}
		r.lineCheck(line)
		if r.empty("F") {
			return true
		}
		tests := analysis.Tests(model)
		test := map[string]FTest{"judge": tests.Judge, "sample": tests.Sample, "judge:sample": tests.Interaction}[r.text("term")]
		r.near("F", test.F, 1e-12)
		r.near("p_value", test.PValue, 1e-11)
		if test.DF1 != r.int("df1") || test.DF2 != r.int("df2") || test.Undefined || len(tests.Warnings) > 0 || tests.Model != model {
			t.Errorf("%s:%d: %+v", r.file, r.line, tests)
		}
		return true
	})
	if analysis.Judges != 5 || analysis.Samples != 4 || analysis.Replicates != 2 {
		t.Errorf("%+v", analysis)
	}
}

// The means have one replicate, so the interaction is the error.
func TestAnovaOfMeansAgainstReference(t *testing.T) {
	var cells [][][]float64
	for _, row := range cellMeans(cuppingScores(t)) {
		var judge [][]float64
		for _, score := range row {
			judge = append(judge, []float64{score})
		}
		cells = append(cells, judge)
	}
	analysis := JudgeBySample(cells)
	tests := analysis.Tests(JudgeFixed)
	eachRecord(t, "k3_anova_means.csv", 4, func(r record) bool {
		lines := map[string]SumOfSquares{
			"judge": analysis.Judge, "sample": analysis.Sample, "residual": analysis.Interaction, "total": analysis.Total,
		}
		line, known := lines[r.text("term")]
		r.lineCheck(line)
		if !r.empty("F") {
			test := map[string]FTest{"judge": tests.Judge, "sample": tests.Sample}[r.text("term")]
			r.near("F", test.F, 1e-12)
			r.near("p_value", test.PValue, 1e-11)
			if test.Against != AgainstInteraction {
				t.Errorf("%s:%d: against %s", r.file, r.line, test.Against)
			}
		}
		return known
	})
	if !warnsOf(tests.Warnings, OneReplicate) || !tests.Interaction.Undefined || tests.Interaction.PValue != 1 || analysis.Residual.DF != 0 {
		t.Errorf("one replicate: %+v", tests)
	}
	restricted := analysis.Tests(JudgeRandomRestricted)
	if !restricted.Judge.Undefined || restricted.Sample != tests.Sample || !warnsOf(restricted.Warnings, OneReplicate) {
		t.Errorf("one replicate, restricted: %+v", restricted)
	}
	free := analysis.Tests(JudgeRandomUnrestricted)
	if free.Judge != tests.Judge || free.Sample != tests.Sample || !free.Interaction.Undefined {
		t.Errorf("one replicate, unrestricted: %+v", free)
	}
}

// Tails of F in closed form: with 2 degrees of freedom above (1 + 2f/d)^(-d/2)
// for d below, and with 1 above the square of Student's t.
func TestFTail(t *testing.T) {
	for _, f := range []float64{0, 1e-9, 0.5, 1, 4, 60, 1e5, 1e30} {
		for _, d := range []int{1, 2, 7, 12, 60} {
			want := math.Exp(-float64(d) / 2 * math.Log1p(2*f/float64(d)))
			if got := fTail(f, 2, d); want > 1e-300 && !agrees(got, want, 1e-12) {
				t.Errorf("F(2,%d) beyond %v: %v, want %v", d, f, got, want)
			}
			if got, want := fTail(f, 1, d), studentTail(math.Sqrt(f), d); want > 1e-300 && !agrees(got, want, 1e-11) {
				t.Errorf("F(1,%d) beyond %v: %v, want %v", d, f, got, want)
			}
		}
	}
}

// The sums of squares add up, do not care where zero lies, and grow with the
// square of the unit.
func TestAnovaSumsAddUp(t *testing.T) {
	const seed = 811
	t.Logf("seed %d", seed)
	dice := rand.New(rand.NewPCG(seed, 0))
	for range 200 {
		a, b, r := 1+dice.IntN(6), 1+dice.IntN(6), 1+dice.IntN(4)
		scores, moved := make([][][]float64, a), make([][][]float64, a)
		for i := range scores {
			scores[i], moved[i] = make([][]float64, b), make([][]float64, b)
			for j := range scores[i] {
				for range r {
					x := math.Round(400*dice.Float64()) / 4
					scores[i][j] = append(scores[i][j], x)
					moved[i][j] = append(moved[i][j], 1024-2*x)
				}
			}
		}
		got, other := JudgeBySample(scores), JudgeBySample(moved)
		sum := got.Judge.SS + got.Sample.SS + got.Interaction.SS + got.Residual.SS
		freedom := got.Judge.DF + got.Sample.DF + got.Interaction.DF + got.Residual.DF
		if math.Abs(sum-got.Total.SS) > 1e-9 || freedom != got.Total.DF || freedom != a*b*r-1 {
			t.Errorf("%d × %d × %d: %+v", a, b, r, got)
		}
		pairs := [][2]SumOfSquares{{got.Judge, other.Judge}, {got.Sample, other.Sample},
			{got.Interaction, other.Interaction}, {got.Residual, other.Residual}, {got.Total, other.Total}}
		for i, p := range pairs {
			if math.Abs(4*p[0].SS-p[1].SS) > 1e-8 || p[0].DF != p[1].DF {
				t.Errorf("%d × %d × %d: line %d: %+v and %+v", a, b, r, i, p[0], p[1])
			}
		}
		if a == 2 && r == 1 && b > 1 {
			// Two judges: a paired t test over the samples.
			var first, second []float64
			for j := range scores[0] {
				first, second = append(first, scores[0][j][0]), append(second, scores[1][j][0])
			}
			paired, test := Paired(first, second, 0.95), got.Tests(JudgeFixed).Judge
			if !paired.Undefined && (!agrees(test.F, paired.T*paired.T, 1e-9) || !agrees(test.PValue, paired.PValue, 1e-9)) {
				t.Errorf("F %v for t %v", test.F, paired.T)
			}
		}
	}
}

// Judges who differ in taste are drawn, and samples that do not differ on
// average over all judges. Held against the interaction the samples are found
// different as often as planned; held against the residual, too often, which is
// why the model is named.
func TestAnovaModelsAgainstSimulation(t *testing.T) {
	const seed, panels, a, b, r = 11132, 10_000, 6, 3, 2
	t.Logf("seed %d, %d panels", seed, panels)
	dice := rand.New(rand.NewPCG(seed, 0))
	rejected := map[JudgeModel]float64{}
	judges := map[JudgeModel]float64{}
	for range panels {
		scores := make([][][]float64, a)
		for i := range scores {
			scores[i] = make([][]float64, b)
			for j := range scores[i] {
				taste := dice.NormFloat64()
				for range r {
					scores[i][j] = append(scores[i][j], 84+taste+0.5*dice.NormFloat64())
				}
			}
		}
		analysis := JudgeBySample(scores)
		for _, model := range []JudgeModel{JudgeFixed, JudgeRandomRestricted, JudgeRandomUnrestricted} {
			tests := analysis.Tests(model)
			if tests.Sample.PValue <= 0.05 {
				rejected[model]++
			}
			if tests.Judge.PValue <= 0.05 {
				judges[model]++
			}
		}
	}
	margin := 4 * math.Sqrt(0.05*0.95/panels)
	for _, model := range []JudgeModel{JudgeRandomRestricted, JudgeRandomUnrestricted} {
		if share := rejected[model] / panels; math.Abs(share-0.05) > margin {
			t.Errorf("%s: %v of the panels find the samples different", model, share)
		}
	}
	// Independent interaction effects are the unrestricted form.
	if share := judges[JudgeRandomUnrestricted] / panels; math.Abs(share-0.05) > margin {
		t.Errorf("unrestricted: %v of the panels find the judges different", share)
	}
	if share := rejected[JudgeFixed] / panels; share < 0.3 {
		t.Errorf("fixed: only %v of the panels find the samples different", share)
	}
}

func TestAnovaDegenerate(t *testing.T) {
	for name, c := range map[string]struct {
		scores [][][]float64
		kind   WarningKind
		open   int // tests that stay undefined over the three models
	}{
		"one score":           {[][][]float64{{{84}}}, TooFew, 9},
		"one judge":           {[][][]float64{{{84, 85}, {80, 82}}}, TooFew, 8}, // but the samples, if fixed
		"one sample":          {[][][]float64{{{84, 85}}, {{80, 82}}}, TooFew, 7},
		"all equal":           {[][][]float64{{{84, 84}, {84, 84}}, {{84, 84}, {84, 84}}}, NoVariation, 9},
		"equal replicates":    {[][][]float64{{{84, 84}, {80, 80}}, {{83, 83}, {81, 81}}}, NoVariation, 6},
		"judges fully agree":  {[][][]float64{{{84, 84.5}, {80, 80.5}}, {{83, 83.5}, {79, 79.5}}}, NoVariation, 3},
		"agree but for noise": {[][][]float64{{{0.3}, {0.1}}, {{0.8}, {0.6}}}, NoVariation, 9},
	} {
		analysis := JudgeBySample(c.scores)
		open := 0
		for _, model := range []JudgeModel{JudgeFixed, JudgeRandomRestricted, JudgeRandomUnrestricted} {
			tests := analysis.Tests(model)
			for _, test := range []FTest{tests.Judge, tests.Sample, tests.Interaction} {
				if test.Undefined {
					open++
					if test.PValue != 1 || test.F != 0 {
						t.Errorf("%s: %+v", name, test)
					}
				} else if math.IsNaN(test.F) || math.IsInf(test.F, 0) {
					t.Errorf("%s: %+v", name, test)
				}
			}
			if model == JudgeRandomUnrestricted && !warnsOf(tests.Warnings, c.kind) {
				t.Errorf("%s: warnings %v, want %q", name, tests.Warnings, c.kind)
			}
		}
		if open != c.open {
			t.Errorf("%s: %d tests undefined, want %d; %+v", name, open, c.open, analysis)
		}
	}
}

func TestAnovaPanics(t *testing.T) {
	bad := map[string]func(){
		"no judges":         func() { JudgeBySample(nil) },
		"no samples":        func() { JudgeBySample([][][]float64{{}}) },
		"no replicates":     func() { JudgeBySample([][][]float64{{{}}}) },
		"ragged samples":    func() { JudgeBySample([][][]float64{{{1}, {2}}, {{1}}}) },
		"ragged replicates": func() { JudgeBySample([][][]float64{{{1}, {2}}, {{1}, {2, 3}}}) },
		"NaN":               func() { JudgeBySample([][][]float64{{{math.NaN()}}}) },
		"no model":          func() { JudgeBySample([][][]float64{{{1}, {2}}}).Tests("") },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkJudgeBySample(b *testing.B) {
	scores := make([][][]float64, 12)
	for i := range scores {
		scores[i] = make([][]float64, 6)
		for j := range scores[i] {
			for k := range 3 {
				scores[i][j] = append(scores[i][j], 80+float64((i*5+j*7+k*3)%11))
			}
		}
	}
	for b.Loop() {
		JudgeBySample(scores).Tests(JudgeRandomRestricted)
	}
}
