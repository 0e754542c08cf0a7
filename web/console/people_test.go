package console

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"oddcup/session"
)

func TestPeopleEnteredAndChanged(t *testing.T) {
	d := newDesk(t)
	d.goes("/people", "name", "Ana Vell (invented)", "status", "candidate")
	d.goes("/people", "name", "Bo Tarn (invented)", "pseudonym", "J 02", "status", "trained", "languages", "de, pt-BR", "told", "2026-01-05", "ground", "contract", "since", "2024-03-01")
	body := d.page("/people")
	sane(t, "register", body)
	d.says(body, "2 people are on the register. One has not been told what is kept.", "Judge 1", "Bo Tarn (invented)", "de, pt-BR", "5 January 2026, contract", "1 March 2024")
	for name, refused := range map[string]struct {
		pairs []string
		says  string
		field string
	}{
		"no name":                   {[]string{"status", "trained"}, "A person: a name has 1 to 40 characters", "name"},
		"pseudonym taken":           {[]string{"name", "Cira", "pseudonym", "j 02", "status", "trained"}, "Pseudonym j 02", "pseudonym"},
		"pseudonym tells the name":  {[]string{"name", "Cira Moss", "pseudonym", "Moss", "status", "trained"}, "a part of the name", ""},
		"no date":                   {[]string{"name", "Cira", "told", "soon", "ground", "contract", "status", "trained"}, "“soon” is no date", "told"},
		"told on no ground":         {[]string{"name", "Cira", "told", "2026-01-05", "status", "trained"}, "on what ground", "ground"},
		"a language that is no tag": {[]string{"name", "Cira", "languages", "Klar_Text", "status", "trained"}, "write it as a tag", "languages"},
		"a day to come":             {[]string{"name", "Cira", "since", "2027-01-01", "status", "trained"}, "still to come", ""},
	} {
		seq := d.rooms.Lab().State().Seq
		r := d.post("/people", filled(refused.pairs...).values)
		if r.status != http.StatusUnprocessableEntity || d.rooms.Lab().State().Seq != seq {
			t.Errorf("%s: status %d", name, r.status)
		}
		d.says(r.body, refused.says)
		if refused.field != "" && !strings.Contains(r.body, `id="`+refused.field+`-fault"`) {
			t.Errorf("%s: no fault stands at %s", name, refused.field)
		}
		if refused.pairs[0] == "name" && d.holds(r.body, "name") != refused.pairs[1] {
			t.Errorf("%s: the typed name is lost", name)
		}
	}
	before := d.rooms.Lab().State().People[1]
	d.goes("/people/p-2", "name", "Bo Tarn (invented)", "pseudonym", "J 02", "status", "resting", "told", "2026-01-05", "ground", "contract", "since", "2024-03-01")
	after := d.rooms.Lab().State().People[1]
	if after.Status != session.StatusResting || after.Name.Digest != before.Name.Digest || after.Languages != nil {
		t.Errorf("changed to %+v", after)
	}
	sane(t, "person", d.page("/people/p-2"))
	r := d.post("/people/p-2", filled("name", "Bo", "status", "idle").values)
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("an unknown status: %d", r.status)
	}
}

func TestPeopleMerged(t *testing.T) {
	p := newPanel(t, 3)
	p.plays(controls, p.mostly)
	p.tieAll()
	r := p.post("/people/p-2/merge", url.Values{})
	p.says(r.body, "Choose who it is")
	// They sat in one session, and nothing undoes it: so it is asked, and nothing is lost.
	r = p.post("/people/p-2/merge", url.Values{"into": {"p-1"}})
	if r.status != http.StatusUnprocessableEntity || p.rooms.Lab().State().People[1].Into != "" || !strings.Contains(r.body, `value="p-1" selected`) {
		t.Errorf("of one session, and not asked: status %d", r.status)
	}
	sane(t, "merge asked", r.body)
	p.says(r.body, "J 02 and J 01 both had a seat in 1 session: “Controls”, ", "One person had both seats", `name="together"`)
	p.saysNot(p.page("/people/p-2"), `name="together"`)
	p.goes("/people/p-2/merge", "into", "p-1", "together", "on")
	body := p.page("/people/p-2") // leads on to the one
	p.says(body, "Also J 02", "2 seats in sessions")
	p.says(p.page("/people"), "J 02 is J 01", "2 people are on the register.")
	p.says(p.page("/judges/p-2"), "Also J 02")
	if r := p.post("/people/p-2/merge", url.Values{"into": {"p-1"}}); r.status != http.StatusUnprocessableEntity {
		t.Errorf("merged twice: status %d", r.status)
	}
}

