package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// planCommand works out how many assessors a test needs, or with --compare how
// the methods compare for a d′.
//
// # One method
//
// With --json it prints, by the glossary's names: method, goal, sided, chance,
// alpha, beta, wanted (the power; null where the goal does not use them), pd,
// dPrime and pc (the difference worth finding; dPrime is null where it is
// unbounded), pdLimit (where similarity is a goal), assessors (the smallest
// number that reaches the risks, which is what the standards' tables print),
// assessorsStable (the smallest from which every larger one does), minCorrect
// and maxCorrect at assessors (minSimilar as well where similarity is
// two-sided), actualAlpha, actualBeta and power, identicalPass, and warnings
// (kind, say). For a difference actualAlpha is the risk of finding one where
// there is none, power the probability of finding it, and actualBeta that of
// missing it. For similarity actualBeta is the risk of calling lots similar at
// the limit, power and identicalPass the probability that identical lots pass,
// and actualAlpha that they don't. For both, actualAlpha and power are those of
// the difference and actualBeta that of similarity. Where nothing can be
// promised the numbers are null.
//
// # All methods
//
// With --compare --json it prints dPrime, goal, alpha, beta, wanted,
// fillG, doseGPerL (as usually served), caffeineMgPerSeat's source
// (caffeineFrom), and methods, each with method, sided, overall (whether it asks
// for any difference), pc, pd, assessors, assessorsStable, seats (assessors filled
// up to whole blocks of serving orders), cups, spareCups, coffeeG and waterG (of
// each lot), cupsPerSeat, caffeineMgPerSeat (an estimate, no bound), moreThan (a number
// of assessors, where so many are known not to do and the search ends), mostSeats
// (that fit into one session of the method), few (whether it is fewer than are
// advised for similarity) and fewest (the fewest cups among those that answer the
// same question); numbers are null where nothing can be promised. The table in
// words gives coffee and water of both lots together.
type planCommand struct {
	Method   string   `help:"One of triangle, duo-trio, tetrad, paired-comparison, 3-afc." placeholder:"METHOD"`
	Goal     string   `help:"What the test is to show: difference, similarity or both." default:"difference" placeholder:"GOAL"`
	Alpha    *float64 `help:"Difference: risk of finding one where there is none, default 0.05. Similarity alone: risk that identical lots fail, instead of --power." placeholder:"RISK"`
	Beta     *float64 `help:"Difference alone: risk of missing it, instead of --power. Similarity: risk of calling lots similar at the limit, default 0.05." placeholder:"RISK"`
	Power    *float64 `help:"Wanted probability of finding the difference, or that identical lots pass. Default: 0.8." placeholder:"P"`
	Pd       *float64 `help:"Proportion of discriminators worth finding; for similarity alone the limit. Between 0 and 1." placeholder:"P"`
	DPrime   *float64 `name:"dprime" help:"Size of the difference instead of --pd, in units of one taster's noise." placeholder:"D"`
	PdLimit  *float64 `help:"Goal both: proportion of discriminators that is still called similar. Default: that of --pd or --dprime." placeholder:"P"`
	TwoSided bool     `help:"Paired comparison in which either product may have more."`
	Compare  bool     `help:"Put all methods side by side for --dprime: assessors, cups, coffee, water, caffeine."`
	JSON     bool     `help:"Print JSON."`
}

type planOut struct {
	Method          string       `json:"method"`
	Goal            string       `json:"goal"`
	Sided           string       `json:"sided"`
	Chance          float64      `json:"chance"`
	Alpha           *float64     `json:"alpha"`
	Beta            *float64     `json:"beta"`
	Wanted          float64      `json:"wanted"`
	Pd              float64      `json:"pd"`
	DPrime          *float64     `json:"dPrime"`
	Pc              float64      `json:"pc"`
	PdLimit         *float64     `json:"pdLimit"`
	Assessors       *int         `json:"assessors"`
	AssessorsStable *int         `json:"assessorsStable"`
	MinCorrect      *int         `json:"minCorrect"`
	MinSimilar      *int         `json:"minSimilar"`
	MaxCorrect      *int         `json:"maxCorrect"`
	ActualAlpha     *float64     `json:"actualAlpha"`
	ActualBeta      *float64     `json:"actualBeta"`
	Power           *float64     `json:"power"`
	IdenticalPass   *float64     `json:"identicalPass"`
	Warnings        []warningOut `json:"warnings"`
}

