package console

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/web/look"
)

// planView is the plan page.
type planView struct {
	Head     *Head
	Form     *form
	Plan     session.Plan // as the form has it, or as it was sealed
	Lots     []session.Lot
	Tests    []planTest
	Needs    session.Faults // what sealing still needs
	Notes    map[string]fieldNote
	Supplies *amounts
	Cautions []string
	Compare  compareView

	Question string
	Answer   string // what the plan can show and what not, in a sentence
	Lines    []answerLine
	Enough   *enough

	Focus    string // id of the element that the work goes on at
	AllTests bool   // the script asked for the tests with their fields

	Trouble   string // headline over a refused form
	Draft     uint64 // entry of the draft that the page began from
	Unsaved   bool
	PinAt     time.Time // zero if the pourer has set none
	Sealed    time.Time
	Digest    session.Hash
	Next      string
	NextWords string
	Abandon   *form
	CanEnd    bool // the session can be abandoned

	Rules   []session.Rule
	Holders map[string]int // of each rule now
}

// Note is what stands below a field.
func (v planView) Note(name string) fieldNote {
	n := v.Notes[name]
	n.Name = name
	return n
}

// Noted are the fields that have a place for notes, in the page's order.
func (v planView) Noted() []string {
	if v.AllTests { // theirs come with them
		return slices.DeleteFunc(slices.Concat(sessionFields, judgingFields, conditionFields), func(name string) bool { return name == "tests" })
	}
	names := slices.Concat(sessionFields, judgingFields, conditionFields)
	for i := range v.Tests {
		for _, name := range testFields {
			names = append(names, testField(i, name))
		}
	}
	return names
}

// Methods are the choices of a test, value and words in turn.
func (planView) Methods() []any {
	var all []any
	for _, m := range session.Methods {
		all = append(all, m.Key, m.Name)
	}
	return all
}

// CanAdd reports whether another test fits.
func (v planView) CanAdd() bool { return len(v.Tests) < mostTests }

// Focused reports whether the work goes on at an element.
func (v planView) Focused(id string) bool { return v.Focus == id }

// fieldNote is what stands below a field: what is wrong with it, then what a
// standard advises on it.
type fieldNote struct {
	Name   string
	Fault  string
	Advice []advice
}

var sessionFields = []string{
	"title", "untreated", "processed", "seats", "flights", "tests", "dPrime",
	"serving.fillG", "serving.doseGPerL", "serving.lowC", "serving.highC", "serving.rinseS",
	"serving.swallow", "serving.allergens", "serving.redLight",
}

var testFields = []string{
	"method", "goal", "reference", "attribute", "definition", "more", "sided", "blank", "sets",
	"alpha", "pd", "power", "beta", "pdLimit", "sequential",
}

// planTest is one test on the page, with what it can show.
type planTest struct {
	Slot     int
	Of       int // tests in the plan
	Name     string
	Shape    shape
	Method   session.Method
	Test     session.TestPlan
	Forecast *session.Forecast // nil where a field is out of range
	Plots    []template.HTML
	Facts    []planFactGroup
	Habit    string // what place habits do
	Curve    []curveRow
}

// At is a field's name.
func (t planTest) At(name string) string { return testField(t.Slot, name) }

// Number is the test's, from 1.
func (t planTest) Number() int { return t.Slot + 1 }

// Last reports whether no test comes after it.
func (t planTest) Last() bool { return t.Slot == t.Of-1 }

// Sides are the choices of a paired comparison, value and words in turn.
func (t planTest) Sides() []any {
	which := lessMore(t.Test)
	return []any{
		"one", "one-sided: the processed has " + which,
		"two", "two-sided: either lot may",
	}
}

// BetaLabel names what β is the risk of.
func (t planTest) BetaLabel() string {
	if t.Test.WantsSimilarity() {
		return "β, risk of calling lots similar that are not"
	}
	return "β, risk of missing the difference"
}

// PowerLabel names the wanted power.
func (t planTest) PowerLabel() string {
	switch t.Test.Goal {
	case session.GoalSimilarity:
		return "power, chance that identical lots pass"
	case session.GoalBoth:
		return "power, chance of finding it, and that identical lots pass"
	}
	return "power, chance of finding it"
}

// planFactGroup are facts under one heading, "" for none.
type planFactGroup struct {
	Heading string
	Facts   []planFact
}

type planFact struct{ Name, Value string }

// curveRow is a point of the curves as a row of a table.
type curveRow struct {
	N               int
	Power, Pass     string // "" where the goal has none
	EquallyBalanced bool
}

// amounts are supplies as a person buys and boils them.
type amounts struct{ session.Supplies }

