package main

import (
	"bytes"
	crand "crypto/rand"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"oddcup/session"
)

// layoutCommand draws sealed layouts for paper and checks them.
type layoutCommand struct {
	Draw  layoutDraw  `cmd:"" default:"withargs" help:"Draw and seal a layout, and write it and its serving key."`
	Check layoutCheck `cmd:"" help:"Check that a key fits its digest, and a layout its key."`
	Pour  layoutPour  `cmd:"" help:"Print what the pourer pours into each cup, from the key."`
}

// layoutDraw draws and seals a layout without a server and writes two files,
// which must not exist yet: NAME-layout.csv, the layout without lots
// ([layoutCSV]), and NAME-key.json, the serving key ([servingKey]), which only
// its owner can read. It prints the digest.
//
// With --json it prints layout and key (the files' names), digest, seats, sets
// (for each seat), cups (planned) and warnings (sentences).
type layoutDraw struct {
	testFlags `embed:""`
	Seats     *int   `help:"Number of seats. Default: 24, or as many as the flights have." placeholder:"N"`
	Sets      *int   `help:"Sets for each seat. Default: 1." placeholder:"N"`
	Flights   []int  `help:"Seats of each flight, such as 12,12." placeholder:"N"`
	Title     string `help:"Title, which names no lot and no attribute. Default: Blind tasting." placeholder:"WORDS"`
	Untreated string `help:"Number of the untreated lot." placeholder:"NUMBER"`
	Processed string `help:"Number of the processed lot." placeholder:"NUMBER"`

	Plan string `help:"Take the whole plan from a file instead: the JSON that stands as plan in a serving key." placeholder:"FILE.json"`
	Out  string `help:"The files are NAME-layout.csv and NAME-key.json." default:"oddcup" placeholder:"NAME"`
	Seed string `help:"Draw from this seed of 64 hexadecimal digits, to repeat a drawing. A seed that anybody knows is no secret: nothing is blind then." placeholder:"HEX"`
	JSON bool   `help:"Print JSON."`
}

type layoutOut struct {
	Layout   string   `json:"layout"`
	Key      string   `json:"key"`
	Digest   string   `json:"digest"`
	Seats    int      `json:"seats"`
	Sets     int      `json:"sets"`
	Cups     int      `json:"cups"`
	Warnings []string `json:"warnings"`
}

