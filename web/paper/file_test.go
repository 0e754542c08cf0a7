package paper

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/web/look"
)

// checkSize reads the size of a file's pages, and how many there are.
func checkSize(t *testing.T, pdf []byte, want Size, pages int) {
	t.Helper()
	info := string(poppler(t, pdf, "pdfinfo", "FILE"))
	m := regexp.MustCompile(`Page size:\s+([\d.]+) x ([\d.]+) pts`).FindStringSubmatch(info)
	n := regexp.MustCompile(`Pages:\s+(\d+)`).FindStringSubmatch(info)
	if m == nil || n == nil {
		t.Fatalf("pdfinfo says %q", info)
	}
	w, _ := strconv.ParseFloat(m[1], 64)
	h, _ := strconv.ParseFloat(m[2], 64)
	if math.Abs(w*pt-want.Width) > 0.2 || math.Abs(h*pt-want.Height) > 0.2 || n[1] != fmt.Sprint(pages) {
		t.Errorf("%s pages of %.1f by %.1f mm, want %d of %.1f by %.1f", n[1], w*pt, h*pt, pages, want.Width, want.Height)
	}
}

// picture is a page in grey.
type picture struct {
	width, height int
	perMM         float64
	grey          []byte
}

// rendered draws a page, from 1.
func rendered(t testing.TB, pdf []byte, page, dpi int) picture {
	t.Helper()
	n := strconv.Itoa(page)
	out := poppler(t, pdf, "pdftoppm", "-gray", "-r", strconv.Itoa(dpi), "-f", n, "-l", n, "FILE")
	var p picture
	var most int
	if _, err := fmt.Sscanf(string(out[:min(64, len(out))]), "P5\n%d %d\n%d\n", &p.width, &p.height, &most); err != nil || most != 255 {
		t.Fatalf("pdftoppm gives %q: %v", out[:min(20, len(out))], err)
	}
	p.grey = out[len(out)-p.width*p.height:]
	p.perMM = float64(dpi) / 25.4
	return p
}

// in counts the dots of ink in a rectangle, mm.
func (p picture) in(left, top, right, foot float64) int {
	n := 0
	for y := max(0, int(math.Ceil(top*p.perMM))); y < min(p.height, int(foot*p.perMM)); y++ {
		for x := max(0, int(math.Ceil(left*p.perMM))); x < min(p.width, int(right*p.perMM)); x++ {
			if p.grey[y*p.width+x] < 128 {
				n++
			}
		}
	}
	return n
}

// shape samples a rectangle to a fixed number of dots, so that shapes of one
// size can be laid over each other.
func (p picture) shape(left, top, right, foot float64) []float64 {
	const w, h = 14, 20
	s := make([]float64, 0, w*h)
	for j := range h {
		for i := range w {
			x := (left + (right-left)*(float64(i)+0.5)/w) * p.perMM
			y := (top + (foot-top)*(float64(j)+0.5)/h) * p.perMM
			s = append(s, 1-float64(p.grey[int(y)*p.width+int(x)])/255)
		}
	}
	return s
}

func distance(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += math.Abs(a[i] - b[i])
	}
	return sum / float64(len(a))
}

