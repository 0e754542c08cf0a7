package record

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/stats"
)

// Judge is the record of one person; ok is false for who is not on the register,
// and a person merged into another is that one.
func (b *Book) Judge(id session.PersonID) (j Judge, ok bool) {
	who, ok := b.lab.Same(id)
	if !ok {
		return Judge{}, false
	}
	s := b.sheets[who.ID]
	b.fitted.ready()
	j = Judge{
		Row:       b.row(s),
		Languages: who.Languages, Since: who.Since, Told: who.Told, Ground: who.Ground,
		LeftOut: leftOut(b.leftOf(s)),
		Papers:  b.lab.PapersOf(who.ID),
	}
	for _, p := range b.lab.People {
		if same, ok := b.lab.Same(p.ID); ok && same.ID == who.ID && p.ID != who.ID {
			j.Merged = append(j.Merged, p.Pseudonym)
		}
	}
	j.Tests = b.judgeTests(s)
	j.Groups = groups(j.Tests)
	b.draw(who.ID, j.Groups)
	j.Controls = controls(s, len(b.order))
	j.Scale = b.scale(j.Row)
	j.Series, j.SeriesSay = b.charts(s)
	j.SeriesBegun = len(j.Series)
	j.Drift = b.drift(s)
	j.Habits = habits(s)
	j.Guesses, j.Blanks = guesses(s)
	j.Directions = b.directions(s)
	j.Time = times(s)
	j.Qualifications = b.held(who.ID)
	for _, rule := range b.lab.Rules {
		if shown := b.Evaluate(who.ID, rule); shown.Of > 0 {
			j.Shown = append(j.Shown, shown)
		}
	}
	j.Doubt = b.doubt(s)
	j.Headline = j.headline()
	return j, true
}

func (j Judge) headline() string {
	c := j.Counted()
	switch {
	case c.Sets == 0:
		return "No set counts in the record yet."
	case !j.Enough:
		return fmt.Sprintf("Right in %d of %s that count: too few to read.", c.Right, counted(c.Sets, "set"))
	}
	if by := j.byMethod(); len(by) > 1 {
		var rights, expected []string
		for _, g := range by {
			m, _ := session.MethodByKey(g.Method)
			rights = append(rights, fmt.Sprintf("%d of %d %s sets", g.Count.Right, g.Count.Sets, m.Short))
			expected = append(expected, roughly(g.Typical))
		}
		return fmt.Sprintf("Right in %s that count, where a typical panellist expects about %s. %s", list(rights), list(expected), j.Say)
	}
	return fmt.Sprintf("Right in %d of %s that count, where a typical panellist expects about %s. %s", c.Right, counted(c.Sets, "set"), roughly(j.Expected), j.Say)
}

// byMethod is the counted sets by method. Chance is the share right by guessing, Typical
// the number right that a typical panellist expects.
func (j Judge) byMethod() (all []Group) {
	for _, g := range j.Groups {
		if n := len(all); n == 0 || all[n-1].Method != g.Method {
			all = append(all, Group{Method: g.Method, Chance: g.Chance})
		}
		to := &all[len(all)-1]
		to.Count.Sets += g.Count.Sets
		to.Count.Right += g.Count.Right
		to.Typical += g.Typical * float64(g.Count.Sets)
	}
	return all
}

// judgeTests lists all tests that a judge sat in, newest first.
func (p *pages) judgeTests(s *sheet) []JudgeTest {
	f := p.fitted
	counting := f.trials(s.person.ID)
	all := make([]JudgeTest, 0, len(s.sat))
	for _, t := range slices.Backward(s.sat) {
		out := JudgeTest{
			Session: t.session, Source: t.source, At: t.at, Method: t.method.Key, Kind: t.kind, Label: t.label,
			Count: t.count, Chance: t.method.Chance(), Why: t.why,
		}
		if t.session != "" {
			out.Test = t.test + 1
		}
		pc := 0.0
		if t.model >= 0 {
			d := f.fit.Difficulty.LeftOut(t.model, t.i)
			pc = d.PC
			out.Size, out.Interval = d.Mean, d.Interval
			if trial, ok := counting[t.model]; ok {
				out.Counts, out.Typical = true, meanOf(trial.Typical)
			} else {
				out.Why = whyNot(d.Counting)
			}
		}
		out.Say = counts(out.Why, t.kind, t.known, pc, out.Chance)
		all = append(all, out)
	}
	return all
}

