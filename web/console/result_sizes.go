package console

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"oddcup/session"
	"oddcup/stats"
	"oddcup/web/look"
)

// sizeView is how large the difference looks, test by test.
type sizeView struct {
	Pd, DPrime template.HTML
	Level      string // of the intervals, in a sentence for the margin
	Note       string
}

func sizesOf(tests []session.TestResult) sizeView {
	var v sizeView
	pd := look.EstimatePlot{
		Min: -0.2, Max: 1, AxisLabel: "pd, the count corrected for guessing", Chance: new(float64),
		Title: "Share who perceive the difference",
	}
	dp := look.EstimatePlot{
		Min: 0, Max: 3, AxisLabel: "d′, in units of one taster’s own noise; the one scale on which methods meet",
		Title: "Size of the difference, d′",
	}
	var levels []string
	note := func(format string, name string) {
		v.Note = strings.TrimSpace(v.Note + " " + fmt.Sprintf(format, name))
	}
	for _, t := range tests {
		name := nameOf(t.Plan)
		level := pct(t.Confidence) + " interval"
		if t.Exploratory() {
			level += ", exploratory"
		}
		levels = append(levels, pct(t.Confidence))
		if t.N == 0 {
			none := look.Estimate{Label: name, Sub: "no answer counts", Value: math.NaN(), Words: "no estimate"}
			pd.Rows, dp.Rows = append(pd.Rows, none), append(dp.Rows, none)
			continue
		}
		if math.IsNaN(t.Pd) {
			none := look.Estimate{Label: name, Sub: "tasters are counted, not sets", Value: math.NaN(), Words: "no estimate"}
			pd.Rows, dp.Rows = append(pd.Rows, none), append(dp.Rows, none)
			if limit, ok := similarityLimit(t); ok {
				pd.Rows = append(pd.Rows, limit)
			}
			continue
		}
		pd.Rows = append(pd.Rows, look.Estimate{
			Label: name, Sub: "pd, " + level, Value: t.PdShown(), Lower: t.PdInterval.Lower, Upper: t.PdInterval.Upper,
			LowerCut: !lowerLimit(t.PdInterval, t.Plan.TwoSided), Words: pdWords(t),
		})
		if limit, ok := similarityLimit(t); ok {
			pd.Rows = append(pd.Rows, limit)
		}
		least := t.PdShown()
		if t.Plan.TwoSided {
			least = min(least, t.PdInterval.Lower)
		}
		if t.Plan.WantsSimilarity() && t.Plan.TwoSided {
			least = min(least, -t.Plan.PdLimit)
		}
		for pd.Min > least {
			pd.Min -= 0.2
		}
		dp.Rows = append(dp.Rows, look.Estimate{
			Label: name, Sub: "d′, " + level, Value: t.DPrime, Lower: t.DPrimeInterval.Lower, Upper: t.DPrimeInterval.Upper,
			LowerCut: !lowerLimit(t.DPrimeInterval, t.Plan.TwoSided), UpperCut: math.IsInf(t.DPrimeInterval.Upper, 1), Words: dPrimeWords(t),
		})
		for _, x := range []float64{t.DPrime, t.DPrimeInterval.Lower, t.DPrimeInterval.Upper} {
			if !math.IsInf(x, 0) && !math.IsNaN(x) {
				dp.Max = max(dp.Max, math.Ceil(x))
				if t.Plan.TwoSided {
					dp.Min = min(dp.Min, math.Floor(x))
				}
			}
		}
		if t.Plan.TwoSided && 2*t.Correct < t.N {
			note("%s: fewer than half picked the processed lot, so counted that way both figures lie at or below guessing.", capital(name))
		}
		if t.BelowGuessing() {
			note("%s: fewer were right than guessing gives, so pd and d′ are shown as 0.", capital(name))
		}
	}
	mark := ""
	if slices.ContainsFunc(pd.Rows, func(r look.Estimate) bool { return len(r.Limits) > 0 }) {
		mark = " A square bracket is the upper limit for similarity: at the one-sided level 1 − β, and it alone is held against the pd limit."
	}
	v.Level = "Dots with " + listed(unique(levels)) + " intervals. One-sided tests at α go with 1 − 2α, so that interval and p of the difference never disagree." + mark
	pd.Lines = limitLines(tests)
	pd.Desc, dp.Desc = sizeDesc(pd), sizeDesc(dp)
	v.Pd, v.DPrime = look.Estimates(pd), look.Estimates(dp)
	return v
}

