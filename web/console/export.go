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

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/stats"
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
var csvColumns = []string{
	"session", "demonstration", "practice", "flight", "seat", "set", "take", "test", "method", "attribute", "codes", "order",
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
		picked, correct, guess, locked = codesText(a.Answer.Codes()), flag(a.Correct), flag(a.Answer.Guess), stampOf(a.Answer.At)
	}
	voidAt, reason := "", ""
	if a.Void != nil {
		voidAt, reason = stampOf(a.Void.At), a.Void.Reason.Words
	}
	return []string{
		string(s.ID), flag(s.Demo), flag(s.Plan.Practice), strconv.Itoa(flightOf(s.Plan, a.Seat)), strconv.Itoa(a.Seat), strconv.Itoa(a.Set), strconv.Itoa(a.Take),
		strconv.Itoa(a.Test + 1), t.Method, noFormula(t.Attribute), codesText(a.Codes), a.Order,
		codesText(a.Counted), picked, correct, guess, locked, flag(a.Answer != nil && a.Void == nil), voidAt, noFormula(reason),
	}
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

// wireResult is result.json. Fields are only ever added; a change of meaning
// gets the next number in v. Proportions, risks and probabilities are numbers
// between 0 and 1; null stands for a number that is unbounded, unknown, or no
// part of what was registered.
//
// In v 2, against v 1, counted_codes and picked_codes are lists; alpha,
// planned_pd, p, min_correct, actual_alpha and power are null where the goal has
// no difference, and p, min_correct, actual_alpha and power also in a sequential
// test.
type wireResult struct {
	V             int        `json:"v"`
	Session       session.ID `json:"session"`
	Title         string     `json:"title"`
	Demonstration bool       `json:"demonstration"`

	// Practice sessions tell each taster at once, and never count.
	Practice bool `json:"practice"`

	Answer       string      `json:"answer"`
	Untreated    wireLot     `json:"untreated_lot"`
	Processed    wireLot     `json:"processed_lot"`
	Serving      wireServing `json:"serving"`
	PlannedSeats int         `json:"planned_seats"`
	ListedSeats  int         `json:"listed_seats"`

	// Flights are the planned numbers of seats served together; seats are
	// numbered through.
	Flights []int `json:"flights"`

	SealedAt   string       `json:"sealed_at"`
	OpenedAt   string       `json:"opened_at"`
	ClosedAt   string       `json:"closed_at"`
	RevealedAt string       `json:"revealed_at"`
	Seal       wireSeal     `json:"seal"`
	Tests      []wireTest   `json:"tests"`
	Trays      []wireTray   `json:"trays"`
	Cautions   []string     `json:"cautions"`
	Releases   []wireRelied `json:"releases"`
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
// digest and the seed gives the layout; HeadAtClose is the hash of the last entry before the close.
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
	Number     int    `json:"number"`
	Method     string `json:"method"`
	Attribute  string `json:"attribute,omitempty"`
	Definition string `json:"definition,omitempty"`
	Goal       string `json:"goal"` // difference, similarity or both
	TwoSided   bool   `json:"two_sided"`

	// More is true where the question asked for more of the attribute.
	More bool `json:"more"`

	// Reference is of a duo-trio test: balanced or constant; empty elsewhere.
	Reference string `json:"reference,omitempty"`

	// Blank names the lot of a blank test, of two brews of one lot: untreated or
	// processed; empty elsewhere.
	Blank string `json:"blank,omitempty"`

	Sequential bool     `json:"sequential"`
	SetsSeat   int      `json:"sets_per_seat"`
	Alpha      *float64 `json:"alpha"`
	PlannedPd  *float64 `json:"planned_pd"`
	Wanted     float64  `json:"wanted_power"`

	// Beta and PdLimit are of a test for similarity; a sequential test has a
	// beta for its planned_pd.
	Beta    *float64 `json:"beta"`
	PdLimit *float64 `json:"pd_limit"`

	// N and Correct are what was counted: answers, or tasters with most of their
	// own answers one way. Answers are the answers that count, EvenSplits the
	// tasters left out.
	Chance     float64 `json:"chance"`
	N          int     `json:"n"`
	Correct    int     `json:"correct"`
	Answers    int     `json:"answers"`
	EvenSplits int     `json:"even_splits"`
	Voided     int     `json:"voided_trays"`
	Missing    int     `json:"missing_sets"`

	P          *float64        `json:"p"`
	MinCorrect *int            `json:"min_correct"`
	Actual     *float64        `json:"actual_alpha"`
	Power      *float64        `json:"power"`
	Similarity *wireSimilarity `json:"similarity"` // null where the goal has none, and in a sequential test
	Looks      []wireLook      `json:"looks"`      // of a sequential test
	Pd         *wireEstimate   `json:"pd"`
	DPrime     *wireEstimate   `json:"d_prime"`
	Checks     wireChecks      `json:"exploratory"`

	Decided            bool   `json:"decided"`
	Outcome            string `json:"outcome"` // different, different but small, similar or undecided
	Sentence           string `json:"sentence"`
	PSentence          string `json:"p_sentence"`
	SimilaritySentence string `json:"similarity_sentence"`
	Verdict            string `json:"verdict"`
}

