package session

import (
	"fmt"
	"testing"
)

// What is said to need more than the largest compared panel does: no number up to
// it reaches the risks, computed one by one, and what is given does.
func TestComparedBeyondTheLargestPanel(t *testing.T) {
	beyond, within := 0, 0
	for _, goal := range goals {
		for _, d := range []float64{0.2, 0.25, 0.26, 0.35, 0.36, 0.37, 0.38, 0.41, 0.5} {
			c := Comparison{DPrime: d, Goal: goal, Alpha: 0.05, Beta: 0.05, Power: 0.8, Serving: UsualPlan().Serving}
			for _, n := range c.Compare() {
				at := fmt.Sprintf("%s, two-sided %v, %s, d′ %v", n.Method.Key, n.TwoSided, goal, d)
				switch {
				case goal != GoalDifference && !n.Method.ShowsSimilarity(n.TwoSided):
					continue
				case n.Beyond == n.Found:
					t.Errorf("%s: beyond %v, found %v", at, n.Beyond, n.Found)
				case n.Found:
					within++
					if n.First > LargestCompared || !reach(c, n, n.First) {
						t.Errorf("%s: %d is given, and does not do", at, n.First)
					}
				default:
					beyond++
					// Power is a saw of short teeth: what does for a smaller panel does near
					// the largest one as well.
					for seats := LargestCompared - 60; seats <= LargestCompared; seats++ {
						if reach(c, n, seats) {
							t.Errorf("%s: said to need more than %d, and %d do", at, LargestCompared, seats)
							break
						}
					}
				}
			}
		}
	}
	if beyond < 20 || within < 20 {
		t.Errorf("%d beyond and %d within", beyond, within)
	}
}

func BenchmarkCompareSmallDifference(b *testing.B) {
	c := Comparison{DPrime: 0.15, Goal: GoalBoth, Alpha: 0.05, Beta: 0.05, Power: 0.95, Serving: UsualPlan().Serving}
	for b.Loop() {
		c.Compare()
	}
}
