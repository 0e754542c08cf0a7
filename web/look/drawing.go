package look

import (
	"fmt"

	"rsc.io/qr"
)

// Drawing is a glyph as path data, for what is not markup. Lengths are in the
// units of its own box, from the top left corner.
type Drawing struct {
	Width, Height float64
	Stroke        float64 // width of the lines; ends and corners are round
	Parts         []DrawingPart
}

// DrawingPart is one path of a drawing: SVG path data of the commands M, L, H,
// V, C, S, A and Z, in absolute coordinates.
type DrawingPart struct {
	X    float64 // how far it stands to the right
	Path string
	Fill bool // filled and not stroked
}

// DigitsDrawing is what [Digits] draws; ok is false for a text that is not made
// of digits.
func DigitsDrawing(text string) (d Drawing, ok bool) {
	g := glyphs.Digit
	d = Drawing{Height: g.Height, Stroke: g.Stroke}
	for i, r := range text {
		path, known := g.Paths[string(r)]
		if !known || r == ':' {
			return Drawing{}, false
		}
		if i > 0 {
			d.Width += g.Gap
		}
		d.Parts = append(d.Parts, DrawingPart{X: d.Width, Path: path})
		d.Width += g.Width
	}
	return d, text != ""
}

// VesselDrawing is what [Vessel] draws. It panics on any other shape.
func VesselDrawing(shape string) Drawing {
	v, ok := glyphs.Vessel[shape]
	if !ok {
		panic(fmt.Sprintf("look: no vessel mark named %q", shape))
	}
	d := Drawing{Width: 24, Height: 24, Stroke: 2.4, Parts: []DrawingPart{{Path: v.D}}}
	if v.Fill {
		d.Parts = append(d.Parts, DrawingPart{Path: v.D, Fill: true})
	}
	return d
}

// CautionDrawing is the mark that stands before a caution.
func CautionDrawing() Drawing {
	m := glyphs.Mark["caution"]
	d := Drawing{Width: m.Width, Height: 24, Stroke: 2}
	for _, p := range m.Parts {
		d.Parts = append(d.Parts, DrawingPart{Path: p.D, Fill: p.Fill})
	}
	return d
}

// CupDrawing is a cup from above, standing on the tray.
func CupDrawing() Drawing {
	c := glyphs.Cup
	return Drawing{Width: c.Box, Height: c.Box, Stroke: 2, Parts: []DrawingPart{{Path: c.Wall}, {Path: c.Liquid}}}
}

// TapeDrawing is the outline of a strip of tape.
func TapeDrawing(width, height float64) Drawing {
	return Drawing{Width: width, Height: height, Stroke: 1, Parts: []DrawingPart{{Path: TapeOutline(width, height)}}}
}

// TapeLines says where digits stand on a strip of tape of a height: the top and
// height of the digits, and the place and width of the line beneath.
func TapeLines(height float64) (top, digits, line, width float64) {
	t := glyphs.Tape
	return height * t.DigitTop, height * t.DigitHeight, height * t.Underline, height * t.UnderlineWidth
}

// QRModules gives the modules of the code that [QR] draws, without its quiet
// zone, and the width of the zone in modules.
func QRModules(text string) (side, zone int, black func(x, y int) bool, err error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return 0, 0, nil, fmt.Errorf("qr code for a text of %d bytes: %w", len(text), err)
	}
	return code.Size, quiet, code.Black, nil
}
