package console

import (
	"net/http"
	"slices"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// lotLine is a lot with its release.
type lotLine struct {
	session.Lot
	Released bool
	Release  session.Release
	Form     *form
}

func lotLines(lab *session.Lab) []lotLine {
	var lines []lotLine
	for _, lot := range lab.Lots {
		release, ok := lab.Releases[lot.ID]
		lines = append(lines, lotLine{Lot: lot, Released: ok, Release: release, Form: filled()})
	}
	return lines
}

// lotsView is the register of lots.
type lotsView struct {
	Lots       []lotLine
	Unreleased int
	Treatments []string
	Form       *form
	Trouble    *form // the refused form, whichever it is
}

func (c *Console) lots(w http.ResponseWriter, _ *http.Request) error {
	f := filled("treatment", session.Treatments[0])
	return c.renderLots(w, f, f, "")
}

// renderLots shows the register with the form to enter a lot. Where a release
// was refused, trouble is its form and lot the lot that it is about.
func (c *Console) renderLots(w http.ResponseWriter, enter, trouble *form, lot session.LotID) error {
	lab := c.Rooms.Lab().State()
	v := lotsView{Lots: lotLines(lab), Treatments: session.Treatments, Form: enter, Trouble: trouble}
	slices.Reverse(v.Lots)
	for i := range v.Lots {
		if v.Lots[i].ID == lot {
			v.Lots[i].Form = trouble
		}
		if !v.Lots[i].Released {
			v.Unreleased++
		}
	}
	return c.render(w, "lots.html", Page{Title: "Lots", Nav: "lots", Body: v})
}

func (c *Console) enterLot(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	lot := session.Lot{Number: f.text("number"), Treatment: f.text("treatment"), Note: f.text("note")}
	if err := c.register(r, session.EnterLot{Lot: lot}); err != nil {
		field := "number"
		if len(lot.Note) > 200 && lot.Number != "" {
			field = "note"
		}
		if err := f.refuse(field, err); err != nil {
			return err
		}
		w.WriteHeader(http.StatusUnprocessableEntity)
		return c.renderLots(w, f, f, "")
	}
	return seeOther(w, r, "/lots")
}

func (c *Console) releaseLot(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	id := session.LotID(chi.URLParam(r, "lot"))
	if _, ok := c.Rooms.Lab().State().Lot(id); !ok {
		return session.ErrNoLot
	}
	by, err := c.words(f.text("by"))
	if err != nil {
		return err
	}
	field := "by-" + string(id)
	if by.Words != "" {
		field = "report-" + string(id)
	}
	if err := c.register(r, session.ReleaseLot{Lot: id, By: by, Report: f.text("report")}); err != nil {
		if err := f.refuse(field, err); err != nil {
			return err
		}
		w.WriteHeader(http.StatusUnprocessableEntity)
		return c.renderLots(w, filled("treatment", session.Treatments[0]), f, id)
	}
	return seeOther(w, r, "/lots")
}