// The bounds of small and medium sizes of a difference, d′ (own choice: 1 is small
// and 2 is large for a trained panel, common practice, no source).
const smallSize, mediumSize = 1.25, 1.75

func sizeWord(size float64) string {
	switch {
	case size < smallSize:
		return "small"
	case size < mediumSize:
		return "medium"
	}
	return "large"
}

// groups gathers the tests that count by method, kind and difficulty.
func groups(tests []JudgeTest) []Group {
	var all []Group
	weight := map[int]float64{}
	for _, t := range tests {
		if !t.Counts {
			continue
		}
		label := t.Label
		if t.Kind != session.KindControl {
			label = sizeWord(t.Size)
		}
		i := slices.IndexFunc(all, func(g Group) bool {
			return g.Method == t.Method && g.Kind == t.Kind && strings.EqualFold(g.Label, label)
		})
		if i < 0 {
			i = len(all)
			all = append(all, Group{Method: t.Method, Kind: t.Kind, Label: label, Chance: t.Chance})
		}
		g := &all[i]
		g.Count.Sets += t.Count.Sets
		g.Count.Right += t.Count.Right
		g.Typical += t.Typical
		weight[i] += t.Size * float64(t.Count.Sets)
	}
	for i := range all {
		g := &all[i]
		n := float64(g.Count.Sets)
		g.Size, g.Typical = weight[i]/n, g.Typical/n
		g.Interval = stats.ClopperPearson(g.Count.Right, g.Count.Sets, Confidence)
		g.Say = fmt.Sprintf("%d right of %s, %s (%s by the exact 95 %% interval). Guessing is right in %s, a typical panellist in %s.",
			g.Count.Right, counted(g.Count.Sets, "set"), fixed(g.Count.Share(), 2), ofInterval(g.Interval, 2), fixed(g.Chance, 2), fixed(g.Typical, 2))
	}
	order := func(g Group) int {
		return slices.IndexFunc(session.Methods, func(m session.Method) bool { return m.Key == g.Method })
	}
	slices.SortStableFunc(all, func(a, b Group) int {
		return cmp.Or(cmp.Compare(order(a), order(b)), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Size, b.Size))
	})
	return all
}

// draw fills in what is drawn towards the others.
func (p *pages) draw(id session.PersonID, groups []Group) {
	for i := range groups {
		g := &groups[i]
		if g.Kind != session.KindControl {
			continue
		}
		g.Drawn = p.shares()[controlKey{methods[g.Method], strings.ToLower(g.Label)}][id]
		if d := g.Drawn; d.N > 0 {
			g.Say += fmt.Sprintf(" Drawn towards the others in such sets: %s (%s; how much judges differ is told by their answers, and the interval holds what that leaves open).",
				fixed(d.PC, 2), ofInterval(d.Interval, 2))
		}
	}
}

// controls finds one d′ for all sets of each control, of one of so many judges.
func controls(s *sheet, judges int) []ControlSize {
	type outcomes struct {
		label string
		known float64
		by    []stats.Outcome
	}
	var all []outcomes
	for _, t := range s.sat {
		if t.model < 0 || t.kind != session.KindControl {
			continue
		}
		i := slices.IndexFunc(all, func(o outcomes) bool { return strings.EqualFold(o.label, t.label) && o.known == t.known })
		if i < 0 {
			i = len(all)
			all = append(all, outcomes{label: t.label, known: t.known})
		}
		k := slices.IndexFunc(all[i].by, func(o stats.Outcome) bool { return o.Method == t.method.Curve })
		if k < 0 {
			k = len(all[i].by)
			all[i].by = append(all[i].by, stats.Outcome{Method: t.method.Curve})
		}
		all[i].by[k].N += t.count.Sets
		all[i].by[k].Correct += t.count.Right
	}
	var out []ControlSize
	for _, o := range all {
		c := ControlSize{Label: o.label, Known: o.known, Methods: len(o.by), Pooled: stats.PoolDPrime(o.by, Confidence)}
		by := "profile likelihood"
		if c.Pooled.Exact {
			by = "exact limit"
		}
		c.Say = fmt.Sprintf("“%s”: %d right of %s, d′ %s (%s to %s, %s)", c.Label, c.Pooled.Correct, counted(c.Pooled.N, "set"),
			trim(c.Pooled.DPrime, 2), trim(c.Pooled.Interval.Lower, 2), trim(c.Pooled.Interval.Upper, 2), by)
		if c.Known > 0 {
			c.Say += fmt.Sprintf(", where %s is agreed for the median panellist", trim(c.Known, 2))
		}
		c.Say += "."
		if adjusted := min(1, c.Pooled.PValue*float64(judges*len(all))); c.Methods > 1 && adjusted <= Level {
			c.Say += fmt.Sprintf(" The methods do not seem to share one d′ (%s, adjusted for all judges and controls that are looked at).", pValue(adjusted))
		}
		out = append(out, c)
	}
	return out
}

