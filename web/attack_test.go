package web

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
)

// try is dial for goroutines of a test: it fails without ending the test.
func (b *bench) try() (*websocket.Conn, error) {
	ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.tasters.URL, "http")+"/ws", http.Header{"Origin": {b.tasters.URL}})
	return ws, err
}

func helloFrame(door, token string) string {
	return fmt.Sprintf(`{"t":"hello","v":1,"door":%q,"token":%q}`, door, token)
}

func sitFrame(id int, name string) string {
	return fmt.Sprintf(`{"t":"sit","id":%q,"name":%q}`, frameID(id), name)
}

func lockFrame(id, set, take int, pick session.Code) string {
	return fmt.Sprintf(`{"t":"lock","id":%q,"set":%d,"take":%d,"pick":%d,"guess":false,"at":"2026-04-14T08:42:15Z"}`, frameID(id), set, take, pick)
}

// sat connects a phone and takes a seat by its card.
func (b *bench) sat(seat, n int) *websocket.Conn {
	b.t.Helper()
	ws := hello(b, b.room.State().PlaceDoor(seat), phoneToken(n))
	read(b.t, ws)
	say(b, ws, sitFrame(1000+n, "Iva"))
	if v := until(b, ws, `"t":"view"`); !strings.Contains(v, `"step":"lobby"`) {
		b.t.Fatalf("phone %d at seat %d sees %s", n, seat, v)
	}
	return ws
}

// until reads on until a frame holds part.
func until(b *bench, ws *websocket.Conn, part string) string {
	b.t.Helper()
	for {
		if f := read(b.t, ws); strings.Contains(f, part) {
			return f
		}
	}
}

// serveFirst closes the list, opens the tasting and serves set 1.
func (b *bench) serveFirst() {
	b.t.Helper()
	b.do(session.FreezeList{})
	b.do(session.Open{Releases: b.rooms.Lab().State().ReleasesOf("lot-1", "lot-2")})
	b.do(session.Serve{Round: 1})
}

// lockedBy counts the Locked entries by seat.
func lockedBy(s *session.State) map[int]int {
	n := map[int]int{}
	for _, step := range s.Trail {
		if e, ok := step.Event.(*session.Locked); ok {
			n[e.Seat]++
		}
	}
	return n
}

// ours are the goroutines that run code of this module other than tests.
func ours() (n int, stacks string) {
	buf := make([]byte, 1<<22)
	buf = buf[:runtime.Stack(buf, true)]
	var found []string
	for _, g := range strings.Split(string(buf), "\n\n") {
		if strings.Contains(g, "oddcup/web/") || strings.Contains(g, "oddcup/session.") {
			found = append(found, g)
		}
	}
	return len(found), strings.Join(found, "\n\n")
}

// TestEverybodyLocksAtOnce: a table as large as the codes allow, and more phones
// than seats. All come at once, lock at once and send twice; each answer is kept
// once, and who has no seat is told so.
func TestEverybodyLocksAtOnce(t *testing.T) {
	const phones = 200
	p := testPlan(2, 1)
	p.Tests = p.Tests[1:] // two cups a seat
	for p.Seats = phones; p.Check() != nil; p.Seats-- {
		if p.Seats < 100 {
			t.Fatalf("no large table can be planned: %v", p.Check())
		}
	}
	b := newBench(t, p, drawn(t, zeros{}))
	t.Logf("%d phones, %d seats", phones, p.Seats)
	var full, kept atomic.Int64
	seated := make(chan struct{}, phones)
	start := make(chan struct{})
	errs := make(chan error, phones)
	var all sync.WaitGroup
	for n := 1; n <= phones; n++ {
		all.Go(func() {
			got, err := b.lockOnce(n, seated, start)
			switch {
			case err != nil:
				errs <- fmt.Errorf("phone %d: %w", n, err)
			case got == "full":
				full.Add(1)
			default:
				kept.Add(1)
			}
		})
	}
	for range phones {
		select {
		case <-seated:
		case err := <-errs:
			t.Fatal(err)
		}
	}
	b.serveFirst()
	close(start)
	all.Wait()
	select {
	case err := <-errs:
		t.Fatal(err)
	default:
	}
	if int(kept.Load()) != p.Seats || int(full.Load()) != phones-p.Seats {
		t.Errorf("%d phones heard that their answer is kept, %d that the table is full; %d seats", kept.Load(), full.Load(), p.Seats)
	}
	locked := lockedBy(b.room.State())
	for seat := 1; seat <= p.Seats; seat++ {
		if locked[seat] != 1 {
			t.Errorf("seat %d has %d answers in the journal", seat, locked[seat])
		}
	}
}

