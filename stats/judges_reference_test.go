package stats

import (
	"strconv"
	"strings"
	"testing"
)

// The values in testdata/judges were made with R 4.2.2 by generate.R beside them,
// from invented data.
const judgesFolder = "../judges/"

// floats reads a cell of numbers with semicolons between.
func (r record) floats(column string) []float64 {
	r.t.Helper()
	var xs []float64
	for cell := range strings.SplitSeq(r.text(column), ";") {
		x, err := strconv.ParseFloat(cell, 64)
		if err != nil {
			r.t.Fatalf("%s:%d: %s: %v", r.file, r.line, column, err)
		}
		xs = append(xs, x)
	}
	return xs
}

// close reports a value that is off by more than tolerance, absolutely.
func (r record) close(column string, got, tolerance float64) {
	r.t.Helper()
	if want := r.float(column); !(got-want <= tolerance && want-got <= tolerance) {
		r.t.Errorf("%s:%d: %s = %.12g, want %.12g", r.file, r.line, column, got, want)
	}
}

// invented is the panel of testdata/judges/panel_data.csv.
func invented(t *testing.T) []JudgedTest {
	t.Helper()
	var tests []JudgedTest
	eachRecord(t, judgesFolder+"panel_data.csv", 81, func(r record) bool {
		at := r.int("test")
		for at >= len(tests) {
			tests = append(tests, JudgedTest{Method: methodNamed(t, r.text("method")), Known: r.float("known")})
		}
		tests[at].Counts = append(tests[at].Counts, JudgeCount{r.int("judge"), r.int("n"), r.int("x")})
		return true
	})
	return tests
}

func methodNamed(t *testing.T, name string) Psychometric {
	t.Helper()
	for m := range curves {
		if m.Name() == name {
			return m
		}
	}
	t.Fatalf("no method %q", name)
	return Psychometric{}
}
