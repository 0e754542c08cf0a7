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
	fmt.Fprintln(to.out, session.LabelsWords)
	if r := session.VerifyDossier(b, session.Paper{}); r.Missing > 0 {
		fmt.Fprintf(to.out, "%d of %d typed words are not in the file: erased, or taken out\n", r.Missing, r.Typed)
	}
	same, err := sameSeal(ctx, db, d)
	if err != nil {
		return hinted{err, "the session is kept; look at the data file with oddcup check"}
	}
	for _, other := range same {
		fmt.Fprintf(to.out, "CAUTION: its seal is also that of %s: one tasting under two labels. Ask which is the true one\n", other)
	}
	return nil
}

// sameSeal names the other sessions of the data file, own and received, whose
// seal has the same digest.
func sameSeal(ctx context.Context, db *store.DB, d session.Dossier) ([]string, error) {
	var same []string
	digest := d.Digest()
	ids, err := db.Journals(ctx)
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		entries, _, err := db.Load(ctx, id)
		if err != nil {
			return nil, err
		}
		if id != session.LabID && session.DigestOf(entries) == digest {
			same = append(same, fmt.Sprintf("session %s of this laboratory’s own", id))
		}
	}
	others, err := db.Received(ctx)
	if err != nil {
		return nil, err
	}
	for _, x := range others {
		o, err := session.ReadDossier(x.File)
		if err != nil {
			return nil, err
		}
		if o.Session != d.Session && o.Digest() == digest {
			same = append(same, fmt.Sprintf("session %s of %q", o.Session, o.Laboratory))
		}
	}
	return same, nil
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
