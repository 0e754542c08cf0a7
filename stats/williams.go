package stats

import "fmt"

// CarryOverOrders returns serving orders of so many samples, numbered from 0,
// that are balanced for position and for first-order carry-over: every sample
// stands equally often at every place, and every sample comes right after every
// other equally often. A row is one assessor's order. There are as many rows as
// samples where that number is even, one square in which each happens once, and
// twice as many where it is odd, two squares one after the other in which each
// happens twice; for odd numbers a single square need not exist.
//
// The squares are cyclic. With all numbers modulo t, the first row swings out
// from 0,
//
//	0, 1, t-1, 2, t-2, 3, …
//
// so its steps are +1, -2, +3, -4, …, ±(t-1), and row i adds i to every place.
// Thus every place takes every number once; and a pair with difference d comes
// as often as d is among the steps, once in some row for every first number. For
// even t the odd steps are 1, 3, …, t-1 and the even ones t-2, t-4, …, 2, so
// every difference comes once. For odd t the steps -2, -4, … are the odd numbers
// t-2, t-4, …, and the odd differences come twice, the even ones never; the
// mirrored square, read from the last place to the first, has the steps negated,
// which are the even ones, twice. (Balanced squares of this kind: E. J. Williams,
// Austral. J. Sci. Res. A 2, 1949; cited on a web page.)
//
// Balance says nothing about chance: who draws which row, and which product has
// which number, is for the caller to draw. It holds for whole squares; a panel
// that is no multiple of the number of rows is balanced as nearly as the rows
// that are left over allow. Carry-over from two places back is not balanced.
//
// The orders are the same in every run. The result is exact.
//
// It panics unless samples ≥ 2.
func CarryOverOrders(samples int) [][]int {
	if samples < 2 {
		panic(fmt.Sprintf("stats: serving orders of %d samples", samples))
	}
	swing := make([]int, samples)
	for place := range swing {
		if place%2 == 1 {
			swing[place] = place/2 + 1
		} else if place > 0 {
			swing[place] = samples - place/2
		}
	}
	var rows, mirrored [][]int
	for i := range samples {
		row, back := make([]int, samples), make([]int, samples)
		for place, step := range swing {
			row[place] = (step + i) % samples
			back[samples-1-place] = row[place]
		}
		rows, mirrored = append(rows, row), append(mirrored, back)
	}
	if samples%2 == 0 {
		return rows
	}
	return append(rows, mirrored...)
}
