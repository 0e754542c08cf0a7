package stats

import (
	"math"
	"math/big"
	"sort"
	"strconv"
	"strings"
	"testing"
)

// ints reads a cell of whole numbers with blanks between.
func (r record) ints(column string) (xs []int) {
	r.t.Helper()
	for _, text := range strings.Fields(r.text(column)) {
		x, err := strconv.Atoi(text)
		if err != nil {
			r.t.Fatalf("%s:%d: %s: %v", r.file, r.line, column, err)
		}
		xs = append(xs, x)
	}
	return xs
}

func TestChoiceAgainstReference(t *testing.T) {
	eachRecord(t, "i2_position_chisq.csv", 8, func(r record) bool {
		counts := r.ints("observed")
		var shares []float64
		uniform := true
		for _, text := range strings.Fields(r.text("expected_proportions")) {
			share, ok := new(big.Rat).SetString(text)
			if !ok {
				t.Fatalf("%s:%d: %q", r.file, r.line, text)
			}
			s, _ := share.Float64()
			shares = append(shares, s)
			uniform = uniform && s == shares[0]
		}
		choice := ProportionalChoice(counts, shares)
		if want := r.float("chisq"); math.Abs(choice.ChiSquare-want) > 1e-13*want {
			t.Errorf("%s:%d: chi-square %v", r.file, r.line, choice.ChiSquare)
		}
		r.near("p_value", choice.ChiSquareP, 1e-12)
		if choice.DF != r.int("df") || choice.Method != Exact {
			t.Errorf("%s:%d: %+v", r.file, r.line, choice)
		}
		if uniform && UniformChoice(counts).PValue != choice.PValue {
			t.Errorf("%s:%d: UniformChoice differs: %+v", r.file, r.line, UniformChoice(counts))
		}
		return true
	})
}

// compositions calls visit with every split of n into k counts.
func compositions(n, k int, visit func(counts []int)) {
	counts := make([]int, k)
	var walk func(at, left int)
	walk = func(at, left int) {
		if at == k-1 {
			counts[at] = left
			visit(counts)
			return
		}
		for counts[at] = 0; counts[at] <= left; counts[at]++ {
			walk(at+1, left-counts[at])
		}
		counts[at] = 0
	}
	walk(0, n)
}

// factorials holds x! up to the largest enumeration.
var factorials = func() []*big.Int {
	all := []*big.Int{big.NewInt(1)}
	for x := int64(1); x <= 631; x++ {
		all = append(all, new(big.Int).Mul(all[x-1], big.NewInt(x)))
	}
	return all
}()

// multinomialWeight is the probability of the counts times total^n, where share
// i is parts[i]/total.
func multinomialWeight(counts, parts []int) *big.Int {
	below, n := big.NewInt(1), 0
	for _, x := range counts {
		below.Mul(below, factorials[x])
		n += x
	}
	weight := below.Quo(factorials[n], below)
	for i, x := range counts {
		if parts[i] > 1 {
			weight.Mul(weight, power(int64(parts[i]), x))
		}
	}
	return weight
}

