package console

import (
	"fmt"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

var (
	labelCode = regexp.MustCompile(`(?s)<li class="label"><span class="label-code">.*?aria-label="(\d{3})".*?</li>`)
	anyCode   = regexp.MustCompile(`aria-label="(\d{3})"`)
)

func codesOf(re *regexp.Regexp, body string) []string {
	var all []string
	for _, m := range re.FindAllStringSubmatch(body, -1) {
		all = append(all, m[1])
	}
	return all
}

// wanted are the codes of the trays of the listed seats, set by set.
func wanted(s *session.State) []string {
	var all []string
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		for _, seat := range s.Listed() {
			for _, code := range s.Codes(seat, set, 0) {
				all = append(all, fmt.Sprint(code))
			}
		}
	}
	return all
}

func TestLabelsHoldEveryCodeOfTheListedSeatsOnce(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(12)
	at := "/s/" + string(id) + "/print/"
	check := func(seats int) {
		t.Helper()
		want := wanted(d.room(id).State())
		if len(want) != seats*5 {
			t.Fatalf("%d codes are wanted, want %d", len(want), seats*5)
		}
		if got := codesOf(labelCode, d.page(at+"labels")); !slices.Equal(got, want) {
			t.Errorf("%d seats: labels hold\n%v, want\n%v", seats, got, want)
		}
		for _, page := range []string{"trays", "ballots"} {
			got := codesOf(anyCode, d.page(at+page))
			slices.Sort(got)
			sorted := slices.Sorted(slices.Values(want))
			if !slices.Equal(got, sorted) {
				t.Errorf("%d seats: %s hold %d codes, want %d", seats, page, len(got), len(sorted))
			}
		}
	}
	check(12)
	d.open(id, 7)
	check(7)
	// 7 triangles are 21 labels, 7 pairs 14; each set begins a sheet.
	d.says(d.page(at+"labels"), "sheet 1 of 2", "sheet 2 of 2", session.ShortDigest(d.room(id).State().Digest))
	if n := strings.Count(d.page(at+"seats"), `class="seat-card"`); n != 7 {
		t.Errorf("%d seat cards, want 7", n)
	}
}

func TestLabelsGoOntoTheChosenStock(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	at := "/s/" + string(id) + "/print/labels"
	body := d.page(at + "?on=letter-30&from=8")
	d.says(body, `class="sheet sheet-labels stock-letter-30"`, `<option value="letter-30" selected>`, "US Letter, 3 by 10")
	if n := strings.Count(body, `class="label-used"`); n != 7 {
		t.Errorf("%d labels are left out, want 7", n)
	}
	if got := codesOf(labelCode, body); !slices.Equal(got, wanted(d.room(id).State())) {
		t.Errorf("the labels hold %v", got)
	}
	// The choice is kept where a replacement's or a seat's labels are asked for.
	d.says(d.page(at+"?seat=2&set=1&on=roll-57"), `<input type="hidden" name="seat" value="2">`, "stock-roll-57")
	for query, status := range map[string]int{
		"?on=nothing": http.StatusNotFound, "?from=0": http.StatusUnprocessableEntity, "?from=25": http.StatusUnprocessableEntity,
		"?from=x": http.StatusUnprocessableEntity, "?from=24": http.StatusOK, "?from=": http.StatusOK, "?on=roll-62&from=9": http.StatusOK,
	} {
		for _, page := range []string{at, at + ".pdf"} {
			if r := d.get(page + query); r.status != status {
				t.Errorf("%s%s: status %d, want %d", page, query, r.status, status)
			}
		}
	}
}

// Every stock that the page offers has its rules in the style sheet.
func TestLabelStyleSheetKnowsEveryStock(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	body := d.page("/s/" + string(id) + "/print/labels")
	css := d.page(regexp.MustCompile(`/a/[0-9a-f]{16}/labels\.css`).FindString(body))
	options := regexp.MustCompile(`<option value="([a-z0-9]+-[0-9x]+)"`).FindAllStringSubmatch(body, -1)
	if len(options) < 7 {
		t.Fatalf("%d stocks are offered", len(options))
	}
	for _, m := range options {
		for _, rule := range []string{"@page stock-" + m[1] + "{", ".stock-" + m[1] + " .label-code{"} {
			if !strings.Contains(css, rule) {
				t.Errorf("the style sheet has no %q", rule)
			}
		}
	}
}

