package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/store"
)

// oddcup backup writes a copy that is checked and noted, never over another
// file, and not of a file in use.
func TestBackupCommand(t *testing.T) {
	f := newBenchFile(t)
	dir := t.TempDir()
	out := filepath.Join(dir, "friday.oddcup")
	said, errs, code := command(t, "backup", "--data", f.path, "--out", out)
	if code != 0 || errs != "" || !strings.HasPrefix(said, out+": a copy of "+f.path+", checked and noted in the register\n") {
		t.Fatalf("code %d, %q, %q", code, said, errs)
	}
	if said, errs, code := command(t, "check", "--data", out); code != 0 {
		t.Errorf("check of the copy: code %d, %q, %q", code, said, errs)
	}
	if said, errs, code := command(t, "verify", out, string(f.revealed), "--digest", f.digest.String(), "--head", f.head.String()); code != 0 {
		t.Errorf("verify of the copy: code %d, %q, %q", code, said, errs)
	}
	lab := labOf(t, f.path)
	if len(lab.Backups) != 1 || lab.Backups[0].File != "friday.oddcup" || time.Since(lab.Backups[0].At) > time.Hour {
		t.Errorf("noted: %+v", lab.Backups)
	}
	before := sum(t, out)
	if _, errs, code := command(t, "backup", "--data", f.path, "--out", out); code != 1 || !strings.Contains(errs, "exists") || !trouble(errs) {
		t.Errorf("over the copy: code %d, %q", code, errs)
	}
	if sum(t, out) != before || len(labOf(t, f.path).Backups) != 1 {
		t.Error("the copy was altered, or another one noted")
	}
	other := filepath.Join(dir, "other.oddcup")
	missing := filepath.Join(dir, "none.oddcup")
	if _, errs, code := command(t, "backup", "--data", missing, "--out", other); code != 1 || !trouble(errs) {
		t.Errorf("of no file: code %d, %q", code, errs)
	}
	for _, path := range []string{missing, other} {
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s was made", path)
		}
	}
	db, err := store.Open(f.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, errs, code := command(t, "backup", "--data", f.path, "--out", other); code != 1 || !strings.Contains(errs, "stop that oddcup, make the backup") || !trouble(errs) {
		t.Errorf("of a file in use: code %d, %q", code, errs)
	}
}

// A backup finishes an erasure that was cut off before it copies.
func TestBackupFinishesAnErasure(t *testing.T) {
	f := newBenchFile(t)
	db, err := store.Open(f.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	lab, err := session.OpenLab(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	name, err := session.NewText("Noam Invented", strings.NewReader(strings.Repeat("salt", 4)))
	if err != nil {
		t.Fatal(err)
	}
	for _, act := range []session.Act{session.EnterPerson{Facts: session.PersonFacts{Name: name}}, session.ErasePerson{Person: "p-1"}} {
		if _, err := lab.Do(t.Context(), session.Command{At: time.Now(), Actor: session.Host, Act: act}); err != nil {
			t.Fatal(err)
		}
	}
	lab.Close()
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "copy.oddcup")
	if _, errs, code := command(t, "backup", "--data", f.path, "--out", out); code != 0 {
		t.Fatalf("code %d, %q", code, errs)
	}
	for _, path := range []string{f.path, out} {
		raw, err := os.ReadFile(path)
		if err != nil || strings.Contains(string(raw), "Noam Invented") {
			t.Errorf("%s holds the name: %v", path, err)
		}
	}
	if e := labOf(t, f.path).Erasures; len(e) != 1 || e[0].Done.IsZero() {
		t.Errorf("%+v", e)
	}
}

func labOf(t *testing.T, path string) *session.Lab {
	t.Helper()
	db, err := store.OpenToRead(path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	lab, err := session.LoadLab(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	return lab
}
