package console

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/web/taster"
)

// shelf is a journal in memory with session files of other laboratories.
type shelf struct {
	session.Memory
	files []session.Received
}

func (s *shelf) Received(context.Context) ([]session.Received, error) { return s.files, nil }

// receivedConsole is a console over those files.
func receivedConsole(t *testing.T, files ...session.Received) func(path string) (int, string) {
	t.Helper()
	rooms, err := session.NewRooms(t.Context(), &shelf{files: files})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rooms.Close)
	now := func() time.Time { return time.Date(2031, 4, 1, 9, 0, 0, 0, time.UTC) }
	c := New(Config{Rooms: rooms, Presence: taster.NewPresence(now), Now: now, Chance: tableChance(), Log: slog.New(slog.DiscardHandler)})
	return func(path string) (int, string) {
		w := httptest.NewRecorder()
		c.Routes().ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		return w.Code, w.Body.String()
	}
}

func TestReceivedSessionIsShown(t *testing.T) {
	file, err := os.ReadFile("../../testdata/sessions/triangle" + session.DossierExtension)
	if err != nil {
		t.Fatal(err)
	}
	const id = "20310305-120000-0102030405"
	if !strings.Contains(string(file), "Taster 1") || !strings.Contains(string(file), "Mira Tal") {
		t.Fatal("the file has no names")
	}
	get := receivedConsole(t, session.Received{Laboratory: "Bench 2 (invented)", Session: id, File: file})
	status, home := get("/")
	if status != http.StatusOK || !strings.Contains(home, "From other laboratories") || !strings.Contains(home, `href="/received/`+id+`"`) || !strings.Contains(home, "Bench 2 (invented)") {
		t.Errorf("home: status %d", status)
	}
	status, page := get("/received/" + id)
	for _, want := range []string{
		"From Bench 2 (invented)", "This session was not held here.", "consistent with itself; origin not shown", "The seal covers neither", "6bc5 0dfe 632e 7658",
		"300c aa36 28e8 c3ab", "2 of 2", "The wrong lot was poured", "the seed gives the layout",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("status %d: the page does not say %q", status, want)
		}
	}
	for _, name := range []string{"Taster 1", "Mira Tal", `href="/s/`, "<form"} {
		if strings.Contains(page+home[strings.Index(home, "From other laboratories"):], name) {
			t.Errorf("%q is shown", name)
		}
	}
	for _, path := range []string{"/received/nobody", "/s/" + id, "/s/" + id + "/result"} {
		if status, _ := get(path); status != http.StatusNotFound {
			t.Errorf("%s: status %d", path, status)
		}
	}
}

func TestDamagedReceivedSessionLeavesTheHomePage(t *testing.T) {
	get := receivedConsole(t, session.Received{Session: "a", File: []byte("{}")})
	if status, home := get("/"); status != http.StatusOK || !strings.Contains(home, "This is no session file as oddcup writes it.") {
		t.Errorf("status %d: %s", status, home)
	}
	if status, _ := get("/received/a"); status != http.StatusUnprocessableEntity {
		t.Errorf("its page: status %d", status)
	}
	// Where there is none, the home page has no such part.
	if _, home := receivedConsole(t)("/"); strings.Contains(home, "other laboratories") {
		t.Error("a list of nothing")
	}
}
