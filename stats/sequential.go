package stats

import (
	"fmt"
	"math"
)

// Sequential is the plan of a sequential test: the answers are looked at as
// they come, and the test ends as soon as they are enough. It decides between
// pc ≤ P0, taken as "similar", and pc ≥ P1, taken as "different" (A. Wald,
// sequential probability ratio test, 1945; ISO 16820 uses it for discrimination
// tests; both from memory).
//
// P0 is usually the chance of the method and P1 the pc that must not be missed.
// Alpha is the planned risk to say "different" at P0, Beta the planned risk to
// say "similar" at P1. The planned risks are not the real ones:
// [Sequential.Risks] computes those.
//
// Every is the number of answers from one look to the next: 1 looks after each
// answer, the number of seats looks after each round. Nothing is decided
// between two looks. Max, unless 0, is the number of answers at which the test
// ends in any case; it is a look even where it is no multiple of Every, and
// AtMax says what is decided there.
//
// The methods panic unless 0 < P0 < P1 < 1, Alpha > 0, Beta > 0,
// Alpha + Beta < 1, Every ≥ 1, Max ≥ 0 and, where there is a maximum, AtMax is
// one of its values.
type Sequential struct {
	P0, P1      float64
	Alpha, Beta float64
	Every, Max  int
	AtMax       Truncation
}

// Truncation is what a sequential test decides when it reaches its maximum
// between the lines.
type Truncation string

const (
	// MaxUndecided ends the test without a decision. It adds to neither risk
	// where the maximum is a look anyway, a multiple of Every.
	MaxUndecided Truncation = "undecided"

	// MaxNearest decides by the likelihood ratio: "different" where P1 explains
	// the answers better than P0, "similar" where P0 does or both do alike (Wald's
	// rule, from memory). It adds to both risks, the more the smaller the maximum.
	MaxNearest Truncation = "nearest"
)

// Decision is what a sequential test says at a look.
type Decision string

const (
	Continue  Decision = "continue"  // between the lines: go on
	Different Decision = "different" // at or above the upper line
	Similar   Decision = "similar"   // at or below the lower line
	Undecided Decision = "undecided" // between the lines at the maximum
)

// SequentialLines are the two decision lines, straight in the number n of
// answers, for the number correct:
//
//	lower(n) = LowerIntercept + Slope·n      upper(n) = UpperIntercept + Slope·n
//	g = ln(P1/P0) + ln((1-P0)/(1-P1))
//	Slope = ln((1-P0)/(1-P1))/g
//	LowerIntercept = ln(Beta/(1-Alpha))/g    UpperIntercept = ln((1-Beta)/Alpha)/g
//
// StepCorrect and StepWrong are what an answer adds to the logarithm of the
// likelihood ratio, LogLower and LogUpper the bounds of that logarithm.
//
// FirstSimilar and FirstDifferent are the first looks at which all answers
// wrong, or all correct, would decide; 0 where the maximum comes before.
type SequentialLines struct {
	Slope                        float64
	LowerIntercept               float64
	UpperIntercept               float64
	StepCorrect, StepWrong       float64
	LogLower, LogUpper           float64
	FirstSimilar, FirstDifferent int
}

// SequentialState is where a sequential test stands after N answers. Lower and
// Upper are the lines there; the count is at or below Lower where Correct ≤
// MaxCorrect and at or above Upper where Correct ≥ MinCorrect. MaxCorrect is -1
// and MinCorrect above N where no count reaches the line.
//
// LogRatio is the logarithm of the likelihood of the answers at P1 over that
// at P0. NextLook is the number of answers at the next look, 0 when the test
// has ended. Unused counts the answers that came after the end.
type SequentialState struct {
	N, Correct             int
	Lower, Upper           float64
	MaxCorrect, MinCorrect int
	LogRatio               float64
	Decision               Decision
	NextLook               int
	Unused                 int
}

// Lines returns the decision lines of the plan. The relative error of a value
// is below 1e-14.
func (p Sequential) Lines() SequentialLines {
	p.check()
	lines := p.lines()
	all := func(decided func(n int) bool, from float64) int {
		// The line crosses near from; the count there may be a tie.
		for n := p.lookFrom(from * (1 - 1e-9)); ; n = p.nextLook(n) {
			if n == 0 || decided(n) {
				return n
			}
		}
	}
	lines.FirstSimilar = all(
		func(n int) bool { return p.decide(lines, n, 0) == Similar },
		-lines.LowerIntercept/lines.Slope)
	lines.FirstDifferent = all(
		func(n int) bool { return p.decide(lines, n, n) == Different },
		lines.UpperIntercept/(1-lines.Slope))
	return lines
}

// Look returns the state after n answers, correct of them correct, for a test
// that no earlier look has ended. A count exactly on a line has reached it;
// exactly means within 1e-12 of the line, relatively. Where n is no look the
// decision is [Continue].
//
// It panics unless 0 ≤ correct ≤ n, and where n exceeds the maximum.
func (p Sequential) Look(n, correct int) SequentialState {
	p.check()
	if n < 0 || correct < 0 || correct > n || (p.Max > 0 && n > p.Max) {
		panic(fmt.Sprintf("stats: %d correct of %d at a look of at most %d", correct, n, p.Max))
	}
	lines := p.lines()
	return p.look(lines, n, correct)
}

