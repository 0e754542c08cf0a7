package paper

import (
	"encoding/xml"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// The scenario of these tests is invented: titles and lots stand for nothing
// that exists.
var noon = time.Date(2031, 3, 5, 12, 0, 0, 0, time.UTC)

func seeded(n uint64) *rand.ChaCha8 {
	var seed [32]byte
	for i := range 8 {
		seed[i] = byte(n >> (8 * i))
	}
	return rand.NewChaCha8(seed)
}

var testPin = func() session.Pin {
	p, err := session.NewPin("4711", seeded(1))
	if err != nil {
		panic(err)
	}
	return p
}()

// testOf is a test of a method that passes the plan's check.
func testOf(m session.Method, sets int) session.TestPlan {
	t := session.TestPlan{Method: m.Key, Goal: session.GoalDifference, Sets: sets, Alpha: 0.05, Pd: 0.4, Power: 0.8}
	if !m.Overall {
		t.Attribute, t.Definition = "body", "Body: how full the coffee feels in the mouth."
	}
	return t
}

func planOf(seats int, tests ...session.TestPlan) session.Plan {
	p := session.UsualPlan()
	p.Title = "Monday session"
	p.Untreated = session.Lot{ID: "lot-1", Number: "QX-301", Treatment: "untreated"}
	p.Processed = session.Lot{ID: "lot-2", Number: "QX-302", Treatment: "water"}
	p.Seats, p.Tests = seats, tests
	return p
}

// sealed is a session with its plan sealed, and what was sealed.
func sealed(t testing.TB, p session.Plan, seed uint64) (*session.State, session.Sealing) {
	t.Helper()
	sealing, err := session.Seal(p, seeded(seed))
	if err != nil {
		t.Fatal(err)
	}
	s := session.NewState("20310305-120000-test")
	do(t, s, session.Draft{Plan: p}, session.SetPin{Pin: testPin}, session.SealPlan{Sealing: sealing})
	return s, sealing
}

func do(t testing.TB, s *session.State, acts ...session.Act) {
	t.Helper()
	for _, act := range acts {
		events, err := s.Decide(session.Command{At: noon, Actor: session.Host, Act: act})
		if err != nil {
			t.Fatalf("%T: %v", act, err)
		}
		for _, e := range events {
			s.Apply(session.Recorded{Seq: s.Seq + 1, At: noon, Actor: session.Host, Event: e})
		}
	}
}

func text(t testing.TB, words string) session.Text {
	t.Helper()
	x, err := session.NewText(words, seeded(7))
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func headOf(s *session.State) Head {
	return Head{
		Title: s.Plan.Title, Digest: s.Digest, Sealed: s.Times[session.PhaseSealed], Serving: s.Plan.Serving,
		Notes: []string{"Wednesday, 5 March 2031", "opened 12:00, journalled"},
	}
}

func pourSheet(t testing.TB, s *session.State, byVessel bool) PourSheet {
	t.Helper()
	sheet, err := s.PourSheet()
	if err != nil {
		t.Fatal(err)
	}
	return NewPourSheet(s.Plan, "", sheet, byVessel)
}

func must(t testing.TB) func([]byte, error) []byte {
	t.Helper()
	return func(b []byte, err error) []byte {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
}

// kinds are all kinds of sheets of a session, in both sizes of paper and on all
// stocks.
func kinds(t testing.TB, s *session.State) map[string][]byte {
	t.Helper()
	return kindsUnder(t, s, headOf(s))
}

// kindsUnder are they under another head.
func kindsUnder(t testing.TB, s *session.State, h Head) map[string][]byte {
	t.Helper()
	seats, ok := s.Listed(), must(t)
	trays := Trays(s, seats)
	var cards []SeatCard
	for _, seat := range seats {
		door := s.PlaceDoor(seat)
		cards = append(cards, SeatCard{Seat: seat, Link: "http://192.0.2.14:7734/j/" + door, Address: "192.0.2.14:7734", Door: door})
	}
	all := map[string][]byte{}
	for name, size := range map[string]Size{"a4": A4, "letter": Letter} {
		all["pour-"+name] = ok(PourPDF(h, size, pourSheet(t, s, false)))
		all["vessels-"+name] = ok(PourPDF(h, size, pourSheet(t, s, true)))
		all["worksheet-"+name] = ok(WorksheetPDF(h, size, Worksheets(s.Plan)))
		all["trays-"+name] = ok(TrayCardsPDF(h, size, TrayPages(trays)))
		all["seats-"+name] = ok(SeatCardsPDF(h, size, SeatPages(cards)))
		all["ballots-"+name] = ok(BallotsPDF(h, size, Ballots(trays)))
	}
	for _, stock := range Stocks {
		all["labels-"+stock.Key] = ok(LabelsPDF(h, stock, LabelPages(trays, stock, 1)))
	}
	return all
}

// poppler runs one of poppler's tools on a file.
func poppler(t testing.TB, pdf []byte, name string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Fatalf("%s is missing: the tests read sheets with poppler's tools; install poppler-utils", name)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	for i, a := range args {
		args[i] = strings.ReplaceAll(a, "FILE", file)
	}
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return out
}

// word is a word on a page, its box in mm.
type word struct {
	text                   string
	page                   int
	left, top, right, foot float64
}

// words reads a file's words with their places.
func words(t testing.TB, pdf []byte) []word {
	t.Helper()
	var html struct {
		Pages []struct {
			Words []struct {
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			} `xml:"flow>block>line>word"`
		} `xml:"body>doc>page"`
	}
	if err := xml.Unmarshal(poppler(t, pdf, "pdftotext", "-bbox-layout", "FILE", "-"), &html); err != nil {
		t.Fatal(err)
	}
	var all []word
	for i, p := range html.Pages {
		for _, w := range p.Words {
			all = append(all, word{w.Text, i, w.XMin * pt, w.YMin * pt, w.XMax * pt, w.YMax * pt})
		}
	}
	if len(all) == 0 {
		t.Fatal("the file has no words")
	}
	return all
}

// TestLook writes every kind of sheet to the folder that ODDCUP_SHEETS names, to
// be looked at.
func TestLook(t *testing.T) {
	folder := os.Getenv("ODDCUP_SHEETS")
	if folder == "" {
		t.Skip("ODDCUP_SHEETS names no folder")
	}
	reference := testOf(session.DuoTrio, 1)
	reference.Reference = session.ReferenceConstant
	for name, p := range map[string]session.Plan{
		"usual":  planOf(26, testOf(session.Triangle, 1), testOf(session.PairedComparison, 1)),
		"others": planOf(14, testOf(session.Tetrad, 1), reference),
	} {
		s, _ := sealed(t, p, 3)
		for kind, pdf := range kinds(t, s) {
			if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("%s-%s.pdf", name, kind)), pdf, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
