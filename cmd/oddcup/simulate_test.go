package main

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/stats"
)

// TestSimulate plays sessions of every method, of people who guess by four habits
// and of people who perceive a difference at three d′, through plan, layout,
// locked answers and result. The shares called different and similar must be the
// exact probabilities. With three sets per seat and one habit for each person
// they must be so as well: orders are dealt at random across seats and nothing
// balances one seat's own sets. Where a whole panel shares one habit the share
// called different may be smaller, since every block holds each place equally
// often. ODDCUP_NULL sets another number of sessions; `oddcup simulate` prints the
// same as a table.
func TestSimulate(t *testing.T) {
	sessions := 500
	if s := os.Getenv("ODDCUP_NULL"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		sessions = n
	}
	one := simulateCommand{Seats: 36, Sets: []int{1}, DPrime: []float64{0.5, 1, 2}, Seed: 20260414}
	three := simulateCommand{Seats: 24, Sets: []int{3}, Seed: 20260414, Method: []string{"triangle"}}
	kinds, held := map[string]bool{}, 0
	for _, c := range []simulateCommand{one, three} {
		lines, err := c.lines()
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range lines {
			n, err := s.play(t.Context(), sessions)
			if err != nil {
				t.Fatal(err)
			}
			test, _ := s.test()
			name := fmt.Sprintf("%s %v %s, %d sets, %s", test.Method, test.TwoSided, test.Reference, test.Sets, s.who())
			kinds[fmt.Sprint(test.Method, test.TwoSided, test.Reference)] = true
			different, similar, known := s.exact()
			if s.habit != nil && (different < 0.01 || different > 0.05) {
				t.Fatalf("%s: exact size %v of a test at 0.05", name, different)
			}
			shared := s.habit != nil && s.habit.shared
			compare := func(what string, count int, p float64, lower bool) {
				held++
				// Exact binomial, two tails of 1e-6: over the 140 comparisons a sound
				// program fails once in 3,000 changes of the seed.
				low, high := stats.LowerTail(sessions, count, min(p, 1)), stats.UpperTail(sessions, count, min(p, 1))
				if low < 1e-6 && lower || high < 1e-6 {
					t.Errorf("%s: %d of %d called %s; exact %.4f (tails %.2g, %.2g)", name, count, sessions, what, p, low, high)
				}
			}
			compare("different", n.different, different, !shared)
			if known && !shared {
				compare("similar", n.similar, similar, true)
			}
		}
	}
	if len(kinds) != 7 || held < 100 {
		t.Errorf("%d kinds of tests, %d comparisons", len(kinds), held)
	}
}

// TestSimulatedPairs: with several pairs a seat assessors are counted. The exact
// power is that of R 4.2.2, 24 seats, α 0.05, each pair correct with
// probability 0.7, three pairs and two:
//
//	r <- 1 - pbinom(1, 3, 0.7); crit <- qbinom(0.95, 24, 0.5) + 1
//	1 - pbinom(crit - 1, 24, r)                                     # 0.87282798630093694
//	ev <- dbinom(1, 2, 0.7); r2 <- dbinom(2, 2, 0.7); s <- 0
//	for (n in 1:24) { cr <- qbinom(0.95, n, 0.5) + 1
//	  s <- s + dbinom(n, 24, 1-ev) * (if (cr > n) 0 else 1 - pbinom(cr-1, n, r2/(1-ev))) }
//	s                                                               # 0.81438767141649582
func TestSimulatedPairs(t *testing.T) {
	power := func(n int, pc float64) float64 { return stats.Power(n, 0.5, 0.05, pc) }
	for sets, want := range map[int]float64{3: 0.87282798630093694, 2: 0.81438767141649582} {
		if got := powerOfMajorities(24, sets, 0.7, power); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("%d pairs a seat: power %.15g, R has %.15g", sets, got, want)
		}
	}
	// Played, it is what is counted.
	c := simulateCommand{Seats: 24, Sets: []int{2}, DPrime: []float64{1}, Seed: 3, Method: []string{"paired-comparison"}}
	lines, err := c.lines()
	if err != nil {
		t.Fatal(err)
	}
	played := 0
	for _, s := range lines {
		test, _ := s.test()
		if s.habit != nil || test.TwoSided {
			continue
		}
		n, err := s.play(t.Context(), 300)
		if err != nil {
			t.Fatal(err)
		}
		p, _, known := s.exact()
		if low, high := stats.LowerTail(300, n.different, p), stats.UpperTail(300, n.different, p); known || min(low, high) < 1e-6 {
			t.Errorf("%d of 300 different, exact %v", n.different, p)
		}
		played++
	}
	if played != 1 {
		t.Errorf("%d lines", played)
	}
}

