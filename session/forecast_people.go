package session

import "oddcup/stats"

// mostSeats is the most seats that a plan takes, and so the end of a search.
const mostSeats = 500

// byPeople fills in power and sizes of a test with several sets a seat.
func (f *Forecast) byPeople(seats int) {
	t := f.Plan
	f.powers = f.peoplePowers(seats)
	f.Power = f.powers[seats]
	f.AtBest = f.equalPower(seats)
	for _, pd := range forecastPd {
		f.AtPd = append(f.AtPd, PdPower{pd, f.peoplePower(seats, pd)})
	}
	f.Curve = f.curve(seats, f.powerOfSeats)
	p := f.perceivers(0)
	if f.majorities() {
		// Whoever splits evenly is not counted, so the minimum is of a number that is
		// not known beforehand.
		f.ActualAlpha = p.MajorityPowers(seats, t.Alpha, f.sided())[seats]
	}
	if f.majorities() {
		f.Detectable, f.CanDetect = p.MajorityDetectable(seats, t.Alpha, t.Power, f.sided())
	} else {
		f.Detectable, f.CanDetect = p.PooledDetectable(seats, t.Alpha, t.Power)
	}
	// The sizes are those of panels that a plan takes.
	last := min(len(f.powers)-1, mostSeats)
	for n := last; n >= smallestPanel; n-- {
		if f.powers[n] >= t.Power {
			f.First = n * f.each()
			if f.Stable == 0 || f.Stable == (n+1)*f.each() {
				f.Stable = n * f.each()
			}
		} else if n == last {
			return
		}
	}
}

// smallestPanel is the smallest that sizes are searched from, as in stats.
const smallestPanel = 3

func (f *Forecast) perceivers(pd float64) stats.Perceivers {
	return stats.Perceivers{Sets: f.Plan.Sets, Chance: f.Method.Chance(), Pd: pd}
}

// peoplePowers are the powers at the planned pd by seats: as far as the curve
// goes, and as far as the search for sizes must.
func (f *Forecast) peoplePowers(seats int) []float64 {
	t := f.Plan
	p := f.perceivers(t.Pd)
	most := max(2*seats, curveLeast)
	if f.majorities() {
		return p.MajorityPowers(max(most, mostSeats), t.Alpha, f.sided())
	}
	enough := p.PooledEnough(t.Alpha, 1-t.Power)
	return p.PooledPowers(max(most, min(enough, mostSeats)), t.Alpha)
}

func (f *Forecast) peoplePower(seats int, pd float64) float64 {
	if f.majorities() {
		return f.perceivers(pd).MajorityPowers(seats, f.Plan.Alpha, f.sided())[seats]
	}
	return f.perceivers(pd).PooledPower(seats, f.Plan.Alpha)
}

// equalPower is the power if all had the same ability, and each set were right
// with the same probability.
func (f *Forecast) equalPower(seats int) float64 {
	pc := stats.PcFromPd(f.Plan.Pd, f.Method.Chance())
	if !f.majorities() {
		return powerOf(seats*f.Plan.Sets, f.Plan, f.Method, f.Plan.Pd)
	}
	// Each person has a majority with probability 1 - even, and of those it is
	// right in the share right; a plan of one pair a seat with that pd is the same.
	right, even := majority(f.Plan.Sets, pc)
	pd := stats.PdFromPc(right/(1-even), f.Method.Chance())
	power := 0.0
	for k := 1; k <= seats; k++ {
		if w := stats.PMF(seats, k, 1-even); w > 0 {
			power += w * powerOf(k, f.Plan, f.Method, pd)
		}
	}
	return min(power, 1)
}

// majority gives the probability that most of a person's sets are correct, and
// that they split evenly, for independent sets.
func majority(sets int, pc float64) (right, even float64) {
	if sets%2 == 0 {
		even = stats.PMF(sets, sets/2, pc)
	}
	return stats.UpperTail(sets, sets/2+1, pc), even
}

// pdOfMajorities is the pd at which one pair a seat is right as often as the
// majority of a person's pairs is, even splits aside, where a share pd perceives
// the difference in all pairs and the others guess.
func pdOfMajorities(sets int, pd float64) float64 {
	right, even := stats.Perceivers{Sets: sets, Chance: 0.5, Pd: pd}.Majority()
	return stats.PdFromPc(right/(1-even), 0.5)
}

// similarByPeople fills in what decides on similarity with several sets a seat.
func (f *Forecast) similarByPeople(seats int) {
	t := f.Plan
	f.People = stats.LeastReplicatedSimilarity(t.Sets, f.Method.Chance(), t.Beta, t.PdLimit)
	if f.People > mostSeats {
		f.People = 0
	}
	f.HasMax = f.People > 0 && seats >= f.People
	f.PassAlike = f.passOfSeats(seats)
	f.SimilarCurve = f.curve(seats, f.passOfSeats)
}

// passByPeople estimates how often lots that a share pd tells apart in every set
// pass [stats.DecideReplicatedSimilarity], by the largest count of all answers that
// keeps β in independent ones. For identical lots, enumerated exactly for 12 to 16
// people with 2 to 6 sets, chance 1/3 and 1/2, limits of 0.2 to 0.5, β 0.05 and 0.1,
// they pass from 0.124 less to 0.109 more often than this; with 18 to 66 people, in
// 1000 simulated panels each, from 0.080 less to 0.076 more often.
func (f *Forecast) passByPeople(seats int, pd float64) float64 {
	t, chance := f.Plan, f.Method.Chance()
	if f.People == 0 || seats < f.People {
		return 0
	}
	most, _ := stats.MaxCorrect(seats*t.Sets, chance, t.Beta, t.PdLimit)
	if most < 0 {
		return 0
	}
	return f.perceivers(pd).PooledAtMost(seats, most)
}

// sequential fills in what a test that may stop early does.
func (f *Forecast) sequential(rule stats.Sequential) {
	risks, lines := rule.Risks(), rule.Lines()
	if whole := rule.Every * f.Plan.Sets; f.Plan.Sets > 1 && rule.Max%whole == 0 {
		f.BestEnd = &risks.AtP1
		byPeople := rule.RisksByPeople(f.Plan.Sets)
		f.Risks, f.Lines = &byPeople, &lines
		return
	}
	f.Risks, f.Lines = &risks, &lines
	if f.Plan.WantsSimilarity() && f.Plan.Sets == 1 {
		f.half = rule.Outcome(stats.PcFromPd(f.Plan.PdLimit/2, f.Method.Chance())).Similar
	}
}