// lockOnce is one phone: it takes the next free seat, waits for start, and sends
// its lock three times, once under another id.
func (b *bench) lockOnce(n int, seated chan<- struct{}, start <-chan struct{}) (string, error) {
	ws, err := b.try()
	if err != nil {
		return "", err
	}
	defer ws.Close()
	put := func(frame string) error { return ws.WriteMessage(websocket.TextMessage, []byte(frame)) }
	next := func() (f anyFrame, err error) {
		ws.SetReadDeadline(time.Now().Add(30 * time.Second))
		err = ws.ReadJSON(&f)
		return f, err
	}
	if err := errors.Join(put(helloFrame(b.room.State().Door(), phoneToken(n))), put(sitFrame(n, "Iva"))); err != nil {
		return "", err
	}
	f, err := next()
	for ; err == nil && f.Step != "lobby" && f.T != "refused"; f, err = next() {
	}
	if err != nil {
		return "", err
	}
	seated <- struct{}{}
	if f.T == "refused" {
		return f.Why, nil
	}
	<-start
	for ; err == nil && f.Front == nil; f, err = next() {
	}
	if err != nil {
		return "", err
	}
	pick := f.Front.Codes[n%len(f.Front.Codes)]
	for _, id := range []int{n, n, 5000 + n} {
		if err := put(lockFrame(10_000+id, 1, 0, pick)); err != nil {
			return "", err
		}
	}
	for heard := 0; heard < 3; {
		if f, err = next(); err != nil {
			return "", fmt.Errorf("after %d of 3 replies: %w", heard, err)
		}
		switch f.T {
		case "refused":
			return "", fmt.Errorf("refused: %s %s", f.Why, f.Say)
		case "kept":
			if f.Pick != pick || f.Set != 1 {
				return "", fmt.Errorf("picked %d, kept %+v", pick, f)
			}
			heard++
		}
	}
	return "kept", nil
}

// anyFrame is any frame to a phone.
type anyFrame struct {
	T, ID, Why, Say, Next, Step string
	Seat, Set, Take             int
	Pick                        session.Code
	Final                       bool
	Front                       *struct {
		N, Take int
		Codes   []session.Code
	}
}

// TestLastSeat: two lines race for the last seat, many times; one gets it, the
// other is told, and never both.
func TestLastSeat(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	b.sat(1, 1)
	for try := range 30 {
		start := make(chan struct{})
		var race sync.WaitGroup
		var won, lost atomic.Int64
		for i, door := range []string{b.room.State().Door(), b.room.State().PlaceDoor(2)} {
			ws := hello(b, door, phoneToken(100+2*try+i))
			read(t, ws)
			race.Go(func() {
				<-start
				ws.WriteMessage(websocket.TextMessage, []byte(sitFrame(200+2*try+i, "Bo")))
				ws.SetReadDeadline(time.Now().Add(10 * time.Second))
				for {
					var f anyFrame
					if err := ws.ReadJSON(&f); err != nil {
						return
					}
					if f.T == "refused" && (f.Why == "full" || f.Why == "taken") {
						lost.Add(1)
						return
					}
					if f.Step == "lobby" && f.Seat == 2 {
						won.Add(1)
						return
					}
				}
			})
		}
		close(start)
		race.Wait()
		if won.Load() != 1 || lost.Load() != 1 {
			t.Fatalf("try %d: %d got the last seat, %d were told that it is taken", try, won.Load(), lost.Load())
		}
		b.do(session.FreeSeat{Seat: 2})
	}
}

