package session

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

func isError(err, want error) bool { return errors.Is(err, want) }

var aMark = Rule{Name: "Dilution", Method: Triangle.Key, Kind: KindControl, Label: "brew diluted to 90 %", Trials: 12, Mark: 8, ValidMonths: 12}

func TestRules(t *testing.T) {
	d := newDesk(t).enter("Ena Sol")
	for name, c := range map[string]struct {
		change func(*Rule)
		want   error
	}{
		"no name":              {func(r *Rule) { r.Name = " " }, ErrWords},
		"a person's name":      {func(r *Rule) { r.Name = "Like ena  sol" }, ErrTellsName},
		"a part of a name":     {func(r *Rule) { r.Name = "Level of Sol" }, ErrTellsName},
		"a label that names":   {func(r *Rule) { r.Label = "thinned as Ena does" }, ErrTellsName},
		"a name cut in two":    {func(r *Rule) { r.Label = "thinned as E\u00adna does" }, ErrTellsName},
		"a name in letters":    {func(r *Rule) { r.Name = "E n a" }, ErrTellsName},
		"a long name":          {func(r *Rule) { r.Name = strings.Repeat("x", 61) }, ErrWords},
		"no method":            {func(r *Rule) { r.Method = "" }, ErrTerms},
		"no kind":              {func(r *Rule) { r.Kind = "" }, ErrTerms},
		"a control, no words":  {func(r *Rule) { r.Label = "" }, ErrTerms},
		"no trials":            {func(r *Rule) { r.Trials = 0 }, ErrTerms},
		"a mark beyond trials": {func(r *Rule) { r.Mark = 13 }, ErrTerms},
		"a mark of nothing":    {func(r *Rule) { r.Mark = 0 }, ErrTerms},
		"mark and lines":       {func(r *Rule) { r.Lines = &RuleLines{0.4, 0.7, 0.05, 0.1} }, ErrTerms},
		"lines upside down":    {func(r *Rule) { r.Trials, r.Mark, r.Lines = 0, 0, &RuleLines{0.7, 0.4, 0.05, 0.1} }, ErrTerms},
		"months below nothing": {func(r *Rule) { r.ValidMonths = -1 }, ErrTerms},
		"months without end":   {func(r *Rule) { r.ValidMonths = 601 }, ErrTerms},
	} {
		r := aMark
		c.change(&r)
		if events, err := d.try(SetRule{r}); !isError(err, c.want) || events != nil {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, err := d.try(SetRule{Rule{Name: "Level of SÓL", Method: Triangle.Key, Kind: KindRoutine, Trials: 12, Mark: 8}}); err == nil ||
		!strings.Contains(err.Error(), "the rule’s name holds “sol”, a part of a name on the register; it stays in the journal for good") {
		t.Errorf("%v", err)
	}
	if _, err := d.try(BeginSeries{"p-1", SeriesTerms{Triangle.Key, KindControl, "like Sol", 0.4, 0.7, 0.05, 0.1}}); !isError(err, ErrTellsName) {
		t.Errorf("a series: %v", err)
	}
	// Neither a word that begins like a name, nor letters that spell none.
	d.do(SetRule{Rule{Name: "Solo, a b c", Method: Triangle.Key, Kind: KindRoutine, Trials: 12, Mark: 8}})
	// What is written before the name came stands in the journal anyhow: it can be changed.
	d.enter("Solo Nahm")
	d.do(SetRule{Rule{Name: "solo,  A b c", Method: Triangle.Key, Kind: KindRoutine, Trials: 12, Mark: 9}})
	d.l.Rules = nil
	d.do(SetRule{aMark})
	stricter := aMark
	stricter.Name, stricter.Mark = " dilution", 9
	d.do(SetRule{stricter})
	if r, ok := d.l.Rule("DILUTION"); !ok || r.Mark != 9 || len(d.l.Rules) != 1 {
		t.Errorf("%+v", d.l.Rules)
	}
	if _, ok := d.l.Rule("Roast"); ok {
		t.Error("a rule is built in")
	}
}

func TestQualifications(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell", "Ulm Ray")
	byLines := Rule{Name: "Lines", Method: Triangle.Key, Kind: KindRoutine, Lines: &RuleLines{0.4, 0.7, 0.05, 0.1}}
	d.do(SetRule{aMark}, SetRule{byLines})
	q := func(change func(*Qualify)) Qualify {
		a := Qualify{Person: "p-1", Rule: "dilution", Held: true, Basis: "8 of 12 control sets right", Right: 8, Of: 12}
		change(&a)
		return a
	}
	for name, c := range map[string]struct {
		change func(*Qualify)
		want   error
	}{
		"nobody":                     {func(a *Qualify) { a.Person = "p-9" }, ErrNoPerson},
		"no rule":                    {func(a *Qualify) { a.Rule = "Roast" }, ErrNoRule},
		"below the mark":             {func(a *Qualify) { a.Right = 7 }, ErrMark},
		"more trials than the rule":  {func(a *Qualify) { a.Of = 13 }, ErrMark},
		"fewer trials than the rule": {func(a *Qualify) { a.Of, a.Right = 8, 8 }, ErrMark},
		"more right than sets":       {func(a *Qualify) { a.Right, a.Held = 13, false }, ErrMark},
		"below nothing":              {func(a *Qualify) { a.Right, a.Held = -1, false }, ErrMark},
		"between the lines":          {func(a *Qualify) { a.Rule, a.Right, a.Of = "Lines", 2, 3 }, ErrMark},
		"no set on the lines":        {func(a *Qualify) { a.Rule, a.Right, a.Of = "Lines", 0, 0 }, ErrMark},
		"no basis":                   {func(a *Qualify) { a.Basis = " " }, ErrWords},
		"a basis that names":         {func(a *Qualify) { a.Basis = "Sol had 8 of 12" }, ErrTellsName},
		"a basis that names another": {func(a *Qualify) { a.Basis = "as Ori Vell had" }, ErrTellsName},
		"next week":                  {func(a *Qualify) { a.At = noon.Add(7 * aDay) }, ErrWords},
	} {
		if events, err := d.try(q(c.change)); !isError(err, c.want) || events != nil {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	last := noon.AddDate(0, -11, 0)
	d.do(
		q(func(a *Qualify) { a.At = last }),
		q(func(a *Qualify) { a.Person, a.At = "p-2", noon.AddDate(0, -6, 0) }),
		q(func(a *Qualify) { a.Person, a.Rule, a.Right, a.Of = "p-3", "Lines", 12, 12 }),
		q(func(a *Qualify) { a.Person, a.Held, a.Right, a.Of = "p-2", false, 3, 12; a.At = noon.AddDate(0, -7, 0) }),
	)
	holders := func(rule string, at time.Time) string { return fmt.Sprint(d.l.Holders(rule, at)) }
	if got := holders("Dilution", noon); got != "[{p-1 Judge 1} {p-2 Judge 2}]" {
		t.Errorf("holders %s", got)
	}
	// It runs out to the day, a month being a month.
	end := last.AddDate(0, 12, 0)
	if got := holders("dilution", end.Add(-time.Nanosecond)) + holders("dilution", end); got != "[{p-1 Judge 1} {p-2 Judge 2}][{p-2 Judge 2}]" {
		t.Errorf("at the end %s", got)
	}
	if got := holders("Lines", noon.AddDate(50, 0, 0)); got != "[{p-3 Judge 3}]" {
		t.Errorf("without an end %s", got)
	}
	if got := holders("dilution", last.Add(-time.Hour)); got != "[]" {
		t.Errorf("before the decision %s", got)
	}
	out := func(within time.Duration) (ids []PersonID) {
		for _, q := range d.l.RunsOut(noon, within) {
			ids = append(ids, q.Person)
		}
		return ids
	}
	if got := out(40 * aDay); !slices.Equal(got, []PersonID{"p-1"}) {
		t.Errorf("runs out within 40 days: %q", got)
	}
	if got := out(300 * aDay); !slices.Equal(got, []PersonID{"p-1", "p-2"}) {
		t.Errorf("runs out within 300 days: %q", got)
	}
	// The newest decision stands; resting and erased people hold nothing now.
	d.do(q(func(a *Qualify) { a.Held, a.Right = false, 4 }), ChangePerson{"p-2", PersonFacts{Status: StatusResting}})
	if got := holders("Dilution", noon.Add(time.Hour)); got != "[]" || len(out(300*aDay)) != 1 {
		t.Errorf("holders %s", got)
	}
	d.do(ErasePerson{Person: "p-3"})
	if got := holders("Lines", noon.Add(time.Hour)); got != "[]" {
		t.Errorf("an erased holder: %s", got)
	}
}

// Who may taste is fixed at the seal; who tasted all the same is named, and
// counts.
func TestEligibility(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell", "Ulm Ray")
	p := planOf(3, triangles(1))
	p.Eligible = "Dilution"
	g := newGame(t)
	g.do(Draft{Plan: p}, SetPin{testPin})
	seal := sealing(t, p, 5)
	g.refuse(SealPlan{seal}, ErrNotEligible)
	seal.Eligible = []Eligible{{"p-1", "Judge 1"}}
	g.do(SealPlan{seal}, OpenLobby{})
	for i := 1; i <= 3; i++ {
		g.do(Sit{Seat: i, Name: text(fmt.Sprintf("Taster %d", i)), Token: phone(i)})
	}
	g.do(FreezeList{}, OpenPourSheet{Pin: "4711"}, Open{Releases: releases()})
	g.play(3, counting(2))
	r := g.reveal()
	if r.Tests[0].N != 3 || len(g.s.Eligible) != 1 || !g.verified(Paper{}).OK() {
		t.Errorf("%d answers count, %d eligible", r.Tests[0].N, len(g.s.Eligible))
	}
	d.do(TieSeats{"p-1", []SeatRef{{g.s.ID, 1}}}, TieSeats{"p-2", []SeatRef{{g.s.ID, 2}}})
	say := EligibilityCautions(g.s, d.l)
	if len(say) != 2 || !strings.Contains(say[0], "not of them: seat 2 (Judge 2). Their answers count all the same") || !strings.Contains(say[1], "who had 1 seat.") {
		t.Errorf("%q", say)
	}
	d.do(TieSeats{"p-3", []SeatRef{{g.s.ID, 3}}}, MergePeople{From: "p-2", Into: "p-1", Together: true}, MergePeople{From: "p-1", Into: "p-3", Together: true})
	if say := EligibilityCautions(g.s, d.l); say != nil {
		t.Errorf("all are the one who was listed: %q", say)
	}
	// A list for a plan that wants none does not fit.
	other := newGame(t)
	other.do(Draft{Plan: planOf(3, triangles(1))}, SetPin{testPin})
	seal = sealing(t, planOf(3, triangles(1)), 5)
	seal.Eligible = []Eligible{{"p-1", "Judge 1"}}
	other.refuse(SealPlan{seal}, ErrSeal)
	if EligibilityCautions(other.s, d.l) != nil {
		t.Error("a caution without a rule")
	}
}

// A decision holds what the record had beside what was typed; one that the record
// does not bear takes a word that this is known.
func TestQualifyAgainstTheRecord(t *testing.T) {
	d := newDesk(t).enter("Ena Sol")
	d.do(SetRule{aMark})
	record := func(right, of int, whole, reached bool) *RuleCounts {
		return &RuleCounts{Right: right, Of: of, Whole: whole, Reached: reached, Last: noon.Add(-time.Hour)}
	}
	for _, c := range []struct {
		name      string
		held      bool
		right, of int
		record    *RuleCounts
		against   bool
		say       string // of the counts; "" where it is refused
	}{
		{"as in the record", true, 8, 12, record(8, 12, true, true), false, "Counts: 8 of 12, as in the record."},
		{"as in the record, ticked", true, 8, 12, record(8, 12, true, true), true, "Counts: 8 of 12, as in the record."},
		{"does not hold, as in the record", false, 7, 12, record(7, 12, true, false), false, "Counts: 7 of 12, as in the record."},
		{"no record was looked at", true, 8, 12, nil, false, "Counts: 8 of 12; what the record had then was not noted."},
		{"typed, no set", true, 10, 12, record(0, 0, false, false), false, ""},
		{"typed, no set, known", true, 10, 12, record(0, 0, false, false), true,
			"Typed: 10 of 12; the record has 0 sets for this rule. Who decided knew that and decided all the same."},
		{"typed, below", true, 10, 12, record(3, 12, true, false), false, ""},
		{"typed, below, known", true, 10, 12, record(3, 12, true, false), true,
			"Typed: 10 of 12; the record has 3 of 12 for this rule, which is not what it wants. Who decided knew that and decided all the same."},
		{"typed, a part of a block, known", true, 10, 12, record(3, 4, false, false), true,
			"Typed: 10 of 12; the record has 3 of 4 for this rule, which decides nothing yet. Who decided knew that and decided all the same."},
		{"reached, and does not hold", false, 9, 12, record(9, 12, true, true), false, ""},
		{"reached, and does not hold, known", false, 9, 12, record(9, 12, true, true), true,
			"Counts: 9 of 12, as in the record. Who decided knew that and decided all the same."},
	} {
		a := Qualify{Person: "p-1", Rule: "Dilution", Held: c.held, Basis: "likes the brew", Right: c.right, Of: c.of, Record: c.record, Against: c.against}
		if c.say == "" {
			if _, err := d.try(a); !isError(err, ErrAgainstRecord) || !strings.Contains(err.Error(), c.record.Words()) {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		d.do(a)
		q := d.l.Qualifications[len(d.l.Qualifications)-1]
		if got := q.CountWords(); got != c.say {
			t.Errorf("%s: %q, want %q", c.name, got, c.say)
		}
		if q.Record != c.record && *q.Record != *c.record {
			t.Errorf("%s: the record beside it is %+v", c.name, q.Record)
		}
	}
	_, err := d.try(Qualify{Person: "p-1", Rule: "Dilution", Held: true, Basis: "folder Sol said", Right: 8, Of: 12})
	if !isError(err, ErrTellsName) || !strings.Contains(err.Error(), "the basis holds “sol”, a part of the name of Judge 1") || !strings.Contains(err.Error(), "write Judge 1 instead") {
		t.Errorf("a basis with a name: %v", err)
	}
}

// A decision on the record's sets is dated on the day of the last of them or later, and
// none is dated in the time to come, by the days of the place where it is dated. The
// next attempt begins after the last set that it rests on.
func TestDecisionComesAfterItsSets(t *testing.T) {
	d := newDesk(t).enter("Ena Sol")
	d.do(SetRule{aMark})
	last := time.Date(noon.Year(), noon.Month(), noon.Day()-3, 22, 30, 0, 0, time.UTC)
	east := time.FixedZone("", 2*60*60) // where the last set is of the next day
	at := func(days int, place *time.Location) time.Time {
		return time.Date(last.Year(), last.Month(), last.Day()+days, 12, 0, 0, 0, place)
	}
	record := &RuleCounts{Right: 9, Of: 12, Whole: true, Reached: true, Attempt: 1, Attempts: 2, Last: last}
	for name, c := range map[string]struct {
		at      time.Time
		right   int
		against bool
		want    error
		say     string
	}{
		"years before":              {at(-2000, time.UTC), 9, false, ErrWords, "the last of " + last.Format(time.DateOnly)},
		"years before, ticked":      {at(-2000, time.UTC), 9, true, ErrWords, "write " + last.Format(time.DateOnly) + " or a later day"},
		"the day before":            {at(-1, time.UTC), 9, false, ErrWords, "dated " + at(-1, time.UTC).Format(time.DateOnly)},
		"the day":                   {at(0, time.UTC), 9, false, nil, ""},
		"the day, further east":     {at(0, east), 9, false, ErrWords, "the last of " + at(1, east).Format(time.DateOnly)},
		"the next day further east": {at(1, east), 9, false, nil, ""},
		"typed, before":             {at(-2000, time.UTC), 8, false, ErrAgainstRecord, "tick below"},
		"typed, before, ticked":     {at(-2000, time.UTC), 8, true, nil, ""},
		"tomorrow":                  {noon.AddDate(0, 0, 1).Add(-time.Hour), 9, false, ErrWords, "still to come"},
		"typed, tomorrow":           {noon.AddDate(0, 0, 1).Add(-time.Hour), 8, true, ErrWords, "still to come"},
	} {
		a := Qualify{Person: "p-1", Rule: "Dilution", Held: true, Basis: "as agreed", Right: c.right, Of: 12, At: c.at, Record: record, Against: c.against}
		events, err := d.try(a)
		if !isError(err, c.want) || c.want != nil && !strings.Contains(err.Error(), c.say) || (events == nil) != (c.want != nil) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
		if c.want == nil {
			q := events[0].(*Qualified).Qualification
			next := last
			if c.right != 9 {
				next = c.at.UTC()
			}
			if !q.NextAfter().Equal(next) {
				t.Errorf("%s: the next attempt begins after %v, want %v", name, q.NextAfter(), next)
			}
		}
	}
	// Of before Last was kept, and of a decision that no record was looked at for.
	for _, q := range []Qualification{{Right: 9, Of: 12, DecidedAt: noon, Record: &RuleCounts{Right: 9, Of: 12}}, {Right: 9, Of: 12, DecidedAt: noon}} {
		if !q.NextAfter().Equal(noon) {
			t.Errorf("%+v: %v", q, q.NextAfter())
		}
	}
	d.do(Qualify{Person: "p-1", Rule: "Dilution", Held: true, Basis: "as agreed", Right: 9, Of: 12, Record: record})
	if got := d.l.Qualifications[len(d.l.Qualifications)-1].CountWords(); got != "Counts: 9 of 12, as in the record (attempt 1 of 2)." {
		t.Errorf("%q", got)
	}
}

func TestPaperCountsOfARule(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell")
	paper := func(p PersonID, method string, kind JudgedKind, control, source string, right int) PaperRecord {
		return PaperRecord{p, "2029-11-05", method, kind, control, 0, 12, right, source}
	}
	d.do(SetRule{aMark}, ImportRecords{[]PaperRecord{
		paper("p-1", Triangle.Key, KindControl, "Brew diluted  to 90 %", "leaf 1", 5), paper("p-1", Triangle.Key, KindControl, "brew diluted to 90 %", "leaf 2", 6),
		paper("p-1", DuoTrio.Key, KindControl, "brew diluted to 90 %", "leaf 3", 7), paper("p-1", Triangle.Key, KindRoutine, "", "leaf 4", 8),
		paper("p-1", Triangle.Key, KindControl, "brew diluted to 80 %", "leaf 5", 9), paper("p-2", Triangle.Key, KindControl, "brew diluted to 90 %", "leaf 1", 10),
	}})
	if right, of := d.l.PaperCounts("p-1", aMark); right != 11 || of != 24 {
		t.Errorf("%d of %d", right, of)
	}
}
