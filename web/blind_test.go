package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/gorilla/websocket"

	"oddcup/session"
	"oddcup/web/guard"
)

// The test of blindness: two runs of one session share codes, doors, tokens,
// clock, digest and the picks (by code); in the second the serving order of
// every set and the marks of the vessels are drawn anew. Every byte that leaves
// before the reveal must be the same: pages, headers, frames, log lines. The
// pour sheet behind its PIN is the pourer's and is not asked for here; the PIN
// page itself is.

// runBlind plays a session and records all that leaves. wrap may plant a leak.
func runBlind(t *testing.T, p session.Plan, keys *rand.Rand, wrap func(*session.Room[*session.State], http.Handler) http.Handler) (recording, map[string]bool) {
	t.Helper()
	b := newBench(t, p, func(p session.Plan) session.Sealing { return otherKey(t, p, keys) })
	var logged bytes.Buffer
	b.server.Close()
	b.server = New(Config{
		Rooms: b.rooms, Now: func() time.Time { return fixedClock }, Chance: zeros{},
		Join: "http://bench.test:7761", Copy: sameCopy,
		ConsoleNames: guard.Names{"127.0.0.1"}, TasterNames: guard.Names{"127.0.0.1"},
		Log: slog.New(slog.NewTextHandler(&lockedWriter{w: &logged}, &slog.HandlerOptions{
			Level: slog.LevelDebug,
			ReplaceAttr: func(_ []string, a slog.Attr) slog.Attr {
				if a.Key == slog.TimeKey {
					return slog.Attr{}
				}
				return a
			},
		})),
	})
	console, tasters := b.server.Console, b.server.Tasters
	if wrap != nil {
		console, tasters = wrap(b.room, console), wrap(b.room, tasters)
	}
	b.console.Config.Handler, b.tasters.Config.Handler = console, tasters

	r := &recorder{bench: b, got: recording{}, hit: map[string]bool{}, brief: wrap != nil}
	if usual(p) {
		r.play()
	} else {
		r.playFlights()
	}
	r.got["log"] = logged.String()
	return r.got, r.hit
}

// sameCopy stands for the copy of the data file. The real one holds the key, as the
// file does, and so can't be the same under every key: it is the one answer that is
// left out here. That it is offered, named and noted in the same way is compared.
func sameCopy(_ context.Context, name string, note func() error) (io.ReadCloser, int64, error) {
	return io.NopCloser(strings.NewReader(name)), int64(len(name)), note()
}

