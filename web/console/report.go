package console

import (
	"html/template"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/paper"
)

// reportRoutes are the test report, as a page to print and as a file. Before the
// reveal neither is there.
func (c *Console) reportRoutes(r chi.Router) {
	r.Get("/s/{id}/report", c.page(c.showReport))
	r.Get("/s/{id}/report.pdf", c.page(c.reportFile))
}

// reportView is the test report as its template shows it.
type reportView struct {
	session.TestReport
	Parts []reportPart
}

// reportPart is a part with the plot of its test between what stands before and
// after it.
type reportPart struct {
	session.ReportPart
	Before, After []session.ReportItem
	Plot          template.HTML // empty where the part has none
}

func (c *Console) showReport(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	switch s.Phase {
	case session.PhaseRevealed:
	case session.PhaseClosed:
		return seeOther(w, r, sessionPath(s, "reveal"))
	default:
		return c.renderAs(w, http.StatusForbidden, "reveal.html", Page{Title: "Test report", Nav: "result", Session: head(s), Body: revealOf(s, filled())})
	}
	report, err := c.Rooms.TestReport(r.Context(), s.ID, time.Local)
	if err != nil {
		return err
	}
	report.Issued = c.Now().Local()
	return c.render(w, "report.html", Page{Title: "Test report", Nav: "result", Session: head(s), Body: reportViewOf(report)})
}

func reportViewOf(r session.TestReport) reportView {
	v := reportView{TestReport: r}
	for _, p := range r.Parts {
		part := reportPart{ReportPart: p}
		part.Before, part.After = p.Split()
		if t, ok := r.Plotted(p); ok {
			part.Plot = nullPlot(t, countedAs(t))
		}
		v.Parts = append(v.Parts, part)
	}
	return v
}

// reportFile sends the test report as a PDF.
func (c *Console) reportFile(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	report, err := c.Rooms.TestReport(r.Context(), s.ID, time.Local)
	if err != nil {
		return err
	}
	report.Issued = c.Now().Local()
	b, err := paper.ReportPDF(report, sizeAsked(r))
	return sendFile(w, s, "test-report", b, err)
}
