package session

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"oddcup/stats"
)

// bothGoals is a row of counts with all that the two goals make of them, at α
// and β 0.05 and pd 0.4. By R 4.2.2, with c the chance and l the pd limit:
//
//	k <- 0:n; pl <- c + l*(1-c)
//	binom.test(x, n, c, "greater")$p.value
//	m <- min(k[pbinom(k-1, n, c, lower.tail=FALSE) <= .05])
//	pbinom(m-1, n, c, lower.tail=FALSE); pbinom(m-1, n, c + .4*(1-c), lower.tail=FALSE)
//	binom.test(x, n, pl, "less")$p.value
//	M <- max(k[pbinom(k, n, pl) <= .05]); pbinom(M, n, pl); pbinom(M, n, c)
//	(binom.test(x, n, conf.level=.9)$conf.int[2] - c)/(1-c)
//
// Where M < n*c the standards draw no conclusion (max -1 here).
type bothGoals struct {
	n, x        int
	limit       float64
	p           float64
	min         int
	alpha       float64
	power       float64
	similarP    float64
	max         int
	beta, alike float64
	upper       float64
}

var oneInThree = []bothGoals{
	{60, 20, 0.4, 0.54841122421042532, 27, 0.039692404290915431, 0.99336260919014296, 2.7047676241638642e-05, 29, 0.044480314184217398, 0.99444697670283944, 0.16969846669783911},
	{60, 26, 0.4, 0.068015178358880865, 27, 0.039692404290915431, 0.99336260919014296, 0.0066373908098570616, 29, 0.044480314184217398, 0.99444697670283944, 0.3213413772891856},
	{60, 27, 0.4, 0.039692404290915431, 27, 0.039692404290915431, 0.99336260919014296, 0.013283536322992237, 29, 0.044480314184217398, 0.99444697670283944, 0.34598551905081681},
	{60, 29, 0.4, 0.011350898229518966, 27, 0.039692404290915431, 0.99336260919014296, 0.044480314184217398, 29, 0.044480314184217398, 0.99444697670283944, 0.39475574716871481},
	{60, 30, 0.4, 0.0055530232971604818, 27, 0.039692404290915431, 0.99336260919014296, 0.074623694351427475, 29, 0.044480314184217398, 0.99444697670283944, 0.41888355547619771},
	{60, 40, 0.4, 1.3617600330332258e-07, 27, 0.039692404290915431, 0.99336260919014296, 0.8830403007044324, 29, 0.044480314184217398, 0.99444697670283944, 0.65044452264645847},
	{24, 8, 0.4, 0.57619535162161584, 13, 0.028441128095468789, 0.78697820103945948, 0.0075097549284077452, 9, 0.021658051329602902, 0.74616511981627331, 0.28213434221051048},
	{24, 12, 0.4, 0.067658779032431476, 13, 0.028441128095468789, 0.78697820103945948, 0.21302179896054052, 9, 0.021658051329602902, 0.74616511981627331, 0.52086846645837859},
	{24, 13, 0.4, 0.028441128095468789, 13, 0.028441128095468789, 0.78697820103945948, 0.34976186815618243, 9, 0.021658051329602902, 0.74616511981627331, 0.57646671014068585},
	{24, 8, 0.2, 0.57619535162161584, 13, 0.028441128095468789, 0.78697820103945948, 0.13427341397164158, -1, 0, 0, 0.28213434221051048},
	{24, 6, 0.2, 0.86174649587109697, 13, 0.028441128095468789, 0.78697820103945948, 0.025254067083525615, -1, 0, 0, 0.15203706835151645},
	{24, 13, 0.2, 0.028441128095468789, 13, 0.028441128095468789, 0.78697820103945948, 0.82667429583938223, -1, 0, 0, 0.57646671014068585},
}

