package console

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// compareView puts the methods side by side, at one d′ and the risks of the
// plan's first test.
type compareView struct {
	Own     string // what the field means while it is empty
	Risks   string // "d′ 1.98, α 0.05, power 0.8"
	Says    []string
	Rows    []compareRow
	Trouble string // what is wrong with the field, "" for nothing
}

// compareRow is what one method needs, in words.
type compareRow struct {
	Method   string
	Question string
	Planned  string // "in this plan", with its pd where that is another one; "" where no test asks that way
	Same     bool   // a test is planned with this very pd
	Fewest   bool
	Figures  []compareFigure
	Note     string

	Take      string // the value of the button that takes it into the plan, "" for none
	TakeWords string // "Take for test 1"
	TakeAs    string // "tetrad, pd 40 %"
}

// compareFigure is a figure under its column's name. Where there is no room for
// columns, those that decide stand first and the others are folded.
type compareFigure struct {
	Name, Value string
	Decides     bool
}

// compareNames are the columns.
var compareNames = []string{
	"pd, share who perceive it", peopleColumn, "from here on all", seatsColumn, cupsColumn,
	"cups to find and wash", "coffee for both lots, g", "water for both lots, L", "cups a taster", caffeineColumn,
}

// The columns that decide between methods.
const (
	peopleColumn   = "assessors, smallest"
	seatsColumn    = "seats, whole blocks"
	cupsColumn     = "cups"
	caffeineColumn = "caffeine a taster, mg"
)

// Names are the columns.
func (compareView) Names() []string { return compareNames }

// compareOf works the comparison out. Its field is no part of the plan: what is
// wrong with it keeps nothing from being sealed.
func compareOf(p session.Plan, f *form) compareView {
	var v compareView
	c, own := comparisonOf(p)
	if own > 0 {
		v.Own = fmt.Sprintf("Left empty it is %s, which %s.", fixed(own, 2), ownWords(p.Tests[0]))
		c.DPrime = own
	} else {
		v.Own = "Left empty it is what the first test’s pd is in its own method."
	}
	if typed := f.text("dPrime"); typed != "" {
		own := &form{values: f.values}
		c.DPrime = own.number("dPrime", "d′")
		if own.Bad() {
			v.Trouble = strings.Replace(own.Fault("dPrime"), "D′", "d′", 1)
		} else if c.DPrime < 0.05 || c.DPrime > 10 {
			v.Trouble = fmt.Sprintf("d′: %s lies outside 0.05 to 10.", num(c.DPrime))
		}
	}
	needs := c.Compare()
	if v.Trouble != "" || needs == nil {
		return v
	}
	v.Risks = "d′ " + trim(c.DPrime, 2)
	if c.Goal != session.GoalSimilarity {
		v.Risks += ", α " + num(c.Alpha)
	}
	if c.Goal != session.GoalDifference {
		v.Risks += ", β " + num(c.Beta)
	}
	v.Risks += ", power " + num(c.Power) + ", goal " + c.Goal
	for _, n := range needs {
		oneWay := c.Goal != session.GoalDifference && !n.Method.ShowsSimilarity(n.TwoSided)
		row := compareRowOf(n, p, oneWay)
		if !oneWay {
			row.take(n, p, f)
		}
		v.Rows = append(v.Rows, row)
		if n.Fewest {
			v.Says = append(v.Says, fewestCups(n)+otherSide(n, needs)+fewestPeople(n, needs))
		}
	}
	return v
}

// comparisonOf takes goal and risks from the plan's first test, and gives the d′
// of its pd, or of its pd limit where it asks for similarity only; 0 for none.
func comparisonOf(p session.Plan) (session.Comparison, float64) {
	t := session.UsualPlan().Tests[0]
	if len(p.Tests) > 0 {
		t = p.Tests[0]
	}
	c := session.Comparison{Goal: t.Goal, Alpha: t.Alpha, Beta: t.Beta, Power: t.Power, Serving: p.Serving}
	m, ok := session.MethodByKey(t.Method)
	pd := t.Pd
	if !t.WantsDifference() {
		pd = t.PdLimit
	}
	if !ok || len(p.Tests) == 0 || !(pd >= 0.01 && pd <= 0.99) {
		return c, 0
	}
	return c, m.Curve.DPrime(stats.PcFromPd(pd, m.Chance()))
}

