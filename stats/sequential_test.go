package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// trianglePlan looks after every answer; most tests start from it.
var trianglePlan = Sequential{P0: 1.0 / 3, P1: 1.0 / 2, Alpha: 0.05, Beta: 0.05, Every: 1}

func (r record) sequential() Sequential {
	return Sequential{
		P0: r.fraction("p0"), P1: r.fraction("p1"),
		Alpha: r.float("alpha"), Beta: r.float("beta"), Every: 1,
	}
}

func TestSequentialLinesAgainstReference(t *testing.T) {
	eachRecord(t, "h_sprt_lines.csv", 12, func(r record) bool {
		lines := r.sequential().Lines()
		r.near("slope", lines.Slope, 1e-14)
		r.near("h_accept", -lines.LowerIntercept, 1e-14)
		r.near("h_reject", lines.UpperIntercept, 1e-14)
		r.near("lnA", lines.LogUpper, 1e-14)
		r.near("lnB", lines.LogLower, 1e-14)
		r.near("increment_correct", lines.StepCorrect, 1e-14)
		r.near("increment_wrong", lines.StepWrong, 1e-14)
		if lines.FirstSimilar != r.int("first_trial_accept_possible") || lines.FirstDifferent != r.int("first_trial_reject_possible") {
			t.Errorf("%s:%d: first looks %d and %d", r.file, r.line, lines.FirstSimilar, lines.FirstDifferent)
		}
		return true
	})
}

func TestSequentialFollowsReferencePaths(t *testing.T) {
	decisions := map[string]Decision{"difference": Different, "no_difference": Similar, "continue": Continue}
	seen := map[Decision]int{}
	eachRecord(t, "h2_sprt_paths.csv", 96, func(r record) bool {
		path := r.text("sequence_C_correct_W_wrong")
		var answers []bool
		for _, a := range path {
			answers = append(answers, a == 'C')
		}
		state := r.sequential().Follow(answers)
		want, known := decisions[r.text("decision")]
		if !known || state.Decision != want || state.N != r.int("trial_of_decision_or_last") ||
			state.Correct != r.int("correct_so_far") || state.Unused != len(path)-state.N {
			t.Errorf("%s:%d: %+v", r.file, r.line, state)
		}
		if next := state.N + 1; want != Continue {
			if state.NextLook != 0 {
				t.Errorf("%s:%d: next look %d after the end", r.file, r.line, state.NextLook)
			}
		} else if state.NextLook != next {
			t.Errorf("%s:%d: next look %d, want %d", r.file, r.line, state.NextLook, next)
		}
		if math.Abs(state.LogRatio-r.float("llr")) > 1e-14*float64(state.N) { // some are 0
			t.Errorf("%s:%d: log ratio %v", r.file, r.line, state.LogRatio)
		}
		seen[want]++
		return true
	})
	if len(seen) != 3 {
		t.Errorf("decisions seen: %v, want all three", seen)
	}
}

// GOST ISO 16820-2015, example 2, as printed: three samples, answer by answer.
func TestSequentialFollowsPublishedExample(t *testing.T) {
	eachRecord(t, "h4_sprt_published.csv", 3, func(r record) bool {
		plan := r.sequential()
		counts := strings.Fields(r.text("cumulative_correct"))
		var answers []bool
		before := 0
		for i, text := range counts {
			var correct int
			if _, err := fmt.Sscan(text, &correct); err != nil {
				t.Fatalf("%s:%d: %v", r.file, r.line, err)
			}
			answers = append(answers, correct > before)
			before = correct
			state := plan.Follow(answers)
			want := Continue
			if i+1 == r.int("answers") {
				want = Decision(r.text("decision"))
			}
			if state.Decision != want || state.Correct != correct || state.N != i+1 {
				t.Errorf("%s:%d: after answer %d: %+v, want %s", r.file, r.line, i+1, state, want)
			}
		}
		return len(answers) == r.int("answers")
	})
}

