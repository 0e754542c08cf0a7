package session

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"oddcup/stats"
)

// test is the part of one test: objective, result and conclusion first, then what
// they rest on.
func (w *reporter) test(i int) ReportPart {
	t := &w.res.Tests[i]
	p := ReportPart{Key: fmt.Sprintf("test-%d", i+1), Title: fmt.Sprintf("Test %d, %s", t.Number, t.Method.Name), Test: t.Number}
	if t.Plan.Blank != "" {
		p.Title = fmt.Sprintf("Test %d, blank test, %s", t.Number, t.Method.Name)
	}
	p.item("objective", w.objective(t)...)
	if w.s.Plan.Practice {
		p.item("result", t.Sentence())
		p.item("conclusion", "None: practice never counts.")
	} else {
		p.item("result", t.Sentence(), t.PSentence(), t.SimilarSentence(), t.LimitSentence()).Exploratory = t.notReached()
		p.item("conclusion", t.Verdict())
	}
	if w.res.Amended != nil && !w.s.Plan.Practice {
		p.item("amended result, beside the registered one", w.amendedWords(i)...)
	}
	p.item("method", w.methodWords(t)...)
	p.item("number of assessors", fmt.Sprintf("%s on the list, %s each.", counted(t.Seats, "assessor"), counted(t.Plan.Sets, "set")))
	p.item("answers counted", t.countedWords()...)
	p.item("number correct", fmt.Sprintf("%d of %d.", t.Correct, t.N))
	p.item("risks and limits, registered", t.risksWords()...)
	if t.N > 0 && !w.s.Plan.Practice {
		t.reportStatistics(&p)
	}
	return p
}

// objective says what was to be found out.
func (w *reporter) objective(t *TestResult) []string {
	if t.Plan.Blank != "" {
		return []string{fmt.Sprintf("To find out whether two brews of the %s lot can be told apart: a control of brewing and serving, outside the registered order.", t.Plan.Blank)}
	}
	what, perceive := "the two lots apart", "the difference between the two lots"
	if !t.Method.Overall {
		what, perceive = "the two lots apart by "+t.Plan.Attribute, "a difference in "+t.Plan.Attribute
	}
	var say []string
	if t.Plan.WantsDifference() {
		say = append(say, "Difference: to find out whether the panel can tell "+what+".")
	}
	if t.Plan.WantsSimilarity() {
		say = append(say, fmt.Sprintf("Similarity: to find out whether fewer than %s of people perceive %s.", percent(t.Plan.PdLimit), perceive))
	}
	if !t.Method.Overall {
		side := "Two-sided: either lot may have " + t.Plan.less() + " of it."
		if !t.Plan.TwoSided {
			side = "One-sided: the processed lot was named before the seal as the one with " + t.Plan.less() + " of it."
		}
		say = append(say, side)
	}
	for i := range say {
		say[i] = w.s.Plan.OfBrews(say[i])
	}
	return say
}

// ordersServed counts the orders of the trays that were served, replacements
// included: a short list or a seat that left makes them uneven.
func (w *reporter) ordersServed(t *TestResult) string {
	served := map[string]int{}
	for i, sets := range w.s.sealed.Layout.Seats {
		for j, dealt := range sets {
			for _, take := range w.s.Seats[i].Sets[j].Takes {
				if dealt.Test == t.Number-1 && !take.Waits {
					served[dealt.Order]++
				}
			}
		}
	}
	var say []string
	for _, order := range t.Plan.Orders() {
		say = append(say, fmt.Sprintf("%s %d", order, served[order]))
	}
	return "Trays served, by order: " + strings.Join(say, ", ") + "."
}

func (w *reporter) methodWords(t *TestResult) []string {
	say := []string{fmt.Sprintf("%s, after %s. Guessing alone is right %s.", capital(t.Method.Name), t.Method.Standard, t.Method.Luck)}
	if t.Method.References() > 0 {
		reference := "The reference was balanced: either lot equally often."
		if t.Plan.Reference == ReferenceConstant {
			reference = "The reference was constant: always the untreated lot."
		}
		say = append(say, reference)
	}
	say = append(say, fmt.Sprintf("Serving orders (A untreated, B processed lot): %s, dealt at random in whole blocks across seats, each block of %d holding each once.",
		strings.Join(t.Plan.Orders(), ", "), len(t.Plan.Orders())), w.ordersServed(t))
	switch {
	case t.Plan.Sequential:
		say = append(say, "Sequential: it could stop after a whole round, by lines fixed beforehand (Wald).")
	case t.Replicated != nil:
		say = append(say, "Similarity was judged from each assessor’s own sets by a chance-corrected beta-binomial model, an approximation.")
	case t.majorities():
		say = append(say, "Assessors were counted by most of their own sets (sign test, exact binomial).")
	default:
		say = append(say, "Counted with the exact binomial distribution.")
	}
	return say
}

