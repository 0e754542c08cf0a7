package session

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// Check returns what stands in the way of sealing, nil if nothing does.
// Advice that doesn't forbid is in [Plan.Advice] and [Forecast].
func (p Plan) Check() Faults {
	var f Faults
	bad := func(field, format string, args ...any) {
		f = append(f, Fault{field, fmt.Sprintf(format, args...)})
	}
	p.checkWords(bad)
	p.checkLots(bad)
	if p.Seats < 2 || p.Seats > 500 {
		bad("seats", "seats: %d is outside 2 to 500", p.Seats)
	}
	p.checkFlights(bad)
	p.checkTests(bad)
	p.checkServing(bad)
	p.checkConditions(bad)
	p.checkControl(bad)
	if n := utf8.RuneCountInString(p.Eligible); n > mostRuleName {
		bad("eligible", "the rule for who may taste has %d characters; %d fit", n, mostRuleName)
	}
	counts := func(x Fault) bool { return x.Field == "seats" || strings.HasSuffix(x.Field, ".sets") }
	if p.MostSeats() > 0 && !slices.ContainsFunc(f, counts) {
		if need, have := p.codesNeeded(), len(usableCodes); need > have {
			bad("seats", "%d seats need %d codes with their replacements, and there are %d: at most %d seats fit into one session of these tests. Plan fewer sets, or a second session", p.Seats, need, have, p.MostSeats())
		}
	}
	return f
}

// checkLots holds the lots against what the register said of each. Only control
// sets may be of one lot, or of two of one kind: their difference is made.
func (p Plan) checkLots(bad func(field, format string, args ...any)) {
	a, b := p.Untreated, p.Processed
	decaffeinated := func(l Lot) bool { return l.Treatment != "" && !l.Untreated() }
	switch {
	case a.ID == "":
		bad("untreated", "choose the untreated lot")
		if b.ID == "" {
			bad("processed", "choose the processed lot")
		}
	case b.ID == "":
		bad("processed", "choose the processed lot")
	case a.ID == b.ID && p.Control == nil:
		bad("processed", "lot %s is chosen twice, as untreated and as processed: choose two lots", a.Words())
	case a.ID != b.ID && decaffeinated(a) && b.Untreated():
		bad("untreated", "the lots stand the wrong way round: lot %s, chosen as untreated, is by the register processed with %s, and lot %s, chosen as processed, is untreated. Change them over", a.Number, a.Treatment, b.Number)
	case p.Control != nil:
	case decaffeinated(a):
		bad("untreated", "by the register lot %s is processed with %s: choose the lot that is untreated", a.Number, a.Treatment)
	case b.Untreated():
		bad("processed", "by the register lot %s is untreated: choose the lot that was processed", b.Number)
	}
}

func (p Plan) checkFlights(bad func(field, format string, args ...any)) {
	if len(p.Flights) == 0 {
		return
	}
	sum := 0
	for i, n := range p.Flights {
		if n < 2 || n > 500 {
			bad("flights", "flight %d has %s; a flight has 2 to 500", i+1, counted(n, "seat"))
			return
		}
		sum += n
	}
	switch {
	case len(p.Flights) > mostFlights:
		bad("flights", "%d flights; at most %d fit into a session", len(p.Flights), mostFlights)
	case sum != p.Seats:
		bad("flights", "the flights have %d seats together, the session has %d", sum, p.Seats)
	}
}

const mostFlights = 30

