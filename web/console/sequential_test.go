package console

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"oddcup/session"
)

// sequentialPlan is a duo-trio test of twelve that may stop after each of four
// rounds, between p 0.5 and 0.7.
func sequentialPlan() session.Plan {
	p := tablePlan(12)
	p.Tests = []session.TestPlan{{
		Method: session.DuoTrio.Key, Goal: session.GoalDifference, Sets: 4, Alpha: 0.05, Beta: 0.1, Pd: 0.4, Power: 0.8, Sequential: true,
	}}
	return p
}

// round serves a set and has so many of the twelve right.
func (b *table) round(set, right int) {
	b.t.Helper()
	if b.room.State().LookDue() {
		b.press("serve", "board", "round", num(float64(set))) // the look alone
	}
	if b.room.State().Stopped {
		return
	}
	b.press("serve", "board", "round", num(float64(set)))
	for seat := 1; seat <= 12; seat++ {
		b.answer(seat, set, seat <= right)
	}
}

// After 12 answers the lines stand at 4.58 and 10.65, after 24 at 11.81 and
// 17.88, after 36 at 19.05 and 25.12 (by hand, from Wald's formulas: slope
// ln(5/3)/ln(7/3), intercepts ln(0.1/0.95) and ln(0.9/0.05) over ln(7/3)).
func TestHostHearsGoOnAndStopOnly(t *testing.T) {
	b := start(t, sequentialPlan())
	b.come()
	b.do(session.OpenPourSheet{Pin: "4711"})
	b.press("serve", "board", "round", "1")
	for seat := 1; seat <= 11; seat++ {
		b.answer(seat, 1, seat <= 8)
	}
	body := b.page("board")
	b.wants(body, "looks at whole rounds only", "1 away")
	b.saysNot(body, `id="next-serve"`, "The registered rule says")
	status, body, _ := b.post("serve", "round", "2")
	if status != http.StatusConflict {
		t.Errorf("served before the round was whole: status %d", status)
	}
	b.wants(body, "Not every seat has answered this set")
	b.answer(12, 1, false)
	b.wants(b.page("board"), "Take the look", "You hear go on or stop, and nothing else.")
	b.round(2, 9) // 17 of 24
	b.wants(b.page("board"), "Take the look")
	b.press("serve", "board", "round", "3")
	body = b.page("board")
	b.wants(body, "The registered rule says go on.")
	b.saysNot(body, "17 of", "correct", "says stop", "Take the look")
	b.wants(body, "Serve set 3")
	b.press("serve", "board", "round", "3")
	for seat := 1; seat <= 12; seat++ {
		b.answer(seat, 3, seat <= 9) // 26 of 36
	}
	b.press("serve", "board", "round", "4")
	if !b.room.State().Stopped || len(b.room.State().Rounds) != 3 {
		t.Fatalf("26 of 36 lies above the upper line, and the table goes on")
	}
	body = b.page("board")
	b.wants(body, "The registered rule says stop: close the session.", "Close the session")
	b.saysNot(body, `id="next-serve"`, `id="next-pause"`, "different", "upper line", "of seats")
	b.wants(b.home(), "The registered rule says stop: close the session.", "Go to the board")
	b.wants(b.page("trail"), "Look after set 2: the registered rule says go on.", "Look after set 3: the registered rule says stop.")
	b.saysNot(b.page("trail"), "go on..", "stop..")
	status, body, _ = b.post("serve", "round", "4")
	if status != http.StatusConflict {
		t.Errorf("served after the stop: status %d", status)
	}
	b.wants(body, "The registered rule has said stop")

	res := b.revealed()
	x := res.Tests[0]
	body = b.page("result")
	b.wants(body, x.Verdict(), "so the count has no p-value", "Looks, each after a whole round", "stop: different", "36, of up to 48",
		"4.6", "10.6", "11.8", "17.9", "19.0", "25.1", "26 of 36", "exact risk of “different”", "plot-lines", "pd, with 90 % interval, exploratory")
	b.saysNot(body, "plot-null", "minimum correct")
	if n := strings.Count(body, "<td>go on</td>"); n != 2 {
		t.Errorf("%d looks say go on, want 2", n)
	}
	var w wireResult
	_, body = b.get("result.json")
	if err := json.Unmarshal([]byte(body), &w); err != nil {
		t.Fatal(err)
	}
	g := w.Tests[0]
	if !g.Sequential || g.P != nil || g.MinCorrect != nil || g.Similarity != nil || *g.Beta != 0.1 || len(g.Looks) != 3 ||
		g.Looks[2] != (wireLook{1, 3, 36, 26, "different"}) || g.Looks[0].Decision != "continue" {
		t.Errorf("result.json: %+v", g)
	}
	b.wants(b.home(), "26 of 36")
}

func TestStopBetweenFlights(t *testing.T) {
	p := sequentialPlan()
	p.Seats, p.Flights, p.Tests[0].Sets = 24, []int{12, 12}, 1
	p.Tests[0].Goal, p.Tests[0].PdLimit = session.GoalDifference, 0
	b := start(t, p)
	b.come()
	b.round(1, 4) // below the lower line at 4.58
	b.wants(b.page("board"), "End this flight, after the look")
	b.press("flight/end", "board", "flight", "1")
	body := b.page("board")
	b.wants(body, "The registered rule says stop: close the session.", "Close the session")
	b.saysNot(body, "Go to the lobby", "seat-13")
	b.wants(b.page("lobby"), "Nobody can come any more.", "Go to the board")
	status, body, _ := b.post("lobby")
	if status != http.StatusConflict {
		t.Errorf("the lobby was opened after the stop: status %d", status)
	}
	b.wants(body, "The registered rule has said stop")
	b.revealed()
	b.wants(b.page("result"), "stop: no difference found", "undecided", "Undecided: after 12 answers")
}
