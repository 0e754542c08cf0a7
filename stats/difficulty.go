package stats

import (
	"fmt"
	"math"
	"slices"
)

// JudgedTest is what the judges of a panel did in one test, all sets of which
// compare the same two products.
//
// Known is the d′ of a control: a difference made on purpose, whose size for a
// typical panellist is agreed. It is 0 where the answers have to tell the size.
// A blank, two brews of one lot, says nothing of anybody and is left out.
type JudgedTest struct {
	Method Psychometric
	Known  float64
	Counts []JudgeCount
}

// JudgeCount is what one judge did in one test: Correct of N sets. Judges are
// numbered from 0.
type JudgeCount struct {
	Judge, N, Correct int
}

// Counting tells whether a test counts in a judge's record, and if not, why. It
// depends on the answers of the others alone, so no judge makes a test count, or
// not, by an answer of his or her own.
type Counting string

const (
	// TestCounts: it counts. Controls always do.
	TestCounts Counting = "counts"
	// TestTooHard: the others are expected to be right less than 2 points above
	// chance; there may have been nothing to find.
	TestTooHard Counting = "too-hard"
	// TestTooEasy: they are expected to be right more than 95 % of the time, which
	// tells judges apart no more.
	TestTooEasy Counting = "too-easy"
	// TestNobodyElse: nobody else answered.
	TestNobodyElse Counting = "nobody-else"
)

// The limits of a test that counts (own choice, no source).
const (
	hardMargin = 0.02
	easyPC     = 0.95
)

// TestDifficulty is how large the difference of a test is, given answers: the
// posterior distribution of d′. Nothing is the probability that there is nothing
// to find, Mean and SD are those of d′ with that counted as 0, Interval holds d′
// with confidence 0.95, half of the rest to each side.
//
// PC is the probability that a panellist is right in one set, the mean over the
// panel's abilities and over d′; PCSD is its standard deviation over d′.
type TestDifficulty struct {
	Nothing  float64
	Mean, SD float64
	Interval Interval
	PC, PCSD float64
	Counting Counting
}

// Difficulty is the shrunken model of the difficulty of all tests. A judge of
// ability a perceives a difference of d′ as a d′; see [FitPanel] for abilities.
// With the tests t and the judges j
//
//	δ_t is 0 with probability Nothing, else with density ∝ δ^(k-1) e^(-k δ²/(2 s²))
//	ln a_j is normal with mean 0 and standard deviation Spread
//	x_tj of n_tj sets right follows Bin(n_tj, pc(a_j δ_t)), pc by the method
//
// so d′ 1 is what a judge of median ability perceives as 1. s is Scale, about the
// root mean square of the sizes, and k is Shape: 1 is half-normal, a large k puts all
// sizes near Scale (the family that Nakagami's name stands for, from memory). Nothing,
// Scale and Shape are fitted to all routine tests by their marginal likelihood
// (empirical Bayes; from memory), the judges within a test taken as exchangeable, with
// weak priors that keep a few tests from being over-read: logit Nothing normal around 0
// with standard deviation 1.5, ln Scale around ln 1.5 with 0.7, ln Shape around 0 with 1
// (own choice). No test is selected for being significant, which would flatter it.
//
// d′ lies on a grid from 0 to 6, in steps of 0.15 up to 3 and of 0.3 beyond, and
// no answer is taken to be less probable than 1e-6. Against a grid of 0.01 that moves a
// mean of d′ by less than 0.02 and a pc by less than 0.001, in the tests.
type Difficulty struct {
	Nothing, Scale, Shape, Spread float64

	tests    []JudgedTest
	places   [][]place // by judge: where his or her counts are
	kinds    []answerKind
	readings []*reading                       // by kind: what such a count says of d′
	at       [][]int                          // by test and count: the kind
	rows     []*[grids]float64                // by test: the likelihood of all its counts, 1 at its highest
	panel    map[Psychometric]*[grids]float64 // pc of a panellist over the grid
	prior    *sizePrior                       // of all answers
	without  []*sizePrior                     // by judge: fitted without his or her answers
}

