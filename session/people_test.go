package session

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// desk plays the register command by command, as a Room does but without one.
type desk struct {
	t       tester
	l       *Lab
	now     time.Time
	entries []Entry
	texts   map[Hash]Text
}

func newDesk(t tester) *desk { return &desk{t: t, l: NewLab(), now: noon, texts: map[Hash]Text{}} }

func (d *desk) try(a Act) ([]Event, error) {
	d.t.Helper()
	d.now = d.now.Add(time.Second)
	before := d.l.Clone()
	events, err := d.l.Decide(Command{At: d.now, Actor: Host, Act: a})
	if !reflect.DeepEqual(before, d.l) {
		d.t.Fatalf("%T: Decide changed the register", a)
	}
	if err != nil && events != nil {
		d.t.Fatalf("%T: both refused (%v) and accepted", a, err)
	}
	d.l = before
	for _, ev := range events {
		seq, head := d.l.Position()
		e, err := NewEntry(seq+1, head, Recorded{At: d.now, Actor: Host, Event: ev})
		if err != nil {
			d.t.Fatalf("%T: %v", a, err)
		}
		for _, x := range textsOf(ev) {
			d.texts[x.Digest] = *x
		}
		rec, err := e.Record(d.texts)
		if err != nil {
			d.t.Fatalf("%T: %v", a, err)
		}
		d.entries = append(d.entries, e)
		d.l.Apply(rec)
	}
	return events, err
}

func (d *desk) do(acts ...Act) []Event {
	d.t.Helper()
	var events []Event
	for _, a := range acts {
		var err error
		if events, err = d.try(a); err != nil {
			d.t.Fatalf("%T %+v: %v", a, a, err)
		}
	}
	return events
}

func (d *desk) nothing(a Act) {
	d.t.Helper()
	if events := d.do(a); len(events) != 0 {
		d.t.Errorf("%T caused %d events, want none", a, len(events))
	}
}

func (d *desk) refuse(a Act, want error) {
	d.t.Helper()
	events, err := d.try(a)
	if !errors.Is(err, want) || len(events) != 0 {
		d.t.Errorf("%T %+v: %d events, error %v, want %v", a, a, len(events), err, want)
	}
}

// replayed folds the register's journal anew.
func (d *desk) replayed() *Lab {
	d.t.Helper()
	l := NewLab()
	for _, e := range d.entries {
		rec, err := e.Record(d.texts)
		if err != nil {
			d.t.Fatal(err)
		}
		l.Apply(rec)
	}
	return l
}

// enter puts people of these invented names on the register: p-1, p-2, …
func (d *desk) enter(names ...string) *desk {
	d.t.Helper()
	for _, name := range names {
		d.do(EnterPerson{PersonFacts{Name: salted(name)}})
	}
	return d
}

var salts uint64 = 1000

// salted is a text with a salt of its own, as each typed word has.
func salted(words string) Text {
	salts++
	x, err := NewText(words, chance(salts))
	if err != nil {
		panic(err)
	}
	return x
}

