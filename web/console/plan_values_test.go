package console

import (
	"encoding/csv"
	"fmt"
	"html"
	"os"
	"regexp"
	"strings"
	"testing"

	"oddcup/session"
)

var anyTag = regexp.MustCompile(`<[^>]*>`)

// words is a page or a part of it as it is read.
func words(body string) string {
	s := html.UnescapeString(anyTag.ReplaceAllString(body, " "))
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "\u00a0", " ")), " ")
}

// part is the page from an element's id on, to the next one's.
func part(t *testing.T, body, from, to string) string {
	t.Helper()
	_, rest, ok := strings.Cut(body, ` id="`+from+`"`)
	if !ok {
		t.Fatalf("the page has no %s", from)
	}
	found, _, ok := strings.Cut(rest, to)
	if !ok {
		t.Fatalf("after %s the page has no %s", from, to)
	}
	return words("<" + found)
}

// worked posts a template's form with changes and gives the page.
func worked(d *desk, template string, set map[string]string) string {
	d.t.Helper()
	d.at = d.at.Add(1e9)
	to := d.goes("/sessions", "template", template)
	id := session.ID(strings.TrimSuffix(strings.TrimPrefix(to, "/s/"), "/plan"))
	f := planForm(d.room(id).State().Plan).values
	for k, v := range set {
		f.Set(k, v)
	}
	return d.post(to+"/forecast", f).body
}

func tells(t *testing.T, name, text string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("%s: no %q in: %s", name, w, text)
		}
	}
}

