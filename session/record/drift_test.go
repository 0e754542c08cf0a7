package record

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// year is an invented panel of twelve in 60 sessions of two triangles of d′ 2 each.
// Judge 1 guesses from session 31 on, and judge 3 answers as judge 2 does.
func year(t *testing.T, seed uint64) *Book { return yearFrom(t, seed, 30) }

// yearFrom is a year in which judge 1 guesses from another session on.
func yearFrom(t *testing.T, seed uint64, from int) *Book {
	t.Helper()
	l := newLab(t, 12)
	rng := rand.New(rand.NewPCG(11, seed))
	var all []session.JudgedSession
	at := l.now
	ties := make([][]session.SeatRef, 12)
	for n := range 60 {
		at = at.Add(6 * 24 * time.Hour)
		s := newSession(session.ID(fmt.Sprintf("s-%02d", n)), at, session.JudgedTest{Method: "triangle"})
		var copied [2]bool
		for seat := 1; seat <= 12; seat++ {
			for set := range 2 {
				pc := stats.Triangle.PC(2)
				if seat == 1 && n >= from {
					pc = stats.Triangle.Chance()
				}
				right := rng.Float64() < pc
				switch seat {
				case 2:
					copied[set] = right
				case 3:
					right = copied[set]
				}
				s.set(seat, 0, set+1, right)
			}
			ties[seat-1] = append(ties[seat-1], session.SeatRef{Session: s.Session, Seat: seat})
		}
		all = append(all, s.JudgedSession)
	}
	for i, seats := range ties {
		l.do(session.TieSeats{Person: person(i + 1), Seats: seats})
	}
	return Open(l.lab(), all, at)
}

// A judge who drifts is found, and steady ones have a false signal about as often as
// each chart says: over the panels of seeds 1 to 8, none left out.
func TestDrift(t *testing.T) {
	const panels = 8
	found, signals, steady, stated := 0, 0, 0, 0.0
	for seed := range uint64(panels) {
		b := year(t, seed+1)
		drifting := judgeOf(t, b, 1).Drift
		if drifting == nil || len(drifting.At) != len(drifting.Chart.Points) || len(drifting.Session) != len(drifting.At) {
			t.Fatalf("%+v", drifting)
		}
		if i := drifting.Chart.FirstSignal; i >= 30 && strings.Contains(drifting.Say, day(drifting.At[i])) && strings.Contains(drifting.Say, "no verdict") {
			found++
		}
		for n := 2; n <= 12; n++ {
			if n == 3 { // answers as judge 2 does
				continue
			}
			d := judgeOf(t, b, n).Drift
			steady++
			stated += d.Chart.FalseAlarm
			if d.Chart.FirstSignal >= 0 {
				signals++
			} else if !strings.Contains(d.Say, "does not show that there is none") {
				t.Errorf("%q", d.Say)
			}
			if math.Abs(d.Run.InControl/DriftRun-1) > 0.1 || d.Run.Drifted > 100 {
				t.Errorf("seed %d, judge %d: %+v", seed+1, n, d.Run)
			}
		}
	}
	rate := stated / float64(steady)
	t.Logf("%d of %d drifting judges found; %d of %d steady ones with a signal, stated %.3f", found, panels, signals, steady, rate)
	// A simulation of 150 panels finds 0.98 of such drifts; exact binomial limits, 1e-4.
	if stats.LowerTail(panels, found, 0.98) < 1e-4 {
		t.Errorf("%d of %d drifting judges are found", found, panels)
	}
	if stats.UpperTail(steady, signals, rate) < 1e-4 {
		t.Errorf("%d of %d steady judges have a signal, stated %v", signals, steady, rate)
	}
}

