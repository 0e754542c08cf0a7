package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// PanelFit is one model of all judges and all tests: how able each judge is, on
// one scale for all methods and difficulties, and how difficult each test.
type PanelFit struct {
	// Spread is the standard deviation of ln ability in the panel.
	Spread     float64
	Difficulty *Difficulty    // fitted for the spread of the round before
	Judges     []JudgeAbility // by number

	trials [][]JudgeTrial
	places [][]place // by judge: what the trials stand for
}

// JudgeAbility is what a judge's counted tests say.
//
// Tests, Sets and Correct count what counts in the record; the three others are
// the sets that do not, by reason. Expected and SD are mean and standard deviation
// of the number correct of a typical panellist in the same sets.
//
// Ability is the factor a by which the judge perceives differences larger than
// the median panellist does, a d′ for d′: the posterior median, shrunken towards 1
// the more the less is known, so that 4 of 5 does not outrank 40 of 55. LogMean
// and LogSD are posterior mean and standard deviation of ln a. Interval holds a
// with its confidence, half of the rest to each side. A judge of whom nothing
// counts has the ability of the panel: median 1, and its whole spread.
type JudgeAbility struct {
	Judge                   int
	Tests, Sets, Correct    int
	TooHard, TooEasy, Alone int // sets that do not count
	Expected, SD            float64
	Ability                 float64
	LogMean, LogSD          float64
	Interval                Interval
}

// DPrimeAt returns the d′ at which the judge perceives what the median panellist
// perceives at d′ size, with its interval.
//
// It panics unless size ≥ 0.
func (a JudgeAbility) DPrimeAt(size float64) (dPrime float64, interval Interval) {
	checkDPrime(size)
	return a.Ability * size, Interval{a.Interval.Lower * size, a.Interval.Upper * size, a.Interval.Confidence}
}

// JudgeTrial is one counted test in a judge's record: Correct sets were right,
// and Typical[x] is the probability that a typical panellist is right in x of the
// same sets, given what all other judges answered. With d′ uncertain the sets of
// one test hang together, which Typical allows for:
//
//	Typical[x] = Σ_δ P(δ | others) Bin(x; n, p(δ)), p the mean of pc over the panel
//
// Where the judge is as good as the panel, the counts of the trials are
// independent and follow Typical exactly, but for the fitted form of the model.
type JudgeTrial struct {
	Test    int
	Correct int
	Typical []float64
}

// Sets returns the number of sets.
func (t JudgeTrial) Sets() int { return len(t.Typical) - 1 }

// The grid of ln ability: coarse where the likelihood is worked out, fine where
// it is summed, with a spline between.
const (
	coarse, coarseStep, coarseFrom = 20, 0.3, -3.0
	fineStep                       = 0.02
	usualSpread                    = 0.3
	spreadSD                       = 0.7 // of ln Spread, weakly around ln usualSpread
	smallestSpread, largestSpread  = 0.02, 1.2
)

