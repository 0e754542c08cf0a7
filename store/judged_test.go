package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// revealedEntries are those of a session of two tests that this many people have
// played and the host has revealed.
func revealedEntries(tb testing.TB, id session.ID, people int) []session.Entry {
	tb.Helper()
	var j session.Memory
	playRevealed(tb, &j, id, people)
	entries, _, err := j.Load(context.Background(), id)
	if err != nil {
		tb.Fatal(err)
	}
	return entries
}

// playRevealed plays such a session on a journal, and returns it.
func playRevealed(tb testing.TB, j session.Journal, id session.ID, people int) *session.State {
	tb.Helper()
	return playRevealedBy(tb, j, id, people, 1)
}

// playRevealedBy is playRevealed by people whose names are numbered from first.
func playRevealedBy(tb testing.TB, j session.Journal, id session.ID, people, first int) *session.State {
	tb.Helper()
	room, err := session.OpenRoom(context.Background(), j, id)
	if err != nil {
		tb.Fatal(err)
	}
	defer room.Close()
	at := noon
	do := func(act session.Act) {
		tb.Helper()
		at = at.Add(1500 * time.Millisecond)
		if _, err := room.Do(context.Background(), session.Command{At: at, Actor: session.Host, Act: act}); err != nil {
			tb.Fatalf("%T: %v", act, err)
		}
	}
	p := plan("Tuesday")
	p.Seats = people
	pin, err := session.NewPin("1357", chance(3))
	if err != nil {
		tb.Fatal(err)
	}
	sealing, err := session.Seal(p, chance(uint64(people)))
	if err != nil {
		tb.Fatal(err)
	}
	do(session.Draft{Plan: p})
	do(session.SetPin{Pin: pin})
	do(session.SealPlan{Sealing: sealing})
	do(session.OpenLobby{})
	for i := range people {
		do(session.Sit{Name: mustText(tb, fmt.Sprintf("Person %d Invented", i+first), chance(uint64(100+i))), Token: session.HashToken([]byte{byte(i)})})
	}
	do(session.FreezeList{})
	do(session.Open{Releases: []session.Release{
		{Lot: "lot-1", By: mustText(tb, "Q. Invented", chance(4)), Report: "sheet 3"}, {Lot: "lot-2", By: mustText(tb, "Q. Invented", chance(5)), Report: "sheet 4"},
	}})
	for set := 1; set <= p.SetsPerSeat(); set++ {
		do(session.Serve{Round: set})
		for seat := 1; seat <= people; seat++ {
			codes := room.State().Codes(seat, set, 0)
			do(session.Lock{Seat: seat, Set: set, Pick: codes[seat%len(codes)], Guess: seat%3 == 0, Paper: seat%4 == 0, PhoneAt: at})
		}
	}
	do(session.Void{Seat: 1, Set: p.SetsPerSeat(), Reason: mustText(tb, "Person 1 Invented spilled it", chance(6))})
	do(session.Close{})
	do(session.Reveal{})
	return room.State()
}

// kept is what the bucket judged has of a session.
func kept(tb testing.TB, db *DB, id session.ID) (v []byte) {
	tb.Helper()
	if err := db.view(context.Background(), func(b buckets) error {
		v = bytes.Clone(b.judged.Get([]byte(id)))
		return nil
	}); err != nil {
		tb.Fatal(err)
	}
	return v
}

