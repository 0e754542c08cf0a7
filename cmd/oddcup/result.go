package main

import (
	"fmt"
	"io"

	"oddcup/session"
	"oddcup/stats"
)

// resultCommand analyses a count of a test.
//
// With --json it prints, by the glossary's names: method, sided, n, correct,
// chance, alpha, pValue (exact), minCorrect (null where no count of n reaches
// alpha), outcome (different or undecided), pc, pd and dPrime (each estimate,
// lower, upper, confidence; null where unbounded), and warnings (kind, say).
// Intervals are exact (Clopper and Pearson, carried through), two-sided, at
// 1 − 2α beside a one-sided test and 1 − α beside a two-sided one unless
// --confidence names another level. pd is cut at 0 in a one-sided test.
type resultCommand struct {
	Method     string   `help:"One of triangle, duo-trio, paired-comparison, 3-afc, tetrad." required:"" placeholder:"METHOD"`
	N          int      `name:"n" help:"Number of answers." required:"" placeholder:"N"`
	Correct    int      `help:"Number of correct ones." required:"" placeholder:"X"`
	Alpha      float64  `help:"Risk of finding a difference where there is none." default:"0.05" placeholder:"RISK"`
	Confidence *float64 `help:"Level of the intervals. Default: 1 - 2α, two-sided 1 - α." placeholder:"LEVEL"`
	TwoSided   bool     `help:"Paired comparison in which either product may have more."`
	JSON       bool     `help:"Print JSON."`
}

type estimateOut struct {
	Estimate   *float64 `json:"estimate"`
	Lower      *float64 `json:"lower"`
	Upper      *float64 `json:"upper"`
	Confidence float64  `json:"confidence"`
}

type resultOut struct {
	Method     string       `json:"method"`
	Sided      string       `json:"sided"`
	N          int          `json:"n"`
	Correct    int          `json:"correct"`
	Chance     float64      `json:"chance"`
	Alpha      float64      `json:"alpha"`
	PValue     float64      `json:"pValue"`
	MinCorrect *int         `json:"minCorrect"`
	Outcome    string       `json:"outcome"`
	Pc         estimateOut  `json:"pc"`
	Pd         estimateOut  `json:"pd"`
	DPrime     estimateOut  `json:"dPrime"`
	Warnings   []warningOut `json:"warnings"`
}

// mostAnswers bounds what one count can hold.
const mostAnswers = 1_000_000

// Run implements the command.
func (c *resultCommand) Run(to streams) error {
	m, sided, err := methodOf(c.Method, c.TwoSided)
	switch {
	case err != nil:
		return err
	case c.N < 1 || c.N > mostAnswers:
		return usage(fmt.Sprintf("--n %d is outside 1 to %d", c.N, mostAnswers), "give the number of answers that count")
	case c.Correct < 0 || c.Correct > c.N:
		return usage(fmt.Sprintf("--correct %d is not a count of %d answers", c.Correct, c.N), fmt.Sprintf("give a number from 0 to %d", c.N))
	}
	if err := inside("alpha", c.Alpha, 0, 0.5); err != nil {
		return err
	}
	confidence := 1 - 2*c.Alpha
	if c.TwoSided {
		confidence = 1 - c.Alpha
	}
	if c.Confidence != nil {
		if err := inside("confidence", *c.Confidence, 0, 1); err != nil {
			return err
		}
		confidence = *c.Confidence
	}
	out := c.analyse(m, sided, confidence)
	if c.JSON {
		return printJSON(to.out, out)
	}
	c.tell(to.out, out)
	return nil
}

func (c *resultCommand) analyse(m stats.Psychometric, sided stats.Sided, confidence float64) resultOut {
	chance := m.Chance()
	out := resultOut{
		Method: c.Method, Sided: string(sided), N: c.N, Correct: c.Correct, Chance: chance, Alpha: c.Alpha,
		PValue: stats.UpperTail(c.N, c.Correct, chance), Outcome: string(session.Undecided),
	}
	count := c.Correct
	least, ok := stats.MinCorrect(c.N, chance, c.Alpha)
	if sided == stats.TwoSided {
		out.PValue = stats.TwoSidedP(c.N, c.Correct)
		least, ok = stats.MinMajority(c.N, c.Alpha)
		count = max(count, c.N-count)
	}
	if ok {
		out.MinCorrect = &least
		if count >= least {
			out.Outcome = string(session.Different)
		}
	}
	pc := float64(c.Correct) / float64(c.N)
	i := stats.ClopperPearson(c.Correct, c.N, confidence)
	out.Pc = estimateOut{&pc, finite(i.Lower), finite(i.Upper), confidence}
	pd := stats.PdFromPc(pc, chance)
	if sided == stats.TwoSided {
		e := stats.EstimateBothWays(c.Correct, c.N, confidence)
		out.Pd = estimateOut{&e.Pd, finite(e.PdInterval.Lower), finite(e.PdInterval.Upper), confidence}
		out.DPrime = estimateOut{finite(e.DPrime), finite(e.DPrimeInterval.Lower), finite(e.DPrimeInterval.Upper), confidence}
	} else {
		share, d := stats.PdInterval(c.Correct, c.N, chance, confidence), m.DPrimeInterval(c.Correct, c.N, confidence)
		out.Pd = estimateOut{&pd, finite(share.Lower), finite(share.Upper), confidence}
		out.DPrime = estimateOut{finite(m.DPrime(pc)), finite(d.Lower), finite(d.Upper), confidence}
	}
	var below []stats.Warning
	if sided == stats.OneSided {
		below = stats.AdviceForCount(c.N, c.Correct, chance)
	}
	out.Warnings = warningsOut(stats.AdviceForDifference(c.N, chance, c.Alpha, sided), below)
	return out
}

func (c *resultCommand) tell(w io.Writer, out resultOut) {
	fmt.Fprintf(w, "%d of %d correct by %s (%s); guessing alone gives %.3g on average.\n", out.Correct, out.N, out.Method, out.Sided, float64(out.N)*out.Chance)
	fmt.Fprintf(w, "If nobody could taste a difference, a count like this or clearer has probability %s.\n", session.PWords(out.PValue))
	switch {
	case out.MinCorrect == nil:
		fmt.Fprintf(w, "Undecided: no count of %d can be significant at α %v.\n", out.N, out.Alpha)
	case out.Outcome == string(session.Different):
		fmt.Fprintf(w, "Different: the minimum at α %v is %d.\n", out.Alpha, *out.MinCorrect)
	default:
		fmt.Fprintf(w, "Undecided: the minimum at α %v is %d. That is no sign that the products are the same.\n", out.Alpha, *out.MinCorrect)
	}
	for _, e := range []struct {
		name string
		e    estimateOut
	}{{"pd, share who perceive it", out.Pd}, {"d′, size of the difference", out.DPrime}} {
		fmt.Fprintf(w, "%s: %s (%.3g %% interval %s to %s)\n", e.name, bound(e.e.Estimate), 100*e.e.Confidence, bound(e.e.Lower), bound(e.e.Upper))
	}
	printWarnings(w, out.Warnings)
}

func bound(x *float64) string {
	if x == nil {
		return "unbounded"
	}
	return fmt.Sprintf("%.2f", *x)
}