// otherKey seals a plan with fixed codes, doors and digest, and orders from keys.
func otherKey(t *testing.T, p session.Plan, keys *rand.Rand) session.Sealing {
	s, err := session.Seal(p, zeros{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Layout.Seats {
		for j := range s.Layout.Seats[i] {
			set := &s.Layout.Seats[i][j]
			orders := p.Tests[set.Test].Orders()
			set.Order = orders[keys.IntN(len(orders))]
		}
	}
	s.Layout.Disc = []string{"A", "B"}[keys.IntN(2)]
	s.Digest = session.Hash{1, 2, 3}
	return s
}

// recording holds what left, by checkpoint and address.
type recording map[string]string

type recorder struct {
	*bench
	got   recording
	hit   map[string]bool // routes that were asked, as "SIDE METHOD pattern"
	brief bool            // asks every route and nothing beyond
	point int
	lines []*websocket.Conn
}

// play goes through a session by the console's own forms.
func (r *recorder) play() {
	id := string(r.room.State().ID)
	s := "/s/" + id
	r.judges()
	r.look("lobby open")
	for seat := 1; seat <= 4; seat++ {
		r.phone(seat)
	}
	r.look("all seated")
	r.post(s+"/seats/4/free", nil)
	r.byHand(4)
	r.post(s+"/seats/3/move", nil)
	r.phone(3)
	r.post(s+"/freeze", nil)
	r.atBench()
	r.look("list closed")
	r.post(s+"/open", nil)
	r.notBroken()
	r.look("opened")
	r.post(s+"/serve", url.Values{"round": {"1"}, "cup-temperature": {"80"}})
	r.post(s+"/serve", url.Values{"round": {"1"}, "cup-temperature": {"50"}, "serve-reason": {"no time"}})
	r.frames(1, "", `{"t":"tray","set":1,"take":0,"code":%d}`, r.room.State().Codes(1, 1, 0)[0])
	r.frames(2, "", `{"t":"tray","set":1,"take":0,"code":%d}`, 555)
	r.frames(2, `"calling":true`, `{"t":"call","why":"spill"}`)
	r.post(s+"/seats/2/coming", nil)
	r.lock(1, 1, 0)
	r.look("first set served")
	r.post(s+"/void", url.Values{"seat": {"2"}, "set": {"1"}, "take": {"0"}, "reason": {"spilled"}, "replace": {"1"}})
	r.look("replacement called")
	r.post(s+"/serve", url.Values{"round": {"2"}, "cup-temperature": {"60"}})                    // refused: seats have set 1 in front
	r.post(s+"/serve", url.Values{"round": {"2"}, "cup-temperature": {"60"}, "before": {"[2]"}}) // refused: more seats than were confirmed
	again := url.Values{"seat": {"2"}, "set": {"1"}, "take": {"1"}, "cup-temperature-2-1": {"80"}}
	r.post(s+"/serve/again", again) // where the plan has no gate it is served already
	again.Set("cup-temperature-2-1", "60")
	r.post(s+"/serve/again", again)
	r.lock(2, 1, 1)
	r.lock(3, 1, 0)
	r.lock(4, 1, 0)
	r.post(s+"/pause", nil)
	r.look("paused")
	r.post(s+"/resume", nil)
	r.post(s+"/serve", url.Values{"round": {"2"}}) // refused where the plan has a gate
	r.post(s+"/serve", url.Values{"round": {"2"}, "cup-temperature": {"60.5"}})
	r.post(s+"/seats/4/leave", url.Values{"reason": {"had to go"}})
	for seat := 1; seat <= 3; seat++ {
		r.lock(seat, 2, 0)
	}
	r.post(s+"/serve", url.Values{"round": {"3"}, "cup-temperature": {"62"}})
	r.lock(1, 3, 0)
	r.look("body set served")
	r.paper(2, 3, 0) // its phone broke
	r.lock(3, 3, 0)
	// What is refused, or changes nothing of the session.
	r.post("/lab", url.Values{"name": {"Lab of the Tall Window (invented)"}})
	r.post("/lots", nil)
	r.post("/lots/lot-1/release", nil)
	r.post("/sessions", nil)
	r.post("/backup", nil)
	for _, path := range []string{"/roles", "/confirm", "/confirm/again", "/plan", "/plan/forecast", "/pin", "/seal", "/abandon", "/lobby", "/flight/end", "/byhand", "/amend", "/seats/1/ballot"} {
		r.post(s+path, nil)
	}
	r.post("/pour/"+id, url.Values{"pin": {"0000"}})
	r.post("/pour/"+id+"/printed", nil)
	r.post("/pour/"+id+"/sheet.pdf", nil) // without the PIN
	r.post("/pour/"+id+"/leave", nil)
	r.judgesRefused()
	r.look("all in")
	r.post(s+"/close", nil)
	r.look("closed")
	r.afterClose(1)
	r.post(s+"/reveal", nil)
}

// phone takes a seat and keeps its line.
func (r *recorder) phone(seat int) {
	ws := r.dial()
	r.lines = append(r.lines, ws)
	token := fmt.Sprintf("%030d%02d", len(r.lines), seat)
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"hello","v":1,"door":%q,"token":%q}`, r.room.State().PlaceDoor(seat), token))
	r.record("phone hello", read(r.t, ws))
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"sit","id":"%032d","name":%q}`, 500+len(r.lines), r.room.State().PlaceDoor(seat)))
	r.record("phone types its code for a name", read(r.t, ws))
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"sit","id":"%032d","name":"Taster"}`, len(r.lines)))
	r.record("phone sits", read(r.t, ws))
	r.point++
	ws.Close()
	r.settle(seat)
}

// settle waits until the console knows that a phone's line is closed.
func (r *recorder) settle(seat int) {
	r.t.Helper()
	for end := time.Now().Add(5 * time.Second); r.server.consoleSide.Presence.Seat(r.room.State().ID, seat).InTouch; {
		if time.Now().After(end) {
			r.t.Fatalf("the console still has seat %d in touch", seat)
		}
		time.Sleep(time.Millisecond)
	}
}

// frames says hello anew for a seat, sends a frame and a beat, and records every
// answer until the beat has come and a view that shows what the frame was to
// change (shows is a part of it, "" for a frame that changes no view). Views are
// recorded by their first and last form, since views that come close together
// may share one frame.
func (r *recorder) frames(seat int, shows, format string, args ...any) {
	r.t.Helper()
	ws := r.dial()
	defer r.settle(seat)
	defer ws.Close()
	s := r.room.State()
	token := ""
	for n := len(r.lines); n >= 1; n-- { // the newest phone of the seat
		tok := fmt.Sprintf("%030d%02d", n, seat)
		if s.SeatOfToken(session.HashToken(unhex(tok))) == seat {
			token = tok
			break
		}
	}
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"hello","v":1,"door":%q,"token":%q}`, s.PlaceDoor(seat), token))
	views, others := []string{read(r.t, ws)}, []string(nil)
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, format, args...))
	ws.WriteMessage(websocket.TextMessage, []byte(`{"t":"beat"}`))
	for beaten, shown := false, shows == ""; !beaten || !shown; {
		frame := read(r.t, ws)
		switch {
		case strings.HasPrefix(frame, `{"t":"view"`):
			views = append(views, frame)
			shown = shown || strings.Contains(frame, shows)
		case strings.HasPrefix(frame, `{"t":"refused"`):
			r.t.Fatalf("seat %d: %s", seat, frame)
		default:
			beaten = beaten || strings.HasPrefix(frame, `{"t":"beat"`)
			others = append(others, frame)
		}
	}
	r.record(fmt.Sprintf("seat %d first view", seat), views[0])
	r.record(fmt.Sprintf("seat %d last view", seat), views[len(views)-1])
	slices.Sort(others)
	r.record(fmt.Sprintf("seat %d other frames", seat), strings.Join(others, "\n"))
	r.point++
}

