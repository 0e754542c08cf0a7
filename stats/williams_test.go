package stats

import (
	"slices"
	"strconv"
	"strings"
	"testing"
)

// layout is what a set of serving orders has of balance.
type layout struct {
	complete  bool // every row has every sample once
	positions bool // every sample stands equally often at every place
	carryOver bool // complete, and ordered pairs of different samples are equally often neighbours

	fewest, most int // how often an ordered pair of different samples are neighbours
}

func classify(rows [][]int, samples int) layout {
	l := layout{complete: true, positions: true}
	places := make([][]int, samples) // by sample and place
	pairs := make([][]int, samples)
	for i := range samples {
		places[i], pairs[i] = make([]int, len(rows[0])), make([]int, samples)
	}
	for _, row := range rows {
		sorted := slices.Sorted(slices.Values(row))
		l.complete = l.complete && len(row) == samples && len(slices.Compact(sorted)) == samples
		for place, sample := range row {
			places[sample][place]++
			if place > 0 {
				pairs[row[place-1]][sample]++
			}
		}
	}
	for sample := range samples {
		for _, times := range places[sample] {
			l.positions = l.positions && times*samples == len(rows)
		}
	}
	l.fewest, l.most = pairs[0][1], pairs[0][1]
	for a := range samples {
		for b := range samples {
			if a != b {
				l.fewest, l.most = min(l.fewest, pairs[a][b]), max(l.most, pairs[a][b])
			}
		}
	}
	l.carryOver = l.complete && l.fewest == l.most && l.fewest > 0
	return l
}

func TestClassifyAgainstExamples(t *testing.T) {
	eachRecord(t, "m3_square_examples.csv", 5, func(r record) bool {
		var rows [][]int
		for _, word := range strings.Split(r.text("rows_separated_by_slash"), "/") {
			var row []int
			for _, letter := range word {
				row = append(row, int(letter-'A'))
			}
			rows = append(rows, row)
		}
		yes := func(column string) bool {
			b, err := strconv.ParseBool(r.text(column))
			if err != nil {
				t.Fatalf("%s:%d: %v", r.file, r.line, err)
			}
			return b
		}
		want := layout{yes("each_row_has_all_samples"), yes("position_balanced"), yes("first_order_carryover_balanced"),
			r.int("min_ordered_pair_count"), r.int("max_ordered_pair_count")}
		if got := classify(rows, r.int("samples")); got != want || len(rows) != r.int("n_rows") {
			t.Errorf("%s:%d: %d rows are %+v, want %+v", r.file, r.line, len(rows), got, want)
		}
		return true
	})
}

func TestCarryOverOrdersAgainstProperties(t *testing.T) {
	eachRecord(t, "m_williams_properties.csv", 6, func(r record) bool {
		samples := r.int("samples")
		rows := CarryOverOrders(samples)
		if len(rows) != r.int("rows") || len(rows) != r.int("squares")*samples {
			t.Errorf("%s:%d: %d rows", r.file, r.line, len(rows))
		}
		times := r.int("times_each_ordered_pair_adjacent")
		if got, want := classify(rows, samples), (layout{true, true, true, times, times}); got != want {
			t.Errorf("%s:%d: %+v, want %+v", r.file, r.line, got, want)
		}
		if first := classify(rows[:samples], samples); first.carryOver != (r.text("single_square_exists_by_construction") == "true") {
			t.Errorf("%s:%d: the first square alone is %+v", r.file, r.line, first)
		}
		if got := len(rows) / samples; got != r.int("times_each_sample_per_position") {
			t.Errorf("%s:%d: each sample %d times at a place", r.file, r.line, got)
		}
		if got := len(rows) * (samples - 1); got != r.int("adjacent_pairs_total") || got != times*r.int("ordered_pairs_of_different_samples") {
			t.Errorf("%s:%d: %d neighbours", r.file, r.line, got)
		}
		return true
	})
}

// The same holds for any number of samples, each square by itself is balanced
// for position, and no two rows share memory.
func TestCarryOverOrdersOfAnyNumber(t *testing.T) {
	for samples := 2; samples <= 41; samples++ {
		rows := CarryOverOrders(samples)
		times := 1 + samples%2
		if got, want := classify(rows, samples), (layout{true, true, true, times, times}); got != want || len(rows) != times*samples {
			t.Errorf("%d samples, %d rows: %+v, want %+v", samples, len(rows), got, want)
		}
		for square := range times {
			if part := rows[square*samples : (square+1)*samples]; !classify(part, samples).positions {
				t.Errorf("%d samples: square %d is not balanced for position", samples, square+1)
			}
		}
		rows[0][0] = -1
		for _, row := range rows[1:] {
			if slices.Contains(row, -1) {
				t.Fatalf("%d samples: rows share their memory", samples)
			}
		}
	}
	for _, bad := range []int{1, 0, -3} {
		if !panics(func() { CarryOverOrders(bad) }) {
			t.Errorf("%d samples did not panic", bad)
		}
	}
}

func BenchmarkCarryOverOrders(b *testing.B) {
	for b.Loop() {
		CarryOverOrders(9)
	}
}
