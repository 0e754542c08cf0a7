package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// browser is one headless Chromium; each page in it has a context of its own,
// as two phones have.
type browser struct {
	t     testing.TB
	ctx   context.Context
	axe   string
	shots string // folder for screenshots, "" for none
}

// tasterHost is a name that is not localhost: on it, as on a phone, the page is
// in no secure context.
const tasterHost = "bench.test"

func findBrowser(t testing.TB) string {
	t.Helper()
	names := []string{"chromium-headless-shell", "chromium", "google-chrome", "chromium-browser"}
	if named := os.Getenv("ODDCUP_BROWSER"); named != "" {
		names = []string{named}
	}
	for _, n := range names {
		if path, err := exec.LookPath(n); err == nil {
			return path
		}
	}
	t.Fatalf("no browser: install Chromium (Debian: apt-get install chromium-headless-shell), or set ODDCUP_BROWSER to one; looked for %s", strings.Join(names, ", "))
	return ""
}

func startBrowser(t testing.TB) *browser {
	t.Helper()
	axe, err := os.ReadFile("../../testdata/axe-core/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(findBrowser(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("host-resolver-rules", "MAP "+tasterHost+" 127.0.0.1"),
	)
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, stop := chromedp.NewContext(alloc)
	t.Cleanup(func() { stop(); stopAlloc() })
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	b := &browser{t: t, ctx: ctx, axe: string(axe), shots: os.Getenv("ODDCUP_SHOTS")}
	if b.shots != "" {
		if err := os.MkdirAll(b.shots, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

// tab is one page.
type tab struct {
	b     *browser
	ctx   context.Context
	name  string
	phone bool
}

func (b *browser) open(name string, phone bool) *tab {
	b.t.Helper()
	ctx, stop := chromedp.NewContext(b.ctx, chromedp.WithNewBrowserContext())
	b.t.Cleanup(stop)
	p := &tab{b: b, ctx: ctx, name: name, phone: phone}
	p.size(phone)
	return p
}

func (p *tab) size(phone bool) {
	p.b.t.Helper()
	act := chromedp.EmulateViewport(1440, 900)
	if phone {
		act = chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulateScale(2))
	}
	if err := chromedp.Do(p.ctx, act); err != nil {
		p.b.t.Fatalf("%s: %v", p.name, err)
	}
}

func (p *tab) visit(address string) {
	p.b.t.Helper()
	if err := chromedp.Do(p.ctx, chromedp.Navigate(address)); err != nil {
		p.b.t.Fatalf("%s: %s: %v", p.name, address, err)
	}
}

// value evaluates JavaScript.
func value[T any](p *tab, js string) T {
	p.b.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](js))
	if err != nil {
		p.b.t.Fatalf("%s: %s: %v", p.name, js, err)
	}
	return v
}

// waitFor waits until a JavaScript expression is true.
func (p *tab) waitFor(what, js string) {
	p.b.t.Helper()
	end := time.Now().Add(15 * time.Second)
	for {
		ok, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("!!("+js+")"))
		if err == nil && ok {
			return
		}
		if time.Now().After(end) {
			text, _ := chromedp.Run(p.ctx, chromedp.Evaluate[string]("document.body ? location.href + '\\n' + document.body.innerText : ''"))
			p.keep("failed")
			p.b.t.Fatalf("%s: waited for %s; the page shows:\n%.1500s\n(last error: %v)", p.name, what, text, err)
		}
		time.Sleep(40 * time.Millisecond)
	}
}

// says waits until the page shows some words.
func (p *tab) says(words string) {
	p.b.t.Helper()
	p.waitFor(fmt.Sprintf("the words %q", words), fmt.Sprintf("document.body.innerText.replace(/\\s+/g,' ').includes(%s)", quote(words)))
}

