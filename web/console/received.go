package console

import (
	"fmt"
	"net/http"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/say"
)

// receivedLine is a session of another laboratory in the list of the home page.
type receivedLine struct {
	sessionRow
	Laboratory string
}

// receivedList is that list; Trouble says why there is none where one is kept.
type receivedList struct {
	Lines   []receivedLine
	Trouble string
}

// received lists the sessions of other laboratories. One that can't be read must
// not take the home page away.
func (c *Console) received(r *http.Request) receivedList {
	rows, err := c.Rooms.Received(r.Context())
	if err != nil {
		c.Log.Error("console: sessions of other laboratories", "err", err)
		words, _ := say.Of(err)
		return receivedList{Trouble: words.Say}
	}
	var list receivedList
	for _, row := range rows {
		list.Lines = append(list.Lines, receivedLine{newSessionRow(row.Row, row.Plan), laboratoryWords(row.Laboratory)})
	}
	return list
}

func laboratoryWords(name string) string {
	if name == "" {
		return "a laboratory without a name"
	}
	return name
}

// receivedView is the result of another laboratory's session. It has no links
// into the session: there is nothing to be done with it here.
type receivedView struct {
	*resultView
	Laboratory string
	Words      string // how its file stands up
	Checks     []session.Check
}

func (c *Console) showReceived(w http.ResponseWriter, r *http.Request) error {
	s, report, err := c.Rooms.ReceivedSession(r.Context(), session.ID(chi.URLParam(r, "id")))
	if err != nil {
		return err
	}
	v, err := resultOf(s)
	if err != nil {
		return fmt.Errorf("session %s of another laboratory: %w", s.ID, err)
	}
	view := receivedView{v, laboratoryWords(report.Laboratory), report.Words(), report.Checks}
	return c.render(w, "received.html", Page{Title: "Result of another laboratory", Nav: "home", Body: view})
}
