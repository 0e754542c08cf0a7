package session

import (
	"fmt"
	"math"
	"strings"
)

// Answer says in one or two sentences what the session showed: whether the lots
// could be told apart, and by the named attribute.
func (r Result) Answer() string {
	if len(r.Tests) == 0 || r.Tests[0].N == 0 {
		return "There is no answer: nobody's set counts."
	}
	first := r.Tests[0]
	if first.Outcome != Different {
		return "Undecided. These answers do not show that the panel could tell the two lots apart; they do not show that the lots are the same."
	}
	yes := "Yes. The panel could tell the two lots apart"
	var by, not []string
	for _, t := range r.Tests[1:] {
		switch {
		case t.Outcome == Different && t.Plan.TwoSided && 2*t.Correct < t.N:
			by = append(by, t.Plan.Attribute+", with less of it in the untreated lot")
		case t.Outcome == Different:
			by = append(by, t.Plan.Attribute)
		default:
			not = append(not, t.Plan.Attribute)
		}
	}
	switch {
	case len(by) > 0 && len(not) == 0:
		return yes + ", and it could tell them apart by " + strings.Join(by, " and ") + "."
	case len(by) > 0:
		return yes + ", also by " + strings.Join(by, " and ") + "; whether by " + strings.Join(not, " and ") + " is undecided."
	case len(not) > 0:
		return yes + ". Whether by " + strings.Join(not, " and ") + " is undecided."
	}
	return yes + "."
}

// Sentence says what was counted, in words.
func (t TestResult) Sentence() string {
	if t.N == 0 {
		return "No answer counts."
	}
	what := "found the odd cup"
	if !t.Method.Overall {
		what = "picked the processed lot as the one with less " + t.Plan.Attribute
	}
	return fmt.Sprintf("%d of %d %s; guessing alone gives %s on average.", t.Correct, t.N, what, mean(float64(t.N)*t.Method.Chance()))
}

func mean(x float64) string {
	if x == float64(int(x)) {
		return fmt.Sprintf("%d", int(x))
	}
	return fmt.Sprintf("%.1f", x)
}

// PSentence says the p-value as a sentence.
func (t TestResult) PSentence() string {
	if t.N == 0 {
		return ""
	}
	tail := fmt.Sprintf("%d or more", t.Correct)
	if t.Plan.TwoSided {
		tail = "a count this uneven, either way,"
	}
	return fmt.Sprintf("If nobody could taste a difference, %s would turn up in %s (p = %s).", tail, sessionsOf(t.P), PValue(t.P))
}

func sessionsOf(p float64) string {
	switch n := p * 1000; {
	case p >= 0.9995:
		return "all of 1000 such sessions"
	case n >= 9.5:
		return fmt.Sprintf("%.0f of 1000 such sessions", n)
	case n >= 0.95:
		return fmt.Sprintf("%.1f of 1000 such sessions", n)
	default:
		return "fewer than 1 of 1000 such sessions"
	}
}

// PValue prints a p-value to two significant digits, and "under 0.0001" below.
func PValue(p float64) string {
	switch {
	case p < 0.0001:
		return "under 0.0001"
	case p >= 0.995:
		return "1.0"
	case p >= 0.1:
		return fmt.Sprintf("%.2f", p)
	default:
		s := fmt.Sprintf("%.2g", p)
		if strings.Contains(s, "e") {
			s = strings.TrimRight(fmt.Sprintf("%.5f", p), "0")
		}
		return s
	}
}

// Verdict says what a test's registered analysis makes of it, and why.
func (t TestResult) Verdict() string {
	switch {
	case t.N == 0:
		return "Nothing to decide on."
	case !t.Decided:
		return "Not decided: the registered order stops at the first test that is not significant. The count stands without a conclusion."
	case t.Outcome == Different:
		return fmt.Sprintf("Different: the count reaches the minimum of %d at α %s.", t.MinCorrect, num(t.Plan.Alpha))
	case !t.HasMin:
		return fmt.Sprintf("Undecided: no count of %d can be significant at α %s.", t.N, num(t.Plan.Alpha))
	default:
		return fmt.Sprintf("Undecided: the count does not reach the minimum of %d at α %s.", t.MinCorrect, num(t.Plan.Alpha))
	}
}

// DPrimeWords prints the estimate of d′ with its interval.
func (t TestResult) DPrimeWords() string {
	return fmt.Sprintf("%s (%.0f %% interval %s to %s)", dWords(t.DPrime), 100*t.Confidence,
		dWords(t.DPrimeInterval.Lower), dWords(t.DPrimeInterval.Upper))
}

func dWords(d float64) string {
	if math.IsInf(d, 1) {
		return "unbounded"
	}
	return fmt.Sprintf("%.2f", d)
}
