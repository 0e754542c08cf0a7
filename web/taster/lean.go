package taster

import (
	"bytes"
	"io/fs"
	"path"
	"strings"
)

// lean is a file system whose scripts and styles come without their whole-line
// comments: a phone on a slow network pays for each. Lines keep their numbers,
// so that an error on a phone names the line of the file as it was written.
type lean struct{ fs.FS }

// ReadFile implements fs.ReadFileFS.
func (l lean) ReadFile(name string) ([]byte, error) {
	b, err := fs.ReadFile(l.FS, name)
	if err != nil || strings.HasPrefix(name, "vendor/") {
		return b, err
	}
	switch path.Ext(name) {
	case ".js", ".css":
		return withoutComments(b), nil
	}
	return b, nil
}

// withoutComments blanks lines that are nothing but a comment. A comment that
// begins or ends beside code stays.
func withoutComments(b []byte) []byte {
	lines := bytes.Split(b, []byte("\n"))
	inside := false
	for i, line := range lines {
		text := bytes.TrimSpace(line)
		switch {
		case inside:
			inside = !bytes.HasSuffix(text, []byte("*/"))
			lines[i] = nil
		case bytes.HasPrefix(text, []byte("//")):
			lines[i] = nil
		case bytes.HasPrefix(text, []byte("/*")):
			end := bytes.Index(text, []byte("*/"))
			if end < 0 {
				inside = true
			}
			if end < 0 || end == len(text)-2 {
				lines[i] = nil
			}
		}
	}
	return bytes.Join(lines, []byte("\n"))
}
