package main

import (
	"os"
	"strconv"
	"testing"

	"oddcup/stats"
)

// TestNull plays sessions in which nobody perceives anything through plan,
// layout, answers and result. The share called "different" must be the exact
// size of the test, whatever the habit of guessing, for one and for three sets
// per seat: orders are dealt at random across seats and nothing balances one
// seat's own sets. Where a whole panel shares one habit the share may be
// smaller, since every block holds each place equally often. ODDCUP_NULL sets another number of sessions; `oddcup null`
// prints the same as a table.
func TestNull(t *testing.T) {
	sessions := 500
	if s := os.Getenv("ODDCUP_NULL"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		sessions = n
	}
	for _, sets := range []int{1, 3} {
		for habit := range habits {
			n, size, err := nullSessions(t.Context(), sessions, 24, sets, habit, 20260414)
			if err != nil {
				t.Fatal(err)
			}
			if size < 0.01 || size > 0.05 {
				t.Fatalf("exact size %v of a test at 0.05", size)
			}
			// Exact binomial, two tails of 1e-5: over the twelve rows a sound
			// program fails once in 4,000 changes of the seed.
			low, high := stats.LowerTail(sessions, n, size), stats.UpperTail(sessions, n, size)
			t.Logf("%s, %d sets: %d of %d different, exact size %.4f", habits[habit].name, sets, n, sessions, size)
			if low < 1e-5 && !habits[habit].shared || high < 1e-5 {
				t.Errorf("%s, %d sets: %d of %d called different; exact size %.4f (tails %.2g, %.2g)",
					habits[habit].name, sets, n, sessions, size, low, high)
			}
		}
	}
}
