package session

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"oddcup/stats"
)

// protocolOf is a method's name in the reference tables.
func protocolOf(m Method) string {
	return map[string]string{
		"triangle": "triangle", "duo-trio": "duotrio", "tetrad": "tetrad", "paired-comparison": "2afc", "3-afc": "3afc",
	}[m.Key]
}

// testdata/reference/c_sample_size.csv: sizes by scan with SciPy, risks by exact
// integers. One count separates both risks, so similarity with them exchanged
// has the same sizes, where its maximum is no lower than guessing gives.
func TestForecastSizesAgainstReference(t *testing.T) {
	checked := 0
	for _, row := range referenceRows(t, "c_sample_size.csv") {
		for _, m := range []Method{Triangle, DuoTrio} {
			if protocolOf(m) != row["protocol"] {
				continue
			}
			test := testOf(m, GoalBoth, 1)
			test.Alpha, test.Power, test.Pd = number(t, row, "alpha"), 1-number(t, row, "beta"), number(t, row, "pd")
			test.Beta, test.PdLimit = number(t, row, "alpha"), test.Pd
			first, stable := int(number(t, row, "n_first")), int(number(t, row, "n_stable"))
			f := planOf(24, test).Forecast()[0]
			at := fmt.Sprintf("%s, α %v, power %v, pd %v", m.Key, test.Alpha, test.Power, test.Pd)
			if f.First != first || f.Stable != stable {
				t.Errorf("%s: %d or, stable, %d; want %d, %d", at, f.First, f.Stable, first, stable)
			}
			// At n_first the power is that of the table, and one short it is not reached.
			test.Goal = GoalDifference
			if f := planOf(first, test).Forecast()[0]; !agrees(f.Power, number(t, row, "power_at_n_first")) ||
				f.MinCorrect != int(number(t, row, "crit_at_n_first")) || !agrees(f.ActualAlpha, number(t, row, "actual_alpha_at_n_first")) {
				t.Errorf("%s, %d seats: minimum %d, actual α %v, power %v", at, first, f.MinCorrect, f.ActualAlpha, f.Power)
			}
			checked++
		}
	}
	if checked != 250 {
		t.Errorf("checked %d rows", checked)
	}
}

// testdata/reference/d5_similarity_both_ways_sizes.csv, by R 4.2.2.
func TestForecastOfTwoSidedSimilarityAgainstReference(t *testing.T) {
	rows := referenceRows(t, "d5_similarity_both_ways_sizes.csv")
	for _, row := range rows {
		test := testOf(PairedComparison, GoalSimilarity, 1)
		test.TwoSided, test.Beta, test.PdLimit, test.Power = true, number(t, row, "beta"), number(t, row, "pd"), 1-number(t, row, "alpha")
		first, stable := int(number(t, row, "n_first")), int(number(t, row, "n_stable"))
		f := planOf(first, test).Forecast()[0]
		at := fmt.Sprintf("β %v, limit %v, power %v", test.Beta, test.PdLimit, test.Power)
		if f.SimilarFirst != first || f.SimilarStable != stable {
			t.Errorf("%s: %d or, stable, %d; want %d, %d", at, f.SimilarFirst, f.SimilarStable, first, stable)
		}
		if f.MaxCorrect != int(number(t, row, "highest_first")) || f.MinSimilar != first-f.MaxCorrect ||
			!agrees(f.PassAlike, number(t, row, "power_first")) || !agrees(f.ActualBeta, number(t, row, "actual_beta_first")) {
			t.Errorf("%s, %d seats: %d to %d, identical pass %v, actual β %v", at, first, f.MinSimilar, f.MaxCorrect, f.PassAlike, f.ActualBeta)
		}
	}
	if len(rows) < 50 {
		t.Errorf("%d rows", len(rows))
	}
}

// testdata/reference/c2_sample_size_dprime.csv: pc by quadrature, sizes by scan.
func TestCompareAgainstReference(t *testing.T) {
	checked := 0
	for _, row := range referenceRows(t, "c2_sample_size_dprime.csv") {
		c := Comparison{DPrime: number(t, row, "dprime"), Goal: GoalDifference, Alpha: number(t, row, "alpha"), Power: 1 - number(t, row, "beta")}
		for _, n := range c.Compare() {
			if protocolOf(n.Method) != row["protocol"] || n.TwoSided {
				continue
			}
			if !n.Found || n.First != int(number(t, row, "n_first")) || n.Stable != int(number(t, row, "n_stable")) || !agrees(n.Pc, number(t, row, "pc")) {
				t.Errorf("%s at d′ %v: %d, stable %d, pc %v; want %s, %s, %s", n.Method.Key, c.DPrime, n.First, n.Stable, n.Pc, row["n_first"], row["n_stable"], row["pc"])
			}
			checked++
		}
	}
	if checked != 15 {
		t.Errorf("checked %d rows", checked)
	}
}

