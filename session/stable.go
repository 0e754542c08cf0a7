package session

// SeatsStable finds the smallest number of seats from which every larger one that a
// plan takes reaches what each test wants in its place in the order, as in
// [SeatsEnough]: whoever stays away above it costs nothing. It is 0 where there is
// none.
func SeatsStable(tests []Forecast) int {
	least := 2
	if len(tests) == 0 || AnyAgainst(tests) {
		return 0
	}
	for i := range tests {
		if t := &tests[i]; t.Refused != "" || t.Risks != nil || t.Plan.Sequential {
			return 0
		} else if t.Plan.WantsSimilarity() {
			least = FewForSimilarity
		}
	}
	stable := 0
	for n := mostSeats; n >= least && allReach(tests, n); n-- {
		stable = n
	}
	return stable
}
