package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/session/record"
	"oddcup/stats"
)

// judgesCommand tells and fills the records of judges.
type judgesCommand struct {
	Panel    judgesPanel    `cmd:"" default:"withargs" help:"Print the panel: what counts of each judge, the estimate and its interval, and how it stands."`
	Show     judgesShow     `cmd:"" help:"Print the record of one judge."`
	Import   judgesImport   `cmd:"" help:"Take earlier records from a table."`
	Export   judgesExport   `cmd:"" help:"Write every judged set and paper record as a table for a statistics program."`
	Simulate judgesSimulate `cmd:"" help:"Simulate panels of known ability, and hold what is flagged to the stated rates."`
}

// labFile is a data file opened to read the record of its judges.
type labFile struct {
	lab    *session.Lab
	judged []session.JudgedSession
	book   *record.Book
}

func readLab(ctx context.Context, named string) (f labFile, err error) {
	data, err := dataFile(named)
	if err != nil {
		return f, err
	}
	db, err := openStoreToRead(data)
	if err != nil {
		return f, err
	}
	defer db.Close()
	rooms, err := session.NewRooms(ctx, db)
	if err != nil {
		return f, fmt.Errorf("%s: %w", data, err)
	}
	defer rooms.Close()
	f.lab = rooms.Lab().State()
	if f.judged, err = rooms.Judged(ctx); err != nil {
		return f, hinted{fmt.Errorf("%s: %w", data, err), "look at the file with oddcup check"}
	}
	f.book = record.Open(f.lab, f.judged, time.Now())
	return f, nil
}

// name is a person's name where names were asked for and one is kept.
func (f labFile) name(id session.PersonID, wanted bool) string {
	if p, ok := f.lab.Person(id); ok && wanted {
		return p.Name.Words
	}
	return ""
}

// judgesPanel prints the panel. People are named by pseudonym, unless names are
// asked for.
//
// With --json it prints headline, size (the d′ at which estimates are told), spread
// (of ln ability), judges, each with pseudonym, name (with --names), status, control
// and routine (sets and right that count), blank, notCounted, tests, ability with
// abilityFrom and abilityTo, dPrime with dPrimeFrom and dPrimeTo, expected (right, by
// a typical panellist), standing, adjusted (p-value) and say; then drift (charts: judges who
// have one; byLuck: how many would be listed by luck; signals: sentences, of the last
// sets alone), rules, each with rule and words (sentences: who holds it, ran out of it,
// shows what it wants or is near it), detect, agreement and leftOut (sentences), untiedSeats and seriesDue
// (sentences).
type judgesPanel struct {
	Data       string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	ByEstimate bool   `help:"In the order of the estimates, highest first. Default: in that of the register."`
	Names      bool   `help:"Print names beside pseudonyms."`
	JSON       bool   `help:"Print JSON."`
}

type panelOut struct {
	Headline    string     `json:"headline"`
	Size        float64    `json:"size"`
	Spread      float64    `json:"spread"`
	Judges      []judgeOut `json:"judges"`
	Drift       driftOut   `json:"drift"`
	Rules       []ruleOut  `json:"rules"`
	Detect      []string   `json:"detect"`
	Agreement   []string   `json:"agreement"`
	LeftOut     []string   `json:"leftOut"`
	UntiedSeats int        `json:"untiedSeats"`
	SeriesDue   []string   `json:"seriesDue"`
}

type ruleOut struct {
	Rule  string   `json:"rule"`
	Words []string `json:"words"`
}

type driftOut struct {
	Charts  int      `json:"charts"`
	ByLuck  float64  `json:"byLuck"`
	Signals []string `json:"signals"`
}

type judgeOut struct {
	Pseudonym   string         `json:"pseudonym"`
	Name        string         `json:"name,omitempty"`
	Status      session.Status `json:"status"`
	Control     countOut       `json:"control"`
	Routine     countOut       `json:"routine"`
	Blank       countOut       `json:"blank"`
	NotCounted  int            `json:"notCounted"`
	Tests       int            `json:"tests"`
	Ability     float64        `json:"ability"`
	AbilityFrom float64        `json:"abilityFrom"`
	AbilityTo   float64        `json:"abilityTo"`
	DPrime      float64        `json:"dPrime"`
	DPrimeFrom  float64        `json:"dPrimeFrom"`
	DPrimeTo    float64        `json:"dPrimeTo"`
	Expected    float64        `json:"expected"`
	Standing    stats.Standing `json:"standing"`
	Adjusted    float64        `json:"adjusted"`
	Say         string         `json:"say"`
}

