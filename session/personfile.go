package session

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// PersonFile is everything that is kept about a person, for that person. As JSON
// it is named by its fields.
type PersonFile struct {
	Oddcup     string    `json:"oddcup"` // "person"
	V          int       `json:"v"`
	Laboratory string    `json:"laboratory"`
	At         time.Time `json:"at"` // when it was written

	Person         PersonID        `json:"person"`
	Pseudonym      string          `json:"pseudonym"`
	Name           string          `json:"name"` // "" where it was erased
	Erased         bool            `json:"erased,omitempty"`
	Languages      []string        `json:"languages"`
	Status         Status          `json:"status"`
	Told           time.Time       `json:"told,omitzero"`
	Ground         string          `json:"ground,omitempty"`
	Since          time.Time       `json:"since,omitzero"`
	MergedFrom     []string        `json:"mergedFrom,omitempty"` // pseudonyms of other entries
	Typed          []TypedWords    `json:"typed"`                // names and reasons, as typed
	Mentions       []TypedWords    `json:"mentions"`             // where else such a name is typed, perhaps of a namesake
	InClear        []TypedWords    `json:"inClear"`              // words in entries that hold a part of such a name, perhaps by chance; they can't be erased
	Seats          []SeatRef       `json:"seats"`
	Sets           []PersonSet     `json:"sets"`
	PaperRecords   []PaperRecord   `json:"paperRecords"`
	Series         []PersonSeries  `json:"series"`
	Qualifications []Qualification `json:"qualifications"`
	EligibleIn     []ID            `json:"eligibleIn"` // sessions that list the person as holder of their rule
}

// TypedWords are words that somebody typed, and where.
type TypedWords struct {
	Session ID        `json:"session"` // "lab" for the register
	At      time.Time `json:"at"`
	Entry   string    `json:"entry"` // kind of the entry
	Words   string    `json:"words"`
}

// PersonSet is a judged set of the person.
type PersonSet struct {
	Session   ID         `json:"session"`
	Seat      int        `json:"seat"`
	Set       int        `json:"set"`
	Take      int        `json:"take"`
	At        time.Time  `json:"at"`
	Method    string     `json:"method"`
	Kind      JudgedKind `json:"kind"`
	Label     string     `json:"label,omitempty"`
	Right     bool       `json:"right"`
	Guess     bool       `json:"guess"`
	Place     int        `json:"place"`
	AlsoPlace int        `json:"alsoPlace,omitempty"`
	TookS     float64    `json:"tookS,omitempty"` // seconds
	Paper     bool       `json:"paper,omitempty"`
	Demo      bool       `json:"demo,omitempty"` // invented, and never counts
}

// PersonSeries is a series of the person.
type PersonSeries struct {
	ID SeriesID `json:"id"`
	SeriesTerms
	Begun   time.Time     `json:"begun"`
	Ended   time.Time     `json:"ended,omitzero"`
	Outcome SeriesOutcome `json:"outcome,omitempty"`
	Right   int           `json:"right,omitempty"`
	Of      int           `json:"of,omitempty"`
	Reason  string        `json:"reason,omitempty"`
}

// PersonFile collects everything that is kept about a person. Answers of sessions
// that are not revealed yet are not in it, since they would tell of the key. For
// somebody who was merged into another entry the error is [ErrMerged]. A part of another
// person's name in a label, a rule or a basis is left out: "Level of …".
func (r *Rooms) PersonFile(ctx context.Context, id PersonID, now time.Time) ([]byte, error) {
	lab := r.lab.State()
	p, ok := lab.Person(id)
	switch {
	case !ok:
		return nil, fmt.Errorf("person %q: %w", id, ErrNoPerson)
	case p.Into != "":
		return nil, fmt.Errorf("%s: %w", p.Pseudonym, ErrMerged)
	}
	words, err := r.search(ctx, id, scope{elsewhere: true, lists: len(lab.Rules) > 0})
	if err != nil {
		return nil, err
	}
	sessions, err := r.Judged(ctx)
	if err != nil {
		return nil, err
	}
	f := PersonFile{
		Oddcup: "person", V: 1, Laboratory: lab.Name, At: now.UTC(),
		Person: id, Pseudonym: p.Pseudonym, Name: p.Name.Words, Erased: p.Erased, Languages: append([]string{}, p.Languages...),
		Status: p.Status, Told: p.Told, Ground: p.Ground, Since: p.Since,
		Typed: []TypedWords{}, Mentions: []TypedWords{}, InClear: []TypedWords{}, Seats: append([]SeatRef{}, lab.SeatsOf(id)...), Sets: []PersonSet{},
		PaperRecords: append([]PaperRecord{}, lab.PapersOf(id)...), Series: []PersonSeries{}, Qualifications: []Qualification{}, EligibleIn: []ID{},
	}
	ids := map[PersonID]bool{}
	for _, other := range lab.entriesFor(id) {
		ids[other] = true
		if other != id {
			entry, _ := lab.Person(other)
			f.MergedFrom = append(f.MergedFrom, entry.Pseudonym)
		}
	}
	for _, t := range words.texts {
		if t.text.Words != "" {
			f.Typed = append(f.Typed, TypedWords{t.in, t.At, t.Event.Kind(), t.text.Words})
		}
	}
	for _, m := range words.mentions {
		f.Mentions = append(f.Mentions, TypedWords{m.Session, m.At, m.Kind, m.Words})
	}
	clear, err := r.inClear(ctx, words)
	if err != nil {
		return nil, err
	}
	without := lab.withoutOthers(id)
	for _, m := range clear {
		f.InClear = append(f.InClear, TypedWords{m.Session, m.At, m.Kind, without(m.Words)})
	}
	for _, j := range sessions {
		for _, s := range j.Sets {
			if who, ok := lab.PersonOf(j.Session, s.Seat); ok && who.ID == id {
				f.Sets = append(f.Sets, PersonSet{
					j.Session, s.Seat, s.Set, s.Take, s.At, s.Method, s.Kind, without(j.Label(s.Test)), s.Right, s.Guess, s.Place, s.AlsoPlace,
					s.Took.Seconds(), s.Paper, j.Demo,
				})
			}
		}
	}
	for i, p := range f.PaperRecords {
		f.PaperRecords[i].Control, f.PaperRecords[i].Source = without(p.Control), without(p.Source)
	}
	for _, s := range lab.SeriesOf(id) {
		s.Label = without(s.Label)
		f.Series = append(f.Series, PersonSeries{s.ID, s.SeriesTerms, s.Begun, s.Ended, s.Outcome, s.Right, s.Of, s.Reason.Words})
	}
	for _, q := range lab.Qualifications {
		if ids[q.Person] {
			q.Rule, q.Basis = without(q.Rule), without(q.Basis)
			f.Qualifications = append(f.Qualifications, q)
		}
	}
	for _, j := range words.eligible {
		for _, e := range j.people {
			if ids[e.Person] {
				f.EligibleIn = append(f.EligibleIn, j.in)
				break
			}
		}
	}
	b, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("person %s: %w", id, err)
	}
	return append(b, '\n'), nil
}
