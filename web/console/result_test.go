package console

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// tasted is a session that has been run to its close. The first right seats
// find the counted cup of every set; the others don't. The counted cup is read
// from the sealing, as only a test can.
func tasted(t *testing.T, plan session.Plan, right int) *table {
	t.Helper()
	var dealt [][]session.DealtSet
	b := newTable(t, plan, func(s *session.Sealing) { dealt = s.Layout.Seats }, true)
	b.do(session.OpenLobby{})
	b.sit(upTo(plan.Seats)...)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.do(session.OpenPourSheet{Pin: "4711"})
	b.dealt = dealt
	for set := 1; set <= plan.SetsPerSeat(); set++ {
		b.do(session.Serve{Round: set})
		for seat := 1; seat <= plan.Seats; seat++ {
			b.answer(seat, set, seat <= right)
		}
	}
	return b
}

// answer locks a right answer to the first tray of a set, or a wrong one.
func (b *table) answer(seat, set int, right bool) {
	b.t.Helper()
	d := b.dealt[seat-1][set-1]
	m, _ := session.MethodByKey(b.room.State().Plan.Tests[d.Test].Method)
	at, codes := m.Counted(d.Order), b.room.State().Codes(seat, set, 0)
	if !right {
		at = slices.Clone(at)
		for last := len(at) - 1; m.Right(d.Order, at) || at[last] < m.References() || last == 1 && at[1] == 0; {
			at[last] = (at[last] + 1) % m.Cups
		}
	}
	lock := session.Lock{Seat: seat, Set: set, Pick: codes[at[0]], PhoneAt: b.at}
	if m.Picks == 2 {
		lock.Also = codes[at[1]]
	}
	b.as(session.Taster(seat), lock)
}

// revealed closes and reveals, through the forms.
func (b *table) revealed() session.Result {
	b.t.Helper()
	b.press("close", "reveal")
	b.press("reveal", "result")
	res, err := b.room.State().Compute()
	if err != nil {
		b.t.Fatal(err)
	}
	return res
}

func TestNoResultBeforeTheReveal(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	refused := func(to string) {
		t.Helper()
		for _, file := range []string{"result.csv", "result.json", "result.oddcup-session"} {
			status, body := b.get(file)
			if status != http.StatusForbidden || strings.Contains(body, "counted_code") || strings.Contains(body, `"layout"`) {
				t.Errorf("%s in phase %s: status %d", file, b.room.State().Phase, status)
			}
		}
		status, body := b.get("result")
		if b.room.State().Phase == session.PhaseClosed {
			if status != http.StatusSeeOther {
				t.Errorf("closed: status %d, want to be led to the reveal", status)
			}
			return
		}
		if status != http.StatusForbidden {
			t.Errorf("result in phase %s: status %d, want 403", b.room.State().Phase, status)
		}
		b.wants(body, "There is no result", `href="`+to+`"`)
	}
	refused(b.path("lobby"))
	b.do(session.OpenLobby{})
	b.sit(1)
	b.do(session.FreezeList{})
	b.press("open", "board")
	refused(b.path("board"))
	b.press("close", "reveal")
	refused(b.path("reveal"))
	if _, err := ResultJSON(b.room.State()); !errors.Is(err, session.ErrSealed) {
		t.Errorf("ResultJSON before the reveal: %v, want ErrSealed", err)
	}
	if _, err := ResultCSV(b.room.State()); !errors.Is(err, session.ErrSealed) {
		t.Errorf("ResultCSV before the reveal: %v, want ErrSealed", err)
	}
	b.do(session.Abandon{Reason: b.text("no water")})
	refused("/")
}

