package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	mrand "math/rand/v2"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
	"oddcup/store"
)

const (
	crashes    = 50 // kills at a random moment under load
	crashSeats = 40
)

// crashPhone is a phone that keeps what it was not told of, as the real one does.
type crashPhone struct {
	seat  int
	token [16]byte
	door  string

	locks map[int]crashLock // by set
	kept  map[int]bool      // sets whose lock was acknowledged
}

type crashLock struct {
	id   string
	pick session.Code
}

// TestCrash kills the program under load at random moments. After each kill the
// file must check, every acknowledged answer must be there once, as it was
// sent, and the session must go on where it was.
func TestCrash(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills a hundred processes")
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := mrand.New(mrand.NewPCG(seed, 1))
	file := filepath.Join(t.TempDir(), "crash.oddcup")
	serve := []string{"--data", file, "--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0"}
	kills, acked, unsaid := 0, 0, 0
	// Half of the kills come at a random moment of a round, half when a random
	// number of phones has heard; neither supposes how fast the machine is.
	calm := 12 * time.Millisecond // how long the last round without a kill took
	for n := 0; kills < crashes; n++ {
		id, phones := crashSession(t, file, n)
		for set := 1; set <= 2 && kills < crashes; set++ {
			c := startServe(t, serve...)
			if set > 1 {
				serveRound(t, c, id, set)
			}
			k := &kill{after: time.Duration(chance.Int64N(int64(calm)))}
			if kills%2 == 1 {
				k = &kill{heard: 1 + chance.IntN(crashSeats-1), after: time.Duration(chance.Int64N(int64(time.Millisecond)))}
			}
			play(t, c, phones, set, k)
			kills++
			state := readSession(t, file, id)
			for _, p := range phones {
				a := state.Seats[p.seat-1].Sets[set-1].Kept()
				switch {
				case p.kept[set]:
					acked++
					if a == nil || a.Pick != p.locks[set].pick || a.Command.String() != p.locks[set].id {
						t.Fatalf("kill %d: seat %d, set %d was told that its answer is kept, and the file has %+v", kills, p.seat, set, a)
					}
				case a != nil:
					unsaid++ // on disk, the phone had not heard yet
				}
			}
			// The same phones come back and send what they have not heard of.
			c = startServe(t, serve...)
			calm = play(t, c, phones, set, nil)
			c.kill()
			state = readSession(t, file, id)
			locked := 0
			for _, step := range state.Trail {
				if e, ok := step.Event.(*session.Locked); ok && e.Set == set {
					locked++
				}
			}
			if locked != crashSeats {
				t.Fatalf("kill %d: set %d has %d answers of %d seats", kills, set, locked, crashSeats)
			}
		}
	}
	t.Logf("%d kills: %d answers acknowledged before one, %d on disk but not yet acknowledged", kills, acked, unsaid)
	if acked == 0 {
		t.Error("no answer was ever acknowledged before a kill: the kills come too early to show anything")
	}
	if unsaid+acked == kills*crashSeats {
		t.Error("every answer was on disk before every kill: the kills come too late to show anything")
	}
}

