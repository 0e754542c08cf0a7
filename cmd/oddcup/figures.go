package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// methodRow reads a method as it is named on the command line and in files.
func methodRow(name string) (session.Method, error) {
	m, ok := session.MethodByKey(name)
	if ok {
		return m, nil
	}
	var keys []string
	for _, m := range session.Methods {
		keys = append(keys, m.Key)
	}
	trouble := fmt.Sprintf("no method is called %q", name)
	if name == "" {
		trouble = "the method was not said"
	}
	return m, usage(trouble, "give --method with one of "+strings.Join(keys, ", "))
}

// methodOf reads a method and its sidedness.
func methodOf(name string, twoSided bool) (session.Method, stats.Sided, error) {
	m, err := methodRow(name)
	switch {
	case err != nil:
		return m, "", err
	case twoSided && m.Key != session.PairedComparison.Key:
		return m, "", usage("--two-sided is for the paired comparison only", "leave it out: in the other methods one answer is the right one")
	case twoSided:
		return m, stats.TwoSided, nil
	}
	return m, stats.OneSided, nil
}

// goalOf refuses a goal that a method can't serve.
func goalOf(goal string, m session.Method, twoSided bool) error {
	if goal == session.GoalDifference || m.ShowsSimilarity(twoSided) {
		return nil
	}
	return usage(fmt.Sprintf("a one-sided %s can't show similarity: products that differ the other way would pass", m.Name),
		"use --method paired-comparison --two-sided, or a method for any difference")
}

// usage is an impossible wish: the exit code is 2.
func usage(trouble, hint string) error {
	return wrongUsage{hinted{fmt.Errorf("%s", trouble), hint}}
}

type wrongUsage struct{ hinted }

// Unwrap lets errors.As find the hint.
func (w wrongUsage) Unwrap() error { return w.hinted }

// inside checks a figure: low and high themselves are outside.
func inside(flag string, x, low, high float64) error {
	if math.IsNaN(x) || x <= low || x >= high {
		return usage(fmt.Sprintf("--%s %v is not between %v and %v", flag, x, low, high),
			fmt.Sprintf("give it as a fraction, such as --%s %v", flag, map[string]string{
				"alpha": "0.05", "beta": "0.1", "pd": "0.3", "pd-limit": "0.3", "power": "0.8", "confidence": "0.9",
			}[flag]))
	}
	return nil
}

// finite is a number for JSON, where what is unbounded or not defined is null.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// warningOut is a warning as JSON: kind is stable, say is a sentence.
type warningOut struct {
	Kind string `json:"kind"`
	Say  string `json:"say"`
}

func warningsOut(all ...[]stats.Warning) []warningOut {
	out := []warningOut{}
	for _, w := range slices.Concat(all...) {
		o := warningOut{string(w.Kind), w.Say}
		if !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	return out
}

func printWarnings(w io.Writer, all []warningOut) {
	for _, x := range all {
		fmt.Fprintf(w, "Mind: %s\n", x.Say)
	}
}

func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