// TestWhatIsReadIsWhatIsDrawn: codes, seats and marks are drawings with text laid
// over them. Every drawing that reads as one digit, or one mark, must look like
// all others that read so, and unlike all that read otherwise. And a digit must
// look as the drawn digits of a page do, its own drawing next to it.
func TestWhatIsReadIsWhatIsDrawn(t *testing.T) {
	s, _ := sealed(t, planOf(24, testOf(session.Triangle, 1)), 8)
	pdf := must(t)(PourPDF(headOf(s), A4, pourSheet(t, s, false)))
	page := rendered(t, pdf, 1, 200)
	shapes := map[string][][]float64{}
	code := regexp.MustCompile(`^\d{3}$`)
	d, _ := look.DigitsDrawing("000")
	// The table begins below its heads, and the text of a code is as wide as its
	// drawing.
	for _, w := range words(t, pdf) {
		switch {
		case w.page > 0 || w.top < 45 || w.left < margin+seatColumn-1:
		case code.MatchString(w.text):
			unit := (w.right - w.left) / d.Width
			for i, digit := range strings.Split(w.text, "") {
				left := w.left + d.Parts[i].X*unit
				shapes[digit] = append(shapes[digit], page.shape(left, w.top, left+60*unit, w.foot))
			}
		case strings.Contains("●◊×", w.text):
			shapes[w.text] = append(shapes[w.text], page.shape(w.left, w.top, w.right, w.foot))
		}
	}
	if len(shapes) != 12 {
		t.Fatalf("%d kinds of shapes, want ten digits and two marks", len(shapes))
	}
	worst, nearest := 0.0, 1.0
	for a, list := range shapes {
		if len(list) < 5 {
			t.Errorf("%s stands %d times: too few to compare", a, len(list))
		}
		for _, s := range list {
			worst = max(worst, distance(s, list[0]))
		}
		for b, others := range shapes {
			if a != b {
				nearest = min(nearest, distance(list[0], others[0]))
			}
		}
	}
	if nearest < 1.5*worst || nearest < 0.15 {
		t.Errorf("shapes that read alike differ by up to %.3f, shapes that read otherwise by %.3f or more", worst, nearest)
	}
	// The disc is full, the diamond hollow.
	for mark, full := range map[string]bool{"●": true, "◊": false} {
		middle := shapes[mark][0][10*14+7]
		if (middle > 0.5) != full {
			t.Errorf("the middle of %s has ink %.2f", mark, middle)
		}
	}
}

// Every kind of sheet, on both sizes of paper and all stocks, is of its size,
// carries seal and number on each page, and keeps within the paper.
func TestEverySheetIsWhole(t *testing.T) {
	s, _ := sealed(t, planOf(26, testOf(session.Triangle, 1), testOf(session.PairedComparison, 1)), 3)
	seal := session.ShortDigest(s.Digest)
	all := kinds(t, s)
	if len(all) != 2*6+len(Stocks) {
		t.Fatalf("%d kinds", len(all))
	}
	codes := map[string]bool{}
	for _, tray := range Trays(s, s.Listed()) {
		for _, cup := range tray.Cups {
			codes[fmt.Sprint(int(cup.Code))] = true
		}
	}
	for name, pdf := range all {
		pages := strings.Split(strings.TrimSuffix(layoutText(t, pdf), "\f"), "\f")
		size, free := A4, margin-2
		if strings.HasSuffix(name, "-letter") {
			size = Letter
		}
		if key, ok := strings.CutPrefix(name, "labels-"); ok {
			stock, _ := StockByKey(key)
			size, free = stock.Paper, 2
		}
		checkSize(t, pdf, size, len(pages))
		for i, page := range pages {
			if !strings.Contains(page, seal) || !strings.Contains(strings.Join(strings.Fields(page), " "), fmt.Sprintf("sheet %d of %d", i+1, len(pages))) {
				t.Errorf("%s: page %d has no seal or no number", name, i+1)
			}
		}
		seen := map[string]int{}
		stand := words(t, pdf)
		for i, w := range stand {
			if codes[w.text] && (i+1 == len(stand) || stand[i+1].text != "mg") { // a mass is no code
				seen[w.text]++
			}
			if w.left < free || w.right > size.Width-free || w.top < free-1 || w.foot > size.Height-free+1 {
				t.Errorf("%s: page %d: %q reaches within %.0f mm of the edge", name, w.page+1, w.text, free)
			}
		}
		want, held := 1, 0
		if strings.HasPrefix(name, "seats-") || strings.HasPrefix(name, "worksheet-") {
			want = 0
		}
		for code := range codes {
			if n, _ := strconv.Atoi(code); n <= len(pages) || n == len(codes) {
				continue // also the number of a page, or of all cups
			}
			held += seen[code]
			if seen[code] != want {
				t.Errorf("%s: code %s stands %d times, want %d", name, code, seen[code], want)
			}
		}
		if want == 1 && held < 110 {
			t.Errorf("%s: %d codes were looked for", name, held)
		}
	}
}

