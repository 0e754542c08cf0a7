package console

import (
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"oddcup/session"
	"oddcup/session/record"
)

// ownView is a judge's record in plain words, for the judge to read and keep. It
// names and compares nobody else.
type ownView struct {
	record.Judge
	Lab    string
	Answer string   // the first sentence
	Lines  []string // the others
	Groups template.HTML
	Seats  int
	Series int
	Papers int
}

func (c *Console) ownRecord(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	book, err := c.book(r.Context())
	if err != nil {
		return err
	}
	j, ok := book.Judge(p.ID)
	if !ok {
		return fmt.Errorf("person %q: %w", p.ID, session.ErrNoPerson)
	}
	lab := c.Rooms.Lab().State()
	lines := j.Own()
	answer, rest, more := strings.Cut(lines[0], ". ")
	if lines = lines[1:]; more {
		lines = append([]string{rest}, lines...)
	}
	v := ownView{Judge: j, Lab: lab.Name, Answer: sentence(answer), Lines: lines, Groups: groupsPlot(j), Seats: len(lab.SeatsOf(p.ID)), Series: len(j.Series), Papers: len(j.Papers)}
	return c.render(w, "own.html", Page{Title: "The own record of " + j.Pseudonym, Nav: "judges", Body: v})
}
