package stats

import "fmt"

// trimmed is the probability below which an outcome at the end of a long sum
// is let go.
const trimmed = 1e-100

// PoissonBinomial returns the distribution of the number correct of answers that
// are independent and correct with probabilities pc, each its own: element x is
// P(X = x), and there are len(pc)+1 of them. It adds one answer after the other,
//
//	P_i(x) = P_{i-1}(x) (1 - pc_i) + P_{i-1}(x-1) pc_i
//
// sums of positive terms, so the relative error is some 1e-16 for each answer.
// Beyond 1000 answers outcomes below 1e-90 may be given as 0 or roughly.
//
// It panics unless all are probabilities.
func PoissonBinomial(pc []float64) []float64 {
	parts := make([][]float64, len(pc))
	for i, p := range pc {
		checkProbability(fmt.Sprintf("pc of answer %d", i+1), p)
		parts[i] = []float64{1 - p, p}
	}
	sum := sumOf(parts)
	whole := make([]float64, len(pc)+1)
	copy(whole[sum.from:], sum.mass)
	return whole
}

// counted is the distribution of a count: mass[i] is P(X = from+i), and no other
// count has a probability worth keeping.
type counted struct {
	from int
	mass []float64
}

// sumOf returns the distribution of the sum of independent counts, each given
// from 0 on.
func sumOf(parts [][]float64) counted {
	most := 0
	for _, part := range parts {
		most += len(part) - 1
	}
	sum := counted{mass: make([]float64, 1, most+1)}
	sum.mass[0] = 1
	for _, part := range parts {
		sum.add(part)
		if most > 1000 {
			sum.trim()
		}
	}
	return sum
}

// add adds an independent count.
func (c *counted) add(part []float64) {
	old := len(c.mass)
	for range len(part) - 1 {
		c.mass = append(c.mass, 0)
	}
	if len(part) == 2 { // one more answer, by far the commonest
		p, q := part[1], part[0]
		fewer := 0.0 // of one correct fewer
		for x, same := range c.mass {
			c.mass[x] = same*q + fewer*p
			fewer = same
		}
		return
	}
	for x := len(c.mass) - 1; x >= 0; x-- {
		var sum float64
		for i := max(0, x-old+1); i < len(part) && i <= x; i++ {
			sum += part[i] * c.mass[x-i]
		}
		c.mass[x] = sum
	}
}

func (c *counted) trim() { c.trimBelow(trimmed) }

func (c *counted) trimBelow(least float64) {
	from, to := 0, len(c.mass)
	for to-from > 1 && c.mass[from] < least {
		from++
	}
	for to-from > 1 && c.mass[to-1] < least {
		to--
	}
	c.mass, c.from = c.mass[from:to], c.from+from
}

// atMost returns P(X ≤ x).
func (c counted) atMost(x int) float64 {
	var sum float64
	for i := 0; i < len(c.mass) && c.from+i <= x; i++ {
		sum += c.mass[i]
	}
	return min(1, sum)
}

// atLeast returns P(X ≥ x).
func (c counted) atLeast(x int) float64 {
	var sum float64
	for i := len(c.mass) - 1; i >= 0 && c.from+i >= x; i-- {
		sum += c.mass[i]
	}
	return min(1, sum)
}
