package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// samples holds an event of every kind, all fields set.
func samples() []Event {
	h, token := phone(3), phone(4)
	p := usual()
	p.Serving.Allergens, p.Serving.RedLight, p.Serving.OwnResult, p.Tests[1].TwoSided = "milk", true, true, true
	p.Flights, p.Practice = []int{12, 12}, true
	p.Tests[0] = TestPlan{
		Method: DuoTrio.Key, Goal: GoalBoth, Sets: 1, Alpha: 0.05, Pd: 0.3, Power: 0.9, Beta: 0.05, PdLimit: 0.3,
		Reference: ReferenceConstant, Blank: BlankUntreated, Sequential: true,
	}
	p.Tests[1].More = true
	p.Untreated.Note = "note <&> \u2028"
	p.Serving.Gate = true
	p.Conditions = Conditions{
		Place: "bench 2", Storage: "cool and dry",
		Light: "red", Partitions: "booths", Masking: "dark cups", Vessels: "white bowls", Lids: true, DiscardMin: 15,
		Roast: "to one colour", Water: "soft", HoldMin: 40, HoldLowC: 70, HoldHighC: 80,
		WarmUp: "a third lot", Cleanser: "water", Retaste: RetasteAllowed,
	}
	p.Control, p.Eligible = &Control{"brew diluted to 90 %", 90, 1.2}, "Dilution"
	reason, note := text("spilt & cold"), text("two lamps")
	facts := PersonFacts{"Judge 1", text("Ena Sol"), []string{"en", "pt-BR"}, StatusTrained, noon, "legitimate interest, told in writing", noon}
	return []Event{
		&Drafted{Plan: p, Demo: true},
		&PinSet{testPin},
		&Sealed{Plan: p, Layout: Draw(p, seedOf(1)), Seed: Hash(seedOf(1)), Salt: phone(1), Digest: phone(2), Eligible: []Eligible{{"p-1", "Judge 1"}}},
		&LobbyOpened{}, &Joined{Seat: 3, Person: "p-1", Name: text("Ena"), Token: h},
		&SeatFreed{3}, &SeatMoved{Seat: 3}, &SeatMoved{3, &token}, &ListFrozen{[]int{1, 3}},
		&Opened{releases()}, &RoundServed{2, 61.5}, &Paused{}, &Resumed{},
		&Locked{Seat: 1, Set: 2, Take: 1, Pick: 417, Also: 532, Guess: true, PhoneAt: noon, Paper: true},
		&Voided{1, 2, 1, reason}, &ReplacementCalled{1, 2, 1}, &ReplacementServed{1, 2, 1, 51.5, &note}, &SeatLeft{1, reason}, &FlightEnded{2}, &Looked{2, 3, true},
		&SealBroken{reason}, &Amended{1, 2, 1, reason}, &DeviationNoted{reason, 1}, &RoleNamed{RolePourer, text("Ena")}, &Confirmed{"light", true, &note},
		&PourSheetOpened{}, &PourSheetSeen{}, &PourSheetPrinted{true, true}, &PinRefused{}, &Closed{h},
		&Revealed{true, []Revealing{{"triangle", 24, 13, 0.028441128095468789, true, Different, 0.04}}},
		&Abandoned{reason}, &LabNamed{"Bench 2"}, &LotEntered{lotWater}, &LotReleased{releases()[0]},
		&PersonEntered{"p-1", facts}, &PersonChanged{"p-1", facts}, &PeopleMerged{"p-2", "p-1", true}, &PersonErased{"p-1", true, 2}, &ErasureFinished{"p-1"},
		&SeatsTied{"p-1", []SeatRef{{roomID, 3}}}, &SeatUntied{SeatRef{roomID, 3}},
		&SeriesBegun{"s-1", "p-1", SeriesTerms{Triangle.Key, KindControl, "brew diluted to 90 %", 0.4, 0.7, 0.05, 0.1}},
		&SeriesEnded{"s-1", SeriesGivenUp, 5, 7, &note},
		&RuleSet{Rule{"Dilution", Triangle.Key, KindControl, "brew diluted to 90 %", 12, 8, &RuleLines{0.4, 0.7, 0.05, 0.1}, 12}},
		&Qualified{Qualification{"p-1", "Dilution", true, "8 of 12 right", 8, 12, noon, noon.AddDate(1, 0, 0), &RuleCounts{3, 12, true, true, 1, 3, noon}, true}},
		&RecordsImported{[]PaperRecord{{"p-1", "2029-11-05", Triangle.Key, KindControl, "brew diluted to 90 %", 1.2, 12, 8, "binder 3"}}},
		&BackedUp{"lab-copy.oddcup"},
	}
}

