package record

import (
	"cmp"
	"hash/fnv"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// Book is the record of all judges at one state of register and sessions. It may
// be used by several goroutines at once. What takes long, the fit of the panel, is
// done when it is first asked for and kept.
type Book struct {
	*pages
	now time.Time
}

// pages are what a book holds but for the time.
type pages struct {
	lab    *session.Lab
	stamp  Stamp
	sheets map[session.PersonID]*sheet // of everybody on the panel's register
	order  []session.PersonID          // of the register
	tests  []test                      // of the model, in the order of time
	fitted *fitted

	// picks are what all tasters of a routine attribute test picked.
	picks  map[testKey]picked
	left   map[Why]int // sets of seats that are tied to nobody
	untied []Untied

	once   sync.Once
	panel  Panel
	agreed func() []AgreedSize
}

// methods are the rows by key: a row is large, and there are many sets.
var methods = func() map[string]*session.Method {
	rows := map[string]*session.Method{}
	for i := range session.Methods {
		rows[session.Methods[i].Key] = &session.Methods[i]
	}
	return rows
}()

type testKey struct {
	session session.ID
	test    int
}

type picked struct{ sets, processed int }

// taster is a judge, or a seat that is tied to nobody.
type taster struct {
	person  session.PersonID // "" for nobody
	session session.ID
	seat    int
}

// test is one that may count: where answers can be right, by the size of a
// difference.
type test struct {
	testKey
	source string // of a paper record
	at     time.Time
	method *session.Method
	kind   session.JudgedKind
	label  string
	known  float64
	who    []taster
	counts []Count
}

// sheet is all that one person answered.
type sheet struct {
	person   session.Person
	sessions []session.JudgedSession // with this person's sets alone, demonstrations left out
	sat      []sat                   // in the order of time
	left     map[Why]int             // sets, but for those that the model leaves out
	blank    Count
	paper    Count // of controls
}

// sat is one test that a person sat in: entry i of a test of the model, or one that
// does not count whatever its size, for a reason.
type sat struct {
	testKey
	model, i int // model is -1 where there is a reason
	why      Why
	at       time.Time
	source   string
	method   *session.Method
	kind     session.JudgedKind
	label    string
	known    float64
	count    Count
}

// Open joins what revealed sessions tell to the people of the register. Neither may
// be changed while the book is used.
func Open(lab *session.Lab, judged []session.JudgedSession, now time.Time) *Book {
	return open(lab, judged, now, nil)
}

// Renew is [Open] for a later state. The fit is kept where the answers that it rests
// on are the same, as after a decision or a new lot.
func (b *Book) Renew(lab *session.Lab, judged []session.JudgedSession, now time.Time) *Book {
	if b.stamp == StampOf(lab, judged) {
		return b.At(now)
	}
	return open(lab, judged, now, b.fitted)
}

// At is the same book at another time, without computing anything again.
func (b *Book) At(now time.Time) *Book { return &Book{b.pages, now} }

// StampOf is the stamp of a state.
func StampOf(lab *session.Lab, judged []session.JudgedSession) Stamp {
	var sum uint64
	for _, j := range judged {
		h := fnv.New64a()
		io.WriteString(h, string(j.Session)) // never fails
		sum += (h.Sum64() ^ j.Seq) * 0x9e3779b97f4a7c15
	}
	return Stamp{lab.Seq, sum + uint64(len(judged))}
}

// Prepare does what the first page of a panel and of a judge would wait for. Others may
// use the book meanwhile.
func (b *Book) Prepare() {
	b.Panel()
	b.Drifting()
	b.shares()
}

// Stamp is the stamp of the state that the book was opened for.
func (b *Book) Stamp() Stamp { return b.stamp }

func open(lab *session.Lab, judged []session.JudgedSession, now time.Time, before *fitted) *Book {
	p := &pages{
		lab: lab, stamp: StampOf(lab, judged), sheets: map[session.PersonID]*sheet{},
		picks: map[testKey]picked{}, left: map[Why]int{},
	}
	for _, who := range lab.Panel() {
		p.order = append(p.order, who.ID)
		p.sheets[who.ID] = &sheet{person: who, left: map[Why]int{}}
	}
	for _, j := range judged {
		p.read(j)
	}
	p.readPapers()
	p.number(before)
	slices.SortFunc(p.untied, func(a, b Untied) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.Session, a.Session)) })
	p.agreed = sync.OnceValue(p.agreedSizes)
	return &Book{p, now}
}

