package stats

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func TestEstimateAgainstReference(t *testing.T) {
	eachRecord(t, "f3_dprime_estimates.csv", 24, func(r record) bool {
		m, n, x := r.psychometric(), r.int("n"), r.int("x")
		got := m.Estimate(x, n, 0.95)
		if got.Method != m || got.N != n || got.Correct != x || got.Profile.Confidence != 0.95 {
			t.Errorf("%s:%d: terms %+v", r.file, r.line, got)
		}
		r.near("dprime", got.DPrime, 1e-12)
		r.near("dprime_profile_lower", got.Profile.Lower, 1e-10)
		r.near("dprime_profile_upper", got.Profile.Upper, 1e-10)
		if r.empty("se_dprime") {
			if !math.IsNaN(got.SE) {
				t.Errorf("%s:%d: standard error = %v, want none", r.file, r.line, got.SE)
			}
			if len(got.Warnings) == 0 {
				t.Errorf("%s:%d: no warning at d′ = %v", r.file, r.line, got.DPrime)
			}
			return true
		}
		r.near("se_dprime", got.SE, 1e-12)
		const z = 1.9599639845400545 // R 4.2.2: qnorm(0.975)
		r.near("dprime_wald_lower", got.DPrime-z*got.SE, 1e-11)
		r.near("dprime_wald_upper", got.DPrime+z*got.SE, 1e-12)
		return true
	})
}

// The limits solve the equation that defines them, at other levels and sizes
// than the reference file's. The likelihood here is written out anew.
func TestProfileIntervalSolvesItsEquation(t *testing.T) {
	// R 4.2.2: qchisq(c(.5,.8,.9,.99,.999), 1)
	cuts := map[float64]float64{
		0.5:   0.45493642311957283,
		0.8:   1.6423744151498175,
		0.9:   2.7055434540954142,
		0.99:  6.6348966010212118,
		0.999: 10.827566170662733,
	}
	for name, m := range psychometrics {
		for _, n := range []int{5, 18, 200} {
			for x := 0; x <= n; x += 1 + n/40 {
				loglik := func(d float64) float64 {
					pc := m.PC(d)
					if x == n {
						return float64(n) * math.Log(pc)
					}
					return float64(x)*math.Log(pc) + float64(n-x)*math.Log(m.Miss(d))
				}
				best := 0.0 // at all correct
				if x < n {
					best = loglik(m.DPrime(float64(x) / float64(n)))
				}
				for confidence, cut := range cuts {
					got := m.ProfileInterval(x, n, confidence)
					if hat := m.estimate(x, n); !(got.Lower <= hat && hat <= got.Upper) {
						t.Errorf("%s %d of %d: %v leaves out %v", name, x, n, got, hat)
					}
					if got.Lower > 0 && math.Abs(2*(best-loglik(got.Lower))-cut) > 1e-8 {
						t.Errorf("%s %d of %d: lower %v is not at the cut", name, x, n, got)
					}
					if got.Lower == 0 && 2*(best-loglik(0)) > cut+1e-8 {
						t.Errorf("%s %d of %d: %v holds 0", name, x, n, got)
					}
					if (x == n) != math.IsInf(got.Upper, 1) {
						t.Errorf("%s %d of %d: upper %v", name, x, n, got)
					}
					if x < n && math.Abs(2*(best-loglik(got.Upper))-cut) > 1e-8 {
						t.Errorf("%s %d of %d: upper %v is not at the cut", name, x, n, got)
					}
				}
			}
		}
	}
}

// The doc comment of ProfileInterval states what exact enumeration over x finds
// here. The exact interval beside it never falls short.
func TestDPrimeIntervalCoverage(t *testing.T) {
	worst, worstAmple, sum, points := 1.0, 1.0, 0.0, 0
	for name, m := range psychometrics {
		for _, n := range []int{6, 9, 12, 18, 24, 36, 60} {
			profile, exact := make([]Interval, n+1), make([]Interval, n+1)
			for x := range n + 1 {
				profile[x] = m.ProfileInterval(x, n, 0.95)
				exact[x] = m.DPrimeInterval(x, n, 0.95)
			}
			for d := 0.05; d <= 3; d += 0.05 {
				var covered, coveredExactly float64
				for x := range n + 1 {
					p := PMF(n, x, m.PC(d))
					if profile[x].Lower <= d && d <= profile[x].Upper {
						covered += p
					}
					if exact[x].Lower <= d && d <= exact[x].Upper {
						coveredExactly += p
					}
				}
				if coveredExactly < 0.95 {
					t.Errorf("%s n %d d′ %v: the exact interval covers %v", name, n, d, coveredExactly)
				}
				worst = min(worst, covered)
				if float64(n)*m.Miss(d) >= 5 {
					worstAmple = min(worstAmple, covered)
				}
				sum += covered
				points++
			}
		}
	}
	t.Logf("profile likelihood, 0.95: at least %.4f, where 5 wrong are expected %.4f, on average %.4f",
		worst, worstAmple, sum/float64(points))
	if worst < 0.80 || worstAmple < 0.91 || sum/float64(points) < 0.954 {
		t.Error("the interval covers less than its comment says")
	}
}

