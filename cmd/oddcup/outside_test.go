package main

import (
	"context"
	"io"
	"log/slog"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"oddcup/cmd/oddcup/panel"
	"oddcup/session"
)

// TestByerAndAbrams plays the bitterness triangles of Byer and Abrams (1953)
// through the whole program as 50 seats: 25 of 50 picked the odd one, as
// reported in Hollander, Wolfe and Chicken, Nonparametric Statistical Methods,
// example 2.2. The wanted p is R 4.2.2's
//
//	binom.test(25, 50, 1/3, alternative = "greater")$p.value
//
// which prints 0.010826684448815994 with 17 digits.
func TestByerAndAbrams(t *testing.T) {
	const seats, right, want = 50, 25, 0.010826684448815994
	h, err := openHouse(t.Context(), houseOptions{
		data: filepath.Join(t.TempDir(), "triangles.oddcup"), console: "127.0.0.1:0", tasters: "127.0.0.1:0",
		log: slog.New(slog.NewTextHandler(io.Discard, nil)),
	})
	if err != nil {
		t.Fatal(err)
	}
	defer h.close()
	d := demo{h: h, seed: 1953, tasters: seats, sets: 1}
	// Who is right is fixed beforehand: the nose of each seat is told the odd cup.
	d.taste = func(seat int, thin map[int]bool) func(string, []int, *rand.Rand) (int, bool) {
		return func(_ string, codes []int, _ *rand.Rand) (int, bool) {
			odd := 0
			for i, c := range codes {
				if thin[c] != thin[codes[(i+1)%len(codes)]] && thin[c] != thin[codes[(i+2)%len(codes)]] {
					odd = i
				}
			}
			if seat <= right {
				return odd, false
			}
			return (odd + 1) % len(codes), true
		}
	}
	s, err := d.run(context.WithoutCancel(t.Context()))
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Compute()
	if err != nil {
		t.Fatal(err)
	}
	first := r.Tests[0]
	if first.N != seats || first.Correct != right {
		t.Fatalf("%d of %d right, want %d of %d", first.Correct, first.N, right, seats)
	}
	if math.Abs(first.P/want-1) > 1e-12 {
		t.Errorf("p = %.17g, R has %.17g", first.P, want)
	}
	if first.Outcome != session.Different || !r.Seal {
		t.Errorf("outcome %s, seal holds %v", first.Outcome, r.Seal)
	}
	if err := h.db.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestNose holds the simulated tasters to Thurstone's model: the proportion
// correct of many triangles and pairs against the values of the psychometric
// functions, d′ 2: triangle 0.605, paired comparison 0.921 (computed from the
// formulas printed in ASTM E2262-type tables, from memory; two derivations
// agree).
func TestNose(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	const n = 40_000
	for _, c := range []struct {
		method string
		d      float64
		codes  []int // 2 is the thinner lot's
		answer int
		want   float64
	}{
		{"triangle", 2, []int{1, 2, 1}, 1, 0.605},
		{"triangle", 2, []int{2, 2, 1}, 2, 0.605},
		{"triangle", 0, []int{1, 1, 2}, 2, 1.0 / 3},
		{"paired-comparison", 2, []int{1, 2}, 1, 0.921},
		{"paired-comparison", 0, []int{2, 1}, 0, 0.5},
	} {
		taste := panel.Nose(c.d, func(code int) bool { return code == 2 })
		right := 0
		for range n {
			if pick, _ := taste(c.method, c.codes, chance); pick == c.answer {
				right++
			}
		}
		if got := float64(right) / n; math.Abs(got-c.want) > 4.5*math.Sqrt(c.want*(1-c.want)/n)+0.0006 {
			t.Errorf("%s at d′ %v, codes %v: %.4f right, want %.4f", c.method, c.d, c.codes, got, c.want)
		}
	}
}
