package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"oddcup/session"
	"oddcup/store"
)

// backupCommand writes a copy of a data file, compacted and checked, and notes
// in the register that it was made: after an erasure the older copies have to be
// found. The file must not be in use.
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
	// Looked at first, since opening to write would make a file that is not there.
	looked, err := openStoreToRead(data)
	if errors.Is(err, store.ErrInUse) {
		return hinted{err, "stop that oddcup, make the backup, then start it again; a copy of a file in use may not be whole"}
	}
	if err != nil {
		return err
	}
	if err := looked.Close(); err != nil {
		return err
	}
	db, err := openStore(data)
	if err != nil {
		return err
	}
	defer db.Close()
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		return fmt.Errorf("%s: %w", data, err)
	}
	defer rooms.Close()
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
	fmt.Fprintln(to.out, "It holds names and the keys of sealed sessions: keep it where only you can read it.")
	return nil
}
