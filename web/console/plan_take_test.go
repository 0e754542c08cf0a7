package console

import (
	"net/http"
	"strings"
	"testing"

	"oddcup/session"
)

// pressed sends the page's form with a button of the comparison.
func pressed(d *desk, at, body, button string) string {
	d.t.Helper()
	if !strings.Contains(body, ` name="act" value="`+button+`"`) {
		d.t.Errorf("the page has no button %s", button)
	}
	f := d.fieldsOf(body)
	f.Set("act", button)
	r := d.post(at+"/forecast", f)
	if r.status != http.StatusOK {
		d.t.Fatalf("%s: status %d", button, r.status)
	}
	return r.body
}

// TestMethodIsTakenIntoThePlan presses the buttons of the comparison, as a browser
// without scripts: the method, its sides and its pd go to the first test that asks
// the same kind of question, or to a new one. pd 40 % in a triangle is d′ 1.9756,
// which is pd 65.8 % in a tetrad and 83.8 % in a pair (R 4.2.2, integrate).
func TestMethodIsTakenIntoThePlan(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id) + "/plan"
	body := d.page(at)
	tells(t, "buttons", part(t, body, "part-compare", "</table>"), "Take for test 1 : tetrad, pd 65.8 %", "Take for test 2 : paired comparison, two-sided, pd 83.8 %")

	body = pressed(d, at, body, "take.tetrad.one.65.8")
	// With the pairs after it 42 are the fewest in whole blocks (R 4.2.2, pbinom).
	tells(t, "taken", part(t, body, "tests.0.method-notes", "</div>"),
		"Test 1 was a triangle with pd 40 % and is now a tetrad with pd 65.8 %. Seats stay 42, the fewest in whole blocks that do for this plan.", "To go back, choose triangle with pd 40 % again.")
	body = pressed(d, at, body, "take.paired-comparison.two.83.8")
	for name, want := range map[string]string{
		"tests.0.method": "tetrad", "tests.0.pd": "65.8", "tests.0.alpha": "0.05", "tests.0.goal": "difference",
		"tests.1.method": "paired-comparison", "tests.1.sided": "two", "tests.1.pd": "83.8", "tests.1.attribute": "body",
	} {
		if got := d.stands(body, name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if got := d.room(id).State().Plan; got.Tests[0].Method != session.Triangle.Key {
		t.Error("taking a method kept the plan")
	}
	// The size that the methods were compared at is the plan's own again.
	tells(t, "taken", part(t, body, "part-compare", "<table"), "At d′ 1.98,")
	// What the plan refuses it refuses here, too.
	body = d.page(at)
	d.saysNot(body, `value="take.3-afc`)
	tells(t, "3-AFC in the comparison", part(t, body, "part-compare", "</table>"), "Not for this plan: No 3-AFC test in a session with a triangle")
	typed := d.fieldsOf(body)
	typed.Set("tests.1.method", session.ThreeAFC.Key)
	body = d.post(at+"/forecast", typed).body
	tells(t, "3-AFC beside a triangle", part(t, body, "part-answer", "</ul>"), "Test 2, 3-AFC test: It is refused: no 3-AFC test in a session with a triangle", "promises nothing: test 2 is refused.")
	tells(t, "its place", part(t, body, "part-forecast-1", "</div>"), "Refused. No 3-AFC test in a session with a triangle", "is not worked out")
	if heading := words(heading(body)); strings.Contains(heading, "in body") {
		t.Errorf("the refused test is promised: %s", heading)
	}
}

func TestMethodIsTakenAsANewTest(t *testing.T) {
	d := newDesk(t)
	d.lots()
	blank := map[string]string{"tests.0.blank": session.BlankUntreated}
	for _, c := range []struct {
		name, template string
		set            map[string]string
		add            int // pairs that are added before
		press          string
		says           string
		want           []string
	}{
		{"an attribute after a triangle", "tell", nil, 0, "take.paired-comparison.one.83.8", "Add as test 2", []string{"triangle", "paired comparison"}},
		{"any difference before a pair", "body", map[string]string{"tests.0.method": "paired-comparison", "tests.1.attribute": "sweetness", "tests.0.attribute": "body"}, 0, "take.triangle.one.7.2", "Add as test 1", []string{"triangle", "paired comparison", "paired comparison"}},
		{"a blank test asks nothing of the lots", "body", blank, 0, "take.tetrad.one.65.8", "Add as test 2", []string{"triangle", "tetrad", "paired comparison"}},
		{"no room", "tell", map[string]string{"tests.0.method": "paired-comparison"}, 3, "", "", nil},
	} {
		d.at = d.at.Add(1e9)
		to := d.goes("/sessions", "template", c.template)
		id := session.ID(strings.TrimSuffix(strings.TrimPrefix(to, "/s/"), "/plan"))
		f := planForm(d.room(id).State().Plan)
		for k, v := range c.set {
			f.values.Set(k, v)
		}
		for range c.add {
			f.actOnRows("add")
		}
		body := d.post(to+"/forecast", f.values).body
		if c.press == "" {
			if strings.Contains(body, `value="take.triangle`) {
				t.Errorf("%s: a test is offered", c.name)
			}
			continue
		}
		tells(t, c.name, part(t, body, "part-compare", "</table>"), c.says)
		body = pressed(d, to, body, c.press)
		number := strings.TrimPrefix(c.says, "Add as test ")
		tells(t, c.name+", told", words(body), "Test "+number+" is now a ", "To go back, remove it.")
		if got := strings.Join(methodsOn(body), ", "); got != strings.Join(c.want, ", ") {
			t.Errorf("%s: the tests are %s", c.name, got)
		}
		for _, x := range readPlan(&form{values: d.fieldsOf(body)}, d.rooms.Lab().State()).Check() {
			if strings.HasPrefix(x.Field, "tests.") && !strings.Contains(x.Field, "attribute") && !strings.Contains(x.Field, "definition") {
				t.Errorf("%s: %s", c.name, x.Say)
			}
		}
	}
	// Nobody sends what no button says.
	f := planForm(session.UsualPlan())
	for _, odd := range []string{"take", "take.", "take.tetrad", "take.guess.one.40", "take.tetrad.three.40", "take.tetrad.one.NaN", "take.tetrad.one.0.4", "take.tetrad.one.100"} {
		if f.actOnRows(odd) != "" || f.Value("tests.0.method") != "triangle" {
			t.Errorf("%q is taken", odd)
		}
	}
}

// A taken method keeps the goal of its test: its pd is the limit of similarity.
func TestTakenForSimilarityItIsTheLimit(t *testing.T) {
	f := planForm(mustTemplate(t, "same"))
	if f.actOnRows("take.tetrad.one.45") == "" {
		t.Fatal("nothing is taken")
	}
	if f.Value("tests.0.pd") != "45" || f.Value("tests.0.pdLimit") != "45" || f.Value("tests.0.goal") != session.GoalBoth {
		t.Errorf("pd %s, limit %s, goal %s", f.Value("tests.0.pd"), f.Value("tests.0.pdLimit"), f.Value("tests.0.goal"))
	}
}

func mustTemplate(t *testing.T, key string) session.Plan {
	t.Helper()
	template, ok := session.TemplateByKey(key)
	if !ok {
		t.Fatalf("no template %s", key)
	}
	return template.Plan()
}

// TestComparisonSaysWhatIsOutOfReach: few people for similarity, and more than a
// session or a laboratory holds.
func TestComparisonSaysWhatIsOutOfReach(t *testing.T) {
	d := newDesk(t)
	d.lots()
	small := worked(d, "tell", map[string]string{"dPrime": "0.3"})
	tells(t, "d′ 0.3", part(t, small, "part-compare", "</table>"), "Out of reach for a laboratory: one session holds")
	few := worked(d, "same", map[string]string{"dPrime": "2.5", "tests.0.goal": "similarity", "tests.0.power": "0.8"})
	says := part(t, few, "part-compare", "<table")
	tells(t, "few, named", says, "Fewer than 30 assessors: for similarity generally not advised (ISO 5495, note to table A.3; for other methods from memory).")
	tells(t, "few, in the row", part(t, few, "part-compare", "</table>"), "Fewer than 30 assessors")
	if strings.Contains(part(t, worked(d, "tell", map[string]string{"dPrime": "2.5"}), "part-compare", "</table>"), "Fewer than 30") {
		t.Error("few assessors are remarked on for a difference")
	}
}
