package console

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"oddcup/session"
	"oddcup/stats"
)

// advice is what a standard advises, with its source. It warns and forbids
// nothing. Where a clause was only remembered, or where there is none, the
// source says so.
type advice struct{ Say, Source string }

const (
	fromMemory = ", from memory"
	noSource   = "common practice, no source"
	ownSums    = "computed, exact binomial"
	fewSource  = "ISO 5495, note to table A.3; for other methods from memory"
)

// The most sets of coffee, and the most cups, in one sitting (common practice,
// no source).
const (
	mostSetsASitting = 4
	mostCupsASitting = 12
)

// adviceOf gives what is advised on a plan, by the field that it is about.
func adviceOf(p session.Plan) map[string][]advice {
	all := map[string][]advice{}
	add := func(field, say, source string) { all[field] = append(all[field], advice{say, source}) }
	for _, x := range p.Advice() {
		add(x.Field, x.Say, "our reasoning, no source")
	}
	given := map[string]bool{} // what holds for several tests stands at the first
	sets, cups := 0, 0
	for i, t := range p.Tests {
		m, ok := session.MethodByKey(t.Method)
		if !ok {
			continue
		}
		at := func(name, say, source string) {
			if !given[name+say] {
				add(testField(i, name), say, source)
			}
			given[name+say] = true
		}
		adviseMethod(m, t, at)
		adviseGoal(m, t, at)
		adviseSets(m, t, at)
		sets, cups = sets+t.Sets, cups+t.Sets*m.Cups
		if t.Sets > 0 && sets > mostSetsASitting && sets-t.Sets <= mostSetsASitting {
			at("sets", fmt.Sprintf("%d sets in a sitting: bitterness builds up, and %d sets of coffee are usually the most.", sets, mostSetsASitting), noSource)
		}
		if t.Sets > 0 && cups > mostCupsASitting && cups-t.Sets*m.Cups <= mostCupsASitting {
			at("sets", fmt.Sprintf("%d cups a taster; %d are usually the most for one table.", cups, mostCupsASitting), noSource)
		}
	}
	adviseSeats(p, add)
	adviseTwice(p, add)
	adviseSizes(p, add)
	add("serving.fillG", "The same quantity in every cup of a series.", "ISO 4120")
	add("serving.lowC", "The same temperature in every cup, best the one at which it is normally drunk.", "ISO 4120")
	add("serving.lowC", "All cups of a set stand on the tray at once if possible, for everybody in the same way, and are tasted in the order given.", "ISO 4120")
	add("serving.rinseS", "Cups and answers of a set are taken away before the next.", "ISO 4120")
	add("serving.rinseS", "Three to ten minutes between sets of coffee are usual.", noSource)
	add("serving.swallow", "Tasters are told whether to swallow; where they may choose, they do the same with every cup.", "ISO 4120")
	add("serving.redLight", "Colours that would give a lot away are masked by dim or filtered light.", "ISO 4120")
	return all
}

// adviseMethod gives what the method's row says, and what depends on the plan.
func adviseMethod(m session.Method, t session.TestPlan, at func(name, say, source string)) {
	for _, n := range m.Advice {
		at(n.Field, n.Say, n.Source)
	}
	if m.Key == session.PairedComparison.Key {
		if t.TwoSided {
			at("sided", "Two-sided is right where it was not known beforehand which lot should have less.", "ISO 5495")
		} else {
			at("sided", "One-sided only if it was known before the test which lot should have less; else two-sided.", "ISO 5495")
		}
	}
	if t.Blank != "" {
		at("blank", "If two brews of one lot are often told apart, the brewing was tasted: no difference test on these lots is valid then. If they are not, that does not show that the brewing was the same.", "ISO 4120, scope: lots must be homogeneous")
	}
	if t.Sequential {
		at("sequential", fmt.Sprintf("It stops by lines fixed beforehand. To look after every answer and stop at “significant” is no such rule: in a %s, looking from the 6th answer to the 30th at 0.05, it would call equal lots different in %s of 100 tests.",
			m.Name, fixed(100*peeking(m.Chance(), 6, 30, 0.05), 1)), "lines: ISO 16820"+fromMemory+"; figure: "+ownSums)
	}
}

