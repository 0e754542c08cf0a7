package console

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// benchRoutes are the page that is filled in at the bench: who does what, and
// whether all is as planned before people taste.
func (c *Console) benchRoutes(r chi.Router) {
	r.Get("/s/{id}/bench", c.page(c.showBench))
	r.Post("/s/{id}/roles", c.page(c.nameRoles))
	r.Post("/s/{id}/confirm", c.page(c.confirmCheck))
	r.Post("/s/{id}/confirm/again", c.page(c.confirmAgain))
}

// benchView is the bench page.
type benchView struct {
	ID       session.ID
	Title    string
	Flight   string // at the table, "" where all seats are one
	Answer   string // how things stand
	Sub      string
	Next     navItem
	Ready    bool // nothing is left to confirm: going on is the next act
	Groups   []checkGroup
	CanCheck bool // checks can be confirmed now
	Again    int  // checks that held in the flight before and are not confirmed yet
	Before   int  // that flight
	Roles    []roleLine
	CanName  bool   // roles can be named now
	Single   string // why the session is single blind, a sentence; "" where nothing tells so
	Planned  []planFact
	Stated   bool // the plan states a condition
	Openings []openingLine
	Noted    deviationsView
	Form     *form
}

type checkGroup struct {
	Name   string
	Checks []checkLine
}

// checkLine is one check as it stands.
type checkLine struct {
	session.BenchCheck
	Session session.ID
	State   string // open, held or not
	Mark    string
	Word    string
	At      time.Time
	Note    string
	Can     bool
	First   bool // the first one that is open: its button is the page's primary act
	Field   string
	Form    *form
}

type roleLine struct {
	Role  session.Role
	Field string
	Label string
	Hint  string
	Name  string
}

// openingLine says how a flight stood when its tasting began.
type openingLine struct {
	At    time.Time
	What  string
	Names []string // of the checks that were not confirmed then
}

func noteField(check string) string          { return "note-" + check }
func roleField(role session.Role) string     { return "role-" + string(role) }
func checkAnchor(check string) (page string) { return "bench#check-" + check }

// roleLabels say what each role is, and what its name is good for.
var roleLabels = map[session.Role][2]string{
	session.RoleHost:     {"Leads the panel, at this laptop", "A host who also pours or tastes is allowed; the session is then single blind, and the report says so."},
	session.RoleRoaster:  {"Roasted both lots", ""},
	session.RolePreparer: {"Brews", ""},
	session.RolePourer:   {"Pours, by the pour sheet", "Knows what is in each cup. Nobody of this name can take a seat."},
	session.RoleRunner:   {"Carries the trays", "Sees no sheet."},
	session.RoleTrainer:  {"Trained the tasters", ""},
}

func (c *Console) showBench(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	return c.benchPage(w, room.State(), http.StatusOK, filled())
}

func (c *Console) benchPage(w http.ResponseWriter, s *session.State, status int, f *form) error {
	return c.renderAs(w, status, "bench.html", Page{Title: "Bench", Nav: "bench", Session: head(s), Body: benchOf(s, f)})
}

// benchOf makes the view of a state. f is a form that was refused, or an empty
// one.
func benchOf(s *session.State, f *form) benchView {
	v := benchView{
		ID: s.ID, Title: head(s).Title, Flight: flightWords(s), Next: nextPage(s), Form: f,
		CanCheck: (s.Phase == session.PhaseSealed || s.Phase == session.PhaseOpen) && !s.Stopped,
		CanName:  s.Phase == session.PhaseDrafted || s.Phase == session.PhaseSealed || s.Phase == session.PhaseOpen,
		Planned:  conditionFacts(s.Plan), Stated: s.Plan.Conditions != session.Conditions{},
	}
	v.Noted = deviationsOf(s, f)
	v.Noted.Here = true
	v.Single, _ = s.SingleBlind()
	if s.Digest != (session.Hash{}) {
		v.checks(s, f)
	}
	for _, role := range session.Roles {
		words := roleLabels[role]
		l := roleLine{Role: role, Field: roleField(role), Label: words[0], Hint: words[1], Name: s.Roles[role].Words}
		if f.values.Has(l.Field) {
			l.Name = f.Value(l.Field)
		}
		v.Roles = append(v.Roles, l)
	}
	for _, o := range s.Openings {
		v.Openings = append(v.Openings, openingOf(s.Plan, o))
	}
	v.sentences(s)
	return v
}

