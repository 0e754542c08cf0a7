package stats

import "math"

// BetaBinomial is a model of replicates: each assessor has a probability of
// being correct of their own, drawn once and kept for all of the assessor's
// evaluations. With C for Chance,
//
//	pc = C + (1 - C) π,   π ~ Beta(a, b),
//	a = Mu (1/Gamma - 1), b = (1 - Mu) (1/Gamma - 1)
//
// Chance 0 is the plain beta-binomial model, with pc itself drawn. Any other
// makes it the chance-corrected one: nobody is worse than a guesser, and Mu is
// the mean of the assessors' own pd.
//
// Mu, from 0 to 1, is the mean of π. Gamma, from 0 to 1, is the overdispersion:
// the correlation of two answers of one assessor in the plain model. At 0 all
// assessors are alike and the count is binomial; at 1 there are two classes,
// π = 1 with probability Mu and π = 0 for the others.
//
// The model is that of the trade's literature on replicated discrimination
// tests, in the parametrisation of its lecture notes (from memory).
type BetaBinomial struct {
	Chance, Mu, Gamma float64
}

// LogPMF returns the natural logarithm of the probability that an assessor has
// x of n replicates correct, -Inf where that is 0:
//
//	P(x) = Σ_k Bin(k; n, C) BB(x-k; n-k),   k = 0 … x answers guessed right
//	BB(i; m) = C(m,i) Π_{j<i} (μδ + jγ) Π_{j<m-i} ((1-μ)δ + jγ) / Π_{j<m} (δ + jγ)
//
// with μ = Mu, γ = Gamma, δ = 1 - γ, and k = 0 only where Chance is 0. The
// products keep their digits for a small γ, where gamma functions would cancel
// and show an optimum that isn't there. The error is below 1e-13, absolutely,
// for n up to 20, and below 1e-11 for n up to 1000.
//
// It panics unless n ≥ 1, 0 ≤ x ≤ n, Mu and Gamma lie in [0, 1] and
// 0 ≤ Chance < 1.
func (b BetaBinomial) LogPMF(n, x int) float64 {
	checkCount(n, x)
	b.check()
	return tally{groups: []group{newGroup(n, x, 1, b.Chance)}, chance: b.Chance, most: n}.
		loglik(b.Mu, 1-b.Mu, b.Gamma, 1-b.Gamma)
}

// LogLikelihood returns the sum of [BetaBinomial.LogPMF] over assessors.
//
// It panics as LogPMF does.
func (b BetaBinomial) LogLikelihood(assessors []Replicates) float64 {
	b.check()
	return newTally(assessors, b.Chance).loglik(b.Mu, 1-b.Mu, b.Gamma, 1-b.Gamma)
}

func (b BetaBinomial) check() {
	checkChance(b.Chance)
	checkProbability("mu", b.Mu)
	checkProbability("gamma", b.Gamma)
}

// Replicates is what one assessor did: Correct of N evaluations of the same
// comparison.
type Replicates struct {
	N, Correct int
}

// group is a number of assessors with the same count.
type group struct {
	n, x int
	many float64

	// weight[k] is ln Bin(k; n, C) + ln C(n-k, x-k): what the beta-binomial part
	// for k answers guessed right is multiplied by.
	weight []float64
}

func newGroup(n, x, many int, chance float64) group {
	g := group{n: n, x: x, many: float64(many)}
	for k := range x + 1 {
		g.weight = append(g.weight, LogPMF(n, k, chance)+logChoose(n-k, x-k))
		if chance == 0 {
			break
		}
	}
	return g
}

// logChoose returns ln C(n, k), also for n = 0.
func logChoose(n, k int) float64 {
	if n == 0 {
		return 0
	}
	return LogPMF(n, k, 0.5) + float64(n)*math.Ln2
}

// tally is the data of a fit: the assessors by count.
type tally struct {
	groups     []group
	chance     float64
	most       int // the largest n
	assessors  int
	n, correct int
}

func newTally(assessors []Replicates, chance float64) tally {
	checkChance(chance)
	if len(assessors) == 0 {
		panic("stats: replicates of no assessor")
	}
	t := tally{chance: chance, assessors: len(assessors)}
	seen := map[Replicates]int{}
	var order []Replicates // of first appearance, so that sums are the same in every run
	for _, a := range assessors {
		checkCount(a.N, a.Correct)
		if seen[a] == 0 {
			order = append(order, a)
		}
		seen[a]++
		t.most = max(t.most, a.N)
		t.n += a.N
		t.correct += a.Correct
	}
	for _, a := range order {
		t.groups = append(t.groups, newGroup(a.N, a.Correct, seen[a], chance))
	}
	return t
}

