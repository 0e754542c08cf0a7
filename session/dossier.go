package session

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"unicode/utf8"
)

// A session file holds one revealed session, whole: whoever has it can check it
// with [VerifyDossier] and needs nothing else, and compute its result anew. It is
// UTF-8, JSON lines, each ended by one line feed:
//
//	{"oddcup":"session","v":1,"laboratory":"…","session":"…","entries":N}
//	N lines: the entries of the session's journal as they are stored
//	{"digest":"…","salt":"…","words":"…"}      a line for each typed text
//	{"sha256":"…","head":"…"}
//
// laboratory is the name in the laboratory's register, "" where it has none, and
// session the session's id. Nothing proves the two: they are labels.
//
// An entry is an object of seq (from 1), at (RFC 3339, UTC), actor, command (where
// there is one), kind, version, prev and body; prev is the SHA-256 of the line
// before without its line feed, 64 zeros in the first. The bodies are those of
// the types in event.go. The entry "sealed" holds plan, layout, seed, salt and
// digest of the seal.
//
// Texts are names and reasons. They stand in the order in which entries first
// hold their digests, each once. digest is the SHA-256 of the salt's bytes
// followed by the words. A text that was erased, or left out, has no line, and
// nothing is wrong with that.
//
// sha256 in the last line is that of all bytes before the line; head is that of
// the last entry. All sums and salts are hexadecimal digits, a to f small.
//
// The form is canonical: the lines that are no entries are written as package
// encoding/json writes them, fields in this order, no white space, with <, > and &
// as \u003c, \u003e and \u0026. A file that differs from what is written of it
// again, by any byte, is refused.
//
// Fields, and lines of another kind, come with another v.
const (
	dossierName    = "session"
	dossierVersion = 1

	// DossierExtension ends the names of session files.
	DossierExtension = ".oddcup-session"

	// MostDossier bounds the bytes of a session file: the largest session has
	// less than a quarter.
	MostDossier = 32 << 20
)

// Dossier is what a session file holds.
type Dossier struct {
	Laboratory string
	Session    ID
	Entries    []Entry
	Texts      map[Hash]Text // those still there
}

// ErrDossier is returned for bytes that are no session file as it was written.
var ErrDossier = errors.New("not a session file as oddcup writes it")

type dossierHead struct {
	Oddcup     string `json:"oddcup"`
	V          int    `json:"v"`
	Laboratory string `json:"laboratory"`
	Session    ID     `json:"session"`
	Entries    int    `json:"entries"`
}

type dossierText struct {
	Digest Hash   `json:"digest"`
	Salt   string `json:"salt"`
	Words  string `json:"words"`
}

type dossierEnd struct {
	Sum  Hash `json:"sha256"`
	Head Hash `json:"head"`
}

// NewDossier takes a journal as it was loaded. Before the reveal the error is
// [ErrSealed], and for good where the session was abandoned.
func NewDossier(laboratory string, id ID, entries []Entry, texts map[Hash]Text) (Dossier, error) {
	r := Verify(id, entries, texts, Paper{})
	for _, f := range r.Findings {
		switch f.Kind {
		case FoundNewer:
			return Dossier{}, fmt.Errorf("session %s, %s: %w", id, f, ErrNewer)
		case FoundChain:
			return Dossier{}, fmt.Errorf("session %s: %w: %s", id, ErrChain, f)
		case FoundBytes, FoundText, FoundSense:
			return Dossier{}, fmt.Errorf("session %s: %w: %s", id, ErrSenseless, f)
		}
	}
	if r.Phase != PhaseRevealed {
		return Dossier{}, fmt.Errorf("session %s: %w", id, ErrSealed)
	}
	return Dossier{Laboratory: laboratory, Session: id, Entries: entries, Texts: texts}, nil
}

// Dossier gives a session's file; see [NewDossier].
func (r *Rooms) Dossier(ctx context.Context, id ID) ([]byte, error) {
	if _, err := r.Session(ctx, id); err != nil {
		return nil, err
	}
	entries, texts, err := r.journal.Load(ctx, id)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJournal, err)
	}
	d, err := NewDossier(r.lab.State().Name, id, entries, texts)
	if err != nil {
		return nil, err
	}
	return d.Bytes()
}

// LabelsWords say what of a session file nothing proves.
const LabelsWords = "The laboratory’s name and the session’s id stand in the file as labels. The seal covers neither, and nothing in the file proves them."

