package console

import (
	"fmt"
	"html"
	"net/http"
	"strings"
	"testing"

	"oddcup/session"
)

// benchPlan states every condition and has a gate.
func benchPlan(seats int) session.Plan {
	p := tablePlan(seats)
	p.Serving.Gate, p.Serving.Allergens = true, "crackers (wheat)"
	p.Conditions = session.Conditions{
		Light: "red lamps", Partitions: "booths", Masking: "dark cups", Vessels: "white bowls, 150 ml", Lids: true, DiscardMin: 15,
		Roast: "both to one ground colour", Water: "filtered <soft>", HoldMin: 40, HoldLowC: 70, HoldHighC: 80,
		WarmUp: "a third lot", Cleanser: "water and bread", Retaste: session.RetasteNot,
	}
	return p
}

// frozen is a table of so many people whose list is closed.
func frozen(t *testing.T, plan session.Plan, people int) *table {
	t.Helper()
	b := newTable(t, plan, nil, true)
	b.do(session.OpenLobby{})
	b.sit(upTo(people)...)
	b.do(session.FreezeList{})
	return b
}

func TestBenchIsEmptyAtFirst(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	body := b.page("bench")
	b.wants(body, "Nothing is confirmed yet: 6 things to look at.", "not confirmed yet", "33 cups are found and washed", "served at 55 to 65 °C",
		"No allergen stands near the cups", "The plan says little", "Nothing noted so far.", "Leads the panel", "Go to the lobby")
	if n := strings.Count(body, "button-primary"); n != 1 {
		t.Errorf("%d primary acts", n)
	}
	for _, never := range []string{"Single blind", "It holds now", "hold again"} {
		if strings.Contains(body, never) {
			t.Errorf("the page says %q", never)
		}
	}
	b.wants(b.home(), "Bench: 0 of 6 confirmed")
	b.wants(b.page("lobby"), "Bench: 0 of 6 confirmed")
}

func TestBenchBeforeTheSeal(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := string(d.drafted())
	body := d.page("/s/" + id + "/bench")
	d.says(body, "The plan is not sealed yet.", "Keep the names")
	if strings.Contains(body, "bench-check") || strings.Contains(body, "deviation-ask") {
		t.Error("something can be confirmed or noted before the seal")
	}
	d.goes("/s/"+id+"/roles", "role-roaster", "Pia")
	d.says(d.page("/s/"+id+"/bench"), `value="Pia"`)
}

func TestConfirmingAllOfThePlan(t *testing.T) {
	b := frozen(t, benchPlan(6), 3)
	body := b.page("bench")
	b.wants(body, "The light is as planned: red lamps.", "white bowls, 150 ml", "filtered <soft>", "for 40 min at most, at 70 to 80 °C", "no cup is tasted again",
		"a cup’s temperature is measured", "crackers (wheat)")
	checks := session.Checks(b.room.State().Plan)
	b.wants(b.page("lobby"), fmt.Sprintf("Start with %d not confirmed", len(checks)), "Go through the bench first")
	for i, c := range checks {
		b.press("confirm", "bench#check-"+c.Key, "check", c.Key, "held", "1")
		if i == 6 {
			b.wants(b.page("bench"), fmt.Sprintf("7 of %d confirmed.", len(checks)))
			b.wants(b.home(), fmt.Sprintf("Bench: 7 of %d confirmed", len(checks)))
		}
	}
	body = b.page("bench")
	b.wants(body, fmt.Sprintf("All %d are confirmed.", len(checks)))
	if n := strings.Count(body, "button-primary"); n != 1 || !strings.Contains(body, `button-primary" href="`+b.path("lobby")) {
		t.Errorf("%d primary acts; want the way to the lobby", n)
	}
	lobby := b.page("lobby")
	b.wants(lobby, "Start the tasting")
	if strings.Contains(lobby, "Go through the bench first") {
		t.Error("the lobby sends to a bench that is done")
	}
	b.press("open", "board")
	b.wants(b.page("bench"), "All was looked at before the tasting began.", "People taste now.")
	b.wants(b.page("trail"), "Confirmed: light.")
}