// TestPageAnswersThreeQuestions: what a reader who is given the page alone wants
// to know. Values: R 4.2.2, pbinom and dbinom; pc at d′ 1 by integrate.
func TestPageAnswersThreeQuestions(t *testing.T) {
	d := newDesk(t)
	d.lots()

	// May it ship as the same, with 12 people? pbinom(7, 12, 8/15, lower = FALSE) is
	// 0.2646; no count of 12 at or above 4 keeps β 0.05 at pd 0.3; 66 do for both.
	same := worked(d, "same", map[string]string{"seats": "12"})
	tells(t, "same, 12", words(heading(same)), "12 seats will mostly fail to show", "cannot show that fewer than 30 % of people perceive a difference (d′ 1.64; 66 seats would do)")
	tells(t, "same, 12", part(t, same, "part-answer", "</section>"), "26 would find", "you want 95. A result that is not significant would say almost nothing.", "No result of 12 answers allows the conclusion",
		"Make it 66 seats", "66 seats in 6 flights of at most 12", "who comes again is no new assessor")
	d.says(same, "Fewer than 30 assessors: similarity is generally not advised.", "ISO 5495, note to table A.3", "The flights have 66 seats together, the session has 12.")

	// Is it the body, with 20? pbinom(14, 20, 0.7, lower = FALSE) is 0.4164, and the
	// triangle before it comes out in pbinom(10, 20, 0.6, lower = FALSE), 0.7553.
	body := worked(d, "body", map[string]string{"seats": "20"})
	tells(t, "body, 20", words(heading(body)), "20 seats can show, if a little less surely than you want, a difference that 40 % of people perceive (d′ 1.98), will mostly fail to show a smaller one in body (d′ 0.74, which 40 % perceive in a paired comparison; 42 seats would do), and cannot show that the lots are the same")
	tells(t, "body, 20", part(t, body, "part-answer", "</section>"), "Test 2, paired comparison: Of 100 such sessions, 31 would find a difference that 40 % of people perceive (d′ 0.74); you want 80. 76 come to this test, as those before it show what they look for; of 100 of these, 42 find it, if the tests are independent.",
		"That takes lots that differ by d′ 1.98 in all and by d′ 0.74 in body. Were body all they differ in, 9 of 100 such sessions would come to this test, and 4 would find it.")
	tells(t, "body, 20", part(t, body, "part-forecast-1", "</dl>"),
		"keeps α and has the power wanted 37", "from here on every panel does 42",
		"minimum correct 15 of 20", "actual α 0.021", "power at the planned pd, 40 %, d′ 0.74 0.42",
		"in the registered order, to which 76 of 100 sessions come (tests taken as independent) 0.31")
	d.says(body, "smallest pd that this panel finds with power 0.8</dt><dd>59.8\u00a0%")

	// Which method needs the fewest cups for d′ 1? (204 triangles fall into a tooth: 210 are
	// the first whole blocks that do.)
	one := worked(d, "tell", map[string]string{"dPrime": "1"})
	tells(t, "d′ 1", part(t, one, "part-compare", "<table"), "At d′ 1, α 0.05, power 0.8",
		"For any difference the tetrad needs the fewest cups: 61 assessors, in whole blocks 66 seats and 264 cups. More efficient than a triangle, but four cups: avoid it where the taste lingers or tires (ASTM E3009, scope).",
		"For a named attribute the paired comparison, one-sided needs the fewest cups: 23 assessors, in whole blocks 24 seats and 48 cups",
		"That holds where it was known beforehand which lot has less; otherwise, two-sided, it is 30 seats and 60 cups.",
		"The 3-AFC test needs the fewest people: 16 assessors, in whole blocks 18 seats and 54 cups.")
	rows := regexp.MustCompile(`(?s)<tr role="row".*?</tr>`).FindAllString(one, -1)
	want := []string{
		"triangle 12.7 % 202 220 210", "duo-trio test 16.5 % 228 241 228", "tetrad 24.1 % 61 65 66",
		"paired comparison, one-sided 52 % 23 26 24", "paired comparison, two-sided 52 % 30 33 30", "3-AFC test 45.1 % 16 22 18",
	}
	if len(rows) != len(want)+1 {
		t.Fatalf("%d rows of methods, want %d", len(rows)-1, len(want))
	}
	for i, w := range want {
		var got []string
		got = append(got, regexp.MustCompile(`plan-compare-method">([^<]*)<`).FindStringSubmatch(rows[i+1])[1])
		for _, m := range regexp.MustCompile(`data-name="[^"]*">([^<]*)<`).FindAllStringSubmatch(rows[i+1], 4) {
			got = append(got, words(m[1]))
		}
		if strings.Join(got, " ") != w {
			t.Errorf("row %d is %v, want %s", i+1, got, w)
		}
	}
	// pc at d′ 1 by integrate and qnorm, (pc - chance)/(1 - chance).
	tells(t, "triangle", words(rows[1]), "One session holds 129 seats of it at most: its codes end there.", "Take for test 1 : triangle, pd 12.7 %")
	tells(t, "3-AFC", words(rows[6]), "Only where the lots differ in strength alone, never in a sitting with a triangle.")
	small := worked(d, "tell", map[string]string{"dPrime": "0.15"})
	tells(t, "d′ 0.15", part(t, small, "part-compare", "</table>"), "More than 10 000 assessors: out of reach for a difference this small.",
		"For a named attribute the paired comparison, one-sided needs the fewest cups")
	if n := strings.Count(small, `data-name="assessors, smallest">&gt;`); n != 3 {
		t.Errorf("%d methods are out of reach at d′ 0.15, want the three that ask for any difference", n)
	}
	tells(t, "at another pd", words(rows[1]), "triangle in this plan with pd 40 % Any")
	own := regexp.MustCompile(`(?s)<tr role="row".*?</tr>`).FindAllString(worked(d, "tell", nil), -1)
	tells(t, "at its pd", words(own[1]), "triangle in this plan Any")
	for i, row := range own {
		if strings.Contains(row, "chosen") != (i == 1) || strings.Contains(rows[i], "chosen") {
			t.Errorf("row %d: not the plan's own method at its pd is the marked one", i)
		}
	}
}

