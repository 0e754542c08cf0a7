package stats

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// The weak priors of [Difficulty], on logit Nothing, ln Scale and ln Shape.
const (
	usualScale = 1.5
	nothingSD  = 1.5
	scaleSD    = 0.7
	shapeSD    = 1
)

// usualSizes is where the weak priors are highest.
var usualSizes = [3]float64{0, math.Log(usualScale), 0}

// sizePrior is a distribution of the size of a test's difference over the grid: 0
// with probability nothing, else h. Derivatives are by ln scale and ln shape.
type sizePrior struct {
	at      [3]float64 // logit nothing, ln scale, ln shape
	nothing float64
	half    [grids]float64    // h, 0 at 0
	mass    [grids]float64    // both together
	first   [2][grids]float64 // the first derivatives of h
	second  [3][grids]float64 // the second: by scale twice, by both, by shape twice
}

// newSizePrior sets up the distribution with its derivatives. With l the logarithm of
// h before it is divided by its sum, indices for derivatives, and mean and covariance
// under h
//
//	l = (k-1) ln d - k d²/(2 s²)
//	c_i = l_i - E l_i      h_i = h c_i      h_ij = h (c_i c_j + l_ij - E l_ij - Cov(l_i, l_j))
func newSizePrior(at [3]float64) *sizePrior {
	s := &sizePrior{at: at, nothing: logistic(at[0])}
	scale, k := math.Exp(at[1]), math.Exp(at[2])
	var l [grids]float64
	top := math.Inf(-1)
	for g := 1; g < grids; g++ {
		l[g] = (k-1)*math.Log(gridSizes[g]) - k*sq(gridSizes[g]/scale)/2
		top = max(top, l[g])
	}
	var sum float64
	for g := 1; g < grids; g++ {
		s.half[g] = gridWidths[g] * math.Exp(l[g]-top)
		sum += s.half[g]
	}
	var one [2][grids]float64 // l_i
	var two [3][grids]float64 // l_ij
	var mean1 [2]float64
	var mean2, cross [3]float64
	some := logistic(-at[0])
	s.mass[0] = s.nothing
	for g := 1; g < grids; g++ {
		s.half[g] /= sum
		s.mass[g] = some * s.half[g]
		q := sq(gridSizes[g] / scale)
		a, b := k*q, k*(math.Log(gridSizes[g])-q/2)
		one[0][g], one[1][g] = a, b
		two[0][g], two[1][g], two[2][g] = -2*a, a, b
		for i := range one {
			mean1[i] += s.half[g] * one[i][g]
		}
		for i, x := range [3]float64{a * a, a * b, b * b} {
			mean2[i] += s.half[g] * two[i][g]
			cross[i] += s.half[g] * x
		}
	}
	for g := 1; g < grids; g++ {
		c := [2]float64{one[0][g] - mean1[0], one[1][g] - mean1[1]}
		s.first[0][g], s.first[1][g] = s.half[g]*c[0], s.half[g]*c[1]
		for i, pair := range [3][2]int{{0, 0}, {0, 1}, {1, 1}} {
			covariance := cross[i] - mean1[pair[0]]*mean1[pair[1]]
			s.second[i][g] = s.half[g] * (c[pair[0]]*c[pair[1]] + two[i][g] - mean2[i] - covariance)
		}
	}
	return s
}

// weak returns the logarithm of the weak priors at this distribution.
func (s *sizePrior) weak() moments {
	var m moments
	for i, sd := range [3]float64{nothingSD, scaleSD, shapeSD} {
		z := (s.at[i] - usualSizes[i]) / sd
		m.value -= z * z / 2
		m.slope[i] = -z / sd
		m.bend[i][i] = -1 / sd / sd
	}
	return m
}

// posterior turns a likelihood into the posterior distribution, in place.
func (s *sizePrior) posterior(weight *[grids]float64) {
	var sum float64
	for g := range weight {
		weight[g] *= s.mass[g]
		sum += weight[g]
	}
	for g := range weight {
		weight[g] /= sum
	}
}

// moments is a logarithm of marginal likelihoods with its derivatives by logit
// nothing, ln scale and ln shape.
type moments struct {
	value float64
	slope [3]float64
	bend  [3][3]float64
}

// add adds sign times the logarithm of the marginal likelihood of a test.
func (m *moments) add(s *sizePrior, row *[grids]float64, sign float64) {
	var some, f0, f1, s0, s1, s2 float64
	for g, l := range row { // h is 0 at 0
		some += s.half[g] * l
		f0 += s.first[0][g] * l
		f1 += s.first[1][g] * l
		s0 += s.second[0][g] * l
		s1 += s.second[1][g] * l
		s2 += s.second[2][g] * l
	}
	p, q := s.nothing, 1-s.nothing
	all := p*row[0] + q*some
	slope := [3]float64{p * q * (row[0] - some) / all, q * f0 / all, q * f1 / all}
	bend := [3][3]float64{
		{(1 - 2*p) * slope[0], -p * slope[1], -p * slope[2]},
		{-p * slope[1], q * s0 / all, q * s1 / all},
		{-p * slope[2], q * s1 / all, q * s2 / all},
	}
	m.value += sign * math.Log(all)
	for i := range 3 {
		m.slope[i] += sign * slope[i]
		for j := range 3 {
			m.bend[i][j] += sign * (bend[i][j] - slope[i]*slope[j])
		}
	}
}

// step returns the damped Newton step, and whether it leads up: Cholesky's
// factors of minus the second derivatives exist.
func (m *moments) step(damping float64) (step [3]float64, ok bool) {
	var l [3][3]float64
	for i := range 3 {
		for j := range i + 1 {
			sum := -m.bend[i][j]
			if i == j {
				sum += damping * (1 + math.Abs(sum))
			}
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			switch {
			case i != j:
				l[i][j] = sum / l[j][j]
			case !(sum > 0):
				return step, false
			default:
				l[i][i] = math.Sqrt(sum)
			}
		}
	}
	var y [3]float64
	for i := range 3 {
		y[i] = m.slope[i]
		for k := range i {
			y[i] -= l[i][k] * y[k]
		}
		y[i] /= l[i][i]
	}
	for i := 2; i >= 0; i-- {
		step[i] = y[i]
		for k := i + 1; k < 3; k++ {
			step[i] -= l[k][i] * step[k]
		}
		step[i] /= l[i][i]
	}
	return step, true
}

// highestSizes goes uphill from a start, by Newton's steps held back where they do
// not lead up (Levenberg's damping, from memory). The weak priors see to it that
// there is a top.
func highestSizes(start [3]float64, f func(p *sizePrior) moments) (*sizePrior, moments) {
	at := newSizePrior(start)
	here := f(at)
	damping := 0.0
	for range 100 {
		step, ok := here.step(damping)
		var next [3]float64
		longest := 0.0
		for i := range step {
			step[i] = max(-1, min(1, step[i]))
			next[i] = at.at[i] + step[i]
			longest = max(longest, math.Abs(step[i]))
		}
		if ok {
			if longest < 1e-9 {
				break
			}
			p := newSizePrior(next)
			if there := f(p); there.value >= here.value-1e-12*math.Abs(here.value) {
				at, here = p, there
				damping /= 10
				if longest < 1e-7 {
					break
				}
				continue
			}
		}
		damping = 10*damping + 1e-3
	}
	return at, here
}

// inParallel calls do for 0 to n-1, on all processors. Each call must write to
// its own place only, so that the result is the same in every run.
func inParallel(n int, do func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
}
