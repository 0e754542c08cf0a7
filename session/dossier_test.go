package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
)

// smallSession is a revealed session of two seats, with something of everything
// that a session file holds: a set taken out and poured again, a seat on paper,
// a deviation, an amendment, erased words.
func smallSession(t tester) *game {
	t.Helper()
	p := planOf(2, triangles(1))
	g := newGame(t).toOpen(p, 2)
	g.do(Serve{Round: 1}, g.answer(1, 1, 0, true), Void{Seat: 2, Set: 1, Reason: text("Spilt <over> & under"), Replace: true})
	g.do(g.answer(2, 1, 1, true), NoteDeviation{text("The kettle was refilled")}, Close{}, Reveal{})
	g.do(Amend{Seat: 1, Set: 1, Reason: text("The wrong lot was poured")})
	delete(g.texts, text("Taster 2").Digest)
	return g
}

// file is the session file of a game.
func (g *game) file() []byte {
	g.t.Helper()
	d, err := NewDossier("Bench 2 (invented)", g.s.ID, g.entries, g.texts)
	if err != nil {
		g.t.Fatal(err)
	}
	b, err := d.Bytes()
	if err != nil {
		g.t.Fatal(err)
	}
	return b
}

func TestDossierRoundTrip(t *testing.T) {
	g := smallSession(t)
	b := g.file()
	d, err := ReadDossier(b)
	if err != nil {
		t.Fatal(err)
	}
	if d.Laboratory != "Bench 2 (invented)" || d.Session != g.s.ID || len(d.Entries) != len(g.entries) || !maps.EqualFunc(d.Texts, g.texts, func(a, b Text) bool { return reflect.DeepEqual(a, b) }) {
		t.Errorf("read back %q, %s, %d entries, %d texts", d.Laboratory, d.Session, len(d.Entries), len(d.Texts))
	}
	again, err := d.Bytes()
	if err != nil || !bytes.Equal(again, b) {
		t.Errorf("written again it differs: %v", err)
	}
	s, err := d.State()
	if err != nil || !reflect.DeepEqual(s, g.replayed(g.s.Seq)) {
		t.Errorf("its state is another one: %v", err)
	}
	if s.Seats[0].Name.Words != "Taster 1" || s.Seats[1].Name.Words != "" {
		t.Errorf("names %q and %q", s.Seats[0].Name.Words, s.Seats[1].Name.Words)
	}
}

// The file is as its description says, read here with no code of the package.
func TestDossierIsAsDescribed(t *testing.T) {
	g := smallSession(t)
	b := string(g.file())
	lines := strings.SplitAfter(b, "\n")
	if lines[len(lines)-1] != "" {
		t.Fatal("the last line does not end")
	}
	lines = lines[:len(lines)-1]
	head := fmt.Sprintf(`{"oddcup":"session","v":1,"laboratory":"Bench 2 (invented)","session":"20310305-120000-0102030405","entries":%d}`+"\n", len(g.entries))
	if lines[0] != head {
		t.Errorf("begins with %s, want %s", lines[0], head)
	}
	prev := strings.Repeat("0", 64)
	var digests []string // of texts, as the entries hold them
	for i := range g.entries {
		line := strings.TrimSuffix(lines[1+i], "\n")
		var e struct {
			Seq  int
			Prev string
			Body json.RawMessage
		}
		if err := json.Unmarshal([]byte(line), &e); err != nil || e.Seq != i+1 || e.Prev != prev {
			t.Fatalf("entry %d: %v, %+v", i+1, err, e)
		}
		prev = fmt.Sprintf("%x", sha256.Sum256([]byte(line)))
		for _, part := range strings.Split(string(e.Body), `{"digest":"`)[1:] {
			digests = append(digests, part[:64])
		}
	}
	var kept []string
	for _, line := range lines[1+len(g.entries) : len(lines)-1] {
		var x struct{ Digest, Salt, Words string }
		if err := json.Unmarshal([]byte(line), &x); err != nil {
			t.Fatal(err)
		}
		var salt []byte
		fmt.Sscanf(x.Salt, "%x", &salt)
		if sum := fmt.Sprintf("%x", sha256.Sum256(append(salt, x.Words...))); len(salt) != 16 || sum != x.Digest {
			t.Errorf("text %q: digest %s, its words give %s", x.Words, x.Digest, sum)
		}
		kept = append(kept, x.Digest)
	}
	want := slices.DeleteFunc(digests, func(d string) bool { return d == text("Taster 2").Digest.String() })
	var once []string
	for _, d := range want {
		if !slices.Contains(once, d) {
			once = append(once, d)
		}
	}
	if !slices.Equal(kept, once) || len(kept) != 5 {
		t.Errorf("texts stand in the order\n%v\nwant\n%v", kept, once)
	}
	last := lines[len(lines)-1]
	end := fmt.Sprintf(`{"sha256":"%x","head":"%s"}`+"\n", sha256.Sum256([]byte(strings.TrimSuffix(b, last))), prev)
	if last != end {
		t.Errorf("ends with %s, want %s", last, end)
	}
	if !strings.Contains(b, `Spilt \u003cover\u003e \u0026 under`) {
		t.Error("a reason is not written as described")
	}
}

