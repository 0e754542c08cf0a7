package session

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// referenceRows reads a table of outside values by column name. It fails where
// the file has no rows.
func referenceRows(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "reference", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	if len(table) < 2 {
		t.Fatalf("%s: no rows", file)
	}
	var rows []map[string]string
	for _, line := range table[1:] {
		row := map[string]string{}
		for i, name := range table[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// number reads a cell; a fraction such as 1/3 is exact.
func number(t *testing.T, row map[string]string, column string) float64 {
	t.Helper()
	top, bottom, ok := strings.Cut(row[column], "/")
	x, err := strconv.ParseFloat(top, 64)
	if ok {
		var y float64
		y, err = strconv.ParseFloat(bottom, 64)
		x /= y
	}
	if err != nil {
		t.Fatalf("%s: %q is no number", column, row[column])
	}
	return x
}

// Orders are those of an enumeration outside this program:
// testdata/reference/m2_serving_orders.csv.
func TestOrdersAreTheBalancedSets(t *testing.T) {
	sets := map[string][]string{}
	for _, row := range referenceRows(t, "m2_serving_orders.csv") {
		order := strings.ReplaceAll(row["order"], ":", "")
		sets[row["protocol"]] = append(sets[row["protocol"]], order)
		if size, err := strconv.Atoi(row["orders_in_balanced_set"]); err != nil || len(sets[row["protocol"]]) > size {
			t.Errorf("%s: more than %s orders", row["protocol"], row["orders_in_balanced_set"])
		}
	}
	of := map[string]string{
		"triangle": "triangle", "duo-trio": "duotrio_balanced_reference", "tetrad": "tetrad",
		"paired-comparison": "2afc", "3-afc": "3afc_B_stronger",
	}
	same := func(name string, got, want []string) {
		t.Helper()
		if len(want) == 0 || !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(want))) {
			t.Errorf("%s: orders %v, want %v", name, got, want)
		}
	}
	for _, m := range Methods {
		same(m.Key, m.Orders, sets[of[m.Key]])
		if (m.Constant != nil) != (m.Key == DuoTrio.Key) {
			t.Errorf("%s: constant orders %v", m.Key, m.Constant)
		}
	}
	same("constant reference", DuoTrio.Constant, sets["duotrio_constant_reference"])
	same("constant reference of a plan", constantDuoTrio().Orders(), sets["duotrio_constant_reference"])
	same("balanced reference of a plan", testOf(DuoTrio, GoalDifference, 1).Orders(), sets["duotrio_balanced_reference"])
}

// In a whole block each lot stands in each place equally often, but for a
// reference that is always the untreated lot, and each answer is the right one
// equally often.
func TestWholeBlocksAreEven(t *testing.T) {
	for _, m := range Methods {
		for _, orders := range [][]string{m.Orders, m.Constant} {
			if orders == nil {
				continue
			}
			constant := len(orders) == len(m.Constant)
			processed, right := make([]int, m.Cups), map[string]int{}
			for _, o := range orders {
				for i := range o {
					if o[i] == 'B' {
						processed[i]++
					}
				}
				right[string(placesKey(m.Counted(o)))]++
			}
			if constant {
				if processed[0] != 0 {
					t.Errorf("%s: the constant reference is the processed lot %d times", m.Key, processed[0])
				}
				processed = processed[1:]
			}
			if slices.Min(processed) != slices.Max(processed) {
				t.Errorf("%s: the processed lot stands %v times in the places", m.Key, processed)
			}
			if m.Overall && !constant && 2*processed[0] != len(orders) {
				t.Errorf("%s: the processed lot stands %d times of %d in a place", m.Key, processed[0], len(orders))
			}
			for answer, n := range right {
				if float64(n) != float64(len(orders))*m.Chance() {
					t.Errorf("%s: places %q are right %d times of %d, chance %v", m.Key, answer, n, len(orders), m.Chance())
				}
			}
		}
	}
}

func placesKey(places []int) []byte {
	var b []byte
	for _, p := range places {
		b = append(b, byte('0'+p))
	}
	return b
}

// Every pair of cups of a tetrad names one of three sortings: a pair and the
// other two are one answer, in either order.
func TestTetradAnswers(t *testing.T) {
	codes := []Code{417, 532, 736, 845}
	sorting := map[[2]int][2]int{
		{0, 1}: {0, 1}, {2, 3}: {0, 1},
		{0, 2}: {0, 2}, {1, 3}: {0, 2},
		{0, 3}: {0, 3}, {1, 2}: {0, 3},
	}
	tried := 0
	for i := range 4 {
		for j := range 4 {
			pick, also, ok := Tetrad.Answer(codes, codes[i], codes[j])
			if i == j {
				if ok {
					t.Errorf("cup %d is a pair with itself", i)
				}
				continue
			}
			tried++
			want := sorting[[2]int{min(i, j), max(i, j)}]
			if !ok || pick != codes[want[0]] || also != codes[want[1]] {
				t.Errorf("cups %d and %d: %d and %d, ok %v; want the pair %v", i, j, pick, also, ok, want)
			}
			// It is right just where both cups are of one lot.
			for _, order := range Tetrad.Orders {
				places := []int{slices.Index(codes, pick), slices.Index(codes, also)}
				if got := Tetrad.Right(order, places); got != (order[i] == order[j]) {
					t.Errorf("%s, cups %d and %d: right %v", order, i, j, got)
				}
				if reversed := []int{places[1], places[0]}; Tetrad.Right(order, reversed) != Tetrad.Right(order, places) {
					t.Errorf("%s: the order of the places matters", order)
				}
			}
		}
	}
	if tried != 12 {
		t.Errorf("%d pairs", tried)
	}
}

func TestMethodsRefuseAnswers(t *testing.T) {
	three, four := []Code{417, 532, 736}, []Code{417, 532, 736, 845}
	for _, c := range []struct {
		name       string
		method     Method
		codes      []Code
		pick, also Code
		ok         bool
	}{
		{"a cup", Triangle, three, 532, 0, true},
		{"a code of another tray", Triangle, three, 999, 0, false},
		{"no code", Triangle, three, 0, 0, false},
		{"two cups of a triangle", Triangle, three, 532, 736, false},
		{"a cup twice", Triangle, three, 532, 532, false},
		{"a cup and a foreign code", Triangle, three, 532, 999, false},
		{"the right cup of a duo-trio", DuoTrio, three, 736, 0, true},
		{"the left cup of a duo-trio", DuoTrio, three, 532, 0, true},
		{"the reference", DuoTrio, three, 417, 0, false},
		{"the reference as a second cup", DuoTrio, three, 532, 417, false},
		{"a cup of a pair", PairedComparison, three[:2], 417, 0, true},
		{"a pair with a third code", PairedComparison, three, 417, 0, false},
		{"a cup of a 3-AFC", ThreeAFC, three, 417, 0, true},
		{"a tray with a cup too few", ThreeAFC, three[:2], 417, 0, false},
		{"no tray", Triangle, nil, 417, 0, false},
		{"no tray and no code", Triangle, nil, 0, 0, false},
		{"a pair of a tetrad", Tetrad, four, 845, 532, true},
		{"one cup of a tetrad", Tetrad, four, 845, 0, false},
		{"the second cup alone", Tetrad, four, 0, 845, false},
		{"a tetrad's cup twice", Tetrad, four, 845, 845, false},
		{"a tetrad's cup with a foreign code", Tetrad, four, 845, 999, false},
		{"a foreign code with a tetrad's cup", Tetrad, four, 999, 845, false},
		{"nothing of a tetrad", Tetrad, four, 0, 0, false},
		{"a tetrad of three cups", Tetrad, three, 417, 532, false},
	} {
		if _, _, ok := c.method.Answer(c.codes, c.pick, c.also); ok != c.ok {
			t.Errorf("%s: ok %v", c.name, ok)
		}
	}
}

// Answer never panics, answers of a tray come back as codes of it and unchanged
// when read again, and as many different ones exist as chance says.
func TestAnswerOfAnything(t *testing.T) {
	accepted, refused := map[string]int{}, map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		m := rapid.SampledFrom(Methods).Draw(rt, "method")
		cups := rapid.SampledFrom([]int{m.Cups, m.Cups, m.Cups, m.Cups, 0, m.Cups - 1, m.Cups + 1}).Draw(rt, "cups")
		codes := rapid.SliceOfNDistinct(rapid.Map(rapid.IntRange(-1, 999), func(c int) Code { return Code(c) }), cups, cups, func(c Code) Code { return c }).Draw(rt, "codes")
		code := rapid.OneOf(rapid.Just(Code(0)), rapid.Just(Code(0)), rapid.Map(rapid.IntRange(-2, 1000), func(c int) Code { return Code(c) }))
		if cups > 0 {
			code = rapid.OneOf(code, rapid.SampledFrom(codes), rapid.SampledFrom(codes))
		}
		pick, also := code.Draw(rt, "pick"), code.Draw(rt, "also")
		if cups > 0 && rapid.Bool().Draw(rt, "sensible") {
			pick, also = rapid.SampledFrom(codes).Draw(rt, "cup"), 0
			if m.Picks == 2 {
				also = rapid.SampledFrom(codes).Draw(rt, "other cup")
			}
		}
		a, b, ok := m.Answer(codes, pick, also)
		if !ok {
			refused[m.Key]++
			return
		}
		accepted[m.Key]++
		at := slices.Index(codes, a)
		switch {
		case cups != m.Cups:
			rt.Fatalf("%s: a tray of %d cups is answered", m.Key, cups)
		case at < m.References():
			rt.Fatalf("%s: the answer is no cup but the reference: %d of %v", m.Key, a, codes)
		case m.Picks == 1 && (a != pick || b != 0 || also != 0):
			rt.Fatalf("%s: %d and %d came back as %d and %d", m.Key, pick, also, a, b)
		case m.Picks == 2 && (at != 0 || slices.Index(codes, b) < 1):
			rt.Fatalf("%s: %d and %d came back as %d and %d of %v", m.Key, pick, also, a, b, codes)
		}
		if a2, b2, ok2 := m.Answer(codes, a, b); !ok2 || a2 != a || b2 != b {
			rt.Fatalf("%s: read again, %d and %d are %d and %d", m.Key, a, b, a2, b2)
		}
	})
	for _, m := range Methods {
		if accepted[m.Key] == 0 || refused[m.Key] == 0 {
			t.Errorf("%s: %d accepted, %d refused", m.Key, accepted[m.Key], refused[m.Key])
		}
		// Of all answers to one tray there are 1/chance different ones.
		codes := []Code{417, 532, 736, 845}[:m.Cups]
		different := map[[2]Code]bool{}
		for _, pick := range codes {
			for _, also := range append([]Code{0}, codes...) {
				if a, b, ok := m.Answer(codes, pick, also); ok {
					different[[2]Code{a, b}] = true
				}
			}
		}
		if float64(len(different))*m.Chance() != 1 {
			t.Errorf("%s: %d different answers, chance %v", m.Key, len(different), m.Chance())
		}
	}
}

