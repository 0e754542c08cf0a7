package session

import (
	"context"
	"errors"
	"fmt"
	"sort"
	"sync"
)

// Journal keeps append-only journals. Package store keeps them on disk;
// [Memory] keeps them for simulations and tests.
type Journal interface {
	// Append writes entries and the texts beside them in one transaction, and
	// returns when they are durable. The first entry must follow the journal's
	// last; if it does not, nothing is written and the error is ErrConflict.
	Append(ctx context.Context, id ID, entries []Entry, texts []Text) error

	// Load returns a journal's entries from the first, and the texts beside
	// them by digest. An unknown journal has no entries and is no error.
	Load(ctx context.Context, id ID) ([]Entry, map[Hash]Text, error)

	// Rows returns the index, a row a session, the newest first.
	Rows(ctx context.Context) ([]Row, error)
}

// ErrConflict is returned when an append does not follow the last entry.
var ErrConflict = errors.New("the journal has moved on")

// CheckAppend reports whether entries may follow an entry with the given
// sequence number and hash (0 and zero for an empty journal).
func CheckAppend(seq uint64, head Hash, entries []Entry) error {
	for _, e := range entries {
		if e.Seq != seq+1 || e.Prev != head {
			return fmt.Errorf("entry %d after %d: %w", e.Seq, seq, ErrConflict)
		}
		seq, head = e.Seq, e.Hash
	}
	return nil
}

// Memory is a Journal without a disk. The zero value is ready for use.
type Memory struct {
	mu       sync.Mutex
	journals map[ID][]Entry
	texts    map[Hash]Text
}

var _ Journal = (*Memory)(nil)

// Append implements [Journal].
func (m *Memory) Append(_ context.Context, id ID, entries []Entry, texts []Text) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.journals == nil {
		m.journals, m.texts = map[ID][]Entry{}, map[Hash]Text{}
	}
	var seq uint64
	var head Hash
	if have := m.journals[id]; len(have) > 0 {
		seq, head = have[len(have)-1].Seq, have[len(have)-1].Hash
	}
	if err := CheckAppend(seq, head, entries); err != nil {
		return err
	}
	m.journals[id] = append(m.journals[id], entries...)
	for _, t := range texts {
		m.texts[t.Digest] = t
	}
	return nil
}

// Load implements [Journal].
func (m *Memory) Load(_ context.Context, id ID) ([]Entry, map[Hash]Text, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	texts := make(map[Hash]Text, len(m.texts))
	for d, t := range m.texts {
		texts[d] = t
	}
	return append([]Entry(nil), m.journals[id]...), texts, nil
}

// Rows implements [Journal] by folding every journal.
func (m *Memory) Rows(context.Context) ([]Row, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var rows []Row
	for id, entries := range m.journals {
		if id == LabID {
			continue
		}
		row, err := FoldRow(Row{ID: id}, entries)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	sort.Slice(rows, func(i, j int) bool { return rows[i].ID > rows[j].ID })
	return rows, nil
}
