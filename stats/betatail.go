package stats

import "gonum.org/v1/gonum/mathext"

// betaTail returns, for x, y ≥ 0 and not both 0, the regularized incomplete beta
// function of the share of y,
//
//	I_{y/(x+y)}(a, b) = 1 - I_{x/(x+y)}(b, a)
//
// A large x gives a small tail, which the left side has with all its digits. A
// small x would be lost beside y there; then the tail is above 0.3 and the right
// side has them.
func betaTail(x, y, a, b float64) float64 {
	if x*a > y*b {
		return mathext.RegIncBeta(a, b, y/(x+y))
	}
	return 1 - mathext.RegIncBeta(b, a, x/(x+y))
}
