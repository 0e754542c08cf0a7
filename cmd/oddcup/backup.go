package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/store"
)

// backupCommand writes a copy of a data file, compacted and checked, and notes
// in the register that it was made: after an erasure the older copies have to be
// found. The file must not be in use: of one that is, the console makes the copy.
type backupCommand struct {
	Out  string `help:"File to write, which must not be there." required:"" placeholder:"FILE"`
	Data string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
}

// Run implements the command.
func (c *backupCommand) Run(ctx context.Context, to streams) error {
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	db, rooms, shut, err := openRooms(ctx, data, "press “Back up now” on the home page of its console; or stop that oddcup, make the backup, then start it again. A copy of a file in use made any other way may not be whole")
	if err != nil {
		return err
	}
	defer shut()
	// A copy must not bring back what an erasure that was cut off should have taken.
	if err := rooms.FinishErasures(ctx, time.Now()); err != nil {
		return hinted{fmt.Errorf("%s: %w", data, err), "nothing was copied; look at the file with oddcup check"}
	}
	err = db.Backup(ctx, c.Out, func() error {
		_, err := rooms.Lab().Do(ctx, session.Command{
			At: time.Now(), Actor: session.Host, Act: session.NoteBackup{File: filepath.Base(c.Out)},
		})
		return err
	})
	switch {
	case errors.Is(err, fs.ErrExist):
		return hinted{err, "nothing is written over: name another file with --out FILE"}
	case errors.Is(err, store.ErrDamaged):
		return hinted{err, "the copy was not kept; look at the file with oddcup check"}
	case err != nil:
		return hinted{err, "name a folder that can be written to with --out FILE, with room for the copy"}
	}
	fmt.Fprintf(to.out, "%s: a copy of %s, checked and noted in the register\n", c.Out, data)
	fmt.Fprintln(to.out, "It holds names and, in clear, the keys of all sessions: keep it where only you can read it.")
	return nil
}

// copyOut makes a copy of the data file in use, in a folder beside it that goes
// when the copy has been read.
func (h *house) copyOut(ctx context.Context, name string, note func() error) (io.ReadCloser, int64, error) {
	dir, err := os.MkdirTemp(filepath.Dir(h.data), copyFolder(h.data)+"*")
	if err != nil {
		return nil, 0, err
	}
	c := readOnce{dir: dir}
	path := filepath.Join(dir, name)
	if err := h.db.Backup(ctx, path, note); err != nil {
		return nil, 0, errors.Join(err, os.RemoveAll(dir))
	}
	c.File, err = os.Open(path)
	if err != nil {
		return nil, 0, errors.Join(err, os.RemoveAll(dir))
	}
	info, err := c.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, c.Close())
	}
	return c, info.Size(), nil
}

// readOnce is a file that goes with its folder when it is closed.
type readOnce struct {
	*os.File
	dir string
}

// Close closes the file and removes it.
func (c readOnce) Close() error { return errors.Join(c.File.Close(), os.RemoveAll(c.dir)) }

// copyFolder begins the names of the folders that copies of a data file are made in.
func copyFolder(data string) string { return "." + filepath.Base(data) + "-copy-" }

// removeCopies takes away what a program that was cut off has left of copies; who
// has the data file open is the only one to make any. What can't be taken away is in
// nobody's way.
func removeCopies(data string) {
	dir := filepath.Dir(data)
	all, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range all {
		if e.IsDir() && strings.HasPrefix(e.Name(), copyFolder(data)) {
			os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}
