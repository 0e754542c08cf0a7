package record

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"oddcup/session"
)

// The laboratory of these tests is invented: its people, lots and reports stand
// for nothing that exists.
type invented struct {
	t     testing.TB
	rooms *session.Rooms
	pin   session.Pin
	now   time.Time
	rng   *rand.Rand
	made  int
}

func chanceOf(n byte) *rand.ChaCha8 { return rand.NewChaCha8([32]byte{n}) }

func newLab(t testing.TB, judges int) *invented {
	t.Helper()
	rooms, err := session.NewRooms(t.Context(), &session.Memory{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	l := &invented{t: t, rooms: rooms, now: time.Date(2031, 1, 6, 9, 0, 0, 0, time.UTC), rng: rand.New(rand.NewPCG(5, 8))}
	if l.pin, err = session.NewPin("4711", chanceOf(1)); err != nil {
		t.Fatal(err)
	}
	for i := range judges {
		l.do(session.EnterPerson{Facts: session.PersonFacts{Pseudonym: fmt.Sprintf("J %02d", i+1), Name: l.text(fmt.Sprintf("Invented Person%d", i+1))}})
	}
	return l
}

func (l *invented) text(words string) session.Text {
	l.t.Helper()
	t, err := session.NewText(words, chanceOf(byte(len(words))))
	if err != nil {
		l.t.Fatal(err)
	}
	return t
}

func (l *invented) try(a session.Act) error {
	l.now = l.now.Add(time.Second)
	_, err := l.rooms.Lab().Do(context.Background(), session.Command{At: l.now, Actor: session.Host, Act: a})
	return err
}

func (l *invented) do(acts ...session.Act) {
	l.t.Helper()
	for _, a := range acts {
		if err := l.try(a); err != nil {
			l.t.Fatalf("%T: %v", a, err)
		}
	}
}

func (l *invented) lab() *session.Lab { return l.rooms.Lab().State() }

func (l *invented) judged() []session.JudgedSession {
	l.t.Helper()
	all, err := l.rooms.Judged(l.t.Context())
	if err != nil {
		l.t.Fatal(err)
	}
	return all
}

func (l *invented) book() *Book { return Open(l.lab(), l.judged(), l.now) }

func person(n int) session.PersonID { return session.PersonID(fmt.Sprintf("p-%d", n)) }

func testOf(m session.Method, sets int) session.TestPlan {
	t := session.TestPlan{Method: m.Key, Goal: session.GoalDifference, Sets: sets, Alpha: 0.05, Pd: 0.4, Power: 0.8}
	if !m.Overall {
		t.Attribute, t.Definition = "body", "How full the coffee feels in the mouth."
	}
	return t
}

func planOf(seats int, tests ...session.TestPlan) session.Plan {
	p := session.UsualPlan()
	p.Title, p.Seats, p.Tests = "Invented", seats, tests
	p.Untreated = session.Lot{ID: "lot-1", Number: "N-1", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "N-2", Treatment: "water"}
	return p
}

// answer says whether the answer of a seat to a set is to be right.
type answer func(seat, test, set int) bool

// play plays a session from draft to reveal, in which seat n is judge n where tied,
// and returns its id.
func (l *invented) play(p session.Plan, tied, demo bool, right answer) session.ID {
	l.t.Helper()
	l.made++
	l.now = l.now.Add(24 * time.Hour)
	id := session.ID(fmt.Sprintf("%s-%04d", l.now.Format("20060102"), l.made))
	room, err := l.rooms.New(l.t.Context(), id)
	if err != nil {
		l.t.Fatal(err)
	}
	do := func(acts ...session.Act) {
		l.t.Helper()
		for _, a := range acts {
			l.now = l.now.Add(time.Second)
			if _, err := room.Do(l.t.Context(), session.Command{At: l.now, Actor: session.Host, Act: a}); err != nil {
				l.t.Fatalf("%s: %T: %v", id, a, err)
			}
		}
	}
	sealing, err := session.Seal(p, chanceOf(byte(l.made)))
	if err != nil {
		l.t.Fatal(err)
	}
	do(session.Draft{Plan: p, Demo: demo}, session.SetPin{Pin: l.pin}, session.SealPlan{Sealing: sealing}, session.OpenLobby{})
	var seats []session.SeatRef
	for seat := 1; seat <= p.Seats; seat++ {
		do(session.Sit{Seat: seat, Name: l.text(fmt.Sprintf("Invented Person%d", seat)), Token: session.HashToken([]byte{byte(l.made), byte(seat)})})
		seats = append(seats, session.SeatRef{Session: id, Seat: seat})
	}
	do(session.FreezeList{}, session.Open{Releases: []session.Release{{Lot: "lot-1"}, {Lot: "lot-2"}}})
	for set := 1; set <= p.SetsPerSeat(); set++ {
		do(session.Serve{Round: set})
		for seat := 1; seat <= p.Seats; seat++ {
			dealt := sealing.Layout.Seats[seat-1][set-1]
			test := room.State().Seats[seat-1].Sets[set-1].Test
			m, _ := session.MethodByKey(p.Tests[test].Method)
			places := m.Counted(dealt.Order)
			if !right(seat, test, set) {
				for places = []int{m.References()}; m.Right(dealt.Order, places); {
					places[0]++
				}
			}
			do(session.Lock{Seat: seat, Set: set, Pick: dealt.Takes[0][places[0]]})
		}
	}
	do(session.Close{}, session.Reveal{})
	if tied {
		for i, ref := range seats {
			l.do(session.TieSeats{Person: person(i + 1), Seats: []session.SeatRef{ref}})
		}
	}
	return id
}

// perceives gives answers as of tasters who all perceive d′.
func (l *invented) perceives(m session.Method, dPrime float64) answer {
	return func(int, int, int) bool { return l.rng.Float64() < m.Curve.PC(dPrime) }
}

// synthetic is a judged session without journal, for what no plan can do at will.
type synthetic struct {
	session.JudgedSession
}

func newSession(id session.ID, at time.Time, tests ...session.JudgedTest) *synthetic {
	for i := range tests {
		if tests[i].Kind == "" {
			tests[i].Kind = session.KindRoutine
		}
		m, _ := session.MethodByKey(tests[i].Method)
		tests[i].Chance = m.Chance()
	}
	return &synthetic{session.JudgedSession{Session: id, Seq: 1, At: at.Add(time.Hour), Tests: tests}}
}

func (s *synthetic) set(seat, test, set int, right bool) *synthetic {
	t := s.Tests[test]
	m, _ := session.MethodByKey(t.Method)
	s.Sets = append(s.Sets, session.JudgedSet{
		Seat: seat, Test: test, Method: t.Method, Kind: t.Kind, Set: set, At: s.At.Add(time.Duration(set)*time.Minute - time.Hour),
		Right: right, Processed: right && !m.Overall, Took: time.Minute, Place: m.Cups, Counted: m.Cups - one(!right),
	})
	return s
}
