package session

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
)

// JudgedKind says what an answer can tell of who gave it.
type JudgedKind string

// The kinds of judged sets.
const (
	KindRoutine JudgedKind = "routine" // two lots: perhaps there was nothing to find
	KindControl JudgedKind = "control" // a difference that was made on purpose
	KindBlank   JudgedKind = "blank"   // two brews of one lot: nothing to find
)

// JudgedKinds are all of them.
var JudgedKinds = []JudgedKind{KindRoutine, KindControl, KindBlank}

// Control makes a session one of control sets: pairs whose difference was made
// on purpose. What the plan calls the processed lot is the treated brew, and it
// may be brewed from the untreated one, which is then named for both.
type Control struct {
	Words string `json:"words"` // what differs, as "brew diluted to 90 %"

	// Percent is how strong the treated brew is, in percent of the other; 0 where
	// the difference is no share, or not known.
	Percent float64 `json:"percent,omitempty"`

	// DPrime is the known size of the difference, d′; 0 where it is not known.
	DPrime float64 `json:"dPrime,omitempty"`
}

// OneLot reports whether both brews are of one lot, which only control sets may be.
func (p Plan) OneLot() bool { return p.Control != nil && p.Untreated.ID == p.Processed.ID }

// OfBrews makes words about the two lots words about the two brews where both are of
// one lot.
func (p Plan) OfBrews(say string) string {
	if !p.OneLot() {
		return say
	}
	return ofBrews.Replace(say)
}

var ofBrews = strings.NewReplacer("two lots", "two brews", "Two lots", "Two brews", "the lots", "the brews", "untreated lot", "untreated brew", "processed lot", "treated brew")

// KindOf is what the sets of a test, by its index from 0, tell of who answered.
func (p Plan) KindOf(test int) JudgedKind {
	switch {
	case p.Tests[test].Blank != "":
		return KindBlank
	case p.Control != nil:
		return KindControl
	}
	return KindRoutine
}

// JudgedSet is one answer with what was right, for the record of who gave it.
type JudgedSet struct {
	Seat   int
	Test   int // index of the test in its session, from 0
	Method string
	Kind   JudgedKind
	Set    int
	Take   int
	At     time.Time // when the answer was kept, by the host laptop's clock

	// Right is true where the answer named the cups that count. In an attribute
	// test that is the processed lot's cup, or the treated brew's, and Processed
	// says it again: where the test was two-sided, or the lots may differ the other
	// way, it is a direction and no merit.
	Right     bool
	Processed bool

	Guess     bool
	Place     int           // of the cup picked, from 1 at the left
	AlsoPlace int           // of the second cup of an answer of two, else 0
	Counted   int           // place of the cup that a right answer names; where it names two, of the second
	Took      time.Duration // from serving to the kept answer; 0 where not known
	Paper     bool          // a ballot that the host typed in; Took is then not known
}

// JudgedTest is a test whose answers are judged.
type JudgedTest struct {
	Method    string     `json:"method"`
	Kind      JudgedKind `json:"kind"`
	Attribute string     `json:"attribute,omitempty"`
	TwoSided  bool       `json:"twoSided,omitempty"`
	Chance    float64    `json:"chance"` // probability of a right answer by guessing
	Seats     int        `json:"seats"`  // with an answer that counts
}

// JudgedSession is what a revealed session tells of those who tasted in it.
type JudgedSession struct {
	Session    ID           `json:"session"`
	Seq        uint64       `json:"seq"`                  // of the journal's last entry then
	Laboratory string       `json:"laboratory,omitempty"` // of a received session
	Received   bool         `json:"received,omitempty"`
	Demo       bool         `json:"demo,omitempty"` // invented, and never counts
	At         time.Time    `json:"at"`             // of the reveal
	Control    *Control     `json:"control,omitempty"`
	Tests      []JudgedTest `json:"tests"`
	Sets       []JudgedSet  `json:"-"` // by seat, set and take
}

// Label names the difference that a test's sets had: the words of a control, or
// "" for lots and blanks.
func (j JudgedSession) Label(test int) string {
	if j.Control != nil && j.Tests[test].Kind == KindControl {
		return j.Control.Words
	}
	return ""
}

// JudgedSets are the answers of a revealed session that count, with what was
// right, by seat, set and take; nil before the reveal and for practice. Trays
// taken out, before the close or after, are left out. Sets of a sequential test
// that were answered after its stop are in it: they were tasted like the others.
func JudgedSets(s *State) []JudgedSet {
	if s.Phase != PhaseRevealed || s.Plan.Practice {
		return nil
	}
	var all []JudgedSet
	for _, a := range s.seatAnswers() {
		if a.Answer == nil || a.Void != nil || a.Amend != nil {
			continue
		}
		t := s.Plan.Tests[a.Test]
		m, _ := MethodByKey(t.Method)
		j := JudgedSet{
			Seat: a.Seat, Test: a.Test, Method: t.Method, Kind: s.Plan.KindOf(a.Test), Set: a.Set, Take: a.Take, At: a.Answer.At.UTC(),
			Right: a.Correct, Processed: a.Correct && !m.Overall, Guess: a.Answer.Guess, Paper: a.Answer.Paper,
			Place: 1 + slices.Index(a.Codes, a.Answer.Pick), Counted: 1 + slices.Index(a.Codes, a.Counted[len(a.Counted)-1]),
		}
		if a.Answer.Also != 0 {
			j.AlsoPlace = 1 + slices.Index(a.Codes, a.Answer.Also)
		}
		if served := s.take(a.Seat, a.Set, a.Take).At; !j.Paper && !served.IsZero() {
			j.Took = max(0, a.Answer.At.Sub(served))
		}
		all = append(all, j)
	}
	return all
}