var oneInTwo = []bothGoals{
	{60, 30, 0.5, 0.55128908650428488, 37, 0.046230490536462096, 0.9367618700348016, 2.6694272174083915e-05, 38, 0.029800870014848279, 0.98632993306596095, 0.22517807396826361},
	{60, 36, 0.5, 0.07750095200163036, 37, 0.046230490536462096, 0.9367618700348016, 0.0074944089943219504, 38, 0.029800870014848279, 0.98632993306596095, 0.41335011264868271},
	{60, 37, 0.5, 0.046230490536462096, 37, 0.046230490536462096, 0.9367618700348016, 0.015416329730583636, 38, 0.029800870014848279, 0.98632993306596095, 0.44387808381988791},
	{60, 38, 0.5, 0.025946947964460763, 37, 0.046230490536462096, 0.9367618700348016, 0.029800870014848279, 38, 0.029800870014848279, 0.98632993306596095, 0.47415504766629901},
	{60, 39, 0.5, 0.013670066934039023, 37, 0.046230490536462096, 0.9367618700348016, 0.054143938188219193, 38, 0.029800870014848279, 0.98632993306596095, 0.50417385116337776},
	{60, 50, 0.5, 8.0819072830785678e-08, 37, 0.046230490536462096, 0.9367618700348016, 0.95483251850751971, 38, 0.029800870014848279, 0.98632993306596095, 0.81338613458952724},
	{24, 12, 0.4, 0.58059012889862061, 17, 0.031957328319549602, 0.56467400993343064, 0.031393654095974617, 12, 0.031393654095974617, 0.58059012889862061, 0.36115795527783812},
	{24, 16, 0.4, 0.075794816017150934, 17, 0.031957328319549602, 0.56467400993343064, 0.43532599006656936, 12, 0.031393654095974617, 0.58059012889862061, 0.64407874943198995},
	{24, 17, 0.4, 0.031957328319549602, 17, 0.031957328319549602, 0.56467400993343064, 0.611410876606862, 12, 0.031393654095974617, 0.58059012889862061, 0.70862703942392713},
	{24, 12, 0.2, 0.58059012889862061, 17, 0.031957328319549602, 0.56467400993343064, 0.2130217989605413, -1, 0, 0, 0.36115795527783812},
}

// outcome is what the counts say under a goal, by the two minima alone.
func (c bothGoals) outcome(goal string) Outcome {
	different, similar := goal != GoalSimilarity && c.x >= c.min, goal != GoalDifference && c.x <= c.max
	switch {
	case different && similar:
		return DifferentSmall
	case different:
		return Different
	case similar:
		return Similar
	}
	return Undecided
}

func agrees(got, want float64) bool { return got == want || math.Abs(got/want-1) < 1e-11 }

func (c bothGoals) check(t *testing.T, name string, r TestResult) {
	t.Helper()
	goal := r.Plan.Goal
	if r.N != c.n || r.Correct != c.x || !r.Decided || r.Outcome != c.outcome(goal) {
		t.Errorf("%s: %d of %d, decided %v: %s; want %d of %d: %s", name, r.Correct, r.N, r.Decided, r.Outcome, c.x, c.n, c.outcome(goal))
	}
	p, min, alpha, power := c.p, c.min, c.alpha, c.power
	if goal == GoalSimilarity {
		p, min, alpha, power = 1, 0, 0, 0
	}
	if !agrees(r.P, p) || r.MinCorrect != min || r.HasMin != (min > 0) || !agrees(r.ActualAlpha, alpha) || !agrees(r.Power, power) {
		t.Errorf("%s: p %.17g, minimum %d, actual α %.17g, power %.17g", name, r.P, r.MinCorrect, r.ActualAlpha, r.Power)
	}
	similarP, beta, alike, upper := c.similarP, c.beta, c.alike, c.upper
	if goal == GoalDifference {
		similarP, beta, alike, upper = 0, 0, 0, 0
	}
	has := goal != GoalDifference && c.max >= 0
	if !agrees(r.SimilarP, similarP) || r.HasMax != has || has && r.MaxCorrect != c.max || !agrees(r.ActualBeta, beta) || !agrees(r.PassAlike, alike) || !agrees(r.PdUpper, upper) {
		t.Errorf("%s: similarity p %.17g, maximum %d (%v), actual β %.17g, identical pass %.17g, upper pd %.17g",
			name, r.SimilarP, r.MaxCorrect, r.HasMax, r.ActualBeta, r.PassAlike, r.PdUpper)
	}
	if confidence := 0.9; !near(r.Confidence, confidence, 1e-15) {
		t.Errorf("%s: confidence %v", name, r.Confidence)
	}
	// The interval's upper end is the limit that similarity is judged by.
	if r.PdInterval.Upper != r.PdUpper && goal != GoalDifference {
		t.Errorf("%s: the interval ends at %v, similarity is judged at %v", name, r.PdInterval.Upper, r.PdUpper)
	}
}

