package main

import (
	"encoding/csv"
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// csvLines splits a file into lines, whichever system wrote it.
func csvLines(b []byte) []string {
	s := strings.TrimPrefix(string(b), "\ufeff")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Split(strings.ReplaceAll(s, "\r", "\n"), "\n")
}

// csvRow is a row of a file and the line, from 1, on which it begins.
type csvRow struct {
	line int
	text string
}

// csvRows puts the lines from first on together to rows: a remark in quotes may go
// on over several lines. A quote that is never closed, or only where another row
// has begun, costs its own line and no other.
func csvRows(lines []string, first int, comma rune) []csvRow {
	var rows []csvRow
	for i := first; i < len(lines); i++ {
		row := csvRow{i + 1, lines[i]}
		if end, ok := quoteEnds(lines, i, comma); ok {
			row.text, i = strings.Join(lines[i:end+1], "\n"), end
		}
		rows = append(rows, row)
	}
	return rows
}

// mostLines bounds the lines of one row.
const mostLines = 50

// quoteEnds gives the line on which the row that begins on a line ends, where a
// quoted cell carries it on beyond that line.
func quoteEnds(lines []string, first int, comma rune) (end int, ok bool) {
	if !strings.Contains(lines[first], `"`) {
		return 0, false
	}
	quoted := false // within a quoted cell
	for i := first; i < min(len(lines), first+mostLines); i++ {
		line := []rune(lines[i])
		if i > first && rowBegins(lines[i], comma) {
			return 0, false
		}
		start := !quoted // at the first sign of a cell
		for k := 0; k < len(line); k++ {
			switch {
			case !quoted:
				quoted = start && line[k] == '"'
				start = line[k] == comma
			case line[k] != '"':
			case k+1 < len(line) && line[k+1] == '"':
				k++
			case k+1 == len(line) || line[k+1] == comma:
				quoted, start = false, false
			default:
				return 0, false
			}
		}
		if !quoted {
			return i, i > first
		}
	}
	return 0, false
}

// rowBegins reports whether a line begins as a row of ballots does: with a number
// of its own cell.
func rowBegins(line string, comma rune) bool {
	cell, _, more := strings.Cut(line, string(comma))
	cell = strings.Trim(cell, " '\"=")
	return more && cell != "" && strings.Trim(cell, "0123456789") == ""
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
		cells[i] = plainNumber(strings.Join(strings.Fields(cells[i]), " "))
	}
	return cells, nil
}

// zeros are the decimals that a spreadsheet gives a whole number: 206.0, or 206,00.
var zeros = regexp.MustCompile(`^([0-9]+)[.,]0+$`)

// plainNumber takes the signs off a number that was typed as text, and decimals
// that are all 0 off a whole one.
func plainNumber(cell string) string {
	if whole := zeros.FindStringSubmatch(cell); whole != nil {
		return whole[1]
	}
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
