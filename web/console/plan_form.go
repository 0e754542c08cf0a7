package console

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"oddcup/session"
)

// mostTests is the most tests that the page plans: more than anyone can taste
// in a session.
const mostTests = 4

// mostRows bounds the rows that a form is read for.
const mostRows = 20

func testField(i int, name string) string { return fmt.Sprintf("tests.%d.%s", i, name) }

// shape is what decides which fields a test has a use for. A field without one
// is hidden, keeps what was typed in it, and is not read.
type shape struct {
	Method  session.Method
	Known   bool             // the method is
	Plan    session.TestPlan // its goal and whether it may stop early
	CanStop bool             // it may stop early, or stands where it could
}

func shapeOf(f *form, i int) shape {
	var s shape
	s.Method, s.Known = session.MethodByKey(f.Value(testField(i, "method")))
	s.Plan.Goal = f.Value(testField(i, "goal"))
	s.Plan.Sequential = f.Is(testField(i, "sequential"), "on")
	s.CanStop = s.Plan.Sequential || i == f.rows()-1
	return s
}

// Uses reports whether a field is of use.
func (s shape) Uses(name string) bool {
	switch name {
	case "alpha", "pd":
		return s.Plan.WantsDifference()
	case "beta":
		return s.Plan.WantsSimilarity() || s.Plan.Sequential
	case "pdLimit":
		return s.Plan.WantsSimilarity()
	case "reference":
		return s.Known && s.Method.Constant != nil
	case "attribute", "definition", "more":
		return s.Known && !s.Method.Overall
	case "sided":
		return s.Method.Key == session.PairedComparison.Key
	case "blank":
		return s.Known && s.Method.Overall
	case "sequential":
		return s.CanStop
	}
	return true
}

// option is a choice of a select.
type option struct {
	Value, Words string
	Chosen       bool
}

// Options are the choices of a field, given as values and words in turn. What
// was sent and is none of them stands last, so that it is not lost.
func (f *form) Options(name string, pairs []any) []option {
	var all []option
	found := false
	for i := 0; i+1 < len(pairs); i += 2 {
		o := option{Value: fmt.Sprint(pairs[i]), Words: fmt.Sprint(pairs[i+1])}
		o.Chosen = f.Is(name, o.Value)
		found = found || o.Chosen
		all = append(all, o)
	}
	if !found {
		all = append(all, option{f.Value(name), f.Value(name) + " (not known)", true})
	}
	return all
}

// copied is the form with the same values, to try something on.
func (f *form) copied() *form {
	values := make(url.Values, len(f.values))
	for name, v := range f.values {
		values[name] = slices.Clone(v)
	}
	return &form{values: values}
}

// rows is the number of tests in the form.
func (f *form) rows() int {
	n := 0
	for n < mostRows && f.values.Has(testField(n, "method")) {
		n++
	}
	return n
}

// usualTest is the test whose figures stand where none were given yet.
func usualTest() session.TestPlan {
	t := session.UsualPlan().Tests[1]
	t.Beta, t.PdLimit = 0.05, 0.3
	return t
}

// planForm shows a plan. Its pd are in percent; a field that a test has no use
// for holds the usual figure.
func planForm(p session.Plan) *form {
	s := p.Serving
	f := filled(
		"title", p.Title, "untreated", string(p.Untreated.ID), "processed", string(p.Processed.ID),
		"seats", strconv.Itoa(p.Seats), "flights", flightsText(p.Flights),
		"serving.fillG", num(s.FillG), "serving.lowC", num(s.LowC), "serving.highC", num(s.HighC),
		"serving.doseGPerL", num(s.DoseGPerL), "serving.rinseS", strconv.Itoa(s.RinseS),
		"serving.swallow", s.Swallow, "serving.allergens", s.Allergens,
	)
	tick := func(name string, on bool) {
		if on {
			f.values.Set(name, "on")
		}
	}
	tick("practice", p.Practice)
	tick("serving.redLight", s.RedLight)
	tick("serving.gate", s.Gate)
	f.setConditions(p.Conditions)
	f.setJudging(p)
	tick("serving.ownResult", s.OwnResult)
	for i, t := range p.Tests {
		f.setTest(i, t)
	}
	return f
}

