package stats

import (
	"math"
	"testing"
)

func TestAssessorsAgainstReference(t *testing.T) {
	eachRecord(t, "c_sample_size.csv", 250, func(r record) bool {
		chance := r.fraction("p0")
		pc := PcFromPd(r.float("pd"), chance)
		s := Assessors(chance, r.float("alpha"), r.float("beta"), pc, OneSided)
		for suffix, p := range map[string]Panel{"first": s.Assessors, "stable": s.Stable} {
			if !s.Found || p.N != r.int("n_"+suffix) || p.MinCorrect != r.int("crit_at_n_"+suffix) {
				t.Errorf("%s:%d: %s = %+v, want n %s", r.file, r.line, suffix, p, r.text("n_"+suffix))
				continue
			}
			r.near("actual_alpha_at_n_"+suffix, p.ActualAlpha, 1e-12)
			r.near("power_at_n_"+suffix, p.Power, 1e-12)
			if math.Abs(p.Power+p.ActualBeta-1) > 1e-12 {
				t.Errorf("%s:%d: power and beta of %+v", r.file, r.line, p)
			}
		}
		// The sizes between the two that fail; and beyond, up to where the bound
		// takes over, there are none.
		failing := 0
		for n := s.Assessors.N; n <= s.ProvenFrom; n++ {
			if p := DifferencePanel(n, chance, s.Alpha, pc, OneSided); p.ActualBeta > s.Beta*(1+1e-12) {
				failing++
			}
		}
		if failing != r.int("n_failing_after_n_first") {
			t.Errorf("%s:%d: %d sizes fail, want %s", r.file, r.line, failing, r.text("n_failing_after_n_first"))
		}
		return true
	})
}

func TestAssessorsForDPrimeAgainstReference(t *testing.T) {
	methods := map[string]Psychometric{
		"triangle": Triangle, "3afc": ThreeAFC, "tetrad": Tetrad, "duotrio": DuoTrio, "2afc": PairedComparison,
	}
	eachRecord(t, "c2_sample_size_dprime.csv", 15, func(r record) bool {
		m, ok := methods[r.text("protocol")]
		if !ok {
			return false
		}
		pc := m.PC(r.float("dprime"))
		r.near("pc", pc, 1e-13)
		s := Assessors(m.Chance(), r.float("alpha"), r.float("beta"), pc, OneSided)
		for suffix, p := range map[string]Panel{"first": s.Assessors, "stable": s.Stable} {
			if p.N != r.int("n_"+suffix) || p.MinCorrect != r.int("crit_at_n_"+suffix) {
				t.Errorf("%s:%d: %s = %+v, want n %s", r.file, r.line, suffix, p, r.text("n_"+suffix))
			}
			r.near("power_at_n_"+suffix, p.Power, 1e-11) // d′ is rounded in neither, pc is
		}
		return true
	})
}

// The table of the number of assessors for the triangle test, from memory. It
// starts at 3 assessors, where some of its entries would need fewer.
func TestAssessorsAgainstThePrintedTable(t *testing.T) {
	disagree := 0
	eachRecord(t, "c3_table_from_memory.csv", 280, func(r record) bool {
		s := Assessors(1.0/3, r.float("alpha"), r.float("beta"), PcFromPd(r.float("pd"), 1.0/3), OneSided)
		if first := r.int("n_first"); s.Assessors.N != max(3, first) {
			t.Errorf("%s:%d: assessors = %d, want %d", r.file, r.line, s.Assessors.N, first)
		}
		if s.Stable.N != r.int("n_stable") {
			t.Errorf("%s:%d: stable = %d, want %s", r.file, r.line, s.Stable.N, r.text("n_stable"))
		}
		if printed := r.int("n_printed_from_memory"); printed != s.Assessors.N {
			disagree++
			// 1181 is remembered for alpha 0.05, beta 0.001, pd 0.1; 1178 reaches both risks.
			if printed != 1181 || s.Assessors.N != 1178 {
				t.Errorf("%s:%d: assessors = %d, in print %d", r.file, r.line, s.Assessors.N, printed)
			}
			if r.text("printed_equals_n_first_or_3") == "true" {
				t.Errorf("%s:%d: the file says that print and computation agree", r.file, r.line)
			}
		}
		return true
	})
	if disagree != 1 {
		t.Errorf("%d entries differ from the table, want the known one", disagree)
	}
}

