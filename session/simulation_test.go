package session

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"oddcup/stats"
)

// simulations is the number of sessions for each line, simulationSeed repeats
// them.
const (
	simulations    = 500
	simulationSeed = 20310305
)

// guessing is a habit of answering without tasting: one of the n answers of
// [placesOf], for a person who has one of their own and gave before last time, -1
// for never.
type guessing struct {
	name string
	pick func(n, own, before int, chance *rand.Rand) int
}

var guesses = []guessing{
	{"uniform", func(n, _, _ int, c *rand.Rand) int { return c.IntN(n) }},
	{"always one place", func(n, own, _ int, _ *rand.Rand) int { return own % n }},
	{"never twice running", func(n, _, before int, c *rand.Rand) int {
		if before < 0 {
			return c.IntN(n)
		}
		return (before + 1 + c.IntN(n-1)) % n
	}},
	{"alternating", func(n, own, before int, _ *rand.Rand) int {
		if before < 0 {
			return own % n
		}
		return (before + 1) % n
	}},
}

// tasted is the answer of a person who feels each cup along one line with unit
// normal noise, the processed lot's dPrime below the other's (Thurstone's model;
// the rules of answering are those whose shares testdata/reference/
// f4_montecarlo_check.csv holds).
func tasted(m Method, order string, dPrime float64, c *rand.Rand) []int {
	felt := make([]float64, len(order))
	for i := range order {
		felt[i] = c.NormFloat64()
		if order[i] == 'B' {
			felt[i] -= dPrime
		}
	}
	least := slices.Index(felt, slices.Min(felt))
	apart := func(i, j int) float64 { return math.Abs(felt[i] - felt[j]) }
	switch m.Key {
	case Triangle.Key: // the two nearest are the same
		odd, near := 0, math.Inf(1)
		for i := range felt {
			if d := apart((i+1)%3, (i+2)%3); d < near {
				odd, near = i, d
			}
		}
		return []int{odd}
	case DuoTrio.Key: // the nearer to the reference
		if apart(0, 1) < apart(0, 2) {
			return []int{1}
		}
		return []int{2}
	case Tetrad.Key: // the two lowest and the two highest
		at := []int{0, 1, 2, 3}
		slices.SortFunc(at, func(i, j int) int {
			if felt[i] < felt[j] {
				return -1
			}
			return 1
		})
		pair := at[:2]
		if !slices.Contains(pair, 0) && c.IntN(2) == 0 {
			pair = at[2:] // either pair may be named
		}
		if c.IntN(2) == 0 {
			return []int{pair[1], pair[0]}
		}
		return []int{pair[0], pair[1]}
	}
	return []int{least}
}

// simulated is one session's counts, through the drawn layout, [Method.Answer],
// the answers' keys and the counting of results.
func simulated(t *testing.T, p Plan, seed uint64, answer func(seat, set int, order string) []int) TestResult {
	t.Helper()
	m, _ := MethodByKey(p.Tests[0].Method)
	s := answered(p, seedOf(seed), func(int, int) bool { return true })
	for i := range s.Seats {
		for j := range s.Seats[i].Sets {
			set := s.sealed.Layout.Seats[i][j]
			places, codes := answer(i+1, j+1, set.Order), set.Takes[0]
			pick, also := codes[places[0]], Code(0)
			if m.Picks == 2 {
				also = codes[places[1]]
			}
			a := s.Seats[i].Sets[j].Takes[0].Answer
			var ok bool
			if a.Pick, a.Also, ok = m.Answer(codes, pick, also); !ok {
				t.Fatalf("%s, %s: places %v are no answer", m.Key, set.Order, places)
			}
		}
	}
	r := TestResult{Plan: p.Tests[0], Method: m}
	var assessors []stats.Replicates
	for _, a := range s.seatAnswers() {
		if a.Set == 1 {
			assessors = append(assessors, stats.Replicates{})
		}
		one := &assessors[len(assessors)-1]
		one.N++
		if r.N++; a.Correct {
			one.Correct++
			r.Correct++
		}
	}
	if r.majorities() {
		sign := stats.SignByMajority(assessors)
		r.N, r.Correct, r.Even = sign.N, sign.Plus, sign.Ties
	}
	return r
}

// decisions keeps what the registered analysis says of a count, which takes a
// hundred times longer than to draw and count a session.
type decisions map[[2]int]TestResult

func (d decisions) of(r TestResult) TestResult {
	key := [2]int{r.N, r.Correct}
	if _, ok := d[key]; !ok {
		r.analyse(nil)
		r.Outcome = r.outcome()
		d[key] = r
	}
	return d[key]
}

// within999 reports whether a count of n events of probability p lies in the
// middle 99.9 % of the binomial distribution.
func within999(n, count int, p float64) bool {
	return stats.LowerTail(n, count, p) >= 0.0005 && stats.UpperTail(n, count, p) >= 0.0005
}