func TestTiesManyAtOnce(t *testing.T) {
	p := newPanel(t, 4)
	id := p.plays(controls, p.mostly)
	p.plays(nil, p.mostly)
	p.goes("/people/p-4/merge", "into", "p-3") // both bear a name; neither is suggested wrongly
	body := p.page("/people/ties")
	sane(t, "ties", body)
	p.says(body, "4 names at 8 seats belong to nobody yet. 4 are like names of the register.", "2 seats", "Controls")
	p.tieAll()
	if n := len(p.rooms.Lab().State().SeatsOf("p-3")); n != 4 {
		t.Errorf("p-3 has %d seats", n)
	}
	p.says(p.page("/people/ties"), "Every name that was typed belongs to somebody.")
	// Taken back, it is there again; another person's seat can't be untied here.
	if r := p.post("/people/p-1/untie", url.Values{"session": {string(id)}, "seat": {"2"}}); r.status != http.StatusConflict {
		t.Errorf("untied from the wrong person: status %d", r.status)
	}
	p.goes("/people/p-1/untie", "session", string(id), "seat", "1")
	body = p.page("/people/ties")
	p.says(body, "One name at 1 seat belongs to nobody yet.")
	key := body[strings.Index(body, `id="who-`)+4:]
	key = key[:strings.Index(key, `"`)]
	r := p.post("/people/ties", url.Values{key: {"p-99"}})
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("tied to nobody of the register: status %d", r.status)
	}
	p.says(r.body, "Some names are not tied.")
	p.goes("/people/ties", key, "new")
	lab := p.rooms.Lab().State()
	if who, ok := lab.PersonOf(id, 1); !ok || who.Pseudonym != "Judge 5" || who.Name.Words != personName(0) {
		t.Errorf("the new judge is %+v", who)
	}
}

// Whoever has a page open while somebody else ties loses nothing and ties nothing
// wrong.
func TestTiesFromAnOldPage(t *testing.T) {
	p := newPanel(t, 2)
	p.plays(controls, p.mostly)
	old := p.page("/people/ties")
	p.tieAll()
	seq := p.rooms.Lab().State().Seq
	key := old[strings.Index(old, `id="who-`)+4:]
	key = key[:strings.Index(key, `"`)]
	p.goes("/people/ties", key, "p-2")
	if now := p.rooms.Lab().State().Seq; now != seq {
		t.Errorf("an old page made entries up to %d after %d", now, seq)
	}
}

func TestPersonErased(t *testing.T) {
	p := newPanel(t, 3)
	p.plays(controls, p.mostly)
	p.plays(controls, p.mostly)
	p.tieAll()
	if _, err := p.rooms.Lab().Do(t.Context(), session.Command{At: p.at, Actor: session.Host, Act: session.NoteBackup{File: "spring.oddcup"}}); err != nil {
		t.Fatal(err)
	}
	body := p.page("/people/p-2/erase")
	sane(t, "erase", body)
	p.says(body, personName(1), "The names typed at 2 seats in 2 sessions", "spring.oddcup", "Destroy them", "every journal still checks")
	r := p.post("/people/p-2/erase", url.Values{"pseudonym": {"J 01"}})
	if r.status != http.StatusUnprocessableEntity || p.rooms.Lab().State().People[1].Erased {
		t.Errorf("erased by another pseudonym: status %d", r.status)
	}
	p.says(r.body, "Type the pseudonym, J 02, and nothing else")
	p.says(p.page("/people/p-2/record.json"), personName(1))
	p.goes("/people/p-2/erase", "pseudonym", "j 02")
	body = p.page("/people/p-2")
	sane(t, "erased", body)
	p.says(body, "The name of J 02 is erased.", "spring.oddcup", "2 sessions")
	for _, path := range []string{"/", "/people", "/people/ties", "/people/p-2", "/people/p-2/record.json", "/people/records.csv", "/judges", "/judges/p-2", "/judges/p-2/own"} {
		p.saysNot(p.page(path), personName(1))
	}
	for _, row := range p.rows() {
		for _, page := range []string{"result", "trail", "report", "board"} {
			if r := p.get("/s/" + string(row) + "/" + page); strings.Contains(r.body, personName(1)) {
				t.Errorf("session %s, %s still shows the name", row, page)
			}
		}
	}
	p.says(p.page("/judges"), "J 02", "name erased")
	if r := p.get("/people/p-2/erase"); r.status != http.StatusSeeOther {
		t.Errorf("to erase again: status %d", r.status)
	}
	for path, pairs := range map[string][]string{
		"/people/p-2": {"name", "Again", "status", "trained"}, "/judges/p-2/series": {"method", "triangle", "kind", "routine", "p1", "0.6", "alpha", "0.05", "beta", "0.05"},
	} {
		if r := p.post(path, filled(pairs...).values); r.status != http.StatusUnprocessableEntity {
			t.Errorf("%s of an erased person: status %d", path, r.status)
		}
	}
}

