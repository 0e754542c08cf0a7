package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var links = map[string]Link{"logistic": Logistic, "probit": Probit}

// levelCounts reads a data set of j_data.csv.
func levelCounts(t *testing.T, dataset string) (counts []LevelCount, guess float64) {
	t.Helper()
	eachRecord(t, "j_data.csv", 24, func(r record) bool {
		if r.text("dataset") == dataset {
			guess = r.fraction("guess")
			counts = append(counts, LevelCount{r.float("level"), r.int("n"), r.int("correct")})
		}
		return true
	})
	if len(counts) == 0 {
		t.Fatalf("j_data.csv: no data set %q", dataset)
	}
	return counts, guess
}

func TestFitThresholdAgainstReference(t *testing.T) {
	eachRecord(t, "j2_fits.csv", 10, func(r record) bool {
		counts, guess := levelCounts(t, r.text("dataset"))
		if guess != r.fraction("guess") {
			t.Errorf("%s:%d: guess %v", r.file, r.line, guess)
		}
		f := FitThreshold(counts, guess, links[r.text("link")], 0.95)
		if f.Status != ThresholdFitted || f.DF != r.int("df") || f.Levels != len(counts) || f.Link.String() != r.text("link") {
			t.Errorf("%s:%d: %+v", r.file, r.line, f)
		}
		r.near("b0", f.Intercept, 1e-10)
		r.near("b1_slope", f.Slope, 1e-10)
		r.near("threshold_level_where_F_is_half", f.Threshold, 1e-10)
		r.near("loglik_full", f.LogLikelihood, 1e-13)
		r.near("deviance", f.Deviance, 1e-11)
		kernel := f.LogLikelihood
		for _, c := range counts {
			kernel -= logChoose(c.N, c.Correct)
		}
		r.near("loglik_kernel", kernel, 1e-13)
		r.near("se_b0_obs", f.Observed.Intercept, 1e-9)
		r.near("se_b1_obs", f.Observed.Slope, 1e-9)
		r.near("se_threshold_obs", f.Observed.Threshold, 1e-9)
		r.near("se_b0_exp", f.Expected.Intercept, 1e-9)
		r.near("se_b1_exp", f.Expected.Slope, 1e-9)
		r.near("se_threshold_exp", f.Expected.Threshold, 1e-9)
		if pc := f.PC(f.Threshold); !agrees(pc, (1+guess)/2, 1e-12) {
			t.Errorf("%s:%d: pc at the threshold = %v", r.file, r.line, pc)
		}
		return true
	})
}

func TestFitThresholdWithoutFiniteMaximum(t *testing.T) {
	eachRecord(t, "j4_no_finite_mle.csv", 1, func(r record) bool {
		levels, ns, correct := strings.Fields(r.text("levels")), strings.Fields(r.text("n")), strings.Fields(r.text("correct"))
		var counts []LevelCount
		for i := range levels {
			level, _ := strconv.ParseFloat(levels[i], 64)
			n, _ := strconv.Atoi(ns[i])
			x, _ := strconv.Atoi(correct[i])
			counts = append(counts, LevelCount{level, n, x})
		}
		for _, link := range links {
			f := FitThreshold(counts, r.fraction("guess"), link, 0.95)
			if f.Status != ThresholdStep || !math.IsNaN(f.Slope) || !math.IsNaN(f.Threshold) || !math.IsNaN(f.Observed.Slope) {
				t.Errorf("%s:%d: %+v", r.file, r.line, f)
			}
			if f.StepFrom != r.float("level_at_the_step") || f.StepTo != f.StepFrom {
				t.Errorf("%s:%d: step from %v to %v", r.file, r.line, f.StepFrom, f.StepTo)
			}
			r.near("pc_at_the_step", f.StepPC, 1e-15)
			r.near("loglik_supremum", f.LogLikelihood, 1e-13)
			if !(f.LogLikelihood > r.float("best_loglik_on_a_coarse_finite_grid")) {
				t.Errorf("%s:%d: supremum %v", r.file, r.line, f.LogLikelihood)
			}
		}
		return true
	})
}

