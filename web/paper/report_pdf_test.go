package paper

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
)

// reportWants are the items that the file of any report holds: those that ISO
// 4120's report clause asks for, and those recommended beside (from memory).
var reportWants = []string{
	"Test report", "Bench 2 (invented)", "objective", "result", "conclusion", "method", "number of assessors", "answers counted", "number correct",
	"risks and limits, registered", "nature of the treatment", "decaffeinated, process family water", "Lot QX-301, untreated.", "released on 5 March 2031",
	"report R-2", "origin, as noted", "storage of the lots", "portion, planned", "serving temperature, planned", "serving temperature, measured",
	"quantity, planned", "brews as made", "experience of the assessors", "training of the assessors", "age and sex of the assessors", "Instructions to the assessors",
	"I was guessing", "swallowing", "place of the tasting", "dates", "panel leader", "booths or partitions", "presentation", "Simultaneous", "light, planned",
	"masking of looks", "whether identities were", "disclosed afterwards", "led the panel", "roasted", "brewed", "poured", "carried the trays", "single blind",
	"confirmed", "deviations noted", "replacements called", "seats that left", "paper ballots", "All sessions on this pair of lots", "this is the only one in this file",
	"digest of the seal", "head hash at the close", "consistent with itself", "precision and bias", "not recorded", "Exploratory",
}

// reportTests are a test of every method and goal that a plan may have.
func reportTests() map[string]session.TestPlan {
	all := map[string]session.TestPlan{}
	add := func(m session.Method, goal, more string, edit func(*session.TestPlan)) {
		x := testOf(m, 1)
		x.Goal = goal
		if x.WantsSimilarity() {
			x.Beta, x.PdLimit = 0.05, 0.4
		}
		if !x.WantsDifference() {
			x.Alpha, x.Pd = 0, 0
		}
		if edit != nil {
			edit(&x)
		}
		all[strings.TrimSuffix(m.Key+", "+goal+", "+more, ", ")] = x
	}
	for _, m := range session.Methods {
		for _, goal := range []string{session.GoalDifference, session.GoalSimilarity, session.GoalBoth} {
			if m.ShowsSimilarity(false) || goal == session.GoalDifference {
				add(m, goal, "", nil)
			}
		}
	}
	for _, goal := range []string{session.GoalDifference, session.GoalSimilarity, session.GoalBoth} {
		add(session.PairedComparison, goal, "two-sided", func(x *session.TestPlan) { x.TwoSided = true })
	}
	add(session.DuoTrio, session.GoalDifference, "constant reference", func(x *session.TestPlan) { x.Reference = session.ReferenceConstant })
	add(session.Triangle, session.GoalDifference, "sequential", func(x *session.TestPlan) { x.Sequential, x.Sets, x.Beta = true, 3, 0.1 })
	add(session.Triangle, session.GoalBoth, "three sets", func(x *session.TestPlan) { x.Sets = 3 })
	add(session.PairedComparison, session.GoalDifference, "three sets", func(x *session.TestPlan) { x.Sets = 3 })
	return all
}

// The file of every method and goal holds what a test report has to.
func TestReportFileHoldsEveryItem(t *testing.T) {
	tests := reportTests()
	if len(tests) != 18 {
		t.Fatalf("%d tests", len(tests))
	}
	standards := map[string]string{
		"triangle": "ISO 4120", "duo-trio": "ISO 10399", "tetrad": "ASTM E3009", "paired-comparison": "ISO 5495", "3-afc": "ASTM E679",
	}
	for name, x := range tests {
		h := newHeld(t)
		id := h.seal(planOf(24, x))
		h.taste(func(seat int) bool { return seat%2 == 0 })
		h.do(session.Close{}, session.Reveal{})
		r := h.report(id)
		pdf := must(t)(ReportPDF(r, A4))
		checkReportPages(t, name, pdf, r, A4)
		got := flatText(t, pdf)
		wants := slices.Clone(reportWants)
		m, _ := session.MethodByKey(x.Method)
		res := r.Tests[0]
		wants = append(wants, "after "+standards[m.Key], m.Ask(x), r.Answer, res.Sentence(), res.Verdict(), fmt.Sprintf("%d of %d.", res.Correct, res.N))
		if x.WantsDifference() {
			wants = append(wants, "α 0.05", res.PSentence(), "Difference: to find out")
		}
		if x.WantsSimilarity() {
			wants = append(wants, "β 0.05 at a pd limit of 40 %", res.SimilarSentence(), "Similarity: to find out", "upper limit of pd")
		}
		if x.Sequential {
			wants = append(wants, "β 0.1 at pd 40 %", "Looks, each after a whole round")
		} else {
			wants = append(wants, fmt.Sprintf("this session: %d", res.Correct))
		}
		if x.Reference != "" {
			wants = append(wants, "The reference was constant")
		}
		missing(t, name, got, wants)
		if strings.Contains(got, "Zzyx") {
			t.Errorf("%s: a taster is named", name)
		}
	}
}