func (p Plan) checkTests(bad func(field, format string, args ...any)) {
	attribute, triangle, blanks, lots := false, false, 0, 0
	for i, t := range p.Tests {
		bad := func(name, format string, args ...any) {
			bad(fmt.Sprintf("tests.%d.%s", i, name), fmt.Sprintf("test %d: ", i+1)+format, args...)
		}
		m, ok := MethodByKey(t.Method)
		if !ok {
			bad("method", "no method is called %q", t.Method)
			continue
		}
		t.checkRisks(bad)
		if t.Sets < 1 || t.Sets > 6 {
			bad("sets", "%d sets per seat is outside 1 to 6", t.Sets)
		}
		switch {
		case t.Reference != "" && t.Reference != ReferenceConstant:
			bad("reference", "the reference %q is not known; use %q or leave it out", t.Reference, ReferenceConstant)
		case t.Reference != "" && m.Constant == nil:
			bad("reference", "a %s has no reference", m.Name)
		}
		if t.TwoSided && m.Key != PairedComparison.Key {
			bad("sided", "a %s has one side only: the answer is right or not", m.Name)
		}
		if t.Blank != "" {
			blanks++
			switch {
			case t.Blank != BlankUntreated && t.Blank != BlankProcessed:
				bad("blank", "a blank test is of the lot %q or %q", BlankUntreated, BlankProcessed)
			case !m.Overall:
				bad("blank", "a blank test asks for any difference: take a triangle, a duo-trio test or a tetrad")
			case blanks > 1:
				bad("blank", "one blank test is enough for a session")
			}
		} else {
			lots++
		}
		p.checkSequential(i, m, bad)
		if m.Overall {
			if attribute {
				bad("method", "an attribute test must not come before a test for any difference on the same lots: it tells what to look for")
			}
			triangle = triangle || m.Key == Triangle.Key
			continue
		}
		attribute = true
		if m.Key == ThreeAFC.Key && triangle {
			bad("method", "no 3-AFC test in a session with a triangle: after looking for the odd cup of three, tasters find the single cup by any cue, and need not judge %s. Take a paired comparison", orAttribute(t.Attribute))
		}
		t.checkAttribute(m, bad)
	}
	if len(p.Tests) == 0 {
		bad("tests", "the plan has no test")
	} else if lots == 0 && blanks > 0 {
		bad("tests", "a blank test alone compares a lot with itself: add a test of the two lots")
	}
}

func orAttribute(a string) string {
	if strings.TrimSpace(a) == "" {
		return "the attribute"
	}
	return a
}

func (t TestPlan) checkRisks(bad func(name, format string, args ...any)) {
	if !t.WantsDifference() && !t.WantsSimilarity() {
		bad("goal", "the goal %q is not known; use %q, %q or %q", t.Goal, GoalDifference, GoalSimilarity, GoalBoth)
		return
	}
	if t.WantsDifference() {
		if !within(t.Alpha, 0.0001, 0.4) {
			bad("alpha", "α is %v; it lies between 0.0001 and 0.4", t.Alpha)
		}
		if !within(t.Pd, 0.01, 0.99) {
			bad("pd", "pd is %v; it lies between 0.01 and 0.99", t.Pd)
		}
	}
	if !within(t.Power, 0.5, 0.999) {
		bad("power", "the wanted power is %v; it lies between 0.5 and 0.999", t.Power)
	}
	if (t.WantsSimilarity() || t.Sequential) && !within(t.Beta, 0.0001, 0.4) {
		bad("beta", "β is %v; it lies between 0.0001 and 0.4", t.Beta)
	}
	if t.WantsSimilarity() && !within(t.PdLimit, 0.01, 0.99) {
		bad("pdLimit", "the pd limit is %v; it lies between 0.01 and 0.99", t.PdLimit)
	}
}

// checkAttribute holds for paired comparison and 3-AFC. People may lean one way
// steadily, so their sets are not independent: assessors are counted, which
// works for pairs (a sign test on majorities) and in no other way here.
func (t TestPlan) checkAttribute(m Method, bad func(name, format string, args ...any)) {
	switch {
	case t.Sets > 1 && m.Key != PairedComparison.Key:
		bad("sets", "one %s set per seat, since people may lean one way steadily", m.Name)
	case t.Sets > 1 && t.WantsSimilarity():
		bad("sets", "one set per seat where pairs are to show similarity: with more, assessors are counted, and a majority has no pd")
	case t.WantsSimilarity() && m.Key != PairedComparison.Key:
		bad("goal", "a %s looks one way only, so it can't show similarity: the lots could differ the other way. Take a two-sided paired comparison", m.Name)
	case t.WantsSimilarity() && !t.TwoSided:
		bad("sided", "similarity needs the two-sided paired comparison: one-sided, lots that differ the other way would pass")
	}
	switch n := utf8.RuneCountInString(t.Attribute); {
	case strings.TrimSpace(t.Attribute) == "":
		bad("attribute", "name the attribute")
	case n > 30:
		bad("attribute", "the attribute has %d characters; 30 fit", n)
	}
	switch n := utf8.RuneCountInString(t.Definition); {
	case strings.TrimSpace(t.Definition) == "":
		bad("definition", "define the attribute in words that a taster can use")
	case n > 300:
		bad("definition", "the definition has %d characters; 300 fit", n)
	}
}