// What is kept is what the journals give: computed, kept, dropped by Reindex,
// computed again, and older than an amendment.
func TestJudgedSessions(t *testing.T) {
	ctx := t.Context()
	path := filePath(t)
	db := mustOpen(t, path)
	first := playRevealed(t, db, "tuesday", 6)
	entries, reason := threeEntries(t, "monday")
	mustAppend(t, db, "monday", entries, reason)
	open := chain{id: "wednesday"}
	mustAppend(t, db, "wednesday", open.next(t, &session.Drafted{Plan: plan("Wednesday")}))
	want, ok := session.Judged(first)
	if !ok || len(want.Sets) != 11 {
		t.Fatalf("%+v", want)
	}
	judged := func(want session.JudgedSession) {
		t.Helper()
		all, err := db.JudgedSessions(ctx)
		if err != nil || len(all) != 1 || !reflect.DeepEqual(all[0], want) {
			t.Errorf("got %+v, %v\nwant %+v", all, err, want)
		}
	}
	judged(want)
	if kept(t, db, "tuesday") == nil || len(kept(t, db, "monday")) != 8 || kept(t, db, "wednesday") != nil {
		t.Errorf("kept of a revealed, an abandoned and an open session: %d, %d and %d bytes",
			len(kept(t, db, "tuesday")), len(kept(t, db, "monday")), len(kept(t, db, "wednesday")))
	}
	before := kept(t, db, "tuesday")
	judged(want)
	if err := db.Reindex(ctx); err != nil || kept(t, db, "tuesday") != nil {
		t.Errorf("reindexed, and still kept: %v", err)
	}
	judged(want)
	if !bytes.Equal(kept(t, db, "tuesday"), before) {
		t.Error("computed anew it is something else")
	}
	// That it is read and not computed shows where what is kept is another's.
	other := want
	other.Sets = slices.Clone(want.Sets)
	other.Sets[3].Right = !other.Sets[3].Right
	v, err := encodeJudged(other, true)
	if err != nil {
		t.Fatal(err)
	}
	change(t, db, func(tx *bolt.Tx) error {
		return tx.Bucket(bucketV1).Bucket(bucketJudged).Put([]byte("tuesday"), v)
	})
	judged(other)
	if err := db.Check(ctx); !errors.Is(err, ErrDamaged) || err.Error() != `judged session "tuesday": it is not what the journal gives: not as it was written` {
		t.Errorf("check: %v", err)
	}
	// An amendment makes it old.
	room, err := session.OpenRoom(ctx, db, "tuesday")
	if err != nil {
		t.Fatal(err)
	}
	amend := session.Amend{Seat: 2, Set: 1, Reason: mustText(t, "the wrong flask", chance(9))}
	if _, err := room.Do(ctx, session.Command{At: noon.Add(time.Hour), Actor: session.Host, Act: amend}); err != nil {
		t.Fatal(err)
	}
	if err := db.Check(ctx); err != nil {
		t.Errorf("what is old is no damage: %v", err)
	}
	now, _ := session.Judged(room.State())
	room.Close()
	judged(now)
	if len(now.Sets) != 10 {
		t.Errorf("%d sets after an amendment", len(now.Sets))
	}
	mustClose(t, db)

	// Opened to read, nothing is kept, and all is computed.
	old, err := openToRead(path, Options{}, migrations)
	if err != nil {
		t.Fatal(err)
	}
	if all, err := old.JudgedSessions(ctx); err != nil || len(all) != 1 || !reflect.DeepEqual(all[0], now) {
		t.Errorf("%+v, %v", all, err)
	}
	mustClose(t, old)
}

// Every field comes back, one that is added later too.
func TestEncodeJudgedKeepsEveryField(t *testing.T) {
	var fill func(v reflect.Value, n int64)
	fill = func(v reflect.Value, n int64) {
		switch v.Kind() {
		case reflect.Pointer:
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), n)
		case reflect.Struct:
			if v.Type() == reflect.TypeFor[time.Time]() {
				v.Set(reflect.ValueOf(noon.Add(time.Duration(n))))
				return
			}
			for i := range v.NumField() {
				fill(v.Field(i), n+int64(i))
			}
		case reflect.Slice:
			v.Set(reflect.MakeSlice(v.Type(), 3, 3))
			for i := range 3 {
				fill(v.Index(i), n+int64(10*i))
			}
		case reflect.String:
			v.SetString(fmt.Sprint("words ", n))
		case reflect.Bool:
			v.SetBool(true)
		case reflect.Float64:
			v.SetFloat(float64(n) / 3)
		case reflect.Uint64:
			v.SetUint(uint64(n))
		default:
			v.SetInt(n)
		}
	}
	var j session.JudgedSession
	fill(reflect.ValueOf(&j).Elem(), 1)
	j.Session, j.Laboratory, j.Received = "tuesday", "", false
	for i := range j.Sets {
		j.Sets[i].Test, j.Sets[i].Method, j.Sets[i].Kind = 2-i, j.Tests[2-i].Method, j.Tests[2-i].Kind
	}
	v, err := encodeJudged(j, true)
	if err != nil {
		t.Fatal(err)
	}
	if got, ok, err := decodeJudged("tuesday", v); err != nil || !ok || !reflect.DeepEqual(got, j) {
		t.Errorf("got %+v, %v\nwant %+v", got, err, j)
	}
	for n := range v {
		if _, ok, err := decodeJudged("tuesday", v[:n]); n != 8 && (err == nil || ok) {
			t.Errorf("cut to %d of %d bytes: read without an error", n, len(v))
		}
	}
	j.Received = true
	if _, err := encodeJudged(j, true); err == nil {
		t.Error("another laboratory's session is kept as one's own")
	}
}

