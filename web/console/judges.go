package console

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"sync"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/session/record"
	"oddcup/stats"
	"oddcup/web/look"
)

// judgesRoutes are the records of the panel and of each judge. They rest on
// revealed sessions alone.
func (c *Console) judgesRoutes(r chi.Router) {
	r.Get("/judges", c.page(c.judges))
	r.Get("/judges/rules", c.page(c.rules))
	r.Post("/judges/rules", c.page(c.setRule))
	r.Get("/judges/{person}", c.page(c.showJudge))
	r.Post("/judges/{person}/series", c.page(c.beginSeries))
	r.Post("/judges/{person}/series/{series}", c.page(c.giveUpSeries))
	r.Post("/judges/{person}/qualify", c.page(c.qualify))
	r.Get("/judges/{person}/own", c.page(c.ownRecord))
}

// bookKeeper keeps the record of all judges for as long as nothing has changed, and
// what their sessions are called.
type bookKeeper struct {
	mu      sync.Mutex // guards the following fields
	book    *record.Book
	names   map[session.ID]session.Row
	namesOf uint64 // stamp of the sessions that names are of
}

// book is the record as it stands now. A series that has reached a line in it is
// ended in the register first.
func (c *Console) book(ctx context.Context) (*record.Book, error) {
	for range 2 {
		book, err := c.openBook(ctx)
		if err != nil {
			return nil, err
		}
		if ended, err := c.endSeries(ctx, book); err != nil || !ended {
			return book, err
		}
	}
	return c.openBook(ctx)
}

func (c *Console) openBook(ctx context.Context) (*record.Book, error) {
	judged, err := c.Rooms.Judged(ctx)
	if err != nil {
		return nil, err
	}
	lab, now := c.Rooms.Lab().State(), c.Now()
	c.books.mu.Lock()
	defer c.books.mu.Unlock()
	if c.books.book == nil {
		c.books.book = record.Open(lab, judged, now)
	} else {
		c.books.book = c.books.book.Renew(lab, judged, now)
	}
	return c.books.book, nil
}

// endSeries journals the end of every series whose line is reached. One that
// can't be ended, as when another page has just done it, is left for the next
// time and named in the log.
func (c *Console) endSeries(ctx context.Context, book *record.Book) (ended bool, err error) {
	for _, due := range book.SeriesDue() {
		_, err := c.Rooms.Lab().Do(ctx, session.Command{At: c.Now(), Actor: session.Host, Act: due.Act()})
		if err != nil {
			c.Log.Warn("console: a series is not ended", "series", due.Series, "err", err)
			continue
		}
		ended = true
	}
	return ended, nil
}

// namesOf are the names of the revealed sessions that a book is of. A session's title
// is sealed, so they are read again only when one more is revealed.
func (c *Console) namesOf(ctx context.Context, book *record.Book) (map[session.ID]session.Row, error) {
	stamp := book.Stamp().Sessions
	c.books.mu.Lock()
	names, of := c.books.names, c.books.namesOf
	c.books.mu.Unlock()
	if names != nil && of == stamp {
		return names, nil
	}
	names, err := c.sessionNames(ctx)
	if err != nil {
		return nil, err
	}
	c.books.mu.Lock()
	defer c.books.mu.Unlock()
	c.books.names, c.books.namesOf = names, stamp
	return names, nil
}

// afterReveal ends the series whose line the revealed sets have reached, and begins to
// fit what the judges' pages need. The reveal stands whatever becomes of it: those
// pages do both as well.
func (c *Console) afterReveal(ctx context.Context) {
	lab := c.Rooms.Lab().State()
	if len(lab.Series) > 0 {
		if _, err := c.book(ctx); err != nil {
			c.Log.Warn("console: series after the reveal", "err", err)
		}
	}
	if len(lab.People) == 0 {
		return
	}
	// The fit takes a while, and nobody waits for it. An error is left to the page
	// that meets it.
	if book, err := c.openBook(ctx); err == nil {
		go book.Prepare()
	}
}

// judgesView is the panel.
type judgesView struct {
	record.Panel
	Rows      []record.Row // in the order shown
	ByJudge   bool         // in the order of the register
	Plot      template.HTML
	FewPlot   template.HTML // those with too few sets to read, where the others stand by estimate
	Drifting  record.DriftSignals
	Newest    int // sets whose signals are listed
	Ready     []record.RuleStand
	Apart     []record.Row // whose records stand apart from a typical panellist's
	Compared  int
	People    int
	UntiedAll int // seats of revealed sessions that are tied to nobody
	Read      bool
	Recent    []testOfPanel
	More      int // tests that are not listed
}

// testOfPanel is a test in the list, with its session's title.
type testOfPanel struct {
	record.TestRow
	Title string
}

// mostPanelTests are listed at once.
const mostPanelTests = 60

