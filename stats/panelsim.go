package stats

import (
	"fmt"
	"math/rand/v2"
	"slices"
)

// SimulatedJudge is a kind of judge in a simulated panel, Many of them. Ability is
// 1 for a typical one and 0 for one who guesses. From test DriftFrom on, counted from
// 1, it is DriftTo instead; DriftFrom 0 is no drift. Tests is how many of the tests
// the judge sits in, drawn at random and kept in order; 0 is all.
type SimulatedJudge struct {
	Name      string
	Many      int
	Ability   float64
	DriftFrom int
	DriftTo   float64
	Tests     int
}

// PanelSimulation is a panel that is simulated many times over: Tests routine tests
// by Methods in turn, of which each has a d′ drawn from Sizes, 0 among them for
// tests with nothing to find, and Sets sets for each judge. Level is the
// family-wise rate of [FlagJudges]; charts of drift have the limit at which each
// judge's exact risk of a false signal is Level over the number of judges.
// DriftAbility is the ability the charts look for, such as 0.5.
type PanelSimulation struct {
	Judges       []SimulatedJudge
	Tests, Sets  int
	Methods      []Psychometric
	Sizes        []float64
	Level        float64
	DriftAbility float64
}

// SimulatedRate counts what became of one kind of judge: of Judges, over all
// replicates, how many were flagged weak and strong and had a signal of drift, and
// how many had too few counted tests. Ability is the mean of their estimates.
type SimulatedRate struct {
	Name                             string
	Judges                           int
	Weak, Strong, Drifting, Unjudged int
	Ability                          float64
}

// SimulatedPanel is the outcome of a simulation. AnyFlag and AnyDrift count the
// replicates in which any typical judge, ability 1 without drift, was flagged weak or
// strong, or had a signal of drift: over Replicates they are family-wise rates, to be held
// against Level, by [ClopperPearson] for instance.
//
// With 12 judges alike, 40 tests of 2 sets, half of them with nothing to find, the others
// of d′ 1 and 1.5, and Level 0.05, any was flagged in 0.040 of 2000 replicates and had a
// signal of drift in 0.064; with 3 of 4 tests empty in 0.031 and 0.062 of 1000, with none
// empty in 0.039 and 0.056. So flags keep their level, and charts of drift on fitted
// difficulties run above theirs: single judges had 40 signals where 30 were stated, half
// of the tests empty. With known sizes of d′ 1.5 they had 21 of 4800 where 20 were stated.
type SimulatedPanel struct {
	Replicates        int
	Rates             []SimulatedRate // in the order of the kinds
	AnyFlag, AnyDrift int
	Nothing, Spread   float64 // means of the fits
}

// SimulatePanel fits a simulated panel, flags its judges and follows their drift, so
// many times over. The same seed gives the same outcome, on any number of processors.
//
// It panics unless there are replicates, judges, tests, sets, methods and sizes, 0 <
// Level < 1, 0 < DriftAbility < 1 and no ability or size is below 0.
func SimulatePanel(s PanelSimulation, replicates int, seed uint64) SimulatedPanel {
	s.check(replicates)
	out := SimulatedPanel{Replicates: replicates}
	for _, k := range s.Judges {
		out.Rates = append(out.Rates, SimulatedRate{Name: k.Name, Judges: k.Many * replicates})
	}
	// Sums of rounded numbers are the same in any order only when added in one.
	type once struct {
		flags           []JudgeFlag
		drift           []bool
		ability         []float64
		nothing, spread float64
	}
	runs := make([]once, replicates)
	inParallel(replicates, func(r int) {
		tests := s.draw(rand.New(rand.NewPCG(seed, uint64(r))))
		fit := FitPanel(tests, 0.95)
		var records [][]JudgeTrial
		run := once{nothing: fit.Difficulty.Nothing, spread: fit.Spread}
		for j := range fit.Judges {
			records = append(records, fit.Trials(j))
			run.ability = append(run.ability, fit.Judges[j].Ability)
			run.drift = append(run.drift, s.drifts(fit, j))
		}
		run.flags = FlagJudges(records, s.Level)
		runs[r] = run
	})
	for _, run := range runs {
		anyFlag, anyDrift, j := false, false, 0
		out.Nothing += run.nothing / float64(replicates)
		out.Spread += run.spread / float64(replicates)
		for i, k := range s.Judges {
			for range k.Many {
				rate := &out.Rates[i]
				rate.Ability += run.ability[j] / float64(rate.Judges)
				flagged := true
				switch run.flags[j].Standing {
				case StandingWeak:
					rate.Weak++
				case StandingStrong:
					rate.Strong++
				case StandingUnknown:
					rate.Unjudged++
					flagged = false
				default:
					flagged = false
				}
				if run.drift[j] {
					rate.Drifting++
				}
				if k.typical() {
					anyFlag = anyFlag || flagged
					anyDrift = anyDrift || run.drift[j]
				}
				j++
			}
		}
		if anyFlag {
			out.AnyFlag++
		}
		if anyDrift {
			out.AnyDrift++
		}
	}
	return out
}