// reach reports whether a panel of n reaches what the goal wants at the d′.
func reach(c Comparison, n MethodNeeds, seats int) bool {
	chance, sided := n.Method.Chance(), stats.OneSided
	similar := stats.SimilarityPanel(seats, chance, max(c.Beta, 1e-9), n.Pc)
	if n.TwoSided {
		sided = stats.TwoSided
		similar = stats.SimilarityPanelBothWays(seats, max(c.Beta, 1e-9), n.Pc)
	}
	// A risk within 1e-12 of its bound reaches it.
	if c.Goal != GoalSimilarity && stats.DifferencePanel(seats, chance, c.Alpha, n.Pc, sided).Power < c.Power*(1-1e-12) {
		return false
	}
	return c.Goal == GoalDifference || similar.Conclusive && similar.Power >= c.Power*(1-1e-12)
}

// What Compare promises a panel keeps: First is the smallest that reaches what
// the goal wants, for both goals at once where both are wanted; every panel from
// Stable on does; Seats is the smallest number of whole blocks that does.
func TestComparedPanelsReachTheirRisks(t *testing.T) {
	checked := 0
	for _, goal := range goals {
		for _, risks := range [][3]float64{{0.05, 0.05, 0.8}, {0.05, 0.1, 0.8}, {0.1, 0.05, 0.9}, {0.2, 0.05, 0.95}} {
			for _, d := range []float64{1.2, 1.5, 2, 3} {
				c := Comparison{DPrime: d, Goal: goal, Alpha: risks[0], Beta: risks[1], Power: risks[2], Serving: UsualPlan().Serving}
				for _, n := range c.Compare() {
					if !n.Found || n.First > 200 {
						continue
					}
					checked++
					at := fmt.Sprintf("%s, two-sided %v, for %s at d′ %v and %v", n.Method.Key, n.TwoSided, goal, d, risks)
					block := len(n.Method.Orders)
					if n.Seats%block != 0 || n.First > n.Stable || n.Seats < n.First {
						t.Errorf("%s: first %d, stable %d, %d seats in blocks of %d", at, n.First, n.Stable, n.Seats, block)
					}
					for m := 3; m <= n.Stable+20; m++ {
						ok := reach(c, n, m)
						switch {
						case m < n.First && ok:
							t.Errorf("%s: %d reach it, and the first is %d", at, m, n.First)
						case m == n.First && !ok, m >= n.Stable && !ok, m == n.Seats && !ok:
							t.Errorf("%s: first %d, stable %d, seats %d, and %d do not reach it", at, n.First, n.Stable, n.Seats, m)
						case m%block == 0 && m < n.Seats && m >= n.First && ok:
							t.Errorf("%s: %d seats in whole blocks reach it, and %d are asked for", at, m, n.Seats)
						}
					}
					if n.Cups != n.Seats*n.Method.Cups || n.Supplies.Cups != n.Cups || n.Supplies.CupsPerSeat != n.Method.Cups ||
						n.Supplies.CoffeeEachG <= 0 || n.Supplies.WaterEachG <= n.Supplies.CoffeeEachG {
						t.Errorf("%s: %d seats, %d cups, supplies %+v", at, n.Seats, n.Cups, n.Supplies)
					}
				}
			}
		}
	}
	if checked < 150 {
		t.Errorf("checked %d", checked)
	}
}

