// Package asset serves embedded files under an address that holds their hash,
// so that a browser may keep them for ever and never keeps an old one. Scripts
// and styles are made smaller first: two dozen phones on one crowded network
// pay for every comment.
package asset

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"sort"
	"strconv"
	"strings"

	"github.com/tdewolff/minify/v2"
	"github.com/tdewolff/minify/v2/css"
	"github.com/tdewolff/minify/v2/js"
)

// Set is a set of files with one address prefix.
type Set struct {
	base  string
	files map[string]file
}

type file struct {
	kind         string
	plain, small []byte // small is gzip, nil where it gains nothing
}

// New collects the files of the roots, named relative to each root; made holds
// files that no root has. Scripts and styles lose what only a reader needs;
// files below vendor/ stay as their makers wrote them, to the byte, so that
// they can be held against the original. Two files of one name are our own bug.
func New(made map[string][]byte, roots ...fs.FS) *Set {
	s := &Set{files: map[string]file{}}
	for name, b := range made {
		s.add(name, b)
	}
	for _, root := range roots {
		err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			b, err := fs.ReadFile(root, name)
			if err == nil {
				s.add(name, b)
			}
			return err
		})
		if err != nil {
			panic(fmt.Sprintf("asset: %v", err))
		}
	}
	names := make([]string, 0, len(s.files))
	for name := range s.files {
		names = append(names, name)
	}
	sort.Strings(names)
	sum := sha256.New()
	for _, name := range names {
		fmt.Fprintf(sum, "%s %d\n", name, len(s.files[name].plain))
		sum.Write(s.files[name].plain)
	}
	s.base = "/a/" + hex.EncodeToString(sum.Sum(nil))[:16]
	return s
}

func (s *Set) add(name string, b []byte) {
	if _, twice := s.files[name]; twice {
		panic("asset: two files are called " + name)
	}
	b = lean(name, b)
	f := file{kind: mime.TypeByExtension(path.Ext(name)), plain: b}
	switch path.Ext(name) {
	// Modules are UTF-8 by definition, and the rest is read like its page, which
	// says that it is: two dozen files need not each say so again.
	case ".js", ".mjs":
		f.kind = "text/javascript"
	case ".css":
		f.kind = "text/css"
	case ".txt":
		f.kind = "text/plain; charset=utf-8"
	}
	var z bytes.Buffer
	w, err := gzip.NewWriterLevel(&z, gzip.BestCompression)
	if err == nil {
		_, err = w.Write(b)
	}
	if err == nil {
		err = w.Close()
	}
	if err == nil && z.Len() < len(b) {
		f.small = z.Bytes()
	}
	s.files[name] = f
}

// lean gives a script or style without comments and white space, and with short
// names for what only a function sees. What stands in template literals is kept
// to the byte: the phones' screens are written in them. A file that can't be
// read as what its name says comes back as it is, and so does one that would
// gain nothing.
func lean(name string, b []byte) []byte {
	if strings.HasPrefix(name, "vendor/") {
		return b
	}
	var minifier minify.Minifier
	switch path.Ext(name) {
	case ".js", ".mjs":
		minifier = new(js.Minifier)
	case ".css":
		minifier = new(css.Minifier)
	default:
		return b
	}
	var small bytes.Buffer
	err := minifier.Minify(minify.New(), &small, bytes.NewReader(b), nil)
	if err == nil {
		// What comes out is read once more: an empty export comes out broken.
		err = minifier.Minify(minify.New(), io.Discard, bytes.NewReader(small.Bytes()), nil)
	}
	if err != nil || small.Len() >= len(b) {
		return b
	}
	return small.Bytes()
}

// Base is the address prefix, without a slash at its end.
func (s *Set) Base() string { return s.base }

// Size is the sum of all files as sent to a browser that takes gzip, in bytes.
func (s *Set) Size() int {
	n := 0
	for _, f := range s.files {
		if f.small != nil {
			n += len(f.small)
		} else {
			n += len(f.plain)
		}
	}
	return n
}

// ServeHTTP serves the files below Base.
func (s *Set) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name, ok := strings.CutPrefix(r.URL.Path, s.base+"/")
	f, have := s.files[name]
	if !ok || !have {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	// These are for pages, and two dozen files would carry them for nothing.
	h.Del("Content-Security-Policy")
	h.Del("Referrer-Policy")
	h.Set("Content-Type", f.kind)
	h.Set("Cache-Control", "max-age=31536000, immutable")
	h.Set("Vary", "Accept-Encoding")
	b := f.plain
	if f.small != nil && takesGzip(r) {
		h.Set("Content-Encoding", "gzip")
		b = f.small
	}
	h.Set("Content-Length", fmt.Sprint(len(b)))
	w.Write(b)
}

// takesGzip reports whether the browser named gzip and did not rule it out with
// a weight of nought (RFC 9110, 12.5.3).
func takesGzip(r *http.Request) bool {
	for _, header := range r.Header.Values("Accept-Encoding") {
		for coding := range strings.SplitSeq(header, ",") {
			name, weight, _ := strings.Cut(coding, ";")
			if !strings.EqualFold(strings.TrimSpace(name), "gzip") {
				continue
			}
			q, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(weight)), "q=")
			x, err := strconv.ParseFloat(q, 64)
			return !ok || err != nil || x > 0
		}
	}
	return false
}