// countedWords say how many answers count, and why others don't.
func (t *TestResult) countedWords() []string {
	say := fmt.Sprintf("%d of %d planned for the list.", t.Sets, t.Seats*t.Plan.Sets)
	if t.Plan.Sequential {
		say = fmt.Sprintf("%d, of up to %d.", t.Sets, t.Seats*t.Plan.Sets)
	}
	all := []string{say}
	if t.Voided > 0 {
		all = append(all, fmt.Sprintf("%s taken out at the table.", traysWere(t.Voided)))
	}
	if t.Missing > 0 {
		all = append(all, fmt.Sprintf("%s %s no answer that counts.", counted(t.Missing, "set"), hasHave(t.Missing)))
	}
	if t.Sets != t.N {
		all = append(all, fmt.Sprintf("%s counted by most of their own answers; %d split evenly and left out.", assessorsAre(t.N), t.Even))
	}
	return all
}

func traysWere(n int) string {
	if n == 1 {
		return "1 tray was"
	}
	return fmt.Sprintf("%d trays were", n)
}

func assessorsAre(n int) string {
	if n == 1 {
		return "1 assessor is"
	}
	return fmt.Sprintf("%d assessors are", n)
}

func (t *TestResult) risksWords() []string {
	var say []string
	p := t.Plan
	if p.WantsDifference() {
		sided := "one-sided"
		if p.TwoSided {
			sided = "two-sided"
		}
		say = append(say, fmt.Sprintf("α %s, %s; wanted power %s at pd %s.", risk(p.Alpha), sided, risk(p.Power), percent(p.Pd)))
	}
	switch {
	case p.WantsSimilarity() && p.WantsDifference():
		say = append(say, fmt.Sprintf("β %s at a pd limit of %s.", risk(p.Beta), percent(p.PdLimit)))
	case p.WantsSimilarity():
		say = append(say, fmt.Sprintf("β %s at a pd limit of %s; identical lots were to pass with probability %s. α: none was registered, since no difference was looked for.", risk(p.Beta), percent(p.PdLimit), risk(p.Power)))
	case p.Sequential:
		say = append(say, fmt.Sprintf("β %s at pd %s.", risk(p.Beta), percent(p.Pd)))
	default:
		say = append(say, fmt.Sprintf("β %s at pd %s, which is 1 less the wanted power. No limit of similarity was registered.", risk(1-p.Power), percent(p.Pd)))
	}
	return say
}

// reportStatistics adds the figures that the conclusion rests on.
func (t *TestResult) reportStatistics(p *ReportPart) {
	plan := t.Plan
	if plan.WantsDifference() && !plan.Sequential {
		least := fmt.Sprintf("No count of %d can show a difference at α %s.", t.N, risk(plan.Alpha))
		if t.HasMin {
			least = fmt.Sprintf("%d of %d", t.MinCorrect, t.N)
			if plan.TwoSided {
				least = fmt.Sprintf("%d, or %d or fewer, of %d", t.MinCorrect, t.N-t.MinCorrect, t.N)
			}
			least += fmt.Sprintf("; guessing alone reaches it with probability %s (actual α).", num(t.ActualAlpha))
		}
		p.item("minimum correct for a difference", least)
		p.item("power reached", fmt.Sprintf("%s at pd %s with the %d counted (wanted %s).", num(t.Power), percent(plan.Pd), t.N, risk(plan.Power)))
	}
	if plan.WantsSimilarity() && !plan.Sequential {
		if t.Replicated == nil {
			most := fmt.Sprintf("No count of %d allows the conclusion of similarity.", t.N)
			if t.HasMax {
				most = fmt.Sprintf("%d of %d", t.MaxCorrect, t.N)
				if plan.TwoSided {
					most = fmt.Sprintf("%d to %d of %d", t.MinSimilar, t.MaxCorrect, t.N)
				}
				most += fmt.Sprintf("; actual β %s; identical lots pass with probability %s.", num(t.ActualBeta), num(t.PassAlike))
			}
			p.item("maximum correct for similarity", most)
		}
		p.item("upper limit of pd", fmt.Sprintf("%s, at the one-sided level %s (limit %s).", t.PdUpperWords(), risk(1-plan.Beta), percent(plan.PdLimit)))
	}
	if plan.Sequential {
		looks := ReportTable{Caption: "Looks, each after a whole round", Heads: []string{"flight", "set", "answers", "correct", "the registered rule said"}}
		for _, l := range t.Looks {
			looks.Rows = append(looks.Rows, []string{
				strconv.Itoa(l.Flight), strconv.Itoa(l.Round), strconv.Itoa(l.N), strconv.Itoa(l.Correct), l.words(plan),
			})
		}
		p.Tables = append(p.Tables, looks)
	}
	if math.IsNaN(t.Pd) {
		p.item("pd and d′", "No estimate: assessors are counted here, and a majority has neither.")
		return
	}
	p.item("pd, guess-corrected", t.PdWords()+".").Exploratory = t.Exploratory()
	p.item("d′", t.DPrimeWords()+".").Exploratory = t.Exploratory()
}

