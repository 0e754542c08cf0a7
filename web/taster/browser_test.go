package taster

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// page is one page in a headless Chromium.
type page struct {
	t   testing.TB
	ctx context.Context
}

// openPage starts a browser with one page, in which nothing moves.
func openPage(t testing.TB) *page {
	t.Helper()
	names := []string{"chromium-headless-shell", "chromium", "google-chrome", "chromium-browser"}
	if named := os.Getenv("ODDCUP_BROWSER"); named != "" {
		names = []string{named}
	}
	program := ""
	for _, n := range names {
		if path, err := exec.LookPath(n); err == nil && program == "" {
			program = path
		}
	}
	if program == "" {
		t.Fatalf("no browser: install Chromium, or set ODDCUP_BROWSER to one; looked for %s", strings.Join(names, ", "))
	}
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true),
	)...)
	ctx, stop := chromedp.NewContext(alloc)
	t.Cleanup(func() { stop(); stopAlloc() })
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	p := &page{t, ctx}
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}},
	}); err != nil {
		t.Fatal(err)
	}
	p.size(390, 844)
	return p
}

func (p *page) size(width, height int64) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, chromedp.EmulateViewport(width, height, chromedp.EmulateMobile, chromedp.EmulateTouch)); err != nil {
		p.t.Fatal(err)
	}
}

func (p *page) visit(address string) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, chromedp.Navigate(address)); err != nil {
		p.t.Fatalf("%s: %v", address, err)
	}
}

// eval evaluates JavaScript; a promise is waited for.
func eval[T any](p *page, js string) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%.300s: %v", js, err)
	}
	return v
}

// until waits for a JavaScript expression to be true.
func (p *page) until(what, js string) {
	p.t.Helper()
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(30 * time.Millisecond) {
		ok, err := chromedp.Run(p.ctx, chromedp.Evaluate[bool]("!!("+js+")"))
		if err == nil && ok {
			return
		}
		if time.Now().After(end) {
			p.t.Fatalf("waited for %s (%v); the page shows:\n%.1500s", what, err, eval[string](p, "document.body?.innerText ?? ''"))
		}
	}
}

// says waits for words on the page.
func (p *page) says(words string) {
	p.t.Helper()
	p.until(fmt.Sprintf("the words %q", words), fmt.Sprintf(`document.body.innerText.replace(/\s+/g, ' ').includes(%s)`, quoted(words)))
}

// tap presses the middle of the first element that JavaScript gives, as a finger
// would: what lies over it is hit instead, and that fails.
func (p *page) tap(what, element string) {
	p.t.Helper()
	p.until(what, element)
	at := eval[[]float64](p, `(() => { const e = `+element+`; e.scrollIntoView({ block: 'center', behavior: 'instant' });
		const r = e.getBoundingClientRect(), x = r.x + r.width / 2, y = r.y + r.height / 2, hit = document.elementFromPoint(x, y);
		return hit && (e.contains(hit) || hit.contains(e)) ? [x, y] : []; })()`)
	if len(at) != 2 {
		p.t.Fatalf("%s lies under something else or outside the page", what)
	}
	if err := chromedp.Do(p.ctx, chromedp.MouseClickXY(at[0], at[1])); err != nil {
		p.t.Fatal(err)
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

// offline cuts the page off as a walk out of Wi-Fi does: an open socket stays
// open and is dumb.
func (p *page) offline(off bool) {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, network.Enable, network.EnableParams{}); err != nil {
		p.t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, cutOff, cutOffParams{off, []cutOffRule{{Offline: off, Download: -1, Upload: -1}}}); err != nil {
		p.t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{
		Offline: off, DownloadThroughput: -1, UploadThroughput: -1,
	}); err != nil {
		p.t.Fatal(err)
	}
}

func quoted(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return string(b)
}
