package stats

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// FriedmanTest is the result of Friedman's test of whether judges put samples in
// a common order. RankSums are in order of sample, the lowest score having rank
// 1 and ties the mean of their ranks. TieTerm is Σ(t³-t) over the groups of t
// tied scores of a judge.
//
// ChiSquare is corrected for ties, Uncorrected is not; without ties they are
// equal. W is Kendall's coefficient of concordance, corrected for ties: 1 when
// all judges have the same order, 0 when their ranks cancel out.
//
// PValue is the p-value of Method, ChiSquareP always that of the chi-square
// distribution with DF degrees of freedom. Neither has a side.
type FriedmanTest struct {
	Judges, Samples        int
	RankSums               []float64
	TieTerm                int
	Uncorrected, ChiSquare float64
	DF                     int
	W                      float64
	Method                 PMethod
	PValue                 float64
	ChiSquareP             float64
	Warnings               []Warning
}

// OneJudge warns that a single judge's order cannot be shared.
const OneJudge WarningKind = "one-judge"

const (
	// mostArrangements bounds the enumeration, in rankings added to a set of rank
	// sums: a fifth of a second.
	mostArrangements = 4_000_000
	// mostRanked is the number of samples up to which rankings are enumerated.
	mostRanked = 7
)

// Friedman tests whether judges, one a row, put the samples, one a column, in a
// common order by their scores. With m judges, k samples, R_j the rank sums and
// T the tie term
//
//	S = Σ (R_j - m(k+1)/2)²
//	ChiSquare = 12 S / (m k (k+1) - T/(k-1))    W = ChiSquare / (m (k-1))
//
// (M. Friedman 1937, M. G. Kendall and B. Babington Smith 1939; from memory).
//
// Where the enumeration is short enough, the p-value is exact: the probability
// of an S at least as large when every arrangement of a judge's own ranks, ties
// included, is equally likely. It is valid, P(p ≤ a) ≤ a for every a, with a
// relative error below 1e-12. That covers, without ties, 3 samples with 100
// judges, 4 with 20, 5 with 8, 6 with 4 and 7 with 2; with ties more.
//
// Beyond it is P(χ²_{k-1} ≥ ChiSquare), an approximation. Without ties, for 3
// samples and 2 to 15 judges, 4 and 2 to 8, 5 and 2 to 5, its P(p ≤ a) exceeds
// a, between 0.001 and 0.2, by up to 0.0994.
//
// Where every judge ties all samples ChiSquare and W are 0 and the p-value 1.
//
// It panics unless there are a judge and 2 samples, every judge has as many
// scores, and all are finite and at most 1e100 in size.
func Friedman(scores [][]float64) FriedmanTest {
	checkScores(scores)
	m, k := len(scores), len(scores[0])
	out := FriedmanTest{Judges: m, Samples: k, RankSums: make([]float64, k), DF: k - 1}
	rows := make([][]int32, m)
	for i, row := range scores {
		ranks, ties := doubleRanks(row)
		rows[i] = ranks
		out.TieTerm += ties
		for j, rank := range ranks {
			out.RankSums[j] += float64(rank) / 2
		}
	}
	s := 0.0
	for _, r := range out.RankSums {
		apart := r - float64(m*(k+1))/2
		s += apart * apart
	}
	full := float64(m * k * (k + 1))
	out.Uncorrected = 12 * s / full
	if out.TieTerm < m*(k*k*k-k) {
		out.ChiSquare = 12 * s / (full - float64(out.TieTerm)/float64(k-1))
	} else {
		out.Warnings = append(out.Warnings, Warning{NothingToTest, "Every judge scored all samples alike: there is no order to test."})
	}
	out.W = out.ChiSquare / float64(m*(k-1))
	out.ChiSquareP = chiSquareUpper(out.ChiSquare, out.DF)
	out.Method, out.PValue = ChiSquareApproximation, out.ChiSquareP
	if m == 1 {
		out.Warnings = append(out.Warnings, Warning{OneJudge, "One judge alone always agrees: W says nothing."})
	}
	sums, ok := spreads(rows)
	if !ok {
		return out
	}
	out.Method = Exact
	out.PValue = min(1, sums.atLeast(spread(out.RankSums, m)))
	if least := sums.atLeast(sums.largest()); least > usualLevel && len(sums) > 1 {
		out.Warnings = append(out.Warnings, Warning{NothingSignificant, fmt.Sprintf(
			"No order by %s of these samples can be significant at %v.", judges(m), usualLevel)})
	}
	return out
}

