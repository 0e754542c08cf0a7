package main

import (
	"context"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"oddcup/cmd/oddcup/panel"
	"oddcup/session"
)

// A habit is a way of guessing. pick gives one of n answers, from 0, left to
// right, for a person who has a place of their own, from 0 to 5, and gave the
// answer before last time (-1 for never).
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
	{name: "all alternating", shared: true, pick: func(n, _, before int, _ *rand.Rand) int { return (before + 1) % n }},
}

// tasters gives what each seat answers to the codes of a set: the places of the
// cups that it names.
func (s simulation) tasters(l session.Layout, chance *rand.Rand) func(seat, set int, codes []session.Code) []int {
	_, m := s.test()
	if s.habit == nil {
		return s.noses(l, m, chance)
	}
	seats := len(l.Seats)
	before, own := make([]int, seats), make([]int, seats)
	for i := range before {
		before[i], own[i] = -1, chance.IntN(6)
	}
	return func(seat, _ int, codes []session.Code) []int {
		// What can be answered: each cup but the reference, or the partner of the
		// leftmost cup.
		n := len(codes) - max(m.References(), m.Picks-1)
		pick := s.habit.pick(n, own[seat-1], before[seat-1], chance)
		before[seat-1] = pick
		if m.Picks == 2 {
			return []int{0, 1 + pick}
		}
		return []int{m.References() + pick}
	}
}

// noses are tasters who perceive the d′.
func (s simulation) noses(l session.Layout, m session.Method, chance *rand.Rand) func(seat, set int, codes []session.Code) []int {
	return func(seat, set int, codes []session.Code) []int {
		order := l.Seats[seat-1][set-1].Order
		tray := panel.Tray{Method: m.Key, Picks: m.Picks, References: m.References()}
		for i := range codes {
			tray.Codes = append(tray.Codes, i)
		}
		places, _ := panel.Nose(s.dPrime, func(i int) bool { return order[i] == 'B' })(tray, chance)
		return places
	}
}

// streamOf is a stream of chance that repeats with the seed, for a name of any
// length.
func streamOf(seed uint64, name string) *rand.ChaCha8 {
	return rand.NewChaCha8(sha256.Sum256(fmt.Appendf(nil, "%d %s", seed, name)))
}

// onAllCores adds up what n independent runs give; the first error ends it.
func onAllCores(ctx context.Context, n int, one func(i int) (tally, error)) (tally, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	sums := make([]tally, runtime.GOMAXPROCS(0))
	var next atomic.Int64
	var running sync.WaitGroup
	for w := range sums {
		running.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				t, err := one(i)
				if err != nil {
					cancel(err)
					return
				}
				sums[w].different += t.different
				sums[w].similar += t.similar
			}
		})
	}
	running.Wait()
	var sum tally
	for _, t := range sums {
		sum.different += t.different
		sum.similar += t.similar
	}
	return sum, context.Cause(ctx)
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
