package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Answer says in one or two sentences what the session showed: whether the lots
// could be told apart, and by the named attribute.
func (r Result) Answer() string {
	if len(r.Tests) == 0 || r.Tests[0].N == 0 {
		return "There is no answer: no set of the first test counts."
	}
	first := r.Tests[0]
	if first.Outcome != Different && !first.Method.Overall {
		return fmt.Sprintf("Undecided. These answers do not show that the panel could tell the two lots apart by %s; they do not show that the lots are the same.", first.Plan.Attribute)
	}
	if first.Outcome != Different {
		return "Undecided. These answers do not show that the panel could tell the two lots apart; they do not show that the lots are the same."
	}
	yes := "Yes. The panel could tell the two lots apart"
	if !first.Method.Overall {
		yes += " by " + first.attributeWords()
	}
	var by, not []string
	for _, t := range r.Tests[1:] {
		switch {
		case t.Outcome == Different:
			by = append(by, t.attributeWords())
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

// attributeWords names the attribute, and the lot with less of it where that is
// the one nobody would expect.
func (t TestResult) attributeWords() string {
	if t.Plan.TwoSided && 2*t.Correct < t.N {
		return t.Plan.Attribute + ", with less of it in the untreated lot"
	}
	return t.Plan.Attribute
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
	return fmt.Sprintf("If nobody could taste a difference, %s would turn up in %s (%s).", tail, sessionsOf(t.P), PWords(t.P))
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

// PWords prints a p-value as "p = 0.028", with no-break spaces.
func PWords(p float64) string {
	if p < 0.0001 {
		return "p\u00a0<\u00a00.0001"
	}
	return "p\u00a0=\u00a0" + PValue(p)
}

// PValue prints a p-value to two significant digits, and "< 0.0001" below.
func PValue(p float64) string {
	switch {
	case p < 0.0001:
		return "<\u00a00.0001"
	case p >= 0.995:
		return "1.0"
	}
	// A p that would be printed as a usual α without being it gets more digits,
	// so that it never seems to stand on it.
	for digits := 2; digits < 8; digits++ {
		s := significant(p, digits)
		read, err := strconv.ParseFloat(s, 64)
		if err != nil || !slices.Contains(usualAlphas, read) || math.Abs(p-read) < 1e-12 {
			return s
		}
	}
	return significant(p, 8)
}

var usualAlphas = []float64{0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.001}

// significant prints p below 1 with this many significant digits, and at least
// two decimals, without an exponent.
func significant(p float64, digits int) string {
	decimals := digits - 1 - int(math.Floor(math.Log10(p)))
	s := strconv.FormatFloat(p, 'f', decimals, 64)
	for len(s) > len("0.00") && strings.HasSuffix(s, "0") {
		s = s[:len(s)-1]
	}
	return s
}

// Verdict says what a test's registered analysis makes of it, and why.
func (t TestResult) Verdict() string {
	switch {
	case t.N == 0:
		return "Nothing to decide on."
	case !t.Decided:
		return "Not decided: the registered order stops at the first test that is not significant. The count stands without a conclusion."
	case t.Outcome == Different && t.Plan.TwoSided && 2*t.Correct < t.N:
		return fmt.Sprintf("Different: %d picked the untreated lot as the one with less %s, and the minimum for either side is %d at α %s.",
			t.N-t.Correct, t.Plan.Attribute, t.MinCorrect, num(t.Plan.Alpha))
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
	if math.IsInf(d, 0) {
		return "unbounded"
	}
	return fmt.Sprintf("%.2f", d)
}