func TestWhatDoesNotHold(t *testing.T) {
	b := frozen(t, benchPlan(6), 3)
	seq := b.seq()
	for _, note := range []string{" ", strings.Repeat("é", 201)} {
		status, body, _ := b.post("confirm", "check", "lids", "held", "0", "note-lids", note)
		if status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("a note of %d letters: status %d", len(note), status)
		}
		b.wants(body, "That was not kept.", "Say in 1 to 200 characters what was not as planned.", `id="note-lids-more" open`, `value="`+note+`"`, `href="#note-lids"`)
	}
	for name, form := range map[string][]string{
		"nothing": nil, "an unknown check": {"check", "saucers", "held", "1"}, "an unknown check with a note": {"check", "saucers", "note-saucers", "x"},
	} {
		if status, body, _ := b.post("confirm", form...); status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("%s: status %d: %s", name, status, heading(body))
		}
	}
	b.press("confirm", "bench#check-lids", "check", "lids", "held", "0", "note-lids", "two lids <broke>")
	b.wants(b.page("bench"), "0 of 17 confirmed, 1 not as planned, 16 not confirmed.", "two lids <broke>", "It holds now",
		"One of the bench’s checks is not as planned and stands above. Nothing else is noted so far.")
	b.saysNot(b.page("bench"), "Nothing noted so far.")
	b.wants(b.page("lobby"), "Start with 16 not confirmed, 1 not as planned")
	b.press("open", "board")
	b.wants(b.page("board"), "Lids: two lids <broke>.")
	body := b.page("bench")
	b.wants(body, "Not confirmed when the tasting began: light, partitions,")
	if strings.Contains(html.UnescapeString(body), "lids, ") {
		t.Error("what was found not to hold is told as not looked at")
	}
	b.press("confirm", "bench#check-light", "check", "light", "held", "0", "note-light", "one white lamp.")
	b.wants(b.page("bench"), "Light: one white lamp.")
	b.press("deviations", "bench#deviations", "from", "bench", "deviation", "rain on the roof")
	if status, body, _ := b.post("deviations", "from", "bench", "deviation", ""); status != http.StatusUnprocessableEntity || heading(body) != heading(b.page("bench")) {
		t.Errorf("a refused deviation: status %d on “%s”", status, heading(body))
	}
	b.do(session.Close{})
	body = b.page("bench")
	b.wants(body, "The tasting is over.", "rain on the roof", "not recorded")
	for _, form := range []string{"/confirm", "/roles"} {
		if strings.Contains(body, `action="`+b.path(form[1:])) {
			t.Errorf("the form %s is still there after the close", form)
		}
	}
	if status, _, _ := b.post("confirm", "check", "cups", "held", "1"); status != http.StatusConflict {
		t.Errorf("confirming after the close: status %d", status)
	}
}

