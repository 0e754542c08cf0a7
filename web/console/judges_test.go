package console

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// panel is a register of judges with sessions behind them, made by the same acts as
// a real one. Judge i is J 0i; all are invented.
type panel struct {
	*desk
	draws *rand.Rand
	from  int // the first judge who comes
}

const panelControl = "brew diluted by a tenth"

func newPanel(t *testing.T, judges int) *panel {
	t.Helper()
	p := &panel{desk: newDesk(t), draws: rand.New(rand.NewPCG(2207, 1))}
	p.lots()
	for i := range judges {
		p.goes("/people", "name", personName(i), "pseudonym", fmt.Sprintf("J %02d", i+1), "status", "trained", "told", "2026-01-05", "ground", "contract")
	}
	return p
}

func personName(i int) string { return fmt.Sprintf("Person %c%c (invented)", 'A'+i/26, 'A'+i%26) }

// plays is a session in which the judges from the first who comes on, 50 at most,
// taste and are right as right says; alter changes the plan.
func (p *panel) plays(alter func(*session.Plan), right func(judge, set int) bool) session.ID {
	p.t.Helper()
	p.at = p.at.Add(24 * time.Hour)
	id := p.drafted()
	plan := p.room(id).State().Plan
	plan.Seats, plan.Tests = min(50, len(p.rooms.Lab().State().People)-p.from), plan.Tests[:1]
	if alter != nil {
		alter(&plan)
	}
	p.do(id, session.Draft{Plan: plan})
	pin, err := session.NewPin("4711", tableChance())
	if err != nil {
		p.t.Fatal(err)
	}
	sealing, err := session.Seal(plan, tableChance())
	if err != nil {
		p.t.Fatal(err)
	}
	p.do(id, session.SetPin{Pin: pin})
	p.do(id, session.SealPlan{Sealing: sealing})
	p.do(id, session.OpenLobby{})
	for i := range plan.Seats {
		p.do(id, session.Sit{Seat: i + 1, Name: p.text(personName(p.from + i)), Token: session.HashToken([]byte{byte(i), byte(i >> 8)})})
	}
	p.do(id, session.FreezeList{})
	p.do(id, session.OpenPourSheet{Pin: "4711"})
	p.do(id, session.Open{Releases: p.rooms.Lab().State().ReleasesOf("lot-1", "lot-2")})
	for set := 1; set <= plan.SetsPerSeat(); set++ {
		p.do(id, session.Serve{Round: set})
		for i := range plan.Seats {
			p.answers(id, sealing, i, set, right(p.from+i, set))
		}
	}
	p.do(id, session.Close{})
	p.goes("/s/" + string(id) + "/reveal")
	return id
}

func (p *panel) answers(id session.ID, sealing session.Sealing, seat, set int, right bool) {
	p.t.Helper()
	dealt := sealing.Layout.Seats[seat][set-1]
	s := p.room(id).State()
	m, _ := session.MethodByKey(s.Plan.Tests[dealt.Test].Method)
	at := m.Counted(dealt.Order)[0]
	if !right {
		at = (at + 1) % m.Cups
	}
	p.do(id, session.Lock{Seat: seat + 1, Set: set, Pick: s.Codes(seat+1, set, 0)[at], PhoneAt: p.at})
}

// controls makes a session one of control sets of known size.
func controls(plan *session.Plan) {
	plan.Title = "Controls"
	plan.Control = &session.Control{Words: panelControl, DPrime: 1.8}
	plan.Tests[0].Sets = 2
}

// tieAll ties every name to who is suggested.
func (p *panel) tieAll() {
	p.t.Helper()
	body := p.page("/people/ties")
	f := url.Values{}
	for _, m := range regexp.MustCompile(`(?s)<select id="(who-[0-9a-f]+)".*?</select>`).FindAllStringSubmatch(body, -1) {
		chosen := regexp.MustCompile(`value="([^"]*)" selected`).FindStringSubmatch(m[0])
		if chosen != nil {
			f.Set(m[1], chosen[1])
		}
	}
	if len(f) == 0 {
		p.t.Fatal("nobody is suggested")
	}
	if r := p.post("/people/ties", f); r.status != http.StatusSeeOther {
		p.t.Fatalf("ties: status %d: %s", r.status, heading(r.body))
	}
}

// judged are the revealed sessions.
func (p *panel) judged() []session.JudgedSession {
	p.t.Helper()
	all, err := p.rooms.Judged(p.t.Context())
	if err != nil {
		p.t.Fatal(err)
	}
	return all
}

