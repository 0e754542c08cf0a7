package session

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// PersonID names a person in the laboratory's register. It tells nothing of who
// that is, so journals may hold it for ever.
type PersonID string

// Status is where a person stands on the panel.
type Status string

// The statuses. Trained and expert assessors are terms of ISO 8586.
const (
	StatusCandidate Status = "candidate"
	StatusTrained   Status = "trained"
	StatusExpert    Status = "expert"
	StatusResting   Status = "resting" // for now not called; no reason is kept
)

// Statuses are all of them, in the order in which they are shown.
var Statuses = []Status{StatusCandidate, StatusTrained, StatusExpert, StatusResting}

// PersonFacts are what the register keeps of a person. The name alone is beside
// the journal and can be erased, so no other field may hold it. Nothing here is
// about health, and there is no note that would invite it.
type PersonFacts struct {
	Pseudonym string   `json:"pseudonym"` // what others and reports see; no two people share one
	Name      Text     `json:"name"`
	Languages []string `json:"languages,omitempty"` // tags as in BCP 47, "de" or "pt-BR"
	Status    Status   `json:"status"`

	// Told is when the person was told what is kept and on what Ground of the
	// law; both are empty until then.
	Told   time.Time `json:"told,omitzero"`
	Ground string    `json:"ground,omitempty"`

	Since time.Time `json:"since,omitzero"` // on the panel
}

// Person is somebody on the register.
type Person struct {
	ID PersonID
	PersonFacts
	Erased bool     // the name is gone; pseudonym and counts stay
	Into   PersonID // who this is, found out later; "" for nobody else
}

// Person finds an entry of the register, merged and erased ones as well.
func (l *Lab) Person(id PersonID) (Person, bool) {
	if i := l.personAt(id); i >= 0 {
		return l.People[i], true
	}
	return Person{}, false
}

// Same finds the person that an entry of the register stands for, past every
// merge.
func (l *Lab) Same(id PersonID) (Person, bool) {
	p, ok := l.Person(id)
	for ok && p.Into != "" {
		p, ok = l.Person(p.Into)
	}
	return p, ok
}

// Panel are the people on the register in the order entered, without those who
// were merged into others.
func (l *Lab) Panel() []Person {
	var people []Person
	for _, p := range l.People {
		if p.Into == "" {
			people = append(people, p)
		}
	}
	return people
}

// entriesFor are the ids of all entries that stand for a person.
func (l *Lab) entriesFor(id PersonID) []PersonID {
	var ids []PersonID
	for _, p := range l.People {
		if same, ok := l.Same(p.ID); ok && same.ID == id {
			ids = append(ids, p.ID)
		}
	}
	return ids
}

// personAt looks first where the id was given: at its number.
func (l *Lab) personAt(id PersonID) int {
	if n, err := strconv.Atoi(strings.TrimPrefix(string(id), "p-")); err == nil && n >= 1 && n <= len(l.People) && l.People[n-1].ID == id {
		return n - 1
	}
	return slices.IndexFunc(l.People, func(p Person) bool { return p.ID == id })
}

// present finds a person of whom something new can be said.
func (l *Lab) present(id PersonID) (Person, error) {
	p, ok := l.Person(id)
	switch {
	case !ok:
		return p, fmt.Errorf("person %q: %w", id, ErrNoPerson)
	case p.Into != "":
		into, _ := l.Same(id)
		return p, fmt.Errorf("%s, who is %s: %w", p.Pseudonym, into.Pseudonym, ErrMerged)
	case p.Erased:
		return p, fmt.Errorf("%s: %w", p.Pseudonym, ErrErased)
	}
	return p, nil
}

func (l *Lab) decideEnterPerson(a EnterPerson, at time.Time) ([]Event, error) {
	f := a.Facts
	if strings.TrimSpace(f.Pseudonym) == "" {
		for n := len(l.People) + 1; ; n++ {
			f.Pseudonym = fmt.Sprintf("Judge %d", n)
			if l.pseudonymFree(f.Pseudonym, "") {
				break
			}
		}
	}
	if f.Status == "" {
		f.Status = StatusCandidate
	}
	if f.Since.IsZero() {
		f.Since = at
	}
	f, err := l.checkFacts(f, "", at)
	if err != nil {
		return nil, err
	}
	return one(&PersonEntered{PersonID(fmt.Sprintf("p-%d", len(l.People)+1)), f})
}

