package session

import (
	"math"
	"strings"
	"testing"
)

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

// Power and actual α by R 4.2.2, for example
//
//	m <- 13; pbinom(m-1, 24, 1/3 + 0.4*2/3, lower.tail = FALSE)
//
// and the two-sided ones by pbinom(17, 24, 0.7, lower.tail = FALSE) +
// pbinom(6, 24, 0.7). Minimum correct: FAO document V7180E, Appendix A, for
// the triangle; qbinom of R for the paired comparison.
func TestForecastAgainstR(t *testing.T) {
	twoSided := pairOn("body")
	twoSided.TwoSided = true
	for _, c := range []struct {
		name         string
		seats        int
		test         TestPlan
		pd           float64
		min          int
		alpha, power float64
	}{
		{"6 triangles", 6, triangles(1), 0.3, 5, 0.017832647462277074, 0.143837585733882},
		{"24 triangles", 24, triangles(1), 0.4, 13, 0.028441128095468789, 0.78697820103945948},
		{"24 triangles, small pd", 24, triangles(1), 0.2, 13, 0.028441128095468789, 0.296733840976939},
		{"30 triangles", 30, triangles(1), 0.4, 15, 0.043482275727919475, 0.90294315617925125},
		{"24 pairs", 24, pairOn("body"), 0.4, 17, 0.031957328319549602, 0.56467400993343064},
		{"24 pairs, two-sided", 24, twoSided, 0.4, 18, 0.022655844688415548, 0.3885961851688618},
	} {
		c.test.Pd = c.pd
		f := planOf(c.seats, c.test).Forecast()
		if len(f) != 1 {
			t.Fatalf("%s: %d forecasts", c.name, len(f))
		}
		if got := f[0]; got.MinCorrect != c.min || !got.HasMin ||
			!near(got.ActualAlpha, c.alpha, 1e-12) || !near(got.Power, c.power, 1e-12) || got.N != c.seats*c.test.Sets {
			t.Errorf("%s: n %d, minimum %d, actual α %.17g, power %.17g; want %d, %.17g, %.17g",
				c.name, got.N, got.MinCorrect, got.ActualAlpha, got.Power, c.min, c.alpha, c.power)
		}
	}
}

// By R 4.2.2 as above, pd 0.2, 0.3 and 0.4 of 24 triangles.
func TestForecastAtThreePd(t *testing.T) {
	f := planOf(24, triangles(1)).Forecast()[0]
	want := []PdPower{{0.2, 0.296733840976939}, {0.3, 0.55047513248856716}, {0.4, 0.78697820103945948}}
	if len(f.AtPd) != len(want) {
		t.Fatalf("%v", f.AtPd)
	}
	for i, w := range want {
		if f.AtPd[i].Pd != w.Pd || !near(f.AtPd[i].Power, w.Power, 1e-12) {
			t.Errorf("%v, want %v", f.AtPd[i], w)
		}
	}
}

// By R 4.2.2 as above, at pd 0.4: 22 triangles have power 0.772, 23 have 0.836,
// 24 have 0.787 and 30 have 0.903. Exact power is a saw.
func TestForecastOfHowMany(t *testing.T) {
	f := planOf(24, triangles(1)).Forecast()[0]
	if f.First != 23 || f.Even != 30 || !f.Balanced {
		t.Errorf("needed %d, even %d, balanced %v; want 23, 30, true", f.First, f.Even, f.Balanced)
	}
	if f := planOf(25, triangles(1)).Forecast()[0]; f.Balanced || f.Even != 30 {
		t.Errorf("25 seats: balanced %v, even %d", f.Balanced, f.Even)
	}
	if f := planOf(30, triangles(1)).Forecast()[0]; f.Even != 30 {
		t.Errorf("30 seats do and balance, and even is %d", f.Even)
	}
	// In twos, by people: 12 seats have power 0.746, 18 have 0.894.
	if f := planOf(12, triangles(2)).Forecast()[0]; f.Even != 18 {
		t.Errorf("12 seats of two sets: even %d, want 18", f.Even)
	}
	for _, seats := range []int{2, 24, 77, 129} {
		f := planOf(seats, triangles(1)).Forecast()[0]
		found := false
		for i, pt := range f.Curve {
			if i > 0 && f.Curve[i-1].N >= pt.N {
				t.Errorf("%d seats: the curve goes back at %d", seats, pt.N)
			}
			found = found || pt.N == seats && pt.Power == f.Power
		}
		if !found {
			t.Errorf("%d seats: the planned number is not on the curve", seats)
		}
	}
}

