package console

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"oddcup/session"
	"oddcup/web/taster"
)

func TestTilesSayHowEachSeatStands(t *testing.T) {
	b := newTable(t, tablePlan(12), nil, true)
	b.do(session.OpenLobby{})
	b.sit(upTo(11)...)
	b.do(session.FreezeList{})
	b.press("open", "board")
	at := b.at
	signs := map[int]taster.Sign{1: {InTouch: true, Since: at}}
	states := func() map[int]string {
		v := boardOf(b.room.State(), func(n int) taster.Sign { return signs[n] }, 0, filled())
		got := map[int]string{}
		for _, table := range v.Tables {
			for _, row := range table.Rows {
				for _, tile := range row {
					got[tile.Number] = tile.Word
				}
			}
		}
		return got
	}
	if got := states(); got[1] != "here" || got[2] != "away" || got[12] != "empty" {
		t.Errorf("before the first set: %v", got)
	}
	b.press("serve", "board", "round", "1")
	in := taster.Sign{InTouch: true, Since: at}
	checked := in
	checked.CheckedSet, checked.CheckedAt = 1, at
	old := in
	old.CheckedSet, old.CheckedTake = 1, 1
	calling := checked
	calling.Calling = "unwell"
	signs = map[int]taster.Sign{1: in, 2: checked, 3: old, 4: {Since: at, CheckedSet: 1}, 5: calling, 6: {Since: at}, 7: in, 8: in, 9: in, 10: in}
	b.lock(6, 1, 0, 0)
	b.lock(7, 1, 0, 2)
	b.do(session.Void{Seat: 8, Set: 1, Reason: b.text("dropped")})
	b.do(session.LeaveSeat{Seat: 9, Reason: b.text("gone")})
	b.do(session.MoveSeat{Seat: 10})
	want := map[int]string{
		1: "here", 2: "tasting", 3: "here", 4: "away", 5: "calling", 6: "locked", 7: "locked",
		8: "taken out", 9: "left", 10: "expected", 11: "away", 12: "empty",
	}
	for n, w := range want {
		if got := states()[n]; got != w {
			t.Errorf("seat %d: %q, want %q", n, got, w)
		}
	}
	v := boardOf(b.room.State(), func(n int) taster.Sign { return signs[n] }, 0, filled())
	if v.Locked != 3 || v.Of != 10 {
		t.Errorf("%d of %d are through, want 3 of 10: two locked, one taken out, one left", v.Locked, v.Of)
	}
	if want := "1 tasting, 2 here, 2 away, 1 expected and 1 calling"; !strings.Contains(v.Next.Say, want) {
		t.Errorf("next: %q, want who is out: %s", v.Next.Say, want)
	}
	if v.Next.Ready || v.Next.Serve != 2 {
		t.Errorf("set 2 is offered as %+v while seats are out", v.Next)
	}
	if len(v.Needs) != 1 || v.Needs[0].Calling != "feels unwell" || !v.Needs[0].Primary {
		t.Errorf("who calls: %+v", v.Needs)
	}
}

func TestWrongTrayIsTracedToItsSeat(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(upTo(6)...)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	s := b.room.State()
	used := map[session.Code]bool{}
	for seat := 1; seat <= 6; seat++ {
		for set := 1; set <= 2; set++ {
			for take := range 2 {
				for _, c := range s.Codes(seat, set, take) {
					used[c] = true
				}
			}
		}
	}
	free := session.Code(100)
	for used[free] {
		free++
	}
	for _, x := range []struct {
		typed session.Code
		want  string
	}{
		{s.Codes(5, 1, 0)[0], "It stands on seat 5’s tray of set 1."},
		{s.Codes(5, 1, 1)[1], "It stands on seat 5’s tray of set 1, poured again."},
		{s.Codes(2, 1, 0)[2], "It is the right cup of this very tray: the tray is turned round, or its cups were moved."},
		{s.Codes(2, 2, 0)[0], "It stands on this seat’s own tray of set 2."},
		{free, "It stands on no tray of this session."},
	} {
		sign := func(n int) taster.Sign {
			if n != 2 {
				return taster.Sign{}
			}
			return taster.Sign{InTouch: true, Wrong: x.typed, WrongAt: b.at}
		}
		v := boardOf(s, sign, 0, filled())
		if len(v.Needs) != 1 || v.Needs[0].Wrong == nil || v.Needs[0].Wrong.Whose != x.want {
			t.Errorf("code %d: %+v, want %q", x.typed, v.Needs, x.want)
		}
	}
}

