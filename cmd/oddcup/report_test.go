package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"oddcup/session"
)

// oddcup report writes the test report of a revealed session, which lists the
// others on its lots, and refuses all others.
func TestReportCommand(t *testing.T) {
	f := newBenchFile(t)
	before := sum(t, f.path)
	for _, paper := range []string{"a4", "letter"} {
		out := filepath.Join(t.TempDir(), "report.pdf")
		said, errs, code := command(t, "report", string(f.revealed), "--data", f.path, "--out", out, "--paper", paper)
		if code != 0 || errs != "" || said != out+": the test report of session "+string(f.revealed)+"\n" {
			t.Fatalf("code %d, %q, %q", code, said, errs)
		}
		if _, err := exec.LookPath("pdftotext"); err != nil {
			t.Fatal("pdftotext is missing: install poppler-utils")
		}
		text, err := exec.Command("pdftotext", "-raw", out, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Join(strings.Fields(string(text)), " ")
		for _, want := range []string{
			"Bench 2 (invented)", "Wednesday table", f.digest.String(), f.head.String(), "2 beside this one.",
			string(f.closed), "none yet: not revealed", string(f.abandoned), "abandoned: no water", "Q. Invented",
		} {
			if !strings.Contains(got, want) {
				t.Errorf("%s: the report does not say %q", paper, want)
			}
		}
		// Nothing is written over.
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if _, errs, code := command(t, "report", string(f.revealed), "--data", f.path, "--out", out); code != 1 || !strings.Contains(errs, "exists") || !trouble(errs) {
			t.Errorf("a second time: code %d, %q", code, errs)
		}
		if again, err := os.ReadFile(out); err != nil || !bytes.Equal(again, b) {
			t.Errorf("the first file was altered: %v", err)
		}
	}
	for _, id := range []session.ID{f.closed, f.abandoned} {
		to := filepath.Join(t.TempDir(), "x.pdf")
		if _, errs, code := command(t, "report", string(id), "--data", f.path, "--out", to); code != 1 || !strings.Contains(errs, "sealed until the reveal") || !trouble(errs) {
			t.Errorf("%s: code %d, %q", id, code, errs)
		}
		if _, err := os.Stat(to); err == nil {
			t.Errorf("%s: a file was written", id)
		}
	}
	for _, id := range []string{"nobody", "lab", "../x"} {
		if _, errs, code := command(t, "report", id, "--data", f.path); code != 1 || !strings.Contains(errs, "no such session") || !trouble(errs) {
			t.Errorf("%s: code %d, %q", id, code, errs)
		}
	}
	if _, errs, code := command(t, "report", string(f.revealed), "--data", f.path, "--paper", "a5"); code != 2 || !trouble(errs) {
		t.Errorf("another size of paper: code %d, %q", code, errs)
	}
	if sum(t, f.path) != before {
		t.Error("the data file was altered")
	}
}
