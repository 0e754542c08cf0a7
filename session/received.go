package session

import (
	"context"
	"fmt"
	"sync"
)

// Received is a session file of another laboratory that is kept here. Its people
// are that laboratory's: nobody here is one of them.
type Received struct {
	Laboratory string
	Session    ID
	File       []byte
}

// Shelf keeps session files of other laboratories. A [Journal] may be one too.
type Shelf interface {
	// Received gives all of them, the newest session first.
	Received(ctx context.Context) ([]Received, error)
}

// ReceivedRow is a received session in a list.
type ReceivedRow struct {
	Laboratory string
	Row
	Plan   Plan
	Digest Hash // of the seal
}

// receivedSessions are read once: while a program has the file open, nobody adds
// to it.
type receivedSessions struct {
	mu    sync.Mutex // guards the following fields
	read  bool
	rows  []ReceivedRow
	files map[ID][]byte
}

// Received lists the sessions of other laboratories, the newest first.
func (r *Rooms) Received(ctx context.Context) ([]ReceivedRow, error) {
	r.received.mu.Lock()
	defer r.received.mu.Unlock()
	shelf, ok := r.journal.(Shelf)
	if !ok || r.received.read {
		return r.received.rows, nil
	}
	all, err := shelf.Received(ctx)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJournal, err)
	}
	files, rows := map[ID][]byte{}, []ReceivedRow(nil)
	for _, x := range all {
		d, err := ReadDossier(x.File)
		if err != nil {
			return nil, fmt.Errorf("session %s of laboratory %q: %w", x.Session, x.Laboratory, err)
		}
		row, err := FoldRow(Row{ID: d.Session}, d.Entries)
		if err != nil {
			return nil, err
		}
		s, err := d.State()
		if err != nil {
			return nil, err
		}
		files[d.Session] = x.File
		rows = append(rows, ReceivedRow{d.Laboratory, row, s.Plan, s.Digest})
	}
	r.received.read, r.received.rows, r.received.files = true, rows, files
	return rows, nil
}

// forgetReceived lets the files be read anew: words in them were erased.
func (r *Rooms) forgetReceived() {
	r.received.mu.Lock()
	defer r.received.mu.Unlock()
	r.received.read, r.received.rows, r.received.files = false, nil, nil
}

// receivedState folds a session of another laboratory that Received has listed.
func (r *Rooms) receivedState(id ID) (*State, error) {
	r.received.mu.Lock()
	file := r.received.files[id]
	r.received.mu.Unlock()
	d, err := ReadDossier(file)
	if err != nil {
		return nil, fmt.Errorf("session %s: %w", id, err)
	}
	return d.State()
}

// ReceivedSession re-checks a session of another laboratory and folds it;
// ErrNoSession if there is none.
func (r *Rooms) ReceivedSession(ctx context.Context, id ID) (*State, Report, error) {
	if _, err := r.Received(ctx); err != nil {
		return nil, Report{}, err
	}
	r.received.mu.Lock()
	file := r.received.files[id]
	r.received.mu.Unlock()
	if file == nil {
		return nil, Report{}, fmt.Errorf("session %q of another laboratory: %w", id, ErrNoSession)
	}
	d, err := ReadDossier(file)
	if err != nil {
		return nil, Report{}, err
	}
	s, err := d.State()
	return s, VerifyDossier(file, Paper{}), err
}