// Each method's words are there, for both directions, and the question asks
// for as many cups as are picked.
func TestMethodsSpeak(t *testing.T) {
	for _, m := range Methods {
		less := testOf(m, GoalDifference, 1)
		more := less
		more.More = true
		for _, s := range []string{m.Name, m.Short, m.Ask(less), m.Hint, m.Find(less), m.Luck} {
			if strings.TrimSpace(s) == "" {
				t.Errorf("%s has an empty word", m.Key)
			}
		}
		if (m.Ask(less) != m.Ask(more)) == m.Overall || (m.Find(less) != m.Find(more)) == m.Overall {
			t.Errorf("%s: “%s” and “%s” for less and more", m.Key, m.Ask(less), m.Ask(more))
		}
		if strings.Contains(m.Ask(less), "two") != (m.Picks == 2) {
			t.Errorf("%s picks %d: “%s”", m.Key, m.Picks, m.Ask(less))
		}
		luck := map[float64]string{0.5: "once in two", 1.0 / 3: "once in three"}[m.Chance()]
		if m.Luck != luck {
			t.Errorf("%s: guessing is right %q, chance %v", m.Key, m.Luck, m.Chance())
		}
	}
}

// A row is whole: no method lacks a word that a page, a sheet or a phone needs.
func TestEveryMethodHasItsWords(t *testing.T) {
	plan := TestPlan{Attribute: "body"}
	for _, m := range Methods {
		fields := map[string]bool{}
		for _, n := range m.Advice {
			if n.Say == "" || n.Source == "" {
				t.Errorf("%s: advice on %q without words or source", m.Key, n.Field)
			}
			fields[n.Field] = true
		}
		if !fields["method"] || !fields["goal"] || !m.Overall && !fields["definition"] || m.Constant != nil && !fields["reference"] {
			t.Errorf("%s: advice on %v only", m.Key, fields)
		}
		for what, words := range map[string]string{
			"name": m.Name, "short name": m.Short, "question": m.Ask(plan), "hint": m.Hint, "find": m.Find(plan), "luck": m.Luck,
			"counted as": m.CountedAs, "head of cups": m.CupHead, "found": m.Found, "missed": m.Missed,
		} {
			if words == "" {
				t.Errorf("%s: no %s", m.Key, what)
			}
		}
	}
}