func (l *Lab) decideChangePerson(a ChangePerson, at time.Time) ([]Event, error) {
	p, err := l.present(a.Person)
	if err != nil {
		return nil, err
	}
	f := a.Facts
	if f.Name.Words == "" || f.Name.Words == p.Name.Words {
		f.Name = p.Name
	}
	if strings.TrimSpace(f.Pseudonym) == "" {
		f.Pseudonym = p.Pseudonym
	}
	if f.Status == "" {
		f.Status = p.Status
	}
	if f.Since.IsZero() {
		f.Since = p.Since
	}
	if f, err = l.checkFacts(f, p.ID, at); err != nil {
		return nil, err
	}
	return one(&PersonChanged{p.ID, f})
}

var languagePattern = regexp.MustCompile(`^[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*$`)

// The most of what a person's entry holds.
const (
	mostPseudonym = 30
	mostGround    = 80
	mostLanguages = 12
)

func (l *Lab) checkFacts(f PersonFacts, id PersonID, at time.Time) (PersonFacts, error) {
	f.Pseudonym, f.Ground = strings.Join(strings.Fields(f.Pseudonym), " "), strings.TrimSpace(f.Ground)
	f.Told, f.Since = f.Told.UTC(), f.Since.UTC()
	if err := checkName(f.Name); err != nil {
		return f, fmt.Errorf("a person: %w", err)
	}
	if err := checkLabel(f.Pseudonym, "a pseudonym", mostPseudonym); err != nil {
		return f, err
	}
	if !l.pseudonymFree(f.Pseudonym, id) {
		return f, fmt.Errorf("pseudonym %s: %w", f.Pseudonym, ErrTaken)
	}
	if !slices.Contains(Statuses, f.Status) {
		return f, fmt.Errorf("%s, status %q: choose candidate, trained, expert or resting: %w", f.Pseudonym, f.Status, ErrWords)
	}
	if len(f.Languages) > mostLanguages {
		return f, fmt.Errorf("%s: at most %d languages: %w", f.Pseudonym, mostLanguages, ErrWords)
	}
	f.Languages = slices.Clone(f.Languages)
	for i, tag := range f.Languages {
		if f.Languages[i] = strings.TrimSpace(tag); !languagePattern.MatchString(f.Languages[i]) || len(f.Languages[i]) > 35 {
			return f, fmt.Errorf("%s, language %q: write it as a tag, such as en or pt-BR: %w", f.Pseudonym, tag, ErrWords)
		}
	}
	if utf8.RuneCountInString(f.Ground) > mostGround || !utf8.ValidString(f.Ground) {
		return f, fmt.Errorf("%s: the ground has up to %d characters: %w", f.Pseudonym, mostGround, ErrWords)
	}
	switch {
	case f.Told.IsZero() != (f.Ground == ""):
		return f, fmt.Errorf("%s: say when the person was told and on what ground, or neither: %w", f.Pseudonym, ErrWords)
	case f.Told.After(at.Add(aDay)) || f.Since.After(at.Add(aDay)):
		return f, fmt.Errorf("%s: a day that is still to come: %w", f.Pseudonym, ErrWords)
	case f.Told.Year() < 0 || f.Since.Year() < 0:
		return f, fmt.Errorf("%s: a day before all calendars: %w", f.Pseudonym, ErrWords)
	}
	for _, plain := range []string{f.Pseudonym, f.Ground} {
		if word := nameWordIn(plain, f.Name.Words); word != "" {
			return f, fmt.Errorf("%q holds “%s”, a part of the name, and could not be erased with it: write it without the name: %w", plain, word, ErrTellsName)
		}
	}
	return f, nil
}

const aDay = 24 * time.Hour // a date may come from a place where it is later

// checkLabel is for short words that journals hold in clear: they begin with a
// letter or a digit, so that no spreadsheet takes them for a formula.
func checkLabel(s, what string, most int) error {
	first, _ := utf8.DecodeRuneInString(s)
	if n := utf8.RuneCountInString(s); n < 1 || n > most || !utf8.ValidString(s) ||
		!unicode.IsLetter(first) && !unicode.IsDigit(first) || strings.ContainsFunc(s, unicode.IsControl) {
		return fmt.Errorf("%s has 1 to %d characters and begins with a letter or a digit: %w", what, most, ErrWords)
	}
	return nil
}