// R 4.2.2: dbinom(log=TRUE) with g + (1-g) F(b0 + b1 x), the other parameter by
// optimize(), the limits by uniroot() at qchisq(0.95, 1)/2 below the maximum
// that optim() finds.
func TestThresholdIntervalsAgainstR(t *testing.T) {
	for _, c := range []struct {
		dataset              string
		link                 Link
		tLo, tHi, slLo, slHi float64
	}{
		{"inv_3afc_a", Logistic, -0.03684862, 0.53206642, 1.45359836, 5.06039999},
		{"inv_3afc_a", Probit, -0.03702267, 0.52984223, 0.88594999, 2.82124716},
		{"inv_3afc_b", Logistic, 0.86048316, 1.15494898, 3.10877437, 8.02012137},
		{"inv_3afc_b", Probit, 0.86051499, 1.15546085, 1.86293052, 4.44291150},
		{"inv_2afc", Logistic, 1.12895130, 2.06990065, 1.03562143, 4.18292823},
		{"inv_2afc", Probit, 1.12419310, 2.06535414, 0.63055869, 2.09653887},
	} {
		counts, guess := levelCounts(t, c.dataset)
		f := FitThreshold(counts, guess, c.link, 0.95)
		for _, limit := range []struct{ got, want float64 }{
			{f.ThresholdInterval.Lower, c.tLo}, {f.ThresholdInterval.Upper, c.tHi},
			{f.SlopeInterval.Lower, c.slLo}, {f.SlopeInterval.Upper, c.slHi},
		} {
			if math.Abs(limit.got-limit.want) > 2e-8 {
				t.Errorf("%s %v: limit %.9f, want %.9f", c.dataset, c.link, limit.got, limit.want)
			}
		}
		if f.ThresholdInterval.Confidence != 0.95 || f.SlopeInterval.Confidence != 0.95 {
			t.Errorf("%s: confidence %v, %v", c.dataset, f.ThresholdInterval, f.SlopeInterval)
		}
	}
}

// Without guessing the model is the common regression. Deaths of male tobacco
// budworms of 20 at each dose, log2 dose 0 to 5 (W. N. Venables, B. D. Ripley,
// Modern Applied Statistics with S, 2002, section 7.2; data from memory). R
// 4.2.2: glm(cbind(y, n-y) ~ x, binomial(link)), epsilon 1e-14; the standard
// errors by sqrt(diag(solve(t(X) %*% (w*X)))) with the weights w at the
// estimates, since summary() takes those of the step before.
func TestFitThresholdWithoutGuessing(t *testing.T) {
	var counts []LevelCount
	for x, y := range []int{1, 4, 9, 13, 18, 20} {
		counts = append(counts, LevelCount{float64(x), 20, y})
	}
	for _, c := range []struct {
		link                                          Link
		intercept, slope, seIntercept, seSlope, d, ll float64
	}{
		{Logistic, -2.8185549673, 1.2589494242, 0.54798682216, 0.21206549681, 1.8809700814, -8.1139756498},
		{Probit, -1.6459229616, 0.7368865151, 0.29043930016, 0.10945841568, 1.2968149616, -7.8218980898},
	} {
		f := FitThreshold(counts, 0, c.link, 0.95)
		for name, v := range map[string][2]float64{
			"intercept": {f.Intercept, c.intercept}, "slope": {f.Slope, c.slope},
			"deviance": {f.Deviance, c.d}, "log-likelihood": {f.LogLikelihood, c.ll},
			"se intercept": {f.Expected.Intercept, c.seIntercept}, "se slope": {f.Expected.Slope, c.seSlope},
		} {
			if !agrees(v[0], v[1], 1e-9) {
				t.Errorf("%v %s = %.12g, want %.12g", c.link, name, v[0], v[1])
			}
		}
		if c.link == Logistic && !agrees(f.Observed.Slope, f.Expected.Slope, 1e-9) {
			t.Errorf("observed %v, expected %v: they are the same for this link", f.Observed, f.Expected)
		}
	}
}

