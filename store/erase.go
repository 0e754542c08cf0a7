package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

var _ session.Eraser = (*DB)(nil)

// Erase implements [session.Eraser]. Salt and words go in one transaction; then
// everything that the file still holds is copied into a new one, which takes its
// place, since a database keeps the bytes of what was removed in its free pages.
// Cut off at any moment, the old file or the new one is there, whole, and Erase
// can be done again.
//
// What a disk keeps of a file that is no longer there is beyond this program, as
// are other links to the file and copies made of it.
func (db *DB) Erase(ctx context.Context, texts map[session.ID][]session.Hash) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	db.copying.Lock()
	defer db.copying.Unlock()
	db.mu.Lock()
	defer db.mu.Unlock()
	err := db.bolt.Update(func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		for id, digests := range texts {
			if err := b.erase(id, digests); err != nil {
				return fmt.Errorf("journal %q: %w", id, err)
			}
		}
		return nil
	})
	if err == nil {
		err = db.renew()
	}
	if err != nil {
		return fmt.Errorf("%s: %w", db.path, err)
	}
	return nil
}

func (b buckets) erase(id session.ID, digests []session.Hash) error {
	if beside := b.texts.Bucket([]byte(id)); beside != nil {
		for _, d := range digests {
			if beside.Get(d[:]) == nil {
				continue
			}
			if err := beside.Put(d[:], encodeText(session.Text{Digest: d})); err != nil {
				return err
			}
		}
	}
	if b.received == nil {
		return nil
	}
	prefix := []byte(string(id) + " ")
	k, v := b.received.Cursor().Seek(prefix)
	if !bytes.HasPrefix(k, prefix) {
		return nil
	}
	without, err := session.EraseFromFile(v, digests)
	if err != nil {
		return err
	}
	return b.received.Put(bytes.Clone(k), without)
}

// newPath is where renew writes the file anew.
func newPath(path string) string { return path + ".new" }

// renew replaces the file by a compacted copy. Its lock is held.
func (db *DB) renew() error {
	// A link stays one, and what it leads to is replaced.
	path, err := filepath.EvalSymlinks(db.path)
	if err != nil {
		return err
	}
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	// One that was cut off may have left its copy.
	if err := os.Remove(newPath(path)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := copyCompacted(newPath(path), info.Mode().Perm(), db.bolt); err != nil {
		return errors.Join(err, os.Remove(newPath(path)))
	}
	// Nobody else gets the old file before its name is the new one's, but on
	// Windows, where an open file can't be replaced.
	old := db.bolt
	if runtime.GOOS == "windows" {
		if err := old.Close(); err != nil {
			return err
		}
	}
	err = os.Rename(newPath(path), path)
	if err == nil {
		err = syncFolder(path)
	}
	if runtime.GOOS != "windows" {
		err = errors.Join(err, old.Close())
	}
	again, openErr := openToWrite(db.path, Options{Timeout: 5 * time.Second}, migrations)
	if openErr != nil {
		return errors.Join(err, openErr)
	}
	db.bolt = again.bolt
	return err
}

// copyCompacted writes a file of what a database now holds, and nothing of what
// it once held. It is on disk when copyCompacted returns nil.
func copyCompacted(path string, mode fs.FileMode, from *bolt.DB) error {
	to, err := bolt.Open(path, mode, &bolt.Options{Timeout: time.Second, NoSync: true})
	if err != nil {
		return err
	}
	const mostBytes = 16 << 20 // in memory at once
	err = bolt.Compact(to, from, mostBytes)
	if err == nil {
		err = to.Sync()
	}
	return errors.Join(err, to.Close())
}
