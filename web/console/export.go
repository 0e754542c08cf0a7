package console

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// The files beside the result page. They exist after the reveal only and carry
// times in UTC (RFC 3339). CSV and JSON hold no names of people; the session file
// (see [session.Dossier]) holds all that was typed.

// csvColumns are the columns of result.csv, one row a tray that was served, in
// the order of seats, sets and takes:
//
//	session        the session's id
//	demonstration  1: simulated tasters, never counts; 0: a tasting
//	practice       1: tasters were told at once whether they were right, never
//	               counts; 0: a tasting
//	flight         number of the flight, from 1; 1 where all seats are one
//	seat, set      numbers, from 1; a seat belongs to one flight
//	take           0 for the first tray of the set, 1 for its replacement
//	test           number of the test in the registered order, from 1
//	method         triangle, duo-trio, tetrad, paired-comparison or 3-afc
//	attribute      of a paired comparison or a 3-AFC test; empty otherwise
//	codes          the codes on the tray, left to right, with spaces between
//	order          what was in the cups, left to right: A untreated lot, B processed
//	               lot; in a blank test A the lot's brew, B its second brew. In a
//	               duo-trio test the first is the reference
//	counted_code   the cup that a correct answer names; in a tetrad the leftmost cup
//	               and its like, with a space between
//	picked_code    as counted_code; empty where there is no answer
//	correct        1 if the answer is correct, 0 if not, empty without an answer
//	guess          1 if the taster marked the answer as a guess, 0 if not, empty without an answer
//	locked_at      when the answer became final, by the host laptop's clock
//	counts         1 if the answer is in the result, 0 if not
//	void_at        when the tray was taken out; empty if it was not
//	void_reason    as typed; a first character that a spreadsheet would take for
//	               a formula has an apostrophe before it
//	paper          1 if the host typed the answer in from a ballot, 0 if not, empty
//	               without an answer
//	amended_at     when the tray was taken out after the close; empty if it was not
//	amended_reason as void_reason
//	amended_counts 1 if the answer is in the amended result, which stands beside the
//	               registered one; the same as counts where nothing was amended
//	seal_broken_at      when the seal was broken before the reveal; empty if it was
//	                    not. This and what follows is of the session, the same in
//	                    every row
//	seal_broken_reason  as void_reason
//	single_blind   how who knows the cups was also with the tasters, a sentence;
//	               empty where the names of roles show no sign of it
//	conditions     as planned, "light: …; water: …", as the field names of
//	               conditions in result.json; empty where the plan has none
//	deviations     what was noted as not as planned, with "; " between
var csvColumns = []string{
	"session", "demonstration", "practice", "flight", "seat", "set", "take", "test", "method", "attribute", "codes", "order",
	"counted_code", "picked_code", "correct", "guess", "locked_at", "counts", "void_at", "void_reason",
	"paper", "amended_at", "amended_reason", "amended_counts",
	"seal_broken_at", "seal_broken_reason", "single_blind", "conditions", "deviations",
}