// No word stands on another one, on full pages with the longest date and a letter
// that the fonts don't have: the caution least of all.
func TestNoWordStandsOnAnother(t *testing.T) {
	p := planOf(traysASheet, testOf(session.Triangle, 1), testOf(session.PairedComparison, 1))
	p.Title = "Wednesday’s second comparison, \u4e00 flights one to three"
	s, _ := sealed(t, p, 3)
	h := headOf(s)
	h.Issued = time.Date(2028, 9, 27, 20, 48, 0, 0, time.UTC)
	h.Notes = []string{"Wednesday, 27 September 2028", "opened 20:48, journalled"}
	h.Broken = "Seal broken at 20:40, 27 September 2028, before the reveal"
	for name, pdf := range kindsUnder(t, s, h) {
		byPage := map[int][]word{}
		printed := 0
		for _, w := range words(t, pdf) {
			byPage[w.page] = append(byPage[w.page], w)
			if w.text == "printed" {
				printed++
			}
		}
		kind, _, _ := strings.Cut(name, "-")
		if slices.Contains([]string{"pour", "vessels", "worksheet", "ballots"}, kind) && printed < len(byPage) {
			t.Errorf("%s: %d of %d sheets say when they were printed", name, printed, len(byPage))
		}
		for page, all := range byPage {
			for i, a := range all {
				for _, b := range all[:i] {
					wide := min(a.right, b.right) - max(a.left, b.left)
					high := min(a.foot, b.foot) - max(a.top, b.top)
					// Lines of letters may touch with the room that a font keeps above them.
					if wide > 0.3 && high > 0.35*min(a.foot-a.top, b.foot-b.top) {
						t.Errorf("%s, page %d: %q stands on %q", name, page+1, a.text, b.text)
					}
				}
			}
		}
	}
}

// The same sheets give the same bytes, whatever the hour.
func TestSameSheetsGiveTheSameBytes(t *testing.T) {
	s, _ := sealed(t, planOf(26, testOf(session.Tetrad, 1)), 3)
	one := kinds(t, s)
	time.Sleep(1100 * time.Millisecond) // a clock of whole seconds would show
	for name, again := range kinds(t, s) {
		if !bytes.Equal(one[name], again) {
			t.Errorf("%s has other bytes the second time", name)
		}
		if info := string(poppler(t, again, "pdfinfo", "-isodates", "FILE")); !strings.Contains(info, "2031-03-05T12:00:00") || strings.Contains(info, "2026") {
			t.Errorf("%s is not dated by the seal: %s", name, info)
		}
	}
}

// Under another key the host's files are the same to the byte, and the pour
// sheet is not.
func TestFilesTellNothingOfTheKey(t *testing.T) {
	p := planOf(8, testOf(session.Triangle, 1))
	s, sealing := sealed(t, p, 3)
	one := kinds(t, s) // before the layout, which the session shares, changes
	for seat := range sealing.Layout.Seats {
		set := &sealing.Layout.Seats[seat][0]
		orders := session.Triangle.Orders
		set.Order = orders[(slices.Index(orders, set.Order)+1)%len(orders)]
	}
	other := session.NewState(s.ID)
	do(t, other, session.Draft{Plan: p}, session.SetPin{Pin: testPin})
	other.Apply(session.Recorded{Seq: 3, At: noon, Actor: session.Host, Event: &session.Sealed{
		Plan: p, Layout: sealing.Layout, Seed: session.Hash(sealing.Seed), Salt: session.Hash(sealing.Salt), Digest: sealing.Digest,
	}})
	two := kinds(t, other)
	for name := range one {
		pours := strings.HasPrefix(name, "pour-") || strings.HasPrefix(name, "vessels-")
		if same := bytes.Equal(one[name], two[name]); same == pours {
			t.Errorf("%s is the same under two keys: %v", name, same)
		}
	}
}

