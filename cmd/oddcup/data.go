package main

import (
	"os"
	"runtime"

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
