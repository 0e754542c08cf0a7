package console

import (
	"context"
	"net/http"
	"strings"

	"oddcup/session"
)

// mostMentions are shown at once; the number of all stands beside.
const mostMentions = 40

// erasureView says what an erasure takes away, leaves, and can't reach.
type erasureView struct {
	session.Person
	Form     *form
	Erased   session.Erasure // zero before the erasure
	Seats    []seatLine
	Sessions int
	Mentions []mentionLine // the first of them
	Mention  int           // all of them
	InClear  []mentionLine // the first places in entries that hold a part of the name, for good
	Clear    int           // all of them
	Backups  []session.Backup
	Files    []fileLine // sessions whose files, where any were written, hold the words
}

type mentionLine struct {
	session.Mention
	Title string
}

type fileLine struct {
	ID       session.ID
	Title    string
	Received bool
}

// Was reports whether the erasure has been wished for.
func (v erasureView) Was() bool { return !v.Erased.At.IsZero() }

// erasureOf gathers what an erasure of a person is about, before it or after.
func (c *Console) erasureOf(ctx context.Context, lab *session.Lab, p session.Person) (*erasureView, error) {
	v := &erasureView{Person: p, Form: filled()}
	for _, e := range lab.Erasures {
		if e.Person == p.ID {
			v.Erased = e
		}
	}
	names, err := c.sessionNames(ctx)
	if err != nil {
		return nil, err
	}
	v.Seats = seatLines(lab, p.ID, names)
	received, err := c.Rooms.Received(ctx)
	if err != nil {
		return nil, err
	}
	theirs := map[session.ID]bool{}
	for _, x := range received {
		theirs[x.ID] = true
	}
	seen := map[session.ID]bool{}
	for _, seat := range v.Seats {
		if !seen[seat.Session] {
			seen[seat.Session] = true
			v.Files = append(v.Files, fileLine{seat.Session, seat.Title, theirs[seat.Session]})
		}
	}
	v.Sessions = len(v.Files)
	if v.Was() {
		v.Backups = lab.BackupsBefore(p.ID)
		return v, nil
	}
	v.Backups = lab.Backups
	mentions, inClear, err := c.Rooms.BeforeErasing(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	v.Mention, v.Mentions = len(mentions), mentionLines(mentions, names)
	v.Clear, v.InClear = len(inClear), mentionLines(inClear, names)
	return v, nil
}

// mentionLines are the first of a list, with the titles of their sessions.
func mentionLines(all []session.Mention, names map[session.ID]session.Row) (lines []mentionLine) {
	for _, m := range all[:min(len(all), mostMentions)] {
		title := names[m.Session].Title
		if m.Session == session.LabID {
			title = "the register"
		}
		lines = append(lines, mentionLine{m, title})
	}
	return lines
}

func (c *Console) showErase(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	if p.Erased {
		return seeOther(w, r, "/people/"+string(p.ID))
	}
	return c.renderErase(w, r, http.StatusOK, p, filled())
}

func (c *Console) renderErase(w http.ResponseWriter, r *http.Request, status int, p session.Person, f *form) error {
	v, err := c.erasureOf(r.Context(), c.Rooms.Lab().State(), p)
	if err != nil {
		return err
	}
	v.Form = f
	return c.renderAs(w, status, "erase.html", Page{Title: "Erase " + p.Pseudonym, Nav: "judges", Body: v})
}

// erasePerson erases only where the pseudonym was typed: no slip of a finger does.
func (c *Console) erasePerson(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	if !p.Erased && !strings.EqualFold(strings.Join(strings.Fields(f.text("pseudonym")), " "), p.Pseudonym) {
		f.bad("pseudonym", "type the pseudonym, "+p.Pseudonym+", and nothing else")
		return c.renderErase(w, r, http.StatusUnprocessableEntity, p, f)
	}
	act := session.ErasePerson{Person: p.ID, Everywhere: f.Is("everywhere", "on")}
	if err := c.Rooms.Erase(r.Context(), session.Command{At: c.Now(), Actor: session.Host, Act: act}); err != nil {
		return err
	}
	return seeOther(w, r, "/people/"+string(p.ID))
}