func TestFilesOfWhatIsPrinted(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	at := "/s/" + string(id) + "/print/"
	for _, what := range []string{"labels", "trays", "seats", "ballots", "worksheet"} {
		a4, letter, again := d.get(at+what+".pdf"), d.get(at+what+".pdf?paper=letter"), d.get(at+what+".pdf")
		for _, r := range []reply{a4, letter} {
			if r.status != http.StatusOK || !strings.HasPrefix(r.body, "%PDF-") || r.header.Get("Content-Type") != "application/pdf" ||
				r.header.Get("Cache-Control") != "no-store" || !strings.HasPrefix(r.header.Get("Content-Disposition"), "attachment; filename=") {
				t.Errorf("%s: status %d, headers %v", what, r.status, r.header)
			}
		}
		if a4.body != again.body {
			t.Errorf("%s: the same file has other bytes the second time", what)
		}
		if what != "labels" && a4.body == letter.body {
			t.Errorf("%s: the file for US Letter is that for A4", what)
		}
		d.says(d.page(at+what), at+what+".pdf")
	}
	for _, q := range []string{"ballots.pdf?seat=9", "labels.pdf?seat=9&set=1", "labels.pdf?seat=1&set=1&take=1"} {
		if r := d.get(at + q); r.status != http.StatusNotFound {
			t.Errorf("%s: status %d", q, r.status)
		}
	}
}

func TestReplacementHasLabelsOnceItIsCalled(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	at := "/s/" + string(id) + "/print/labels"
	d.open(id, 6)
	d.do(id, session.Serve{Round: 1})
	spare := d.room(id).State().Codes(2, 1, 1)
	for _, q := range []string{"?seat=2&set=1&take=1", "?seat=2&set=1&take=2", "?seat=9&set=1", "?seat=2&set=3", "?seat=0&set=1", "?seat=2&set=1&take=-1"} {
		if r := d.get(at + q); r.status != http.StatusNotFound {
			t.Errorf("%s before the call: status %d", q, r.status)
		}
	}
	if r := d.get(at + "?seat=two&set=1"); r.status != http.StatusBadRequest {
		t.Errorf("a seat in words: status %d", r.status)
	}
	d.do(id, session.Void{Seat: 2, Set: 1, Reason: d.text("spilled"), Replace: true})
	var want []string
	for _, code := range spare {
		want = append(want, fmt.Sprint(code))
	}
	body := d.page(at + "?seat=2&set=1&take=1")
	if got := codesOf(labelCode, body); !slices.Equal(got, want) {
		t.Errorf("labels of the replacement hold %v, want %v", got, want)
	}
	for _, q := range []string{"?seat=3&set=1&take=1", "?seat=2&set=2&take=1"} {
		if r := d.get(at + q); r.status != http.StatusNotFound {
			t.Errorf("%s, which was not called: status %d", q, r.status)
		}
	}
	d.says(d.page("/s/"+string(id)+"/print"), "labels?seat=2&set=1&take=1", "trays?seat=2&set=1&take=1", "ballots?seat=2&set=1&take=1")
	// Its tray card and its ballot have its codes, alone and among all.
	old := fmt.Sprint(d.room(id).State().Codes(2, 1, 0)[0])
	for _, what := range []string{"trays", "ballots"} {
		page := "/s/" + string(id) + "/print/" + what
		if got := codesOf(anyCode, d.page(page+"?seat=2&set=1&take=1")); !slices.Equal(got, want) {
			t.Errorf("%s of the replacement hold %v, want %v", what, got, want)
		}
		if got := codesOf(anyCode, d.page(page)); !slices.Contains(got, want[0]) || slices.Contains(got, old) {
			t.Errorf("all %s: the tray that was taken out is printed, not its replacement", what)
		}
		d.says(d.page(page+"?seat=2&set=1&take=1"), page+".pdf?seat=2&set=1&take=1&paper=a4", "set 1, again")
		for _, q := range []string{"?seat=3&set=1&take=1", "?seat=2&set=2&take=1"} {
			for _, file := range []string{"", ".pdf"} {
				if r := d.get(page + file + q); r.status != http.StatusNotFound {
					t.Errorf("%s%s%s, which was not called: status %d", what, file, q, r.status)
				}
			}
		}
	}
	if got := codesOf(labelCode, d.page(at)); slices.Contains(got, want[0]) {
		t.Error("the labels of all seats hold a replacement's code")
	}
}