// The cheapest is named once for each question, by cups.
func TestCompareNamesTheFewestCups(t *testing.T) {
	for _, goal := range goals {
		for d := 0.3; d < 8; d *= 1.3 {
			c := Comparison{DPrime: d, Goal: goal, Alpha: 0.05, Beta: 0.05, Power: 0.8}
			all := c.Compare()
			if len(all) != 6 {
				t.Fatalf("%d rows", len(all))
			}
			for _, overall := range []bool{true, false} {
				fewest, least, found := 0, math.MaxInt, 0
				for _, n := range all {
					if n.Method.Overall != overall {
						continue
					}
					if n.Found {
						found, least = found+1, min(least, n.Cups)
					}
				}
				for _, n := range all {
					if n.Fewest && n.Method.Overall == overall {
						fewest++
						if n.Cups != least || !n.Found {
							t.Errorf("d′ %v, %s: %s with %d cups, the least is %d", d, goal, n.Method.Key, n.Cups, least)
						}
					}
				}
				if fewest != min(found, 1) {
					t.Errorf("d′ %v, %s, overall %v: %d methods are the cheapest", d, goal, overall, fewest)
				}
			}
		}
	}
	// At d′ 1 a tetrad of 66 beats 204 and 228 trays of three.
	for _, n := range (Comparison{DPrime: 1, Goal: GoalDifference, Alpha: 0.05, Power: 0.8}).Compare() {
		if want := n.Method.Key == Tetrad.Key || n.Method.Key == PairedComparison.Key && !n.TwoSided; n.Fewest != want {
			t.Errorf("d′ 1: %s, two-sided %v, the cheapest: %v", n.Method.Key, n.TwoSided, n.Fewest)
		}
	}
}

func TestCompareRefusesFiguresOutOfRange(t *testing.T) {
	good := Comparison{DPrime: 1, Goal: GoalBoth, Alpha: 0.05, Beta: 0.05, Power: 0.8}
	if good.Compare() == nil {
		t.Fatal("figures in range are refused")
	}
	for name, spoil := range map[string]func(*Comparison){
		"d′ 0.04":  func(c *Comparison) { c.DPrime = 0.04 },
		"d′ 11":    func(c *Comparison) { c.DPrime = 11 },
		"no d′":    func(c *Comparison) { c.DPrime = math.NaN() },
		"no goal":  func(c *Comparison) { c.Goal = "" },
		"α 0":      func(c *Comparison) { c.Alpha = 0 },
		"β 0.5":    func(c *Comparison) { c.Beta = 0.5 },
		"power 1":  func(c *Comparison) { c.Power = 1 },
		"no power": func(c *Comparison) { c.Power = math.NaN() },
	} {
		c := good
		spoil(&c)
		if c.Compare() != nil {
			t.Errorf("%s passes", name)
		}
	}
}

// placesOf are the answers that one habit of everybody gives: always the same
// places, by method.
func placesOf(m Method) [][]int {
	var all [][]int
	for i := m.References(); i < m.Cups; i++ {
		switch {
		case m.Picks == 1:
			all = append(all, []int{i})
		case i > 0:
			all = append(all, []int{0, i})
		}
	}
	return all
}

// Habit is the most that one place habit of everybody gets right, over all
// layouts that are drawn: none gives more, and one gives as many. Balanced is
// where each of them gives the share of guessing.
func TestHabitByBruteForce(t *testing.T) {
	tests := []TestPlan{constantDuoTrio()}
	for _, m := range Methods {
		tests = append(tests, testOf(m, GoalDifference, 1))
	}
	tried := 0
	for _, test := range tests {
		m, _ := MethodByKey(test.Method)
		for _, shape := range []struct {
			sets    int
			flights []int
		}{{1, []int{2}}, {1, []int{3}}, {1, []int{5}}, {1, []int{6}}, {1, []int{7}}, {1, []int{12}}, {2, []int{3}}, {1, []int{4, 3}}, {1, []int{3, 3}}, {1, []int{6, 6}}} {
			if test.Sets = shape.sets; test.Sets > 1 && !m.Overall {
				continue
			}
			seats := 0
			for _, n := range shape.flights {
				seats += n
			}
			p := inFlights(planOf(seats, test), shape.flights...)
			f := p.Forecast()[0]
			most := 0
			for seed := range uint64(600) {
				l := ordersOf(p, seedOf(seed))
				for _, places := range placesOf(m) {
					right := 0
					for _, sets := range l.Seats {
						for _, set := range sets {
							if m.Right(set.Order, places) {
								right++
							}
						}
					}
					most = max(most, right)
					if f.Balanced && float64(right) != float64(f.Answers)*m.Chance() {
						t.Fatalf("%s, flights %v: balanced, and places %v are right %d times of %d", m.Key, shape.flights, places, right, f.Answers)
					}
				}
			}
			if most != f.Habit {
				t.Errorf("%s %s, flights %v, %d sets: the most is %d, the forecast says %d", m.Key, test.Reference, shape.flights, shape.sets, most, f.Habit)
			}
			tried++
		}
	}
	if tried < 50 {
		t.Errorf("%d plans", tried)
	}
}

