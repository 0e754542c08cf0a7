package console

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// amendRoutes take sets out after the close. Neither page tells what was picked
// or right: whether a set was sound is judged without knowing what it gave.
func (c *Console) amendRoutes(r chi.Router) {
	r.Get("/s/{id}/amend", c.page(c.showAmend))
	r.Post("/s/{id}/amend", c.page(c.amendSet))
}

// amendField is where the reason is typed.
const amendField = "amend-reason"

// amendView is every tray that was served, each of which can be taken out.
type amendView struct {
	ID     session.ID
	Title  string
	Phase  session.Phase
	Groups []amendGroup
	Chosen *amendRow
	Form   *form
	Back   navItem
	Known  session.Known
}

type amendGroup struct {
	Name string // "Set 1, triangle"
	Rows []amendRow
}

type amendRow struct {
	Session         session.ID
	Seat, Set, Take int
	Codes           []session.Code
	Mark, Says      string
	Open            bool // can be taken out
}

// Words name the tray.
func (r amendRow) Words() string { return fmt.Sprintf("seat %d, %s", r.Seat, trayWords(r.Set, r.Take)) }

// Again reports whether the tray is a replacement.
func (r amendRow) Again() bool { return r.Take > 0 }

// chosenTray is the tray that the address singles out; a number that is none
// gives no tray.
type chosenTray struct{ seat, set, take int }

func (c *Console) showAmend(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	var at chosenTray
	for name, to := range map[string]*int{"seat": &at.seat, "set": &at.set, "take": &at.take} {
		if n, err := strconv.Atoi(r.URL.Query().Get(name)); err == nil {
			*to = n
		}
	}
	return c.amendPage(w, room.State(), http.StatusOK, at, filled())
}

func (c *Console) amendPage(w http.ResponseWriter, s *session.State, status int, at chosenTray, f *form) error {
	switch s.Phase {
	case session.PhaseClosed, session.PhaseRevealed:
	case session.PhaseOpen:
		return problem{http.StatusConflict, "The tasting is not closed.", "While people taste, a set is taken out on the board, and can be poured again."}
	default:
		return problem{http.StatusConflict, "There is no tasting here whose sets could be taken out.", "Go to the session: its page shows where it is."}
	}
	v := amendOf(s, at, f)
	nav := "reveal"
	if s.Phase == session.PhaseRevealed {
		nav = "result"
	}
	return c.renderAs(w, status, "amend.html", Page{Title: "Take a set out", Nav: nav, Session: head(s), Body: v})
}

func amendOf(s *session.State, at chosenTray, f *form) *amendView {
	v := &amendView{ID: s.ID, Title: head(s).Title, Phase: s.Phase, Form: f, Back: nextPage(s), Known: s.Known()}
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		g := amendGroup{Name: fmt.Sprintf("Set %d, %s", set, testName(s.Plan, set))}
		for i := range s.Seats {
			for _, take := range s.Seats[i].Sets[set-1].Takes {
				row := amendRowOf(s, i+1, set, take)
				if row.Open && at == (chosenTray{row.Seat, row.Set, row.Take}) {
					v.Chosen = &row
				}
				g.Rows = append(g.Rows, row)
			}
		}
		if len(g.Rows) > 0 {
			v.Groups = append(v.Groups, g)
		}
	}
	return v
}

func amendRowOf(s *session.State, seat, set int, take session.Take) amendRow {
	row := amendRow{Session: s.ID, Seat: seat, Set: set, Take: take.Number, Codes: s.Codes(seat, set, take.Number)}
	switch {
	case take.Void != nil:
		row.Mark, row.Says = "void", "taken out at the table: "+typedWords(take.Void.Reason)
	case take.Amend != nil:
		row.Mark, row.Says = "void", "taken out "+take.Amend.Known.Words()+": "+typedWords(take.Amend.Reason)
	case take.Answer == nil:
		row.Mark, row.Says, row.Open = "empty", "no answer", true
	case take.Answer.Paper:
		row.Mark, row.Says, row.Open = "paper", "answered on paper", true
	default:
		row.Mark, row.Says, row.Open = "locked", "answered", true
	}
	return row
}

