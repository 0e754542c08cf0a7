package stats

import (
	"fmt"
	"math"
)

// PMF returns P(X = x) for X ~ Bin(n, p):
//
//	C(n,x) p^x (1-p)^(n-x)
//
// Its relative error stays below 1e-12 for n up to 10 000 wherever the
// probability is a normal float64 (above 2.3e-308), and below 1e-13 where it is
// above 1e-10 and n up to 200. Smaller ones fade to 0, which [LogPMF] still
// tells apart. A p between 0 and 2.3e-308 is too small for
// this promise, here and in the tails.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func PMF(n, x int, p float64) float64 {
	return math.Exp(LogPMF(n, x, p))
}

// LogPMF returns the natural logarithm of P(X = x) for X ~ Bin(n, p), -Inf
// where that is 0. Its error is below 1e-12 absolutely or 1e-14 relatively,
// whichever is more, for n up to 10 000.
//
// The saddle-point form keeps the large factorials from cancelling (C. Loader,
// Fast and accurate computation of binomial probabilities, 2000; from memory):
//
//	ln P = δ(n) - δ(x) - δ(n-x) - D(x,np) - D(n-x,n(1-p)) + ½ ln(n/(2π x(n-x)))
//
// with δ the error of Stirling's formula and D(x,m) = x ln(x/m) + m - x.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func LogPMF(n, x int, p float64) float64 {
	checkCount(n, x)
	checkProbability("p", p)
	if p == 0 || p == 1 {
		if (x == 0 && p == 0) || (x == n && p == 1) {
			return 0
		}
		return math.Inf(-1)
	}
	size := float64(n)
	switch x {
	case 0:
		return size * math.Log1p(-p)
	case n:
		return size * math.Log(p)
	}
	right, wrong := float64(x), float64(n-x)
	return stirlingError(n) - stirlingError(x) - stirlingError(n-x) -
		deviance(right, size, p) - deviance(wrong, size, 1-p) +
		0.5*math.Log(size/(2*math.Pi*right*wrong))
}

// UpperTail returns P(X ≥ x) for X ~ Bin(n, p), x included. With p the chance
// of a guess to be right it is the p-value of x correct answers. Its relative
// error is that of [PMF].
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func UpperTail(n, x int, p float64) float64 {
	checkCount(n, x)
	checkProbability("p", p)
	switch {
	case x == 0:
		return 1
	case float64(x) > float64(n)*p:
		return math.Exp(logUpperSum(n, x, p))
	}
	return 1 - math.Exp(logLowerSum(n, x-1, p))
}

// LogUpperTail returns the natural logarithm of P(X ≥ x), -Inf where that is
// 0. It tells tails apart that are too small for a float64. Its error is that
// of [LogPMF]; close to P = 1 it is relative, not absolute.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func LogUpperTail(n, x int, p float64) float64 {
	checkCount(n, x)
	checkProbability("p", p)
	switch {
	case x == 0:
		return 0
	case float64(x) > float64(n)*p:
		return logUpperSum(n, x, p)
	}
	return logComplement(logLowerSum(n, x-1, p))
}

// LowerTail returns P(X ≤ x) for X ~ Bin(n, p), x included. Its relative error
// is that of [PMF].
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func LowerTail(n, x int, p float64) float64 {
	checkCount(n, x)
	checkProbability("p", p)
	switch {
	case x == n:
		return 1
	case float64(x) < float64(n)*p:
		return math.Exp(logLowerSum(n, x, p))
	}
	return 1 - math.Exp(logUpperSum(n, x+1, p))
}

// LogLowerTail returns the natural logarithm of P(X ≤ x), -Inf where that is
// 0, with the error of [LogUpperTail].
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func LogLowerTail(n, x int, p float64) float64 {
	checkCount(n, x)
	checkProbability("p", p)
	switch {
	case x == n:
		return 0
	case float64(x) < float64(n)*p:
		return logLowerSum(n, x, p)
	}
	return logComplement(logUpperSum(n, x+1, p))
}