func unhex(s string) []byte {
	var b []byte
	for i := 0; i+1 < len(s); i += 2 {
		var x byte
		fmt.Sscanf(s[i:i+2], "%02x", &x)
		b = append(b, x)
	}
	return b
}

// lock picks by code, the same in both runs: the smallest code of the tray that
// can be picked, and where two go together the next one.
func (r *recorder) lock(seat, set, take int) {
	r.t.Helper()
	if r.room.State().Seats[seat-1].ByHand() {
		r.paper(seat, set, take)
		return
	}
	m := methodOf(r.room.State().Plan, set)
	codes := slices.Sorted(slices.Values(r.room.State().Codes(seat, set, take)[m.References():]))
	pick := fmt.Sprint(codes[0])
	if m.Picks == 2 {
		pick = fmt.Sprintf(`%d,"also":%d`, codes[0], codes[1])
	}
	r.frames(seat, fmt.Sprintf(`{"set":%d,"take":%d,"pick"`, set, take), `{"t":"lock","id":"%016d%08d%08d","set":%d,"take":%d,"pick":%s,"guess":false,"at":"2026-04-14T08:42:15Z"}`,
		seat, set, take, set, take, pick)
	if r.room.State().Seats[seat-1].Sets[set-1].Takes[take].Answer == nil {
		r.t.Fatalf("seat %d, set %d was not locked: %s", seat, set, r.got[r.key(fmt.Sprintf("seat %d other frames", seat), -1)])
	}
}

func (r *recorder) key(what string, back int) string {
	return fmt.Sprintf("%03d %s", r.point+back, what)
}

