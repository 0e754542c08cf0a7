package look

import (
	"fmt"
	"html/template"
	"math"
	"strings"
)

// JudgeRow is one judge of a JudgesPlot.
type JudgeRow struct {
	Label, To, Sub      string  // pseudonym, the judge's page, and from how many sets
	Value, Lower, Upper float64 // a Value that is not a number has no dot
	Few                 bool    // too few sets to read: the dot is open
	Words               string  // "0.64 (0.44 to 0.80)"
	Note                string  // below the words, "" for none
}

// JudgesPlot is a list of judges with an estimate and its interval each, on one
// axis, in the order given. Names and numbers are text on the page. A long list
// repeats its axis, so that no row is far from one.
type JudgesPlot struct {
	Rows      []JudgeRow
	Min, Max  float64    // ends of the axis, Min < Max
	AxisLabel string     // quantity and unit
	Lines     []AxisLine // dashed lines across all rows
	Title     string     // names the picture for a screen reader
	Desc      string     // says in a sentence what it shows, with the level of the intervals
}

// judgesBetween is the number of rows from one axis to the next.
const judgesBetween = 20

// Judges draws p. It panics unless p.Min < p.Max.
func Judges(p JudgesPlot) template.HTML {
	if !(p.Min < p.Max) {
		panic(fmt.Sprintf("look: judges on an axis from %g to %g", p.Min, p.Max))
	}
	axis := EstimatePlot{Min: p.Min, Max: p.Max, AxisLabel: p.AxisLabel, Title: p.Title, Desc: p.Desc}
	ticks := multiples(p.Min, p.Max, niceStep(p.Max-p.Min, 7))
	dense := ""
	if len(p.Rows) > judgesBetween {
		dense = " plot-dense"
	}
	var b strings.Builder
	for i, row := range p.Rows {
		if i%judgesBetween == 0 {
			b.WriteString(axis.head(p.Lines))
		}
		b.WriteString(p.row(axis, row, ticks))
		if last := i == len(p.Rows)-1; last {
			b.WriteString(axis.axis(ticks))
		} else if i%judgesBetween == judgesBetween-1 {
			b.WriteString(axis.between(ticks))
		}
	}
	return template.HTML(`<figure class="plot plot-estimates plot-judges` + dense + `">` + b.String() + `</figure>`)
}

// row draws one judge.
func (p JudgesPlot) row(axis EstimatePlot, j JudgeRow, ticks []float64) string {
	drawn := axis.row(Estimate{Value: j.Value, Lower: j.Lower, Upper: j.Upper}, ticks, p.Lines)
	if j.Few && !math.IsNaN(j.Value) {
		drawn = strings.Replace(drawn, `<circle class="plot-dot"`, `<circle class="plot-dot plot-dot-few"`, 1)
	}
	var b strings.Builder
	label := template.HTMLEscapeString(j.Label)
	if j.To != "" {
		label = fmt.Sprintf(`<a href="%s">%s</a>`, template.HTMLEscapeString(j.To), label)
	}
	fmt.Fprintf(&b, `<div class="est-row"><div class="est-label"><b>%s</b>`, label)
	if j.Sub != "" {
		fmt.Fprintf(&b, ` <span>%s</span>`, template.HTMLEscapeString(j.Sub))
	}
	fmt.Fprintf(&b, `</div><div class="est-cell"><svg class="est-line" aria-hidden="true" focusable="false" width="100%%" height="100%%">%s</svg></div><div class="est-words">%s`,
		drawn, template.HTMLEscapeString(j.Words))
	if j.Note != "" {
		fmt.Fprintf(&b, ` <span>%s</span>`, template.HTMLEscapeString(j.Note))
	}
	b.WriteString("</div></div>\n")
	return b.String()
}

// between is the axis within a long list: a repetition that is not read out.
func (p EstimatePlot) between(ticks []float64) string {
	var c canvas
	c.add(`<line class="plot-axis" x1="0" x2="100%%" y1="0" y2="0"/>`)
	decimals := 0
	if len(ticks) > 1 {
		decimals = decimalsOf(ticks[1] - ticks[0])
	}
	for _, t := range ticks {
		c.text("plot-tick", "middle", p.at(t), 0, 20, decimal(t, decimals))
	}
	return fmt.Sprintf(`<div class="est-row est-foot est-between"><div class="est-axis"><svg aria-hidden="true" focusable="false" width="100%%" height="26" overflow="visible">%s</svg></div></div>`+"\n", c.String())
}
