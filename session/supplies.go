package session

import (
	"math"
	"strings"
)

// Supplies is what a session needs found and brewed, replacements included; with
// several flights, for all of them together.
type Supplies struct {
	Cups         int     // planned cups
	Spare        int     // cups for replacements, a tenth and at least one tray
	CoffeeEachG  float64 // ground coffee of each lot, g
	WaterEachG   float64 // brewing water for each lot, g
	Second       Brew    // of a blank test's lot, in a vessel of its own; zero without one
	CupsPerSeat  int
	DrinkPerSeat float64 // g of coffee in all cups of a seat
	CaffeineMg   float64 // estimate for a seat, rounded up: see [CaffeineFrom]
	RobustaMg    float64 // the same where the coffee is robusta
}

// Brew is what goes into a vessel.
type Brew struct{ CoffeeG, WaterG float64 }

// WaterL is the water in litres, at 1 kg each.
func (b Brew) WaterL() float64 { return b.WaterG / 1000 }

// CoffeeG and WaterG are the sums of all brews.
func (s Supplies) CoffeeG() float64 { return 2*s.CoffeeEachG + s.Second.CoffeeG }

// WaterG is the water of all brews.
func (s Supplies) WaterG() float64 { return 2*s.WaterEachG + s.Second.WaterG }

// Caffeine in a gram of ground coffee, mg. Roasted coffee holds 1.25 % of caffeine
// on average (Österreichisches Lebensmittelbuch, B 12, 1.2.1), robusta up to about
// 2.6 % (green; Clarke and Macrae, Coffee, volume 1, 1985, as others cite it).
const (
	caffeineMgPerG = 12.5
	robustaMgPerG  = 26
)

// CaffeineFrom says what the caffeine of [Supplies] is made of, and by whom.
const CaffeineFrom = "an estimate, no bound: every planned cup swallowed and counted as untreated, all the caffeine of its ground coffee in it, at the average of 1.25 % of roasted coffee " +
	"(Austrian food code, B 12), where a strong coffee can hold more; robusta up to about 2.6 % (Clarke and Macrae, 1985); a set poured again adds its cups"

// CaffeineFrom is for pages that show the supplies.
func (Supplies) CaffeineFrom() string { return CaffeineFrom }

// Supplies computes what to find and brew. Equal amounts of both lots are
// brewed whatever the key, so that what is left over tells nothing. The
// caffeine is that of all the ground coffee that a seat's cups are brewed from,
// and takes every cup as untreated: a lot's register tells of no caffeine content.
func (p Plan) Supplies() Supplies {
	var s Supplies
	for _, seats := range p.FlightSizes() {
		f := p.FlightSupplies(seats)
		s.Cups += f.Cups
		s.Spare += f.Spare
		s.CoffeeEachG += f.CoffeeEachG
		s.WaterEachG += f.WaterEachG
		s.Second.CoffeeG += f.Second.CoffeeG
		s.Second.WaterG += f.Second.WaterG
		s.CupsPerSeat, s.DrinkPerSeat, s.CaffeineMg, s.RobustaMg = f.CupsPerSeat, f.DrinkPerSeat, f.CaffeineMg, f.RobustaMg
	}
	return s
}

// FlightSupplies are the supplies of a flight of so many seats.
func (p Plan) FlightSupplies(seats int) Supplies {
	s := Supplies{CupsPerSeat: p.CupsPerSeat()}
	s.Cups = s.CupsPerSeat * seats
	// The lot that fills more cups decides for both. In a blank test one of the
	// two brews is poured as a lot is elsewhere, and the other needs as much.
	var each [2]float64 // untreated, processed
	for _, t := range p.Tests {
		a, b := mostCups(t, seats)
		each[0] += a
		each[1] += b
		if t.Blank != "" {
			s.Second = p.brew(max(a, b), spareCups(p.cupsOfTest(t)*seats, t))
		}
	}
	s.Spare = spareCups(s.Cups, p.Tests...)
	main := p.brew(max(each[0], each[1]), s.Spare)
	s.CoffeeEachG, s.WaterEachG = main.CoffeeG, main.WaterG
	s.DrinkPerSeat = float64(s.CupsPerSeat) * p.Serving.FillG
	swallowed := p.brewFor(s.DrinkPerSeat).CoffeeG
	s.CaffeineMg, s.RobustaMg = math.Ceil(swallowed*caffeineMgPerG), math.Ceil(swallowed*robustaMgPerG)
	return s
}

// spareCups are a tenth of the cups, and at least one tray of any test.
func spareCups(cups int, tests ...TestPlan) int {
	spare := (cups + 9) / 10
	for _, t := range tests {
		m, _ := MethodByKey(t.Method)
		spare = max(spare, m.Cups)
	}
	return spare
}

func (p Plan) cupsOfTest(t TestPlan) int {
	m, _ := MethodByKey(t.Method)
	return t.Sets * m.Cups
}

// brew fills so many cups and the spare ones, which may all be its own; a tenth
// more stays in the vessel.
func (p Plan) brew(cups float64, spare int) Brew {
	return p.brewFor((cups + float64(spare)) * p.Serving.FillG * 1.1)
}

// brewFor gives the brew of which so many g can be drunk.
func (p Plan) brewFor(drink float64) Brew {
	// The grounds keep about twice their mass of water (common practice), and the
	// dose is for the water that is poured on them.
	dose := p.Serving.DoseGPerL / 1000
	water := drink / (1 - 2*dose)
	return Brew{dose * water, water}
}

// mostCups gives the most cups of a test that each of its two brews may have to
// fill. Whole blocks use every order once; those of a cut block may all be the
// worst for either.
func mostCups(t TestPlan, seats int) (a, b float64) {
	orders := t.Orders()
	if len(orders) == 0 {
		return 0, 0
	}
	most := func(product string) float64 {
		whole, worst := 0, 0
		for _, o := range orders {
			n := strings.Count(o, product)
			whole += n
			worst = max(worst, n)
		}
		return float64(t.Sets * (seats/len(orders)*whole + seats%len(orders)*worst))
	}
	return most("A"), most("B")
}
