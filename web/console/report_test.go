package console

import (
	"encoding/csv"
	"encoding/json"
	"html"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// Page and file are there after the reveal only.
func TestNoReportBeforeTheReveal(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	refused := func() {
		t.Helper()
		status, body := b.get("report")
		if want := http.StatusForbidden; b.room.State().Phase == session.PhaseClosed {
			if status != http.StatusSeeOther {
				t.Errorf("closed: the page has status %d, want to be led to the reveal", status)
			}
		} else if status != want || !strings.Contains(body, "There is no result") {
			t.Errorf("%s: the page has status %d", b.room.State().Phase, status)
		}
		for _, file := range []string{"report.pdf", "report.pdf?paper=letter"} {
			if status, body := b.get(file); status != http.StatusForbidden || strings.Contains(body, "%PDF") {
				t.Errorf("%s: %s has status %d", b.room.State().Phase, file, status)
			}
		}
	}
	refused()
	b.do(session.OpenLobby{})
	b.sit(1)
	b.do(session.FreezeList{})
	b.press("open", "board")
	refused()
	b.do(session.BreakSeal{Reason: b.text("a mix-up")}) // a broken seal opens the key, and no report
	refused()
	b.press("close", "reveal")
	refused()
	b.do(session.Abandon{Reason: b.text("no water")})
	refused()
}

// The page holds every part of the report in its order, and its plots; the result
// page leads to it.
func TestReportPage(t *testing.T) {
	b := tasted(t, tablePlan(24), 13)
	b.lab(session.NameLab{Name: "Bench 2 (invented)"})
	b.revealed()
	b.wants(b.page("result"), `href="`+b.path("report")+`"`, `href="`+b.path("report.pdf")+`"`)
	body := b.page("report")
	sound(t, "report", body)
	r, err := b.rooms.TestReport(t.Context(), tableID, time.Local)
	if err != nil {
		t.Fatal(err)
	}
	if heading(body) != r.Answer {
		t.Errorf("the page begins with %q", heading(body))
	}
	b.wants(body, "Bench 2 (invented)", r.Digest.String(), string(r.Session), `href="`+b.path("report.pdf?paper=letter")+`"`)
	plain, at, items := html.UnescapeString(body), 0, 0
	next := func(want string) {
		t.Helper()
		i := strings.Index(plain[at:], want)
		if i < 0 {
			t.Fatalf("the page does not say %q in its place", want)
		}
		at += i
	}
	for _, p := range r.Parts {
		next(">" + p.Title + "<")
		for _, it := range p.Items {
			items++
			next("<dt>" + it.Name)
			for _, w := range it.Words() {
				next("<p>" + w + "</p>")
			}
		}
		for _, table := range p.Tables {
			for _, row := range table.Rows {
				for _, cell := range row {
					next("<td>" + cell + "</td>")
				}
			}
		}
	}
	if items < 80 {
		t.Errorf("only %d items", items)
	}
	if n := strings.Count(body, `class="plot plot-null"`); n != 2 {
		t.Errorf("%d plots, want one for each test", n)
	}
	if strings.Contains(body, "Taster 1") {
		t.Error("the report names a taster")
	}
	status, pdf := b.get("report.pdf")
	if status != http.StatusOK || !strings.HasPrefix(pdf, "%PDF-") {
		t.Errorf("the file: status %d, %.20q", status, pdf)
	}
}

func TestReportPageWithoutALaboratoryName(t *testing.T) {
	b := tasted(t, tablePlan(6), 6)
	b.revealed()
	b.wants(b.page("report"), "Laboratory: not recorded", "The laboratory has no name yet.")
}

// Nothing that a person typed becomes markup.
func TestReportPageEscapesWhatWasTyped(t *testing.T) {
	p := tablePlan(6)
	p.Title, p.Conditions.Light = "<i>title</i>", "<b>lamp</b>"
	b := tasted(t, p, 6)
	b.do(session.NoteDeviation{Words: b.text("<script>alert(1)</script>")})
	b.do(session.BreakSeal{Reason: b.text("<u>why</u>")})
	b.revealed()
	body := b.page("report")
	for _, bad := range []string{"<i>title", "<b>lamp", "<script>alert", "<u>why"} {
		if strings.Contains(strings.ToLower(body), bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	b.wants(body, "<script>alert(1)</script>", "<u>why</u>", "<b>lamp</b>")
}

// CSV and JSON carry what was amended, a broken seal, conditions and deviations.
func TestFilesCarryWhatWentWrong(t *testing.T) {
	p := tablePlan(6)
	p.Conditions = session.Conditions{Light: "red lamps", Lids: true, HoldMin: 45, HoldLowC: 70, HoldHighC: 80}
	b := tasted(t, p, 4)
	b.do(session.NameRole{Role: session.RoleHost, Name: b.text("Ilsabe Quint")})
	b.do(session.NameRole{Role: session.RolePourer, Name: b.text("ilsabe quint")})
	b.do(session.NoteDeviation{Words: b.text("=one lamp was white")})
	b.do(session.BreakSeal{Reason: b.text("+a mix-up")})
	b.do(session.Close{})
	b.do(session.Amend{Seat: 3, Set: 1, Reason: b.text("-one vessel")})
	b.do(session.Reveal{})
	res, err := b.room.State().Compute()
	if err != nil {
		t.Fatal(err)
	}

	var w wireResult
	dec := json.NewDecoder(strings.NewReader(b.page("result.json")))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&w); err != nil {
		t.Fatal(err)
	}
	if len(w.Amended) != 2 || w.Tests[0].N != 6 || w.Tests[0].Correct != 4 || w.Amended[0].N != 5 || w.Amended[0].Correct != 3 || w.Amended[1].N != 6 {
		t.Errorf("amended: %+v", w.Amended)
	}
	if n := sum(w.Amended[0].Checks.Positions); n != 5 || sum(w.Tests[0].Checks.Positions) != 6 {
		t.Errorf("places of %d amended answers", n)
	}
	if w.Broken == nil || w.Broken.Reason != "+a mix-up" || w.Broken.At == "" {
		t.Errorf("broken: %+v", w.Broken)
	}
	const singleBlind = "The host also poured, and the seal was broken before the tasting ended, so that the host could know the key."
	if w.SingleBlind == nil || *w.SingleBlind != singleBlind {
		t.Errorf("single blind: %v", w.SingleBlind)
	}
	if w.Conditions.Light != "red lamps" || !w.Conditions.Lids || w.Conditions.HoldMin != 45 || w.Conditions.HoldHighC != 80 {
		t.Errorf("conditions: %+v", w.Conditions)
	}
	if len(w.Deviations) != 1 || w.Deviations[0].Reason != "=one lamp was white." {
		t.Errorf("deviations: %+v", w.Deviations)
	}
	if len(w.Confirmed) != len(session.Checks(p)) || w.Confirmed[0].State != "not confirmed" || w.Confirmed[0].Flight != 1 {
		t.Errorf("confirmed: %+v", w.Confirmed)
	}
	outs := 0
	for _, x := range w.Trays {
		if x.Amended != nil {
			outs++
			if x.Seat != 3 || x.Set != 1 || !x.Counts || x.Amended.Reason != "-one vessel" {
				t.Errorf("tray %+v", x)
			}
		}
	}
	if outs != 1 {
		t.Errorf("%d trays were amended", outs)
	}

	rows, err := csv.NewReader(strings.NewReader(b.page("result.csv"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+len(res.Answers) {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows[1:] {
		col := func(name string) string { return row[slices.Index(csvColumns, name)] }
		out := col("seat") == "3" && col("set") == "1"
		if (col("amended_at") != "") != out || (col("amended_reason") == "'-one vessel") != out || (col("amended_counts") == "0") != out || col("counts") != "1" {
			t.Errorf("row %q", row)
		}
		for name, want := range map[string]string{
			"seal_broken_reason": "'+a mix-up", "single_blind": singleBlind, "paper": "0",
			"conditions": "light: red lamps; lids: true; hold_at_most_min: 45; hold_from_celsius: 70; hold_up_to_celsius: 80",
			"deviations": "'=one lamp was white.",
		} {
			if got := col(name); got != want {
				t.Errorf("%s: %q, want %q", name, got, want)
			}
		}
	}
	// The columns of before stand where they stood.
	if i := slices.Index(csvColumns, "void_reason"); i != 19 || csvColumns[20] != "paper" {
		t.Errorf("void_reason is column %d", i+1)
	}
}

// Where nothing went wrong the files say so.
func TestFilesOfASoundSession(t *testing.T) {
	b := tasted(t, tablePlan(6), 4)
	b.revealed()
	body := b.page("result.json")
	for _, want := range []string{`"amended_tests": null`, `"seal_broken": null`, `"single_blind": null`, `"deviations": []`} {
		if !strings.Contains(body, want) {
			t.Errorf("the file has no %s", want)
		}
	}
}
