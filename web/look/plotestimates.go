package look

import (
	"fmt"
	"html/template"
	"math"
	"strings"
)

// Estimate is one row of an EstimatePlot.
type Estimate struct {
	Label, Sub          string  // what is estimated, and from what
	Value, Lower, Upper float64 // in the axis's unit; a Value that is not a number has no dot
	LowerCut, UpperCut  bool    // the interval goes on, or stops at the scale's bound: no cap
	Words               string  // "0.31 (0.04 to 0.58)"

	// Limits are drawn as square brackets that open towards 0: a one-sided limit
	// above, or one on each side. They stand in a row without a dot.
	Limits []float64
}

// AxisLine is a dashed line across all rows, with its name above.
type AxisLine struct {
	At    float64
	Label string
}

// EstimatePlot is a list of estimates with their intervals on one axis, in the
// order given. The rows' names and numbers are text on the page, not part of
// the picture, so that they wrap and are read out in order.
type EstimatePlot struct {
	Rows      []Estimate
	Min, Max  float64    // ends of the axis, Min < Max
	AxisLabel string     // quantity and unit
	Chance    *float64   // dashed line "chance alone"; nil = none
	Lines     []AxisLine // further dashed lines

	Title string // names the picture for a screen reader
	Desc  string // says in a sentence what it shows, with the level of the intervals
}

// Estimates draws p. It panics unless p.Min < p.Max.
func Estimates(p EstimatePlot) template.HTML {
	if !(p.Min < p.Max) {
		panic(fmt.Sprintf("look: estimates on an axis from %g to %g", p.Min, p.Max))
	}
	lines := p.Lines
	if p.Chance != nil {
		lines = append([]AxisLine{{*p.Chance, "chance alone"}}, lines...)
	}
	ticks := multiples(p.Min, p.Max, niceStep(p.Max-p.Min, 7))

	var b strings.Builder
	b.WriteString(p.head(lines))
	for _, row := range p.Rows {
		fmt.Fprintf(&b, `<div class="est-row"><div class="est-label"><b>%s</b>`, template.HTMLEscapeString(row.Label))
		if row.Sub != "" {
			fmt.Fprintf(&b, ` <span>%s</span>`, template.HTMLEscapeString(row.Sub))
		}
		fmt.Fprintf(&b, `</div><div class="est-cell"><svg class="est-line" aria-hidden="true" focusable="false" width="100%%" height="100%%">%s</svg></div><div class="est-words">%s</div></div>`+"\n",
			p.row(row, ticks, lines), template.HTMLEscapeString(row.Words))
	}
	b.WriteString(p.axis(ticks))
	return template.HTML(`<figure class="plot plot-estimates">` + b.String() + `</figure>`)
}

// at returns the place of value x, 0 to 1 of the width, held within the axis.
func (p EstimatePlot) at(x float64) float64 {
	return min(max((x-p.Min)/(p.Max-p.Min), 0), 1)
}

// row draws one interval over its part of the grid. The height is that of the
// text beside it, so the vertical is in percent here.
func (p EstimatePlot) row(e Estimate, ticks []float64, lines []AxisLine) string {
	var c canvas
	for _, t := range ticks {
		c.add(`<line class="plot-grid" x1="%s" x2="%s" y1="0" y2="100%%"/>`, pct(p.at(t)), pct(p.at(t)))
	}
	for _, l := range lines {
		c.add(`<line class="plot-dash" x1="%s" x2="%s" y1="0" y2="100%%"/>`, pct(p.at(l.At)), pct(p.at(l.At)))
	}
	for _, x := range e.Limits {
		if x < p.Min || x > p.Max {
			continue
		}
		open := "M-9 -8H0V8H-9"
		if x < 0 {
			open = "M9 -8H0V8H9"
		}
		c.add(`<svg x="%s" y="50%%" overflow="visible"><path class="plot-interval" d="%s"/></svg>`, pct(p.at(x)), open)
	}
	if math.IsNaN(e.Value) {
		return c.String()
	}
	c.add(`<line class="plot-interval" x1="%s" x2="%s" y1="50%%" y2="50%%"/>`, pct(p.at(e.Lower)), pct(p.at(e.Upper)))
	for _, end := range []struct {
		at  float64
		cut bool
	}{{e.Lower, e.LowerCut || e.Lower < p.Min}, {e.Upper, e.UpperCut || e.Upper > p.Max}} {
		if !end.cut {
			c.add(`<svg x="%s" y="50%%" overflow="visible"><path class="plot-interval" d="M0 -6V6"/></svg>`, pct(p.at(end.at)))
		}
	}
	if e.Value >= p.Min && e.Value <= p.Max {
		c.add(`<circle class="plot-dot" cx="%s" cy="50%%" r="7"/>`, pct(p.at(e.Value)))
	}
	return c.String()
}

// head names the dashed lines. Names that would touch stand one above the other.
func (p EstimatePlot) head(lines []AxisLine) string {
	if len(lines) == 0 {
		return ""
	}
	var c canvas
	height := float64(22 * len(lines))
	for i, l := range lines {
		x, anchor := p.at(l.At), "middle"
		switch {
		case x < 0.2:
			anchor = "start"
		case x > 0.8:
			anchor = "end"
		}
		base := float64(22*i) + 15
		c.add(`<line class="plot-dash" x1="%s" x2="%s" y1="%s" y2="%s"/>`, pct(x), pct(x), num(base+4), num(height))
		c.text("plot-strong", anchor, x, 0, base, l.Label)
	}
	return fmt.Sprintf(`<div class="est-row est-head"><div class="est-axis"><svg aria-hidden="true" focusable="false" width="100%%" height="%s" overflow="visible">%s</svg></div></div>`+"\n",
		num(height), c.String())
}

// axis draws the scale below the rows; it carries the picture's name.
func (p EstimatePlot) axis(ticks []float64) string {
	var c canvas
	c.add(`<line class="plot-axis" x1="0" x2="100%%" y1="0" y2="0"/>`)
	decimals := 0
	if len(ticks) > 1 {
		decimals = decimalsOf(ticks[1] - ticks[0])
	}
	for _, t := range ticks {
		c.text("plot-tick", "middle", p.at(t), 0, 20, decimal(t, decimals))
	}
	return fmt.Sprintf(`<div class="est-row est-foot"><div class="est-axis"><svg role="img" width="100%%" height="26" overflow="visible"><title>%s</title><desc>%s</desc>%s</svg><p class="est-name">%s</p></div></div>`+"\n",
		template.HTMLEscapeString(p.Title), template.HTMLEscapeString(p.Desc), c.String(), template.HTMLEscapeString(p.AxisLabel))
}