// Whole numbers, every outcome: the p-value, and that it is valid.
func TestExactChoiceAgainstWholeNumbers(t *testing.T) {
	for _, c := range []struct {
		parts []int
		most  int
	}{
		{[]int{1, 1}, 40}, {[]int{1, 1, 1}, 18}, {[]int{1, 1, 1, 1}, 10}, {[]int{1, 1, 1, 1, 1, 1}, 6},
		{[]int{2, 1, 1}, 14}, {[]int{1, 9}, 25}, {[]int{1, 2, 3}, 12},
	} {
		parts := 0
		for _, part := range c.parts {
			parts += part
		}
		shares := make([]float64, len(c.parts))
		for i, part := range c.parts {
			shares[i] = float64(part) / float64(parts)
		}
		for n := 1; n <= c.most; n++ {
			var weights []*big.Int
			var all [][]int
			compositions(n, len(c.parts), func(counts []int) {
				all = append(all, append([]int(nil), counts...))
				weights = append(weights, multinomialWeight(counts, c.parts))
			})
			total := power(int64(parts), n)
			var outcomes []nullP
			for i, counts := range all {
				sum := new(big.Int)
				for _, w := range weights {
					if w.Cmp(weights[i]) <= 0 {
						sum.Add(sum, w)
					}
				}
				want, _ := new(big.Rat).SetFrac(sum, total).Float64()
				choice := ProportionalChoice(counts, shares)
				if !agrees(choice.PValue, want, 1e-12) || choice.Method != Exact || choice.N != n {
					t.Errorf("%v of shares %v: %+v, want p %v", counts, c.parts, choice, want)
				}
				chance, _ := new(big.Rat).SetFrac(weights[i], total).Float64()
				outcomes = append(outcomes, nullP{choice.PValue, chance})
			}
			checkValid(t, strconv.Itoa(n)+" answers", outcomes)
			smallest := outcomes[0].p // sorted by checkValid
			if got := warnsOf(ProportionalChoice(all[0], shares).Warnings, NothingSignificant); got != (smallest > 0.05) {
				t.Errorf("%d answers of shares %v: the smallest p is %v, warned %v", n, c.parts, smallest, got)
			}
		}
	}
}

// At the largest sizes different outcomes are further apart than the tolerance
// that joins equal ones, and the p-value keeps its digits.
func TestExactChoiceAtItsLargest(t *testing.T) {
	closest := math.Inf(1)
	for _, c := range []struct{ n, k int }{{30, 3}, {100, 3}, {104, 4}, {630, 3}, {30, 5}} {
		if !enumerable(c.n, c.k) {
			t.Errorf("%d answers to %d positions are not enumerated", c.n, c.k)
		}
		parts := make([]int, c.k)
		for i := range parts {
			parts[i] = 1
		}
		var weights []*big.Int
		compositions(c.n, c.k, func(counts []int) {
			if sort.IntsAreSorted(counts) {
				weights = append(weights, multinomialWeight(counts, parts))
			}
		})
		sort.Slice(weights, func(i, j int) bool { return weights[i].Cmp(weights[j]) < 0 })
		for i := 1; i < len(weights); i++ {
			if weights[i].Cmp(weights[i-1]) == 0 {
				continue
			}
			gap := new(big.Int).Sub(weights[i], weights[i-1])
			apart, _ := new(big.Rat).SetFrac(gap, weights[i]).Float64()
			closest = min(closest, apart)
		}
	}
	t.Logf("different outcomes differ by at least %.2e", closest)
	if closest < 10*sameProbability {
		t.Errorf("two outcomes differ by %v only", closest)
	}

	// Two positions are a sign test.
	for _, x := range []int{0, 90, 4_700, 4_900, 5_000, 5_099, 10_000} {
		if got, want := UniformChoice([]int{x, 10_000 - x}).PValue, TwoSidedP(10_000, x); !agrees(got, want, 1e-10) {
			t.Errorf("%d of 10 000: p %v, want %v", x, got, want)
		}
	}
	const n = 630
	for _, counts := range [][]int{{210, 210, 210}, {180, 220, 230}, {100, 120, 410}} {
		observed, sum := multinomialWeight(counts, []int{1, 1, 1}), new(big.Int)
		compositions(n, 3, func(other []int) {
			if !sort.IntsAreSorted(other) {
				return
			}
			if w := multinomialWeight(other, []int{1, 1, 1}); w.Cmp(observed) <= 0 {
				ways := int64(6)
				switch a, b := other[0] == other[1], other[1] == other[2]; {
				case a && b:
					ways = 1
				case a || b:
					ways = 3
				}
				sum.Add(sum, w.Mul(w, big.NewInt(ways)))
			}
		})
		want, _ := new(big.Rat).SetFrac(sum, power(3, n)).Float64()
		if got := UniformChoice(counts).PValue; !agrees(got, want, 1e-10) {
			t.Errorf("%v: p %v, want %v (relative error %.1e)", counts, got, want, relative(got, want))
		}
	}
}

