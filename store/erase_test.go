package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// eraserFile is the variable that makes the test binary a child that erases the
// person p-1 of the file it names.
const eraserFile = "ODDCUP_STORE_TEST_ERASER"

func eraseAndSay(path string) error {
	ctx := context.Background()
	db, err := Open(path, Options{Timeout: 5 * time.Second})
	if err != nil {
		return err
	}
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		return err
	}
	return rooms.Erase(ctx, erasure())
}

func erasure() session.Command {
	return session.Command{At: noon.AddDate(0, 1, 0), Actor: session.Host, Act: session.ErasePerson{Person: "p-1"}}
}

// personal are the words that an erasure of p-1 takes from the file that
// withPeople makes; others' must stay.
var personal = []string{"Person 1 Invented", "Pers Önne Invented", "Pers Onne Earlier", "Person 1 Invented spilled it"}

// withPeople makes a file with one session of six people and a register of two,
// p-1 on seat 1 and p-2 on seat 2.
func withPeople(tb testing.TB, path string) {
	tb.Helper()
	db, err := Open(path, Options{})
	if err != nil {
		tb.Fatal(err)
	}
	playRevealed(tb, db, "tuesday", 6)
	rooms, err := session.NewRooms(context.Background(), db)
	if err != nil {
		tb.Fatal(err)
	}
	name := func(words string, n uint64) session.PersonFacts {
		return session.PersonFacts{Name: mustText(tb, words, chance(n))}
	}
	for _, act := range []session.Act{
		session.EnterPerson{Facts: name("Pers Onne Earlier", 201)}, session.ChangePerson{Person: "p-1", Facts: name("Pers Önne Invented", 202)},
		session.EnterPerson{Facts: name("Duo Invented", 203)},
		session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: "tuesday", Seat: 1}}},
		session.TieSeats{Person: "p-2", Seats: []session.SeatRef{{Session: "tuesday", Seat: 2}}},
	} {
		if _, err := rooms.Lab().Do(context.Background(), session.Command{At: noon, Actor: session.Host, Act: act}); err != nil {
			tb.Fatalf("%T: %v", act, err)
		}
	}
	rooms.Close()
	// What was removed stays in free pages, here in far more of them than later
	// transactions write over.
	passing := []byte("passing")
	change(tb, db, func(tx *bolt.Tx) error {
		b, err := tx.Bucket(bucketV1).CreateBucket(passing)
		for i := range 1000 {
			err = errors.Join(err, b.Put(fmt.Append(nil, i), bytes.Repeat([]byte(personal[i%len(personal)]+"; "), 20)))
		}
		return err
	})
	change(tb, db, func(tx *bolt.Tx) error { return tx.Bucket(bucketV1).DeleteBucket(passing) })
	mustClose(tb, db)
}

// holdsNone searches a folder's files for words, byte by byte.
func holdsNone(tb testing.TB, folder string, words []string) {
	tb.Helper()
	files, err := os.ReadDir(folder)
	if err != nil || len(files) == 0 {
		tb.Fatal(len(files), err)
	}
	for _, f := range files {
		raw := mustRead(tb, filepath.Join(folder, f.Name()))
		for _, w := range words {
			if bytes.Contains(raw, []byte(w)) {
				tb.Errorf("%s still holds %q", f.Name(), w)
			}
		}
	}
}

func holdsAll(tb testing.TB, path string, words []string) {
	tb.Helper()
	raw := mustRead(tb, path)
	for _, w := range words {
		if !bytes.Contains(raw, []byte(w)) {
			tb.Errorf("%s does not hold %q", filepath.Base(path), w)
		}
	}
}

