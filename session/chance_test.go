package session

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// uniform fails where counts that should be equally likely are too far from it:
// Pearson's chi-square test, p by gonum's ChiSquared. Seeds are fixed, so a
// right drawing fails never, and a biased one always.
func uniform(t *testing.T, what string, counts []int) {
	t.Helper()
	n := 0
	for _, c := range counts {
		n += c
	}
	expected := float64(n) / float64(len(counts))
	if expected < 20 {
		t.Fatalf("%s: %d draws are too few for %d cells", what, n, len(counts))
	}
	x2 := 0.0
	for _, c := range counts {
		d := float64(c) - expected
		x2 += d * d / expected
	}
	if p := (distuv.ChiSquared{K: float64(len(counts) - 1)}).Survival(x2); p < 1e-6 {
		t.Errorf("%s: not uniform: χ² = %.1f in %d cells, p = %.2g", what, x2, len(counts), p)
	}
}

func indexOf(orders []string, order string) int {
	for i, o := range orders {
		if o == order {
			return i
		}
	}
	return -1
}

// rank numbers the permutations of the six triangle orders, 0 to 719.
func rank(block []int) int {
	r := 0
	for i, a := range block {
		smaller := 0
		for _, b := range block[i+1:] {
			if b < a {
				smaller++
			}
		}
		r = r*(len(block)-i) + smaller
	}
	return r
}

func TestOrdersAreUniform(t *testing.T) {
	pair, tri := planOf(2, pairOn("body")), planOf(8, triangles(2))
	var firstPair, disc [2]int
	var first, cut [6]int
	blocks := make([]int, 720)
	var sets [36]int // set 1 by set 2 of one seat
	var next [36]int // first of a block by first of the next
	var discBySet, single [2 * 2]int
	for n := range uint64(14400) {
		l := Draw(pair, seedOf(n))
		firstPair[indexOf(PairedComparison.Orders, l.Seats[0][0].Order)]++
		if l.Seats[0][0].Order == l.Seats[1][0].Order {
			t.Fatal("a block of two holds an order twice")
		}
		l = Draw(tri, seedOf(n))
		at := func(seat, set int) int { return indexOf(Triangle.Orders, l.Seats[seat][set].Order) }
		first[at(0, 0)]++
		cut[at(6, 1)]++
		var block []int
		for seat := range 6 {
			block = append(block, at(seat, 0))
		}
		blocks[rank(block)]++
		sets[6*at(3, 0)+at(3, 1)]++
		next[6*at(0, 0)+at(6, 0)]++
		single[2*(at(5, 0)/3)+at(5, 1)/3]++ // orders 0 to 2 have one A, 3 to 5 one B
		d := 0
		if l.Disc == "B" {
			d = 1
		}
		disc[d]++
		discBySet[2*d+at(0, 0)/3]++
	}
	uniform(t, "first pair", firstPair[:])
	uniform(t, "first triangle", first[:])
	uniform(t, "first triangle of a cut block", cut[:])
	uniform(t, "permutations of a block", blocks)
	uniform(t, "set 1 by set 2 of a seat", sets[:])
	uniform(t, "first of a block by first of the next", next[:])
	uniform(t, "odd lot in set 1 by odd lot in set 2 of a seat", single[:])
	uniform(t, "disc", disc[:])
	uniform(t, "disc by odd lot of the first set", discBySet[:])
}

// The codes of a set are drawn without swaps of neighbours, so a code with
// fewer such partners is likelier by up to half a percent: too little to be
// seen here, where a shuffle's usual faults are plain.
func TestCodesAreUniform(t *testing.T) {
	place := map[Code]int{}
	for i, c := range usableCodes {
		place[c] = i
	}
	p := planOf(2, triangles(1))
	first, last := make([]int, len(usableCodes)), make([]int, len(usableCodes))
	for n := range uint64(16000) {
		l := Draw(p, seedOf(n))
		first[place[l.Seats[0][0].Takes[0][0]]]++
		last[place[l.Seats[1][0].Takes[1][2]]]++
	}
	uniform(t, "first code", first)
	uniform(t, "last replacement code", last)
}

func TestBelow(t *testing.T) {
	s := stream{rand.NewChaCha8(seedOf(4))}
	for _, n := range []int{2, 3, 6, 7, 27, 775} {
		counts := make([]int, n)
		for range 60 * n * 10 {
			counts[s.below(n)]++
		}
		uniform(t, "below", counts)
	}
	if got := s.below(1); got != 0 {
		t.Errorf("below(1) = %d", got)
	}
}

// With n = 3·2^61 each result has two or three of the 2^64 raw numbers, in a
// pattern of eight: without the rejection, results that leave 2 on division by
// three would come in two of eight draws.
func TestBelowRejectsTheUnevenRemainder(t *testing.T) {
	s := stream{rand.NewChaCha8(seedOf(5))}
	var left [3]int
	for range 30000 {
		left[s.below(3<<61)%3]++
	}
	uniform(t, "remainders", left[:])
}

// Orders, codes and doors come from streams of their own.
func TestStreamsDiffer(t *testing.T) {
	seen := map[uint64]string{}
	for _, name := range []string{"orders", "codes", "doors"} {
		s := newStream(seedOf(6), name)
		for range 100 {
			x := s.raw.Uint64()
			if other, ok := seen[x]; ok {
				t.Fatalf("streams %s and %s share %d", name, other, x)
			}
			seen[x] = name
		}
	}
}

