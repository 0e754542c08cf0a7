package main

import (
	"context"
	"errors"
	"fmt"

	"oddcup/session"
	"oddcup/store"
)

// importCommand keeps another laboratory's session file, if it verifies, in the
// data file: its bytes as they are, to be read and never changed.
type importCommand struct {
	File string `arg:"" help:"Session file." placeholder:"FILE"`
	Data string `help:"Data file. Made on the first run. Default: oddcup's place among your programs' data." placeholder:"FILE"`
}

// Run implements the command.
func (c *importCommand) Run(ctx context.Context, to streams) error {
	b, err := readAll(c.File, session.MostDossier)
	if err != nil {
		return hinted{err, "name a session file that oddcup export wrote"}
	}
	// Before the data file is made: what is no session file leaves none behind.
	if _, err := session.ReadDossier(b); err != nil {
		return c.refused(err)
	}
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	db, err := openStore(data)
	if err != nil {
		return err
	}
	defer db.Close()
	d, added, err := db.Receive(ctx, b)
	if err != nil {
		return c.refused(err)
	}
	laboratory := d.Laboratory
	if laboratory == "" {
		laboratory = "a laboratory without a name"
	}
	if !added {
		fmt.Fprintf(to.out, "%s: session %s of %s is kept already; nothing was changed\n", data, d.Session, laboratory)
		return nil
	}
	fmt.Fprintf(to.out, "%s: session %s of %s is kept, to be read only\n", data, d.Session, laboratory)
	fmt.Fprintln(to.out, "It is consistent with itself; that it comes from there only digest and hash from paper can show: oddcup verify")
	return nil
}

func (c *importCommand) refused(err error) error {
	err = fmt.Errorf("%s: %w", c.File, err)
	switch {
	case errors.Is(err, session.ErrNewer):
		return hinted{err, "use the newer oddcup"}
	case errors.Is(err, session.ErrDossier):
		return hinted{err, "nothing was kept; ask its laboratory for another copy"}
	case errors.Is(err, store.ErrOwn), errors.Is(err, store.ErrOtherFile):
		return hinted{err, "nothing was changed; oddcup verify shows how the two stand"}
	}
	return hinted{err, "nothing was kept; look at the data file with oddcup check"}
}