func (p *panel) rows() (ids []session.ID) {
	p.t.Helper()
	rows, err := p.rooms.Rows(p.t.Context())
	if err != nil {
		p.t.Fatal(err)
	}
	for _, row := range rows {
		ids = append(ids, row.ID)
	}
	return ids
}

func TestPersonFile(t *testing.T) {
	p := newPanel(t, 2)
	p.plays(controls, p.mostly)
	p.tieAll()
	r := p.get("/people/p-1/record.json")
	var file session.PersonFile
	if err := json.Unmarshal([]byte(r.body), &file); err != nil {
		t.Fatal(err)
	}
	if file.Pseudonym != "J 01" || len(file.Sets) != 2 || !strings.Contains(r.header.Get("Content-Disposition"), "p-1.json") {
		t.Errorf("the file holds %+v", file)
	}
}

const paperHead = "person,date,method,kind,control,dprime,sets,right,source\n"

func TestPaperRecords(t *testing.T) {
	p := newPanel(t, 2)
	good := "J 01,2025-03-04,triangle,control,thin brew,1.5,12,9,folder 7\n"
	bad := "J 77,2025-03-04,triangle,control,thin brew,1.5,12,9,folder 7\n"
	r := p.post("/people/papers", url.Values{"table": {paperHead + good + bad}})
	if r.status != http.StatusUnprocessableEntity || len(p.rooms.Lab().State().Papers) != 0 {
		t.Errorf("a table with a fault: status %d, %d records", r.status, len(p.rooms.Lab().State().Papers))
	}
	sane(t, "papers", r.body)
	p.says(r.body, "Nothing was taken: 1 row can’t be read.", "line 3:", "J 77", "Take the 1 right row", "folder 7")
	p.goes("/people/papers", "table", paperHead+good+bad, "take", "good")
	p.says(p.page("/people/papers"), "1 count from paper is kept.")
	p.says(p.page("/judges/p-1"), "from paper, folder 7", "9 of 12")
	for table, says := range map[string]string{
		"": "Choose a file, or paste its rows", paperHead: "no row below it", "name\nx\n": "is not known", paperHead + good: "in the register already",
	} {
		r := p.post("/people/papers", url.Values{"table": {table}})
		if r.status != http.StatusUnprocessableEntity {
			t.Errorf("table %q: status %d", table, r.status)
		}
		p.says(r.body, says)
	}
	up := p.upload(paperHead + "J 02,2025-03-04,triangle,control,thin brew,1.5,12,5,folder 7\n")
	if up.status != http.StatusSeeOther {
		t.Errorf("a file: status %d: %s", up.status, heading(up.body))
	}
	up = p.upload(paperHead + bad)
	p.says(up.body, "J 77,2025-03-04")                      // stands in the field, to be mended
	many := p.upload(paperHead + strings.Repeat(bad, 1200)) // beyond 64 kB
	if many.status != http.StatusUnprocessableEntity {
		t.Errorf("a file with many faults: status %d", many.status)
	}
	p.says(many.body, "1200 rows can’t be read", "The first 100 of 1200.", "line 101:")
	if strings.Contains(many.body, "line 102:") {
		t.Error("all faults are listed")
	}
	long := p.upload(paperHead + strings.Repeat(bad, mostPaperTable/len(bad)+1))
	if long.status != http.StatusRequestEntityTooLarge {
		t.Errorf("a long file: status %d", long.status)
	}
	p.says(long.body, "longer than 4 megabytes, and nothing was taken", "oddcup judges import")
	torn := httptest.NewRequest("POST", "http://127.0.0.1:7733/people/papers", strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"table\"\r\n\r\nperson"))
	torn.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	torn.Header.Set("Origin", "http://127.0.0.1:7733")
	if got := p.send(torn); got.status != http.StatusBadRequest || !strings.Contains(got.body, "did not arrive whole, and nothing was taken") {
		t.Errorf("a torn upload: status %d", got.status)
	}
	// A sheet for each judge makes a test of each: that is asked first.
	sheets := paperHead + "J 01,2025-04-04,triangle,control,thin brew,1.5,12,9,sheet 1\nJ 02,2025-04-04,triangle,control,thin brew,1.5,12,9,sheet 2\n"
	kept := len(p.rooms.Lab().State().Papers)
	r = p.post("/people/papers", url.Values{"table": {sheets + bad}, "take": {"good"}})
	sane(t, "sheets", r.body)
	p.says(r.body, "Were these one tasting?", "2 sources (“sheet 1”, “sheet 2”), and so is several tests", "Take 2 rows as tests of their own")
	if n := len(p.rooms.Lab().State().Papers); r.status != http.StatusUnprocessableEntity || n != kept || p.holdsHidden(r.body, "take") != "good" {
		t.Errorf("sheets: status %d, %d records of %d", r.status, n, kept)
	}
	p.goes("/people/papers", "table", sheets+bad, "take", "good", "apart", "on")
	if n := len(p.rooms.Lab().State().Papers); n != kept+2 {
		t.Errorf("%d records after two more than %d", n, kept)
	}
	// A row of a day to come is left out like any other.
	r = p.post("/people/papers", url.Values{"table": {paperHead + "J 01,2099-03-05,triangle,control,thin brew,1.5,12,9,folder 8\n"}})
	p.says(r.body, "line 2:", "the date 2099-03-05 is still to come")
	csv := p.page("/people/records.csv")
	if strings.Count(csv, "folder 7") != 2 || strings.Contains(csv, "Person") {
		t.Errorf("records.csv: %s", csv)
	}
}

