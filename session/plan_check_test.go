package session

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// testFaults are the faults of goals, methods, blank and sequential tests and
// flights.
func testFaults() []planFault {
	nan := math.NaN()
	only := func(t TestPlan) func(*Plan) { return func(p *Plan) { p.Tests = []TestPlan{t} } }
	with := func(t TestPlan, change func(*TestPlan)) func(*Plan) { change(&t); return only(t) }
	tests := func(all ...TestPlan) func(*Plan) { return func(p *Plan) { p.Tests = all } }
	flights := func(seats int, sizes ...int) func(*Plan) {
		return func(p *Plan) { p.Seats, p.Flights = seats, sizes }
	}
	both := func(then ...func(*Plan)) func(*Plan) {
		return func(p *Plan) {
			for _, f := range then {
				f(p)
			}
		}
	}
	similar, either := testOf(Triangle, GoalSimilarity, 1), testOf(Triangle, GoalBoth, 1)
	pairs, afc := testOf(PairedComparison, GoalDifference, 1), testOf(ThreeAFC, GoalDifference, 1)
	none := func(*TestPlan) {}
	stop := sequential(2)
	return []planFault{
		{"no goal", first(func(t *TestPlan) { t.Goal = "" }), "tests.0.goal", `goal "" is not known; use "difference", "similarity" or "both"`},
		{"similarity", only(similar), "", ""},
		{"similarity with an α that it does not have", with(similar, func(t *TestPlan) { t.Alpha, t.Pd = 7, nan }), "", ""},
		{"similarity without β", with(similar, func(t *TestPlan) { t.Beta = 0 }), "tests.0.beta", "β is 0"},
		{"β 0.41", with(similar, func(t *TestPlan) { t.Beta = 0.41 }), "tests.0.beta", "0.41"},
		{"β not a number", with(similar, func(t *TestPlan) { t.Beta = nan }), "tests.0.beta", "NaN"},
		{"similarity without a limit", with(similar, func(t *TestPlan) { t.PdLimit = 0 }), "tests.0.pdLimit", "limit is 0"},
		{"limit 1", with(similar, func(t *TestPlan) { t.PdLimit = 1 }), "tests.0.pdLimit", "limit is 1"},
		{"limit not a number", with(similar, func(t *TestPlan) { t.PdLimit = nan }), "tests.0.pdLimit", "NaN"},
		{"similarity at power 0.4", with(similar, func(t *TestPlan) { t.Power = 0.4 }), "tests.0.power", "0.4"},
		{"both", only(either), "", ""},
		{"both without α", with(either, func(t *TestPlan) { t.Alpha = 0 }), "tests.0.alpha", "α"},
		{"both without pd", with(either, func(t *TestPlan) { t.Pd = 0 }), "tests.0.pd", "pd"},
		{"both without β", with(either, func(t *TestPlan) { t.Beta = 0 }), "tests.0.beta", "β"},
		{"both without a limit", with(either, func(t *TestPlan) { t.PdLimit = 0 }), "tests.0.pdLimit", "limit"},
		{"difference with a β that it does not have", first(func(t *TestPlan) { t.Beta, t.PdLimit = 7, 7 }), "", ""},

		{"a constant reference", only(constantDuoTrio()), "", ""},
		{"an unknown reference", with(constantDuoTrio(), func(t *TestPlan) { t.Reference = "B" }), "tests.0.reference", `the reference "B" is not known`},
		{"a triangle with a reference", first(func(t *TestPlan) { t.Reference = ReferenceConstant }), "tests.0.reference", "a triangle has no reference"},
		{"a tetrad with a reference", with(blankTest(), func(t *TestPlan) { t.Blank, t.Reference = "", ReferenceConstant }), "tests.0.reference", "a tetrad has no reference"},
		{"a triangle with two sides", first(func(t *TestPlan) { t.TwoSided = true }), "tests.0.sided", "one side only"},
		{"a 3-AFC with two sides", with(afc, func(t *TestPlan) { t.TwoSided = true }), "tests.0.sided", "one side only"},
		{"a tetrad with two sides", with(testOf(Tetrad, GoalBoth, 1), func(t *TestPlan) { t.TwoSided = true }), "tests.0.sided", "one side only"},

		{"a blank test first", tests(blankTest(), triangles(1)), "", ""},
		{"a blank test after", tests(triangles(1), blankTest(), pairs), "", ""},
		{"a blank test of neither", tests(triangles(1), TestPlan{}), "tests.1.method", "no method is called"},
		{"a blank test of no lot", func(p *Plan) { b := blankTest(); b.Blank = "both"; p.Tests = []TestPlan{triangles(1), b} }, "tests.1.blank", `"untreated" or "processed"`},
		{"a blank pair", second(func(t *TestPlan) { t.Blank = BlankUntreated }), "tests.1.blank", "any difference"},
		{"two blank tests", tests(blankTest(), triangles(1), blankTest()), "tests.2.blank", "one blank test is enough"},
		{"a blank test alone", only(blankTest()), "tests", "alone compares a lot with itself"},
		{"a blank triangle with a 3-AFC of the lots", func(p *Plan) {
			b := triangles(1)
			b.Blank = BlankUntreated
			p.Tests = []TestPlan{b, afc}
		}, "tests.1.method", "in a session with a triangle"},

		{"a 3-AFC after a triangle", tests(triangles(1), afc), "tests.1.method", "and need not judge body"},
		{"a 3-AFC after a tetrad", tests(testOf(Tetrad, GoalDifference, 1), afc), "", ""},
		{"a 3-AFC after a triangle and a tetrad", tests(triangles(1), testOf(Tetrad, GoalDifference, 1), afc), "tests.2.method", "no 3-AFC"},
		{"a triangle after a 3-AFC", tests(afc, triangles(1)), "tests.1.method", "must not come before"},
		{"a duo-trio test after a pair", tests(pairs, testOf(DuoTrio, GoalDifference, 1)), "tests.1.method", "must not come before"},
		{"a blank test after a pair", tests(triangles(1), pairs, blankTest()), "tests.2.method", "must not come before"},
		{"two attributes", tests(triangles(1), pairs, pairOn("acidity")), "", ""},

		{"three pairs a seat", second(func(t *TestPlan) { t.Sets = 3 }), "", ""},
		{"two 3-AFC a seat", with(afc, func(t *TestPlan) { t.Sets = 2 }), "tests.0.sets", "one 3-AFC test set per seat"},
		{"three pairs a seat for similarity", with(testOf(PairedComparison, GoalSimilarity, 3), none), "tests.0.sets", "a majority has no pd"},
		{"three pairs a seat for both", with(testOf(PairedComparison, GoalBoth, 3), none), "tests.0.sets", "a majority has no pd"},
		{"three tetrads a seat for similarity", with(testOf(Tetrad, GoalSimilarity, 3), none), "", ""},
		{"30 letters of attribute", second(func(t *TestPlan) { t.Attribute = strings.Repeat("ä", 30) }), "", ""},
		{"31 letters of attribute", second(func(t *TestPlan) { t.Attribute = strings.Repeat("ä", 31) }), "tests.1.attribute", "31 characters; 30 fit"},
		{"300 letters of definition", second(func(t *TestPlan) { t.Definition = strings.Repeat("ä", 300) }), "", ""},
		{"301 letters of definition", second(func(t *TestPlan) { t.Definition = strings.Repeat("ä", 301) }), "tests.1.definition", "301 characters; 300 fit"},

		{"a sequential test", only(stop), "", ""},
		{"a sequential test of both goals, two sets a seat", with(stop, func(t *TestPlan) { t.Goal, t.PdLimit = GoalBoth, t.Pd }), "tests.0.sequential", "own share"},
		{"a sequential test of both goals in flights", both(with(stop, func(t *TestPlan) { t.Goal, t.PdLimit, t.Sets = GoalBoth, t.Pd, 1 }), flights(24, 12, 12)), "", ""},
		{"similarity by a one-sided pair", second(func(t *TestPlan) { t.Goal, t.Beta, t.PdLimit = GoalBoth, 0.05, 0.3 }), "tests.1.sided", "two-sided"},
		{"similarity by a two-sided pair", second(func(t *TestPlan) { t.Goal, t.Beta, t.PdLimit, t.TwoSided = GoalBoth, 0.05, 0.3, true }), "", ""},
		{"similarity by 3-AFC", func(p *Plan) {
			p.Tests = []TestPlan{testOf(ThreeAFC, GoalSimilarity, 1)}
		}, "tests.0.goal", "one way only"},
		{"a sequential test last", tests(testOf(Tetrad, GoalDifference, 1), stop), "", ""},
		{"a sequential test first", tests(stop, pairs), "tests.0.sequential", "only the last test"},
		{"a sequential test for similarity alone", with(stop, func(t *TestPlan) { t.Goal, t.PdLimit = GoalSimilarity, 0.3 }), "tests.0.sequential", "needs an α"},
		{"a two-sided sequential test", both(with(pairs, func(t *TestPlan) { t.Sequential, t.Beta, t.TwoSided = true, 0.1, true }), flights(24, 12, 12)), "tests.0.sequential", "two-sided"},
		{"sequential pairs in flights", both(with(pairs, func(t *TestPlan) { t.Sequential, t.Beta = true, 0.1 }), flights(24, 12, 12)), "", ""},
		{"sequential majorities", with(testOf(PairedComparison, GoalDifference, 3), func(t *TestPlan) { t.Sequential, t.Beta = true, 0.1 }), "tests.0.sequential", "assessors are counted. Plan several flights"},
		{"a sequential test beside another in flights", both(tests(testOf(Tetrad, GoalDifference, 1), stop), flights(24, 12, 12)), "tests.1.sequential", "stands alone"},
		{"a sequential test in uneven flights", both(only(stop), flights(24, 14, 10)), "tests.0.sequential", "make the flights equal"},
		{"a sequential test of one round", only(sequential(1)), "tests.0.sequential", "two sets per seat or more, or several flights"},
		{"a sequential test of one round in one flight of all", both(only(sequential(1)), flights(24, 24)), "tests.0.sequential", "several flights"},
		{"a sequential test of one round in two flights", both(only(sequential(1)), flights(24, 12, 12)), "", ""},
		{"a sequential test of two pd", both(with(stop, func(t *TestPlan) { t.Goal, t.PdLimit, t.Sets = GoalBoth, 0.3, 1 }), flights(24, 12, 12)), "tests.0.pdLimit", "make the limit the pd worth finding, 0.4"},
		{"a sequential test without β", with(stop, func(t *TestPlan) { t.Beta = 0 }), "tests.0.beta", "β is 0"},

		{"two flights", flights(24, 12, 12), "", ""},
		{"one flight of all", flights(24, 24), "", ""},
		{"uneven flights", flights(24, 22, 2), "", ""},
		{"a flight of one", flights(24, 23, 1), "flights", "flight 2 has 1 seat; a flight has 2 to 500"},
		{"a flight of nobody", flights(24, 0, 24), "flights", "flight 1 has 0 seats"},
		{"a flight below nothing", flights(24, 26, -2), "flights", "flight 2 has -2 seats"},
		{"a flight of 501", flights(24, 501), "flights", "flight 1 has 501 seats"},
		{"flights short of the seats", flights(24, 12, 10), "flights", "the flights have 22 seats together, the session has 24"},
		{"flights beyond the seats", flights(24, 12, 14), "flights", "26 seats together"},
		{"30 flights", both(only(triangles(1)), flights(60, repeat(2, 30)...)), "", ""},
		{"31 flights", both(only(triangles(1)), flights(62, repeat(2, 31)...)), "flights", "31 flights; at most 30"},
		{"practice", func(p *Plan) { p.Practice = true }, "", ""},

		{"control sets of two lots", control(func(*Plan) {}), "", ""},
		{"control sets of one lot", control(func(p *Plan) { p.Processed = p.Untreated }), "", ""},
		{"control sets of a processed lot", control(func(p *Plan) { p.Untreated = p.Processed }), "", ""},
		{"control sets of two untreated lots", control(func(p *Plan) { p.Processed = Lot{ID: "lot-3", Number: "QX-303", Treatment: "untreated"} }), "", ""},
		{"control sets the wrong way round", control(func(p *Plan) { p.Untreated, p.Processed = p.Processed, p.Untreated }), "untreated", "the wrong way round"},
		{"control sets without words", control(func(p *Plan) { p.Control.Words = " " }), "control.words", "what differs"},
		{"control sets in 81 letters", control(func(p *Plan) { p.Control.Words = strings.Repeat("ä", 81) }), "control.words", "1 to 80 characters"},
		{"control sets as a formula", control(func(p *Plan) { p.Control.Words = "=1" }), "control.words", "a letter or a digit"},
		{"control sets in the title", control(func(p *Plan) { p.Title = "Brew diluted to 90 %, again" }), "title", "tasters see the title"},
		{"a share below nothing", control(func(p *Plan) { p.Control.Percent = -1 }), "control.percent", "outside 0 to 1000"},
		{"a share of no number", control(func(p *Plan) { p.Control.Percent = nan }), "control.percent", "NaN"},
		{"a size below nothing", control(func(p *Plan) { p.Control.DPrime = -0.1 }), "control.dPrime", "outside 0 to 10"},
		{"a size beyond all", control(func(p *Plan) { p.Control.DPrime = math.Inf(1) }), "control.dPrime", "outside"},
		{"a rule for tasters", func(p *Plan) { p.Eligible = strings.Repeat("ä", 60) }, "", ""},
		{"a long rule for tasters", func(p *Plan) { p.Eligible = strings.Repeat("ä", 61) }, "eligible", "61 characters; 60 fit"},

		{"a gate", func(p *Plan) { p.Serving.Gate = true }, "", ""},
		{"all conditions", func(p *Plan) { p.Conditions = fullConditions() }, "", ""},
		{"200 letters of light", conditions(func(c *Conditions) { c.Light = strings.Repeat("ä", 200) }), "", ""},
		{"201 letters of light", conditions(func(c *Conditions) { c.Light = strings.Repeat("ä", 201) }), "conditions.light", "light: 201 characters; 200 fit"},
		{"201 letters of place", conditions(func(c *Conditions) { c.Place = strings.Repeat("ä", 201) }), "conditions.place", "201"},
		{"201 letters of storage", conditions(func(c *Conditions) { c.Storage = strings.Repeat("ä", 201) }), "conditions.storage", "201"},
		{"201 letters of partitions", conditions(func(c *Conditions) { c.Partitions = strings.Repeat("ä", 201) }), "conditions.partitions", "201"},
		{"201 letters of masking", conditions(func(c *Conditions) { c.Masking = strings.Repeat("ä", 201) }), "conditions.masking", "201"},
		{"201 letters of cups", conditions(func(c *Conditions) { c.Vessels = strings.Repeat("ä", 201) }), "conditions.vessels", "201"},
		{"201 letters of roast", conditions(func(c *Conditions) { c.Roast = strings.Repeat("ä", 201) }), "conditions.roast", "201"},
		{"201 letters of water", conditions(func(c *Conditions) { c.Water = strings.Repeat("ä", 201) }), "conditions.water", "201"},
		{"201 letters of warm-up", conditions(func(c *Conditions) { c.WarmUp = strings.Repeat("ä", 201) }), "conditions.warmUp", "201"},
		{"201 letters of cleanser", conditions(func(c *Conditions) { c.Cleanser = strings.Repeat("ä", 201) }), "conditions.cleanser", "201"},
		{"held 240 min", conditions(func(c *Conditions) { c.HoldMin = 240 }), "", ""},
		{"held 241 min", conditions(func(c *Conditions) { c.HoldMin = 241 }), "conditions.holdMin", "241 min is outside 1 to 240"},
		{"held below nothing", conditions(func(c *Conditions) { c.HoldMin = -1 }), "conditions.holdMin", "-1 min"},
		{"thrown away after 120 min", conditions(func(c *Conditions) { c.DiscardMin = 120 }), "", ""},
		{"thrown away after 121 min", conditions(func(c *Conditions) { c.DiscardMin = 121 }), "conditions.discardMin", "121 min is outside 1 to 120"},
		{"thrown away before it is poured", conditions(func(c *Conditions) { c.DiscardMin = math.MinInt }), "conditions.discardMin", "outside"},
		{"held at 5 to 95 °C", conditions(func(c *Conditions) { c.HoldLowC, c.HoldHighC = 5, 95 }), "", ""},
		{"held from 70 °C to nothing", conditions(func(c *Conditions) { c.HoldLowC = 70 }), "conditions.holdLowC", "70 to 0 °C; give both"},
		{"held from nothing to 80 °C", conditions(func(c *Conditions) { c.HoldHighC = 80 }), "conditions.holdLowC", "0 to 80 °C; give both"},
		{"held at the boil", conditions(func(c *Conditions) { c.HoldLowC, c.HoldHighC = 90, 96 }), "conditions.holdLowC", "between 5 and 95"},
		{"held at no number", conditions(func(c *Conditions) { c.HoldLowC, c.HoldHighC = nan, 80 }), "conditions.holdLowC", "NaN"},
		{"held in no range", conditions(func(c *Conditions) { c.HoldLowC, c.HoldHighC = 80, 80 }), "conditions.holdHighC", "up to 80 °C lies not above from 80 °C"},
		{"no tasting again", conditions(func(c *Conditions) { c.Retaste = RetasteNot }), "", ""},
		{"tasting again sometimes", conditions(func(c *Conditions) { c.Retaste = "maybe" }), "conditions.retaste", `"maybe" is not known; use "allowed", "not allowed"`},
	}
}

