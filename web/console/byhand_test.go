package console

import (
	"fmt"
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"oddcup/session"
	"oddcup/web/taster"
)

// ballot posts a step of a paper ballot.
func (b *table) ballot(seat, set, take int, step string, guess bool, codes ...session.Code) (status int, body, to string) {
	b.t.Helper()
	form := url.Values{"set": {fmt.Sprint(set)}, "take": {fmt.Sprint(take)}, "step": {step}}
	if guess {
		form.Set("guess", "1")
	}
	for _, c := range codes {
		form.Add("pick", fmt.Sprint(c))
	}
	req, err := http.NewRequest(http.MethodPost, b.url+b.path(fmt.Sprintf("seats/%d/ballot", seat)), strings.NewReader(form.Encode()))
	if err != nil {
		b.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", b.url)
	return b.send(req)
}

// seq is how many entries the journal has.
func (b *table) seq() uint64 { return b.room.State().Seq }

func TestSeatSomebodyWithoutAPhone(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	if body := b.page("lobby"); strings.Contains(body, "byhand-name") {
		t.Error("people can be seated before the lobby is open")
	}
	b.do(session.OpenLobby{})
	b.sit(1)
	b.wants(b.page("lobby"), "Seat somebody without a phone", "the next free one, seat 2")
	b.press("byhand", "lobby?seat=2#chosen", "byhand-name", "Odo", "byhand-seat", "0")
	b.press("byhand", "lobby?seat=5#chosen", "byhand-name", "Ulla", "byhand-seat", "5")
	s := b.room.State()
	if !s.Seats[1].ByHand() || !s.Seats[4].ByHand() || s.Seats[4].Name.Words != "Ulla" {
		t.Fatalf("%+v", s.Seats)
	}
	body := b.page("lobby?seat=2")
	b.wants(body, "2 are here. Three are expected, one phone went quiet.", "on paper", "Give it a phone", b.path("print/ballots?seat=2"))
	if strings.Contains(html.UnescapeString(body), "Seats 1, 2 and 5 went quiet") {
		t.Error("who has no phone went quiet")
	}
	seq := b.seq()
	for _, x := range []struct{ name, seat, fault string }{
		{"Ben", "5", "Seat 5 has been taken meanwhile"}, {" ", "3", "Give a name of 1 to 40 characters."},
		{strings.Repeat("x", 41), "3", "Give a name of 1 to 40 characters."}, {"Ben", "", "Choose the seat."}, {"Ben", "-1", "Choose the seat."},
	} {
		status, body, _ := b.post("byhand", "byhand-name", x.name, "byhand-seat", x.seat)
		if status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("%+v: status %d, journal from %d to %d", x, status, seq, b.seq())
		}
		b.wants(body, "Nobody was seated.", x.fault, `value="`+x.name+`"`, `<details class="ask" id="byhand" open>`)
	}
	if status, _, _ := b.post("byhand", "byhand-name", "Ben", "byhand-seat", "9"); status != http.StatusNotFound {
		t.Errorf("seat 9 of 6: status %d", status)
	}
	for _, n := range []string{"3", "4", "6"} {
		b.press("byhand", "lobby?seat="+n+"#chosen", "byhand-name", "Ben", "byhand-seat", n)
	}
	_, body, _ = b.post("byhand", "byhand-name", "Ida", "byhand-seat", "0")
	b.wants(body, "Every seat is taken: free one first", "Every seat is taken. Free one first")
	// A phone found later takes a seat over by the usual hand-over.
	b.press("seats/2/move", "lobby")
	b.wants(b.page("lobby"), "waits for a phone")
	b.as(session.Taster(2), session.Sit{Seat: 2, Name: b.text("Odo"), Token: session.HashToken([]byte{77})})
	if b.room.State().Seats[1].ByHand() {
		t.Error("seat 2 has no phone")
	}
	b.press("freeze", "lobby")
	if status, _, _ := b.post("byhand", "byhand-name", "Ida", "byhand-seat", "0"); status != http.StatusConflict {
		t.Errorf("after the list was closed: status %d", status)
	}
}

// handTable serves set 1 to seats 1 and 2 with phones, and 3 and 4 without.
func handTable(t *testing.T, plan session.Plan) *table {
	t.Helper()
	b := newTable(t, plan, nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.SitByHand{Seat: 3, Name: b.text("Odo")})
	b.do(session.SitByHand{Seat: 4, Name: b.text("Ulla")})
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	return b
}