// checks lists the checks by their groups.
func (v *benchView) checks(s *session.State, f *form) {
	spoken := !v.CanCheck
	for _, check := range session.Checks(s.Plan) {
		l := checkLine{BenchCheck: check, Session: s.ID, State: "open", Mark: "expected", Word: "not confirmed yet", Can: v.CanCheck, Field: noteField(check.Key), Form: f}
		if !v.CanCheck {
			l.Word = "not confirmed"
		}
		if have, ok := s.Confirmed[check.Key]; ok {
			l.State, l.Mark, l.Word, l.At, l.Note = "held", "done", "confirmed", have.At, have.Note.Words
			if !have.Held {
				l.State, l.Mark, l.Word, l.Note = "not", "caution", "not as planned", typedWords(have.Note)
			}
		}
		if l.State == "open" && !spoken {
			l.First, spoken = true, true
		}
		if n := len(v.Groups); n == 0 || v.Groups[n-1].Name != check.Group {
			v.Groups = append(v.Groups, checkGroup{Name: check.Group})
		}
		g := &v.Groups[len(v.Groups)-1]
		g.Checks = append(g.Checks, l)
	}
	v.Ready = len(s.Unconfirmed()) == 0
	if again := againConfirmed(s); v.CanCheck && len(again) > 0 {
		v.Again, v.Before = len(again), s.Openings[len(s.Openings)-1].Flight
	}
}

// againConfirmed are the checks that held when the flight before was opened,
// and that nobody has confirmed for this one.
func againConfirmed(s *session.State) []session.BenchCheck {
	if len(s.Openings) == 0 {
		return nil
	}
	var again []session.BenchCheck
	for _, check := range s.Unconfirmed() {
		if s.Openings[len(s.Openings)-1].Confirmed[check.Key].Held {
			again = append(again, check)
		}
	}
	return again
}

// benchCount counts the checks of the flight at the table.
func benchCount(s *session.State) (confirmed, not, all int) {
	for _, check := range session.Checks(s.Plan) {
		all++
		switch have, ok := s.Confirmed[check.Key]; {
		case ok && have.Held:
			confirmed++
		case ok:
			not++
		}
	}
	return confirmed, not, all
}

// benchWords say how far the checks are: "7 of 11 confirmed, 1 not as planned, 3
// not confirmed". Where none is known not to hold, the rest follows from the two.
func benchWords(s *session.State) string {
	confirmed, not, all := benchCount(s)
	say := fmt.Sprintf("%d of %d confirmed", confirmed, all)
	if not > 0 {
		say += fmt.Sprintf(", %d not as planned", not)
		if left := all - confirmed - not; left > 0 {
			say += fmt.Sprintf(", %d not confirmed", left)
		}
	}
	return say
}

// startWords are the words of the act that begins the tasting.
func startWords(s *session.State) string {
	confirmed, not, all := benchCount(s)
	var but []string
	if left := all - confirmed - not; left > 0 {
		but = append(but, fmt.Sprintf("%d not confirmed", left))
	}
	if not > 0 {
		but = append(but, fmt.Sprintf("%d not as planned", not))
	}
	say := "Start"
	if flightWords(s) != "" {
		say = fmt.Sprintf("Start flight %d", s.Flight)
	}
	switch {
	case len(but) > 0:
		return say + " with " + strings.Join(but, ", ")
	case flightWords(s) == "":
		return "Start the tasting"
	}
	return say
}

// sentences says how the bench stands.
func (v *benchView) sentences(s *session.State) {
	confirmed, not, all := benchCount(s)
	switch {
	case s.Phase == session.PhaseNone || s.Phase == session.PhaseDrafted:
		v.Answer = "The plan is not sealed yet."
		v.Sub = "What is to be confirmed follows from the sealed plan. Who does what can be written down already."
	case s.Phase == session.PhaseAbandoned:
		v.Answer = "This session was abandoned."
	case !v.CanCheck:
		v.Answer = "The tasting is over."
		v.Sub = "What was not as planned can be noted until the reveal; names and checks stay as they are."
		if s.Phase == session.PhaseRevealed {
			v.Sub = "The report says what was confirmed before people tasted, and what was not."
		}
	case v.Ready && not == 0:
		v.Answer = fmt.Sprintf("All %d are confirmed.", all)
	case v.Ready:
		v.Answer = sentence(fmt.Sprintf("All %d were looked at; %d %s not as planned", all, not, areIs(not)))
	case confirmed+not == 0:
		v.Answer = fmt.Sprintf("Nothing is confirmed yet: %d things to look at.", all)
	default:
		v.Answer = sentence(benchWords(s))
	}
	if v.CanCheck && v.Sub == "" {
		v.Sub = "Go round the bench with this page. What is not as planned, and can’t be put right before people taste, goes on the report with your words."
		if s.Tasting {
			v.Sub = "People taste now. What is confirmed from here on was not confirmed before they began; what is not as planned goes on the report at once."
		}
	}
}

