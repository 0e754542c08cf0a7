package stats

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// publishedData are the data of the published examples, by set, block and
// treatment, in the order of the file.
func publishedData(t *testing.T) map[string][][]float64 {
	t.Helper()
	data := map[string][][]float64{}
	eachRecord(t, "p_published_data.csv", 136, func(r record) bool {
		set, block := r.text("dataset"), r.int("block")
		if block == len(data[set])+1 {
			data[set] = append(data[set], nil)
		}
		if block != len(data[set]) {
			return false
		}
		data[set][block-1] = append(data[set][block-1], r.float("value"))
		return true
	})
	return data
}

// Examples as printed, with what is wrong in print named. Each row is computed
// anew and held against the computed value to all digits and against the
// printed one to those it has, or is known to differ from it.
func TestPublishedSideChecks(t *testing.T) {
	data := publishedData(t)
	rounding, bread, projects := Friedman(data["rounding_times"]), Friedman(data["lpc_bread"]), Friedman(data["projects_4_judges"])
	var drug1, drug2 []float64
	for _, pair := range data["sleep"] {
		drug1, drug2 = append(drug1, pair[0]), append(drug2, pair[1])
	}
	sleep := Paired(drug1, drug2, 0.95)
	position := UniformChoice([]int{45, 25, 30})
	// Replication totals 355, 378 and 373 over 35 scores each; only their means
	// matter for what is printed.
	var replication [][][]float64
	for range 35 {
		replication = append(replication, [][]float64{{355.0 / 35}, {378.0 / 35}, {373.0 / 35}})
	}
	replications := JudgeBySample(replication)
	breadS := 0.0
	for _, sum := range bread.RankSums {
		breadS += (sum - 20) * (sum - 20)
	}
	values := map[string]float64{
		"rounding_chisq": rounding.ChiSquare,
		"rounding_p":     rounding.ChiSquareP,
		"lpc_rank_sum_0": bread.RankSums[0],
		"lpc_rank_sum_2": bread.RankSums[1], // prints 19.5: one panellist's scores are misranked
		"lpc_rank_sum_4": bread.RankSums[2],
		"lpc_S":          breadS,
		"projects_W":     projects.W, // prints 0.73: it uses a wrong mean rank sum
		"sleep_t":        sleep.T,
		"sleep_p":        sleep.PValue,
		"sleep_lo":       sleep.Interval.Lower,
		"sleep_hi":       sleep.Interval.Upper,
		"tea_greater":    Fisher(3, 1, 1, 3).PGreater,
		"lane_chisq":     position.ChiSquare,
		"lane_p":         position.ChiSquareP,
		"idrc_cf":        105 * replications.Mean * replications.Mean,
		"idrc_rep_ss":    replications.Sample.SS,
	}
	disagree := map[string]bool{"lpc_rank_sum_2": true, "projects_W": true}
	eachRecord(t, "p_published_side_checks.csv", 16, func(r record) bool {
		id := r.text("id")
		got, known := values[id]
		r.near("computed_value", got, 1e-12)
		printed := r.text("published_value")
		half := 0.5
		if _, decimals, ok := strings.Cut(printed, "."); ok {
			half *= math.Pow(10, -float64(len(decimals)))
		}
		want, err := strconv.ParseFloat(printed, 64)
		if err != nil {
			t.Fatalf("%s:%d: %v", r.file, r.line, err)
		}
		if math.Abs(got-want) > half*(1+1e-9) != disagree[id] {
			t.Errorf("%s:%d: %s = %v, in print %s", r.file, r.line, id, got, printed)
		}
		return known
	})
	// The page of the bread example refers S to 18 degrees of freedom; the test
	// has 2 (chi-square and W as recomputed in the reference file's comment).
	if !agrees(bread.ChiSquare, 10.8, 1e-14) || bread.DF != 2 || !agrees(bread.ChiSquareP, 0.004516580942612668, 1e-12) || !agrees(bread.W, 0.54, 1e-14) {
		t.Errorf("bread: %+v", bread)
	}
	if !agrees(projects.ChiSquare, 12.2, 1e-14) || !agrees(projects.ChiSquareP, 0.015924360808349198, 1e-12) {
		t.Errorf("projects: %+v", projects)
	}
}
