package console

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
)

var (
	inline  = regexp.MustCompile(`(?i)<[^>]*\s(style|on[a-z]+)\s*=|<style|<script(?:[^>]*)>[^<]|javascript:`)
	idOf    = regexp.MustCompile(`\sid="([^"]*)"`)
	primary = regexp.MustCompile(`class="[^"]*\bbutton-primary\b`)
)

func checkIDs(t *testing.T, name, body string) {
	t.Helper()
	seen := map[string]bool{}
	for _, m := range idOf.FindAllStringSubmatch(body, -1) {
		if seen[m[1]] {
			t.Errorf("%s: id %q stands twice", name, m[1])
		}
		seen[m[1]] = true
	}
}

// walkPages calls see with each page of the table in each phase; answers are
// the cups at the places that pick gives.
func walkPages(b *table, pick func(seat, set int) int, see func(phase, page, body string)) {
	b.t.Helper()
	all := func(phase string, pages ...string) {
		b.t.Helper()
		for _, p := range pages {
			status, body := b.get(p)
			if status == http.StatusSeeOther {
				body = "" // led on to another page
			}
			see(phase, p, body)
		}
	}
	table := []string{"lobby", "lobby?seat=2", "board", "board?seat=2", "reveal", "result", "trail"}
	all("sealed", table...)
	b.do(session.OpenLobby{})
	all("lobby open", table...)
	b.sit(1, 2, 3, 5)
	all("some came", table...)
	b.do(session.FreezeList{})
	all("frozen", table...)
	b.press("open", "board")
	all("open", table...)
	b.do(session.Serve{Round: 1})
	for _, n := range []int{1, 2, 3} {
		b.lock(n, 1, 0, pick(n, 1))
		all("tasting", table...)
	}
	b.do(session.Void{Seat: 5, Set: 1, Reason: b.text("spilled a cup"), Replace: true})
	b.do(session.Void{Seat: 1, Set: 1, Reason: b.text("=1+1")})
	all("poured again", append(table, "board?seat=5")...)
	b.lock(5, 1, 1, pick(5, 1))
	b.do(session.Serve{Round: 2})
	b.do(session.LeaveSeat{Seat: 3, Reason: b.text("had to go")})
	for _, n := range []int{1, 2, 5} {
		b.lock(n, 2, 0, pick(n, 2))
	}
	all("all in", table...)
	b.do(session.Close{})
	all("closed", table...)
}

// sound checks what must hold of every page.
func sound(t *testing.T, name, body string) {
	t.Helper()
	if m := inline.FindString(body); m != "" {
		t.Errorf("%s: inline style or script: %q", name, m)
	}
	if n := len(h1.FindAllString(body, -1)); n != 1 {
		t.Errorf("%s: %d h1", name, n)
	}
	if n := len(primary.FindAllString(body, -1)); n > 1 {
		t.Errorf("%s: %d primary acts", name, n)
	}
	checkIDs(t, name, body)
	if strings.Contains(body, "ZgotmplZ") || strings.Contains(body, "%!") {
		t.Errorf("%s: a value did not fit its place", name)
	}
}

func TestTablePagesAreSound(t *testing.T) {
	b := newTable(t, tablePlan(6), nil, true)
	seen := 0
	look := func(phase, page, body string) {
		if body == "" {
			return
		}
		seen++
		sound(t, page+" in phase "+phase, body)
	}
	walkPages(b, func(int, int) int { return 0 }, look)
	b.do(session.Reveal{})
	for _, page := range []string{"result", "trail", "board", "lobby"} {
		look("revealed", page, b.page(page))
	}
	if seen < 60 {
		t.Fatalf("only %d pages were seen", seen)
	}
}