// The doc comment of CompareDPrime states what exact enumeration over both
// counts finds here.
func TestCompareDPrimeWorstExcess(t *testing.T) {
	names := []string{"triangle", "2afc", "duotrio", "3afc", "tetrad"}
	stated := map[float64]float64{0.01: 0.023, 0.05: 0.10, 0.1: 0.21}
	statedAmple := map[float64]float64{0.01: 0.014, 0.05: 0.063, 0.1: 0.117}
	worst, worstAmple := map[float64]float64{}, map[float64]float64{}
	for i, first := range names {
		for _, second := range names[i:] {
			for _, sizes := range [][2]int{{10, 10}, {10, 20}, {20, 10}, {20, 20}} {
				a, b, n, m := psychometrics[first], psychometrics[second], sizes[0], sizes[1]
				if a == b && n > m {
					continue // the same as the other way round
				}
				ps := make([][]float64, n+1)
				for x := range ps {
					for y := range m + 1 {
						ps[x] = append(ps[x], CompareDPrime(Outcome{a, n, x}, Outcome{b, m, y}).PValue)
					}
				}
				for d := 0.0; d <= 3; d += 0.25 {
					py := make([]float64, m+1)
					for y := range py {
						py[y] = PMF(m, y, b.PC(d))
					}
					reached := map[float64]float64{}
					for x := range ps {
						px := PMF(n, x, a.PC(d))
						for y, p := range ps[x] {
							for alpha := range stated {
								if p <= alpha {
									reached[alpha] += px * py[y]
								}
							}
						}
					}
					for alpha, p := range reached {
						worst[alpha] = max(worst[alpha], p)
						if float64(n)*a.Miss(d) >= 5 && float64(m)*b.Miss(d) >= 5 {
							worstAmple[alpha] = max(worstAmple[alpha], p)
						}
					}
				}
			}
		}
	}
	t.Logf("P(p ≤ alpha) at most %v; where 5 wrong are expected %v", worst, worstAmple)
	for alpha := range stated {
		if worst[alpha] == 0 || worst[alpha] > stated[alpha] || worstAmple[alpha] > statedAmple[alpha] {
			t.Errorf("P(p ≤ %v) reaches %v and %v, the comment says %v and %v", alpha,
				worst[alpha], worstAmple[alpha], stated[alpha], statedAmple[alpha])
		}
	}
}

// R 4.2.2: each pc by integrate(), the common d′ by optimize() of the sum of
// the two dbinom(log=TRUE), the p-value by pchisq(). optimize() finds the d′ to
// about 8 digits.
func TestCompareDPrimeAgainstR(t *testing.T) {
	for _, c := range []struct {
		first, second      Outcome
		common, lr, pValue float64
	}{
		{Outcome{Triangle, 30, 15}, Outcome{ThreeAFC, 30, 24}, 1.588570233, 0.1021300454, 0.7492883164},
		{Outcome{Triangle, 60, 30}, Outcome{PairedComparison, 40, 26}, 0.8513077127, 3.765700254, 0.05231394891},
		{Outcome{DuoTrio, 40, 22}, Outcome{Tetrad, 48, 33}, 1.47543555, 2.654496935, 0.1032574194},
		{Outcome{PairedComparison, 12, 12}, Outcome{Triangle, 24, 10}, 1.599517491, 4.460966055, 0.03467788021},
		{Outcome{Triangle, 24, 5}, Outcome{DuoTrio, 40, 30}, 1.142759313, 7.684163336, 0.005570750043},
		{Outcome{Tetrad, 36, 20}, Outcome{Tetrad, 36, 30}, 1.684774278, 6.730112094, 0.009479864227},
		{Outcome{PairedComparison, 100, 70}, Outcome{PairedComparison, 100, 55}, 0.4506241033, 4.824672109, 0.02805520096},
	} {
		got := CompareDPrime(c.first, c.second)
		if !agrees(got.Common, c.common, 1e-7) || !agrees(got.LR, c.lr, 1e-8) || !agrees(got.PValue, c.pValue, 1e-8) {
			t.Errorf("%v against %v: common %.10g, LR %.10g, p %.10g, want %v, %v, %v",
				c.first, c.second, got.Common, got.LR, got.PValue, c.common, c.lr, c.pValue)
		}
		back := CompareDPrime(c.second, c.first)
		if !agrees(back.LR, got.LR, 1e-11) || back.FirstDPrime != got.SecondDPrime {
			t.Errorf("%v against %v: not the same the other way round: %+v", c.first, c.second, back)
		}
	}
}

