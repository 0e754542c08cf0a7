package paper

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// held is a laboratory with one session after the other, kept in memory, as the
// tests of reports need them.
type held struct {
	t     testing.TB
	rooms *session.Rooms
	room  *session.Room[*session.State]
	dealt [][]session.DealtSet
	at    time.Time
}

func newHeld(t testing.TB) *held {
	t.Helper()
	rooms, err := session.NewRooms(t.Context(), &session.Memory{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	h := &held{t: t, rooms: rooms, at: noon}
	if _, err := rooms.Lab().Do(t.Context(), session.Command{At: h.at, Actor: session.Host, Act: session.NameLab{Name: "Bench 2 (invented)"}}); err != nil {
		t.Fatal(err)
	}
	return h
}

// seal begins another session and seals its plan.
func (h *held) seal(p session.Plan) session.ID {
	h.t.Helper()
	h.at = h.at.Add(24 * time.Hour)
	id, err := session.NewID(h.at, seeded(uint64(h.at.Unix())))
	if err != nil {
		h.t.Fatal(err)
	}
	if h.room, err = h.rooms.New(h.t.Context(), id); err != nil {
		h.t.Fatal(err)
	}
	sealing, err := session.Seal(p, seeded(uint64(h.at.Unix())+1))
	if err != nil {
		h.t.Fatal(err)
	}
	h.dealt = sealing.Layout.Seats
	h.do(session.Draft{Plan: p}, session.SetPin{Pin: testPin}, session.SealPlan{Sealing: sealing})
	return id
}

func (h *held) do(acts ...session.Act) {
	h.t.Helper()
	for _, a := range acts {
		h.at = h.at.Add(time.Second)
		if _, err := h.room.Do(h.t.Context(), session.Command{At: h.at, Actor: session.Host, Act: a}); err != nil {
			h.t.Fatalf("%T: %v", a, err)
		}
	}
}

func (h *held) releases() []session.Release {
	return []session.Release{
		{Lot: "lot-1", By: text(h.t, "Q. Invented"), Report: "R-1", At: noon},
		{Lot: "lot-2", By: text(h.t, "Q. Invented"), Report: "R-2", At: noon},
	}
}

// seat gives all seats of the flight at the table, closes the list and opens.
func (h *held) seat() {
	h.t.Helper()
	h.do(session.OpenLobby{})
	for s := h.room.State(); s.NextFree() > 0; s = h.room.State() {
		n := s.NextFree()
		h.do(session.Sit{Seat: n, Name: text(h.t, fmt.Sprintf("Taster%03d Zzyx", n)), Token: session.HashToken(fmt.Append(nil, n))})
	}
	h.do(session.FreezeList{}, session.OpenPourSheet{Pin: "4711"}, session.Open{Releases: h.releases()})
}

// lock answers the newest tray of a set, rightly or not.
func (h *held) lock(seat, set int, right bool) {
	h.t.Helper()
	s := h.room.State()
	takes := s.Seats[seat-1].Sets[set-1].Takes
	take := takes[len(takes)-1].Number
	d := h.dealt[seat-1][set-1]
	m, _ := session.MethodByKey(s.Plan.Tests[d.Test].Method)
	codes := s.Codes(seat, set, take)
	places := m.Counted(d.Order)
	if !right {
		for i := m.References(); i < m.Cups; i++ {
			try := []int{i}
			if m.Picks == 2 {
				try = []int{0, max(1, i)}
			}
			if !m.Right(d.Order, try) {
				places = try
			}
		}
	}
	lock := session.Lock{Seat: seat, Set: set, Take: take, Pick: codes[places[0]], PhoneAt: h.at, Guess: seat%5 == 0}
	if m.Picks == 2 {
		lock.Also = codes[places[1]]
	}
	h.at = h.at.Add(time.Second)
	if _, err := h.room.Do(h.t.Context(), session.Command{At: h.at, Actor: session.Taster(seat), Act: lock}); err != nil {
		h.t.Fatalf("seat %d, set %d: %v", seat, set, err)
	}
}

// taste serves every set of every flight; the seats for which right is true
// answer rightly.
func (h *held) taste(right func(seat int) bool) {
	h.t.Helper()
	for flight := range h.room.State().Plan.FlightSizes() {
		if flight > 0 {
			h.do(session.EndFlight{})
		}
		h.seat()
		for set := 1; set <= h.room.State().Plan.SetsPerSeat(); set++ {
			h.do(session.Serve{Round: set})
			if h.room.State().Stopped {
				return
			}
			if len(h.room.State().Rounds) < set { // a look was taken instead
				h.do(session.Serve{Round: set})
			}
			for _, n := range h.room.State().Listed() {
				h.lock(n, set, right(n))
			}
		}
	}
}

func (h *held) report(id session.ID) session.TestReport {
	h.t.Helper()
	r, err := h.rooms.TestReport(h.t.Context(), id, time.UTC)
	if err != nil {
		h.t.Fatal(err)
	}
	return r
}

// flatText is what a file says, in one line.
func flatText(t testing.TB, pdf []byte) string {
	t.Helper()
	return strings.Join(strings.Fields(string(poppler(t, pdf, "pdftotext", "-raw", "FILE", "-"))), " ")
}