// Every single-byte change is found: each byte replaced, deleted, and another
// one put before it, the header and the last line included.
func TestEveryChangedByteIsFound(t *testing.T) {
	g := newGame(t).toFrozen(planOf(2, triangles(1)), 2)
	g.do(Open{Releases: releases()}, Serve{Round: 1}, g.answer(1, 1, 0, true), Close{}, Reveal{})
	b := g.file()
	if r := VerifyDossier(b, Paper{}); !r.OK() {
		t.Fatal(r.Findings)
	}
	tries := 0
	var mu sync.Mutex
	var wait sync.WaitGroup
	const workers = 2
	for worker := range workers {
		wait.Go(func() {
			n := 0
			for at := worker; at <= len(b); at += workers {
				for _, c := range changesAt(b, at) {
					n++
					if bytes.Equal(c, b) {
						continue // a digit put before its like, and the like
					}
					if r := VerifyDossier(c, Paper{}); r.OK() {
						t.Errorf("byte %d of %d: a change is not found: %q", at, len(b), c[max(0, at-20):min(len(c), at+20)])
					}
				}
			}
			mu.Lock()
			tries += n
			mu.Unlock()
		})
	}
	wait.Wait()
	if tries < 4*len(b) {
		t.Errorf("only %d changes of %d bytes were tried", tries, len(b))
	}
	t.Logf("%d changes of a file of %d bytes", tries, len(b))
}

// changesAt are single-byte changes at a place: one bit, another letter case or
// half of the table, a byte put before it, the byte taken out; at the end an
// insertion alone.
func changesAt(b []byte, at int) [][]byte {
	all := [][]byte{slices.Insert(bytes.Clone(b), at, " \n0\""[at%4])}
	if at == len(b) {
		return all
	}
	for _, x := range []byte{1 << (at % 3), []byte{0x20, 0x80}[at%2]} {
		c := bytes.Clone(b)
		c[at] ^= x
		all = append(all, c)
	}
	return append(all, slices.Delete(bytes.Clone(b), at, at+1))
}

