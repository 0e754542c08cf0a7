package console

import (
	"encoding/json"
	"fmt"
	"math"

	"oddcup/session"
	"oddcup/stats"
)

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
