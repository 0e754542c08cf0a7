package session

import (
	"strings"
	"testing"
)

func TestPaperTests(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell", "Ulm Ray")
	row := func(p PersonID, control, source string, size float64) PaperRecord {
		return PaperRecord{p, "2029-11-05", Triangle.Key, KindControl, control, size, 12, 8, source}
	}
	routine := PaperRecord{"p-1", "2029-11-05", Triangle.Key, KindRoutine, "", 0, 12, 8, "leaf 1"}
	other := routine
	other.Source = "leaf 2"
	for name, c := range map[string]struct {
		records []PaperRecord
		want    string // "" for one test
	}{
		"one source":          {[]PaperRecord{row("p-1", "thin brew", "leaf 1", 0), row("p-2", "thin brew", "leaf 1", 0)}, ""},
		"two controls":        {[]PaperRecord{row("p-1", "thin brew", "leaf 1", 0), row("p-2", "old brew", "leaf 2", 0)}, ""},
		"routine sets":        {[]PaperRecord{routine, other}, ""},
		"a sheet each":        {[]PaperRecord{row("p-1", "thin brew", "sheet 1", 0), row("p-2", "Thin  brew", "sheet 2", 0)}, "“thin brew” has 2 sources (“sheet 1”, “sheet 2”), and so is several tests"},
		"one size is missing": {[]PaperRecord{row("p-1", "thin brew", "leaf 1", 1.5), row("p-2", "thin brew", "leaf 1", 0)}, "has 2 values of dprime, and so"},
	} {
		say := d.l.PaperTests(c.records)
		if c.want == "" && say != nil || c.want != "" && (len(say) != 1 || !strings.Contains(say[0], c.want)) {
			t.Errorf("%s: %q", name, say)
		}
	}
	// Those in the register are one tasting with those to come, and alone are no news.
	d.do(ImportRecords{[]PaperRecord{row("p-1", "thin brew", "leaf 1", 0), row("p-2", "thin brew", "leaf 2", 0)}})
	if say := d.l.PaperTests([]PaperRecord{row("p-3", "old brew", "leaf 3", 0)}); say != nil {
		t.Errorf("%q", say)
	}
	if say := d.l.PaperTests([]PaperRecord{row("p-3", "thin brew", "leaf 3", 0)}); len(say) != 1 || !strings.Contains(say[0], "3 sources") {
		t.Errorf("%q", say)
	}
}
