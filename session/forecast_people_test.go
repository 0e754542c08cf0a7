package session

import (
	"strings"
	"testing"
)

// 12 seats of six triangles at pd 0.3, by R 4.2.2:
//
//	m <- 0:12; sum(dbinom(m, 12, pd) * pbinom(crit - 6*m - 1, (12-m)*6, 1/3, lower.tail = FALSE))
//
// with crit 32 of 72; the smallest pd by uniroot of it; sizes by a scan of it up
// to 500; at best pbinom(31, 72, 8/15, lower.tail = FALSE).
func TestForecastGoesByPeople(t *testing.T) {
	test := triangles(6)
	test.Pd = 0.3
	f := planOf(12, test).Forecast()[0]
	if f.N != 72 || f.MinCorrect != 32 || !near(f.Power, 0.8290790787608846, 1e-12) || !near(f.AtBest, 0.94831531522732893, 1e-12) {
		t.Errorf("%d answers, minimum %d, power %.17g, at best %.17g", f.N, f.MinCorrect, f.Power, f.AtBest)
	}
	if f.First != 66 || f.Stable != 66 || !f.CanDetect || !near(f.Detectable, 0.282765094733, 2e-9) || f.Even != 12 {
		t.Errorf("first %d, stable %d, detectable %.12f, even %d", f.First, f.Stable, f.Detectable, f.Even)
	}
	for i, want := range []float64{0.6136419775678984, 0.8290790787608846, 0.94071849390433382} {
		if !near(f.AtPd[i].Power, want, 1e-12) {
			t.Errorf("at pd %v: %.17g, want %.17g", f.AtPd[i].Pd, f.AtPd[i].Power, want)
		}
	}
	for _, pt := range f.Curve {
		if pt.N%6 != 0 || pt.Balanced != (pt.N%36 == 0) {
			t.Errorf("%+v is on the curve", pt)
		}
	}
	if got := strings.Join(f.Warnings, " "); !strings.Contains(got, "If all perceive it equally well, 95 of 100 such panels would find it.") {
		t.Errorf("warnings %q", got)
	}
	// The result of such a session has the power that its plan had.
	if r := answered(planOf(12, test), seedOf(1), counting(30)).compute().Tests[0]; r.N != 72 || !near(r.Power, 0.8290790787608846, 1e-12) {
		t.Errorf("result of %d answers, power %.17g", r.N, r.Power)
	}
	// In twos 12 seats fall short of 0.8 and 18 do: 0.746 and 0.875.
	if f := planOf(12, triangles(2)).Forecast()[0]; !near(f.Power, 0.74635863707119021, 1e-12) || f.Even != 18 {
		t.Errorf("12 seats of two sets: power %.17g, even %d", f.Power, f.Even)
	}
}

// With one set a seat a share of people who perceive it and equal ability of all
// are the same.
func TestOneSetNeedsNoModelOfPeople(t *testing.T) {
	for _, test := range []TestPlan{triangles(1), pairOn("body"), testOf(Tetrad, GoalBoth, 1)} {
		f := planOf(24, test).Forecast()[0]
		if f.AtBest != f.Power || strings.Contains(strings.Join(f.Warnings, " "), "equally well") {
			t.Errorf("%s: power %v, at best %v", test.Method, f.Power, f.AtBest)
		}
		if got := f.peoplePower(24, test.Pd); !near(got, f.Power, 1e-12) {
			t.Errorf("%s: by people %v, power %v", test.Method, got, f.Power)
		}
	}
}

