package stats

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestBestEstimateAgainstReference(t *testing.T) {
	var members []BestEstimate
	eachRecord(t, "j3_best_estimate_threshold.csv", 9, func(r record) bool {
		if r.text("panelist") == "GROUP" {
			g := GroupBestEstimate(members)
			r.near("threshold", g.Threshold, 1e-14)
			r.near("log10_threshold", math.Log10(g.Threshold), 1e-14)
			// The note prints the standard deviation: "... (n-1) = 0.56...".
			_, printed, ok := strings.Cut(r.text("note"), "(n-1) = ")
			want, err := strconv.ParseFloat(printed, 64)
			if !ok || err != nil || !agrees(g.Log10SD, want, 1e-14) {
				t.Errorf("%s:%d: standard deviation %v, want %q", r.file, r.line, g.Log10SD, printed)
			}
			if g.Assessors != 8 || g.Outside != 2 {
				t.Errorf("%s:%d: %+v", r.file, r.line, g)
			}
			checkKinds(t, "group", g.Warnings, []WarningKind{AscendingOutside, AscendingFew})
			return true
		}
		var levels []float64
		for _, cell := range strings.Fields(r.text("levels")) {
			level, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			levels = append(levels, level)
		}
		var correct []bool
		for _, answer := range r.text("responses_C_correct_W_wrong") {
			correct = append(correct, answer == 'C')
		}
		e := BestEstimateThreshold(levels, correct)
		r.near("last_missed", e.LastMissed, 0)
		r.near("next_higher", e.NextHigher, 0)
		r.near("threshold", e.Threshold, 1e-15)
		if outside := !r.empty("note"); outside != e.Outside || outside != (len(e.Warnings) == 1) {
			t.Errorf("%s:%d: %+v", r.file, r.line, e)
		}
		checkKinds(t, r.text("panelist"), e.Warnings, map[bool][]WarningKind{true: {AscendingOutside}}[e.Outside])
		members = append(members, e)
		return true
	})
}

// A printed example of the triangle bag method, in which dilutions go down from
// 1000-fold, missed, to 300-fold, correct. As strengths they ascend.
func TestBestEstimateAgainstPublished(t *testing.T) {
	eachRecord(t, "p_published_thresholds.csv", 2, func(r record) bool {
		var got float64
		switch r.text("id") {
		case "odor_log_300":
			got = math.Log10(GroupBestEstimate([]BestEstimate{{Threshold: 300}}).Threshold)
		case "odor_mean":
			e := BestEstimateThreshold([]float64{1.0 / 1000, 1.0 / 300}, []bool{false, true})
			got = -math.Log10(e.Threshold)
		default:
			return false
		}
		r.near("computed_value", got, 1e-14)
		if want := r.float("published_value"); math.Abs(got-want) > 0.005 {
			t.Errorf("%s:%d: %v, printed %v", r.file, r.line, got, want)
		}
		return true
	})
}

// Every series of six answers: a later miss never lowers the threshold, only
// the last miss counts, and one who guesses all along ends below the highest
// level with probability 1/3, as the doc comment says.
func TestBestEstimateOfEverySeries(t *testing.T) {
	levels := []float64{0.5, 1, 2, 5, 9, 16} // the steps differ
	below := 0.0
	for bits := range 64 {
		correct := make([]bool, 6)
		last, probability := -1, 1.0
		for i := range correct {
			correct[i] = bits>>i&1 == 1
			if correct[i] {
				probability /= 3
			} else {
				probability *= 2.0 / 3
				last = i
			}
		}
		e := BestEstimateThreshold(levels, correct)
		want := math.Sqrt(0.25 * 0.5) // one step of 1/2 below
		switch {
		case last == 5:
			want = math.Sqrt(16 * 16 * 16 / 9.0) // one step of 16/9 above
		case last >= 0:
			want = math.Sqrt(levels[last] * levels[last+1])
		}
		if !agrees(e.Threshold, want, 1e-15) || e.Outside != (last == -1 || last == 5) {
			t.Errorf("%v: %+v, want %v", correct, e, want)
		}
		if e.Threshold < 16 {
			below += probability
		}
	}
	if !agrees(below, 1.0/3, 1e-12) {
		t.Errorf("a guesser ends below the highest level with probability %v", below)
	}
}

func TestGroupBestEstimate(t *testing.T) {
	one := GroupBestEstimate([]BestEstimate{{Threshold: 3}})
	if !agrees(one.Threshold, 3, 1e-15) || !math.IsNaN(one.Log10SD) {
		t.Errorf("a group of one: %+v", one)
	}
	checkKinds(t, "one", one.Warnings, []WarningKind{AscendingFew})
	var many []BestEstimate
	for range 12 {
		many = append(many, BestEstimate{Threshold: 2}, BestEstimate{Threshold: 200})
	}
	g := GroupBestEstimate(many)
	if !agrees(g.Threshold, 20, 1e-14) || !agrees(g.Log10SD, math.Sqrt(24.0/23), 1e-14) || g.Warnings != nil {
		t.Errorf("a group of 24: %+v", g)
	}
}

// A step beyond levels as far apart as they may be is a level, too.
func TestBestEstimateOfFarLevels(t *testing.T) {
	levels := []float64{1e-100, 1e100}
	for _, right := range []bool{false, true} {
		e := BestEstimateThreshold(levels, []bool{right, right})
		want := 1e-200
		if !right {
			want = 1e200
		}
		if !agrees(e.Threshold, want, 1e-12) || GroupBestEstimate([]BestEstimate{e}).Threshold == 0 {
			t.Errorf("all %v: %+v, want %v", right, e, want)
		}
	}
}

func TestAscendingPanics(t *testing.T) {
	bad := map[string]func(){
		"no level":       func() { BestEstimateThreshold(nil, nil) },
		"one level":      func() { BestEstimateThreshold([]float64{1}, []bool{true}) },
		"answer missing": func() { BestEstimateThreshold([]float64{1, 2}, []bool{true}) },
		"level 1e-101":   func() { BestEstimateThreshold([]float64{1e-101, 2}, []bool{true, true}) },
		"level 1e101":    func() { BestEstimateThreshold([]float64{1, 1e101}, []bool{true, true}) },
		"level 0":        func() { BestEstimateThreshold([]float64{0, 2}, []bool{true, true}) },
		"descending":     func() { BestEstimateThreshold([]float64{2, 1}, []bool{true, true}) },
		"twice":          func() { BestEstimateThreshold([]float64{2, 2}, []bool{true, true}) },
		"NaN":            func() { BestEstimateThreshold([]float64{1, math.NaN()}, []bool{true, true}) },
		"nobody":         func() { GroupBestEstimate(nil) },
		"threshold 0":    func() { GroupBestEstimate([]BestEstimate{{}}) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkBestEstimateThreshold(b *testing.B) {
	levels := []float64{0.5, 1, 2, 4, 8, 16}
	correct := []bool{false, true, false, true, true, true}
	for b.Loop() {
		BestEstimateThreshold(levels, correct)
	}
}
