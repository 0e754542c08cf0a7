package stats

import (
	"math"
	"testing"
)

func TestExtractionAgainstReference(t *testing.T) {
	seen := map[ExtractionConvention]int{}
	eachRecord(t, "l_extraction.csv", 8, func(r record) bool {
		tested := false
		for column, c := range map[string]struct {
			convention ExtractionConvention
			liquid     string
		}{
			"ey_percolation_percent":            {Percolation, "beverage_g"},
			"ey_immersion_simple_percent":       {ImmersionSimple, "brew_water_g"},
			"ey_immersion_mass_balance_percent": {ImmersionBalance, "brew_water_g"},
		} {
			if r.empty(column) != r.empty(c.liquid) {
				t.Errorf("%s:%d: %s and %s are not both there", r.file, r.line, column, c.liquid)
				continue
			}
			if r.empty(column) {
				continue
			}
			e := ExtractionYield(c.convention, r.float("tds_percent"), r.float(c.liquid), r.float("dose_g"))
			r.near(column, e.Yield, 1e-15)
			if e.Convention != c.convention || e.Warnings != nil {
				t.Errorf("%s:%d: %+v", r.file, r.line, e)
			}
			seen[c.convention]++
			tested = true
		}
		return tested
	})
	for _, convention := range []ExtractionConvention{Percolation, ImmersionSimple, ImmersionBalance} {
		if seen[convention] < 5 {
			t.Errorf("%s: only %d yields were tested", convention, seen[convention])
		}
	}
}

// The mass balance turned round: dissolve so much of the dose in the water, and
// the strength of the liquid must give that yield back.
func TestImmersionBalancesMass(t *testing.T) {
	for _, yield := range []float64{0, 0.5, 18, 22, 29} {
		for _, water := range []float64{5, 150, 2000} {
			const dose = 8.25
			dissolved := yield / 100 * dose
			tds := 100 * dissolved / (water + dissolved)
			if got := ExtractionYield(ImmersionBalance, tds, water, dose).Yield; math.Abs(got-yield) > 1e-12 {
				t.Errorf("%v %% of %v g in %v g: %v %%", yield, dose, water, got)
			}
			// The simple form leaves out what is dissolved, as if it were no mass.
			want := yield * water / (water + dissolved)
			if got := ExtractionYield(ImmersionSimple, tds, water, dose).Yield; math.Abs(got-want) > 1e-12 {
				t.Errorf("simple: %v %% of %v g in %v g: %v %%, want %v", yield, dose, water, got, want)
			}
		}
	}
}

func TestExtractionTooHigh(t *testing.T) {
	for _, c := range []struct {
		tds, liquid, dose float64
		warned            bool
	}{{1.5, 400, 20, false}, {1.5, 401, 20, true}, {99.999, 1e100, 1e-100, true}} {
		e := ExtractionYield(Percolation, c.tds, c.liquid, c.dose)
		if warnsOf(e.Warnings, ExtractionTooHigh) != c.warned || math.IsInf(e.Yield, 0) || e.TDS != c.tds || e.Liquid != c.liquid || e.Dose != c.dose {
			t.Errorf("%+v", e)
		}
	}
}

func TestExtractionPanics(t *testing.T) {
	for name, f := range map[string]func(){
		"tds below 0":   func() { ExtractionYield(Percolation, -0.1, 300, 20) },
		"tds 100":       func() { ExtractionYield(ImmersionBalance, 100, 300, 20) },
		"tds NaN":       func() { ExtractionYield(Percolation, math.NaN(), 300, 20) },
		"no liquid":     func() { ExtractionYield(Percolation, 1.3, 0, 20) },
		"no dose":       func() { ExtractionYield(Percolation, 1.3, 300, 0) },
		"dose endless":  func() { ExtractionYield(Percolation, 1.3, 300, math.Inf(1)) },
		"no convention": func() { ExtractionYield("", 1.3, 300, 20) },
	} {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkExtractionYield(b *testing.B) {
	for b.Loop() {
		ExtractionYield(ImmersionBalance, 1.38, 150, 8.25)
	}
}
