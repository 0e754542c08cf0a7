package taster

import (
	"bytes"
	"io/fs"
	"net/http/httptest"
	"path"
	"regexp"
	"strings"
	"testing"
)

// served gives a file as phones get it.
func served(t *testing.T, ts *Tasters, name string) []byte {
	t.Helper()
	w := httptest.NewRecorder()
	ts.assets.ServeHTTP(w, httptest.NewRequest("GET", ts.assets.Base()+"/"+name, nil))
	if w.Code != 200 {
		t.Errorf("%s: %d", name, w.Code)
	}
	return w.Body.Bytes()
}

// TestServedFiles: our own scripts and styles come lean, the vendored ones and
// all the rest to the byte.
func TestServedFiles(t *testing.T) {
	app, err := fs.Sub(static, "static")
	if err != nil {
		t.Fatal(err)
	}
	ts := New(Config{Presence: NewPresence(nil)})
	lean, whole := 0, 0
	err = fs.WalkDir(app, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		source, err := fs.ReadFile(app, name)
		if err != nil {
			return err
		}
		got := served(t, ts, name)
		ext := path.Ext(name)
		typesOnly := name == "types.js" || name == "frames.js" // no page loads them
		if strings.HasPrefix(name, "vendor/") || typesOnly || ext != ".js" && ext != ".css" {
			whole++
			if !bytes.Equal(got, source) {
				t.Errorf("%s is served changed", name)
			}
			return nil
		}
		lean++
		// The barest file still has white space to lose; the templates of screens
		// keep theirs.
		if len(got) > len(source)*5/6 {
			t.Errorf("%s: %d bytes, served %d: not made smaller", name, len(source), len(got))
		}
		return nil
	})
	if err != nil || lean < 15 || whole < 2 {
		t.Errorf("%d files lean, %d whole: %v", lean, whole, err)
	}
}

// imports finds what a script imports, as written or as served.
var imports = regexp.MustCompile(`(?:from|import)\s*['"](\.[^'"]+)['"]`)

// TestServedScriptsAreWhole: what scripts name is served, and preloaded by the
// page: a script found only in another one costs a round trip.
func TestServedScriptsAreWhole(t *testing.T) {
	ts := New(Config{Presence: NewPresence(nil)})
	page, err := fs.ReadFile(pages, "pages/app.html")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	seen := map[string]bool{"glyphdata.js": true} // it imports nothing
	var walk func(name string)
	walk = func(name string) {
		if seen[name] {
			return
		}
		seen[name] = true
		if !bytes.Contains(page, []byte("{{.Base}}/"+name+`"`)) && name != "types.js" && name != "frames.js" {
			t.Errorf("the page does not name %s", name)
		}
		for _, m := range imports.FindAllSubmatch(served(t, ts, name), -1) {
			n++
			walk(path.Join(path.Dir(name), string(m[1])))
		}
	}
	walk("app.js")
	if n < 20 || len(seen) < 15 {
		t.Errorf("%d imports of %d files", n, len(seen))
	}
}

// A mistyped address asks for the code itself: while one lobby is open, the front
// page is not there to ask for it.
func TestMistypedAddressAsksForTheCode(t *testing.T) {
	ts := New(Config{Presence: NewPresence(nil)})
	for method, want := range map[string]bool{"GET": true, "DELETE": false} {
		address := "/7ANAWH"
		if method == "DELETE" {
			address = "/"
		}
		w := httptest.NewRecorder()
		ts.Routes().ServeHTTP(w, httptest.NewRequest(method, address, nil))
		if got := strings.Contains(w.Body.String(), `<form method="get" action="/">`) && strings.Contains(w.Body.String(), `name="door"`); got != want {
			t.Errorf("%s %s: status %d, a field for the code %v, want %v", method, address, w.Code, got, want)
		}
	}
}
