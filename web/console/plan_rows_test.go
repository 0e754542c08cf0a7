package console

import (
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
)

var (
	selectTag   = regexp.MustCompile(`(?s)<select [^>]* name="([^"]*)".*?</select>`)
	chosenTag   = regexp.MustCompile(`<option value="([^"]*)" selected`)
	textareaTag = regexp.MustCompile(`(?s)<textarea [^>]* name="([^"]*)"[^>]*>(.*?)</textarea>`)
	testHead    = regexp.MustCompile(`<h2>Test \d: ([^<]*)</h2>`)
)

// stands is what a field of the page would send, "" where it would send nothing.
func (d *desk) stands(body, name string) string {
	d.t.Helper()
	for _, m := range selectTag.FindAllStringSubmatch(body, -1) {
		if m[1] == name {
			if chosen := chosenTag.FindStringSubmatch(m[0]); chosen != nil {
				return html.UnescapeString(chosen[1])
			}
			return ""
		}
	}
	for _, m := range textareaTag.FindAllStringSubmatch(body, -1) {
		if m[1] == name {
			return html.UnescapeString(m[2])
		}
	}
	for _, tag := range inputTag.FindAllString(body, -1) {
		if strings.Contains(tag, ` name="`+name+`"`) {
			if strings.Contains(tag, `type="checkbox"`) && !strings.Contains(tag, " checked") {
				return ""
			}
			m := regexp.MustCompile(` value="([^"]*)"`).FindStringSubmatch(tag)
			if m == nil {
				return "" // a password
			}
			return html.UnescapeString(m[1])
		}
	}
	d.t.Errorf("the page has no field %q", name)
	return ""
}

// fieldsOf is all that the page's plan form would send.
func (d *desk) fieldsOf(body string) url.Values {
	d.t.Helper()
	form, _, ok := strings.Cut(body[strings.Index(body, `<form id="plan"`):], "</form>")
	if !ok {
		d.t.Fatal("the page has no plan form")
	}
	v := url.Values{}
	for _, m := range regexp.MustCompile(`<(?:input|select|textarea) [^>]*?name="([^"]*)"`).FindAllStringSubmatch(form, -1) {
		if value := d.stands(form, m[1]); value != "" || !strings.Contains(m[0], "checkbox") {
			v.Set(m[1], value)
		}
	}
	return v
}

func methodsOn(body string) []string {
	var all []string
	for _, m := range testHead.FindAllStringSubmatch(body, -1) {
		all = append(all, m[1])
	}
	return all
}

// shown reports whether a field's row is shown.
func shown(t *testing.T, body, name string) bool {
	t.Helper()
	m := regexp.MustCompile(`<div [^>]*data-field="` + regexp.QuoteMeta(name) + `"[^>]*>`).FindString(body)
	if m == "" {
		t.Errorf("the page has no row for %s", name)
	}
	return !strings.Contains(m, " hidden")
}

