package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/stats"
)

// ballotFile writes a ballot file and gives its name.
func ballotFile(t testing.TB, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "ballots.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

type analysed struct {
	Answer                               string
	Digest                               *string
	Counted, TakenOut, Replaced, Guessed int
	LeftOut                              []wrongRow
	MissingSeats, LeftOutSeats           []int
	NoSetColumn                          bool
	ReadFirst                            []string
	MissingSets                          []setOf
	UnusedColumns, Cautions              []string
	Tests                                []struct {
		Method, Goal, Sided, Outcome string
		N, Correct, Even, Missing    int
		Sets, Seats                  int
		PValue, Alpha, Power         *float64
		SimilarPValue, PdUpper       *float64
		MinCorrect, MaxCorrect       *int
		Decided                      bool
		Sentences                    []string
	}
}

// analyse runs oddcup result --json on a ballot file.
func analyse(t *testing.T, text string, args ...string) analysed {
	t.Helper()
	out, errs, code := command(t, append([]string{"result", "--json", ballotFile(t, text)}, args...)...)
	var a analysed
	if err := json.Unmarshal([]byte(out), &a); err != nil || code != 0 {
		t.Fatalf("%v: %v, code %d: %s%s", args, err, code, out, errs)
	}
	return a
}

// correctRows are ballots without a key: right of n seats are correct.
func correctRows(n, right int) string {
	var b strings.Builder
	b.WriteString("seat,set,correct\n")
	for seat := 1; seat <= n; seat++ {
		right := map[bool]int{true: 1}[seat <= right]
		fmt.Fprintf(&b, "%d,1,%d\n", seat, right)
	}
	return b.String()
}

// TestResultBallots holds ballots with a column of correct answers to R 4.2.2:
//
//	binom.test(16, 24, 1/3, alternative = "greater")$p.value  # 0.00085948348046214411
//	binom.test(10, 12, 1/2, alternative = "greater")$p.value  # 0.019287109375000007
//	binom.test(9, 10)$p.value                                 # 0.021484375000000014
func TestResultBallots(t *testing.T) {
	for _, c := range []struct {
		n, right int
		args     string
		p        float64
		outcome  string
	}{
		{24, 16, "--method triangle", 0.00085948348046214411, "different"},
		{24, 16, "--method 3-afc", 0.00085948348046214411, "different"},
		{24, 16, "--method tetrad", 0.00085948348046214411, "different"},
		{12, 10, "--method duo-trio", 0.019287109375000007, "different"},
		{12, 10, "--method paired-comparison --alpha 0.01", 0.019287109375000007, "undecided"},
		{10, 9, "--method paired-comparison --two-sided", 0.021484375000000014, "different"},
	} {
		a := analyse(t, correctRows(c.n, c.right), strings.Fields(c.args)...)
		got := a.Tests[0]
		if math.Abs(*got.PValue/c.p-1) > 1e-9 || got.N != c.n || got.Correct != c.right || got.Outcome != c.outcome || !got.Decided || got.Seats != c.n || a.Counted != c.n || a.Digest != nil {
			t.Errorf("%s: %+v, want p %v", c.args, got, c.p)
		}
		// The same as of the count.
		out, _, _ := command(t, append([]string{"result", "--json", "--n", fmt.Sprint(c.n), "--correct", fmt.Sprint(c.right)}, strings.Fields(c.args)...)...)
		var count struct {
			PValue  float64
			Outcome string
		}
		if err := json.Unmarshal([]byte(out), &count); err != nil || count.PValue != *got.PValue || count.Outcome != got.Outcome {
			t.Errorf("%s: the count gives %+v, %v", c.args, count, err)
		}
	}
}

// TestResultBallotsSets: several sets a seat are pooled in a test for any
// difference; in pairs assessors are counted, even splits left out.
func TestResultBallotsSets(t *testing.T) {
	var b strings.Builder
	b.WriteString("seat,set,correct,guess\n")
	for seat := 1; seat <= 12; seat++ {
		right := seat % 3 // 0, 1 or 2 of 2: four seats each
		for set := 1; set <= 2; set++ {
			fmt.Fprintf(&b, "%d,%d,%d,%v\n", seat, set, map[bool]int{true: 1}[set <= right], map[bool]string{true: "yes"}[seat == 5])
		}
	}
	a := analyse(t, b.String(), "--method", "triangle")
	if got := a.Tests[0]; got.N != 24 || got.Correct != 12 || got.Sets != 2 || got.Seats != 12 || *got.MinCorrect != 13 || a.Guessed != 2 {
		t.Errorf("pooled: %+v, %d guessed", got, a.Guessed)
	}
	a = analyse(t, b.String(), "--method", "paired-comparison")
	if got := a.Tests[0]; got.N != 8 || got.Correct != 4 || got.Even != 4 || got.Missing != 0 {
		t.Errorf("assessors: %+v", got)
	}
}

// fill answers every set of a key: right decides which sets are right.
func fill(t testing.TB, k servingKey, right func(seat, set int) bool) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("seat,set,pick,also,guess,void\n")
	for seat, sets := range k.Layout.Seats {
		for i, set := range sets {
			pick, also := answerOf(k, seat+1, i+1, 0, right(seat+1, i+1))
			fmt.Fprintf(&b, "%d,%d,%s,%s,,\n", seat+1, i+1, pick, also)
			_ = set
		}
	}
	return b.String()
}

