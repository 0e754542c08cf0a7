package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

func key(seq uint64) []byte { return binary.BigEndian.AppendUint64(nil, seq) }

// Each case spoils one thing; Check must name it.
func TestCheckNames(t *testing.T) {
	entries, reason := threeEntries(t, "tuesday")
	second, err := session.ParseEntry(bytes.Replace(entries[1].Stored, []byte("afternoon"), []byte("after-ten"), 1))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		spoil func(b buckets, journal *bolt.Bucket) error
		say   string
		load  bool // Load finds it too
	}{
		{"a byte of an entry", func(_ buckets, journal *bolt.Bucket) error {
			v := bytes.Clone(journal.Get(key(2)))
			v[60] ^= 1
			return journal.Put(key(2), v)
		}, `journal "tuesday": entry 2: its hash is not that of its bytes`, true},
		{"a byte of a hash", func(_ buckets, journal *bolt.Bucket) error {
			v := bytes.Clone(journal.Get(key(3)))
			v[0] ^= 1
			return journal.Put(key(3), v)
		}, `journal "tuesday": entry 3: its hash is not that of its bytes`, true},
		{"an entry and its hash", func(_ buckets, journal *bolt.Bucket) error {
			return journal.Put(encodeEntry(second))
		}, `journal "tuesday": entry 3: does not follow entry 2 as it stands`, false},
		{"an entry taken out", func(_ buckets, journal *bolt.Bucket) error {
			return journal.Delete(key(2))
		}, `journal "tuesday": entry 3: stands in place 2`, false},
		{"the first entry taken out", func(_ buckets, journal *bolt.Bucket) error {
			return journal.Delete(key(1))
		}, `journal "tuesday": entry 2: stands in place 1`, false},
		{"the last entry taken out", func(_ buckets, journal *bolt.Bucket) error {
			return journal.Delete(key(3))
		}, `journal "tuesday": its row in the index is not that of its 2 entries`, false},
		{"all entries taken out", func(_ buckets, journal *bolt.Bucket) error {
			return errors.Join(journal.Delete(key(1)), journal.Delete(key(2)), journal.Delete(key(3)))
		}, `journal "tuesday": it has no entry`, false},
		{"two entries swapped", func(_ buckets, journal *bolt.Bucket) error {
			two, three := bytes.Clone(journal.Get(key(2))), bytes.Clone(journal.Get(key(3)))
			return errors.Join(journal.Put(key(2), three), journal.Put(key(3), two))
		}, `journal "tuesday": entry 3: stands in place 2`, true},
		{"an entry cut short", func(_ buckets, journal *bolt.Bucket) error {
			return journal.Put(key(2), []byte("short"))
		}, `journal "tuesday": entry 2: too short, 5 bytes`, true},
		{"a key that is no number", func(_ buckets, journal *bolt.Bucket) error {
			return journal.Put([]byte("zz"), []byte("zz"))
		}, `journal "tuesday": key 7a7a: not a sequence number`, true},
		{"words of a text", func(b buckets, _ *bolt.Bucket) error {
			texts := b.texts.Bucket([]byte("tuesday"))
			v := bytes.Clone(texts.Get(reason.Digest[:]))
			v[len(v)-1] ^= 1
			return texts.Put(reason.Digest[:], v)
		}, `journal "tuesday": text ` + reason.Digest.String() + `: its digest is not that of its salt and words`, true},
		{"lengths of a text", func(b buckets, _ *bolt.Bucket) error {
			return b.texts.Bucket([]byte("tuesday")).Put(reason.Digest[:], []byte{1})
		}, `journal "tuesday": text ` + reason.Digest.String() + `: its lengths don't add up`, true},
		{"texts beside no journal", func(b buckets, _ *bolt.Bucket) error {
			_, err := b.texts.CreateBucket([]byte("wednesday"))
			return err
		}, `texts: "wednesday" does not belong there`, false},
		{"a row changed", func(b buckets, _ *bolt.Bucket) error {
			v := bytes.Replace(b.sessions.Get([]byte("tuesday")), []byte("Tuesday"), []byte("Someday"), 1)
			return b.sessions.Put([]byte("tuesday"), v)
		}, `journal "tuesday": its row in the index is not that of its 3 entries`, false},
		{"a row lost", func(b buckets, _ *bolt.Bucket) error {
			return b.sessions.Delete([]byte("tuesday"))
		}, `journal "tuesday": the index has no row of it`, false},
		{"a row of no session", func(b buckets, _ *bolt.Bucket) error {
			return b.sessions.Put([]byte("wednesday"), []byte("{}"))
		}, `index: row of session "wednesday": there is no such session`, false},
		{"a row of the register", func(b buckets, _ *bolt.Bucket) error {
			return b.sessions.Put([]byte("lab"), []byte("{}"))
		}, `index: row of session "lab": there is no such session`, false},
		{"a stray journal", func(b buckets, _ *bolt.Bucket) error {
			return b.journals.Put([]byte("stray"), []byte("x"))
		}, `journals: "stray" does not belong there`, false},
		{"a stray bucket", func(b buckets, _ *bolt.Bucket) error {
			_, err := b.journals.Tx().Bucket(bucketV1).CreateBucket([]byte("stray"))
			return err
		}, `bucket v1: "stray" does not belong there`, false},
	} {
		db := mustOpenUnchecked(t, filePath(t))
		lab := chain{id: session.LabID}
		mustAppend(t, db, session.LabID, lab.next(t, &session.LabNamed{Name: "Back room"}))
		mustAppend(t, db, "tuesday", entries, reason)
		if err := db.Check(context.Background()); err != nil {
			t.Fatalf("%s: check before: %v", c.name, err)
		}
		change(t, db, func(tx *bolt.Tx) error {
			b, err := bucketsOf(tx)
			if err != nil {
				return err
			}
			return c.spoil(b, b.journals.Bucket([]byte("tuesday")))
		})
		want := c.say + ": not as it was written"
		if err := db.Check(context.Background()); !errors.Is(err, ErrDamaged) || err.Error() != want {
			t.Errorf("%s: check\n got %v\nwant %s", c.name, err, want)
		}
		_, _, err := db.Load(context.Background(), "tuesday")
		if c.load && (!errors.Is(err, ErrDamaged) || err.Error() != want) {
			t.Errorf("%s: load\n got %v\nwant %s", c.name, err, want)
		}
		if !c.load && err != nil {
			t.Errorf("%s: load: got %v, want no error", c.name, err)
		}
	}
}

