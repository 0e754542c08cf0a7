package session

import (
	"fmt"
	"math"
	"slices"

	"oddcup/stats"
)

// Outcome is what a test's registered analysis says.
type Outcome string

// The outcomes. A test for a difference gives different or undecided, one for
// similarity similar or undecided, one for both all four. Undecided never reads
// as "the same".
const (
	Different      Outcome = "different"
	DifferentSmall Outcome = "different but small" // and within the pd limit
	Similar        Outcome = "similar"             // within the pd limit
	Undecided      Outcome = "undecided"
)

// TestResult is a test's registered result: counts, exact p, and how large the
// difference looks.
type TestResult struct {
	Plan   TestPlan
	Method Method
	Number int // of the test, from 1

	Seats   int // on the lists
	N       int // answers counted; where assessors are counted, those with a majority
	Correct int // among them
	Sets    int // answers that count, also where assessors are counted
	Even    int // assessors whose sets split evenly: left out
	Voided  int // trays taken out
	Missing int // sets of listed seats with no answer that counts

	// The test for a difference; zero where the goal has none. In a sequential
	// test the number of answers depended on the answers: P is then no p-value,
	// and Looks says what was decided.
	P           float64   // exact; 1 where N is 0
	MinCorrect  int       // smallest count that shows a difference at α
	HasMin      bool      // false: no count of N answers can
	ActualAlpha float64   // probability of reaching MinCorrect by guessing
	Power       float64   // of N answers at the planned pd
	Null        []float64 // probability of 0 to N correct by guessing alone

	// The test for similarity; zero where the goal has none. With several sets a
	// seat Replicated holds it, and there is no p.
	SimilarP   float64 // probability of so few correct, or fewer, at the pd limit
	MinSimilar int     // two-sided: smallest count that shows similarity
	MaxCorrect int     // largest count that shows similarity at β
	HasMax     bool    // false: no count of N answers allows the conclusion
	ActualBeta float64 // probability of such counts at the pd limit
	PassAlike  float64 // probability of such counts when lots are identical
	PdUpper    float64 // upper limit of pd at the one-sided level 1 − β

	// Replicated is what replaces the count where similarity is judged from
	// several sets a seat; nil elsewhere.
	Replicated *stats.ReplicatedSimilarity

	// Spread is the overdispersion where there are several sets a seat and the
	// pooled count is tested; nil elsewhere.
	Spread *stats.BetaBinomialFit

	Looks []Look // of a sequential test

	// Estimates, with intervals at Confidence, two-sided: 1 − 2α beside a
	// one-sided test (1 − 2β where only similarity is tested) and 1 − α beside a
	// two-sided one, so that interval and p never disagree. Pd is
	// guess-corrected and may be negative; its interval is cut at 0. DPrime is 0
	// at or below chance, and unbounded above where every answer is correct. In
	// a two-sided test both have a sign and nothing is cut. They hold for
	// independent answers. Where assessors are counted they are NaN: a majority
	// has no pd, and its share would look larger than the difference is.
	Confidence     float64
	Pd             float64
	PdInterval     stats.Interval
	DPrime         float64
	DPrimeInterval stats.Interval

	// Decided is false where the registered order stops before this test: then
	// the count stands, and no conclusion may be drawn from it.
	Decided bool
	Outcome Outcome
}

// Look is what a sequential test saw after a whole round.
type Look struct {
	Flight, Round int
	N, Correct    int
	Decision      stats.Decision
	Cut           bool // the session was closed within the round: nothing is decided
}

