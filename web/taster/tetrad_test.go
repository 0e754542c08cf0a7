package taster

import (
	"fmt"
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/web/guard"
)

// TestTetradOnAPhone plays a practice tetrad in a browser: two cups are picked,
// a third tap changes nothing, a reload keeps the picks, the answer waits while
// the phone is out of reach, and comes back kept under the name of the other
// pair, drawn as the same sorting.
func TestTetradOnAPhone(t *testing.T) {
	p, b := seated(t, func(p *session.Plan) {
		p.Tests[0] = session.TestPlan{Method: session.Tetrad.Key, Goal: session.GoalDifference, Sets: 2, Alpha: 0.05, Pd: 0.3, Power: 0.8}
		p.Practice = true
	})
	codes := b.room.State().Codes(1, 1, 0)
	p.typeCode(codes[0])
	p.says("Which two are the same?")
	tap := func(place int) {
		t.Helper()
		p.tap(fmt.Sprintf("cup %d", place+1), fmt.Sprintf(`document.querySelectorAll('.tray .row label')[%d]`, place))
	}
	picked := func(want ...int) {
		t.Helper()
		var names []string
		for _, i := range want {
			names = append(names, fmt.Sprintf("cup %s, %d of 4", text(codes[i]), i+1))
		}
		p.until(fmt.Sprintf("the picks %q", names), `[...document.querySelectorAll('.tray input:checked')].map((e) => e.ariaLabel).join('; ') === `+quoted(strings.Join(names, "; ")))
	}
	tap(3)
	picked(3)
	tap(3)
	picked()
	tap(3)
	tap(1)
	picked(1, 3)
	p.says(fmt.Sprintf("%s and %s are one pair, %s and %s the other.", text(codes[1]), text(codes[3]), text(codes[0]), text(codes[2])))
	tap(2)
	p.says("Two cups are picked already. Tap one of them to let it go.")
	picked(1, 3)
	p.tap("the tick", `document.querySelector('.tick')`)
	p.reload()
	picked(1, 3)
	p.until("the tick to stand", `document.querySelector('.tick input').checked`)
	tap(3)
	p.says("Tap the cup that goes with " + text(codes[1]))
	tap(2)
	picked(1, 2)
	tap(1)
	tap(3)
	picked(2, 3)
	tap(2)
	tap(1)
	picked(1, 3)

	p.offline(true)
	p.tap("lock", `document.querySelector('.primary')`)
	p.says("On this phone")
	kept := []string{text(codes[0]) + " with " + text(codes[2]), text(codes[1]) + " with " + text(codes[3])}
	p.says(fmt.Sprintf("%s and %s are locked here", kept[0], kept[1]))
	drawing := eval[string](p, `document.querySelector('.pairs').innerText + document.querySelectorAll('.pairs .tape').length`)
	p.offline(false)
	p.says("Kept")
	p.says(fmt.Sprintf("%s and %s is your answer to set 1.", kept[0], kept[1]))
	if got := eval[string](p, `document.querySelector('.pairs').innerText + document.querySelectorAll('.pairs .tape').length`); got != drawing {
		t.Errorf("kept draws %q, on this phone %q", got, drawing)
	}
	a := b.room.State().Seats[0].Sets[0].Kept()
	if a == nil || a.Pick != codes[0] || a.Also != codes[2] || !a.Guess {
		t.Fatalf("the host kept %+v; the codes are %v", a, codes)
	}
	// The tray's order tells whether it was right; the phone says just that.
	right, counted, told := b.room.State().Practised(1, 1, 0)
	want := map[bool]string{true: "This answer is right.", false: fmt.Sprintf("This answer is not right: %d goes with %d.", counted[0], counted[1])}[right]
	if !told {
		t.Fatal("a practice session tells nothing")
	}
	p.says(want)
	p.until("the words to be said aloud", `document.getElementById('live').textContent === `+quoted(want))
	p.says("After set 1. " + want)
	if got := eval[string](p, `JSON.parse(localStorage.getItem(Object.keys(localStorage).find((k) => k.endsWith('.outbox')))).length + ''`); got != "0" {
		t.Errorf("%s frames stay in the outbox", got)
	}
}

