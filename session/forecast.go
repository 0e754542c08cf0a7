package session

import (
	"fmt"
	"math"

	"oddcup/stats"
)

// Forecast is what one test of a plan can show, known before anyone tastes.
type Forecast struct {
	Plan    TestPlan
	Method  Method
	Number  int // of the test, from 1
	Answers int // planned: seats times sets
	N       int // counted: the answers, or the seats where assessors are counted

	// For a difference; zero where the goal has none.
	MinCorrect  int
	HasMin      bool
	ActualAlpha float64
	Power       float64   // at the planned pd
	AtPd        []PdPower // at three pd
	Curve       []NPower  // power at the planned pd over n
	First       int       // smallest n that reaches both risks; 0: none can be promised
	Stable      int       // smallest n from which every larger one does as well
	Detectable  float64   // smallest pd found with the wanted power
	CanDetect   bool      // false: no pd is

	// For similarity; zero where the goal has none.
	MinSimilar    int // two-sided: smallest count that shows similarity
	MaxCorrect    int
	HasMax        bool
	ActualBeta    float64
	PassAlike     float64  // probability that identical lots pass
	SimilarCurve  []NPower // that probability over n
	SimilarFirst  int
	SimilarStable int
	Within        float64 // smallest pd limit that so many can promise
	CanPromise    bool    // false: none can

	// Reached is the probability that the registered order comes to this test, at
	// the planned pd of those before it, which are taken as independent; 1 for
	// the first and for a blank test.
	Reached float64

	Risks *stats.SequentialRisks // of a sequential test
	Lines *stats.SequentialLines

	Block    int  // seats in a whole block of serving orders
	Balanced bool // every flight is of whole blocks
	Habit    int  // most that one place habit of the whole panel gets right
	Even     int  // smallest number of seats from the planned one up that balances and reaches the goal; 0: none, or a sequential test
	Warnings []string
	Short    int // how many of Warnings, the first ones, say by how much the goal is missed
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
	var all []Forecast
	reached := 1.0
	for i, t := range p.Tests {
		m, ok := MethodByKey(t.Method)
		n := p.Seats * t.Sets
		usable := true
		t.checkRisks(func(string, string, ...any) { usable = false })
		if !ok || !usable || p.Seats < 1 || t.Sets < 1 || n < 1 || n > mostForecast {
			continue
		}
		f := Forecast{Plan: t, Method: m, Number: i + 1, Answers: n, N: n, Block: len(t.Orders())}
		if f.majorities() {
			f.N = p.Seats
		}
		f.balance(p)
		if t.WantsDifference() {
			f.difference()
		}
		if t.WantsSimilarity() {
			f.similarity()
		}
		// A draft may have what no sequential test can: see checkSequential.
		if t.Sequential && t.WantsDifference() && t.Alpha+t.Beta < 1 && p.FlightSizes()[0] >= 1 {
			rule := p.sequentialOf(i)
			risks, lines := rule.Risks(), rule.Lines()
			f.Risks, f.Lines = &risks, &lines
		}
		if f.Risks == nil {
			f.Even = f.even(p.Seats)
		}
		f.Reached = 1
		if t.Blank == "" {
			f.Reached = reached
			reached *= f.comesOut()
		}
		if !p.Practice {
			f.warn()
		}
		all = append(all, f)
	}
	return all
}

func (f *Forecast) majorities() bool { return !f.Method.Overall && f.Plan.Sets > 1 }

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

func (f *Forecast) difference() {
	t, m := f.Plan, f.Method
	f.MinCorrect, f.HasMin = minCorrect(f.N, t, m)
	if f.HasMin {
		f.ActualAlpha = pValue(f.N, f.MinCorrect, t, m)
	}
	f.Power = f.powerAt(f.N, t.Pd)
	for _, pd := range forecastPd {
		f.AtPd = append(f.AtPd, PdPower{pd, f.powerAt(f.N, pd)})
	}
	f.Curve = f.curve(func(n int) float64 { return f.powerAt(n, t.Pd) })
	if f.majorities() {
		f.First, f.Stable = f.sizesOfMajorities()
		f.Detectable, f.CanDetect = f.detectableByMajorities()
		return
	}
	sizes := stats.Assessors(m.Chance(), t.Alpha, 1-t.Power, stats.PcFromPd(t.Pd, m.Chance()), f.sided())
	if sizes.Found {
		f.First, f.Stable = sizes.Assessors.N, sizes.Stable.N
	}
	f.Detectable, f.CanDetect = stats.Detectable(f.N, m.Chance(), t.Alpha, t.Power, f.sided())
}

