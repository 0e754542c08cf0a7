package stats

import (
	"fmt"
	"math"
	"sort"
)

// leftOut is the probability below which an outcome at the end of the sums here is
// let go, since powers are of use from some hundredths on.
const leftOut = 1e-25

// Perceivers are people as the proportion of discriminators has them: a share Pd
// of them perceives the difference and gets each of its sets right, and all
// others guess at each. With one set a person that is [PcFromPd]. With several,
// the sets of one person stand or fall together, and a panel finds the
// difference less often than as many people with one set each: had all the same
// ability, each set would be right with probability PcFromPd(Pd, Chance), and
// [Power] of all sets is what the panel does at best.
type Perceivers struct {
	Sets   int     // of a person, at least 1
	Chance float64 // that a guess is right
	Pd     float64
}

func (p Perceivers) check() {
	checkSize(p.Sets)
	checkChance(p.Chance)
	checkProbability("pd", p.Pd)
}

// PooledPower returns the probability that the answers of so many people
// together, n = people·Sets of them, reach the [MinCorrect] of n at alpha; 0
// where no count does. With m perceivers the others' right answers are binomial,
//
//	Σ_m P(M = m) P(Y ≥ x - m·Sets),  M ~ Bin(people, Pd),  Y ~ Bin((people-m)·Sets, Chance)
//
// It is exact, with the relative error of [UpperTail].
//
// It panics unless people ≥ 1, Sets ≥ 1, 0 ≤ Chance < 1 and alpha and Pd lie in
// [0, 1].
func (p Perceivers) PooledPower(people int, alpha float64) float64 {
	p.check()
	return mixed(p.pooledTails(people, alpha), p.Pd)
}

// PooledAtMost returns the probability that no more than x answers of so many
// people together are right, as [Perceivers.PooledPower] has them.
//
// It panics unless people ≥ 1, Sets ≥ 1, 0 ≤ Chance < 1 and Pd lies in [0, 1].
func (p Perceivers) PooledAtMost(people, x int) float64 {
	p.check()
	checkSize(people)
	sum := 0.0
	for m := 0; m <= people && m*p.Sets <= x; m++ {
		share := PMF(people, m, p.Pd)
		if share < leftOut {
			continue
		}
		if guesses := (people - m) * p.Sets; x-m*p.Sets < guesses {
			share *= LowerTail(guesses, x-m*p.Sets, p.Chance)
		}
		sum += share
	}
	return min(sum, 1)
}

// pooledTails are the probabilities of significance by the number of perceivers;
// nil where no count is significant.
func (p Perceivers) pooledTails(people int, alpha float64) []float64 {
	checkSize(people)
	least, ok := MinCorrect(people*p.Sets, p.Chance, alpha)
	if !ok {
		return nil
	}
	tails := make([]float64, people+1)
	for m := range tails {
		guesses, needed := (people-m)*p.Sets, least-m*p.Sets
		switch {
		case needed <= 0:
			tails[m] = 1
		case needed <= guesses:
			tails[m] = UpperTail(guesses, needed, p.Chance)
		}
	}
	return tails
}

// mixed is the mean of what each number of perceivers gives.
func mixed(tails []float64, pd float64) float64 {
	sum := 0.0
	for m, tail := range tails {
		if tail > 0 {
			sum += PMF(len(tails)-1, m, pd) * tail
		}
	}
	return min(sum, 1)
}

// PooledPowers returns [Perceivers.PooledPower] of all numbers of people up to
// the most: element n is that of n people, element 0 is 0. A person's right
// answers have the generating function
//
//	Pd z^Sets + (1-Pd) (1-Chance + Chance z)^Sets
//
// and one person after the other is added: sums of positive terms, so the
// relative error is some 1e-16 for each, beside 1e-20 that may be left out.
//
// It panics unless most ≥ 1 and where PooledPower does.
func (p Perceivers) PooledPowers(most int, alpha float64) []float64 {
	p.check()
	checkSize(most)
	person := p.person()
	least := minimaOf(most, p.Sets, p.Chance, alpha)
	powers := make([]float64, most+1)
	right := counted{mass: []float64{1}}
	for n := 1; n <= most; n++ {
		right.add(person)
		right.trimBelow(leftOut)
		if least[n] <= n*p.Sets {
			powers[n] = right.atLeast(least[n])
		}
	}
	return powers
}

