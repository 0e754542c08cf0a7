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
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

var (
	_ session.Eraser       = (*DB)(nil)
	_ session.WordSearcher = (*DB)(nil)
)

// JournalsWith implements [session.WordSearcher].
func (db *DB) JournalsWith(ctx context.Context, match func(words string) bool) (map[session.ID]bool, error) {
	with := map[session.ID]bool{}
	err := db.view(ctx, func(b buckets) error {
		return b.texts.ForEachBucket(func(id []byte) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return b.texts.Bucket(id).ForEach(func(k, v []byte) error {
				if len(v) == 0 || with[session.ID(id)] {
					return nil
				}
				t, err := decodeText(k, v)
				if err != nil {
					return fmt.Errorf("journal %q: %w", id, err)
				}
				if match(t.Words) {
					with[session.ID(id)] = true
				}
				return nil
			})
		})
	})
	return with, err
}

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
// it once held. It is on disk when copyCompacted returns nil. Others may write to
// the database meanwhile.
func copyCompacted(path string, mode fs.FileMode, from *bolt.DB) error {
	to, err := bolt.Open(path, mode, &bolt.Options{Timeout: time.Second, NoSync: true})
	if err != nil {
		return err
	}
	// What a copy has taken in lies in the pages of the one transaction that is
	// read until the copy commits it, so all commits come within that. (bbolt's own
	// Compact commits after it, when others may have written over those pages.)
	err = from.View(func(tx *bolt.Tx) error {
		c := copying{to: to, most: 16 << 20}
		return errors.Join(c.all(tx), c.end())
	})
	if err == nil {
		err = to.Sync()
	}
	return errors.Join(err, to.Close())
}

// copying fills an empty database in transactions of bounded size.
type copying struct {
	to    *bolt.DB
	most  int      // bytes that a transaction may hold in memory
	tx    *bolt.Tx // in hand, nil for none
	bytes int      // in it
}

func (c *copying) all(from *bolt.Tx) error {
	return from.ForEach(func(name []byte, b *bolt.Bucket) error { return c.bucket([][]byte{name}, b) })
}

// bucket copies a bucket, given with the names that lead to it.
func (c *copying) bucket(path [][]byte, from *bolt.Bucket) error {
	if _, err := c.at(path); err != nil {
		return err
	}
	return from.ForEach(func(k, v []byte) error {
		if v == nil {
			return c.bucket(append(slices.Clip(path), k), from.Bucket(k))
		}
		if c.bytes += len(k) + len(v); c.bytes > c.most {
			if err := c.end(); err != nil {
				return err
			}
			c.bytes = len(k) + len(v)
		}
		b, err := c.at(path)
		if err != nil {
			return err
		}
		b.FillPercent = 1
		return b.Put(k, v)
	})
}

// at gives the bucket of the copy that names lead to, and makes what is missing.
func (c *copying) at(path [][]byte) (b *bolt.Bucket, err error) {
	if c.tx == nil {
		if c.tx, err = c.to.Begin(true); err != nil {
			c.tx = nil
			return nil, err
		}
	}
	if b, err = c.tx.CreateBucketIfNotExists(path[0]); err != nil {
		return nil, err
	}
	for _, name := range path[1:] {
		if b, err = b.CreateBucketIfNotExists(name); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// end commits what is in hand.
func (c *copying) end() error {
	if c.tx == nil {
		return nil
	}
	tx := c.tx
	c.tx = nil
	return tx.Commit()
}
