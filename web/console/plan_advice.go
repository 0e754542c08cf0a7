package console

import (
	"fmt"
	"strings"

	"oddcup/session"
)

// advice is what a standard advises, with its source. It warns and forbids
// nothing. Where a clause was only remembered, or where there is none, the
// source says so.
type advice struct{ Say, Source string }

const (
	fromMemory = ", from memory"
	noSource   = "common practice, no source"
	ownSums    = "computed, exact binomial"
)

// fewForSimilarity is the number of answers below which similarity is not
// advised: ISO 5495, note to table A.3.
const fewForSimilarity = 30

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
		adviseGoal(t, at)
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
		at("blank", "If two brews of one lot are often told apart, the brewing was tasted: no difference test on these lots is valid then.", "ISO 4120, scope: lots must be homogeneous")
	}
	if t.Sequential {
		at("sequential", "It stops by lines fixed beforehand. To look after every answer and stop at “significant” is no such rule: from 6 to 30 triangles at 0.05 it would call equal lots different in 12.6 of 100 tests.", "lines: ISO 16820"+fromMemory+"; figure: "+ownSums)
	}
}

func adviseGoal(t session.TestPlan, at func(name, say, source string)) {
	switch t.Goal {
	case session.GoalDifference:
		at("goal", "No difference found is not the same as alike. That is another question, and takes about twice as many.", "ISO 10399: 32 to 36 for a difference, about 72 for similarity")
		at("alpha", "To show a difference keep α small, 0.05; β may be larger.", "ASTM E3009, for the tetrad; for others from memory")
	case session.GoalSimilarity:
		at("beta", "To show similarity keep β small, 0.05. Identical lots may fail more often, in 10 or 20 of 100 tests.", "ASTM E3009, for the tetrad; for others from memory")
	case session.GoalBoth:
		at("beta", "Each claim has a risk of its own: keep both small, 0.05.", "ASTM E3009, for the tetrad; for others from memory")
	}
	words := func(field string, pd float64) {
		if pd > 0 && pd < 1 {
			size := "medium"
			if pd < 0.25 {
				size = "small"
			} else if pd > 0.35 {
				size = "large"
			}
			at(field, fmt.Sprintf("%s of people: a %s difference. Below 25 %% is small, above 35 %% large.", pct(pd), size), "textbooks"+fromMemory)
		}
	}
	if t.WantsDifference() {
		words("pd", t.Pd)
	}
	if t.WantsSimilarity() {
		words("pdLimit", t.PdLimit)
	}
}

func adviseSets(m session.Method, t session.TestPlan, at func(name, say, source string)) {
	if t.Sets < 2 {
		return
	}
	at("sets", "Avoid several sets for one assessor where you can. Where not, everybody gets the same number.", "ISO 10399")
	switch {
	case !m.Overall:
		at("sets", "People may lean one way steadily: assessors are counted here, not sets.", "sign test on majorities, no standard")
	case t.WantsSimilarity():
		at("sets", "Sets of one assessor are not independent: the pooled table is not used for similarity. It is judged from each taster’s own share, and these figures are the best case.", "ISO 10399, a note")
	default:
		at("sets", "For a difference the ordinary table stays valid.", "ISO 10399, a note")
	}
}

func adviseSeats(p session.Plan, add func(field, say, source string)) {
	few, orders := false, false
	for _, t := range p.Tests {
		_, ok := session.MethodByKey(t.Method)
		few = few || ok && t.WantsSimilarity() && t.Sets > 0 && p.Seats*t.Sets < fewForSimilarity
		orders = orders || ok
	}
	if few {
		add("seats", fmt.Sprintf("Fewer than %d answers: similarity is generally not advised.", fewForSimilarity), "ISO 5495, note to table A.3; for other methods from memory")
	}
	if orders {
		add("seats", "Each serving order is used equally often, dealt at random within groups: six seats in a triangle.", "ISO 4120")
	}
	if len(p.Flights) > 1 {
		add("flights", "Other people in each flight: who comes again is no new assessor. Each flight drinks its own brews.", "independence: ISO 10399, a note; brews: "+noSource)
	}
}

// veryHotC is the temperature above which drinks are classed as probably
// carcinogenic to humans (IARC Monographs volume 116, 2018).
const veryHotC = 65

// caffeineOnceMg is the amount at once that gives no concern for healthy adults
// (European Food Safety Authority, EFSA Journal 2015;13(5):4102).
const caffeineOnceMg = 200

func (c *Console) planCautions(p session.Plan, draft bool) []string {
	var say []string
	s := p.Serving
	hot := "Brewing water and fresh coffee scald. Nothing is served before it has cooled into the serving range."
	if s.HighC > veryHotC {
		hot += fmt.Sprintf(" %s °C is very hot to drink: above %d °C drinks are classed as probably carcinogenic (IARC volume 116, from memory).", num(s.HighC), veryHotC)
	}
	say = append(say, hot)
	caffeine := "Spitting lowers the caffeine taken in, and does not end it. 200 mg at once is no concern for healthy adults, and 200 mg a whole day in pregnancy (EFSA, 2015). Anyone may sit out, and no reason is asked or kept."
	if mg := p.Supplies().CaffeineMg; mg > caffeineOnceMg {
		caffeine = fmt.Sprintf("A taster who swallows every cup may take in about %.0f mg of caffeine, above the %d mg at once that is no concern for healthy adults. Pour less, or plan fewer sets. ", mg, caffeineOnceMg) + caffeine
	}
	say = append(say, caffeine)
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
