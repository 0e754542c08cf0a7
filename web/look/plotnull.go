package look

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"unicode/utf8"
)

// NullPlot is the distribution of the count if every answer were a guess, and
// where this session fell in it.
type NullPlot struct {
	N          int       // answers counted, 1 or more
	Chance     float64   // probability that one guess is right, in (0, 1)
	PMF        []float64 // PMF[x] is the probability of x right; N+1 of them
	MinCorrect int       // smallest count that shows a difference; 0 = none reaches the level
	TwoSided   bool      // N - MinCorrect and fewer show one too
	Observed   int       // this session's count; -1 = none
	P          float64   // p-value of Observed; negative = not told
	PWords     string    // P as the page around writes it; empty = made from P

	Alike              bool // counts from AlikeFrom to AlikeTo show similarity
	AlikeFrom, AlikeTo int

	Title         string // names the picture for a screen reader
	Desc          string // says in a sentence what it shows; empty = made from the numbers
	XLabel        string // "odd cup found, of 24"
	MinimumNote   string // second line at the minimum, wide columns only; may be empty
	ObservedLabel string // "this session: 13"; empty = that
}

const (
	nullHeight = 186.0 // pixels from the axis to the top of the tallest scale
	nullLong   = 150   // more answers than this scroll in a narrow column
)

// NullDistribution draws p. It panics unless p.PMF has p.N+1 values.
func NullDistribution(p NullPlot) template.HTML {
	if p.N < 1 || len(p.PMF) != p.N+1 {
		panic(fmt.Sprintf("look: null distribution of %d answers with %d probabilities", p.N, len(p.PMF)))
	}
	if p.ObservedLabel == "" {
		p.ObservedLabel = fmt.Sprintf("this session: %d", p.Observed)
	}
	if p.PWords == "" && p.P >= 0 {
		p.PWords = pValue(p.P)
	}
	if p.Desc == "" {
		p.Desc = p.sentence()
	}
	if p.N > nullLong {
		return figure("plot-null", p.Title, p.XLabel, true, p.draw(wide))
	}
	return figure("plot-null", p.Title, p.XLabel, false, p.draw(wide), p.draw(narrow))
}

// sentence describes the plot in words, from its numbers.
func (p NullPlot) sentence() string {
	s := fmt.Sprintf("Probability of each count from 0 to %d if every answer were a guess, right with probability %s; guessing alone gives %s.",
		p.N, decimal(p.Chance, 2), decimal(p.Chance*float64(p.N), 1))
	if p.MinCorrect > 0 {
		s += fmt.Sprintf(" Minimum correct: %d", p.MinCorrect)
		if p.TwoSided {
			s += fmt.Sprintf(", or %d and fewer", p.N-p.MinCorrect)
		}
		s += "."
	}
	if p.Alike {
		s += fmt.Sprintf(" Counts from %d to %d show similarity.", p.AlikeFrom, p.AlikeTo)
	}
	if p.Observed >= 0 {
		s += fmt.Sprintf(" This session: %d", p.Observed)
		if p.P >= 0 {
			s += ", " + p.PWords
		}
		s += "."
	}
	return s
}

// at returns the place of count x, 0 to 1 of the width. Half counts are the
// places between bars.
func (p NullPlot) at(x float64) float64 { return (x + 0.5) / float64(p.N+1) }

// tallest returns the largest probability of the counts from a to b.
func (p NullPlot) tallest(a, b int) float64 {
	return slices.Max(p.PMF[max(a, 0) : min(b, p.N)+1])
}

// draw tries the labels near their lines first; where one would stand in the way
// of another, or of its line, each has a row of its own above the plot.
func (p NullPlot) draw(v variant) string {
	if svg, clear := p.drawn(v, false); clear {
		return svg
	}
	svg, _ := p.drawn(v, true)
	return svg
}

