package paper

import (
	"fmt"
	"strings"

	"oddcup/session"
	"oddcup/web/look"
)

// Stock is a kind of label sheet, or a roll with one label a page. Lengths are
// in mm.
type Stock struct {
	Key           string // as in addresses
	Words         string
	Paper         Size
	Columns, Rows int
	Width, Height float64 // of a label
	Left, Top     float64 // of the first label
	StepX, StepY  float64 // from a label to the next
}

const inch = 25.4

// Stocks are the label sheets and rolls that labels are printed on, the usual
// one first. The measures are common practice, no source: makers agree on them,
// and a test print on plain paper, held against the sheet, shows whether they
// fit.
var Stocks = []Stock{
	{"a4-70x36", "A4, 3 by 8 of 70 × 36 mm", A4, 3, 8, 70, 36, 0, 4.5, 70, 36},
	{"a4-70x37", "A4, 3 by 8 of 70 × 37 mm", A4, 3, 8, 70, 37, 0, 0.5, 70, 37},
	{"a4-63x38", "A4, 3 by 7 of 63.5 × 38.1 mm", A4, 3, 7, 63.5, 38.1, 7.21, 15.15, 66.04, 38.1},
	{"a4-48x25", "A4, 4 by 10 of 48.5 × 25.4 mm", A4, 4, 10, 48.5, 25.4, 8, 21.5, 48.5, 25.4},
	{"letter-30", "US Letter, 3 by 10 of 2⅝ × 1 in", Letter, 3, 10, 2.625 * inch, inch, 0.1875 * inch, 0.5 * inch, 2.75 * inch, inch},
	{"letter-10", "US Letter, 2 by 5 of 4 × 2 in", Letter, 2, 5, 4 * inch, 2 * inch, 0.15625 * inch, 0.5 * inch, 4.1875 * inch, 2 * inch},
	{"roll-57", "roll, 57 × 32 mm, one a page", Size{57, 32}, 1, 1, 57, 32, 0, 0, 57, 32},
	{"roll-62", "roll, 62 mm endless, cut at 36 mm", Size{62, 36}, 1, 1, 62, 36, 0, 0, 62, 36},
}

// StockByKey finds the stock that an address names; "" is the usual one.
func StockByKey(key string) (Stock, bool) {
	if key == "" {
		return Stocks[0], true
	}
	for _, s := range Stocks {
		if s.Key == key {
			return s, true
		}
	}
	return Stock{}, false
}

// Each is how many labels a page holds.
func (s Stock) Each() int { return s.Columns * s.Rows }

// Roll reports whether each label is a page of its own.
func (s Stock) Roll() bool { return s.Each() == 1 }

// corner is where the n-th label of a page begins, from 0.
func (s Stock) corner(n int) (x, y float64) {
	return s.Left + float64(n%s.Columns)*s.StepX, s.Top + float64(n/s.Columns)*s.StepY
}

// labelForm is where things stand on a label of a stock: lengths in mm from its
// top left corner, sizes of letters in points.
type labelForm struct {
	inset     float64 // what stays free on all sides
	code      float64 // height of the code
	codeTop   float64
	codeWidth float64
	under     float64 // the line beneath, which says which way is up
	underLine float64 // its width
	large     float64 // the seat and the place
	small     float64 // the set, the sheet and the seal
	reference float64 // the R
}

// form fits a label's parts to its size. Nothing stands within 4 mm of a cut;
// 3 mm on rolls, 2.5 mm on labels of an inch.
func (s Stock) form() labelForm {
	f := labelForm{inset: 4, large: 10, small: 8, reference: 26}
	switch {
	case s.Height < 30:
		f = labelForm{inset: 2.5, large: 9, small: 6.5, reference: 18}
	case s.Roll():
		f.inset = 3
	case s.Height > 45:
		f.large, f.small, f.reference = 14, 9, 36
	}
	g, _ := look.DigitsDrawing("000")
	room := s.Height - 2*f.inset
	f.code = min(20, room*0.5, 0.56*(s.Width-2*f.inset)*g.Height/g.Width)
	f.codeWidth = f.code * g.Width / g.Height
	f.underLine = max(0.4, 0.026*f.code)
	// Above the line of the seal the code stands in the middle.
	seal := f.small*pt + 1.2
	f.codeTop = f.inset + (room-seal-1.22*f.code)/2
	f.under = f.codeTop + 1.2*f.code
	return f
}

// Label is one cup's label.
type Label struct {
	Tray
	Cup
}

// LabelPage is a sheet of labels. Used are the labels at its beginning that are
// gone already.
type LabelPage struct {
	Page, All int
	Used      int
	Items     []Label
}

// Blanks are the places of the labels that are gone.
func (p LabelPage) Blanks() []struct{} { return make([]struct{}, p.Used) }

// LabelsOf are the labels of a tray.
func LabelsOf(t Tray) []Label {
	var labels []Label
	for _, cup := range t.Cups {
		labels = append(labels, Label{t, cup})
	}
	return labels
}

