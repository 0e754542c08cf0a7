package session

import (
	"context"
	"errors"
	"reflect"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// gate is a journal that can hold an append, fail it, and counts.
type gate struct {
	Memory
	mu    sync.Mutex
	sizes []int // entries of every append that was tried
	loads int
	enter chan struct{}                               // if set, gets a value as an append begins
	leave chan struct{}                               // if set, an append waits for a value
	fail  func(append int, ctx context.Context) error // if set, may refuse the append
	after bool                                        // a refused append has been written all the same
}

func (g *gate) Append(ctx context.Context, id ID, entries []Entry, texts []Text) error {
	g.mu.Lock()
	g.sizes = append(g.sizes, len(entries))
	n := len(g.sizes)
	enter, leave, fail, after := g.enter, g.leave, g.fail, g.after
	g.mu.Unlock()
	if enter != nil {
		enter <- struct{}{}
	}
	if leave != nil {
		<-leave
	}
	if fail != nil {
		if err := fail(n, ctx); err != nil {
			if after {
				if err := g.Memory.Append(ctx, id, entries, texts); err != nil {
					return err
				}
			}
			return err
		}
	}
	return g.Memory.Append(ctx, id, entries, texts)
}

func (g *gate) Load(ctx context.Context, id ID) ([]Entry, map[Hash]Text, error) {
	g.mu.Lock()
	g.loads++
	g.mu.Unlock()
	return g.Memory.Load(ctx, id)
}

func (g *gate) appends() []int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return slices.Clone(g.sizes)
}

// hold makes later appends wait.
func (g *gate) hold() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.enter, g.leave = make(chan struct{}, 100), make(chan struct{})
}

func (g *gate) failing(fail func(int, context.Context) error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.fail = fail
}

const roomID ID = "20310305-120000-0102030405"

// openTable plays a session into a journal until round 1 is served, and opens
// its Room.
func openTable(t *testing.T, j *gate, p Plan, people int) *Room[*State] {
	t.Helper()
	g := newGame(t).toOpen(p, people)
	g.do(Serve{Round: 1})
	var texts []Text
	for _, x := range g.texts {
		texts = append(texts, x)
	}
	if err := j.Memory.Append(t.Context(), roomID, g.entries, texts); err != nil {
		t.Fatal(err)
	}
	return openRoom(t, j)
}

func openRoom(t *testing.T, j Journal) *Room[*State] {
	t.Helper()
	r, err := OpenRoom(t.Context(), j, roomID)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// pick is a command to lock the i-th cup of set 1 at a seat.
func pick(r *Room[*State], seat, i int, id uint64) Command {
	c := Command{At: noon, Actor: Taster(seat), Act: Lock{Seat: seat, Set: 1, Pick: r.State().Codes(seat, 1, 0)[i], PhoneAt: noon}}
	if id != 0 {
		c.ID = cmdID(id)
	}
	return c
}

func mustDo(t *testing.T, r *Room[*State], c Command) []Recorded {
	t.Helper()
	rec, err := r.Do(t.Context(), c)
	if err != nil {
		t.Fatalf("%T: %v", c.Act, err)
	}
	return rec
}

// sameAsReplay compares the published state with one replayed anew.
func sameAsReplay(t *testing.T, r *Room[*State], j Journal) {
	t.Helper()
	fresh := openRoom(t, j)
	defer fresh.Close()
	if !reflect.DeepEqual(r.State(), fresh.State()) {
		t.Errorf("the published state at entry %d is not the journal's at entry %d", r.State().Seq, fresh.State().Seq)
	}
}

func TestDoReturnsOnlyAfterTheAppend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j gate
		r := openTable(t, &j, planOf(6, triangles(1)), 6)
		defer r.Close()
		j.hold()
		before := r.State()
		changes, stop := r.Watch()
		defer stop()
		answered := false
		go func() {
			if rec, err := r.Do(t.Context(), pick(r, 1, 0, 1)); err != nil || len(rec) != 1 || rec[0].Event.Kind() != "locked" {
				t.Errorf("locking: %v, %v", rec, err)
			}
			answered = true
		}()
		synctest.Wait()
		if len(j.enter) != 1 || answered || r.State() != before || len(changes) != 0 {
			t.Errorf("during the append: answered %v, published %v, watchers told %d", answered, r.State() != before, len(changes))
		}
		j.leave <- struct{}{}
		synctest.Wait()
		if !answered || r.State().Seats[0].Answered() != 1 || len(changes) != 1 {
			t.Errorf("after it: answered %v, watchers told %d", answered, len(changes))
		}
	})
}