func quote(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// find is JavaScript for the first visible element that a CSS selector names or,
// with "=words", the button, link, summary or label of these words.
func find(what string) string {
	if words, ok := strings.CutPrefix(what, "="); ok {
		return fmt.Sprintf(`[...document.querySelectorAll('button, a, summary, label, [role=radio]')].find(e => e.offsetParent !== null && (e.innerText || '').replace(/\s+/g,' ').trim() === %s)`, quote(words))
	}
	return fmt.Sprintf(`[...document.querySelectorAll(%s)].find(e => e.offsetParent !== null)`, quote(what))
}

// tap moves to the middle of an element and presses there, as a finger would:
// what lies over it is hit instead, and that fails.
func (p *tab) tap(what string) {
	p.b.t.Helper()
	p.waitFor("something to tap: "+what, find(what))
	// A live page may be drawn anew: nobody taps what is just moving.
	var at []float64
	for range 20 {
		before := at
		at = value[[]float64](p, `(() => { const e = `+find(what)+`; if (!e) return [-1]; e.scrollIntoView({block: 'center', behavior: 'instant'});
			const r = e.getBoundingClientRect(), x = r.x + r.width / 2, y = r.y + r.height / 2, hit = document.elementFromPoint(x, y);
			return hit && (e.contains(hit) || hit.contains(e)) ? [x, y] : []; })()`)
		if len(at) == 2 && slices.Equal(at, before) {
			break
		}
		time.Sleep(60 * time.Millisecond)
	}
	if len(at) != 2 {
		p.keep("failed")
		p.b.t.Fatalf("%s: %s lies under something else or outside the page", p.name, what)
	}
	if err := chromedp.Do(p.ctx, chromedp.MouseClickXY(at[0], at[1])); err != nil {
		p.b.t.Fatalf("%s: tap %s: %v", p.name, what, err)
	}
}

// submit taps what leads to another page, and waits for that page.
func (p *tab) submit(what string) {
	p.b.t.Helper()
	value[bool](p, `(window.stillHere = true)`)
	p.tap(what)
	p.waitFor("the page after "+what, `!window.stillHere && document.readyState === 'complete'`)
}

// fill types into a field, replacing what it holds.
func (p *tab) fill(selector, words string) {
	p.b.t.Helper()
	p.waitFor("the field "+selector, find(selector))
	value[bool](p, `(() => { const e = `+find(selector)+`; e.scrollIntoView({block: 'center'}); e.focus(); if (e.select) e.select(); return true; })()`)
	if err := chromedp.Do(p.ctx, chromedp.KeyEvent(words)); err != nil {
		p.b.t.Fatalf("%s: type into %s: %v", p.name, selector, err)
	}
}

// choose picks an option of a select by a part of its words.
func (p *tab) choose(selector, words string) {
	p.b.t.Helper()
	p.waitFor("the choice "+words, find(selector))
	ok := value[bool](p, `(() => { const e = `+find(selector)+`, o = [...e.options].find(o => o.text.includes(`+quote(words)+`));
		if (!o) return false; e.value = o.value; e.dispatchEvent(new Event('input', {bubbles: true})); e.dispatchEvent(new Event('change', {bubbles: true})); return true; })()`)
	if !ok {
		p.b.t.Fatalf("%s: %s offers no %q", p.name, selector, words)
	}
}

// cutOff is Network.emulateNetworkConditionsByRule in words that older and newer
// browsers take: Chromium 148 asks for "offline" beside the rules, later ones in
// each of them.
var cutOff = cdp.Command[cutOffParams, network.EmulateNetworkConditionsByRuleResult]{Method: network.CommandEmulateNetworkConditionsByRule}

type cutOffParams struct {
	Offline bool         `json:"offline"`
	Rules   []cutOffRule `json:"matchedNetworkConditions"`
}

type cutOffRule struct {
	Pattern  string  `json:"urlPattern"` // empty: all requests
	Offline  bool    `json:"offline"`
	Latency  float64 `json:"latency"`
	Download float64 `json:"downloadThroughput"`
	Upload   float64 `json:"uploadThroughput"`
}

// offline cuts a page from the network as a walk out of Wi-Fi does: an open
// socket stays open and is dumb.
func (p *tab) offline(off bool) {
	p.b.t.Helper()
	if _, err := chromedp.Call(p.ctx, network.Enable, network.EnableParams{}); err != nil {
		p.b.t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, cutOff, cutOffParams{off, []cutOffRule{{Offline: off, Download: -1, Upload: -1}}}); err != nil {
		p.b.t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{
		Offline: off, DownloadThroughput: -1, UploadThroughput: -1,
	}); err != nil {
		p.b.t.Fatal(err)
	}
}

// keep writes a screenshot where screenshots are wanted.
func (p *tab) keep(name string) {
	if p.b.shots == "" {
		return
	}
	png, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		p.b.t.Errorf("%s: screenshot %s: %v", p.name, name, err)
		return
	}
	if err := os.WriteFile(filepath.Join(p.b.shots, name+".png"), png, 0o644); err != nil {
		p.b.t.Error(err)
	}
}