// LabelPages deals the labels of trays onto a stock. A tray is never split over
// two sheets, and each set begins a sheet, so that a round's labels can be
// handed on alone; on a roll neither is of use. The first sheet begins with the
// label numbered start, from 1, row by row.
func LabelPages(trays []Tray, stock Stock, start int) []LabelPage {
	var all []LabelPage
	at := 0 // how many labels of the sheet at hand are gone
	open := func(used int) {
		all = append(all, LabelPage{Used: used})
		at = used
	}
	for i, t := range trays {
		cups := len(t.Cups)
		switch {
		case stock.Roll():
			for _, label := range LabelsOf(t) {
				all = append(all, LabelPage{Items: []Label{label}})
			}
			continue
		case i == 0 && start > 1 && start-1+cups <= stock.Each():
			open(start - 1)
		case i == 0 || t.Set != trays[i-1].Set || at+cups > stock.Each():
			open(0)
		}
		page := &all[len(all)-1]
		page.Items = append(page.Items, LabelsOf(t)...)
		at += cups
	}
	for i := range all {
		all[i].Page, all[i].All = i+1, len(all)
	}
	return all
}

// LabelsPDF writes sheets of labels.
func LabelsPDF(h Head, stock Stock, pages []LabelPage) ([]byte, error) {
	d := newDoc(h, "Cup labels", stock.Paper, len(pages))
	d.labels = true
	f := stock.form()
	for _, p := range pages {
		d.next()
		for i, label := range p.Items {
			x, y := stock.corner(p.Used + i)
			d.label(x, y, stock, f, label)
		}
	}
	return d.bytes()
}

// label draws a label with its corner at x and y.
func (d *doc) label(x, y float64, stock Stock, f labelForm, l Label) {
	left, right := x+f.inset, x+stock.Width-f.inset
	d.code(left, y+f.codeTop, f.code, l.Code)
	d.line(left, y+f.under, left+f.codeWidth, y+f.under, f.underLine)
	line := y + f.inset + capital*f.large*pt
	d.right(right, line, bold, f.large, fmt.Sprintf("seat %d", l.Seat))
	line += 1.35 * f.small * pt
	d.right(right, line, regular, f.small, l.SetWords())
	line += 1.3 * f.small * pt
	d.right(right, line, regular, f.small, d.sheetOf())
	foot := y + stock.Height - f.inset - 0.22*f.large*pt
	if l.Reference {
		d.right(right, (line+foot-f.large*pt)/2+0.36*f.reference*pt, bold, f.reference, "R")
	}
	d.right(right, foot, bold, f.large, l.Word())
	seal := session.ShortDigest(d.head.Digest)
	if d.head.Broken != "" {
		seal = "seal broken, " + seal[:9]
	}
	d.text(left, foot, regular, f.small, seal)
}

// capital is how high a capital letter is, in parts of its size.
const capital = 0.73

// LabelCSS is the style sheet that lays out the labels of every stock on the
// print page, by the same measures as the file.
func LabelCSS() []byte {
	var b strings.Builder
	mm := func(x float64) string {
		return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", x), "0"), ".") + "mm"
	}
	b.WriteString("/* The labels of each stock, made from its measures. */\n")
	for _, s := range Stocks {
		f := s.form()
		sel := ".stock-" + s.Key
		rule := func(of, format string, args ...any) {
			fmt.Fprintf(&b, "%s%s { %s }\n", sel, of, fmt.Sprintf(format, args...))
		}
		fmt.Fprintf(&b, "@page %s { size: %s %s; margin: 0; }\n", "stock-"+s.Key, mm(s.Paper.Width), mm(s.Paper.Height))
		rule("", "page: stock-%s; width: %s; height: %s; padding: %s 0 0 %s;", s.Key, mm(s.Paper.Width), mm(s.Paper.Height), mm(s.Top), mm(s.Left))
		rule(" .labels", "grid-template-columns: repeat(%d, %s); grid-auto-rows: %s; column-gap: %s; row-gap: %s;",
			s.Columns, mm(s.Width), mm(s.Height), mm(s.StepX-s.Width), mm(s.StepY-s.Height))
		rule(" .label-code", "left: %s; top: %s; font-size: %s; padding-bottom: %s; border-bottom-width: %s;",
			mm(f.inset), mm(f.codeTop), mm(f.code), mm(f.under-f.codeTop-f.code-f.underLine/2), mm(f.underLine))
		rule(" .label-side", "top: %s; right: %s; bottom: %s; font-size: %spt;", mm(f.inset), mm(f.inset), mm(f.inset), num(f.small))
		rule(" .label-seat", "font-size: %spt;", num(f.large))
		rule(" .label-place", "font-size: %spt;", num(f.large))
		rule(" .label-reference", "font-size: %spt;", num(f.reference))
		rule(" .label-seal", "left: %s; bottom: %s; font-size: %spt;", mm(f.inset), mm(f.inset), num(f.small))
	}
	return []byte(b.String())
}
