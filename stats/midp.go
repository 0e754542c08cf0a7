package stats

// The mid-p value counts the outcome itself half. It is smaller than the exact
// p-value, on average right, but not valid for every alpha: P(mid-p ≤ alpha)
// can exceed alpha. Over n = 1 to 200, chance 1/3, 1/2 and 1/10 and alpha 0.2,
// 0.1, 0.05, 0.01 and 0.001 the worst excess is
//
//	alpha         0.2     0.1     0.05    0.01    0.001
//	excess of P   0.1439  0.0900  0.0315  0.0078  0.00095
//	at chance     1/10    1/10    1/10    1/3     1/2
//	and n         4       2       5       6       9
//
// so it decides nothing here; it stands beside the exact value.

// UpperTailMidP returns the one-sided mid-p value of x correct of n:
//
//	P(X > x) + ½ P(X = x), X ~ Bin(n, p)
//
// (H. O. Lancaster, 1961; from memory). It and [LowerTailMidP] of the same x
// add up to 1. It exceeds alpha by as much as the table above tells, so it is
// not exact. Its relative error is that of [PMF]. The range is 0 to 1.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func UpperTailMidP(n, x int, p float64) float64 {
	at := PMF(n, x, p) / 2
	if x == n {
		return at
	}
	return at + UpperTail(n, x+1, p)
}

// LowerTailMidP returns P(X < x) + ½ P(X = x), X ~ Bin(n, p): the mid-p value
// on the side of few correct answers. What holds for [UpperTailMidP] holds
// here.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n and 0 ≤ p ≤ 1.
func LowerTailMidP(n, x int, p float64) float64 {
	at := PMF(n, x, p) / 2
	if x == 0 {
		return at
	}
	return at + LowerTail(n, x-1, p)
}

// TwoSidedMidP returns the two-sided mid-p value of a paired comparison in
// which x of n answers named one product, by the convention of [TwoSidedP], the
// doubled smaller tail:
//
//	2 (P(X > m) + ½ P(X = m)), m = max(x, n-x), X ~ Bin(n, 1/2)
//
// It is 1 at x = n/2. Like [UpperTailMidP] it is not exact: P(mid-p ≤ 0.05) is
// up to 0.0768, at n = 16, of all n up to 200.
//
// It panics unless n ≥ 1 and 0 ≤ x ≤ n.
func TwoSidedMidP(n, x int) float64 {
	checkCount(n, x)
	return min(1, 2*UpperTailMidP(n, max(x, n-x), 0.5))
}
