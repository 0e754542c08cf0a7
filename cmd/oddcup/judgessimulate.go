package main

import (
	"fmt"
	"io"

	"oddcup/session/record"
	"oddcup/stats"
)

// judgesSimulate fits and flags simulated panels of known ability: twelve typical
// judges in tests of d′ 1 and of d′ 1.5, and a panel with one who drifts, one who
// guesses, one who is brilliant and one who is so in five tests only.
//
// The rate of drift is stated for sizes that are known. Where the answers tell them, as
// here, it runs somewhat above: see [stats.SimulatedPanel].
//
// With --json it prints panels (of each kind), level (stated: at most this share of
// panels flags any typical judge), seed and kinds, each with name, tests and sets (of
// each judge), anyFlag and anyDrift (count, share, high: 99.9 % of such counts at the
// stated level are at most that) and judges, each with name, judges (over all panels), weak,
// strong, drifting and unjudged (counts), ability (the true one, of a drift the last)
// and estimate (mean).
type judgesSimulate struct {
	Panels int    `help:"Number of simulated panels of each kind." default:"200" placeholder:"N"`
	Seed   uint64 `help:"Repeats the simulation." default:"1" placeholder:"N"`
	JSON   bool   `help:"Print JSON, when all is done."`
}

// simulatedLevel is the stated family-wise rate.
const simulatedLevel = 0.05

type simulatedKind struct {
	name string
	plan stats.PanelSimulation
}

func simulatedKinds() []simulatedKind {
	usual := func(tests int, sizes []float64, judges ...stats.SimulatedJudge) stats.PanelSimulation {
		return stats.PanelSimulation{
			Judges: judges, Tests: tests, Sets: 2, Methods: []stats.Psychometric{stats.Triangle, stats.PairedComparison}, Sizes: sizes,
			Level: simulatedLevel, DriftAbility: 0.5,
		}
	}
	equal := stats.SimulatedJudge{Name: "typical", Many: 12, Ability: 1}
	return []simulatedKind{
		{"twelve of equal ability, d′ 1", usual(40, []float64{1}, equal)},
		{"twelve of equal ability, d′ 1.5", usual(40, []float64{1.5}, equal)},
		{"odd ones among typical ones, half of the tests with nothing to find", usual(150, []float64{0, 0, 1, 1.5},
			stats.SimulatedJudge{Name: "typical", Many: 9, Ability: 1},
			stats.SimulatedJudge{Name: "drifting to guesses halfway", Many: 1, Ability: 1, DriftFrom: 76},
			stats.SimulatedJudge{Name: "guessing", Many: 1},
			stats.SimulatedJudge{Name: "brilliant", Many: 1, Ability: 3},
			stats.SimulatedJudge{Name: "brilliant, five tests", Many: 1, Ability: 3, Tests: 5},
		)},
	}
}

type judgesSimulateOut struct {
	Panels int       `json:"panels"`
	Level  float64   `json:"level"`
	Seed   uint64    `json:"seed"`
	Kinds  []kindOut `json:"kinds"`
}

type kindOut struct {
	Name     string     `json:"name"`
	Tests    int        `json:"tests"`
	Sets     int        `json:"sets"`
	AnyFlag  anyOut     `json:"anyFlag"`
	AnyDrift anyOut     `json:"anyDrift"`
	Judges   []ratesOut `json:"judges"`
}

type anyOut struct {
	Count int     `json:"count"`
	Share float64 `json:"share"`
	High  int     `json:"high"`
}

type ratesOut struct {
	Name     string  `json:"name"`
	Judges   int     `json:"judges"`
	Weak     int     `json:"weak"`
	Strong   int     `json:"strong"`
	Drifting int     `json:"drifting"`
	Unjudged int     `json:"unjudged"`
	Ability  float64 `json:"ability"`
	Estimate float64 `json:"estimate"`
}

// Run implements the command.
func (c *judgesSimulate) Run(to streams) error {
	if c.Panels < 1 || c.Panels > 100_000 {
		return usage(fmt.Sprintf("--panels %d is outside 1 to 100000", c.Panels), "200 of all kinds take about a minute")
	}
	out := judgesSimulateOut{Panels: c.Panels, Level: simulatedLevel, Seed: c.Seed, Kinds: []kindOut{}}
	_, high := span(c.Panels, simulatedLevel)
	for _, k := range simulatedKinds() {
		sim := stats.SimulatePanel(k.plan, c.Panels, c.Seed)
		anybody := func(n int) anyOut { return anyOut{n, float64(n) / float64(c.Panels), high} }
		kind := kindOut{
			Name: k.name, Tests: k.plan.Tests, Sets: k.plan.Tests * k.plan.Sets, AnyFlag: anybody(sim.AnyFlag), AnyDrift: anybody(sim.AnyDrift), Judges: []ratesOut{},
		}
		for i, r := range sim.Rates {
			is := k.plan.Judges[i]
			ability := is.Ability
			if is.DriftFrom > 0 {
				ability = is.DriftTo
			}
			kind.Judges = append(kind.Judges, ratesOut{r.Name, r.Judges, r.Weak, r.Strong, r.Drifting, r.Unjudged, ability, r.Ability})
		}
		out.Kinds = append(out.Kinds, kind)
		if !c.JSON {
			kind.tell(to.out, c.Panels)
		}
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	fmt.Fprintf(to.out, `Simulated, seed %d. A typical judge has ability 1 and no drift. Of panels of typical judges alone at most a share of %v is to call
anybody weak or strong. For drift each judge's limit has that risk over the number of judges, exactly so where the sizes of the differences are
known; here they are told by the answers, and more such panels say that somebody drifts (0.064 of 2000, with half of 40 tests empty).
A drift here is a signal anywhere in the series. The panel's page and oddcup judges list other signals: those of charts with a false one every
%d tests, among the last %d sets, and say how many judges would be listed by luck.
Nobody is called weak or strong on one test alone, and five tests prove nobody brilliant.
`, c.Seed, simulatedLevel, record.DriftRun, record.DriftRecent)
	return nil
}

func (k kindOut) tell(w io.Writer, panels int) {
	fmt.Fprintf(w, "%s: %s of %d tests, %d sets for each judge\n", k.Name, counted(panels, "panel"), k.Tests, k.Sets)
	for _, rate := range []struct {
		what, stated string
		n            anyOut
	}{{"called weak or strong", "at most", k.AnyFlag}, {"said to drift", "about", k.AnyDrift}} {
		mark := ""
		if rate.n.Count > rate.n.High {
			mark = " !"
		}
		fmt.Fprintf(w, "  any typical judge %s: %d of %d panels, stated %s %v (99.9 %% of such counts are at most %d)%s\n",
			rate.what, rate.n.Count, panels, rate.stated, simulatedLevel, rate.n.High, mark)
	}
	fmt.Fprintf(w, "  %-30s%8s%8s%8s%10s%12s%10s%10s\n", "judges", "number", "weak", "strong", "drifting", "too few", "ability", "estimate")
	for _, j := range k.Judges {
		fmt.Fprintf(w, "  %-30s%8d%8s%8s%10s%12s%10v%10.2f\n", j.Name, j.Judges, j.share(j.Weak), j.share(j.Strong), j.share(j.Drifting), j.share(j.Unjudged), j.Ability, j.Estimate)
	}
	fmt.Fprintln(w)
}

func (j ratesOut) share(n int) string { return fmt.Sprintf("%.3f", float64(n)/float64(j.Judges)) }