func (p NullPlot) drawn(v variant, stacked bool) (svg string, clear bool) {
	step := niceStep(slices.Max(p.PMF), 4)
	top := math.Ceil(slices.Max(p.PMF)/step-1e-9) * step

	// Labels stand beside their line where the bars are low; where they are
	// not, room is made for them above the plot.
	head := 14.0
	minAt, obsAt := p.at(float64(p.MinCorrect)-0.5), p.at(float64(p.Observed))
	hasMin, hasObs := p.MinCorrect > 0 && p.MinCorrect <= p.N, p.Observed >= 0 && p.Observed <= p.N
	lowAt := p.at(float64(p.N-p.MinCorrect) + 0.5)
	room := func(x float64) bool { return v == wide && (1-x)*v.least > 160 } // for the longer label, right of x
	minBeside := hasMin && room(minAt) && (!p.TwoSided || lowAt*v.least > 110)
	if p.Alike && p.AlikeTo >= p.MinCorrect {
		minBeside = false // the other line would stand in the words
	}
	if hasMin && !minBeside {
		head += 24
	}
	alikeAt := head + 12 // a row of its own above the minimum's
	if hasMin && !minBeside {
		alikeAt -= 24
	}
	if p.Alike {
		head += 24
	}
	obsBeside := hasObs && room(obsAt) && p.tallest(p.Observed, p.N) < 0.36*top
	if rows := p.obsRows(); hasObs && !obsBeside {
		head += rows
		alikeAt += rows
	}

	var rows []rowLabel
	if stacked {
		rows = p.rows(v)
		minBeside, obsBeside, head = false, false, 14
		for _, l := range rows {
			head += l.height()
		}
	}

	var c scene
	y := func(prob float64) float64 { return head + nullHeight*(1-prob/top) }
	floor := y(0)
	c.axisY(multiples(0, top, step), decimalsOf(step), y)
	p.bars(&c.canvas, y)
	c.add(`<line class="plot-axis" x1="0" x2="100%%" y1="%s" y2="%s"/>`, num(floor), num(floor))

	if stacked {
		p.stack(&c, v, rows, y)
	}
	if p.Alike && !stacked { // first, so that words in its way stand over the line
		p.alike(&c, v, alikeAt, floor)
	}
	if hasObs && !stacked {
		p.observed(&c, obsAt, obsBeside, y)
	}
	if hasMin && !stacked {
		p.minimum(&c, v, minAt, lowAt, minBeside, head, floor)
	}
	var must []int
	if p.Alike && (!hasMin || math.Abs(float64(p.AlikeTo-p.MinCorrect))*v.least/float64(p.N+1) >= 26) {
		must = append(must, p.AlikeTo)
		if p.AlikeFrom > 0 {
			must = append(must, p.AlikeFrom)
		}
	}
	if hasMin {
		must = append(must, p.MinCorrect)
		if low := p.N - p.MinCorrect; p.TwoSided && low != p.Observed {
			must = append(must, low)
		}
	}
	if hasObs {
		must = append(must, p.Observed)
	}
	if hasObs { // this session's number has the ring and goes first
		must = slices.DeleteFunc(must, func(x int) bool {
			return x != p.Observed && math.Abs(p.at(float64(x))-obsAt)*v.least < 26
		})
	}
	p.ticks(&c.canvas, v, must, floor+18)
	return c.svg(v, floor+32, p.Title, p.Desc), c.clear(v)
}

// rowLabel is a label in a row of its own.
type rowLabel struct {
	LineLabel
	words, note string
	observed    bool
	lines       []float64 // parts of the width
}

func (l rowLabel) height() float64 {
	if l.note != "" {
		return 44
	}
	return 24
}

// rows are the labels that are stacked, this session's first.
func (p NullPlot) rows(v variant) []rowLabel {
	var all []rowLabel
	add := func(words, note string, after, observed bool, lines ...float64) {
		l := rowLabel{words: words, note: note, observed: observed, lines: lines}
		l.At, l.Width, l.After = lines[0]*v.least, max(labelPx(words), labelPx(note)), after
		if len(lines) > 1 {
			l.Also, l.Two = lines[1]*v.least, true
		}
		all = append(all, l)
	}
	hasMin := p.MinCorrect > 0 && p.MinCorrect <= p.N
	if p.Observed >= 0 && p.Observed <= p.N {
		note := ""
		if p.P >= 0 {
			note = p.PWords
		}
		// Away from the lines.
		after := !hasMin || p.Observed >= p.MinCorrect
		if !hasMin && p.Alike {
			after = p.Observed > p.AlikeTo
		}
		add(p.ObservedLabel, note, after, true, p.at(float64(p.Observed)))
	}
	if p.Alike {
		lines := []float64{p.at(float64(p.AlikeTo) + 0.5)}
		if p.AlikeFrom > 0 {
			lines = append(lines, p.at(float64(p.AlikeFrom)-0.5))
		}
		add(p.alikeName(v), "", p.Observed >= 0 && p.Observed <= p.AlikeTo, false, lines...)
	}
	if hasMin {
		name, lowName := p.minimumNames(v)
		add(name, "", p.Observed < p.MinCorrect, false, p.at(float64(p.MinCorrect)-0.5))
		if p.TwoSided {
			add(lowName, "", p.Observed >= 0 && p.Observed <= p.N-p.MinCorrect, false, p.at(float64(p.N-p.MinCorrect)+0.5))
		}
	}
	return all
}