// read takes a session's sets to the sheets.
func (p *pages) read(j session.JudgedSession) {
	tests := make([]test, len(j.Tests))
	for i, t := range j.Tests {
		m := methods[t.Method]
		tests[i] = test{testKey: testKey{j.Session, i}, method: m, kind: t.Kind, label: j.Label(i)}
		if t.Kind == session.KindControl && j.Control != nil {
			tests[i].known = j.Control.DPrime
		}
	}
	untied := Untied{Session: j.Session, At: j.At, Received: j.Received, Laboratory: j.Laboratory}
	for from := 0; from < len(j.Sets); {
		seat, to := j.Sets[from].Seat, from
		for to < len(j.Sets) && j.Sets[to].Seat == seat {
			to++
		}
		sets := j.Sets[from:to]
		from = to
		who := taster{"", j.Session, seat}
		var s *sheet
		if person, ok := p.lab.PersonOf(j.Session, seat); ok {
			who, s = taster{person: person.ID}, p.sheets[person.ID]
		}
		if s == nil && !j.Demo {
			untied.Seats = append(untied.Seats, seat)
			untied.Sets += len(sets)
			why := WhyUntied
			if j.Received {
				why = WhyReceived
			}
			p.left[why] += len(sets)
		}
		if j.Demo {
			if s == nil {
				p.left[WhyDemo] += len(sets)
			} else {
				s.leave(j, tests, sets, func(int) Why { return WhyDemo })
			}
			continue
		}
		p.seat(j, tests, who, sets)
		if s != nil {
			s.add(j, sets)
			s.leave(j, tests, sets, func(i int) Why { return structural(j.Tests[i]) })
		}
	}
	if len(untied.Seats) > 0 {
		p.untied = append(p.untied, untied)
	}
	for _, t := range tests {
		if slices.ContainsFunc(t.who, func(w taster) bool { return w.person != "" }) {
			p.tests = append(p.tests, t)
		}
	}
}

// structural is why a test never counts, "" where it may.
func structural(t session.JudgedTest) Why {
	switch {
	case t.Kind == session.KindBlank:
		return WhyBlank
	case t.TwoSided:
		return WhyTwoSided
	}
	return ""
}

// seat takes a seat's answers to the tests of its session.
func (p *pages) seat(j session.JudgedSession, tests []test, who taster, sets []session.JudgedSet) {
	for _, set := range sets {
		t := &tests[set.Test]
		if t.kind == session.KindRoutine && !t.method.Overall {
			c := p.picks[t.testKey]
			c.sets++
			if set.Processed {
				c.processed++
			}
			p.picks[t.testKey] = c
		}
		if t.at.IsZero() || set.At.Before(t.at) {
			t.at = set.At
		}
		if structural(j.Tests[set.Test]) == "" {
			t.add(who, Count{1, one(set.Right)})
		}
	}
}

