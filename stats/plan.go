package stats

import "fmt"

// Goal is what a test is planned to show.
type Goal string

const (
	GoalDifference Goal = "difference" // that a perceptible difference exists
	GoalSimilarity Goal = "similarity" // that no meaningful difference exists
)

// Sided tells whether a test or a limit looks one way or both ways.
type Sided string

const (
	OneSided Sided = "one-sided"
	TwoSided Sided = "two-sided"
)

// LargestPanel is the largest number of assessors that is planned for.
const LargestPanel = 1_000_000

// smallestRisk is the smallest alpha or beta that is planned for.
const smallestRisk = 1e-100

// Panel is a number of evaluations N with the count that decides and the risks
// that go with it. It holds for one goal, one pair of risks and one pc.
//
// For a difference MinCorrect or more correct answers decide; two-sided it is
// the smallest number for the larger side. Conclusive is false, and MinCorrect
// 0, where no count reaches alpha.
//
// For similarity MaxCorrect or fewer decide; two-sided it is the largest number
// for the larger side. Conclusive is false where that allows no conclusion;
// MaxCorrect then is a count below chance, or -1.
//
// ActualAlpha is the exact probability of "there is a difference" (or of
// missing "they are alike") when everybody guesses, ActualBeta that of missing
// the difference (or of "they are alike") at pc. Power is the probability to
// reach the goal where it is true: 1 - ActualBeta for a difference, 1 -
// ActualAlpha for similarity. None of them is ever computed as one minus the
// other.
type Panel struct {
	N                       int
	Conclusive              bool
	MinCorrect, MaxCorrect  int
	ActualAlpha, ActualBeta float64
	Power                   float64
}

// Sizes is the answer of the planner for a goal, the two risks and pc.
//
// Assessors is the smallest panel, of at least 3, that reaches both risks: the
// definition of the tables in the standards, which start at 3. Stable is the
// smallest from which every larger one reaches them as well; power moves in a
// saw-tooth, so some between the two fail. Each size below ProvenFrom was
// computed, and from there on a bound shows that all reach both risks.
//
// Found is false, and the panels and ProvenFrom zero, where nothing up to
// [LargestPanel] can be promised; a warning then says why.
type Sizes struct {
	Goal        Goal
	Sided       Sided
	Chance, Pc  float64
	Alpha, Beta float64
	Found       bool
	Assessors   Panel
	Stable      Panel
	ProvenFrom  int
	Warnings    []Warning
}

// NothingToPlan and TooLargeToPlan say why [Sizes] holds no panel.
const (
	NothingToPlan  WarningKind = "nothing-to-plan"
	TooLargeToPlan WarningKind = "too-large-to-plan"
)

// Assessors returns the numbers of assessors that a difference test needs: at
// most alpha to find a difference where everybody guesses, at most beta to miss
// it where each answer is correct with probability pc. The pc of a proportion
// of discriminators comes from [PcFromPd], that of a d′ from
// [Psychometric.PC]. Both are exact; a risk within 1e-12 of its bound,
// relatively, reaches it.
//
// A two-sided test is a paired comparison with chance 1/2 and the convention of
// [TwoSidedP]; it counts a finding in either direction, see [PowerTwoSided].
//
// The sizes from a lower to an upper bound are computed one by one, each from
// the one before in a constant number of steps. With D the Kullback-Leibler
// divergence of two probabilities of a correct answer, no test at all does with
// fewer than
//
//	max( D(alpha, 1-beta)/D(chance, pc), D(1-beta, alpha)/D(pc, chance) )
//
// (data processing inequality), and for any t between chance and pc every n of
// at least
//
//	max( ln(1/alpha)/D(t, chance), ln(1/beta)/D(t, pc) )
//
// suffices, since the count ⌈n t⌉ as the minimum keeps both risks (Chernoff's
// bound); the t is taken at which both terms are equal. Two-sided, alpha/2
// stands in the second bound. Both bounds are textbook results, from memory.
//
// It panics unless 0 < chance < 1, 0 ≤ pc ≤ 1, 0 < alpha < 1 and 0 < beta < 1,
// or when sided is [TwoSided] and chance is not 1/2. A pc not above chance, or
// one too close to it, is answered by a warning.
func Assessors(chance, alpha, beta, pc float64, sided Sided) Sizes {
	checkSided(sided, chance)
	s := newSizes(GoalDifference, sided, chance, alpha, beta, pc)
	if len(s.Warnings) > 0 {
		return s
	}
	search := sizeSearch{
		null: chance, alt: pc, level: alpha, missed: beta, highest: alpha,
		twoSided: sided == TwoSided,
	}
	if search.twoSided {
		search.level = alpha / 2
	}
	return s.fill(search, func(n int) Panel { return DifferencePanel(n, chance, alpha, pc, sided) })
}