// Supplies suffice for every layout of every method, blank tests and constant
// references included, one flight or several: for each lot, the cups of the
// layout and all spare ones. A spare tray is there for each method.
func TestSuppliesSufficeForEveryMethod(t *testing.T) {
	tests := []TestPlan{constantDuoTrio()}
	for _, m := range Methods {
		tests = append(tests, testOf(m, GoalDifference, 2))
		if m.Overall {
			b := testOf(m, GoalDifference, 1)
			for _, b.Blank = range []string{BlankUntreated, BlankProcessed} {
				tests = append(tests, b)
			}
		}
	}
	for _, test := range tests {
		m, _ := MethodByKey(test.Method)
		for _, flights := range [][]int{{2}, {3}, {5}, {6}, {11}, {24}, {5, 5}, {7, 2}, {3, 4, 5}} {
			seats := 0
			for _, n := range flights {
				seats += n
			}
			p := inFlights(planOf(seats, test), flights...)
			if test.Blank != "" {
				p.Tests = append(p.Tests, triangles(1))
			}
			s := p.Supplies()
			brewed := s.WaterEachG - 2*s.CoffeeEachG // the grounds keep the rest
			at := fmt.Sprintf("%s %s%s, flights %v", m.Key, test.Reference, test.Blank, flights)
			if s.Spare < m.Cups {
				t.Errorf("%s: %d spare cups are no tray of %d", at, s.Spare, m.Cups)
			}
			most := map[Vessel]int{}
			for seed := range uint64(150) {
				l := ordersOf(p, seedOf(seed))
				cups := map[byte]int{}
				for _, sets := range l.Seats {
					for _, set := range sets {
						for i := range set.Order {
							product := set.Order[i]
							if p.Tests[set.Test].Blank != "" && product == 'B' {
								product = '2' // the second brew
							}
							cups[product]++
						}
					}
				}
				for product, n := range cups {
					brewed, spare := brewed, s.Spare
					if product == '2' {
						brewed, spare = s.Second.WaterG-2*s.Second.CoffeeG, 3
					}
					if need := float64(n+spare) * p.Serving.FillG; need > brewed {
						t.Fatalf("%s: lot %c needs %v g, brewed are %v g", at, product, need, brewed)
					}
					most[Vessel(product)] = max(most[Vessel(product)], n)
				}
			}
			// And not by far too much: the worst layout's cups, the spare ones and a tenth.
			worst := 0
			for _, n := range most {
				worst = max(worst, n)
			}
			if enough := float64(worst+s.Spare+2*m.Cups*len(flights)) * p.Serving.FillG * 1.1; brewed > enough+1e-6 {
				t.Errorf("%s: brewed are %v g, %v g would be plenty", at, brewed, enough)
			}
		}
	}
}