func TestSequentialRisksAgainstReference(t *testing.T) {
	worst := struct{ similar, few, many float64 }{few: math.Inf(1)}
	eachRecord(t, "h3_sprt_oc_asn.csv", 96, func(r record) bool {
		plan, pc := r.sequential(), r.float("p_true")
		wald := plan.Wald(pc)
		r.near("OC_wald", wald.Similar, 1e-12)
		r.near("ASN_wald", wald.ExpectedN, 1e-12)
		out := plan.Outcome(pc)
		r.near("P_no_difference_exact", out.Similar, 1e-11) // printed to 13 digits
		r.near("P_difference_exact", out.Different, 1e-11)
		r.near("ASN_exact", out.ExpectedN, 1e-11)
		if out.Undecided != 0 || out.PC != pc || wald.PC != pc || len(out.Warnings) != 0 {
			t.Errorf("%s:%d: %+v", r.file, r.line, out)
		}
		worst.similar = max(worst.similar, math.Abs(wald.Similar-out.Similar))
		short := 1 - wald.ExpectedN/out.ExpectedN
		worst.few, worst.many = min(worst.few, short), max(worst.many, short)
		return true
	})
	t.Logf("Wald's approximation: %.4f off in Similar, ExpectedN %.3f to %.3f too small", worst.similar, worst.few, worst.many)
	if math.Abs(worst.similar-0.054) > 5e-4 || math.Abs(worst.few-0.02) > 5e-3 || math.Abs(worst.many-0.37) > 5e-3 {
		t.Errorf("the doc comment of Wald prints other errors: %+v", worst)
	}
}

// Where the steps are +ln 2 and -ln 2 and the bounds ±2 ln 2, a test ends
// exactly on a line, at two more right than wrong or the reverse: gambler's
// ruin (W. Feller, An Introduction to Probability Theory, XIV.2; from memory).
// Wald's approximation is then exact, and every decision is a tie.
func TestSequentialOnTheLine(t *testing.T) {
	plan := Sequential{P0: 1.0 / 3, P1: 2.0 / 3, Alpha: 0.2, Beta: 0.2, Every: 1}
	for _, pc := range []float64{0, 0.1, 1.0 / 3, 0.45, 0.5, 0.50000001, 2.0 / 3, 0.95, 1} {
		both := pc*pc + (1-pc)*(1-pc)
		similar, expected := (1-pc)*(1-pc)/both, 2/both
		out, wald := plan.Outcome(pc), plan.Wald(pc)
		for name, got := range map[string]float64{"Outcome": out.Similar, "Wald": wald.Similar} {
			if math.Abs(got-similar) > 1e-13 {
				t.Errorf("pc %v: %s: similar %.17g, want %.17g", pc, name, got, similar)
			}
		}
		for name, got := range map[string]float64{"Outcome": out.ExpectedN, "Wald": wald.ExpectedN} {
			if !agrees(got, expected, 1e-12) {
				t.Errorf("pc %v: %s: expected n %.17g, want %.17g", pc, name, got, expected)
			}
		}
		if math.Abs(out.Different+similar-1) > 1e-13 {
			t.Errorf("pc %v: different %v", pc, out.Different)
		}
	}
	for n := 2; n <= 4000; n += 2 {
		if s := plan.Look(n, n/2+1); s.Decision != Different || s.MinCorrect != n/2+1 {
			t.Errorf("two more right after %d: %+v", n, s)
		}
		if s := plan.Look(n, n/2-1); s.Decision != Similar || s.MaxCorrect != n/2-1 {
			t.Errorf("two more wrong after %d: %+v", n, s)
		}
		if s := plan.Look(n, n/2); s.Decision != Continue {
			t.Errorf("even after %d: %+v", n, s)
		}
	}
}

