package session

// OnlyAttribute says what becomes of a later test of an attribute if the lots
// differ in that attribute alone, by the size that it looks for. Its power takes
// for granted that the tests for any difference before it find what they look for,
// which may be a larger difference than the attribute makes.
type OnlyAttribute struct {
	Earlier int     // the test before it that looks for the largest difference of all
	All     float64 // the d′ which that one looks for
	Own     float64 // the d′ in the attribute
	Comes   float64 // probability that the tests before it come out so that its turn comes
	Finds   float64 // probability that it comes and shows its difference
}

// OnlyAttributes works that out for the test with a number, from the forecasts of
// a plan; ok is false where no test before it looks for a larger difference over
// all.
func OnlyAttributes(tests []Forecast, number int) (o OnlyAttribute, ok bool) {
	var before []Forecast
	for _, f := range tests {
		if f.Refused != "" || f.Plan.Blank != "" {
			continue
		}
		if f.Number < number {
			before = append(before, f)
			continue
		}
		if f.Number > number || f.Method.Overall || !f.Plan.WantsDifference() || f.Risks != nil {
			return OnlyAttribute{}, false
		}
		return f.onlyAttribute(before)
	}
	return OnlyAttribute{}, false
}

func (f *Forecast) onlyAttribute(before []Forecast) (o OnlyAttribute, ok bool) {
	seats := f.Answers / f.Plan.Sets
	o = OnlyAttribute{Own: f.Method.DPrimeOf(f.Plan.Pd), Comes: 1}
	for i := range before {
		b := &before[i]
		switch shared := b.Method.Overall || sameAttribute(b.Plan, f.Plan); {
		case b.Plan.WantsDifference() && shared:
			o.Comes *= b.powerAt(seats, f.pdIn(b))
		case b.Plan.WantsDifference():
			o.Comes *= b.errorOfSeats(seats)
		case shared:
			o.Comes *= b.passAt(seats, f.pdIn(b))
		default:
			o.Comes *= b.passOfSeats(seats)
		}
		if d := b.Method.DPrimeOf(b.Plan.Pd); b.Method.Overall && b.Plan.WantsDifference() && d > max(o.All, o.Own*nearlyAsLarge) {
			o.All, o.Earlier = d, b.Number
		}
	}
	o.Finds = o.Comes * f.Power
	return o, o.Earlier > 0
}

// nearlyAsLarge is how many times the size in an attribute the difference over all
// may be before it is another one: a twentieth more, which no plan is set by (our
// reasoning, no source).
const nearlyAsLarge = 1.05

// powerAt is the power of so many seats at a share pd.
func (f *Forecast) powerAt(seats int, pd float64) float64 {
	if f.Plan.Sets > 1 {
		return f.peoplePower(seats, pd)
	}
	return powerOf(seats, f.Plan, f.Method, pd)
}
