package main

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/stats"
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

// protocolOf names methods as the reference files do.
var protocolOf = map[string]string{
	"triangle": "triangle", "duotrio": "duo-trio", "2afc": "paired-comparison", "3afc": "3-afc", "tetrad": "tetrad",
}

type planned struct {
	Method, Goal, Sided                               string
	Assessors, AssessorsStable                        *int
	MinCorrect, MinSimilar, MaxCorrect                *int
	ActualAlpha, ActualBeta, Power, IdenticalPass, Pc float64
	PdLimit, DPrime                                   *float64
	Warnings                                          []any
}

// planJSON runs oddcup plan --json.
func planJSON(t *testing.T, args string) planned {
	t.Helper()
	out, errs, code := command(t, append([]string{"plan", "--json"}, strings.Fields(args)...)...)
	var got planned
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatalf("plan %s: %v, code %d: %s%s", args, err, code, out, errs)
	}
	return got
}

// TestPlanOfDPrime holds the sizes of all five methods at a d′ to
// testdata/reference/c2_sample_size_dprime.csv (pc by mpmath quadrature, powers
// by exact integers).
func TestPlanOfDPrime(t *testing.T) {
	seen := map[string]bool{}
	for _, row := range reference(t, "c2_sample_size_dprime.csv") {
		method := protocolOf[row["protocol"]]
		seen[method] = true
		args := fmt.Sprintf("--method %s --alpha %s --beta %s --dprime %s", method, row["alpha"], row["beta"], row["dprime"])
		got := planJSON(t, args)
		if float64(*got.Assessors) != number(t, row["n_first"]) || float64(*got.AssessorsStable) != number(t, row["n_stable"]) ||
			float64(*got.MinCorrect) != number(t, row["crit_at_n_first"]) {
			t.Errorf("plan %s: %d, %d, minimum %d; want %s, %s, %s", args, *got.Assessors, *got.AssessorsStable, *got.MinCorrect,
				row["n_first"], row["n_stable"], row["crit_at_n_first"])
		}
		if math.Abs(got.Power/number(t, row["power_at_n_first"])-1) > 1e-9 || math.Abs(got.Pc-number(t, row["pc"])) > 1e-9 {
			t.Errorf("plan %s: power %v at pc %v, want %s at %s", args, got.Power, got.Pc, row["power_at_n_first"], row["pc"])
		}
		// Stated as the power instead of the risk it is the same plan.
		power := fmt.Sprintf("--method %s --alpha %s --power %v --dprime %s", method, row["alpha"], 1-number(t, row["beta"]), row["dprime"])
		if same := planJSON(t, power); *same.Assessors != *got.Assessors {
			t.Errorf("plan %s: %d assessors, and %d by the power", args, *got.Assessors, *same.Assessors)
		}
	}
	if len(seen) != 5 {
		t.Errorf("the reference has %d methods, want 5", len(seen))
	}
}

