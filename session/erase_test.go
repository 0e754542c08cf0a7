package session

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"
)

// panel makes a laboratory with one revealed session in which Ena Sol had seat 1,
// after seat 2, and Ori Vell seat 2, and one that goes on, where a namesake has
// seat 1 and Ena Sol carries the trays.
func panel(t *testing.T, j Journal) *Rooms {
	t.Helper()
	rooms := openRooms(t, j)
	t.Cleanup(rooms.Close)
	seat := func(n int, name string) Act { return SitByHand{n, salted(name)} }
	a := record(t, rooms, "a-1", 1, OpenLobby{}, seat(2, "ena sol"), FreeSeat{2}, seat(1, "Ena Sol"), seat(2, "Ori Vell"), seat(3, "Ulm Ray"),
		FreezeList{}, Open{releases()}, Serve{Round: 1}, Void{Seat: 1, Set: 1, Reason: salted("Ena has dropped it"), Replace: true},
		Void{Seat: 2, Set: 1, Reason: salted("Ori asked, says Ena Sol")}, LeaveSeat{1, salted("called away at noon")})
	for i, act := range []Act{
		Lock{Seat: 3, Set: 1, Pick: a.State().Codes(3, 1, 0)[0], PhoneAt: noon}, Close{}, Reveal{},
		Amend{Seat: 1, Set: 1, Take: 1, Reason: salted("the wrong flask")},
	} {
		mustDo(t, a, Command{At: noon.Add(time.Hour + time.Duration(i)*time.Second), Actor: Host, Act: act})
	}
	record(t, rooms, "b-2", 2, OpenLobby{}, seat(1, "ENA SOL"), seat(2, "Ena Sol"), NameRole{RoleRunner, salted("Ena Sol")})
	for _, act := range []Act{
		EnterPerson{PersonFacts{Name: salted("Ena Sol")}}, EnterPerson{PersonFacts{Name: salted("Ori Vell")}},
		EnterPerson{PersonFacts{Name: salted("Ena Sol")}}, // the namesake
		EnterPerson{PersonFacts{Name: salted("Enna Soll")}}, ChangePerson{"p-4", PersonFacts{Name: salted("Ena Soll")}},
		MergePeople{From: "p-4", Into: "p-1"},
		TieSeats{"p-1", []SeatRef{{"a-1", 1}}}, TieSeats{"p-2", []SeatRef{{"a-1", 2}}}, TieSeats{"p-3", []SeatRef{{"b-2", 1}}},
		BeginSeries{"p-4", dilution}, BeginSeries{"p-1", dilution},
	} {
		if _, ok := act.(BeginSeries); ok && act.(BeginSeries).Person == "p-4" {
			continue // merged: nothing more is said of it
		}
		mustLab(t, rooms, act)
	}
	mustLab(t, rooms, EndSeries{Series: "s-1", Reason: salted("Ena moves away")})
	mustLab(t, rooms, NoteBackup{"first.oddcup"})
	return rooms
}

// typedWords are all words that a journal still has, by way of what is live.
func typedWords(t *testing.T, j Journal, id ID) (all []string) {
	t.Helper()
	entries, texts, err := j.Load(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		for _, x := range textsOf(must(e.Record(texts)).Event) {
			if x.Words != "" {
				all = append(all, x.Words)
			}
		}
	}
	return all
}

