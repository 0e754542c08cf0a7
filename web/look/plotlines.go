package look

import (
	"fmt"
	"html/template"
	"math"
)

// LookPoint is a look of a sequential test: so many correct of so many answers.
type LookPoint struct{ N, Correct int }

// LinesPlot is the course of a sequential test between its two decision lines,
// intercept + slope · n, over the number n of answers.
type LinesPlot struct {
	Max                 int // most answers planned, 1 or more
	Slope, Lower, Upper float64
	Looks               []LookPoint // in the order taken

	Above, Between, Below string // what the three regions decide

	Title          string // names the picture for a screen reader
	XLabel, YLabel string // what is counted across, and up
}

// linesHeight is the height of the plot area in pixels.
const linesHeight = 236.0

// SequentialLines draws p. It panics unless p.Max is at least 1.
func SequentialLines(p LinesPlot) template.HTML {
	if p.Max < 1 {
		panic(fmt.Sprintf("look: lines over %d answers", p.Max))
	}
	axis := "across: " + p.XLabel + "; up: " + p.YLabel
	return figure("plot-lines", p.Title, axis, false, p.draw(wide), p.draw(narrow))
}

// sentence describes the plot in words.
func (p LinesPlot) sentence() string {
	s := fmt.Sprintf("Up to %d answers. On or above the upper line: %s; on or below the lower line: %s; between them: %s.", p.Max, p.Above, p.Below, p.Between)
	for i, l := range p.Looks {
		s += fmt.Sprintf(" Look %d: %d correct of %d.", i+1, l.Correct, l.N)
	}
	return s
}

func (p LinesPlot) at(n float64) float64 { return n / float64(p.Max) }

func (p LinesPlot) upper(n float64) float64 { return p.Upper + p.Slope*n }
func (p LinesPlot) lower(n float64) float64 { return p.Lower + p.Slope*n }

func (p LinesPlot) draw(v variant) string {
	highest := p.upper(float64(p.Max))
	for _, l := range p.Looks {
		highest = max(highest, float64(l.Correct))
	}
	step := max(1, niceStep(highest, 6))
	top := math.Ceil(highest/step-1e-9) * step
	const head = 24.0
	y := func(x float64) float64 { return head + linesHeight*(1-x/top) }
	floor, last := y(0), float64(p.Max)

	var c canvas
	c.axisY(multiples(0, top, step), 0, y)
	line := func(from float64, of func(float64) float64) {
		c.add(`<line class="plot-dash" x1="%s" x2="100%%" y1="%s" y2="%s"/>`, pct(p.at(from)), num(y(of(from))), num(y(of(last))))
	}
	line(0, p.upper)
	start := -p.Lower / p.Slope // where the lower line leaves the axis
	if start < last {
		line(max(start, 0), p.lower)
	}
	c.add(`<line class="plot-axis" x1="0" x2="100%%" y1="%s" y2="%s"/>`, num(floor), num(floor))
	p.regions(&c, v, y)
	p.course(&c, y)

	var must []int
	if n := len(p.Looks); n > 0 {
		must = append(must, p.Looks[n-1].N)
	}
	ticks := countTicks(0, p.Max, 1, v.least/last, must)
	for n := range p.Max + 1 {
		if !ticks[n] {
			continue
		}
		class := "plot-tick"
		if len(must) > 0 && n == must[0] {
			class = "plot-tick plot-tick-strong"
		}
		c.text(class, "middle", p.at(float64(n)), 0, floor+20, fmt.Sprint(n))
	}
	return c.svg(v, floor+32, p.Title, p.sentence())
}

// regions names what is decided above, between and below the lines. The lines
// rise, so that a name above one ends where it begins to be in its way, and a
// name below one begins there.
func (p LinesPlot) regions(c *canvas, v variant, y func(float64) float64) {
	reach := func(words string) float64 { return float64(p.Max) * labelPx(words) / v.least }
	c.text("plot-note", "start", 0, 8, max(14, y(p.upper(reach(p.Above)))-10), p.Above)
	from := float64(p.Max) - reach(p.Below)
	if low := y(p.lower(from)) + 22; low < y(0)-6 {
		c.text("plot-note", "end", 1, 0, low, p.Below)
	}
	if n := len(p.Looks); n > 0 && p.at(float64(p.Looks[n-1].N)) > 0.7 {
		return // the course itself stands between the lines there
	}
	mid := float64(p.Max) - reach(p.Between)/2
	c.text("plot-note", "end", 1, 0, (y(p.upper(mid))+y(max(p.lower(mid), 0)))/2+5, p.Between)
}

// course joins the looks, and rings the last one.
func (p LinesPlot) course(c *canvas, y func(float64) float64) {
	before := LookPoint{}
	for _, l := range p.Looks {
		c.add(`<line class="plot-line" x1="%s" x2="%s" y1="%s" y2="%s"/>`,
			pct(p.at(float64(before.N))), pct(p.at(float64(l.N))), num(y(float64(before.Correct))), num(y(float64(l.Correct))))
		before = l
	}
	for _, l := range p.Looks {
		c.add(`<circle class="plot-dot" cx="%s" cy="%s" r="5"/>`, pct(p.at(float64(l.N))), num(y(float64(l.Correct))))
	}
	if len(p.Looks) == 0 {
		return
	}
	x := p.at(float64(before.N))
	c.ring(x, y(float64(before.Correct)), 12)
	anchor, dx := "start", 20.0
	if x > 0.6 {
		anchor, dx = "end", -20
	}
	c.text("plot-strong", anchor, x, dx, y(float64(before.Correct))+5, fmt.Sprintf("%d of %d", before.Correct, before.N))
}
