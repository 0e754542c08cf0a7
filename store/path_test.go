package store

import (
	"path/filepath"
	"testing"
)

// The places are those that the systems name for an application's own data: XDG
// Base Directory Specification 0.8; Apple, File System Programming Guide, "The
// Library Directory"; Windows, known folder FOLDERID_LocalAppData.
func TestDefaultPath(t *testing.T) {
	root := t.TempDir() // absolute on any system
	for _, c := range []struct {
		goos string
		env  map[string]string
		want string
	}{
		{"linux", map[string]string{"HOME": root}, filepath.Join(root, ".local", "share", "oddcup", "lab.oddcup")},
		{"linux", map[string]string{"HOME": "/h", "XDG_DATA_HOME": root}, filepath.Join(root, "oddcup", "lab.oddcup")},
		{"linux", map[string]string{"XDG_DATA_HOME": root}, filepath.Join(root, "oddcup", "lab.oddcup")},
		{"freebsd", map[string]string{"HOME": root, "XDG_DATA_HOME": "relative"}, filepath.Join(root, ".local", "share", "oddcup", "lab.oddcup")},
		{"linux", nil, ""},
		{"darwin", map[string]string{"HOME": root, "XDG_DATA_HOME": root}, filepath.Join(root, "Library", "Application Support", "oddcup", "lab.oddcup")},
		{"darwin", nil, ""},
		{"windows", map[string]string{"LocalAppData": root, "HOME": "h"}, filepath.Join(root, "oddcup", "lab.oddcup")},
		{"windows", map[string]string{"HOME": root}, ""},
	} {
		got, err := DefaultPath(c.goos, func(name string) string { return c.env[name] })
		if got != c.want || (err == nil) != (c.want != "") {
			t.Errorf("%s, %v: got %q, error %v; want %q", c.goos, c.env, got, err, c.want)
		}
	}
}
