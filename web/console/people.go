package console

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// peopleRoutes are the register of people. Of all pages of people and judges these
// alone show names.
func (c *Console) peopleRoutes(r chi.Router) {
	r.Get("/people", c.page(c.people))
	r.Post("/people", c.page(c.enterPerson))
	r.Get("/people/ties", c.page(c.showTies))
	r.Post("/people/ties", c.page(c.tieNames))
	r.Get("/people/papers", c.page(c.showPapers))
	r.Post("/people/papers", c.page(c.takePapers))
	r.Get("/people/records.csv", c.page(c.recordsCSV))
	r.Get("/people/{person}", c.page(c.showPerson))
	r.Post("/people/{person}", c.page(c.changePerson))
	r.Post("/people/{person}/merge", c.page(c.mergePerson))
	r.Post("/people/{person}/untie", c.page(c.untieSeat))
	r.Get("/people/{person}/record.json", c.page(c.personFile))
	r.Get("/people/{person}/erase", c.page(c.showErase))
	r.Post("/people/{person}/erase", c.page(c.erasePerson))
}

// peopleView is the register.
type peopleView struct {
	Answer   string
	People   []personLine
	Merged   []mergedLine
	Untold   int // not told yet what is kept
	Waiting  int // erasures that were wished for and are not done
	Form     *form
	Statuses []session.Status
}

type personLine struct {
	session.Person
	Gone time.Time // when the name was erased
}

type mergedLine struct{ Pseudonym, Into string }

func (c *Console) people(w http.ResponseWriter, _ *http.Request) error {
	return c.renderPeople(w, http.StatusOK, filled("status", string(session.StatusCandidate)))
}

func (c *Console) renderPeople(w http.ResponseWriter, status int, f *form) error {
	lab := c.Rooms.Lab().State()
	v := peopleView{Form: f, Statuses: session.Statuses}
	gone := map[session.PersonID]time.Time{}
	for _, e := range lab.Erasures {
		gone[e.Person] = e.At
		if e.Done.IsZero() {
			v.Waiting++
		}
	}
	for _, p := range lab.Panel() {
		v.People = append(v.People, personLine{p, gone[p.ID]})
		if p.Told.IsZero() && !p.Erased {
			v.Untold++
		}
	}
	for _, p := range lab.People {
		if p.Into != "" {
			into, _ := lab.Same(p.ID)
			v.Merged = append(v.Merged, mergedLine{p.Pseudonym, into.Pseudonym})
		}
	}
	v.Answer = registerWords(len(v.People), v.Untold)
	return c.renderAs(w, status, "people.html", Page{Title: "People", Nav: "judges", Body: v})
}

func registerWords(people, untold int) string {
	if people == 0 {
		return "Nobody is on the register yet."
	}
	say := fmt.Sprintf("%d people are on the register.", people)
	if people == 1 {
		say = "One person is on the register."
	}
	switch {
	case untold == 0:
		return say
	case untold == people && people == 1:
		return say + " Tell that person what is kept."
	case untold == 1:
		return say + " One has not been told what is kept."
	}
	return say + fmt.Sprintf(" %d have not been told what is kept.", untold)
}

func (c *Console) enterPerson(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	facts, err := c.readFacts(f)
	if err != nil {
		return err
	}
	if !f.Bad() {
		err := c.register(r, session.EnterPerson{Facts: facts})
		if err == nil {
			return seeOther(w, r, "/people")
		}
		if err := f.refuse(factsField(err), err); err != nil {
			return err
		}
	}
	return c.renderPeople(w, http.StatusUnprocessableEntity, f)
}

// readFacts reads what the register keeps of a person.
func (c *Console) readFacts(f *form) (session.PersonFacts, error) {
	name, err := c.words(f.text("name"))
	if err != nil {
		return session.PersonFacts{}, err
	}
	return session.PersonFacts{
		Pseudonym: f.text("pseudonym"), Name: name, Status: session.Status(f.text("status")),
		Languages: strings.FieldsFunc(f.text("languages"), func(r rune) bool { return strings.ContainsRune(",; \t\n", r) }),
		Told:      f.day("told", "told on"), Ground: f.text("ground"), Since: f.day("since", "on the panel since"),
	}, nil
}

// day reads a date, the zero time for an empty field.
func (f *form) day(name, what string) time.Time {
	if f.text(name) == "" {
		return time.Time{}
	}
	t, err := time.ParseInLocation(time.DateOnly, f.text(name), time.Local)
	if err != nil {
		f.bad(name, fmt.Sprintf("%s: %s is no date; write it as 2031-03-05", what, quoted(f.text(name))))
	}
	return t
}

// isoDay is a date as day reads it.
func isoDay(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Local().Format(time.DateOnly)
}

// factsField is the field that a refusal is about, "" where it may be several.
func factsField(err error) string {
	say := err.Error()
	switch {
	case errors.Is(err, session.ErrTaken), strings.Contains(say, "a pseudonym has"):
		return "pseudonym"
	case strings.HasPrefix(say, "a person: "):
		return "name"
	case strings.Contains(say, ", language "), strings.Contains(say, " languages: "):
		return "languages"
	case strings.Contains(say, "the ground has"), strings.Contains(say, "on what ground"):
		return "ground"
	}
	return ""
}

// findPerson finds the person that the address names; somebody who was merged is
// the one that they were found to be.
func (c *Console) findPerson(r *http.Request) (session.Person, error) {
	id := session.PersonID(chi.URLParam(r, "person"))
	p, ok := c.Rooms.Lab().State().Same(id)
	if !ok {
		return p, fmt.Errorf("person %q: %w", id, session.ErrNoPerson)
	}
	return p, nil
}
