package main

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestBrowser takes a head cupper and six tasters through a whole session in a
// real browser, against the program as a process of its own. Phones use a name
// that is not localhost, so that nothing relies on a secure context. On the way
// a phone reloads, one is out of reach while it locks, one sits before the wrong
// tray, and one spills a cup.
func TestBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	t.Parallel()
	b := startBrowser(t)
	c := startServe(t, "--data", filepath.Join(t.TempDir(), "lab.oddcup"),
		"--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0", "--name", tasterHost)
	if !strings.HasPrefix(c.join, "http://"+tasterHost+":") {
		t.Fatalf("the tasters' address is %s", c.join)
	}
	host := b.open("host", false)
	host.visit(c.console)
	session := prepare(t, host, c)
	seatDoors := doors(t, host, c, session)
	phones := arrive(t, b, host, c, session, seatDoors)
	pour(t, b, c, session)
	firstSet(t, b, host, c, session, phones, seatDoors)
	secondSet(t, host, c, session, phones)
	reveal(t, host, c, session, phones)
}

// prepare goes from the first start to a sealed plan and gives the session's path.
func prepare(t *testing.T, host *tab, c *child) string {
	host.says("First, name the laboratory")
	host.look("home-first")
	host.fill("#name", "Lab of the Tall Window (invented)")
	host.submit("=Keep the name")
	for _, treatment := range []string{"untreated", "water"} {
		host.visit(c.console + "/lots")
		if treatment == "untreated" {
			host.look("lots-empty")
		}
		host.fill("#number", "TW-2207")
		host.choose("#treatment", treatment)
		host.submit("=Enter the lot")
		host.says("not released for tasting")
	}
	host.visit(c.console + "/")
	host.submit("=Draft a session")
	host.waitFor("the plan page", `location.pathname.endsWith('/plan')`)
	session := strings.TrimSuffix(value[string](host, `location.pathname`), "/plan")
	host.waitFor("the power curve", `document.querySelector('#part-forecast-0 svg, [id^=part-forecast] svg')`)
	host.look("plan")
	// Six tasters can show little, and the plan says so before it is sealed.
	host.fill("[name=seats]", "6")
	host.says("will mostly fail to show")
	host.says("0.14") // power at pd 30 %: exact binomial, n = 6
	host.look("plan-six")
	host.fill("[name='serving.rinseS']", "1")
	host.tap("[name='serving.ownResult']")
	// Without a PIN nothing is sealed, and what was typed stays.
	host.submit("=Seal this plan")
	host.waitFor("the refusal", `document.querySelector('.trouble')`)
	host.waitFor("six seats still typed", `document.querySelector('[name=seats]').value === '6'`)
	host.tap("#judging > summary") // control sets, folded for most sessions
	host.look("plan-refused")
	host.fill("#pin", testPin)
	host.fill("#pin2", testPin)
	host.submit("=Set the PIN")
	host.says("Replace the PIN")
	host.submit("=Seal this plan")
	host.waitFor("the seal", `!document.querySelector('[name=seats]:not([type=hidden])') && document.body.innerText.includes('ealed')`)
	host.visit(c.console + session + "/plan")
	host.look("plan-sealed")
	host.visit(c.console + "/")
	host.look("home-sealed")
	return session
}

const testPin = "4790"

// doors prints everything that is the same under every key, and reads the seat
// cards' codes from them.
func doors(t *testing.T, host *tab, c *child, session string) []string {
	for _, sheet := range []string{"", "/labels", "/labels?on=letter-30&from=5", "/labels?on=roll-57", "/trays", "/ballots", "/worksheet", "/seats"} {
		host.visit(c.console + session + "/print" + sheet)
		host.look("print" + regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(sheet, "-"))
	}
	text := value[string](host, `document.body.innerHTML`)
	var found []string
	for _, m := range regexp.MustCompile(`/j/([2-9A-Z]{6})`).FindAllStringSubmatch(text, -1) {
		if len(found) == 0 || found[len(found)-1] != m[1] {
			found = append(found, m[1])
		}
	}
	if len(found) != 6 {
		t.Fatalf("the seat cards hold the codes %v", found)
	}
	return found
}