func TestNamesOfRoles(t *testing.T) {
	b := frozen(t, tablePlan(6), 3)
	b.press("roles", "bench#roles", "role-host", "Ena Kol", "role-pourer", "Pia", "role-runner", " ", "role-preparer", "")
	s := b.room.State()
	if len(s.Roles) != 2 || s.Roles[session.RolePourer].Words != "Pia" {
		t.Fatalf("roles %v", s.Roles)
	}
	seq := b.seq()
	b.press("roles", "bench#roles", "role-host", "Ena Kol", "role-pourer", "Pia")
	if b.seq() != seq {
		t.Error("the same names were journalled again")
	}
	status, body, _ := b.post("roles", "role-host", "", "role-pourer", "TASTER 2", "role-runner", "Jun <J>", "role-trainer", strings.Repeat("x", 41))
	if status != http.StatusUnprocessableEntity || b.seq() != seq {
		t.Errorf("status %d, %d entries more", status, b.seq()-seq)
	}
	b.wants(body, "The names were not kept.", "Ena Kol is written down here; a name can be replaced, and not taken back.",
		"Somebody who tastes has this name (TASTER 2)", "A name has 1 to 40 characters.", `value="TASTER 2"`, `value="Jun <J>"`, `id="role-pourer-fault"`)
	b.press("roles", "bench#roles", "role-pourer", "ena  KOL")
	b.wants(b.page("bench"), "Single blind.", "The host also poured.")
	b.press("open", "board")
	b.wants(b.page("board"), "Single blind.", "The host also poured.")
	b.wants(b.page("trail"), "Named as who poured: Pia.", "Named as who poured: ena  KOL.")
	b.press("serve", "board", "round", "1")
	for _, n := range upTo(3) {
		b.lock(n, 1, 0, 0)
	}
	b.do(session.Close{})
	b.press("reveal", "result")
	b.wants(b.page("result"), "Single blind: the host also poured.")
}

// A name that pours takes no seat, by hand or by phone.
func TestWhoPoursIsNotSeated(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.press("roles", "bench#roles", "role-pourer", "Zoë")
	status, body, _ := b.post("byhand", "byhand-seat", "0", "byhand-name", "zoe")
	if status != http.StatusUnprocessableEntity || len(b.room.State().Occupied()) != 0 {
		t.Fatalf("status %d, seats %v", status, b.room.State().Occupied())
	}
	b.wants(body, "Nobody was seated.", "down for pouring", `value="zoe"`)
}

func TestServingThroughTheGate(t *testing.T) {
	b := frozen(t, benchPlan(6), 3)
	b.press("open", "board")
	b.wants(b.page("board"), "Temperature of one cup of set 1, °C", "Served at 55 to 65 °C. Above 75 °C it scalds.")
	seq := b.seq()
	refused := func(words string, pairs ...string) string {
		t.Helper()
		status, body, _ := b.post("serve", append([]string{"round", "1"}, pairs...)...)
		if status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("%v: status %d, %d entries more", pairs, status, b.seq()-seq)
		}
		b.wants(body, "Set 1 was not served.", words)
		for i := 0; i < len(pairs); i += 2 {
			b.wants(body, `value="`+pairs[i+1]+`"`)
		}
		return body
	}
	if body := refused("Measure one cup of the set"); !strings.Contains(body, "serve-reason") || strings.Contains(body, "wait, or brew anew") {
		t.Error("a broken thermometer would end the session")
	}
	refused("“warm” is not a number", "cup-temperature", "warm")
	refused("0 °C is not measured in coffee", "cup-temperature", "0")
	refused("−3 °C is no temperature of a cup of coffee", "cup-temperature", "-3", "serve-reason", "no time")
	refused("76.5 °C scalds", "cup-temperature", "76,5", "serve-reason", "no time")
	b.wants(refused("51.5 °C is outside 55 to 65 °C", "cup-temperature", "51,5"), "Why is it served all the same?")
	refused("Give the reason in 1 to 200 characters.", "cup-temperature", "51", "serve-reason", strings.Repeat("x", 201))
	b.press("serve", "board", "round", "1", "cup-temperature", "51,5", "serve-reason", "the heater failed")
	b.wants(b.page("board"), "Set 1 was served at 51.5 °C, outside 55 to 65 °C: the heater failed.")
	b.wants(b.page("trail"), "Set 1 served, a cup at 51.5 °C.", "Not as planned: set 1 was served at 51.5 °C, outside 55 to 65 °C: the heater failed.")
	for _, n := range upTo(3) {
		b.lock(n, 1, 0, 0)
	}
	b.press("serve", "board", "round", "2", "cup-temperature", "61")
	if n := len(b.room.State().Deviations); n != 1 {
		t.Errorf("%d deviations", n)
	}
}

