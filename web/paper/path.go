package paper

import (
	"fmt"
	"math"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"oddcup/web/look"
)

// draw draws a glyph with its top left corner at x and y, height mm high.
func (d *doc) draw(g look.Drawing, x, y, height float64) {
	scale := height / g.Height
	d.f.SetLineWidth(g.Stroke * scale)
	d.f.SetLineCapStyle("round")
	d.f.SetLineJoinStyle("round")
	for _, p := range g.Parts {
		if err := trace(d.f, p.Path, x+p.X*scale, y, scale); err != nil {
			d.f.SetError(err)
			return
		}
		if p.Fill {
			d.f.DrawPath("F")
		} else {
			d.f.DrawPath("D")
		}
	}
	d.f.SetLineCapStyle("butt")
	d.f.SetLineJoinStyle("miter")
}

// arguments is how many numbers each command of path data takes.
var arguments = map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'S': 4, 'A': 7, 'Z': 0}

// trace lays path data into the page: SVG's commands M, L, H, V, C, S, A and Z
// in absolute coordinates (SVG 2, chapter 9), moved to x and y and scaled.
func trace(f *fpdf.Fpdf, path string, x, y, scale float64) error {
	var cx, cy, sx, sy, hx, hy float64 // where the pen is, where the part began, the last control point
	at := func(px, py float64) (float64, float64) { return x + px*scale, y + py*scale }
	curve := func(x1, y1, x2, y2, px, py float64) {
		ax, ay := at(x1, y1)
		bx, by := at(x2, y2)
		ex, ey := at(px, py)
		f.CurveBezierCubicTo(ax, ay, bx, by, ex, ey)
		cx, cy, hx, hy = px, py, x2, y2
	}
	for rest := path; rest != ""; {
		command := rest[0]
		rest = rest[1:]
		n, known := arguments[command]
		if !known {
			return fmt.Errorf("path data: no command %q in %q", command, path)
		}
		for first := true; first || len(rest) > 0 && !letter(rest[0]); first = false {
			var v [7]float64
			for i := range n {
				var err error
				if v[i], rest, err = number(rest); err != nil {
					return fmt.Errorf("path data %q: %w", path, err)
				}
			}
			hx, hy = 2*cx-hx, 2*cy-hy // mirrored, for S
			switch command {
			case 'M', 'L':
				cx, cy = v[0], v[1]
			case 'H':
				cx = v[0]
			case 'V':
				cy = v[0]
			case 'C':
				curve(v[0], v[1], v[2], v[3], v[4], v[5])
			case 'S':
				curve(hx, hy, v[0], v[1], v[2], v[3])
			case 'A':
				arc(cx, cy, v, curve)
			case 'Z':
				f.ClosePath()
				cx, cy = sx, sy
			}
			switch command {
			case 'M':
				sx, sy = cx, cy
				f.MoveTo(at(cx, cy))
				command = 'L' // what follows a move without a letter is a line
			case 'L', 'H', 'V':
				f.LineTo(at(cx, cy))
			}
			if command != 'C' && command != 'S' {
				hx, hy = cx, cy
			}
			if n == 0 {
				break
			}
		}
	}
	return nil
}

func letter(c byte) bool { return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' }

// number reads the number at the head of path data.
func number(s string) (float64, string, error) {
	for s != "" && (s[0] == ' ' || s[0] == ',') {
		s = s[1:]
	}
	i := 0
	for i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] == '.' || s[i] == '-' && i == 0) {
		i++
	}
	x, err := strconv.ParseFloat(s[:i], 64)
	return x, s[i:], err
}

// arc draws a circular arc (radius, radius, 0, large, sweep, x, y) as curves of
// at most a quarter each; the middle is found as SVG 2, B.2.4 does.
func arc(x0, y0 float64, v [7]float64, curve func(x1, y1, x2, y2, x, y float64)) {
	r, large, sweep, x1, y1 := v[0], v[3] != 0, v[4] != 0, v[5], v[6]
	dx, dy := (x0-x1)/2, (y0-y1)/2
	half := math.Hypot(dx, dy)
	if half == 0 {
		return
	}
	r = max(r, half) // a radius too short is stretched
	k := math.Sqrt(max(0, r*r-half*half)) / half
	if large == sweep {
		k = -k
	}
	mx, my := k*dy+(x0+x1)/2, -k*dx+(y0+y1)/2
	from := math.Atan2(y0-my, x0-mx)
	turn := math.Atan2(y1-my, x1-mx) - from
	if sweep && turn < 0 {
		turn += 2 * math.Pi
	} else if !sweep && turn > 0 {
		turn -= 2 * math.Pi
	}
	n := int(math.Ceil(math.Abs(turn)/(math.Pi/2) - 1e-9))
	step := turn / float64(n)
	h := 4.0 / 3 * math.Tan(step/4) * r
	for i := range n {
		a, b := from+float64(i)*step, from+float64(i+1)*step
		ax, ay := mx+r*math.Cos(a), my+r*math.Sin(a)
		bx, by := mx+r*math.Cos(b), my+r*math.Sin(b)
		curve(ax-h*math.Sin(a), ay+h*math.Cos(a), bx+h*math.Sin(b), by-h*math.Cos(b), bx, by)
	}
}
