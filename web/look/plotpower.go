package look

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
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

	// First is the smallest size that reaches what is wanted, and Stable the
	// smallest from which every larger one does as well; 0 = none. Each stands as
	// a line from the axis up to the power wanted, with its name.
	First, Stable int

	Title        string // names the picture for a screen reader
	Desc         string // says in a sentence what it shows
	XLabel       string // "answers, n (large dots: every serving order equally often)"
	PlannedLabel string // "planned: 24, power 0.79"; empty = that; a narrow drawing breaks it at the comma
	PlannedNote  string // second line at the plan, wide columns only; may be empty
}

const powerHeight = 220.0 // pixels from power 0 to power 1

// PowerCurve draws p. It panics when p has no points.
func PowerCurve(p PowerPlot) template.HTML {
	if len(p.Points) == 0 {
		panic("look: power curve without points")
	}
	return figure("plot-power", p.Title, p.XLabel, false, p.draw(wide), p.draw(narrow))
}

// at returns the place of n answers, 0 to 1 of the width.
func (p PowerPlot) at(n int) float64 {
	first, last := p.Points[0].N, p.Points[len(p.Points)-1].N
	if first == last {
		return 0.5
	}
	return float64(n-first) / float64(last-first)
}

// powerY maps a power to pixels below the head, which is room for the plan's
// label.
func powerY(head, power float64) float64 { return 14 + head + powerHeight*(1-power) }

func (p PowerPlot) draw(v variant) string {
	label := p.label(v)
	y := func(power float64) float64 { return powerY(label.head, power) }
	var c canvas
	c.axisY([]float64{0, 0.2, 0.4, 0.6, 0.8, 1}, 1, y)
	for i, to := range p.Points {
		if i == 0 {
			continue
		}
		from := p.Points[i-1]
		c.add(`<line class="plot-line" x1="%s" y1="%s" x2="%s" y2="%s"/>`,
			pct(p.at(from.N)), num(y(from.Power)), pct(p.at(to.N)), num(y(to.Power)))
	}
	p.lines(&c, v, y)
	p.dots(&c, v, y)
	// Names last, so that nothing is drawn over them.
	if p.Wanted > 0 {
		p.wanted(&c, v, label, y)
	}
	p.sizes(&c, v, y)
	p.planned(&c, v, label, y)
	p.ticks(&c, v, y(0)+20)
	return c.svg(v, y(0)+32, p.Title, p.Desc)
}