// AssessorsSimilar returns the numbers of assessors that a similarity test
// needs: at most beta to call products alike where each answer is correct with
// probability pc, at most alpha to miss that identical products are alike, with
// a maximum that allows a conclusion (see [MaxCorrect]).
//
// A count that separates the two risks serves either goal, so the numbers equal
// those of [Assessors], but where a large alpha leaves the maximum below
// chance. The counts that decide at them differ. The search is that of
// [Assessors] for the wrong answers, with the roles exchanged. The test is
// one-sided. A warning tells where fewer than 30 would do, which is not advised.
//
// It panics unless 0 < chance < 1, 0 ≤ pc ≤ 1, 0 < alpha < 1 and 0 < beta < 1.
func AssessorsSimilar(chance, alpha, beta, pc float64) Sizes {
	s := newSizes(GoalSimilarity, OneSided, chance, alpha, beta, pc)
	if len(s.Warnings) > 0 {
		return s
	}
	search := sizeSearch{
		null: 1 - pc, alt: 1 - chance, level: beta, missed: alpha, highest: beta,
		conclusive: func(n, wrong int) bool { return atLeastChance(n, n-wrong, chance) },
	}
	s = s.fill(search, func(n int) Panel { return SimilarityPanel(n, chance, beta, pc) })
	if s.Found {
		s.Warnings = append(s.Warnings, adviceFewForSimilarity(s.Assessors.N)...)
	}
	return s
}

func newSizes(goal Goal, sided Sided, chance, alpha, beta, pc float64) Sizes {
	checkChance(chance)
	checkRisk("chance", chance)
	checkRisk("alpha", alpha)
	checkRisk("beta", beta)
	checkProbability("pc", pc)
	s := Sizes{Goal: goal, Sided: sided, Chance: chance, Pc: pc, Alpha: alpha, Beta: beta}
	switch {
	case pc <= chance:
		s.warn(NothingToPlan, "No panel is large enough: at this size of the difference nobody perceives it.")
	case min(alpha, beta) < smallestRisk:
		s.warn(TooLargeToPlan, fmt.Sprintf("A risk below %v is not planned for.", smallestRisk))
	}
	return s
}

func (s *Sizes) warn(kind WarningKind, say string) {
	s.Warnings = append(s.Warnings, Warning{Kind: kind, Say: say})
}

func (s Sizes) fill(search sizeSearch, panel func(n int) Panel) Sizes {
	var first, stable, proven int
	if s.Pc == 1 {
		first = allPerceive(s.Goal, s.Sided, s.Chance, s.Alpha)
		stable, proven = first, first
	} else {
		first, stable, proven = search.run()
	}
	if first == 0 {
		s.warn(TooLargeToPlan, fmt.Sprintf("Up to %d assessors no number is sure to be enough for a difference this small at these risks.", LargestPanel))
		return s
	}
	s.Found = true
	s.Assessors, s.Stable, s.ProvenFrom = panel(first), panel(stable), proven
	return s
}

// allPerceive returns the smallest panel of at least 3 that keeps alpha where
// nobody is ever wrong, so that one count decides: all correct for a
// difference, one less for similarity. Every larger panel keeps it too. 0 when
// it exceeds [LargestPanel].
func allPerceive(goal Goal, sided Sided, chance, alpha float64) int {
	n := leastSignificant(chance, alpha, sided)
	if n == 0 {
		return 0
	}
	n = max(n, smallestPanel)
	for goal == GoalSimilarity && !atLeastChance(n, n-1, chance) {
		n++
	}
	return n
}