func TestThresholdStatus(t *testing.T) {
	inf := math.Inf(1)
	for name, c := range map[string]struct {
		guess    float64
		ns, xs   []int // at levels 1, 2, …
		status   ThresholdStatus
		from, to float64 // 0: none
		kinds    []WarningKind
	}{
		"one level":           {1.0 / 3, []int{20}, []int{12}, ThresholdOneLevel, 0, 0, []WarningKind{ThresholdUnfitted}},
		"one answer":          {0.5, []int{1}, []int{1}, ThresholdOneLevel, 0, 0, []WarningKind{ThresholdUnfitted}},
		"all correct":         {1.0 / 3, []int{9, 9, 9}, []int{9, 9, 9}, ThresholdBelow, -inf, 1, []WarningKind{ThresholdUnfitted}},
		"none correct":        {1.0 / 3, []int{9, 9, 9}, []int{0, 0, 0}, ThresholdAbove, 3, inf, []WarningKind{ThresholdUnfitted}},
		"all at chance":       {1.0 / 3, []int{9, 9, 9}, []int{2, 3, 3}, ThresholdAbove, 3, inf, []WarningKind{ThresholdUnfitted}},
		"none, no guessing":   {0, []int{9, 9, 9}, []int{0, 0, 0}, ThresholdAbove, 3, inf, []WarningKind{ThresholdUnfitted}},
		"level":               {1.0 / 3, []int{20, 20, 20}, []int{12, 12, 12}, ThresholdNoTrend, 0, 0, []WarningKind{ThresholdUnfitted}},
		"falling":             {1.0 / 3, []int{20, 20, 20}, []int{18, 12, 9}, ThresholdNoTrend, 0, 0, []WarningKind{ThresholdUnfitted}},
		"up and down":         {1.0 / 3, []int{20, 20, 20}, []int{11, 19, 9}, ThresholdNoTrend, 0, 0, []WarningKind{ThresholdUnfitted}},
		"step between levels": {1.0 / 3, []int{9, 9, 9, 9}, []int{3, 2, 9, 9}, ThresholdStep, 2, 3, []WarningKind{ThresholdUnfitted}},
		"step at a level":     {0.5, []int{10, 10, 10}, []int{5, 7, 10}, ThresholdStep, 2, 2, []WarningKind{ThresholdUnfitted}},
		"step at the lowest":  {0.5, []int{10, 10}, []int{8, 10}, ThresholdStep, 1, 1, []WarningKind{ThresholdUnfitted}},
		"step at the highest": {0.5, []int{10, 10, 10}, []int{5, 4, 8}, ThresholdStep, 3, 3, []WarningKind{ThresholdUnfitted}},
		"step, no guessing":   {0, []int{5, 5, 5}, []int{0, 0, 5}, ThresholdStep, 2, 3, []WarningKind{ThresholdUnfitted}},
		// Only a fit that is tried shows that a step does better: the second
		// level is hardly above chance.
		"almost a step": {1.0 / 3, []int{60, 60, 60, 60}, []int{20, 21, 60, 60}, ThresholdStep, 2, 2, []WarningKind{ThresholdUnfitted}},
		"two levels":    {1.0 / 3, []int{20, 20}, []int{9, 16}, ThresholdFitted, 0, 0, []WarningKind{ThresholdUnbounded, ThresholdUnchecked}},
		"barely rising": {1.0 / 3, []int{12, 12, 12}, []int{5, 6, 6}, ThresholdFitted, 0, 0, []WarningKind{ThresholdOutside, ThresholdUnbounded}},
		"clear":         {1.0 / 3, []int{60, 60, 60, 60}, []int{24, 33, 48, 57}, ThresholdFitted, 0, 0, nil},
	} {
		for _, link := range links {
			var counts []LevelCount
			for i := range c.ns {
				counts = append(counts, LevelCount{float64(i + 1), c.ns[i], c.xs[i]})
			}
			f := FitThreshold(counts, c.guess, link, 0.95)
			// All but two are told before a fit is tried.
			foreseen := newLadder(counts, c.guess, link).foresee()
			if foreseen != c.status && name != "almost a step" && name != "up and down" {
				t.Errorf("%s: %s before the fit, want %s", name, foreseen, c.status)
			}
			if f.Status != c.status {
				t.Errorf("%s %v: %s, want %s: %+v", name, link, f.Status, c.status, f)
			}
			checkKinds(t, name, f.Warnings, c.kinds)
			if got := [2]float64{f.StepFrom, f.StepTo}; c.from == 0 != math.IsNaN(got[0]) || (c.from != 0 && got != [2]float64{c.from, c.to}) {
				t.Errorf("%s: step %v, want %v to %v", name, got, c.from, c.to)
			}
			fitted := f.Status == ThresholdFitted
			for _, v := range []float64{f.Threshold, f.Slope, f.Intercept, f.Observed.Threshold, f.Expected.Slope, f.Deviance, f.PC(2), f.ThresholdInterval.Lower, f.SlopeInterval.Upper} {
				if fitted == math.IsNaN(v) {
					t.Errorf("%s %v: %s with %+v", name, link, f.Status, f)
					break
				}
			}
			if fitted && !(f.ThresholdInterval.Lower < f.Threshold && f.Threshold < f.ThresholdInterval.Upper &&
				f.SlopeInterval.Lower < f.Slope && f.Slope < f.SlopeInterval.Upper) {
				t.Errorf("%s %v: %v outside %v or %v outside %v", name, link, f.Threshold, f.ThresholdInterval, f.Slope, f.SlopeInterval)
			}
			if math.IsNaN(f.LogLikelihood) || math.IsInf(f.LogLikelihood, 0) {
				t.Errorf("%s: log-likelihood %v", name, f.LogLikelihood)
			}
		}
	}
}

