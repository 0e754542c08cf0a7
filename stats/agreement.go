package stats

import (
	"fmt"
	"math"
	"math/bits"
)

// Agreement is how two judges' answers go together in the sets that both answered:
// both right, one of them only, neither.
//
// Observed is the share of sets in which both were right or both were not, Expected
// what their own shares right give if they were independent,
//
//	Expected = p q + (1-p)(1-q)
//	Kappa = (Observed - Expected)/(1 - Expected)
//
// Kappa is 1 for full agreement, 0 for none beyond that, and NaN where Expected is 1:
// both always right, or both never. Interval is Kappa ± z SE cut to -1 and 1, SE its
// large-sample standard error (J. Cohen, 1960; J. L. Fleiss, J. Cohen, B. S. Everitt,
// Psychological Bulletin 72, 1969; from memory), NaN likewise. Phi is the correlation
// of right and wrong, NaN where one of them was always right or never. PValue is
// Fisher's exact one, two-sided.
//
// Judges agree beyond their rates already because some tests are easy and some are
// not: kappa above 0 is no sign of copying. [AgreementGivenDifficulty] takes that
// out.
type Agreement struct {
	Both, First, Second, Neither int
	N                            int
	Observed, Expected           float64
	Kappa, SE                    float64
	Interval                     Interval
	Phi                          float64
	PValue                       float64
	Warnings                     []Warning
}

// FewCommonSets: too few sets for a standard error.
const FewCommonSets WarningKind = "few-common-sets"

// fewCommon is the number of common sets below which kappa's interval is called
// rough (common practice, no source).
const fewCommon = 30

// Agree compares two judges by how many common sets both had right, the first only,
// the second only, and neither. Without a common set all is NaN but PValue, 1.
//
// It panics on a negative count, or more than 1,000,000 sets.
func Agree(both, first, second, neither int, confidence float64) Agreement {
	if !(confidence > 0 && confidence < 1) {
		panic(fmt.Sprintf("stats: confidence = %v is not between 0 and 1", confidence))
	}
	if min(both, first, second, neither) < 0 || max(both, first, second, neither) > 1_000_000 {
		panic(fmt.Sprintf("stats: common sets %d, %d, %d, %d", both, first, second, neither))
	}
	a := Agreement{Both: both, First: first, Second: second, Neither: neither, N: both + first + second + neither}
	nan := math.NaN()
	a.Observed, a.Expected, a.Kappa, a.SE, a.Phi = nan, nan, nan, nan, nan
	a.Interval, a.PValue = Interval{nan, nan, confidence}, 1
	if a.N < fewCommon {
		a.Warnings = append(a.Warnings, Warning{FewCommonSets, fmt.Sprintf(
			"Only %d sets were answered by both: the interval of kappa is rough.", a.N)})
	}
	if a.N == 0 {
		return a
	}
	n := float64(a.N)
	p11, p10, p01, p00 := float64(both)/n, float64(first)/n, float64(second)/n, float64(neither)/n
	p, q := p11+p10, p11+p01
	a.Observed = p11 + p00
	a.Expected = p*q + (1-p)*(1-q)
	a.PValue = Fisher(both, first, second, neither).PValue
	if spread := p * (1 - p) * q * (1 - q); both+first > 0 && second+neither > 0 && both+second > 0 && first+neither > 0 {
		a.Phi = (p11*p00 - p10*p01) / math.Sqrt(spread)
	}
	if rest := 1 - a.Expected; (first+second > 0 || both > 0 && neither > 0) && rest > 0 {
		k := (a.Observed - a.Expected) / rest
		a.Kappa = k
		// The terms of the variance: on the diagonal, off it, and the square.
		on := p11*sq(1-(p+q)*(1-k)) + p00*sq(1-(2-p-q)*(1-k))
		off := sq(1-k) * (p10*sq(q+1-p) + p01*sq(1-q+p))
		last := sq(k - a.Expected*(1-k))
		a.SE = math.Sqrt(max(0, on+off-last)/n) / rest
		z := normalQuantile((1 - confidence) / 2)
		a.Interval.Lower = max(-1, k-z*a.SE)
		a.Interval.Upper = min(1, k+z*a.SE)
	}
	return a
}