// byCode comes to the front page, which leads to the one open lobby, types the
// code of a seat card where a name is asked for, and is led to its field.
func byCode(p *tab, c *child, door string) {
	p.visit(c.join)
	p.says("The host’s laptop gives you the next free one")
	p.look("phone-join-free")
	p.tap("=I have a seat card")
	p.says("Which seat is yours?")
	p.look("phone-card")
	p.tap("=I have no card")
	p.fill("#name", strings.ToLower(door))
	p.tap("=Take the next free seat")
	p.says("That is the code of a seat card, not a name.")
	p.waitFor("the code in its field", `document.querySelector('#code').value === `+quote(strings.ToLower(door)))
	p.look("phone-card-named")
	p.tap("=Go to the seat")
	p.waitFor("the address of the seat", `location.pathname.endsWith(`+quote("/j/"+door)+`)`)
}

// arrive opens the lobby and lets six people sit down.
func arrive(t *testing.T, b *browser, host *tab, c *child, session string, doors []string) []*tab {
	host.visit(c.console + session + "/lobby")
	host.look("lobby-shut")
	host.submit("=Open the lobby")
	host.waitFor("the open lobby", `location.pathname.endsWith('/lobby') && !document.querySelector('#lobby-open')`)
	host.look("lobby-empty")

	lost := b.open("lost phone", true)
	lost.visit(c.join + "/j/ZZZZZZ")
	lost.says("No session here has this code")
	lost.look("phone-nodoor")

	var phones []*tab
	for i, door := range doors {
		p := b.open(fmt.Sprintf("seat %d", i+1), true)
		if i == 5 {
			byCode(p, c, door)
		} else {
			p.visit(c.join + "/j/" + door)
		}
		p.says("This is seat")
		if i == 0 {
			if value[bool](p, `window.isSecureContext`) {
				t.Error("the phones' page is in a secure context: this test would not notice what real phones lack")
			}
			p.look("phone-join")
			p.tap("=I would rather sit out")
			p.look("phone-out")
			p.tap("=I would like to taste after all")
			p.says("This is seat")
		}
		p.fill("#name", fmt.Sprintf("Taster %d", i+1))
		p.tap("=Take this seat")
		p.waitFor("the seat", `!document.querySelector('#name')`)
		if i == 0 {
			p.look("phone-lobby")
		}
		phones = append(phones, p)
	}
	taken := b.open("second phone", true)
	taken.visit(c.join + "/j/" + doors[0])
	taken.says("taken")
	taken.look("phone-taken")

	host.says("Pour for the 6 who came")
	host.look("lobby-full")
	host.tap("=Pour for the 6 who came")
	host.submit("#lobby-freeze")
	host.says("not released for tasting")
	host.look("lobby-unreleased")
	late := b.open("late phone", true)
	late.visit(c.join + "/j/" + doors[5])
	late.says("The list is closed")
	if text := value[string](late, `document.body.innerText`); strings.Count(text, "Ask the host") != 1 {
		t.Errorf("a phone that comes late is sent to the host twice, or never: %s", text)
	}
	late.look("phone-late")
	release(host, c)
	host.visit(c.console + session + "/lobby")
	host.look("lobby-frozen")
	host.submit("#lobby-start")
	host.waitFor("the board", `location.pathname.endsWith('/board')`)
	host.look("board-opened")
	phones[0].says("pouring the first set")
	phones[0].look("phone-wait")
	return phones
}

func release(host *tab, c *child) {
	for _, lot := range []string{"lot-1", "lot-2"} {
		host.visit(c.console + "/lots")
		if value[bool](host, `!document.getElementById('release-`+lot+`').open`) {
			host.tap("#release-" + lot + " > summary")
		}
		host.fill("#release-"+lot+" [name=by]", "Laboratory on duty (invented)")
		host.fill("#release-"+lot+" [name=report]", "R-118 (invented)")
		host.submit("#release-" + lot + " button")
		host.waitFor("the release", `document.getElementById('lot-`+lot+`').innerText.includes('eleased')`)
	}
	host.look("lots-released")
}

// pour opens the pour sheet with the PIN, after a wrong one.
func pour(t *testing.T, b *browser, c *child, session string) {
	p := b.open("pourer", false)
	address := c.console + strings.Replace(session, "/s/", "/pour/", 1)
	p.visit(address + "/sheet")
	p.waitFor("the PIN page", `document.querySelector('#pin')`)
	p.look("pour-pin")
	p.fill("#pin", "1111")
	p.submit("=Open the pour sheet")
	p.waitFor("the refusal", `document.querySelector('#pin') && document.querySelector('.field-bad, .trouble')`)
	p.look("pour-refused")
	p.fill("#pin", testPin)
	p.submit("=Open the pour sheet")
	p.waitFor("the sheet", `location.pathname.endsWith('/sheet') && document.querySelector('.sheet')`)
	p.look("pour-sheet")
	p.visit(address + "/sheet?order=vessel")
	p.says("then the diamond")
	p.look("pour-vessel")
	p.visit(address + "/vessels")
	p.look("pour-vessels")
}

