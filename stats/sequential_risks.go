package stats

import (
	"fmt"
	"math"
)

// SequentialOutcome is how a sequential test ends where an answer is correct
// with probability PC. Different, Similar and Undecided are the probabilities
// of the three ends, ExpectedN is the mean number of answers at the end.
//
// Undecided is what the maximum cut off. Without a maximum it is 0, unless a
// warning says that the computation was cut off before all tests had ended.
type SequentialOutcome struct {
	PC                            float64
	Different, Similar, Undecided float64
	ExpectedN                     float64
	Warnings                      []Warning
}

// SequentialApproximation is Wald's approximation of the end of a sequential
// test where an answer is correct with probability PC: Similar, the operating
// characteristic, is the probability of "similar", ExpectedN the mean number of
// answers.
type SequentialApproximation struct {
	PC                 float64
	Similar, ExpectedN float64
}

// SequentialRisks are the real risks of a sequential test beside the planned
// ones: AtP0.Different is the risk of a false difference, AtP1.Similar that of
// a false similarity.
type SequentialRisks struct {
	Alpha, Beta float64 // as planned
	AtP0, AtP1  SequentialOutcome
	Warnings    []Warning
}

// What the risks of a sequential test warn of.
const (
	SequentialCut       WarningKind = "sequential-cut"       // computed for too few answers
	SequentialAlpha     WarningKind = "sequential-alpha"     // false differences above plan
	SequentialBeta      WarningKind = "sequential-beta"      // false similarities above plan
	SequentialOneEnd    WarningKind = "sequential-one-end"   // the maximum excludes a decision
	SequentialUndecided WarningKind = "sequential-undecided" // the maximum mostly ends it
)

// mostSteps bounds the work of one [Sequential.Outcome], in counts carried
// from one answer to the next: about a quarter of a second.
const mostSteps = 100_000_000

// Outcome returns how the test ends where an answer is correct with probability
// pc, whatever the looks and the maximum. It carries the probability w of every
// undecided count c from one answer to the next and takes the decided counts
// out at each look:
//
//	w(n+1, c) = w(n, c) (1-pc) + w(n, c-1) pc
//
// Nothing is approximated but the end of a test without maximum, which is left
// when less than 1e-17/n has not ended. The absolute error of a probability is
// below 1e-13, the relative one of ExpectedN below 1e-12.
//
// A P1 so close to P0, or a distance between looks so long, that the work
// exceeds 100 million steps is cut off there; Undecided then holds the rest,
// ExpectedN is too small, and a warning says so.
//
// It panics unless 0 ≤ pc ≤ 1.
func (p Sequential) Outcome(pc float64) SequentialOutcome {
	p.check()
	checkProbability("pc", pc)
	lines := p.lines()
	out := SequentialOutcome{PC: pc}

	alive := []float64{1} // alive[i] is the probability of lowest+i correct
	lowest, n, steps := 0, 0, 0
	for rest := 1.0; rest > 0; {
		if steps += len(alive); steps > mostSteps {
			out.Undecided = rest
			out.ExpectedN += float64(n) * rest
			out.Warnings = append(out.Warnings, Warning{SequentialCut, fmt.Sprintf(
				"The computation was cut off after %d answers, where %.2g of the tests had not ended.", n, rest)})
			return out
		}
		n++
		alive = oneMore(alive, pc)
		if !p.isLook(n) {
			continue
		}
		similar, different := p.ends(lines, n)
		from := min(max(similar+1-lowest, 0), len(alive))
		to := min(max(different-lowest, from), len(alive))
		ended := massOf(alive[:from])
		out.Similar += ended
		ended += massOf(alive[to:])
		out.Different += massOf(alive[to:])
		alive, lowest = alive[from:to], lowest+from
		rest = massOf(alive)
		if n == p.Max {
			out.Undecided = rest
			ended, rest = ended+rest, 0
		}
		out.ExpectedN += float64(n) * ended
		if rest*float64(n) < 1e-17 {
			break
		}
	}
	return out
}

func massOf(xs []float64) (total float64) {
	for _, x := range xs {
		total += x
	}
	return total
}

// oneMore returns the distribution of the number correct after one more answer.
func oneMore(alive []float64, pc float64) []float64 {
	alive = append(alive, 0)
	one := 0.0 // of one correct fewer
	for i, same := range alive {
		alive[i] = same*(1-pc) + one*pc
		one = same
	}
	return alive
}

// Risks returns the real risks of the test, as [Sequential.Outcome] computes
// them, with what a planner must know about them. For looks after every answer
// or after rounds, with any maximum that ends undecided, Wald's bounds hold:
//
//	P(different | P0) ≤ Alpha/(1-Beta)    P(similar | P1) ≤ Beta/(1-Alpha)
//
// so a risk may lie somewhat above its plan.
func (p Sequential) Risks() SequentialRisks {
	p.check()
	return p.risksOf(p.Outcome(p.P0), p.Outcome(p.P1))
}

