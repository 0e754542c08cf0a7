package store

import (
	"context"
	"errors"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// A session and the register are run through Rooms, the file is closed and
// opened again, and both are folded from what it holds.
func TestRoomsRoundTrip(t *testing.T) {
	ctx := context.Background()
	path := filePath(t)
	from := chance(1)
	db := mustOpen(t, path)
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	id, err := session.NewID(noon, from)
	if err != nil {
		t.Fatal(err)
	}
	room, err := rooms.New(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	at := noon
	do := func(do func(context.Context, session.Command) ([]session.Recorded, error), act session.Act) {
		t.Helper()
		at = at.Add(time.Second)
		if _, err := do(ctx, session.Command{At: at, Actor: session.Host, Act: act}); err != nil {
			t.Fatalf("%T: %v", act, err)
		}
	}
	p := plan("Tuesday")
	lab := rooms.Lab()
	do(lab.Do, session.NameLab{Name: "Back room"})
	do(lab.Do, session.EnterLot{Lot: p.Untreated})
	do(lab.Do, session.EnterLot{Lot: p.Processed})
	do(lab.Do, session.ReleaseLot{Lot: "lot-2", By: mustText(t, "Q. Invented", from), Report: "solvent residue, sheet 4"})

	pin, err := session.NewPin("1357", from)
	if err != nil {
		t.Fatal(err)
	}
	sealing, err := session.Seal(p, from)
	if err != nil {
		t.Fatal(err)
	}
	do(room.Do, session.Draft{Plan: p})
	do(room.Do, session.SetPin{Pin: pin})
	do(room.Do, session.SealPlan{Sealing: sealing})
	do(room.Do, session.OpenLobby{})
	for _, name := range []string{"Ada Nobody", "Bo Nobody", "Ćiril Nobody"} {
		do(room.Do, session.Sit{Name: mustText(t, name, from), Token: session.HashToken([]byte(name))})
	}
	do(room.Do, session.Abandon{Reason: mustText(t, "the kettle's element failed — no hot water", from)})
	wantState, wantLab := room.State(), lab.State()
	rooms.Close()
	mustClose(t, db)

	db = mustOpen(t, path)
	again, err := session.NewRooms(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	replayed, err := again.Session(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if got := replayed.State(); !reflect.DeepEqual(got, wantState) {
		t.Errorf("replayed session:\n got %+v\nwant %+v", got, wantState)
	}
	if got := replayed.State().Seats[2].Name.Words; got != "Ćiril Nobody" {
		t.Errorf("name on seat 3: got %q", got)
	}
	if got := again.Lab().State(); !reflect.DeepEqual(got, wantLab) {
		t.Errorf("replayed register:\n got %+v\nwant %+v", got, wantLab)
	}
	rows, err := db.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1 {
		t.Fatalf("got %d rows, want 1: the register has none", len(rows))
	}
	row := rows[0]
	if row.ID != id || row.Phase != session.PhaseAbandoned || row.Title != "Tuesday" || row.Seq != 8 ||
		!row.Begun.Equal(noon.Add(5*time.Second)) || !row.Changed.Equal(at) {
		t.Errorf("row: got %+v", row)
	}
	if got, want := row.Reason.Words, "the kettle's element failed — no hot water"; got != want {
		t.Errorf("reason in the row: got %q, want %q", got, want)
	}
}

func TestRowsNewestFirst(t *testing.T) {
	db := mustOpen(t, filePath(t))
	for _, id := range []session.ID{"20310305-100000-bb", "20310304-100000-cc", "20310306-100000-aa"} {
		c := chain{id: id}
		mustAppend(t, db, id, c.next(t, &session.Drafted{Plan: plan("x")}))
	}
	rows, err := db.Rows(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var got []session.ID
	for _, r := range rows {
		got = append(got, r.ID)
	}
	want := []session.ID{"20310306-100000-aa", "20310305-100000-bb", "20310304-100000-cc"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestEmptyFile(t *testing.T) {
	db := mustOpen(t, filePath(t))
	entries, texts, err := db.Load(context.Background(), "nobody-knows-this")
	if err != nil || len(entries) != 0 || len(texts) != 0 {
		t.Errorf("unknown journal: got %v, %v, %v", entries, texts, err)
	}
	rows, err := db.Rows(context.Background())
	if err != nil || len(rows) != 0 {
		t.Errorf("rows: got %v, %v", rows, err)
	}
}

// Each append here is refused or fails, and the file holds what it held before.
func TestFailedAppendLeavesNothing(t *testing.T) {
	ctx := context.Background()
	db := mustOpen(t, filePath(t))
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries[:2])
	before := dump(t, db)

	other := chain{id: "tuesday", seq: 2, head: session.Hash{1}}
	unknown, err := session.ParseEntry([]byte(`{"seq":3,"at":"2031-03-04T12:00:00Z","actor":"host","kind":"sung","version":1,"prev":"` + entries[1].Hash.String() + `","body":{}}`))
	if err != nil {
		t.Fatal(err)
	}
	forged := entries[2]
	forged.Stored = append([]byte(nil), forged.Stored...)
	forged.Stored[20] ^= 1
	wrongText := reason
	wrongText.Words += "!"
	done, cancel := context.WithCancel(ctx)
	cancel()
	for _, c := range []struct {
		name    string
		ctx     context.Context
		id      session.ID
		entries []session.Entry
		texts   []session.Text
		is      error
		say     string
	}{
		{"sequence number again", ctx, "tuesday", entries[1:], []session.Text{reason}, session.ErrConflict, `journal "tuesday": entry 2 after 2: the journal has moved on`},
		{"a gap", ctx, "new-one", entries[2:], []session.Text{reason}, session.ErrConflict, `journal "new-one": entry 3 after 0: the journal has moved on`},
		{"another entry before", ctx, "tuesday", other.next(t, &session.Paused{}), nil, session.ErrConflict, `journal "tuesday": entry 3 after 2: the journal has moved on`},
		{"second entry of the batch does not follow", ctx, "tuesday", []session.Entry{entries[2], entries[2]}, []session.Text{reason}, session.ErrConflict, `journal "tuesday": entry 3 after 3: the journal has moved on`},
		{"kind of a newer program", ctx, "tuesday", []session.Entry{unknown}, []session.Text{reason}, ErrNewer, `journal "tuesday": entry 3, kind "sung" version 1: written by a newer version of oddcup`},
		{"bytes that are not those of the hash", ctx, "tuesday", []session.Entry{forged}, nil, nil, `journal "tuesday": entry 3: its hash is not that of its bytes`},
		{"text that does not fit", ctx, "tuesday", entries[2:], []session.Text{reason, wrongText}, nil, `journal "tuesday": a text does not fit its digest`},
		{"texts alone", ctx, "tuesday", nil, []session.Text{reason}, nil, `journal "tuesday": texts without an entry`},
		{"no name", ctx, "", entries, nil, nil, `journal "": not a journal's name`},
		{"a name with a slash", ctx, "a/b", entries, nil, nil, `journal "a/b": not a journal's name`},
		{"cancelled before", done, "tuesday", entries[2:], nil, context.Canceled, `journal "tuesday": context canceled`},
	} {
		err := db.Append(c.ctx, c.id, c.entries, c.texts)
		if err == nil || err.Error() != c.say || c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: got error %v, want %s", c.name, err, c.say)
		}
		if after := dump(t, db); after != before {
			t.Fatalf("%s: the file changed\nbefore\n%s\nafter\n%s", c.name, before, after)
		}
	}
	if err := db.Append(ctx, "tuesday", nil, nil); err != nil || dump(t, db) != before {
		t.Errorf("append of nothing: got error %v, or a change", err)
	}
	mustClose(t, db)
	if err := db.Append(ctx, "tuesday", entries[2:], []session.Text{reason}); err == nil {
		t.Error("append to a closed file: got no error")
	}
	if got := dump(t, mustOpen(t, db.Path())); got != before {
		t.Errorf("after an append to a closed file: the file changed\nbefore\n%s\nafter\n%s", before, got)
	}
}

// What Append has answered is in the file at that moment: a copy of the file's
// bytes, taken then, holds it.
func TestAppendedIsInTheFile(t *testing.T) {
	path := filePath(t)
	db := mustOpen(t, path)
	entries, reason := threeEntries(t, "tuesday")
	for i, e := range entries {
		mustAppend(t, db, "tuesday", []session.Entry{e}, reason)
		copied := filepath.Join(t.TempDir(), "copy.oddcup")
		mustWrite(t, copied, mustRead(t, path))
		for name, from := range map[string]*DB{"same file": db, "copy": mustOpen(t, copied)} {
			got, texts, err := from.Load(context.Background(), "tuesday")
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, entries[:i+1]) {
				t.Errorf("%s after entry %d: got %d entries", name, i+1, len(got))
			}
			if got := texts[reason.Digest]; !reflect.DeepEqual(got, reason) {
				t.Errorf("%s after entry %d: text: got %+v, want %+v", name, i+1, got, reason)
			}
		}
	}
}

// bbolt leaves out syncs where it is told to; an answer would then be
// acknowledged before it is on the disk.
func TestSyncIsOn(t *testing.T) {
	b := mustOpen(t, filePath(t)).bolt
	if b.NoSync || b.NoGrowSync || b.NoFreelistSync {
		t.Errorf("got NoSync %v, NoGrowSync %v, NoFreelistSync %v, want all false", b.NoSync, b.NoGrowSync, b.NoFreelistSync)
	}
	if b.IsReadOnly() {
		t.Error("the file is open read-only")
	}
}

// A text is erased by taking its value away; nothing puts it back, and the
// journal still checks.
func TestErasedTextStaysErased(t *testing.T) {
	ctx := context.Background()
	db := mustOpen(t, filePath(t))
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries[:2], reason)
	change(t, db, func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		return b.texts.Bucket([]byte("tuesday")).Put(reason.Digest[:], nil)
	})
	mustAppend(t, db, "tuesday", entries[2:], reason)
	got, texts, err := db.Load(ctx, "tuesday")
	if err != nil || len(got) != 3 || len(texts) != 0 {
		t.Errorf("got %d entries, texts %v, error %v; want 3, none, none", len(got), texts, err)
	}
	rows, err := db.Rows(ctx)
	if err != nil || len(rows) != 1 || rows[0].Reason.Words != "" || rows[0].Reason.Digest != reason.Digest {
		t.Errorf("got rows %+v, error %v", rows, err)
	}
	if err := db.Check(ctx); err != nil {
		t.Error(err)
	}
}

// A text that comes without its words, since they were erased elsewhere, is kept
// as erased.
func TestTextWithoutWords(t *testing.T) {
	db := mustOpen(t, filePath(t))
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries, session.Text{Digest: reason.Digest})
	if _, texts, err := db.Load(context.Background(), "tuesday"); err != nil || len(texts) != 0 {
		t.Errorf("got texts %v, error %v; want none", texts, err)
	}
}

// A lost or outdated row does not stop answers from being kept: the append makes
// it anew.
func TestAppendMendsTheRow(t *testing.T) {
	for name, spoil := range map[string]func(b buckets) error{
		"lost":     func(b buckets) error { return b.sessions.Delete([]byte("tuesday")) },
		"outdated": func(b buckets) error { return b.sessions.Put([]byte("tuesday"), []byte(`{"id":"tuesday","seq":1}`)) },
		"no JSON":  func(b buckets) error { return b.sessions.Put([]byte("tuesday"), []byte("{")) },
	} {
		db := mustOpen(t, filePath(t))
		entries, reason := threeEntries(t, "tuesday")
		mustAppend(t, db, "tuesday", entries[:2])
		change(t, db, func(tx *bolt.Tx) error {
			b, err := bucketsOf(tx)
			if err != nil {
				return err
			}
			return spoil(b)
		})
		if err := db.Check(context.Background()); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: check before: got %v, want ErrDamaged", name, err)
		}
		mustAppend(t, db, "tuesday", entries[2:], reason)
		if err := db.Check(context.Background()); err != nil {
			t.Errorf("%s: check after: %v", name, err)
		}
	}
}