// mostly is right in four sets of five, by a fixed seed; judge 2 is right in all.
func (p *panel) mostly(judge, _ int) bool { return judge == 2 || p.draws.Float64() < 0.7 }

// usualPanel has eight judges with six control sessions and two of the lots.
func usualPanel(t *testing.T) *panel {
	p := newPanel(t, 8)
	for i := range 8 {
		if i%4 == 3 {
			p.plays(nil, p.mostly)
		} else {
			p.plays(controls, p.mostly)
		}
	}
	p.tieAll()
	return p
}

// sane holds a page to what every page is: whole, with one heading and no id
// twice, and nothing that a template could not say.
func sane(t *testing.T, name, body string) {
	t.Helper()
	sound(t, name, body)
	for _, never := range []string{"NaN", "+Inf", "−Inf", "%!", "map[", "&lt;nil", "0001"} {
		if strings.Contains(body, never) {
			t.Errorf("%s holds %q: %s", name, never, around(body, never))
		}
	}
	if n := strings.Count(body, "<h1"); n != 1 {
		t.Errorf("%s has %d headings", name, n)
	}
}

func around(s, what string) string {
	i := strings.Index(s, what)
	return s[max(0, i-80):min(len(s), i+80)]
}

func TestJudgesEmpty(t *testing.T) {
	d := newDesk(t)
	for path, says := range map[string]string{
		"/judges":        "Enter the people",
		"/people":        "Nobody is on the register yet.",
		"/people/ties":   "Every name that was typed belongs to somebody.",
		"/judges/rules":  "No rule is written yet. None is built in.",
		"/people/papers": "so no row can be taken",
	} {
		body := d.page(path)
		sane(t, path, body)
		d.says(body, says)
	}
	for _, path := range []string{"/judges/p-1", "/judges/p-1/own", "/people/p-1", "/people/p-1/erase", "/people/p-1/record.json"} {
		if r := d.get(path); r.status != http.StatusNotFound {
			t.Errorf("%s of nobody: status %d", path, r.status)
		} else {
			d.says(r.body, "There is no such person on the register.")
		}
	}
	csv := d.page("/people/records.csv")
	if !strings.HasPrefix(csv, "person,session,") || strings.Count(csv, "\n") != 1 {
		t.Errorf("records of nobody: %q", csv)
	}
}

func TestJudgesUsual(t *testing.T) {
	p := usualPanel(t)
	body := p.page("/judges")
	sane(t, "panel", body)
	p.says(body, "Eight have enough sets to read.", "By estimate, the highest first.", "chance alone", "typical panellist", "adjusted by Holm",
		"More right than a typical panellist", "Each judge is compared with a typical panellist", "A triangle by 8 judges")
	p.says(body, "Signals of a drift", "among each judge’s last 40 sets that count", "Of 8 judges with a chart fewer than 0.1 would stand here by luck", "Who is ready", "That does not show that nobody drifts.", "No rule is written.", "one drawn from this panel at random")
	p.saysNot(body, "Person A", "Too few sets to read")
	if n := strings.Count(body, `class="est-label"`); n != 8 {
		t.Errorf("%d judges are drawn, want 8", n)
	}
	order := func(body string) (all []string) {
		for _, m := range regexp.MustCompile(`est-label"><b><a href="[^"]*">(J \d\d)</a>`).FindAllStringSubmatch(body, -1) {
			all = append(all, m[1])
		}
		return all
	}
	p.says(p.page("/judges?order=judge"), "In the order of the register.")
	byEstimate, byJudge := order(body), order(p.page("/judges?order=judge"))
	if byEstimate[0] != "J 03" || !slices.IsSorted(byJudge) || slices.Equal(byEstimate, byJudge) {
		t.Errorf("by estimate %v, by judge %v", byEstimate, byJudge)
	}
	judge := p.page("/judges/p-3")
	sane(t, "judge", judge)
	p.says(judge, "right of 12 sets", "By method and difficulty", "No series was begun.", "No rule is written.", "counts?", "Counts: a control of known size.", panelControl)
	p.saysNot(judge, "Person A")
	own := p.page("/judges/p-3/own")
	sane(t, "own", own)
	p.says(own, "You were right in", "Guessing alone is right once in three", "What you can ask for", "contract", "8 seats in sessions")
	for _, other := range []string{"J 01", "J 02", "J 04", "Person"} {
		p.saysNot(own, other)
	}
}