// TestGuessedTokens: phones without a seat, whatever token and id they make up,
// answer for nobody, see no set and are told what to do.
func TestGuessedTokens(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	good := b.sat(1, 1)
	b.sat(2, 2)
	b.serveFirst()
	until(b, good, `"step":"set"`)
	codes := b.room.State().Codes(1, 1, 0)
	say(b, good, lockFrame(77, 1, 0, codes[0]))
	until(b, good, `"t":"kept"`)
	seq := b.room.State().Seq
	hashed := b.room.State().Seats[1].Token.String()
	for name, token := range map[string]string{
		"one digit off": phoneToken(2)[:31] + "3", "noughts": strings.Repeat("0", 32), "the head of the hash in the journal": hashed[:32],
		"the tail of it": hashed[32:], "upper case": strings.Repeat("F", 32),
	} {
		ws := hello(b, b.room.State().PlaceDoor(2), token)
		if v := read(t, ws); !strings.Contains(v, `"step":"door"`) || strings.Contains(v, `"codes"`) || !strings.Contains(v, `"kept":[]`) {
			t.Errorf("%s: sees %s", name, v)
		}
		for _, frame := range []string{
			lockFrame(88, 1, 0, b.room.State().Codes(2, 1, 0)[0]),
			lockFrame(77, 1, 0, codes[0]), // another phone's frame, id and all
			`{"t":"call","why":"spill"}`, `{"t":"uncall"}`, `{"t":"tray","set":1,"take":0,"code":742}`,
		} {
			say(b, ws, frame)
			r := refused(b, ws)
			if r.Why != "seat" || r.Final {
				t.Errorf("%s: %s is refused as %+v", name, frame, r)
			}
			plain(t, name, r.Say, r.Next)
		}
		say(b, ws, sitFrame(300, "Eve"))
		if r := refused(b, ws); r.Why != "frozen" {
			t.Errorf("%s: %+v", name, r)
		}
		ws.Close()
	}
	if s := b.room.State(); s.Seq != seq || s.Seats[1].Sets[0].Kept() != nil {
		t.Errorf("the journal went from %d to %d entries", seq, s.Seq)
	}
	if sign := b.server.consoleSide.Presence.Seat(b.room.State().ID, 2); sign.Calling != "" {
		t.Errorf("somebody called for seat 2: %+v", sign)
	}
}

// TestAnswersOfOthers: who sends another's id of a lock gets no word of it.
func TestAnswersOfOthers(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	one, two := b.sat(1, 1), b.sat(2, 2)
	b.serveFirst()
	until(b, one, `"step":"set"`)
	until(b, two, `"step":"set"`)
	pick := b.room.State().Codes(1, 1, 0)[0]
	say(b, one, lockFrame(77, 1, 0, pick))
	until(b, one, `"t":"kept"`)
	say(b, two, lockFrame(77, 1, 0, pick))
	if r := refused(b, two); r.Why != "pick" {
		t.Errorf("seat 2, with seat 1's lock: %+v", r)
	}
	own := b.room.State().Codes(2, 1, 0)[1]
	say(b, two, lockFrame(77, 1, 0, own))
	if k := until(b, two, `"t":"kept"`); !strings.Contains(k, fmt.Sprintf(`"pick":%d`, own)) {
		t.Errorf("seat 2, with its own lock under seat 1's id: %s", k)
	}
}

// TestTokenIsNotInTheJournal: who reads the journal can't take a seat.
func TestTokenIsNotInTheJournal(t *testing.T) {
	journal := new(session.Memory)
	b := newBenchOn(t, journal, testPlan(2, 1), drawn(t, zeros{}))
	token := "8f3ac0ffee5eed00d15ea5ed0badcafe"
	ws := hello(b, b.room.State().PlaceDoor(1), token)
	read(t, ws)
	say(b, ws, sitFrame(1, "Iva"))
	until(b, ws, `"step":"lobby"`)
	entries, texts, err := journal.Load(t.Context(), b.room.State().ID)
	if err != nil || len(entries) < 5 {
		t.Fatalf("%d entries: %v", len(entries), err)
	}
	raw, err := hex.DecodeString(token)
	if err != nil {
		t.Fatal(err)
	}
	var kept bytes.Buffer
	for _, e := range entries {
		kept.Write(e.Stored)
	}
	for _, text := range texts {
		fmt.Fprintf(&kept, "%s %x", text.Words, text.Salt)
	}
	for _, form := range []string{token, token[:16], string(raw), base64.StdEncoding.EncodeToString(raw)[:20]} {
		if strings.Contains(strings.ToLower(kept.String()), strings.ToLower(form)) {
			t.Errorf("the journal holds the token as %q", form)
		}
	}
	if !bytes.Contains(kept.Bytes(), []byte(session.HashToken(raw).String())) {
		t.Error("the journal does not hold the token's SHA-256: the test looks in the wrong place")
	}
}

// brokenJournal refuses to append while it is told to.
type brokenJournal struct {
	session.Memory
	broken atomic.Bool
	tries  atomic.Int64
}

