package console

import (
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/look"
)

// What is printed here is the same under every key: codes and seats, never an
// order or a vessel. Once the list is frozen, only its seats are printed.
func (c *Console) printRoutes(r chi.Router) {
	r.Get("/s/{id}/print", c.page(c.printOverview))
	r.Get("/s/{id}/print/labels", c.page(c.printLabels))
	r.Get("/s/{id}/print/trays", c.page(c.printTrays))
	r.Get("/s/{id}/print/seats", c.page(c.printSeats))
	r.Get("/s/{id}/print/ballots", c.page(c.printBallots))
}

const (
	labelsASheet = 24 // 3 by 8 of 70 by 36 mm
	traysACard   = 6  // tray cards on a page
	seatsASheet  = 2  // seat cards on a page
)

// paper is what every printed page says of itself.
type paper struct {
	Head   *Head
	Plan   session.Plan
	Digest session.Hash
	Back   string // where the screen goes on
	What   string // title on the screen
	How    string // how to print and cut
	Sheets any
}

// tray is one tray of one seat, as it stands in front of a person.
type tray struct {
	Seat, Set, Take int
	Test            session.TestPlan
	Method          session.Method
	Cups            []trayCup
}

// Again reports whether the tray is a replacement.
func (t tray) Again() bool { return t.Take > 0 }

type trayCup struct {
	Code      session.Code
	Place     string // left, middle, right
	Reference bool   // to be tasted first, and no answer
}

func newTray(s *session.State, seat, set, take int) tray {
	t := tray{Seat: seat, Set: set, Take: take, Test: s.Plan.Tests[s.Plan.TestOfSet(set)], Method: methodOfSet(s.Plan, set)}
	codes := s.Codes(seat, set, take)
	for i, code := range codes {
		t.Cups = append(t.Cups, trayCup{code, place(i, len(codes)), i < t.Method.References()})
	}
	return t
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

// sheetOf is a page of paper with its number.
type sheetOf[T any] struct {
	Page, All int
	Items     []T
}

// sheets deals items onto pages.
func sheets[T any](items []T, each int) []sheetOf[T] {
	var all []sheetOf[T]
	for len(items) > 0 {
		n := min(each, len(items))
		all = append(all, sheetOf[T]{Items: items[:n]})
		items = items[n:]
	}
	return numbered(all)
}

func numbered[T any](all []sheetOf[T]) []sheetOf[T] {
	for i := range all {
		all[i].Page, all[i].All = i+1, len(all)
	}
	return all
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
	v.LabelSheets = len(labelSheets(s, s.Listed()))
	v.TraySheets = pagesFor(v.Seats*s.Plan.SetsPerSeat(), traysACard)
	v.CardSheets = pagesFor(v.Seats, seatsASheet)
	v.Next, v.NextWords = nextAct(s)
	return c.render(w, "print.html", Page{Title: "Print", Nav: "print", Session: v.Head, Body: v})
}

func pagesFor(n, each int) int { return (n + each - 1) / each }

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

// label is one cup's label.
type label struct {
	tray
	trayCup
}

// labelSheets are all labels of seats, set by set in seat order. Each set begins a page,
// so that a round's labels can be handed on alone and no tray is split.
func labelSheets(s *session.State, seats []int) []sheetOf[label] {
	var all []sheetOf[label]
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		var labels []label
		for _, seat := range seats {
			labels = append(labels, labelsOf(newTray(s, seat, set, 0))...)
		}
		cups := methodOfSet(s.Plan, set).Cups
		all = append(all, sheets(labels, labelsASheet/cups*cups)...)
	}
	return numbered(all)
}

func labelsOf(t tray) []label {
	var labels []label
	for _, cup := range t.Cups {
		labels = append(labels, label{t, cup})
	}
	return labels
}

func (c *Console) printLabels(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	p := paper{Head: head(s), Plan: s.Plan, Digest: s.Digest, Back: back(s)}
	if r.URL.Query().Has("seat") {
		t, err := askedTray(s, r)
		if err != nil {
			return err
		}
		p.What = fmt.Sprintf("Labels of seat %d, set %d", t.Seat, t.Set)
		if t.Again() {
			p.What += ", poured again"
		}
		p.How = "Three labels a row, 70 by 36 mm. Take the old labels away with the old cups."
		p.Sheets = sheets(labelsOf(t), labelsASheet)
	} else {
		seats, what, err := printedFor(s, r)
		if err != nil {
			return err
		}
		p.What = counted(len(seats)*s.Plan.CupsPerSeat(), "label") + what
		p.How = "A4 label sheets of 3 by 8, 70 by 36 mm each. Print at 100 %, without margins, on one side. Each set begins a sheet."
		p.Sheets = labelSheets(s, seats)
	}
	return c.render(w, "print-labels.html", Page{Title: "Labels", Body: p})
}

