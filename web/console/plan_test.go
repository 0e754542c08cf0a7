package console

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"oddcup/session"
)

func TestPlanComesBackFromItsForm(t *testing.T) {
	d := newDesk(t)
	d.lots()
	lab := d.rooms.Lab().State()
	usual := session.UsualPlan()
	usual.Title, usual.Untreated, usual.Processed = "Monday session", lab.Lots[0], lab.Lots[1]
	changed := usual
	changed.Tests = slices.Clone(usual.Tests)
	changed.Seats = 22
	changed.Tests[0].Sets, changed.Tests[0].Alpha, changed.Tests[0].Pd, changed.Tests[0].Power = 3, 0.01, 0.29, 0.9
	changed.Tests[1].TwoSided, changed.Tests[1].Attribute, changed.Tests[1].Pd = true, "sweetness", 0.07
	changed.Serving = session.Serving{
		FillG: 25.5, LowC: 50, HighC: 60, DoseGPerL: 55, RinseS: 0, Swallow: "Spit.",
		Allergens: "milk", RedLight: true, OwnResult: true,
	}
	triangle, paired, none := usual, usual, usual
	triangle.Tests, paired.Tests, none.Tests = usual.Tests[:1], usual.Tests[1:], nil
	all := map[string]session.Plan{
		"usual": usual, "changed": changed, "triangle alone": triangle, "paired comparison alone": paired, "no test": none,
		"every method": everyMethod(usual),
	}
	for _, template := range session.Templates {
		p := template.Plan()
		p.Title, p.Untreated, p.Processed = "Monday session", lab.Lots[0], lab.Lots[1]
		all["template "+template.Key] = p
	}
	for name, p := range all {
		f := planForm(p)
		if got := readPlan(f, lab); !reflect.DeepEqual(got, p) {
			t.Errorf("%s: the form gives\n%+v, want\n%+v", name, got, p)
		}
		if f.Bad() {
			t.Errorf("%s: faults %v", name, f.Faults)
		}
	}
	// The form says pd in percent.
	if got := planForm(changed).Value("tests.0.pd"); got != "29" {
		t.Errorf("pd 0.29 stands as %q in the form", got)
	}
	comma := planForm(usual)
	comma.values.Set("tests.0.alpha", " 0,01 ")
	if got := readPlan(comma, lab).Tests[0].Alpha; got != 0.01 || comma.Bad() {
		t.Errorf("α typed with a comma is read as %v", got)
	}
}

// everyMethod is a plan with a test of each kind of field: goals, reference,
// direction, blank, flights, and one that may stop early.
func everyMethod(p session.Plan) session.Plan {
	p.Seats, p.Flights, p.Practice = 36, []int{12, 12, 12}, true
	p.Tests = []session.TestPlan{
		{Method: "tetrad", Goal: session.GoalSimilarity, Sets: 1, Power: 0.9, Beta: 0.1, PdLimit: 0.29, Blank: session.BlankProcessed},
		{Method: "duo-trio", Goal: session.GoalBoth, Sets: 2, Alpha: 0.01, Pd: 0.35, Power: 0.9, Beta: 0.05, PdLimit: 0.5, Reference: session.ReferenceConstant},
		{Method: "3-afc", Goal: session.GoalDifference, Sets: 1, Alpha: 0.1, Pd: 0.4, Power: 0.8, Attribute: "body", Definition: "How full it feels.", More: true},
		{Method: "paired-comparison", Goal: session.GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.4, Power: 0.8, Beta: 0.2, Attribute: "sweetness", Definition: "How sweet.", TwoSided: true, Sequential: true},
	}
	return p
}