// WaterEachL is the water for each lot, in litres at 1 kg.
func (a amounts) WaterEachL() float64 { return a.WaterEachG / 1000 }

// WaterL is the water of all brews, in litres.
func (a amounts) WaterL() float64 { return a.WaterG() / 1000 }

// planView works out all that the page shows of a plan.
func (c *Console) planView(s *session.State, p session.Plan, f *form) planView {
	v := planView{
		Head: head(s), Form: f, Draft: draftOf(s), Plan: p, Lots: c.Rooms.Lab().State().Lots, Question: question(p),
		Sealed: s.Times[session.PhaseSealed], Digest: s.Digest, PinAt: pinAt(s), Abandon: filled(),
		CanEnd: s.Phase != session.PhaseRevealed && s.Phase != session.PhaseAbandoned,
		Needs:  needs(p, f), Cautions: c.planCautions(p, s.Phase == session.PhaseDrafted),
		Compare: compareOf(p, f),
	}
	v.Rules, v.Holders = c.Rooms.Lab().State().Rules, map[string]int{}
	for _, rule := range v.Rules {
		v.Holders[rule.Name] = len(c.Rooms.Lab().State().Holders(rule.Name, c.Now()))
	}
	v.Next, v.NextWords = nextAct(s)
	if supplies := p.Supplies(); supplies.Cups > 0 && supplies.WaterEachG > 0 && supplies.WaterEachG < 1e7 {
		v.Supplies = &amounts{supplies}
	}
	// Flights that don't add up are a fault; what the tests can show is worked out
	// without them.
	q := p
	if sum(p.FlightSizes()) != p.Seats {
		q.Flights = nil
	}
	forecasts := q.Forecast()
	for i, test := range p.Tests {
		t := planTest{Slot: i, Of: len(p.Tests), Test: test, Shape: shapeOf(f, i)}
		t.Method, _ = session.MethodByKey(test.Method)
		t.Name = t.Method.Name
		if t.Name == "" {
			t.Name = "no method"
		}
		if at := slices.IndexFunc(forecasts, func(fc session.Forecast) bool { return fc.Number == i+1 }); at >= 0 {
			t.forecast(forecasts[at], q)
		}
		v.Tests = append(v.Tests, t)
	}
	if s.Phase == session.PhaseDrafted {
		v.Enough = enoughFor(q, forecasts)
	}
	v.Answer, v.Lines = answerOf(q, forecasts, v.Enough)
	v.Notes = notesOf(p, f, v.Needs, v.Compare.Trouble)
	return v
}

func sum(sizes []int) (total int) {
	for _, n := range sizes {
		total += n
	}
	return total
}

// needs is what stands in the way of sealing: fields that could not be read,
// then what is wrong in the plan.
func needs(p session.Plan, f *form) session.Faults {
	var all session.Faults
	for _, x := range append(slices.Clone(f.Faults), p.Check()...) {
		twice := slices.ContainsFunc(all, func(have session.Fault) bool { return have.Field == x.Field })
		if !twice && !strings.HasPrefix(x.Field, "pin") {
			all = append(all, x)
		}
	}
	return all
}

// notesOf puts faults and advice to their fields. A field that nobody has filled
// in yet is no fault before somebody tries to seal.
func notesOf(p session.Plan, f *form, wrong session.Faults, dPrime string) map[string]fieldNote {
	notes := map[string]fieldNote{}
	for name, a := range adviceOf(p) {
		notes[name] = fieldNote{Advice: a}
	}
	for _, x := range wrong {
		refused := f.Fault(x.Field) != ""
		if n := notes[x.Field]; refused || f.text(x.Field) != "" || x.Field == "tests" || strings.HasSuffix(x.Field, ".sided") {
			n.Fault = sentence(x.Say)
			notes[x.Field] = n
		}
	}
	if dPrime != "" {
		notes["dPrime"] = fieldNote{Fault: dPrime}
	}
	return notes
}

// question is what the session asks, as a sentence.
func question(p session.Plan) string {
	if p.Untreated.ID == "" || p.Processed.ID == "" {
		return "Which two lots are to be told apart?"
	}
	ask := fmt.Sprintf("Can the panel tell lot %s from lot %s", p.Untreated.Words(), p.Processed.Words())
	if p.Untreated.Number == p.Processed.Number {
		ask = fmt.Sprintf("Can the panel tell lot %s before from after", p.Untreated.Number)
	}
	overall, by := false, ""
	for _, t := range p.Tests {
		if m, _ := session.MethodByKey(t.Method); m.Overall {
			overall = true
		} else {
			by = t.Attribute
		}
	}
	switch {
	case overall && by != "":
		ask += ", and by " + by
	case by != "":
		ask += " by " + by
	}
	return ask + "?"
}

