package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

var _ session.JudgedKeeper = (*DB)(nil)

// addJudged makes the place for what is computed of revealed sessions.
func addJudged(v1 *bolt.Bucket) error {
	_, err := v1.CreateBucket(bucketJudged)
	return err
}

func dropJudged(v1 *bolt.Bucket) error {
	if v1.Bucket(bucketJudged) == nil {
		return damaged("the bucket of judged sessions is missing")
	}
	if err := v1.DeleteBucket(bucketJudged); err != nil {
		return err
	}
	return addJudged(v1)
}

// JudgedSessions implements [session.JudgedKeeper]. What is kept is used where
// it stands at its journal's last entry; what is missing or older is computed
// anew and kept, unless the file is opened to read.
func (db *DB) JudgedSessions(ctx context.Context) (all []session.JudgedSession, err error) {
	made := map[session.ID][]byte{}
	err = db.view(ctx, func(b buckets) error {
		return b.journals.ForEachBucket(func(k []byte) error {
			id := session.ID(k)
			if id == session.LabID {
				return nil
			}
			last, _ := b.journals.Bucket(k).Cursor().Last()
			if len(last) != 8 {
				return damaged("journal %q: its last key is no number", id)
			}
			seq := binary.BigEndian.Uint64(last)
			if b.judged != nil {
				// What can't be read is only computed again.
				if j, ok, err := decodeJudged(id, b.judged.Get(k)); err == nil && j.Seq == seq {
					if ok {
						all = append(all, j)
					}
					return nil
				}
			}
			j, ok, err := b.judge(ctx, session.ID(bytes.Clone(k)), seq)
			if err != nil {
				return err
			}
			if ok {
				all = append(all, j)
			}
			// A session that goes on would have to be looked at again anyway.
			if ok || b.over(id) {
				made[j.Session], err = encodeJudged(j, ok)
			}
			return err
		})
	})
	if err != nil || len(made) == 0 || db.readOnly() {
		return all, err
	}
	return all, db.update(func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		if b.judged == nil {
			return damaged("the bucket of judged sessions is missing")
		}
		for id, v := range made {
			if err := b.judged.Put([]byte(id), v); err != nil {
				return fmt.Errorf("judged session %q: %w", id, err)
			}
		}
		return nil
	})
}

func (db *DB) readOnly() bool {
	db.mu.RLock()
	defer db.mu.RUnlock()
	return db.bolt.IsReadOnly()
}

// judge computes what a session tells. Of one that the index has as not revealed
// the journal is not read.
func (b buckets) judge(ctx context.Context, id session.ID, seq uint64) (session.JudgedSession, bool, error) {
	nothing := session.JudgedSession{Session: id, Seq: seq}
	var row session.Row
	if json.Unmarshal(b.sessions.Get([]byte(id)), &row) == nil && row.Seq == seq && row.Phase != session.PhaseRevealed {
		return nothing, false, nil
	}
	entries, err := b.entries(ctx, id)
	if err != nil {
		return nothing, false, fmt.Errorf("journal %q: %w", id, err)
	}
	j, ok, err := session.FoldJudged(id, entries)
	if err != nil || !ok {
		// A session that can't be folded tells nothing of anybody; whoever opens
		// it is told why.
		return nothing, false, nil
	}
	return j, true, nil
}

// over reports whether nothing but amendments can come to a session.
func (b buckets) over(id session.ID) bool {
	var row session.Row
	err := json.Unmarshal(b.sessions.Get([]byte(id)), &row)
	return err == nil && (row.Phase == session.PhaseRevealed || row.Phase == session.PhaseAbandoned)
}

// judgedForm is the form of what is kept of a judged session. What has another
// one is computed anew.
const judgedForm = 1

// encodeJudged gives a judged session's value. After the number of the journal's
// last entry and the form come, in the order of the fields of their types,
// numbers as variable-length integers, words after their length, and yes and no
// as marks in one byte. A set's time is given from the reveal, a control's share
// and size and a test's chance as the bits of their float64.
func encodeJudged(j session.JudgedSession, tells bool) ([]byte, error) {
	v := binary.BigEndian.AppendUint64(nil, j.Seq)
	if !tells {
		return v, nil
	}
	if j.Received || j.Laboratory != "" {
		return nil, fmt.Errorf("judged session %q: it is another laboratory's", j.Session)
	}
	v = append(v, judgedForm)
	words := func(s string) { v = append(binary.AppendUvarint(v, uint64(len(s))), s...) }
	number := func(n int) { v = binary.AppendUvarint(v, uint64(n)) }
	bits := func(x float64) { v = binary.BigEndian.AppendUint64(v, math.Float64bits(x)) }
	v = append(v, marks(j.Demo, j.Control != nil))
	v = binary.AppendVarint(v, j.At.UnixNano())
	if j.Control != nil {
		words(j.Control.Words)
		bits(j.Control.Percent)
		bits(j.Control.DPrime)
	}
	number(len(j.Tests))
	for _, t := range j.Tests {
		words(t.Method)
		words(string(t.Kind))
		words(t.Attribute)
		v = append(v, marks(t.TwoSided))
		bits(t.Chance)
		number(t.Seats)
	}
	number(len(j.Sets))
	for _, s := range j.Sets {
		for _, n := range []int{s.Seat, s.Test, s.Set, s.Take, s.Place, s.AlsoPlace, s.Counted} {
			number(n)
		}
		v = binary.AppendVarint(v, int64(s.At.Sub(j.At)))
		v = binary.AppendVarint(v, int64(s.Took))
		v = append(v, marks(s.Right, s.Processed, s.Guess, s.Paper))
	}
	return v, nil
}

