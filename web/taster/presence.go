package taster

import (
	"sync"
	"time"

	"oddcup/session"
)

// Presence is what passes and is no entry in a journal: which phones are in
// touch, who has a tray checked, who calls. It is in memory only; after a
// restart the phones bring it back.
type Presence struct {
	now func() time.Time

	mu       sync.Mutex // guards the following fields
	seats    map[place]Sign
	watchers map[chan struct{}]struct{}
}

type place struct {
	session session.ID
	seat    int
}

// Sign is the last that was heard from a seat's phone.
type Sign struct {
	InTouch bool
	Since   time.Time // of InTouch as it is now; zero if the phone never came

	// Checked is the tray, by set and take, whose leftmost code was typed right.
	CheckedSet, CheckedTake int
	CheckedAt               time.Time

	// Wrong is the code last typed that is not the leftmost of the tray.
	Wrong   session.Code
	WrongAt time.Time

	Calling string // why the taster calls: one of CallReasons, "" for not calling
	CallAt  time.Time
}

// CallReasons are the reasons for calling the host, and their words.
var CallReasons = map[string]string{
	"spill":  "spilled a cup",
	"tray":   "wrong tray",
	"unwell": "feels unwell",
	"other":  "calls",
}

// NewPresence is a table without signs.
func NewPresence(now func() time.Time) *Presence {
	return &Presence{now: now, seats: map[place]Sign{}, watchers: map[chan struct{}]struct{}{}}
}

// Seat gives the sign of a seat; the zero Sign if nothing was heard.
func (p *Presence) Seat(id session.ID, seat int) Sign {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.seats[place{id, seat}]
}

// Answer takes a call off a seat: the host is going there.
func (p *Presence) Answer(id session.ID, seat int) {
	p.change(id, seat, func(s *Sign) { s.Calling, s.CallAt, s.Wrong, s.WrongAt = "", time.Time{}, 0, time.Time{} })
}

// Watch returns a channel that gets a value after changes. Call stop when done.
func (p *Presence) Watch() (changes <-chan struct{}, stop func()) {
	ch := make(chan struct{}, 1)
	p.mu.Lock()
	p.watchers[ch] = struct{}{}
	p.mu.Unlock()
	return ch, func() {
		p.mu.Lock()
		delete(p.watchers, ch)
		p.mu.Unlock()
	}
}

func (p *Presence) change(id session.ID, seat int, f func(*Sign)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := place{id, seat}
	old := p.seats[at]
	s := old
	f(&s)
	if s == old {
		return
	}
	p.seats[at] = s
	p.wake()
}

// nudge wakes the watchers though no sign changed.
func (p *Presence) nudge() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.wake()
}

// wake is called with mu held.
func (p *Presence) wake() {
	for ch := range p.watchers {
		select {
		case ch <- struct{}{}:
		default:
		}
	}
}

func (p *Presence) call(id session.ID, seat int, why string) {
	p.change(id, seat, func(s *Sign) {
		switch {
		case why == "":
			s.Calling, s.CallAt = "", time.Time{}
		case s.Calling != why:
			s.Calling, s.CallAt = why, p.now()
		}
	})
}

func (p *Presence) tray(id session.ID, seat, set, take int, typed session.Code, right bool) {
	p.change(id, seat, func(s *Sign) {
		if !right {
			s.Wrong, s.WrongAt = typed, p.now()
			return
		}
		s.Wrong, s.WrongAt = 0, time.Time{}
		if s.CheckedSet != set || s.CheckedTake != take {
			s.CheckedSet, s.CheckedTake, s.CheckedAt = set, take, p.now()
		}
	})
}

// newcomer clears what the one before at a seat had called and typed.
func (p *Presence) newcomer(id session.ID, seat int) {
	p.change(id, seat, func(s *Sign) { *s = Sign{InTouch: s.InTouch, Since: s.Since} })
}

func (p *Presence) touch(id session.ID, seat int, in bool) {
	p.change(id, seat, func(s *Sign) {
		if s.InTouch != in || s.Since.IsZero() {
			s.InTouch, s.Since = in, p.now()
		}
	})
}