// Who has five of five stands apart below those whose records can be read, a judge who
// guesses is named with the signals of the chart, and rules with who holds them.
func TestJudgesDriftingReadyAndFew(t *testing.T) {
	p := newPanel(t, 7)
	able := func(judge, _ int) bool { return judge != 0 && p.draws.Float64() < 0.75 }
	for range 7 {
		p.plays(func(plan *session.Plan) { controls(plan); plan.Seats = 5 }, able)
	}
	p.from = 5
	p.plays(func(plan *session.Plan) { controls(plan); plan.Tests[0].Sets = 5 }, func(int, int) bool { return true })
	p.tieAll()
	p.goes("/judges/rules", "name", "Waiting", "method", "triangle", "kind", "control", "label", panelControl, "by", "mark", "trials", "8", "mark", "6", "validMonths", "12")
	body := p.page("/judges")
	sane(t, "panel", body)
	p.says(body, "Too few sets to read", "Nobody holds it now.", "5 right of 5 so far, 1 more right of the last 3 reach the mark", `<a href="/judges/p-1#drift"><b>J 01</b></a>: `, "Since the signal", "judges with a chart fewer than 0.1 would stand here by luck")
	above, below, ok := strings.Cut(body, ">Too few sets to read<")
	if !ok || strings.Count(above, `class="est-label"`) != 5 || !strings.Contains(below, `est-label"><b><a href="/judges/p-6"`) {
		t.Errorf("J 06 with five of five does not stand below the others")
	}
	if by := p.page("/judges?order=judge"); strings.Contains(by, ">Too few sets to read<") || strings.Count(by, `class="est-label"`) != 7 {
		t.Error("in the order of the register nobody stands apart")
	}
	judge := p.page("/judges/p-6")
	sane(t, "judge", judge)
	p.says(judge, "exact limit", "A typical panellist, going by the sets so far, reaches it in", `id="qualified"`)
	p.says(p.page("/judges/p-1"), `id="drift"`, "no recovery", "how much judges differ is told by their answers")
}

// A panel of two hundred draws a row for each, and repeats its axis.
func TestJudgesMany(t *testing.T) {
	p := newPanel(t, 200)
	for p.from = 0; p.from < 200; p.from += 50 {
		p.plays(controls, p.mostly)
	}
	p.tieMany(200)
	body := p.page("/judges")
	sane(t, "panel of 200", body)
	if n := strings.Count(body, `class="est-label"`); n != 200 {
		t.Errorf("%d judges are drawn", n)
	}
	if n := strings.Count(body, `class="est-row est-head"`); n != 10 {
		t.Errorf("%d heads over 200 rows, want one every 20", n)
	}
	if n := strings.Count(p.page("/people"), `href="/judges/p-`); n != 200 {
		t.Errorf("the register lists %d", n)
	}
}

// tieMany ties page after page.
func (p *panel) tieMany(names int) {
	p.t.Helper()
	for range names {
		if strings.Contains(p.page("/people/ties"), "Every name that was typed") {
			return
		}
		p.tieAll()
	}
	p.t.Fatal("names are left")
}

func TestSeriesBegunFollowedAndEnded(t *testing.T) {
	p := newPanel(t, 4)
	begin := []string{"rule", "", "method", "triangle", "kind", "control", "label", panelControl, "p1", "0.65", "alpha", "0.05", "beta", "0.05"}
	if to := p.goes("/judges/p-1/series", begin...); to != "/judges/p-1#series" {
		t.Errorf("a series leads to %s", to)
	}
	sane(t, "series without a set", p.page("/judges/p-1"))
	r := p.post("/judges/p-1/series", filled(begin...).values)
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("the same series twice: status %d", r.status)
	}
	p.says(r.body, "has a series of these sets that goes on", "Wait until it reaches a line, or give it up with a reason")
	p.saysNot(r.body, "ask the host")
	r = p.post("/judges/p-2/series", filled("method", "triangle", "kind", "control", "label", "like Person", "p1", "0.65", "alpha", "0.05", "beta", "0.05").values)
	p.says(r.body, "holds “person”, a part of a name on the register", `id="label-fault"`)
	r = p.post("/judges/p-1/series", filled("method", "triangle", "kind", "control", "label", "x", "p0", "much", "p1", "0.2", "alpha", "0.05", "beta", "0.05").values)
	p.says(r.body, "“much” is not a number")
	if p.holds(r.body, "p1") != "0.2" {
		t.Error("what was typed is lost")
	}
	for range 3 {
		p.plays(controls, func(judge, _ int) bool { return judge == 0 })
		p.tieAll() // the next session's reveal then finds the line
	}
	body := p.page("/judges/p-1")
	sane(t, "ended series", body)
	p.says(body, "Qualified: the upper line was reached with 5 right of 5 sets", "One series was begun")
	series := p.rooms.Lab().State().Series[0]
	if series.Outcome != session.SeriesUpper || series.Right != 5 || series.Of != 5 {
		t.Errorf("the register has %+v", series)
	}
	seq := p.rooms.Lab().State().Seq
	p.page("/judges/p-1")
	p.page("/judges")
	if now := p.rooms.Lab().State().Seq; now != seq {
		t.Errorf("looking again made entries %d to %d", seq+1, now)
	}
	p.goes("/judges/p-1/series", begin...)
	r = p.post("/judges/p-1/series/s-2", url.Values{"reason-s-2": {" "}})
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("given up without a reason: status %d", r.status)
	}
	p.says(r.body, "Say why the series is given up")
	p.goes("/judges/p-1/series/s-2", "reason-s-2", "wrong control")
	p.says(p.page("/judges/p-1"), "Two series were begun, of which one given up", "wrong control")
}