func rowsOf(m Method) []bothGoals {
	if m.Chance() == 0.5 {
		return oneInTwo
	}
	return oneInThree
}

var goals = []string{GoalDifference, GoalSimilarity, GoalBoth}

// Each method under each goal, in whole sessions with journal, seal and codes.
func TestWholeSessionsOfEveryMethodAndGoal(t *testing.T) {
	played := 0
	for _, m := range Methods {
		for i, goal := range goalsOf(m) {
			// One row a goal here; all rows are held below.
			c := rowsOf(m)[6+i]
			test := testOf(m, goal, 1)
			test.PdLimit = c.limit
			if m.Key == DuoTrio.Key && goal == GoalSimilarity {
				test.Reference = ReferenceConstant
			}
			g, r := playedSession(t, planOf(c.n, test), c.x)
			c.check(t, m.Key+", "+goal, r.Tests[0])
			if !r.Seal {
				t.Errorf("%s: the seal does not hold", m.Key)
			}
			want := Revealing{m.Key, c.n, c.x, r.Tests[0].P, true, r.Tests[0].Outcome, r.Tests[0].SimilarP}
			if g.s.Result.Tests[0] != want {
				t.Errorf("%s: the entry says %+v", m.Key, g.s.Result.Tests[0])
			}
			if !reflect.DeepEqual(g.s, g.replayed(g.s.Seq)) {
				t.Errorf("%s: replayed it is another session", m.Key)
			}
			played++
		}
	}
	if played != 11 {
		t.Errorf("%d sessions", played)
	}
}

// playedSession is played without the name of the local variable.
func playedSession(t tester, p Plan, correct int) (*game, Result) {
	t.Helper()
	return played(t, p, p.Seats, correct)
}

func TestEveryCountOfEveryMethodAndGoal(t *testing.T) {
	outcomes := map[Outcome]int{}
	for _, m := range Methods {
		for _, c := range rowsOf(m) {
			for _, goal := range goals {
				test := testOf(m, goal, 1)
				test.PdLimit = c.limit
				r := answered(planOf(c.n, test), seedOf(1), counting(c.x)).compute().Tests[0]
				c.check(t, fmt.Sprintf("%s, %s, %d of %d", m.Key, goal, c.x, c.n), r)
				outcomes[r.Outcome]++
			}
		}
	}
	for _, o := range []Outcome{Different, DifferentSmall, Similar, Undecided} {
		if outcomes[o] < 5 {
			t.Errorf("%s came %d times", o, outcomes[o])
		}
	}
}

