package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math/big"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// methodPlay is a session of one method with real pages.
type methodPlay struct {
	name   string
	method string            // option of the method's field
	fields map[string]string // further fields of the test, by name
	picks  map[string]string // further choices of the test
	title  string
	seats  int
	sets   int
	cups   int
	ask    string // the phone's question
	count  string // the result's sentence, after the count
	// right says by the laboratory's own key whether places of an order are a
	// correct answer: written here anew, from the methods' standards.
	right  func(order string, places []int) bool
	chance *big.Rat
}

// matches are the places from 1 on that hold what the reference holds.
func matches(order string, places []int) bool { return order[places[0]] == order[0] }

func processed(order string, places []int) bool { return order[places[0]] == 'B' }

func paired(order string, places []int) bool { return order[places[0]] == order[places[1]] }

var methodPlays = []methodPlay{
	{
		name: "duotrio", method: "duo-trio", picks: map[string]string{"goal": "both"}, title: "Monday table", seats: 4, sets: 1, cups: 3,
		ask: "Which one is the same as the reference?", count: "of 4 matched the reference", right: matches, chance: big.NewRat(1, 2),
	},
	{
		name: "tetrad", method: "tetrad", picks: map[string]string{"goal": "similarity"}, title: "Tuesday table", seats: 6, sets: 1, cups: 4,
		ask: "Which two are the same?", count: "of 6 sorted the cups into the two pairs", right: paired, chance: big.NewRat(1, 3),
	},
	{
		name: "3afc", method: "3-AFC", fields: map[string]string{"attribute": "bitterness", "definition": "Bitterness: as of strong tea left to stand."},
		picks: map[string]string{"more": "more of it"}, title: "Thursday table", seats: 3, sets: 1, cups: 3,
		ask: "Which cup has the most bitterness?", count: "of 3 picked the processed lot as the one with more bitterness", right: processed, chance: big.NewRat(1, 3),
	},
	{
		name: "pair", method: "paired", fields: map[string]string{"attribute": "body", "definition": "Body: how full it feels in the mouth."},
		picks: map[string]string{"sided": "two"}, title: "Friday table", seats: 2, sets: 3, cups: 2,
		ask: "Which cup has less body?", count: "mostly picked the processed lot as the one with less body", right: processed, chance: big.NewRat(1, 2),
	},
}

// TestBrowserMethods plays a whole session of each method but the triangle,
// which TestBrowser has, from the plan page to the result.
func TestBrowserMethods(t *testing.T) {
	b, c, host := hostWithLots(t)
	for _, m := range methodPlays {
		t.Run(m.name, func(t *testing.T) {
			b.t = t
			m.play(t, b, host, c)
		})
	}
	b.t = t
}

// hostWithLots starts a browser and oddcup with a new file, and enters two lots.
func hostWithLots(t *testing.T) (*browser, *child, *tab) {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a browser")
	}
	t.Parallel()
	b := startBrowser(t)
	c := startServe(t, "--data", filepath.Join(t.TempDir(), "lab.oddcup"),
		"--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0", "--name", tasterHost)
	host := b.open("host", false)
	host.visit(c.console)
	enterLots(host, c)
	return b, c, host
}

func enterLots(host *tab, c *child) {
	host.fill("#name", "Lab of the Tall Window (invented)")
	host.submit("=Keep the name")
	for _, treatment := range []string{"untreated", "water"} {
		host.visit(c.console + "/lots")
		host.fill("#number", "TW-2207")
		host.choose("#treatment", treatment)
		host.submit("=Enter the lot")
		host.says("not released for tasting")
	}
	release(host, c)
}

