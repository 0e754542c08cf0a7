package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
)

// refusal is what a phone is told.
type refusal struct {
	T, ID, Why, Say, Next string
	Final                 bool
}

func hello(b *bench, door, token string) *websocket.Conn {
	b.t.Helper()
	ws := b.dial()
	say(b, ws, fmt.Sprintf(`{"t":"hello","v":1,"door":%q,"token":%q}`, door, token))
	return ws
}

func say(b *bench, ws *websocket.Conn, frame string) {
	b.t.Helper()
	if err := ws.WriteMessage(websocket.TextMessage, []byte(frame)); err != nil {
		b.t.Fatal(err)
	}
}

// refused reads on until a refusal comes.
func refused(b *bench, ws *websocket.Conn) refusal {
	b.t.Helper()
	for {
		frame := read(b.t, ws)
		var r refusal
		if err := json.Unmarshal([]byte(frame), &r); err != nil {
			b.t.Fatalf("%s: %v", frame, err)
		}
		if r.T == "refused" {
			return r
		}
		if r.T == "kept" {
			b.t.Fatalf("kept, and a refusal was wanted: %s", frame)
		}
	}
}

func phoneToken(n int) string { return fmt.Sprintf("%032d", n) }
func frameID(n int) string    { return fmt.Sprintf("%032x", 0xabc000+n) }

