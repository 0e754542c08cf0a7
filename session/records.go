package session

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// PaperRecord is a count from before, or from elsewhere: how often a person was
// right in sets of one kind on one day.
type PaperRecord struct {
	Person  PersonID   `json:"person"`
	Date    string     `json:"date"` // year-month-day
	Method  string     `json:"method"`
	Kind    JudgedKind `json:"kind"`
	Control string     `json:"control,omitempty"` // what differed
	DPrime  float64    `json:"dPrime,omitempty"`  // known size of the difference; 0 unknown
	Sets    int        `json:"sets"`
	Right   int        `json:"right"`
	Source  string     `json:"source"` // where the paper is
}

// RowFault is a row that can't be taken: its line in the file, from 1, and why.
type RowFault struct {
	Line int
	Say  string
}

func (f RowFault) String() string { return fmt.Sprintf("line %d: %s", f.Line, f.Say) }

const (
	mostSource  = 80
	mostRecords = 20_000
)

var paperColumns = []string{"person", "date", "method", "kind", "control", "dprime", "sets", "right", "source"}

// ParsePaperRecords reads a table of earlier records: RFC 4180 in UTF-8, the cells
// between commas or, as spreadsheets write where the comma is the decimal sign,
// semicolons or tabs, with the columns person (pseudonym, or the name on the
// register), date (2031-03-05), method, kind, control, dprime, sets, right and
// source, in any order; control and dprime may be missing. Every row is either a record or has a fault that
// names its line; a row that was taken before, or twice in the file, or of a day
// after now, is a fault.
func (l *Lab) ParsePaperRecords(r io.Reader, now time.Time) ([]PaperRecord, []RowFault) {
	var records []PaperRecord
	var faults []RowFault
	table := bufio.NewReader(r)
	read := csv.NewReader(table)
	read.Comma = cellSign(table)
	read.FieldsPerRecord, read.TrimLeadingSpace = -1, true
	head, err := read.Read()
	if err != nil {
		return nil, []RowFault{{1, "the table has no line of column names: " + csvTrouble(err)}}
	}
	columns := map[string]int{}
	for i, name := range head {
		name = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))
		if _, twice := columns[name]; twice || !slices.Contains(paperColumns, name) {
			faults = append(faults, RowFault{1, fmt.Sprintf("column %q is not known, or is there twice; the columns are %s", name, strings.Join(paperColumns, ", "))})
		}
		columns[name] = i
	}
	for _, name := range paperColumns {
		if _, ok := columns[name]; !ok && name != "control" && name != "dprime" {
			faults = append(faults, RowFault{1, fmt.Sprintf("the column %q is missing", name)})
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	book, have, lines := l.nameBook(), l.papersSet(), map[PaperRecord]int{}
	counts, kept := map[PaperRecord]PaperRecord{}, l.papersSat()
	for {
		row, err := read.Read()
		if errors.Is(err, io.EOF) {
			return records, faults
		}
		if err != nil {
			line := 0
			if e, ok := errors.AsType[*csv.ParseError](err); ok {
				line = e.Line
			}
			return records, append(faults, RowFault{line, csvTrouble(err) + "; nothing behind it was read"})
		}
		line, _ := read.FieldPos(0)
		if len(row) == 1 && strings.TrimSpace(row[0]) == "" {
			continue
		}
		record, say := book.paperRecord(columns, row, read.Comma, now)
		sitting := record.sitting()
		other, known := counts[sitting], kept[sitting]
		switch before, twice := lines[record]; {
		case say != "":
		case len(row) > len(head):
			say = fmt.Sprintf("it has %d fields, and there are %d columns", len(row), len(head))
		case twice:
			say = fmt.Sprintf("it says what line %d says; where both are true, tell them apart in the source", before)
		case have[record]:
			say = "it is in the register already; where both are true, tell them apart in the source"
		case other.Sets > 0:
			say = fmt.Sprintf("line %d has another count, %d of %d, of this person, day, method, kind, control and source; where one corrects the other, take that out, and where both are true, write one row with their sum",
				lines[other], other.Right, other.Sets)
		case known.Sets > 0:
			say = fmt.Sprintf("the register has another count, %d of %d, of this person, day, method, kind, control and source; where both are true, tell them apart in the source",
				known.Right, known.Sets)
		case len(records) == mostRecords:
			return records, append(faults, RowFault{line, fmt.Sprintf("this row and those behind it were not read: %d fit into one table", mostRecords)})
		default:
			records, lines[record], counts[sitting] = append(records, record), line, record
			continue
		}
		faults = append(faults, RowFault{line, say})
	}
}

// cellSign is what stands between the cells of the first row.
func cellSign(table *bufio.Reader) rune {
	start, _ := table.Peek(1024) // whatever there is
	head, _, _ := bytes.Cut(start, []byte("\n"))
	best := ','
	for _, sign := range ";\t" {
		if bytes.Count(head, []byte(string(sign))) > bytes.Count(head, []byte(string(best))) {
			best = sign
		}
	}
	return best
}

func csvTrouble(err error) string {
	if e, ok := errors.AsType[*csv.ParseError](err); ok {
		return e.Err.Error()
	}
	if errors.Is(err, io.EOF) {
		return "it is empty"
	}
	return err.Error()
}

// paperRecord reads one row; say is what is wrong with it, "" for nothing.
func (b nameBook) paperRecord(columns map[string]int, row []string, sign rune, now time.Time) (p PaperRecord, say string) {
	if strings.ContainsRune(strings.Join(row, " "), utf8.RuneError) {
		return p, "it is not written in UTF-8: save the table as “CSV UTF-8”"
	}
	field := func(name string) string {
		if i, ok := columns[name]; ok && i < len(row) {
			return strings.TrimSpace(row[i])
		}
		return ""
	}
	who := b.find(field("person"))
	switch len(who) {
	case 0:
		return p, fmt.Sprintf("nobody on the register has the pseudonym or name %q", field("person"))
	case 1:
	default:
		return p, fmt.Sprintf("several people on the register are called %q: write the pseudonym", field("person"))
	}
	p = PaperRecord{
		Person: who[0], Date: field("date"), Method: strings.ToLower(field("method")), Kind: JudgedKind(strings.ToLower(field("kind"))),
		Control: field("control"), Source: field("source"),
	}
	var err error
	if d := field("dprime"); d != "" {
		if sign != ',' {
			d = strings.Replace(d, ",", ".", 1)
		}
		if p.DPrime, err = strconv.ParseFloat(d, 64); err != nil {
			return p, fmt.Sprintf("dprime %q is no number", d)
		}
	}
	if p.Sets, err = strconv.Atoi(field("sets")); err != nil {
		return p, fmt.Sprintf("sets %q is no whole number", field("sets"))
	}
	if p.Right, err = strconv.Atoi(field("right")); err != nil {
		return p, fmt.Sprintf("right %q is no whole number", field("right"))
	}
	return p, b.paperTrouble(p, now)
}

// paperTrouble says what is wrong with a record, "" for nothing.
func (b nameBook) paperTrouble(p PaperRecord, now time.Time) string {
	switch day, err := time.Parse(time.DateOnly, p.Date); {
	case err != nil:
		return fmt.Sprintf("date %q: write it as 2031-03-05", p.Date)
	case day.After(now.Add(aDay)):
		return fmt.Sprintf("the date %s is still to come", p.Date)
	}
	m, ok := MethodByKey(p.Method)
	switch {
	case !ok:
		return fmt.Sprintf("no method is called %q", p.Method)
	case !slices.Contains(JudgedKinds, p.Kind):
		return fmt.Sprintf("kind %q: write routine, control or blank", p.Kind)
	case p.Kind == KindControl && p.Control == "":
		return "control: say what differed"
	case p.Kind != KindControl && (p.Control != "" || p.DPrime != 0):
		return fmt.Sprintf("control and dprime belong to the kind control, and this is %s", p.Kind)
	case !within(p.DPrime, 0, mostControlDPrime):
		return fmt.Sprintf("a dprime of %v is outside 0 to %d", p.DPrime, mostControlDPrime)
	case p.Sets < 1 || p.Sets > mostSets:
		return fmt.Sprintf("%d sets are outside 1 to %d", p.Sets, mostSets)
	case p.Right < 0 || p.Right > p.Sets:
		return fmt.Sprintf("%d right of %s", p.Right, counted(p.Sets, m.Short+" set"))
	}
	for _, w := range []struct {
		name, words string
		most        int
	}{{"control", p.Control, mostControlWords}, {"source", p.Source, mostSource}} {
		if w.words == "" && w.name == "control" {
			continue
		}
		if err := checkLabel(w.words, w.name, w.most); err != nil {
			return strings.TrimSuffix(err.Error(), ": "+ErrWords.Error())
		}
		if word := b.wordIn(w.words); word != "" {
			return fmt.Sprintf("the %s holds “%s”, a part of a name on the register; it stays in the journal for good, and could not be erased with the name: write it in other words", w.name, word)
		}
	}
	return ""
}

func (l *Lab) decideImport(a ImportRecords, at time.Time) ([]Event, error) {
	if len(a.Records) == 0 || len(a.Records) > mostRecords {
		return nil, fmt.Errorf("%d records, and an import has 1 to %d: %w", len(a.Records), mostRecords, ErrRecords)
	}
	book, have, sat := l.nameBook(), l.papersSet(), l.papersSat()
	for i, p := range a.Records {
		who, err := l.present(p.Person)
		if err != nil {
			return nil, fmt.Errorf("record %d: %w", i+1, err)
		}
		if say := book.paperTrouble(p, at); say != "" {
			return nil, fmt.Errorf("record %d, of %s: %s: %w", i+1, who.Pseudonym, say, ErrRecords)
		}
		if have[p] {
			return nil, fmt.Errorf("record %d, of %s, is in the register already: %w", i+1, who.Pseudonym, ErrRecords)
		}
		if before, ok := sat[p.sitting()]; ok {
			return nil, fmt.Errorf("record %d, of %s: there is another count, %d of %d, of that person, day, method, kind, control and source: %w",
				i+1, who.Pseudonym, before.Right, before.Sets, ErrRecords)
		}
		have[p], sat[p.sitting()] = true, p
	}
	return one(&RecordsImported{slices.Clone(a.Records)})
}

// sitting is a record without its counts.
func (p PaperRecord) sitting() PaperRecord {
	p.Control, p.Sets, p.Right = foldName(p.Control), 0, 0
	return p
}

// papersSat are the records of the register by their sittings.
func (l *Lab) papersSat() map[PaperRecord]PaperRecord {
	have := make(map[PaperRecord]PaperRecord, len(l.Papers))
	for _, p := range l.Papers {
		if same, ok := l.Same(p.Person); ok {
			p.Person = same.ID
		}
		have[p.sitting()] = p
	}
	return have
}

func (l *Lab) papersSet() map[PaperRecord]bool {
	have := make(map[PaperRecord]bool, len(l.Papers))
	for _, p := range l.Papers {
		have[p] = true
	}
	return have
}

// PapersOf are a person's paper records, in the order imported.
func (l *Lab) PapersOf(id PersonID) []PaperRecord {
	var all []PaperRecord
	for _, p := range l.Papers {
		if same, ok := l.Same(p.Person); ok && same.ID == id {
			all = append(all, p)
		}
	}
	return all
}

// recordColumns are the columns of records.csv, one row a judged set, by
// session, seat, set and take, and after them one row a paper record. It names
// people by their pseudonyms, and is UTF-8, RFC 4180:
//
//	person      pseudonym; empty for a seat that nobody was said to have had
//	session     the session's id; empty for a paper record
//	laboratory  of a session that came from another one; empty for one's own
//	demo        1: simulated tasters, never counts; 0: a tasting
//	at          when the answer was kept, UTC, RFC 3339; of a paper record the day
//	test        number of the test in its session, from 1; empty for a paper record
//	method      triangle, duo-trio, tetrad, paired-comparison or 3-afc
//	attribute   of an attribute test
//	kind        routine, control or blank
//	control     what differed in a control set
//	percent     strength of a control's treated brew, %; empty where not known
//	dprime      known size of a control's difference; empty where not known
//	chance      probability of a right answer by guessing
//	seat, set   numbers, from 1; take is 0 for the first tray, 1 for its replacement
//	sets        1; in a paper record the number of sets
//	right       sets that were right, 0 or 1; in an attribute test: the processed
//	            lot's cup, or the treated brew's, was picked
//	guess       1 where the taster marked the answer as a guess
//	place       of the cup picked, from 1 at the left; also: of the second cup of a pair
//	seconds     from serving to the kept answer; empty where not known
//	paper       1 for a ballot typed in by the host and for a paper record
//	source      of a paper record
var recordColumns = []string{
	"person", "session", "laboratory", "demo", "at", "test", "method", "attribute", "kind", "control", "percent", "dprime", "chance",
	"seat", "set", "take", "sets", "right", "guess", "place", "also", "seconds", "paper", "source",
}

// RecordsCSV writes every judged set and paper record for a statistics program;
// see recordColumns in the source.
func RecordsCSV(lab *Lab, sessions []JudgedSession) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	flag := map[bool]string{false: "0", true: "1"}
	known := func(x float64) string {
		if x == 0 {
			return ""
		}
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	rows := [][]string{recordColumns}
	for _, j := range slices.Backward(sessions) {
		var control Control
		if j.Control != nil {
			control = *j.Control
		}
		for _, set := range j.Sets {
			t, c := j.Tests[set.Test], Control{}
			if t.Kind == KindControl {
				c = control
			}
			who, _ := lab.PersonOf(j.Session, set.Seat)
			seconds, also := "", ""
			if set.Took > 0 {
				seconds = strconv.FormatFloat(set.Took.Seconds(), 'f', 1, 64)
			}
			if set.AlsoPlace > 0 {
				also = strconv.Itoa(set.AlsoPlace)
			}
			rows = append(rows, []string{
				who.Pseudonym, string(j.Session), noFormula(j.Laboratory), flag[j.Demo], set.At.Format(time.RFC3339), strconv.Itoa(set.Test + 1),
				t.Method, noFormula(t.Attribute), string(t.Kind), noFormula(c.Words), known(c.Percent), known(c.DPrime), known(t.Chance),
				strconv.Itoa(set.Seat), strconv.Itoa(set.Set), strconv.Itoa(set.Take), "1", flag[set.Right], flag[set.Guess],
				strconv.Itoa(set.Place), also, seconds, flag[set.Paper], "",
			})
		}
	}
	for _, p := range lab.Papers {
		who, _ := lab.Same(p.Person)
		m, _ := MethodByKey(p.Method)
		rows = append(rows, []string{
			who.Pseudonym, "", "", "0", p.Date, "", p.Method, "", string(p.Kind), noFormula(p.Control), "", known(p.DPrime), known(m.Chance()),
			"", "", "", strconv.Itoa(p.Sets), strconv.Itoa(p.Right), "", "", "", "", "1", noFormula(p.Source),
		})
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("records.csv: %w", err)
	}
	return b.Bytes(), nil
}

// noFormula keeps a spreadsheet from running what a person typed: it takes a
// cell that begins with one of these characters for a formula.
func noFormula(typed string) string {
	if strings.IndexAny(typed, "=+-@\t\r\n＝＋－＠") == 0 {
		return "'" + typed
	}
	return typed
}
