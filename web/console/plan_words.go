package console

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"oddcup/session"
)

// reach is how far a test gets with what it wants to show.
type reach int

const (
	reaches reach = iota // with the wanted probability
	nearly               // with little less
	often                // more often than not, and less than wanted
	evens                // about as often as not
	seldom               // less often than not
	never                // no result can

	reachKinds = iota
)

// Where the words for a probability change, by our own reasoning: what is little
// less than wanted, and what is about a coin's chance.
const (
	littleLess = 0.05
	coinFrom   = 0.4
	coinTo     = 0.6
)

// reachOf grades the probability of a goal against the wanted one.
func reachOf(p, wanted float64) reach {
	switch {
	case p >= wanted:
		return reaches
	case p >= wanted-littleLess:
		return nearly
	case p > coinTo:
		return often
	case p >= coinFrom:
		return evens
	}
	return seldom
}

// differs and alike say how far a test's two goals get.
func differs(f session.Forecast) reach {
	power := f.Power
	if f.Risks != nil {
		power = f.Risks.AtP1.Different
	}
	switch {
	case !f.HasMin || power == 0:
		return never
	}
	return reachOf(power, f.Plan.Power)
}

func alike(f session.Forecast) reach {
	if !f.HasMax {
		return never
	}
	return reachOf(f.PassAlike, f.Plan.Power)
}

// enoughAll reports whether every test gets what it wants.
func enoughAll(forecasts []session.Forecast) bool {
	return !slices.ContainsFunc(forecasts, func(f session.Forecast) bool {
		return f.Plan.WantsDifference() && differs(f) != reaches || f.Plan.WantsSimilarity() && alike(f) != reaches
	})
}

// answerLine is one test's share of the answer.
type answerLine struct {
	Test  string
	Say   string
	Short bool // less than is wanted
}

// answerOf says in one sentence what a plan can and cannot show, then for each
// test how often. A blank test asks nothing of the lots and stands in its line
// only. Where a goal is not reached, more is the number of seats that would do.
func answerOf(p session.Plan, forecasts []session.Forecast, more *enough) (string, []answerLine) {
	var lines []answerLine
	for _, f := range forecasts {
		lines = append(lines, lineOf(f))
	}
	switch {
	case p.Practice:
		return "This is practice: it shows people how a test goes, and says nothing about the lots.", lines
	case len(p.Tests) == 0:
		return "The plan has no test yet.", nil
	case len(forecasts) == 0:
		return "What this plan can show stands here once its fields hold numbers in range.", nil
	}
	var can [reachKinds][]string
	similarity, attribute := false, false
	pd := -1.0 // that was named last
	for _, f := range forecasts {
		if f.Plan.Blank != "" {
			continue
		}
		attribute = attribute || !f.Method.Overall
		if f.Plan.Goal == session.GoalBoth {
			similarity = true
			if f.Method.Overall && f.Plan.Pd == f.Plan.PdLimit && differs(f) == alike(f) {
				can[alike(f)] = append(can[alike(f)], "a difference that "+pct(f.Plan.Pd)+" of people perceive, or that fewer do")
				pd = f.Plan.Pd
				continue
			}
		}
		if f.Plan.WantsDifference() {
			say := "a difference that " + pct(f.Plan.Pd) + " of people perceive"
			switch {
			case !f.Method.Overall && pd == f.Plan.Pd:
				say = "one in " + orIt(f.Plan.Attribute)
			case !f.Method.Overall:
				say = fmt.Sprintf("a difference in %s that %s of people perceive", orIt(f.Plan.Attribute), pct(f.Plan.Pd))
			}
			pd = f.Plan.Pd
			can[differs(f)] = append(can[differs(f)], say)
		}
		if f.Plan.WantsSimilarity() {
			similarity = true
			say := "that fewer than " + pct(f.Plan.PdLimit) + " of people perceive a difference"
			if !f.Method.Overall {
				say += " in " + orIt(f.Plan.Attribute)
			}
			can[alike(f)] = append(can[alike(f)], say)
		}
	}
	for r := range can {
		can[r] = once(can[r])
	}
	if more != nil && !more.Balance {
		// The number stands with the last goal that is not reached.
		for _, r := range []reach{never, seldom, evens, often, nearly} {
			if n := len(can[r]); n > 0 {
				can[r][n-1] += more.words()
				break
			}
		}
	}
	switch {
	case !similarity:
		can[never] = append(can[never], "that the lots are the same")
	case !attribute && len(can[never]) == 0:
		can[never] = append(can[never], "by what the lots differ")
	}
	say := sizeWords(p) + " " + canCannot(can, p.Seats)
	return strings.ReplaceAll(say, " %", "\u00a0%"), lines
}

// once leaves out what two tests say alike.
func once(say []string) []string {
	var all []string
	for _, x := range say {
		if !slices.Contains(all, x) {
			all = append(all, x)
		}
	}
	return all
}

func orIt(attribute string) string {
	if attribute == "" {
		return "the attribute"
	}
	return attribute
}

func sizeWords(p session.Plan) string {
	say := counted(p.Seats, "seat")
	if n := len(p.Flights); n > 1 {
		say += fmt.Sprintf(" in %d flights", n)
	}
	return say
}