func one(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// add counts for a taster, who may have sat at two seats.
func (t *test) add(who taster, c Count) {
	i := slices.Index(t.who, who)
	if i < 0 {
		i = len(t.who)
		t.who, t.counts = append(t.who, who), append(t.counts, Count{})
	}
	t.counts[i].Sets += c.Sets
	t.counts[i].Right += c.Right
}

// add keeps the sets for series, rules and habits.
func (s *sheet) add(j session.JudgedSession, sets []session.JudgedSet) {
	if n := len(s.sessions); n > 0 && s.sessions[n-1].Session == j.Session { // a second seat
		s.sessions[n-1].Sets = append(slices.Clone(s.sessions[n-1].Sets), sets...)
		return
	}
	j.Sets = sets
	s.sessions = append(s.sessions, j)
}

// leave notes the tests that do not count whatever their size.
func (s *sheet) leave(j session.JudgedSession, tests []test, sets []session.JudgedSet, why func(test int) Why) {
	for i, t := range tests {
		because := why(i)
		if because == "" {
			continue
		}
		out := sat{testKey: t.testKey, model: -1, why: because, method: t.method, kind: t.kind, label: t.label}
		for _, set := range sets {
			if set.Test != i {
				continue
			}
			if out.count.Sets == 0 || set.At.Before(out.at) {
				out.at = set.At
			}
			out.count.Sets++
			out.count.Right += one(set.Right)
		}
		if out.count.Sets == 0 {
			continue
		}
		s.left[because] += out.count.Sets
		if because == WhyBlank {
			s.blank.Sets += out.count.Sets
			s.blank.Right += out.count.Right
		}
		s.sat = append(s.sat, out)
	}
}

// readPapers takes the counts from paper: controls as tests of all who have the
// same day, method, control, size and source.
func (p *pages) readPapers() {
	type key struct {
		date, method, control, source string
		known                         float64
	}
	at := map[key]int{}
	for _, r := range p.lab.Papers {
		who, ok := p.lab.Same(r.Person)
		if !ok {
			continue
		}
		s := p.sheets[who.ID]
		m := methods[r.Method]
		day, _ := time.Parse(time.DateOnly, r.Date) // checked when it was taken
		c := Count{r.Sets, r.Right}
		if r.Kind != session.KindControl {
			why := WhyPaper
			if r.Kind == session.KindBlank {
				why = WhyBlank
				s.blank.Sets += c.Sets
				s.blank.Right += c.Right
			}
			s.left[why] += c.Sets
			s.sat = append(s.sat, sat{model: -1, why: why, at: day, source: r.Source, method: m, kind: r.Kind, count: c})
			continue
		}
		k := key{r.Date, r.Method, strings.ToLower(r.Control), r.Source, r.DPrime}
		i, ok := at[k]
		if !ok {
			i = len(p.tests)
			at[k] = i
			p.tests = append(p.tests, test{source: r.Source, at: day, method: m, kind: r.Kind, label: r.Control, known: r.DPrime})
		}
		p.tests[i].add(taster{person: who.ID}, c)
	}
}

// number puts the tests in order and gives every taster a number, by first
// appearance: so people who have not tasted change nothing of the model.
func (p *pages) number(before *fitted) {
	slices.SortStableFunc(p.tests, func(a, b test) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.session, b.session), cmp.Compare(a.testKey.test, b.testKey.test), cmp.Compare(a.source, b.source))
	})
	f := &fitted{number: map[session.PersonID]int{}, sessions: p.stamp.Sessions}
	type seat struct {
		session session.ID
		seat    int
	}
	seats := map[seat]int{} // that are tied to nobody
	number := func(who taster) int {
		n, ok := f.number[who.person]
		if who.person == "" {
			n, ok = seats[seat{who.session, who.seat}]
		}
		if ok {
			return n
		}
		n = len(f.people)
		f.people = append(f.people, who.person)
		if who.person == "" {
			seats[seat{who.session, who.seat}] = n
		} else {
			f.number[who.person] = n
		}
		return n
	}
	for t := range p.tests {
		e := &p.tests[t]
		model := stats.JudgedTest{Method: e.method.Curve, Known: e.known, Counts: make([]stats.JudgeCount, 0, len(e.who))}
		for i, who := range e.who {
			c := e.counts[i]
			model.Counts = append(model.Counts, stats.JudgeCount{Judge: number(who), N: c.Sets, Correct: c.Right})
			if who.person == "" {
				continue
			}
			s := p.sheets[who.person]
			s.sat = append(s.sat, sat{
				testKey: e.testKey, model: t, i: i, at: e.at, source: e.source, method: e.method, kind: e.kind, label: e.label, known: e.known, count: c,
			})
			if e.session == "" {
				s.paper.Sets += c.Sets
				s.paper.Right += c.Right
			}
		}
		f.tests = append(f.tests, model)
	}
	for _, s := range p.sheets {
		slices.SortStableFunc(s.sat, func(a, b sat) int { return a.at.Compare(b.at) })
	}
	p.fitted = f
	if before != nil && before.same(f) {
		p.fitted = before
	}
}
