package stats

import (
	"fmt"
	"slices"
)

// RisksByPeople is [Sequential.Risks] where Every people answer in each round and
// each of them in the given number of rounds, after which as many others come.
// At P1 a share pd of them, the [PdFromPc] of P1 over the guessing P0,
// perceives the difference and gets each set right, and the others guess, as
// [Perceivers] do. With m perceivers at the table a round adds m right answers and
// Bin(Every-m, P0):
//
//	w(n+Every, c) = Σ_y w(n, c-m-y) P(Y = y),   M ~ Bin(Every, pd) anew for other people
//
// with what is decided taken out at each look. With one round each the answers
// are independent, and these are the risks of Risks. The absolute error of a
// probability is below 1e-12.
//
// It panics where Risks does and unless sets ≥ 1 and the maximum is a whole
// number of such tables.
func (p Sequential) RisksByPeople(sets int) SequentialRisks {
	p.check()
	checkSize(sets)
	if p.Max == 0 || p.Max%(p.Every*sets) != 0 {
		panic(fmt.Sprintf("stats: %d answers are no whole tables of %d people with %d sets each", p.Max, p.Every, sets))
	}
	return p.risksOf(p.Outcome(p.P0), p.outcomeByPeople(sets))
}

// slight is the probability below which a count of a sequential test by people
// is let go.
const slight = 1e-18

// outcomeByPeople is [Sequential.Outcome] at P1, by people.
func (p Sequential) outcomeByPeople(sets int) SequentialOutcome {
	lines, pd := p.lines(), PdFromPc(p.P1, p.P0)
	out := SequentialOutcome{PC: p.P1}
	table := p.Every * sets
	begun := counted{mass: []float64{1}} // undecided when other people sit down
	for n := 0; n < p.Max; n += table {
		after := make([]float64, n+table+1)
		for m := 0; m <= p.Every; m++ {
			share := PMF(p.Every, m, pd)
			if share < slight {
				continue
			}
			round := p.roundOf(m)
			at := counted{begun.from, slices.Clone(begun.mass)}
			for r := 1; r <= sets && len(at.mass) > 0; r++ {
				at.add(round.mass)
				at.from += round.from
				at = p.undecided(lines, n+r*p.Every, share, at, &out)
			}
			for i, w := range at.mass {
				after[at.from+i] += share * w
			}
		}
		begun = counted{mass: after}
		begun.trimBelow(slight)
	}
	out.Undecided = massOf(begun.mass)
	out.ExpectedN += float64(p.Max) * out.Undecided
	return out
}

// roundOf is the distribution of what a round with m perceivers adds.
func (p Sequential) roundOf(m int) counted {
	guessing := p.Every - m
	round := counted{from: m, mass: []float64{1}}
	if guessing > 0 {
		round.mass = make([]float64, guessing+1)
		for y := range round.mass {
			round.mass[y] = PMF(guessing, y, p.P0)
		}
	}
	round.trimBelow(slight)
	return round
}

// undecided takes out of the counts at a look what it decides, and adds that to
// the outcome with the share of tests that it is of.
func (p Sequential) undecided(lines SequentialLines, n int, share float64, at counted, out *SequentialOutcome) counted {
	similar, different := p.ends(lines, n)
	from := min(max(similar+1-at.from, 0), len(at.mass))
	to := min(max(different-at.from, from), len(at.mass))
	low, high := share*massOf(at.mass[:from]), share*massOf(at.mass[to:])
	out.Similar += low
	out.Different += high
	out.ExpectedN += float64(n) * (low + high)
	return counted{at.from + from, at.mass[from:to]}
}