// A later test is decided only if the order comes to it. By R 4.2.2, pbinom as
// above: of 24 the triangle finds pd 0.4 with 0.7869782, the pair with 0.564674,
// and both are found with 0.4443861; of 42 with 0.8046449, and of 36 with 0.6757.
// At pd 0.25 and a wanted power of 0.9 the triangle alone takes 84, the pair alone
// 144, and both in their order 150.
func TestLaterTestIsJudgedInItsPlace(t *testing.T) {
	f := usual().Forecast()
	if len(f) != 2 || f[0].Reached != 1 || !near(f[1].Reached, 0.7869782010394587, 1e-12) || !near(f[1].Finds(), 0.4443861, 1e-6) || f[0].Finds() != f[0].Power {
		t.Fatalf("reached %v, found %v", f[1].Reached, f[1].Finds())
	}
	if got := strings.Join(f[1].Warnings, " "); !strings.Contains(got, "Of 100 such sessions, 79 come to this test, and 44 would find") || strings.Contains(got, "would do") {
		t.Errorf("warning %q", got)
	}
	if got := SeatsEnough(f, 24, 6); got != 42 {
		t.Errorf("%d seats are enough", got)
	}
	far := usual()
	for i := range far.Tests {
		far.Tests[i].Pd, far.Tests[i].Power = 0.25, 0.9
	}
	if got := SeatsEnough(far.Forecast(), 24, 6); got != 150 {
		t.Errorf("%d seats are enough at pd 0.25", got)
	}
	// A blank test stands outside the order, as the first or between others.
	blank := triangles(1)
	blank.Blank = BlankUntreated
	p := planOf(24, blank, triangles(1), pairOn("body"))
	f = p.Forecast()
	if f[0].Reached != 1 || f[1].Reached != 1 || !near(f[2].Reached, 0.7869782010394587, 1e-12) {
		t.Errorf("with a blank test: reached %v, %v, %v", f[0].Reached, f[1].Reached, f[2].Reached)
	}
	if got := SeatsEnough(f, 24, 6); got != 42 {
		t.Errorf("with a blank test %d seats are enough", got)
	}
	// None does up to the most that a plan takes, and what may stop early has none.
	p = planOf(24, testOf(DuoTrio, GoalDifference, 1))
	p.Tests[0].Pd = 0.01
	if got := SeatsEnough(p.Forecast(), 24, 4); got != 0 {
		t.Errorf("pd 0.01: %d seats are enough", got)
	}
	if got := SeatsEnough(planOf(24, sequential(2)).Forecast(), 24, 6); got != 0 {
		t.Errorf("what may stop early: %d seats are enough", got)
	}
}

// Sets are not people: for similarity fewer than 30 people are never offered
// (ISO 5495, note to table A.3), however many sets each gets.
func TestSimilarityTakesPeople(t *testing.T) {
	test := testOf(Triangle, GoalSimilarity, 4)
	test.Power, test.PdLimit = 0.8, 0.4
	f := planOf(12, test).Forecast()
	if got := SeatsEnough(f, 12, 6); got != 30 || f[0].Even != 30 || !f[0].Few() {
		t.Errorf("%d seats are enough, alone %d, few %v", got, f[0].Even, f[0].Few())
	}
	if f := planOf(30, test).Forecast()[0]; f.Few() {
		t.Error("30 people are said to be few")
	}
	if got := strings.Join(f[0].Warnings, " "); !strings.Contains(got, "Similarity is decided from each taster’s own share") || strings.Contains(got, "best case") {
		t.Errorf("warnings %q", got)
	}
}