// stack draws labels in rows above the plot, and their lines.
func (p NullPlot) stack(c *scene, v variant, rows []rowLabel, y func(float64) float64) {
	const air = 4
	var labels []LineLabel
	for _, l := range rows {
		l.Width += air
		labels = append(labels, l.LineLabel)
	}
	places := PlaceLabels(labels, -44, v.least+24, wider...)
	base := 14.0
	for row := range rows {
		for i, place := range places {
			if place.Row != row {
				continue
			}
			l, x := rows[i], rows[i].lines[0]
			anchor, dx := "start", air-place.Back*(l.Width+air)
			switch place.Back {
			case 1:
				anchor, dx = "end", -air
			case 0.5:
				anchor, dx = "middle", 0
			}
			c.text("plot-strong", anchor, x, dx, base, l.words)
			if l.note != "" {
				c.text("plot-note", anchor, x, dx, base+20, l.note)
			}
			top := base + l.height() - 18
			if l.observed {
				c.ring(x, y(0)+13.5, 14)
				c.leader(x, 0, min(y(p.PMF[p.Observed])-4, y(0)-6), 0, top)
			}
			for _, x := range l.lines {
				if !l.observed && x < 1 { // beyond the last count there is nothing to part
					c.dash(x, top, y(0))
				}
			}
			base += l.height()
		}
	}
}

// obsRows is the height of this session's label above the plot.
func (p NullPlot) obsRows() float64 {
	if p.P < 0 {
		return 30
	}
	return 50
}

// bars draws one bar a count, 56 % of the step wide; where that would be a
// hair, they close up so that the shape can still be read.
func (p NullPlot) bars(c *canvas, y func(float64) float64) {
	share, class := 0.56, ""
	switch {
	case p.N > 150:
		share, class = 1, " plot-bar-fine"
	case p.N > 60:
		share, class = 0.8, " plot-bar-fine"
	}
	width := share / float64(p.N+1)
	for x, prob := range p.PMF {
		height := y(0) - y(prob)
		if height < 0.05 {
			continue
		}
		kind := "plot-bar"
		if p.shows(x) {
			kind = "plot-bar plot-bar-data"
		}
		c.add(`<rect class="%s%s" x="%s" y="%s" width="%s" height="%s"/>`,
			kind, class, pct(p.at(float64(x))-width/2), num(y(prob)), pct(width), num(height))
	}
}

// shows reports whether a count shows a difference; where none is looked for,
// whether it shows similarity.
func (p NullPlot) shows(x int) bool {
	if p.MinCorrect == 0 && p.Alike {
		return x >= p.AlikeFrom && x <= p.AlikeTo
	}
	return p.MinCorrect > 0 && (x >= p.MinCorrect || p.TwoSided && x <= p.N-p.MinCorrect)
}

// minimumNames name the line of the minimum, and that of its mirror.
func (p NullPlot) minimumNames(v variant) (name, lowName string) {
	name, lowName = fmt.Sprintf("minimum correct %d", p.MinCorrect), fmt.Sprintf("or %d and fewer", p.N-p.MinCorrect)
	if p.MinCorrect == p.N {
		lowName = "or 0"
	}
	switch {
	case v == narrow && p.TwoSided && p.MinCorrect < p.N:
		name, lowName = fmt.Sprintf("%d to %d", p.MinCorrect, p.N), fmt.Sprintf("0 to %d", p.N-p.MinCorrect)
	case v == narrow:
		name = fmt.Sprintf("minimum %d", p.MinCorrect)
	}
	return name, lowName
}

// minimum draws the dashed line between minimum - 1 and minimum, and its name;
// in a two-sided test its mirror at low, too.
func (p NullPlot) minimum(c *scene, v variant, x, low float64, beside bool, head, floor float64) {
	name, lowName := p.minimumNames(v)
	lineTop := head - 6
	c.dash(x, lineTop, floor)
	if p.TwoSided {
		c.dash(low, lineTop, floor)
	}
	if beside {
		c.text("plot-strong", "start", x, 8, lineTop+22, name)
		if v == wide && p.MinimumNote != "" && x < 0.56 {
			c.text("plot-note plot-roomy", "start", x, 8, lineTop+42, p.MinimumNote)
		}
		if p.TwoSided {
			c.text("plot-strong", "end", low, -8, lineTop+22, lowName)
		}
		return
	}
	// Each name stands on the side away from this session's leader.
	obs := p.at(float64(p.Observed))
	if !p.TwoSided {
		c.text("plot-strong", beforeOrAfter(v, x, name, p.Observed >= 0 && obs > x), x, 0, head-12, name)
		return
	}
	highBefore, lowBefore := p.Observed >= 0 && obs > x, p.Observed < 0 || obs > low
	if (x-low)*v.least < labelPx(lowName) || highBefore && (x-low)*v.least < labelPx(name) {
		highBefore, lowBefore = false, true // inwards they would touch
	}
	c.text("plot-strong", beforeOrAfter(v, x, name, highBefore), x, 0, head-12, name)
	c.text("plot-strong", beforeOrAfter(v, low, lowName, lowBefore), low, 0, head-12, lowName)
}

