package record

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// The published sequential test is followed trial by trial as a judge's series:
// GOST ISO 16820-2015, example 2, as in the reference file.
func TestPublishedSeries(t *testing.T) {
	f, err := os.Open("../../testdata/reference/h4_sprt_published.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	number := func(s string) float64 {
		if s == "1/2" {
			return 0.5
		}
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, row := range rows[1:] {
		l := newLab(t, 1)
		l.do(session.BeginSeries{Person: "p-1", Terms: session.SeriesTerms{
			Method: session.DuoTrio.Key, Kind: session.KindRoutine, P0: number(row[1]), P1: number(row[2]), Alpha: number(row[3]), Beta: number(row[4]),
		}})
		trials := strings.Fields(row[5])
		answers, _ := strconv.Atoi(row[7])
		if len(trials) != answers {
			t.Fatalf("%s: %d trials of %d", row[0], len(trials), answers)
		}
		s := newSession("s-1", l.now.Add(2*time.Hour), session.JudgedTest{Method: session.DuoTrio.Key})
		l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "s-1", Seat: 1}}})
		before := 0
		for n, trial := range trials {
			cumulative, _ := strconv.Atoi(trial)
			s.set(1, 0, n+1, cumulative > before)
			before = cumulative
			due := Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now).SeriesDue()
			ends := n+1 == answers && row[6] != "continue"
			if (len(due) == 1) != ends {
				t.Fatalf("%s after %d: %+v", row[0], n+1, due)
			}
			if ends && (due[0].Of != answers || due[0].Right != cumulative || (due[0].Outcome == session.SeriesUpper) != (row[6] == "different")) {
				t.Errorf("%s: %+v", row[0], due[0])
			}
		}
		all := []session.JudgedSession{s.JudgedSession}
		want := map[string]stats.Qualification{"similar": stats.BelowMark, "continue": stats.NotYet, "different": stats.Qualified}[row[6]]
		j := judgeOf(t, Open(l.lab(), all, l.now), 1)
		if c := j.Series; len(c) != 1 || c[0].Chart.Standing != want || len(c[0].Chart.Points) != answers || len(c[0].At) != answers {
			t.Fatalf("%s: %+v", row[0], c)
		}
		// Sets after the end change nothing, and the journal takes the end.
		if row[6] == "continue" {
			continue
		}
		for n := range 20 {
			s.set(1, 0, answers+1+n, row[6] == "similar")
		}
		all = []session.JudgedSession{s.JudgedSession}
		due := Open(l.lab(), all, l.now).SeriesDue()
		if len(due) != 1 || due[0].Of != answers {
			t.Fatalf("%s: %+v", row[0], due)
		}
		l.now = l.now.Add(24 * time.Hour)
		l.do(due[0].Act())
		b := Open(l.lab(), all, l.now)
		if c := judgeOf(t, b, 1).Series[0]; len(b.SeriesDue()) != 0 || c.Changed || c.Due != nil || c.Of != answers || len(c.Chart.Points) != answers {
			t.Errorf("%s: %+v", row[0], c)
		}
		// A set taken out afterwards is seen.
		s.Sets = s.Sets[1:]
		if c := judgeOf(t, Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now), 1).Series[0]; !c.Changed || !strings.Contains(c.Say, "now give") {
			t.Errorf("%s: %+v", row[0], c)
		}
	}
}

