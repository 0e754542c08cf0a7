package session

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Erasing takes a person's words away for good: the name on the register, the
// names typed at the person's seats, and reasons that were typed about those
// seats. Entries hold digests of them only, so every journal still checks and
// every count stays, under the pseudonym.
//
// The wish is journalled first ([PersonErased]), then carried out, then noted as
// done ([ErasureFinished]). Whatever cuts it off, [Rooms.FinishErasures] takes it
// up again.

// Erasure is a wish to erase and what became of it.
type Erasure struct {
	Person     PersonID
	Everywhere bool
	At         time.Time
	Done       time.Time // zero until all of it is done
	InClear    int       // places in entries where a part of the name stands for good

	doneSeq uint64 // of the entry that says so
}

// Backup is a copy that was made of the laboratory's file.
type Backup struct {
	At   time.Time
	File string // its name, without folders

	seq uint64
}

// Eraser takes words away where journals are kept. A [Journal] may be one.
type Eraser interface {
	// Erase removes salt and words of these texts, by the journal or received
	// session beside which they lie, in one step; and when it returns nil, no trace
	// of them is left in what the journals are kept in. Texts that are not there, or
	// erased, are no error.
	Erase(ctx context.Context, texts map[ID][]Hash) error
}

// Mention is a place where a person's name is typed beside the person's own
// seats: another seat, a role at the bench, a release, a reason.
type Mention struct {
	Session ID // LabID for the register
	Seq     uint64
	At      time.Time
	Kind    string // of the entry
	Words   string
}

// Erase erases a person: act is an [ErasePerson].
func (r *Rooms) Erase(ctx context.Context, c Command) error {
	act, ok := c.Act.(ErasePerson)
	if !ok {
		return fmt.Errorf("to erase takes an erasure, not %T: %w", c.Act, ErrPhase)
	}
	// Counted while there is a name to look for.
	clear, err := r.InClear(ctx, act.Person)
	if err != nil && !errors.Is(err, ErrNoPerson) { // which is said below, or that the entry was merged
		return err
	}
	act.InClear = len(clear)
	c.Act = act
	if _, err := r.lab.Do(ctx, c); err != nil {
		return err
	}
	return r.FinishErasures(ctx, c.At)
}

// FinishErasures carries out every erasure that was wished for and is not done.
// Start with it: one may have been cut off.
func (r *Rooms) FinishErasures(ctx context.Context, now time.Time) error {
	for _, e := range r.lab.State().Erasures {
		if !e.Done.IsZero() {
			continue
		}
		if err := r.finishErasure(ctx, e, now); err != nil {
			return fmt.Errorf("erasing %s: %w", e.Person, err)
		}
	}
	return nil
}

func (r *Rooms) finishErasure(ctx context.Context, e Erasure, now time.Time) error {
	eraser, ok := r.journal.(Eraser)
	if !ok {
		return fmt.Errorf("%w: what keeps these journals can't erase", ErrJournal)
	}
	found, err := r.search(ctx, e.Person, scope{elsewhere: e.Everywhere})
	if err != nil {
		return err
	}
	texts := found.own
	if e.Everywhere {
		for id, digests := range found.elsewhere {
			texts[id] = append(texts[id], digests...)
		}
	}
	// Who asked may go away meanwhile; half an erasure helps nobody.
	ctx = context.WithoutCancel(ctx)
	if err := eraser.Erase(ctx, texts); err != nil {
		return fmt.Errorf("%w: %w", ErrJournal, err)
	}
	// What is in memory still has the words.
	r.forgetReceived()
	for _, room := range r.Live() {
		if len(texts[room.State().ID]) > 0 {
			if err := room.Reload(ctx); err != nil {
				return err
			}
		}
	}
	if err := r.lab.Reload(ctx); err != nil {
		return err
	}
	_, err = r.lab.Do(ctx, Command{At: now, Actor: Host, Act: FinishErasure{e.Person}})
	return err
}

// Mentions lists where else the names of a person are typed, by the register's
// name and those at the person's seats: what an erasure leaves unless it is one
// everywhere. A namesake's are among them, but not at seats that are tied to
// another person.
func (r *Rooms) Mentions(ctx context.Context, id PersonID) ([]Mention, error) {
	found, err := r.search(ctx, id, scope{elsewhere: true})
	return found.mentions, err
}

