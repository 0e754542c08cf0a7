package session

import (
	"fmt"
	"math"
)

// Forecast is what one test of a plan can show, known before anyone tastes.
type Forecast struct {
	Plan   TestPlan
	Method Method
	Number int // of the test, from 1
	N      int // planned answers: seats times sets

	MinCorrect  int
	HasMin      bool
	ActualAlpha float64
	Power       float64   // at the planned pd
	AtPd        []PdPower // at three pd
	Curve       []NPower  // power at the planned pd over n
	Balanced    bool      // every serving order equally often
	Needed      int       // smallest n on Curve that reaches the wanted power; 0: none does
	Even        int       // smallest n from the planned one up that does and balances; 0: none
	Warning     string    // in words; "" where the plan can show what it wants to
}

// PdPower is a power at a proportion of discriminators.
type PdPower struct{ Pd, Power float64 }

// NPower is a power at a number of answers.
type NPower struct {
	N        int
	Power    float64
	Balanced bool
}

// forecastPd are the three pd that every plan is shown against: a small, a
// medium and a large share of people who perceive the difference. Common
// practice, no source.
var forecastPd = []float64{0.2, 0.3, 0.4}

// Forecast says what each test of the plan can show. It works on plans that
// don't pass Check, as long as the method is known and the figures are in range.
func (p Plan) Forecast() []Forecast {
	var all []Forecast
	for i, t := range p.Tests {
		m, ok := MethodByKey(t.Method)
		n := p.Seats * t.Sets
		if !ok || p.Seats < 1 || t.Sets < 1 || n < 1 || n > 5000 || !within(t.Alpha, 0.0001, 0.4) || !within(t.Pd, 0.01, 0.99) || !within(t.Power, 0.5, 0.999) {
			continue
		}
		f := Forecast{Plan: t, Method: m, Number: i + 1, N: n}
		f.MinCorrect, f.HasMin = minCorrect(n, t, m)
		if f.HasMin {
			f.ActualAlpha = pValue(n, f.MinCorrect, t, m)
		}
		f.Power = powerOf(n, t, m, t.Pd)
		for _, pd := range forecastPd {
			f.AtPd = append(f.AtPd, PdPower{pd, powerOf(n, t, m, pd)})
		}
		f.Balanced = p.Seats%len(m.Orders) == 0
		f.curve(p.Seats, t.Sets)
		f.Warning = f.warn()
		all = append(all, f)
	}
	return all
}

// curve spans from a few answers to twice the planned ones, at least to 48.
func (f *Forecast) curve(seats, sets int) {
	last := max(2*f.N, 48)
	first := 2
	step := max(1, (last-first)/200)
	for n := first; n <= last; n += step {
		// The planned size must stand on the curve whatever the step.
		if n > f.N && n-step < f.N && n-step != f.N {
			f.point(f.N, sets)
		}
		f.point(n, sets)
	}
}

func (f *Forecast) point(n, sets int) {
	pw := powerOf(n, f.Plan, f.Method, f.Plan.Pd)
	even := n%sets == 0 && n/sets%len(f.Method.Orders) == 0
	f.Curve = append(f.Curve, NPower{n, pw, even})
	if pw >= f.Plan.Power {
		if f.Needed == 0 {
			f.Needed = n
		}
		if f.Even == 0 && n >= f.N && even {
			f.Even = n
		}
	}
}

// warn says in plain words where the plan falls short.
func (f *Forecast) warn() string {
	switch {
	case !f.HasMin:
		return fmt.Sprintf("No result of %s can be significant at α %s. Plan more seats.", counted(f.N, "answer"), num(f.Plan.Alpha))
	case f.Power >= f.Plan.Power:
		return ""
	}
	fall := "fall"
	if f.N == 1 {
		fall = "falls"
	}
	say := fmt.Sprintf("%s %s short. Of 100 such panels, %s would find a difference that %s of people perceive; you want %.0f.",
		counted(f.N, "answer"), fall, ofHundred(f.Power, f.Plan.Power), percent(f.Plan.Pd), 100*f.Plan.Power)
	if f.Even > 0 {
		say += fmt.Sprintf(" %d answers would do, with every serving order equally often.", f.Even)
	}
	if f.Power < 0.5 {
		say += " A result that is not significant would say almost nothing."
	}
	return say
}

// ofHundred prints a power as a number of a hundred, with a decimal, cut off,
// where the whole number would not show that it is below the wanted one.
func ofHundred(power, wanted float64) string {
	if math.Round(100*power) < math.Round(100*wanted) {
		return fmt.Sprintf("%.0f", 100*power)
	}
	return fmt.Sprintf("%.1f", math.Floor(1000*power)/10)
}

// Supplies is what a session needs found and brewed, replacements included.
type Supplies struct {
	Cups         int     // planned cups
	Spare        int     // cups for replacements, a tenth and at least one tray
	CoffeeEachG  float64 // ground coffee of each lot, g
	WaterEachG   float64 // brewing water for each lot, g
	CupsPerSeat  int
	DrinkPerSeat float64 // g of coffee in all cups of a seat
	CaffeineMg   float64 // upper estimate for a seat, all swallowed
}

// caffeineMgPerG is drip coffee's caffeine, mg per g of beverage, as nutrient
// tables give it (40 mg per 100 g). Robusta holds about double.
const caffeineMgPerG = 0.4

// Supplies computes what to find and brew. Equal amounts of both lots are
// brewed whatever the key, so that what is left over tells nothing. The
// caffeine takes every cup as untreated.
func (p Plan) Supplies() Supplies {
	s := Supplies{CupsPerSeat: p.CupsPerSeat()}
	s.Cups = s.CupsPerSeat * p.Seats
	s.Spare = max(3, (s.Cups+9)/10)
	// A lot fills at most two cups in three of the triangles, and the spare
	// ones may all be its own; a tenth more stays in the vessel.
	most := 0.0
	for _, t := range p.Tests {
		if m, ok := MethodByKey(t.Method); ok {
			share := 0.5
			if p.Seats%len(m.Orders) != 0 {
				share = 2.0 / 3
			}
			most += share * float64(t.Sets*m.Cups*p.Seats)
		}
	}
	brew := (most + float64(s.Spare)) * p.Serving.FillG * 1.1
	s.CoffeeEachG = brew * p.Serving.DoseGPerL / 1000
	// The grounds keep about twice their mass of water (common practice).
	s.WaterEachG = brew + 2*s.CoffeeEachG
	s.DrinkPerSeat = float64(s.CupsPerSeat) * p.Serving.FillG
	s.CaffeineMg = s.DrinkPerSeat * caffeineMgPerG
	return s
}