func TestAgreementOfAYear(t *testing.T) {
	b := year(t, 1)
	b.Panel()
	// The stated run length is that of the judge's own trials, each as it is.
	f := b.fitted
	n := f.number["p-5"]
	drifted := f.fit.Expected(n, DriftAbility)
	var each []stats.DriftMix
	for i, trial := range f.fit.Trials(n) {
		one := stats.DriftTrial{InControl: trial.Typical, Drifted: drifted[i]}
		each = append(each, stats.DriftMix{DriftTrial: one, Share: 1 / float64(len(drifted))})
	}
	run := judgeOf(t, b, 5).Drift.Run
	if want := stats.DriftRunLength(each, run.Limit); run != want {
		t.Errorf("run length %+v, want %+v", run, want)
	}

	p := b.Panel()
	a := p.Agreement
	if a.Pairs != 66 || len(a.Beyond) != 1 || a.Beyond[0].First != "p-2" || a.Beyond[0].Second != "p-3" || a.Beyond[0].Agreed != a.Beyond[0].Sets || a.Beyond[0].SecondAs != "J 03" {
		t.Errorf("%+v", a)
	}
	if j := p.Judges[0]; j.Counted().Sets < 100 || !j.Enough {
		t.Errorf("%+v", j)
	}
	if p.Headline != "Twelve have enough sets to read." {
		t.Errorf("%q", p.Headline)
	}
	counting := p.Tally[0]
	if counting.Why != "" || counting.Tests+len(p.Tests) < 60 || !p.Tests[0].At.After(p.Tests[len(p.Tests)-1].At) {
		t.Errorf("%+v of %d", p.Tally, len(p.Tests))
	}
	for _, r := range p.Tests {
		if r.Tasters != 12 || r.Count.Sets != 24 || r.Say == "" || r.Counts != (r.Why == "") {
			t.Errorf("%+v", r)
		}
	}
}

// Who fell is told of a fall, and who guessed all along is not; both read of all their
// signals, and of what became of the record since.
func TestDriftWords(t *testing.T) {
	for _, c := range []struct {
		from int
		fell bool
	}{{30, true}, {0, false}} {
		b := yearFrom(t, 1, c.from)
		drifting := b.Drifting().Judges
		i := slices.IndexFunc(drifting, func(d Drifting) bool { return d.Person == "p-1" })
		j := judgeOf(t, b, 1)
		// All tests are of two sets, so the last 20 hold the last 40.
		recent := slices.DeleteFunc(slices.Clone(j.Drift.Signals), func(i int) bool { return i < len(j.Drift.At)-DriftRecent/2 })
		if i < 0 || len(j.Drift.Signals) < 2 || !slices.Equal(recent, j.Drift.Recent) || len(recent) == 0 || drifting[i].Signals != len(recent) {
			t.Fatalf("from session %d: %+v, %+v", c.from, drifting, j.Drift.Signals)
		}
		lists := []string{"ignal on " + day(j.Drift.At[recent[0]]), "Since the signal "}
		if n := len(recent); n > 1 {
			lists = []string{fmt.Sprintf("%d signals, the first on %s", n, day(j.Drift.At[recent[0]])), "Since the first of them "}
		}
		switch older := len(j.Drift.Signals) - len(recent); {
		case older == 1:
			lists = append(lists, "has an older one too")
		case older > 1:
			lists = append(lists, " older ones too")
		}
		for _, want := range lists {
			if !strings.Contains(drifting[i].Say, want) {
				t.Errorf("from session %d: %q is missing in %q", c.from, want, drifting[i].Say)
			}
		}
		last := j.Drift.At[j.Drift.Signals[len(j.Drift.Signals)-1]]
		own := strings.Join(j.Own(), "\n")
		for _, say := range []string{j.Drift.Say, own} {
			for _, want := range []string{fmt.Sprintf("%d signals, the first on ", len(j.Drift.Signals)), "the last on " + day(last), "Since the first signal "} {
				if !strings.Contains(say, want) {
					t.Errorf("from session %d: %q is missing in %q", c.from, want, say)
				}
			}
		}
		if drifting[i].Pseudonym != "J 01" || !drifting[i].Last.Equal(last) || !strings.Contains(j.Drift.Say, "no recovery") || !strings.Contains(own, "begins anew after each signal") {
			t.Errorf("%+v, %q", drifting[i], j.Drift.Say)
		}
		if strings.Contains(own, "Over time you were right less often") != c.fell || (j.Drift.FallPValue <= Level) != c.fell {
			t.Errorf("from session %d: p = %v for a fall, and the own page says\n%s", c.from, j.Drift.FallPValue, own)
		}
		// The sum of what stands in the points after the first signal.
		since := Count{}
		for _, p := range j.Drift.Chart.Points[j.Drift.Signals[0]+1:] {
			since.Sets, since.Right = since.Sets+p.N, since.Right+p.Correct
		}
		if since != j.Drift.Since || j.Drift.SinceExpected < 1.3*float64(since.Right) {
			t.Errorf("%+v, expected %v, want %+v", j.Drift.Since, j.Drift.SinceExpected, since)
		}
	}
}