// forecast fills in what the test can show.
func (t *planTest) forecast(f session.Forecast, p session.Plan) {
	t.Forecast = &f
	t.Habit = habit(f, p)
	t.Facts = foreseenFacts(f, p)
	if f.Plan.WantsDifference() {
		t.Plots = append(t.Plots, plotOf(f, f.Curve, f.Power, f.First, f.Stable,
			fmt.Sprintf("Power of the %s against the number of answers", f.Method.Name),
			"power", fmt.Sprintf("of 100 such panels, %s would find it", ofHundred(f.Power, f.Plan.Power))))
	}
	if f.Plan.WantsSimilarity() {
		t.Plots = append(t.Plots, plotOf(f, f.SimilarCurve, f.PassAlike, f.SimilarFirst, f.SimilarStable,
			fmt.Sprintf("Probability that identical lots pass the %s, against the number of answers", f.Method.Name),
			"they pass", fmt.Sprintf("of 100 pairs of identical lots, %s would pass", ofHundred(f.PassAlike, f.Plan.Power))))
	}
	t.Curve = curveRows(f)
}

func plotOf(f session.Forecast, curve []session.NPower, at float64, first, stable int, title, what, note string) template.HTML {
	if f.Risks != nil {
		note = "if it could not stop early, " + note
	}
	plot := look.PowerPlot{
		Wanted: f.Plan.Power, Planned: f.N, First: first, Stable: stable,
		Title: title, Desc: lineOf(f).Say,
		XLabel:       what + ", by the number of answers n (large dots: every serving order equally often)",
		PlannedLabel: fmt.Sprintf("planned: %d, %s %s", f.N, what, share(at)),
		PlannedNote:  note,
	}
	for _, x := range curve {
		plot.Points = append(plot.Points, look.PowerPoint{N: x.N, Power: x.Power})
		if x.Balanced {
			plot.Even = append(plot.Even, x.N)
		}
	}
	if len(plot.Points) == 0 {
		return ""
	}
	return look.PowerCurve(plot)
}

func curveRows(f session.Forecast) []curveRow {
	rows := make([]curveRow, max(len(f.Curve), len(f.SimilarCurve)))
	for i, x := range f.Curve {
		rows[i] = curveRow{N: x.N, Power: share(x.Power), EquallyBalanced: x.Balanced}
	}
	for i, x := range f.SimilarCurve {
		rows[i].N, rows[i].Pass, rows[i].EquallyBalanced = x.N, share(x.Power), x.Balanced
	}
	return rows
}

const stoppingEarly = "Stopping early"

// foreseenFacts are the numbers of a forecast with their meaning.
func foreseenFacts(f session.Forecast, p session.Plan) []planFactGroup {
	of := func(x int) string { return fmt.Sprintf("%d of %d", x, f.N) }
	var groups []planFactGroup
	both := f.Plan.WantsDifference() && f.Plan.WantsSimilarity()
	group := func(heading string, facts ...planFact) {
		switch {
		case heading == stoppingEarly:
		case f.Risks != nil:
			heading += ", if it could not stop early"
		case !both:
			heading = ""
		}
		groups = append(groups, planFactGroup{heading, facts})
	}
	if f.Plan.WantsDifference() {
		facts := []planFact{
			{needed(f, "the smallest number that reaches both risks, as the standards’ tables print it"), size(f.First)},
			{needed(f, "from here on every panel reaches both"), size(f.Stable)},
			{"minimum correct", "none is enough"},
			{"actual α", "–"},
			{"power at the planned pd, " + pct(f.Plan.Pd), share(f.Power)},
		}
		if f.Reached < 1 {
			facts = append(facts, planFact{"the same, as the order stops where a test before it shows nothing", share(f.Reached * f.Power)})
		}
		if f.HasMin {
			facts[2].Value, facts[3].Value = of(f.MinCorrect), pvalue(f.ActualAlpha)
			if f.Plan.TwoSided {
				facts[2].Value += ", either way"
			}
		}
		for _, x := range f.AtPd {
			if x.Pd != f.Plan.Pd {
				facts = append(facts, planFact{"power at pd " + pct(x.Pd), share(x.Power)})
			}
		}
		smallest := "none"
		if f.CanDetect {
			smallest = pctUp(f.Detectable)
		}
		group("For a difference", append(facts,
			planFact{"smallest pd that this panel finds with power " + num(f.Plan.Power), smallest})...)
	}
	if f.Plan.WantsSimilarity() {
		facts := []planFact{
			{needed(f, "the smallest number that reaches both risks, as the standards’ tables print it"), size(f.SimilarFirst)},
			{needed(f, "from here on every panel reaches both"), size(f.SimilarStable)},
			{"maximum correct", "none allows the conclusion"},
			{"actual β", "–"},
			{"probability that identical lots pass", share(f.PassAlike)},
		}
		if f.HasMax {
			facts[2].Value, facts[3].Value = of(f.MaxCorrect), pvalue(f.ActualBeta)
			if f.Plan.TwoSided {
				facts[2] = planFact{"correct, from and up to", fmt.Sprintf("%d to %d of %d", f.MinSimilar, f.MaxCorrect, f.N)}
			}
		}
		smallest := "none"
		if f.CanPromise {
			smallest = pctUp(f.Within)
		}
		group("For similarity", append(facts,
			planFact{"smallest pd limit that this panel could promise, identical lots passing with " + num(f.Plan.Power), smallest})...)
	}
	if f.Risks != nil {
		group(stoppingEarly, sequentialFacts(f)...)
	}
	groups = append(groups, planFactGroup{"", []planFact{{"sizes that balance the serving orders", balancing(f, p.Seats)}}})
	return groups
}

