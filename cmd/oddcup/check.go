package main

import (
	"context"
	"fmt"
)

// checkCommand checks a data file that no other oddcup uses.
type checkCommand struct {
	Data string `help:"File to check. Default: oddcup's place among your programs' data." placeholder:"FILE"`
}

// Run implements the command.
func (c *checkCommand) Run(ctx context.Context, to streams) error {
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	if _, err := plainFile(data); err != nil {
		return hinted{err, "name an existing file with --data FILE"}
	}
	db, err := openExisting(data)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.Check(ctx); err != nil {
		return hinted{err, "keep the file as it is, and go on with a copy made before"}
	}
	rows, err := db.Rows(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(to.out, "%s: consistent with itself; %d sessions. A session taken out of it whole would leave no trace: count them against your papers.\n", data, len(rows))
	return nil
}
