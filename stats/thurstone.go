package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// Psychometric ties the size of a difference, d′, to the probability pc of a
// correct answer in one discrimination test. It is Thurstone's model in one
// dimension: each cup is perceived with unit normal noise around its product's
// mean, the two means lie d′ apart, and the assessor answers by what was
// perceived.
//
// The zero value is no test; its methods panic. Psychometrics may be compared
// with ==.
type Psychometric struct {
	method method
}

// The tests. With Φ and φ the normal distribution function and density, and d
// for d′, pc is
//
//	triangle           2 ∫_0^∞ [Φ(-√3 z + √⅔ d) + Φ(-√3 z - √⅔ d)] φ(z) dz
//	paired comparison  Φ(d/√2)
//	duo-trio           1 - Φ(d/√2) - Φ(d/√6) + 2 Φ(d/√2) Φ(d/√6)
//	3-AFC              ∫ Φ(z)² φ(z-d) dz
//	tetrad             1 - 2 ∫ φ(z) [2 Φ(z) Φ(z-d) - Φ(z-d)²] dz
//
// The formulas are common practice, from memory; the tests hold them against
// values from 30-digit quadrature, which a second derivation confirms. The
// tetrad test is the unspecified one: four cups sorted into two pairs.
var (
	Triangle         = Psychometric{triangle}
	PairedComparison = Psychometric{pairedComparison}
	DuoTrio          = Psychometric{duoTrio}
	ThreeAFC         = Psychometric{threeAFC}
	Tetrad           = Psychometric{tetrad}
)

type method int

const (
	triangle method = iota + 1
	pairedComparison
	duoTrio
	threeAFC
	tetrad
)

// unseen is a d′ at which a wrong answer is less probable than any float64.
const unseen = 100

// Name returns the name of the test, such as "triangle".
func (m Psychometric) Name() string {
	switch m.method {
	case triangle:
		return "triangle"
	case pairedComparison:
		return "paired comparison"
	case duoTrio:
		return "duo-trio"
	case threeAFC:
		return "3-AFC"
	case tetrad:
		return "tetrad"
	}
	panic(m.unknown())
}

// Chance returns the probability of a correct answer without perception: pc at
// d′ = 0.
func (m Psychometric) Chance() float64 {
	switch m.method {
	case triangle, threeAFC, tetrad:
		return 1.0 / 3
	case pairedComparison, duoTrio:
		return 1.0 / 2
	}
	panic(m.unknown())
}

// PC returns the probability of a correct answer at d′, from [Psychometric.Chance]
// at 0 to 1 at +Inf. Its absolute error is below 1e-14; close to 1 the last
// digits of the other side are kept by [Psychometric.Miss].
//
// It panics unless dPrime ≥ 0.
func (m Psychometric) PC(dPrime float64) float64 {
	checkDPrime(dPrime)
	if dPrime == 0 {
		return m.Chance()
	}
	return 1 - m.miss(dPrime)
}

// Miss returns the probability of a wrong answer at d′, 1 - pc, from 1 - chance
// at 0 to 0 at +Inf. Its relative error is below 5e-13 wherever it is above
// 1e-300, so it tells differences apart that pc rounds to 1.
//
// It panics unless dPrime ≥ 0.
func (m Psychometric) Miss(dPrime float64) float64 {
	checkDPrime(dPrime)
	if dPrime == 0 {
		return 1 - m.Chance()
	}
	return m.miss(dPrime)
}

