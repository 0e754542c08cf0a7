// Package console is the host's side: the pages of the head cupper, and the
// pourer's sheet behind its PIN. It is served on the loopback address only.
//
// No rule of the trade lives here: a form becomes a command, a state becomes a
// page. What the pages show before the reveal is the same under every key; the
// pour sheet is the one exception, and it has paths of its own.
package console

import (
	"bytes"
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/asset"
	"oddcup/web/guard"
	"oddcup/web/look"
	"oddcup/web/paper"
	"oddcup/web/say"
	"oddcup/web/taster"
)

//go:embed pages
var pages embed.FS

//go:embed static
var static embed.FS

// Config is what the console needs from outside.
type Config struct {
	Rooms    *session.Rooms
	Presence *taster.Presence
	Now      func() time.Time
	Chance   io.Reader
	// Draw seals a plan: session.Seal with the program's chance, but for tests
	// and demonstrations that repeat.
	Draw func(session.Plan) (session.Sealing, error)
	// Join is the address of the tasters' listener, such as
	// http://192.0.2.14:7734, to which /j/{door} is added.
	Join string
	// JoinTrouble says why phones may not reach Join, "" if nothing is known.
	JoinTrouble string
	Copy        Copy // of the data file; nil where there is none
	Log         *slog.Logger
}

// Console holds the host's pages. Make one with New.
type Console struct {
	Config
	assets *asset.Set
	tmpl   *template.Template
	pours  pourers
	books  bookKeeper
}

// New prepares the pages. A template that doesn't parse is our own bug.
func New(c Config) *Console {
	own, err := fs.Sub(static, "static")
	if err != nil {
		panic(err)
	}
	shared, err := fs.Sub(look.Static, "static")
	if err != nil {
		panic(err)
	}
	made := map[string][]byte{"labels.css": paper.LabelCSS()}
	con := &Console{Config: c, assets: asset.New(made, own, shared)}
	con.tmpl = template.Must(template.New("").Funcs(con.funcs()).ParseFS(pages, "pages/*.html"))
	return con
}

// Handler gives all routes of the host's listener, behind its guard.
func (c *Console) Handler(names guard.Names) http.Handler {
	return guard.Handler(names, c.refuse, c.Routes(), guard.Wider{Path: papersPath, Bytes: mostPaperBody})
}

// Routes gives the bare routes; tests walk them.
func (c *Console) Routes() chi.Router {
	r := chi.NewRouter()
	r.NotFound(c.page(func(http.ResponseWriter, *http.Request) error {
		return problem{http.StatusNotFound, "There is no such page.", "Go to the home page."}
	}))
	r.MethodNotAllowed(c.page(func(http.ResponseWriter, *http.Request) error {
		return problem{http.StatusMethodNotAllowed, "This page can't be used that way.", "Go to the home page."}
	}))
	r.Get(c.assets.Base()+"/*", c.assets.ServeHTTP)
	c.deskRoutes(r)
	c.backupRoutes(r)
	c.planRoutes(r)
	c.printRoutes(r)
	c.pourRoutes(r)
	c.tableRoutes(r)
	c.benchRoutes(r)
	c.resultRoutes(r)
	c.reportRoutes(r)
	c.handRoutes(r)
	c.sealRoutes(r)
	c.amendRoutes(r)
	c.peopleRoutes(r)
	c.judgesRoutes(r)
	return r
}

// problem is an error with its words for a person.
type problem struct {
	status    int
	say, next string
}

func (p problem) Error() string { return p.say }

// page turns a handler that returns an error into one that answers it.
func (c *Console) page(h func(http.ResponseWriter, *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			c.answer(w, r, err)
		}
	}
}

// answer is the one place where an error becomes a page.
func (c *Console) answer(w http.ResponseWriter, r *http.Request, err error) {
	var p problem
	if !errors.As(err, &p) {
		words, foreseen := say.Of(err)
		if !foreseen {
			c.Log.Error("console", "path", r.URL.Path, "err", err)
		}
		p = problem{words.Status, words.Say, words.Next}
		if errors.Is(err, session.ErrPhase) {
			p.next = "It may have gone on in another window. Its page shows where it is and what comes next."
		}
	}
	c.refuse(w, r, p.status, p.say, p.next)
}

// refuse leads back to the session that the address names, else home.
func (c *Console) refuse(w http.ResponseWriter, r *http.Request, status int, say, next string) {
	p := Page{Title: "Not done", Base: c.assets.Base(), Lab: c.labName()}
	to := link{"/", "Go to the home page"}
	if chi.RouteContext(r.Context()) != nil {
		if room, err := c.room(r); err == nil {
			p.Session = head(room.State())
			to = link{"/s/" + string(p.Session.ID), "Go to the session"}
		}
	}
	p.Body = struct {
		Say, Next string
		To        link
	}{say, next, to}
	var b bytes.Buffer
	err := c.tmpl.ExecuteTemplate(&b, "problem.html", p)
	if err != nil {
		c.Log.Error("console: problem page", "err", err)
		http.Error(w, say+" "+next, status)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	b.WriteTo(w)
}

// Page is what every template gets.
type Page struct {
	Title   string // of the browser's tab
	Nav     string // the entry that is marked as current: home, lots, judges, plan, print, lobby, bench, board, result, key, trail
	Base    string // address prefix of the assets
	Lab     string // the laboratory's name, "" for none
	Session *Head  // of the session that the page is about; nil for none
	Live    string // address of the page's websocket, "" for none
	Body    any
}

// Head is what every page about a session shows of it.
type Head struct {
	ID       session.ID
	Title    string
	Phase    session.Phase
	Demo     bool
	Practice bool
	Broken   *session.Noting // the seal was broken before the reveal; nil if not
}

func head(s *session.State) *Head {
	title := s.Plan.Title
	if title == "" {
		title = "Session without a title"
	}
	return &Head{s.ID, title, s.Phase, s.Demo, s.Plan.Practice, s.Broken}
}

func (c *Console) labName() string { return c.Rooms.Lab().State().Name }

// render writes a whole page or none: it goes through a buffer.
func (c *Console) render(w http.ResponseWriter, name string, p Page) error {
	p.Base, p.Lab = c.assets.Base(), c.labName()
	var b bytes.Buffer
	if err := c.tmpl.ExecuteTemplate(&b, name, p); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, err := b.WriteTo(w)
	if err != nil {
		c.Log.Debug("console: page not taken", "page", name, "err", err)
	}
	return nil
}

// fragment renders a named template to HTML, for live parts.
func (c *Console) fragment(name string, data any) (template.HTML, error) {
	var b bytes.Buffer
	if err := c.tmpl.ExecuteTemplate(&b, name, data); err != nil {
		return "", fmt.Errorf("fragment %s: %w", name, err)
	}
	return template.HTML(b.String()), nil
}

// room finds the session that the address names.
func (c *Console) room(r *http.Request) (*session.Room[*session.State], error) {
	return c.Rooms.Session(r.Context(), session.ID(chi.URLParam(r, "id")))
}

// do sends a host's command to a session.
func (c *Console) do(ctx context.Context, room *session.Room[*session.State], act session.Act) ([]session.Recorded, error) {
	return room.Do(ctx, session.Command{At: c.Now(), Actor: session.Host, Act: act})
}

// seeOther sends the browser on after a form, so that a reload sends nothing twice.
func seeOther(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