// With several sets each taster's own share decides on similarity: no count of all
// answers is shown as a maximum, and from fewer than 12 people nothing is concluded
// ([stats.FewestForReplicatedSimilarity]). R 4.2.2, the sum over perceivers m of
// dbinom(m, 30, pd) * pbinom(39 - 3*m, (30 - m)*3, 1/3), 39 being the most right of
// 90 at β 0.05 within 30 %: 0.9816755 pass of identical lots.
func TestSimilarityFromSetsHasNoCount(t *testing.T) {
	test := testOf(Triangle, GoalSimilarity, 3)
	test.PdLimit = 0.3
	f := planOf(30, test).Forecast()[0]
	if !near(f.PassAlike, 0.9816754605178533, 1e-12) || !near(f.passByPeople(30, 0.03779046783), 0.9295831104588753, 1e-8) || !f.HasMax || f.NoConclusion() != "" {
		t.Errorf("identical pass %.16g, at 3.8 %% %.16g, can conclude %v", f.PassAlike, f.passByPeople(30, 0.03779046783), f.HasMax)
	}
	if f.MaxCorrect != 0 || f.ActualBeta != 0 || f.SimilarFirst != 0 || f.SimilarStable != 0 || f.Within != 0 || f.CanPromise {
		t.Errorf("figures of a count that does not decide: %+v", f)
	}
	test.Sets, test.PdLimit, test.Beta = 6, 0.5, 0.1
	f = planOf(6, test).Forecast()[0]
	if f.HasMax || f.PassAlike != 0 || f.People != 12 || f.Even != 30 {
		t.Errorf("6 people: can conclude %v, identical pass %v, it takes %d, %d would do", f.HasMax, f.PassAlike, f.People, f.Even)
	}
	for _, pt := range f.SimilarCurve {
		if (pt.Power > 0) != (pt.N >= 72) {
			t.Errorf("on the curve %+v", pt)
		}
	}
	for _, want := range []string{"not concluded from fewer than 12 people, however many sets each gets", "This test takes 12 people; 30 or more are advised."} {
		if got := strings.Join(f.Warnings, " "); !strings.Contains(got, want) || strings.Contains(got, "would pass") {
			t.Errorf("warnings %q", got)
		}
	}
	test.PdLimit = 0.06
	if f := planOf(24, test).Forecast()[0]; f.HasMax || f.People <= 24 || !strings.Contains(f.NoConclusion(), "Even guesses of 24 people would leave open") {
		t.Errorf("24 people within 6 %%: it takes %d: %q", f.People, f.NoConclusion())
	}
	test.PdLimit, test.Beta = 0.01, 0.0001
	if f := planOf(24, test).Forecast()[0]; f.HasMax || f.People != 0 || !strings.Contains(f.NoConclusion(), "no plan takes so many") {
		t.Errorf("24 people within 1 %%: it takes %d: %q", f.People, f.NoConclusion())
	}
}

// A maximum below what guessing gives is no conclusion, and the plan says which.
// R 4.2.2: qbinom(0.01, 48, 1/2) - 1 is 15, and 48 guesses give 16.
func TestNoConclusionSaysWhy(t *testing.T) {
	test := testOf(Triangle, GoalSimilarity, 1)
	test.PdLimit, test.Beta = 0.25, 0.01
	if got := planOf(48, test).Forecast()[0].NoConclusion(); !strings.Contains(got, "it takes at most 15 right, and that is below the 16 that guessing gives.") || !strings.Contains(got, "(ISO 4120)") {
		t.Errorf("48 triangles: %q", got)
	}
	test.Method = DuoTrio.Key
	if got := planOf(7, test).Forecast()[0].NoConclusion(); !strings.Contains(got, "below the 3.5 that guessing gives") || !strings.Contains(got, "by the same reasoning") {
		t.Errorf("7 duo-trio tests: %q", got)
	}
	test = testOf(PairedComparison, GoalSimilarity, 1)
	test.TwoSided, test.PdLimit = true, 0.2
	if got := planOf(20, test).Forecast()[0].NoConclusion(); !strings.Contains(got, "either lot could be picked 7 times at most") {
		t.Errorf("20 pairs: %q", got)
	}
}

// Risks of a test that may stop early go by people: R 4.2.2, see
// stats.TestSequentialRisksByPeople. At best is what independent answers give.
func TestSequentialForecastGoesByPeople(t *testing.T) {
	test := testOf(Tetrad, GoalDifference, 6)
	test.Sequential, test.Alpha, test.Pd, test.Beta = true, 0.1, 0.3, 0.1
	f := planOf(12, test).Forecast()[0]
	if !near(f.Finds(), 0.7775868068230835, 1e-12) || !near(f.Risks.AtP1.Similar, 0.1123068053848824, 1e-12) || f.BestEnd == nil || f.BestEnd.Different < 0.89 || f.BestEnd.Different > 0.91 {
		t.Errorf("finds %.16g, low end %.16g, at best %+v", f.Finds(), f.Risks.AtP1.Similar, f.BestEnd)
	}
	if got := strings.Join(f.Warnings, " "); !strings.Contains(got, "90 of 100 such panels would.") || !strings.Contains(got, "as “no difference found” is 0.112, above the planned β 0.1") {
		t.Errorf("warnings %q", got)
	}
	test.Sets = 1
	if f := inFlights(planOf(36, test), 12, 12, 12).Forecast()[0]; f.BestEnd != nil || f.Risks == nil {
		t.Errorf("with one set each: at best %+v", f.BestEnd)
	}
}

