package console

import (
	"fmt"
	"html/template"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
	"oddcup/web/look"
)

// The plan is one form. Every button of it sends all of it, so that no act (to
// work it out, to set the PIN, to seal) loses what was typed for another.
func (c *Console) planRoutes(r chi.Router) {
	r.Get("/s/{id}", c.page(c.sessionNow))
	r.Get("/s/{id}/plan", c.page(c.showPlan))
	r.Post("/s/{id}/plan", c.page(c.savePlan))
	r.Post("/s/{id}/pin", c.page(c.savePlan))
	r.Post("/s/{id}/plan/forecast", c.page(c.forecastPlan))
	r.Post("/s/{id}/seal", c.page(c.sealPlan))
	r.Post("/s/{id}/abandon", c.page(c.abandon))
}

// sessionNow leads to the page of the session's phase.
func (c *Console) sessionNow(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	to, _ := nextAct(room.State())
	return seeOther(w, r, to)
}

// planView is the plan page.
type planView struct {
	Head     *Head
	Form     *form
	Plan     session.Plan // as the form has it, or as it was sealed
	Lots     []session.Lot
	Tests    []planTest
	Needs    session.Faults // what sealing still needs
	Supplies *amounts
	Advice   []advice
	Cautions []string
	Says     string // the forecasts in words, for screen readers

	Question  string
	Trouble   string // headline over a refused form
	Draft     uint64 // entry of the draft that the page began from
	Unsaved   bool
	PinAt     time.Time // zero if the pourer has set none
	Sealed    time.Time
	Digest    session.Hash
	Next      string
	NextWords string
	Abandon   *form
	CanEnd    bool // the session can be abandoned
}

// planTest is one test on the page, with what it can show.
type planTest struct {
	Slot     int
	Name     string
	Method   session.Method
	On       bool
	Test     session.TestPlan
	Forecast *session.Forecast
	Plot     template.HTML
	Sizes    string // seats that balance
	Make     int    // seats to offer, 0 for none
}

// At is a field's name.
func (t planTest) At(name string) string { return slotField(t.Slot, name) }

// amounts are supplies as a person buys and boils them.
type amounts struct{ session.Supplies }

// CoffeeG is the ground coffee of both lots, g.
func (a amounts) CoffeeG() float64 { return 2 * a.CoffeeEachG }

// WaterEachL is the water for each lot, in litres at 1 kg.
func (a amounts) WaterEachL() float64 { return a.WaterEachG / 1000 }

// WaterL is the water for both lots, in litres.
func (a amounts) WaterL() float64 { return 2 * a.WaterEachL() }

// advice is what a standard advises, with its source.
type advice struct{ Say, Source string }

func (c *Console) showPlan(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	return c.renderPlan(w, s, c.planView(s, s.Plan, planForm(s.Plan)))
}

func (c *Console) renderPlan(w http.ResponseWriter, s *session.State, v planView) error {
	name := "plan.html"
	if s.Phase != session.PhaseDrafted {
		name = "plan-sealed.html"
	}
	return c.render(w, name, Page{Title: "Plan", Nav: "plan", Session: v.Head, Body: v})
}

// planView works out all that the page shows of a plan.
func (c *Console) planView(s *session.State, p session.Plan, f *form) planView {
	v := planView{
		Head: head(s), Form: f, Draft: draftOf(s), Plan: p, Lots: c.Rooms.Lab().State().Lots, Question: question(p),
		Sealed: s.Times[session.PhaseSealed], Digest: s.Digest, PinAt: pinAt(s), Abandon: filled(),
		CanEnd: s.Phase != session.PhaseRevealed && s.Phase != session.PhaseAbandoned,
		Needs:  needs(p, f), Cautions: c.planCautions(p, s.Phase == session.PhaseDrafted), Advice: adviceFor(p),
	}
	v.Next, v.NextWords = nextAct(s)
	if supplies := p.Supplies(); supplies.Cups > 0 && supplies.WaterEachG > 0 && supplies.WaterEachG < 1e7 {
		v.Supplies = &amounts{supplies}
	}
	forecasts := p.Forecast()
	for slot, m := range planSlots {
		t := planTest{Slot: slot, Method: m, Name: capital(m.Name)}
		if i := slices.IndexFunc(p.Tests, func(t session.TestPlan) bool { return t.Method == m.Key }); i >= 0 {
			t.On, t.Test = true, p.Tests[i]
			for _, fc := range forecasts {
				if fc.Number == i+1 {
					t.forecast(fc, p.Seats)
					v.Says += says(t) + " "
				}
			}
		}
		v.Tests = append(v.Tests, t)
	}
	return v
}

