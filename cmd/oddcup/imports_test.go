package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// allowed are the packages of ours that each package may import, and why.
var allowed = map[string][]string{
	"oddcup/stats":            {},                                    // arithmetic
	"oddcup/session":          {"oddcup/stats"},                      // the domain
	"oddcup/session/record":   {"oddcup/session", "oddcup/stats"},    // each judge's record
	"oddcup/store":            {"oddcup/session"},                    // keeps journals for it
	"oddcup/web/look":         {},                                    // drawing
	"oddcup/web/asset":        {},                                    // files
	"oddcup/web/guard":        {},                                    // headers
	"oddcup/web/say":          {"oddcup/session"},                    // words for its errors
	"oddcup/web/paper":        {"oddcup/session", "oddcup/web/look"}, // sheets, and files of them
	"oddcup/web/taster":       {"oddcup/session", "oddcup/web/asset", "oddcup/web/guard", "oddcup/web/look", "oddcup/web/say"},
	"oddcup/web/console":      {"oddcup/session", "oddcup/session/record", "oddcup/stats", "oddcup/web/asset", "oddcup/web/guard", "oddcup/web/look", "oddcup/web/paper", "oddcup/web/say", "oddcup/web/taster"},
	"oddcup/web":              {"oddcup/session", "oddcup/web/guard", "oddcup/web/console", "oddcup/web/taster"},
	"oddcup/cmd/oddcup/panel": {}, // written from the protocol's description alone
	"oddcup/cmd/oddcup":       {"oddcup/session", "oddcup/session/record", "oddcup/stats", "oddcup/store", "oddcup/web", "oddcup/web/guard", "oddcup/web/console", "oddcup/web/paper", "oddcup/cmd/oddcup/panel"},
}

// TestImportDirection holds that arrows run one way: cmd to web and store, both
// to session, session to stats; web and store never see each other, and stats
// imports gonum and the standard library alone.
func TestImportDirection(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}}: {{join .Imports \" \"}}", "oddcup/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for line := range strings.Lines(string(out)) {
		pkg, imports, _ := strings.Cut(strings.TrimSpace(line), ": ")
		may, ok := allowed[pkg]
		if !ok {
			t.Errorf("package %s is new: say in this test what it may import, and why", pkg)
			continue
		}
		seen++
		for imp := range strings.FieldsSeq(imports) {
			if strings.HasPrefix(imp, "oddcup/") && !slices.Contains(may, imp) {
				t.Errorf("%s imports %s", pkg, imp)
			}
			if pkg == "oddcup/stats" && strings.Contains(imp, ".") && !strings.HasPrefix(imp, "gonum.org/") {
				t.Errorf("stats imports %s", imp)
			}
			for _, io := range []string{"net", "os", "net/http", "log", "log/slog", "crypto/rand"} {
				if (pkg == "oddcup/stats" || pkg == "oddcup/session" || pkg == "oddcup/session/record") && imp == io {
					t.Errorf("%s imports %s: it has no clock, no disk and no chance of its own", pkg, imp)
				}
			}
		}
	}
	if seen != len(allowed) {
		t.Errorf("saw %d packages of %d", seen, len(allowed))
	}
}