// Slope returns how fast the probability of a correct answer rises with d′,
// dpc/dd′. With d for d′, Φ and φ the normal distribution function and density,
// it is
//
//	triangle           √⅔ φ(d/√6) (2 Φ(d/√2) - 1)
//	paired comparison  φ(d/√2) / √2
//	duo-trio           φ(d/√2) (2 Φ(d/√6) - 1) / √2 + φ(d/√6) (2 Φ(d/√2) - 1) / √6
//	3-AFC              √2 φ(d/√2) Φ(d/√6)
//	tetrad             2√2 φ(d/√2) (2 Φ(d/√6) - 1)
//
// derived from the integrals of pc by completing the square; the tests hold
// them against 30-digit derivatives. Its relative error is below 1e-12. At
// d′ = 0 it is 0 for the triangle, the duo-trio and the tetrad test: they see
// a very small difference no better than none.
//
// It panics unless dPrime ≥ 0.
func (m Psychometric) Slope(dPrime float64) float64 {
	checkDPrime(dPrime)
	a, b := dPrime/math.Sqrt2, dPrime/math.Sqrt(6)
	// 2 Φ(z) - 1 is erf(z/√2), which keeps its digits near 0.
	switch m.method {
	case triangle:
		return math.Sqrt(2.0/3) * normalDensity(b) * math.Erf(a/math.Sqrt2)
	case pairedComparison:
		return normalDensity(a) / math.Sqrt2
	case duoTrio:
		return normalDensity(a)*math.Erf(b/math.Sqrt2)/math.Sqrt2 +
			normalDensity(b)*math.Erf(a/math.Sqrt2)/math.Sqrt(6)
	case threeAFC:
		return math.Sqrt2 * normalDensity(a) * normalCDF(b)
	case tetrad:
		return 2 * math.Sqrt2 * normalDensity(a) * math.Erf(b/math.Sqrt2)
	}
	panic(m.unknown())
}

// DPrime returns the d′ at which the probability of a correct answer is pc: 0
// at or below chance, +Inf at pc = 1. Its relative error is below 1e-12 where
// d′ lies between 0.1 and 6, its absolute error below 1e-10 from 2e-5 to 7.
//
// A float64 holds no more: the curve of the triangle, the duo-trio and the
// tetrad test leaves chance so flat that at d′ = 1e-6 the last bit of pc moves
// d′ by 1e-10 and more, and the error there grows to 1e-7. (That of the paired
// comparison and 3-AFC stays below 1e-14.) Beyond 7 pc comes so close to 1 that
// its digits are gone, and [Psychometric.DPrimeFromMiss] is the one to use.
//
// It panics unless 0 ≤ pc ≤ 1.
func (m Psychometric) DPrime(pc float64) float64 {
	checkProbability("pc", pc)
	switch {
	case pc <= m.Chance():
		return 0
	case pc == 1:
		return math.Inf(1)
	}
	return m.inverse(1 - pc)
}

// DPrimeFromMiss returns the d′ at which the probability of a wrong answer is
// miss = 1 - pc: 0 where miss is at or above 1 - chance, +Inf at miss = 0. It is
// [Psychometric.DPrime] for a pc close to 1, with a relative error below 1e-12
// from d′ 0.1 on to wherever miss is above 1e-300; near 0 it loses digits as
// DPrime does.
//
// It panics unless 0 ≤ miss ≤ 1.
func (m Psychometric) DPrimeFromMiss(miss float64) float64 {
	checkProbability("miss", miss)
	switch {
	case miss >= 1-m.Chance():
		return 0
	case miss == 0:
		return math.Inf(1)
	}
	return m.inverse(miss)
}

// inverse returns the d′ at which 1 - pc is miss, by Newton's steps on ln miss,
// which bends little, kept inside the bracket that the values so far leave.
func (m Psychometric) inverse(miss float64) float64 {
	lo, hi, d := 0.0, float64(unseen), 2.0
	for range 100 {
		got := m.miss(d)
		switch {
		case got == miss:
			return d
		case got > miss:
			lo = d
		default:
			hi = d
		}
		next := d + got*math.Log(got/miss)/m.Slope(d)
		if !(next > lo && next < hi) { // NaN too, where got is 0
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-d) <= 1e-15*d {
			return next
		}
		d = next
	}
	return d
}

