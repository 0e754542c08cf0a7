package paper

import (
	"math"
	"strconv"
	"strings"

	"oddcup/session"
	"oddcup/web/look"
)

// The report's page, mm: its margins, the column of names, and what the foot
// takes.
const (
	reportLeft   = 20.0
	reportMargin = 15.0
	reportFoot   = 9.0
	reportNames  = 46.0
	reportGap    = 4.0
)

// The report's letters, points.
const (
	reportText    = 9.5
	reportNote    = 8.0
	reportAnswer  = 17.0
	reportHeading = 12.0
)

// ReportPDF writes a test report. On each page are the session, its digest, and
// the page's number of all; a seal that was broken early is at the top of each.
// The file is dated by its issue, as every sheet is, and its times are in the
// zone of the report.
func ReportPDF(r session.TestReport, size Size) ([]byte, error) {
	spread := 0.0
	var count *reportFlow
	// Once to know how many pages there are. Where next to nothing is left for the
	// last one, lines stand a little closer, so that it fits the one before.
	for _, try := range []float64{1.4, 1.35, 1.3, 1.25} {
		f := newReportFlow(r, size, try, 0)
		f.report()
		if count == nil || f.d.page < count.d.page {
			count, spread = f, try
		}
		if f.filled() > 0.2 {
			break
		}
	}
	f := newReportFlow(r, size, spread, count.d.page)
	f.report()
	return f.d.bytes()
}

// reportFlow sets a report from the top of its first page to the foot of its
// last.
type reportFlow struct {
	d           *doc
	r           session.TestReport
	y           float64 // where the next thing begins
	left, right float64
	top, foot   float64
	spread      float64 // from line to line, in parts of the letters' size
	ruled       float64 // where the last line below an item or a row is
	ruledOn     int     // and its page
}

func newReportFlow(r session.TestReport, size Size, spread float64, pages int) *reportFlow {
	h := Head{Title: r.Title, Demo: r.Demo, Digest: r.Digest, Sealed: r.Sealed, Issued: r.Issued, Broken: r.Broken}
	return &reportFlow{
		d: newDoc(h, "Test report", size, pages), r: r,
		left: reportLeft, right: size.Width - reportMargin,
		top: reportMargin, foot: size.Height - reportMargin - reportFoot,
		spread: spread,
	}
}

func (f *reportFlow) report() {
	f.page()
	f.head()
	for _, p := range f.r.Parts {
		f.part(p)
	}
	f.end()
}

// page begins one.
func (f *reportFlow) page() {
	f.d.next()
	f.y = f.top
}

// end sets the foot of the page.
func (f *reportFlow) end() {
	y := f.foot + 3
	f.d.boxes(f.left, f.foot+1.2)
	f.d.line(f.left, y, f.right, y, hairline)
	number := "page " + strconv.Itoa(f.d.page) + " of " + strconv.Itoa(f.d.pages)
	f.d.right(f.right, y+4, regular, reportNote, number)
	who := f.d.head.name()
	if f.r.Laboratory != "" {
		who = f.r.Laboratory + " · " + who
	}
	if f.r.Practice {
		who = "practice, never counts · " + who
	}
	f.d.text(f.left, y+4, regular, reportNote, f.d.cut(regular, reportNote, f.right-f.left-28, who))
	f.d.text(f.left, y+7.6, regular, 7, "session "+string(f.r.Session)+" · digest "+f.r.Digest.String())
}

// room makes sure that so much fits on the page, or begins the next one.
func (f *reportFlow) room(height float64) {
	if f.y+height > f.foot && f.y > f.top {
		f.end()
		f.page()
	}
}

// filled is how much of the page is used, from 0 to 1.
func (f *reportFlow) filled() float64 { return (f.y - f.top) / (f.foot - f.top) }

func (f *reportFlow) leading(size float64) float64 { return size * pt * f.spread }

