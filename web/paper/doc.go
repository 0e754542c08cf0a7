package paper

import (
	"bytes"
	_ "embed" // the fonts
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"

	"oddcup/session"
	"oddcup/web/look"
)

// The fonts stand in every file, cut down to the letters that it uses.
var (
	//go:embed font/LiberationSans-Regular.ttf
	regularFont []byte
	//go:embed font/LiberationSans-Bold.ttf
	boldFont []byte
)

const (
	regular = ""
	bold    = "B"

	// pt is a point in mm.
	pt = 25.4 / 72
	// unknown stands for a letter that the font doesn't have.
	unknown = '□'
	// digitWidth is how wide the font sets a digit, and boxHeight the height
	// that its letters may take, in parts of its size.
	digitWidth, boxHeight, descent = 0.556, 1.117, 0.212
)

// doc is a PDF being written. Lengths are in mm from the top left corner of the
// page, sizes of letters in points.
type doc struct {
	f       *fpdf.Fpdf
	head    Head
	page    int
	pages   int
	labels  bool // the file holds labels
	missing bool // a letter of this page isn't in the font
}

// newDoc begins a file with so many pages. Its bytes depend on what is drawn and
// on nothing else: its date is that of its issue, or of the seal.
func newDoc(h Head, what string, size Size, pages int) *doc {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: size.Width, Ht: size.Height}})
	f.SetCatalogSort(true)
	made := h.Issued
	if made.IsZero() {
		made = h.Sealed
	}
	f.SetCreationDate(made.UTC())
	f.SetModificationDate(made.UTC())
	f.SetProducer("oddcup", true)
	f.SetTitle(what+", "+h.Title, true)
	f.SetLang("en")
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.AddUTF8FontFromBytes("sans", regular, regularFont)
	f.AddUTF8FontFromBytes("sans", bold, boldFont)
	return &doc{f: f, head: h, pages: pages}
}

// next begins a page. A broken seal stands at the top of each; labels have no
// room there and name it beside the seal.
func (d *doc) next() {
	d.f.AddPage()
	d.page++
	d.missing = false
	if size := d.size(); d.head.Broken != "" && !d.labels {
		d.middle(size.Width/2, 6, bold, 8, d.cut(bold, 8, size.Width-2*margin, d.head.Broken))
	}
}

// bytes ends the file.
func (d *doc) bytes() ([]byte, error) {
	if d.page != d.pages {
		return nil, fmt.Errorf("pdf: %d pages drawn, %d announced", d.page, d.pages)
	}
	var b bytes.Buffer
	if err := d.f.Output(&b); err != nil {
		return nil, fmt.Errorf("pdf: %w", err)
	}
	return b.Bytes(), nil
}

// letters knows which letters both fonts have.
var letters = sync.OnceValue(func() (has func(rune) bool) {
	var fonts []*sfnt.Font
	for _, b := range [][]byte{regularFont, boldFont} {
		f, err := sfnt.Parse(b)
		if err != nil {
			panic("paper: font: " + err.Error()) // it is part of the program
		}
		fonts = append(fonts, f)
	}
	return func(r rune) bool {
		var buf sfnt.Buffer
		for _, f := range fonts {
			if i, err := f.GlyphIndex(&buf, r); err != nil || i == 0 {
				return false
			}
		}
		return true
	}
})

// known gives a text with a box for each letter that the font doesn't have.
func (d *doc) known(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7f:
			return ' '
		case r < 0x7f:
			return r
		case r > 0xffff || !letters()(r):
			d.missing = true
			return unknown
		}
		return r
	}, s)
}

func (d *doc) face(style string, size float64) { d.f.SetFont("sans", style, size) }

// text sets a line with its foot at y, and gives where it ends.
func (d *doc) text(x, y float64, style string, size float64, s string) float64 {
	s = d.known(s)
	d.face(style, size)
	d.f.Text(x, y, s)
	return x + d.f.GetStringWidth(s)
}

// right sets a line that ends at x.
func (d *doc) right(x, y float64, style string, size float64, s string) {
	d.face(style, size)
	d.text(x-d.f.GetStringWidth(d.known(s)), y, style, size, s)
}

// middle sets a line with its middle at x.
func (d *doc) middle(x, y float64, style string, size float64, s string) {
	d.face(style, size)
	d.text(x-d.f.GetStringWidth(d.known(s))/2, y, style, size, s)
}