func (m methodPlay) play(t *testing.T, b *browser, host *tab, c *child) {
	session := m.seal(t, host, c)
	trays := m.traysOf(t, b, c, session)
	host.visit(c.console + session + "/print/ballots")
	host.says(m.ask)
	host.look(m.name + "-ballots")
	host.visit(c.console + session + "/print/trays")
	host.look(m.name + "-trays")

	host.visit(c.console + session + "/print/seats")
	doors := regexp.MustCompile(`/j/([2-9A-Z]{6})`).FindAllStringSubmatch(value[string](host, `document.body.innerHTML`), -1)
	host.visit(c.console + session + "/lobby")
	host.submit("=Open the lobby")
	host.waitFor("the open lobby", `!document.querySelector('#lobby-open')`)
	var phones []*tab
	for i, at := 0, ""; i < len(doors); i++ {
		if doors[i][1] == at {
			continue
		}
		at = doors[i][1]
		p := b.open(fmt.Sprintf("%s, seat %d", m.name, len(phones)+1), true)
		p.visit(c.join + "/j/" + at)
		p.fill("#name", fmt.Sprintf("Taster %d", len(phones)+1))
		p.tap("=Take this seat")
		p.waitFor("the seat", `!document.querySelector('#name')`)
		phones = append(phones, p)
	}
	if len(phones) != m.seats {
		t.Fatalf("%d seat cards, want %d", len(phones), m.seats)
	}
	host.waitFor("everyone", `document.body.innerText.includes('Pour for the `+fmt.Sprint(m.seats)+`')`)
	host.tap(fmt.Sprintf("=Pour for the %d who came", m.seats))
	host.submit("#lobby-freeze")
	m.pour(b, c, session)
	host.visit(c.console + session + "/lobby")
	host.submit("#lobby-start")
	host.waitFor("the board", `location.pathname.endsWith('/board')`)
	for set := 1; set <= m.sets; set++ {
		host.submit("#next-serve")
		for i, p := range phones {
			m.answer(p, trays[fmt.Sprintf("%d/%d", i+1, set)], i+set, i == 0 && set == 1)
		}
	}
	host.waitFor("the close", `document.querySelector('#next-close.button-primary')`)
	host.submit("#next-close")
	host.waitFor("the reveal page", `location.pathname.endsWith('/reveal')`)
	host.submit("=Reveal the result")
	host.waitFor("the result", `location.pathname.endsWith('/result')`)
	host.says(m.count)
	host.look(m.name + "-result")
	m.recount(t, c, session)
	for _, p := range phones {
		value[bool](p, `(location.href = 'about:blank', true)`)
	}
}

// seal plans the session on the page and seals it.
func (m methodPlay) seal(t *testing.T, host *tab, c *child) string {
	host.visit(c.console + "/")
	host.tap("[name=template][value=tell]")
	host.submit(".new-session button")
	host.waitFor("the plan page", `location.pathname.endsWith('/plan')`)
	session := strings.TrimSuffix(value[string](host, `location.pathname`), "/plan")
	host.fill("[name=title]", m.title)
	host.choose("[name='tests.0.method']", m.method)
	for _, name := range []string{"goal", "more", "sided"} {
		if v := m.picks[name]; v != "" {
			host.waitFor("the choice "+name, find("[name='tests.0."+name+"']"))
			value[bool](host, `(() => { const e = document.querySelector("[name='tests.0.`+name+`']"), o = [...e.options].find(o => o.value === `+quote(v)+` || o.text.includes(`+quote(v)+`));
				e.value = o.value; e.dispatchEvent(new Event('input', {bubbles: true})); e.dispatchEvent(new Event('change', {bubbles: true})); return true; })()`)
		}
	}
	for name, words := range m.fields {
		host.fill("[name='tests.0."+name+"']", words)
	}
	host.fill("[name='tests.0.sets']", fmt.Sprint(m.sets))
	host.fill("[name=seats]", fmt.Sprint(m.seats))
	host.fill("[name='serving.rinseS']", "0")
	host.fill("#pin", testPin)
	host.fill("#pin2", testPin)
	host.look(m.name + "-plan")
	host.submit("=Seal this plan")
	host.waitFor("the seal", `!document.querySelector('[name=seats]:not([type=hidden])') && document.body.innerText.includes('ealed')`)
	host.visit(c.console + session + "/plan")
	host.look(m.name + "-sealed")
	return session
}

// traysOf reads the codes from the labels.
func (m methodPlay) traysOf(t *testing.T, b *browser, c *child, session string) map[string][]string {
	page := b.open("labels", false)
	page.visit(c.console + session + "/print/labels")
	page.look(m.name + "-labels")
	codes := value[[]string](page, `[...document.querySelectorAll('.sheet-labels [role=img]')].map(e => e.getAttribute('aria-label')).filter(c => /^[0-9]{3}$/.test(c))`)
	words := value[[]string](page, `[...document.querySelectorAll('.sheet-labels li, .sheet-labels .label')].map(e => e.innerText.replace(/\s+/g, ' '))`)
	if want := m.seats * m.sets * m.cups; len(codes) != want || len(words) != want {
		t.Fatalf("%d codes on %d labels, want %d", len(codes), len(words), want)
	}
	trays := map[string][]string{}
	at := regexp.MustCompile(`seat (\d+).*?set (\d+)`)
	for i, w := range words {
		found := at.FindStringSubmatch(w)
		if found == nil {
			t.Fatalf("label %d says %q", i, w)
		}
		trays[found[1]+"/"+found[2]] = append(trays[found[1]+"/"+found[2]], codes[i])
	}
	return trays
}