// Run implements the command.
func (c *layoutDraw) Run(to streams) error {
	plan, err := c.plan()
	if err != nil {
		return err
	}
	sealing, err := c.seal(plan)
	if err != nil {
		return err
	}
	key, err := keyOf(sealing).bytes()
	if err != nil {
		return err
	}
	layout, err := layoutCSV(plan, sealing.Layout, sealing.Digest)
	if err != nil {
		return err
	}
	out := layoutOut{
		Layout: c.Out + "-layout.csv", Key: c.Out + "-key.json", Digest: sealing.Digest.String(),
		Seats: plan.Seats, Sets: plan.SetsPerSeat(), Cups: plan.Supplies().Cups, Warnings: []string{},
	}
	for _, f := range plan.Forecast() {
		for _, w := range f.Warnings {
			out.Warnings = append(out.Warnings, fmt.Sprintf("Test %d: %s", f.Number, w))
		}
	}
	// The key first: there is never a layout without one.
	err = writeNew(newFile{out.Key, 0o600, key}, newFile{out.Layout, 0o644, layout})
	switch {
	case errors.Is(err, fs.ErrExist):
		return hinted{err, "nothing is written over: name other files with --out NAME"}
	case err != nil:
		return hinted{err, "name a folder that can be written to with --out NAME"}
	}
	if c.Seed != "" {
		fmt.Fprintln(to.err, "This layout can be repeated by all who know its seed, and they know the key. Don't taste from it.")
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	fmt.Fprintf(to.out, "%s: codes of %d seats, %s each; no lot in it\n", out.Layout, out.Seats, counted(out.Sets, "set"))
	fmt.Fprintf(to.out, "%s: the serving key, for the pourer alone until all ballots are in\n", out.Key)
	fmt.Fprintf(to.out, "Digest, to be noted or read out before anyone tastes:\n  %s\n", out.Digest)
	for _, say := range ballotWords(plan) {
		fmt.Fprintln(to.out, say)
	}
	for _, w := range out.Warnings {
		fmt.Fprintf(to.out, "Mind: %s\n", w)
	}
	return nil
}

func (c *layoutDraw) plan() (session.Plan, error) {
	if c.Plan != "" {
		return c.planOfFile()
	}
	sets := 1
	if c.Sets != nil {
		sets = *c.Sets
	}
	t, err := c.testFlags.plan(sets)
	if err != nil {
		return session.Plan{}, err
	}
	p := session.UsualPlan()
	p.Tests = []session.TestPlan{t}
	p.Title, p.Flights = c.Title, c.Flights
	if p.Title == "" {
		p.Title = "Blind tasting"
	}
	p.Untreated = session.Lot{ID: "lot-1", Number: c.Untreated, Treatment: session.Treatments[0]}
	p.Processed = session.Lot{ID: "lot-2", Number: c.Processed}
	if len(c.Flights) > 0 {
		p.Seats = 0
		for _, n := range c.Flights {
			p.Seats += n
		}
	}
	if c.Seats != nil {
		p.Seats = *c.Seats
	}
	if f := p.Check(); f != nil {
		return p, usage(f.Error(), hintOf(f))
	}
	return p, nil
}

// hintOf says by which flags a plan's faults are put right.
func hintOf(faults session.Faults) string {
	for _, f := range faults {
		if strings.HasSuffix(f.Field, ".attribute") || strings.HasSuffix(f.Field, ".definition") {
			return `give both, such as --attribute body --definition "Body: how full and heavy the coffee feels in the mouth"`
		}
	}
	return "see: oddcup layout draw --help"
}

// ballotWords say how the answers of a plan's tests are typed for oddcup result.
func ballotWords(p session.Plan) []string {
	columns, reference := []string{columnSeat, columnSet, columnPick}, false
	for _, t := range p.Tests {
		m, _ := session.MethodByKey(t.Method)
		if m.Picks == 2 && !slices.Contains(columns, columnAlso) {
			columns = append(columns, columnAlso)
		}
		reference = reference || m.References() > 0
	}
	say := []string{"Ballots: a row for each seat's set, under " + strings.Join(columns, ",") + ". Then: oddcup result FILE.csv --key KEY.json"}
	if slices.Contains(columns, columnAlso) {
		say = append(say, "In a tetrad pick and also are two cups that were put together, either pair.")
	}
	if reference {
		say = append(say, "In a duo-trio test cup 1 is the reference: tell tasters so. Its code is no answer.")
	}
	return say
}

func (c *layoutDraw) planOfFile() (session.Plan, error) {
	var p session.Plan
	if c.testFlags.given() || c.Seats != nil || c.Sets != nil || len(c.Flights) > 0 || c.Title+c.Untreated+c.Processed != "" {
		return p, usage("--plan takes the whole plan from a file, and another flag says something of it as well", "change the file, or leave --plan out")
	}
	b, err := readAll(c.Plan, mostKey)
	if err != nil {
		return p, hinted{err, "name a file that holds a plan"}
	}
	if err := strictJSON(b, &p); err != nil {
		return p, hinted{fmt.Errorf("%s: it is no plan: %w", c.Plan, err), "take the JSON that stands as plan in a serving key as a start"}
	}
	if f := p.Check(); f != nil {
		return p, hinted{fmt.Errorf("%s: %w", c.Plan, f), "change the plan"}
	}
	for i, t := range p.Tests {
		if t.Sequential {
			return p, hinted{
				fmt.Errorf("%s: test %d may stop early, and on paper nobody may look before the end", c.Plan, i+1),
				"run it with oddcup serve, or plan a fixed number",
			}
		}
	}
	return p, nil
}

// seal draws with the system's chance, or from --seed. Then the salt comes from
// the seed as well, so that both files are repeated to the byte.
func (c *layoutDraw) seal(p session.Plan) (session.Sealing, error) {
	if c.Seed == "" {
		return session.Seal(p, crand.Reader)
	}
	var seed session.Seed
	b, err := hex.DecodeString(c.Seed)
	if err != nil || len(b) != len(seed) {
		return session.Sealing{}, usage(fmt.Sprintf("--seed %q is not 64 hexadecimal digits", c.Seed), "leave it out: then the system's chance draws")
	}
	copy(seed[:], b)
	return sealWith(p, seed, sha256.Sum256(append([]byte("oddcup layout salt\n"), seed[:]...)))
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// layoutCheck seals the plan of a key again and compares digest and layout; and,
// where a layout is named, compares that with the key's, cell by cell.
type layoutCheck struct {
	Key    string `arg:"" help:"Key file." placeholder:"KEY.json"`
	Layout string `arg:"" optional:"" help:"Layout file." placeholder:"LAYOUT.csv"`
}

// Run implements the command.
func (c *layoutCheck) Run(to streams) error {
	k, err := readKey(c.Key)
	if err != nil {
		return err
	}
	if c.Layout != "" {
		b, err := readAll(c.Layout, mostKey)
		if err != nil {
			return hinted{err, "name the layout file that was written with the key"}
		}
		if err := k.compare(b); err != nil {
			return hinted{fmt.Errorf("%s: %w", c.Layout, err), "use the layout as it was written with this key: cups labelled from another one are not those of the key"}
		}
		fmt.Fprintf(to.out, "%s: it is the layout of the key\n", c.Layout)
	}
	fmt.Fprintf(to.out, "%s: plan, layout, seed and salt give the digest\n  %s\nCompare it with what was noted before anyone tasted.\n", c.Key, k.Digest)
	return nil
}

// compare holds a layout file to the key. A spreadsheet may have written it
// anew, with other line ends, quotes and empty cells.
func (k servingKey) compare(layout []byte) error {
	want, err := layoutCSV(k.Plan, k.Layout, k.Digest)
	if err != nil {
		return err
	}
	have, wanted := records(layout), records(want)
	for i := range max(len(have), len(wanted)) {
		switch {
		case i >= len(have):
			return fmt.Errorf("it ends before line %d", i+1)
		case i >= len(wanted):
			return fmt.Errorf("line %d is more than the key's layout has", i+1)
		case !slices.Equal(have[i], wanted[i]):
			return fmt.Errorf("line %d is not the key's", i+1)
		}
	}
	return nil
}

// records are the rows of a CSV file without empty cells at their ends and
// empty rows at the end.
func records(b []byte) [][]string {
	var rows [][]string
	for _, line := range csvLines(b) {
		cells, err := csvCells(line, ',')
		if err != nil {
			cells = []string{line}
		}
		for len(cells) > 0 && cells[len(cells)-1] == "" {
			cells = cells[:len(cells)-1]
		}
		rows = append(rows, cells)
	}
	for len(rows) > 0 && len(rows[len(rows)-1]) == 0 {
		rows = rows[:len(rows)-1]
	}
	return rows
}

// layoutPour prints CSV for the pourer. A first line, after a #, says which
// vessel mark is which lot: cover it once the vessels are marked. Below it, set by
// set, in seat order, the cups from left to right: set, flight, seat, tray
// (first or replacement), place, code and pour, the mark of the vessel: disc or
// diamond, and in a blank test cross for the second brew.
type layoutPour struct {
	Key string `arg:"" help:"Key file." placeholder:"KEY.json"`
}

// Run implements the command.
func (c *layoutPour) Run(to streams) error {
	k, err := readKey(c.Key)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "# %s\n", k.vesselWords())
	w := csv.NewWriter(&b)
	w.Write(strings.Split("set,flight,seat,tray,place,code,pour", ","))
	for set := 1; set <= k.Plan.SetsPerSeat(); set++ {
		for take, tray := range []string{"first", "replacement"} {
			for seat := range k.Layout.Seats {
				flight, _ := k.Plan.FlightOf(seat + 1)
				dealt := k.Layout.Seats[seat][set-1]
				for place, code := range dealt.Takes[take] {
					w.Write([]string{
						strconv.Itoa(set), strconv.Itoa(flight), strconv.Itoa(seat + 1), tray, strconv.Itoa(place + 1),
						strconv.Itoa(int(code)), string(k.Layout.Vessel(k.Plan.Tests[dealt.Test], dealt.Order[place])),
					})
				}
			}
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	_, err = io.Copy(to.out, &b)
	return err
}

// vesselWords say which mark is on which lot's vessel.
func (k servingKey) vesselWords() string {
	lot := func(which, number string) string {
		return strings.TrimSpace("the " + which + " lot " + printable(number))
	}
	marks := []string{
		string(k.Layout.Vessel(session.TestPlan{}, 'A')) + " is " + lot(session.BlankUntreated, k.Plan.Untreated.Number),
		string(k.Layout.Vessel(session.TestPlan{}, 'B')) + " is " + lot(session.BlankProcessed, k.Plan.Processed.Number),
	}
	slices.SortFunc(marks, func(a, b string) int { return strings.Compare(b, a) }) // the disc first, whatever it holds
	for _, t := range k.Plan.Tests {
		if t.Blank != "" {
			marks = append(marks, fmt.Sprintf("%s is a second brew of the %s lot", session.Cross, t.Blank))
			break
		}
	}
	return "vessels: " + strings.Join(marks, "; ")
}
