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

// differs and alike say how far a test's two goals get in a session: the order
// must come to the test, too.
func differs(f session.Forecast) reach {
	if !f.HasMin || f.Finds() == 0 {
		return never
	}
	return reachOf(f.Finds(), f.Plan.Power)
}

func alike(f session.Forecast) reach {
	if f.Risks == nil && !f.HasMax || f.Passes() == 0 {
		return never
	}
	return reachOf(f.Passes(), f.Plan.Power)
}

// enoughAll reports whether every test gets what it wants, from as many people as
// its goal takes.
func enoughAll(forecasts []session.Forecast) bool {
	return !slices.ContainsFunc(forecasts, func(f session.Forecast) bool {
		return f.Refused != "" || f.Few() || f.Plan.WantsDifference() && differs(f) != reaches || f.Plan.WantsSimilarity() && alike(f) != reaches
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
	var refused []string // the tests, by number
	var lines, reasons []answerLine
	for _, f := range forecasts {
		line := lineOf(f)
		line.Say = unbroken(line.Say + onlyWords(forecasts, f))
		if f.Refused != "" {
			refused, reasons = append(refused, fmt.Sprint(f.Number)), append(reasons, line)
		}
		lines = append(lines, line)
	}
	const sealed = "As it stands this plan can’t be sealed, and promises nothing: "
	switch {
	case p.Practice:
		return "This is practice: it shows people how a test goes, and says nothing about the lots.", nil
	case len(p.Tests) == 0:
		return "The plan has no test yet.", nil
	case refusedWhole(p) != "":
		return sealed + refusedWhole(p), reasons
	case len(refused) > 0:
		return sealed + fmt.Sprintf("test %s %s refused.", listed(refused), isOne(len(refused), "is", "are")), reasons
	case len(forecasts) < len(p.Tests):
		return "What this plan can show stands here once its fields hold numbers in range.", nil
	}
	var can [reachKinds][]string
	similarity := false
	var named *session.Forecast // the test whose pd was named last
	for _, f := range forecasts {
		if f.Plan.Blank != "" {
			continue
		}
		difference := ""
		if f.Plan.WantsDifference() {
			say := "a difference that " + perceived(f, f.Plan.Pd)
			switch {
			case !f.Method.Overall && named != nil && named.Plan.Pd == f.Plan.Pd && named.Method.Overall:
				// The same share is another size in each method, so it does not read as one.
				say = fmt.Sprintf("a %s one in %s (%s, which %s perceive in a %s)",
					compared(f, *named), orIt(f.Plan.Attribute), sizeIn(f, f.Plan.Pd), pct(f.Plan.Pd), f.Method.Name)
			case !f.Method.Overall:
				say = fmt.Sprintf("a difference in %s that %s", orIt(f.Plan.Attribute), perceived(f, f.Plan.Pd))
			}
			named = &f
			difference = say
		}
		if !f.Plan.WantsSimilarity() {
			can[differs(f)] = append(can[differs(f)], difference)
			continue
		}
		similarity = true
		fewer := "that fewer than " + pct(f.Plan.PdLimit) + " of people perceive a difference"
		if !f.Method.Overall {
			fewer += " in " + orIt(f.Plan.Attribute)
		}
		size, alikeOnly := " ("+sizeIn(f, f.Plan.PdLimit)+")", ""
		if alike(f) != never {
			alikeOnly = " if the lots are identical"
		}
		switch {
		case difference == "":
			can[alike(f)] = append(can[alike(f)], fewer+size+alikeOnly)
		case differs(f) == alike(f): // only one of the two can be true
			if f.Plan.Pd == f.Plan.PdLimit {
				size = ""
			}
			can[alike(f)] = append(can[alike(f)], difference+", or that fewer than "+pct(f.Plan.PdLimit)+" perceive one"+size+alikeOnly)
		default:
			can[differs(f)] = append(can[differs(f)], difference)
			can[alike(f)] = append(can[alike(f)], fewer+size+alikeOnly)
		}
	}
	for r := range can {
		can[r] = once(can[r])
	}
	if more != nil && !more.Balance && !more.None {
		// The number stands with the last goal that is not reached.
		for _, r := range []reach{never, seldom, evens, often, nearly} {
			if n := len(can[r]); n > 0 {
				can[r][n-1] = more.after(can[r][n-1])
				break
			}
		}
	}
	if !similarity || len(can[never]) == 0 {
		can[never] = append(can[never], "that the lots are the same")
	}
	say := sizeWords(p) + " " + canCannot(can, p.Seats)
	if slices.ContainsFunc(p.Check(), func(x session.Fault) bool { return x.Field == "flights" }) {
		say += " The flights are still to be mended."
	}
	return unbroken(say), lines
}

// perceived says of a test's pd how many that are, and which size that is in its
// method: one pd is another size in each.
func perceived(f session.Forecast, pd float64) string {
	return pct(pd) + " of people perceive (" + sizeIn(f, pd) + ")"
}

func sizeIn(f session.Forecast, pd float64) string {
	return "d′ " + trim(f.Method.DPrimeOf(pd), 2)
}

// refusedWhole says what of lots, title, seats and the tests together the
// plan is refused for, "" for nothing; what is still to be chosen or typed is no
// refusal.
func refusedWhole(p session.Plan) string {
	chosen := p.Untreated.ID != "" && p.Processed.ID != ""
	for _, x := range p.Check() {
		switch {
		case (x.Field == "untreated" || x.Field == "processed") && chosen,
			x.Field == "title" && strings.TrimSpace(p.Title) != "",
			x.Field == "seats" && p.Seats > 0, x.Field == "tests":
			return x.Say + "."
		}
	}
	return ""
}

// compared says how the size that one test looks for compares with another's.
func compared(f, other session.Forecast) string {
	switch a, b := f.Method.DPrimeOf(f.Plan.Pd), other.Method.DPrimeOf(other.Plan.Pd); {
	case a < b:
		return "smaller"
	case a > b:
		return "larger"
	}
	return "like"
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
	if n := len(p.Flights); n > 1 && sum(p.Flights) == p.Seats {
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
	if f.Refused != "" {
		l.Short, l.Say = true, "It is refused: "+strings.TrimSuffix(f.Refused, ".")+"."
		return l
	}
	var say []string
	if f.Plan.WantsDifference() {
		r := differs(f)
		l.Short = r != reaches
		switch {
		case !f.HasMin:
			say = append(say, fmt.Sprintf("No result of %s can be significant.", counted(f.N, f.Counts())))
		case r == never && f.BarWords() != "":
			say = append(say, f.BarWords())
		case r == never:
			say = append(say, "It can’t end as different within this plan.")
		default:
			say = append(say, findsWords(f))
			if f.Finds() < 0.5 {
				say = append(say, "A result that is not significant would say almost nothing.")
			}
		}
	}
	if f.Plan.WantsSimilarity() {
		r := alike(f)
		l.Short = l.Short || r != reaches || f.Few()
		switch {
		case r == never && f.HasMax && f.BarWords() != "":
			if !slices.Contains(say, f.BarWords()) {
				say = append(say, f.BarWords())
			}
		case r == never && f.Risks != nil:
			say = append(say, "It can’t end as similar within this plan.")
		case r == never:
			say = append(say, f.NoConclusion())
		default:
			say = append(say, passWords(f))
			if f.Plan.TwoSided {
				say = append(say, "That takes it that all who perceive a difference perceive it the same way: people who differ in direction cancel out.")
			}
		}
		if f.Few() && (f.HasMax || f.Plan.Sets == 1) {
			say = append(say, fmt.Sprintf("Fewer than %d people: similarity is generally not advised.", session.FewForSimilarity))
		}
	}
	if advice := f.OrderAdvice(); advice != "" {
		l.Short = true
		say = append(say, advice)
	}
	l.Say = strings.Join(say, " ")
	return l
}

// onlyWords says after a later test of an attribute which sizes it takes for
// granted, and how it ends if the lots differ in the attribute alone.
func onlyWords(forecasts []session.Forecast, f session.Forecast) string {
	o, ok := session.OnlyAttributes(forecasts, f.Number)
	if !ok || !f.HasMin {
		return ""
	}
	attribute := orIt(f.Plan.Attribute)
	sizes := []string{fmt.Sprintf("by d′ %s in all", trim(o.All, 2))}
	for _, other := range o.Others {
		sizes = append(sizes, fmt.Sprintf("by d′ %s in %s", trim(other.DPrime, 2), orIt(other.Attribute)))
	}
	return fmt.Sprintf(" That takes lots that differ %s and by d′ %s in %s. Were %s all they differ in, %s of 100 such sessions would come to this test, and %s would find it.",
		strings.Join(sizes, ", "), trim(o.Own, 2), attribute, attribute, ofHundred(o.Comes, 0), ofHundred(o.Finds, 0))
}

// findsWords says of how many panels, or where the order may not come to the test
// of how many sessions, the test finds its difference.
func findsWords(f session.Forecast) string {
	own, wanted := f.Power, f.Plan.Power
	if f.Risks != nil {
		own = f.Risks.AtP1.Different
	}
	equally := ""
	switch {
	case f.Plan.Sets == 1:
	case f.Risks != nil && f.BestEnd != nil:
		equally = fmt.Sprintf(" (%s if all perceive it equally well)", ofHundred(f.BestEnd.Different, wanted))
	case f.Risks == nil:
		equally = fmt.Sprintf(" (%s if all perceive it equally well)", ofHundred(f.AtBest, wanted))
	}
	if f.Reached == 1 {
		return fmt.Sprintf("Of 100 such panels, %s would find a difference that %s%s; you want %s.",
			ofHundred(own, wanted), perceived(f, f.Plan.Pd), equally, num(100*wanted))
	}
	return fmt.Sprintf("Of 100 such sessions, %s would find a difference that %s; you want %s. %s come to this test, %s; of 100 of these, %s find it%s, if the tests are independent.",
		ofHundred(f.Finds(), wanted), perceived(f, f.Plan.Pd), num(100*wanted), sentenceStart(ofHundred(f.Reached, 0)), f.OrderWords(false), ofHundred(own, 0), equally)
}

// passWords says the same of lots that are alike, and how it goes with lots that are
// not quite. With several sets a seat it is an estimate.
func passWords(f session.Forecast) string {
	wanted, about := f.Plan.Power, ""
	if f.Plan.Sets > 1 && f.Risks == nil && f.PassAlike <= 0.99 {
		about = "about "
	}
	if f.ReachedAlike == 1 {
		say := fmt.Sprintf("Of 100 pairs of identical lots, %s%s would pass as similar; you want %s.", about, ofHundred(f.PassesAlone(), wanted), num(100*wanted))
		if half, ok := f.PassHalf(); ok {
			return say + fmt.Sprintf(" Lots that differ pass less often: where %s perceive it, half the limit, %s of 100.", pct(f.Plan.PdLimit/2), ofHundred(half, 0))
		}
		return say + " Lots that differ, if within the limit, pass less often."
	}
	return fmt.Sprintf("Of 100 such sessions, %s%s would pass lots that are alike in this; you want %s. %s come to this test, %s; of 100 of these, %s%s pass such lots, if the tests are independent.",
		about, ofHundred(f.Passes(), wanted), num(100*wanted), sentenceStart(ofHundred(f.ReachedAlike, 0)), f.OrderWords(true), about, ofHundred(f.PassesAlone(), 0))
}

// ofHundred is a probability as a count of 100, never a false 0 or 100, and
// where it falls short of what is wanted never that.
func ofHundred(p, wanted float64) string {
	switch {
	case p > 0.99: // 1 only as far as the computer's digits go
		return "more than 99"
	case p < 0.01 && p > 0:
		return "fewer than 1"
	case p < wanted && math.Round(100*p) >= math.Round(100*wanted):
		return fixed(math.Floor(1000*p)/10, 1)
	}
	return fixed(100*p, 0)
}

// foreseen is a probability of what is still to come, which is never certain: 1
// only as far as the computer's digits go.
func foreseen(p float64) string { return share(min(p, math.Nextafter(1, 0))) }