// peeking is the probability that guesses alone are ever significant at alpha,
// one-sided, where somebody looks after each answer from the first look to the
// last.
func peeking(chance float64, first, last int, alpha float64) float64 {
	going := []float64{1} // the probability of x correct and no stop so far
	stopped := 0.0
	for n := 1; n <= last; n++ {
		next := make([]float64, n+1)
		for x, p := range going {
			next[x] += p * (1 - chance)
			next[x+1] += p * chance
		}
		if least, ok := stats.MinCorrect(n, chance, alpha); ok && n >= first {
			for x := least; x <= n; x++ {
				stopped += next[x]
				next[x] = 0
			}
		}
		going = next
	}
	return stopped
}

func adviseGoal(m session.Method, t session.TestPlan, at func(name, say, source string)) {
	switch t.Goal {
	case session.GoalDifference:
		at("goal", "No difference found is not the same as alike. That is another question: at the usual risks it takes about twice as many people; with risks equal to those of a difference, as many, and somewhat more where the difference was one-sided, since similarity looks both ways.", usualNumbersOf(m))
		at("alpha", "To show a difference keep α small, 0.05; β may be larger.", "ASTM E3009, for the tetrad; for others from memory")
	case session.GoalSimilarity:
		at("beta", "To show similarity keep β small, 0.05. Identical lots may fail more often, in 10 or 20 of 100 tests.", "ASTM E3009, for the tetrad; for others from memory")
	case session.GoalBoth:
		at("beta", "Each claim has a risk of its own: keep both small, 0.05.", "ASTM E3009, for the tetrad; for others from memory")
	}
	words := func(field string, pd float64) {
		if pd > 0 && pd < 1 {
			say, source := sizeOf(m, pd)
			at(field, say, source)
		}
	}
	if t.WantsDifference() {
		words("pd", t.Pd)
	}
	if t.WantsSimilarity() {
		words("pdLimit", t.PdLimit)
	}
}

// usualNumbersOf is the source of how many more a test of similarity takes.
func usualNumbersOf(m session.Method) string {
	const usual = ": 24 to 30 for a difference, about 60 for similarity" + fromMemory
	switch m.Key {
	case session.Triangle.Key:
		return "ISO 4120" + usual
	case session.DuoTrio.Key:
		return "ISO 10399: 32 to 36 for a difference, about 72 for similarity"
	}
	return "ISO 4120, for the triangle" + usual
}

// sizeOf says how large a difference is that a share of people perceives. The
// textbooks' words for that are a triangle's; in another method the same share is
// another difference, so its size in a triangle is given.
func sizeOf(m session.Method, pd float64) (say, source string) {
	d := m.Curve.DPrime(stats.PcFromPd(pd, m.Chance()))
	triangle := pd
	if m.Key != session.Triangle.Key {
		triangle = stats.PdFromPc(session.Triangle.Curve.PC(d), session.Triangle.Chance())
	}
	size := "medium"
	if triangle < 0.25 {
		size = "small"
	} else if triangle > 0.35 {
		size = "large"
	}
	if m.Key == session.Triangle.Key {
		return fmt.Sprintf("%s of people, d′ %s: a %s difference. In a triangle below 25 %% is small, above 35 %% large.", pct(pd), trim(d, 2), size),
			"textbooks" + fromMemory
	}
	return fmt.Sprintf("%s of people in this method is d′ %s: a %s difference. In a triangle %s of people would perceive it; there below 25 %% is small, above 35 %% large.",
		pct(pd), trim(d, 2), size, pct(triangle)), "textbooks" + fromMemory + "; d′ by Thurstone’s models"
}

func adviseSets(m session.Method, t session.TestPlan, at func(name, say, source string)) {
	if t.Sets < 2 {
		return
	}
	at("sets", "Avoid several sets for one assessor where you can. Where not, everybody gets the same number.", "ISO 10399")
	switch {
	case !m.Overall:
		at("sets", "People may lean one way steadily: assessors are counted here, not sets. An odd number of sets a seat finds no more than one set does, where people perceive the difference or guess.", "sign test on majorities, no standard; "+ownSums)
	case t.WantsSimilarity():
		at("sets", "Sets of one assessor are not independent: the pooled table is not used for similarity. It is judged from each taster’s own share of right answers.", "ISO 10399, a note")
	default:
		at("sets", "For a difference the ordinary table stays valid.", "ISO 10399, a note")
	}
}

