package session

import (
	"maps"
	"slices"
	"strings"
	"time"
)

// Phase is where a session stands in its life.
type Phase string

// The phases, in order. A session may be abandoned from any before revealed.
const (
	PhaseNone      Phase = "" // no entry yet
	PhaseDrafted   Phase = "drafted"
	PhaseSealed    Phase = "sealed"
	PhaseOpen      Phase = "open"
	PhaseClosed    Phase = "closed"
	PhaseRevealed  Phase = "revealed"
	PhaseAbandoned Phase = "abandoned"
)

// State is a session as its journal tells it. It is changed by Apply alone. A
// published State is shared and must not be written to.
type State struct {
	ID    ID
	Seq   uint64 // of the last entry; 0 for none
	Head  Hash   // of the last entry; for paper at the close, not shown before
	Phase Phase
	Demo  bool
	Plan  Plan

	Digest       Hash // of the seal
	Flight       int  // at the table, from 1; the next one between two
	LobbyOpen    bool // seats of the flight can be taken
	Frozen       bool // the flight's list is closed
	Tasting      bool // the flight's tasting has begun
	Paused       bool
	Stopped      bool        // a sequential test's registered rule said stop
	Rounds       []time.Time // when each round of the flight was served
	Seats        []Seat      // by seat; empty before the seal
	Trail        []Step      // every entry, for the audit trail
	Result       *Revealed   // after the reveal
	Times        map[Phase]time.Time
	ClosedAt     Hash // head hash at the close
	AbandonedFor Text
	Releases     []Release // on which the tasting was opened

	Broken     *Noting  // the seal was broken early; nil if not
	Deviations []Noting // from the plan, oldest first

	Roles        map[Role]Text           // who was named last; not to be written to
	Named        map[Role][]Text         // all who were named since the pour sheet was first opened, and who was then; not to be written to
	Confirmed    map[string]Confirmation // by check, of the flight at the table; not to be written to
	Openings     []Opening               // of the flights opened so far
	Temperatures []float64               // of a cup, °C, for each of Rounds; 0 where none was given

	SheetOpenings int // of the pour sheet with the PIN, before the close
	SheetLooks    int // at an open pour sheet after its opening, before the close

	Eligible []Eligible // who held the plan's rule at the seal; not to be written to

	sealed   *Sealed // the key: never leaves but by PourSheet, Key and codes
	pin      Pin
	pinMiss  []time.Time // wrong PINs since the last right one
	looks    []lookTaken
	outcomes outcomes
}

// Seat is a slot in the layout and who has it.
type Seat struct {
	Number   int
	Person   string // opaque; empty while nobody has the seat
	Name     Text
	Token    Hash
	Joined   time.Time
	Listed   bool // on the frozen list
	Left     bool
	LeftFor  Text
	Claiming bool // the next phone that claims the seat gets it
	Sets     []Set
}

// Set is what has become of one set of one seat.
type Set struct {
	Number int
	Test   int
	Takes  []Take // served or called ones, oldest first
}

// Noting is when something was written down, and the words. About is what they
// belong to, where the program knows: a check that did not hold, a set that was
// served outside the planned temperature.
type Noting struct {
	At    time.Time
	Words Text
	About string
}

// Say is the noting as one sentence.
func (n Noting) Say() string {
	say := sentence(words(n.Words))
	if n.About != "" {
		return strings.ToUpper(n.About[:1]) + n.About[1:] + ": " + say
	}
	return say
}

// Take is one tray of a set: the first, or a replacement.
type Take struct {
	Number int // 0 for the first
	At     time.Time
	Answer *Answer
	Void   *Voiding
	Amend  *Voiding // taken out after the close

	// Waits says of a replacement that a cup's temperature is to be measured
	// before it is served.
	Waits bool
	CupC  float64 // of a replacement, measured when it was served, °C; 0 for none
}

// Answer is a locked answer.
type Answer struct {
	Pick    Code
	Also    Code // the second cup of an answer of two, else 0
	Guess   bool
	At      time.Time // the host laptop's clock
	PhoneAt time.Time
	Paper   bool // a ballot that the host typed in
	Known   bool // it was locked after the seal was broken
	Command CommandID
}

// Codes are the cups that the answer names, left to right.
func (a *Answer) Codes() []Code {
	if a.Also == 0 {
		return []Code{a.Pick}
	}
	return []Code{a.Pick, a.Also}
}

// Voiding says when and why a take was taken out.
type Voiding struct {
	At     time.Time
	Reason Text
	Known  Known // whether the key was open then
}

