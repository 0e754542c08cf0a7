package paper

import (
	"fmt"
	"strconv"

	"oddcup/session"
	"oddcup/web/look"
)

const (
	traysACard  = 6 // tray cards on a page
	seatsASheet = 2 // seat cards on a page
)

// TrayPages are tray cards, six a page.
func TrayPages(trays []Tray) []Page[Tray] { return Deal(trays, traysACard) }

// TrayCardsPDF writes tray cards: the cups in their places, each over its code.
func TrayCardsPDF(h Head, size Size, pages []Page[Tray]) ([]byte, error) {
	d := newDoc(h, "Tray cards", size, len(pages))
	w, height := (size.Width-2*margin)/2, (size.Height-2*margin)/3
	for _, p := range pages {
		d.next()
		for i, t := range p.Items {
			d.trayCard(margin+float64(i%2)*w, margin+float64(i/2)*height, w, height, t)
		}
		d.boxes(margin, size.Height-6)
	}
	return d.bytes()
}

func (d *doc) trayCard(x, y, w, h float64, t Tray) {
	const inset, seatHeight = 6, 10
	for _, l := range [][4]float64{{x, y, x + w, y}, {x + w, y, x + w, y + h}, {x, y + h, x + w, y + h}, {x, y, x, y + h}} {
		d.dashed(l[0], l[1], l[2], l[3])
	}
	left, right := x+inset, x+w-inset
	end := d.text(left, y+inset+seatHeight-1, bold, 12, "seat")
	d.digits(end+3, y+inset, seatHeight, strconv.Itoa(t.Seat))
	d.right(right, y+inset+seatHeight-1, bold, 12, t.SetWords())

	n := float64(len(t.Cups))
	column := (right - left) / n
	cup := min(22, column-4)
	code := min(9, (column-3)*100/232)
	// What stands below the head and above the foot is set in the middle.
	block := cup + 4 + code + 7
	top := y + inset + seatHeight + (h-2*inset-seatHeight-4-block)/2
	for i, c := range t.Cups {
		at := left + column*(float64(i)+0.5)
		d.draw(look.CupDrawing(), at-cup/2, top, cup)
		if c.Reference {
			d.middle(at, top+cup/2+0.36*18*pt, bold, 18, "R")
		}
		d.code(at-digitsWidth(code, strconv.Itoa(int(c.Code)))/2, top+cup+4, code, c.Code)
		d.middle(at, top+cup+4+code+6, bold, 9.5, c.Word())
	}
	d.cardFoot(left, y+h-inset+1, right-left)
}

// cardFoot sets the line at the foot of a card.
func (d *doc) cardFoot(x, y, width float64) {
	rest := " · seal " + session.ShortDigest(d.head.Digest) + " · " + d.sheetOf()
	d.face(regular, 8)
	room := width - d.f.GetStringWidth(rest)
	end := d.text(x, y, regular, 8, d.cut(regular, 8, room, d.head.name()))
	d.text(end, y, regular, 8, rest)
}

// SeatCard is what stands at a place on the table.
type SeatCard struct {
	Seat    int
	Link    string // that the QR code holds; "" while the address isn't known
	Address string // the same, to type by hand
	Door    string
}

// SeatPages are seat cards, two a page.
func SeatPages(cards []SeatCard) []Page[SeatCard] { return Deal(cards, seatsASheet) }

// SeatCardsPDF writes seat cards.
func SeatCardsPDF(h Head, size Size, pages []Page[SeatCard]) ([]byte, error) {
	d := newDoc(h, "Seat cards", size, len(pages))
	height := size.Height / seatsASheet
	for _, p := range pages {
		d.next()
		for i, c := range p.Items {
			y := float64(i) * height
			if i > 0 {
				d.dashed(0, y, size.Width, y)
			}
			d.seatCard(y, height, c)
		}
		d.boxes(margin, size.Height-6)
	}
	return d.bytes()
}

func (d *doc) seatCard(y, h float64, c SeatCard) {
	const left, tapeWidth, tapeHeight = 18.0, 88.0, 58.0
	right := left + 92 + 18
	d.text(left, y+20, bold, 17, "Your place")
	d.draw(look.TapeDrawing(332, 332*tapeHeight/tapeWidth), left, y+26, tapeHeight)
	top, digits, under, width := look.TapeLines(tapeHeight)
	seat := strconv.Itoa(c.Seat)
	w := digitsWidth(digits, seat)
	d.digits(left+(tapeWidth-w)/2, y+26+top, digits, seat)
	d.line(left+(tapeWidth-w)/2, y+26+under, left+(tapeWidth+w)/2, y+26+under, width)
	line := y + 26 + tapeHeight + 5
	for _, words := range []string{"Sit down first, then point the phone’s camera at the square.", "No phone, or it does not go through? Raise this card."} {
		d.line(left, line, left+92, line, hairline)
		line = d.wrap(left, line+6, 92, regular, 12, words) - 3
	}

	const qr = 62.0
	at := y + 15.0
	if c.Link != "" {
		d.qr(right-4, at, qr, c.Link)
	} else {
		d.wrap(right, at+8, 54, regular, 9.5, "The address for phones is not known yet: print this card once they reach the laptop.")
	}
	at += qr + 5
	end := d.text(right, at, regular, 9.5, "By hand: Wi-Fi ")
	d.line(end, at+0.8, right+60, at+0.8, hairline)
	if at += 7; c.Address == "" {
		end = d.text(right, at, regular, 9.5, "then open ")
		d.line(end, at+0.8, right+60, at+0.8, hairline)
	} else {
		d.text(right, at, regular, 9.5, "then open")
		at += 6
		// Cut short it would lead nowhere: a long one is set smaller.
		room := d.size().Width - right - 12
		size := d.fit(bold, 13, 8, room, c.Address)
		d.text(right, at, bold, size, d.cut(bold, size, room, c.Address))
	}
	at += 7
	end = d.text(right, at, regular, 9.5, "seat code ")
	d.text(end, at, bold, 13, c.Door)
	d.cardFoot(left, y+h-11, d.size().Width-2*left)
}

