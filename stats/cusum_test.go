package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestDriftRunLengthReference(t *testing.T) {
	eachRecord(t, judgesFolder+"drift_run_lengths.csv", 32, func(r record) bool {
		mix := []DriftMix{{DriftSet(r.float("p0"), r.float("p1")), 1}}
		got := DriftRunLength(mix, r.float("limit"))
		r.near("in_control", got.InControl, 1e-7)
		r.near("drifted", got.Drifted, 1e-7)
		return true
	})
	eachRecord(t, judgesFolder+"drift_limits.csv", 4, func(r record) bool {
		mix := []DriftMix{{DriftSet(r.float("p0"), r.float("p1")), 1}}
		got, ok := DriftLimit(mix, r.float("wanted"))
		r.close("limit", got.Limit, 1e-9)
		return ok
	})
	eachRecord(t, judgesFolder+"drift_series.csv", 5, func(r record) bool {
		var trials []DriftTrial
		p1 := r.floats("p1")
		for i, p0 := range r.floats("p0") {
			trials = append(trials, DriftSet(p0, p1[i]))
		}
		r.close("false_alarm", FalseDrift(trials, r.float("limit")), 1e-12)
		return true
	})
}

// A walk of one step up with probability q and one down with probability p, held at
// 0 and ended at H, has the mean length
//
//	H/(q-p) - p/(q-p)² (1 - (p/q)^H)      H (H+1) where p = q
//
// from 0 (W. Feller, An Introduction to Probability Theory, ruin problems; from
// memory; a fall at 0 stays there).
func TestMeanRunOfFeller(t *testing.T) {
	for _, q := range []float64{0.3, 0.45, 0.5, 0.55, 0.8} {
		for _, h := range []int{1, 2, 5, 12} {
			p := 1 - q
			want := float64(h * (h + 1))
			if p != q {
				want = float64(h)/(q-p) - p/sq(q-p)*(1-math.Pow(p/q, float64(h)))
			}
			if got := meanRun([]driftStep{{1, q}, {-1, p}}, h); !agrees(got, want, 1e-8) {
				t.Errorf("q %v to %d: %v, want %v", q, h, got, want)
			}
		}
	}
}

// A mix by simulation with a fixed seed: within 4 standard errors.
func TestDriftRunLengthOfMix(t *testing.T) {
	mix := []DriftMix{{DriftSet(0.9, 0.6), 0.3}, {DriftSet(0.7, 0.5), 0.5}, {DriftSet(0.45, 0.4), 0.2}}
	run := DriftRunLength(mix, 2)
	rng := rand.New(rand.NewPCG(5, 5))
	const runs = 4000
	var sum, square float64
	for range runs {
		n, s := 0.0, 0.0
		for s < 2-1e-9 {
			n++
			m := mix[2]
			if u := rng.Float64(); u < 0.3 {
				m = mix[0]
			} else if u < 0.8 {
				m = mix[1]
			}
			x := 0
			if rng.Float64() < m.InControl[1] {
				x = 1
			}
			s = max(0, s+math.Round(100*math.Log(m.Drifted[x]/m.InControl[x]))/100)
		}
		sum += n
		square += n * n
	}
	mean := sum / runs
	if se := math.Sqrt((square/runs - mean*mean) / runs); math.Abs(mean-run.InControl) > 4*se {
		t.Errorf("simulated %v ± %v, computed %v", mean, se, run.InControl)
	}
}

func TestFollowDrift(t *testing.T) {
	trial := DriftSet(0.8, 0.5) // -0.47 right, 0.92 wrong
	trials := []DriftTrial{trial, trial, trial, trial, trial, trial}
	chart := FollowDrift(trials, []int{1, 0, 1, 0, 0, 0}, 1.5)
	for i, want := range []float64{0, 0.92, 0.45, 1.37, 2.29, 0.92} {
		p := chart.Points[i]
		if math.Abs(p.Sum-want) > 1e-9 || p.Signal != (i == 4) || p.Expected != 0.8 || p.N != 1 {
			t.Errorf("point %d: %+v, want %v", i, p, want)
		}
	}
	if chart.FirstSignal != 4 || chart.FalseAlarm != FalseDrift(trials, 1.5) {
		t.Errorf("%+v", chart)
	}
	if c := FollowDrift(nil, nil, 2); c.FirstSignal != -1 || c.FalseAlarm != 0 {
		t.Errorf("no trials: %+v", c)
	}
}