// After an erasure neither the file's bytes nor those of the next backup hold
// the words, and all else is as it was.
func TestErase(t *testing.T) {
	ctx := t.Context()
	path := filePath(t)
	withPeople(t, path)
	holdsAll(t, path, personal)
	db := mustOpen(t, path)
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	if err := rooms.OpenAll(ctx); err != nil {
		t.Fatal(err)
	}
	room, err := rooms.Session(ctx, "tuesday")
	if err != nil {
		t.Fatal(err)
	}
	before, err := room.State().Compute()
	if err != nil {
		t.Fatal(err)
	}
	entries, _, err := db.Load(ctx, "tuesday")
	if err != nil {
		t.Fatal(err)
	}
	if err := rooms.Erase(ctx, erasure()); err != nil {
		t.Fatal(err)
	}
	holdsNone(t, filepath.Dir(path), personal)
	holdsAll(t, path, []string{"Person 2 Invented", "Duo Invented", "Q. Invented"})
	if name := room.State().Seats[0].Name.Words; name != "" {
		t.Errorf("the live session still has %q", name)
	}
	after, err := room.State().Compute()
	if err != nil || after.Tests[0].Correct != before.Tests[0].Correct || after.Tests[1].N != before.Tests[1].N {
		t.Errorf("the result is another: %v", err)
	}
	now, texts, err := db.Load(ctx, "tuesday")
	if err != nil || len(now) != len(entries) || now[len(now)-1].Hash != entries[len(entries)-1].Hash {
		t.Errorf("the journal is another: %v", err)
	}
	if r := session.Verify("tuesday", now, texts, session.Paper{}); !r.OK() {
		t.Errorf("%v", r.Findings)
	}
	// The file goes on, in the same place, and the lock is held.
	if _, err := Open(path, Options{Timeout: 20 * time.Millisecond}); !errors.Is(err, ErrInUse) {
		t.Errorf("opened by another: %v", err)
	}
	amend := session.Amend{Seat: 3, Set: 1, Reason: mustText(t, "the wrong flask", chance(9))}
	if _, err := room.Do(ctx, session.Command{At: noon.AddDate(0, 2, 0), Actor: session.Host, Act: amend}); err != nil {
		t.Error(err)
	}
	if err := db.Check(ctx); err != nil {
		t.Error(err)
	}
	copied := filepath.Join(t.TempDir(), "copy.oddcup")
	if err := db.Backup(ctx, copied, func() error { return nil }); err != nil {
		t.Fatal(err)
	}
	holdsNone(t, filepath.Dir(copied), personal)
	if info, err := os.Stat(path); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	rooms.Close()
}

// The words of a tied seat go from a received session file as well; it verifies
// as before.
func TestEraseFromReceived(t *testing.T) {
	ctx := t.Context()
	path := filePath(t)
	db := mustOpen(t, path)
	d, _, err := db.Receive(ctx, oldFile(t, "triangle"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := d.State()
	if err != nil {
		t.Fatal(err)
	}
	name := s.Seats[0].Name.Words
	if name == "" || !bytes.Contains(mustRead(t, path), []byte(name)) {
		t.Fatalf("the file does not hold the name %q", name)
	}
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	for _, act := range []session.Act{
		session.EnterPerson{Facts: session.PersonFacts{Name: mustText(t, "Guest Invented", chance(1))}},
		session.TieSeats{Person: "p-1", Seats: []session.SeatRef{{Session: d.Session, Seat: 1}}},
	} {
		if _, err := rooms.Lab().Do(ctx, session.Command{At: noon, Actor: session.Host, Act: act}); err != nil {
			t.Fatal(err)
		}
	}
	judged, err := rooms.Judged(ctx)
	if err != nil || len(judged) != 1 || !judged[0].Received || judged[0].Laboratory != d.Laboratory || len(judged[0].Sets) == 0 {
		t.Fatalf("%+v, %v", judged, err)
	}
	if err := rooms.Erase(ctx, erasure()); err != nil {
		t.Fatal(err)
	}
	holdsNone(t, filepath.Dir(path), []string{name, "Guest Invented"})
	again, r, err := rooms.ReceivedSession(ctx, d.Session)
	if err != nil || !r.OK() || again.Seats[0].Name.Words != "" || again.Head != s.Head {
		t.Errorf("%v, %v", r.Findings, err)
	}
}

// Words that are gone while the file is not yet renewed are still in its free
// pages; done again, they are not. A copy that was left half made is no hindrance.
func TestEraseCutOff(t *testing.T) {
	ctx := t.Context()
	path := filePath(t)
	withPeople(t, path)
	db := mustOpen(t, path)
	_, texts, err := db.Load(ctx, "tuesday")
	if err != nil {
		t.Fatal(err)
	}
	var digests []session.Hash
	for d, x := range texts {
		if strings.HasPrefix(x.Words, "Person 1 Invented") {
			digests = append(digests, d)
		}
	}
	err = db.update(func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		return b.erase("tuesday", digests)
	})
	if err != nil || len(digests) != 2 {
		t.Fatal(len(digests), err)
	}
	holdsAll(t, path, []string{"Person 1 Invented"})
	mustWrite(t, newPath(path), []byte("a copy cut short"))
	if err := db.Erase(ctx, map[session.ID][]session.Hash{"tuesday": digests, "nobody": digests}); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(newPath(path)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a copy is left: %v", err)
	}
	holdsNone(t, filepath.Dir(path), []string{"Person 1 Invented", "a copy cut short"})
	if _, now, err := db.Load(ctx, "tuesday"); err != nil || now[digests[0]].Words != "" || len(now) != len(texts)-2 {
		t.Errorf("%d texts of %d, %v", len(now), len(texts), err)
	}
}

// A child is killed at a random moment of an erasure: the file is whole, and the
// erasure can be brought to its end.
func TestEraseKilled(t *testing.T) {
	rng := rand.New(rand.NewPCG(newSeed(t), 0))
	template := filePath(t)
	withPeople(t, template)
	raw := mustRead(t, template)
	ctx := t.Context()
	run := func(path string, kill time.Duration) (killed bool) {
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), eraserFile+"="+path)
		var complaint bytes.Buffer
		child.Stderr = &complaint
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		timer := time.AfterFunc(kill, func() { _ = child.Process.Kill() })
		defer timer.Stop()
		err := child.Wait()
		if complaint.Len() > 0 {
			t.Fatalf("child: %s", complaint.String())
		}
		return err != nil
	}
	whole := filepath.Join(t.TempDir(), "lab.oddcup")
	mustWrite(t, whole, raw)
	begun := time.Now()
	if run(whole, time.Minute) {
		t.Fatal("the child did not end")
	}
	took := time.Since(begun)
	begunErasures, finished, killed := 0, 0, 0
	for round := range 25 {
		path := filepath.Join(t.TempDir(), "lab.oddcup")
		mustWrite(t, path, raw)
		if run(path, time.Duration(rng.Int64N(int64(took)))) {
			killed++
		}
		db := mustOpen(t, path)
		if err := db.Check(ctx); err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		rooms, err := session.NewRooms(ctx, db)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		switch e := rooms.Lab().State().Erasures; {
		case len(e) == 0:
			if err := rooms.Erase(ctx, erasure()); err != nil {
				t.Fatal(err)
			}
		case e[0].Done.IsZero():
			begunErasures++
			if err := rooms.FinishErasures(ctx, noon); err != nil {
				t.Fatal(err)
			}
		default:
			finished++
		}
		holdsNone(t, filepath.Dir(path), personal)
		if s := rooms.Lab().State(); s.Erasures[0].Done.IsZero() || len(s.People) != 2 || s.People[1].Name.Words != "Duo Invented" {
			t.Errorf("round %d: %+v", round, s.Erasures)
		}
		rooms.Close()
		mustClose(t, db)
	}
	t.Logf("killed %d times, %d erasures cut off, %d done before", killed, begunErasures, finished)
	if killed == 0 {
		t.Error("nothing was killed")
	}
}

