package session

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
)

// folded is what a Room needs of a state: both [State] and [Lab] are one.
type folded[S any] interface {
	Decide(Command) ([]Event, error)
	Apply(Recorded)
	Clone() S
	Outcome(Command) []Recorded
	Position() (uint64, Hash)
}

// Room owns one live journal: all commands on it pass through the Room's one
// goroutine, in this order:
//
//  1. Take all commands that have queued.
//  2. Decide each on a private working state, to which the earlier events of
//     the same batch are already applied.
//  3. Append the whole batch to the journal, and wait until it is durable.
//  4. Only then publish the new state, wake the watchers, answer each command.
//
// A failed append discards the working state; every command of that batch gets
// the error, and the Room answers nothing more until it has replayed the
// journal, since what is on disk is no longer sure.
type Room[S folded[S]] struct {
	// Static after construction.
	id       ID
	journal  Journal
	fresh    func() S
	requests chan request // never closed
	done     chan struct{}
	stop     context.CancelFunc
	ctx      context.Context

	state atomic.Pointer[S] // published; written by run alone

	mu       sync.Mutex // guards the following field
	watchers map[chan struct{}]struct{}

	broken error // owned by run: the last append failed
}

// maxBatch bounds a batch, so that a flood can't hold up the first answers.
const maxBatch = 1024

type request struct {
	command Command
	reload  bool         // no command: replay the journal
	reply   chan<- reply // holds one, never closed
}

type reply struct {
	recorded []Recorded
	err      error
}

// ErrClosedRoom is returned for a command after Close.
var ErrClosedRoom = errors.New("the host program is stopping")

// ErrJournal wraps every failure to write or read a journal.
var ErrJournal = errors.New("the journal could not be written or read")

func newRoom[S folded[S]](ctx context.Context, journal Journal, id ID, fresh func() S) (*Room[S], error) {
	own, stop := context.WithCancel(context.WithoutCancel(ctx))
	r := &Room[S]{
		id: id, journal: journal, fresh: fresh,
		requests: make(chan request, maxBatch), done: make(chan struct{}),
		stop: stop, ctx: own, watchers: map[chan struct{}]struct{}{},
	}
	s, err := r.replay(ctx)
	if err != nil {
		stop()
		return nil, err
	}
	r.state.Store(&s)
	go r.run()
	return r, nil
}

// OpenRoom replays a session's journal and serves it until Close. A journal
// with no entry gives an empty session, in no phase.
func OpenRoom(ctx context.Context, journal Journal, id ID) (*Room[*State], error) {
	return newRoom(ctx, journal, id, func() *State { return NewState(id) })
}

// State is the newest published state. It is shared: read it, don't write it.
func (r *Room[S]) State() S { return *r.state.Load() }

// Do decides a command and returns what it caused, once that is durable. A
// command that changes nothing, or whose id was accepted before, returns what
// that one caused, or nothing. After an error other than ErrJournal, nothing
// has changed. When ctx ends first, the command may still take effect.
func (r *Room[S]) Do(ctx context.Context, c Command) ([]Recorded, error) {
	return r.ask(ctx, request{command: c})
}

// Reload replays the journal, so that words which were erased beside it are no
// longer in the state.
func (r *Room[S]) Reload(ctx context.Context) error {
	_, err := r.ask(ctx, request{reload: true})
	return err
}