// fold cuts a text into lines of a width; a word that is longer than a line goes
// on in the next.
func (d *doc) fold(style string, size, width float64, s string) []string {
	d.face(style, size)
	var lines []string
	line := ""
	for _, word := range strings.Fields(d.known(s)) {
		longer := word
		if line != "" {
			longer = line + " " + word
		}
		if d.f.GetStringWidth(longer) <= width {
			line = longer
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = ""
		for _, r := range word {
			if line != "" && d.f.GetStringWidth(line+string(r)) > width {
				lines, line = append(lines, line), ""
			}
			line += string(r)
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// lines sets lines one below the other, on the next page where they don't fit.
func (f *reportFlow) lines(x float64, style string, size float64, lines []string) {
	for _, l := range lines {
		f.room(f.leading(size))
		f.d.text(x, f.y+size*pt, style, size, l)
		f.y += f.leading(size)
	}
}

// head sets what stands first: who reports, of what, and the answer.
func (f *reportFlow) head() {
	d, width := f.d, f.right-f.left
	lab := f.r.Laboratory
	if lab == "" {
		lab = "Laboratory: " + session.NotRecorded
	}
	d.right(f.right, f.y+reportHeading*pt, bold, reportHeading, "Test report")
	f.lines(f.left, bold, reportHeading, d.fold(bold, reportHeading, width-32, lab))
	f.y += 1
	f.lines(f.left, regular, reportText, d.fold(regular, reportText, width, d.head.name()+", session "+string(f.r.Session)+issuedWords(f.r.Issued, ", issued ")))
	d.line(f.left, f.y+1.5, f.right, f.y+1.5, rule)
	f.y += 6
	f.lines(f.left, bold, reportAnswer, d.fold(bold, reportAnswer, width, f.r.Answer))
	f.y += 1.5
	for _, l := range f.r.Lots {
		f.lines(f.left, bold, reportText, d.fold(bold, reportText, width, l))
	}
	if f.r.Goal != "" {
		f.lines(f.left, regular, reportText, d.fold(regular, reportText, width, "Registered goal of the first test: "+f.r.Goal+"."))
	}
	for _, m := range f.r.Marks {
		f.y += 2
		lines := d.fold(bold, reportText, width-7, m)
		f.room(min(f.leading(reportText)*float64(len(lines)), 40))
		d.draw(look.CautionDrawing(), f.left, f.y, 4)
		f.lines(f.left+7, bold, reportText, lines)
	}
	f.y += 2
}

// part sets a part: its heading, never alone at the foot of a page, and what it
// holds.
func (f *reportFlow) part(p session.ReportPart) {
	d := f.d
	note := d.fold(regular, reportNote, f.right-f.left, p.Note)
	head := 5 + f.leading(reportHeading) + f.leading(reportNote)*float64(len(note)) + 2
	// A test's objective, result and conclusion stay together.
	first, together := 0.0, 1
	if p.Test > 0 {
		together = 3
	}
	for _, it := range p.Items[:min(together, len(p.Items))] {
		first += f.itemHeight(it)
	}
	f.room(head + min(first, 90))
	if f.y-f.ruled > 2 || f.d.page != f.ruledOn {
		f.y += 3
		f.ruled = f.y
	}
	d.line(f.left, f.ruled, f.right, f.ruled, thinLine) // over the part's last one, so that there are not two
	f.y += 2
	f.lines(f.left, bold, reportHeading, d.fold(bold, reportHeading, f.right-f.left, p.Title))
	f.lines(f.left, regular, reportNote, note)
	f.y += 1
	before, after := p.Split()
	for _, it := range before {
		f.item(it)
	}
	if t, ok := f.r.Plotted(p); ok {
		f.nullPlot(t)
	}
	for _, it := range after {
		f.item(it)
	}
	for _, t := range p.Tables {
		f.table(t)
	}
}

// itemLines are an item's name and words in lines.
func (f *reportFlow) itemLines(it session.ReportItem) (name, says []string) {
	name = f.d.fold(regular, reportText, reportNames, it.Name)
	for _, w := range it.Words() {
		says = append(says, f.d.fold(regular, reportText, f.right-f.left-reportNames-reportGap, w)...)
	}
	return name, says
}

func (f *reportFlow) itemHeight(it session.ReportItem) float64 {
	name, says := f.itemLines(it)
	return f.heightOf(name, says, it.Exploratory)
}

func (f *reportFlow) heightOf(name, says []string, exploratory bool) float64 {
	left := len(name)
	if exploratory {
		left++
	}
	return f.leading(reportText)*float64(max(left, len(says))) + 1.6
}

// item sets an item. One that is no longer than half a page is never broken.
func (f *reportFlow) item(it session.ReportItem) {
	name, says := f.itemLines(it)
	if it.Exploratory {
		name = append(name, "(exploratory)")
	}
	height := f.heightOf(name, says, false)
	if height < (f.foot-f.top)/2 {
		f.room(height)
	} else {
		f.room(4 * f.leading(reportText))
	}
	at := f.y
	for i, l := range name {
		f.d.text(f.left, at+reportText*pt+f.leading(reportText)*float64(i), regular, reportText, l)
	}
	page := f.d.page
	f.lines(f.left+reportNames+reportGap, regular, reportText, says)
	if f.d.page == page {
		f.y = max(f.y, at+f.leading(reportText)*float64(len(name)))
	}
	f.y += 1
	f.rule()
	f.y += 0.6
}

// rule draws the line below an item or a row.
func (f *reportFlow) rule() {
	f.d.line(f.left, f.y, f.right, f.y, hairline)
	f.ruled, f.ruledOn = f.y, f.d.page
}

// table sets a table; its heads stand again on each page, and no row is broken
// that fits a page.
func (f *reportFlow) table(t session.ReportTable) {
	d := f.d
	widths := f.columns(t)
	cells := func(style string, size float64, row []string) (folded [][]string, lines int) {
		for i, c := range row {
			l := d.fold(style, size, widths[i], c)
			folded, lines = append(folded, l), max(lines, len(l))
		}
		return folded, lines
	}
	heads, headLines := cells(bold, reportNote, t.Heads)
	draw := func(style string, size float64, folded [][]string, from, to int) {
		x := f.left
		for i, lines := range folded {
			for k := from; k < min(to, len(lines)); k++ {
				d.text(x, f.y+size*pt+f.leading(size)*float64(k-from), style, size, lines[k])
			}
			x += widths[i] + reportGap
		}
		f.y += f.leading(size) * float64(to-from)
	}
	head := func() {
		draw(bold, reportNote, heads, 0, headLines)
		f.y += 0.8
		d.line(f.left, f.y, f.right, f.y, thinLine)
		f.y += 0.8
	}
	size := reportText - 1
	f.y += 1.5
	caption := d.fold(bold, reportText, f.right-f.left, t.Caption)
	f.room(f.leading(reportText)*float64(len(caption)) + f.leading(reportNote)*float64(headLines) + 3*f.leading(size))
	f.lines(f.left, bold, reportText, caption)
	head()
	for _, row := range t.Rows {
		folded, lines := cells(regular, size, row)
		for from := 0; from < lines; {
			fits := int((f.foot - f.y - 1.4) / f.leading(size))
			if fits < lines-from && (f.pageHolds(lines-from, size) || fits < 2) {
				f.end()
				f.page()
				head()
				continue
			}
			to := min(lines, from+fits)
			draw(regular, size, folded, from, to)
			from = to
		}
		f.y += 0.7
		f.rule()
		f.y += 0.7
	}
	f.y += 1
}

// pageHolds reports whether so many lines of a row fit on a page of their own.
func (f *reportFlow) pageHolds(lines int, size float64) bool {
	return f.leading(size)*float64(lines) < f.foot-f.top-20
}

// columns are the widths of a table's columns, mm: as wide as their longest cell
// where there is room, else between their longest word and that.
func (f *reportFlow) columns(t session.ReportTable) []float64 {
	d, size := f.d, reportText-1
	room := f.right - f.left - reportGap*float64(len(t.Heads)-1)
	least, most := make([]float64, len(t.Heads)), make([]float64, len(t.Heads))
	measure := func(style string, i int, s string) {
		d.face(style, size)
		s = d.known(s)
		most[i] = max(most[i], d.f.GetStringWidth(s)+0.5)
		for _, w := range strings.Fields(s) {
			least[i] = max(least[i], min(d.f.GetStringWidth(w)+0.5, room/float64(len(t.Heads))))
		}
	}
	for i, h := range t.Heads {
		measure(bold, i, h)
	}
	for _, row := range t.Rows {
		for i, c := range row {
			measure(regular, i, c)
		}
	}
	sum := func(w []float64) (s float64) {
		for _, x := range w {
			s += x
		}
		return s
	}
	if sum(most) <= room {
		return most
	}
	// What is left is shared by the root of what each wants more, so that one
	// long cell does not starve the others.
	want := make([]float64, len(most))
	for i := range most {
		want[i] = math.Sqrt(max(0, most[i]-least[i]))
	}
	left, all := max(0, room-sum(least)), sum(want)
	widths := make([]float64, len(least))
	for i := range widths {
		widths[i] = least[i]
		if all > 0 {
			widths[i] += left * want[i] / all
		}
	}
	return widths
}

// nullPlot draws the distribution of the count by guessing alone, and where this
// session fell: bars that show a difference (or similarity, where only that was
// looked for) are filled, the others are outlined.
func (f *reportFlow) nullPlot(t session.TestResult) {
	const height, axis, row = 34.0, 10.0, 4.6
	alike := t.Plan.WantsSimilarity() && t.HasMax && t.Replicated == nil
	rows := 1.0
	if t.HasMin {
		rows++
	}
	if alike {
		rows++
	}
	f.room(rows*row + height + axis + 10)
	d := f.d
	f.y += 2
	d.text(f.left, f.y+reportNote*pt, regular, reportNote, "Probability of each count of "+t.Method.CountedAs+", of "+strconv.Itoa(t.N)+", if every answer were a guess")
	f.y += f.leading(reportNote) + 1
	top := f.y + rows*row
	floor := top + height
	left, right := f.left+12, f.right-3
	step := (right - left) / float64(t.N+1)
	at := func(x float64) float64 { return left + (x+0.5)*step }
	tallest := 0.0
	for _, p := range t.Null {
		tallest = max(tallest, p)
	}
	unit := plotStep(tallest)
	full := math.Ceil(tallest/unit-1e-9) * unit
	y := func(p float64) float64 { return floor - height*p/full }
	for i := 0; float64(i)*unit <= full+1e-9; i++ {
		p := float64(i) * unit
		d.line(left, y(p), right, y(p), hairline)
		d.right(left-1.5, y(p)+1, regular, reportNote, strconv.FormatFloat(p, 'g', 4, 64))
	}
	shows := func(x int) bool {
		if t.HasMin {
			return x >= t.MinCorrect || t.Plan.TwoSided && x <= t.N-t.MinCorrect
		}
		return alike && x >= t.MinSimilar && x <= t.MaxCorrect
	}
	d.f.SetDrawColor(0, 0, 0)
	for x, p := range t.Null {
		if h := floor - y(p); h >= 0.05 {
			d.f.SetFillColor(255, 255, 255)
			if shows(x) {
				d.f.SetFillColor(0x46, 0x29, 0x7f)
			}
			d.f.SetLineWidth(min(0.2, step/6))
			d.f.Rect(at(float64(x))-0.28*step, y(p), 0.56*step, h, "FD")
		}
	}
	d.f.SetFillColor(0, 0, 0)
	d.line(left, floor, right, floor, thinLine)
	// Each label has a row, with its lines below it. The leader of this session's
	// count is drawn to its bar, the others to the axis.
	var labels []plotLabel
	if alike {
		l := plotLabel{words: "maximum " + strconv.Itoa(t.MaxCorrect) + " for similarity", at: at(float64(t.MaxCorrect) + 0.5), after: true}
		if t.MinSimilar > 0 {
			l.words = strconv.Itoa(t.MinSimilar) + " to " + strconv.Itoa(t.MaxCorrect) + " for similarity"
			l.also, l.two = at(float64(t.MinSimilar)-0.5), true
		}
		labels = append(labels, l)
	}
	if t.HasMin {
		l := plotLabel{words: "minimum correct " + strconv.Itoa(t.MinCorrect), at: at(float64(t.MinCorrect) - 0.5), after: true}
		if t.Plan.TwoSided {
			low := t.N - t.MinCorrect
			l.words += ", or " + strconv.Itoa(low) + " and fewer"
			l.also, l.two = at(float64(low)+0.5), true
		}
		labels = append(labels, l)
	}
	here := at(float64(t.Correct))
	own := plotLabel{words: "this session: " + strconv.Itoa(t.Correct), at: here, leader: y(t.Null[t.Correct])}
	if t.Plan.WantsDifference() {
		own.words += ", " + session.PWords(t.P)
	}
	// Its words stand on the side away from the lines.
	own.after = !t.HasMin || t.Correct >= t.MinCorrect
	if !t.HasMin && alike {
		own.after = t.Correct > t.MaxCorrect
	}
	f.labels(append(labels, own), top-rows*row+row-1.2, row, floor)
	// Numbers under the axis, as many as have room; this session's has a ring.
	every := 1
	for _, n := range []int{1, 2, 5, 10, 20, 50, 100, 200} {
		if every = n; float64(n)*step >= 7 {
			break
		}
	}
	for x := 0; x <= t.N; x++ {
		near := math.Abs(float64(x-t.Correct)) * step
		if x == t.Correct || x%every == 0 && near > 6 {
			d.middle(at(float64(x)), floor+4.6, regular, reportNote, strconv.Itoa(x))
		}
	}
	d.f.SetLineWidth(thinLine)
	d.f.Circle(here, floor+3.6, 2.8, "D")
	f.y = floor + axis
}

// plotLabel is the label of one or two lines of a plot.
type plotLabel struct {
	words    string
	at, also float64
	two      bool
	after    bool    // the side on which it is to stand
	leader   float64 // where its line ends; 0 for a dashed one, down to the axis
}

// labels sets labels in rows from y on, and their lines.
func (f *reportFlow) labels(labels []plotLabel, y, row, floor float64) {
	const air = 1.5 // beside the line
	d := f.d
	d.face(bold, reportNote)
	var asked []look.LineLabel
	for _, l := range labels {
		asked = append(asked, look.LineLabel{At: l.at, Also: l.also, Two: l.two, Width: d.f.GetStringWidth(d.known(l.words)) + air, After: l.after})
	}
	for i, place := range look.PlaceLabels(asked, f.left, f.right) {
		l, y := labels[i], y+float64(place.Row)*row
		begins := l.at - place.Back*asked[i].Width
		if place.Back == 0 {
			begins += air
		}
		d.text(begins, y, bold, reportNote, l.words)
		if l.leader > 0 {
			d.line(l.at, y+1, l.at, l.leader, 0.3)
			continue
		}
		d.dashed(l.at, y+1, l.at, floor)
		if l.two {
			d.dashed(l.also, y+1, l.also, floor)
		}
	}
}

// plotStep is a step of 1, 2 or 5 tenths for an axis with two to five of them.
func plotStep(top float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(top)))
	for _, s := range []float64{0.2, 0.5, 1} {
		if top/(s*unit) <= 4 {
			return s * unit
		}
	}
	return 2 * unit
}
