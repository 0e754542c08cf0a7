package stats

import (
	"math"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// warned holds warnings against the kinds wanted, and each against what every
// sentence for people must be.
func warned(t *testing.T, name string, got []Warning, want ...WarningKind) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: warnings %v, want %v", name, got, want)
		return
	}
	for i, w := range got {
		if w.Kind != want[i] {
			t.Errorf("%s: warning %q, want %q", name, w.Kind, want[i])
		}
		first, _ := utf8.DecodeRuneInString(w.Say)
		if !unicode.IsUpper(first) && !unicode.IsDigit(first) || !strings.HasSuffix(w.Say, ".") {
			t.Errorf("%s: %q is no sentence", name, w.Say)
		}
	}
}

func TestAdviceForDifference(t *testing.T) {
	tests := []struct {
		name          string
		n             int
		chance, alpha float64
		sided         Sided
		want          []WarningKind
		say           string
	}{
		{"two triangles", 2, 1.0 / 3, 0.05, OneSided, []WarningKind{NothingSignificant},
			"No result of 2 answers can be significant at 0.05; it takes at least 3 answers."},
		{"one answer", 1, 1.0 / 2, 0.05, TwoSided, []WarningKind{NothingSignificant},
			"No result of 1 answer can be significant at 0.05; it takes at least 6 answers."},
		{"five pairs, two-sided", 5, 1.0 / 2, 0.05, TwoSided, []WarningKind{NothingSignificant}, ""},
		{"five pairs, one-sided", 5, 1.0 / 2, 0.05, OneSided, []WarningKind{OnlyLargeDifferences}, ""},
		{"hopeless chance", 5, 1 - 1e-12, 0.05, OneSided, []WarningKind{NothingSignificant},
			"No result of 5 answers can be significant at 0.05."},
		// Power 0.8 at pd 0.79: see TestDetectableAgainstR.
		{"six triangles", 6, 1.0 / 3, 0.05, OneSided, []WarningKind{OnlyLargeDifferences},
			"With 6 answers only a large difference is found with probability 0.8: one that 80 in 100 assessors perceive."},
		// ISO 4120 wants 16 for alpha 0.05, beta 0.2 and pd 0.5 (from memory).
		{"15 triangles", 15, 1.0 / 3, 0.05, OneSided, []WarningKind{OnlyLargeDifferences}, ""},
		{"16 triangles", 16, 1.0 / 3, 0.05, OneSided, nil, ""},
		{"60 triangles", 60, 1.0 / 3, 0.05, OneSided, nil, ""},
	}
	for _, tt := range tests {
		got := AdviceForDifference(tt.n, tt.chance, tt.alpha, tt.sided)
		warned(t, tt.name, got, tt.want...)
		if tt.say != "" && (len(got) != 1 || got[0].Say != tt.say) {
			t.Errorf("%s: %v, want %q", tt.name, got, tt.say)
		}
	}
	// The advice and the critical count agree wherever they meet.
	for n := 1; n <= 40; n++ {
		for _, chance := range []float64{1.0 / 10, 1.0 / 3, 1.0 / 2} {
			for _, alpha := range []float64{0.5, 0.1, 0.05, 0.01, 0.001} {
				_, ok := MinCorrect(n, chance, alpha)
				advice := AdviceForDifference(n, chance, alpha, OneSided)
				if said := len(advice) > 0 && advice[0].Kind == NothingSignificant; said == ok {
					t.Errorf("n %d, chance %v, alpha %v: %v, but MinCorrect is %v", n, chance, alpha, advice, ok)
				}
				least := leastSignificant(chance, alpha, OneSided)
				if ok != (n >= least) {
					t.Errorf("n %d, chance %v, alpha %v: least %d, but MinCorrect is %v", n, chance, alpha, least, ok)
				}
			}
		}
	}
}

func TestAdviceForSimilarity(t *testing.T) {
	tests := []struct {
		name             string
		n                int
		chance, beta, pd float64
		want             []WarningKind
	}{
		{"few", 29, 1.0 / 3, 0.05, 0.5, []WarningKind{FewForSimilarity}},
		{"thirty", 30, 1.0 / 3, 0.05, 0.5, nil},
		// Below n/3: "no conclusion" in a table of the maximum correct.
		{"no conclusion", 30, 1.0 / 3, 0.05, 0.2, []WarningKind{NoConclusion}},
		{"few and no conclusion", 12, 1.0 / 3, 0.05, 0.2, []WarningKind{FewForSimilarity, NoConclusion}},
		// R 4.2.2: the maximum is 15, and pbinom(15, 30, 1/2) is 0.572.
		{"hard to pass", 30, 1.0 / 2, 0.1, 0.3, []WarningKind{IdenticalOftenFail}},
		{"one", 1, 1.0 / 2, 0.05, 0.3, []WarningKind{FewForSimilarity, NoConclusion}},
	}
	for _, tt := range tests {
		warned(t, tt.name, AdviceForSimilarity(tt.n, tt.chance, tt.beta, tt.pd), tt.want...)
	}
	if got := AdviceForSimilarity(30, 1.0/2, 0.1, 0.3); len(got) != 1 || got[0].Say != "Even identical products would pass with probability 0.57 only." {
		t.Errorf("hard to pass: %v", got)
	}
	got := AdviceForSimilarity(29, 1.0/3, 0.05, 0.5)
	if want := "Fewer than 30 assessors: similarity is not advised."; len(got) != 1 || got[0].Say != want {
		t.Errorf("%v, want %q", got, want)
	}
}

func TestAdviceForCount(t *testing.T) {
	// R 4.2.2: qbinom(0.05, 30, 1/3) is 6, so 5 and fewer are rarer than 0.05.
	warned(t, "5 of 30", AdviceForCount(30, 5, 1.0/3), FarBelowChance)
	warned(t, "6 of 30", AdviceForCount(30, 6, 1.0/3))
	warned(t, "30 of 30", AdviceForCount(30, 30, 1.0/3))
	warned(t, "0 of 1", AdviceForCount(1, 0, 1.0/3))
}

func TestAdvicePanics(t *testing.T) {
	bad := map[string]func(){
		"n 0":       func() { AdviceForDifference(0, 0.5, 0.05, OneSided) },
		"alpha 1":   func() { AdviceForDifference(5, 0.5, 1, OneSided) },
		"chance 0":  func() { AdviceForSimilarity(5, 0, 0.05, 0.3) },
		"pd NaN":    func() { AdviceForSimilarity(5, 0.5, 0.05, math.NaN()) },
		"x above n": func() { AdviceForCount(5, 6, 0.5) },
	}
	for name, f := range bad {
		if !panics(f) {
			t.Errorf("%s did not panic", name)
		}
	}
}

func BenchmarkAdviceForDifference(b *testing.B) {
	for b.Loop() {
		AdviceForDifference(24, 1.0/3, 0.05, OneSided)
	}
}
