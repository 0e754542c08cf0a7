package stats

import (
	"fmt"
	"math"
)

// Anova is the two-way analysis of variance of scores by judge and sample, with
// equally many replicates in every cell. SampleMeans and JudgeMeans are in the
// order given. The sums of squares are the same whatever is taken of the judges;
// what they are held against is not, see [Anova.Tests].
type Anova struct {
	Judges, Samples, Replicates                 int
	Mean                                        float64
	JudgeMeans, SampleMeans                     []float64
	Judge, Sample, Interaction, Residual, Total SumOfSquares
}

// SumOfSquares is a line of the analysis: MS is SS/DF, and 0 where DF is 0.
type SumOfSquares struct {
	SS float64
	DF int
	MS float64
}

// JudgeModel is what the judges of an analysis stand for.
type JudgeModel string

const (
	// JudgeFixed takes the judges as the only ones of interest: a conclusion holds
	// for this panel. Everything is held against the residual.
	JudgeFixed JudgeModel = "fixed"

	// JudgeRandomRestricted takes the judges as a sample of all judges: a
	// conclusion about the samples holds for others too. The interaction effects
	// of a judge sum to 0 over the samples (the restricted form), so the judges
	// are held against the residual; the samples against the interaction.
	JudgeRandomRestricted JudgeModel = "random-restricted"

	// JudgeRandomUnrestricted is the same with interaction effects that are free
	// (the unrestricted form): the judges, too, are held against the interaction.
	JudgeRandomUnrestricted JudgeModel = "random-unrestricted"
)

// AnovaTests are the F tests of an analysis under one model of the judges.
type AnovaTests struct {
	Model                      JudgeModel
	Judge, Sample, Interaction FTest
	Warnings                   []Warning
}

// FTest is a one-sided F test: F = MS of the term over MS of Against, PValue =
// P(F_{DF1,DF2} ≥ F). Undefined is set where the quotient cannot be formed; F is
// then 0 and PValue 1, which claims nothing, and a warning says why.
type FTest struct {
	Against   Against
	F         float64
	DF1, DF2  int
	PValue    float64
	Undefined bool
}

// Against is the line of the analysis that a term is held against.
type Against string

const (
	AgainstResidual    Against = "residual"
	AgainstInteraction Against = "judge:sample"
)

// OneReplicate warns that without replicates the interaction of judges and
// samples cannot be told from error.
const OneReplicate WarningKind = "one-replicate"

// JudgeBySample returns the analysis of scores[judge][sample][replicate]. With
// a judges, b samples, r replicates and means over the indices left out,
//
//	SS judge        b r Σ (y_i - y)²                     DF a-1
//	SS sample       a r Σ (y_j - y)²                     DF b-1
//	SS interaction  r ΣΣ (y_ij - y_i - y_j + y)²         DF (a-1)(b-1)
//	SS residual     ΣΣΣ (y_ijk - y_ij)²                  DF a b (r-1)
//
// Each has a relative error of about 1e-12, or the square of 1e-13 of the
// largest score a piece, below which it is taken for rounding and 0. (Common
// practice, from memory.)
//
// It panics unless there are a judge, a sample and a replicate, every cell has
// as many scores, and all are finite and at most 1e100 in size. A judge without
// a score for some sample must be left out by the caller, who then says so.
func JudgeBySample(scores [][][]float64) Anova {
	checkCells(scores)
	a, b, r := len(scores), len(scores[0]), len(scores[0][0])
	out := Anova{Judges: a, Samples: b, Replicates: r,
		JudgeMeans: make([]float64, a), SampleMeans: make([]float64, b)}
	cells := make([][]float64, a)
	largest := 0.0
	for i, judge := range scores {
		cells[i] = make([]float64, b)
		for j, cell := range judge {
			cells[i][j] = mean(cell)
			for _, score := range cell {
				largest = max(largest, math.Abs(score))
			}
		}
		out.JudgeMeans[i] = mean(cells[i])
	}
	out.Mean = mean(out.JudgeMeans)
	for j := range out.SampleMeans {
		column := make([]float64, a)
		for i := range cells {
			column[i] = cells[i][j]
		}
		out.SampleMeans[j] = mean(column)
	}

	var judge, sample, interaction, residual, total float64
	square := func(x float64) float64 { return x * x }
	for i := range scores {
		judge += float64(b*r) * square(out.JudgeMeans[i]-out.Mean)
		for j, cell := range scores[i] {
			interaction += float64(r) * square((cells[i][j]-out.JudgeMeans[i])-(out.SampleMeans[j]-out.Mean))
			for _, score := range cell {
				residual += square(score - cells[i][j])
				total += square(score - out.Mean)
			}
		}
	}
	for j := range out.SampleMeans {
		sample += float64(a*r) * square(out.SampleMeans[j]-out.Mean)
	}
	rounding := float64(a*b*r) * square(alike*largest)
	line := func(ss float64, df int) SumOfSquares {
		if df == 0 || ss <= rounding {
			return SumOfSquares{DF: df}
		}
		return SumOfSquares{SS: ss, DF: df, MS: ss / float64(df)}
	}
	out.Judge = line(judge, a-1)
	out.Sample = line(sample, b-1)
	out.Interaction = line(interaction, (a-1)*(b-1))
	out.Residual = line(residual, a*b*(r-1))
	out.Total = line(total, a*b*r-1)
	return out
}

