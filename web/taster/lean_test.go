package taster

import (
	"bytes"
	"io/fs"
	"net/http/httptest"
	"path"
	"regexp"
	"strings"
	"testing"

	"oddcup/web/guard"
)

// TestLean holds every script and style, as served, to its source: the same
// lines under the same numbers, but for lines that are nothing but a comment.
func TestLean(t *testing.T) {
	app, err := fs.Sub(static, "static")
	if err != nil {
		t.Fatal(err)
	}
	ts := New(Config{Presence: NewPresence(nil)})
	handler := ts.Handler(guard.Names{"bench.test"})
	files, blanked := 0, 0
	err = fs.WalkDir(app, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		source, err := fs.ReadFile(app, name)
		if err != nil {
			return err
		}
		r := httptest.NewRequest("GET", "http://bench.test"+ts.assets.Base()+"/"+name, nil)
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, r)
		if w.Code != 200 {
			t.Errorf("%s: %d", name, w.Code)
			return nil
		}
		served := w.Body.Bytes()
		files++
		ext := path.Ext(name)
		if strings.HasPrefix(name, "vendor/") || ext != ".js" && ext != ".css" {
			if !bytes.Equal(served, source) {
				t.Errorf("%s is served changed", name)
			}
			return nil
		}
		blanked += checkLean(t, name, string(source), string(served))
		return nil
	})
	if err != nil || files < 15 || blanked < 100 {
		t.Errorf("%d files, %d comment lines left out: %v", files, blanked, err)
	}
}

// checkLean compares a file with what is served of it, by a reading of comments
// of its own: a scanner over strings, template literals and comments.
func checkLean(t *testing.T, name, source, served string) (blanked int) {
	t.Helper()
	code := codeLines(source, strings.HasSuffix(name, ".js"))
	a, b := strings.Split(source, "\n"), strings.Split(served, "\n")
	if len(a) != len(b) {
		t.Errorf("%s: %d lines, served %d", name, len(a), len(b))
		return 0
	}
	for i := range a {
		if a[i] == b[i] {
			continue
		}
		blanked++
		if b[i] != "" || code[i] {
			t.Errorf("%s:%d: %q is served as %q", name, i+1, a[i], b[i])
		}
	}
	return blanked
}

// codeLines tells for each line whether anything but white space and comments
// stands in it. It knows strings, and template literals within template
// literals; no regular expression of ours holds a quote.
func codeLines(source string, script bool) []bool {
	var code []bool
	line := false
	var in []byte // what is open, outermost first: a quote, '{' in a template, '*' or '/' in a comment
	top := func() byte {
		if len(in) == 0 {
			return 0
		}
		return in[len(in)-1]
	}
	for i := 0; i < len(source); i++ {
		c, two := source[i], source[i:min(i+2, len(source))]
		switch {
		case c == '\n':
			code = append(code, line || top() == '`')
			line = false
			if q := top(); q == '/' || q == '"' || q == '\'' {
				in = in[:len(in)-1]
			}
		case top() == '*':
			if two == "*/" {
				in = in[:len(in)-1]
				i++
			}
		case top() == '/':
		case top() == '"' || top() == '\'' || top() == '`':
			line = true
			switch {
			case c == '\\':
				i++
			case c == top():
				in = in[:len(in)-1]
			case top() == '`' && two == "${":
				in = append(in, '{')
				i++
			}
		case two == "/*":
			in = append(in, '*')
			i++
		case two == "//" && script:
			in = append(in, '/')
		case c == '"' || c == '\'' || c == '`' || c == '{' && script:
			in, line = append(in, c), true
		case c == '}' && script && len(in) > 0:
			in, line = in[:len(in)-1], true
		case c != ' ' && c != '\t' && c != '\r':
			line = true
		}
	}
	return append(code, line || top() == '`')
}

// TestWithoutComments: what is a comment of its own, and what only looks like one.
func TestWithoutComments(t *testing.T) {
	for source, want := range map[string]string{
		"// a\nb()":                "\nb()",
		"a() // b":                 "a() // b",
		"/* a */\nb()":             "\nb()",
		"/* a */ b()":              "/* a */ b()",
		"/**\n * a\n */\nb()":      "\n\n\nb()",
		"a() /* b\n// c\n*/ d()":   "a() /* b\n\n*/ d()",
		"  /* a\n  b */ c()\n// d": "  /* a\n  b */ c()\n",
		"x = 'http://a'\n// b":     "x = 'http://a'\n",
	} {
		if got := string(withoutComments([]byte(source))); got != want {
			t.Errorf("%q becomes %q, want %q", source, got, want)
		}
	}
}

// TestServedScriptsAreWhole: what scripts and pages name is served.
func TestServedScriptsAreWhole(t *testing.T) {
	ts := New(Config{Presence: NewPresence(nil)})
	app, err := fs.Sub(static, "static")
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile(`from '([^']+)'`)
	n := 0
	err = fs.WalkDir(lean{app}, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || path.Ext(name) != ".js" || strings.HasPrefix(name, "vendor/") {
			return err
		}
		b, err := fs.ReadFile(lean{app}, name)
		if err != nil {
			return err
		}
		for _, m := range named.FindAllStringSubmatch(string(b), -1) {
			n++
			to := path.Join(path.Dir(name), m[1])
			w := httptest.NewRecorder()
			ts.assets.ServeHTTP(w, httptest.NewRequest("GET", ts.assets.Base()+"/"+to, nil))
			if w.Code != 200 {
				t.Errorf("%s imports %s, which is not served", name, to)
			}
		}
		return nil
	})
	if err != nil || n < 20 {
		t.Errorf("%d imports: %v", n, err)
	}
}
