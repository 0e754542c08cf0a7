package store

import (
	"errors"
	"path/filepath"
)

// DefaultPath is where a laboratory's file is kept unless another is named:
//
//	windows        %LocalAppData%\oddcup\lab.oddcup
//	darwin, ios    $HOME/Library/Application Support/oddcup/lab.oddcup
//	all others     $XDG_DATA_HOME/oddcup/lab.oddcup, or under $HOME/.local/share
//
// goos is the operating system as runtime.GOOS names it, and env reads a
// variable of the environment. The folder of settings that roams between
// machines is not used: two laptops writing to one file would lose answers.
func DefaultPath(goos string, env func(string) string) (string, error) {
	home := env("HOME")
	switch goos {
	case "windows":
		if local := env("LocalAppData"); local != "" {
			return filepath.Join(local, "oddcup", "lab.oddcup"), nil
		}
		return "", errors.New("no place for the file: %LocalAppData% is not set: name a file")
	case "darwin", "ios":
		if home != "" {
			return filepath.Join(home, "Library", "Application Support", "oddcup", "lab.oddcup"), nil
		}
	default:
		// XDG Base Directory Specification 0.8: a relative path is invalid and
		// to be ignored; the default is $HOME/.local/share.
		if data := env("XDG_DATA_HOME"); filepath.IsAbs(data) {
			return filepath.Join(data, "oddcup", "lab.oddcup"), nil
		}
		if home != "" {
			return filepath.Join(home, ".local", "share", "oddcup", "lab.oddcup"), nil
		}
	}
	return "", errors.New("no place for the file: $HOME is not set: name a file")
}
