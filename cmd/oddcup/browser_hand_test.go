package main

import (
	"testing"
)

// TestBrowserByHand plays a session in which nobody has a phone and much goes
// wrong: ballots on paper, one of them typed in twice, deviations, a seal that is
// broken, a set taken out after the close.
func TestBrowserByHand(t *testing.T) {
	b, c, host := hostWithLots(t)
	m := methodPlay{name: "hand", method: "tetrad", title: "Wednesday table", seats: 4, sets: 1, cups: 4}
	session := m.seal(t, host, c)
	seatByHand(host, c, session)
	typeBallots(b, host, c, session)
	breakSeal(host, c, session)
	amend(host, c, session)
}

// seatByHand seats three people without a phone and notes a deviation.
func seatByHand(host *tab, c *child, session string) {
	host.visit(c.console + session + "/lobby")
	host.submit("=Open the lobby")
	host.waitFor("the open lobby", `!document.querySelector('#lobby-open')`)
	host.tap("#byhand-ask")
	host.fill("#byhand-name", "  ")
	host.submit("#byhand-go")
	host.says("Nobody was seated.")
	host.look("byhand-refused")
	for _, name := range []string{"Odo", "Ulla", "Ben"} {
		host.visit(c.console + session + "/lobby")
		host.tap("#byhand-ask")
		host.fill("#byhand-name", name)
		host.submit("#byhand-go")
		host.says("on paper")
	}
	host.look("byhand-lobby")
	host.tap("#deviation-ask")
	host.fill("#deviation", "The lamp over seat 3 was white for a minute.")
	host.submit("#deviation-go")
	host.says("The lamp over seat 3")
	host.tap("=Pour for the 3 who came")
	host.submit("#lobby-freeze")
	host.submit("#lobby-start")
	host.waitFor("the board", `location.pathname.endsWith('/board')`)
	host.submit("#next-serve")
	host.says("Paper ballots to type in")
	host.look("byhand-board")
}

// typeBallots types three ballots in: one after a refusal, one twice.
func typeBallots(b *browser, host *tab, c *child, session string) {
	host.submit("#due-1")
	host.look("ballot-empty")
	host.tap(".ballot-cup:nth-of-type(2) input")
	host.submit("#ballot-next")
	host.says("Choose the two cups")
	host.look("ballot-fault")
	host.tap(".ballot-cup:nth-of-type(4) input")
	host.tap("[name=guess]")
	host.submit("#ballot-next")
	host.says("It is final.")
	host.look("ballot-sure")
	host.submit("#ballot-change")
	host.waitFor("both cups still chosen", `document.querySelectorAll('.ballot-cup input:checked').length === 2 && document.querySelector('[name=guess]').checked`)
	host.look("ballot-chosen")
	host.submit("#ballot-next")
	host.submit("#ballot-lock")
	host.waitFor("the board", `location.pathname.endsWith('/board')`)
	host.says("from paper,")

	other := b.open("second window", false)
	for _, p := range []*tab{host, other} {
		p.visit(c.console + session + "/seats/2/ballot")
		p.tap(".ballot-cup:nth-of-type(1) input")
		if p == host {
			p.tap(".ballot-cup:nth-of-type(2) input")
		} else {
			p.tap(".ballot-cup:nth-of-type(3) input")
		}
		p.submit("#ballot-next")
	}
	host.submit("#ballot-lock")
	other.submit("#ballot-lock")
	other.says("is locked already, with another answer")
	other.look("ballot-answered")
	host.visit(c.console + session + "/board?seat=3")
	host.look("byhand-chosen")
}

// breakSeal breaks the seal after a refusal; the mark is on every page then.
func breakSeal(host *tab, c *child, session string) {
	host.visit(c.console + session + "/trail")
	host.tap("#break-ask")
	host.look("break-ask")
	host.fill("#break-reason", "the vessels may have been mixed up at the pour")
	host.fill("#break-word", "please")
	host.submit("#break-go")
	host.says("Type the word break.")
	host.look("break-refused")
	host.fill("#break-word", "break")
	host.submit("#break-go")
	host.says("Whoever reads on is not blind.")
	host.look("break-key")
	for name, page := range map[string]string{
		"board": session + "/board", "home": "/", "print": session + "/print", "labels": session + "/print/labels", "trail": session + "/trail",
	} {
		host.visit(c.console + page)
		host.waitFor("the mark on "+name, `/seal broken at/i.test(document.body.innerText)`)
		host.look("broken-" + name)
	}
}

// amend takes a set out after the close and looks at both results.
func amend(host *tab, c *child, session string) {
	host.visit(c.console + session + "/board")
	host.tap("#next-early-ask")
	host.submit("#next-close")
	host.waitFor("the reveal page", `location.pathname.endsWith('/reveal')`)
	host.look("amend-reveal")
	host.submit("#reveal-amend")
	host.look("amend-list")
	host.submit(".table-amend .link-act")
	host.fill("#amend-reason", "poured from one vessel only")
	host.look("amend-chosen")
	host.submit("#amend-go")
	host.says("poured from one vessel only")
	host.submit("=Reveal the result")
	host.waitFor("the result", `location.pathname.endsWith('/result')`)
	host.says("Amended result")
	host.look("amend-result")
}
