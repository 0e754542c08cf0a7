package console

import (
	"slices"
	"strings"
	"testing"
)

// TestSeatsAreOfferedWithAReserve: a triangle and then body by pairs, both at pd
// 40 %, power 0.8. 42 seats are the first that do, and from 47 on all do (R 4.2.2,
// pbinom for 2 to 500 seats); 48 are the first whole blocks above.
func TestSeatsAreOfferedWithAReserve(t *testing.T) {
	d := newDesk(t)
	d.lots()
	const uneven = "If one person stays away the panel is uneven"
	for _, c := range []struct {
		name, seats string
		want        []string
		not         string
	}{
		{"too few", "36", []string{"Make it 42 seats", "42 seats in 2 flights of 24 and 18", "42 seats do, but not every number above: from 47 on all do.", "plan 48", uneven}, "of at most"},
		{"the first", "42", []string{"42 seats do, but not every number above: from 47 on all do.", uneven}, "Make it"},
		{"with a reserve", "48", []string{"From 47 seats on every number does, so of 48 people 1 may stay away.", uneven}, "Make it"},
		{"in threes", "18", []string{"42 seats in 3 flights of 18, 12 and 12"}, ""},
		// Above what the codes of a session hold (77 seats, so 72 in whole blocks) the
		// number does, and only a smaller one is balanced and fits.
		{"beyond", "499", []string{"can’t be sealed, and promises nothing: 499 seats need", "Make it 72 seats It is the largest of whole blocks that one session takes, and does for every test."}, "would find"},
		// 75 fit, 78 do not: the planned number does, and only a smaller one is balanced.
		{"at the end", "77", []string{"Make it 72 seats", "no larger number that one session takes is", "96 would find"}, "No number of seats"},
	} {
		says := part(t, worked(d, "body", map[string]string{"seats": c.seats}), "part-answer", "</section>")
		tells(t, c.name, says, c.want...)
		if c.not != "" && strings.Contains(says, c.not) {
			t.Errorf("%s: says %q: %s", c.name, c.not, says)
		}
		if strings.Contains(says, "100 would") || strings.Contains(says, "100 find") {
			t.Errorf("%s: a probability is certain: %s", c.name, says)
		}
	}
	if says := part(t, worked(d, "practice", nil), "part-answer", "</section>"); strings.Contains(says, uneven) {
		t.Error("practice has a reserve")
	}
}

func TestFlightsAreAsEvenAsBlocksAllow(t *testing.T) {
	for _, c := range []struct {
		seats, size, block int
		want               []int
	}{
		{42, 36, 6, []int{24, 18}},
		{66, 12, 6, []int{12, 12, 12, 12, 12, 6}},
		{60, 36, 6, []int{30, 30}},
		{24, 20, 4, []int{12, 12}},
		{30, 18, 6, []int{18, 12}},
	} {
		if got := flightsOf(c.seats, c.size, c.block); !slices.Equal(got, c.want) {
			t.Errorf("%d seats in flights of at most %d: %v, want %v", c.seats, c.size, got, c.want)
		}
	}
}
