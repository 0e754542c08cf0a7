package look

import (
	"fmt"
	"html/template"
	"strings"

	"rsc.io/qr"
)

// quiet is the width of the light border around a QR code, in modules
// (ISO/IEC 18004 asks for four).
const quiet = 4

// QR draws text as a QR code of error correction level M in a square of size
// pixels, quiet zone included. It fails when text is longer than a code of
// that level can carry.
func QR(text string, size int) (template.HTML, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", fmt.Errorf("qr code for a text of %d bytes: %w", len(text), err)
	}
	var b strings.Builder
	for y := range code.Size {
		for x := 0; x < code.Size; {
			if !code.Black(x, y) {
				x++
				continue
			}
			run := 1
			for code.Black(x+run, y) {
				run++
			}
			fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, run, run)
			x += run
		}
	}
	side := code.Size + 2*quiet
	return template.HTML(fmt.Sprintf(
		`<svg class="qr" role="img" aria-label="QR code for %s" width="%d" height="%d" viewBox="0 0 %d %d" shape-rendering="crispEdges"><path class="qr-ground" d="M0 0h%dv%dh-%dz"/><path class="qr-modules" d="%s"/></svg>`,
		template.HTMLEscapeString(text), size, size, side, side, side, side, side, b.String())), nil
}
