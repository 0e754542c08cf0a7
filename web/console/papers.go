package console

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"

	"oddcup/session"
)

// papersView takes counts from before, or from elsewhere, off paper.
type papersView struct {
	Answer string
	Kept   int // records in the register
	Taken  int // by the last table
	Form   *form
	Faults []session.RowFault
	Good   int // rows without a fault
	People int
}

// mostPaperForm bounds an upload in memory; the guard bounds it before.
const mostPaperForm = 1 << 17

func (c *Console) showPapers(w http.ResponseWriter, r *http.Request) error {
	return c.renderPapers(w, http.StatusOK, papersView{Form: filled()})
}

func (c *Console) renderPapers(w http.ResponseWriter, status int, v papersView) error {
	lab := c.Rooms.Lab().State()
	v.Kept, v.People = len(lab.Papers), len(lab.Panel())
	switch {
	case len(v.Faults) > 0:
		v.Answer = fmt.Sprintf("Nothing was taken: %s can’t be read.", counted(len(v.Faults), "row"))
	case v.Kept == 0:
		v.Answer = "No counts from paper are kept."
	default:
		v.Answer = fmt.Sprintf("%s from paper %s kept.", counted(v.Kept, "count"), areIs(v.Kept))
	}
	return c.renderAs(w, status, "papers.html", Page{Title: "Paper records", Nav: "judges", Body: v})
}

// takePapers takes a table whole, or the rows without a fault where that was said.
func (c *Console) takePapers(w http.ResponseWriter, r *http.Request) error {
	f, err := readTable(r)
	if err != nil {
		return err
	}
	table := f.Value("table")
	if strings.TrimSpace(table) == "" {
		f.bad("table", "choose a file, or paste its rows")
		return c.renderPapers(w, http.StatusUnprocessableEntity, papersView{Form: f})
	}
	records, faults := c.Rooms.Lab().State().ParsePaperRecords(strings.NewReader(table))
	if len(faults) > 0 && (len(records) == 0 || !f.Is("take", "good")) {
		return c.renderPapers(w, http.StatusUnprocessableEntity, papersView{Form: f, Faults: faults, Good: len(records)})
	}
	if len(records) == 0 {
		f.bad("table", "the table has a line of column names and no row below it")
		return c.renderPapers(w, http.StatusUnprocessableEntity, papersView{Form: f})
	}
	if err := c.register(r, session.ImportRecords{Records: records}); err != nil {
		if err := f.refuse("table", err); err != nil {
			return err
		}
		return c.renderPapers(w, http.StatusUnprocessableEntity, papersView{Form: f})
	}
	return seeOther(w, r, "/people/papers")
}

// readTable reads a form whose table came as a file or was pasted. A file stands
// in the field afterwards, so that a refused one can be mended there.
func readTable(r *http.Request) (*form, error) {
	if err := r.ParseMultipartForm(mostPaperForm); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return nil, problem{http.StatusRequestEntityTooLarge, "The table did not arrive whole, or is longer than 60 kilobytes.",
			"Send it in parts of up to 600 rows, each with the line of column names; or stop oddcup and take the whole file with “oddcup judges import”."}
	}
	f := &form{values: r.PostForm}
	file, _, err := r.FormFile("file")
	if err != nil {
		return f, nil // none was chosen
	}
	defer file.Close()
	b, err := io.ReadAll(file)
	if err != nil {
		return nil, fmt.Errorf("the uploaded table: %w", err)
	}
	if len(b) > 0 {
		f.values.Set("table", strings.ToValidUTF8(string(b), "�"))
	}
	return f, nil
}

// recordsCSV is every judged set and paper record, by pseudonym.
func (c *Console) recordsCSV(w http.ResponseWriter, r *http.Request) error {
	judged, err := c.Rooms.Judged(r.Context())
	if err != nil {
		return err
	}
	b, err := session.RecordsCSV(c.Rooms.Lab().State(), judged)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="records.csv"`)
	_, err = w.Write(b)
	return err
}