// testdata/reference/d3_power.csv, exact integers: both tests' counts and risks
// at one α = β and pd.
func TestResultsAgainstReferencePowers(t *testing.T) {
	rows := referenceRows(t, "d3_power.csv")
	checked := 0
	for _, row := range rows {
		n, pd := int(number(t, row, "n")), number(t, row, "pd")
		for _, m := range Methods {
			if m.Chance() != number(t, row, "p0") {
				continue
			}
			test := testOf(m, GoalBoth, 1)
			test.Alpha, test.Pd, test.PdLimit = number(t, row, "alpha_or_beta"), pd, pd
			test.Beta = test.Alpha
			r := TestResult{Plan: test, Method: m, N: n, Correct: n / 2}
			r.analyse(nil)
			at := fmt.Sprintf("%s, n %d, α = β = %v, pd %v", m.Key, n, test.Alpha, pd)
			if row["diff_min_correct"] == "" != !r.HasMin {
				t.Errorf("%s: minimum %d (%v), want %q", at, r.MinCorrect, r.HasMin, row["diff_min_correct"])
			}
			if r.HasMin && (r.MinCorrect != int(number(t, row, "diff_min_correct")) ||
				!agrees(r.ActualAlpha, number(t, row, "diff_actual_alpha")) || !agrees(r.Power, number(t, row, "diff_power_at_pd"))) {
				t.Errorf("%s: minimum %d, actual α %v, power %v", at, r.MinCorrect, r.ActualAlpha, r.Power)
			}
			// A maximum below the count of guessing allows no conclusion.
			max := number(t, row, "sim_max_correct")
			conclusive := max >= 0 && max >= float64(n)*m.Chance()*(1-1e-12)
			if r.HasMax != conclusive {
				t.Errorf("%s: maximum %d (%v), want %v", at, r.MaxCorrect, r.HasMax, max)
			}
			if r.HasMax && (r.MaxCorrect != int(max) || !agrees(r.ActualBeta, number(t, row, "sim_actual_beta")) ||
				!agrees(r.PassAlike, number(t, row, "sim_power_if_identical"))) {
				t.Errorf("%s: maximum %d, actual β %v, identical pass %v", at, r.MaxCorrect, r.ActualBeta, r.PassAlike)
			}
			checked++
		}
	}
	if checked != len(rows)/2*3+len(rows)/2*2 {
		t.Errorf("checked %d of %d rows", checked, len(rows))
	}
}

// testdata/reference/d4_similarity_both_ways.csv, R 4.2.2: similarity of a
// paired comparison both ways.
func TestTwoSidedSimilarityAgainstReference(t *testing.T) {
	similar := map[bool]int{}
	for _, row := range referenceRows(t, "d4_similarity_both_ways.csv") {
		n, x := int(number(t, row, "n")), int(number(t, row, "x"))
		test := testOf(PairedComparison, GoalSimilarity, 1)
		test.TwoSided, test.Beta, test.PdLimit = true, number(t, row, "beta"), number(t, row, "pd")
		r := TestResult{Plan: test, Method: PairedComparison, N: n, Correct: x}
		r.analyse(nil)
		at := fmt.Sprintf("%d of %d at β %v, limit %v", x, n, test.Beta, test.PdLimit)
		p := max(number(t, row, "p_upper"), number(t, row, "p_lower"))
		upper := max(2*number(t, row, "pc_upper")-1, 1-2*number(t, row, "pc_lower"))
		if !agrees(r.SimilarP, p) || !near(r.PdUpper, upper, 1e-11) {
			t.Errorf("%s: p %v, want %v; upper pd %v, want %v", at, r.SimilarP, p, r.PdUpper, upper)
		}
		if r.HasMax != (row["highest"] != "") {
			t.Errorf("%s: a maximum %v, want %q", at, r.HasMax, row["highest"])
			continue
		}
		want := false
		if r.HasMax {
			lowest, highest := int(number(t, row, "lowest")), int(number(t, row, "highest"))
			want = lowest <= x && x <= highest
			if r.MinSimilar != lowest || r.MaxCorrect != highest || !agrees(r.ActualBeta, number(t, row, "actual_beta")) ||
				!agrees(r.PassAlike, number(t, row, "power_identical")) {
				t.Errorf("%s: range %d to %d, actual β %v, identical pass %v", at, r.MinSimilar, r.MaxCorrect, r.ActualBeta, r.PassAlike)
			}
		}
		if got := r.outcome(); (got == Similar) != want {
			t.Errorf("%s: %s", at, got)
		}
		similar[want]++
	}
	if similar[true] < 20 || similar[false] < 20 {
		t.Errorf("similar %d times, not %d times", similar[true], similar[false])
	}
}