// answerOf finds a right or a wrong answer to a tray, by trying all.
func answerOf(k servingKey, seat, set, take int, right bool) (pick, also string) {
	dealt := k.Layout.Seats[seat-1][set-1]
	m, _ := session.MethodByKey(k.Plan.Tests[dealt.Test].Method)
	codes := dealt.Takes[take]
	for i := m.References(); i < m.Cups; i++ {
		if m.Picks == 1 {
			if m.Right(dealt.Order, []int{i}) == right {
				return fmt.Sprint(int(codes[i])), ""
			}
			continue
		}
		for j := range m.Cups {
			// From the letters themselves: two cups are a pair or not.
			if i != j && (dealt.Order[i] == dealt.Order[j]) == right {
				return fmt.Sprint(int(codes[i])), fmt.Sprint(int(codes[j]))
			}
		}
	}
	return "", ""
}

// TestResultKey: ballots typed by their codes, of every method, give the counts
// that were played.
func TestResultKey(t *testing.T) {
	for _, args := range layoutCases {
		_, path := layoutIn(t, args...)
		k, err := readKey(path)
		if err != nil {
			t.Fatal(err)
		}
		want := 0
		a := analyse(t, fill(t, k, func(seat, set int) bool { return seat%3 != 0 }), "--key", path)
		for seat := 1; seat <= k.Plan.Seats; seat++ {
			if seat%3 != 0 {
				want++
			}
		}
		got, sets := a.Tests[0], k.Plan.Tests[0].Sets
		if !slices.Contains(args, "paired-comparison") {
			want *= sets
		}
		if got.Correct != want || a.Counted != k.Plan.Seats*sets || len(a.LeftOut)+len(a.MissingSeats)+len(a.MissingSets) != 0 || *a.Digest != k.Digest.String() {
			t.Errorf("%v: %d correct, want %d: %+v", args, got.Correct, want, a)
		}
		if got.Goal != k.Plan.Tests[0].Goal || (got.Sided == "two-sided") != k.Plan.Tests[0].TwoSided {
			t.Errorf("%v: %+v", args, got)
		}
	}
}

// TestResultOrder: the second test is decided only where the first shows what it
// was to show, and a blank test stands outside.
func TestResultOrder(t *testing.T) {
	p := session.UsualPlan()
	p.Title, p.Seats = "Tuesday", 12
	p.Untreated, p.Processed = session.Lot{ID: "lot-1"}, session.Lot{ID: "lot-2"}
	blank := p.Tests[0]
	blank.Blank = session.BlankProcessed
	p.Tests = append([]session.TestPlan{blank}, p.Tests...)
	b, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "plan.json")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	_, path := layoutIn(t, "--plan", file)
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		right    [3]int // seats that are right in each test
		outcomes [3]string
		decided  [3]bool
		answer   string
	}{
		{[3]int{0, 12, 12}, [3]string{"undecided", "different", "different"}, [3]bool{true, true, true}, "could tell the two lots apart, and it could tell them apart by body."},
		{[3]int{0, 3, 12}, [3]string{"undecided", "undecided", "undecided"}, [3]bool{true, true, false}, "Undecided."},
		{[3]int{12, 12, 12}, [3]string{"different", "different", "different"}, [3]bool{true, true, true}, "The brewing may be what was tasted"},
	} {
		a := analyse(t, fill(t, k, func(seat, set int) bool { return seat <= c.right[set-1] }), "--key", path)
		for i, got := range a.Tests {
			if got.Outcome != c.outcomes[i] || got.Decided != c.decided[i] || got.Correct != c.right[i] {
				t.Errorf("%v: test %d: %+v", c.right, i+1, got)
			}
		}
		if !strings.Contains(a.Answer, c.answer) {
			t.Errorf("%v: %q, want %q", c.right, a.Answer, c.answer)
		}
	}
}

