package look

import (
	"fmt"
	"html"
	"math"
	"regexp"
	"strconv"
	"testing"
	"unicode/utf8"
)

var (
	drawnText   = regexp.MustCompile(`<text class="(plot-strong|plot-note)[^"]*" text-anchor="(\w+)" x="([\d.-]+)%" dx="(-?[\d.]+)" y="(-?[\d.]+)">([^<]*)<`)
	drawnDash   = regexp.MustCompile(`<line class="plot-dash" x1="([\d.-]+)%" x2="[\d.-]+%" y1="(-?[\d.]+)" y2="(-?[\d.]+)"/>`)
	drawnLeader = regexp.MustCompile(`<svg x="([\d.-]+)%" overflow="visible"><path class="plot-leader" d="M(-?[\d.]+) (-?[\d.]+)L(-?[\d.]+) (-?[\d.]+)"/>`)
)

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// crossings says which labels of a drawing are cut by a line or by another label,
// with bold letters 8.4 px wide: what 17 px of a usual sans serif takes on average.
func crossings(t *testing.T, svg string, width float64) (found []string) {
	t.Helper()
	type box struct {
		words                    string
		left, right, top, bottom float64
	}
	var labels []box
	for _, m := range drawnText.FindAllStringSubmatch(svg, -1) {
		words := html.UnescapeString(m[6])
		wide := 8.4 * float64(utf8.RuneCountInString(words))
		at := number(t, m[3])/100*width + number(t, m[4])
		back := map[string]float64{"start": 0, "middle": 0.5, "end": 1}[m[2]]
		y := number(t, m[5])
		labels = append(labels, box{words, at - back*wide, at + (1-back)*wide, y - 12, y + 3})
	}
	var lines []box
	for _, m := range drawnDash.FindAllStringSubmatch(svg, -1) {
		x := number(t, m[1]) / 100 * width
		lines = append(lines, box{"a dashed line", x, x, number(t, m[2]), number(t, m[3])})
	}
	for _, m := range drawnLeader.FindAllStringSubmatch(svg, -1) {
		x := number(t, m[1]) / 100 * width
		x1, y1, x2, y2 := number(t, m[2]), number(t, m[3]), number(t, m[4]), number(t, m[5])
		lines = append(lines, box{"the leader", x + min(x1, x2), x + max(x1, x2), min(y1, y2), max(y1, y2)})
	}
	for i, l := range labels {
		for _, other := range append(labels[i+1:len(labels):len(labels)], lines...) {
			if other.right > l.left && other.left < l.right && other.bottom > l.top && other.top < l.bottom {
				found = append(found, fmt.Sprintf("%q is cut by %s at %.0f", l.words, other.words, other.left))
			}
		}
	}
	if len(labels) == 0 || len(lines) == 0 {
		t.Fatalf("no labels or lines in %s", svg)
	}
	return found
}

// No label of the plot is cut by a line or another label, however small the gap
// between the session's count, the minimum and the limit of similarity is.
func TestNullLabelsDoNotCross(t *testing.T) {
	drawings := 0
	check := func(what string, p NullPlot) {
		for _, v := range []variant{wide, narrow} {
			svg := p.draw(v)
			for _, w := range []float64{1, 1.2, 1.45, 1.6, 1.9} {
				for _, say := range crossings(t, svg, v.least*w) {
					t.Errorf("%s, %s, %.0f px: %s", what, v.class, v.least*w, say)
				}
			}
			drawings++
		}
	}
	for _, n := range []int{6, 12, 18, 24, 36, 60, 150} {
		for _, chance := range []float64{1.0 / 3, 0.5} {
			pmf := binomial(n, chance)
			least := least(pmf, 0.05)
			for observed := max(0, least-9); observed <= min(n, least+9); observed++ {
				p := NullPlot{
					N: n, Chance: chance, PMF: pmf, MinCorrect: least, Observed: observed, P: 0.0038, PWords: "p = 0.0038",
					Title: "Counts", XLabel: "odd cup found", ObservedLabel: fmt.Sprintf("this session: %d", observed), MinimumNote: "chance alone reaches it in 28 of 1000 sessions",
				}
				check(fmt.Sprintf("%d of %d, minimum %d", observed, n, least), p)
				both := p
				both.TwoSided = true
				check(fmt.Sprintf("%d of %d, minimum %d both ways", observed, n, least), both)
				for gap := -2; gap <= 2; gap++ {
					p.Alike, p.AlikeTo = true, max(0, least+gap)
					check(fmt.Sprintf("%d of %d, minimum %d, similar to %d", observed, n, least, p.AlikeTo), p)
				}
				p.MinCorrect = 0
				check(fmt.Sprintf("%d of %d, similar to %d", observed, n, p.AlikeTo), p)
			}
		}
	}
	if drawings < 1000 {
		t.Errorf("only %d drawings", drawings)
	}
}

// Labels in rows, as on paper, mm: no line of a row above goes through a label, or
// between it and its line, and each stays inside.
func TestPlaceLabels(t *testing.T) {
	const left, right = 20.0, 190.0
	for _, n := range []int{6, 12, 18, 24, 60, 150} {
		at := func(x float64) float64 { return 32 + (x+0.5)*155/float64(n+1) }
		for least := 1; least <= n; least += max(1, n/30) {
			for observed := 0; observed <= n; observed += max(1, n/30) {
				for similar := -1; similar <= n; similar += max(1, n/6) {
					labels := []LineLabel{
						{At: at(float64(least) - 0.5), Width: 33, After: true},
						{At: at(float64(observed)), Width: 47, After: observed >= least},
					}
					if similar >= 0 {
						labels = append([]LineLabel{{At: at(float64(similar) + 0.5), Width: 41, After: true}}, labels...)
					}
					places := PlaceLabels(labels, left, right)
					rows := map[int]bool{}
					for i, p := range places {
						rows[p.Row] = true
						from := labels[i].At - p.Back*labels[i].Width
						to := from + labels[i].Width
						if from < left-1e-9 || to > right+1e-9 {
							t.Errorf("%d of %d, minimum %d, similar %d: label %d stands from %.1f to %.1f", observed, n, least, similar, i, from, to)
						}
						for j, q := range places {
							if x := labels[j].At; q.Row < p.Row && x > from && x < to && math.Abs(x-labels[i].At) > 1e-9 {
								t.Errorf("%d of %d, minimum %d, similar %d: the line of label %d cuts label %d", observed, n, least, similar, j, i)
							}
						}
					}
					if len(rows) != len(labels) {
						t.Errorf("%d of %d, minimum %d: rows %v", observed, n, least, rows)
					}
				}
			}
		}
	}
}
