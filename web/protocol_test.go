package web

import (
	"bytes"
	"context"
	"fmt"
	"go/parser"
	"go/token"
	"io"
	"log/slog"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
	"oddcup/web/guard"
)

// bench is a server over memory, with a fixed clock and chance, and one session.
type bench struct {
	t       testing.TB
	rooms   *session.Rooms
	room    *session.Room[*session.State]
	server  *Server
	tasters *httptest.Server
	console *httptest.Server
}

var fixedClock = time.Date(2026, 4, 14, 8, 42, 16, 0, time.UTC)

const testPin = "8031"

// zeros is chance that always gives the same byte.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 7
	}
	return len(p), nil
}

func testPlan(seats, triangles int) session.Plan {
	p := session.UsualPlan()
	p.Title = "Tuesday session"
	p.Untreated = session.Lot{ID: "lot-1", Number: "X-11", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "X-11", Treatment: "water"}
	p.Seats, p.Tests[0].Sets = seats, triangles
	p.Serving.OwnResult = true
	return p
}

// newBench drafts, seals and opens the lobby of a session.
func newBench(t testing.TB, p session.Plan, sealing func(session.Plan) session.Sealing) *bench {
	t.Helper()
	return newBenchOn(t, new(session.Memory), p, sealing)
}

func newBenchOn(t testing.TB, journal session.Journal, p session.Plan, sealing func(session.Plan) session.Sealing) *bench {
	t.Helper()
	ctx := context.Background()
	rooms, err := session.NewRooms(ctx, journal)
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{t: t, rooms: rooms}
	b.server = New(Config{
		Rooms: rooms, Now: func() time.Time { return fixedClock }, Chance: zeros{},
		Join:         "http://bench.test:7761",
		ConsoleNames: guard.Names{"127.0.0.1"}, TasterNames: guard.Names{"127.0.0.1"},
		Log: slog.New(slog.NewTextHandler(os.Stderr, nil)),
	})
	b.tasters = httptest.NewServer(b.server.Tasters)
	b.console = httptest.NewServer(b.server.Console)
	t.Cleanup(func() {
		b.server.Close()
		rooms.Close()
		b.tasters.Close()
		b.console.Close()
	})
	b.lab(session.NameLab{Name: "Lab of the Tall Window (invented)"})
	b.lab(session.EnterLot{Lot: p.Untreated})
	b.lab(session.EnterLot{Lot: p.Processed})
	by, err := session.NewText("Laboratory on duty (invented)", zeros{})
	if err != nil {
		t.Fatal(err)
	}
	b.lab(session.ReleaseLot{Lot: "lot-1", By: by, Report: "R-1"})
	b.lab(session.ReleaseLot{Lot: "lot-2", By: by, Report: "R-2"})
	if b.room, err = rooms.New(ctx, "20260414-084216-test"); err != nil {
		t.Fatal(err)
	}
	pin, err := session.NewPin(testPin, zeros{})
	if err != nil {
		t.Fatal(err)
	}
	b.do(session.Draft{Plan: p})
	b.do(session.SetPin{Pin: pin})
	b.do(session.SealPlan{Sealing: sealing(p)})
	b.do(session.OpenLobby{})
	return b
}

func drawn(t testing.TB, chance io.Reader) func(session.Plan) session.Sealing {
	return func(p session.Plan) session.Sealing {
		s, err := session.Seal(p, chance)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
}

func (b *bench) do(act session.Act) {
	b.t.Helper()
	if _, err := b.room.Do(context.Background(), session.Command{At: fixedClock, Actor: session.Host, Act: act}); err != nil {
		b.t.Fatalf("%T: %v", act, err)
	}
}

func (b *bench) lab(act session.Act) {
	b.t.Helper()
	if _, err := b.rooms.Lab().Do(context.Background(), session.Command{At: fixedClock, Actor: session.Host, Act: act}); err != nil {
		b.t.Fatalf("%T: %v", act, err)
	}
}

// hosts are the acts that a # line can name.
func (b *bench) hosts(line string) {
	b.t.Helper()
	releases := b.rooms.Lab().State().ReleasesOf("lot-1", "lot-2")
	acts := map[string]session.Act{
		"the host closes the list":       session.FreezeList{},
		"the host opens the tasting":     session.Open{Releases: releases},
		"the host serves the first set":  session.Serve{Round: 1},
		"the host serves the second set": session.Serve{Round: 2},
		"the host closes the session":    session.Close{},
		"the host reveals the key":       session.Reveal{},
	}
	act, ok := acts[line]
	if !ok {
		b.t.Fatalf("the exchange has the host do %q, which the test does not know", line)
	}
	b.do(act)
}

// dial opens a phone's line without saying hello.
func (b *bench) dial() *websocket.Conn {
	b.t.Helper()
	ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.tasters.URL, "http")+"/ws", map[string][]string{"Origin": {b.tasters.URL}})
	if err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(func() { ws.Close() })
	return ws
}

func read(t testing.TB, ws *websocket.Conn) string {
	t.Helper()
	ws.SetReadDeadline(time.Now().Add(5 * time.Second))
	_, frame, err := ws.ReadMessage()
	if err != nil {
		t.Fatalf("waiting for a frame: %v", err)
	}
	return string(frame)
}

// TestExchange runs the exchange of the package comment, to the byte.
func TestExchange(t *testing.T) {
	f, err := parser.ParseFile(token.NewFileSet(), "doc.go", nil, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	doc := f.Doc.Text()
	_, exchange, ok := strings.Cut(doc, "One whole exchange")
	if !ok {
		t.Fatal("the package comment has no exchange")
	}
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	// The second seat is taken, so that nothing of it shows in the first's frames.
	other := b.dial()
	other.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"hello","v":1,"door":%q,"token":"%s"}`, b.room.State().PlaceDoor(2), strings.Repeat("0f", 16)))
	read(t, other)
	other.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"sit","id":"%s","name":"Bo"}`, strings.Repeat("3", 32)))
	read(t, other)

	ws := b.dial()
	var got bytes.Buffer
	frames, hosts := 0, 0
	var due []string // frames that the exchange promises next, in any order
	settle := func() {
		t.Helper()
		var have []string
		for range due {
			have = append(have, read(t, ws))
		}
		if len(have) == 2 && have[0] == due[1] {
			slices.Reverse(have)
		}
		for i := range due {
			frames++
			fmt.Fprintln(&got, "<", have[i])
			if have[i] != due[i] {
				t.Errorf("frame %d:\n got %s\nwant %s", frames, have[i], due[i])
			}
		}
		due = nil
	}
	for _, line := range strings.Split(exchange, "\n") {
		line = strings.TrimPrefix(line, "\t")
		if strings.HasPrefix(line, "< ") {
			due = append(due, line[2:])
			continue
		}
		settle()
		switch {
		case strings.HasPrefix(line, "> "):
			if err := ws.WriteMessage(websocket.TextMessage, []byte(line[2:])); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintln(&got, line)
		case strings.HasPrefix(line, "# "):
			hosts++
			b.hosts(line[2:])
			fmt.Fprintln(&got, line)
		}
	}
	if frames < 8 || hosts < 4 {
		t.Errorf("the exchange has %d frames and %d acts of the host: not a whole one", frames, hosts)
	}
	if t.Failed() {
		t.Logf("the exchange as it ran:\n%s", &got)
	}
}