// missing names what a text does not say; spaces of any kind are the same.
func missing(t *testing.T, name, got string, wants []string) {
	t.Helper()
	got = strings.ToLower(oneSpace(got))
	for _, want := range wants {
		if !strings.Contains(got, strings.ToLower(oneSpace(want))) {
			t.Errorf("%s: the file does not say %q", name, want)
		}
	}
}

func oneSpace(s string) string { return strings.Join(strings.Fields(s), " ") }

// checkReportPages holds that each page has its number, the session and the
// digest, that nothing runs out of the paper, and that the last page is not next
// to empty.
func checkReportPages(t *testing.T, name string, pdf []byte, r session.TestReport, size Size) {
	t.Helper()
	pages := strings.Split(strings.TrimSuffix(string(poppler(t, pdf, "pdftotext", "-raw", "FILE", "-")), "\f"), "\f")
	checkSize(t, pdf, size, len(pages))
	for i, p := range pages {
		missing(t, fmt.Sprintf("%s, page %d", name, i+1), p, []string{fmt.Sprintf("page %d of %d", i+1, len(pages)), string(r.Session), r.Digest.String()})
		if r.Broken != "" && !strings.Contains(p, "The seal was broken before the reveal") {
			t.Errorf("%s: page %d does not say that the seal was broken", name, i+1)
		}
	}
	fonts := string(poppler(t, pdf, "pdffonts", "FILE"))
	if all := strings.Count(fonts, "TrueType"); all == 0 || len(regexp.MustCompile(`Identity-H +yes`).FindAllString(fonts, -1)) != all {
		t.Errorf("%s: fonts are not embedded:\n%s", name, fonts)
	}
	for _, w := range words(t, pdf) {
		if w.left < reportLeft-0.5 || w.right > size.Width-reportMargin+0.5 || w.top < 3 || w.foot > size.Height-4 {
			t.Errorf("%s: page %d: %q runs out of the page", name, w.page+1, w.text)
		}
	}
}

// brokenReport is of a session in which things went wrong, beside one that was abandoned and one
// that is drawn and not revealed.
func brokenReport(t *testing.T) session.TestReport {
	t.Helper()
	h := newHeld(t)
	p := planOf(24, testOf(session.Triangle, 1), testOf(session.PairedComparison, 1))
	p.Title = "Monday table"
	h.seal(p)
	h.do(session.Abandon{Reason: text(t, "the kettle burst")})
	p.Title = "Tuesday table"
	h.seal(p)
	p.Title = "Wednesday table"
	id := h.seal(p)
	h.do(session.NameRole{Role: session.RoleHost, Name: text(t, "Ilsabe Quint")}, session.NameRole{Role: session.RolePourer, Name: text(t, "ilsabe  quint")},
		session.BreakSeal{Reason: text(t, "the vessels were mixed up")})
	h.seat()
	h.do(session.NoteDeviation{Words: text(t, "one lamp was white")}, session.Serve{Round: 1},
		session.Void{Seat: 2, Set: 1, Reason: text(t, "a spilled cup"), Replace: true})
	for n := 1; n <= 24; n++ {
		h.lock(n, 1, n <= 13)
	}
	h.do(session.Serve{Round: 2}, session.LeaveSeat{Seat: 24, Reason: text(t, "had to go")})
	for n := 1; n <= 23; n++ {
		h.lock(n, 2, n <= 17)
	}
	h.do(session.Close{}, session.Amend{Seat: 1, Set: 1, Reason: text(t, "poured from one vessel")}, session.Reveal{})
	return h.report(id)
}