// ownWords are a person's words, by journal.
type ownWords struct {
	own       map[ID][]Hash
	elsewhere map[ID][]Hash
	mentions  []Mention
	texts     []typed // the person's own
	eligible  []listed
	journals  []journalRead // that were read
}

// scope is how far a search goes beyond the register and the sessions of the person's
// seats.
type scope struct {
	elsewhere bool // where else a name of the person is typed
	lists     bool // seals that list the person as holder of a rule
}

// listed are the people whom a session's seal lists as holders of its rule.
type listed struct {
	in     ID
	people []Eligible
}

// typed is a text with the journal that it lies beside.
type typed struct {
	in ID
	ownText
}

// journalRead is one journal with its texts.
type journalRead struct {
	id       ID
	received bool // its people's ids are another laboratory's
	entries  []Entry
	records  []Recorded
}

// search reads the register and the journals of a person's seats, and others as far as
// the scope needs them.
func (r *Rooms) search(ctx context.Context, id PersonID, reach scope) (ownWords, error) {
	f := ownWords{own: map[ID][]Hash{}, elsewhere: map[ID][]Hash{}}
	lab := r.lab.State()
	ids := lab.entriesFor(id)
	if len(ids) == 0 {
		return f, fmt.Errorf("person %q: %w", id, ErrNoPerson)
	}
	seats := map[ID][]int{}
	for _, ref := range lab.SeatsOf(id) {
		seats[ref.Session] = append(seats[ref.Session], ref.Seat)
	}
	mine := func(id ID) bool { return id == LabID || seats[id] != nil }
	journals, err := r.readJournals(ctx, func(id ID, _ bool) bool { return mine(id) })
	if err != nil {
		return f, err
	}
	names := map[string]bool{}
	own := map[Hash]bool{}
	for _, j := range journals {
		for _, t := range ownTexts(j, ids, lab, seats[j.id]) {
			own[t.text.Digest] = true
			f.texts = append(f.texts, typed{j.id, t})
			f.own[j.id] = append(f.own[j.id], t.text.Digest)
			if name := spaced(nameWords(t.text.Words)); t.name && strings.TrimSpace(name) != "" {
				names[name] = true
			}
		}
	}
	if reach.elsewhere || reach.lists {
		with, err := r.othersWith(ctx, names)
		if err != nil {
			return f, err
		}
		others, err := r.readJournals(ctx, func(id ID, received bool) bool {
			return !mine(id) && (received || reach.lists || with == nil || with[id])
		})
		if err != nil {
			return f, err
		}
		journals = append(journals, others...)
		slices.SortStableFunc(journals, compareJournals)
	}
	f.journals = journals
	for _, j := range journals {
		last := j.seated()
		for _, rec := range j.records {
			if sealed, ok := rec.Event.(*Sealed); ok && len(sealed.Eligible) > 0 && !j.received {
				f.eligible = append(f.eligible, listed{j.id, sealed.Eligible})
			}
			if at, ok := rec.Event.(*Joined); ok && last[at.Seat].Digest == at.Name.Digest {
				if other, tied := lab.PersonOf(j.id, at.Seat); tied && other.ID != id {
					continue
				}
			}
			if of := personIn(rec.Event); of != "" && !slices.Contains(ids, of) {
				continue
			}
			for _, t := range textsOf(rec.Event) {
				if own[t.Digest] || !holdsAny(names, t.Words) {
					continue
				}
				f.elsewhere[j.id] = append(f.elsewhere[j.id], t.Digest)
				f.mentions = append(f.mentions, Mention{j.id, rec.Seq, rec.At, rec.Event.Kind(), t.Words})
			}
		}
	}
	return f, nil
}

// compareJournals puts the register first and received sessions last, the newest before
// older ones.
func compareJournals(a, b journalRead) int {
	rank := func(j journalRead) int {
		switch {
		case j.id == LabID:
			return 0
		case j.received:
			return 2
		}
		return 1
	}
	return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(b.id, a.id))
}

func holdsAny(names map[string]bool, words string) bool {
	in := spaced(nameWords(words))
	for name := range names {
		if strings.Contains(in, name) {
			return true
		}
	}
	return false
}