// check types the leftmost code of the tray, read from the page's own cups by
// way of the board: the phone alone doesn't tell it before it is typed.
func (p *tab) check(code string) {
	p.b.t.Helper()
	p.says("Is this your tray?")
	for _, digit := range code {
		p.tap("[aria-label=keypad] button:nth-of-type(" + map[rune]string{
			'1': "1", '2': "2", '3': "3", '4': "4", '5': "5", '6': "6", '7': "7", '8': "8", '9': "9", '0': "11",
		}[digit] + ")")
	}
}

// codesOf reads a tray's codes from its tray card.
func codesOf(t *testing.T, host *tab, c *child, session string) map[string][]string {
	t.Helper()
	page := host.b.open("tray cards", false)
	page.visit(c.console + session + "/print/labels")
	labels := value[[]string](page, `[...document.querySelectorAll('.sheet-labels [role=img]')].map(e => e.getAttribute('aria-label'))`)
	words := value[[]string](page, `[...document.querySelectorAll('.sheet-labels li, .sheet-labels .label')].map(e => e.innerText.replace(/\s+/g, ' '))`)
	if len(labels) != len(words) || len(labels) != 30 {
		t.Fatalf("%d codes on %d labels, want 30", len(labels), len(words))
	}
	trays := map[string][]string{}
	at := regexp.MustCompile(`seat (\d+).*?set (\d+)`)
	for i, w := range words {
		m := at.FindStringSubmatch(w)
		if m == nil {
			t.Fatalf("label %d says %q", i, w)
		}
		key := m[1] + "/" + m[2]
		trays[key] = append(trays[key], labels[i])
	}
	return trays
}

func (p *tab) pick(place int) {
	p.b.t.Helper()
	p.tap(fmt.Sprintf("[role=radiogroup] label:nth-of-type(%d)", place))
	p.says("your pick")
}

func (p *tab) lock() {
	p.b.t.Helper()
	p.tap("button.primary")
}

func firstSet(t *testing.T, b *browser, host *tab, c *child, session string, phones []*tab, doors []string) {
	trays := codesOf(t, host, c, session)
	host.submit("#next-serve")
	for i, p := range phones {
		p.says("Is this your tray?")
		if i == 0 {
			p.look("phone-check")
			p.check(trays["2/1"][0]) // the neighbour's tray
			p.says("is not the leftmost cup of this tray")
			p.look("phone-wrongtray")
			host.waitFor("the wrong tray on the board", `document.querySelector('[aria-label="`+trays["2/1"][0]+`"]')`)
			host.look("board-wrongtray")
			p.tap("=Type it again")
		}
		p.check(trays[fmt.Sprintf("%d/1", i+1)][0])
		p.says("Which one is different?")
	}
	phones[0].look("phone-taste")
	phones[0].pick(2)
	phones[0].pick(3)
	phones[0].tap("=I was guessing")
	phones[0].look("phone-picked")
	// A reload before the lock comes back to the same place.
	phones[0].visit(c.join + "/j/" + doors[0])
	phones[0].says("Which one is different?")
	phones[0].pick(3)
	phones[0].lock()
	phones[0].says("Kept")
	phones[0].look("phone-kept")
	// A reload after it does too.
	phones[0].visit(c.join + "/j/" + doors[0])
	phones[0].waitFor("the place after the lock", `!document.querySelector('[role=radiogroup]') && !document.querySelector('[aria-label=keypad]') && document.querySelector('h1')`)

	// Seat 2 is out of reach while it locks: the answer waits on the phone.
	phones[1].pick(1)
	phones[1].offline(true)
	phones[1].lock()
	phones[1].says("On this phone")
	phones[1].look("phone-onphone")
	time.Sleep(6 * time.Second) // longer than the page waits for an answer
	if strings.Contains(value[string](phones[1], `document.body.innerText`), "on the host’s disk since") {
		t.Error("seat 2 says kept while it is out of reach")
	}
	phones[1].look("phone-offline")
	phones[1].offline(false)
	phones[1].waitFor("the answer to be kept", `/Kept|Rinse|Set 2 follows|pouring/.test(document.body.innerText)`)

	// Seat 3 spills a cup: void, and the replacement under other codes.
	phones[2].tap("=Call the host")
	phones[2].look("phone-call")
	phones[2].tap("=I spilled a cup")
	phones[2].look("phone-called")
	host.says("spilled a cup")
	host.look("board-calling")
	voidAndReplace(host)
	phones[2].says("Is this your tray?")
	phones[2].look("phone-again")
	host.waitFor("the replacement's labels", `[...document.querySelectorAll('a')].some(a => a.href.includes('take=1'))`)
	labels := b.open("labels again", false)
	labels.visit(value[string](host, `[...document.querySelectorAll('a')].find(a => a.href.includes('take=1')).href`))
	again := value[[]string](labels, `[...document.querySelectorAll('.sheet-labels [role=img]')].map(e => e.getAttribute('aria-label'))`)
	if len(again) != 3 || again[0] == trays["3/1"][0] {
		t.Fatalf("the replacement's labels are %v; the first ones were %v", again, trays["3/1"])
	}
	labels.look("print-labels-again")
	chooseSeat(host)
	phones[2].check(again[0])
	for _, p := range phones[2:] {
		p.pick(2)
		p.lock()
		p.says("Kept")
	}
	host.waitFor("all six locked", `document.querySelector('#next-serve') && document.querySelector('#next-serve').classList.contains('button-primary')`)
	host.look("board-locked")
	phones[3].waitFor("the rinse or the wait", `/Rinse|Set 2 follows/.test(document.querySelector('h1').innerText + document.body.innerText)`)
}

