package paper

import (
	"math"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
)

// An arc keeps its radius on its whole way, runs the way it is to, and ends
// where it is to. The circle of radius 10 round (12, 12) is the disc's.
func TestArcIsRound(t *testing.T) {
	for _, test := range []struct {
		name         string
		large, sweep float64
		x, y         float64 // end; it starts at the top, (12, 2)
		over         [2]float64
	}{
		{"right half", 0, 1, 12, 22, [2]float64{22, 12}},
		{"left half", 0, 0, 12, 22, [2]float64{2, 12}},
		{"quarter to the right", 0, 1, 22, 12, [2]float64{12 + 10/math.Sqrt2, 12 - 10/math.Sqrt2}},
		{"three quarters over the left", 1, 0, 22, 12, [2]float64{2, 12}},
	} {
		px, py, over := 12.0, 2.0, false
		arc(px, py, [7]float64{10, 10, 0, test.large, test.sweep, test.x, test.y}, func(x1, y1, x2, y2, x, y float64) {
			for i := range 33 {
				u := float64(i) / 32
				v := 1 - u
				bx := v*v*v*px + 3*v*v*u*x1 + 3*v*u*u*x2 + u*u*u*x
				by := v*v*v*py + 3*v*v*u*y1 + 3*v*u*u*y2 + u*u*u*y
				if r := math.Hypot(bx-12, by-12); math.Abs(r-10) > 0.01 {
					t.Errorf("%s: the arc is %.3f from its middle at (%.2f, %.2f)", test.name, r, bx, by)
				}
				over = over || math.Hypot(bx-test.over[0], by-test.over[1]) < 0.5
			}
			px, py = x, y
		})
		if math.Hypot(px-test.x, py-test.y) > 1e-9 || !over {
			t.Errorf("%s: ends at (%.2f, %.2f), over (%.1f, %.1f): %v", test.name, px, py, test.over[0], test.over[1], over)
		}
	}
}

// Path data that can't be drawn is an error, never a wrong drawing.
func TestTraceRefusesWhatItDoesNotKnow(t *testing.T) {
	for path, want := range map[string]string{"M1 2Q3 4 5 6": "'Q'", "M1": "invalid", "M1 2L3": "invalid", "m1 2": "'m'", "M1 2L3 4": ""} {
		f := fpdf.New("P", "mm", "A4", "")
		f.AddPage()
		err := trace(f, path, 0, 0, 1)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", path, err)
		}
	}
}
