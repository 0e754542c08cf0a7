package session

// OnlyAttribute says what becomes of a later test of an attribute if the lots
// differ in that attribute alone, by the size that it looks for. Its power takes
// for granted that the tests for any difference before it find what they look for,
// which may be a larger difference than the attribute makes.
type OnlyAttribute struct {
	Earlier int             // the test before it that looks for the largest difference of all
	All     float64         // the d′ over all in lots in which they all find what they look for
	Own     float64         // the d′ in the attribute
	Others  []AttributeSize // what else such lots differ in
	Comes   float64         // probability that the tests before it come out so that its turn comes
	Finds   float64         // probability that it comes and shows its difference
}

// AttributeSize is a d′ in an attribute.
type AttributeSize struct {
	Attribute string
	DPrime    float64
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
	seats, lots := f.Answers/f.Plan.Sets, f.differing(before)
	o = OnlyAttribute{All: lots.all, Own: f.size(), Comes: comes(before, seats, f.onlyIn())}
	largest := o.Own * nearlyAsLarge
	own, told := attributeKey(f.Plan.Attribute), map[string]bool{}
	for i := range before {
		b := &before[i]
		switch key := attributeKey(b.Plan.Attribute); {
		case !b.Plan.WantsDifference():
		case b.Method.Overall && b.size() > largest:
			largest, o.Earlier = b.size(), b.Number
		case !b.Method.Overall && key != own && !told[key]:
			told[key] = true
			o.Others = append(o.Others, AttributeSize{b.Plan.Attribute, lots.in[key]})
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
