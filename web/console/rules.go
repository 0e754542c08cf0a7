package console

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"oddcup/session"
	"oddcup/session/record"
	"oddcup/stats"
)

// rulesView are the laboratory's rules of qualification, and what runs out.
type rulesView struct {
	Answer  string
	Rules   []ruleLine
	RunsOut []runsOutLine
	Form    *form
	Tried   *ruleLine // worked out from the form, not kept
	Methods []session.Method
	Kinds   []session.JudgedKind
}

// ruleLine is a rule with what guessing makes of it.
type ruleLine struct {
	session.Rule
	What  string   // which sets
	Wants string   // what is to be shown
	Luck  string   // how often guessing alone shows it
	Odds  []string // what else is known of the lines
	Holds int      // people who hold it now

	Unserved string // that no session had such sets yet; empty where one had
}

type runsOutLine struct {
	session.Qualification
	Pseudonym string
	Past      bool
}

// unserved says that no session had sets such as a rule wants, "" where one had.
func (c *Console) unserved(ctx context.Context, r session.Rule) (string, error) {
	judged, err := c.Rooms.Judged(ctx)
	if err != nil {
		return "", err
	}
	served, controls := r.Served(judged)
	if served {
		return "", nil
	}
	say := "No session that was revealed had such sets yet, so nobody can show it yet."
	if r.Kind != session.KindControl {
		return say, nil
	}
	say += " Only sets under the same words count."
	if len(controls) == 0 {
		return say, nil
	}
	more := ""
	if n := len(controls) - mostControls; n > 0 {
		controls, more = controls[:mostControls], fmt.Sprintf(" and %d more", n)
	}
	return say + fmt.Sprintf(" Controls served so, %s: “%s”%s.", methodWords(r.Method), strings.Join(controls, "”, “"), more), nil
}

// mostControls are named where a rule's own was never served.
const mostControls = 5

func (c *Console) rules(w http.ResponseWriter, r *http.Request) error {
	f := filled("method", session.Triangle.Key, "kind", string(session.KindControl), "by", "mark", "alpha", "0.05", "beta", "0.05", "validMonths", "12")
	if rule, ok := c.Rooms.Lab().State().Rule(r.URL.Query().Get("rule")); ok {
		f = ruleForm(rule)
	}
	return c.renderRules(w, r, http.StatusOK, f, nil)
}

func ruleForm(r session.Rule) *form {
	f := filled("name", r.Name, "method", r.Method, "kind", string(r.Kind), "label", r.Label, "by", "mark", "validMonths", fmt.Sprint(r.ValidMonths))
	if r.Lines == nil {
		f.values.Set("trials", fmt.Sprint(r.Trials))
		f.values.Set("mark", fmt.Sprint(r.Mark))
		return f
	}
	f.values.Set("by", "lines")
	f.setLines(r.Method, *r.Lines)
	return f
}

// setLines writes Wald's lines; P0 stays empty where it is guessing alone.
func (f *form) setLines(method string, l session.RuleLines) {
	if m, ok := session.MethodByKey(method); !ok || l.P0 != m.Chance() {
		f.values.Set("p0", num(l.P0))
	}
	f.values.Set("p1", num(l.P1))
	f.values.Set("alpha", num(l.Alpha))
	f.values.Set("beta", num(l.Beta))
}

// lines reads Wald's lines. A P0 that is empty, or guessing as far as it is written, is
// guessing alone.
func (f *form) lines(method string) session.RuleLines {
	var l session.RuleLines
	m, known := session.MethodByKey(method)
	if f.text("p0") == "" && known {
		l.P0 = m.Chance()
	} else {
		l.P0 = f.shareOf("p0", "right of one who must not reach the upper line, P0")
	}
	if known && roundsTo(f.text("p0"), l.P0, m.Chance()) {
		l.P0 = m.Chance()
	}
	l.P1 = f.shareOf("p1", "right of one who must reach it, P1")
	l.Alpha = f.number("alpha", "α")
	l.Beta = f.number("beta", "β")
	return l
}

