package console

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/web/look"
	"oddcup/web/paper"
)

// funcs are what every template can call. Glyphs take their size in pixels;
// times are shown in the laptop's own zone.
func (c *Console) funcs() template.FuncMap {
	return template.FuncMap{
		"wordmark": look.WordMark,
		"digits":   func(text any, height int) template.HTML { return look.Digits(fmt.Sprint(text), height) },
		"tape":     func(text any, height int) template.HTML { return look.Tape(fmt.Sprint(text), height) },
		"widetape": func(text any, w, h int) template.HTML { return look.WideTape(fmt.Sprint(text), w, h) },
		"mark":     look.Mark,
		"cup":      look.Cup,
		"setdots":  look.SetDots,
		"vessel":   func(v session.Vessel, size int) template.HTML { return look.Vessel(string(v), size) },
		"qr":       look.QR,

		"clock": clock,
		"day":   day,
		"when":  func(t time.Time) string { return when(t, c.Now()) },
		"date":  date,
		"ended": ended,
		"since": since,
		"stamp": func(t time.Time) string { return t.UTC().Format(time.RFC3339) },

		"pct":    pct,
		"share":  share,
		"num":    num,
		"fixed":  fixed,
		"pvalue": pvalue,
		"perk":   perThousand,

		"method": methodWords,
		"kind":   kindWords,
		"right":  countWords,
		"sized":  sizedWords,
		"within": spanWords,

		"short":   session.ShortDigest,
		"counted": counted,
		"place":   place,
		"title":   sentence,
		"capital": capital,
		"nav":     navOf,
		"dict":    dict,
		"list":    func(v ...any) []any { return v },
		"add":     func(a, b int) int { return a + b },
	}
}

// clock is a time of day, 17:05; "" for the zero time.
func clock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Local().Format("15:04")
}

// day is a date in words, Tuesday, 14 April 2026.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Local().Format("Monday, 2 January 2006")
}

// date is a date in short, 14 April 2026.
func date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Local().Format("2 January 2006")
}

// when is a point in time as short as it can be said: today, 17:05; 12 April,
// 09:30; 12 April 2025.
func when(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	t, now = t.Local(), now.Local()
	switch {
	case t.Year() == now.Year() && t.YearDay() == now.YearDay():
		return "today, " + t.Format("15:04")
	case t.Year() == now.Year():
		return t.Format("2 January, 15:04")
	}
	return t.Format("2 January 2006")
}

// since shows minutes and seconds since t; the page's script keeps it running.
func since(t time.Time) template.HTML {
	if t.IsZero() {
		return ""
	}
	iso := t.UTC().Format(time.RFC3339)
	return template.HTML(`<time datetime="` + iso + `" data-since="` + iso + `">` + clock(t) + `</time>`)
}

// pct is a proportion in percent, 40 %, with at most one decimal.
func pct(x float64) string { return trim(100*x, 1) + " %" }

// share is a probability or power with two decimals, and never a false 0 or 1.
func share(x float64) string {
	switch {
	case x > 0.99 && x < 1:
		return "> 0.99"
	case x < 0.01 && x > 0:
		return "< 0.01"
	}
	return strconv.FormatFloat(x, 'f', 2, 64)
}

// pvalue is a p-value as every page and file prints it.
func pvalue(p float64) string { return session.PValue(p) }

// perThousand says a p-value as a count of such sessions: "28 of 1000", "7 of
// 100 000", so that the count is never 0.
func perThousand(p float64) string {
	for _, of := range []struct {
		n     float64
		words string
	}{{1000, "1000"}, {10_000, "10 000"}, {100_000, "100 000"}} {
		if n := math.Round(p * of.n); n >= 1 {
			return fmt.Sprintf("%.0f of %s", n, of.words)
		}
	}
	return "fewer than 1 of 100 000"
}

// num writes a number as short as it is, with a real minus sign.
func num(x float64) string { return trim(x, 6) }

// fixed writes a number with so many decimals and a real minus sign.
func fixed(x float64, decimals int) string {
	return strings.Replace(strconv.FormatFloat(x, 'f', decimals, 64), "-", "−", 1)
}

func trim(x float64, decimals int) string {
	s := fixed(x, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// counted is a number with its noun: 1 seat, 24 seats.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// place names the i-th of n cups on a tray, from 0, left to right.
func place(i, n int) string { return paper.Place(i, n) }

// sentence begins with a capital letter and ends with a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	s = strings.ToUpper(string(r[:1])) + string(r[1:])
	if !strings.ContainsAny(s[len(s)-1:], ".!?”") {
		s += "."
	}
	return s
}

// dict makes a map of names and values, for templates that take several.
func dict(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, fmt.Errorf("dict: a name without a value")
	}
	m := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		m[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return m, nil
}

// navItem is an entry of the navigation.
type navItem struct{ Key, Name, To string }

// navOf gives the pages that are of use now: those of the session at hand by
// its phase.
func navOf(h *Head) []navItem {
	items := []navItem{{"home", "Home", "/"}, {"lots", "Lots", "/lots"}, {"judges", "Judges", "/judges"}}
	if h == nil {
		return items
	}
	at := func(key, name string) {
		items = append(items, navItem{key, name, "/s/" + string(h.ID) + "/" + key})
	}
	at("plan", "Plan")
	if h.Phase != session.PhaseDrafted && h.Phase != session.PhaseAbandoned {
		at("bench", "Bench")
	}
	switch h.Phase {
	case session.PhaseSealed:
		at("print", "Print")
		at("lobby", "Lobby")
	case session.PhaseOpen:
		at("print", "Print")
		at("lobby", "Lobby")
		at("board", "Board")
	case session.PhaseClosed:
		at("board", "Board")
		at("reveal", "Reveal")
	case session.PhaseRevealed:
		at("result", "Result")
	}
	if h.Broken != nil {
		at("key", "Key")
	}
	if h.Phase != session.PhaseDrafted {
		at("trail", "Audit trail")
	}
	return items
}