// PooledPowerOf returns the probability that at least so many answers are right
// of people who may each have had another number of sets, where a share pd of
// them perceives the difference as [Perceivers] do; what they had right is not
// used.
//
// It panics on an impossible count and unless 0 ≤ chance < 1 and pd lies in
// [0, 1].
func PooledPowerOf(people []Replicates, chance, pd float64, least int) float64 {
	right := counted{mass: []float64{1}}
	for _, one := range people {
		if one.N == 0 {
			continue
		}
		right.add(Perceivers{one.N, chance, pd}.person())
	}
	return right.atLeast(least)
}

// person is the distribution of one person's right answers.
func (p Perceivers) person() []float64 {
	p.check()
	person := make([]float64, p.Sets+1)
	for x := range person {
		person[x] = (1 - p.Pd) * PMF(p.Sets, x, p.Chance)
	}
	person[p.Sets] += p.Pd
	return person
}

// minimaOf returns [MinCorrect] of n·sets answers for each n up to the most; one
// more than there are answers where no count is significant. With so many more
// answers the minimum rises by as many at most, so each is near the one before.
func minimaOf(most, sets int, chance, alpha float64) []int {
	least := make([]int, most+1)
	least[0] = 1
	level := logLevel(alpha)
	for n := 1; n <= most; n++ {
		from, answers := least[n-1], n*sets
		least[n] = from + sort.Search(sets, func(more int) bool {
			return from+more > answers || LogUpperTail(answers, from+more, chance) <= level
		})
	}
	return least
}

// PooledDetectable returns the smallest Pd at which so many people find the
// difference with the given power, the inverse of [Perceivers.PooledPower]; the
// Pd of p is not used. ok is false, and pd 1, where none does; pd is 0 where the
// actual alpha already is that power. The absolute error is below 1e-9.
//
// It panics where PooledPower does and unless 0 < power < 1.
func (p Perceivers) PooledDetectable(people int, alpha, power float64) (pd float64, ok bool) {
	p.Pd = 0
	p.check()
	checkRisk("power", power)
	tails := p.pooledTails(people, alpha)
	return smallestPd(func(pd float64) bool { return mixed(tails, pd) >= power })
}

