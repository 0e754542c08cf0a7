package session

import (
	"slices"
	"testing"
)

func TestCodesLeftOut(t *testing.T) {
	for _, c := range []struct {
		code Code
		ok   bool
		why  string
	}{
		{168, false, "upside down 891"}, {891, false, "upside down 168"}, {609, false, "upside down 609"},
		{100, false, "upside down and round"}, {906, false, "upside down 906"}, {810, false, "upside down 018"},
		{222, false, "three equal digits"}, {555, false, "three equal digits"}, {999, false, "three equal digits"},
		{123, false, "run"}, {789, false, "run"}, {987, false, "run"}, {210, false, "run"}, {543, false, "run"},
		{200, false, "round"}, {700, false, "round"},
		{102, true, "2 does not turn"}, {132, true, "no run"}, {246, true, "steps of two"}, {890, false, "all digits turn"},
		{220, true, "two equal digits"}, {202, true, "two equal digits"}, {901, false, "all digits turn"},
		{124, true, "no run"}, {321, false, "run"}, {417, true, "plain"}, {899, false, "all digits turn"}, {997, true, "7 does not turn"},
	} {
		if got := c.code.usable(); got != c.ok {
			t.Errorf("code %d (%s): usable %v, want %v", c.code, c.why, got, c.ok)
		}
	}
}

// Counted by hand: of 900 codes, 4·5·5 = 100 have only digits that turn; of nine
// with equal digits five are not among them; 7 rising and 8 falling runs; of nine
// round hundreds five are not among them.
func TestNumberOfUsableCodes(t *testing.T) {
	if want := 900 - 100 - 5 - (7 + 8) - 5; len(usableCodes) != want {
		t.Errorf("%d usable codes, want %d", len(usableCodes), want)
	}
	if !slices.IsSorted(usableCodes) || len(slices.Compact(slices.Clone(usableCodes))) != len(usableCodes) {
		t.Error("usable codes are not in rising order, each once")
	}
	for _, c := range usableCodes {
		if c < 100 || c > 999 {
			t.Errorf("code %d has not three digits", c)
		}
	}
}

func TestSwapsOfNeighbours(t *testing.T) {
	for _, c := range []struct {
		a, b Code
		want bool
	}{
		{418, 481, true}, {418, 148, true}, {418, 814, false}, {418, 841, false}, {418, 184, false},
		{418, 418, false}, {224, 242, true}, {422, 242, true}, {224, 422, false}, {417, 418, false}, {552, 525, true},
	} {
		if got := c.a.swaps(c.b); got != c.want {
			t.Errorf("%d and %d: %v, want %v", c.a, c.b, got, c.want)
		}
		if c.a.swaps(c.b) != c.b.swaps(c.a) {
			t.Errorf("%d and %d: not the same both ways", c.a, c.b)
		}
	}
}
