package look

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// drawing returns the wide or the narrow drawing of a plot.
func drawing(t *testing.T, plot, class string) string {
	t.Helper()
	_, rest, ok := strings.Cut(plot, class+`"`)
	if !ok {
		t.Fatalf("no drawing %s", class)
	}
	rest, _, _ = strings.Cut(rest, "plot-narrow")
	return rest
}

func TestNullDistribution(t *testing.T) {
	// Triangle, 24 answers, 13 right: R 4.2.2,
	// pbinom(12, 24, 1/3, lower.tail = FALSE) = 0.02844113.
	plot := string(sampleNull(24, 13, 1.0/3))
	wellFormed(t, "null", sampleNull(24, 13, 1.0/3))
	wide := drawing(t, plot, "plot-wide")
	for _, want := range []string{
		"<title>Counts that guessing alone gives</title>",
		"<desc>Probability of each count from 0 to 24",
		"Minimum correct: 13. This session: 13, p = 0.028.",
		">minimum correct 13<", ">this session: 13<", ">p = 0.028<",
		`class="plot-dash" x1="52%" x2="52%"`, // between 12 and 13: 13 of 25 steps
	} {
		if !strings.Contains(wide, want) {
			t.Errorf("no %q in the plot", want)
		}
	}
	// Coffee up to 12, violet from 13 on; bars too low to be seen are left out.
	if n := strings.Count(wide, `class="plot-bar"`); n != 13 {
		t.Errorf("%d bars below the minimum, want 13", n)
	}
	if n := strings.Count(wide, "plot-bar-data"); n < 4 {
		t.Errorf("%d bars from the minimum up, want 4 or more", n)
	}
	if without := string(sampleNull(24, -1, 1.0/3)); strings.Contains(without, "plot-ring") || strings.Contains(without, "this session") {
		t.Error("a session without a count is ringed")
	}
	if small := string(sampleNull(1, 1, 1.0/3)); strings.Contains(small, "plot-dash") {
		t.Error("one answer can show no difference, yet a minimum is drawn")
	}
}

