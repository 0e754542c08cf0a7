package console

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"oddcup/session"
)

// goalPlan is thirty triangles for similarity, or for both goals.
func goalPlan(goal string) session.Plan {
	p := tablePlan(30)
	p.Tests = p.Tests[:1]
	t := &p.Tests[0]
	t.Goal, t.Beta, t.PdLimit = goal, 0.1, 0.3
	if goal == session.GoalSimilarity {
		t.Alpha, t.Pd = 0, 0
	}
	return p
}

// A triangle of 30 at β 0.1 and a pd limit of 0.3 has the maximum 11, the actual
// β 0.049719 and passes identical lots with 1 − 0.276136; with 10 correct the
// exact upper limit of pd at 0.9 is 0.19942 (exact integers and mpmath;
// testdata/reference, d_similarity_max_correct.csv and d2_pd_limits.csv).
func TestSimilarityIsSaidWithItsFigures(t *testing.T) {
	b := tasted(t, goalPlan(session.GoalSimilarity), 10)
	x := b.revealed().Tests[0]
	if x.MaxCorrect != 11 || x.Outcome != session.Similar {
		t.Fatalf("maximum %d, %s", x.MaxCorrect, x.Outcome)
	}
	body := b.page("result")
	b.wants(body, "registered goal: similarity", x.SimilarSentence(), x.Verdict(), "11 of 30", "0.1, 0.0497", "(wanted 0.8)", "0.72", "(limit 0.3)", "0.20",
		"maximum 11 for similarity", "shows similarity", "pd, with 80 % interval, exploratory", "pd limit 0.3", "β 0.1 at a pd limit of 30\u00a0%.")
	b.saysNot(body, "minimum correct", "shows a difference", "If nobody could taste", "α 0")
	if n := strings.Count(body, "shows similarity"); n != 12 {
		t.Errorf("%d counts of the table show similarity, want 0 to 11", n)
	}
	b.wants(b.home(), "Revealed: similar within the limit: fewer than 30 % of people perceive a difference.", `mark-similar`)
	var w wireResult
	_, file := b.get("result.json")
	if err := json.Unmarshal([]byte(file), &w); err != nil {
		t.Fatal(err)
	}
	g := w.Tests[0]
	if g.P != nil || g.Alpha != nil || g.PlannedPd != nil || g.MinCorrect != nil || g.Power != nil || *g.Beta != 0.1 || *g.PdLimit != 0.3 ||
		g.Similarity == nil || *g.Similarity.MaxCorrect != 11 || g.Similarity.By != "count" || g.Similarity.MinCorrect != nil || !g.Checks.Estimates {
		t.Errorf("result.json: %+v", g)
	}
}

func TestBothGoalsGiveFourOutcomes(t *testing.T) {
	// In a triangle of 60, α 0.1 and β 0.2 against a pd of 0.4, the minimum is 25
	// and the maximum 33 or more: counts between are both.
	for _, x := range []struct {
		seats, right int
		alpha        float64
		want         session.Outcome
		mark, says   string
	}{
		{60, 27, 0.1, session.DifferentSmall, "mark-small", "Yes, by little."},
		{60, 59, 0.1, session.Different, "mark-different", "Yes."},
		{60, 18, 0.1, session.Similar, "mark-similar", "Similar within the limit."},
		{9, 5, 0.01, session.Undecided, "mark-undecided", "Undecided."},
	} {
		t.Run(string(x.want), func(t *testing.T) {
			p := goalPlan(session.GoalBoth)
			p.Seats, p.Tests[0].Alpha, p.Tests[0].PdLimit, p.Tests[0].Beta = x.seats, x.alpha, 0.4, 0.2
			if x.want == session.Undecided {
				p.Tests[0].PdLimit = 0.1
			}
			b := tasted(t, p, x.right)
			res := b.revealed()
			got := res.Tests[0]
			if got.Outcome != x.want {
				t.Fatalf("%s, with minimum %d and maximum %d", got.Outcome, got.MinCorrect, got.MaxCorrect)
			}
			body := b.page("result")
			b.wants(body, `class="outcome"><svg class="mark `+x.mark, string(x.want)+` <span class="note">registered goal: difference and similarity`, x.says,
				got.PSentence(), got.SimilarSentence(), "minimum correct")
			// The interval is at 1 − 2α; the limit of similarity has its own level and mark.
			b.wants(body, "upper limit for similarity", "pd, one-sided at 80 %", "at most "+fixed(max(0, got.PdUpper), 2), "A square bracket is the upper limit for similarity")
			if n := strings.Count(body, `d="M-9 -8H0V8H-9"`); n != 1 {
				t.Errorf("%d limits are drawn, want 1", n)
			}
			home := b.home()
			b.wants(home, `mark `+x.mark, pvalue(got.P)+" / "+pvalue(got.SimilarP))
			if n := len(h1.FindAllString(body, -1)); n != 1 {
				t.Errorf("%d h1", n)
			}
		})
	}
}

func TestTwoSidedSimilarityNamesItsRange(t *testing.T) {
	p := tablePlan(60)
	p.Tests = p.Tests[1:]
	x := &p.Tests[0]
	x.Goal, x.Alpha, x.Pd, x.Beta, x.PdLimit, x.TwoSided = session.GoalSimilarity, 0, 0, 0.1, 0.3, true
	b := tasted(t, p, 30)
	got := b.revealed().Tests[0]
	body := b.page("result")
	b.wants(body, fmt.Sprintf("%d to %d of 60", got.MinSimilar, got.MaxCorrect), fmt.Sprintf("%d to %d for similarity", got.MinSimilar, got.MaxCorrect), "range of similarity", "pd limit −0.3")
	if n := strings.Count(body, "shows similarity"); n != got.MaxCorrect-got.MinSimilar+1 || n == 0 {
		t.Errorf("%d counts show similarity, want those from %d to %d", n, got.MinSimilar, got.MaxCorrect)
	}
}

