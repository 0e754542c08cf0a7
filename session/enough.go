package session

// SeatsEnough finds the smallest number of seats, from the planned one on and a
// multiple of block, with which every test of a plan reaches what it wants in
// its place in the registered order: as often as wanted the order comes to it
// and it shows what it is to show. For similarity it gives no fewer than
// [FewForSimilarity] people. It is 0 where no number that a plan takes does, and
// where a test may stop early, for which none is known beforehand.
//
// The tests are taken as independent: that one shows its difference makes another
// no likelier to.
func SeatsEnough(tests []Forecast, from, block int) int {
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

func allReach(tests []Forecast, seats int) bool {
	reached := 1.0
	for i := range tests {
		t, to := &tests[i], reached
		if t.Plan.Blank != "" {
			to = 1
		}
		comes := 1.0
		if t.Plan.WantsSimilarity() {
			comes = t.passOfSeats(seats)
			if to*comes < t.Plan.Power {
				return false
			}
		}
		if t.Plan.WantsDifference() {
			comes = t.powerOfSeats(seats)
			if to*comes < t.Plan.Power {
				return false
			}
		}
		if t.Plan.Blank == "" {
			reached *= comes
		}
	}
	return true
}
