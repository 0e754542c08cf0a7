package session

import (
	"slices"
	"strings"

	"oddcup/stats"
)

// Method is one forced-choice method as a row of data: adding one is adding a
// row here, a drawing of its tray on the phone, and its check values. In a
// serving order, A is a cup of the untreated lot and B a cup of the processed
// one, left to right. In a blank test both are brews of one lot.
type Method struct {
	Key    string   // as in plans and files
	Name   string   // as on screens
	Short  string   // where room is short, as "duo-trio"
	Cups   int      // cups in a set, the reference included
	Orders []string // serving orders; a whole block holds each once
	Curve  stats.Psychometric

	// Constant are the serving orders where the reference is always the
	// untreated lot; nil where the method has no reference.
	Constant []string

	// Overall is true where the question is whether the lots differ at all,
	// and false where it asks for a named attribute.
	Overall bool

	// Picks is the number of cups that an answer names: one, or two that are
	// alike.
	Picks int

	// Counted gives the places in an order, from 0, of the cups that a correct
	// answer names, left to right.
	Counted func(order string) []int

	// Ask words the question to the taster, and Hint how to taste.
	Ask  func(TestPlan) string
	Hint string

	// Find says what a correct answer did, after a count: "13 of 24 found the
	// odd cup".
	Find func(TestPlan) string

	// Luck says in words how often guessing alone is right.
	Luck string

	// Standard is what the method follows, for a test report.
	Standard string

	// Words for a result: what is counted, heads a table of the counted cups,
	// and says of a tray that its answer was right or not.
	CountedAs, CupHead string
	Found, Missed      string

	// Advice is what the standards say of the method, by the plan's field.
	Advice []Note
}

// Note is a piece of advice on a field of a test's plan, with its source. Where
// that is a standard, its text was read in extracts only.
type Note struct{ Field, Say, Source string }

const (
	everybodyPicks = "Everybody picks. There is no “no difference”; who guessed says so, and the answer counts."
	recognise      = "Tasters must be able to recognise the attribute: by words, a reference or samples of different strength."
)

// Triangle is the triangle test: three cups, two of one lot and one of the
// other; the odd one is to be found (ISO 4120).
var Triangle = Method{
	Key: "triangle", Name: "triangle", Short: "triangle", Cups: 3, Picks: 1,
	Orders:  []string{"ABB", "BAB", "BBA", "AAB", "ABA", "BAA"},
	Curve:   stats.Triangle,
	Overall: true,
	Counted: func(order string) []int {
		if strings.Count(order, "A") == 1 {
			return []int{strings.Index(order, "A")}
		}
		return []int{strings.Index(order, "B")}
	},
	Ask:       func(TestPlan) string { return "Which one is different?" },
	Hint:      "Taste from left to right. Two cups are the same, one is different. You may go back and taste again.",
	Find:      func(TestPlan) string { return "found the odd cup" },
	Luck:      "once in three",
	Standard:  "ISO 4120",
	CountedAs: "odd cup found", CupHead: "odd cup", Found: "odd cup found", Missed: "not found",
	Advice: []Note{
		{"method", "For a difference of unknown nature. It does not say by what the lots differ. Less fit where the taste lingers.", "ISO 4120, scope"},
		{"goal", everybodyPicks, "ISO 4120"},
	},
}

// DuoTrio is the duo-trio test: a reference, then a cup of each lot; the one
// that is the reference's is to be found (ISO 10399). Balanced, either lot is
// the reference equally often; constant, it is always the untreated one.
var DuoTrio = Method{
	Key: "duo-trio", Name: "duo-trio test", Short: "duo-trio", Cups: 3, Picks: 1,
	Orders:    []string{"AAB", "ABA", "BAB", "BBA"},
	Constant:  []string{"AAB", "ABA"},
	Curve:     stats.DuoTrio,
	Overall:   true,
	Counted:   func(order string) []int { return []int{1 + strings.IndexByte(order[1:], order[0])} },
	Ask:       func(TestPlan) string { return "Which one is the same as the reference?" },
	Hint:      "Taste the reference first, at the far left, then the two cups beside it. One of them is the same as the reference. You may go back and taste again.",
	Find:      func(TestPlan) string { return "matched the reference" },
	Luck:      "once in two",
	Standard:  "ISO 10399",
	CountedAs: "reference matched", CupHead: "like the reference", Found: "reference matched", Missed: "not matched",
	Advice: []Note{
		{"method", "Easier on the taster than a triangle, and less efficient.", "ISO 10399, scope; ISO 4120, scope"},
		{"reference", "Constant where one lot is familiar, as from regular production; balanced otherwise.", "ISO 10399, scope"},
		{"goal", everybodyPicks, "ISO 10399, from memory"},
	},
}

// PairedComparison is the paired comparison: a cup of each lot; the one with
// less (or more) of a named attribute is to be picked (ISO 5495). The processed
// lot's cup is counted.
var PairedComparison = Method{
	Key: "paired-comparison", Name: "paired comparison", Short: "pair", Cups: 2, Picks: 1,
	Orders:    []string{"AB", "BA"},
	Curve:     stats.PairedComparison,
	Counted:   processedCup,
	Ask:       func(t TestPlan) string { return "Which cup has " + t.less() + " " + t.Attribute + "?" },
	Hint:      "Taste from left to right. You may go back and taste again.",
	Find:      pickedProcessed,
	Luck:      "once in two",
	Standard:  "ISO 5495",
	CountedAs: "processed lot picked", CupHead: "processed lot", Found: "processed lot", Missed: "untreated lot",
	Advice: []Note{
		{"method", "No difference in one attribute does not mean that there is none.", "ISO 5495, scope"},
		{"goal", everybodyPicks, "ISO 5495, from memory"},
		{"definition", recognise, "ISO 5495"},
	},
}

