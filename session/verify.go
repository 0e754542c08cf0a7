package session

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
)

// Report is what re-checking a journal found. It holds nothing of the serving
// key but whether it is the sealed one.
type Report struct {
	Laboratory string // as the file names it, which proves nothing; "" for a journal of one's own
	Session    ID
	Phase      Phase // that the entries lead to
	Entries    int   // that could be read
	Digest     Hash  // of the seal; zero before it
	ClosedAt   Hash  // hash of the last entry before the close; zero before it
	Findings   []Finding
	Checks     []Check
	Origin     Origin

	Typed   int // typed words that the entries hold by their digests
	Missing int // of those, the ones that are not there: erased, or taken out
}

// OK reports whether nothing was found wrong.
func (r Report) OK() bool { return len(r.Findings) == 0 }

// First is the finding about the first entry that is wrong, or about the file
// where no entry can be named. ok is false where there is none.
func (r Report) First() (f Finding, ok bool) {
	if r.OK() {
		return Finding{}, false
	}
	return r.Findings[0], true
}

// Finding is one thing that is wrong.
type Finding struct {
	Entry uint64 // from 1; 0 where it is about no one entry
	Kind  FindingKind
	Say   string // what is wrong, without naming the entry
}

func (f Finding) String() string {
	if f.Entry == 0 {
		return f.Say
	}
	return fmt.Sprintf("entry %d: %s", f.Entry, f.Say)
}

// FindingKind says what sort of thing is wrong.
type FindingKind string

// The kinds of findings.
const (
	FoundFile    FindingKind = "file"    // a line that is no entry, or the file's own sum
	FoundNewer   FindingKind = "newer"   // written by a newer version, so it can't be checked
	FoundBytes   FindingKind = "bytes"   // an entry that can't be read
	FoundChain   FindingKind = "chain"   // an entry out of place, or not as it was written
	FoundSense   FindingKind = "sense"   // an entry that does not follow from those before
	FoundText    FindingKind = "text"    // typed words that are not those of their digest
	FoundDigest  FindingKind = "digest"  // plan, layout, seed and salt give another digest
	FoundDrawing FindingKind = "drawing" // the seed gives another layout
	FoundLook    FindingKind = "look"    // a look's stop is not what the registered rule says
	FoundClose   FindingKind = "close"   // the hash noted at the close is not that of the entry before
	FoundResult  FindingKind = "result"  // the revealed result is not what the answers give
	FoundPaper   FindingKind = "paper"   // a digest or head hash on paper is another session's
)

// Check is one thing that was looked at, and how it stands.
type Check struct {
	What  string // chain, order, words, seal, drawing, looks, close, result, digest on paper, head on paper
	State CheckState
	Say   string
}

// CheckState is how a check came out.
type CheckState string

// The states of a check.
const (
	Holds    CheckState = "holds"
	Fails    CheckState = "fails"
	NotShown CheckState = "not shown"
)

// Origin says how far paper shows that a journal is the one that was written
// then. A journal can be written anew from its first entry, with all hashes
// recomputed, and is then as consistent with itself as the first one.
type Origin struct {
	Sealed  bool   // plan, layout and seed are those of the digest on paper
	Through uint64 // entries 1 to this one are those of the head hash on paper; 0 for none
	Tasting bool   // and the tasting was closed right after it or before
	Behind  int    // entries after it that don't follow from those before: all but close and reveal
	Later   string // what those are: "2 amended, 1 deviation noted"
	Beyond  bool   // the head hash was taken down after the close, and covers what follows it up to there
}

// Words say how the journal stands, in one line without a full stop.
func (r Report) Words() string {
	if f, bad := r.First(); bad {
		return "wrong: " + f.String()
	}
	say := r.originWords()
	if r.Missing > 0 {
		say += "; " + r.missingWords()
	}
	return say
}

// missingWords say how many of the typed words are not there.
func (r Report) missingWords() string {
	return fmt.Sprintf("%d of %d typed words are not there: erased, or taken out", r.Missing, r.Typed)
}