func TestForecastWarns(t *testing.T) {
	at := func(seats int, change func(*TestPlan)) string {
		test := triangles(1)
		change(&test)
		return strings.Join(planOf(seats, test).Forecast()[0].Warnings, " ")
	}
	same := func(*TestPlan) {}
	if got := at(30, same); got != "" {
		t.Errorf("30 seats have power 0.90 of the wanted 0.80, and the warning is %q", got)
	}
	for _, c := range []struct {
		name string
		got  string
		want []string
	}{
		{"six seats", at(6, func(t *TestPlan) { t.Pd = 0.3 }), []string{"6 answers fall short", "14 would find", "30 %", "you want 80", "almost nothing"}},
		{"24 seats", at(24, same), []string{"24 answers fall a little short", "79 would find", "30 answers would do"}},
		{"18 seats", at(18, same), []string{"18 answers fall short", "74 would find", "30 answers would do"}},
		{"two seats", at(2, same), []string{"No result of 2 answers can be significant", "α 0.05"}},
		{"three seats at 0.001", at(3, func(t *TestPlan) { t.Alpha = 0.001 }), []string{"No result of 3 answers"}},
	} {
		for _, w := range c.want {
			if !strings.Contains(c.got, w) {
				t.Errorf("%s: the warning %q does not say %q", c.name, c.got, w)
			}
		}
	}
	if got := at(24, same); strings.Contains(got, "almost nothing") {
		t.Errorf("24 seats: %q", got)
	}
}

// 15 triangles at pd 0.5 have power 0.797 by R 4.2.2 as above. A warning that
// 80 panels would find it where 80 are wanted warns of nothing.
func TestForecastWarningDoesNotContradictItself(t *testing.T) {
	test := triangles(1)
	test.Pd = 0.5
	f := planOf(15, test).Forecast()[0]
	if !near(f.Power, 0.7969611, 1e-6) {
		t.Fatalf("power %v", f.Power)
	}
	if strings.Contains(strings.Join(f.Warnings, " "), "80 would find") {
		t.Errorf("warning: %q", f.Warnings)
	}
}

func TestForecastOfPlansWithFaults(t *testing.T) {
	for name, spoil := range map[string]func(*Plan){
		"method":         func(p *Plan) { p.Tests[0].Method = "guess" },
		"no seats":       func(p *Plan) { p.Seats = 0 },
		"no sets":        func(p *Plan) { p.Tests[0].Sets = 0 },
		"many seats":     func(p *Plan) { p.Seats = math.MaxInt },
		"both below":     func(p *Plan) { p.Seats, p.Tests[0].Sets = -3, -2 },
		"α not a number": func(p *Plan) { p.Tests[0].Alpha = math.NaN() },
		"pd 2":           func(p *Plan) { p.Tests[0].Pd = 2 },
		"power 1":        func(p *Plan) { p.Tests[0].Power = 1 },
	} {
		p := planOf(24, triangles(1))
		spoil(&p)
		if f := p.Forecast(); len(f) != 0 {
			t.Errorf("%s: forecast of %d answers", name, f[0].N)
		}
	}
	p := planOf(24, TestPlan{}, pairOn("body"))
	if f := p.Forecast(); len(f) != 1 || f[0].Number != 2 {
		t.Errorf("the second test alone is sound, and the forecasts are %+v", f)
	}
}

// Recomputed by hand from the plan: 24 seats of a triangle and a pair are 120
// cups; a lot fills half of them where orders balance.
func TestSupplies(t *testing.T) {
	s := usual().Supplies()
	if s.Cups != 120 || s.CupsPerSeat != 5 || s.Spare != 12 {
		t.Errorf("%d cups, %d a seat, %d spare", s.Cups, s.CupsPerSeat, s.Spare)
	}
	// 72 cups of 30 g and a tenth more are 2376 g to drink; 60 g of coffee on a
	// litre of water leave 880 g of it, so 2700 g of water and 162 g of coffee.
	if !near(s.CoffeeEachG, 162, 1e-9) || !near(s.WaterEachG, 2700, 1e-9) {
		t.Errorf("coffee %v g, water %v g", s.CoffeeEachG, s.WaterEachG)
	}
	// 150 g to drink are brewed from 60/880 × 150 = 10.227 g of coffee: at 12.5 mg
	// in a gram 127.8 mg, at 26 mg 265.9.
	if s.DrinkPerSeat != 150 || s.CaffeineMg != 128 || s.RobustaMg != 266 {
		t.Errorf("drink %v g, caffeine %v mg, robusta %v mg", s.DrinkPerSeat, s.CaffeineMg, s.RobustaMg)
	}
}

// What is brewed of each lot is enough for every layout, all replacements that
// are counted as spare included.
func TestSuppliesSufficeForEveryLayout(t *testing.T) {
	for _, seats := range []int{2, 3, 5, 6, 7, 11, 24, 25} {
		p := planOf(seats, triangles(2), pairOn("body"))
		s := p.Supplies()
		brewed := s.WaterEachG - 2*s.CoffeeEachG // the grounds keep the rest
		if s.Spare < 3 {
			t.Errorf("%d seats: %d spare cups are no tray", seats, s.Spare)
		}
		for n := range uint64(200) {
			cups := map[rune]int{}
			for _, sets := range Draw(p, seedOf(n)).Seats {
				for _, set := range sets {
					for _, product := range set.Order {
						cups[product]++
					}
				}
			}
			for product, c := range cups {
				if need := float64(c+s.Spare) * p.Serving.FillG; need > brewed {
					t.Fatalf("%d seats: product %c needs %v g, brewed are %v g", seats, product, need, brewed)
				}
			}
		}
	}
}

