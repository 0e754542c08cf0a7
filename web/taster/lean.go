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
// begins or ends beside code stays. It does not know template literals: a line
// in one that looks like a comment would be lost, and a test of every served
// file sees to it that there is none.
func withoutComments(b []byte) []byte {
	lines := bytes.Split(b, []byte("\n"))
	for i := 0; i < len(lines); i++ {
		text := bytes.TrimSpace(lines[i])
		switch {
		case bytes.HasPrefix(text, []byte("//")):
			lines[i] = nil
		case bytes.HasPrefix(text, []byte("/*")):
			last := i
			for last < len(lines)-1 && !bytes.Contains(lines[last], []byte("*/")) {
				last++
			}
			_, behind, _ := bytes.Cut(lines[last], []byte("*/"))
			if len(bytes.TrimSpace(behind)) == 0 {
				clear(lines[i : last+1])
			}
			i = last
		}
	}
	return bytes.Join(lines, []byte("\n"))
}
