package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// PositionChoice is the result of a test of whether answers spread over the
// positions as they should: Counts against Expected, both in order of
// position.
//
// PValue is the p-value of Method. Beside it ChiSquare and ChiSquareP are
// always those of Pearson's statistic with DF degrees of freedom, without
// continuity correction. Neither has a side: a position chosen too often and
// one chosen too rarely both count against it.
type PositionChoice struct {
	Counts     []int
	Expected   []float64
	N          int
	Method     PMethod
	PValue     float64
	ChiSquare  float64
	DF         int
	ChiSquareP float64
	Warnings   []Warning
}

// PMethod is how a p-value was computed.
type PMethod string

const (
	Exact                  PMethod = "exact"     // by enumeration of all outcomes
	ChiSquareApproximation PMethod = "chiSquare" // by the chi-square distribution
)

// What the side checks warn of, beside [NothingSignificant].
const (
	NothingToTest WarningKind = "nothing-to-test" // no answers, or all alike
	FewExpected   WarningKind = "few-expected"    // too few for a chi-square
)

// usualLevel is the level that the advice of the side checks looks at (common
// practice, no source).
const usualLevel = 0.05

// sameProbability is the relative difference below which two outcomes of an
// exact test count as equally probable. Rounding is some 1e-12 and different
// outcomes lie further apart, so neither is mistaken for the other.
const sameProbability = 1e-9

const (
	// mostOutcomes bounds the enumeration: 630 answers to three positions, 104 to
	// four.
	mostOutcomes = 200_000
	// mostAnswers keeps the rounding of the factorials well below sameProbability.
	mostAnswers = 10_000
)

// UniformChoice tests whether answers spread evenly over the positions, as
// those of assessors do who have no favourite place and serving orders in
// balance. It is [ProportionalChoice] with equal shares.
//
// It panics unless there are at least 2 positions and no count is negative.
func UniformChoice(counts []int) PositionChoice {
	if len(counts) < 2 {
		panic(fmt.Sprintf("stats: choice of %d positions", len(counts)))
	}
	shares := make([]float64, len(counts))
	for i := range shares {
		shares[i] = 1 / float64(len(counts))
	}
	return ProportionalChoice(counts, shares)
}

// ProportionalChoice tests whether answers spread over k positions in the given
// shares of 1.
//
// Where there are at most 200 000 outcomes and 10 000 answers the test is
// exact: the p-value is the sum of the probabilities of all outcomes that are
// not more probable than the one observed,
//
//	P(y) = n! Π shares_i^{y_i} / y_i!      p = Σ_{P(y) ≤ P(x)} P(y)
//
// where a probability within 1e-9 of P(x), relatively, counts as equal. Its
// relative error is below 1e-10; it is valid, P(p ≤ a) ≤ a for every a.
//
// Beyond that it is Pearson's chi-square, p = P(χ²_{k-1} ≥ Σ (x-e)²/e) with e =
// n·share, an approximation. With equal shares, for 2, 3, 4 and 6 positions and
// 5 to 20 answers P(p ≤ a) exceeds a, between 0.001 and 0.2, by up to 0.1953;
// where it is first used, at 631 answers to three positions, by up to 0.0035.
//
// (Common practice, from memory.)
//
// It panics unless there are at least 2 positions, as many shares, no count is
// negative, and the shares are above 0 and sum to 1 within 1e-9.
func ProportionalChoice(counts []int, shares []float64) PositionChoice {
	checkShares(counts, shares)
	out := PositionChoice{Counts: slices.Clone(counts), DF: len(counts) - 1}
	for _, x := range counts {
		out.N += x
	}
	smallest := math.Inf(1)
	for i, share := range shares {
		expected := float64(out.N) * share
		out.Expected = append(out.Expected, expected)
		smallest = min(smallest, expected)
		if out.N > 0 {
			apart := float64(counts[i]) - expected
			out.ChiSquare += apart * apart / expected
		}
	}
	out.ChiSquareP = chiSquareUpper(out.ChiSquare, out.DF)
	if out.N == 0 {
		out.Method, out.PValue = Exact, 1
		out.Warnings = append(out.Warnings, Warning{NothingToTest, "There are no answers to test."})
		return out
	}
	if !enumerable(out.N, len(counts)) {
		out.Method, out.PValue = ChiSquareApproximation, out.ChiSquareP
		if smallest < 5 {
			out.Warnings = append(out.Warnings, Warning{FewExpected, fmt.Sprintf(
				"Only %.2g answers are expected at one position: below 5 the chi-square p-value is rough.", smallest)})
		}
		return out
	}
	least := 0.0
	out.Method = Exact
	out.PValue, least = multinomialP(counts, shares)
	if least > usualLevel {
		out.Warnings = append(out.Warnings, Warning{NothingSignificant, fmt.Sprintf(
			"No outcome of %s can be significant at %v.", answers(out.N), usualLevel)})
	}
	return out
}

