// Package look draws what all screens and all paper share: the digits, tape,
// marks, cups, plots and QR codes, and the style sheets that colour them.
//
// Everything here is a pure function from values to markup. The markup has no
// style attribute and no script, so that it passes a strict content security
// policy; colours come from the classes and tokens in static/.
package look

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
)

// Static holds the directory static: tokens.css, base.css, host.css and
// print.css. A page links tokens.css first, then base.css, then its own.
//
//go:embed static
var Static embed.FS

// glyphSource is the one drawing from which this package and the phone's
// script both work.
//
//go:embed glyphs.json
var glyphSource []byte

// glyphs is glyphSource, read once. Its fields mirror the file.
var glyphs = readGlyphs(glyphSource)

type glyphFile struct {
	Digit struct {
		Width, Height, Stroke, Gap, ColonWidth float64
		Paths                                  map[string]string
	}
	Tape struct {
		Pitch, Deepest                                         float64
		MinTeeth, MaxTeeth                                     int
		DigitTop, DigitHeight, Underline, UnderlineWidth, Side float64
	}
	Mark map[string]markGlyph
	Cup  struct {
		Box                             float64
		Wall, AwaitedDash, Liquid, Pick string
		Kept                            []string
	}
	Vessel map[string]struct {
		D    string
		Fill bool
	}
	Wordmark struct {
		Width, Height float64
		Rings, Disc   string
	}
}

type markGlyph struct {
	Width float64
	Parts []struct {
		D    string
		Fill bool
		Dash string
	}
}

// readGlyphs panics on a damaged file: it is part of the program.
func readGlyphs(source []byte) glyphFile {
	var f glyphFile
	if err := json.Unmarshal(source, &f); err != nil {
		panic("look: glyphs.json: " + err.Error())
	}
	return f
}

// GlyphModule returns the glyph file as an ECMAScript module whose default
// export is the file's object, for the phone's script.
func GlyphModule() []byte {
	var b bytes.Buffer
	b.WriteString("export default ")
	if err := json.Compact(&b, glyphSource); err != nil {
		panic("look: glyphs.json: " + err.Error())
	}
	b.WriteString(";\n")
	return b.Bytes()
}

// Digits draws text, made of the digits 0 to 9 and colons, height pixels high.
// Codes, seat numbers and the clock stand in these digits, nothing else does.
// A text with any other character comes back as plain, escaped text.
func Digits(text string, height int) template.HTML {
	width, paths, ok := digitPaths(text)
	if !ok {
		return template.HTML(`<span class="digits-text">` + template.HTMLEscapeString(text) + `</span>`)
	}
	h := float64(height)
	return template.HTML(fmt.Sprintf(
		`<svg class="digits" role="img" aria-label="%s" width="%s" height="%d" viewBox="0 0 %s %s" fill="none" stroke="currentColor" stroke-width="%s" stroke-linecap="round" stroke-linejoin="round">%s</svg>`,
		text, num(width*h/glyphs.Digit.Height), height, num(width), num(glyphs.Digit.Height), num(glyphs.Digit.Stroke), paths))
}

// digitPaths lays text out from x = 0 in the units of the digits' box and
// returns its width. It is not ok when text is empty or holds another character.
func digitPaths(text string) (width float64, paths string, ok bool) {
	if text == "" {
		return 0, "", false
	}
	d := glyphs.Digit
	var b strings.Builder
	x := 0.0
	for i, r := range text {
		path, known := d.Paths[string(r)]
		if !known {
			return 0, "", false
		}
		if i > 0 {
			x += d.Gap
		}
		if x == 0 {
			fmt.Fprintf(&b, `<path d="%s"/>`, path)
		} else {
			fmt.Fprintf(&b, `<path transform="translate(%s)" d="%s"/>`, num(x), path)
		}
		if r == ':' {
			x += d.ColonWidth
		} else {
			x += d.Width
		}
	}
	return x, b.String(), true
}