// powerAt is the power of n counted answers at pd.
func (f *Forecast) powerAt(n int, pd float64) float64 {
	if !f.majorities() {
		return powerOf(n, f.Plan, f.Method, pd)
	}
	// Each assessor has a majority with probability odd, a correct one with
	// probability right; the number of majorities is binomial.
	_, even := majority(f.Plan.Sets, stats.PcFromPd(pd, f.Method.Chance()))
	pd = pdOfMajorities(f.Plan.Sets, pd, f.Method.Chance())
	power := 0.0
	for k := 1; k <= n; k++ {
		if w := stats.PMF(n, k, 1-even); w > 0 {
			power += w * powerOf(k, f.Plan, f.Method, pd)
		}
	}
	return min(power, 1)
}

// pdOfMajorities is the pd at which one set a seat is correct as often as the
// majority of this many sets is, where pd holds for each of them.
func pdOfMajorities(sets int, pd, chance float64) float64 {
	right, even := majority(sets, stats.PcFromPd(pd, chance))
	return stats.PdFromPc(right/(1-even), chance)
}

// majority gives the probability that most of a person's sets are correct, and
// that they split evenly, for independent sets.
func majority(sets int, pc float64) (right, even float64) {
	if sets%2 == 0 {
		even = stats.PMF(sets, sets/2, pc)
	}
	return stats.UpperTail(sets, sets/2+1, pc), even
}

// sizesOfMajorities scans, since assessors are counted and no bound is known.
func (f *Forecast) sizesOfMajorities() (first, stable int) {
	const most = 400
	for n := most; n >= 3; n-- {
		if f.powerAt(n, f.Plan.Pd) >= f.Plan.Power {
			first = n
			if stable == 0 || stable == n+1 {
				stable = n
			}
		} else if stable == 0 {
			return 0, 0
		}
	}
	return first, stable
}

