package look

import (
	"math"
	"strings"
)

// LineLabel is the label of one or two upright lines of a plot. It stands in a row
// of its own above the plot, and its lines begin below it.
type LineLabel struct {
	At    float64 // its line, from the left of the plot
	Also  float64 // its second line, where it has one
	Two   bool
	Width float64
	After bool // it is to stand after its line where both sides are free
}

// LabelPlace is where a label stands.
type LabelPlace struct {
	Row  int     // from the top
	Back float64 // of its width, before the line: 0 it begins there, 1 it ends there
}

// labelBacks are tried in this order.
var labelBacks = []float64{0, 1, 0.5, 0.25, 0.75}

// PlaceLabels gives each label a row so that no line of a row above goes through
// it, or between it and its own line: it would be read as that line's. Left and
// right are the bounds of the labels. The plot may be drawn wider than the places
// say, by the factors of wider, while labels keep their width. Of several
// arrangements it takes the one that is nearest to the order of the labels and to
// the sides that they are to stand on.
func PlaceLabels(labels []LineLabel, left, right float64, wider ...float64) []LabelPlace {
	best := math.Inf(1)
	var found []LabelPlace
	now := make([]LabelPlace, len(labels))
	var above []int // labels of the rows that are filled
	var fill func(cost float64)
	fill = func(cost float64) {
		if cost >= best {
			return
		}
		if len(above) == len(labels) {
			best, found = cost, append([]LabelPlace(nil), now...)
			return
		}
		for i := range labels {
			if placed(above, i) {
				continue
			}
			row := len(above)
			for n, back := range labelBacks {
				more := float64(max(0, i-row)) // out of its order
				if n > 1 {
					more += 3
				} else if (back == 0) != labels[i].After {
					more += 2
				}
				begins := labels[i].At - back*labels[i].Width
				more += 50 * (max(0, left-begins) + max(0, begins+labels[i].Width-right))
				for _, j := range above {
					if labels[j].through(labels[i], back, wider) {
						more += 1000
					}
				}
				now[i] = LabelPlace{row, back}
				above = append(above, i)
				fill(cost + more)
				above = above[:row]
			}
		}
	}
	fill(0)
	return found
}

func placed(rows []int, i int) bool {
	for _, j := range rows {
		if i == j {
			return true
		}
	}
	return false
}

// through reports whether a line of l goes through a label that stands lower, or
// between it and its line.
func (l LineLabel) through(label LineLabel, back float64, wider []float64) bool {
	const air = 1
	lines := []float64{l.At}
	if l.Two {
		lines = append(lines, l.Also)
	}
	for _, w := range append([]float64{1}, wider...) {
		at := label.At * w
		for _, x := range lines {
			if x*w > at-back*label.Width-air && x*w < at+(1-back)*label.Width+air {
				// At its outer end a line may be as near as the lines are.
				if (back != 0 || x > label.At) && (back != 1 || x < label.At) {
					return true
				}
			}
		}
	}
	return false
}

// wider are the factors by which a drawing may be wider than its narrowest plot.
var wider = []float64{1.15, 1.3, 1.5, 1.75, 2}

// scene is a canvas that knows where labels and upright lines stand.
type scene struct {
	canvas
	labels, lines []extent
}

// extent is a part of a drawing: pixels aside from x, 0 to 1 of the width, and
// pixels down.
type extent struct {
	x, from, to, top, foot float64
	roomy                  bool // in wide columns only
}

func (s *scene) text(class, anchor string, x, dx, y float64, words string) {
	s.canvas.text(class, anchor, x, dx, y, words)
	width := labelPx(words)
	from := dx
	switch anchor {
	case "end":
		from -= width
	case "middle":
		from -= width / 2
	}
	to := from + width
	// Between a label and its line no other may stand, either.
	if from > 0 && from <= 8 {
		from = 0
	}
	if to < 0 && to >= -8 {
		to = 0
	}
	s.labels = append(s.labels, extent{x, from, to, y - 14, y + 4, strings.Contains(class, "plot-roomy")})
}

func (s *scene) leader(x, dx1, y1, dx2, y2 float64) {
	s.canvas.leader(x, dx1, y1, dx2, y2)
	s.lines = append(s.lines, extent{x, min(dx1, dx2), max(dx1, dx2), min(y1, y2), max(y1, y2), false})
}

// dash draws a dashed line.
func (s *scene) dash(x, top, foot float64) {
	s.add(`<line class="plot-dash" x1="%s" x2="%s" y1="%s" y2="%s"/>`, pct(x), pct(x), num(top), num(foot))
	s.lines = append(s.lines, extent{x, 0, 0, top, foot, false})
}

// clear reports whether no label and no slanting leader is crossed by a line or
// another label, however wide the drawing is.
func (s *scene) clear(v variant) bool {
	for i, label := range s.labels {
		for _, w := range append([]float64{1}, wider...) {
			if label.roomy && w < 1.3 {
				continue
			}
			for _, other := range append(s.labels[i+1:len(s.labels):len(s.labels)], s.lines...) {
				if label.meets(other, w*v.least) && (!other.roomy || w >= 1.3) {
					return false
				}
			}
		}
	}
	for _, leader := range s.lines {
		for _, w := range append([]float64{1}, wider...) {
			for _, other := range s.lines {
				if leader.from < leader.to && leader != other && leader.meets(other, w*v.least) {
					return false
				}
			}
		}
	}
	return true
}

func (e extent) meets(other extent, width float64) bool {
	left, right := e.x*width+e.from, e.x*width+e.to
	return other.x*width+other.to > left && other.x*width+other.from < right && other.top < e.foot && other.foot > e.top
}
