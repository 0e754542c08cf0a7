package main

import (
	"fmt"
	"io"

	"oddcup/stats"
)

// planCommand works out how many assessors a test needs.
//
// With --json it prints, by the glossary's names: method, goal, sided, chance,
// alpha, beta, pd and dPrime (the one given, the other computed; dPrime is null
// where it is unbounded), pc, assessors (the smallest number that reaches both
// risks, as the standards' tables print), assessorsStable (the smallest from
// which every larger one does), minCorrect or maxCorrect, actualAlpha,
// actualBeta and power at assessors, and warnings (kind, say). Where nothing
// can be promised the numbers are null.
type planCommand struct {
	Method     string   `help:"One of triangle, duo-trio, paired-comparison, 3-afc, tetrad." required:"" placeholder:"METHOD"`
	Alpha      float64  `help:"Risk of finding a difference where there is none." default:"0.05" placeholder:"RISK"`
	Beta       float64  `help:"Risk of missing one (for similarity: of overlooking the limit)." default:"0.2" placeholder:"RISK"`
	Pd         *float64 `help:"Proportion of discriminators worth finding; for similarity the limit. Between 0 and 1." placeholder:"P"`
	DPrime     *float64 `name:"dprime" help:"Size of the difference instead of --pd, in units of one taster's noise." placeholder:"D"`
	Similarity bool     `help:"Plan to show similarity within --pd, not a difference."`
	TwoSided   bool     `help:"Paired comparison in which either product may have more."`
	JSON       bool     `help:"Print JSON."`
}

type planOut struct {
	Method          string       `json:"method"`
	Goal            string       `json:"goal"`
	Sided           string       `json:"sided"`
	Chance          float64      `json:"chance"`
	Alpha           float64      `json:"alpha"`
	Beta            float64      `json:"beta"`
	Pd              float64      `json:"pd"`
	DPrime          *float64     `json:"dPrime"`
	Pc              float64      `json:"pc"`
	Assessors       *int         `json:"assessors"`
	AssessorsStable *int         `json:"assessorsStable"`
	MinCorrect      *int         `json:"minCorrect,omitempty"`
	MaxCorrect      *int         `json:"maxCorrect,omitempty"`
	ActualAlpha     *float64     `json:"actualAlpha"`
	ActualBeta      *float64     `json:"actualBeta"`
	Power           *float64     `json:"power"`
	Warnings        []warningOut `json:"warnings"`
}

// Run implements the command.
func (c *planCommand) Run(to streams) error {
	m, sided, err := methodOf(c.Method, c.TwoSided)
	if err != nil {
		return err
	}
	for _, f := range []struct {
		flag string
		x    float64
	}{{"alpha", c.Alpha}, {"beta", c.Beta}} {
		if err := inside(f.flag, f.x, 0, 1); err != nil {
			return err
		}
	}
	if c.Similarity && c.TwoSided {
		return usage("similarity both ways is two one-sided tests", "plan each with --similarity alone, at the same risks")
	}
	pd, dPrime, err := c.size(m)
	if err != nil {
		return err
	}
	pc := stats.PcFromPd(pd, m.Chance())
	sizes := stats.Assessors(m.Chance(), c.Alpha, c.Beta, pc, sided)
	if c.Similarity {
		sizes = stats.AssessorsSimilar(m.Chance(), c.Alpha, c.Beta, pc)
	}
	out := planOut{
		Method: c.Method, Goal: string(sizes.Goal), Sided: string(sided), Chance: m.Chance(),
		Alpha: c.Alpha, Beta: c.Beta, Pd: pd, DPrime: finite(dPrime), Pc: pc,
	}
	var advice []stats.Warning
	if sizes.Found {
		p := sizes.Assessors
		out.Assessors, out.AssessorsStable = &p.N, &sizes.Stable.N
		out.ActualAlpha, out.ActualBeta, out.Power = &p.ActualAlpha, &p.ActualBeta, &p.Power
		if c.Similarity {
			out.MaxCorrect = &p.MaxCorrect
			advice = stats.AdviceForSimilarity(p.N, m.Chance(), c.Beta, pd)
		} else {
			out.MinCorrect = &p.MinCorrect
			advice = stats.AdviceForDifference(p.N, m.Chance(), c.Alpha, sided)
		}
	}
	out.Warnings = warningsOut(sizes.Warnings, advice)
	if c.JSON {
		return printJSON(to.out, out)
	}
	c.tell(to.out, out, sizes)
	return nil
}

// size reads --pd or --dprime, and gives both.
func (c *planCommand) size(m stats.Psychometric) (pd, dPrime float64, err error) {
	switch {
	case c.Pd != nil && c.DPrime != nil:
		return 0, 0, usage("--pd and --dprime both state the size of the difference", "give one of them")
	case c.Pd == nil && c.DPrime == nil:
		return 0, 0, usage("how large a difference is to be found was not said", "give --pd, such as --pd 0.3, or --dprime, such as --dprime 1.5")
	case c.Pd != nil:
		if err := inside("pd", *c.Pd, 0, 1); err != nil {
			return 0, 0, err
		}
		return *c.Pd, m.DPrime(stats.PcFromPd(*c.Pd, m.Chance())), nil
	}
	if !(*c.DPrime > 0 && *c.DPrime <= 10) {
		return 0, 0, usage(fmt.Sprintf("--dprime %v is outside 0 to 10", *c.DPrime), "1 is small and 2 is large for a trained panel (common practice, no source)")
	}
	return stats.PdFromPc(m.PC(*c.DPrime), m.Chance()), *c.DPrime, nil
}

func (c *planCommand) tell(w io.Writer, out planOut, sizes stats.Sizes) {
	d := "unbounded"
	if out.DPrime != nil {
		d = fmt.Sprintf("%.2f", *out.DPrime)
	}
	if c.Similarity {
		fmt.Fprintf(w, "To show, by %s, that fewer than %.3g %% perceive a difference (pd limit; d′ %s), α %v, β %v:\n", out.Method, 100*out.Pd, d, out.Alpha, out.Beta)
	} else {
		fmt.Fprintf(w, "To find, by %s (%s), a difference that %.3g %% perceive (pd; d′ %s), α %v, β %v:\n", out.Method, out.Sided, 100*out.Pd, d, out.Alpha, out.Beta)
	}
	if !sizes.Found {
		printWarnings(w, out.Warnings)
		return
	}
	fmt.Fprintf(w, "%d assessors reach both risks first (as the standards' tables print), and every number from %d on does.\n", sizes.Assessors.N, sizes.Stable.N)
	for _, p := range []stats.Panel{sizes.Assessors, sizes.Stable} {
		decides := fmt.Sprintf("minimum correct %d", p.MinCorrect)
		if c.Similarity {
			decides = fmt.Sprintf("maximum correct %d", p.MaxCorrect)
		}
		fmt.Fprintf(w, "  With %d: %s, actual α %.4f, actual β %.4f, power %.4f.\n", p.N, decides, p.ActualAlpha, p.ActualBeta, p.Power)
		if sizes.Assessors.N == sizes.Stable.N {
			break
		}
	}
	printWarnings(w, out.Warnings)
}
