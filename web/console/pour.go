package console

import (
	"net/http"
	"strconv"
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

// pourDoorView is the page that asks for the PIN.
type pourDoorView struct {
	Head  *Head
	Ready bool // there is a sheet to open
	Open  bool // in this browser
	Until time.Time
	Left  int    // seconds until then
	Shut  string // that and when the sheet that was open here closed by itself
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
	v := pourDoorView{Head: head(s), Ready: hasSheet(s), Open: open, Until: o.til, Form: f}
	switch {
	case open:
		v.Left = seconds(o.til.Sub(c.Now()))
	case o.session != "":
		v.Shut = o.shut()
	}
	return c.render(w, "pour.html", Page{Title: "Pour sheet", Body: v})
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
type pourStays struct {
	Open, Printed int
	Done          bool   // it was printed: a further print changes nothing
	Words         string // when it closes
}

func (c *Console) stays(o pouring) pourStays {
	return pourStays{seconds(o.til.Sub(c.Now())), seconds(printedStay), o.printed, o.closes()}
}

// pourView is the pour sheet, cut into pages.
type pourView struct {
	Head     *Head
	Stays    pourStays
	Plan     session.Plan
	Digest   session.Hash
	Flight   string // at the table, "" where all seats are one
	Opened   time.Time
	Printed  int        // times, in this flight
	Called   []pourCall // the newest first
	Heading  string
	Sheet    paper.PourSheet
	Order    string // "vessel" where it is by vessel, else "tray"
	ByVessel bool
	When     string // by vessel is allowed
	Which    string // trays are on it: a key of pourWhich
	Whiches  []pourWhich
	Only     string // what stands on each page where not all are on it
	Hot      string // caution at the foot
	For      string // who may see it
	Fill     string
	Reloaded time.Time
}

// State is what stands at a tray that is not to be poured.
func (pourView) State(t session.PourTray) string { return paper.StateWords(t, clock) }

// Nothing says why there is no page.
func (v pourView) Nothing() string { return nothingWords(v.Which) }

type pourCall struct {
	session.PourTray
	At  time.Time
	New bool // not on the last print, and still to be poured
}

func (c *Console) pourSheet(w http.ResponseWriter, r *http.Request) error {
	room, opened, err := c.pourSeen(w, r)
	if room == nil || err != nil {
		return err
	}
	s := room.State()
	a, err := askedPour(s, r)
	if err != nil {
		return err
	}
	v := pourView{
		Head: head(s), Stays: c.stays(opened), Plan: s.Plan, Digest: s.Digest, Flight: a.flight, Opened: opened.from, Reloaded: c.Now(),
		Printed: a.since.prints, Heading: a.heading(), Sheet: a.cut(a.which),
		Order: a.order, ByVessel: a.order == "vessel", When: paper.ByVesselWhen, Which: a.which, Whiches: a.whiches(), Only: whichWords[a.which],
		Hot: paper.HotFoot, For: paper.PourFor, Fill: paper.Fill(s.Plan.Serving),
	}
	for i := len(a.sheet.Called) - 1; i >= 0; i-- {
		t := a.sheet.Called[i]
		v.Called = append(v.Called, pourCall{t, a.since.called[[3]int{t.Seat, t.Set, t.Take}].at, t.ToPour() && !a.since.held(t)})
	}
	return c.render(w, "pour-sheet.html", Page{Title: "Pour sheet", Body: v})
}

// pourFile sends the pour sheet as a PDF and journals it as a print: what is in
// the file can be printed at any time. It is no GET, so that no browser fetches
// it ahead or once more.
func (c *Console) pourFile(w http.ResponseWriter, r *http.Request) error {
	room, opened, err := c.poured(w, r)
	if room == nil || err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, 1<<16)
	s := room.State()
	// What is new is seen before this print makes it old.
	a, err := askedPour(s, r)
	if err != nil {
		return err
	}
	sheet := a.cut(a.which)
	if len(sheet.Pages) == 0 {
		return problem{
			http.StatusConflict, "There is nothing to print: " + nothingWords(a.which) + ".",
			"Go back to the pour sheet and choose everything.",
		}
	}
	if _, err := room.Do(r.Context(), session.Command{At: c.Now(), Actor: session.Pourer, Act: session.PrintPourSheet{File: true}}); err != nil {
		return err
	}
	c.pours.print(r, c.Now())
	h := c.fileHead(s)
	h.Notes = []string{day(opened.from), "opened " + clock(opened.from) + ", journalled"}
	if only := whichWords[a.which]; only != "" {
		h.Notes = append(h.Notes, only)
	}
	b, err := paper.PourPDF(h, paper.SizeByKey(r.FormValue("paper")), sheet)
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
	act := session.PrintPourSheet{Vessels: r.URL.Query().Get("page") == "vessels"}
	if _, err = room.Do(r.Context(), session.Command{At: c.Now(), Actor: session.Pourer, Act: act}); err != nil {
		return err
	}
	o := c.pours.print(r, c.Now())
	w.Header().Set("Closes-In", strconv.Itoa(seconds(o.til.Sub(c.Now()))))
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