func (k SimulatedJudge) typical() bool { return k.Ability == 1 && k.DriftFrom == 0 }

// draw makes the answers of one replicate.
func (s PanelSimulation) draw(rng *rand.Rand) []JudgedTest {
	tests := make([]JudgedTest, s.Tests)
	sizes := make([]float64, s.Tests)
	for t := range tests {
		tests[t].Method = s.Methods[t%len(s.Methods)]
		sizes[t] = s.Sizes[rng.IntN(len(s.Sizes))]
	}
	judge := 0
	for _, k := range s.Judges {
		for range k.Many {
			sits := rng.Perm(s.Tests)
			if k.Tests > 0 {
				sits = sits[:min(k.Tests, s.Tests)]
			}
			slices.Sort(sits)
			for _, t := range sits {
				ability := k.Ability
				if k.DriftFrom > 0 && t+1 >= k.DriftFrom {
					ability = k.DriftTo
				}
				c := JudgeCount{Judge: judge, N: s.Sets}
				pc := curveOf(tests[t].Method).at(ability * sizes[t])
				for range s.Sets {
					if rng.Float64() < pc {
						c.Correct++
					}
				}
				tests[t].Counts = append(tests[t].Counts, c)
			}
			judge++
		}
	}
	return tests
}

// drifts tells whether a judge's chart has a signal.
func (s PanelSimulation) drifts(fit PanelFit, judge int) bool {
	trials, drifted := fit.Trials(judge), fit.Expected(judge, s.DriftAbility)
	if len(trials) < fewestTests {
		return false
	}
	var series []DriftTrial
	var correct []int
	for i, t := range trials {
		series = append(series, DriftTrial{InControl: t.Typical, Drifted: drifted[i]})
		correct = append(correct, t.Correct)
	}
	limit := DriftLimitFor(series, s.Level/float64(len(fit.Judges)))
	return FollowDrift(series, correct, limit).FirstSignal >= 0
}

func (s PanelSimulation) check(replicates int) {
	checkSize(replicates)
	checkRisk("level", s.Level)
	checkRisk("ability after a drift", s.DriftAbility)
	if len(s.Judges) == 0 || s.Tests < 1 || s.Sets < 1 || len(s.Methods) == 0 || len(s.Sizes) == 0 {
		panic("stats: simulation without judges, tests, sets, methods or sizes")
	}
	for _, size := range s.Sizes {
		checkDPrime(size)
	}
	for _, m := range s.Methods {
		curveOf(m)
	}
	for _, k := range s.Judges {
		if k.Many < 1 || !(k.Ability >= 0) || !(k.DriftTo >= 0) || k.DriftFrom < 0 || k.Tests < 0 {
			panic(fmt.Sprintf("stats: simulated judge %+v", k))
		}
	}
}
