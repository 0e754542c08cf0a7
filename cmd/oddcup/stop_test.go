package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"
)

// dialLive opens a websocket of a page, as a browser on that page does.
func dialLive(t testing.TB, base, path string) *websocket.Conn {
	t.Helper()
	ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(base, "http")+path, http.Header{"Origin": {base}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ws.Close() })
	return ws
}

// TestServeEndsOnSignals: Ctrl-C and a polite kill end the program well, with
// phones and a live page open, and leave a consistent file.
func TestServeEndsOnSignals(t *testing.T) {
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		t.Run(signal.String(), func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "lab.oddcup")
			id, phones := crashSession(t, file, 0)
			c := startServe(t, "--data", file, "--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0")
			dialLive(t, c.console, "/s/"+string(id)+"/live?page=board")
			ready, start := make(chan struct{}, 1), make(chan struct{})
			close(start)
			if err := phones[0].lock(c, 1, ready, start, make(chan struct{}, 1)); err != nil {
				t.Fatal(err)
			}
			dialLive(t, c.join, "/ws")
			begun := time.Now()
			if err := c.cmd.Process.Signal(signal); err != nil {
				t.Fatal(err)
			}
			select {
			case err := <-c.waited:
				if err != nil {
					t.Errorf("ended with %v", err)
				}
				c.waited <- nil
			case <-time.After(20 * time.Second):
				t.Fatal("goes on 20 s later")
			}
			if took := time.Since(begun); took > 8*time.Second {
				t.Errorf("took %v to end", took)
			}
			if s := readSession(t, file, id); s.Seats[0].Sets[0].Kept() == nil || !phones[0].kept[1] {
				t.Error("the answer that was kept is not in the file")
			}
		})
	}
}

// TestInterrupted: a command that is cut off says so by its exit code.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, args := range [][]string{{"demo", "--once"}, {"simulate", "--sessions", "1000000"}} {
		var out, errs bytes.Buffer
		if code := exitCode(run(ctx, args, &out, &errs), &errs); code != interrupted || !strings.Contains(errs.String(), "interrupted") {
			t.Errorf("oddcup %v, cut off: exit code %d, %q", args, code, errs.String())
		}
	}
	if code := exitCode(errors.New("a trouble"), io.Discard); code != 1 {
		t.Errorf("a trouble has exit code %d", code)
	}
}

// TestOutputIsPure runs the program as a process: its standard output is JSON
// and nothing else, and all remarks are on standard error.
func TestOutputIsPure(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, "demo", "--json", "--once", "--seed", "3", "--tasters", "6")
	cmd.Env = append(os.Environ(), "ODDCUP_TEST_CHILD=1")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %s", err, errs.String())
	}
	dec := json.NewDecoder(&out)
	var result map[string]any
	if err := dec.Decode(&result); err != nil {
		t.Fatal(err)
	}
	if rest, err := io.ReadAll(io.MultiReader(dec.Buffered(), &out)); err != nil || strings.TrimSpace(string(rest)) != "" {
		t.Errorf("behind the JSON stands %q, %v", rest, err)
	}
	if result["demonstration"] != true || result["tests"] == nil {
		t.Errorf("read back %v", result)
	}
	if !strings.Contains(errs.String(), "seed 3") {
		t.Errorf("standard error: %q", errs.String())
	}
	for _, never := range []string{"level=", "goroutine", "panic"} {
		if strings.Contains(errs.String(), never) {
			t.Errorf("standard error holds %q: %s", never, errs.String())
		}
	}
}