// record keeps what left. The hash of the journal's last entry, which goes on
// paper at the close, is that of every entry before, the sealed one included; a
// salt of 32 bytes keeps it from telling anything, and it is left out here.
func (r *recorder) record(what, got string) {
	key := r.key(what, 0)
	if head := r.room.State().ClosedAt; !head.IsZero() {
		got = strings.ReplaceAll(got, head.String(), "HEAD")
		got = strings.ReplaceAll(got, session.ShortDigest(head), "HEAD in short")
		now := r.room.State().Head // of what has come since
		got = strings.ReplaceAll(got, now.String(), "HEAD NOW")
		got = strings.ReplaceAll(got, session.ShortDigest(now), "HEAD NOW in short")
	}
	if old, ok := r.got[key]; ok {
		got = old + "\n" + got
	}
	r.got[key] = got
}

// look asks every GET route of both sides, and every live page, and records
// status, headers and body.
func (r *recorder) look(name string) {
	r.t.Helper()
	r.point++
	for _, side := range []string{"console", "tasters"} {
		for _, path := range r.addresses(side) {
			if files(name) || !strings.Contains(path, ".pdf") {
				r.ask(side, "GET", path, nil, name)
			}
		}
		if r.brief {
			continue
		}
		for _, path := range r.oddAddresses(side) {
			if files(name) || !strings.Contains(path, ".pdf") {
				r.ask(side, "GET", path, nil, name)
			}
		}
		for _, path := range append(r.addresses(side), r.oddAddresses(side)...) {
			if files(name) && !strings.Contains(path, ".pdf?") {
				r.askOddly(side, path, name)
			}
		}
	}
	for _, page := range []string{"lobby", "board", "reveal", "board&seat=2", "nothing"} {
		r.liveParts(page, name)
	}
	if !r.brief {
		r.inMemory(name)
	}
}

// files reports whether PDF files are asked for at a point of the play: they
// take long to make, and change only where trays, seats or their lists do.
func files(name string) bool {
	return name == "replacement called" || name == "all in"
}

// addresses fills the patterns of all GET routes with this session's names.
func (r *recorder) addresses(side string) []string {
	var paths []string
	s := r.room.State()
	walk(r.t, r.routes(side), func(method, pattern string) {
		if method != "GET" || strings.HasSuffix(pattern, "/*") || strings.HasSuffix(pattern, "/live") || pattern == "/ws" {
			return
		}
		base := strings.NewReplacer("{id}", string(s.ID), "{n}", "1", "{lot}", "lot-1", "{person}", "p-1", "{series}", "s-1", "{door}", s.Door()).Replace(pattern)
		paths = append(paths, base)
	})
	return paths
}

func (r *recorder) routes(side string) chi.Router {
	if side == "console" {
		return r.server.consoleSide.Routes()
	}
	return r.server.tasterSide.Routes()
}

func walk(t testing.TB, router chi.Router, visit func(method, pattern string)) {
	t.Helper()
	n := 0
	err := chi.Walk(router, func(method, pattern string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		n++
		visit(method, pattern)
		return nil
	})
	if err != nil || n == 0 {
		t.Fatalf("walked %d routes: %v", n, err)
	}
}

func (r *recorder) post(path string, form url.Values) {
	r.t.Helper()
	r.point++
	r.ask("console", "POST", path, form, "")
}

func (r *recorder) ask(side, method, path string, form url.Values, name string) {
	r.t.Helper()
	r.askWith(side, method, path, form, name, [2]string{})
}

func (r *recorder) askWith(side, method, path string, form url.Values, name string, header [2]string) {
	r.t.Helper()
	server := r.console
	if side == "tasters" {
		server = r.tasters
	}
	req, err := http.NewRequest(method, server.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		r.t.Fatal(err)
	}
	req.Host = "127.0.0.1"
	if header[0] != "" {
		req.Header.Set(header[0], header[1])
	}
	if method == "POST" || method == "PUT" {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Origin", "http://127.0.0.1")
	}
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.Do(req)
	if err != nil {
		r.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		r.t.Fatal(err)
	}
	resp.Header.Del("Date")
	var head bytes.Buffer
	resp.Header.Write(&head)
	r.record(fmt.Sprintf("%s: %s %s %s", name, side, method, path), fmt.Sprintf("%s\n%s\n%s", resp.Status, &head, body))
	match := chi.NewRouteContext()
	if r.routes(side).Match(match, method, strings.SplitN(path, "?", 2)[0]) {
		r.hit[side+" "+method+" "+match.RoutePattern()] = true
	}
}

