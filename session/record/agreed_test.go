package record

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/stats"
)

// controlPapers are two days of 30 triangles of a control for every judge, with so
// many right on each.
func (l *invented) controlPapers(agreed string, right ...int) {
	l.t.Helper()
	var rows []string
	for i, r := range right {
		for day := 2; day <= 3; day++ {
			rows = append(rows, fmt.Sprintf("J %02d,2031-01-%02d,triangle,control,brew diluted to 90 %%,%s,30,%d,binder 2", i+1, day, agreed, r))
		}
	}
	l.papers(rows...)
}

// Half of the triangles are right at d′ 1.47 (by the psychometric function, as
// testdata/reference/f_psychometric.csv): an agreed 3 can't be, nor 0.8, and then a
// standing is told with the doubt beside it.
func TestAgreedSizeInDoubt(t *testing.T) {
	for _, c := range []struct {
		agreed   string
		right    []int
		doubtful bool
		standing stats.Standing // of judge 1
	}{
		{"1.5", []int{15, 16, 14, 15, 17, 13, 15, 15}, false, stats.StandingTypical},
		{"1.7", []int{15, 16, 14, 15, 17, 13, 15, 15}, false, stats.StandingTypical},
		{"3", []int{15, 16, 14, 15, 17, 13, 15, 15}, true, stats.StandingWeak},
		{"0.8", []int{15, 16, 14, 15, 17, 13, 15, 15}, true, stats.StandingTypical},
		{"1.5", []int{5, 16, 14, 15, 17, 13, 16, 17}, false, stats.StandingWeak}, // one judge does not make the size doubtful
	} {
		l := newLab(t, len(c.right))
		l.controlPapers(c.agreed, c.right...)
		b := l.book()
		p := b.Panel()
		if len(p.Agreed) != 1 || p.Agreed[0].Doubtful != c.doubtful || p.Agreed[0].Judges != 8 || p.Agreed[0].Seats != 0 || p.Agreed[0].Pooled.N != 480 {
			t.Errorf("agreed %s, right %v: %+v", c.agreed, c.right, p.Agreed)
			continue
		}
		j := judgeOf(t, b, 1)
		if j.Standing != c.standing || (j.Doubt != "") != c.doubtful {
			t.Errorf("agreed %s, right %v: %s, doubt %q", c.agreed, c.right, j.Standing, j.Doubt)
		}
		own := strings.Join(j.Own(), "\n")
		if strings.Contains(own, "Either the agreed size") != c.doubtful {
			t.Errorf("agreed %s: own page\n%s", c.agreed, own)
		}
	}
	l := newLab(t, 1)
	l.controlPapers("3", 10)
	if a := l.book().Panel().Agreed; len(a) != 1 || a[0].Doubtful || !strings.Contains(a[0].Say, "one judge alone") {
		t.Errorf("one judge says nothing of the size: %+v", a)
	}
}

// Who is called weak reads how many guessing alone gives, how rare that is by luck,
// and what it does not say.
func TestOwnOfAWeakJudge(t *testing.T) {
	l := newLab(t, 8)
	l.controlPapers("1.5", 5, 16, 14, 15, 17, 13, 16, 17)
	j := judgeOf(t, l.book(), 1)
	if j.Standing != stats.StandingWeak || j.ByGuessing != 20 {
		t.Fatalf("%+v", j.Row)
	}
	own := strings.Join(j.Own(), "\n")
	for _, want := range []string{
		"You were right in 10 of 60 sets that count. Guessing alone gives about 20, and a typical panellist is right in about 3",
		"more so than luck explains (adjusted p", "in at most 5 of 100 such panels", "It says nothing of why.", "No single test says how well anybody tastes.",
	} {
		if !strings.Contains(own, want) {
			t.Errorf("%q is missing in\n%s", want, own)
		}
	}
	if strings.Contains(own, "weak") {
		t.Errorf("the word of the panel's page stands on the judge's own:\n%s", own)
	}
	other := strings.Join(judgeOf(t, l.book(), 2).Own(), "\n")
	if !strings.Contains(other, "does not show that there is none") || strings.Contains(other, "It says nothing of why") {
		t.Errorf("%s", other)
	}
}