// ordersOf draws the orders of a plan without its codes, which takes a hundredth
// of the time. [TestOrdersAreDrawnAlone] holds that they are those of Draw.
func ordersOf(p Plan, seed Seed) Layout {
	l := Layout{Seats: make([][]DealtSet, p.Seats)}
	l.drawOrders(p, newStream(seed, "orders"))
	return l
}

func TestOrdersAreDrawnAlone(t *testing.T) {
	r := rand.New(chance(6))
	for range 50 {
		p, seed := somePlan(r), seedOf(r.Uint64())
		whole, alone := Draw(p, seed), ordersOf(p, seed)
		for seat, sets := range whole.Seats {
			for i, set := range sets {
				if alone.Seats[seat][i].Order != set.Order || alone.Disc != whole.Disc {
					t.Fatalf("seat %d, set %d: %s with codes, %s without", seat+1, i+1, set.Order, alone.Seats[seat][i].Order)
				}
			}
		}
	}
}

// allowed is the number of layouts of one round that the rule allows: whole
// blocks in any arrangement, and of a cut block any that holds no order twice.
func allowed(p Plan, orders int) int {
	n := 1
	for _, seats := range p.FlightSizes() {
		for i := range seats {
			n *= orders - i%orders
		}
	}
	return n
}

// Each allowed layout is equally likely, for every method: whole blocks, cut
// ones, two blocks, several flights, several rounds.
func TestLayoutsAreUniform(t *testing.T) {
	tests := []TestPlan{constantDuoTrio()}
	for _, m := range Methods {
		tests = append(tests, testOf(m, GoalDifference, 1))
	}
	cases := map[string]int{}
	for _, test := range tests {
		for _, shape := range []struct {
			sets    int
			flights []int
		}{{1, []int{2}}, {1, []int{3}}, {1, []int{4}}, {1, []int{6}}, {2, []int{2}}, {2, []int{3}}, {1, []int{2, 2}}, {1, []int{3, 2}}, {1, []int{2, 2, 2}}} {
			test.Sets = shape.sets
			seats := 0
			for _, n := range shape.flights {
				seats += n
			}
			p := inFlights(planOf(seats, test), shape.flights...)
			want := 1
			for range shape.sets {
				want *= allowed(p, len(test.Orders()))
			}
			if want > 900 {
				continue
			}
			cases[test.Method+test.Reference]++
			counts := map[string]int{}
			for n := range uint64(25 * want) {
				layout := ""
				for _, sets := range ordersOf(p, seedOf(n+1_000_000)).Seats {
					for _, set := range sets {
						layout += set.Order + " "
					}
				}
				counts[layout]++
			}
			// A layout that never came counts as none.
			if len(counts) > want {
				t.Errorf("%s, flights %v, %d sets: %d layouts, allowed are %d", test.Method, shape.flights, shape.sets, len(counts), want)
				continue
			}
			all := make([]int, 0, want)
			for _, n := range counts {
				all = append(all, n)
			}
			uniform(t, fmt.Sprintf("%s %s, flights %v, %d sets", test.Method, test.Reference, shape.flights, shape.sets), append(all, make([]int, want-len(all))...))
		}
	}
	for of, n := range cases {
		if n < 3 {
			t.Errorf("%s: %d cases", of, n)
		}
	}
	if len(cases) != len(Methods)+1 {
		t.Errorf("methods tried: %v", cases)
	}
}

// Nothing is balanced within the sets of one seat: which order a seat has in a
// round tells nothing of its next one, nor of another test's, whatever the seat
// and the flight. Nor does it tell what the seat in the same place of the next
// flight has.
func TestSetsOfASeatAreIndependent(t *testing.T) {
	tests := []TestPlan{constantDuoTrio()}
	for _, m := range Methods {
		tests = append(tests, testOf(m, GoalDifference, 1))
	}
	for _, test := range tests {
		test.Sets = 3
		orders := test.Orders()
		n := len(orders)
		p := inFlights(planOf(2*(n+1), test, triangles(1)), n+1, n+1)
		after := map[string][]int{}
		cell := func(name string, cells, at int) {
			if after[name] == nil {
				after[name] = make([]int, cells)
			}
			after[name][at]++
		}
		for seed := range uint64(60 * n * n) {
			l := ordersOf(p, seedOf(seed+7_000_000))
			at := func(seat, set int) int { return indexOf(orders, l.Seats[seat][set].Order) }
			tri := func(seat int) int { return indexOf(Triangle.Orders, l.Seats[seat][3].Order) }
			cell("rounds 1 and 2 of the first seat", n*n, n*at(0, 0)+at(0, 1))
			cell("rounds 2 and 3 of the last seat of a block", n*n, n*at(n-1, 1)+at(n-1, 2))
			cell("rounds 1 and 3 of a cut block's seat", n*n, n*at(n, 0)+at(n, 2))
			cell("round 1 of the first seat of each flight", n*n, n*at(0, 0)+at(n+1, 0))
			cell("rounds 1 and 2 of a seat of the second flight", n*n, n*at(n+2, 0)+at(n+2, 1))
			cell("a set and the next test's", 6*n, n*tri(1)+at(1, 2))
			if n == 2 {
				cell("all three rounds", 8, 4*at(1, 0)+2*at(1, 1)+at(1, 2))
			}
		}
		if len(after) < 6 {
			t.Fatalf("%d tables", len(after))
		}
		for name, counts := range after {
			uniform(t, test.Method+" "+test.Reference+": "+name, counts)
		}
	}
}
