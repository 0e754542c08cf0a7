package stats

import (
	"math"
	"testing"
)

func TestPowerAgainstReference(t *testing.T) {
	eachRecord(t, "d3_power.csv", 144, func(r record) bool {
		n, chance, level := r.int("n"), r.fraction("p0"), r.float("alpha_or_beta")
		pc := PcFromPd(r.float("pd"), chance)
		if x, ok := MinCorrect(n, chance, level); !ok || x != r.int("diff_min_correct") {
			t.Errorf("%s:%d: MinCorrect = %d, %v", r.file, r.line, x, ok)
		}
		r.near("diff_actual_alpha", Power(n, chance, level, chance), 1e-13)
		r.near("diff_power_at_pd", Power(n, chance, level, pc), 1e-13)
		x := r.int("sim_max_correct")
		r.near("sim_actual_beta", LowerTail(n, x, pc), 1e-13)
		r.near("sim_power_if_identical", LowerTail(n, x, chance), 1e-13)
		return true
	})
}

func TestPowerRisesWithTheDifference(t *testing.T) {
	for _, n := range []int{3, 6, 18, 24, 60, 200} {
		before := 0.0
		for pd := 0.0; pd <= 1; pd += 1.0 / 64 {
			got := Power(n, 1.0/3, 0.05, PcFromPd(pd, 1.0/3))
			if got < before {
				t.Errorf("n = %d: power falls from %v to %v at pd = %v", n, before, got, pd)
			}
			before = got
		}
		if before != 1 {
			t.Errorf("n = %d: power = %v where everybody perceives", n, before)
		}
	}
	if got := Power(2, 1.0/3, 0.05, 1); got != 0 {
		t.Errorf("power of two triangles = %v, want 0: no count reaches 0.05", got)
	}
}

func TestPdAndPcAreInverse(t *testing.T) {
	for _, chance := range []float64{0, 1.0 / 10, 1.0 / 3, 1.0 / 2, 0.9} {
		if pc := PcFromPd(0, chance); pc != chance {
			t.Errorf("PcFromPd(0, %v) = %v", chance, pc)
		}
		if pc := PcFromPd(1, chance); pc != 1 {
			t.Errorf("PcFromPd(1, %v) = %v", chance, pc)
		}
		for pd := -0.5; pd <= 1; pd += 1.0 / 32 {
			if got := PdFromPc(PcFromPd(pd, chance), chance); math.Abs(got-pd) > 2e-15 {
				t.Errorf("chance %v: pd %v came back as %v", chance, pd, got)
			}
		}
	}
	// 15 right of 30 triangles: 1.5 · 0.5 - 0.5.
	if pd := PdFromPc(0.5, 1.0/3); !agrees(pd, 0.25, 1e-15) {
		t.Errorf("PdFromPc(0.5, 1/3) = %v, want 0.25", pd)
	}
	if pd := PdFromPc(0, 1.0/3); !agrees(pd, -0.5, 1e-15) {
		t.Errorf("PdFromPc(0, 1/3) = %v, want -0.5: it is not cut", pd)
	}
}

func TestPowerPanics(t *testing.T) {
	bad := map[string]func(){
		"n 0":             func() { Power(0, 0.5, 0.05, 0.6) },
		"pc above 1":      func() { Power(5, 0.5, 0.05, 1.01) },
		"pc NaN":          func() { Power(5, 0.5, 0.05, math.NaN()) },
		"chance 1":        func() { PcFromPd(0.2, 1) },
		"chance negative": func() { PdFromPc(0.2, -0.1) },
		"chance NaN":      func() { PdFromPc(0.2, math.NaN()) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}