// The reveal itself ends a series whose line it reaches, where seats are tied
// beforehand.
func TestRevealEndsSeries(t *testing.T) {
	p := newPanel(t, 2)
	p.goes("/judges/p-2/series", "method", "triangle", "kind", "routine", "p1", "0.95", "alpha", "0.4", "beta", "0.4")
	p.plays(func(*session.Plan) {}, func(int, int) bool { return true })
	if s := p.rooms.Lab().State().Series[0]; s.Outcome != "" {
		t.Fatalf("a seat tied to nobody ended the series: %+v", s)
	}
	p.tieAll()
	p.plays(nil, func(int, int) bool { return true }) // its reveal finds what the first session had
	if s := p.rooms.Lab().State().Series[0]; s.Outcome != session.SeriesUpper || s.Of != 1 {
		t.Errorf("after the reveal: %+v", s)
	}
}

func TestQualifyByARule(t *testing.T) {
	p := usualPanel(t)
	rule := []string{"name", "Panel", "method", "triangle", "kind", "control", "label", panelControl, "by", "mark", "trials", "12", "mark", "8", "validMonths", "1"}
	p.goes("/judges/rules", rule...)
	p.saysNot(p.page("/judges/rules"), "nobody can show it yet")
	p.says(p.post("/judges/rules", filled("name", "Other", "method", "triangle", "kind", "control", "label", "thinner", "by", "mark", "trials", "6", "mark", "5", "act", "try").values).body,
		"nobody can show it yet", "Controls served so, triangle: “"+panelControl+"”.")
	body := p.page("/judges/p-3")
	sane(t, "to be decided", body)
	p.says(body, "The record shows what the rule wants.", "12 right of 12 sets")
	basis := p.holds(body, "basis-0")
	if basis == "" || p.holds(body, "right-0") != "12" {
		t.Errorf("the form holds %q and %s right", basis, p.holds(body, "right-0"))
	}
	decide := func(pairs ...string) reply {
		return p.post("/judges/p-3/qualify", filled(append([]string{"rule", "Panel"}, pairs...)...).values)
	}
	r := decide("held", "yes", "basis-0", basis, "right-0", "5", "of-0", "12")
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("5 of 12 holds: status %d", r.status)
	}
	p.says(r.body, "5 right of 12 sets is not what it wants")
	r = decide("held", "yes", "basis-0", "as Person AC (invented) showed", "right-0", "12", "of-0", "12")
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("a basis with a name: status %d", r.status)
	}
	r = decide("held", "yes", "basis-0", basis, "right-0", "12", "of-0", "12", "day-0", "2031-01-01")
	p.says(r.body, "a day that is still to come")
	r = decide("held", "yes", "basis-0", basis, "right-0", "12", "of-0", "12", "day-0", isoDay(p.at.AddDate(0, 0, 1)))
	p.says(r.body, "a day that is still to come")
	// A decision comes after its sets, and nothing typed is lost.
	last := isoDay(p.rooms.Lab().State().Sets(session.Series{Person: "p-3", SeriesTerms: session.SeriesTerms{Method: "triangle", Kind: session.KindControl, Label: panelControl}}, p.judged())[11].At)
	r = decide("held", "yes", "basis-0", "all of them", "right-0", "12", "of-0", "12", "day-0", "2020-03-04", "against-0", "on")
	if r.status != http.StatusUnprocessableEntity || p.holds(r.body, "basis-0") != "all of them" || p.holds(r.body, "day-0") != "2020-03-04" || !strings.Contains(r.body, `id="day-0-fault"`) {
		t.Errorf("dated before its sets: status %d, %q of %q", r.status, p.holds(r.body, "basis-0"), p.holds(r.body, "day-0"))
	}
	p.says(r.body, "dated 2020-03-04; a decision comes after its sets: write "+last+" or a later day")
	r = decide("held", "yes", "basis-0", "likes the brew", "right-0", "10", "of-0", "12")
	if r.status != http.StatusUnprocessableEntity || len(p.rooms.Lab().State().Qualifications) != 0 {
		t.Errorf("typed counts that the record has not: status %d", r.status)
	}
	p.says(r.body, "it is decided on 10 of 12, and the record has 12 of 12 for this rule", "I decide so")
	if r = decide("held", "yes", "basis-0", basis, "right-0", "12", "of-0", "12"); r.status != http.StatusSeeOther {
		t.Fatalf("status %d: %s", r.status, heading(r.body))
	}
	body = p.page("/judges/p-3")
	sane(t, "qualified", body)
	p.says(body, "runs out on", basis)
	body = p.page("/judges/rules")
	sane(t, "rules", body)
	p.says(body, "One runs out within sixty days.", "J 03", "One person holds it now.")
	p.at = p.at.AddDate(0, 2, 0)
	p.says(p.page("/judges/rules"), "One qualification has run out.", "Nobody holds it now.")
	p.says(p.page("/judges"), "Nobody holds it now.", `<b>J 03</b></a> held it until `, "when it ran out.")
	p.says(p.page("/judges/p-3"), "ran out on")
	if r := p.post("/judges/p-3/qualify", url.Values{"rule": {"None"}}); r.status != http.StatusNotFound {
		t.Errorf("by no rule: status %d", r.status)
	}
}

