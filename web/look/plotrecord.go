package look

import (
	"fmt"
	"html/template"
	"math"
)

// RecordPlot is the course of a series of one judge, set after set, between
// Wald's lines, intercept + slope · n, over the number n of sets.
type RecordPlot struct {
	Right               []bool // by set, in the order answered
	Slope, Lower, Upper float64

	Above, Between, Below string // what the three regions say of the judge
	End                   string // where the course stands, as "qualified"

	Title          string // names the picture for a screen reader
	XLabel, YLabel string // what is counted across, and up
}

// The most sets that are drawn one by one, and those whose dots are large.
const (
	mostRecordDots  = 300
	largeRecordDots = 40
)

// Record draws p. It panics unless the slope is between 0 and 1 and the lower
// line lies below the upper one.
func Record(p RecordPlot) template.HTML {
	if !(p.Slope > 0 && p.Slope < 1 && p.Lower < p.Upper) {
		panic(fmt.Sprintf("look: lines %g and %g of slope %g", p.Lower, p.Upper, p.Slope))
	}
	axis := "across: " + p.XLabel + "; up: " + p.YLabel
	return figure("plot-lines plot-record", p.Title, axis, false, p.draw(wide), p.draw(narrow))
}

// sets is how many sets the axis has: room for the lines and what comes next.
func (p RecordPlot) sets() int {
	first := math.Max(p.Upper/(1-p.Slope), -p.Lower/p.Slope)
	return max(int(math.Ceil(1.25*first)), len(p.Right)+max(4, len(p.Right)/6))
}

// frame is the plot of the lines alone.
func (p RecordPlot) frame() LinesPlot {
	return LinesPlot{Max: p.sets(), Slope: p.Slope, Lower: p.Lower, Upper: p.Upper, Above: p.Above, Between: p.Between, Below: p.Below}
}

func (p RecordPlot) correct() (n int) {
	for _, right := range p.Right {
		if right {
			n++
		}
	}
	return n
}

func (p RecordPlot) sentence() string {
	s := fmt.Sprintf("On or above the upper line: %s; on or below the lower one: %s; between them: %s.", p.Above, p.Below, p.Between)
	if len(p.Right) == 0 {
		return s + " No set yet."
	}
	return s + fmt.Sprintf(" After %d sets %d are right: %s.", len(p.Right), p.correct(), p.End)
}

func (p RecordPlot) draw(v variant) string {
	f := p.frame()
	if n := len(p.Right); n > 0 { // the course's name stands at its end
		f.Looks = []LookPoint{{n, p.correct()}}
	}
	highest := max(f.upper(float64(f.Max)), float64(p.correct()))
	step := max(1, niceStep(highest, 6))
	top := math.Ceil(highest/step-1e-9) * step
	const head = 24.0
	y := func(x float64) float64 { return head + linesHeight*(1-x/top) }
	floor, last := y(0), float64(f.Max)

	var c canvas
	c.axisY(multiples(0, top, step), 0, y)
	line := func(from float64, of func(float64) float64) {
		c.add(`<line class="plot-dash" x1="%s" x2="100%%" y1="%s" y2="%s"/>`, pct(f.at(from)), num(y(of(from))), num(y(of(last))))
	}
	line(max(0, -p.Upper/p.Slope), f.upper)
	if start := -p.Lower / p.Slope; start < last {
		line(max(start, 0), f.lower)
	}
	c.add(`<line class="plot-axis" x1="0" x2="100%%" y1="%s" y2="%s"/>`, num(floor), num(floor))
	f.regions(&c, v, y)
	p.course(&c, v, f, y)

	ticks := countTicks(0, f.Max, 1, v.least/last, nil)
	for n := range f.Max + 1 {
		if ticks[n] {
			c.text("plot-tick", "middle", f.at(float64(n)), 0, floor+20, fmt.Sprint(n))
		}
	}
	return c.svg(v, floor+32, p.Title, p.sentence())
}

