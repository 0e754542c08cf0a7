package session

import "strings"

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
	s.Spare = (s.Cups + 9) / 10
	for _, t := range p.Tests {
		m, _ := MethodByKey(t.Method)
		s.Spare = max(s.Spare, m.Cups)
	}
	// The lot that fills more cups decides for both, the spare ones may all be
	// its own, and a tenth more stays in the vessel.
	var each [2]float64 // untreated, processed
	for _, t := range p.Tests {
		untreated, processed := p.cupsOf(t)
		each[0] += untreated
		each[1] += processed
	}
	most := max(each[0], each[1])
	brew := (most + float64(s.Spare)) * p.Serving.FillG * 1.1
	s.CoffeeEachG = brew * p.Serving.DoseGPerL / 1000
	// The grounds keep about twice their mass of water (common practice).
	s.WaterEachG = brew + 2*s.CoffeeEachG
	s.DrinkPerSeat = float64(s.CupsPerSeat) * p.Serving.FillG
	s.CaffeineMg = s.DrinkPerSeat * caffeineMgPerG
	return s
}

// cupsOf gives the most cups of a test that each lot may have to fill. Whole
// blocks use every order once; those of a cut block may all be the worst for
// either lot.
func (p Plan) cupsOf(t TestPlan) (untreated, processed float64) {
	m, ok := MethodByKey(t.Method)
	if !ok {
		return 0, 0
	}
	orders := t.Orders()
	if t.Blank != "" {
		all := float64(t.Sets * m.Cups * p.Seats)
		if t.Blank == BlankProcessed {
			return 0, all
		}
		return all, 0
	}
	most := func(product string) float64 {
		whole, worst := 0, 0
		for _, o := range orders {
			n := strings.Count(o, product)
			whole += n
			worst = max(worst, n)
		}
		cups := 0
		for _, seats := range p.FlightSizes() {
			cups += seats/len(orders)*whole + seats%len(orders)*worst
		}
		return float64(t.Sets * cups)
	}
	return most("A"), most("B")
}
