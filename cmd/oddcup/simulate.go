package main

import (
	"context"
	crand "crypto/rand"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// simulateCommand plays sessions of each method through plan, layout, locked
// answers and revealed result, and holds the shares that were called different
// and similar to the exact risks: where nobody tastes anything, for several
// habits of guessing, and at some d′.
//
// With --json it prints sessions (of each line), seats, alpha, beta, pdLimit,
// seed, and lines, each with method, sided, reference ("" or constant), sets, habit (null at a d′), dPrime
// (null for a habit), and different and similar: each count, share, exact (the
// probability; null where none is known), low and high (99.9 % of such counts lie
// from low to high). Of a habit that the whole panel shares different has no low
// and similar no exact value: see the words below the table.
type simulateCommand struct {
	Sessions int       `help:"Number of simulated sessions for each line." default:"10000" placeholder:"N"`
	Seats    int       `help:"Seats in each." default:"36" placeholder:"N"`
	Sets     []int     `help:"Sets for each seat; may be repeated." default:"1" placeholder:"N"`
	Method   []string  `help:"Methods; may be repeated. Default: all, the duo-trio test with either reference, the paired comparison with one side and two." placeholder:"METHOD"`
	DPrime   []float64 `name:"dprime" help:"Sizes of the difference; may be repeated." default:"0.5,1,2" placeholder:"D"`
	Seed     uint64    `help:"Repeats the simulation." default:"1" placeholder:"N"`
	JSON     bool      `help:"Print JSON, when all is done."`
}

// The risks of simulated tests, at which a panel of the usual size can reach
// either conclusion.
const (
	simulatedAlpha   = 0.05
	simulatedBeta    = 0.05
	simulatedPdLimit = 0.5
)

type simulateOut struct {
	Sessions int       `json:"sessions"`
	Seats    int       `json:"seats"`
	Alpha    float64   `json:"alpha"`
	Beta     float64   `json:"beta"`
	PdLimit  float64   `json:"pdLimit"`
	Seed     uint64    `json:"seed"`
	Lines    []lineOut `json:"lines"`
}

type lineOut struct {
	Method    string   `json:"method"`
	Sided     string   `json:"sided"`
	Reference string   `json:"reference"`
	Sets      int      `json:"sets"`
	Habit     *string  `json:"habit"`
	DPrime    *float64 `json:"dPrime"`
	Different shareOut `json:"different"`
	Similar   shareOut `json:"similar"`
}

type shareOut struct {
	Count int      `json:"count"`
	Share float64  `json:"share"`
	Exact *float64 `json:"exact"`
	Low   *int     `json:"low"`
	High  *int     `json:"high"`
}

// Run implements the command.
func (c *simulateCommand) Run(ctx context.Context, to streams) error {
	if c.Sessions < 1 || c.Sessions > 1_000_000 {
		return usage(fmt.Sprintf("--sessions %d is outside 1 to 1000000", c.Sessions), "10000 of all take a few minutes")
	}
	lines, err := c.lines()
	if err != nil {
		return err
	}
	out := simulateOut{c.Sessions, c.Seats, simulatedAlpha, simulatedBeta, simulatedPdLimit, c.Seed, []lineOut{}}
	if !c.JSON {
		fmt.Fprintf(to.out, "Simulated sessions, %d for each line: %d seats, α %v, β %v, pd limit %v, seed %d.\n\n", c.Sessions, c.Seats, simulatedAlpha, simulatedBeta, simulatedPdLimit, c.Seed)
		fmt.Fprintf(to.out, "%-29s%5s  %-24s%36s   %36s\n", "", "", "", "called different", "called similar")
		fmt.Fprintf(to.out, "%-29s%5s  %-24s%8s%9s%19s   %8s%9s%19s\n", "method", "sets", "who tastes", "count", "exact", "99.9 % from", "count", "exact", "99.9 % from")
	}
	for _, s := range lines {
		line, err := s.line(ctx, c.Sessions)
		if err != nil {
			return err
		}
		out.Lines = append(out.Lines, line)
		if !c.JSON {
			line.tell(to.out)
		}
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	out.sum(to.out)
	return nil
}

// lines are the simulations that the flags ask for. A plan that can't be sealed
// is found here.
func (c *simulateCommand) lines() ([]simulation, error) {
	methods := c.Method
	if len(methods) == 0 {
		for _, m := range session.Methods {
			methods = append(methods, m.Key)
		}
	}
	for _, d := range c.DPrime {
		if !(d > 0 && d <= 10) {
			return nil, usage(fmt.Sprintf("--dprime %v is outside 0 to 10", d), "1 is small and 2 is large for a trained panel (common practice, no source)")
		}
	}
	var all []simulation
	for _, key := range methods {
		m, err := methodRow(key)
		if err != nil {
			return nil, err
		}
		for _, sets := range c.Sets {
			if m.Key == session.ThreeAFC.Key && sets > 1 && len(methods) > 1 {
				continue // one set per seat is all that its plan takes
			}
			for _, p := range simulatedPlans(m, c.Seats, sets) {
				s := simulation{plan: p, seed: c.Seed}
				if f := p.Check(); f != nil {
					return nil, usage(f.Error(), "choose other numbers with --seats and --sets")
				}
				for i := range habits {
					s.habit = &habits[i]
					all = append(all, s)
				}
				s.habit = nil
				for _, d := range c.DPrime {
					s.dPrime = d
					all = append(all, s)
				}
			}
		}
	}
	return all, nil
}

// simulatedPlans are the plans of a method's kinds. Each has one test for
// difference and similarity at once, or for a difference alone where it can't
// show similarity.
func simulatedPlans(m session.Method, seats, sets int) []session.Plan {
	t := session.TestPlan{
		Method: m.Key, Goal: session.GoalBoth, Sets: sets, Alpha: simulatedAlpha, Pd: 0.4, Power: 0.8,
		Beta: simulatedBeta, PdLimit: simulatedPdLimit,
	}
	if !m.Overall {
		t.Attribute, t.Definition = "body", "simulated"
	}
	both := t
	if !m.ShowsSimilarity(false) {
		t.Goal, t.Beta, t.PdLimit = session.GoalDifference, 0, 0
	}
	kinds := []session.TestPlan{t}
	switch m.Key {
	case session.DuoTrio.Key:
		t.Reference = session.ReferenceConstant
		kinds = append(kinds, t)
	case session.PairedComparison.Key:
		if sets == 1 {
			t = both
		}
		t.TwoSided = true
		kinds = append(kinds, t)
	}
	var plans []session.Plan
	for _, t := range kinds {
		p := session.UsualPlan()
		p.Title, p.Seats, p.Tests = "Simulated", seats, []session.TestPlan{t}
		p.Untreated = session.Lot{ID: "lot-1", Number: "N-1", Treatment: "untreated"}
		p.Processed = session.Lot{ID: "lot-2", Number: "N-2", Treatment: "water"}
		plans = append(plans, p)
	}
	return plans
}

// simulation is one line of the table: sessions of a plan whose tasters guess
// by a habit or perceive a d′.
type simulation struct {
	plan   session.Plan
	seed   uint64
	habit  *habit // nil: they perceive dPrime
	dPrime float64
}

func (s simulation) test() (session.TestPlan, session.Method) {
	t := s.plan.Tests[0]
	m, _ := session.MethodByKey(t.Method)
	return t, m
}

// who names the tasters, in the table and in the streams of chance.
func (s simulation) who() string {
	if s.habit != nil {
		return "guess, " + s.habit.name
	}
	return fmt.Sprintf("d′ %v", s.dPrime)
}

// exact gives the exact probabilities of the two conclusions. That of similarity
// is not known with several sets a seat, where an approximation judges it.
func (s simulation) exact() (different, similar float64, known bool) {
	t, m := s.test()
	pc := m.Chance()
	if s.habit == nil {
		pc = m.Curve.PC(s.dPrime)
	}
	power := func(n int, pc float64) float64 {
		if t.TwoSided {
			return stats.PowerTwoSided(n, t.Alpha, pc)
		}
		return stats.Power(n, m.Chance(), t.Alpha, pc)
	}
	if !m.Overall && t.Sets > 1 {
		return powerOfMajorities(s.plan.Seats, t.Sets, pc, power), 0, false
	}
	n := s.plan.Seats * t.Sets
	different = power(n, pc)
	switch {
	case t.Sets > 1 || !t.WantsSimilarity():
		return different, 0, false
	case t.TwoSided:
		return different, stats.SimilarityPowerBothWays(n, t.Beta, t.PdLimit, pc), true
	}
	return different, stats.SimilarityPower(n, m.Chance(), t.Beta, t.PdLimit, pc), true
}

// powerOfMajorities is the power where assessors with most sets one way are counted, each
// set correct with probability pc: how many there are is binomial as well.
func powerOfMajorities(seats, sets int, pc float64, power func(n int, pc float64) float64) float64 {
	right, even := stats.UpperTail(sets, sets/2+1, pc), 0.0
	if sets%2 == 0 {
		even = stats.PMF(sets, sets/2, pc)
	}
	sum := 0.0
	for n := 1; n <= seats; n++ {
		sum += stats.PMF(seats, n, 1-even) * power(n, min(right/(1-even), 1))
	}
	return sum
}

// line plays the sessions of one line.
func (s simulation) line(ctx context.Context, sessions int) (lineOut, error) {
	n, err := s.play(ctx, sessions)
	if err != nil {
		return lineOut{}, err
	}
	t, m := s.test()
	line := lineOut{Method: m.Key, Sided: string(sidedOf(t)), Reference: t.Reference, Sets: t.Sets}
	different, similar, known := s.exact()
	line.Different = shareOf(n.different, sessions, &different)
	line.Similar = shareOf(n.similar, sessions, nil)
	if known {
		line.Similar = shareOf(n.similar, sessions, &similar)
	}
	if s.habit == nil {
		line.DPrime = &s.dPrime
		return line, nil
	}
	line.Habit = &s.habit.name
	if s.habit.shared {
		line.Different.Low = nil
		line.Similar = shareOf(n.similar, sessions, nil)
	}
	return line, nil
}

func shareOf(count, sessions int, exact *float64) shareOut {
	s := shareOut{Count: count, Share: float64(count) / float64(sessions), Exact: exact}
	if exact != nil {
		low, high := span(sessions, *exact)
		s.Low, s.High = &low, &high
	}
	return s
}

// span are the counts of n sessions from low to high outside of which lie at most
// 0.05 % on either side, exact binomial.
func span(n int, p float64) (low, high int) {
	p = min(max(p, 0), 1)
	const tail = 0.0005
	low = sort.Search(n, func(x int) bool { return stats.LowerTail(n, x, p) > tail })
	high = n - sort.Search(n, func(x int) bool { return stats.UpperTail(n, n-x, p) > tail })
	return low, high
}

func (s shareOut) outside() bool {
	return s.Low != nil && s.Count < *s.Low || s.High != nil && s.Count > *s.High
}

func (l lineOut) tell(w io.Writer) {
	method, who := l.Method, ""
	if l.Sided == string(stats.TwoSided) {
		method += ", two-sided"
	}
	if l.Reference != "" {
		method += ", " + l.Reference
	}
	if l.Habit != nil {
		who = "guess, " + *l.Habit
	} else {
		who = fmt.Sprintf("d′ %v", *l.DPrime)
	}
	fmt.Fprintf(w, "%-29s%5d  %-24s%s   %s\n", method, l.Sets, who, l.Different.words(), l.Similar.words())
}

func (s shareOut) words() string {
	exact, from := "–", ""
	if s.Exact != nil {
		exact = fmt.Sprintf("%.4f", *s.Exact)
	}
	switch {
	case s.Low != nil:
		from = fmt.Sprintf("%d to %d", *s.Low, *s.High)
	case s.High != nil:
		from = fmt.Sprintf("0 to %d", *s.High)
	}
	if s.outside() {
		from = "! " + from
	}
	return fmt.Sprintf("%8d%9s%19s", s.Count, exact, from)
}

// sum says how to read the table.
func (out simulateOut) sum(w io.Writer) {
	held, outside := 0, 0
	for _, l := range out.Lines {
		for _, s := range []shareOut{l.Different, l.Similar} {
			if s.High != nil {
				held++
			}
			if s.outside() {
				outside++
			}
		}
	}
	fmt.Fprintf(w, "\n%d of %d counts lie outside of their 99.9 %% (marked with !); by chance one in a thousand does.\n", outside, held)
	fmt.Fprintln(w, strings.TrimSpace(`
Orders are dealt in whole blocks, so a panel of one mind ("all …") is right in exactly its share of each
block: it is called different less often than the exact risk says, never more. With several sets a seat
similarity is judged from each taster's own sets, by an approximation that has no exact probability.`))
}

// tally counts the conclusions of simulated sessions.
type tally struct{ different, similar int }

// play runs the sessions on all cores. Each has its own chance, so that their
// number and order don't matter.
func (s simulation) play(ctx context.Context, sessions int) (tally, error) {
	pin, err := session.NewPin(demoPin, crand.Reader)
	if err != nil {
		return tally{}, err
	}
	return onAllCores(ctx, sessions, func(i int) (tally, error) {
		state, err := s.session(pin, i)
		if err != nil {
			return tally{}, err
		}
		switch state.Result.Tests[0].Outcome {
		case session.Different:
			return tally{different: 1}, nil
		case session.DifferentSmall:
			return tally{1, 1}, nil
		case session.Similar:
			return tally{similar: 1}, nil
		}
		return tally{}, nil
	})
}

// session plays one session from plan to reveal, in memory.
func (s simulation) session(pin session.Pin, i int) (*session.State, error) {
	t, _ := s.test()
	name := fmt.Sprintf("%s %v %s %d %s %d", t.Method, t.TwoSided, t.Reference, t.Sets, s.who(), i)
	sealing, err := session.Seal(s.plan, streamOf(s.seed, "layout "+name))
	if err != nil {
		return nil, err
	}
	f := folding{state: session.NewState("simulated")}
	f.do(session.Draft{Plan: s.plan, Demo: true})
	f.do(session.SetPin{Pin: pin})
	f.do(session.SealPlan{Sealing: sealing})
	f.do(session.OpenLobby{})
	for seat := 1; seat <= s.plan.Seats; seat++ {
		f.do(session.Sit{Seat: seat, Name: session.Text{Words: "simulated"}, Token: session.HashToken([]byte{byte(seat), byte(seat >> 8)})})
	}
	f.do(session.FreezeList{})
	f.do(session.Open{Releases: []session.Release{{Lot: "lot-1"}, {Lot: "lot-2"}}})
	answer := s.tasters(sealing.Layout, rand.New(streamOf(s.seed, "pick "+name)))
	for set := 1; set <= s.plan.SetsPerSeat() && f.err == nil; set++ {
		f.do(session.Serve{Round: set})
		for seat := 1; seat <= s.plan.Seats && f.err == nil; seat++ {
			codes := f.state.Codes(seat, set, 0)
			lock := session.Lock{Seat: seat, Set: set}
			places := answer(seat, set, codes)
			lock.Pick = codes[places[0]]
			if len(places) > 1 {
				lock.Also = codes[places[1]]
			}
			f.do(lock)
		}
	}
	f.do(session.Close{})
	f.do(session.Reveal{})
	if f.err != nil {
		return nil, f.err
	}
	if !slices.ContainsFunc(f.state.Result.Tests, func(r session.Revealing) bool { return r.Decided }) {
		return nil, fmt.Errorf("simulated session %s: nothing was decided", name)
	}
	return f.state, nil
}