// enumerable tells whether n answers to k positions have few enough outcomes,
// C(n+k-1, k-1).
func enumerable(n, k int) bool {
	if n > mostAnswers {
		return false
	}
	outcomes := 1
	for i := 1; i < k; i++ {
		outcomes = outcomes * (n + i) / i // whole at each step
		if outcomes > mostOutcomes {
			return false
		}
	}
	return true
}

// multinomialP returns the sum of the probabilities of the outcomes that are
// not more probable than counts, and the least such sum of any outcome.
func multinomialP(counts []int, shares []float64) (p, least float64) {
	n := 0
	for _, x := range counts {
		n += x
	}
	logs := make([]float64, n+1) // ln x!
	for x := 1; x <= n; x++ {
		logs[x] = logFactorial(x)
	}
	logShares := make([]float64, len(shares))
	for i, share := range shares {
		logShares[i] = math.Log(share)
	}
	observed := logs[n]
	for i, x := range counts {
		observed += float64(x)*logShares[i] - logs[x]
	}

	rarest := math.Inf(1)
	var walk func(position, left int, log float64)
	visit := func(log float64) {
		mass := math.Exp(log)
		if log <= observed+sameProbability {
			p += mass
		}
		switch {
		case log < rarest-sameProbability:
			rarest, least = log, mass
		case log <= rarest+sameProbability:
			least += mass
		}
	}
	walk = func(position, left int, log float64) {
		if position == len(shares)-1 {
			visit(log + float64(left)*logShares[position] - logs[left])
			return
		}
		for x := 0; x <= left; x++ {
			walk(position+1, left-x, log+float64(x)*logShares[position]-logs[x])
		}
	}
	walk(0, n, logs[n])
	return min(1, p), least
}

// logFactorial returns ln n! by Stirling's formula and its error.
func logFactorial(n int) float64 {
	if n < 2 {
		return 0
	}
	x := float64(n)
	return (x+0.5)*math.Log(x) - x + 0.5*math.Log(2*math.Pi) + stirlingError(n)
}

// chiSquareUpper returns P(χ² ≥ x) with df degrees of freedom, which keeps its
// digits down to 1e-300.
func chiSquareUpper(x float64, df int) float64 {
	if df == 0 || x <= 0 {
		return 1
	}
	return mathext.GammaIncRegComp(float64(df)/2, x/2)
}

func checkShares(counts []int, shares []float64) {
	if len(counts) < 2 || len(counts) != len(shares) {
		panic(fmt.Sprintf("stats: choice of %d positions with %d shares", len(counts), len(shares)))
	}
	sum := 0.0
	for i, share := range shares {
		if counts[i] < 0 || !(share > 0) {
			panic(fmt.Sprintf("stats: position %d chosen %d times with share %v", i+1, counts[i], share))
		}
		sum += share
	}
	if math.Abs(sum-1) > 1e-9 {
		panic(fmt.Sprintf("stats: shares sum to %v", sum))
	}
}