// TestRefusedFrames sends a phone's bad frames. Each must get a plain sentence
// and a next step, leave the journal as it is, and other phones served.
func TestRefusedFrames(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	place := func(seat int) string { return b.room.State().PlaceDoor(seat) }
	// A phone that must go on being served throughout.
	good := hello(b, place(1), phoneToken(1))
	read(t, good)
	say(b, good, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Iva"}`, frameID(1)))
	read(t, good)
	second := hello(b, place(2), phoneToken(2))
	read(t, second)
	say(b, second, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Bo"}`, frameID(2)))
	read(t, second)

	check := func(name string, ws *websocket.Conn, why string, final bool) {
		t.Helper()
		seq := b.room.State().Seq
		r := refused(b, ws)
		if r.Why != why || r.Final != final {
			t.Errorf("%s: refused as %q, final %v; want %q, %v (%s)", name, r.Why, r.Final, why, final, r.Say)
		}
		plain(t, name, r.Say, r.Next)
		if now := b.room.State().Seq; now != seq {
			t.Errorf("%s: the journal went from %d to %d entries", name, seq, now)
		}
		say(b, good, `{"t":"beat"}`)
		for end := time.Now().Add(5 * time.Second); ; {
			if strings.Contains(read(t, good), `"beat"`) {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("%s: the other phone is served no more", name)
			}
		}
	}

	check("a wrong join code", hello(b, "ZZZZZZ", phoneToken(9)), "door", true)
	check("another version", func() *websocket.Conn {
		ws := b.dial()
		say(b, ws, fmt.Sprintf(`{"t":"hello","v":99,"door":%q,"token":%q}`, place(1), phoneToken(9)))
		return ws
	}(), "version", true)
	check("no hello", func() *websocket.Conn { ws := b.dial(); say(b, ws, `{"t":"beat"}`); return ws }(), "frame", true)
	check("a token that is none", hello(b, place(1), "12"), "frame", true)

	// A seat card's code typed for a name gives no seat, neither the next free one nor
	// that of the address.
	for i, name := range []string{place(2), strings.ToLower(place(2)), " " + place(2)[:3] + "-" + place(2)[3:], b.room.State().Door(), "7ANAWH"} {
		for _, door := range []string{b.room.State().Door(), place(1)} {
			ws := hello(b, door, phoneToken(40+i))
			say(b, ws, fmt.Sprintf(`{"t":"sit","id":%q,"name":%q}`, frameID(40+i), name))
			check("the name "+name, ws, "code", false)
			ws.Close()
		}
	}
	full := hello(b, b.room.State().Door(), phoneToken(3))
	say(b, full, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Cy"}`, frameID(3)))
	check("a full table", full, "full", false)
	taken := hello(b, place(1), phoneToken(4))
	say(b, taken, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Di"}`, frameID(4)))
	check("a seat taken twice", taken, "taken", false)

	for name, frame := range map[string]string{
		"no JSON":                 `hello?`,
		"a list":                  `[1,2,3]`,
		"no t":                    `{"set":1}`,
		"an unknown t":            `{"t":"reveal"}`,
		"a pick that is a word":   `{"t":"lock","id":"` + frameID(5) + `","set":1,"take":0,"pick":"742"}`,
		"an id that is none":      `{"t":"lock","id":"1","set":1,"take":0,"pick":742}`,
		"a time that is none":     `{"t":"lock","id":"` + frameID(6) + `","set":1,"take":0,"pick":742,"at":"noon"}`,
		"a number beyond numbers": `{"t":"lock","id":"` + frameID(7) + `","set":1e400,"take":0,"pick":742}`,
		"an oversized frame":      `{"t":"sit","id":"` + frameID(8) + `","name":"` + strings.Repeat("x", 5000) + `"}`,
		"a null byte":             "{\"t\":\"beat\x00\"}",
	} {
		say(b, second, frame)
		check(name, second, "frame", false)
	}
	lock := func(n, set, take int, pick session.Code) string {
		return fmt.Sprintf(`{"t":"lock","id":%q,"set":%d,"take":%d,"pick":%d,"guess":false,"at":"2026-04-14T08:42:15Z"}`, frameID(n), set, take, pick)
	}
	say(b, second, lock(10, 1, 0, b.room.State().Codes(2, 1, 0)[0]))
	check("a lock before the tasting", second, "phase", false)
	say(b, taken, lock(11, 1, 0, b.room.State().Codes(1, 1, 0)[0]))
	check("a lock without a seat", taken, "seat", false)

	b.do(session.FreezeList{})
	late := hello(b, place(2), phoneToken(12))
	say(b, late, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Ed"}`, frameID(12)))
	check("a late joiner", late, "frozen", false)
	b.do(session.Open{Releases: b.rooms.Lab().State().ReleasesOf("lot-1", "lot-2")})
	b.do(session.Serve{Round: 1})

	for i, c := range []struct {
		name      string
		set, take int
		pick      session.Code
		why       string
	}{
		{"an answer for another seat's set", 1, 0, b.room.State().Codes(1, 1, 0)[0], "pick"},
		{"a set not served yet", 2, 0, b.room.State().Codes(2, 2, 0)[0], "set"},
		{"a set beyond the last", 3, 0, 742, "set"},
		{"set nought", 0, 0, 742, "set"},
		{"a negative take", 1, -1, 742, "set"},
		{"a replacement that was not called", 1, 1, b.room.State().Codes(2, 1, 1)[0], "set"},
		{"a code of the replacement", 1, 0, b.room.State().Codes(2, 1, 1)[0], "pick"},
	} {
		say(b, second, lock(20+i, c.set, c.take, c.pick))
		check(c.name, second, c.why, false)
	}
	codes := b.room.State().Codes(2, 1, 0)
	say(b, second, lock(30, 1, 0, codes[0]))
	for !strings.Contains(read(t, second), `"t":"kept"`) {
	}
	say(b, second, lock(31, 1, 0, codes[1]))
	check("another answer to an answered set", second, "answered", false)

	// The same answer again counts once and is kept again.
	seq := b.room.State().Seq
	say(b, second, lock(30, 1, 0, codes[0]))
	for !strings.Contains(read(t, second), `"t":"kept"`) {
	}
	if now := b.room.State().Seq; now != seq {
		t.Errorf("the same answer again went into the journal: %d, then %d entries", seq, now)
	}
}

// TestNewestPhoneWins: a second line with the seat's token takes the seat over,
// and the first is told for good.
func TestNewestPhoneWins(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	first := hello(b, b.room.State().PlaceDoor(1), phoneToken(1))
	read(t, first)
	say(b, first, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Iva"}`, frameID(1)))
	read(t, first)
	second := hello(b, b.room.State().PlaceDoor(1), phoneToken(1))
	if v := read(t, second); !strings.Contains(v, `"step":"lobby","seat":1`) {
		t.Fatalf("the newer phone sees %s", v)
	}
	r := refused(b, first)
	if r.Why != "moved" || !r.Final {
		t.Errorf("the older phone is told %+v", r)
	}
	plain(t, "moved", r.Say, r.Next)
	if _, _, err := first.ReadMessage(); err == nil {
		t.Error("the older phone's line stays open")
	}
	say(b, second, `{"t":"beat"}`)
	if f := read(t, second); !strings.Contains(f, "beat") {
		t.Errorf("the newer phone hears %s", f)
	}
}

// TestMovedSeat: the host hands a seat to another phone; the old one loses it,
// the person keeps it.
func TestMovedSeat(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	first := hello(b, b.room.State().PlaceDoor(1), phoneToken(1))
	read(t, first)
	say(b, first, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Iva"}`, frameID(1)))
	read(t, first)
	person := b.room.State().Seats[0].Person
	b.do(session.MoveSeat{Seat: 1})
	if r := refused(b, first); r.Why != "moved" {
		t.Errorf("the old phone is told %+v", r)
	}
	next := hello(b, b.room.State().PlaceDoor(1), phoneToken(2))
	if v := read(t, next); !strings.Contains(v, `"here":true`) {
		t.Fatalf("the new phone sees %s", v)
	}
	say(b, next, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Iva"}`, frameID(2)))
	if v := read(t, next); !strings.Contains(v, `"step":"lobby","seat":1`) {
		t.Fatalf("the new phone sees %s", v)
	}
	if now := b.room.State().Seats[0].Person; now != person {
		t.Errorf("the person at seat 1 was %s and is %s", person, now)
	}
}

// plain holds what people are told to two plain sentences.
func plain(t *testing.T, name, say, next string) {
	t.Helper()
	for _, s := range []string{say, next} {
		if len(s) < 10 || !strings.HasSuffix(s, ".") {
			t.Errorf("%s: %q is no sentence", name, s)
		}
		for _, never := range []string{"please", "oops", "sorry", "!", "error", "invalid", "failed", "%!", "json", "nil"} {
			if strings.Contains(strings.ToLower(s), never) {
				t.Errorf("%s: %q says %q", name, s, never)
			}
		}
	}
}

// TestForeignPages asks both listeners under foreign names and from foreign
// pages, as a page of the open web can make a browser do.
func TestForeignPages(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	id := string(b.room.State().ID)
	type try struct {
		name, method, url, host, origin string
		want                            int
	}
	var tries []try
	for side, url := range map[string]string{"console": b.console.URL, "tasters": b.tasters.URL} {
		tries = append(tries,
			try{side + ", own name", "GET", url + "/", "127.0.0.1", "", 200},
			try{side + ", rebound name", "GET", url + "/", "evil.example", "", 421},
			try{side + ", rebound name with port", "GET", url + "/", "evil.example:7760", "", 421},
			try{side + ", name that only begins like it", "GET", url + "/", "127.0.0.1.evil.example", "", 421},
			try{side + ", no name", "GET", url + "/", " ", "", 421},
		)
	}
	tries = append(tries,
		try{"a form from a foreign page", "POST", b.console.URL + "/s/" + id + "/freeze", "127.0.0.1", "http://evil.example", 403},
		try{"a form from the tasters' side", "POST", b.console.URL + "/s/" + id + "/freeze", "127.0.0.1", b.tasters.URL, 403},
		try{"a form from nowhere", "POST", b.console.URL + "/s/" + id + "/freeze", "127.0.0.1", "", 403},
		try{"a form from a page without an origin", "POST", b.console.URL + "/s/" + id + "/freeze", "127.0.0.1", "null", 403},
	)
	seq := b.room.State().Seq
	for _, c := range tries {
		req, err := http.NewRequest(c.method, c.url, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = c.host
		if c.origin != "" {
			req.Header.Set("Origin", c.origin)
		}
		client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		resp, err := client.Do(req)
		if err != nil {
			if c.host == " " {
				continue // the client itself won't send it
			}
			t.Fatalf("%s: %v", c.name, err)
		}
		body, _ := io.ReadAll(resp.Body)
		resp.Body.Close()
		ok := resp.StatusCode == c.want || c.want == 200 && resp.StatusCode == http.StatusSeeOther
		if !ok {
			t.Errorf("%s: %s, want %d", c.name, resp.Status, c.want)
		}
		if c.want >= 400 && !strings.Contains(string(body), "address") {
			t.Errorf("%s: says no next step: %.200s", c.name, body)
		}
	}
	for name, header := range map[string]http.Header{
		"a socket from a foreign page":  {"Origin": {"http://evil.example"}},
		"a socket under a rebound name": {"Origin": {"http://evil.example"}, "Host": {"evil.example"}},
	} {
		for _, url := range []string{b.tasters.URL + "/ws", b.console.URL + "/s/" + id + "/live?page=board"} {
			ws, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(url, "http"), header)
			if err == nil {
				ws.Close()
				t.Errorf("%s: %s was opened", name, url)
			} else if resp == nil || resp.StatusCode != 403 && resp.StatusCode != 421 {
				t.Errorf("%s: %v, %v", name, resp, err)
			}
		}
	}
	if now := b.room.State().Seq; now != seq {
		t.Errorf("the journal went from %d to %d entries", seq, now)
	}
}

// slowJournal holds every append back until it is let go.
type slowJournal struct {
	session.Memory
	hold chan struct{}
}

func (s *slowJournal) Append(ctx context.Context, id session.ID, entries []session.Entry, texts []session.Text) error {
	if s.hold != nil {
		<-s.hold
	}
	return s.Memory.Append(ctx, id, entries, texts)
}

// TestKeptIsSaidAfterTheCommit: while the journal's append has not returned, no
// frame says kept and no page shows the answer.
func TestKeptIsSaidAfterTheCommit(t *testing.T) {
	journal := &slowJournal{}
	b := newBenchOn(t, journal, testPlan(2, 1), drawn(t, zeros{}))
	ws := hello(b, b.room.State().PlaceDoor(1), phoneToken(1))
	read(t, ws)
	say(b, ws, fmt.Sprintf(`{"t":"sit","id":%q,"name":"Iva"}`, frameID(1)))
	read(t, ws)
	b.do(session.FreezeList{})
	b.do(session.Open{Releases: b.rooms.Lab().State().ReleasesOf("lot-1", "lot-2")})
	b.do(session.Serve{Round: 1})
	journal.hold = make(chan struct{})
	say(b, ws, fmt.Sprintf(`{"t":"lock","id":%q,"set":1,"take":0,"pick":%d,"guess":false,"at":"2026-04-14T08:42:15Z"}`, frameID(2), b.room.State().Codes(1, 1, 0)[0]))
	said := make(chan string, 100)
	go func() {
		for {
			_, f, err := ws.ReadMessage()
			if err != nil {
				return
			}
			said <- string(f)
		}
	}()
	early := time.After(400 * time.Millisecond)
	for waiting := true; waiting; {
		select {
		case f := <-said:
			if strings.Contains(f, `"t":"kept"`) || strings.Contains(f, `"pick"`) {
				t.Fatalf("said before the commit returned: %s", f)
			}
		case <-early:
			waiting = false
		}
	}
	if b.room.State().Seats[0].Sets[0].Kept() != nil {
		t.Fatal("the published state shows the answer before the commit returned")
	}
	close(journal.hold)
	for end := time.After(5 * time.Second); ; {
		select {
		case f := <-said:
			if strings.Contains(f, `"t":"kept"`) {
				return
			}
		case <-end:
			t.Fatal("the answer was never acknowledged")
		}
	}
}
