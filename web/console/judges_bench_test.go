package console

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"math"
	mathrand "math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/web/guard"
	"oddcup/web/taster"
)

// tenYears is an invented laboratory's journal after ten years: 200 judges and 4,000
// revealed sessions of 12 seats, a triangle and a paired comparison each, 96,000 sets.
// The sessions are there as what is judged of them alone.
type tenYears struct {
	session.Memory
	rows   []session.Row
	judged []session.JudgedSession
}

func (y *tenYears) Rows(context.Context) ([]session.Row, error) { return slices.Clone(y.rows), nil }

func (y *tenYears) JudgedSessions(context.Context) ([]session.JudgedSession, error) {
	return slices.Clone(y.judged), nil
}

const tenYearJudges, tenYearSessions, tenYearSeats = 200, 4000, 12

var tenYearRooms = sync.OnceValue(func() *session.Rooms {
	y := &tenYears{}
	rooms, err := session.NewRooms(context.Background(), y)
	if err != nil {
		panic(err)
	}
	rng := mathrand.New(mathrand.NewPCG(3, 9))
	begun := time.Date(2016, 1, 4, 9, 0, 0, 0, time.UTC)
	do := func(act session.Act) {
		if _, err := rooms.Lab().Do(context.Background(), session.Command{At: begun, Actor: session.Host, Act: act}); err != nil {
			panic(fmt.Sprintf("%T: %v", act, err))
		}
	}
	ability := make([]float64, tenYearJudges)
	for j := range ability {
		name, err := session.NewText(fmt.Sprintf("Invented Person%d", j+1), rand.Reader)
		if err != nil {
			panic(err)
		}
		do(session.EnterPerson{Facts: session.PersonFacts{Pseudonym: fmt.Sprintf("J %03d", j+1), Name: name}})
		ability[j] = math.Exp(0.3 * rng.NormFloat64())
	}
	refs := make([][]session.SeatRef, tenYearJudges)
	for n := range tenYearSessions {
		at := begun.Add(time.Duration(n) * 22 * time.Hour)
		id := session.ID(fmt.Sprintf("%s-%05d", at.Format("20060102"), n))
		j := session.JudgedSession{Session: id, Seq: 1, At: at.Add(time.Hour)}
		kind, size := session.KindRoutine, 0.0
		switch {
		case n%8 == 0:
			kind, size, j.Control = session.KindControl, 1.5, &session.Control{Words: "brew diluted to 90 %", DPrime: 1.5}
		case n%2 == 1:
			size = math.Abs(1.5 * rng.NormFloat64())
		}
		methods := []session.Method{session.Triangle, session.PairedComparison}
		for _, m := range methods {
			t := session.JudgedTest{Method: m.Key, Kind: kind, Chance: m.Chance(), Seats: tenYearSeats}
			if !m.Overall {
				t.Attribute = "body"
			}
			j.Tests = append(j.Tests, t)
		}
		for i, judge := range rng.Perm(tenYearJudges)[:tenYearSeats] {
			for test, m := range methods {
				right := rng.Float64() < m.Curve.PC(ability[judge]*size)
				j.Sets = append(j.Sets, session.JudgedSet{
					Seat: i + 1, Test: test, Method: m.Key, Kind: kind, Set: test + 1, At: at.Add(time.Duration(test) * time.Minute),
					Right: right, Processed: right && !m.Overall, Place: 1 + rng.IntN(m.Cups), Counted: m.Cups, Took: time.Minute,
				})
			}
			refs[judge] = append(refs[judge], session.SeatRef{Session: id, Seat: i + 1})
		}
		y.judged = append(y.judged, j)
		y.rows = append(y.rows, session.Row{ID: id, Title: fmt.Sprintf("Session %d (invented)", n+1), Phase: session.PhaseRevealed, Begun: at})
	}
	for judge, seats := range refs {
		do(session.TieSeats{Person: session.PersonID(fmt.Sprintf("p-%d", judge+1)), Seats: seats})
	}
	return rooms
})

func tenYearConsole() http.Handler {
	now := func() time.Time { return time.Date(2026, 4, 15, 9, 0, 0, 0, time.UTC) }
	c := New(Config{Rooms: tenYearRooms(), Presence: taster.NewPresence(now), Now: now, Chance: rand.Reader, Log: slog.New(slog.DiscardHandler)})
	return c.Handler(guard.Names{"127.0.0.1"})
}

func fetch(b *testing.B, h http.Handler, path, says string) int {
	b.Helper()
	r := httptest.NewRequest("GET", "http://127.0.0.1:7733"+path, nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if body := w.Body.String(); w.Code != http.StatusOK || !strings.Contains(body, says) {
		b.Fatalf("%s: status %d, %d bytes without %q", path, w.Code, len(body), says)
	}
	return w.Body.Len()
}

// BenchmarkJudgesPages is each page of ten years through the handler, of a book that
// is kept.
func BenchmarkJudgesPages(b *testing.B) {
	for _, page := range []struct{ name, path, says string }{
		{"panel", "/judges", "J 200"}, {"judge", "/judges/p-%d", "On one scale"}, {"own", "/judges/p-%d/own", "You were right in"},
	} {
		b.Run(page.name, func(b *testing.B) {
			h := tenYearConsole()
			fetch(b, h, "/judges", "J 200")
			n, bytes := 0, 0
			for b.Loop() {
				n++
				path := page.path
				if strings.Contains(path, "%d") {
					path = fmt.Sprintf(path, 1+n%tenYearJudges)
				}
				bytes = fetch(b, h, path, page.says)
			}
			b.ReportMetric(float64(bytes), "page-bytes")
		})
	}
}

// BenchmarkFirstJudgesPage is the first panel page after a start, or after a reveal
// where nothing was fitted ahead.
func BenchmarkFirstJudgesPage(b *testing.B) {
	tenYearRooms()
	for b.Loop() {
		fetch(b, tenYearConsole(), "/judges", "J 200")
	}
}