// Words that came before the name stand in entries: they are listed before the erasure,
// and neither the page nor the file claims that there are none.
func TestErasedNameInEntries(t *testing.T) {
	p := newPanel(t, 2)
	const row = "J 01,2025-03-04,triangle,control,brew by Quixwort,1.5,12,9,folder of Zebulonia\n"
	p.saysNot(p.page("/people/papers"), "with a part of a name")
	p.goes("/people/papers", "table", paperHead+row)
	p.says(p.page("/people/p-1/erase"), "no part of the name stands there in clear")
	p.goes("/people/p-1", "name", "Zébulonia Quixwort (invented)", "pseudonym", "J 01", "status", "trained")
	body := p.page("/people/p-1/erase")
	sane(t, "in entries", body)
	p.says(body, "A part of the name stands in 2 places that no erasure reaches", "the register, records imported: “folder of Zebulonia”", "“brew by Quixwort”")
	p.saysNot(body, "no part of the name stands there in clear")
	p.says(p.page("/people/papers"), "2 cells with a part of a name", "“folder of Zebulonia”")
	p.says(p.page("/people/p-1/record.json"), "folder of Zebulonia")
	r := p.post("/people/papers", url.Values{"table": {paperHead + strings.Replace(row, "J 01", "J 02", 1)}})
	p.says(r.body, "the control holds “quixwort”, a part of a name on the register")
	p.goes("/people/p-1/erase", "pseudonym", "J 01")
	body = p.page("/people/p-1")
	p.says(body, "A part of the name stood in 2 places of entries", "so it stands there still")
	if n := p.rooms.Lab().State().Erasures[0].InClear; n != 2 {
		t.Errorf("%d places are counted", n)
	}
}

