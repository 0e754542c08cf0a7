package session

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Lab is the laboratory's register as its own journal tells it: its name, its
// lots and which of them are released for tasting, its people and their records.
type Lab struct {
	Seq      uint64
	Head     Hash
	Name     string
	Lots     []Lot // in the order entered
	Releases map[LotID]Release

	People         []Person // in the order entered
	Series         []Series // in the order begun
	Rules          []Rule
	Qualifications []Qualification // in the order decided
	Papers         []PaperRecord
	Erasures       []Erasure // in the order wished
	Backups        []Backup  // in the order made

	ties     map[SeatRef]PersonID
	outcomes outcomes
}

// longestLab bounds the characters of a laboratory's name.
const longestLab = 60

// NewLab is a register with no entry.
func NewLab() *Lab {
	return &Lab{Releases: map[LotID]Release{}, ties: map[SeatRef]PersonID{}, outcomes: outcomes{}}
}

// OpenLab replays the laboratory's journal and serves it until Close.
func OpenLab(ctx context.Context, journal Journal) (*Room[*Lab], error) {
	return newRoom(ctx, journal, LabID, NewLab)
}

// LoadLab reads the laboratory's register as it stands in a journal.
func LoadLab(ctx context.Context, journal Journal) (*Lab, error) {
	room, err := OpenLab(ctx, journal)
	if err != nil {
		return nil, err
	}
	defer room.Close()
	return room.State(), nil
}

// Clone copies all that Apply can change.
func (l *Lab) Clone() *Lab {
	c := *l
	c.Lots = slices.Clone(l.Lots)
	c.Releases = maps.Clone(l.Releases)
	c.People, c.Series, c.Rules = slices.Clone(l.People), slices.Clone(l.Series), slices.Clone(l.Rules)
	c.Qualifications, c.Papers = slices.Clone(l.Qualifications), slices.Clone(l.Papers)
	c.Erasures, c.Backups = slices.Clone(l.Erasures), slices.Clone(l.Backups)
	c.ties = maps.Clone(l.ties)
	c.outcomes = maps.Clone(l.outcomes)
	return &c
}

// Position gives the last entry's number and hash.
func (l *Lab) Position() (uint64, Hash) { return l.Seq, l.Head }

// Outcome gives what the same command has caused before, nil if nothing.
func (l *Lab) Outcome(c Command) []Recorded { return l.outcomes.of(c) }

// Lot finds a lot.
func (l *Lab) Lot(id LotID) (Lot, bool) {
	for _, lot := range l.Lots {
		if lot.ID == id {
			return lot, true
		}
	}
	return Lot{}, false
}

// ReleasesOf gives the releases of the lots among ids that have one.
func (l *Lab) ReleasesOf(ids ...LotID) []Release {
	var found []Release
	for _, id := range ids {
		if r, ok := l.Releases[id]; ok {
			found = append(found, r)
		}
	}
	return found
}

// Decide says which events a command causes, or why it is refused.
func (l *Lab) Decide(c Command) ([]Event, error) {
	switch a := c.Act.(type) {
	case NameLab:
		name := strings.TrimSpace(a.Name)
		if n := utf8.RuneCountInString(name); n < 1 || n > longestLab {
			return nil, fmt.Errorf("the laboratory's name has 1 to %d characters: %w", longestLab, ErrWords)
		}
		if name == l.Name {
			return nil, nil
		}
		return one(&LabNamed{name})
	case EnterLot:
		lot := a.Lot
		lot.Number, lot.Note = strings.TrimSpace(lot.Number), strings.TrimSpace(lot.Note)
		if n := utf8.RuneCountInString(lot.Number); n < 1 || n > 30 {
			return nil, fmt.Errorf("a lot's number has 1 to 30 characters: %w", ErrWords)
		}
		if utf8.RuneCountInString(lot.Note) > 200 {
			return nil, fmt.Errorf("a lot's note has up to 200 characters: %w", ErrWords)
		}
		if !slices.Contains(Treatments, lot.Treatment) {
			return nil, fmt.Errorf("lot %s: choose what was done to it: %w", lot.Number, ErrWords)
		}
		for _, have := range l.Lots {
			if sameNumber(have.Number, lot.Number) && have.Treatment == lot.Treatment {
				return nil, fmt.Errorf("lot %s: it is in the register already, as %s: %w", lot.Words(), have.Words(), ErrTaken)
			}
		}
		lot.ID = LotID(fmt.Sprintf("lot-%d", len(l.Lots)+1))
		return one(&LotEntered{lot})
	case ReleaseLot:
		lot, ok := l.Lot(a.Lot)
		if !ok {
			return nil, fmt.Errorf("lot %q: %w", a.Lot, ErrNoLot)
		}
		if err := checkName(a.By); err != nil {
			return nil, fmt.Errorf("lot %s, released by: %w", lot.Words(), err)
		}
		report := strings.TrimSpace(a.Report)
		if n := utf8.RuneCountInString(report); n < 1 || n > 80 {
			return nil, fmt.Errorf("lot %s: name the laboratory report, 1 to 80 characters: %w", lot.Words(), ErrWords)
		}
		return one(&LotReleased{Release{Lot: a.Lot, By: a.By, Report: report, At: c.At.UTC()}})
	case EnterPerson:
		return l.decideEnterPerson(a, c.At)
	case ChangePerson:
		return l.decideChangePerson(a, c.At)
	case MergePeople:
		return l.decideMerge(a)
	case ErasePerson:
		return l.decideErase(a)
	case FinishErasure:
		return l.decideFinish(a)
	case TieSeats:
		return l.decideTie(a)
	case UntieSeat:
		return l.decideUntie(a)
	case BeginSeries:
		return l.decideBeginSeries(a)
	case EndSeries:
		return l.decideEndSeries(a)
	case SetRule:
		return l.decideRule(a)
	case Qualify:
		return l.decideQualify(a, c.At)
	case ImportRecords:
		return l.decideImport(a, c.At)
	case NoteBackup:
		return l.decideBackup(a)
	}
	return nil, fmt.Errorf("the register can't do %T: %w", c.Act, ErrPhase)
}

