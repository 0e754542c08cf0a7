package console

import (
	"fmt"
	"strconv"
	"strings"

	"oddcup/session"
)

// planSlots are the tests that a plan can hold, in the registered order: a test
// for any difference comes before one that tells what to look for.
var planSlots = []session.Method{session.Triangle, session.PairedComparison}

func slotField(slot int, name string) string { return fmt.Sprintf("tests.%d.%s", slot, name) }

// inSlots renames faults of tests, which a plan numbers as it has them, to the
// page's fields, which stay in their slots.
func inSlots(faults session.Faults, p session.Plan) {
	for i := range faults {
		rest, ok := strings.CutPrefix(faults[i].Field, "tests.")
		number, name, _ := strings.Cut(rest, ".")
		n, err := strconv.Atoi(number)
		if !ok || err != nil || n >= len(p.Tests) {
			continue
		}
		for slot, m := range planSlots {
			if m.Key == p.Tests[n].Method {
				faults[i].Field = slotField(slot, name)
				// A number would count the tests that are switched on.
				faults[i].Say = strings.Replace(faults[i].Say, fmt.Sprintf("test %d:", n+1), m.Name+":", 1)
			}
		}
	}
}

// planForm shows a plan. Its pd are in percent; a test that the plan doesn't
// hold shows the usual figures.
func planForm(p session.Plan) *form {
	s := p.Serving
	f := filled(
		"title", p.Title, "untreated", string(p.Untreated.ID), "processed", string(p.Processed.ID),
		"seats", strconv.Itoa(p.Seats),
		"serving.fillG", num(s.FillG), "serving.lowC", num(s.LowC), "serving.highC", num(s.HighC),
		"serving.doseGPerL", num(s.DoseGPerL), "serving.rinseS", strconv.Itoa(s.RinseS),
		"serving.swallow", s.Swallow, "serving.allergens", s.Allergens,
	)
	tick := func(name string, on bool) {
		if on {
			f.values.Set(name, "on")
		}
	}
	tick("serving.redLight", s.RedLight)
	tick("serving.ownResult", s.OwnResult)
	usual := session.UsualPlan().Tests
	for slot, m := range planSlots {
		t := usual[slot]
		for _, have := range p.Tests {
			if have.Method == m.Key {
				t = have
				tick(slotField(slot, "on"), true)
			}
		}
		set := func(name, value string) { f.values.Set(slotField(slot, name), value) }
		set("alpha", num(t.Alpha))
		set("pd", num(100*t.Pd))
		set("power", num(t.Power))
		if m.Overall {
			set("sets", strconv.Itoa(t.Sets))
			continue
		}
		set("attribute", t.Attribute)
		set("definition", t.Definition)
		set("sided", "one")
		if t.TwoSided {
			set("sided", "two")
		}
	}
	return f
}

// readPlan reads the form; a field that can't be read is a fault of the form,
// and its value NaN or 0. Lots are copied from the register as it now is.
func readPlan(f *form, lab *session.Lab) session.Plan {
	p := session.Plan{Title: f.text("title"), Seats: f.count("seats", "seats")}
	p.Untreated, _ = lab.Lot(session.LotID(f.text("untreated")))
	p.Processed, _ = lab.Lot(session.LotID(f.text("processed")))
	p.Serving = session.Serving{
		FillG: f.number("serving.fillG", "fill"),
		LowC:  f.number("serving.lowC", "served from"), HighC: f.number("serving.highC", "served to"),
		DoseGPerL: f.number("serving.doseGPerL", "dose"), RinseS: f.count("serving.rinseS", "rinse"),
		Swallow: f.text("serving.swallow"), Allergens: f.text("serving.allergens"),
		RedLight: f.Is("serving.redLight", "on"), OwnResult: f.Is("serving.ownResult", "on"),
	}
	for slot, m := range planSlots {
		at := func(name string) string { return slotField(slot, name) }
		if !f.Is(at("on"), "on") {
			continue
		}
		t := session.TestPlan{
			Method: m.Key, Goal: session.GoalDifference, Sets: 1,
			Alpha: f.number(at("alpha"), "α"), Pd: f.number(at("pd"), "pd") / 100, Power: f.number(at("power"), "power"),
		}
		if m.Overall {
			t.Sets = f.count(at("sets"), "sets per seat")
		} else {
			t.Attribute, t.Definition, t.TwoSided = f.text(at("attribute")), f.text(at("definition")), f.Is(at("sided"), "two")
		}
		p.Tests = append(p.Tests, t)
	}
	return p
}
