package store

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

var _ session.Shelf = (*DB)(nil)

// receivedKey is a session file's key: by session, which sorts by time, then by
// laboratory. An id has no space.
func receivedKey(d session.Dossier) []byte {
	return fmt.Appendf(nil, "%s %s", d.Session, d.Laboratory)
}

// addReceived makes the place for session files of other laboratories.
func addReceived(v1 *bolt.Bucket) error {
	_, err := v1.CreateBucket(bucketReceived)
	return err
}

// Receive keeps the bytes of another laboratory's session file as they are, if
// it verifies; added is false where these very bytes are kept already. The error
// wraps [session.ErrDossier] or [session.ErrNewer] for a file that does not
// verify, ErrOwn for a session of this file's own, and ErrOtherFile where other
// bytes of the session are kept: nothing is ever replaced.
func (db *DB) Receive(ctx context.Context, file []byte) (d session.Dossier, added bool, err error) {
	if d, err = session.ReadDossier(file); err != nil {
		return d, false, err
	}
	if err := ctx.Err(); err != nil {
		return d, false, err
	}
	err = db.update(func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		if b.received == nil {
			return damaged("the bucket of received sessions is missing")
		}
		if b.journals.Bucket([]byte(d.Session)) != nil {
			return fmt.Errorf("session %s: %w", d.Session, ErrOwn)
		}
		prefix := []byte(string(d.Session) + " ")
		if k, v := b.received.Cursor().Seek(prefix); bytes.HasPrefix(k, prefix) {
			if bytes.Equal(v, file) {
				return nil
			}
			return fmt.Errorf("session %s: %w", d.Session, ErrOtherFile)
		}
		added = true
		return b.received.Put(receivedKey(d), file)
	})
	return d, added && err == nil, err
}

// Received implements [session.Shelf]. A file from before there was such a place
// has none.
func (db *DB) Received(ctx context.Context) (all []session.Received, err error) {
	err = db.view(ctx, func(b buckets) error {
		if b.received == nil {
			return nil
		}
		c := b.received.Cursor()
		for k, v := c.Last(); k != nil; k, v = c.Prev() {
			id, laboratory, ok := strings.Cut(string(k), " ")
			if !ok || v == nil {
				return damaged("received: %q does not belong there", k)
			}
			all = append(all, session.Received{Laboratory: laboratory, Session: session.ID(id), File: bytes.Clone(v)})
		}
		return nil
	})
	return all, err
}

// checkReceived re-checks every received session file.
func (b buckets) checkReceived(ctx context.Context) error {
	if b.received == nil {
		return damaged("the bucket of received sessions is missing")
	}
	return b.received.ForEach(func(k, v []byte) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		d, err := session.ReadDossier(v)
		switch {
		case err != nil:
			return damaged("received session %q: %v", k, err)
		case !bytes.Equal(k, receivedKey(d)):
			return damaged("received session %q: the file is of session %s of laboratory %q", k, d.Session, d.Laboratory)
		}
		return nil
	})
}