// originWords say how far a journal without a finding is that of the paper.
func (r Report) originWords() string {
	const consistent = "consistent with itself; "
	o := r.Origin
	behind := ""
	if o.Behind > 0 {
		behind = fmt.Sprintf("; of %s after, origin not shown (%s): that hash does not cover what came after it", entriesOf(o.Behind), o.Later)
	} else if r.Phase == PhaseRevealed {
		behind = "; amendments after that hash that were cut off would not be noticed without a later hash and its number"
	}
	switch {
	case o.Beyond && r.Phase == PhaseRevealed:
		return fmt.Sprintf("%sentries 1 to %d, what came after the close included, are those of the head hash on paper, and the result follows from them", consistent, o.Through) + behind
	case o.Beyond:
		return fmt.Sprintf("%sentries 1 to %d, what came after the close included, are those of the head hash on paper", consistent, o.Through) + behind
	case o.Tasting && r.Phase == PhaseRevealed:
		return consistent + "all up to the close is what the head hash on paper stands for, and the result follows from it" + behind
	case o.Tasting:
		return consistent + "all up to the close is what the head hash on paper stands for" + behind
	case o.Through > 0:
		return fmt.Sprintf("%sentries 1 to %d are those of the head hash on paper", consistent, o.Through) + behind
	case r.Origin.Sealed:
		return consistent + "plan, layout and seed are those of the digest on paper; of answers and all else, origin not shown"
	}
	return consistent + "origin not shown"
}

