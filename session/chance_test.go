package session

import (
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