func TestPeopleOfTheRegister(t *testing.T) {
	d := newDesk(t)
	d.do(EnterPerson{PersonFacts{Name: salted("Ena Sol")}})
	d.do(EnterPerson{PersonFacts{
		Pseudonym: "  North  window ", Name: salted("Ori Vell"), Languages: []string{" de ", "pt-BR"}, Status: StatusExpert,
		Told: noon.Add(-aDay), Ground: " legitimate interest, told in writing ", Since: noon.Add(-9 * aDay),
	}})
	ena, ok := d.l.Person("p-1")
	if !ok || ena.Pseudonym != "Judge 1" || ena.Status != StatusCandidate || ena.Since.IsZero() || ena.Name.Words != "Ena Sol" {
		t.Errorf("%+v", ena)
	}
	ori, _ := d.l.Person("p-2")
	if ori.Pseudonym != "North window" || !slices.Equal(ori.Languages, []string{"de", "pt-BR"}) || ori.Ground != "legitimate interest, told in writing" {
		t.Errorf("%+v", ori)
	}
	with := func(change func(*PersonFacts)) EnterPerson {
		f := PersonFacts{Pseudonym: "South", Name: salted("Ulm Ray"), Status: StatusTrained}
		change(&f)
		return EnterPerson{f}
	}
	for name, c := range map[string]struct {
		a    Act
		want error
	}{
		"no name":                        {with(func(f *PersonFacts) { f.Name = salted(" ") }), ErrWords},
		"a long name":                    {with(func(f *PersonFacts) { f.Name = salted(strings.Repeat("ä", 41)) }), ErrWords},
		"a pseudonym that is taken":      {with(func(f *PersonFacts) { f.Pseudonym = "JUDGE  1" }), ErrTaken},
		"a pseudonym that is a name":     {with(func(f *PersonFacts) { f.Pseudonym = "ULM 3" }), ErrTellsName},
		"a pseudonym that is a formula":  {with(func(f *PersonFacts) { f.Pseudonym = "=1+1" }), ErrWords},
		"a pseudonym of 31":              {with(func(f *PersonFacts) { f.Pseudonym = strings.Repeat("x", 31) }), ErrWords},
		"a pseudonym of two lines":       {with(func(f *PersonFacts) { f.Pseudonym = "x\x00y" }), ErrWords},
		"a status of no kind":            {with(func(f *PersonFacts) { f.Status = "champion" }), ErrWords},
		"a language that is a sentence":  {with(func(f *PersonFacts) { f.Languages = []string{"Low German"} }), ErrWords},
		"thirteen languages":             {with(func(f *PersonFacts) { f.Languages = slices.Repeat([]string{"en"}, 13) }), ErrWords},
		"told on no ground":              {with(func(f *PersonFacts) { f.Told = noon }), ErrWords},
		"a ground never told":            {with(func(f *PersonFacts) { f.Ground = "contract" }), ErrWords},
		"a ground that names":            {with(func(f *PersonFacts) { f.Told, f.Ground = noon, "as Ray wished" }), ErrTellsName},
		"told tomorrow":                  {with(func(f *PersonFacts) { f.Told, f.Ground = noon.Add(3*aDay), "contract" }), ErrWords},
		"on the panel from next week on": {with(func(f *PersonFacts) { f.Since = noon.Add(7 * aDay) }), ErrWords},
		"a change of nobody":             {ChangePerson{Person: "p-9"}, ErrNoPerson},
		"a name that the pseudonym told": {ChangePerson{"p-2", PersonFacts{Name: salted("Window Vell")}}, ErrTellsName},
	} {
		events, err := d.try(c.a)
		if !errors.Is(err, c.want) || events != nil {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	// What is left empty stays, or is emptied.
	d.do(ChangePerson{"p-2", PersonFacts{}})
	ori, _ = d.l.Person("p-2")
	if ori.Pseudonym != "North window" || ori.Name.Words != "Ori Vell" || ori.Status != StatusExpert || ori.Languages != nil || ori.Ground != "" || !ori.Told.IsZero() || ori.Since.IsZero() {
		t.Errorf("%+v", ori)
	}
	if !reflect.DeepEqual(d.replayed(), d.l) {
		t.Error("the register comes back otherwise")
	}
	if r := VerifyLab(d.entries, d.texts); !r.OK() {
		t.Errorf("%v", r.Findings)
	}
	for _, e := range d.entries {
		for _, name := range []string{"Ena", "Sol", "Ori", "Vell"} {
			if strings.Contains(string(e.Stored), name) {
				t.Errorf("entry %d holds %q", e.Seq, name)
			}
		}
	}
}

func TestMergeAndTies(t *testing.T) {
	const tuesday, friday = ID("20310304-090000-0000000001"), ID("20310307-090000-0000000002")
	d := newDesk(t).enter("Ena Sol", "Éna  SOL", "Ori Vell", "Ori Vell")
	d.do(TieSeats{"p-1", []SeatRef{{tuesday, 1}, {friday, 4}, {tuesday, 1}}}, TieSeats{"p-2", []SeatRef{{friday, 2}}})
	d.nothing(TieSeats{"p-1", []SeatRef{{tuesday, 1}}})
	d.nothing(TieSeats{"p-1", nil})
	d.refuse(TieSeats{"p-2", []SeatRef{{friday, 3}, {tuesday, 1}}}, ErrTied)
	d.refuse(TieSeats{"p-9", []SeatRef{{friday, 3}}}, ErrNoPerson)
	for _, ref := range []SeatRef{{tuesday, 0}, {tuesday, 501}, {"", 1}, {LabID, 1}, {"No Session", 1}} {
		d.refuse(TieSeats{"p-1", []SeatRef{ref}}, ErrNoSeat)
	}
	// Two bear one name, before they are put together and found to be one.
	if got := d.l.Suggest("ena sol", " ORI  vell", "Nobody", ""); !slices.Equal(got, []PersonID{"", "", "", ""}) {
		t.Errorf("suggested %q", got)
	}
	// Both sat on Friday, as two people do: nothing undoes it, so it takes a word.
	if got := d.l.Together("p-2", "p-1"); !slices.Equal(got, []ID{friday}) || d.l.Together("p-1", "p-3") != nil {
		t.Errorf("together in %q", got)
	}
	if _, err := d.try(MergePeople{From: "p-2", Into: "p-1"}); !errors.Is(err, ErrTogether) || !strings.Contains(err.Error(), "both have a seat in session "+string(friday)) {
		t.Errorf("of one session: %v", err)
	}
	d.do(MergePeople{From: "p-2", Into: "p-1", Together: true})
	if got := d.l.Suggest("ena sol", "Ori Vell"); !slices.Equal(got, []PersonID{"p-1", ""}) {
		t.Errorf("suggested %q", got)
	}
	for _, ref := range []SeatRef{{tuesday, 1}, {friday, 4}, {friday, 2}} {
		if p, ok := d.l.PersonOf(ref.Session, ref.Seat); !ok || p.ID != "p-1" {
			t.Errorf("%s is %q", ref, p.ID)
		}
	}
	if _, ok := d.l.PersonOf(friday, 3); ok {
		t.Error("a seat that nobody tied is somebody's")
	}
	if got := d.l.SeatsOf("p-1"); !slices.Equal(got, []SeatRef{{tuesday, 1}, {friday, 2}, {friday, 4}}) {
		t.Errorf("seats %v", got)
	}
	for _, a := range []Act{
		MergePeople{From: "p-2", Into: "p-3"}, MergePeople{From: "p-3", Into: "p-2"}, MergePeople{From: "p-1", Into: "p-1"}, ChangePerson{Person: "p-2"}, TieSeats{"p-2", []SeatRef{{friday, 9}}},
		ErasePerson{Person: "p-2"},
	} {
		d.refuse(a, ErrMerged)
	}
	d.refuse(MergePeople{From: "p-1", Into: "p-9"}, ErrNoPerson)
	// A chain of merges leads to its end.
	if events := d.do(MergePeople{From: "p-1", Into: "p-3", Together: true}); events[0].(*PeopleMerged).Together {
		t.Error("a merge of people who sat in no session together says that they did")
	}
	if p, _ := d.l.PersonOf(friday, 2); p.ID != "p-3" {
		t.Errorf("past two merges: %q", p.ID)
	}
	d.do(UntieSeat{SeatRef{friday, 2}})
	d.nothing(UntieSeat{SeatRef{friday, 2}})
	if _, ok := d.l.PersonOf(friday, 2); ok {
		t.Error("untied, and still somebody's")
	}
	if n := len(d.l.Panel()); n != 2 {
		t.Errorf("%d on the panel", n)
	}
	// Nobody gets the pseudonym of one who was merged.
	d.refuse(EnterPerson{PersonFacts{Pseudonym: "judge 2", Name: salted("Ulm Ray")}}, ErrTaken)
	if !reflect.DeepEqual(d.replayed(), d.l) {
		t.Error("the register comes back otherwise")
	}
}

// TestRandomRegister plays random commands on people; whatever comes, the
// register stays sound and its journal gives it again.
func TestRandomRegister(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDesk(t)
		erased := map[PersonID]bool{}
		for range rapid.IntRange(1, 60).Draw(t, "acts") {
			before := d.l
			a := randomLabAct(t, d.l)
			events, err := d.try(a)
			if err != nil && !reflect.DeepEqual(before, d.l) {
				t.Fatalf("%T was refused and changed the register", a)
			}
			for _, e := range events {
				if tied, ok := e.(*SeatsTied); ok {
					if p, _ := before.Person(tied.Person); p.Erased || p.Into != "" {
						t.Fatalf("a seat was tied to %+v", p)
					}
				}
				if e, ok := e.(*PersonErased); ok {
					erased[e.Person] = true
				}
			}
			holdsRegister(t, d.l, erased)
		}
		if !reflect.DeepEqual(d.replayed(), d.l) {
			t.Fatal("the journal gives another register")
		}
	})
}

