package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"oddcup/session"
	"oddcup/stats"
)

// compareOut are the methods side by side; see [planCommand].
type compareOut struct {
	DPrime       float64     `json:"dPrime"`
	Goal         string      `json:"goal"`
	Alpha        *float64    `json:"alpha"`
	Beta         *float64    `json:"beta"`
	Wanted       float64     `json:"wanted"`
	FillG        float64     `json:"fillG"`
	DoseGPerL    float64     `json:"doseGPerL"`
	CaffeineFrom string      `json:"caffeineFrom"`
	Methods      []methodOut `json:"methods"`
}

type methodOut struct {
	Method            string   `json:"method"`
	Sided             string   `json:"sided"`
	Overall           bool     `json:"overall"`
	Pc                float64  `json:"pc"`
	Pd                float64  `json:"pd"`
	Assessors         *int     `json:"assessors"`
	AssessorsStable   *int     `json:"assessorsStable"`
	Seats             *int     `json:"seats"`
	Cups              *int     `json:"cups"`
	SpareCups         *int     `json:"spareCups"`
	CoffeeG           *float64 `json:"coffeeG"`
	WaterG            *float64 `json:"waterG"`
	CupsPerSeat       *int     `json:"cupsPerSeat"`
	CaffeineMgPerSeat *float64 `json:"caffeineMgPerSeat"`
	MoreThan          *int     `json:"moreThan"`
	MostSeats         *int     `json:"mostSeats"`
	Few               bool     `json:"few"`
	Fewest            bool     `json:"fewest"`
}

func (c *planCommand) compare(to streams, r risks) error {
	switch {
	case c.Method != "" || c.TwoSided:
		return usage("--compare takes all methods, both ways where there are two", "leave --method and --two-sided out")
	case c.Pd != nil || c.PdLimit != nil:
		return usage("--compare needs a d′: the same pd is another difference in each method", "give --dprime, such as --dprime 1")
	case c.DPrime == nil:
		return usage("--compare needs the size of the difference", "give --dprime, such as --dprime 1")
	}
	if err := c.checkDPrime(0.05); err != nil {
		return err
	}
	serving := session.UsualPlan().Serving
	q := session.Comparison{DPrime: *c.DPrime, Goal: c.Goal, Alpha: r.alpha, Beta: r.beta, Power: oneMinus(r.miss), Serving: serving}
	all := q.Compare()
	if all == nil {
		return usage("these risks are outside what methods are compared for", "give risks from 0.0001 to 0.4 and a power from 0.5 to 0.999")
	}
	out := compareOut{
		DPrime: q.DPrime, Goal: q.Goal, Wanted: q.Power, FillG: serving.FillG, DoseGPerL: serving.DoseGPerL,
		CaffeineFrom: session.CaffeineFrom, Methods: []methodOut{},
	}
	if c.Goal != session.GoalSimilarity {
		out.Alpha = &q.Alpha
	}
	if c.Goal != session.GoalDifference {
		out.Beta = &q.Beta
	}
	for _, n := range all {
		out.Methods = append(out.Methods, methodOutOf(n))
	}
	if c.JSON {
		return printJSON(to.out, out)
	}
	return out.tell(to.out)
}

func methodOutOf(n session.MethodNeeds) methodOut {
	m := methodOut{
		Method: n.Method.Key, Sided: string(stats.OneSided), Overall: n.Method.Overall, Pc: n.Pc, Pd: n.Pd, Fewest: n.Fewest,
	}
	if n.TwoSided {
		m.Sided = string(stats.TwoSided)
	}
	if n.Beyond {
		most := session.LargestCompared
		m.MoreThan = &most
	}
	if n.Found {
		s := n.Supplies
		m.Assessors, m.AssessorsStable, m.Seats, m.Cups = &n.First, &n.Stable, &n.Seats, &n.Cups
		m.SpareCups, m.CoffeeG, m.WaterG = &s.Spare, &s.CoffeeEachG, &s.WaterEachG
		m.CupsPerSeat, m.CaffeineMgPerSeat = &s.CupsPerSeat, &s.CaffeineMg
		m.MostSeats, m.Few = &n.Most, n.Few
	}
	return m
}