// Levels that are unevenly far apart, as concentrations are that should have
// been given as logarithms. Where the two far levels are all correct the curve
// goes through the shares of the two near ones, q = (x/n - guess)/(1 - guess),
// so that the estimates have a closed form: F(intercept) and F(intercept +
// slope gap) are those q. The standard error of the intercept is that of the
// first level alone: √(q(1-q)/n)/F' without guesses.
func TestFitThresholdOfUnevenLevels(t *testing.T) {
	for _, gap := range []float64{1, 0.03, 1e-6} {
		for _, guess := range []float64{0, 0.1, 1.0 / 3} {
			counts := []LevelCount{{0, 30, 15}, {gap, 30, 29}, {1000, 30, 30}, {1000 + gap, 30, 30}}
			low, high := PdFromPc(0.5, guess), PdFromPc(29.0/30, guess)
			for _, c := range []struct {
				link     Link
				inverse  func(q float64) float64
				slopeLow float64 // F' at the first level
			}{
				{Logistic, func(q float64) float64 { return math.Log(q / (1 - q)) }, low * (1 - low)},
				{Probit, func(q float64) float64 { return math.Sqrt2 * math.Erfinv(2*q-1) }, math.Exp(-square(math.Erfinv(2*low-1))) / math.Sqrt(2*math.Pi)},
			} {
				f := FitThreshold(counts, guess, c.link, 0.95)
				slope := (c.inverse(high) - c.inverse(low)) / gap
				if f.Status != ThresholdFitted || math.Abs(f.Intercept-c.inverse(low)) > 1e-5 || !agrees(f.Slope, slope, 1e-5) {
					t.Errorf("%v, guess %v, gap %v: %s, %v + %v level, want %v + %v level", c.link, guess, gap, f.Status, f.Intercept, f.Slope, c.inverse(low), slope)
					continue
				}
				if se := math.Sqrt(0.25/30) / (1 - guess) / c.slopeLow; !agrees(f.Expected.Intercept, se, 1e-4) {
					t.Errorf("%v, guess %v, gap %v: standard error %v, want %v", c.link, guess, gap, f.Expected.Intercept, se)
				}
				if f.ThresholdInterval.Lower < -100*gap || f.ThresholdInterval.Upper > gap || f.SlopeInterval.Lower == 0 {
					t.Errorf("%v, guess %v, gap %v: threshold in %v, slope in %v", c.link, guess, gap, f.ThresholdInterval, f.SlopeInterval)
				}
			}
			// R 4.2.2, as in TestThresholdIntervalsAgainstR, at gap 1; the limits go
			// with the gap. (With guess 1/3 a step is not ruled out.)
			for _, c := range []struct {
				link                 Link
				guess                float64
				tLo, tHi, slLo, slHi float64
			}{
				{Logistic, 0, -0.333443631, 0.200039702, 1.634535537, 6.309762284},
				{Probit, 0, -0.374982835, 0.214280109, 0.949665073, 2.966130631},
				{Logistic, 0.1, -0.243327683, 0.287813262, 1.699933991, 6.445453315},
				{Probit, 0.1, -0.272784092, 0.301203673, 1.000099885, 3.093974034},
			} {
				if c.guess != guess {
					continue
				}
				f := FitThreshold(counts, guess, c.link, 0.95)
				for _, limit := range []struct{ got, want float64 }{
					{f.ThresholdInterval.Lower / gap, c.tLo}, {f.ThresholdInterval.Upper / gap, c.tHi},
					{f.SlopeInterval.Lower * gap, c.slLo}, {f.SlopeInterval.Upper * gap, c.slHi},
				} {
					if math.Abs(limit.got-limit.want) > 1e-5 {
						t.Errorf("%v, guess %v, gap %v: limit %.9f gaps, want %.9f", c.link, guess, gap, limit.got, limit.want)
					}
				}
			}
		}
	}
}