func TestReportFileOfABrokenSession(t *testing.T) {
	r := brokenReport(t)
	for _, size := range []Size{A4, Letter} {
		pdf := must(t)(ReportPDF(r, size))
		checkReportPages(t, "broken", pdf, r, size)
		got := flatText(t, pdf)
		missing(t, "broken", got, []string{
			"the vessels were mixed up.", "What was done after that was not blind.", "Single blind: The host also poured, and the seal was broken before the tasting ended", "1 set was taken out after the close.",
			"amended result, beside the registered one", "13 of 24 found the odd cup", "12 of 23 found the odd cup", "one lamp was white.", "a spilled cup.",
			"Seat 24, on ", "poured from one vessel.", "Monday table", "abandoned: the kettle burst", "none: abandoned", "Tuesday table", "none yet: not revealed",
		})
		if strings.Index(got, "13 of 24 found the odd cup") > strings.Index(got, "12 of 23 found the odd cup") {
			t.Error("the amended result stands before the registered one")
		}
	}
}

// Long words and texts go on in the next line or page, and nothing of them is
// cut; a letter that the font does not have is a box, which the page explains.
func TestReportFileOfLongAndForeignWords(t *testing.T) {
	h := newHeld(t)
	p := planOf(6, testOf(session.Triangle, 1))
	p.Title = strings.Repeat("W", 60)
	id := h.seal(p)
	h.taste(func(int) bool { return true })
	h.do(session.Close{}, session.Reveal{})
	r := h.report(id)
	number := func(n int) string { return fmt.Sprintf("no%04d", n) }
	var many, solid []string
	for i := range 400 {
		many = append(many, number(i))
	}
	for i := range 300 {
		solid = append(solid, fmt.Sprintf("%07d", i))
	}
	long := strings.Join(solid, "") // 2,100 characters without a space
	r.Laboratory = strings.Repeat("Lab of the Tall Window ", 12)
	part := session.ReportPart{Key: "long", Title: "Long " + strings.Repeat("heading ", 30), Note: strings.Join(many[:100], " ")}
	part.Items = []session.ReportItem{
		{Name: strings.Repeat("name", 30), Says: []string{strings.Join(many[:300], " ")}}, {Name: "solid", Says: []string{long}},
		{Name: "alphabets", Says: []string{"Žofie – 5 °C “α β” 10′ Đặng Ωμέγα Житё 漢字 \U0001F600"}},
	}
	part.Tables = []session.ReportTable{{
		Caption: "A table", Heads: []string{"short", "long", "solid"}, Rows: [][]string{{"a", strings.Join(many, " "), "x"}, {"b", "y", long}, {"c", "z", "last"}},
	}}
	r.Parts = append(r.Parts, part)
	for _, size := range []Size{A4, Letter} {
		pdf := must(t)(ReportPDF(r, size))
		checkReportPages(t, "long", pdf, r, size)
		got := flatText(t, pdf)
		missing(t, "long", got, []string{number(0), number(299), number(399), "last", "Žofie – 5 °C “α β” 10′ Đặng Ωμέγα Житё □□ □", "is a letter that this file has no drawing of"})
		// All of a long word is there: in the item and in the table.
		squeezed := strings.ReplaceAll(got, " ", "")
		for i := range 300 {
			if n := strings.Count(got+squeezed, solid[i]); n < 2 {
				t.Fatalf("%q of the long words stands %d times", solid[i], n)
			}
		}
	}
}