func (p Sequential) risksOf(atP0, atP1 SequentialOutcome) SequentialRisks {
	lines := p.Lines()
	risks := SequentialRisks{Alpha: p.Alpha, Beta: p.Beta, AtP0: atP0, AtP1: atP1}
	warn := func(kind WarningKind, format string, args ...any) {
		risks.Warnings = append(risks.Warnings, Warning{kind, fmt.Sprintf(format, args...)})
	}
	if p.Max > 0 {
		unreached := func(what string) {
			warn(SequentialOneEnd, "No answers can end the test as %s within its maximum of %d.", what, p.Max)
		}
		if lines.FirstSimilar == 0 {
			unreached("similar")
		}
		if lines.FirstDifferent == 0 {
			unreached("different")
		}
	}
	if actual := risks.AtP0.Different; actual > p.Alpha*(1+tie) {
		warn(SequentialAlpha, "The risk of a false difference is %.3g, above the planned %.3g.", actual, p.Alpha)
	}
	if actual := risks.AtP1.Similar; actual > p.Beta*(1+tie) {
		warn(SequentialBeta, "The risk of a false similarity is %.3g, above the planned %.3g.", actual, p.Beta)
	}
	for _, end := range []SequentialOutcome{risks.AtP0, risks.AtP1} {
		risks.Warnings = append(risks.Warnings, end.Warnings...)
		if len(end.Warnings) == 0 && end.Undecided > 0.5 {
			warn(SequentialUndecided, "The maximum of %d leaves the test undecided in %.0f %% of cases where pc is %.3g.",
				p.Max, 100*end.Undecided, end.PC)
		}
	}
	return risks
}

// Wald returns Wald's approximations of the operating characteristic and of
// the expected number of answers. With u = ln((1-Beta)/Alpha), v =
// ln((1-Alpha)/Beta), z the step of the logarithm of the likelihood ratio at an
// answer, and t the root other than 0 of E(e^{tz}) = 1,
//
//	Similar   = (e^{tu} - 1)/(e^{tu} - e^{-tv})
//	ExpectedN = ((1-Similar) u - Similar v)/E(z)
//
// and, where E(z) = 0, u/(u+v) and u v/E(z²). (A. Wald, 1945; from memory.)
//
// They take the test to end exactly on a line, look after every answer and have
// no maximum; [Sequential.Outcome] is exact. On the twelve triangle plans with
// P1 1/2, 3/5 or 2/3 and risks of 0.05 or 0.1, at pc from 0 to 1, the
// approximation is up to 0.054 off in Similar, and its ExpectedN 2 % to 37 %
// too small.
//
// It panics unless 0 ≤ pc ≤ 1.
func (p Sequential) Wald(pc float64) SequentialApproximation {
	p.check()
	checkProbability("pc", pc)
	lines := p.lines()
	u, v := lines.LogUpper, -lines.LogLower
	right, wrong := lines.StepCorrect, -lines.StepWrong
	switch pc {
	case 0:
		return SequentialApproximation{PC: 0, Similar: 1, ExpectedN: v / wrong}
	case 1:
		return SequentialApproximation{PC: 1, Similar: 0, ExpectedN: u / right}
	}
	// E(e^{tz}) - 1 over t, which rises with t: the root 0 is divided out.
	t := bisect(math.Log1p(-pc)/wrong, -math.Log(pc)/right, func(t float64) bool {
		return pc*right*relativeExp(t*right) >= (1-pc)*wrong*relativeExp(-t*wrong)
	})
	out := SequentialApproximation{PC: pc}
	if t >= 0 {
		out.Similar = u / (u + v) * relativeExp(-t*u) / relativeExp(-t*(u+v))
	} else {
		out.Similar = u / (u + v) * math.Exp(t*v) * relativeExp(t*u) / relativeExp(t*(u+v))
	}
	if math.Abs(t)*(u+v) > 1 {
		out.ExpectedN = ((1-out.Similar)*u - out.Similar*v) / (pc*right - (1-pc)*wrong)
		return out
	}
	// Numerator and denominator both go to 0 with t; divided by it they are sums
	// of positive terms.
	spread := u * v * (u*excessExp(t*u) + v*excessExp(-t*v)) / (u*relativeExp(t*u) + v*relativeExp(-t*v))
	out.ExpectedN = spread / (pc*right*right*excessExp(t*right) + (1-pc)*wrong*wrong*excessExp(-t*wrong))
	return out
}

// relativeExp returns (e^x - 1)/x, 1 at x = 0.
func relativeExp(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Expm1(x) / x
}

// excessExp returns (e^x - 1 - x)/x², ½ at x = 0.
func excessExp(x float64) float64 {
	if math.Abs(x) > 0.5 {
		return (math.Expm1(x) - x) / (x * x)
	}
	sum, term := 0.0, 0.5
	for k := 3.0; ; k++ {
		next := sum + term
		if next == sum {
			return sum
		}
		sum, term = next, term*x/k
	}
}