func ownWords(t session.TestPlan) string {
	m, _ := session.MethodByKey(t.Method)
	if t.WantsDifference() {
		return "pd " + pct(t.Pd) + " is in the first test, a " + m.Name
	}
	return "the pd limit " + pct(t.PdLimit) + " is in the first test, a " + m.Name
}

// comparedName names a method, the paired comparison with its sides.
func comparedName(n session.MethodNeeds) string {
	if n.Method.Key != session.PairedComparison.Key {
		return n.Method.Name
	}
	if n.TwoSided {
		return n.Method.Name + ", two-sided"
	}
	return n.Method.Name + ", one-sided"
}

func compareRowOf(n session.MethodNeeds, p session.Plan, oneWay bool) compareRow {
	r := compareRow{Method: comparedName(n), Fewest: n.Fewest}
	attribute := "of the attribute"
	for _, t := range p.Tests {
		if m, ok := session.MethodByKey(t.Method); ok && !m.Overall && strings.TrimSpace(t.Attribute) != "" {
			attribute = t.Attribute
		}
		if t.Method == n.Method.Key && t.TwoSided == n.TwoSided && t.Blank == "" {
			r.planned(t, n)
		}
	}
	r.Question = "Any difference? “" + n.Method.Ask(session.TestPlan{}) + "”"
	if !n.Method.Overall {
		r.Question = "A named attribute? “" + n.Method.Ask(session.TestPlan{Attribute: attribute}) + "”"
	}
	switch {
	case n.Method.Key == session.ThreeAFC.Key:
		r.Note = "Only where the lots differ in strength alone, never in a sitting with a triangle."
	case n.TwoSided:
		r.Note = "Where it was not known beforehand which lot has less."
	}
	values := make([]string, len(compareNames))
	for i := range values {
		values[i] = "–"
	}
	note := func(say string) { r.Note = strings.TrimSpace(say + " " + r.Note) }
	values[0] = pctTenth(n.Pd)
	if n.Found {
		values[1], values[2], values[3], values[4] = fmt.Sprint(n.First), fmt.Sprint(n.Stable), fmt.Sprint(n.Seats), fmt.Sprint(n.Cups)
		values[5], values[8] = fmt.Sprint(n.Cups+n.Supplies.Spare), fmt.Sprint(n.Supplies.CupsPerSeat)
		if a := (amounts{n.Supplies}); a.WaterEachG > 0 {
			values[6], values[7], values[9] = fixed(a.CoffeeG(), 0), fixed(a.WaterL(), 1), fixed(a.CaffeineMg, 0)
		}
		if say := tooMany(n); say != "" {
			note(say)
		}
		if n.Few {
			note(fewWords)
		}
	} else if n.Beyond {
		most := fmt.Sprintf("%d\u00a0%03d", session.LargestCompared/1000, session.LargestCompared%1000)
		values[1] = ">\u00a0" + most
		note("More than " + most + " assessors: out of reach for a difference this small.")
	} else if oneWay {
		r.Note = "Looks one way only, so it can’t show similarity: lots that differ the other way would pass."
	} else {
		note("No number of assessors can be promised.")
	}
	for i, name := range compareNames {
		r.Figures = append(r.Figures, compareFigure{name, values[i], slices.Contains([]string{peopleColumn, seatsColumn, cupsColumn, caffeineColumn}, name)})
	}
	return r
}

// outOfReach is the number of assessors from which a laboratory is told plainly
// that it won't seat them: the most that a plan takes (our reasoning, no source).
const outOfReach = 500

const fewWords = "Fewer than 30 assessors: for similarity generally not advised (" + fewSource + ")."

// tooMany says so where one session can't hold the seats.
func tooMany(n session.MethodNeeds) string {
	switch {
	case n.Seats > outOfReach:
		return fmt.Sprintf("Out of reach for a laboratory: one session holds %d seats of it at most.", n.Most)
	case n.Seats > n.Most:
		return fmt.Sprintf("One session holds %d seats of it at most: its codes end there.", n.Most)
	}
	return ""
}

