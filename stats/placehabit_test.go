package stats

import "testing"

func TestHabitReference(t *testing.T) {
	eachRecord(t, judgesFolder+"place_habit.csv", 7, func(r record) bool {
		m := [3]int{r.int("m0"), r.int("m1"), r.int("m2")}
		k := [3]int{r.int("k0"), r.int("k1"), r.int("k2")}
		var picks [3][3]int
		for i := range 3 {
			picks[i][i] = 5 // correct answers say nothing here
			picks[i][(i+1)%3], picks[i][(i+2)%3] = k[i], m[i]-k[i]
		}
		h := HabitOfThree(picks)
		r.close("statistic", h.Statistic, 1e-9)
		r.close("p_value", h.PValue, 1e-12)
		return h.DF == r.int("df") && h.Method == Exact
	})
	eachRecord(t, judgesFolder+"place_habit_two.csv", 3, func(r record) bool {
		h := HabitOfTwo([2][2]int{{r.int("left_left"), r.int("left_right")}, {r.int("right_left"), r.int("right_right")}})
		r.close("p_value", h.PValue, 1e-12)
		return true
	})
}

// P(p ≤ a) ≤ a, by enumeration over all answers.
func TestHabitIsValid(t *testing.T) {
	for _, m := range [][3]int{{4, 3, 5}, {6, 0, 2}, {0, 7, 0}} {
		var outcomes []nullP
		for a := range m[0] + 1 {
			for b := range m[1] + 1 {
				for c := range m[2] + 1 {
					mass := 1.0
					for i, k := range []int{a, b, c} {
						if m[i] > 0 {
							mass *= PMF(m[i], k, 0.5)
						}
					}
					picks := [3][3]int{{0, a, m[0] - a}, {m[1] - b, 0, b}, {c, m[2] - c, 0}}
					outcomes = append(outcomes, nullP{HabitOfThree(picks).PValue, mass})
				}
			}
		}
		checkValid(t, "habit", outcomes)
	}
}

func TestHabitOfAlwaysLeft(t *testing.T) {
	h := HabitOfThree([3][3]int{{6, 0, 0}, {6, 0, 0}, {6, 0, 0}})
	if h.Favoured != 0 || h.PValue > 0.001 || h.N != 12 {
		t.Errorf("always left of three: %+v", h)
	}
	for place := range 3 {
		var picks [3][3]int
		for i := range picks {
			picks[i][place] = 8
		}
		if h := HabitOfThree(picks); h.Favoured != place {
			t.Errorf("always place %d: %+v", place, h)
		}
	}
	two := HabitOfTwo([2][2]int{{0, 9}, {0, 9}})
	if two.Favoured != 1 || two.PValue > 1e-4 {
		t.Errorf("always right of two: %+v", two)
	}
	// All correct is no habit, though few sets are seldom in balance.
	for name, h := range map[string]PlaceHabit{
		"three": HabitOfThree([3][3]int{{8, 0, 0}, {0, 1, 0}, {0, 0, 3}}), "two": HabitOfTwo([2][2]int{{9, 0}, {0, 2}}),
		"none": HabitOfTwo([2][2]int{}),
	} {
		if h.PValue != 1 || h.Favoured != -1 || len(h.Warnings) == 0 {
			t.Errorf("%s: %+v", name, h)
		}
	}
	large := HabitOfThree([3][3]int{{0, 110, 90}, {95, 0, 105}, {103, 97, 0}})
	if large.Method != ChiSquareApproximation || !agrees(large.PValue, chiSquareUpper(large.Statistic, 2), 1e-12) {
		t.Errorf("600 wrong answers: %+v", large)
	}
	if !panics(func() { HabitOfThree([3][3]int{{-1}}) }) || !panics(func() { HabitOfTwo([2][2]int{{0, -1}}) }) {
		t.Error("no panic")
	}
}

// The doc comment of HabitOfThree states what enumeration finds here.
func TestHabitChiSquareExcess(t *testing.T) {
	const m = 57 // 58³ outcomes, nearly the most that are enumerated
	q := newQuadratic([3]int{m, m, m})
	var outcomes []nullP
	for a := range m + 1 {
		for b := range m + 1 {
			for c := range m + 1 {
				mass := PMF(m, a, 0.5) * PMF(m, b, 0.5) * PMF(m, c, 0.5)
				outcomes = append(outcomes, nullP{chiSquareUpper(q.at([3]int{a, b, c}), 2), mass})
			}
		}
	}
	if excess := worstExcess(outcomes, 0.001, 0.2); excess > 0.015 || excess < 0.01 {
		t.Errorf("P(p ≤ a) exceeds a by %v, stated 0.015", excess)
	}
}
