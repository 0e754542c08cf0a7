package record

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// A judge who is always right, alone, in lots that nobody can tell apart makes no
// test count for himself, and one who is always wrong makes none not count: through
// whole sessions, what is said of a test to a judge stays the same when that judge's
// answers turn over. The others see the change.
func TestNobodyMakesATestCountForHimself(t *testing.T) {
	var books [2]*Book
	for i, perfect := range []bool{true, false} {
		l := newLab(t, 6)
		for n := range 16 {
			size := 0.0
			if n%4 == 1 {
				size = 2.5
			}
			others := l.perceives(session.Triangle, size)
			l.play(planOf(6, testOf(session.Triangle, 4)), true, false, func(seat, test, set int) bool {
				luck := others(seat, test, set) // drawn for all, so that both laboratories are alike
				return seat == 1 && perfect || seat != 1 && luck
			})
		}
		books[i] = l.book()
	}
	right, wrong := judgeOf(t, books[0], 1), judgeOf(t, books[1], 1)
	if len(right.Tests) != 16 {
		t.Fatalf("%d tests", len(right.Tests))
	}
	// The one thing that a judge shares in is the spread of abilities over the panel;
	// with that given, sizes are the same.
	given := [2]*stats.Difficulty{stats.FitDifficulty(books[0].fitted.tests, 0.3), stats.FitDifficulty(books[1].fitted.tests, 0.3)}
	for k, e := range books[0].tests {
		own := slices.Index(e.who, taster{person: "p-1"})
		a, b := given[0].LeftOut(k, own), given[1].LeftOut(k, own)
		if math.Abs(a.Mean-b.Mean) > 1e-9 || math.Abs(a.PC-b.PC) > 1e-9 || a.Counting != b.Counting {
			t.Errorf("test %d: %+v where right, %+v where wrong", k, a, b)
		}
		if all := given[0].All(k).Mean - given[1].All(k).Mean; all < 0.1 {
			t.Errorf("test %d: the judge's answers move its size by %v: the case proves nothing", k, all)
		}
	}
	counting, changed := 0, 0
	for k, a := range right.Tests {
		b := wrong.Tests[k]
		if a.Count.Right != 4 || b.Count.Right != 0 {
			t.Fatalf("test %d: %+v and %+v", k, a.Count, b.Count)
		}
		if a.Counts != b.Counts || a.Why != b.Why {
			t.Errorf("test of %s: counts %v where right, and %v where wrong", day(a.At), a.Counts, b.Counts)
		}
		if a.Counts {
			counting++
		}
		if other, also := judgeOf(t, books[0], 2).Tests[k], judgeOf(t, books[1], 2).Tests[k]; other.Size > also.Size+0.1 {
			changed++
		}
	}
	if counting == 0 || counting == 16 {
		t.Errorf("%d of 16 tests count: the case proves nothing", counting)
	}
	if changed < 8 {
		t.Errorf("another judge's sizes follow the answers in %d of 16 tests only", changed)
	}
	for _, c := range right.LeftOut {
		if !strings.HasPrefix(c.Say, "Not counted: "+counted(c.Sets, "set")+", ") {
			t.Errorf("%q", c.Say)
		}
	}
	if got := right.Counted().Sets + right.NotCounted; got != 64 {
		t.Errorf("%d sets counted or named, of 64", got)
	}
}

func judgeOf(t *testing.T, b *Book, n int) Judge {
	t.Helper()
	j, ok := b.Judge(person(n))
	if !ok {
		t.Fatalf("no judge %d", n)
	}
	return j
}

func (l *invented) papers(rows ...string) {
	l.t.Helper()
	head := "person,date,method,kind,control,dprime,sets,right,source\n"
	records, faults := l.lab().ParsePaperRecords(strings.NewReader(head+strings.Join(rows, "\n")), l.now)
	if len(faults) > 0 {
		l.t.Fatal(faults)
	}
	l.do(session.ImportRecords{Records: records})
}

