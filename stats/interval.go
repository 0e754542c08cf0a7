package stats

import (
	"fmt"
	"math"
)

// Interval is a two-sided confidence interval of pc, pd or d′: the range of
// values in keeping with the data. Confidence is the stated one, such as 0.95.
// How often an interval covers is said where it is made: the exact ones at
// least that often, the approximate ones (Wilson, mid-p, profile likelihood)
// about as often.
type Interval struct {
	Lower, Upper, Confidence float64
}

// ClopperPearson returns the exact two-sided interval of pc for x correct of n.
// With a = (1 - confidence)/2 its limits solve
//
//	P(X ≥ x | Lower) = a    P(X ≤ x | Upper) = a
//
// except that Lower is 0 at x = 0 and Upper 1 at x = n (C. J. Clopper, E. S.
// Pearson, Biometrika 26, 1934; from memory). The relative error of a limit is
// below 1e-13 for n up to 1000, and the confidence may come as close to 1 as a
// float64 can: the tails are inverted by halving, not by a library's inverse
// beta function, which goes astray beyond 0.9999.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 < confidence < 1.
func ClopperPearson(x, n int, confidence float64) Interval {
	checkCount(n, x)
	if !(confidence > 0 && confidence < 1) {
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	a := (1 - confidence) / 2
	seen := float64(x) / float64(n)
	limits := Interval{Lower: 0, Upper: 1, Confidence: confidence}
	switch x {
	case 0: // (1 - Upper)^n = a
		limits.Upper = -math.Expm1(math.Log(a) / float64(n))
		return limits
	case n: // Lower^n = a
		limits.Lower = math.Exp(math.Log(a) / float64(n))
		return limits
	}
	limits.Lower = bisect(0, seen, func(pc float64) bool { return UpperTail(n, x, pc) >= a })
	limits.Upper = bisect(seen, 1, func(pc float64) bool { return LowerTail(n, x, pc) <= a })
	return limits
}

// PdInterval returns the interval of the proportion of discriminators: the
// [ClopperPearson] limits of pc mapped by [PdFromPc] and cut at 0. Both limits
// are 0 where even the upper one lies below chance.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n, 0 ≤ chance < 1 and 0 < confidence < 1.
func PdInterval(x, n int, chance, confidence float64) Interval {
	limits := ClopperPearson(x, n, confidence)
	limits.Lower = max(0, PdFromPc(limits.Lower, chance))
	limits.Upper = max(0, PdFromPc(limits.Upper, chance))
	return limits
}

// bisect returns the smallest float64 in (lo, hi] that is past, where past is
// false up to some point and true from there on; hi when none before it is.
func bisect(lo, hi float64, past func(float64) bool) float64 {
	for {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			return hi
		}
		if past(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
}
