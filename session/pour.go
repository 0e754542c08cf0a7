package session

import "time"

// Vessel is the mark on the flask that a lot's brew is held in: a shape, never
// a lot's letter or name.
type Vessel string

// The marks. The cross is on the vessel of a blank test's second brew.
const (
	Disc    Vessel = "disc"
	Diamond Vessel = "diamond"
	Cross   Vessel = "cross"
)

// PourSheet is the pourer's worksheet: which vessel each cup is filled from.
type PourSheet struct {
	Rounds []PourRound
	Called []PourTray // replacements called so far, the newest last
	Lots   map[Vessel]Lot
}

// PourRound are the trays of one round, in seat order.
type PourRound struct {
	Round int
	Test  int
	Trays []PourTray
}

// PourTray is one tray: its cups left to right.
type PourTray struct {
	Seat, Set, Take int
	Cups            []PourCup
	Dead            string // why it is not to be poured any more: DeadOut, DeadLeft; "" while it is
	Done            string // that it was poured: DoneServed, DoneAnswered; "" while it waits
	DoneAt          time.Time
}

// ToPour reports whether the tray still has to be poured.
func (t PourTray) ToPour() bool { return t.Dead == "" && t.Done == "" }

// What shows that a tray was poured. Serving a replacement is recorded where its
// temperature has to be measured; elsewhere its answer shows it.
const (
	DoneServed   = "served"
	DoneAnswered = "answer in"
)

// Only is the sheet with those of its trays that are kept.
func (s PourSheet) Only(keep func(PourTray) bool) PourSheet {
	kept := func(trays []PourTray) (some []PourTray) {
		for _, t := range trays {
			if keep(t) {
				some = append(some, t)
			}
		}
		return some
	}
	only := PourSheet{Lots: s.Lots, Called: kept(s.Called)}
	for _, r := range s.Rounds {
		r.Trays = kept(r.Trays)
		only.Rounds = append(only.Rounds, r)
	}
	return only
}

// All are the sheet's trays: those of its rounds, then the replacements.
func (s PourSheet) All() []PourTray {
	var all []PourTray
	for _, r := range s.Rounds {
		all = append(all, r.Trays...)
	}
	return append(all, s.Called...)
}

// Why a tray is not to be poured any more.
const (
	DeadOut  = "taken out"
	DeadLeft = "seat left"
)

// PourCup is a cup to be filled.
type PourCup struct {
	Code   Code
	Vessel Vessel
}

// PourSheet reads the sealed key for the pourer: the trays of the listed seats
// of the flight at the table (of all its seats before the list is frozen) and of
// the replacements called. The
// caller has opened it with the PIN, which is in the journal. Before the seal
// the error is ErrPhase.
func (s *State) PourSheet() (PourSheet, error) {
	var sheet PourSheet
	if err := s.poured(); err != nil {
		return sheet, err
	}
	treated := s.Plan.Processed
	if s.Plan.Control != nil {
		treated.Number += " (" + s.Plan.Control.Words + ")" // both brews may be of one lot
	}
	sheet.Lots = map[Vessel]Lot{
		s.sealed.Layout.vessel('A'): s.Plan.Untreated,
		s.sealed.Layout.vessel('B'): treated,
	}
	for _, t := range s.Plan.Tests {
		switch t.Blank {
		case BlankUntreated:
			sheet.Lots[Cross] = s.Plan.Untreated
		case BlankProcessed:
			sheet.Lots[Cross] = treated
		}
	}
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		round := PourRound{Round: set, Test: s.Plan.TestOfSet(set)}
		for _, seat := range s.Listed() {
			round.Trays = append(round.Trays, s.pourTray(seat, set, 0))
		}
		sheet.Rounds = append(sheet.Rounds, round)
	}
	for _, step := range s.Trail {
		if e, ok := step.Event.(*ReplacementCalled); ok && (s.InFlight(e.Seat) || s.ended()) {
			sheet.Called = append(sheet.Called, s.pourTray(e.Seat, e.Set, e.Take))
		}
	}
	return sheet, nil
}

func (l Layout) vessel(product byte) Vessel {
	if l.Disc == string(product) {
		return Disc
	}
	return Diamond
}

// Vessel is the vessel that a test's cup of product A or B is filled from. In a
// blank test A is the lot's own vessel and B that of its second brew.
func (l Layout) Vessel(t TestPlan, product byte) Vessel {
	switch {
	case t.Blank == "":
		return l.vessel(product)
	case product == 'B':
		return Cross
	case t.Blank == BlankProcessed:
		return l.vessel('B')
	}
	return l.vessel('A')
}

func (s *State) pourTray(seat, set, take int) PourTray {
	dealt := s.sealed.Layout.Seats[seat-1][set-1]
	tray := PourTray{Seat: seat, Set: set, Take: take, Dead: s.dead(seat, set, take)}
	if takes := s.Seats[seat-1].Sets[set-1].Takes; take < len(takes) {
		tray.Done, tray.DoneAt = takes[take].done(s.Plan.Serving.Gate)
	}
	for i, code := range dealt.Takes[take] {
		tray.Cups = append(tray.Cups, PourCup{code, s.sealed.Layout.Vessel(s.Plan.Tests[dealt.Test], dealt.Order[i])})
	}
	return tray
}

// done says that a tray was poured, and when that showed.
func (t *Take) done(gate bool) (string, time.Time) {
	switch {
	case t.Number == 0 || gate && !t.Waits:
		return DoneServed, t.At
	case t.Answer != nil:
		return DoneAnswered, t.Answer.At
	}
	return "", time.Time{}
}

// dead says why a tray is not to be poured any more.
func (s *State) dead(seat, set, take int) string {
	at := &s.Seats[seat-1]
	takes := at.Sets[set-1].Takes
	switch {
	case take < len(takes) && takes[take].Void != nil:
		return DeadOut
	case at.Left && (take >= len(takes) || takes[take].Answer == nil):
		return DeadLeft
	}
	return ""
}

// Practised says whether an answer was right and which cups a right one names,
// in practice sessions only, where each taster is told at once; ok is false in
// all others.
func (s *State) Practised(seat, set, take int) (right bool, counted []Code, ok bool) {
	if !s.Plan.Practice || s.seat(seat) == nil {
		return false, nil, false
	}
	for _, a := range s.answersOf(seat - 1) {
		if a.Set == set && a.Take == take && a.Answer != nil {
			return a.Correct, a.Counted, true
		}
	}
	return false, nil, false
}

// Key gives the layout with its serving orders; ErrSealed before the reveal, but
// where the seal was broken.
func (s *State) Key() (Layout, error) {
	if s.Phase != PhaseRevealed && s.Broken == nil {
		return Layout{}, ErrSealed
	}
	return s.sealed.Layout, nil
}
