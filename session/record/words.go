package record

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

var reasons = map[Why]string{
	WhyDemo:       "a demonstration with invented tasters",
	WhyReceived:   "seats of another laboratory that are tied to nobody here",
	WhyUntied:     "seats that nobody was said to have had",
	WhyBlank:      "two brews of one lot",
	WhyTwoSided:   "pairs that looked both ways: a direction, no merit",
	WhyPaper:      "on paper, and nobody knows whether there was anything to find",
	WhyTooHard:    "going by the others there was next to nothing to find",
	WhyTooEasy:    "going by the others nearly everybody is right",
	WhyNobodyElse: "nobody else tasted, so nothing tells how large the difference was",
}

// whys are the reasons in the order in which they are told.
var whys = []Why{WhyTooHard, WhyTooEasy, WhyNobodyElse, WhyBlank, WhyTwoSided, WhyPaper, WhyUntied, WhyReceived, WhyDemo}

// leftOut tells the sets that do not count.
func leftOut(sets map[Why]int) []LeftOut {
	var all []LeftOut
	for _, why := range whys {
		if n := sets[why]; n > 0 {
			all = append(all, LeftOut{why, n, fmt.Sprintf("Not counted: %s, %s.", counted(n, "set"), reasons[why])})
		}
	}
	return all
}

// counts says that a test counts, or why not. pc is the share that a panellist is
// expected to have right in it.
func counts(why Why, kind session.JudgedKind, known, pc, chance float64) string {
	switch {
	case why != "":
		return "Not counted: " + reasons[why] + "."
	case kind == session.KindControl && known > 0:
		return "Counts: a control of known size."
	case kind == session.KindControl:
		return fmt.Sprintf("Counts: a control, its size told by the answers; a panellist is expected to be right in %s, by luck in %s.", fixed(pc, 2), fixed(chance, 2))
	}
	return fmt.Sprintf("Counts: a panellist is expected to be right in %s, by luck in %s.", fixed(pc, 2), fixed(chance, 2))
}

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

var smallNumbers = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

func inWords(n int) string {
	if n < len(smallNumbers) {
		return smallNumbers[n]
	}
	return strconv.Itoa(n)
}

func often(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return inWords(n) + " times"
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// list joins words: "a", "a and b", "a, b and c".
func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

// trim writes a number with up to so many decimals.
func trim(x float64, decimals int) string {
	if math.IsInf(x, 1) {
		return "beyond any"
	}
	scale := math.Pow10(decimals)
	s := strconv.FormatFloat(math.Round(x*scale)/scale, 'f', -1, 64)
	return strings.Replace(s, "-", "−", 1)
}

func fixed(x float64, decimals int) string { return strconv.FormatFloat(x, 'f', decimals, 64) }

// pValue writes a p-value: "p = 0.03".
func pValue(p float64) string {
	switch {
	case p < 0.001:
		return "p < 0.001"
	case p > 0.995:
		return "p = 1"
	}
	return "p = " + strconv.FormatFloat(p, 'g', 2, 64)
}

// ofHundred writes a probability as a number of hundred.
func ofHundred(p float64) string {
	switch n := math.Round(100 * p); {
	case p < 0.01:
		return "fewer than 1 of 100"
	case n >= 100:
		return "over 99 of 100"
	default:
		return fmt.Sprintf("%.0f of 100", n)
	}
}

func ofInterval(i stats.Interval, decimals int) string {
	return fixed(i.Lower, decimals) + " to " + fixed(i.Upper, decimals)
}

func day(t time.Time) string { return t.Format("2 January 2006") }

func shortOf(method string) string {
	m, _ := session.MethodByKey(method)
	return m.Short
}

// what names sets: "control triangle sets “brew diluted to 90 %”".
func what(method string, kind session.JudgedKind, label string) string {
	s := string(kind) + " sets, " + shortOf(method)
	if kind == session.KindControl && label != "" {
		s += ", “" + label + "”"
	}
	return s
}