// Damage is named by the entry it is in.
func TestDamageIsNamed(t *testing.T) {
	g := smallSession(t)
	b := g.file()
	lines := bytes.SplitAfter(b, []byte("\n"))
	n := len(g.entries)
	join := func(l ...[][]byte) []byte { return bytes.Join(slices.Concat(l...), nil) }
	replace := func(line int, old, new string) []byte {
		l := slices.Clone(lines)
		l[line] = bytes.Replace(l[line], []byte(old), []byte(new), 1)
		return join(l)
	}
	for _, c := range []struct {
		name  string
		b     []byte
		entry uint64
		say   string
	}{
		{"nothing", nil, 0, "no session file"},
		{"another file", []byte("seat,set,pick\n1,1,417\n"), 0, "no session file"},
		{"an entry altered", replace(8, `"host"`, `"hosT"`), 8, "not as it was when entry 9 was written"},
		{"the first entry altered", replace(1, `"host"`, `"hosT"`), 1, "not as it was when entry 2"},
		{"the last entry altered", replace(n, `"host"`, `"hosT"`), uint64(n), "head hash"},
		{"an entry no more readable", replace(5, `{"seq"`, `{"seq`), 5, "not a journal entry"},
		{"an entry taken out", join(lines[:4], lines[5:]), 4, "entry 5 stands in its place"},
		{"two entries swapped", join(lines[:4], [][]byte{lines[5], lines[4]}, lines[6:]), 4, "entry 5 stands in its place"},
		{"an entry twice", join(lines[:5], lines[4:]), 5, "entry 4 stands in its place"},
		{"the laboratory's name", replace(0, "Bench 2", "Bench 3"), 0, "sum"},
		{"the session's name", replace(0, "0102030405", "0102030406"), 0, "sum"},
		{"typed words", replace(n+1, "Taster 1", "Taster 3"), 5, "words"},
		{"a text taken out", join(lines[:n+1], lines[n+2:]), 0, "sum"},
		{"cut short after an entry", join(lines[:9]), 0, "last line"},
		{"cut short in an entry", join(lines[:9], [][]byte{lines[9][:40]}), 9, "not a journal entry"},
		{"without its end", bytes.TrimSuffix(b, []byte("\n")), 0, "does not end"},
		{"a newer file", replace(0, `"v":1`, `"v":2`), 0, "version 2"},
		{"a file too large", bytes.Repeat([]byte("x"), MostDossier+1), 0, "more than"},
	} {
		r := VerifyDossier(c.b, Paper{})
		f, bad := r.First()
		if !bad || f.Entry != c.entry || !strings.Contains(f.Say, c.say) {
			t.Errorf("%s: found %v, want entry %d and %q", c.name, r.Findings, c.entry, c.say)
		}
		// Of what a newer version wrote nothing else is said, least of all that it was tampered with.
		if f.Kind == FoundNewer && len(r.Findings) != 1 {
			t.Errorf("%s: also found %v", c.name, r.Findings)
		}
		if d, err := ReadDossier(c.b); err == nil || d.Entries != nil || !errors.Is(err, ErrDossier) && !errors.Is(err, ErrNewer) {
			t.Errorf("%s: read, %v", c.name, err)
		}
	}
}

// A file whose own sum was computed again is refused where its form is another.
func TestOtherFormsAreRefused(t *testing.T) {
	b := string(smallSession(t).file())
	lines := strings.SplitAfter(b, "\n")
	n := strings.Count(b, `{"seq"`)
	for name, change := range map[string]func(l []string) []string{
		"texts in another order": func(l []string) []string { l[n+1], l[n+2] = l[n+2], l[n+1]; return l },
		"a text twice":           func(l []string) []string { return slices.Insert(l, n+1, l[n+1]) },
		"a text of no entry": func(l []string) []string {
			x := text("never said")
			return slices.Insert(l, n+1, fmt.Sprintf(`{"digest":"%s","salt":"%x","words":"never said"}`+"\n", x.Digest, x.Salt))
		},
		"a space in the header": func(l []string) []string { l[0] = strings.Replace(l[0], ",", ", ", 1); return l },
		"a field in the header": func(l []string) []string { l[0] = strings.Replace(l[0], "}", `,"x":1}`, 1); return l },
		"fields in another order": func(l []string) []string {
			l[0] = strings.Replace(l[0], `"oddcup":"session","v":1`, `"v":1,"oddcup":"session"`, 1)
			return l
		},
		"a letter written as \\u":  func(l []string) []string { l[n+1] = strings.Replace(l[n+1], "Taster", `\u0054aster`, 1); return l },
		"a line of something else": func(l []string) []string { return slices.Insert(l, n+1, "{}\n") },
		"an empty line":            func(l []string) []string { return slices.Insert(l, n+1, "\n") },
		"carriage returns":         func(l []string) []string { l[0] = strings.Replace(l[0], "\n", "\r\n", 1); return l },
		"the register's name": func(l []string) []string {
			l[0] = strings.Replace(l[0], "20310305-120000-0102030405", "lab", 1)
			return l
		},
		"a name that is none":    func(l []string) []string { l[0] = strings.Replace(l[0], "20310305", "../10305", 1); return l },
		"fewer entries promised": func(l []string) []string { l[0] = strings.Replace(l[0], fmt.Sprint(n), fmt.Sprint(n-1), 1); return l },
		"entries below nothing":  func(l []string) []string { l[0] = strings.Replace(l[0], fmt.Sprint(n), "-1", 1); return l },
		"a name too long": func(l []string) []string {
			l[0] = strings.Replace(l[0], "Bench", strings.Repeat("Bench", 12), 1)
			return l
		},
		"version 0":                 func(l []string) []string { l[0] = strings.Replace(l[0], `"v":1`, `"v":0`, 1); return l },
		"digits in capital letters": func(l []string) []string { l[n+1] = strings.ToUpper(l[n+1][:90]) + l[n+1][90:]; return l },
	} {
		l := change(slices.Clone(lines[:len(lines)-2]))
		body := strings.Join(l, "")
		if body == strings.Join(lines[:len(lines)-2], "") {
			t.Errorf("%s: nothing was changed", name)
		}
		head := lines[len(lines)-2][len(`{"sha256":"`)+64:]
		c := fmt.Appendf(nil, `%s{"sha256":"%x%s`, body, sha256.Sum256([]byte(body)), head)
		r := VerifyDossier(c, Paper{})
		f, bad := r.First()
		if !bad {
			t.Errorf("%s: not found", name)
		}
		if l[0] != lines[0] && !strings.Contains(f.Say, "line 1") && !strings.HasPrefix(name, "fewer") {
			t.Errorf("%s: found %s, which does not name the line", name, f)
		}
	}
}

