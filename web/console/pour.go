package console

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
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
	// toldShut is for how long the door says that a sheet closed by itself, and when.
	toldShut = time.Hour
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

// closes says when an open sheet closes by itself.
func (o pouring) closes() string {
	if o.printed {
		return fmt.Sprintf("Printed %s, closes by itself at %s.", clock(o.til.Add(-printedStay)), clock(o.til))
	}
	return fmt.Sprintf("It closes by itself at %s, or two minutes after a print.", clock(o.til))
}

// shut says when a sheet closed by itself, and why.
func (o pouring) shut() string {
	why := "ten minutes after the last look"
	if o.printed {
		why = "two minutes after a print"
	}
	return fmt.Sprintf("It closed by itself at %s, %s.", clock(o.til), why)
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
		if now.Sub(o.til) >= toldShut {
			delete(p.open, k)
		}
	}
	p.open[sha256.Sum256([]byte(token))] = pouring{session: id, from: now, seen: now, til: now.Add(pourStay)}
	return token, nil
}

// find gives what the request's cookie stands for; ok is false without one, or
// with one of another session or of a sheet that has closed by itself, which is
// given for a while.
func (p *pourers) find(r *http.Request, id session.ID, now time.Time) (pouring, bool) {
	cookie, err := r.Cookie(pourCookie)
	if err != nil {
		return pouring{}, false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	o, ok := p.open[sha256.Sum256([]byte(cookie.Value))]
	if !ok || o.session != id || now.Sub(o.til) >= toldShut {
		return pouring{}, false
	}
	return o, now.Before(o.til)
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
func (p *pourers) print(r *http.Request, now time.Time) pouring {
	o, _ := p.change(r, func(o *pouring) bool {
		if end := now.Add(printedStay); !o.printed || end.Before(o.til) {
			o.printed, o.til = true, end
		}
		return false
	})
	return o
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

// seconds are whole ones, rounded up, so that nobody leaves before the end.
func seconds(d time.Duration) int { return int((d + time.Second - 1) / time.Second) }

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

// pourWhich is a choice of the trays that are on the sheet.
type pourWhich struct {
	Key, Words string
	Trays      int
}

// The keys of the choices.
const (
	whichAll  = "all"
	whichOpen = "open" // to be poured
	whichNew  = "new"  // to be poured, and not on an earlier print
)

// whichWords stand on each page of a sheet without all trays.
var whichWords = map[string]string{whichOpen: "only what is not served yet", whichNew: "only what is not on the last print"}

// pourAsked is the sheet that a request asks for.
type pourAsked struct {
	sheet    session.PourSheet // with all trays
	since    sincePrint
	order    string
	which    string
	flight   string
	plan     session.Plan
	seats    int  // planned for the flight at the table
	everyone bool // nobody tastes any more
}

func askedPour(s *session.State, r *http.Request) (pourAsked, error) {
	a := pourAsked{plan: s.Plan, order: "tray", which: whichAll, everyone: over(s)}
	var err error
	if a.sheet, err = s.PourSheet(); err != nil {
		return a, err
	}
	if r.FormValue("order") == "vessel" {
		a.order = "vessel"
	}
	if which := r.FormValue("only"); whichWords[which] != "" {
		a.which = which
	}
	if !over(s) {
		a.flight = flightWords(s)
	}
	if sizes := s.Plan.FlightSizes(); s.Flight >= 1 && s.Flight <= len(sizes) {
		a.seats = sizes[s.Flight-1]
	}
	a.since = printsOf(s)
	return a, nil
}

// of are the trays of a choice.
func (a pourAsked) of(which string) session.PourSheet {
	switch which {
	case whichOpen:
		return a.sheet.Only(session.PourTray.ToPour)
	case whichNew:
		return a.sheet.Only(func(t session.PourTray) bool { return t.ToPour() && !a.since.held(t) })
	}
	return a.sheet
}

// cut cuts a choice into pages.
func (a pourAsked) cut(which string) paper.PourSheet {
	return paper.NewPourSheet(a.plan, a.flight, a.of(which), a.order == "vessel")
}

// sincePrint is what the prints of the flight at the table don't tell, or of all
// flights when nobody tastes any more.
type sincePrint struct {
	prints int
	listed []int // since the last print the list was closed with these seats
	left   []int // seats that left since
	called map[[3]int]callSince
}

type callSince struct {
	at  time.Time
	new bool // called since the last print
}

// held reports whether a print held the tray. Each print holds all that is to be
// poured then and that no earlier one held.
func (p sincePrint) held(t session.PourTray) bool {
	if t.Take == 0 {
		return p.prints > 0
	}
	return !p.called[[3]int{t.Seat, t.Set, t.Take}].new
}

// printsOf reads from the trail what has happened since the last print. A print of
// the page of vessels is none of the sheet.
func printsOf(s *session.State) sincePrint {
	p := sincePrint{called: map[[3]int]callSince{}}
	for _, step := range s.Trail {
		switch e := step.Event.(type) {
		case *session.PourSheetPrinted:
			if e.Vessels {
				continue
			}
			p.prints++
			p.listed, p.left = nil, nil
			for tray, call := range p.called {
				p.called[tray] = callSince{at: call.at}
			}
		case *session.ListFrozen:
			p.listed = e.Seats
		case *session.SeatLeft:
			p.left = append(p.left, e.Seat)
		case *session.ReplacementCalled:
			p.called[[3]int{e.Seat, e.Set, e.Take}] = callSince{step.At, true}
		case *session.FlightEnded:
			if !over(s) && e.Flight < len(s.Plan.Flights) { // the next one has a sheet of its own
				p.prints, p.listed, p.left = 0, nil, nil
			}
		}
	}
	return p
}

// changes are what the pourer has to know whose paper is the last print: in the
// order in which it matters at the table.
func (a pourAsked) changes() []string {
	var all []string
	for i := len(a.sheet.Called) - 1; i >= 0; i-- {
		if t := a.sheet.Called[i]; t.ToPour() && !a.since.held(t) {
			all = append(all, fmt.Sprintf("seat %d, set %d to pour again", t.Seat, t.Set))
		}
	}
	if a.since.prints == 0 || a.everyone {
		return all // the list and who left are on the first print
	}
	for _, seat := range a.since.left {
		all = append(all, fmt.Sprintf("seat %d left", seat))
	}
	if a.since.listed != nil && len(a.since.listed) < a.seats {
		all = append(all, "the list was closed: "+seatsInWords(a.since.listed)+" only")
	}
	return all
}

// heading heads the sheet on the screen.
func (a pourAsked) heading() string {
	changes := a.changes()
	switch {
	case len(changes) > 0 && a.since.prints == 0:
		return counted(len(changes), "set") + " to pour again, not printed yet"
	case len(changes) > 0:
		return counted(len(changes), "change") + " since the last print: " + strings.Join(changes, "; ")
	case a.flight != "":
		return "Pour sheet of " + a.flight + ", for the pourer only"
	}
	return "Pour sheet, for the pourer only"
}

// whiches are the choices, and how many trays each has.
func (a pourAsked) whiches() []pourWhich {
	all := []pourWhich{{whichAll, "Everything", 0}, {whichOpen, "Only what is not served yet", 0}}
	if a.since.prints > 0 {
		all = append(all, pourWhich{whichNew, "Only what is new since the last print", 0})
	}
	for i := range all {
		all[i].Trays = len(a.of(all[i].Key).All())
	}
	return all
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

// nothingWords say why a sheet has no tray.
func nothingWords(which string) string {
	switch which {
	case whichOpen:
		return "every tray was served, or is not to be poured"
	case whichNew:
		return "the last print holds every tray that is to be poured"
	}
	return "no seat is on the list"
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