// Forecast and Supplies work on what is being typed: no plan makes them panic,
// and every number they give is one.
func TestForecastOfAnyPlan(t *testing.T) {
	made, sequentials := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		any := rapid.OneOf(
			rapid.SampledFrom([]float64{0, 0.05, 0.1, 0.3, 0.4, 0.8, 0.95, 0.999, 1, -1, 0.0001, 0.99, math.NaN(), math.Inf(1)}),
			rapid.Float64Range(0.01, 0.4))
		whole := rapid.SampledFrom([]int{0, 1, 1, 2, 2, 3, 6, 7, 24, 60, 129, 500, 501, -1, -24, math.MaxInt, math.MinInt, 1 << 62})
		p := planOf(whole.Draw(rt, "seats"))
		for range rapid.IntRange(0, 2).Draw(rt, "tests") {
			test := TestPlan{
				Method: rapid.SampledFrom(append(Methods, Method{Key: "guess"})).Draw(rt, "method").Key,
				Goal:   rapid.SampledFrom(append(goals, "")).Draw(rt, "goal"),
				Sets:   whole.Draw(rt, "sets"), Alpha: any.Draw(rt, "alpha"), Pd: any.Draw(rt, "pd"), Power: any.Draw(rt, "power"),
				Beta: any.Draw(rt, "beta"), PdLimit: any.Draw(rt, "limit"),
				Reference: rapid.SampledFrom([]string{"", ReferenceConstant, "x"}).Draw(rt, "reference"),
				Blank:     rapid.SampledFrom([]string{"", BlankProcessed, "x"}).Draw(rt, "blank"),
			}
			if rapid.IntRange(0, 3).Draw(rt, "in range") > 0 {
				test.Sets, test.Alpha, test.Power, p.Seats = 1, 0.05, 0.8, 24
				test.Goal, test.Pd = GoalBoth, 0.3
				test.Beta, test.PdLimit = 0.1, 0.3
			}
			test.TwoSided = rapid.Bool().Draw(rt, "sided") && test.Method == PairedComparison.Key
			test.Sequential = rapid.Bool().Draw(rt, "sequential")
			p.Tests = append(p.Tests, test)
		}
		if rapid.Bool().Draw(rt, "in flights") {
			p.Flights = rapid.SliceOfN(whole, 0, 3).Draw(rt, "flights")
		}
		if rapid.IntRange(0, 3).Draw(rt, "a sound one that may stop early") == 0 {
			p = planOf(rapid.IntRange(2, 60).Draw(rt, "its seats"), sequential(rapid.IntRange(2, 6).Draw(rt, "its sets")))
		}
		p.Check()
		for _, f := range p.Forecast() {
			made++
			for name, x := range map[string]float64{"power": f.Power, "actual α": f.ActualAlpha, "actual β": f.ActualBeta, "identical": f.PassAlike, "detectable": f.Detectable, "within": f.Within} {
				if !(x >= 0 && x <= 1+1e-12) {
					rt.Fatalf("%s %v of %+v", name, x, f.Plan)
				}
			}
			for _, pt := range append(append([]NPower(nil), f.Curve...), f.SimilarCurve...) {
				if !(pt.Power >= 0 && pt.Power <= 1+1e-12) {
					rt.Fatalf("%+v on the curve of %+v", pt, f.Plan)
				}
			}
			if f.Risks != nil {
				sequentials++
			}
		}
		p.Supplies()
	})
	if made < 20 || sequentials < 3 {
		t.Errorf("%d forecasts, %d sequential ones", made, sequentials)
	}
	// What a page may send while it is being filled in.
	stop := sequential(2)
	for name, p := range map[string]Plan{
		"a flight of nobody":         inFlights(planOf(24, stop), 0, 24),
		"a flight of less":           inFlights(planOf(24, stop), -3, 27),
		"sequential, for similarity": planOf(24, TestPlan{Method: Triangle.Key, Goal: GoalSimilarity, Sets: 2, Power: 0.8, Beta: 0.05, PdLimit: 0.3, Sequential: true}),
	} {
		if f := p.Forecast(); len(f) != 1 || f[0].Risks != nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// The four templates ask for nothing but title and lots, and say in their notes
// what they are.
func TestTemplatesPass(t *testing.T) {
	if len(Templates) != 4 {
		t.Errorf("%d templates", len(Templates))
	}
	for _, tp := range Templates {
		p := tp.Plan()
		p.Title, p.Untreated, p.Processed = "Wednesday table", lotGreen, lotWater
		if f := p.Check(); f != nil {
			t.Errorf("%s: %v", tp.Key, f)
		}
		if got, ok := TemplateByKey(tp.Key); !ok || got.Asks != tp.Asks {
			t.Errorf("%s is not found", tp.Key)
		}
		// No plan is shared: changing one leaves the next as it was.
		p.Tests[0].Method, p.Seats = "", 0
		if q := tp.Plan(); q.Tests[0].Method == "" || q.Seats == 0 {
			t.Errorf("%s: the plan is shared", tp.Key)
		}
	}
	if _, ok := TemplateByKey(""); ok {
		t.Error("a template has no key")
	}
	// Each that counts reaches what it wants, and no fewer seats in whole blocks do.
	for _, tp := range Templates {
		p := tp.Plan()
		if got := SeatsEnough(p.Forecast(), 6, 6); got != p.Seats && !p.Practice {
			t.Errorf("%s: %d seats, and %d are enough", tp.Key, p.Seats, got)
		}
	}
	// The one for similarity reaches both its goals in whole blocks, flight by flight.
	same, _ := TemplateByKey("same")
	f := same.Plan().Forecast()[0]
	if !f.Balanced || len(f.Warnings) != 0 || f.Power < 0.95 || f.PassAlike < 0.95 || f.First != 66 {
		t.Errorf("power %v, identical pass %v, balanced %v, first %d: %q", f.Power, f.PassAlike, f.Balanced, f.First, f.Warnings)
	}
	practice, _ := TemplateByKey("practice")
	if !practice.Plan().Practice {
		t.Error("practice is none")
	}
}