// Erased words are no damage: the file without them is another one, and whole.
func TestErasedWordsAreAbsent(t *testing.T) {
	g := smallSession(t)
	g.texts = nil
	b := g.file()
	if r := VerifyDossier(b, Paper{}); !r.OK() || bytes.Count(b, []byte("\n")) != len(g.entries)+2 {
		t.Errorf("%d lines: %v", bytes.Count(b, []byte("\n")), r.Findings)
	}
}

func TestNoDossierBeforeTheReveal(t *testing.T) {
	made := 0
	for _, stage := range stages {
		g := newGame(t)
		stage.play(g)
		d, err := NewDossier("", g.s.ID, g.entries, g.texts)
		if stage.name == "revealed" {
			if made++; err != nil {
				t.Error(err)
			}
			continue
		}
		if len(g.entries) > 0 && !errors.Is(err, ErrSealed) || err == nil || d.Entries != nil {
			t.Errorf("%s: %v", stage.name, err)
		}
	}
	if made != 1 {
		t.Error("no stage is revealed")
	}
	// A seal that was broken with a reason opens no file either.
	g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	g.do(BreakSeal{text("A taster felt unwell")}, Close{})
	if _, err := NewDossier("", g.s.ID, g.entries, g.texts); !errors.Is(err, ErrSealed) {
		t.Errorf("broken: %v", err)
	}
	// Nor is there one of a journal that is damaged.
	g = smallSession(t)
	if _, err := NewDossier("", g.s.ID, slices.Delete(slices.Clone(g.entries), 5, 6), g.texts); !errors.Is(err, ErrChain) {
		t.Errorf("an entry taken out: %v", err)
	}
}