// Every path of up to 14 answers is followed and weighed: it holds the
// recursion against the decisions themselves, for all looks and maxima.
func TestSequentialOutcomeAgainstEveryPath(t *testing.T) {
	plans := []Sequential{
		{P0: 1.0 / 3, P1: 2.0 / 3, Alpha: 0.1, Beta: 0.1},
		{P0: 1.0 / 3, P1: 0.6, Alpha: 0.05, Beta: 0.2},
		{P0: 0.5, P1: 0.9, Alpha: 0.2, Beta: 0.05},
		{P0: 0.05, P1: 0.4, Alpha: 0.1, Beta: 0.3},
	}
	for _, plan := range plans {
		for _, every := range []int{1, 3, 4, 20} {
			for _, most := range []int{1, 7, 14} {
				for _, rule := range []Truncation{MaxUndecided, MaxNearest} {
					plan.Every, plan.Max, plan.AtMax = every, most, rule
					outcomeAgainstPaths(t, plan)
				}
			}
		}
	}
}

func outcomeAgainstPaths(t *testing.T, plan Sequential) {
	t.Helper()
	// paths[end][n][right] is the number of paths of Max answers, right of them
	// correct, that end so after n.
	paths := map[Decision][15][15]float64{}
	answers := make([]bool, plan.Max)
	for path := range 1 << plan.Max {
		right := 0
		for i := range answers {
			answers[i] = path>>i&1 == 1
			right += path >> i & 1
		}
		state := plan.Follow(answers)
		seen := paths[state.Decision]
		seen[state.N][right]++
		paths[state.Decision] = seen
	}
	for _, pc := range []float64{0, 0.2, plan.P0, plan.P1, 1} {
		weights := map[Decision]float64{}
		expected := 0.0
		for end, seen := range paths {
			for n := range seen {
				for right, number := range seen[n][:plan.Max+1] {
					weight := number * math.Pow(pc, float64(right)) * math.Pow(1-pc, float64(plan.Max-right))
					weights[end] += weight
					expected += weight * float64(n)
				}
			}
		}
		got := plan.Outcome(pc)
		if math.Abs(got.Different-weights[Different]) > 1e-14 || math.Abs(got.Similar-weights[Similar]) > 1e-14 ||
			math.Abs(got.Undecided-weights[Undecided]) > 1e-14 || weights[Continue] != 0 || !agrees(got.ExpectedN, expected, 1e-13) {
			t.Errorf("%+v at %v: %+v, by paths %v after %v", plan, pc, got, weights, expected)
		}
	}
}

// Wald's bounds hold for every pattern of looks, and a maximum that is one of
// the looks and ends undecided adds to no risk.
func TestSequentialRisksKeepWaldsBounds(t *testing.T) {
	for _, p1 := range []float64{0.45, 0.5, 0.6, 2.0 / 3, 0.9} {
		for _, alpha := range []float64{0.01, 0.05, 0.2} {
			for _, beta := range []float64{0.01, 0.1, 0.4} {
				for _, every := range []int{1, 2, 6, 12} {
					plan := Sequential{P0: 1.0 / 3, P1: p1, Alpha: alpha, Beta: beta, Every: every}
					free := plan.Risks()
					plan.Max, plan.AtMax = 31, MaxUndecided // mostly a look more
					between := plan.Risks()
					plan.Max = 36
					cut := plan.Risks()
					plan.AtMax = MaxNearest
					forced := plan.Risks()
					for _, r := range []SequentialRisks{free, cut, between} {
						if r.AtP0.Different > alpha/(1-beta) || r.AtP1.Similar > beta/(1-alpha) ||
							r.AtP0.Different+r.AtP1.Similar > alpha+beta {
							t.Errorf("%+v: risks %v and %v", plan, r.AtP0.Different, r.AtP1.Similar)
						}
					}
					if cut.AtP0.Different > free.AtP0.Different+1e-15 || cut.AtP1.Similar > free.AtP1.Similar+1e-15 {
						t.Errorf("%+v: a maximum raises the risks to %v and %v", plan, cut.AtP0.Different, cut.AtP1.Similar)
					}
					if forced.AtP0.Different < cut.AtP0.Different || forced.AtP1.Similar < cut.AtP1.Similar ||
						forced.AtP0.Undecided != 0 || forced.AtP1.Undecided != 0 {
						t.Errorf("%+v: deciding at the maximum: %+v", plan, forced)
					}
					for _, end := range []SequentialOutcome{free.AtP0, free.AtP1, cut.AtP0, cut.AtP1, forced.AtP0, forced.AtP1} {
						if sum := end.Different + end.Similar + end.Undecided; math.Abs(sum-1) > 1e-12 {
							t.Errorf("%+v at %v: ends sum to %v", plan, end.PC, sum)
						}
					}
					for _, r := range []SequentialRisks{free, cut, between, forced} {
						if warnsOf(r.Warnings, SequentialAlpha) != (r.AtP0.Different > alpha) ||
							warnsOf(r.Warnings, SequentialBeta) != (r.AtP1.Similar > beta) {
							t.Errorf("%+v: risks %v and %v, warnings %v", plan, r.AtP0.Different, r.AtP1.Similar, r.Warnings)
						}
					}
				}
			}
		}
	}
}