// Known says since what the key was open to the host when something was done.
type Known string

// The ways in which it can be open; "" is for a key that is not.
const (
	KnownByReveal Known = "reveal"
	KnownByBreak  Known = "broken" // the seal was broken before the reveal
)

// Known says since what the key is open to the host.
func (s *State) Known() Known {
	switch {
	case s.Phase == PhaseRevealed:
		return KnownByReveal
	case s.Broken != nil:
		return KnownByBreak
	}
	return ""
}

// Words say it, to follow "taken out".
func (k Known) Words() string {
	switch k {
	case KnownByReveal:
		return "after the reveal, when the answers were known"
	case KnownByBreak:
		return "after the seal was broken, when the key and so the answers could be known"
	}
	return "after the close"
}

// Step is one entry as the audit trail shows it. A Sealed event is without
// layout, seed and salt.
type Step struct {
	Seq   uint64
	At    time.Time
	Actor Actor
	Event Event
}

// NewState is a session with no entry.
func NewState(id ID) *State {
	return &State{ID: id, Times: map[Phase]time.Time{}, outcomes: outcomes{}}
}

// Clone copies all that Apply can change.
func (s *State) Clone() *State {
	c := *s
	c.Rounds = slices.Clone(s.Rounds)
	c.Trail = slices.Clone(s.Trail)
	c.Times = maps.Clone(s.Times)
	c.pinMiss = slices.Clone(s.pinMiss)
	c.looks = slices.Clone(s.looks)
	c.Deviations = slices.Clone(s.Deviations)
	c.Openings = slices.Clone(s.Openings)
	c.Temperatures = slices.Clone(s.Temperatures)
	c.outcomes = maps.Clone(s.outcomes)
	c.Seats = slices.Clone(s.Seats)
	for i := range c.Seats {
		c.Seats[i].Sets = slices.Clone(c.Seats[i].Sets)
		for j := range c.Seats[i].Sets {
			c.Seats[i].Sets[j].Takes = slices.Clone(c.Seats[i].Sets[j].Takes)
		}
	}
	return &c
}

// Position gives the last entry's number and hash.
func (s *State) Position() (uint64, Hash) { return s.Seq, s.Head }

// EntriesAtClose is the number of the last entry before the close, whose hash
// is ClosedAt; 0 before it.
func (s *State) EntriesAtClose() uint64 {
	for _, step := range s.Trail {
		if _, ok := step.Event.(*Closed); ok {
			return step.Seq - 1
		}
	}
	return 0
}

// Taken reports whether somebody has the seat and has not left.
func (s *Seat) Taken() bool { return s.Person != "" && !s.Left }

// ByHand reports whether who has the seat answers on paper.
func (s *Seat) ByHand() bool { return s.Person != "" && s.Token == (Hash{}) }

// Last is the newest take of a set, nil if none was served.
func (s *Set) Last() *Take {
	if len(s.Takes) == 0 {
		return nil
	}
	return &s.Takes[len(s.Takes)-1]
}

// Kept is the answer that counts, nil if there is none.
func (s *Set) Kept() *Answer {
	if t := s.Last(); t != nil && t.Void == nil {
		return t.Answer
	}
	return nil
}

// Front is the set in front of the seat: the first served one that is neither
// answered nor taken out. ok is false if there is none.
func (s *Seat) Front() (set, take int, ok bool) {
	for _, x := range s.Sets {
		t := x.Last()
		if t != nil && t.Void == nil && t.Answer == nil {
			if t.Waits {
				return 0, 0, false // later sets wait with it
			}
			return x.Number, t.Number, true
		}
	}
	return 0, 0, false
}

// Awaits is the replacement that the seat waits for: called, and not served
// before a cup of it is measured. ok is false if there is none.
func (s *Seat) Awaits() (set, take int, ok bool) {
	for _, x := range s.Sets {
		if t := x.Last(); t != nil && t.Void == nil && t.Answer == nil {
			return x.Number, t.Number, t.Waits
		}
	}
	return 0, 0, false
}

// Answered is the number of sets with an answer that counts.
func (s *Seat) Answered() int {
	n := 0
	for i := range s.Sets {
		if s.Sets[i].Kept() != nil {
			n++
		}
	}
	return n
}

// seat finds a seat by number, nil if there is none.
func (s *State) seat(n int) *Seat {
	if n < 1 || n > len(s.Seats) {
		return nil
	}
	return &s.Seats[n-1]
}