// place is count i of a test. kind is what was counted, an index into
// [Difficulty].kinds and readings, kept here so that a walk over one judge's counts
// looks nothing else up.
type place struct{ test, i, kind int }

// answerKind is a count, x of n, by a method; known is a control's d′ or 0.
type answerKind struct {
	method Psychometric
	known  float64
	n, x   int
}

// grids is the number of d′ that the model knows.
const grids = 32

// gridSizes are the d′ that the model knows, and gridWidths how much of the scale
// each stands for; 0 is a point.
var gridSizes, gridWidths = func() (sizes, widths [grids]float64) {
	sizes[1] = 0.075
	for g := 2; g < grids; g++ {
		step := 0.15
		if g > 21 {
			step = 0.3
		}
		sizes[g] = sizes[g-1] + step
		if g == 2 {
			sizes[g] = step
		}
	}
	from := 0.0
	for g := 1; g < grids; g++ {
		to := sizes[g] + 0.15
		if g < grids-1 {
			to = (sizes[g] + sizes[g+1]) / 2
		}
		widths[g] = to - from
		from = to
	}
	return sizes, widths
}()

// reading is what one count, x of n, says of d′ over the grid: its likelihood,
// averaged over the abilities of the panel.
type reading struct {
	log, inverse [grids]float64
	steep        bool // inverse may overflow
}

// abilityPoints are the points at which the abilities of a panel are averaged: ln a in
// units of its standard deviation, and their weights (the trapezoidal rule, which
// for a normal density is good to 1e-8 here).
var abilityPoints = func() (points [][2]float64) {
	var sum float64
	for i := -10; i <= 10; i++ {
		u := float64(i) / 2
		points = append(points, [2]float64{u, normalDensity(u)})
		sum += normalDensity(u)
	}
	for i := range points {
		points[i][1] /= sum
	}
	return points
}()

// FitDifficulty fits the difficulty of all tests for a panel whose abilities
// spread as given; [FitPanel] finds the spread as well. The counts of one test
// must be of different judges.
//
// Without tests Nothing and Scale are what the weak priors say.
//
// It panics on an impossible count, a judge below 0 or twice in a test, a Known
// that is no size and a spread outside [0, 2].
func FitDifficulty(tests []JudgedTest, spread float64) *Difficulty {
	return fitDifficulty(tests, spread, usualSizes)
}

// fitDifficulty begins its search at start.
func fitDifficulty(tests []JudgedTest, spread float64, start [3]float64) *Difficulty {
	d, top := fitSizes(tests, spread, start)
	inParallel(len(d.places), func(judge int) { d.without[judge] = d.leave(judge, top) })
	return d
}

// fitSizes fits to all answers. It leaves the same prior for every judge.
func fitSizes(tests []JudgedTest, spread float64, start [3]float64) (*Difficulty, moments) {
	if !(spread >= 0 && spread <= 2) {
		panic(fmt.Sprintf("stats: spread = %v of abilities is not between 0 and 2", spread))
	}
	d := &Difficulty{Spread: spread, tests: tests, panel: map[Psychometric]*[grids]float64{}}
	d.read()
	var top moments
	d.prior, top = highestSizes(start, d.likelihood)
	d.Nothing, d.Scale, d.Shape = d.prior.nothing, math.Exp(d.prior.at[1]), math.Exp(d.prior.at[2])
	d.without = slices.Repeat([]*sizePrior{d.prior}, len(d.places))
	return d, top
}

// likelihood returns the logarithm of the marginal likelihood of all routine tests
// and of the weak priors.
func (d *Difficulty) likelihood(p *sizePrior) moments {
	sum := p.weak()
	for t := range d.tests {
		if d.tests[t].Known == 0 {
			sum.add(p, d.rows[t], 1)
		}
	}
	return sum
}