// TestSimulatedSpan holds the span to R 4.2.2 qbinom(c(0.0005, 0.9995), n, p).
func TestSimulatedSpan(t *testing.T) {
	for _, c := range []struct {
		n         int
		p         float64
		low, high int
	}{
		{500, 0.0283, 4, 28}, {500, 0.6948, 313, 381}, {10000, 0.2032, 1901, 2165}, {200, 0.9999, 199, 200}, {100, 0, 0, 0}, {100, 1, 100, 100},
	} {
		if low, high := span(c.n, c.p); low != c.low || high != c.high {
			t.Errorf("%d at %v: %d to %d, R has %d to %d", c.n, c.p, low, high, c.low, c.high)
		}
	}
}

// TestSimulateCommand: the table and the JSON hold the same counts, the seed
// repeats them, and what lies outside is marked.
func TestSimulateCommand(t *testing.T) {
	args := []string{"simulate", "--sessions", "40", "--seats", "12", "--seed", "5", "--method", "duo-trio", "--method", "3-afc", "--sets", "1,2", "--dprime", "1"}
	text, errs, code := command(t, args...)
	again, _, _ := command(t, args...)
	if code != 0 || text != again {
		t.Fatalf("code %d, %s; the same seed gave\n%s\n%s", code, errs, text, again)
	}
	raw, _, _ := command(t, append(args, "--json")...)
	var out simulateOut
	if err := json.Unmarshal([]byte(raw), &out); err != nil {
		t.Fatal(err)
	}
	// Two references and two numbers of sets, and a 3-AFC test of one; each with
	// six habits and a d′.
	if len(out.Lines) != 5*7 || out.Seed != 5 || out.Sessions != 40 {
		t.Fatalf("%d lines", len(out.Lines))
	}
	for _, l := range out.Lines {
		who := fmt.Sprintf("%d  d′ 1 ", l.Sets)
		if l.Habit != nil {
			who = fmt.Sprintf("%d  guess, %s ", l.Sets, *l.Habit)
		}
		found := false
		for line := range strings.Lines(text) {
			name, rest, _ := strings.Cut(line, who)
			want := l.Method
			if l.Reference != "" {
				want += ", " + l.Reference
			}
			if strings.TrimSpace(name) != want || rest == "" {
				continue
			}
			found = true
			fields := strings.Fields(rest)
			if fields[0] != fmt.Sprint(l.Different.Count) || fields[1] != fmt.Sprintf("%.4f", *l.Different.Exact) {
				t.Errorf("%+v stands as %q", l, line)
			}
		}
		if !found {
			t.Errorf("%+v does not stand in the table:\n%s", l, text)
		}
	}
	low, high := 3, 9
	if (shareOut{Count: 3, Low: &low, High: &high}).outside() || !(shareOut{Count: 2, Low: &low, High: &high}).outside() ||
		!(shareOut{Count: 10, High: &high}).outside() || (shareOut{Count: 2, High: &high}).outside() || (shareOut{Count: 2}).outside() {
		t.Error("what lies outside")
	}
	if !strings.Contains((shareOut{Count: 2, Low: &low, High: &high}).words(), "! 3 to 9") {
		t.Error("what lies outside is not marked")
	}
}

// TestHabits: every habit uses all the answers that a tray has and no other.
func TestHabits(t *testing.T) {
	for _, m := range session.Methods {
		plan := simulatedPlans(m, 12, 1)[0]
		sealing, err := sealWith(withSets(plan), session.Seed{3}, [32]byte{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range habits {
			s := simulation{plan: sealing.Plan, habit: &habits[i]}
			answer := s.tasters(sealing.Layout, streamRand(7))
			seen := map[string]bool{}
			for seat, sets := range sealing.Layout.Seats {
				for set := range sets {
					codes := sets[set].Takes[0]
					places := answer(seat+1, set+1, codes)
					var also session.Code
					if len(places) > 1 {
						also = codes[places[1]]
					}
					if _, _, ok := m.Answer(codes, codes[places[0]], also); !ok {
						t.Fatalf("%s, %s: places %v are no answer", m.Key, habits[i].name, places)
					}
					seen[fmt.Sprint(places)] = true
				}
			}
			want := int(math.Round(1 / m.Chance()))
			if habits[i].name == "all always left" {
				want = 1
			}
			if m.Key == session.ThreeAFC.Key && habits[i].name == "all alternating" {
				want = 1 // one set a seat: all begin at the left
			}
			if len(seen) != want {
				t.Errorf("%s, %s: answers %v, want %d", m.Key, habits[i].name, seen, want)
			}
		}
	}
}

// withSets gives each seat six sets where the method takes several.
func withSets(p session.Plan) session.Plan {
	if p.Tests[0].Method != session.ThreeAFC.Key {
		t := p.Tests[0]
		t.Sets, t.Goal, t.Beta, t.PdLimit = 6, session.GoalDifference, 0, 0
		p.Tests = []session.TestPlan{t}
	}
	return p
}

func streamRand(seed uint64) *rand.Rand { return rand.New(streamOf(seed, "test")) }