// R 4.2.2: every n from 3 to 3000 by pbinom, two-sided rejection in either
// direction.
func TestAssessorsTwoSidedAgainstR(t *testing.T) {
	tests := []struct {
		alpha, beta, pc float64
		first, stable   int
	}{
		{0.05, 0.2, 0.65, 90, 97},
		{0.05, 0.2, 0.75, 30, 35},
		{0.1, 0.1, 0.6, 213, 224},
		{0.4, 0.4, 0.55, 110, 146}, // findings in the wrong direction matter
		{0.3, 0.5, 0.52, 619, 699}, // likewise
		{0.001, 0.001, 0.7, 240, 247},
		{0.05, 0.05, 0.9, 17, 17},
	}
	for _, tt := range tests {
		s := Assessors(0.5, tt.alpha, tt.beta, tt.pc, TwoSided)
		if s.Assessors.N != tt.first || s.Stable.N != tt.stable {
			t.Errorf("%v %v %v: %d, %d, want %d, %d", tt.alpha, tt.beta, tt.pc, s.Assessors.N, s.Stable.N, tt.first, tt.stable)
		}
		if power := PowerTwoSided(tt.first, tt.alpha, tt.pc); power != s.Assessors.Power || power < 1-tt.beta {
			t.Errorf("%v %v %v: power %v beside %+v", tt.alpha, tt.beta, tt.pc, power, s.Assessors)
		}
	}
}

// R 4.2.2: every n from 3 to 1500 by pbinom, the maximum at or above n·chance.
func TestAssessorsSimilarAgainstR(t *testing.T) {
	tests := []struct {
		chance, alpha, beta, pd float64
		first, stable           int
		asForDifference         bool
	}{
		{1.0 / 3, 0.05, 0.05, 0.3, 66, 73, true},
		{1.0 / 3, 0.4, 0.5, 0.3, 3, 5, true},
		{1.0 / 2, 0.2, 0.05, 0.2, 158, 164, true},
		{1.0 / 10, 0.1, 0.1, 0.1, 103, 115, true},
		// The maximum would be below chance at the sizes for a difference.
		{1.0 / 3, 0.5, 0.4, 0.1, 18, 26, false},
		{1.0 / 3, 0.7, 0.1, 0.2, 30, 38, false},
		{1.0 / 2, 0.6, 0.2, 0.2, 26, 34, false},
	}
	for _, tt := range tests {
		pc := PcFromPd(tt.pd, tt.chance)
		s := AssessorsSimilar(tt.chance, tt.alpha, tt.beta, pc)
		if s.Assessors.N != tt.first || s.Stable.N != tt.stable || s.Goal != GoalSimilarity {
			t.Errorf("%v %v %v %v: %d, %d, want %d, %d", tt.chance, tt.alpha, tt.beta, tt.pd, s.Assessors.N, s.Stable.N, tt.first, tt.stable)
		}
		if tt.first < 30 {
			warned(t, "few", s.Warnings, FewForSimilarity)
		} else {
			warned(t, "enough", s.Warnings)
		}
		for _, p := range []Panel{s.Assessors, s.Stable} {
			if x, ok := MaxCorrect(p.N, tt.chance, tt.beta, tt.pd); !ok || x != p.MaxCorrect {
				t.Errorf("%+v: MaxCorrect = %d, %v", p, x, ok)
			}
			if p.ActualBeta > tt.beta || p.ActualAlpha > tt.alpha || math.Abs(p.ActualAlpha+p.Power-1) > 1e-14 {
				t.Errorf("%v %v %v %v: risks of %+v", tt.chance, tt.alpha, tt.beta, tt.pd, p)
			}
		}
		d := Assessors(tt.chance, tt.alpha, tt.beta, pc, OneSided)
		if same := d.Assessors.N == tt.first && d.Stable.N == tt.stable; same != tt.asForDifference {
			t.Errorf("%v %v %v %v: %d, %d for a difference", tt.chance, tt.alpha, tt.beta, tt.pd, d.Assessors.N, d.Stable.N)
		}
	}
}

