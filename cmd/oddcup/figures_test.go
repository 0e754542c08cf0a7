package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// TestPlanCommand holds the planner's words and JSON to outside values.
func TestPlanCommand(t *testing.T) {
	out, errs, code := command(t, "plan", "--method", "triangle", "--alpha", "0.05", "--beta", "0.05", "--pd", "0.3")
	// 66 assessors: the tables of ISO 4120 and ASTM E1885 (from memory), and
	// testdata/reference/c_sample_size.csv from exact integers, with 73 as the
	// number from which every larger one does.
	if code != 0 || !strings.Contains(out, "66 assessors") || !strings.Contains(out, "from 73 on") {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
	for _, c := range []struct {
		args                       string
		assessors, stable, correct int
	}{
		// testdata/reference/c_sample_size.csv, from exact integers.
		{"--method triangle --alpha 0.05 --beta 0.05 --pd 0.5", 23, 29, 12},
		{"--method triangle --alpha 0.05 --beta 0.2 --pd 0.5", 16, 0, 9},
	} {
		out, errs, code := command(t, append([]string{"plan", "--json"}, strings.Fields(c.args)...)...)
		var got struct {
			Method                                 string
			Assessors, AssessorsStable, MinCorrect int
			ActualAlpha, Power                     float64
			Warnings                               []any
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
			t.Fatalf("%s: %v, code %d: %s%s", c.args, err, code, out, errs)
		}
		if got.Assessors != c.assessors || c.stable != 0 && got.AssessorsStable != c.stable || got.MinCorrect != c.correct {
			t.Errorf("%s: %+v", c.args, got)
		}
		if got.ActualAlpha <= 0 || got.ActualAlpha > 0.05 || got.Power <= 0 || got.Warnings == nil {
			t.Errorf("%s: %+v", c.args, got)
		}
	}
}

// TestResultCommand holds the analysis of a count to R's values.
func TestResultCommand(t *testing.T) {
	type estimate struct{ Estimate, Lower, Upper, Confidence *float64 }
	type result struct {
		Method, Sided, Outcome string
		N, Correct             int
		Chance, PValue         float64
		MinCorrect             *int
		Pd, DPrime             estimate
		Warnings               []struct{ Kind, Say string }
	}
	read := func(args ...string) result {
		t.Helper()
		out, errs, code := command(t, append([]string{"result", "--json"}, args...)...)
		var r result
		if err := json.Unmarshal([]byte(out), &r); err != nil || code != 0 {
			t.Fatalf("%v: %v, code %d: %s%s", args, err, code, out, errs)
		}
		return r
	}
	// R 4.2.2: binom.test(25, 50, 1/3, alternative = "greater")$p.value
	if r := read("--method", "triangle", "--n", "50", "--correct", "25"); math.Abs(r.PValue/0.010826684448815994-1) > 1e-12 ||
		r.Outcome != "different" || *r.Pd.Confidence != 0.9 || *r.Pd.Estimate != 0.25 {
		t.Errorf("%+v", r)
	}
	// FAO document V7180E, Appendix A: 13 of 24 at 0.05, 12 are not enough.
	if r := read("--method", "triangle", "--n", "24", "--correct", "12"); *r.MinCorrect != 13 || r.Outcome != "undecided" {
		t.Errorf("%+v", r)
	}
	// Beside a two-sided test both signs are kept.
	low, high := read("--method", "paired-comparison", "--two-sided", "--n", "24", "--correct", "6"), read("--method", "paired-comparison", "--two-sided", "--n", "24", "--correct", "18")
	if low.PValue != high.PValue || low.Outcome != "different" || math.Abs(*low.DPrime.Estimate+*high.DPrime.Estimate) > 1e-12 ||
		math.Abs(*low.Pd.Lower+*high.Pd.Upper) > 1e-12 || *low.Pd.Confidence != 0.95 {
		t.Errorf("%+v\n%+v", low, high)
	}
	all := read("--method", "3-afc", "--n", "2", "--correct", "2")
	if all.MinCorrect != nil || all.DPrime.Estimate != nil || len(all.Warnings) == 0 || !strings.Contains(all.Warnings[0].Say, "No result of 2 answers can be significant at 0.05") {
		t.Errorf("%+v", all)
	}
}

// TestImpossibleFigures: one line of trouble, one of hint, exit status 2.
func TestImpossibleFigures(t *testing.T) {
	for _, args := range []string{
		"result --method triangle --n 24 --correct 30",
		"result --method triangle --n 24 --correct=-1",
		"result --method triangle --n 0 --correct 0",
		"result --method triangle --n 24 --correct 13 --alpha 0",
		"result --method triangle --n 24 --correct 13 --alpha NaN",
		"result --method triangle --n 24 --correct 13 --confidence 1",
		"result --method triangle --two-sided --n 24 --correct 13",
		"result --method ranking --n 24 --correct 13",
		"result --method triangle --n 24",
		"plan --method triangle --alpha 0 --pd 0.3",
		"plan --method triangle --beta 1 --pd 0.3",
		"plan --method triangle --pd 1.2",
		"plan --method triangle --dprime 0",
		"plan --method triangle --dprime 99",
		"plan --method triangle --pd 0.3 --dprime 1",
		"plan --method triangle",
		"plan --method ranking --pd 0.3",
		"plan --method paired-comparison --two-sided --similarity --pd 0.3",
		"plan --method triangle --pd three",
	} {
		out, errs, code := command(t, strings.Fields(args)...)
		lines := strings.Split(strings.TrimSpace(errs), "\n")
		if code != 2 || out != "" || len(lines) != 2 || !strings.HasPrefix(lines[0], "oddcup: error: ") || !strings.HasPrefix(lines[1], "oddcup: hint: ") {
			t.Errorf("oddcup %s: code %d, out %q, says %q", args, code, out, errs)
		}
	}
}
