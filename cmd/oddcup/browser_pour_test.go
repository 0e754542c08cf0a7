package main

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestBrowserPourTabs opens the pour sheet in two tabs of one browser: what is
// printed or closed in one closes in the other too, since a print out of a tab
// that stayed open would stand in no journal.
func TestBrowserPourTabs(t *testing.T) {
	b, c, host := hostWithLots(t)
	m := methodPlay{name: "pour", method: "triangle", title: "Friday table", seats: 6, sets: 1, cups: 3}
	session := m.seal(t, host, c)

	door := strings.Replace(session, "/s/", "/pour/", 1)
	first := b.open("pourer", false)
	open := func() {
		first.visit(c.console + door + "/sheet")
		first.waitFor("the PIN page", `document.querySelector('#pin')`)
		first.fill("#pin", testPin)
		first.submit("=Open the pour sheet")
		first.waitFor("the sheet", `document.querySelector('.sheet')`)
	}
	open()
	ctx, stop := chromedp.NewContext(first.ctx) // another tab with the same cookies
	t.Cleanup(stop)
	second := &tab{b: b, ctx: ctx, name: "pourer’s other tab"}
	second.size(false)
	second.visit(c.console + door + "/vessels")
	second.waitFor("the vessels", `document.querySelector('.sheet')`)

	value[bool](first, `dispatchEvent(new Event('beforeprint'))`)
	first.says("closes by itself at")
	second.waitFor("the other tab to count down", `document.querySelector('[data-printed]').dataset.done !== undefined`)
	first.submit("=Close the sheet")
	second.waitFor("the door in the other tab", `location.pathname === `+quote(door)+` && document.querySelector('#pin')`)
	if value[bool](second, `document.body.innerText.includes('The sheet is open')`) {
		t.Error("the other tab says that the sheet is open")
	}
	first.look("pour-door-closed")

	open()
	second.visit(c.console + door)
	second.waitFor("the door that says so", `document.body.innerText.includes('The sheet is open')`)
	second.look("pour-door-open")
	second.submit("=Close the sheet")
	first.waitFor("the door in the first tab", `location.pathname === `+quote(door)+` && document.querySelector('#pin')`)
}