func (l *Lab) pseudonymFree(pseudonym string, but PersonID) bool {
	for _, p := range l.People {
		if p.ID != but && foldName(p.Pseudonym) == foldName(pseudonym) {
			return false
		}
	}
	return true
}

// nameWordIn gives the part of a name that words hold, "" for none: a word of three
// letters or more, or the whole of a shorter one.
func nameWordIn(plain, name string) string {
	held := nameWords(plain)
	for _, w := range tellingWords(name) {
		if slices.Contains(held, w) {
			return w
		}
	}
	return ""
}

// tellingWords are the words of a name that tell whose it is: no bare number does.
func tellingWords(name string) []string {
	whole := foldName(name)
	return slices.DeleteFunc(nameWords(name), func(w string) bool {
		return w != whole && (utf8.RuneCountInString(w) < 3 || !strings.ContainsFunc(w, unicode.IsLetter))
	})
}

// nameWords are the words of a text, folded. Characters that nobody sees, such as a soft
// hyphen, part no word.
func nameWords(s string) []string {
	seen := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cf, r) {
			return -1
		}
		return r
	}, s)
	return strings.FieldsFunc(foldName(seen), func(r rune) bool { return !unicode.In(r, unicode.L, unicode.M, unicode.Nd) })
}

// checkTellsNobody refuses words that stay for ever and tell a whole name of the
// register; what names them for a person.
func (l *Lab) checkTellsNobody(plain, what string) error {
	if l.nameBook().toldBy(plain) {
		return fmt.Errorf("%s, “%s”, tells a name of the register; it stays in the journal for good, and could not be erased with the name: "+
			"write the pseudonym instead, or leave it out: %w", what, plain, ErrTellsName)
	}
	return nil
}

// nameBook are the names of the register, folded once.
type nameBook struct {
	names       []string        // their words, one space before, between and behind
	words       map[string]bool // those that tell whose a name is
	byPseudonym map[string]PersonID
	byName      map[string][]PersonID
}

func (l *Lab) nameBook() nameBook {
	b := nameBook{words: map[string]bool{}, byPseudonym: map[string]PersonID{}, byName: map[string][]PersonID{}}
	for _, p := range l.People {
		if name := nameWords(p.Name.Words); len(name) > 0 {
			b.names = append(b.names, spaced(name))
			for _, w := range tellingWords(p.Name.Words) {
				b.words[w] = true
			}
		}
		same, ok := l.Same(p.ID)
		if !ok || same.Erased {
			continue
		}
		b.byPseudonym[foldName(p.Pseudonym)] = same.ID
		if name := foldName(p.Name.Words); name != "" && !slices.Contains(b.byName[name], same.ID) {
			b.byName[name] = append(b.byName[name], same.ID)
		}
	}
	return b
}

func spaced(words []string) string { return " " + strings.Join(words, " ") + " " }

// toldBy reports whether words tell a whole name.
func (b nameBook) toldBy(plain string) bool {
	in := spaced(nameWords(plain))
	return slices.ContainsFunc(b.names, func(name string) bool { return strings.Contains(in, name) })
}

// wordIn is nameWordIn for all names of the register; a name that is spelled letter by
// letter is one too.
func (b nameBook) wordIn(plain string) string {
	words := nameWords(plain)
	for _, w := range words {
		if b.words[w] {
			return w
		}
	}
	for _, run := range spelled(words) {
		for w := range b.words {
			if utf8.RuneCountInString(w) >= 3 && strings.Contains(run, w) {
				return w
			}
		}
	}
	return ""
}

// spelled joins letters that stand one by one, three or more in a row.
func spelled(words []string) (runs []string) {
	for len(words) > 0 {
		n := slices.IndexFunc(words, func(w string) bool { return utf8.RuneCountInString(w) > 1 })
		if n < 0 {
			n = len(words)
		}
		if n >= 3 {
			runs = append(runs, strings.Join(words[:n], ""))
		}
		words = words[min(n+1, len(words)):]
	}
	return runs
}

