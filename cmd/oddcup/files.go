package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// newFile is a file that is written whole or not at all.
type newFile struct {
	path  string
	mode  fs.FileMode
	bytes []byte
}

// write puts the file in its place and never over another: it is written under
// a name of its own beside it, and takes the name once it is on disk. The error
// is fs.ErrExist where the name is taken.
func (f newFile) write() error {
	tmp, err := os.CreateTemp(filepath.Dir(f.path), "."+filepath.Base(f.path)+"-*")
	if err != nil {
		return fmt.Errorf("%s: %w", f.path, cause(err))
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(f.bytes)
	if err == nil {
		err = tmp.Chmod(f.mode)
	}
	if err == nil {
		err = tmp.Sync()
	}
	if err := errors.Join(err, tmp.Close()); err != nil {
		return fmt.Errorf("%s: %w", f.path, cause(err))
	}
	// A link is refused where the name is taken, in one step.
	err = os.Link(tmp.Name(), f.path)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		// This file system has no links.
		if err = f.free(); err == nil {
			err = os.Rename(tmp.Name(), f.path)
		}
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.path, cause(err))
	}
	return nil
}

// free is fs.ErrExist where the file's name is taken.
func (f newFile) free() error {
	_, err := os.Lstat(f.path)
	switch {
	case err == nil:
		return fs.ErrExist
	case errors.Is(err, fs.ErrNotExist):
		return nil
	}
	return err
}

// writeNew writes files that belong together. None of them replaces another
// file, and where one can't be written those before it are taken back. A kill in
// between leaves the first ones.
func writeNew(files ...newFile) error {
	for i, f := range files {
		if err := f.write(); err != nil {
			for _, done := range files[:i] {
				os.Remove(done.path)
			}
			return err
		}
	}
	return nil
}

// plainFile looks at a file: what is none would be waited for, or never end.
func plainFile(path string) (fs.FileInfo, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	case info.IsDir():
		return nil, fmt.Errorf("%s: it is a folder", path)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s: it is no plain file", path)
	}
	return info, nil
}

// readAll reads a file of at most so many bytes.
func readAll(path string, most int64) ([]byte, error) {
	info, err := plainFile(path)
	if err != nil {
		return nil, err
	}
	if info.Size() > most {
		return nil, fmt.Errorf("%s: %d bytes are more than the %d that such a file has", path, info.Size(), most)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	}
	return b, nil
}

// cause is what went wrong without the call and the path that the system adds.
func cause(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
