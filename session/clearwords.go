package session

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
)

// InClear lists where words that stand in entries, and so can't be erased, hold a
// part of a name of a person: by the register's names, past ones among them, and
// those at the person's seats. Looked through are all entries of the register, the
// plans of sessions in which the person had a seat, and of all other sessions title,
// lots and, once they are revealed, the control. A word may be there by chance: those
// that stand in fewest places come first.
func (r *Rooms) InClear(ctx context.Context, id PersonID) ([]Mention, error) {
	found, err := r.search(ctx, id, scope{})
	if err != nil {
		return nil, err
	}
	return r.inClear(ctx, found)
}

// BeforeErasing gives [Rooms.Mentions] and [Rooms.InClear] of one reading.
func (r *Rooms) BeforeErasing(ctx context.Context, id PersonID) (mentions, inClear []Mention, err error) {
	found, err := r.search(ctx, id, scope{elsewhere: true})
	if err != nil {
		return nil, nil, err
	}
	inClear, err = r.inClear(ctx, found)
	return found.mentions, inClear, err
}

func (r *Rooms) inClear(ctx context.Context, found ownWords) ([]Mention, error) {
	look := clearLook{words: map[string]bool{}, seen: map[string]bool{}, places: map[string]int{}}
	for _, t := range found.texts {
		if t.name {
			for _, w := range tellingWords(t.text.Words) {
				look.words[w] = true
			}
		}
	}
	if len(look.words) == 0 {
		return nil, nil
	}
	read := map[ID]bool{}
	for _, j := range found.journals {
		read[j.id] = true
		for i, e := range j.entries {
			switch j.records[i].Event.(type) {
			case *Drafted, *Sealed:
			default:
				if j.id != LabID {
					continue
				}
			}
			look.body(Mention{Session: j.id, Seq: e.Seq, At: e.At, Kind: e.Kind}, e.Body)
		}
	}
	rows, err := r.Rows(ctx)
	if err != nil {
		return nil, err
	}
	for _, row := range rows {
		if !read[row.ID] {
			at := Mention{Session: row.ID, At: row.Begun, Kind: (*Drafted)(nil).Kind()}
			look.take(at, row.Title, row.Lots[0].Number, row.Lots[0].Note, row.Lots[1].Number, row.Lots[1].Note)
		}
	}
	judged, err := r.Judged(ctx)
	if err != nil {
		return nil, err
	}
	for _, j := range judged {
		if !read[j.Session] && j.Control != nil {
			look.take(Mention{Session: j.Session, At: j.At, Kind: (*Drafted)(nil).Kind()}, j.Control.Words)
		}
	}
	rarest := func(m Mention) int {
		least := len(look.found)
		for _, w := range nameWords(m.Words) {
			if n := look.places[w]; n > 0 {
				least = min(least, n)
			}
		}
		return least
	}
	slices.SortStableFunc(look.found, func(a, b Mention) int { return cmp.Compare(rarest(a), rarest(b)) })
	return look.found, nil
}

// clearLook finds words of names in what stands in clear.
type clearLook struct {
	words map[string]bool
	seen  map[string]bool // session and words that were found
	found []Mention

	places map[string]int // how many of those found hold a word
}

// notTyped are the fields whose words nobody types.
var notTyped = []string{"person", "into", "from", "series", "session", "method", "kind", "status", "outcome", "id", "treatment", "languages", "digest"}

func (c *clearLook) body(at Mention, body json.RawMessage) {
	in := json.NewDecoder(bytes.NewReader(body))
	in.UseNumber()
	var all any
	if in.Decode(&all) == nil { // an entry that was read before
		c.value(at, all)
	}
}

func (c *clearLook) value(at Mention, v any) {
	switch v := v.(type) {
	case string:
		c.take(at, v)
	case []any:
		for _, x := range v {
			c.value(at, x)
		}
	case map[string]any:
		keys := make([]string, 0, len(v))
		for k := range v {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, k := range keys {
			if !slices.Contains(notTyped, k) {
				c.value(at, v[k])
			}
		}
	}
}

// take looks through words that stand in one place.
func (c *clearLook) take(at Mention, said ...string) {
	for _, words := range said {
		if !slices.ContainsFunc(nameWords(words), func(w string) bool { return c.words[w] }) {
			continue
		}
		key := string(at.Session) + " " + words // a plan stands in each of its drafts
		if at.Session == LabID {
			key = fmt.Sprint(at.Seq, " ", words)
		}
		if !c.seen[key] {
			c.seen[key] = true
			at.Words = words
			c.found = append(c.found, at)
			for _, w := range nameWords(words) {
				if c.words[w] {
					c.places[w]++
				}
			}
		}
	}
}

// NamesInRecords lists the words of records.csv that hold a part of a name of the
// register, each once.
func (l *Lab) NamesInRecords(sessions []JudgedSession) []string {
	book, seen := l.nameBook(), map[string]bool{}
	var found []string
	look := func(words string) {
		if words == "" || seen[words] {
			return
		}
		seen[words] = true
		if book.wordIn(words) != "" {
			found = append(found, words)
		}
	}
	for _, p := range l.People {
		look(p.Pseudonym)
	}
	for _, j := range sessions {
		look(j.Laboratory)
		if j.Control != nil {
			look(j.Control.Words)
		}
		for _, t := range j.Tests {
			look(t.Attribute)
		}
	}
	for _, p := range l.Papers {
		look(p.Control)
		look(p.Source)
	}
	return found
}

// WordSearcher searches the texts that lie beside journals, without reading the
// entries. A [Journal] may be one.
type WordSearcher interface {
	// JournalsWith gives the journals beside which lies a text that match holds to.
	JournalsWith(ctx context.Context, match func(words string) bool) (map[ID]bool, error)
}

// othersWith are the journals in which a name may be typed; nil for all of them.
func (r *Rooms) othersWith(ctx context.Context, names map[string]bool) (map[ID]bool, error) {
	searcher, ok := r.journal.(WordSearcher)
	if !ok {
		return nil, nil
	}
	known := map[string]bool{} // the same few names are typed again and again
	with, err := searcher.JournalsWith(ctx, func(words string) bool {
		holds, ok := known[words]
		if !ok {
			holds = holdsAny(names, words)
			known[words] = holds
		}
		return holds
	})
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJournal, err)
	}
	return with, nil
}
