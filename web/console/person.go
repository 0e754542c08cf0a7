package console

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"oddcup/session"
)

// personView is one person's entry.
type personView struct {
	session.Person
	Form     *form
	Merge    *form
	Trouble  *form // the refused form, whichever it is
	Statuses []session.Status
	Others   []session.Person // whom the entry may be put together with
	Merged   []string         // pseudonyms of entries found to be this person
	Seats    []seatLine       // the newest first
	Papers   int
	Series   int
	Erasure  *erasureView // of an erased person
}

// seatLine is a seat that the person is said to have had.
type seatLine struct {
	session.SeatRef
	Title string
	At    time.Time
}

func (c *Console) showPerson(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f := factsForm(p)
	return c.renderPerson(w, r, http.StatusOK, p, f, filled(), f)
}

func factsForm(p session.Person) *form {
	return filled("pseudonym", p.Pseudonym, "name", p.Name.Words, "languages", strings.Join(p.Languages, ", "),
		"status", string(p.Status), "told", isoDay(p.Told), "ground", p.Ground, "since", isoDay(p.Since))
}

func (c *Console) renderPerson(w http.ResponseWriter, r *http.Request, status int, p session.Person, facts, merge, trouble *form) error {
	lab := c.Rooms.Lab().State()
	v := personView{Person: p, Form: facts, Merge: merge, Trouble: trouble, Statuses: session.Statuses,
		Papers: len(lab.PapersOf(p.ID)), Series: len(lab.SeriesOf(p.ID))}
	for _, other := range lab.Panel() {
		if other.ID != p.ID && !other.Erased {
			v.Others = append(v.Others, other)
		}
	}
	for _, other := range lab.People {
		if same, _ := lab.Same(other.ID); other.Into != "" && same.ID == p.ID {
			v.Merged = append(v.Merged, other.Pseudonym)
		}
	}
	if len(lab.SeatsOf(p.ID)) > 0 {
		names, err := c.sessionNames(r.Context())
		if err != nil {
			return err
		}
		v.Seats = seatLines(lab, p.ID, names)
	}
	if p.Erased {
		var err error
		if v.Erasure, err = c.erasureOf(r.Context(), lab, p); err != nil {
			return err
		}
	}
	return c.renderAs(w, status, "person.html", Page{Title: p.Pseudonym, Nav: "judges", Body: v})
}

// seatLines are a person's seats with what their sessions are called.
func seatLines(lab *session.Lab, id session.PersonID, names map[session.ID]session.Row) []seatLine {
	refs := lab.SeatsOf(id)
	lines := make([]seatLine, len(refs))
	for i, ref := range refs {
		lines[len(refs)-1-i] = seatLine{ref, names[ref.Session].Title, names[ref.Session].Begun}
	}
	return lines
}

// sessionNames are the rows of all sessions, received ones too, by id, each with a
// title.
func (c *Console) sessionNames(ctx context.Context) (map[session.ID]session.Row, error) {
	rows, err := c.Rooms.Rows(ctx)
	if err != nil {
		return nil, err
	}
	received, err := c.Rooms.Received(ctx)
	if err != nil {
		return nil, err
	}
	for _, x := range received {
		x.Row.Title += " (" + laboratoryWords(x.Laboratory) + ")"
		rows = append(rows, x.Row)
	}
	names := make(map[session.ID]session.Row, len(rows))
	for _, row := range rows {
		if row.Title == "" {
			row.Title = "Session without a title"
		}
		names[row.ID] = row
	}
	return names, nil
}

func (c *Console) changePerson(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	facts, err := c.readFacts(f)
	if err != nil {
		return err
	}
	if facts.Name.Words == p.Name.Words {
		facts.Name = session.Text{} // stays as it is, under its salt
	}
	if !f.Bad() {
		err := c.register(r, session.ChangePerson{Person: p.ID, Facts: facts})
		if err == nil {
			return seeOther(w, r, "/people/"+string(p.ID))
		}
		if err := f.refuse(factsField(err), err); err != nil {
			return err
		}
	}
	return c.renderPerson(w, r, http.StatusUnprocessableEntity, p, f, filled(), f)
}

func (c *Console) mergePerson(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	into := session.PersonID(f.text("into"))
	if into == "" {
		f.bad("into", "choose who it is")
	}
	if !f.Bad() {
		err := c.register(r, session.MergePeople{From: p.ID, Into: into, Together: f.Is("together", "on")})
		if err == nil {
			return seeOther(w, r, "/people/"+string(into))
		}
		if errors.Is(err, session.ErrTogether) {
			say, err := c.togetherWords(r.Context(), p, into)
			if err != nil {
				return err
			}
			f.bad("together", say)
			return c.renderPerson(w, r, http.StatusUnprocessableEntity, p, factsForm(p), f, f)
		}
		if err := f.refuse("into", err); err != nil {
			return err
		}
	}
	return c.renderPerson(w, r, http.StatusUnprocessableEntity, p, factsForm(p), f, f)
}

// mostTogether are named of the sessions that two people sat in.
const mostTogether = 5

// togetherWords name the sessions that two people both had a seat in.
func (c *Console) togetherWords(ctx context.Context, p session.Person, into session.PersonID) (string, error) {
	lab := c.Rooms.Lab().State()
	other, _ := lab.Person(into)
	names, err := c.sessionNames(ctx)
	if err != nil {
		return "", err
	}
	var sat []string
	common := lab.Together(p.ID, into)
	for _, id := range common[:min(len(common), mostTogether)] {
		at := "“" + names[id].Title + "”"
		if begun := names[id].Begun; !begun.IsZero() {
			at += ", " + date(begun)
		}
		sat = append(sat, at)
	}
	if more := len(common) - len(sat); more > 0 {
		sat = append(sat, fmt.Sprintf("%d more", more))
	}
	return fmt.Sprintf("%s and %s both had a seat in %s: %s. Two people do that, and one seldom. Nothing undoes it: tick that one person had both seats, or leave them apart",
		p.Pseudonym, other.Pseudonym, counted(len(common), "session"), strings.Join(sat, "; ")), nil
}

func (c *Console) untieSeat(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(f.text("seat"))
	ref := session.SeatRef{Session: session.ID(f.text("session")), Seat: n}
	if had, ok := c.Rooms.Lab().State().PersonOf(ref.Session, ref.Seat); err != nil || !ok || had.ID != p.ID {
		return problem{http.StatusConflict, "This seat is not " + p.Pseudonym + "’s.", "Look at the list of seats again: it may have been untied in another window."}
	}
	if err := c.register(r, session.UntieSeat{Seat: ref}); err != nil {
		return err
	}
	return seeOther(w, r, "/people/"+string(p.ID)+"#seats")
}

// personFile is everything that is kept about a person, for that person.
func (c *Console) personFile(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	b, err := c.Rooms.PersonFile(r.Context(), p.ID, c.Now())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+string(p.ID)+`.json"`)
	_, err = w.Write(b)
	return err
}
