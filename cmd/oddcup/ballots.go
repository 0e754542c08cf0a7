package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"oddcup/session"
)

// ballot is one row of a ballot file that can be read: what a seat answered in a
// set, or that the set was taken out.
type ballot struct {
	line      int
	seat, set int
	take      int // 1 where the pick is a cup of the replacement
	correct   bool
	guess     bool
	void      string // why the set was taken out; else ""
}

// wrongRow is a row that can't be read, and why.
type wrongRow struct {
	Line   int    `json:"line"`
	Reason string `json:"reason"`
}

// ballots are a ballot file. Every line that is not empty, but the first, is
// either a ballot or a wrong row.
type ballots struct {
	rows   []ballot
	wrong  []wrongRow
	unused []string // columns that nothing is read from, by name or number

	nameless []int // columns without a name, from 0, in which nothing was met yet
}

// columns of a ballot file.
const (
	columnSeat    = "seat"
	columnSet     = "set"
	columnPick    = "pick"
	columnAlso    = "also"
	columnCorrect = "correct"
	columnGuess   = "guess"
	columnVoid    = "void"
)

var columns = []string{columnSeat, columnSet, columnPick, columnAlso, columnCorrect, columnGuess, columnVoid}

// mostBallots bounds the bytes of a ballot file.
const mostBallots = 4 << 20

// The most seats and sets of a ballot file without a key.
const (
	mostSeats = 500
	mostSets  = 6
)

// readBallots reads a ballot file as [resultCommand] describes it. Without a key
// k is nil and only seat, set, correct, guess and void are read. An error means
// that the file as a whole can't be read.
func readBallots(file []byte, k *servingKey) (ballots, error) {
	var b ballots
	if bytes.HasPrefix(file, []byte("\xff\xfe")) || bytes.HasPrefix(file, []byte("\xfe\xff")) {
		return b, fmt.Errorf("it is written in UTF-16: save it as CSV in UTF-8")
	}
	lines := csvLines(file)
	first := slices.IndexFunc(lines, func(l string) bool { return !blank(l) })
	if first < 0 {
		return b, fmt.Errorf("it is empty")
	}
	comma := delimiter(lines[first])
	if named, ok := namedDelimiter(lines[first]); ok {
		next := slices.IndexFunc(lines[first+1:], func(l string) bool { return !blank(l) })
		if next < 0 {
			return b, fmt.Errorf("line %d: it only says what separates the cells", first+1)
		}
		comma, first = named, first+1+next
	}
	at, err := b.head(lines[first], comma, k != nil)
	if err != nil {
		return b, fmt.Errorf("line %d: %w", first+1, err)
	}
	for i := first + 1; i < len(lines); i++ {
		if blank(lines[i]) {
			continue
		}
		b.nameColumns(lines[i], comma)
		one, err := readBallot(lines[i], comma, at, k)
		if err != nil {
			b.wrong = append(b.wrong, wrongRow{i + 1, err.Error()})
			continue
		}
		one.line = i + 1
		b.rows = append(b.rows, one)
	}
	b.outOfPlace(k != nil)
	b.twice()
	return b, nil
}

// csvLines splits a file into lines, whichever system wrote it. No cell of ours
// has a line end in it, so a broken quote costs one line.
func csvLines(b []byte) []string {
	s := strings.TrimPrefix(string(b), "\ufeff")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Split(strings.ReplaceAll(s, "\r", "\n"), "\n")
}

// blank reports whether a line has no cell with anything in it.
func blank(line string) bool { return strings.Trim(line, " \t,;\"") == "" }

// delimiter is what separates the cells of the first row: programs write commas,
// semicolons where the comma is the decimal sign, or tabs.
func delimiter(head string) rune {
	best := ','
	for _, d := range ";\t" {
		if strings.Count(head, string(d)) > strings.Count(head, string(best)) {
			best = d
		}
	}
	return best
}

