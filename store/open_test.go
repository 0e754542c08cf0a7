package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

func TestFirstStart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new", "folder", "lab.oddcup")
	db := mustOpen(t, path)
	if db.Path() != path {
		t.Errorf("path: got %s, want %s", db.Path(), path)
	}
	if runtime.GOOS == "windows" {
		return
	}
	for name, want := range map[string]fs.FileMode{
		path: 0o600, filepath.Dir(path): 0o700 | fs.ModeDir, filepath.Dir(filepath.Dir(path)): 0o700 | fs.ModeDir,
	} {
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode() != want {
			t.Errorf("%s: mode: got %v, want %v", name, info.Mode(), want)
		}
	}
}

// A first start that is cut off leaves an empty file, or a database without a
// bucket; the next start goes on from there.
func TestFirstStartCutOff(t *testing.T) {
	for name, leave := range map[string]func(path string){
		"an empty file": func(path string) { mustWrite(t, path, nil) },
		"no bucket": func(path string) {
			b, err := bolt.Open(path, 0o600, nil)
			if err != nil {
				t.Fatal(err)
			}
			if err := b.Close(); err != nil {
				t.Fatal(err)
			}
		},
	} {
		path := filePath(t)
		leave(path)
		db := mustOpen(t, path)
		entries, reason := threeEntries(t, "tuesday")
		mustAppend(t, db, "tuesday", entries, reason)
		if err := db.Check(context.Background()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What is no file of ours is named as such and stays as it is, to the byte and
// to its time.
func TestNotADatabase(t *testing.T) {
	dir := t.TempDir()
	own := filepath.Join(dir, "own.oddcup")
	db := mustOpen(t, own)
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries, reason)
	var used int64
	if err := db.bolt.View(func(tx *bolt.Tx) error { used = tx.Size(); return nil }); err != nil {
		t.Fatal(err)
	}
	mustClose(t, db)
	raw := mustRead(t, own)
	foreign := func(name string, fill func(tx *bolt.Tx) error) []byte {
		path := filepath.Join(dir, name)
		b, err := bolt.Open(path, 0o600, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(b.Update(fill), b.Close()); err != nil {
			t.Fatal(err)
		}
		return mustRead(t, path)
	}
	long := bytes.Repeat([]byte("Lot K-17: sweet, round, a little dull.\n"), 2000)
	cases := []struct {
		name    string
		content []byte
		why     string
	}{
		{"a short text", long[:39], "it has only 39 bytes"},
		{"a long text", long, "it begins with something else"},
		{"zeros", make([]byte, 1<<16), "it begins with something else"},
		{"another's buckets", foreign("a", func(tx *bolt.Tx) error {
			_, err := tx.CreateBucket([]byte("music"))
			return err
		}), "another program's database"},
		{"another's v1", foreign("b", func(tx *bolt.Tx) error {
			b, err := tx.CreateBucket([]byte("v1"))
			return errors.Join(err, b.Put([]byte("version"), []byte{4}))
		}), "another program's database"},
		{"another's v1 with a version of eight bytes", foreign("c", func(tx *bolt.Tx) error {
			b, err := tx.CreateBucket([]byte("v1"))
			return errors.Join(err, b.Put([]byte("version"), binary.BigEndian.AppendUint64(nil, 1)))
		}), "another program's database"},
	}
	for _, n := range []int64{1, 100, 4095, 4096, 8191, 8192, 8193, 12288, used - 4096, used - 1} {
		cases = append(cases, struct {
			name    string
			content []byte
			why     string
		}{"cut short", raw[:n], ""})
	}
	for _, c := range cases {
		path := filepath.Join(t.TempDir(), "lab.oddcup")
		mustWrite(t, path, c.content)
		old := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
		if err := os.Chtimes(path, old, old); err != nil {
			t.Fatal(err)
		}
		_, err := Open(path, Options{})
		if !errors.Is(err, ErrNotADatabase) {
			t.Errorf("%s, %d bytes: got %v, want ErrNotADatabase", c.name, len(c.content), err)
			continue
		}
		want := path + ": not an oddcup file (" + c.why + "): nothing was changed; name another file, or restore this one from a backup"
		if c.why != "" && err.Error() != want {
			t.Errorf("%s:\n got %v\nwant %s", c.name, err, want)
		}
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(mustRead(t, path), c.content) || !info.ModTime().Equal(old) {
			t.Errorf("%s, %d bytes: the file was altered", c.name, len(c.content))
		}
	}
	// Free space at the end may be missing.
	path := filepath.Join(dir, "shorter.oddcup")
	mustWrite(t, path, raw[:used])
	mustOpen(t, path)
}

func TestFolderIsNotADatabase(t *testing.T) {
	dir := t.TempDir()
	_, err := Open(dir, Options{})
	want := dir + ": not an oddcup file (it is a folder): nothing was changed; name another file, or restore this one from a backup"
	if !errors.Is(err, ErrNotADatabase) || err.Error() != want {
		t.Errorf("got %v\nwant %s", err, want)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 0 {
		t.Errorf("left in the folder: %v, error %v", left, err)
	}
}

func TestInUse(t *testing.T) {
	path := filePath(t)
	db := mustOpen(t, path)
	_, err := Open(path, Options{Timeout: 100 * time.Millisecond})
	want := path + ": in use by another running oddcup: stop that one, or name another file"
	if !errors.Is(err, ErrInUse) || err.Error() != want {
		t.Errorf("got %v\nwant %s", err, want)
	}
	// Who comes second has not disturbed the first, and gets the file after it.
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries, reason)
	mustClose(t, db)
	mustOpen(t, path)
}

func TestUnusablePlaces(t *testing.T) {
	dir := t.TempDir()
	mustWrite(t, filepath.Join(dir, "file"), nil)
	under := filepath.Join(dir, "file", "lab.oddcup")
	for _, path := range []string{"", under} {
		_, err := Open(path, Options{})
		if err == nil || errors.Is(err, ErrNotADatabase) || !strings.HasSuffix(err.Error(), ": name another file") {
			t.Errorf("%q: got %v, want an error that ends in what to do", path, err)
		}
	}
}

func TestNewerFile(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(tx *bolt.Tx) error
		say  string
	}{
		{"version", func(tx *bolt.Tx) error {
			return tx.Bucket(bucketV1).Put(keyVersion, binary.BigEndian.AppendUint64(nil, 999_999))
		}, "written by a newer version of oddcup (file version 999999; this one reads up to 3): open it with that version, or name another file"},
		{"schema", func(tx *bolt.Tx) error {
			_, err := tx.CreateBucket([]byte("v2"))
			return errors.Join(err, tx.DeleteBucket(bucketV1))
		}, "written by a newer version of oddcup (schema 2; this one reads schema 1): open it with that version, or name another file"},
		{"schema beside the old one", func(tx *bolt.Tx) error {
			_, err := tx.CreateBucket([]byte("v12"))
			return err
		}, "written by a newer version of oddcup (schema 12; this one reads schema 1): open it with that version, or name another file"},
	} {
		path := filePath(t)
		db := mustOpenUnchecked(t, path)
		change(t, db, c.make)
		mustClose(t, db)
		before := mustRead(t, path)
		_, err := Open(path, Options{})
		if !errors.Is(err, ErrNewer) || !errors.Is(err, session.ErrNewer) || err.Error() != path+": "+c.say {
			t.Errorf("%s:\n got %v\nwant %s: %s", c.name, err, path, c.say)
		}
		if !bytes.Equal(mustRead(t, path), before) {
			t.Errorf("%s: the file was altered", c.name)
		}
	}
}

// A list of two migrations, on a file of version 1.
func TestMigrations(t *testing.T) {
	path := filePath(t)
	openOld := func() *DB {
		db, err := open(path, Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return db
	}
	db := openOld()
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries, reason)
	mustClose(t, db)
	var done []int
	broken := errors.New("no third bucket today")
	first := func(v1 *bolt.Bucket) error {
		done = append(done, 1)
		_, err := v1.CreateBucket([]byte("first"))
		return err
	}
	second := func(v1 *bolt.Bucket) error {
		done = append(done, 2)
		if v1.Bucket([]byte("first")) == nil {
			t.Error("the second migration came without the first")
		}
		return broken
	}
	version := func(db *DB) (n uint64) {
		change(t, db, func(tx *bolt.Tx) error {
			n = binary.BigEndian.Uint64(tx.Bucket(bucketV1).Get(keyVersion))
			return nil
		})
		return n
	}
	// One that fails takes all back.
	if _, err := open(path, Options{}, []migration{first, second}); !errors.Is(err, broken) {
		t.Fatalf("got %v, want the migration's own error", err)
	}
	db = openOld()
	if v := version(db); v != 1 {
		t.Errorf("version after a failed migration: got %d, want 1", v)
	}
	if strings.Contains(dump(t, db), "first") {
		t.Error("a failed migration left something")
	}
	mustClose(t, db)
	// Then both work, and are not done again.
	broken = nil
	for range 2 {
		db, err := open(path, Options{}, []migration{first, second})
		if err != nil {
			t.Fatal(err)
		}
		if v := version(db); v != 3 {
			t.Errorf("version: got %d, want 3", v)
		}
		mustClose(t, db)
	}
	if len(done) != 4 {
		t.Errorf("migrations done: got %v, want 1 2 1 2", done)
	}
	if _, err := open(path, Options{}, migrations[:1]); !errors.Is(err, ErrNewer) {
		t.Errorf("opened by a program without them: got %v, want ErrNewer", err)
	}
	// A new file has them too.
	done = nil
	db, err := open(filePath(t), Options{}, []migration{first, second})
	if err != nil {
		t.Fatal(err)
	}
	defer mustClose(t, db)
	if v := version(db); v != 3 || len(done) != 2 {
		t.Errorf("new file: version %d after migrations %v, want 3 after two", v, done)
	}
}

// Opening a file again writes nothing.
func TestOpenWritesNothing(t *testing.T) {
	path := filePath(t)
	mustClose(t, mustOpen(t, path))
	before := mustRead(t, path)
	mustClose(t, mustOpen(t, path))
	if !bytes.Equal(mustRead(t, path), before) {
		t.Error("the file was altered")
	}
}