// Advice is given and nothing is refused.
func TestPlanAdvice(t *testing.T) {
	for _, c := range []struct {
		name        string
		change      func(*Plan)
		field, says string // "" for none
	}{
		{"nothing", func(*Plan) {}, "", ""},
		{"a word of the attribute", func(p *Plan) { p.Tests[1].Attribute, p.Title = "roasted aroma", "The aromatic table" }, "title", "“aromatic” tells them what to look for"},
		{"a short word of the attribute", func(p *Plan) { p.Tests[1].Attribute, p.Title = "sweetness of all", "Friends of Friday" }, "", ""},
		{"a control", func(p *Plan) { p.Title = "Control, Friday" }, "title", "“control” tells them what kind of sets"},
		{"a usual coffee", func(p *Plan) { p.Title = "Regular on Friday" }, "title", "“regular” lets them think of what was done"},
		{"after", func(p *Plan) { p.Title = "After lunch" }, "title", "“after” lets them think of what was done"},
		{"digits of a number", func(p *Plan) { p.Title = "Table 302" }, "title", "“302” stands in a lot’s number"},
		{"two digits of a number", func(p *Plan) { p.Processed.Number, p.Title = "QX-30", "Table 30" }, "", ""},
		{"red phones in ordinary light", func(p *Plan) { p.Serving.RedLight, p.Conditions.Light = true, "ordinary light" }, "serving.redLight", "planned as “ordinary light”"},
		{"ordinary phones in red light", func(p *Plan) { p.Conditions.Light = "Red lamps" }, "serving.redLight", "ordinary screens"},
		{"red phones in red light", func(p *Plan) { p.Serving.RedLight, p.Conditions.Light = true, "red lamps" }, "", ""},
		{"red phones, nothing said of the light", func(p *Plan) { p.Serving.RedLight = true }, "", ""},
		{"ordinary phones in coloured light", func(p *Plan) { p.Conditions.Light = "coloured" }, "", ""},
		{"an unknown lot", func(p *Plan) { p.Processed.Treatment = "" }, "processed", "Is it the processed lot?"},
	} {
		p := usual()
		c.change(&p)
		f := p.Advice()
		if c.field == "" && len(f) != 0 || c.field != "" && (len(f) != 1 || f[0].Field != c.field || !strings.Contains(f[0].Say, c.says)) {
			t.Errorf("%s: %+v, want one in %q that says %q", c.name, f, c.field, c.says)
		}
		if wrong := p.Check(); wrong != nil {
			t.Errorf("%s: refused: %v", c.name, wrong)
		}
	}
}

