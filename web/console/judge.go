package console

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/session/record"
	"oddcup/stats"
	"oddcup/web/look"
)

// judgeView is the record of one judge.
type judgeView struct {
	record.Judge
	Answer  string        // the headline without what the standing says
	Groups  template.HTML // share right by method and difficulty
	Scale   template.HTML // raw beside shrunken; empty where nothing counts
	Charts  []chartView   // the newest first
	Drift   *driftView
	Rules   []ruleView
	List    []testOfJudge
	More    int  // tests that are not listed
	All     bool // whether all were asked for
	Begin   *form
	Trouble *form // the refused form, whichever it is
	Methods []session.Method
	Kinds   []session.JudgedKind
	ByRules []session.Rule // whose lines a series may follow
	Acts    bool           // something new can be said of the person
}

// chartView is one series with its picture.
type chartView struct {
	record.SeriesChart
	Plot  template.HTML
	Mark  string
	Word  string
	Terms string
	Form  *form // to give it up; nil where it has ended
}

type driftView struct {
	record.Drift
	Plot  template.HTML
	Shown int
}

// ruleView is a rule with what the record has of it.
type ruleView struct {
	Number int // of the rule on the page
	ruleLine
	Basis   record.Basis
	Paper   string // what paper has of such sets, and why it does not feed the rule
	Typical string // how often a typical panellist reaches it
	Form    *form
}

type testOfJudge struct {
	record.JudgeTest
	Title string
}

// The most that the page shows at once.
const (
	mostJudgeTests  = 100
	mostDriftPoints = 300
	mostBasis       = 300 // characters of a decision's basis
)

func (c *Console) showJudge(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	return c.renderJudge(w, r, http.StatusOK, p, judgeForms{})
}

// judgeForms are the refused forms of the page, nil for those that were not.
type judgeForms struct {
	begin   *form
	qualify *form
	rule    string // that the decision was about
	giveUp  *form
	series  session.SeriesID
}

func (f judgeForms) trouble() *form {
	for _, x := range []*form{f.begin, f.qualify, f.giveUp} {
		if x != nil {
			return x
		}
	}
	return filled()
}

func (c *Console) renderJudge(w http.ResponseWriter, r *http.Request, status int, p session.Person, forms judgeForms) error {
	book, err := c.book(r.Context())
	if err != nil {
		return err
	}
	j, ok := book.Judge(p.ID)
	if !ok {
		return fmt.Errorf("person %q: %w", p.ID, session.ErrNoPerson)
	}
	lab := c.Rooms.Lab().State()
	v := judgeView{Judge: j, Begin: forms.begin, Trouble: forms.trouble(), Methods: session.Methods, Kinds: session.JudgedKinds, Acts: !p.Erased}
	if v.Begin == nil {
		v.Begin = filled("rule", "", "method", session.Triangle.Key, "kind", string(session.KindControl), "alpha", "0.05", "beta", "0.05")
	}
	v.Answer = strings.TrimSuffix(j.Headline, " "+j.Say)
	v.Groups = groupsPlot(j)
	v.Scale = scalePlot(j)
	for _, s := range j.Series {
		chart := chartOf(s)
		if s.Outcome == "" && v.Acts {
			chart.Form = filled()
			if forms.series == s.ID {
				chart.Form = forms.giveUp
			}
		}
		v.Charts = append([]chartView{chart}, v.Charts...)
	}
	v.Drift = driftOf(j.Drift)
	for i, rule := range lab.Rules {
		v.Rules = append(v.Rules, c.ruleOf(book, p, rule, i, forms))
		if rule.Lines != nil {
			v.ByRules = append(v.ByRules, rule)
		}
	}
	v.All = r.URL.Query().Has("all")
	if v.List, err = c.judgeTests(r.Context(), book, j, v.All); err != nil {
		return err
	}
	v.More = len(j.Tests) - len(v.List)
	return c.renderAs(w, status, "judge.html", Page{Title: j.Pseudonym, Nav: "judges", Body: v})
}