// amendSet takes a set out after the close, with a reason.
func (c *Console) amendSet(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	var act session.Amend
	if act.Seat, act.Set, act.Take, err = trayNumbers(r); err != nil {
		return err
	}
	if act.Reason, err = c.words(f.Value(amendField)); err != nil {
		return err
	}
	_, err = c.do(r.Context(), room, act)
	s := room.State()
	at := chosenTray{act.Seat, act.Set, act.Take}
	switch {
	case errors.Is(err, session.ErrWords):
		f.bad(amendField, "give a reason of 1 to 200 characters: it goes on the report")
		f.Refused = "The set was not taken out."
		return c.amendPage(w, s, http.StatusUnprocessableEntity, at, f)
	case errors.Is(err, session.ErrVoided):
		f.Refused = fmt.Sprintf("Seat %d, %s was taken out before. Its first reason stands.", act.Seat, trayWords(act.Set, act.Take))
		f.Next = "The list below shows it."
		return c.amendPage(w, s, http.StatusConflict, at, f)
	case errors.Is(err, session.ErrNotFront):
		return problem{http.StatusConflict, fmt.Sprintf("Seat %d, %s was never served.", act.Seat, trayWords(act.Set, act.Take)), "Go back and choose a tray of the list."}
	case err != nil:
		return err
	case s.Phase == session.PhaseRevealed:
		return seeOther(w, r, sessionPath(s, "result#amended"))
	}
	return seeOther(w, r, sessionPath(s, "reveal#amended"))
}

// amendedLine is a set taken out after the close.
type amendedLine struct {
	What   string // "Seat 3, set 1"
	At     time.Time
	Reason string
}

// amendedLines are the sets taken out after the close, in the order in which
// that was done.
func amendedLines(s *session.State) []amendedLine {
	var all []amendedLine
	for _, step := range s.Trail {
		if e, ok := step.Event.(*session.Amended); ok {
			late := ""
			if k := s.Seats[e.Seat-1].Sets[e.Set-1].Takes[e.Take].Amend.Known; k != "" {
				late = " (" + k.Words() + ")"
			}
			all = append(all, amendedLine{fmt.Sprintf("Seat %d, %s", e.Seat, trayWords(e.Set, e.Take)), step.At, typedWords(e.Reason) + late})
		}
	}
	return all
}

// amendedView is the result without the sets taken out after the close, beside
// the registered one.
type amendedView struct {
	Out   []amendedLine
	Tests []amendedTest
	Note  string
}

// amendedTest is one test both ways.
type amendedTest struct {
	Name                string
	Registered, Amended amendedHalf
	Same                bool // nothing of this test was taken out
}

type amendedHalf struct {
	Count, Chance, Alike string
	Mark, Verdict        string
}

// amendedOf makes the view; nil where nothing was taken out.
func amendedOf(s *session.State, res session.Result) *amendedView {
	if res.Amended == nil {
		return nil
	}
	v := &amendedView{Out: amendedLines(s)}
	half := func(t session.TestResult) amendedHalf {
		return amendedHalf{t.Sentence(), t.PSentence(), t.SimilarSentence(), outcomeMark(t.Outcome), t.Verdict()}
	}
	number := 0
	for i, t := range res.Tests {
		if t.Plan.Blank == "" {
			number++
		}
		a := res.Amended[i]
		v.Tests = append(v.Tests, amendedTest{
			Name: testOf(t, number, "").Head, Registered: half(t), Amended: half(a),
			Same: t.N == a.N && t.Correct == a.Correct && t.Outcome == a.Outcome && t.Decided == a.Decided,
		})
		if t.Plan.Sequential {
			v.Note = "The looks of the sequential test were taken on what was in then, and stay as they were."
		}
	}
	return v
}

// Sets says how many were taken out, to begin a sentence.
func (v amendedView) Sets() string {
	if len(v.Out) == 1 {
		return "One set was"
	}
	return fmt.Sprintf("%s sets were", capital(inWords(len(v.Out))))
}
