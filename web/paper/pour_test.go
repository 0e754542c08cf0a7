package paper

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"oddcup/session"
)

// variant is the n-th plan of those that the simulated pourer is given: every
// method, the duo-trio with a constant reference, blank tests, several sets and
// tests, and 2 to 31 seats.
func variant(n int) session.Plan {
	m := session.Methods[n%len(session.Methods)]
	t := testOf(m, 1)
	n /= len(session.Methods)
	if n%2 == 1 && m.Constant != nil {
		t.Reference = session.ReferenceConstant
	}
	if m.Overall {
		t.Blank = []string{"", "", session.BlankUntreated, session.BlankProcessed}[n%4]
		t.Sets = 1 + n%3
	}
	tests := []session.TestPlan{t}
	if m.Overall && (t.Blank != "" || n%5 == 0) {
		second := []session.Method{session.PairedComparison, session.Triangle, session.Tetrad}[n%3]
		tests = append(tests, testOf(second, 1))
	}
	seats := 2 + n%11
	p := planOf(seats, tests...)
	if n%16 == 7 && p.CupsPerSeat() <= 12 {
		p.Seats = 31 // a second page
	}
	return p
}

var (
	titleLine  = regexp.MustCompile(`^\s*Pour sheet: .*, set (\d+)`)
	trayLine   = regexp.MustCompile(`^\s*(\d{1,2})\s+((?:(?:left|middle|second|third|right)\s+)?\d{3} [●◊×]\s.*|.*\d{3} [●◊×]\s*)$`)
	cupWords   = regexp.MustCompile(`(?:(left|middle|second|third|right)\s+)?(\d{3}) ([●◊×])`)
	vesselSum  = regexp.MustCompile(`([●◊×]) vessel with the (disc|diamond|cross): (\d+) cups?`)
	sheetSum   = regexp.MustCompile(`(\d+) cups? on this sheet`)
	allVessels = regexp.MustCompile(`([●◊×]) all sheets: (\d+) cups?`)
	allSum     = regexp.MustCompile(`(\d+) cups? on all \d+ sheets`)
	sheetOf    = regexp.MustCompile(`sheet (\d+) of (\d+)`)
)

// poured is what the simulated pourer finds on a sheet: by seat and set, the
// cups' codes left to right and the marks beside them.
type poured map[[2]int]struct{ codes, marks []string }

// readSheet is the simulated pourer. It knows nothing but the text of the file.
func readSheet(text string) (poured, error) {
	found := poured{}
	codes := map[string]bool{}
	total := map[string]int{}
	pages := strings.Split(strings.TrimSuffix(text, "\f"), "\f")
	for n, page := range pages {
		set, here, stated, sum := 0, map[string]int{}, map[string]int{}, -1
		for line := range strings.Lines(page) {
			line = strings.TrimRight(line, "\n")
			for _, m := range vesselSum.FindAllStringSubmatch(line, -1) {
				stated[m[1]], _ = strconv.Atoi(m[3])
				if want := map[string]string{"●": "disc", "◊": "diamond", "×": "cross"}[m[1]]; want != m[2] {
					return nil, fmt.Errorf("page %d: the mark %s is called the %s", n+1, m[1], m[2])
				}
			}
			if m := sheetSum.FindStringSubmatch(line); m != nil {
				sum, _ = strconv.Atoi(m[1])
			}
			if m := titleLine.FindStringSubmatch(line); m != nil {
				set, _ = strconv.Atoi(m[1])
			}
			m := trayLine.FindStringSubmatch(line)
			if m == nil || sheetSum.MatchString(line) || allSum.MatchString(line) {
				continue
			}
			seat, _ := strconv.Atoi(m[1])
			cups := cupWords.FindAllStringSubmatch(m[2], -1)
			if cups[0][1] != "" { // by vessel: back into their places
				rank := map[string]int{"left": 0, "second": 1, "middle": 1, "third": 2, "right": 3}
				slices.SortFunc(cups, func(a, b []string) int { return rank[a[1]] - rank[b[1]] })
			}
			tray := found[[2]int{seat, set}]
			if set == 0 || tray.codes != nil {
				return nil, fmt.Errorf("page %d: seat %d stands in set %d twice, or in none", n+1, seat, set)
			}
			for _, cup := range cups {
				if codes[cup[2]] {
					return nil, fmt.Errorf("page %d: code %s stands twice", n+1, cup[2])
				}
				codes[cup[2]] = true
				tray.codes, tray.marks = append(tray.codes, cup[2]), append(tray.marks, cup[3])
				here[cup[3]]++
				total[cup[3]]++
			}
			found[[2]int{seat, set}] = tray
		}
		all := 0
		for mark, cups := range here {
			all += cups
			if stated[mark] != cups {
				return nil, fmt.Errorf("page %d: %d cups of %s, the sheet says %d", n+1, cups, mark, stated[mark])
			}
		}
		if sum != all || all == 0 || len(stated) != len(here) {
			return nil, fmt.Errorf("page %d: %d cups from %d vessels, the sheet says %d from %d", n+1, all, len(here), sum, len(stated))
		}
		if m := sheetOf.FindStringSubmatch(page); m == nil || m[1] != fmt.Sprint(n+1) || m[2] != fmt.Sprint(len(pages)) {
			return nil, fmt.Errorf("page %d of %d is numbered %v", n+1, len(pages), m)
		}
	}
	if len(pages) > 1 {
		sums, all := map[string]int{}, 0
		for _, m := range allVessels.FindAllStringSubmatch(text, -1) {
			sums[m[1]], _ = strconv.Atoi(m[2])
		}
		if m := allSum.FindStringSubmatch(text); m != nil {
			all, _ = strconv.Atoi(m[1])
		}
		if fmt.Sprint(sums) != fmt.Sprint(total) || all != len(codes) {
			return nil, fmt.Errorf("%v cups in all, %d; the sheet says %v, %d", total, len(codes), sums, all)
		}
	}
	return found, nil
}