// Nothing is added after an entry that is damaged.
func TestNoAppendAfterDamage(t *testing.T) {
	db := mustOpenUnchecked(t, filePath(t))
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries[:2])
	change(t, db, func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		v := bytes.Clone(b.journals.Bucket([]byte("tuesday")).Get(key(2)))
		v[len(v)-1] ^= 1
		return b.journals.Bucket([]byte("tuesday")).Put(key(2), v)
	})
	before := dump(t, db)
	if err := db.Append(context.Background(), "tuesday", entries[2:], []session.Text{reason}); !errors.Is(err, ErrDamaged) {
		t.Errorf("got %v, want ErrDamaged", err)
	}
	if dump(t, db) != before {
		t.Error("the file changed")
	}
}

// Bytes of the file itself are changed, page heads and free space among them.
// Whatever they were, nothing may panic. Where Check finds nothing, the file holds
// what was written; or what it held before the last append, since bbolt goes back
// to that where the page that completes a transaction is not whole.
func TestDamagedPages(t *testing.T) {
	seed := newSeed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	path := filePath(t)
	db := mustOpen(t, path)
	c := chain{id: "tuesday"}
	var whole, before string
	for i := range 25 {
		before = dump(t, db)
		reason := mustText(t, "spilled", chance(uint64(i)))
		mustAppend(t, db, "tuesday", c.next(t, &session.Voided{Seat: i, Reason: reason}, &session.RoundServed{Round: i}), reason)
	}
	entries, _, err := db.Load(context.Background(), "tuesday")
	if err != nil {
		t.Fatal(err)
	}
	last := entries[len(entries)-1]
	whole = dump(t, db)
	mustClose(t, db)
	raw := mustRead(t, path)
	dir := t.TempDir()
	const rounds = 100
	found, unseen := 0, 0
	for round := range rounds {
		b := bytes.Clone(raw)
		for range 1 + rng.IntN(3) {
			at := rng.IntN(len(b))
			if rng.IntN(2) == 0 { // page and element heads
				at = at/4096*4096 + rng.IntN(64)
			}
			b[at] ^= byte(1 + rng.IntN(255))
		}
		spoiled := filepath.Join(dir, fmt.Sprint(round, ".oddcup"))
		mustWrite(t, spoiled, b)
		db, err := Open(spoiled, Options{})
		if err != nil {
			if !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrNotADatabase) && !errors.Is(err, ErrNewer) {
				t.Errorf("round %d: open: %v", round, err)
			}
			found++
			continue
		}
		got, _, err := db.Load(context.Background(), "tuesday")
		if err == nil && session.CheckChain(got) == nil {
			for i, e := range got {
				if e.Hash != entries[i].Hash || !bytes.Equal(e.Stored, entries[i].Stored) {
					t.Errorf("round %d: loaded, in a whole chain, an entry %d that was not written", round, e.Seq)
				}
			}
		}
		if err := db.Check(context.Background()); err != nil {
			found++
		} else {
			unseen++
			if d := dump(t, db); d != whole && d != before {
				t.Errorf("round %d: changed, and Check found nothing", round)
			}
		}
		// Nor does an append panic; it may well be refused.
		if err := db.Append(context.Background(), "tuesday", (&chain{"tuesday", last.Seq, last.Hash}).next(t, &session.Paused{}), nil); err == nil {
			if err := db.Reindex(context.Background()); err != nil && !errors.Is(err, ErrDamaged) {
				t.Errorf("round %d: reindex: %v", round, err)
			}
		}
		mustClose(t, db)
	}
	t.Logf("damage found %d times, in free space %d times", found, unseen)
	if found < rounds/10 {
		t.Errorf("damage was found only %d times: the test spoils too little", found)
	}
}

// A byte of an entry is changed in the file itself, not through bbolt.
func TestCheckFindsAChangedFile(t *testing.T) {
	path := filePath(t)
	db := mustOpen(t, path)
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries, reason)
	mustClose(t, db)
	raw := mustRead(t, path)
	spoiled := filepath.Join(t.TempDir(), "spoiled.oddcup")
	other := bytes.ReplaceAll(raw, []byte(`"title":"Tuesday afternoon"`), []byte(`"title":"Tuesday afternoom"`))
	if bytes.Equal(other, raw) {
		t.Fatal("nothing was changed")
	}
	mustWrite(t, spoiled, other)
	err := mustOpenUnchecked(t, spoiled).Check(context.Background())
	if err == nil || !strings.HasPrefix(err.Error(), `journal "tuesday": entry 2: its hash is not that of its bytes`) {
		t.Errorf("got %v", err)
	}
}