// Every size from 1 to 400 draws, whatever the count, and bar heights are true
// to the probabilities.
func TestNullDistributionSizes(t *testing.T) {
	for _, n := range []int{1, 2, 3, 12, 24, 61, 150, 151, 400} {
		for _, observed := range []int{-1, 0, n / 3, n} {
			wellFormed(t, fmt.Sprintf("n %d, observed %d", n, observed), sampleNull(n, observed, 1.0/3))
		}
	}
	bar := regexp.MustCompile(`<rect class="plot-bar[^"]*" x="[^"]*" y="([^"]*)" width="[^"]*" height="([^"]*)"`)
	pmf := binomial(12, 0.5)
	plot := drawing(t, string(sampleNull(12, -1, 0.5)), "plot-wide")
	bars := bar.FindAllStringSubmatch(plot, -1)
	if len(bars) != 13 {
		t.Fatalf("%d bars, want 13", len(bars))
	}
	height := func(x int) float64 {
		h, err := strconv.ParseFloat(bars[x][2], 64)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	for x := range bars {
		if got, want := height(x)/height(6), pmf[x]/pmf[6]; math.Abs(got-want) > 1e-3 {
			t.Errorf("bar %d is %.4f of bar 6, want %.4f", x, got, want)
		}
	}
}

// No two counts on the axis may touch in the narrowest column that shows them.
func TestTicksDoNotTouch(t *testing.T) {
	for n := 1; n <= 400; n++ {
		for _, v := range []variant{wide, narrow} {
			step := v.least / float64(n+1)
			ticks := countTicks(0, n, 1, step, []int{n / 2})
			last := -1
			if !ticks[n/2] {
				t.Fatalf("n %d: no label at %d, which must have one", n, n/2)
			}
			for x := range n + 1 {
				if !ticks[x] {
					continue
				}
				if gap := float64(x-last) * step; last >= 0 && gap < 9*float64(len(strconv.Itoa(n))) {
					t.Errorf("n %d, %s: labels %d and %d are %.1f px apart", n, v.class, last, x, gap)
				}
				last = x
			}
		}
	}
}

// A two-sided test marks both ends.
func TestNullDistributionBothWays(t *testing.T) {
	html := sampleNullBoth(24, 6) // minimum 18, so 6 and fewer too
	wellFormed(t, "both ways", html)
	for _, class := range []string{"plot-wide", "plot-narrow"} {
		_, plot, _ := strings.Cut(string(html), class+`"`)
		plot, _, _ = strings.Cut(plot, "</desc>")
		if !strings.Contains(plot, "Minimum correct: 18, or 6 and fewer. This session: 6") {
			t.Errorf("%s: %s", class, plot)
		}
	}
	wide := drawing(t, string(html), "plot-wide")
	for _, want := range []string{`class="plot-dash" x1="28%"`, `class="plot-dash" x1="72%"`, ">minimum correct 18<", ">or 6 and fewer<"} {
		if !strings.Contains(wide, want) {
			t.Errorf("no %q in the plot", want)
		}
	}
	// 4, 5, 6 and 18, 19, 20 are high enough to be seen.
	if n := strings.Count(wide, "plot-bar-data"); n < 6 || n%2 != 0 {
		t.Errorf("%d bars in violet, want as many at both ends, 6 or more", n)
	}
	if one := string(sampleNull(24, 6, 0.5)); strings.Contains(one, "and fewer") {
		t.Error("a one-sided test marks two ends")
	}
}

// The labels of a narrow drawing stay in their column, at the largest size of
// text, wherever the plan is.
func TestPowerLabelsStayInside(t *testing.T) {
	label := regexp.MustCompile(`<text class="plot-(?:strong|note)" text-anchor="(\w+)" x="([\d.]+)%" dx="(-?[\d.]+)" y="[^"]*">([^<]*)<`)
	for planned := 2; planned <= 48; planned++ {
		_, plot, ok := strings.Cut(string(samplePower(2, 48, planned)), `plot-narrow"`)
		if !ok {
			t.Fatal("no narrow drawing")
		}
		found := label.FindAllStringSubmatch(plot, -1)
		if len(found) != 3 {
			t.Fatalf("planned %d: %d labels, want wanted, planned and power", planned, len(found))
		}
		for _, m := range found {
			x, err := strconv.ParseFloat(m[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			dx, err := strconv.ParseFloat(strings.Replace(m[3], "−", "-", 1), 64)
			if err != nil {
				t.Fatal(err)
			}
			from := x/100*narrow.least + dx
			switch m[1] {
			case "middle":
				from -= labelPx(m[4]) / 2
			case "end":
				from -= labelPx(m[4])
			}
			if to := from + labelPx(m[4]); from < -44 || to > narrow.least+24 {
				t.Errorf("planned %d: %q stands from %.0f to %.0f px of %.0f", planned, m[4], from, to, narrow.least)
			}
		}
	}
}

// Where the plan's leader rises at the left, "wanted" stands at the right.
func TestWantedStandsClearOfTheLeader(t *testing.T) {
	for planned, anchor := range map[int]string{6: "end", 24: "start"} {
		plot := drawing(t, string(samplePower(2, 48, planned)), "plot-wide")
		if want := regexp.MustCompile(`text-anchor="` + anchor + `"[^>]*>wanted: 0\.80<`); !want.MatchString(plot) {
			t.Errorf("planned %d: “wanted” is not anchored at its %s", planned, anchor)
		}
	}
}

func TestPowerCurve(t *testing.T) {
	html := samplePower(10, 48, 24)
	wellFormed(t, "power", html)
	plot := drawing(t, string(html), "plot-wide")
	if n := strings.Count(plot, "<circle"); n != 39 {
		t.Errorf("%d dots, want one for each of 10 to 48", n)
	}
	if n := strings.Count(plot, `<line class="plot-line"`); n != 38 {
		t.Errorf("%d lines between dots, want 38", n)
	}
	if n := strings.Count(plot, `class="plot-dot"`); n != 7 { // 12, 18, ..., 48
		t.Errorf("%d large dots, want 7", n)
	}
	for _, want := range []string{">planned: 24, power 0.79<", ">wanted: 0.80<", ">1.0<"} {
		if !strings.Contains(plot, want) {
			t.Errorf("no %q in the plot", want)
		}
	}
	for _, tc := range [][3]int{{6, 6, 6}, {1, 400, 0}, {6, 24, 99}} {
		wellFormed(t, fmt.Sprint(tc), samplePower(tc[0], tc[1], tc[2]))
	}
}

func TestEstimates(t *testing.T) {
	html := sampleEstimates()
	wellFormed(t, "estimates", html)
	plot := string(html)
	if n := strings.Count(plot, `class="plot-dot"`); n != 2 {
		t.Errorf("%d dots, want 2: the third row has no estimate", n)
	}
	// A cap at both ends of the first interval, none at the cut end of the second.
	if n := strings.Count(plot, `d="M0 -6V6"`); n != 3 {
		t.Errorf("%d caps, want 3", n)
	}
	for _, want := range []string{">0.31 (0.04 to 0.58)<", ">chance alone<", ">−0.2<", ">0.2<"} {
		if !strings.Contains(plot, want) {
			t.Errorf("no %q in the plot", want)
		}
	}
	limits := string(Estimates(EstimatePlot{Min: -1, Max: 1, Rows: []Estimate{{Value: math.NaN(), Limits: []float64{0.4, -0.4, 1.2}}}}))
	for _, want := range []string{`<svg x="70%" y="50%" overflow="visible"><path class="plot-interval" d="M-9 -8H0V8H-9"/>`, `<svg x="30%" y="50%" overflow="visible"><path class="plot-interval" d="M9 -8H0V8H9"/>`} {
		if !strings.Contains(limits, want) {
			t.Errorf("no %s in %s", want, limits)
		}
	}
	if n := strings.Count(limits, "plot-interval"); n != 2 || strings.Contains(limits, "plot-dot") {
		t.Errorf("%d limits, want 2: one lies beyond the axis: %s", n, limits)
	}
	odd := Estimates(EstimatePlot{Max: 1, Rows: []Estimate{{Label: "<i>", Words: "&"}}, Title: "<t>"})
	wellFormed(t, "escaping", odd)
	if strings.Contains(string(odd), "<i>") || strings.Contains(string(odd), "<t>") {
		t.Errorf("label not escaped: %s", odd)
	}
}

func TestPValue(t *testing.T) {
	for p, want := range map[float64]string{
		0.0284: "p = 0.028", 0.25: "p = 0.25", 0.00389: "p = 0.0039", 0.7: "p = 0.70", 0.00001: "p < 0.0001", 0.997: "p > 0.99", 1: "p = 1.0",
	} {
		if got := pValue(p); got != want {
			t.Errorf("pValue(%v) = %q, want %q", p, got, want)
		}
	}
}
