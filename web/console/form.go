package console

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"oddcup/session"
	"oddcup/web/say"
)

// form holds what was typed, just as it was typed, and what is wrong with it. A
// refused form is rendered again from it, so that nothing is lost. Fields are
// named as in [session.Fault]; an input's id is its name.
type form struct {
	values url.Values
	Faults session.Faults
	// Refused says why the whole form was refused, "" where Faults tell it all.
	Refused string
	Next    string // what to do about Refused
}

// readForm reads a posted form.
func readForm(r *http.Request) (*form, error) {
	if err := r.ParseForm(); err != nil {
		return nil, problem{
			http.StatusBadRequest, "The form did not arrive whole, or is too long.",
			"Go back with the browser's button, shorten what you typed and send it again.",
		}
	}
	return &form{values: r.PostForm}, nil
}

// filled is a form that shows what is kept: names and values in turn.
func filled(pairs ...string) *form {
	f := &form{values: url.Values{}}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.values.Set(pairs[i], pairs[i+1])
	}
	return f
}

// Value is what stands in a field.
func (f *form) Value(name string) string { return f.values.Get(name) }

// Is reports whether a field holds the value: for choices and ticks.
func (f *form) Is(name, value string) bool { return f.values.Get(name) == value }

// Fault says what is wrong with a field, "" if nothing is.
func (f *form) Fault(name string) string {
	for _, x := range f.Faults {
		if x.Field == name {
			return sentence(x.Say)
		}
	}
	return ""
}

// Bad reports whether anything was refused.
func (f *form) Bad() bool { return len(f.Faults) > 0 || f.Refused != "" }

func (f *form) bad(field, say string) {
	f.Faults = append(f.Faults, session.Fault{Field: field, Say: say})
}

// text is a field without white space around it.
func (f *form) text(name string) string { return strings.TrimSpace(f.Value(name)) }

// count reads a whole number; what names it for a person.
func (f *form) count(name, what string) int {
	n, err := strconv.Atoi(f.text(name))
	if f.text(name) == "" {
		f.bad(name, what+": type a whole number")
	} else if err != nil {
		f.bad(name, fmt.Sprintf("%s: %s is not a whole number", what, quoted(f.text(name))))
	}
	return n
}

// number reads a decimal number; a comma may stand for the point.
func (f *form) number(name, what string) float64 {
	x, err := strconv.ParseFloat(strings.Replace(f.text(name), ",", ".", 1), 64)
	if f.text(name) == "" {
		f.bad(name, what+": type a number")
		return math.NaN()
	}
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		f.bad(name, fmt.Sprintf("%s: %s is not a number", what, quoted(f.text(name))))
		return math.NaN()
	}
	return x
}

func quoted(s string) string {
	if s == "" {
		return "nothing"
	}
	return "“" + s + "”"
}

// refuse takes an error of the domain into the form: at a field where one is
// named, else over the whole form. An error that nobody foresaw is given back.
func (f *form) refuse(field string, err error) error {
	words, foreseen := say.Of(err)
	if !foreseen || words.Status >= 500 {
		return err
	}
	if field != "" {
		f.bad(field, plainly(err, words.Say))
		return nil
	}
	f.Refused, f.Next = sentence(plainly(err, words.Say)), words.Next
	return nil
}

// plainly is an error without the sentinel at its end, which repeats what the
// rest says; otherwise is given where nothing else is left.
func plainly(err error, otherwise string) string {
	inner := err
	for next := errors.Unwrap(inner); next != nil; next = errors.Unwrap(inner) {
		inner = next
	}
	if s, ok := strings.CutSuffix(err.Error(), ": "+inner.Error()); ok {
		return s
	}
	return otherwise
}

// words makes a salted text of what was typed, for the journal.
func (c *Console) words(typed string) (session.Text, error) {
	return session.NewText(strings.TrimSpace(typed), c.Chance)
}