// TapeOutline returns the path of a strip of tape, width by height pixels, cut
// with a saw at both ends. The phone's script draws the same strip:
//
//	teeth = round(height/pitch), kept between minTeeth and maxTeeth
//	step  = height/teeth
//	depth = min(step/2, deepest)
//	start at (depth, 0), go along the top to (width-depth, 0);
//	down the right end, for each tooth: a line to (width, its middle),
//	a line to (width-depth, its end);
//	along the bottom to (depth, height);
//	up the left end, for each tooth: a line to (0, its middle),
//	a line to (depth, its end); close.
//
// pitch, minTeeth, maxTeeth and deepest stand in the glyph file under "tape".
func TapeOutline(width, height float64) string {
	t := glyphs.Tape
	teeth := min(max(int(math.Round(height/t.Pitch)), t.MinTeeth), t.MaxTeeth)
	step := height / float64(teeth)
	depth := min(step/2, t.Deepest)
	var b strings.Builder
	fmt.Fprintf(&b, "M%s 0H%s", num(depth), num(width-depth))
	for i := range teeth {
		y := float64(i) * step
		fmt.Fprintf(&b, "L%s %sL%s %s", num(width), num(y+step/2), num(width-depth), num(y+step))
	}
	fmt.Fprintf(&b, "H%s", num(depth))
	for i := range teeth {
		y := height - float64(i)*step
		fmt.Fprintf(&b, "L0 %sL%s %s", num(y-step/2), num(depth), num(y-step))
	}
	b.WriteString("Z")
	return b.String()
}

// Tape draws a code or seat number on a strip of tape height pixels high, with
// the line beneath that says which way is up. A text that is not made of
// digits comes back as plain, escaped text.
func Tape(code string, height int) template.HTML {
	width, _, _ := digitPaths(code)
	h := float64(height)
	return strip(code, width*digitScale(h)+2*(h*glyphs.Tape.Side+2), h)
}

// WideTape is Tape on a strip of a given width, with the code in its middle,
// for a seat card: width and height in pixels.
func WideTape(code string, width, height int) template.HTML {
	return strip(code, float64(width), float64(height))
}

// digitScale turns the units of the digits' box into pixels on a strip of tape
// of the given height.
func digitScale(height float64) float64 {
	return height * glyphs.Tape.DigitHeight / glyphs.Digit.Height
}

// strip draws code in the middle of a strip of tape, w by h pixels.
func strip(code string, w, h float64) template.HTML {
	width, paths, ok := digitPaths(code)
	if !ok {
		return template.HTML(`<span class="tape-text">` + template.HTMLEscapeString(code) + `</span>`)
	}
	t, scale := glyphs.Tape, digitScale(h)
	side := (w - width*scale) / 2
	return template.HTML(fmt.Sprintf(
		`<svg class="tape" role="img" aria-label="%s" width="%s" height="%s" viewBox="-1 -1 %s %s">`+
			`<path class="tape-strip" d="%s"/>`+
			`<g class="tape-digits" transform="translate(%s %s) scale(%s)" fill="none" stroke-width="%s" stroke-linecap="round" stroke-linejoin="round">%s</g>`+
			`<path class="tape-under" stroke-width="%s" d="M%s %sH%s"/></svg>`,
		code, num(w+2), num(h+2), num(w+2), num(h+2),
		TapeOutline(w, h),
		num(side), num(h*t.DigitTop), strconv.FormatFloat(scale, 'f', 4, 64), num(glyphs.Digit.Stroke), paths,
		num(max(1, h*t.UnderlineWidth)), num(side), num(h*t.Underline), num(w-side)))
}

