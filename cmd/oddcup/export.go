package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"oddcup/session"
	"oddcup/store"
)

// exportCommand writes a session file ([session.Dossier]): one revealed session,
// whole, for others to check. It reads the data file and changes nothing of it.
type exportCommand struct {
	Session string `arg:"" help:"The session, as oddcup verify lists it." placeholder:"SESSION"`
	Data    string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	Out     string `help:"File to write, which must not be there. Default: SESSION.oddcup-session, in this folder." placeholder:"FILE"`
}

// Run implements the command.
func (c *exportCommand) Run(ctx context.Context, to streams) error {
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	db, err := openStoreToRead(data)
	if err != nil {
		return err
	}
	defer db.Close()
	b, err := c.dossier(ctx, db)
	switch {
	case errors.Is(err, session.ErrNoSession):
		return hinted{fmt.Errorf("%s: %w", data, err), "oddcup verify FILE lists all sessions of a file"}
	case errors.Is(err, session.ErrSealed):
		return hinted{err, "close the session and reveal it first; what was abandoned stays sealed"}
	case errors.Is(err, session.ErrNewer):
		return hinted{err, "use the newer oddcup"}
	case err != nil:
		return hinted{err, "look at the file with oddcup verify"}
	}
	out := c.Out
	if out == "" {
		out = c.Session + session.DossierExtension
	}
	// Names and reasons stand in it, so only its owner can read it at first.
	switch err := writeNew(newFile{out, 0o600, b}); {
	case errors.Is(err, fs.ErrExist):
		return hinted{err, "nothing is written over: name another file with --out FILE"}
	case err != nil:
		return hinted{err, "name a folder that can be written to with --out FILE"}
	}
	fmt.Fprintf(to.out, "%s: the whole session, with the names and reasons that are still kept\n", out)
	fmt.Fprintf(to.out, "Whoever has it can check it: oddcup verify %s\n", out)
	return nil
}

func (c *exportCommand) dossier(ctx context.Context, db *store.DB) ([]byte, error) {
	id := session.ID(c.Session)
	if !id.Valid() || id == session.LabID {
		return nil, fmt.Errorf("%q: %w", c.Session, session.ErrNoSession)
	}
	entries, texts, err := db.Load(ctx, id)
	if err != nil {
		return nil, err
	}
	if len(entries) == 0 {
		return nil, fmt.Errorf("%q: %w", c.Session, session.ErrNoSession)
	}
	lab, err := session.LoadLab(ctx, db)
	if err != nil {
		return nil, err
	}
	d, err := session.NewDossier(lab.Name, id, entries, texts)
	if err != nil {
		return nil, err
	}
	return d.Bytes()
}