// shareOf reads a share as a decimal number, or as a fraction such as 1/3.
func (f *form) shareOf(name, what string) float64 {
	top, bottom, isFraction := strings.Cut(f.text(name), "/")
	if !isFraction {
		return f.number(name, what)
	}
	part, err := strconv.Atoi(strings.TrimSpace(top))
	whole, err2 := strconv.Atoi(strings.TrimSpace(bottom))
	if err != nil || err2 != nil || part < 0 || whole < 1 {
		f.bad(name, fmt.Sprintf("%s: %s is no share; write it as 0.4 or 1/3", what, quoted(f.text(name))))
		return math.NaN()
	}
	return float64(part) / float64(whole)
}

// roundsTo reports whether a number written with two decimals or more is the other one,
// rounded to as many.
func roundsTo(written string, x, other float64) bool {
	_, decimals, _ := strings.Cut(strings.Replace(written, ",", ".", 1), ".")
	return len(decimals) >= 2 && strconv.FormatFloat(other, 'f', len(decimals), 64) == strconv.FormatFloat(x, 'f', len(decimals), 64)
}

func (f *form) rule() session.Rule {
	r := session.Rule{Name: f.text("name"), Method: f.text("method"), Kind: session.JudgedKind(f.text("kind")), Label: f.text("label")}
	if f.text("validMonths") != "" {
		r.ValidMonths = f.count("validMonths", "valid for")
	}
	if f.Is("by", "lines") {
		l := f.lines(r.Method)
		r.Lines = &l
		return r
	}
	r.Trials, r.Mark = f.count("trials", "sets"), f.count("mark", "mark")
	return r
}

func (c *Console) renderRules(w http.ResponseWriter, r *http.Request, status int, f *form, tried *ruleLine) error {
	lab, now := c.Rooms.Lab().State(), c.Now()
	v := rulesView{Form: f, Tried: tried, Methods: session.Methods, Kinds: session.JudgedKinds}
	for _, rule := range lab.Rules {
		l := ruleLineOf(rule)
		l.Holds = len(lab.Holders(rule.Name, now))
		var err error
		if l.Unserved, err = c.unserved(r.Context(), rule); err != nil {
			return err
		}
		v.Rules = append(v.Rules, l)
	}
	for _, q := range lab.RunsOut(now, record.RunsOutWithin) {
		p, _ := lab.Same(q.Person)
		v.RunsOut = append(v.RunsOut, runsOutLine{q, p.Pseudonym, !q.Until.After(now)})
	}
	v.Answer = rulesWords(len(v.Rules), v.RunsOut)
	return c.renderAs(w, status, "rules.html", Page{Title: "Rules", Nav: "judges", Body: v})
}

func rulesWords(rules int, runsOut []runsOutLine) string {
	past := 0
	for _, q := range runsOut {
		if q.Past {
			past++
		}
	}
	say := counted(rules, "rule") + "."
	switch {
	case rules == 0:
		return "No rule is written yet. None is built in."
	case len(runsOut) == 0:
		return say + " Nothing runs out within sixty days."
	}
	if past > 0 {
		say += fmt.Sprintf(" %s run out.", map[bool]string{true: "One qualification has", false: fmt.Sprintf("%d qualifications have", past)}[past == 1])
	}
	if soon := len(runsOut) - past; soon > 0 {
		say += fmt.Sprintf(" %s out within sixty days.", map[bool]string{true: "One runs", false: fmt.Sprintf("%d run", soon)}[soon == 1])
	}
	return say
}