// A given-up series keeps its sets, and all that were begun are counted. Erased
// people's are not ended.
func TestSeriesGivenUpAndErased(t *testing.T) {
	l := newLab(t, 2)
	terms := session.SeriesTerms{Method: "triangle", Kind: session.KindRoutine, P0: 1.0 / 3, P1: 0.6, Alpha: 0.1, Beta: 0.1}
	l.do(session.BeginSeries{Person: "p-1", Terms: terms})
	s := newSession("s-1", l.now.Add(time.Hour), session.JudgedTest{Method: "triangle"})
	s.set(1, 0, 1, true).set(1, 0, 2, true)
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "s-1", Seat: 1}}})
	l.now = l.now.Add(24 * time.Hour)
	l.do(session.EndSeries{Series: "s-1", Reason: l.text("moved to another town")}, session.BeginSeries{Person: "p-1", Terms: terms})
	later := newSession("s-2", l.now.Add(2*time.Hour), session.JudgedTest{Method: "triangle"})
	for n := range 30 {
		later.set(1, 0, n+1, false)
	}
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "s-2", Seat: 1}}})
	all := []session.JudgedSession{later.JudgedSession, s.JudgedSession}
	j := judgeOf(t, Open(l.lab(), all, l.now), 1)
	if j.SeriesBegun != 2 || len(j.Series[0].Chart.Points) != 2 || !strings.Contains(j.SeriesSay, "Two series were begun, of which one given up") {
		t.Errorf("%q, %+v", j.SeriesSay, j.Series)
	}
	if j.Series[1].Due == nil || j.Series[1].Due.Outcome != session.SeriesLower || j.Series[1].Number != 2 {
		t.Errorf("%+v", j.Series[1])
	}
	l.do(session.ErasePerson{Person: "p-1"})
	if due := Open(l.lab(), all, l.now).SeriesDue(); due != nil {
		t.Errorf("%+v", due)
	}
}

// Blocks of a mark follow each other, the first that reached it decides or else the
// newest whole one, and a decision begins anew.
func TestEvaluateMark(t *testing.T) {
	l := newLab(t, 2)
	rule := session.Rule{Name: "Dilution", Method: "triangle", Kind: session.KindControl, Label: "brew diluted to 90 %", Trials: 6, Mark: 5, ValidMonths: 12}
	l.do(session.SetRule{Rule: rule})
	s := newSession("s-1", l.now, session.JudgedTest{Method: "triangle", Kind: session.KindControl})
	s.Control = &session.Control{Words: "Brew diluted to 90 %"}
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "s-1", Seat: 1}}})
	add := func(rights string) {
		for _, r := range rights {
			s.set(1, 0, len(s.Sets)+1, r == '1')
		}
	}
	evaluate := func() Basis {
		return Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now).Evaluate("p-1", rule)
	}
	if b := evaluate(); b.Reached || b.Whole || b.Of != 0 || b.Attempt != 0 || b.ByLuck != 0 || !strings.HasPrefix(b.Say, "No set yet") {
		t.Errorf("%+v", b)
	}
	add("11111")
	// Five right of five is no block of six.
	if b := evaluate(); b.Reached || b.Whole || b.Right != 5 || b.Of != 5 || !strings.Contains(b.Say, "1 more to a whole block") {
		t.Errorf("%+v", b)
	}
	add("0" + "110000" + "111") // the last six are 000111
	b := evaluate()
	// What block 1 reached is not lost to block 2, nor to block 3, which reaches more.
	if !b.Reached || !b.Whole || b.Right != 5 || b.Of != 6 || b.Attempt != 1 || len(b.Attempts) != 2 || b.Begun != (Count{3, 3}) ||
		!strings.Contains(b.Say, "5 of 6 reached by block 1 of 2: 5 and 2 right.") || !strings.Contains(b.Say, "Of block 3 so far 3 right of 3.") {
		t.Errorf("%+v", b)
	}
	add("111")
	b = evaluate()
	if !b.Reached || b.Attempt != 1 || b.Right != 5 || !strings.Contains(b.Say, "reached by blocks 1 and 3 of 3: 5, 2 and 6 right. Guessing alone reaches it within 3 blocks in 5 of 100") {
		t.Errorf("%+v", b)
	}
	// 5 of 6 by luck is 13/729: Σ C(6,k) 2^(6-k) / 3^6 for k = 5, 6.
	luck := 13.0 / 729
	if want := 1 - math.Pow(1-luck, 3); math.Abs(b.ByLuck-want) > 1e-12 {
		t.Errorf("by luck %v, want %v", b.ByLuck, want)
	}
	add("01") // of block 4, which the decision does not rest on
	b = evaluate()
	counts := b.Counts()
	if counts.Attempt != 1 || counts.Attempts != 3 || !counts.Last.Equal(s.Sets[17].At) {
		t.Errorf("%+v", counts)
	}
	l.now = l.now.Add(24 * time.Hour)
	l.do(b.Act())
	if q := l.lab().Qualifications; len(q) != 1 || !q[0].Held || q[0].Right != 5 || q[0].Of != 6 {
		t.Fatalf("%+v", q)
	}
	if b := evaluate(); b.Of != 2 || b.Right != 1 || b.Whole || !strings.Contains(b.Say, "4 more to a whole block after the sets of the decision of 7 January 2031.") {
		t.Errorf("%+v", b)
	}
	// Another's record, and one that is not on the register.
	if b := Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now).Evaluate("p-2", rule); b.Of != 0 {
		t.Errorf("%+v", b)
	}
	if b := Open(l.lab(), nil, l.now).Evaluate("p-9", rule); b.Reached || b.Say == "" {
		t.Errorf("%+v", b)
	}
	j, _ := Open(l.lab(), nil, l.now).Judge("p-1")
	if len(j.Qualifications) != 1 || !j.Qualifications[0].Holds || j.Qualifications[0].RunsOut || !j.Qualifications[0].Latest {
		t.Errorf("%+v", j.Qualifications)
	}
	j, _ = Open(l.lab(), nil, l.now).At(l.now.AddDate(0, 11, 0)).Judge("p-1")
	if !j.Qualifications[0].RunsOut {
		t.Errorf("%+v", j.Qualifications)
	}
	j, _ = Open(l.lab(), nil, l.now.AddDate(2, 0, 0)).Judge("p-1")
	if j.Qualifications[0].Holds || !strings.Contains(j.Qualifications[0].Say, "ran out") {
		t.Errorf("%+v", j.Qualifications)
	}
}