// needs is what stands in the way of sealing: fields that could not be read,
// then what is wrong in the plan.
func needs(p session.Plan, f *form) session.Faults {
	wrong := p.Check()
	inSlots(wrong, p)
	var all session.Faults
	for _, x := range append(slices.Clone(f.Faults), wrong...) {
		twice := slices.ContainsFunc(all, func(have session.Fault) bool { return have.Field == x.Field })
		if !twice && !strings.HasPrefix(x.Field, "pin") {
			all = append(all, x)
		}
	}
	return all
}

// draftOf is the number of the entry that last drafted the plan.
func draftOf(s *session.State) uint64 {
	var seq uint64
	for _, step := range s.Trail {
		if _, ok := step.Event.(*session.Drafted); ok {
			seq = step.Seq
		}
	}
	return seq
}

func pinAt(s *session.State) time.Time {
	var at time.Time
	for _, step := range s.Trail {
		if _, ok := step.Event.(*session.PinSet); ok {
			at = step.At
		}
	}
	return at
}

// question is what the session asks, as a sentence.
func question(p session.Plan) string {
	if p.Untreated.ID == "" || p.Processed.ID == "" {
		return "Which two lots are to be told apart?"
	}
	ask := fmt.Sprintf("Can the panel tell lot %s from lot %s", p.Untreated.Words(), p.Processed.Words())
	if p.Untreated.Number == p.Processed.Number {
		ask = fmt.Sprintf("Can the panel tell lot %s before from after", p.Untreated.Number)
	}
	overall, by := false, ""
	for _, t := range p.Tests {
		if m, _ := session.MethodByKey(t.Method); m.Overall {
			overall = true
		} else {
			by = t.Attribute
		}
	}
	switch {
	case overall && by != "":
		ask += ", and by " + by
	case by != "":
		ask += " by " + by
	}
	return ask + "?"
}

func (t *planTest) forecast(f session.Forecast, seats int) {
	t.Forecast = &f
	block := len(f.Method.Orders)
	below := seats / block * block
	switch {
	case below == 0:
		t.Sizes = fmt.Sprintf("%d seats", block)
	case f.Balanced && below > block:
		t.Sizes = fmt.Sprintf("%d, %d or %d seats", below-block, below, below+block)
	default:
		t.Sizes = fmt.Sprintf("%d or %d seats", below, below+block)
	}
	if f.Warning != "" && f.Even > f.N {
		t.Make = f.Even / f.Plan.Sets
	}
	plot := look.PowerPlot{
		Wanted: f.Plan.Power, Planned: f.N,
		Title:        fmt.Sprintf("Power of the %s against the number of answers", f.Method.Name),
		Desc:         says(*t),
		XLabel:       "answers, n (large dots: every serving order equally often)",
		PlannedLabel: fmt.Sprintf("planned: %d, power %s", f.N, share(f.Power)),
		PlannedNote:  fmt.Sprintf("of 100 such panels, %s would find it", ofHundred(f.Power)),
	}
	for _, x := range f.Curve {
		plot.Points = append(plot.Points, look.PowerPoint{N: x.N, Power: x.Power})
		if x.Balanced {
			plot.Even = append(plot.Even, x.N)
		}
	}
	if len(plot.Points) > 0 {
		t.Plot = look.PowerCurve(plot)
	}
}

// says is a forecast in one sentence, its warning where it has one.
func says(t planTest) string {
	f := t.Forecast
	if f.Warning != "" {
		return f.Warning
	}
	return fmt.Sprintf("%s do. Of 100 such panels, %s would find a difference that %s of people perceive; you want %s.",
		counted(f.N, "answer"), ofHundred(f.Power), pct(f.Plan.Pd), num(100*f.Plan.Power))
}

// ofHundred is a probability as a count of 100, never a false 0 or 100.
func ofHundred(p float64) string {
	switch {
	case p > 0.99 && p < 1:
		return "more than 99"
	case p < 0.01 && p > 0:
		return "fewer than 1"
	}
	return fixed(100*p, 0)
}

// OtherPd are the powers at pd other than the planned one.
func (t planTest) OtherPd() []session.PdPower {
	var others []session.PdPower
	for _, x := range t.Forecast.AtPd {
		if x.Pd != t.Test.Pd {
			others = append(others, x)
		}
	}
	return others
}