type countOut struct {
	Sets  int `json:"sets"`
	Right int `json:"right"`
}

// Run implements the command.
func (c *judgesPanel) Run(ctx context.Context, to streams) error {
	f, err := readLab(ctx, c.Data)
	if err != nil {
		return err
	}
	p := f.book.Panel()
	rows := p.Judges
	if c.ByEstimate {
		rows = p.ByEstimate()
	}
	out := panelOut{
		Headline: p.Headline, Size: p.Size, Spread: p.Spread,
		Judges: []judgeOut{}, Detect: []string{}, Agreement: []string{p.Agreement.Say}, LeftOut: []string{}, SeriesDue: []string{},
	}
	for _, r := range rows {
		out.Judges = append(out.Judges, judgeOutOf(r, f.name(r.Person, c.Names)))
	}
	signals := f.book.Drifting()
	out.Drift = driftOut{signals.Charts, signals.ByLuck, []string{}}
	for _, d := range signals.Judges {
		out.Drift.Signals = append(out.Drift.Signals, d.Pseudonym+": "+d.Say)
	}
	out.Rules = []ruleOut{}
	for _, r := range f.book.Ready() {
		out.Rules = append(out.Rules, ruleOut{r.Rule, r.Words()})
	}
	for _, d := range p.Detect {
		out.Detect = append(out.Detect, d.Say)
	}
	for _, b := range p.Agreement.Beyond {
		out.Agreement = append(out.Agreement, b.Say)
	}
	for _, l := range p.LeftOut {
		out.LeftOut = append(out.LeftOut, l.Say)
	}
	for _, u := range p.Untied {
		out.UntiedSeats += len(u.Seats)
	}
	for _, d := range p.Due {
		out.SeriesDue = append(out.SeriesDue, d.Say)
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	fmt.Fprintln(to.out, p.Headline)
	if len(rows) == 0 {
		fmt.Fprintln(to.out, "Enter people on the console, and say who had which seat.")
		return nil
	}
	fmt.Fprintf(to.out, "\n%-30s%12s%12s%14s%24s  %s\n", "judge", "control", "routine", "typical", "d′ and 95 % interval", "standing")
	for _, j := range out.Judges {
		who := j.Pseudonym
		if j.Name != "" {
			who += " (" + j.Name + ")"
		}
		fmt.Fprintf(to.out, "%-30s%12s%12s%14s%24s  %s\n", who, j.Control.words(), j.Routine.words(), fmt.Sprintf("%.1f", j.Expected),
			fmt.Sprintf("%.2f (%.2f to %.2f)", j.DPrime, j.DPrimeFrom, j.DPrimeTo), j.standing())
	}
	fmt.Fprintf(to.out, "\ncontrol, routine: right of the sets that count; typical: right that a typical panellist expects in the same sets.\n"+
		"Estimates are told at %s, and drawn towards the panel the more the less is known.\n%s\n", p.SizeSay, p.Adjustment)
	if signals.Charts > 0 {
		fmt.Fprintf(to.out, "Signals of a drift, among each judge's last %d sets that count, older ones with oddcup judges show: %s\n", record.DriftRecent, signals.Say)
		if len(signals.Judges) == 0 {
			fmt.Fprintln(to.out, "  No chart has given one of late. That does not show that nobody drifts.")
		}
	}
	for _, s := range out.Drift.Signals {
		fmt.Fprintln(to.out, "  "+s)
	}
	for _, r := range out.Rules {
		fmt.Fprintf(to.out, "Rule “%s”\n", r.Rule)
		for _, s := range r.Words {
			fmt.Fprintln(to.out, "  "+s)
		}
	}
	for _, say := range [][]string{out.Detect, out.Agreement, out.LeftOut, out.SeriesDue} {
		for _, s := range say {
			fmt.Fprintln(to.out, s)
		}
	}
	return nil
}

func judgeOutOf(r record.Row, name string) judgeOut {
	return judgeOut{
		Pseudonym: r.Pseudonym, Name: name, Status: r.Status,
		Control: countOut(r.Control), Routine: countOut(r.Routine), Blank: countOut(r.Blank), NotCounted: r.NotCounted, Tests: r.Tests,
		Ability: r.Ability, AbilityFrom: r.AbilityInterval.Lower, AbilityTo: r.AbilityInterval.Upper,
		DPrime: r.DPrime, DPrimeFrom: r.DPrimeInterval.Lower, DPrimeTo: r.DPrimeInterval.Upper,
		Expected: r.Expected, Standing: r.Standing, Adjusted: r.Adjusted, Say: r.Say,
	}
}

func (c countOut) words() string {
	if c.Sets == 0 {
		return "–"
	}
	return fmt.Sprintf("%d of %d", c.Right, c.Sets)
}

func (j judgeOut) standing() string {
	switch j.Standing {
	case stats.StandingWeak, stats.StandingStrong:
		return fmt.Sprintf("%s (adjusted p %.2g)", j.Standing, j.Adjusted)
	case stats.StandingUnknown:
		return "too few tests"
	}
	return "no clear difference"
}

// judgesShow prints the record of one judge, in the words of the console.
//
// With --json it prints the fields of the panel's judges, and headline, groups,
// controls, scale, series, drift, habits, guesses, blanks, directions, time,
// qualifications and leftOut, all of them sentences, and tests, each with session,
// test, date, method, kind, label, sets, right, chance, size, typical, counts and say.
type judgesShow struct {
	Judge string `arg:"" help:"The judge's pseudonym." placeholder:"PSEUDONYM"`
	Data  string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	Own   bool   `help:"Print what the judge reads on his or her own page."`
	Names bool   `help:"Print the name beside the pseudonym."`
	JSON  bool   `help:"Print JSON."`
}

type judgeShowOut struct {
	judgeOut
	Headline       string          `json:"headline"`
	Groups         []string        `json:"groups"`
	Controls       []string        `json:"controls"`
	Scale          string          `json:"scale"`
	Series         []string        `json:"series"`
	Drift          []string        `json:"drift"`
	Habits         []string        `json:"habits"`
	Guesses        string          `json:"guesses"`
	Blanks         string          `json:"blanks"`
	Directions     []string        `json:"directions"`
	Time           string          `json:"time"`
	Qualifications []string        `json:"qualifications"`
	LeftOut        []string        `json:"leftOut"`
	Tests          []judgedTestOut `json:"tests"`
}

type judgedTestOut struct {
	Session string             `json:"session"`
	Test    int                `json:"test"`
	Date    string             `json:"date"`
	Method  string             `json:"method"`
	Kind    session.JudgedKind `json:"kind"`
	Label   string             `json:"label,omitempty"`
	Sets    int                `json:"sets"`
	Right   int                `json:"right"`
	Chance  float64            `json:"chance"`
	Size    float64            `json:"size"`
	Typical float64            `json:"typical"`
	Counts  bool               `json:"counts"`
	Say     string             `json:"say"`
}

// Run implements the command.
func (c *judgesShow) Run(ctx context.Context, to streams) error {
	f, err := readLab(ctx, c.Data)
	if err != nil {
		return err
	}
	id, ok := f.find(c.Judge)
	if !ok {
		return hinted{fmt.Errorf("no judge has the pseudonym %q", c.Judge), "oddcup judges lists all"}
	}
	j, _ := f.book.Judge(id)
	if c.Own {
		own := j.Own()
		if c.JSON {
			return printJSON(to.out, own)
		}
		fmt.Fprintln(to.out, strings.Join(own, "\n"))
		return nil
	}
	out := judgeShowOut{
		judgeOut: judgeOutOf(j.Row, f.name(id, c.Names)), Headline: j.Headline, Scale: j.Scale.Say,
		Groups: []string{}, Controls: []string{}, Series: []string{}, Drift: []string{}, Habits: []string{}, Directions: []string{},
		Guesses: j.Guesses.Say, Blanks: j.Blanks.Say, Time: j.Time.Say, Qualifications: []string{}, LeftOut: []string{}, Tests: []judgedTestOut{},
	}
	for _, g := range j.Groups {
		label := g.Label + " difference"
		if g.Kind == session.KindControl {
			label = "control “" + g.Label + "”"
		}
		m, _ := session.MethodByKey(g.Method)
		out.Groups = append(out.Groups, fmt.Sprintf("%s, %s: %s", m.Name, label, g.Say))
	}
	for _, x := range j.Controls {
		out.Controls = append(out.Controls, x.Say)
	}
	for _, s := range j.Series {
		out.Series = append(out.Series, s.Say)
	}
	out.Series = append(out.Series, j.SeriesSay)
	if j.Drift != nil {
		out.Drift = append(out.Drift, j.Drift.Say)
	}
	for _, h := range j.Habits {
		out.Habits = append(out.Habits, h.Say)
	}
	for _, d := range j.Directions {
		out.Directions = append(out.Directions, d.Say)
	}
	for _, q := range j.Qualifications {
		out.Qualifications = append(out.Qualifications, q.Say)
	}
	for _, b := range j.Shown {
		out.Qualifications = append(out.Qualifications, fmt.Sprintf("By the rule “%s”, undecided: %s", b.Rule, b.Say))
	}
	for _, l := range j.LeftOut {
		out.LeftOut = append(out.LeftOut, l.Say)
	}
	for _, t := range j.Tests {
		out.Tests = append(out.Tests, judgedTestOut{
			string(t.Session), t.Test, t.At.Format(time.DateOnly), t.Method, t.Kind, t.Label, t.Count.Sets, t.Count.Right, t.Chance, t.Size, t.Typical, t.Counts, t.Say,
		})
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	out.tell(to)
	return nil
}

// find finds a judge by pseudonym.
func (f labFile) find(pseudonym string) (session.PersonID, bool) {
	for _, r := range f.book.Panel().Judges {
		if strings.EqualFold(r.Pseudonym, strings.TrimSpace(pseudonym)) {
			return r.Person, true
		}
	}
	return "", false
}

func (out judgeShowOut) tell(to streams) {
	who := out.Pseudonym
	if out.Name != "" {
		who += " (" + out.Name + ")"
	}
	fmt.Fprintf(to.out, "%s, %s\n%s\n%s\n", who, out.Status, out.Headline, out.Scale)
	for _, part := range []struct {
		head string
		say  []string
	}{
		{"By method and difficulty", out.Groups}, {"Controls, one d′ for all methods", out.Controls}, {"Series", out.Series}, {"Drift", out.Drift},
		{"Habits of place", out.Habits}, {"Guesses", []string{out.Guesses}}, {"Two brews of one lot", []string{out.Blanks}},
		{"Direction", out.Directions}, {"Time", []string{out.Time}}, {"Qualifications", out.Qualifications}, {"Left out", out.LeftOut},
	} {
		if len(part.say) == 0 {
			continue
		}
		fmt.Fprintf(to.out, "\n%s\n", part.head)
		for _, s := range part.say {
			fmt.Fprintln(to.out, "  "+s)
		}
	}
	if len(out.Tests) == 0 {
		return
	}
	fmt.Fprintf(to.out, "\nTests, newest first\n")
	for _, t := range out.Tests {
		from := t.Session
		if from == "" {
			from = "on paper"
		}
		fmt.Fprintf(to.out, "  %s  %-30s %-20s %-8s %3d of %-4d %s\n", t.Date, from, t.Method, t.Kind, t.Right, t.Sets, t.Say)
	}
}

// judgesImport takes earlier records of judges from a table, all of them or, with
// faults, none, unless told to leave wrong rows out: see
// [session.Lab.ParsePaperRecords] for the columns.
//
// Rows that would be several tests of one tasting, see [session.Lab.PaperTests], are
// refused unless told that they are tests of their own.
//
// With --json it prints taken (records), faults, each with line and say, and apart
// (sentences: the tastings that are several tests).
type judgesImport struct {
	File    string `arg:"" help:"Table as CSV with the columns person, date, method, kind, control, dprime, sets, right and source." placeholder:"FILE.csv"`
	Data    string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	SkipBad bool   `help:"Leave wrong rows of the table out."`
	Apart   bool   `help:"Take rows of one day, method and control that differ in source or dprime as tests of their own. Rows of one test need the same source."`
	JSON    bool   `help:"Print JSON."`
}

type importOut struct {
	Taken  int        `json:"taken"`
	Faults []faultOut `json:"faults"`
	Apart  []string   `json:"apart"`
}

type faultOut struct {
	Line int    `json:"line"`
	Say  string `json:"say"`
}

// mostTable bounds the bytes of a table of earlier records.
const mostTable = 8 << 20

// Run implements the command.
func (c *judgesImport) Run(ctx context.Context, to streams) error {
	table, err := readAll(c.File, mostTable)
	if err != nil {
		return hinted{err, "name a table saved as CSV"}
	}
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	_, rooms, shut, err := openRooms(ctx, data, "stop that oddcup, or import on its console")
	if err != nil {
		return err
	}
	defer shut()
	records, faults := rooms.Lab().State().ParsePaperRecords(strings.NewReader(string(table)), time.Now())
	out := importOut{Faults: []faultOut{}, Apart: append([]string{}, rooms.Lab().State().PaperTests(records)...)}
	for _, f := range faults {
		out.Faults = append(out.Faults, faultOut{f.Line, f.Say})
	}
	refused := len(records) == 0 || len(faults) > 0 && !c.SkipBad
	asked := len(out.Apart) > 0 && !c.Apart
	if !refused && !asked {
		act := session.Command{At: time.Now(), Actor: session.Host, Act: session.ImportRecords{Records: records}}
		if _, err := rooms.Lab().Do(ctx, act); err != nil {
			return hinted{fmt.Errorf("%s: %w", c.File, err), "nothing was taken"}
		}
		out.Taken = len(records)
	}
	if c.JSON {
		if err := printJSON(to.out, out); err != nil {
			return err
		}
	} else {
		for _, f := range faults {
			fmt.Fprintf(to.err, "%s, %s\n", c.File, f)
		}
		for _, say := range out.Apart {
			fmt.Fprintf(to.err, "%s: %s\n", c.File, say)
		}
	}
	switch {
	case refused && len(faults) == 0:
		return hinted{fmt.Errorf("%s: there is no record in it", c.File), "write one row a record under the line of column names"}
	case refused && len(records) == 0:
		return hinted{fmt.Errorf("%s: nothing was taken", c.File), "correct the rows that are named"}
	case refused:
		return hinted{fmt.Errorf("%s: nothing was taken", c.File), "correct the rows that are named, or leave them out with --skip-bad"}
	case asked:
		return hinted{fmt.Errorf("%s: nothing was taken, since rows that may be of one tasting would be several tests, and judges are compared within one test alone", c.File),
			"write one source and one dprime in all rows of a tasting, or take them as tests of their own with --apart"}
	}
	if !c.JSON {
		fmt.Fprintf(to.out, "%s: %s taken\n", data, counted(out.Taken, "record"))
		if len(faults) > 0 {
			fmt.Fprintf(to.out, "%s left out\n", counted(len(faults), "wrong row"))
		}
	}
	return nil
}

// judgesExport writes the table of all judged sets: see [session.RecordsCSV].
type judgesExport struct {
	Data string `help:"Data file. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	Out  string `help:"File to write, which must not be there." default:"records.csv" placeholder:"FILE.csv"`
}

// Run implements the command.
func (c *judgesExport) Run(ctx context.Context, to streams) error {
	f, err := readLab(ctx, c.Data)
	if err != nil {
		return err
	}
	table, err := session.RecordsCSV(f.lab, f.judged)
	if err != nil {
		return err
	}
	switch err := writeNew(newFile{c.Out, 0o600, table}); {
	case errors.Is(err, fs.ErrExist):
		return hinted{err, "nothing is written over: name another file with --out FILE.csv"}
	case errors.Is(err, os.ErrPermission), err != nil:
		return hinted{err, "name a folder that can be written to with --out FILE.csv"}
	}
	sets := 0
	for _, j := range f.judged {
		sets += len(j.Sets)
	}
	fmt.Fprintf(to.out, "%s: %s and %s, people by pseudonym\n", c.Out, counted(sets, "set"), counted(len(f.lab.Papers), "record")+" from paper")
	return nil
}