// TestDuoTrioOnAPhone: the tray is known by the reference's code, the reference
// can't be picked, and an answer of one cup names no second.
func TestDuoTrioOnAPhone(t *testing.T) {
	p, b := seated(t, func(p *session.Plan) {
		p.Tests[0] = session.TestPlan{Method: session.DuoTrio.Key, Goal: session.GoalDifference, Sets: 2, Alpha: 0.05, Pd: 0.3, Power: 0.8}
	})
	codes := b.room.State().Codes(1, 1, 0)
	p.typeCode(codes[1])
	p.says("is not the leftmost cup of this tray")
	p.tap("again", `document.querySelector('.primary')`)
	p.typeCode(codes[0])
	p.says("Which one is the same as the reference?")
	p.tap("the reference", `document.querySelector('.reference')`)
	time.Sleep(100 * time.Millisecond) // a pick would be drawn by now
	p.says("Tap one of the two cups to pick it")
	p.tap("the right cup", `document.querySelectorAll('.tray .row label')[1]`)
	p.says("your pick")
	p.tap("lock", `document.querySelector('.primary')`)
	p.says("Kept")
	p.says(text(codes[2]) + " is your answer to set 1.")
	a := b.room.State().Seats[0].Sets[0].Kept()
	if a == nil || a.Pick != codes[2] || a.Also != 0 {
		t.Fatalf("the host kept %+v; the codes are %v", a, codes)
	}
	if got := eval[string](p, `document.body.innerText`); strings.Contains(got, "right") {
		t.Errorf("a session that is no practice tells: %s", got)
	}
}

// seated is a browser at seat 1 of a session whose first set was served, and the
// session.
func seated(t *testing.T, change func(*session.Plan)) (*page, *table) {
	t.Helper()
	rooms, err := session.NewRooms(t.Context(), new(session.Memory))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	room, err := rooms.New(t.Context(), "20260414-120000-table")
	if err != nil {
		t.Fatal(err)
	}
	b := tableIn(t, room, change)
	now := func() time.Time { return noon }
	ts := New(Config{Rooms: rooms, Presence: NewPresence(now), Now: now, Chance: sevens{}, Log: slog.New(slog.DiscardHandler)})
	server := httptest.NewServer(ts.Handler(guard.Names{"127.0.0.1"}))
	t.Cleanup(server.Close)
	t.Cleanup(ts.Close)
	b.do(session.OpenLobby{})
	b.sit(2, 3)
	p := openPage(t)
	p.visit(server.URL + "/j/" + room.State().PlaceDoor(1))
	p.says("This is seat")
	eval[bool](p, `(document.getElementById('name').value = 'Iva', true)`)
	p.tap("take this seat", `document.querySelector('.primary')`)
	p.says("You have seat")
	b.do(session.FreezeList{}, session.Open{Releases: []session.Release{{Lot: "lot-1"}, {Lot: "lot-2"}}}, session.Serve{Round: 1})
	p.says("Is this your tray?")
	return p, b
}

// typeCode types a code on the page's own keypad.
func (p *page) typeCode(code session.Code) {
	p.t.Helper()
	for _, d := range text(code) {
		p.tap("key "+string(d), fmt.Sprintf(`[...document.querySelectorAll('.keypad button')].find((e) => e.querySelector('[aria-label="%c"]'))`, d))
	}
}

func (p *page) reload() {
	p.t.Helper()
	eval[bool](p, `(window.before = true)`)
	p.visit(eval[string](p, `location.href`))
	p.until("the page anew", `!window.before && document.querySelector('.page')`)
}

// text is a code as it stands on a cup.
func text(c session.Code) string { return fmt.Sprintf("%03d", c) }