// TestBallotRows: each wrong row is named by its line and its reason, and never
// counted; nothing is computed unless that is asked for.
func TestBallotRows(t *testing.T) {
	_, path := layoutIn(t, "--method", "duo-trio", "--seats", "8", "--sets", "2", "--seed", seedHex)
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(fill(t, k, func(seat, set int) bool { return true })), "\n")
	codes := k.Layout.Seats[0][0].Takes[0]
	elsewhere := k.Layout.Seats[4][1].Takes[0][1]
	unused := session.Code(0)
	for c := session.Code(100); unused == 0; c++ {
		if _, ok := k.Cups[fmt.Sprint(int(c))]; !ok {
			unused = c
		}
	}
	for name, c := range map[string]struct{ row, reason string }{
		"no seat":              {fmt.Sprintf(",1,%d", codes[1]), `the column "seat" is empty`},
		"unknown seat":         {fmt.Sprintf("9,1,%d", codes[1]), "there is no seat 9: they go from 1 to 8"},
		"seat 0":               {fmt.Sprintf("0,1,%d", codes[1]), "there is no seat 0"},
		"a seat with letters":  {fmt.Sprintf("one,1,%d", codes[1]), `holds "one", which is no whole number`},
		"a huge seat":          {fmt.Sprintf("99999999999999999999,1,%d", codes[1]), "no whole number"},
		"unknown set":          {fmt.Sprintf("1,3,%d", codes[1]), "there is no set 3: they go from 1 to 2"},
		"no pick":              {"1,1,", `the column "pick" is empty`},
		"no code":              {"1,1,12", "no code of three digits"},
		"a code as a fraction": {"1,1,345.5", "no code of three digits"},
		"a code of no tray":    {fmt.Sprintf("1,1,%d", unused), "not in this layout"},
		"a code of elsewhere":  {fmt.Sprintf("1,1,%d", elsewhere), "on the tray of seat 5, set 2, not on the tray of seat 1, set 1"},
		"the reference":        {fmt.Sprintf("1,1,%d", codes[0]), "is the reference"},
		"two picks":            {fmt.Sprintf("1,1,%d,%d", codes[1], codes[2]), "answered with one cup"},
		"a guess of perhaps":   {fmt.Sprintf("1,1,%d,,perhaps", codes[1]), "write 1 or 0"},
		"too many cells":       {fmt.Sprintf("1,1,%d,,,,,,7", codes[1]), "it has 9 cells and the first row has 6"},
		"a quote":              {fmt.Sprintf("1,1,\"%d", codes[1]), "quotation mark"},
		"semicolons":           {fmt.Sprintf("1;1;%d", codes[1]), "no whole number"},
		"bytes":                {"1,1,\xff\xfe\x00", "no code of three digits"},
	} {
		bad := slices.Clone(rows)
		bad[1] = c.row
		text := strings.Join(bad, "\n")
		out, errs, code := command(t, "result", ballotFile(t, text), "--key", path, "--json")
		if code != 1 || out != "" || !strings.Contains(errs, "1 of 16 rows can't be counted, so nothing was computed") ||
			!strings.Contains(errs, "line 2: ") || !strings.Contains(errs, c.reason) || !strings.Contains(errs, "--skip-bad") {
			t.Errorf("%s: code %d, %q, says %q, want %q", name, code, out, errs, c.reason)
		}
		a := analyse(t, text, "--key", path, "--skip-bad")
		if got := a.Tests[0]; got.N != 15 || got.Correct != 15 || got.Missing != 1 || len(a.LeftOut) != 1 || a.LeftOut[0].Line != 2 || !strings.Contains(a.LeftOut[0].Reason, c.reason) {
			t.Errorf("%s: left out: %+v, %+v", name, got, a.LeftOut)
		}
		if !slices.Equal(a.MissingSets, []setOf{{1, 1}}) {
			t.Errorf("%s: missing %v", name, a.MissingSets)
		}
		text, _, _ = command(t, "result", ballotFile(t, text), "--key", path, "--skip-bad")
		if !strings.Contains(text, "Left out because of --skip-bad: 1 row.") || !strings.Contains(text, c.reason) {
			t.Errorf("%s: prints %q", name, text)
		}
	}
}