func TestSeatCardLeadsToItsSeat(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	body := d.page("/s/" + string(id) + "/print/seats")
	for seat := 1; seat <= 6; seat++ {
		door := d.room(id).State().PlaceDoor(seat)
		d.says(body, `aria-label="QR code for http://192.0.2.14:7734/j/`+door+`"`, `<p class="address">192.0.2.14:7734/j/`+door+`</p>`, `<b class="door">`+door+`</b>`)
	}
	d.says(body, "sheet 3 of 3")
	d.c.Join = ""
	d.says(d.page("/s/"+string(id)+"/print/seats"), "then open <span")
}

func TestNothingIsPrintedBeforeTheSeal(t *testing.T) {
	d := newDesk(t)
	id := d.drafted()
	for _, page := range []string{"", "/labels", "/trays", "/seats", "/ballots", "/worksheet", "/labels.pdf", "/trays.pdf", "/seats.pdf", "/ballots.pdf", "/worksheet.pdf"} {
		if r := d.get("/s/" + string(id) + "/print" + page); r.status != http.StatusConflict {
			t.Errorf("%s: status %d", page, r.status)
		} else {
			// No dead end: it leads back to the session, not away from it.
			d.says(r.body, `href="/s/`+string(id)+`"`, "Go to the session")
		}
	}
	d.says(d.get("/s/nowhere/print").body, `href="/"`, "Go to the home page")
}

// fixed chance makes two consoles alike but for what a test changes.
type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// TestDeskPagesAreTheSameUnderEveryKey seals one plan twice, with the same
// codes, doors and digest but other serving orders and vessel marks: no page
// outside the pour sheet may tell them apart, and the pour sheet must.
func TestDeskPagesAreTheSameUnderEveryKey(t *testing.T) {
	run := func(other bool) (pages []string, sheet string) {
		d := newDesk(t)
		d.c.Chance = zeros{}
		d.c.Draw = func(p session.Plan) (session.Sealing, error) {
			s, err := session.Seal(p, io.Reader(zeros{}))
			if !other || err != nil {
				return s, err
			}
			s.Layout.Disc = map[string]string{"A": "B", "B": "A"}[s.Layout.Disc]
			for i := range s.Layout.Seats {
				for j := range s.Layout.Seats[i] {
					set := &s.Layout.Seats[i][j]
					orders := methodOfSet(p, j+1).Orders
					set.Order = orders[(slices.Index(orders, set.Order)+1)%len(orders)]
				}
			}
			return s, nil
		}
		id := d.sealed(6)
		at := "/s/" + string(id)
		see := func() {
			for _, p := range []string{
				"/", "/lots", at + "/plan", at + "/print", at + "/print/labels", at + "/print/trays",
				at + "/print/seats", at + "/print/ballots", at + "/print/worksheet", "/pour/" + string(id),
				at + "/print/labels.pdf", at + "/print/trays.pdf", at + "/print/seats.pdf", at + "/print/ballots.pdf", at + "/print/worksheet.pdf",
			} {
				pages = append(pages, p+"\n"+d.page(p))
			}
		}
		see()
		d.open(id, 5)
		d.do(id, session.Serve{Round: 1})
		d.do(id, session.Void{Seat: 2, Set: 1, Reason: d.text("spilled"), Replace: true})
		see()
		pages = append(pages, d.page(at+"/print/labels?seat=2&set=1&take=1"))
		d.goes("/pour/"+string(id), "pin", "4711")
		sheet = d.page("/pour/" + string(id) + "/sheet")
		d.do(id, session.Close{})
		for _, p := range []string{"/", at + "/plan", at + "/print"} {
			pages = append(pages, d.page(p))
		}
		return pages, sheet
	}
	one, sheet := run(false)
	two, otherSheet := run(true)
	if len(one) < 20 || len(one) != len(two) {
		t.Fatalf("%d and %d pages", len(one), len(two))
	}
	for i := range one {
		if one[i] != two[i] {
			name, _, _ := strings.Cut(one[i], "\n")
			t.Errorf("page %d, %s, differs with the key", i, name)
		}
		for _, word := range []string{"diamond", `class="vessel`} {
			if strings.Contains(one[i], word) {
				t.Errorf("page %d says %q", i, word)
			}
		}
	}
	if sheet == otherSheet {
		t.Error("the pour sheet is the same under two keys: the test changes nothing")
	}
}

