package session

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// Plan is what a session is meant to show and how it is served. Sealing fixes
// it. Lots are copies of what the laboratory's register said at that time.
type Plan struct {
	Title     string     `json:"title"` // neutral: tasters see it
	Untreated Lot        `json:"untreated"`
	Processed Lot        `json:"processed"`
	Tests     []TestPlan `json:"tests"` // in the registered order; the first is primary
	Seats     int        `json:"seats"`
	Serving   Serving    `json:"serving"`
}

// TestPlan is one test of a session: one comparison with its method, goal,
// risks and number fixed beforehand.
type TestPlan struct {
	Method string `json:"method"`
	Goal   string `json:"goal"`
	Sets   int    `json:"sets"` // sets per seat

	// Alpha is the risk of calling identical lots different, 0.0001 to 0.4.
	Alpha float64 `json:"alpha"`

	// Pd is the proportion of discriminators worth finding, in (0, 1), and
	// Power the wanted probability of finding it, in (0, 1).
	Pd    float64 `json:"pd"`
	Power float64 `json:"power"`

	// Attribute, Definition and TwoSided are for attribute tests. The question
	// asks for less of the attribute. One-sided means that the processed lot
	// was named as the one with less before the test.
	Attribute  string `json:"attribute,omitempty"`
	Definition string `json:"definition,omitempty"`
	TwoSided   bool   `json:"twoSided,omitempty"`
}

// GoalDifference is the aim to show that a perceptible difference exists.
const GoalDifference = "difference"

// Serving is how the cups are served. Temperatures are in °C, masses in g.
type Serving struct {
	FillG     float64 `json:"fillG"`     // coffee in each cup
	LowC      float64 `json:"lowC"`      // cups are served from this temperature
	HighC     float64 `json:"highC"`     // up to this one
	DoseGPerL float64 `json:"doseGPerL"` // ground coffee per litre of brewing water
	RinseS    int     `json:"rinseS"`    // pause after each set but the last, s
	Swallow   string  `json:"swallow"`   // what tasters are told, the same for all cups
	Allergens string  `json:"allergens"` // of what stands near the cups
	RedLight  bool    `json:"redLight"`  // phones show the red-light theme
	OwnResult bool    `json:"ownResult"` // after the reveal phones show the own answers
}

// UsualPlan is the usual session of two tests, as a start: a triangle, then
// body by a paired comparison. Its figures are common practice, no source.
func UsualPlan() Plan {
	return Plan{
		Tests: []TestPlan{
			{Method: Triangle.Key, Goal: GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.4, Power: 0.8},
			{
				Method: PairedComparison.Key, Goal: GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.4, Power: 0.8,
				Attribute:  "body",
				Definition: "Body: how full, heavy and thick the coffee feels in the mouth. Not bitterness, not strength of taste.",
			},
		},
		Seats: 24,
		Serving: Serving{
			FillG: 30, LowC: 55, HighC: 65, DoseGPerL: 60, RinseS: 60,
			Swallow: "Spit or swallow, but do the same with every cup.",
		},
	}
}

// SetsPerSeat is the number of sets each seat gets in the whole session.
func (p Plan) SetsPerSeat() int {
	n := 0
	for _, t := range p.Tests {
		n += t.Sets
	}
	return n
}

// CupsPerSeat is the number of cups each seat gets, replacements aside.
func (p Plan) CupsPerSeat() int {
	n := 0
	for _, t := range p.Tests {
		if m, ok := MethodByKey(t.Method); ok {
			n += t.Sets * m.Cups
		}
	}
	return n
}

// TestOfSet gives the index in Tests, from 0, of a seat's set, numbered from 1.
func (p Plan) TestOfSet(set int) int {
	for i, t := range p.Tests {
		if set <= t.Sets {
			return i
		}
		set -= t.Sets
	}
	return -1
}

// Fault is one thing wrong in a plan: the field and what to do.
type Fault struct {
	Field string // as the plan page names it: "title", "seats", "tests.0.alpha"
	Say   string
}

// Faults are all things wrong in a plan; as an error they are one line.
type Faults []Fault

func (f Faults) Error() string {
	var say []string
	for _, x := range f {
		say = append(say, x.Say)
	}
	return strings.Join(say, "; ")
}

// ErrPlan is what every Faults matches with errors.Is.
var ErrPlan = errors.New("the plan can't be sealed as it stands")

// Is makes errors.Is(faults, ErrPlan) true.
func (f Faults) Is(target error) bool { return target == ErrPlan }