// FromFile reports whether what was re-checked is a session file.
func (r Report) FromFile() bool {
	return slices.ContainsFunc(r.Checks, func(c Check) bool { return c.What == checkFile })
}

// Digest is that of the seal; zero where none can be read.
func (d Dossier) Digest() Hash { return DigestOf(d.Entries) }

// DigestOf is the digest of the seal in a session's journal; zero where none can
// be read.
func DigestOf(entries []Entry) Hash {
	for _, e := range entries {
		if e.Kind != (*Sealed)(nil).Kind() {
			continue
		}
		if rec, err := e.Record(nil); err == nil {
			return rec.Event.(*Sealed).Digest
		}
	}
	return Hash{}
}

// Bytes writes the file. The error is about an entry or text that no line can
// hold, which only another hand can have written.
func (d Dossier) Bytes() ([]byte, error) {
	var b bytes.Buffer
	line := func(v any) error {
		raw, err := json.Marshal(v)
		b.Write(append(raw, '\n'))
		return err
	}
	if err := line(dossierHead{dossierName, dossierVersion, d.Laboratory, d.Session, len(d.Entries)}); err != nil {
		return nil, err
	}
	for _, e := range d.Entries {
		if bytes.IndexByte(e.Stored, '\n') >= 0 {
			return nil, fmt.Errorf("entry %d: %w: it has more than one line", e.Seq, ErrBadEntry)
		}
		b.Write(append(bytes.Clone(e.Stored), '\n'))
	}
	for _, t := range d.texts() {
		if !utf8.ValidString(t.Words) {
			return nil, fmt.Errorf("text %s: %w: its words are no UTF-8", t.Digest, ErrWords)
		}
		if err := line(dossierText{t.Digest, hex.EncodeToString(t.Salt), t.Words}); err != nil {
			return nil, err
		}
	}
	end := dossierEnd{Sum: sha256.Sum256(b.Bytes())}
	if n := len(d.Entries); n > 0 {
		end.Head = d.Entries[n-1].Hash
	}
	err := line(end)
	return b.Bytes(), err
}

// texts are those still there, in their order in the file.
func (d Dossier) texts() []Text {
	var all []Text
	seen := map[Hash]bool{}
	for _, e := range d.Entries {
		rec, err := e.Record(d.Texts)
		if err != nil {
			continue
		}
		for _, t := range textsOf(rec.Event) {
			if there := len(t.Salt) > 0 || t.Words != ""; there && !seen[t.Digest] {
				seen[t.Digest] = true
				all = append(all, *t)
			}
		}
	}
	return all
}