// With several pairs a seat tasters are counted, and who splits evenly is left
// out.
func TestMajoritiesAreCountedByTaster(t *testing.T) {
	p := tablePlan(12)
	p.Tests = p.Tests[1:]
	p.Tests[0].Sets = 2
	b := start(t, p)
	b.taste(b.come(), func(seat, set int) bool { return seat <= 6 || seat <= 9 && set == 1 })
	b.do(session.OpenPourSheet{Pin: "4711"})
	x := b.revealed().Tests[0]
	if x.N != 9 || x.Correct != 6 || x.Even != 3 || x.Sets != 24 {
		t.Fatalf("%d of %d, %d even, %d sets", x.Correct, x.N, x.Even, x.Sets)
	}
	body := b.page("result")
	b.wants(body, x.Sentence(), "9, 3 tasters left out whose own answers split evenly", "24 of 24", "tasters who mostly picked the processed lot, of 9", "power of 9 tasters")
	var w wireResult
	_, file := b.get("result.json")
	if err := json.Unmarshal([]byte(file), &w); err != nil {
		t.Fatal(err)
	}
	if g := w.Tests[0]; g.N != 9 || g.Answers != 24 || g.EvenSplits != 3 {
		t.Errorf("result.json: %+v", g)
	}
}

// Several sets a seat: how far tasters differ stands beside, and similarity is
// judged from each taster's own share.
func TestSpreadStandsBeside(t *testing.T) {
	p := goalPlan(session.GoalBoth)
	p.Seats, p.Tests[0].Sets = 12, 3
	b := start(t, p)
	b.taste(b.come(), func(seat, _ int) bool { return seat <= 4 }) // some always, the others never
	b.do(session.OpenPourSheet{Pin: "4711"})
	x := b.revealed().Tests[0]
	if x.Spread == nil || x.Replicated == nil {
		t.Fatalf("spread %v, replicated %v", x.Spread, x.Replicated)
	}
	body := b.page("result")
	b.wants(body, "how far tasters differ, γ", spreadOf(*x.Spread), "by a beta-binomial model", x.Verdict())
	b.saysNot(body, "maximum correct for similarity", "shows similarity")
	var w wireResult
	_, file := b.get("result.json")
	if err := json.Unmarshal([]byte(file), &w); err != nil {
		t.Fatal(err)
	}
	if g := w.Tests[0].Similarity; g == nil || g.By != "beta-binomial" || g.MaxCorrect != nil || g.PdUpper == nil {
		t.Errorf("similarity of result.json: %+v", g)
	}
}

func TestPracticeNeverCounts(t *testing.T) {
	p := tablePlan(6)
	p.Tests, p.Practice = p.Tests[:1], true
	b := start(t, p)
	seats := b.come()
	body := b.page("board")
	b.wants(body, "Practice: each phone tells its taster at once.", "practice: it never counts")
	b.saysNot(body, "Right or wrong is not known here")
	b.taste(seats, always(true))
	b.revealed()
	b.wants(b.page("result"), "Practice: each taster was told at once", "practice, never counts")
	home := b.home()
	b.wants(home, "practice: never counts", "Practice is over. It never counts, so there is no verdict on the lots.", "<span>practice, no verdict</span>", "6 of 6")
	b.saysNot(home, "<span>different</span>", "could tell the two lots apart", "&lt; 0.05", "0.0014")
	b.wants(b.page("trail"), "practice, 6 seats")
	_, file := b.get("result.json")
	b.wants(file, `"practice": true`)
	_, file = b.get("result.csv")
	if !strings.Contains(file, "test,0,1,1,1,1,0,1,triangle") {
		t.Errorf("result.csv: %.400s", file)
	}
}

// The places named are tested against even use: of 12 answers all to one of two
// places p is 2/4096, to one of three 3/531441 (exact integers, by hand).
func TestPlacesNamedAreTested(t *testing.T) {
	for _, x := range []struct {
		m      session.Method
		places []int
		p      float64
		says   string
	}{
		{session.PairedComparison, []int{12, 0}, 2.0 / 4096, "left 12 and right 0"},
		{session.DuoTrio, []int{0, 12, 0}, 2.0 / 4096, "middle 12 and right 0"},
		{session.Triangle, []int{0, 0, 12}, 3.0 / 531441, "left 0, middle 0 and right 12"},
		{session.Tetrad, []int{0, 0, 12, 0}, 3.0 / 531441, "second 0, third 12 and right 0"},
		{session.Triangle, []int{4, 4, 4}, 1, "left 4, middle 4 and right 4"},
	} {
		r := session.TestResult{Method: x.m}
		c, ok := choiceOf(r, x.places)
		if !ok || c.PValue < x.p*(1-1e-9) || c.PValue > x.p*(1+1e-9) {
			t.Errorf("%s %v: p %v, want %v", x.m.Key, x.places, c.PValue, x.p)
		}
		if f, _ := placesNamed(r, x.places); !strings.HasPrefix(f.Value, x.says+"; ") || !strings.HasSuffix(f.Value, "exact)") {
			t.Errorf("%s: %q", x.m.Key, f.Value)
		}
	}
	for _, none := range [][]int{nil, {0, 0, 0}} {
		if _, ok := choiceOf(session.TestResult{Method: session.Triangle}, none); ok {
			t.Errorf("%v was tested", none)
		}
	}
}
