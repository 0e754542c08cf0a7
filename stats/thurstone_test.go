package stats

import (
	"math"
	"testing"
)

// psychometrics by the name that the reference files use.
var psychometrics = map[string]Psychometric{
	"triangle": Triangle,
	"2afc":     PairedComparison,
	"duotrio":  DuoTrio,
	"3afc":     ThreeAFC,
	"tetrad":   Tetrad,
}

func (r record) psychometric() Psychometric {
	r.t.Helper()
	m, ok := psychometrics[r.text("protocol")]
	if !ok {
		r.t.Fatalf("%s:%d: no psychometric for %q", r.file, r.line, r.text("protocol"))
	}
	return m
}

func TestPCAgainstReference(t *testing.T) {
	eachRecord(t, "f_psychometric.csv", 305, func(r record) bool {
		d, want := r.float("dprime"), r.float("pc")
		if got := r.psychometric().PC(d); math.Abs(got-want) > 1e-14 {
			t.Errorf("%s:%d: PC(%v) = %.17g, want %.17g", r.file, r.line, d, got, want)
		}
		slope := r.psychometric().Slope(d)
		if want := r.float("dpc_ddprime"); want == 0 || d == 0 {
			if math.Abs(slope-want) > 1e-15 {
				t.Errorf("%s:%d: Slope(%v) = %.17g, want %.17g", r.file, r.line, d, slope, want)
			}
		} else {
			r.near("dpc_ddprime", slope, 1e-12)
		}
		return true
	})
}

// Four million simulated trials a row, by another program: within 4 standard
// errors of that, and for the triangle equal to a non-central F probability.
func TestPCAgainstSimulation(t *testing.T) {
	eachRecord(t, "f4_montecarlo_check.csv", 20, func(r record) bool {
		pc := r.psychometric().PC(r.float("dprime"))
		r.near("pc", pc, 1e-14)
		se := math.Sqrt(pc * (1 - pc) / r.float("trials"))
		if z := (r.float("pc_montecarlo") - pc) / se; math.Abs(z) > 4 || math.Abs(z-r.float("z_score")) > 0.01 {
			t.Errorf("%s:%d: %v standard errors off", r.file, r.line, z)
		}
		if !r.empty("triangle_noncentral_F") {
			r.near("triangle_noncentral_F", pc, 2e-12)
		}
		return true
	})
}

// Far from chance, where pc rounds to 1 (mpmath, 160 digits).
func TestMissAgainstReference(t *testing.T) {
	eachRecord(t, "f5_far_miss.csv", 55, func(r record) bool {
		m, d, miss := r.psychometric(), r.float("dprime"), r.float("miss")
		r.near("miss", m.Miss(d), 5e-13)
		r.near("dprime", m.DPrimeFromMiss(miss), 1e-12)
		if d <= 7 {
			r.near("dprime", m.DPrime(1-miss), 1e-11)
		}
		return true
	})
}

func TestDPrimeAgainstReference(t *testing.T) {
	eachRecord(t, "f2_inverse.csv", 95, func(r record) bool {
		r.near("dprime", r.psychometric().DPrime(r.float("pc")), 1e-12)
		return true
	})
}

func TestDPrimeIntervalAgainstReference(t *testing.T) {
	eachRecord(t, "f3_dprime_estimates.csv", 24, func(r record) bool {
		m, n, x := r.psychometric(), r.int("n"), r.int("x")
		r.near("dprime", m.DPrime(float64(x)/float64(n)), 1e-12)
		got := m.DPrimeInterval(x, n, 0.95)
		r.near("dprime_cp_lower", got.Lower, 1e-12)
		r.near("dprime_cp_upper", got.Upper, 1e-12)
		if got.Confidence != 0.95 {
			t.Errorf("%s:%d: confidence = %v", r.file, r.line, got.Confidence)
		}
		return true
	})
}

// Beyond the reference file, in the far tail: the chance of a wrong triangle by
// another derivation, given the odd cup's distance v from the middle of the
// others. R 4.2.2, with c = d*sqrt(2/3),
//
//	f <- function(v) dnorm(v-c) * 2*pnorm(-abs(v)/sqrt(3))
//	integrate(f, -10, 0, rel.tol=1e-13, abs.tol=0)$value +
//	  integrate(f, 0, c+9, rel.tol=1e-13, abs.tol=0)$value
func TestTriangleFarFromChance(t *testing.T) {
	for d, want := range map[float64]float64{
		6:  0.014305795075652564,
		8:  0.0010908351717698007,
		10: 4.4557090604038521e-05,
		12: 9.6335700864309522e-07,
	} {
		if got := 1 - Triangle.PC(d); math.Abs(got-want) > 1e-15 {
			t.Errorf("1 - PC(%v) = %.17g, want %.17g", d, got, want)
		}
	}
}