func (c *Console) judgeTests(ctx context.Context, book *record.Book, j record.Judge, all bool) ([]testOfJudge, error) {
	names, err := c.namesOf(ctx, book)
	if err != nil {
		return nil, err
	}
	most := mostJudgeTests
	if all {
		most = len(j.Tests)
	}
	var list []testOfJudge
	for _, t := range j.Tests[:min(len(j.Tests), most)] {
		list = append(list, testOfJudge{t, names[t.Session].Title})
	}
	return list, nil
}

// groupsPlot draws the share right by method and difficulty, with the exact
// interval. Chance differs by method, so each method has a picture of its own.
func groupsPlot(j record.Judge) template.HTML {
	var all template.HTML
	for _, m := range session.Methods {
		p := look.JudgesPlot{
			Min: 0, Max: 1, AxisLabel: "share of sets right, " + m.Name,
			Lines: []look.AxisLine{{At: m.Chance(), Label: "chance alone"}},
			Title: "Share right, " + m.Name, Desc: fmt.Sprintf("Share right with exact %.0f %% intervals; chance alone is %s.", 100*record.Confidence, fixed(m.Chance(), 2)),
		}
		for _, g := range j.Groups {
			if g.Method != m.Key {
				continue
			}
			p.Rows = append(p.Rows, look.JudgeRow{
				Label: groupWords(g), Sub: fmt.Sprintf("%s, d′ about %s", counted(g.Count.Sets, "set"), fixed(g.Size, 1)),
				Value: g.Count.Share(), Lower: g.Interval.Lower, Upper: g.Interval.Upper,
				Words: countWords(g.Count) + ": " + spanWords(g.Count.Share(), g.Interval),
				Note:  "a typical panellist " + fixed(g.Typical, 2),
			})
		}
		if len(p.Rows) > 0 {
			all += look.Judges(p)
		}
	}
	return all
}

// groupWords names sets of one kind and difficulty.
func groupWords(g record.Group) string {
	if g.Kind == session.KindControl {
		if g.Label == "" {
			return "control sets"
		}
		return "control: " + g.Label
	}
	return g.Label + " difference, " + string(g.Kind)
}

// scalePlot draws the judge on the d′ scale, raw beside shrunken.
func scalePlot(j record.Judge) template.HTML {
	s := j.Scale
	if math.IsNaN(s.Raw) {
		return ""
	}
	most := math.Ceil(math.Max(math.Max(s.Interval.Upper, s.Size), 2) + 0.25)
	raw := look.JudgeRow{Label: "bare count", Sub: rawWords(j.Row), Value: s.Raw, Lower: s.Raw, Upper: s.Raw, Words: perceivedWords(s.Raw)}
	if math.IsInf(s.Raw, 1) || s.Raw > most {
		raw.Value = math.NaN()
	}
	return look.Judges(look.JudgesPlot{
		Rows: []look.JudgeRow{
			{Label: "estimate", Sub: "drawn towards the panel", Value: s.DPrime, Lower: s.Interval.Lower, Upper: s.Interval.Upper, Words: spanWords(s.DPrime, s.Interval)},
			raw,
		},
		Min: 0, Max: most, AxisLabel: fmt.Sprintf("d′ of a difference that is %s for the median panellist", trim(s.Size, 2)),
		Lines: []look.AxisLine{{At: s.Size, Label: "median panellist"}},
		Title: "On one scale for all methods", Desc: s.Say,
	})
}

