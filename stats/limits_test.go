package stats

import (
	"math"
	"testing"
)

func TestPcLimitsAgainstReference(t *testing.T) {
	eachRecord(t, "e_ci_proportion.csv", 90, func(r record) bool {
		n, x, confidence := r.int("n"), r.int("x"), r.float("conf")
		for method, columns := range map[LimitMethod]string{
			ClopperPearsonLimits: "cp", WilsonLimits: "wilson", MidPLimits: "midp",
		} {
			l := PcLimits(x, n, confidence, method, TwoSided)
			r.near(columns+"_lower", l.Lower, 1e-13)
			r.near(columns+"_upper", l.Upper, 1e-13)
			r.near("pc_hat", l.Estimate, 1e-15)
			if l.N != n || l.X != x || l.Confidence != confidence || l.Sided != TwoSided || l.Method != method {
				t.Errorf("%s:%d: terms of %+v", r.file, r.line, l)
			}
		}
		l := PcLimits(x, n, confidence, ClopperPearsonLimits, OneSided)
		r.near("cp_one_sided_lower", l.Lower, 1e-13)
		r.near("cp_one_sided_upper", l.Upper, 1e-13)
		if l.Sided != OneSided || l.Confidence != confidence || math.Abs(l.Interval().Confidence-(2*confidence-1)) > 1e-15 {
			t.Errorf("%s:%d: terms of %+v", r.file, r.line, l)
		}
		return true
	})
}

func TestPdLimitsAgainstReference(t *testing.T) {
	eachRecord(t, "e2_ci_pd.csv", 60, func(r record) bool {
		n, x, chance := r.int("n"), r.int("x"), r.fraction("p0")
		for method, columns := range map[LimitMethod]string{
			ClopperPearsonLimits: "cp", WilsonLimits: "wilson", MidPLimits: "midp",
		} {
			l := PdLimits(x, n, chance, r.float("conf"), method, TwoSided)
			for column, got := range map[string]float64{
				columns + "_lower_t": l.Lower, columns + "_upper_t": l.Upper, "pd_hat_t": l.Estimate,
			} {
				// Where pc is near chance the subtraction leaves absolute accuracy only.
				if want := r.float(column); math.Abs(got-want) > 1e-15 && !agrees(got, want, 1e-13) {
					t.Errorf("%s:%d: %s = %.17g, want %.17g", r.file, r.line, column, got, want)
				}
			}
			below := false
			for _, w := range l.Warnings {
				below = below || w.Kind == BelowChance
			}
			if below != (r.float("pd_hat") < 0) {
				t.Errorf("%s:%d: warnings %v with pd %s", r.file, r.line, l.Warnings, r.text("pd_hat"))
			}
		}
		return true
	})
}

func TestPdLimitsNormalAgainstReference(t *testing.T) {
	eachRecord(t, "d2_pd_limits.csv", 130, func(r record) bool {
		n, x, chance := r.int("n"), r.int("x"), r.fraction("p0")
		confidence := 1 - r.float("beta_or_alpha_one_sided")
		exact := PdLimitsNormal(x, n, chance, confidence, OneSided, ExactZ)
		printed := PdLimitsNormal(x, n, chance, confidence, OneSided, PrintedZ)
		pc := PcLimits(x, n, confidence, ClopperPearsonLimits, OneSided)
		for column, got := range map[string]float64{
			"pc_hat":                    pc.Estimate,
			"pd_hat":                    exact.Estimate,
			"pd_upper_normal":           exact.Upper,
			"pd_lower_normal":           exact.Lower,
			"pd_upper_normal_z_printed": printed.Upper,
			"pd_lower_normal_z_printed": printed.Lower,
			"pc_upper_exact":            pc.Upper,
			"pc_lower_exact":            pc.Lower,
			"pd_upper_exact":            PdFromPc(pc.Upper, chance),
			"pd_lower_exact":            PdFromPc(pc.Lower, chance),
			"z_exact":                   normalQuantile(1 - confidence),
		} {
			if want := r.float(column); math.Abs(got-want) > 1e-14 {
				t.Errorf("%s:%d: %s = %.17g, want %.17g", r.file, r.line, column, got, want)
			}
		}
		if width := (exact.Upper - exact.Lower) / 2; math.Abs(width-r.float("z_exact")*r.float("se_pd")) > 1e-14 {
			t.Errorf("%s:%d: half width %v", r.file, r.line, width)
		}
		if exact.Method != NormalLimits || exact.Sided != OneSided {
			t.Errorf("%s:%d: terms of %+v", r.file, r.line, exact)
		}
		return true
	})
	// Facts to check by hand: 15 of 30 triangles, pd 0.25, one-sided 95 % limits 0.025 and 0.475.
	l := PdLimitsNormal(15, 30, 1.0/3, 0.95, OneSided, PrintedZ)
	if math.Abs(l.Lower-0.025) > 5e-4 || math.Abs(l.Upper-0.475) > 5e-4 {
		t.Errorf("15 of 30: %+v", l)
	}
}

