package console

import (
	"context"
	"html/template"
	"net/http"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
)

// A live page is rendered whole once; afterwards its websocket brings the parts
// that changed, as HTML by the id of the element that they replace:
//
//	{"parts": {"seat-7": "<li id=\"seat-7\">…</li>"}}
//
// Parts are made by the same templates as the page.
type parts func(*session.State) (map[string]template.HTML, error)

var upgrader = websocket.Upgrader{
	ReadBufferSize: 512, WriteBufferSize: 4096,
	// The guard has checked the origin already.
	CheckOrigin: func(*http.Request) bool { return true },
}

const (
	liveWrite  = 5 * time.Second
	livePing   = 20 * time.Second
	liveSilent = 50 * time.Second // no pong for so long: the page is gone
	// liveCalm bounds how often a busy table is drawn anew.
	liveCalm = 100 * time.Millisecond
)

// live serves a page's websocket until the page goes, the Room closes or the
// program stops.
func (c *Console) live(w http.ResponseWriter, r *http.Request, room *session.Room[*session.State], make parts) error {
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return nil // Upgrade has answered
	}
	defer conn.Close()
	changes, stop := room.Watch()
	defer stop()
	signs, stopSigns := c.Presence.Watch()
	defer stopSigns()
	ctx, gone := context.WithCancel(context.WithoutCancel(r.Context()))
	defer gone()
	reading := readAway(conn, gone)
	defer func() { conn.Close(); <-reading }()

	sent := map[string]template.HTML{}
	tick := time.NewTicker(livePing)
	defer tick.Stop()
	for {
		now, err := make(room.State())
		if err != nil {
			c.Log.Error("console: live part", "err", err)
			return nil
		}
		news := map[string]template.HTML{}
		for id, html := range now {
			if sent[id] != html {
				news[id] = html
			}
		}
		sent = now
		if len(news) > 0 {
			conn.SetWriteDeadline(time.Now().Add(liveWrite))
			if err := conn.WriteJSON(map[string]any{"parts": news}); err != nil {
				return nil
			}
		}
		select {
		case <-ctx.Done():
			return nil
		case <-room.Done():
			return nil
		case <-changes:
		case <-signs:
		case <-tick.C:
			if err := conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(liveWrite)); err != nil {
				return nil
			}
			continue
		}
		time.Sleep(liveCalm)
	}
}

// readAway reads and drops what the page sends, so that pongs and the close are
// heard, and calls gone when the line ends.
func readAway(conn *websocket.Conn, gone func()) <-chan struct{} {
	done := make(chan struct{})
	conn.SetReadLimit(512)
	conn.SetReadDeadline(time.Now().Add(liveSilent))
	conn.SetPongHandler(func(string) error {
		return conn.SetReadDeadline(time.Now().Add(liveSilent))
	})
	go func() {
		defer close(done)
		defer gone()
		for {
			if _, _, err := conn.NextReader(); err != nil {
				return
			}
		}
	}()
	return done
}
