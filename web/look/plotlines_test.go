package look

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// samplePlot is a duo-trio test between p 0.5 and 0.7 at α 0.05 and β 0.1: by
// hand, from Wald's formulas, slope ln(5/3)/ln(7/3) = 0.60290, intercepts
// ln(0.1/0.95)/ln(7/3) = -2.6570 and ln(0.9/0.05)/ln(7/3) = 3.4113.
func samplePlot(looks ...LookPoint) LinesPlot {
	return LinesPlot{
		Max: 72, Slope: 0.60290, Lower: -2.6570, Upper: 3.4113, Looks: looks,
		Above: "different", Between: "go on", Below: "similar",
		Title: "The looks", XLabel: "answers", YLabel: "reference matched",
	}
}

var (
	dotAt  = regexp.MustCompile(`<circle class="plot-dot" cx="([0-9.]+)%" cy="([0-9.]+)"`)
	dashAt = regexp.MustCompile(`<line class="plot-dash" x1="([0-9.]+)%" x2="100%" y1="([0-9.]+)" y2="([0-9.]+)"`)
)

// Heights are true: a look on a line's count lies on the line, one above it
// above.
func TestSequentialLines(t *testing.T) {
	wellFormed(t, "lines", SequentialLines(samplePlot(LookPoint{12, 8}, LookPoint{24, 17}, LookPoint{36, 26})))
	wide := drawing(t, string(SequentialLines(samplePlot(LookPoint{12, 8}, LookPoint{24, 17}, LookPoint{36, 26}))), "plot-wide")
	for _, want := range []string{
		"<title>The looks</title>", "Look 3: 26 correct of 36.", ">different<", ">similar<", ">go on<", ">26 of 36<", `class="plot-tick plot-tick-strong"`,
	} {
		if !strings.Contains(wide, want) {
			t.Errorf("no %q in the plot", want)
		}
	}
	dots, lines := dotAt.FindAllStringSubmatch(wide, -1), dashAt.FindAllStringSubmatch(wide, -1)
	if len(dots) != 3 || len(lines) != 2 {
		t.Fatalf("%d dots and %d lines", len(dots), len(lines))
	}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	if x := number(dots[0][1]); math.Abs(x-100*12.0/72) > 0.01 {
		t.Errorf("12 of 72 answers stand at %v %%", x)
	}
	// From two lines of known height the pixels of a count follow.
	up0, up72 := number(lines[0][2]), number(lines[0][3])
	perCount := (up0 - up72) / (0.60290 * 72)
	for i, look := range []LookPoint{{12, 8}, {24, 17}, {36, 26}} {
		want := up0 - (float64(look.Correct)-3.4113)*perCount
		if got := number(dots[i][2]); math.Abs(got-want) > 0.1 {
			t.Errorf("%d of %d stands at %v px, want %v", look.Correct, look.N, got, want)
		}
	}
	// The lower line leaves the axis at 2.6570/0.60290 answers.
	if x := number(lines[1][1]); math.Abs(x-100*4.4070/72) > 0.01 {
		t.Errorf("the lower line begins at %v %%", x)
	}
}

func TestSequentialLinesOfAnySize(t *testing.T) {
	for _, most := range []int{1, 4, 12, 72, 500} {
		for _, n := range []int{0, 1, most} {
			p := samplePlot()
			p.Max = most
			if n > 0 {
				p.Looks = []LookPoint{{n, n}}
			}
			wellFormed(t, fmt.Sprintf("%d answers, look at %d", most, n), SequentialLines(p))
		}
	}
	// Before the lines part from the axis nothing is named below.
	p := samplePlot(LookPoint{4, 2})
	p.Max = 4
	if plot := string(SequentialLines(p)); strings.Contains(plot, ">similar<") || strings.Count(plot, `class="plot-dash"`) != 2 {
		t.Error("a lower line that no count of so few reaches is drawn or named")
	}
}

// The maximum of similarity stands between it and the next count, and only where
// no difference is looked for do its bars carry the data's colour.
func TestNullDistributionOfSimilarity(t *testing.T) {
	p := NullPlot{N: 24, Chance: 1.0 / 3, PMF: binomial(24, 1.0/3), Observed: 9, P: -1, Title: "Counts", XLabel: "odd cup found"}
	p.Alike, p.AlikeTo = true, 9 // β 0.1 at a pd limit of 0.3: testdata/reference, d_similarity_max_correct.csv
	wellFormed(t, "similar", NullDistribution(p))
	wide := drawing(t, string(NullDistribution(p)), "plot-wide")
	for _, want := range []string{">maximum 9 for similarity<", "Counts from 0 to 9 show similarity.", `class="plot-dash" x1="40%" x2="40%"`} {
		if !strings.Contains(wide, want) {
			t.Errorf("no %q in the plot", want)
		}
	}
	if n := strings.Count(wide, "plot-bar-data"); n < 8 || n > 10 {
		t.Errorf("%d bars show similarity, want those from 0 to 9 that can be seen", n)
	}
	if strings.Contains(wide, "p = ") || strings.Contains(wide, "minimum") {
		t.Error("a difference is spoken of")
	}
	p.MinCorrect = 13
	wide = drawing(t, string(NullDistribution(p)), "plot-wide")
	if n := strings.Count(wide, `class="plot-dash"`); n != 2 {
		t.Errorf("%d dashed lines, want the minimum and the maximum", n)
	}
	if n := strings.Count(wide, "plot-bar-data"); n > 6 {
		t.Errorf("%d bars carry the data's colour, want those from 13 up", n)
	}
	p.MinCorrect, p.AlikeFrom, p.AlikeTo = 0, 8, 16
	if two := drawing(t, string(NullDistribution(p)), "plot-wide"); strings.Count(two, `class="plot-dash"`) != 2 || !strings.Contains(two, ">8 to 16 for similarity<") {
		t.Error("a range of similarity has two lines and its name")
	}
	p.P, p.PWords = 0.2, "p = 0.203"
	if two := string(NullDistribution(p)); !strings.Contains(two, ">p = 0.203<") || strings.Contains(two, "p = 0.20<") {
		t.Error("the p-value is not written as the page writes it")
	}
}
