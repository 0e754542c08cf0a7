package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"oddcup/session"
	"oddcup/store"
)

// verifyCommand re-checks every journal of a data file and every session file
// that it received, or the session in one session file ([session.Dossier]): its chain, and of a revealed session the
// seal, the drawing and the result. It changes nothing.
//
// It prints a line for each session and, where something is wrong, one for the
// first entry that is. With --json it prints file, kind ("data file" or "session
// file"), wrong (how many) and sessions: for each session, laboratory (of a session
// file, null where none is named), phase, entries, digest and closedAt (null before the seal and the close),
// typed and missing (how many typed words the entries hold by digest, and how many
// of them are not there), says (a sentence), ok, origin (digest: true where the digest on paper is that of
// plan and layout; entries: up to which one they are those of the head hash on
// paper, 0 for none; later: what came after that and is not covered, "" for
// nothing), checks (what, state and says) and findings (entry, 0 where
// it is about no one entry, kind and says), the first entry first.
type verifyCommand struct {
	File    string `arg:"" help:"Data file, or a session file." placeholder:"FILE"`
	Session string `arg:"" optional:"" help:"One session of a data file. Default: all." placeholder:"SESSION"`
	Digest  string `help:"Digest from a printed sheet, whole or in short." placeholder:"DIGEST"`
	Head    string `help:"Head hash at the close, or of a later entry, from paper, whole or in short. It vouches for that entry and all before it." placeholder:"HASH"`
	Entries uint64 `help:"Number of that entry, as it stands beside the hash: so entries that were cut off are missed." placeholder:"N"`
	JSON    bool   `help:"Print JSON."`
}

type verifyOut struct {
	File     string          `json:"file"`
	Kind     string          `json:"kind"`
	Wrong    int             `json:"wrong"`
	Sessions []verifySession `json:"sessions"`
}

type verifySession struct {
	Session    session.ID      `json:"session"`
	Laboratory *string         `json:"laboratory"`
	Phase      session.Phase   `json:"phase"`
	Entries    int             `json:"entries"`
	Digest     *session.Hash   `json:"digest"`
	ClosedAt   *session.Hash   `json:"closedAt"`
	Typed      int             `json:"typed"`
	Missing    int             `json:"missing"`
	OK         bool            `json:"ok"`
	Says       string          `json:"says"`
	Origin     verifyOrigin    `json:"origin"`
	Checks     []verifyCheck   `json:"checks"`
	Findings   []verifyFinding `json:"findings"`
}

type verifyOrigin struct {
	Digest  bool   `json:"digest"`
	Entries uint64 `json:"entries"`
	Later   string `json:"later"`
}

type verifyCheck struct {
	What  string             `json:"what"`
	State session.CheckState `json:"state"`
	Says  string             `json:"says"`
}

type verifyFinding struct {
	Entry uint64              `json:"entry"`
	Kind  session.FindingKind `json:"kind"`
	Says  string              `json:"says"`
}

// Run implements the command.
func (c *verifyCommand) Run(ctx context.Context, to streams) error {
	paper, err := session.ReadPaper(c.Digest, c.Head)
	if err != nil {
		return usage(err.Error(), "copy it from the sheet: 16 digits in groups of four, or all 64")
	}
	if paper, err = paper.OfEntry(c.Entries); err != nil {
		return usage(err.Error(), "give --head with it")
	}
	begin, err := beginning(c.File)
	if err != nil {
		return hinted{err, "name a data file or a session file"}
	}
	var reports []session.Report
	out := verifyOut{File: c.File, Kind: "data file"}
	if strings.HasSuffix(c.File, session.DossierExtension) || bytes.HasPrefix(begin, []byte("{")) {
		out.Kind = "session file"
		reports, err = c.sessionFile(paper)
	} else {
		reports, err = c.dataFile(ctx, paper)
	}
	if err != nil {
		return err
	}
	for _, r := range reports {
		out.Sessions = append(out.Sessions, verifySessionOf(r))
		if !r.OK() {
			out.Wrong++
		}
	}
	if c.JSON {
		if err := printJSON(to.out, out); err != nil {
			return err
		}
	} else {
		for _, r := range reports {
			fmt.Fprintln(to.out, lineOf(r))
			if f, bad := r.First(); bad {
				fmt.Fprintf(to.out, "  first: %s\n", f)
			} else if r.FromFile() {
				fmt.Fprintf(to.out, "  %s\n", session.LabelsWords)
			}
		}
	}
	return c.verdict(reports)
}

