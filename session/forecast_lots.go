package session

import (
	"maps"
	"slices"
	"strings"
)

// apart says how far one pair of lots is apart, as d′: over all, and in each
// attribute by its folded name. What is not named is alike. Over all they are at
// least as far apart as in any attribute.
type apart struct {
	all float64
	in  map[string]float64
}

// of is how far the lots are apart in what a test asks.
func (a apart) of(f *Forecast) float64 {
	if f.Method.Overall {
		return a.all
	}
	return a.in[attributeKey(f.Plan.Attribute)]
}

func attributeKey(attribute string) string { return strings.ToLower(strings.TrimSpace(attribute)) }

// lookedFor is what lots differ by in which the tests before f find what they look
// for, apart from what f itself asks: over all, and in each attribute, the largest.
func lookedFor(before []Forecast) apart {
	a := apart{in: map[string]float64{}}
	for i := range before {
		b := &before[i]
		if !b.Plan.WantsDifference() {
			continue
		}
		size := b.size()
		if b.Method.Overall {
			a.all = max(a.all, size)
		} else {
			key := attributeKey(b.Plan.Attribute)
			a.in[key] = max(a.in[key], size)
		}
	}
	return a
}

// size is the d′ that f looks for.
func (f *Forecast) size() float64 { return f.Method.DPrimeOf(f.Plan.Pd) }

// differing are the lots on which f is judged as a test for a difference: they
// differ as it supposes, and otherwise as the tests before it look for. An overall
// test supposes all of their difference, so nothing in them is farther apart; to an
// attribute's the lots may differ by more over all.
func (f *Forecast) differing(before []Forecast) apart {
	a := lookedFor(before)
	if f.Method.Overall {
		a.all = f.size()
		for key, size := range a.in {
			a.in[key] = min(size, a.all)
		}
		return a
	}
	a.in[attributeKey(f.Plan.Attribute)] = f.size()
	a.all = max(a.all, slices.Max(slices.Collect(maps.Values(a.in))))
	return a
}

// alikeIn are the lots on which f is judged as a test for similarity: alike in what
// it asks, and otherwise as the tests before it look for.
func (f *Forecast) alikeIn(before []Forecast) apart {
	if f.Method.Overall {
		return apart{}
	}
	a := lookedFor(before)
	delete(a.in, attributeKey(f.Plan.Attribute))
	for _, size := range a.in {
		a.all = max(a.all, size)
	}
	return a
}

// onlyIn are lots that differ in f's attribute alone, as it supposes.
func (f *Forecast) onlyIn() apart {
	return apart{f.size(), map[string]float64{attributeKey(f.Plan.Attribute): f.size()}}
}

// goesOn is the probability that the order goes on after f, with so many seats, on
// lots that are so far apart in what it asks: a test with the goal of a difference
// must call them different, any other similar.
func (f *Forecast) goesOn(seats int, size float64) float64 {
	if !f.Plan.WantsDifference() {
		if size == 0 {
			return f.passOfSeats(seats)
		}
		return f.passAt(seats, f.Method.PdOf(size))
	}
	switch size {
	case 0:
		return f.errorOfSeats(seats)
	case f.size():
		return f.powerOfSeats(seats)
	}
	return f.powerAt(seats, f.Method.PdOf(size))
}

// comes is the probability that the order comes past all tests before one, with so
// many seats, on such lots. The tests are taken as independent.
func comes(before []Forecast, seats int, lots apart) float64 {
	p := 1.0
	for i := range before {
		p *= before[i].goesOn(seats, lots.of(&before[i]))
	}
	return p
}
