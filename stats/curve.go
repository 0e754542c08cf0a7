package stats

import (
	"math"
	"sync"
)

// curve is pc of one method between knots, for fits that ask for it a million
// times. Between knots it is the cubic that has pc and slope right at both
// (Hermite interpolation); its absolute error is below 1e-7.
type curve struct {
	pc, slope []float64
}

const (
	curveStep = 1.0 / 16
	curveEnd  = 16.0 // pc is above 1 - rarest from here on, in every method
)

// rarest is the smallest probability that a fit over many tests gives to an
// answer. It keeps one slip of a finger on an obvious difference from ruling out
// what all other answers say.
const rarest = 1e-6

var curves = map[Psychometric]func() curve{
	Triangle:         sync.OnceValue(Triangle.curve),
	PairedComparison: sync.OnceValue(PairedComparison.curve),
	DuoTrio:          sync.OnceValue(DuoTrio.curve),
	ThreeAFC:         sync.OnceValue(ThreeAFC.curve),
	Tetrad:           sync.OnceValue(Tetrad.curve),
}

func (m Psychometric) curve() curve {
	var c curve
	for i := range int(curveEnd/curveStep) + 1 {
		d := float64(i) * curveStep
		c.pc = append(c.pc, m.PC(d))
		c.slope = append(c.slope, m.Slope(d))
	}
	return c
}

// curveOf returns the curve of a method. It panics where m is no test.
func curveOf(m Psychometric) curve {
	of, ok := curves[m]
	if !ok {
		panic(m.unknown())
	}
	return of()
}

// at returns pc at d′ ≥ 0, at most 1 - rarest.
func (c curve) at(d float64) float64 {
	place := d / curveStep
	if !(place < float64(len(c.pc)-1)) {
		return 1 - rarest
	}
	i := int(place)
	t := place - float64(i)
	u := 1 - t
	pc := u*u*(1+2*t)*c.pc[i] + t*t*(3-2*t)*c.pc[i+1] +
		curveStep*t*u*(u*c.slope[i]-t*c.slope[i+1])
	return math.Min(pc, 1-rarest)
}
