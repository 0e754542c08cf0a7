package stats

import "math"

// sizeSearch looks for the panel sizes n at which a test of Y ~ Bin(n, null)
// against Y ~ Bin(n, alt), 0 < null < alt < 1, keeps both risks: with c the
// smallest count with P(Y ≥ c | null) ≤ level,
//
//	P(Y < c | alt) ≤ missed
//
// less P(Y ≤ n-c | alt) for a two-sided test. For a difference Y counts the
// correct answers, for similarity the wrong ones.
type sizeSearch struct {
	null, alt     float64
	level, missed float64

	// highest is the risk of finding something under null: level, or twice that
	// for a two-sided test.
	highest float64

	twoSided bool

	// conclusive tells whether the count c may decide, which it may as long as it
	// does not exceed n·alt; nil when any may.
	conclusive func(n, c int) bool
}

// smallestPanel is where the tables of the standards start.
const smallestPanel = 3

// run returns the smallest size that keeps both risks, the smallest from which
// all do, and the size from which a bound proves that; zeros when that size
// exceeds [LargestPanel].
func (s sizeSearch) run() (first, stable, proven int) {
	from, to := s.bounds()
	if to > LargestPanel {
		return 0, 0, 0
	}
	proven = int(to)
	at := s.start(int(from))
	for {
		if s.keeps(at) {
			if first == 0 {
				first = at.n
			}
			if stable == 0 {
				stable = at.n
			}
		} else {
			stable = 0
		}
		if at.n >= proven && stable != 0 {
			return first, stable, max(proven, stable)
		}
		at = s.next(at)
	}
}

// bounds returns a size below which no test keeps both risks and one from
// which this one does. Each leaves 1e-9 of itself for rounding.
func (s sizeSearch) bounds() (from, to float64) {
	from = max(smallestPanel, FewestAnswers(s.null, s.highest, s.missed, s.alt))
	// A threshold t further from null serves level and hurts missed.
	nullNeeds := func(t float64) float64 { return -math.Log(s.level) / divergence(t, s.null) }
	altNeeds := func(t float64) float64 { return -math.Log(s.missed) / divergence(t, s.alt) }
	t := bisect(s.null, s.alt, func(t float64) bool { return nullNeeds(t) <= altNeeds(t) })
	to = max(nullNeeds(t), altNeeds(t))
	if s.conclusive != nil {
		to = max(to, 1/(s.alt-t)) // where ⌈n t⌉ stays below n·alt
	}
	return math.Ceil(from * (1 - 1e-9)), math.Ceil(max(from, to*(1+1e-9)))
}

// divergence returns the Kullback-Leibler divergence of Bin(1, p) from
// Bin(1, q):
//
//	p ln(p/q) + (1-p) ln((1-p)/(1-q))
func divergence(p, q float64) float64 {
	return deviance(p, 1, q) + deviance(1-p, 1, 1-q)
}

// sizeState is a panel size n with its count c, and the tails there.
type sizeState struct {
	n, c int

	// beyond is P(Y ≥ c | null), as the lower tail of n - Y.
	beyond movingTail

	// short is P(Y < c | alt), wrongWay P(Y ≤ n-c | alt).
	short, wrongWay movingTail
}

// start returns the state at the first size from n on at which some count
// keeps level.
func (s sizeSearch) start(n int) sizeState {
	// null^n = level; the next lines put right what rounding does to it.
	n = max(n, int(math.Log(s.level)/math.Log(s.null))-1)
	for ; ; n++ {
		c, ok := MinCorrect(n, s.null, s.level)
		if !ok {
			continue
		}
		return sizeState{
			n: n, c: c,
			beyond:   newMovingTail(n, n-c, 1-s.null),
			short:    newMovingTail(n, c-1, s.alt),
			wrongWay: newMovingTail(n, n-c, s.alt),
		}
	}
}

// next returns the state one size up. The count there is c or c+1: c more
// likely reached by one more evaluation, c+1 less likely than c was before.
func (s sizeSearch) next(at sizeState) sizeState {
	next := at
	next.n++
	next.beyond.pass()
	stays := next.beyond.tail <= s.level
	if near(next.beyond.tail, s.level) {
		stays = LogUpperTail(next.n, at.c, s.null) <= math.Log(s.level)+tie
	}
	if stays {
		next.short.stay()
		next.wrongWay.pass()
		return next
	}
	next.c++
	next.beyond = at.beyond
	next.beyond.stay()
	next.short.pass()
	next.wrongWay.stay()
	return next
}

// keeps tells whether the test keeps the risk to miss alt, and may decide.
func (s sizeSearch) keeps(at sizeState) bool {
	if s.conclusive != nil && !s.conclusive(at.n, at.c) {
		return false
	}
	missed := at.short.tail
	if s.twoSided {
		missed -= at.wrongWay.tail
	}
	if !near(missed, s.missed) {
		return missed <= s.missed
	}
	if s.twoSided {
		return betweenWays(at.n, at.c, s.alt) <= s.missed*(1+tie)
	}
	return LogLowerTail(at.n, at.c-1, s.alt) <= math.Log(s.missed)+tie
}

// near tells whether a moving tail is too close to a risk to be trusted beside
// it.
func near(tail, risk float64) bool {
	return math.Abs(tail-risk) <= 1e-9*risk
}

// movingTail is P(Y ≤ k), Y ~ Bin(n, p), for 0 < p < 1 and k < n, that follows
// n and k upwards by one addition or subtraction each. Its relative error stays
// below 1e-11: it is computed afresh before 256 steps have added up or half of it has
// been taken away.
type movingTail struct {
	n, k      int
	p         float64
	pmf, tail float64 // P(Y = k), P(Y ≤ k)

	steps int     // since the last fresh one
	fresh float64 // the tail then
}

func newMovingTail(n, k int, p float64) movingTail {
	t := movingTail{n: n, k: k, p: p, pmf: PMF(n, k, p), tail: LowerTail(n, k, p)}
	t.fresh = t.tail
	return t
}

// stay takes one evaluation more and the same k:
//
//	P(Y' ≤ k) = P(Y ≤ k) - p P(Y = k)
func (t *movingTail) stay() {
	t.tail -= t.p * t.pmf
	t.n++
	t.pmf *= float64(t.n) * (1 - t.p) / float64(t.n-t.k)
	t.moved()
}

// pass takes one evaluation and one k more:
//
//	P(Y' ≤ k+1) = P(Y ≤ k) + (1-p) P(Y = k+1)
func (t *movingTail) pass() {
	t.n++
	t.k++
	size, k := float64(t.n), float64(t.k)
	t.tail += t.pmf * (size - k) / k * t.p
	t.pmf *= size / k * t.p
	t.moved()
}

func (t *movingTail) moved() {
	t.steps++
	if t.steps == 256 || t.tail < t.fresh/2 {
		*t = newMovingTail(t.n, t.k, t.p)
	}
}
