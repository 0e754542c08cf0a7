package paper

import (
	"strings"
	"testing"

	"oddcup/session"
)

// The address to type by hand is whole on the card, however long a numeric one gets,
// and ends before the edge of the paper.
func TestSeatCardAddressIsWhole(t *testing.T) {
	const address = "192.168.200.200:65535/j/MWNWMQ"
	s, _ := sealed(t, planOf(4, testOf(session.Triangle, 1)), 3)
	for _, size := range []Size{A4, Letter} {
		pdf := must(t)(SeatCardsPDF(headOf(s), size, SeatPages([]SeatCard{{Seat: 24, Link: "http://" + address, Address: address, Door: "MWNWMQ"}})))
		got := layoutText(t, pdf)
		for _, want := range []string{address, "seat code MWNWMQ"} {
			if !strings.Contains(got, want) {
				t.Errorf("%v: the card does not say %q:\n%s", size, want, got)
			}
		}
		if n := rendered(t, pdf, 1, 100).in(size.Width-11, 20, size.Width, 120); n > 0 {
			t.Errorf("%v: %d dots in the margin", size, n)
		}
	}
}
