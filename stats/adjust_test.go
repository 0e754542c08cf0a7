package stats

import (
	"math"
	"testing"
)

// eachSet collects the rows of a file by set and checks each set at its last.
func eachSet(t *testing.T, file string, rows int, check func(set []record)) {
	t.Helper()
	var sets [][]record
	eachRecord(t, file, rows, func(r record) bool {
		if n := r.int("set"); n == len(sets)+1 {
			sets = append(sets, nil)
		} else if n != len(sets) {
			return false
		}
		sets[len(sets)-1] = append(sets[len(sets)-1], r)
		return true
	})
	for _, set := range sets {
		check(set)
	}
}

func columnOf(set []record, name string) (xs []float64) {
	for _, r := range set {
		xs = append(xs, r.float(name))
	}
	return xs
}

func TestHolmAgainstReference(t *testing.T) {
	eachSet(t, "k6_holm.csv", 17, func(set []record) {
		for i, p := range Holm(columnOf(set, "p_raw")) {
			set[i].near("p_holm", p, 1e-14)
		}
	})
}

func TestAdjustmentsAgainstR(t *testing.T) {
	eachSet(t, "k7_bh.csv", 37, func(set []record) {
		raw := columnOf(set, "p_raw")
		holm := Holm(raw)
		for i, p := range BenjaminiHochberg(raw) {
			set[i].near("p_bh", p, 1e-14)
			set[i].near("p_holm", holm[i], 1e-14)
		}
	})
	// Benjamini and Hochberg 1995, section 3: at 0.05 the false discovery rate
	// keeps four of these, the familywise procedures three (from memory).
	p := []float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1}
	below := func(ps []float64) (n int) {
		for _, p := range ps {
			if p <= 0.05 {
				n++
			}
		}
		return n
	}
	if fdr, familywise := below(BenjaminiHochberg(p)), below(Holm(p)); fdr != 4 || familywise != 3 {
		t.Errorf("%d and %d significant, in print 4 and 3", fdr, familywise)
	}
}

// The adjusted values are the levels at which the procedures, told as their
// authors do, reject: stepping through the p-values at a fixed level.
func TestAdjustmentsAreTheProcedures(t *testing.T) {
	levels := []float64{0.001, 0.01, 0.05, 0.1, 0.2, 0.5, 0.9}
	values := []float64{0.0004, 0.009, 0.02, 0.049, 0.05, 0.2, 0.6}
	var sets [][]float64
	for i := range values { // every set of three, orders and ties included
		for j := range values {
			for k := range values {
				sets = append(sets, []float64{values[i], values[j], values[k]})
			}
		}
	}
	for _, p := range sets {
		holm, hochberg := Holm(p), BenjaminiHochberg(p)
		for _, a := range levels {
			a *= 1.0000001 // no level is a tie
			down, up := 0.0, 0.0
			for i := range p {
				smaller := 0
				for j := range p {
					if p[j] < p[i] || (p[j] == p[i] && j < i) {
						smaller++
					}
				}
				// Step up: all up to the largest that passes.
				if p[i] <= a*float64(smaller+1)/float64(len(p)) {
					up = max(up, p[i])
				}
				// Step down: all before the first that fails.
				passes := true
				for j := range p {
					rank := 0
					for l := range p {
						if p[l] < p[j] || (p[l] == p[j] && l < j) {
							rank++
						}
					}
					if rank <= smaller && p[j] > a/float64(len(p)-rank) {
						passes = false
					}
				}
				if passes {
					down = max(down, p[i])
				}
			}
			for i := range p {
				if (holm[i] <= a) != (p[i] <= down) {
					t.Errorf("%v at %v: Holm %v, rejected up to %v", p, a, holm, down)
				}
				if (hochberg[i] <= a) != (p[i] <= up) {
					t.Errorf("%v at %v: Benjamini-Hochberg %v, rejected up to %v", p, a, hochberg, up)
				}
			}
		}
	}
}

// Three independent sign tests of 8 differences, the third or none with a true
// effect: every outcome is weighed. Holm keeps the chance of any false alarm,
// Benjamini-Hochberg the expected share of false alarms.
func TestAdjustmentsKeepTheirPromise(t *testing.T) {
	const n = 8
	for _, effect := range []float64{0.5, 0.95} {
		for _, a := range []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.3} {
			anyFalse, falseShare := 0.0, 0.0
			for x := 0; x <= n; x++ {
				for y := 0; y <= n; y++ {
					for z := 0; z <= n; z++ {
						weight := PMF(n, x, 0.5) * PMF(n, y, 0.5) * PMF(n, z, effect)
						p := []float64{TwoSidedP(n, x), TwoSidedP(n, y), TwoSidedP(n, z)}
						holm, hochberg := Holm(p), BenjaminiHochberg(p)
						null := 2
						if effect == 0.5 {
							null = 3
						}
						wrong, found, alarm := 0, 0, false
						for i := range p {
							alarm = alarm || (i < null && holm[i] <= a)
							if hochberg[i] <= a {
								found++
								if i < null {
									wrong++
								}
							}
						}
						if alarm {
							anyFalse += weight
						}
						if wrong > 0 {
							falseShare += weight * float64(wrong) / float64(found)
						}
					}
				}
			}
			if anyFalse > a || falseShare > a {
				t.Errorf("effect %v, level %v: false alarms %v, false share %v", effect, a, anyFalse, falseShare)
			}
		}
	}
}

func TestAdjustmentsOfFewAndBad(t *testing.T) {
	for name, adjust := range map[string]func([]float64) []float64{"Holm": Holm, "Benjamini-Hochberg": BenjaminiHochberg} {
		if got := adjust(nil); len(got) != 0 {
			t.Errorf("%s of nothing: %v", name, got)
		}
		if got := adjust([]float64{0.03}); got[0] != 0.03 {
			t.Errorf("%s of one: %v", name, got)
		}
		raw := []float64{0.7, 0.1, 0.4}
		adjusted := adjust(raw)
		if raw[0] != 0.7 || raw[1] != 0.1 || raw[2] != 0.4 {
			t.Errorf("%s changed its argument to %v", name, raw)
		}
		for i := range raw {
			if adjusted[i] < raw[i] || adjusted[i] > 1 {
				t.Errorf("%s: %v from %v", name, adjusted, raw)
			}
		}
		for _, bad := range []float64{-0.1, 1.1, math.NaN()} {
			if !panics(func() { adjust([]float64{0.5, bad}) }) {
				t.Errorf("%s of %v did not panic", name, bad)
			}
		}
	}
}

func BenchmarkHolm(b *testing.B) {
	benchmarkAdjust(b, Holm)
}

func BenchmarkBenjaminiHochberg(b *testing.B) {
	benchmarkAdjust(b, BenjaminiHochberg)
}

func benchmarkAdjust(b *testing.B, adjust func([]float64) []float64) {
	p := make([]float64, 1000)
	for i := range p {
		p[i] = float64(i*7919%1000) / 1000
	}
	for b.Loop() {
		adjust(p)
	}
}
