package session

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

func usual() Plan {
	p := UsualPlan()
	p.Title, p.Untreated, p.Processed = "Wednesday table", lotGreen, lotWater
	return p
}

func TestUsualPlanPasses(t *testing.T) {
	if f := usual().Check(); f != nil {
		t.Errorf("with title and lots: %v", f)
	}
	var fields []string
	for _, f := range UsualPlan().Check() {
		fields = append(fields, f.Field)
	}
	if strings.Join(fields, " ") != "title untreated processed" {
		t.Errorf("without title and lots the faults are in %v", fields)
	}
}

// planFault is the usual plan with one thing changed, and what Check says of it.
type planFault struct {
	name  string
	spoil func(*Plan)
	field string // of the one fault; "" for none
	say   string // part of it
}

func first(change func(*TestPlan)) func(*Plan) { return func(p *Plan) { change(&p.Tests[0]) } }

func second(change func(*TestPlan)) func(*Plan) { return func(p *Plan) { change(&p.Tests[1]) } }

func planFaults() []planFault {
	nan, inf := math.NaN(), math.Inf(1)
	return []planFault{
		{"untouched", func(*Plan) {}, "", ""},
		{"no title", func(p *Plan) { p.Title = "" }, "title", "title"},
		{"blank title", func(p *Plan) { p.Title = " \t\n" }, "title", "title"},
		{"60 letters", func(p *Plan) { p.Title = strings.Repeat("ä", 60) }, "", ""},
		{"61 letters", func(p *Plan) { p.Title = strings.Repeat("ä", 61) }, "title", "61"},
		{"title names the untreated lot", func(p *Plan) { p.Title = "On qx-301 today" }, "title", "QX-301"},
		{"title names the processed lot", func(p *Plan) { p.Title = "QX-302" }, "title", "QX-302"},
		{"title names a lot without its dash", func(p *Plan) { p.Title = "Table for qx301" }, "title", "names lot QX-301"},
		{"title names a lot by its digits and more", func(p *Plan) { p.Untreated.Number, p.Title = "101", "g101" }, "title", "names lot 101"},
		{"a title that only spells a short number", func(p *Plan) { p.Untreated.Number, p.Title = "N-1", "Session 1" }, "", ""},
		{"title gives a lot's note", func(p *Plan) { p.Processed.Note, p.Title = "Sunny Ridge", "The sunny-ridge table" }, "title", "by its note, “Sunny Ridge”"},
		{"title tells what was done", func(p *Plan) { p.Title = "Decaf again" }, "title", "“decaf”"},
		{"title tells the kind", func(p *Plan) { p.Title = "Against the Untreated" }, "title", "“untreated”"},
		{"title tells the process", func(p *Plan) { p.Processed.Treatment, p.Title = "ethyl acetate", "EA on Friday" }, "title", "“ea”"},
		{"title names the plan's process", func(p *Plan) { p.Title = "Water, Friday" }, "title", "“water”"},
		{"title names another process", func(p *Plan) { p.Processed.Treatment, p.Title = "ethyl acetate", "Water, Friday" }, "title", "“water”"},
		{"title names a process by its formula", func(p *Plan) { p.Title = "CO2 lot" }, "title", "“co2”"},
		{"title names a process by its formula, set low", func(p *Plan) { p.Title = "CO₂ lot" }, "title", "“co2”"},
		{"title names a solvent", func(p *Plan) { p.Title = "Regular vs DCM" }, "title", "“dcm”"},
		{"title names a solvent by its letters", func(p *Plan) { p.Title = "The D.C.M. table" }, "title", "“dcm”"},
		{"title names a solvent in two words", func(p *Plan) { p.Title = "Methylene chloride" }, "title", "“methylene”"},
		{"title tells what was done, with a hyphen", func(p *Plan) { p.Title = "de-caf trial" }, "title", "“decaf”"},
		{"title tells what was done, with a space", func(p *Plan) { p.Title = "The de caf" }, "title", "“decaf”"},
		{"title tells a half", func(p *Plan) { p.Title = "half caf" }, "title", "“caf”"},
		{"title tells it in German", func(p *Plan) { p.Title = "Koffeinfrei gegen normal" }, "title", "“koffeinfrei”"},
		{"title tells it in German, otherwise", func(p *Plan) { p.Title = "Entkoffeiniert" }, "title", "“entkoffeiniert”"},
		{"title tells it in Spanish", func(p *Plan) { p.Title = "Descafeinado, mesa 2" }, "title", "“descafeinado”"},
		{"title tells it in French", func(p *Plan) { p.Title = "Le Décaféiné" }, "title", "“décaféiné”"},
		{"title tells it in Italian", func(p *Plan) { p.Title = "Decaffeinato" }, "title", "“decaffeinato”"},
		{"title tells an order of treatment", func(p *Plan) { p.Title = "Before and after" }, "title", "“before and after”"},
		{"title tells an order of treatment, with a stroke", func(p *Plan) { p.Title = "Before/after" }, "title", "“beforeafter”"},
		{"title tells it shortened", func(p *Plan) { p.Title = "Deca panel" }, "title", "“deca”"},
		{"title names a process by its letters", func(p *Plan) { p.Title = "SWP, table 2" }, "title", "“swp”"},
		{"title names a process by its formula, and how", func(p *Plan) { p.Title = "scCO2 run" }, "title", "“scco2”"},
		{"title tells it in Polish", func(p *Plan) { p.Title = "Bezkofeinowa" }, "title", "“bezkofeinowa”"},
		{"title tells it in Dutch", func(p *Plan) { p.Title = "Kofeïnevrij" }, "title", "“kofeïnevrij”"},
		{"title tells it in Italian, otherwise", func(p *Plan) { p.Title = "Lotto trattato" }, "title", "“trattato”"},
		{"title tells it in Russian", func(p *Plan) { p.Title = "Декаф" }, "title", "“декаф”"},
		{"title tells it in Chinese", func(p *Plan) { p.Title = "无咖啡因" }, "title", "“无咖啡因”"},
		{"title tells it in letters that look so", func(p *Plan) { p.Title = "d\u0435caf" }, "title", "“d\u0435caf”"},
		{"title tells it letter by letter", func(p *Plan) { p.Title = "d e c a f" }, "title", "“decaf”"},
		{"a title with a lot's short number in a date", func(p *Plan) { p.Untreated.Number, p.Title = "7", "Session 7, 7 May 2026" }, "", ""},
		{"title names a lot of short number", func(p *Plan) { p.Untreated.Number, p.Title = "7", "Lot 7 again" }, "title", "names lot 7"},
		{"a title with letters of their own", func(p *Plan) { p.Title = "Q & A, plan B, decade" }, "", ""},
		{"a title with coffee in it", func(p *Plan) { p.Title = "Cata de café, the Trade Cafe" }, "", ""},
		{"a title with letters of a process", func(p *Plan) { p.Title = "Sea view, co-op 2" }, "", ""},
		{"title names the attribute", func(p *Plan) { p.Title = "All about BODY" }, "title", "body"},
		{"no untreated lot", func(p *Plan) { p.Untreated = Lot{} }, "untreated", "choose"},
		{"no processed lot", func(p *Plan) { p.Processed = Lot{} }, "processed", "choose"},
		{"one lot twice", func(p *Plan) { p.Processed = p.Untreated }, "processed", "two lots"},
		{"lots the wrong way round", func(p *Plan) { p.Untreated, p.Processed = p.Processed, p.Untreated }, "untreated", "lot QX-302, chosen as untreated, is by the register processed with water, and lot QX-301, chosen as processed, is untreated. Change them over"},
		{"two processed lots", func(p *Plan) { p.Untreated = Lot{ID: "lot-3", Number: "QX-303", Treatment: "ethyl acetate"} }, "untreated", "lot QX-303 is processed with ethyl acetate"},
		{"two untreated lots", func(p *Plan) { p.Processed = Lot{ID: "lot-3", Number: "QX-303", Treatment: "untreated"} }, "processed", "lot QX-303 is untreated"},
		{"lots of which nobody knows", func(p *Plan) { p.Untreated.Treatment, p.Processed.Treatment = "", "" }, "", ""},
		{"one seat", func(p *Plan) { p.Seats = 1 }, "seats", "2 to 500"},
		{"501 seats", func(p *Plan) { p.Seats = 501 }, "seats", "2 to 500"},
		{"negative seats", func(p *Plan) { p.Seats = math.MinInt }, "seats", "2 to 500"},
		{"no test", func(p *Plan) { p.Tests = nil }, "tests", "no test"},
		{"unknown method", first(func(t *TestPlan) { t.Method = "guess" }), "tests.0.method", "guess"},
		{"unknown goal", first(func(t *TestPlan) { t.Goal = "sameness" }), "tests.0.goal", "sameness"},
		{"no set", first(func(t *TestPlan) { t.Sets = 0 }), "tests.0.sets", "1 to 6"},
		{"seven sets", first(func(t *TestPlan) { t.Sets = 7 }), "tests.0.sets", "1 to 6"},
		{"α 0", first(func(t *TestPlan) { t.Alpha = 0 }), "tests.0.alpha", "α"},
		{"α 0.41", first(func(t *TestPlan) { t.Alpha = 0.41 }), "tests.0.alpha", "0.41"},
		{"α not a number", first(func(t *TestPlan) { t.Alpha = nan }), "tests.0.alpha", "NaN"},
		{"pd 0", first(func(t *TestPlan) { t.Pd = 0 }), "tests.0.pd", "pd"},
		{"pd 1", first(func(t *TestPlan) { t.Pd = 1 }), "tests.0.pd", "pd"},
		{"pd not a number", first(func(t *TestPlan) { t.Pd = nan }), "tests.0.pd", "NaN"},
		{"power 0.4", first(func(t *TestPlan) { t.Power = 0.4 }), "tests.0.power", "power"},
		{"power 1", first(func(t *TestPlan) { t.Power = 1 }), "tests.0.power", "power"},
		{"power not a number", second(func(t *TestPlan) { t.Power = nan }), "tests.1.power", "NaN"},
		{"power without end", second(func(t *TestPlan) { t.Power = inf }), "tests.1.power", "Inf"},
		{"attribute first", func(p *Plan) { p.Tests[0], p.Tests[1] = p.Tests[1], p.Tests[0] }, "tests.1.method", "before"},
		{"seven pairs a seat", second(func(t *TestPlan) { t.Sets = 7 }), "tests.1.sets", "1 to 6"},
		{"no attribute", second(func(t *TestPlan) { t.Attribute = "" }), "tests.1.attribute", "name"},
		{"no definition", second(func(t *TestPlan) { t.Definition = "\n" }), "tests.1.definition", "define"},
		{"empty cups", func(p *Plan) { p.Serving.FillG = 4 }, "serving.fillG", "4"},
		{"mugs", func(p *Plan) { p.Serving.FillG = 301 }, "serving.fillG", "301"},
		{"fill not a number", func(p *Plan) { p.Serving.FillG = nan }, "serving.fillG", "NaN"},
		{"scalding", func(p *Plan) { p.Serving.HighC = 76 }, "serving.lowC", "scald"},
		{"frozen", func(p *Plan) { p.Serving.LowC = 4 }, "serving.lowC", "4"},
		{"no range", func(p *Plan) { p.Serving.LowC = p.Serving.HighC }, "serving.highC", "range"},
		{"temperature not a number", func(p *Plan) { p.Serving.HighC = nan }, "serving.lowC", "NaN"},
		{"thin", func(p *Plan) { p.Serving.DoseGPerL = 9 }, "serving.doseGPerL", "9"},
		{"dose without end", func(p *Plan) { p.Serving.DoseGPerL = inf }, "serving.doseGPerL", "Inf"},
		{"rinse backwards", func(p *Plan) { p.Serving.RinseS = -1 }, "serving.rinseS", "-1"},
		{"rinse too long", func(p *Plan) { p.Serving.RinseS = 901 }, "serving.rinseS", "901"},
		{"long advice", func(p *Plan) { p.Serving.Swallow = strings.Repeat("é", 201) }, "serving.swallow", "201"},
		{"long allergens", func(p *Plan) { p.Serving.Allergens = strings.Repeat("é", 201) }, "serving.allergens", "201"},
		{"77 seats of five cups need 770 codes", func(p *Plan) { p.Seats = 77 }, "", ""},
		{"78 seats of five cups need 780 codes", func(p *Plan) { p.Seats = 78 }, "seats", "780 codes with their replacements, and there are 775"},
	}
}