// needed names who is counted.
func needed(f session.Forecast, what string) string {
	who := "assessors"
	if f.N != f.Answers/f.Plan.Sets {
		who = "answers"
	}
	return who + " needed, " + what
}

func size(n int) string {
	if n == 0 {
		return "none can be promised"
	}
	return fmt.Sprint(n)
}

// pctUp is a proportion in percent, rounded up, so that it is reached.
func pctUp(x float64) string { return trim(math.Ceil(1000*x-1e-6)/10, 1) + "\u00a0%" }

func sequentialFacts(f session.Forecast) []planFact {
	first := func(n int) string {
		if n == 0 {
			return "not within this plan"
		}
		return counted(n, "answer")
	}
	r := f.Risks
	low := "“no difference found”, undecided"
	if f.Plan.WantsSimilarity() {
		low = "similar"
	}
	return []planFact{
		{"can end as different at the earliest, all answers correct", "after " + first(f.Lines.FirstDifferent)},
		{"can end with " + low + " at the earliest, none correct", "after " + first(f.Lines.FirstSimilar)},
		{"exact risk of calling equal lots different, α planned " + num(f.Plan.Alpha), pvalue(r.AtP0.Different)},
		{"exact risk of that at pd " + pct(f.Plan.Pd) + ", β planned " + num(f.Plan.Beta), pvalue(r.AtP1.Similar)},
		{"finds pd " + pct(f.Plan.Pd) + " with probability", share(r.AtP1.Different)},
		{"stays undecided, equal lots / pd " + pct(f.Plan.Pd), share(r.AtP0.Undecided) + " / " + share(r.AtP1.Undecided)},
		{"expected answers, equal lots", fixed(r.AtP0.ExpectedN, 1) + " of " + fmt.Sprint(f.N)},
		{"expected answers, pd " + pct(f.Plan.Pd), fixed(r.AtP1.ExpectedN, 1) + " of " + fmt.Sprint(f.N)},
	}
}

// balancing are the numbers of seats about the planned one that balance.
func balancing(f session.Forecast, seats int) string {
	block := f.Block
	switch below := seats / block * block; {
	case below == 0:
		return fmt.Sprintf("%d seats", block)
	case below == seats && below > block:
		return fmt.Sprintf("%d, %d or %d seats", below-block, below, below+block)
	default:
		return fmt.Sprintf("%d or %d seats", below, below+block)
	}
}

// habit says what a place habit of the whole panel would do.
func habit(f session.Forecast, p session.Plan) string {
	chance := float64(f.Answers) * f.Method.Chance()
	if f.Balanced {
		return fmt.Sprintf("Every serving order is used equally often. If everybody had the same place habit, %d of %d would be right by that alone: what guessing gives.",
			f.Habit, f.Answers)
	}
	say := fmt.Sprintf("If everybody had the same place habit, %d of %d would be right by that alone; balanced it is %s.",
		f.Habit, f.Answers, trim(chance, 1))
	if p.Seats%f.Block == 0 {
		return say + fmt.Sprintf(" Each flight starts its own blocks of %d: make the flights whole blocks.", f.Block)
	}
	return say + fmt.Sprintf(" %s balance.", sentenceStart(balancing(f, p.Seats)))
}

func sentenceStart(s string) string { return strings.TrimSuffix(sentence(s), ".") }