// Two-sided pairs for both goals, at α and β 0.05, pd 0.4 and the limit 0.3, by
// R 4.2.2:
//
//	k <- 0:n; h <- .65; m <- min(k[pbinom(k-1, n, .5, lower.tail=FALSE) <= .025])
//	M <- max(k[pbinom(k, n, h) <= .05])
//	binom.test(x, n)$p.value; 2*pbinom(m-1, n, .5, lower.tail=FALSE)
//	pbinom(m-1, n, .7, lower.tail=FALSE) + pbinom(n-m, n, .7)
//	max(binom.test(x, n, h, "less")$p.value, binom.test(x, n, 1-h, "greater")$p.value)
//	pbinom(M, n, h) - pbinom(n-M-1, n, h); pbinom(M, n, .5) - pbinom(n-M-1, n, .5)
func TestTwoSidedBothAgainstR(t *testing.T) {
	for _, c := range []struct {
		x           int
		p, similarP float64
		want        Outcome
	}{
		{75, 1, 0.00011423451537416545, Similar},
		{64, 0.086071103185970818, 0.031113441367207239, Similar},
		{87, 0.060027215697265525, 0.044777657027126258, Similar},
		{63, 0.060027215697265525, 0.044777657027126258, Similar},
		{62, 0.040868493866493931, 0.062944852847700503, Different},
		{88, 0.040868493866493931, 0.062944852847700503, Different},
		{100, 5.4475331033925765e-05, 0.69392026464893242, Different},
	} {
		test := testOf(PairedComparison, GoalBoth, 1)
		test.TwoSided, test.PdLimit = true, 0.3
		r := answered(planOf(150, test), seedOf(1), counting(c.x)).compute().Tests[0]
		if r.Correct != c.x || r.Outcome != c.want || !agrees(r.P, c.p) || !agrees(r.SimilarP, c.similarP) {
			t.Errorf("%d of 150: %d: %s, p %.17g, similarity p %.17g", c.x, r.Correct, r.Outcome, r.P, r.SimilarP)
		}
		if r.MinCorrect != 88 || !agrees(r.ActualAlpha, 0.040868493866493931) || !agrees(r.Power, 0.99880102550066829) {
			t.Errorf("%d of 150: minimum %d, actual α %.17g, power %.17g", c.x, r.MinCorrect, r.ActualAlpha, r.Power)
		}
		if r.MinSimilar != 63 || r.MaxCorrect != 87 || !agrees(r.ActualBeta, 0.044777654079086057) || !agrees(r.PassAlike, 0.95913150613350606) {
			t.Errorf("%d of 150: %d to %d, actual β %.17g, identical pass %.17g", c.x, r.MinSimilar, r.MaxCorrect, r.ActualBeta, r.PassAlike)
		}
	}
}