func TestNumbersInWords(t *testing.T) {
	at := func(s string) time.Time {
		x, err := time.ParseInLocation("2006-01-02 15:04", s, time.Local)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	now := at("2026-04-14 18:00")
	for _, test := range []struct{ got, want string }{
		{when(at("2026-04-14 17:05"), now), "today, 17:05"},
		{when(at("2026-04-12 09:30"), now), "12 April, 09:30"},
		{when(at("2025-04-14 17:05"), now), "14 April 2025"},
		{when(time.Time{}, now), ""},
		{pvalue(0.028441), "0.028"},
		{pvalue(0.2538), "0.25"},
		{pvalue(0.00000012), "<\u00a00.0001"},
		{pvalue(0.0996), "0.0996"},
		{pvalue(0.9996), "1.0"},
		{share(0.9999), "> 0.99"},
		{share(1), "1.00"},
		{share(0.001), "< 0.01"},
		{pct(0.4), "40 %"},
		{pct(0.125), "12.5 %"},
		{num(-1.5), "−1.5"},
		{fixed(2.0, 1), "2.0"},
		{perThousand(0.028441), "28 of 1000"},
		{perThousand(0.00007), "1 of 10 000"},
		{perThousand(1e-9), "fewer than 1 of 100 000"},
		{place(0, 3) + place(1, 3) + place(2, 3), "leftmiddleright"},
		{place(0, 2) + place(1, 2), "leftright"},
		{counted(1, "seat") + counted(24, "seat"), "1 seat24 seats"},
	} {
		if test.got != test.want {
			t.Errorf("got %q, want %q", test.got, test.want)
		}
	}
}

// TestPrintPageListsEverySheet: each thing on paper has its way from the print
// page; the vessels are behind the PIN like the pour sheet.
func TestPrintPageListsEverySheet(t *testing.T) {
	d := newDesk(t)
	id := string(d.sealed(6))
	page := d.page("/s/" + id + "/print")
	for _, sheet := range []string{"labels", "trays", "seats", "ballots", "worksheet"} {
		d.says(page, `href="/s/`+id+`/print/`+sheet+`"`)
	}
	d.says(page, `href="/pour/`+id+`"`, "which lot is brewed into which vessel")
	if to := d.get("/pour/" + id + "/vessels"); to.status != http.StatusSeeOther {
		t.Errorf("the vessels without the PIN: status %d", to.status)
	}
	d.goes("/pour/"+id, "pin", "4711")
	d.says(d.page("/pour/"+id+"/vessels"), "Which lot is brewed into which vessel")
}

// TestLabelOfAReferenceSaysSo: in one word, as on its tray card.
func TestLabelOfAReferenceSaysSo(t *testing.T) {
	p := tablePlan(4)
	p.Tests = p.Tests[:1]
	p.Tests[0].Method = session.DuoTrio.Key
	b := newTable(t, p, nil, true)
	labels := b.page("print/labels")
	if n := strings.Count(labels, `class="label-place">reference<`); n != 4 || strings.Contains(labels, `class="label-place">left<`) {
		t.Errorf("%d labels say reference, want 4", n)
	}
	if n := strings.Count(b.page("print/trays"), "<span>reference</span>"); n != 4 {
		t.Errorf("%d cups on tray cards say reference, want 4", n)
	}
}