// ResultCSV writes a revealed session's trays as RFC 4180 in UTF-8. Before the
// reveal the error is [session.ErrSealed].
func ResultCSV(s *session.State) ([]byte, error) {
	res, err := s.Compute()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	if err := w.Write(csvColumns); err != nil {
		return nil, fmt.Errorf("result.csv: %w", err)
	}
	same := csvOfSession(s)
	for _, a := range res.Answers {
		if err := w.Write(append(csvRow(s, a), same...)); err != nil {
			return nil, fmt.Errorf("result.csv, seat %d: %w", a.Seat, err)
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return nil, fmt.Errorf("result.csv: %w", err)
	}
	return b.Bytes(), nil
}

func csvRow(s *session.State, a session.SeatAnswer) []string {
	t := s.Plan.Tests[a.Test]
	picked, correct, guess, locked := "", "", "", ""
	if a.Answer != nil {
		picked, correct, guess, locked = codesText(a.Answer.Codes()), flag(a.Correct), flag(a.Answer.Guess), stampOf(a.Answer.At)
	}
	paper := ""
	if a.Answer != nil {
		paper = flag(a.Answer.Paper)
	}
	voidAt, reason := "", ""
	if a.Void != nil {
		voidAt, reason = stampOf(a.Void.At), a.Void.Reason.Words
	}
	amendedAt, amendedReason := "", ""
	if a.Amend != nil {
		amendedAt, amendedReason = stampOf(a.Amend.At), a.Amend.Reason.Words
	}
	counts := a.Answer != nil && a.Void == nil
	return []string{
		string(s.ID), flag(s.Demo), flag(s.Plan.Practice), strconv.Itoa(flightOf(s.Plan, a.Seat)), strconv.Itoa(a.Seat), strconv.Itoa(a.Set), strconv.Itoa(a.Take),
		strconv.Itoa(a.Test + 1), t.Method, noFormula(t.Attribute), codesText(a.Codes), a.Order,
		codesText(a.Counted), picked, correct, guess, locked, flag(counts), voidAt, noFormula(reason),
		paper, amendedAt, noFormula(amendedReason), flag(counts && a.Amend == nil),
	}
}

// csvOfSession are the last columns, which are the same in every row.
func csvOfSession(s *session.State) []string {
	at, reason := "", ""
	if s.Broken != nil {
		at, reason = stampOf(s.Broken.At), s.Broken.Words.Words
	}
	blind, _ := s.SingleBlind()
	var conditions, deviations []string
	for _, c := range conditionsNamed(wireConditionsOf(s.Plan)) {
		conditions = append(conditions, c[0]+": "+c[1])
	}
	for _, d := range s.Deviations {
		deviations = append(deviations, d.Say())
	}
	return []string{at, noFormula(reason), blind, strings.Join(conditions, "; "), noFormula(strings.Join(deviations, "; "))}
}

// conditionsNamed are the planned conditions by their names in result.json; those
// that the plan leaves out are not there.
func conditionsNamed(c wireConditions) [][2]string {
	number := func(x float64) string {
		if x == 0 {
			return ""
		}
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	lids := ""
	if c.Lids {
		lids = "true"
	}
	var named [][2]string
	for _, x := range [][2]string{
		{"place", c.Place}, {"storage", c.Storage},
		{"light", c.Light}, {"partitions", c.Partitions}, {"masking", c.Masking}, {"cups", c.Cups}, {"lids", lids},
		{"discard_after_min", number(float64(c.DiscardMin))}, {"roast", c.Roast}, {"water", c.Water},
		{"hold_at_most_min", number(float64(c.HoldMin))}, {"hold_from_celsius", number(c.HoldLowC)}, {"hold_up_to_celsius", number(c.HoldHighC)},
		{"warm_up", c.WarmUp}, {"cleanser", c.Cleanser}, {"retaste", c.Retaste},
	} {
		if x[1] != "" {
			named = append(named, x)
		}
	}
	return named
}

func codesText(codes []session.Code) string {
	var all []string
	for _, c := range codes {
		all = append(all, strconv.Itoa(int(c)))
	}
	return strings.Join(all, " ")
}

func flag(b bool) string {
	if b {
		return "1"
	}
	return "0"
}

func stampOf(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// noFormula keeps a spreadsheet from running what a person typed: it takes a
// cell that begins with one of these characters for a formula.
func noFormula(typed string) string {
	if strings.ContainsAny(firstOf(typed), "=+-@\t\r\n＝＋－＠") {
		return "'" + typed
	}
	return typed
}

func firstOf(s string) string {
	for _, r := range s {
		return string(r)
	}
	return ""
}

func (c *Console) resultCSV(w http.ResponseWriter, r *http.Request) error {
	return c.file(w, r, "csv", "text/csv; charset=utf-8; header=present", ResultCSV)
}

func (c *Console) resultJSON(w http.ResponseWriter, r *http.Request) error {
	return c.file(w, r, "json", "application/json", ResultJSON)
}

// sessionFile sends the whole session, for others to check.
func (c *Console) sessionFile(w http.ResponseWriter, r *http.Request) error {
	b, err := c.Rooms.Dossier(r.Context(), session.ID(chi.URLParam(r, "id")))
	if err != nil {
		return err
	}
	return c.file(w, r, strings.TrimPrefix(session.DossierExtension, "."), "application/octet-stream", func(*session.State) ([]byte, error) {
		return b, nil
	})
}

// file sends an export under a name that says which session it is of.
func (c *Console) file(w http.ResponseWriter, r *http.Request, ext, kind string, make func(*session.State) ([]byte, error)) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	b, err := make(s)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="result-%s.%s"`, s.ID, ext))
	if _, err := w.Write(b); err != nil {
		c.Log.Debug("console: file not taken", "session", s.ID, "err", err)
	}
	return nil
}