// A series is ended on its own judge's page alone.
func TestSeriesOfAnotherJudge(t *testing.T) {
	p := newPanel(t, 2)
	p.goes("/judges/p-1/series", "method", "triangle", "kind", "routine", "p1", "0.6", "alpha", "0.05", "beta", "0.05")
	r := p.post("/judges/p-2/series/s-1", url.Values{"reason-s-1": {"moved away"}})
	if s := p.rooms.Lab().State().Series[0]; r.status != http.StatusNotFound || s.Outcome != "" {
		t.Errorf("status %d; the series of the other judge: %q", r.status, s.Outcome)
	}
	p.goes("/judges/p-1/series/s-1", "reason-s-1", "moved away")
}

// Counts from paper feed no rule, and the page says so beside the rule.
func TestPaperBesideARule(t *testing.T) {
	p := newPanel(t, 2)
	p.goes("/judges/rules", "name", "Panel", "method", "triangle", "kind", "control", "label", panelControl, "by", "mark", "trials", "12", "mark", "8")
	p.goes("/people/papers", "table", paperHead+"J 01,2025-03-04,triangle,control,"+panelControl+",1.5,12,9,folder 7\n")
	p.says(p.page("/judges/rules"), "nobody can show it yet")
	p.says(p.page("/judges/p-1"), "No set yet", "From paper: 9 of 12 in such sets. They feed no rule", "the record has 0 sets for this rule")
	p.saysNot(p.page("/judges/p-2"), "From paper: 9")
	// Whoever decides on them all the same is asked whether that is known.
	typed := []string{"rule", "Panel", "held", "yes", "basis-0", "folder 7 and two more", "right-0", "10", "of-0", "12"}
	r := p.post("/judges/p-1/qualify", filled(typed...).values)
	if r.status != http.StatusUnprocessableEntity || len(p.rooms.Lab().State().Qualifications) != 0 {
		t.Errorf("typed counts: status %d", r.status)
	}
	p.goes("/judges/p-1/qualify", append(typed, "against-0", "on")...)
	for _, path := range []string{"/judges/p-1", "/judges/p-1/own"} {
		p.says(p.page(path), "Typed: 10 of 12; the record has 0 sets for this rule", "knew that and decided all the same")
	}
	p.says(p.page("/people/p-1/record.json"), `"against": true`)
	p.says(p.page("/judges"), `<b>J 01</b></a> holds it without end; decided against the record.`)
}
