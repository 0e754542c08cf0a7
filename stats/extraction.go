package stats

import "fmt"

// ExtractionConvention names how an extraction yield is reckoned.
type ExtractionConvention string

// With the strength tds of the beverage in percent by mass, the yields are, in
// percent of the dose,
//
//	percolation              tds · beverage / dose
//	immersion, simple        tds · water / dose
//	immersion, mass balance  c · water / ((1 - c) · dose) · 100, c = tds/100
//
// In percolation (drip, espresso) what is dissolved is in the beverage, and the
// liquid that the grounds hold back is taken to hold nothing. In immersion
// (cupping) the grounds lie in a liquid that is as strong as what is poured off,
// so all of it counts: water + dissolved = water/(1 - c) grams. The simple form
// forgets what is dissolved and is lower by the factor 1 - c.
//
// Common practice, no standard source; the mass balance is derived as said. Dose
// and masses are as weighed: nothing is corrected for moisture or gas in the
// coffee, or for water that evaporates.
const (
	Percolation      ExtractionConvention = "percolation"
	ImmersionSimple  ExtractionConvention = "immersion, simple"
	ImmersionBalance ExtractionConvention = "immersion, mass balance"
)

// ExtractionTooHigh warns that a yield is more than coffee can give.
const ExtractionTooHigh WarningKind = "extraction-too-high"

// mostSoluble is the share of roasted coffee, in percent, that hardly any water
// dissolves more of (common practice, no source).
const mostSoluble = 30

// Extraction is how much of the coffee a brew has dissolved: Yield in percent of
// the dose, with the terms it was reckoned on. TDS is the strength in percent,
// Liquid the mass in g that Convention multiplies it with, of the beverage in
// percolation and of the brew water in immersion; Dose is in g.
type Extraction struct {
	Convention        ExtractionConvention
	TDS, Liquid, Dose float64
	Yield             float64
	Warnings          []Warning
}

// ExtractionYield returns the extraction yield of a brew by one of the
// conventions. It is exact but for rounding, 1e-15 relatively.
//
// It is no check of the weights: a yield above 30 % is given with a warning, as
// it comes from a wrong weight, a wrong reading or the wrong convention.
//
// It panics unless 0 ≤ tds < 100, liquid and dose lie from 1e-100 to 1e100, and
// convention is one of its values.
func ExtractionYield(convention ExtractionConvention, tds, liquid, dose float64) Extraction {
	if !(tds >= 0 && tds < 100) { // NaN fails too
		panic(fmt.Sprintf("stats: tds = %v %% is not from 0 to below 100", tds))
	}
	checkMass("liquid", liquid)
	checkMass("dose", dose)
	e := Extraction{Convention: convention, TDS: tds, Liquid: liquid, Dose: dose}
	switch convention {
	case Percolation, ImmersionSimple:
		e.Yield = tds * liquid / dose
	case ImmersionBalance:
		e.Yield = tds * liquid / ((100 - tds) / 100 * dose)
	default:
		panic(fmt.Sprintf("stats: extraction by %q", string(convention)))
	}
	if e.Yield > mostSoluble {
		e.Warnings = []Warning{{ExtractionTooHigh, fmt.Sprintf(
			"A yield of %.3g %% is more than roasted coffee can give, about %d %%: check the weights, the strength and whether the brew was %s.",
			e.Yield, mostSoluble, e.Convention)}}
	}
	return e
}

func checkMass(name string, mass float64) {
	if !(mass >= 1e-100 && mass <= 1e100) { // NaN fails too
		panic(fmt.Sprintf("stats: %s = %v g is no mass", name, mass))
	}
}
