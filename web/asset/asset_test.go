package asset

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

// long can't be made smaller: as a module that names one thing forty times it
// is broken, and comes as it is.
var long = strings.Repeat("export const cup = 'cup';\n", 40)

func files(script string) fstest.MapFS {
	return fstest.MapFS{
		"app.js":          {Data: []byte(script)},
		"sheet/page.css":  {Data: []byte(strings.Repeat("h1{margin:0}", 30))},
		"LICENSE.txt":     {Data: []byte("short")},
		"module.mjs":      {Data: []byte(long)},
		"picture.bin.raw": {Data: []byte{1, 2, 3}},
	}
}

// TestBase: the address holds a hash of every name and every byte.
func TestBase(t *testing.T) {
	base := New(nil, files(long)).Base()
	if !regexp.MustCompile(`^/a/[0-9a-f]{16}$`).MatchString(base) {
		t.Errorf("base %q", base)
	}
	if again := New(nil, files(long)).Base(); again != base {
		t.Errorf("the same files are at %s, then at %s", base, again)
	}
	if split := New(map[string][]byte{"app.js": []byte(long)}, without(files(long), "app.js")).Base(); split != base {
		t.Errorf("the same files from two places are at %s, not %s", split, base)
	}
	changed := []byte(long)
	changed[len(changed)/2] ^= 1
	renamed := files(long)
	renamed["app2.js"] = renamed["app.js"]
	delete(renamed, "app.js")
	for name, s := range map[string]*Set{
		"a changed byte":    New(nil, files(string(changed))),
		"a byte less":       New(nil, files(long[1:])),
		"a file renamed":    New(nil, renamed),
		"a file less":       New(nil, without(files(long), "LICENSE.txt")),
		"an empty one more": New(map[string][]byte{"empty.js": nil}, files(long)),
	} {
		if s.Base() == base {
			t.Errorf("%s: the address stays %s, and browsers keep the old files", name, base)
		}
	}
}

func without(fs fstest.MapFS, name string) fstest.MapFS {
	delete(fs, name)
	return fs
}

// TestServe: the same bytes with and without gzip, for ever, without what is
// only for pages; and nothing else at all.
func TestServe(t *testing.T) {
	s := New(nil, files(long))
	get := func(address, accept string) *httptest.ResponseRecorder {
		w := httptest.NewRecorder()
		w.Header().Set("Content-Security-Policy", "default-src 'self'")
		w.Header().Set("Referrer-Policy", "same-origin")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		r := httptest.NewRequest("GET", address, nil)
		if accept != "" {
			r.Header.Set("Accept-Encoding", accept)
		}
		s.ServeHTTP(w, r)
		return w
	}
	total := 0
	for name, f := range files(long) {
		plain := get(s.Base()+"/"+name, "")
		if plain.Code != 200 || !bytes.Equal(plain.Body.Bytes(), f.Data) || plain.Header().Get("Content-Encoding") != "" {
			t.Errorf("%s: %d, %d bytes of %d", name, plain.Code, plain.Body.Len(), len(f.Data))
		}
		small := get(s.Base()+"/"+name, "br, gzip")
		total += small.Body.Len()
		if packed := small.Header().Get("Content-Encoding") == "gzip"; packed != (len(f.Data) > 100) {
			t.Errorf("%s, %d bytes: packed %v", name, len(f.Data), packed)
		} else if packed {
			z, err := gzip.NewReader(small.Body)
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(z)
			if err != nil || !bytes.Equal(b, f.Data) {
				t.Errorf("%s: unpacked it is another file: %v", name, err)
			}
		}
		for _, w := range []*httptest.ResponseRecorder{plain, small} {
			h := w.Header()
			if h.Get("Content-Security-Policy") != "" || h.Get("Referrer-Policy") != "" {
				t.Errorf("%s carries the headers of a page", name)
			}
			if h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Vary") != "Accept-Encoding" || !strings.Contains(h.Get("Cache-Control"), "immutable") {
				t.Errorf("%s: headers %v", name, h)
			}
		}
	}
	if s.Size() != total {
		t.Errorf("size %d, served %d", s.Size(), total)
	}
	for name, want := range map[string]string{
		"app.js": "text/javascript", "module.mjs": "text/javascript", "sheet/page.css": "text/css", "LICENSE.txt": "text/plain; charset=utf-8",
	} {
		if got := get(s.Base()+"/"+name, "").Header().Get("Content-Type"); got != want {
			t.Errorf("%s is of type %q, want %q", name, got, want)
		}
	}
	for _, address := range []string{
		s.Base(), s.Base() + "/", s.Base() + "/nothing.js", s.Base() + "/sheet", s.Base() + "/sheet/", s.Base() + "/../asset.go",
		"/a/0000000000000000/app.js", "/app.js", s.Base() + "app.js", s.Base() + "/APP.js",
	} {
		if w := get(address, "gzip"); w.Code != 404 || w.Header().Get("Cache-Control") != "" {
			t.Errorf("%s: %d, %v", address, w.Code, w.Header())
		}
	}
}

// TestTakesGzip reads Accept-Encoding.
func TestTakesGzip(t *testing.T) {
	for header, want := range map[string]bool{
		"": false, "gzip": true, "GZIP": true, "br, gzip;q=0.5": true, "deflate,gzip": true,
		"gzip;q=0": false, "gzip; q=0.000": false, "identity": false, "x-gzip2": false, "gzip;q=one": true,
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header.Set("Accept-Encoding", header)
		if got := takesGzip(r); got != want {
			t.Errorf("Accept-Encoding %q: %v", header, got)
		}
	}
}

// TestTwoFilesOfOneName is our own bug, found at the start.
func TestTwoFilesOfOneName(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("two files of one name were taken")
		}
	}()
	New(map[string][]byte{"app.js": nil}, files(long))
}

// TestLean: what a reader needs goes, what a browser needs stays, and what can't
// be read is left alone.
func TestLean(t *testing.T) {
	for _, c := range []struct{ name, source, want string }{
		{"a.js", "// why\nexport function f(first) {\n  return first + 1;\n}\n", "export function f(e){return e+1}"},
		{"a.js", "import { cup } from './cup.js';\nexport const a = cup;\n", `import{cup}from"./cup.js";export const a=cup`},
		{"a.mjs", "/** @type {number} */\nexport const a = 1;\n", "export const a=1"},
		{"a.css", "/* why */\n.cup { color : red; }\n.cup { }\n", ".cup{color:red}"},
		// White space in a template literal is the screens' own: words part by it.
		{"a.js", "export const a = (b) => b`<p>\n  ${b} <i>one</i>\n  <!-- // --> two </p>`;\n", "export const a=e=>e`<p>\n  ${e} <i>one</i>\n  <!-- // --> two </p>`"},
		{"a.js", "export const a = (b) => `${b ? `  x ${ b }  ` : ''}`;\n", "export const a=e=>`${e?`  x ${e}  `:\"\"}`"},
		// Broken, or of another kind, or not ours.
		{"a.js", "export const = 1; // why\n", ""},
		{"a.js", "// types only\nexport {};\n", ""},
		{"a.txt", "// why\n\n", ""},
		{"vendor/a.js", "// licence\nexport const a = 1;\n", ""},
		{"vendor/a.css", "/* licence */ p { }", ""},
		{"a.js", "", ""},
	} {
		want := c.want
		if want == "" {
			want = c.source
		}
		if got := string(lean(c.name, []byte(c.source))); got != want {
			t.Errorf("%s: %q is served as %q, want %q", c.name, c.source, got, want)
		}
	}
}
