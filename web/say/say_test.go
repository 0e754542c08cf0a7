package say

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"oddcup/session"
)

// sentinels are the errors of package session by name. TestEverySentinelHasWords
// holds this list to the source.
var sentinels = map[string]error{
	"ErrAnswered": session.ErrAnswered, "ErrBadEntry": session.ErrBadEntry, "ErrClosedRoom": session.ErrClosedRoom,
	"ErrConflict": session.ErrConflict, "ErrDossier": session.ErrDossier,
	"ErrChain": session.ErrChain, "ErrFlight": session.ErrFlight, "ErrFrozen": session.ErrFrozen, "ErrFull": session.ErrFull,
	"ErrJournal": session.ErrJournal, "ErrNewer": session.ErrNewer, "ErrNoLot": session.ErrNoLot,
	"ErrNoCheck": session.ErrNoCheck, "ErrNoRole": session.ErrNoRole, "ErrNoTemperature": session.ErrNoTemperature,
	"ErrOutsideWindow": session.ErrOutsideWindow, "ErrPours": session.ErrPours, "ErrScald": session.ErrScald,
	"ErrNoMore": session.ErrNoMore, "ErrNoPin": session.ErrNoPin, "ErrNoSeat": session.ErrNoSeat,
	"ErrNoSession": session.ErrNoSession, "ErrNotFront": session.ErrNotFront, "ErrNotHere": session.ErrNotHere,
	"ErrNotInSet": session.ErrNotInSet, "ErrPhase": session.ErrPhase, "ErrPin": session.ErrPin, "ErrPinEasy": session.ErrPinEasy,
	"ErrPinWait": session.ErrPinWait, "ErrPlan": session.ErrPlan, "ErrReleased": session.ErrReleased, "ErrRound": session.ErrRound,
	"ErrSeal": session.ErrSeal, "ErrSealed": session.ErrSealed, "ErrSenseless": session.ErrSenseless,
	"ErrStopped": session.ErrStopped, "ErrTaken": session.ErrTaken, "ErrVoided": session.ErrVoided, "ErrWords": session.ErrWords,
	"ErrNoPerson": session.ErrNoPerson, "ErrErased": session.ErrErased, "ErrMerged": session.ErrMerged, "ErrTellsName": session.ErrTellsName,
	"ErrTied": session.ErrTied, "ErrNoSeries": session.ErrNoSeries, "ErrSeriesEnded": session.ErrSeriesEnded, "ErrLines": session.ErrLines,
	"ErrTerms": session.ErrTerms, "ErrNoRule": session.ErrNoRule, "ErrMark": session.ErrMark, "ErrAgainstRecord": session.ErrAgainstRecord, "ErrNotEligible": session.ErrNotEligible,
	"ErrRecords": session.ErrRecords, "ErrTogether": session.ErrTogether,
}

// inSource finds the exported error variables of package session.
func inSource(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("../../session/*.go")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			gen, ok := d.(*ast.GenDecl)
			if !ok || gen.Tok != token.VAR {
				continue
			}
			for _, spec := range gen.Specs {
				for _, name := range spec.(*ast.ValueSpec).Names {
					if name.IsExported() && strings.HasPrefix(name.Name, "Err") {
						names = append(names, name.Name)
					}
				}
			}
		}
	}
	if len(names) < 20 {
		t.Fatalf("found %d errors in %d files of package session", len(names), len(files))
	}
	return names
}

// TestEverySentinelHasWords: an error that a person can meet has words of its own.
func TestEverySentinelHasWords(t *testing.T) {
	seen := map[string]string{}
	names := inSource(t)
	for _, name := range names {
		err, ok := sentinels[name]
		if !ok {
			t.Errorf("session.%s is new: put it into this test, and give it words", name)
			continue
		}
		w, foreseen := Of(fmt.Errorf("seat 7: %w", err))
		if !foreseen {
			t.Errorf("session.%s has no words", name)
			continue
		}
		if other := seen[w.Say]; other != "" {
			t.Errorf("session.%s and session.%s say the same: %q", name, other, w.Say)
		}
		seen[w.Say] = name
	}
	if len(names) != len(sentinels) {
		t.Errorf("this test knows %d errors, and package session has %d", len(sentinels), len(names))
	}
}

// TestWords holds every sentence: plain, with a next step and a fitting status.
func TestWords(t *testing.T) {
	other, foreseen := Of(errors.New("none of ours"))
	if foreseen || other.Status != 500 || other.Why != "host" {
		t.Errorf("an error that nobody foresaw: %+v, %v", other, foreseen)
	}
	for _, w := range append([]struct {
		err   error
		words Words
	}{{errors.New("none of ours"), other}}, known...) {
		for _, s := range []string{w.words.Say, w.words.Next} {
			if len(s) < 10 || !strings.HasSuffix(s, ".") || !unicode.IsUpper([]rune(s)[0]) {
				t.Errorf("%v: %q is no sentence", w.err, s)
			}
			for _, never := range []string{"please", "oops", "sorry", "!", "error", "invalid", "fail", "%", "json", "nil", "null"} {
				if strings.Contains(strings.ToLower(s), never) {
					t.Errorf("%v: %q says %q", w.err, s, never)
				}
			}
		}
		if w.words.Status < 400 || w.words.Status > 599 {
			t.Errorf("%v: status %d", w.err, w.words.Status)
		}
		if w.words.Why == "" || strings.ToLower(w.words.Why) != w.words.Why || strings.ContainsFunc(w.words.Why, unicode.IsSpace) {
			t.Errorf("%v: why %q is not one word", w.err, w.words.Why)
		}
		if w.words.Why == "host" && w.err.Error() != "none of ours" {
			t.Errorf("%v has the why of what nobody foresaw", w.err)
		}
	}
}

// TestTheFailedWriteComesFirst: whatever else a failed append wraps, people hear
// that nothing was kept.
func TestTheFailedWriteComesFirst(t *testing.T) {
	for name, inner := range sentinels {
		if w, _ := Of(fmt.Errorf("%w: %w", session.ErrJournal, inner)); w.Why != "busy" || w.Status != 503 {
			t.Errorf("a failed append with session.%s is told as %q, %d", name, w.Why, w.Status)
		}
	}
}
