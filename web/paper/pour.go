package paper

import (
	"fmt"
	"time"

	"oddcup/session"
)

const (
	// traysASheet fill a page; blockOfTrays are parted by a heavier line, and in
	// the sheet by vessel filled together.
	traysASheet  = 24
	blockOfTrays = 6
)

// Marks are the marks of the vessels, in the order in which sheets name them.
var Marks = []session.Vessel{session.Disc, session.Diamond, session.Cross}

// PourSheet is the pour sheet, cut into pages.
type PourSheet struct {
	Pages   []PourPage
	Vessels []VesselCount // on all pages
	Cups    int
}

// PourPage is one page: up to 24 trays of one round, or of replacements.
type PourPage struct {
	Title     string
	Again     bool          // replacements
	Places    []string      // of the cups on a tray; nil by vessel
	Slots     int           // by vessel: the most cups of a tray from one vessel
	Vessels   []VesselCount // that its trays are filled from
	Cups      int
	Done      int // those of Cups that were poured before
	Blocks    []PourBlock
	Page, All int
}

// ByVessel reports whether the page fills its blocks first from one vessel, then
// from the other.
func (p PourPage) ByVessel() bool { return p.Slots > 0 }

// Numbers are the slots of a half, from 1.
func (p PourPage) Numbers() []int {
	var n []int
	for i := range p.Slots {
		n = append(n, i+1)
	}
	return n
}

// PourBlock is up to six trays.
type PourBlock struct {
	Trays       []session.PourTray
	First, Then VesselCount // by vessel
	Rows        []PourRow   // by vessel
}

// PourRow is a tray by vessel. Empty slots fill up each half.
type PourRow struct {
	session.PourTray
	First, Then []PlacedCup
}

// PlacedCup is a cup with its place on the tray; the zero value is none.
type PlacedCup struct {
	session.PourCup
	Place string
}

// VesselCount is how many cups are filled from a vessel.
type VesselCount struct {
	Vessel session.Vessel
	Cups   int
}

// NewPourSheet cuts a session's pour sheet into pages: replacements first, the
// newest on top, then round by round. Which is "flight 2 of 3", or "".
//
// By vessel, each block of six trays is filled first from one vessel and then
// from the other, and the vessel that comes first changes from block to block.
// That is for cups that are held lidded at one serving temperature: elsewhere
// the cups filled last are the warmest, and that tells them apart.
// Replacements are poured one tray at a time and stay in tray order.
func NewPourSheet(p session.Plan, which string, sheet session.PourSheet, byVessel bool) PourSheet {
	var s PourSheet
	of := ""
	if which != "" {
		of = ", " + which
	}
	blocks := 0
	cut := func(title string, again bool, set int, trays []session.PourTray) {
		m := methodOf(p, set)
		title = fmt.Sprintf("%s%s: %s, set %d", title, of, m.Name, set)
		if all := p.SetsPerSeat(); all > 1 {
			title += fmt.Sprintf(" of %d", all)
		}
		for len(trays) > 0 {
			n := min(traysASheet, len(trays))
			page := PourPage{Title: title, Again: again}
			page.Vessels, page.Cups = countVessels(trays[:n], false)
			for _, t := range trays[:n] {
				if t.Dead == "" && t.Done != "" {
					page.Done += len(t.Cups)
				}
			}
			for b := 0; b < n; b += blockOfTrays {
				page.Blocks = append(page.Blocks, PourBlock{Trays: trays[b:min(b+blockOfTrays, n)]})
			}
			if byVessel && !again {
				page.group(blocks)
				blocks += len(page.Blocks)
			} else {
				page.Places = places(m)
			}
			s.Pages = append(s.Pages, page)
			trays = trays[n:]
		}
	}
	for set := 1; set <= p.SetsPerSeat(); set++ {
		var again []session.PourTray
		for i := len(sheet.Called) - 1; i >= 0; i-- {
			if sheet.Called[i].Set == set {
				again = append(again, sheet.Called[i])
			}
		}
		cut("Poured again", true, set, again)
	}
	for _, round := range sheet.Rounds {
		cut("Pour sheet", false, round.Round, round.Trays)
	}
	var all []session.PourTray
	for i := range s.Pages {
		s.Pages[i].Page, s.Pages[i].All = i+1, len(s.Pages)
		for _, b := range s.Pages[i].Blocks {
			all = append(all, b.Trays...)
		}
	}
	s.Vessels, s.Cups = countVessels(all, false)
	return s
}

// places head the columns of the cups.
func places(m session.Method) []string {
	var all []string
	for i := range m.Cups {
		words := Place(i, m.Cups) + " cup"
		if i < m.References() {
			words += ", R"
		}
		all = append(all, words)
	}
	return all
}