// askedTray reads which tray's labels are wanted. A replacement has labels once
// it is called, and not before: nobody is to know its codes.
func askedTray(s *session.State, r *http.Request) (tray, error) {
	var n [3]int
	for i, name := range []string{"seat", "set", "take"} {
		typed := r.URL.Query().Get(name)
		if name == "take" && typed == "" {
			typed = "0"
		}
		var err error
		if n[i], err = strconv.Atoi(typed); err != nil {
			return tray{}, problem{
				http.StatusBadRequest, "The address does not say which tray's labels are wanted.",
				"Choose the tray on the print page.",
			}
		}
	}
	seat, set, take := n[0], n[1], n[2]
	known := false
	for _, listed := range s.Listed() {
		known = known || listed == seat
	}
	// Labels of a flight that follows can be printed ahead.
	known = known || seat >= 1 && seat <= len(s.Seats) && flightOf(s.Plan, seat) > s.Flight && !over(s)
	if take > 0 {
		known = false
		for _, called := range calledTrays(s) {
			known = known || called.Seat == seat && called.Set == set && called.Take == take
		}
	}
	if !known || s.Codes(seat, set, take) == nil {
		return tray{}, problem{
			http.StatusNotFound, fmt.Sprintf("Seat %d has no such tray of set %d to print labels for.", seat, set),
			"Look at the print page: it lists the replacements called.",
		}
	}
	return newTray(s, seat, set, take), nil
}

// trays are all trays of seats, set by set in seat order.
func trays(s *session.State, seats []int) []tray {
	var all []tray
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		for _, seat := range seats {
			all = append(all, newTray(s, seat, set, 0))
		}
	}
	return all
}

func (c *Console) printTrays(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	seats, what, err := printedFor(s, r)
	if err != nil {
		return err
	}
	return c.render(w, "print-trays.html", Page{Title: "Tray cards", Body: paper{
		Head: head(s), Plan: s.Plan, Digest: s.Digest, Back: back(s),
		What:   counted(len(seats)*s.Plan.SetsPerSeat(), "tray card") + what,
		How:    "A4, six a page, to cut along the dashes. The runner sets the cups onto the card, each on its code, and carries the tray to its seat.",
		Sheets: sheets(trays(s, seats), traysACard),
	}})
}

// ballotSheet is one tray's paper ballot.
type ballotSheet struct {
	tray
	Page, All int
}

// Ask is the question, as the phone has it.
func (b ballotSheet) Ask() string { return b.Method.Ask(b.Test) }

// Marks says what is to be marked.
func (b ballotSheet) Marks() string {
	if b.Method.Picks == 2 {
		return "Mark two cups: the two that are the same. If you are not sure, mark two all the same."
	}
	return "Mark one cup. If you are not sure, mark one all the same."
}

// printBallots prints paper ballots: of one seat where the address names it, of
// all seats otherwise.
func (c *Console) printBallots(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	seats, what, err := printedFor(s, r)
	if err != nil {
		return err
	}
	typed := r.URL.Query().Get("seat")
	var ballots []ballotSheet
	for _, seat := range seats {
		if typed != "" && typed != strconv.Itoa(seat) {
			continue
		}
		for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
			ballots = append(ballots, ballotSheet{tray: newTray(s, seat, set, 0)})
		}
	}
	if len(ballots) == 0 && typed != "" {
		return problem{
			http.StatusNotFound, fmt.Sprintf("There is no seat %s to print ballots for.", typed),
			"Choose a seat of this session on the print page.",
		}
	}
	for i := range ballots {
		ballots[i].Page, ballots[i].All = i+1, len(ballots)
	}
	return c.render(w, "print-ballots.html", Page{Title: "Paper ballots", Body: paper{
		Head: head(s), Plan: s.Plan, Digest: s.Digest, Back: back(s),
		What:   counted(len(ballots), "paper ballot") + what,
		How:    "A4, one a set. Give each with its tray, take it back before the next set, and type it in on the board.",
		Sheets: ballots,
	}})
}

// seatCard is what stands at a place on the table.
type seatCard struct {
	Seat    int
	QR      template.HTML
	Address string // to type by hand
	Door    string
}

func (c *Console) printSeats(w http.ResponseWriter, r *http.Request) error {
	s, err := c.printable(r)
	if err != nil {
		return err
	}
	seats, what, err := printedFor(s, r)
	if err != nil {
		return err
	}
	var cards []seatCard
	for _, seat := range seats {
		card := seatCard{Seat: seat, Address: plainAddress(c.Join), Door: s.PlaceDoor(seat)}
		if c.Join != "" {
			if card.QR, err = look.QR(c.Join+"/j/"+card.Door, 240); err != nil {
				return err
			}
		}
		cards = append(cards, card)
	}
	return c.render(w, "print-seats.html", Page{Title: "Seat cards", Body: paper{
		Head: head(s), Plan: s.Plan, Digest: s.Digest, Back: back(s),
		What:   counted(len(cards), "seat card") + what,
		How:    "A4, two a page, to cut across the middle. Write the name of the wireless network on each line. The address holds as long as the laptop stays in this network.",
		Sheets: sheets(cards, seatsASheet),
	}})
}

func back(s *session.State) string { return "/s/" + string(s.ID) + "/print" }

// plainAddress is an address as a person types it.
func plainAddress(join string) string {
	return strings.TrimSuffix(strings.TrimPrefix(join, "http://"), "/")
}
