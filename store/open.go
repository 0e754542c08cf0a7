package store

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

// DB is an open file of journals. It is safe for concurrent use.
type DB struct {
	path string

	copying sync.Mutex // held while a copy is made: none may come between an erasure's steps

	mu   sync.RWMutex // guards the following field; held for writing while the file is replaced
	bolt *bolt.DB
}

// Options are for Open; the zero value is the usual one.
type Options struct {
	// Timeout is how long Open waits for another program to let go of the file;
	// 0 means 200 ms.
	Timeout time.Duration
}

// Open opens the file at path for reading and writing, and makes it on the
// first start: its folder with mode 0700, the file with 0600. An empty file
// counts as new: that is what a first start leaves that was cut off, there is
// nothing in it to lose, and whether it is still empty is looked at again once
// it is locked. Anything else that is no file of this program is left as it is.
//
// The error wraps ErrInUse, ErrNewer, ErrNotADatabase, ErrDamaged, or the
// operating system's.
func Open(path string, o Options) (*DB, error) { return open(path, o, migrations) }

func open(path string, o Options, list []migration) (*DB, error) {
	if o.Timeout <= 0 {
		o.Timeout = 200 * time.Millisecond
	}
	fresh, err := prepare(path)
	if err == nil && !fresh {
		err = look(path, o, list)
	}
	var db *DB
	if err == nil {
		db, err = openToWrite(path, o, list)
	}
	if err == nil && fresh {
		if err = syncFolder(path); err != nil {
			err = errors.Join(err, db.Close())
		}
	}
	if err != nil {
		return nil, sentence(path, err)
	}
	return db, nil
}

// sentence makes one of an error from Open: which file, what is wrong with it,
// and what to do.
func sentence(path string, err error) error {
	next := "name another file"
	switch {
	case errors.Is(err, ErrInUse):
		next = "stop that one, or name another file"
	case errors.Is(err, ErrNewer):
		next = "open it with that version, or name another file"
	case errors.Is(err, ErrNotADatabase):
		next = "nothing was changed; name another file, or restore this one from a backup"
	case errors.Is(err, ErrDamaged):
		next = "restore it from a backup, or name another file"
	case errors.Is(err, fs.ErrPermission):
		next = "name a file in a folder that you may write to"
	}
	// The operating system's errors tell the path again.
	if e, ok := errors.AsType[*fs.PathError](err); ok && e.Path == path {
		err = e.Err
	}
	return fmt.Errorf("%s: %w: %s", path, err, next)
}

// prepare makes the folder, and reports whether the file is a new one. What is
// no plain file is not even opened, since that could wait for ever.
func prepare(path string) (fresh bool, err error) {
	if path == "" {
		return false, errors.New("no file is named")
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return true, os.MkdirAll(filepath.Dir(path), 0o700)
	case err != nil:
		return false, err
	case info.IsDir():
		return false, fmt.Errorf("%w (it is a folder)", ErrNotADatabase)
	case !info.Mode().IsRegular():
		return false, fmt.Errorf("%w (it is no plain file)", ErrNotADatabase)
	}
	return info.Size() == 0, nil
}

// OpenToRead opens a file that is there, and changes nothing of it: no migration
// is done, and what would write fails. While it is open, nobody can write to the
// file. The errors are those of Open, and fs.ErrNotExist.
func OpenToRead(path string, o Options) (*DB, error) { return openToRead(path, o, migrations) }

func openToRead(path string, o Options, list []migration) (*DB, error) {
	if o.Timeout <= 0 {
		o.Timeout = 200 * time.Millisecond
	}
	db, err := func() (*DB, error) {
		if _, err := os.Stat(path); err != nil {
			return nil, err
		}
		if fresh, err := prepare(path); err != nil || fresh {
			return nil, cmp.Or(err, fmt.Errorf("%w (it is empty)", ErrNotADatabase))
		}
		b, version, err := openToLook(path, o, list)
		if err != nil {
			return nil, err
		}
		if version == 0 {
			return nil, errors.Join(fmt.Errorf("%w (nothing is in it)", ErrNotADatabase), b.Close())
		}
		return &DB{path: path, bolt: b}, nil
	}()
	if err != nil {
		return nil, sentence(path, err)
	}
	return db, nil
}