func (out compareOut) tell(w io.Writer) error {
	what := map[string]string{
		session.GoalDifference: "To find a difference of d′ %v", session.GoalSimilarity: "To show that the difference is below d′ %v",
		session.GoalBoth: "To find a difference of d′ %v or show that it is below",
	}[out.Goal]
	fmt.Fprintf(w, what, out.DPrime)
	if out.Alpha != nil {
		fmt.Fprintf(w, ", α %v", *out.Alpha)
	}
	if out.Beta != nil {
		fmt.Fprintf(w, ", β %v", *out.Beta)
	}
	fmt.Fprintf(w, ", power %v:\n\n", out.Wanted)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "method\tpc\tpd\tassessors\tfrom here all\tseats\tcups\tspare\tcoffee, both lots\twater, both lots\tcups each\tcaffeine each\t")
	for _, m := range out.Methods {
		name := m.Method
		if m.Sided == string(stats.TwoSided) {
			name += ", two-sided"
		}
		if m.Fewest {
			name = "* " + name
		}
		if m.Assessors == nil {
			none := "none"
			if m.MoreThan != nil {
				none = fmt.Sprintf("> %d", *m.MoreThan)
			}
			if row, ok := session.MethodByKey(m.Method); ok && out.Goal != session.GoalDifference && !row.ShowsSimilarity(m.Sided == string(stats.TwoSided)) {
				none = "one way"
			}
			fmt.Fprintf(t, "%s\t%.3f\t%.3f\t%s\t\t\t\t\t\t\t\t\t\n", name, m.Pc, m.Pd, none)
			continue
		}
		fmt.Fprintf(t, "%s\t%.3f\t%.3f\t%d\t%d\t%d\t%d\t%d\t%.0f g\t%.1f l\t%d\t%.0f mg\t\n", name, m.Pc, m.Pd, *m.Assessors,
			*m.AssessorsStable, *m.Seats, *m.Cups, *m.SpareCups, 2**m.CoffeeG, 2**m.WaterG/1000, *m.CupsPerSeat, *m.CaffeineMgPerSeat)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\n* the fewest cups among the methods that ask for any difference, and among those that ask for a named attribute.\n")
	fmt.Fprintf(w, "Seats are filled up to whole blocks of serving orders. Coffee and water are for both lots together, %v g a cup, %v g a litre, spare cups included.\n", out.FillG, out.DoseGPerL)
	out.tellLimits(w)
	fmt.Fprintf(w, "Caffeine: %s.\n", out.CaffeineFrom)
	fmt.Fprintln(w, "A paired comparison and a 3-AFC test answer only whether the lots differ in the named attribute; its d′ is at most that of all attributes together.")
	fmt.Fprintln(w, "One d′ stands for one difference in all methods as far as Thurstone’s model holds: equal noise in both lots, one line along which they differ, and no method that tires more. Four cups may tire: the tetrad’s numbers are at best.")
	return nil
}

// tellLimits says which numbers a session or a laboratory won't seat, which are
// too few for similarity, and what is to be known of the cheapest.
func (out compareOut) tellLimits(w io.Writer) {
	for _, m := range out.Methods {
		row, ok := session.MethodByKey(m.Method)
		if !ok || m.Assessors == nil {
			continue
		}
		name := m.Method
		if m.Sided == string(stats.TwoSided) {
			name += ", two-sided"
		}
		switch {
		case *m.Seats > outOfReach:
			fmt.Fprintf(w, "%s: out of reach for a laboratory; one session holds %d seats of it at most.\n", name, *m.MostSeats)
		case *m.Seats > *m.MostSeats:
			fmt.Fprintf(w, "%s: one session holds %d seats of it at most, since its codes end there.\n", name, *m.MostSeats)
		}
		if m.Few {
			fmt.Fprintf(w, "%s: fewer than %d assessors are generally not advised for similarity (ISO 5495, note to table A.3; for other methods from memory).\n", name, session.FewForSimilarity)
		}
		if m.Fewest && m.Method == session.PairedComparison.Key && m.Sided == string(stats.OneSided) {
			fmt.Fprintf(w, "%s: one-sided, where it was known beforehand which lot has less; otherwise its two-sided row holds.\n", name)
		}
		for _, a := range row.Advice {
			if (m.Fewest || m.Method == session.ThreeAFC.Key) && a.Field == "method" {
				fmt.Fprintf(w, "%s: %s (%s)\n", name, a.Say, a.Source)
			}
		}
	}
}

// outOfReach is the number of seats from which a laboratory is told plainly that
// it won't seat them: the most that a plan takes (our reasoning, no source).
const outOfReach = 500