func TestPsychometricShape(t *testing.T) {
	for name, m := range psychometrics {
		before := m.Chance()
		if m.PC(0) != before || math.Abs(1-m.miss(0)-before) > 1e-15 {
			t.Errorf("%s: PC(0) = %v, formula %v, want %v", name, m.PC(0), 1-m.miss(0), before)
		}
		for d := 0.25; d <= 60; d += 0.25 {
			pc := m.PC(d)
			if pc > 1 || pc < before || (pc == before && pc < 1-1e-13) {
				t.Errorf("%s: PC(%v) = %.17g after %.17g", name, d, pc, before)
			}
			before = pc
			if d > 6 {
				continue
			}
			if got := m.DPrime(pc); !agrees(got, d, 1e-12) {
				t.Errorf("%s: DPrime(PC(%v)) = %.17g", name, d, got)
			}
		}
		for d := 0.25; d <= 35; d += 0.25 {
			if got := m.DPrimeFromMiss(m.Miss(d)); !agrees(got, d, 1e-12) {
				t.Errorf("%s: DPrimeFromMiss(Miss(%v)) = %.17g", name, d, got)
			}
			if m.Miss(d) >= m.Miss(d-0.25) {
				t.Errorf("%s: Miss(%v) does not fall", name, d)
			}
		}
		if m.Miss(math.Inf(1)) != 0 || m.Slope(math.Inf(1)) != 0 {
			t.Errorf("%s: Miss(+Inf) = %v, Slope(+Inf) = %v", name, m.Miss(math.Inf(1)), m.Slope(math.Inf(1)))
		}
		if m.PC(40) != 1 || m.PC(math.Inf(1)) != 1 {
			t.Errorf("%s: PC(40) = %v, PC(+Inf) = %v, want 1", name, m.PC(40), m.PC(math.Inf(1)))
		}
		for d, tolerance := range map[float64]float64{0.001: 1e-8, 0.01: 1e-10, 0.1: 1e-12} {
			if got := m.DPrime(m.PC(d)); !agrees(got, d, tolerance) {
				t.Errorf("%s: DPrime(PC(%v)) = %.17g", name, d, got)
			}
		}
	}
}

// The errors that the comments on DPrime and DPrimeFromMiss state: of a d′ that
// went to its pc and back, to 7, and to its miss and back, to 10.
func TestDPrimeInvertsToTheStatedError(t *testing.T) {
	for name, m := range psychometrics {
		flat := m.Slope(0) == 0
		for exponent := -9.0; exponent < 0; exponent += 0.01 {
			d := math.Pow(10, exponent)
			stated := 1e-14
			switch {
			case flat && d < 2e-5:
				stated = 1e-7
			case flat:
				stated = 1e-10
			}
			if got := m.DPrime(m.PC(d)); math.Abs(got-d) > stated {
				t.Errorf("%s: DPrime(PC(%v)) is off by %v", name, d, got-d)
			}
		}
		for d := 0.1; d <= 10; d += 0.037 {
			if got := m.DPrime(m.PC(d)); d <= 7 && math.Abs(got-d) > 1e-10 || d <= 6 && !agrees(got, d, 1e-12) {
				t.Errorf("%s: DPrime(PC(%v)) is off by %v", name, d, got-d)
			}
			if got := m.DPrimeFromMiss(m.Miss(d)); !agrees(got, d, 1e-12) {
				t.Errorf("%s: DPrimeFromMiss(Miss(%v)) is off by %v", name, d, got-d)
			}
		}
	}
}

