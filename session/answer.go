package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"oddcup/stats"
)

// Answer says in a few sentences what the session showed: whether the lots
// could be told apart, by the named attribute, and whether within the limit.
func (r Result) Answer() string {
	if r.Practice {
		return "This was practice. It never counts, so nothing is decided about the lots."
	}
	first, rest, _ := r.split()
	if first == nil || first.N == 0 {
		return "There is no answer: no set of the first test counts."
	}
	say := first.opening()
	if first.claims() {
		say = furtherWords(say, rest)
	}
	if r.BrewingTold() {
		// A plain yes must not stand first: it may be the brewing's.
		if plain, ok := strings.CutPrefix(say, "Yes. "); ok {
			say = plain
		} else if plain, ok := strings.CutPrefix(say, "Yes, by little. "); ok {
			say = plain
		}
		say = "The brewing may be what was tasted: two brews of one lot could be told apart. " + say
	}
	if r.OneLot {
		say = ofBrews.Replace(say)
	}
	return say
}

// BrewingTold reports whether a blank test found a difference: people could tell
// two brews of one lot apart, so that what the other tests found may be the
// brewing.
func (r Result) BrewingTold() bool {
	for _, t := range r.Tests {
		if t.Plan.Blank != "" && t.Plan.WantsDifference() && t.claims() {
			return true
		}
	}
	return false
}

// split gives the first test of the two lots, those after it, and the blank
// test; nil where there is none.
func (r Result) split() (first *TestResult, rest []TestResult, blank *TestResult) {
	for i := range r.Tests {
		switch t := &r.Tests[i]; {
		case t.Plan.Blank != "":
			blank = t
		case first == nil:
			first = t
		default:
			rest = append(rest, *t)
		}
	}
	return first, rest, blank
}

// opening is the answer of the first test.
func (t TestResult) opening() string {
	by, what := "", "the difference"
	if !t.Method.Overall {
		by, what = " by "+t.attributeWords(), "a difference in "+t.Plan.Attribute
	}
	within := fmt.Sprintf("fewer than %s of people perceive %s", percent(t.Plan.PdLimit), what)
	switch t.Outcome {
	case Different:
		return "Yes. The panel could tell the two lots apart" + by + "."
	case DifferentSmall:
		return "Yes, by little. The panel could tell the two lots apart" + by + ", and at risk β " + risk(t.Plan.Beta) + " " + within + "."
	case Similar:
		say := "Similar within the limit. At risk β " + risk(t.Plan.Beta) + " " + within + ". That is not the same as no difference."
		if t.farBelowChance() {
			say += " But so few correct answers are hardly explained by guessing: check the serving key before you trust it."
		}
		return say
	}
	switch t.Plan.Goal {
	case GoalSimilarity:
		return "Undecided. These answers do not show that " + within + "; they do not show that there is one either."
	case GoalBoth:
		if !t.Method.Overall {
			by = " by " + t.Plan.Attribute
		}
		return "Undecided. These answers show neither that the panel could tell the two lots apart" + by + " nor that " + within + "."
	}
	if !t.Method.Overall {
		by = " by " + t.Plan.Attribute
	}
	return "Undecided. These answers do not show that the panel could tell the two lots apart" + by + "; they do not show that the lots are the same."
}

// furtherWords are what the tests after the first add to its answer.
func furtherWords(first string, rest []TestResult) string {
	var by, small, not []string
	for _, t := range rest {
		switch t.Outcome {
		case Different, DifferentSmall:
			by = append(by, t.byWords())
		case Similar:
			small = append(small, t.byWords())
		default:
			not = append(not, t.byWords())
		}
	}
	join := func(words []string) string {
		return strings.ReplaceAll(strings.Join(words, " and "), " and by ", " and ")
	}
	say := strings.TrimSuffix(first, ".")
	plain := strings.HasSuffix(say, "apart")
	switch {
	case len(by) > 0 && len(not) == 0 && plain:
		say += ", and it could tell them apart " + join(by) + "."
	case len(by) > 0 && plain:
		say += ", also " + join(by) + "; whether they can be told apart " + join(not) + " is undecided."
	case len(by) > 0:
		say += ". The panel could tell them apart " + join(by) + "."
	default:
		say += "."
	}
	if len(small) > 0 {
		say += " They are similar within the limit " + join(small) + "."
	}
	if len(not) > 0 && !(len(by) > 0 && plain) {
		say += " Whether they can be told apart " + join(not) + " is undecided."
	}
	return say
}

