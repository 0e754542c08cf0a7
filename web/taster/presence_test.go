package taster

import (
	"testing"
	"time"

	"oddcup/session"
)

// TestPresence: signs of seats, each with its time, and who is woken by them.
func TestPresence(t *testing.T) {
	now := noon
	p := NewPresence(func() time.Time { return now })
	const one, two session.ID = "one", "two"
	come := noon.Add(time.Minute)
	woken, stop := p.Watch()
	wake := func() bool {
		select {
		case <-woken:
			return true
		default:
			return false
		}
	}
	for _, c := range []struct {
		name string
		do   func()
		want Sign
		wake bool
	}{
		{"nothing heard", func() {}, Sign{}, false},
		{"in touch", func() { p.touch(one, 7, true) }, Sign{InTouch: true, Since: come}, true},
		{"in touch again", func() { p.touch(one, 7, true) }, Sign{InTouch: true, Since: come}, false},
		{"another seat", func() { p.touch(one, 8, true) }, Sign{InTouch: true, Since: come}, true},
		{"another session", func() { p.touch(two, 7, true) }, Sign{InTouch: true, Since: come}, true},
		{"a wrong tray", func() { p.tray(one, 7, 1, 0, 555, false) }, Sign{InTouch: true, Since: come, Wrong: 555, WrongAt: noon.Add(5 * time.Minute)}, true},
		{"a call", func() { p.call(one, 7, "spill") },
			Sign{InTouch: true, Since: come, Wrong: 555, WrongAt: noon.Add(5 * time.Minute), Calling: "spill", CallAt: noon.Add(6 * time.Minute)}, true},
		{"the same call", func() { p.call(one, 7, "spill") },
			Sign{InTouch: true, Since: come, Wrong: 555, WrongAt: noon.Add(5 * time.Minute), Calling: "spill", CallAt: noon.Add(6 * time.Minute)}, false},
		{"the host goes there", func() { p.Answer(one, 7) }, Sign{InTouch: true, Since: come}, true},
		{"the right tray", func() { p.tray(one, 7, 1, 0, 742, true) },
			Sign{InTouch: true, Since: come, CheckedSet: 1, CheckedAt: noon.Add(9 * time.Minute)}, true},
		{"the right tray again", func() { p.tray(one, 7, 1, 0, 742, true) },
			Sign{InTouch: true, Since: come, CheckedSet: 1, CheckedAt: noon.Add(9 * time.Minute)}, false},
		{"its replacement", func() { p.tray(one, 7, 1, 1, 318, true) },
			Sign{InTouch: true, Since: come, CheckedSet: 1, CheckedTake: 1, CheckedAt: noon.Add(11 * time.Minute)}, true},
		{"a slip after it", func() { p.tray(one, 7, 1, 1, 555, false); p.tray(one, 7, 1, 1, 318, true) },
			Sign{InTouch: true, Since: come, CheckedSet: 1, CheckedTake: 1, CheckedAt: noon.Add(11 * time.Minute)}, true},
		{"a call taken back", func() { p.call(one, 7, "tray"); p.call(one, 7, "") },
			Sign{InTouch: true, Since: come, CheckedSet: 1, CheckedTake: 1, CheckedAt: noon.Add(11 * time.Minute)}, true},
		{"away", func() { p.touch(one, 7, false) },
			Sign{Since: noon.Add(14 * time.Minute), CheckedSet: 1, CheckedTake: 1, CheckedAt: noon.Add(11 * time.Minute)}, true},
		{"a newcomer", func() { p.call(one, 7, "other"); p.newcomer(one, 7) }, Sign{Since: noon.Add(14 * time.Minute)}, true},
		{"watched no more", func() { stop(); p.touch(one, 7, true) }, Sign{InTouch: true, Since: noon.Add(16 * time.Minute)}, false},
	} {
		c.do()
		if got := p.Seat(one, 7); got != c.want {
			t.Errorf("%s:\n got %+v\nwant %+v", c.name, got, c.want)
		}
		if got := wake(); got != c.wake {
			t.Errorf("%s: woke the watcher: %v", c.name, got)
		}
		now = now.Add(time.Minute)
	}
	if got := p.Seat(two, 7); !got.InTouch || got.CheckedSet != 0 {
		t.Errorf("another session's seat 7 has %+v", got)
	}
}

// TestPresenceOfReconnects: while one line of a seat goes and another comes, in
// whatever order, the seat ends in touch. The interleaving that would break it
// is too rare to be waited for; so a seat's sign must change while nobody else
// can change who holds it.
func TestPresenceOfReconnects(t *testing.T) {
	b := newTable(t, nil)
	var ts *Tasters
	looked := 0
	p := NewPresence(func() time.Time {
		looked++
		if ts.mu.TryLock() {
			ts.mu.Unlock()
			t.Error("a sign changes while another line could take the seat")
		}
		return noon
	})
	ts = New(Config{Presence: p})
	id := b.room.State().ID
	old, fresh := &line{t: ts, room: b.room}, &line{t: ts, room: b.room}
	for _, c := range []struct {
		name  string
		do    func()
		holds *line
		in    bool
	}{
		{"the first comes", func() { ts.arrive(old, 1) }, old, true},
		{"the second comes", func() { ts.arrive(fresh, 1) }, fresh, true},
		{"the first goes", func() { ts.leave(old, 1) }, fresh, true},
		{"the first goes again", func() { ts.leave(old, 1) }, fresh, true},
		{"a line without a seat goes", func() { ts.leave(old, 0) }, fresh, true},
		{"the second goes", func() { ts.leave(fresh, 1) }, nil, false},
		{"the first comes back", func() { ts.arrive(old, 1) }, old, true},
	} {
		c.do()
		if ts.seats[place{id, 1}] != c.holds || p.Seat(id, 1).InTouch != c.in {
			t.Errorf("%s: in touch %v, want %v; the right line holds the seat: %v", c.name, p.Seat(id, 1).InTouch, c.in, ts.seats[place{id, 1}] == c.holds)
		}
	}
	if looked != 3 {
		t.Errorf("the sign changed %d times", looked)
	}
	if len(ts.seats) != 1 {
		t.Errorf("%d seats are held", len(ts.seats))
	}
}