func TestSequentialOutcomeIsMonotone(t *testing.T) {
	for _, every := range []int{1, 8} {
		plan := trianglePlan
		plan.Every = every
		before := SequentialOutcome{Similar: 1}
		for pc := 0.0; pc <= 1; pc += 1.0 / 64 {
			out, wald := plan.Outcome(pc), plan.Wald(pc)
			if out.Different < before.Different-1e-15 || out.Similar > before.Similar+1e-15 {
				t.Errorf("every %d: at %v %+v, before %+v", every, pc, out, before)
			}
			if math.Mod(out.ExpectedN, 1) < 0 || out.ExpectedN < float64(every) || wald.Similar < 0 || wald.Similar > 1 || !(wald.ExpectedN > 0) {
				t.Errorf("every %d: at %v %+v, Wald %+v", every, pc, out, wald)
			}
			before = out
		}
	}
}

// A long maximum hardly differs from none.
func TestSequentialMaximumVanishes(t *testing.T) {
	free := trianglePlan.Outcome(0.4)
	undecided := 1.0
	for _, most := range []int{20, 60, 200, 800, 3000} {
		plan := trianglePlan
		plan.Max, plan.AtMax = most, MaxUndecided
		out := plan.Outcome(0.4)
		if out.Undecided >= undecided || out.ExpectedN > free.ExpectedN*(1+1e-12) {
			t.Errorf("maximum %d: %+v", most, out)
		}
		undecided = out.Undecided
	}
	if undecided > 1e-12 {
		t.Errorf("%v are undecided after 3000 answers", undecided)
	}
}

// No exact value exists for looks after rounds without a maximum, so tests are
// played.
func TestSequentialRoundsAgainstSimulation(t *testing.T) {
	const seed, tests = 16820, 10_000
	t.Logf("seed %d, %d tests", seed, tests)
	dice := rand.New(rand.NewPCG(seed, 0))
	for _, every := range []int{6, 24} {
		plan := trianglePlan
		plan.Every = every
		for _, pc := range []float64{1.0 / 3, 0.42, 0.5} {
			want := plan.Outcome(pc)
			var different, sum, squares float64
			for range tests {
				var answers []bool
				state := plan.Follow(answers)
				for state.Decision == Continue {
					for range every {
						answers = append(answers, dice.Float64() < pc)
					}
					state = plan.Look(len(answers), countRight(answers))
				}
				if again := plan.Follow(answers); again != state {
					t.Fatalf("rounds of %d: by look %+v, by path %+v", every, state, again)
				}
				if state.Decision == Different {
					different++
				}
				sum += float64(state.N)
				squares += float64(state.N) * float64(state.N)
			}
			mean := sum / tests
			meanError := math.Sqrt((squares/tests - mean*mean) / tests)
			shareError := math.Sqrt(want.Different * (1 - want.Different) / tests)
			if got := different / tests; math.Abs(got-want.Different) > 4*shareError {
				t.Errorf("rounds of %d at %v: %v different, computed %v", every, pc, got, want.Different)
			}
			if math.Abs(mean-want.ExpectedN) > 4*meanError {
				t.Errorf("rounds of %d at %v: %v answers, computed %v", every, pc, mean, want.ExpectedN)
			}
		}
	}
}