func TestFourOfFiveDoesNotOutrankFortyOfFiftyFive(t *testing.T) {
	l := newLab(t, 8)
	control := func(judge, sets, right int) string {
		return fmt.Sprintf("J %02d,2031-01-02,triangle,control,brew diluted to 90 %%,1.5,%d,%d,binder 2", judge, sets, right)
	}
	l.papers(control(1, 5, 4), control(2, 55, 40), control(3, 40, 20), control(4, 40, 14), control(5, 40, 22), control(6, 40, 26), control(7, 40, 17))
	b := l.book()
	p := b.Panel()
	four, forty := p.Judges[0], p.Judges[1]
	if four.Control != (Count{5, 4}) || forty.Control != (Count{55, 40}) || forty.Paper != (Count{55, 40}) {
		t.Fatalf("%+v, %+v", four, forty)
	}
	if four.Control.Share() <= forty.Control.Share() {
		t.Fatal("the raw shares prove nothing")
	}
	if order := p.ByEstimate(); order[0].Person != person(2) || four.DPrime >= forty.DPrime {
		t.Errorf("4 of 5 gives d′ %v, 40 of 55 %v", four.DPrime, forty.DPrime)
	}
	if four.DPrimeInterval.Upper-four.DPrimeInterval.Lower <= forty.DPrimeInterval.Upper-forty.DPrimeInterval.Lower {
		t.Errorf("the fewer sets have the narrower interval: %+v, %+v", four.DPrimeInterval, forty.DPrimeInterval)
	}
	if four.Enough || forty.Enough { // one test each
		t.Error("one test is enough to read")
	}
	j := judgeOf(t, b, 1)
	if s := j.Scale; !(s.Raw > s.DPrime && s.Raw > judgeOf(t, b, 2).Scale.Raw) {
		t.Errorf("raw %+v", s)
	}
	// The d′ of 4 of 5 right in triangles, by R 4.2.2: uniroot of 2 ∫ [Φ(-√3 z + √⅔ d) +
	// Φ(-√3 z - √⅔ d)] φ(z) dz = 0.8 with integrate.
	if c := j.Controls; len(c) != 1 || c[0].Known != 1.5 || math.Abs(c[0].Pooled.DPrime-3.128584981) > 1e-6 {
		t.Errorf("%+v", c)
	}
	// Of nobody known, the panel's own.
	if r := p.Judges[7]; r.Ability != 1 || r.Standing != stats.StandingUnknown || !(r.AbilityInterval.Lower < 1 && r.AbilityInterval.Upper > 1) {
		t.Errorf("%+v", r)
	}
	if d := judgeOf(t, b, 8); d.Headline != "No set counts in the record yet." || d.Drift != nil || d.Groups != nil {
		t.Errorf("%+v", d)
	}
}

// What is left out is counted, with its reason, and nothing is lost.
func TestLeftOut(t *testing.T) {
	l := newLab(t, 4)
	blank := testOf(session.Triangle, 2)
	blank.Blank = session.BlankProcessed
	pair := testOf(session.PairedComparison, 1)
	pair.TwoSided = true
	l.play(planOf(6, testOf(session.Triangle, 2), blank, pair), false, false, l.perceives(session.Triangle, 3))
	tie := func(id session.ID, seats ...int) {
		for _, n := range seats {
			l.do(session.TieSeats{Person: person(n), Seats: []session.SeatRef{{Session: id, Seat: n}}})
		}
	}
	tie(l.judged()[0].Session, 1, 2, 3, 4)
	before := l.book().Panel()
	demo := l.play(planOf(4, testOf(session.Triangle, 1)), true, true, func(int, int, int) bool { return true })
	practice := planOf(4, testOf(session.Triangle, 1))
	practice.Practice = true
	l.play(practice, true, false, func(int, int, int) bool { return true })
	l.papers("J 01,2031-01-02,triangle,routine,,,7,5,binder 2", "J 01,2031-01-02,triangle,blank,,,3,1,binder 2")
	b := l.book()
	p := b.Panel()
	want := map[Why]int{WhyDemo: 4, WhyUntied: 10, WhyBlank: 8 + 3, WhyTwoSided: 4, WhyPaper: 7}
	for _, left := range p.LeftOut {
		if left.Why == WhyTooHard || left.Why == WhyTooEasy {
			continue
		}
		if want[left.Why] != left.Sets || !strings.Contains(left.Say, fmt.Sprint(left.Sets)) {
			t.Errorf("%+v, want %d", left, want[left.Why])
		}
		delete(want, left.Why)
	}
	if len(want) > 0 {
		t.Errorf("not named: %v in %+v", want, p.LeftOut)
	}
	if len(p.Untied) != 1 || len(p.Untied[0].Seats) != 2 || p.Untied[0].Sets != 10 {
		t.Errorf("%+v", p.Untied)
	}
	for i, r := range p.Judges {
		if was := before.Judges[i]; r.Routine != was.Routine || r.Control != was.Control || math.Abs(r.Ability-was.Ability) > 1e-12 {
			t.Errorf("demonstration, practice or paper changed %+v to %+v", was, r)
		}
	}
	j := judgeOf(t, b, 1)
	if j.Blanks.Sets != 5 || len(j.Directions) != 1 || j.Directions[0].Sets != 1 || j.Directions[0].OthersSets != 5 {
		t.Errorf("%+v, %+v", j.Blanks, j.Directions)
	}
	if got := j.Counted().Sets + j.NotCounted; got != 2+1+2+7+3 {
		t.Errorf("%d sets counted or named", got)
	}
	listed := 0
	for _, x := range j.Tests {
		listed += x.Count.Sets
		if x.Counts == (x.Why != "") || x.Say == "" || x.Session == demo && x.Why != WhyDemo {
			t.Errorf("%+v", x)
		}
	}
	if listed != 16 {
		t.Errorf("%d sets in the list of tests, want 16", listed)
	}
}