// liveParts records the first parts that a live page gets.
func (r *recorder) liveParts(page, name string) {
	r.t.Helper()
	address := "ws" + strings.TrimPrefix(r.console.URL, "http") + "/s/" + string(r.room.State().ID) + "/live?page=" + page
	ws, resp, err := websocket.DefaultDialer.Dial(address, map[string][]string{"Origin": {r.console.URL}})
	if err != nil {
		if resp != nil { // refused in this phase, which is an answer too
			body, _ := io.ReadAll(resp.Body)
			r.record(name+": live "+page, resp.Status+string(body))
			return
		}
		r.t.Fatal(err)
	}
	defer ws.Close()
	r.hit["console GET /s/{id}/live"] = true
	var frame struct{ Parts map[string]string }
	if err := json.Unmarshal([]byte(read(r.t, ws)), &frame); err != nil {
		r.t.Fatal(err)
	}
	for _, id := range slices.Sorted(maps.Keys(frame.Parts)) {
		r.record(name+": live "+page, id+"="+frame.Parts[id])
	}
}

type lockedWriter struct {
	mu sync.Mutex
	w  io.Writer
}

func (l *lockedWriter) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(p)
}

func keysOf(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// blindPlans are the sessions that are played: the usual one; and one of another
// process and attribute, with both sides asked for, in red light, without
// results for tasters.
func blindPlans() map[string]session.Plan {
	other := testPlan(4, 2)
	other.Processed.Treatment = "carbon dioxide"
	other.Tests[1].TwoSided, other.Tests[1].Attribute, other.Tests[1].Definition = true, "sweetness", "Sweetness: as of sugar in water."
	other.Serving.Gate = true
	other.Conditions = session.Conditions{Light: "red lamps", Lids: true, HoldMin: 40, Retaste: session.RetasteNot}
	other.Serving.RedLight, other.Serving.OwnResult, other.Serving.RinseS = true, false, 0
	all := blindFlights()
	all["the usual plan"], all["another plan"] = testPlan(4, 2), other
	return all
}

// TestBlind compares runs under different keys.
func TestBlind(t *testing.T) {
	var mu sync.Mutex // guards hit
	hit := map[string]bool{}
	t.Run("plans", func(t *testing.T) {
		for name, p := range blindPlans() {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				one, asked := runBlind(t, p, keysOf(1), nil)
				mu.Lock()
				maps.Copy(hit, asked)
				mu.Unlock()
				if len(one) < 500 {
					t.Fatalf("only %d things were recorded", len(one))
				}
				for seed := uint64(2); seed <= 3; seed++ {
					two, _ := runBlind(t, p, keysOf(seed), nil)
					if diff := differences(one, two); diff != "" {
						t.Errorf("key %d can be told from key 1 before the reveal:\n%s", seed, diff)
					}
				}
			})
		}
	})
	// Every route was asked. Embedded files are the same in every program; the
	// pour sheet's own pages were asked without the PIN, and the phones' line
	// was used throughout.
	b := newBench(t, testPlan(2, 1), drawn(t, zeros{}))
	for side, routes := range map[string]chi.Router{"console": b.server.consoleSide.Routes(), "tasters": b.server.tasterSide.Routes()} {
		walk(t, routes, func(method, pattern string) {
			if strings.HasSuffix(pattern, "/*") || side+pattern == "tasters/ws" {
				return
			}
			if !hit[side+" "+method+" "+pattern] {
				t.Errorf("route %s %s of the %s is not covered: add it to the play", method, pattern, side)
			}
		})
	}
}

