package main

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
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

// wrong makes a ballot a wrong row.
func (b ballot) wrong(format string, args ...any) wrongRow {
	return wrongRow{Line: b.line, Seat: b.seat, Set: b.set, Reason: fmt.Sprintf(format, args...)}
}

// wrongRow is a row that can't be read, and why.
type wrongRow struct {
	Line   int    `json:"line"`
	Seat   int    `json:"seat"` // 0 where it can't be read
	Set    int    `json:"set"`  // likewise
	Reason string `json:"reason"`

	foreign bool // the code is nowhere in the key's layout
}

// ballots are a ballot file. Every row that is not empty, but the first, is
// either a ballot or a wrong row.
type ballots struct {
	rows   []ballot
	wrong  []wrongRow
	unused []string // columns that nothing is read from, by name or number
	noSet  bool     // there is no column for the set: all are set 1

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
	comma, first, err := separator(lines, first)
	if err != nil {
		return b, err
	}
	if line, ok := titled(lines, first); ok {
		return b, fmt.Errorf("line %d is no row of column names, and line %d looks like one: delete what stands above it", first+1, line)
	}
	at, err := b.head(lines[first], comma, k)
	if err != nil {
		return b, fmt.Errorf("line %d: %w", first+1, err)
	}
	for _, row := range csvRows(lines, first+1, comma) {
		if blank(row.text) {
			continue
		}
		b.nameColumns(row.text, comma)
		one, err := readBallot(row.text, comma, at, k)
		if err != nil {
			b.wrong = append(b.wrong, wrongRow{row.line, one.seat, one.set, err.Error(), errors.Is(err, errForeign)})
			continue
		}
		one.line = row.line
		b.rows = append(b.rows, one)
	}
	b.outOfPlace(k != nil)
	b.twice()
	return b, nil
}

// separator gives what separates the cells, and the index of the row of column
// names, which a line such as sep=; may stand above.
func separator(lines []string, first int) (comma rune, head int, err error) {
	named, ok := namedDelimiter(lines[first])
	if !ok {
		return delimiter(lines[first]), first, nil
	}
	next := slices.IndexFunc(lines[first+1:], func(l string) bool { return !blank(l) })
	if next < 0 {
		return 0, 0, fmt.Errorf("line %d: it only says what separates the cells", first+1)
	}
	return named, first + 1 + next, nil
}

// titled gives the line of the column names where a title stands above them.
func titled(lines []string, first int) (line int, ok bool) {
	named := func(line string) bool {
		cells, err := csvCells(line, delimiter(line))
		return err == nil && slices.ContainsFunc(cells, func(c string) bool { return strings.EqualFold(c, columnSeat) })
	}
	if named(lines[first]) {
		return 0, false
	}
	for i := first + 1; i < min(len(lines), first+mostTitles); i++ {
		if named(lines[i]) {
			return i + 1, true
		}
	}
	return 0, false
}

// mostTitles bounds the lines in which column names are looked for.
const mostTitles = 20

// head reads the column names, in any order.
func (b *ballots) head(line string, comma rune, k *servingKey) (at map[string]int, err error) {
	keyed := k != nil
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
		if name == columnSet && (!keyed || k.Plan.SetsPerSeat() == 1) {
			b.noSet = true
			continue
		}
		if name == columnSet {
			return nil, fmt.Errorf("the first row names no column %q, and each seat has %d sets", name, k.Plan.SetsPerSeat())
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
	b.set = 1
	if _, named := at[columnSet]; named {
		if b.set, err = whole(columnSet, cell(columnSet), sets); err != nil {
			return b, err
		}
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
		return b, k.notOnTray(b, p, codes)
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
		return b, k.notOnTray(b, second, codes)
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

// errForeign is of a code that no tray of the key's layout has.
var errForeign = errors.New("not in this layout")

// notOnTray says where a code is that is not among those of a ballot's tray.
func (k *servingKey) notOnTray(b ballot, c session.Code, codes []session.Code) error {
	tray := fmt.Sprintf("not on the tray of seat %d, set %d (%s)", b.seat, b.set, codeWords(codes))
	if place := k.place(c); place != "" {
		return fmt.Errorf("code %d is %s, %s", c, place, tray)
	}
	return fmt.Errorf("code %d is %w, %s", c, errForeign, tray)
}

// place says where in the layout a code is, "" where it is nowhere.
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
	return ""
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
			b.wrong = append(b.wrong, r.wrong("seat %d, set %d was taken out in line %d already", r.seat, r.set, line))
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
		b.wrong = append(b.wrong, r.wrong(
			"seat %d, set %d was taken out in line %d, and this code is on that first tray, not on the one poured again", r.seat, r.set, line))
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
		b.wrong = append(b.wrong, r.wrong(
			"seat %d, set %d has another answer, in line %s; where a tray was poured again, say in the column %q of the first why it was taken out",
			r.seat, r.set, strings.Join(others, " and "), columnVoid))
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
	digits := strings.ReplaceAll(cell, " ", "") // 2 0 6 is read as it is said
	n, err := strconv.Atoi(digits)
	switch {
	case err == nil && len(digits) < 3 && n > 0:
		return 0, fmt.Errorf("the column %q holds %s, which is no code of three digits: type the code on the cup, not its place", column, quoted(cell))
	case err != nil || len(digits) != 3 || n < 100:
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