// chooseSeat looks at a seat beside the table, which stays in sight, and folds out
// what asks first: to leave, and to serve while seats are out.
func chooseSeat(host *tab) {
	host.b.t.Helper()
	host.tap("#seat-link-5")
	host.says("Seat 5, Taster 5")
	for _, element := range []string{"#seat-1", "#seat-6", "#chosen"} {
		if !value[bool](host, `(() => { const r = document.querySelector(`+quote(element)+`).getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight; })()`) {
			host.b.t.Errorf("with a seat chosen, %s is out of sight", element)
		}
	}
	host.look("board-chosen")
	host.tap("#leave-5-ask")
	host.says("Has whoever sat at seat 5 (Taster 5) left?")
	host.tap("#next-before-ask")
	host.says("Serve set 2 to all while seats 3 to 6 have not locked set 1?")
	host.look("board-asks")
	host.tap("#chosen-shut")
	host.waitFor("the board without a seat", `!document.querySelector('#chosen')`)
}

// voidAndReplace uses the board's own offer for the seat that calls.
func voidAndReplace(host *tab) {
	host.b.t.Helper()
	host.waitFor("the offer to call the replacement", `[...document.querySelectorAll('button[name=replace][value="1"]')].length`)
	if !value[bool](host, `!!`+find(`button[name=replace][value="1"]`)) {
		host.tap(".ask summary")
	}
	host.submit(`button[name=replace][value="1"]`)
}

func secondSet(t *testing.T, host *tab, c *child, session string, phones []*tab) {
	trays := codesOf(t, host, c, session)
	host.submit("#next-serve")
	for i, p := range phones {
		p.check(trays[fmt.Sprintf("%d/2", i+1)][0])
		p.says("less body")
		if i == 0 {
			p.look("phone-pair")
		}
		p.pick(1)
		p.lock()
		p.waitFor("kept", `/Kept|All sets are in/.test(document.body.innerText)`)
	}
	host.waitFor("the close", `document.querySelector('#next-close')`)
	phones[0].waitFor("the end of the sets", `!document.body.innerText.includes('Kept.')&& /sets are in/i.test(document.body.innerText)`)
	phones[0].look("phone-done")
	host.look("board-done")
	host.visit(c.console + session + "/result")
	host.look("result-shut")
	host.visit(c.console + session + "/board")
	host.submit("#next-close")
	host.waitFor("the reveal page", `location.pathname.endsWith('/reveal')`)
	host.look("reveal")
}

func reveal(t *testing.T, host *tab, c *child, session string, phones []*tab) {
	host.submit("=Reveal the result")
	host.waitFor("the result", `location.pathname.endsWith('/result')`)
	host.says("of 6 found the odd cup")
	host.look("result")
	host.visit(c.console + session + "/report")
	host.look("report")
	for _, p := range phones {
		p.waitFor("own results", `/odd cup|other cup/.test(document.body.innerText)`)
	}
	phones[0].look("phone-results")
	host.visit(c.console + session + "/trail")
	host.look("trail")
	host.visit(c.console + "/")
	host.look("home-revealed")
	host.visit(c.console + "/nowhere")
	host.look("problem")
}
