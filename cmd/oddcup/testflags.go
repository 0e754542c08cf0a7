package main

import (
	"oddcup/session"
)

// testFlags say on the command line what one test is and what it is to show.
type testFlags struct {
	Method     string   `help:"One of triangle, duo-trio, tetrad, paired-comparison, 3-afc." placeholder:"METHOD"`
	Goal       string   `help:"What the test is to show: difference, similarity or both. Default: difference, and both where --beta is given." placeholder:"GOAL"`
	Alpha      *float64 `help:"Difference: risk of finding one where there is none. Default: 0.05." placeholder:"RISK"`
	Pd         *float64 `help:"Difference: share of people who perceive it, from which it is worth finding. Default: 0.4." placeholder:"P"`
	Beta       *float64 `help:"Similarity: risk of calling lots similar that as many as --pd-limit can tell apart." aliases:"similar" placeholder:"RISK"`
	PdLimit    *float64 `help:"Similarity: share of people who may perceive the difference." placeholder:"P"`
	Power      *float64 `help:"Wanted probability of finding the difference, or that identical lots pass. Default: 0.8." placeholder:"P"`
	TwoSided   bool     `help:"Paired comparison in which either lot may have more."`
	More       bool     `help:"Ask which cup has more of the attribute, not which has less."`
	Attribute  string   `help:"Attribute that a paired comparison or a 3-AFC test asks for." placeholder:"WORD"`
	Definition string   `help:"What the attribute means, for tasters." placeholder:"WORDS"`
	Reference  string   `help:"Duo-trio: constant makes the untreated lot the reference in every set. Default: either lot equally often." placeholder:"WHICH"`
}

// given reports whether any flag is set.
func (f testFlags) given() bool { return f != testFlags{} }

// plan makes a test of the flags. What does not fit together is found by the
// plan's own check.
func (f testFlags) plan(sets int) (session.TestPlan, error) {
	m, err := methodRow(f.Method)
	if err != nil {
		return session.TestPlan{}, err
	}
	t := session.TestPlan{
		Method: m.Key, Goal: f.Goal, Sets: sets, TwoSided: f.TwoSided, More: f.More,
		Attribute: f.Attribute, Definition: f.Definition, Reference: f.Reference,
	}
	if t.Goal == "" {
		t.Goal = session.GoalDifference
		if f.Beta != nil {
			t.Goal = session.GoalBoth
		}
	}
	t.Power = orUsual(f.Power, 0.8)
	if t.WantsDifference() {
		t.Alpha, t.Pd = orUsual(f.Alpha, 0.05), orUsual(f.Pd, 0.4)
	} else if f.Alpha != nil || f.Pd != nil {
		return t, usage("--alpha and --pd are for a difference, and the goal is similarity alone", "leave them out, or give --goal both")
	}
	if t.WantsSimilarity() {
		t.Beta, t.PdLimit = orUsual(f.Beta, 0.05), orUsual(f.PdLimit, 0)
		if f.PdLimit == nil {
			return t, usage("similarity needs a limit", "give the share of people who may perceive the difference, such as --pd-limit 0.3")
		}
	} else if f.Beta != nil || f.PdLimit != nil {
		return t, usage("--beta and --pd-limit are for similarity, and the goal is "+t.Goal, "give --goal similarity or --goal both as well")
	}
	return t, nil
}

func orUsual(x *float64, usual float64) float64 {
	if x == nil {
		return usual
	}
	return *x
}