// TestBallotTwice: of two answers to a set none counts; with a reason at the one
// that was taken out the other does, by the codes of the replacement as well.
func TestBallotTwice(t *testing.T) {
	_, path := layoutIn(t, "--method", "tetrad", "--seats", "6")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	text := fill(t, k, func(seat, set int) bool { return true })
	pick, also := answerOf(k, 2, 1, 1, false)
	again := fmt.Sprintf("2,1,%s,%s,,\n", pick, also)
	_, errs, code := command(t, "result", ballotFile(t, text+again), "--key", path)
	if code != 1 || !strings.Contains(errs, "line 3: seat 2, set 1 has another answer, in line 8") || !strings.Contains(errs, "line 8: seat 2, set 1 has another answer, in line 3") {
		t.Errorf("code %d, %q", code, errs)
	}
	if a := analyse(t, text+again, "--key", path, "--skip-bad"); a.Tests[0].N != 5 || len(a.LeftOut) != 2 {
		t.Errorf("%+v", a)
	}
	rows := strings.Split(text, "\n")
	rows[2] = "2,1,,,,spilled"
	a := analyse(t, strings.Join(rows, "\n")+again, "--key", path)
	if got := a.Tests[0]; got.N != 6 || got.Correct != 5 || a.TakenOut != 1 || a.Replaced != 1 || !strings.Contains(strings.Join(a.Cautions, " "), "Seat 2, set 1 was taken out (spilled).") {
		t.Errorf("%+v", a)
	}
	// A code of the first tray can't be the answer to the one poured again, and
	// a set is taken out once.
	first, with := answerOf(k, 2, 1, 0, true)
	for _, c := range []struct{ more, reason string }{
		{fmt.Sprintf("2,1,%s,%s,,\n", first, with), "line 8: seat 2, set 1 was taken out in line 3, and this code is on that first tray"},
		{"2,1,,,,spilled again\n", "line 8: seat 2, set 1 was taken out in line 3 already"},
		{"3,1,,,,yes\n", `line 8: the column "void" says only "yes": say why`},
	} {
		_, errs, code := command(t, "result", ballotFile(t, strings.Join(rows, "\n")+c.more), "--key", path)
		if code != 1 || !strings.Contains(errs, c.reason) {
			t.Errorf("%s: code %d, %q", c.reason, code, errs)
		}
	}
	// A mark that says no takes nothing out.
	marked := strings.Split(strings.TrimSpace(text), "\n")
	for i := 1; i < len(marked); i++ {
		marked[i] = strings.TrimSuffix(marked[i], ",") + [...]string{",0", ",no", ",false", ",N", ",-", ","}[i-1]
	}
	if a := analyse(t, strings.Join(marked, "\n"), "--key", path); a.Tests[0].N != 6 || a.TakenOut != 0 {
		t.Errorf("marks that say no: %+v", a.Tests[0])
	}
	// Taken out and not poured again: no answer, and not missing either.
	a = analyse(t, strings.Join(rows, "\n"), "--key", path)
	if got := a.Tests[0]; got.N != 5 || got.Missing != 1 || len(a.MissingSets) != 0 {
		t.Errorf("%+v", a)
	}
}