func holdsRegister(t *rapid.T, l *Lab, erased map[PersonID]bool) {
	pseudonyms := map[string]bool{}
	for i, p := range l.People {
		if p.ID != PersonID(fmt.Sprintf("p-%d", i+1)) || p.Pseudonym == "" || pseudonyms[foldName(p.Pseudonym)] {
			t.Fatalf("two of one pseudonym or id: %+v", l.People)
		}
		pseudonyms[foldName(p.Pseudonym)] = true
		same, ok := l.Same(p.ID)
		if !ok || same.Into != "" {
			t.Fatalf("%s leads to %+v", p.ID, same)
		}
		if erased[same.ID] != same.Erased || same.Erased != p.Erased || p.Erased && p.Name.Words != "" {
			t.Fatalf("erased %v: %+v", erased[same.ID], p)
		}
		if nameWordIn(p.Pseudonym, p.Name.Words) != "" || nameWordIn(p.Ground, p.Name.Words) != "" {
			t.Fatalf("the name stands in clear: %+v", p)
		}
	}
	for ref := range l.ties {
		if p, ok := l.PersonOf(ref.Session, ref.Seat); !ok || p.Into != "" || !slices.Contains(l.SeatsOf(p.ID), ref) {
			t.Fatalf("%s is %+v", ref, p)
		}
	}
	open := map[string]bool{}
	for _, s := range l.Series {
		key := fmt.Sprint(s.Person, s.Method, s.Kind, s.Label)
		if s.Outcome == "" && open[key] && !slices.ContainsFunc(l.People, func(p Person) bool { return p.Into != "" }) {
			t.Fatalf("two series of %s go on", key)
		}
		open[key] = open[key] || s.Outcome == ""
		if (s.Outcome == "") != s.Ended.IsZero() {
			t.Fatalf("series %+v", s)
		}
	}
	papers := maps.Clone(l.papersSet())
	if len(papers) != len(l.Papers) {
		t.Fatal("a paper record is there twice")
	}
}