// A seat of another laboratory counts once it is tied, and not before.
func TestReceivedSessions(t *testing.T) {
	l := newLab(t, 3)
	at := l.now
	s := newSession("r-1", at, session.JudgedTest{Method: session.Triangle.Key})
	s.Received, s.Laboratory = true, "Another (invented)"
	for seat := 1; seat <= 6; seat++ {
		s.set(seat, 0, 1, true)
	}
	all := []session.JudgedSession{s.JudgedSession}
	p := Open(l.lab(), all, at).Panel()
	if len(p.LeftOut) != 1 || p.LeftOut[0].Why != WhyReceived || p.LeftOut[0].Sets != 6 || len(p.Tests) != 0 || !p.Untied[0].Received {
		t.Errorf("%+v", p)
	}
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "r-1", Seat: 2}}})
	p = Open(l.lab(), all, at).Panel()
	if p.LeftOut[0].Sets != 5 || len(p.Tests) != 1 || p.Tests[0].Tasters != 6 || p.Judges[0].Routine.Sets+p.Judges[0].NotCounted != 1 {
		t.Errorf("%+v", p)
	}
}

func TestMergedPeopleAreOne(t *testing.T) {
	l := newLab(t, 5)
	for range 4 {
		l.play(planOf(5, testOf(session.Triangle, 1)), true, false, l.perceives(session.Triangle, 3))
	}
	two, five := judgeOf(t, l.book(), 2), judgeOf(t, l.book(), 5)
	l.do(session.MergePeople{From: "p-5", Into: "p-2", Together: true})
	b := l.book()
	p := b.Panel()
	if len(p.Judges) != 4 {
		t.Fatalf("%d judges", len(p.Judges))
	}
	j := judgeOf(t, b, 2)
	all := func(j Judge) (c Count) {
		for _, x := range j.Tests {
			c.Sets += x.Count.Sets
			c.Right += x.Count.Right
		}
		return c
	}
	if got := all(j); got.Sets != 8 || got.Right != all(two).Right+all(five).Right || len(j.Tests) != 4 {
		t.Errorf("%+v of %d tests", got, len(j.Tests))
	}
	if j.Counted().Sets+j.NotCounted != 8 || !reflect.DeepEqual(j.Merged, []string{"J 05"}) {
		t.Errorf("%+v", j.Row)
	}
	if same := judgeOf(t, b, 5); same.Person != "p-2" {
		t.Errorf("the merged entry leads to %s", same.Person)
	}
	if b.Panel().Tests[0].Tasters != 4 {
		t.Errorf("%d tasters", b.Panel().Tests[0].Tasters)
	}
}