func judges(n int) string {
	if n == 1 {
		return "1 judge"
	}
	return fmt.Sprintf("%d judges", n)
}

// doubleRanks returns twice the ranks of the scores, whole numbers even where
// ties share one, and Σ(t³-t) over the ties.
func doubleRanks(scores []float64) (ranks []int32, ties int) {
	order := make([]int, len(scores))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return scores[order[a]] < scores[order[b]] })
	ranks = make([]int32, len(scores))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && scores[order[to]] == scores[order[from]] {
			to++
		}
		for _, at := range order[from:to] {
			ranks[at] = int32(from + 1 + to)
		}
		t := to - from
		ties += t*t*t - t
		from = to
	}
	return ranks, ties
}

// A distribution of 4S, a whole number, by value.
type spreadChances map[int64]float64

func (c spreadChances) largest() (most int64) {
	for s := range c {
		most = max(most, s)
	}
	return most
}

// atLeast returns P(4S ≥ s), summed in a fixed order, smallest terms first.
func (c spreadChances) atLeast(s int64) (p float64) {
	var chances []float64
	for at, chance := range c {
		if at >= s {
			chances = append(chances, chance)
		}
	}
	slices.Sort(chances)
	for _, chance := range chances {
		p += chance
	}
	return p
}

// spread returns 4S of rank sums of m judges.
func spread(rankSums []float64, m int) (s int64) {
	for _, r := range rankSums {
		apart := int64(math.Round(2*r)) - int64(m*(len(rankSums)+1))
		s += apart * apart
	}
	return s
}

// rankSums are doubled rank sums in rising order, the unused places 0. The
// order of the samples does not matter for S, and sorting makes the sets of
// sums few.
type rankSums [mostRanked]int32

// spreads returns the distribution of 4S when every arrangement of each row is
// equally likely; ok is false where that takes too long.
func spreads(rows [][]int32) (chances spreadChances, ok bool) {
	k := len(rows[0])
	if k > mostRanked {
		return nil, false
	}
	states := []rankSums{{}}
	weights := []float64{1}
	work := 0
	for i, row := range rows {
		ways := arrangements(row)
		if i == 0 {
			ways = ways[:1] // all the same set of sums
		}
		if work += len(ways) * len(states); work > mostArrangements {
			return nil, false
		}
		index := make(map[rankSums]int, len(states))
		var nextStates []rankSums
		var nextWeights []float64
		for s, sums := range states {
			for _, way := range ways {
				next := sums
				for j, rank := range way {
					next[j] += rank
				}
				slices.Sort(next[:k])
				at, known := index[next]
				if !known {
					at = len(nextStates)
					index[next] = at
					nextStates = append(nextStates, next)
					nextWeights = append(nextWeights, 0)
				}
				nextWeights[at] += weights[s] / float64(len(ways))
			}
		}
		states, weights = nextStates, nextWeights
	}
	chances = spreadChances{}
	for s, sums := range states {
		at := int64(0)
		for _, sum := range sums[:k] {
			apart := int64(sum) - int64(len(rows)*(k+1))
			at += apart * apart
		}
		chances[at] += weights[s]
	}
	return chances, true
}

// arrangements returns the different orders of a row.
func arrangements(row []int32) (ways [][]int32) {
	way := slices.Clone(row)
	slices.Sort(way)
	for {
		ways = append(ways, slices.Clone(way))
		// The next in lexical order.
		i := len(way) - 2
		for i >= 0 && way[i] >= way[i+1] {
			i--
		}
		if i < 0 {
			return ways
		}
		j := len(way) - 1
		for way[j] <= way[i] {
			j--
		}
		way[i], way[j] = way[j], way[i]
		slices.Reverse(way[i+1:])
	}
}

func checkScores(scores [][]float64) {
	if len(scores) == 0 || len(scores[0]) < 2 {
		panic(fmt.Sprintf("stats: scores of %d judges of fewer than 2 samples", len(scores)))
	}
	for i, row := range scores {
		if len(row) != len(scores[0]) {
			panic(fmt.Sprintf("stats: judge %d scored %d samples, judge 1 %d", i+1, len(row), len(scores[0])))
		}
		for _, score := range row {
			checkScore(score)
		}
	}
}