// Few wrong answers, or none, of many: the limits of pc are next to 1. R 4.2.2,
// digits = 17:
//
//	a <- (1-0.999999)/2; q <- -expm1(log1p(-a)/1000); -sqrt(2)*qnorm(q)
//	q <- -expm1(log(0.025)/100000); -sqrt(2)*qnorm(q)
func TestDPrimeIntervalNextToOne(t *testing.T) {
	if got := PairedComparison.DPrimeInterval(999, 1000, 0.999999).Upper; !agrees(got, 8.6400107134465021, 1e-12) {
		t.Errorf("999 of 1000: up to %.17g", got)
	}
	if got := PairedComparison.DPrimeInterval(100_000, 100_000, 0.95).Lower; !agrees(got, 5.6056132078618814, 1e-12) {
		t.Errorf("100 000 of 100 000: from %.17g", got)
	}
}

func TestDPrimeAtTheEdges(t *testing.T) {
	for name, m := range psychometrics {
		for _, pc := range []float64{0, 0.2, m.Chance()} {
			if d := m.DPrime(pc); d != 0 {
				t.Errorf("%s: DPrime(%v) = %v, want 0", name, pc, d)
			}
		}
		if d := m.DPrime(1); !math.IsInf(d, 1) {
			t.Errorf("%s: DPrime(1) = %v, want +Inf", name, d)
		}
		if m.DPrimeFromMiss(0.9) != 0 || m.DPrimeFromMiss(1-m.Chance()) != 0 || !math.IsInf(m.DPrimeFromMiss(0), 1) {
			t.Errorf("%s: DPrimeFromMiss of 0.9, 1 - chance, 0 = %v, %v, %v", name,
				m.DPrimeFromMiss(0.9), m.DPrimeFromMiss(1-m.Chance()), m.DPrimeFromMiss(0))
		}
		if d := m.DPrime(math.Nextafter(m.Chance(), 1)); d < 0 || d > 1e-7 {
			t.Errorf("%s: DPrime just above chance = %v", name, d)
		}
		if d := m.DPrime(math.Nextafter(1, 0)); !(d > 11 && d < 21) {
			t.Errorf("%s: DPrime just below 1 = %v", name, d)
		}
		if got := m.DPrimeInterval(12, 12, 0.95); !math.IsInf(got.Upper, 1) || got.Lower <= 0 {
			t.Errorf("%s: all of 12 = %v", name, got)
		}
		if got, want := m.DPrimeInterval(0, 60, 0.95), (Interval{0, 0, 0.95}); got != want {
			t.Errorf("%s: none of 60 = %v, want %v", name, got, want)
		}
	}
}

func TestPsychometricNames(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range psychometrics {
		seen[m.Name()] = true
	}
	for _, want := range []string{"triangle", "paired comparison", "duo-trio", "3-AFC", "tetrad"} {
		if !seen[want] {
			t.Errorf("no psychometric is named %q", want)
		}
	}
	if Triangle == Tetrad {
		t.Error("two tests compare as equal")
	}
}

func TestPsychometricPanics(t *testing.T) {
	bad := map[string]func(){
		"negative d′":   func() { Triangle.PC(-0.1) },
		"d′ NaN":        func() { Triangle.PC(math.NaN()) },
		"pc above 1":    func() { Triangle.DPrime(1.1) },
		"pc negative":   func() { Triangle.DPrime(-0.1) },
		"pc NaN":        func() { Triangle.DPrime(math.NaN()) },
		"x above n":     func() { Triangle.DPrimeInterval(6, 5, 0.95) },
		"zero Name":     func() { Psychometric{}.Name() },
		"zero Chance":   func() { Psychometric{}.Chance() },
		"zero PC":       func() { Psychometric{}.PC(1) },
		"confidence 95": func() { Triangle.DPrimeInterval(2, 5, 95) },
		"zero Slope":    func() { Psychometric{}.Slope(1) },
		"slope at NaN":  func() { Triangle.Slope(math.NaN()) },
		"miss above 1":  func() { Triangle.DPrimeFromMiss(1.1) },
		"negative Miss": func() { Triangle.Miss(-1) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkPC(b *testing.B) {
	for b.Loop() {
		Triangle.PC(1.5)
	}
}

func BenchmarkDPrime(b *testing.B) {
	for b.Loop() {
		Triangle.DPrime(0.5)
	}
}

// Where the steps have most to do: next to chance.
func BenchmarkDPrimeOfTetradNextToChance(b *testing.B) {
	pc := Tetrad.PC(0.001)
	for b.Loop() {
		Tetrad.DPrime(pc)
	}
}

func BenchmarkDPrimeFromMiss(b *testing.B) {
	for b.Loop() {
		Triangle.DPrimeFromMiss(1e-9)
	}
}