// Signals of the newest trials, by all 2^n courses of a chart that begins at 0 again
// after each.
func TestFalseDriftFrom(t *testing.T) {
	var trials []DriftTrial
	for i := range 14 {
		p0 := 0.5 + 0.4*float64(i%5)/4
		trials = append(trials, DriftSet(p0, p0-0.25))
	}
	const limit = 1.2
	for _, from := range []int{0, 5, 9, 13, 14} {
		want := 0.0
		for course := range 1 << len(trials) {
			p, correct := 1.0, make([]int, len(trials))
			for i, trial := range trials {
				correct[i] = course >> i & 1
				p *= trial.InControl[correct[i]]
			}
			sum, signal := 0.0, false
			for i, trial := range trials {
				x := correct[i]
				if sum = max(0, sum+math.Round(100*math.Log(trial.Drifted[x]/trial.InControl[x]))/100); sum >= limit-1e-9 {
					sum, signal = 0, signal || i >= from
				}
			}
			if signal {
				want += p
			}
		}
		if got := FalseDriftFrom(trials, limit, from); math.Abs(got-want) > 1e-12 {
			t.Errorf("from %d: %v, want %v", from, got, want)
		}
	}
}

// The smallest limit within the risk, by trying the one below.
func TestDriftLimitFor(t *testing.T) {
	var trials []DriftTrial
	for i := range 40 {
		p0 := 0.5 + 0.4*float64(i%7)/6
		trials = append(trials, DriftSet(p0, p0-0.2))
	}
	for _, risk := range []float64{0.3, 0.05, 0.001} {
		limit := DriftLimitFor(trials, risk)
		if FalseDrift(trials, limit) > risk || FalseDrift(trials, limit-0.01) <= risk {
			t.Errorf("risk %v: limit %v", risk, limit)
		}
	}
}

func TestDriftExtremes(t *testing.T) {
	mix := []DriftMix{{DriftSet(0.8, 0.5), 1}}
	if _, ok := DriftLimit([]DriftMix{{DriftTrial{[]float64{0, 1}, []float64{0.5, 0.5}}, 1}}, 100); !ok {
		t.Error("a judge who is never wrong in control needs a limit, any will do")
	}
	if r := DriftRunLength(mix, 40); !math.IsInf(r.InControl, 1) || math.IsInf(r.Drifted, 1) {
		t.Errorf("at the highest limit: %+v", r)
	}
	for name, f := range map[string]func(){
		"p1":       func() { DriftSet(0.5, 0.5) },
		"p0":       func() { DriftSet(1, 0.5) },
		"limit":    func() { FollowDrift(nil, nil, 0) },
		"high":     func() { FalseDrift(nil, 41) },
		"from":     func() { FalseDriftFrom([]DriftTrial{DriftSet(0.5, 0.4)}, 1, 3) },
		"before":   func() { FalseDriftFrom([]DriftTrial{DriftSet(0.5, 0.4)}, 1, -1) },
		"counts":   func() { FollowDrift([]DriftTrial{DriftSet(0.5, 0.4)}, nil, 1) },
		"correct":  func() { FollowDrift([]DriftTrial{DriftSet(0.5, 0.4)}, []int{2}, 1) },
		"lengths":  func() { FalseDrift([]DriftTrial{{[]float64{1}, []float64{1}}}, 1) },
		"sum":      func() { FalseDrift([]DriftTrial{{[]float64{1, 1}, []float64{0.5, 0.5}}}, 1) },
		"shares":   func() { DriftRunLength([]DriftMix{{DriftSet(0.5, 0.4), 0.5}}, 1) },
		"wanted":   func() { DriftLimit(mix, 0.5) },
		"risk":     func() { DriftLimitFor(nil, 0) },
		"negative": func() { DriftRunLength([]DriftMix{{DriftSet(0.5, 0.4), -1}, {DriftSet(0.5, 0.4), 2}}, 1) },
	} {
		if !panics(f) {
			t.Errorf("%s: no panic", name)
		}
	}
}