func (s *State) testResult(i int, p TestPlan, answers []SeatAnswer) TestResult {
	m, _ := MethodByKey(p.Method)
	t := TestResult{Plan: p, Method: m, Number: i + 1}
	for _, seat := range s.Seats {
		if seat.Listed {
			t.Seats++
		}
	}
	var assessors []stats.Replicates
	at, served := -1, 0 // the seat that the last of assessors is of; sets on the table
	for _, a := range answers {
		if a.Test == i && a.Take == 0 {
			served++
		}
		switch {
		case a.Test != i:
		case a.Void != nil:
			t.Voided++
		case a.Answer != nil:
			if a.Seat != at {
				assessors, at = append(assessors, stats.Replicates{}), a.Seat
			}
			one := &assessors[len(assessors)-1]
			one.N++
			t.Sets++
			if a.Correct {
				one.Correct++
				t.Correct++
			}
		}
	}
	t.Missing = t.Seats*p.Sets - t.Sets
	if p.Sequential {
		t.Missing = served - t.Sets // what no round was served for is no gap
		t.N = t.Sets
		t.Looks = s.looksOf(i, t)
	}
	t.count(assessors)
	return t
}

// Analyse gives the registered result of a test whose answers were collected
// without a session, such as on paper. There is one Replicates for each seat on
// the list, with N 0 where none of its sets counts. The test is number 1 and
// decided by itself; for several tests see [DecideInOrder].
//
// It panics unless the test passes [Plan.Check], and where it is sequential: its
// looks are taken during a session.
func Analyse(p TestPlan, seats []stats.Replicates) TestResult {
	m, ok := MethodByKey(p.Method)
	if !ok || p.Sequential {
		panic(fmt.Sprintf("session: no analysis of the method %q, sequential %v", p.Method, p.Sequential))
	}
	t := TestResult{Plan: p, Method: m, Number: 1, Seats: len(seats)}
	var assessors []stats.Replicates
	for _, a := range seats {
		if a.N > 0 {
			assessors = append(assessors, a)
			t.Sets += a.N
			t.Correct += a.Correct
		}
	}
	t.Missing = t.Seats*p.Sets - t.Sets
	t.count(assessors)
	t.Decided, t.Outcome = true, t.outcome()
	return t
}

// DecideInOrder gives each test of a session its outcome: in the registered
// order up to the first that does not show what it was to show, and undecided
// after it. A blank test stands outside the order.
func DecideInOrder(tests []TestResult) {
	open := true // the registered order has not stopped
	for i := range tests {
		t := &tests[i]
		t.Decided = open || t.Plan.Blank != ""
		t.Outcome = Undecided
		if t.Decided {
			t.Outcome = t.outcome()
		}
		if t.Plan.Blank == "" {
			open = open && t.claims()
		}
	}
}

// Cautions are what must be read with the test, each a sentence without a
// capital letter.
func (t TestResult) Cautions() []string { return t.cautions() }

// majorities reports whether assessors are counted instead of sets: people may
// lean one way steadily, so their sets are not independent.
func (t *TestResult) majorities() bool { return !t.Method.Overall && t.Plan.Sets > 1 }

// count settles what is counted, and analyses it.
func (t *TestResult) count(assessors []stats.Replicates) {
	t.N = t.Sets
	if t.majorities() {
		sign := stats.SignByMajority(assessors)
		t.N, t.Correct, t.Even = sign.N, sign.Plus, sign.Ties
	}
	t.analyse(assessors)
}

// looksOf are the looks as they were taken, and the one at the end.
func (s *State) looksOf(i int, t TestResult) []Look {
	var all []Look
	stopped := false
	for _, l := range s.looks {
		stopped = l.Stop
		all = append(all, Look{Flight: l.Flight, Round: l.Round, N: l.n, Correct: l.correct, Decision: s.decisionAt(i, l.tally)})
	}
	switch {
	case stopped || t.N == 0:
	case len(s.Rounds) == 0 && len(all) > 0: // nothing was served since the last one
		if last := &all[len(all)-1]; last.Decision == stats.Continue {
			last.Decision = stats.Undecided
		}
	default:
		end := Look{Flight: s.Flight, Round: len(s.Rounds), N: t.N, Correct: t.Correct, Cut: !s.AllIn(), Decision: stats.Undecided}
		if d := s.decisionAt(i, tally{t.N, t.Correct}); d != stats.Continue && !end.Cut {
			end.Decision = d
		}
		all = append(all, end)
	}
	return all
}