// TestBlindSeesLeaks plants leaks, each of which the comparison must find.
func TestBlindSeesLeaks(t *testing.T) {
	vessel := func(room *session.Room[*session.State], seat, set int) (vessels []session.Vessel, codes []session.Code) {
		sheet, err := room.State().PourSheet()
		if err != nil {
			return nil, nil
		}
		for _, tray := range sheet.Rounds[set-1].Trays {
			if tray.Seat == seat {
				for _, cup := range tray.Cups {
					vessels, codes = append(vessels, cup.Vessel), append(codes, cup.Code)
				}
			}
		}
		return vessels, codes
	}
	flights := blindFlights()
	plans := map[string]session.Plan{
		"the reference's vessel, in a header of the ballots":     flights["duo-trio with the untreated lot as reference, then 3-AFC"],
		"what goes with a tetrad's first cup, in a later flight": flights["tetrad, a blank test and a pair, two flights"],
	}
	leaks := map[string]func(room *session.Room[*session.State], w http.ResponseWriter, r *http.Request){
		"the reference's vessel, in a header of the ballots": func(room *session.Room[*session.State], w http.ResponseWriter, r *http.Request) {
			if v, _ := vessel(room, 1, 1); v != nil && strings.HasSuffix(r.URL.Path, "/print/ballots") {
				w.Header().Set("X-Mark", string(v[0]))
			}
		},
		"what goes with a tetrad's first cup, in a later flight": func(room *session.Room[*session.State], w http.ResponseWriter, r *http.Request) {
			if v, codes := vessel(room, 4, 1); v != nil && strings.HasSuffix(r.URL.Path, "/trail") {
				for i := 1; i < len(v); i++ {
					if v[i] == v[0] {
						w.Header().Set("X-Like", fmt.Sprint(codes[i]))
					}
				}
			}
		},
		"the odd cup's place, in a header of the board": func(room *session.Room[*session.State], w http.ResponseWriter, r *http.Request) {
			if v, _ := vessel(room, 1, 1); v != nil && strings.HasSuffix(r.URL.Path, "/board") {
				odd := 0
				for i := range v {
					if v[i] != v[(i+1)%3] && v[i] != v[(i+2)%3] {
						odd = i
					}
				}
				w.Header().Set("X-Columns", fmt.Sprint(3+odd))
			}
		},
		"which lot the first vessel holds, in the address of a redirect": func(room *session.Room[*session.State], w http.ResponseWriter, r *http.Request) {
			sheet, err := room.State().PourSheet()
			if err == nil && sheet.Lots[session.Disc].Untreated() {
				w.Header().Set("Content-Language", "en-GB")
			}
		},
		"labels sorted by what is in the cup": func(room *session.Room[*session.State], w http.ResponseWriter, r *http.Request) {
			if v, codes := vessel(room, 1, 1); v != nil && strings.HasSuffix(r.URL.Path, "/print/labels") {
				var first, second []session.Code
				for i := range v {
					if v[i] == session.Disc {
						first = append(first, codes[i])
					} else {
						second = append(second, codes[i])
					}
				}
				w.Header().Set("X-Order", fmt.Sprint(append(first, second...)))
			}
		},
	}
	for name, leak := range leaks {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			wrap := func(room *session.Room[*session.State], next http.Handler) http.Handler {
				return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
					leak(room, w, r)
					next.ServeHTTP(w, r)
				})
			}
			p, ok := plans[name]
			if !ok {
				p = testPlan(4, 2)
			}
			one, _ := runBlind(t, p, keysOf(1), wrap)
			for seed := uint64(2); seed <= 5; seed++ {
				if two, _ := runBlind(t, p, keysOf(seed), wrap); differences(one, two) != "" {
					return
				}
			}
			t.Error("the comparison did not find it")
		})
	}
}

// differences names the first few things that differ.
func differences(one, two recording) string {
	var say []string
	for _, key := range slices.Sorted(maps.Keys(one)) {
		if a, b := one[key], two[key]; a != b {
			i := 0
			for i < min(len(a), len(b)) && a[i] == b[i] {
				i++
			}
			say = append(say, fmt.Sprintf("%s, byte %d:\n   %q\n   %q", key, i, around(a, i), around(b, i)))
		}
	}
	for key := range two {
		if _, ok := one[key]; !ok {
			say = append(say, key+": only in the second run")
		}
	}
	if len(say) > 5 {
		say = append(say[:5], fmt.Sprintf("and %d more", len(say)-5))
	}
	return strings.Join(say, "\n")
}

func around(s string, i int) string { return s[max(0, i-60):min(len(s), i+60)] }
