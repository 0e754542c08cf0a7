package console

import (
	"fmt"
	"strconv"
	"strings"

	"oddcup/session"
)

// actOnRows adds, removes or moves a test, as a button says: "add", "remove.1",
// "up.1", "down.0"; or takes a method with its sides and pd in percent into the
// plan: "take.tetrad.one.32.4". It gives the id of the element that the work goes on at,
// "" where the button was of another form.
func (f *form) actOnRows(act string) (focus string) {
	name, number, _ := strings.Cut(act, ".")
	n := f.rows()
	if name == "add" {
		if n >= mostTests {
			return ""
		}
		f.setTest(n, f.nextTest())
		return testField(n, "method")
	}
	if name == "take" {
		if parts := strings.SplitN(number, ".", 3); len(parts) == 3 {
			return f.take(parts[0], parts[1], parts[2])
		}
		return ""
	}
	i, err := strconv.Atoi(number)
	if err != nil || i < 0 || i >= n {
		return ""
	}
	switch name {
	case "up":
		return f.swapRows(i, i-1)
	case "down":
		return f.swapRows(i, i+1)
	case "remove":
		for ; i < n-1; i++ {
			f.swapRows(i, i+1)
		}
		for key := range f.values {
			if strings.HasPrefix(key, testField(n-1, "")) {
				f.values.Del(key)
			}
		}
		return "add-test"
	}
	return ""
}

// swapRows exchanges two tests and gives the button that moves the first one on.
func (f *form) swapRows(i, j int) (focus string) {
	n := f.rows()
	if j < 0 || j >= n {
		return ""
	}
	a, b := testField(i, ""), testField(j, "")
	moved := map[string][]string{}
	for key, v := range f.values {
		if name, ok := strings.CutPrefix(key, a); ok {
			moved[b+name] = v
			f.values.Del(key)
		} else if name, ok := strings.CutPrefix(key, b); ok {
			moved[a+name] = v
			f.values.Del(key)
		}
	}
	for key, v := range moved {
		f.values[key] = v
	}
	if on := "up"; j < i && j > 0 || j == n-1 {
		return fmt.Sprintf("%s-%d", on, j)
	}
	return fmt.Sprintf("down-%d", j)
}

// nextTest is what a new row begins with: a triangle, and after a test of any
// kind the paired comparison, which may stand after all others.
func (f *form) nextTest() session.TestPlan {
	n := f.rows()
	if n == 0 {
		return session.UsualPlan().Tests[0]
	}
	t := usualTest()
	for i := range n {
		if shapeOf(f, i).Uses("attribute") && f.text(testField(i, "attribute")) == t.Attribute {
			t.Attribute, t.Definition = "", ""
			break
		}
	}
	return t
}

// takes says for which test, from 0, a method would be taken: the first of the
// two lots that asks the same kind of question. Where there is none, one is added:
// a test for any difference before all that ask for an attribute, and one for an
// attribute last. ok is false where no test fits any more.
func (f *form) takes(m session.Method) (i int, adds, ok bool) {
	n, before := f.rows(), f.rows()
	for i := range n {
		s := shapeOf(f, i)
		switch {
		case !s.Known || s.Uses("blank") && f.text(testField(i, "blank")) != "":
		case s.Method.Overall == m.Overall:
			return i, false, true
		case !s.Method.Overall:
			before = min(before, i)
		}
	}
	if !m.Overall {
		before = n
	}
	return before, true, n < mostTests
}

// has reports whether a test is of the method, with its sides and pd, already.
func (f *form) has(i int, m session.Method, sides, pd string) bool {
	s := shapeOf(f, i)
	is := func(name, value string) bool { return f.text(testField(i, name)) == value }
	return s.Method.Key == m.Key && (!s.Uses("sided") || is("sided", sides)) &&
		(!s.Plan.WantsDifference() || is("pd", pd)) && (!s.Plan.WantsSimilarity() || is("pdLimit", pd))
}

// take puts a method with its sides and pd into the test that [form.takes] says.
// A test that is there keeps its goal, risks and attribute, and a new one gets
// goal and risks of the first test, by which the methods were compared. It gives
// the field that the work goes on at.
func (f *form) take(method, sides, pd string) (focus string) {
	m, known := session.MethodByKey(method)
	percent, err := strconv.ParseFloat(pd, 64)
	if !known || err != nil || !(percent >= 1 && percent <= 99) || sides != "one" && sides != "two" {
		return ""
	}
	i, adds, ok := f.takes(m)
	if !ok {
		return ""
	}
	if adds {
		f.addTaken(m, i)
	}
	set := func(name, value string) { f.values.Set(testField(i, name), value) }
	set("method", m.Key)
	if m.Key == session.PairedComparison.Key {
		set("sided", sides)
	}
	s := shapeOf(f, i)
	if s.Plan.WantsDifference() {
		set("pd", num(percent))
	}
	if s.Plan.WantsSimilarity() {
		set("pdLimit", num(percent))
	}
	return testField(i, "method")
}

func (f *form) addTaken(m session.Method, to int) {
	n, t := f.rows(), session.UsualPlan().Tests[0]
	if !m.Overall {
		t = f.nextTest()
		if n == 0 {
			t = usualTest()
		}
	}
	f.setTest(n, t)
	if n > 0 {
		for _, name := range []string{"goal", "alpha", "beta", "power"} {
			f.values.Set(testField(n, name), f.text(testField(0, name)))
		}
	}
	for ; n > to; n-- {
		f.swapRows(n, n-1)
	}
}
