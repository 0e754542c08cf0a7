package main

import (
	"strings"
	"testing"
)

// The number that stands on paper beside a head hash is held to it.
func TestVerifyWithTheNumberOfEntries(t *testing.T) {
	f := newBenchFile(t)
	if _, errs, code := command(t, "verify", f.path, string(f.revealed), "--entries", "3"); code != 2 || !strings.Contains(errs, "give --head with it") {
		t.Errorf("a number without its hash: code %d, %q", code, errs)
	}
	if out, _, code := command(t, "verify", f.path, string(f.revealed), "--head", f.head.String(), "--entries", "1"); code != 1 || !strings.Contains(out, "the number beside it on paper is 1") {
		t.Errorf("another number: code %d, %q", code, out)
	}
}
