package main

import (
	"context"
	crand "crypto/rand"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"oddcup/session"
)

// nullCommand shows the honest size of the test: in how many sessions in which
// nobody can taste anything the answer is "different".
type nullCommand struct {
	Sessions int    `help:"Number of simulated sessions for each habit." default:"1000" placeholder:"N"`
	Seats    int    `help:"Seats in each." default:"24" placeholder:"N"`
	Sets     []int  `help:"Triangles for each seat; may be repeated." default:"1,3" placeholder:"N"`
	Seed     uint64 `help:"Repeats the simulation." default:"1" placeholder:"N"`
}

// A habit is a way of guessing. pick gives a place, from 0, out of n, for a
// person who has a place of their own, from 0 to 5, and picked before last time
// (-1 for never).
type habit struct {
	name string
	pick func(n, own, before int, chance *rand.Rand) int

	// Shared habits are the same in all people. Orders are dealt in whole
	// blocks, so a panel of one mind is right in exactly its share of every
	// block: the test then says "different" less often than its size, never more.
	shared bool
}

var habits = []habit{
	{name: "uniform", pick: func(n, _, _ int, c *rand.Rand) int { return c.IntN(n) }},
	{name: "always one place", pick: func(n, own, _ int, _ *rand.Rand) int { return own % n }},
	{name: "never twice running", pick: func(n, _, before int, c *rand.Rand) int {
		if before < 0 || before >= n {
			return c.IntN(n)
		}
		return (before + 1 + c.IntN(n-1)) % n
	}},
	{name: "alternating", pick: func(n, own, before int, _ *rand.Rand) int {
		if before < 0 {
			return own % n
		}
		return (before + 1) % n
	}},
	{name: "all always left", shared: true, pick: func(int, int, int, *rand.Rand) int { return 0 }},
	{name: "all alternating alike", shared: true, pick: func(n, _, before int, _ *rand.Rand) int { return (before + 1) % n }},
}

// Run implements the command.
func (c *nullCommand) Run(ctx context.Context, to streams) error {
	if c.Sessions < 1 || c.Sessions > 1_000_000 {
		return hinted{fmt.Errorf("--sessions %d is outside 1 to 1000000", c.Sessions), "10000 takes a few minutes"}
	}
	fmt.Fprintf(to.out, "Sessions in which nobody can taste a difference, %d for each line, %d seats, α 0.05, seed %d.\n", c.Sessions, c.Seats, c.Seed)
	fmt.Fprintf(to.out, "%-22s %-15s %11s %12s %24s\n", "habit of guessing", "sets a seat", "“different”", "exact size", "99.9 % of such counts")
	for _, sets := range c.Sets {
		for i, h := range habits {
			n, size, err := nullSessions(ctx, c.Sessions, c.Seats, sets, i, c.Seed)
			if err != nil {
				return err
			}
			sd := math.Sqrt(float64(c.Sessions) * size * (1 - size))
			mean := float64(c.Sessions) * size
			span := fmt.Sprintf("%.0f to %.0f", math.Max(0, math.Floor(mean-3.29*sd)), math.Ceil(mean+3.29*sd))
			if h.shared {
				span = fmt.Sprintf("at most %.0f", math.Ceil(mean+3.29*sd))
			}
			fmt.Fprintf(to.out, "%-22s %-15d %11d %12.4f %24s\n", h.name, sets, n, size, span)
		}
	}
	return nil
}

// nullSessions plays sessions of one habit through plan, layout, answers and
// result, and counts those whose first test says "different". size is the
// test's exact probability of that.
func nullSessions(ctx context.Context, sessions, seats, sets, habit int, seed uint64) (different int, size float64, err error) {
	pin, err := session.NewPin(demoPin, crand.Reader)
	if err != nil {
		return 0, 0, err
	}
	for i := range sessions {
		if err := ctx.Err(); err != nil {
			return 0, 0, err
		}
		name := fmt.Sprintf("null %d %d %d", sets, habit, i)
		s, err := nullSession(seats, sets, habit, pin, seed, name)
		if err != nil {
			return 0, 0, err
		}
		r, err := s.Compute()
		if err != nil {
			return 0, 0, err
		}
		if r.Tests[0].Outcome == session.Different {
			different++
		}
		size = r.Tests[0].ActualAlpha
	}
	return different, size, nil
}

// nullSession folds one session in memory.
func nullSession(seats, sets, habit int, pin session.Pin, seed uint64, name string) (*session.State, error) {
	p := session.UsualPlan()
	p.Title, p.Seats, p.Tests[0].Sets = "Null (simulated)", seats, sets
	p.Untreated = session.Lot{ID: "lot-1", Number: "N-1", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "N-2", Treatment: "water"}
	sealing, err := session.Seal(p, seeded(seed, name))
	if err != nil {
		return nil, hinted{err, "choose other numbers with --seats and --sets"}
	}
	f := folding{state: session.NewState("null")}
	f.do(session.Draft{Plan: p, Demo: true})
	f.do(session.SetPin{Pin: pin})
	f.do(session.SealPlan{Sealing: sealing})
	f.do(session.OpenLobby{})
	for seat := 1; seat <= seats; seat++ {
		f.do(session.Sit{Seat: seat, Name: session.Text{Words: "simulated"}, Token: session.HashToken([]byte{byte(seat), byte(seat >> 8)})})
	}
	f.do(session.FreezeList{})
	f.do(session.Open{Releases: []session.Release{{Lot: "lot-1"}, {Lot: "lot-2"}}})
	chance := rand.New(rand.NewChaCha8(seedBytes(seed, "pick "+name)))
	before, own := make([]int, seats), make([]int, seats)
	for i := range before {
		before[i], own[i] = -1, chance.IntN(6)
	}
	for set := 1; set <= p.SetsPerSeat(); set++ {
		f.do(session.Serve{Round: set})
		for seat := 1; seat <= seats; seat++ {
			codes := f.state.Codes(seat, set, 0)
			if f.err != nil {
				return nil, f.err
			}
			at := habits[habit].pick(len(codes), own[seat-1], before[seat-1], chance)
			before[seat-1] = at
			f.do(session.Lock{Seat: seat, Set: set, Pick: codes[at], Guess: true})
		}
	}
	f.do(session.Close{})
	f.do(session.Reveal{})
	return f.state, f.err
}

// folding decides and applies commands with no journal; the first error stays.
type folding struct {
	state *session.State
	err   error
}

func (f *folding) do(act session.Act) {
	if f.err != nil {
		return
	}
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	events, err := f.state.Decide(session.Command{At: at, Actor: session.Host, Act: act})
	if err != nil {
		f.err = err
		return
	}
	for _, e := range events {
		seq, _ := f.state.Position()
		f.state.Apply(session.Recorded{Seq: seq + 1, At: at, Actor: session.Host, Event: e})
	}
}