func TestEvaluateLines(t *testing.T) {
	l := newLab(t, 1)
	rule := session.Rule{Name: "Lines", Method: "triangle", Kind: session.KindRoutine, Lines: &session.RuleLines{P0: 1.0 / 3, P1: 0.6, Alpha: 0.1, Beta: 0.1}}
	l.do(session.SetRule{Rule: rule})
	s := newSession("s-1", l.now, session.JudgedTest{Method: "triangle"})
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "s-1", Seat: 1}}})
	evaluate := func() Basis {
		return Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now).Evaluate("p-1", rule)
	}
	add := func(n int, right bool) {
		for range n {
			s.set(1, 0, len(s.Sets)+1, right)
		}
	}
	// Lines at 0.46497 n ± 2, as in testdata/reference/h_sprt_lines.csv (by mpmath): four
	// right in a row lie at 4 ≥ 3.86, three at 3 < 3.395; five wrong in a row at 0 ≤ 0.325.
	add(3, true)
	if b := evaluate(); b.Whole || b.Right != 3 || b.Attempt != 0 || !strings.Contains(b.Say, "between the lines") {
		t.Errorf("%+v", b)
	}
	add(1, true)
	if b := evaluate(); !b.Reached || b.Right != 4 || b.Of != 4 || b.Attempt != 1 {
		t.Errorf("%+v", b)
	}
	add(4, false) // the next path, undecided: the one before stands
	if b := evaluate(); !b.Reached || b.Of != 4 {
		t.Errorf("%+v", b)
	}
	add(1, false)
	b := evaluate()
	if !b.Reached || b.Right != 4 || b.Of != 4 || b.Attempt != 1 || len(b.Attempts) != 2 ||
		!strings.Contains(b.Say, "the upper line reached by path 1 of 2: 4 of 4 (upper) and 0 of 5 (lower).") {
		t.Errorf("%+v", b)
	}
	l.now = l.now.Add(24 * time.Hour)
	deny := b.Act()
	deny.Held, deny.Against = false, true
	l.do(deny)
	if b := evaluate(); b.Of != 0 || b.Denied != 1 {
		t.Errorf("%+v", b)
	}
	add(3, true) // answered before the decision, after all that it rests on: none is left out
	if b := evaluate(); b.Of != 3 || b.Right != 3 || b.Whole {
		t.Errorf("%+v", b)
	}
	s.set(1, 0, len(s.Sets)+1, true)
	s.Sets[len(s.Sets)-1].At = l.now.Add(time.Hour)
	if b := evaluate(); !b.Reached || b.Attempt != 1 || b.Denied != 1 || !strings.Contains(b.Say, "decided once before that it does not hold") {
		t.Errorf("%+v", b)
	}
	if q := l.lab().Qualifications; len(q) != 1 || q[0].Held {
		t.Errorf("%s", fmt.Sprint(q))
	}
}

