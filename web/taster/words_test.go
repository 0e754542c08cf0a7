package taster

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"
)

// TestNormalDoor reads join codes as people type them.
func TestNormalDoor(t *testing.T) {
	for typed, want := range map[string]string{
		"3WHXX9": "3WHXX9", "3whxx9": "3WHXX9", " 3wh xx9\n": "3WHXX9", "3WH-XX9": "3WHXX9",
		"3wh\u00a0xx9": "3WHXX9", "": "", " - ": "", "..": "..", "ß": "ß",
	} {
		if got := normalDoor(typed); got != want {
			t.Errorf("%q is read as %q, want %q", typed, got, want)
		}
	}
}

// TestCleanName keeps names of all scripts and drops what is no name.
func TestCleanName(t *testing.T) {
	for typed, want := range map[string]string{
		"Iva": "Iva", "  Iva \t Bo\n": "Iva Bo", "Zoë": "Zoë", "明子": "明子", "": "", " \u200b\u202e ": "",
		"Iva\x00\x07":            "Iva",
		"\u202eavI":              "avI", // would turn the board's line around
		"می\u200cخ":              "میخ", // one word, joined
		strings.Repeat("x", 60):  strings.Repeat("x", 40),
		strings.Repeat("ß", 60):  strings.Repeat("ß", 40),
		strings.Repeat("x ", 60): strings.TrimSpace(strings.Repeat("x ", 20)),
	} {
		if got := cleanName(typed); got != want {
			t.Errorf("%q is read as %q, want %q", typed, got, want)
		}
	}
}

func FuzzNormalDoor(f *testing.F) {
	for _, s := range []string{"3wh xx9", "-", "\xff", "ǆ", "ı"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		door := normalDoor(s)
		if normalDoor(door) != door {
			t.Errorf("%q: read once %q, read twice %q", s, door, normalDoor(door))
		}
		if strings.ContainsFunc(door, unicode.IsSpace) || strings.Contains(door, "-") {
			t.Errorf("%q is read as %q", s, door)
		}
	})
}

func FuzzCleanName(f *testing.F) {
	for _, s := range []string{"Iva", "a\x00b", "\xff\xfe", strings.Repeat("é ", 50), "\u202e", "a\u2003b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		name := cleanName(s)
		if !utf8.ValidString(name) || utf8.RuneCountInString(name) > maxName || name != strings.TrimSpace(name) || strings.Contains(name, "  ") {
			t.Errorf("%q is read as %q", s, name)
		}
		if strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
			t.Errorf("%q is read as %q, which can't be printed", s, name)
		}
		if cleanName(name) != name {
			t.Errorf("%q: read once %q, read twice %q", s, name, cleanName(name))
		}
	})
}

func FuzzParseFrame(f *testing.F) {
	for _, s := range []string{
		`{"t":"hello","v":1,"door":"3WHXX9","token":"00112233445566778899aabbccddeeff"}`,
		`{"t":"lock","id":"a0000000000000000000000000000002","set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:15.870Z"}`,
		`{"t":"lock","id":"a0000000000000000000000000000003","set":1,"take":0,"pick":770,"also":164,"guess":true,"at":"2026-04-14T08:42:15.870Z"}`,
		`{"t":"beat"}`, `{"t":""}`, `[]`, `null`, `{"t":"beat"}{"t":"beat"}`, `{"t":"lock","set":1e400}`, `{"t":"beat","at":"+012026-01-01T00:00:00Z"}`,
		strings.Repeat("[", 5000), `{"T":"beat","t":"lock"}`, "{\"t\":\"\xff\"}",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		frame, err := parseFrame(b)
		if err != nil {
			if !errors.Is(err, errFrame) {
				t.Errorf("%q: %v", b, err)
			}
			return
		}
		if frame.T == "" || len(b) > maxFrame || !json.Valid(b) {
			t.Errorf("%q was taken as %+v", b, frame)
		}
		// What was read can be written, and reads the same.
		again, err := json.Marshal(frame)
		if err != nil {
			t.Fatalf("%q: %v", b, err)
		}
		if len(again) > maxFrame {
			return
		}
		back, err := parseFrame(again)
		if at := frame.At; err != nil || !back.At.Equal(at) {
			t.Errorf("%q: %+v, then %+v: %v", b, frame, back, err)
		}
		back.At, frame.At = time.Time{}, time.Time{}
		if back != frame {
			t.Errorf("%q: %+v, then %+v", b, frame, back)
		}
	})
}

// TestOwnWords: what only a phone is told is plain, and leads a taster to
// nothing that only the host can do.
func TestOwnWords(t *testing.T) {
	seen := map[string]bool{}
	for _, o := range own {
		for _, s := range []string{o.say, o.next} {
			if len(s) < 10 || !strings.HasSuffix(s, ".") || strings.ContainsAny(s, "!%") || !unicode.IsUpper(rune(s[0])) {
				t.Errorf("%v: %q is no plain sentence", o.err, s)
			}
		}
		if strings.Contains(o.next, "home page") || strings.Contains(o.next, "board") {
			t.Errorf("%v: sends a taster to the host's pages: %q", o.err, o.next)
		}
		if seen[o.say] {
			t.Errorf("said twice: %q", o.say)
		}
		seen[o.say] = true
	}
	if len(own) < 5 {
		t.Errorf("only %d words", len(own))
	}
}