func (p *pages) scale(r Row) Scale {
	s := Scale{Size: p.fitted.size, DPrime: r.DPrime, Interval: r.DPrimeInterval, Raw: p.fitted.raw(r.Person) * p.fitted.size}
	if math.IsNaN(s.Raw) {
		s.Say = fmt.Sprintf("Nothing counts yet, so the estimate is the panel's own: d′ %s (%s) where the median panellist perceives %s.",
			trim(s.DPrime, 2), ofInterval(s.Interval, 2), trim(s.Size, 2))
		return s
	}
	s.Say = fmt.Sprintf("Where the median panellist perceives d′ %s, this judge perceives %s (%s), drawn towards the panel the more the less is known; the bare count would say %s.",
		trim(s.Size, 2), trim(s.DPrime, 2), ofInterval(s.Interval, 2), trim(s.Raw, 2))
	return s
}

// habits looks for a favoured place in trays of two answers, of three, and in the
// pairs of a tetrad. Whatever is served counts: a habit needs no difference.
func habits(s *sheet) []Habit {
	var two [2][2]int
	var three, pairs [3][3]int
	used := map[string]bool{}
	for _, j := range s.sessions {
		for _, set := range j.Sets {
			m := methods[set.Method]
			right, picked := set.Counted, set.Place
			if m.Picks == 2 {
				picked = set.AlsoPlace
			}
			first := m.References() // before the first answer
			if m.Picks == 2 {
				first = 1
			}
			right, picked = right-first-1, picked-first-1
			places := m.Cups - first
			if min(right, picked) < 0 || max(right, picked) >= places {
				continue
			}
			used[m.Key] = true
			switch {
			case places == 2:
				two[right][picked]++
			case m.Picks == 2:
				pairs[right][picked]++
			default:
				three[right][picked]++
			}
		}
	}
	var all []Habit
	add := func(h stats.PlaceHabit, places int, names []string, pick func(session.Method) bool) {
		out := Habit{Places: places, PlaceHabit: h, Adjusted: 1}
		for _, m := range session.Methods {
			if used[m.Key] && pick(m) {
				out.Methods = append(out.Methods, m.Short)
			}
		}
		if len(out.Methods) == 0 {
			return
		}
		if h.Favoured >= 0 {
			out.Place = names[h.Favoured]
		}
		all = append(all, out)
	}
	// Never "the right cup", which would be the one that is right.
	add(stats.HabitOfTwo(two), 2, []string{"the cup on the left", "the cup on the right"}, func(m session.Method) bool { return m.Cups-m.References() == 2 })
	add(stats.HabitOfThree(three), 3, []string{"the cup on the left", "the cup in the middle", "the cup on the right"}, func(m session.Method) bool { return m.Cups == 3 && m.References() == 0 })
	add(stats.HabitOfThree(pairs), 3, []string{"the first cup with the second", "the first cup with the third", "the first cup with the fourth"},
		func(m session.Method) bool { return m.Picks == 2 })
	adjustHabits(all)
	return all
}

