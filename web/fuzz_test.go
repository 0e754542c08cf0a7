package web

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
)

// wildFrame is a frame of the protocol's fields with values that nobody sends.
func wildFrame(chance *rand.Rand) string {
	pick := func(all ...string) string { return all[chance.IntN(len(all))] }
	number := func() string {
		return pick("0", "1", "2", "3", "-1", "742", "PICK", "9223372036854775807", "-9223372036854775808", "1e3", "1.5", `"1"`, "null", "true", "[]")
	}
	var fields []string
	for _, f := range []string{"v", "set", "take", "code", "pick"} {
		if chance.IntN(3) > 0 {
			fields = append(fields, fmt.Sprintf("%q:%s", f, number()))
		}
	}
	for _, f := range []string{"id", "door", "token", "name", "why", "at"} {
		if chance.IntN(3) > 0 {
			fields = append(fields, fmt.Sprintf("%q:%s", f, pick(`""`, `"Iva"`, `"00112233445566778899aabbccddeeff"`, `"`+strings.Repeat("f", 32)+`"`,
				`"2026-04-14T08:42:15Z"`, `"0000-00-00T00:00:00Z"`, `"9999-12-31T23:59:59.999999999Z"`, `"\u0000\u202e"`, `"`+strings.Repeat("é", 300)+`"`, "7", "null", "{}")))
		}
	}
	if chance.IntN(3) > 0 {
		fields = append(fields, `"guess":`+pick("true", "false", "null", "1"))
	}
	fields = append(fields, `"t":`+pick(`"sit"`, `"lock"`, `"lock"`, `"lock"`, `"tray"`, `"call"`, `"uncall"`, `"beat"`, `"hello"`, `"view"`, `"kept"`, `"LOCK"`, "1", "null"))
	chance.Shuffle(len(fields), func(i, j int) { fields[i], fields[j] = fields[j], fields[i] })
	return "{" + strings.Join(fields, ",") + "}"
}

// FuzzLine sends frames over a whole line, one a line of the input, and holds
// the server to it: it goes on, refuses in sentences, and journals nothing but
// this phone's own answer.
func FuzzLine(f *testing.F) {
	for _, s := range []string{
		`{"t":"beat"}`,
		`{"t":"sit","id":"a0000000000000000000000000000001","name":"Iva"}` + "\n" + `{"t":"uncall"}`,
		"null\n[]\n{}\n\x00\n" + strings.Repeat("{", 5000),
		`{"t":"tray","set":-1,"take":99999999,"code":-5}` + "\n" + `{"t":"call","why":"` + strings.Repeat("x", 3000) + `"}`,
		`{"t":"lock","id":"a0000000000000000000000000000002","set":1,"take":0,"pick":PICK,"guess":true,"at":"2026-04-14T08:42:15Z"}`,
		`{"t":"lock","id":"a0000000000000000000000000000002","set":2,"take":7,"pick":1}`,
	} {
		f.Add(s)
	}
	chance := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		var frames []string
		for range 1 + chance.IntN(8) {
			frames = append(frames, wildFrame(chance))
		}
		f.Add(strings.Join(frames, "\n"))
	}
	b := newBench(f, testPlan(2, 1), drawn(f, zeros{}))
	b.sat(1, 1)
	b.sat(2, 2).Close()
	b.serveFirst()
	n := 0
	f.Fuzz(func(t *testing.T, input string) {
		b.fuzzed(t, input)
		if n++; n%20 == 1 {
			b.served(t)
		}
	})
}

// lastFrame is refused under its own id, which says that all before it is done.
const lastFrame = `{"t":"lock","id":"the end"}`

func (b *bench) fuzzed(t *testing.T, input string) {
	before := b.room.State()
	ws, err := b.try()
	if err != nil {
		t.Fatal(err)
	}
	defer ws.Close()
	frames := strings.Split(input, "\n")
	frames = slices.DeleteFunc(frames[:min(len(frames), 50)], func(s string) bool { // a flood and too long frames have tests of their own
		return len(s) > 1<<15 || strings.Contains(s, "the end")
	})
	frames = append([]string{helloFrame(before.PlaceDoor(2), phoneToken(2))}, append(frames, lastFrame)...)
	for _, frame := range frames {
		frame = strings.ReplaceAll(frame, "PICK", fmt.Sprint(before.Codes(2, 1, 0)[0]))
		if err := ws.WriteMessage(websocket.TextMessage, []byte(frame)); err != nil {
			t.Fatal(err)
		}
	}
	for {
		ws.SetReadDeadline(time.Now().Add(10 * time.Second))
		_, raw, err := ws.ReadMessage()
		if err != nil {
			t.Fatalf("the line ended: %v", err)
		}
		var f anyFrame
		if err := json.Unmarshal(raw, &f); err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		if f.T == "refused" && (len(f.Say) < 10 || len(f.Next) < 10 || f.Why == "host" || f.Final) {
			t.Errorf("refused with %s", raw)
		}
		if f.ID == "the end" {
			break
		}
	}
	b.onlyOwn(t, before)
}

// onlyOwn holds what was journalled since before to the one answer that seat 2
// may give.
func (b *bench) onlyOwn(t *testing.T, before *session.State) {
	t.Helper()
	now := b.room.State()
	for _, step := range now.Trail[len(before.Trail):] {
		e, ok := step.Event.(*session.Locked)
		if !ok || step.Actor != session.Taster(2) || e.Seat != 2 || e.Set != 1 || e.Take != 0 || !slices.Contains(now.Codes(2, 1, 0), e.Pick) {
			t.Errorf("journalled by %s: %s %+v", step.Actor, step.Event.Kind(), step.Event)
		}
	}
	if n := lockedBy(now); n[1] > 0 || n[2] > 1 {
		t.Errorf("answers by seat: %v", n)
	}
}

// served asks for a view as seat 1.
func (b *bench) served(t *testing.T) {
	t.Helper()
	ws, err := b.try()
	if err != nil {
		t.Fatal(err)
	}
	defer ws.Close()
	ws.SetReadDeadline(time.Now().Add(10 * time.Second))
	err = ws.WriteMessage(websocket.TextMessage, []byte(helloFrame(b.room.State().PlaceDoor(1), phoneToken(1))))
	if err != nil {
		t.Fatal(err)
	}
	if _, f, err := ws.ReadMessage(); err != nil || !strings.Contains(string(f), `"step":"set","seat":1`) {
		t.Fatalf("the other phone sees %s: %v", f, err)
	}
}
