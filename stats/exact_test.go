package stats

import "math/big"

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

func newExactBinomial(n int, num, den int64) exactBinomial {
	e := exactBinomial{n: n, upper: make([]*big.Int, n+2), total: power(den, n)}
	e.upper[n+1] = new(big.Int)
	for x := n; x >= 0; x-- {
		weight := new(big.Int).Binomial(int64(n), int64(x))
		weight.Mul(weight, power(num, x)).Mul(weight, power(den-num, n-x))
		e.upper[x] = weight.Add(weight, e.upper[x+1])
	}
	return e
}

func power(base int64, exponent int) *big.Int {
	return new(big.Int).Exp(big.NewInt(base), big.NewInt(int64(exponent)), nil)
}

func (e exactBinomial) upperTail(x int) *big.Rat {
	return new(big.Rat).SetFrac(e.upper[x], e.total)
}

func (e exactBinomial) lowerTail(x int) *big.Rat {
	return new(big.Rat).SetFrac(new(big.Int).Sub(e.total, e.upper[x+1]), e.total)
}

func (e exactBinomial) pmf(x int) *big.Rat {
	return new(big.Rat).SetFrac(new(big.Int).Sub(e.upper[x], e.upper[x+1]), e.total)
}

// minCorrect is the smallest x with P(X ≥ x) ≤ alpha by trying each.
func (e exactBinomial) minCorrect(alpha *big.Rat) (x int, ok bool) {
	bound := new(big.Int).Mul(alpha.Num(), e.total)
	for x := 0; x <= e.n; x++ {
		if new(big.Int).Mul(e.upper[x], alpha.Denom()).Cmp(bound) <= 0 {
			return x, true
		}
	}
	return 0, false
}
