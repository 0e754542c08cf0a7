package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// LimitMethod names how confidence limits are made.
type LimitMethod string

// With a the risk on one side, which is 1 - confidence for one-sided limits
// and half of that for two-sided ones, z the normal quantile with Φ(-z) = a,
// and p̂ = x/n, the limits of pc are
//
//	Clopper-Pearson       P(X ≥ x | lower) = a, P(X ≤ x | upper) = a
//	mid-p                 P(X > x | lower) + ½ P(X = x | lower) = a, upper likewise
//	Wilson                (p̂ + z²/2n ± z √(p̂(1-p̂)/n + z²/4n²)) / (1 + z²/n)
//	normal approximation  p̂ ± z √(p̂(1-p̂)/n)
//
// Clopper-Pearson and mid-p limits are 0 at x = 0 and 1 at x = n, below and
// above; Wilson's come to that by themselves and have no correction for
// continuity.
//
// Only Clopper-Pearson limits hold their confidence whatever pc is. The others
// are near it on average. Two-sided at 0.95, over n = 5, 10, 20, 30, 60 and 100
// and pc from 0.005 to 0.995 in steps of 0.005, the smallest probability of
// covering pc is 0.9514 for Clopper-Pearson, 0.9212 for mid-p, 0.8368 for
// Wilson and 0.0248 for the normal approximation; for one-sided limits at 0.95
// it is 0.9500, 0.9008, 0.7944 and 0.0248.
//
// Sources, from memory: C. J. Clopper and E. S. Pearson, 1934; E. B. Wilson, 1927;
// mid-p after H. O. Lancaster, 1961; R. G. Newcombe, Statistics in Medicine 17,
// 1998, compares them; the normal approximation as ISO 4120 and ISO 5495 print
// it for pd.
const (
	ClopperPearsonLimits LimitMethod = "Clopper-Pearson"
	MidPLimits           LimitMethod = "mid-p"
	WilsonLimits         LimitMethod = "Wilson"
	NormalLimits         LimitMethod = "normal approximation"
)

// Limits are confidence limits of pc or of pd for X correct of N, with the
// terms on which they were made.
//
// Two-sided limits enclose the value with the Confidence. One-sided limits hold
// with the Confidence each by itself: use the lower or the upper one, or take
// both as a two-sided interval at 2·Confidence - 1.
type Limits struct {
	N, X                   int
	Estimate, Lower, Upper float64
	Confidence             float64
	Sided                  Sided
	Method                 LimitMethod
	Warnings               []Warning
}

// Interval returns the limits as a two-sided [Interval]. What it covers is that
// of the Method.
func (l Limits) Interval() Interval {
	confidence := l.Confidence
	if l.Sided == OneSided {
		confidence = 2*confidence - 1
	}
	return Interval{Lower: l.Lower, Upper: l.Upper, Confidence: confidence}
}

// What may be wrong with [Limits]: all or no answers correct, fewer correct than
// by guessing, an approximation where it is poor.
const (
	EdgeCount   WarningKind = "edge-count"
	BelowChance WarningKind = "below-chance"
	RoughLimits WarningKind = "rough-limits"
)

// PcLimits returns the limits of pc for x correct of n. Their relative error is
// below 1e-13 for n up to 500; that of limits near 0 of the normal
// approximation, which are not cut, is absolute.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n, 0 < confidence < 1 (above 1/2 when
// one-sided), and method and sided are among their constants.
func PcLimits(x, n int, confidence float64, method LimitMethod, sided Sided) Limits {
	checkCount(n, x)
	l := Limits{
		N: n, X: x, Estimate: float64(x) / float64(n),
		Confidence: confidence, Sided: sided, Method: method,
	}
	a := sideRisk(confidence, sided)
	switch method {
	case ClopperPearsonLimits:
		l.Lower, l.Upper = lowerLimit(x, n, a), upperLimit(x, n, a)
	case MidPLimits:
		l.Lower, l.Upper = midPLower(x, n, a), midPUpper(x, n, a)
	case WilsonLimits:
		l.Lower, l.Upper = wilson(x, n, normalQuantile(a))
	case NormalLimits:
		reach := normalQuantile(a) * math.Sqrt(l.Estimate*(1-l.Estimate)/float64(n))
		l.Lower, l.Upper = l.Estimate-reach, l.Estimate+reach
	default:
		panic(fmt.Sprintf("stats: limits by %q", string(method)))
	}
	l.Warnings = l.cautions()
	return l
}

