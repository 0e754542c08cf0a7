package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Backup writes a copy of all that the file now holds to path, where no file may
// be, and checks it. Others may go on writing meanwhile; the copy is as of one
// moment. note is called when the copy is good and before it has its name, to
// journal it: what it refuses is not kept.
//
// The error wraps fs.ErrExist where the name is taken.
func (db *DB) Backup(ctx context.Context, path string, note func() error) (err error) {
	db.copying.Lock()
	defer db.copying.Unlock()
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			err = fs.ErrExist
		}
		return backupError(path, err)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return backupError(path, err)
	}
	defer os.Remove(tmp.Name())
	if err := tmp.Close(); err != nil {
		return backupError(path, err)
	}
	if err := db.copyTo(ctx, tmp.Name()); err != nil {
		return backupError(path, err)
	}
	if err := note(); err != nil {
		return err
	}
	// A link is refused where the name has been taken meanwhile.
	err = os.Link(tmp.Name(), path)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		// This file system has no links.
		if _, taken := os.Lstat(path); taken == nil {
			err = fs.ErrExist
		} else {
			err = os.Rename(tmp.Name(), path)
		}
	}
	if err == nil {
		err = syncFolder(path)
	}
	return backupError(path, err)
}

func backupError(path string, err error) error {
	if err == nil {
		return nil
	}
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		err = e.Err
	} else if e, ok := errors.AsType[*os.LinkError](err); ok {
		err = e.Err
	}
	return fmt.Errorf("%s: %w", path, err)
}

// copyTo fills an empty file and checks what is then in it.
func (db *DB) copyTo(ctx context.Context, path string) error {
	db.mu.RLock()
	err := copyCompacted(path, 0o600, db.bolt)
	db.mu.RUnlock()
	if err != nil {
		return err
	}
	made, err := Open(path, Options{})
	if err != nil {
		return err
	}
	return errors.Join(made.Check(ctx), made.Close())
}
