package console

import (
	"fmt"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// resultRoutes are the pages after the tasting, and the audit trail.
func (c *Console) resultRoutes(r chi.Router) {
	r.Get("/s/{id}/reveal", c.page(c.showReveal))
	r.Post("/s/{id}/reveal", c.page(c.reveal))
	r.Get("/s/{id}/result", c.page(c.showResult))
	r.Get("/s/{id}/result.csv", c.page(c.resultCSV))
	r.Get("/s/{id}/result.json", c.page(c.resultJSON))
	r.Get("/s/{id}/result"+session.DossierExtension, c.page(c.sessionFile))
	r.Get("/s/{id}/trail", c.page(c.showTrail))
	r.Get("/received/{id}", c.page(c.showReceived))
}

// revealView is the page between the close and the reveal.
type revealView struct {
	ID      session.ID
	Title   string
	Phase   session.Phase
	Answer  string
	Sub     string
	Closed  time.Time
	Digest  session.Hash
	Proof   proofView
	Counts  string // what was answered
	Next    navItem
	Go      string
	Broken  bool   // the seal was broken before
	Single  string // why the session is single blind, a sentence; "" where nothing tells so
	Amended []amendedLine
	Noted   deviationsView
	Form    *form
}

func revealOf(s *session.State, f *form) revealView {
	v := revealView{
		ID: s.ID, Title: head(s).Title, Phase: s.Phase, Closed: s.Times[session.PhaseClosed],
		Digest: s.Digest, Proof: proofOf(s), Next: nextPage(s),
		Broken: s.Broken != nil, Amended: amendedLines(s), Noted: deviationsOf(s, f), Form: f,
	}
	v.Answer, v.Sub = whyNotRevealed(s)
	v.Single, _ = s.SingleBlind()
	switch s.Phase {
	case session.PhaseClosed:
		v.Counts = answeredWords(s)
	case session.PhaseRevealed:
		v.Go = sessionPath(s, "result")
	}
	return v
}

// answeredWords says how much was answered, the same under every key.
func answeredWords(s *session.State) string {
	listed, kept := s.Listed(), 0
	for _, n := range listed {
		kept += s.Seats[n-1].Answered()
	}
	return fmt.Sprintf("%d of %s answered.", kept, setsAre(len(listed)*s.Plan.SetsPerSeat()))
}

func setsAre(n int) string { return counted(n, "set") + " " + areIs(n) }

// whyNotRevealed says how things stand before there is a result.
func whyNotRevealed(s *session.State) (answer, sub string) {
	switch s.Phase {
	case session.PhaseNone, session.PhaseDrafted:
		return "There is no result: the plan is not sealed yet.", "A result needs a sealed plan, a tasting and its close."
	case session.PhaseSealed:
		if s.Broken != nil {
			return "There is no result: nobody has tasted yet.", "The seal was broken before anybody tasted."
		}
		return "There is no result: nobody has tasted yet.", "The key is sealed. It opens after the tasting is closed."
	case session.PhaseOpen:
		if s.Broken != nil {
			return "There is no result yet: the tasting is not closed.", "It is worked out at the reveal, and says that the seal was broken."
		}
		return "There is no result yet: the tasting is not closed.", "The key stays sealed until then, so that nobody at the table can be led by it."
	case session.PhaseClosed:
		return closedWords(s), "Nothing can be answered any more. Write hash and number below on paper, then reveal."
	case session.PhaseAbandoned:
		if s.Broken != nil {
			return "There is no result: the session was abandoned.", "Its reason stands in the audit trail. The seal was broken before."
		}
		return "There is no result: the session was abandoned.", "Its reason stands in the audit trail. The key stays sealed."
	}
	return "The key is open.", ""
}

// closedWords say how a session stands between the close and the reveal.
func closedWords(s *session.State) string {
	if s.Broken != nil {
		return "The tasting is closed. The seal was broken before."
	}
	return "The tasting is closed. The key is still sealed."
}

func (c *Console) showReveal(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	if s.Phase == session.PhaseRevealed {
		return seeOther(w, r, sessionPath(s, "result"))
	}
	return c.revealPage(w, s, http.StatusOK, filled())
}

func (c *Console) revealPage(w http.ResponseWriter, s *session.State, status int, f *form) error {
	p := Page{Title: "Reveal", Nav: "reveal", Session: head(s), Body: revealOf(s, f)}
	if s.Phase == session.PhaseClosed {
		p.Live = liveAddress(s, "reveal", false, 0)
	}
	return c.renderAs(w, status, "reveal.html", p)
}

// reveal opens the key, and ends the series of judges whose line it has reached.
func (c *Console) reveal(w http.ResponseWriter, r *http.Request) error {
	open := c.press("result", func(*http.Request) (session.Act, error) { return session.Reveal{}, nil })
	if err := open(w, r); err != nil {
		return err
	}
	c.afterReveal(r.Context())
	return nil
}

// resultView is the result as its template shows it, and prints it as a report.
type resultView struct {
	ID       session.ID
	Title    string
	Demo     bool
	Practice bool
	Answer   string
	Outcome  string // of the first test of the two lots: its word
	Mark     string // and its mark
	Goal     string // that was registered, in words
	Sub      string
	Revealed time.Time
	Tests    []testView
	Sizes    sizeView
	Cautions []string
	Seal     bool
	Digest   session.Hash
	Sealed   time.Time
	Entries  int
	Proof    proofView
	Releases []releaseLine
	Amended  *amendedView // nil where no set was taken out after the close
	Single   string
	Eligible []string // of who was to taste and who did
	Untied   int      // seats of which nobody has said who had them
}

type releaseLine struct{ Lot, By, Report string }

func (c *Console) showResult(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	switch s.Phase {
	case session.PhaseRevealed:
	case session.PhaseClosed:
		return seeOther(w, r, sessionPath(s, "reveal"))
	default:
		return c.renderAs(w, http.StatusForbidden, "reveal.html", Page{Title: "Result", Nav: "result", Session: head(s), Body: revealOf(s, filled())})
	}
	v, err := resultOf(s)
	if err != nil {
		return err
	}
	lab := c.Rooms.Lab().State()
	v.Eligible = session.EligibilityCautions(s, lab)
	for _, n := range s.Listed() {
		if _, tied := lab.PersonOf(s.ID, n); !tied && !s.Demo && !s.Plan.Practice {
			v.Untied++
		}
	}
	return c.render(w, "result.html", Page{Title: "Result", Nav: "result", Session: head(s), Body: v})
}

func resultOf(s *session.State) (*resultView, error) {
	res, err := s.Compute()
	if err != nil {
		return nil, err
	}
	v := &resultView{
		ID: s.ID, Title: head(s).Title, Demo: s.Demo, Practice: s.Plan.Practice,
		Answer: res.Answer(), Outcome: string(session.Undecided), Mark: outcomeMark(session.Undecided),
		Revealed: s.Times[session.PhaseRevealed], Cautions: res.Cautions, Seal: res.Seal,
		Digest: s.Digest, Sealed: s.Times[session.PhaseSealed], Entries: len(s.Trail), Proof: proofOf(s),
	}
	v.Single, _ = s.SingleBlind()
	risks := sequentialForecast(s.Plan)
	shown := "" // by the test before in the registered order
	number := 0 // in the registered order
	for i, t := range res.Tests {
		if t.Plan.Blank == "" {
			if number++; number == 1 {
				v.Outcome, v.Mark, v.Goal = string(t.Outcome), outcomeMark(t.Outcome), goalWords(t.Plan.Goal)
			}
		}
		tv := testOf(t, number, shown)
		if t.Plan.Blank == "" {
			shown = string(t.Outcome)
		}
		if t.Plan.Sequential && t.N > 0 {
			tv.sequential(t, severalFlights(s.Plan), risks)
		}
		tv.Checks = sideChecks(t, res.Positions(i))
		tv.Trays = traysOf(i, t, res.Answers, s.Plan)
		v.Tests = append(v.Tests, tv)
	}
	if res.BrewingTold() {
		v.Mark, v.Outcome = "caution", withBrewing(session.Outcome(v.Outcome))
		for i, t := range res.Tests {
			if t.Plan.Blank == "" && isDifferent(t.Outcome) {
				v.Tests[i].Mark = "caution"
				v.Tests[i].Verdict += " But two brews of one lot were told apart too, so the brewing may have been tasted."
			}
		}
	}
	if s.Plan.Practice { // it never counts, so no page gives a verdict
		v.Outcome, v.Mark = "practice", outcomeMark(session.Undecided)
		for i := range v.Tests {
			v.Tests[i].Verdict, v.Tests[i].Mark = "Practice never counts: nothing is decided.", v.Mark
		}
	}
	v.Sub = fmt.Sprintf("Lot %s, against lot %s. Registered analysis, %s.", s.Plan.Untreated.Words(), s.Plan.Processed.Words(), inOrder(number, len(res.Tests)-number))
	v.Sizes = sizesOf(res.Tests)
	v.Amended = amendedOf(s, res)
	for _, r := range s.Releases {
		lot := s.Plan.Untreated
		if r.Lot == s.Plan.Processed.ID {
			lot = s.Plan.Processed
		}
		v.Releases = append(v.Releases, releaseLine{lot.Words(), typedWords(r.By), r.Report})
	}
	return v, nil
}

// goalWords are a goal as a report names it.
func goalWords(goal string) string {
	if goal == session.GoalBoth {
		return "difference and similarity"
	}
	return goal
}

func inOrder(tests, blanks int) string {
	say := fmt.Sprintf("all %d tests in the registered order", tests)
	switch tests {
	case 1:
		say = "one test"
	case 2:
		say = "both tests in the registered order"
	}
	if blanks > 0 {
		say += ", and a blank test beside"
	}
	return say
}