func TestEveryKindComesBack(t *testing.T) {
	if len(kinds) != 47 {
		t.Errorf("%d kinds are registered; two with one name?", len(kinds))
	}
	seen := map[string]bool{}
	for _, ev := range samples() {
		seen[ev.Kind()] = true
		if _, ok := kinds[ev.Kind()]; !ok {
			t.Errorf("%T: kind %q is not registered", ev, ev.Kind())
			continue
		}
		beside := map[Hash]Text{}
		for _, x := range textsOf(ev) {
			beside[x.Digest] = *x
		}
		in := Recorded{Seq: 7, At: noon, Actor: Taster(3), Command: cmdID(9), Event: ev}
		e, err := NewEntry(7, phone(5), in)
		if err != nil {
			t.Errorf("%T: %v", ev, err)
			continue
		}
		in.Hash = e.Hash
		if e.Hash != sha256.Sum256(e.Stored) || e.Prev != phone(5) || e.Seq != 7 || e.Version != 1 {
			t.Errorf("%T: entry %+v", ev, e)
		}
		again, err := ParseEntry(e.Stored)
		if err != nil || !reflect.DeepEqual(again, e) {
			t.Errorf("%T: stored bytes read as %+v, %v", ev, again, err)
		}
		out, err := again.Record(beside)
		if err != nil || !reflect.DeepEqual(out, in) {
			t.Errorf("%T came back as\n%+v, %v, want\n%+v", ev, out.Event, err, ev)
		}
	}
	for name := range kinds {
		if !seen[name] {
			t.Errorf("kind %q has no sample here", name)
		}
	}
}

// A field that no sample sets is not held by the test above.
func TestSamplesSetEveryField(t *testing.T) {
	set := map[string]bool{}
	var walk func(at string, v reflect.Value)
	walk = func(at string, v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(at, v.Elem())
			}
		case reflect.Struct:
			if v.Type() == reflect.TypeFor[time.Time]() {
				set[at] = set[at] || !v.IsZero()
				return
			}
			for i := range v.NumField() {
				walk(at+"."+v.Type().Field(i).Name, v.Field(i))
			}
		case reflect.Slice:
			if v.Len() == 0 {
				set[at] = set[at] || false
			}
			for i := range v.Len() {
				walk(at+"[]", v.Index(i))
			}
		default:
			set[at] = set[at] || !v.IsZero()
		}
	}
	for _, ev := range samples() {
		walk(ev.Kind(), reflect.ValueOf(ev))
	}
	if len(set) < 50 {
		t.Fatalf("walked %d fields", len(set))
	}
	for at, ok := range set {
		// Lots carry a note at one of their places.
		if !ok && !strings.HasSuffix(at, ".Note") && !strings.HasSuffix(at, "[].TwoSided") {
			t.Errorf("%s is never set", at)
		}
	}
}

func chain(t *testing.T) []Entry {
	t.Helper()
	g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	g.do(Serve{Round: 1}, g.answer(1, 1, 0, true), g.answer(2, 1, 0, false))
	if err := CheckChain(g.entries); err != nil {
		t.Fatal(err)
	}
	return g.entries
}

// reread parses stored bytes anew, as a journal on disk is read.
func reread(t *testing.T, entries []Entry) []Entry {
	t.Helper()
	var again []Entry
	for _, e := range entries {
		n, err := ParseEntry(e.Stored)
		if err != nil {
			t.Fatal(err)
		}
		again = append(again, n)
	}
	return again
}

func TestChainNamesWhatIsOutOfPlace(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func([]Entry) []Entry
		say   string // the entry that is named
	}{
		{"first removed", func(e []Entry) []Entry { return e[1:] }, "entry 2: stands in place 1"},
		{"removed", func(e []Entry) []Entry { return slices.Delete(e, 4, 5) }, "entry 6: stands in place 5"},
		{"swapped", func(e []Entry) []Entry { e[4], e[5] = e[5], e[4]; return e }, "entry 6: stands in place 5"},
		{"duplicated", func(e []Entry) []Entry { return slices.Insert(e, 5, e[4]) }, "entry 5: stands in place 6"},
		{"altered", func(e []Entry) []Entry {
			e[4].Stored = bytes.Replace(e[4].Stored, []byte(`"host"`), []byte(`"hosT"`), 1)
			return e
		}, "entry 6: does not follow entry 5"},
	} {
		entries := chain(t)
		err := CheckChain(reread(t, c.spoil(entries)))
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v, want %q", c.name, err, c.say)
		}
	}
	// Bytes that do not fit the hash held beside them.
	entries := chain(t)
	entries[4].Stored = append(slices.Clone(entries[4].Stored), ' ')
	if err := CheckChain(entries); err == nil || !strings.Contains(err.Error(), "entry 5: its hash") {
		t.Errorf("bytes without their hash: %v", err)
	}
	// Every single bit of a stored journal counts, the last entry's apart: its
	// hash goes on paper.
	entries = chain(t)
	for i := range entries[:len(entries)-1] {
		for at := 0; at < len(entries[i].Stored); at += 97 {
			spoilt := slices.Clone(entries)
			spoilt[i].Stored = slices.Clone(entries[i].Stored)
			spoilt[i].Stored[at] ^= 1
			e, err := ParseEntry(spoilt[i].Stored)
			if err != nil {
				continue // refused on reading
			}
			spoilt[i] = e
			if CheckChain(spoilt) == nil {
				t.Errorf("entry %d, byte %d: a changed bit goes unseen", i+1, at)
			}
		}
	}
	if CheckChain(nil) != nil {
		t.Error("an empty journal is broken")
	}
}

