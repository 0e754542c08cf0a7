package main

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
	"oddcup/store"
)

// benchFile is a data file with three invented sessions: one revealed, one
// closed, one abandoned.
type benchFile struct {
	path                        string
	revealed, closed, abandoned session.ID
	digest, head                session.Hash // of the revealed one
}

func newBenchFile(t *testing.T) benchFile {
	t.Helper()
	ctx := t.Context()
	f := benchFile{path: filepath.Join(t.TempDir(), "lab.oddcup")}
	db, err := store.Open(f.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	at := time.Date(2031, 3, 5, 12, 0, 0, 0, time.UTC)
	if _, err := rooms.Lab().Do(ctx, session.Command{At: at, Actor: session.Host, Act: session.NameLab{Name: "Bench 2 (invented)"}}); err != nil {
		t.Fatal(err)
	}
	text := func(words string) session.Text {
		x, err := session.NewText(words, rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	play := func(last ...session.Act) session.ID {
		p := session.UsualPlan()
		p.Title, p.Seats, p.Tests = "Wednesday table", 3, p.Tests[:1]
		p.Untreated = session.Lot{ID: "lot-1", Number: "QX-301", Treatment: "untreated"}
		p.Processed = session.Lot{ID: "lot-2", Number: "QX-302", Treatment: "water"}
		at = at.Add(time.Hour)
		id, err := session.NewID(at, rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		room, err := rooms.New(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		do := func(acts ...session.Act) {
			for _, a := range acts {
				at = at.Add(time.Second)
				if _, err := room.Do(ctx, session.Command{At: at, Actor: session.Host, Act: a}); err != nil {
					t.Fatalf("%T: %v", a, err)
				}
			}
		}
		pin, err := session.NewPin("4711", rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		sealing, err := session.Seal(p, rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		do(session.Draft{Plan: p}, session.SetPin{Pin: pin}, session.SealPlan{Sealing: sealing}, session.OpenLobby{})
		for seat := 1; seat <= 3; seat++ {
			do(session.Sit{Seat: seat, Name: text(fmt.Sprintf("Taster %d", seat)), Token: session.HashToken([]byte{byte(seat)})})
		}
		do(session.FreezeList{}, session.OpenPourSheet{Pin: "4711"}, session.Open{Releases: []session.Release{
			{Lot: "lot-1", By: text("Q. Invented"), Report: "R-1", At: at}, {Lot: "lot-2", By: text("Q. Invented"), Report: "R-2", At: at},
		}}, session.Serve{Round: 1})
		for seat := 1; seat <= 3; seat++ {
			do(session.Lock{Seat: seat, Set: 1, Pick: room.State().Codes(seat, 1, 0)[seat-1], PhoneAt: at})
		}
		do(last...)
		if s := room.State(); s.Phase == session.PhaseRevealed {
			f.digest, f.head = s.Digest, s.ClosedAt
		}
		return id
	}
	f.revealed = play(session.Close{}, session.Reveal{})
	f.closed = play(session.Close{})
	f.abandoned = play(session.Abandon{Reason: text("no water")})
	return f
}

func TestVerifyDataFile(t *testing.T) {
	f := newBenchFile(t)
	before := sum(t, f.path)
	out, errs, code := command(t, "verify", f.path)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if code != 0 || errs != "" || len(lines) != 4 {
		t.Fatalf("code %d, %q, %q", code, out, errs)
	}
	for i, want := range []string{
		string(f.revealed) + ": revealed, ", string(f.closed) + ": closed, ", string(f.abandoned) + ": abandoned, ", "lab: the laboratory's register, 1 entry",
	} {
		if !strings.HasPrefix(lines[i], want) || !strings.HasSuffix(lines[i], ": consistent with itself; origin not shown") {
			t.Errorf("line %d: %q, want %q", i+1, lines[i], want)
		}
	}
	out, errs, code = command(t, "verify", f.path, string(f.revealed), "--digest", session.ShortDigest(f.digest), "--head", f.head.String())
	if code != 0 || strings.Count(out, "\n") != 1 || !strings.Contains(out, "all up to the close is what the head hash on paper stands for, and the result follows from it") {
		t.Errorf("with paper: code %d, %q, %q", code, out, errs)
	}
	out, _, code = command(t, "verify", f.path, string(f.revealed), "--digest", f.digest.String())
	if code != 0 || !strings.Contains(out, "of answers and all else, origin not shown") {
		t.Errorf("with the digest: code %d, %q", code, out)
	}
	if _, errs, code = command(t, "verify", f.path, string(f.revealed), "--entries", "3"); code != 2 || !strings.Contains(errs, "--head") {
		t.Errorf("a number without its hash: code %d, %q", code, errs)
	}
	if out, _, code = command(t, "verify", f.path, string(f.revealed), "--head", f.head.String(), "--entries", "1"); code != 1 || !strings.Contains(out, "the number beside it on paper is 1") {
		t.Errorf("another number: code %d, %q", code, out)
	}
	for _, paper := range [][]string{{"--digest", f.head.String()}, {"--head", f.digest.String()}} {
		out, errs, code = command(t, append([]string{"verify", f.path, string(f.revealed)}, paper...)...)
		if code != 1 || !strings.Contains(out, "WRONG\n  first: ") || !strings.Contains(out, "on paper") || !trouble(errs) {
			t.Errorf("%v of something else: code %d, %q, %q", paper, code, out, errs)
		}
	}
	if sum(t, f.path) != before {
		t.Error("the data file was altered")
	}
}

// trouble reports whether there is one line of trouble and one of hint.
func trouble(errs string) bool {
	lines := strings.Split(strings.TrimSuffix(errs, "\n"), "\n")
	return len(lines) == 2 && strings.HasPrefix(lines[0], "oddcup: error: ") && strings.HasPrefix(lines[1], "oddcup: hint: ")
}

func sum(t *testing.T, path string) [32]byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return sha256.Sum256(b)
}

func TestVerifyJSON(t *testing.T) {
	f := newBenchFile(t)
	var r struct {
		File, Kind string
		Wrong      int
		Sessions   []struct {
			Session, Phase   string
			Laboratory       *string
			Entries          int
			Digest, ClosedAt *string
			OK               bool
			Origin           struct {
				Digest  bool
				Entries int
			}
			Checks []struct{ What, State, Says string }
		}
	}
	out, errs, code := command(t, "verify", f.path, string(f.revealed), "--json", "--digest", session.ShortDigest(f.digest))
	if err := json.Unmarshal([]byte(out), &r); err != nil || code != 0 {
		t.Fatalf("%v, code %d: %s%s", err, code, out, errs)
	}
	s := r.Sessions[0]
	if r.File != f.path || r.Kind != "data file" || r.Wrong != 0 || len(r.Sessions) != 1 || s.Session != string(f.revealed) || s.Phase != "revealed" ||
		!s.OK || *s.Digest != f.digest.String() || *s.ClosedAt != f.head.String() || !s.Origin.Digest || s.Origin.Entries != 0 || s.Laboratory != nil {
		t.Errorf("read back %+v", r)
	}
	states := map[string]string{}
	for _, c := range s.Checks {
		states[c.What] = c.State
	}
	for what, want := range map[string]string{"chain": "holds", "seal": "holds", "drawing": "holds", "result": "holds", "digest on paper": "holds", "head on paper": "not shown"} {
		if states[what] != want {
			t.Errorf("%s: %q, want %q", what, states[what], want)
		}
	}
}

// Every byte of a journal's entries and of the words beside it is changed in the
// database file itself, one at a time: each is found, and the entry named.
func TestVerifyFindsChangedBytes(t *testing.T) {
	f := newBenchFile(t)
	whole, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	type value struct {
		at    []int // bbolt leaves old copies in free pages: all are changed
		n     int
		where string
	}
	var values []value
	db, err := bolt.Open(f.path, 0o600, &bolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	err = db.View(func(tx *bolt.Tx) error {
		for _, bucket := range []string{"journals", "texts"} {
			n := 0
			if err := tx.Bucket([]byte("v1")).Bucket([]byte(bucket)).Bucket([]byte(f.revealed)).ForEach(func(k, v []byte) error {
				n++
				var at []int
				for from := 0; ; {
					i := bytes.Index(whole[from:], append(bytes.Clone(k), v...))
					if i < 0 {
						break
					}
					at = append(at, from+i+len(k))
					from += i + 1
				}
				if len(at) == 0 {
					return fmt.Errorf("%s: value %d is not in the file", bucket, n)
				}
				where := fmt.Sprintf("text %x", k)
				if bucket == "journals" {
					where = fmt.Sprintf("entry %d", n)
				}
				values = append(values, value{at, len(v), where})
				return nil
			}); err != nil {
				return err
			}
		}
		return nil
	})
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if err != nil || len(values) < 15 {
		t.Fatalf("%d values, %v", len(values), err)
	}
	spoilt := filepath.Join(t.TempDir(), "spoilt.oddcup")
	if err := os.WriteFile(spoilt, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	file, err := os.OpenFile(spoilt, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	change := func(v value, i int, by byte) {
		for _, at := range v.at {
			if _, err := file.WriteAt([]byte{whole[at+i] ^ by}, int64(at+i)); err != nil {
				t.Fatal(err)
			}
		}
	}
	tries := 0
	for _, v := range values {
		for i := range v.n {
			change(v, i, 1<<(i%8))
			tries++
			db, err := store.OpenToRead(spoilt, store.Options{})
			if err != nil {
				t.Fatal(err)
			}
			r, err := reportOf(t.Context(), db, f.revealed, session.Paper{})
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			first, ok := r.First()
			if err != nil || !ok || !strings.HasPrefix(first.String(), v.where+":") {
				t.Fatalf("%s, byte %d: %v, %q", v.where, i, err, first)
			}
			if i == 0 { // and once through the command
				out, errs, code := command(t, "verify", spoilt)
				want := fmt.Sprintf("%s: can't be read, 0 entries: WRONG\n  first: %s: ", f.revealed, v.where)
				if code != 1 || !strings.Contains(out, want) || !trouble(errs) || strings.Count(out, "\n") != 5 {
					t.Errorf("%s: code %d, %q, %q", v.where, code, out, errs)
				}
				if out, _, _ := command(t, "verify", spoilt, "--json"); !strings.Contains(out, `"wrong": 1,`) {
					t.Errorf("%s as JSON: %s", v.where, out)
				}
			}
			change(v, i, 0)
		}
	}
	if now, err := os.ReadFile(spoilt); err != nil || !bytes.Equal(now, whole) {
		t.Errorf("the file is not as it was, %v", err)
	}
	t.Logf("%d bytes of %d values", tries, len(values))
}

// Who writes to the database with its hashes is found by the index, the seal, the
// result or by paper.
func TestVerifyFindsChangedJournals(t *testing.T) {
	f := newBenchFile(t)
	journal := func(path string, id session.ID, change func(journals, j *bolt.Bucket) error) string {
		t.Helper()
		to := filepath.Join(t.TempDir(), "spoilt.oddcup")
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, b, 0o600); err != nil {
			t.Fatal(err)
		}
		db, err := bolt.Open(to, 0o600, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if err := db.Update(func(tx *bolt.Tx) error {
			all := tx.Bucket([]byte("v1")).Bucket([]byte("journals"))
			return change(all, all.Bucket([]byte(id)))
		}); err != nil {
			t.Fatal(err)
		}
		return to
	}
	cut := journal(f.path, f.revealed, func(_, j *bolt.Bucket) error {
		c := j.Cursor()
		k, _ := c.Last()
		return j.Delete(bytes.Clone(k))
	})
	swapped := journal(f.path, f.revealed, func(all, j *bolt.Bucket) error {
		other := all.Bucket([]byte(f.closed))
		var keys [][]byte
		if err := j.ForEach(func(k, _ []byte) error { keys = append(keys, bytes.Clone(k)); return nil }); err != nil {
			return err
		}
		for _, k := range keys {
			if err := j.Delete(k); err != nil {
				return err
			}
		}
		return other.ForEach(func(k, v []byte) error { return j.Put(bytes.Clone(k), bytes.Clone(v)) })
	})
	gone := journal(f.path, f.revealed, func(all, _ *bolt.Bucket) error { return all.DeleteBucket([]byte(f.revealed)) })
	for _, c := range []struct {
		name, path string
		args       []string
		say        string
	}{
		{"cut short", cut, nil, "the file's index knows of "},
		{"another session's", swapped, nil, "the file's index knows of "},
		{"another session's, with the digest", swapped, []string{string(f.revealed), "--digest", f.digest.String()}, "not the one on paper"},
		{"another session's, with the head", swapped, []string{string(f.revealed), "--head", f.head.String()}, "no entry has the head hash on paper"},
		{"taken out", gone, nil, "there is no entry"},
	} {
		out, errs, code := command(t, append([]string{"verify", c.path}, c.args...)...)
		if code != 1 || !strings.Contains(out, c.say) || !trouble(errs) {
			t.Errorf("%s: code %d, %q, %q", c.name, code, out, errs)
		}
	}
}

func TestExport(t *testing.T) {
	f := newBenchFile(t)
	before := sum(t, f.path)
	out := filepath.Join(t.TempDir(), "given"+session.DossierExtension)
	said, errs, code := command(t, "export", string(f.revealed), "--data", f.path, "--out", out)
	if code != 0 || !strings.Contains(said, out) {
		t.Fatalf("code %d, %q, %q", code, said, errs)
	}
	said, errs, code = command(t, "verify", out, "--digest", session.ShortDigest(f.digest), "--head", session.ShortDigest(f.head))
	if code != 0 || !strings.HasPrefix(said, string(f.revealed)+", Bench 2 (invented): revealed, ") || !strings.Contains(said, "and the result follows from it") {
		t.Errorf("verify: code %d, %q, %q", code, said, errs)
	}
	said, _, code = command(t, "verify", out, string(f.revealed), "--json")
	if code != 0 || !strings.Contains(said, `"laboratory": "Bench 2 (invented)"`) || !strings.Contains(said, `"kind": "session file"`) {
		t.Errorf("verify --json: code %d, %q", code, said)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	// Nothing is written over.
	if _, errs, code := command(t, "export", string(f.revealed), "--data", f.path, "--out", out); code != 1 || !strings.Contains(errs, "exists") || !trouble(errs) {
		t.Errorf("a second time: code %d, %q", code, errs)
	}
	if again, err := os.ReadFile(out); err != nil || !bytes.Equal(again, b) {
		t.Errorf("the first file was altered: %v", err)
	}
	for _, id := range []session.ID{f.closed, f.abandoned} {
		to := filepath.Join(t.TempDir(), "x")
		if _, errs, code := command(t, "export", string(id), "--data", f.path, "--out", to); code != 1 || !strings.Contains(errs, "sealed until the reveal") || !trouble(errs) {
			t.Errorf("%s: code %d, %q", id, code, errs)
		}
		if _, err := os.Stat(to); err == nil {
			t.Errorf("%s: a file was written", id)
		}
	}
	for _, id := range []string{"nobody", "lab", "../x"} {
		if _, errs, code := command(t, "export", id, "--data", f.path); code != 1 || !strings.Contains(errs, "no such session") || !trouble(errs) {
			t.Errorf("%s: code %d, %q", id, code, errs)
		}
	}
	// A changed byte of the file on disk.
	b[len(b)/2] ^= 1
	if err := os.WriteFile(out, b, 0o600); err != nil {
		t.Fatal(err)
	}
	if said, errs, code := command(t, "verify", out); code != 1 || !strings.Contains(said, "first: entry ") || !trouble(errs) {
		t.Errorf("changed: code %d, %q, %q", code, said, errs)
	}
	if sum(t, f.path) != before {
		t.Error("the data file was altered")
	}
}

func TestVerifyUsage(t *testing.T) {
	f := newBenchFile(t)
	dir := t.TempDir()
	words := filepath.Join(dir, "notes.txt")
	if err := os.WriteFile(words, []byte("cups to buy: 24\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	none := filepath.Join(dir, "none")
	empty := filepath.Join(dir, "empty"+session.DossierExtension)
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{"verify"}, 2, "<file>"},
		{[]string{"verify", f.path, "--digest", "12"}, 2, "64 hexadecimal digits"},
		{[]string{"verify", f.path, "--digest", f.digest.String()}, 2, "of one session"},
		{[]string{"verify", f.path, "--head", ""}, 2, "--head is given without a value"},
		{[]string{"verify", f.path, "--digest="}, 2, "--digest is given without a value"},
		{[]string{"verify", f.path, ""}, 2, "<session> is given without a value"},
		{[]string{"verify", ""}, 2, "<file> is given without a value"},
		{[]string{"backup", "--out", none, "--data", ""}, 2, "--data is given without a value"},
		{[]string{"verify", f.path, "a", "b"}, 2, "b"},
		{[]string{"export"}, 2, "<session>"},
		{[]string{"verify", f.path, "nobody"}, 1, "it has no session nobody"},
		{[]string{"verify", none}, 1, "no such file"},
		{[]string{"verify", dir}, 1, "it is a folder"},
		{[]string{"verify", words}, 1, "not an oddcup file"},
		{[]string{"verify", empty}, 1, "did not stand up"},
		{[]string{"export", string(f.revealed), "--data", none}, 1, "none"},
	} {
		_, errs, code := command(t, c.args...)
		if code != c.code || !strings.Contains(errs, c.say) || !strings.Contains(errs, "oddcup: hint: ") || strings.Contains(errs, "panic") {
			t.Errorf("%v: code %d, %q", c.args, code, errs)
		}
	}
	if _, err := os.Stat(none); err == nil {
		t.Error("a file was made")
	}
}

// The frozen session files verify on the command line.
func TestVerifyOldSessionFiles(t *testing.T) {
	files, err := filepath.Glob("../../testdata/sessions/*" + session.DossierExtension)
	if err != nil || len(files) < 2 {
		t.Fatalf("%v, %v", files, err)
	}
	for _, file := range files {
		if out, errs, code := command(t, "verify", file); code != 0 || !strings.Contains(out, "consistent with itself; origin not shown") {
			t.Errorf("%s: code %d, %q, %q", file, code, out, errs)
		}
	}
}

func TestImport(t *testing.T) {
	f := newBenchFile(t)
	dir := t.TempDir()
	file, here := filepath.Join(dir, "given"+session.DossierExtension), filepath.Join(dir, "here.oddcup")
	if _, errs, code := command(t, "export", string(f.revealed), "--data", f.path, "--out", file); code != 0 {
		t.Fatal(errs)
	}
	spoilt := filepath.Join(dir, "spoilt"+session.DossierExtension)
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	c := bytes.Clone(b)
	c[len(c)/2] ^= 1
	if err := os.WriteFile(spoilt, c, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{spoilt, filepath.Join(dir, "none"), dir, f.path} {
		if _, errs, code := command(t, "import", bad, "--data", here); code != 1 || !trouble(errs) {
			t.Errorf("%s: code %d, %q", bad, code, errs)
		}
	}
	if _, err := os.Stat(here); err == nil {
		t.Error("a refused file left a data file behind")
	}
	out, errs, code := command(t, "import", file, "--data", here)
	if code != 0 || !strings.Contains(out, "session "+string(f.revealed)+" of Bench 2 (invented) is kept, to be read only") {
		t.Fatalf("code %d, %q, %q", code, out, errs)
	}
	if out, _, code := command(t, "import", file, "--data", here); code != 0 || !strings.Contains(out, "is kept already") {
		t.Errorf("a second time: code %d, %q", code, out)
	}
	if _, errs, code := command(t, "import", file, "--data", f.path); code != 1 || !strings.Contains(errs, "this laboratory's own") || !trouble(errs) {
		t.Errorf("into its own laboratory: code %d, %q", code, errs)
	}
	out, errs, code = command(t, "verify", here, "--head", f.head.String())
	if code != 0 || !strings.Contains(out, string(f.revealed)+", Bench 2 (invented): revealed, ") || !strings.Contains(out, "the result follows from it") {
		t.Errorf("verify: code %d, %q, %q", code, out, errs)
	}
	if !strings.Contains(out, session.LabelsWords) {
		t.Errorf("verify does not say what proves nothing: %q", out)
	}
	if out, errs, code := command(t, "check", "--data", here); code != 0 {
		t.Errorf("check: %q, %q", out, errs)
	}

	// The same tasting under another laboratory's label, without the words.
	other := filepath.Join(dir, "other"+session.DossierExtension)
	if err := os.WriteFile(other, relabelled(b, string(f.revealed), "20310306-090000-0a0b0c0d0e"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, data := range []struct{ path, say string }{
		{here, "its seal is also that of session " + string(f.revealed) + " of \"Bench 2 (invented)\""},
		{f.path, "its seal is also that of session " + string(f.revealed) + " of this laboratory’s own"},
	} {
		out, errs, code := command(t, "import", other, "--data", data.path)
		if code != 0 || !strings.Contains(out, data.say) || !strings.Contains(out, session.LabelsWords) || !regexp.MustCompile(`\n(\d+) of (\d+) typed words are not in the file: erased, or taken out`).MatchString(out) {
			t.Errorf("%s: code %d, %q, %q", data.path, code, out, errs)
		}
	}
	if out, _, code := command(t, "verify", other); code != 0 || !strings.Contains(out, "typed words are not there: erased, or taken out") {
		t.Errorf("verify without words: code %d, %q", code, out)
	}
}

// relabelled is a session file under another id and laboratory, without its typed
// words: nothing in it proves them.
func relabelled(file []byte, id, as string) []byte {
	lines := bytes.SplitAfter(bytes.Replace(bytes.Replace(file, []byte(id), []byte(as), 1), []byte("Bench 2"), []byte("Bench 9"), 1), []byte("\n"))
	var b []byte
	for _, line := range lines[:len(lines)-2] {
		if !bytes.HasPrefix(line, []byte(`{"digest":`)) {
			b = append(b, line...)
		}
	}
	sum := sha256.Sum256(b)
	return append(b, regexp.MustCompile(`"sha256":"[0-9a-f]+"`).ReplaceAll(lines[len(lines)-2], fmt.Appendf(nil, `"sha256":"%x"`, sum))...)
}
