package record

import (
	"fmt"
	"math"

	"oddcup/session"
	"oddcup/stats"
)

// pair is how two judges go together.
type pair struct {
	first, second session.PersonID
	all           stats.Agreement
	given         stats.DifficultyAgreement
	adjusted      float64 // of given.PMore
}

// agreement tells how judges answered the sets of tests that count.
func (p *pages) agreement() Agreement {
	f := p.fitted
	f.agreed.Do(func() { f.pairs = p.comparePairs() })
	out := Agreement{Pairs: len(f.pairs), Kappa: math.NaN(), Alike: math.NaN()}
	if len(f.pairs) == 0 {
		out.Say = fmt.Sprintf("No two judges have %d sets in common yet, so nothing is said of their agreement.", FewestCommon)
		return out
	}
	var kappas, alike []float64
	for _, x := range f.pairs {
		if !math.IsNaN(x.all.Kappa) {
			kappas = append(kappas, x.all.Kappa)
		}
		alike = append(alike, x.all.Observed)
		if x.adjusted > Level {
			continue
		}
		b := PairBeyond{
			First: x.first, Second: x.second, FirstAs: p.sheets[x.first].person.Pseudonym, SecondAs: p.sheets[x.second].person.Pseudonym,
			Agreed: x.given.Agreed, Sets: x.given.N, Expected: x.given.Expected, Adjusted: x.adjusted,
		}
		b.Say = fmt.Sprintf("%s and %s answered alike in %d of %s, where %s are expected from the difficulty of the sets (adjusted %s). Seat them apart.",
			b.FirstAs, b.SecondAs, b.Agreed, counted(b.Sets, "set"), trim(b.Expected, 1), pValue(b.Adjusted))
		out.Beyond = append(out.Beyond, b)
	}
	out.Kappa, out.Alike = median(kappas), median(alike)
	out.Say = fmt.Sprintf("In the median of %s with %d common sets or more, %.0f %% of the sets were answered alike", counted(out.Pairs, "pair"), FewestCommon, 100*out.Alike)
	if !math.IsNaN(out.Kappa) {
		out.Say += fmt.Sprintf(" (kappa %s; 0 is no agreement beyond each one's share right, 1 is full)", trim(out.Kappa, 2))
	}
	out.Say += ". Easy and hard tests alone make judges agree."
	if len(out.Beyond) == 0 {
		out.Say += " No pair was found to agree more than that explains."
	}
	return out
}

// comparePairs compares all pairs of judges with enough common sets.
func (p *pages) comparePairs() []pair {
	f := p.fitted
	at := map[testKey]int{}
	for t, e := range p.tests {
		if e.session != "" && f.all[t].Counting == stats.TestCounts {
			at[e.testKey] = t
		}
	}
	type set struct{ test, set int }
	numbers := map[set]int{}
	var tests []int // by number of a set
	answers := make([][]stats.SetAnswer, len(p.order))
	for i, id := range p.order {
		for _, j := range p.sheets[id].sessions {
			for _, s := range j.Sets {
				t, ok := at[testKey{j.Session, s.Test}]
				if !ok {
					continue
				}
				k := set{t, s.Set}
				n, ok := numbers[k]
				if !ok {
					n = len(numbers)
					numbers[k] = n
					tests = append(tests, t)
				}
				answers[i] = append(answers[i], stats.SetAnswer{Set: n, Right: s.Right})
			}
		}
	}
	type answered struct {
		right map[int]bool    // by number of a set
		pc    map[int]float64 // by test
	}
	sheets := make([]*answered, len(p.order))
	sheetOf := func(i int) *answered {
		if sheets[i] != nil {
			return sheets[i]
		}
		s := &answered{map[int]bool{}, map[int]float64{}}
		n := f.number[p.order[i]]
		expected := f.fit.Expected(n, f.fit.Judges[n].Ability)
		for k, t := range f.fit.Trials(n) {
			s.pc[t.Test] = min(1, meanOf(expected[k])/float64(t.Sets()))
		}
		for _, a := range answers[i] {
			s.right[a.Set] = a.Right
		}
		sheets[i] = s
		return s
	}
	var all []pair
	var ps []float64
	for _, x := range stats.AgreePairs(answers, FewestCommon, Confidence) {
		first, second := sheetOf(x.First), sheetOf(x.Second)
		var common []stats.CommonSet
		for n, right := range first.right {
			also, ok := second.right[n]
			pFirst, in := first.pc[tests[n]]
			pSecond, both := second.pc[tests[n]]
			if ok && in && both {
				common = append(common, stats.CommonSet{PFirst: pFirst, PSecond: pSecond, First: right, Second: also})
			}
		}
		given := stats.AgreementGivenDifficulty(common)
		all = append(all, pair{first: p.order[x.First], second: p.order[x.Second], all: x.Agreement, given: given})
		ps = append(ps, given.PMore)
	}
	for i, adjusted := range stats.Holm(ps) {
		all[i].adjusted = adjusted
	}
	return all
}
