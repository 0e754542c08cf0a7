package console

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/paper"
)

// What is printed here is the same under every key: codes and seats, never an
// order or a vessel. Once the list is frozen, only its seats are printed.
func (c *Console) printRoutes(r chi.Router) {
	r.Get("/s/{id}/print", c.page(c.printOverview))
	r.Get("/s/{id}/print/labels", c.page(c.printLabels))
	r.Get("/s/{id}/print/trays", c.page(c.printTrays))
	r.Get("/s/{id}/print/seats", c.page(c.printSeats))
	r.Get("/s/{id}/print/ballots", c.page(c.printBallots))
	r.Get("/s/{id}/print/worksheet", c.page(c.printWorksheet))
	r.Get("/s/{id}/print/labels.pdf", c.page(c.labelsFile))
	r.Get("/s/{id}/print/trays.pdf", c.page(c.traysFile))
	r.Get("/s/{id}/print/seats.pdf", c.page(c.seatsFile))
	r.Get("/s/{id}/print/ballots.pdf", c.page(c.ballotsFile))
	r.Get("/s/{id}/print/worksheet.pdf", c.page(c.worksheetFile))
}

// sheetPage is what every printed page says of itself.
type sheetPage struct {
	Head   *Head
	Plan   session.Plan
	Digest session.Hash
	Back   string       // where the screen goes on
	What   string       // title on the screen
	How    string       // how to print and cut
	One    bool         // one tray alone
	Again  bool         // it is a replacement
	File   template.URL // address of the same as a PDF, without the size of paper
	Stock  *stockChoice // for labels
	Sheets any
}

// stockChoice is what labels are printed on.
type stockChoice struct {
	paper.Stock
	All    []paper.Stock
	Start  int
	Hidden map[string]string // what else the address says
}

// printedFor are the seats that a sheet is printed for: those of the flight at
// the table that are poured for, or those of the flight that the address names;
// what names it is for a title.
func printedFor(s *session.State, r *http.Request) (seats []int, what string, err error) {
	typed := r.URL.Query().Get("flight")
	if typed == "" || !severalFlights(s.Plan) {
		if words := flightWords(s); words != "" && !over(s) {
			what = ", " + words
		}
		return s.Listed(), what, nil
	}
	flight, err := strconv.Atoi(typed)
	if err != nil || flight < 1 || flight > len(s.Plan.Flights) {
		return nil, "", problem{
			http.StatusNotFound, fmt.Sprintf("There is no flight %s to print for.", typed),
			"Choose a flight of this session on the print page.",
		}
	}
	what = fmt.Sprintf(", flight %d of %d", flight, len(s.Plan.Flights))
	if flight == s.Flight && !over(s) {
		return s.Listed(), what, nil
	}
	for _, n := range spans(s.Plan)[flight-1].Numbers() {
		if s.Seats[n-1].Listed || flight > s.Flight && !over(s) {
			seats = append(seats, n)
		}
	}
	return seats, what, nil
}

// over reports whether nobody tastes any more.
func over(s *session.State) bool {
	return s.Phase == session.PhaseClosed || s.Phase == session.PhaseRevealed
}

// printable finds a session that has something to print.
func (c *Console) printable(r *http.Request) (*session.State, error) {
	room, err := c.room(r)
	if err != nil {
		return nil, err
	}
	s := room.State()
	if s.Digest.IsZero() {
		return nil, problem{
			http.StatusConflict, "There is nothing to print yet: codes are drawn when the plan is sealed.",
			"Seal the plan first.",
		}
	}
	if s.Phase == session.PhaseAbandoned {
		return nil, problem{
			http.StatusConflict, "This session was abandoned. Nothing of it is printed any more.",
			"Go to the home page for another session.",
		}
	}
	return s, nil
}

// printView is the overview of what there is to print.
type printView struct {
	Head        *Head
	Plan        session.Plan
	Digest      session.Hash
	Frozen      bool
	Seats       int // printed for
	Labels      int
	LabelSheets int
	TraySheets  int
	CardSheets  int
	Worksheets  int
	Join        string
	JoinTrouble string
	Called      []calledTray
	Flight      string // at the table, "" where all seats are one
	Others      []span // flights to print ahead
	Next        string // address of the next step
	NextWords   string
}

type calledTray struct {
	Seat, Set, Take int
	At              time.Time
}

// Query names the tray in the addresses of what is printed for it.
func (t calledTray) Query() template.URL {
	return template.URL(fmt.Sprintf("seat=%d&set=%d&take=%d", t.Seat, t.Set, t.Take))
}