// What could not be measured is not called outside the temperature.
func TestServingUnmeasured(t *testing.T) {
	b := frozen(t, benchPlan(6), 3)
	b.press("open", "board")
	b.press("serve", "board", "round", "1", "serve-reason", "the thermometer broke")
	b.wants(b.page("trail"), "Set 1 served.", "Not as planned: set 1 was served and no cup’s temperature was measured: the thermometer broke.")
	if body := b.page("trail"); strings.Contains(body, "outside") {
		t.Error("what was not measured is said to be outside")
	}
}

// A replacement is served once a cup of it is measured, as its set was.
func TestReplacementThroughTheGate(t *testing.T) {
	b := frozen(t, benchPlan(6), 3)
	b.press("open", "board")
	b.press("serve", "board", "round", "1", "cup-temperature", "60")
	b.press("void", "board", "seat", "2", "set", "1", "take", "0", "reason", "spilled", "replace", "1")
	body := b.page("board")
	b.wants(body, `action="/s/`+string(b.room.State().ID)+`/serve/again"`, "Temperature of one cup for seat 2, °C", "Serve it to seat 2")
	b.wants(body, "Set 2 can be served when the rest have locked", "Serve set 2 to all while seats 1 to 3 have not locked set 1?", "Temperature of one cup of set 2, °C")
	b.saysNot(body, "opens for all", "Temperature of one cup, °C", "Temperature of one cup of it, °C")
	if next := body[strings.Index(body, `id="board-next"`):strings.Index(body, `id="board-again"`)]; strings.Index(next, `id="next-before"`) > strings.Index(next, `id="cup-temperature"`) {
		t.Error("the temperature of set 2 can be typed without a confirmation")
	}
	seq := b.seq()
	refused := func(words string, pairs ...string) {
		t.Helper()
		status, body, _ := b.post("serve/again", append([]string{"seat", "2", "set", "1", "take", "1"}, pairs...)...)
		if status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("%v: status %d, %d entries more", pairs, status, b.seq()-seq)
		}
		b.wants(body, "The replacement for seat 2, set 1 was not served.", words)
		for i := 0; i < len(pairs); i += 2 {
			b.wants(body, `value="`+pairs[i+1]+`"`)
		}
	}
	refused("Measure one cup of the set")
	refused("“warm” is not a number", "cup-temperature-2-1", "warm")
	refused("51.5 °C is outside 55 to 65 °C", "cup-temperature-2-1", "51,5")
	refused("80 °C scalds", "cup-temperature-2-1", "80", "serve-reason-2-1", "no time")
	b.wants(b.page("seats/2/ballot"), "Its set 1 is poured again, and waits for a cup’s temperature.")
	b.press("serve/again", "board", "seat", "2", "set", "1", "take", "1", "cup-temperature-2-1", "51,5", "serve-reason-2-1", "the kettle was slow")
	b.wants(b.page("trail"), "Replacement for seat 2, set 1 served, a cup at 51.5 °C, outside the serving temperature: the kettle was slow.")
	b.wants(b.page("board"), "Seat 2, set 1, poured again, was served at 51.5 °C, outside 55 to 65 °C: the kettle was slow.")
	b.wants(b.page("board"), "Served at "+clock(b.at)+", and not answered yet.")
	if _, take, ok := b.room.State().Seats[1].Front(); !ok || take != 1 {
		t.Error("the replacement is not in front of its seat")
	}
}

// Without a gate the temperature is asked for aside, and may be left out.
func TestServingWithoutAGate(t *testing.T) {
	b := frozen(t, tablePlan(6), 3)
	b.press("open", "board")
	b.wants(b.page("board"), "A cup’s temperature, if measured")
	if status, body, _ := b.post("serve", "round", "1", "cup-temperature", "80"); status != http.StatusUnprocessableEntity || !strings.Contains(body, `id="cup-more" open`) {
		t.Errorf("80 °C: status %d", status)
	}
	b.press("serve", "board", "round", "1", "cup-temperature", "50")
	if s := b.room.State(); s.Temperatures[0] != 50 || len(s.Deviations) != 0 {
		t.Errorf("temperatures %v, deviations %v", s.Temperatures, s.Deviations)
	}
}

