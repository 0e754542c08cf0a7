package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// fileOut is what a file of ballots showed; see [resultCommand].
type fileOut struct {
	File          string     `json:"file"`
	Digest        *string    `json:"digest"`
	ReadFirst     []string   `json:"readFirst"`
	Answer        string     `json:"answer"`
	Counted       int        `json:"counted"`
	TakenOut      int        `json:"takenOut"`
	Replaced      int        `json:"replaced"`
	Guessed       int        `json:"guessed"`
	LeftOut       []wrongRow `json:"leftOut"`
	LeftOutSeats  []int      `json:"leftOutSeats"`
	MissingSeats  []int      `json:"missingSeats"`
	MissingSets   []setOf    `json:"missingSets"`
	UnusedColumns []string   `json:"unusedColumns"`
	NoSetColumn   bool       `json:"noSetColumn"`
	Cautions      []string   `json:"cautions"`
	Tests         []testOut  `json:"tests"`

	results []session.TestResult
}

type setOf struct {
	Seat int `json:"seat"`
	Set  int `json:"set"`
}

type testOut struct {
	Number  int     `json:"number"`
	Method  string  `json:"method"`
	Goal    string  `json:"goal"`
	Sided   string  `json:"sided"`
	Sets    int     `json:"sets"`
	Seats   int     `json:"seats"`
	N       int     `json:"n"`
	Correct int     `json:"correct"`
	Even    int     `json:"even"`
	Missing int     `json:"missing"`
	Chance  float64 `json:"chance"`
	decision
	Power     *float64 `json:"power"`
	Decided   bool     `json:"decided"`
	Sentences []string `json:"sentences"`
}