// Exploratory reports whether the estimates of pd and d′ are no part of what was
// registered: similarity asks for a limit and not for a size, a test that could
// stop early stops where the count is large, and one that the registered order
// did not reach has no conclusion.
func (t TestResult) Exploratory() bool {
	return t.Plan.Goal == GoalSimilarity || t.Plan.Sequential || !t.Decided
}

// twoDecimals prints an estimate with a real minus sign.
func twoDecimals(x float64) string {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return "unbounded"
	}
	return strings.Replace(strconv.FormatFloat(x, 'f', 2, 64), "-", "−", 1)
}

// words say what the registered rule made of a look.
func (l Look) words(p TestPlan) string {
	switch {
	case l.Cut:
		return "nothing: the session was closed within the round"
	case l.Decision == stats.Continue:
		return "go on"
	case l.Decision == stats.Different:
		return "stop: different"
	case l.Decision == stats.Similar && p.WantsSimilarity():
		return "stop: similar"
	case l.Decision == stats.Similar:
		return "stop: no difference found"
	}
	return "undecided at the end"
}

// amendedWords are a test's result without the sets taken out after the close.
func (w *reporter) amendedWords(i int) []string {
	was, is := w.res.Tests[i], w.res.Amended[i]
	if was.N == is.N && was.Correct == is.Correct && was.Outcome == is.Outcome && was.Decided == is.Decided {
		return []string{"The same: nothing that counts in this test was taken out."}
	}
	say := []string{is.Sentence(), is.PSentence(), is.SimilarSentence(), is.LimitSentence(), is.Verdict()}
	if is.Plan.Sequential {
		say = append(say, "The looks were taken on what was in then, and stay as they were.")
	}
	return say
}

// exploratory is what stands beside the registered analysis.
func (w *reporter) exploratory() ReportPart {
	p := ReportPart{
		Key: "exploratory", Title: "Exploratory",
		Note: "Not registered before the tasting. Nothing is decided by any of it, and it has no p-value here.",
	}
	for i := range w.res.Tests {
		t := &w.res.Tests[i]
		name := fmt.Sprintf("test %d, ", t.Number)
		var say []string
		places := w.res.Positions(i)
		skip := t.Method.References()
		what := "Cups named, by place on the tray from left to right"
		if t.Method.Picks > 1 {
			skip, what = 1, "Cups put with the leftmost, by place on the tray from left to right"
		}
		if len(places) > skip {
			var counts []string
			for _, n := range places[skip:] {
				counts = append(counts, strconv.Itoa(n))
			}
			say = append(say, what+": "+strings.Join(counts, ", ")+".")
		}
		guesses := 0
		for _, a := range w.res.Answers {
			if a.Test == i && a.Void == nil && a.Answer != nil && a.Answer.Guess {
				guesses++
			}
		}
		say = append(say, fmt.Sprintf("%d of %s marked as a guess by the assessor; a guess counts as an answer.", guesses, counted(t.Sets, "answer")))
		if t.Spread != nil && !w.s.Plan.Practice {
			say = append(say, "How far assessors differ: "+spreadWords(*t.Spread)+".")
		}
		p.item(name+t.Method.Name, say...).Exploratory = true
	}
	return p
}