func TestResultPageSaysWhatWasComputed(t *testing.T) {
	b := tasted(t, tablePlan(24), 13)
	res := b.revealed()
	body := b.page("result")
	// 13 of 24 triangles: the minimum at α 0.05 (FAO document V7180E, Appendix A),
	// reached by guessing with probability 0.028441 (exact integers); both stand
	// in testdata/reference, b_critical_numbers.csv and a_binomial_tails.csv.
	b.wants(body, "13 of 24 found the odd cup", "(p\u00a0=\u00a00.028)", "13 of 24", "minimum correct 13")
	b.wants(body, res.Answer(), "they agree", b.room.State().Digest.String(), b.room.State().ClosedAt.String())
	if len(res.Tests) != 2 {
		t.Fatalf("%d tests", len(res.Tests))
	}
	for _, x := range res.Tests {
		b.wants(body, x.Sentence(), x.PSentence(), x.Verdict(),
			fmt.Sprintf("pd %s (wanted %s)", num(x.Plan.Pd), num(x.Plan.Power)),
			fmt.Sprintf("%s, %s", num(x.Plan.Alpha), probability(x.ActualAlpha)),
			share(x.Power), pdWords(x), dPrimeWords(x), pct(x.Confidence)+" interval")
	}
	for _, c := range res.Cautions {
		b.wants(body, c)
	}
	found := strings.Count(body, "odd cup found</span>")
	missed := strings.Count(body, "not found</span>")
	if found != 13 || missed != 11 {
		t.Errorf("the table of trays has %d found and %d not, want 13 and 11", found, missed)
	}
	if n := strings.Count(body, `class="tape"`); n != 24*5 {
		t.Errorf("%d codes on tape, want three and two for each of 24 seats", n)
	}
	b.wants(body, `data-print`, b.path("result.csv"), b.path("result.json"), b.path("trail"))
}

func TestResultWithoutAnAnswerIsSaidInWords(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.revealed()
	b.wants(b.page("result"), "There is no answer: no set of the first test counts.", "No answer counts.", "no estimate", "No tray was served.")
	var w wireResult
	_, body := b.get("result.json")
	if err := json.Unmarshal([]byte(body), &w); err != nil {
		t.Fatal(err)
	}
	if w.Tests[0].Pd != nil || w.Tests[0].Power != nil || w.Tests[0].MinCorrect != nil {
		t.Errorf("figures of no answer: %+v", w.Tests[0])
	}
}

func TestJSONHoldsWhatWasComputed(t *testing.T) {
	b := tasted(t, tablePlan(12), 12)
	res := b.revealed()
	status, body := b.get("result.json")
	if status != http.StatusOK {
		t.Fatalf("status %d: %s", status, body)
	}
	var w wireResult
	dec := json.NewDecoder(strings.NewReader(body))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&w); err != nil {
		t.Fatal(err)
	}
	if w.V != 2 || w.Session != tableID || w.Answer != res.Answer() || !w.Seal.Holds || w.Seal.Digest != b.room.State().Digest.String() {
		t.Errorf("head of the file: %+v", w)
	}
	if len(w.Tests) != len(res.Tests) || len(w.Trays) != len(res.Answers) || len(w.Tests) == 0 || len(w.Releases) != 2 {
		t.Fatalf("%d tests, %d trays, %d releases", len(w.Tests), len(w.Trays), len(w.Releases))
	}
	for i, x := range res.Tests {
		g := w.Tests[i]
		if g.N != x.N || g.Correct != x.Correct || *g.P != x.P || *g.MinCorrect != x.MinCorrect || *g.Actual != x.ActualAlpha ||
			*g.Power != x.Power || *g.Pd.Value != x.Pd || *g.Pd.Lower != x.PdInterval.Lower || *g.Pd.Upper != x.PdInterval.Upper ||
			g.Pd.Confidence != x.Confidence || g.Outcome != string(x.Outcome) || g.Decided != x.Decided || g.Method != x.Method.Key {
			t.Errorf("test %d: %+v, want %+v", i+1, g, x)
		}
		// Every answer is right, so that d′ has no upper limit.
		if !math.IsInf(x.DPrimeInterval.Upper, 1) || g.DPrime.Upper != nil || *g.DPrime.Lower != x.DPrimeInterval.Lower {
			t.Errorf("test %d: d′ %+v, want an upper end of null for %v", i+1, g.DPrime, x.DPrimeInterval)
		}
	}
	for i, a := range res.Answers {
		g := w.Trays[i]
		if g.Seat != a.Seat || g.Set != a.Set || !slices.Equal(g.Codes, a.Codes) || g.Order != a.Order || !slices.Equal(g.Counted, a.Counted) ||
			g.Answer == nil || !slices.Equal(g.Answer.Picked, a.Answer.Codes()) || g.Answer.Correct != a.Correct || !g.Counts {
			t.Errorf("tray %d: %+v, want %+v", i, g, a)
		}
		if at, err := time.Parse(time.RFC3339, g.Answer.LockedAt); err != nil || !at.Equal(a.Answer.At.Truncate(time.Second)) || !strings.HasSuffix(g.Answer.LockedAt, "Z") {
			t.Errorf("tray %d: locked at %q, want %v in UTC", i, g.Answer.LockedAt, a.Answer.At)
		}
	}
	if strings.Contains(body, "Taster 1") {
		t.Error("the file names a taster")
	}
}