// TestComparisonFollowsTheFirstTest: pd 40 % in a triangle is d′ 1.9756, the
// limit 30 % is 1.6383 (R 4.2.2, integrate and uniroot).
func TestComparisonFollowsTheFirstTest(t *testing.T) {
	d := newDesk(t)
	d.lots()
	for _, c := range []struct{ goal, typed, says string }{
		{"difference", "", "At d′ 1.98, α 0.05, power 0.8"},
		{"similarity", "", "At d′ 1.64, β 0.05, power 0.8"},
		{"difference", "1,5", "At d′ 1.5, α"},
		{"difference", "none", "d′: “none” is not a number."},
		{"difference", "11", "d′: 11 lies outside 0.05 to 10."},
		{"difference", "0", "d′: 0 lies outside 0.05 to 10."},
	} {
		page := worked(d, "tell", map[string]string{"tests.0.goal": c.goal, "dPrime": c.typed})
		if text := words(page); !strings.Contains(text, c.says) {
			t.Errorf("%s, %q: the page does not say %q", c.goal, c.typed, c.says)
		}
		if got := d.stands(page, "dPrime"); got != c.typed {
			t.Errorf("%q typed, %q stands", c.typed, got)
		}
	}
	// It is no part of the plan, and keeps nobody from keeping or sealing it.
	id := d.drafted()
	f := planForm(d.room(id).State().Plan).values
	f.Set("dPrime", "none")
	f.Set("seats", "30")
	if r := d.post("/s/"+string(id)+"/plan", f); r.status != 303 || d.room(id).State().Plan.Seats != 30 {
		t.Errorf("keeping: status %d", r.status)
	}
}

// TestForecastValues holds the numbers beside each test to R 4.2.2 (pbinom,
// dbinom; the stops by a forward recursion over looks at 24, 48 and 72).
func TestForecastValues(t *testing.T) {
	d := newDesk(t)
	d.lots()
	for _, c := range []struct {
		name, template string
		set            map[string]string
		want           []string
	}{
		{"24 triangles", "tell", map[string]string{"seats": "24"}, []string{
			"as the standards’ table prints it (from memory) 23", "from here on every panel does 25", "minimum correct 13 of 24",
			"actual α 0.028", "power at the planned pd, 40 %, d′ 1.98 0.79", "smallest pd that this panel finds with power 0.8 40.7 %",
		}},
		{"both, 66", "same", nil, []string{
			"For a difference", "as the standards’ table prints it (from memory) 66", "from here on every panel does 73", "0.95",
			"For similarity", "maximum correct 28 of 66", "actual β 0.049", "probability that identical lots pass 0.95",
			"smallest pd limit that this panel could promise, identical lots passing with 0.95 30 %",
		}},
		{"three rounds of 24", "tell", map[string]string{"seats": "24", "tests.0.sets": "3", "tests.0.sequential": "on"}, []string{
			"Stopping early", "all answers correct after 24 answers", "none correct after 24 answers",
			"equal lots different, α planned 0.05 0.014",
			"exact risk of missing a difference of pd 40 %, ended as “no difference found” or undecided, where those perceive it in every set and all others guess 0.097",
			"exact risk of ending a difference of pd 40 % as “no difference found”, β planned 0.05, where those perceive it in every set and all others guess 0.021",
			"finds pd 40 % with probability, where those perceive it in every set and all others guess 0.90",
			"finds pd 40 %, if all perceive it equally well 0.96", "ends pd 40 % as “no difference found”, if all perceive it equally well 0.0102",
			"0.03 / 0.08", "equal lots 36.2 of 72", "expected answers, pd 40 % 35.2 of 72",
		}},
		{"two-sided pair, alike", "body", map[string]string{"tests.0.method": "paired-comparison", "tests.0.sided": "two", "tests.0.goal": "similarity", "seats": "400", "tests.0.pdLimit": "20"}, []string{
			"correct, from and up to",
		}},
	} {
		page := worked(d, c.template, c.set)
		tells(t, c.name, part(t, page, "part-forecast-0", "</section>"), c.want...)
	}
}

