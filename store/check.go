package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// Check reads the whole file and returns the first thing that is wrong with it:
// a page that is out of place, by our look or bbolt's; a name that does not
// belong there; an entry whose hash is not that of its bytes, or a chain of
// entries with a gap; a text that is not what its digest was made of, erased ones
// aside; a received session file that does not verify; a row of the index that is not the fold of its journal,
// or a judged session that is not what its journal gives. The error names
// it and wraps ErrDamaged, or ErrNewer for an entry that this program can't read.
//
// Entries missing at a journal's end show by the index, and so not in the
// laboratory's own journal. Appends wait while pages are looked at.
func (db *DB) Check(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	db.mu.RLock()
	defer db.mu.RUnlock()
	if err := db.checkPages(); err != nil {
		return err
	}
	return db.bolt.View(func(tx *bolt.Tx) error { return checkContents(ctx, tx) })
}

func checkContents(ctx context.Context, tx *bolt.Tx) error {
	if _, err := inspect(tx, migrations); err != nil {
		return err
	}
	b, err := bucketsOf(tx)
	if err != nil {
		return err
	}
	known := [][]byte{keyVersion, bucketJournals, bucketTexts, bucketSessions, bucketReceived, bucketJudged}
	err = tx.Bucket(bucketV1).ForEach(func(k, _ []byte) error {
		for _, name := range known {
			if bytes.Equal(k, name) {
				return nil
			}
		}
		return damaged("bucket v1: %q does not belong there", k)
	})
	if err != nil {
		return err
	}
	err = b.journals.ForEach(func(k, v []byte) error {
		id := session.ID(bytes.Clone(k))
		if v != nil || !id.Valid() {
			return damaged("journals: %q does not belong there", k)
		}
		if err := b.checkJournal(ctx, id); err != nil {
			return fmt.Errorf("journal %q: %w", id, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	err = b.texts.ForEach(func(k, v []byte) error {
		id := session.ID(bytes.Clone(k))
		if v != nil || b.journals.Bucket(k) == nil {
			return damaged("texts: %q does not belong there", k)
		}
		if _, err := b.beside(id); err != nil {
			return fmt.Errorf("journal %q: %w", id, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	err = b.sessions.ForEach(func(k, _ []byte) error {
		if b.journals.Bucket(k) == nil || session.ID(k) == session.LabID {
			return damaged("index: row of session %q: there is no such session", k)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := b.checkReceived(ctx); err != nil {
		return err
	}
	return b.checkJudged(ctx)
}

// checkJournal checks a journal's chain, and its row against a fold of it.
func (b buckets) checkJournal(ctx context.Context, id session.ID) error {
	entries, err := b.entries(ctx, id)
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return damaged("it has no entry")
	}
	if err := session.CheckChain(entries); err != nil {
		return damaged("%v", err)
	}
	row, err := session.FoldRow(session.Row{ID: id}, entries)
	if err != nil || id == session.LabID {
		return err
	}
	want, err := json.Marshal(row)
	if err != nil {
		return fmt.Errorf("row: %w", err)
	}
	switch have := b.sessions.Get([]byte(id)); {
	case have == nil:
		return damaged("the index has no row of it")
	case !bytes.Equal(have, want):
		return damaged("its row in the index is not that of its %d entries", len(entries))
	}
	return nil
}

// checkPages looks at the pages and then runs bbolt's own check. It does so in a
// transaction that could write and never does, since neither the pages nor the
// list of free ones must change meanwhile.
func (db *DB) checkPages() error {
	tx, err := db.bolt.Begin(true)
	if err != nil {
		return err
	}
	err = checkOpenPages(db.bolt)
	if err == nil {
		for wrong := range tx.Check() { // to its end, or its goroutine stays
			if err == nil {
				err = damaged("%v", wrong)
			}
		}
	}
	return errors.Join(err, tx.Rollback())
}

// checkOpenPages looks at the pages of a file that nobody writes to meanwhile.
func checkOpenPages(b *bolt.DB) error {
	file, err := os.Open(b.Path())
	if err != nil {
		return err
	}
	return errors.Join(checkPages(file, b.Info().PageSize), file.Close())
}