// adviseTwice tells of tests that ask the same as one before them.
func adviseTwice(p session.Plan, add func(field, say, source string)) {
	for i, t := range p.Tests {
		first := slices.IndexFunc(p.Tests[:i], func(u session.TestPlan) bool { return asksTheSame(t, u) })
		if first < 0 {
			continue
		}
		say := fmt.Sprintf("Test %d asks the same as test %d, in the same way. One test with more seats answers it better; this one is decided only if test %d shows what it should, and then tells nothing new.", i+1, first+1, first+1)
		if t.Goal != p.Tests[first].Goal {
			say = fmt.Sprintf("Test %d asks the same as test %d, with another goal. One test with the goal “both” asks it of the same cups.", i+1, first+1)
		}
		add(testField(i, "method"), say, "our reasoning, no source")
	}
}

// adviseSizes tells of a later test that looks for a difference of quite another
// size than the first one does, on the scale common to both methods.
func adviseSizes(p session.Plan, add func(field, say, source string)) {
	first, size := -1, 0.0
	for i, t := range p.Tests {
		m, ok := session.MethodByKey(t.Method)
		pd, field := t.Pd, "pd"
		if !t.WantsDifference() {
			pd, field = t.PdLimit, "pdLimit"
		}
		if !ok || t.Blank != "" || !(pd >= 0.01 && pd <= 0.99) {
			continue
		}
		d := m.DPrimeOf(pd)
		if first < 0 {
			first, size = i, d
			continue
		}
		what, why := "smaller", ""
		switch {
		case d > quiteAnother*size:
			what = "larger"
			if !m.Overall {
				why = " One attribute hardly differs by more than all of them together."
			}
		case quiteAnother*d >= size:
			continue
		case !m.Overall:
			why = " One attribute may well differ by less than all of them together."
		}
		add(testField(i, field), fmt.Sprintf("Test %d looks for d′ %s, and this one, at d′ %s, for a %s difference. The d′ of test %d is %s here.%s",
			first+1, trim(size, 2), trim(d, 2), what, first+1, shareAt(m, size), why), "d′ by Thurstone’s models; advice: our reasoning, no source")
	}
}

// quiteAnother is how many times another size is large: a quarter more.
const quiteAnother = 1.25

// shareAt is the pd of a d′ in a method, to a tenth of a percent.
func shareAt(m session.Method, d float64) string {
	return "pd " + pct(math.Round(1000*m.PdOf(d))/1000)
}

// asksTheSame reports whether two tests put one question to people in one way.
func asksTheSame(t, u session.TestPlan) bool {
	m, ok := session.MethodByKey(t.Method)
	return ok && t.Method == u.Method && t.Blank == u.Blank &&
		(m.Overall || strings.EqualFold(strings.TrimSpace(t.Attribute), strings.TrimSpace(u.Attribute)))
}

// fewPeople is the number below which the panel hardly stands for anybody else (our
// reasoning, no source).
const fewPeople = 6

func adviseSeats(p session.Plan, add func(field, say, source string)) {
	if p.Seats > 1 && p.Seats < fewPeople {
		add("seats", fmt.Sprintf("From %d people a result says little of other people, however many sets each gets.", p.Seats), "our reasoning, no source")
	}
	few := false
	var blocks, sources []string
	for _, t := range p.Tests {
		m, ok := session.MethodByKey(t.Method)
		if !ok {
			continue
		}
		few = few || t.WantsSimilarity() && p.Seats < session.FewForSimilarity
		if block := fmt.Sprintf("%d seats in a %s", len(t.Orders()), m.Name); !slices.Contains(blocks, block) {
			blocks, sources = append(blocks, block), append(sources, ordersFrom(m))
		}
	}
	if few {
		add("seats", fmt.Sprintf("Fewer than %d assessors: similarity is generally not advised.", session.FewForSimilarity), fewSource)
	}
	if len(blocks) > 0 {
		add("seats", fmt.Sprintf("Each serving order is used equally often, dealt at random within groups: %s.", listed(blocks)), strings.Join(sources, "; "))
	}
	if len(p.Flights) > 1 {
		add("flights", "Other people in each flight: who comes again is no new assessor. Each flight drinks its own brews.", "independence: ISO 10399, a note; brews: "+noSource)
	}
}