func TestPlanFaults(t *testing.T) {
	for _, c := range append(planFaults(), testFaults()...) {
		p := usual()
		c.spoil(&p)
		f := p.Check()
		switch {
		case c.field == "" && f != nil:
			t.Errorf("%s: %v", c.name, f)
		case c.field == "":
		case len(f) != 1 || f[0].Field != c.field || !strings.Contains(f[0].Say, c.say):
			t.Errorf("%s: faults %+v, want one in %s that says %q", c.name, f, c.field, c.say)
		case !errors.Is(f, ErrPlan):
			t.Errorf("%s: is no ErrPlan", c.name)
		}
	}
}

func TestPlanTellsAllFaultsAtOnce(t *testing.T) {
	p := usual()
	p.Title, p.Seats, p.Tests[1].Alpha = "", 0, 2
	f := p.Check()
	if len(f) != 3 {
		t.Errorf("faults: %v", f)
	}
	for _, x := range f {
		if !strings.Contains(f.Error(), x.Say) {
			t.Errorf("the error does not say %q", x.Say)
		}
	}
}

// A person types these with a space behind; the title names them all the same.
func TestTitleNamesTheAttributeDespiteBlanks(t *testing.T) {
	p := usual()
	p.Title, p.Tests[1].Attribute = "About body", "body "
	if p.Check() == nil {
		t.Error("a title with the attribute passes where the attribute ends in a blank")
	}
	p.Title, p.Tests[1].Attribute = "Wednesday table", " "
	if f := p.Check(); len(f) != 1 || f[0].Field != "tests.1.attribute" {
		t.Errorf("a blank attribute: %v", f)
	}
}