// State folds the session.
func (d Dossier) State() (*State, error) {
	s := NewState(d.Session)
	for _, e := range d.Entries {
		rec, err := e.Record(d.Texts)
		if err != nil {
			return nil, err
		}
		if err := applySafely(s, rec); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// ReadDossier reads a session file and re-checks all of it. The error wraps
// [ErrDossier] and says what [VerifyDossier] finds first, or [ErrNewer].
func ReadDossier(b []byte) (Dossier, error) {
	d, r := checkDossier(b, Paper{})
	f, bad := r.First()
	switch {
	case bad && f.Kind == FoundNewer:
		return Dossier{}, fmt.Errorf("%w: %s", ErrNewer, f)
	case bad:
		return Dossier{}, fmt.Errorf("%w: %s", ErrDossier, f)
	}
	return d, nil
}

// VerifyDossier re-checks a session file: its own sum and form, and the journal
// in it as [Verify] does.
func VerifyDossier(b []byte, paper Paper) Report {
	_, r := checkDossier(b, paper)
	return r
}

func checkDossier(b []byte, paper Paper) (Dossier, Report) {
	var p dossierReader
	p.read(b)
	newer := len(p.findings) == 1 && p.findings[0].Kind == FoundNewer // nothing after the first line was read
	if len(p.entries) == 0 {
		if !newer {
			p.find(0, FoundFile, "it holds no entry")
		}
		sortFindings(p.findings)
		return p.Dossier, Report{Laboratory: p.Laboratory, Session: p.Session, Findings: p.findings}
	}
	p.Dossier.Entries = p.entries
	r := verify(p.Session, p.entries, p.Texts, paper, p.end.Head)
	r.Laboratory = p.Laboratory
	if r.Phase != PhaseRevealed && r.OK() && len(p.findings) == 0 {
		p.find(0, FoundFile, "the session in it is not revealed")
	}
	if r.OK() && len(p.findings) == 0 {
		if again, err := p.Dossier.Bytes(); err != nil || !bytes.Equal(again, b) {
			p.find(0, FoundFile, "its lines are not in the order in which oddcup writes them")
		}
	}
	state := Check{checkFile, Holds, "the file is as it was written, by its own sum"}
	if len(p.findings) > 0 {
		state = Check{checkFile, Fails, ""}
	}
	r.Checks = slices.Insert(r.Checks, 0, state)
	r.Findings = append(r.Findings, p.findings...)
	sortFindings(r.Findings)
	return p.Dossier, r
}

// dossierReader reads as much of a file as makes sense, so that an entry can be
// named where something is wrong.
type dossierReader struct {
	Dossier
	entries  []Entry
	end      dossierEnd
	findings []Finding
}

func (p *dossierReader) find(entry uint64, kind FindingKind, format string, args ...any) {
	p.findings = append(p.findings, Finding{entry, kind, fmt.Sprintf(format, args...)})
}

func (p *dossierReader) read(b []byte) {
	if len(b) > MostDossier {
		p.find(0, FoundFile, "%d bytes are more than the %d that a session file has", len(b), MostDossier)
		return
	}
	body, ended := bytes.CutSuffix(b, []byte("\n"))
	lines := bytes.Split(body, []byte("\n"))
	var head dossierHead
	headOK := canonicalLine(lines[0], &head)
	switch {
	case head.Oddcup != dossierName:
		p.find(0, FoundFile, "line 1: it is no session file of oddcup")
		return
	case head.V > dossierVersion:
		p.find(0, FoundNewer, "line 1: a session file of version %d, and this oddcup reads up to %d", head.V, dossierVersion)
		return
	case !headOK || head.V != dossierVersion || !head.Session.Valid() || head.Session == LabID || utf8.RuneCountInString(head.Laboratory) > longestLab:
		p.find(0, FoundFile, "line 1: it is not as oddcup writes it")
	}
	p.Laboratory, p.Session, p.Texts = head.Laboratory, head.Session, map[Hash]Text{}
	if !ended {
		p.find(0, FoundFile, "line %d: it does not end, so the file is cut short", len(lines))
	}
	lines = lines[1:]
	if n := len(lines); n == 0 || !canonicalLine(lines[n-1], &p.end) {
		p.find(0, FoundFile, "line %d: it is not the last line that oddcup writes", n+1)
	} else {
		if p.end.Sum != sha256.Sum256(b[:len(b)-len(lines[n-1])-1]) {
			p.find(0, FoundFile, "the sum in its last line is not that of the lines before")
		}
		lines = lines[:n-1]
	}
	if head.Entries < 1 || head.Entries > len(lines) {
		p.find(0, FoundFile, "line 1 promises %d entries, and %d lines follow before the last", head.Entries, len(lines))
		head.Entries = min(max(head.Entries, 0), len(lines))
	}
	p.readEntries(lines[:head.Entries])
	p.readTexts(lines[head.Entries:], 2+head.Entries)
}

func (p *dossierReader) readEntries(lines [][]byte) {
	for i, line := range lines {
		e, err := ParseEntry(line)
		if err != nil {
			kind, why := FoundBytes, ErrBadEntry
			if errors.Is(err, ErrNewer) {
				kind, why = FoundNewer, ErrNewer
			}
			p.find(uint64(i)+1, kind, "line %d: %v", i+2, why)
			return
		}
		p.entries = append(p.entries, e)
	}
	if n := len(p.entries); n > 0 && p.end.Head != p.entries[n-1].Hash && !p.end.Sum.IsZero() {
		p.find(uint64(n), FoundFile, "the head hash in the last line is not that of this entry")
	}
}

func (p *dossierReader) readTexts(lines [][]byte, number int) {
	for i, line := range lines {
		var t dossierText
		if !canonicalLine(line, &t) {
			p.find(0, FoundFile, "line %d: it is no typed text as oddcup writes it", number+i)
			continue
		}
		salt, err := hex.DecodeString(t.Salt)
		text := Text{Digest: t.Digest, Salt: salt, Words: t.Words}
		if err != nil || !text.Matches() {
			p.find(0, FoundText, "line %d: the words are not those of their digest", number+i)
		}
		p.Texts[t.Digest] = text
	}
}

// canonicalLine reads one line into v and reports whether v is written as it
// stands.
func canonicalLine(line []byte, v any) bool {
	if json.Unmarshal(line, v) != nil {
		return false
	}
	again, err := json.Marshal(v)
	return err == nil && bytes.Equal(again, line)
}