// ThreeAFC is the 3-alternative forced choice: two cups of the untreated lot,
// one of the processed; the one with the least (or most) of a named attribute
// is to be picked. It is for lots that differ in strength alone: who only hears
// two and one finds the single cup without a sense of the attribute.
var ThreeAFC = Method{
	Key: "3-afc", Name: "3-AFC test", Short: "3-AFC", Cups: 3, Picks: 1,
	Orders:    []string{"AAB", "ABA", "BAA"},
	Curve:     stats.ThreeAFC,
	Counted:   processedCup,
	Ask:       func(t TestPlan) string { return "Which cup has the " + t.least() + " " + t.Attribute + "?" },
	Hint:      "Taste from left to right. You may go back and taste again.",
	Find:      pickedProcessed,
	Luck:      "once in three",
	Standard:  "ASTM E679’s forced choice of one in three (from memory)",
	CountedAs: "processed lot picked", CupHead: "processed lot", Found: "processed lot", Missed: "untreated lot",
	Advice: []Note{
		{"method", "Only where the lots differ in strength alone, and never in a sitting with a triangle: after looking for the odd cup of three, tasters find the single cup by any cue.", "no source, our reasoning"},
		{"goal", everybodyPicks, "as for the paired comparison; no source for 3-AFC"},
		{"definition", recognise, "ISO 5495, for the paired comparison"},
	},
}

// Tetrad is the unspecified tetrad test: four cups, two of each lot, to be
// sorted into the two pairs.
var Tetrad = Method{
	Key: "tetrad", Name: "tetrad", Short: "tetrad", Cups: 4, Picks: 2,
	Orders:    []string{"AABB", "ABAB", "ABBA", "BBAA", "BABA", "BAAB"},
	Curve:     stats.Tetrad,
	Overall:   true,
	Counted:   func(order string) []int { return []int{0, 1 + strings.IndexByte(order[1:], order[0])} },
	Ask:       func(TestPlan) string { return "Which two are the same?" },
	Hint:      "Taste from left to right. Two cups are of one kind and two of another: pick two that are the same, and the others make the second pair. You may go back and taste again.",
	Find:      func(TestPlan) string { return "sorted the cups into the two pairs" },
	Luck:      "once in three",
	Standard:  "ASTM E3009",
	CountedAs: "pairs sorted", CupHead: "like the leftmost", Found: "pairs sorted", Missed: "not sorted",
	Advice: []Note{
		{"method", "More efficient than a triangle, but four cups: avoid it where the taste lingers or tires.", "ASTM E3009, scope"},
		{"goal", everybodyPicks, "ASTM E3009, from memory"},
	},
}

func processedCup(order string) []int { return []int{strings.IndexByte(order, 'B')} }

func pickedProcessed(t TestPlan) string {
	return "picked the processed lot as the one with " + t.less() + " " + t.Attribute
}

// Methods are the rows, in the order in which they are offered.
var Methods = []Method{Triangle, DuoTrio, Tetrad, PairedComparison, ThreeAFC}

// MethodByKey finds a method's row.
func MethodByKey(key string) (Method, bool) {
	for _, m := range Methods {
		if m.Key == key {
			return m, true
		}
	}
	return Method{}, false
}

// Chance is the probability of a correct answer with no perception.
func (m Method) Chance() float64 { return m.Curve.Chance() }

// ShowsSimilarity reports whether the method can show that two lots are similar.
// A test that looks one way only can't: lots that differ the other way pass.
func (m Method) ShowsSimilarity(twoSided bool) bool { return m.Overall || twoSided }

// References is the number of cups at the left of a tray that are the
// reference and no answer.
func (m Method) References() int {
	if m.Constant != nil {
		return 1
	}
	return 0
}

// Right reports whether an answer that names the cups at these places, in any
// order, is the correct one.
func (m Method) Right(order string, places []int) bool {
	p := slices.Sorted(slices.Values(places))
	return slices.Equal(p, m.Counted(order))
}

// Answer reads an answer to a tray with these codes: the picked cup, and in a
// method of two picks the one that goes with it, else 0. Two pairs that sort
// the cups alike are one answer: it comes back as the pair of the leftmost cup,
// left cup first. ok is false where the answer isn't one of the tray's.
func (m Method) Answer(codes []Code, pick, also Code) (Code, Code, bool) {
	i, j := slices.Index(codes, pick), slices.Index(codes, also)
	switch {
	case i < m.References() || len(codes) != m.Cups:
		return 0, 0, false
	case m.Picks == 1:
		return pick, 0, also == 0
	case j < 0 || i == j:
		return 0, 0, false
	case i == 0:
		return pick, also, true
	case j == 0:
		return also, pick, true
	}
	// Neither is the leftmost cup: its pair are the two that were not named.
	for k := 1; k < len(codes); k++ {
		if k != i && k != j {
			return codes[0], codes[k], true
		}
	}
	return 0, 0, false
}
