package session

// Template is a usual session as a start for a plan. Its figures are common
// practice, no source; its seats are the fewest in whole blocks that reach what
// its tests want.
type Template struct {
	Key  string // as in forms
	Asks string // the question it answers
	Note string // how, in a sentence
	make func() Plan
}

// Plan gives the template's plan, with no title and no lots.
func (t Template) Plan() Plan { return t.make() }

// Templates are the usual sessions, in the order in which they are offered.
var Templates = []Template{
	{
		Key: "tell", Asks: "Can they tell?",
		Note: "A triangle for any difference, 30 seats.",
		make: func() Plan {
			p := UsualPlan()
			p.Tests, p.Seats = p.Tests[:1], 30
			return p
		},
	},
	{
		Key: "body", Asks: "Is it the body?",
		Note: "A triangle, then body by a paired comparison, 42 seats: to find both takes more than each alone.",
		make: func() Plan {
			p := UsualPlan()
			p.Seats = 42
			return p
		},
	},
	{
		Key: "same", Asks: "May it ship as the same?",
		Note: "A triangle for similarity and difference at once, 66 seats in six flights: similarity takes many.",
		make: func() Plan {
			p := UsualPlan()
			p.Tests = []TestPlan{{
				Method: Triangle.Key, Goal: GoalBoth, Sets: 1,
				Alpha: 0.05, Pd: 0.3, Power: 0.95, Beta: 0.05, PdLimit: 0.3,
			}}
			p.Seats, p.Flights = 66, []int{12, 12, 12, 12, 12, 6}
			return p
		},
	},
	{
		Key: "practice", Asks: "Practice",
		Note: "Three triangles each for six; everyone is told at once whether it was right. It never counts.",
		make: func() Plan {
			p := UsualPlan()
			p.Tests, p.Seats, p.Practice = p.Tests[:1], 6, true
			p.Tests[0].Sets = 3
			return p
		},
	},
}

// TemplateByKey finds a template.
func TemplateByKey(key string) (Template, bool) {
	for _, t := range Templates {
		if t.Key == key {
			return t, true
		}
	}
	return Template{}, false
}