// PdLimits returns the limits of the proportion of discriminators: estimate and
// limits of [PcLimits] mapped by [PdFromPc] and cut at 0. All are 0 where even
// the upper limit of pc lies below chance. A warning tells when fewer answers
// were correct than guessing leads to expect, so that a cut estimate does not
// pass for a measured 0. Near 0 the error is 1e-15 absolutely.
//
// One-sided, with confidence 1 - beta, the upper Clopper-Pearson limit is at
// most pd exactly where x is at most the [MaxCorrect] of beta and pd.
//
// It panics where [PcLimits] does, unless 0 ≤ chance < 1, and for
// [NormalLimits], which have a function of their own.
func PdLimits(x, n int, chance, confidence float64, method LimitMethod, sided Sided) Limits {
	checkChance(chance)
	if method == NormalLimits {
		panic("stats: the normal approximation for pd is PdLimitsNormal")
	}
	l := PcLimits(x, n, confidence, method, sided)
	for _, limit := range []*float64{&l.Estimate, &l.Lower, &l.Upper} {
		*limit = max(0, PdFromPc(*limit, chance))
	}
	l.Warnings = append(l.Warnings, adviceBelowChance(n, x, chance)...)
	return l
}

// NormalZ tells which normal quantile [PdLimitsNormal] uses.
type NormalZ string

const (
	ExactZ   NormalZ = "exact"   // such as 1.6448536…
	PrintedZ NormalZ = "printed" // in two decimals as the standards print it: 0.84, 1.28, 1.64, 2.33, 3.09
)

// PdLimitsNormal returns the limits of the proportion of discriminators by the
// normal approximation that ISO 4120 prints (for chance 1/3; from memory) and
// ISO 5495 (for chance 1/2; a note to its table A.3):
//
//	pd = (x/n - chance)/(1 - chance)    s = √((x/n)(1 - x/n)/n) / (1 - chance)
//	lower = pd - z s                    upper = pd + z s
//
// For the triangle that is 1.5 x/n - 0.5 ± 1.5 z √((n x - x²)/n³). As in print
// nothing is cut: pd and its limits may lie below 0 or above 1. They are an
// approximation, poor for few answers and without width at x = 0 and x = n,
// see [LimitMethod]; [PdLimits] has exact ones.
//
// The standards use it one-sided: the upper limit at confidence 1 - beta to
// show similarity, the lower one at 1 - alpha to show a difference. The
// absolute error is below 1e-14.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n, 0 ≤ chance < 1, 0 < confidence < 1 (above
// 1/2 when one-sided), and sided and z are among their constants.
func PdLimitsNormal(x, n int, chance, confidence float64, sided Sided, z NormalZ) Limits {
	checkCount(n, x)
	checkChance(chance)
	quantile := normalQuantile(sideRisk(confidence, sided))
	switch z {
	case ExactZ:
	case PrintedZ:
		quantile = math.Round(quantile*100) / 100
	default:
		panic(fmt.Sprintf("stats: normal quantile %q", string(z)))
	}
	pc := float64(x) / float64(n)
	s := math.Sqrt(pc*(1-pc)/float64(n)) / (1 - chance)
	pd := PdFromPc(pc, chance)
	l := Limits{
		N: n, X: x, Estimate: pd, Lower: pd - quantile*s, Upper: pd + quantile*s,
		Confidence: confidence, Sided: sided, Method: NormalLimits,
	}
	l.Warnings = append(l.cautions(), adviceBelowChance(n, x, chance)...)
	return l
}

