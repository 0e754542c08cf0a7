package console

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"
)

// TestBackUpNow: the home page offers a copy where there is a file, warns while a
// key is sealed, and says when none could be made; only a good copy is noted.
func TestBackUpNow(t *testing.T) {
	d := newDesk(t)
	if r := d.post("/backup", nil); r.status != http.StatusNotFound {
		t.Errorf("without a file: status %d", r.status)
	}
	d.lots()
	d.drafted()
	d.saysNot(d.page("/"), "Back up now")
	fails := true
	d.c.Copy = func(_ context.Context, name string, note func() error) (io.ReadCloser, int64, error) {
		if fails {
			return nil, 0, errors.New("no space left on device")
		}
		return io.NopCloser(strings.NewReader("bytes of " + name)), int64(len("bytes of " + name)), note()
	}
	home := d.page("/")
	d.says(home, "Back up now", "in clear, the serving key of every session", "No copy is noted yet.")
	d.saysNot(home, "A session is sealed and not revealed.")
	if r := d.post("/backup", nil); r.status != http.StatusInternalServerError || len(d.rooms.Lab().State().Backups) != 0 {
		t.Errorf("a copy that failed: status %d, noted %v", r.status, d.rooms.Lab().State().Backups)
	} else {
		d.says(r.body, "No copy was made", "has room for a second copy")
	}
	fails = false
	d.sealed(2)
	d.says(d.page("/"), "A session is sealed and not revealed. Its key is in the copy too.")
	const name = "oddcup-2026-04-15-090100.oddcup"
	r := d.post("/backup", nil)
	if r.status != http.StatusOK || r.body != "bytes of "+name || r.header.Get("Content-Disposition") != `attachment; filename="`+name+`"` || r.header.Get("Cache-Control") != "no-store" {
		t.Errorf("status %d, %v, %q", r.status, r.header, r.body)
	}
	d.says(d.page("/"), "The last copy noted is "+name)
	if r := d.get("/backup"); r.status != http.StatusMethodNotAllowed {
		t.Errorf("asked for by its address alone: status %d", r.status)
	}
}
