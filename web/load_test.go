package web

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"
)

// TestReconnectStorm: many lines of the same few phones, dropped and opened
// anew without order. At the end every seat has its phone and is in touch.
func TestReconnectStorm(t *testing.T) {
	const seats, each = 8, 25
	before, _ := ours()
	b := newBench(t, testPlan(seats, 1), drawn(t, zeros{}))
	for seat := 1; seat <= seats; seat++ {
		b.sat(seat, seat).Close()
	}
	b.serveFirst()
	var storm sync.WaitGroup
	errs := make(chan error, seats*2)
	for n := range seats * 2 {
		seat := n/2 + 1
		door := b.room.State().PlaceDoor(seat)
		storm.Go(func() {
			chance := rand.New(rand.NewPCG(1, uint64(n)))
			for range each {
				ws, err := b.try()
				if err != nil {
					errs <- err
					return
				}
				ws.WriteMessage(websocket.TextMessage, []byte(helloFrame(door, phoneToken(seat))))
				if chance.IntN(2) == 0 {
					ws.SetReadDeadline(time.Now().Add(10 * time.Second))
					if _, f, err := ws.ReadMessage(); err != nil || !strings.Contains(string(f), fmt.Sprintf(`"seat":%d`, seat)) && !strings.Contains(string(f), "moved") {
						errs <- fmt.Errorf("seat %d sees %s: %v", seat, f, err)
					}
				}
				ws.Close()
			}
		})
	}
	storm.Wait()
	select {
	case err := <-errs:
		t.Fatal(err)
	default:
	}
	presence, id := b.server.consoleSide.Presence, b.room.State().ID
	var last []*websocket.Conn
	for seat := 1; seat <= seats; seat++ {
		ws := hello(b, b.room.State().PlaceDoor(seat), phoneToken(seat))
		if v := read(t, ws); !strings.Contains(v, fmt.Sprintf(`"step":"set","seat":%d`, seat)) {
			t.Errorf("seat %d sees %s", seat, v)
		}
		last = append(last, ws)
	}
	for i, ws := range last {
		say(b, ws, `{"t":"beat"}`)
		until(b, ws, "beat")
		if !presence.Seat(id, i+1).InTouch {
			t.Errorf("seat %d answers and is shown as away", i+1)
		}
		ws.Close()
	}
	b.server.Close()
	b.rooms.Close()
	b.settleGoroutines(before)
	for seat := 1; seat <= seats; seat++ {
		if presence.Seat(id, seat).InTouch {
			t.Errorf("seat %d has no phone and is shown as in touch", seat)
		}
	}
}

// settleGoroutines fails if more of our goroutines go on than there were.
func (b *bench) settleGoroutines(before int) {
	b.t.Helper()
	n, stacks := ours()
	for end := time.Now().Add(5 * time.Second); n > before && time.Now().Before(end); n, stacks = ours() {
		time.Sleep(5 * time.Millisecond)
	}
	if n > before {
		b.t.Errorf("%d of our goroutines go on:\n%s", n-before, stacks)
	}
}

// TestClose: with phones at the table, at the door, flooding and silent, and
// with live pages of the console open, everything ends within seconds and
// leaves no goroutine.
func TestClose(t *testing.T) {
	before, _ := ours()
	b := newBench(t, testPlan(4, 1), drawn(t, zeros{}))
	for seat := 1; seat <= 3; seat++ {
		b.sat(seat, seat)
	}
	b.dial() // never says hello
	hello(b, b.room.State().Door(), phoneToken(9))
	flood := hello(b, b.room.State().Door(), phoneToken(10))
	for range 2000 {
		say(b, flood, `{"t":"beat"}`)
	}
	var live []*websocket.Conn
	for _, page := range []string{"lobby", "board", "reveal"} {
		live = append(live, b.live(page))
	}
	begun := time.Now()
	b.server.Close()
	if _, stacks := ours(); strings.Contains(stacks, "taster.(*line).serve(") || strings.Contains(stacks, "taster.(*line).write(") {
		t.Errorf("a phone's line is served after Close:\n%s", stacks)
	}
	b.rooms.Close()
	if took := time.Since(begun); took > 3*time.Second {
		t.Errorf("closing took %v", took)
	}
	for _, ws := range live {
		ws.SetReadDeadline(time.Now().Add(5 * time.Second))
		for {
			_, _, err := ws.ReadMessage()
			if wait, ok := errors.AsType[net.Error](err); ok && wait.Timeout() {
				t.Error("a live page of the console does not end")
			}
			if err != nil {
				break
			}
		}
	}
	b.settleGoroutines(before)
	if late, err := b.try(); err == nil { // the upgrade succeeds; the line must end at once
		defer late.Close()
		late.SetReadDeadline(time.Now().Add(5 * time.Second))
		_, f, err := late.ReadMessage()
		if wait, ok := errors.AsType[net.Error](err); err == nil || ok && wait.Timeout() {
			t.Errorf("a line opened after the close stays and hears %q", f)
		}
	}
}

