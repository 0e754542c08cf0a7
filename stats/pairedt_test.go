package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestPairedAgainstReference(t *testing.T) {
	means := cellMeans(cuppingScores(t))
	column := func(name string) (xs []float64) {
		for _, row := range means {
			xs = append(xs, row[name[0]-'A'])
		}
		return xs
	}
	var ps []float64
	var rows []record
	eachRecord(t, "k5_paired_t.csv", 6, func(r record) bool {
		got := Paired(column(r.text("sample1")), column(r.text("sample2")), 0.95)
		r.near("mean_difference", got.MeanDifference, 1e-13)
		r.near("sd_difference", got.SD, 1e-13)
		r.near("se", got.SE, 1e-13)
		r.near("t", got.T, 1e-13)
		r.near("p_two_sided", got.PValue, 1e-12)
		r.near("ci95_lower", got.Interval.Lower, 1e-11) // near 0 in two rows
		r.near("ci95_upper", got.Interval.Upper, 1e-11)
		if got.DF != r.int("df") || got.N != 5 || got.Undefined || len(got.Warnings) > 0 || got.Interval.Confidence != 0.95 {
			t.Errorf("%s:%d: %+v", r.file, r.line, got)
		}
		ps, rows = append(ps, got.PValue), append(rows, r)
		return true
	})
	for i, p := range Holm(ps) {
		rows[i].near("p_holm", p, 1e-12)
	}
}

// Two-sided 0.05 and 0.001 points of Student's t as the tables print them (from
// memory), and for 1 degree of freedom the quantile of the Cauchy distribution.
func TestStudentQuantile(t *testing.T) {
	for _, c := range []struct {
		df         int
		tail, want float64
		digits     float64
	}{
		{4, 0.05, 2.776, 5e-4}, {9, 0.05, 2.262, 5e-4}, {30, 0.05, 2.042, 5e-4}, {10, 0.001, 4.587, 5e-4},
		{1, 0.05, math.Tan(math.Pi * 0.475), 1e-12}, {1, 1e-9, 1 / math.Tan(math.Pi*0.5e-9), 1e-3},
		{2, 0.5, math.Sqrt(2.0 / 3), 1e-14}, // closed form for 2 degrees
	} {
		got := studentQuantile(c.tail, c.df)
		if math.Abs(got-c.want) > c.digits {
			t.Errorf("df %d, tail %v: %v, want %v", c.df, c.tail, got, c.want)
		}
		if back := studentTail(got, c.df); !agrees(back, c.tail, 1e-11) {
			t.Errorf("df %d, tail %v: the tail beyond it is %v", c.df, c.tail, back)
		}
	}
	// 1 degree: P(|t| ≥ x) = 2 atan(1/x)/π; 2 degrees: 1 - x/√(2+x²).
	for _, x := range []float64{1e-8, 0.3, 1, 7, 1e4, 1e100} {
		if got, want := studentTail(x, 1), 2*math.Atan(1/x)/math.Pi; !agrees(got, want, 1e-12) {
			t.Errorf("df 1: tail beyond %v is %v, want %v", x, got, want)
		}
		root := math.Hypot(x, math.Sqrt2)
		if got, want := studentTail(x, 2), 2/(root*(root+x)); !agrees(got, want, 1e-12) {
			t.Errorf("df 2: tail beyond %v is %v, want %v", x, got, want)
		}
	}
}

// The interval holds what the test does not reject, at any confidence.
func TestPairedIntervalIsTheTestTurnedRound(t *testing.T) {
	first, second := []float64{84, 85.25, 83, 86, 82.5, 84.75}, []float64{83, 84.5, 83.25, 84, 82, 83.25}
	for _, confidence := range []float64{0.5, 0.9, 0.95, 0.999, 0.9999999} {
		limits := Paired(first, second, confidence).Interval
		for _, limit := range []float64{limits.Lower, limits.Upper} {
			shifted := make([]float64, len(second))
			for i := range second {
				shifted[i] = second[i] + limit
			}
			if p := Paired(first, shifted, confidence).PValue; !agrees(p, 1-confidence, 1e-9) {
				t.Errorf("confidence %v: p = %v at the limit %v", confidence, p, limit)
			}
		}
		mirror := Paired(second, first, confidence)
		if mirror.Interval.Lower != -limits.Upper || mirror.Interval.Upper != -limits.Lower {
			t.Errorf("confidence %v: %v mirrored is %v", confidence, limits, mirror.Interval)
		}
	}
}

// Normal differences are drawn: no exact enumeration exists.
func TestPairedAgainstSimulation(t *testing.T) {
	const seed, panels = 1908, 4_000
	t.Logf("seed %d, %d panels", seed, panels)
	dice := rand.New(rand.NewPCG(seed, 0))
	for _, n := range []int{2, 3, 8} {
		covered, rejected := 0.0, 0.0
		for range panels {
			first, second := make([]float64, n), make([]float64, n)
			for i := range first {
				first[i] = 80 + 3*dice.NormFloat64()
				second[i] = first[i] - 0.7 + 1.5*dice.NormFloat64()
			}
			got := Paired(first, second, 0.9)
			if got.Interval.Lower <= 0.7 && 0.7 <= got.Interval.Upper {
				covered++
			}
			for i := range second {
				second[i] += 0.7
			}
			if Paired(first, second, 0.9).PValue <= 0.1 {
				rejected++
			}
		}
		margin := 4 * math.Sqrt(0.1*0.9/panels)
		if math.Abs(covered/panels-0.9) > margin || math.Abs(rejected/panels-0.1) > margin {
			t.Errorf("%d differences: covered %v, rejected %v, margin %v", n, covered/panels, rejected/panels, margin)
		}
	}
}

func TestPairedDegenerate(t *testing.T) {
	for name, c := range map[string]struct {
		first, second []float64
		mean          float64
		kind          WarningKind
	}{
		"none":            {nil, nil, 0, TooFew},
		"one":             {[]float64{85}, []float64{83}, 2, TooFew},
		"all alike":       {[]float64{85, 84, 83}, []float64{85, 84, 83}, 0, NoVariation},
		"one shift":       {[]float64{85, 84, 83}, []float64{84, 83, 82}, 1, NoVariation},
		"one shift in 10": {[]float64{0.3, 0.4, 0.8}, []float64{0.2, 0.3, 0.7}, 0.1, NoVariation},
	} {
		got := Paired(c.first, c.second, 0.95)
		if !got.Undefined || got.PValue != 1 || got.T != 0 || !warnsOf(got.Warnings, c.kind) || math.Abs(got.MeanDifference-c.mean) > 1e-15 ||
			!math.IsInf(got.Interval.Lower, -1) || !math.IsInf(got.Interval.Upper, 1) {
			t.Errorf("%s: %+v", name, got)
		}
	}
	bad := map[string]func(){
		"unequal lengths": func() { Paired([]float64{1, 2}, []float64{1}, 0.95) },
		"NaN":             func() { Paired([]float64{1, math.NaN()}, []float64{1, 2}, 0.95) },
		"huge":            func() { Paired([]float64{1, 2}, []float64{1, 1e101}, 0.95) },
		"confidence 1":    func() { Paired([]float64{1, 2}, []float64{1, 1}, 1) },
		"confidence NaN":  func() { Paired([]float64{1, 2}, []float64{1, 1}, math.NaN()) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkPaired(b *testing.B) {
	first, second := []float64{84, 85.25, 83, 86, 82.5}, []float64{83, 84.5, 83.25, 84, 82}
	for b.Loop() {
		Paired(first, second, 0.95)
	}
}