// qr draws a QR code, size mm wide with its quiet zone.
func (d *doc) qr(x, y, size float64, text string) {
	side, zone, black, err := look.QRModules(text)
	if err != nil {
		d.f.SetError(err)
		return
	}
	module := size / float64(side+2*zone)
	for row := range side {
		for column := 0; column < side; column++ {
			if !black(column, row) {
				continue
			}
			run := 1
			for black(column+run, row) {
				run++
			}
			// Rows overlap by a hair, so that no printer leaves a gap.
			d.f.Rect(x+module*float64(zone+column), y+module*float64(zone+row), module*float64(run), module*1.01, "F")
			column += run
		}
	}
}

// Ballot is one tray's paper ballot.
type Ballot struct {
	Tray
	Page, All int
}

// Ballots are the ballots of trays, one a page.
func Ballots(trays []Tray) []Ballot {
	var all []Ballot
	for i, t := range trays {
		all = append(all, Ballot{t, i + 1, len(trays)})
	}
	return all
}

// Ask is the question, as the phone has it.
func (b Ballot) Ask() string { return b.Method.Ask(b.Test) }

// Marks says what is to be marked.
func (b Ballot) Marks() string {
	if b.Method.Picks == 2 {
		return "Mark two cups: the two that are the same. If you are not sure, mark two all the same."
	}
	return "Mark one cup. If you are not sure, mark one all the same."
}

// BallotsPDF writes paper ballots.
func BallotsPDF(h Head, size Size, ballots []Ballot) ([]byte, error) {
	d := newDoc(h, "Paper ballots", size, len(ballots))
	for _, b := range ballots {
		d.next()
		d.ballot(b)
	}
	return d.bytes()
}

func (d *doc) ballot(b Ballot) {
	width := d.size().Width - 2*margin
	y := d.sheetHead("Paper ballot", fmt.Sprintf("Seat %d, %s", b.Seat, b.SetWords())) + 12
	end := d.text(margin, y, regular, 12, "name ")
	d.line(end, y+1, end+70, y+1, hairline)
	y += 13
	size := d.ballotSize(b, y)
	if b.Test.Definition != "" {
		y = d.wrap(margin, y, width, regular, size, b.Test.Definition) + 2
	}
	y = d.wrap(margin, y+2, width, bold, size*askLarger, b.Ask()) + 2
	y = d.wrap(margin, y, width, regular, size, b.Hint+" "+b.Marks()) + 2
	for _, words := range b.Cautions {
		y = d.wrap(margin, y, width, regular, size, words) + 2
	}
	y += 10

	const tick, code = 10.0, 15.0
	column := width / float64(max(3, len(b.Cups)))
	for i, c := range b.Cups {
		at := margin + column*(float64(i)+0.5)
		if c.Reference {
			d.middle(at, y+0.73*27*pt, bold, 27, "R")
		} else {
			d.box(at-tick/2, y, tick, thinLine)
		}
		d.code(at-digitsWidth(code, strconv.Itoa(int(c.Code)))/2, y+tick+6, code, c.Code)
		d.middle(at, y+tick+6+code+8, bold, 12, c.Word())
	}
	y += tick + 6 + code + 8 + 18
	d.box(margin, y-4.6, 6, thinLine)
	y = d.wrap(margin+10, y, width, regular, 12, "I was guessing") + 6
	d.wrap(margin, y, width, regular, 12, "Hand this sheet back before the next set. What is marked stays as it is.")
	d.sheetFoot("")
}

// askLarger is how much larger the question is than the words about it.
const askLarger = 17.0 / 12

// ballotSize is the largest size, from 12 down to 7 points, at which the words of a
// ballot leave room for its cups, from y on.
func (d *doc) ballotSize(b Ballot, y float64) float64 {
	const cups = 86 // mm, from the last caution to the foot
	room := d.size().Height - margin - cups - y
	size := 12.0
	for ; size > 7; size -= 0.5 {
		high := 6.0
		for _, words := range append([]string{b.Test.Definition, b.Hint + " " + b.Marks()}, b.Cautions...) {
			high += d.high(d.size().Width-2*margin, regular, size, words) + 2
		}
		if high+d.high(d.size().Width-2*margin, bold, size*askLarger, b.Ask()) <= room {
			break
		}
	}
	return size
}
