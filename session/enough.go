package session

// SeatsEnough finds the smallest number of seats, from the planned one on and a
// multiple of block, with which every test of a plan reaches what it wants in
// its place in the registered order: as often as wanted the order comes to it
// and it shows what it is to show, in lots that are as it supposes ([Order]). For
// similarity it gives no fewer than [FewForSimilarity] people. It is 0 where no
// number that a plan takes does, and where a test may stop early, for which none
// is known beforehand.
//
// The tests are taken as independent: that one shows its difference makes another
// no likelier to.
func SeatsEnough(tests []Forecast, from, block int) int {
	if AnyAgainst(tests) {
		return 0
	}
	for i := range tests {
		if t := &tests[i]; t.Refused != "" || t.Risks != nil || t.Plan.Sequential {
			return 0
		} else if t.Plan.WantsSimilarity() {
			from = max(from, FewForSimilarity)
		}
	}
	for n := (from + block - 1) / block * block; n <= mostSeats; n += block {
		if allReach(tests, n) {
			return n
		}
	}
	return 0
}

// SeatsEnoughBelow finds the largest such number up to a planned one.
func SeatsEnoughBelow(tests []Forecast, to, block int) int {
	for n := to / block * block; n > 0; n -= block {
		if SeatsEnough(tests, n, block) == n {
			return n
		}
	}
	return 0
}

func allReach(tests []Forecast, seats int) bool {
	for i := range tests {
		if !tests[i].reaches(seats) {
			return false // not even if the order always came to it
		}
	}
	var before []Forecast
	for _, t := range tests {
		if t.Plan.Blank != "" {
			continue
		}
		if len(before) > 0 {
			if t.Plan.WantsSimilarity() && t.reachedAlike(before, seats)*t.passOfSeats(seats) < t.Plan.Power {
				return false
			}
			if t.Plan.WantsDifference() && t.reached(before, seats)*t.powerOfSeats(seats) < t.Plan.Power {
				return false
			}
		}
		before = append(before, t)
	}
	return true
}