// Sixty seats in six flights, each with something to tell.
func TestReportFileOfManySeatsAndFlights(t *testing.T) {
	h := newHeld(t)
	p := planOf(60, testOf(session.Triangle, 2))
	p.Flights = []int{12, 12, 12, 12, 6, 6}
	id := h.seal(p)
	for flight := range p.Flights {
		if flight > 0 {
			h.do(session.EndFlight{})
		}
		h.seat()
		listed := h.room.State().Listed()
		h.do(session.Serve{Round: 1, CupC: 60})
		for _, n := range listed {
			h.do(session.Void{Seat: n, Set: 1, Reason: text(t, fmt.Sprintf("cup %d was cold", n)), Replace: true})
			h.lock(n, 1, n%2 == 0)
		}
		h.do(session.Serve{Round: 2})
		for _, n := range listed {
			h.lock(n, 2, n%3 == 0)
		}
	}
	h.do(session.Close{}, session.Reveal{})
	r := h.report(id)
	pdf := must(t)(ReportPDF(r, Letter))
	checkReportPages(t, "many", pdf, r, Letter)
	wants := []string{"60 on the list, of 60 seats planned.", "Flight 6: 6 assessors, seats 55 to 60.", "Flight 5: set 1 60 °C, set 2 not recorded."}
	for n := 1; n <= 60; n++ {
		wants = append(wants, fmt.Sprintf("Seat %d, set 1: cup %d was cold.", n, n), fmt.Sprintf("%d 2 of 2 1 no", n))
	}
	missing(t, "many", flatText(t, pdf), wants)
}

// Practice has no verdict in its file either, and the same report gives the same
// bytes.
func TestReportFileOfPractice(t *testing.T) {
	h := newHeld(t)
	p := planOf(6, testOf(session.Triangle, 1))
	p.Practice = true
	id := h.seal(p)
	h.taste(func(int) bool { return true })
	h.do(session.Close{}, session.Reveal{})
	r := h.report(id)
	pdf := must(t)(ReportPDF(r, A4))
	checkReportPages(t, "practice", pdf, r, A4)
	got := flatText(t, pdf)
	missing(t, "practice", got, []string{"practice, never counts", "None: practice never counts."})
	for _, word := range []string{"Different", "(p = ", "this session: ", "minimum correct"} {
		if strings.Contains(got, word) {
			t.Errorf("a report of practice says %q", word)
		}
	}
	if again := must(t)(ReportPDF(h.report(id), A4)); !bytes.Equal(pdf, again) {
		t.Error("the same report has other bytes")
	}
}

// TestLookAtReports writes reports to the folder that ODDCUP_SHEETS names, to be
// looked at.
func TestLookAtReports(t *testing.T) {
	folder := os.Getenv("ODDCUP_SHEETS")
	if folder == "" {
		t.Skip("ODDCUP_SHEETS names no folder")
	}
	write := func(name string, r session.TestReport) {
		for key, size := range map[string]Size{"a4": A4, "letter": Letter} {
			file := filepath.Join(folder, "report-"+strings.NewReplacer(", ", "-", " ", "-").Replace(name)+"-"+key+".pdf")
			if err := os.WriteFile(file, must(t)(ReportPDF(r, size)), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	for name, x := range reportTests() {
		h := newHeld(t)
		id := h.seal(planOf(24, x))
		h.taste(func(seat int) bool { return seat <= 14 })
		h.do(session.Close{}, session.Reveal{})
		write(name, h.report(id))
	}
	write("broken", brokenReport(t))
}

// The lots stand on the first page, before the first test.
func TestReportFileNamesTheLotsFirst(t *testing.T) {
	h := newHeld(t)
	id := h.seal(planOf(18, testOf(session.Triangle, 1)))
	h.taste(func(seat int) bool { return seat <= 15 })
	h.do(session.Close{}, session.Reveal{})
	pdf := must(t)(ReportPDF(h.report(id), A4))
	if folder := os.Getenv("ODDCUP_SHEETS"); folder != "" {
		if err := os.WriteFile(filepath.Join(folder, "report-15-of-18.pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	page, _, _ := strings.Cut(layoutText(t, pdf), "\f")
	at := 0
	for _, want := range []string{"Untreated lot: QX-301, untreated.", "Processed lot: QX-302, processed with water.", "objective"} {
		i := strings.Index(page[at:], want)
		if i < 0 {
			t.Fatalf("the first page does not say %q there:\n%s", want, page)
		}
		at += i
	}
}