// namedDelimiter reads a line such as sep=; that spreadsheets take from a first
// line.
func namedDelimiter(line string) (comma rune, ok bool) {
	const sign = "sep="
	line = strings.TrimLeft(line, " \"")
	if len(line) <= len(sign) || !strings.EqualFold(line[:len(sign)], sign) {
		return 0, false
	}
	comma, n := utf8.DecodeRuneInString(line[len(sign):])
	if !strings.ContainsRune(",;\t", comma) || !blank(line[len(sign)+n:]) {
		return 0, false
	}
	return comma, true
}

// typedAsText are the ways to keep a spreadsheet from reading a number: ="380",
// and '380.
var typedAsText = regexp.MustCompile(`(^|[,;\t])( *)="([0-9]+)"`)

func csvCells(line string, comma rune) ([]string, error) {
	if line == "" {
		return nil, nil
	}
	line = typedAsText.ReplaceAllString(line, "$1$2$3")
	r := csv.NewReader(strings.NewReader(line))
	r.Comma, r.FieldsPerRecord = comma, -1
	cells, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("a quotation mark is not closed or stands inside a cell")
	}
	for i := range cells {
		cells[i] = plainNumber(strings.TrimSpace(cells[i]))
	}
	return cells, nil
}

// plainNumber takes the signs off a number that was typed as text.
func plainNumber(cell string) string {
	bare, ok := strings.CutPrefix(cell, "'")
	if !ok {
		bare, ok = strings.CutPrefix(cell, `="`)
		if ok {
			bare, ok = strings.CutSuffix(bare, `"`)
		}
	}
	if !ok || bare == "" || strings.Trim(bare, "0123456789") != "" {
		return cell
	}
	return bare
}

// printable is a cell's words as a terminal can be given them.
func printable(words string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '\ufffd'
	}, strings.ToValidUTF8(words, "\ufffd"))
}

// head reads the column names, in any order.
func (b *ballots) head(line string, comma rune, keyed bool) (at map[string]int, err error) {
	names, err := csvCells(line, comma)
	if err != nil {
		return nil, err
	}
	at = map[string]int{"": len(names)}
	for i, name := range names {
		name = strings.ToLower(name)
		_, have := at[name]
		switch {
		case name == "":
			b.nameless = append(b.nameless, i)
		case have:
			return nil, fmt.Errorf("the column %s stands there twice", quoted(name))
		case !slices.Contains(columns, name), !keyed && (name == columnPick || name == columnAlso):
			b.unused = append(b.unused, printable(name))
		default:
			at[name] = i
		}
	}
	want := []string{columnSeat, columnSet, columnCorrect}
	if keyed {
		want = []string{columnSeat, columnSet, columnPick}
	}
	for _, name := range want {
		if _, ok := at[name]; ok {
			continue
		}
		if !keyed && name == columnCorrect {
			return nil, fmt.Errorf("the first row names no column %q, and without a key nothing else tells what is right", name)
		}
		return nil, fmt.Errorf("the first row names no column %q", name)
	}
	return at, nil
}

// nameColumns notes which columns without a name hold something all the same.
func (b *ballots) nameColumns(line string, comma rune) {
	cells, err := csvCells(line, comma)
	if err != nil {
		return
	}
	b.nameless = slices.DeleteFunc(b.nameless, func(i int) bool {
		met := i < len(cells) && cells[i] != ""
		if met {
			b.unused = append(b.unused, fmt.Sprintf("column %d (without a name)", i+1))
		}
		return met
	})
}

func readBallot(line string, comma rune, at map[string]int, k *servingKey) (ballot, error) {
	var b ballot
	cells, err := csvCells(line, comma)
	if err != nil {
		return b, err
	}
	width := at[""]
	for i := width; i < len(cells); i++ {
		if cells[i] != "" {
			return b, fmt.Errorf("it has %d cells and the first row has %d", len(cells), width)
		}
	}
	cell := func(column string) string {
		if i, ok := at[column]; ok && column != "" && i < len(cells) {
			return cells[i]
		}
		return ""
	}
	seats, sets := mostSeats, mostSets
	if k != nil {
		seats, sets = k.Plan.Seats, k.Plan.SetsPerSeat()
	}
	if b.seat, err = whole(columnSeat, cell(columnSeat), seats); err != nil {
		return b, err
	}
	if b.set, err = whole(columnSet, cell(columnSet), sets); err != nil {
		return b, err
	}
	if b.void = cell(columnVoid); isNo(b.void) {
		b.void = ""
	}
	if isYes(b.void) {
		return b, fmt.Errorf("the column %q says only %s: say why the set was taken out", columnVoid, quoted(b.void))
	}
	if b.void != "" {
		b.void = printable(b.void)
		return b, nil
	}
	if b.guess, err = yes(columnGuess, cell(columnGuess), "0"); err != nil {
		return b, err
	}
	if k == nil {
		b.correct, err = yes(columnCorrect, cell(columnCorrect), "")
		return b, err
	}
	return k.mark(b, cell(columnPick), cell(columnAlso), cell(columnCorrect))
}

