// Package record computes the record of each judge from what revealed sessions,
// and earlier records on paper, tell of those who tasted.
//
// A set tells of a judge only where there was something to find. A control of known
// size always counts. Any other test counts as far as the others who sat in it found
// something, the judge left out, by one shrunken model over all tests
// ([stats.FitPanel]). Seats that are tied to nobody have no record, but what was
// answered there tells how hard a test was, each seat as a taster of its own: tie
// the seats of who sat twice in a session. What does not count is listed with the
// reason. Methods of unlike chance are never averaged: they meet on the d′ scale.
//
// All of it is a function of the register, the judged sessions and a time: the
// package has no clock, disk or chance. People are named by pseudonym alone; no
// type here holds a name.
package record

import (
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// Choices that no standard makes for us (own choice, no source).
const (
	Confidence = 0.95 // of all intervals
	Level      = 0.05 // family-wise, of standings and of agreement
	Alpha      = 0.05 // of the tests whose power is told
	Enough     = 8    // counted sets from which a record is read, in two tests or more

	// DriftAbility is the ability that a chart of drift looks for: half of a typical
	// panellist's.
	DriftAbility = 0.5
	// DriftRun is about the mean number of tests between two false signals of a chart
	// of drift; each chart states its own.
	DriftRun = 500
	// DriftRecent is the number of a judge's newest counted sets whose signals stand on
	// the page of the panel. A typical judge has a signal in some 1 of 13 such stretches
	// of one set a test, [DriftRun] being what it is; one at [DriftAbility] who stays there
	// is listed about as often as not. With all signals ever given, or more sets, the list
	// would be luck's.
	DriftRecent = 40

	// RunsOutWithin is how long before its end a qualification is called running
	// out.
	RunsOutWithin = 60 * 24 * time.Hour
	// RanOutWithin is how long after its end the page of the panel names a qualification
	// that ran out: for as long as one usually lasts.
	RanOutWithin = 365 * 24 * time.Hour
)

// Stamp tells one state of register and sessions from another: two books with
// equal stamps hold the same but for the time.
type Stamp struct{ Lab, Sessions uint64 }

// Count is how many sets were right.
type Count struct{ Sets, Right int }

// Share is Right/Sets, NaN without a set.
func (c Count) Share() float64 { return float64(c.Right) / float64(c.Sets) }

// Why says why sets do not count in a record.
type Why string

// The reasons. Demonstrations, untied seats of other laboratories, blanks and
// two-sided pairs never count; the others depend on what is known of a test's size.
const (
	WhyDemo       Why = "demo"
	WhyReceived   Why = "received"    // another laboratory's seat, tied to nobody
	WhyUntied     Why = "untied"      // own seat, tied to nobody
	WhyBlank      Why = "blank"       // two brews of one lot
	WhyTwoSided   Why = "two-sided"   // a direction, no merit
	WhyPaper      Why = "paper"       // on paper, the size of the difference not known
	WhyTooHard    Why = "too-hard"    // as [stats.TestTooHard]
	WhyTooEasy    Why = "too-easy"    // as [stats.TestTooEasy]
	WhyNobodyElse Why = "nobody-else" // as [stats.TestNobodyElse]
)

// LeftOut counts sets that do not count, by reason. Say is a sentence: "Not
// counted: 24 sets, two brews of one lot."
type LeftOut struct {
	Why  Why
	Sets int
	Say  string
}

// Row is one judge of the panel.
//
// Control and Routine count what counts; NotCounted is the number of all other sets
// that were answered, blanks and two-sided pairs among them, demonstrations not.
// Blank is a part of NotCounted. Paper is the part of Control that is from paper
// records.
//
// Ability is as in [stats.JudgeAbility], 1 for the median of the panel; DPrime is
// what the judge perceives of a difference that is [Panel.Size] for the median
// panellist, and Right the share of triangles right at that size. All three are
// shrunken, each with its interval of [Confidence]. A judge of whom nothing counts
// has the panel's own.
//
// Expected and SD belong to a typical panellist in the same sets; ByGuessing is the
// number right that guessing alone expects there. Standing is held
// to Adjusted, the smaller of the judge's two p-values after Holm's adjustment over
// both ends of all judges compared. Say is the standing in words.
type Row struct {
	Person    session.PersonID
	Pseudonym string
	Status    session.Status
	Erased    bool // the name is gone; counts stay

	Control, Routine Count
	Blank, Paper     Count
	NotCounted       int
	Tests            int // that count

	Ability         float64
	AbilityInterval stats.Interval
	DPrime          float64
	DPrimeInterval  stats.Interval
	Right           float64
	RightInterval   stats.Interval

	Expected, SD float64
	ByGuessing   float64
	Standing     stats.Standing
	Adjusted     float64
	OneTest      bool
	Enough       bool // [Enough] sets count, in two tests or more
	Say          string
}

// Counted is what counts in the record, both kinds together.
func (r Row) Counted() Count {
	return Count{r.Control.Sets + r.Routine.Sets, r.Control.Right + r.Routine.Right}
}

// Panel is the record of all judges. Judges are in the order of the register;
// [Panel.ByEstimate] orders them by what is known of them.
type Panel struct {
	Headline   string // "Ten have enough sets to read. J 09 and J 21 do not yet."
	Adjustment string // how the standings are adjusted, in a sentence
	Judges     []Row

	// Size is the d′ at which DPrime and Right of the rows are told: the median size
	// of the tests that count. SizeSay names it in words. Chance and Typical are the
	// lines of an axis of shares: a triangle right by guessing, and by a typical panellist,
	// the mean over the panel, at Size. Spread is the standard deviation of ln ability.
	Size            float64
	SizeSay         string
	Chance, Typical float64
	Spread          float64

	Agreed    []AgreedSize
	Detect    []Detect
	Agreement Agreement

	Tests   []TestRow // newest first, judged by all answers together
	Tally   []Tally   // of Tests: those that count first
	LeftOut []LeftOut
	Untied  []Untied // newest first
	Due     []SeriesDue
}

// Detect is what a test by the present panel could show: everybody on the register
// who is not resting or erased, Sets sets each. MinCorrect is 0 where no count
// reaches α. Power is for a difference of [Panel.Size]; Detectable is the d′, for
// the median panellist, that is found in 80 of 100 tests, 0 where that takes more
// than 6.
type Detect struct {
	Method       string // key
	Judges, Sets int
	Alpha        float64
	MinCorrect   int
	Size         float64
	PC, Power    float64 // at Size
	Detectable   float64
	Say          string
}

// Agreement is how far judges answered alike in sets that both answered. Kappa is
// the median over Pairs with at least [FewestCommon] common sets, NaN without any.
// Beyond are the pairs who agree more than the difficulty of the sets and their own
// ability explain, at [Level] by Holm over all pairs.
type Agreement struct {
	Pairs  int
	Kappa  float64
	Alike  float64 // median share of common sets answered alike
	Beyond []PairBeyond
	Say    string
}

// FewestCommon is the number of common sets from which a pair is compared.
const FewestCommon = 30

// PairBeyond are two judges who agree more than difficulty explains.
type PairBeyond struct {
	First, Second     session.PersonID
	FirstAs, SecondAs string // pseudonyms
	Agreed, Sets      int
	Expected          float64
	Adjusted          float64
	Say               string
}

// TestRow is one test with its size by the answers of all.
type TestRow struct {
	Session  session.ID // "" for a paper record
	Test     int        // from 1
	At       time.Time  // of the first answer
	Method   string
	Kind     session.JudgedKind
	Label    string
	Count    Count // of all who are in the model
	Tasters  int
	Size     float64
	Interval stats.Interval // of Size
	PC       float64        // of a panellist
	Counts   bool
	Why      Why    // "" where it counts
	Say      string // why it counts or not
}

// Tally counts tests by what became of them.
type Tally struct {
	Why         Why // "" for those that count
	Tests, Sets int
	Say         string
}

// Untied are seats of one revealed session that were tied to nobody.
type Untied struct {
	Session    session.ID
	At         time.Time
	Received   bool
	Laboratory string // of a received one
	Seats      []int
	Sets       int
}

// SeriesDue is a series that has reached a line, which its journal does not say yet.
type SeriesDue struct {
	Series    session.SeriesID
	Person    session.PersonID
	Pseudonym string
	Outcome   session.SeriesOutcome
	Right, Of int
	Say       string
}

// Act is what journals the end.
func (d SeriesDue) Act() session.EndSeries {
	return session.EndSeries{Series: d.Series, Right: d.Right, Of: d.Of}
}

// Judge is the record of one person.
type Judge struct {
	Row
	Languages   []string
	Since, Told time.Time
	Ground      string
	Merged      []string // pseudonyms of entries that were found to be this person

	Headline string // one sentence: the most that can be said
	Doubt    string // what the agreed size of a control does to the standing; "" mostly
	Groups   []Group
	Scale    Scale
	Controls []ControlSize

	Series      []SeriesChart // oldest first
	SeriesBegun int
	SeriesSay   string // how many were begun, and what that means

	Drift      *Drift // nil with fewer than two counted tests
	Habits     []Habit
	Guesses    Guesses
	Blanks     Blanks
	Directions []Direction
	Time       Times

	Qualifications []Held  // the newest of each rule first
	Shown          []Basis // of the rules that sets were answered for since
	Papers         []session.PaperRecord
	Tests          []JudgeTest // newest first
	LeftOut        []LeftOut   // of this judge
}

// Group are the counted sets of one method and one difficulty. Label is a control's
// words, or the size by the others: "small", "medium", "large". Interval is the exact
// one of the share right. Typical is the expected share of a typical panellist. Drawn
// is, in control sets, the share drawn towards those of the others in the same sets, the
// more the less is known; its N is 0 where too few others had any.
type Group struct {
	Method   string
	Kind     session.JudgedKind
	Label    string
	Size     float64 // mean d′ of the sets by the others, or the known one
	Count    Count
	Interval stats.Interval
	Chance   float64
	Typical  float64
	Drawn    stats.ShrunkenShare
	Say      string
}

// Scale is the judge on the one scale for all methods, at [Panel.Size]: shrunken
// towards the panel, and raw. Raw is the d′ at which a judge of that ability expects
// as many right as there were, 0 for no more than chance, +Inf for more than any;
// NaN where nothing counts.
type Scale struct {
	Size     float64
	DPrime   float64
	Interval stats.Interval
	Raw      float64
	Say      string
}

// ControlSize is one d′ for all the sets of one control, over methods. Known is the
// agreed size, 0 where there is none. PValue is small where the methods do not share
// one d′.
type ControlSize struct {
	Label   string
	Known   float64
	Methods int
	Pooled  stats.PooledDPrime
	Say     string
}

// SeriesChart is one series with its chart. Number counts the judge's series in the
// order begun, from 1. The chart holds the sets up to the end; At are their times.
// Due is set where the line is reached and not journalled. Changed says that the same
// sets now give another count than the journal holds, as after an amendment.
type SeriesChart struct {
	session.Series
	Number  int
	Chart   stats.RecordChart
	At      []time.Time
	Due     *SeriesDue
	Changed bool
	Say     string
}

// Drift is the chart of drift of a judge against a typical panellist in the same
// tests; At and Session are those of the points. Run is the exact mean number of tests
// to a signal, for tests drawn at random from these. Signals are the points with one,
// Recent those of them among the last [DriftRecent] sets. Since is what was answered
// after the first signal, and SinceExpected the number right that a typical panellist
// expects there. FallPValue is small where the judge was right less often in later tests
// than in earlier ones, whatever the level.
type Drift struct {
	Chart         stats.DriftChart
	Run           stats.RunLength
	At            []time.Time
	Session       []session.ID // "" for a paper record
	Signals       []int
	Recent        []int
	Since         Count
	SinceExpected float64
	FallPValue    float64
	Say           string
}

// Habit is the test of a habit of place over methods whose trays have as many
// answers. Place names the favoured one in words. Adjusted is the p-value by Holm over
// the habits of this judge: of judges without any, at most [Level] are told of one.
type Habit struct {
	Methods  []string
	Places   int
	Place    string
	Adjusted float64
	stats.PlaceHabit
	Say string
}

// Found reports whether a habit was found.
func (h Habit) Found() bool { return h.Adjusted <= Level && h.Place != "" }

// Guesses are the answers that the judge declared to be guesses, blanks left out,
// against luck. Of is the number of all answers that could be declared.
type Guesses struct {
	Of   int
	Luck stats.GuessLuck
	Say  string
}

// Blanks are the sets of two brews of one lot, where nobody should do better than
// luck. Declared is how many of them were declared to be guesses.
type Blanks struct {
	Count
	Declared int
	Luck     stats.GuessLuck
	Say      string
}

// Direction is which lot's cup the judge picked in tests on one attribute, and how
// often the others did in the same tests: a direction, no merit.
type Direction struct {
	Attribute       string
	Sets, Processed int
	OthersSets      int
	OthersProcessed int
	Interval        stats.Interval // of the judge's share
	Say             string
}

// Times are the times from serving to the kept answer: median and quartiles of N
// sets. Ballots on paper have none.
type Times struct {
	N                    int
	Median, Lower, Upper time.Duration
	Say                  string
}

// Held is a decision by a rule and where it stands now.
type Held struct {
	session.Qualification
	Holds   bool
	RunsOut bool // within [RunsOutWithin]
	Latest  bool // of its rule
	Say     string
}

// JudgeTest is one test of a judge's list. Size and Interval are what the others
// say; a control of known size has that. Typical is the number right that a typical
// panellist expects, 0 where it does not count.
type JudgeTest struct {
	Session  session.ID // "" for a paper record
	Test     int        // from 1; 0 for a paper record
	Source   string     // of a paper record
	At       time.Time
	Method   string
	Kind     session.JudgedKind
	Label    string
	Count    Count
	Chance   float64
	Size     float64
	Interval stats.Interval
	Typical  float64
	Counts   bool
	Why      Why
	Say      string // counted, or why not
}

// Basis is what a rule finds in a record.
//
// The sets of the rule's method, kind and control are taken in the order answered,
// those after the last set that decisions on this person by this rule rest on. A mark
// cuts them into blocks of its number of trials; no set is in two blocks and none is
// left out. Wald's lines are followed from set to set, anew after each line that was
// reached. Attempts are all whole blocks, or paths to a line. The first of them that
// reached the rule decides, so that what was reached once is not lost however late it
// is looked at, and the newest where none did; Attempt is its number. ByLuck is the
// probability that mere guessing would have reached the rule in at least one of so many.
//
// Denied is how many decisions in a row, up to the newest, said that the rule does
// not hold: ByLuck does not cover the attempts before them.
//
// Whole is false while there is no attempt; then Right of Of is what there is so far.
// Begun is what there is of the next one behind the whole ones.
type Basis struct {
	Person    session.PersonID
	Rule      string
	Reached   bool
	Whole     bool
	Right, Of int
	Attempt   int // from 1, 0 for none
	Attempts  []Attempt
	Begun     Count
	ByLuck    float64
	Denied    int
	From, To  time.Time // of the sets; zero without any
	Say       string
}

// Attempt is a whole block of a mark, or a path to one of Wald's lines. Reached is that
// the mark, or the upper line, was.
type Attempt struct {
	Right, Of int
	From, To  time.Time
	Reached   bool
}

// Counts are those of the basis, to be kept beside a decision.
func (b Basis) Counts() *session.RuleCounts {
	c := &session.RuleCounts{Right: b.Right, Of: b.Of, Whole: b.Whole, Reached: b.Reached, Attempt: b.Attempt, Attempts: len(b.Attempts), Last: b.To}
	if n := len(b.Attempts); n > 0 {
		c.Last = b.Attempts[n-1].To // a decision is one on all of them
	}
	return c
}

// Act is the decision that the basis stands for, to be changed or confirmed by the
// person who decides.
func (b Basis) Act() session.Qualify {
	return session.Qualify{Person: b.Person, Rule: b.Rule, Held: b.Reached, Basis: b.Say, Right: b.Right, Of: b.Of, Record: b.Counts()}
}
