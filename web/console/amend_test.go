package console

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"oddcup/session"
)

func sprint(v any) string { return fmt.Sprint(v) }

// TestAmendBeforeTheReveal: a set is taken out after the close by a page that
// tells nothing of its answer, and both results are shown at the reveal.
func TestAmendBeforeTheReveal(t *testing.T) {
	b := tasted(t, tablePlan(6), 4)
	if status, body := b.get("amend"); status != http.StatusConflict || !strings.Contains(body, "taken out on the board") {
		t.Errorf("while people taste: status %d", status)
	}
	b.do(session.Close{})
	b.wants(b.page("reveal"), "Taken out after the close", "No set.", b.path("amend"))
	list := b.page("amend")
	sound(t, "amend", list)
	if n := strings.Count(list, "take out<span"); n != 12 {
		t.Errorf("%d of 12 trays can be taken out", n)
	}
	b.wants(b.page("amend?seat=3&set=1&take=0"), "Take seat 3, set 1, out after the close?", "The registered result stands first")
	for _, foreign := range []string{"amend?seat=99&set=1&take=0", "amend?seat=x", "amend?seat=3&set=1&take=4", "amend?seat=3&set=9"} {
		b.wants(b.page(foreign), "Was a set not what it should have been?")
	}
	tray := []string{"seat", "3", "set", "1", "take", "0"}
	seq := b.seq()
	for _, reason := range []string{" ", strings.Repeat("x", 201)} {
		status, body, _ := b.post("amend", append(tray, "amend-reason", reason)...)
		if status != http.StatusUnprocessableEntity || b.seq() != seq {
			t.Errorf("status %d, journal from %d to %d", status, seq, b.seq())
		}
		b.wants(body, "The set was not taken out.", "Take seat 3, set 1, out after the close?", `value="`+reason+`"`)
		sound(t, "amend refused", body)
	}
	b.press("amend", "reveal#amended", append(tray, "amend-reason", "poured from one vessel")...)
	b.wants(b.page("reveal"), "Seat 3, set 1: poured from one vessel")
	status, body, _ := b.post("amend", append(tray, "amend-reason", "again")...)
	if status != http.StatusConflict || b.seq() != seq+1 {
		t.Errorf("a second time: status %d", status)
	}
	if strings.Contains(body+b.page("amend?seat=3&set=1&take=0"), "amend-go") {
		t.Error("a set that was taken out can be chosen again")
	}
	b.wants(body, "Seat 3, set 1 was taken out before. Its first reason stands.", "taken out after the close: poured from one vessel")
	for _, x := range [][]string{{"seat", "9", "set", "1", "take", "0"}, {"seat", "1", "set", "1", "take", "1"}, {"seat", "1", "set", "0", "take", "0"}, {"seat", "one"}} {
		if status, body, _ := b.post("amend", append(x, "amend-reason", "x")...); status < 400 || status >= 500 || heading(body) == "" {
			t.Errorf("%v: status %d, %q", x, status, heading(body))
		}
	}
	b.press("reveal", "result")
	b.result(t, 6, 5, "after the close")
}

// result checks that the registered result stands first, with so many answers,
// and the amended one beside it.
func (b *table) result(t *testing.T, n, left int, when string) {
	t.Helper()
	page := b.page("result")
	sound(t, "result", page)
	registered, amended := strings.Index(page, fmt.Sprintf(" of %d found the odd cup", n)), strings.Index(page, fmt.Sprintf(" of %d found the odd cup", left))
	at := strings.Index(page, `id="amended"`)
	if registered < 0 || at < registered || amended < at {
		t.Fatalf("registered at %d, the amended section at %d, its count at %d", registered, at, amended)
	}
	for _, half := range []struct {
		name string
		n    int
	}{{"registered", n}, {"amended", left}} {
		_, after, _ := strings.Cut(page[at:], `<p class="amended-which">`+half.name+"</p>")
		if after, _, _ = strings.Cut(after, "</div>"); !strings.Contains(after, fmt.Sprintf(" of %d found the odd cup", half.n)) {
			t.Errorf("the %s half says %q", half.name, after)
		}
	}
	b.wants(page, "One set was taken out after the close.", "This is the registered result, which stands.", "poured from one vessel",
		"The same: nothing that counts in this test was taken out.", "taken out "+when+": poured from one vessel")
	res, err := b.room.State().Compute()
	if err != nil || res.Tests[0].N != n || res.Amended[0].N != left {
		t.Errorf("%+v: %v", res.Amended, err)
	}
}

func TestAmendAfterTheReveal(t *testing.T) {
	b := tasted(t, tablePlan(6), 4)
	b.revealed()
	page := b.page("result")
	b.wants(page, "Take a set out after the close, with a reason")
	if status, _ := b.get("key"); status != http.StatusSeeOther {
		t.Errorf("the key of a seal that was never broken: status %d, want the result", status)
	}
	if strings.Contains(page, "Amended result") {
		t.Error("nothing was amended")
	}
	list := b.page("amend")
	for _, tells := range []string{"found", "not found", "picked:", "a guess"} {
		if strings.Contains(list, tells) {
			t.Errorf("the list says %q of an answer", tells)
		}
	}
	b.press("amend", "result#amended", "seat", "3", "set", "1", "take", "0", "amend-reason", "poured from one vessel")
	b.result(t, 6, 5, "after the reveal, when the answers were known")
	b.wants(b.page("trail"), "After the close, seat 3, set 1 taken out: poured from one vessel. The registered result stands.")
	b.wants(b.page("result"), "after the reveal, when the answers were known")
	b.wants(b.page("report"), "That was after the reveal, when the answers were known.")
	b.wants(b.page("amend"), "The answers are known")
}