// DPrimeInterval returns the interval of d′ for x correct of n: the
// [ClopperPearson] limits of pc, each turned into its d′. Lower is 0 where the
// limit of pc does not exceed chance, and Upper is +Inf at x = n. Both are 0
// where even the upper limit lies below chance. It covers d′ at least with the
// confidence. The relative error of a limit above 0.1 is below 1e-12.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 < confidence < 1.
func (m Psychometric) DPrimeInterval(x, n int, confidence float64) Interval {
	checkCount(n, x)
	// Where few answers are wrong the limits of their share keep the digits
	// that those of pc have lost.
	wrong := ClopperPearson(n-x, n, confidence)
	return Interval{Lower: m.DPrimeFromMiss(wrong.Upper), Upper: m.DPrimeFromMiss(wrong.Lower), Confidence: confidence}
}

// miss returns 1 - pc, in forms that add only positive terms, so that it keeps
// its digits where pc comes close to 1.
func (m Psychometric) miss(d float64) float64 {
	if d > unseen {
		return 0
	}
	switch m.method {
	case triangle:
		if d > 11 {
			// What this leaves out is Φ(-d/√2) of it, less than the last bit,
			// while the integrand moves off the end of the grid.
			return 2 * normalCDF(-d/math.Sqrt(6))
		}
		shift := d * math.Sqrt(2.0/3)
		return 2 * halfLine.expect(func(z float64) float64 {
			return between(-math.Sqrt(3)*z-shift, math.Sqrt(3)*z-shift)
		})
	case pairedComparison:
		return normalCDF(-d / math.Sqrt2)
	case duoTrio:
		a, b := d/math.Sqrt2, d/math.Sqrt(6)
		return normalCDF(a)*normalCDF(-b) + normalCDF(b)*normalCDF(-a)
	case threeAFC:
		return wholeLine.expectAround(-d/2, func(z float64) float64 {
			return normalCDF(-z-d) * (1 + normalCDF(z+d))
		})
	case tetrad:
		return 2 * wholeLine.expectAround(d/2, func(z float64) float64 {
			other := normalCDF(z - d)
			return other * (2*normalCDF(z) - other)
		})
	}
	panic(m.unknown())
}

func checkDPrime(dPrime float64) {
	if !(dPrime >= 0) { // NaN fails too
		panic(fmt.Sprintf("stats: d′ = %v is not a size", dPrime))
	}
}

func (m Psychometric) unknown() string {
	return fmt.Sprintf("stats: psychometric %d is no test", m.method)
}

// normalCDF returns Φ(z) with full relative precision in the lower tail.
func normalCDF(z float64) float64 {
	return 0.5 * math.Erfc(-z/math.Sqrt2)
}

// normalDensity returns φ(z).
func normalDensity(z float64) float64 {
	return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
}

// between returns Φ(hi) - Φ(lo), lo ≤ hi.
func between(lo, hi float64) float64 {
	return normalCDF(hi) - normalCDF(lo)
}

// The grids end at 9, beyond which unit normal noise has less than 2e-19 left.
// Their sizes are well past the point (40 and 80) from which more points
// change nothing but the last bit.
var (
	halfLine  = newGrid(0, 9, 60)
	wholeLine = newGrid(-9, 9, 100)
)

// grid integrates against the normal density by Gauss-Legendre points.
type grid struct {
	at, weight []float64
}

func newGrid(lo, hi float64, points int) grid {
	g := grid{at: make([]float64, points), weight: make([]float64, points)}
	quad.Legendre{}.FixedLocations(g.at, g.weight, lo, hi)
	for i, z := range g.at {
		g.weight[i] *= normalDensity(z)
	}
	return g
}

// expect returns ∫ f(z) φ(z) dz over the grid.
func (g grid) expect(f func(z float64) float64) float64 {
	var sum float64
	for i, z := range g.at {
		sum += g.weight[i] * f(z)
	}
	return sum
}

// expectAround returns ∫ f(z) φ(z) dz over the grid moved to center, which is
// where the integrand should peak. On a grid around 0 the little that is left
// of pc near 1 would lie between the points or beyond the end.
func (g grid) expectAround(center float64, f func(z float64) float64) float64 {
	var sum float64
	for i, z := range g.at {
		// φ(z + center) = φ(z) e^(-center (z + center/2))
		sum += g.weight[i] * math.Exp(-center*(z+center/2)) * f(z+center)
	}
	return sum
}