// crashSession writes a session with its first set served straight into the file.
func crashSession(t *testing.T, file string, n int) (session.ID, []*crashPhone) {
	t.Helper()
	db, err := store.Open(file, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	id := session.ID(fmt.Sprintf("crash-%03d", n))
	room, err := session.OpenRoom(t.Context(), db, id)
	if err != nil {
		t.Fatal(err)
	}
	defer room.Close()
	p := session.UsualPlan()
	p.Title, p.Seats = "Crash (invented)", crashSeats
	p.Untreated = session.Lot{ID: "lot-1", Number: "C-1", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "C-2", Treatment: "water"}
	sealing, err := session.Seal(p, rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	pin, err := session.NewPin(demoPin, rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	name, err := session.NewText("invented", rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	acts := []session.Act{session.Draft{Plan: p, Demo: true}, session.SetPin{Pin: pin}, session.SealPlan{Sealing: sealing}, session.OpenLobby{}}
	var phones []*crashPhone
	for seat := 1; seat <= crashSeats; seat++ {
		phone := &crashPhone{seat: seat, door: sealing.Layout.Places[seat-1], locks: map[int]crashLock{}, kept: map[int]bool{}}
		rand.Read(phone.token[:])
		phones = append(phones, phone)
		acts = append(acts, session.Sit{Seat: seat, Name: name, Token: session.HashToken(phone.token[:])})
	}
	acts = append(acts, session.FreezeList{}, session.Open{Releases: []session.Release{{Lot: "lot-1", By: name}, {Lot: "lot-2", By: name}}}, session.Serve{Round: 1})
	for _, act := range acts {
		if _, err := room.Do(t.Context(), session.Command{At: time.Now(), Actor: session.Host, Act: act}); err != nil {
			t.Fatalf("%T: %v", act, err)
		}
	}
	return id, phones
}

// readSession checks the whole file and reads one session from it.
func readSession(t testing.TB, file string, id session.ID) *session.State {
	t.Helper()
	db, err := store.Open(file, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(context.Background()); err != nil {
		t.Fatal(err)
	}
	room, err := session.OpenRoom(context.Background(), db, id)
	if err != nil {
		t.Fatal(err)
	}
	defer room.Close()
	return room.State()
}

func serveRound(t *testing.T, c *child, id session.ID, round int) {
	t.Helper()
	form := url.Values{"round": {fmt.Sprint(round)}}
	req, err := http.NewRequest("POST", c.console+"/s/"+string(id)+"/serve", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", c.console)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("serving set %d: %s", round, resp.Status)
	}
}

// kill is a moment of a round: so many phones have heard that their answer is
// kept (0: from the start), and then some time.
type kill struct {
	heard int
	after time.Duration
}

// play lets all phones lock a set at once. With a kill the child is killed at
// that moment; without, play returns when all are kept. It gives how long the
// round took from its start.
func play(t *testing.T, c *child, phones []*crashPhone, set int, k *kill) time.Duration {
	t.Helper()
	heard := make(chan struct{}, len(phones))
	var wg sync.WaitGroup
	start := make(chan struct{})
	ready := make(chan struct{}, len(phones))
	errs := make(chan error, len(phones))
	for _, p := range phones {
		wg.Go(func() {
			if err := p.lock(c, set, ready, start, heard); err != nil {
				errs <- fmt.Errorf("seat %d: %w", p.seat, err)
			}
		})
	}
	for range phones {
		<-ready
	}
	began := time.Now()
	close(start)
	if k != nil {
		for range k.heard {
			select {
			case <-heard:
			case <-time.After(20 * time.Second):
				t.Fatal("no phone heard of its answer within 20 s")
			}
		}
		time.Sleep(k.after)
		c.kill()
	}
	wg.Wait()
	took := time.Since(began)
	select {
	case err := <-errs:
		if k == nil {
			t.Fatal(err)
		}
	default:
	}
	return took
}

// lock connects, waits for start, sends the lock unless it is kept already, and
// reads until it is, which it tells heard.
func (p *crashPhone) lock(c *child, set int, ready chan<- struct{}, start <-chan struct{}, heard chan<- struct{}) error {
	ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(c.join, "http")+"/ws", http.Header{"Origin": {c.join}})
	if err != nil {
		ready <- struct{}{}
		return err
	}
	defer ws.Close()
	err = ws.WriteJSON(map[string]any{"t": "hello", "v": 1, "door": p.door, "token": hex.EncodeToString(p.token[:])})
	var v crashView
	if err == nil {
		ws.SetReadDeadline(time.Now().Add(20 * time.Second))
		err = ws.ReadJSON(&v)
	}
	ready <- struct{}{}
	if err != nil {
		return err
	}
	if v.Seat != p.seat {
		return fmt.Errorf("came back to seat %d: %+v", v.Seat, v)
	}
	<-start
	if v.has(set) {
		p.kept[set] = true
		heard <- struct{}{}
		return nil
	}
	if _, ok := p.locks[set]; !ok {
		if v.Front == nil || v.Front.N != set {
			return fmt.Errorf("set %d is not in front: %+v", set, v)
		}
		var id [16]byte
		rand.Read(id[:])
		p.locks[set] = crashLock{hex.EncodeToString(id[:]), v.Front.Codes[p.seat%len(v.Front.Codes)]}
	}
	l := p.locks[set]
	if err := ws.WriteJSON(map[string]any{"t": "lock", "id": l.id, "set": set, "take": 0, "pick": l.pick, "guess": false, "at": time.Now()}); err != nil {
		return err
	}
	for {
		var v struct{ T, ID, Say string }
		if err := ws.ReadJSON(&v); err != nil {
			return err
		}
		switch {
		case v.T == "refused":
			return fmt.Errorf("refused: %s", v.Say)
		case v.T == "kept" && v.ID == l.id:
			p.kept[set] = true
			heard <- struct{}{}
			return nil
		}
	}
}

type crashView struct {
	Seat  int `json:"seat"`
	Front *struct {
		N     int            `json:"n"`
		Codes []session.Code `json:"codes"`
	} `json:"front"`
	Kept json.RawMessage `json:"kept"`
}

func (v crashView) has(set int) bool {
	var kept []struct{ Set int }
	if json.Unmarshal(v.Kept, &kept) != nil {
		return false
	}
	for _, k := range kept {
		if k.Set == set {
			return true
		}
	}
	return false
}
