package taster

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io/fs"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// stories serves the story page, with the phones' files as they are served or,
// where plain is true, as they were written.
func stories(t *testing.T, plain bool) string {
	t.Helper()
	ts := New(Config{Presence: NewPresence(nil)})
	app, err := fs.Sub(static, "static")
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	mux.Handle("/", http.FileServer(http.Dir("testdata/story")))
	mux.HandleFunc("/static/", func(w http.ResponseWriter, r *http.Request) {
		name := strings.TrimPrefix(r.URL.Path, "/static/")
		_, err := fs.Stat(app, name)
		if plain && err == nil {
			http.ServeFileFS(w, r, app, name)
			return
		}
		r.URL.Path = ts.assets.Base() + "/" + name
		ts.assets.ServeHTTP(w, r)
	})
	server := httptest.NewServer(mux)
	t.Cleanup(server.Close)
	return server.URL
}

// tell opens the story page and gives the names of its fixtures. The page's
// window.story is the module.
func (p *page) tell(address string) []string {
	p.t.Helper()
	p.visit(address + "/story.html?screen=taste")
	p.until("the story page", `document.body.dataset.ready`)
	eval[bool](p, `import('/story.js').then((m) => { window.story = m; return true; })`)
	names := eval[[]string](p, `Object.keys(story.fixtures)`)
	if len(names) < 70 {
		p.t.Fatalf("the story has %d screens only", len(names))
	}
	return names
}

func (p *page) show(name, theme string) {
	p.t.Helper()
	eval[bool](p, fmt.Sprintf(`(story.show(%q, %q), scrollTo(0, 0), true)`, name, theme))
}

// faults is JavaScript that lists what is wrong with how a page lies: wider than
// the screen, text cut off or too small for the red light, targets under 48 px.
const faults = `(() => {
	const found = [], screen = document.documentElement.clientWidth, wide = document.documentElement.scrollWidth - screen;
	if (wide > 0) found.push('the page is ' + wide + ' px too wide');
	const name = (e) => e.tagName + '.' + (e.getAttribute('class') ?? '') + ' ' + e.textContent.trim().slice(0, 40);
	for (const e of document.querySelectorAll('button, label.column, label.tick, label.option, input:not([type=radio]):not([type=checkbox])')) {
		const r = e.getBoundingClientRect();
		if (r.width < 47.9 || r.height < 47.9) found.push(name(e) + ' is a target of ' + r.width.toFixed(1) + ' by ' + r.height.toFixed(1) + ' px');
	}
	const words = document.createTreeWalker(document.getElementById('app'), NodeFilter.SHOW_TEXT);
	const range = document.createRange();
	while (words.nextNode()) {
		const text = words.currentNode, e = text.parentElement;
		if (!text.data.trim() || e.closest('.unseen')) continue;
		range.selectNodeContents(text);
		for (const r of range.getClientRects()) {
			if (r.right > screen + 0.5 || r.left < -0.5) found.push(name(e) + ' runs out of the screen');
		}
		const box = e.getBoundingClientRect(), all = range.getBoundingClientRect();
		if (all.width > box.width + 1 && !e.closest('.reference')) found.push(name(e) + ' is wider than its place');
		if (document.documentElement.dataset.theme === 'red' && parseFloat(getComputedStyle(e).fontSize) < 18) found.push(name(e) + ' is below 18 px');
	}
	// Words do not lie on words, nor codes on codes.
	const things = [...document.querySelectorAll('#app .word, #app .said, #app .tape, #app .lead, #app h1, #app .tick, #app .primary, #app .waiting')].filter((e) => e.tagName === 'svg' || e.textContent.trim());
	const rects = things.map((e) => { if (e.tagName === 'svg') return e.getBoundingClientRect(); range.selectNodeContents(e); return range.getBoundingClientRect(); });
	for (let i = 0; i < things.length; i++) for (let j = i + 1; j < things.length; j++) {
		const a = rects[i], b = rects[j];
		if (things[i].contains(things[j]) || things[j].contains(things[i])) continue;
		if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2) found.push(name(things[i]) + ' lies on ' + name(things[j]));
	}
	return found;
})()`