// dots draws every size, the even ones large.
func (p PowerPlot) dots(c *canvas, v variant, y func(float64) float64) {
	small := min(max(v.least/float64(len(p.Points))/3, 1), 3.2)
	for _, pt := range p.Points {
		class, r := "plot-dot-open", small
		switch {
		case slices.Contains(p.Even, pt.N):
			class, r = "plot-dot", max(small*1.6, 2)
		case small < 2.2:
			class = "plot-dot"
		}
		c.add(`<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, pct(p.at(pt.N)), num(y(pt.Power)), num(r))
	}
}

// sizeMark is a size with its name, low in the plot.
type sizeMark struct {
	n     int
	power float64 // height of the name
	words string
}

// sizeMarks are the sizes to be named, and where: each on a height of its own,
// so that two near each other do not touch.
func (p PowerPlot) sizeMarks(v variant) []sizeMark {
	first, stable := "%d: smallest that does", "%d: every panel from here on"
	if v == narrow {
		first, stable = "first: %d", "stable: %d"
	}
	var marks []sizeMark
	if p.First > 0 && p.First == p.Stable {
		if stable = "%d: this and every larger one"; v == narrow {
			stable = "enough: %d"
		}
	} else if p.First > 0 {
		marks = append(marks, sizeMark{p.First, 0.16, fmt.Sprintf(first, p.First)})
	}
	if p.Stable > 0 {
		marks = append(marks, sizeMark{p.Stable, 0.05, fmt.Sprintf(stable, p.Stable)})
	}
	return marks
}

// lines draws the marks of sizes, and the dashed line at the power wanted.
func (p PowerPlot) lines(c *canvas, v variant, y func(float64) float64) {
	if at := num(y(p.Wanted)); p.Wanted > 0 {
		c.add(`<line class="plot-dash" x1="0" x2="100%%" y1="%s" y2="%s"/>`, at, at)
	}
	first, last := p.Points[0].N, p.Points[len(p.Points)-1].N
	for _, m := range p.sizeMarks(v) {
		if m.n < first || m.n > last {
			continue
		}
		at := pct(p.at(m.n))
		from := 0.0
		for _, gap := range p.crossed(v, m) {
			c.add(`<line class="plot-size" x1="%s" x2="%s" y1="%s" y2="%s"/>`, at, at, num(y(from)), num(y(gap)+nameBelow))
			from = gap + nameAbove/powerHeight
		}
		c.add(`<line class="plot-size" x1="%s" x2="%s" y1="%s" y2="%s"/>`, at, at, num(y(from)), num(y(p.Wanted)))
	}
}

// A name reaches so many pixels above and below the line that it stands on.
const nameAbove, nameBelow = 18.0, 7.0

// crossed gives the heights, from the axis up, at which another size's name stands
// in the way of a size's line.
func (p PowerPlot) crossed(v variant, of sizeMark) []float64 {
	var gaps []float64
	for _, m := range p.sizeMarks(v) {
		if from, to := p.reach(v, m); m.n != of.n && from <= p.at(of.n) && p.at(of.n) <= to {
			gaps = append(gaps, m.power)
		}
	}
	slices.Sort(gaps)
	return gaps
}

// reach is from where to where a size's name goes, as shares of the width.
func (p PowerPlot) reach(v variant, m sizeMark) (from, to float64) {
	width := (labelPx(m.words) + 14) / v.least
	if m.n > p.Points[len(p.Points)-1].N {
		return 1 - width, 1
	}
	at := p.at(m.n)
	if at+width > 1+31/v.least {
		return at - width, at
	}
	return at, at + width
}

// sizes names the marks; one beyond the last point is named at the right edge.
func (p PowerPlot) sizes(c *canvas, v variant, y func(float64) float64) {
	first, last := p.Points[0].N, p.Points[len(p.Points)-1].N
	for _, m := range p.sizeMarks(v) {
		switch {
		case m.n < first:
			continue
		case m.n > last:
			c.text("plot-strong", "end", 1, -2, y(m.power), m.words+" →")
			continue
		}
		at := p.at(m.n)
		anchor, dx := "start", 7.0
		if from, _ := p.reach(v, m); from < at {
			anchor, dx = "end", -7
		}
		c.text("plot-strong", anchor, at, dx, y(m.power), m.words)
	}
}

// wanted names the line at the power wanted where neither the curve nor another
// line goes: above it at the left, else at the right, else along it.
func (p PowerPlot) wanted(c *canvas, v variant, plan planLabel, y func(float64) float64) {
	at := y(p.Wanted)
	name := "wanted: " + decimal(p.Wanted, 2)
	width := (labelPx(name) + 6) / v.least
	places := []float64{0, 1 - width}
	for x := 0.05; x < 1-width; x += 0.05 {
		places = append(places, x)
	}
	// If there is no place that the leader leaves free, it goes behind the name.
	for _, try := range []struct{ below, leader bool }{{false, true}, {true, true}, {false, false}, {true, false}} {
		dy := -6.0
		if try.below {
			dy = 20
		}
		for _, x := range places {
			switch {
			case try.leader && plan.index >= 0 && x-6/v.least <= plan.at && plan.at <= x+width+6/v.least:
			case !p.clear(v, x, x+width, try.below):
			case x == 1-width:
				c.text("plot-strong", "end", 1, -6, at+dy, name)
				return
			default:
				c.text("plot-strong", "start", x, 6, at+dy, name)
				return
			}
		}
	}
	c.text("plot-strong", "end", 1, -6, at+20, name)
}

// clear reports whether a name just above or below the line at the power wanted,
// from a to b of the width, is crossed by neither curve nor sizes.
func (p PowerPlot) clear(v variant, a, b float64, below bool) bool {
	const room = 26 / powerHeight // a name's height, as a power
	low, high := p.Wanted, p.Wanted+room
	if below {
		low, high = p.Wanted-room, p.Wanted
	}
	if least, largest := p.span(a-0.05, b+0.05); least < high && largest > low {
		return false
	}
	for _, m := range p.sizeMarks(v) {
		if at := p.at(m.n); below && a-0.02 <= at && at <= b+0.02 {
			return false
		}
	}
	return true
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

// planLabel is where the plan's label goes.
type planLabel struct {
	index int     // of the plan among the points, -1 for none
	at    float64 // its place, 0 to 1
	words string
	note  string
	head  float64 // room above the plot; 0 = the label stands below the curve
}

// label finds room for the plan's label: below the curve in a wide drawing
// where there is some, else above the plot.
func (p PowerPlot) label(v variant) planLabel {
	l := planLabel{index: slices.IndexFunc(p.Points, func(pt PowerPoint) bool { return pt.N == p.Planned })}
	if l.index < 0 {
		return l
	}
	l.at, l.words = p.at(p.Planned), p.PlannedLabel
	if l.words == "" {
		l.words = fmt.Sprintf("planned: %d, power %s", p.Planned, decimal(p.Points[l.index].Power, 2))
	}
	if l.note = p.PlannedNote; v == narrow {
		l.words, l.note, _ = strings.Cut(l.words, ", ") // on two lines
	}
	if _, below := p.below(l, v); v == narrow || !below {
		l.head = 30
		if l.note != "" {
			l.head = 48
		}
	}
	return l
}

// below gives the height of a label below the curve, and whether it fits.
func (p PowerPlot) below(l planLabel, v variant) (first float64, ok bool) {
	reach := 230 / v.least // width of the label, as a share of the plot
	from, to := l.at, l.at+reach
	if to > 1 && l.at > 0.5 {
		from, to = l.at-reach, l.at
	}
	low, _ := p.span(from-0.02, to+0.02)
	first = max(powerY(0, low)+34, powerY(0, p.Points[l.index].Power)+46)
	if line := powerY(0, p.Wanted); p.Wanted > 0 && first-16 < line && line < first+28 {
		first = line + 24 // clear of the dashed line
	}
	floor := 0.0 // of the room, as a power
	for _, m := range p.sizeMarks(v) {
		floor = max(floor, m.power+0.08)
	}
	return first, first+26 <= powerY(0, floor)
}

// planned rings the plan and leads to its label.
func (p PowerPlot) planned(c *canvas, v variant, l planLabel, y func(float64) float64) {
	if l.index < 0 {
		return
	}
	ringY := y(p.Points[l.index].Power)
	c.ring(l.at, ringY, 12)
	if l.head == 0 {
		first, _ := p.below(l, v)
		anchor, side := "start", 1.0
		if l.at+230/v.least > 1 && l.at > 0.5 {
			anchor, side = "end", -1
		}
		c.leader(l.at, side*5, ringY+12, side*24, first-10)
		c.text("plot-strong", anchor, l.at, side*28, first, l.words)
		if l.note != "" {
			c.text("plot-note", anchor, l.at, side*28, first+20, l.note)
		}
		return
	}
	anchor, dx := "middle", 0.0
	switch half := labelPx(l.words) / 2 / v.least; {
	case l.at < half:
		anchor, dx = "start", -6
	case l.at > 1-half:
		anchor, dx = "end", 6
	}
	c.leader(l.at, 0, ringY-12, 0, l.head-8)
	c.text("plot-strong", anchor, l.at, dx, 14, l.words)
	if l.note != "" {
		c.text("plot-note", anchor, l.at, dx, 34, l.note)
	}
}

// ticks labels even sizes where there are any, and always the plan.
func (p PowerPlot) ticks(c *canvas, v variant, y float64) {
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
		c.text(class, "middle", p.at(n), 0, y, fmt.Sprint(n))
	}
}