// Follow returns the state of the test after answers in the order in which they
// count, true where correct: at the look that ended it, or after the last
// answer. Answers after the end are counted as unused and change nothing.
func (p Sequential) Follow(answers []bool) SequentialState {
	p.check()
	lines := p.lines()
	correct := 0
	for i, right := range answers {
		if right {
			correct++
		}
		n := i + 1
		if !p.isLook(n) || p.decide(lines, n, correct) == Continue {
			continue
		}
		state := p.look(lines, n, correct)
		state.Unused = len(answers) - n
		return state
	}
	return p.look(lines, len(answers), correct)
}

func (p Sequential) look(lines SequentialLines, n, correct int) SequentialState {
	state := SequentialState{
		N: n, Correct: correct,
		Lower:      lines.LowerIntercept + lines.Slope*float64(n),
		Upper:      lines.UpperIntercept + lines.Slope*float64(n),
		MaxCorrect: lines.maxCorrect(n),
		MinCorrect: lines.minCorrect(n),
		LogRatio:   float64(correct)*lines.StepCorrect + float64(n-correct)*lines.StepWrong,
		Decision:   Continue,
	}
	if p.isLook(n) {
		state.Decision = p.decide(lines, n, correct)
	}
	if state.Decision == Continue {
		state.NextLook = p.nextLook(n)
	}
	return state
}

// decide says what the count means at a look.
func (p Sequential) decide(lines SequentialLines, n, correct int) Decision {
	similar, different := p.ends(lines, n)
	switch {
	case correct >= different:
		return Different
	case correct <= similar:
		return Similar
	case n == p.Max:
		return Undecided
	}
	return Continue
}

// ends returns the largest count that is "similar" at a look, -1 for none, and
// the smallest that is "different", n+1 for none.
func (p Sequential) ends(lines SequentialLines, n int) (similar, different int) {
	similar, different = lines.maxCorrect(n), lines.minCorrect(n)
	if n == p.Max && p.AtMax == MaxNearest {
		// The likelihood ratio is 1 on the line through 0.
		similar = int(math.Floor(lines.Slope * float64(n) * (1 + tie)))
		different = similar + 1
	}
	return similar, different
}

// minCorrect is the smallest count at or above the upper line; at most n+1, so
// that a plan with huge intercepts stays within an int.
func (l SequentialLines) minCorrect(n int) int {
	line := l.UpperIntercept + l.Slope*float64(n)
	return int(math.Ceil(min(line*(1-tie), float64(n)+1)))
}

// maxCorrect is the largest count at or below the lower line, -1 for none.
func (l SequentialLines) maxCorrect(n int) int {
	rise := l.Slope * float64(n)
	line := l.LowerIntercept + rise
	return int(math.Floor(max(line+rise*tie, -1)))
}

// lines returns the lines but for the first looks.
func (p Sequential) lines() SequentialLines {
	correct := logQuotient(p.P1, p.P0, p.P1-p.P0)
	wrong := logQuotient(1-p.P0, 1-p.P1, p.P1-p.P0)
	lower := math.Log(p.Beta) - math.Log1p(-p.Alpha)
	upper := math.Log1p(-p.Beta) - math.Log(p.Alpha)
	return SequentialLines{
		Slope:          wrong / (correct + wrong),
		LowerIntercept: lower / (correct + wrong),
		UpperIntercept: upper / (correct + wrong),
		StepCorrect:    correct,
		StepWrong:      -wrong,
		LogLower:       lower,
		LogUpper:       upper,
	}
}

// logQuotient returns ln(hi/lo) from their distance apart, which keeps its
// digits where they are close.
func logQuotient(hi, lo, apart float64) float64 {
	if x := apart / lo; x < 1 {
		return math.Log1p(x)
	}
	return math.Log(hi) - math.Log(lo) // the quotient itself may be too large
}

func (p Sequential) isLook(n int) bool {
	return n > 0 && (n%p.Every == 0 || n == p.Max)
}

// nextLook returns the first look after n, 0 where there is none.
func (p Sequential) nextLook(n int) int {
	if p.Max > 0 && n >= p.Max {
		return 0
	}
	next := n - n%p.Every + p.Every
	if p.Max > 0 {
		return min(next, p.Max)
	}
	return next
}

// lookFrom returns the first look at or after at, 0 where there is none.
func (p Sequential) lookFrom(at float64) int {
	const far = 1 << 53 // more answers than anybody gives
	if p.Max > 0 && at > float64(p.Max) || at > far {
		return 0
	}
	return p.nextLook(max(0, int(math.Ceil(at))-1))
}

func (p Sequential) check() {
	switch {
	case !(p.P0 > 0 && p.P0 < p.P1 && p.P1 < 1):
		panic(fmt.Sprintf("stats: p0 = %v and p1 = %v are not two probabilities in rising order", p.P0, p.P1))
	case !(p.Alpha > 0 && p.Beta > 0 && p.Alpha+p.Beta < 1):
		panic(fmt.Sprintf("stats: alpha = %v and beta = %v are not two risks below 1 together", p.Alpha, p.Beta))
	case p.Every < 1 || p.Max < 0:
		panic(fmt.Sprintf("stats: looks every %d answers up to %d", p.Every, p.Max))
	case p.Max > 0 && p.AtMax != MaxUndecided && p.AtMax != MaxNearest:
		panic(fmt.Sprintf("stats: truncation %q is neither %q nor %q", p.AtMax, MaxUndecided, MaxNearest))
	}
}
