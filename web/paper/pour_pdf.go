package paper

import (
	"fmt"
	"strconv"
	"time"

	"oddcup/session"
)

// The columns and rows of a pour sheet, mm.
const (
	seatColumn  = 14.0
	timeColumn  = 17.0
	tempColumn  = 14.0
	rowHeight   = 8.9
	widestCup   = 37.0 // a column of one cup
	widestHalf  = 54.0 // the columns of one vessel, by vessel
	digitHeight = 4.5
	codeWidth   = 10.5 // of three digits
	markSize    = 4.8
	tickSize    = 4.4
)

// table is where the columns and rows of a page stand.
type table struct {
	left, right float64
	cups        []float64 // left edges of the cups' columns, and the right edge of the last
	time        float64   // left edges
	temp        float64
	remark      float64
	row         float64 // height of a row
}

// newTable lays out n columns for cups from y on, none wider than widest, so that 24 rows and what
// stands besides fit the page. Without room for a remark there is none.
func (d *doc) newTable(y float64, n int, widest, besides, remark float64) table {
	t := table{left: margin, right: d.size().Width - margin}
	cup := min(widest, (t.right-t.left-seatColumn-timeColumn-tempColumn-remark)/float64(n))
	for i := range n + 1 {
		t.cups = append(t.cups, t.left+seatColumn+cup*float64(i))
	}
	t.time = t.cups[n]
	t.temp = t.time + timeColumn
	t.remark = t.temp + tempColumn
	t.row = min(rowHeight, (d.size().Height-margin-11-footLine-y-besides)/traysASheet)
	return t
}

// heads sets the heads of the columns and gives where the rows begin.
func (d *doc) heads(t table, y float64, cups []string) float64 {
	d.text(t.left, y+4, regular, 8, "seat")
	for i, words := range cups {
		d.text(t.cups[i], y+4, regular, 8, words)
	}
	d.text(t.time+1.5, y+4, regular, 8, "time")
	d.text(t.temp+1.5, y+4, regular, 8, "°C")
	if t.remark < t.right-1 {
		d.text(t.remark+1.5, y+4, regular, 8, "remark")
	}
	d.line(t.left, y+6, t.right, y+6, thinLine)
	return y + 6
}

// fields draws the lines of a row between which things are written by hand; a
// dead tray is struck out, and says why in their place, as one that was poured
// says when.
func (d *doc) fields(t table, y float64, last bool, tray session.PourTray) {
	words := StateWords(tray, func(at time.Time) string { return at.In(d.head.Issued.Location()).Format("15:04") })
	if words != "" {
		if tray.Dead != "" {
			d.line(t.left, y+t.row/2, t.cups[len(t.cups)-1]-1, y+t.row/2, heavy)
		}
		room := min(t.right, max(t.remark, t.time+timeColumn+tempColumn)) - t.time - 2
		d.text(t.time+1, y+t.row/2+1.2, bold, d.fit(bold, 8, 6, room, words), words)
	}
	for _, x := range []float64{t.time, t.temp, t.remark} {
		if x > t.right-1 || x == t.temp && words != "" {
			continue
		}
		d.line(x, y, x, y+t.row, hairline)
	}
	width := hairline
	if last {
		width = heavy
	}
	d.line(t.left, y+t.row, t.right, y+t.row, width)
}

// cell draws a cup: its code, the mark of its vessel, and a box to tick where it
// is to be poured. Place
// stands before it where the column doesn't tell it.
func (d *doc) cell(t table, x, y float64, cup session.PourCup, place string, room float64, tick bool) {
	if place != "" {
		const placeWidth = 8.6
		d.text(x, y+t.row/2+0.9, regular, 7, place)
		x, room = x+placeWidth, room-placeWidth
	}
	gap := min(2.4, (room-codeWidth-markSize-tickSize)/4.5)
	x += d.code(x, y+(t.row-digitHeight)/2, digitHeight, cup.Code) + gap
	d.vessel(x, y+(t.row-markSize)/2, markSize, cup.Vessel)
	if tick {
		d.box(x+markSize+2*gap, y+(t.row-tickSize)/2, tickSize, hairline)
	}
}

// counts sets how many cups each vessel fills, from x on, and gives the end.
func (d *doc) counts(x, y float64, size float64, vessels []VesselCount, words func(VesselCount) string, all string) float64 {
	for _, v := range vessels {
		d.vessel(x, y-0.78*markSize, markSize, v.Vessel)
		x = d.text(x+markSize+2.2, y, regular, size, words(v)) + 7
	}
	return d.text(x, y, bold, d.fit(bold, size, 6.5, d.size().Width-margin-x, all), all)
}