// wireSimilarity is the test of the pd limit. With several sets a seat the count
// decides nothing: min_correct, max_correct, actual_beta and pass_alike are null
// and by is "beta-binomial".
type wireSimilarity struct {
	By         string   `json:"by"` // count or beta-binomial
	P          *float64 `json:"p"`
	MinCorrect *int     `json:"min_correct"` // of a two-sided test
	MaxCorrect *int     `json:"max_correct"` // null: no count allows the conclusion
	ActualBeta *float64 `json:"actual_beta"`

	// PassAlike is the probability that identical lots pass.
	PassAlike *float64 `json:"pass_alike"`

	// PdUpper is the upper limit of pd at the one-sided level 1 - beta.
	PdUpper *float64 `json:"pd_upper"`
}

// wireLook is a look of a sequential test after a whole round.
type wireLook struct {
	Flight   int    `json:"flight"`
	Set      int    `json:"set"`
	N        int    `json:"n"`
	Correct  int    `json:"correct"`
	Decision string `json:"decision"` // continue, different, similar or undecided
}

// wireChecks stand beside what was registered; nothing is decided by them.
type wireChecks struct {
	// Positions are how often a cup at each place was named, left to right; in a
	// tetrad the cup put with the leftmost. PositionsP tests the places that an
	// answer can name against even use.
	Positions  []int    `json:"positions"`
	PositionsP *float64 `json:"positions_p"`

	// Gamma is the overdispersion between tasters with several sets.
	Gamma *float64 `json:"gamma"`

	// Estimates is true where pd and d_prime are exploratory, too.
	Estimates bool `json:"estimates"`
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
	Counted []session.Code `json:"counted_codes"`
	Answer  *wireAnswer    `json:"answer"`
	Void    *wireVoid      `json:"void"`
	Counts  bool           `json:"counts"`
}