// personIn is whom an event of the register is about, "" for nobody.
func personIn(e Event) PersonID {
	switch e := e.(type) {
	case *PersonEntered:
		return e.Person
	case *PersonChanged:
		return e.Person
	}
	return ""
}

type ownText struct {
	Recorded
	text Text
	name bool
}

// ownTexts are the typed words of a journal that are a person's: by the person's
// entries in the register, or by the seats in a session.
func ownTexts(j journalRead, ids []PersonID, lab *Lab, seats []int) []ownText {
	var all []ownText
	add := func(rec Recorded, t Text, name bool) { all = append(all, ownText{rec, t, name}) }
	if j.id == LabID {
		for _, rec := range j.records {
			switch e := rec.Event.(type) {
			case *PersonEntered:
				if slices.Contains(ids, e.Person) {
					add(rec, e.Facts.Name, true)
				}
			case *PersonChanged:
				if slices.Contains(ids, e.Person) {
					add(rec, e.Facts.Name, true)
				}
			case *SeriesEnded:
				if i := lab.seriesAt(e.Series); e.Reason != nil && i >= 0 && slices.Contains(ids, lab.Series[i].Person) {
					add(rec, *e.Reason, false)
				}
			}
		}
		return all
	}
	if len(seats) == 0 {
		return nil
	}
	last := j.seated()
	names := map[string]bool{}
	for _, n := range seats {
		if name := foldName(last[n].Words); name != "" {
			names[name] = true
		}
	}
	for _, rec := range j.records {
		switch e := rec.Event.(type) {
		case *Joined:
			// Under the same name the person may have had another seat before.
			mine := names[foldName(e.Name.Words)]
			if _, tied := lab.PersonOf(j.id, e.Seat); tied && last[e.Seat].Digest == e.Name.Digest {
				mine = slices.Contains(seats, e.Seat)
			}
			if mine {
				add(rec, e.Name, true)
			}
		case *Voided:
			if slices.Contains(seats, e.Seat) {
				add(rec, e.Reason, false)
			}
		case *Amended:
			if slices.Contains(seats, e.Seat) {
				add(rec, e.Reason, false)
			}
		case *SeatLeft:
			if slices.Contains(seats, e.Seat) {
				add(rec, e.Reason, false)
			}
		}
	}
	return all
}

// seated gives the name typed by who had each seat last: somebody else may have
// had it before, in the lobby.
func (j journalRead) seated() map[int]Text {
	last := map[int]Text{}
	for _, rec := range j.records {
		if e, ok := rec.Event.(*Joined); ok {
			last[e.Seat] = e.Name
		}
	}
	return last
}