func TestBackup(t *testing.T) {
	ctx := t.Context()
	path := filePath(t)
	withPeople(t, path)
	db := mustOpen(t, path)
	dir := t.TempDir()
	out := filepath.Join(dir, "copy.oddcup")
	noted := 0
	if err := db.Backup(ctx, out, func() error {
		if _, err := os.Stat(out); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("the copy has its name before it was noted: %v", err)
		}
		noted++
		return nil
	}); err != nil || noted != 1 {
		t.Fatal(noted, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
	if info, err := os.Stat(out); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	made := mustOpen(t, out)
	if dump(t, made) != dump(t, db) {
		t.Error("the copy holds something else")
	}
	// Nothing is written over, and nothing left that was not noted.
	if err := db.Backup(ctx, out, func() error { t.Error("noted"); return nil }); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over another file: %v", err)
	}
	other, refused := filepath.Join(dir, "other.oddcup"), errors.New("the register is full")
	if err := db.Backup(ctx, other, func() error { return refused }); !errors.Is(err, refused) {
		t.Errorf("not noted: %v", err)
	}
	if err := db.Backup(ctx, filepath.Join(dir, "none", "x"), func() error { return nil }); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("into no folder: %v", err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
	// One who takes the name meanwhile keeps it.
	if err := db.Backup(ctx, other, func() error { mustWrite(t, other, []byte("mine")); return nil }); !errors.Is(err, fs.ErrExist) || string(mustRead(t, other)) != "mine" {
		t.Errorf("over a file that came meanwhile: %v", err)
	}
}

// A copy in many small transactions is the same copy.
func TestCopyInManyTransactions(t *testing.T) {
	path := filePath(t)
	withPeople(t, path)
	db := mustOpen(t, path)
	if _, err := db.JudgedSessions(t.Context()); err != nil {
		t.Fatal(err)
	}
	for _, most := range []int{1, 500, 5000} {
		out := filePath(t)
		to, err := bolt.Open(out, 0o600, nil)
		if err != nil {
			t.Fatal(err)
		}
		c := copying{to: to, most: most}
		if err := db.bolt.View(func(tx *bolt.Tx) error { return errors.Join(c.all(tx), c.end()) }); err != nil {
			t.Fatal(err)
		}
		if err := to.Close(); err != nil {
			t.Fatal(err)
		}
		if dump(t, mustOpen(t, out)) != dump(t, db) {
			t.Errorf("%d bytes at once: the copy holds something else", most)
		}
	}
}

// Others write while a copy is made; it is as of one moment.
func TestBackupBesideAppends(t *testing.T) {
	ctx := t.Context()
	db := mustOpen(t, filePath(t))
	c := chain{id: "tuesday"}
	for range 40 {
		mustAppend(t, db, c.id, c.next(t, locked(100)...))
	}
	stop, done := make(chan struct{}), make(chan error, 1)
	go func() {
		for {
			select {
			case <-stop:
				done <- nil
				return
			default:
			}
			e, err := session.NewEntry(c.seq+1, c.head, session.Recorded{At: noon, Actor: session.Host, Event: &session.Paused{}})
			if err == nil {
				err = db.Append(ctx, c.id, []session.Entry{e}, nil)
			}
			if err != nil {
				done <- err
				return
			}
			c.seq, c.head = e.Seq, e.Hash
		}
	}()
	for i := range 10 {
		out := filepath.Join(t.TempDir(), fmt.Sprint(i))
		if err := db.Backup(ctx, out, func() error { return nil }); err != nil {
			t.Error(err)
		}
		if i%5 == 4 {
			if err := db.Erase(ctx, nil); err != nil {
				t.Error(err)
			}
		}
	}
	close(stop)
	if err := <-done; err != nil {
		t.Errorf("an append beside it: %v", err)
	}
}

// Single words of a name don't come into the file by way of a paper record; those that
// were there before the name stand in an entry, are told, and are in the bytes still.
func TestNamesInPaperRecords(t *testing.T) {
	path := filePath(t)
	withPeople(t, path)
	db := mustOpen(t, path)
	rooms, err := session.NewRooms(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	do := func(act session.Act) error {
		_, err := rooms.Lab().Do(t.Context(), session.Command{At: noon, Actor: session.Host, Act: act})
		return err
	}
	record := func(control, source string) session.ImportRecords {
		return session.ImportRecords{Records: []session.PaperRecord{{Person: "p-2", Date: "2029-11-05", Method: session.Triangle.Key, Kind: session.KindControl,
			Control: control, Sets: 12, Right: 8, Source: source}}}
	}
	refused := []string{"folder of Önne", "binder ONNE 3", "Pers, leaf 2"}
	for _, words := range refused {
		if do(record("thin brew", words)) == nil || do(record(words, "leaf 1")) == nil {
			t.Errorf("%q is taken", words)
		}
	}
	const before = "folder of Zebulonia"
	if err := do(record("thin brew", before)); err != nil {
		t.Fatal(err)
	}
	if err := do(session.ChangePerson{Person: "p-1", Facts: session.PersonFacts{Name: mustText(t, "Zebulonia Önne", chance(301))}}); err != nil {
		t.Fatal(err)
	}
	inClear, err := rooms.InClear(t.Context(), "p-1")
	if err != nil || len(inClear) != 1 || inClear[0].Words != before || inClear[0].Session != session.LabID {
		t.Errorf("in clear %+v, %v", inClear, err)
	}
	if err := rooms.Erase(t.Context(), erasure()); err != nil {
		t.Fatal(err)
	}
	if n := rooms.Lab().State().Erasures[0].InClear; n != 1 {
		t.Errorf("%d places are counted", n)
	}
	rooms.Close()
	mustClose(t, db)
	holdsNone(t, filepath.Dir(path), append([]string{"Zebulonia Önne"}, append(refused, personal...)...))
	if !bytes.Contains(mustRead(t, path), []byte(before)) {
		t.Error("an entry has changed")
	}
}

// A search of texts finds the journals beside which words lie, and no erased ones.
func TestJournalsWith(t *testing.T) {
	path := filePath(t)
	withPeople(t, path)
	db := mustOpen(t, path)
	with := func(words string) string {
		t.Helper()
		found, err := db.JournalsWith(t.Context(), func(have string) bool { return have == words })
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprint(found)
	}
	if a, b, c := with("Person 2 Invented"), with("Duo Invented"), with("Nobody"); a != "map[tuesday:true]" || b != "map[lab:true]" || c != "map[]" {
		t.Error(a, b, c)
	}
	rooms, err := session.NewRooms(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	// Where else a name is typed is found by it, in sessions without a seat of the person.
	monday, reason := chain{id: "monday"}, mustText(t, "asked for by person 1 INVENTED", chance(302))
	mustAppend(t, db, monday.id, monday.next(t, &session.Drafted{Plan: plan("Monday")}, &session.Abandoned{Reason: reason}), reason)
	if mentions, err := rooms.Mentions(t.Context(), "p-1"); err != nil || len(mentions) != 1 || mentions[0].Session != "monday" || mentions[0].Words != reason.Words {
		t.Errorf("mentions %+v, %v", mentions, err)
	}
	if err := rooms.Erase(t.Context(), erasure()); err != nil {
		t.Fatal(err)
	}
	if got := with("Person 1 Invented"); got != "map[]" {
		t.Errorf("erased words are found in %s", got)
	}
}
