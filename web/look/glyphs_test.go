package look

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"
	"testing"
)

// wellFormed fails unless markup parses as XML, which an SVG served in a page
// need not but a broken quote would not.
func wellFormed(t *testing.T, name string, markup template.HTML) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader("<x>" + string(markup) + "</x>"))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("%s: %v in %s", name, err, markup)
		}
	}
}

func TestDigits(t *testing.T) {
	for _, tc := range []struct{ text, want string }{
		{"742", `aria-label="742" width="92.8" height="40" viewBox="0 0 232 100"`}, // 3 × 60 + 2 × 26
		{"7", `aria-label="7" width="24" height="40" viewBox="0 0 60 100"`},
		{"0:42", `viewBox="0 0 282 100"`}, // 3 × 60 + 24 + 3 × 26
	} {
		got := Digits(tc.text, 40)
		wellFormed(t, tc.text, got)
		if !strings.Contains(string(got), tc.want) || !strings.Contains(string(got), `role="img"`) {
			t.Errorf("Digits(%q) = %s, want %s in it", tc.text, got, tc.want)
		}
		if n := strings.Count(string(got), "<path"); n != len(tc.text) {
			t.Errorf("Digits(%q) draws %d paths, want %d", tc.text, n, len(tc.text))
		}
	}
}

// A text that cannot be drawn still shows, and cannot bring markup with it.
func TestOtherTextStandsIn(t *testing.T) {
	for _, text := range []string{"", "7<b>", "A1"} {
		for _, got := range []template.HTML{Digits(text, 40), Tape(text, 40), WideTape(text, 80, 40)} {
			if strings.Contains(string(got), "<svg") || !strings.Contains(string(got), ">"+template.HTMLEscapeString(text)+"<") {
				t.Errorf("%q came out as %s", text, got)
			}
		}
	}
}

func TestTapeOutline(t *testing.T) {
	// 4 teeth of 5, depth 2.5: worked by hand from the algorithm's comment.
	want := "M2.5 0H57.5L60 2.5L57.5 5L60 7.5L57.5 10L60 12.5L57.5 15L60 17.5L57.5 20H2.5L0 17.5L2.5 15L0 12.5L2.5 10L0 7.5L2.5 5L0 2.5L2.5 0Z"
	if got := TapeOutline(60, 20); got != want {
		t.Errorf("TapeOutline(60, 20) = %s, want %s", got, want)
	}
	wellFormed(t, "tape", Tape("415", 60))
}

func TestMarks(t *testing.T) {
	names := strings.Fields("expected here tasting onphone locked away calling empty void done notdone rinse caution sealed broken paper different small similar undecided")
	seen := map[string]string{}
	for _, name := range names {
		got := Mark(name, 24)
		wellFormed(t, name, got)
		if !strings.Contains(string(got), `aria-hidden="true"`) {
			t.Errorf("mark %s is not hidden from screen readers: %s", name, got)
		}
		_, drawing, _ := strings.Cut(string(got), ">")
		if twin := seen[drawing]; twin != "" && twin+name != "herenotdone" {
			t.Errorf("marks %s and %s are drawn alike", twin, name)
		}
		seen[drawing] = name
	}
	if len(glyphs.Mark) != len(names) {
		t.Errorf("the glyph file has %d marks, %d are documented", len(glyphs.Mark), len(names))
	}
}

func TestUnknownNamesPanic(t *testing.T) {
	for name, draw := range map[string]func(){
		"mark":   func() { Mark("cheering", 24) },
		"cup":    func() { Cup("spilled", 24) },
		"vessel": func() { Vessel("square", 24) },
		"null":   func() { NullDistribution(NullPlot{N: 3, PMF: []float64{1}}) },
		"power":  func() { PowerCurve(PowerPlot{}) },
		"axis":   func() { Estimates(EstimatePlot{Min: 1, Max: 1}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			draw()
		}()
	}
}

// Before the reveal every cup of a tray is drawn alike: only the pick differs.
func TestCups(t *testing.T) {
	for _, state := range []string{"standing", "awaited", "pick", "kept"} {
		got := string(Cup(state, 100))
		wellFormed(t, state, template.HTML(got))
		loops := map[string]int{"pick": 1, "kept": 2}[state]
		if n := strings.Count(got, "cup-loop"); n != loops {
			t.Errorf("cup %s has %d loops, want %d", state, n, loops)
		}
	}
}

func TestSetDots(t *testing.T) {
	got := string(SetDots(1, 2, 16))
	if strings.Count(got, "<circle") != 2 || strings.Count(got, `r="9.8" fill=`) != 1 || !strings.Contains(got, `aria-label="1 of 2 sets done"`) {
		t.Errorf("SetDots(1, 2) = %s", got)
	}
}

func TestGlyphModule(t *testing.T) {
	body, ok := strings.CutPrefix(string(GlyphModule()), "export default ")
	if !ok {
		t.Fatal("not a module with a default export")
	}
	body, ok = strings.CutSuffix(body, ";\n")
	if !ok {
		t.Fatal("the module does not end with a semicolon")
	}
	var file struct {
		Digit struct{ Paths map[string]string }
	}
	if err := json.Unmarshal([]byte(body), &file); err != nil {
		t.Fatal(err)
	}
	for _, r := range "0123456789:" {
		if file.Digit.Paths[string(r)] == "" {
			t.Errorf("no path for %q", r)
		}
	}
}

func TestQR(t *testing.T) {
	got, err := QR("http://192.0.2.14:8080/j/7KQ2MX", 200)
	if err != nil {
		t.Fatal(err)
	}
	wellFormed(t, "qr", got)
	// 31 bytes at level M need version 3, 29 modules (ISO/IEC 18004, table 7,
	// from memory: version 2-M carries 26 bytes, 3-M 42), and 4 on each side.
	if !strings.Contains(string(got), `viewBox="0 0 37 37"`) {
		t.Errorf("size of the code: %.200s", got)
	}
	// The finder patterns: seven dark modules in the corner rows (same source).
	for _, run := range []string{"M4 4h7v1h-7z", "M26 4h7v1h-7z", "M4 26h7v1h-7z"} {
		if !strings.Contains(string(got), run) {
			t.Errorf("no run %s in the code", run)
		}
	}
	if got, err := QR(`"<b>`, 200); err != nil || strings.Contains(string(got), "<b>") {
		t.Errorf("label not escaped: %.120s, %v", got, err)
	}
	if _, err := QR(strings.Repeat("x", 4000), 200); err == nil {
		t.Error("a text of 4000 bytes gives no error")
	} else if want := "qr code for a text of 4000 bytes: "; !strings.HasPrefix(err.Error(), want) {
		t.Errorf("error %q, want it to begin with %q", err, want)
	}
}

func ExampleTapeOutline() {
	fmt.Println(TapeOutline(30, 12))
	// Output: M1.5 0H28.5L30 1.5L28.5 3L30 4.5L28.5 6L30 7.5L28.5 9L30 10.5L28.5 12H1.5L0 10.5L1.5 9L0 7.5L1.5 6L0 4.5L1.5 3L0 1.5L1.5 0Z
}
