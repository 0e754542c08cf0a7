package paper

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
)

// Labels are measured in the file itself: where each word stands, and where
// there is ink at all.
func TestLabelsKeepToTheirStock(t *testing.T) {
	reference := testOf(session.DuoTrio, 1)
	s, _ := sealed(t, planOf(14, testOf(session.Tetrad, 1), reference), 4)
	trays := Trays(s, s.Listed())
	code := regexp.MustCompile(`^\d{3}$`)
	for _, stock := range Stocks {
		t.Run(stock.Key, func(t *testing.T) {
			pages := LabelPages(trays, stock, 1)
			pdf := must(t)(LabelsPDF(headOf(s), stock, pages))
			checkSize(t, pdf, stock.Paper, len(pages))
			inset := stock.form().inset
			corner := func(i int) (x, y float64) { // by the measures alone
				return stock.Left + float64(i%stock.Columns)*stock.StepX, stock.Top + float64(i/stock.Columns)*stock.StepY
			}
			// on gives the label that a word stands on, from 0; -1 for none.
			on := func(w word) int {
				for i := range stock.Each() {
					x, y := corner(i)
					if w.left > x+inset-0.3 && w.right < x+stock.Width-inset+0.3 && w.top > y+inset-1.2 && w.foot < y+stock.Height-inset+1.2 {
						return i
					}
				}
				return -1
			}
			type place struct{ page, label int }
			found := map[place][]string{}
			for _, w := range words(t, pdf) {
				i := on(w)
				if i < 0 {
					t.Fatalf("page %d: %q stands on no label: %.2f to %.2f mm, %.2f to %.2f mm", w.page+1, w.text, w.left, w.right, w.top, w.foot)
				}
				found[place{w.page, i}] = append(found[place{w.page, i}], w.text)
			}
			labels := 0
			for n, p := range pages {
				for i, label := range p.Items {
					labels++
					got := found[place{n, p.Used + i}]
					said := " " + strings.Join(got, " ") + " "
					for _, want := range []string{
						fmt.Sprint(int(label.Code)), fmt.Sprintf("seat %d", label.Seat), fmt.Sprintf("set %d", label.Set), map[bool]string{true: "reference", false: label.Place}[label.Reference],
						session.ShortDigest(s.Digest), fmt.Sprintf("sheet %d of %d", n+1, len(pages)),
					} {
						if !strings.Contains(said, " "+want+" ") {
							t.Errorf("page %d, label %d does not say %q: %q", n+1, i+1, want, said)
						}
					}
					if slices.Contains(got, "R") != label.Reference {
						t.Errorf("page %d, label %d of a reference (%v): %q", n+1, i+1, label.Reference, said)
					}
					codes := slices.DeleteFunc(slices.Clone(got), func(w string) bool { return !code.MatchString(w) })
					if len(codes) != 1 {
						t.Errorf("page %d, label %d holds the codes %v", n+1, i+1, codes)
					}
				}
			}
			if want := 14 * 7; labels != want || len(found) != want {
				t.Errorf("%d labels, words on %d, want %d", labels, len(found), want)
			}
			// No ink within the inset, less a hair, of any cut; and some on each label.
			const dpi = 150
			for _, n := range []int{1, len(pages)} {
				ink := rendered(t, pdf, n, dpi)
				for i := range stock.Each() {
					x, y := corner(i)
					used := i < pages[n-1].Used+len(pages[n-1].Items)
					inside := ink.in(x+inset-0.3, y+inset-0.3, x+stock.Width-inset+0.3, y+stock.Height-inset+0.3)
					whole := ink.in(x, y, x+stock.Width, y+stock.Height)
					if inside != whole || used != (inside > 0) {
						t.Errorf("page %d, label %d: %d dots of ink, %d of them within %.1f mm of a cut", n, i+1, whole, whole-inside, inset)
					}
				}
			}
		})
	}
}

// The measures of each stock fit its paper, and what is left on both sides is
// even.
func TestStocksFitTheirPaper(t *testing.T) {
	if len(Stocks) < 7 {
		t.Fatalf("%d stocks", len(Stocks))
	}
	for _, s := range Stocks {
		right := s.Paper.Width - s.Left - float64(s.Columns-1)*s.StepX - s.Width
		foot := s.Paper.Height - s.Top - float64(s.Rows-1)*s.StepY - s.Height
		if math.Abs(right-s.Left) > 0.05 || math.Abs(foot-s.Top) > 0.05 {
			t.Errorf("%s: %.2f mm are left on the left and %.2f on the right, %.2f above and %.2f below", s.Key, s.Left, right, s.Top, foot)
		}
		if s.StepX < s.Width || s.StepY < s.Height {
			t.Errorf("%s: its labels lie over one another", s.Key)
		}
		if got, ok := StockByKey(s.Key); !ok || got != s {
			t.Errorf("%s is not found by its key", s.Key)
		}
		if f := s.form(); f.code < 9.5 || f.under+f.underLine > s.Height-f.inset || f.codeTop < f.inset {
			t.Errorf("%s: a code of %.1f mm from %.1f mm on, of %.1f mm", s.Key, f.code, f.codeTop, s.Height)
		}
	}
	if _, ok := StockByKey("a4-1x1"); ok {
		t.Error("a stock that nobody knows is found")
	}
}

// No tray is split over two sheets, each set begins one, and a sheet that is
// used in part is begun where it was left.
func TestLabelsAreDealtByTrays(t *testing.T) {
	for _, m := range session.Methods {
		sets := 2
		if !m.Overall {
			sets = 1
		}
		s, _ := sealed(t, planOf(13, testOf(m, sets)), 4)
		trays := Trays(s, s.Listed())
		for _, stock := range Stocks {
			for start := 1; start <= stock.Each(); start++ {
				pages := LabelPages(trays, stock, start)
				var all []Label
				for i, p := range pages {
					if p.Used+len(p.Items) > stock.Each() || len(p.Items) == 0 || i > 0 && p.Used != 0 || p.Page != i+1 || p.All != len(pages) {
						t.Fatalf("%s, %s from %d: page %d of %d has %d used and %d labels", m.Key, stock.Key, start, p.Page, p.All, p.Used, len(p.Items))
					}
					if first, last := p.Items[0], p.Items[len(p.Items)-1]; !stock.Roll() && (first.Place != "left" || last.Place != "right" || first.Set != last.Set) {
						t.Fatalf("%s, %s from %d: page %d runs from %s of set %d to %s of set %d", m.Key, stock.Key, start, i+1, first.Place, first.Set, last.Place, last.Set)
					}
					all = append(all, p.Items...)
				}
				if fits := start-1+m.Cups <= stock.Each(); fits && !stock.Roll() && pages[0].Used != start-1 || !fits && pages[0].Used != 0 {
					t.Errorf("%s, %s from %d: the first sheet begins after %d labels", m.Key, stock.Key, start, pages[0].Used)
				}
				n := 0
				for _, tray := range trays {
					for _, cup := range tray.Cups {
						if n >= len(all) || all[n].Code != cup.Code || all[n].Seat != tray.Seat {
							t.Fatalf("%s, %s from %d: label %d is not that of code %d", m.Key, stock.Key, start, n+1, cup.Code)
						}
						n++
					}
				}
				if n != len(all) {
					t.Errorf("%s, %s from %d: %d labels of %d cups", m.Key, stock.Key, start, len(all), n)
				}
			}
		}
	}
}