func control(change func(*Plan)) func(*Plan) {
	return func(p *Plan) {
		p.Control = &Control{Words: "brew diluted to 90 %", Percent: 90, DPrime: 1.2}
		change(p)
	}
}

func conditions(change func(*Conditions)) func(*Plan) {
	return func(p *Plan) { change(&p.Conditions) }
}

func fullConditions() Conditions {
	return Conditions{
		Place: "tasting room", Storage: "cool and dry",
		Light: "red lamps", Partitions: "booths", Masking: "dark cups", Vessels: "white bowls, 150 ml", Lids: true, DiscardMin: 15,
		Roast: "both to one ground colour", Water: "filtered, 90 mg/L", HoldMin: 40, HoldLowC: 70, HoldHighC: 80,
		WarmUp: "a third lot", Cleanser: "water and plain bread", Retaste: RetasteAllowed,
	}
}

// What is not named yet is called so.
func TestFaultOfA3AFCWithoutAttribute(t *testing.T) {
	p := usual()
	p.Tests[1].Method, p.Tests[1].Attribute = ThreeAFC.Key, " "
	if f := p.Check(); len(f) != 2 || f[0].Field != "tests.1.method" || !strings.Contains(f[0].Say, "need not judge the attribute") || f[1].Field != "tests.1.attribute" {
		t.Errorf("%+v", f)
	}
}