func TestRoomsGiveTheDossier(t *testing.T) {
	g := smallSession(t)
	var j Memory
	if err := j.Append(t.Context(), g.s.ID, g.entries, slices.Collect(maps.Values(g.texts))); err != nil {
		t.Fatal(err)
	}
	rooms, err := NewRooms(t.Context(), &j)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	if _, err := rooms.Lab().Do(t.Context(), Command{At: noon, Actor: Host, Act: NameLab{"Bench 2 (invented)"}}); err != nil {
		t.Fatal(err)
	}
	if b, err := rooms.Dossier(t.Context(), g.s.ID); err != nil || !bytes.Equal(b, g.file()) {
		t.Errorf("not the file: %v", err)
	}
	if _, err := rooms.Dossier(t.Context(), "nobody"); !errors.Is(err, ErrNoSession) {
		t.Errorf("of no session: %v", err)
	}
	h := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	h.s.ID = "20310306-120000-0102030405"
	if err := j.Append(t.Context(), h.s.ID, h.entries, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := rooms.Dossier(t.Context(), h.s.ID); !errors.Is(err, ErrSealed) {
		t.Errorf("of an open session: %v", err)
	}
}

// Session files of the first version are read for ever. They are of invented
// sessions, and this program wrote them when the form was made: two triangles
// with all that can happen to a set, and a test that could stop early, of two
// flights with two tests. What was on paper then stands beside them.
func TestOldSessionFilesVerify(t *testing.T) {
	for _, c := range []struct {
		name, digest, head string
		through            uint64
	}{
		{"triangle", "6bc50dfe632e76588eb9937b7b62ed3245a8e989159696ec9c1bd8fce6cb6be6", "300caa3628e8c3ab589517f650afd1aa27a28df1c62bd50340db5da779fc0b35", 15},
		{"sequential", "b975 c360 309e f2be", "f47b 4252 0613 d28f", 42},
	} {
		b, err := os.ReadFile("../testdata/sessions/" + c.name + DossierExtension)
		if err != nil {
			t.Fatal(err)
		}
		paper, err := ReadPaper(c.digest, c.head)
		if err != nil {
			t.Fatal(err)
		}
		r := VerifyDossier(b, paper)
		if !r.OK() || !r.Origin.Sealed || r.Origin.Through != c.through {
			t.Errorf("%s: %s\n%v\n%+v", c.name, r.Words(), r.Findings, r.Origin)
		}
	}
}

// A journal as a program wrote it that knew one goal and two methods: its bytes
// are held by TestOldPlansAreSealedAsBefore.
func TestOldJournalVerifies(t *testing.T) {
	g, _ := played(t, oldPlan(), 24, 13, 18)
	if r := Verify(g.s.ID, g.entries, nil, Paper{}); !r.OK() || r.Phase != PhaseRevealed || r.Entries != 83 {
		t.Errorf("%v, %+v", r.Findings, r)
	}
}

func FuzzReadDossier(f *testing.F) {
	b := smallSession(f).file()
	f.Add(b)
	f.Add([]byte(`{"oddcup":"session","v":1,"laboratory":"","session":"a","entries":1}` + "\n{}\n{}\n"))
	f.Add([]byte(`{"oddcup":"session","v":1,"laboratory":"","session":"a","entries":9223372036854775807}` + "\n"))
	lines := bytes.SplitAfter(b, []byte("\n"))
	f.Add(bytes.Join(lines[:3], nil))
	f.Fuzz(func(t *testing.T, raw []byte) {
		d, err := ReadDossier(raw)
		if err != nil {
			if !errors.Is(err, ErrDossier) && !errors.Is(err, ErrNewer) || d.Entries != nil {
				t.Fatalf("%v with %d entries", err, len(d.Entries))
			}
			if VerifyDossier(raw, Paper{}).OK() {
				t.Fatal("refused, and nothing was found")
			}
			return
		}
		if again, err := d.Bytes(); err != nil || !bytes.Equal(again, raw) {
			t.Fatalf("written again it differs: %v", err)
		}
	})
}

// FuzzVerify changes entries, recomputes all hashes, and so gets past the chain:
// nothing may panic or go on for ever on what another hand has written.
func FuzzVerify(f *testing.F) {
	f.Add(uint64(1), uint16(3), []byte(`"sets":2`), uint16(200))
	f.Add(uint64(2), uint16(3), []byte(`"seats":99999999`), uint16(500))
	f.Add(uint64(3), uint16(9), []byte(`-1`), uint16(20))
	f.Fuzz(func(t *testing.T, seed uint64, entry uint16, put []byte, at uint16) {
		g := smallSession(t)
		rng := rand.New(rand.NewPCG(seed, 1))
		i := int(entry) % len(g.entries)
		body := bytes.Clone(g.entries[i].Body)
		from := int(at) % len(body)
		to := min(len(body), from+rng.IntN(len(put)+2))
		body = slices.Replace(body, from, to, put...)
		if !json.Valid(body) {
			return
		}
		entries := rechained(t, g.entries, func(j int, s *stored) {
			if j == i {
				s.Body = body
			}
		})
		if entries == nil {
			return
		}
		Verify(g.s.ID, entries, g.texts, Paper{})
	})
}

// rechained is a journal with each entry's stored form changed and all hashes
// made anew, as who can write to the file can do it; nil where no entry can hold
// what came of it.
func rechained(t tester, entries []Entry, change func(i int, s *stored)) []Entry {
	t.Helper()
	var all []Entry
	var prev Hash
	for i, e := range entries {
		var s stored
		if err := json.Unmarshal(e.Stored, &s); err != nil {
			t.Fatal(err)
		}
		change(i, &s)
		s.Seq, s.Prev = uint64(i)+1, prev
		if s.Kind == (*Closed)(nil).Kind() {
			s.Body = must(json.Marshal(Closed{prev}))
		}
		raw, err := json.Marshal(s)
		if err != nil {
			return nil
		}
		n, err := ParseEntry(raw)
		if err != nil {
			return nil
		}
		all, prev = append(all, n), n.Hash
	}
	return all
}