// keyOf are a sealed layout's trays as the sheet should have them: the key as
// the layout holds it, without the code that makes the sheet.
func keyOf(s session.Sealing) poured {
	mark := map[byte]string{'A': "●", 'B': "◊"}
	if s.Layout.Disc == "B" {
		mark = map[byte]string{'A': "◊", 'B': "●"}
	}
	key := poured{}
	for seat, sets := range s.Layout.Seats {
		for set, dealt := range sets {
			of := mark
			switch s.Plan.Tests[dealt.Test].Blank {
			case session.BlankUntreated:
				of = map[byte]string{'A': mark['A'], 'B': "×"}
			case session.BlankProcessed:
				of = map[byte]string{'A': mark['B'], 'B': "×"}
			}
			tray := key[[2]int{seat + 1, set + 1}]
			for i, code := range dealt.Takes[0] {
				tray.codes = append(tray.codes, fmt.Sprint(int(code)))
				tray.marks = append(tray.marks, of[dealt.Order[i]])
			}
			key[[2]int{seat + 1, set + 1}] = tray
		}
	}
	return key
}

// TestSimulatedPourerRebuildsTheKey: somebody who reads nothing but the text of
// the file, as pdftotext gives it, can rebuild the sealed key, for 200 layouts
// over all methods, or as many as ODDCUP_LAYOUTS says (.ci/run: 1,000). Each is
// a file of its own and a call of pdftotext of its own.
// Every eighth is read by vessel too.
func TestSimulatedPourerRebuildsTheKey(t *testing.T) {
	const workers = 4
	layouts := 200
	if typed := os.Getenv("ODDCUP_LAYOUTS"); typed != "" {
		var err error
		if layouts, err = strconv.Atoi(typed); err != nil || layouts < 100 {
			t.Fatalf("ODDCUP_LAYOUTS is %q; it takes a number from 100", typed)
		}
	}
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Fatal("pdftotext is missing: the simulated pourer reads sheets with it; install poppler-utils")
	}
	for w := range workers {
		t.Run(fmt.Sprint(w), func(t *testing.T) {
			t.Parallel()
			read, byMethod, vessels := 0, map[string]int{}, map[string]int{}
			for n := w; n < layouts; n += workers {
				p := variant(n)
				s, sealing := sealed(t, p, uint64(n))
				want := keyOf(sealing)
				for _, byVessel := range []bool{false, true} {
					if byVessel && n/workers%8 != 0 {
						continue
					}
					size := []Size{A4, Letter}[n%2]
					pdf, err := PourPDF(headOf(s), size, pourSheet(t, s, byVessel))
					if err != nil {
						t.Fatal(err)
					}
					got, err := readSheet(layoutText(t, pdf))
					if err != nil {
						t.Fatalf("layout %d, by vessel %v: %v", n, byVessel, err)
					}
					if fmt.Sprint(got) != fmt.Sprint(want) {
						t.Fatalf("layout %d, by vessel %v: the pourer's key is\n%v, sealed was\n%v", n, byVessel, got, want)
					}
					read++
				}
				for _, test := range p.Tests {
					byMethod[test.Method]++
				}
				for _, tray := range want {
					for _, mark := range tray.marks {
						vessels[mark]++
					}
				}
			}
			if read < layouts/workers || len(byMethod) != len(session.Methods) || len(vessels) != 3 {
				t.Errorf("read %d sheets of the methods %v from the vessels %v", read, byMethod, vessels)
			}
		})
	}
}