// With several pairs a seat assessors are counted, even splits left out. By R
// 4.2.2: binom.test(13, 18, .5, "greater")$p.value and so on, two-sided without
// "greater"; the power of 18 majorities of two pairs at pd 0.4, where 4 of 10
// perceive it in both and the others guess, is pbinom(12, 18, .55/(.55+.15),
// lower.tail=FALSE).
func TestMajoritiesAgainstR(t *testing.T) {
	for _, c := range []struct {
		name               string
		seats, sets        int
		twoSided           bool
		right              func(seat, set int) bool
		n, x, even, sets2  int
		p                  float64
		want               Outcome
		power              float64
		sentence, leftOver string
	}{
		{"two pairs, two even splits", 20, 2, false, func(seat, set int) bool { return seat <= 13 || seat >= 19 && set == 1 },
			18, 13, 2, 40, 0.048126220703125007, Different, 0.82965429660074208,
			"13 of 18 tasters mostly picked the processed lot", "2 more tasters split evenly and are left out."},
		{"one even split", 20, 4, false, func(seat, set int) bool { return seat <= 14 || seat == 20 && set <= 2 },
			19, 14, 1, 80, 0.031784057617187493, Different, 0, "14 of 19 tasters", "1 more taster split evenly and is left out."},
		{"three pairs", 20, 3, false, func(seat, set int) bool { return seat <= 15 && set != 2 || seat > 15 && set == 2 },
			20, 15, 0, 60, 0.020694732666015642, Different, 0, "15 of 20 tasters", ""},
		{"three pairs, two-sided", 20, 3, true, func(seat, set int) bool { return seat <= 15 && set != 2 || seat > 15 && set == 2 },
			20, 15, 0, 60, 0.041389465332031285, Different, 0, "15 of 20 tasters", ""},
		{"most pairs of some, undecided", 17, 3, false, func(seat, set int) bool { return seat <= 12 && set > 1 },
			17, 12, 0, 51, 0.071731567382812528, Undecided, 0, "12 of 17 tasters", ""},
		{"all pairs of a few", 12, 6, true, func(seat, _ int) bool { return seat <= 3 },
			12, 3, 0, 72, 0.14599609375000008, Undecided, 0, "3 of 12 tasters", ""},
		{"all split evenly", 4, 2, false, func(_, set int) bool { return set == 1 },
			0, 0, 4, 8, 1, Undecided, 0, "No answer counts.", ""},
	} {
		test := testOf(PairedComparison, GoalDifference, c.sets)
		test.TwoSided = c.twoSided
		r := answered(planOf(c.seats, test), seedOf(3), c.right).compute().Tests[0]
		if r.N != c.n || r.Correct != c.x || r.Even != c.even || r.Sets != c.sets2 || !agrees(r.P, c.p) || r.Outcome != c.want {
			t.Errorf("%s: %d of %d, %d even, %d sets, p %.17g: %s", c.name, r.Correct, r.N, r.Even, r.Sets, r.P, r.Outcome)
		}
		if c.power != 0 && !agrees(r.Power, c.power) {
			t.Errorf("%s: power %.17g, want %.17g", c.name, r.Power, c.power)
		}
		if got := r.Sentence(); !strings.HasPrefix(got, c.sentence) || !strings.HasSuffix(got, c.leftOver) {
			t.Errorf("%s: %s", c.name, got)
		}
	}
	// testdata/reference/i_sign_test.csv, exact integers.
	checked := 0
	for _, row := range referenceRows(t, "i_sign_test.csv") {
		plus, minus := int(number(t, row, "n_plus")), int(number(t, row, "n_minus"))
		test := testOf(PairedComparison, GoalDifference, 3)
		right := func(seat, set int) bool { return (seat <= plus) != (set == 1 && seat%2 == 0) }
		for _, twoSided := range []bool{false, true} {
			test.TwoSided = twoSided
			r := answered(planOf(plus+minus, test), seedOf(4), right).compute().Tests[0]
			want := number(t, row, map[bool]string{false: "P_one_sided_plus", true: "P_two_sided"}[twoSided])
			if r.N != plus+minus || r.Correct != plus || !agrees(r.P, want) {
				t.Errorf("%d for and %d against, two-sided %v: %d of %d, p %v, want %v", plus, minus, twoSided, r.Correct, r.N, r.P, want)
			}
		}
		checked++
	}
	if checked < 10 {
		t.Errorf("%d rows", checked)
	}
}