// Of typical judges who never drift about as many stand on the panel's page as it says
// would by luck, however long their charts are: over panels of fixed seeds, within what a
// binomial count of so many varies by. The controls' sizes are agreed, so the charts'
// distributions are the true ones but for the panel's spread, which is found.
func TestDriftSignalsByLuck(t *testing.T) {
	const panels, judges, tests = 5, 40, 140
	listed, ever, byLuck, most := 0, 0, 0.0, 0.0
	for seed := range uint64(panels) {
		l := newLab(t, judges)
		rng := rand.New(rand.NewPCG(41, seed))
		var all []session.JudgedSession
		at := l.now
		ties := make([][]session.SeatRef, judges)
		for n := range tests {
			at = at.Add(6 * 24 * time.Hour)
			s := newSession(session.ID(fmt.Sprintf("s-%03d", n)), at, session.JudgedTest{Method: "triangle", Kind: session.KindControl})
			s.Control = &session.Control{Words: "thin", DPrime: 2}
			for seat := range judges {
				s.set(seat+1, 0, 1, rng.Float64() < stats.Triangle.PC(2))
				ties[seat] = append(ties[seat], session.SeatRef{Session: s.Session, Seat: seat + 1})
			}
			all = append(all, s.JudgedSession)
		}
		for i, seats := range ties {
			l.do(session.TieSeats{Person: person(i + 1), Seats: seats})
		}
		b := Open(l.lab(), all, at)
		signals := b.Drifting()
		if signals.Charts != judges || !strings.HasPrefix(signals.Say, fmt.Sprintf("Of %d judges with a chart about %s would stand here by luck", judges, roughly(signals.ByLuck))) ||
			strings.Contains(signals.Say, "told by the others") {
			t.Fatalf("%+v", signals)
		}
		listed += len(signals.Judges)
		byLuck += signals.ByLuck
		for n := range judges {
			if d := judgeOf(t, b, n+1).Drift; len(d.Signals) > 0 {
				ever++
			}
		}
		most = max(most, signals.ByLuck/judges)
		// A day's rest takes a judge off the list and out of its number.
		if seed == 0 {
			l.do(session.ChangePerson{Person: "p-1", Facts: session.PersonFacts{Status: session.StatusResting}})
			if rested := Open(l.lab(), all, at).Drifting(); rested.Charts != judges-1 || rested.ByLuck >= signals.ByLuck {
				t.Errorf("with one at rest %+v", rested)
			}
		}
	}
	expected := byLuck / (panels * judges)
	t.Logf("%d of %d listed, %.1f stated, %d with a signal ever", listed, panels*judges, byLuck, ever)
	if stats.UpperTail(panels*judges, listed, expected) < 1e-3 || stats.LowerTail(panels*judges, listed, expected) < 1e-3 {
		t.Errorf("%d of %d typical judges are listed, stated %.1f", listed, panels*judges, byLuck)
	}
	// The mean of 500 tests to a false signal, about: 1 in 13 for 40 sets.
	if most > 0.1 || expected < 0.05 || ever < 2*listed {
		t.Errorf("by luck %v to %v; %d listed of %d with any signal", expected, most, listed, ever)
	}
}

// R 4.2.2: prop.trend.test(c(5, 4, 3, 1), rep(6, 4)) has χ² 5.6727273, one-sided p
// 0.0086153, about a share right of 13/24.
func TestFallPValue(t *testing.T) {
	n, p := 6, 13.0/24
	var own [][]float64
	for range 4 {
		counts := make([]float64, n+1)
		for x := range counts {
			counts[x] = stats.PMF(n, x, p)
		}
		own = append(own, counts)
	}
	down, up := fallPValue([]int{5, 4, 3, 1}, own), fallPValue([]int{1, 3, 4, 5}, own)
	if math.Abs(down-0.008615324) > 1e-6 || math.Abs(down+up-1) > 1e-9 {
		t.Errorf("%v falling, %v rising", down, up)
	}
	if level := fallPValue([]int{3, 3, 3, 3}, own); math.Abs(level-0.5) > 1e-9 {
		t.Errorf("%v level", level)
	}
}
