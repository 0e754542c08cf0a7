package session

import (
	"strings"

	"oddcup/stats"
)

// Method is one forced-choice method as a row of data: adding one is adding a
// row. In a serving order, A is a cup of the untreated lot and B a cup of the
// processed one, left to right.
type Method struct {
	Key    string   // as in plans and files
	Name   string   // as on screens
	Cups   int      // cups in a set
	Orders []string // serving orders; a whole block holds each once
	Curve  stats.Psychometric

	// Overall is true where the question is whether the lots differ at all,
	// and false where it asks for a named attribute.
	Overall bool

	// Counted gives the place in an order, from 0, of the cup whose pick is
	// counted as correct.
	Counted func(order string) int

	// Ask words the question to the taster, and Hint how to taste.
	Ask  func(TestPlan) string
	Hint string

	// Luck says in words how often guessing alone is right.
	Luck string
}

// Triangle is the triangle test: three cups, two of one lot and one of the
// other; the odd one is to be found (ISO 4120).
var Triangle = Method{
	Key: "triangle", Name: "triangle", Cups: 3,
	Orders:  []string{"ABB", "BAB", "BBA", "AAB", "ABA", "BAA"},
	Curve:   stats.Triangle,
	Overall: true,
	Counted: func(order string) int {
		if strings.Count(order, "A") == 1 {
			return strings.Index(order, "A")
		}
		return strings.Index(order, "B")
	},
	Ask:  func(TestPlan) string { return "Which one is different?" },
	Hint: "Taste from left to right. Two cups are the same, one is different. You may go back and taste again.",
	Luck: "once in three",
}

// PairedComparison is the paired comparison: a cup of each lot; the one with
// less of a named attribute is to be picked (ISO 5495). The processed lot's
// cup is counted.
var PairedComparison = Method{
	Key: "paired-comparison", Name: "paired comparison", Cups: 2,
	Orders:  []string{"AB", "BA"},
	Curve:   stats.PairedComparison,
	Counted: func(order string) int { return strings.Index(order, "B") },
	Ask:     func(t TestPlan) string { return "Which cup has less " + t.Attribute + "?" },
	Hint:    "Taste from left to right. You may go back and taste again.",
	Luck:    "once in two",
}

var methods = []Method{Triangle, PairedComparison}

// MethodByKey finds a method's row.
func MethodByKey(key string) (Method, bool) {
	for _, m := range methods {
		if m.Key == key {
			return m, true
		}
	}
	return Method{}, false
}

// Chance is the probability of a correct answer with no perception.
func (m Method) Chance() float64 { return m.Curve.Chance() }

func (m Method) hasOrder(order string) bool {
	for _, o := range m.Orders {
		if o == order {
			return true
		}
	}
	return false
}
