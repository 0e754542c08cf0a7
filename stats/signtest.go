package stats

import "fmt"

// SignTest is the result of a sign test: of N differences that have a sign,
// Plus are positive and Minus negative. PGreater is the probability of Plus or
// more positive ones, PLess that of Plus or fewer, PValue is two-sided.
type SignTest struct {
	Plus, Minus, Ties int
	N                 int
	PValue            float64
	PGreater, PLess   float64
	Warnings          []Warning
}

// Sign tests whether differences are as often positive as negative:
//
//	PGreater = P(X ≥ plus)    PLess = P(X ≤ plus)    X ~ Bin(plus+minus, 1/2)
//	PValue = min(1, 2 P(X ≥ max(plus, minus)))
//
// Ties, differences of 0, are reported but left out of the test (common
// practice, from memory). The test is exact and valid, with the relative error
// of [UpperTail]. Where no difference has a sign every p-value is 1.
//
// It panics unless no count is negative.
func Sign(plus, minus, ties int) SignTest {
	if plus < 0 || minus < 0 || ties < 0 {
		panic(fmt.Sprintf("stats: %d plus, %d minus, %d ties", plus, minus, ties))
	}
	out := SignTest{Plus: plus, Minus: minus, Ties: ties, N: plus + minus, PValue: 1, PGreater: 1, PLess: 1}
	if out.N == 0 {
		out.Warnings = append(out.Warnings, Warning{NothingToTest, "No difference has a sign: there is nothing to test."})
		return out
	}
	out.PGreater = UpperTail(out.N, plus, 0.5)
	out.PLess = LowerTail(out.N, plus, 0.5)
	out.PValue = TwoSidedP(out.N, plus)
	if TwoSidedP(out.N, 0) > usualLevel {
		out.Warnings = append(out.Warnings, Warning{NothingSignificant, fmt.Sprintf(
			"No result of %s with a sign can be significant at %v, two-sided.", answers(out.N), usualLevel)})
	}
	return out
}

// SignByMajority is the sign test of assessors who compared the same two
// products several times. Correct counts how often an assessor picked the one
// product of N; who picked it more often than not is positive, who picked the
// other one more often negative, and who picked both equally often is left out
// as a tie:
//
//	plus = #(2 Correct > N)    minus = #(2 Correct < N)
//
// Sets of one assessor are not independent answers, so they give one sign
// together. Without a difference either sign is as likely as the other, however
// alike the answers of one assessor are and however many sets each has, and the
// p-values of [Sign] are exact and valid. What is lost is how large a majority
// was. (Common practice, no source.)
//
// It panics on an impossible count. Of no assessor at all every p-value is 1.
func SignByMajority(assessors []Replicates) SignTest {
	var plus, minus, ties int
	for _, a := range assessors {
		checkCount(a.N, a.Correct)
		switch other := a.N - a.Correct; {
		case a.Correct > other:
			plus++
		case a.Correct < other:
			minus++
		default:
			ties++
		}
	}
	return Sign(plus, minus, ties)
}
