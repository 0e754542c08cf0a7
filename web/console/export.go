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

	SealedAt   string     `json:"sealed_at"`
	OpenedAt   string     `json:"opened_at"`
	ClosedAt   string     `json:"closed_at"`
	RevealedAt string     `json:"revealed_at"`
	Seal       wireSeal   `json:"seal"`
	Tests      []wireTest `json:"tests"`

	// Amended are the tests without the sets taken out after the close, in the
	// order of tests, which are the registered result and stand; null where none
	// was taken out.
	Amended []wireTest `json:"amended_tests"`

	// Broken is when and why the seal was broken before the reveal; null if it
	// was not.
	Broken *wireVoid `json:"seal_broken"`

	// SingleBlind says in a sentence how who knows the cups was also with the
	// tasters; null where the names of roles show no sign of it, or where host and
	// pourer were not named.
	SingleBlind *string `json:"single_blind"`

	Conditions wireConditions  `json:"conditions"` // as planned
	Confirmed  []wireConfirmed `json:"confirmed"`  // flight by flight, as the tasting began
	Deviations []wireVoid      `json:"deviations"` // oldest first; reason is what was noted

	Trays    []wireTray   `json:"trays"`
	Cautions []string     `json:"cautions"`
	Releases []wireRelied `json:"releases"`
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

// wireConditions are the conditions as planned; empty, 0 or false where the plan
// says nothing.
type wireConditions struct {
	Place      string  `json:"place"`
	Storage    string  `json:"storage"` // of the lots and of the roasted coffee
	Light      string  `json:"light"`
	Partitions string  `json:"partitions"`
	Masking    string  `json:"masking"`
	Cups       string  `json:"cups"` // what they are
	Lids       bool    `json:"lids"`
	DiscardMin int     `json:"discard_after_min"` // a poured cup
	Roast      string  `json:"roast"`
	Water      string  `json:"water"`
	HoldMin    int     `json:"hold_at_most_min"` // a brew
	HoldLowC   float64 `json:"hold_from_celsius"`
	HoldHighC  float64 `json:"hold_up_to_celsius"`
	WarmUp     string  `json:"warm_up"`
	Cleanser   string  `json:"cleanser"`
	Retaste    string  `json:"retaste"` // allowed, not allowed, or empty

	// Gate is true where serving waited for a cup's measured temperature.
	Gate bool `json:"temperature_gate"`
}

// wireConfirmed is one check of the plan before a flight's tasting began.
type wireConfirmed struct {
	Flight int    `json:"flight"`
	Check  string `json:"check"` // its key
	Words  string `json:"words"` // how it should be
	State  string `json:"state"` // held, not held, or not confirmed
	At     string `json:"at"`    // empty where it was not confirmed
	Note   string `json:"note"`
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

// wireEstimate is an estimate with its interval. Value of pd is raw: below 0 where
// fewer were right than guessing gives, which pages and sheets show as 0; in a
// one-sided test its limits are cut at 0.
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
	Counts  bool           `json:"counts"` // in the registered result

	// Amended is when and why the tray was taken out after the close; it then
	// counts in tests, and not in amended_tests.
	Amended *wireVoid `json:"amended"`
}

type wireAnswer struct {
	Picked   []session.Code `json:"picked_codes"`
	Correct  bool           `json:"correct"`
	Guess    bool           `json:"guess"`
	LockedAt string         `json:"locked_at"`
	Paper    bool           `json:"paper"` // the host typed it in from a ballot
}

// wireVoid is when something was taken out or noted, and the words that were
// typed; empty where they were erased.
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
	for i, t := range res.Amended {
		w.Amended = append(w.Amended, wireTestOf(t, res.AmendedPositions(i)))
	}
	if s.Broken != nil {
		w.Broken = &wireVoid{stampOf(s.Broken.At), s.Broken.Words.Words}
	}
	if reason, yes := s.SingleBlind(); yes {
		w.SingleBlind = &reason
	}
	w.Conditions, w.Confirmed, w.Deviations = wireConditionsOf(s.Plan), wireConfirmedOf(s), []wireVoid{}
	for _, d := range s.Deviations {
		w.Deviations = append(w.Deviations, wireVoid{stampOf(d.At), d.Say()})
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

func wireConditionsOf(p session.Plan) wireConditions {
	c := p.Conditions
	return wireConditions{
		c.Place, c.Storage, c.Light, c.Partitions, c.Masking, c.Vessels, c.Lids, c.DiscardMin, c.Roast, c.Water,
		c.HoldMin, c.HoldLowC, c.HoldHighC, c.WarmUp, c.Cleanser, c.Retaste, p.Serving.Gate,
	}
}

func wireConfirmedOf(s *session.State) []wireConfirmed {
	all := []wireConfirmed{}
	for _, o := range s.Openings {
		for _, check := range session.Checks(s.Plan) {
			w := wireConfirmed{Flight: o.Flight, Check: check.Key, Words: check.Words, State: "not confirmed"}
			if c, ok := o.Confirmed[check.Key]; ok {
				w.State, w.At, w.Note = "held", stampOf(c.At), c.Note.Words
				if !c.Held {
					w.State = "not held"
				}
			}
			all = append(all, w)
		}
	}
	return all
}

func wireLotOf(l session.Lot) wireLot { return wireLot{l.ID, l.Number, l.Treatment} }

func wireTestOf(t session.TestResult, places []int) wireTest {
	w := wireTest{
		Number: t.Number, Method: t.Method.Key, Attribute: t.Plan.Attribute, Definition: t.Plan.Definition,
		Goal: t.Plan.Goal, TwoSided: t.Plan.TwoSided, More: t.Plan.More, Blank: t.Plan.Blank,
		Sequential: t.Plan.Sequential, SetsSeat: t.Plan.Sets, Wanted: t.Plan.Power, Chance: t.Method.Chance(),
		N: t.N, Correct: t.Correct, Answers: t.Sets, EvenSplits: t.Even, Voided: t.Voided, Missing: t.Missing,
		Looks: []wireLook{}, Checks: wireChecks{Positions: append([]int{}, places...), Estimates: t.Exploratory()},
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
		w.Answer = &wireAnswer{a.Answer.Codes(), a.Correct, a.Answer.Guess, stampOf(a.Answer.At), a.Answer.Paper}
	}
	if a.Void != nil {
		w.Void = &wireVoid{stampOf(a.Void.At), a.Void.Reason.Words}
	}
	if a.Amend != nil {
		w.Amended = &wireVoid{stampOf(a.Amend.At), a.Amend.Reason.Words}
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
