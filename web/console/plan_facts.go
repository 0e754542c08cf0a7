package console

import (
	"fmt"
	"math"
	"strings"

	"oddcup/session"
)

// planFactGroup are facts under one heading, "" for none.
type planFactGroup struct {
	Heading string
	Facts   []planFact
}

type planFact struct{ Name, Value string }

const stoppingEarly = "Stopping early"

// foreseenFacts are the numbers of a forecast with their meaning.
func foreseenFacts(f session.Forecast, p session.Plan) []planFactGroup {
	of := func(x int) string { return fmt.Sprintf("%d of %d", x, f.N) }
	var groups []planFactGroup
	both := f.Plan.WantsDifference() && f.Plan.WantsSimilarity()
	group := func(heading string, facts ...planFact) {
		switch {
		case heading == stoppingEarly:
		case f.Risks != nil:
			heading += ", if it could not stop early"
		case !both:
			heading = ""
		}
		groups = append(groups, planFactGroup{heading, facts})
	}
	if f.Plan.WantsDifference() {
		facts := []planFact{
			{needed(f, "the smallest number that keeps α and has the power wanted"+printed(f, f.Plan.Alpha, 1-f.Plan.Power, f.Plan.Pd)), size(f, f.First)},
			{needed(f, "from here on every panel does"), size(f, f.Stable)},
			{"minimum correct", "none is enough"},
			{"actual α", "–"},
			{"power at the planned pd, " + pct(f.Plan.Pd) + ", " + sizeIn(f, f.Plan.Pd), foreseen(f.Power)},
		}
		if f.AtBest > f.Power {
			facts[4].Name += ", where those perceive it in every set and all others guess"
			facts = append(facts, planFact{"power if all perceive it equally well", foreseen(f.AtBest)})
		}
		if f.Reached < 1 {
			facts = append(facts, planFact{orderWords(f, false), foreseen(f.Finds())})
		}
		if f.HasMin {
			facts[2].Value, facts[3].Value = of(f.MinCorrect), pvalue(f.ActualAlpha)
			if !f.Method.Overall && f.Plan.Sets%2 == 0 {
				facts[2].Name += ", if nobody splits evenly"
				facts[3].Name += ", whoever splits evenly left out"
			}
			if f.Plan.TwoSided {
				facts[2].Value += ", either way"
			}
		}
		for _, x := range f.AtPd {
			if x.Pd != f.Plan.Pd {
				facts = append(facts, planFact{"power at pd " + pct(x.Pd), foreseen(x.Power)})
			}
		}
		smallest := "none"
		if f.CanDetect {
			smallest = pctUp(f.Detectable)
		}
		group("For a difference", append(facts,
			planFact{"smallest pd that this panel finds with power " + num(f.Plan.Power), smallest})...)
	}
	if f.Plan.WantsSimilarity() {
		group("For similarity", similarFacts(f)...)
	}
	if f.Risks != nil {
		group(stoppingEarly, sequentialFacts(f)...)
	}
	groups = append(groups, planFactGroup{"", []planFact{{"sizes that balance the serving orders", balancing(f, p)}}})
	return groups
}

func similarFacts(f session.Forecast) []planFact {
	if f.Plan.Sets > 1 {
		return similarBySets(f)
	}
	facts := []planFact{
		{needed(f, "the smallest number that keeps β and passes identical lots as often as wanted"+printed(f, 1-f.Plan.Power, f.Plan.Beta, f.Plan.PdLimit)), size(f, f.SimilarFirst)},
		{needed(f, "from here on every panel does"), size(f, f.SimilarStable)},
		{"maximum correct", "none allows the conclusion"},
		{"actual β", "–"},
		{"probability that identical lots pass", foreseen(f.PassAlike)},
	}
	if f.ReachedAlike < 1 {
		facts = append(facts, planFact{orderWords(f, true), foreseen(f.Passes())})
	}
	if f.HasMax {
		facts[2].Value, facts[3].Value = fmt.Sprintf("%d of %d", f.MaxCorrect, f.N), pvalue(f.ActualBeta)
		if f.Plan.TwoSided {
			facts[2] = planFact{"correct, from and up to", fmt.Sprintf("%d to %d of %d", f.MinSimilar, f.MaxCorrect, f.N)}
		}
	}
	smallest := "none"
	if f.CanPromise {
		smallest = pctUp(f.Within)
	}
	return append(facts, planFact{"smallest pd limit that this panel could promise, identical lots passing with " + num(f.Plan.Power), smallest})
}