// canCannot joins what so many seats show, what they may miss and what they never
// show.
func canCannot(can [reachKinds][]string, seats int) string {
	var parts []string
	for r, what := range []struct{ verb, join string }{
		reaches: {"can show", ", and "},
		nearly:  {"can show, if a little less surely than you want,", ", and "},
		often:   {"may miss, more often than you want,", ", or "},
		evens:   {isOne(seats, "has", "have") + " about a coin’s chance to show", ", or "},
		seldom:  {"will mostly fail to show", ", or "},
		never:   {"cannot show", ", nor "},
	} {
		if x := can[r]; len(x) > 0 {
			parts = append(parts, what.verb+" "+strings.Join(x, what.join))
		}
	}
	last := len(parts) - 1
	switch {
	case last == 0:
		return parts[0] + "."
	case last == 1 && len(can[reaches])+len(can[nearly]) > 0:
		return parts[0] + ", but " + parts[1] + "."
	}
	return strings.Join(parts[:last], ", ") + ", and " + parts[last] + "."
}

// lineOf says how often one test shows what it is to show.
func lineOf(f session.Forecast) answerLine {
	l := answerLine{Test: fmt.Sprintf("Test %d, %s", f.Number, f.Method.Name)}
	if f.Plan.Blank != "" {
		l.Test += ", blank"
	}
	var say []string
	if f.Plan.WantsDifference() {
		power := f.Power
		if f.Risks != nil {
			power = f.Risks.AtP1.Different
		}
		r := differs(f)
		l.Short = r != reaches
		if r == never {
			say = append(say, fmt.Sprintf("No result of %s can be significant.", counted(f.N, "answer")))
		} else {
			say = append(say, fmt.Sprintf("Of 100 such panels, %s would find a difference that %s of people perceive; you want %s.",
				ofHundred(power, f.Plan.Power), pct(f.Plan.Pd), num(100*f.Plan.Power)))
			if power < 0.5 {
				say = append(say, "A result that is not significant would say almost nothing.")
			}
		}
	}
	if f.Plan.WantsSimilarity() {
		r := alike(f)
		l.Short = l.Short || r != reaches
		if r == never {
			say = append(say, fmt.Sprintf("No result of %s allows the conclusion that fewer than %s of people perceive a difference.",
				counted(f.N, "answer"), pct(f.Plan.PdLimit)))
		} else {
			say = append(say, fmt.Sprintf("Of 100 pairs of identical lots, %s would pass as similar; you want %s.",
				ofHundred(f.PassAlike, f.Plan.Power), num(100*f.Plan.Power)))
		}
	}
	l.Say = strings.Join(say, " ")
	return l
}

// ofHundred is a probability as a count of 100, never a false 0 or 100, and
// where it falls short of what is wanted never that.
func ofHundred(p, wanted float64) string {
	switch {
	case p > 0.99 && p < 1:
		return "more than 99"
	case p < 0.01 && p > 0:
		return "fewer than 1"
	case p < wanted && math.Round(100*p) >= math.Round(100*wanted):
		return fixed(math.Floor(1000*p)/10, 1)
	}
	return fixed(100*p, 0)
}

// enough is a number of seats that would do for every test, with every serving
// order equally often.
type enough struct {
	Seats   int
	Balance bool // the planned number does as well, but leaves orders uneven
	Most    int  // seats that fit into one session of these tests, by its codes
	Flight  int  // size of flights to split them in, 0 for none
	Flights int  // how many that are
}

// Fits reports whether one session takes so many seats.
func (e enough) Fits() bool { return e.Seats <= e.Most }

func (e enough) words() string {
	if !e.Fits() {
		return fmt.Sprintf(" (%d seats would do, and %d fit into one session of these tests)", e.Seats, e.Most)
	}
	return fmt.Sprintf(" (%d seats would do)", e.Seats)
}

// Make is the value of the button that takes them.
func (e enough) Make() string { return fmt.Sprint(e.Seats) }

// MakeFlights is the same, split in flights.
func (e enough) MakeFlights() string { return fmt.Sprintf("%d/%d", e.Seats, e.Flight) }

// enoughFor finds it, nil where there is nothing to offer.
func enoughFor(p session.Plan, forecasts []session.Forecast) *enough {
	if len(forecasts) == 0 || len(forecasts) != len(p.Tests) || p.Practice {
		return nil
	}
	block, from, balanced := 1, p.Seats, true
	for _, f := range forecasts {
		block = lcm(block, f.Block)
		from = max(from, f.Even)
		balanced = balanced && f.Balanced
		// What stops early has no number that is known beforehand.
		if f.Even == 0 || f.Plan.Sequential {
			return nil
		}
	}
	ok := enoughAll(forecasts)
	if ok && balanced {
		return nil
	}
	from = (from + block - 1) / block * block
	// A number that does for one test may fall into a tooth of another.
	for n := from; n <= from+6*block && n <= 500; n += block {
		next := p
		next.Seats, next.Flights = n, nil
		if !enoughAll(next.Forecast()) {
			continue
		}
		e := &enough{Seats: n, Balance: ok, Most: p.MostSeats()}
		table := p.Seats
		if len(p.Flights) > 0 {
			table = slices.Max(p.Flights)
		}
		if size := max(table/block, 1) * block; size < n && (len(p.Flights) > 1 || !ok) {
			e.Flight, e.Flights = size, len(flightsOf(n, size))
		}
		return e
	}
	return nil
}

func lcm(a, b int) int {
	x, y := a, b
	for y != 0 {
		x, y = y, x%y
	}
	return a / x * b
}