func (j *brokenJournal) Append(ctx context.Context, id session.ID, entries []session.Entry, texts []session.Text) error {
	if j.broken.Load() {
		j.tries.Add(1)
		return errors.New("no space left on device")
	}
	return j.Memory.Append(ctx, id, entries, texts)
}

// TestDiskFull: while the journal can't be written, phones and console hear that
// nothing was kept; afterwards the same answers, sent again, are kept once.
func TestDiskFull(t *testing.T) {
	journal := new(brokenJournal)
	b := newBenchOn(t, journal, testPlan(3, 1), drawn(t, zeros{}))
	var phones []*websocket.Conn
	for seat := 1; seat <= 3; seat++ {
		phones = append(phones, b.sat(seat, seat))
	}
	b.serveFirst()
	journal.broken.Store(true)
	lock := func(i int) string { return lockFrame(500+i, 1, 0, b.room.State().Codes(i+1, 1, 0)[i]) }
	for range 3 {
		for i, ws := range phones {
			say(b, ws, lock(i))
			r := refused(b, ws)
			if r.Why != "busy" || r.Final || r.ID != frameID(500+i) {
				t.Errorf("phone %d hears %+v", i+1, r)
			}
			plain(t, "disk full", r.Say, r.Next)
		}
	}
	if n := journal.tries.Load(); n != 9 {
		t.Errorf("%d appends were tried, 9 locks sent", n)
	}
	if s := b.room.State(); len(lockedBy(s)) != 0 {
		t.Errorf("the published state holds answers that are on no disk: %v", lockedBy(s))
	}
	// The host hears it too, and what is kept is still shown.
	for path, want := range map[string]int{"/serve": 503, "/board": 200} {
		method, form := "GET", ""
		if path == "/serve" {
			method, form = "POST", "round=2&before=1+2+3" // confirmed for the seats that have not locked
		}
		r, err := http.NewRequest(method, b.console.URL+"/s/"+string(b.room.State().ID)+path, strings.NewReader(form))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Origin", b.console.URL)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != want {
			t.Errorf("%s while the disk is full: %s, want %d", path, resp.Status, want)
		}
	}
	journal.broken.Store(false)
	for i, ws := range phones {
		say(b, ws, lock(i))
		say(b, ws, lock(i))
		for range 2 {
			if k := until(b, ws, `"t":"kept"`); !strings.Contains(k, frameID(500+i)) {
				t.Errorf("phone %d hears %s", i+1, k)
			}
		}
	}
	if got := lockedBy(b.room.State()); got[1] != 1 || got[2] != 1 || got[3] != 1 {
		t.Errorf("answers by seat: %v", got)
	}
}

// TestSeatFreedAndTaken: who was freed and asks again under the old id is told,
// and a newcomer begins without the signs of the one before.
func TestSeatFreedAndTaken(t *testing.T) {
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	ws := b.sat(1, 1)
	say(b, ws, `{"t":"call","why":"spill"}`)
	until(b, ws, `"calling":true`)
	b.do(session.FreeSeat{Seat: 1})
	until(b, ws, `"step":"door"`)
	presence, id := b.server.consoleSide.Presence, b.room.State().ID
	if presence.Seat(id, 1).InTouch {
		t.Error("a freed seat stays in touch")
	}
	say(b, ws, sitFrame(1001, "Iva")) // the id of the first time
	if r := refused(b, ws); r.Why != "seat" || r.ID != frameID(1001) || r.Final {
		t.Errorf("the old request for a seat, again: %+v", r)
	}
	next := b.sat(1, 2)
	say(b, next, `{"t":"beat"}`)
	until(b, next, "beat")
	if sign := presence.Seat(id, 1); sign.Calling != "" || !sign.InTouch {
		t.Errorf("the newcomer's seat has %+v", sign)
	}
	say(b, ws, sitFrame(1003, "Iva"))
	if r := refused(b, ws); r.Why != "taken" {
		t.Errorf("the seat is another's now: %+v", r)
	}
}