// The two-sided p-value is that of a fair coin: it has no meaning in a triangle,
// where a panel with no answer right would come out as "different".
func TestTwoSidedTriangleIsRefused(t *testing.T) {
	p := usual()
	p.Tests[0].TwoSided = true
	if p.Check() == nil {
		t.Error("a two-sided triangle passes")
	}
	if p.Tests[0].TwoSided, p.Tests[1].TwoSided = false, true; p.Check() != nil {
		t.Errorf("a two-sided paired comparison: %v", p.Check())
	}
}

// What people type has an end: the words stand on every ballot.
func TestPlanWordsHaveAnEnd(t *testing.T) {
	for name, spoil := range map[string]func(*Plan){
		"title, all blanks but one": func(p *Plan) { p.Title = strings.Repeat(" ", 100_000) + "x" },
		"attribute":                 func(p *Plan) { p.Tests[1].Attribute = strings.Repeat("x", 100_000) },
		"definition":                func(p *Plan) { p.Tests[1].Definition = strings.Repeat("x", 100_000) },
	} {
		p := usual()
		spoil(&p)
		if p.Check() == nil {
			t.Errorf("%s: 100000 characters pass", name)
		}
	}
}

func TestSetsAndCups(t *testing.T) {
	p := planOf(4, triangles(2), triangles(1), pairOn("body"))
	if p.SetsPerSeat() != 4 || p.CupsPerSeat() != 11 || p.codesNeeded() != 88 {
		t.Errorf("%d sets, %d cups, %d codes", p.SetsPerSeat(), p.CupsPerSeat(), p.codesNeeded())
	}
	for set, want := range map[int]int{1: 0, 2: 0, 3: 1, 4: 2, 5: -1} {
		if got := p.TestOfSet(set); got != want {
			t.Errorf("set %d is of test %d, want %d", set, got, want)
		}
	}
}

