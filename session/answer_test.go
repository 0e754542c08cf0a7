package session

import (
	"math"
	"strings"
	"testing"
)

// result makes a result as Compute would, of counts alone: a test of no answers
// has N 0.
func result(tests ...TestResult) Result {
	r := Result{Seal: true, Tests: tests}
	open := true
	for i := range r.Tests {
		t := &r.Tests[i]
		t.Number, t.Decided = i+1, open
		t.Method, _ = MethodByKey(t.Plan.Method)
		t.analyse(nil)
		if t.Outcome = Different; !open || !t.significant() {
			t.Outcome, open = Undecided, false
		}
	}
	return r
}

func of(p TestPlan, correct, n int) TestResult { return TestResult{Plan: p, Correct: correct, N: n} }

func twoSidedOn(attribute string) TestPlan {
	p := pairOn(attribute)
	p.TwoSided = true
	return p
}

func TestAnswers(t *testing.T) {
	tri := triangles(1)
	const undecided = "Undecided. These answers do not show that the panel could tell the two lots apart; they do not show that the lots are the same."
	for _, c := range []struct {
		name string
		r    Result
		want string
	}{
		{"no test", Result{}, "There is no answer: no set of the first test counts."},
		{"no answers", result(of(tri, 0, 0)), "There is no answer: no set of the first test counts."},
		{"triangle", result(of(tri, 13, 24)), "Yes. The panel could tell the two lots apart."},
		{"triangle, one short", result(of(tri, 12, 24)), undecided},
		{"both", result(of(tri, 13, 24), of(pairOn("body"), 17, 24)),
			"Yes. The panel could tell the two lots apart, and it could tell them apart by body."},
		{"first only", result(of(tri, 13, 24), of(pairOn("body"), 16, 24)),
			"Yes. The panel could tell the two lots apart. Whether they can be told apart by body is undecided."},
		{"second only", result(of(tri, 12, 24), of(pairOn("body"), 24, 24)), undecided},
		{"no pair answered", result(of(tri, 13, 24), of(pairOn("body"), 0, 0)),
			"Yes. The panel could tell the two lots apart. Whether they can be told apart by body is undecided."},
		{"two attributes", result(of(tri, 13, 24), of(pairOn("body"), 17, 24), of(pairOn("acidity"), 18, 24)),
			"Yes. The panel could tell the two lots apart, and it could tell them apart by body and acidity."},
		{"one attribute of two", result(of(tri, 13, 24), of(pairOn("body"), 17, 24), of(pairOn("acidity"), 9, 24)),
			"Yes. The panel could tell the two lots apart, also by body; whether they can be told apart by acidity is undecided."},
		{"two-sided, high", result(of(tri, 13, 24), of(twoSidedOn("body"), 18, 24)),
			"Yes. The panel could tell the two lots apart, and it could tell them apart by body."},
		{"two-sided, low", result(of(tri, 13, 24), of(twoSidedOn("body"), 6, 24)),
			"Yes. The panel could tell the two lots apart, and it could tell them apart by body, with less of it in the untreated lot."},
	} {
		if got := c.r.Answer(); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
}

// A plan of an attribute test alone passes Check: its answer names the attribute.
func TestAnswerOfAnAttributeTestAlone(t *testing.T) {
	if f := planOf(24, pairOn("body")).Check(); f != nil {
		t.Skip("such a plan is refused")
	}
	if got := result(of(pairOn("body"), 17, 24)).Answer(); !strings.HasPrefix(got, "Yes.") || !strings.Contains(got, "body") {
		t.Errorf("body alone: %q", got)
	}
	if got := result(of(twoSidedOn("body"), 6, 24)).Answer(); !strings.Contains(got, "untreated") {
		t.Errorf("less body in the untreated lot, and: %q", got)
	}
}

// What is not significant never reads as "the same", in no count of any panel.
func TestUndecidedNeverReadsAsTheSame(t *testing.T) {
	seen := 0
	for n := 0; n <= 30; n++ {
		for x := 0; x <= n; x++ {
			r := result(of(triangles(1), x, n), of(pairOn("body"), x, n))
			for _, test := range r.Tests {
				all := strings.ToLower(r.Answer() + " " + test.Verdict() + " " + test.PSentence() + " " + test.Sentence())
				all = strings.ReplaceAll(all, "do not show that the lots are the same", "")
				for _, bad := range []string{"the same", "no difference", "identical", "alike", "equal", "could not"} {
					if strings.Contains(all, bad) {
						t.Errorf("%d of %d reads %q: %s", x, n, bad, all)
					}
				}
				if test.Outcome == Undecided {
					seen++
					if strings.Contains(test.Verdict(), "Different") {
						t.Errorf("%d of %d: %s", x, n, test.Verdict())
					}
				}
			}
			if r.Tests[0].Outcome != Different && strings.HasPrefix(r.Answer(), "Yes") {
				t.Errorf("%d of %d: %s", x, n, r.Answer())
			}
		}
	}
	if seen < 300 {
		t.Errorf("%d undecided results were read", seen)
	}
}

func TestSentences(t *testing.T) {
	for _, c := range []struct {
		r                            TestResult
		sentence, pSentence, verdict string
	}{
		{of(triangles(1), 13, 24), "13 of 24 found the odd cup; guessing alone gives 8 on average.",
			"If nobody could taste a difference, 13 or more would turn up in 28 of 1000 such sessions (p\u00a0=\u00a00.028).",
			"Different: the count reaches the minimum of 13 at α 0.05."},
		{of(triangles(1), 12, 25), "12 of 25 found the odd cup; guessing alone gives 8.3 on average.", "", "Undecided: the count does not reach the minimum of 13 at α 0.05."},
		{of(pairOn("body"), 17, 24), "17 of 24 picked the processed lot as the one with less body; guessing alone gives 12 on average.",
			"If nobody could taste a difference, 17 or more would turn up in 32 of 1000 such sessions (p\u00a0=\u00a00.032).",
			"Different: the count reaches the minimum of 17 at α 0.05."},
		{of(twoSidedOn("body"), 18, 24), "18 of 24 picked the processed lot as the one with less body; guessing alone gives 12 on average.",
			"If nobody could taste a difference, a count this uneven, either way, would turn up in 23 of 1000 such sessions (p\u00a0=\u00a00.023).", ""},
		{of(triangles(1), 0, 24), "0 of 24 found the odd cup; guessing alone gives 8 on average.",
			"If nobody could taste a difference, 0 or more would turn up in all of 1000 such sessions (p\u00a0=\u00a01.0).", "Undecided: the count does not reach the minimum of 13 at α 0.05."},
		{of(triangles(1), 24, 24), "24 of 24 found the odd cup; guessing alone gives 8 on average.",
			"If nobody could taste a difference, 24 or more would turn up in fewer than 1 of 1000 such sessions (p\u00a0<\u00a00.0001).", "Different: the count reaches the minimum of 13 at α 0.05."},
		{of(triangles(1), 2, 2), "", "", "Undecided: no count of 2 can be significant at α 0.05."},
		{of(triangles(1), 0, 0), "No answer counts.", "", "Nothing to decide on."},
	} {
		got := result(c.r).Tests[0]
		for _, x := range []struct{ what, got, want string }{
			{"sentence", got.Sentence(), c.sentence}, {"p", got.PSentence(), c.pSentence}, {"verdict", got.Verdict(), c.verdict},
		} {
			if x.want != "" && x.got != x.want {
				t.Errorf("%d of %d, %s:\n%s\nwant\n%s", c.r.Correct, c.r.N, x.what, x.got, x.want)
			}
		}
	}
	stopped := result(of(triangles(1), 12, 24), of(pairOn("body"), 24, 24)).Tests[1]
	if got := stopped.Verdict(); !strings.HasPrefix(got, "Not decided: the registered order stops") {
		t.Errorf("after the order stopped: %s", got)
	}
}

// Six of 24 are different where both sides count, and do not reach 18: the
// verdict must not say that they do.
func TestVerdictOfTheLowSide(t *testing.T) {
	got := result(of(twoSidedOn("body"), 6, 24)).Tests[0]
	if got.Outcome != Different || strings.Contains(got.Verdict(), "the count reaches the minimum of 18") {
		t.Errorf("6 of 24, two-sided: %s", got.Verdict())
	}
}

func TestPValue(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{
		{1, "1.0"}, {0.995, "1.0"}, {0.9949, "0.99"}, {0.5, "0.50"}, {0.1, "0.10"}, {0.0676, "0.068"}, {0.010826684448815994, "0.011"},
		{0.0284, "0.028"}, {0.00137, "0.0014"}, {0.000123, "0.00012"}, {0.0001, "0.0001"}, {0.0000999, "<\u00a00.0001"}, {0, "<\u00a00.0001"},
	} {
		if got := PValue(c.p); got != c.want {
			t.Errorf("p %v reads %q, want %q", c.p, got, c.want)
		}
	}
	for p := 1.0; p >= 0.0001; p *= 0.999 {
		if got := PValue(p); strings.Trim(got, "0123456789.") != "" {
			t.Errorf("p %v reads %q", p, got)
		}
	}
}

// A printed p must not stand on the other side of α than the verdict: 0.0504 is
// not "0.05" beside "undecided at α 0.05".
func TestPrintedPNeverHidesTheVerdict(t *testing.T) {
	bad := 0
	for n := 3; n <= 130; n++ {
		for x := 0; x <= n; x++ {
			for _, plan := range []TestPlan{triangles(1), pairOn("body")} {
				m, _ := MethodByKey(plan.Method)
				p := pValue(n, x, plan, m)
				if p > plan.Alpha && PValue(p) == num(plan.Alpha) {
					bad++
					t.Logf("%s, %d of %d: p = %.5f reads %q", m.Name, x, n, p, PValue(p))
				}
			}
		}
	}
	if bad > 0 {
		t.Errorf("%d counts print p as α, and are undecided", bad)
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{
		{0.05, "0.05"}, {0.0001, "0.0001"}, {0.8, "0.80"}, {0.994, "over 0.99"}, {1, "1.00"}, {0, "0.00"}, {0.787, "0.79"},
		{math.NaN(), "unbounded"}, {math.Inf(1), "unbounded"},
	} {
		if got := num(c.x); got != c.want {
			t.Errorf("%v reads %q, want %q", c.x, got, c.want)
		}
	}
	if percent(0.3) != "30 %" || counted(1, "set") != "1 set" || counted(2, "set") != "2 sets" {
		t.Error("a share or a count reads wrongly")
	}
}