// cautions says what the limits leave open because of their counts.
func (l Limits) cautions() []Warning {
	var all []Warning
	switch {
	case l.Method == NormalLimits && (l.X == 0 || l.X == l.N):
		all = append(all, Warning{RoughLimits, "The normal approximation gives limits without any width here; use exact limits."})
	case l.Method == NormalLimits && (l.N < 30 || min(l.X, l.N-l.X) < 5):
		all = append(all, Warning{RoughLimits, fmt.Sprintf("The normal approximation is rough for %d correct of %d; use exact limits.", l.X, l.N)})
	case l.X == l.N:
		all = append(all, Warning{EdgeCount, fmt.Sprintf("All of %s correct: nothing bounds the difference from above.", answers(l.N))})
	case l.X == 0:
		all = append(all, Warning{EdgeCount, fmt.Sprintf("None of %s correct: nothing bounds it from below.", answers(l.N))})
	}
	return all
}

// sideRisk returns the risk on one side.
func sideRisk(confidence float64, sided Sided) float64 {
	if !(confidence > 0 && confidence < 1) { // NaN fails too
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	switch sided {
	case TwoSided:
		return (1 - confidence) / 2
	case OneSided:
		if confidence <= 0.5 {
			panic(fmt.Sprintf("stats: one-sided confidence = %v is not above 1/2", confidence))
		}
		return 1 - confidence
	}
	panic(fmt.Sprintf("stats: sided %q", string(sided)))
}

// lowerLimit returns the pc at which P(X ≥ x) = a, 0 at x = 0.
func lowerLimit(x, n int, a float64) float64 {
	switch x {
	case 0:
		return 0
	case n:
		return math.Exp(math.Log(a) / float64(n))
	}
	return bisect(0, float64(x)/float64(n), func(pc float64) bool { return UpperTail(n, x, pc) >= a })
}

// upperLimit returns the pc at which P(X ≤ x) = a, 1 at x = n.
func upperLimit(x, n int, a float64) float64 {
	switch x {
	case 0:
		return -math.Expm1(math.Log(a) / float64(n))
	case n:
		return 1
	}
	return bisect(0, 1, func(pc float64) bool { return LowerTail(n, x, pc) <= a })
}

// midPLower returns the pc at which the upper mid-p value is a, 0 at x = 0.
func midPLower(x, n int, a float64) float64 {
	if x == 0 {
		return 0
	}
	return bisect(0, 1, func(pc float64) bool { return UpperTailMidP(n, x, pc) >= a })
}

// midPUpper returns the pc at which the lower mid-p value is a, 1 at x = n.
func midPUpper(x, n int, a float64) float64 {
	if x == n {
		return 1
	}
	return bisect(0, 1, func(pc float64) bool { return LowerTailMidP(n, x, pc) <= a })
}

// wilson returns Wilson's limits. The lower one is the quotient of the product
// of both, p̂²/(1 + z²/n), and the upper one, which loses no digits near 0.
func wilson(x, n int, z float64) (lower, upper float64) {
	upperOf := func(x int) float64 {
		size, p := float64(n), float64(x)/float64(n)
		return (p + z*z/(2*size) + z*math.Sqrt(p*float64(n-x)/size/size+z*z/(4*size*size))) / (1 + z*z/size)
	}
	lowerOf := func(x int) float64 {
		p := float64(x) / float64(n)
		return p * p / (1 + z*z/float64(n)) / upperOf(x)
	}
	if x == n {
		return lowerOf(x), 1
	}
	return lowerOf(x), upperOf(x)
}

// normalQuantile returns the z with Φ(-z) = a.
func normalQuantile(a float64) float64 {
	return -distuv.UnitNormal.Quantile(a)
}
