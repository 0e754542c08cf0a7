package console

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"sync"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/say"
)

// The pour sheet is the one page that shows which cup is filled from which
// vessel. It opens with the pourer's PIN, and every opening, wrong PIN and print
// is in the journal. The browser then holds a cookie that is good for this
// session's sheet alone; what it stands for is in memory only, so that a restart
// closes every sheet.
func (c *Console) pourRoutes(r chi.Router) {
	r.Get("/pour/{id}", c.page(c.pourDoor))
	r.Post("/pour/{id}", c.page(c.pourOpen))
	r.Get("/pour/{id}/sheet", c.page(c.pourSheet))
	r.Get("/pour/{id}/vessels", c.page(c.pourVessels))
	r.Post("/pour/{id}/printed", c.page(c.pourPrinted))
	r.Post("/pour/{id}/leave", c.page(c.pourLeave))
}

const (
	pourCookie = "pour"
	// pourStay is how long an opened sheet stays open: as long as a session's
	// preparation and tasting take.
	pourStay = 4 * time.Hour
	// traysASheet fill a page of A4; blockOfTrays are parted by a heavier line.
	traysASheet  = 24
	blockOfTrays = 6
)

// pourers knows which browsers have the pour sheet open. The zero value knows
// none.
type pourers struct {
	mu   sync.Mutex // guards the following field
	open map[[sha256.Size]byte]pouring
}

// pouring is one opened sheet.
type pouring struct {
	session   session.ID
	from, til time.Time
}

// admit makes a token for a session's sheet.
func (p *pourers) admit(id session.ID, now time.Time, chance io.Reader) (string, error) {
	var b [16]byte
	if _, err := io.ReadFull(chance, b[:]); err != nil {
		return "", fmt.Errorf("token for the pour sheet: %w", err)
	}
	token := hex.EncodeToString(b[:])
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.open == nil {
		p.open = map[[sha256.Size]byte]pouring{}
	}
	for k, o := range p.open {
		if !now.Before(o.til) {
			delete(p.open, k)
		}
	}
	p.open[sha256.Sum256([]byte(token))] = pouring{id, now, now.Add(pourStay)}
	return token, nil
}

