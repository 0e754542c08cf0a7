package session

import (
	"errors"
	"fmt"
	"runtime"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// What one sender gets wrong must not fail the others of its batch. A phone's
// clock is its own business: JSON has no year beyond 9999.
func TestStrangePhoneClockFailsNobody(t *testing.T) {
	for _, at := range []time.Time{time.UnixMilli(1 << 55), time.Date(-1, 1, 1, 0, 0, 0, 0, time.UTC), {}} {
		t.Run(at.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var j gate
				r := openTable(t, &j, planOf(6, triangles(1)), 6)
				defer r.Close()
				j.hold()
				errs := make(chan error, 3)
				send := func(c Command) {
					go func() {
						_, err := r.Do(t.Context(), c)
						errs <- err
					}()
					synctest.Wait()
				}
				send(pick(r, 1, 0, 1))
				strange := pick(r, 2, 0, 2)
				lock := strange.Act.(Lock)
				lock.PhoneAt = at
				strange.Act = lock
				send(strange)
				send(pick(r, 3, 0, 3))
				close(j.leave)
				synctest.Wait()
				for range 3 {
					if err := <-errs; errors.Is(err, ErrJournal) {
						t.Errorf("phone clock %v: %v", at, err)
					}
				}
				if r.State().Seats[2].Answered() != 1 {
					t.Errorf("phone clock %v at seat 2: the answer of seat 3 is lost", at)
				}
			})
		})
	}
}

// A draft is kept as it stands, faults and all; figures that no journal can
// hold are refused as a fault of the plan, and not as one of the journal.
func TestDraftOfNoNumbersIsNoJournalFault(t *testing.T) {
	var j gate
	r := openRoom(t, &j)
	defer r.Close()
	p := planOf(6, triangles(1))
	nan := 0.0
	p.Serving.FillG = nan / nan
	_, err := r.Do(t.Context(), Command{At: noon, Actor: Host, Act: Draft{Plan: p}})
	if err == nil || errors.Is(err, ErrJournal) {
		t.Errorf("a draft with a figure that is no number: %v", err)
	}
}

// The published state is what a restart would give, bad bytes included.
func TestBadBytesReadTheSameAfterARestart(t *testing.T) {
	var j gate
	r := openRoom(t, &j)
	defer r.Close()
	p := planOf(6, triangles(1))
	p.Title = "Wednesday \xff table"
	if _, err := r.Do(t.Context(), Command{At: noon, Actor: Host, Act: Draft{Plan: p}}); err == nil {
		sameAsReplay(t, r, &j)
	}
}

// A journal that passes its chain and makes no sense is refused at opening: a
// file must not bring the host program down.
func TestSenselessJournalIsRefused(t *testing.T) {
	for _, ev := range []Event{
		&Joined{Seat: 9}, &LotEntered{}, &Locked{Seat: 1, Set: 1}, &RoundServed{Round: 7}, &ListFrozen{Seats: []int{0}},
	} {
		g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
		e, err := NewEntry(g.s.Seq+1, g.s.Head, Recorded{At: noon, Actor: Host, Event: ev})
		if err != nil {
			t.Fatal(err)
		}
		var j Memory
		if err := j.Append(t.Context(), roomID, append(g.entries, e), nil); err != nil {
			t.Fatal(err)
		}
		func() {
			defer func() {
				if p := recover(); p != nil {
					t.Errorf("%T out of place: panic: %v", ev, p)
				}
			}()
			r, err := OpenRoom(t.Context(), &j, roomID)
			if err == nil {
				r.Close()
				if _, ok := ev.(*RoundServed); !ok {
					t.Errorf("%T out of place: opened", ev)
				}
			}
		}()
	}
}

func TestRoomRefusesABrokenChain(t *testing.T) {
	g := newGame(t).toOpen(planOf(3, triangles(1)), 2)
	var j Memory
	if err := j.Append(t.Context(), roomID, g.entries, nil); err != nil {
		t.Fatal(err)
	}
	j.journals[roomID] = slices.Delete(j.journals[roomID], 3, 4)
	before := runtime.NumGoroutine()
	if _, err := OpenRoom(t.Context(), &j, roomID); err == nil {
		t.Error("opened")
	}
	if n := runtime.NumGoroutine(); n > before {
		t.Errorf("%d goroutines are left of a Room that did not open", n-before)
	}
}

func BenchmarkLockFullTable(b *testing.B) {
	g := newGame(b).toOpen(planOf(77, triangles(1), pairOn("body")), 77)
	g.do(Serve{Round: 1})
	c := Command{At: noon, Actor: Taster(1), Act: g.answer(1, 1, 0, true)}
	for b.Loop() {
		s := g.s.Clone()
		if _, err := s.Decide(c); err != nil {
			b.Fatal(fmt.Errorf("lock: %w", err))
		}
	}
}

// An id belongs to who sent it: another seat that comes upon it learns nothing
// of the answer, and its own answer counts.
func TestAnotherSeatsIDIsAnotherCommand(t *testing.T) {
	g := newGame(t).toOpen(planOf(3, triangles(1)), 3)
	g.do(Serve{Round: 1})
	id := cmdID(77)
	if _, err := g.try(Command{Act: g.answer(1, 1, 0, true), Actor: Taster(1), ID: id}); err != nil {
		t.Fatal(err)
	}
	if got := g.s.Outcome(Command{Actor: Taster(2), ID: id}); got != nil {
		t.Errorf("seat 2 reads %+v", got[0].Event)
	}
	if _, err := g.try(Command{Act: g.answer(2, 1, 0, true), Actor: Taster(2), ID: id}); err != nil {
		t.Fatal(err)
	}
	if g.s.Seats[1].Sets[0].Kept() == nil {
		t.Error("seat 2's answer is lost")
	}
}