// Who qualifies does not depend on when the host looks: blocks 8, 6, 4 of 12 reach a mark
// of 8 as blocks 6, 6, 8 do, and both say which block and of how many, wherever it is told.
func TestBlocksThatReached(t *testing.T) {
	l := newLab(t, 4)
	rule := session.Rule{Name: "Dilution", Method: "triangle", Kind: session.KindRoutine, Trials: 12, Mark: 8, ValidMonths: 12}
	l.do(session.SetRule{Rule: rule})
	s := newSession("s-1", l.now, session.JudgedTest{Method: "triangle"})
	for seat, blocks := range [][]int{{8, 6, 4}, {6, 6, 8}, {6, 5, 4}, {3, 8, 2, 9, 1, 1, 1, 1, 8}} {
		set := 0
		for _, right := range blocks {
			for n := range 12 {
				set++
				s.set(seat+1, 0, set, n < right)
			}
		}
		l.do(session.TieSeats{Person: person(seat + 1), Seats: []session.SeatRef{{Session: "s-1", Seat: seat + 1}}})
	}
	l.now = l.now.Add(24 * time.Hour)
	all := []session.JudgedSession{s.JudgedSession}
	b := Open(l.lab(), all, l.now)
	// 8 of 12 by guessing: 0.0187584 (R 4.2.2: pbinom(7, 12, 1/3, lower.tail = FALSE)); within
	// three blocks 0.0552, within nine 0.1567.
	for n, want := range []struct {
		reached   bool
		right     int
		say, near string
	}{
		{true, 8, "8 of 12 reached by block 1 of 3: 8, 6 and 4 right. Guessing alone reaches it within 3 blocks in 6 of 100 cases.", "block 1 of 3 did, and guessing alone reaches it within so many in 6 of 100 cases"},
		{true, 8, "8 of 12 reached by block 3 of 3: 6, 6 and 8 right. Guessing alone reaches it within 3 blocks in 6 of 100 cases.", "block 3 of 3 did"},
		{false, 4, "8 of 12 not reached by any of 3 blocks: 6, 5 and 4 right.", ""},
		{true, 8, "8 of 12 reached by blocks 2, 4 and 9 of 9. Guessing alone reaches it within 9 blocks in 16 of 100 cases.", "blocks 2, 4 and 9 of 9 did"},
	} {
		e := b.Evaluate(person(n+1), rule)
		if e.Reached != want.reached || e.Right != want.right || !strings.Contains(e.Say, want.say) {
			t.Errorf("judge %d: %+v", n+1, e)
		}
		j := judgeOf(t, b, n+1)
		if len(j.Shown) != 1 || j.Shown[0].Say != e.Say {
			t.Errorf("judge %d: %+v", n+1, j.Shown)
		}
		if own := strings.Join(j.Own(), "\n"); !strings.Contains(own, "By the rule “Dilution” your record has this, on which nobody has decided yet. ") || !strings.Contains(own, want.say) {
			t.Errorf("judge %d: %s", n+1, own)
		}
		if words := strings.Join(b.Ready()[0].Words(), "\n"); want.near != "" && !strings.Contains(words, fmt.Sprintf("J %02d shows what it wants: 8 right of 12 reach it, to be decided; %s", n+1, want.near)) {
			t.Errorf("judge %d: %s", n+1, words)
		}
	}
	// A decision on one of them is a decision on all: none counts again, whatever it said.
	for n := range 4 {
		act := b.Evaluate(person(n+1), rule).Act()
		act.Basis = "the blocks so far"
		act.At = l.now.Add(-24 * time.Hour)
		l.do(act)
		if e := Open(l.lab(), all, l.now).Evaluate(person(n+1), rule); e.Of != 0 || !strings.Contains(e.Say, "after the sets of the decision of 6 January 2031") {
			t.Errorf("judge %d: %+v", n+1, e)
		}
	}
	// By the day before the sets it is refused, so they can't count a second time.
	act := b.Evaluate("p-1", rule).Act()
	act.Basis, act.At = "the blocks so far", l.now.Add(-48*time.Hour)
	if err := l.try(act); !errors.Is(err, session.ErrWords) || !strings.Contains(err.Error(), "a decision comes after its sets") {
		t.Errorf("%v", err)
	}
}