// TestUnevenPanelsCost: always the leftmost cup is right in two of six orders of
// a triangle, one of two of a pair, two of four of a duo-trio test; what is left
// over of a block may all be (counted by hand).
func TestUnevenPanelsCost(t *testing.T) {
	d := newDesk(t)
	d.lots()
	for _, c := range []struct{ method, seats, flights, want string }{
		{"triangle", "20", "", "up to 8 of 20 would be right by that alone; with every serving order equally often it is 6.7. 18 or 24 seats balance."},
		{"triangle", "24", "", "Every serving order is used equally often. If everybody always chose the same place, as the left cup, 8 of 24"},
		{"triangle", "24", "14, 10", "up to 10 of 24 would be right by that alone; with every serving order equally often it is 8. Each flight starts its own blocks of 6"},
		{"duo-trio", "21", "", "up to 11 of 21 would be right by that alone; with every serving order equally often it is 10.5. 20 or 24 seats balance."},
		{"tetrad", "5", "", "up to 2 of 5 would be right by that alone; with every serving order equally often it is 1.7. 6 seats balance."},
		{"triangle", "24", "12, 6", "8 of 24"}, // flights that don't add up count for nothing
	} {
		page := worked(d, "tell", map[string]string{"tests.0.method": c.method, "seats": c.seats, "flights": c.flights})
		tells(t, fmt.Sprint(c), part(t, page, "part-forecast-0", "</section>"), c.want)
	}
}