func shares(t *testing.T, name string, different, similar int, size, pass float64) {
	t.Helper()
	t.Logf("%-60s “different” %3d of %d, exact %.4f; “similar” %3d, exact %.4f", name, different, simulations, size, similar, pass)
	if !within999(simulations, different, size) {
		t.Errorf("%s: “different” %d times of %d, exact probability %.4f", name, different, simulations, size)
	}
	if !within999(simulations, similar, pass) {
		t.Errorf("%s: “similar” %d times of %d, exact probability %.4f", name, similar, simulations, pass)
	}
}

// Nobody can taste anything, and all guess by a habit: “different” comes as
// often as the exact actual α, “similar” as often as identical lots pass.
func TestSimulatedGuessing(t *testing.T) {
	t.Logf("seed %d", simulationSeed)
	for _, m := range Methods {
		for _, sets := range []int{1, 3} {
			if m.Key == ThreeAFC.Key && sets > 1 {
				continue
			}
			goal := GoalBoth
			if sets > 1 {
				goal = GoalDifference // similarity is judged otherwise then
			}
			test := testOf(m, goal, sets)
			test.PdLimit = 0.5
			test.TwoSided = test.WantsSimilarity() && m.Key == PairedComparison.Key
			if m.Key == ThreeAFC.Key {
				test.Goal = GoalDifference
			}
			p := planOf(28, test)
			if f := p.Check(); f != nil {
				t.Fatal(f)
			}
			all := placesOf(m)
			for _, h := range guesses {
				chance, of := rand.New(rand.NewChaCha8(seedOf(simulationSeed))), decisions{}
				different, similar := 0, 0
				var size, pass float64
				for i := range uint64(simulations) {
					own, before := make([]int, p.Seats), make([]int, p.Seats)
					for j := range own {
						own[j], before[j] = chance.IntN(6), -1
						if sets == 1 {
							before[j] = chance.IntN(len(all)) // in a set of an earlier test
						}
					}
					r := of.of(simulated(t, p, simulationSeed+i, func(seat, _ int, _ string) []int {
						at := h.pick(len(all), own[seat-1], before[seat-1], chance)
						before[seat-1] = at
						return all[at]
					}))
					if r.N != p.Seats*sets && !r.majorities() || r.Even != 0 {
						t.Fatalf("%s: %d answers, %d even", m.Key, r.N, r.Even)
					}
					size, pass = r.ActualAlpha, r.PassAlike
					if r.Outcome == Different || r.Outcome == DifferentSmall {
						different++
					}
					if r.Outcome == Similar || r.Outcome == DifferentSmall {
						similar++
					}
				}
				shares(t, fmt.Sprintf("%s, %d sets, %s", m.Key, sets, h.name), different, similar, size, pass)
			}
		}
	}
}

// People perceive the cups with a d′: “different” comes as often as the exact
// power there, “similar” as often as the exact probability that so few are
// correct.
func TestSimulatedTasters(t *testing.T) {
	t.Logf("seed %d", simulationSeed)
	for _, m := range Methods {
		for _, twoSided := range []bool{false, true} {
			if twoSided && m.Key != PairedComparison.Key {
				continue
			}
			test := testOf(m, GoalBoth, 1)
			test.PdLimit, test.TwoSided = 0.5, twoSided
			if !m.Overall && !twoSided {
				test.Goal = GoalDifference
			}
			p := planOf(48, test)
			if f := p.Check(); f != nil {
				t.Fatal(f)
			}
			for _, dPrime := range []float64{0.5, 1, 2} {
				chance, of := rand.New(rand.NewChaCha8(seedOf(simulationSeed))), decisions{}
				different, similar := 0, 0
				var last TestResult
				for i := range uint64(simulations) {
					r := of.of(simulated(t, p, simulationSeed+i, func(_, _ int, order string) []int {
						return tasted(m, order, dPrime, chance)
					}))
					if last = r; r.HasMax != r.Plan.WantsSimilarity() || !r.HasMin {
						t.Fatalf("%s: %d answers show nothing", m.Key, r.N)
					}
					if r.Outcome == Different || r.Outcome == DifferentSmall {
						different++
					}
					if r.Outcome == Similar || r.Outcome == DifferentSmall {
						similar++
					}
				}
				pc := m.Curve.PC(dPrime)
				power, pass := stats.UpperTail(last.N, last.MinCorrect, pc), stats.LowerTail(last.N, last.MaxCorrect, pc)
				if !test.WantsSimilarity() {
					pass = 0
				}
				if twoSided {
					power += stats.LowerTail(last.N, last.N-last.MinCorrect, pc)
					pass -= stats.LowerTail(last.N, last.MinSimilar-1, pc)
				}
				shares(t, fmt.Sprintf("%s, two-sided %v, d′ %v", m.Key, twoSided, dPrime), different, similar, power, pass)
			}
		}
	}
}