// TestCloseOfTheHouse: with a live page of the console, phones, a browser's idle
// connection and one that has sent nothing, the house closes within seconds and
// no goroutine of it goes on.
func TestCloseOfTheHouse(t *testing.T) {
	file := filepath.Join(t.TempDir(), "lab.oddcup")
	id, phones := crashSession(t, file, 0)
	h, err := openHouse(t.Context(), houseOptions{data: file, console: "127.0.0.1:0", tasters: "127.0.0.1:0", log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	live := dialLive(t, h.console, "/s/"+string(id)+"/live?page=board")
	if _, _, err := live.ReadMessage(); err != nil {
		t.Fatal(err)
	}
	phone := dialLive(t, h.join, "/ws")
	if err := phone.WriteJSON(map[string]any{"t": "hello", "v": 1, "door": phones[1].door, "token": strings.Repeat("0a", 16)}); err != nil {
		t.Fatal(err)
	}
	dialLive(t, h.join, "/ws") // says no hello
	resp, err := http.Get(h.console + "/")
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	silent, err := net.Dial("tcp", strings.TrimPrefix(h.console, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	begun := time.Now()
	h.close()
	if took := time.Since(begun); took > 5*time.Second {
		t.Errorf("closing took %v", took)
	}
	live.SetReadDeadline(time.Now().Add(5 * time.Second))
	for {
		_, _, err := live.ReadMessage()
		if wait, ok := errors.AsType[net.Error](err); ok && wait.Timeout() {
			t.Error("the live page stays open")
		}
		if err != nil {
			break
		}
	}
	stacks := ""
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		buf := make([]byte, 1<<20)
		stacks = ""
		for _, g := range strings.Split(string(buf[:runtime.Stack(buf, true)]), "\n\n") {
			if strings.Contains(g, "oddcup/web") || strings.Contains(g, "oddcup/session") || strings.Contains(g, "oddcup/store") {
				stacks += g + "\n\n"
			}
		}
		if stacks == "" {
			return
		}
	}
	t.Errorf("goroutines go on:\n%s", stacks)
}

// TestAllAddresses: a listener on all of the laptop's addresses sends phones to
// one that they can reach, and answers under it.
func TestAllAddresses(t *testing.T) {
	for _, tasters := range []string{"0.0.0.0:0", ":0"} {
		h, err := openHouse(t.Context(), houseOptions{
			data: filepath.Join(t.TempDir(), "lab.oddcup"), console: "127.0.0.1:0", tasters: tasters, log: slog.New(slog.DiscardHandler),
		})
		if err != nil {
			t.Fatal(err)
		}
		defer h.close()
		host := hostOf(strings.TrimPrefix(h.join, "http://"))
		if ip := net.ParseIP(host); ip == nil || ip.IsUnspecified() {
			t.Errorf("--tasters %s sends phones to %s", tasters, h.join)
		}
		for _, base := range []string{h.join, "http://127.0.0.1:" + portOf(strings.TrimPrefix(h.join, "http://"))} {
			resp, err := http.Get(base + "/j/3WHXX9")
			if err != nil {
				t.Fatal(err)
			}
			resp.Body.Close()
			if resp.StatusCode != http.StatusOK {
				t.Errorf("--tasters %s: %s answers %s", tasters, base, resp.Status)
			}
		}
		r, err := http.NewRequest("GET", h.join, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = "evil.example"
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != http.StatusMisdirectedRequest {
			t.Errorf("--tasters %s: a foreign name gets %s", tasters, resp.Status)
		}
	}
}

// TestNamedHost: phones are sent to the name that was given, and it is answered to.
func TestNamedHost(t *testing.T) {
	h, err := openHouse(t.Context(), houseOptions{
		data: filepath.Join(t.TempDir(), "lab.oddcup"), console: "127.0.0.1:0", tasters: "127.0.0.1:0",
		names: []string{"tasting.lan", "other.lan"}, log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		t.Fatal(err)
	}
	defer h.close()
	if !strings.HasPrefix(h.join, "http://tasting.lan:") || h.trouble != "" {
		t.Errorf("phones are sent to %s, %q", h.join, h.trouble)
	}
	for host, want := range map[string]int{"tasting.lan": 200, "other.lan:7761": 200, "127.0.0.1": 200, "localhost": 421, "third.lan": 421} {
		r := httptest.NewRequest("GET", "http://x/j/3WHXX9", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.web.Tasters.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("%s: %d, want %d", host, w.Code, want)
		}
	}
}

// TestHandlerPanicIsLogged: what goes wrong in a page stands in the terminal.
func TestHandlerPanicIsLogged(t *testing.T) {
	var logged bytes.Buffer
	h := &house{failed: make(chan error, 1)}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	h.serve(l, http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("a page of ours") }), newLog(&logged))
	if resp, err := http.Get("http://" + l.Addr().String()); err == nil {
		resp.Body.Close()
		t.Errorf("a page that panics answers %s", resp.Status)
	}
	h.close()
	if !strings.Contains(logged.String(), "a page of ours") {
		t.Errorf("the log says %q", logged.String())
	}
}