// TestStories looks at every screen of the story in three themes, on a usual and
// on a small phone, with text as it comes and twice as large: nothing is cut,
// overlaps or scrolls sideways, targets are large enough, axe finds nothing, and
// under red lamps nothing but red is lit, and little of that. ODDCUP_SHOTS names
// a folder that keeps the pictures.
func TestStories(t *testing.T) {
	axe, err := os.ReadFile("../../testdata/axe-core/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	p := openPage(t)
	names := p.tell(stories(t, false))
	eval[bool](p, string(axe)+"; true")
	for _, size := range []struct {
		width, height int64
		text          int // percent
	}{{390, 844, 100}, {320, 568, 100}, {390, 844, 200}, {320, 568, 200}} {
		p.size(size.width, size.height)
		eval[bool](p, fmt.Sprintf(`(document.documentElement.style.fontSize = '%d%%', true)`, size.text))
		for _, theme := range []string{"light", "dark", "red"} {
			for _, name := range names {
				at := fmt.Sprintf("%s-%d-%d-%s", name, size.width, size.text, theme)
				p.show(name, theme)
				for _, f := range eval[[]string](p, faults) {
					t.Errorf("%s: %s", at, f)
				}
				if size.text > 100 {
					p.picture(at)
					continue
				}
				if size.width == 390 {
					for _, f := range eval[[]string](p, `axe.run({ resultTypes: ['violations'] }).then((r) => r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html.slice(0, 200)).join(' | ')))`) {
						t.Errorf("%s: axe: %s", at, f)
					}
				}
				shot := p.picture(at)
				if theme == "red" && size.width == 390 {
					redOnly(t, at, shot)
				}
			}
		}
	}
}

// picture takes a screenshot where it is wanted: kept in ODDCUP_SHOTS, or looked
// at under red lamps.
func (p *page) picture(name string) image.Image {
	p.t.Helper()
	folder := os.Getenv("ODDCUP_SHOTS")
	if folder == "" && !strings.HasSuffix(name, "-390-100-red") {
		return nil
	}
	b, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	if folder != "" {
		if err := os.WriteFile(filepath.Join(folder, "story-"+name+".png"), b, 0o644); err != nil {
			p.t.Error(err)
		}
	}
	shot, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		p.t.Fatal(err)
	}
	return shot
}

// redOnly holds a picture to what red lamps allow: no green, no blue, and a mean
// relative luminance (WCAG 2.2) of 0.015 at most.
func redOnly(t *testing.T, name string, shot image.Image) {
	t.Helper()
	sum, n := 0.0, 0
	b := shot.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			red, green, blue, _ := shot.At(x, y).RGBA()
			if green > 0 || blue > 0 {
				t.Errorf("%s: a pixel at %d, %d holds green or blue", name, x, y)
				return
			}
			n++
			if v := float64(red) / 0xffff; v <= 0.04045 {
				sum += 0.2126 * v / 12.92
			} else {
				sum += 0.2126 * math.Pow((v+0.055)/1.055, 2.4)
			}
		}
	}
	if mean := sum / float64(n); mean > 0.015 || mean == 0 {
		t.Errorf("%s: mean luminance %.4f, 0.015 at most and not nothing", name, mean)
	}
}

// TestLeanStories: what is served draws every screen exactly as what was written
// does. The drawing is compared, white space and all.
func TestLeanStories(t *testing.T) {
	p := openPage(t)
	var drawn [2]map[string]string
	for i, plain := range []bool{true, false} {
		drawn[i] = map[string]string{}
		for _, name := range p.tell(stories(t, plain)) {
			p.show(name, "light")
			drawn[i][name] = eval[string](p, `document.getElementById('app').innerHTML`)
		}
	}
	for name, want := range drawn[0] {
		if len(want) < 400 || drawn[1][name] != want {
			t.Errorf("%s: written:\n%.600s\nserved:\n%.600s", name, want, drawn[1][name])
		}
	}
}

// TestStoryWrongTray: whose tray it is that does not begin with the code typed.
func TestStoryWrongTray(t *testing.T) {
	p := openPage(t)
	p.tell(stories(t, false))
	for story, says := range map[string]string{
		"wrong":            "Then the tray is another seat’s.",
		"wrong-place":      "That cup is yours, but stands elsewhere.",
		"wrong-taken-back": "Then it is the tray that was taken back.",
	} {
		p.show(story, "light")
		if got := eval[string](p, `document.body.innerText`); !strings.Contains(got, says) || strings.Count(got, "Then") > 1 {
			t.Errorf("%s: no %q in %q", story, says, got)
		}
	}
}

