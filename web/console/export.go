package console

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// The files beside the result page. Both exist after the reveal only, carry
// times in UTC (RFC 3339), and hold no names of people.

// csvColumns are the columns of result.csv, one row a tray that was served, in
// the order of seats, sets and takes:
//
//	session        the session's id
//	demonstration  1: simulated tasters, never counts; 0: a tasting
//	seat, set      numbers, from 1
//	take           0 for the first tray of the set, 1 for its replacement
//	test           number of the test in the registered order, from 1
//	method         triangle or paired-comparison
//	attribute      of a paired comparison; empty otherwise
//	codes          the codes on the tray, left to right, with spaces between
//	order          what was in the cups, left to right: A untreated lot, B processed lot
//	counted_code   the odd cup; in a paired comparison the processed lot's cup
//	picked_code    empty where there is no answer
//	correct        1 if the counted cup was picked, 0 if not, empty without an answer
//	guess          1 if the taster marked the answer as a guess, 0 if not, empty without an answer
//	locked_at      when the answer became final, by the host laptop's clock
//	counts         1 if the answer is in the result, 0 if not
//	void_at        when the tray was taken out; empty if it was not
//	void_reason    as typed; a first character that a spreadsheet would take for
//	               a formula has an apostrophe before it
var csvColumns = []string{
	"session", "demonstration", "seat", "set", "take", "test", "method", "attribute", "codes", "order",
	"counted_code", "picked_code", "correct", "guess", "locked_at", "counts", "void_at", "void_reason",
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
	for _, a := range res.Answers {
		if err := w.Write(csvRow(s, a)); err != nil {
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
		picked, correct, guess, locked = codeText(a.Answer.Pick), flag(a.Correct), flag(a.Answer.Guess), stampOf(a.Answer.At)
	}
	voidAt, reason := "", ""
	if a.Void != nil {
		voidAt, reason = stampOf(a.Void.At), a.Void.Reason.Words
	}
	var codes []string
	for _, c := range a.Codes {
		codes = append(codes, codeText(c))
	}
	return []string{
		string(s.ID), flag(s.Demo), strconv.Itoa(a.Seat), strconv.Itoa(a.Set), strconv.Itoa(a.Take),
		strconv.Itoa(a.Test + 1), t.Method, noFormula(t.Attribute), strings.Join(codes, " "), a.Order,
		codeText(a.Counted), picked, correct, guess, locked, flag(a.Answer != nil && a.Void == nil), voidAt, noFormula(reason),
	}
}

func codeText(c session.Code) string { return strconv.Itoa(int(c)) }

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

// wireResult is result.json. Fields are only ever added; a change of meaning
// gets the next number in v. Proportions, risks and probabilities are numbers
// between 0 and 1; null stands for a number that is unbounded or unknown.
type wireResult struct {
	V             int          `json:"v"`
	Session       session.ID   `json:"session"`
	Title         string       `json:"title"`
	Demonstration bool         `json:"demonstration"`
	Answer        string       `json:"answer"`
	Untreated     wireLot      `json:"untreated_lot"`
	Processed     wireLot      `json:"processed_lot"`
	Serving       wireServing  `json:"serving"`
	PlannedSeats  int          `json:"planned_seats"`
	ListedSeats   int          `json:"listed_seats"`
	SealedAt      string       `json:"sealed_at"`
	OpenedAt      string       `json:"opened_at"`
	ClosedAt      string       `json:"closed_at"`
	RevealedAt    string       `json:"revealed_at"`
	Seal          wireSeal     `json:"seal"`
	Tests         []wireTest   `json:"tests"`
	Trays         []wireTray   `json:"trays"`
	Cautions      []string     `json:"cautions"`
	Releases      []wireRelied `json:"releases"`
}

type wireLot struct {
	ID        session.LotID `json:"id"`
	Number    string        `json:"number"`
	Treatment string        `json:"treatment"`
}

type wireServing struct {
	FillG     float64 `json:"fill_g"`
	LowC      float64 `json:"served_from_celsius"`
	HighC     float64 `json:"served_up_to_celsius"`
	DoseGPerL float64 `json:"dose_g_per_l"`
	RinseS    int     `json:"rinse_s"`
	RedLight  bool    `json:"red_light"`
}

// wireSeal is the commitment. Holds says that plan, layout and seed give the
// digest; HeadAtClose is the hash of the last entry before the close.
type wireSeal struct {
	Digest      string `json:"digest_sha256"`
	Holds       bool   `json:"holds"`
	HeadAtClose string `json:"journal_head_at_close_sha256"`
	Entries     uint64 `json:"journal_entries"`
}

type wireRelied struct {
	Lot    session.LotID `json:"lot"`
	Report string        `json:"report"`
	At     string        `json:"released_at"`
}

type wireTest struct {
	Number     int           `json:"number"`
	Method     string        `json:"method"`
	Attribute  string        `json:"attribute,omitempty"`
	Definition string        `json:"definition,omitempty"`
	Goal       string        `json:"goal"`
	TwoSided   bool          `json:"two_sided"`
	SetsSeat   int           `json:"sets_per_seat"`
	Alpha      float64       `json:"alpha"`
	PlannedPd  float64       `json:"planned_pd"`
	Wanted     float64       `json:"wanted_power"`
	Chance     float64       `json:"chance"`
	N          int           `json:"n"`
	Correct    int           `json:"correct"`
	Voided     int           `json:"voided_trays"`
	Missing    int           `json:"missing_sets"`
	P          float64       `json:"p"`
	MinCorrect *int          `json:"min_correct"`
	Actual     *float64      `json:"actual_alpha"`
	Power      *float64      `json:"power"`
	Pd         *wireEstimate `json:"pd"`
	DPrime     *wireEstimate `json:"d_prime"`
	Decided    bool          `json:"decided"`
	Outcome    string        `json:"outcome"`
	Sentence   string        `json:"sentence"`
	PSentence  string        `json:"p_sentence"`
	Verdict    string        `json:"verdict"`
}

type wireEstimate struct {
	Value      *float64 `json:"value"`
	Lower      *float64 `json:"lower"`
	Upper      *float64 `json:"upper"`
	Confidence float64  `json:"confidence"`
}

type wireTray struct {
	Seat    int            `json:"seat"`
	Set     int            `json:"set"`
	Take    int            `json:"take"`
	Test    int            `json:"test"`
	Codes   []session.Code `json:"codes"`
	Order   string         `json:"order"`
	Counted session.Code   `json:"counted_code"`
	Answer  *wireAnswer    `json:"answer"`
	Void    *wireVoid      `json:"void"`
	Counts  bool           `json:"counts"`
}

type wireAnswer struct {
	Picked   session.Code `json:"picked_code"`
	Correct  bool         `json:"correct"`
	Guess    bool         `json:"guess"`
	LockedAt string       `json:"locked_at"`
}

type wireVoid struct {
	At     string `json:"at"`
	Reason string `json:"reason"`
}

// ResultJSON writes a revealed session's result, indented. Before the reveal
// the error is [session.ErrSealed].
func ResultJSON(s *session.State) ([]byte, error) {
	res, err := s.Compute()
	if err != nil {
		return nil, err
	}
	w := wireResult{
		V: 1, Session: s.ID, Title: s.Plan.Title, Demonstration: s.Demo, Answer: res.Answer(),
		Untreated: wireLotOf(s.Plan.Untreated), Processed: wireLotOf(s.Plan.Processed),
		Serving: wireServing{
			s.Plan.Serving.FillG, s.Plan.Serving.LowC, s.Plan.Serving.HighC,
			s.Plan.Serving.DoseGPerL, s.Plan.Serving.RinseS, s.Plan.Serving.RedLight,
		},
		PlannedSeats: s.Plan.Seats, ListedSeats: len(s.Listed()),
		SealedAt: stampOf(s.Times[session.PhaseSealed]), OpenedAt: stampOf(s.Times[session.PhaseOpen]),
		ClosedAt: stampOf(s.Times[session.PhaseClosed]), RevealedAt: stampOf(s.Times[session.PhaseRevealed]),
		Seal:  wireSeal{s.Digest.String(), res.Seal, s.ClosedAt.String(), s.Seq},
		Tests: []wireTest{}, Trays: []wireTray{}, Cautions: append([]string{}, res.Cautions...), Releases: []wireRelied{},
	}
	for _, t := range res.Tests {
		w.Tests = append(w.Tests, wireTestOf(t))
	}
	for _, a := range res.Answers {
		w.Trays = append(w.Trays, wireTrayOf(a))
	}
	for _, r := range s.Releases {
		w.Releases = append(w.Releases, wireRelied{r.Lot, r.Report, stampOf(r.At)})
	}
	b, err := json.MarshalIndent(w, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("result.json: %w", err)
	}
	return append(b, '\n'), nil
}

func wireLotOf(l session.Lot) wireLot { return wireLot{l.ID, l.Number, l.Treatment} }

func wireTestOf(t session.TestResult) wireTest {
	w := wireTest{
		Number: t.Number, Method: t.Method.Key, Attribute: t.Plan.Attribute, Definition: t.Plan.Definition,
		Goal: t.Plan.Goal, TwoSided: t.Plan.TwoSided, SetsSeat: t.Plan.Sets,
		Alpha: t.Plan.Alpha, PlannedPd: t.Plan.Pd, Wanted: t.Plan.Power, Chance: t.Method.Chance(),
		N: t.N, Correct: t.Correct, Voided: t.Voided, Missing: t.Missing, P: t.P,
		Decided: t.Decided, Outcome: string(t.Outcome),
		Sentence: t.Sentence(), PSentence: t.PSentence(), Verdict: t.Verdict(),
	}
	if t.N == 0 {
		return w
	}
	if t.HasMin {
		w.MinCorrect, w.Actual = &t.MinCorrect, finite(t.ActualAlpha)
	}
	w.Power = finite(t.Power)
	w.Pd = wireEstimateOf(t.Pd, t.PdInterval)
	w.DPrime = wireEstimateOf(t.DPrime, t.DPrimeInterval)
	return w
}

func wireEstimateOf(x float64, i stats.Interval) *wireEstimate {
	return &wireEstimate{finite(x), finite(i.Lower), finite(i.Upper), i.Confidence}
}

// finite is nil for a number that JSON can't hold.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func wireTrayOf(a session.SeatAnswer) wireTray {
	w := wireTray{
		Seat: a.Seat, Set: a.Set, Take: a.Take, Test: a.Test + 1, Codes: a.Codes, Order: a.Order,
		Counted: a.Counted, Counts: a.Answer != nil && a.Void == nil,
	}
	if a.Answer != nil {
		w.Answer = &wireAnswer{a.Answer.Pick, a.Correct, a.Answer.Guess, stampOf(a.Answer.At)}
	}
	if a.Void != nil {
		w.Void = &wireVoid{stampOf(a.Void.At), a.Void.Reason.Words}
	}
	return w
}

func (c *Console) resultCSV(w http.ResponseWriter, r *http.Request) error {
	return c.file(w, r, "csv", "text/csv; charset=utf-8; header=present", ResultCSV)
}

func (c *Console) resultJSON(w http.ResponseWriter, r *http.Request) error {
	return c.file(w, r, "json", "application/json", ResultJSON)
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