func TestErasedPeopleKeepTheirCounts(t *testing.T) {
	l := newLab(t, 4)
	for range 4 {
		l.play(planOf(4, testOf(session.Triangle, 2)), true, false, l.perceives(session.Triangle, 3))
	}
	before := l.book().Panel()
	l.do(session.ErasePerson{Person: "p-3"})
	b := l.book()
	p := b.Panel()
	if r := p.Judges[2]; !r.Erased || r.Pseudonym != "J 03" || r.Routine != before.Judges[2].Routine || r.Ability != before.Judges[2].Ability {
		t.Errorf("%+v, before %+v", r, before.Judges[2])
	}
	if p.Detect[0].Judges != 3 {
		t.Errorf("the present panel has %d judges", p.Detect[0].Judges)
	}
	if strings.Contains(p.Headline, "J 03") {
		t.Errorf("%q", p.Headline)
	}
	// No name leaves the package, of anybody.
	for n := 1; n <= 4; n++ {
		j := judgeOf(t, b, n)
		j.AbilityInterval.Upper = min(j.AbilityInterval.Upper, 1e9)
		j.Scale.Raw = 0
		j.Controls = nil
		p := b.Panel()
		p.Agreement.Kappa, p.Agreement.Alike = 0, 0
		told, err := json.Marshal([]any{j, j.Own(), p})
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(told), "Invented Person") {
			t.Errorf("judge %d: a name is in the record", n)
		}
	}
}

// The own page speaks of nobody else.
func TestOwnNamesNobodyElse(t *testing.T) {
	l := newLab(t, 5)
	for range 6 {
		l.play(planOf(5, testOf(session.Triangle, 2), testOf(session.PairedComparison, 1)), true, false, l.perceives(session.Triangle, 3))
	}
	l.do(session.BeginSeries{Person: "p-1", Terms: session.SeriesTerms{Method: "triangle", Kind: session.KindRoutine, P0: 1.0 / 3, P1: 0.6, Alpha: 0.1, Beta: 0.1}})
	b := l.book()
	own := strings.Join(judgeOf(t, b, 1).Own(), "\n")
	for n := 2; n <= 5; n++ {
		if strings.Contains(own, fmt.Sprintf("J %02d", n)) {
			t.Errorf("another judge is named: %s", own)
		}
	}
	for _, want := range []string{"Guessing alone is right once in three", "Series 1", "Half of your sets took you less than", "No single test"} {
		if !strings.Contains(own, want) {
			t.Errorf("%q is missing in\n%s", want, own)
		}
	}
}

// The fit is kept where the answers are the same, and a stamp tells states apart.
func TestRenew(t *testing.T) {
	l := newLab(t, 4)
	id := l.play(planOf(4, testOf(session.Triangle, 1)), true, false, func(int, int, int) bool { return true })
	b := l.book()
	b.Panel()
	if again := b.Renew(l.lab(), l.judged(), l.now.Add(time.Hour)); again.pages != b.pages {
		t.Error("an unchanged book is made anew")
	}
	l.do(session.EnterPerson{Facts: session.PersonFacts{Name: l.text("Somebody Else")}}, session.NameLab{Name: "Lab of the Tall Window (invented)"})
	later := b.Renew(l.lab(), l.judged(), l.now)
	if later.fitted != b.fitted || later.Stamp() == b.Stamp() || len(later.Panel().Judges) != 5 {
		t.Error("a new person changes the fit, or not the panel")
	}
	l.do(session.UntieSeat{Seat: session.SeatRef{Session: id, Seat: 1}})
	if later := b.Renew(l.lab(), l.judged(), l.now); later.fitted == b.fitted {
		t.Error("a seat was untied, and the fit is the old one")
	}
	all := l.judged()
	more := append([]session.JudgedSession{}, all...)
	more[0].Seq++
	if StampOf(l.lab(), all) == StampOf(l.lab(), more) || StampOf(l.lab(), all) == StampOf(l.lab(), all[1:]) {
		t.Error("the stamp does not see an amendment, or a session")
	}
}