// TestTestsAreAddedMovedAndRemoved does it as a browser without scripts: every
// button sends the form, and the page that comes back holds all that was typed.
func TestTestsAreAddedMovedAndRemoved(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id) + "/plan"
	body := d.page(at)
	press := func(act string, want ...string) {
		t.Helper()
		f := d.fieldsOf(body)
		if !strings.Contains(body, ` name="act" value="`+act+`"`) {
			t.Errorf("the page has no button %s", act)
		}
		f.Set("act", act)
		r := d.post(at+"/forecast", f)
		if r.status != http.StatusOK {
			t.Fatalf("%s: status %d", act, r.status)
		}
		body = r.body
		if got := methodsOn(body); !slices.Equal(got, want) {
			t.Errorf("%s: the tests are %v, want %v", act, got, want)
		}
		if !strings.Contains(body, " autofocus") {
			t.Errorf("%s: the focus goes nowhere", act)
		}
	}
	press("add", "triangle", "paired comparison", "paired comparison")
	// "body" has a test, so the new one's attribute is to be named.
	if got := d.stands(body, "tests.2.attribute"); got != "" {
		t.Errorf("the new test asks for %q too", got)
	}
	f := d.fieldsOf(body)
	f.Set("tests.2.attribute", "sweetness <b>")
	f.Set("tests.2.alpha", "0,0x1")
	f.Set("tests.2.method", "duo-trio")
	f.Set("tests.2.reference", "constant")
	f.Set("seats", "two dozen")
	body = d.post(at+"/forecast", f).body
	press("up.2", "triangle", "duo-trio test", "paired comparison")
	press("up.1", "duo-trio test", "triangle", "paired comparison")
	for name, want := range map[string]string{
		"tests.0.attribute": "sweetness <b>", "tests.0.alpha": "0,0x1", "tests.0.reference": "constant",
		"tests.2.attribute": "body", "tests.1.alpha": "0.05", "seats": "two dozen",
	} {
		if got := d.stands(body, name); got != want {
			t.Errorf("after moving, %s holds %q, want %q", name, got, want)
		}
	}
	press("down.0", "triangle", "duo-trio test", "paired comparison")
	press("add", "triangle", "duo-trio test", "paired comparison", "paired comparison")
	if strings.Contains(body, `name="act" value="add"`) {
		t.Error("a fifth test is offered")
	}
	d.says(body, "4 tests are the most")
	press("remove.1", "triangle", "paired comparison", "paired comparison")
	press("remove.0", "paired comparison", "paired comparison")
	press("remove.1", "paired comparison")
	press("remove.0")
	d.says(body, "The plan has no test yet.", "The first test")
	press("add", "triangle")
	if got := d.room(id).State().Plan; len(got.Tests) != 2 {
		t.Errorf("nothing was kept, and the draft has %d tests", len(got.Tests))
	}
	// Kept, the page's form is the plan.
	f = d.fieldsOf(body)
	f.Set("seats", "24")
	if r := d.post(at, f); r.status != http.StatusSeeOther {
		t.Fatalf("keep: status %d", r.status)
	}
	if got := d.room(id).State().Plan.Tests; len(got) != 1 || got[0].Method != "triangle" {
		t.Errorf("kept are %+v", got)
	}
}

// A button that no page shows does nothing, whatever it says.
func TestOddButtonsChangeNoTest(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id) + "/plan/forecast"
	for _, act := range []string{"up.0", "down.1", "up.9", "down.-1", "remove.2", "remove.", "remove", "turn.0", "up.x", "."} {
		f := planForm(d.room(id).State().Plan).values
		f.Set("act", act)
		r := d.post(at, f)
		if got := methodsOn(r.body); r.status != http.StatusOK || !slices.Equal(got, []string{"triangle", "paired comparison"}) {
			t.Errorf("%q: status %d, tests %v", act, r.status, got)
		}
	}
	// A form of more tests than fit loses none of them.
	f := planForm(d.room(id).State().Plan)
	for i := 2; i < 6; i++ {
		f.setTest(i, session.UsualPlan().Tests[0])
	}
	r := d.post("/s/"+string(id)+"/seal", f.values)
	d.says(r.body, "The plan has 6 tests; at most 4 fit", `<a href="#tests">`)
	if n := len(methodsOn(r.body)); r.status != http.StatusUnprocessableEntity || n != 6 {
		t.Errorf("six tests: status %d, %d on the page", r.status, n)
	}
}