// DifferencePanel returns what a difference test with n evaluations does: its
// minimum correct at alpha, its actual alpha, and its power at pc, all exact.
//
// It panics unless n ≥ 1 and chance, alpha and pc lie in [0, 1], or when sided
// is [TwoSided] and chance is not 1/2.
func DifferencePanel(n int, chance, alpha, pc float64, sided Sided) Panel {
	checkSided(sided, chance)
	checkProbability("pc", pc)
	p := Panel{N: n, ActualBeta: 1}
	if sided == TwoSided {
		p.MinCorrect, p.Conclusive = MinMajority(n, alpha)
	} else {
		p.MinCorrect, p.Conclusive = MinCorrect(n, chance, alpha)
	}
	if !p.Conclusive {
		return p
	}
	if sided == TwoSided {
		p.ActualAlpha = TwoSidedP(n, p.MinCorrect)
		p.Power = bothWays(n, p.MinCorrect, pc)
		p.ActualBeta = betweenWays(n, p.MinCorrect, pc)
		return p
	}
	p.ActualAlpha = UpperTail(n, p.MinCorrect, chance)
	p.Power = UpperTail(n, p.MinCorrect, pc)
	p.ActualBeta = below(n, p.MinCorrect, pc)
	return p
}

// SimilarityPanel returns what a similarity test with n evaluations does: its
// maximum correct at beta and the limit pc, its actual beta, and the
// probability that identical products pass, all exact. Without a conclusion
// nothing ever passes: the actual beta is 0 and the actual alpha 1.
//
// It panics unless n ≥ 1, 0 ≤ chance < 1 and beta and pc lie in [0, 1].
func SimilarityPanel(n int, chance, beta, pc float64) Panel {
	p := Panel{N: n, ActualAlpha: 1}
	p.MaxCorrect, p.Conclusive = maxCorrect(n, chance, beta, pc)
	if !p.Conclusive {
		return p
	}
	p.ActualBeta = LowerTail(n, p.MaxCorrect, pc)
	p.Power = LowerTail(n, p.MaxCorrect, chance)
	p.ActualAlpha = above(n, p.MaxCorrect, chance)
	return p
}

// MinMajority returns the smallest number of answers for the larger side that
// shows a difference in a two-sided paired comparison: the smallest x ≥ n/2
// with [TwoSidedP] at most alpha, a tie counting as in [MinCorrect]. ok is
// false, and x 0, where not even x = n reaches alpha.
//
// It panics unless n ≥ 1 and 0 ≤ alpha ≤ 1.
func MinMajority(n int, alpha float64) (x int, ok bool) {
	checkProbability("alpha", alpha)
	if alpha == 1 {
		checkSize(n)
		return (n + 1) / 2, true
	}
	return MinCorrect(n, 0.5, alpha/2)
}

// PowerTwoSided returns the probability that a two-sided paired comparison of n
// answers, each for one product with probability pc, is significant at alpha:
// its larger side reaches the [MinMajority] x,
//
//	P(X ≥ x) + P(X ≤ n-x), X ~ Bin(n, pc)
//
// 0 where no count does. Both directions count, so pc and 1 - pc have the same
// power, and at pc = 1/2 it is the actual alpha. What the wrong direction adds
// is below alpha/2 and vanishes where the power is of use.
//
// It panics unless n ≥ 1 and alpha and pc lie in [0, 1].
func PowerTwoSided(n int, alpha, pc float64) float64 {
	checkProbability("pc", pc)
	x, ok := MinMajority(n, alpha)
	if !ok {
		return 0
	}
	return bothWays(n, x, pc)
}

// Detectable returns the smallest proportion of discriminators pd at which a
// difference test with n evaluations at level alpha has the given power, the
// inverse of [Power] (or [PowerTwoSided]) in pd. Its d′ is that of the pc of
// pd. ok is false, and pd 1, where no count is significant. pd is 0 where the
// actual alpha already is that power. The absolute error is below 1e-14, also
// for a power next to 1.
//
// It panics unless n ≥ 1, 0 ≤ chance < 1, 0 ≤ alpha ≤ 1 and 0 < power < 1, or
// when sided is [TwoSided] and chance is not 1/2.
func Detectable(n int, chance, alpha, power float64, sided Sided) (pd float64, ok bool) {
	checkSided(sided, chance)
	checkChance(chance)
	checkRisk("power", power)
	x, ok := MinCorrect(n, chance, alpha)
	reach := func(pc float64) float64 { return UpperTail(n, x, pc) }
	miss := func(pc float64) float64 { return below(n, x, pc) }
	if sided == TwoSided {
		x, ok = MinMajority(n, alpha)
		reach = func(pc float64) float64 { return bothWays(n, x, pc) }
		miss = func(pc float64) float64 { return betweenWays(n, x, pc) }
	}
	enough := func(pc float64) bool { return reach(pc) >= power }
	if power > 0.5 { // close to 1 the power no longer shows the digits of pc
		enough = func(pc float64) bool { return miss(pc) <= 1-power }
	}
	switch {
	case !ok:
		return 1, false
	case enough(chance):
		return 0, true
	}
	return max(0, PdFromPc(bisect(chance, 1, enough), chance)), true
}