// Judged is what a session tells of those who tasted; ok is false before the
// reveal and for practice, which tell nothing.
func Judged(s *State) (j JudgedSession, ok bool) {
	if s.Phase != PhaseRevealed || s.Plan.Practice {
		return JudgedSession{Session: s.ID, Seq: s.Seq}, false
	}
	j = JudgedSession{Session: s.ID, Seq: s.Seq, Demo: s.Demo, At: s.Times[PhaseRevealed].UTC(), Control: s.Plan.Control, Sets: JudgedSets(s)}
	for i, t := range s.Plan.Tests {
		m, _ := MethodByKey(t.Method)
		test := JudgedTest{Method: t.Method, Kind: s.Plan.KindOf(i), Attribute: t.Attribute, TwoSided: t.TwoSided, Chance: m.Chance()}
		last := 0
		for _, set := range j.Sets {
			if set.Test == i && set.Seat != last {
				last = set.Seat
				test.Seats++
			}
		}
		j.Tests = append(j.Tests, test)
	}
	return j, true
}

// JudgedKeeper keeps what [Judged] computes. A [Journal] may be one too.
type JudgedKeeper interface {
	// JudgedSessions gives those of all revealed sessions, in no order, as fresh
	// as their journals.
	JudgedSessions(ctx context.Context) ([]JudgedSession, error)
}

// judgedSessions are kept decoded: a journal only grows by a Room.
type judgedSessions struct {
	mu       sync.Mutex // guards the following fields
	read     bool
	sessions map[ID]JudgedSession
	sorted   []JudgedSession
}

// Judged gives what all revealed sessions tell of those who tasted, those of
// other laboratories among them, the newest id first. The slices are shared:
// read them only.
func (r *Rooms) Judged(ctx context.Context) ([]JudgedSession, error) {
	r.judged.mu.Lock()
	defer r.judged.mu.Unlock()
	if !r.judged.read {
		if err := r.readJudged(ctx); err != nil {
			return nil, err
		}
	}
	for _, room := range r.Live() {
		s := room.State()
		if s.Phase != PhaseRevealed || s.Plan.Practice || r.judged.sessions[s.ID].Seq == s.Seq {
			continue
		}
		j, _ := Judged(s)
		r.judged.sessions[s.ID], r.judged.sorted = j, nil
	}
	if r.judged.sorted == nil {
		r.judged.sorted = make([]JudgedSession, 0, len(r.judged.sessions))
		for _, j := range r.judged.sessions {
			r.judged.sorted = append(r.judged.sorted, j)
		}
		slices.SortFunc(r.judged.sorted, func(a, b JudgedSession) int { return cmp.Compare(b.Session, a.Session) })
	}
	return r.judged.sorted, nil
}

func (r *Rooms) readJudged(ctx context.Context) error {
	own, err := r.ownJudged(ctx)
	if err != nil {
		return err
	}
	all := make(map[ID]JudgedSession, len(own))
	for _, j := range own {
		all[j.Session] = j
	}
	rows, err := r.Received(ctx)
	if err != nil {
		return err
	}
	for _, row := range rows {
		s, err := r.receivedState(row.ID)
		if err != nil {
			return err
		}
		if j, ok := Judged(s); ok {
			j.Received, j.Laboratory = true, row.Laboratory
			all[j.Session] = j
		}
	}
	r.judged.sessions, r.judged.sorted, r.judged.read = all, nil, true
	return nil
}

func (r *Rooms) ownJudged(ctx context.Context) ([]JudgedSession, error) {
	if keeper, ok := r.journal.(JudgedKeeper); ok {
		all, err := keeper.JudgedSessions(ctx)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrJournal, err)
		}
		return all, nil
	}
	rows, err := r.Rows(ctx)
	if err != nil {
		return nil, err
	}
	var all []JudgedSession
	for _, row := range rows {
		if row.Phase != PhaseRevealed {
			continue
		}
		entries, _, err := r.journal.Load(ctx, row.ID)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrJournal, err)
		}
		j, ok, err := FoldJudged(row.ID, entries)
		if err != nil {
			return nil, err
		}
		if ok {
			all = append(all, j)
		}
	}
	return all, nil
}

// FoldJudged is [Judged] of a journal's entries.
func FoldJudged(id ID, entries []Entry) (j JudgedSession, ok bool, err error) {
	s, err := foldState(id, entries, nil)
	if err != nil {
		return JudgedSession{}, false, fmt.Errorf("journal %s: %w", id, err)
	}
	defer func() {
		if p := recover(); p != nil { // as in applySafely
			j, ok, err = JudgedSession{}, false, fmt.Errorf("journal %s: %w (%v)", id, ErrSenseless, p)
		}
	}()
	j, ok = Judged(s)
	return j, ok, nil
}

// foldState folds a session's entries.
func foldState(id ID, entries []Entry, texts map[Hash]Text) (*State, error) {
	return Dossier{Session: id, Entries: entries, Texts: texts}.State()
}