func TestSpilledCupPrefillsTheReason(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	sign := func(n int) taster.Sign {
		if n == 2 {
			return taster.Sign{InTouch: true, Calling: "spill", CallAt: b.at}
		}
		return taster.Sign{}
	}
	html, err := b.c.fragment("board-needs", boardOf(b.room.State(), sign, 0, filled()))
	if err != nil {
		t.Fatal(err)
	}
	b.wants(string(html), `value="spilled a cup"`, "Take set 1 out and call its replacement", "I am going there", "Hand to another phone", "Has left")
	// With the seat's own panel on the page, no form and no id stands twice.
	v := boardOf(b.room.State(), sign, 2, filled())
	all := ""
	for _, name := range []string{"board-needs", "board-chosen"} {
		part, err := b.c.fragment(name, v)
		if err != nil {
			t.Fatal(err)
		}
		all += string(part)
	}
	checkIDs(t, "seat 2 calls and is chosen", all)
	b.wants(all, `value="spilled a cup"`)
	// To leave is final: it asks first, names the seat, and stands last.
	panel, err := b.c.fragment("board-chosen", v)
	if err != nil {
		t.Fatal(err)
	}
	b.wants(string(panel), "Has whoever sat at seat 2 (Taster 2) left?", "This is final: no more is served to the seat, and its phone ends.", "Seat 2 has left")
	ask, form, shut := strings.Index(string(panel), `<details class="ask table-apart" id="leave-2">`), strings.Index(string(panel), "/seats/2/leave"), strings.Index(string(panel), `id="chosen-shut"`)
	if shut < 0 || ask < shut || form < ask {
		t.Errorf("the act that is final stands at %d, its form at %d, the panel's end at %d", ask, form, shut)
	}
}

// A set is served while seats have the one before only where these seats, and no
// others, were confirmed.
func TestServingBeforeAllHaveLocked(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2, 3, 4)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	b.lock(1, 1, 0, 0)
	b.lock(2, 1, 0, 0)
	body := b.page("board")
	b.wants(body, "Serve set 2 to all while seats 3 and 4 have not locked set 1?", `name="before" value="[3 4]"`)
	seq := b.seq()
	refused := func(words string, pairs ...string) {
		t.Helper()
		status, body, _ := b.post("serve", append([]string{"round", "2"}, pairs...)...)
		if status != http.StatusConflict || b.seq() != seq {
			t.Errorf("%v: status %d, %d entries more", pairs, status, b.seq()-seq)
		}
		b.wants(body, words)
	}
	refused("Set 2 was not served: seats 3 and 4 have not locked set 1.")
	refused("Set 2 was not served: seats 3 and 4 have not locked set 1.", "before", "[3 14]")
	b.do(session.Void{Seat: 2, Set: 1, Reason: b.text("dropped"), Replace: true})
	seq = b.seq()
	refused("Set 2 was not served: seats 2 to 4 have not locked set 1.", "before", "[3 4]")
	b.lock(4, 1, 0, 0)
	b.press("serve", "board", "round", "2", "before", "[2 3 4]") // fewer than were confirmed
	if n := len(b.room.State().Rounds); n != 2 {
		t.Errorf("%d sets are out", n)
	}
}

func TestLiveBoardBringsTheSeatThatLocks(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2, 3)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	conn, res, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.url, "http")+b.path("live?page=board"), http.Header{"Origin": {b.url}})
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	defer conn.Close()
	read := func() map[string]string {
		t.Helper()
		var message struct{ Parts map[string]string }
		conn.SetReadDeadline(time.Now().Add(10 * time.Second))
		if err := conn.ReadJSON(&message); err != nil {
			t.Fatal(err)
		}
		return message.Parts
	}
	first := read()
	page := b.page("board")
	if len(first) < 6 {
		t.Fatalf("first message has %d parts", len(first))
	}
	for id, part := range first {
		if !strings.Contains(part, `id="`+id+`"`) || !strings.Contains(page, `id="`+id+`"`) {
			t.Errorf("part %s does not replace an element of the page", id)
		}
	}
	b.lock(3, 1, 0, 1)
	news := read()
	if !strings.Contains(news["seat-3"], "<b>locked</b>") {
		t.Errorf("after seat 3 locked its part is %q", news["seat-3"])
	}
	if _, moved := news["seat-2"]; moved {
		t.Error("seat 2 did not change and was sent again")
	}
	b.press("close", "reveal")
	if news := read(); !strings.Contains(news["board-title"], `data-go="`+b.path("reveal")+`"`) {
		t.Errorf("after the close the board does not lead on: %q", news["board-title"])
	}
}
