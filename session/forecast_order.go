package session

import (
	"fmt"
	"slices"

	"oddcup/stats"
)

// Order says of a later test what the tests before it must show in lots that are
// as it supposes. Power of a test is a statement on one pair of lots, so all that
// comes before is judged on those lots too, and not each on the lots that it looks
// for itself.
type Order struct {
	// Where the lots differ by its planned pd: AsAlike are the tests that must call
	// them similar nevertheless, and Against tells that one of them must do so by
	// error, since the difference reaches its limit. Larger and Smaller are the tests
	// that must find a difference and look for one that is larger, or smaller, than
	// such lots have.
	AsAlike         []int
	Against         bool
	Larger, Smaller []int

	// Bars are the tests of which no result lets the order go on, with so many seats.
	Bars []int

	atMost bool // such lots may differ by more over all, and then it comes less often

	// Where the lots are alike in what it asks: AsDifferent are the tests that must
	// call them different by error.
	AsDifferent []int

	// Elsewhere tells that lots that are alike in its attribute are taken to differ
	// in something else, which tests before it look for, and ElsewhereAgainst that
	// one of those must call such lots similar by error.
	Elsewhere, ElsewhereAgainst bool
}

// AgainstDifference and AgainstSimilarity report whether the order comes to the
// test by error only, so that no number of seats helps: then both questions belong
// into one test.
func (o Order) AgainstDifference() bool { return o.Against }

// AgainstSimilarity: see AgainstDifference.
func (o Order) AgainstSimilarity() bool { return len(o.AsDifferent) > 0 || o.ElsewhereAgainst }

// inOrder fills in how often the order comes to the test.
func (f *Forecast) inOrder(before []Forecast, seats int) {
	for i := range before {
		if b := &before[i]; b.Plan.WantsDifference() && !b.HasMin || !b.Plan.WantsDifference() && !b.HasMax {
			f.Order.Bars = append(f.Order.Bars, b.Number)
		}
	}
	if f.Plan.WantsDifference() {
		lots := f.differing(before)
		for i := range before {
			b := &before[i]
			switch size := lots.of(b); {
			case !b.Plan.WantsDifference() && size > 0:
				f.Order.AsAlike = append(f.Order.AsAlike, b.Number)
				f.Order.Against = f.Order.Against || b.reachesLimit(size)
			case !b.Plan.WantsDifference():
			case b.size() > size*nearlyAsLarge:
				f.Order.Larger = append(f.Order.Larger, b.Number)
			case size > b.size()*nearlyAsLarge:
				f.Order.Smaller = append(f.Order.Smaller, b.Number)
			}
		}
		f.Order.atMost = !f.Method.Overall && len(f.Order.AsAlike) == len(before)
		f.Reached = f.reached(before, seats)
	}
	if f.Plan.WantsSimilarity() {
		lots := f.alikeIn(before)
		for i := range before {
			b := &before[i]
			switch size := lots.of(b); {
			case b.Plan.WantsDifference() && size == 0:
				f.Order.AsDifferent = append(f.Order.AsDifferent, b.Number)
			case b.Plan.WantsDifference():
				f.Order.Elsewhere = true
			case b.reachesLimit(size):
				f.Order.ElsewhereAgainst = true
			}
		}
		f.ReachedAlike = f.reachedAlike(before, seats)
	}
}

// reachesLimit reports whether lots so far apart are as far apart as f's limit.
func (f *Forecast) reachesLimit(size float64) bool {
	return size > 0 && f.Method.PdOf(size) >= f.Plan.PdLimit
}

// reached is the probability that so many seats come to f where the lots differ as
// it supposes.
func (f *Forecast) reached(before []Forecast, seats int) float64 {
	return comes(before, seats, f.differing(before))
}

// reachedAlike is that probability where they are alike as it supposes.
func (f *Forecast) reachedAlike(before []Forecast, seats int) float64 {
	return comes(before, seats, f.alikeIn(before))
}

// passAt is the probability that lots that a share pd tells apart pass so many
// seats.
func (f *Forecast) passAt(seats int, pd float64) float64 {
	t, chance := f.Plan, f.Method.Chance()
	switch pc := stats.PcFromPd(pd, chance); {
	case t.Sets > 1:
		return f.passByPeople(seats, pd)
	case t.TwoSided:
		return stats.SimilarityPowerBothWays(seats, t.Beta, t.PdLimit, pc)
	default:
		return stats.SimilarityPower(seats, chance, t.Beta, t.PdLimit, pc)
	}
}

// errorOfSeats is the probability that so many seats call identical lots
// different.
func (f *Forecast) errorOfSeats(seats int) float64 {
	if f.majorities() {
		return f.peoplePower(seats, 0)
	}
	n := seats * f.Plan.Sets
	least, ok := minCorrect(n, f.Plan, f.Method)
	if !ok {
		return 0
	}
	return pValue(n, least, f.Plan, f.Method)
}

// against reports whether the order stands against what the test wants.
func (f *Forecast) against() bool {
	return f.Order.AgainstDifference() && f.Plan.WantsDifference() || f.Order.AgainstSimilarity() && f.Plan.WantsSimilarity()
}

// AnyAgainst reports whether the order of the tests stands against one of them, so
// that no number of seats does for all.
func AnyAgainst(tests []Forecast) bool {
	return slices.ContainsFunc(tests, func(f Forecast) bool { return f.against() })
}

// BarWords says why the order can't come to the test with so many seats; "" where
// it can.
func (f *Forecast) BarWords() string {
	if len(f.Order.Bars) == 0 {
		return ""
	}
	return fmt.Sprintf("The order can’t come to this test: no result of %s with so many seats lets it go on.", testsOf(f.Order.Bars))
}