func TestCSVComesBackAsItWent(t *testing.T) {
	b := tasted(t, tablePlan(6), 4)
	b.do(session.Void{Seat: 2, Set: 2, Reason: b.text("=HYPERLINK(\"x\"), \"spilled\"\nagain"), Replace: true})
	b.lock(2, 2, 1, 0)
	res := b.revealed()
	status, body := b.get("result.csv")
	if status != http.StatusOK {
		t.Fatalf("status %d: %s", status, body)
	}
	if !strings.HasPrefix(body, strings.Join(csvColumns, ",")+"\r\n") {
		t.Errorf("the head line is not the columns' names with CRLF: %.80q", body)
	}
	rows, err := csv.NewReader(strings.NewReader(body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+len(res.Answers) || len(res.Answers) != 13 {
		t.Fatalf("%d rows for %d trays, want 13 trays", len(rows), len(res.Answers))
	}
	col := func(row []string, name string) string { return row[slices.Index(csvColumns, name)] }
	sums := map[string]int{}
	for i, row := range rows[1:] {
		a := res.Answers[i]
		if col(row, "seat") != fmt.Sprint(a.Seat) || col(row, "order") != a.Order || col(row, "picked_code") != fmt.Sprint(int(a.Answer.Pick)) {
			t.Errorf("row %d: %v, want %+v", i+1, row, a)
		}
		if col(row, "counts") == "1" && col(row, "correct") == "1" {
			sums[col(row, "test")]++
		}
		if a.Void != nil && !strings.HasPrefix(col(row, "void_reason"), `'=HYPERLINK("x"), "spilled"`) {
			t.Errorf("void reason %q would run as a formula, or was changed", col(row, "void_reason"))
		}
		if (a.Void != nil) != (col(row, "void_at") != "") || (a.Void != nil) != (col(row, "counts") == "0") {
			t.Errorf("row %d: %v", i+1, row)
		}
	}
	for _, x := range res.Tests {
		if sums[fmt.Sprint(x.Number)] != x.Correct {
			t.Errorf("test %d: the rows hold %d correct, the result %d", x.Number, sums[fmt.Sprint(x.Number)], x.Correct)
		}
	}
}

// The characters are those that OWASP's page on CSV injection names (from memory).
func TestTypedWordsAreNoFormula(t *testing.T) {
	for typed, want := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "＝1": "'＝1",
		"": "", "spilled": "spilled", "a=b": "a=b", "'x": "'x", "é": "é",
	} {
		if got := noFormula(typed); got != want {
			t.Errorf("%q: %q, want %q", typed, got, want)
		}
	}
}

// The session file of the console is one that verifies, by the digest and the
// head hash that the result page prints.
func TestSessionFileVerifies(t *testing.T) {
	b := tasted(t, tablePlan(6), 5)
	b.revealed()
	status, file := b.get("result.oddcup-session")
	if status != http.StatusOK {
		t.Fatalf("status %d: %s", status, file)
	}
	s := b.room.State()
	short := []string{session.ShortDigest(s.Digest), session.ShortDigest(s.ClosedAt)}
	for _, page := range []string{"result", "trail"} {
		_, body := b.get(page)
		b.wants(body, short...)
	}
	paper, err := session.ReadPaper(short[0], short[1])
	if err != nil {
		t.Fatal(err)
	}
	r := session.VerifyDossier([]byte(file), paper)
	if !r.OK() || !r.Origin.Sealed || !r.Origin.Tasting || r.Session != tableID {
		t.Errorf("%v, %+v", r.Findings, r)
	}
	_, body := b.get("result")
	b.wants(body, "Digest and drawing checked at the reveal", `href="`+b.path("result.oddcup-session")+`"`)
}

func TestTrailKeepsPicksUntilTheReveal(t *testing.T) {
	b := tasted(t, tablePlan(6), 6)
	s := b.room.State()
	body := b.page("trail")
	for seat := 1; seat <= 6; seat++ {
		for _, c := range s.Codes(seat, 1, 0) {
			if strings.Contains(body, fmt.Sprintf("set 1: %d", c)) {
				t.Errorf("before the reveal the trail tells what seat %d picked", seat)
			}
		}
	}
	if strings.Contains(body, s.Head.String()) {
		t.Error("before the close the trail shows the journal's hash")
	}
	b.wants(body, session.ShortDigest(s.Digest), "Seat 3 locked set 1.", "Set 1 served.", "Seat 1 taken by Taster 1.",
		"Tasting opened on these releases: lot 2207, untreated, by M. Invented on report R-118; lot 2207, processed with water, by M. Invented on report R-118.")
	if n := strings.Count(body, "<tr><td"); n != len(s.Trail) {
		t.Errorf("%d rows for %d entries", n, len(s.Trail))
	}
	b.press("close", "reveal")
	b.wants(b.page("trail"), b.room.State().ClosedAt.String(), "Tasting closed.")
	b.press("reveal", "result")
	pick := b.room.State().Seats[2].Sets[0].Kept().Pick
	b.wants(b.page("trail"), fmt.Sprintf("Seat 3 locked set 1: %d.", pick), "Key revealed; the seal holds. Test 1, triangle: 6 of 6")
}

// Every kind of entry must have words of its own: the name of its type is none.
func TestEveryEntryHasWords(t *testing.T) {
	for _, e := range []session.Event{
		&session.Drafted{}, &session.PinSet{}, &session.Sealed{}, &session.LobbyOpened{}, &session.Joined{}, &session.SeatFreed{},
		&session.SeatMoved{}, &session.ListFrozen{}, &session.Opened{}, &session.RoundServed{}, &session.Paused{}, &session.Resumed{},
		&session.Locked{}, &session.Voided{}, &session.ReplacementCalled{}, &session.ReplacementServed{}, &session.SeatLeft{}, &session.FlightEnded{}, &session.Looked{}, &session.PourSheetOpened{}, &session.PourSheetSeen{},
		&session.PourSheetPrinted{}, &session.PinRefused{}, &session.Closed{}, &session.Revealed{}, &session.Abandoned{},
	} {
		words := eventWords(e, session.Plan{}, false)
		if !strings.HasSuffix(words, ".") || words == capital(e.Kind())+"." || strings.Contains(words, "%!") {
			t.Errorf("%s: %q", e.Kind(), words)
		}
	}
}

func TestIntervalsInWords(t *testing.T) {
	inf := math.Inf(1)
	for _, x := range []struct {
		value, low, high float64
		want             string
	}{
		{0.31, 0.04, 0.58, "0.31 (0.04 to 0.58)"},
		{-0.12, 0, 0.2, "−0.12 (at most 0.20)"},
		{inf, 1.5, inf, "unbounded (at least 1.50)"},
		{inf, 0, inf, "unbounded (no limit)"},
	} {
		if got := intervalWords(x.value, stats.Interval{Lower: x.low, Upper: x.high}, false); got != x.want {
			t.Errorf("%v (%v to %v): %q, want %q", x.value, x.low, x.high, got, x.want)
		}
	}
}

// In a two-sided test the estimates have a sign, and 0 bounds nothing.
func TestTwoSidedIntervalKeepsItsLowerEnd(t *testing.T) {
	inf := math.Inf(1)
	for _, x := range []struct {
		value, low, high float64
		want             string
	}{
		{0.02, -0.28, 0.32, "0.02 (−0.28 to 0.32)"},
		{-1, -1, -0.77, "−1.00 (−1.00 to −0.77)"},
		{-inf, -inf, -1.68, "unbounded (at most −1.68)"},
	} {
		if got := intervalWords(x.value, stats.Interval{Lower: x.low, Upper: x.high}, true); got != x.want {
			t.Errorf("%v (%v to %v): %q, want %q", x.value, x.low, x.high, got, x.want)
		}
	}
	plan := tablePlan(24)
	plan.Tests[1].TwoSided = true
	b := tasted(t, plan, 12)
	two := b.revealed().Tests[1]
	if two.PdInterval.Lower >= 0 {
		t.Fatalf("the interval begins at %v; this test needs one that reaches below 0", two.PdInterval.Lower)
	}
	b.wants(b.page("result"), fmt.Sprintf("%s (%s to %s)", fixed(two.Pd, 2), fixed(two.PdInterval.Lower, 2), fixed(two.PdInterval.Upper, 2)))
}

func TestTwoSidedResultNamesBothEnds(t *testing.T) {
	plan := tablePlan(24)
	plan.Tests[1].TwoSided = true
	b := tasted(t, plan, 3)
	res := b.revealed()
	body := b.page("result")
	two := res.Tests[1]
	b.wants(body, fmt.Sprintf("%d, or %d or fewer, of 24", two.MinCorrect, 24-two.MinCorrect), "two-sided", "95 % interval",
		"fewer than half picked the processed lot")
	// R 4.2.2: binom.test(18, 24)$p.value = 0.02266, binom.test(17, 24)$p.value = 0.06391.
	// 0 to 6 and 18 to 24 show a difference, in the picture as in its table.
	if two.MinCorrect != 18 {
		t.Fatalf("minimum correct %d, want 18", two.MinCorrect)
	}
	_, second, _ := strings.Cut(body, "Second test")
	if n := strings.Count(second, "shows a difference"); n != 14 {
		t.Errorf("%d counts of the table show a difference, want 14", n)
	}
	if n := strings.Count(second, `class="plot-dash"`); n < 4 {
		t.Errorf("%d dashed lines in the two drawings, want both ends in each", n)
	}
	if strings.Contains(html.UnescapeString(body), "was named as the one with less before sealing") {
		t.Error("a two-sided test is said to have a named side")
	}
}

func TestRevealLeadsOnOnceItIsDone(t *testing.T) {
	b := tasted(t, tablePlan(6), 2)
	b.press("close", "reveal")
	b.press("reveal", "result")
	if status, _ := b.get("reveal"); status != http.StatusSeeOther {
		t.Errorf("the reveal page after the reveal: status %d, want to be led to the result", status)
	}
	before := b.room.State().Seq
	if status, _, _ := b.post("reveal"); status != http.StatusConflict || b.room.State().Seq != before {
		t.Errorf("a second reveal: status %d, journal from %d to %d", status, before, b.room.State().Seq)
	}
}