// TestPlanSimilarity holds similarity both ways to
// testdata/reference/d5_similarity_both_ways_sizes.csv (R 4.2.2 pbinom), and one
// way to R 4.2.2:
//
//	pc <- 1/3 + 0.3*2/3; k <- max(which(pbinom(0:66, 66, pc) <= 0.05)) - 1  # 28
//	pbinom(k, 66, pc)   # 0.049272340158919702
//	pbinom(k, 66, 1/3)  # 0.9530801099773476
//
// 66 is the size of the standards' table for α = β = 0.05 and pd 30 %.
func TestPlanSimilarity(t *testing.T) {
	got := planJSON(t, "--method triangle --goal similarity --beta 0.05 --alpha 0.05 --pd 0.3")
	if *got.Assessors != 66 || *got.MaxCorrect != 28 || got.MinCorrect != nil ||
		math.Abs(got.ActualBeta/0.049272340158919702-1) > 1e-9 || math.Abs(got.IdenticalPass/0.9530801099773476-1) > 1e-9 {
		t.Errorf("%+v: %d assessors, maximum %d", got, *got.Assessors, *got.MaxCorrect)
	}
	rows := 0
	for _, row := range reference(t, "d5_similarity_both_ways_sizes.csv") {
		args := fmt.Sprintf("--method paired-comparison --two-sided --goal similarity --alpha %s --beta %s --pd %s", row["alpha"], row["beta"], row["pd"])
		got := planJSON(t, args)
		if float64(*got.Assessors) != number(t, row["n_first"]) || float64(*got.AssessorsStable) != number(t, row["n_stable"]) ||
			float64(*got.MaxCorrect) != number(t, row["highest_first"]) || *got.MinSimilar != *got.Assessors-*got.MaxCorrect ||
			math.Abs(got.Power/number(t, row["power_first"])-1) > 1e-9 || math.Abs(got.ActualBeta/number(t, row["actual_beta_first"])-1) > 1e-9 {
			t.Errorf("plan %s: %+v, want %v", args, got, row)
		}
		rows++
	}
	if rows < 10 {
		t.Errorf("%d rows", rows)
	}
}

// TestPlanBoth: the number for both goals reaches each of them, and no smaller
// one does. Every single panel is held to the planner of one goal.
func TestPlanBoth(t *testing.T) {
	for _, c := range []string{
		"--method triangle --alpha 0.05 --beta 0.05 --power 0.9 --pd 0.3",
		"--method triangle --alpha 0.2 --beta 0.01 --power 0.8 --dprime 1.5 --pd-limit 0.4",
		"--method duo-trio --alpha 0.01 --beta 0.1 --power 0.85 --pd 0.4 --pd-limit 0.45",
		"--method tetrad --alpha 0.05 --beta 0.05 --power 0.8 --dprime 1.2",
		"--method paired-comparison --two-sided --alpha 0.05 --beta 0.1 --power 0.8 --pd 0.3 --pd-limit 0.35",
	} {
		got := planJSON(t, c+" --goal both")
		var f struct{ alpha, beta, power, pdLimit float64 }
		f.alpha, f.beta, f.power = flagOf(t, c, "--alpha"), flagOf(t, c, "--beta"), flagOf(t, c, "--power")
		f.pdLimit = *got.PdLimit
		m, _ := session.MethodByKey(got.Method)
		reaches := func(n int) bool {
			sided := stats.OneSided
			similar := stats.SimilarityPower(n, m.Chance(), f.beta, f.pdLimit, m.Chance())
			if got.Sided == string(stats.TwoSided) {
				sided, similar = stats.TwoSided, stats.SimilarityPowerBothWays(n, f.beta, f.pdLimit, 0.5)
			}
			return stats.DifferencePanel(n, m.Chance(), f.alpha, got.Pc, sided).Power >= f.power && similar >= f.power
		}
		first, stable := 0, 0
		for n := 3; n < 2000; n++ {
			switch {
			case !reaches(n):
				stable = 0
			case stable == 0:
				stable = n
			}
			if first == 0 && stable == n {
				first = n
			}
		}
		if *got.Assessors != first || *got.AssessorsStable != stable {
			t.Errorf("plan %s: %d and %d, a scan finds %d and %d", c, *got.Assessors, *got.AssessorsStable, first, stable)
		}
		if got.MinCorrect == nil || got.MaxCorrect == nil || got.ActualAlpha > f.alpha || got.ActualBeta > f.beta || got.Power < f.power || got.IdenticalPass < f.power {
			t.Errorf("plan %s: %+v", c, got)
		}
	}
}

func flagOf(t *testing.T, args, flag string) float64 {
	t.Helper()
	words := strings.Fields(args)
	for i, w := range words {
		if w == flag {
			return number(t, words[i+1])
		}
	}
	t.Fatalf("no %s in %s", flag, args)
	return 0
}

