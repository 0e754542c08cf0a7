package stats

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"testing"
)

// cuppingScores are the invented scores of k_scores.csv, by judge, sample and
// replicate.
func cuppingScores(t *testing.T) [][][]float64 {
	t.Helper()
	var scores [][][]float64
	eachRecord(t, "k_scores.csv", 40, func(r record) bool {
		i := int(r.text("judge")[1] - '1')
		j := int(r.text("sample")[0] - 'A')
		for len(scores) <= i {
			scores = append(scores, make([][]float64, 4))
		}
		scores[i][j] = append(scores[i][j], r.float("score"))
		return len(scores[i][j]) == r.int("rep")
	})
	return scores
}

// cellMeans are the means over the replicates.
func cellMeans(scores [][][]float64) (means [][]float64) {
	for _, judge := range scores {
		var row []float64
		for _, cell := range judge {
			row = append(row, mean(cell))
		}
		means = append(means, row)
	}
	return means
}

func TestFriedmanAgainstReference(t *testing.T) {
	scores := cuppingScores(t)
	eachRecord(t, "k4_friedman_kendall.csv", 2, func(r record) bool {
		rows := cellMeans(scores)
		if r.text("data") == "rep1" {
			for i := range rows {
				for j := range rows[i] {
					rows[i][j] = scores[i][j][0]
				}
			}
		}
		got := Friedman(rows)
		var sums []string
		for _, s := range got.RankSums {
			sums = append(sums, strconv.FormatFloat(s, 'f', 1, 64))
		}
		if strings.Join(sums, " ") != r.text("rank_sums_in_sample_order") {
			t.Errorf("%s:%d: rank sums %v", r.file, r.line, sums)
		}
		if got.Judges != r.int("judges") || got.Samples != r.int("samples") || got.DF != r.int("df") ||
			got.TieTerm != r.int("tie_term_sum_t3_minus_t") || got.Method != Exact || len(got.Warnings) > 0 {
			t.Errorf("%s:%d: %+v", r.file, r.line, got)
		}
		r.near("chisq_uncorrected", got.Uncorrected, 1e-14)
		r.near("chisq_tie_corrected", got.ChiSquare, 1e-14)
		r.near("p_value", got.ChiSquareP, 1e-13)
		r.near("kendall_W", got.W, 1e-14)
		return true
	})
}

// Tails of the exact table of Friedman's statistic for 3 samples and 2 to 4
// judges and 4 samples and 2 judges (from memory; each is a fraction of whole
// numbers).
func TestFriedmanExactTable(t *testing.T) {
	same := func(judges int, order ...float64) (rows [][]float64) {
		for range judges {
			rows = append(rows, order)
		}
		return rows
	}
	for _, c := range []struct {
		rows         [][]float64
		chiSquare, p float64
	}{
		{same(2, 1, 2, 3), 4, 1.0 / 6},
		{same(3, 1, 2, 3), 6, 1.0 / 36},
		{same(4, 1, 2, 3), 8, 1.0 / 216},
		{append(same(3, 1, 2, 3), []float64{2, 1, 3}), 6.5, 0.04166666666666666667},
		{same(2, 1, 2, 3, 4), 6, 1.0 / 24},
	} {
		got := Friedman(c.rows)
		if got.Method != Exact || !agrees(got.ChiSquare, c.chiSquare, 1e-14) || !agrees(got.PValue, c.p, 1e-13) {
			t.Errorf("%v: %+v, want chi-square %v with p %v", c.rows, got, c.chiSquare, c.p)
		}
	}
}

// Every arrangement of each judge's ranks is tried, the slow way: the p-value,
// and that it is valid, with and without ties.
func TestFriedmanAgainstEveryArrangement(t *testing.T) {
	for _, rows := range [][][]float64{
		{{1, 2, 3}},
		{{1, 2, 3}, {1, 2, 3}, {1, 2, 3}, {1, 2, 3}},
		{{1, 1, 3}, {1, 2, 3}, {5, 5, 2}, {7, 8, 9}},
		{{4, 4, 4}, {1, 2, 3}, {1, 1, 3}},
		{{1, 2, 3, 4}, {1, 2, 3, 4}},
		{{1, 1, 3, 3}, {1, 2, 2, 2}},
		{{1, 1, 3, 3}, {1, 2, 3, 4}},
		{{1, 2}, {1, 2}, {1, 2}, {3, 3}, {1, 2}, {1, 2}},
	} {
		ways := [][][]float64{{}}
		for _, row := range rows {
			var longer [][][]float64
			for _, before := range ways {
				for _, order := range permutations(row) {
					longer = append(longer, append(append([][]float64{}, before...), order))
				}
			}
			ways = longer
		}
		results := make([]FriedmanTest, len(ways))
		statistics := make([]float64, len(ways))
		for i, way := range ways {
			results[i] = Friedman(way)
			statistics[i] = results[i].ChiSquare
		}
		sort.Float64s(statistics)
		var outcomes []nullP
		for _, got := range results {
			atLeast := len(ways) - sort.SearchFloat64s(statistics, got.ChiSquare-1e-9)
			if want := float64(atLeast) / float64(len(ways)); got.Method != Exact || !agrees(got.PValue, want, 1e-12) {
				t.Fatalf("%v: %+v, want p %v", rows, got, want)
			}
			outcomes = append(outcomes, nullP{got.PValue, 1 / float64(len(ways))})
		}
		checkValid(t, fmt.Sprint(rows), outcomes)
		if got := warnsOf(results[0].Warnings, NothingSignificant); got != (outcomes[0].p > 0.05 && len(rows) > 1) {
			t.Errorf("%v: the smallest p is %v, warned %v", rows, outcomes[0].p, got)
		}
	}
}

