package store

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// Opened to read, a file is read and not altered, by a migration neither.
func TestOpenToRead(t *testing.T) {
	path := filePath(t)
	db := mustOpenUnchecked(t, path)
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries[:2])
	lab := chain{id: session.LabID}
	mustAppend(t, db, session.LabID, lab.next(t, &session.LabNamed{Name: "Back room"}))
	mustClose(t, db)
	before := mustRead(t, path)
	old := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
	if err := os.Chtimes(path, old, old); err != nil {
		t.Fatal(err)
	}
	later := append(slices.Clone(migrations), func(*bolt.Bucket) error {
		t.Error("a file opened to read was migrated")
		return nil
	})
	read, err := openToRead(path, Options{}, later)
	if err != nil {
		t.Fatal(err)
	}
	got, _, err := read.Load(context.Background(), "tuesday")
	if err != nil || len(got) != 2 || got[1].Hash != entries[1].Hash {
		t.Errorf("%d entries, %v", len(got), err)
	}
	ids, err := read.Journals(context.Background())
	if err != nil || !slices.Equal(ids, []session.ID{session.LabID, "tuesday"}) {
		t.Errorf("journals %v, %v", ids, err)
	}
	if rows, err := read.Rows(context.Background()); err != nil || len(rows) != 1 {
		t.Errorf("rows %v, %v", rows, err)
	}
	if err := read.Append(context.Background(), "tuesday", entries[2:], []session.Text{reason}); err == nil {
		t.Error("an append went through")
	}
	// Several may read at once, and nobody writes meanwhile.
	again, err := OpenToRead(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(path, Options{Timeout: 50 * time.Millisecond}); !errors.Is(err, ErrInUse) {
		t.Errorf("opened to write meanwhile: %v", err)
	}
	mustClose(t, again)
	mustClose(t, read)
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(mustRead(t, path), before) || !info.ModTime().Equal(old) {
		t.Error("the file was altered")
	}
}

func TestOpenToReadRefuses(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	mustWrite(t, at("empty"), nil)
	mustWrite(t, at("words"), bytes.Repeat([]byte("cups to buy: 24\n"), 1000))
	b, err := bolt.Open(at("no bucket"), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]error{
		"none": fs.ErrNotExist, "empty": ErrNotADatabase, "words": ErrNotADatabase, "no bucket": ErrNotADatabase, "": ErrNotADatabase,
	} {
		if _, err := OpenToRead(at(name), Options{}); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", name, err, want)
		}
	}
	if _, err := os.Stat(at("none")); !errors.Is(err, fs.ErrNotExist) {
		t.Error("a file was made")
	}
	path := at("in use")
	db := mustOpen(t, path)
	if _, err := OpenToRead(path, Options{Timeout: 50 * time.Millisecond}); !errors.Is(err, ErrInUse) {
		t.Errorf("a file in use: %v", err)
	}
	mustClose(t, db)
}