// similarityLimit is the row of the limit that similarity is judged by, where the
// interval above it has another level: where both goals were registered.
func similarityLimit(t session.TestResult) (look.Estimate, bool) {
	if t.Plan.Goal != session.GoalBoth || t.Plan.Sequential || math.IsNaN(t.PdUpper) {
		return look.Estimate{}, false
	}
	upper := max(0, t.PdUpper)
	e := look.Estimate{
		Label: "upper limit for similarity", Sub: "pd, one-sided at " + pct(1-t.Plan.Beta), Value: math.NaN(),
		Limits: []float64{upper}, Words: "at most " + pdUpperWords(t),
	}
	if t.Plan.TwoSided {
		e.Limits = append(e.Limits, -upper)
		e.Words += ", either way"
	}
	if t.Replicated != nil {
		e.Sub += ", from each taster’s sets"
	}
	if !t.Decided {
		e.Sub += ", exploratory"
	}
	return e, true
}

// pdUpperWords is the upper limit of pd, with more than two decimals where two
// would print the pd limit itself.
func pdUpperWords(t session.TestResult) string {
	if say := fixed(max(0, t.PdUpper), 2); say != fixed(t.Plan.PdLimit, 2) {
		return say
	}
	return num(t.PdUpperShown())
}

// limitLines are the pd limits that tests of similarity were registered for.
func limitLines(tests []session.TestResult) []look.AxisLine {
	var lines []look.AxisLine
	seen := map[float64]bool{}
	for _, t := range tests {
		if x := t.Plan.PdLimit; t.Plan.WantsSimilarity() && !seen[x] {
			seen[x] = true
			lines = append(lines, look.AxisLine{At: x, Label: "pd limit " + num(x)})
			if t.Plan.TwoSided {
				lines = append(lines, look.AxisLine{At: -x, Label: "pd limit " + num(-x)})
			}
		}
	}
	return lines
}

func sizeDesc(p look.EstimatePlot) string {
	var rows []string
	for _, r := range p.Rows {
		rows = append(rows, r.Label+": "+r.Words)
	}
	return strings.Join(rows, "; ") + "."
}

func unique(words []string) []string {
	var all []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w], all = true, append(all, w)
		}
	}
	return all
}

func pdWords(t session.TestResult) string {
	return intervalWords(t.PdShown(), t.PdInterval, t.Plan.TwoSided)
}

func dPrimeWords(t session.TestResult) string {
	return intervalWords(t.DPrime, t.DPrimeInterval, t.Plan.TwoSided)
}

// lowerLimit reports whether an interval's lower end is a limit. A one-sided
// test's scale ends at 0; a two-sided one's has a sign and goes on.
func lowerLimit(i stats.Interval, twoSided bool) bool {
	return i.Lower > 0 || twoSided && !math.IsInf(i.Lower, -1)
}

// intervalWords is an estimate with its interval; an end at the scale's bound
// is no limit and is not given as one.
func intervalWords(x float64, i stats.Interval, twoSided bool) string {
	if math.IsNaN(x) {
		return "no estimate, since tasters are counted and not sets"
	}
	value := fixed(x, 2)
	if math.IsInf(x, 0) {
		value = "unbounded"
	}
	low, high := lowerLimit(i, twoSided), !math.IsInf(i.Upper, 1)
	switch {
	case !twoSided && i.Upper == 0:
		return value + " (below guessing)"
	case low && high:
		return fmt.Sprintf("%s (%s to %s)", value, fixed(i.Lower, 2), fixed(i.Upper, 2))
	case high:
		return fmt.Sprintf("%s (at most %s)", value, fixed(i.Upper, 2))
	case low:
		return fmt.Sprintf("%s (at least %s)", value, fixed(i.Lower, 2))
	}
	return value + " (no limit)"
}
