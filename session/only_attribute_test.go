package session

import (
	"math"
	"testing"
)

// TestOnlyAttribute takes a triangle at pd 40 % and then body by pairs at pd 40 %:
// d′ 1.9756 and 0.7416, where the latter is right in a triangle with 0.381637.
// Values: R 4.2.2, integrate, qbinom and pbinom:
// pbinom(c3-1, n, 0.3816371, lower=F) and that times pbinom(c2-1, n, 0.7, lower=F),
// c3 = qbinom(0.95, n, 1/3)+1, c2 = qbinom(0.95, n, 0.5)+1.
func TestOnlyAttribute(t *testing.T) {
	near := func(got, want, within float64) bool { return math.Abs(got-want) < within }
	for _, c := range []struct {
		seats        int
		comes, finds float64
	}{
		{20, 0.09492428, 0.0395237},
		{24, 0.08180238, 0.04619168},
		{42, 0.1355264, 0.1132999},
	} {
		p := UsualPlan()
		p.Seats = c.seats
		p.Tests[0].Pd, p.Tests[1].Pd = 0.4, 0.4
		o, ok := OnlyAttributes(p.Forecast(), 2)
		if !ok || o.Earlier != 1 || !near(o.All, 1.9756, 1e-4) || !near(o.Own, 0.7416143, 1e-6) || !near(o.Comes, c.comes, 1e-6) || !near(o.Finds, c.finds, 1e-6) {
			t.Errorf("%d seats: %+v, %v", c.seats, o, ok)
		}
		if _, ok := OnlyAttributes(p.Forecast(), 1); ok {
			t.Error("the first test takes another for granted")
		}
	}
	// At the same d′ nothing else is taken for granted: pd 83.8 % in pairs is d′ 1.98.
	p := UsualPlan()
	p.Tests[0].Pd, p.Tests[1].Pd = 0.4, 0.838
	if o, ok := OnlyAttributes(p.Forecast(), 2); ok {
		t.Errorf("at the same size: %+v", o)
	}
}

// TestSeatsStable: the usual plan's triangle and pairs both at pd 40 %, power 0.8
// in their order: 42 seats are the first that do, and from 47 on all do (R 4.2.2,
// pbinom for 2 to 500 seats).
func TestSeatsStable(t *testing.T) {
	p := UsualPlan()
	p.Tests[0].Pd, p.Tests[1].Pd = 0.4, 0.4
	f := p.Forecast()
	if n := SeatsStable(f); n != 47 {
		t.Errorf("stable from %d seats, want 47", n)
	}
	if n := SeatsEnough(f, 2, 1); n != 42 {
		t.Errorf("first at %d seats, want 42", n)
	}
	p.Tests[0].Pd = 0.01
	if n := SeatsStable(p.Forecast()); n != 0 {
		t.Errorf("stable from %d seats, want none", n)
	}
}