// permutations returns all k! orders, those that swap ties too.
func permutations(row []float64) (orders [][]float64) {
	if len(row) == 0 {
		return [][]float64{{}}
	}
	for i := range row {
		rest := append(append([]float64{}, row[:i]...), row[i+1:]...)
		for _, order := range permutations(rest) {
			orders = append(orders, append(order, row[i]))
		}
	}
	return orders
}

// untied returns rank rows without ties.
func untied(judges, samples int) (rows [][]int32) {
	row := make([]int32, samples)
	for j := range row {
		row[j] = int32(2 * (j + 1))
	}
	for range judges {
		rows = append(rows, row)
	}
	return rows
}

// The chi-square p-value is not exact; its doc comment prints how far it goes
// astray.
func TestFriedmanChiSquareExcess(t *testing.T) {
	worst := math.Inf(-1)
	for samples, most := range map[int]int{3: 15, 4: 8, 5: 5} {
		for m := 2; m <= most; m++ {
			chances, ok := spreads(untied(m, samples))
			if !ok {
				t.Fatalf("%d judges, %d samples: not enumerated", m, samples)
			}
			var outcomes []nullP
			for s, chance := range chances {
				statistic := 12 * float64(s) / 4 / float64(m*samples*(samples+1))
				outcomes = append(outcomes, nullP{chiSquareUpper(statistic, samples-1), chance})
			}
			excess := worstExcess(outcomes, 0.001, 0.2)
			t.Logf("%d judges, %d samples: %.4f", m, samples, excess)
			worst = max(worst, excess)
		}
	}
	if math.Abs(worst-0.0994) > 5e-5 {
		t.Errorf("the doc comment of Friedman prints another number than %.4f", worst)
	}
}

// The sizes that the doc comment says are exact.
func TestFriedmanExactSizes(t *testing.T) {
	for samples, judges := range map[int]int{3: 100, 4: 20, 5: 8, 6: 4, 7: 2} {
		if _, ok := spreads(untied(judges, samples)); !ok {
			t.Errorf("%d judges, %d samples are not enumerated", judges, samples)
		}
	}
	if _, ok := spreads(untied(3, 7)); ok {
		t.Error("3 judges, 7 samples are enumerated")
	}
	scores := make([][]float64, 6)
	for i := range scores {
		scores[i] = []float64{1, 2, 3, 4, 5, 6, 7, 8}
	}
	got := Friedman(scores)
	if got.Method != ChiSquareApproximation || got.PValue != got.ChiSquareP || got.W != 1 {
		t.Errorf("8 samples: %+v", got)
	}
}

func TestFriedmanDegenerate(t *testing.T) {
	for _, c := range []struct {
		rows [][]float64
		kind WarningKind
		p, w float64
	}{
		{[][]float64{{3, 3, 3}, {8, 8, 8}}, NothingToTest, 1, 0},
		{[][]float64{{3, 1, 2}}, OneJudge, 1, 1},
		{[][]float64{{3, 1}, {4, 2}}, NothingSignificant, 0.5, 1},
		{[][]float64{{8, 8, 8, 8, 8, 8, 8, 8, 8}, {1, 1, 1, 1, 1, 1, 1, 1, 1}}, NothingToTest, 1, 0},
	} {
		got := Friedman(c.rows)
		if got.PValue != c.p || got.W != c.w || !warnsOf(got.Warnings, c.kind) {
			t.Errorf("%v: %+v", c.rows, got)
		}
	}
	bad := map[string][][]float64{
		"no judges":  {},
		"one sample": {{1}, {2}},
		"ragged":     {{1, 2}, {1, 2, 3}},
		"NaN":        {{1, math.NaN()}},
		"infinite":   {{1, math.Inf(1)}},
	}
	for name, rows := range bad {
		if !panics(func() { Friedman(rows) }) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkFriedman(b *testing.B) {
	for name, size := range map[string][2]int{"5 judges 4 samples": {5, 4}, "20 judges 4 samples": {20, 4}, "chi-square": {40, 8}} {
		rows := make([][]float64, size[0])
		for i := range rows {
			for j := range size[1] {
				rows[i] = append(rows[i], float64((i*7+j*(3+i))%11)+float64(j)/100)
			}
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				Friedman(rows)
			}
		})
	}
}
