package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"log/slog"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
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
	d := demo{h: h, seed: 1953, plan: session.UsualPlan()}
	d.plan.Seats = seats
	// Who is right is fixed beforehand: the nose of each seat is told the odd cup.
	d.taste = func(seat int, thin map[int]bool) func(panel.Tray, *rand.Rand) ([]int, bool) {
		return func(t panel.Tray, _ *rand.Rand) ([]int, bool) {
			codes, odd := t.Codes, 0
			for i, c := range codes {
				if thin[c] != thin[codes[(i+1)%len(codes)]] && thin[c] != thin[codes[(i+2)%len(codes)]] {
					odd = i
				}
			}
			if seat <= right {
				return []int{odd}, false
			}
			return []int{(odd + 1) % len(codes)}, true
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
// correct of many trays of each method, in each of its orders, against
// testdata/reference/f_psychometric.csv (mpmath, quadrature with 30 digits).
func TestNose(t *testing.T) {
	protocols := map[string]string{
		"triangle": "triangle", "duo-trio": "duotrio", "paired-comparison": "2afc", "3-afc": "3afc", "tetrad": "tetrad",
	}
	want := map[string]float64{} // by protocol and d′
	for _, row := range reference(t, "f_psychometric.csv") {
		want[row["protocol"]+" "+row["dprime"]] = number(t, row["pc"])
	}
	chance := rand.New(rand.NewPCG(1, 2))
	const n = 6000
	for _, m := range session.Methods {
		for _, d := range []float64{0, 1, 2} {
			pc, ok := want[fmt.Sprintf("%s %.1f", protocols[m.Key], d)]
			if !ok {
				t.Fatalf("no reference value for %s at d′ %v", m.Key, d)
			}
			for _, order := range m.Orders {
				tray := panel.Tray{Method: m.Key, Picks: m.Picks, References: m.References()}
				for place := range len(order) {
					tray.Codes = append(tray.Codes, 10*place+int(order[place]-'A'))
				}
				taste := panel.Nose(d, func(code int) bool { return code%10 == 1 })
				right := 0
				for range n {
					// In a tetrad the other pair is the same answer.
					places, _ := taste(tray, chance)
					if m.Right(order, places) || m.Picks == 2 && m.Right(order, rest(places)) {
						right++
					}
				}
				// 4.5 standard errors: 69 comparisons, so one sound run in 2000 fails.
				if got := float64(right) / n; math.Abs(got-pc) > 4.5*math.Sqrt(pc*(1-pc)/n) {
					t.Errorf("%s %s at d′ %v: %.4f right, want %.4f", m.Key, order, d, got, pc)
				}
			}
		}
	}
}

// rest are the places of four that are not named.
func rest(places []int) []int {
	var r []int
	for i := range 4 {
		if !slices.Contains(places, i) {
			r = append(r, i)
		}
	}
	return r
}

// reference reads a file of testdata/reference, each row by its column names.
func reference(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	var rows []map[string]string
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, column := range all[0] {
			row[column] = r[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	if s == "1/3" {
		return 1.0 / 3
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}
