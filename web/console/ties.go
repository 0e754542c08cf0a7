package console

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"time"

	"oddcup/session"
)

// tiesView are the names that were typed at seats and belong to nobody yet.
type tiesView struct {
	Answer   string
	Names    []tieLine
	All      int // names; those that are not shown come next
	Nameless int // seats whose name was erased
	People   []session.Person
	Form     *form
}

// tieLine is one name with the sessions in which it was typed.
type tieLine struct {
	session.UntiedName
	Key      string // of its fields in the form
	Sessions []tieSession
	More     int // sessions that are not shown
	Chosen   string
	Fault    string
}

type tieSession struct {
	ID    session.ID
	Title string
	At    time.Time
	Seats []int
}

// The page's bounds: sessions told of a name, and choices drawn in all.
const (
	mostTieSessions = 4
	mostTieChoices  = 4000
	mostTieNames    = 60
)

// newJudge is the choice that enters a person under the name.
const newJudge = "new"

func (c *Console) showTies(w http.ResponseWriter, r *http.Request) error {
	return c.renderTies(w, r, http.StatusOK, filled())
}

// tieLines lists the names. What the form holds for a name stands before what is
// suggested.
func (c *Console) tieLines(r *http.Request, f *form) ([]tieLine, int, error) {
	names, nameless, err := c.Rooms.UntiedNames(r.Context())
	if err != nil {
		return nil, 0, err
	}
	lines := make([]tieLine, len(names))
	for i, n := range names {
		sum := sha256.Sum256(fmt.Appendf(nil, "%v\x00%s\x00%s\x00%d", n.Received, n.Laboratory, n.Name, len(n.Seats)))
		l := tieLine{UntiedName: n, Key: "who-" + hex.EncodeToString(sum[:8]), Chosen: string(n.Suggested)}
		if f.values.Has(l.Key) {
			l.Chosen = f.text(l.Key)
		}
		l.Fault = f.Fault(l.Key)
		at := map[session.ID]int{}
		for _, seat := range n.Seats {
			j, known := at[seat.Session]
			if !known {
				j = len(l.Sessions)
				at[seat.Session] = j
				l.Sessions = append(l.Sessions, tieSession{seat.Session, seat.Title, seat.At, nil})
			}
			l.Sessions[j].Seats = append(l.Sessions[j].Seats, seat.Seat)
		}
		if len(l.Sessions) > mostTieSessions {
			l.More = len(l.Sessions) - mostTieSessions
			l.Sessions = l.Sessions[:mostTieSessions]
		}
		lines[i] = l
	}
	return lines, nameless, nil
}

func (c *Console) renderTies(w http.ResponseWriter, r *http.Request, status int, f *form) error {
	lines, nameless, err := c.tieLines(r, f)
	if err != nil {
		return err
	}
	v := tiesView{Names: lines, All: len(lines), Nameless: nameless, Form: f}
	for _, p := range c.Rooms.Lab().State().Panel() {
		if !p.Erased {
			v.People = append(v.People, p)
		}
	}
	if most := max(10, min(mostTieNames, mostTieChoices/(2+len(v.People)))); len(v.Names) > most {
		v.Names = v.Names[:most]
	}
	seats, suggested := 0, 0
	for _, l := range lines {
		seats += len(l.Seats)
		if l.Suggested != "" {
			suggested++
		}
	}
	v.Answer = tieWords(len(lines), seats, suggested)
	return c.renderAs(w, status, "ties.html", Page{Title: "Names to tie", Nav: "judges", Body: v})
}

func tieWords(names, seats, suggested int) string {
	if names == 0 {
		return "Every name that was typed belongs to somebody."
	}
	say := fmt.Sprintf("%d names at %s belong to nobody yet.", names, counted(seats, "seat"))
	if names == 1 {
		say = fmt.Sprintf("One name at %s belongs to nobody yet.", counted(seats, "seat"))
	}
	switch {
	case suggested == 1:
		say += " One is like a name of the register."
	case suggested > 1:
		say += fmt.Sprintf(" %d are like names of the register.", suggested)
	}
	return say
}

// tieNames ties the seats of all names for which somebody was chosen. What was
// tied before a refusal stays tied; the page then shows what is left.
func (c *Console) tieNames(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	lines, _, err := c.tieLines(r, f)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if who := f.text(l.Key); who != "" {
			if err := c.tie(r, l, who); err != nil {
				if err := f.refuse(l.Key, err); err != nil {
					return err
				}
			}
		}
	}
	if f.Bad() {
		return c.renderTies(w, r, http.StatusUnprocessableEntity, f)
	}
	return seeOther(w, r, "/people/ties")
}

// tie ties the seats of a name to a person, entered first where new.
func (c *Console) tie(r *http.Request, l tieLine, who string) error {
	if who == newJudge {
		name, err := c.words(l.Name)
		if err != nil {
			return err
		}
		recorded, err := c.Rooms.Lab().Do(r.Context(), session.Command{At: c.Now(), Actor: session.Host,
			Act: session.EnterPerson{Facts: session.PersonFacts{Name: name}}})
		if err != nil {
			return err
		}
		for _, rec := range recorded {
			if e, ok := rec.Event.(*session.PersonEntered); ok {
				who = string(e.Person)
			}
		}
	}
	seats := make([]session.SeatRef, len(l.Seats))
	for i := range l.Seats {
		seats[i] = l.Seats[i].SeatRef
	}
	return c.register(r, session.TieSeats{Person: session.PersonID(who), Seats: seats})
}