func TestSealRefusedLosesNothing(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id)
	type try struct {
		name  string
		set   map[string]string // over the plan as drafted
		field string            // that the summary links to
		says  string
	}
	for _, test := range []try{
		{"a number in words", map[string]string{"seats": "two dozen", "title": "Typed anew"}, "seats", "“two dozen” is not a whole number"},
		{"an empty number", map[string]string{"tests.0.alpha": ""}, "tests.0.alpha", "Test 1: α: type a number"},
		{"no seats", map[string]string{"seats": ""}, "seats", "Seats: type a whole number."},
		{"a risk in percent without the sign", map[string]string{"tests.0.alpha": "5"}, "tests.0.alpha", "α: 5 lies outside 0.0001 to 0.4; 5 % is 0.05"},
		{"a power in percent without the sign", map[string]string{"tests.0.power": "80"}, "tests.0.power", "power: 80 lies outside 0.5 to 0.999; 80 % is 0.8"},
		{"a risk too large with its sign", map[string]string{"tests.0.alpha": "50 %"}, "tests.0.alpha", "α: 50 % lies outside 0.0001 to 0.4"},
		{"words before a sign", map[string]string{"tests.0.alpha": "few %"}, "tests.0.alpha", "“few %” is not a number"},
		{"out of range", map[string]string{"tests.0.pd": "140"}, "tests.0.pd", "pd: 140 % lies outside 1 to 99 %"},
		{"a risk out of range", map[string]string{"tests.1.alpha": "0.9"}, "tests.1.alpha", "α: 0.9 lies outside 0.0001 to 0.4"},
		{"a method of another kind", map[string]string{"tests.0.method": "ranking"}, "tests.0.method", "no method is called"},
		{"a goal of another kind", map[string]string{"tests.0.goal": "liking"}, "tests.0.goal", "the goal"},
		{"flights in words", map[string]string{"flights": "twelve, 12"}, "flights", "“twelve” is not a whole number"},
		{"flights that don't add up", map[string]string{"flights": "12, 6"}, "flights", "The flights have 18 seats together, the session has 24"},
		{"one person a flight", map[string]string{"flights": "23, 1"}, "flights", "a flight has 2 to 500"},
		{"3-AFC after a triangle", map[string]string{"tests.1.method": "3-afc"}, "tests.1.method", "no 3-AFC test in a session with a triangle"},
		{"an attribute first", map[string]string{"tests.0.method": "paired-comparison", "tests.1.method": "triangle"}, "tests.1.method", "must not come before"},
		{"stop early, not last", map[string]string{"tests.0.sequential": "on"}, "tests.0.sequential", "only the last test"},
		{"similar, several pairs", map[string]string{"tests.1.goal": "similarity", "tests.1.sets": "3"}, "tests.1.sets", "one set per seat"},
		{"no limit", map[string]string{"tests.0.goal": "both", "tests.0.pdLimit": "none"}, "tests.0.pdLimit", "“none” is not a number"},
		{"blank alone", map[string]string{"tests.0.blank": "untreated", "tests.1.method": ""}, "tests.1.method", "no method is called"},
		{"too hot", map[string]string{"serving.highC": "96"}, "serving.lowC", "hotter drinks scald"},
		{"no lot", map[string]string{"processed": ""}, "processed", "Choose the processed lot"},
		{"the title tells", map[string]string{"title": "Body of 2207"}, "title", "tasters see the title"},
		{"no attribute", map[string]string{"tests.1.attribute": ""}, "tests.1.attribute", "name the attribute"},
		{"no definition", map[string]string{"tests.1.definition": ""}, "tests.1.definition", "define the attribute"},
		{"no PIN", nil, "pin", "has not set a PIN"},
		{"two PINs", map[string]string{"pin": "4711", "pin2": "4712", "title": "Kept"}, "pin2", "The two PINs differ"},
		{"a short PIN", map[string]string{"pin": "47", "pin2": "47"}, "pin", "4 to 12 digits"},
	} {
		f := planForm(d.room(id).State().Plan).values
		for k, v := range map[string]string{"title": "Monday session", "seats": "24"} {
			f.Set(k, v)
		}
		for k, v := range test.set {
			f.Set(k, v)
		}
		r := d.post(at+"/seal", f)
		if r.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", test.name, r.status)
			continue
		}
		d.says(r.body, test.says, `<a href="#`+test.field+`">`, ` id="`+test.field+`"`)
		for k := range f {
			if strings.HasPrefix(k, "pin") {
				continue
			}
			if !strings.Contains(r.body, ` name="`+k+`"`) {
				t.Errorf("%s: the page has no field %s", test.name, k)
			}
		}
		for k := range f {
			if got := d.stands(r.body, k); got != f.Get(k) && !strings.HasPrefix(k, "pin") {
				t.Errorf("%s: field %s holds %q, want %q", test.name, k, got, f.Get(k))
			}
		}
		if !strings.HasPrefix(test.field, "pin") && !strings.Contains(regexp.MustCompile(`(?s) id="`+test.field+`-notes">.*?</div>`).FindString(r.body), "field-error") {
			t.Errorf("%s: nothing stands at the field %s", test.name, test.field)
		}
		if got := d.room(id).State().Phase; got != session.PhaseDrafted {
			t.Fatalf("%s: the session is %s", test.name, got)
		}
		d.saysNot(r.body, `value="47`)
		// Begin each try from the same draft.
		d.do(id, session.Draft{Plan: func() session.Plan {
			p := session.UsualPlan()
			p.Title, p.Untreated, p.Processed = "Monday session", d.rooms.Lab().State().Lots[0], d.rooms.Lab().State().Lots[1]
			return p
		}()})
	}
}

