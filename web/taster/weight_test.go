package taster

import (
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"path"
	"regexp"
	"sync/atomic"
	"testing"

	"oddcup/session"
	"oddcup/web/guard"
)

// pageWeight is the most that the phones' page may cost over the air, in bytes:
// on a crowded network 24 phones load it at once.
const pageWeight = 40_000

// counted counts what comes over a connection.
type counted struct {
	net.Conn
	n *atomic.Int64
}

func (c counted) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	c.n.Add(int64(n))
	return n, err
}

// TestPageWeight loads the phones' page as a browser does, every script that a
// script imports included, and counts the bytes of the answers on the wire,
// headers and all.
func TestPageWeight(t *testing.T) {
	rooms, err := session.NewRooms(t.Context(), new(session.Memory))
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	ts := New(Config{Rooms: rooms, Presence: NewPresence(nil), Log: slog.New(slog.DiscardHandler)})
	server := httptest.NewServer(ts.Handler(guard.Names{"127.0.0.1"}))
	defer server.Close()
	var wire atomic.Int64
	transport := &http.Transport{
		DisableCompression: true, // the header is set below, so that nothing is unpacked unseen
		DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			c, err := new(net.Dialer).DialContext(ctx, network, address)
			return counted{c, &wire}, err
		},
	}
	defer transport.CloseIdleConnections()
	plain := &http.Client{Transport: &http.Transport{}} // unpacks, to read what to load next
	load := func(address string) string {
		t.Helper()
		for i, client := range []*http.Client{{Transport: transport}, plain} {
			r, err := http.NewRequest("GET", server.URL+address, nil)
			if err != nil {
				t.Fatal(err)
			}
			if i == 0 {
				r.Header.Set("Accept-Encoding", "gzip, deflate")
			}
			resp, err := client.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(resp.Body)
			resp.Body.Close()
			if err != nil || resp.StatusCode != http.StatusOK {
				t.Fatalf("%s: %s, %v", address, resp.Status, err)
			}
			if i == 1 {
				return string(b)
			}
		}
		panic("unreachable")
	}
	asked := map[string]bool{}
	var walk func(address string, links *regexp.Regexp)
	walk = func(address string, links *regexp.Regexp) {
		if asked[address] {
			return
		}
		asked[address] = true
		for _, m := range links.FindAllStringSubmatch(load(address), -1) {
			to := m[1]
			if to[0] == '.' {
				to = path.Join(path.Dir(address), to)
			}
			walk(to, imports)
		}
	}
	walk("/j/3WHXX9", pageLinks)
	total := wire.Load()
	t.Logf("%d requests, %d bytes", len(asked), total)
	if total > pageWeight {
		t.Errorf("the phones' page costs %d bytes over the air, %d at most", total, pageWeight)
	}
	for _, must := range []string{"app.js", "taster.css", "tokens.css", "glyphdata.js", "vendor/htm-preact-3.1.1.js", "screens/taste.js"} {
		if !asked[ts.assets.Base()+"/"+must] {
			t.Errorf("%s was not asked for: the count is too low", must)
		}
	}
}

// pageLinks are what a page loads: sheets, scripts and what is preloaded.
var pageLinks = regexp.MustCompile(`(?:href|src)="(/[^"]+)"`)