// Says is the forecast in words.
func (t planTest) Says() string { return says(t) }

// veryHotC is the temperature above which drinks are classed as probably
// carcinogenic to humans (IARC Monographs volume 116, 2018).
const veryHotC = 65

// caffeineOnceMg is the amount at once that gives no concern for healthy adults
// (European Food Safety Authority, EFSA Journal 2015;13(5):4102).
const caffeineOnceMg = 200

func (c *Console) planCautions(p session.Plan, draft bool) []string {
	var say []string
	s := p.Serving
	hot := "Brewing water and fresh coffee scald. Nothing is served before it has cooled into the serving range."
	if s.HighC > veryHotC {
		hot += fmt.Sprintf(" %s °C is very hot to drink: above %d °C drinks are classed as probably carcinogenic (IARC volume 116).", num(s.HighC), veryHotC)
	}
	say = append(say, hot)
	caffeine := "Spitting lowers the caffeine taken in, and does not end it. 200 mg at once is no concern for healthy adults, and 200 mg a whole day in pregnancy (EFSA, 2015). Anyone may sit out, and no reason is asked or kept."
	if mg := p.Supplies().CaffeineMg; mg > caffeineOnceMg {
		caffeine = fmt.Sprintf("A taster who swallows every cup may take in about %.0f mg of caffeine, above the %d mg at once that is no concern for healthy adults. Pour less, or plan fewer sets. ", mg, caffeineOnceMg) + caffeine
	}
	say = append(say, caffeine)
	switch {
	case s.Allergens == "" && !draft:
		say = append(say, "No allergens are listed: tasters are told so. Let nothing stand near the cups that holds any.")
	case s.Allergens == "":
		say = append(say, "List the allergens of what stands near the cups: crackers hold wheat; milk and nuts count too. An empty list tells tasters that there are none.")
	default:
		say = append(say, "Tasters are told of these allergens: "+strings.TrimSuffix(s.Allergens, ".")+".")
	}
	lab := c.Rooms.Lab().State()
	for _, lot := range []session.Lot{p.Untreated, p.Processed} {
		if lot.ID != "" && len(lab.ReleasesOf(lot.ID)) == 0 {
			say = append(say, fmt.Sprintf("Lot %s is not released for tasting. Nobody tastes before the licensed laboratory's release is entered on the lots page.", lot.Words()))
		}
	}
	return say
}

// adviceFor is what the standards advise on what a plan decides.
func adviceFor(p session.Plan) []advice {
	var all []advice
	for _, t := range p.Tests {
		m, ok := session.MethodByKey(t.Method)
		switch {
		case !ok:
		case m.Overall:
			all = append(all, advice{"Each of the six serving orders is used equally often, dealt at random within groups of six.", "ISO 4120, 7.1"})
			if t.Sets > 1 {
				all = append(all, advice{"Avoid several sets for one assessor where you can. Where not, everybody gets the same number.", "ISO 10399, 6.2, for the duo-trio test"})
			}
		case t.TwoSided:
			all = append(all, advice{"Two-sided is right where it was not known beforehand which lot should have less.", "ISO 5495, 4"})
		default:
			all = append(all, advice{"One-sided only if it was known before the test which lot should have less; else two-sided.", "ISO 5495, 4"})
		}
	}
	return append(all,
		advice{"The same quantity at the same temperature in every cup of a series, as the product is normally drunk.", "ISO 4120, 5.6 and 5.7"},
		advice{"Tasters are told whether to swallow; where they may choose, they do the same with every cup.", "ISO 4120, 5.8"},
		advice{"Colours that would give a lot away are masked by dim or filtered light.", "ISO 4120, 5.4"},
	)
}

// savePlan keeps the plan, and the PIN where one was typed.
func (c *Console) savePlan(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	if to := f.text("make"); to != "" {
		f.values.Set("seats", to)
	}
	plan, err := c.keepPlan(r, room, f)
	if err != nil {
		return err
	}
	if f.Bad() {
		what := "The draft is not kept."
		if !slices.ContainsFunc(f.Faults, func(x session.Fault) bool { return !strings.HasPrefix(x.Field, "pin") }) {
			what = "The PIN is not set."
		}
		return c.refusedPlan(w, room.State(), plan, f, what)
	}
	return seeOther(w, r, "/s/"+string(room.State().ID)+"/plan")
}

