package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The search moves its tails by one addition at a time. Here each state is held
// against tails computed afresh.
func TestSizeSearchFollowsTheTails(t *testing.T) {
	searches := []sizeSearch{
		{null: 1.0 / 3, alt: 0.4, level: 0.001, missed: 0.001, highest: 0.001},
		{null: 1.0 / 3, alt: 2.0 / 3, level: 0.05, missed: 1e-60, highest: 0.05},
		{null: 0.5, alt: 0.55, level: 0.1, missed: 0.3, highest: 0.2, twoSided: true},
		{null: 0.1, alt: 0.11, level: 1e-30, missed: 1e-5, highest: 1e-30},
		{null: 1e-9, alt: 1 - 1e-9, level: 1e-40, missed: 1e-40, highest: 1e-40},
		{null: 0.5, alt: 0.8, level: 0.1875, missed: 0.1, highest: 0.1875},       // tie at n = 5
		{null: 1.0 / 3, alt: 0.8, level: 1.0 / 9, missed: 0.1, highest: 1.0 / 9}, // tie at n = 4
		{null: 0.45, alt: 0.9, level: 0.6, missed: 0.3, highest: 0.6},
	}
	for _, s := range searches {
		at := s.start(3)
		for range 3000 {
			c, ok := MinCorrect(at.n, s.null, s.level)
			if !ok || c != at.c {
				t.Fatalf("%+v: n %d has count %d, want %d, %v", s, at.n, at.c, c, ok)
			}
			for name, pair := range map[string][2]float64{
				"beyond":   {at.beyond.tail, LowerTail(at.n, at.n-c, 1-s.null)},
				"short":    {at.short.tail, LowerTail(at.n, c-1, s.alt)},
				"wrongWay": {at.wrongWay.tail, LowerTail(at.n, at.n-c, s.alt)},
			} {
				if pair[1] > 1e-250 && !agrees(pair[0], pair[1], 1e-11) {
					t.Fatalf("%+v: n %d: %s = %.17g, want %.17g", s, at.n, name, pair[0], pair[1])
				}
			}
			at = s.next(at)
		}
	}
}

// The two bounds enclose the answer, whatever the risks: nothing smaller than
// the lower one keeps them, and everything from the upper one on does.
func TestSizeSearchBounds(t *testing.T) {
	seed := uint64(20240411)
	r := rand.New(rand.NewPCG(seed, 0))
	checked := 0
	for range 150 {
		chance := []float64{1.0 / 10, 1.0 / 3, 1.0 / 2}[r.IntN(3)]
		alpha, beta := math.Pow(10, -3*r.Float64()), math.Pow(10, -3*r.Float64())
		pc := PcFromPd(0.1+0.89*r.Float64(), chance)
		sided := OneSided
		if chance == 0.5 && r.IntN(2) == 0 {
			sided = TwoSided
		}
		keeps := func(n int) bool {
			return DifferencePanel(n, chance, alpha, pc, sided).ActualBeta <= beta*(1+1e-12)
		}
		s := Assessors(chance, alpha, beta, pc, sided)
		for n := 3; n < s.Assessors.N; n++ {
			if keeps(n) {
				t.Errorf("seed %d: %v %v %v %v %s: %d keeps the risks, %d was found", seed, chance, alpha, beta, pc, sided, n, s.Assessors.N)
			}
			checked++
		}
		if !keeps(s.Assessors.N) || s.Stable.N > 3 && s.Stable.N > s.Assessors.N && keeps(s.Stable.N-1) {
			t.Errorf("seed %d: %v %v %v %v %s: %d and %d are not the smallest", seed, chance, alpha, beta, pc, sided, s.Assessors.N, s.Stable.N)
		}
		for n := s.Stable.N; n <= 2*s.ProvenFrom+20; n++ {
			if !keeps(n) {
				t.Errorf("seed %d: %v %v %v %v %s: %d fails above %d (bound %d)", seed, chance, alpha, beta, pc, sided, n, s.Stable.N, s.ProvenFrom)
			}
			checked++
		}
	}
	if checked < 10000 {
		t.Errorf("only %d sizes were checked", checked)
	}
}

// The similarity search by its own definition, every size tried.
func TestSimilarSizesByTrying(t *testing.T) {
	seed := uint64(77)
	r := rand.New(rand.NewPCG(seed, 0))
	for i := range 80 {
		chance := []float64{1.0 / 10, 1.0 / 3, 1.0 / 2}[r.IntN(3)]
		alpha, beta := math.Pow(10, -2*r.Float64()), math.Pow(10, -2*r.Float64())
		pc := PcFromPd(0.15+0.8*r.Float64(), chance)
		if i == 0 { // 11 fails above a bound that minds the risks alone
			chance, alpha, beta, pc = 1.0/10, 0.999, 0.1, PcFromPd(0.35, 1.0/10)
		}
		s := AssessorsSimilar(chance, alpha, beta, pc)
		first, stable := 0, 3
		for n := 3; n <= 2*s.ProvenFrom+20; n++ {
			p := SimilarityPanel(n, chance, beta, pc)
			if p.Conclusive && p.ActualAlpha <= alpha*(1+1e-12) {
				if first == 0 {
					first = n
				}
			} else {
				stable = n + 1
			}
		}
		if s.Assessors.N != first || s.Stable.N != stable {
			t.Errorf("seed %d: %v %v %v %v: %d, %d, want %d, %d", seed, chance, alpha, beta, pc, s.Assessors.N, s.Stable.N, first, stable)
		}
	}
}
