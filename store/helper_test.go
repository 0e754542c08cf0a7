package store

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

var seedFlag = flag.Uint64("seed", 0, "seed of the random tests; 0 takes a new one")

// newSeed gives the seed of a random test and prints it.
func newSeed(tb testing.TB) uint64 {
	tb.Helper()
	seed := *seedFlag
	if seed == 0 {
		seed = rand.Uint64()
	}
	tb.Logf("repeat with -seed=%d", seed)
	return seed
}

// chance is a repeatable source of random bytes.
func chance(seed uint64) io.Reader {
	var key [32]byte
	copy(key[:], fmt.Sprintf("%032d", seed))
	return rand.NewChaCha8(key)
}

var noon = time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)

func filePath(tb testing.TB) string { return filepath.Join(tb.TempDir(), "lab.oddcup") }

// mustOpen opens a file; when the test ends, the whole file is checked.
func mustOpen(tb testing.TB, path string) *DB {
	tb.Helper()
	db := mustOpenUnchecked(tb, path)
	tb.Cleanup(func() {
		mustClose(tb, db)
		again, err := Open(path, Options{})
		if err != nil {
			tb.Errorf("opening the file at the test's end: %v", err)
			return
		}
		if err := again.Check(context.Background()); err != nil {
			tb.Errorf("check at the test's end: %v", err)
		}
		mustClose(tb, again)
	})
	return db
}

// mustOpenUnchecked is for files that a test damages.
func mustOpenUnchecked(tb testing.TB, path string) *DB {
	tb.Helper()
	db, err := Open(path, Options{Timeout: time.Second})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { mustClose(tb, db) })
	return db
}

func mustClose(tb testing.TB, db *DB) {
	tb.Helper()
	if err := db.Close(); err != nil {
		tb.Errorf("close: %v", err)
	}
}

// chain makes the entries of one journal, one after the other.
type chain struct {
	id   session.ID
	seq  uint64
	head session.Hash
}

func (c *chain) next(tb testing.TB, events ...session.Event) []session.Entry {
	tb.Helper()
	var entries []session.Entry
	for _, ev := range events {
		e, err := session.NewEntry(c.seq+1, c.head, session.Recorded{
			At: noon.Add(time.Duration(c.seq) * time.Second), Actor: session.Host, Event: ev,
		})
		if err != nil {
			tb.Fatal(err)
		}
		c.seq, c.head = e.Seq, e.Hash
		entries = append(entries, e)
	}
	return entries
}

func mustText(tb testing.TB, words string, from io.Reader) session.Text {
	tb.Helper()
	text, err := session.NewText(words, from)
	if err != nil {
		tb.Fatal(err)
	}
	return text
}

func mustAppend(tb testing.TB, j session.Journal, id session.ID, entries []session.Entry, texts ...session.Text) {
	tb.Helper()
	if err := j.Append(context.Background(), id, entries, texts); err != nil {
		tb.Fatal(err)
	}
}

// plan is an invented session on invented lots.
func plan(title string) session.Plan {
	p := session.UsualPlan()
	p.Title = title
	p.Untreated = session.Lot{ID: "lot-1", Number: "K-17", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "K-17 D", Treatment: "water"}
	return p
}

// threeEntries is a drafted and then abandoned session, with one text.
func threeEntries(tb testing.TB, id session.ID) ([]session.Entry, session.Text) {
	tb.Helper()
	reason := mustText(tb, "the grinder broke", chance(7))
	c := chain{id: id}
	return c.next(tb,
		&session.Drafted{Plan: plan("Tuesday")},
		&session.Drafted{Plan: plan("Tuesday afternoon")},
		&session.Abandoned{Reason: reason},
	), reason
}

// dump writes out all that a file holds, to compare two of them.
func dump(tb testing.TB, db *DB) string {
	tb.Helper()
	var out strings.Builder
	var walk func(b *bolt.Bucket, depth int) error
	walk = func(b *bolt.Bucket, depth int) error {
		return b.ForEach(func(k, v []byte) error {
			fmt.Fprintf(&out, "%*s%q = %q\n", 2*depth, "", k, v)
			if v == nil {
				return walk(b.Bucket(k), depth+1)
			}
			return nil
		})
	}
	err := db.bolt.View(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
			fmt.Fprintf(&out, "%q\n", name)
			return walk(b, 1)
		})
	})
	if err != nil {
		tb.Fatal(err)
	}
	return out.String()
}

// change alters a file behind the back of the store.
func change(tb testing.TB, db *DB, f func(tx *bolt.Tx) error) {
	tb.Helper()
	if err := db.bolt.Update(f); err != nil {
		tb.Fatal(err)
	}
}

func mustRead(tb testing.TB, path string) []byte {
	tb.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

func mustWrite(tb testing.TB, path string, b []byte) {
	tb.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		tb.Fatal(err)
	}
}