// similarBySets are the facts where each taster's own share decides: no count of
// all answers does.
func similarBySets(f session.Forecast) []planFact {
	fewest := "more than any plan takes"
	if f.People > 0 {
		fewest = fmt.Sprint(f.People)
	}
	facts := []planFact{
		{"fewest people from whom similarity can be concluded", fewest},
		{"people advised", fmt.Sprintf("%d or more", session.FewForSimilarity)},
	}
	if !f.HasMax {
		return facts
	}
	facts = append(facts,
		planFact{"what decides", "the upper limit of pd from each taster’s own share, at most " + pct(f.Plan.PdLimit)},
		planFact{"risk of calling lots similar that " + pct(f.Plan.PdLimit) + " tell apart", betaWords(f.Plan)},
		planFact{"probability that identical lots pass, estimated", "about " + foreseen(f.PassAlike)})
	if f.ReachedAlike < 1 {
		facts = append(facts, planFact{orderWords(f, true), "about " + foreseen(f.Passes())})
	}
	return facts
}

// betaWords says how near the risk comes to β; see
// [stats.FewestForReplicatedSimilarity] for the panels that were worked through.
func betaWords(p session.TestPlan) string {
	if p.Sets > 4 {
		return "near β " + num(p.Beta) + "; up to half as much again with five or six sets of few people"
	}
	return "near β " + num(p.Beta)
}

// orderWords says what a probability in the registered order takes for granted.
func orderWords(f session.Forecast, alike bool) string {
	reached := f.Reached
	if alike {
		reached = f.ReachedAlike
	}
	since := ""
	if o := f.Order; !alike && len(o.AsAlike)+len(o.Larger)+len(o.Smaller) > 0 || alike && (o.Elsewhere || len(o.AsDifferent) > 0) {
		since = ", " + f.OrderWords(alike)
	}
	return fmt.Sprintf("the same in the registered order, to which %s of 100 sessions come%s (tests taken as independent)", ofHundred(reached, 0), since)
}

// printed says so where a standard's table prints the number.
func printed(f session.Forecast, alpha, beta, pd float64) string {
	if !session.SizeIsPrinted(f.Method, f.Plan.Sets, alpha, beta, pd) {
		return ""
	}
	return ", as the standards’ table prints it (from memory)"
}

// needed names who is counted.
func needed(f session.Forecast, what string) string {
	who := "assessors"
	if f.N != f.Answers/f.Plan.Sets {
		who = "answers"
	}
	return who + " needed, " + what
}

func size(f session.Forecast, n int) string {
	switch {
	case n == 0:
		return "none can be promised"
	case f.N == f.Answers && f.Plan.Sets > 1:
		return fmt.Sprintf("%d, of %s", n, counted((n+f.Plan.Sets-1)/f.Plan.Sets, "seat"))
	}
	return fmt.Sprint(n)
}

// pctUp is a proportion in percent, rounded up, so that it is reached.
func pctUp(x float64) string { return trim(math.Ceil(1000*x-1e-6)/10, 1) + "\u00a0%" }