func marks(all ...bool) (b byte) {
	for i, set := range all {
		if set {
			b |= 1 << i
		}
	}
	return b
}

// judgedReader reads what encodeJudged gave. After the first thing that is not
// there it is cut, and gives nothing more.
type judgedReader struct {
	rest []byte
	cut  bool
}

func (r *judgedReader) fail() { r.rest, r.cut = nil, true }

func (r *judgedReader) varint() int64 {
	n, size := binary.Varint(r.rest)
	if size <= 0 {
		r.fail()
		return 0
	}
	r.rest = r.rest[size:]
	return n
}

func (r *judgedReader) number() int {
	if len(r.rest) > 0 && r.rest[0] < 0x80 { // one byte, as nearly all are
		n := int(r.rest[0])
		r.rest = r.rest[1:]
		return n
	}
	n, size := binary.Uvarint(r.rest)
	if size <= 0 || n > math.MaxInt32 {
		r.fail()
		return 0
	}
	r.rest = r.rest[size:]
	return int(n)
}

// count is the number of things that follow, each of a byte or more.
func (r *judgedReader) count() int {
	n := r.number()
	if n > len(r.rest) {
		r.fail()
		return 0
	}
	return n
}

func (r *judgedReader) take(n int) []byte {
	if n > len(r.rest) {
		r.fail()
		return make([]byte, n)
	}
	b := r.rest[:n]
	r.rest = r.rest[n:]
	return b
}

func (r *judgedReader) words() string { return string(r.take(r.count())) }
func (r *judgedReader) marks() byte   { return byte(r.number()) }
func (r *judgedReader) bits() float64 {
	return math.Float64frombits(binary.BigEndian.Uint64(r.take(8)))
}

// decodeJudged reads what encodeJudged gave; ok is false for a session that tells
// nothing.
func decodeJudged(id session.ID, v []byte) (j session.JudgedSession, ok bool, err error) {
	bad := fmt.Errorf("judged session %q: %w", id, ErrDamaged)
	if len(v) < 8 {
		return j, false, bad
	}
	j = session.JudgedSession{Session: id, Seq: binary.BigEndian.Uint64(v)}
	if len(v) == 8 {
		return j, false, nil
	}
	if v[8] != judgedForm {
		return session.JudgedSession{}, false, bad
	}
	r := judgedReader{rest: v[9:]}
	m := r.marks()
	j.Demo, j.At = m&1 != 0, time.Unix(0, r.varint()).UTC()
	if m&2 != 0 {
		j.Control = &session.Control{Words: r.words(), Percent: r.bits(), DPrime: r.bits()}
	}
	j.Tests = make([]session.JudgedTest, r.count())
	for i := range j.Tests {
		j.Tests[i] = session.JudgedTest{
			Method: r.words(), Kind: session.JudgedKind(r.words()), Attribute: r.words(), TwoSided: r.marks()&1 != 0, Chance: r.bits(), Seats: r.number(),
		}
	}
	if n := r.count(); n > 0 {
		j.Sets = make([]session.JudgedSet, n)
	}
	for i := range j.Sets {
		s := &j.Sets[i]
		s.Seat, s.Test, s.Set, s.Take = r.number(), r.number(), r.number(), r.number()
		s.Place, s.AlsoPlace, s.Counted = r.number(), r.number(), r.number()
		s.At, s.Took = j.At.Add(time.Duration(r.varint())), time.Duration(r.varint())
		m := r.marks()
		s.Right, s.Processed, s.Guess, s.Paper = m&1 != 0, m&2 != 0, m&4 != 0, m&8 != 0
		if r.cut || s.Test >= len(j.Tests) {
			return session.JudgedSession{}, false, bad
		}
		s.Method, s.Kind = j.Tests[s.Test].Method, j.Tests[s.Test].Kind
	}
	if r.cut || len(r.rest) > 0 {
		return session.JudgedSession{}, false, bad
	}
	return j, true, nil
}

// checkJudged holds what is kept of judged sessions against the journals. What
// is older than its journal is only no longer used.
func (b buckets) checkJudged(ctx context.Context) error {
	if b.judged == nil {
		return damaged("the bucket of judged sessions is missing")
	}
	return b.judged.ForEach(func(k, v []byte) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		id := session.ID(bytes.Clone(k))
		if v == nil || b.journals.Bucket(k) == nil || id == session.LabID {
			return damaged("judged session %q: there is no such session", k)
		}
		j, ok, err := decodeJudged(id, v)
		if err != nil {
			return err
		}
		entries, err := b.entries(ctx, id)
		if err != nil {
			return fmt.Errorf("journal %q: %w", id, err)
		}
		switch n := uint64(len(entries)); {
		case j.Seq > n:
			return damaged("judged session %q: it stands at entry %d of %d", k, j.Seq, n)
		case j.Seq < n:
			return nil
		}
		now, tells, _ := session.FoldJudged(id, entries)
		if !tells {
			now = session.JudgedSession{Session: id, Seq: j.Seq}
		}
		want, err := encodeJudged(now, tells)
		if err == nil && (ok != tells || !bytes.Equal(want, v)) {
			err = damaged("judged session %q: it is not what the journal gives", k)
		}
		return err
	})
}