// read checks the data and works out what every count says.
func (d *Difficulty) read() {
	kinds := map[answerKind]int{}
	var last []int // by judge: the test he or she was last in, plus 1
	d.at, d.rows = make([][]int, len(d.tests)), make([]*[grids]float64, len(d.tests))
	rows := make([][grids]float64, len(d.tests))
	for t, test := range d.tests {
		checkDPrime(test.Known)
		bend := curveOf(test.Method)
		if d.panel[test.Method] == nil {
			d.panel[test.Method] = panelCurve(bend, d.Spread)
		}
		d.at[t] = make([]int, len(test.Counts))
		row := &rows[t]
		for i, c := range test.Counts {
			checkCount(c.N, c.Correct)
			if c.Judge < 0 {
				panic(fmt.Sprintf("stats: judge %d", c.Judge))
			}
			for c.Judge >= len(last) {
				last = append(last, 0)
				d.places = append(d.places, nil)
			}
			if last[c.Judge] == t+1 {
				panic(fmt.Sprintf("stats: judge %d twice in test %d", c.Judge, t))
			}
			last[c.Judge] = t + 1
			key := answerKind{test.Method, test.Known, c.N, c.Correct}
			kind, ok := kinds[key]
			if !ok {
				kind = len(d.kinds)
				kinds[key] = kind
				d.kinds = append(d.kinds, key)
				d.readings = append(d.readings, newReading(bend, d.Spread, c.N, c.Correct))
			}
			d.places[c.Judge] = append(d.places[c.Judge], place{t, i, kind})
			d.at[t][i] = kind
			for g, l := range &d.readings[kind].log {
				row[g] += l
			}
		}
		d.rows[t] = row
	}
	inParallel(len(rows), func(t int) { lift(rows[t][:]) })
}

// lift turns logarithms into numbers of which the largest is 1.
func lift(row []float64) {
	top := slices.Max(row)
	for g, l := range row {
		row[g] = math.Exp(l - top)
	}
}

func panelCurve(bend curve, spread float64) *[grids]float64 {
	var mean [grids]float64
	for _, s := range abilityPoints {
		ability := math.Exp(spread * s[0])
		for g := range mean {
			mean[g] += s[1] * bend.at(ability*gridSizes[g])
		}
	}
	return &mean
}

func newReading(bend curve, spread float64, n, x int) *reading {
	var r reading
	for g := range grids {
		var mix mixture
		for _, s := range abilityPoints {
			mix.add(math.Log(s[1]) + LogPMF(n, x, bend.at(math.Exp(spread*s[0])*gridSizes[g])))
		}
		r.log[g] = mix.log()
	}
	top := slices.Max(r.log[:])
	for g, l := range r.log {
		r.inverse[g] = math.Exp(top - l)
		r.steep = r.steep || top-l > 200
	}
	return &r
}

// others returns the likelihood of the counts of a test but one, up to a factor.
func (d *Difficulty) others(at place, into *[grids]float64) {
	r, row := d.readings[at.kind], d.rows[at.test]
	if !r.steep {
		for g := range into {
			into[g] = row[g] * r.inverse[g]
		}
		return
	}
	// Many sets by one judge: what the others say may be lost in the row.
	*into = [grids]float64{}
	for i, kind := range d.at[at.test] {
		if i != at.i {
			for g, l := range &d.readings[kind].log {
				into[g] += l
			}
		}
	}
	lift(into[:])
}