// CupsWords say how many cups stand on the page, but for struck ones, and how many
// of them were poured before.
func (p PourPage) CupsWords() string {
	say := counted(p.Cups, "cup") + " on this sheet"
	switch p.Done {
	case 0:
		return say
	case p.Cups:
		return say + ", all poured before"
	}
	return say + fmt.Sprintf(", %d poured before", p.Done)
}

// countVessels counts the cups that are poured by this sheet, those that were
// served since among them, or with every all.
func countVessels(trays []session.PourTray, every bool) (all []VesselCount, cups int) {
	n := map[session.Vessel]int{}
	for _, t := range trays {
		if t.Dead != "" && !every {
			continue
		}
		for _, cup := range t.Cups {
			n[cup.Vessel]++
			cups++
		}
	}
	for _, v := range Marks {
		if n[v] > 0 {
			all = append(all, VesselCount{v, n[v]})
		}
	}
	return all, cups
}

// group sorts the blocks' cups by vessel. A round is filled from two vessels;
// before is how many blocks came before this page.
func (p *PourPage) group(before int) {
	var trays []session.PourTray
	for _, b := range p.Blocks {
		trays = append(trays, b.Trays...)
	}
	of, _ := countVessels(trays, true)
	first, then := of[0].Vessel, of[len(of)-1].Vessel
	for i := range p.Blocks {
		b := &p.Blocks[i]
		b.First.Vessel, b.Then.Vessel = first, then
		if (before+i)%2 == 1 {
			b.First.Vessel, b.Then.Vessel = then, first
		}
		for _, t := range b.Trays {
			row := PourRow{PourTray: t}
			for j, cup := range t.Cups {
				placed := PlacedCup{cup, Place(j, len(t.Cups))}
				if cup.Vessel == b.First.Vessel {
					row.First = append(row.First, placed)
					if t.Dead == "" {
						b.First.Cups++
					}
				} else {
					row.Then = append(row.Then, placed)
					if t.Dead == "" {
						b.Then.Cups++
					}
				}
			}
			p.Slots = max(p.Slots, len(row.First), len(row.Then))
			b.Rows = append(b.Rows, row)
		}
	}
	for _, b := range p.Blocks {
		for i := range b.Rows {
			row := &b.Rows[i]
			row.First = append(row.First, make([]PlacedCup, p.Slots-len(row.First))...)
			row.Then = append(row.Then, make([]PlacedCup, p.Slots-len(row.Then))...)
		}
	}
}

// How is what the pourer does on a page, in a sentence or two.
func (p PourPage) How() string {
	if p.ByVessel() {
		return "Each block of six trays: first every cup of the vessel named first, then the other. Lid each cup at once, tick."
	}
	return "One tray whole, left to right; wipe, lid, tick."
}

// StateWords are what stands at a tray that is not to be poured, or was: "seat
// left: do not pour", "served 21:14". Clock writes a time. They are "" for one
// that is to be poured.
func StateWords(t session.PourTray, clock func(time.Time) string) string {
	switch {
	case t.Dead != "":
		return t.Dead + ": do not pour"
	case t.Done != "":
		return t.Done + " " + clock(t.DoneAt)
	}
	return ""
}

// Fill says how much is poured, and how warm it is served.
func Fill(s session.Serving) string {
	return fmt.Sprintf("%s g in each cup, served at %s to %s °C.", num(s.FillG), num(s.LowC), num(s.HighC))
}

// Worksheet is a blank pour sheet for one method, to be filled in by hand.
type Worksheet struct {
	Title     string
	How       string // how to fill it in
	Places    []string
	Page, All int
}

// Rows are the trays that a blank page has room for, in blocks.
func (Worksheet) Rows() [][]struct{} {
	var all [][]struct{}
	for range traysASheet / blockOfTrays {
		all = append(all, make([]struct{}, blockOfTrays))
	}
	return all
}

// Worksheets are a blank page for each method of a plan. They hold nothing of
// its layout.
func Worksheets(p session.Plan) []Worksheet {
	var all []Worksheet
	how := Fill(p.Serving) + " In the square: the vessel’s mark, as it stands on the vessel. In the thin box: the tick."
	seen := map[string]bool{}
	for _, t := range p.Tests {
		m, ok := session.MethodByKey(t.Method)
		if !ok || seen[m.Key] {
			continue
		}
		seen[m.Key] = true
		all = append(all, Worksheet{Title: "Blank worksheet: " + m.Name, How: how, Places: places(m)})
	}
	for i := range all {
		all[i].Page, all[i].All = i+1, len(all)
	}
	return all
}

// What sheets say beside their figures.
const (
	PourFor      = "For the pourer only. Not for the host, the runner or a taster."
	HotFoot      = "Hot liquid: pour from a spout, lids on."
	ByVesselWhen = "By vessel is for cups held lidded at one serving temperature, and for no others: elsewhere the cups filled last are the warmest, and that tells them apart."
	WorksheetFor = "Nothing on this sheet comes from the sealed layout."
)