// look checks a state in all three themes with axe, and that it does not
// scroll sideways; with ODDCUP_SHOTS it keeps screenshots at both sizes.
func (p *tab) look(name string) {
	p.b.t.Helper()
	before := value[string](p, `document.documentElement.dataset.theme || ''`)
	value[bool](p, `(() => { if (!window.axe) { `+p.b.axe+`; } return true; })()`)
	sizes := []bool{p.phone}
	if p.b.shots != "" {
		sizes = []bool{true, false}
	}
	for _, phone := range sizes {
		p.size(phone)
		at := map[bool]string{true: "390", false: "1440"}[phone]
		// A sheet of paper is as wide as paper.
		if wide := value[int](p, `document.body.classList.contains('paper') ? 0 : document.documentElement.scrollWidth - document.documentElement.clientWidth`); wide > 0 {
			p.b.t.Errorf("%s: %s at %s px is %d px too wide", p.name, name, at, wide)
		}
		for _, theme := range []string{"light", "dark", "red"} {
			value[bool](p, `(document.documentElement.dataset.theme = '`+theme+`', true)`)
			p.painted()
			p.see(fmt.Sprintf("%s-%s-%s", name, at, theme), theme == "red")
			if phone == p.phone {
				p.audit(name+" "+theme, theme == "light")
			}
		}
	}
	p.size(p.phone)
	value[bool](p, `(() => { const t = `+quote(before)+`; if (t) document.documentElement.dataset.theme = t; else delete document.documentElement.dataset.theme; return true; })()`)
}

// painted waits until two frames with the new colours have been drawn; a page in
// the background draws none, so not for ever.
func (p *tab) painted() {
	p.b.t.Helper()
	if _, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool](`new Promise(done => {
		requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(() => done(true), 30)));
		setTimeout(() => done(true), 300); })`, chromedp.EvalAwaitPromise)); err != nil {
		p.b.t.Errorf("%s: %v", p.name, err)
	}
}

// see takes a screenshot, keeps it where they are wanted, and looks at it. A
// page that redraws itself in the moment of the change may show both themes in
// one frame, so what is wrong must still be wrong after a rest.
func (p *tab) see(name string, red bool) {
	p.b.t.Helper()
	p.keep(name)
	wrong := ""
	for try := range 4 {
		time.Sleep(time.Duration(try) * 150 * time.Millisecond)
		if wrong = p.wrongIn(name, red); wrong == "" {
			return
		}
	}
	p.b.t.Errorf("%s: screenshot %s %s", p.name, name, wrong)
}

// wrongIn says what is wrong in a screenshot: it must not be blank, and under
// red lamps no pixel may hold green or blue, nor may a phone be brighter than a
// mean relative luminance of 0.015.
func (p *tab) wrongIn(name string, red bool) string {
	shot, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		return "can't be taken: " + err.Error()
	}
	picture, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		return "can't be read: " + err.Error()
	}
	colours := map[color.RGBA]int{}
	b := picture.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y += 2 { // every second line shows any stroke
		for x := b.Min.X; x < b.Max.X; x++ {
			colours[color.RGBAModel.Convert(picture.At(x, y)).(color.RGBA)]++
		}
	}
	if len(colours) < 3 {
		return "is blank"
	}
	if !red {
		return ""
	}
	seen, light := 0, 0.0
	for c, n := range colours {
		if c.G != 0 || c.B != 0 {
			return fmt.Sprintf("has %d pixels of #%02x%02x%02x under red lamps", n, c.R, c.G, c.B)
		}
		// Relative luminance of pure red (WCAG 2.2).
		v := float64(c.R) / 255
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		light += 0.2126 * v * float64(n)
		seen += n
	}
	if mean := light / float64(max(seen, 1)); p.phone && strings.Contains(name, "-390-") && mean > 0.015 {
		return fmt.Sprintf("has a mean luminance of %.4f under red lamps; 0.015 is the most", mean)
	}
	return ""
}

// audit runs axe over the page: all rules, or those of colour alone, as themes
// differ in nothing else.
func (p *tab) audit(name string, all bool) {
	p.b.t.Helper()
	rules := `['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']`
	if !all {
		rules = `{type: 'rule', values: ['color-contrast', 'link-in-text-block']}`
	}
	found, err := chromedp.Run(p.ctx, chromedp.Evaluate[json.RawMessage](`axe.run({runOnly: `+rules+`})
		.then(r => r.violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' (' + n.failureSummary.split('\n').slice(0, 2).join(' ') + ')').join(' | ')))`, chromedp.EvalAwaitPromise))
	if err != nil {
		p.b.t.Errorf("%s: axe on %s: %v", p.name, name, err)
		return
	}
	var violations []string
	if err := json.Unmarshal(found, &violations); err != nil {
		p.b.t.Errorf("%s: axe on %s: %v", p.name, name, err)
	}
	for _, v := range violations {
		p.b.t.Errorf("%s: axe on %s: %s", p.name, name, v)
	}
}