func TestMethodsCount(t *testing.T) {
	for _, c := range []struct {
		method Method
		order  string
		at     []int
	}{
		{Triangle, "ABB", []int{0}}, {Triangle, "BAB", []int{1}}, {Triangle, "BBA", []int{2}},
		{Triangle, "BAA", []int{0}}, {Triangle, "ABA", []int{1}}, {Triangle, "AAB", []int{2}},
		{DuoTrio, "AAB", []int{1}}, {DuoTrio, "ABA", []int{2}}, {DuoTrio, "BAB", []int{2}}, {DuoTrio, "BBA", []int{1}},
		{PairedComparison, "AB", []int{1}}, {PairedComparison, "BA", []int{0}},
		{ThreeAFC, "AAB", []int{2}}, {ThreeAFC, "ABA", []int{1}}, {ThreeAFC, "BAA", []int{0}},
		{Tetrad, "AABB", []int{0, 1}}, {Tetrad, "ABAB", []int{0, 2}}, {Tetrad, "ABBA", []int{0, 3}},
		{Tetrad, "BBAA", []int{0, 1}}, {Tetrad, "BABA", []int{0, 2}}, {Tetrad, "BAAB", []int{0, 3}},
	} {
		if !slices.Contains(c.method.Orders, c.order) {
			t.Errorf("%s has no order %s", c.method.Name, c.order)
		}
		if got := c.method.Counted(c.order); !slices.Equal(got, c.at) {
			t.Errorf("%s, %s: cups %v are counted, want %v", c.method.Name, c.order, got, c.at)
		}
	}
	orders := map[string]int{"triangle": 6, "duo-trio": 4, "tetrad": 6, "paired-comparison": 2, "3-afc": 3}
	if len(Methods) != len(orders) {
		t.Fatalf("%d methods", len(Methods))
	}
	for _, m := range Methods {
		if got, ok := MethodByKey(m.Key); !ok || got.Name != m.Name {
			t.Errorf("%s is not found", m.Key)
		}
		if len(m.Orders) != orders[m.Key] {
			t.Errorf("%s has %d orders, want %d", m.Name, len(m.Orders), orders[m.Key])
		}
		counts, answers := map[string]int{}, 0
		for _, o := range m.Orders {
			counts[fmt.Sprint(m.Counted(o))]++
			if len(o) != m.Cups {
				t.Errorf("%s: order %s has not %d cups", m.Name, o, m.Cups)
			}
		}
		// Every answer is the right one equally often, and chance is one in so many.
		answers = len(counts)
		if math.Abs(m.Chance()*float64(answers)-1) > 1e-15 {
			t.Errorf("%s: %d different answers, chance %v", m.Name, answers, m.Chance())
		}
		for at, n := range counts {
			if n*answers != len(m.Orders) {
				t.Errorf("%s: answer %s is right %d times of %d", m.Name, at, n, len(m.Orders))
			}
		}
	}
	if _, ok := MethodByKey(""); ok {
		t.Error("a method has no key")
	}
}
