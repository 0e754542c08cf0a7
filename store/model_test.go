package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"reflect"
	"testing"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// Random operations go to a file and to session.Memory; after each, both must
// tell the same.
func TestBesideMemory(t *testing.T) {
	seed := newSeed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	from := chance(seed)
	ctx := context.Background()
	path := filePath(t)
	db := mustOpen(t, path)
	model := &session.Memory{}
	chains := []*chain{{id: session.LabID}, {id: "20310304-120000-a1"}, {id: "20310304-120000-a2"}, {id: "20310305-090000-00"}}
	done := map[string]int{}
	for step := range 150 {
		c := chains[rng.IntN(len(chains))]
		var op string
		switch n := rng.IntN(20); {
		case n < 13:
			op = "append"
			before := *c
			events, texts := someEvents(t, rng, from, c.id)
			entries := c.next(t, events...)
			mustAppend(t, model, c.id, entries, texts...)
			mustAppend(t, db, c.id, entries, texts...)
			if rng.IntN(4) == 0 && before.seq > 0 {
				op = "append twice"
				for name, j := range map[string]session.Journal{"model": model, "file": db} {
					if err := j.Append(ctx, c.id, entries, texts); !errors.Is(err, session.ErrConflict) {
						t.Fatalf("step %d: the same entries again: %s: got %v, want ErrConflict", step, name, err)
					}
				}
			}
		case n < 16:
			op = "fork"
			fork := chain{id: c.id, seq: c.seq, head: session.Hash{0xff}}
			events, texts := someEvents(t, rng, from, c.id)
			entries := fork.next(t, events...)
			for name, j := range map[string]session.Journal{"model": model, "file": db} {
				if err := j.Append(ctx, c.id, entries, texts); !errors.Is(err, session.ErrConflict) {
					t.Fatalf("step %d: a fork: %s: got %v, want ErrConflict", step, name, err)
				}
			}
		case n < 18:
			op = "reopen"
			mustClose(t, db)
			db = mustOpenUnchecked(t, path)
		default:
			op = "reindex"
			before := dump(t, db)
			if err := db.Reindex(ctx); err != nil {
				t.Fatalf("step %d: %v", step, err)
			}
			if after := dump(t, db); after != before {
				t.Fatalf("step %d: the index built anew differs\nbefore\n%s\nafter\n%s", step, before, after)
			}
		}
		done[op]++
		look := []*chain{c}
		if op == "reopen" || op == "reindex" {
			look = chains
		}
		for _, c := range look {
			if got, want := recordsOf(t, db, c.id), recordsOf(t, model, c.id); !reflect.DeepEqual(got, want) {
				t.Fatalf("step %d, %s, journal %s:\n got %+v\nwant %+v", step, op, c.id, got, want)
			}
		}
		if got, want := rowsOf(t, db, model), rowsOf(t, model, model); got != want {
			t.Fatalf("step %d, %s, rows:\n got %s\nwant %s", step, op, got, want)
		}
	}
	for _, op := range []string{"append", "append twice", "fork", "reopen", "reindex"} {
		if done[op] == 0 {
			t.Errorf("no step did %q", op)
		}
	}
}

// someEvents gives one to six events for a journal and the texts beside them.
func someEvents(t *testing.T, rng *rand.Rand, from io.Reader, id session.ID) (events []session.Event, texts []session.Text) {
	text := func(words string) session.Text {
		x := mustText(t, fmt.Sprintf("%s %d ☕", words, rng.IntN(1000)), from)
		texts = append(texts, x)
		return x
	}
	for range 1 + rng.IntN(6) {
		if id == session.LabID {
			switch rng.IntN(3) {
			case 0:
				events = append(events, &session.LabNamed{Name: fmt.Sprint("room ", rng.IntN(1000))})
			case 1:
				events = append(events, &session.LotEntered{Lot: session.Lot{ID: "lot-1", Number: fmt.Sprint(rng.IntN(1000))}})
			default:
				events = append(events, &session.LotReleased{Release: session.Release{Lot: "lot-1", By: text("by"), Report: "sheet", At: noon}})
			}
			continue
		}
		switch rng.IntN(9) {
		case 0:
			events = append(events, &session.Drafted{Plan: plan(fmt.Sprint("day ", rng.IntN(1000))), Demo: rng.IntN(2) == 0})
		case 1:
			events = append(events, &session.Sealed{Plan: plan("sealed")})
		case 2:
			events = append(events, &session.Joined{Seat: rng.IntN(9), Person: "p1", Name: text("name")})
		case 3:
			events = append(events, &session.Voided{Seat: 1, Set: 1, Reason: text("spilled")})
		case 4:
			events = append(events, &session.Opened{Releases: []session.Release{{By: text("one")}, {By: text("two")}}})
		case 5:
			events = append(events, &session.Closed{})
		case 6:
			events = append(events, &session.Revealed{Tests: []session.Revealing{{Method: "triangle", N: 9, Correct: rng.IntN(9), P: rng.Float64()}}})
		case 7:
			events = append(events, &session.Abandoned{Reason: text("broken")})
		default:
			events = append(events, &session.RoundServed{Round: rng.IntN(5)})
		}
	}
	return events, texts
}

// recordsOf is what a Room would fold: each entry with its texts filled in.
func recordsOf(t *testing.T, j session.Journal, id session.ID) []session.Recorded {
	t.Helper()
	entries, texts, err := j.Load(context.Background(), id)
	if err != nil {
		t.Fatal(err)
	}
	if err := session.CheckChain(entries); err != nil {
		t.Fatal(err)
	}
	var records []session.Recorded
	for _, e := range entries {
		rec, err := e.Record(texts)
		if err != nil {
			t.Fatal(err)
		}
		records = append(records, rec)
	}
	return records
}

// rowsOf writes the rows out, each with the words of its reason, which the model
// keeps among its texts.
func rowsOf(t *testing.T, j session.Journal, model *session.Memory) string {
	t.Helper()
	rows, err := j.Rows(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	_, texts, err := model.Load(context.Background(), session.LabID)
	if err != nil {
		t.Fatal(err)
	}
	out := ""
	for _, r := range rows {
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		words := r.Reason.Words
		if j == session.Journal(model) {
			words = texts[r.Reason.Digest].Words
		}
		out += fmt.Sprintf("%s %q\n", b, words)
	}
	return out
}

// The index of a spoiled file, built anew, is that of the file before.
func TestReindexRebuilds(t *testing.T) {
	db := mustOpen(t, filePath(t))
	for _, id := range []session.ID{"monday", "tuesday"} {
		entries, reason := threeEntries(t, id)
		mustAppend(t, db, id, entries, reason)
	}
	before := dump(t, db)
	change(t, db, func(tx *bolt.Tx) error {
		b, err := bucketsOf(tx)
		if err != nil {
			return err
		}
		return errors.Join(
			b.sessions.Delete([]byte("monday")),
			b.sessions.Put([]byte("tuesday"), []byte("{}")),
			b.sessions.Put([]byte("wednesday"), []byte("{}")),
		)
	})
	if dump(t, db) == before {
		t.Fatal("the index was not spoiled")
	}
	if err := db.Reindex(context.Background()); err != nil {
		t.Fatal(err)
	}
	if after := dump(t, db); after != before {
		t.Errorf("before\n%s\nafter\n%s", before, after)
	}
}
