package store

import (
	"errors"
	"fmt"

	"oddcup/session"
)

// What a caller of this package can tell apart with errors.Is. The errors from
// Open are whole sentences with a next step.
var (
	// ErrInUse is returned by Open when another program has the file open.
	ErrInUse = errors.New("in use by another running oddcup")

	// ErrNewer is returned by Open for a file, and by Check and Append for an
	// entry, that a newer version of the program wrote.
	ErrNewer = session.ErrNewer

	// ErrNotADatabase is returned by Open for what is no file of this program,
	// or only a part of one. It has not been altered.
	ErrNotADatabase = errors.New("not an oddcup file")

	// ErrOwn is returned by Receive for a session whose journal is in this file.
	ErrOwn = errors.New("it is one of this laboratory's own, and here already")

	// ErrOtherFile is returned by Receive for a session of which another file is
	// kept.
	ErrOtherFile = errors.New("another file of it is kept, and nothing is replaced")

	// ErrDamaged is returned when what the file holds is not what was written.
	ErrDamaged = errors.New("not as it was written")
)

// damaged says what is wrong with which thing.
func damaged(format string, args ...any) error {
	return fmt.Errorf("%s: %w", fmt.Sprintf(format, args...), ErrDamaged)
}