// live opens a live page of the console.
func (b *bench) live(page string) *websocket.Conn {
	b.t.Helper()
	address := "ws" + strings.TrimPrefix(b.console.URL, "http") + "/s/" + string(b.room.State().ID) + "/live?page=" + page
	ws, _, err := websocket.DefaultDialer.Dial(address, http.Header{"Origin": {b.console.URL}})
	if err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(func() { ws.Close() })
	return ws
}

// TestFlood: a phone that sends 10,000 frames at once is held up, and so are
// its pings; others are served meanwhile, and nothing is journalled.
func TestFlood(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	good, wild := b.sat(1, 1), b.sat(2, 2)
	pings := hello(b, b.room.State().Door(), phoneToken(3))
	read(t, pings)
	b.serveFirst()
	until(b, good, `"step":"set"`)
	seq := b.room.State().Seq
	var beats, pongs, cut atomic.Int64
	pings.SetPongHandler(func(string) error { pongs.Add(1); return nil })
	for ws, n := range map[*websocket.Conn]*atomic.Int64{wild: &beats, pings: nil} {
		go func() {
			for {
				ws.SetReadDeadline(time.Now().Add(20 * time.Second))
				_, f, err := ws.ReadMessage()
				if err != nil {
					cut.Add(1)
					return
				}
				if n != nil && strings.Contains(string(f), "beat") {
					n.Add(1)
				}
			}
		}()
	}
	begun := time.Now()
	go func() {
		for range 10_000 {
			if wild.WriteMessage(websocket.TextMessage, []byte(`{"t":"beat"}`)) != nil {
				return
			}
		}
	}()
	go func() {
		for range 10_000 {
			if pings.WriteControl(websocket.PingMessage, []byte("x"), time.Now().Add(10*time.Second)) != nil {
				return
			}
		}
	}()
	for beats.Load() == 0 || pongs.Load() == 0 {
		if time.Since(begun) > 10*time.Second {
			t.Fatalf("%d beats, %d pongs", beats.Load(), pongs.Load())
		}
		time.Sleep(time.Millisecond)
	}
	pick := b.room.State().Codes(1, 1, 0)[0]
	say(b, good, lockFrame(1, 1, 0, pick))
	until(b, good, `"t":"kept"`)
	time.Sleep(300 * time.Millisecond)
	// 60 at once and 20 a second, as package taster says, and some slack.
	most := int64(60 + 20*(time.Since(begun).Seconds()+1))
	if n := beats.Load(); n > most {
		t.Errorf("%d beats were answered within %v", n, time.Since(begun))
	}
	if n := pongs.Load(); n > most {
		t.Errorf("%d pings were answered within %v", n, time.Since(begun))
	}
	if cut.Load() > 0 {
		t.Error("a phone that reads its answers is cut off and not held up")
	}
	if now := b.room.State().Seq; now != seq+1 {
		t.Errorf("the journal went from %d to %d entries for one answer", seq, now)
	}
}