// mark reads what was picked, and whether it is right by the key.
func (k *servingKey) mark(b ballot, pick, also, correct string) (ballot, error) {
	dealt := k.Layout.Seats[b.seat-1][b.set-1]
	t := k.Plan.Tests[dealt.Test]
	m, _ := session.MethodByKey(t.Method)
	p, err := codeOf(columnPick, pick)
	if err != nil {
		return b, err
	}
	codes := dealt.Takes[0]
	if slices.Contains(dealt.Takes[1], p) {
		codes, b.take = dealt.Takes[1], 1
	}
	if !slices.Contains(codes, p) {
		return b, fmt.Errorf("code %d is %s, not on the tray of seat %d, set %d (%s)", p, k.place(p), b.seat, b.set, codeWords(codes))
	}
	var second session.Code
	switch {
	case m.Picks == 2 && also == "":
		return b, fmt.Errorf("a %s is answered with two cups, and the column %q is empty", m.Name, columnAlso)
	case m.Picks == 2:
		if second, err = codeOf(columnAlso, also); err != nil {
			return b, err
		}
	case also != "":
		return b, fmt.Errorf("a %s is answered with one cup, and the column %q holds %s", m.Name, columnAlso, quoted(also))
	}
	first, with, ok := m.Answer(codes, p, second)
	switch {
	case ok:
	case slices.Index(codes, p) < m.References():
		return b, fmt.Errorf("code %d is the reference, which is no answer (%s)", p, codeWords(codes))
	case p == second:
		return b, fmt.Errorf("code %d is named twice", p)
	default:
		return b, fmt.Errorf("code %d is %s, not on the tray of seat %d, set %d (%s)", second, k.place(second), b.seat, b.set, codeWords(codes))
	}
	places := []int{slices.Index(codes, first)}
	if with != 0 {
		places = append(places, slices.Index(codes, with))
	}
	b.correct = m.Right(dealt.Order, places)
	if correct != "" {
		typed, err := yes(columnCorrect, correct, "")
		if err != nil {
			return b, err
		}
		if typed != b.correct {
			return b, fmt.Errorf("the column %q says %s, and by the key the answer is %s", columnCorrect, quoted(correct), map[bool]string{true: "right", false: "wrong"}[b.correct])
		}
	}
	return b, nil
}

// place says where in the layout a code is.
func (k *servingKey) place(c session.Code) string {
	for seat, sets := range k.Layout.Seats {
		for set := range sets {
			for take, codes := range sets[set].Takes {
				if slices.Contains(codes, c) {
					return fmt.Sprintf("on %s of seat %d, set %d", [...]string{"the tray", "the replacement tray"}[take], seat+1, set+1)
				}
			}
		}
	}
	return "not in this layout"
}

// outOfPlace takes out answers from a tray that another row takes out, and a
// second row that takes out the same set. Only a key tells the trays apart.
func (b *ballots) outOfPlace(keyed bool) {
	voids := map[[2]int]int{}
	b.rows = slices.DeleteFunc(b.rows, func(r ballot) bool {
		at := [2]int{r.seat, r.set}
		if r.void == "" {
			return false
		}
		if line, again := voids[at]; again {
			b.wrong = append(b.wrong, wrongRow{r.line, fmt.Sprintf("seat %d, set %d was taken out in line %d already", r.seat, r.set, line)})
			return true
		}
		voids[at] = r.line
		return false
	})
	b.rows = slices.DeleteFunc(b.rows, func(r ballot) bool {
		line, void := voids[[2]int{r.seat, r.set}]
		if r.void != "" || !void || !keyed || r.take > 0 {
			return false
		}
		b.wrong = append(b.wrong, wrongRow{r.line, fmt.Sprintf(
			"seat %d, set %d was taken out in line %d, and this code is on that first tray, not on the one poured again", r.seat, r.set, line)})
		return true
	})
}