// planned says that a test of the plan asks that way, and at which pd where that is
// another one than the comparison's.
func (r *compareRow) planned(t session.TestPlan, n session.MethodNeeds) {
	if r.Same {
		return
	}
	pd := t.Pd
	if !t.WantsDifference() {
		pd = t.PdLimit
	}
	tenth := func(x float64) float64 { return math.Round(1000 * x) }
	r.Same = tenth(pd) == tenth(n.Pd)
	switch {
	case r.Same || math.IsNaN(pd):
		r.Planned = "in this plan"
	case r.Planned == "":
		r.Planned = "in this plan with pd " + pctTenth(pd)
	}
}

// take fills in the button that takes the method into the plan, unless the plan
// would then be refused for it.
func (r *compareRow) take(n session.MethodNeeds, p session.Plan, f *form) {
	i, adds, ok := f.takes(n.Method)
	pd := math.Round(1000*n.Pd) / 10
	switch {
	case !ok:
		return
	case pd < 1 || pd > 99:
		r.Note = strings.TrimSpace(r.Note + " A plan takes a pd from 1 to 99 %.")
		return
	}
	sides := "one"
	if n.TwoSided {
		sides = "two"
	}
	if !adds && f.has(i, n.Method, sides, num(pd)) {
		return
	}
	if say := refusedIfTaken(n.Method.Key, sides, num(pd), p, f); say != "" {
		r.Note = strings.TrimSpace(r.Note + " Not for this plan: " + say)
		return
	}
	r.Take = fmt.Sprintf("take.%s.%s.%s", n.Method.Key, sides, num(pd))
	r.TakeWords = fmt.Sprintf("Take for test %d", i+1)
	if adds {
		r.TakeWords = fmt.Sprintf("Add as test %d", i+1)
	}
	r.TakeAs = comparedName(n) + ", pd " + pctTenth(n.Pd)
}

// refusedIfTaken says why the plan would be refused with the method in it, "" if it
// would not. What is wrong already, and words that are still to be typed, count
// for nothing.
func refusedIfTaken(method, sides, pd string, p session.Plan, f *form) string {
	with := f.copied()
	at := with.take(method, sides, pd)
	was := map[string]bool{}
	for _, x := range p.Check() {
		was[unnumbered(x)] = true
	}
	p.Tests = nil
	for i := range with.rows() {
		p.Tests = append(p.Tests, with.test(i))
	}
	for _, x := range p.Check() {
		if !strings.HasPrefix(x.Field, "tests.") || strings.HasSuffix(x.Field, ".attribute") || strings.HasSuffix(x.Field, ".definition") {
			continue
		}
		if say := unnumbered(x); !was[say] && at != "" {
			return sentence(say)
		}
	}
	return ""
}

// unnumbered is what a fault says of a test, without the number, which another test
// before it changes.
func unnumbered(x session.Fault) string {
	if _, say, ok := strings.Cut(x.Say, ": "); ok && strings.HasPrefix(x.Field, "tests.") {
		return say
	}
	return x.Say
}

// pctTenth is a share in percent, to a tenth, and never a false 0 or 100.
func pctTenth(x float64) string {
	switch {
	case x < 0.001:
		return "<\u00a00.1\u00a0%"
	case x > 0.999:
		return ">\u00a099.9\u00a0%"
	}
	return strings.ReplaceAll(pct(math.Round(1000*x)/1000), " %", "\u00a0%")
}

func forQuestion(m session.Method) string {
	if !m.Overall {
		return "For a named attribute"
	}
	return "For any difference"
}

// fewestCups names the method with the fewest cups for its question, with what must
// be known of it.
func fewestCups(n session.MethodNeeds) string {
	say := fmt.Sprintf("%s the %s needs the fewest cups: %s, in whole blocks %s and %s.",
		forQuestion(n.Method), comparedName(n), counted(n.First, "assessor"), counted(n.Seats, "seat"), counted(n.Cups, "cup"))
	say += methodAdvice(n.Method)
	if n.Few {
		say += " " + fewWords
	}
	if many := tooMany(n); many != "" {
		say += " " + many
	}
	return say
}