// byWords names what a test asked about, after "told apart".
func (t TestResult) byWords() string {
	if t.Method.Overall {
		return "in the " + t.Method.Name
	}
	return "by " + t.attributeWords()
}

// attributeWords names the attribute, and the lot where it is the one nobody
// would expect.
func (t TestResult) attributeWords() string {
	if t.Plan.TwoSided && 2*t.Correct < t.N {
		return t.Plan.Attribute + ", with " + t.Plan.less() + " of it in the untreated lot"
	}
	return t.Plan.Attribute
}

// Sentence says what was counted, in words.
func (t TestResult) Sentence() string {
	if t.N == 0 {
		return "No answer counts."
	}
	by := mean(float64(t.N) * t.Method.Chance())
	if t.majorities() {
		say := fmt.Sprintf("%d of %d tasters mostly %s; guessing alone gives %s on average.", t.Correct, t.N, t.Method.Find(t.Plan), by)
		if t.Even > 0 {
			say += fmt.Sprintf(" %s split evenly and %s left out.", counted(t.Even, "more taster"), isAre(t.Even))
		}
		return say
	}
	return fmt.Sprintf("%d of %d %s; guessing alone gives %s on average.", t.Correct, t.N, t.Method.Find(t.Plan), by)
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func mean(x float64) string {
	if x == float64(int(x)) {
		return fmt.Sprintf("%d", int(x))
	}
	return fmt.Sprintf("%.1f", x)
}

// PSentence says the p-value of the difference as a sentence; "" where the goal
// has none.
func (t TestResult) PSentence() string {
	if t.N == 0 || !t.Plan.WantsDifference() {
		return ""
	}
	if t.Plan.Sequential {
		return "The test could stop after each round, so the count has no p-value; its registered lines decide."
	}
	tail := fmt.Sprintf("%d or more", t.Correct)
	if t.Plan.TwoSided {
		tail = "a count this uneven, either way,"
	}
	say := fmt.Sprintf("If nobody could taste a difference, %s would turn up in %s (%s).", tail, sessionsOf(t.P), PWords(t.P))
	if t.notReached() {
		say += " The registered order did not reach this test, so that is exploratory."
	}
	return say
}

// notReached reports whether the registered order stopped before this test.
func (t TestResult) notReached() bool { return !t.Decided && t.Number > 1 }

// farBelowChance reports whether guessing hardly explains so few correct.
func (t TestResult) farBelowChance() bool {
	return t.N > 0 && !t.Plan.TwoSided && len(stats.AdviceForCount(t.N, t.Correct, t.Method.Chance())) > 0
}

// SimilarSentence says the p-value of the similarity test as a sentence; ""
// where the goal has none.
func (t TestResult) SimilarSentence() string {
	if t.N == 0 || !t.Plan.WantsSimilarity() || t.Plan.Sequential {
		return ""
	}
	if t.Replicated != nil && t.Replicated.Assessors < stats.FewestForReplicatedSimilarity {
		return fmt.Sprintf("From each taster’s sets no limit is given: with fewer than %d people it does not hold its risk.", stats.FewestForReplicatedSimilarity)
	}
	if t.Replicated != nil {
		return fmt.Sprintf("From each taster’s sets the share who perceive the difference is at most %s, at risk β %s (an approximation).",
			t.PdUpperWords(), risk(t.Plan.Beta))
	}
	so := fmt.Sprintf("%d or fewer", t.Correct)
	if t.Plan.TwoSided {
		// The larger of the two one-sided tests' p is that of the fuller side.
		so = fmt.Sprintf("all in one direction, %d or fewer on their side", max(t.Correct, t.N-t.Correct))
	}
	return fmt.Sprintf("If %s of people perceived the difference, %s would turn up in %s (%s).", percent(t.Plan.PdLimit), so, sessionsOf(t.SimilarP), PWords(t.SimilarP))
}

// LimitSentence gives the upper limit of pd that decides on similarity, with its
// level: an interval of pd may have another one and reach beyond the pd limit. It
// is "" where the goal has none, and where SimilarSentence gives it.
func (t TestResult) LimitSentence() string {
	if t.N == 0 || !t.Plan.WantsSimilarity() || t.Plan.Sequential || t.Replicated != nil {
		return ""
	}
	way := ""
	if t.Plan.TwoSided {
		way = " either way, if all who do perceive it in one direction"
	}
	limit := "at most " + t.PdUpperWords()
	if t.PdUpper <= 0 {
		limit = "bounded by no value: fewer were right than guessing gives, even"
	}
	say := fmt.Sprintf("The share who perceive it%s, pd, is %s at the one-sided level %s (1 − β)", way, limit, percent(1-t.Plan.Beta))
	switch {
	case !t.Decided || !t.HasMax:
		return say + "."
	case t.Plan.WantsDifference():
		return say + fmt.Sprintf("; that, and no interval at another level, is held against the limit of %s.", percent(t.Plan.PdLimit))
	}
	return say + fmt.Sprintf("; that is held against the limit of %s.", percent(t.Plan.PdLimit))
}

// PdUpperWords prints [TestResult.PdUpperShown] in percent.
func (t TestResult) PdUpperWords() string {
	return strconv.FormatFloat(math.Round(1e6*t.PdUpperShown())/1e4, 'f', -1, 64) + " %"
}

// PdUpperShown is the upper limit of pd as it is printed: not below 0, and rounded
// up to a tenth of a percent, or to more decimals where it would otherwise seem to
// reach the pd limit.
func (t TestResult) PdUpperShown() float64 {
	upper := max(0, t.PdUpper)
	for scale := 1e3; scale < 1e6; scale *= 10 {
		if x := max(0, math.Ceil(scale*upper-1e-9)) / scale; x < t.Plan.PdLimit || upper >= t.Plan.PdLimit {
			return x
		}
	}
	return upper
}

func sessionsOf(p float64) string {
	switch n := p * 1000; {
	case p >= 0.9995:
		return "all of 1000 such sessions"
	case n >= 9.5:
		return fmt.Sprintf("%.0f of 1000 such sessions", n)
	case n >= 0.95:
		return fmt.Sprintf("%.1f of 1000 such sessions", n)
	default:
		return "fewer than 1 of 1000 such sessions"
	}
}

// PWords prints a p-value as "p = 0.028", with no-break spaces.
func PWords(p float64) string {
	if p < 0.0001 {
		return "p\u00a0<\u00a00.0001"
	}
	return "p\u00a0=\u00a0" + PValue(p)
}

// PValue prints a p-value to two significant digits, and "< 0.0001" below.
func PValue(p float64) string {
	switch {
	case p < 0.0001:
		return "<\u00a00.0001"
	case p >= 0.995:
		return "1.0"
	}
	// A p that would be printed as a usual α without being it gets more digits,
	// so that it never seems to stand on it.
	for digits := 2; digits < 8; digits++ {
		s := significant(p, digits)
		read, err := strconv.ParseFloat(s, 64)
		if err != nil || !slices.Contains(usualAlphas, read) || math.Abs(p-read) < 1e-12 {
			return s
		}
	}
	return significant(p, 8)
}

var usualAlphas = []float64{0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.001}

// significant prints p below 1 with this many significant digits, and at least
// two decimals, without an exponent.
func significant(p float64, digits int) string {
	decimals := digits - 1 - int(math.Floor(math.Log10(p)))
	s := strconv.FormatFloat(p, 'f', decimals, 64)
	for len(s) > len("0.00") && strings.HasSuffix(s, "0") {
		s = s[:len(s)-1]
	}
	return s
}

// Verdict says what a test's registered analysis makes of it, and why.
func (t TestResult) Verdict() string {
	switch {
	case t.N == 0:
		return "Nothing to decide on."
	case !t.Decided:
		return "Not decided: the registered order stops at the first test that does not show what it was to show. The count stands without a conclusion."
	case t.Plan.Sequential:
		return t.sequentialVerdict()
	}
	var why []string
	if t.Plan.WantsDifference() {
		why = append(why, t.differenceVerdict())
	}
	if t.Plan.WantsSimilarity() {
		why = append(why, t.similarVerdict())
	}
	return capital(string(t.Outcome)) + ": " + strings.Join(why, "; ") + "."
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func (t TestResult) differenceVerdict() string {
	alpha := risk(t.Plan.Alpha)
	switch {
	case !t.HasMin:
		return fmt.Sprintf("no count of %d can be significant at α %s", t.N, alpha)
	case !t.significant() && t.Plan.TwoSided:
		return fmt.Sprintf("the count does not reach the minimum of %d for either side at α %s", t.MinCorrect, alpha)
	case !t.significant():
		return fmt.Sprintf("the count does not reach the minimum of %d at α %s", t.MinCorrect, alpha)
	case t.Plan.TwoSided && 2*t.Correct < t.N:
		return fmt.Sprintf("%d picked the untreated lot as the one with %s %s, and the minimum for either side is %d at α %s",
			t.N-t.Correct, t.Plan.less(), t.Plan.Attribute, t.MinCorrect, alpha)
	}
	return fmt.Sprintf("the count reaches the minimum of %d at α %s", t.MinCorrect, alpha)
}

func (t TestResult) similarVerdict() string {
	limit := fmt.Sprintf("at β %s and a pd limit of %s", risk(t.Plan.Beta), percent(t.Plan.PdLimit))
	switch {
	case t.Replicated != nil && !t.Replicated.Conclusive:
		return fmt.Sprintf("no conclusion of similarity is drawn from each taster’s sets with %s %s", counted(t.Replicated.Assessors, "assessor"), limit)
	case t.Replicated != nil && t.alike():
		return "the upper limit from each taster’s sets keeps within it " + limit
	case t.Replicated != nil:
		return "the upper limit from each taster’s sets does not keep within it " + limit
	case !t.HasMax:
		return fmt.Sprintf("no count of %d allows the conclusion of similarity %s", t.N, limit)
	case t.Plan.TwoSided && t.alike():
		return fmt.Sprintf("the count lies within %d to %d, the range of similarity %s", t.MinSimilar, t.MaxCorrect, limit)
	case t.Plan.TwoSided:
		return fmt.Sprintf("the count lies outside %d to %d, the range of similarity %s", t.MinSimilar, t.MaxCorrect, limit)
	case t.alike():
		return fmt.Sprintf("the count keeps to the maximum of %d for similarity %s", t.MaxCorrect, limit)
	}
	return fmt.Sprintf("the count exceeds the maximum of %d for similarity %s", t.MaxCorrect, limit)
}

func (t TestResult) sequentialVerdict() string {
	last := t.Looks[len(t.Looks)-1]
	seen := fmt.Sprintf("after %s, %d correct", counted(last.N, "answer"), last.Correct)
	switch last.Decision {
	case stats.Different:
		return fmt.Sprintf("Different: %s, the count reached the upper line (α %s).", seen, risk(t.Plan.Alpha))
	case stats.Similar:
		if t.Plan.WantsSimilarity() {
			return fmt.Sprintf("Similar: %s, the count reached the lower line (β %s at pd %s).", seen, risk(t.Plan.Beta), percent(t.Plan.Pd))
		}
		return fmt.Sprintf("Undecided: %s, the count reached the lower line: a difference that %s of people perceive was not found (β %s).",
			seen, percent(t.Plan.Pd), risk(t.Plan.Beta))
	}
	if last.Cut {
		return fmt.Sprintf("Undecided: the session was closed within a round, %s, and the registered rule looks at whole rounds only.", seen)
	}
	return fmt.Sprintf("Undecided: %s, the count lay between the lines at the end.", seen)
}
