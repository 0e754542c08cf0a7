package console

import (
	"fmt"

	"oddcup/session"
)

// trayTable is every tray of one test with its key.
type trayTable struct {
	Name    string
	Counted string // head of the column: "odd cup"
	Sets    bool   // more than one set a seat
	Refers  bool   // the first cup of a tray is the reference
	Rows    []trayRow
}

// Columns is how many there are.
func (t trayTable) Columns() int {
	if t.Sets {
		return 7
	}
	return 6
}

type trayRow struct {
	Heads        string // what begins with this row: a flight
	Seat, Set    int
	Again        bool
	Codes        []session.Code
	Counted      []session.Code
	Picked       []session.Code // none for no answer
	Mark, Result string
	Own          string
}

// traysOf are the trays of one test with what was on them.
func traysOf(test int, t session.TestResult, answers []session.SeatAnswer, p session.Plan) trayTable {
	table := trayTable{Name: capital(nameOf(t.Plan)), Counted: t.Method.CupHead, Sets: t.Plan.Sets > 1, Refers: t.Method.References() > 0}
	flight := 0
	for _, a := range answers {
		if a.Test != test {
			continue
		}
		row := trayRow{Seat: a.Seat, Set: a.Set, Again: a.Take > 0, Codes: a.Codes, Counted: a.Counted}
		if f := flightOf(p, a.Seat); severalFlights(p) && f != flight {
			row.Heads, flight = fmt.Sprintf("Flight %d of %d", f, len(p.Flights)), f
		}
		if a.Answer != nil {
			row.Picked = a.Answer.Codes()
			row.Own = "no mark"
			if a.Answer.Guess {
				row.Own = "a guess"
			}
		}
		switch {
		case a.Void != nil:
			row.Mark, row.Result = "void", "taken out: "+typedWords(a.Void.Reason)
		case a.Answer == nil:
			row.Mark, row.Result = "empty", "no answer"
		case a.Correct:
			row.Mark, row.Result = "done", t.Method.Found
		default:
			row.Mark, row.Result = "notdone", t.Method.Missed
		}
		if a.Amend != nil {
			row.Result += "; taken out " + a.Amend.Known.Words() + ": " + typedWords(a.Amend.Reason)
		}
		if a.Answer != nil && a.Answer.Paper {
			row.Own += ", on paper"
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}