func TestJudgedCheckNames(t *testing.T) {
	for name, c := range map[string]struct {
		key   string
		value func(have []byte) []byte
		say   string
	}{
		"cut":             {"tuesday", func(v []byte) []byte { return v[:len(v)-1] }, `judged session "tuesday": not as it was written`},
		"longer":          {"tuesday", func(v []byte) []byte { return append(v, 0) }, `judged session "tuesday": not as it was written`},
		"short":           {"tuesday", func([]byte) []byte { return []byte("no") }, `judged session "tuesday": not as it was written`},
		"of another form": {"tuesday", func(v []byte) []byte { v[8]++; return v }, `judged session "tuesday": not as it was written`},
		"nothing":         {"tuesday", func(v []byte) []byte { return v[:8] }, `judged session "tuesday": it is not what the journal gives: not as it was written`},
		"of the future": {"tuesday", func([]byte) []byte { return binary.BigEndian.AppendUint64(nil, 99) },
			`judged session "tuesday": it stands at entry 99 of 23: not as it was written`},
		"of no session": {"friday", func([]byte) []byte { return make([]byte, 8) }, `judged session "friday": there is no such session: not as it was written`},
	} {
		db := mustOpenUnchecked(t, filePath(t))
		playRevealed(t, db, "tuesday", 4)
		all, err := db.JudgedSessions(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		have := kept(t, db, "tuesday")
		change(t, db, func(tx *bolt.Tx) error {
			return tx.Bucket(bucketV1).Bucket(bucketJudged).Put([]byte(c.key), c.value(have))
		})
		if err := db.Check(t.Context()); !errors.Is(err, ErrDamaged) || err.Error() != c.say {
			t.Errorf("%s: check\n got %v\nwant %s", name, err, c.say)
		}
		// What can't be read is computed anew.
		again, err := db.JudgedSessions(t.Context())
		if name != "nothing" && (err != nil || !reflect.DeepEqual(again, all)) {
			t.Errorf("%s: %+v, %v", name, again, err)
		}
	}
}

func FuzzDecodeJudged(f *testing.F) {
	j, _, err := session.FoldJudged("tuesday", revealedEntries(f, "tuesday", 3))
	if err != nil {
		f.Fatal(err)
	}
	v, err := encodeJudged(j, true)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(v)
	f.Add(v[:8])
	f.Fuzz(func(t *testing.T, v []byte) {
		if j, ok, err := decodeJudged("tuesday", v); err != nil && ok || err == nil && ok && j.Session != "tuesday" {
			t.Errorf("%+v, %v, %v", j, ok, err)
		}
	})
}

// manyJudged is a file of 4000 sessions with 25 judged sets each.
func manyJudged(b *testing.B) *DB {
	db := mustOpenUnchecked(b, filePath(b))
	db.bolt.NoSync = true
	const sessions, sets = 4000, 25
	for i := range sessions {
		c := chain{id: session.ID(fmt.Sprintf("session-%04d", i))}
		mustAppend(b, db, c.id, c.next(b, &session.Drafted{Plan: plan("Tuesday")}))
		j := session.JudgedSession{Session: c.id, Seq: 1, At: noon, Tests: []session.JudgedTest{{Method: "triangle", Kind: session.KindRoutine, Chance: 1.0 / 3, Seats: sets}}}
		for seat := range sets {
			j.Sets = append(j.Sets, session.JudgedSet{
				Seat: seat + 1, Method: "triangle", Kind: session.KindRoutine, Set: 1, Place: 1 + seat%3, At: noon.Add(-time.Hour), Took: 90 * time.Second, Right: seat%2 == 0,
			})
		}
		v, err := encodeJudged(j, true)
		if err != nil {
			b.Fatal(err)
		}
		change(b, db, func(tx *bolt.Tx) error { return tx.Bucket(bucketV1).Bucket(bucketJudged).Put([]byte(c.id), v) })
	}
	return db
}

func BenchmarkJudgedFromTheFile(b *testing.B) {
	db := manyJudged(b)
	for b.Loop() {
		all, err := db.JudgedSessions(context.Background())
		if err != nil || len(all) != 4000 || len(all[0].Sets) != 25 {
			b.Fatal(len(all), err)
		}
	}
}

func BenchmarkJudgedInMemory(b *testing.B) {
	db := manyJudged(b)
	rooms, err := session.NewRooms(context.Background(), db)
	if err != nil {
		b.Fatal(err)
	}
	defer rooms.Close()
	if err := rooms.OpenAll(context.Background()); err != nil {
		b.Fatal(err)
	}
	if _, err := rooms.Judged(context.Background()); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		all, err := rooms.Judged(context.Background())
		if err != nil || len(all) != 4000 {
			b.Fatal(len(all), err)
		}
	}
}