func TestErase(t *testing.T) {
	var j Memory
	rooms := panel(t, &j)
	before, err := rooms.Session(t.Context(), "a-1")
	if err != nil {
		t.Fatal(err)
	}
	result, err := before.State().Compute()
	if err != nil {
		t.Fatal(err)
	}
	mentions, err := rooms.Mentions(t.Context(), "p-1")
	if err != nil {
		t.Fatal(err)
	}
	var where []string
	for _, m := range mentions {
		where = append(where, string(m.Session)+" "+m.Kind+" "+m.Words)
	}
	want := []string{"b-2 joined Ena Sol", "b-2 role named Ena Sol", "a-1 voided Ori asked, says Ena Sol"}
	if !slices.Equal(where, want) {
		t.Errorf("mentions %q, want %q", where, want)
	}
	if err := rooms.Erase(t.Context(), Command{At: noon.Add(aDay), Actor: Host, Act: ErasePerson{Person: "p-1"}}); err != nil {
		t.Fatal(err)
	}
	for id, want := range map[ID][]string{
		"a-1": {"Ori Vell", "Ulm Ray", "Mira Tal", "Mira Tal", "Ori asked, says Ena Sol"},
		"b-2": {"ENA SOL", "Ena Sol", "Ena Sol"},
		LabID: {"Ori Vell", "Ena Sol"},
	} {
		if got := typedWords(t, &j, id); !slices.Equal(got, want) {
			t.Errorf("%s has %q, want %q", id, got, want)
		}
	}
	// The live room has dropped them as well, and counts are as they were.
	s := before.State()
	if s.Seats[0].Name.Words != "" || s.Seats[0].LeftFor.Words != "" || s.Seats[0].Sets[0].Takes[0].Void.Reason.Words != "" || s.Seats[0].Sets[0].Takes[1].Amend.Reason.Words != "" {
		t.Errorf("seat 1 still has %+v", s.Seats[0])
	}
	again, err := s.Compute()
	if err != nil || again.Tests[0].N != result.Tests[0].N || again.Tests[0].Correct != result.Tests[0].Correct || again.Tests[0].P != result.Tests[0].P {
		t.Errorf("the result is %+v, %v", again.Tests[0], err)
	}
	for _, id := range []ID{"a-1", "b-2"} {
		entries, texts, err := j.Load(t.Context(), id)
		if r := Verify(id, entries, texts, Paper{}); err != nil || !r.OK() {
			t.Errorf("session %s: %v, %v", id, r.Findings, err)
		}
	}
	lab := rooms.Lab().State()
	p, _ := lab.PersonOf("a-1", 1)
	if p.ID != "p-1" || !p.Erased || p.Name.Words != "" || p.Pseudonym != "Judge 1" || lab.Erasures[0].Done.IsZero() || lab.Series[0].Reason.Words != "" {
		t.Errorf("%+v, %+v", p, lab.Erasures)
	}
	// What is outside is listed.
	mustLab(t, rooms, NoteBackup{"second.oddcup"})
	lab = rooms.Lab().State()
	if got := lab.BackupsBefore("p-1"); len(got) != 1 || got[0].File != "first.oddcup" {
		t.Errorf("to be destroyed: %+v", got)
	}
	if got := lab.FilesBefore("p-1"); !slices.Equal(got, []ID{"a-1"}) {
		t.Errorf("files of %q", got)
	}
	if lab.BackupsBefore("p-2") != nil || lab.FilesBefore("p-2") != nil {
		t.Error("lists for one who was not erased")
	}
	// Nothing new is said of the person, and a second time changes nothing.
	for _, a := range []Act{
		ChangePerson{Person: "p-1"}, TieSeats{"p-1", []SeatRef{{"b-2", 2}}}, UntieSeat{SeatRef{"a-1", 1}}, BeginSeries{"p-1", dilution},
		MergePeople{From: "p-1", Into: "p-2"}, ImportRecords{[]PaperRecord{{Person: "p-1"}}}, Qualify{Person: "p-1"},
	} {
		if _, err := rooms.Lab().Do(t.Context(), Command{At: noon.Add(aDay), Actor: Host, Act: a}); !errors.Is(err, ErrErased) {
			t.Errorf("%T: %v", a, err)
		}
	}
	seq := lab.Seq
	if err := rooms.Erase(t.Context(), Command{At: noon.Add(aDay), Actor: Host, Act: ErasePerson{Person: "p-1"}}); err != nil || rooms.Lab().State().Seq != seq {
		t.Errorf("erased again: %v", err)
	}
}

// Everywhere takes the name away wherever it was typed, but where it is another
// person's.
func TestEraseEverywhere(t *testing.T) {
	var j Memory
	rooms := panel(t, &j)
	if err := rooms.Erase(t.Context(), Command{At: noon.Add(aDay), Actor: Host, Act: ErasePerson{Person: "p-1", Everywhere: true}}); err != nil {
		t.Fatal(err)
	}
	for id, want := range map[ID][]string{
		"a-1": {"Ori Vell", "Ulm Ray", "Mira Tal", "Mira Tal"},
		"b-2": {"ENA SOL"}, // the namesake's seat
		LabID: {"Ori Vell", "Ena Sol"},
	} {
		if got := typedWords(t, &j, id); !slices.Equal(got, want) {
			t.Errorf("%s has %q, want %q", id, got, want)
		}
	}
}

// failing is a journal that can't erase yet.
type failing struct {
	Memory
	broken bool
}

var errFull = errors.New("the disk is full")

func (f *failing) Erase(ctx context.Context, texts map[ID][]Hash) error {
	if f.broken {
		return errFull
	}
	return f.Memory.Erase(ctx, texts)
}