// adjustHabits adjusts for all the habits that one judge is looked at for, and says
// what was found.
func adjustHabits(all []Habit) {
	var ps []float64
	for _, h := range all {
		ps = append(ps, h.PValue)
	}
	for i, adjusted := range stats.Holm(ps) {
		h := &all[i]
		h.Adjusted = adjusted
		methods := capital(list(h.Methods))
		switch {
		case h.Found():
			h.Say = fmt.Sprintf("%s: %s is picked more often than the answers explain (adjusted %s; of judges without any habit 1 in 20 at most is told of one). "+
				"Serving orders are balanced, so a habit costs right answers but favours no lot.", methods, h.Place, pValue(adjusted))
		case h.N == 0:
			h.Say = methods + ": no answer tells of a habit yet."
		default:
			h.Say = fmt.Sprintf("%s: no habit of place was found in the %s that can tell of one (adjusted %s). That does not show that there is none.",
				methods, counted(h.N, "answer"), pValue(adjusted))
		}
	}
}

// guesses holds declared guesses, and blanks, against luck.
func guesses(s *sheet) (Guesses, Blanks) {
	var g Guesses
	b := Blanks{Count: s.blank}
	declared, blank := map[float64]*stats.GuessCount{}, map[float64]*stats.GuessCount{}
	count := func(into map[float64]*stats.GuessCount, chance float64, sets, right int) {
		if into[chance] == nil {
			into[chance] = &stats.GuessCount{Chance: chance}
		}
		into[chance].N += sets
		into[chance].Correct += right
	}
	for _, j := range s.sessions {
		for _, set := range j.Sets {
			t := j.Tests[set.Test]
			switch {
			case t.Kind == session.KindBlank:
				b.Declared += one(set.Guess)
			case structural(t) == "":
				g.Of++
				if set.Guess {
					count(declared, t.Chance, 1, one(set.Right))
				}
			}
		}
	}
	for _, t := range s.sat {
		if t.why == WhyBlank {
			count(blank, t.method.Chance(), t.count.Sets, t.count.Right)
		}
	}
	g.Luck, b.Luck = luckOf(declared), luckOf(blank)
	switch {
	case g.Luck.N == 0:
		g.Say = "No answer was declared a guess."
	case g.Luck.PMore <= Level:
		g.Say = fmt.Sprintf("Of %s %d were right, where luck gives %s (%s): this judge perceives more than he or she trusts in.",
			guessWords(g), g.Luck.Correct, trim(g.Luck.Expected, 1), pValue(g.Luck.PMore))
	default:
		g.Say = fmt.Sprintf("Of %s %d were right, where luck gives %s (%s). That does not show that all were guesses.",
			guessWords(g), g.Luck.Correct, trim(g.Luck.Expected, 1), pValue(g.Luck.PMore))
	}
	switch {
	case b.Sets == 0:
		b.Say = "No blank set was answered."
	case b.Luck.PMore <= Level:
		b.Say = fmt.Sprintf("In %s of two brews of one lot %d were right, where luck gives %s (%s): something other than the lot may give cups away.",
			counted(b.Sets, "set"), b.Right, trim(b.Luck.Expected, 1), pValue(b.Luck.PMore))
	default:
		b.Say = fmt.Sprintf("In %s of two brews of one lot %d were right, where luck gives %s (%s).",
			counted(b.Sets, "set"), b.Right, trim(b.Luck.Expected, 1), pValue(b.Luck.PMore))
	}
	return g, b
}

func guessWords(g Guesses) string {
	if g.Luck.N == 1 {
		return "1 declared guess"
	}
	return fmt.Sprintf("%d declared guesses", g.Luck.N)
}

func luckOf(by map[float64]*stats.GuessCount) stats.GuessLuck {
	var all []stats.GuessCount
	for _, c := range by {
		all = append(all, *c)
	}
	slices.SortFunc(all, func(a, b stats.GuessCount) int { return cmp.Compare(a.Chance, b.Chance) })
	return stats.GuessesAgainstLuck(all)
}