// The common d′ leaves no more of the likelihood than any other. Among the
// counts are some that pull against each other near 0, where the likelihoods
// are level.
func TestCommonDPrimeIsTheBest(t *testing.T) {
	const step, points = 0.02, 400
	along := func(o Outcome) (lacks [points]float64) {
		for i := range lacks {
			lacks[i] = o.lack(step * float64(i))
		}
		return lacks
	}
	counts := [][2]int{{9, 7}, {30, 21}, {30, 30}, {40, 12}, {300, 90}, {300, 99}, {300, 110}, {300, 155}, {300, 200}}
	for first, m := range psychometrics {
		for second, o := range psychometrics {
			if first >= second {
				continue
			}
			var others [][points]float64
			for _, c := range counts {
				others = append(others, along(Outcome{o, c[0], c[1]}))
			}
			for _, c := range counts {
				a := Outcome{m, c[0], c[1]}
				lacks := along(a)
				for j, c := range counts {
					b := Outcome{o, c[0], c[1]}
					got := CompareDPrime(a, b)
					own := a.lack(got.FirstDPrime) + b.lack(got.SecondDPrime)
					for i := range lacks {
						if lack := lacks[i] + others[j][i] - own; lack < got.LR-1e-9 {
							t.Errorf("%s %v and %s %v: LR %v at %v, but %v at %v", first, a, second, b, got.LR, got.Common, lack, step*float64(i))
							break
						}
					}
				}
			}
		}
	}
}

func TestCompareDPrimeAtTheEdges(t *testing.T) {
	for name, m := range psychometrics {
		for other, o := range psychometrics {
			all := CompareDPrime(Outcome{m, 12, 12}, Outcome{o, 30, 30})
			if all.LR != 0 || all.PValue != 1 || !math.IsInf(all.Common, 1) {
				t.Errorf("%s and %s all correct: %+v", name, other, all)
			}
			none := CompareDPrime(Outcome{m, 12, 0}, Outcome{o, 30, 3})
			if none.LR != 0 || none.PValue != 1 || none.Common != 0 || len(none.Warnings) == 0 {
				t.Errorf("%s and %s below chance: %+v", name, other, none)
			}
			far := CompareDPrime(Outcome{m, 40, 3}, Outcome{o, 40, 40})
			if !(far.PValue < 1e-5) || math.IsInf(far.LR, 0) || math.IsNaN(far.Common) {
				t.Errorf("%s at chance and %s all correct: %+v", name, other, far)
			}
		}
	}
}

func TestEstimateWarnings(t *testing.T) {
	for _, c := range []struct {
		n, x int
		want []WarningKind
	}{
		{30, 15, nil},
		{30, 10, []WarningKind{DPrimeAtChance}},
		{12, 0, []WarningKind{DPrimeAtChance, DPrimeRough}},
		{30, 30, []WarningKind{DPrimeUnbounded}},
		{30, 27, []WarningKind{DPrimeRough}},
		{1, 1, []WarningKind{DPrimeUnbounded}},
		{1, 0, []WarningKind{DPrimeAtChance, DPrimeRough}},
	} {
		checkKinds(t, c.x, Triangle.Estimate(c.x, c.n, 0.95).Warnings, c.want)
	}
}

// checkKinds fails unless the warnings are of these kinds and each says a
// sentence.
func checkKinds(t *testing.T, of any, got []Warning, want []WarningKind) {
	t.Helper()
	var kinds []WarningKind
	for _, w := range got {
		kinds = append(kinds, w.Kind)
		if !strings.HasSuffix(w.Say, ".") || strings.Contains(w.Say, "%!") {
			t.Errorf("%v: warning %q", of, w.Say)
		}
	}
	if !slices.Equal(kinds, want) {
		t.Errorf("%v: warnings %v, want %v", of, kinds, want)
	}
}

func TestDPrimeEstimatePanics(t *testing.T) {
	bad := map[string]func(){
		"x above n":      func() { Triangle.Estimate(6, 5, 0.95) },
		"n 0":            func() { Triangle.StandardError(0, 0) },
		"confidence 1":   func() { Triangle.ProfileInterval(2, 5, 1) },
		"confidence NaN": func() { Triangle.ProfileInterval(2, 5, math.NaN()) },
		"zero method":    func() { CompareDPrime(Outcome{N: 5}, Outcome{Triangle, 5, 3}) },
		"negative count": func() { CompareDPrime(Outcome{Triangle, 5, -1}, Outcome{Triangle, 5, 3}) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkProfileInterval(b *testing.B) {
	for b.Loop() {
		Triangle.ProfileInterval(15, 30, 0.95)
	}
}

func BenchmarkCompareDPrime(b *testing.B) {
	for b.Loop() {
		CompareDPrime(Outcome{Triangle, 60, 30}, Outcome{PairedComparison, 40, 26})
	}
}
