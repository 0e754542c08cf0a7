package session

import (
	"strings"
	"testing"
)

// A later test is judged on lots that are as it supposes, and what comes before it
// on the same lots. R 4.2.2: d′ by uniroot, the triangle's share right by integrate,
// the duo-trio's by pnorm, counts by pbinom; 60 people, α and β 0.05.
func TestTestsBeforeAreJudgedOnTheSameLots(t *testing.T) {
	limited := func(m Method, limit float64) TestPlan {
		test := testOf(m, GoalSimilarity, 1)
		test.PdLimit = limit
		return test
	}
	differing := func(m Method, pd float64) TestPlan {
		test := testOf(m, GoalDifference, 1)
		test.Pd = pd
		return test
	}
	alikeBody := testOf(PairedComparison, GoalSimilarity, 1)
	alikeBody.TwoSided = true
	alikeAcidity := alikeBody
	alikeAcidity.Attribute = "acidity"
	bodyTwice := differing(PairedComparison, 0.4)
	for _, c := range []struct {
		name           string
		tests          []TestPlan
		reached, alike float64
		hopeless       bool
		say            string
	}{
		// d′ 1.7153 is 32.3 % in a triangle: at most 25 of 60 right.
		{"similar, then different", []TestPlan{limited(Triangle, 0.3), differing(DuoTrio, 0.4)}, 0.02754843869101205, 1, true,
			"since lots that differ so reach the limit of test 1 and pass as similar by error only"},
		// pd 5 % of a duo-trio is 3.8 % in a triangle.
		{"similar, then different by little", []TestPlan{limited(Triangle, 0.3), differing(DuoTrio, 0.05)}, 0.8581980929063857, 1, false,
			"since lots that differ so must first pass as similar in test 1"},
		{"similar, then body", []TestPlan{limited(Triangle, 0.3), differing(PairedComparison, 0.4)}, 0.7569328974897671, 1, false,
			"at most, since lots that differ so must first pass as similar in test 1"},
		{"different, then similar", []TestPlan{differing(Triangle, 0.4), limited(DuoTrio, 0.4)}, 1, 0.03969240429091547, true,
			"since lots that are alike are called different in test 1 by error only"},
		{"different, then alike in body", []TestPlan{differing(Triangle, 0.4), alikeBody}, 1, 0.9933626091901429, false,
			"as those before it show that the lots differ in something else"},
		// d′ 1.9756 is 48.6 % in a duo-trio: at most 35 of 60, or 42 at a limit of 60 %.
		{"different, similar, then alike in body", []TestPlan{differing(Triangle, 0.4), limited(DuoTrio, 0.4), alikeBody}, 1, 0.9933626091901429 * 0.005072190560064814, true,
			"since lots that differ in something else must first pass as similar, by error"},
		{"different, similar within more, then alike in body", []TestPlan{differing(Triangle, 0.4), limited(DuoTrio, 0.6), alikeBody}, 1, 0.9933626091901429 * 0.2651226772529192, false, ""},
		// 25 to 35 of 60 pairs are alike.
		{"alike in acidity, then body", []TestPlan{alikeAcidity, differing(PairedComparison, 0.4)}, 0.844998095997, 1, false, "as those before it show what they look for"},
		{"body, then alike in body", []TestPlan{bodyTwice, alikeBody}, 1, 0.0462304905365, true, "are called different in test 1 by error only"},
		{"similar twice", []TestPlan{limited(Triangle, 0.3), limited(DuoTrio, 0.4)}, 1, 0.931984821641, false, "as lots that are alike pass those before it"},
	} {
		all := planOf(60, c.tests...).Forecast()
		f := all[len(all)-1]
		if !near(f.Reached, c.reached, 1e-7) || !near(f.ReachedAlike, c.alike, 1e-7) || f.against() != c.hopeless {
			t.Errorf("%s: reached %.10f, alike %.10f, order against it %v; want %.10f, %.10f, %v", c.name, f.Reached, f.ReachedAlike, f.against(), c.reached, c.alike, c.hopeless)
		}
		if got := f.OrderWords(f.Plan.WantsSimilarity()); !strings.Contains(got, c.say) {
			t.Errorf("%s: %q", c.name, got)
		}
		if c.hopeless {
			if got := SeatsEnough(all, 60, 12); got != 0 || !strings.Contains(strings.Join(f.Warnings, " "), "with the goal “both”") {
				t.Errorf("%s: %d seats are enough; warnings %q", c.name, got, f.Warnings)
			}
		} else if f.OrderAdvice() != "" || len(all) == 2 && AnyAgainst(all) {
			t.Errorf("%s: advice %q, the order stands against a test %v", c.name, f.OrderAdvice(), AnyAgainst(all))
		}
	}
	// What each finds alone is not what the session finds: 0.0275 × 0.9368.
	f := planOf(60, limited(Triangle, 0.3), differing(DuoTrio, 0.4)).Forecast()[1]
	if !near(f.Finds(), 0.02754843869101205*0.9367618700348016, 1e-9) {
		t.Errorf("found with %v", f.Finds())
	}
}