// ordersFrom is the source of a method's balance of serving orders.
func ordersFrom(m session.Method) string {
	switch m.Key {
	case session.Triangle.Key:
		return "ISO 4120"
	case session.DuoTrio.Key:
		return "ISO 10399" + fromMemory
	case session.PairedComparison.Key:
		return "ISO 5495" + fromMemory
	}
	return m.Name + ": as for the triangle"
}

// veryHotC is the temperature above which drinks are classed as probably
// carcinogenic to humans (IARC Monographs volume 116, 2018).
const veryHotC = 65

// Amounts of caffeine, mg, at once and in a whole day, that give no concern for
// healthy adults (European Food Safety Authority, EFSA Journal 2015;13(5):4102).
const (
	caffeineOnceMg = 200
	caffeineDayMg  = 400
)

func (c *Console) planCautions(p session.Plan, draft bool) []string {
	var say []string
	s := p.Serving
	hot := "Brewing water and fresh coffee scald. Nothing is served before it has cooled into the serving range."
	if s.HighC > veryHotC {
		hot += fmt.Sprintf(" %s °C is very hot to drink: above %d °C drinks are classed as probably carcinogenic (IARC volume 116, from memory).", num(s.HighC), veryHotC)
	}
	say = append(say, hot)
	say = append(say, caffeineCautions(p.Supplies())...)
	switch {
	case s.Allergens == "" && !draft:
		say = append(say, "No allergens are listed: tasters are told so. Let nothing stand near the cups that holds any.")
	case s.Allergens == "":
		say = append(say, "List the allergens of what stands near the cups: crackers hold wheat; milk and nuts count too. An empty list tells tasters that there are none.")
	default:
		say = append(say, "Tasters are told of these allergens: "+strings.TrimSuffix(s.Allergens, ".")+".")
	}
	lab := c.Rooms.Lab().State()
	for _, lot := range []session.Lot{p.Untreated, p.Processed} {
		if lot.ID != "" && len(lab.ReleasesOf(lot.ID)) == 0 {
			say = append(say, fmt.Sprintf("Lot %s is not released for tasting. Nobody tastes before the licensed laboratory's release is entered on the lots page.", lot.Words()))
		}
	}
	return say
}

// caffeineCautions hold what a taster may take in against what is no concern.
func caffeineCautions(s session.Supplies) []string {
	general := fmt.Sprintf("Spitting lowers the caffeine taken in, and does not end it. For healthy adults %d mg at once and %d mg in a whole day, with all else that is drunk, are no concern; in pregnancy and when breast-feeding %d mg in a whole day; 100 mg late in the day may disturb sleep (EFSA, 2015). Anyone may sit out, and no reason is asked or kept.",
		caffeineOnceMg, caffeineDayMg, caffeineOnceMg)
	above := func(mg float64) string {
		switch {
		case mg > caffeineDayMg:
			return fmt.Sprintf("above the %d mg at once, and even the %d mg of a whole day, that are no concern for healthy adults", caffeineOnceMg, caffeineDayMg)
		case mg > caffeineOnceMg:
			return fmt.Sprintf("above the %d mg at once that is no concern for healthy adults", caffeineOnceMg)
		}
		return ""
	}
	const less = "Pour less, plan fewer sets, or have all of them spit."
	arabica, robusta := above(s.CaffeineMg), above(s.RobustaMg)
	swallows := fmt.Sprintf("A taster who swallows every cup takes in about %.0f mg of caffeine", s.CaffeineMg)
	switch {
	case robusta == "":
		return []string{general}
	case arabica == "":
		return []string{fmt.Sprintf("%s; of robusta about %.0f mg, %s. %s", swallows, s.RobustaMg, robusta, less), general}
	case arabica == robusta:
		return []string{fmt.Sprintf("%s, of robusta about %.0f mg: %s. %s", swallows, s.RobustaMg, arabica, less), general}
	}
	return []string{fmt.Sprintf("%s: %s. Of robusta it is about %.0f mg: %s. %s", swallows, arabica, s.RobustaMg, robusta, less), general}
}
