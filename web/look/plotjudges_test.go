package look

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func judgesOf(n int) JudgesPlot {
	p := JudgesPlot{Min: 0, Max: 1, AxisLabel: "share of triangles right", Title: "Judges", Desc: "Dots with 95 % intervals.",
		Lines: []AxisLine{{1.0 / 3, "chance alone"}, {0.6, "typical panellist"}}}
	for i := range n {
		p.Rows = append(p.Rows, JudgeRow{
			Label: fmt.Sprintf("J %02d", i+1), To: fmt.Sprintf("/judges/p-%d", i+1), Sub: "22 control sets",
			Value: 0.64, Lower: 0.44, Upper: 0.8, Words: "0.64 (0.44 to 0.80)", Note: "14 of 22 control",
		})
	}
	return p
}

func TestJudgesPlot(t *testing.T) {
	p := judgesOf(3)
	p.Rows[0].Few = true
	p.Rows[1].Value = math.NaN()
	p.Rows[2].Label = "<J>"
	html := string(Judges(p))
	wellFormed(t, "judges", Judges(p))
	for what, want := range map[string]int{
		`class="est-label"`: 3, `<circle`: 2, "plot-dot-few": 1, `href="/judges/p-2"`: 1, "chance alone": 1, "&lt;J&gt;": 1,
		`class="plot-dash" x1="33.333%"`: 4, // in the head, and in each row
		`role="img"`:                     1,
	} {
		if n := strings.Count(html, what); n != want {
			t.Errorf("%d of %s, want %d", n, what, want)
		}
	}
	if strings.Contains(html, "plot-dense") || strings.Contains(html, " style=") {
		t.Error("three judges are dense, or styled by hand")
	}
}

// In a long list no row is farther than twenty from an axis; one alone is read out.
func TestJudgesPlotRepeatsItsAxis(t *testing.T) {
	for rows, heads := range map[int]int{1: 1, 20: 1, 21: 2, 40: 2, 200: 10} {
		html := string(Judges(judgesOf(rows)))
		if n := strings.Count(html, "est-head"); n != heads {
			t.Errorf("%d rows have %d heads, want %d", rows, n, heads)
		}
		if n := strings.Count(html, "est-foot"); n != heads {
			t.Errorf("%d rows have %d axes, want %d", rows, n, heads)
		}
		if n := strings.Count(html, `role="img"`); n != 1 {
			t.Errorf("%d rows are read out as %d pictures", rows, n)
		}
	}
}