func TestPaperBallotIsLookedAtThenLocked(t *testing.T) {
	b := handTable(t, tablePlan(6))
	board := b.page("board")
	b.wants(board, "Paper ballots to type in", b.path("seats/3/ballot"), b.path("seats/4/ballot"), "2 on paper and 2 away")
	if strings.Contains(board, b.path("seats/1/ballot")) {
		t.Error("seat 1 has a phone, and its ballot is waited for")
	}
	b.wants(b.page("board?seat=1"), b.path("seats/1/ballot"), "Type in the paper ballot")
	codes := b.room.State().Codes(3, 1, 0)
	page := b.page("seats/3/ballot")
	b.wants(page, "What did seat 3 mark?", "Which one is different?", "Odo")
	for _, c := range codes {
		b.wants(page, fmt.Sprintf(`<input type="radio" name="pick" value="%d">`, c))
	}
	seq := b.seq()
	status, body, _ := b.ballot(3, 1, 0, "sure", true)
	if status != http.StatusUnprocessableEntity {
		t.Errorf("no cup chosen: status %d", status)
	}
	b.wants(body, "Choose the cup that is marked on the ballot", `name="guess" value="1" checked`)
	for _, codes := range [][]session.Code{codes[:2], {b.room.State().Codes(4, 1, 0)[0]}, {codes[0], 99}} {
		if status, _, _ := b.ballot(3, 1, 0, "lock", false, codes...); status != http.StatusUnprocessableEntity {
			t.Errorf("codes %v: status %d", codes, status)
		}
	}
	status, body, _ = b.ballot(3, 1, 0, "sure", true, codes[1])
	if status != http.StatusOK || b.seq() != seq {
		t.Fatalf("the second step: status %d, journal from %d to %d", status, seq, b.seq())
	}
	b.wants(body, fmt.Sprintf("Lock %d for seat 3?", codes[1]), "It is final.", "Marked as a guess.",
		"You now know what seat 3 picked. Whether it is right nobody knows before the reveal, nor do you.",
		fmt.Sprintf(`<input type="hidden" name="pick" value="%d">`, codes[1]))
	_, body, _ = b.ballot(3, 1, 0, "type", true, codes[1])
	b.wants(body, fmt.Sprintf(`name="pick" value="%d" checked`, codes[1]), `name="guess" value="1" checked`)
	if b.seq() != seq {
		t.Error("going back changed the journal")
	}
	if status, _, to := b.ballot(3, 1, 0, "lock", true, codes[1]); status != http.StatusSeeOther || to != b.path("board") {
		t.Fatalf("the lock: status %d to %q", status, to)
	}
	a := b.room.State().Seats[2].Sets[0].Kept()
	if a == nil || a.Pick != codes[1] || !a.Guess || !a.Paper {
		t.Fatalf("kept: %+v", a)
	}
	b.wants(b.page("board?seat=3"), "from paper,", "typed in from paper at", "Seat 3, set 1 typed in from paper.")
	// The same again changes nothing; another answer is refused, and what was
	// typed is shown.
	if status, _, _ := b.ballot(3, 1, 0, "lock", true, codes[1]); status != http.StatusSeeOther || b.seq() != seq+1 {
		t.Errorf("the same again: status %d, journal at %d", status, b.seq())
	}
	for _, step := range []string{"sure", "lock"} {
		status, body, _ = b.ballot(3, 1, 0, step, false, codes[2])
		if status != http.StatusConflict || b.seq() != seq+1 {
			t.Errorf("another answer, step %s: status %d", step, status)
		}
		b.wants(body, "Seat 3, set 1 is locked already, with another answer. The ballot was not kept.", "What was typed:", "<b>marked</b>", "Not marked as a guess.")
	}
	_, body = b.get("seats/3/ballot")
	b.wants(body, "There is no ballot of seat 3 to type in.")
}

// A phone that answers meanwhile, a set taken out, a person who left, a close:
// each is said, and nothing that was typed is lost.
func TestPaperBallotRefusedMeanwhile(t *testing.T) {
	b := handTable(t, tablePlan(6))
	lock := func(seat int, want string) {
		t.Helper()
		codes := b.room.State().Codes(seat, 1, 0)
		seq := b.seq()
		status, body, _ := b.ballot(seat, 1, 0, "lock", true, codes[0])
		if status != http.StatusConflict || b.seq() != seq {
			t.Errorf("%s: status %d, journal from %d to %d", want, status, seq, b.seq())
		}
		b.wants(body, want, "The ballot was not kept.", "What was typed:", "<b>marked</b>", "Marked as a guess.")
	}
	if body := b.page("seats/1/ballot"); !strings.Contains(body, "if the phone answers first, its answer stands") {
		t.Error("nothing is said of the phone that seat 1 has")
	}
	b.lock(1, 1, 0, 2)
	lock(1, "Seat 1, set 1 is locked already, with another answer.")
	b.do(session.Void{Seat: 3, Set: 1, Reason: b.text("spilled"), Replace: true})
	lock(3, "Seat 3, set 1 was taken out.")
	b.wants(b.page("seats/3/ballot"), "poured again", fmt.Sprintf(`value="%d"`, b.room.State().Codes(3, 1, 1)[0]))
	b.do(session.LeaveSeat{Seat: 4, Reason: b.text("had to go")})
	lock(4, "Seat 4, set 1 is not in front of the seat.")
	b.wants(b.page("seats/4/ballot"), "There is no ballot of seat 4 to type in.")
	b.do(session.Close{})
	lock(2, "Seat 2, set 1 can’t be answered any more.")
	for _, x := range []struct {
		seat, set, take int
		status          int
	}{{9, 1, 0, http.StatusNotFound}, {0, 1, 0, http.StatusNotFound}, {1, 9, 0, http.StatusConflict}, {1, 0, 0, http.StatusConflict}, {1, 1, 7, http.StatusConflict}, {1, 1, -1, http.StatusConflict}} {
		if status, body, _ := b.ballot(x.seat, x.set, x.take, "lock", false, 123); status != x.status || heading(body) == "" {
			t.Errorf("%+v: status %d, %q", x, status, heading(body))
		}
	}
}

