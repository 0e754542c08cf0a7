package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"sync"
	"syscall"
	"time"

	"oddcup/session"
	"oddcup/store"
	"oddcup/web"
	"oddcup/web/guard"
)

// house is a running program: one data file, its sessions, two listeners.
type house struct {
	data    string // the file's path
	db      *store.DB
	rooms   *session.Rooms
	web     *web.Server
	console string // address of the console
	join    string // address of the tasters' pages
	trouble string // why phones may not reach it
	servers []*http.Server
	failed  chan error // of a listener; holds one for each server
}

type houseOptions struct {
	data    string
	console string
	tasters string
	names   []string
	draw    func(session.Plan) (session.Sealing, error)
	log     *slog.Logger
}

// openHouse opens the file, listens, then serves: a port in use is an error
// here, before anything is said to be ready.
func openHouse(ctx context.Context, o houseOptions) (*house, error) {
	h := &house{failed: make(chan error, 2)}
	if err := h.open(ctx, o); err != nil {
		h.close()
		return nil, err
	}
	return h, nil
}

func (h *house) open(ctx context.Context, o houseOptions) (err error) {
	for _, name := range o.names {
		if !isHostName(name) {
			return hinted{
				fmt.Errorf("--name %q is not a host name", name),
				"give the name alone, without http:// and port, such as --name tasting.lan",
			}
		}
	}
	if h.db, err = openStore(o.data); err != nil {
		return err
	}
	h.data = o.data
	removeCopies(h.data)
	if h.rooms, err = session.NewRooms(ctx, h.db); err != nil {
		return fmt.Errorf("%s: %w", o.data, err)
	}
	// One may have been cut off.
	if err := h.rooms.FinishErasures(ctx, time.Now()); err != nil {
		return hinted{fmt.Errorf("%s: %w", o.data, err), "look whether the folder can be written to and has room for a second copy of the file, then start again"}
	}
	switch err := h.rooms.OpenAll(ctx); {
	case errors.Is(err, session.ErrNewer):
		return hinted{fmt.Errorf("%s: %w", o.data, err), "start the newer oddcup, or name another file with --data FILE"}
	case err != nil:
		o.log.Warn("a session can't be read; the others are served", "file", o.data, "err", err)
	}
	if host, _, err := net.SplitHostPort(o.console); err != nil || !isLoopback(host) {
		return hinted{
			fmt.Errorf("console address %s is not on this laptop's loopback", o.console),
			"the console shows the host's side and stays on loopback, such as 127.0.0.1:7760",
		}
	}
	consoleL, err := listen(o.console, "--console")
	if err != nil {
		return err
	}
	tasters, trouble := o.tasters, ""
	if tasters == "" {
		tasters, trouble = lanAddress()
	}
	tasterL, err := listen(tasters, "--tasters")
	if err != nil {
		consoleL.Close()
		return err
	}
	h.console = "http://" + consoleL.Addr().String()
	names := append(o.names, addressesOf(tasterL.Addr())...)
	name := names[0]
	if bound := hostOf(tasterL.Addr().String()); len(o.names) == 0 && !slices.Contains(names, bound) {
		// All of the laptop's addresses are listened on; phones get the likeliest.
		var likely string
		likely, trouble = lanAddress()
		name = hostOf(likely)
	}
	h.join = "http://" + net.JoinHostPort(name, portOf(tasterL.Addr().String()))
	h.trouble = trouble
	h.web = web.New(web.Config{
		Rooms: h.rooms, Now: time.Now, Chance: rand.Reader, Draw: o.draw,
		Join: h.join, JoinTrouble: trouble, Copy: h.copyOut,
		ConsoleNames: guard.Names{"localhost", "127.0.0.1", "::1"},
		TasterNames:  names,
		Log:          o.log,
	})
	h.serve(consoleL, h.web.Console, o.log)
	h.serve(tasterL, h.web.Tasters, o.log)
	return nil
}

// serve answers requests in its own goroutine. The time limits are for pages;
// a websocket has its own, and leaves these behind.
func (h *house) serve(l net.Listener, handler http.Handler, log *slog.Logger) {
	s := &http.Server{
		Handler: handler, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 20 * time.Second,
		WriteTimeout: time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 1 << 14, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
	h.servers = append(h.servers, s)
	go func() {
		if err := s.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			h.failed <- fmt.Errorf("listener %s: %w", l.Addr(), err)
		}
	}()
}

// close ends everything in the order that loses nothing: phones first, then
// sessions, then the file.
func (h *house) close() {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	var ending sync.WaitGroup
	for _, s := range h.servers {
		ending.Go(func() {
			if s.Shutdown(ctx) != nil {
				s.Close()
			}
		})
	}
	ending.Wait()
	if h.web != nil {
		h.web.Close()
	}
	if h.rooms != nil {
		h.rooms.Close()
	}
	if h.db != nil {
		h.db.Close()
	}
}

func listen(address, flag string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	switch {
	case err == nil:
		return l, nil
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, hinted{
			fmt.Errorf("%s is in use by another program", address),
			fmt.Sprintf("stop it, or choose another address with %s ADDRESS:PORT", flag),
		}
	}
	return nil, hinted{
		fmt.Errorf("%s can't be listened on: %w", address, err),
		fmt.Sprintf("choose an address of this laptop with %s ADDRESS:PORT", flag),
	}
}

func newLog(w io.Writer) *slog.Logger {
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: slog.LevelWarn}))
}