// readJournals reads those journals and received sessions that are wanted, with
// their texts.
func (r *Rooms) readJournals(ctx context.Context, wanted func(id ID, received bool) bool) ([]journalRead, error) {
	rows, err := r.Rows(ctx)
	if err != nil {
		return nil, err
	}
	ids := []ID{LabID}
	for _, row := range rows {
		ids = append(ids, row.ID)
	}
	var all []journalRead
	take := func(id ID, entries []Entry, texts map[Hash]Text, received bool) error {
		j := journalRead{id: id, received: received, entries: entries}
		for _, e := range entries {
			rec, err := e.Record(texts)
			if err != nil {
				return fmt.Errorf("journal %s: %w", id, err)
			}
			j.records = append(j.records, rec)
		}
		all = append(all, j)
		return nil
	}
	for _, id := range ids {
		if !wanted(id, false) {
			continue
		}
		entries, texts, err := r.journal.Load(ctx, id)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrJournal, err)
		}
		if err := take(id, entries, texts, false); err != nil {
			return nil, err
		}
	}
	shelf, ok := r.journal.(Shelf)
	if !ok {
		return all, nil
	}
	received, err := shelf.Received(ctx)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJournal, err)
	}
	for _, x := range received {
		if !wanted(x.Session, true) {
			continue
		}
		d, err := ReadDossier(x.File)
		if err != nil {
			return nil, fmt.Errorf("session %s of laboratory %q: %w", x.Session, x.Laboratory, err)
		}
		if err := take(d.Session, d.Entries, d.Texts, true); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// CopiesBeforeReveal counts the copies of the file that were made while a session
// was sealed and not revealed: each holds its key.
func (l *Lab) CopiesBeforeReveal(s *State) int {
	n := 0
	from, sealed := s.Times[PhaseSealed]
	until, open := s.Times[PhaseRevealed]
	for _, b := range l.Backups {
		if sealed && !b.At.Before(from) && (!open || b.At.Before(until)) {
			n++
		}
	}
	return n
}

// BackupsBefore lists the copies of the file that may hold the words of an
// erased person, since they were made before the erasure was done: they are to
// be destroyed.
func (l *Lab) BackupsBefore(id PersonID) []Backup {
	i := slices.IndexFunc(l.Erasures, func(e Erasure) bool { return e.Person == id })
	if i < 0 {
		return nil
	}
	var all []Backup
	for _, b := range l.Backups {
		// By the order of entries: two clocks could be read in the wrong one.
		if done := l.Erasures[i].doneSeq; done == 0 || b.seq < done {
			all = append(all, b)
		}
	}
	return all
}

// FilesBefore lists the sessions of an erased person whose session files, where
// any were written or came from elsewhere, hold the words: those files are to be
// destroyed, and whoever has a copy is to be told.
func (l *Lab) FilesBefore(id PersonID) []ID {
	if !slices.ContainsFunc(l.Erasures, func(e Erasure) bool { return e.Person == id }) {
		return nil
	}
	var all []ID
	for _, ref := range l.SeatsOf(id) {
		if !slices.Contains(all, ref.Session) {
			all = append(all, ref.Session)
		}
	}
	return all
}

func (l *Lab) decideErase(a ErasePerson) ([]Event, error) {
	if p, ok := l.Person(a.Person); ok && p.Erased {
		return nil, nil
	}
	p, err := l.present(a.Person)
	if err != nil {
		return nil, err
	}
	return one(&PersonErased{p.ID, a.Everywhere, a.InClear})
}

// applyErased drops the words at once; those in the journals go afterwards.
func (l *Lab) applyErased(e *PersonErased, rec Recorded) {
	for _, id := range l.entriesFor(e.Person) {
		p := &l.People[l.personAt(id)]
		p.Erased, p.Name = true, Text{Digest: p.Name.Digest}
	}
	for i := range l.Series {
		if same, ok := l.Same(l.Series[i].Person); ok && same.ID == e.Person {
			l.Series[i].Reason = Text{Digest: l.Series[i].Reason.Digest}
		}
	}
	l.Erasures = append(l.Erasures, Erasure{Person: e.Person, Everywhere: e.Everywhere, At: rec.At, InClear: e.InClear})
}

func (l *Lab) decideFinish(a FinishErasure) ([]Event, error) {
	i := slices.IndexFunc(l.Erasures, func(e Erasure) bool { return e.Person == a.Person })
	switch {
	case i < 0:
		return nil, fmt.Errorf("person %q has not been erased: %w", a.Person, ErrNoPerson)
	case !l.Erasures[i].Done.IsZero():
		return nil, nil
	}
	return one(&ErasureFinished{a.Person})
}

func (l *Lab) decideBackup(a NoteBackup) ([]Event, error) {
	if n := len(a.File); n < 1 || n > 255 || strings.ContainsAny(a.File, "/\\") {
		return nil, fmt.Errorf("a backup's file name has 1 to 255 characters and no folders: %w", ErrWords)
	}
	return one(&BackedUp{a.File})
}

// without takes texts out of a session file's dossier and writes it again; the
// entries stay as they are.
func (d Dossier) without(digests []Hash) Dossier {
	kept := map[Hash]Text{}
	for digest, t := range d.Texts {
		if !slices.Contains(digests, digest) {
			kept[digest] = t
		}
	}
	d.Texts = kept
	return d
}

// EraseFromFile writes a session file again without the words of these texts:
// it verifies as before.
func EraseFromFile(file []byte, digests []Hash) ([]byte, error) {
	d, err := ReadDossier(file)
	if err != nil {
		return nil, err
	}
	return d.without(digests).Bytes()
}

// Erase implements [Eraser].
func (m *Memory) Erase(_ context.Context, texts map[ID][]Hash) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, digests := range texts {
		for _, d := range digests {
			delete(m.texts, d)
		}
	}
	return nil
}