// Mark draws the mark of a state or outcome, size pixels high. It is hidden
// from screen readers: a word always stands beside it. The names are
//
//	expected here tasting onphone locked away calling empty void done notdone
//	rinse caution sealed broken paper different small similar undecided
//
// The last four, outcomes, are 40/24 as wide as high. Mark panics on any other
// name, which is a fault of the page that asks.
func Mark(name string, size int) template.HTML {
	m, ok := glyphs.Mark[name]
	if !ok {
		panic(fmt.Sprintf("look: no mark named %q", name))
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="mark mark-%s" aria-hidden="true" focusable="false" width="%s" height="%d" viewBox="0 0 %s 24" fill="none" stroke="currentColor" stroke-width="2" stroke-linecap="round" stroke-linejoin="round">`,
		name, num(m.Width*float64(size)/24), size, num(m.Width))
	for _, p := range m.Parts {
		fmt.Fprintf(&b, `<path d="%s"`, p.D)
		if p.Fill {
			b.WriteString(` fill="currentColor" fill-rule="evenodd" stroke="none"`)
		}
		if p.Dash != "" {
			fmt.Fprintf(&b, ` stroke-dasharray="%s"`, p.Dash)
		}
		b.WriteString("/>")
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// Cup draws a cup from above, two circles, in a square of size pixels. It is
// hidden from screen readers: the code beside it is the cup's name. States:
//
//	standing  on the tray, not picked
//	awaited   not yet on the tray
//	pick      picked: graphite, one open loop
//	kept      kept: violet, closed twice
//
// Cup panics on any other state.
func Cup(state string, size int) template.HTML {
	c := glyphs.Cup
	var dash, loops string
	switch state {
	case "standing":
	case "awaited":
		dash = fmt.Sprintf(` stroke-dasharray="%s"`, c.AwaitedDash)
	case "pick":
		loops = fmt.Sprintf(`<path class="cup-loop" d="%s"/>`, c.Pick)
	case "kept":
		for _, d := range c.Kept {
			loops += fmt.Sprintf(`<path class="cup-loop" d="%s"/>`, d)
		}
	default:
		panic(fmt.Sprintf("look: no cup state named %q", state))
	}
	return template.HTML(fmt.Sprintf(
		`<svg class="cup cup-%s" aria-hidden="true" focusable="false" width="%d" height="%d" viewBox="0 0 %s %s"><path class="cup-wall" d="%s"%s/><path class="cup-liquid" d="%s"/>%s</svg>`,
		state, size, size, num(c.Box), num(c.Box), c.Wall, dash, c.Liquid, loops))
}

// SetDots draws a circle for each of a seat's sets, the first done of them
// filled, size pixels high. It reads "1 of 2 sets done".
func SetDots(done, sets, size int) template.HTML {
	var b strings.Builder
	width := 27 * sets
	fmt.Fprintf(&b, `<svg class="setdots" role="img" aria-label="%d of %d sets done" width="%s" height="%d" viewBox="0 0 %d 24" fill="none" stroke="currentColor" stroke-width="2.4">`,
		done, sets, num(float64(width*size)/24), size, width)
	for i := range sets {
		fill := ""
		if i < done {
			fill = ` fill="currentColor"`
		}
		fmt.Fprintf(&b, `<circle cx="%d" cy="12" r="9.8"%s/>`, 27*i+13, fill)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// Vessel draws the mark of a vessel on the pour sheet, size pixels high:
// "disc", "diamond" or "cross". Which lot is in the vessel is told by no mark. Vessel
// panics on any other shape.
func Vessel(shape string, size int) template.HTML {
	v, ok := glyphs.Vessel[shape]
	if !ok {
		panic(fmt.Sprintf("look: no vessel mark named %q", shape))
	}
	fill := "none"
	if v.Fill {
		fill = "currentColor"
	}
	return template.HTML(fmt.Sprintf(
		`<svg class="vessel" role="img" aria-label="%s" width="%d" height="%d" viewBox="0 0 24 24"><path d="%s" fill="%s" stroke="currentColor" stroke-width="2.4" stroke-linejoin="round"/></svg>`,
		shape, size, size, v.D, fill))
}

// WordMark returns the program's name with its three cups, which stand in a
// triangle and are for the host's eyes only.
func WordMark() template.HTML {
	w := glyphs.Wordmark
	return template.HTML(fmt.Sprintf(
		`<span class="wordmark"><svg aria-hidden="true" focusable="false" width="26" height="26" viewBox="0 0 %s %s"><path d="%s" fill="none" stroke="currentColor" stroke-width="2"/><path d="%s" fill="currentColor"/></svg>oddcup</span>`,
		num(w.Width), num(w.Height), w.Rings, w.Disc))
}

// num writes a length with at most two decimals.
func num(x float64) string {
	s := strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}