// otherSide says of a one-sided paired comparison what it takes for granted, and
// what it costs otherwise.
func otherSide(cups session.MethodNeeds, all []session.MethodNeeds) string {
	if cups.Method.Key != session.PairedComparison.Key || cups.TwoSided {
		return ""
	}
	for _, n := range all {
		if n.Method.Key == cups.Method.Key && n.TwoSided && n.Found {
			return fmt.Sprintf(" That holds where it was known beforehand which lot has less; otherwise, two-sided, it is %s and %s.", counted(n.Seats, "seat"), counted(n.Cups, "cup"))
		}
	}
	return " That holds where it was known beforehand which lot has less."
}

// fewestPeople names the method with the fewest people for the same question, where
// it is another than the one with the fewest cups.
func fewestPeople(cups session.MethodNeeds, all []session.MethodNeeds) string {
	best := cups
	for _, n := range all {
		if n.Found && n.Method.Overall == cups.Method.Overall && n.First < best.First {
			best = n
		}
	}
	if best.First == cups.First {
		return ""
	}
	return fmt.Sprintf(" The %s needs the fewest people: %s, in whole blocks %s and %s.",
		comparedName(best), counted(best.First, "assessor"), counted(best.Seats, "seat"), counted(best.Cups, "cup")) + methodAdvice(best.Method)
}

// methodAdvice is what is advised on a method whatever the plan.
func methodAdvice(m session.Method) string {
	say := ""
	for _, a := range m.Advice {
		if a.Field == "method" {
			say += " " + strings.TrimSuffix(a.Say, ".") + " (" + a.Source + ")."
		}
	}
	return say
}

// tellTaken says at the method that the work goes on at what was changed.
func (v *planView) tellTaken(was *form) {
	at := slices.IndexFunc(v.Tests, func(t planTest) bool { return t.At("method") == v.Focus })
	if at < 0 {
		return
	}
	var before session.TestPlan
	if was.rows() == len(v.Tests) {
		before = was.test(at)
	}
	note := v.Notes[v.Focus]
	note.Told = strings.ReplaceAll(taken(before, *v, at), " %", "\u00a0%")
	v.Notes[v.Focus] = note
}

// taken says what taking a method has changed, and how to go back: a test as it was
// before, its name "" for none, and the plan as it is now.
func taken(before session.TestPlan, v planView, at int) string {
	now := v.Plan.Tests[at]
	say := fmt.Sprintf("Test %d is now a %s.", at+1, testWords(now))
	back := "To go back, remove it."
	if before.Method != "" {
		say = fmt.Sprintf("Test %d was a %s and is now a %s.", at+1, testWords(before), testWords(now))
		back = fmt.Sprintf("To go back, choose %s again.", testWords(before))
	}
	return say + " " + seatsNow(v.Plan) + " " + back
}

// testWords name a test by its method, sides and pd.
func testWords(t session.TestPlan) string {
	m, _ := session.MethodByKey(t.Method)
	say := comparedName(session.MethodNeeds{Method: m, TwoSided: t.TwoSided})
	if t.WantsDifference() {
		say += " with pd " + pctTenth(t.Pd)
	}
	if t.WantsSimilarity() && !(t.WantsDifference() && t.Pd == t.PdLimit) {
		say += " with pd limit " + pctTenth(t.PdLimit)
	}
	return say
}

// seatsNow says that the seats stay, and how many would do.
func seatsNow(p session.Plan) string {
	say := "Seats stay " + fmt.Sprint(p.Seats)
	p.Flights = nil
	forecasts := p.Forecast()
	if len(forecasts) != len(p.Tests) {
		return say + "."
	}
	switch least := session.SeatsEnough(forecasts, 2, wholeBlock(forecasts)); {
	case least == 0:
		return say + "."
	case least == p.Seats:
		return say + ", the fewest in whole blocks that do for this plan."
	default:
		return fmt.Sprintf("%s; %d would do for this plan.", say, least)
	}
}