// The same holds between flights, before and after looks, and of every goal's
// result.
func TestPagesOfFlightsAndLooksAreSound(t *testing.T) {
	seen := 0
	look := func(b *table, when string) {
		b.t.Helper()
		for _, page := range []string{"lobby", "lobby?seat=2", "board", "board?seat=2", "board?seat=20", "trail", "print", "print/labels", "print/trays", "print/ballots", "reveal", "result"} {
			if status, body := b.get(page); status < http.StatusInternalServerError && body != "" && status != http.StatusSeeOther {
				seen++
				sound(t, page+" "+when, body)
			} else if status >= http.StatusInternalServerError {
				t.Errorf("%s %s: status %d", page, when, status)
			}
		}
		sound(t, "home "+when, b.home())
	}
	p := sequentialPlan()
	p.Seats, p.Flights, p.Tests[0].Sets = 24, []int{12, 12}, 2
	b := start(t, p)
	b.come()
	b.round(1, 8)
	look(b, "before a look")
	b.round(2, 7)
	look(b, "after a look")
	b.press("flight/end", "lobby", "flight", "1")
	look(b, "between flights")
	b.do(session.OpenLobby{})
	look(b, "in the second lobby")
	b.sit(13, 14)
	b.do(session.FreezeList{})
	look(b, "with the second list closed")
	b.press("open", "board")
	b.do(session.Serve{Round: 1})
	b.answer(13, 1, true)
	look(b, "in the second flight")
	b.do(session.Close{})
	look(b, "closed")
	b.do(session.Reveal{})
	look(b, "revealed")
	b = tasted(t, goalPlan(session.GoalBoth), 12)
	b.revealed()
	look(b, "of both goals")
	if seen < 80 {
		t.Fatalf("only %d pages were seen", seen)
	}
}

// TestPagesAreTheSameUnderEveryKey runs one tasting twice, with the same codes,
// doors, digest, answers and times, but other serving orders and vessel marks:
// no page before the reveal may tell the two apart. The hash of the close is
// left out: it covers the sealed entry itself.
func TestPagesAreTheSameUnderEveryKey(t *testing.T) {
	redraw := func(s *session.Sealing) {
		s.Layout.Disc = map[string]string{"A": "B", "B": "A"}[s.Layout.Disc]
		seats := make([][]session.DealtSet, len(s.Layout.Seats))
		for i, sets := range s.Layout.Seats {
			seats[i] = slices.Clone(sets)
			for j := range seats[i] {
				m, _ := session.MethodByKey(tablePlan(6).Tests[sets[j].Test].Method)
				at := slices.Index(m.Orders, sets[j].Order)
				seats[i][j].Order = m.Orders[(at+1)%len(m.Orders)]
			}
		}
		s.Layout.Seats = seats
	}
	run := func(alter func(*session.Sealing)) (pages map[string]string, order []string, counts string) {
		b := newTable(t, tablePlan(6), alter, true)
		pages = map[string]string{}
		walkPages(b, func(seat, set int) int { return (seat + set) % 2 }, func(phase, page, body string) {
			key := fmt.Sprintf("%03d %s, %s", len(order), phase, page)
			order = append(order, key)
			if head := b.room.State().ClosedAt; !head.IsZero() {
				body = strings.ReplaceAll(body, head.String(), "the hash of the close")
				body = strings.ReplaceAll(body, session.ShortDigest(head), "the hash in short")
			}
			pages[key] = body
		})
		b.do(session.Reveal{})
		res, err := b.room.State().Compute()
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range res.Answers {
			counts += fmt.Sprint(a.Order, a.Correct, " ")
		}
		return pages, order, counts
	}
	one, order, countsOne := run(nil)
	two, _, countsTwo := run(redraw)
	if countsOne == countsTwo {
		t.Fatal("both runs have the same key: nothing was compared")
	}
	if len(order) < 60 {
		t.Fatalf("only %d pages were compared", len(order))
	}
	for _, key := range order {
		if one[key] != two[key] {
			t.Errorf("%s: the page differs with the key", key)
		}
	}
}
