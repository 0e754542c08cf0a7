package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

var _ session.Journal = (*DB)(nil)

// Append implements [session.Journal]: entries, the texts beside them and the
// session's row in the index go into one transaction, which is on disk when
// Append returns nil. After an error nothing of it is kept, unless the disk
// failed on the very last write; who goes on after an error loads anew.
//
// ctx is looked at before the transaction, which is never broken off. A text
// that the journal has already, erased or not, stays as it is.
func (db *DB) Append(ctx context.Context, id session.ID, entries []session.Entry, texts []session.Text) error {
	err := ctx.Err()
	switch {
	case err != nil:
	case !id.Valid():
		err = errors.New("not a journal's name")
	case len(entries) == 0 && len(texts) > 0:
		err = errors.New("texts without an entry")
	case len(entries) > 0:
		err = db.update(func(tx *bolt.Tx) error { return appendTx(tx, id, entries, texts) })
	}
	if err != nil {
		return fmt.Errorf("journal %q: %w", id, err)
	}
	return nil
}

func appendTx(tx *bolt.Tx, id session.ID, entries []session.Entry, texts []session.Text) error {
	b, err := bucketsOf(tx)
	if err != nil {
		return err
	}
	journal, err := b.journals.CreateBucketIfNotExists([]byte(id))
	if err != nil {
		return err
	}
	// Keys only ever come at the end, so full pages stay full.
	journal.FillPercent = 1
	var last session.Entry
	if k, v := journal.Cursor().Last(); k != nil {
		if last, err = decodeEntry(k, v); err != nil {
			return err
		}
	}
	if err := session.CheckAppend(last.Seq, last.Hash, entries); err != nil {
		return err
	}
	// The row as it was is read before the journal grows.
	row, err := b.rowBefore(id, last.Seq)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if session.Hash(sha256.Sum256(e.Stored)) != e.Hash {
			return fmt.Errorf("entry %d: its hash is not that of its bytes", e.Seq)
		}
		key, value := encodeEntry(e)
		if err := journal.Put(key, value); err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
	}
	if err := b.putTexts(id, texts); err != nil {
		return err
	}
	return b.putRow(id, row, entries)
}

func (b buckets) putTexts(id session.ID, texts []session.Text) error {
	if len(texts) == 0 {
		return nil
	}
	beside, err := b.texts.CreateBucketIfNotExists([]byte(id))
	if err != nil {
		return err
	}
	for _, t := range texts {
		value := encodeText(t)
		if _, err := decodeText(t.Digest[:], value); err != nil {
			return errors.New("a text does not fit its digest")
		}
		if beside.Get(t.Digest[:]) != nil {
			continue
		}
		if err := beside.Put(t.Digest[:], value); err != nil {
			return fmt.Errorf("text %s: %w", t.Digest, err)
		}
	}
	return nil
}

// rowBefore gives the row of a session whose last entry is seq. A row that does
// not stand at that entry is made anew: no answer is refused because of the
// index.
func (b buckets) rowBefore(id session.ID, seq uint64) (session.Row, error) {
	row := session.Row{ID: id}
	if id == session.LabID || seq == 0 {
		return row, nil
	}
	if v := b.sessions.Get([]byte(id)); json.Unmarshal(v, &row) == nil && row.ID == id && row.Seq == seq {
		return row, nil
	}
	entries, err := b.entries(context.Background(), id)
	if err != nil {
		return row, err
	}
	return session.FoldRow(session.Row{ID: id}, entries)
}

// putRow takes entries into a session's row and keeps it.
func (b buckets) putRow(id session.ID, row session.Row, entries []session.Entry) error {
	if id == session.LabID {
		return nil
	}
	row, err := session.FoldRow(row, entries)
	if err != nil {
		return err
	}
	v, err := json.Marshal(row)
	if err != nil {
		return fmt.Errorf("row: %w", err)
	}
	return b.sessions.Put([]byte(id), v)
}

// entries reads a journal; none if there is no such journal.
func (b buckets) entries(ctx context.Context, id session.ID) ([]session.Entry, error) {
	journal := b.journals.Bucket([]byte(id))
	if journal == nil {
		return nil, nil
	}
	var entries []session.Entry
	err := journal.ForEach(func(k, v []byte) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		e, err := decodeEntry(k, v)
		if err != nil {
			return err
		}
		entries = append(entries, e)
		return nil
	})
	return entries, err
}

