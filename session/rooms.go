package session

import (
	"context"
	"errors"
	"fmt"
	"sync"
)

// Rooms opens the Room of each journal once and keeps it until Close.
type Rooms struct {
	journal Journal
	lab     *Room[*Lab]

	received receivedSessions
	judged   judgedSessions

	mu       sync.Mutex // guards the following fields
	sessions map[ID]*Room[*State]
	closed   bool
}

// ErrNoSession is returned for an id that no journal has.
var ErrNoSession = errors.New("no such session")

// NewRooms opens the laboratory's register on a journal.
func NewRooms(ctx context.Context, journal Journal) (*Rooms, error) {
	lab, err := OpenLab(ctx, journal)
	if err != nil {
		return nil, err
	}
	return &Rooms{journal: journal, lab: lab, sessions: map[ID]*Room[*State]{}}, nil
}

// Lab is the register's Room.
func (r *Rooms) Lab() *Room[*Lab] { return r.lab }

// Rows is the index of all sessions, the newest first.
func (r *Rooms) Rows(ctx context.Context) ([]Row, error) { return r.journal.Rows(ctx) }

// New gives the Room of a session that has no entry yet.
func (r *Rooms) New(ctx context.Context, id ID) (*Room[*State], error) {
	return r.open(ctx, id, true)
}

// Session gives a session's Room; ErrNoSession if it has no entry.
func (r *Rooms) Session(ctx context.Context, id ID) (*Room[*State], error) {
	return r.open(ctx, id, false)
}

func (r *Rooms) open(ctx context.Context, id ID, fresh bool) (*Room[*State], error) {
	if !id.Valid() || id == LabID {
		return nil, fmt.Errorf("session %q: %w", id, ErrNoSession)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, ErrClosedRoom
	}
	room := r.sessions[id]
	if room == nil {
		var err error
		if room, err = OpenRoom(ctx, r.journal, id); err != nil {
			return nil, err
		}
		if room.State().Seq == 0 && !fresh {
			room.Close()
			return nil, fmt.Errorf("session %q: %w", id, ErrNoSession)
		}
		r.sessions[id] = room
	}
	if room.State().Seq == 0 && !fresh {
		return nil, fmt.Errorf("session %q: %w", id, ErrNoSession)
	}
	return room, nil
}

// Live are the Rooms now open.
func (r *Rooms) Live() []*Room[*State] {
	r.mu.Lock()
	defer r.mu.Unlock()
	var live []*Room[*State]
	for _, room := range r.sessions {
		live = append(live, room)
	}
	return live
}

// ByDoor finds the session that a join code belongs to. A session that is over
// keeps its door: behind it a phone is told so.
func (r *Rooms) ByDoor(door string) (*Room[*State], bool) {
	for _, room := range r.Live() {
		if _, ok := room.State().SeatOfDoor(door); ok {
			return room, true
		}
	}
	return nil, false
}

// OpenAll opens the Room of every session, so that phones find their seats, and
// their results, again after a restart. One that can't be read leaves the others
// open; the error names each.
func (r *Rooms) OpenAll(ctx context.Context) error {
	rows, err := r.Rows(ctx)
	if err != nil {
		return err
	}
	var unread []error
	for _, row := range rows {
		if _, err := r.Session(ctx, row.ID); err != nil {
			unread = append(unread, err)
		}
	}
	return errors.Join(unread...)
}

// Close closes every Room and waits for each.
func (r *Rooms) Close() {
	r.mu.Lock()
	r.closed = true
	rooms := r.sessions
	r.sessions = map[ID]*Room[*State]{}
	r.mu.Unlock()
	for _, room := range rooms {
		room.Close()
	}
	r.lab.Close()
}
