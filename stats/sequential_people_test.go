package stats

import (
	"math"
	"testing"
)

// R 4.2.2: the counts carried from look to look as in the comment of
// RisksByPeople, with dbinom for perceivers and guesses; the lines written out
// anew, a table's counts convolved for each number of perceivers.
func TestSequentialRisksByPeople(t *testing.T) {
	for _, c := range []struct {
		pd, alpha, beta                          float64
		seats, sets, flights                     int
		different, similar, undecided, expectedN float64
	}{
		{0.3, 0.1, 0.1, 12, 6, 1, 0.7775868068230835, 0.1123068053848824, 0.1101063877920341, 35.8587552755515233},
		{0.4, 0.05, 0.1, 12, 6, 1, 0.8468131595087509, 0.0875327550875419, 0.0656540854037074, 30.0105648627287209},
		{0.4, 0.1, 0.2, 6, 6, 1, 0.7407013216530283, 0.1765734854897077, 0.0827251928572641, 16.6253265739706606},
		{0.3, 0.1, 0.1, 6, 3, 2, 0.6397656810285411, 0.1046317820976083, 0.2556025368738508, 23.5888325166136994},
		{0.4, 0.05, 0.1, 12, 1, 3, 0.8018981451869277, 0.0339140325159115, 0.1641878222971605, 24.8297641682305894},
	} {
		const chance = 1.0 / 3
		p := Sequential{
			P0: chance, P1: PcFromPd(c.pd, chance), Alpha: c.alpha, Beta: c.beta,
			Every: c.seats, Max: c.seats * c.sets * c.flights, AtMax: MaxUndecided,
		}
		got := p.RisksByPeople(c.sets)
		for name, x := range map[string][2]float64{
			"different": {got.AtP1.Different, c.different}, "similar": {got.AtP1.Similar, c.similar},
			"undecided": {got.AtP1.Undecided, c.undecided}, "answers": {got.AtP1.ExpectedN, c.expectedN},
		} {
			if math.Abs(x[0]-x[1]) > 1e-12*max(1, x[1]) {
				t.Errorf("%+v: %s %.16g, want %.16g", c, name, x[0], x[1])
			}
		}
		alone := p.Risks()
		if got.AtP0.Different != alone.AtP0.Different || got.AtP0.Similar != alone.AtP0.Similar {
			t.Errorf("%+v: identical lots end otherwise by people: %+v, %+v", c, got.AtP0, alone.AtP0)
		}
		// One set each is as many independent answers.
		if same := math.Abs(got.AtP1.Different-alone.AtP1.Different) < 1e-12 && math.Abs(got.AtP1.Similar-alone.AtP1.Similar) < 1e-12; same != (c.sets == 1) {
			t.Errorf("%+v: by people %v, by independent answers %v", c, got.AtP1.Different, alone.AtP1.Different)
		}
	}
	warned := false
	p := Sequential{P0: 1.0 / 3, P1: PcFromPd(0.3, 1.0/3), Alpha: 0.1, Beta: 0.1, Every: 12, Max: 72, AtMax: MaxUndecided}
	for _, w := range p.RisksByPeople(6).Warnings {
		warned = warned || w.Kind == SequentialBeta
	}
	if !warned {
		t.Error("a risk of 0.112 beside a planned 0.1 is not warned of")
	}
	if !panics(func() { p.RisksByPeople(5) }) || !panics(func() { p.Max = 0; p.RisksByPeople(6) }) {
		t.Error("tables that are not whole did not panic")
	}
}

func BenchmarkSequentialRisksByPeople(b *testing.B) {
	p := Sequential{P0: 1.0 / 3, P1: PcFromPd(0.2, 1.0/3), Alpha: 0.05, Beta: 0.1, Every: 100, Max: 600, AtMax: MaxUndecided}
	for b.Loop() {
		p.RisksByPeople(6)
	}
}