func smallestPd(enough func(pd float64) bool) (pd float64, ok bool) {
	switch {
	case !enough(1):
		return 1, false
	case enough(0):
		return 0, true
	}
	low, high := 0.0, 1.0
	for high-low > 1e-9 {
		if mid := (low + high) / 2; enough(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}

// Majority returns the probabilities that most of a person's sets are right and
// that as many are right as wrong:
//
//	right = Pd + (1-Pd) P(Y > Sets/2),  even = (1-Pd) P(Y = Sets/2),  Y ~ Bin(Sets, Chance)
//
// It panics unless Sets ≥ 1, 0 ≤ Chance < 1 and Pd lies in [0, 1].
func (p Perceivers) Majority() (right, even float64) {
	p.check()
	if p.Sets%2 == 0 {
		even = (1 - p.Pd) * PMF(p.Sets, p.Sets/2, p.Chance)
	}
	return p.Pd + (1-p.Pd)*UpperTail(p.Sets, p.Sets/2+1, p.Chance), even
}

// majorityTest is the sign test on people's majorities in pairs.
type majorityTest struct {
	sided Sided
	least []int // by the number of majorities; more than that where none is significant
}

func newMajorityTest(most int, alpha float64, sided Sided) majorityTest {
	checkSided(sided, 0.5)
	if sided == TwoSided {
		alpha /= 2
	}
	return majorityTest{sided, minimaOf(most, 1, 0.5, alpha)}
}

// powers are the probabilities of significance by the number of majorities, each
// right with probability pc.
func (t majorityTest) powers(pc float64) []float64 {
	powers := make([]float64, len(t.least))
	for n := 1; n < len(t.least); n++ {
		switch x := t.least[n]; {
		case x > n:
		case t.sided == TwoSided:
			powers[n] = bothWays(n, x, pc)
		default:
			powers[n] = UpperTail(n, x, pc)
		}
	}
	return powers
}

// MajorityPowers returns, for a paired comparison in which people with most of
// their sets one way are counted ([SignByMajority]), the probability that n
// people show a difference at alpha: element n, up to the most; element 0 is 0.
// How many have a majority is binomial, and of those how many have it the right
// way. It is exact; a two-sided test counts a finding in either direction, as
// [PowerTwoSided] does.
//
// It panics unless most ≥ 1, Chance is 1/2, Sets ≥ 1 and alpha and Pd lie in
// [0, 1].
func (p Perceivers) MajorityPowers(most int, alpha float64, sided Sided) []float64 {
	p.checkPairs()
	checkSize(most)
	return p.majorityPowers(newMajorityTest(most, alpha, sided))
}

func (p Perceivers) checkPairs() {
	p.check()
	if p.Chance != 0.5 {
		panic(fmt.Sprintf("stats: majorities with chance = %v, not 1/2", p.Chance))
	}
}

func (p Perceivers) majorityPowers(t majorityTest) []float64 {
	right, even := p.Majority()
	of := t.powers(min(right/(1-even), 1))
	powers := make([]float64, len(of))
	majorities := counted{mass: []float64{1}}
	for n := 1; n < len(of); n++ {
		majorities.add([]float64{even, 1 - even})
		majorities.trimBelow(leftOut)
		for i, w := range majorities.mass {
			powers[n] += w * of[majorities.from+i]
		}
		powers[n] = min(powers[n], 1)
	}
	return powers
}

// MajorityDetectable returns the smallest Pd at which so many people find the
// difference with the given power by their majorities, as
// [Perceivers.PooledDetectable] does for pooled answers.
//
// It panics where MajorityPowers does and unless 0 < power < 1.
func (p Perceivers) MajorityDetectable(people int, alpha, power float64, sided Sided) (pd float64, ok bool) {
	p.Pd = 0
	p.checkPairs()
	checkSize(people)
	checkRisk("power", power)
	t := newMajorityTest(people, alpha, sided)
	return smallestPd(func(pd float64) bool {
		p.Pd = pd
		right, even := p.Majority()
		pc, sum := min(right/(1-even), 1), 0.0
		for n := 1; n <= people; n++ {
			if w := PMF(people, n, 1-even); w > 1e-15 && t.least[n] <= n {
				if t.sided == TwoSided {
					sum += w * bothWays(n, t.least[n], pc)
				} else {
					sum += w * UpperTail(n, t.least[n], pc)
				}
			}
		}
		return sum >= power
	})
}

// PooledEnough returns a number of people from which every panel finds the
// difference by its pooled answers, at most alpha to find one where everybody
// guesses and at most beta to miss it, so that a search may end there; 0 where
// Pd is 0. With t a share of right answers between Chance and [PcFromPd], D the
// Kullback-Leibler divergence and S a person's right answers,
//
//	max( ln(1/alpha)/(Sets·D(t, Chance)), ln(1/beta)/I(t) ),  I(t) = max_θ -ln E e^{-θ(S - t·Sets)}
//
// people suffice, since the minimum t·n·Sets keeps both risks (Chernoff's bound,
// a textbook result, from memory); t is taken where both terms are equal.
//
// It panics unless Sets ≥ 1, 0 < Chance < 1, Pd lies in [0, 1], 0 < alpha < 1
// and 0 < beta < 1.
func (p Perceivers) PooledEnough(alpha, beta float64) int {
	p.check()
	checkRisk("chance", p.Chance)
	checkRisk("alpha", alpha)
	checkRisk("beta", beta)
	low, high := p.Chance, min(PcFromPd(p.Pd, p.Chance), 1-1e-9)
	if high <= low {
		return 0
	}
	difference := func(t float64) float64 { return math.Log(1/alpha) / (float64(p.Sets) * divergence(t, p.Chance)) }
	missed := func(t float64) float64 { return math.Log(1/beta) / p.exponent(t) }
	for range 40 {
		if t := (low + high) / 2; difference(t) > missed(t) {
			low = t
		} else {
			high = t
		}
	}
	n := math.Ceil(max(difference(high), missed(high)))
	if !(n < LargestPanel) {
		return LargestPanel
	}
	return int(n)
}

// exponent is I of [Perceivers.PooledEnough] or a little less: the largest value
// of a concave function of θ, by thirds.
func (p Perceivers) exponent(t float64) float64 {
	k := float64(p.Sets)
	at := func(theta float64) float64 {
		e := math.Exp(-theta)
		return -math.Log(p.Pd*math.Pow(e, k)+(1-p.Pd)*math.Pow(1-p.Chance+p.Chance*e, k)) - theta*k*t
	}
	low, high := 0.0, 30.0
	for range 60 {
		if a, b := (2*low+high)/3, (low+2*high)/3; at(a) < at(b) {
			low = a
		} else {
			high = b
		}
	}
	return at((low + high) / 2)
}
