package store

import (
	"context"
	"fmt"
	"testing"

	"oddcup/session"
)

func locked(n int) []session.Event {
	var events []session.Event
	for i := range n {
		events = append(events, &session.Locked{Seat: i + 1, Set: 1, Pick: 417, PhoneAt: noon})
	}
	return events
}

// The time is that of the disk's syncs, two for each append.
func BenchmarkAppend(b *testing.B) {
	for _, n := range []int{1, 100} {
		b.Run(fmt.Sprint(n, " entries"), func(b *testing.B) {
			db := mustOpen(b, filePath(b))
			c := chain{id: "tuesday"}
			mustAppend(b, db, c.id, c.next(b, &session.Drafted{Plan: plan("Tuesday")}))
			for b.Loop() {
				b.StopTimer()
				entries := c.next(b, locked(n)...)
				b.StartTimer()
				if err := db.Append(context.Background(), c.id, entries, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkLoad1000(b *testing.B) {
	db := mustOpen(b, filePath(b))
	c := chain{id: "tuesday"}
	mustAppend(b, db, c.id, c.next(b, locked(1000)...))
	for b.Loop() {
		entries, _, err := db.Load(context.Background(), c.id)
		if err != nil || len(entries) != 1000 {
			b.Fatalf("got %d entries, error %v", len(entries), err)
		}
	}
}

// Opening looks at every page; this file has 20 000 entries.
func BenchmarkOpen(b *testing.B) {
	path := filePath(b)
	db := mustOpen(b, path)
	for i := range 100 {
		c := chain{id: session.ID(fmt.Sprint("session-", i))}
		mustAppend(b, db, c.id, c.next(b, locked(200)...))
	}
	mustClose(b, db)
	for b.Loop() {
		db, err := Open(path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		mustClose(b, db)
	}
}