// Check returns what stands in the way of sealing, nil if nothing does.
// Advice that doesn't forbid is in [Forecast].
func (p Plan) Check() Faults {
	var f Faults
	bad := func(field, format string, args ...any) {
		f = append(f, Fault{field, fmt.Sprintf(format, args...)})
	}
	p.checkWords(bad)
	switch {
	case p.Untreated.ID == "":
		bad("untreated", "choose the untreated lot")
	case p.Processed.ID == "":
		bad("processed", "choose the processed lot")
	case p.Untreated.ID == p.Processed.ID:
		bad("processed", "both lots are %s: choose two lots", p.Untreated.Number)
	}
	if p.Seats < 2 || p.Seats > 500 {
		bad("seats", "seats: %d is outside 2 to 500", p.Seats)
	}
	overallDone := true
	for i, t := range p.Tests {
		at := func(name string) string { return fmt.Sprintf("tests.%d.%s", i, name) }
		m, ok := MethodByKey(t.Method)
		if !ok {
			bad(at("method"), "test %d: no method is called %q", i+1, t.Method)
			continue
		}
		if t.Goal != GoalDifference {
			bad(at("goal"), "test %d: the goal %q is not known; use %q", i+1, t.Goal, GoalDifference)
		}
		if t.Sets < 1 || t.Sets > 6 {
			bad(at("sets"), "test %d: %d sets per seat is outside 1 to 6", i+1, t.Sets)
		}
		if !within(t.Alpha, 0.0001, 0.4) {
			bad(at("alpha"), "test %d: α is %v; it lies between 0.0001 and 0.4", i+1, t.Alpha)
		}
		if !within(t.Pd, 0.01, 0.99) {
			bad(at("pd"), "test %d: pd is %v; it lies between 0.01 and 0.99", i+1, t.Pd)
		}
		if !within(t.Power, 0.5, 0.999) {
			bad(at("power"), "test %d: the wanted power is %v; it lies between 0.5 and 0.999", i+1, t.Power)
		}
		if m.Overall {
			if t.TwoSided {
				bad(at("sided"), "test %d: a %s has one side only: the odd cup is found or not", i+1, m.Name)
			}
			if !overallDone {
				bad(at("method"), "test %d: an attribute test must not come before a test for any difference on the same lots: it tells what to look for", i+1)
			}
			continue
		}
		overallDone = false
		if t.Sets != 1 {
			bad(at("sets"), "test %d: one %s set per seat, since people may lean one way steadily", i+1, m.Name)
		}
		switch n := utf8.RuneCountInString(t.Attribute); {
		case strings.TrimSpace(t.Attribute) == "":
			bad(at("attribute"), "test %d: name the attribute", i+1)
		case n > 30:
			bad(at("attribute"), "test %d: the attribute has %d characters; 30 fit", i+1, n)
		}
		switch n := utf8.RuneCountInString(t.Definition); {
		case strings.TrimSpace(t.Definition) == "":
			bad(at("definition"), "test %d: define the attribute in words that a taster can use", i+1)
		case n > 300:
			bad(at("definition"), "test %d: the definition has %d characters; 300 fit", i+1, n)
		}
	}
	if len(p.Tests) == 0 {
		bad("tests", "the plan has no test")
	}
	p.checkServing(bad)
	if len(f) == 0 {
		if need, have := p.codesNeeded(), len(usableCodes); need > have {
			bad("seats", "%d seats need %d codes with their replacements, and there are %d: %d seats would do", p.Seats, need, have, have/(2*p.CupsPerSeat()))
		}
	}
	return f
}

func (p Plan) checkWords(bad func(field, format string, args ...any)) {
	title := strings.TrimSpace(p.Title)
	switch {
	case title == "":
		bad("title", "give the session a title; tasters see it, so name no lot and no attribute")
	case utf8.RuneCountInString(p.Title) > 60:
		bad("title", "the title has %d characters; 60 fit", utf8.RuneCountInString(p.Title))
	}
	low := strings.ToLower(title)
	for _, l := range []Lot{p.Untreated, p.Processed} {
		if l.Number != "" && strings.Contains(low, strings.ToLower(l.Number)) {
			bad("title", "the title names lot %s, and tasters see the title", l.Number)
			break
		}
	}
	for _, t := range p.Tests {
		a := strings.ToLower(strings.TrimSpace(t.Attribute))
		if a != "" && strings.Contains(low, a) {
			bad("title", "the title names the attribute %s, and tasters see the title", a)
		}
	}
	for _, w := range []struct{ field, words string }{
		{"serving.swallow", p.Serving.Swallow}, {"serving.allergens", p.Serving.Allergens},
	} {
		if utf8.RuneCountInString(w.words) > 200 {
			bad(w.field, "%s: %d characters; 200 fit", w.field, utf8.RuneCountInString(w.words))
		}
	}
}

func (p Plan) checkServing(bad func(field, format string, args ...any)) {
	s := p.Serving
	if !within(s.FillG, 5, 300) {
		bad("serving.fillG", "fill: %v g is outside 5 to 300 g a cup", s.FillG)
	}
	if !within(s.LowC, 5, 75) || !within(s.HighC, 5, 75) || s.LowC >= s.HighC {
		bad("serving.lowC", "serving temperature: from %v to %v °C; give a range between 5 and 75 °C, since hotter drinks scald", s.LowC, s.HighC)
	}
	if !within(s.DoseGPerL, 10, 200) {
		bad("serving.doseGPerL", "dose: %v g per litre is outside 10 to 200", s.DoseGPerL)
	}
	if s.RinseS < 0 || s.RinseS > 900 {
		bad("serving.rinseS", "rinse: %d s is outside 0 to 900", s.RinseS)
	}
}

// figuresMissing reports a figure that no journal can hold.
func (p Plan) figuresMissing() bool {
	figures := []float64{p.Serving.FillG, p.Serving.LowC, p.Serving.HighC, p.Serving.DoseGPerL}
	for _, t := range p.Tests {
		figures = append(figures, t.Alpha, t.Pd, t.Power)
	}
	for _, x := range figures {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return true
		}
	}
	return false
}

func (p Plan) codesNeeded() int { return 2 * p.Seats * p.CupsPerSeat() }

// within is false for NaN.
func within(x, low, high float64) bool { return !math.IsNaN(x) && x >= low && x <= high }