func (c *Console) refusedPlan(w http.ResponseWriter, s *session.State, plan session.Plan, f *form, what string) error {
	w.WriteHeader(http.StatusUnprocessableEntity)
	v := c.planView(s, plan, f)
	v.Trouble = what
	v.Unsaved = !reflect.DeepEqual(plan, s.Plan)
	return c.renderPlan(w, s, v)
}

// keepPlan drafts the plan that the form holds, unless a field could not be
// read or it is the one kept already, and sets the PIN where one was typed.
// What is wrong is in the form afterwards.
func (c *Console) keepPlan(r *http.Request, room *session.Room[*session.State], f *form) (session.Plan, error) {
	if phase := room.State().Phase; phase != session.PhaseDrafted {
		return session.Plan{}, fmt.Errorf("a %s plan can't be changed: %w", phase, session.ErrPhase)
	}
	if err := c.keepPin(r, room, f); err != nil {
		return session.Plan{}, err
	}
	pin := f.Faults
	f.Faults = nil
	plan := readPlan(f, c.Rooms.Lab().State())
	s := room.State()
	switch changed := !reflect.DeepEqual(plan, s.Plan); {
	case len(f.Faults) > 0 || !changed:
	case f.text("draft") != "" && f.text("draft") != strconv.FormatUint(draftOf(s), 10):
		// Two windows: whoever sends second is told, and may press again.
		f.Refused = "This plan was kept from another window meanwhile."
		f.Next = "Press again to put what stands here in its place, or load the page anew to see the other."
	default:
		if _, err := c.do(r.Context(), room, session.Draft{Plan: plan}); err != nil {
			return plan, err
		}
	}
	f.Faults = append(f.Faults, pin...)
	return plan, nil
}

func (c *Console) keepPin(r *http.Request, room *session.Room[*session.State], f *form) error {
	pin, again := f.text("pin"), f.text("pin2")
	if pin == "" && again == "" {
		return nil
	}
	if pin != again {
		f.bad("pin2", "the two PINs differ; type the same digits twice")
		return nil
	}
	kept, err := session.NewPin(pin, c.Chance)
	if err != nil {
		return f.refuse("pin", err)
	}
	_, err = room.Do(r.Context(), session.Command{At: c.Now(), Actor: session.Pourer, Act: session.SetPin{Pin: kept}})
	return err
}

// forecastPlan works out what the form's plan can show, and keeps nothing. The
// page's script asks for the parts alone; without it the whole page comes back.
func (c *Console) forecastPlan(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	s := room.State()
	plan := readPlan(f, c.Rooms.Lab().State())
	v := c.planView(s, plan, f)
	v.Unsaved = !reflect.DeepEqual(plan, s.Plan)
	if r.Header.Get("Parts") != "" {
		return c.render(w, "plan-parts", Page{Body: v})
	}
	return c.renderPlan(w, s, v)
}

// sealPlan keeps the plan as typed, then seals it.
func (c *Console) sealPlan(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	plan, err := c.keepPlan(r, room, f)
	if err != nil {
		return err
	}
	if len(f.Faults) == 0 {
		f.Faults = plan.Check()
		inSlots(f.Faults, plan)
		if pinAt(room.State()).IsZero() {
			f.bad("pin", "the pourer has not set a PIN; without one the pour sheet would stay shut")
		}
	}
	if f.Bad() {
		return c.refusedPlan(w, room.State(), plan, f, "The plan is not sealed yet.")
	}
	sealing, err := c.Draw(plan)
	if err != nil {
		return err
	}
	if _, err := c.do(r.Context(), room, session.SealPlan{Sealing: sealing}); err != nil {
		return err
	}
	return seeOther(w, r, "/s/"+string(room.State().ID)+"/plan")
}

func (c *Console) abandon(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	reason, err := c.words(f.text("reason"))
	if err != nil {
		return err
	}
	if _, err := c.do(r.Context(), room, session.Abandon{Reason: reason}); err != nil {
		s := room.State()
		v := c.planView(s, s.Plan, planForm(s.Plan))
		v.Abandon = f
		if !v.CanEnd {
			return err
		}
		if err := f.refuse("reason", err); err != nil {
			return err
		}
		w.WriteHeader(http.StatusUnprocessableEntity)
		return c.renderPlan(w, s, v)
	}
	return seeOther(w, r, "/")
}
