package session

import (
	"fmt"
	"math"
	"strings"

	"oddcup/stats"
)

// Forecast is what one test of a plan can show, known before anyone tastes.
type Forecast struct {
	Plan    TestPlan
	Method  Method
	Number  int // of the test, from 1
	Answers int // planned: seats times sets
	N       int // counted: the answers, or the seats where assessors are counted

	// Refused says why the plan can't be sealed with this test; "" if it can. A
	// refused test promises nothing, so all that follows is left out.
	Refused string

	// For a difference; zero where the goal has none. With several sets a seat
	// power and sizes go by people, as pd does: who perceives the difference gets
	// every set right, and all others guess. See [stats.Perceivers].
	MinCorrect  int
	HasMin      bool
	ActualAlpha float64
	Power       float64   // at the planned pd
	AtBest      float64   // the same if all had equal ability; Power where there is one set a seat
	AtPd        []PdPower // at three pd
	Curve       []NPower  // power at the planned pd over n, at whole seats
	First       int       // smallest n that reaches both risks; 0: none can be promised
	Stable      int       // smallest n from which every larger one does as well
	Detectable  float64   // smallest pd found with the wanted power
	CanDetect   bool      // false: no pd is

	// For similarity; zero where the goal has none. With several sets a seat each
	// taster's own share decides and not the count, so there is no count to reach:
	// of these figures only HasMax, People, and PassAlike with its curve are set.
	MinSimilar    int // two-sided: smallest count that shows similarity
	MaxCorrect    int
	HasMax        bool // false: nothing allows the conclusion; see NoConclusion
	ActualBeta    float64
	People        int      // with several sets: the fewest people from whom it can be concluded; 0: more than any plan takes
	PassAlike     float64  // probability that identical lots pass; an estimate with several sets
	SimilarCurve  []NPower // that probability over n
	SimilarFirst  int
	SimilarStable int
	Within        float64 // smallest pd limit that so many can promise
	CanPromise    bool    // false: none can

	// Reached is the probability that the registered order comes to this test where
	// the lots differ as it supposes, ReachedAlike where they are alike as it
	// supposes, and Order says which tests decide that, and how. Each is 1 where the
	// goal has none, for the first and for a blank test. The tests before it are
	// taken as independent.
	Reached, ReachedAlike float64
	Order                 Order

	// Risks are those of a sequential test, by people with several sets a seat, and
	// BestEnd is then its end at the planned pd if all had equal ability.
	Risks   *stats.SequentialRisks
	BestEnd *stats.SequentialOutcome
	Lines   *stats.SequentialLines

	Block    int  // seats in a whole block of serving orders
	Balanced bool // every flight is of whole blocks
	Habit    int  // most that one place habit of the whole panel gets right
	Even     int  // smallest number of seats from the planned one up that balances and reaches the goal, were this the only test; 0: none, or a sequential test
	Warnings []string
	Short    int // how many of Warnings, the first ones, say how far the goal is reached

	half   float64   // of a sequential test: see PassHalf
	powers []float64 // with several sets a seat: power at the planned pd, by seats
}

// PdPower is a power at a proportion of discriminators.
type PdPower struct{ Pd, Power float64 }

// NPower is a power at a number of counted answers.
type NPower struct {
	N        int
	Power    float64
	Balanced bool
}

// forecastPd are the three pd that every plan is shown against: a small, a
// medium and a large share of people who perceive the difference. Common
// practice, no source.
var forecastPd = []float64{0.2, 0.3, 0.4}

// mostForecast is the most answers that a forecast is made for.
const mostForecast = 5000

// Forecast says what each test of the plan can show. It works on plans that
// don't pass Check, as long as a test's method is known and its figures are in
// range.
func (p Plan) Forecast() []Forecast {
	var all, before []Forecast // before: those that the order must come past
	refused := p.refusedTests()
	for i, t := range p.Tests {
		m, ok := MethodByKey(t.Method)
		n := p.Seats * t.Sets
		usable := true
		t.checkRisks(func(string, string, ...any) { usable = false })
		if !ok || !usable || p.Seats < 1 || t.Sets < 1 || n < 1 || n > mostForecast {
			continue
		}
		f := Forecast{Plan: t, Method: m, Number: i + 1, Answers: n, N: n, Block: len(t.Orders()), Refused: refused[i], Reached: 1, ReachedAlike: 1}
		if f.majorities() {
			f.N = p.Seats
		}
		f.balance(p)
		if f.Refused != "" {
			all = append(all, f)
			continue
		}
		if t.WantsDifference() {
			f.difference(p.Seats)
		}
		if t.WantsSimilarity() {
			f.similarity(p.Seats)
		}
		// A draft may have what no sequential test can: see checkSequential.
		if t.Sequential && t.WantsDifference() && t.Alpha+t.Beta < 1 && p.FlightSizes()[0] >= 1 {
			f.sequential(p.sequentialOf(i))
		}
		if f.Risks == nil {
			f.Even = f.even(p.Seats)
		}
		if t.Blank == "" {
			f.inOrder(before, p.Seats)
			before = append(before, f)
		}
		if !p.Practice {
			f.warn()
		}
		all = append(all, f)
	}
	return all
}

