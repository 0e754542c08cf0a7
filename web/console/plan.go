package console

import (
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
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
		f.makeSeats(to)
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

// forecastPlan works out what the form's plan can show, and keeps nothing. It
// also adds, removes and moves tests. The page's script asks for the parts
// alone, with the tests' fields where they may have changed; without it the whole
// page comes back.
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
	focus, was := "", f.copied()
	act := f.text("act")
	if act != "" {
		focus = f.actOnRows(act)
		f.values.Del("act")
	}
	plan := readPlan(f, c.Rooms.Lab().State())
	v := c.planView(s, plan, f)
	v.Unsaved = !reflect.DeepEqual(plan, s.Plan)
	if v.Focus = focus; focus == "" && f.Bad() {
		v.Trouble = "Not all of it could be worked out."
	}
	if strings.HasPrefix(act, "take.") && focus != "" {
		v.tellTaken(was)
	}
	v.AllTests = r.Header.Get("Parts") == "tests"
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
		if pinAt(room.State()).IsZero() {
			f.bad("pin", "the pourer has not set a PIN; without one the pour sheet would stay shut")
		}
		if plan.Eligible != "" && len(c.Rooms.Lab().State().Holders(plan.Eligible, c.Now())) == 0 {
			f.bad("eligible", "nobody who is not resting holds the rule “"+plan.Eligible+"” now; choose another, or none")
		}
	}
	if f.Bad() {
		return c.refusedPlan(w, room.State(), plan, f, "The plan is not sealed yet.")
	}
	sealing, err := c.Draw(plan)
	if err != nil {
		return err
	}
	if plan.Eligible != "" {
		sealing.Eligible = c.Rooms.Lab().State().Holders(plan.Eligible, c.Now())
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