// verdict is nil where nothing is wrong.
func (c *verifyCommand) verdict(reports []session.Report) error {
	wrong := slices.DeleteFunc(slices.Clone(reports), session.Report.OK)
	if len(wrong) == 0 {
		return nil
	}
	only := func(kind session.FindingKind) bool {
		return !slices.ContainsFunc(wrong, func(r session.Report) bool {
			return slices.ContainsFunc(r.Findings, func(f session.Finding) bool { return f.Kind != kind })
		})
	}
	err := fmt.Errorf("%s: %s of %s did not stand up", c.File, counted(len(wrong), "journal"), fmt.Sprint(len(reports)))
	switch {
	case only(session.FoundNewer):
		return hinted{err, "a newer oddcup wrote it: verify it with that one"}
	case only(session.FoundPaper):
		return hinted{err, "compare digest and hash with the paper again, letter by letter: a typing slip looks the same as another session"}
	}
	return hinted{err, "keep the file as it is, and hold it against a copy made before, or against what was printed"}
}

// sessionFile re-checks a session file.
func (c *verifyCommand) sessionFile(paper session.Paper) ([]session.Report, error) {
	b, err := readAll(c.File, session.MostDossier)
	if err != nil {
		return nil, hinted{err, "name a session file that oddcup wrote"}
	}
	r := session.VerifyDossier(b, paper)
	if c.Session != "" && session.ID(c.Session) != r.Session {
		return nil, hinted{fmt.Errorf("%s: it is not of session %s", c.File, c.Session), "leave the session out: a session file holds one"}
	}
	return []session.Report{r}, nil
}

// dataFile re-checks the journals of a data file.
func (c *verifyCommand) dataFile(ctx context.Context, paper session.Paper) ([]session.Report, error) {
	db, err := openStoreToRead(c.File)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	ids, err := db.Journals(ctx)
	if err != nil {
		return nil, hinted{err, "keep the file as it is, and go on with a copy made before"}
	}
	rows, err := db.Rows(ctx)
	if err != nil {
		return nil, hinted{err, "keep the file as it is, and look at it with oddcup check"}
	}
	known := map[session.ID]session.Row{}
	for _, row := range rows {
		known[row.ID] = row
		if !slices.Contains(ids, row.ID) {
			ids = append(ids, row.ID) // its journal is gone
		}
	}
	others, err := db.Received(ctx)
	if err != nil {
		return nil, hinted{err, "keep the file as it is, and go on with a copy made before"}
	}
	sessions := slices.DeleteFunc(slices.Clone(ids), func(id session.ID) bool { return id == session.LabID })
	for _, x := range others {
		sessions = append(sessions, x.Session)
	}
	switch {
	case c.Session != "" && !slices.Contains(sessions, session.ID(c.Session)):
		return nil, hinted{fmt.Errorf("%s: it has no session %s", c.File, c.Session), "leave the session out: then all are listed"}
	case c.Session != "":
		others = slices.DeleteFunc(others, func(x session.Received) bool { return string(x.Session) != c.Session })
		ids = slices.DeleteFunc(ids, func(id session.ID) bool { return string(id) != c.Session })
	case !paper.IsZero() && len(sessions) != 1:
		return nil, usage("digest and hash on paper are of one session, and the file has "+fmt.Sprint(len(sessions)), "name it: oddcup verify FILE SESSION")
	}
	slices.Sort(ids)
	var reports []session.Report
	for _, id := range ids {
		r, err := reportOf(ctx, db, id, paper)
		if err != nil {
			return nil, err
		}
		if row := known[id]; r.OK() && id != session.LabID && row.Seq != uint64(r.Entries) {
			r.Findings = append(r.Findings, session.Finding{
				Kind: session.FoundFile, Say: fmt.Sprintf("the file's index knows of %d entries, and %d are there", row.Seq, r.Entries),
			})
		}
		reports = append(reports, r)
	}
	for _, x := range others {
		r := session.VerifyDossier(x.File, paper)
		if r.OK() && r.Session != x.Session {
			r.Findings = append(r.Findings, session.Finding{Kind: session.FoundFile, Say: "it is kept under another session's name"})
		}
		r.Session, r.Laboratory = x.Session, x.Laboratory
		reports = append(reports, r)
	}
	return reports, nil
}