func layoutText(t testing.TB, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	return string(out)
}

// The first vessel changes from block to block, and each block is all trays of
// six neighbouring seats at most.
func TestFirstVesselAlternates(t *testing.T) {
	s, _ := sealed(t, planOf(31, testOf(session.Triangle, 2)), 5)
	sheet := pourSheet(t, s, true)
	var before session.Vessel
	blocks := 0
	for _, p := range sheet.Pages {
		for _, b := range p.Blocks {
			blocks++
			if b.First.Vessel == before || b.First.Vessel == b.Then.Vessel {
				t.Errorf("block %d begins with the %s, as the one before it", blocks, b.First.Vessel)
			}
			before = b.First.Vessel
			if len(b.Trays) > 6 || len(b.Rows) != len(b.Trays) {
				t.Errorf("block %d has %d trays and %d rows", blocks, len(b.Trays), len(b.Rows))
			}
			cups := 0
			for _, row := range b.Rows {
				for _, cup := range row.First {
					if cup.Code != 0 && cup.Vessel != b.First.Vessel {
						t.Errorf("block %d: cup %d of the %s stands under the %s", blocks, cup.Code, cup.Vessel, b.First.Vessel)
					}
				}
				for _, cup := range slices.Concat(row.First, row.Then) {
					if cup.Code != 0 {
						cups++
					}
				}
			}
			if cups != 3*len(b.Trays) || b.First.Cups+b.Then.Cups != cups {
				t.Errorf("block %d holds %d cups, and says %d and %d", blocks, cups, b.First.Cups, b.Then.Cups)
			}
		}
	}
	if blocks != 2*6 { // 24 trays are four blocks, 7 are two
		t.Errorf("%d blocks, want 12", blocks)
	}
}

// A called replacement comes first, in tray order, by vessel too.
func TestReplacementsComeFirstInTrayOrder(t *testing.T) {
	s, _ := sealed(t, planOf(4, testOf(session.Triangle, 1)), 5)
	do(t, s, session.OpenLobby{})
	for i := range 4 {
		do(t, s, session.Sit{Name: text(t, "J"), Token: session.HashToken([]byte{byte(i)})})
	}
	by := text(t, "M. Invented")
	do(t, s, session.FreezeList{}, session.Open{Releases: []session.Release{
		{Lot: "lot-1", By: by, Report: "R-1", At: noon}, {Lot: "lot-2", By: by, Report: "R-2", At: noon},
	}}, session.Serve{Round: 1}, session.Void{Seat: 2, Set: 1, Reason: by, Replace: true}, session.Void{Seat: 3, Set: 1, Reason: by, Replace: true})
	for _, byVessel := range []bool{false, true} {
		sheet := pourSheet(t, s, byVessel)
		first := sheet.Pages[0]
		if len(sheet.Pages) != 2 || !first.Again || first.ByVessel() || !strings.HasPrefix(first.Title, "Poured again: triangle") {
			t.Fatalf("by vessel %v: the first of %d pages is %q", byVessel, len(sheet.Pages), first.Title)
		}
		if trays := first.Blocks[0].Trays; len(trays) != 2 || trays[0].Seat != 3 || trays[1].Seat != 2 || trays[0].Take != 1 {
			t.Errorf("poured again are %+v", trays)
		}
		if sheet.Pages[1].ByVessel() != byVessel || sheet.Cups != 6+2*3 { // the trays taken out are not poured
			t.Errorf("by vessel %v: %d cups", byVessel, sheet.Cups)
		}
		words := layoutText(t, must(t)(PourPDF(headOf(s), A4, sheet)))
		for _, code := range s.Codes(2, 1, 1) {
			if n := strings.Count(words, fmt.Sprint(int(code))); n != 1 {
				t.Errorf("code %d of the replacement stands %d times", code, n)
			}
		}
	}
}