// TestPhonesDoNoHostsWork: what the host alone may do, no phone can: mark an
// answer as typed in from paper, seat people by hand, note, break the seal, take
// sets out. Neither its frames nor its listener know of it, and a page of
// another origin can't make the host's browser do it.
func TestPhonesDoNoHostsWork(t *testing.T) {
	b := newBench(t, testPlan(3, 1), drawn(t, zeros{}))
	one, two := b.sat(1, 1), b.sat(2, 2)
	b.do(session.SitByHand{Seat: 3, Name: session.Text{Words: "Odo"}})
	b.serveFirst()
	until(b, one, `"step":"set"`)
	until(b, two, `"step":"set"`)
	seq := b.room.State().Seq
	for _, kind := range []string{"byhand", "sitbyhand", "deviation", "notedeviation", "break", "breakseal", "amend", "void", "serve", "reveal"} {
		ws := hello(b, b.room.State().PlaceDoor(1), phoneToken(1))
		until(b, ws, `"t":"view"`)
		say(b, ws, fmt.Sprintf(`{"t":%q,"id":%q,"seat":3,"set":1,"take":0,"name":"Eve","reason":"why","words":"why"}`, kind, frameID(900)))
		if r := refused(b, ws); r.Why != "frame" {
			t.Errorf("frame %s is refused as %+v", kind, r)
		}
		ws.Close()
	}
	// The seat by hand answers to no token, and its card gives it to nobody.
	for _, token := range []string{strings.Repeat("0", 32), phoneToken(9)} {
		ws := hello(b, b.room.State().PlaceDoor(3), token)
		if v := until(b, ws, `"t":"view"`); strings.Contains(v, `"codes"`) {
			t.Errorf("a phone with token %s sees the tray of who has none: %s", token, v)
		}
		say(b, ws, lockFrame(901, 1, 0, b.room.State().Codes(3, 1, 0)[0]))
		if r := refused(b, ws); r.Why != "seat" {
			t.Errorf("%+v", r)
		}
		say(b, ws, sitFrame(902, "Eve"))
		if r := refused(b, ws); r.Why != "frozen" {
			t.Errorf("%+v", r)
		}
		ws.Close()
	}
	at := "/s/" + string(b.room.State().ID)
	for _, path := range []string{"/byhand", "/seats/3/ballot", "/deviations", "/break", "/amend", "/key"} {
		for name, x := range map[string]struct{ to, origin string }{
			"the tasters' listener": {b.tasters.URL, b.tasters.URL}, "a foreign origin": {b.console.URL, b.tasters.URL}, "no origin": {b.console.URL, ""},
		} {
			r, err := http.NewRequest("POST", x.to+at+path, strings.NewReader("break-reason=x&break-word=break&deviation=x&byhand-name=Eve&byhand-seat=3"))
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if x.origin != "" {
				r.Header.Set("Origin", x.origin)
			}
			resp, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			resp.Body.Close()
			if resp.StatusCode != http.StatusForbidden && resp.StatusCode != http.StatusNotFound && resp.StatusCode != http.StatusMethodNotAllowed {
				t.Errorf("POST %s by %s: %s", path, name, resp.Status)
			}
		}
	}
	if s := b.room.State(); s.Seq != seq || s.Broken != nil {
		t.Fatalf("the journal went from %d to %d entries", seq, s.Seq)
	}
	// A lock that calls itself typed in from paper is a phone's lock. The lines
	// above took seat 1 over from the first one.
	one = hello(b, b.room.State().PlaceDoor(1), phoneToken(1))
	until(b, one, `"t":"view"`)
	lock := lockFrame(77, 1, 0, b.room.State().Codes(1, 1, 0)[0])
	say(b, one, strings.TrimSuffix(lock, "}")+`,"paper":true,"Paper":true,"seat":3}`)
	until(b, one, `"t":"kept"`)
	if s := b.room.State(); s.Seats[0].Sets[0].Kept() == nil || s.Seats[0].Sets[0].Kept().Paper || s.Seats[2].Sets[0].Kept() != nil {
		t.Errorf("a phone's lock became %+v", s.Seats[0].Sets[0].Kept())
	}
	// The ballot that the host typed in first stands against the phone's answer.
	codes := b.room.State().Codes(2, 1, 0)
	b.do(session.Lock{Seat: 2, Set: 1, Pick: codes[0], Paper: true})
	say(b, two, lockFrame(78, 1, 0, codes[1]))
	if r := refused(b, two); r.Why != "answered" {
		t.Errorf("a phone's other answer after the ballot: %+v", r)
	}
	if a := b.room.State().Seats[1].Sets[0].Kept(); a == nil || !a.Paper || a.Pick != codes[0] {
		t.Errorf("kept: %+v", a)
	}
}
