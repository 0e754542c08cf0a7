package record

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// tenYears is an invented laboratory: 200 judges and 4,000 sessions of 12 seats with
// a triangle and a paired comparison, one set each: 96,000 sets, half of the sessions
// with nothing to find, every eighth one of controls, and a hundred series.
var tenYears = sync.OnceValue(func() (years struct {
	lab    *session.Lab
	judged []session.JudgedSession
	now    time.Time
}) {
	rng := rand.New(rand.NewPCG(3, 9))
	lab := session.NewLab()
	now := time.Date(2031, 1, 6, 9, 0, 0, 0, time.UTC)
	do := func(a session.Act) {
		events, err := lab.Decide(session.Command{At: now, Actor: session.Host, Act: a})
		if err != nil {
			panic(err)
		}
		for _, e := range events {
			lab.Apply(session.Recorded{Seq: lab.Seq + 1, At: now, Actor: session.Host, Event: e})
		}
	}
	const judges, sessions, seats = 200, 4000, 12
	ability := make([]float64, judges)
	refs := make([][]session.SeatRef, judges)
	for j := range judges {
		name, err := session.NewText(fmt.Sprintf("Invented Person%d", j+1), chanceOf(byte(j)))
		if err != nil {
			panic(err)
		}
		do(session.EnterPerson{Facts: session.PersonFacts{Pseudonym: fmt.Sprintf("J %03d", j+1), Name: name}})
		ability[j] = math.Exp(0.3 * rng.NormFloat64())
		if j < 100 {
			do(session.BeginSeries{Person: person(j + 1), Terms: session.SeriesTerms{
				Method: "triangle", Kind: session.KindControl, Label: "brew diluted to 90 %", P0: 1.0 / 3, P1: 0.6, Alpha: 0.01, Beta: 0.01,
			}})
		}
	}
	for n := range sessions {
		now = now.Add(22 * time.Hour)
		id := session.ID(fmt.Sprintf("s-%05d", n))
		kind, size := session.KindRoutine, 0.0
		if n%2 == 1 {
			size = math.Abs(1.5 * rng.NormFloat64())
		}
		var control *session.Control
		if n%8 == 0 {
			kind, size, control = session.KindControl, 1.5, &session.Control{Words: "brew diluted to 90 %", DPrime: 1.5}
		}
		s := newSession(id, now, session.JudgedTest{Method: "triangle", Kind: kind}, session.JudgedTest{Method: "paired-comparison", Kind: kind, Attribute: "body"})
		s.Control = control
		for i, j := range rng.Perm(judges)[:seats] {
			for test, m := range []stats.Psychometric{stats.Triangle, stats.PairedComparison} {
				s.set(i+1, test, test+1, rng.Float64() < m.PC(ability[j]*size))
			}
			refs[j] = append(refs[j], session.SeatRef{Session: id, Seat: i + 1})
		}
		years.judged = append(years.judged, s.JudgedSession)
	}
	for j := range judges {
		do(session.TieSeats{Person: person(j + 1), Seats: refs[j]})
	}
	years.lab, years.now = lab, now
	return years
})

// BenchmarkOpen joins seats to people, without a fit.
func BenchmarkOpen(b *testing.B) {
	y := tenYears()
	for b.Loop() {
		Open(y.lab, y.judged, y.now)
	}
}

// BenchmarkColdPanel is everything from judged sessions to the first panel page.
func BenchmarkColdPanel(b *testing.B) {
	y := tenYears()
	for b.Loop() {
		Open(y.lab, y.judged, y.now).Panel()
	}
}

// BenchmarkRenew is the first panel page after an entry in the register that changes
// nothing of the answers: the fit is kept, all else is made anew.
func BenchmarkRenew(b *testing.B) {
	y := tenYears()
	book := Open(y.lab, y.judged, y.now)
	book.Panel()
	for b.Loop() {
		open(y.lab, y.judged, y.now, book.fitted).Panel()
	}
}

// BenchmarkPanelPage makes the panel of a book whose fit is kept; the next time it is
// kept too.
func BenchmarkPanelPage(b *testing.B) {
	y := tenYears()
	book := Open(y.lab, y.judged, y.now)
	book.Panel()
	for b.Loop() {
		if p := book.makePanel(); len(p.Judges) != 200 {
			b.Fatalf("%d judges", len(p.Judges))
		}
	}
}

// BenchmarkJudgePage is one judge of some 480 sets of a book that is kept.
func BenchmarkJudgePage(b *testing.B) {
	y := tenYears()
	book := Open(y.lab, y.judged, y.now)
	book.fitted.ready()
	n := 0
	for b.Loop() {
		n++
		if j, _ := book.Judge(person(1 + n%200)); len(j.Tests) < 300 {
			b.Fatalf("%d tests", len(j.Tests))
		}
	}
}

// BenchmarkStamp is what every page of a book that is kept costs.
func BenchmarkStamp(b *testing.B) {
	y := tenYears()
	for b.Loop() {
		StampOf(y.lab, y.judged)
	}
}
