package session

import (
	"strings"
	"testing"
)

// limited is a test of similarity with a pd limit, differing one of a difference.
func limited(m Method, limit float64) TestPlan {
	test := testOf(m, GoalSimilarity, 1)
	test.PdLimit = limit
	return test
}

func differing(m Method, pd float64) TestPlan {
	test := testOf(m, GoalDifference, 1)
	test.Pd = pd
	return test
}

// A later test is judged on lots that are as it supposes, and what comes before it
// on the same lots. R 4.2.2: d′ by uniroot, the triangle's share right by integrate,
// the duo-trio's by pnorm, counts by pbinom; 60 people, α and β 0.05.
func TestTestsBeforeAreJudgedOnTheSameLots(t *testing.T) {
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

// Every test before a later one is judged on the lots of the later one, whatever it
// looks for itself. R 4.2.2, d′ and shares right as above: the triangle at the d′ of
// a duo-trio's pd, a pair at the other pair's, and so on.
func TestTestsBeforeFindWhatTheLotsHave(t *testing.T) {
	acidity := testOf(PairedComparison, GoalSimilarity, 1)
	acidity.TwoSided, acidity.Attribute = true, "acidity"
	for _, c := range []struct {
		name           string
		seats          int
		tests          []TestPlan
		reached, alike float64
		say            string
		enough         int // in whole blocks of 12 seats
	}{
		{"a smaller difference after a larger", 60, []TestPlan{differing(Triangle, 0.5), differing(DuoTrio, 0.2)}, 0.466866083744297, 1,
			"since test 1 looks for a larger difference than such lots have", 216},
		{"less of an attribute after more of it", 60, []TestPlan{differing(PairedComparison, 0.5), differing(PairedComparison, 0.2)}, 0.451106389384435, 1,
			"since test 1 looks for a larger difference than such lots have", 0},
		{"an attribute that is all and more", 40, []TestPlan{differing(Triangle, 0.2), differing(PairedComparison, 0.8)}, 0.909830132797244, 1,
			"as those before it find a difference in such lots", 0},
		{"one pd, another size", 60, []TestPlan{differing(Triangle, 0.3), differing(DuoTrio, 0.3)}, 0.778991785381596, 1,
			"since test 1 looks for a larger difference than such lots have", 0},
		{"different, similar, then a little body", 60, []TestPlan{differing(Triangle, 0.5), limited(DuoTrio, 0.25), differing(PairedComparison, 0.2)}, 3.50108780837697e-07, 1,
			"since lots that differ so reach the limit of test 2 and pass as similar by error only", 0},
		{"alike in acidity, which much body hides", 60, []TestPlan{differing(Triangle, 0.1), differing(PairedComparison, 0.6), acidity}, 1, 0.546468932343436, "", 0},
	} {
		all := planOf(c.seats, c.tests...).Forecast()
		f := all[len(all)-1]
		if !near(f.Reached, c.reached, 1e-9) || !near(f.ReachedAlike, c.alike, 1e-9) {
			t.Errorf("%s: reached %.12g, alike %.12g; want %.12g, %.12g", c.name, f.Reached, f.ReachedAlike, c.reached, c.alike)
		}
		if got := f.OrderWords(false); c.say != "" && !strings.Contains(got, c.say) {
			t.Errorf("%s: %q", c.name, got)
		}
		if c.enough > 0 {
			if got := SeatsEnough(all, c.seats, 12); got != c.enough {
				t.Errorf("%s: %d seats are enough, want %d", c.name, got, c.enough)
			}
		}
	}
}

// What stands before a test and can't end so that the order goes on is named; the
// test's own numbers are not blamed.
func TestABarInTheOrderIsNamed(t *testing.T) {
	bar := testOf(Triangle, GoalSimilarity, 1)
	bar.PdLimit = 0.2
	f := planOf(36, bar, testOf(PairedComparison, GoalDifference, 1)).Forecast()[1]
	got := strings.Join(f.Warnings, " ")
	if !f.HasMin || f.Finds() != 0 || !strings.Contains(got, "no result of test 1 with so many seats lets it go on") || strings.Contains(got, "can be significant") {
		t.Errorf("minimum %v, found %v: %q", f.HasMin, f.Finds(), got)
	}
	// With more seats the first test can conclude, and nothing bars the second.
	if f := planOf(120, bar, testOf(PairedComparison, GoalDifference, 1)).Forecast(); !f[0].HasMax || f[1].BarWords() != "" {
		t.Errorf("120 seats: %v, %q", f[0].HasMax, f[1].BarWords())
	}
}

// Where assessors are counted, words count them and not their answers.
func TestWordsCountAssessors(t *testing.T) {
	pairs := testOf(PairedComparison, GoalDifference, 2)
	pairs.TwoSided = true
	f := planOf(12, pairs).Forecast()[0]
	got := strings.Join(f.Warnings, " ")
	if !strings.Contains(got, "12 assessors fall short") || !strings.Contains(got, "assessors would do") || strings.Contains(got, "answers") {
		t.Errorf("%q", got)
	}
}