func (r *Room[S]) ask(ctx context.Context, q request) ([]Recorded, error) {
	answer := make(chan reply, 1)
	q.reply = answer
	select {
	case r.requests <- q:
	case <-r.ctx.Done():
		return nil, ErrClosedRoom
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	select {
	case a := <-answer:
		return a.recorded, a.err
	case <-r.done:
		// The last batch may have answered as the Room ended.
		select {
		case a := <-answer:
			return a.recorded, a.err
		default:
			return nil, ErrClosedRoom
		}
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// Watch returns a channel that gets a value after each change; changes that
// come close together may share one. Call stop when done.
func (r *Room[S]) Watch() (changes <-chan struct{}, stop func()) {
	ch := make(chan struct{}, 1)
	r.mu.Lock()
	r.watchers[ch] = struct{}{}
	r.mu.Unlock()
	return ch, func() {
		r.mu.Lock()
		delete(r.watchers, ch)
		r.mu.Unlock()
	}
}

// Done is closed when the Room has ended.
func (r *Room[S]) Done() <-chan struct{} { return r.done }

// Close ends the Room after the batch in hand and waits for it.
func (r *Room[S]) Close() {
	r.stop()
	<-r.done
}

func (r *Room[S]) run() {
	defer close(r.done)
	var batch []request
	for {
		select {
		case <-r.ctx.Done():
			return
		case q := <-r.requests:
			batch = append(batch[:0], q)
		}
	drain:
		for len(batch) < maxBatch {
			select {
			case q := <-r.requests:
				batch = append(batch, q)
			default:
				break drain
			}
		}
		for i, a := range r.take(batch) {
			batch[i].reply <- a
		}
	}
}

// take carries one batch through the steps above and gives a reply for each.
func (r *Room[S]) take(batch []request) []reply {
	replies := make([]reply, len(batch))
	fail := func(err error) []reply {
		for i := range replies {
			replies[i] = reply{err: fmt.Errorf("%w: %w", ErrJournal, err)}
		}
		return replies
	}
	if r.broken != nil || slices.ContainsFunc(batch, func(q request) bool { return q.reload }) {
		s, err := r.replay(r.ctx)
		if err != nil {
			r.broken = err
			return fail(err)
		}
		r.broken = nil
		r.state.Store(&s)
		r.wake()
	}
	working := r.State().Clone()
	var entries []Entry
	var texts []Text
	for i, q := range batch {
		if q.reload {
			continue
		}
		if before := working.Outcome(q.command); before != nil {
			replies[i].recorded = before
			continue
		}
		events, err := working.Decide(q.command)
		if err != nil {
			replies[i].err = err
			continue
		}
		seq, head := working.Position()
		made, beside, err := enter(seq, head, q.command, events)
		if err != nil {
			replies[i].err = err
			continue
		}
		for _, m := range made {
			entries = append(entries, m.entry)
			working.Apply(m.Recorded)
			replies[i].recorded = append(replies[i].recorded, m.Recorded)
		}
		texts = append(texts, beside...)
	}
	if len(entries) == 0 {
		return replies
	}
	// Close must not cut off an append whose answers have been waited for.
	if err := r.journal.Append(context.WithoutCancel(r.ctx), r.id, entries, texts); err != nil {
		r.broken = err
		return fail(err)
	}
	r.state.Store(&working)
	r.wake()
	return replies
}

// made is an entry and what reading it back gives. That is what is applied, so
// that the live state is what a restart would give, bad bytes included.
type made struct {
	entry Entry
	Recorded
}

// enter makes the entries of one command's events, after the entry with the
// given number and hash.
func enter(seq uint64, head Hash, c Command, events []Event) ([]made, []Text, error) {
	var all []made
	var texts []Text
	beside := map[Hash]Text{}
	for _, ev := range events {
		for _, t := range textsOf(ev) {
			texts = append(texts, *t)
			beside[t.Digest] = *t
		}
		seq++
		entry, err := NewEntry(seq, head, Recorded{At: c.At, Actor: c.Actor, Command: c.ID, Event: ev})
		if err != nil {
			return nil, nil, err
		}
		rec, err := entry.Record(beside)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, made{entry, rec})
		head = entry.Hash
	}
	return all, texts, nil
}

func (r *Room[S]) replay(ctx context.Context) (S, error) {
	s := r.fresh()
	entries, beside, err := r.journal.Load(ctx, r.id)
	if err != nil {
		return s, fmt.Errorf("journal %s: %w", r.id, err)
	}
	if err := CheckChain(entries); err != nil {
		return s, fmt.Errorf("journal %s: %w", r.id, err)
	}
	for _, e := range entries {
		rec, err := e.Record(beside)
		if err != nil {
			return s, fmt.Errorf("journal %s: %w", r.id, err)
		}
		if err := applySafely(s, rec); err != nil {
			return s, fmt.Errorf("journal %s: %w", r.id, err)
		}
	}
	return s, nil
}

// ErrSenseless is returned for a journal whose chain holds and whose entries do
// not follow from one another.
var ErrSenseless = errors.New("it does not follow from what came before")

// applySafely turns a panic of Apply into an error. Apply relies on Decide, and a
// file that another hand has written was decided on by nobody.
func applySafely[S folded[S]](s S, rec Recorded) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("entry %d, kind %q: %w (%v)", rec.Seq, rec.Event.Kind(), ErrSenseless, p)
		}
	}()
	s.Apply(rec)
	return nil
}

func (r *Room[S]) wake() {
	r.mu.Lock()
	defer r.mu.Unlock()
	for ch := range r.watchers {
		select {
		case ch <- struct{}{}:
		default:
		}
	}
}