// After a spill and a leave the sheet strikes out what is not to be poured any
// more, and counts the rest; all its cups still stand on it.
func TestDeadTraysAreStruckOutAndNotCounted(t *testing.T) {
	s, sealing := sealed(t, planOf(4, testOf(session.Triangle, 2)), 5)
	do(t, s, session.OpenLobby{})
	for i := range 4 {
		do(t, s, session.Sit{Name: text(t, "J"), Token: session.HashToken([]byte{byte(i)})})
	}
	by := text(t, "M. Invented")
	do(t, s, session.FreezeList{}, session.Open{Releases: []session.Release{
		{Lot: "lot-1", By: by, Report: "R-1", At: noon}, {Lot: "lot-2", By: by, Report: "R-2", At: noon},
	}}, session.Serve{Round: 1}, session.Void{Seat: 2, Set: 1, Reason: by, Replace: true}, session.LeaveSeat{Seat: 3, Reason: by})
	for _, byVessel := range []bool{false, true} {
		sheet := pourSheet(t, s, byVessel)
		// A replacement, two live trays in set 1 and three in set 2.
		if sheet.Cups != 3*(1+2+3) || sheet.Pages[1].Cups != 6 || sheet.Pages[2].Cups != 9 {
			t.Errorf("by vessel %v: %d cups, on the sheets %d, %d", byVessel, sheet.Cups, sheet.Pages[1].Cups, sheet.Pages[2].Cups)
		}
		for _, size := range []Size{A4, Letter} {
			said := layoutText(t, must(t)(PourPDF(headOf(s), size, sheet)))
			out, left := strings.Count(said, "taken out: do not pour"), strings.Count(said, "seat left: do not pour")
			if out != 1 || left != 2 || !strings.Contains(said, "18 cups on all 3 sheets") {
				t.Errorf("by vessel %v: %d taken out and %d left\n%s", byVessel, out, left, said)
			}
			for seat, sets := range sealing.Layout.Seats {
				for _, dealt := range sets {
					for _, code := range dealt.Takes[0] {
						if !strings.Contains(said, fmt.Sprint(int(code))) {
							t.Errorf("by vessel %v: code %d of seat %d is gone", byVessel, code, seat+1)
						}
					}
				}
			}
		}
	}
}

// The sheet says what it is to say, on every page.
func TestEveryPourSheetSaysWhatMatters(t *testing.T) {
	p := planOf(31, testOf(session.Triangle, 1), testOf(session.PairedComparison, 1))
	p.Serving.FillG, p.Serving.LowC, p.Serving.HighC = 37.5, 52, 61
	s, _ := sealed(t, p, 9)
	for _, byVessel := range []bool{false, true} {
		for _, size := range []Size{A4, Letter} {
			sheet, err := s.PourSheet()
			if err != nil {
				t.Fatal(err)
			}
			pages := strings.Split(strings.TrimSuffix(layoutText(t, must(t)(PourPDF(headOf(s), size, NewPourSheet(s.Plan, "flight 2 of 3", sheet, byVessel)))), "\f"), "\f")
			if len(pages) != 4 {
				t.Fatalf("%d pages", len(pages))
			}
			for i, page := range pages {
				for _, want := range []string{
					"For the pourer only", "Monday session", "flight 2 of 3", fmt.Sprintf("set %d of 2", 1+i/2), "37.5 g in each cup", "52 to 61 °C",
					"Seal " + session.ShortDigest(s.Digest), "Hot liquid", fmt.Sprintf("sheet %d of 4", i+1), "time", "°C", "opened 12:00, journalled",
				} {
					if !strings.Contains(page, want) {
						t.Errorf("by vessel %v, page %d does not say %q", byVessel, i+1, want)
					}
				}
				for _, never := range []string{"QX-301", "QX-302", "untreated"} {
					if strings.Contains(page, never) {
						t.Errorf("page %d names the lot: %q", i+1, never)
					}
				}
			}
		}
	}
}