func repeat(n, times int) []int {
	all := make([]int, times)
	for i := range all {
		all[i] = n
	}
	return all
}

// TestEveryFaultHasARow holds the tables against the source: each sentence that
// Check can say is said by some row.
func TestEveryFaultHasARow(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "plan_check.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, c := range append(planFaults(), testFaults()...) {
		p := usual()
		c.spoil(&p)
		for _, f := range p.Check() {
			said = append(said, f.Say)
		}
	}
	sentences := 0
	ast.Inspect(file, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) < 2 {
			return true
		}
		if name, ok := call.Fun.(*ast.Ident); !ok || name.Name != "bad" {
			return true
		}
		format, ok := call.Args[1].(*ast.BasicLit)
		if !ok {
			return true // one that only passes on
		}
		sentences++
		words, err := strconv.Unquote(format.Value)
		if err != nil {
			t.Fatal(err)
		}
		like := regexp.MustCompile(regexp.MustCompile(`%[a-z]`).ReplaceAllString(regexp.QuoteMeta(words), ".*") + "$")
		for _, s := range said {
			if like.MatchString(s) {
				return true
			}
		}
		t.Errorf("no row makes Check say %q", words)
		return true
	})
	if sentences < 40 {
		t.Errorf("found %d sentences in the source", sentences)
	}
}