// setTest writes a test into its row.
func (f *form) setTest(i int, t session.TestPlan) {
	set := func(name, value string) { f.values.Set(testField(i, name), value) }
	set("method", t.Method)
	set("goal", t.Goal)
	set("sets", strconv.Itoa(t.Sets))
	s, usual := shapeOf(f, i), usualTest()
	s.Plan.Sequential = t.Sequential
	figure := func(name string, x, otherwise, times float64) {
		if !s.Uses(name) {
			x = otherwise
		}
		set(name, num(times*x))
	}
	figure("alpha", t.Alpha, usual.Alpha, 1)
	figure("pd", t.Pd, usual.Pd, 100)
	figure("power", t.Power, usual.Power, 1)
	figure("beta", t.Beta, usual.Beta, 1)
	figure("pdLimit", t.PdLimit, usual.PdLimit, 100)
	if !s.Uses("attribute") {
		t.Attribute, t.Definition = usual.Attribute, usual.Definition
	}
	set("attribute", t.Attribute)
	set("definition", t.Definition)
	set("reference", t.Reference)
	set("blank", t.Blank)
	set("more", map[bool]string{false: "less", true: "more"}[t.More])
	set("sided", map[bool]string{false: "one", true: "two"}[t.TwoSided])
	if t.Sequential {
		set("sequential", "on")
	}
}

func flightsText(sizes []int) string {
	var words []string
	for _, n := range sizes {
		words = append(words, strconv.Itoa(n))
	}
	return strings.Join(words, ", ")
}

// readPlan reads the form; a field that can't be read is a fault of the form,
// and its value NaN or 0. Lots are copied from the register as it now is.
func readPlan(f *form, lab *session.Lab) session.Plan {
	p := session.Plan{
		Title: f.text("title"), Seats: f.count("seats", "seats"), Flights: f.flights(),
		Practice: f.Is("practice", "on"),
	}
	p.Untreated, _ = lab.Lot(session.LotID(f.text("untreated")))
	p.Processed, _ = lab.Lot(session.LotID(f.text("processed")))
	p.Serving = session.Serving{
		FillG: f.number("serving.fillG", "fill"),
		LowC:  f.number("serving.lowC", "served from"), HighC: f.number("serving.highC", "served to"),
		DoseGPerL: f.number("serving.doseGPerL", "dose"), RinseS: f.count("serving.rinseS", "rinse"),
		Swallow: f.text("serving.swallow"), Allergens: f.text("serving.allergens"),
		RedLight: f.Is("serving.redLight", "on"), OwnResult: f.Is("serving.ownResult", "on"),
		Gate: f.Is("serving.gate", "on"),
	}
	p.Conditions = f.conditions()
	p.Control, p.Eligible = f.control(), f.text("eligible")
	for i := range f.rows() {
		p.Tests = append(p.Tests, f.test(i))
	}
	if len(p.Tests) > mostTests {
		f.bad("tests", fmt.Sprintf("the plan has %d tests; at most %d fit into a session, so remove one", len(p.Tests), mostTests))
	}
	return p
}

// setConditions writes conditions into their fields; what is not stated stays
// empty.
func (f *form) setConditions(c session.Conditions) {
	set := func(name, value string) { f.values.Set("conditions."+name, value) }
	figure := func(name string, x float64) {
		if x != 0 {
			set(name, num(x))
		}
	}
	set("place", c.Place)
	set("storage", c.Storage)
	set("light", c.Light)
	set("partitions", c.Partitions)
	set("masking", c.Masking)
	set("vessels", c.Vessels)
	if c.Lids {
		set("lids", "on")
	}
	figure("discardMin", float64(c.DiscardMin))
	set("roast", c.Roast)
	set("water", c.Water)
	figure("holdMin", float64(c.HoldMin))
	figure("holdLowC", c.HoldLowC)
	figure("holdHighC", c.HoldHighC)
	set("warmUp", c.WarmUp)
	set("cleanser", c.Cleanser)
	set("retaste", c.Retaste)
}

// conditions reads what setConditions writes. An empty figure is not stated; a
// typed 0 is refused rather than taken for an empty field.
func (f *form) conditions() session.Conditions {
	text := func(name string) string { return f.text("conditions." + name) }
	none := func(name, what string, zero bool) {
		if zero && f.Fault("conditions."+name) == "" {
			f.bad("conditions."+name, what+": 0 says nothing; leave it empty where the plan says nothing")
		}
	}
	minutes := func(name, what string) int {
		if text(name) == "" {
			return 0
		}
		n := f.count("conditions."+name, what)
		none(name, what, n == 0)
		return n
	}
	degrees := func(name, what string) float64 {
		if text(name) == "" {
			return 0
		}
		x := f.number("conditions."+name, what)
		none(name, what, x == 0)
		return x
	}
	return session.Conditions{
		Place: text("place"), Storage: text("storage"),
		Light: text("light"), Partitions: text("partitions"), Masking: text("masking"),
		Vessels: text("vessels"), Lids: f.Is("conditions.lids", "on"), DiscardMin: minutes("discardMin", "a poured cup is thrown away after"),
		Roast: text("roast"), Water: text("water"), HoldMin: minutes("holdMin", "a brew is held for"),
		HoldLowC: degrees("holdLowC", "a brew is held from"), HoldHighC: degrees("holdHighC", "a brew is held up to"),
		WarmUp: text("warmUp"), Cleanser: text("cleanser"), Retaste: text("retaste"),
	}
}