func sequentialFacts(f session.Forecast) []planFact {
	first := func(n int) string {
		if n == 0 {
			return "not within this plan"
		}
		return counted(n, "answer")
	}
	r, pd := f.Risks, pct(f.Plan.Pd)
	low := "no difference found"
	if f.Plan.WantsSimilarity() {
		low = "similar"
	}
	facts := []planFact{
		{"can end as “different” at the earliest, all answers correct", "after " + first(f.Lines.FirstDifferent)},
		{"can end as “" + low + "” at the earliest, none correct", "after " + first(f.Lines.FirstSimilar)},
		{"exact risk of calling equal lots different, α planned " + num(f.Plan.Alpha), pvalue(r.AtP0.Different)},
		{"exact risk of missing a difference of pd " + pd + ", ended as “" + low + "” or undecided", pvalue(1 - r.AtP1.Different)},
		{"exact risk of ending a difference of pd " + pd + " as “" + low + "”, β planned " + num(f.Plan.Beta), pvalue(r.AtP1.Similar)},
		{"finds pd " + pd + " with probability", foreseen(r.AtP1.Different)},
	}
	if b := f.BestEnd; b != nil {
		for i := 3; i < len(facts); i++ {
			facts[i].Name += ", where those perceive it in every set and all others guess"
		}
		facts = append(facts,
			planFact{"finds pd " + pd + ", if all perceive it equally well", foreseen(b.Different)},
			planFact{"ends pd " + pd + " as “" + low + "”, if all perceive it equally well", pvalue(b.Similar)})
	}
	if f.Plan.WantsSimilarity() {
		facts = append(facts, planFact{"ends equal lots as “similar” with probability", foreseen(r.AtP0.Similar)})
	}
	return append(facts,
		planFact{"stays undecided, equal lots / pd " + pd, foreseen(r.AtP0.Undecided) + " / " + foreseen(r.AtP1.Undecided)},
		planFact{"expected answers, equal lots", fixed(r.AtP0.ExpectedN, 1) + " of " + fmt.Sprint(f.N)},
		planFact{"expected answers, pd " + pd, fixed(r.AtP1.ExpectedN, 1) + " of " + fmt.Sprint(f.N)})
}

// balancing are the numbers of seats about the planned one that balance; with
// several flights each must be of whole blocks.
func balancing(f session.Forecast, p session.Plan) string {
	block := f.Block
	if len(p.Flights) > 1 {
		uneven := ""
		for i, n := range p.Flights {
			if n%block != 0 {
				uneven += fmt.Sprintf(", flight %d has %d", i+1, n)
			}
		}
		if uneven == "" {
			return fmt.Sprintf("every flight a multiple of %d seats, as it is", block)
		}
		return fmt.Sprintf("every flight a multiple of %d seats; now%s", block, strings.TrimPrefix(uneven, ","))
	}
	switch below := p.Seats / block * block; {
	case below == 0:
		return counted(block, "seat")
	case below == p.Seats && below > block:
		return fmt.Sprintf("%d, %d or %d seats", below-block, below, below+block)
	default:
		return fmt.Sprintf("%d or %d seats", below, below+block)
	}
}

// habit says what a place habit of the whole panel would do.
func habit(f session.Forecast, p session.Plan) string {
	chance := float64(f.Answers) * f.Method.Chance()
	if f.Balanced {
		return fmt.Sprintf("Every serving order is used equally often. If everybody always chose the same place, as the left cup, %d of %d would be right by that alone: as many as guessing gives.",
			f.Habit, f.Answers)
	}
	say := fmt.Sprintf("If everybody always chose the same place, as the left cup, up to %d of %d would be right by that alone; with every serving order equally often it is %s.",
		f.Habit, f.Answers, trim(chance, 1))
	if len(p.Flights) > 1 {
		return say + fmt.Sprintf(" Each flight starts its own blocks of %d: make the flights whole blocks.", f.Block)
	}
	return say + fmt.Sprintf(" %s balance.", sentenceStart(balancing(f, p)))
}

func sentenceStart(s string) string { return strings.TrimSuffix(sentence(s), ".") }