func TestPanelWords(t *testing.T) {
	row := func(n int, enough bool) Row { return Row{Pseudonym: fmt.Sprintf("J %02d", n), Enough: enough} }
	for want, rows := range map[string][]Row{
		"Nobody is on the panel yet.":                             {{Erased: true, Enough: true}, {Status: session.StatusResting}},
		"Nobody has enough sets to read yet.":                     {row(1, false)},
		"One has enough sets to read. J 02 does not yet.":         {row(1, true), row(2, false)},
		"Two have enough sets to read.":                           {row(1, true), row(2, true)},
		"Two have enough sets to read. J 03 and J 04 do not yet.": {row(1, true), row(2, true), row(3, false), row(4, false)},
		"One has enough sets to read. Five do not yet.":           {row(1, true), row(2, false), row(3, false), row(4, false), row(5, false), row(6, false)},
	} {
		if got := headline(rows); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if say := standing(Row{Standing: stats.StandingTypical, Adjusted: 0.4}); !strings.Contains(say, "does not show that there is none") {
		t.Errorf("%q", say)
	}
}

// The minima for n = 12, α 0.05 are those of published tables, as in
// testdata/reference/published_critical_numbers.csv: 8 in triangles, FAO document
// V7180E, appendix A; 10 where guessing is right once in two, one-sided, GOST ISO
// 10399-2015, table A.1.
func TestDetect(t *testing.T) {
	p := newLab(t, 12).book().Panel()
	tri, pair := p.Detect[0], p.Detect[1]
	if tri.MinCorrect != 8 || pair.MinCorrect != 10 || tri.Judges != 12 {
		t.Errorf("%+v, %+v", tri, pair)
	}
	// Equal abilities: exact binomial power at the d′ found.
	for _, d := range p.Detect {
		m, _ := session.MethodByKey(d.Method)
		if power := stats.Power(12, m.Chance(), 0.05, m.Curve.PC(d.Detectable)); power < 0.8 || power > 0.81 {
			t.Errorf("%s: power %v at d′ %v", d.Method, power, d.Detectable)
		}
	}
	if pair.Detectable >= tri.Detectable {
		t.Error("a pair finds less than a triangle")
	}
	if d := newLab(t, 2).book().Panel().Detect[0]; d.MinCorrect != 0 || d.Power != 0 || !strings.Contains(d.Say, "not even") {
		t.Errorf("%+v", d)
	}
}

// A judge with a habit is found, whatever was served.
func TestHabitsGuessesTimes(t *testing.T) {
	l := newLab(t, 1)
	at := l.now
	s := newSession("h-1", at, session.JudgedTest{Method: session.Triangle.Key}, session.JudgedTest{Method: session.DuoTrio.Key})
	for set := 1; set <= 60; set++ {
		right := 1 + set%3
		s.Sets = append(s.Sets, session.JudgedSet{
			Seat: 1, Set: set, Method: session.Triangle.Key, Kind: session.KindRoutine, At: at.Add(time.Duration(set) * time.Minute),
			Place: 1, Counted: right, Right: right == 1, Guess: set <= 30, Took: time.Duration(set) * time.Second,
		})
		s.Sets = append(s.Sets, session.JudgedSet{
			Seat: 1, Test: 1, Set: 60 + set, Method: session.DuoTrio.Key, Kind: session.KindRoutine, At: at.Add(time.Hour),
			Place: 2 + set%2, Counted: 2 + set%2, Right: true,
		})
	}
	l.do(session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "h-1", Seat: 1}}})
	j := judgeOf(t, Open(l.lab(), []session.JudgedSession{s.JudgedSession}, at), 1)
	if len(j.Habits) != 2 || j.Habits[1].Place != "the cup on the left" || j.Habits[1].PValue > 1e-6 || j.Habits[1].Places != 3 ||
		j.Habits[1].N != 40 || j.Habits[0].N != 60 || j.Habits[0].Places != 2 || j.Habits[0].PValue < 0.9 {
		t.Errorf("%+v", j.Habits)
	}
	// By hand: guesses are sets 1 to 30, of which those with set%3 = 0 are right: 10.
	if g := j.Guesses; g.Of != 120 || g.Luck.N != 30 || g.Luck.Correct != 10 || math.Abs(g.Luck.Expected-10) > 1e-12 {
		t.Errorf("%+v", j.Guesses)
	}
	// R 4.2.2: quantile(1:60, c(.25,.5,.75)) is 15.75, 30.5, 45.25; shown in whole seconds.
	if j.Time.N != 60 || j.Time.Lower != 16*time.Second || j.Time.Median != 31*time.Second || j.Time.Upper != 45*time.Second {
		t.Errorf("%+v", j.Time)
	}
}