// Tests returns the F tests under a model of the judges:
//
//	             fixed      random, restricted   random, unrestricted
//	judge        residual   residual             judge:sample
//	sample       residual   judge:sample         judge:sample
//	interaction  residual   residual             residual
//
// With one replicate there is no residual. The fixed model then holds judge and
// sample against the interaction, which takes judges and samples not to
// interact at all; the other tests that need a residual are undefined.
//
// The p-values are exact for independent normal effects and errors with equal
// variance and approximate for others. Their relative error for a given F is
// below 1e-12 for up to 500 degrees of freedom and 2e-11 for up to 10 000, down
// to 1e-300. (Common practice, from memory.)
//
// It panics unless model is one of its values.
func (a Anova) Tests(model JudgeModel) AnovaTests {
	out := AnovaTests{Model: model}
	judge, sample := AgainstResidual, AgainstInteraction
	switch model {
	case JudgeFixed:
		sample = AgainstResidual
		if a.Replicates == 1 {
			judge, sample = AgainstInteraction, AgainstInteraction
			out.Warnings = append(out.Warnings, Warning{OneReplicate,
				"With one replicate judges and samples are taken not to interact: the interaction serves as error."})
		}
	case JudgeRandomRestricted:
	case JudgeRandomUnrestricted:
		judge = AgainstInteraction
	default:
		panic(fmt.Sprintf("stats: %q is no model of the judges", model))
	}
	test := func(name string, term SumOfSquares, against Against) FTest {
		denominator := a.Residual
		if against == AgainstInteraction {
			denominator = a.Interaction
		}
		f := FTest{Against: against, DF1: term.DF, DF2: denominator.DF, PValue: 1, Undefined: true}
		warn := func(kind WarningKind, why string) {
			out.Warnings = append(out.Warnings, Warning{kind, "The " + name + " cannot be tested: " + why})
		}
		switch {
		case term.DF == 0 && name == "interaction":
			warn(TooFew, "it needs 2 judges and 2 samples.")
		case term.DF == 0:
			warn(TooFew, "there is only one.")
		case denominator.DF == 0 && against == AgainstResidual:
			warn(OneReplicate, "with one replicate nothing tells it from error.")
		case denominator.DF == 0:
			warn(TooFew, "its error needs 2 judges and 2 samples.")
		case denominator.MS == 0 && against == AgainstResidual:
			warn(NoVariation, "all replicates agree, so there is no error to hold it against.")
		case denominator.MS == 0:
			warn(NoVariation, "the judges agree fully about the samples, so there is no error to hold it against.")
		default:
			f.Undefined = false
			f.F = term.MS / denominator.MS
			f.PValue = fTail(f.F, f.DF1, f.DF2)
		}
		return f
	}
	out.Judge = test("judge", a.Judge, judge)
	out.Sample = test("sample", a.Sample, sample)
	out.Interaction = test("interaction", a.Interaction, AgainstResidual)
	return out
}

// fTail returns P(F ≥ f).
func fTail(f float64, df1, df2 int) float64 {
	d1, d2 := float64(df1), float64(df2)
	return betaTail(d1*f, d2, d2/2, d1/2)
}

func checkCells(scores [][][]float64) {
	if len(scores) == 0 || len(scores[0]) == 0 || len(scores[0][0]) == 0 {
		panic("stats: analysis of variance without scores")
	}
	for i, judge := range scores {
		if len(judge) != len(scores[0]) {
			panic(fmt.Sprintf("stats: judge %d scored %d samples, judge 1 %d", i+1, len(judge), len(scores[0])))
		}
		for j, cell := range judge {
			if len(cell) != len(scores[0][0]) {
				panic(fmt.Sprintf("stats: judge %d scored sample %d %d times, judge 1 sample 1 %d", i+1, j+1, len(cell), len(scores[0][0])))
			}
			for _, score := range cell {
				checkScore(score)
			}
		}
	}
}