// PourPDF writes a pour sheet. It shows the key: it is for the pourer alone.
func PourPDF(h Head, size Size, s PourSheet) ([]byte, error) {
	d := newDoc(h, "Pour sheet", size, len(s.Pages))
	for _, p := range s.Pages {
		d.next()
		y := d.sheetHead(PourFor, p.Title) + 7
		d.counts(margin, y, 9.5, p.Vessels, func(v VesselCount) string {
			return fmt.Sprintf("vessel with the %s: %s", v.Vessel, counted(v.Cups, "cup"))
		}, p.CupsWords())
		y = d.wrap(margin, y+6.2, d.size().Width-2*margin, regular, 9.5, Fill(h.Serving)+" "+p.How())
		y -= 2.2
		if p.ByVessel() {
			y = d.byVessel(p, y)
		} else {
			y = d.inTrayOrder(p, y)
		}
		if p.Page == p.All && p.All > 1 {
			d.counts(margin, y+6.5, 8, s.Vessels, func(v VesselCount) string {
				return "all sheets: " + counted(v.Cups, "cup")
			}, fmt.Sprintf("%s on all %d sheets", counted(s.Cups, "cup"), p.All))
		}
		d.sheetFoot(HotFoot)
	}
	return d.bytes()
}

func (d *doc) inTrayOrder(p PourPage, y float64) float64 {
	t := d.newTable(y, len(p.Places), widestCup, 6, 14)
	y = d.heads(t, y, p.Places)
	for _, b := range p.Blocks {
		for i, tray := range b.Trays {
			d.digits(t.left, y+(t.row-digitHeight)/2, digitHeight, strconv.Itoa(tray.Seat))
			for j, cup := range tray.Cups {
				d.cell(t, t.cups[j], y, cup, "", t.cups[j+1]-t.cups[j], tray.ToPour())
			}
			d.fields(t, y, i == len(b.Trays)-1, tray)
			y += t.row
		}
	}
	return y
}

// byVessel draws a page's blocks in two halves, with a head for each block.
func (d *doc) byVessel(p PourPage, y float64) float64 {
	const head = 6.5
	// A half of one cup has room for its head.
	t := d.newTable(y, 2*p.Slots, max(widestCup, widestHalf/float64(p.Slots)), 6+head*traysASheet/blockOfTrays, 0)
	y = d.heads(t, y, nil)
	for _, b := range p.Blocks {
		for half, v := range []VesselCount{b.First, b.Then} {
			x := t.cups[half*p.Slots]
			d.vessel(x, y+(head-4)/2, 4, v.Vessel)
			order := []string{"first", "then"}[half]
			words := fmt.Sprintf("%s the %s, %s", order, v.Vessel, counted(v.Cups, "cup"))
			room := t.cups[(half+1)*p.Slots] - x - 7.5
			d.text(x+6, y+head/2+1.2, bold, d.fit(bold, 9.5, 7, room, words), words)
		}
		top := y
		y += head
		d.line(t.left, y, t.right, y, hairline)
		for i, row := range b.Rows {
			d.digits(t.left, y+(t.row-digitHeight)/2, digitHeight, strconv.Itoa(row.Seat))
			for j, cup := range append(append([]PlacedCup(nil), row.First...), row.Then...) {
				if cup.Code != 0 {
					d.cell(t, t.cups[j], y, cup.PourCup, cup.Place, t.cups[j+1]-t.cups[j], row.ToPour())
				}
			}
			d.fields(t, y, i == len(b.Rows)-1, row.PourTray)
			y += t.row
		}
		middle := t.cups[p.Slots] - 0.8
		d.line(middle, top, middle, y, thinLine)
	}
	return y
}

// WorksheetPDF writes blank worksheets.
func WorksheetPDF(h Head, size Size, sheets []Worksheet) ([]byte, error) {
	d := newDoc(h, "Blank worksheet", size, len(sheets))
	for _, s := range sheets {
		d.next()
		y := d.sheetHead(WorksheetFor, s.Title) + 8
		x := margin
		for _, words := range []string{"set", "date", "poured by"} {
			x = d.text(x, y, regular, 9.5, words) + 2
			length := map[string]float64{"set": 12, "date": 30, "poured by": 50}[words]
			d.line(x, y+0.8, x+length, y+0.8, hairline)
			x += length + 6
		}
		y = d.wrap(margin, y+6.2, d.size().Width-2*margin, regular, 9.5, s.How)
		y -= 2.2
		t := d.newTable(y, len(s.Places), widestCup, 6, 14)
		y = d.heads(t, y, s.Places)
		for _, block := range s.Rows() {
			for i := range block {
				d.line(t.left, y+t.row-2, t.left+seatColumn-4, y+t.row-2, hairline)
				for j := range s.Places {
					room := t.cups[j+1] - t.cups[j]
					gap := min(2.4, (room-codeWidth-6-tickSize)/4)
					at := t.cups[j]
					d.line(at, y+t.row-2, at+codeWidth, y+t.row-2, hairline)
					at += codeWidth + gap
					d.box(at, y+(t.row-6)/2, 6, thinLine)
					d.box(at+6+gap, y+(t.row-tickSize)/2, tickSize, hairline)
				}
				d.fields(t, y, i == len(block)-1, session.PourTray{})
				y += t.row
			}
		}
		d.sheetFoot(HotFoot)
	}
	return d.bytes()
}