// TestSilentSockets opens 500 lines that never say hello, and one that says half
// of it. All are closed when the time is over, nothing is logged, and what they
// hold is little.
func TestSilentSockets(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for the time limit of hello")
	}
	t.Parallel()
	const lines = 500
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	var logged bytes.Buffer
	b.server.tasterSide.Log = slog.New(slog.NewTextHandler(&lockedWriter{w: &logged}, nil))
	var before, during runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	begun := time.Now()
	var open []*websocket.Conn
	for range lines {
		open = append(open, b.dial())
	}
	half := b.dial()
	if _, err := half.NetConn().Write([]byte{0x81, 0xfe, 0x01, 0x00, 1, 2, 3, 4, 'x'}); err != nil {
		t.Fatal(err)
	}
	open = append(open, half)
	runtime.GC()
	runtime.ReadMemStats(&during)
	if held := int64(during.HeapAlloc) - int64(before.HeapAlloc); held > lines*64<<10 {
		t.Errorf("%d silent lines, both ends, hold %d kB", lines, held>>10)
	}
	good := hello(b, b.room.State().Door(), phoneToken(1))
	if v := read(t, good); !strings.Contains(v, `"step":"door"`) {
		t.Errorf("among silent lines a phone sees %s", v)
	}
	for i, ws := range open {
		ws.SetReadDeadline(begun.Add(30 * time.Second))
		if _, f, err := ws.ReadMessage(); err == nil {
			t.Errorf("silent line %d hears %s", i, f)
		}
	}
	if took := time.Since(begun); took < 9*time.Second || took > 25*time.Second {
		t.Errorf("the silent lines were closed after %v, 10 s is the limit", took)
	}
	say(b, good, `{"t":"beat"}`)
	until(b, good, "beat")
	b.server.Close()
	if logged.Len() > 0 {
		t.Errorf("silent lines fill the log: %.300s", logged.String())
	}
}

// TestSlowReaders: a phone that never reads, and a live page of the console that
// never reads, are cut off; everybody else is served meanwhile.
func TestSlowReaders(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for the time limit of a write")
	}
	t.Parallel()
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	good := b.sat(1, 1)
	slow := newPipe(b.server.Tasters)
	deaf, _, err := (&websocket.Dialer{NetDial: slow.dial}).Dial("ws://127.0.0.1/ws", http.Header{"Origin": {"http://127.0.0.1"}})
	if err != nil {
		t.Fatal(err)
	}
	pages := newPipe(b.server.Console)
	blind, _, err := (&websocket.Dialer{NetDial: pages.dial}).Dial("ws://127.0.0.1/s/"+string(b.room.State().ID)+"/live?page=lobby", http.Header{"Origin": {"http://127.0.0.1"}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { slow.close(); pages.close(); deaf.Close(); blind.Close() })
	begun := time.Now()
	if err := deaf.WriteMessage(websocket.TextMessage, []byte(helloFrame(b.room.State().PlaceDoor(2), phoneToken(2)))); err != nil {
		t.Fatal(err)
	}
	// Nothing of what follows is read by either.
	b.serveFirst()
	until(b, good, `"step":"set"`)
	say(b, good, lockFrame(1, 1, 0, b.room.State().Codes(1, 1, 0)[0]))
	until(b, good, `"t":"kept"`)
	if took := time.Since(begun); took > 5*time.Second {
		t.Errorf("beside slow readers an answer was kept after %v", took)
	}
	for name, p := range map[string]*pipe{"phone": slow, "live page": pages} {
		select {
		case <-p.ended:
		case <-time.After(30 * time.Second):
			t.Errorf("the %s that never reads is not cut off", name)
		}
	}
	say(b, good, `{"t":"beat"}`)
	until(b, good, "beat")
}

// pipe is a listener of connections that hold nothing back: what the server
// writes waits until it is read.
type pipe struct {
	conns  chan net.Conn
	ended  chan struct{} // closed when the server has closed a connection
	once   sync.Once
	server *http.Server
}

func newPipe(handler http.Handler) *pipe {
	p := &pipe{conns: make(chan net.Conn, 1), ended: make(chan struct{}), server: &http.Server{Handler: handler}}
	go p.server.Serve(p)
	return p
}

func (p *pipe) dial(string, string) (net.Conn, error) {
	near, far := net.Pipe()
	p.conns <- pipeEnd{far, p}
	return near, nil
}

func (p *pipe) close() { p.server.Close() }

func (p *pipe) Accept() (net.Conn, error) {
	c, ok := <-p.conns
	if !ok {
		return nil, net.ErrClosed
	}
	return c, nil
}

func (p *pipe) Close() error   { close(p.conns); return nil }
func (p *pipe) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)} }

type pipeEnd struct {
	net.Conn
	p *pipe
}

func (e pipeEnd) Close() error {
	e.p.once.Do(func() { close(e.p.ended) })
	return e.Conn.Close()
}
