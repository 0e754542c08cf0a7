package stats

import (
	"math"
	"testing"
)

// No panel that reaches both risks has fewer answers than the bound, computed
// panel by panel without it, and the bound is no empty one.
func TestFewestAnswersIsBelowEveryPanel(t *testing.T) {
	for _, chance := range []float64{1.0 / 3, 0.5} {
		for _, pd := range []float64{0.1, 0.2, 0.3, 0.5, 0.8} {
			for _, risks := range [][2]float64{{0.05, 0.05}, {0.05, 0.2}, {0.2, 0.05}, {0.01, 0.01}, {0.4, 0.4}} {
				alpha, beta, pc := risks[0], risks[1], PcFromPd(pd, chance)
				fewest := FewestAnswers(chance, alpha, beta, pc)
				n := 1
				for DifferencePanel(n, chance, alpha, pc, OneSided).Power < 1-beta && SimilarityPanel(n, chance, beta, pc).Power < 1-alpha {
					n++
				}
				if float64(n) < fewest {
					t.Errorf("chance %v, pd %v, %v: %d do, and the bound is %v", chance, pd, risks, n, fewest)
				}
				if n > 50 && fewest < float64(n)/4 {
					t.Errorf("chance %v, pd %v, %v: the bound %v is far below %d", chance, pd, risks, fewest, n)
				}
			}
		}
	}
	if x := FewestAnswers(0.5, 0.6, 0.5, 0.7); x != 0 {
		t.Errorf("risks that ask for nothing: %v", x)
	}
	if x := FewestAnswers(0.5, 0.05, 0.2, 0.5); !math.IsInf(x, 1) {
		t.Errorf("nothing to find: %v", x)
	}
}