// A risk that equals its bound exactly reaches it.
func TestAssessorsCountsExactTies(t *testing.T) {
	tests := []struct {
		chance, alpha, beta, pc float64
		want                    int
	}{
		{0.25, 0.2, 0.5, 0.5, 3},                  // P(X ≤ 1 of 3) = 1/2
		{1.0 / 3, 0.05, 19.0 / 27, 2.0 / 3, 3},    // P(X ≤ 2 of 3) = 19/27
		{1.0 / 3, 1.0 / 9, 33.0 / 81, 2.0 / 3, 4}, // and P(X ≥ 3 of 4) = 1/9 by guessing
		{0.5, 0.1875, 0.26272, 0.8, 5},            // P(X ≥ 4 of 5) = 6/32, 1 - 5·0.8⁴·0.2 - 0.8⁵
	}
	for _, tt := range tests {
		if s := Assessors(tt.chance, tt.alpha, tt.beta, tt.pc, OneSided); s.Assessors.N != tt.want {
			t.Errorf("%v %v %v %v: %d, want %d", tt.chance, tt.alpha, tt.beta, tt.pc, s.Assessors.N, tt.want)
		}
		if s := Assessors(tt.chance, tt.alpha, tt.beta*(1-1e-8), tt.pc, OneSided); s.Assessors.N <= tt.want {
			t.Errorf("%v %v %v %v: a smaller beta is reached by %d", tt.chance, tt.alpha, tt.beta, tt.pc, s.Assessors.N)
		}
	}
}

func TestAssessorsWhereNobodyMisses(t *testing.T) {
	tests := []struct {
		chance, alpha float64
		sided         Sided
		want          int
	}{
		{1.0 / 3, 0.05, OneSided, 3},
		{1.0 / 3, 0.001, OneSided, 7}, // 3^-7
		{1.0 / 2, 0.05, OneSided, 5},  // 1/32
		{1.0 / 2, 0.05, TwoSided, 6},  // 2/64
		{1.0 / 10, 0.001, OneSided, 3},
		{1.0 / 10, 0.05, OneSided, 3},     // 2 would do, but the tables start at 3
		{1.0 / 10, 1e-100, OneSided, 100}, // tie
	}
	for _, tt := range tests {
		s := Assessors(tt.chance, tt.alpha, 0.001, 1, tt.sided)
		if !s.Found || s.Assessors.N != tt.want || s.Stable.N != tt.want || s.Assessors.Power != 1 || s.Assessors.ActualBeta != 0 {
			t.Errorf("%v %v: %+v, want %d", tt.chance, tt.alpha, s, tt.want)
		}
		if tt.sided == OneSided {
			s = AssessorsSimilar(tt.chance, tt.alpha, 0.001, 1)
			if s.Assessors.N != tt.want || s.Stable.N != tt.want || s.Assessors.MaxCorrect != tt.want-1 {
				t.Errorf("similar, %v %v: %+v, want %d", tt.chance, tt.alpha, s, tt.want)
			}
		}
	}
}

func TestAssessorsThatCannotBePlanned(t *testing.T) {
	tests := []struct {
		name string
		got  Sizes
		want WarningKind
	}{
		{"pc at chance", Assessors(1.0/3, 0.05, 0.05, 1.0/3, OneSided), NothingToPlan},
		{"pc below chance", Assessors(0.5, 0.05, 0.05, 0.1, TwoSided), NothingToPlan},
		{"similar, pc at chance", AssessorsSimilar(0.5, 0.05, 0.05, 0.5), NothingToPlan},
		{"pc a hair above chance", Assessors(1.0/3, 0.05, 0.05, math.Nextafter(1.0/3, 1), OneSided), TooLargeToPlan},
		{"similar, the same", AssessorsSimilar(1.0/3, 0.05, 0.05, math.Nextafter(1.0/3, 1)), TooLargeToPlan},
		{"pd 0.001", Assessors(1.0/3, 0.05, 0.05, PcFromPd(0.001, 1.0/3), OneSided), TooLargeToPlan},
		{"alpha 1e-200", Assessors(1.0/3, 1e-200, 0.05, 0.6, OneSided), TooLargeToPlan},
		{"beta 5e-324", AssessorsSimilar(1.0/3, 0.1, 5e-324, 0.6), TooLargeToPlan},
		{"chance next to 1", Assessors(1-1e-12, 0.05, 0.05, 1, OneSided), TooLargeToPlan},
	}
	for _, tt := range tests {
		s := tt.got
		if s.Found || s.Assessors.N != 0 || s.Stable.N != 0 || len(s.Warnings) != 1 || s.Warnings[0].Kind != tt.want {
			t.Errorf("%s: %+v, want %s", tt.name, s, tt.want)
		}
	}
}