func (c *Console) printOverview(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	v := printView{
		Head: head(s), Plan: s.Plan, Digest: s.Digest, Frozen: s.Frozen, Seats: len(s.Listed()),
		Join: plainAddress(c.Join), JoinTrouble: c.JoinTrouble, Called: calledTrays(s),
	}
	if !over(s) {
		v.Flight = flightWords(s)
		if v.Flight != "" {
			v.Others = spans(s.Plan)[s.Flight:]
		}
	}
	v.Labels = v.Seats * s.Plan.CupsPerSeat()
	trays := paper.Trays(s, s.Listed())
	v.LabelSheets = len(paper.LabelPages(trays, paper.Stocks[0], 1))
	v.TraySheets = len(paper.TrayPages(trays))
	v.CardSheets = len(paper.SeatPages(make([]paper.SeatCard, v.Seats)))
	v.Worksheets = len(paper.Worksheets(s.Plan))
	v.Next, v.NextWords = nextAct(s)
	return c.render(w, "print.html", Page{Title: "Print", Nav: "print", Session: v.Head, Body: v})
}

// calledTrays are the replacements called so far, the newest first.
func calledTrays(s *session.State) []calledTray {
	var all []calledTray
	for i := len(s.Trail) - 1; i >= 0; i-- {
		if e, ok := s.Trail[i].Event.(*session.ReplacementCalled); ok {
			all = append(all, calledTray{e.Seat, e.Set, e.Take, s.Trail[i].At})
		}
	}
	return all
}

// labelsAsked reads which labels an address wants, and on what.
func (c *Console) labelsAsked(r *http.Request) (*session.State, sheetPage, []paper.LabelPage, error) {
	s, err := c.printable(r)
	if err != nil {
		return nil, sheetPage{}, nil, err
	}
	p := newSheetPage(s)
	choice, err := askedStock(r)
	if err != nil {
		return nil, p, nil, err
	}
	var trays []paper.Tray
	fits := capital(choice.Words) + ". Print at 100 %, without margins, on one side."
	if r.URL.Query().Has("seat") {
		t, err := askedTray(s, r)
		if err != nil {
			return nil, p, nil, err
		}
		trays = []paper.Tray{t}
		p.What = fmt.Sprintf("Labels of seat %d, set %d", t.Seat, t.Set)
		if t.Again() {
			p.What += ", poured again"
		}
		p.How = fits + " Take the old labels away with the old cups."
	} else {
		seats, what, err := printedFor(s, r)
		if err != nil {
			return nil, p, nil, err
		}
		trays = paper.Trays(s, seats)
		p.What = counted(len(seats)*s.Plan.CupsPerSeat(), "label") + what
		p.How = fits
		if !choice.Roll() {
			p.How += " Each set begins a sheet, and no tray is split over two."
		}
	}
	p.Stock = choice
	pages := paper.LabelPages(trays, choice.Stock, choice.Start)
	p.Sheets = pages
	return s, p, pages, nil
}

// askedStock reads what labels are to be printed on, and which label of the
// first sheet is the first that is left.
func askedStock(r *http.Request) (*stockChoice, error) {
	q := r.URL.Query()
	stock, ok := paper.StockByKey(q.Get("on"))
	if !ok {
		return nil, problem{
			http.StatusNotFound, fmt.Sprintf("There is no label sheet called %q.", q.Get("on")),
			"Choose one on the print page.",
		}
	}
	choice := &stockChoice{Stock: stock, All: paper.Stocks, Start: 1, Hidden: map[string]string{}}
	if typed := strings.TrimSpace(q.Get("from")); typed != "" && !stock.Roll() {
		n, err := strconv.Atoi(typed)
		if err != nil || n < 1 || n > stock.Each() {
			return nil, problem{
				http.StatusUnprocessableEntity,
				fmt.Sprintf("%q is no label of this sheet: it has the labels 1 to %d, counted row by row.", typed, stock.Each()),
				"Go back and type the number of the first label that is left.",
			}
		}
		choice.Start = n
	}
	for _, name := range []string{"seat", "set", "take", "flight"} {
		if q.Has(name) {
			choice.Hidden[name] = q.Get(name)
		}
	}
	return choice, nil
}

func (c *Console) printLabels(w http.ResponseWriter, r *http.Request) error {
	_, p, _, err := c.labelsAsked(r)
	if err != nil {
		return err
	}
	return c.render(w, "print-labels.html", Page{Title: "Labels", Body: p})
}

func (c *Console) labelsFile(w http.ResponseWriter, r *http.Request) error {
	s, p, pages, err := c.labelsAsked(r)
	if err != nil {
		return err
	}
	b, err := paper.LabelsPDF(c.fileHead(s), p.Stock.Stock, pages)
	return sendFile(w, s, "labels", b, err)
}

// newSheetPage begins a printed page of a session.
func newSheetPage(s *session.State) sheetPage {
	return sheetPage{Head: head(s), Plan: s.Plan, Digest: s.Digest, Back: "/s/" + string(s.ID) + "/print"}
}