// TestBallotMissing: seats and sets without a row are said.
func TestBallotMissing(t *testing.T) {
	_, path := layoutIn(t, "--method", "triangle", "--seats", "12", "--sets", "2")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	var kept []string
	for _, row := range strings.Split(fill(t, k, func(seat, set int) bool { return seat%2 == 0 }), "\n") {
		if !strings.HasPrefix(row, "4,") && !strings.HasPrefix(row, "5,") && !strings.HasPrefix(row, "6,") && !strings.HasPrefix(row, "11,2,") {
			kept = append(kept, row)
		}
	}
	text := strings.Join(kept, "\n")
	a := analyse(t, text, "--key", path)
	if got := a.Tests[0]; !slices.Equal(a.MissingSeats, []int{4, 5, 6}) || !slices.Equal(a.MissingSets, []setOf{{11, 2}}) || got.Seats != 9 || got.N != 17 || got.Missing != 1 || got.Correct != 8 {
		t.Errorf("%+v", a)
	}
	out, _, _ := command(t, "result", ballotFile(t, text), "--key", path)
	for _, want := range []string{"Seats without a ballot, taken as not come: 4 to 6.", "Missing: seat 11, set 2.", "17 sets counted", k.Digest.String()} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
}

// TestBallotForms: the same ballots however a spreadsheet writes them.
func TestBallotForms(t *testing.T) {
	plain := correctRows(24, 13)
	for name, text := range map[string]string{
		"line ends":    strings.ReplaceAll(plain, "\n", "\r\n"),
		"old ones":     strings.ReplaceAll(plain, "\n", "\r"),
		"semicolons":   strings.ReplaceAll(plain, ",", ";"),
		"tabs":         strings.ReplaceAll(plain, ",", "\t"),
		"a mark":       "\ufeff" + plain,
		"quotes":       strings.ReplaceAll(strings.ReplaceAll(plain, ",1,", `,"1",`), "seat", `"Seat"`),
		"spaces":       strings.ReplaceAll(plain, ",", " , "),
		"empty rows":   "\n\n" + strings.ReplaceAll(plain, "\n", "\n,,\n\n"),
		"more columns": strings.ReplaceAll(strings.ReplaceAll(plain, "\n", ",x\n"), "correct,x", "correct,Note"),
		"apostrophes":  strings.ReplaceAll(plain, ",1,", ",'1,"),
		"formulas":     strings.ReplaceAll(plain, ",1,", `,="1",`),
		"quoted ones":  strings.ReplaceAll(plain, ",1,", `,"=""1""",`),
		"sep":          "sep=;\r\n" + strings.ReplaceAll(plain, ",", ";"),
		"sep tab":      "\ufeff\"SEP=\t\"\n\n" + strings.ReplaceAll(plain, ",", "\t"),
		"empty column": strings.ReplaceAll(plain, "\n", ",\n"),
		"words":        strings.NewReplacer(",1,1\n", ",1,yes\n", ",1,0\n", ",1,no\n").Replace(plain),
	} {
		a := analyse(t, text, "--method", "triangle")
		if got := a.Tests[0]; got.N != 24 || got.Correct != 13 || got.Outcome != "different" {
			t.Errorf("%s: %+v", name, a)
		}
		if (name == "more columns") != slices.Equal(a.UnusedColumns, []string{"note"}) {
			t.Errorf("%s: columns not used: %v", name, a.UnusedColumns)
		}
	}
	for name, c := range map[string]struct{ text, says string }{
		"nothing":       {"", "it is empty"},
		"no rows":       {"seat,set,correct\n", "no ballot is left"},
		"no names":      {"1,1,1\n2,1,0\n", `names no column "seat"`},
		"codes, no key": {"seat,set,pick\n1,1,345\n", `names no column "correct"`},
		"twice named":   {"seat,set,correct,Seat\n1,1,1,2\n", "stands there twice"},
		"UTF-16":        {"\xff\xfes\x00e\x00", "UTF-16"},
		"sep alone":     {"sep=;\n\n", "only says what separates"},
		"sep of bars":   {"sep=|\nseat|set|correct\n1|1|1\n", `names no column "seat"`},
		"a quote":       {"seat,set,\"correct\n1,1,1\n", "quotation mark"},
		"seven sets":    {"seat,set,correct\n1,7,1\n", "there is no set 7"},
	} {
		_, errs, code := command(t, "result", ballotFile(t, c.text), "--method", "triangle")
		if code != 1 || !strings.Contains(errs, c.says) || !strings.Contains(errs, "hint") {
			t.Errorf("%s: code %d, %q", name, code, errs)
		}
	}
	big := ballotFile(t, plain+strings.Repeat("\n", mostBallots))
	for _, path := range []string{big, t.TempDir(), filepath.Join(t.TempDir(), "none.csv")} {
		if _, errs, code := command(t, "result", path, "--method", "triangle"); code != 1 || !strings.Contains(errs, "hint") {
			t.Errorf("%s: code %d, %q", path, code, errs)
		}
	}
}