// The exact limits of interval.go, which other packages show, and those here
// are the same.
func TestLimitsAgreeWithIntervals(t *testing.T) {
	for _, n := range []int{1, 2, 12, 60, 500} {
		for x := 0; x <= n; x += 1 + n/30 {
			for _, confidence := range []float64{0.5, 0.9, 0.999} {
				want := ClopperPearson(x, n, confidence)
				got := PcLimits(x, n, confidence, ClopperPearsonLimits, TwoSided).Interval()
				if !agrees(got.Lower, want.Lower, 1e-14) || !agrees(got.Upper, want.Upper, 1e-14) || got.Confidence != want.Confidence {
					t.Errorf("%d of %d at %v: %v, want %v", x, n, confidence, got, want)
				}
			}
		}
	}
}

// Limits put back into what defines them, and mirrored between right and wrong.
func TestLimitsSolveTheirEquations(t *testing.T) {
	for _, sided := range []Sided{OneSided, TwoSided} {
		for _, confidence := range []float64{0.6, 0.95, 0.99999} {
			a := sideRisk(confidence, sided)
			z := normalQuantile(a)
			for _, n := range []int{1, 2, 7, 40, 300} {
				for x := 0; x <= n; x += 1 + n/20 {
					midP := PcLimits(x, n, confidence, MidPLimits, sided)
					if x > 0 && !agrees(UpperTailMidP(n, x, midP.Lower), a, 1e-11) {
						t.Errorf("%d of %d at %v: mid-p at lower %v", x, n, confidence, UpperTailMidP(n, x, midP.Lower))
					}
					if x < n && !agrees(LowerTailMidP(n, x, midP.Upper), a, 1e-11+float64(n)*2e-16/(1-midP.Upper)) {
						t.Errorf("%d of %d at %v: mid-p at upper %v", x, n, confidence, LowerTailMidP(n, x, midP.Upper))
					}
					// Wilson's limits are the p at which |p̂ - p| = z √(p(1-p)/n).
					wilson := PcLimits(x, n, confidence, WilsonLimits, sided)
					for _, p := range []float64{wilson.Lower, wilson.Upper} {
						off := math.Abs(wilson.Estimate-p) - z*math.Sqrt(p*(1-p)/float64(n))
						if math.Abs(off) > 1e-14 {
							t.Errorf("%d of %d at %v: Wilson limit %v is off by %v", x, n, confidence, p, off)
						}
					}
					for _, method := range []LimitMethod{ClopperPearsonLimits, MidPLimits, WilsonLimits} {
						l, mirror := PcLimits(x, n, confidence, method, sided), PcLimits(n-x, n, confidence, method, sided)
						if math.Abs(l.Lower-(1-mirror.Upper)) > 1e-14 {
							t.Errorf("%d of %d at %v: %s is not symmetric", x, n, confidence, method)
						}
						if l.Lower > l.Estimate || l.Upper < l.Estimate || l.Lower < 0 || l.Upper > 1 {
							t.Errorf("%d of %d at %v: %+v", x, n, confidence, l)
						}
						if x == 0 && l.Lower != 0 || x == n && l.Upper != 1 {
							t.Errorf("%d of %d at %v: %+v at the edge", x, n, confidence, l)
						}
					}
				}
			}
		}
	}
}

// The coverage that the comment on LimitMethod states, by exact enumeration.
func TestLimitsCoverage(t *testing.T) {
	tests := []struct {
		method             LimitMethod
		twoSided, oneSided float64
	}{
		{ClopperPearsonLimits, 0.9514, 0.9500},
		{MidPLimits, 0.9212, 0.9008},
		{WilsonLimits, 0.8368, 0.7944},
		{NormalLimits, 0.0248, 0.0248},
	}
	for _, tt := range tests {
		two, one := 1.0, 1.0
		for _, n := range []int{5, 10, 20, 30, 60, 100} {
			var both, each []Limits
			for x := 0; x <= n; x++ {
				both = append(both, PcLimits(x, n, 0.95, tt.method, TwoSided))
				each = append(each, PcLimits(x, n, 0.95, tt.method, OneSided))
			}
			for step := 1; step < 200; step++ {
				pc := float64(step) / 200
				var inside, above, below float64
				for x := 0; x <= n; x++ {
					weight := PMF(n, x, pc)
					if both[x].Lower <= pc && pc <= both[x].Upper {
						inside += weight
					}
					if each[x].Lower <= pc {
						above += weight
					}
					if pc <= each[x].Upper {
						below += weight
					}
				}
				two, one = min(two, inside), min(one, above, below)
			}
		}
		if math.Abs(two-tt.twoSided) > 5e-5 || math.Abs(one-tt.oneSided) > 5e-5 {
			t.Errorf("%s covers with at least %.5f two-sided, %.5f one-sided; the comment says %v, %v",
				tt.method, two, one, tt.twoSided, tt.oneSided)
		}
		if tt.method == ClopperPearsonLimits && (two < 0.95 || one < 0.95) {
			t.Errorf("exact limits cover with %v, %v only", two, one)
		}
	}
}

