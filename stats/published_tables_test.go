package stats

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Two printed tables of the minimum correct, entry by entry: FAO document
// V7180E, Appendix A, for the triangle and GOST ISO 10399-2015, Table A.1, for
// the duo-trio test (both seen). The duo-trio table prints its row n = 21 again
// for n = 22 at 0.20, 0.10 and 0.05; every other entry must be the computed one.
func TestMinCorrectAgainstPublishedTables(t *testing.T) {
	misprints := 0
	eachRecord(t, "published_critical_numbers.csv", 376, func(r record) bool {
		chance, known := map[string]float64{"triangle": 1.0 / 3, "duotrio": 0.5}[r.text("protocol")]
		if !known {
			return false
		}
		n, alpha := r.int("n"), r.float("alpha")
		x, ok := MinCorrect(n, chance, alpha)
		printed := r.text("published_min_correct")
		if printed == "-" {
			if ok {
				t.Errorf("%s:%d: MinCorrect(%d, %v, %v) = %d, and none is printed", r.file, r.line, n, chance, alpha, x)
			}
			return true
		}
		if ok && x == r.int("published_min_correct") {
			return true
		}
		if r.text("protocol") == "duotrio" && n == 22 && alpha >= 0.05 && x == r.int("published_min_correct")+1 {
			misprints++
			return true
		}
		t.Errorf("%s:%d: MinCorrect(%d, %v, %v) = %d, %v, printed %s", r.file, r.line, n, chance, alpha, x, ok, printed)
		return true
	})
	if misprints != 3 {
		t.Errorf("%d known misprints, want 3", misprints)
	}
}

// Single printed values, each held to the digits printed, and the computed ones
// beside them to 1e-9. Two are known to be wrong in print and say so.
func TestPublishedValues(t *testing.T) {
	wrong := 0
	eachRecord(t, "p_published_tests.csv", 23, func(r record) bool {
		got, ok := publishedQuantity(r)
		if !ok {
			return false
		}
		if want := r.float("computed"); math.Abs(got-want) > 1e-9*max(1, math.Abs(want)) {
			t.Errorf("%s:%d: %s: %v, computed elsewhere %v", r.file, r.line, r.text("id"), got, want)
		}
		_, decimals, _ := strings.Cut(r.text("printed"), ".")
		agrees := math.Abs(got-r.float("printed")) <= 0.5000001*math.Pow10(-len(decimals))
		if agrees != (r.text("agrees") == "true") {
			t.Errorf("%s:%d: %s: %v, printed %s, agrees %s", r.file, r.line, r.text("id"), got, r.text("printed"), r.text("agrees"))
		}
		if !agrees {
			wrong++
		}
		return true
	})
	if wrong != 2 {
		t.Errorf("%d printed values are wrong, want the 2 that are known", wrong)
	}
}

// publishedQuantity computes what a row is of; "true" reads as 1.
func publishedQuantity(r record) (float64, bool) {
	for _, column := range []string{"printed", "computed"} {
		if r.cells[column] == "true" {
			r.cells[column] = "1"
		}
	}
	switch what, side, _ := strings.Cut(r.text("quantity"), " "); {
	case r.text("quantity") == "minimum correct is reached":
		x, ok := MinCorrect(r.int("n"), r.fraction("p0"), r.float("alpha_or_conf"))
		if ok && r.int("x") >= x {
			return 1, true
		}
		return 0, true
	case r.text("quantity") == "minimum correct":
		x, ok := MinCorrect(r.int("n"), r.fraction("p0"), r.float("alpha_or_conf"))
		return float64(x), ok
	case r.text("quantity") == "upper tail":
		return UpperTail(r.int("n"), r.int("x"), r.fraction("p0")), true
	case what == "assessors":
		beta, pd, _ := strings.Cut(r.text("beta_and_pd"), " ")
		r.cells["beta"], r.cells["pd"] = beta, pd
		s := Assessors(r.fraction("p0"), r.float("alpha_or_conf"), r.float("beta"), PcFromPd(r.float("pd"), r.fraction("p0")), OneSided)
		return float64(s.Assessors.N), s.Found
	default:
		limits, known := map[string]func(x, n int, confidence float64) Interval{
			"Clopper-Pearson": ClopperPearson,
			"Wilson":          func(x, n int, c float64) Interval { return PcLimits(x, n, c, WilsonLimits, TwoSided).Interval() },
			"mid-p":           func(x, n int, c float64) Interval { return PcLimits(x, n, c, MidPLimits, TwoSided).Interval() },
		}[what]
		if !known {
			return 0, false
		}
		i := limits(r.int("x"), r.int("n"), r.float("alpha_or_conf"))
		if side == "lower" {
			return i.Lower, true
		}
		return i.Upper, true
	}
}

// Every reference file is read by a test of some package, or it proves nothing.
func TestEveryReferenceFileIsUsed(t *testing.T) {
	var source strings.Builder
	for _, pattern := range []string{"*_test.go", "../session/*_test.go", "../cmd/oddcup/*_test.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, f := range files {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			source.Write(b)
		}
	}
	files, err := filepath.Glob("../testdata/reference/*.csv")
	if err != nil || len(files) < 40 {
		t.Fatalf("%d reference files, %v", len(files), err)
	}
	readme, err := os.ReadFile("../testdata/reference/README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name := filepath.Base(f)
		if !strings.Contains(source.String(), `"`+name+`"`) {
			t.Errorf("no test reads %s", name)
		}
		if !strings.Contains(string(readme), "`"+name+"`") {
			t.Errorf("the README does not say what %s is", name)
		}
	}
}
