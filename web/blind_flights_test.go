package web

import (
	"fmt"
	"net/url"

	"github.com/gorilla/websocket"

	"oddcup/session"
)

// usual reports whether play knows how to play a plan: four seats at one time,
// two triangles, then a pair.
func usual(p session.Plan) bool {
	return len(p.Flights) == 0 && p.Seats == 4 && p.SetsPerSeat() == 3 && p.Tests[0].Method == session.Triangle.Key
}

// blindFlights are plans with the other methods, goals and ways to serve. The
// lines of the sequential one lie so far apart that no count of so few answers
// can reach them: every look says go on, whatever the key.
func blindFlights() map[string]session.Plan {
	difference := func(method string) session.TestPlan {
		return session.TestPlan{Method: method, Goal: session.GoalDifference, Sets: 1, Alpha: 0.05, Pd: 0.4, Power: 0.8}
	}
	body := func(method string) session.TestPlan {
		t := difference(method)
		t.Attribute, t.Definition, t.More = "body", "Body: how full the coffee feels in the mouth.", true
		return t
	}
	similar := func(t session.TestPlan, goal string) session.TestPlan {
		t.Goal, t.Beta, t.PdLimit = goal, 0.1, 0.4
		if goal == session.GoalSimilarity {
			t.Alpha, t.Pd = 0, 0
		}
		t.TwoSided = t.Method == session.PairedComparison.Key
		return t
	}
	plan := func(flights []int, tests ...session.TestPlan) session.Plan {
		p := testPlan(0, 1)
		p.Tests, p.Seats, p.Flights = tests, 0, flights
		for _, n := range flights {
			p.Seats += n
		}
		return p
	}
	constant := difference(session.DuoTrio.Key)
	constant.Reference = session.ReferenceConstant
	blank := difference(session.Triangle.Key)
	blank.Blank = session.BlankProcessed
	sequential := difference(session.DuoTrio.Key)
	sequential.Sequential, sequential.Sets, sequential.Alpha, sequential.Beta = true, 2, 0.0001, 0.0001
	return map[string]session.Plan{
		"duo-trio with the untreated lot as reference, then 3-AFC": plan([]int{4}, constant, body(session.ThreeAFC.Key)),
		"tetrad, a blank test and a pair, two flights": plan([]int{3, 3}, similar(difference(session.Tetrad.Key), session.GoalBoth),
			blank, similar(body(session.PairedComparison.Key), session.GoalSimilarity)),
		"a sequential duo-trio, three flights": plan([]int{3, 3, 3}, sequential),
	}
}

// playFlights goes through a session of several flights by the console's own
// forms. In each flight somebody has no phone, if there are enough, one seat comes too late, one spills a cup of its first
// set and gets it again, and one leaves before the last set, if there are
// several.
func (r *recorder) playFlights() {
	s := "/s/" + string(r.room.State().ID)
	p := r.room.State().Plan
	sizes := p.FlightSizes()
	first := 1
	for flight, n := range sizes {
		at := func(what string) string { return fmt.Sprintf("flight %d, %s", flight+1, what) }
		if flight > 0 {
			r.look(at("next"))
			r.post(s+"/lobby", nil)
		}
		late := first + n - 1
		hand := late - 1
		if flight > 0 {
			hand = first
		}
		for seat := first; seat < late; seat++ {
			if seat == hand && (flight > 0 || n > 3) {
				r.byHand(seat)
			} else {
				r.phone(seat)
			}
		}
		r.look(at("seated"))
		r.post(s+"/freeze", nil)
		r.late(late)
		r.look(at("list closed"))
		r.post(s+"/open", nil)
		for set := 1; set <= p.SetsPerSeat(); set++ {
			if r.room.State().LookDue() {
				r.post(s+"/serve", url.Values{"round": {fmt.Sprint(set)}}) // the look alone
				r.look(at(fmt.Sprintf("look before set %d", set)))
			}
			r.post(s+"/serve", url.Values{"round": {fmt.Sprint(set)}})
			r.playSet(first, late, set, at(fmt.Sprintf("set %d", set)))
		}
		if flight < len(sizes)-1 {
			r.post(s+"/flight/end", url.Values{"flight": {fmt.Sprint(flight + 1)}})
		}
		first += n
	}
	r.look("all in")
	r.post(s+"/close", nil)
	r.look("closed")
	r.afterClose(2)
	r.post(s+"/reveal", nil)
	if got := r.room.State(); got.Phase != session.PhaseRevealed || got.Stopped {
		r.t.Fatalf("the play ended in phase %s, stopped %v: it went another way than it was to go", got.Phase, got.Stopped)
	}
}

// playSet has one set answered by the seats from first to below late.
func (r *recorder) playSet(first, late, set int, name string) {
	s := "/s/" + string(r.room.State().ID)
	spills, sets := first+1, r.room.State().Plan.SetsPerSeat()
	if !r.room.State().Seats[first-1].ByHand() {
		r.frames(first, "", `{"t":"tray","set":%d,"take":0,"code":%d}`, set, r.room.State().Codes(first, set, 0)[0])
	}
	take := 0
	if set == 1 && spills < late {
		r.frames(spills, `"calling":true`, `{"t":"call","why":"spill"}`)
		r.look(name + ", spilled")
		r.post(s+"/void", url.Values{"seat": {fmt.Sprint(spills)}, "set": {"1"}, "take": {"0"}, "reason": {"spilled"}, "replace": {"1"}})
		take = 1
	}
	if set == sets && set > 1 && late-first > 2 {
		r.post(s+fmt.Sprintf("/seats/%d/leave", late-1), url.Values{"reason": {"had to go"}})
	}
	for seat := first; seat < late; seat++ {
		if !r.room.State().Seats[seat-1].Taken() {
			continue
		}
		t := 0
		if seat == spills {
			t = take
		}
		r.lock(seat, set, t)
	}
	r.look(name)
}

// late is a phone that comes after the list was closed.
func (r *recorder) late(seat int) {
	ws := r.dial()
	token := fmt.Sprintf("%030d%02d", 999, seat)
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"hello","v":1,"door":%q,"token":%q}`, r.room.State().PlaceDoor(seat), token))
	r.record("late hello", read(r.t, ws))
	ws.WriteMessage(websocket.TextMessage, fmt.Appendf(nil, `{"t":"sit","id":"%032d","name":"Taster"}`, 900+seat))
	r.record("late sits", read(r.t, ws))
	r.point++
	ws.Close()
}
