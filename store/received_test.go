package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"testing"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// oldFile is one of the frozen session files.
func oldFile(tb testing.TB, name string) []byte {
	tb.Helper()
	b, err := os.ReadFile("../testdata/sessions/" + name + session.DossierExtension)
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// relabelled is a session file with another header, its sum made anew.
func relabelled(tb testing.TB, b []byte, old, new string) []byte {
	tb.Helper()
	lines := bytes.SplitAfter(b, []byte("\n"))
	head := bytes.Replace(lines[0], []byte(old), []byte(new), 1)
	if bytes.Equal(head, lines[0]) {
		tb.Fatalf("%q is not in the header", old)
	}
	body := append(head, bytes.Join(lines[1:len(lines)-2], nil)...)
	end := lines[len(lines)-2]
	return append(body, bytes.Replace(end, end[len(`{"sha256":"`):len(`{"sha256":"`)+64], fmt.Appendf(nil, "%x", sha256.Sum256(body)), 1)...)
}

func TestReceive(t *testing.T) {
	ctx := context.Background()
	path := filePath(t)
	db := mustOpen(t, path)
	one, two := oldFile(t, "triangle"), relabelled(t, oldFile(t, "sequential"), "20310305-120000-0102030405", "20310306-120000-0102030405")
	for i, file := range [][]byte{one, two, one, two} {
		d, added, err := db.Receive(ctx, file)
		if err != nil || added != (i < 2) || d.Laboratory != "Bench 2 (invented)" {
			t.Errorf("file %d: added %v, %v", i, added, err)
		}
	}
	for name, c := range map[string]struct {
		file []byte
		want error
	}{
		"another file of a session":        {oldFile(t, "sequential"), ErrOtherFile},
		"the same from another laboratory": {relabelled(t, one, "Bench 2", "Bench 3"), ErrOtherFile},
		"a changed file":                   {append(bytes.Clone(one[:2000]), one[2001:]...), session.ErrDossier},
		"no session file":                  {[]byte("seat,set,pick\n"), session.ErrDossier},
		"a newer file":                     {relabelled(t, one, `"v":1`, `"v":2`), session.ErrNewer},
	} {
		if _, added, err := db.Receive(ctx, c.file); !errors.Is(err, c.want) || added {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	c := chain{id: "20310307-120000-0102030405"}
	mustAppend(t, db, c.id, c.next(t, &session.Drafted{Plan: plan("Tuesday")}))
	own := relabelled(t, one, "20310305-120000-0102030405", string(c.id))
	if _, added, err := db.Receive(ctx, own); !errors.Is(err, ErrOwn) || added {
		t.Errorf("a session of one's own: %v", err)
	}
	mustClose(t, db)
	db = mustOpen(t, path)
	all, err := db.Received(ctx)
	if err != nil || len(all) != 2 || !bytes.Equal(all[0].File, two) || !bytes.Equal(all[1].File, one) ||
		all[0].Session != "20310306-120000-0102030405" || all[1].Laboratory != "Bench 2 (invented)" {
		t.Errorf("%d files, %v", len(all), err)
	}
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	rows, err := rooms.Received(ctx)
	if err != nil || len(rows) != 2 || rows[1].Phase != session.PhaseRevealed || rows[1].Title != "Wednesday table" || rows[1].Plan.Seats != 2 || len(rows[1].Tests) != 1 {
		t.Errorf("rows %+v, %v", rows, err)
	}
	s, r, err := rooms.ReceivedSession(ctx, all[1].Session)
	if err != nil || !r.OK() || s.Phase != session.PhaseRevealed {
		t.Errorf("%v, %v", r.Findings, err)
	}
	if _, _, err := rooms.ReceivedSession(ctx, c.id); !errors.Is(err, session.ErrNoSession) {
		t.Errorf("a session of one's own: %v", err)
	}
	if own, err := rooms.Rows(ctx); err != nil || len(own) != 1 {
		t.Errorf("%d own sessions, %v", len(own), err)
	}
}

// Check re-checks what was received.
func TestCheckFindsChangedReceived(t *testing.T) {
	for name, spoil := range map[string]func(b *bolt.Bucket) error{
		"a byte": func(b *bolt.Bucket) error {
			k, v := b.Cursor().First()
			c := bytes.Clone(v)
			c[3000] ^= 1
			return b.Put(k, c)
		},
		"another key": func(b *bolt.Bucket) error {
			_, v := b.Cursor().First()
			return b.Put([]byte("20310305-120000-0102030406 Bench 2 (invented)"), bytes.Clone(v))
		},
		"a bucket": func(b *bolt.Bucket) error {
			_, err := b.CreateBucket([]byte("20310304-120000-0102030406 Bench 2"))
			return err
		},
	} {
		db := mustOpenUnchecked(t, filePath(t))
		if _, _, err := db.Receive(context.Background(), oldFile(t, "triangle")); err != nil {
			t.Fatal(err)
		}
		if err := db.Check(context.Background()); err != nil {
			t.Fatal(err)
		}
		change(t, db, func(tx *bolt.Tx) error { return spoil(tx.Bucket(bucketV1).Bucket(bucketReceived)) })
		if err := db.Check(context.Background()); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// There are as many tests of migrations as migrations: one a case.
func TestMigrationsOneByOne(t *testing.T) {
	cases := []func(t *testing.T, path string){
		// 1 to 2: a place for received session files.
		func(t *testing.T, path string) {
			db := mustOpen(t, path)
			if _, added, err := db.Receive(context.Background(), oldFile(t, "triangle")); err != nil || !added {
				t.Errorf("nothing can be received: %v", err)
			}
			mustClose(t, db)
		},
		// 2 to 3: a place for judged sessions.
		func(t *testing.T, path string) {
			db := mustOpen(t, path)
			mustAppend(t, db, "wednesday", revealedEntries(t, "wednesday", 2))
			for range 2 {
				if all, err := db.JudgedSessions(t.Context()); err != nil || len(all) != 1 || kept(t, db, "wednesday") == nil {
					t.Errorf("nothing is kept of a judged session: %+v, %v", all, err)
				}
			}
			mustClose(t, db)
		},
	}
	if len(cases) != len(migrations) {
		t.Fatalf("%d migrations and %d tests", len(migrations), len(cases))
	}
	for i, test := range cases {
		path := filePath(t)
		old, err := open(path, Options{}, migrations[:i])
		if err != nil {
			t.Fatal(err)
		}
		entries, reason := threeEntries(t, "tuesday")
		mustAppend(t, old, "tuesday", entries, reason)
		mustClose(t, old)
		// To read, it is opened as it is.
		read, err := OpenToRead(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if all, err := read.Received(context.Background()); err != nil || len(all) != 0 {
			t.Errorf("version %d: %d received, %v", i+1, len(all), err)
		}
		if all, err := read.JudgedSessions(context.Background()); err != nil || len(all) != 0 {
			t.Errorf("version %d: %d judged, %v", i+1, len(all), err)
		}
		mustClose(t, read)
		test(t, path)
		db := mustOpen(t, path)
		got, texts, err := db.Load(context.Background(), "tuesday")
		if err != nil || len(got) != 3 || got[2].Hash != entries[2].Hash || texts[reason.Digest].Words != reason.Words {
			t.Errorf("version %d: %d entries, %v", i+1, len(got), err)
		}
		var version uint64
		change(t, db, func(tx *bolt.Tx) error {
			version = binary.BigEndian.Uint64(tx.Bucket(bucketV1).Get(keyVersion))
			return nil
		})
		if version != newest(migrations) {
			t.Errorf("version %d after all migrations", version)
		}
	}
}