func TestCommandsThatQueueShareTheNextAppend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j gate
		r := openTable(t, &j, planOf(24, triangles(1)), 24)
		defer r.Close()
		j.hold()
		for seat := 1; seat <= 24; seat++ {
			go func() {
				if _, err := r.Do(t.Context(), pick(r, seat, 0, uint64(seat))); err != nil {
					t.Errorf("seat %d: %v", seat, err)
				}
			}()
			synctest.Wait() // the first is in its append by now
		}
		j.leave <- struct{}{}
		j.leave <- struct{}{}
		synctest.Wait()
		if got := j.appends(); !slices.Equal(got, []int{1, 23}) {
			t.Errorf("appends of %v entries, want 1 and 23", got)
		}
		for seat := range r.State().Seats {
			if r.State().Seats[seat].Answered() != 1 {
				t.Errorf("seat %d is not answered", seat+1)
			}
		}
		j.mu.Lock()
		j.leave = nil
		j.mu.Unlock()
		sameAsReplay(t, r, &j)
	})
}

func TestFailedAppendTellsAllAndChangesNothing(t *testing.T) {
	for _, written := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			disk := errors.New("disk full")
			var j gate
			r := openTable(t, &j, planOf(6, triangles(1)), 6)
			defer r.Close()
			j.hold()
			first := make(chan error, 1)
			go func() {
				_, err := r.Do(t.Context(), pick(r, 1, 0, 1))
				first <- err
			}()
			synctest.Wait()
			errs := make(chan error, 4)
			for seat := 2; seat <= 5; seat++ {
				go func() {
					c := pick(r, seat, 0, uint64(seat))
					if seat == 5 {
						c.Act = Lock{Seat: 5, Set: 1, Pick: 609} // refused by rule, but the batch fails
					}
					_, err := r.Do(t.Context(), c)
					errs <- err
				}()
			}
			synctest.Wait()
			j.mu.Lock()
			j.after = written
			j.fail = func(n int, _ context.Context) error {
				if n == 2 {
					return disk
				}
				return nil
			}
			j.mu.Unlock()
			j.leave <- struct{}{}
			if err := <-first; err != nil {
				t.Errorf("the batch before: %v", err)
			}
			synctest.Wait()
			before := r.State()
			copied := before.Clone()
			changes, stop := r.Watch()
			defer stop()
			close(j.leave)
			for range 4 {
				if err := <-errs; !errors.Is(err, ErrJournal) || !errors.Is(err, disk) {
					t.Errorf("in a failed batch: %v, want ErrJournal and its cause", err)
				}
			}
			synctest.Wait()
			if r.State() != before || !reflect.DeepEqual(before, copied) || len(changes) != 0 {
				t.Error("a failed append changed what is published")
			}
			// The next command replays, and works; the phones send again.
			loads := j.loads
			for seat := 2; seat <= 4; seat++ {
				if rec := mustDo(t, r, pick(r, seat, 0, uint64(seat))); len(rec) != 1 {
					t.Errorf("sent again: %d events", len(rec))
				}
			}
			if j.loads != loads+1 {
				t.Errorf("the journal was read %d times after the failure, want once", j.loads-loads)
			}
			for seat := range 4 {
				if r.State().Seats[seat].Answered() != 1 {
					t.Errorf("written %v: seat %d is not answered", written, seat+1)
				}
			}
			locks := 0
			for _, step := range r.State().Trail {
				if step.Event.Kind() == "locked" {
					locks++
				}
			}
			if locks != 4 {
				t.Errorf("written %v: %d answers in the journal, want 4", written, locks)
			}
			sameAsReplay(t, r, &j)
		})
	}
}

func TestJournalThatStaysBroken(t *testing.T) {
	var j gate
	r := openTable(t, &j, planOf(6, triangles(1)), 6)
	defer r.Close()
	disk := errors.New("disk gone")
	j.failing(func(int, context.Context) error { return disk })
	for range 3 {
		if _, err := r.Do(t.Context(), pick(r, 1, 0, 1)); !errors.Is(err, ErrJournal) || !errors.Is(err, disk) {
			t.Fatalf("%v", err)
		}
	}
	j.failing(nil)
	mustDo(t, r, pick(r, 1, 0, 1))
	sameAsReplay(t, r, &j)
}

