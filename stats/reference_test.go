package stats

import (
	"encoding/csv"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// record is one row of a reference file, by column name.
type record struct {
	t     *testing.T
	file  string
	line  int
	cells map[string]string
}

// eachRecord calls check for every row of a file in testdata/reference. check
// returns whether it held the row against anything; the test fails when a row
// was passed over, when the file is missing or empty, and when it does not
// hold as many rows as it did when the test was written.
func eachRecord(t *testing.T, file string, rows int, check func(r record) bool) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "reference", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	if len(table) < 2 {
		t.Fatalf("%s: no rows", file)
	}
	tested := 0
	for i, line := range table[1:] {
		r := record{t: t, file: file, line: i + 2, cells: map[string]string{}}
		for j, name := range table[0] {
			r.cells[name] = line[j]
		}
		if check(r) {
			tested++
		} else {
			t.Errorf("%s:%d: not tested", file, r.line)
		}
	}
	if tested != rows || tested != len(table)-1 {
		t.Errorf("%s: tested %d rows of %d, want %d", file, tested, len(table)-1, rows)
	}
}

func (r record) text(column string) string {
	r.t.Helper()
	cell, ok := r.cells[column]
	if !ok {
		r.t.Fatalf("%s: no column %q", r.file, column)
	}
	return cell
}

func (r record) empty(column string) bool {
	r.t.Helper()
	return r.text(column) == ""
}

func (r record) int(column string) int {
	r.t.Helper()
	i, err := strconv.Atoi(r.text(column))
	if err != nil {
		r.t.Fatalf("%s:%d: %s: %v", r.file, r.line, column, err)
	}
	return i
}

func (r record) float(column string) float64 {
	r.t.Helper()
	x, err := strconv.ParseFloat(r.text(column), 64)
	if err != nil {
		r.t.Fatalf("%s:%d: %s: %v", r.file, r.line, column, err)
	}
	return x
}

// rat reads an exact column: a fraction such as 1/3 or a decimal.
func (r record) rat(column string) *big.Rat {
	r.t.Helper()
	x, ok := new(big.Rat).SetString(r.text(column))
	if !ok {
		r.t.Fatalf("%s:%d: %s: %q is no fraction", r.file, r.line, column, r.text(column))
	}
	return x
}

// fraction reads an exact column as the nearest float64.
func (r record) fraction(column string) float64 {
	r.t.Helper()
	x, _ := r.rat(column).Float64()
	return x
}

// near reports a value of a row that is off by more than tolerance relatively.
func (r record) near(column string, got, tolerance float64) {
	r.t.Helper()
	if want := r.float(column); !agrees(got, want, tolerance) {
		r.t.Errorf("%s:%d: %s = %.17g, want %.17g (relative error %.1e)",
			r.file, r.line, column, got, want, relative(got, want))
	}
}

// agrees tells whether got is want, or off by at most tolerance relatively.
func agrees(got, want, tolerance float64) bool {
	return got == want || relative(got, want) <= tolerance
}

func relative(got, want float64) float64 {
	return math.Abs(got-want) / math.Abs(want)
}

// panics tells whether f panics with a message of this package, and not by
// running into an index or the like.
func panics(f func()) (did bool) {
	defer func() {
		message, ok := recover().(string)
		did = ok && strings.HasPrefix(message, "stats: ")
	}()
	f()
	return false
}