// cut shortens a text to a width, with an ellipsis where something is left out.
func (d *doc) cut(style string, size, width float64, s string) string {
	s = d.known(s)
	d.face(style, size)
	if d.f.GetStringWidth(s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && d.f.GetStringWidth(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}

// fit gives the largest size, from size down to least, at which a text is no
// wider than width.
func (d *doc) fit(style string, size, least, width float64, s string) float64 {
	s = d.known(s)
	for ; size > least; size -= 0.5 {
		d.face(style, size)
		if d.f.GetStringWidth(s) <= width {
			break
		}
	}
	return size
}

// wrap sets a text in lines of a width, the first with its foot at y, and gives
// the foot of a line that would follow.
func (d *doc) wrap(x, y, width float64, style string, size float64, s string) float64 {
	for _, line := range d.lines(width, style, size, s) {
		d.text(x, y, style, size, line)
		y += size * pt * 1.4
	}
	return y
}

// high is how high the lines of a text are.
func (d *doc) high(width float64, style string, size float64, s string) float64 {
	return float64(len(d.lines(width, style, size, s))) * size * pt * 1.4
}

// lines cuts a text into lines of a width.
func (d *doc) lines(width float64, style string, size float64, s string) []string {
	d.face(style, size)
	var all []string
	line := ""
	for _, word := range strings.Fields(d.known(s)) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && d.f.GetStringWidth(longer) > width {
			all = append(all, line)
			longer = word
		}
		line = d.cut(style, size, width, longer)
	}
	if line != "" {
		all = append(all, line)
	}
	return all
}

// readable lays a text over a box, to be read by programs and never seen: what
// is drawn there says the same. Its letters are as wide as the box.
func (d *doc) readable(x, y, width, height float64, s string) {
	size := height / boxHeight
	d.face(bold, size/pt)
	stretch := width / d.f.GetStringWidth(s) * 100
	d.f.SetTextRenderingMode(3)
	d.f.RawWriteStr(strconv.FormatFloat(stretch, 'f', 2, 64) + " Tz\n")
	d.f.Text(x, y+height-descent*size, s)
	d.f.RawWriteStr("100 Tz\n")
	d.f.SetTextRenderingMode(0)
}

// digits draws a code or number in the drawn digits, height mm high with its
// top at y, and gives its width. The same digits lie over it as text.
func (d *doc) digits(x, y, height float64, s string) float64 {
	g, ok := look.DigitsDrawing(s)
	if !ok {
		d.f.SetError(fmt.Errorf("pdf: %q is not made of digits", s))
		return 0
	}
	width := digitsWidth(height, s)
	d.draw(g, x, y, height)
	d.readable(x, y, width, height, s)
	return width
}

// digitsWidth is how wide the drawn digits are.
func digitsWidth(height float64, s string) float64 {
	g, _ := look.DigitsDrawing(s)
	return g.Width * height / g.Height
}

func (d *doc) code(x, y, height float64, c session.Code) float64 {
	return d.digits(x, y, height, strconv.Itoa(int(c)))
}

// vesselText is how a vessel's mark reads as text.
var vesselText = map[session.Vessel]string{session.Disc: "●", session.Diamond: "◊", session.Cross: "×"}

// vessel draws a vessel's mark, size mm wide and high.
func (d *doc) vessel(x, y, size float64, v session.Vessel) {
	d.draw(look.VesselDrawing(string(v)), x, y, size)
	d.readable(x, y, size, size, vesselText[v])
}

// line draws a line of a width in mm.
func (d *doc) line(x1, y1, x2, y2, width float64) {
	d.f.SetLineWidth(width)
	d.f.Line(x1, y1, x2, y2)
}

// dashed draws a line to cut along.
func (d *doc) dashed(x1, y1, x2, y2 float64) {
	d.f.SetDashPattern([]float64{1, 1}, 0)
	d.line(x1, y1, x2, y2, hairline)
	d.f.SetDashPattern(nil, 0)
}

// box draws a square in thin line, to tick.
func (d *doc) box(x, y, size, width float64) {
	d.f.SetLineWidth(width)
	d.f.Rect(x, y, size, size, "D")
}

// The lines of a sheet, mm.
const (
	hairline = 0.15
	thinLine = 0.4
	rule     = 0.5
	heavy    = 0.8
)

// margin is what a sheet leaves free on all sides, mm.
const margin = 12.0

// footLine is how far the two lines of a sheet's foot are apart, mm.
const footLine = 4.2

// size is the size of the page.
func (d *doc) size() Size {
	w, h := d.f.GetPageSize()
	return Size{Width: w, Height: h}
}

// sheetHead sets the head of a sheet: what stands above the title, the title,
// and on the right the session and what is said of the sheet. It gives where
// the sheet goes on.
func (d *doc) sheetHead(above, title string) float64 {
	end := d.size().Width - margin
	middle := margin + (end-margin)*0.62
	d.text(margin, margin+3.2, regular, 9.5, above)
	// What a title says last, the set, must not be cut away.
	large := d.fit(bold, 17, 9, middle-margin-4, title)
	d.text(margin, margin+11.6, bold, large, d.cut(bold, large, middle-margin-4, title))
	notes := append([]string{d.head.name()}, d.head.Notes...)
	y := margin + 11.6 - 4.4*float64(len(notes)-1)
	for _, note := range notes {
		d.right(end, y, regular, 9.5, d.cut(regular, 9.5, end-middle, note))
		y += 4.4
	}
	d.line(margin, margin+15, end, margin+15, rule)
	return margin + 15
}

// sheetFoot sets the foot: the seal and the page's number, and above them a
// caution, which nothing may cover.
func (d *doc) sheetFoot(caution string) {
	y, end := d.size().Height-margin, d.size().Width-margin
	d.text(margin, y, regular, 8, "Seal "+session.ShortDigest(d.head.Digest)+issuedWords(d.head.Issued, " · printed "))
	d.right(end, y, regular, 8, d.sheetOf())
	at := margin
	if caution != "" {
		at = d.text(margin, y-footLine, bold, 9, caution) + 4
	}
	d.boxes(at, y-footLine)
}

// issuedWords say when sheets were made, after some words; "" where that is not
// said.
func issuedWords(at time.Time, after string) string {
	if at.IsZero() {
		return ""
	}
	return after + at.Format("2 January 2006, 15:04")
}

// boxes says what a box stands for, where the page has one.
func (d *doc) boxes(x, y float64) {
	if d.missing {
		d.text(x, y, regular, 8, string(unknown)+" is a letter that this file has no drawing of; the page on the screen has it.")
	}
}

func (d *doc) sheetOf() string { return fmt.Sprintf("sheet %d of %d", d.page, d.pages) }