func countRight(answers []bool) (correct int) {
	for _, right := range answers {
		if right {
			correct++
		}
	}
	return correct
}

func TestSequentialDecidesOnlyAtLooks(t *testing.T) {
	allRight := make([]bool, 30)
	for i := range allRight {
		allRight[i] = true
	}
	for _, c := range []struct {
		every, most int
		n           int // at which all correct is "different": the line is met at 8
		first       int
	}{
		{1, 0, 8, 8}, {5, 0, 10, 10}, {8, 0, 8, 8}, {12, 0, 12, 12}, {12, 9, 9, 9}, {5, 7, 7, 0},
	} {
		plan := trianglePlan
		plan.Every, plan.Max, plan.AtMax = c.every, c.most, MaxUndecided
		want := Different
		if c.first == 0 {
			want = Undecided
		}
		for n := range allRight {
			state := plan.Follow(allRight[:n])
			switch {
			case n < c.n && (state.Decision != Continue || state.NextLook <= n || state.N != n || state.Unused != 0),
				n >= c.n && (state.Decision != want || state.NextLook != 0 || state.N != c.n || state.Unused != n-c.n):
				t.Errorf("every %d up to %d: after %d answers %+v", c.every, c.most, n, state)
			}
		}
		if got := plan.Lines().FirstDifferent; got != c.first {
			t.Errorf("every %d up to %d: first different at %d, want %d", c.every, c.most, got, c.first)
		}
	}
	state := trianglePlan.Look(3, 2)
	if state.MaxCorrect != -1 || state.MinCorrect <= 3 {
		t.Errorf("a look too early to decide: %+v", state)
	}
}

// What three triangles cannot tell is said, and so is a maximum that leaves
// most tests open.
func TestSequentialRisksWarn(t *testing.T) {
	plan := trianglePlan
	plan.Max, plan.AtMax = 6, MaxUndecided
	short := plan.Risks().Warnings
	if !warnsOf(short, SequentialOneEnd) || !warnsOf(short, SequentialUndecided) {
		t.Errorf("a maximum of 6: %v", short)
	}
	plan.Max = 400
	if long := plan.Risks().Warnings; len(long) != 0 {
		t.Errorf("a maximum of 400: %v", long)
	}
	near := Sequential{P0: 0.5, P1: 0.500001, Alpha: 0.05, Beta: 0.05, Every: 1}
	out := near.Outcome(0.5)
	if !warnsOf(out.Warnings, SequentialCut) || !(out.Undecided > 0.9) || math.IsNaN(out.ExpectedN) {
		t.Errorf("two pc that nobody can tell apart: %+v", out)
	}
	if lines := near.Lines(); lines.FirstSimilar < 1000 || math.Abs(lines.Slope-0.5) > 1e-6 {
		t.Errorf("lines of two close pc: %+v", lines)
	}
}

func warnsOf(warnings []Warning, kind WarningKind) bool {
	for _, w := range warnings {
		if w.Kind == kind && w.Say != "" {
			return true
		}
	}
	return false
}

