package session

import (
	"fmt"
	"math"
	"strconv"
)

// BelowGuessing reports whether fewer answers were right than guessing gives on
// average, in a test that looks one way. Pd is negative there, which no share of
// people can be.
func (t TestResult) BelowGuessing() bool { return !t.Plan.TwoSided && t.Pd < -1e-9 }

// PdShown is pd as it is shown: 0 where fewer were right than guessing gives, and
// signed in a two-sided test.
func (t TestResult) PdShown() float64 {
	if t.Plan.TwoSided {
		return t.Pd
	}
	return max(0, t.Pd)
}

// PdWords prints the estimate of pd with its interval.
func (t TestResult) PdWords() string {
	return t.estimateWords(t.PdShown(), t.PdInterval.Lower, t.PdInterval.Upper)
}

// DPrimeWords prints the estimate of d′ with its interval.
func (t TestResult) DPrimeWords() string {
	return t.estimateWords(t.DPrime, t.DPrimeInterval.Lower, t.DPrimeInterval.Upper)
}

// estimateWords never print an interval without width: where even its upper end
// lies below guessing it has no value to show.
func (t TestResult) estimateWords(x, lower, upper float64) string {
	level := strconv.FormatFloat(100*t.Confidence, 'g', 3, 64) + " %"
	switch {
	case math.IsNaN(x):
		return "not estimated, since tasters are counted and not sets"
	case t.BelowGuessing() && t.PdInterval.Upper == 0:
		return "0; fewer were right than guessing gives (the whole " + level + " interval lies below guessing)"
	case t.BelowGuessing():
		return fmt.Sprintf("0; fewer were right than guessing gives (%s interval up to %s)", level, twoDecimals(upper))
	}
	return fmt.Sprintf("%s (%s interval %s to %s)", twoDecimals(x), level, twoDecimals(lower), twoDecimals(upper))
}