// logUpperSum returns ln P(X ≥ x) for x above the mean n p, where the terms fall
// from x on.
func logUpperSum(n, x int, p float64) float64 {
	return LogPMF(n, x, p) + math.Log(fallingSum(n, x, p/(1-p)))
}

// logLowerSum returns ln P(X ≤ x) for x below the mean n p: the upper tail of
// the n - x wrong answers.
func logLowerSum(n, x int, p float64) float64 {
	return LogPMF(n, x, p) + math.Log(fallingSum(n, n-x, (1-p)/p))
}

// fallingSum returns Σ_{k≥x} P(X = k) / P(X = x) from the ratio of neighbours,
// odds·(n-k)/(k+1), which must be below 1 at x.
func fallingSum(n, x int, odds float64) float64 {
	term, sum := 1.0, 1.0
	for k := x; k < n; k++ {
		term *= float64(n-k) / float64(k+1) * odds
		sum += term
		if term < sum*1e-17 {
			break
		}
	}
	return sum
}

// logComplement returns ln(1 - e^logP), and 0 rather than -0 where e^logP is
// too small for a float64.
func logComplement(logP float64) float64 {
	p := math.Exp(logP)
	if p == 0 {
		return 0
	}
	return math.Log1p(-p)
}

// deviance returns x ln(x/m) + m - x with m = size·p, which is never negative
// and 0 at x = m. Near m the logarithm cancels against m - x, so the series in
// v = (x-m)/(x+m) stands in for it.
func deviance(x, size, p float64) float64 {
	m := size * p
	if math.Abs(x-m) < 0.1*(x+m) {
		v := (x - m) / (x + m)
		sum, power := (x-m)*v, 2*x*v
		for j := 3.0; ; j += 2 {
			power *= v * v
			next := sum + power/j
			if next == sum {
				return sum
			}
			sum = next
		}
	}
	return x*math.Log(x/m) + m - x
}

// stirlingErrors holds ln n! - ((n+½) ln n - n + ½ ln 2π) for n = 1 to 15,
// computed from exact factorials with 60 decimal digits.
var stirlingErrors = [...]float64{
	1:  0.0810614667953272582196,
	2:  0.0413406959554092940938,
	3:  0.0276779256849983391487,
	4:  0.0207906721037650931115,
	5:  0.0166446911898211921631,
	6:  0.0138761288230707479987,
	7:  0.0118967099458917700950,
	8:  0.0104112652619720964974,
	9:  0.0092554621827127329177,
	10: 0.0083305634333628712564,
	11: 0.0075736754879518407949,
	12: 0.0069428401072095298656,
	13: 0.0064089941880042070684,
	14: 0.0059513701127588477356,
	15: 0.0055547335519628013710,
}

// stirlingError returns ln n! minus Stirling's formula, n ≥ 1. Beyond the table
// six terms of the asymptotic series leave less than 2e-18 (the coefficients
// are B(2k)/(2k(2k-1)) with the Bernoulli numbers; NIST Digital Library of
// Mathematical Functions 5.11.1, from memory).
func stirlingError(n int) float64 {
	if n < len(stirlingErrors) {
		return stirlingErrors[n]
	}
	r := 1 / float64(n)
	s := r * r
	return r * (1.0/12 - s*(1.0/360-s*(1.0/1260-s*(1.0/1680-s*(1.0/1188-s*691.0/360360)))))
}

func checkCount(n, x int) {
	if n < 1 || x < 0 || x > n {
		panic(fmt.Sprintf("stats: %d correct of %d", x, n))
	}
}

func checkSize(n int) {
	if n < 1 {
		panic(fmt.Sprintf("stats: %d evaluations", n))
	}
}

func checkProbability(name string, p float64) {
	if !(p >= 0 && p <= 1) { // NaN fails too
		panic(fmt.Sprintf("stats: %s = %v is not a probability", name, p))
	}
}