func (m methodPlay) pour(b *browser, c *child, session string) {
	p := b.open("pourer", false)
	p.visit(c.console + strings.Replace(session, "/s/", "/pour/", 1) + "/sheet")
	p.waitFor("the PIN page", `document.querySelector('#pin')`)
	p.fill("#pin", testPin)
	p.submit("=Open the pour sheet")
	p.waitFor("the sheet", `document.querySelector('.sheet')`)
	p.look(m.name + "-pour")
}

// answer checks the tray and picks by place, another one for each seat.
func (m methodPlay) answer(p *tab, codes []string, n int, look bool) {
	p.check(codes[0])
	p.says(m.ask)
	if look {
		p.look(m.name + "-taste")
	}
	from := 0
	if m.method == "duo-trio" {
		from = 1
	}
	choices := m.cups - from
	p.tap(fmt.Sprintf(".tray .row label:nth-of-type(%d)", 1+n%choices))
	if m.cups == 4 {
		p.tap(fmt.Sprintf(".tray .row label:nth-of-type(%d)", 1+(n+1+n/2%2)%choices))
	}
	p.waitFor("a pick", find("button.primary"))
	if look {
		p.look(m.name + "-picked")
	}
	p.lock()
	p.waitFor("kept", `/Kept|in\.|follows|Rinse/.test(document.body.innerText)`)
	if look {
		p.look(m.name + "-kept")
	}
}

// recount holds the result against the trays by the rules written in this
// file, and the p of one set a seat against exact fractions.
func (m methodPlay) recount(t *testing.T, c *child, session string) {
	t.Helper()
	answer, err := http.Get(c.console + session + "/result.json")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	var r struct {
		Tests []struct {
			N       int     `json:"n"`
			Correct int     `json:"correct"`
			P       float64 `json:"p"`
			Goal    string  `json:"goal"`
		} `json:"tests"`
		Trays []struct {
			Seat   int
			Codes  []int  `json:"codes"`
			Order  string `json:"order"`
			Answer struct {
				Picked  []int `json:"picked_codes"`
				Correct bool  `json:"correct"`
			} `json:"answer"`
		} `json:"trays"`
	}
	if err := json.Unmarshal(body, &r); err != nil {
		t.Fatalf("result.json: %v", err)
	}
	if len(r.Trays) != m.seats*m.sets || len(r.Tests) != 1 {
		t.Fatalf("%d trays and %d tests in result.json", len(r.Trays), len(r.Tests))
	}
	correct, bySeat := 0, map[int]int{}
	for _, tray := range r.Trays {
		var places []int
		for _, code := range tray.Answer.Picked {
			for at, on := range tray.Codes {
				if on == code {
					places = append(places, at)
				}
			}
		}
		right := len(places) == len(tray.Answer.Picked) && len(places) > 0 && m.right(tray.Order, places)
		if right != tray.Answer.Correct {
			t.Errorf("seat %d: %s of %s, correct %v", tray.Seat, fmt.Sprint(places), tray.Order, tray.Answer.Correct)
		}
		if right {
			correct++
			bySeat[tray.Seat]++
		}
	}
	got := r.Tests[0]
	if m.sets > 1 { // an odd number of pairs: majorities of tasters
		correct = 0
		for _, n := range bySeat {
			if 2*n > m.sets {
				correct++
			}
		}
	}
	if got.N != m.seats || got.Correct != correct {
		t.Errorf("%d of %d, recounted %d of %d", got.Correct, got.N, correct, m.seats)
	}
	if got.Goal == "similarity" || m.sets > 1 {
		return
	}
	tail, one := new(big.Rat), big.NewRat(1, 1)
	for k := correct; k <= m.seats; k++ {
		term := new(big.Rat).SetInt(new(big.Int).Binomial(int64(m.seats), int64(k)))
		for i := range m.seats {
			if i < k {
				term.Mul(term, m.chance)
			} else {
				term.Mul(term, new(big.Rat).Sub(one, m.chance))
			}
		}
		tail.Add(tail, term)
	}
	if want, _ := tail.Float64(); got.P < want*(1-1e-12) || got.P > want*(1+1e-12) {
		t.Errorf("p %v, by exact fractions %v", got.P, want)
	}
}