// refusedTests are the tests, from 0, that [Plan.Check] refuses as they are, with
// its reason. Words that are still to be typed are no refusal.
func (p Plan) refusedTests() map[int]string {
	refused := map[int]string{}
	p.checkTests(func(field, format string, args ...any) {
		var i int
		var name string
		if n, _ := fmt.Sscanf(field, "tests.%d.%s", &i, &name); n < 2 || name == "attribute" || name == "definition" || refused[i] != "" {
			return
		}
		refused[i] = strings.TrimPrefix(fmt.Sprintf(format, args...), fmt.Sprintf("test %d: ", i+1))
	})
	return refused
}

func (f *Forecast) majorities() bool { return !f.Method.Overall && f.Plan.Sets > 1 }

// Counts names what the test counts, one of them.
func (f *Forecast) Counts() string {
	if f.majorities() {
		return "assessor"
	}
	return "answer"
}

func (f *Forecast) sided() stats.Sided {
	if f.Plan.TwoSided {
		return stats.TwoSided
	}
	return stats.OneSided
}

// balance tells whether orders are used equally often, and what it costs where
// they are not: with one place habit of everybody, each round's whole blocks
// give the share of guessing, and what is left over may all be right.
func (f *Forecast) balance(p Plan) {
	f.Balanced = true
	perPlace := int(math.Round(float64(f.Block) * f.Method.Chance()))
	for _, seats := range p.FlightSizes() {
		blocks, rest := seats/f.Block, seats%f.Block
		f.Balanced = f.Balanced && rest == 0
		f.Habit += f.Plan.Sets * (blocks*perPlace + min(rest, perPlace))
	}
}

func (f *Forecast) difference(seats int) {
	t, m := f.Plan, f.Method
	f.MinCorrect, f.HasMin = minCorrect(f.N, t, m)
	if f.HasMin {
		f.ActualAlpha = pValue(f.N, f.MinCorrect, t, m)
	}
	if t.Sets > 1 {
		f.byPeople(seats)
		return
	}
	f.Power = powerOf(f.N, t, m, t.Pd)
	f.AtBest = f.Power
	for _, pd := range forecastPd {
		f.AtPd = append(f.AtPd, PdPower{pd, powerOf(f.N, t, m, pd)})
	}
	f.Curve = f.curve(seats, f.powerOfSeats)
	sizes := stats.Assessors(m.Chance(), t.Alpha, 1-t.Power, stats.PcFromPd(t.Pd, m.Chance()), f.sided())
	if sizes.Found {
		f.First, f.Stable = sizes.Assessors.N, sizes.Stable.N
	}
	f.Detectable, f.CanDetect = stats.Detectable(f.N, m.Chance(), t.Alpha, t.Power, f.sided())
}

func (f *Forecast) similarity(seats int) {
	t, chance := f.Plan, f.Method.Chance()
	if t.Sets > 1 {
		f.similarByPeople(seats)
		return
	}
	panel := f.similarPanel(f.N)
	f.MaxCorrect, f.HasMax = panel.MaxCorrect, panel.Conclusive
	if t.TwoSided && f.HasMax {
		f.MinSimilar = f.N - f.MaxCorrect
	}
	f.ActualBeta, f.PassAlike = panel.ActualBeta, panel.Power
	f.SimilarCurve = f.curve(seats, f.passOfSeats)
	if t.TwoSided {
		sizes := stats.AssessorsSimilarBothWays(1-t.Power, t.Beta, stats.PcFromPd(t.PdLimit, chance))
		if sizes.Found {
			f.SimilarFirst, f.SimilarStable = sizes.Assessors.N, sizes.Stable.N
		}
		f.Within, f.CanPromise = stats.SimilarWithinBothWays(f.N, 1-t.Power, t.Beta)
		return
	}
	sizes := stats.AssessorsSimilar(chance, 1-t.Power, t.Beta, stats.PcFromPd(t.PdLimit, chance))
	if sizes.Found {
		f.SimilarFirst, f.SimilarStable = sizes.Assessors.N, sizes.Stable.N
	}
	f.Within, f.CanPromise = stats.SimilarWithin(f.N, chance, 1-t.Power, t.Beta)
}