// TestStoryTray: what a screen reader hears of the trays, and what can be picked.
func TestStoryTray(t *testing.T) {
	p := openPage(t)
	p.tell(stories(t, false))
	const choices = `[...document.querySelectorAll('.tray input')].map((e) => e.type + ' ' + (e.ariaLabel ?? [...e.closest('label').querySelectorAll('[aria-label], .unseen')].map((n) => n.ariaLabel ?? n.textContent).join('')) + (e.checked ? ' checked' : '') + (e.ariaDisabled ? ' disabled' : ''))`
	for _, c := range []struct {
		story, group string
		choices      []string
		says         string
	}{
		{"taste", "radiogroup", []string{"radio 415, left", "radio 742, middle checked", "radio 268, right"}, "Lock"},
		{"three-afc", "radiogroup", []string{"radio 415, left", "radio 742, middle", "radio 268, right"}, "Tap one cup to pick it"},
		{"pair", "radiogroup", []string{"radio 536, left", "radio 194, right"}, "Tap one cup to pick it"},
		{"duo-trio", "radiogroup", []string{"radio 742, middle", "radio 268, right"}, "Tap one of the two cups to pick it"},
		{"tetrad", "group", []string{"checkbox cup 415, 1 of 4", "checkbox cup 742, 2 of 4", "checkbox cup 268, 3 of 4", "checkbox cup 903, 4 of 4"}, "Tap two cups that go together"},
		{"tetrad-one", "group", []string{"checkbox cup 415, 1 of 4", "checkbox cup 742, 2 of 4 checked", "checkbox cup 268, 3 of 4", "checkbox cup 903, 4 of 4"}, "Tap the cup that goes with 742"},
		{"tetrad-between", "group", []string{"checkbox cup 415, 1 of 4 disabled", "checkbox cup 742, 2 of 4 checked", "checkbox cup 268, 3 of 4 disabled", "checkbox cup 903, 4 of 4 checked"}, "742 and 903 are one pair, 415 and 268 the other."},
		{"tetrad-third", "group", []string{"checkbox cup 415, 1 of 4 disabled", "checkbox cup 742, 2 of 4 checked", "checkbox cup 268, 3 of 4 disabled", "checkbox cup 903, 4 of 4 checked"}, "Two cups are picked already. Tap one of them to let it go."},
	} {
		p.show(c.story, "light")
		if got := eval[string](p, `document.querySelector('.tray .row').getAttribute('role')`); got != c.group {
			t.Errorf("%s: the choices are a %s, want %s", c.story, got, c.group)
		}
		if got := eval[[]string](p, choices); !slices.Equal(got, c.choices) {
			t.Errorf("%s: choices %q, want %q", c.story, got, c.choices)
		}
		p.says(c.says)
	}
	// The reference is read out, before the choices, and is none.
	p.show("duo-trio", "light")
	read := eval[string](p, `(() => { const e = document.querySelector('.tray').firstElementChild; return e.querySelector('input, button') ? 'pressed' :
		[...e.querySelectorAll('.tape, .word, .unseen')].map((n) => n.ariaLabel ?? n.textContent).join(' ').replace(/\s+/g, ' '); })()`)
	if read != "415 reference , left, to compare with and not to pick" {
		t.Errorf("the reference reads %q", read)
	}
	// Either pair that the host may name draws the same sorting.
	const rings = `[...document.querySelectorAll('.pair')].map((e) => [...e.querySelectorAll('.tape')].map((n) => n.ariaLabel).join(' '))`
	for _, story := range []string{"onphone-pairs", "kept-pairs"} { // the first names 742 and 903, the second 415 and 268
		p.show(story, "light")
		if got := eval[[]string](p, rings); !slices.Equal(got, []string{"415 268", "742 903"}) {
			t.Errorf("%s: pairs %q", story, got)
		}
	}
	// Whether an answer was right is said where the host told, and nowhere else.
	for story, want := range map[string]string{
		"kept": "", "kept-pairs": "", "done": "", "rinse": "", "kept-right": "This answer is right.", "kept-not-right": "This answer is not right.",
		"kept-pairs-right": "This answer is right.", "rinse-right": "This answer is right.",
	} {
		p.show(story, "light")
		if got := eval[string](p, `(document.body.innerText.match(/This answer is[^.]*\./) ?? [''])[0]`); got != want {
			t.Errorf("%s: says %q, want %q", story, got, want)
		}
	}
}