// An erasure that was cut off is taken up again.
func TestEraseIsTakenUpAgain(t *testing.T) {
	j := &failing{broken: true}
	rooms := panel(t, j)
	err := rooms.Erase(t.Context(), Command{At: noon.Add(aDay), Actor: Host, Act: ErasePerson{Person: "p-1"}})
	if !errors.Is(err, errFull) || !errors.Is(err, ErrJournal) {
		t.Fatalf("%v", err)
	}
	if e := rooms.Lab().State().Erasures; len(e) != 1 || !e[0].Done.IsZero() {
		t.Fatalf("%+v", e)
	}
	j.broken = false
	again := openRooms(t, j)
	defer again.Close()
	if err := again.FinishErasures(t.Context(), noon.Add(2*aDay)); err != nil {
		t.Fatal(err)
	}
	if got := typedWords(t, j, "a-1"); slices.Contains(got, "Ena Sol") || slices.Contains(got, "called away at noon") {
		t.Errorf("a-1 has %q", got)
	}
	if e := again.Lab().State().Erasures; e[0].Done.IsZero() {
		t.Errorf("%+v", e)
	}
	if _, err := again.Mentions(t.Context(), "p-9"); !errors.Is(err, ErrNoPerson) {
		t.Errorf("mentions of nobody: %v", err)
	}
	if err := again.Erase(t.Context(), Command{Act: Close{}}); !errors.Is(err, ErrPhase) {
		t.Errorf("another act: %v", err)
	}
	for _, name := range []string{"", "a/b", `a\b`, strings.Repeat("x", 256)} {
		if _, err := again.Lab().Do(t.Context(), Command{At: noon, Act: NoteBackup{name}}); !errors.Is(err, ErrWords) {
			t.Errorf("a backup called %q: %v", name, err)
		}
	}
}

func TestPersonFile(t *testing.T) {
	var j Memory
	rooms := panel(t, &j)
	mustLab(t, rooms, SetRule{aMark})
	mustLab(t, rooms, Qualify{Person: "p-1", Rule: "Dilution", Held: true, Basis: "9 of 12 right", Right: 9, Of: 12, At: noon})
	mustLab(t, rooms, ImportRecords{[]PaperRecord{{"p-1", "2029-11-05", Triangle.Key, KindRoutine, "", 0, 12, 8, "binder 3"}}})
	mustLab(t, rooms, TieSeats{"p-1", []SeatRef{{"a-1", 3}}})
	b, err := rooms.PersonFile(t.Context(), "p-1", noon.Add(aDay))
	if err != nil {
		t.Fatal(err)
	}
	var f PersonFile
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	var typed []string
	for _, w := range f.Typed {
		typed = append(typed, w.Words)
	}
	slices.Sort(typed)
	want := []string{"Ena Sol", "Ena Sol", "Ena Soll", "Ena has dropped it", "Ena moves away", "Enna Soll", "Ulm Ray", "called away at noon", "ena sol", "the wrong flask"}
	slices.Sort(want)
	if !slices.Equal(typed, want) {
		t.Errorf("typed %q,\nwant  %q", typed, want)
	}
	if f.Name != "Ena Sol" || f.Pseudonym != "Judge 1" || !slices.Equal(f.MergedFrom, []string{"Judge 4"}) || len(f.Seats) != 2 || len(f.Sets) != 1 ||
		len(f.Series) != 1 || f.Series[0].Reason != "Ena moves away" || len(f.Qualifications) != 1 || len(f.PaperRecords) != 1 {
		t.Errorf("%s", b)
	}
	// Of words that stood there before a name came, what is another person’s is left out.
	mustLab(t, rooms, SetRule{Rule{Name: "Nähm’s level", Method: Triangle.Key, Kind: KindRoutine, Trials: 12, Mark: 8}})
	mustLab(t, rooms, Qualify{Person: "p-1", Rule: "Nähm’s level", Held: true, Basis: "as Tal Nahm writes", Right: 9, Of: 12, At: noon})
	mustLab(t, rooms, EnterPerson{PersonFacts{Name: salted("Tal Nahm")}})
	b = must(rooms.PersonFile(t.Context(), "p-1", noon.Add(aDay)))
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	if q := f.Qualifications[1]; q.Rule != "…’s level" || q.Basis != "as … … writes" || strings.Contains(strings.ToLower(string(b)), "nahm") {
		t.Errorf("%s", b)
	}
	if q := rooms.Lab().State().Qualifications[1]; !strings.Contains(q.Rule, "Nähm") {
		t.Errorf("the register has %q", q.Rule)
	}
	if _, err := rooms.PersonFile(t.Context(), "p-4", noon); !errors.Is(err, ErrMerged) {
		t.Errorf("of a merged entry: %v", err)
	}
	if _, err := rooms.PersonFile(t.Context(), "p-9", noon); !errors.Is(err, ErrNoPerson) {
		t.Errorf("of nobody: %v", err)
	}
}
