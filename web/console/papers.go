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
	Answer  string
	Kept    int // records in the register
	Taken   int // by the last table
	Form    *form
	Faults  []session.RowFault
	Listed  []session.RowFault // the first of them
	Apart   []string           // tastings that would be several tests
	Good    int                // rows without a fault
	People  int
	Tells   []string // the first words of records.csv that hold a part of a name of the register
	Telling int      // all of them
}

// papersPath is the one path whose bodies may be long.
const papersPath = "/people/papers"

// A table of up to mostPaperTable bytes is taken. A longer body is read to its end up
// to mostPaperBody, and thrown away, so that the browser waits for the answer that
// says why; beyond that the guard cuts it off.
const (
	mostPaperTable = 4 << 20
	mostPaperBody  = 64 << 20
	mostFaults     = 100 // that are listed
	mostTells      = 10  // words with a part of a name that are listed
)

func (c *Console) showPapers(w http.ResponseWriter, r *http.Request) error {
	return c.renderPapers(w, r, http.StatusOK, papersView{Form: filled()})
}

func (c *Console) renderPapers(w http.ResponseWriter, r *http.Request, status int, v papersView) error {
	lab := c.Rooms.Lab().State()
	v.Kept, v.People = len(lab.Papers), len(lab.Panel())
	judged, err := c.Rooms.Judged(r.Context())
	if err != nil {
		return err
	}
	tells := lab.NamesInRecords(judged)
	v.Telling, v.Tells = len(tells), tells[:min(len(tells), mostTells)]
	v.Listed = v.Faults[:min(len(v.Faults), mostFaults)]
	if more := len(v.Apart) - mostFaults; more > 0 {
		v.Apart = append(v.Apart[:mostFaults:mostFaults], fmt.Sprintf("And %d more.", more))
	}
	switch {
	case len(v.Apart) > 0:
		v.Answer = "Nothing was taken yet: some rows may be of one tasting, and would be several tests."
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
		return c.renderPapers(w, r, http.StatusUnprocessableEntity, papersView{Form: f})
	}
	records, faults := c.Rooms.Lab().State().ParsePaperRecords(strings.NewReader(table), c.Now())
	if len(faults) > 0 && (len(records) == 0 || !f.Is("take", "good")) {
		return c.renderPapers(w, r, http.StatusUnprocessableEntity, papersView{Form: f, Faults: faults, Good: len(records)})
	}
	if len(records) == 0 {
		f.bad("table", "the table has a line of column names and no row below it")
		return c.renderPapers(w, r, http.StatusUnprocessableEntity, papersView{Form: f})
	}
	if apart := c.Rooms.Lab().State().PaperTests(records); len(apart) > 0 && !f.Is("apart", "on") {
		return c.renderPapers(w, r, http.StatusUnprocessableEntity, papersView{Form: f, Apart: apart, Good: len(records)})
	}
	if err := c.register(r, session.ImportRecords{Records: records}); err != nil {
		if err := f.refuse("table", err); err != nil {
			return err
		}
		return c.renderPapers(w, r, http.StatusUnprocessableEntity, papersView{Form: f})
	}
	return seeOther(w, r, "/people/papers")
}

// readTable reads a form whose table came as a file or was pasted. A file stands
// in the field afterwards, so that a refused one can be mended there. Nothing of it is
// put on disk on the way: it may hold names.
func readTable(r *http.Request) (*form, error) {
	parts, err := r.MultipartReader()
	if errors.Is(err, http.ErrNotMultipart) {
		return readForm(r)
	}
	if err != nil {
		return nil, tableCutOff
	}
	f, chosen := filled(), ""
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			if chosen != "" {
				f.values.Set("table", chosen)
			}
			return f, nil
		}
		if err != nil {
			return nil, tableTrouble(err)
		}
		b, err := io.ReadAll(io.LimitReader(part, mostPaperTable+1))
		if err != nil {
			return nil, tableTrouble(err)
		}
		if len(b) > mostPaperTable {
			if _, err := io.Copy(io.Discard, r.Body); err != nil {
				return nil, tableTrouble(err)
			}
			return nil, tableTooLong
		}
		if words := strings.ToValidUTF8(string(b), "�"); part.FormName() == "file" {
			chosen = words
		} else {
			f.values.Set(part.FormName(), words)
		}
	}
}

var (
	tableTooLong = problem{http.StatusRequestEntityTooLarge, "The table is longer than 4 megabytes, and nothing was taken.",
		"Send it in parts, each with the line of column names; or stop oddcup and take the whole file, up to 8 megabytes, with “oddcup judges import”."}
	tableCutOff = problem{http.StatusBadRequest, "The table did not arrive whole, and nothing was taken.", "Send it again."}
)

func tableTrouble(err error) problem {
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return tableTooLong
	}
	return tableCutOff
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