// alikeName names the line of similarity.
func (p NullPlot) alikeName(v variant) string {
	name := fmt.Sprintf("maximum %d for similarity", p.AlikeTo)
	if v == narrow {
		name = fmt.Sprintf("similar to %d", p.AlikeTo)
	}
	if p.AlikeFrom > 0 {
		name = fmt.Sprintf("%d to %d for similarity", p.AlikeFrom, p.AlikeTo)
		if v == narrow {
			name = fmt.Sprintf("similar %d to %d", p.AlikeFrom, p.AlikeTo)
		}
	}
	return name
}

// alike draws the dashed line between the largest count that shows similarity
// and the next, and its name at the height row; in a two-sided test the line at
// the smallest one, too.
func (p NullPlot) alike(c *scene, v variant, row, floor float64) {
	name := p.alikeName(v)
	if p.AlikeFrom > 0 {
		c.dash(p.at(float64(p.AlikeFrom)-0.5), row+6, floor)
	}
	at := p.at(float64(p.AlikeTo) + 0.5)
	if p.AlikeTo < p.N {
		c.dash(at, row+6, floor)
	}
	// The name stands on the side away from this session's leader.
	before := p.Observed < 0 || p.at(float64(p.Observed)) > at
	c.text("plot-strong", beforeOrAfter(v, at, name, before), at, 0, row, name)
}

// labelPx is about how wide a strong label is at 18 px, the largest.
func labelPx(words string) float64 { return 9.6 * float64(utf8.RuneCountInString(words)) }

// beforeOrAfter anchors a label at x so that it ends there or begins there, as
// asked where there is room. At the left it may reach over the column of the
// axis's labels, at the right into the page's side.
func beforeOrAfter(v variant, x float64, words string, before bool) string {
	roomBefore, roomAfter := x*v.least+44 >= labelPx(words), (1-x)*v.least+24 >= labelPx(words)
	switch {
	case roomBefore && (before || !roomAfter):
		return "end"
	case roomAfter:
		return "start"
	}
	return "middle"
}

// observed rings this session's number on the axis and leads to its label.
func (p NullPlot) observed(c *scene, x float64, beside bool, y func(float64) float64) {
	c.ring(x, y(0)+13.5, 14)
	words := []string{p.ObservedLabel}
	if p.P >= 0 {
		words = append(words, p.PWords)
	}
	barTop := y(p.PMF[p.Observed]) - 4
	if beside {
		first := y(0) - nullHeight*0.5 + 14
		c.leader(x, 2, barTop, 26, first+4)
		c.text("plot-strong", "start", x, 32, first+2, words[0])
		if len(words) > 1 {
			c.text("plot-note", "start", x, 32, first+22, words[1])
		}
		return
	}
	anchor, dx := "middle", 0.0
	switch {
	case x < 0.3:
		anchor, dx = "start", -6
	case x > 0.7:
		anchor, dx = "end", 6
	}
	first := 14.0
	c.leader(x, 0, min(barTop, y(0)-6), 0, p.obsRows()-9)
	c.text("plot-strong", anchor, x, dx, first, words[0])
	if len(words) > 1 {
		c.text("plot-note", anchor, x, dx, first+20, words[1])
	}
}

// ticks writes counts below the axis: those that fit the drawing's narrowest
// width, and finer ones that the style sheet shows in a broad column.
func (p NullPlot) ticks(c *canvas, v variant, must []int, y float64) {
	stepPx := v.least / float64(p.N+1)
	base := countTicks(0, p.N, 1, stepPx, must)
	broader := 1.3
	if v == narrow {
		broader = 1.85
	}
	fine := countTicks(0, p.N, 1, stepPx*broader, must)
	for x := range p.N + 1 {
		class := "plot-tick"
		switch {
		case slices.Contains(must, x):
			class = "plot-tick plot-tick-strong"
		case base[x] && fine[x]:
		case base[x]:
			class = "plot-tick plot-tick-coarse"
		case fine[x]:
			class = "plot-tick plot-tick-fine"
		default:
			continue
		}
		c.text(class, "middle", p.at(float64(x)), 0, y, fmt.Sprint(x))
	}
}
