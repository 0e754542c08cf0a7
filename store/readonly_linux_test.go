package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
)

// asNobody runs f on a thread that has no rights of its own on files, as the
// superuser may write anywhere. The thread ends with it.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	if os.Getuid() != 0 {
		f()
		return
	}
	const nobody = 65534
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread()
		// This call gives the id before and no error.
		syscall.RawSyscall(syscall.SYS_SETFSUID, nobody, 0, 0)
		f()
	}()
	<-done
}

func TestReadOnlyFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(filepath.Dir(dir), 0o755); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "kept.oddcup")
	mustClose(t, mustOpen(t, path))
	for name, mode := range map[string]fs.FileMode{path: 0o444, dir: 0o555} {
		if err := os.Chmod(name, mode); err != nil {
			t.Fatal(err)
		}
	}
	before := mustRead(t, path)
	for name, path := range map[string]string{
		"new file":       filepath.Join(dir, "lab.oddcup"),
		"new folder":     filepath.Join(dir, "new", "lab.oddcup"),
		"read-only file": path,
	} {
		var err error
		asNobody(t, func() {
			var db *DB
			if db, err = Open(path, Options{}); err == nil {
				err = db.Close()
			}
		})
		if !errors.Is(err, fs.ErrPermission) {
			t.Errorf("%s: got %v, want a permission error", name, err)
			continue
		}
		want := path + ": permission denied: name a file in a folder that you may write to"
		if name == "new folder" {
			want = path + ": mkdir " + filepath.Dir(path) + ": permission denied: name a file in a folder that you may write to"
		}
		if err.Error() != want {
			t.Errorf("%s:\n got %v\nwant %s", name, err, want)
		}
	}
	if string(mustRead(t, path)) != string(before) {
		t.Error("the read-only file was altered")
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left in the folder: %v, error %v", left, err)
	}
}
