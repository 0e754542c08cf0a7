package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"oddcup/session"
	"oddcup/web/paper"
)

// reportCommand writes the test report of a revealed session as a PDF. It reads
// the data file and changes nothing of it.
type reportCommand struct {
	Session string `arg:"" help:"The session, as oddcup verify lists it." placeholder:"SESSION"`
	Data    string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	Out     string `help:"File to write, which must not be there. Default: test-report-SESSION.pdf, in this folder." placeholder:"FILE.pdf"`
	Paper   string `enum:"a4,letter" default:"a4" help:"Size of paper: a4 or letter. Default: a4." placeholder:"SIZE"`
}

// Run implements the command.
func (c *reportCommand) Run(ctx context.Context, to streams) error {
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	db, err := openStoreToRead(data)
	if err != nil {
		return err
	}
	defer db.Close()
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		return hinted{err, "look at the file with oddcup verify"}
	}
	defer rooms.Close()
	report, err := rooms.TestReport(ctx, session.ID(c.Session), time.Local)
	switch {
	case errors.Is(err, session.ErrNoSession):
		return hinted{fmt.Errorf("%s: %w", data, err), "oddcup verify FILE lists all sessions of a file"}
	case errors.Is(err, session.ErrSealed):
		return hinted{err, "close the session and reveal it first; what was abandoned has no report of its own, and is listed on those of its lots"}
	case errors.Is(err, session.ErrNewer):
		return hinted{err, "use the newer oddcup"}
	case err != nil:
		return hinted{err, "look at the file with oddcup verify"}
	}
	report.Issued = time.Now()
	b, err := paper.ReportPDF(report, paper.SizeByKey(c.Paper))
	if err != nil {
		return err
	}
	out := c.Out
	if out == "" {
		out = "test-report-" + c.Session + ".pdf"
	}
	switch err := writeNew(newFile{out, 0o644, b}); {
	case errors.Is(err, fs.ErrExist):
		return hinted{err, "nothing is written over: name another file with --out FILE"}
	case err != nil:
		return hinted{err, "name a folder that can be written to with --out FILE"}
	}
	fmt.Fprintf(to.out, "%s: the test report of session %s\n", out, c.Session)
	return nil
}
