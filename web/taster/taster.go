// Package taster is the tasters' side: the page on their phones and the
// websocket behind it. It turns frames into commands and a session's state into
// each phone's view. The protocol is written down in package web.
package taster

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/go-chi/chi/v5"
	"github.com/gorilla/websocket"
	"golang.org/x/time/rate"

	"oddcup/session"
	"oddcup/web/asset"
	"oddcup/web/guard"
	"oddcup/web/look"
)

//go:embed static
var static embed.FS

//go:embed pages
var pages embed.FS

// Config is what the tasters' side needs from outside.
type Config struct {
	Rooms    *session.Rooms
	Presence *Presence
	Now      func() time.Time
	Chance   io.Reader
	Log      *slog.Logger
}

// Tasters serves the phones. Make one with New, end it with Close.
type Tasters struct {
	Config
	assets *asset.Set
	tmpl   *template.Template

	mu     sync.Mutex // guards the following fields
	lines  map[*line]struct{}
	seats  map[place]*line // the phone that has a seat; the newest wins
	closed bool
	open   sync.WaitGroup // one for each line
}

// New prepares the pages. A template that doesn't parse is our own bug.
func New(c Config) *Tasters {
	app, err := fs.Sub(static, "static")
	if err != nil {
		panic(err)
	}
	tokens, err := fs.ReadFile(look.Static, "static/tokens.css")
	if err != nil {
		panic(err)
	}
	t := &Tasters{
		Config: c, lines: map[*line]struct{}{}, seats: map[place]*line{},
		assets: asset.New(map[string][]byte{
			"tokens.css": tokens, "glyphdata.js": look.GlyphModule(),
		}, app),
	}
	t.tmpl = template.Must(template.ParseFS(pages, "pages/*.html"))
	return t
}

// Handler gives all routes of the tasters' listener, behind its guard.
func (t *Tasters) Handler(names guard.Names) http.Handler {
	return guard.Handler(names, t.refuse, t.Routes())
}

// Routes gives the bare routes; tests walk them.
func (t *Tasters) Routes() chi.Router {
	r := chi.NewRouter()
	r.Get("/", t.front)
	r.Get("/j/{door}", t.app)
	r.Get("/ws", t.ws)
	r.Get(t.assets.Base()+"/*", t.assets.ServeHTTP)
	r.NotFound(func(w http.ResponseWriter, r *http.Request) {
		t.render(w, http.StatusNotFound, "refused.html", refusal{"There is no such page.", "Type the code from your seat card here, or point the phone’s camera at the square on it.", true})
	})
	r.MethodNotAllowed(func(w http.ResponseWriter, r *http.Request) {
		t.refuse(w, r, http.StatusMethodNotAllowed, "This page can't be used that way.", "Go to the front page.")
	})
	return r
}

// front is for who came without a code: it leads to the one session that takes
// people, or asks for the code.
func (t *Tasters) front(w http.ResponseWriter, r *http.Request) {
	door := normalDoor(r.URL.Query().Get("door"))
	if door == "" {
		door = t.onlyLobby()
	}
	if door != "" {
		http.Redirect(w, r, "/j/"+url.PathEscape(door), http.StatusSeeOther)
		return
	}
	t.render(w, http.StatusOK, "front.html", nil)
}

// onlyLobby is the door of the session that takes people now, "" if none or
// several do.
func (t *Tasters) onlyLobby() string {
	door := ""
	for _, room := range t.Rooms.Live() {
		if s := room.State(); s.LobbyOpen {
			if door != "" {
				return ""
			}
			door = s.Door()
		}
	}
	return door
}

// app is the one page of every address with a door. Where the plan wants the
// red-light screen it is red from the first paint on.
func (t *Tasters) app(w http.ResponseWriter, r *http.Request) {
	red := false
	if room, ok := t.Rooms.ByDoor(normalDoor(chi.URLParam(r, "door"))); ok {
		red = room.State().Plan.Serving.RedLight
	}
	t.render(w, http.StatusOK, "app.html", struct{ Red bool }{red})
}