// loglik returns the log-likelihood at μ = mu and γ = gamma; nu and delta are
// 1 - mu and 1 - gamma, apart so that they keep their digits near 0.
func (t tally) loglik(mu, nu, gamma, delta float64) float64 {
	if delta == 0 || mu == 0 || nu == 0 {
		return t.classes(mu, nu)
	}
	up, down, all := make([]float64, t.most+1), make([]float64, t.most+1), make([]float64, t.most+1)
	for j := range t.most {
		more := float64(j) * gamma
		up[j+1] = up[j] + math.Log(mu*delta+more)
		down[j+1] = down[j] + math.Log(nu*delta+more)
		all[j+1] = all[j] + math.Log(delta+more)
	}
	var sum float64
	for _, g := range t.groups {
		var mix mixture
		for k, w := range g.weight {
			mix.add(w + up[g.x-k] + down[g.n-g.x] - all[g.n-k])
		}
		sum += g.many * mix.log()
	}
	return sum
}

// classes returns the log-likelihood at a bound of the model: in two classes of
// assessors, those always right and those who guess, or where all are of one
// kind.
func (t tally) classes(mu, nu float64) float64 {
	var sum float64
	for _, g := range t.groups {
		p := nu * PMF(g.n, g.x, t.chance)
		if g.x == g.n {
			p += mu
		}
		sum += g.many * math.Log(p)
	}
	return sum
}

// mixture adds up probabilities given as logarithms.
type mixture struct {
	top, sum float64
}

func (m *mixture) add(log float64) {
	switch {
	case math.IsInf(log, -1):
	case m.sum == 0:
		m.top, m.sum = log, 1
	case log <= m.top:
		m.sum += math.Exp(log - m.top)
	default:
		m.top, m.sum = log, 1+m.sum*math.Exp(m.top-log)
	}
}

func (m *mixture) log() float64 {
	return m.top + math.Log(m.sum)
}

// ridge is the logarithm of one factor of the products in [BetaBinomial.LogPMF],
// or of a product of them, with its derivatives by the logits of μ and γ.
type ridge struct {
	log   float64
	slope [2]float64
	bend  [3]float64
}

// factor returns ln t from t and its derivatives.
func factor(t float64, slope [2]float64, bend [3]float64) ridge {
	s := [2]float64{slope[0] / t, slope[1] / t}
	return ridge{math.Log(t), s, [3]float64{
		bend[0]/t - s[0]*s[0],
		bend[1]/t - s[0]*s[1],
		bend[2]/t - s[1]*s[1],
	}}
}

func (r ridge) plus(o ridge, sign float64) ridge {
	r.log += sign * o.log
	for i := range r.slope {
		r.slope[i] += sign * o.slope[i]
	}
	for i := range r.bend {
		r.bend[i] += sign * o.bend[i]
	}
	return r
}

// summit returns the log-likelihood with its derivatives by the logits of μ and
// γ, at logits in (-∞, ∞).
func (t tally) summit(at [2]float64) summit {
	mu, nu := logistic(at[0]), logistic(-at[0])
	gamma, delta := logistic(at[1]), logistic(-at[1])
	m, c := mu*nu, gamma*delta // the derivatives of μ and γ by their logits
	mm, cc := m*(nu-mu), c*(delta-gamma)
	up, down, all := make([]ridge, t.most+1), make([]ridge, t.most+1), make([]ridge, t.most+1)
	for i := range t.most {
		j := float64(i)
		more := j * gamma
		up[i+1] = up[i].plus(factor(mu*delta+more,
			[2]float64{m * delta, c * (j - mu)}, [3]float64{mm * delta, -m * c, cc * (j - mu)}), 1)
		down[i+1] = down[i].plus(factor(nu*delta+more,
			[2]float64{-m * delta, c * (j - nu)}, [3]float64{-mm * delta, m * c, cc * (j - nu)}), 1)
		all[i+1] = all[i].plus(factor(delta+more,
			[2]float64{0, c * (j - 1)}, [3]float64{0, 0, cc * (j - 1)}), 1)
	}
	var sum summit
	for _, g := range t.groups {
		parts := make([]ridge, len(g.weight))
		var mix mixture
		for k, w := range g.weight {
			parts[k] = up[g.x-k].plus(down[g.n-g.x], 1).plus(all[g.n-k], -1)
			parts[k].log += w
			mix.add(parts[k].log)
		}
		total := mix.log()
		var slope [2]float64
		var bend [3]float64
		for _, p := range parts {
			share := math.Exp(p.log - total)
			s := p.slope
			for i := range slope {
				slope[i] += share * s[i]
			}
			for i, product := range [3]float64{s[0] * s[0], s[0] * s[1], s[1] * s[1]} {
				bend[i] += share * (p.bend[i] + product)
			}
		}
		sum.value += g.many * total
		for i := range slope {
			sum.slope[i] += g.many * slope[i]
		}
		for i, product := range [3]float64{slope[0] * slope[0], slope[0] * slope[1], slope[1] * slope[1]} {
			sum.bend[i] += g.many * (bend[i] - product)
		}
	}
	return sum
}

func logistic(x float64) float64 {
	return 1 / (1 + math.Exp(-x))
}

func logit(p float64) float64 {
	return math.Log(p / (1 - p))
}