// Whoever splits evenly counts for nothing: the actual α is over all numbers of
// majorities. R 4.2.2: the sum over n of dbinom(n, 20, 1 - dbinom(2, 4, 1/2)) times
// the two-sided tail at the minimum of n.
func TestActualAlphaCountsEvenSplits(t *testing.T) {
	test := testOf(PairedComparison, GoalDifference, 4)
	test.TwoSided, test.Alpha = true, 0.1
	if f := planOf(20, test).Forecast()[0]; !near(f.ActualAlpha, 0.055961543387939, 1e-12) || f.MinCorrect != 15 {
		t.Errorf("actual α %.15g, minimum %d", f.ActualAlpha, f.MinCorrect)
	}
	test.Sets = 3
	if f := planOf(20, test).Forecast()[0]; !near(f.ActualAlpha, 0.04138946533203125, 1e-12) { // R: 2*pbinom(14, 20, 0.5, lower = FALSE)
		t.Errorf("three pairs: actual α %.17g", f.ActualAlpha)
	}
}

// What the plan's check refuses gets no number, and its reason; words that are
// still missing are no refusal.
func TestRefusedTestGetsNoNumber(t *testing.T) {
	three := testOf(ThreeAFC, GoalDifference, 1)
	for _, c := range []struct {
		name   string
		tests  []TestPlan
		refuse int // the test, from 0; -1 for none
		say    string
	}{
		{"3-AFC with a triangle", []TestPlan{triangles(1), three}, 1, "no 3-AFC test in a session with a triangle"},
		{"attribute first", []TestPlan{pairOn("body"), triangles(1)}, 1, "an attribute test must not come before"},
		{"similar one way", []TestPlan{testOf(PairedComparison, GoalSimilarity, 1)}, 0, "similarity needs the two-sided paired comparison"},
		{"several sets of 3-AFC", []TestPlan{testOf(ThreeAFC, GoalDifference, 3)}, 0, "one 3-AFC test set per seat"},
		{"no attribute yet", []TestPlan{triangles(1), pairOn("")}, -1, ""},
		{"sound", []TestPlan{triangles(1), pairOn("body")}, -1, ""},
	} {
		for i, f := range planOf(24, c.tests...).Forecast() {
			switch {
			case i != c.refuse && (f.Refused != "" || f.Power == 0 || f.Curve == nil):
				t.Errorf("%s: test %d is refused (%q), or has no power", c.name, i+1, f.Refused)
			case i == c.refuse && (!strings.HasPrefix(f.Refused, c.say) || f.Power != 0 || f.PassAlike != 0 || f.Curve != nil || f.SimilarCurve != nil || f.MinCorrect != 0):
				t.Errorf("%s: refused %q, power %v, identical pass %v", c.name, f.Refused, f.Power, f.PassAlike)
			}
		}
	}
}

// A session of 100 seats with six triangles and six pairs, as it is typed.
func BenchmarkForecast100SeatsOf6(b *testing.B) {
	p := planOf(100, triangles(6), testOf(PairedComparison, GoalDifference, 6))
	for b.Loop() {
		SeatsEnough(p.Forecast(), 100, 6)
	}
}

func BenchmarkForecast100SeatsOf6Triangles(b *testing.B) {
	p := planOf(100, triangles(6))
	for b.Loop() {
		p.Forecast()
	}
}

func BenchmarkForecast100SeatsOf6ForSimilarity(b *testing.B) {
	p := planOf(100, testOf(Triangle, GoalBoth, 6))
	for b.Loop() {
		p.Forecast()
	}
}
