package store

import (
	"context"
	"fmt"
	"testing"

	"oddcup/session"
)

// BenchmarkRegister is what the register's pages read, of 240 people on 20 panels of 12
// and their 400 revealed sessions in a file, all Rooms open as when the program serves.
func BenchmarkRegister(b *testing.B) {
	const panels, sessions, size = 20, 400, 12
	ctx := context.Background()
	db := mustOpenUnchecked(b, filePath(b))
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(rooms.Close)
	do := func(act session.Act) {
		if _, err := rooms.Lab().Do(ctx, session.Command{At: noon, Actor: session.Host, Act: act}); err != nil {
			b.Fatal(err)
		}
	}
	for n := range panels * size {
		do(session.EnterPerson{Facts: session.PersonFacts{Name: mustText(b, fmt.Sprintf("Person %d Invented", n+1), chance(uint64(n)))}})
	}
	seats := map[int][]session.SeatRef{}
	for panel := range panels {
		var j session.Memory
		playRevealedBy(b, &j, "once", size, 1+panel*size)
		entries, texts, err := j.Load(ctx, "once")
		if err != nil {
			b.Fatal(err)
		}
		var beside []session.Text
		for _, t := range texts {
			beside = append(beside, t)
		}
		for n := range sessions / panels {
			id := session.ID(fmt.Sprintf("session-%02d-%02d", n, panel))
			mustAppend(b, db, id, entries, beside...)
			for seat := 1; seat < size; seat++ { // the last one is tied to nobody
				who := panel*size + seat
				seats[who] = append(seats[who], session.SeatRef{Session: id, Seat: seat})
			}
		}
	}
	for who, refs := range seats {
		do(session.TieSeats{Person: session.PersonID(fmt.Sprintf("p-%d", who)), Seats: refs})
	}
	if err := rooms.OpenAll(ctx); err != nil {
		b.Fatal(err)
	}
	if _, err := rooms.Judged(ctx); err != nil { // which is kept from then on
		b.Fatal(err)
	}
	b.Run("before erasing", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := rooms.BeforeErasing(ctx, "p-200"); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("ties", func(b *testing.B) {
		for b.Loop() {
			if names, _, err := rooms.UntiedNames(ctx); err != nil || len(names) == 0 {
				b.Fatal(len(names), err)
			}
		}
	})
	b.Run("person file", func(b *testing.B) {
		for b.Loop() {
			if _, err := rooms.PersonFile(ctx, "p-200", noon); err != nil {
				b.Fatal(err)
			}
		}
	})
}
