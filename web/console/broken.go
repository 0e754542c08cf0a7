package console

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// sealRoutes break the seal before the reveal, and show the key once it is
// broken.
func (c *Console) sealRoutes(r chi.Router) {
	r.Post("/s/{id}/break", c.page(c.breakSeal))
	r.Get("/s/{id}/key", c.page(c.showKey))
}

// Fields of the form that breaks the seal, and the word to be typed.
const (
	breakReason = "break-reason"
	breakWord   = "break-word"
	wordOfBreak = "break"
)

// sealView is how the seal stands, for the trail.
type sealView struct {
	ID     session.ID
	Holds  bool // and can be broken
	Broken *session.Noting
	Form   *form
}

func sealOf(s *session.State, f *form) sealView {
	v := sealView{ID: s.ID, Broken: s.Broken, Form: f}
	switch s.Phase {
	case session.PhaseSealed, session.PhaseOpen, session.PhaseClosed:
		v.Holds = s.Broken == nil
	}
	return v
}

// breakSeal opens the key early: with a reason and a word typed, or not at all.
func (c *Console) breakSeal(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	if s := room.State(); s.Broken == nil && sealOf(s, f).Holds {
		if f.text(breakReason) == "" {
			f.bad(breakReason, "give a reason of 1 to 200 characters: it stands on every later page and report")
		}
		if !strings.EqualFold(f.text(breakWord), wordOfBreak) {
			f.bad(breakWord, "type the word break")
		}
	}
	if !f.Bad() {
		reason, err := c.words(f.Value(breakReason))
		if err != nil {
			return err
		}
		_, err = c.do(r.Context(), room, session.BreakSeal{Reason: reason})
		if err == nil {
			return seeOther(w, r, sessionPath(room.State(), "key"))
		}
		if !errors.Is(err, session.ErrWords) {
			return err
		}
		f.bad(breakReason, "give a reason of 1 to 200 characters: it stands on every later page and report")
	}
	f.Refused = "The seal was not broken."
	return c.trailPage(w, room.State(), http.StatusUnprocessableEntity, f)
}

// keyView is the serving key after the seal was broken.
type keyView struct {
	ID      session.ID
	Title   string
	Broken  *session.Noting
	Vessels []keyVessel
	Groups  []keyGroup
	Next    navItem
}

// keyVessel says which lot a vessel holds.
type keyVessel struct {
	Vessel session.Vessel
	Lot    string
}

// keyGroup are the trays of one set, in seat order.
type keyGroup struct {
	Name string // "Set 1, triangle"
	Rows []keyRow
}

type keyRow struct {
	Seat  int
	Again bool
	Cups  []keyCup
}

type keyCup struct {
	Code   session.Code
	Vessel session.Vessel
	Lot    string
}

func (c *Console) showKey(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	switch {
	case s.Broken != nil:
	case s.Phase == session.PhaseRevealed: // the key stands with the answers
		return seeOther(w, r, sessionPath(s, "result"))
	default:
		return fmt.Errorf("session %s: %w", s.ID, session.ErrSealed)
	}
	v, err := keyOf(s)
	if err != nil {
		return err
	}
	return c.render(w, "key.html", Page{Title: "Serving key", Nav: "key", Session: head(s), Body: v})
}

// keyOf reads the open key: the trays as first poured, and the replacements that
// were called.
func keyOf(s *session.State) (*keyView, error) {
	layout, err := s.Key()
	if err != nil {
		return nil, err
	}
	v := &keyView{ID: s.ID, Title: head(s).Title, Broken: s.Broken, Next: nextPage(s)}
	own := map[byte]session.Vessel{'A': session.Diamond, 'B': session.Diamond}
	own[layout.Disc[0]] = session.Disc
	lots := map[session.Vessel]string{own['A']: "untreated", own['B']: "processed"}
	v.Vessels = []keyVessel{{session.Disc, ""}, {session.Diamond, ""}}
	for i := range v.Vessels {
		lot := s.Plan.Untreated
		if own['B'] == v.Vessels[i].Vessel {
			lot = s.Plan.Processed
		}
		v.Vessels[i].Lot = "lot " + lot.Words()
	}
	for _, t := range s.Plan.Tests {
		if t.Blank != "" {
			lots[session.Cross] = t.Blank + ", second brew"
		}
	}
	if lot := lots[session.Cross]; lot != "" {
		v.Vessels = append(v.Vessels, keyVessel{session.Cross, "the " + lot})
	}
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		test := s.Plan.Tests[s.Plan.TestOfSet(set)]
		g := keyGroup{Name: fmt.Sprintf("Set %d, %s", set, nameOf(test))}
		for i := range s.Seats {
			dealt := layout.Seats[i][set-1]
			takes := max(1, len(s.Seats[i].Sets[set-1].Takes))
			for take := range min(takes, len(dealt.Takes)) {
				row := keyRow{Seat: i + 1, Again: take > 0}
				for at, code := range dealt.Takes[take] {
					vessel := vesselIn(test, own, dealt.Order[at])
					row.Cups = append(row.Cups, keyCup{code, vessel, lots[vessel]})
				}
				g.Rows = append(g.Rows, row)
			}
		}
		v.Groups = append(v.Groups, g)
	}
	return v, nil
}

// vesselIn is the vessel of a cup in a test: in a blank test A is the lot's own
// and B that of its second brew.
func vesselIn(t session.TestPlan, own map[byte]session.Vessel, product byte) session.Vessel {
	switch {
	case t.Blank == "":
		return own[product]
	case product == 'B':
		return session.Cross
	case t.Blank == session.BlankProcessed:
		return own['B']
	}
	return own['A']
}

// withSeal adds the mark of a broken seal to a page's live parts: it shows in
// every window at once.
func (c *Console) withSeal(make parts) parts {
	return func(s *session.State) (map[string]template.HTML, error) {
		all, err := make(s)
		if err != nil {
			return nil, err
		}
		mark, err := c.fragment("seal-broken", head(s))
		if err != nil {
			return nil, err
		}
		all["seal-broken"] = mark
		return all, nil
	}
}
