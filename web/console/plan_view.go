package console

import (
	"fmt"
	"html/template"
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
	// SpareMore are the spare cups that flights take beyond those of one table.
	SpareMore int
	Cautions  []string
	Compare   compareView

	Question string
	Answer   string // what the plan can show and what not, in a sentence
	Lines    []answerLine
	Enough   *enough
	Reserve  string // what it costs if somebody stays away

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

// Missing is the number of things in the way of sealing, the pourer's PIN among them.
func (v planView) Missing() int {
	if v.PinAt.IsZero() {
		return len(v.Needs) + 1
	}
	return len(v.Needs)
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
	Told   string // what a button has just changed here
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
	Primary  bool
	Name     string
	Shape    shape
	Method   session.Method
	Test     session.TestPlan
	Forecast *session.Forecast // nil where a field is out of range, or the test is refused
	Refused  string            // why the test is refused, "" if it isn't
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
	v.SpareMore = spareMore(p)
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
	primary := slices.IndexFunc(p.Tests, func(t session.TestPlan) bool { return t.Blank == "" })
	for i, test := range p.Tests {
		t := planTest{Slot: i, Of: len(p.Tests), Test: test, Shape: shapeOf(f, i), Primary: i == primary}
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
		whole := refusedWhole(q)
		if whole == "" || q.Seats > q.MostSeats() {
			v.Enough = enoughFor(q, forecasts)
		}
		if whole == "" {
			v.Reserve = reserveOf(q, forecasts, v.Enough)
		}
	}
	v.Answer, v.Lines = answerOf(p, forecasts, v.Enough)
	v.Notes = notesOf(p, f, v.Needs, v.Compare.Trouble)
	return v
}

func spareMore(p session.Plan) int {
	table := p
	table.Flights = nil
	return p.Supplies().Spare - table.Supplies().Spare
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

// question is what the session asks, as a sentence: for similarity alone, whether
// the lots may pass as alike.
func question(p session.Plan) string {
	if p.Untreated.ID == "" || p.Processed.ID == "" {
		return "Which two lots are to be told apart?"
	}
	if p.Untreated.ID == p.Processed.ID && p.Control == nil {
		return "Which two lots are to be told apart?"
	}
	one, other := "lot "+p.Untreated.Words(), "lot "+p.Processed.Words()
	apart, alike := fmt.Sprintf("%s from %s", one, other), fmt.Sprintf("%s pass as %s", other, one)
	if p.Untreated.Number == p.Processed.Number {
		apart = fmt.Sprintf("lot %s before from after", p.Untreated.Number)
		alike = fmt.Sprintf("lot %s after pass as before", p.Untreated.Number)
	}
	var tell, similar asked
	var limits []string // of each similarity in turn
	same := true
	for _, t := range p.Tests {
		m, ok := session.MethodByKey(t.Method)
		if !ok || t.Blank != "" {
			continue
		}
		if t.WantsDifference() || !t.WantsSimilarity() {
			tell.add(m, t)
		}
		if t.WantsSimilarity() {
			similar.add(m, t)
			if !(t.PdLimit > 0 && t.PdLimit < 1) {
				continue
			}
			fewer := "fewer than " + pct(t.PdLimit) + " of people perceive a difference"
			same = same && (len(limits) == 0 || limits[0] == fewer)
			if !m.Overall && len(limits) > 0 && !same {
				fewer = "fewer than " + pct(t.PdLimit) + " one in " + orIt(t.Attribute)
			}
			limits = append(limits, fewer)
		}
	}
	below := ""
	if len(limits) > 0 {
		if same {
			limits = limits[:1]
		}
		below = ", that is, do " + strings.Join(limits, " and ")
	}
	switch {
	case !similar.any():
		return "Can the panel tell " + apart + tell.by() + "?"
	case !tell.any():
		return "May " + alike + similar.by() + below + "?"
	}
	return "Can the panel tell " + apart + tell.by() + ", or may " + alike + similar.by() + below + "?"
}

// asked is what tests ask of two lots: any difference, one by an attribute, or both.
type asked struct {
	overall   bool
	attribute string
}

func (a *asked) add(m session.Method, t session.TestPlan) {
	a.overall = a.overall || m.Overall
	if !m.Overall && t.Attribute != "" {
		a.attribute = t.Attribute
	}
}

func (a *asked) any() bool { return a.overall || a.attribute != "" }

func (a *asked) by() string {
	switch {
	case a.attribute == "":
		return ""
	case a.overall:
		return ", and by " + a.attribute
	}
	return " by " + a.attribute
}

// forecast fills in what the test can show.
func (t *planTest) forecast(f session.Forecast, p session.Plan) {
	if f.Refused != "" {
		t.Refused = sentence(f.Refused)
		return
	}
	t.Forecast = &f
	t.Habit = habit(f, p)
	t.Facts = foreseenFacts(f, p)
	for _, group := range t.Facts {
		for i, x := range group.Facts {
			group.Facts[i] = planFact{unbroken(x.Name), unbroken(x.Value)}
		}
	}
	if f.Plan.WantsDifference() {
		t.Plots = append(t.Plots, plotOf(f, f.Curve, f.Power, f.First, f.Stable,
			fmt.Sprintf("Power of the %s against the number of answers", f.Method.Name),
			"power", noteOf(f, such(f.Reached, "panels"), ofHundred(f.Power, f.Plan.Power), "would find it")))
	}
	if f.Plan.WantsSimilarity() && (f.HasMax || f.Plan.Sets == 1) {
		pass, of := "they pass", ofHundred(f.PassAlike, f.Plan.Power)
		if f.Plan.Sets > 1 {
			pass, of = "they pass about", "about "+of
		}
		t.Plots = append(t.Plots, plotOf(f, f.SimilarCurve, f.PassAlike, f.SimilarFirst, f.SimilarStable,
			fmt.Sprintf("Probability that identical lots pass the %s, against the number of answers", f.Method.Name),
			pass, noteOf(f, such(f.ReachedAlike, "pairs of identical lots"), of, "would pass")))
	}
	t.Curve = curveRows(f)
}

// unbroken keeps a figure on one line with its sign of percent, or with the d′ before.
func unbroken(s string) string {
	return strings.NewReplacer(" %", "\u00a0%", "d′ ", "d′\u00a0").Replace(s)
}

// noteOf says in a line what the planned number gives.
func noteOf(f session.Forecast, such, of, would string) string {
	if f.Risks != nil {
		return fmt.Sprintf("if it could not stop early, %s of 100 %s", of, would)
	}
	return fmt.Sprintf("of 100 %s, %s %s", such, of, would)
}

// such names what a curve counts: a later test's is drawn as if the order had come
// to it.
func such(reached float64, what string) string {
	switch {
	case reached < 1:
		return what + " that come to it"
	case what == "panels":
		return "such panels"
	}
	return what
}

func plotOf(f session.Forecast, curve []session.NPower, at float64, first, stable int, title, what, note string) template.HTML {
	plot := look.PowerPlot{
		Wanted: f.Plan.Power, Planned: f.N, First: first, Stable: stable,
		Title: title, Desc: lineOf(f).Say,
		XLabel:       what + ", by the number of answers n (large dots: every serving order equally often)",
		PlannedLabel: fmt.Sprintf("planned: %d, %s %s", f.N, what, foreseen(at)),
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
		rows[i] = curveRow{N: x.N, Power: foreseen(x.Power), EquallyBalanced: x.Balanced}
	}
	for i, x := range f.SimilarCurve {
		rows[i].N, rows[i].Pass, rows[i].EquallyBalanced = x.N, foreseen(x.Power), x.Balanced
	}
	return rows
}