// leave returns the prior of the sizes fitted without the answers of a judge: by
// one of Newton's steps from the fit to all, whose top is given, and where that
// step is not short by a fit of its own. Only this judge's tests change, so only
// they are looked at again.
func (d *Difficulty) leave(judge int, top moments) *sizePrior {
	change := func(sum *moments, p *sizePrior) {
		var rest [grids]float64
		for _, at := range d.places[judge] {
			if d.kinds[at.kind].known == 0 {
				d.others(at, &rest)
				sum.add(p, d.rows[at.test], -1)
				sum.add(p, &rest, 1)
			}
		}
	}
	less := top
	change(&less, d.prior)
	if step, ok := less.step(0); ok && max(math.Abs(step[0]), math.Abs(step[1]), math.Abs(step[2])) < shortStep {
		at := d.prior.at
		for i := range at {
			at[i] += step[i]
		}
		return newSizePrior(at)
	}
	p, _ := highestSizes(d.prior.at, func(p *sizePrior) moments {
		sum := d.likelihood(p)
		change(&sum, p)
		return sum
	})
	return p
}

// shortStep is the length up to which one of Newton's steps is near enough: the
// error is of the order of its square times the standard error.
const shortStep = 0.05

// All returns the difficulty of a test, given all its answers.
func (d *Difficulty) All(test int) TestDifficulty {
	weight := *d.rows[test]
	return d.describe(test, d.prior, &weight, len(d.tests[test].Counts))
}

// LeftOut returns the difficulty of a test for its count i: what the answers of
// all other judges say, in this test and in all that the model was fitted to.
// Nothing of the judge's own answers goes into it but what Spread holds.
func (d *Difficulty) LeftOut(test, i int) TestDifficulty {
	var weight [grids]float64
	d.others(place{test, i, d.at[test][i]}, &weight)
	return d.describe(test, d.without[d.tests[test].Counts[i].Judge], &weight, len(d.tests[test].Counts)-1)
}

// describe turns the likelihood weight into a posterior distribution, in place,
// and sums it up.
func (d *Difficulty) describe(test int, prior *sizePrior, weight *[grids]float64, judges int) TestDifficulty {
	method := d.tests[test].Method
	if known := d.tests[test].Known; known > 0 {
		pc := panelAt(curveOf(method), d.Spread, known)
		return TestDifficulty{Mean: known, Interval: Interval{known, known, difficultyConfidence}, PC: pc, Counting: TestCounts}
	}
	prior.posterior(weight)
	pc := d.panel[method]
	out := TestDifficulty{Nothing: weight[0], Interval: Interval{Confidence: difficultyConfidence}}
	var square, pcSquare float64
	for g, w := range weight {
		size := gridSizes[g]
		out.Mean += w * size
		square += w * size * size
		out.PC += w * pc[g]
		pcSquare += w * pc[g] * pc[g]
	}
	out.SD = math.Sqrt(max(0, square-out.Mean*out.Mean))
	out.PCSD = math.Sqrt(max(0, pcSquare-out.PC*out.PC))
	tail := (1 - difficultyConfidence) / 2
	out.Interval.Lower = sizeReached(weight, tail)
	out.Interval.Upper = sizeReached(weight, 1-tail)
	out.Counting = counting(out.PC, method.Chance(), judges)
	return out
}

const difficultyConfidence = 0.95

func counting(pc, chance float64, judges int) Counting {
	switch {
	case judges == 0:
		return TestNobodyElse
	case pc < chance+hardMargin:
		return TestTooHard
	case pc > easyPC:
		return TestTooEasy
	}
	return TestCounts
}

// panelAt returns the probability that a panellist is right at a known d′.
func panelAt(bend curve, spread, size float64) (pc float64) {
	for _, s := range abilityPoints {
		pc += s[1] * bend.at(math.Exp(spread*s[0])*size)
	}
	return pc
}

// sizeReached returns the d′ at which the running sum of weights reaches a share,
// each weight but that of 0 spread evenly over its part of the scale.
func sizeReached(weights *[grids]float64, share float64) float64 {
	sum, from := weights[0], 0.0
	if sum >= share {
		return 0
	}
	for g := 1; g < grids; g++ {
		if sum+weights[g] >= share {
			return from + gridWidths[g]*(share-sum)/weights[g]
		}
		sum += weights[g]
		from += gridWidths[g]
	}
	return from
}