// At a high confidence the slope's upper limit is far from the estimate. R 4.2.2,
// as in TestThresholdIntervalsAgainstR, with qchisq(0.999, 1).
func TestThresholdIntervalsAtHighConfidence(t *testing.T) {
	f := FitThreshold([]LevelCount{{0, 5, 0}, {1, 5, 1}, {2, 5, 4}, {3, 5, 5}}, 0, Logistic, 0.999)
	for _, limit := range []struct{ got, want float64 }{
		{f.ThresholdInterval.Lower, 0.269353040}, {f.ThresholdInterval.Upper, 2.730646960},
		{f.SlopeInterval.Lower, 0.434455665}, {f.SlopeInterval.Upper, 10.480591441},
	} {
		if math.Abs(limit.got-limit.want) > 1e-7 {
			t.Errorf("limit %.9f, want %.9f", limit.got, limit.want)
		}
	}
}

func square(x float64) float64 { return x * x }

// Random series: no finite curve on a grid beats a fit, or the supremum that
// stands in for one; and the answer does not depend on the unit, the order of
// the levels, or on whether the counts of one come in parts.
func TestFitThresholdIsTheMaximum(t *testing.T) {
	const seed = 20260215
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	seen := map[ThresholdStatus]int{}
	for range 150 {
		guess := []float64{0, 1.0 / 3, 0.5}[rng.IntN(3)]
		link := []Link{Logistic, Probit}[rng.IntN(2)]
		var counts, parts []LevelCount
		level := 0.0
		for i := range 2 + rng.IntN(5) {
			level += 0.2 + rng.Float64()
			n, x := 2+rng.IntN(12), 0
			for range n {
				if rng.Float64() < guess+(1-guess)*float64(i)/5 {
					x++
				}
			}
			counts = append(counts, LevelCount{level, n, x})
			half := LevelCount{1000 + 50*level, n / 2, x / 2}
			rest := LevelCount{1000 + 50*level, n - n/2, x - x/2}
			parts = append(parts, half, rest)
		}
		f := FitThreshold(counts, guess, link, 0.95)
		seen[f.Status]++
		l := newLadder(counts, guess, link)
		for slope := 0.01; slope < 200; slope *= 1.3 {
			for place := -3.0; place <= 3; place += 0.05 {
				if v := l.loglik(-slope*place, slope) + l.coefficients(); v > f.LogLikelihood+2e-9 {
					t.Fatalf("%v guess %v %v: slope %v at %v has %v, the fit %+v", counts, guess, link, slope, place, v, f)
				}
			}
		}
		slices.Reverse(parts)
		other := FitThreshold(parts, guess, link, 0.95)
		if other.Status != f.Status || other.Levels != f.Levels || other.N != f.N {
			t.Errorf("%v: %+v in another unit is %+v", counts, f, other)
			continue
		}
		for _, v := range [][2]float64{
			{1000 + 50*f.Threshold, other.Threshold},
			{50 * f.Observed.Threshold, other.Observed.Threshold},
			{f.Slope / 50, other.Slope},
			{1000 + 50*f.ThresholdInterval.Upper, other.ThresholdInterval.Upper},
			{f.SlopeInterval.Upper / 50, other.SlopeInterval.Upper},
			{1000 + 50*f.StepFrom, other.StepFrom},
		} {
			if !agrees(v[1], v[0], 1e-6) && !(math.IsNaN(v[0]) && math.IsNaN(v[1])) {
				t.Errorf("%v: %+v in another unit is %+v", counts, f, other)
				break
			}
		}
	}
	t.Log(seen)
	for _, status := range []ThresholdStatus{ThresholdFitted, ThresholdStep, ThresholdNoTrend} {
		if seen[status] < 5 {
			t.Errorf("%s came %d times: the series test too little", status, seen[status])
		}
	}
}