// PowerPoint is a point of a power curve: the probability to reach the goal
// when a share Pd of the assessors perceives the difference.
type PowerPoint struct {
	Pd, Pc, Power float64
}

// PowerCurve returns the power of a difference test with n evaluations at level
// alpha for pd = 0, 1/steps, …, 1. It rises with pd.
//
// It panics unless n ≥ 1, 0 ≤ chance < 1, 0 ≤ alpha ≤ 1 and steps ≥ 1, or when
// sided is [TwoSided] and chance is not 1/2.
func PowerCurve(n int, chance, alpha float64, sided Sided, steps int) []PowerPoint {
	panel := DifferencePanel(n, chance, alpha, 1, sided)
	return powerCurve(chance, steps, func(pc float64) float64 {
		switch {
		case !panel.Conclusive:
			return 0
		case sided == TwoSided:
			return bothWays(n, panel.MinCorrect, pc)
		}
		return UpperTail(n, panel.MinCorrect, pc)
	})
}

// SimilarityCurve returns the probability that a similarity test with n
// evaluations at risk beta and the limit pd calls products alike, for true
// proportions of discriminators from 0 to 1 in steps. It falls with them.
//
// It panics where [MaxCorrect] does and unless steps ≥ 1.
func SimilarityCurve(n int, chance, beta, pd float64, steps int) []PowerPoint {
	x, ok := MaxCorrect(n, chance, beta, pd)
	return powerCurve(chance, steps, func(pc float64) float64 {
		if !ok {
			return 0
		}
		return LowerTail(n, x, pc)
	})
}

func powerCurve(chance float64, steps int, power func(pc float64) float64) []PowerPoint {
	checkChance(chance)
	if steps < 1 {
		panic(fmt.Sprintf("stats: power curve of %d steps", steps))
	}
	points := make([]PowerPoint, steps+1)
	for i := range points {
		pd := float64(i) / float64(steps)
		pc := PcFromPd(pd, chance)
		points[i] = PowerPoint{Pd: pd, Pc: pc, Power: power(pc)}
	}
	return points
}

// bothWays returns P(X ≥ x) + P(X ≤ n-x), x at least n/2.
func bothWays(n, x int, pc float64) float64 {
	if 2*x <= n {
		return 1
	}
	return UpperTail(n, x, pc) + LowerTail(n, n-x, pc)
}

// betweenWays returns P(n-x < X < x), x at least n/2.
func betweenWays(n, x int, pc float64) float64 {
	if 2*x <= n+1 {
		return 0
	}
	pc = max(pc, 1-pc)
	return max(0, LowerTail(n, x-1, pc)-LowerTail(n, n-x, pc))
}

// below returns P(X < x).
func below(n, x int, pc float64) float64 {
	if x == 0 {
		return 0
	}
	return LowerTail(n, x-1, pc)
}

// above returns P(X > x).
func above(n, x int, pc float64) float64 {
	if x == n {
		return 0
	}
	return UpperTail(n, x+1, pc)
}

func checkSided(sided Sided, chance float64) {
	switch {
	case sided == OneSided:
	case sided == TwoSided && chance == 0.5:
	case sided == TwoSided:
		panic(fmt.Sprintf("stats: two-sided test with chance = %v, not 1/2", chance))
	default:
		panic(fmt.Sprintf("stats: sided %q", string(sided)))
	}
}

func checkRisk(name string, risk float64) {
	if !(risk > 0 && risk < 1) { // NaN fails too
		panic(fmt.Sprintf("stats: %s = %v is not between 0 and 1", name, risk))
	}
}