// chartOf draws a series between its lines.
func chartOf(s record.SeriesChart) chartView {
	v, end := chartView{SeriesChart: s}, ""
	switch {
	case s.Outcome == session.SeriesGivenUp:
		v.Mark, end = "void", "given up"
	case s.Chart.Standing == stats.Qualified:
		v.Mark, end = "locked", "qualified"
	case s.Chart.Standing == stats.BelowMark:
		v.Mark, end = "empty", "below"
	default:
		v.Mark, end = "expected", "not yet"
	}
	rights := make([]bool, len(s.Chart.Points))
	for i, p := range s.Chart.Points {
		before := 0
		if i > 0 {
			before = s.Chart.Points[i-1].Correct
		}
		rights[i] = p.Correct > before
	}
	lines := s.Chart.Lines
	v.Plot = look.Record(look.RecordPlot{
		Right: rights, Slope: lines.Slope, Lower: lines.LowerIntercept, Upper: lines.UpperIntercept,
		Above: "qualified", Between: "not yet", Below: "below", End: end,
		Title: fmt.Sprintf("Series %d", s.Number), XLabel: "sets, in the order answered", YLabel: "sets right (open dot: not right)",
	})
	v.Terms = fmt.Sprintf("%s. P0 %s, P1 %s, α %s, β %s, fixed %s before the first set.",
		capital(setsWords(s.Method, s.Kind, s.Label)), share(s.P0), share(s.P1), num(s.Alpha), num(s.Beta), date(s.Begun))
	return v
}

// driftOf draws the chart of drift, the newest points of a long one.
func driftOf(d *record.Drift) *driftView {
	if d == nil {
		return nil
	}
	points := d.Chart.Points
	from := max(0, len(points)-mostDriftPoints)
	p := look.DriftPlot{
		First: 1 + from, Limit: d.Chart.Limit, Title: "Chart of drift",
		XLabel: "counted tests, the oldest first", YLabel: "what speaks for a drift, natural logarithm",
	}
	for _, x := range points[from:] {
		p.Sums, p.Signal = append(p.Sums, x.Sum), append(p.Signal, x.Signal)
	}
	return &driftView{*d, look.Drift(p), len(points) - from}
}

// ruleOf holds the record against a rule, with a form to decide by it.
func (c *Console) ruleOf(book *record.Book, p session.Person, rule session.Rule, number int, forms judgeForms) ruleView {
	v := ruleView{Number: number, ruleLine: ruleLineOf(rule), Basis: book.Evaluate(p.ID, rule), Typical: book.TypicalSay(rule)}
	if right, of := c.Rooms.Lab().State().PaperCounts(p.ID, rule); of > 0 {
		v.Paper = fmt.Sprintf("From paper: %d of %d in such sets. They feed no rule: a count from paper has no order of its sets, "+
			"and blocks and lines are read from set to set. Who decides on them types the counts and says so in the basis.", right, of)
	}
	if v.Form = forms.qualify; v.Form == nil || forms.rule != rule.Name {
		at := func(name string) string { return ruleInput(name, number) }
		v.Form = filled(at("basis"), shortened(v.Basis.Say), at("right"), strconv.Itoa(v.Basis.Right), at("of"), strconv.Itoa(v.Basis.Of), at("day"), isoDay(c.Now()))
	}
	return v
}

// ruleInput names a field of the decision by the rule of that number.
func ruleInput(name string, number int) string { return fmt.Sprintf("%s-%d", name, number) }

// Field names one of the rule's fields.
func (v ruleView) Field(name string) string { return ruleInput(name, v.Number) }

// shortened is a basis as long as one may be.
func shortened(s string) string {
	if utf8.RuneCountInString(s) <= mostBasis {
		return s
	}
	return string([]rune(s)[:mostBasis-1]) + "…"
}