// FitPanel fits difficulties and abilities to each other in turn. Ability is
// lognormal with median 1 over the panel; its Spread is fitted by the marginal
// likelihood of all judges (empirical Bayes, from memory), under a weak prior, ln
// Spread normal around ln 0.3 with standard deviation 0.7 (own choice), between
// 0.02 and 1.2. The likelihood of a judge's ability is
//
//	Π_t Σ_δ P(δ | others in t) Bin(x_tj; n_tj, pc(a δ))
//
// over the tests that count for that judge. Difficulties are fitted for a spread
// of 0.3 first and then for the one found, twice in all; a third time would
// change Spread by less than 0.02 in the tests.
//
// Ability lies between 0.05 and 15, so a judge who only guesses ends low and
// not at 0. With controls alone the scale is that of their Known sizes.
//
// Without tests the result has no judges. It panics as [FitDifficulty] does, and
// unless 0 < confidence < 1.
func FitPanel(tests []JudgedTest, confidence float64) PanelFit {
	if !(confidence > 0 && confidence < 1) {
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	// The first round is for the spread alone, which a part of the answers and one
	// prior for all judges give near enough.
	var fit PanelFit
	fit.Difficulty, _ = fitSizes(tests, usualSpread, usualSizes)
	spread := bestSpread(fit.judge(firstRound))
	fit.Difficulty = fitDifficulty(tests, spread, fit.Difficulty.prior.at)
	likelihoods := fit.judge(math.MaxInt)
	fit.Spread = bestSpread(likelihoods)
	inParallel(len(fit.Judges), func(j int) {
		fit.Judges[j].shrink(likelihoods[j], fit.Spread, confidence)
	})
	return fit
}

// TypicalPC returns the share that a typical panellist, one drawn from the panel at random,
// has right at d′ size by a method: the mean over the panel's spread, as in
// [JudgeTrial].
//
// It panics unless size ≥ 0.
func (f PanelFit) TypicalPC(method Psychometric, size float64) float64 {
	checkDPrime(size)
	return panelAt(curveOf(method), f.Difficulty.Spread, size)
}

// Trials returns the counted tests of a judge in the order of the tests.
//
// It panics where the judge answered in no test of the fit.
func (f PanelFit) Trials(judge int) []JudgeTrial {
	f.check(judge)
	return f.trials[judge]
}

// Expected returns, for each of [PanelFit.Trials], the distribution of the number
// correct of this judge if the ability were as given: what a chart of drift needs.
// (Typical is not that of ability 1: it is the mean over the panel.)
//
// It panics where the judge answered in no test of the fit, and unless ability
// ≥ 0.
func (f PanelFit) Expected(judge int, ability float64) [][]float64 {
	f.check(judge)
	if !(ability >= 0) || math.IsInf(ability, 1) {
		panic(fmt.Sprintf("stats: ability = %v", ability))
	}
	d := f.Difficulty
	var out [][]float64
	for _, at := range f.places[judge] {
		test := d.tests[at.test]
		n, bend := test.Counts[at.i].N, curveOf(test.Method)
		counts := make([]float64, n+1)
		if test.Known > 0 {
			addBinomial(counts, bend.at(ability*test.Known), 1)
		} else {
			var weight [grids]float64
			d.others(at, &weight)
			d.without[judge].posterior(&weight)
			for g, w := range weight {
				addBinomial(counts, bend.at(ability*gridSizes[g]), w)
			}
		}
		out = append(out, counts)
	}
	return out
}

func (f PanelFit) check(judge int) {
	if judge < 0 || judge >= len(f.Judges) {
		panic(fmt.Sprintf("stats: judge %d of %d", judge, len(f.Judges)))
	}
}

// addBinomial adds weight times the binomial distribution.
func addBinomial(counts []float64, pc, weight float64) {
	n := len(counts) - 1
	if n == 1 {
		counts[0] += weight * (1 - pc)
		counts[1] += weight * pc
		return
	}
	for x := range counts {
		counts[x] += weight * PMF(n, x, pc)
	}
}

// answerTables are the probabilities of one kind of count by d′ on the grid (or at a
// known d′ alone): of a judge of each ability, and of every number correct of a
// typical panellist, one set of whom is right with probability pc.
type answerTables struct {
	able    [coarse][grids]float64
	typical [][grids]float64 // by number correct
	pc      *[grids]float64
}

func (d *Difficulty) tables() []*answerTables {
	var tables []*answerTables
	for _, kind := range d.kinds {
		bend := curveOf(kind.method)
		t := &answerTables{typical: make([][grids]float64, kind.n+1), pc: d.panel[kind.method]}
		for g, size := range gridSizes {
			typical := t.pc[g]
			if kind.known > 0 {
				size, typical = kind.known, panelAt(bend, d.Spread, kind.known)
			}
			for k := range coarse {
				t.able[k][g] = PMF(kind.n, kind.x, bend.at(math.Exp(coarseFrom+coarseStep*float64(k))*size))
			}
			for x := range t.typical {
				t.typical[x][g] = PMF(kind.n, x, typical)
			}
			if kind.known > 0 {
				break
			}
		}
		tables = append(tables, t)
	}
	return tables
}

// firstRound is how many tests of each judge the first round looks at.
const firstRound = 100

// judge works out every judge's record, of at most so many tests, and the
// logarithm of the likelihood of his or her ability on the coarse grid.
func (f *PanelFit) judge(most int) [][coarse]float64 {
	d := f.Difficulty
	tables := d.tables()
	n := len(d.places)
	f.Judges, f.trials, f.places = make([]JudgeAbility, n), make([][]JudgeTrial, n), make([][]place, n)
	likelihoods := make([][coarse]float64, n)
	inParallel(n, func(j int) {
		f.Judges[j].Judge = j
		var able, product [coarse]float64
		for k := range product {
			product[k] = 1
		}
		factors := 0
		var variance float64
		places := d.places[j][:min(most, len(d.places[j]))]
		f.trials[j], f.places[j] = make([]JudgeTrial, 0, len(places)), make([]place, 0, len(places))
		for _, at := range places {
			c := d.kinds[at.kind]
			typical, why := d.answer(at, j, tables[at.kind], &able)
			switch why {
			case TestTooHard:
				f.Judges[j].TooHard += c.n
				continue
			case TestTooEasy:
				f.Judges[j].TooEasy += c.n
				continue
			case TestNobodyElse:
				f.Judges[j].Alone += c.n
				continue
			}
			for k := range product {
				product[k] *= able[k]
			}
			if factors++; factors == 8 || c.n > 1 {
				for k, p := range product {
					likelihoods[j][k] += math.Log(p)
					product[k] = 1
				}
				factors = 0
			}
			f.trials[j] = append(f.trials[j], JudgeTrial{at.test, c.x, typical})
			f.places[j] = append(f.places[j], at)
			f.Judges[j].Tests++
			f.Judges[j].Sets += c.n
			f.Judges[j].Correct += c.x
			mean, square := 0.0, 0.0
			for x, p := range typical {
				mean += p * float64(x)
				square += p * float64(x) * float64(x)
			}
			f.Judges[j].Expected += mean
			variance += square - mean*mean
		}
		for k, p := range product {
			likelihoods[j][k] += math.Log(p)
		}
		f.Judges[j].SD = math.Sqrt(max(0, variance))
	})
	return likelihoods
}

// answer returns, for one count, the distribution of the number correct of a
// typical panellist, given what the others answered, and whether the test counts;
// nil where it does not. It writes the likelihood of each ability to able.
func (d *Difficulty) answer(at place, judge int, table *answerTables, able *[coarse]float64) (typical []float64, why Counting) {
	kind := &d.kinds[at.kind]
	if kind.known > 0 {
		for x := range table.typical {
			typical = append(typical, table.typical[x][0])
		}
		for k := range able {
			able[k] = table.able[k][0]
		}
		return typical, TestCounts
	}
	others := len(d.at[at.test]) - 1
	if others == 0 {
		return nil, TestNobodyElse
	}
	var weight [grids]float64
	d.others(at, &weight)
	d.without[judge].posterior(&weight)
	if why = counting(dot(&weight, table.pc), kind.method.Chance(), others); why != TestCounts {
		return nil, why
	}
	typical = make([]float64, len(table.typical))
	for x := range typical {
		typical[x] = dot(&weight, &table.typical[x])
	}
	for k := 0; k < coarse; k += 4 { // four sums at a time, which a processor adds side by side
		r0, r1, r2, r3 := &table.able[k], &table.able[k+1], &table.able[k+2], &table.able[k+3]
		var s0, s1, s2, s3 float64
		for g, w := range &weight {
			s0 += w * r0[g]
			s1 += w * r1[g]
			s2 += w * r2[g]
			s3 += w * r3[g]
		}
		able[k], able[k+1], able[k+2], able[k+3] = s0, s1, s2, s3
	}
	return typical, why
}

func dot(a, b *[grids]float64) (sum float64) {
	for g, x := range a {
		sum += x * b[g]
	}
	return sum
}

// smooth returns the curve of the log-likelihood between the coarse points.
func smooth(values [coarse]float64) interp.NotAKnotCubic {
	var at [coarse]float64
	for k := range at {
		at[k] = coarseFrom + coarseStep*float64(k)
	}
	var spline interp.NotAKnotCubic
	if err := spline.Fit(at[:], values[:]); err != nil {
		panic("stats: " + err.Error()) // the points are ours, and in order
	}
	return spline
}

// fine returns the log-likelihood on the fine grid of ln ability.
func fine(values [coarse]float64) (at, log []float64) {
	spline := smooth(values)
	steps := int(math.Round((coarse - 1) * coarseStep / fineStep))
	for i := range steps + 1 {
		u := math.Min(coarseFrom+fineStep*float64(i), coarseFrom+coarseStep*(coarse-1))
		at = append(at, u)
		log = append(log, spline.Predict(u))
	}
	return at, log
}

// bestSpread returns the spread of ln ability with the largest marginal
// likelihood times its weak prior.
func bestSpread(judges [][coarse]float64) float64 {
	likelihoods := make([][]float64, len(judges))
	inParallel(len(judges), func(j int) {
		_, likelihoods[j] = fine(judges[j])
		lift(likelihoods[j])
	})
	us, _ := fine([coarse]float64{}) // the grid, the same for all
	density := make([]float64, len(us))
	at, _ := highest(math.Log(smallestSpread), math.Log(largestSpread), 16, func(log float64) float64 {
		normalOver(us, math.Exp(log), density)
		weak := (log - math.Log(usualSpread)) / spreadSD
		value := -weak * weak / 2
		for _, l := range likelihoods {
			var sum float64
			for i, p := range density {
				sum += p * l[i]
			}
			value += math.Log(sum)
		}
		return value
	})
	return math.Exp(at)
}

// normalOver fills in the density of ln ability on the grid, normalised there.
func normalOver(us []float64, spread float64, density []float64) {
	var sum float64
	for i, u := range us {
		density[i] = math.Exp(-u * u / spread / spread / 2)
		sum += density[i]
	}
	for i := range density {
		density[i] /= sum
	}
}

// shrink fills in the posterior of the ability.
func (a *JudgeAbility) shrink(likelihood [coarse]float64, spread, confidence float64) {
	us, weight := fine(likelihood)
	for i, u := range us {
		weight[i] -= u * u / spread / spread / 2
	}
	lift(weight)
	var sum, square float64
	for i, u := range us {
		sum += weight[i]
		a.LogMean += weight[i] * u
		square += weight[i] * u * u
	}
	a.LogMean /= sum
	a.LogSD = math.Sqrt(max(0, square/sum-a.LogMean*a.LogMean))
	tail := (1 - confidence) / 2
	a.Ability = math.Exp(reaches(us, weight, sum/2))
	a.Interval = Interval{
		Lower:      math.Exp(reaches(us, weight, sum*tail)),
		Upper:      math.Exp(reaches(us, weight, sum*(1-tail))),
		Confidence: confidence,
	}
}

// reaches returns where the running sum of weights, each spread evenly over its
// cell around a point of an even grid, reaches a mass.
func reaches(at, weight []float64, mass float64) float64 {
	var sum float64
	for i, w := range weight {
		if sum+w >= mass && w > 0 {
			return at[i] + fineStep*((mass-sum)/w-0.5)
		}
		sum += w
	}
	return at[len(at)-1]
}