// checkSequential: the looks of a sequential test come after whole rounds, so
// there must be several, and nothing may depend on it afterwards.
func (p Plan) checkSequential(i int, m Method, bad func(name, format string, args ...any)) {
	t := p.Tests[i]
	if !t.Sequential {
		return
	}
	switch {
	case i != len(p.Tests)-1:
		bad("sequential", "only the last test of a session can stop early: what follows it would tell how it went")
	case t.Goal == GoalSimilarity:
		bad("sequential", "a test that may stop early needs an α: choose the goal %q or %q", GoalDifference, GoalBoth)
	case t.Goal == GoalBoth && t.Sets > 1:
		bad("sequential", "one set per seat: with more, similarity is judged from each taster's own share, which can't be followed round by round. Plan several flights, or the goal %q", GoalDifference)
	case t.TwoSided:
		bad("sequential", "a two-sided test can't stop early here: its lines are for one side")
	case !m.Overall && t.Sets > 1:
		bad("sequential", "one set per seat: with more, assessors are counted. Plan several flights")
	case len(p.Flights) > 1 && len(p.Tests) > 1:
		bad("sequential", "with several flights a test that may stop early stands alone: its stop would cut the others short")
	case slices.ContainsFunc(p.Flights, func(n int) bool { return n != p.Flights[0] }):
		bad("sequential", "its looks come after equal numbers of answers: make the flights equal")
	case t.Sets*len(p.FlightSizes()) < 2:
		bad("sequential", "it looks after whole rounds: plan two sets per seat or more, or several flights")
	case t.Goal == GoalBoth && t.PdLimit != t.Pd:
		bad("pdLimit", "a test that may stop early has one pd: make the limit the pd worth finding, %v", t.Pd)
	}
}

func (p Plan) checkWords(bad func(field, format string, args ...any)) {
	title := strings.TrimSpace(p.Title)
	switch {
	case title == "":
		bad("title", "give the session a title; tasters see it, so name no lot and no attribute")
	case utf8.RuneCountInString(p.Title) > 60:
		bad("title", "the title has %d characters; 60 fit", utf8.RuneCountInString(p.Title))
	}
	if tells := p.titleTells(); tells != "" {
		bad("title", "the title names %s, and tasters see the title", tells)
	}
	low := strings.ToLower(title)
	for _, t := range p.Tests {
		a := strings.ToLower(strings.TrimSpace(t.Attribute))
		if a != "" && strings.Contains(low, a) {
			bad("title", "the title names the attribute %s, and tasters see the title", a)
		}
	}
	for _, w := range []struct{ field, words string }{
		{"serving.swallow", p.Serving.Swallow}, {"serving.allergens", p.Serving.Allergens},
	} {
		if n := utf8.RuneCountInString(w.words); n > mostWords {
			bad(w.field, "%s: %d characters; %d fit", w.field, n, mostWords)
		}
	}
}

func (p Plan) checkServing(bad func(field, format string, args ...any)) {
	s := p.Serving
	if !within(s.FillG, 5, 300) {
		bad("serving.fillG", "fill: %v g is outside 5 to 300 g a cup", s.FillG)
	}
	if within(s.LowC, 5, 75) && within(s.HighC, 5, 75) && s.LowC >= s.HighC {
		bad("serving.highC", "serving temperature: up to %v °C lies not above from %v °C; give a range", s.HighC, s.LowC)
	} else if !within(s.LowC, 5, 75) || !within(s.HighC, 5, 75) {
		bad("serving.lowC", "serving temperature: from %v to %v °C; give a range between 5 and 75 °C, since hotter drinks scald", s.LowC, s.HighC)
	}
	if !within(s.DoseGPerL, 10, 200) {
		bad("serving.doseGPerL", "dose: %v g per litre is outside 10 to 200", s.DoseGPerL)
	}
	if s.RinseS < 0 || s.RinseS > 900 {
		bad("serving.rinseS", "rinse: %d s is outside 0 to 900", s.RinseS)
	}
}

// The longest times that a plan may state, min.
const (
	mostHoldMin    = 240
	mostDiscardMin = 120
)