// analyse fills in all that follows from the counts.
func (t *TestResult) analyse(assessors []stats.Replicates) {
	chance, p := t.Method.Chance(), t.Plan
	t.P = 1
	switch {
	case p.TwoSided && p.WantsDifference():
		t.Confidence = 1 - p.Alpha
	case p.WantsDifference():
		t.Confidence = 1 - 2*p.Alpha
	default:
		t.Confidence = 1 - 2*p.Beta
	}
	if t.N == 0 {
		return
	}
	for x := 0; x <= t.N; x++ {
		t.Null = append(t.Null, stats.PMF(t.N, x, chance))
	}
	if p.WantsDifference() {
		t.P = pValue(t.N, t.Correct, p, t.Method)
		t.MinCorrect, t.HasMin = minCorrect(t.N, p, t.Method)
		if t.HasMin {
			t.ActualAlpha = pValue(t.N, t.MinCorrect, p, t.Method)
		}
		t.Power = t.powerAtPd(assessors)
	}
	if p.WantsSimilarity() {
		t.similarity(assessors)
	}
	if p.Sets > 1 && t.Method.Overall && len(assessors) > 0 {
		fit := stats.FitBetaBinomial(assessors, chance, t.Confidence)
		t.Spread = &fit
	}
	if t.majorities() {
		none := stats.Interval{Lower: math.NaN(), Upper: math.NaN(), Confidence: t.Confidence}
		t.Pd, t.PdInterval, t.DPrime, t.DPrimeInterval = math.NaN(), none, math.NaN(), none
		return
	}
	pc := float64(t.Correct) / float64(t.N)
	t.Pd = stats.PdFromPc(pc, chance)
	if p.TwoSided {
		e := stats.EstimateBothWays(t.Correct, t.N, t.Confidence)
		t.Pd, t.PdInterval, t.DPrime, t.DPrimeInterval = e.Pd, e.PdInterval, e.DPrime, e.DPrimeInterval
		return
	}
	t.PdInterval = stats.PdInterval(t.Correct, t.N, chance, t.Confidence)
	t.DPrime = t.Method.Curve.DPrime(pc)
	t.DPrimeInterval = t.Method.Curve.DPrimeInterval(t.Correct, t.N, t.Confidence)
}

// similarity fills in the test of the pd limit. With several sets a seat the
// pooled count would take one good taster's sets for many people's, so the
// chance-corrected beta-binomial takes its place.
func (t *TestResult) similarity(assessors []stats.Replicates) {
	chance, p := t.Method.Chance(), t.Plan
	switch {
	case p.Sets > 1:
		r := stats.DecideReplicatedSimilarity(assessors, chance, p.Beta, p.PdLimit)
		t.Replicated, t.HasMax, t.PdUpper = &r, r.Conclusive, r.Upper
	case p.TwoSided:
		r := stats.SimilarBothWays(t.N, t.Correct, p.Beta, p.PdLimit)
		t.MinSimilar, t.MaxCorrect, t.HasMax = r.Lowest, r.Highest, r.Conclusive
		t.ActualBeta = stats.SimilarityPowerBothWays(t.N, p.Beta, p.PdLimit, stats.PcFromPd(p.PdLimit, chance))
		t.PassAlike, t.SimilarP = r.Power, r.PValue
		t.PdUpper = max(r.Estimate.PdInterval.Upper, -r.Estimate.PdInterval.Lower)
	default:
		panel := stats.SimilarityPanel(t.N, chance, p.Beta, stats.PcFromPd(p.PdLimit, chance))
		t.MaxCorrect, t.HasMax = panel.MaxCorrect, panel.Conclusive
		t.ActualBeta, t.PassAlike = panel.ActualBeta, panel.Power
		t.SimilarP = stats.SimilarityP(t.N, t.Correct, chance, p.PdLimit)
		t.PdUpper = stats.PdInterval(t.Correct, t.N, chance, 1-2*p.Beta).Upper
	}
}