// A tetrad's ballot names two cups; the reference of a duo-trio is no answer.
func TestPaperBallotOfTwoCupsAndOfAReference(t *testing.T) {
	plan := func(method string) session.Plan {
		p := tablePlan(6)
		p.Tests = p.Tests[:1]
		p.Tests[0].Method = method
		return p
	}
	b := handTable(t, plan(session.Tetrad.Key))
	codes := b.room.State().Codes(3, 1, 0)
	for _, picks := range [][]session.Code{codes[:1], codes[:3]} {
		if status, body, _ := b.ballot(3, 1, 0, "sure", false, picks...); status != http.StatusUnprocessableEntity || !strings.Contains(body, "hoose") {
			t.Errorf("%d cups: status %d", len(picks), status)
		}
	}
	if n := strings.Count(b.page("seats/3/ballot"), `type="checkbox" name="pick"`); n != 4 {
		t.Errorf("%d cups can be chosen", n)
	}
	if status, _, _ := b.ballot(3, 1, 0, "lock", false, codes[0], codes[2]); status != http.StatusSeeOther {
		t.Errorf("two cups: status %d", status)
	}
	if a := b.room.State().Seats[2].Sets[0].Kept(); a == nil || a.Pick != codes[0] || a.Also != codes[2] {
		t.Errorf("kept: %+v", a)
	}
	b = handTable(t, plan(session.DuoTrio.Key))
	codes = b.room.State().Codes(3, 1, 0)
	page := b.page("seats/3/ballot")
	if n := strings.Count(page, `type="radio" name="pick"`); n != 2 || strings.Contains(page, fmt.Sprintf(`value="%d"`, codes[0])) {
		t.Errorf("%d cups can be chosen", n)
	}
	seq := b.seq()
	if status, _, _ := b.ballot(3, 1, 0, "lock", false, codes[0]); status < 400 || status >= 500 || b.seq() != seq {
		t.Errorf("the reference as an answer: status %d", status)
	}
}

// What was heard of a phone before somebody without one took its seat says
// nothing of the seat.
func TestSeatByHandHasNoPhonesSigns(t *testing.T) {
	b := handTable(t, tablePlan(6))
	sign := func(int) taster.Sign { return taster.Sign{InTouch: true, Calling: "spill", CallAt: b.at} }
	v := boardOf(b.room.State(), sign, 0, filled())
	if len(v.Needs) != 2 {
		t.Errorf("%d seats call, two have phones", len(v.Needs))
	}
	for _, tile := range v.Tables[0].Rows[0] {
		want := map[int]string{1: "calling", 2: "calling", 3: "on paper", 4: "on paper", 5: "empty", 6: "empty"}[tile.Number]
		if tile.Word != want {
			t.Errorf("seat %d: %q, want %q", tile.Number, tile.Word, want)
		}
	}
}

func TestDeviationsAreNotedWhereTheSessionIs(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	note := func(page, words string) {
		t.Helper()
		seq := b.seq()
		for _, bad := range []string{"  ", strings.Repeat("x", 201)} {
			status, body, _ := b.post("deviations", "deviation", bad)
			if status != http.StatusUnprocessableEntity || b.seq() != seq {
				t.Errorf("%d characters on the %s: status %d", len(bad), page, status)
			}
			b.wants(body, "The deviation was not noted.", ">"+bad+"</textarea>", `<details class="ask" id="deviation-more" open>`)
			if strings.Contains(body, "The tasting was not started.") {
				t.Errorf("on the %s a refused deviation is told as a refused start", page)
			}
		}
		b.press("deviations", page, "deviation", words)
		b.wants(b.page(page), words)
	}
	note("lobby", "the lamps were late")
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.FreezeList{})
	note("lobby", "one kettle")
	b.press("open", "board")
	note("board", "a door slammed.")
	b.wants(b.page("trail"), "Not as planned: a door slammed.", "Not as planned: one kettle.")
	if strings.Contains(b.page("trail"), "slammed..") {
		t.Error("two full stops")
	}
	b.do(session.Close{})
	note("reveal", "the second brew was late")
	b.press("reveal", "result")
	b.wants(b.page("result"), "Not as planned: the lamps were late.", "Not as planned: the second brew was late.")
	if status, _, _ := b.post("deviations", "deviation", "too late"); status != http.StatusConflict {
		t.Errorf("after the reveal: status %d", status)
	}
}
