// Package paper is what a session has on paper: pour sheets, cup labels, tray
// cards, seat cards, ballots, the blank worksheet, and the test report. The same
// sheets are shown as pages by the console and written as PDF here.
//
// All but the pour sheet and the report, which comes after the reveal, is the same
// under every key. A file's bytes depend on
// its sheets and its date of issue alone: no clock and no chance is in them. One
// that has no date of issue is dated by the seal. Codes, seats and vessel marks are drawn, with the same as text over
// them, so that a search or a screen reader finds what the eye sees.
package paper

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"oddcup/session"
)

// Size is a size of paper, mm.
type Size struct{ Width, Height float64 }

// The sizes of paper that sheets are made for.
var (
	A4     = Size{210, 297}
	Letter = Size{215.9, 279.4}
)

// SizeByKey finds the size that an address names: "letter", else A4.
func SizeByKey(key string) Size {
	if key == "letter" {
		return Letter
	}
	return A4
}

// Head is what every sheet says of its session.
type Head struct {
	Title   string
	Demo    bool // an invented session
	Digest  session.Hash
	Sealed  time.Time // when the plan was sealed
	Issued  time.Time // when the sheets are made, in the zone in which it is printed; zero: not said
	Broken  string    // that and when the seal was broken early; "" where it holds
	Serving session.Serving
	Notes   []string // more lines beside the title
}

// name is the session's title, marked where the session is invented.
func (h Head) name() string {
	if h.Demo {
		return h.Title + " (demonstration)"
	}
	return h.Title
}

// Tray is one tray of one seat, as it stands in front of a person.
type Tray struct {
	Seat, Set, Take int
	Test            session.TestPlan
	Method          session.Method
	Hint            string // how to taste, as the phone has it
	Cups            []Cup
	Cautions        []string // what may hurt, as the phone has it
}

// Again reports whether the tray is a replacement.
func (t Tray) Again() bool { return t.Take > 0 }

// SetWords name the set: "set 2", "set 2, again".
func (t Tray) SetWords() string {
	words := "set " + strconv.Itoa(t.Set)
	if t.Again() {
		words += ", again"
	}
	return words
}

// Cup is a cup of a tray.
type Cup struct {
	Code      session.Code
	Place     string // left, middle, right
	Reference bool   // to be tasted first, and no answer
}

// Word names the cup by its place, or as the reference.
func (c Cup) Word() string {
	if c.Reference {
		return "reference"
	}
	return c.Place
}

// NewTray is a tray of a sealed session. It is the same under every key.
func NewTray(s *session.State, seat, set, take int) Tray {
	t := Tray{Seat: seat, Set: set, Take: take, Test: s.Plan.Tests[s.Plan.TestOfSet(set)], Method: methodOf(s.Plan, set)}
	t.Hint, t.Cautions = s.Plan.Hint(t.Method), cautions(s.Plan)
	codes := s.Codes(seat, set, take)
	for i, code := range codes {
		t.Cups = append(t.Cups, Cup{code, Place(i, len(codes)), i < t.Method.References()})
	}
	return t
}

// cautions are what a taster is told before tasting. A phone says it at the seat;
// who answers on paper reads it on each ballot.
func cautions(p session.Plan) []string {
	s, supplies := p.Serving, p.Supplies()
	hot := fmt.Sprintf("Hot coffee, %s to %s °C: try a small sip first. %s in all; caffeine: about %.0f mg if all is swallowed, robusta about %.0f mg (an estimate).",
		num(s.LowC), num(s.HighC), counted(supplies.CupsPerSeat, "cup"), supplies.CaffeineMg, supplies.RobustaMg)
	if words := strings.TrimSpace(s.Swallow); words != "" {
		hot += " " + ended(words)
	}
	allergens := "No allergens are named."
	if words := strings.TrimSpace(s.Allergens); words != "" {
		allergens = "Allergens near the cups: " + ended(words)
	}
	return []string{hot, allergens + " If any of this is not for you, sit out: hand this sheet back, and no reason is asked."}
}

// ended ends words that a person typed with a full stop, if nothing else does.
func ended(words string) string {
	if strings.HasSuffix(words, ".") || strings.HasSuffix(words, "!") || strings.HasSuffix(words, "?") {
		return words
	}
	return words + "."
}

// Trays are all trays of seats as planned, set by set in seat order.
func Trays(s *session.State, seats []int) []Tray {
	return traysOf(s, seats, func(int, int) int { return 0 })
}

// TraysNow are the trays of seats as they stand now: where a replacement was
// called, it is in the place of the tray that was taken out.
func TraysNow(s *session.State, seats []int) []Tray {
	return traysOf(s, seats, func(seat, set int) int {
		return max(0, len(s.Seats[seat-1].Sets[set-1].Takes)-1)
	})
}

func traysOf(s *session.State, seats []int, take func(seat, set int) int) []Tray {
	var all []Tray
	for set := 1; set <= s.Plan.SetsPerSeat(); set++ {
		for _, seat := range seats {
			all = append(all, NewTray(s, seat, set, take(seat, set)))
		}
	}
	return all
}

func methodOf(p session.Plan, set int) session.Method {
	m, _ := session.MethodByKey(p.Tests[p.TestOfSet(set)].Method)
	return m
}

// Place names the i-th of n cups on a tray, from 0, left to right.
func Place(i, n int) string {
	switch {
	case i == 0:
		return "left"
	case i == n-1:
		return "right"
	case n == 3:
		return "middle"
	case i == 1:
		return "second"
	case i == 2:
		return "third"
	}
	return "cup " + strconv.Itoa(i+1)
}

// Page is a page of paper with its number.
type Page[T any] struct {
	Page, All int
	Items     []T
}

// Deal puts items onto pages.
func Deal[T any](items []T, each int) []Page[T] {
	var all []Page[T]
	for len(items) > 0 {
		n := min(each, len(items))
		all = append(all, Page[T]{Items: items[:n]})
		items = items[n:]
	}
	for i := range all {
		all[i].Page, all[i].All = i+1, len(all)
	}
	return all
}

// num writes a number as short as it is.
func num(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// counted is a number with its noun: 1 cup, 24 cups.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}