// Run implements the command.
func (c *planCommand) Run(to streams) error {
	if c.Goal != session.GoalDifference && c.Goal != session.GoalSimilarity && c.Goal != session.GoalBoth {
		return usage(fmt.Sprintf("--goal %q is not known", c.Goal), "use difference, similarity or both")
	}
	risks, err := c.risks()
	if err != nil {
		return err
	}
	if c.Compare {
		return c.compare(to, risks)
	}
	w := want{risks: risks, goal: c.Goal}
	if w.method, w.sided, err = methodOf(c.Method, c.TwoSided); err != nil {
		return err
	}
	if err := goalOf(c.Goal, w.method, c.TwoSided); err != nil {
		return err
	}
	// For similarity alone the limit is the one size there is.
	if c.Goal == session.GoalSimilarity && c.PdLimit != nil {
		if c.Pd != nil || c.DPrime != nil {
			return usage("--pd-limit and --pd or --dprime both state the limit", "give one of them")
		}
		if err := inside("pd-limit", *c.PdLimit, 0, 1); err != nil {
			return err
		}
		c.Pd, c.PdLimit = c.PdLimit, nil
	}
	pd, dPrime, err := c.size(w.method.Curve)
	if err != nil {
		return err
	}
	w.pc = stats.PcFromPd(pd, w.method.Chance())
	w.limit = w.pc
	if c.PdLimit != nil {
		if c.Goal != session.GoalBoth {
			return usage("--pd-limit is for the goal both", "for similarity alone --pd is the limit")
		}
		if err := inside("pd-limit", *c.PdLimit, 0, 1); err != nil {
			return err
		}
		w.limit = stats.PcFromPd(*c.PdLimit, w.method.Chance())
	}
	out := w.plan()
	out.Pd, out.DPrime = pd, finite(dPrime)
	if c.JSON {
		return printJSON(to.out, out)
	}
	tellPlan(to.out, out)
	return nil
}

// risks are those of a plan. miss is the probability of missing the goal where
// it is true, one minus the wanted power.
type risks struct{ alpha, beta, miss float64 }

// risks reads the risks; where the goal is one of the two, one minus the power
// may be given instead.
func (c *planCommand) risks() (risks, error) {
	r := risks{orUsual(c.Alpha, 0.05), orUsual(c.Beta, 0.05), oneMinus(orUsual(c.Power, 0.8))}
	for _, f := range []struct {
		flag string
		x    float64
	}{{"alpha", r.alpha}, {"beta", r.beta}, {"power", orUsual(c.Power, 0.8)}} {
		if err := inside(f.flag, f.x, 0, 1); err != nil {
			return r, err
		}
	}
	miss := map[string]*float64{session.GoalDifference: c.Beta, session.GoalSimilarity: c.Alpha}[c.Goal]
	switch {
	case miss != nil && c.Power != nil && c.Goal == session.GoalDifference:
		return r, usage("--beta and --power both state the probability of missing a difference", "give one of them")
	case miss != nil && c.Power != nil:
		return r, usage("--alpha and --power both state the probability that identical lots pass", "give one of them")
	case miss != nil:
		r.miss = *miss
	}
	if c.TwoSided && c.Goal != session.GoalDifference && r.beta >= 0.5 {
		return r, usage(fmt.Sprintf("--beta %v: similarity both ways takes a risk below 0.5", r.beta), "give it as a fraction, such as --beta 0.05")
	}
	return r, nil
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
	if err := c.checkDPrime(0); err != nil {
		return 0, 0, err
	}
	return stats.PdFromPc(m.PC(*c.DPrime), m.Chance()), *c.DPrime, nil
}

func (c *planCommand) checkDPrime(low float64) error {
	if *c.DPrime > 0 && *c.DPrime >= low && *c.DPrime <= 10 {
		return nil
	}
	return usage(fmt.Sprintf("--dprime %v is outside %v to 10", *c.DPrime, low), "1 is small and 2 is large for a trained panel (common practice, no source)")
}

// want is what a plan of one method is to reach: a difference at the probability
// pc of a correct answer, similarity at the limit.
type want struct {
	risks
	goal      string
	method    session.Method
	sided     stats.Sided
	pc, limit float64
}

