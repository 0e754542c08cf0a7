package stats

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/mathext"
)

// ShrunkenShare is what is known of one assessor's probability of a correct answer
// in sets of one kind, given what the whole panel did: the posterior mean and an
// interval with its confidence, half of the rest to each side. Share is Correct/N.
type ShrunkenShare struct {
	N, Correct int
	Share      float64
	PC         float64
	Interval   Interval
}

// The weak prior of how much assessors differ (own choice): logit Gamma normal, so
// that Gamma lies between 0.006 and 0.65 with probability 0.95. Gamma goes about as
// the square of a spread, so this is as weak as the prior of [FitPanel]'s Spread.
const (
	usualGamma = 0.1
	gammaSD    = 1.4
)

// strangers is the share of assessors of whom the others tell nothing (own choice).
const strangers = 0.05

// The grids of abilities, of their mean and of their overdispersion.
const (
	shareCells  = 256
	shareMus    = 32
	shareGammas = 25
)

// ShrinkShares shrinks what each assessor did in the same kind of sets towards the
// panel, by the chance-corrected beta-binomial, so that 4 of 5 does not outrank 40
// of 55. For sets of mixed difficulty or method use [FitPanel].
//
// An assessor's ability π above chance C is Beta over the panel, with mean Mu and
// overdispersion Gamma as in [BetaBinomial], but for one assessor in 20, whose π is
// uniform (own choice): so one who guesses among able ones is not held to be nearly as
// able. PC = C + (1-C) E[π | all answers]. Neither Mu nor Gamma is taken as known: both
// are integrated over,
//
//	p(π_j | x) ∝ Bin(x_j; n_j, C + (1-C) π_j) ∫ p(π_j | μ, γ) p(μ, γ | x without j) dμ dγ
//
// with Mu uniform and logit Gamma normal around logit 0.1 with standard deviation
// 1.4 before any answer (own choice). So few assessors, or such as hardly tell how
// much they differ, get wide intervals, and nobody is put down as equal to the others
// for want of answers.
//
// The integrals are sums over a grid of 256 cells of π, 32 of Mu and 25 of Gamma;
// against finer ones PC and limits move by less than 0.001, in the tests. By
// simulation (panels of 3, 6 and 12 with 5 to 55 sets each, chance 1/3, Mu 0.2, 0.4 and
// 0.7, 360 to 1440 assessors a case) an interval of 0.95 covers 0.97 to 0.997 where
// Gamma is 0, 0.94 to 0.98 at 0.1 and 0.91 to 0.96 at 0.3.
//
// It panics on an empty list, an impossible count, a chance outside [0, 1) and a
// confidence not between 0 and 1.
func ShrinkShares(assessors []Replicates, chance, confidence float64) []ShrunkenShare {
	if !(confidence > 0 && confidence < 1) {
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	t := newTally(assessors, chance)
	panels := sharePanels()
	logs := make([]float64, len(panels)) // of the panels' probabilities, given all answers
	likelihoods := make([][shareCells]float64, len(t.groups))
	marginals := make([][]float64, len(t.groups)) // by group and panel
	inParallel(len(t.groups), func(i int) {
		g := t.groups[i]
		likelihoods[i] = shareLikelihood(g.n, g.x, chance)
		marginals[i] = make([]float64, len(panels))
		for k := range panels {
			for c, p := range &panels[k].cells {
				marginals[i][k] += p * likelihoods[i][c]
			}
		}
	})
	for k := range panels {
		logs[k] = panels[k].log
	}
	for i, g := range t.groups {
		for k, m := range marginals[i] {
			logs[k] += g.many * math.Log(m)
		}
	}
	lift(logs)
	shares := make([]ShrunkenShare, len(t.groups))
	inParallel(len(t.groups), func(i int) {
		var prior [shareCells]float64
		for k, w := range logs {
			if w /= marginals[i][k]; w > 0 {
				for c, p := range &panels[k].cells {
					prior[c] += w * p
				}
			}
		}
		shares[i] = shareGiven(t.groups[i].n, t.groups[i].x, chance, confidence, &prior, &likelihoods[i])
	})
	known := map[Replicates]ShrunkenShare{}
	for i, g := range t.groups {
		known[Replicates{g.n, g.x}] = shares[i]
	}
	out := make([]ShrunkenShare, len(assessors))
	for i, a := range assessors {
		out[i] = known[a]
	}
	return out
}

// shareGiven is the share of an assessor whose ability has the given prior by cell.
func shareGiven(n, x int, chance, confidence float64, prior, likelihood *[shareCells]float64) ShrunkenShare {
	var weight [shareCells]float64
	sum, mean := 0.0, 0.0
	for c := range weight {
		weight[c] = prior[c] * likelihood[c]
		sum += weight[c]
		mean += weight[c] * shareMiddle(c)
	}
	// Within a cell the mass is taken as evenly spread.
	reached := func(mass float64) float64 {
		for c, w := range weight {
			if mass <= w && w > 0 {
				from, to := shareEdge(c), shareEdge(c+1)
				return from + (to-from)*mass/w
			}
			mass -= w
		}
		return 1
	}
	tail := (1 - confidence) / 2 * sum
	return ShrunkenShare{
		N: n, Correct: x, Share: float64(x) / float64(n), PC: PcFromPd(mean/sum, chance),
		Interval: Interval{PcFromPd(reached(tail), chance), PcFromPd(reached(sum-tail), chance), confidence},
	}
}

// shareEdge is where cell c of the abilities begins: the cells are narrow near 0 and
// 1, where a panel may be crowded.
func shareEdge(c int) float64 {
	s := math.Sin(math.Pi / 2 * float64(c) / shareCells)
	return s * s
}

func shareMiddle(c int) float64 { return (shareEdge(c) + shareEdge(c+1)) / 2 }

// shareLikelihood is the probability of x of n by cell, 1 at its highest.
func shareLikelihood(n, x int, chance float64) (likelihood [shareCells]float64) {
	for c := range likelihood {
		likelihood[c] = LogPMF(n, x, PcFromPd(shareMiddle(c), chance))
	}
	lift(likelihood[:])
	return likelihood
}

// betaCells is the distribution of abilities over the cells.
func betaCells(mu, gamma float64) (cells [shareCells]float64) {
	a, b := mu*(1-gamma)/gamma, (1-mu)*(1-gamma)/gamma
	below := 0.0
	for c := range cells {
		to := 1.0
		if c < shareCells-1 {
			to = mathext.RegIncBeta(a, b, shareEdge(c+1))
		}
		cells[c] = max(0, to-below)
		below = to
	}
	return cells
}

// sharePanel is one panel of the grid: the abilities in it by cell, and the logarithm
// of its prior.
type sharePanel struct {
	cells [shareCells]float64
	log   float64
}

// sharePanels are the panels of the grid. Gamma reaches from 0.0015 to 0.88, evenly in
// logits.
var sharePanels = sync.OnceValue(func() []sharePanel {
	panels := make([]sharePanel, shareGammas*shareMus)
	inParallel(len(panels), func(i int) {
		z := -3 + 6*float64(i/shareMus)/(shareGammas-1)
		mu, gamma := (float64(i%shareMus)+0.5)/shareMus, logistic(logit(usualGamma)+gammaSD*z)
		panels[i] = sharePanel{betaCells(mu, gamma), -z * z / 2}
		for c, p := range panels[i].cells {
			panels[i].cells[c] = (1-strangers)*p + strangers*(shareEdge(c+1)-shareEdge(c))
		}
	})
	return panels
})
