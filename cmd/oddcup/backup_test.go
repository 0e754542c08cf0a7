package main

import (
	"io"
	"log/slog"
	"mime"
	"net/http"
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
	if _, errs, code := command(t, "backup", "--data", f.path, "--out", other); code != 1 || !strings.Contains(errs, "Back up now") || !trouble(errs) {
		t.Errorf("of a file in use: code %d, %q", code, errs)
	}
}

// TestBackupWhileRunning: the console gives a checked copy of the file that it serves,
// noted in the register; nothing is left beside the file, and phones get none.
func TestBackupWhileRunning(t *testing.T) {
	f := newBenchFile(t)
	left := filepath.Join(filepath.Dir(f.path), copyFolder(f.path)+"7")
	if err := os.Mkdir(left, 0o700); err != nil { // by a program that was cut off
		t.Fatal(err)
	}
	h, err := openHouse(t.Context(), houseOptions{data: f.path, console: "127.0.0.1:0", tasters: "127.0.0.1:0", log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	defer h.close()
	post := func(base, origin string) *http.Response {
		t.Helper()
		r, err := http.NewRequest("POST", base+"/backup", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Origin", origin)
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { resp.Body.Close() })
		return resp
	}
	if resp := post(h.join, h.join); resp.StatusCode != http.StatusNotFound && resp.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("the tasters' side answers %s", resp.Status)
	}
	if resp := post(h.console, "http://evil.example"); resp.StatusCode != http.StatusForbidden {
		t.Errorf("a foreign page gets %s", resp.Status)
	}
	resp := post(h.console, h.console)
	_, words, err := mime.ParseMediaType(resp.Header.Get("Content-Disposition"))
	name := words["filename"]
	if err != nil || resp.StatusCode != http.StatusOK || !strings.HasPrefix(name, "oddcup-2") || filepath.Ext(name) != ".oddcup" {
		t.Fatalf("%s, %v, %v", resp.Status, resp.Header, err)
	}
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(out, body, 0o600); err != nil {
		t.Fatal(err)
	}
	if said, errs, code := command(t, "check", "--data", out); code != 0 {
		t.Errorf("check of the copy: code %d, %q, %q", code, said, errs)
	}
	if said, errs, code := command(t, "verify", out, string(f.revealed), "--digest", f.digest.String(), "--head", f.head.String()); code != 0 {
		t.Errorf("verify of the copy: code %d, %q, %q", code, said, errs)
	}
	if b := h.rooms.Lab().State().Backups; len(b) != 1 || b[0].File != name {
		t.Errorf("noted: %+v", b)
	}
	home, err := http.Get(h.console)
	if err != nil {
		t.Fatal(err)
	}
	defer home.Body.Close()
	if page, err := io.ReadAll(home.Body); err != nil || !strings.Contains(string(page), "The last copy noted is "+name) {
		t.Errorf("the home page does not name the copy: %v", err)
	}
	h.close() // the answer has ended, and what it was read from is gone
	all, err := os.ReadDir(filepath.Dir(f.path))
	if err != nil || len(all) != 1 {
		t.Errorf("beside the file: %v, %v", all, err)
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
