package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"

	"oddcup/session"
	"oddcup/store"
)

// dataFile is the file that a command works on: the named one, or oddcup's
// place among the user's data.
func dataFile(named string) (string, error) {
	if named != "" {
		return named, nil
	}
	path, err := store.DefaultPath(runtime.GOOS, os.Getenv)
	if err != nil {
		return "", hinted{err, "name the file with --data FILE"}
	}
	return path, nil
}

// openStore opens a data file to work on, and makes one where none is.
func openStore(path string) (*store.DB, error) {
	db, err := store.Open(path, store.Options{})
	switch {
	case errors.Is(err, store.ErrInUse):
		return nil, hinted{err, "stop the other oddcup, or name another file with --data FILE"}
	case errors.Is(err, session.ErrNewer):
		return nil, hinted{err, "start the newer oddcup, or name another file with --data FILE"}
	case errors.Is(err, store.ErrNotADatabase):
		return nil, hinted{err, "name a file that oddcup made, or a new one, with --data FILE; this one was left as it is"}
	case err != nil:
		return nil, hinted{err, "look whether the folder can be written to, or name another file with --data FILE"}
	}
	return db, nil
}

// openStoreToRead opens a data file that is there, and changes nothing of it.
func openStoreToRead(path string) (*store.DB, error) {
	db, err := store.OpenToRead(path, store.Options{})
	switch {
	case errors.Is(err, store.ErrInUse):
		return nil, hinted{err, "stop the other oddcup first, or take a copy of the file"}
	case errors.Is(err, session.ErrNewer):
		return nil, hinted{err, "use the newer oddcup"}
	case errors.Is(err, store.ErrDamaged):
		return nil, hinted{err, "keep the file as it is, and go on with a copy made before"}
	case err != nil:
		return nil, hinted{err, "name a file that oddcup made"}
	}
	return db, nil
}

// openExisting opens a data file that is there. It is looked at first, since opening
// to write would make a file that is not there, and fill one that was emptied.
func openExisting(path string) (*store.DB, error) {
	looked, err := openStoreToRead(path)
	if err != nil {
		return nil, err
	}
	if err := looked.Close(); err != nil {
		return nil, err
	}
	return openStore(path)
}

// openRooms opens the sessions and the register of a file that is there; of one
// in use it says how else the work is done. The function closes both.
func openRooms(ctx context.Context, path, inUse string) (*store.DB, *session.Rooms, func(), error) {
	db, err := openExisting(path)
	if errors.Is(err, store.ErrInUse) {
		return nil, nil, nil, hinted{err, inUse}
	}
	if err != nil {
		return nil, nil, nil, err
	}
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		db.Close()
		return nil, nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	return db, rooms, func() { rooms.Close(); db.Close() }, nil
}
