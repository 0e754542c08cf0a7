package session

import "math"

// SizeIsPrinted reports whether the standards' table of the number of assessors
// holds the smallest number for a test: it is that of the triangle, one set each,
// for these risks and proportions (ISO 4120, ASTM E1885, from memory). Similarity
// has the numbers of a difference of the same two risks, since one count keeps
// both. All other numbers are made in the same way, but no table was seen to print
// them.
func SizeIsPrinted(m Method, sets int, alpha, beta, pd float64) bool {
	printed := func(x float64, all ...float64) bool {
		for _, p := range all {
			if math.Abs(x-p) < 1e-9 {
				return true
			}
		}
		return false
	}
	return m.Key == Triangle.Key && sets == 1 &&
		printed(alpha, 0.001, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4) &&
		printed(beta, 0.001, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5) &&
		printed(pd, 0.1, 0.2, 0.3, 0.4, 0.5)
}
