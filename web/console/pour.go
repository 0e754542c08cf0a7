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
	"oddcup/web/paper"
	"oddcup/web/say"
)

// The pour sheet is the one page that shows which cup is filled from which
// vessel. It opens with the pourer's PIN, and every opening, further look, wrong
// PIN and print is in the journal. The browser then holds a cookie that is good
// for this session's sheet alone, and for a short while; what it stands for is in
// memory only, so that a restart closes every sheet. No page of the host's leads
// to an open sheet: they lead to the door, which says that it is open.
func (c *Console) pourRoutes(r chi.Router) {
	r.Get("/pour/{id}", c.page(c.pourDoor))
	r.Post("/pour/{id}", c.page(c.pourOpen))
	r.Get("/pour/{id}/sheet", c.page(c.pourSheet))
	r.Get("/pour/{id}/vessels", c.page(c.pourVessels))
	r.Post("/pour/{id}/sheet.pdf", c.page(c.pourFile))
	r.Post("/pour/{id}/printed", c.page(c.pourPrinted))
	r.Post("/pour/{id}/leave", c.page(c.pourLeave))
}

const (
	pourCookie = "pour"
	// pourStay is how long an opened sheet stays open after the last look at it.
	pourStay = 10 * time.Minute
	// printedStay is how long it stays open after a print, whatever is looked at:
	// long enough to print the vessels, too.
	printedStay = 2 * time.Minute
	// oneLook is how soon after a look another page of the sheet is the same look.
	oneLook = time.Minute
)

// pourers knows which browsers have the pour sheet open. The zero value knows
// none.
type pourers struct {
	mu   sync.Mutex // guards the following field
	open map[[sha256.Size]byte]pouring
}

