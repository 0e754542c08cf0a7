package console

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// Copy makes a checked copy of the data file while it is in use, to be read once
// and closed. note is called when the copy is good, and what it refuses is not kept.
type Copy func(ctx context.Context, name string, note func() error) (body io.ReadCloser, bytes int64, err error)

// mostCopyTime bounds the making and the download of a copy.
const mostCopyTime = 10 * time.Minute

func (c *Console) backupRoutes(r chi.Router) {
	r.Post("/backup", c.page(c.backUp))
}

// backupView is what the home page says of copies.
type backupView struct {
	Last    *session.Backup // nil before the first one
	Keeping bool            // a session is sealed and not revealed: its key is to be kept from the host
}

// backupOf is nil where no copy can be made.
func (c *Console) backupOf(rows []session.Row, lab *session.Lab) *backupView {
	if c.Copy == nil {
		return nil
	}
	v := &backupView{}
	if n := len(lab.Backups); n > 0 {
		v.Last = &lab.Backups[n-1]
	}
	for _, row := range rows {
		switch row.Phase {
		case session.PhaseSealed, session.PhaseOpen, session.PhaseClosed:
			v.Keeping = true
		}
	}
	return v
}

// backUp answers with a copy of the data file. No page shows what is in it: it
// holds the keys of sealed sessions, as the file beside it does. The route is the
// console's alone.
func (c *Console) backUp(w http.ResponseWriter, r *http.Request) error {
	if c.Copy == nil {
		return problem{http.StatusNotFound, "Nothing here is kept in a file.", "Go to the home page."}
	}
	ctx := r.Context()
	name := fmt.Sprintf("oddcup-%s.oddcup", c.Now().Format("2006-01-02-150405"))
	if out := http.NewResponseController(w); out.SetWriteDeadline(time.Now().Add(mostCopyTime)) != nil {
		c.Log.Debug("console: a copy keeps the usual time limit")
	}
	// A copy must not bring back what an erasure that was cut off should have taken.
	err := c.Rooms.FinishErasures(ctx, c.Now())
	var body io.ReadCloser
	var size int64
	if err == nil {
		body, size, err = c.Copy(ctx, name, func() error {
			_, err := c.Rooms.Lab().Do(ctx, session.Command{At: c.Now(), Actor: session.Host, Act: session.NoteBackup{File: name}})
			return err
		})
	}
	if err != nil {
		c.Log.Error("console: backup", "err", err)
		return problem{
			http.StatusInternalServerError, "No copy was made, and the data file is as it was.",
			"Look whether the data file's folder can be written to and has room for a second copy, then try again.",
		}
	}
	defer body.Close()
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="%s"`, name))
	w.Header().Set("Content-Length", fmt.Sprint(size))
	if _, err := io.Copy(w, body); err != nil {
		c.Log.Warn("console: a copy was not taken whole", "file", name, "err", err)
	}
	return nil
}