// Each flight is confirmed anew; what held before can be said at once.
func TestBenchOfALaterFlight(t *testing.T) {
	p := tablePlan(8)
	p.Flights = []int{4, 4}
	b := newTable(t, p, nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.press("confirm", "bench#check-cups", "check", "cups", "held", "1")
	b.press("confirm", "bench#check-hot", "check", "hot", "held", "1")
	b.press("confirm", "bench#check-alike", "check", "alike", "held", "0", "note-alike", "two kinds")
	b.do(session.FreezeList{})
	b.wants(b.page("lobby"), "Start flight 1 with 3 not confirmed, 1 not as planned")
	b.press("open", "board")
	b.do(session.EndFlight{})
	body := b.page("bench")
	b.wants(body, "Nothing is confirmed yet: 6 things", "2 of these held in flight 1.", "Flight 1. Not confirmed when the tasting began:")
	b.press("confirm/again", "bench#checks")
	b.wants(b.page("bench"), "2 of 6 confirmed.")
	seq := b.seq()
	b.press("confirm/again", "bench#checks")
	if b.seq() != seq {
		t.Error("confirmed again twice")
	}
	if strings.Contains(b.page("bench"), "held in flight 1") {
		t.Error("it is offered again")
	}
}

// A refused plan keeps its conditions as typed, unfolded where one is wrong.
func TestConditionsOfThePlanForm(t *testing.T) {
	d := newDesk(t)
	d.lots()
	id := string(d.drafted())
	body := d.page("/s/" + id + "/plan")
	d.says(body, "Conditions: room, cups, coffee, people (2 stated)", "Water at room temperature")
	if strings.Contains(body, `id="conditions" open`) {
		t.Error("the conditions stand unfolded")
	}
	f := d.fieldsOf(body)
	for name, typed := range map[string]string{
		"serving.gate": "on", "conditions.light": "red lamps", "conditions.lids": "on", "conditions.discardMin": "15", "conditions.roast": "one colour",
		"conditions.holdMin": "40", "conditions.holdLowC": "70", "conditions.holdHighC": "80,5", "conditions.retaste": "not allowed", "conditions.cleanser": "",
	} {
		f.Set(name, typed)
	}
	if r := d.post("/s/"+id+"/plan", f); r.status != http.StatusSeeOther {
		t.Fatalf("status %d", r.status)
	}
	want := session.Conditions{Light: "red lamps", Lids: true, DiscardMin: 15, Roast: "one colour", HoldMin: 40, HoldLowC: 70, HoldHighC: 80.5, Retaste: session.RetasteNot}
	if s := d.room(session.ID(id)).State(); s.Plan.Conditions != want || !s.Plan.Serving.Gate {
		t.Errorf("gate %v, %+v", s.Plan.Serving.Gate, s.Plan.Conditions)
	}
	if got := readPlan(planForm(session.Plan{Conditions: want}), d.rooms.Lab().State()).Conditions; got != want {
		t.Errorf("the form gives back %+v", got)
	}
	f = d.fieldsOf(d.page("/s/" + id + "/plan"))
	for name, typed := range map[string]string{"conditions.holdMin": "half an hour", "conditions.discardMin": "0", "conditions.holdLowC": "0", "conditions.light": "lamp"} {
		f.Set(name, typed)
	}
	r := d.post("/s/"+id+"/plan", f)
	if r.status != http.StatusUnprocessableEntity {
		t.Errorf("status %d", r.status)
	}
	d.says(r.body, "“half an hour” is not a whole number", "thrown away after: 0 says nothing; leave it empty", "held from: 0 says nothing", `value="half an hour"`, `id="conditions" open`, "lamp</textarea>")
}
