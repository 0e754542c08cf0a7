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
	Labels     string
	Same       []string // sessions with the same seal under another label
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
	same, err := c.sameSeal(r, s)
	if err != nil {
		return err
	}
	view := receivedView{v, laboratoryWords(report.Laboratory), report.Words(), session.LabelsWords, same, report.Checks}
	return c.render(w, "received.html", Page{Title: "Result of another laboratory", Nav: "home", Body: view})
}

// sameSeal names the other sessions here, received and own, whose seal has the
// digest of a received one.
func (c *Console) sameSeal(r *http.Request, s *session.State) ([]string, error) {
	var same []string
	rows, err := c.Rooms.Received(r.Context())
	if err != nil {
		return nil, err
	}
	for _, row := range rows {
		if row.ID != s.ID && row.Digest == s.Digest {
			same = append(same, fmt.Sprintf("session %s of %s", row.ID, laboratoryWords(row.Laboratory)))
		}
	}
	own, err := c.Rooms.Rows(r.Context())
	if err != nil {
		return nil, err
	}
	for _, row := range own {
		// The seal covers the plan.
		if row.Title != s.Plan.Title || row.Lots != [2]session.Lot{s.Plan.Untreated, s.Plan.Processed} {
			continue
		}
		room, err := c.Rooms.Session(r.Context(), row.ID)
		if err != nil {
			return nil, err
		}
		if room.State().Digest == s.Digest {
			same = append(same, fmt.Sprintf("session %s of this laboratory’s own", row.ID))
		}
	}
	return same, nil
}