// What people type comes through, whatever alphabet it is in; a letter that the
// font doesn't have is a box, and the sheet says so. No text is too long.
func TestTitlesInAllAlphabets(t *testing.T) {
	s, _ := sealed(t, planOf(4, testOf(session.Triangle, 1)), 3)
	trays := Trays(s, s.Listed())
	for title, want := range map[string]string{
		"Žofie – 5 °C “α β” 10′ Đặng Ωμέγα Житё":  "Žofie – 5 °C “α β” 10′ Đặng Ωμέγα Житё",
		"漢字 \U0001F600 \x00 tab\t and (paren) \\": "□□ □ tab and (paren) \\",
		strings.Repeat("W", 80):                   "WWWWWW",
		"":                                        "Seat 1",
	} {
		h := headOf(s)
		h.Title = title
		ok := must(t)
		files := [][]byte{ok(BallotsPDF(h, A4, Ballots(trays))), ok(TrayCardsPDF(h, Letter, TrayPages(trays)))}
		for i, b := range files {
			got := strings.Join(strings.Fields(string(poppler(t, b, "pdftotext", "-raw", "-f", "1", "-l", "1", "FILE", "-"))), " ")
			said := want
			if r := []rune(want); i == 1 && len(r) > 16 {
				said = string(r[:16]) // the foot of a card is short
			}
			if !strings.Contains(strings.ToLower(got), strings.ToLower(said)) {
				t.Errorf("title %q reads %q", title, got)
			}
			if boxes := strings.Contains(got, "has no drawing of"); boxes != strings.Contains(said, "□") {
				t.Errorf("title %q, file %d: the sheet explains the box: %v", title, i, boxes)
			}
		}
		b := files[0]
		for _, w := range words(t, b) {
			if w.right > A4.Width-margin+0.5 || w.left < margin-0.5 {
				t.Errorf("title %q: %q runs out of the sheet", title, w.text)
			}
		}
	}
}

// A broken seal stands on every sheet.
func TestBrokenSealStandsOnEverySheet(t *testing.T) {
	s, _ := sealed(t, planOf(26, testOf(session.Triangle, 1)), 3)
	h := headOf(s)
	h.Broken = "Seal broken at 12:10, 5 March, before the reveal."
	trays := Trays(s, s.Listed())
	ok := must(t)
	for name, b := range map[string][]byte{
		"pour": ok(PourPDF(h, A4, pourSheet(t, s, false))), "trays": ok(TrayCardsPDF(h, A4, TrayPages(trays))),
		"ballots": ok(BallotsPDF(h, A4, Ballots(trays))), "labels": ok(LabelsPDF(h, Stocks[0], LabelPages(trays, Stocks[0], 1))),
	} {
		for i, page := range strings.Split(strings.TrimSuffix(layoutText(t, b), "\f"), "\f") {
			if !strings.Contains(strings.ToLower(page), "seal broken") {
				t.Errorf("%s: page %d does not say that the seal was broken", name, i+1)
			}
		}
	}
}

// A seat card's code is drawn so that it can be read back: its modules are those
// of the address, its quiet zone four modules wide (ISO/IEC 18004).
func TestSeatCardHoldsItsAddress(t *testing.T) {
	const link = "http://192.0.2.14:7734/j/7KQ2MX"
	s, _ := sealed(t, planOf(4, testOf(session.Triangle, 1)), 3)
	pdf := must(t)(SeatCardsPDF(headOf(s), A4, SeatPages([]SeatCard{{Seat: 7, Link: link, Address: "192.0.2.14:7734", Door: "7KQ2MX"}})))
	page := rendered(t, pdf, 1, 150)
	side, zone, black, err := look.QRModules(link)
	if err != nil {
		t.Fatal(err)
	}
	const x, y, size = 18 + 92 + 18 - 4.0, 15.0, 62.0
	module := size / float64(side+2*zone)
	for row := range side {
		for column := range side {
			cx, cy := x+module*(float64(zone+column)+0.5), y+module*(float64(zone+row)+0.5)
			if got := page.in(cx-0.3, cy-0.3, cx+0.3, cy+0.3) > 0; got != black(column, row) {
				t.Fatalf("module %d, %d is black: %v", column, row, got)
			}
		}
	}
	if n := page.in(x, y, x+size, y+4*module-0.2) + page.in(x, y, x+4*module-0.2, y+size); n > 0 {
		t.Errorf("%d dots in the quiet zone", n)
	}
	got := layoutText(t, pdf)
	for _, want := range []string{"192.0.2.14:7734", "7KQ2MX", "Your place", "7"} {
		if !strings.Contains(got, want) {
			t.Errorf("the card does not say %q", want)
		}
	}
}