func TestPowerTwoSidedAgainstR(t *testing.T) {
	// R 4.2.2, digits = 17; 61 of 100 is the smallest majority at 0.05 (binom.test).
	if x, ok := MinMajority(100, 0.05); !ok || x != 61 {
		t.Errorf("MinMajority(100, 0.05) = %d, %v", x, ok)
	}
	call := "pbinom(60,100,.6,lower.tail=FALSE)+pbinom(39,100,.6)"
	if got := PowerTwoSided(100, 0.05, 0.6); !agrees(got, 0.46209338234839342, 1e-13) {
		t.Errorf("%s = %.17g", call, got)
	}
}

func TestMinMajorityAgainstReference(t *testing.T) {
	eachRecord(t, "b2_critical_two_sided.csv", 480, func(r record) bool {
		n, alpha := r.int("n"), r.float("alpha")
		x, ok := MinMajority(n, alpha)
		if ok == r.empty("min_majority") || ok && x != r.int("min_majority") {
			t.Errorf("%s:%d: MinMajority(%d, %v) = %d, %v", r.file, r.line, n, alpha, x, ok)
			return true
		}
		if !ok {
			if p := PowerTwoSided(n, alpha, 0.9); p != 0 {
				t.Errorf("%s:%d: power %v", r.file, r.line, p)
			}
			return true
		}
		r.near("two_sided_P_at_min_majority", PowerTwoSided(n, alpha, 0.5), 1e-13)
		r.near("two_sided_P_at_min_majority", DifferencePanel(n, 0.5, alpha, 0.5, TwoSided).ActualAlpha, 1e-13)
		return true
	})
}

func TestPowerTwoSidedShape(t *testing.T) {
	for _, n := range []int{1, 2, 5, 6, 24, 60, 201} {
		for _, alpha := range []float64{0, 0.01, 0.05, 0.5, 0.999, 1} {
			before := 0.0
			for pc := 0.5; pc <= 1; pc += 1.0 / 64 {
				got := PowerTwoSided(n, alpha, pc)
				if !agrees(got, PowerTwoSided(n, alpha, 1-pc), 1e-12) {
					t.Errorf("n %d, alpha %v: power at %v and %v differ", n, alpha, pc, 1-pc)
				}
				if got < before*(1-1e-13) || got > 1+1e-13 {
					t.Errorf("n %d, alpha %v: power goes from %v to %v at %v", n, alpha, before, got, pc)
				}
				p := DifferencePanel(n, 0.5, alpha, pc, TwoSided)
				if p.Power != got || math.Abs(p.Power+p.ActualBeta-1) > 1e-13 {
					t.Errorf("n %d, alpha %v, pc %v: panel %+v beside power %v", n, alpha, pc, p, got)
				}
				before = got
			}
			// A small risk keeps its digits on either side of 1/2.
			if low, high := DifferencePanel(n, 0.5, alpha, 0.05, TwoSided), DifferencePanel(n, 0.5, alpha, 0.95, TwoSided); !agrees(low.ActualBeta, high.ActualBeta, 1e-11) {
				t.Errorf("n %d, alpha %v: actual beta %v and %v", n, alpha, low.ActualBeta, high.ActualBeta)
			}
			if got := PowerTwoSided(n, alpha, 0.5); alpha == 1 && math.Abs(got-1) > 1e-14 {
				t.Errorf("n %d: power %v where every result is significant", n, got)
			} else if got > alpha*(1+1e-12) {
				t.Errorf("n %d: actual alpha %v above %v", n, got, alpha)
			}
		}
	}
}