// fileAddress is where the same is as a PDF.
func fileAddress(r *http.Request) template.URL {
	q := r.URL.Query()
	q.Del("paper")
	address := r.URL.Path + ".pdf"
	if len(q) > 0 {
		return template.URL(address + "?" + q.Encode() + "&paper=")
	}
	return template.URL(address + "?paper=")
}

// fileHead is what a file says of its session.
func (c *Console) fileHead(s *session.State) paper.Head {
	h := head(s)
	f := paper.Head{
		Title: h.Title, Demo: h.Demo, Digest: s.Digest, Sealed: s.Times[session.PhaseSealed], Issued: c.Now().Local(), Serving: s.Plan.Serving,
	}
	if b := h.Broken; b != nil {
		f.Broken = fmt.Sprintf("Seal broken at %s, %s, before the reveal.", clock(b.At), date(b.At))
	}
	return f
}

func sizeAsked(r *http.Request) paper.Size { return paper.SizeByKey(r.URL.Query().Get("paper")) }

// sendFile sends a PDF, to be kept as a file.
func sendFile(w http.ResponseWriter, s *session.State, what string, b []byte, err error) error {
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="%s-%s.pdf"`, what, s.ID))
	h.Set("Content-Length", strconv.Itoa(len(b)))
	h.Set("Cache-Control", "no-store")
	_, err = w.Write(b)
	return err
}

// askedTray reads which tray is to be printed for. A replacement has labels, a card
// and a ballot once it is called, and not before: nobody is to know its codes.
func askedTray(s *session.State, r *http.Request) (paper.Tray, error) {
	var n [3]int
	for i, name := range []string{"seat", "set", "take"} {
		typed := r.URL.Query().Get(name)
		if name == "take" && typed == "" {
			typed = "0"
		}
		var err error
		if n[i], err = strconv.Atoi(typed); err != nil {
			return paper.Tray{}, problem{
				http.StatusBadRequest, "The address does not say which tray is to be printed for.",
				"Choose the tray on the print page.",
			}
		}
	}
	seat, set, take := n[0], n[1], n[2]
	known := false
	for _, listed := range s.Listed() {
		known = known || listed == seat
	}
	// What a flight that follows needs can be printed ahead.
	known = known || seat >= 1 && seat <= len(s.Seats) && flightOf(s.Plan, seat) > s.Flight && !over(s)
	if take > 0 {
		known = false
		for _, called := range calledTrays(s) {
			known = known || called.Seat == seat && called.Set == set && called.Take == take
		}
	}
	if !known || s.Codes(seat, set, take) == nil {
		return paper.Tray{}, problem{
			http.StatusNotFound, fmt.Sprintf("Seat %d has no such tray of set %d to print for.", seat, set),
			"Look at the print page: it lists the replacements called.",
		}
	}
	return paper.NewTray(s, seat, set, take), nil
}

// traysAsked are the trays that an address wants: the one that it names, or all of
// the seats.
func (c *Console) traysAsked(r *http.Request) (*session.State, sheetPage, []paper.Tray, error) {
	s, err := c.printable(r)
	if err != nil {
		return nil, sheetPage{}, nil, err
	}
	if r.URL.Query().Has("set") {
		t, err := askedTray(s, r)
		if err != nil {
			return nil, sheetPage{}, nil, err
		}
		p := newSheetPage(s)
		p.File = fileAddress(r)
		p.What = fmt.Sprintf(" of seat %d, %s", t.Seat, trayWords(t.Set, t.Take))
		p.One, p.Again = true, t.Again()
		return s, p, []paper.Tray{t}, nil
	}
	seats, what, err := printedFor(s, r)
	if err != nil {
		return nil, sheetPage{}, nil, err
	}
	p := newSheetPage(s)
	p.File = fileAddress(r)
	p.What = what
	return s, p, paper.TraysNow(s, seats), nil
}

func (c *Console) printTrays(w http.ResponseWriter, r *http.Request) error {
	_, p, trays, err := c.traysAsked(r)
	if err != nil {
		return err
	}
	if p.One {
		p.What = "Tray card" + p.What
	} else {
		p.What = counted(len(trays), "tray card") + p.What
	}
	p.How = "A4, six a page, to cut along the dashes. The runner sets the cups onto the card, each on its code, and carries the tray to its seat."
	if p.Again {
		p.How += " Take the old tray away first, card and all."
	}
	p.Sheets = paper.TrayPages(trays)
	return c.render(w, "print-trays.html", Page{Title: "Tray cards", Body: p})
}

func (c *Console) traysFile(w http.ResponseWriter, r *http.Request) error {
	s, _, trays, err := c.traysAsked(r)
	if err != nil {
		return err
	}
	b, err := paper.TrayCardsPDF(c.fileHead(s), sizeAsked(r), paper.TrayPages(trays))
	return sendFile(w, s, "tray-cards", b, err)
}

// ballotsAsked are the ballots that an address wants: of one seat where it names
// one, of all seats otherwise.
func (c *Console) ballotsAsked(r *http.Request) (*session.State, sheetPage, []paper.Ballot, error) {
	s, p, trays, err := c.traysAsked(r)
	if err != nil {
		return nil, p, nil, err
	}
	typed := r.URL.Query().Get("seat")
	if typed != "" && !p.One {
		trays = slices.DeleteFunc(trays, func(t paper.Tray) bool { return typed != strconv.Itoa(t.Seat) })
		if len(trays) == 0 {
			return nil, p, nil, problem{
				http.StatusNotFound, fmt.Sprintf("There is no seat %s to print ballots for.", typed),
				"Choose a seat of this session on the print page.",
			}
		}
	}
	// Seat by seat, so that a person's ballots lie together.
	slices.SortStableFunc(trays, func(a, b paper.Tray) int { return a.Seat - b.Seat })
	return s, p, paper.Ballots(trays), nil
}

func (c *Console) printBallots(w http.ResponseWriter, r *http.Request) error {
	_, p, ballots, err := c.ballotsAsked(r)
	if err != nil {
		return err
	}
	if p.One {
		p.What = "Paper ballot" + p.What
	} else {
		p.What = counted(len(ballots), "paper ballot") + p.What
	}
	p.How = "A4, one a set. Give each with its tray, take it back before the next set, and type it in on the board."
	if p.Again {
		p.How += " The ballot of the tray that was taken out has other codes: take it back, and keep it with the report."
	}
	p.Sheets = ballots
	return c.render(w, "print-ballots.html", Page{Title: "Paper ballots", Body: p})
}

func (c *Console) ballotsFile(w http.ResponseWriter, r *http.Request) error {
	s, _, ballots, err := c.ballotsAsked(r)
	if err != nil {
		return err
	}
	b, err := paper.BallotsPDF(c.fileHead(s), sizeAsked(r), ballots)
	return sendFile(w, s, "ballots", b, err)
}

// seatsAsked are the cards of the seats that an address wants.
func (c *Console) seatsAsked(r *http.Request) (*session.State, sheetPage, []paper.Page[paper.SeatCard], error) {
	s, err := c.printable(r)
	if err != nil {
		return nil, sheetPage{}, nil, err
	}
	seats, what, err := printedFor(s, r)
	if err != nil {
		return nil, sheetPage{}, nil, err
	}
	var cards []paper.SeatCard
	for _, seat := range seats {
		card := paper.SeatCard{Seat: seat, Door: s.PlaceDoor(seat)}
		if c.Join != "" {
			card.Link = c.Join + "/j/" + card.Door
			card.Address = plainAddress(card.Link)
		}
		cards = append(cards, card)
	}
	p := newSheetPage(s)
	p.File = fileAddress(r)
	p.What = counted(len(cards), "seat card") + what
	p.How = "A4, two a page, to cut across the middle. Write the name of the wireless network on each line. The address holds as long as the laptop stays in this network."
	pages := paper.SeatPages(cards)
	p.Sheets = pages
	return s, p, pages, nil
}

func (c *Console) printSeats(w http.ResponseWriter, r *http.Request) error {
	_, p, _, err := c.seatsAsked(r)
	if err != nil {
		return err
	}
	return c.render(w, "print-seats.html", Page{Title: "Seat cards", Body: p})
}

func (c *Console) seatsFile(w http.ResponseWriter, r *http.Request) error {
	s, _, pages, err := c.seatsAsked(r)
	if err != nil {
		return err
	}
	b, err := paper.SeatCardsPDF(c.fileHead(s), sizeAsked(r), pages)
	return sendFile(w, s, "seat-cards", b, err)
}

func (c *Console) printWorksheet(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	p := newSheetPage(s)
	sheets := paper.Worksheets(s.Plan)
	p.File = fileAddress(r)
	p.What = counted(len(sheets), "blank worksheet")
	p.How = "A4. A pour sheet to fill in by hand: for a rehearsal, or to note what was poured while the laptop is away. " + paper.WorksheetFor
	p.Sheets = sheets
	return c.render(w, "print-worksheet.html", Page{Title: "Blank worksheet", Body: p})
}

func (c *Console) worksheetFile(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	b, err := paper.WorksheetPDF(c.fileHead(s), sizeAsked(r), paper.Worksheets(s.Plan))
	return sendFile(w, s, "worksheet", b, err)
}

// plainAddress is an address as a person types it.
func plainAddress(join string) string {
	return strings.TrimSuffix(strings.TrimPrefix(join, "http://"), "/")
}