func TestNewerEntriesAreRefused(t *testing.T) {
	for _, raw := range []string{
		`{"seq":1,"at":"2031-03-05T12:00:00Z","actor":"host","kind":"paused","version":2,"prev":"` + Hash{}.String() + `","body":{}}`,
		`{"seq":1,"at":"2031-03-05T12:00:00Z","actor":"host","kind":"scored","version":1,"prev":"` + Hash{}.String() + `","body":{}}`,
	} {
		e, err := ParseEntry([]byte(raw))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := e.Record(nil); !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "entry 1") {
			t.Errorf("%s: %v", e.Kind, err)
		}
		var j Memory
		if err := j.Append(t.Context(), roomID, []Entry{e}, nil); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenRoom(t.Context(), &j, roomID); !errors.Is(err, ErrNewer) {
			t.Errorf("%s: opened: %v", e.Kind, err)
		}
	}
}

func TestParseEntryRefuses(t *testing.T) {
	good := string(chain(t)[0].Stored)
	for name, raw := range map[string]string{
		"nothing":             "",
		"no JSON":             "hello",
		"a list":              "[]",
		"null":                "null",
		"cut":                 good[:len(good)-1],
		"two":                 good + good,
		"a brace behind":      good + "}",
		"a bracket behind":    good + "]",
		"no number":           strings.Replace(good, `"seq":1`, `"seq":0`, 1),
		"a negative number":   strings.Replace(good, `"seq":1`, `"seq":-1`, 1),
		"version 0":           strings.Replace(good, `"version":1`, `"version":0`, 1),
		"no kind":             strings.Replace(good, `"kind":"drafted"`, `"kind":""`, 1),
		"a short hash":        strings.Replace(good, Hash{}.String(), "00", 1),
		"a hash of no digits": strings.Replace(good, Hash{}.String(), strings.Repeat("g", 64), 1),
		"a bad command":       strings.Replace(good, `"kind"`, `"command":"12","kind"`, 1),
		"a bad time":          strings.Replace(good, `"at":"2031-03-05`, `"at":"2031-13-05`, 1),
	} {
		if raw == good {
			t.Fatalf("%s: nothing was spoilt", name)
		}
		if e, err := ParseEntry([]byte(raw)); !errors.Is(err, ErrBadEntry) || e.Stored != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Fields are only ever added: one that is not known is a newer program's.
	newer := strings.Replace(good, `{"seq"`, `{"sequence":1,"seq"`, 1)
	if e, err := ParseEntry([]byte(newer)); !errors.Is(err, ErrNewer) || e.Stored != nil {
		t.Errorf("an unknown field: %v", err)
	}
	for _, body := range []string{`[]`, `{"seat":"one"}`, `{"seat":1.5}`, `null`} {
		raw := `{"seq":1,"at":"2031-03-05T12:00:00Z","actor":"host","kind":"seat freed","version":1,"prev":"` + Hash{}.String() + `","body":` + body + `}`
		e, err := ParseEntry([]byte(raw))
		if err == nil {
			_, err = e.Record(nil)
		}
		if !errors.Is(err, ErrBadEntry) {
			t.Errorf("body %s: %v", body, err)
		}
	}
}

func TestWordsStayBesideTheJournal(t *testing.T) {
	g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	g.do(Serve{Round: 1}, Void{Seat: 1, Set: 1, Reason: text("Spilt over the table")}, LeaveSeat{2, text("Called away")}, Abandon{text("Kettle broke")})
	words := []string{"Taster 1", "Taster 2", "Mira Tal", "Spilt over the table", "Called away", "Kettle broke"}
	for _, e := range g.entries {
		for _, w := range words {
			if bytes.Contains(e.Stored, []byte(w)) {
				t.Errorf("entry %d, %s: holds %q", e.Seq, e.Kind, w)
			}
		}
		for d, x := range g.texts {
			if len(x.Salt) != 16 || x.Digest != d || !x.Matches() {
				t.Errorf("text %q does not fit its digest", x.Words)
			}
			for _, form := range [][]byte{x.Salt, must(json.Marshal(x.Salt))} {
				if bytes.Contains(e.Stored, form) {
					t.Errorf("entry %d holds the salt of %q", e.Seq, x.Words)
				}
			}
		}
	}
	all := slices.Collect(maps.Values(g.texts))
	if len(all) != len(words) {
		t.Errorf("%d texts beside the journal, want %d", len(all), len(words))
	}
	// Erased words leave the chain whole, and the session readable.
	g.texts = map[Hash]Text{}
	if err := CheckChain(reread(t, g.entries)); err != nil {
		t.Error(err)
	}
	s := g.replayed(g.s.Seq)
	if s.Phase != PhaseAbandoned || s.AbandonedFor.Words != "" || s.Seats[0].Name.Words != "" || s.Seats[0].Person == "" ||
		s.AbandonedFor.Digest != g.s.AbandonedFor.Digest {
		t.Errorf("after erasing: %+v", s.AbandonedFor)
	}
}

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

// The digest recomputed from what its comment says: SHA-256 of salt and words.
func TestTextDigest(t *testing.T) {
	x, err := NewText("spilt", chance(4))
	if err != nil {
		t.Fatal(err)
	}
	if x.Digest != sha256.Sum256(append(slices.Clone(x.Salt), "spilt"...)) || !x.Matches() {
		t.Error("the digest is not that of salt and words")
	}
	other, _ := NewText("spilt", chance(5))
	if other.Digest == x.Digest {
		t.Error("two salts give one digest")
	}
	x.Words = "split"
	if x.Matches() {
		t.Error("other words match")
	}
	if _, err := NewText("x", bytes.NewReader(make([]byte, 15))); err == nil {
		t.Error("a text with half a salt")
	}
}

func TestAppendFollows(t *testing.T) {
	entries := chain(t)
	var j Memory
	if err := j.Append(t.Context(), roomID, entries[1:], nil); !errors.Is(err, ErrConflict) {
		t.Errorf("a journal that begins with its second entry: %v", err)
	}
	if err := j.Append(t.Context(), roomID, entries[:3], nil); err != nil {
		t.Fatal(err)
	}
	alien, err := NewEntry(4, phone(1), Recorded{At: noon, Actor: Host, Event: &Paused{}})
	if err != nil {
		t.Fatal(err)
	}
	for name, next := range map[string][]Entry{
		"again": entries[2:3], "a gap": entries[4:5], "a gap inside": {entries[3], entries[5]},
		"another journal's": {alien},
	} {
		if err := j.Append(t.Context(), roomID, next, nil); !errors.Is(err, ErrConflict) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if have, _, _ := j.Load(t.Context(), roomID); len(have) != 3 {
		t.Errorf("a refused append left %d entries", len(have))
	}
	if err := j.Append(t.Context(), roomID, entries[3:], nil); err != nil {
		t.Error(err)
	}
	if have, _, err := j.Load(t.Context(), "nobody"); len(have) != 0 || err != nil {
		t.Errorf("an unknown journal: %d entries, %v", len(have), err)
	}
}

func FuzzParseEntry(f *testing.F) {
	for _, ev := range samples() {
		e, err := NewEntry(1, Hash{}, Recorded{At: noon, Actor: Host, Command: cmdID(2), Event: ev})
		if err != nil {
			f.Fatal(err)
		}
		f.Add([]byte(e.Stored))
	}
	f.Add([]byte(`{"seq":1,"kind":"locked","version":1,"body":null}`))
	f.Add([]byte(`{"seq":18446744073709551615,"kind":"list frozen","version":1,"body":{"seats":null}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		e, err := ParseEntry(raw)
		if err != nil {
			if !errors.Is(err, ErrBadEntry) || !reflect.DeepEqual(e, Entry{}) {
				t.Fatalf("%v with entry %+v", err, e)
			}
			return
		}
		if !bytes.Equal(e.Stored, raw) || e.Hash != sha256.Sum256(raw) {
			t.Fatal("stored bytes or hash are not of what was read")
		}
		rec, err := e.Record(nil)
		if err != nil {
			if !errors.Is(err, ErrBadEntry) && !errors.Is(err, ErrNewer) {
				t.Fatal(err)
			}
			return
		}
		// What was read can be written and reads the same.
		again, err := NewEntry(e.Seq, e.Prev, rec)
		if err != nil {
			t.Fatal(err)
		}
		if rec2, err := again.Record(nil); err != nil || !reflect.DeepEqual(rec.Event, rec2.Event) {
			t.Fatalf("%+v came back as %+v, %v", rec.Event, rec2.Event, err)
		}
	})
}

// A broken chain can be told apart from other trouble.
func TestBrokenChainIsErrChain(t *testing.T) {
	g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	if err := CheckChain(g.entries[1:]); !errors.Is(err, ErrChain) {
		t.Errorf("the first entry taken out: %v", err)
	}
}