// A forecast's power is that of the test that is made of the answers: three
// pairs of 20 seats at pd 0.4. Where 4 of 10 perceive it in all three and the
// others guess, 0.7 of the majorities are right, and if all have equal ability
// more are; by R 4.2.2:
//
//	pbinom(14, 20, .4 + .6/2, lower.tail=FALSE)
//	r <- pbinom(1, 3, .7, lower.tail=FALSE); pbinom(14, 20, r, lower.tail=FALSE)
func TestPowerOfMajoritiesAgainstR(t *testing.T) {
	const want, atBest = 0.41637082944748016, 0.74891439375865443
	p := planOf(20, testOf(PairedComparison, GoalDifference, 3))
	f := p.Forecast()[0]
	r := answered(p, seedOf(1), counting(30)).compute().Tests[0]
	if !agrees(f.Power, want) || !agrees(r.Power, want) || !agrees(f.AtBest, atBest) || f.N != 20 || f.Answers != 60 || f.MinCorrect != 15 {
		t.Errorf("forecast %.17g of %d, result %.17g, want %.17g", f.Power, f.N, r.Power, want)
	}
}

// With several sets a seat similarity is judged from each assessor's own count,
// missing and voided sets left out, and the pooled count is not.
func TestSimilarityOfSeveralSets(t *testing.T) {
	test := testOf(Triangle, GoalBoth, 3)
	g := newGame(t).toOpen(planOf(12, test), 12)
	right := func(seat, set int) bool { return seat <= 4 || set == 1 && seat%2 == 0 }
	assessors := make([]stats.Replicates, 12)
	for set := 1; set <= 3; set++ {
		g.do(Serve{Round: set})
		for seat := 1; seat <= 12; seat++ {
			if seat == 5 && set == 3 || seat == 12 {
				continue // no answer
			}
			g.do(g.answer(seat, set, 0, right(seat, set)))
			if seat == 7 && set == 1 {
				g.do(Void{Seat: 7, Set: 1, Reason: text("spilt")})
				continue
			}
			assessors[seat-1].N++
			if right(seat, set) {
				assessors[seat-1].Correct++
			}
		}
	}
	r := g.reveal().Tests[0]
	assessors = assessors[:11] // seat 12 gave no answer
	wantN, wantX := 0, 0
	for _, a := range assessors {
		wantN, wantX = wantN+a.N, wantX+a.Correct
	}
	if r.N != wantN || r.Correct != wantX || r.Missing != 36-wantN || r.Voided != 1 {
		t.Errorf("%d of %d, missing %d, voided %d; want %d of %d", r.Correct, r.N, r.Missing, r.Voided, wantX, wantN)
	}
	want := stats.DecideReplicatedSimilarity(assessors, 1.0/3, test.Beta, test.PdLimit)
	same := func(a, b any) bool { return fmt.Sprintf("%+v", a) == fmt.Sprintf("%+v", b) } // NaN too
	if r.Replicated == nil || !same(*r.Replicated, want) {
		t.Fatalf("similarity %+v, want %+v", r.Replicated, want)
	}
	if r.HasMax != want.Conclusive || r.PdUpper != want.Upper || r.MaxCorrect != 0 || r.MinSimilar != 0 || r.alike() != want.Similar {
		t.Errorf("%+v", r)
	}
	if fit := stats.FitBetaBinomial(assessors, 1.0/3, 0.9); r.Spread == nil || !same(*r.Spread, fit) {
		t.Errorf("spread %+v, want %+v", r.Spread, fit)
	}
	for _, say := range []string{r.SimilarSentence(), r.Verdict()} {
		if strings.Contains(say, "maximum of") || strings.Contains(say, "or fewer") || !strings.Contains(say, "taster’s sets") {
			t.Errorf("the pooled count is told of: %s", say)
		}
	}
}