// outcome is what the registered rule says of the counts.
func (t *TestResult) outcome() Outcome {
	different, similar := t.Plan.WantsDifference() && t.significant(), t.Plan.WantsSimilarity() && t.alike()
	switch {
	case different && similar:
		return DifferentSmall
	case different:
		return Different
	case similar:
		return Similar
	}
	return Undecided
}

// claims reports whether the registered order goes on after this test: where a
// difference was looked for it must have been found.
func (t *TestResult) claims() bool {
	if t.Plan.WantsDifference() {
		return t.Outcome == Different || t.Outcome == DifferentSmall
	}
	return t.Outcome == Similar
}

// lastLook is the decision that ended a sequential test.
func (t *TestResult) lastLook() stats.Decision {
	if len(t.Looks) == 0 {
		return stats.Undecided
	}
	return t.Looks[len(t.Looks)-1].Decision
}

// significant compares counts, not probabilities: where the tail is α itself, a
// last digit must not decide.
func (t *TestResult) significant() bool {
	if t.Plan.Sequential {
		return t.N > 0 && t.lastLook() == stats.Different
	}
	x := t.Correct
	if t.Plan.TwoSided {
		x = max(x, t.N-x)
	}
	return t.N > 0 && t.HasMin && x >= t.MinCorrect
}

// alike reports whether the count shows similarity.
func (t *TestResult) alike() bool {
	switch {
	case t.Plan.Sequential:
		return t.N > 0 && t.lastLook() == stats.Similar
	case t.N == 0 || !t.HasMax:
		return false
	case t.Replicated != nil:
		return t.Replicated.Similar
	}
	return t.Correct <= t.MaxCorrect && t.Correct >= t.MinSimilar
}

// powerAtPd is the power, at the planned pd, of the answers that count. With
// several sets a seat it goes by people, as in [Forecast].
func (t *TestResult) powerAtPd(assessors []stats.Replicates) float64 {
	p := t.Plan
	switch {
	case t.majorities():
		return powerOf(t.N, p, t.Method, pdOfMajorities(p.Sets, p.Pd))
	case p.Sets > 1 && t.HasMin:
		return stats.PooledPowerOf(assessors, t.Method.Chance(), p.Pd, t.MinCorrect)
	}
	return powerOf(t.N, p, t.Method, p.Pd)
}

func pValue(n, x int, p TestPlan, m Method) float64 {
	if p.TwoSided {
		return stats.TwoSidedP(n, x)
	}
	return stats.UpperTail(n, x, m.Chance())
}

// minCorrect of a two-sided test is the smallest number for the larger side.
func minCorrect(n int, p TestPlan, m Method) (int, bool) {
	alpha := p.Alpha
	if p.TwoSided {
		alpha /= 2
	}
	return stats.MinCorrect(n, m.Chance(), alpha)
}

func powerOf(n int, p TestPlan, m Method, pd float64) float64 {
	pc := stats.PcFromPd(pd, m.Chance())
	if !p.TwoSided {
		return stats.Power(n, m.Chance(), p.Alpha, pc)
	}
	x, ok := minCorrect(n, p, m)
	if !ok {
		return 0
	}
	return stats.UpperTail(n, x, pc) + stats.LowerTail(n, n-x, pc)
}

// Positions are how often a cup in each place was named, left to right: the
// first cup of an answer, or in a tetrad the one named with the leftmost.
func (r Result) Positions(test int) []int {
	return r.positions(test, func(a SeatAnswer) bool { return a.Void == nil })
}

// AmendedPositions are the Positions without the sets taken out after the close.
func (r Result) AmendedPositions(test int) []int {
	return r.positions(test, func(a SeatAnswer) bool { return a.Void == nil && a.Amend == nil })
}

func (r Result) positions(test int, in func(SeatAnswer) bool) []int {
	var counts []int
	for _, a := range r.Answers {
		if a.Test != test || a.Answer == nil || !in(a) {
			continue
		}
		if counts == nil {
			counts = make([]int, len(a.Codes))
		}
		named := a.Answer.Codes()
		counts[slices.Index(a.Codes, named[len(named)-1])]++
	}
	return counts
}