// TestBallotColumnWithoutName: what stands in a column that has no name is not
// passed over in silence.
func TestBallotColumnWithoutName(t *testing.T) {
	text := strings.ReplaceAll(correctRows(24, 13), "\n", ",,\n")
	text = strings.Replace(text, "\n5,1,1,,", "\n5,1,1,,spilled", 1)
	if !strings.Contains(text, "spilled") {
		t.Fatal(text)
	}
	a := analyse(t, text, "--method", "triangle")
	if want := []string{"column 5 (without a name)"}; !slices.Equal(a.UnusedColumns, want) || a.Tests[0].N != 24 {
		t.Errorf("%q, want %q", a.UnusedColumns, want)
	}
	out, _, _ := command(t, "result", ballotFile(t, text), "--method", "triangle")
	if !strings.Contains(out, "nothing was read from: column 5 (without a name).") {
		t.Errorf("%s", out)
	}
}

// TestBallotCodesAsText: codes come as spreadsheets keep digits that are no
// number.
func TestBallotCodesAsText(t *testing.T) {
	_, path := layoutIn(t, "--method", "triangle", "--seats", "6")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	first, _ := answerOf(k, 1, 1, 0, true)
	second, _ := answerOf(k, 2, 1, 0, true)
	a := analyse(t, fmt.Sprintf("seat,set,pick\n1,1,'%s\n2,1,=\"%s\"\n", first, second), "--key", path)
	if a.Tests[0].Correct != 2 || a.Tests[0].N != 2 {
		t.Errorf("%+v", a)
	}
}

// TestBallotWordsReachNoTerminal: what moves a terminal's cursor or colours its
// text is shown as a mark.
func TestBallotWordsReachNoTerminal(t *testing.T) {
	text := "seat,set,correct,void,No\x1bte\n1,1,,spilled\x1b[31m\x07 it,x\n2,1,1,,x\n"
	out, errs, code := command(t, "result", ballotFile(t, text), "--method", "triangle")
	if code != 0 || !strings.Contains(out, "taken out (spilled\ufffd[31m\ufffd it)") || strings.ContainsAny(out+errs, "\x1b\x07") {
		t.Errorf("code %d, %q, %q", code, out, errs)
	}
}

// TestBallotCorrectBesideKey: what was marked by hand must agree with the key.
func TestBallotCorrectBesideKey(t *testing.T) {
	_, path := layoutIn(t, "--method", "triangle", "--seats", "6")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	right, _ := answerOf(k, 1, 1, 0, true)
	wrong, _ := answerOf(k, 2, 1, 0, false)
	a := analyse(t, fmt.Sprintf("seat,set,pick,correct\n1,1,%s,1\n2,1,%s,0\n", right, wrong), "--key", path)
	if a.Tests[0].Correct != 1 || a.Tests[0].N != 2 {
		t.Errorf("%+v", a)
	}
	_, errs, code := command(t, "result", ballotFile(t, fmt.Sprintf("seat,set,pick,correct\n1,1,%s,1\n2,1,%s,1\n", right, wrong)), "--key", path)
	if code != 1 || !strings.Contains(errs, "line 3: ") || !strings.Contains(errs, "by the key the answer is wrong") {
		t.Errorf("code %d, %q", code, errs)
	}
}

