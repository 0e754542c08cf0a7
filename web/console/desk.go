package console

import (
	"fmt"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// The desk is what lies outside a single session: the home page and the
// register of lots.
func (c *Console) deskRoutes(r chi.Router) {
	r.Get("/", c.page(c.home))
	r.Post("/lab", c.page(c.nameLab))
	r.Get("/lots", c.page(c.lots))
	r.Post("/lots", c.page(c.enterLot))
	r.Post("/lots/{lot}/release", c.page(c.releaseLot))
	r.Post("/sessions", c.page(c.draftSession))
}

// homeView is the home page.
type homeView struct {
	AtHand   *atHand
	First    bool // nothing has been planned yet: the page leads
	Lab      string
	LabForm  *form
	Sessions []sessionRow
	Lots     []lotLine
	Enough   bool // two lots are in the register
	Received receivedList
	Lobbies  []otherLobby // that are open at once; nil for one or none
	Backup   *backupView  // nil where no copy can be made

	// Templates are the usual sessions that a plan may begin from.
	Templates []session.Template
}

// atHand is the session that the lab is at, as a sentence and its next act.
type atHand struct {
	Head      *Head
	Says      string
	Phases    []phaseStep
	Next      string
	NextWords string
	Others    []link
	Fresh     bool // a new session may be drafted beside it as the usual next step
}

type link struct{ To, Words string }

// phaseStep is a point on the line of phases.
type phaseStep struct {
	Name      string
	At        time.Time
	Note      string // where the flights stand
	Past, Now bool
}

// sessionRow is a session in the list, with a line for each test.
type sessionRow struct {
	session.Row
	Plan     session.Plan // zero where the journal can't be read
	LotWords string
	Broken   *session.Noting // the seal was broken before the reveal; nil if not
	Single   string          // why it is single blind, a sentence; "" where nothing tells so
	Lines    []testLine
}

type testLine struct {
	Method  string
	Counted string // "13 of 24", "–" before the reveal
	P       string
	Mark    string // of the outcome or phase
	Outcome string
}

func (c *Console) home(w http.ResponseWriter, r *http.Request) error {
	return c.renderHome(w, r, filled("name", c.labName()))
}

func (c *Console) renderHome(w http.ResponseWriter, r *http.Request, labForm *form) error {
	rows, err := c.Rooms.Rows(r.Context())
	if err != nil {
		return err
	}
	lab := c.Rooms.Lab().State()
	v := homeView{First: len(rows) == 0, Lab: lab.Name, LabForm: labForm, Lots: lotLines(lab), Enough: len(lab.Lots) >= 2, Templates: session.Templates}
	v.Received = c.received(r)
	v.Backup = c.backupOf(rows, lab)
	if open := c.openLobbies(); len(open) > 1 {
		v.Lobbies = open
	}
	p := Page{Title: "Home", Nav: "home"}
	if i := rowAtHand(rows, c.lobbyOpen); i >= 0 {
		room, err := c.Rooms.Session(r.Context(), rows[i].ID)
		if err != nil {
			return err
		}
		v.AtHand = atHandOf(room.State(), lab)
		p.Session = v.AtHand.Head
	}
	for _, row := range rows {
		// The index keeps only a digest of a reason, and nothing of a test's plan.
		// A session that can't be read is listed without them.
		var plan session.Plan
		var broken *session.Noting
		single := ""
		if room, err := c.Rooms.Session(r.Context(), row.ID); err == nil {
			plan, row.Reason, broken = room.State().Plan, room.State().AbandonedFor, room.State().Broken
			single, _ = room.State().SingleBlind()
		}
		line := newSessionRow(row, plan)
		line.Broken, line.Single = broken, single
		v.Sessions = append(v.Sessions, line)
	}
	p.Body = v
	return c.render(w, "home.html", p)
}

// lobbyOpen reports whether people take seats in a session now.
func (c *Console) lobbyOpen(id session.ID) bool {
	for _, room := range c.Rooms.Live() {
		if s := room.State(); s.ID == id {
			return s.LobbyOpen
		}
	}
	return false
}

// rowAtHand chooses among the rows, the newest first: a tasting that is open or
// whose lobby is, else the one last changed that is not over, else the newest
// that was revealed.
func rowAtHand(rows []session.Row, lobbyOpen func(session.ID) bool) int {
	best := -1
	rank := func(r session.Row) int {
		switch r.Phase {
		case session.PhaseOpen:
			return 4
		case session.PhaseSealed:
			if lobbyOpen(r.ID) {
				return 3
			}
			return 2
		case session.PhaseDrafted, session.PhaseClosed:
			return 2
		case session.PhaseRevealed:
			return 1
		}
		return 0
	}
	for i, r := range rows {
		if rank(r) == 0 {
			continue
		}
		if best < 0 || rank(r) > rank(rows[best]) || rank(r) == rank(rows[best]) && r.Changed.After(rows[best].Changed) {
			best = i
		}
	}
	return best
}

// nextAct is a session's one next step: where, and in what words.
func nextAct(s *session.State) (to, words string) {
	at := "/s/" + string(s.ID)
	switch s.Phase {
	case session.PhaseDrafted:
		return at + "/plan", "Go on with the plan"
	case session.PhaseSealed:
		if !s.LobbyOpen && !s.Frozen {
			return at + "/lobby", "Open the lobby"
		}
		return at + "/lobby", "Go to the lobby"
	case session.PhaseOpen:
		switch {
		case !atLobby(s):
			return at + "/board", "Go to the board"
		case !s.LobbyOpen && !s.Frozen:
			return at + "/lobby", fmt.Sprintf("Open the lobby of flight %d", s.Flight)
		}
		return at + "/lobby", fmt.Sprintf("Go to the lobby of flight %d", s.Flight)
	case session.PhaseClosed:
		return at + "/reveal", "Check the seal and reveal"
	case session.PhaseRevealed:
		return at + "/result", "Read the result"
	}
	return at + "/trail", "Read the audit trail"
}

func atHandOf(s *session.State, lab *session.Lab) *atHand {
	h := &atHand{Head: head(s), Says: standing(s, lab)}
	h.Next, h.NextWords = nextAct(s)
	at := "/s/" + string(s.ID)
	switch s.Phase {
	case session.PhaseSealed:
		h.Others = []link{{at + "/bench", "Bench: " + benchWords(s)}, {at + "/print", "Print labels and cards"}, {at + "/plan", "Look at the plan"}}
	case session.PhaseOpen:
		h.Others = []link{{at + "/bench", "Bench: " + benchWords(s)}, {at + "/print", "Print"}}
	case session.PhaseClosed:
		h.Others = []link{{at + "/board", "Look at the board"}}
	case session.PhaseRevealed:
		h.Fresh = true
		h.Others = []link{{at + "/trail", "Read the audit trail"}}
	}
	past := true
	for _, phase := range []session.Phase{
		session.PhaseDrafted, session.PhaseSealed, session.PhaseOpen, session.PhaseClosed, session.PhaseRevealed,
	} {
		step := phaseStep{Name: string(phase), At: s.Times[phase], Now: phase == s.Phase}
		if phase == session.PhaseOpen && s.Phase == session.PhaseOpen {
			step.Note = flightWords(s)
		}
		if step.Now {
			past = false
		}
		step.Past = past
		h.Phases = append(h.Phases, step)
	}
	return h
}

// standing says in a sentence how a session stands.
func standing(s *session.State, lab *session.Lab) string {
	switch s.Phase {
	case session.PhaseDrafted:
		n := len(s.Plan.Check())
		if n > 0 && pinAt(s).IsZero() {
			n++ // what the plan page counts
		}
		switch {
		case n == 1:
			return "The plan is drafted. One thing is wrong or missing before it can be sealed."
		case n > 1:
			return fmt.Sprintf("The plan is drafted. %d things are wrong or missing before it can be sealed.", n)
		}
		return "The plan is drafted. Seal it to draw orders and codes."
	case session.PhaseSealed:
		return sentence(standingSealed(s, lab))
	case session.PhaseOpen:
		return sentence(standingOpen(s, lab))
	case session.PhaseClosed:
		if s.Broken != nil {
			return "The tasting is closed. The seal was broken; the result is not revealed yet."
		}
		return "The tasting is closed. The key is sealed until you reveal it."
	case session.PhaseRevealed:
		return s.Plan.OfBrews(standingRevealed(s))
	}
	return "This session was abandoned."
}

// standingRevealed says what the first test of the two lots showed.
func standingRevealed(s *session.State) string {
	if s.Plan.Practice {
		return "Practice is over. It never counts, so there is no verdict on the lots."
	}
	say := "Revealed: "
	if s.Result != nil && brewingTold(s.Plan, s.Result.Tests) {
		say = "Revealed: the brewing may have been tasted, since two brews of one lot could be told apart. Of the two lots: "
	}
	for i, p := range s.Plan.Tests {
		if p.Blank != "" || s.Result == nil || i >= len(s.Result.Tests) {
			continue
		}
		t := s.Result.Tests[i]
		within := "fewer than " + pct(p.PdLimit) + " of people perceive a difference."
		switch {
		case t.N == 0:
			return say + "there is no answer, since no set of the first test counts."
		case t.Outcome == session.Different:
			return say + "the panel could tell the two lots apart."
		case t.Outcome == session.DifferentSmall:
			return say + "the panel could tell the two lots apart, and " + within
		case t.Outcome == session.Similar:
			return say + "similar within the limit: " + within
		case p.Goal == session.GoalSimilarity:
			return say + "these answers do not show that " + within
		}
		break
	}
	return say + "these answers cannot say whether the lots differ."
}

func standingSealed(s *session.State, lab *session.Lab) string {
	seats := len(flightSeats(s))
	switch {
	case s.Frozen && len(lab.ReleasesOf(s.Plan.Untreated.ID, s.Plan.Processed.ID)) < 2:
		return flightPrefix(s) + "the list is closed. A lot is not released yet, so nobody tastes."
	case s.Frozen:
		return flightPrefix(s) + fmt.Sprintf("the list is closed, %s poured for. Start the tasting when the first trays stand.", areSeats(len(s.Listed())))
	case s.LobbyOpen:
		return flightPrefix(s) + fmt.Sprintf("the lobby is open, %d of %s taken.", len(s.Occupied()), counted(seats, "seat"))
	}
	return fmt.Sprintf("%s sealed. Print the labels, then open the lobby.", areSeats(len(s.Seats)))
}

func areSeats(n int) string {
	if n == 1 {
		return "1 seat is"
	}
	return fmt.Sprintf("%d seats are", n)
}

func standingOpen(s *session.State, lab *session.Lab) string {
	round := len(s.Rounds)
	switch {
	case s.Stopped:
		return "The registered rule says stop: close the session."
	case betweenFlights(s) && !s.LobbyOpen && !s.Frozen:
		return fmt.Sprintf("Flight %d is done. Flight %d of %d is next.", s.Flight-1, s.Flight, len(s.Plan.FlightSizes()))
	case betweenFlights(s):
		return standingSealed(s, lab)
	case round == 0:
		return sentence(flightPrefix(s) + "the tasting is open. No set is served yet.")
	}
	in, of := 0, 0
	for _, seat := range flightSeats(s) {
		if seat.Listed && !seat.Left {
			of++
			if seat.Sets[round-1].Kept() != nil {
				in++
			}
		}
	}
	says := flightPrefix(s) + fmt.Sprintf("%d of %d have locked set %d of %d.", in, of, round, s.Plan.SetsPerSeat())
	if s.Paused {
		return "The table is paused. " + says
	}
	return says
}

func newSessionRow(row session.Row, plan session.Plan) sessionRow {
	r := sessionRow{Row: row, Plan: plan, LotWords: lotWords(row.Lots)}
	if row.Title == "" {
		r.Title = "Session without a title"
	}
	mark, words := "expected", string(row.Phase)
	switch row.Phase {
	case session.PhaseAbandoned:
		mark, words = "void", "abandoned: "+row.Reason.Words
		if row.Reason.Words == "" {
			words = "abandoned; the reason's words were erased"
		}
	case session.PhaseDrafted:
		mark = "empty"
	case session.PhaseSealed, session.PhaseClosed:
		mark = "sealed"
	case session.PhaseOpen:
		mark = "tasting"
	}
	for i, key := range row.Methods {
		line := testLine{Method: key, Counted: "–", P: "–"}
		var p session.TestPlan
		if i < len(plan.Tests) {
			p = plan.Tests[i]
		}
		if m, ok := session.MethodByKey(key); ok {
			line.Method = m.Name
		}
		if p.Blank != "" {
			line.Method += ", blank test"
		}
		if i == 0 {
			line.Mark, line.Outcome = mark, words
		}
		if i < len(row.Tests) {
			line.revealed(row.Tests[i], p)
			switch {
			case plan.Practice:
				line.P, line.Mark, line.Outcome = "–", "empty", "practice, no verdict"
			case p.Blank != "" && isDifferent(row.Tests[i].Outcome):
				line.Outcome = "two brews of one lot told apart"
			case row.Tests[i].Decided && brewingTold(plan, row.Tests):
				line.Mark, line.Outcome = "caution", withBrewing(row.Tests[i].Outcome)
			}
		}
		r.Lines = append(r.Lines, line)
	}
	if len(r.Lines) == 0 {
		r.Lines = []testLine{{"–", "–", "–", mark, words}}
	}
	return r
}

// revealed fills in a test's registered result. The p is that of its goal; with
// two, that of the difference stands first.
func (l *testLine) revealed(t session.Revealing, p session.TestPlan) {
	l.Counted = fmt.Sprintf("%d of %d", t.Correct, t.N)
	l.Mark, l.Outcome = outcomeMark(t.Outcome), string(t.Outcome)
	switch {
	case !t.Decided:
		l.Outcome = "no conclusion: the test before it was undecided"
		return
	case t.N == 0 || p.Sequential: // a test that could stop early has no p
	case p.Goal == session.GoalSimilarity:
		l.P = pvalue(t.SimilarP)
	case p.Goal == session.GoalBoth:
		l.P = pvalue(t.P) + " / " + pvalue(t.SimilarP)
	default:
		l.P = pvalue(t.P)
	}
}

// brewingTold reports whether a revealed blank test found a difference: people
// tasted the brewing then, and may have in the other tests.
func brewingTold(p session.Plan, tests []session.Revealing) bool {
	for i, t := range tests {
		if i < len(p.Tests) && p.Tests[i].Blank != "" && isDifferent(t.Outcome) {
			return true
		}
	}
	return false
}

func isDifferent(o session.Outcome) bool {
	return o == session.Different || o == session.DifferentSmall
}

// withBrewing is an outcome's word beside a blank test that found a difference.
func withBrewing(o session.Outcome) string {
	if isDifferent(o) {
		return string(o) + ", but the brewing may have been tasted"
	}
	return string(o) + "; two brews of one lot were told apart"
}

// outcomeMark is the name of an outcome's mark.
func outcomeMark(o session.Outcome) string {
	if o == session.DifferentSmall {
		return "small"
	}
	return string(o)
}

// lotWords names the two lots of a session in short.
func lotWords(lots [2]session.Lot) string {
	u, p := lots[0], lots[1]
	switch {
	case u.ID == "" && p.ID == "":
		return "not chosen"
	case u.ID == "":
		return "? / " + p.Words()
	case p.ID == "":
		return u.Words() + " / ?"
	case u.Number == p.Number:
		return u.Number + ": " + u.Treatment + " / " + p.Treatment
	}
	return u.Number + ", " + u.Treatment + " / " + p.Number + ", " + p.Treatment
}

func (c *Console) nameLab(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	if err := c.register(r, session.NameLab{Name: f.text("name")}); err != nil {
		if err := f.refuse("name", err); err != nil {
			return err
		}
		w.WriteHeader(http.StatusUnprocessableEntity)
		return c.renderHome(w, r, f)
	}
	return seeOther(w, r, "/")
}

// register sends a command to the laboratory's register.
func (c *Console) register(r *http.Request, act session.Act) error {
	_, err := c.Rooms.Lab().Do(r.Context(), session.Command{At: c.Now(), Actor: session.Host, Act: act})
	return err
}

// usualTemplate is the one that a session begins with where none is chosen.
const usualTemplate = "body"

// Usual reports whether a template is chosen beforehand.
func (homeView) Usual(t session.Template) bool { return t.Key == usualTemplate }

// draftSession begins a session from a template.
func (c *Console) draftSession(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	key := f.text("template")
	if key == "" {
		key = usualTemplate
	}
	template, ok := session.TemplateByKey(key)
	if !ok {
		return problem{
			http.StatusUnprocessableEntity, fmt.Sprintf("No usual session is called “%s”.", key),
			"Go to the home page and choose a question there.",
		}
	}
	now := c.Now()
	id, err := session.NewID(now, c.Chance)
	if err != nil {
		return err
	}
	plan := template.Plan()
	plan.Title = now.Local().Format("Monday") + " session"
	plan.Conditions = session.Conditions{Cleanser: "Water at room temperature", Retaste: session.RetasteAllowed}
	if u, p, ok := onlyPair(c.Rooms.Lab().State().Lots); ok {
		plan.Untreated, plan.Processed = u, p
	}
	room, err := c.Rooms.New(r.Context(), id)
	if err != nil {
		return err
	}
	if _, err := c.do(r.Context(), room, session.Draft{Plan: plan}); err != nil {
		return err
	}
	return seeOther(w, r, "/s/"+string(id)+"/plan")
}

// onlyPair finds the untreated and the processed lot that can only be meant:
// the one pair of one number, else the one pair there is.
func onlyPair(lots []session.Lot) (untreated, processed session.Lot, ok bool) {
	var all, same [][2]session.Lot
	for _, u := range lots {
		for _, p := range lots {
			if !u.Untreated() || p.Untreated() {
				continue
			}
			all = append(all, [2]session.Lot{u, p})
			if u.Number == p.Number {
				same = append(same, [2]session.Lot{u, p})
			}
		}
	}
	for _, pairs := range [][][2]session.Lot{same, all} {
		if len(pairs) == 1 {
			return pairs[0][0], pairs[0][1], true
		}
	}
	return untreated, processed, false
}