// ruleLineOf says what a rule wants, and how often guessing alone shows it.
func ruleLineOf(r session.Rule) ruleLine {
	l := ruleLine{Rule: r, What: setsWords(r.Method, r.Kind, r.Label)}
	m, _ := session.MethodByKey(r.Method)
	if r.Lines == nil {
		l.Wants = fmt.Sprintf("at least %d right of %s", r.Mark, counted(r.Trials, "set"))
		l.Luck = fmt.Sprintf("Guessing alone reaches it in %s tries.", perThousand(stats.UpperTail(r.Trials, r.Mark, m.Chance())))
		return l
	}
	l.Wants = fmt.Sprintf("the upper one of Wald’s lines for %s against %s, α %s, β %s", share(r.Lines.P0), share(r.Lines.P1), num(r.Lines.Alpha), num(r.Lines.Beta))
	luck, good := record.Ends(*r.Lines, m.Chance()), record.Ends(*r.Lines, r.Lines.P1)
	lines := stats.Sequential{P0: r.Lines.P0, P1: r.Lines.P1, Alpha: r.Lines.Alpha, Beta: r.Lines.Beta, Every: 1}
	l.Luck = fmt.Sprintf("Guessing alone reaches it in %s tries.", perThousand(luck.Different))
	l.Odds = []string{
		fmt.Sprintf("Who is right in %s of the sets reaches it in %s tries, after %s sets on average.", share(r.Lines.P1), perThousand(good.Different), fixed(good.ExpectedN, 0)),
		fmt.Sprintf("Fewest sets to the upper line: %d, all right. To the lower one: %d, all wrong.", lines.Lines().FirstDifferent, lines.Lines().FirstSimilar),
	}
	return l
}

// setsWords names the sets that a rule or series is about.
func setsWords(method string, kind session.JudgedKind, label string) string {
	say := methodWords(method) + ", " + kindWords(kind)
	if label != "" {
		say += ": " + label
	}
	return say
}

// methodWords is a method's name, or its key where it is not known.
func methodWords(key string) string {
	if m, ok := session.MethodByKey(key); ok {
		return m.Name
	}
	return key
}

// kindWords are the sets of a kind.
func kindWords(k session.JudgedKind) string {
	switch k {
	case session.KindControl:
		return "control sets"
	case session.KindBlank:
		return "blank sets, two brews of one lot"
	}
	return "routine sets, two lots"
}

// setRule keeps a rule, or only works it out.
func (c *Console) setRule(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	rule := f.rule()
	if f.Bad() {
		return c.renderRules(w, r, http.StatusUnprocessableEntity, f, nil)
	}
	act := session.SetRule{Rule: rule}
	if f.Is("act", "try") {
		if strings.TrimSpace(rule.Name) == "" {
			act.Rule.Name = "Rule"
		}
		if _, err := c.Rooms.Lab().State().Decide(session.Command{At: c.Now(), Actor: session.Host, Act: act}); err != nil {
			if err := f.refuse(ruleField(err), err); err != nil {
				return err
			}
			return c.renderRules(w, r, http.StatusUnprocessableEntity, f, nil)
		}
		l := ruleLineOf(rule)
		if l.Unserved, err = c.unserved(r.Context(), rule); err != nil {
			return err
		}
		return c.renderRules(w, r, http.StatusOK, f, &l)
	}
	if err := c.register(r, act); err != nil {
		if err := f.refuse(ruleField(err), err); err != nil {
			return err
		}
		return c.renderRules(w, r, http.StatusUnprocessableEntity, f, nil)
	}
	return seeOther(w, r, "/judges/rules")
}

// ruleField is the field that a refusal is about, "" where it may be several.
func ruleField(err error) string {
	say := err.Error()
	switch {
	case strings.HasPrefix(say, "a rule's name"), strings.HasPrefix(say, "the rule’s name"):
		return "name"
	case strings.Contains(say, "name the control"), strings.Contains(say, "what difference"), strings.HasPrefix(say, "what differs"):
		return "label"
	case strings.Contains(say, " is no mark"):
		return "mark"
	case strings.Contains(say, "it is valid for"):
		return "validMonths"
	case strings.Contains(say, "lies below guessing"):
		return "p0"
	case strings.Contains(say, "they rise"):
		return "p1"
	}
	return ""
}
