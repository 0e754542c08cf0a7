package paper

import (
	"fmt"
	"strings"
	"testing"

	"oddcup/session"
)

// longest is a plan with every text as long as it may be.
func longest(m session.Method, letter string) session.Plan {
	p := planOf(6, testOf(m, 1))
	long := func(n int) string {
		s := strings.Repeat(strings.Repeat(letter, 9)+" ", n/10)
		return s[:len(s)-1] + "."
	}
	if !m.Overall {
		p.Tests[0].Attribute, p.Tests[0].Definition = strings.Repeat(letter, 30), long(300)
	}
	p.Serving.Swallow, p.Serving.Allergens, p.Conditions.Retaste = long(200), long(200), session.RetasteNot
	return p
}

// A ballot says what a phone says before the first cup, whatever the method, and
// stays on one page.
func TestBallotsHoldTheCautions(t *testing.T) {
	for _, m := range session.Methods {
		usual := planOf(6, testOf(m, 1))
		usual.Serving.Allergens = "crackers (wheat)"
		for _, c := range []struct {
			name string
			p    session.Plan
			size Size
		}{{"usual", usual, A4}, {"widest", longest(m, "W"), Letter}} {
			name, p, size := c.name, c.p, c.size
			s, _ := sealed(t, p, 3)
			pdf := must(t)(BallotsPDF(headOf(s), size, Ballots(Trays(s, s.Listed())[:1])))
			raw := string(poppler(t, pdf, "pdftotext", "-raw", "FILE", "-"))
			said := strings.Join(strings.Fields(raw), " ")
			if n := strings.Count(raw, "\f"); n != 1 {
				t.Errorf("%s, %s: %d pages", m.Key, name, n)
			}
			supplies := p.Supplies()
			for _, want := range []string{
				"Hot coffee, 55 to 65 °C: try a small sip first.",
				fmt.Sprintf("%d cups in all; caffeine: about %.0f mg", m.Cups, supplies.CaffeineMg),
				"If any of this is not for you, sit out: hand this sheet back, and no reason is asked.", "Hand this sheet back before the next set.",
				strings.Join(strings.Fields(p.Serving.Swallow), " "), strings.Join(strings.Fields(p.Serving.Allergens), " "),
			} {
				if !strings.Contains(said, want) {
					t.Errorf("%s, %s: the ballot does not say %q: %s", m.Key, name, want, said)
				}
			}
			for _, w := range words(t, pdf) {
				if w.right > size.Width-margin+0.5 || w.left < margin-0.5 {
					t.Errorf("%s, %s: %q runs out of the sheet", m.Key, name, w.text)
				}
				foot := size.Height - margin - 4
				if w.foot > foot && !strings.Contains("Seal "+session.ShortDigest(s.Digest)+" sheet 1 of 1", w.text) {
					t.Errorf("%s, %s: %q stands in the foot, at %.0f of %.0f mm", m.Key, name, w.text, w.foot, size.Height)
				}
			}
		}
	}
	s, _ := sealed(t, planOf(6, testOf(session.Triangle, 1)), 3)
	if c := NewTray(s, 1, 1, 0).Cautions; !strings.HasPrefix(c[1], "No allergens are named. ") {
		t.Errorf("%q", c)
	}
}