// runFile analyses a file of ballots.
func (c *resultCommand) runFile(to streams) error {
	switch {
	case c.N != nil || c.Correct != nil || c.Confidence != nil:
		return usage("--n, --correct and --confidence are for a count, and a file of ballots is named", "leave one or the other out")
	case c.Key != "" && c.given():
		return usage("the key registers the tests, and flags say something of them as well", "give --key alone")
	case c.Key == "" && c.Method == "":
		return usage("without the serving key the method is not known", "give --key KEY.json, or --method with a column correct in the file")
	}
	var key *servingKey
	if c.Key != "" {
		k, err := readKey(c.Key)
		if err != nil {
			return err
		}
		key = &k
	} else if _, err := c.planOfFlags(1); err != nil {
		return err // before the file is looked at
	}
	file, err := readAll(c.File, mostBallots)
	if err != nil {
		return hinted{err, "name a file of ballots as CSV"}
	}
	b, err := readBallots(file, key)
	if err != nil {
		return hinted{fmt.Errorf("%s: %w", c.File, err), "the first row names the columns: seat, set, pick with a key, or seat, set, correct"}
	}
	if err := c.fit(b); err != nil {
		return err
	}
	plan := session.Plan{}
	if key != nil {
		plan = key.Plan
	} else if plan, err = c.planOf(b); err != nil {
		return err
	}
	out := analyseBallots(plan, b)
	out.File = c.File
	if key != nil {
		digest := key.Digest.String()
		out.Digest = &digest
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	out.tell(to.out)
	return nil
}

// fit refuses a file with wrong rows, unless they are to be left out, and one
// with nothing else.
func (c *resultCommand) fit(b ballots) error {
	if len(b.wrong) > 0 && !c.SkipBad {
		var say strings.Builder
		fmt.Fprintf(&say, "%s: %d of %s can't be counted, so nothing was computed", c.File, len(b.wrong), counted(len(b.wrong)+len(b.rows), "row"))
		for _, w := range b.wrong {
			fmt.Fprintf(&say, "\n  line %d: %s", w.Line, w.Reason)
		}
		hint := "mend them by the paper ballots, or leave them out with --skip-bad"
		if b.foreign()*2 > len(b.wrong)+len(b.rows) {
			hint = "most codes are nowhere in this key's layout: name the key that was drawn with the layout of these ballots"
		}
		return hinted{fmt.Errorf("%s", say.String()), hint}
	}
	if len(b.rows) == 0 {
		return hinted{fmt.Errorf("%s: no ballot is left to count (%s left out)", c.File, counted(len(b.wrong), "row")), "type a row for each set of each seat below the column names"}
	}
	return nil
}

// planOfFlags is the test of a file without a key, with words that its plan
// needs and its analysis doesn't.
func (c *resultCommand) planOfFlags(sets int) (session.Plan, error) {
	p := session.UsualPlan()
	t, err := c.testPlan(sets)
	if err != nil {
		return p, err
	}
	m, _ := session.MethodByKey(t.Method)
	if t.Attribute == "" && !m.Overall {
		t.Attribute = "the attribute"
	}
	if t.Definition == "" {
		t.Definition = "as on the ballots"
	}
	p.Title, p.Seats, p.Tests = "ballots", 2, []session.TestPlan{t}
	p.Untreated.ID, p.Processed.ID = "lot-1", "lot-2"
	if f := p.Check(); f != nil {
		return p, usage(f.Error(), "see: oddcup result --help")
	}
	return p, nil
}

// planOf is the plan of ballots without a key.
func (c *resultCommand) planOf(b ballots) (session.Plan, error) {
	seats, sets := 0, 0
	for _, r := range b.rows {
		seats, sets = max(seats, r.seat), max(sets, r.set)
	}
	p, err := c.planOfFlags(sets)
	p.Seats = seats
	return p, err
}

// analyseBallots gives the registered result of a plan's ballots. A seat without
// a row is not on the list; one whose rows were all wrong came, and is.
func analyseBallots(p session.Plan, b ballots) fileOut {
	out := fileOut{
		LeftOut: append([]wrongRow{}, b.wrong...), LeftOutSeats: []int{}, MissingSeats: []int{}, MissingSets: []setOf{},
		UnusedColumns: append([]string{}, b.unused...), NoSetColumn: b.noSet, ReadFirst: []string{}, Cautions: []string{},
	}
	sets := p.SetsPerSeat()
	listed := make([]bool, p.Seats)
	answers := make([][]*ballot, p.Seats) // by seat, then set
	void := make([][]bool, p.Seats)
	for i := range answers {
		answers[i], void[i] = make([]*ballot, sets), make([]bool, sets)
	}
	for i := range b.rows {
		r := &b.rows[i]
		listed[r.seat-1] = true
		if r.void != "" {
			out.TakenOut++
			void[r.seat-1][r.set-1] = true
			out.Cautions = append(out.Cautions, fmt.Sprintf("Seat %d, set %d was taken out (%s).", r.seat, r.set, r.void))
			continue
		}
		answers[r.seat-1][r.set-1] = r
		out.Counted++
		out.Replaced += r.take
		if r.guess {
			out.Guessed++
		}
	}
	out.LeftOutSeats = b.leftOutSeats()
	for _, seat := range out.LeftOutSeats {
		if seat <= p.Seats {
			listed[seat-1] = true
		}
	}
	for seat := range answers {
		if !listed[seat] {
			out.MissingSeats = append(out.MissingSeats, seat+1)
			continue
		}
		for set, a := range answers[seat] {
			if a == nil && !void[seat][set] {
				out.MissingSets = append(out.MissingSets, setOf{seat + 1, set + 1})
			}
		}
	}
	first := 0
	for i, t := range p.Tests {
		var seats []stats.Replicates
		for seat := range answers {
			if !listed[seat] {
				continue
			}
			var r stats.Replicates
			for _, a := range answers[seat][first : first+t.Sets] {
				if a != nil {
					r.N++
					if a.correct {
						r.Correct++
					}
				}
			}
			seats = append(seats, r)
		}
		first += t.Sets
		result := session.Analyse(t, seats)
		result.Number = i + 1
		out.results = append(out.results, result)
	}
	session.DecideInOrder(out.results)
	out.readFirst(p, b)
	out.say(p)
	return out
}

// say puts the results into words.
func (out *fileOut) say(p session.Plan) {
	r := session.Result{Tests: out.results}
	out.Answer = r.Answer()
	for _, t := range out.results {
		for _, c := range t.Cautions() {
			if slices.Contains(farBelowChance(t), c) {
				continue // it is read first
			}
			out.Cautions = append(out.Cautions, fmt.Sprintf("Test %d, %s: %s", t.Number, t.Method.Name, c))
		}
		one := testOut{
			Number: t.Number, Method: t.Method.Key, Goal: t.Plan.Goal, Sided: string(sidedOf(t.Plan)), Sets: t.Plan.Sets,
			Seats: t.Seats, N: t.N, Correct: t.Correct, Even: t.Even, Missing: t.Missing, Chance: t.Method.Chance(),
			decision: decisionOf(t), Decided: t.Decided, Sentences: []string{},
		}
		if t.Plan.WantsDifference() && t.N > 0 {
			one.Power = &t.Power
		}
		for _, s := range []string{t.Sentence(), t.PSentence(), t.SimilarSentence(), t.LimitSentence(), t.Verdict()} {
			if s != "" {
				one.Sentences = append(one.Sentences, s)
			}
		}
		out.Tests = append(out.Tests, one)
	}
}

func (out *fileOut) tell(w io.Writer) {
	if len(out.ReadFirst) > 0 {
		fmt.Fprintln(w, "Read this first:")
		for _, say := range out.ReadFirst {
			fmt.Fprintf(w, "  - %s\n", say)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintln(w, out.Answer)
	for _, t := range out.results {
		tellTest(w, t)
	}
	fmt.Fprintf(w, "\n%s: %s counted", out.File, counted(out.Counted, "set"))
	if out.Guessed > 0 {
		fmt.Fprintf(w, ", %d of them called a guess", out.Guessed)
	}
	if out.Replaced > 0 {
		fmt.Fprintf(w, ", %d from replacement trays", out.Replaced)
	}
	fmt.Fprintln(w, ".")
	if len(out.LeftOut) > 0 {
		fmt.Fprintf(w, "Left out because of --skip-bad: %s.\n", counted(len(out.LeftOut), "row"))
		for _, x := range out.LeftOut {
			fmt.Fprintf(w, "  line %d: %s\n", x.Line, x.Reason)
		}
	}
	if out.NoSetColumn {
		fmt.Fprintf(w, "There is no column %q: every row is taken as its seat's only set.\n", columnSet)
	}
	if len(out.UnusedColumns) > 0 {
		fmt.Fprintf(w, "Columns that nothing was read from: %s.\n", strings.Join(out.UnusedColumns, ", "))
	}
	if len(out.Cautions) > 0 {
		fmt.Fprintln(w, "\nRead with the answer:")
		for _, c := range out.Cautions {
			fmt.Fprintf(w, "  - %s\n", c)
		}
	}
	if out.Digest != nil {
		fmt.Fprintf(w, "\nThe key's digest, to be compared with what was noted before anyone tasted:\n  %s\n", *out.Digest)
	}
}

// leftOutSeats are the seats that have wrong rows and no other.
func (b ballots) leftOutSeats() []int {
	seats := []int{}
	for _, w := range b.wrong {
		if w.Seat > 0 && !slices.ContainsFunc(b.rows, func(r ballot) bool { return r.seat == w.Seat }) {
			seats = append(seats, w.Seat)
		}
	}
	slices.Sort(seats)
	return slices.Compact(seats)
}

// foreign counts the rows whose code is nowhere in the key's layout.
func (b ballots) foreign() int {
	n := 0
	for _, w := range b.wrong {
		if w.foreign {
			n++
		}
	}
	return n
}

// readFirst puts into words what must be known before the answer is read: that it
// may be of another key's cups, or of some of those who came.
func (out *fileOut) readFirst(p session.Plan, b ballots) {
	add := func(format string, args ...any) { out.ReadFirst = append(out.ReadFirst, fmt.Sprintf(format, args...)) }
	if p.Practice {
		add("This was practice. It never counts.")
	}
	for _, t := range out.results {
		for _, say := range farBelowChance(t) {
			add("Test %d, %s: %s", t.Number, t.Method.Name, say)
		}
	}
	if n := b.foreign(); n > 0 {
		add("%s left out: its code is nowhere in this key's layout. Make sure that it is the key of these ballots.", rowsWere(n))
	}
	if n := len(b.wrong) - b.foreign(); n > 0 {
		add("%s left out as wrong; the reasons stand below.", rowsWere(n))
	}
	if len(out.LeftOutSeats) > 0 {
		add("Seats of which nothing counts, left out for wrong rows: %s.", numbers(out.LeftOutSeats))
	}
	if len(out.MissingSeats) > 0 {
		add("Seats without a ballot, taken as not come: %s.", numbers(out.MissingSeats))
	}
	out.missingSets(p, add)
}

// missingSets names the sets of which a seat that came has no row that counts;
// many of them set by set.
func (out *fileOut) missingSets(p session.Plan, add func(format string, args ...any)) {
	bySet := make([][]int, p.SetsPerSeat())
	n := 0
	for _, m := range out.MissingSets {
		if slices.Contains(out.LeftOutSeats, m.Seat) {
			continue
		}
		n++
		bySet[m.Set-1] = append(bySet[m.Set-1], m.Seat)
		wrong := slices.IndexFunc(out.LeftOut, func(w wrongRow) bool { return w.Seat == m.Seat && w.Set == m.Set })
		switch {
		case n > mostNamed:
		case wrong >= 0:
			add("Left out: seat %d, set %d (line %d).", m.Seat, m.Set, out.LeftOut[wrong].Line)
		default:
			add("Missing: seat %d, set %d.", m.Seat, m.Set)
		}
	}
	if n <= mostNamed {
		return
	}
	out.ReadFirst = out.ReadFirst[:len(out.ReadFirst)-mostNamed]
	for set, seats := range bySet {
		if len(seats) > 0 {
			add("Set %d has no row that counts of these seats: %s.", set+1, numbers(seats))
		}
	}
}

// mostNamed bounds the missing sets that are named one by one.
const mostNamed = 6

func rowsWere(n int) string {
	if n == 1 {
		return "1 row was"
	}
	return fmt.Sprintf("%d rows were", n)
}

// farBelowChance says of a test's count that guessing hardly explains it: the key
// may be of other ballots.
func farBelowChance(t session.TestResult) []string {
	var all []string
	if t.N == 0 || t.Plan.TwoSided {
		return nil
	}
	for _, w := range stats.AdviceForCount(t.N, t.Correct, t.Method.Chance()) {
		all = append(all, w.Say)
	}
	return all
}

// numbers prints rising numbers, runs of them as "3 to 7".
func numbers(all []int) string {
	var words []string
	for i := 0; i < len(all); {
		j := i
		for j+1 < len(all) && all[j+1] == all[j]+1 {
			j++
		}
		if j > i+1 {
			words = append(words, fmt.Sprintf("%d to %d", all[i], all[j]))
			i = j + 1
			continue
		}
		words = append(words, strconv.Itoa(all[i]))
		i++
	}
	return strings.Join(words, ", ")
}
