package stats

import "math"

// summit is a function of two parameters at one point: its value, its gradient
// and its second derivatives, by the first parameter twice, by both, and by
// the second twice.
type summit struct {
	value float64
	slope [2]float64
	bend  [3]float64
}

// climb goes uphill on f from a start, by Newton's steps held back where they
// do not lead up (Levenberg's damping, from memory), and returns where it ends.
// Where f has no top but rises towards a bound, the end lies far out that way:
// the caller compares it with the bound. A value that is not a number counts
// as no way up.
func climb(start [2]float64, f func(at [2]float64) summit) ([2]float64, summit) {
	at, here := start, f(start)
	damping := 1e-3
	for range 300 {
		step, ok := here.step(damping)
		if !ok {
			damping = 10*damping + 1e-6
			continue
		}
		if length := math.Hypot(step[0], step[1]); length > 3 {
			step[0] *= 3 / length
			step[1] *= 3 / length
		}
		next := [2]float64{at[0] + step[0], at[1] + step[1]}
		if next == at {
			break
		}
		there := f(next)
		// Near the top the value no longer tells the points apart, but the
		// gradient does.
		level := math.Abs(there.value-here.value) <= 1e-12*math.Abs(here.value)
		switch {
		case level && there.steepness() < here.steepness(), !level && there.value > here.value:
			at, here = next, there
			damping /= 10
		case level:
			return at, here
		default:
			damping = 10*damping + 1e-6
			if damping > 1e15 {
				return at, here
			}
		}
	}
	return at, here
}

func (s summit) steepness() float64 {
	return math.Hypot(s.slope[0], s.slope[1])
}

// step returns the damped Newton step, and whether it leads up.
func (s summit) step(damping float64) ([2]float64, bool) {
	scale := damping * (math.Abs(s.bend[0]) + math.Abs(s.bend[2]))
	a, b, d := -s.bend[0]+scale, -s.bend[1], -s.bend[2]+scale
	det := a*d - b*b
	if !(a > 0 && d > 0 && det > 0) {
		return [2]float64{}, false
	}
	return [2]float64{(d*s.slope[0] - b*s.slope[1]) / det, (a*s.slope[1] - b*s.slope[0]) / det}, true
}

// covariance returns the inverse of the information, minus the second
// derivatives, in the order of bend. ok is false where they belong to no top.
func (s summit) covariance() (v [3]float64, ok bool) {
	return invert([3]float64{-s.bend[0], -s.bend[1], -s.bend[2]})
}

// invert returns the inverse of the matrix (m0 m1; m1 m2), ok only where it is
// positive definite.
func invert(m [3]float64) (v [3]float64, ok bool) {
	det := m[0]*m[2] - m[1]*m[1]
	if !(m[0] > 0 && m[2] > 0 && det > 0) {
		return v, false
	}
	return [3]float64{m[2] / det, -m[1] / det, m[0] / det}, true
}

// highest returns the largest value of f over the points between lo and hi: a
// look at evenly spaced ones, then the golden section around the best. The
// value is good to about 1e-11 times the bend of f in a step.
func highest(lo, hi float64, steps int, f func(float64) float64) (at, value float64) {
	step := (hi - lo) / float64(steps)
	at, value = lo, math.Inf(-1)
	for i := range steps + 1 {
		x := lo + step*float64(i)
		if v := f(x); v > value {
			at, value = x, v
		}
	}
	const ratio = 0.6180339887498949 // (√5 - 1) / 2
	a, b := max(lo, at-step), min(hi, at+step)
	x, y := b-ratio*(b-a), a+ratio*(b-a)
	fx, fy := f(x), f(y)
	for range 31 { // from two steps to a millionth of one
		if fx >= fy {
			b, y, fy = y, x, fx
			x = b - ratio*(b-a)
			fx = f(x)
		} else {
			a, x, fx = x, y, fy
			y = a + ratio*(b-a)
			fy = f(y)
		}
	}
	for _, p := range [][2]float64{{x, fx}, {y, fy}} {
		if p[1] > value {
			at, value = p[0], p[1]
		}
	}
	return at, value
}

// zero returns where f, positive at lo and negative at hi, crosses 0: by the
// secant, with the weight of an end that stays put twice halved (the Illinois
// rule, from memory). Where f has one sign throughout, it returns the end that
// f points to.
func zero(lo, hi float64, f func(float64) float64) float64 {
	atLo, atHi := f(lo), f(hi)
	if !(atLo > 0) {
		return lo
	}
	if !(atHi < 0) {
		return hi
	}
	moved := 0
	for range 200 {
		mid := (lo*atHi - hi*atLo) / (atHi - atLo)
		if !(mid > lo && mid < hi) {
			mid = lo + (hi-lo)/2
		}
		if mid <= lo || mid >= hi {
			return mid
		}
		switch at := f(mid); {
		case at > 0:
			if moved == 1 {
				atHi /= 2
			}
			lo, atLo, moved = mid, at, 1
		case at < 0:
			if moved == -1 {
				atLo /= 2
			}
			hi, atHi, moved = mid, at, -1
		default:
			return mid
		}
		if hi-lo <= 1e-14*math.Abs(hi) {
			break
		}
	}
	return lo + (hi-lo)/2
}