// Only the fields that a test has a use for are shown; the others keep what was
// typed, are not read, and are in no plan.
func TestFieldsOfUseAreShown(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id) + "/plan"
	all := []string{"reference", "attribute", "definition", "more", "sided", "blank", "alpha", "pd", "beta", "pdLimit", "sequential"}
	for _, c := range []struct{ method, goal, sequential, want string }{
		{"triangle", "difference", "", "blank alpha pd sequential"},
		{"triangle", "similarity", "", "blank beta pdLimit sequential"},
		{"tetrad", "both", "", "blank alpha pd beta pdLimit sequential"},
		{"duo-trio", "difference", "on", "reference blank alpha pd beta sequential"},
		{"paired-comparison", "difference", "", "attribute definition more sided alpha pd sequential"},
		{"3-afc", "both", "", "attribute definition more alpha pd beta pdLimit sequential"},
	} {
		f := planForm(d.room(id).State().Plan)
		f.actOnRows("remove.1")
		for _, name := range []string{"alpha", "pd", "beta", "pdLimit"} {
			f.values.Set("tests.0."+name, "31x") // no number
		}
		f.values.Set("tests.0.reference", "constant")
		f.values.Set("tests.0.sided", "two")
		f.values.Set("tests.0.blank", "untreated")
		f.values.Set("tests.0.method", c.method)
		f.values.Set("tests.0.goal", c.goal)
		if c.sequential != "" {
			f.values.Set("tests.0.sequential", "on")
		}
		body := d.post(at+"/forecast", f.values).body
		wanted := strings.Fields(c.want)
		for _, name := range all {
			if got := shown(t, body, "tests.0."+name); got != slices.Contains(wanted, name) {
				t.Errorf("%s, %s: %s shown: %t", c.method, c.goal, name, got)
			}
			if got, want := d.stands(body, "tests.0."+name), f.values.Get("tests.0."+name); got != want {
				t.Errorf("%s, %s: %s holds %q, want %q", c.method, c.goal, name, got, want)
			}
		}
		// What is hidden is no fault and reaches no plan.
		for _, x := range needs(readPlan(f, d.rooms.Lab().State()), f) {
			if name, ok := strings.CutPrefix(x.Field, "tests.0."); ok && name != "goal" && !slices.Contains(wanted, name) {
				t.Errorf("%s, %s: a fault at the hidden field %s: %s", c.method, c.goal, name, x.Say)
			}
		}
	}
	// Of a test in the middle nothing can stop early, unless it was ticked.
	body := d.page(at)
	if shown(t, body, "tests.0.sequential") || !shown(t, body, "tests.1.sequential") {
		t.Error("stopping early is not offered for the last test alone")
	}
}

// The script's answer brings the tests with their fields only where it asks.
func TestScriptGetsTheTestsWhereItAsks(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	ask := func(parts string) string {
		f := planForm(d.room(id).State().Plan).values
		f.Set("act", "add")
		r := httptest.NewRequest("POST", "http://127.0.0.1:7733/s/"+string(id)+"/plan/forecast", strings.NewReader(f.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "http://127.0.0.1:7733")
		r.Header.Set("Parts", parts)
		return d.send(r).body
	}
	whole := ask("tests")
	d.says(whole, `id="tests"`, `data-focus="tests.2.method"`, `name="tests.2.method"`)
	seen := map[string]bool{}
	for _, m := range idOf.FindAllStringSubmatch(whole, -1) {
		if seen[m[1]] {
			t.Errorf("the id %s comes twice", m[1])
		}
		seen[m[1]] = true
	}
	d.saysNot(ask("1"), `id="tests"`, `<input id="tests`)
}

func TestSessionBeginsFromATemplate(t *testing.T) {
	d := newDesk(t)
	d.lots()
	home := d.page("/")
	for _, template := range session.Templates {
		d.says(home, template.Asks, template.Note, `name="template" value="`+template.Key+`"`)
		d.at = d.at.Add(1e9)
		to := d.goes("/sessions", "template", template.Key)
		id := session.ID(strings.TrimSuffix(strings.TrimPrefix(to, "/s/"), "/plan"))
		got, want := d.room(id).State().Plan, template.Plan()
		if len(got.Tests) != len(want.Tests) || got.Tests[0] != want.Tests[0] || got.Seats != want.Seats || got.Practice != want.Practice || !slices.Equal(got.Flights, want.Flights) {
			t.Errorf("%s: drafted %+v", template.Key, got)
		}
		if got.Untreated.ID != "lot-1" || got.Title == "" {
			t.Errorf("%s: lot %q, title %q", template.Key, got.Untreated.ID, got.Title)
		}
		d.page(to)
	}
	d.says(d.page("/"), "Draft another session", "What do you want to know?")
	r := d.post("/sessions", url.Values{"template": {"liking"}})
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("an unknown template: status %d", r.status)
	}
	d.says(r.body, "No usual session is called “liking”.")
}