func (p Plan) checkConditions(bad func(field, format string, args ...any)) {
	c := p.Conditions
	for _, w := range []struct{ field, name, words string }{
		{"place", "place", c.Place}, {"storage", "storage", c.Storage},
		{"light", "light", c.Light}, {"partitions", "partitions", c.Partitions}, {"masking", "what hides looks", c.Masking},
		{"vessels", "the cups", c.Vessels}, {"roast", "roast", c.Roast}, {"water", "water", c.Water},
		{"warmUp", "warm-up cup", c.WarmUp}, {"cleanser", "cleanser", c.Cleanser},
	} {
		if n := utf8.RuneCountInString(w.words); n > mostWords {
			bad("conditions."+w.field, "%s: %d characters; %d fit", w.name, n, mostWords)
		}
	}
	if c.HoldMin < 0 || c.HoldMin > mostHoldMin {
		bad("conditions.holdMin", "a brew is held: %d min is outside 1 to %d; leave it empty where the plan says nothing", c.HoldMin, mostHoldMin)
	}
	if c.DiscardMin < 0 || c.DiscardMin > mostDiscardMin {
		bad("conditions.discardMin", "a poured cup is thrown away: %d min is outside 1 to %d; leave it empty where the plan says nothing", c.DiscardMin, mostDiscardMin)
	}
	switch {
	case c.HoldLowC == 0 && c.HoldHighC == 0:
	case !within(c.HoldLowC, 5, 95) || !within(c.HoldHighC, 5, 95):
		bad("conditions.holdLowC", "a brew is held at %v to %v °C; give both, between 5 and 95 °C, or leave both empty", c.HoldLowC, c.HoldHighC)
	case c.HoldLowC >= c.HoldHighC:
		bad("conditions.holdHighC", "a brew is held: up to %v °C lies not above from %v °C; give a range", c.HoldHighC, c.HoldLowC)
	}
	if c.Retaste != "" && c.Retaste != RetasteAllowed && c.Retaste != RetasteNot {
		bad("conditions.retaste", "tasting again: %q is not known; use %q, %q or leave it out", c.Retaste, RetasteAllowed, RetasteNot)
	}
}

// The bounds of what a plan says of its control sets.
const (
	mostControlWords  = 80
	mostControlDPrime = 10
	mostPercent       = 1000
)

func (p Plan) checkControl(bad func(field, format string, args ...any)) {
	c := p.Control
	if c == nil {
		return
	}
	if err := checkLabel(strings.TrimSpace(c.Words), "control", mostControlWords); err != nil {
		bad("control.words", "control sets: say in 1 to %d characters what differs, beginning with a letter or a digit, as “brew diluted by a tenth”", mostControlWords)
	} else if strings.Contains(strings.ToLower(p.Title), strings.ToLower(strings.TrimSpace(c.Words))) {
		bad("title", "the title tells what differs in the control sets, and tasters see the title")
	}
	if !within(c.Percent, 0, mostPercent) {
		bad("control.percent", "control sets: a strength of %v is outside 0 to %d percent; leave it empty where the difference is no share", c.Percent, mostPercent)
	}
	if !within(c.DPrime, 0, mostControlDPrime) {
		bad("control.dPrime", "control sets: a d′ of %v is outside 0 to %d; leave it empty where it is not known", c.DPrime, mostControlDPrime)
	}
}

// figuresMissing reports a figure that no journal can hold.
func (p Plan) figuresMissing() bool {
	figures := []float64{
		p.Serving.FillG, p.Serving.LowC, p.Serving.HighC, p.Serving.DoseGPerL, p.Conditions.HoldLowC, p.Conditions.HoldHighC,
	}
	if p.Control != nil {
		figures = append(figures, p.Control.Percent, p.Control.DPrime)
	}
	for _, t := range p.Tests {
		figures = append(figures, t.Alpha, t.Pd, t.Power, t.Beta, t.PdLimit)
	}
	for _, x := range figures {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return true
		}
	}
	return false
}

// MostSeats is the number of seats for which the codes suffice; 0 where no test
// has a cup.
func (p Plan) MostSeats() int {
	cups := p.CupsPerSeat()
	if cups < 1 {
		return 0
	}
	return len(usableCodes) / (takesPerSet * cups)
}

func (p Plan) codesNeeded() int { return 2 * p.Seats * p.CupsPerSeat() }

// within is false for NaN.
func within(x, low, high float64) bool { return !math.IsNaN(x) && x >= low && x <= high }