type wireAnswer struct {
	Picked   []session.Code `json:"picked_codes"`
	Correct  bool           `json:"correct"`
	Guess    bool           `json:"guess"`
	LockedAt string         `json:"locked_at"`
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
		V: 2, Session: s.ID, Title: s.Plan.Title, Demonstration: s.Demo, Practice: s.Plan.Practice, Answer: res.Answer(),
		Untreated: wireLotOf(s.Plan.Untreated), Processed: wireLotOf(s.Plan.Processed),
		Serving: wireServing{
			s.Plan.Serving.FillG, s.Plan.Serving.LowC, s.Plan.Serving.HighC,
			s.Plan.Serving.DoseGPerL, s.Plan.Serving.RinseS, s.Plan.Serving.RedLight,
		},
		PlannedSeats: s.Plan.Seats, ListedSeats: len(s.Listed()), Flights: s.Plan.FlightSizes(),
		SealedAt: stampOf(s.Times[session.PhaseSealed]), OpenedAt: stampOf(s.Times[session.PhaseOpen]),
		ClosedAt: stampOf(s.Times[session.PhaseClosed]), RevealedAt: stampOf(s.Times[session.PhaseRevealed]),
		Seal:  wireSeal{s.Digest.String(), res.Seal, s.ClosedAt.String(), s.Seq},
		Tests: []wireTest{}, Trays: []wireTray{}, Cautions: append([]string{}, res.Cautions...), Releases: []wireRelied{},
	}
	for i, t := range res.Tests {
		w.Tests = append(w.Tests, wireTestOf(t, res.Positions(i)))
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

func wireTestOf(t session.TestResult, places []int) wireTest {
	w := wireTest{
		Number: t.Number, Method: t.Method.Key, Attribute: t.Plan.Attribute, Definition: t.Plan.Definition,
		Goal: t.Plan.Goal, TwoSided: t.Plan.TwoSided, More: t.Plan.More, Blank: t.Plan.Blank,
		Sequential: t.Plan.Sequential, SetsSeat: t.Plan.Sets, Wanted: t.Plan.Power, Chance: t.Method.Chance(),
		N: t.N, Correct: t.Correct, Answers: t.Sets, EvenSplits: t.Even, Voided: t.Voided, Missing: t.Missing,
		Looks: []wireLook{}, Checks: wireChecks{Positions: append([]int{}, places...), Estimates: exploratory(t)},
		Decided: t.Decided, Outcome: string(t.Outcome),
		Sentence: t.Sentence(), PSentence: t.PSentence(), SimilaritySentence: t.SimilarSentence(), Verdict: t.Verdict(),
	}
	if t.Method.References() > 0 {
		w.Reference = "balanced"
		if t.Plan.Reference != "" {
			w.Reference = t.Plan.Reference
		}
	}
	if t.Plan.WantsDifference() {
		w.Alpha, w.PlannedPd = finite(t.Plan.Alpha), finite(t.Plan.Pd)
	}
	if t.Plan.WantsSimilarity() {
		w.PdLimit = finite(t.Plan.PdLimit)
	}
	if t.Plan.WantsSimilarity() || t.Plan.Sequential {
		w.Beta = finite(t.Plan.Beta)
	}
	for _, l := range t.Looks {
		w.Looks = append(w.Looks, wireLook{l.Flight, l.Round, l.N, l.Correct, string(l.Decision)})
	}
	if t.N == 0 {
		return w
	}
	if t.Plan.WantsDifference() && !t.Plan.Sequential {
		w.P, w.Power = finite(t.P), finite(t.Power)
		if t.HasMin {
			w.MinCorrect, w.Actual = &t.MinCorrect, finite(t.ActualAlpha)
		}
	}
	if t.Plan.WantsSimilarity() && !t.Plan.Sequential {
		w.Similarity = wireSimilarityOf(t)
	}
	w.Pd = wireEstimateOf(t.Pd, t.PdInterval)
	w.DPrime = wireEstimateOf(t.DPrime, t.DPrimeInterval)
	if c, ok := choiceOf(t, places); ok {
		w.Checks.PositionsP = finite(c.PValue)
	}
	if t.Spread != nil {
		w.Checks.Gamma = finite(t.Spread.Gamma)
	}
	return w
}

func wireSimilarityOf(t session.TestResult) *wireSimilarity {
	w := &wireSimilarity{By: "count", P: finite(t.SimilarP), PdUpper: finite(t.PdUpper)}
	if t.Replicated != nil {
		w.By = "beta-binomial"
		return w
	}
	if t.HasMax {
		w.MaxCorrect, w.ActualBeta, w.PassAlike = &t.MaxCorrect, finite(t.ActualBeta), finite(t.PassAlike)
		if t.Plan.TwoSided {
			w.MinCorrect = &t.MinSimilar
		}
	}
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
		w.Answer = &wireAnswer{a.Answer.Codes(), a.Correct, a.Answer.Guess, stampOf(a.Answer.At)}
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
