package web

import (
	"io"
	"log/slog"
	"net/http"
	"time"

	"oddcup/session"
	"oddcup/web/console"
	"oddcup/web/guard"
	"oddcup/web/taster"
)

// Config is what both sides need from outside.
type Config struct {
	Rooms  *session.Rooms
	Now    func() time.Time
	Chance io.Reader // of tokens, salts and seeds; safe for use by several goroutines
	// Draw seals a plan; nil means session.Seal with Chance.
	Draw func(session.Plan) (session.Sealing, error)
	// Join is the address of the tasters' listener, without a slash at its end.
	Join        string
	Copy        console.Copy // of the data file, for the host; nil where there is none
	JoinTrouble string       // why phones may not reach it, "" if nothing is known
	// ConsoleNames and TasterNames are the host names that each listener
	// answers to.
	ConsoleNames, TasterNames guard.Names
	Log                       *slog.Logger
}

// Server is both sides, to be put behind two listeners.
type Server struct {
	Console http.Handler // for the loopback address only
	Tasters http.Handler

	consoleSide *console.Console
	tasterSide  *taster.Tasters
}

// New makes both sides over the same sessions.
func New(c Config) *Server {
	if c.Draw == nil {
		c.Draw = func(p session.Plan) (session.Sealing, error) { return session.Seal(p, c.Chance) }
	}
	presence := taster.NewPresence(c.Now)
	s := &Server{
		consoleSide: console.New(console.Config{
			Rooms: c.Rooms, Presence: presence, Now: c.Now, Chance: c.Chance, Draw: c.Draw,
			Join: c.Join, JoinTrouble: c.JoinTrouble, Copy: c.Copy, Log: c.Log,
		}),
		tasterSide: taster.New(taster.Config{
			Rooms: c.Rooms, Presence: presence, Now: c.Now, Chance: c.Chance, Log: c.Log,
		}),
	}
	s.Console = s.consoleSide.Handler(c.ConsoleNames)
	s.Tasters = s.tasterSide.Handler(c.TasterNames)
	return s
}

// Close cuts the phones' lines and waits for them. The console's live pages end
// with the Rooms, which are the caller's to close.
func (s *Server) Close() { s.tasterSide.Close() }
