package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// panel is one result of a whole panel: how many assessors had 0, 1, … correct.
type panel []int

// eachPanel calls visit for every result of so many assessors with so many
// replicates each, in a slice that it uses again.
func eachPanel(assessors, replicates int, visit func(panel)) {
	counts := make(panel, replicates+1)
	var fill func(x, left int)
	fill = func(x, left int) {
		if x == replicates {
			counts[x] = left
			visit(counts)
			return
		}
		for k := 0; k <= left; k++ {
			counts[x] = k
			fill(x+1, left-k)
		}
	}
	fill(0, assessors)
}

// replicates spells a panel out.
func (p panel) replicates() []Replicates {
	var list []Replicates
	for x, many := range p {
		for range many {
			list = append(list, Replicates{len(p) - 1, x})
		}
	}
	return list
}

// probability is multinomial, each assessor's count as b has it.
func (p panel) probability(b BetaBinomial) float64 {
	sum, total := 0.0, 0
	for x, many := range p {
		total += many
		if many > 0 {
			l, _ := math.Lgamma(float64(many + 1))
			sum += float64(many)*b.LogPMF(len(p)-1, x) - l
		}
	}
	l, _ := math.Lgamma(float64(total + 1))
	return math.Exp(sum + l)
}

// The doc comment of FitBetaBinomial states what exact enumeration of every
// panel finds here.
func TestOverdispersionWorstExcess(t *testing.T) {
	stated := map[float64]float64{0.01: 0.020, 0.05: 0.045, 0.1: 0.117}
	worst := map[float64]float64{}
	fewest, most := 1.0, 0.0 // how often LR is 0
	for _, chance := range []float64{0, 1.0 / 3} {
		for _, size := range [][2]int{{8, 2}, {15, 2}, {12, 3}, {8, 4}} {
			type found struct {
				total, none float64
				reached     map[float64]float64
			}
			truths := map[BetaBinomial]*found{}
			for _, mu := range []float64{0, 0.1, 0.25, 0.4, 0.6, 0.75, 0.9} {
				if chance+mu > 0 { // else there is nothing but wrong answers
					truths[BetaBinomial{chance, mu, 0}] = &found{reached: map[float64]float64{}}
				}
			}
			eachPanel(size[0], size[1], func(p panel) {
				f := newTally(p.replicates(), chance).fit()
				for b, truth := range truths {
					probability := p.probability(b)
					truth.total += probability
					if f.LR == 0 {
						truth.none += probability
					}
					for alpha := range stated {
						if f.PValue <= alpha {
							truth.reached[alpha] += probability
						}
					}
				}
			})
			for b, truth := range truths {
				if !agrees(truth.total, 1, 1e-11) {
					t.Fatalf("%+v, %v: probabilities add up to %v", b, size, truth.total)
				}
				fewest, most = min(fewest, truth.none), max(most, truth.none)
				for alpha, p := range truth.reached {
					worst[alpha] = max(worst[alpha], p)
				}
			}
		}
	}
	t.Logf("P(p ≤ alpha) at most %v; LR = 0 has probability %.3f to %.3f", worst, fewest, most)
	for alpha, bound := range stated {
		if worst[alpha] == 0 || worst[alpha] > bound {
			t.Errorf("P(p ≤ %v) reaches %v, the comment says %v", alpha, worst[alpha], bound)
		}
	}
	if fewest < 0.56 || most > 0.97 {
		t.Errorf("P(LR = 0) is %v to %v, the comment says 0.56 to 0.97", fewest, most)
	}
}

// The doc comment of FitBetaBinomial states what is found here, too.
func TestBetaBinomialCoverage(t *testing.T) {
	worstMu, worstGamma := 1.0, 1.0
	for _, chance := range []float64{0, 1.0 / 3} {
		for _, assessors := range []int{8, 12} {
			type covered struct{ mu, gamma float64 }
			truths := map[BetaBinomial]*covered{}
			for _, mu := range []float64{0.2, 0.4, 0.7} {
				for _, gamma := range []float64{0, 0.1, 0.3, 0.7} {
					truths[BetaBinomial{chance, mu, gamma}] = &covered{}
				}
			}
			eachPanel(assessors, 3, func(p panel) {
				f := FitBetaBinomial(p.replicates(), chance, 0.95)
				for b, c := range truths {
					probability := p.probability(b)
					if f.MuInterval.Lower <= b.Mu && b.Mu <= f.MuInterval.Upper {
						c.mu += probability
					}
					if f.GammaInterval.Lower <= b.Gamma && b.Gamma <= f.GammaInterval.Upper {
						c.gamma += probability
					}
				}
			})
			for _, c := range truths {
				worstMu, worstGamma = min(worstMu, c.mu), min(worstGamma, c.gamma)
			}
		}
	}
	t.Logf("0.95 covers Mu at least %.4f and Gamma at least %.4f", worstMu, worstGamma)
	if worstMu < 0.911 || worstGamma < 0.906 {
		t.Error("an interval covers less than its comment says")
	}
}

// No point of a fine grid over both parameters beats the fit, for random panels
// and for every panel of a small size.
func TestFitBetaBinomialIsTheMaximum(t *testing.T) {
	const seed = 20260214
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	var panels [][]Replicates
	eachPanel(5, 3, func(p panel) { panels = append(panels, p.replicates()) })
	for range 60 {
		var list []Replicates
		for range 2 + rng.IntN(20) {
			n := 1 + rng.IntN(7)
			list = append(list, Replicates{n, rng.IntN(n + 1)})
		}
		panels = append(panels, list)
	}
	for _, data := range panels {
		for _, chance := range []float64{0, 1.0 / 3, 0.5} {
			f := FitBetaBinomial(data, chance, 0.9)
			if f.LR < 0 || !(f.PValue > 0 && f.PValue <= 1) {
				t.Errorf("%v chance %v: LR %v, p %v", data, chance, f.LR, f.PValue)
			}
			if f.MuInterval.Lower > f.Mu || f.MuInterval.Upper < f.Mu ||
				f.GammaInterval.Lower > f.Gamma || f.GammaInterval.Upper < f.Gamma {
				t.Errorf("%v chance %v: intervals %v, %v leave the estimates %v, %v out",
					data, chance, f.MuInterval, f.GammaInterval, f.Mu, f.Gamma)
			}
			if gamma := f.Gamma; !math.IsNaN(gamma) {
				at := BetaBinomial{chance, f.Mu, gamma}.LogLikelihood(data)
				if math.Abs(at-f.LogLikelihood) > 1e-10 {
					t.Errorf("%v chance %v: log-likelihood %v at the estimates, said to be %v", data, chance, at, f.LogLikelihood)
				}
			}
			tally := newTally(data, chance)
			for i := range 21 {
				for j := range 21 {
					mu, gamma := float64(i)/20, float64(j)/20
					if v := tally.loglik(mu, 1-mu, gamma, 1-gamma); v > f.LogLikelihood+2e-9 {
						t.Errorf("%v chance %v: %v at mu %v gamma %v beats the fit %+v", data, chance, v, mu, gamma, f)
					}
				}
			}
		}
	}
}