// look opens a file read-only and returns why it can't be used. Opening it to
// write at once could alter what is not ours, and bbolt does not stand a file
// that is cut short or damaged.
func look(path string, o Options, list []migration) error {
	b, _, err := openToLook(path, o, list)
	if err != nil {
		return err
	}
	return b.Close()
}

// openToLook opens a file read-only, looks at all of its pages and gives its
// version. While it is open, nobody can write to it.
func openToLook(path string, o Options, list []migration) (*bolt.DB, uint64, error) {
	b, err := openBolt(path, &bolt.Options{ReadOnly: true, Timeout: o.Timeout})
	if err != nil {
		return nil, 0, err
	}
	var version uint64
	err = b.View(func(tx *bolt.Tx) error {
		// bbolt has read the first two pages by now, and no other.
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		if info.Size() < tx.Size() {
			return fmt.Errorf("%w (it is cut short: %d of %d bytes are there)", ErrNotADatabase, info.Size(), tx.Size())
		}
		if err := checkOpenPages(b); err != nil {
			return err
		}
		version, err = inspect(tx, list)
		return err
	})
	if err != nil {
		return nil, 0, errors.Join(err, b.Close())
	}
	return b, version, nil
}

func openToWrite(path string, o Options, list []migration) (*DB, error) {
	b, err := openBolt(path, &bolt.Options{Timeout: o.Timeout})
	if err != nil {
		return nil, err
	}
	db := &DB{path: path, bolt: b}
	var version uint64
	err = b.View(func(tx *bolt.Tx) (err error) {
		version, err = inspect(tx, list)
		return err
	})
	if err == nil && version != newest(list) {
		err = b.Update(func(tx *bolt.Tx) error { return migrate(tx, version, list) })
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// openBolt opens with bbolt and gives its errors the meaning they have here.
func openBolt(path string, o *bolt.Options) (*bolt.DB, error) {
	b, err := bolt.Open(path, 0o600, o)
	_, fromSystem := errors.AsType[*fs.PathError](err)
	switch {
	case err == nil:
		return b, nil
	case errors.Is(err, berrors.ErrTimeout):
		return nil, ErrInUse
	case fromSystem:
		return nil, err
	}
	info, statErr := os.Stat(path)
	switch {
	case statErr != nil:
		return nil, statErr
	case info.Size() < minSize:
		return nil, fmt.Errorf("%w (it has only %d bytes)", ErrNotADatabase, info.Size())
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrVersionMismatch), errors.Is(err, berrors.ErrChecksum):
		return nil, fmt.Errorf("%w (it begins with something else)", ErrNotADatabase)
	}
	return nil, err
}

// minSize is that of the two pages which begin every file, 4096 bytes each or more.
const minSize = 8192

// syncFolder makes a new file's name durable: without it a power cut could take
// away the whole file, with answers that phones were told are kept. The folder
// may be new as well. Windows has no such call and needs none.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	folder := filepath.Dir(path)
	for _, name := range []string{folder, filepath.Dir(folder)} {
		d, err := os.Open(name)
		if errors.Is(err, fs.ErrPermission) && name != folder {
			continue // not ours, so not made by us
		}
		if err != nil {
			return err
		}
		if err := errors.Join(d.Sync(), d.Close()); err != nil {
			return err
		}
	}
	return nil
}

// Path is the file's name as it was given to Open.
func (db *DB) Path() string { return db.path }

// Close waits for transactions in hand and closes the file. Every method but
// Path fails after it.
func (db *DB) Close() error {
	db.mu.RLock()
	defer db.mu.RUnlock()
	if err := db.bolt.Close(); err != nil {
		return fmt.Errorf("%s: %w", db.path, err)
	}
	return nil
}
