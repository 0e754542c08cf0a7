package web

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// judges puts people on the register, ties two of them to seats, and begins series
// that the first answer ends: were any answer counted before the reveal, pages
// would differ with the key.
func (r *recorder) judges() {
	r.t.Helper()
	id := r.room.State().ID
	r.post("/people", url.Values{"name": {"Ana Vell (invented)"}, "pseudonym": {"J 01"}, "status": {"trained"}, "told": {"2026-01-05"}, "ground": {"contract"}})
	r.post("/people", url.Values{"name": {"Bo Tarn (invented)"}, "pseudonym": {"J 02"}, "status": {"trained"}})
	r.post("/judges/rules", url.Values{"name": {"One of one"}, "method": {"triangle"}, "kind": {"routine"}, "by": {"mark"}, "trials": {"1"}, "mark": {"1"}})
	for i, person := range []session.PersonID{"p-1", "p-2"} {
		terms := session.SeriesTerms{Method: "triangle", Kind: session.KindRoutine, P0: 1.0 / 3, P1: 0.95, Alpha: 0.4, Beta: 0.4}
		begin := session.Command{At: fixedClock.Add(-time.Hour), Actor: session.Host, Act: session.BeginSeries{Person: person, Terms: terms}}
		if _, err := r.rooms.Lab().Do(r.t.Context(), begin); err != nil {
			r.t.Fatal(err)
		}
		r.lab(session.TieSeats{Person: person, Seats: []session.SeatRef{{Session: id, Seat: 1 + i}}})
	}
}

// judgesRefused asks what is refused, or changes people only.
func (r *recorder) judgesRefused() {
	r.t.Helper()
	for _, path := range []string{"/people", "/people/ties", "/people/papers", "/people/p-1", "/people/p-1/merge", "/people/p-1/untie", "/people/p-1/erase",
		"/judges/rules", "/judges/p-1/series", "/judges/p-1/series/s-1", "/judges/p-1/qualify"} {
		r.post(path, nil)
	}
	r.post("/judges/p-1/qualify", url.Values{"rule": {"One of one"}, "held": {"no"}, "basis-0": {"nothing yet"}, "right-0": {"0"}, "of-0": {"0"}})
	r.post("/people/p-2/untie", url.Values{"session": {string(r.room.State().ID)}, "seat": {"2"}})
	r.post("/people/p-2/erase", url.Values{"pseudonym": {"J 02"}})
	for _, path := range []string{"/judges?order=judge", "/judges/p-1?all", "/judges/p-9", "/people/p-9", "/people/p-2/erase", "/judges/rules?rule=One+of+one"} {
		r.ask("console", "GET", path, nil, "all in")
	}
}

// TestJudgesWaitForTheReveal: before the reveal no answer is in any record,
// whatever the seats are tied to; after it, it is, and a series has ended by it.
func TestJudgesWaitForTheReveal(t *testing.T) {
	b := newBench(t, testPlan(4, 2), drawn(t, zeros{}))
	r := &recorder{bench: b, got: recording{}, hit: map[string]bool{}, brief: true}
	r.play()
	asked := 0
	for key, got := range r.got {
		if !strings.HasSuffix(key, "console GET /judges/p-1") {
			continue
		}
		asked++
		if !strings.Contains(got, "No set counts in the record yet.") || !strings.Contains(got, "no set was answered since") {
			t.Errorf("%s: before the reveal the judge’s page says:\n%s", key, got)
		}
	}
	if asked < 5 {
		t.Errorf("the judge’s page was asked for %d times", asked)
	}
	if s := b.rooms.Lab().State().Series[0]; s.Outcome == "" || s.Of == 0 {
		t.Errorf("after the reveal the series stands at %+v", s)
	}
	judged, err := b.rooms.Judged(t.Context())
	if err != nil || len(judged) != 1 {
		t.Errorf("%d judged sessions: %v", len(judged), err)
	}
}
