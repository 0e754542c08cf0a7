package look

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Plots place things along the horizontal in percent and along the vertical in
// pixels, so that a plot is as wide as its column and its text is never
// scaled. Each plot that has labels inside is drawn twice, for a wide and for
// a narrow column; the style sheet shows one of them.

// variant is one of the two drawings of a plot.
type variant struct {
	class string  // plot-wide or plot-narrow
	least float64 // narrowest plot area, in pixels, that the drawing must suit
}

var (
	wide   = variant{"plot-wide", 616}
	narrow = variant{"plot-narrow", 224}
)

// loopRadius is the mean radius of the pencil loop in the glyph file, whose
// centre is the middle of the cup's box.
const loopRadius = 50.0

// canvas collects the elements of one drawing.
type canvas struct{ strings.Builder }

func (c *canvas) add(format string, args ...any) { fmt.Fprintf(c, format+"\n", args...) }

// text adds words at x (0 to 1 of the width) and y pixels, dx pixels aside.
func (c *canvas) text(class, anchor string, x, dx, y float64, words string) {
	c.add(`<text class="%s" text-anchor="%s" x="%s" dx="%s" y="%s">%s</text>`,
		class, anchor, pct(x), num(dx), num(y), template.HTMLEscapeString(words))
}

// ring adds a pencil loop of radius r around the point x (0 to 1), y.
func (c *canvas) ring(x, y, r float64) {
	scale := r / loopRadius
	mid := glyphs.Cup.Box / 2 * scale
	c.add(`<svg x="%s" y="%s" overflow="visible"><path class="plot-ring" vector-effect="non-scaling-stroke" transform="translate(-%s -%s) scale(%s)" d="%s"/></svg>`,
		pct(x), num(y), num(mid), num(mid), strconv.FormatFloat(scale, 'f', 3, 64), glyphs.Cup.Pick)
}

// leader adds a thin line from a point near x to a label dx pixels aside.
func (c *canvas) leader(x, dx1, y1, dx2, y2 float64) {
	c.add(`<svg x="%s" overflow="visible"><path class="plot-leader" d="M%s %sL%s %s"/></svg>`,
		pct(x), num(dx1), num(y1), num(dx2), num(y2))
}

// svg closes the drawing and wraps it as an image with a name and a description.
func (c *canvas) svg(v variant, height float64, title, desc string) string {
	return fmt.Sprintf(`<svg class="plot-svg %s" role="img" width="100%%" height="%s" overflow="visible"><title>%s</title><desc>%s</desc>%s</svg>`,
		v.class, num(height), template.HTMLEscapeString(title), template.HTMLEscapeString(desc), c.String())
}

// axisY draws gridlines and their labels at the given values; y maps a value
// to pixels. The line at zero is the axis.
func (c *canvas) axisY(values []float64, decimals int, y func(float64) float64) {
	for _, v := range values {
		class := "plot-grid"
		if v == 0 {
			class = "plot-axis"
		}
		c.add(`<line class="%s" x1="0" x2="100%%" y1="%s" y2="%s"/>`, class, num(y(v)), num(y(v)))
		c.text("plot-tick", "end", 0, -8, y(v)+5, decimal(v, decimals))
	}
}

// countTicks returns which of the counts from first to last get a label when
// a step between counts is stepPx pixels wide and those in must always have
// one. Labels are at 1, 2, 5, 10, ... times unit, and none touches another.
func countTicks(first, last, unit int, stepPx float64, must []int) map[int]bool {
	labelPx := float64(len(strconv.Itoa(last)))*10 + 8
	every := unit
	for _, f := range []int{1, 2, 3, 5, 10, 20, 50, 100, 200, 500} {
		every = unit * f
		if float64(every)*stepPx >= labelPx {
			break
		}
	}
	ticks := map[int]bool{}
	for _, k := range must {
		if k >= first && k <= last {
			ticks[k] = true
		}
	}
	for k := (first + every - 1) / every * every; k <= last; k += every {
		crowded := slices.ContainsFunc(must, func(m int) bool {
			return k != m && math.Abs(float64(k-m))*stepPx < labelPx
		})
		if !crowded {
			ticks[k] = true
		}
	}
	return ticks
}

// niceStep returns a step of 1, 2 or 5 times a power of ten that divides span
// into at most most parts.
func niceStep(span float64, most int) float64 {
	raw := span / float64(most)
	magnitude := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, f := range []float64{1, 2, 5, 10} {
		if f*magnitude >= raw*(1-1e-9) {
			return f * magnitude
		}
	}
	return 10 * magnitude
}

// decimalsOf returns how many decimals a multiple of step needs.
func decimalsOf(step float64) int {
	return max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}

// multiples returns the multiples of step from lo to hi.
func multiples(lo, hi, step float64) []float64 {
	var values []float64
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+step*1e-6; i++ {
		values = append(values, i*step)
	}
	return values
}

// decimal writes x with a real minus sign; zero is written without decimals.
func decimal(x float64, decimals int) string {
	if math.Abs(x) < 1e-12 {
		return "0"
	}
	return strings.Replace(strconv.FormatFloat(x, 'f', decimals, 64), "-", "−", 1)
}

// pValue writes p with two significant digits, "p < 0.0001" below that.
func pValue(p float64) string {
	switch {
	case p < 0.0001:
		return "p < 0.0001"
	case p >= 1:
		return "p = 1.0"
	case p > 0.995:
		return "p > 0.99"
	}
	decimals := 1 - int(math.Floor(math.Log10(p)))
	return "p = " + strconv.FormatFloat(p, 'f', max(2, decimals), 64)
}

// pct writes a fraction of the width.
func pct(x float64) string {
	return strconv.FormatFloat(math.Round(x*1e5)/1e3, 'f', -1, 64) + "%"
}

// figure wraps drawings as one plot, with the name of its horizontal axis as
// text below, so that it wraps. A long plot keeps a width at which its
// marks can be read and scrolls inside itself, by keyboard too.
func figure(class, title, axis string, long bool, drawings ...string) template.HTML {
	body := `<div class="plot-area">` + strings.Join(drawings, "") + `<p class="plot-name">` + template.HTMLEscapeString(axis) + `</p></div>`
	if long {
		body = fmt.Sprintf(`<div class="plot-scroll" tabindex="0" role="group" aria-label="%s, scrolls sideways"><div class="plot-long">%s</div></div>`,
			template.HTMLEscapeString(title), body)
	}
	return template.HTML(fmt.Sprintf(`<figure class="plot %s">%s</figure>`, class, body))
}