// find gives what the request's cookie stands for; ok is false without one, or
// with one of another session or of long ago.
func (p *pourers) find(r *http.Request, id session.ID, now time.Time) (pouring, bool) {
	cookie, err := r.Cookie(pourCookie)
	if err != nil {
		return pouring{}, false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	o, ok := p.open[sha256.Sum256([]byte(cookie.Value))]
	return o, ok && o.session == id && now.Before(o.til)
}

// drop closes the sheet that the request's cookie stands for.
func (p *pourers) drop(r *http.Request) {
	if cookie, err := r.Cookie(pourCookie); err == nil {
		p.mu.Lock()
		defer p.mu.Unlock()
		delete(p.open, sha256.Sum256([]byte(cookie.Value)))
	}
}

// pourDoorView is the page that asks for the PIN.
type pourDoorView struct {
	Head  *Head
	Ready bool // there is a sheet to open
	Form  *form
}

func (c *Console) pourDoor(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	if _, in := c.pours.find(r, room.State().ID, c.Now()); in {
		return seeOther(w, r, pourPath(room.State().ID)+"/sheet")
	}
	return c.renderPourDoor(w, room.State(), filled())
}

func (c *Console) renderPourDoor(w http.ResponseWriter, s *session.State, f *form) error {
	return c.render(w, "pour.html", Page{Title: "Pour sheet", Body: pourDoorView{head(s), hasSheet(s), f}})
}

// hasSheet reports whether the session has a pour sheet that is still of use.
func hasSheet(s *session.State) bool {
	return s.Phase != session.PhaseDrafted && s.Phase != session.PhaseAbandoned
}

func pourPath(id session.ID) string { return "/pour/" + string(id) }

func (c *Console) pourOpen(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	now, id := c.Now(), room.State().ID
	recorded, err := room.Do(r.Context(), session.Command{
		At: now, Actor: session.Pourer, Act: session.OpenPourSheet{Pin: f.text("pin")},
	})
	if err != nil {
		words, _ := say.Of(err)
		if err := f.refuse("", err); err != nil {
			return err
		}
		w.WriteHeader(words.Status)
		return c.renderPourDoor(w, room.State(), f)
	}
	opened := false
	for _, rec := range recorded {
		if _, ok := rec.Event.(*session.PourSheetOpened); ok {
			opened = true
		}
	}
	if !opened {
		f.bad("pin", "this is not the pourer's PIN; the attempt is in the journal")
		w.WriteHeader(http.StatusUnprocessableEntity)
		return c.renderPourDoor(w, room.State(), f)
	}
	token, err := c.pours.admit(id, now, c.Chance)
	if err != nil {
		return err
	}
	http.SetCookie(w, &http.Cookie{
		Name: pourCookie, Value: token, Path: pourPath(id), MaxAge: int(pourStay / time.Second),
		HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	return seeOther(w, r, pourPath(id)+"/sheet")
}

// poured finds the session and the opened sheet. Without one it leads back to
// the PIN, and room is nil.
func (c *Console) poured(w http.ResponseWriter, r *http.Request) (*session.Room[*session.State], pouring, error) {
	room, err := c.room(r)
	if err != nil {
		return nil, pouring{}, err
	}
	o, in := c.pours.find(r, room.State().ID, c.Now())
	if !in {
		return nil, o, seeOther(w, r, pourPath(room.State().ID))
	}
	return room, o, nil
}

// pourView is the pour sheet, cut into pages.
type pourView struct {
	Head     *Head
	Plan     session.Plan
	Digest   session.Hash
	Flight   string // at the table, "" where all seats are one
	Opened   time.Time
	Printed  int        // times
	Called   []pourCall // the newest first
	New      int        // of Called, not on the last print
	Sheets   []pourPage
	Reloaded time.Time
}

type pourCall struct {
	session.PourTray
	At  time.Time
	New bool // not on the last print
}

// pourPage is one page of A4: up to 24 trays of one round, or of replacements.
type pourPage struct {
	Title     string
	Again     bool // replacements
	Places    []string
	Vessels   []session.Vessel // that its trays are filled from
	Blocks    [][]session.PourTray
	Page, All int
}

// pourMarks are the marks of the vessels, in the order in which sheets name them.
var pourMarks = []session.Vessel{session.Disc, session.Diamond, session.Cross}

func (c *Console) pourSheet(w http.ResponseWriter, r *http.Request) error {
	room, opened, err := c.poured(w, r)
	if room == nil || err != nil {
		return err
	}
	s := room.State()
	sheet, err := s.PourSheet()
	if err != nil {
		return err
	}
	v := pourView{
		Head: head(s), Plan: s.Plan, Digest: s.Digest, Opened: opened.from, Reloaded: c.Now(),
	}
	if !over(s) {
		v.Flight = flightWords(s)
	}
	v.calls(s, sheet.Called)
	v.pages(s, sheet)
	return c.render(w, "pour-sheet.html", Page{Title: "Pour sheet", Body: v})
}

// calls lists the replacements called, the newest first, and marks those that
// the last print did not hold. While people taste they are those of the flight
// at the table.
func (v *pourView) calls(s *session.State, called []session.PourTray) {
	var printed uint64
	var steps []session.Step
	for _, step := range s.Trail {
		switch e := step.Event.(type) {
		case *session.PourSheetPrinted:
			printed = step.Seq
			v.Printed++
		case *session.ReplacementCalled:
			if s.InFlight(e.Seat) || over(s) { // as the sheet has them
				steps = append(steps, step)
			}
		}
	}
	for i := len(called) - 1; i >= 0; i-- {
		call := pourCall{called[i], steps[i].At, steps[i].Seq > printed}
		if call.New {
			v.New++
		}
		v.Called = append(v.Called, call)
	}
}

func (v *pourView) pages(s *session.State, sheet session.PourSheet) {
	of := ""
	if v.Flight != "" {
		of = ", " + v.Flight
	}
	cut := func(title string, again bool, set int, trays []session.PourTray) {
		m := methodOfSet(s.Plan, set)
		title = fmt.Sprintf("%s%s: %s, set %d", title, of, m.Name, set)
		for len(trays) > 0 {
			n := min(traysASheet, len(trays))
			p := pourPage{Title: title, Again: again, Vessels: vesselsOf(trays[:n])}
			for i := range m.Cups {
				words := place(i, m.Cups) + " cup"
				if i < m.References() {
					words += ", R"
				}
				p.Places = append(p.Places, words)
			}
			for b := 0; b < n; b += blockOfTrays {
				p.Blocks = append(p.Blocks, trays[b:min(b+blockOfTrays, n)])
			}
			v.Sheets = append(v.Sheets, p)
			trays = trays[n:]
		}
	}
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		var again []session.PourTray
		for _, call := range v.Called {
			if call.Set == set {
				again = append(again, call.PourTray)
			}
		}
		cut("Poured again", true, set, again)
	}
	for _, round := range sheet.Rounds {
		cut("Pour sheet", false, round.Round, round.Trays)
	}
	for i := range v.Sheets {
		v.Sheets[i].Page, v.Sheets[i].All = i+1, len(v.Sheets)
	}
}

// vesselsOf are the marks that stand on trays.
func vesselsOf(trays []session.PourTray) []session.Vessel {
	seen := map[session.Vessel]bool{}
	for _, t := range trays {
		for _, cup := range t.Cups {
			seen[cup.Vessel] = true
		}
	}
	var marks []session.Vessel
	for _, m := range pourMarks {
		if seen[m] {
			marks = append(marks, m)
		}
	}
	return marks
}

// methodOfSet is the method of a seat's set, numbered from 1.
func methodOfSet(p session.Plan, set int) session.Method {
	m, _ := session.MethodByKey(p.Tests[p.TestOfSet(set)].Method)
	return m
}

// vesselsView says which lot is brewed into which vessel.
type vesselsView struct {
	Head     *Head
	Flight   string // that the amounts are for, "" where all seats are one
	Vessels  []vesselLot
	Plan     session.Plan
	Supplies session.Supplies // for the flight at the table
	Digest   session.Hash
}

type vesselLot struct {
	Vessel session.Vessel
	Lot    session.Lot
	Second bool // the second brew of a blank test's lot
}

func (c *Console) pourVessels(w http.ResponseWriter, r *http.Request) error {
	room, _, err := c.poured(w, r)
	if room == nil || err != nil {
		return err
	}
	s := room.State()
	sheet, err := s.PourSheet()
	if err != nil {
		return err
	}
	v := vesselsView{Head: head(s), Plan: s.Plan, Digest: s.Digest}
	if !over(s) {
		v.Flight = flightWords(s)
	}
	v.Supplies = s.Plan.Supplies()
	if v.Flight != "" {
		v.Supplies = s.Plan.FlightSupplies(s.Plan.Flights[s.Flight-1])
	}
	for _, mark := range pourMarks {
		if lot, ok := sheet.Lots[mark]; ok {
			v.Vessels = append(v.Vessels, vesselLot{mark, lot, mark == session.Cross})
		}
	}
	return c.render(w, "pour-vessels.html", Page{Title: "Vessels", Body: v})
}

// pourPrinted journals a print; the sheet's script calls it as the browser opens
// its print dialog.
func (c *Console) pourPrinted(w http.ResponseWriter, r *http.Request) error {
	room, _, err := c.poured(w, r)
	if room == nil || err != nil {
		return err
	}
	_, err = room.Do(r.Context(), session.Command{At: c.Now(), Actor: session.Pourer, Act: session.PrintPourSheet{}})
	if err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

func (c *Console) pourLeave(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	c.pours.drop(r)
	path := pourPath(room.State().ID)
	http.SetCookie(w, &http.Cookie{Name: pourCookie, Path: path, MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	return seeOther(w, r, path)
}