// The caffeine of a taster's cups, worked by hand: 1.25 % of 8.25 g of roasted
// coffee are 103 mg (Österreichisches Lebensmittelbuch, B 12, 1.2.1, for the share;
// 8.25 g on 150 ml for the dose). What can be drunk of 150 g of water, when the
// grounds keep twice their mass, is 133.5 g.
func TestCaffeineGoesWithDoseAndVolume(t *testing.T) {
	for _, x := range []struct{ fill, dose, mg, robusta float64 }{
		{133.5 / 3, 55, 104, 215},  // 103.125 and 214.5, rounded up
		{133.5 / 6, 55, 52, 108},   // half of it swallowed: 51.56 and 107.25
		{133.5 / 3, 27.5, 49, 102}, // half the dose on the same water: 133.5 × 27.5/945 = 3.885 g
	} {
		p := planOf(6, triangles(1))
		p.Serving.FillG, p.Serving.DoseGPerL = x.fill, x.dose
		if s := p.Supplies(); s.CaffeineMg != x.mg || s.RobustaMg != x.robusta {
			t.Errorf("%v g a cup at %v g a litre: %v mg, robusta %v; want %v and %v", x.fill, x.dose, s.CaffeineMg, s.RobustaMg, x.mg, x.robusta)
		}
	}
	blank := triangles(1)
	blank.Blank = BlankProcessed
	if a, b := planOf(6, blank).Supplies().CaffeineMg, planOf(6, triangles(1)).Supplies().CaffeineMg; a != b {
		t.Errorf("two processed brews are counted as %v mg, untreated ones as %v", a, b)
	}
}

// Lots that differ a little pass less often than identical ones. By R 4.2.2, at
// half the limit: pbinom(28, 66, 1/3 + 2/3*.15) and sum(dbinom(63:87, 150, .575)).
func TestPassHalf(t *testing.T) {
	one := testOf(Triangle, GoalSimilarity, 1)
	one.PdLimit = 0.3
	two := testOf(PairedComparison, GoalSimilarity, 1)
	two.TwoSided, two.PdLimit = true, 0.3
	for _, x := range []struct {
		seats int
		test  TestPlan
		want  float64
	}{{66, one, 0.4923198}, {150, two, 0.580141}} {
		f := planOf(x.seats, x.test).Forecast()[0]
		if got, ok := f.PassHalf(); !ok || !near(got, x.want, 1e-6) {
			t.Errorf("%d seats: %v, %v, want %v", x.seats, got, ok, x.want)
		}
	}
	one.Sets = 2
	if _, ok := planOf(66, one).Forecast()[0].PassHalf(); ok {
		t.Error("several sets a seat have no exact one")
	}
}

// A test that may stop early calls lots similar at its own line only. Values by R
// 4.2.2, exact enumeration of Wald's lines (triangle, α and β 0.05, pd the limit):
// how often identical lots, and lots at half the limit, end as similar.
func TestSequentialPassesAtItsLine(t *testing.T) {
	for _, x := range []struct {
		pd         float64
		flights    []int
		want, half float64
	}{
		{0.3, []int{24, 24}, 0.69, 0.18},
		{0.4, []int{15, 15}, 0.75, 0.21},
		{0.3, []int{12, 12, 12, 12, 12}, 0.795, 0.24},
		{0.4, []int{6, 6, 6, 6, 6, 6}, 0.84, 0.28},
		{0.4, []int{6, 6, 6, 6, 6, 6, 6, 6}, 0.90, 0.32},
	} {
		test := testOf(Triangle, GoalBoth, 1)
		test.Sequential, test.Pd, test.PdLimit, test.Alpha, test.Beta, test.Power = true, x.pd, x.pd, 0.05, 0.05, 0.8
		seats := 0
		for _, n := range x.flights {
			seats += n
		}
		p := planOf(seats, test)
		p.Flights = x.flights
		f := p.Forecast()[0]
		half, ok := f.PassHalf()
		if f.Risks == nil || !near(f.Passes(), x.want, 0.006) || !ok || !near(half, x.half, 0.006) || f.PassAlike < f.Passes()+0.05 {
			t.Errorf("%v: %.4f pass, at half the limit %.4f; want %v and %v", x.flights, f.Passes(), half, x.want, x.half)
		}
		if short := x.want < 0.8; short != strings.Contains(strings.Join(f.Warnings, " "), "would end as similar") {
			t.Errorf("%v: %q", x.flights, f.Warnings)
		}
	}
}
