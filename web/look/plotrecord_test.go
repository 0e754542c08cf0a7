package look

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// recordOf is a series by Wald's lines for 1/3 against 0.65, α = β = 0.05, by their
// formulas: g = ln(P1/P0) + ln((1-P0)/(1-P1)).
func recordOf(right ...bool) RecordPlot {
	g := math.Log(0.65*3) + math.Log((2.0/3)/0.35)
	return RecordPlot{
		Right: right, Slope: math.Log((2.0/3)/0.35) / g, Lower: math.Log(0.05/0.95) / g, Upper: math.Log(0.95/0.05) / g,
		Above: "qualified", Between: "not yet", Below: "below", End: "not yet", Title: "Series 1", XLabel: "sets", YLabel: "sets right",
	}
}

func repeated(n int, every int) (all []bool) {
	for i := range n {
		all = append(all, i%every != 0)
	}
	return all
}

func TestRecordPlot(t *testing.T) {
	p := recordOf(true, false, true, true)
	wellFormed(t, "record", Record(p))
	wide := drawing(t, string(Record(p)), "plot-wide")
	for what, want := range map[string]int{
		`class="plot-dot"`: 3, `class="plot-dot-open"`: 1, `class="plot-course"`: 4, `class="plot-dash"`: 2, ">3 of 4<": 1, "plot-ring": 1,
		">qualified<": 1, ">below<": 1,
	} {
		if n := strings.Count(wide, what); n != want {
			t.Errorf("%d of %s, want %d", n, what, want)
		}
	}
	if !strings.Contains(wide, "After 4 sets 3 are right: not yet.") {
		t.Error("the picture is not said in words")
	}
	if empty := string(Record(recordOf())); strings.Contains(empty, "plot-ring") || !strings.Contains(empty, "No set yet.") {
		t.Error("a series without a set is ringed, or says nothing")
	}
	for _, n := range []int{1, 5, 40, 41, 300, 301, 5000} {
		wellFormed(t, "record", Record(recordOf(repeated(n, 3)...)))
	}
	if long := string(Record(recordOf(repeated(5000, 3)...))); len(long) > 200_000 {
		t.Errorf("5000 sets take %d bytes", len(long))
	}
}

// The name of the course's end covers no set of it, at any width of a plot.
func TestRecordNameIsBesideTheCourse(t *testing.T) {
	few := []bool{true, true, false, false, false, false, true, false, false, false, false, false, false} // 3 of 13
	name := regexp.MustCompile(`class="plot-strong" text-anchor="(start|end)" x="([0-9.]+)%" dx="([-0-9.]+)" y="([0-9.]+)">([^<]*)<`)
	dots := regexp.MustCompile(`class="plot-dot[a-z-]*" cx="([0-9.]+)%" cy="([0-9.]+)"`)
	num := func(s string) float64 { x, _ := strconv.ParseFloat(s, 64); return x }
	for _, right := range [][]bool{few, few[:5], repeated(1, 2), repeated(6, 7), repeated(12, 30), repeated(13, 3), repeated(36, 3), repeated(60, 2), repeated(60, 61)} {
		picture := string(Record(recordOf(right...)))
		for class, widths := range map[string][]float64{"plot-wide": {616, 1040}, "plot-narrow": {224, 340, 560}} {
			svg := drawing(t, picture, class)
			m := name.FindStringSubmatch(svg)
			all := dots.FindAllStringSubmatch(svg, -1)
			if m == nil || len(all) != len(right) {
				t.Fatalf("%s: %d dots of %d sets, name %q", class, len(all), len(right), m)
			}
			for _, width := range widths {
				from := num(m[2])/100*width + num(m[3])
				to := from + labelPx(m[5])
				if m[1] == "end" {
					from, to = from-labelPx(m[5]), from
				}
				for i, dot := range all {
					x, y := num(dot[1])/100*width, num(dot[2])
					if x > from-4 && x < to+4 && y > num(m[4])-13-4 && y < num(m[4])+3+4 {
						t.Errorf("%s of %g pixels: “%s” covers set %d of %d", class, width, m[5], i+1, len(right))
						break
					}
				}
			}
		}
	}
}

// The upper line is where the formula has it: at height Upper + Slope·n.
func TestRecordLinesAreTrue(t *testing.T) {
	p := recordOf(true, true)
	line := regexp.MustCompile(`class="plot-dash" x1="0%" x2="100%" y1="([0-9.]+)" y2="([0-9.]+)"`)
	svg := drawing(t, string(Record(p)), "plot-wide")
	m := line.FindStringSubmatch(svg)
	dot := regexp.MustCompile(`class="plot-dot" cx="([0-9.]+)%" cy="([0-9.]+)"`).FindAllStringSubmatch(svg, -1)
	if m == nil || len(dot) != 2 {
		t.Fatalf("no upper line, or %d dots", len(dot))
	}
	num := func(s string) float64 { x, _ := strconv.ParseFloat(s, 64); return x }
	perCount := num(dot[0][2]) - num(dot[1][2]) // pixels for one set right
	atOne := num(dot[0][2])
	if got, want := (atOne-num(m[1]))/perCount, p.Upper-1; math.Abs(got-want) > 0.02 {
		t.Errorf("the upper line begins %.3f above one right, want %.3f", got, want)
	}
	if got, want := (num(m[1])-num(m[2]))/perCount, p.Slope*float64(p.sets()); math.Abs(got-want) > 0.05 {
		t.Errorf("the upper line rises by %.3f, want %.3f", got, want)
	}
}

func TestDriftPlot(t *testing.T) {
	p := DriftPlot{
		Sums: []float64{0, 0.5, 0, 1.2, 3.1, 0.4}, Signal: []bool{false, false, false, false, true, false}, First: 7, Limit: 3,
		Title: "Chart of drift", XLabel: "tests", YLabel: "sum",
	}
	wellFormed(t, "drift", Drift(p))
	wide := drawing(t, string(Drift(p)), "plot-wide")
	for what, want := range map[string]int{
		`class="plot-dot"`: 6, `class="plot-course"`: 5, `class="plot-dash"`: 1, "plot-ring": 1, ">signal<": 1, ">limit<": 1, ">7<": 1, ">12<": 1,
	} {
		if n := strings.Count(wide, what); n != want {
			t.Errorf("%d of %s, want %d", n, what, want)
		}
	}
	if !strings.Contains(wide, "Signal at test 11.") {
		t.Error("the signal is not said in words")
	}
	for n := range 5 {
		wellFormed(t, "drift", Drift(DriftPlot{Sums: make([]float64, n), Signal: make([]bool, n), First: 1, Limit: 2.5}))
	}
	all := DriftPlot{Sums: make([]float64, 60), Signal: make([]bool, 60), First: 1, Limit: 1}
	for i := range all.Signal {
		all.Sums[i], all.Signal[i] = 1.1, true
	}
	if n := strings.Count(drawing(t, string(Drift(all)), "plot-narrow"), ">signal<"); n > 4 {
		t.Errorf("%d names of signals stand beside each other in a narrow plot", n)
	}
}
