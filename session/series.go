package session

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"oddcup/stats"
)

// SeriesID names a series of a person's sets.
type SeriesID string

// SeriesTerms are what is fixed of a series before its first set: which sets
// count, and Wald's lines. See [stats.Sequential] for P0, P1, Alpha and Beta;
// here Alpha is the risk that who is right in P0 of the sets reaches the upper
// line, Beta that who is right in P1 reaches the lower one.
type SeriesTerms struct {
	Method string     `json:"method"`
	Kind   JudgedKind `json:"kind"`

	// Label names the difference: of control sets the words of the control, and
	// only such sets count; otherwise what is known of their difficulty.
	Label string `json:"label,omitempty"`

	P0    float64 `json:"p0"`
	P1    float64 `json:"p1"`
	Alpha float64 `json:"alpha"`
	Beta  float64 `json:"beta"`
}

// SeriesOutcome is how a series ended.
type SeriesOutcome string

// The ends of a series; "" while it goes on.
const (
	SeriesUpper   SeriesOutcome = "upper line"
	SeriesLower   SeriesOutcome = "lower line"
	SeriesGivenUp SeriesOutcome = "given up"
)

// Series is a sequential test of one person, begun and ended.
type Series struct {
	ID     SeriesID
	Person PersonID
	SeriesTerms
	Begun     time.Time // sets answered after it count
	Ended     time.Time // zero while it goes on
	Outcome   SeriesOutcome
	Right, Of int  // at the line; 0 where it was given up
	Reason    Text // for which it was given up
}

// SeriesOf are all series ever begun for a person, oldest first: who begins
// often enough reaches any line.
func (l *Lab) SeriesOf(id PersonID) []Series {
	var all []Series
	for _, s := range l.Series {
		if same, ok := l.Same(s.Person); ok && same.ID == id {
			all = append(all, s)
		}
	}
	return all
}

func (l *Lab) seriesAt(id SeriesID) int {
	return slices.IndexFunc(l.Series, func(s Series) bool { return s.ID == id })
}

// lines are read after every set.
func (t SeriesTerms) lines() stats.Sequential {
	return stats.Sequential{P0: t.P0, P1: t.P1, Alpha: t.Alpha, Beta: t.Beta, Every: 1}
}

// check says what is wrong with a series' terms.
func (t SeriesTerms) check() error {
	m, ok := MethodByKey(t.Method)
	switch {
	case !ok:
		return fmt.Errorf("no method is called %q: %w", t.Method, ErrTerms)
	case !slices.Contains(JudgedKinds, t.Kind):
		return fmt.Errorf("kind %q: choose routine, control or blank sets: %w", t.Kind, ErrTerms)
	case t.Kind == KindControl && t.Label == "":
		return fmt.Errorf("name the control, in the words of its sessions: %w", ErrTerms)
	}
	if t.Label != "" {
		if err := checkLabel(t.Label, "a label", mostControlWords); err != nil {
			return err
		}
	}
	return checkLines(t.P0, t.P1, t.Alpha, t.Beta, m.Chance())
}

// closestLines is how near P1 may come to P0 (own choice).
const closestLines = 0.02

func checkLines(p0, p1, alpha, beta, chance float64) error {
	guessing := fmt.Sprintf("1/%.0f", 1/chance)
	switch {
	case p0 < chance:
		return fmt.Errorf("P0 %v lies below guessing, which is right in %s of these sets: write %s for guessing alone, or more: %w", p0, guessing, guessing, ErrTerms)
	case !within(p0, chance, 0.999) || !within(p1, chance, 0.999) || p0 >= p1:
		return fmt.Errorf("P0 %v and P1 %v: they rise, from guessing (%s) to 0.999: %w", p0, p1, guessing, ErrTerms)
	case p1-p0 < closestLines:
		return fmt.Errorf("P0 %v and P1 %v: they rise by %v at least; closer lines would take thousands of sets of one person: %w", p0, p1, closestLines, ErrTerms)
	case !within(alpha, 0.0001, 0.4) || !within(beta, 0.0001, 0.4):
		return fmt.Errorf("α %v and β %v: each lies between 0.0001 and 0.4: %w", alpha, beta, ErrTerms)
	}
	return nil
}