// With controls of one known size the raw estimate is the d′ of the bare share, as
// [stats.PoolDPrime] finds it (held against R in its package).
func TestRawIsTheBareShare(t *testing.T) {
	l := newLab(t, 4)
	l.controlPapers("1.5", 22, 11, 10, 15)
	b := l.book()
	for n, want := range map[int]float64{1: math.NaN(), 2: math.NaN(), 3: 0, 4: math.NaN()} {
		j := judgeOf(t, b, n)
		if math.IsNaN(want) {
			want = j.Controls[0].Pooled.DPrime
		}
		if math.Abs(j.Scale.Raw-want) > 0.002*want || want == 0 && j.Scale.Raw != 0 {
			t.Errorf("judge %d: raw %v, want %v", n, j.Scale.Raw, want)
		}
	}
}

// One habit looked for is a habit found at 0.04; of two or three it is not.
func TestHabitsAreAdjusted(t *testing.T) {
	habit := func(p float64) Habit {
		return Habit{Methods: []string{"triangle"}, Place: "the cup on the left", PlaceHabit: stats.PlaceHabit{N: 20, PValue: p}}
	}
	for _, c := range []struct {
		ps    []float64
		found bool // the first
	}{{[]float64{0.04}, true}, {[]float64{0.04, 0.6}, false}, {[]float64{0.02, 0.6}, true}, {[]float64{0.02, 0.6, 0.7}, false}} {
		var all []Habit
		for _, p := range c.ps {
			all = append(all, habit(p))
		}
		adjustHabits(all)
		if all[0].Found() != c.found || strings.Contains(all[0].Say, "picked more often") != c.found {
			t.Errorf("%v: %+v", c.ps, all[0])
		}
	}
}

// Who picked which lot's cup is told beside the others of the same tests, the judge
// left out.
func TestDirections(t *testing.T) {
	l := newLab(t, 3)
	s := newSession("d-1", l.now, session.JudgedTest{Method: "paired-comparison", Attribute: "body"}, session.JudgedTest{Method: "triangle"})
	for seat := 1; seat <= 3; seat++ {
		for set := 1; set <= 3; set++ {
			s.set(seat, 0, set, seat == 1 && set < 3 || seat == 2 && set == 1)
		}
		s.set(seat, 1, 4, true)
	}
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "d-1", Seat: 1}}})
	d := judgeOf(t, Open(l.lab(), []session.JudgedSession{s.JudgedSession}, l.now), 1).Directions
	if len(d) != 1 || d[0].Processed != 2 || d[0].Sets != 3 || d[0].OthersProcessed != 1 || d[0].OthersSets != 6 || !strings.Contains(d[0].Say, "no merit") {
		t.Errorf("%+v", d)
	}
}

// In control sets each share is drawn towards the others', as [stats.ShrinkShares] has
// it (held against R in its package), whatever the order of the register.
func TestControlSharesAreDrawn(t *testing.T) {
	l := newLab(t, 5)
	right := []int{5, 16, 24, 29, 20}
	l.controlPapers("1.5", right...)
	var both []stats.Replicates
	for _, r := range right {
		both = append(both, stats.Replicates{N: 60, Correct: 2 * r})
	}
	want := stats.ShrinkShares(both, 1.0/3, Confidence)
	b := l.book()
	for i := range right {
		g := judgeOf(t, b, i+1).Groups[0]
		if g.Drawn != want[i] || g.Drawn.PC == g.Count.Share() || !strings.Contains(g.Say, "Drawn towards the others in such sets: ") {
			t.Errorf("judge %d: %+v, want %+v", i+1, g, want[i])
		}
	}
	l = newLab(t, 2)
	l.controlPapers("1.5", 12, 20)
	if g := judgeOf(t, l.book(), 1).Groups[0]; g.Drawn.N != 0 || strings.Contains(g.Say, "Drawn") {
		t.Errorf("two judges: %+v", g)
	}
}