func (c *Console) beginSeries(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	var terms session.SeriesTerms
	if name := f.text("rule"); name != "" {
		rule, ok := c.Rooms.Lab().State().Rule(name)
		switch {
		case !ok:
			f.bad("rule", "no rule is called "+quoted(name))
		case rule.Lines == nil:
			f.bad("rule", "the rule "+rule.Name+" has a mark and no lines")
		default:
			terms = session.SeriesTerms{Method: rule.Method, Kind: rule.Kind, Label: rule.Label,
				P0: rule.Lines.P0, P1: rule.Lines.P1, Alpha: rule.Lines.Alpha, Beta: rule.Lines.Beta}
		}
	} else {
		l := f.lines(f.text("method"))
		terms = session.SeriesTerms{Method: f.text("method"), Kind: session.JudgedKind(f.text("kind")), Label: f.text("label"),
			P0: l.P0, P1: l.P1, Alpha: l.Alpha, Beta: l.Beta}
	}
	if !f.Bad() {
		err := c.register(r, session.BeginSeries{Person: p.ID, Terms: terms})
		if err == nil {
			return seeOther(w, r, "/judges/"+string(p.ID)+"#series")
		}
		field := ""
		if strings.HasPrefix(err.Error(), "what differs") {
			field = "label"
		}
		taken := errors.Is(err, session.ErrTaken)
		if err := f.refuse(field, err); err != nil {
			return err
		}
		if taken {
			f.Next = "Wait until it reaches a line, or give it up with a reason; then begin another one."
		}
	}
	return c.renderJudge(w, r, http.StatusUnprocessableEntity, p, judgeForms{begin: f})
}

func (c *Console) giveUpSeries(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	id := session.SeriesID(chi.URLParam(r, "series"))
	if !slices.ContainsFunc(c.Rooms.Lab().State().SeriesOf(p.ID), func(s session.Series) bool { return s.ID == id }) {
		return fmt.Errorf("series %q of %s: %w", id, p.Pseudonym, session.ErrNoSeries)
	}
	field := "reason-" + string(id)
	if f.text(field) == "" {
		f.bad(field, "say why the series is given up; it stays in the count of those begun")
	} else {
		reason, err := c.words(f.text(field))
		if err != nil {
			return err
		}
		err = c.register(r, session.EndSeries{Series: id, Reason: reason})
		if err == nil {
			return seeOther(w, r, "/judges/"+string(p.ID)+"#series")
		}
		if err := f.refuse(field, err); err != nil {
			return err
		}
	}
	return c.renderJudge(w, r, http.StatusUnprocessableEntity, p, judgeForms{giveUp: f, series: id})
}

// qualify keeps a decision by a rule, as the page's fields have it.
func (c *Console) qualify(w http.ResponseWriter, r *http.Request) error {
	p, err := c.findPerson(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	lab := c.Rooms.Lab().State()
	rule, ok := lab.Rule(f.text("rule"))
	if !ok {
		return fmt.Errorf("rule %q: %w", f.text("rule"), session.ErrNoRule)
	}
	number := 0
	for i, x := range lab.Rules {
		if x.Name == rule.Name {
			number = i
		}
	}
	at := func(name string) string { return ruleInput(name, number) }
	act := session.Qualify{Person: p.ID, Rule: rule.Name, Held: f.Is("held", "yes"), Basis: f.text(at("basis"))}
	act.Right, act.Of = f.count(at("right"), "right"), f.count(at("of"), "sets")
	book, err := c.book(r.Context())
	if err != nil {
		return err
	}
	act.Record, act.Against = book.Evaluate(p.ID, rule).Counts(), f.Is(at("against"), "on")
	if day := f.text(at("day")); day != "" && day != isoDay(c.Now()) {
		act.At = f.day(at("day"), "decided on")
		if !act.At.IsZero() {
			act.At = act.At.Add(12 * time.Hour)
		}
	}
	if !f.Bad() {
		err := c.register(r, act)
		if err == nil {
			return seeOther(w, r, "/judges/"+string(p.ID)+"#qualified")
		}
		if err := f.refuse(at(qualifyField(err)), err); err != nil {
			return err
		}
	}
	return c.renderJudge(w, r, http.StatusUnprocessableEntity, p, judgeForms{qualify: f, rule: rule.Name})
}

// qualifyField is the field that a refused decision is about.
func qualifyField(err error) string {
	switch say := err.Error(); {
	case errors.Is(err, session.ErrAgainstRecord):
		return "against"
	case strings.Contains(say, "a day that"), strings.Contains(say, "comes after its sets"):
		return "day"
	case strings.Contains(say, " right of "):
		return "right"
	}
	return "basis"
}