// TestSizesOfTheReferenceFile walks the number of assessors by both definitions
// for the methods that the file holds (testdata/reference/c_sample_size.csv,
// scan with scipy, risks by exact integers).
func TestSizesOfTheReferenceFile(t *testing.T) {
	file, err := os.Open("../../testdata/reference/c_sample_size.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	methods := map[string]string{"triangle": "triangle", "duotrio": "duo-trio", "duo-trio": "duo-trio"}
	d := newDesk(t)
	d.lots()
	seen := map[string]int{}
	for _, row := range rows[1:] {
		method, alpha, beta, pd := methods[row[0]], row[2], row[3], row[4]
		power := map[string]string{"0.2": "0.8", "0.1": "0.9", "0.05": "0.95"}[beta]
		percent := map[string]string{"0.5": "50", "0.4": "40", "0.3": "30"}[pd]
		if method == "" || power == "" || percent == "" || (alpha != "0.05" && alpha != "0.1") {
			continue
		}
		seen[method]++
		page := worked(d, "tell", map[string]string{"tests.0.method": method, "tests.0.alpha": alpha, "tests.0.power": power, "tests.0.pd": percent})
		tells(t, fmt.Sprint(row[:5]), part(t, page, "part-forecast-0", "</dl>"),
			map[string]string{"triangle": "keeps α and has the power wanted, as the standards’ table prints it (from memory) ", "duo-trio": "keeps α and has the power wanted "}[method]+row[5]+" ", "from here on every panel does "+row[9]+" ")
	}
	if seen["triangle"] < 12 || seen["duo-trio"] < 12 {
		t.Fatalf("rows found: %v", seen)
	}
}

// TestAnswerOfEachState: the first line of the page in each state of a plan.
func TestAnswerOfEachState(t *testing.T) {
	d := newDesk(t)
	d.lots()
	for _, c := range []struct {
		name, template string
		set            map[string]string
		want           string
	}{
		{"reached", "tell", map[string]string{"seats": "30"}, "30 seats can show a difference that 40 % of people perceive (d′ 1.98), but cannot show that the lots are the same."},
		{"both reached", "same", nil, "66 seats in 6 flights can show a difference that 30 % of people perceive (d′ 1.64), or that fewer than 30 % perceive one if the lots are identical, but cannot show that the lots are the same."},
		{"nothing can be significant", "tell", map[string]string{"seats": "2"}, "2 seats cannot show a difference that 40 % of people perceive (d′ 1.98; 30 seats would do), nor that the lots are the same."},
		{"more seats than codes", "tell", map[string]string{"seats": "132"}, "As it stands this plan can’t be sealed, and promises nothing: 132 seats need 792 codes with their replacements, and there are 775: at most 129 seats fit into one session of these tests. Plan fewer sets, or a second session."},
		{"flights that don’t add up", "tell", map[string]string{"seats": "30", "flights": "12, 12"}, "30 seats can show a difference that 40 % of people perceive (d′ 1.98), but cannot show that the lots are the same. The flights are still to be mended."},
		{"one test refused", "body", map[string]string{"tests.1.method": "3-afc"}, "As it stands this plan can’t be sealed, and promises nothing: test 2 is refused."},
		{"a title that tells", "body", map[string]string{"title": "Decaf against untreated"}, "As it stands this plan can’t be sealed, and promises nothing: the title names what was done to a lot (“decaf”), and tasters see the title."},
		{"practice", "practice", nil, "This is practice: it shows people how a test goes, and says nothing about the lots."},
		{"bad", "tell", map[string]string{"tests.0.alpha": "x"}, "What this plan can show stands here once its fields hold numbers in range."},
		{"nearly", "tell", map[string]string{"seats": "24"}, "24 seats can show, if a little less surely than you want, a difference that 40 % of people perceive (d′ 1.98; 30 seats would do), but cannot show that the lots are the same."},
		{"two alike", "body", map[string]string{"seats": "42"}, "42 seats can show a difference that 40 % of people perceive (d′ 1.98), and a smaller one in body (d′ 0.74, which 40 % perceive in a paired comparison), but cannot show that the lots are the same."},
	} {
		page := worked(d, c.template, c.set)
		if got := words(heading(page)); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		// What can't be sealed, or is practice, promises nothing below its first line.
		if got := words(part(t, page, "part-answer", "</section>")); (strings.Contains(c.want, "promises nothing") || c.name == "practice") && regexp.MustCompile(`would (find|pass|do\b)|can show|Make it`).MatchString(strings.ReplaceAll(got, "Make it 126 seats", "")) {
			t.Errorf("%s promises: %s", c.name, got)
		}
	}
}

// TestAdviceStandsAtItsField: each with its source, and never as a fault.
func TestAdviceStandsAtItsField(t *testing.T) {
	d := newDesk(t)
	d.lots()
	for _, c := range []struct {
		template string
		set      map[string]string
		field    string
		want     string
	}{
		{"same", map[string]string{"seats": "24", "flights": ""}, "seats", "Fewer than 30 assessors: similarity is generally not advised. (ISO 5495, note to table A.3; for other methods from memory)"},
		// 40 answers, but 20 people.
		{"same", map[string]string{"seats": "20", "flights": "", "tests.0.sets": "2"}, "seats", "Fewer than 30 assessors: similarity is generally not advised."},
		{"tell", nil, "seats", "dealt at random within groups: 6 seats in a triangle. (ISO 4120)"},
		{"body", nil, "seats", "dealt at random within groups: 6 seats in a triangle and 2 seats in a paired comparison. (ISO 4120; ISO 5495, from memory)"},
		{"tell", map[string]string{"tests.0.method": "duo-trio"}, "seats", "dealt at random within groups: 4 seats in a duo-trio test. (ISO 10399, from memory)"},
		{"tell", map[string]string{"tests.0.sets": "2"}, "tests.0.sets", "Avoid several sets for one assessor where you can. Where not, everybody gets the same number. (ISO 10399)"},
		{"same", map[string]string{"tests.0.sets": "2"}, "tests.0.sets", "the pooled table is not used for similarity"},
		{"body", map[string]string{"tests.1.sets": "3"}, "tests.1.sets", "assessors are counted here, not sets"},
		{"tell", map[string]string{"tests.0.sets": "5"}, "tests.0.sets", "5 sets in a sitting: bitterness builds up, and 4 sets of coffee are usually the most. (common practice, no source)"},
		{"tell", map[string]string{"tests.0.sets": "5"}, "tests.0.sets", "15 cups a taster; 12 are usually the most for one table. (common practice, no source)"},
		{"tell", nil, "tests.0.goal", "There is no “no difference”; who guessed says so, and the answer counts. (ISO 4120)"},
		{"tell", nil, "tests.0.goal", "No difference found is not the same as alike. That is another question: at the usual risks it takes about twice as many people; with risks equal to those of a difference, as many, and somewhat more where the difference was one-sided, since similarity looks both ways. (ISO 4120: 24 to 30 for a difference, about 60 for similarity, from memory)"},
		{"tell", map[string]string{"tests.0.method": "duo-trio"}, "tests.0.goal", "(ISO 10399: 32 to 36 for a difference, about 72 for similarity)"},
		{"tell", map[string]string{"tests.0.method": "tetrad"}, "tests.0.goal", "(ISO 4120, for the triangle: 24 to 30"},
		{"tell", nil, "tests.0.pd", "a large difference"},
		{"same", nil, "tests.0.pdLimit", "30 % of people, d′ 1.64: a medium difference. In a triangle below 25 % is small, above 35 % large. (textbooks, from memory)"},
		// d′ and share in a triangle: R 4.2.2, qnorm, integrate and uniroot.
		{"tell", map[string]string{"tests.0.method": "duo-trio", "tests.0.pd": "30"}, "tests.0.pd", "30 % of people in this method is d′ 1.42: a small difference. In a triangle 23.7 % of people would perceive it"},
		{"body", nil, "tests.1.pd", "40 % of people in this method is d′ 0.74: a small difference. In a triangle 7.2 % of people would perceive it"},
		{"same", nil, "tests.0.beta", "Each claim has a risk of its own: keep both small, 0.05"},
		{"tell", map[string]string{"tests.0.method": "duo-trio"}, "tests.0.reference", "Constant where one lot is familiar, as from regular production; balanced otherwise. (ISO 10399, scope)"},
		{"tell", map[string]string{"tests.0.method": "tetrad"}, "tests.0.method", "avoid it where the taste lingers or tires. (ASTM E3009, scope)"},
		{"tell", map[string]string{"tests.0.blank": "untreated"}, "tests.0.blank", "the brewing was tasted"},
		{"tell", map[string]string{"tests.0.sequential": "on", "tests.0.sets": "2"}, "tests.0.sequential", "in a triangle, looking from the 6th answer to the 30th at 0.05, it would call equal lots different in 12.6 of 100 tests"},
		{"tell", map[string]string{"tests.0.method": "duo-trio", "tests.0.sequential": "on", "tests.0.sets": "2"}, "tests.0.sequential", "in a duo-trio test, looking from the 6th answer to the 30th at 0.05, it would call equal lots different in 12.1 of 100 tests"},
		{"body", map[string]string{"tests.1.method": "triangle"}, "tests.1.method", "Test 2 asks the same as test 1, in the same way."},
		{"body", map[string]string{"tests.1.method": "triangle", "tests.1.goal": "similarity"}, "tests.1.method", "One test with the goal “both” asks it of the same cups."},
		{"body", nil, "tests.1.sided", "One-sided only if it was known before the test which lot should have less; else two-sided. (ISO 5495)"},
		{"body", map[string]string{"tests.1.sided": "two"}, "tests.1.sided", "Two-sided is right where it was not known"},
		{"body", nil, "tests.1.definition", "Tasters must be able to recognise the attribute"},
		{"same", nil, "flights", "who comes again is no new assessor"},
		{"tell", nil, "serving.lowC", "All cups of a set stand on the tray at once if possible"},
		{"tell", nil, "serving.swallow", "(ISO 4120)"},
	} {
		page := worked(d, c.template, c.set)
		notes := part(t, page, c.field+"-notes", "</div>")
		tells(t, c.field, notes, c.want)
		if strings.Contains(notes, "field-error") {
			t.Errorf("%s: advice forbids", c.field)
		}
	}
	// What holds for two tests is said once.
	if n := strings.Count(worked(d, "body", nil), "No difference found is not the same as alike."); n != 1 {
		t.Errorf("one piece of advice stands %d times", n)
	}
}

// TestOnlyAlikeTestsAreRemarkedOn: other methods, other attributes and a blank test
// are tests of their own.
func TestOnlyAlikeTestsAreRemarkedOn(t *testing.T) {
	triangle, pair := session.UsualPlan().Tests[0], session.UsualPlan().Tests[1]
	duo, blank, sweet, again := triangle, triangle, pair, pair
	duo.Method, blank.Blank, sweet.Attribute, again.Attribute = session.DuoTrio.Key, session.BlankUntreated, "sweetness", " "+strings.ToUpper(pair.Attribute)
	for _, c := range []struct {
		tests []session.TestPlan
		want  string // the field that it is said at
	}{
		{[]session.TestPlan{triangle, duo, pair}, ""},
		{[]session.TestPlan{triangle, blank, pair, sweet}, ""},
		{[]session.TestPlan{triangle, pair, again}, "tests.2.method"},
		{[]session.TestPlan{triangle, triangle}, "tests.1.method"},
		{[]session.TestPlan{{}, {}}, ""},
	} {
		got := ""
		for field, all := range adviceOf(session.Plan{Seats: 24, Tests: c.tests}) {
			for _, a := range all {
				if strings.Contains(a.Say, "asks the same") {
					got += field
				}
			}
		}
		if got != c.want {
			t.Errorf("%d tests: said at %q, want %q", len(c.tests), got, c.want)
		}
	}
}

// TestReachIsGraded: little short is not told like a panel that mostly misses.
func TestReachIsGraded(t *testing.T) {
	for _, c := range []struct {
		p, wanted float64
		want      string
	}{
		{0.95, 0.95, "24 seats can show it."},
		{0.948, 0.95, "24 seats can show, if a little less surely than you want, it."},
		{0.76, 0.8, "24 seats can show, if a little less surely than you want, it."},
		{0.74, 0.8, "24 seats may miss, more often than you want, it."},
		{0.55, 0.8, "24 seats have about a coin’s chance to show it."},
		{0.26, 0.95, "24 seats will mostly fail to show it."},
		{0.001, 0.8, "24 seats will mostly fail to show it."},
	} {
		var can [reachKinds][]string
		can[reachOf(c.p, c.wanted)] = []string{"it"}
		if got := "24 seats " + canCannot(can, 24); got != c.want {
			t.Errorf("%v of %v: %q, want %q", c.p, c.wanted, got, c.want)
		}
	}
	var all [reachKinds][]string
	for r := range all {
		all[r] = []string{fmt.Sprint("x", r)}
	}
	want := "can show x0, can show, if a little less surely than you want, x1, may miss, more often than you want, x2, has about a coin’s chance to show x3, will mostly fail to show x4, and cannot show x5."
	if got := canCannot(all, 1); got != want {
		t.Errorf("%q", got)
	}
}

// TestPlanSaysWhatWordsMean: each word and sign of the plan page has its line.
func TestPlanSaysWhatWordsMean(t *testing.T) {
	d := newDesk(t)
	d.lots()
	page := worked(d, "body", nil)
	glossary := part(t, page, "words", "</details>")
	for _, word := range []string{"flight", "take", "serving order", "pc", "pd", "d′", "α", "β", "power", "γ", "p ", "whole block", "primary", "assessor", "one-sided, two-sided", "reference", "first, smallest that does", "stable, from here on", "blank test"} {
		tells(t, "glossary", glossary, word)
	}
	tells(t, "glossary", glossary, "In AAB, A is a cup of the untreated lot and B one of the processed lot.", "1: about three of four pairs right.")
	if before, _, _ := strings.Cut(page, ` id="words"`); regexp.MustCompile(`\b[AB]{2,4}\b|γ`).MatchString(words(before)) {
		t.Error("a code or a sign stands before the words that explain it")
	}
	tells(t, "label", words(page), "flights, people served together from the same brews", "at 1 about three of four pairs are right")
}

// TestSealedPlanTellsAll: every figure that was registered stands on the sealed
// page in words.
func TestSealedPlanTellsAll(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	lab := d.rooms.Lab().State()
	p := everyMethod(session.UsualPlan())
	p.Title, p.Untreated, p.Processed, p.Practice = "Monday session", lab.Lots[0], lab.Lots[1], false
	p.Tests = append(p.Tests[:2:2], p.Tests[3]) // one attribute test, which may stop early
	p.Tests[2].TwoSided, p.Flights = false, nil
	p.Tests[2].Sequential, p.Tests[2].Beta = false, 0
	p.Seats, p.Flights = 24, []int{6, 18}
	f := planForm(p)
	f.values.Set("pin", "4711")
	f.values.Set("pin2", "4711")
	if r := d.post("/s/"+string(id)+"/seal", f.values); r.status != 303 {
		t.Fatalf("seal: status %d: %v", r.status, readPlan(f, lab).Check())
	}
	page := words(d.page("/s/" + string(id) + "/plan"))
	tells(t, "sealed", page,
		"flights 2: 6, 18 seats, each from its own brews", "practice no",
		"Test 1: tetrad", "goal to show similarity", "blank test two brews of the processed lot", "Which two are the same?", "pd limit: similar means that fewer perceive it 29 %", "β, risk of calling lots similar that are not 0.1", "power, chance that identical lots pass 0.9",
		"Test 2: duo-trio test", "a difference and similarity, each by its own rule", "reference constant: always the untreated lot", "sets per seat 2", "α, risk of calling equal lots different 0.01", "pd worth finding 35 %",
		"Test 3: paired comparison", "attribute sweetness", "tasters are told How sweet.", "one-sided: the processed lot was said to have less", "stopping none: all answers are taken",
	)
	// Nothing can change any more, so nothing is offered.
	d.saysNot(page, "would do)", "Make it ")
}

func TestSealedSequentialPlanTellsSo(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := d.drafted()
	f := planForm(d.room(id).State().Plan)
	f.actOnRows("remove.1")
	for k, v := range map[string]string{"tests.0.sets": "3", "tests.0.sequential": "on", "tests.0.beta": "0.1", "pin": "4711", "pin2": "4711"} {
		f.values.Set(k, v)
	}
	if r := d.post("/s/"+string(id)+"/seal", f.values); r.status != 303 {
		t.Fatalf("seal: status %d", r.status)
	}
	tells(t, "sealed", words(d.page("/s/"+string(id)+"/plan")),
		"stopping may stop early, after a whole round", "β, risk of missing the difference 0.1", "Stopping early")
}

// TestCaffeineIsHeldAgainstOnceAndADay: 200 mg at once and 400 mg a day (EFSA
// Journal 2015;13(5):4102).
func TestCaffeineIsHeldAgainstOnceAndADay(t *testing.T) {
	const once, day = "above the 200 mg at once that is no concern", "above the 200 mg at once, and even the 400 mg of a whole day, that are no concern"
	for _, c := range []struct {
		mg, robusta float64
		once, day   int // how often each is said
	}{
		{90, 187, 0, 0},
		{100, 200, 0, 0},
		{300, 400, 1, 0},
		{200, 400, 1, 0},
		{128, 266, 1, 0},
		{201, 418, 1, 1},
		{150, 401, 0, 1},
		{1466, 3049, 0, 1},
	} {
		all := caffeineCautions(session.Supplies{CaffeineMg: c.mg, RobustaMg: c.robusta})
		say := strings.Join(all, " ")
		if strings.Count(say, once) != c.once || strings.Count(say, day) != c.day {
			t.Errorf("%v mg, of robusta %v mg: %s", c.mg, c.robusta, say)
		}
		if last := all[len(all)-1]; len(all) > 2 || !strings.Contains(last, "200 mg at once and 400 mg in a whole day") || !strings.Contains(last, "100 mg late in the day may disturb sleep") {
			t.Errorf("%v mg: %q", c.mg, all)
		}
		if strings.Contains(say, "at most") || strings.Contains(say, "up to") {
			t.Errorf("an estimate is no bound: %s", say)
		}
	}
}