// beside reads the texts beside a journal, the erased ones left out.
func (b buckets) beside(id session.ID) (map[session.Hash]session.Text, error) {
	found := map[session.Hash]session.Text{}
	texts := b.texts.Bucket([]byte(id))
	if texts == nil {
		return found, nil
	}
	err := texts.ForEach(func(k, v []byte) error {
		t, err := decodeText(k, v)
		if err == nil && len(v) > 0 {
			found[t.Digest] = t
		}
		return err
	})
	return found, err
}

// Load implements [session.Journal]. Each entry is checked against its hash and
// each text against its digest; the error names the journal and the first one
// that does not fit, and wraps ErrDamaged. Erased texts are left out.
func (db *DB) Load(ctx context.Context, id session.ID) (entries []session.Entry, texts map[session.Hash]session.Text, err error) {
	err = db.view(ctx, func(b buckets) (err error) {
		if entries, err = b.entries(ctx, id); err != nil {
			return err
		}
		texts, err = b.beside(id)
		return err
	})
	if err != nil {
		return nil, nil, fmt.Errorf("journal %q: %w", id, err)
	}
	return entries, texts, nil
}

// Journals are the ids of all journals in the file, in rising order, the
// laboratory's own among them.
func (db *DB) Journals(ctx context.Context) (ids []session.ID, err error) {
	err = db.view(ctx, func(b buckets) error {
		return b.journals.ForEachBucket(func(k []byte) error {
			ids = append(ids, session.ID(bytes.Clone(k)))
			return nil
		})
	})
	return ids, err
}

// Rows implements [session.Journal]. The words of a row's reason are filled in
// where they have not been erased.
func (db *DB) Rows(ctx context.Context) (rows []session.Row, err error) {
	err = db.view(ctx, func(b buckets) error {
		c := b.sessions.Cursor()
		for k, v := c.Last(); k != nil; k, v = c.Prev() {
			row := session.Row{}
			if err := json.Unmarshal(v, &row); err != nil || string(row.ID) != string(k) {
				return damaged("index: row of session %q", k)
			}
			if err := b.fillReason(&row); err != nil {
				return fmt.Errorf("journal %q: %w", row.ID, err)
			}
			rows = append(rows, row)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return rows, nil
}

func (b buckets) fillReason(row *session.Row) error {
	beside := b.texts.Bucket([]byte(row.ID))
	if beside == nil {
		return nil
	}
	v := beside.Get(row.Reason.Digest[:])
	if v == nil {
		return nil
	}
	t, err := decodeText(row.Reason.Digest[:], v)
	if err == nil {
		row.Reason = t
	}
	return err
}

// Reindex drops the index and builds it anew from the journals, in one
// transaction. What is kept of judged sessions is dropped, and comes back when it
// is asked for.
func (db *DB) Reindex(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	return db.update(func(tx *bolt.Tx) error {
		v1 := tx.Bucket(bucketV1)
		if err := v1.DeleteBucket(bucketSessions); err != nil {
			return err
		}
		if _, err := v1.CreateBucket(bucketSessions); err != nil {
			return err
		}
		if err := dropJudged(v1); err != nil {
			return err
		}
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		return b.journals.ForEachBucket(func(k []byte) error {
			id := session.ID(bytes.Clone(k))
			entries, err := b.entries(ctx, id)
			if err == nil {
				err = b.putRow(id, session.Row{ID: id}, entries)
			}
			if err != nil {
				return fmt.Errorf("journal %q: %w", id, err)
			}
			return nil
		})
	})
}

// view runs f in a read-only transaction; what f keeps must be copies.
func (db *DB) view(ctx context.Context, f func(buckets) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	db.mu.RLock()
	defer db.mu.RUnlock()
	return db.bolt.View(func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		return f(b)
	})
}

// update runs f in a transaction that is on disk when update returns nil.
func (db *DB) update(f func(tx *bolt.Tx) error) error {
	db.mu.RLock()
	defer db.mu.RUnlock()
	return db.bolt.Update(f)
}