// twice takes out the rows of a seat's set that has several answers: none of
// them can be known to be the one that counts.
func (b *ballots) twice() {
	lines := map[[2]int][]int{}
	for _, r := range b.rows {
		if r.void == "" {
			at := [2]int{r.seat, r.set}
			lines[at] = append(lines[at], r.line)
		}
	}
	b.rows = slices.DeleteFunc(b.rows, func(r ballot) bool {
		all := lines[[2]int{r.seat, r.set}]
		if r.void != "" || len(all) < 2 {
			return false
		}
		var others []string
		for _, l := range all {
			if l != r.line {
				others = append(others, strconv.Itoa(l))
			}
		}
		b.wrong = append(b.wrong, wrongRow{r.line, fmt.Sprintf(
			"seat %d, set %d has another answer, in line %s; where a tray was poured again, say in the column %q of the first why it was taken out",
			r.seat, r.set, strings.Join(others, " and "), columnVoid)})
		return true
	})
	slices.SortFunc(b.wrong, func(a, c wrongRow) int { return a.Line - c.Line })
}

// isNo and isYes read what a spreadsheet's column of marks holds.
func isNo(cell string) bool {
	return slices.Contains([]string{"0", "no", "n", "false", "-"}, strings.ToLower(cell))
}

func isYes(cell string) bool {
	return slices.Contains([]string{"1", "yes", "y", "true", "x"}, strings.ToLower(cell))
}

// whole reads a number from 1 to most.
func whole(column, cell string, most int) (int, error) {
	if cell == "" {
		return 0, fmt.Errorf("the column %q is empty", column)
	}
	n, err := strconv.Atoi(cell)
	if err != nil || strings.HasPrefix(cell, "+") {
		return 0, fmt.Errorf("the column %q holds %s, which is no whole number", column, quoted(cell))
	}
	if n < 1 || n > most {
		return 0, fmt.Errorf("there is no %s %d: they go from 1 to %d", column, n, most)
	}
	return n, nil
}

func codeOf(column, cell string) (session.Code, error) {
	if cell == "" {
		return 0, fmt.Errorf("the column %q is empty; of a set that was taken out, say why in the column %q", column, columnVoid)
	}
	n, err := strconv.Atoi(cell)
	if err != nil || len(cell) != 3 || n < 100 {
		return 0, fmt.Errorf("the column %q holds %s, which is no code of three digits", column, quoted(cell))
	}
	return session.Code(n), nil
}

// yes reads a cell that says yes or no. An empty one is read as usual, where
// there is a usual.
func yes(column, cell, usual string) (bool, error) {
	if cell == "" {
		cell = usual
	}
	switch {
	case column == columnCorrect && strings.EqualFold(cell, "x"):
		return false, fmt.Errorf("the column %q holds an x, which marks what is right on one sheet and what is wrong on another; write 1 or 0, yes or no", column)
	case isYes(cell):
		return true, nil
	case isNo(cell):
		return false, nil
	case cell == "":
		return false, fmt.Errorf("the column %q is empty", column)
	}
	return false, fmt.Errorf("the column %q holds %s; write 1 or 0, yes or no", column, quoted(cell))
}

// quoted is a cell as it can be shown in a line.
func quoted(cell string) string {
	cell = strings.ToValidUTF8(cell, "\ufffd")
	if utf8.RuneCountInString(cell) > 20 {
		cell = string([]rune(cell)[:20]) + "…"
	}
	return strconv.Quote(cell)
}

func codeWords(codes []session.Code) string {
	var words []string
	for _, c := range codes {
		words = append(words, strconv.Itoa(int(c)))
	}
	return strings.Join(words, ", ")
}