// conditionFields are the fields of conditions in the page's order.
var conditionFields = []string{
	"conditions.place", "conditions.light", "conditions.partitions", "conditions.masking", "conditions.vessels", "conditions.discardMin",
	"conditions.storage", "conditions.roast", "conditions.water", "conditions.holdMin", "conditions.holdLowC", "conditions.holdHighC",
	"conditions.warmUp", "conditions.cleanser", "conditions.retaste",
}

// ConditionsWrong reports whether a field of the folded conditions is refused,
// so that they are unfolded.
func (v planView) ConditionsWrong() bool {
	return slices.ContainsFunc(conditionFields, func(name string) bool { return v.Notes[name].Fault != "" })
}

// ConditionsStated is the number of conditions that the form states.
func (v planView) ConditionsStated() int {
	n := 0
	for _, name := range append([]string{"conditions.lids"}, conditionFields...) {
		if v.Form.text(name) != "" {
			n++
		}
	}
	return n
}

// test reads a row.
func (f *form) test(i int) session.TestPlan {
	s := shapeOf(f, i)
	what := func(name string) string { return fmt.Sprintf("test %d: %s", i+1, name) }
	words := func(name string) string {
		if s.Uses(name) {
			return f.text(testField(i, name))
		}
		return ""
	}
	// A share may be typed with a sign of percent wherever it stands.
	figure := func(name, symbol string) (x float64, signed bool) {
		if s.Uses(name) {
			return f.share(testField(i, name), what(symbol))
		}
		return 0, false
	}
	percent := func(name, symbol string) float64 {
		x, _ := figure(name, symbol)
		if s.Uses(name) && !math.IsNaN(x) && (x < 1 || x > 99) {
			f.bad(testField(i, name), what(fmt.Sprintf("%s: %s %% lies outside 1 to 99 %%", symbol, num(x))))
		}
		return x / 100
	}
	risk := func(name, symbol string, least, most float64) float64 {
		x, signed := figure(name, symbol)
		if signed {
			x /= 100
		}
		if s.Uses(name) && !math.IsNaN(x) && (x < least || x > most) {
			say := fmt.Sprintf("%s: %s lies outside %s to %s", symbol, f.text(testField(i, name)), num(least), num(most))
			if hundredth := x / 100; !signed && hundredth >= least && hundredth <= most {
				say += fmt.Sprintf("; %s %% is %s", num(x), num(hundredth))
			}
			f.bad(testField(i, name), what(say))
		}
		return x
	}
	return session.TestPlan{
		Method: f.text(testField(i, "method")), Goal: f.text(testField(i, "goal")),
		Sets:  f.count(testField(i, "sets"), what("sets per seat")),
		Alpha: risk("alpha", "α", 0.0001, 0.4), Pd: percent("pd", "pd"), Power: risk("power", "power", 0.5, 0.999),
		Beta: risk("beta", "β", 0.0001, 0.4), PdLimit: percent("pdLimit", "pd limit"),
		Reference: words("reference"), Attribute: words("attribute"), Definition: words("definition"),
		More: words("more") == "more", TwoSided: words("sided") == "two",
		Blank: words("blank"), Sequential: s.Plan.Sequential,
	}
}

// share reads a number that may have a sign of percent behind it.
func (f *form) share(name, what string) (x float64, signed bool) {
	bare, signed := strings.CutSuffix(f.text(name), "%")
	if !signed {
		return f.number(name, what), false
	}
	one := filled(name, bare)
	if x = one.number(name, what); one.Bad() {
		f.bad(name, fmt.Sprintf("%s: %s is not a number", what, quoted(f.text(name))))
	}
	return x, true
}

// flights reads the sizes of flights, nil for none: "12, 12, 6".
func (f *form) flights() []int {
	var sizes []int
	for _, word := range strings.FieldsFunc(f.text("flights"), func(r rune) bool { return strings.ContainsRune(",;+ \t\n", r) }) {
		n, err := strconv.Atoi(word)
		if err != nil {
			f.bad("flights", fmt.Sprintf("flights: %s is not a whole number; type the seats of each flight, as 12, 12, 6", quoted(word)))
			return nil
		}
		sizes = append(sizes, n)
	}
	return sizes
}

// makeSeats sets seats, and flights where the largest flight and the multiple that
// each is of follow: "66/12/6".
func (f *form) makeSeats(to string) {
	parts := append(strings.Split(to, "/"), "", "")
	f.values.Set("seats", parts[0])
	f.values.Set("flights", "")
	n, _ := strconv.Atoi(parts[0])
	size, _ := strconv.Atoi(parts[1])
	block, _ := strconv.Atoi(parts[2])
	if block > 0 && size > 1 && n > size && n <= 500 && size%block == 0 && n%block == 0 {
		f.values.Set("flights", flightsText(flightsOf(n, size, block)))
	}
}