// Extreme plans are answered with finite lines.
func TestSequentialExtremePlans(t *testing.T) {
	for _, plan := range []Sequential{
		{P0: 1e-310, P1: 0.5, Alpha: 0.05, Beta: 0.05, Every: 1},
		{P0: 0.5, P1: math.Nextafter(1, 0), Alpha: 0.05, Beta: 0.05, Every: 1},
		{P0: 0.5, P1: math.Nextafter(0.5, 1), Alpha: 0.05, Beta: 0.05, Every: 1},
		{P0: 0.4, P1: 0.6, Alpha: 1e-300, Beta: 1e-300, Every: 1},
		{P0: 0.4, P1: 0.6, Alpha: 0.05, Beta: 0.05, Every: math.MaxInt, Max: math.MaxInt, AtMax: MaxNearest},
	} {
		lines := plan.Lines()
		for _, x := range []float64{lines.Slope, -lines.LowerIntercept, lines.UpperIntercept, lines.StepCorrect, -lines.StepWrong} {
			if !(x > 0) || math.IsInf(x, 0) {
				t.Errorf("%+v: %+v", plan, lines)
			}
		}
		for _, state := range []SequentialState{plan.Look(0, 0), plan.Look(10, 10), plan.Look(1000, 0)} {
			if state.MinCorrect > state.N+1 || state.MaxCorrect < -1 || math.IsNaN(state.LogRatio) {
				t.Errorf("%+v: %+v", plan, state)
			}
		}
		for _, pc := range []float64{0, 1e-300, plan.P0, plan.P1, 1} {
			if wald := plan.Wald(pc); !(wald.Similar >= 0 && wald.Similar <= 1 && wald.ExpectedN > 0) {
				t.Errorf("%+v at %v: %+v", plan, pc, wald)
			}
		}
	}
}

func TestSequentialPanics(t *testing.T) {
	change := func(f func(p *Sequential)) func() {
		p := trianglePlan
		f(&p)
		return func() { p.Look(3, 2) }
	}
	bad := map[string]func(){
		"p0 0":           change(func(p *Sequential) { p.P0 = 0 }),
		"p1 1":           change(func(p *Sequential) { p.P1 = 1 }),
		"p1 below p0":    change(func(p *Sequential) { p.P1 = 0.2 }),
		"p1 equal to p0": change(func(p *Sequential) { p.P1 = p.P0 }),
		"p0 NaN":         change(func(p *Sequential) { p.P0 = math.NaN() }),
		"alpha 0":        change(func(p *Sequential) { p.Alpha = 0 }),
		"beta NaN":       change(func(p *Sequential) { p.Beta = math.NaN() }),
		"risks of 1":     change(func(p *Sequential) { p.Alpha, p.Beta = 0.5, 0.5 }),
		"no looks":       change(func(p *Sequential) { p.Every = 0 }),
		"maximum -1":     change(func(p *Sequential) { p.Max = -1 }),
		"past maximum":   change(func(p *Sequential) { p.Max, p.AtMax = 2, MaxNearest }),
		"no rule":        change(func(p *Sequential) { p.Max = 5 }),
		"4 of 3":         func() { trianglePlan.Look(3, 4) },
		"pc above 1":     func() { trianglePlan.Outcome(1.1) },
		"pc NaN":         func() { trianglePlan.Wald(math.NaN()) },
		"zero value":     func() { Sequential{}.Lines() },
		"zero risks":     func() { Sequential{}.Risks() },
		"zero path":      func() { Sequential{}.Follow(nil) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkSequentialFollow(b *testing.B) {
	answers := make([]bool, 30)
	for i := range answers {
		answers[i] = i%2 == 0
	}
	for b.Loop() {
		trianglePlan.Follow(answers)
	}
}

func BenchmarkSequentialRisks(b *testing.B) {
	for name, plan := range map[string]Sequential{
		"every":        trianglePlan,
		"rounds of 12": {P0: 1.0 / 3, P1: 0.5, Alpha: 0.05, Beta: 0.05, Every: 12},
		"up to 120":    {P0: 1.0 / 3, P1: 0.5, Alpha: 0.05, Beta: 0.05, Every: 1, Max: 120, AtMax: MaxNearest},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				plan.Risks()
			}
		})
	}
}

func BenchmarkSequentialWald(b *testing.B) {
	for b.Loop() {
		trianglePlan.Wald(0.4)
	}
}