func TestDetectableAgainstR(t *testing.T) {
	// R 4.2.2: uniroot of pbinom(x-1, n, p, lower.tail=FALSE) - power in p, tol 1e-15.
	tests := []struct {
		n                          int
		chance, alpha, power, want float64
	}{
		{24, 1.0 / 3, 0.05, 0.8, 0.40670628608517861},
		{6, 1.0 / 3, 0.05, 0.8, 0.79017896759506312},
		{100, 1.0 / 2, 0.01, 0.95, 0.40257945945386142},
	}
	for _, tt := range tests {
		got, ok := Detectable(tt.n, tt.chance, tt.alpha, tt.power, OneSided)
		if !ok || !agrees(got, tt.want, 1e-12) {
			t.Errorf("Detectable(%d, %v, %v, %v) = %.17g, %v, want %.17g", tt.n, tt.chance, tt.alpha, tt.power, got, ok, tt.want)
		}
	}
}

// Where the power is close to 1 it is the small risk of a miss that decides.
func TestDetectableCloseToOneAgainstR(t *testing.T) {
	// R 4.2.2, digits = 17, with e = 1 - power and the minimum 5 of 6:
	// q <- uniroot(function(q) pbinom(1, 6, q, lower.tail=FALSE)/e - 1, c(1e-9, .5), tol=1e-22)$root; 1 - 1.5*q
	for power, want := range map[float64]float64{
		1 - 0x1p-30: 0.99998818046863702,
		1 - 0x1p-40: 0.99999963064340425,
	} {
		got, ok := Detectable(6, 1.0/3, 0.05, power, OneSided)
		if !ok || math.Abs(got-want) > 1e-14 {
			t.Errorf("Detectable(6, 1/3, 0.05, %v) = %.17g, %v, want %.17g", power, got, ok, want)
		}
	}
	for _, n := range []int{9, 60, 1000} { // two-sided
		const power = 1 - 0x1p-33
		pd, ok := Detectable(n, 0.5, 0.05, power, TwoSided)
		if got := DifferencePanel(n, 0.5, 0.05, PcFromPd(pd, 0.5), TwoSided).ActualBeta; !ok || !agrees(got, 1-power, 1e-9) {
			t.Errorf("n %d: beta %v at pd %v, want %v", n, got, pd, 1-power)
		}
	}
}

func TestDetectableInvertsPower(t *testing.T) {
	for _, sided := range []Sided{OneSided, TwoSided} {
		for _, n := range []int{6, 7, 30, 400, 5000} {
			for _, alpha := range []float64{0.2, 0.05} {
				for _, want := range []float64{0.3, 0.8, 0.999} {
					pd, ok := Detectable(n, 0.5, alpha, want, sided)
					if !ok {
						t.Errorf("n %d, alpha %v: nothing detectable", n, alpha)
						continue
					}
					if got := DifferencePanel(n, 0.5, alpha, PcFromPd(pd, 0.5), sided).Power; !agrees(got, want, 1e-11) {
						t.Errorf("n %d, alpha %v, %s: power at pd %v = %v, want %v", n, alpha, sided, pd, got, want)
					}
				}
			}
		}
	}
	if pd, ok := Detectable(2, 1.0/3, 0.05, 0.8, OneSided); ok || pd != 1 {
		t.Errorf("two triangles detect %v, %v", pd, ok)
	}
	if pd, ok := Detectable(60, 1.0/3, 0.2, 0.1, OneSided); !ok || pd != 0 {
		t.Errorf("a power below alpha needs pd %v, %v", pd, ok)
	}
}

