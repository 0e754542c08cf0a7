package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/web/guard"
)

// What TestBlind plays of sessions in which things go wrong.

// byHand seats somebody without a phone, after a refusal.
func (r *recorder) byHand(seat int) {
	r.t.Helper()
	at := "/s/" + string(r.room.State().ID) + "/byhand"
	r.post(at, url.Values{"byhand-seat": {fmt.Sprint(seat)}, "byhand-name": {" "}})
	r.post(at, url.Values{"byhand-seat": {fmt.Sprint(seat)}, "byhand-name": {"Odo"}})
	if !r.room.State().Seats[seat-1].ByHand() {
		r.t.Fatalf("seat %d does not answer on paper", seat)
	}
}

// atBench names who does what and confirms, with refusals among it.
func (r *recorder) atBench() {
	r.t.Helper()
	s := "/s/" + string(r.room.State().ID)
	r.post(s+"/roles", url.Values{"role-host": {"Ena"}, "role-pourer": {"Taster"}})
	r.post(s+"/roles", url.Values{"role-host": {"Ena"}, "role-pourer": {"ena"}, "role-runner": {""}})
	r.post(s+"/confirm", url.Values{"check": {"cups"}, "held": {"1"}})
	r.post(s+"/confirm", url.Values{"check": {"release"}})
	r.post(s+"/confirm", url.Values{"check": {"release"}, "note-release": {"one on the phone"}})
	r.post(s+"/confirm", url.Values{"check": {"saucers"}, "held": {"1"}})
	r.post(s+"/confirm/again", nil)
	st := r.room.State()
	if _, single := st.SingleBlind(); !single || len(st.Roles) != 2 || len(st.Confirmed) != 2 {
		r.t.Fatalf("roles %v, confirmed %v", st.Roles, st.Confirmed)
	}
}

func methodOf(p session.Plan, set int) session.Method {
	m, _ := session.MethodByKey(p.Tests[p.TestOfSet(set)].Method)
	return m
}

// paper types a ballot in, as lock picks: looked at first, then locked; then
// another one for the same set, which is refused.
func (r *recorder) paper(seat, set, take int) {
	r.t.Helper()
	m := methodOf(r.room.State().Plan, set)
	codes := slices.Sorted(slices.Values(r.room.State().Codes(seat, set, take)[m.References():]))
	at := fmt.Sprintf("/s/%s/seats/%d/ballot", r.room.State().ID, seat)
	ballot := func(step string, codes ...session.Code) {
		form := url.Values{"set": {fmt.Sprint(set)}, "take": {fmt.Sprint(take)}, "guess": {"1"}, "step": {step}}
		for _, c := range codes {
			form.Add("pick", fmt.Sprint(c))
		}
		r.post(at, form)
	}
	ballot("sure")
	ballot("sure", codes[:m.Picks]...)
	ballot("type", codes[:m.Picks]...)
	ballot("lock", codes[:m.Picks]...)
	ballot("lock", codes[1:1+m.Picks]...)
	if a := r.room.State().Seats[seat-1].Sets[set-1].Takes[take].Answer; a == nil || !a.Paper {
		r.t.Fatalf("seat %d, set %d was not typed in: %s", seat, set, r.got[r.key(fmt.Sprintf(": console POST %s", at), 0)])
	}
}

// notBroken notes deviations, and tries to break the seal without a reason or
// without the word.
func (r *recorder) notBroken() {
	r.t.Helper()
	s := "/s/" + string(r.room.State().ID)
	r.post(s+"/deviations", nil)
	r.post(s+"/deviations", url.Values{"deviation": {"a lamp was white"}})
	for _, form := range []url.Values{nil, {"break-reason": {"a look"}}, {"break-word": {"break"}}, {"break-reason": {" "}, "break-word": {"break"}}} {
		r.post(s+"/break", form)
	}
	if s := r.room.State(); s.Broken != nil || len(s.Deviations) != 2 {
		r.t.Fatalf("broken %v, deviations %v", s.Broken, s.Deviations)
	}
}

// afterClose takes a set of a seat out, and last of all breaks the seal: from
// there on pages may tell keys apart.
func (r *recorder) afterClose(seat int) {
	r.t.Helper()
	s := "/s/" + string(r.room.State().ID)
	tray := url.Values{"seat": {fmt.Sprint(seat)}, "set": {"1"}, "take": {"0"}}
	r.post(s+"/amend", tray)
	tray.Set("amend-reason", "poured from one vessel")
	r.post(s+"/amend", tray)
	r.post(s+"/amend", tray) // taken out before
	r.post(s+"/deviations", url.Values{"deviation": {"the second brew was late"}})
	r.post(s+"/deviations", nil)
	r.look("amended")
	r.post(s+"/break", url.Values{"break-reason": {"to look for the mix-up"}, "break-word": {"break"}})
	if r.room.State().Broken == nil {
		r.t.Fatal("the seal holds")
	}
}

// TestBrokenSealOpensTheKey: until the seal is broken no page tells two keys
// apart, which TestBlind shows; afterwards the key's page does, the others bear
// the mark, and phones hear of none of it.
func TestBrokenSealOpensTheKey(t *testing.T) {
	pages := func(seed uint64) map[string]string {
		p := testPlan(4, 2)
		b := newBench(t, p, func(p session.Plan) session.Sealing { return otherKey(t, p, keysOf(seed)) })
		b.console.Config.Handler = b.server.consoleSide.Handler(guard.Names{"127.0.0.1"})
		ws := b.sat(1, 1)
		b.serveFirst()
		until(b, ws, `"step":"set"`)
		r := &recorder{bench: b, got: recording{}, hit: map[string]bool{}}
		s := "/s/" + string(b.room.State().ID)
		r.ask("console", "GET", s+"/key", nil, "sealed")
		r.post(s+"/break", url.Values{"break-reason": {"a mix-up"}, "break-word": {" Break "}})
		got := map[string]string{"sealed": r.got[r.key("sealed: console GET "+s+"/key", -1)]}
		for _, page := range []string{"key", "board", "lobby", "trail", "plan", "print"} {
			r.ask("console", "GET", s+"/"+page, nil, "")
			got[page] = r.got[r.key(": console GET "+s+"/"+page, 0)]
		}
		r.ask("console", "GET", "/", nil, "")
		got["home"] = r.got[r.key(": console GET /", 0)]
		say(b, ws, `{"t":"beat"}`)
		if f := read(t, ws); !strings.Contains(f, "beat") {
			t.Errorf("a phone hears %s of the broken seal", f)
		}
		return got
	}
	one, two := pages(1), pages(2)
	if !strings.HasPrefix(one["sealed"], fmt.Sprint(http.StatusForbidden)) || one["sealed"] != two["sealed"] {
		t.Errorf("the key's page before the break: %s", one["sealed"])
	}
	if one["key"] == two["key"] || !strings.HasPrefix(one["key"], "200") {
		t.Errorf("the key's page is the same under two keys: %.300s", one["key"])
	}
	for name, page := range one {
		if name == "sealed" {
			continue
		}
		if !strings.Contains(page, "Seal broken at ") || !strings.Contains(page, "a mix-up") {
			t.Errorf("page %s does not bear the mark", name)
		}
		if name != "key" && page != two[name] {
			t.Errorf("page %s tells two keys apart, with the seal broken", name)
		}
	}
	if len(one) != 8 {
		t.Errorf("%d pages were seen", len(one))
	}
}