// The chi-square p-value is not exact; its doc comment prints how far it goes
// astray.
func TestChiSquareChoiceExcess(t *testing.T) {
	excess := func(n, k int) float64 {
		var outcomes []nullP
		parts := make([]int, k)
		for i := range parts {
			parts[i] = 1
		}
		logTotal := float64(n) * math.Log(float64(k))
		byStatistic := map[int]*nullP{}
		compositions(n, k, func(counts []int) {
			squares, log := 0, logFactorial(n)-logTotal
			for _, x := range counts {
				squares += x * x
				log -= logFactorial(x)
			}
			if byStatistic[squares] == nil {
				statistic := float64(k*squares)/float64(n) - float64(n)
				byStatistic[squares] = &nullP{p: chiSquareUpper(statistic, k-1)}
			}
			byStatistic[squares].chance += math.Exp(log)
		})
		for _, o := range byStatistic {
			outcomes = append(outcomes, *o)
		}
		return worstExcess(outcomes, 0.001, 0.2)
	}
	small := 0.0
	for _, k := range []int{2, 3, 4, 6} {
		for n := 5; n <= 20; n++ {
			small = max(small, excess(n, k))
		}
	}
	if enumerable(631, 3) || enumerable(10_001, 2) {
		t.Error("more is enumerated than documented")
	}
	first := excess(631, 3)
	t.Logf("5 to 20 answers: %.4f; 631 answers to three positions: %.4f", small, first)
	if math.Abs(small-0.1953) > 5e-5 || math.Abs(first-0.0035) > 5e-5 {
		t.Errorf("the doc comment of ProportionalChoice prints other numbers than %.4f and %.4f", small, first)
	}
}

func TestChoiceTellsItsMethod(t *testing.T) {
	for _, c := range []struct {
		counts []int
		method PMethod
		kind   WarningKind // "" for none
	}{
		{[]int{0, 0, 0}, Exact, NothingToTest},
		{[]int{1, 0, 0}, Exact, NothingSignificant},
		{[]int{3, 0, 0}, Exact, NothingSignificant}, // all at one place: 3/27
		{[]int{4, 0, 0}, Exact, ""},                 // 3/81
		{[]int{210, 211, 209}, Exact, ""},
		{[]int{210, 211, 210}, ChiSquareApproximation, ""},
		{[]int{30_000, 31_000}, ChiSquareApproximation, ""},
		{[]int{4, 1, 2, 0, 3, 3, 1, 0, 2, 5, 4, 1}, ChiSquareApproximation, FewExpected},
	} {
		got := UniformChoice(c.counts)
		if got.Method != c.method || (c.method != Exact && got.PValue != got.ChiSquareP) {
			t.Errorf("%v: %+v", c.counts, got)
		}
		if (c.kind == "" && len(got.Warnings) > 0) || (c.kind != "" && !warnsOf(got.Warnings, c.kind)) {
			t.Errorf("%v: warnings %v, want %q", c.counts, got.Warnings, c.kind)
		}
		if got.N == 0 && (got.PValue != 1 || got.ChiSquare != 0 || got.ChiSquareP != 1) {
			t.Errorf("no answers: %+v", got)
		}
	}
}

func TestChoicePanics(t *testing.T) {
	bad := map[string]func(){
		"one position": func() { UniformChoice([]int{5}) },
		"none":         func() { UniformChoice(nil) },
		"negative":     func() { UniformChoice([]int{5, -1}) },
		"too few":      func() { ProportionalChoice([]int{5, 1, 2}, []float64{0.5, 0.5}) },
		"share 0":      func() { ProportionalChoice([]int{5, 1}, []float64{0, 1}) },
		"share NaN":    func() { ProportionalChoice([]int{5, 1}, []float64{math.NaN(), 1}) },
		"sum 0.9":      func() { ProportionalChoice([]int{5, 1}, []float64{0.5, 0.4}) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkUniformChoice(b *testing.B) {
	for name, counts := range map[string][]int{"24": {9, 5, 10}, "630": {200, 210, 220}, "chi-square": {300, 310, 320}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				UniformChoice(counts)
			}
		})
	}
}