// PassHalf is the probability that lots whose difference half of the limit's share
// perceives pass as similar; ok is false with several sets a seat, where no exact
// one is known.
func (f *Forecast) PassHalf() (p float64, ok bool) {
	t, chance := f.Plan, f.Method.Chance()
	pc := stats.PcFromPd(t.PdLimit/2, chance)
	switch {
	case f.Risks != nil && t.Sets == 1:
		return f.half, true
	case t.Sets > 1 || !f.HasMax:
		return 0, false
	case t.TwoSided:
		return stats.SimilarityPowerBothWays(f.N, t.Beta, t.PdLimit, pc), true
	}
	return stats.SimilarityPower(f.N, chance, t.Beta, t.PdLimit, pc), true
}

func (f *Forecast) similarPanel(n int) stats.Panel {
	pc := stats.PcFromPd(f.Plan.PdLimit, f.Method.Chance())
	if f.Plan.TwoSided {
		return stats.SimilarityPanelBothWays(n, f.Plan.Beta, pc)
	}
	return stats.SimilarityPanel(n, f.Method.Chance(), f.Plan.Beta, pc)
}

// each is the number of counted answers that a seat gives.
func (f *Forecast) each() int {
	if f.majorities() {
		return 1
	}
	return f.Plan.Sets
}

// powerOfSeats is the power at the planned pd of so many seats.
func (f *Forecast) powerOfSeats(seats int) float64 {
	switch {
	case f.Plan.Sets == 1:
		return powerOf(seats, f.Plan, f.Method, f.Plan.Pd)
	case seats < len(f.powers):
		return f.powers[seats]
	}
	return f.peoplePower(seats, f.Plan.Pd)
}

// passOfSeats is the probability that identical lots pass so many seats.
func (f *Forecast) passOfSeats(seats int) float64 {
	if f.Plan.Sets > 1 {
		return f.passByPeople(seats, 0)
	}
	return f.similarPanel(seats).Power
}

// Finds is the probability that a session of this plan finds the planned
// difference by this test: that the registered order comes to it, and that it
// then shows one.
func (f *Forecast) Finds() float64 {
	if f.Risks != nil {
		return f.Reached * f.Risks.AtP1.Different
	}
	return f.Reached * f.Power
}

// Passes is the probability that the order comes to this test and lots that are
// alike in it pass.
func (f *Forecast) Passes() float64 { return f.ReachedAlike * f.PassesAlone() }

// PassesAlone is the probability that lots that are alike pass once the order has
// come to this test. A test that may stop early calls lots similar at its own line
// only, so that PassAlike is not its.
func (f *Forecast) PassesAlone() float64 {
	if f.Risks != nil {
		return f.Risks.AtP0.Similar
	}
	return f.PassAlike
}

// Few reports whether the test is for similarity with fewer people than is
// advised, whatever the number of sets that each gets.
func (f *Forecast) Few() bool {
	return f.Plan.WantsSimilarity() && f.Answers/f.Plan.Sets < FewForSimilarity
}

// FewForSimilarity is the number of assessors below which similarity is not
// advised: ISO 5495, note to table A.3; for other methods from memory.
const FewForSimilarity = 30

// reaches reports whether so many seats reach what the goal wants, for a test
// that can't stop early, if the order comes to it.
func (f *Forecast) reaches(seats int) bool {
	if f.Plan.WantsDifference() && f.powerOfSeats(seats) < f.Plan.Power {
		return false
	}
	return !f.Plan.WantsSimilarity() || f.passOfSeats(seats) >= f.Plan.Power
}

// even finds a number of seats that balances and reaches the goal.
func (f *Forecast) even(seats int) int {
	from := seats
	if f.Plan.WantsSimilarity() && f.Plan.Sets > 1 {
		from = max(from, FewForSimilarity) // sets are not people
	}
	for n := (from + f.Block - 1) / f.Block * f.Block; n*f.each() <= mostForecast && n <= mostSeats; n += f.Block {
		if f.reaches(n) {
			return n
		}
	}
	return 0
}

// curve spans from a few answers to twice the planned ones, at least to 48.
func (f *Forecast) curve(seats int, at func(seats int) float64) []NPower {
	each := f.each()
	var all []NPower
	point := func(n int) { all = append(all, NPower{n * each, at(n), n%f.Block == 0}) }
	first := 2
	if each > 1 {
		first = 1
	}
	last := max(2*seats, (curveLeast+each-1)/each)
	step := max(1, (last-first)/200)
	for n := first; n <= last; n += step {
		// The planned size must stand on the curve whatever the step.
		if n > seats && n-step < seats && n-step != seats {
			point(seats)
		}
		point(n)
	}
	return all
}

const curveLeast = 48