// Cut at 0 or not, exact limits of pd cover any pd from 0 to 1.
func TestPdLimitsCoverage(t *testing.T) {
	for _, chance := range []float64{1.0 / 3, 1.0 / 2} {
		for _, confidence := range []float64{0.8, 0.95, 0.99} {
			for _, n := range []int{1, 3, 12, 31, 80} {
				var both, each []Limits
				for x := 0; x <= n; x++ {
					both = append(both, PdLimits(x, n, chance, confidence, ClopperPearsonLimits, TwoSided))
					each = append(each, PdLimits(x, n, chance, confidence, ClopperPearsonLimits, OneSided))
				}
				for step := 0; step <= 100; step++ {
					// The limit that is pd itself may be off by its last bits.
					pd := float64(step) / 100
					var inside, above, below float64
					for x := 0; x <= n; x++ {
						weight := PMF(n, x, PcFromPd(pd, chance))
						if both[x].Lower <= pd+1e-14 && pd-1e-14 <= both[x].Upper {
							inside += weight
						}
						if each[x].Lower <= pd+1e-14 {
							above += weight
						}
						if pd-1e-14 <= each[x].Upper {
							below += weight
						}
					}
					// At pd = 0 an interval that was cut to 0 alone still holds it.
					if worst := min(inside, above, below); worst < confidence-1e-12 {
						t.Errorf("n %d, chance %v, pd %v: covered with %v, %v, %v, want %v", n, chance, pd, inside, above, below, confidence)
					}
				}
			}
		}
	}
}

func TestLimitsWarn(t *testing.T) {
	tests := []struct {
		name string
		got  Limits
		want []WarningKind
	}{
		{"ordinary", PdLimits(20, 40, 1.0/3, 0.9, ClopperPearsonLimits, TwoSided), nil},
		{"at chance", PdLimits(10, 30, 1.0/3, 0.9, MidPLimits, TwoSided), nil},
		{"all correct", PcLimits(10, 10, 0.9, ClopperPearsonLimits, TwoSided), []WarningKind{EdgeCount}},
		{"one of one", PdLimits(1, 1, 0.5, 0.9, WilsonLimits, OneSided), []WarningKind{EdgeCount}},
		{"none", PdLimits(0, 10, 1.0/3, 0.9, ClopperPearsonLimits, TwoSided), []WarningKind{EdgeCount, BelowChance}},
		{"below chance", PdLimits(9, 30, 1.0/3, 0.9, WilsonLimits, TwoSided), []WarningKind{BelowChance}},
		{"normal", PdLimitsNormal(20, 40, 1.0/3, 0.95, OneSided, ExactZ), nil},
		{"normal, few", PdLimitsNormal(15, 29, 1.0/3, 0.95, OneSided, ExactZ), []WarningKind{RoughLimits}},
		{"normal, few wrong", PdLimitsNormal(36, 40, 1.0/3, 0.95, OneSided, ExactZ), []WarningKind{RoughLimits}},
		{"normal, all", PdLimitsNormal(40, 40, 1.0/3, 0.95, OneSided, PrintedZ), []WarningKind{RoughLimits}},
		{"normal, none", PcLimits(0, 40, 0.95, NormalLimits, TwoSided), []WarningKind{RoughLimits}},
	}
	for _, tt := range tests {
		warned(t, tt.name, tt.got.Warnings, tt.want...)
	}
}

func TestLimitsPanic(t *testing.T) {
	bad := map[string]func(){
		"n 0":                  func() { PcLimits(0, 0, 0.9, WilsonLimits, TwoSided) },
		"x above n":            func() { PcLimits(3, 2, 0.9, MidPLimits, TwoSided) },
		"confidence 0":         func() { PcLimits(1, 2, 0, MidPLimits, TwoSided) },
		"confidence NaN":       func() { PcLimits(1, 2, math.NaN(), MidPLimits, TwoSided) },
		"one-sided 1/2":        func() { PcLimits(1, 2, 0.5, WilsonLimits, OneSided) },
		"no method":            func() { PcLimits(1, 2, 0.9, "", TwoSided) },
		"no side":              func() { PcLimits(1, 2, 0.9, WilsonLimits, "") },
		"chance 1":             func() { PdLimits(1, 2, 1, 0.9, WilsonLimits, TwoSided) },
		"normal pd, not named": func() { PdLimits(1, 2, 0.5, 0.9, NormalLimits, TwoSided) },
		"no quantile":          func() { PdLimitsNormal(1, 2, 0.5, 0.9, TwoSided, "") },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkMidPLimits(b *testing.B) {
	for b.Loop() {
		PcLimits(27, 60, 0.95, MidPLimits, TwoSided)
	}
}

func BenchmarkWilsonLimits(b *testing.B) {
	for b.Loop() {
		PcLimits(27, 60, 0.95, WilsonLimits, TwoSided)
	}
}

func BenchmarkPdLimitsNormal(b *testing.B) {
	for b.Loop() {
		PdLimitsNormal(27, 60, 1.0/3, 0.95, OneSided, ExactZ)
	}
}
