package main

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestBallotNumbersAsSpreadsheetsWriteThem: whole numbers with decimals of 0, and
// codes with spaces, are read; what is no code is refused with the reason.
func TestBallotNumbersAsSpreadsheetsWriteThem(t *testing.T) {
	_, path := layoutIn(t, "--method", "triangle", "--seats", "6")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	code := func(seat int) string { first, _ := answerOf(k, seat, 1, 0, true); return first }
	c := code(3)
	text := fmt.Sprintf("\ufeffseat;set;pick\r\n1.0;1,0;%s.0\r\n2,00;1;%s,0\r\n3;1;%s\r\n4;1; %s \r\n5;1;\u00a0%s\r\n",
		code(1), code(2), c[:1]+" "+c[1:2]+" "+c[2:], code(4), code(5))
	if a := analyse(t, text, "--key", path); a.Tests[0].N != 5 || a.Tests[0].Correct != 5 {
		t.Errorf("%+v", a)
	}
	for cell, reason := range map[string]string{
		"1.0":    `holds "1", which is no code of three digits: type the code on the cup, not its place`,
		"20 6 1": "no code of three digits",
		"206.5":  `holds "206.5", which is no code of three digits`,
		"2O6":    `holds "2O6", which is no code of three digits`,
	} {
		_, errs, code := command(t, "result", ballotFile(t, "seat,set,pick\n1,1,"+cell+"\n"), "--key", path)
		if code != 1 || !strings.Contains(errs, "line 2: ") || !strings.Contains(errs, reason) {
			t.Errorf("%s: code %d, %s", cell, code, errs)
		}
	}
	_, errs, _ := command(t, "result", ballotFile(t, "seat,set,pick\n1 2,1,"+c+"\n"), "--key", path)
	if !strings.Contains(errs, `the column "seat" holds "1 2", which is no whole number`) {
		t.Error(errs)
	}
}

// TestBallotLines: a remark in quotes may go on over lines, and rows after it are
// named by the lines on which they stand; a quote that is not closed costs one row.
func TestBallotLines(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		n     int
		wrong []int
	}{
		"a remark of three lines": {"seat,set,correct,remark\n1,1,1,\"sour,\nthin\r\nand \"\"flat\"\"\"\n2,1,1,\n3,1,maybe,\n4,1,0,\n", 3, []int{6}},
		"a remark in between":     {"seat,remark,set,correct\n1,\"sour\nthin\",1,1\n2,,1,1\nx,,1,1\n", 2, []int{5}},
		"semicolons":              {"seat;set;correct;remark\r\n1;1;1;\"a\r\nb\"\r\n2;1;7;\r\n", 1, []int{4}},
		"a quote never closed":    {"seat,set,correct,remark\n1,1,1,\"sour\n2,1,1,\n3,1,0,thin\n", 2, []int{2}},
		"closed in another row":   {"seat,set,correct,remark\n1,1,1,\"sour\n2,1,1,thin\"\n3,1,0,thin\n", 1, []int{2, 3}},
	} {
		b, err := readBallots([]byte(c.text), nil)
		var lines []int
		for _, w := range b.wrong {
			lines = append(lines, w.Line)
		}
		if err != nil || len(b.rows) != c.n || !slices.Equal(lines, c.wrong) {
			t.Errorf("%s: %v, %d rows, wrong %v", name, err, len(b.rows), b.wrong)
		}
	}
}

// TestBallotTitle: a title above the column names is named as what it is.
func TestBallotTitle(t *testing.T) {
	for _, text := range []string{
		"Tuesday's ballots\n\nseat,set,correct\n1,1,1\n",
		"\ufeffTuesday's ballots;;\r\n;;\r\nSeat;Set;Correct\r\n1;1;1\r\n",
		"sep=;\nTuesday's ballots\nSeat;Set;Correct\n1;1;1\n",
	} {
		_, errs, code := command(t, "result", ballotFile(t, text), "--method", "triangle")
		if code != 1 || !strings.Contains(errs, "is no row of column names, and line 3 looks like one: delete what stands above it") {
			t.Errorf("%q: code %d, %s", text, code, errs)
		}
	}
}