func TestSealTakesWhatWasTyped(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id)
	f := planForm(d.room(id).State().Plan).values
	f.Set("pin", "4711")
	f.Set("pin2", "4711")
	f.Set("seats", "18")
	f.Set("serving.allergens", "crackers (wheat)")
	if r := d.post(at+"/seal", f); r.to != at+"/plan" {
		t.Fatalf("seal: status %d to %q", r.status, r.to)
	}
	s := d.room(id).State()
	if s.Phase != session.PhaseSealed || s.Plan.Seats != 18 || s.Plan.Serving.Allergens != "crackers (wheat)" {
		t.Errorf("sealed is %s, %d seats, allergens %q", s.Phase, s.Plan.Seats, s.Plan.Serving.Allergens)
	}
	for _, step := range s.Trail {
		if step.Event.Kind() == "pin set" && step.Actor != session.Pourer {
			t.Errorf("the PIN was set by %s", step.Actor)
		}
	}
	d.says(d.page(at+"/plan"), s.Digest.String(), "Nothing of the plan can change now.")
	if strings.Contains(d.page(at+"/plan"), `id="plan"`) {
		t.Error("the sealed plan still has its form")
	}
	for _, path := range []string{"/plan", "/seal", "/pin"} {
		if r := d.post(at+path, f); r.status != http.StatusConflict {
			t.Errorf("POST %s after the seal: status %d", path, r.status)
		}
	}
	if got := d.room(id).State(); got.Seq != s.Seq {
		t.Errorf("a sealed plan got %d more entries", got.Seq-s.Seq)
	}
}

func TestPinKeepsThePlanToo(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	f := planForm(d.room(id).State().Plan).values
	f.Set("pin", "4711")
	f.Set("pin2", "4711")
	f.Set("title", "Typed before the PIN")
	if r := d.post("/s/"+string(id)+"/pin", f); r.status != http.StatusSeeOther {
		t.Fatalf("status %d", r.status)
	}
	s := d.room(id).State()
	if pinAt(s).IsZero() || s.Plan.Title != "Typed before the PIN" {
		t.Errorf("PIN at %v, title %q", pinAt(s), s.Plan.Title)
	}
	seq := s.Seq
	d.post("/s/"+string(id)+"/plan", planForm(s.Plan).values)
	if got := d.room(id).State().Seq; got != seq {
		t.Errorf("keeping an unchanged plan makes %d entries", got-seq)
	}
}

// Two windows hold the same draft: the one that sends second puts nothing over
// the first without having been told.
func TestSecondWindowIsToldOfTheFirst(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id) + "/plan"
	drafted := regexp.MustCompile(`name="draft" value="(\d+)"`)
	began := drafted.FindStringSubmatch(d.page(at))
	if began == nil {
		t.Fatal("the form does not say which draft it began from")
	}
	typed := func(title, draft string) url.Values {
		v := planForm(d.room(id).State().Plan).values
		v.Set("title", title)
		v.Set("draft", draft)
		return v
	}
	second := typed("Second window", began[1])
	if r := d.post(at, typed("First window", began[1])); r.status != http.StatusSeeOther {
		t.Fatalf("first window: status %d", r.status)
	}
	for _, to := range []string{at, "/s/" + string(id) + "/seal"} {
		r := d.post(to, second)
		if r.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", to, r.status)
		}
		d.says(r.body, "This plan was kept from another window meanwhile.", `value="Second window"`)
	}
	s := d.room(id).State()
	if s.Plan.Title != "First window" || s.Phase != session.PhaseDrafted {
		t.Fatalf("%s, %q: the first window's plan is gone", s.Phase, s.Plan.Title)
	}
	// Told, the second window may have its way.
	told := drafted.FindStringSubmatch(d.post(at, second).body)
	if r := d.post(at, typed("Second window", told[1])); r.status != http.StatusSeeOther || d.room(id).State().Plan.Title != "Second window" {
		t.Errorf("pressed again: status %d, title %q", r.status, d.room(id).State().Plan.Title)
	}
}

func TestRefusalSaysWhatWasPressed(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	f := planForm(d.room(id).State().Plan).values
	f.Set("pin", "12")
	f.Set("pin2", "12")
	r := d.post("/s/"+string(id)+"/pin", f)
	d.says(r.body, "The PIN is not set.")
	d.saysNot(r.body, "not sealed yet")
	f = planForm(d.room(id).State().Plan).values
	f.Set("seats", "many")
	d.says(d.post("/s/"+string(id)+"/plan", f).body, "The draft is not kept.")
	d.says(d.post("/s/"+string(id)+"/seal", f).body, "The plan is not sealed yet.")
	f = planForm(d.room(id).State().Plan).values
	f.Set("tests.1.attribute", "")
	d.says(d.post("/s/"+string(id)+"/seal", f).body, "Test 2: name the attribute.")
}

