package stats

import "testing"

func TestGuessesReference(t *testing.T) {
	eachRecord(t, judgesFolder+"guesses.csv", 4, func(r record) bool {
		g := GuessesAgainstLuck([]GuessCount{
			{1.0 / 3, r.int("n_third"), r.int("x_third")}, {1.0 / 2, r.int("n_half"), r.int("x_half")}})
		r.close("p_more", g.PMore, 1e-12)
		r.close("p_less", g.PLess, 1e-12)
		return g.N == r.int("n_third")+r.int("n_half")
	})
	g := GuessesAgainstLuck([]GuessCount{{1.0 / 3, 24, 13}})
	if !agrees(g.PMore, UpperTail(24, 13, 1.0/3), 1e-12) || g.Expected != 8 {
		t.Errorf("one chance: %+v", g)
	}
	if g := GuessesAgainstLuck(nil); g.PMore != 1 || g.PLess != 1 || g.N != 0 {
		t.Errorf("no guesses: %+v", g)
	}
	if !panics(func() { GuessesAgainstLuck([]GuessCount{{1.0 / 3, 0, 1}}) }) || !panics(func() { GuessesAgainstLuck([]GuessCount{{0, 2, 1}}) }) {
		t.Error("no panic")
	}
}