// directions tells which lot the judge picked by each attribute.
func (p *pages) directions(s *sheet) []Direction {
	var all []Direction
	for _, j := range s.sessions {
		own := map[int]picked{}
		for _, set := range j.Sets {
			t := j.Tests[set.Test]
			if m := methods[t.Method]; t.Kind != session.KindRoutine || m.Overall {
				continue
			}
			c := own[set.Test]
			c.sets++
			c.processed += one(set.Processed)
			own[set.Test] = c
		}
		for test, c := range own {
			attribute := j.Tests[test].Attribute
			i := slices.IndexFunc(all, func(d Direction) bool { return strings.EqualFold(d.Attribute, attribute) })
			if i < 0 {
				i = len(all)
				all = append(all, Direction{Attribute: attribute})
			}
			everybody := p.picks[testKey{j.Session, test}]
			all[i].Sets += c.sets
			all[i].Processed += c.processed
			all[i].OthersSets += everybody.sets - c.sets
			all[i].OthersProcessed += everybody.processed - c.processed
		}
	}
	for i := range all {
		d := &all[i]
		d.Interval = stats.ClopperPearson(d.Processed, d.Sets, Confidence)
		d.Say = fmt.Sprintf("%s: the processed lot's cup was picked in %d of %s", capital(d.Attribute), d.Processed, counted(d.Sets, "set"))
		if d.OthersSets > 0 {
			d.Say += fmt.Sprintf("; by the others in the same tests in %d of %d", d.OthersProcessed, d.OthersSets)
		}
		d.Say += ". It is a direction and no merit."
	}
	slices.SortFunc(all, func(a, b Direction) int { return cmp.Compare(a.Attribute, b.Attribute) })
	return all
}

func times(s *sheet) Times {
	var took []time.Duration
	for _, j := range s.sessions {
		for _, set := range j.Sets {
			if set.Took > 0 {
				took = append(took, set.Took)
			}
		}
	}
	t := Times{N: len(took)}
	if t.N == 0 {
		t.Say = "No time is known."
		return t
	}
	slices.Sort(took)
	at := func(share float64) time.Duration {
		i := share * float64(t.N-1)
		low, high := took[int(i)], took[int(math.Ceil(i))]
		return (low + time.Duration((i-math.Floor(i))*float64(high-low))).Round(time.Second)
	}
	t.Lower, t.Median, t.Upper = at(0.25), at(0.5), at(0.75)
	t.Say = fmt.Sprintf("%s from serving to the kept answer in the median of %s; half of them lie between %s and %s.", inTime(t.Median), counted(t.N, "set"), inTime(t.Lower), inTime(t.Upper))
	return t
}

// held lists the decisions on a person, the newest first.
func (b *Book) held(id session.PersonID) []Held {
	var all []Held
	for _, q := range b.lab.Qualifications {
		if same, ok := b.lab.Same(q.Person); !ok || same.ID != id {
			continue
		}
		all = append(all, Held{Qualification: q, Holds: q.Holds(b.now)})
	}
	slices.SortStableFunc(all, func(x, y Held) int { return y.DecidedAt.Compare(x.DecidedAt) })
	latest := b.lab.Latest()
	for i := range all {
		h := &all[i]
		h.Latest = slices.ContainsFunc(latest, func(q session.Qualification) bool {
			return q.Person == id && q.Rule == h.Rule && q.DecidedAt.Equal(h.DecidedAt) && q.Held == h.Qualification.Held && q.Basis == h.Basis
		})
		h.Holds = h.Holds && h.Latest
		h.RunsOut = h.Holds && !h.Until.IsZero() && !h.Until.After(b.now.Add(RunsOutWithin))
		switch {
		case !h.Qualification.Held:
			h.Say = fmt.Sprintf("%s: decided on %s that it does not hold.", h.Rule, day(h.DecidedAt))
		case h.Holds && h.Until.IsZero():
			h.Say = fmt.Sprintf("%s: holds since %s, without end.", h.Rule, day(h.DecidedAt))
		case h.RunsOut:
			h.Say = fmt.Sprintf("%s: holds since %s and runs out on %s.", h.Rule, day(h.DecidedAt), day(h.Until))
		case h.Holds:
			h.Say = fmt.Sprintf("%s: holds from %s until %s.", h.Rule, day(h.DecidedAt), day(h.Until))
		case !h.Latest:
			h.Say = fmt.Sprintf("%s: held from %s, and a later decision stands.", h.Rule, day(h.DecidedAt))
		default:
			h.Say = fmt.Sprintf("%s: ran out on %s.", h.Rule, day(h.Until))
		}
		h.Say += " " + h.CountWords()
	}
	return all
}