func (w want) difference() bool { return w.goal != session.GoalSimilarity }
func (w want) similarity() bool { return w.goal != session.GoalDifference }

// oneMinus is 1 - p without last digits that nobody typed.
func oneMinus(p float64) float64 {
	if q := math.Round((1-p)*1e12) / 1e12; q > 0 {
		return q
	}
	return 1 - p
}

func (w want) similarPanel(n int) stats.Panel {
	if w.sided == stats.TwoSided {
		return stats.SimilarityPanelBothWays(n, w.beta, w.limit)
	}
	return stats.SimilarityPanel(n, w.method.Chance(), w.beta, w.limit)
}

func (w want) differencePanel(n int) stats.Panel {
	return stats.DifferencePanel(n, w.method.Chance(), w.alpha, w.pc, w.sided)
}

// sizes are the planner's answers for the goals.
func (w want) sizes() []stats.Sizes {
	var all []stats.Sizes
	if w.difference() {
		all = append(all, stats.Assessors(w.method.Chance(), w.alpha, w.miss, w.pc, w.sided))
	}
	switch {
	case w.similarity() && w.sided == stats.TwoSided:
		all = append(all, stats.AssessorsSimilarBothWays(w.miss, w.beta, w.limit))
	case w.similarity():
		all = append(all, stats.AssessorsSimilar(w.method.Chance(), w.miss, w.beta, w.limit))
	}
	return all
}

// numbers are the smallest panel that reaches every goal and the smallest from
// which all do; 0 where none is promised. Between the smallest ones of the single
// goals and their stable ones some reach one goal and not the other.
func (w want) numbers(sizes []stats.Sizes) (first, stable int) {
	for _, s := range sizes {
		if !s.Found {
			return 0, 0
		}
		first, stable = max(first, s.Assessors.N), max(stable, s.Stable.N)
	}
	const tie = 1e-12
	for ; first < stable; first++ {
		difference := !w.difference() || w.differencePanel(first).ActualBeta <= w.miss*(1+tie)
		if difference && (!w.similarity() || w.similarPanel(first).ActualAlpha <= w.miss*(1+tie) && w.similarPanel(first).Conclusive) {
			break
		}
	}
	return first, stable
}

func (w want) plan() planOut {
	sizes := w.sizes()
	out := planOut{
		Method: w.method.Key, Goal: w.goal, Sided: string(w.sided), Chance: w.method.Chance(), Wanted: oneMinus(w.miss), Pc: w.pc,
	}
	alpha, beta, limit := w.alpha, w.beta, stats.PdFromPc(w.limit, w.method.Chance())
	if w.goal == session.GoalDifference {
		beta = w.miss
	}
	if w.goal == session.GoalSimilarity {
		alpha = w.miss
	}
	out.Alpha, out.Beta = &alpha, &beta
	if w.similarity() {
		out.PdLimit = &limit
	}
	var advice []stats.Warning
	for _, s := range sizes {
		advice = append(advice, s.Warnings...)
	}
	first, stable := w.numbers(sizes)
	if first == 0 {
		out.Warnings = warningsOut(advice)
		return out
	}
	out.Assessors, out.AssessorsStable = &first, &stable
	if w.similarity() {
		p := w.similarPanel(first)
		lowest := first - p.MaxCorrect
		out.MaxCorrect, out.IdenticalPass = &p.MaxCorrect, &p.Power
		out.ActualAlpha, out.ActualBeta, out.Power = &p.ActualAlpha, &p.ActualBeta, &p.Power
		if w.sided == stats.TwoSided {
			out.MinSimilar = &lowest
			advice = append(advice, stats.AdviceForSimilarityBothWays(first, w.beta, limit)...)
		} else {
			advice = append(advice, stats.AdviceForSimilarity(first, w.method.Chance(), w.beta, limit)...)
		}
	}
	if w.difference() {
		p := w.differencePanel(first)
		out.MinCorrect, out.ActualAlpha, out.Power = &p.MinCorrect, &p.ActualAlpha, &p.Power
		if !w.similarity() {
			out.ActualBeta = &p.ActualBeta
		}
		advice = append(advice, stats.AdviceForDifference(first, w.method.Chance(), w.alpha, w.sided)...)
	}
	out.Warnings = warningsOut(advice)
	return out
}

