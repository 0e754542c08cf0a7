package stats

import (
	"math"
	"math/big"
	"sync"
)

// exactBinomial is Bin(n, num/den) in whole numbers: upper[x] is P(X ≥ x) times
// total = den^n, for x from 0 to n+1. It shares nothing with the code it
// checks.
type exactBinomial struct {
	n     int
	upper []*big.Int
	total *big.Int
}

// guesses are the chances of the tests, and 1/10 for a smaller one.
var guesses = []struct{ num, den int64 }{{1, 3}, {1, 2}, {1, 10}}

// exactSizes is the number of panels, from 1 on, that are tried exactly.
const exactSizes = 200

type key struct {
	n        int
	num, den int64
}

// exactBinomials returns the distributions of the guesses for all panels up to
// exactSizes.
var exactBinomials = sync.OnceValue(func() map[key]exactBinomial {
	all := map[key]exactBinomial{}
	for _, g := range guesses {
		for n := 1; n <= exactSizes; n++ {
			all[key{n, g.num, g.den}] = newExactBinomial(n, g.num, g.den)
		}
	}
	return all
})

// newExactBinomial adds up C(n,x) num^x (den-num)^(n-x) from x = n downwards,
// each from the one before:
//
//	weight(x-1) = weight(x) · x (den-num) / ((n-x+1) num)
func newExactBinomial(n int, num, den int64) exactBinomial {
	e := exactBinomial{n: n, upper: make([]*big.Int, n+2), total: power(den, n)}
	e.upper[n+1] = new(big.Int)
	weight := power(num, n)
	for x := n; x >= 0; x-- {
		e.upper[x] = new(big.Int).Add(weight, e.upper[x+1])
		weight.Mul(weight, big.NewInt(int64(x)*(den-num)))
		weight.Quo(weight, big.NewInt(int64(n-x+1)*num))
	}
	return e
}

func power(base int64, exponent int) *big.Int {
	return new(big.Int).Exp(big.NewInt(base), big.NewInt(int64(exponent)), nil)
}

// lower is P(X ≤ x) times total.
func (e exactBinomial) lower(x int) *big.Int {
	return new(big.Int).Sub(e.total, e.upper[x+1])
}

func (e exactBinomial) upperTail(x int) float64 { return e.share(e.upper[x]) }
func (e exactBinomial) lowerTail(x int) float64 { return e.share(e.lower(x)) }

func (e exactBinomial) pmf(x int) float64 {
	return e.share(new(big.Int).Sub(e.upper[x], e.upper[x+1]))
}

// between is P(lo ≤ X ≤ hi).
func (e exactBinomial) between(lo, hi int) float64 {
	return e.share(new(big.Int).Sub(e.upper[lo], e.upper[hi+1]))
}

// upperMidP is half the sum of two neighbouring tails.
func (e exactBinomial) upperMidP(x int) float64 {
	return e.share(new(big.Int).Add(e.upper[x], e.upper[x+1])) / 2
}

// lowerMidP is the rest of upperMidP.
func (e exactBinomial) lowerMidP(x int) float64 {
	rest := new(big.Int).Lsh(e.total, 1)
	return e.share(rest.Sub(rest, e.upper[x]).Sub(rest, e.upper[x+1])) / 2
}

// share returns weight/total.
func (e exactBinomial) share(weight *big.Int) float64 {
	f, _ := e.quotient(weight).Float64()
	return f
}

// logShare returns ln(weight/total), -Inf at 0, also beyond what a float64
// holds, and with all its digits next to 0.
func (e exactBinomial) logShare(weight *big.Int) float64 {
	if weight.Sign() == 0 {
		return math.Inf(-1)
	}
	mantissa := new(big.Float)
	exponent := e.quotient(weight).MantExp(mantissa)
	m, _ := mantissa.Float64()
	if exponent < 0 {
		return math.Log(m) + float64(exponent)*math.Ln2
	}
	return math.Log1p(-e.share(new(big.Int).Sub(e.total, weight)))
}

func (e exactBinomial) quotient(weight *big.Int) *big.Float {
	const digits = 128 // binary
	w, t := new(big.Float).SetPrec(digits).SetInt(weight), new(big.Float).SetPrec(digits).SetInt(e.total)
	return w.Quo(w, t)
}

// minCorrect is the smallest x with P(X ≥ x) ≤ alpha by trying each.
func (e exactBinomial) minCorrect(alpha *big.Rat) (x int, ok bool) {
	for x := 0; x <= e.n; x++ {
		if e.atMost(e.upper[x], alpha) {
			return x, true
		}
	}
	return 0, false
}

// maxCorrect is the largest x with P(X ≤ x) ≤ beta by trying each, -1 where
// there is none.
func (e exactBinomial) maxCorrect(beta *big.Rat) int {
	x := -1
	for x < e.n && e.atMost(e.lower(x+1), beta) {
		x++
	}
	return x
}

// atMost tells whether weight/total ≤ risk.
func (e exactBinomial) atMost(weight *big.Int, risk *big.Rat) bool {
	bound := new(big.Int).Mul(risk.Num(), e.total)
	return new(big.Int).Mul(weight, risk.Denom()).Cmp(bound) <= 0
}