func randomLabAct(t *rapid.T, l *Lab) Act {
	person := func() PersonID {
		return PersonID(fmt.Sprintf("p-%d", rapid.IntRange(0, len(l.People)+1).Draw(t, "person")))
	}
	word := func(name string) string {
		return rapid.SampledFrom([]string{"", "Ena", "ena sol", "Éna", "Judge 2", "Judge 3", "North", "Ori Vell", "=1", "a, b"}).Draw(t, name)
	}
	ref := func() SeatRef {
		return SeatRef{rapid.SampledFrom([]ID{"a-1", "b-2", "lab", ""}).Draw(t, "session"), rapid.IntRange(0, 3).Draw(t, "seat")}
	}
	kind := rapid.SampledFrom([]JudgedKind{KindControl, KindRoutine, "x"})
	method := rapid.SampledFrom([]string{Triangle.Key, PairedComparison.Key, "sip"})
	switch rapid.IntRange(0, 13).Draw(t, "act") {
	case 0, 1, 2:
		return EnterPerson{PersonFacts{Pseudonym: word("pseudonym"), Name: salted(word("name")), Ground: word("ground"), Told: rapid.SampledFrom([]time.Time{{}, noon}).Draw(t, "told")}}
	case 3:
		return ChangePerson{person(), PersonFacts{Pseudonym: word("pseudonym"), Name: salted(word("name"))}}
	case 4:
		return MergePeople{person(), person(), rapid.Bool().Draw(t, "together")}
	case 5:
		return ErasePerson{Person: person(), Everywhere: rapid.Bool().Draw(t, "everywhere")}
	case 6:
		return FinishErasure{person()}
	case 7, 8:
		return TieSeats{person(), []SeatRef{ref(), ref()}}
	case 9:
		return UntieSeat{ref()}
	case 10:
		return BeginSeries{person(), SeriesTerms{method.Draw(t, "method"), kind.Draw(t, "kind"), word("label"), 0.5, 0.8, 0.05, 0.05}}
	case 11:
		return EndSeries{
			SeriesID(fmt.Sprintf("s-%d", rapid.IntRange(0, len(l.Series)+1).Draw(t, "series"))),
			rapid.IntRange(-1, 12).Draw(t, "right"), rapid.IntRange(-1, 14).Draw(t, "of"), salted(rapid.SampledFrom([]string{"", "", "moved on"}).Draw(t, "reason")),
		}
	case 12:
		p := PaperRecord{
			person(), rapid.SampledFrom([]string{"2029-11-05", "yesterday"}).Draw(t, "date"), method.Draw(t, "method"), kind.Draw(t, "kind"),
			word("control"), 0, rapid.IntRange(0, 2).Draw(t, "sets"), rapid.IntRange(0, 2).Draw(t, "right"), word("source"),
		}
		return ImportRecords{slices.Repeat([]PaperRecord{p}, rapid.IntRange(0, 2).Draw(t, "times"))}
	default:
		return NoteBackup{word("file")}
	}
}