// From a handful of people nothing is concluded, however many sets each had: see
// [stats.FewestForReplicatedSimilarity]. With twelve alike in all the same is similar.
func TestSimilarityOfAHandful(t *testing.T) {
	test := testOf(Triangle, GoalSimilarity, 6)
	test.PdLimit, test.Beta = 0.5, 0.1
	six := Analyse(test, slices.Repeat([]stats.Replicates{{N: 6, Correct: 2}}, 6))
	if six.Outcome != Undecided || six.HasMax || !strings.Contains(six.Verdict(), "no conclusion of similarity is drawn from each taster’s sets with 6 assessors") ||
		!strings.Contains(six.SimilarSentence(), "fewer than 12 people") || !strings.Contains(strings.Join(six.Cautions(), " "), "from fewer than 12 assessors") {
		t.Errorf("%s: %s %s %q", six.Outcome, six.Verdict(), six.SimilarSentence(), six.Cautions())
	}
	if twelve := Analyse(test, slices.Repeat([]stats.Replicates{{N: 6, Correct: 2}}, 12)); twelve.Outcome != Similar {
		t.Errorf("twelve: %s", twelve.Verdict())
	}
}

// A pooled count that would pass as similar does not where all its correct
// answers are a few people's: the risk is in people, not in sets.
func TestSimilarityOfAFewWhoAlwaysFindIt(t *testing.T) {
	test := testOf(Triangle, GoalSimilarity, 4)
	test.PdLimit = 0.3
	p := planOf(30, test)
	// Ten of thirty perceive it every time; the others are right once in four.
	s := answered(p, seedOf(2), func(seat, set int) bool { return seat <= 10 || set == 1+seat%4 })
	r := s.compute().Tests[0]
	panel := stats.SimilarityPanel(r.N, 1.0/3, test.Beta, stats.PcFromPd(0.3, 1.0/3))
	if r.Correct != 60 || panel.MaxCorrect >= r.Correct {
		t.Fatalf("%d of %d correct, the pooled maximum is %d", r.Correct, r.N, panel.MaxCorrect)
	}
	if r.Outcome != Undecided {
		t.Errorf("a third perceive it every time, and at the limit 0.3: %s", r.Outcome)
	}
}

// Positions count, for each place, how often its cup was named: in a tetrad the
// one that goes with the leftmost.
func TestPositionsOfEveryMethod(t *testing.T) {
	for _, m := range Methods {
		test := testOf(m, GoalDifference, 1)
		s := answered(planOf(12, test), seedOf(5), counting(12))
		want := make([]int, m.Cups)
		for _, sets := range s.sealed.Layout.Seats {
			at := m.Counted(sets[0].Order)
			want[at[len(at)-1]]++
		}
		if got := s.compute().Positions(0); !slices.Equal(got, want) || got[0] != 0 && (m.Picks == 2 || m.References() > 0) {
			t.Errorf("%s: %v, want %v", m.Key, got, want)
		}
	}
}

// flat writes a result out: functions are not comparable, and NaN is not NaN.
func flat(r TestResult) string {
	spread, replicated := "", ""
	if r.Spread != nil {
		spread = fmt.Sprintf("%+v", *r.Spread)
	}
	if r.Replicated != nil {
		replicated = fmt.Sprintf("%+v", *r.Replicated)
	}
	r.Method, r.Spread, r.Replicated = Method{Key: r.Method.Key}, nil, nil
	return fmt.Sprintf("%+v %s %s", r, spread, replicated)
}

// Counts that came on paper are analysed as a session's are.
func TestAnalyseIsTheSessionsOwn(t *testing.T) {
	for _, m := range Methods {
		for _, goal := range goals {
			for sets := 1; sets <= 3; sets++ {
				test := testOf(m, goal, sets)
				p := planOf(24, test)
				if p.Check() != nil {
					continue
				}
				right := func(seat, set int) bool { return seat <= 6 || (seat+set)%3 == 0 }
				want := answered(p, seedOf(1), right).compute().Tests[0]
				var seats []stats.Replicates
				for seat := 1; seat <= 24; seat++ {
					one := stats.Replicates{N: sets}
					for set := 1; set <= sets; set++ {
						if right(seat, set) {
							one.Correct++
						}
					}
					seats = append(seats, one)
				}
				got := Analyse(test, seats)
				if a, b := flat(got), flat(want); a != b {
					t.Errorf("%s for %s, %d sets:\n%s\nwant\n%s", m.Key, goal, sets, a, b)
				}
			}
		}
	}
}
