package console

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/web/paper"
)

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