func sq(x float64) float64 { return x * x }

// SetAnswer is one judge's answer in one set, by the number of the set.
type SetAnswer struct {
	Set   int
	Right bool
}

// JudgePair is the agreement of two judges, First before Second.
type JudgePair struct {
	First, Second int
	Agreement     Agreement
}

// AgreePairs compares all pairs of judges with at least fewest sets in common, at
// least 1, from what each answered, in order of the judges. A set that one judge
// answers twice counts by its last answer.
//
// It panics on a negative set, unless fewest ≥ 1 and 0 < confidence < 1.
func AgreePairs(judges [][]SetAnswer, fewest int, confidence float64) []JudgePair {
	checkSize(fewest)
	type sheet struct{ answered, right []uint64 }
	sheets := make([]sheet, len(judges))
	most := 0
	for _, answers := range judges {
		for _, a := range answers {
			if a.Set < 0 {
				panic(fmt.Sprintf("stats: set %d", a.Set))
			}
			most = max(most, a.Set/64+1)
		}
	}
	for j, answers := range judges {
		sheets[j] = sheet{make([]uint64, most), make([]uint64, most)}
		for _, a := range answers {
			bit := uint64(1) << (a.Set % 64)
			sheets[j].answered[a.Set/64] |= bit
			sheets[j].right[a.Set/64] &^= bit
			if a.Right {
				sheets[j].right[a.Set/64] |= bit
			}
		}
	}
	var pairs []JudgePair
	for i := range sheets {
		for k := i + 1; k < len(sheets); k++ {
			var common, both, first, second int
			for w, x := range sheets[i].answered {
				x &= sheets[k].answered[w]
				if x == 0 {
					continue
				}
				a, b := sheets[i].right[w]&x, sheets[k].right[w]&x
				common += bits.OnesCount64(x)
				both += bits.OnesCount64(a & b)
				first += bits.OnesCount64(a &^ b)
				second += bits.OnesCount64(b &^ a)
			}
			if common >= fewest {
				pairs = append(pairs, JudgePair{i, k, Agree(both, first, second, common-both-first-second, confidence)})
			}
		}
	}
	return pairs
}

// CommonSet is a set that two judges answered, with the probabilities that each is
// right given how difficult the test is and how able the judge.
type CommonSet struct {
	PFirst, PSecond float64
	First, Second   bool // right
}

// DifficultyAgreement is the agreement of two judges beyond what difficulty gives:
// Agreed of N sets alike, Expected and SD what independent answers have, PMore and
// PLess the exact probabilities of at least and at most as many.
type DifficultyAgreement struct {
	N, Agreed    int
	Expected, SD float64
	PMore, PLess float64
}

// AgreementGivenDifficulty compares two judges in sets whose difficulty is allowed
// for: both are alike in set i with probability p_i q_i + (1-p_i)(1-q_i), and the
// number alike has a [PoissonBinomial] distribution. A small PMore says that they
// agree more than difficulty explains, as neighbours who talk would. With many pairs
// adjust by [Holm].
//
// It panics unless all are probabilities.
func AgreementGivenDifficulty(sets []CommonSet) DifficultyAgreement {
	alike := make([][]float64, len(sets))
	var out DifficultyAgreement
	for i, s := range sets {
		checkProbability("the first judge's pc", s.PFirst)
		checkProbability("the second judge's pc", s.PSecond)
		p := s.PFirst*s.PSecond + (1-s.PFirst)*(1-s.PSecond)
		alike[i] = []float64{1 - p, p}
		if s.First == s.Second {
			out.Agreed++
		}
	}
	out.N = len(sets)
	out.Expected, out.SD = meanOf(alike)
	sum := sumOf(alike)
	out.PMore, out.PLess = sum.atLeast(out.Agreed), sum.atMost(out.Agreed)
	return out
}
