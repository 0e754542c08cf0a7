package session

import (
	"errors"
	"strings"
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

	// Flights are the numbers of seats served together, one after the other or
	// on other days, each from its own brews; they add up to Seats. Empty: all
	// seats are one flight.
	Flights []int `json:"flights,omitempty"`

	// Practice sessions tell each taster at once whether an answer was right,
	// and never count.
	Practice bool `json:"practice,omitempty"`

	Conditions Conditions `json:"conditions,omitzero"`

	// Control is for sessions of control sets; nil for all others.
	Control *Control `json:"control,omitempty"`

	// Eligible names the rule of the register that people must hold who are to
	// taste; "" for anybody. Who held it is listed when the plan is sealed.
	Eligible string `json:"eligible,omitempty"`
}

// TestPlan is one test of a session: one comparison with its method, goal,
// risks and number fixed beforehand.
type TestPlan struct {
	Method string `json:"method"`
	Goal   string `json:"goal"`
	Sets   int    `json:"sets"` // sets per seat

	// Alpha is the risk of calling identical lots different, 0.0001 to 0.4; a
	// similarity test has none.
	Alpha float64 `json:"alpha"`

	// Pd is the proportion of discriminators worth finding, in (0, 1), and
	// Power the wanted probability of finding it; in a similarity test Power is
	// the wanted probability that identical lots pass. In (0, 1).
	Pd    float64 `json:"pd"`
	Power float64 `json:"power"`

	// Beta is the risk of calling lots similar that as many as PdLimit of the
	// people can tell apart. For the goals similarity and both; a sequential
	// test has a Beta for its Pd.
	Beta    float64 `json:"beta,omitempty"`
	PdLimit float64 `json:"pdLimit,omitempty"`

	// Reference is for the duo-trio test: "" or [ReferenceConstant].
	Reference string `json:"reference,omitempty"`

	// Attribute, Definition, More and TwoSided are for attribute tests. The
	// question asks for less of the attribute, or for more of it. One-sided
	// means that the processed lot was named before the test.
	Attribute  string `json:"attribute,omitempty"`
	Definition string `json:"definition,omitempty"`
	More       bool   `json:"more,omitempty"`
	TwoSided   bool   `json:"twoSided,omitempty"`

	// Blank makes the test a blank one, of two brews of one lot: "untreated" or
	// "processed". It shows whether the brewer was tasted, and stands outside
	// the registered order.
	Blank string `json:"blank,omitempty"`

	// Sequential tests may stop after a whole round, by Wald's lines for Alpha,
	// Beta and Pd.
	Sequential bool `json:"sequential,omitempty"`
}

// The goals of a test.
const (
	GoalDifference = "difference" // to show that a perceptible difference exists
	GoalSimilarity = "similarity" // to show that fewer than PdLimit perceive one
	GoalBoth       = "both"       // each by its own rule
)

// ReferenceConstant makes the untreated lot the reference in every set of a
// duo-trio test; else either lot is equally often (ISO 10399).
const ReferenceConstant = "constant"

// The lots that a blank test can be of.
const (
	BlankUntreated = "untreated"
	BlankProcessed = "processed"
)

// WantsDifference and WantsSimilarity report what the goal includes.
func (t TestPlan) WantsDifference() bool { return t.Goal == GoalDifference || t.Goal == GoalBoth }

// WantsSimilarity reports whether the goal includes similarity.
func (t TestPlan) WantsSimilarity() bool { return t.Goal == GoalSimilarity || t.Goal == GoalBoth }

// Orders are the serving orders of the test; a whole block holds each once.
func (t TestPlan) Orders() []string {
	m, _ := MethodByKey(t.Method)
	if t.Reference == ReferenceConstant && m.Constant != nil {
		return m.Constant
	}
	return m.Orders
}

// less and least are the words of the question for the direction asked for.
func (t TestPlan) less() string {
	if t.More {
		return "more"
	}
	return "less"
}

func (t TestPlan) least() string {
	if t.More {
		return "most"
	}
	return "least"
}

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

	// Gate makes serving wait for a cup's measured temperature within LowC to
	// HighC.
	Gate bool `json:"gate,omitempty"`
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

// FlightSizes are the seats of each flight: at least one flight.
func (p Plan) FlightSizes() []int {
	if len(p.Flights) == 0 {
		return []int{p.Seats}
	}
	return p.Flights
}

// FlightOf gives the flight, from 1, of a seat, and the seat's number in it,
// from 1; 0 and 0 for a seat that the plan doesn't have.
func (p Plan) FlightOf(seat int) (flight, number int) {
	if seat < 1 {
		return 0, 0
	}
	for i, n := range p.FlightSizes() {
		if seat <= n {
			return i + 1, seat
		}
		seat -= n
	}
	return 0, 0
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