// TestBallotWithoutSet: where each seat has one set its column may be left out, and
// that is said; where it has more, it may not.
func TestBallotWithoutSet(t *testing.T) {
	text := strings.ReplaceAll(correctRows(24, 13), ",1,", ",")
	text = strings.Replace(text, "set,", "", 1)
	a := analyse(t, text, "--method", "triangle")
	if a.Tests[0].N != 24 || a.Tests[0].Sets != 1 || !a.NoSetColumn {
		t.Errorf("%+v", a)
	}
	out, _, _ := command(t, "result", ballotFile(t, text), "--method", "triangle")
	if !strings.Contains(out, `There is no column "set": every row is taken as its seat's only set.`) {
		t.Error(out)
	}
	if a := analyse(t, correctRows(24, 13), "--method", "triangle"); a.NoSetColumn {
		t.Error("the column is there")
	}
	for sets, want := range map[string]string{"1": "", "2": `names no column "set", and each seat has 2 sets`} {
		_, path := layoutIn(t, "--method", "triangle", "--seats", "6", "--sets", sets)
		k, err := readKey(path)
		if err != nil {
			t.Fatal(err)
		}
		first, _ := answerOf(k, 1, 1, 0, true)
		_, errs, code := command(t, "result", ballotFile(t, "seat,pick\n1,"+first+"\n"), "--key", path)
		if (code == 0) != (want == "") || !strings.Contains(errs, want) {
			t.Errorf("%s sets: code %d, %s", sets, code, errs)
		}
	}
}

// TestBallotReadFirst: what may make the answer another one stands above it: rows
// left out, codes of another layout, seats without a ballot, counts far below
// guessing.
func TestBallotReadFirst(t *testing.T) {
	_, path := layoutIn(t, "--method", "triangle", "--seats", "6")
	_, other := layoutIn(t, "--method", "triangle", "--seats", "6")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	codes := k.Layout.Seats[1][0].Takes[0]
	unknown := 100
	for k.Cups[fmt.Sprint(unknown)] != "" {
		unknown++
	}
	first, _ := answerOf(k, 1, 1, 0, true)
	text := fmt.Sprintf("seat,set,pick\n1,1,%s\n2,1,%d\n2,1,%d\n3,1,%d\n", first, codes[0], codes[1], unknown)
	a := analyse(t, text, "--key", path, "--skip-bad")
	if !slices.Equal(a.LeftOutSeats, []int{2, 3}) || !slices.Equal(a.MissingSeats, []int{4, 5, 6}) || a.Tests[0].Missing != 2 || a.Tests[0].Seats != 3 {
		t.Errorf("%+v", a)
	}
	out, _, _ := command(t, "result", ballotFile(t, text), "--key", path, "--skip-bad")
	above, _, _ := strings.Cut(out, a.Answer)
	for _, want := range []string{
		"Read this first:", "1 row was left out: its code is nowhere in this key's layout.", "2 rows were left out as wrong",
		"Seats of which nothing counts, left out for wrong rows: 2, 3.", "Seats without a ballot, taken as not come: 4 to 6.",
	} {
		if !strings.Contains(above, want) {
			t.Errorf("no %q above the answer:\n%s", want, out)
		}
	}
	if len(a.ReadFirst) == 0 || strings.Contains(out, "not come: 2") {
		t.Errorf("%v\n%s", a.ReadFirst, out)
	}
	// The ballots of a layout with the key of another.
	_, errs, code := command(t, "result", ballotFile(t, fill(t, k, func(int, int) bool { return true })), "--key", other)
	if code != 1 || !strings.Contains(errs, "nowhere in this key's layout: name the key") {
		t.Errorf("code %d, %s", code, errs)
	}
	// So few that guessing hardly explains them: before “similar”, and once.
	few := []string{"--method", "triangle", "--goal", "similarity", "--pd-limit", "0.3"}
	for _, args := range [][]string{
		append([]string{"result", ballotFile(t, correctRows(66, 9))}, few...),
		append([]string{"result", "--n", "66", "--correct", "9"}, few...),
	} {
		out, errs, code := command(t, args...)
		warned, concluded := strings.Index(out, "check the serving key before you read the result"), strings.Index(strings.ToLower(out), "similar")
		if code != 0 || warned < 0 || concluded < warned || strings.Count(out, "before you read the result") != 1 {
			t.Errorf("%v: code %d, %s%s", args, code, out, errs)
		}
	}
}