// TestForecastShowsThePrintedMinimum walks the printed table of minimum correct
// answers of the triangle test: FAO document V7180E, appendix A, as the
// reference file holds it.
func TestForecastShowsThePrintedMinimum(t *testing.T) {
	file, err := os.Open("../../testdata/reference/b_critical_numbers.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	seen := 0
	for _, row := range rows {
		n, _ := strconv.Atoi(row[2])
		if row[0] != "triangle" || row[3] != "0.05" || row[7] == "" || n < 6 || n > 100 {
			continue
		}
		seen++
		f := planForm(d.room(id).State().Plan).values
		f.Set("seats", row[2])
		r := d.post("/s/"+string(id)+"/plan/forecast", f)
		want := fmt.Sprintf("<dt>minimum correct</dt><dd>%s of %d</dd>", row[7], n)
		if !strings.Contains(r.body, want) {
			t.Errorf("%d seats: the page has no %q", n, want)
		}
	}
	if seen < 20 {
		t.Fatalf("only %d printed values were found", seen)
	}
}

// TestForecastOfTheUsualPlan: 24 triangles at α 0.05 find pd 40 % with power
// 0.79 (testdata/reference/d3_power.csv, exact integers), short of 0.80.
func TestForecastOfTheUsualPlan(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	fewer := planForm(d.room(id).State().Plan).values
	fewer.Set("seats", "24")
	body := d.post("/s/"+string(id)+"/plan/forecast", fewer).body
	d.says(body,
		"24 seats can show, if a little less surely than you want,", "Of 100 such panels, 79 would find a difference", "Make it 42 seats", "<dd>0.028</dd>",
		"power at the planned pd, 40\u00a0%, d′\u00a01.98</dt><dd>0.79</dd>", "power at pd 20\u00a0%", "power at pd 30\u00a0%",
		"18, 24 or 30 seats", "ISO 4120")
	// What is said above is not said again beside the fields.
	seen := regexp.MustCompile(`(?s)<desc>.*?</desc>`).ReplaceAllString(body, "") // a picture's is heard in place of it
	if n := strings.Count(words(seen), "79 would find a difference"); n != 1 {
		t.Errorf("the page says %d times how many panels would find the difference, want once", n)
	}
	d.saysNot(body, "fall a little short")
	for to, want := range map[string][]int{"42": nil, "42/18/6": {18, 12, 12}, "42/36/6": {24, 18}, "66/12/6": {12, 12, 12, 12, 12, 6}, "36/12/12": {12, 12, 12}, "24/24/6": nil, "42/18": nil, "42/18/5": nil} {
		f := planForm(d.room(id).State().Plan).values
		f.Set("make", to)
		if r := d.post("/s/"+string(id)+"/plan", f); r.status != http.StatusSeeOther {
			t.Fatalf("making it %s: status %d", to, r.status)
		}
		seats, _, _ := strings.Cut(to, "/")
		if p := d.room(id).State().Plan; strconv.Itoa(p.Seats) != seats || !slices.Equal(p.Flights, want) {
			t.Errorf("made %s: %d seats in flights %v, want %v", to, p.Seats, p.Flights, want)
		}
	}
}

func TestForecastKeepsNothing(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	at := "/s/" + string(id) + "/plan/forecast"
	seq := d.room(id).State().Seq
	f := planForm(d.room(id).State().Plan).values
	f.Set("seats", "36")
	f.Set("pin", "4711")
	f.Set("pin2", "4711")
	whole := d.post(at, f)
	d.says(whole.body, "minimum correct</dt><dd>18 of 36", "It is not kept yet.", "<!doctype html>")
	r := httptest.NewRequest("POST", "http://127.0.0.1:7733"+at, strings.NewReader(f.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://127.0.0.1:7733")
	r.Header.Set("Parts", "1")
	parts := d.send(r).body
	d.saysNot(parts, "<!doctype")
	// Each part takes the place of an element of the page.
	page := d.page("/s/" + string(id) + "/plan")
	n := 0
	for _, m := range idOf.FindAllStringSubmatch(parts, -1) {
		n++
		if !strings.Contains(page, ` id="`+m[1]+`"`) {
			t.Errorf("the page has no element %q for the part", m[1])
		}
	}
	if n < 40 {
		t.Errorf("only %d parts came", n)
	}
	if got := d.room(id).State().Seq; got != seq {
		t.Errorf("working it out made %d entries", got-seq)
	}
	for _, odd := range []string{"", "0", "-3", "1e9", "999999999", "NaN"} {
		f.Set("seats", odd)
		f.Set("tests.0.alpha", odd)
		f.Set("serving.fillG", odd)
		if r := d.post(at, f); r.status != http.StatusOK {
			t.Errorf("%q for a number: status %d", odd, r.status)
		}
	}
}

func TestAbandonAsksForAReason(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	at := "/s/" + string(id)
	long := strings.Repeat("why ", 60)
	for _, reason := range []string{"", long} {
		r := d.post(at+"/abandon", filled("reason", reason).values)
		if r.status != http.StatusUnprocessableEntity || d.holds(r.body, "reason") != reason {
			t.Errorf("reason of %d characters: status %d, kept %t", len(reason), r.status, d.holds(r.body, "reason") == reason)
		}
	}
	d.goes(at+"/abandon", "reason", "kettle failed")
	if got := d.room(id).State(); got.Phase != session.PhaseAbandoned {
		t.Errorf("the session is %s", got.Phase)
	}
	plan := d.page(at + "/plan")
	d.saysNot(plan, "Abandon this session")
	d.says(plan, "This session was abandoned. Its key stays sealed.")
	if r := d.get(at + "/print/labels"); r.status != http.StatusConflict {
		t.Errorf("labels of an abandoned session: status %d", r.status)
	}
}

func TestSessionLeadsToItsPhase(t *testing.T) {
	d := newDesk(t)
	d.lots()
	leads := func(id session.ID, want string) {
		t.Helper()
		to := d.get("/s/" + string(id)).to
		if to != "/s/"+string(id)+want {
			t.Errorf("the session leads to %s, want %s", to, want)
		}
		if r := d.get(to); r.status != http.StatusOK {
			t.Errorf("GET %s: status %d", to, r.status)
		}
	}
	leads(d.drafted(), "/plan")
	id := d.sealed(6)
	leads(id, "/lobby")
	d.open(id, 4)
	leads(id, "/board")
	d.do(id, session.Close{})
	leads(id, "/reveal")
	d.do(id, session.Reveal{})
	leads(id, "/result")
	if r := d.get("/s/no-such-session"); r.status != http.StatusNotFound {
		t.Errorf("no session: status %d", r.status)
	}
}

// TestRefusedPlanPromisesNothing: lots that the register refuses, one lot twice and
// a title that tells stand in the headline, in place of what the figures could show.
func TestRefusedPlanPromisesNothing(t *testing.T) {
	d := newDesk(t)
	d.lots()
	const untreated, processed = "lot-1", "lot-2"
	for _, c := range []struct {
		name string
		set  map[string]string
		want string
	}{
		{"reversed", map[string]string{"title": "Friday", "untreated": processed, "processed": untreated}, "promises nothing: the lots stand the wrong way round"},
		{"one lot twice", map[string]string{"title": "Friday", "untreated": untreated, "processed": untreated}, ", untreated is chosen twice, as untreated and as processed: choose two lots."},
		{"a title that tells", map[string]string{"title": "Decaf", "untreated": untreated, "processed": processed}, "promises nothing: the title names what was done to a lot"},
	} {
		body := worked(d, "tell", c.set)
		says := words(heading(body))
		tells(t, c.name, says, c.want)
		if strings.Contains(says, "can show") {
			t.Errorf("%s: it promises: %s", c.name, says)
		}
		tells(t, c.name, part(t, body, "part-needs", "</ul>"), "2 things are wrong or missing before it can be sealed.", "The pourer has set no PIN")
	}
	none := worked(d, "tell", map[string]string{"title": "", "untreated": "", "processed": ""})
	tells(t, "none", part(t, none, "part-needs", "</ul>"), "4 things are wrong or missing", "Give the session a title", "Choose the untreated lot", "Choose the processed lot", "The pourer has set no PIN")
}

// TestSharesMayBeTypedInPercent: with its sign a risk, a power and a pd are what
// they say.
func TestSharesMayBeTypedInPercent(t *testing.T) {
	f := planForm(session.UsualPlan())
	for name, typed := range map[string]string{"alpha": "5 %", "power": "80%", "pd": "35 %"} {
		f.values.Set(testField(0, name), typed)
	}
	if got := f.test(0); f.Bad() || got.Alpha != 0.05 || got.Power != 0.8 || got.Pd != 0.35 {
		t.Errorf("α %v, power %v, pd %v, %v", got.Alpha, got.Power, got.Pd, f.Faults)
	}
}