// A simulation: the doc comment of FitThreshold states what comes of it.
func TestThresholdIntervalCoverage(t *testing.T) {
	const seed, series = 20260216, 300
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	for _, link := range []Link{Logistic, Probit} {
		covered, slopes, fitted := 0, 0, 0
		for range series {
			var counts []LevelCount
			for _, level := range []float64{-1, -0.5, 0, 0.5, 1} {
				share, _, _, _ := link.at(2.5 * (level - 0.2))
				c := LevelCount{Level: level, N: 20}
				for range c.N {
					if rng.Float64() < PcFromPd(share, 1.0/3) {
						c.Correct++
					}
				}
				counts = append(counts, c)
			}
			f := FitThreshold(counts, 1.0/3, link, 0.95)
			if f.Status != ThresholdFitted {
				continue
			}
			fitted++
			if f.ThresholdInterval.Lower <= 0.2 && 0.2 <= f.ThresholdInterval.Upper {
				covered++
			}
			if f.SlopeInterval.Lower <= 2.5 && 2.5 <= f.SlopeInterval.Upper {
				slopes++
			}
		}
		share, slope := float64(covered)/float64(fitted), float64(slopes)/float64(fitted)
		t.Logf("%v: %d of %d series fitted, threshold covered %.3f, slope %.3f", link, fitted, series, share, slope)
		// Four standard errors of the simulation.
		tolerance := 4 * math.Sqrt(0.95*0.05/float64(fitted))
		if fitted < series*9/10 || math.Abs(share-0.95) > tolerance || math.Abs(slope-0.95) > tolerance {
			t.Errorf("%v: covers %v and %v of %d", link, share, slope, fitted)
		}
	}
}

func TestThresholdPanics(t *testing.T) {
	good := []LevelCount{{1, 5, 2}, {2, 5, 4}}
	bad := map[string]func(){
		"no level":      func() { FitThreshold(nil, 0.5, Logistic, 0.95) },
		"too many":      func() { FitThreshold([]LevelCount{{1, 5, 6}}, 0.5, Logistic, 0.95) },
		"no answers":    func() { FitThreshold([]LevelCount{{1, 0, 0}}, 0.5, Logistic, 0.95) },
		"level NaN":     func() { FitThreshold([]LevelCount{{math.NaN(), 5, 2}}, 0.5, Logistic, 0.95) },
		"level +Inf":    func() { FitThreshold([]LevelCount{{math.Inf(1), 5, 2}}, 0.5, Logistic, 0.95) },
		"guess 1":       func() { FitThreshold(good, 1, Logistic, 0.95) },
		"no link":       func() { FitThreshold(good, 0.5, 0, 0.95) },
		"confidence 95": func() { FitThreshold(good, 0.5, Logistic, 95) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkFitThreshold(b *testing.B) {
	counts := []LevelCount{{-1, 24, 8}, {-0.5, 24, 10}, {0, 24, 13}, {0.5, 24, 19}, {1, 24, 22}}
	for name, link := range links {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				FitThreshold(counts, 1.0/3, link, 0.95)
			}
		})
	}
}
