package look

import (
	"fmt"
	"html/template"
	"slices"
)

// PowerPoint is the power of the exact test at n answers.
type PowerPoint struct {
	N     int
	Power float64 // 0 to 1
}

// PowerPlot is power against the number of answers, with its saw-tooth.
type PowerPlot struct {
	Points  []PowerPoint // by rising N, one for each N; at least one
	Even    []int        // sizes at which every serving order is used equally often
	Wanted  float64      // power wanted, 0 to 1
	Planned int          // answers planned; ringed when it is among Points, 0 = none

	Title        string // names the picture for a screen reader
	Desc         string // says in a sentence what it shows
	XLabel       string // "answers, n (large dots: every serving order equally often)"
	PlannedLabel string // "planned: 24, power 0.79"; empty = that
	PlannedNote  string // second line at the plan, wide columns only; may be empty
}

const powerHeight = 220.0 // pixels from power 0 to power 1

// PowerCurve draws p. It panics when p has no points.
func PowerCurve(p PowerPlot) template.HTML {
	if len(p.Points) == 0 {
		panic("look: power curve without points")
	}
	return figure("plot-power", p.Title, false, p.draw(wide), p.draw(narrow))
}

// at returns the place of n answers, 0 to 1 of the width.
func (p PowerPlot) at(n int) float64 {
	first, last := p.Points[0].N, p.Points[len(p.Points)-1].N
	if first == last {
		return 0.5
	}
	return float64(n-first) / float64(last-first)
}

func powerY(power float64) float64 { return 14 + powerHeight*(1-power) }

func (p PowerPlot) draw(v variant) string {
	var c canvas
	c.axisY([]float64{0, 0.2, 0.4, 0.6, 0.8, 1}, 1, powerY)
	for i, to := range p.Points {
		if i == 0 {
			continue
		}
		from := p.Points[i-1]
		c.add(`<line class="plot-line" x1="%s" y1="%s" x2="%s" y2="%s"/>`,
			pct(p.at(from.N)), num(powerY(from.Power)), pct(p.at(to.N)), num(powerY(to.Power)))
	}
	if p.Wanted > 0 {
		p.wanted(&c)
	}
	p.dots(&c, v)
	p.planned(&c, v)
	p.ticks(&c, v)
	c.text("plot-name", "middle", 0.5, 0, powerY(0)+44, p.XLabel)
	return c.svg(v, powerY(0)+50, p.Title, p.Desc)
}

// dots draws every size, the even ones large.
func (p PowerPlot) dots(c *canvas, v variant) {
	small := min(max(v.least/float64(len(p.Points))/3, 1), 3.2)
	for _, pt := range p.Points {
		class, r := "plot-dot-open", small
		switch {
		case slices.Contains(p.Even, pt.N):
			class, r = "plot-dot", max(small*1.6, 2)
		case small < 2.2:
			class = "plot-dot"
		}
		c.add(`<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, pct(p.at(pt.N)), num(powerY(pt.Power)), num(r))
	}
}

// wanted draws the dashed line at the power wanted. Its name stands above the
// line at the left, where the curve is usually still below it.
func (p PowerPlot) wanted(c *canvas) {
	y := powerY(p.Wanted)
	c.add(`<line class="plot-dash" x1="0" x2="100%%" y1="%s" y2="%s"/>`, num(y), num(y))
	name := "wanted: " + decimal(p.Wanted, 2)
	_, high := p.span(0, 0.4)
	if high < p.Wanted {
		c.text("plot-strong", "start", 0, 6, y-6, name)
		return
	}
	c.text("plot-strong", "end", 1, -6, y+18, name)
}

// span returns the least and the largest power among the points whose place
// is between a and b, or 1 and 0 when there are none.
func (p PowerPlot) span(a, b float64) (low, high float64) {
	low = 1
	for _, pt := range p.Points {
		if x := p.at(pt.N); x >= a && x <= b {
			low, high = min(low, pt.Power), max(high, pt.Power)
		}
	}
	return low, high
}

// planned rings the plan and leads to its label, which stands below the curve,
// or above it where the curve runs too low to leave room.
func (p PowerPlot) planned(c *canvas, v variant) {
	i := slices.IndexFunc(p.Points, func(pt PowerPoint) bool { return pt.N == p.Planned })
	if i < 0 {
		return
	}
	x, y := p.at(p.Planned), powerY(p.Points[i].Power)
	label := p.PlannedLabel
	if label == "" {
		label = fmt.Sprintf("planned: %d, power %s", p.Planned, decimal(p.Points[i].Power, 2))
	}
	reach := 190 / v.least // width of the label, as a share of the plot
	anchor, side, from, to := "start", 1.0, x, x+reach
	if to > 1 && x > 0.5 {
		anchor, side, from, to = "end", -1, x-reach, x
	}
	low, high := p.span(from-0.02, to+0.02)
	first := max(powerY(low)+34, y+46)
	leaderFrom, leaderTo := y+12.0, first-10
	if first+26 > powerY(0) {
		first = min(powerY(high)-40, y-52)
		leaderFrom, leaderTo = y-12, first+26
	}
	c.ring(x, y, 12)
	c.leader(x, side*5, leaderFrom, side*24, leaderTo)
	c.text("plot-strong", anchor, x, side*28, first, label)
	if v == wide && p.PlannedNote != "" {
		c.text("plot-note", anchor, x, side*28, first+20, p.PlannedNote)
	}
}

// ticks labels even sizes where there are any, and always the plan.
func (p PowerPlot) ticks(c *canvas, v variant) {
	first, last := p.Points[0].N, p.Points[len(p.Points)-1].N
	unit := 1
	if len(p.Even) > 1 {
		unit = max(p.Even[1]-p.Even[0], 1)
	}
	stepPx := v.least / float64(max(last-first, 1))
	var must []int
	if p.Planned > 0 {
		must = []int{p.Planned}
	}
	ticks := countTicks(first, last, unit, stepPx*0.8, must)
	for n := first; n <= last; n++ {
		if !ticks[n] {
			continue
		}
		class := "plot-tick"
		if n == p.Planned {
			class = "plot-tick plot-tick-strong"
		}
		c.text(class, "middle", p.at(n), 0, powerY(0)+20, fmt.Sprint(n))
	}
}