func (c *Console) judges(w http.ResponseWriter, r *http.Request) error {
	book, err := c.book(r.Context())
	if err != nil {
		return err
	}
	go book.Prepare() // for the judges' pages that come next
	v := judgesView{Panel: book.Panel(), ByJudge: r.URL.Query().Get("order") == "judge"}
	v.Rows = v.Judges
	if !v.ByJudge {
		v.Rows = v.ByEstimate()
	}
	v.People = len(v.Rows)
	v.Drifting, v.Newest, v.Ready = book.Drifting(), record.DriftRecent, book.Ready()
	for _, row := range v.Rows {
		if row.Counted().Sets > 0 {
			v.Read = true
		}
		if row.Standing != stats.StandingUnknown {
			v.Compared++
		}
		if row.Standing == stats.StandingWeak || row.Standing == stats.StandingStrong {
			v.Apart = append(v.Apart, row)
		}
	}
	for _, u := range v.Untied {
		v.UntiedAll += len(u.Seats)
	}
	names, err := c.namesOf(r.Context(), book)
	if err != nil {
		return err
	}
	for _, t := range v.Tests[:min(len(v.Tests), mostPanelTests)] {
		v.Recent = append(v.Recent, testOfPanel{t, names[t.Session].Title})
	}
	v.More = len(v.Tests) - len(v.Recent)
	if v.Read {
		enough := v.Rows
		if !v.ByJudge {
			few := slices.IndexFunc(v.Rows, func(r record.Row) bool { return !r.Enough })
			if few > 0 {
				enough = v.Rows[:few]
				v.FewPlot = panelPlot(v, v.Rows[few:], "Judges with too few sets to read")
			}
		}
		v.Plot = panelPlot(v, enough, "Judges")
	}
	return c.render(w, "judges.html", Page{Title: "Judges", Nav: "judges", Body: v})
}

// panelPlot draws the judges on the axis of triangles right at the panel's size.
func panelPlot(v judgesView, rows []record.Row, title string) template.HTML {
	p := look.JudgesPlot{
		Min: 0, Max: 1, AxisLabel: "share of triangles right at d′ " + trim(v.Size, 2),
		Lines: []look.AxisLine{{At: v.Chance, Label: "chance alone"}, {At: v.Typical, Label: "typical panellist"}},
		Title: title, Desc: fmt.Sprintf("Share of triangles right at d′ %s, with %.0f %% intervals. Chance alone %s, a typical panellist %s.",
			trim(v.Size, 2), 100*record.Confidence, fixed(v.Chance, 2), fixed(v.Typical, 2)),
	}
	for _, r := range rows {
		p.Rows = append(p.Rows, judgeRow(r))
	}
	return look.Judges(p)
}

func judgeRow(r record.Row) look.JudgeRow {
	row := look.JudgeRow{
		Label: r.Pseudonym, To: "/judges/" + string(r.Person), Sub: setsOf(r), Few: !r.Enough,
		Value: r.Right, Lower: r.RightInterval.Lower, Upper: r.RightInterval.Upper,
		Words: spanWords(r.Right, r.RightInterval), Note: rawWords(r),
	}
	if r.Counted().Sets == 0 {
		row.Value, row.Words, row.Note = math.NaN(), "no set counts yet", ""
	}
	return row
}

// setsOf is from how many sets a record is, and whether that is enough.
func setsOf(r record.Row) string {
	say := fmt.Sprintf("%d control, %d routine", r.Control.Sets, r.Routine.Sets)
	switch {
	case r.Control.Sets == 0 && r.Routine.Sets == 0:
		say = "no set"
	case r.Control.Sets == 0:
		say = counted(r.Routine.Sets, "routine set")
	case r.Routine.Sets == 0:
		say = counted(r.Control.Sets, "control set")
	}
	switch {
	case r.Erased:
		say += ", name erased"
	case r.Status == session.StatusResting:
		say += ", resting"
	case !r.Enough && r.Counted().Sets > 0:
		say += ": too few to read"
	}
	return say
}

// rawWords are the bare counts beside the shrunken estimate.
func rawWords(r record.Row) string {
	say := ""
	for _, k := range []struct {
		count record.Count
		kind  string
	}{{r.Control, "control"}, {r.Routine, "routine"}} {
		if k.count.Sets == 0 {
			continue
		}
		if say != "" {
			say += ", "
		}
		say += fmt.Sprintf("%d of %d %s", k.count.Right, k.count.Sets, k.kind)
	}
	return say
}

// spanWords is an estimate with its interval: 0.64 (0.44 to 0.80).
func spanWords(x float64, i stats.Interval) string {
	return fmt.Sprintf("%s (%s to %s)", fixed(x, 2), fixed(i.Lower, 2), fixed(i.Upper, 2))
}

// sizedWords is the size of a test's difference, with its interval where it is not
// known, or a dash where nothing is.
func sizedWords(d float64, i stats.Interval) string {
	switch {
	case i.Upper > i.Lower:
		return spanWords(d, i)
	case d > 0:
		return trim(d, 2)
	}
	return "–"
}

// countWords is a count: 14 of 22, or a dash for none.
func countWords(c record.Count) string {
	if c.Sets == 0 {
		return "–"
	}
	return fmt.Sprintf("%d of %d", c.Right, c.Sets)
}

// perceivedWords is a d′, which may lie beyond any or be unknown.
func perceivedWords(d float64) string {
	switch {
	case math.IsNaN(d):
		return "–"
	case math.IsInf(d, 1):
		return "beyond any"
	}
	return fixed(d, 2)
}