// upload sends a table as a browser sends a chosen file.
func (p *panel) upload(table string) reply {
	p.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	file, err := w.CreateFormFile("file", "records.csv")
	if err != nil {
		p.t.Fatal(err)
	}
	fmt.Fprint(file, table)
	w.WriteField("table", "")
	w.Close()
	r := httptest.NewRequest("POST", "http://127.0.0.1:7733/people/papers", &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Origin", "http://127.0.0.1:7733")
	return p.send(r)
}

// What people type is text on every page.
func TestPeopleAreEscaped(t *testing.T) {
	d := newDesk(t)
	const evil = `<b>"x"</b>`
	d.goes("/people", "name", evil, "pseudonym", "J<i>1", "status", "trained", "told", "2026-01-05", "ground", "<u>law</u>")
	d.goes("/judges/rules", "name", "R<i>", "method", "triangle", "kind", "control", "label", "L<i>", "by", "mark", "trials", "6", "mark", "5")
	for _, path := range []string{"/people", "/people/p-1", "/people/p-1/erase", "/judges", "/judges/p-1", "/judges/p-1/own", "/judges/rules", "/judges/rules?rule=R%3Ci%3E"} {
		body := d.page(path)
		for _, raw := range []string{evil, "J<i>", "<u>law", "R<i>", "L<i>"} {
			if strings.Contains(body, raw) {
				t.Errorf("%s holds %s as markup", path, raw)
			}
		}
	}
}

func TestRulesAreData(t *testing.T) {
	d := newDesk(t)
	mark := []string{"name", "Panel", "method", "triangle", "kind", "control", "label", "thin", "by", "mark", "trials", "6", "mark", "5", "validMonths", "12"}
	r := d.post("/judges/rules", filled(append(mark, "act", "try")...).values)
	// P(X ≥ 5 | 6, 1/3) = 13/729 = 0.0178: exact binomial, by hand.
	d.says(r.body, "Worked out, not kept yet.", "18 of 1000")
	if n := len(d.rooms.Lab().State().Rules); n != 0 || r.status != http.StatusOK {
		t.Errorf("tried only, and %d rules are kept; status %d", n, r.status)
	}
	d.goes("/judges/rules", mark...)
	body := d.page("/judges/rules")
	sane(t, "rules", body)
	d.says(body, "1 rule.", "at least 5 right of 6 sets", "Guessing alone reaches it in 18 of 1000 tries.", "Valid for 12 months.", "Nobody holds it now.")
	if body := d.page("/judges/rules?rule=Panel"); d.holds(body, "mark") != "5" || d.holds(body, "label") != "thin" {
		t.Error("a rule to be changed is not in the form")
	}
	lines := []string{"name", "Lines", "method", "triangle", "kind", "routine", "by", "lines", "p1", "0,6", "alpha", "0.05", "beta", "0.05"}
	d.goes("/judges/rules", lines...)
	body = d.page("/judges/rules?rule=Lines")
	sane(t, "lines", body)
	d.says(body, "the upper one of Wald’s lines for 0.33 against 0.60", "after", "sets on average")
	if d.holds(body, "p0") != "" || d.holds(body, "p1") != "0.6" {
		t.Errorf("the lines stand as %q, %q", d.holds(body, "p0"), d.holds(body, "p1"))
	}
	// P0 as people write guessing; and a rule whose sets nobody has served.
	for _, p0 := range []string{"1/3", " 1 / 3", "0.33", "0,333", "0.3333"} {
		d.goes("/judges/rules", append(lines, "p0", p0)...)
		if r, _ := d.rooms.Lab().State().Rule("Lines"); r.Lines.P0 != 1.0/3 {
			t.Errorf("P0 %q is %v", p0, r.Lines.P0)
		}
	}
	d.says(body, "No session that was revealed had such sets yet", "Only sets under the same words count.")
	for says, pairs := range map[string][]string{
		"P0 0.3 lies below guessing, which is right in 1/3 of these sets": {"name", "X", "method", "triangle", "kind", "routine", "by", "lines", "p0", "0.3", "p1", "0.6", "alpha", "0.05", "beta", "0.05"},
		"“1/0” is no share":           {"name", "X", "method", "triangle", "kind", "routine", "by", "lines", "p0", "1/0", "p1", "0.6", "alpha", "0.05", "beta", "0.05"},
		"is no mark":                  {"name", "X", "method", "triangle", "kind", "routine", "by", "mark", "trials", "6", "mark", "7"},
		"“six” is not a whole number": {"name", "X", "method", "triangle", "kind", "routine", "by", "mark", "trials", "six", "mark", "5"},
		"name the control":            {"name", "X", "method", "triangle", "kind", "control", "by", "mark", "trials", "6", "mark", "5"},
		"they rise by 0.02 at least":  {"name", "X", "method", "triangle", "kind", "routine", "by", "lines", "p0", "0.34", "p1", "0.35", "alpha", "0.05", "beta", "0.05"},
		"they rise, from guessing":    {"name", "X", "method", "triangle", "kind", "routine", "by", "lines", "p0", "0.7", "p1", "0.6", "alpha", "0.05", "beta", "0.05"},
		"A rule's name":               {"method", "triangle", "kind", "routine", "by", "mark", "trials", "6", "mark", "5"},
		"no method is called":         {"name", "X", "method", "sniff", "kind", "routine", "by", "lines", "p0", "0.4", "p1", "0.6", "alpha", "0.05", "beta", "0.05"},
	} {
		for _, act := range []string{"", "try"} {
			r := d.post("/judges/rules", filled(append(pairs, "act", act)...).values)
			if says == "A rule's name" && act == "try" {
				continue // a name is not needed to try
			}
			if r.status != http.StatusUnprocessableEntity {
				t.Errorf("%v: status %d", pairs, r.status)
			}
			d.says(r.body, says)
		}
	}
}

func TestPlanOfControlsAndEligible(t *testing.T) {
	p := newPanel(t, 3)
	p.goes("/judges/rules", "name", "Panel", "method", "triangle", "kind", "control", "label", panelControl, "by", "mark", "trials", "2", "mark", "2")
	id := p.drafted()
	f := planForm(p.room(id).State().Plan).values
	at := "/s/" + string(id)
	f.Set("control", "on")
	f.Set("control.words", panelControl)
	f.Set("control.percent", "90")
	f.Set("control.dPrime", "0")
	f.Set("processed", f.Get("untreated"))
	f.Set("eligible", "Panel")
	f.Set("seats", "3")
	f.Set("pin", "4711")
	f.Set("pin2", "4711")
	r := p.post(at+"/seal", f)
	p.says(r.body, "0 says nothing; leave it empty where it is not known")
	f.Set("control.dPrime", "1,8")
	f.Set("draft", p.holdsHidden(r.body, "draft"))
	r = p.post(at+"/seal", f)
	p.says(r.body, "obody who is not resting holds the rule “Panel” now")
	p.plays(controls, func(judge, _ int) bool { return judge < 2 })
	p.tieAll()
	for _, judge := range []string{"p-1", "p-2"} {
		p.goes("/judges/"+judge+"/qualify", "rule", "Panel", "held", "yes", "basis-0", "2 of 2", "right-0", "2", "of-0", "2")
	}
	body := p.page(at + "/plan")
	p.says(body, "who holds “Panel”: 2 holders now", "a session of control sets")
	f.Set("draft", p.holdsHidden(body, "draft"))
	if r := p.post(at+"/seal", f); r.status != http.StatusSeeOther {
		t.Fatalf("seal: status %d: %s", r.status, words(r.body))
	}
	s := p.room(id).State()
	if c := s.Plan.Control; c == nil || *c != (session.Control{Words: panelControl, Percent: 90, DPrime: 1.8}) || s.Plan.Eligible != "Panel" {
		t.Errorf("sealed with %+v, %q", s.Plan.Control, s.Plan.Eligible)
	}
	if len(s.Eligible) != 2 || s.Plan.Processed.ID != s.Plan.Untreated.ID {
		t.Errorf("listed %v; lots %v", s.Eligible, s.Plan.Processed)
	}
	body = p.page(at + "/plan")
	p.says(body, panelControl+", 90 % strong, d′ 1.8", "who holds the rule “Panel”")
	q := planForm(s.Plan)
	if back := readPlan(q, p.rooms.Lab().State()); *back.Control != *s.Plan.Control || back.Eligible != "Panel" || q.Bad() {
		t.Errorf("the form gives back %+v, %v", back.Control, q.Faults)
	}
}

// holdsHidden is what a hidden field of a form holds.
func (d *desk) holdsHidden(body, name string) string {
	d.t.Helper()
	_, rest, ok := strings.Cut(body, `<input type="hidden" name="`+name+`" value="`)
	if !ok {
		d.t.Fatalf("no hidden field %s", name)
	}
	value, _, _ := strings.Cut(rest, `"`)
	return value
}