func tellPlan(w io.Writer, out planOut) {
	d := "unbounded"
	if out.DPrime != nil {
		d = fmt.Sprintf("%.2f", *out.DPrime)
	}
	switch out.Goal {
	case session.GoalDifference:
		fmt.Fprintf(w, "To find, by %s (%s), a difference that %.3g %% perceive (pd; d′ %s), α %v, β %v:\n", out.Method, out.Sided, 100*out.Pd, d, *out.Alpha, *out.Beta)
	case session.GoalSimilarity:
		fmt.Fprintf(w, "To show, by %s (%s), that fewer than %.3g %% perceive a difference (pd limit; d′ %s), β %v, identical lots passing with probability %v:\n",
			out.Method, out.Sided, 100*out.Pd, d, *out.Beta, out.Wanted)
	default:
		fmt.Fprintf(w, "By %s (%s), to find a difference that %.3g %% perceive (pd; d′ %s), α %v, and to show that fewer than %.3g %% do (pd limit), β %v, each with power %v:\n",
			out.Method, out.Sided, 100*out.Pd, d, *out.Alpha, 100**out.PdLimit, *out.Beta, out.Wanted)
	}
	if out.Assessors == nil {
		printWarnings(w, out.Warnings)
		return
	}
	printed := ""
	if out.printed() {
		printed = " (as the standards' table prints, from memory)"
	}
	fmt.Fprintf(w, "%d assessors reach %s first%s, and every number from %d on does.\n",
		*out.Assessors, map[bool]string{true: "all risks", false: "both risks"}[out.Goal == session.GoalBoth], printed, *out.AssessorsStable)
	var say []string
	if out.MinCorrect != nil {
		say = append(say, fmt.Sprintf("minimum correct %d, actual α %.4f, power %.4f", *out.MinCorrect, *out.ActualAlpha, *out.Power))
	}
	if out.MaxCorrect != nil {
		within := fmt.Sprintf("maximum correct %d", *out.MaxCorrect)
		if out.MinSimilar != nil {
			within = fmt.Sprintf("%d to %d correct show similarity", *out.MinSimilar, *out.MaxCorrect)
		}
		say = append(say, fmt.Sprintf("%s, actual β %.4f, identical lots pass with probability %.4f", within, *out.ActualBeta, *out.IdenticalPass))
	}
	fmt.Fprintf(w, "  With %d: %s.\n", *out.Assessors, strings.Join(say, "; "))
	switch most := out.mostSeats(); {
	case *out.Assessors > outOfReach:
		fmt.Fprintf(w, "  Out of reach for a laboratory; one session holds %d seats of it at most. Look for a larger difference, or take higher risks.\n", most)
	case *out.Assessors > most:
		fmt.Fprintf(w, "  One session holds %d seats of it at most, since its codes end there.\n", most)
	}
	if out.MaxCorrect != nil || !out.overall() {
		fmt.Fprintln(w, "  Each answer must come from another person: several sets of one taster are not so many assessors.")
	} else {
		fmt.Fprintln(w, "  The power takes each answer from another person; several sets of one taster find less.")
	}
	if out.MinSimilar != nil {
		fmt.Fprintln(w, "  Both ways takes it that all who perceive the difference perceive it the same way: people who differ in direction cancel out.")
	}
	if out.DPrime != nil {
		fmt.Fprintln(w, twoReadings)
	}
	printWarnings(w, out.Warnings)
}

// twoReadings tells how pd and d′ go together.
const twoReadings = "  pd and d′ read one share of right answers in two ways: pd as people who always perceive it, all others guessing; d′ as one size of difference for all (Thurstone)."

// overall reports whether the method asks for any difference.
func (out planOut) overall() bool {
	m, ok := session.MethodByKey(out.Method)
	return ok && m.Overall
}

// mostSeats is how many seats of the method one session holds: its codes suffice
// for so many, and no plan takes more than outOfReach.
func (out planOut) mostSeats() int {
	return min(session.Plan{Tests: []session.TestPlan{{Method: out.Method, Sets: 1}}}.MostSeats(), outOfReach)
}

// printed reports whether a standard's table holds the number of assessors.
func (out planOut) printed() bool {
	m, ok := session.MethodByKey(out.Method)
	return ok && out.Goal != session.GoalBoth && session.SizeIsPrinted(m, 1, *out.Alpha, *out.Beta, out.Pd)
}
