package session

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"oddcup/stats"
)

// Wald's lines of A. Wald's test, here from their formula (as in the comment of
// stats.SequentialLines; ISO 16820, from memory): the upper line at n sets is
// (ln((1-β)/α) + n·ln((1-P0)/(1-P1))) / (ln(P1/P0) + ln((1-P0)/(1-P1))).
func waldUpper(terms SeriesTerms, n int) float64 {
	g := math.Log(terms.P1/terms.P0) + math.Log((1-terms.P0)/(1-terms.P1))
	return (math.Log((1-terms.Beta)/terms.Alpha) + float64(n)*math.Log((1-terms.P0)/(1-terms.P1))) / g
}

var dilution = SeriesTerms{Triangle.Key, KindControl, "brew diluted to 90 %", 0.4, 0.7, 0.05, 0.1}

func TestSeries(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell")
	for name, c := range map[string]struct {
		change func(*SeriesTerms)
		want   error
	}{
		"no method":             {func(s *SeriesTerms) { s.Method = "sip" }, ErrTerms},
		"no kind":               {func(s *SeriesTerms) { s.Kind = "any" }, ErrTerms},
		"a control of no words": {func(s *SeriesTerms) { s.Label = " " }, ErrTerms},
		"a label that names":    {func(s *SeriesTerms) { s.Label = "of Ori Vell" }, ErrTellsName},
		"a label of a formula":  {func(s *SeriesTerms) { s.Label = "@x" }, ErrWords},
		"P0 below guessing":     {func(s *SeriesTerms) { s.P0 = 0.3 }, ErrTerms},
		"P0 above P1":           {func(s *SeriesTerms) { s.P0 = 0.8 }, ErrTerms},
		"P0 close to P1":        {func(s *SeriesTerms) { s.P0 = s.P1 - 0.019 }, ErrTerms},
		"P1 of all":             {func(s *SeriesTerms) { s.P1 = 1 }, ErrTerms},
		"no α":                  {func(s *SeriesTerms) { s.Alpha = 0 }, ErrTerms},
		"β of no number":        {func(s *SeriesTerms) { s.Beta = math.NaN() }, ErrTerms},
	} {
		terms := dilution
		c.change(&terms)
		if events, err := d.try(BeginSeries{"p-1", terms}); !isError(err, c.want) || events != nil {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	d.refuse(BeginSeries{"p-9", dilution}, ErrNoPerson)
	d.do(BeginSeries{"p-1", dilution}, BeginSeries{"p-2", dilution})
	again := dilution
	again.Label = "Brew  diluted to 90 %"
	d.refuse(BeginSeries{"p-1", again}, ErrTaken)

	// All right: the first count at or above the upper line ends it, and no other.
	n := 1
	for float64(n) < waldUpper(dilution, n) {
		d.refuse(EndSeries{Series: "s-1", Right: n, Of: n}, ErrLines)
		n++
	}
	for _, c := range [][2]int{{n + 1, n + 1}, {n, n + 1}, {-1, 3}, {3, 2}, {0, 0}} {
		d.refuse(EndSeries{Series: "s-1", Right: c[0], Of: c[1]}, ErrLines)
	}
	d.refuse(EndSeries{Series: "s-9", Right: n, Of: n}, ErrNoSeries)
	d.do(EndSeries{Series: "s-1", Right: n, Of: n})
	d.refuse(EndSeries{Series: "s-1", Right: n, Of: n}, ErrSeriesEnded)
	if s := d.l.Series[0]; s.Outcome != SeriesUpper || s.Right != n || s.Of != n || !s.Ended.Equal(d.now.Add(-time.Second)) {
		t.Errorf("%+v", s)
	}
	// Given up, for a reason; and one that reaches the lower line.
	d.do(EndSeries{Series: "s-2", Reason: salted("moved to another town")}, BeginSeries{"p-1", dilution})
	low := 1
	for ; dilution.lines().Look(low, 0).Decision != stats.Similar; low++ {
	}
	d.do(EndSeries{Series: "s-3", Right: 0, Of: low})
	if got := d.l.SeriesOf("p-1"); len(got) != 2 || got[1].Outcome != SeriesLower {
		t.Errorf("%+v", got)
	}
	if s := d.l.Series[1]; s.Outcome != SeriesGivenUp || s.Reason.Words != "moved to another town" {
		t.Errorf("%+v", s)
	}
	// Who was put together with another has begun the series of both.
	d.do(MergePeople{From: "p-2", Into: "p-1"})
	if got := len(d.l.SeriesOf("p-1")); got != 3 {
		t.Errorf("%d series begun", got)
	}
	if got, want := fmt.Sprint(d.replayed().Series), fmt.Sprint(d.l.Series); got != want {
		t.Errorf("came back as %s, want %s", got, want)
	}
}

// Only sets of the person, of the method, kind and control, answered after the
// start, count, in the order in which they were answered.
func TestSetsOfASeries(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell")
	d.do(
		TieSeats{"p-1", []SeatRef{{"a-1", 1}, {"b-2", 3}, {"c-3", 1}, {"d-4", 1}}}, TieSeats{"p-2", []SeatRef{{"a-1", 2}}},
		BeginSeries{"p-1", dilution},
	)
	start := d.l.Series[0].Begun
	set := func(seat int, after time.Duration, right bool) JudgedSet {
		return JudgedSet{Seat: seat, Method: Triangle.Key, Kind: KindControl, Set: 1, At: start.Add(after), Right: right}
	}
	of := func(id ID, control string, kind JudgedKind, method string, sets ...JudgedSet) JudgedSession {
		return JudgedSession{Session: id, Control: &Control{Words: control}, Tests: []JudgedTest{{Method: method, Kind: kind}}, Sets: sets}
	}
	demo := of("d-4", "brew diluted to 90 %", KindControl, Triangle.Key, set(1, time.Hour, true))
	demo.Demo = true
	sessions := []JudgedSession{
		demo,
		of("c-3", "brew diluted to 80 %", KindControl, Triangle.Key, set(1, time.Hour, true)),
		of("b-2", "Brew diluted to 90 %", KindControl, Triangle.Key, set(3, 3*time.Hour, true)),
		of("b-2", "brew diluted to 90 %", KindControl, DuoTrio.Key, set(3, 3*time.Hour, true)),
		of("b-2", "brew diluted to 90 %", KindRoutine, Triangle.Key, set(3, 3*time.Hour, true)),
		of("a-1", "brew diluted to 90 %", KindControl, Triangle.Key,
			set(1, 2*time.Hour, false), set(1, 0, true), set(1, -time.Hour, true), set(2, time.Hour, true), set(4, time.Hour, true)),
	}
	got := d.l.Sets(d.l.Series[0], sessions)
	if len(got) != 2 || got[0].Right || !got[1].Right || got[0].Seat != 1 || got[1].Seat != 3 {
		t.Errorf("%+v", got)
	}
	if s := dilution.Stand(got); s.N != 2 || s.Correct != 1 || s.Decision != stats.Continue {
		t.Errorf("%+v", s)
	}
	// All right, the sets behind the line change nothing.
	many := slices.Repeat([]JudgedSet{set(1, time.Hour, true)}, 40)
	if s := dilution.Stand(many); s.Decision != stats.Different || s.N != s.Correct || s.N+s.Unused != 40 {
		t.Errorf("%+v", s)
	} else if events, err := d.try(EndSeries{Series: "s-1", Right: s.Correct, Of: s.N}); err != nil || len(events) != 1 {
		t.Errorf("where it stands does not end it: %v", err)
	}
}