func TestPowerCurves(t *testing.T) {
	curve := PowerCurve(24, 1.0/3, 0.05, OneSided, 20)
	if len(curve) != 21 || curve[0].Pd != 0 || curve[20].Pd != 1 || curve[20].Power != 1 {
		t.Fatalf("curve %v", curve)
	}
	for _, p := range curve {
		if want := Power(24, 1.0/3, 0.05, p.Pc); p.Power != want {
			t.Errorf("power at pd %v = %v, want %v", p.Pd, p.Power, want)
		}
	}
	for _, p := range PowerCurve(30, 0.5, 0.05, TwoSided, 10) {
		if want := PowerTwoSided(30, 0.05, p.Pc); p.Power != want {
			t.Errorf("two-sided power at pd %v = %v, want %v", p.Pd, p.Power, want)
		}
	}
	before := 1.0
	for _, p := range SimilarityCurve(60, 1.0/3, 0.05, 0.3, 20) {
		if want := SimilarityPower(60, 1.0/3, 0.05, 0.3, p.Pc); p.Power != want || want > before {
			t.Errorf("similarity at pd %v = %v, want %v", p.Pd, p.Power, want)
		}
		before = p.Power
	}
	for _, p := range append(PowerCurve(1, 1.0/3, 0.05, OneSided, 4), SimilarityCurve(12, 1.0/3, 0.05, 0.2, 4)...) {
		if p.Power != 0 {
			t.Errorf("power %v of a panel that shows nothing", p.Power)
		}
	}
}

func TestPlanPanics(t *testing.T) {
	bad := map[string]func(){
		"chance 0":                     func() { Assessors(0, 0.05, 0.05, 0.5, OneSided) },
		"chance 1":                     func() { Assessors(1, 0.05, 0.05, 1, OneSided) },
		"alpha 0":                      func() { Assessors(0.5, 0, 0.05, 0.7, OneSided) },
		"alpha 1":                      func() { AssessorsSimilar(0.5, 1, 0.05, 0.7) },
		"beta NaN":                     func() { AssessorsSimilar(0.5, 0.05, math.NaN(), 0.7) },
		"pc above 1":                   func() { Assessors(0.5, 0.05, 0.05, 1.1, OneSided) },
		"two-sided triangle":           func() { Assessors(1.0/3, 0.05, 0.05, 0.5, TwoSided) },
		"no side":                      func() { DifferencePanel(5, 0.5, 0.05, 0.5, "") },
		"n 0":                          func() { SimilarityPanel(0, 0.5, 0.05, 0.7) },
		"majority of n 0":              func() { MinMajority(0, 1) },
		"power 1":                      func() { Detectable(5, 0.5, 0.05, 1, OneSided) },
		"two-sided triangle to detect": func() { Detectable(5, 1.0/3, 0.05, 0.8, TwoSided) },
		"no steps":                     func() { PowerCurve(5, 0.5, 0.05, OneSided, 0) },
		"pc NaN":                       func() { PowerTwoSided(5, 0.05, math.NaN()) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkAssessorsHardest(b *testing.B) {
	for b.Loop() {
		Assessors(1.0/3, 0.001, 0.001, PcFromPd(0.1, 1.0/3), OneSided)
	}
}

func BenchmarkAssessorsSimilarHardest(b *testing.B) {
	for b.Loop() {
		AssessorsSimilar(1.0/2, 0.001, 0.001, PcFromPd(0.1, 1.0/2))
	}
}

func BenchmarkAssessorsTwoSidedHardest(b *testing.B) {
	for b.Loop() {
		Assessors(1.0/2, 0.001, 0.001, PcFromPd(0.1, 1.0/2), TwoSided)
	}
}

// A table of 3 alphas, 3 betas and 4 differences.
func BenchmarkAssessorsTable(b *testing.B) {
	for b.Loop() {
		for _, alpha := range []float64{0.1, 0.05, 0.01} {
			for _, beta := range []float64{0.2, 0.1, 0.05} {
				for _, pd := range []float64{0.2, 0.3, 0.4, 0.5} {
					Assessors(1.0/3, alpha, beta, PcFromPd(pd, 1.0/3), OneSided)
				}
			}
		}
	}
}

// Close to the largest panel that is planned for.
func BenchmarkAssessorsOfAMillion(b *testing.B) {
	for b.Loop() {
		Assessors(1.0/3, 0.05, 0.05, PcFromPd(0.0037, 1.0/3), OneSided)
	}
}

func BenchmarkDetectable(b *testing.B) {
	for b.Loop() {
		Detectable(60, 1.0/3, 0.05, 0.8, OneSided)
	}
}

func BenchmarkPowerCurve(b *testing.B) {
	for b.Loop() {
		PowerCurve(60, 1.0/3, 0.05, OneSided, 100)
	}
}
