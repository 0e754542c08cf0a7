package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// Entry is one line of a journal as it is stored. Its hash covers the stored
// bytes as they stand; Prev is the hash of the entry before, all zero before
// the first.
type Entry struct {
	Seq     uint64
	At      time.Time // the host laptop's clock, UTC
	Actor   Actor
	Command CommandID // zero where the sender made none
	Kind    string
	Version int // of the body's form
	Body    json.RawMessage
	Prev    Hash
	Hash    Hash
	Stored  []byte
}

// stored is the form of an entry on disk. Fields are only ever added.
type stored struct {
	Seq     uint64          `json:"seq"`
	At      time.Time       `json:"at"`
	Actor   Actor           `json:"actor"`
	Command string          `json:"command,omitempty"`
	Kind    string          `json:"kind"`
	Version int             `json:"version"`
	Prev    Hash            `json:"prev"`
	Body    json.RawMessage `json:"body"`
}

// Recorded is an event with the circumstances that its entry holds.
type Recorded struct {
	Seq     uint64
	At      time.Time
	Actor   Actor
	Command CommandID
	Event   Event
	Hash    Hash
}

// NewEntry makes the entry that follows prev for an event.
func NewEntry(seq uint64, prev Hash, rec Recorded) (Entry, error) {
	body, err := json.Marshal(rec.Event)
	if err != nil {
		return Entry{}, fmt.Errorf("entry %d: %w", seq, err)
	}
	s := stored{
		Seq: seq, At: rec.At.UTC(), Actor: rec.Actor, Kind: rec.Event.Kind(),
		Version: kinds[rec.Event.Kind()].version, Prev: prev, Body: body,
	}
	if !rec.Command.IsZero() {
		s.Command = rec.Command.String()
	}
	raw, err := json.Marshal(s)
	if err != nil {
		return Entry{}, fmt.Errorf("entry %d: %w", seq, err)
	}
	return ParseEntry(raw)
}

// ErrBadEntry is returned for stored bytes that are no entry.
var ErrBadEntry = errors.New("not a journal entry")

// ParseEntry reads stored bytes and computes their hash.
func ParseEntry(raw []byte) (Entry, error) {
	var s stored
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&s); err != nil {
		if strings.HasPrefix(err.Error(), "json: unknown field") {
			return Entry{}, fmt.Errorf("%w: %v", ErrNewer, err)
		}
		return Entry{}, fmt.Errorf("%w: %v", ErrBadEntry, err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return Entry{}, fmt.Errorf("%w: something stands behind it", ErrBadEntry)
	}
	if s.Seq == 0 || s.Kind == "" || s.Version < 1 || len(s.Body) == 0 || string(s.Body) == "null" {
		return Entry{}, fmt.Errorf("%w: a field is missing", ErrBadEntry)
	}
	e := Entry{
		Seq: s.Seq, At: s.At, Actor: s.Actor, Kind: s.Kind, Version: s.Version,
		Body: s.Body, Prev: s.Prev, Hash: sha256.Sum256(raw), Stored: bytes.Clone(raw),
	}
	if s.Command != "" {
		id, err := ParseCommandID(s.Command)
		if err != nil {
			return Entry{}, fmt.Errorf("%w: %v", ErrBadEntry, err)
		}
		e.Command = id
	}
	return e, nil
}

// ErrNewer is returned for an entry whose kind or version this program does
// not know: the file was written by a newer one.
var ErrNewer = errors.New("written by a newer version of oddcup")

// Record decodes the entry's event. Words of texts are filled in from beside,
// which may be nil.
func (e Entry) Record(beside map[Hash]Text) (Recorded, error) {
	k, ok := kinds[e.Kind]
	if !ok || e.Version > k.version {
		return Recorded{}, fmt.Errorf("entry %d, kind %q version %d: %w", e.Seq, e.Kind, e.Version, ErrNewer)
	}
	ev := k.make()
	if err := json.Unmarshal(e.Body, ev); err != nil {
		return Recorded{}, fmt.Errorf("entry %d, kind %q: %w: %v", e.Seq, e.Kind, ErrBadEntry, err)
	}
	for _, t := range textsOf(ev) {
		if b, ok := beside[t.Digest]; ok {
			t.Salt, t.Words = b.Salt, b.Words
		}
	}
	return Recorded{Seq: e.Seq, At: e.At, Actor: e.Actor, Command: e.Command, Event: ev, Hash: e.Hash}, nil
}

// ErrChain is what errors of CheckChain match with errors.Is: entries that are
// not as they were written, or not in their places.
var ErrChain = errors.New("the chain of the journal is broken")

// brokenChain names the entry that is wrong.
type brokenChain string

func (b brokenChain) Error() string { return string(b) }

// Is makes errors.Is(err, ErrChain) true.
func (b brokenChain) Is(target error) bool { return target == ErrChain }

// CheckChain walks a journal's entries from the first and returns an error that
// names the first one out of place: a gap, or a Prev that is not the hash of
// the entry before.
func CheckChain(entries []Entry) error {
	_, err := firstBroken(entries)
	return err
}

// firstBroken is CheckChain with the index of that entry, from 0.
func firstBroken(entries []Entry) (int, error) {
	var prev Hash
	for i, e := range entries {
		if e.Seq != uint64(i)+1 {
			return i, brokenChain(fmt.Sprintf("entry %d: stands in place %d", e.Seq, i+1))
		}
		if e.Prev != prev {
			return i, brokenChain(fmt.Sprintf("entry %d: does not follow entry %d as it stands", e.Seq, e.Seq-1))
		}
		if Hash(sha256.Sum256(e.Stored)) != e.Hash {
			return i, brokenChain(fmt.Sprintf("entry %d: its hash is not that of its bytes", e.Seq))
		}
		prev = e.Hash
	}
	return len(entries), nil
}
