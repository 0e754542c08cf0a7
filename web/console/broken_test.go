package console

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"oddcup/session"
)

var keyCell = regexp.MustCompile(`(?s)<span class="key-cup"><svg class="tape" role="img" aria-label="(\d+)".*?</svg><svg class="vessel[^>]*>.*?</svg><span>([^<]+)</span></span>`)

// TestSealIsBrokenDeliberately: with a reason and the word, or not at all; the
// key's page then says of every cup what the layout says.
func TestSealIsBrokenDeliberately(t *testing.T) {
	var layout session.Layout
	b := newTable(t, tablePlan(6), func(s *session.Sealing) { layout = s.Layout }, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	b.do(session.Void{Seat: 2, Set: 1, Reason: b.text("spilled"), Replace: true})
	if status, body := b.get("key"); status != http.StatusForbidden || !strings.Contains(body, "sealed until the reveal") {
		t.Fatalf("the key before the break: status %d", status)
	}
	trail := b.page("trail")
	b.wants(trail, "It holds.", `<details class="ask" id="break">`, "Break the seal before the reveal")
	seq := b.seq()
	for _, x := range []struct{ reason, word, fault string }{
		{"", "break", "Give a reason of 1 to 200 characters"}, {"a mix-up", "", "Type the word break."}, {"a mix-up", "yes", "Type the word break."},
		{strings.Repeat("x", 201), "break", "Give a reason of 1 to 200 characters"}, {" ", " ", "Give a reason of 1 to 200 characters"},
	} {
		status, body, _ := b.post("break", "break-reason", x.reason, "break-word", x.word)
		if status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("%+v: status %d, journal from %d to %d", x, status, seq, b.seq())
		}
		b.wants(body, "The seal was not broken.", x.fault, `value="`+x.reason+`"`, `<details class="ask" id="break" open>`)
	}
	for _, page := range []string{"trail", "board", "lobby", "plan", "print"} {
		if strings.Contains(strings.ToLower(b.page(page)), "seal broken") {
			t.Errorf("%s says that the seal was broken", page)
		}
	}
	b.press("break", "key", "break-reason", "the vessels were mixed up", "break-word", "break")
	page := b.page("key")
	b.wants(page, "Whoever reads on is not blind.", "Seal broken at", "the vessels were mixed up.")
	said := map[string]string{}
	for _, m := range keyCell.FindAllStringSubmatch(page, -1) {
		said[m[1]] = m[2]
	}
	seen := 0
	for i, sets := range layout.Seats {
		for j, set := range sets {
			for take, codes := range set.Takes {
				for at, code := range codes {
					want := map[byte]string{'A': "untreated", 'B': "processed"}[set.Order[at]]
					if take > 0 && (i != 1 || j != 0) {
						want = "" // nobody called it
					}
					if want != "" {
						seen++
					}
					if got := said[sprint(code)]; got != want {
						t.Errorf("seat %d, set %d, take %d: code %d is said to be %q, dealt %q", i+1, j+1, take, code, got, want)
					}
				}
			}
		}
	}
	if seen < 30 || len(said) != seen {
		t.Errorf("%d cups are on the page, %d of the layout", len(said), seen)
	}
	lot := map[string]string{"A": "untreated", "B": "processed with water"}[layout.Disc]
	if !regexp.MustCompile(`(?s)vessel with the disc</dt><dd>lot 2207, ` + lot + `</dd>`).MatchString(page) {
		t.Errorf("the disc is not said to hold the lot %s", lot)
	}
	// Again changes nothing.
	seq = b.seq()
	if status, _, _ := b.post("break", "break-reason", "again", "break-word", "break"); status != http.StatusSeeOther || b.seq() != seq {
		t.Errorf("a second time: status %d, journal from %d to %d", status, seq, b.seq())
	}
}

// TestBrokenSealMarksEveryLaterPage: pages, sheets, the list of sessions and the
// report; and no page goes on to say that the key is sealed.
func TestBrokenSealMarksEveryLaterPage(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.BreakSeal{Reason: b.text("the vessels were mixed up")})
	seen := 0
	look := func(pages ...string) {
		t.Helper()
		for _, name := range pages {
			status, body := b.get(name)
			if status == http.StatusSeeOther {
				continue
			}
			seen++
			sound(t, name, body)
			if !strings.Contains(body, "Seal broken at ") {
				t.Errorf("%s in phase %s does not bear the mark", name, b.room.State().Phase)
			}
			for _, wrong := range []string{"key is still sealed", "key stays sealed", "key is sealed", "It holds.", "nor do you.", "nor to you"} {
				if strings.Contains(body, wrong) {
					t.Errorf("%s in phase %s says %q", name, b.room.State().Phase, wrong)
				}
			}
		}
		home := b.home()
		sound(t, "home", home)
		if !strings.Contains(home, "seal broken at ") || !strings.Contains(home, "Seal broken at ") {
			t.Errorf("home in phase %s does not bear the mark in the list and on top", b.room.State().Phase)
		}
		if strings.Contains(home, "key is sealed") {
			t.Errorf("home in phase %s says that the key is sealed", b.room.State().Phase)
		}
	}
	look("lobby", "plan", "trail", "key", "print", "print/labels", "print/trays", "print/seats", "print/ballots")
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.press("serve", "board", "round", "1")
	look("board", "board?seat=1", "seats/1/ballot", "result", "trail", "reveal")
	_, body, _ := b.ballot(1, 1, 0, "sure", false, b.room.State().Codes(1, 1, 0)[0])
	b.wants(body, "The seal is broken: who has seen the key knows whether it is right.")
	b.do(session.Close{})
	look("board", "reveal", "amend", "trail", "key")
	b.do(session.Reveal{})
	look("result", "trail", "key", "amend", "lobby", "board")
	b.wants(b.page("result"), "The seal was broken before the reveal (the vessels were mixed up).")
	if seen < 23 {
		t.Errorf("only %d pages were seen", seen)
	}
}