// sameNumber reports whether two lot numbers read as one, whatever dashes, spaces,
// marks or widths they are typed with, or without, between letters and digits:
// under a number that only looks new, a session would be missing from the list of
// all on the same pair of lots.
func sameNumber(a, b string) bool {
	plain := func(n string) string {
		parts := strings.FieldsFunc(cases.Fold().String(norm.NFKC.String(n)), func(r rune) bool {
			return unicode.IsSpace(r) || unicode.Is(unicode.Pd, r) || r == '_' || r == '\u2212'
		})
		return strings.Map(func(r rune) rune {
			if unicode.Is(unicode.Cf, r) {
				return -1
			}
			return r
		}, strings.Join(parts, "-"))
	}
	x, y := titleWords(a), titleWords(b)
	return plain(a) == plain(b) || len(x) > 0 && slices.Equal(x, y)
}

// Apply takes an event into the register. It has no rule and no error.
func (l *Lab) Apply(rec Recorded) {
	l.Seq, l.Head = rec.Seq, rec.Hash
	l.outcomes.add(rec)
	switch e := rec.Event.(type) {
	case *LabNamed:
		l.Name = e.Name
	case *LotEntered:
		l.Lots = append(l.Lots, e.Lot)
	case *LotReleased:
		l.Releases[e.Release.Lot] = e.Release
	case *PersonEntered:
		l.People = append(l.People, Person{ID: e.Person, PersonFacts: e.Facts})
	case *PersonChanged:
		l.People[l.personAt(e.Person)].PersonFacts = e.Facts
	case *PeopleMerged:
		l.People[l.personAt(e.From)].Into = e.Into
	case *PersonErased:
		l.applyErased(e, rec)
	case *ErasureFinished:
		for i := range l.Erasures {
			if l.Erasures[i].Person == e.Person {
				l.Erasures[i].Done, l.Erasures[i].doneSeq = rec.At, rec.Seq
			}
		}
	case *SeatsTied:
		for _, ref := range e.Seats {
			l.ties[ref] = e.Person
		}
	case *SeatUntied:
		delete(l.ties, e.Seat)
	case *SeriesBegun:
		l.Series = append(l.Series, Series{ID: e.Series, Person: e.Person, SeriesTerms: e.Terms, Begun: rec.At})
	case *SeriesEnded:
		s := &l.Series[l.seriesAt(e.Series)]
		s.Outcome, s.Ended, s.Right, s.Of = e.Outcome, rec.At, e.Right, e.Of
		if e.Reason != nil {
			s.Reason = *e.Reason
		}
	case *RuleSet:
		if i := l.ruleAt(e.Rule.Name); i >= 0 {
			l.Rules[i] = e.Rule
		} else {
			l.Rules = append(l.Rules, e.Rule)
		}
	case *Qualified:
		l.Qualifications = append(l.Qualifications, e.Qualification)
	case *RecordsImported:
		l.Papers = append(l.Papers, e.Records...)
	case *BackedUp:
		l.Backups = append(l.Backups, Backup{At: rec.At, File: e.File, seq: rec.Seq})
	default:
		panic("session: event of kind " + rec.Event.Kind() + " in the laboratory's journal")
	}
}