// pouring is one opened sheet: from its opening to its end, unless somebody looks
// at it before that.
type pouring struct {
	session         session.ID
	from, seen, til time.Time
	printed         bool // a look keeps it open no longer
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
	p.open[sha256.Sum256([]byte(token))] = pouring{session: id, from: now, seen: now, til: now.Add(pourStay)}
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

// see notes a look at the sheet that the request's cookie stands for. Further says
// whether it is another one than the last.
func (p *pourers) see(r *http.Request, now time.Time) (seen pouring, further bool) {
	return p.change(r, func(o *pouring) bool {
		further := now.Sub(o.seen) >= oneLook
		if further {
			o.seen = now
		}
		if !o.printed {
			o.til = now.Add(pourStay)
		}
		return further
	})
}

// print notes a print, which lets the sheet close soon.
func (p *pourers) print(r *http.Request, now time.Time) {
	p.change(r, func(o *pouring) bool {
		if end := now.Add(printedStay); !o.printed || end.Before(o.til) {
			o.printed, o.til = true, end
		}
		return false
	})
}

func (p *pourers) change(r *http.Request, do func(*pouring) bool) (pouring, bool) {
	cookie, err := r.Cookie(pourCookie)
	if err != nil {
		return pouring{}, false
	}
	key := sha256.Sum256([]byte(cookie.Value))
	p.mu.Lock()
	defer p.mu.Unlock()
	o, ok := p.open[key]
	if !ok {
		return pouring{}, false
	}
	did := do(&o)
	p.open[key] = o
	return o, did
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
	Open  bool // in this browser
	Until time.Time
	Form  *form
}

func (c *Console) pourDoor(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	return c.renderPourDoor(w, r, room.State(), filled())
}

func (c *Console) renderPourDoor(w http.ResponseWriter, r *http.Request, s *session.State, f *form) error {
	o, open := c.pours.find(r, s.ID, c.Now())
	return c.render(w, "pour.html", Page{Title: "Pour sheet", Body: pourDoorView{head(s), hasSheet(s), open, o.til, f}})
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
		return c.renderPourDoor(w, r, room.State(), f)
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
		return c.renderPourDoor(w, r, room.State(), f)
	}
	c.pours.drop(r)
	token, err := c.pours.admit(id, now, c.Chance)
	if err != nil {
		return err
	}
	http.SetCookie(w, &http.Cookie{
		Name: pourCookie, Value: token, Path: pourPath(id),
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

// pourSeen is poured for a page that shows the key: the look at it is journalled,
// but as part of the last one.
func (c *Console) pourSeen(w http.ResponseWriter, r *http.Request) (*session.Room[*session.State], pouring, error) {
	room, o, err := c.poured(w, r)
	if room == nil || err != nil {
		return room, o, err
	}
	o, further := c.pours.see(r, c.Now())
	if further {
		_, err = room.Do(r.Context(), session.Command{At: c.Now(), Actor: session.Pourer, Act: session.SeePourSheet{}})
	}
	return room, o, err
}

// pourStays tells the page's script for how many seconds it may be seen.
type pourStays struct{ Open, Printed int }

func (c *Console) stays(o pouring) pourStays {
	return pourStays{int(o.til.Sub(c.Now()) / time.Second), int(printedStay / time.Second)}
}

// pourView is the pour sheet, cut into pages.
type pourView struct {
	Head     *Head
	Stays    pourStays
	Until    time.Time
	Plan     session.Plan
	Digest   session.Hash
	Flight   string // at the table, "" where all seats are one
	Opened   time.Time
	Printed  int        // times
	Called   []pourCall // the newest first
	New      int        // of Called, not on the last print
	Sheet    paper.PourSheet
	ByVessel bool
	When     string // by vessel is allowed
	Hot      string // caution at the foot
	For      string // who may see it
	Fill     string
	Reloaded time.Time
}

type pourCall struct {
	session.PourTray
	At  time.Time
	New bool // not on the last print
}

func (c *Console) pourSheet(w http.ResponseWriter, r *http.Request) error {
	room, opened, err := c.pourSeen(w, r)
	if room == nil || err != nil {
		return err
	}
	s := room.State()
	sheet, err := s.PourSheet()
	if err != nil {
		return err
	}
	v := pourView{
		Head: head(s), Stays: c.stays(opened), Until: opened.til, Plan: s.Plan, Digest: s.Digest, Opened: opened.from, Reloaded: c.Now(),
		ByVessel: byVessel(r), When: paper.ByVesselWhen, Hot: paper.HotFoot, For: paper.PourFor, Fill: paper.Fill(s.Plan.Serving),
	}
	if !over(s) {
		v.Flight = flightWords(s)
	}
	v.calls(s, sheet.Called)
	v.Sheet = paper.NewPourSheet(s.Plan, v.Flight, sheet, v.ByVessel)
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

// byVessel reports whether the address asks for the sheet by vessel.
func byVessel(r *http.Request) bool { return r.FormValue("order") == "vessel" }

// pourFile sends the pour sheet as a PDF and journals it as a print: what is in
// the file can be printed at any time. It is no GET, so that no browser fetches
// it ahead or once more.
func (c *Console) pourFile(w http.ResponseWriter, r *http.Request) error {
	room, opened, err := c.poured(w, r)
	if room == nil || err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, 1<<16)
	if _, err := room.Do(r.Context(), session.Command{At: c.Now(), Actor: session.Pourer, Act: session.PrintPourSheet{}}); err != nil {
		return err
	}
	s := room.State()
	sheet, err := s.PourSheet()
	if err != nil {
		return err
	}
	c.pours.print(r, c.Now())
	which := ""
	if !over(s) {
		which = flightWords(s)
	}
	h := c.fileHead(s)
	h.Notes = []string{day(opened.from), "opened " + clock(opened.from) + ", journalled"}
	b, err := paper.PourPDF(h, paper.SizeByKey(r.FormValue("paper")), paper.NewPourSheet(s.Plan, which, sheet, byVessel(r)))
	return sendFile(w, s, "pour-sheet", b, err)
}

// methodOfSet is the method of a seat's set, numbered from 1.
func methodOfSet(p session.Plan, set int) session.Method {
	m, _ := session.MethodByKey(p.Tests[p.TestOfSet(set)].Method)
	return m
}

// vesselsView says which lot is brewed into which vessel.
type vesselsView struct {
	Head     *Head
	Stays    pourStays
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
	room, opened, err := c.pourSeen(w, r)
	if room == nil || err != nil {
		return err
	}
	s := room.State()
	sheet, err := s.PourSheet()
	if err != nil {
		return err
	}
	v := vesselsView{Head: head(s), Stays: c.stays(opened), Plan: s.Plan, Digest: s.Digest}
	if !over(s) {
		v.Flight = flightWords(s)
	}
	v.Supplies = s.Plan.Supplies()
	if v.Flight != "" {
		v.Supplies = s.Plan.FlightSupplies(s.Plan.Flights[s.Flight-1])
	}
	for _, mark := range paper.Marks {
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
	c.pours.print(r, c.Now())
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