// course joins the sets: a full dot for one that was right, an open one for one
// that was not. The last is ringed and named.
func (p RecordPlot) course(c *canvas, v variant, f LinesPlot, y func(float64) float64) {
	type point struct {
		n, correct int
		right      bool
	}
	var points []point
	correct, every := 0, 1+len(p.Right)/mostRecordDots
	for i, right := range p.Right {
		if right {
			correct++
		}
		if n := i + 1; n%every == 0 || n == len(p.Right) {
			points = append(points, point{n, correct, right})
		}
	}
	before := point{}
	for _, at := range points {
		c.add(`<line class="plot-course" x1="%s" x2="%s" y1="%s" y2="%s"/>`,
			pct(f.at(float64(before.n))), pct(f.at(float64(at.n))), num(y(float64(before.correct))), num(y(float64(at.correct))))
		before = at
	}
	r := 4.0
	if len(p.Right) > largeRecordDots {
		r = 2.2
	}
	if every == 1 {
		for _, at := range points {
			class := "plot-dot-open"
			if at.right {
				class = "plot-dot"
			}
			c.add(`<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, pct(f.at(float64(at.n))), num(y(float64(at.correct))), num(r))
		}
	}
	if len(points) == 0 {
		return
	}
	x := f.at(float64(before.n))
	c.ring(x, y(float64(before.correct)), 12)
	// The course never falls, so none of it lies to the right of its end, nor above.
	words, height := fmt.Sprintf("%d of %d", before.correct, before.n), y(float64(before.correct))
	if (1-x)*v.least >= labelPx(words)+recordNameGap {
		c.text("plot-strong", "start", x, recordNameGap, height+5, words)
		return
	}
	c.text("plot-strong", "end", x, 12, max(12, height-recordNameGap), words)
}

// recordNameGap keeps the name of a course's end off its ring, in pixels.
const recordNameGap = 18.0

// DriftPlot is a chart of drift: what speaks for a drift after each test, and the
// limit at which it is a signal. After a signal the sum starts at 0 again.
type DriftPlot struct {
	Sums   []float64 // from 0
	Signal []bool    // by test
	First  int       // number of the first test, from 1
	Limit  float64

	Title          string // names the picture for a screen reader
	XLabel, YLabel string // what is counted across, and what is drawn up
}

// driftHeight is the height of the plot area in pixels.
const driftHeight = 160.0

// Drift draws p. It panics unless the limit is above 0 and there is a signal or
// none for each sum.
func Drift(p DriftPlot) template.HTML {
	if !(p.Limit > 0) || len(p.Sums) != len(p.Signal) {
		panic(fmt.Sprintf("look: %d sums and %d signals at a limit of %g", len(p.Sums), len(p.Signal), p.Limit))
	}
	axis := "across: " + p.XLabel + "; up: " + p.YLabel
	return figure("plot-lines plot-drift", p.Title, axis, false, p.draw(wide), p.draw(narrow))
}

func (p DriftPlot) signals() (at []int) {
	for i, s := range p.Signal {
		if s {
			at = append(at, p.First+i)
		}
	}
	return at
}

func (p DriftPlot) sentence() string {
	s := fmt.Sprintf("%d tests; the limit is %.2f.", len(p.Sums), p.Limit)
	if n := len(p.Sums); n > 0 {
		s += fmt.Sprintf(" The last sum is %.2f.", p.Sums[n-1])
	}
	at := p.signals()
	if len(at) == 0 {
		return s + " No signal."
	}
	s += " Signal at test"
	for i, n := range at {
		if i > 0 {
			s += ","
		}
		s += fmt.Sprintf(" %d", n)
	}
	return s + "."
}

func (p DriftPlot) draw(v variant) string {
	highest := p.Limit
	for _, s := range p.Sums {
		highest = max(highest, s)
	}
	step := niceStep(highest*1.1, 4)
	top := math.Ceil(highest*1.1/step-1e-9) * step
	const head = 24.0
	y := func(x float64) float64 { return head + driftHeight*(1-x/top) }
	floor, last := y(0), float64(max(2, len(p.Sums))-1)
	at := func(i int) float64 { return 0.02 + 0.96*float64(i)/last }

	var c canvas
	c.axisY(multiples(0, top, step), decimalsOf(step), y)
	c.add(`<line class="plot-dash" x1="0" x2="100%%" y1="%s" y2="%s"/>`, num(y(p.Limit)), num(y(p.Limit)))
	c.text("plot-strong", "start", 0, 8, y(p.Limit)-7, "limit")
	from := 0.0
	for i, s := range p.Sums {
		if i > 0 {
			c.add(`<line class="plot-course" x1="%s" x2="%s" y1="%s" y2="%s"/>`, pct(at(i-1)), pct(at(i)), num(y(from)), num(y(s)))
		}
		if from = s; p.Signal[i] {
			from = 0
		}
	}
	r := 4.0
	if len(p.Sums) > largeRecordDots {
		r = 2.2
	}
	for i, s := range p.Sums {
		c.add(`<circle class="plot-dot" cx="%s" cy="%s" r="%s"/>`, pct(at(i)), num(y(s)), num(r))
	}
	p.nameSignals(&c, at, y)
	ticks := countTicks(p.First, p.First+len(p.Sums)-1, 1, v.least*0.96/last, nil)
	for i := range p.Sums {
		if n := p.First + i; ticks[n] {
			c.text("plot-tick", "middle", at(i), 0, floor+20, fmt.Sprint(n))
		}
	}
	return c.svg(v, floor+32, p.Title, p.sentence())
}

// nameSignals rings every signal, and names those whose names don't touch: the same
// ones at every width, by the narrow one.
func (p DriftPlot) nameSignals(c *canvas, at func(int) float64, y func(float64) float64) {
	named := math.Inf(-1)
	for i, s := range p.Signal {
		if !s {
			continue
		}
		c.ring(at(i), y(p.Sums[i]), 11)
		x := at(i) * narrow.least
		if x-named < labelPx("signal")+8 {
			continue
		}
		named = x
		anchor := "middle"
		switch {
		case at(i) < 0.12:
			anchor = "start"
		case at(i) > 0.88:
			anchor = "end"
		}
		c.text("plot-strong", anchor, at(i), 0, y(p.Sums[i])+30, "signal")
	}
}