type refusal struct {
	Say, Next string
	Ask       bool // for the code of a seat card
}

func (t *Tasters) refuse(w http.ResponseWriter, _ *http.Request, status int, say, next string) {
	t.render(w, status, "refused.html", refusal{say, next, false})
}

func (t *Tasters) render(w http.ResponseWriter, status int, name string, body any) {
	var b strings.Builder
	if err := t.tmpl.ExecuteTemplate(&b, name, struct {
		Base string
		Body any
	}{t.assets.Base(), body}); err != nil {
		t.Log.Error("phone page", "page", name, "err", err)
		http.Error(w, "Something went wrong on the host laptop.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	fmt.Fprint(w, b.String())
}

var upgrader = websocket.Upgrader{
	ReadBufferSize: 512, WriteBufferSize: 1024, WriteBufferPool: new(sync.Pool),
	// The guard has checked the origin already.
	CheckOrigin: func(*http.Request) bool { return true },
}

// ws serves one phone until its line ends.
func (t *Tasters) ws(w http.ResponseWriter, r *http.Request) {
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return // Upgrade has answered
	}
	l := &line{
		t: t, ws: conn, out: make(chan []byte, outQueue), gone: make(chan struct{}),
		limits: rate.NewLimiter(framesPerSecond, framesAtOnce),
	}
	if !t.enter(l) {
		conn.Close()
		return
	}
	defer t.exit(l)
	l.serve(r.Context())
}

func (t *Tasters) enter(l *line) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		return false
	}
	t.lines[l] = struct{}{}
	t.open.Add(1)
	return true
}

func (t *Tasters) exit(l *line) {
	t.mu.Lock()
	delete(t.lines, l)
	t.mu.Unlock()
	t.open.Done()
}

// arrive gives a seat to a line, 0 for none; the line that had it is told by
// its own writer, which sees at the next look that it holds the seat no more.
// Who holds a seat and whether it is in touch change together, here and in
// leave: a line that goes must not hide the one that came.
func (t *Tasters) arrive(l *line, seat int) {
	if seat == 0 {
		return
	}
	at := place{l.room.State().ID, seat}
	t.mu.Lock()
	before := t.seats[at]
	t.seats[at] = l
	t.Presence.touch(at.session, seat, true)
	t.mu.Unlock()
	if before != nil && before != l {
		t.Presence.nudge()
	}
}

func (t *Tasters) holds(l *line, seat int) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.seats[place{l.room.State().ID, seat}] == l
}

func (t *Tasters) leave(l *line, seat int) {
	if seat == 0 {
		return
	}
	at := place{l.room.State().ID, seat}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.seats[at] == l {
		delete(t.seats, at)
		t.Presence.touch(at.session, seat, false)
	}
}

// Close cuts every line and waits for each.
func (t *Tasters) Close() {
	t.mu.Lock()
	t.closed = true
	for l := range t.lines {
		l.ws.Close()
	}
	t.mu.Unlock()
	t.open.Wait()
}

// normalDoor reads a join code as people type it.
func normalDoor(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '-' {
			return -1
		}
		return unicode.ToUpper(r)
	}, s)
}

// isCode reports whether what was typed for a name is a join code: who typed it has
// a seat card, and would get another seat than the one on it.
func (t *Tasters) isCode(name string) bool {
	door := normalDoor(name)
	_, known := t.Rooms.ByDoor(door)
	return known || session.LikeDoor(door)
}

// cleanName drops what can't be printed, and what is too long to be a name.
func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsPrint(r):
			return -1
		}
		return r
	}, s)
	r := []rune(strings.Join(strings.Fields(s), " "))
	if len(r) > maxName {
		r = r[:maxName]
	}
	return strings.TrimSpace(string(r))
}
