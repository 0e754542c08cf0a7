package session

import (
	"slices"
	"strings"

	"oddcup/stats"
)

// Order says of a later test what the tests before it must show in lots that are
// as it supposes. Power of a test is a statement on one pair of lots, so what comes
// before is judged on lots of the same kind: no lots are similar within a limit and
// differ by more.
type Order struct {
	// Where the lots differ by its planned pd: AsAlike are the tests that must call
	// them similar nevertheless, and Against tells that one of them must do so by
	// error, since the difference reaches its limit.
	AsAlike []int
	Against bool

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
	if f.Plan.WantsDifference() {
		for i := range before {
			if b := &before[i]; f.mustPass(b) {
				f.Order.AsAlike = append(f.Order.AsAlike, b.Number)
				f.Order.Against = f.Order.Against || f.pdIn(b) >= b.Plan.PdLimit
			}
		}
		f.Reached = f.reached(before, seats)
	}
	if f.Plan.WantsSimilarity() {
		apart := f.apartElsewhere(before)
		for i := range before {
			switch b := &before[i]; {
			case f.mustErr(b):
				f.Order.AsDifferent = append(f.Order.AsDifferent, b.Number)
			case b.Plan.WantsDifference():
				f.Order.Elsewhere = true
			case apart > 0 && b.Method.Overall && b.Method.PdOf(apart) >= b.Plan.PdLimit:
				f.Order.ElsewhereAgainst = true
			}
		}
		f.ReachedAlike = f.reachedAlike(before, seats)
	}
}

// mustPass reports whether lots that differ as f supposes must pass b as similar.
// An overall test has the attribute's difference among all others; another
// attribute may well be alike.
func (f *Forecast) mustPass(b *Forecast) bool {
	return !b.Plan.WantsDifference() && (b.Method.Overall || f.Method.Overall || sameAttribute(b.Plan, f.Plan))
}

// mustErr reports whether lots that are alike as f supposes have nothing that b
// could find.
func (f *Forecast) mustErr(b *Forecast) bool {
	return b.Plan.WantsDifference() && (f.Method.Overall || !b.Method.Overall && sameAttribute(b.Plan, f.Plan))
}

func sameAttribute(a, b TestPlan) bool {
	fold := func(t TestPlan) string { return strings.ToLower(strings.TrimSpace(t.Attribute)) }
	return fold(a) == fold(b)
}

// pdIn is the pd in b's method of lots that differ as f supposes. The overall
// difference of lots is at least that in an attribute, so b passes at most as
// often as at this pd.
func (f *Forecast) pdIn(b *Forecast) float64 { return b.Method.PdOf(f.Method.DPrimeOf(f.Plan.Pd)) }

// apartElsewhere is the overall d′ that lots have which are alike in f's attribute:
// the largest that a test before it looks for; 0 where none does, or where f asks
// for all differences.
func (f *Forecast) apartElsewhere(before []Forecast) float64 {
	if f.Method.Overall {
		return 0
	}
	size := 0.0
	for i := range before {
		if b := &before[i]; b.Method.Overall && b.Plan.WantsDifference() {
			size = max(size, b.Method.DPrimeOf(b.Plan.Pd))
		}
	}
	return size
}

// reached is the probability that so many seats come to f where the lots differ as
// it supposes: what looks for a difference finds the one it looks for.
func (f *Forecast) reached(before []Forecast, seats int) float64 {
	p := 1.0
	for i := range before {
		switch b := &before[i]; {
		case b.Plan.WantsDifference():
			p *= b.powerOfSeats(seats)
		case f.mustPass(b):
			p *= b.passAt(seats, f.pdIn(b))
		default:
			p *= b.passOfSeats(seats)
		}
	}
	return p
}

// reachedAlike is the same where they are alike as it supposes.
func (f *Forecast) reachedAlike(before []Forecast, seats int) float64 {
	p, apart := 1.0, f.apartElsewhere(before)
	for i := range before {
		switch b := &before[i]; {
		case f.mustErr(b):
			p *= b.errorOfSeats(seats)
		case b.Plan.WantsDifference():
			p *= b.powerOfSeats(seats)
		case b.Method.Overall && apart > 0:
			p *= b.passAt(seats, b.Method.PdOf(apart))
		default:
			p *= b.passOfSeats(seats)
		}
	}
	return p
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