// reportOf re-checks one journal. Bytes that the store does not take are a
// finding of their own.
func reportOf(ctx context.Context, db *store.DB, id session.ID, paper session.Paper) (session.Report, error) {
	entries, texts, err := db.Load(ctx, id)
	switch {
	case errors.Is(err, store.ErrDamaged):
		f := session.Finding{Kind: session.FoundBytes, Say: strings.TrimPrefix(err.Error(), fmt.Sprintf("journal %q: ", id))}
		if _, err := fmt.Sscanf(f.Say, "entry %d:", &f.Entry); err == nil {
			f.Say = strings.TrimPrefix(f.Say, fmt.Sprintf("entry %d: ", f.Entry))
		}
		return session.Report{Session: id, Findings: []session.Finding{f}}, nil
	case err != nil:
		return session.Report{}, err
	case id == session.LabID:
		return session.VerifyLab(entries, texts), nil
	}
	return session.Verify(id, entries, texts, paper), nil
}

// lineOf says in one line how a journal stands.
func lineOf(r session.Report) string {
	what := string(r.Phase)
	switch {
	case r.Session == session.LabID:
		what = "the laboratory's register"
	case what == "":
		what = "can't be read"
	}
	name := string(r.Session)
	switch {
	case name == "":
		name = "no session"
	case r.Laboratory != "":
		name += ", " + r.Laboratory
	}
	says := r.Words()
	if !r.OK() {
		says = "WRONG"
	}
	return fmt.Sprintf("%s: %s, %s: %s", name, what, entriesOf(r.Entries), says)
}

func entriesOf(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

func verifySessionOf(r session.Report) verifySession {
	v := verifySession{
		Session: r.Session, Phase: r.Phase, Entries: r.Entries, Typed: r.Typed, Missing: r.Missing, OK: r.OK(), Says: r.Words(),
		Origin: verifyOrigin{r.Origin.Sealed, r.Origin.Through, r.Origin.Later}, Checks: []verifyCheck{}, Findings: []verifyFinding{},
	}
	if r.Laboratory != "" {
		v.Laboratory = &r.Laboratory
	}
	if !r.Digest.IsZero() {
		v.Digest = &r.Digest
	}
	if !r.ClosedAt.IsZero() {
		v.ClosedAt = &r.ClosedAt
	}
	for _, c := range r.Checks {
		v.Checks = append(v.Checks, verifyCheck{c.What, c.State, c.Say})
	}
	for _, f := range r.Findings {
		v.Findings = append(v.Findings, verifyFinding{f.Entry, f.Kind, f.Say})
	}
	return v
}

// beginning gives the first byte of a file, none of an empty one.
func beginning(path string) ([]byte, error) {
	if _, err := plainFile(path); err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, cause(err))
	}
	defer f.Close()
	b := make([]byte, 1)
	n, _ := f.Read(b)
	return b[:n], nil
}
