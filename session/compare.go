package session

import "oddcup/stats"

// Comparison asks how the methods compare for a difference of one size: what
// each needs to find it, or to promise that it is not there.
type Comparison struct {
	// DPrime is the size of the difference in units of a taster's own noise,
	// above 0: the one scale on which methods meet.
	DPrime float64

	Goal  string  // one of the goals
	Alpha float64 // for a difference
	Beta  float64 // for similarity
	Power float64 // wanted, for either

	Serving Serving
}

// MethodNeeds is what one method needs.
type MethodNeeds struct {
	Method   Method
	TwoSided bool
	Pc, Pd   float64 // at the d′, in this method

	Found  bool // false: Beyond, or no number can be promised, or it can't show similarity
	Beyond bool // more than [LargestCompared] assessors
	First  int  // smallest number that reaches the risks
	Stable int  // smallest from which every larger one does as well
	Seats  int  // smallest number of whole blocks of serving orders that does

	// Few marks a number below [FewForSimilarity] where similarity is asked for, and
	// Most is the number of seats that fit into one session of the method.
	Few  bool
	Most int

	Cups     int // planned, for Seats
	Supplies Supplies

	// Fewest marks the method that needs the fewest cups among those that answer
	// the same question: whether there is any difference, or one in a named
	// attribute.
	Fewest bool
}

// LargestCompared is the largest number of assessors that methods are compared
// by. What needs more is beyond any laboratory, and the search for it would be
// long: it is only known to need more.
const LargestCompared = 10_000

// Compare gives the needs of every method, in the order of [Methods], the
// paired comparison one- and two-sided. It is nil unless the figures are in
// range: the d′ from 0.05 to 10, the risks as in a plan.
func (c Comparison) Compare() []MethodNeeds {
	t := TestPlan{Goal: c.Goal, Alpha: c.Alpha, Power: c.Power, Beta: c.Beta, Pd: 0.5, PdLimit: 0.5}
	usable := within(c.DPrime, 0.05, 10)
	t.checkRisks(func(string, string, ...any) { usable = false })
	if !usable {
		return nil
	}
	var all []MethodNeeds
	for _, m := range Methods {
		all = append(all, c.needs(m, t, false))
		if m.Key == PairedComparison.Key {
			all = append(all, c.needs(m, t, true))
		}
	}
	for _, overall := range []bool{true, false} {
		best := -1
		for i, n := range all {
			if n.Found && n.Method.Overall == overall && (best < 0 || n.Cups < all[best].Cups) {
				best = i
			}
		}
		if best >= 0 {
			all[best].Fewest = true
		}
	}
	return all
}

func (c Comparison) needs(m Method, t TestPlan, twoSided bool) MethodNeeds {
	chance := m.Chance()
	n := MethodNeeds{Method: m, TwoSided: twoSided, Pc: m.Curve.PC(c.DPrime)}
	n.Pd = stats.PdFromPc(n.Pc, chance)
	if t.WantsSimilarity() && !m.ShowsSimilarity(twoSided) {
		return n // it looks one way only: see [Plan.Check]
	}
	sided := stats.OneSided
	if twoSided {
		sided = stats.TwoSided
	}
	// No test at all does with fewer answers, whichever way it looks, so the long
	// searches need not be begun.
	if n.Pc < 1 && (t.WantsDifference() && stats.FewestAnswers(chance, t.Alpha, 1-t.Power, n.Pc) > LargestCompared+1 ||
		t.WantsSimilarity() && stats.FewestAnswers(chance, 1-t.Power, t.Beta, n.Pc) > LargestCompared+1) {
		n.Beyond = true
		return n
	}
	n.Found = true
	add := func(s stats.Sizes) {
		n.Found = n.Found && s.Found
		n.First, n.Stable = max(n.First, s.Assessors.N), max(n.Stable, s.Stable.N)
	}
	if t.WantsDifference() {
		add(stats.Assessors(chance, t.Alpha, 1-t.Power, n.Pc, sided))
	}
	if t.WantsSimilarity() {
		if twoSided {
			add(stats.AssessorsSimilarBothWays(1-t.Power, t.Beta, n.Pc))
		} else {
			add(stats.AssessorsSimilar(chance, 1-t.Power, t.Beta, n.Pc))
		}
	}
	if !n.Found || n.First > LargestCompared {
		n.Beyond = n.Found
		n.Found, n.First, n.Stable = false, 0, 0
		return n
	}
	// Where both goals are asked for, the smallest numbers of each need not reach
	// the other's risks, and neither need a number that is filled up: exact power
	// is a saw. Stable reaches both, so the search ends there.
	t.Pd, t.PdLimit, t.TwoSided, t.Sets = n.Pd, n.Pd, twoSided, 1
	f := Forecast{Plan: t, Method: m}
	for n.First < n.Stable && !f.reaches(n.First) {
		n.First++
	}
	if n.First > LargestCompared {
		n.Found, n.Beyond, n.First, n.Stable = false, true, 0, 0
		return n
	}
	block := len(m.Orders)
	n.Seats = (n.First + block - 1) / block * block
	for n.Seats < n.Stable && !f.reaches(n.Seats) {
		n.Seats += block
	}
	p := Plan{Seats: n.Seats, Serving: c.Serving, Tests: []TestPlan{{Method: m.Key, Sets: 1}}}
	n.Few = t.WantsSimilarity() && n.Seats < FewForSimilarity
	n.Most = min(p.MostSeats(), mostSeats)
	n.Supplies = p.Supplies()
	n.Cups = n.Supplies.Cups
	return n
}

// DPrimeOf is the size, in units of a taster's own noise, of a difference that a
// share pd of people perceives in this method: one pd is another size in each.
func (m Method) DPrimeOf(pd float64) float64 {
	return m.Curve.DPrime(stats.PcFromPd(pd, m.Chance()))
}

// PdOf is the share of people who perceive a difference of size dPrime in this
// method.
func (m Method) PdOf(dPrime float64) float64 {
	return stats.PdFromPc(m.Curve.PC(dPrime), m.Chance())
}