// checkHoldsNoName refuses words that stay for ever and hold a part of a name of the
// register, as paper records' are refused. Words that stand in the journal already, in a
// rule, a series or a paper record, stand there whatever comes: they are taken.
func (l *Lab) checkHoldsNoName(plain, what string) error {
	if err := l.checkTellsNobody(plain, what); err != nil {
		return err
	}
	word := l.nameBook().wordIn(plain)
	if word == "" || l.written(plain) {
		return nil
	}
	return fmt.Errorf("%s holds “%s”, a part of a name on the register; it stays in the journal for good, and could not be erased with the name: write it in other words: %w",
		what, word, ErrTellsName)
}

// written reports whether words are a rule's name or the label of a rule, a series or
// a paper record.
func (l *Lab) written(plain string) bool {
	folded := foldName(plain)
	return slices.ContainsFunc(l.Rules, func(r Rule) bool { return foldName(r.Name) == folded || foldName(r.Label) == folded }) ||
		slices.ContainsFunc(l.Series, func(s Series) bool { return foldName(s.Label) == folded }) ||
		slices.ContainsFunc(l.Papers, func(p PaperRecord) bool { return foldName(p.Control) == folded })
}

// withoutOthers gives words with the parts of other people's names left out, which stand
// in rules and labels of before those were refused: for what one person is handed.
func (l *Lab) withoutOthers(id PersonID) func(words string) string {
	own, others := map[string]bool{}, map[string]bool{}
	for _, p := range l.People {
		of := others
		if same, ok := l.Same(p.ID); ok && same.ID == id {
			of = own
		}
		for _, w := range tellingWords(p.Name.Words) {
			of[w] = true
		}
	}
	return func(words string) string {
		var b strings.Builder
		for len(words) > 0 {
			n := strings.IndexFunc(words, func(r rune) bool { return !unicode.In(r, unicode.L, unicode.M, unicode.Nd, unicode.Cf) })
			if n < 0 {
				n = len(words)
			}
			if slices.ContainsFunc(nameWords(words[:n]), func(w string) bool { return others[w] && !own[w] }) {
				b.WriteString("…")
			} else {
				b.WriteString(words[:n])
			}
			_, sign := utf8.DecodeRuneInString(words[n:])
			b.WriteString(words[n : n+sign])
			words = words[n+sign:]
		}
		return b.String()
	}
}

// find gives the person of a pseudonym, or else all of a name.
func (b nameBook) find(s string) []PersonID {
	if id, ok := b.byPseudonym[foldName(s)]; ok {
		return []PersonID{id}
	}
	return b.byName[foldName(s)]
}

func (l *Lab) decideMerge(a MergePeople) ([]Event, error) {
	from, err := l.present(a.From)
	if err != nil {
		return nil, err
	}
	into, err := l.present(a.Into)
	if err != nil {
		return nil, err
	}
	if from.ID == into.ID {
		return nil, fmt.Errorf("%s is one person: choose two to put together: %w", from.Pseudonym, ErrMerged)
	}
	common := l.Together(from.ID, into.ID)
	if len(common) > 0 && !a.Together {
		var names []string
		for _, id := range common[:min(len(common), mostTogether)] {
			names = append(names, string(id))
		}
		say := strings.Join(names, ", ")
		if more := len(common) - len(names); more > 0 {
			say += fmt.Sprintf(" and %d more", more)
		}
		return nil, fmt.Errorf("%s and %s both have a seat in session %s, as two people have: %w", from.Pseudonym, into.Pseudonym, say, ErrTogether)
	}
	return one(&PeopleMerged{from.ID, into.ID, len(common) > 0})
}

// mostTogether are named of the sessions that two people sat in.
const mostTogether = 5

// Together are the sessions in which two people both had a seat, in order: seldom is
// one person both.
func (l *Lab) Together(a, b PersonID) []ID {
	var common []ID
	sat := map[ID]bool{}
	for _, ref := range l.SeatsOf(a) {
		sat[ref.Session] = true
	}
	for _, ref := range l.SeatsOf(b) {
		if sat[ref.Session] && !slices.Contains(common, ref.Session) {
			common = append(common, ref.Session)
		}
	}
	return common
}
