package record

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// year is an invented panel of twelve in 60 sessions of two triangles of d′ 2 each.
// Judge 1 guesses from session 31 on, and judge 3 answers as judge 2 does.
func year(t *testing.T, seed uint64) *Book {
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
				if seat == 1 && n >= 30 {
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