func TestTwoAnswersToOneSetInOneBatch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j gate
		r := openTable(t, &j, planOf(6, triangles(1)), 6)
		defer r.Close()
		j.hold()
		send := func(c Command) *reply {
			var a reply
			go func() { a.recorded, a.err = r.Do(t.Context(), c) }()
			synctest.Wait()
			return &a
		}
		send(pick(r, 1, 0, 1)) // goes into an append of its own
		first := send(pick(r, 2, 0, 2))
		other := send(pick(r, 2, 1, 3))
		twice := send(pick(r, 2, 0, 2))
		again := send(pick(r, 2, 0, 4))
		j.leave <- struct{}{}
		j.leave <- struct{}{}
		synctest.Wait()
		if first.err != nil || len(first.recorded) != 1 {
			t.Errorf("the first answer: %+v", first)
		}
		if !errors.Is(other.err, ErrAnswered) {
			t.Errorf("another answer in the same batch: %v", other.err)
		}
		if twice.err != nil || !reflect.DeepEqual(twice.recorded, first.recorded) {
			t.Errorf("the same id in the same batch: %+v, first %+v", twice, first)
		}
		if again.err != nil || len(again.recorded) != 0 {
			t.Errorf("the same answer under another id: %+v", again)
		}
		if got := j.appends(); !slices.Equal(got, []int{1, 1}) {
			t.Errorf("appends of %v entries", got)
		}
	})
}

func TestSameIDGetsTheFirstOutcome(t *testing.T) {
	var j gate
	r := openTable(t, &j, planOf(6, triangles(2)), 6)
	c := pick(r, 1, 0, 1)
	first := mustDo(t, r, c)
	mustDo(t, r, Command{At: noon, Actor: Host, Act: Close{}})
	for range 2 {
		c.At = c.At.Add(time.Hour)
		if again := mustDo(t, r, c); !reflect.DeepEqual(again, first) {
			t.Errorf("sent again: %+v, first %+v", again, first)
		}
		// The same after a restart, when the phase would refuse it.
		r.Close()
		r = openRoom(t, &j)
	}
	defer r.Close()
	// What was refused leaves nothing, and is decided anew.
	c = pick(r, 2, 0, 7)
	for range 2 {
		if _, err := r.Do(t.Context(), c); !errors.Is(err, ErrPhase) {
			t.Errorf("%v", err)
		}
	}
	// Without an id, nothing is remembered.
	if got := r.State().Outcome(Command{Actor: Host}); got != nil {
		t.Errorf("the zero id has the outcome %v", got)
	}
}

func TestFiveHundredLocks(t *testing.T) {
	var j gate
	r := openTable(t, &j, planOf(100, triangles(1)), 100)
	defer r.Close()
	var phones sync.WaitGroup
	for seat := 1; seat <= 100; seat++ {
		for try := range 5 {
			// Three with one id, as a phone resends; two as after a reload.
			id := uint64(seat)
			if try > 2 {
				id = uint64(1000*try + seat)
			}
			c := pick(r, seat, seat%3, id)
			phones.Go(func() {
				if _, err := r.Do(t.Context(), c); err != nil {
					t.Errorf("seat %d: %v", seat, err)
				}
			})
		}
	}
	phones.Wait()
	locks := map[int]int{}
	for _, step := range r.State().Trail {
		if e, ok := step.Event.(*Locked); ok {
			locks[e.Seat]++
		}
	}
	for seat := 1; seat <= 100; seat++ {
		if locks[seat] != 1 {
			t.Errorf("seat %d has %d answers", seat, locks[seat])
		}
	}
	sameAsReplay(t, r, &j)
	entries, _, _ := j.Load(t.Context(), roomID)
	if err := CheckChain(entries); err != nil {
		t.Error(err)
	}
}

func TestWatch(t *testing.T) {
	var j gate
	r := openTable(t, &j, planOf(6, triangles(1)), 6)
	defer r.Close()
	a, stopA := r.Watch()
	b, stopB := r.Watch()
	defer stopB()
	for seat := 1; seat <= 3; seat++ {
		mustDo(t, r, pick(r, seat, 0, 0)) // nobody reads a: this must not block
	}
	if len(a) != 1 || len(b) != 1 {
		t.Errorf("watchers were told %d and %d times, want once for all", len(a), len(b))
	}
	<-a
	<-b
	if _, err := r.Do(t.Context(), pick(r, 1, 1, 0)); !errors.Is(err, ErrAnswered) {
		t.Fatal(err)
	}
	mustDo(t, r, pick(r, 1, 0, 0)) // changes nothing
	if len(a) != 0 {
		t.Error("watchers were told of nothing")
	}
	stopA()
	stopA()
	mustDo(t, r, pick(r, 4, 0, 0))
	if len(a) != 0 || len(b) != 1 {
		t.Errorf("after stop: told %d and %d times", len(a), len(b))
	}
}

func TestCloseWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j gate
		r := openTable(t, &j, planOf(6, triangles(1)), 6)
		j.hold()
		inHand := make(chan error, 1)
		go func() {
			_, err := r.Do(t.Context(), pick(r, 1, 0, 1))
			inHand <- err
		}()
		synctest.Wait()
		closed := false
		go func() {
			r.Close()
			closed = true
		}()
		synctest.Wait()
		if closed {
			t.Error("Close did not wait for the append")
		}
		close(j.leave)
		synctest.Wait()
		if err := <-inHand; err != nil {
			t.Errorf("the batch in hand: %v", err)
		}
		if !closed {
			t.Error("Close still waits")
		}
		select {
		case <-r.Done():
		default:
			t.Error("Done is not closed")
		}
		for range 50 { // both ways of hearing of it
			if _, err := r.Do(t.Context(), pick(r, 2, 0, 2)); !errors.Is(err, ErrClosedRoom) {
				t.Fatalf("Do after Close: %v", err)
			}
		}
		r.Close()
		if r.State().Seats[0].Answered() != 1 {
			t.Error("the batch in hand is lost")
		}
	})
}

// Close ends the Room after the batch in hand: a journal that heeds its context
// must not see it cancelled half-way.
func TestCloseLeavesTheAppendAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j gate
		r := openTable(t, &j, planOf(6, triangles(1)), 6)
		j.hold()
		j.failing(func(_ int, ctx context.Context) error { return ctx.Err() })
		inHand := make(chan error, 1)
		go func() {
			_, err := r.Do(t.Context(), pick(r, 1, 0, 1))
			inHand <- err
		}()
		synctest.Wait()
		go r.Close()
		synctest.Wait()
		close(j.leave)
		if err := <-inHand; err != nil {
			t.Errorf("the batch in hand: %v", err)
		}
		<-r.Done()
	})
}

func TestDoGivesUpWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var j gate
		r := openTable(t, &j, planOf(6, triangles(1)), 6)
		j.hold()
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if _, err := r.Do(ctx, pick(r, 1, 0, 1)); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v", err)
		}
		close(j.leave)
		r.Close()
		if r.State().Seats[0].Answered() != 1 {
			t.Error("the answer that was on its way is lost")
		}
	})
}

// The Room outlives the context that it was opened with.
func TestRoomOutlivesItsOpening(t *testing.T) {
	var j gate
	ctx, cancel := context.WithCancel(t.Context())
	r, err := OpenRoom(ctx, &j, roomID)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	cancel()
	mustDo(t, r, Command{At: noon, Actor: Host, Act: Draft{Plan: planOf(6, triangles(1))}})
}

func TestPublishedStatesAreNeverChanged(t *testing.T) {
	g := newGame(t)
	var j gate
	r := openRoom(t, &j)
	defer r.Close()
	states := []*State{r.State()}
	do := func(a Act) {
		t.Helper()
		g.now = g.now.Add(time.Second)
		mustDo(t, r, Command{At: g.now, Actor: Host, ID: cmdID(uint64(len(states))), Act: a})
		states = append(states, r.State())
	}
	p := planOf(6, triangles(2))
	do(Draft{Plan: p})
	do(SetPin{testPin})
	do(SealPlan{sealing(t, p, 5)})
	do(OpenLobby{})
	for n := 1; n <= 4; n++ {
		do(sit(0, n))
	}
	do(FreeSeat{4})
	do(MoveSeat{2})
	do(Sit{Seat: 2, Token: phone(9)})
	do(FreezeList{})
	do(OpenPourSheet{Pin: "0000"})
	do(OpenPourSheet{Pin: "0001"})
	do(OpenPourSheet{Pin: "4711"})
	do(Open{releases()})
	do(Serve{Round: 1})
	do(Lock{Seat: 1, Set: 1, Pick: r.State().Codes(1, 1, 0)[0]})
	do(Void{Seat: 1, Set: 1, Reason: text("spilt"), Replace: true})
	do(Lock{Seat: 1, Set: 1, Take: 1, Pick: r.State().Codes(1, 1, 1)[0]})
	do(Pause{})
	do(Resume{})
	do(LeaveSeat{3, text("ill")})
	do(Serve{Round: 2})
	do(Lock{Seat: 2, Set: 1, Pick: r.State().Codes(2, 1, 0)[0]})
	do(Close{})
	do(Reveal{})
	entries, beside, err := j.Load(t.Context(), roomID)
	if err != nil {
		t.Fatal(err)
	}
	for i, old := range states {
		s := NewState(roomID)
		for _, e := range entries[:old.Seq] {
			rec, err := e.Record(beside)
			if err != nil {
				t.Fatal(err)
			}
			s.Apply(rec)
		}
		if !reflect.DeepEqual(s, old) {
			t.Errorf("state %d, at entry %d, is no longer what its entries say", i, old.Seq)
		}
	}
}