// Door is the join code that gives the next free seat, "" before the seal.
func (s *State) Door() string {
	if s.sealed == nil {
		return ""
	}
	return s.sealed.Layout.Door
}

// PlaceDoor is the join code on the seat's card, "" if there is none.
func (s *State) PlaceDoor(seat int) string {
	if s.sealed == nil || s.seat(seat) == nil {
		return ""
	}
	return s.sealed.Layout.Places[seat-1]
}

// SeatOfDoor reads a join code: which seat it gives, 0 for the next free one.
func (s *State) SeatOfDoor(door string) (seat int, ok bool) {
	if s.sealed == nil || door == "" {
		return 0, false
	}
	if door == s.sealed.Layout.Door {
		return 0, true
	}
	i := slices.Index(s.sealed.Layout.Places, door)
	return i + 1, i >= 0
}

// SeatOfToken finds the seat of a phone, 0 if it has none: the newest, where
// somebody sat in several flights.
func (s *State) SeatOfToken(token Hash) int {
	for i := len(s.Seats) - 1; i >= 0; i-- {
		if s.Seats[i].Person != "" && s.Seats[i].Token == token && !s.Seats[i].Claiming && !s.Seats[i].ByHand() {
			return i + 1
		}
	}
	return 0
}

// MovedOn reports whether a seat of the list at the table goes on with another
// phone than the one of this token, which had it before.
func (s *State) MovedOn(token Hash) bool {
	if token.IsZero() || !s.Frozen || s.SeatOfToken(token) != 0 {
		return false
	}
	for i := range s.Seats {
		seat := &s.Seats[i]
		if !seat.Taken() || seat.Claiming || !s.InFlight(i+1) {
			continue
		}
		had := false
		for _, step := range s.Trail {
			switch e := step.Event.(type) {
			case *Joined:
				if e.Seat == i+1 {
					had = e.Token == token // whoever had it before was freed
				}
			case *SeatMoved:
				had = had || e.Seat == i+1 && e.Token != nil && *e.Token == token
			}
		}
		if had {
			return true
		}
	}
	return false
}

// InFlight reports whether a seat belongs to the flight at the table.
func (s *State) InFlight(seat int) bool {
	f, _ := s.Plan.FlightOf(seat)
	return f == s.Flight && f != 0
}

// NextFree is the flight's first seat in dealt order that nobody has, 0 if all
// are taken.
func (s *State) NextFree() int {
	for i := range s.Seats {
		if s.Seats[i].Person == "" && s.InFlight(i+1) {
			return i + 1
		}
	}
	return 0
}

// Codes are the codes on a tray, left to right; the same under every key. nil
// if there is no such tray.
func (s *State) Codes(seat, set, take int) []Code {
	if s.sealed == nil || s.seat(seat) == nil || set < 1 || set > len(s.sealed.Layout.Seats[seat-1]) {
		return nil
	}
	takes := s.sealed.Layout.Seats[seat-1][set-1].Takes
	if take < 0 || take >= len(takes) {
		return nil
	}
	return slices.Clone(takes[take])
}

func (s *State) ended() bool {
	return s.Phase == PhaseClosed || s.Phase == PhaseRevealed || s.Phase == PhaseAbandoned
}

// Occupied are the numbers of the flight's seats that somebody has and has not
// left; on a frozen list only those on it.
func (s *State) Occupied() []int {
	var seats []int
	for i := range s.Seats {
		if s.InFlight(i+1) && s.Seats[i].Taken() && (!s.Frozen || s.Seats[i].Listed) {
			seats = append(seats, i+1)
		}
	}
	return seats
}

// Listed are the numbers of the flight's seats that are poured for: those on
// the list once it is frozen, all before. After the close they are the seats of
// all flights that were poured for.
func (s *State) Listed() []int {
	var seats []int
	for i := range s.Seats {
		if s.Seats[i].Listed && s.ended() || s.InFlight(i+1) && (s.Seats[i].Listed || !s.Frozen) {
			seats = append(seats, i+1)
		}
	}
	return seats
}

// AllIn reports whether every seat on the flight's list that has not left has
// answered every set so far served, or had it taken out.
func (s *State) AllIn() bool {
	for i := range s.Seats {
		seat := &s.Seats[i]
		if !seat.Listed || seat.Left || !s.InFlight(i+1) {
			continue
		}
		if _, _, ok := seat.Front(); ok {
			return false
		}
		if _, _, ok := seat.Awaits(); ok {
			return false
		}
	}
	return true
}