func openingOf(p session.Plan, o session.Opening) openingLine {
	l := openingLine{At: o.At, What: "All was looked at before the tasting began."}
	left := o.Unconfirmed(p)
	for _, check := range left {
		l.Names = append(l.Names, check.Name)
	}
	if len(left) > 0 {
		l.What = "Not confirmed when the tasting began: " + listed(l.Names) + "."
	}
	if severalFlights(p) {
		l.What = fmt.Sprintf("Flight %d. ", o.Flight) + l.What
	}
	return l
}

// conditionFacts are how the cups are to be served and tasted, as planned. What
// the plan does not state is left out.
func conditionFacts(p session.Plan) []planFact {
	var all []planFact
	s, c := p.Serving, p.Conditions
	add := func(name, value string) {
		if strings.TrimSpace(value) != "" {
			all = append(all, planFact{name, value})
		}
	}
	add("served at", num(s.LowC)+" to "+num(s.HighC)+" °C")
	if s.Gate {
		add("before each set", "a cup’s temperature is measured; outside the range a set is served with a reason only")
	}
	add("coffee in each cup", num(s.FillG)+" g")
	add("place", c.Place)
	add("light", c.Light)
	if s.RedLight {
		add("phones", "red on black, for red lamps")
	}
	add("partitions", c.Partitions)
	add("what hides how cups look", c.Masking)
	add("cups", c.Vessels)
	if c.Lids {
		add("lids", "one on each cup")
	}
	if c.DiscardMin > 0 {
		add("a poured cup is thrown away after", fmt.Sprintf("%d min", c.DiscardMin))
	}
	add("storage", c.Storage)
	add("roast of both lots", c.Roast)
	add("brewing", num(s.DoseGPerL)+" g of coffee per litre of water")
	add("brewing water", c.Water)
	if c.HoldMin > 0 {
		add("a brew is held for", fmt.Sprintf("%d min at most", c.HoldMin))
	}
	if c.HoldHighC > 0 {
		add("a brew is held at", num(c.HoldLowC)+" to "+num(c.HoldHighC)+" °C")
	}
	add("warm-up cup before set 1", c.WarmUp)
	add("palate cleanser", c.Cleanser)
	if s.RinseS > 0 {
		add("rinse after a set", fmt.Sprintf("%d s", s.RinseS))
	}
	add("tasting again within a set", c.Retaste)
	add("tasters are told", s.Swallow)
	add("allergens near the cups", s.Allergens)
	return all
}

// nameRoles keeps the names that are new. All are looked at before any is kept.
func (c *Console) nameRoles(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	s := room.State()
	var acts []session.NameRole
	for _, role := range session.Roles {
		field := roleField(role)
		typed, now := f.text(field), s.Roles[role].Words
		if typed == now || !f.values.Has(field) {
			continue
		}
		if typed == "" {
			f.bad(field, fmt.Sprintf("%s is written down here; a name can be replaced, and not taken back", now))
			continue
		}
		name, err := c.words(typed)
		if err != nil {
			return err
		}
		act := session.NameRole{Role: role, Name: name}
		_, err = s.Decide(session.Command{At: c.Now(), Actor: session.Host, Act: act})
		switch {
		case errors.Is(err, session.ErrWords):
			f.bad(field, "a name has 1 to 40 characters")
		case errors.Is(err, session.ErrPours):
			f.bad(field, fmt.Sprintf("somebody who tastes has this name (%s); who pours knows what is in the cups, and can’t taste", typed))
		case err != nil:
			return err
		default:
			acts = append(acts, act)
		}
	}
	if f.Bad() {
		f.Refused = "The names were not kept."
		return c.benchPage(w, s, http.StatusUnprocessableEntity, f)
	}
	for _, act := range acts {
		if _, err := c.do(r.Context(), room, act); err != nil {
			return err
		}
	}
	return seeOther(w, r, sessionPath(s, "bench#roles"))
}

// confirmCheck keeps how a check was found.
func (c *Console) confirmCheck(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	act := session.Confirm{Check: f.text("check"), Held: f.Is("held", "1")}
	if note := f.text(noteField(act.Check)); note != "" || !act.Held {
		if act.Note, err = c.words(note); err != nil {
			return err
		}
	}
	_, err = c.do(r.Context(), room, act)
	if errors.Is(err, session.ErrWords) {
		f.bad(noteField(act.Check), "say in 1 to 200 characters what was not as planned")
		f.Refused = "That was not kept."
		return c.benchPage(w, room.State(), http.StatusUnprocessableEntity, f)
	}
	if err != nil {
		return err
	}
	return seeOther(w, r, sessionPath(room.State(), checkAnchor(act.Check)))
}

// confirmAgain confirms for a later flight what held in the one before.
func (c *Console) confirmAgain(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	for _, check := range againConfirmed(room.State()) {
		if _, err := c.do(r.Context(), room, session.Confirm{Check: check.Key, Held: true}); err != nil {
			return err
		}
	}
	return seeOther(w, r, sessionPath(room.State(), "bench#checks"))
}