func entriesOf(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

// Verify re-checks a session's journal: that it is one chain, that each entry
// follows from those before it, that typed words are those of their digests;
// and of a session whose key is open also that its digest is that of plan,
// layout, seed and salt, that the seed gives the layout, that looks, closing hash
// and revealed result are what the entries before them give. Counts and outcomes
// must be the same and p-values within 1e-12 of each other, since processors
// differ in the last bit.
//
// It needs no [Plan.Check] and keeps no rule of [State.Decide] but those that
// the result rests on: what an older version allowed is no finding.
func Verify(id ID, entries []Entry, texts map[Hash]Text, paper Paper) Report {
	return verify(id, entries, texts, paper, Hash{})
}

// verify is Verify with the last entry's hash where it is known from elsewhere.
func verify(id ID, entries []Entry, texts map[Hash]Text, paper Paper, head Hash) Report {
	v := verifier{
		Report: Report{Session: id, Entries: len(entries)}, state: NewState(id), texts: texts,
		looked: map[string]string{}, failed: map[string]bool{}, typed: map[Hash]bool{},
	}
	v.open = slices.ContainsFunc(entries, func(e Entry) bool {
		return e.Kind == (*Revealed)(nil).Kind() || e.Kind == (*SealBroken)(nil).Kind()
	})
	whole := v.chain(entries, head)
	for _, e := range entries[:whole] {
		if !v.entry(e) {
			break
		}
	}
	v.Phase = v.state.Phase
	v.paper(entries, paper)
	v.sum()
	return v.Report
}

// VerifyLab re-checks the laboratory's own journal, which has no seal.
func VerifyLab(entries []Entry, texts map[Hash]Text) Report {
	v := verifier{
		Report: Report{Session: LabID, Entries: len(entries)}, texts: texts,
		looked: map[string]string{}, failed: map[string]bool{}, typed: map[Hash]bool{},
	}
	lab := NewLab()
	for _, e := range entries[:v.chain(entries, Hash{})] {
		rec, ok := v.read(e)
		if !ok {
			break
		}
		if err := applySafely(lab, rec); err != nil {
			v.find(e.Seq, FoundSense, checkOrder, "%v", ErrSenseless)
			break
		}
	}
	v.sum()
	return v.Report
}

// The names of the checks, in the order in which they are told.
const (
	checkFile    = "file"
	checkChain   = "chain"
	checkOrder   = "order"
	checkWordsOf = "words"
	checkDigest  = "seal"
	checkDrawing = "drawing"
	checkLooks   = "looks"
	checkClose   = "close"
	checkResult  = "result"
	checkSheet   = "digest on paper"
	checkHead    = "head on paper"
)

var checkNames = []string{
	checkFile, checkChain, checkOrder, checkWordsOf, checkDigest, checkDrawing, checkLooks, checkClose, checkResult, checkSheet, checkHead,
}

type verifier struct {
	Report
	state   *State
	texts   map[Hash]Text
	typed   map[Hash]bool     // typed words by digest: whether they are there
	open    bool              // the key is, so the seal can be looked at
	sealAt  uint64            // the entry with the seal, 0 before it
	closeAt uint64            // that of the close
	looked  map[string]string // what each check showed that held
	failed  map[string]bool
}

func (v *verifier) find(entry uint64, kind FindingKind, check, format string, args ...any) {
	v.Findings = append(v.Findings, Finding{entry, kind, fmt.Sprintf(format, args...)})
	v.failed[check] = true
}

// sum brings findings and checks into their order.
func (v *verifier) sum() {
	sortFindings(v.Findings)
	for _, there := range v.typed {
		v.Typed++
		if !there {
			v.Missing++
		}
	}
	if v.Missing > 0 && v.looked[checkWordsOf] != "" {
		v.looked[checkWordsOf] += "; " + v.missingWords()
	}
	for _, name := range checkNames {
		switch say, ok := v.looked[name]; {
		case v.failed[name]:
			v.Checks = append(v.Checks, Check{name, Fails, ""})
		case ok:
			v.Checks = append(v.Checks, Check{name, Holds, say})
		}
	}
	if !v.OK() || v.Session == LabID {
		return
	}
	not := func(name, say string) {
		if !slices.ContainsFunc(v.Checks, func(c Check) bool { return c.What == name }) {
			v.Checks = append(v.Checks, Check{name, NotShown, say})
		}
	}
	switch {
	case v.Digest.IsZero():
		not(checkDigest, "the plan is not sealed yet")
	case !v.open:
		not(checkDigest, "the key is sealed; plan, layout and seed are looked at after the reveal")
	}
	if v.Missing > 0 {
		not(checkWordsOf, v.missingWords())
	}
	if v.Phase != PhaseRevealed {
		not(checkResult, "there is none before the reveal")
	}
	not(checkSheet, "no digest from a printed sheet was given")
	not(checkHead, "no head hash from paper was given: a journal written anew would pass as well")
}

// sortFindings puts those about entries first, in the order of entries.
func sortFindings(f []Finding) {
	rank := func(f Finding) uint64 {
		if f.Entry == 0 {
			return math.MaxUint64
		}
		return f.Entry
	}
	slices.SortStableFunc(f, func(a, b Finding) int { return cmp.Compare(rank(a), rank(b)) })
}

// chain finds the first entry that is wrong in itself or out of its place, and
// returns how many stand before it.
func (v *verifier) chain(entries []Entry, head Hash) int {
	if len(entries) == 0 {
		v.find(0, FoundChain, checkChain, "there is no entry")
		return 0
	}
	i, err := firstBroken(entries)
	if err == nil {
		v.looked[checkChain] = fmt.Sprintf("%s, each with the hash of the one before", entriesOf(len(entries)))
		return i
	}
	e := entries[i]
	say := strings.TrimPrefix(err.Error(), fmt.Sprintf("entry %d: ", e.Seq))
	if e.Seq != uint64(i)+1 {
		say = fmt.Sprintf("entry %d stands in its place", e.Seq)
	}
	// Where the next entry, or the head, vouches for this one, the one before it
	// was altered.
	if i > 0 && e.Seq == uint64(i)+1 && e.Prev != entries[i-1].Hash {
		vouched := i+1 < len(entries) && entries[i+1].Prev == e.Hash || i+1 == len(entries) && head == e.Hash
		if vouched {
			v.find(uint64(i), FoundChain, checkChain, "it is not as it was when entry %d was written after it", i+1)
			return i - 1
		}
	}
	v.find(uint64(i)+1, FoundChain, checkChain, "%s", say)
	return i
}

// read decodes an entry and looks at its typed words.
func (v *verifier) read(e Entry) (Recorded, bool) {
	rec, err := e.Record(v.texts)
	switch {
	case errors.Is(err, ErrNewer):
		v.find(e.Seq, FoundNewer, checkOrder, "kind %q, version %d: %v", e.Kind, e.Version, ErrNewer)
		return rec, false
	case err != nil:
		v.find(e.Seq, FoundBytes, checkOrder, "kind %q: %v", e.Kind, ErrBadEntry)
		return rec, false
	}
	for _, t := range textsOf(rec.Event) {
		if !t.Digest.IsZero() { // else nothing was typed
			v.typed[t.Digest] = len(t.Salt) > 0 || t.Words != ""
		}
		switch there := len(t.Salt) > 0 || t.Words != ""; {
		case there && !t.Matches():
			v.find(e.Seq, FoundText, checkWordsOf, "its typed words are not those of their digest")
		case there:
			v.looked[checkWordsOf] = "the typed words that are still there are those of their digests"
		}
	}
	return rec, true
}

// entry takes one entry; false ends the walk.
func (v *verifier) entry(e Entry) (goOn bool) {
	rec, ok := v.read(e)
	if !ok {
		return false
	}
	defer func() {
		if p := recover(); p != nil {
			v.find(e.Seq, FoundSense, checkOrder, "%v", ErrSenseless)
			goOn = false
		}
	}()
	if say := v.state.senseless(rec); say != "" {
		v.find(e.Seq, FoundSense, checkOrder, "%s", say)
		return false
	}
	switch ev := rec.Event.(type) {
	case *Looked:
		v.look(e.Seq, ev)
	case *Closed:
		v.ClosedAt, v.closeAt = ev.Head, e.Seq
		if ev.Head != v.state.Head {
			v.find(e.Seq, FoundClose, checkClose, "the hash that it holds for paper is not that of entry %d", e.Seq-1)
		}
		v.looked[checkClose] = "the hash for paper is that of the entry before the close"
	case *Revealed:
		v.revealed(e.Seq, ev)
	}
	if err := applySafely(v.state, rec); err != nil {
		v.find(e.Seq, FoundSense, checkOrder, "%v", ErrSenseless)
		return false
	}
	if ev, ok := rec.Event.(*Sealed); ok {
		v.sealed(e.Seq, ev)
	}
	v.looked[checkOrder] = "each entry follows from those before it"
	return true
}

// senseless says why an event can't follow, as far as the result rests on it; ""
// where it can. Apply itself finds seats, sets and trays that don't exist.
func (s *State) senseless(rec Recorded) string {
	wants := func(phases ...Phase) string {
		if slices.Contains(phases, s.Phase) {
			return ""
		}
		if s.Phase == PhaseNone {
			return fmt.Sprintf("%q before the plan was drafted", rec.Event.Kind())
		}
		return fmt.Sprintf("%q in a session that is %s", rec.Event.Kind(), s.Phase)
	}
	switch e := rec.Event.(type) {
	case *Drafted:
		return wants(PhaseNone, PhaseDrafted)
	case *Sealed:
		if say := wants(PhaseDrafted); say != "" {
			return say
		}
		if !reflect.DeepEqual(e.Plan, s.Plan) {
			return "the sealed plan is not the drafted one"
		}
		if err := e.Layout.fits(e.Plan); err != nil {
			return "the " + err.Error()
		}
	case *RoundServed:
		if say := wants(PhaseOpen); say != "" {
			return say
		}
		if e.Round != len(s.Rounds)+1 {
			return fmt.Sprintf("set %d served after set %d", e.Round, len(s.Rounds))
		}
	case *Locked:
		if say := wants(PhaseOpen); say != "" {
			return say
		}
		if t := s.take(e.Seat, e.Set, e.Take); t.Answer != nil || t.Void != nil {
			return fmt.Sprintf("seat %d, set %d was answered or taken out before", e.Seat, e.Set)
		}
		pick, also, ok := s.methodOf(e.Set).Answer(s.Codes(e.Seat, e.Set, e.Take), e.Pick, e.Also)
		if !ok || pick != e.Pick || also != e.Also {
			return fmt.Sprintf("the answer of seat %d names no cup of its tray", e.Seat)
		}
	case *ReplacementServed:
		if say := wants(PhaseOpen); say != "" {
			return say
		}
		if t := s.take(e.Seat, e.Set, e.Take); !t.Waits || t.Void != nil {
			return fmt.Sprintf("seat %d, set %d was served or taken out before", e.Seat, e.Set)
		}
	case *Voided:
		return wants(PhaseOpen)
	case *Closed:
		return wants(PhaseOpen)
	case *Revealed:
		return wants(PhaseClosed)
	case *Amended:
		if say := wants(PhaseClosed, PhaseRevealed); say != "" {
			return say
		}
		if t := s.take(e.Seat, e.Set, e.Take); t.Void != nil || t.Amend != nil {
			return fmt.Sprintf("seat %d, set %d was taken out before", e.Seat, e.Set)
		}
	default:
		return wants(PhaseDrafted, PhaseSealed, PhaseOpen, PhaseClosed, PhaseRevealed)
	}
	return ""
}

func (v *verifier) sealed(seq uint64, e *Sealed) {
	v.sealAt, v.Digest = seq, e.Digest
	if !v.open {
		return
	}
	switch err := e.check(); {
	case errors.Is(err, errDigest):
		v.find(seq, FoundDigest, checkDigest, "%v", err)
		return
	case errors.Is(err, ErrNewer):
		v.find(seq, FoundNewer, checkDrawing, "%v", err)
	case err != nil:
		v.find(seq, FoundDrawing, checkDrawing, "%v", err)
	}
	v.looked[checkDigest] = "the digest is that of plan, layout, seed and salt"
	v.looked[checkDrawing] = fmt.Sprintf("the seed gives the layout, by the rules of drawing version %d", e.Layout.Version)
}

// look asks the registered rule again, once the key is open.
func (v *verifier) look(seq uint64, e *Looked) {
	if !v.open {
		return
	}
	want, err := v.state.look()
	if err != nil || want == nil || *want != *e {
		v.find(seq, FoundLook, checkLooks, "the registered rule does not say so of the answers before it")
	}
	v.looked[checkLooks] = "each look says what the registered rule says"
}

// revealed computes the result again, at the entry that holds it: what is
// amended later does not change it.
func (v *verifier) revealed(seq uint64, e *Revealed) {
	want := v.state.reveal()
	if len(e.Tests) != len(want.Tests) {
		v.find(seq, FoundResult, checkResult, "it holds results of %s, and the plan has %d", counted(len(e.Tests), "test"), len(want.Tests))
		return
	}
	if e.SealHolds != want.SealHolds && !v.failed[checkDigest] && !v.failed[checkDrawing] {
		v.find(seq, FoundResult, checkResult, "it says that the seal does not hold, and it does")
	}
	exact := true
	for i, have := range e.Tests {
		w := want.Tests[i]
		exact = exact && have.P == w.P && have.SimilarP == w.SimilarP
		switch {
		case have.Method != w.Method:
			v.find(seq, FoundResult, checkResult, "test %d is a %s here, and the plan's is a %s", i+1, have.Method, w.Method)
		case have.N != w.N || have.Correct != w.Correct:
			v.find(seq, FoundResult, checkResult, "test %d: it says %d correct of %d, and the answers give %d of %d", i+1, have.Correct, have.N, w.Correct, w.N)
		case !sameP(have.P, w.P) || !sameP(have.SimilarP, w.SimilarP):
			v.find(seq, FoundResult, checkResult, "test %d: its p is not the one that the answers give", i+1)
		case have.Outcome != w.Outcome || have.Decided != w.Decided:
			v.find(seq, FoundResult, checkResult, "test %d: it says %q, and the registered analysis says %q", i+1, have.Outcome, w.Outcome)
		}
	}
	v.looked[checkResult] = "counts, outcomes and p are what the answers give, to the last bit"
	if !exact {
		v.looked[checkResult] = "counts and outcomes are what the answers give, and p is within 1e-12"
	}
}

// sameP allows for the last bits, in which processors differ.
func sameP(a, b float64) bool {
	return a == b || math.Abs(a-b) <= 1e-12*max(math.Abs(a), math.Abs(b))
}