// TestPlanCompare: the methods side by side for d′ 1, with the sizes of
// testdata/reference/c2_sample_size_dprime.csv, and a tetrad of fewest cups.
func TestPlanCompare(t *testing.T) {
	out, errs, code := command(t, "plan", "--compare", "--dprime", "1", "--json")
	var got struct {
		DPrime       float64
		CaffeineFrom string
		Methods      []struct {
			Method, Sided              string
			Assessors, AssessorsStable int
			Seats, Cups, CupsPerSeat   int
			CoffeeG, WaterG            float64
			CaffeineMgPerSeat          float64
			Overall, Fewest            bool
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatalf("%v, code %d: %s%s", err, code, out, errs)
	}
	want := map[string]float64{}
	for _, row := range reference(t, "c2_sample_size_dprime.csv") {
		if row["dprime"] == "1" && row["alpha"] == "0.05" && row["beta"] == "0.2" {
			want[protocolOf[row["protocol"]]] = number(t, row["n_first"])
		}
	}
	fewest := map[bool]string{}
	for _, m := range got.Methods {
		if m.Sided == "one-sided" && float64(m.Assessors) != want[m.Method] {
			t.Errorf("%s: %d assessors, want %v", m.Method, m.Assessors, want[m.Method])
		}
		// 30 g are brewed from 30 × 60/880 = 2.04545 g of coffee with 12.5 mg in a gram: 25.57 mg a cup, rounded up.
		if m.Seats < m.Assessors || m.Cups != m.Seats*m.CupsPerSeat || m.CoffeeG <= 0 || m.WaterG <= m.CoffeeG || m.CaffeineMgPerSeat != math.Ceil(25.568*float64(m.CupsPerSeat)) {
			t.Errorf("%+v", m)
		}
		if m.Fewest {
			fewest[m.Overall] += m.Method
		}
	}
	// 66 × 4 cups against 210 × 3 and 228 × 3; 24 × 2 against 18 × 3 and 30 × 2.
	if len(got.Methods) != 6 || len(want) != 5 || fewest[true] != "tetrad" || fewest[false] != "paired-comparison" || got.CaffeineFrom == "" {
		t.Errorf("%d methods, %d wanted, fewest cups: %v", len(got.Methods), len(want), fewest)
	}
	text, _, _ := command(t, "plan", "--compare", "--dprime", "1")
	for _, m := range session.Methods {
		if !strings.Contains(text, m.Key+" ") {
			t.Errorf("the table has no %s:\n%s", m.Key, text)
		}
	}
	if !strings.Contains(text, "* tetrad") || !strings.Contains(text, "two-sided") || !strings.Contains(text, "Austrian food code") {
		t.Errorf("the table:\n%s", text)
	}
}

// TestResultSimilar holds similarity of a count to R 4.2.2:
//
//	pc <- 1/3 + 0.3*2/3
//	pbinom(22, 66, pc)                                         # 0.00083130942963947603
//	b <- binom.test(22, 66, 1/3, alternative = "less", conf.level = 0.95)
//	(b$conf.int[2] - 1/3)/(2/3)                                # 0.16103848248614466
//	binom.test(22, 66, 1/3, alternative = "greater")$p.value   # 0.54617101646106403
//
// and both ways to testdata/reference/d4_similarity_both_ways.csv.
func TestResultSimilar(t *testing.T) {
	type result struct {
		Goal, Outcome                         string
		Alpha, PValue, SimilarPValue, PdUpper *float64
		MinCorrect, MinSimilar, MaxCorrect    *int
		ActualBeta, IdenticalPass             *float64
	}
	read := func(args string) result {
		t.Helper()
		out, errs, code := command(t, append([]string{"result", "--json"}, strings.Fields(args)...)...)
		var r result
		if err := json.Unmarshal([]byte(out), &r); err != nil || code != 0 {
			t.Fatalf("%s: %v, code %d: %s%s", args, err, code, out, errs)
		}
		return r
	}
	near := func(x *float64, want float64) bool { return x != nil && math.Abs(*x/want-1) < 1e-9 }
	r := read("--method triangle --n 66 --correct 22 --similar 0.05 --pd-limit 0.3")
	if r.Goal != "both" || r.Outcome != "similar" || *r.MinCorrect != 29 || *r.MaxCorrect != 28 || !near(r.PValue, 0.54617101646106403) ||
		!near(r.SimilarPValue, 0.00083130942963947603) || !near(r.PdUpper, 0.16103848248614466) || !near(r.ActualBeta, 0.049272340158919702) ||
		!near(r.IdenticalPass, 0.9530801099773476) {
		t.Errorf("%+v", r)
	}
	for correct, outcome := range map[int]string{28: "similar", 29: "different", 22: "similar"} {
		if r := read(fmt.Sprintf("--method triangle --n 66 --correct %d --similar 0.05 --pd-limit 0.3", correct)); r.Outcome != outcome {
			t.Errorf("%d of 66: %s, want %s", correct, r.Outcome, outcome)
		}
	}
	if r := read("--method triangle --n 66 --correct 22 --goal similarity --beta 0.05 --pd-limit 0.3"); r.PValue != nil || r.Alpha != nil || r.Outcome != "similar" {
		t.Errorf("similarity alone: %+v", r)
	}
	// A large panel sees a difference smaller than the limit.
	if r := read("--method triangle --n 600 --correct 240 --similar 0.05 --pd-limit 0.3"); r.Outcome != "different but small" {
		t.Errorf("%+v", r)
	}
	rows := 0
	for _, row := range reference(t, "d4_similarity_both_ways.csv") {
		got := read(fmt.Sprintf("--method paired-comparison --two-sided --n %s --correct %s --similar %s --pd-limit %s", row["n"], row["x"], row["beta"], row["pd"]))
		if p := max(number(t, row["p_upper"]), number(t, row["p_lower"])); !near(got.SimilarPValue, p) {
			t.Errorf("%v: p %v", row, *got.SimilarPValue)
		}
		if (got.MaxCorrect == nil) != (row["highest"] == "") {
			t.Errorf("%v: maximum %v", row, got.MaxCorrect)
		} else if got.MaxCorrect != nil && (float64(*got.MaxCorrect) != number(t, row["highest"]) || float64(*got.MinSimilar) != number(t, row["lowest"]) ||
			!near(got.IdenticalPass, number(t, row["power_identical"]))) {
			t.Errorf("%v: %+v", row, got)
		}
		rows++
	}
	if rows < 20 {
		t.Errorf("%d rows", rows)
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
		"plan --pd 0.3",
		"plan --method tetrad --two-sided --pd 0.3",
		"plan --method triangle --pd 0.3 --goal sameness",
		"plan --method triangle --pd 0.3 --pd-limit 0.2",
		"plan --method triangle --pd 0.3 --goal both --pd-limit 2",
		"plan --method triangle --pd 0.3 --beta 0.2 --power 0.8",
		"plan --method triangle --pd 0.3 --goal similarity --alpha 0.2 --power 0.8",
		"plan --method paired-comparison --two-sided --goal similarity --beta 0.6 --pd 0.3",
		"plan --compare",
		"plan --compare --pd 0.3",
		"plan --compare --dprime 0.01",
		"plan --compare --dprime 1 --method triangle",
		"plan --compare --dprime 1 --alpha 0.6",
		"plan --compare --dprime NaN",
		"result",
		"result --n 24 --correct 13",
		"result --method triangle --correct 13",
		"result --method triangle --n 24 --correct 13 --key a.json",
		"result --method triangle --n 24 --correct 13 --similar 0.05",
		"result --method triangle --n 24 --correct 13 --pd-limit 0.3",
		"result --method triangle --n 24 --correct 13 --similar 0.6 --pd-limit 0.3",
		"result --method triangle --n 24 --correct 13 --similar 0.05 --pd-limit 1.3",
		"result --method triangle --n 24 --correct 13 --goal sameness",
		"result --method triangle --n 24 --correct 13 --goal similarity --alpha 0.05 --beta 0.05 --pd-limit 0.3",
		"result ballots.csv",
		"result ballots.csv --key a.json --method triangle",
		"result ballots.csv --method triangle --n 24 --correct 13",
		"result ballots.csv --method triangle --alpha 0.9",
		"layout",
		"layout --method ranking",
		"layout --method triangle --seats 1",
		"layout --method triangle --seats 500",
		"layout --method triangle --sets 9",
		"layout --method triangle --seats 12 --flights 6,7",
		"layout --method triangle --reference constant",
		"layout --method duo-trio --reference both",
		"layout --method paired-comparison",
		"layout --method triangle --goal similarity",
		"layout --method triangle --seed 12",
		"layout --method triangle --seed " + strings.Repeat("g", 64),
		"layout --method triangle --plan plan.json",
		"layout check",
		"simulate --sessions 0",
		"simulate --seats 0",
		"simulate --sets 0",
		"simulate --seats 500",
		"simulate --method ranking",
		"simulate --dprime NaN",
		"demo --method ranking",
		"demo --goal sameness",
		"plan --method triangle --pd three",
	} {
		out, errs, code := command(t, strings.Fields(args)...)
		lines := strings.Split(strings.TrimSpace(errs), "\n")
		if code != 2 || out != "" || len(lines) != 2 || !strings.HasPrefix(lines[0], "oddcup: error: ") || !strings.HasPrefix(lines[1], "oddcup: hint: ") {
			t.Errorf("oddcup %s: code %d, out %q, says %q", args, code, out, errs)
		}
	}
}

// TestResultTwoSidedSaysWhichWay: a count that is different the other way, and what
// the sign of its estimates means.
func TestResultTwoSidedSaysWhichWay(t *testing.T) {
	out, _, _ := command(t, "result", "--method", "paired-comparison", "--two-sided", "--n", "24", "--correct", "4")
	for _, want := range []string{"Different: 20 of 24 point the other way, and the minimum for either side at α 0.05 is 18.", "pd, share who perceive it: −0.67", "below 0 the untreated one"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
}

// TestWhatStandsBesideTheFigures: sentences without which a figure misleads. The
// limits of pd are R's, binom.test(29, 66, conf.level = 0.8): 0.28864, and 0.9:
// 0.32190; 775 usable codes, with a tray poured again, are enough for 129 seats of three cups.
func TestWhatStandsBesideTheFigures(t *testing.T) {
	const ofOthers = "Each answer must come from another person"
	for _, c := range []struct {
		args       string
		says, lets []string
	}{
		{"result --method triangle --n 66 --correct 29 --goal both --beta 0.1 --pd-limit 0.3 --alpha 0.04 --confidence 0.9",
			[]string{"Similar: ", "0.00 to 0.32", "at most 28.9 % at the one-sided level 90 %", "held against the limit of 30 %", ofOthers}, nil},
		{"result --method triangle --n 66 --correct 29", nil, []string{ofOthers, "one-sided level"}},
		{"result --method 3-afc --n 66 --correct 29", []string{ofOthers}, nil},
		{"plan --method duo-trio --pd 0.03", []string{"6896 assessors", "Out of reach", "holds 129 seats"}, []string{ofOthers}},
		{"plan --method triangle --pd 0.15 --beta 0.05", []string{"One session holds 129 seats"}, []string{"Out of reach"}},
		{"plan --method triangle --pd 0.3 --goal similarity", []string{ofOthers, "d′ as one size"}, []string{"One session holds"}},
	} {
		out, errs, code := command(t, strings.Fields(c.args)...)
		for _, want := range c.says {
			if code != 0 || !strings.Contains(out, want) {
				t.Errorf("%s: no %q in code %d:\n%s%s", c.args, want, code, out, errs)
			}
		}
		for _, not := range c.lets {
			if strings.Contains(out, not) {
				t.Errorf("%s: %q in:\n%s", c.args, not, out)
			}
		}
	}
}