// Sets are the sets that count for a series, in the order in which they were
// answered. Demonstrations don't count, nor do two-sided pairs, where neither
// cup is the right one.
func (l *Lab) Sets(s Series, sessions []JudgedSession) []JudgedSet {
	type dated struct {
		JudgedSet
		session ID
	}
	who, _ := l.Same(s.Person)
	var all []dated
	for _, j := range sessions {
		if j.Demo {
			continue
		}
		for _, set := range j.Sets {
			t := j.Tests[set.Test]
			if t.Method != s.Method || t.Kind != s.Kind || t.TwoSided || !set.At.After(s.Begun) {
				continue
			}
			if s.Kind == KindControl && foldName(j.Label(set.Test)) != foldName(s.Label) {
				continue
			}
			if p, ok := l.PersonOf(j.Session, set.Seat); ok && p.ID == who.ID {
				all = append(all, dated{set, j.Session})
			}
		}
	}
	slices.SortFunc(all, func(a, b dated) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.session, b.session), cmp.Compare(a.Seat, b.Seat), cmp.Compare(a.Set, b.Set))
	})
	sets := make([]JudgedSet, len(all))
	for i := range all {
		sets[i] = all[i].JudgedSet
	}
	return sets
}

// Stand is where a series stands after these sets: at the line that ended it, or
// after the last set.
func (t SeriesTerms) Stand(sets []JudgedSet) stats.SequentialState {
	rights := make([]bool, len(sets))
	for i := range sets {
		rights[i] = sets[i].Right
	}
	return t.lines().Follow(rights)
}

func (l *Lab) decideBeginSeries(a BeginSeries) ([]Event, error) {
	p, err := l.present(a.Person)
	if err != nil {
		return nil, err
	}
	terms := a.Terms
	terms.Label = strings.TrimSpace(terms.Label)
	if err := terms.check(); err != nil {
		return nil, fmt.Errorf("a series of %s: %w", p.Pseudonym, err)
	}
	if err := l.checkHoldsNoName(terms.Label, "what differs"); err != nil {
		return nil, err
	}
	for _, s := range l.SeriesOf(p.ID) {
		if s.Outcome == "" && s.Method == terms.Method && s.Kind == terms.Kind && foldName(s.Label) == foldName(terms.Label) {
			return nil, fmt.Errorf("%s has a series of these sets that goes on: %w", p.Pseudonym, ErrTaken)
		}
	}
	return one(&SeriesBegun{SeriesID(fmt.Sprintf("s-%d", len(l.Series)+1)), p.ID, terms})
}

// decideEndSeries ends a series at the line that its counts have reached just
// now, or gives it up for a reason.
func (l *Lab) decideEndSeries(a EndSeries) ([]Event, error) {
	i := l.seriesAt(a.Series)
	if i < 0 {
		return nil, fmt.Errorf("series %q: %w", a.Series, ErrNoSeries)
	}
	s := l.Series[i]
	who, _ := l.Same(s.Person)
	switch {
	case who.Erased:
		return nil, fmt.Errorf("%s: %w", who.Pseudonym, ErrErased)
	case s.Outcome != "":
		return nil, fmt.Errorf("the series of %s has ended (%s): %w", who.Pseudonym, s.Outcome, ErrSeriesEnded)
	case a.Reason.Words != "":
		if err := checkWords(a.Reason); err != nil {
			return nil, err
		}
		reason := a.Reason
		return one(&SeriesEnded{Series: s.ID, Outcome: SeriesGivenUp, Reason: &reason})
	case a.Of < 1 || a.Of > mostSets || a.Right < 0 || a.Right > a.Of:
		return nil, fmt.Errorf("%d right of %d sets: %w", a.Right, a.Of, ErrLines)
	}
	lines := s.lines()
	var outcome SeriesOutcome
	before := a.Right
	switch lines.Look(a.Of, a.Right).Decision {
	case stats.Different:
		outcome, before = SeriesUpper, a.Right-1
	case stats.Similar:
		outcome = SeriesLower
	default:
		return nil, fmt.Errorf("%d right of %d sets lie between the lines: %w", a.Right, a.Of, ErrLines)
	}
	if a.Of > 1 && (before < 0 || before > a.Of-1 || lines.Look(a.Of-1, before).Decision != stats.Continue) {
		return nil, fmt.Errorf("%d right of %d sets lie past the line: the series ended before: %w", a.Right, a.Of, ErrLines)
	}
	return one(&SeriesEnded{Series: s.ID, Outcome: outcome, Right: a.Right, Of: a.Of})
}

// mostSets bounds the sets of a series, a mark or a paper record.
const mostSets = 100_000