// TestBallotSimilarity: two sets a seat go through the analysis of replicates.
func TestBallotSimilarity(t *testing.T) {
	var seats []stats.Replicates
	var b strings.Builder
	b.WriteString("seat,set,correct\n")
	for seat := 1; seat <= 30; seat++ {
		r := stats.Replicates{N: 2, Correct: seat % 2}
		seats = append(seats, r)
		fmt.Fprintf(&b, "%d,1,%d\n%d,2,0\n", seat, r.Correct, seat)
	}
	a := analyse(t, b.String(), "--method", "triangle", "--similar", "0.05", "--pd-limit", "0.5")
	want := session.Analyse(session.TestPlan{
		Method: "triangle", Goal: "both", Sets: 2, Alpha: 0.05, Pd: 0.4, Power: 0.8, Beta: 0.05, PdLimit: 0.5,
	}, seats)
	if got := a.Tests[0]; want.Replicated == nil || got.Outcome != string(want.Outcome) || !slices.Contains(got.Sentences, want.SimilarSentence()) ||
		got.SimilarPValue != nil || got.MaxCorrect != nil || *got.PdUpper != want.PdUpper {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// FuzzBallots: no file makes the reader panic, and every line that is not empty
// is either a ballot or a wrong row.
func FuzzBallots(f *testing.F) {
	sealing, err := sealWith(fuzzPlan(), session.Seed{1}, [32]byte{2})
	if err != nil {
		f.Fatal(err)
	}
	k := keyOf(sealing)
	f.Add([]byte(fill(f, k, func(seat, set int) bool { return seat == 1 })), true)
	f.Add([]byte(correctRows(6, 3)), false)
	f.Add([]byte("seat;set;correct;void\r\n1;1;1;\r\n1;1;0;spilled\r\n\r\n2;1;\"x\r\n"), false)
	f.Add([]byte("seat,set,pick\n1,1,345\n1,1,345\n9,9,9,9\n"), true)
	f.Add([]byte("\xff\xfe"), true)
	f.Fuzz(func(t *testing.T, file []byte, keyed bool) {
		var key *servingKey
		if keyed {
			key = &k
		}
		b, err := readBallots(file, key)
		if err != nil {
			if len(b.rows)+len(b.wrong) != 0 {
				t.Errorf("%v, and yet %d rows", err, len(b.rows)+len(b.wrong))
			}
			return
		}
		lines := map[int]int{}
		counts := map[[2]int]bool{}
		for _, r := range b.rows {
			lines[r.line]++
			if r.void != "" {
				continue
			}
			at := [2]int{r.seat, r.set}
			if counts[at] {
				t.Errorf("seat %d, set %d counts twice", r.seat, r.set)
			}
			counts[at] = true
		}
		for _, w := range b.wrong {
			lines[w.Line]++
			if w.Reason == "" {
				t.Errorf("line %d is wrong for no reason", w.Line)
			}
		}
		head := true
		all := csvLines(file)
		comma, named, err := separator(all, slices.IndexFunc(all, func(l string) bool { return !blank(l) }))
		if err != nil {
			t.Fatal(err)
		}
		begins := map[int]bool{}
		for _, row := range csvRows(all, named+1, comma) {
			begins[row.line] = true
		}
		for i, l := range all {
			want := 1
			if blank(l) || head || !begins[i+1] {
				want = 0
			}
			head = head && blank(l)
			if lines[i+1] != want {
				t.Errorf("line %d, %q, stands for %d rows", i+1, l, lines[i+1])
			}
		}
		if len(b.rows) == 0 || !keyed {
			return
		}
		out := analyseBallots(k.Plan, b)
		if out.Counted+out.TakenOut != len(b.rows) || len(out.LeftOut) != len(b.wrong) {
			t.Errorf("%d counted and %d taken out of %d rows", out.Counted, out.TakenOut, len(b.rows))
		}
	})
}

func fuzzPlan() session.Plan {
	p := session.UsualPlan()
	p.Title, p.Seats = "Fuzz", 6
	p.Untreated.ID, p.Processed.ID = "lot-1", "lot-2"
	t := p.Tests[0]
	t.Method = session.Tetrad.Key
	p.Tests = []session.TestPlan{t, p.Tests[1]}
	return p
}

// An x marks what is right on one sheet and what is wrong on another.
func TestCrossUnderCorrectIsRefused(t *testing.T) {
	if ok, err := yes(columnCorrect, "X", ""); ok || err == nil || !strings.Contains(err.Error(), "write 1 or 0") {
		t.Errorf("%v, %v", ok, err)
	}
	if ok, err := yes(columnGuess, "x", "no"); !ok || err != nil {
		t.Errorf("a guess that was ticked: %v, %v", ok, err)
	}
}
