package stats

import "fmt"

// PlaceHabit is the test of whether one judge favours a place, whatever is served
// there. N is the number of answers that say something of it; Statistic and DF
// belong to three places, PValue to all. Favoured is the place, from 0, chosen most
// beyond what is expected, -1 where there is nothing to test.
type PlaceHabit struct {
	N         int
	Favoured  int
	Statistic float64
	DF        int
	Method    PMethod
	PValue    float64
	Warnings  []Warning
}

// HabitOfThree tests one judge's answers in sets of three places: picks[i][k] is
// how often the right answer was at place i and the judge chose place k. (In a
// tetrad the places are the three ways to sort four cups into pairs.)
//
// It looks at the answers that were not correct: without a habit each falls on one
// of the two other places with probability ½, however good the judge is and however
// the sets were dealt. (All answers against even shares, [UniformChoice], would take
// the dealing of a few sets for a habit.) With x the numbers by place, e and V
// their mean and covariance given where the right answers were,
//
//	T = (x-e)' V⁻ (x-e)      p = P(T ≥ the one found)
//
// by enumeration of the three binomials behind x up to 200 000 outcomes (some 170 wrong
// answers), then by
// chi-square with 2 degrees of freedom (1 where the right answer was at one place in
// all of them). The exact p-value is valid: P(p ≤ a) ≤ a for every a; where chi-square is
// first used, P(p ≤ a) exceeds an a between 0.001 and 0.2 by up to 0.015. (Conditioning
// and quadratic form are common practice, no source.)
//
// It panics on a negative count, or one above a million.
func HabitOfThree(picks [3][3]int) PlaceHabit {
	var m, k [3]int // wrong answers by right place; those of them at the first of the other two
	for i, row := range picks {
		for _, n := range row {
			checkPicks(n)
		}
		first, second := (i+1)%3, (i+2)%3
		m[i], k[i] = row[first]+row[second], row[first]
	}
	h := PlaceHabit{N: m[0] + m[1] + m[2], Favoured: -1, Method: Exact, PValue: 1}
	if h.N == 0 {
		h.Warnings = append(h.Warnings, Warning{NothingToTest, "No answer was wrong, so none tells of a habit."})
		return h
	}
	most := 0.0
	for place := range 3 {
		before, after := (place+2)%3, (place+1)%3
		// The place is the first of the two others after before, the second after after.
		beyond := float64(k[before]) - float64(m[before])/2 + float64(m[after])/2 - float64(k[after])
		if beyond > most {
			h.Favoured, most = place, beyond
		}
	}
	q := newQuadratic(m)
	h.DF = q.df
	h.Statistic = q.at(k)
	if float64(m[0]+1)*float64(m[1]+1)*float64(m[2]+1) > mostOutcomes {
		h.Method, h.PValue = ChiSquareApproximation, chiSquareUpper(h.Statistic, h.DF)
		return h
	}
	var mass [3][]float64
	for i := range 3 {
		for x := range m[i] + 1 {
			if m[i] == 0 {
				mass[i] = []float64{1}
				break
			}
			mass[i] = append(mass[i], PMF(m[i], x, 0.5))
		}
	}
	sum, least, lowest := 0.0, 0.0, -1.0
	for x0, p0 := range mass[0] {
		for x1, p1 := range mass[1] {
			for x2, p2 := range mass[2] {
				t, p := q.at([3]int{x0, x1, x2}), p0*p1*p2
				if t >= h.Statistic*(1-sameProbability) {
					sum += p
				}
				switch {
				case t > lowest*(1+sameProbability):
					least, lowest = p, t
				case t >= lowest*(1-sameProbability):
					least += p
				}
			}
		}
	}
	h.PValue = min(1, sum)
	if least > usualLevel {
		h.Warnings = append(h.Warnings, Warning{NothingSignificant, fmt.Sprintf(
			"No outcome of %s that were wrong can be significant at %v.", answers(h.N), usualLevel)})
	}
	return h
}

// quadratic is the form T. With d_i = k_i - m_i/2 the places differ from their means
// by d_2 - d_1, d_0 - d_2 and d_1 - d_0, in the order 0, 1, 2.
type quadratic struct {
	m          [3]int
	a, b, c    float64 // of the inverse covariance of places 0 and 1
	df, lonely int
}

func newQuadratic(m [3]int) quadratic {
	m0, m1, m2 := float64(m[0]), float64(m[1]), float64(m[2])
	det := m0*m1 + m1*m2 + m0*m2
	q := quadratic{m: m, df: 2}
	if det == 0 {
		q.df = 1
		for i, n := range m {
			if n > 0 {
				q.lonely = i
			}
		}
		return q
	}
	q.a, q.b, q.c = 4*(m0+m2)/det, 4*m2/det, 4*(m1+m2)/det
	return q
}

func (q quadratic) at(k [3]int) float64 {
	var d [3]float64
	for i := range d {
		d[i] = float64(k[i]) - float64(q.m[i])/2
	}
	if q.df == 1 {
		return d[q.lonely] * d[q.lonely] * 4 / float64(q.m[q.lonely])
	}
	x, y := d[2]-d[1], d[0]-d[2]
	return q.a*x*x + 2*q.b*x*y + q.c*y*y
}

// HabitOfTwo tests one judge's answers in sets of two places: picks[i][k] is how often
// the right answer was at place i and the judge chose place k. Without a habit the
// judge is right as often with the answer on the left as on the right; [Fisher]'s
// exact test compares the two, given how often each was served.
//
// It panics on a negative count, or one above a million.
func HabitOfTwo(picks [2][2]int) PlaceHabit {
	for _, row := range picks {
		checkPicks(row[0])
		checkPicks(row[1])
	}
	f := Fisher(picks[0][0], picks[0][1], picks[1][1], picks[1][0])
	h := PlaceHabit{N: f.N, Favoured: -1, Method: Exact, PValue: min(1, f.PValue), Warnings: f.Warnings}
	if f.N == 0 {
		h.PValue = 1
		return h
	}
	// Right more often with the answer on the left: the left is favoured.
	left, right := picks[0][0]*(picks[1][0]+picks[1][1]), picks[1][1]*(picks[0][0]+picks[0][1])
	switch {
	case left > right:
		h.Favoured = 0
	case right > left:
		h.Favoured = 1
	}
	return h
}

func checkPicks(n int) {
	if n < 0 || n > 1_000_000 {
		panic(fmt.Sprintf("stats: place chosen %d times", n))
	}
}