func (f *Forecast) detectableByMajorities() (float64, bool) {
	if !f.HasMin || f.powerAt(f.N, 1) < f.Plan.Power {
		return 1, false
	}
	low, high := 0.0, 1.0
	for high-low > 1e-6 {
		if mid := (low + high) / 2; f.powerAt(f.N, mid) >= f.Plan.Power {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}

func (f *Forecast) similarity() {
	t, chance := f.Plan, f.Method.Chance()
	panel := f.similarPanel(f.N)
	f.MaxCorrect, f.HasMax = panel.MaxCorrect, panel.Conclusive
	if t.TwoSided && f.HasMax {
		f.MinSimilar = f.N - f.MaxCorrect
	}
	f.ActualBeta, f.PassAlike = panel.ActualBeta, panel.Power
	f.SimilarCurve = f.curve(func(n int) float64 { return f.similarPanel(n).Power })
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

func (f *Forecast) similarPanel(n int) stats.Panel {
	pc := stats.PcFromPd(f.Plan.PdLimit, f.Method.Chance())
	if f.Plan.TwoSided {
		return stats.SimilarityPanelBothWays(n, f.Plan.Beta, pc)
	}
	return stats.SimilarityPanel(n, f.Method.Chance(), f.Plan.Beta, pc)
}

// comesOut is the probability that the test shows what the next one waits for.
func (f *Forecast) comesOut() float64 {
	switch {
	case f.Risks != nil:
		return f.Risks.AtP1.Different
	case f.Plan.WantsDifference():
		return f.Power
	}
	return f.PassAlike
}

// reaches reports whether n counted answers reach what the goal wants, for a
// test that can't stop early.
func (f *Forecast) reaches(n int) bool {
	if f.Plan.WantsDifference() && f.powerAt(n, f.Plan.Pd) < f.Plan.Power {
		return false
	}
	return !f.Plan.WantsSimilarity() || f.similarPanel(n).Power >= f.Plan.Power
}

// even finds a number of seats that balances and reaches the goal.
func (f *Forecast) even(seats int) int {
	each := f.Plan.Sets
	if f.majorities() {
		each = 1
	}
	for n := (seats + f.Block - 1) / f.Block * f.Block; n*each <= mostForecast && n <= 500; n += f.Block {
		if f.reaches(n * each) {
			return n
		}
	}
	return 0
}

// curve spans from a few answers to twice the planned ones, at least to 48.
func (f *Forecast) curve(at func(n int) float64) []NPower {
	each := 1
	if !f.majorities() {
		each = f.Plan.Sets
	}
	var all []NPower
	point := func(n int) {
		all = append(all, NPower{n, at(n), n%each == 0 && n/each%f.Block == 0})
	}
	last := max(2*f.N, 48)
	step := max(1, (last-2)/200)
	for n := 2; n <= last; n += step {
		// The planned size must stand on the curve whatever the step.
		if n > f.N && n-step < f.N && n-step != f.N {
			point(f.N)
		}
		point(n)
	}
	return all
}

// warn says in plain words where the plan falls short.
func (f *Forecast) warn() {
	add := func(format string, args ...any) { f.Warnings = append(f.Warnings, fmt.Sprintf(format, args...)) }
	if f.Risks != nil {
		if p := f.Risks.AtP1.Different; p < f.Plan.Power {
			add("%s at most %s%s short. Of 100 such tests, %s would stop for a difference that %s of people perceive; you want %.0f. Plan more seats or rounds.",
				counted(f.N, "answer"), fall(f.N), byLittle(p, f.Plan.Power), ofHundred(p, f.Plan.Power), percent(f.Plan.Pd), 100*f.Plan.Power)
		}
	} else if f.Plan.WantsDifference() {
		switch {
		case !f.HasMin:
			add("No result of %s can be significant at α %s. Plan more seats.", counted(f.N, "answer"), risk(f.Plan.Alpha))
		case f.Power < f.Plan.Power:
			say := f.falls() + byLittle(f.Power, f.Plan.Power) + fmt.Sprintf(" short. Of 100 such panels, %s would find a difference that %s of people perceive; you want %.0f.",
				ofHundred(f.Power, f.Plan.Power), percent(f.Plan.Pd), 100*f.Plan.Power) + f.wouldDo()
			if f.Power < 0.5 {
				say += " A result that is not significant would say almost nothing."
			} else if f.Power < 0.6 {
				say += " That is hardly better than a coin."
			}
			add("%s", say)
		}
	}
	if f.Plan.WantsSimilarity() && f.Risks == nil {
		switch {
		case !f.HasMax:
			add("No result of %s allows the conclusion that fewer than %s of people perceive a difference, at β %s. Plan more seats.",
				counted(f.N, "answer"), percent(f.Plan.PdLimit), risk(f.Plan.Beta))
		case f.PassAlike < f.Plan.Power:
			add("%s", f.falls()+byLittle(f.PassAlike, f.Plan.Power)+fmt.Sprintf(" short for similarity. Of 100 pairs of identical lots, %s would pass; you want %.0f.",
				ofHundred(f.PassAlike, f.Plan.Power), 100*f.Plan.Power)+f.wouldDo())
		}
		if f.Answers/f.Plan.Sets < 30 {
			add("Fewer than 30 assessors: similarity is not advised.")
		}
	}
	f.Short = len(f.Warnings)
	if f.Plan.WantsSimilarity() && f.Risks == nil && f.Plan.Sets > 1 {
		add("With several sets a seat similarity is judged from each taster's own share. These figures take all answers as independent: they are the best case.")
	}
	if f.Risks != nil {
		for _, w := range f.Risks.Warnings {
			add("%s", w.Say)
		}
	}
	if f.majorities() && f.Plan.Sets%2 == 0 {
		add("With an even number of pairs a seat some tasters will split evenly and count for nothing. Plan an odd number.")
	}
}

func (f *Forecast) falls() string {
	return counted(f.N, "answer") + " " + fall(f.N)
}

func fall(n int) string {
	if n == 1 {
		return "falls"
	}
	return "fall"
}

// byLittle says that a probability is only a little less than the wanted one.
func byLittle(p, wanted float64) string {
	if p >= wanted-0.05 {
		return " a little"
	}
	return ""
}

func (f *Forecast) wouldDo() string {
	if f.Even == 0 {
		return ""
	}
	n := f.Even
	if !f.majorities() {
		n *= f.Plan.Sets
	}
	if n <= f.N {
		return ""
	}
	return fmt.Sprintf(" %d answers would do, with every serving order equally often.", n)
}

// ofHundred prints a power as a number of a hundred, with a decimal, cut off,
// where the whole number would not show that it is below the wanted one.
func ofHundred(power, wanted float64) string {
	if math.Round(100*power) < math.Round(100*wanted) {
		return fmt.Sprintf("%.0f", 100*power)
	}
	return fmt.Sprintf("%.1f", math.Floor(1000*power)/10)
}
