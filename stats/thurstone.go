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

// farthest is a d′ at which every test is answered correctly but for less
// than the last bit of 1.
const farthest = 40

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
// at 0 to 1 at +Inf. Its absolute error is below 1e-14.
//
// It panics unless dPrime ≥ 0.
func (m Psychometric) PC(dPrime float64) float64 {
	if !(dPrime >= 0) { // NaN fails too
		panic(fmt.Sprintf("stats: d′ = %v is not a size", dPrime))
	}
	if dPrime == 0 {
		return m.Chance()
	}
	return 1 - m.miss(dPrime)
}

// DPrime returns the d′ at which the probability of a correct answer is pc: 0
// at or below chance, +Inf at pc = 1. Its relative error is below 1e-12 where
// d′ lies between 0.1 and 6; the curve leaves chance flat (but for the paired
// comparison and 3-AFC), so nearer to 0 digits are lost: d′ = 0.001 has an
// error of about 1e-9, relatively.
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
	wrong := 1 - pc
	return bisect(0, farthest, func(d float64) bool { return m.miss(d) <= wrong })
}

// DPrimeInterval returns the interval of d′ for x correct of n: the
// [ClopperPearson] limits of pc, each turned into its d′. Lower is 0 where the
// limit of pc does not exceed chance, and Upper is +Inf at x = n. Both are 0
// where even the upper limit lies below chance.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 < confidence < 1.
func (m Psychometric) DPrimeInterval(x, n int, confidence float64) Interval {
	limits := ClopperPearson(x, n, confidence)
	limits.Lower = m.DPrime(limits.Lower)
	limits.Upper = m.DPrime(limits.Upper)
	return limits
}

// miss returns 1 - pc, in forms that add only positive terms, so that it keeps
// its digits where pc comes close to 1.
func (m Psychometric) miss(d float64) float64 {
	switch m.method {
	case triangle:
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
		return wholeLine.expect(func(z float64) float64 {
			return normalCDF(-z-d) * (1 + normalCDF(z+d))
		})
	case tetrad:
		return 2 * wholeLine.expect(func(z float64) float64 {
			other := normalCDF(z - d)
			return other * (2*normalCDF(z) - other)
		})
	}
	panic(m.unknown())
}

func (m Psychometric) unknown() string {
	return fmt.Sprintf("stats: psychometric %d is no test", m.method)
}

// normalCDF returns Φ(z) with full relative precision in the lower tail.
func normalCDF(z float64) float64 {
	return 0.5 * math.Erfc(-z/math.Sqrt2)
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
		g.weight[i] *= math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
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
