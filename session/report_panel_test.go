package session

import (
	"strings"
	"testing"
	"time"
)

// What holds for phones is not said of who answered on paper.
func TestReportOfPaper(t *testing.T) {
	for _, c := range []struct {
		name   string
		byHand map[int]bool
		wants  [][3]string // part, item, words
		not    [][3]string
	}{
		{"both", map[int]bool{2: true}, [][3]string{
			{"panel", "answered on phones alone", "1 assessor, seat 1."}, {"panel", "paper ballots", "1 assessor, seat 2."}, {"panel", "gave no answer", "1 assessor, seat 3."},
			{"instructions", "check of the tray", "Before a phone showed the question"}, {"instructions", "check of the tray", "On paper: nothing was typed."},
			{"instructions", "cautions shown", "on the phone before a seat was taken"}, {"instructions", "cautions shown", "On paper: no phone showed them."},
			{"instructions", "pause", "60 s after each set but the last, to rinse, counted by the phone."}, {"instructions", "pause", "On paper: 60 s were planned, and no phone counted them."},
		}, nil},
		{"paper alone", map[int]bool{1: true, 2: true, 3: true}, [][3]string{
			{"panel", "answered on phones alone", "None."}, {"instructions", "check of the tray", "On paper: nothing was typed."},
		}, [][3]string{
			{"instructions", "check of the tray", "Before a phone"}, {"instructions", "cautions shown", "on the phone before"}, {"instructions", "pause", "counted by the phone."},
		}},
		{"phones alone", nil, [][3]string{{"panel", "paper ballots", "None."}}, [][3]string{
			{"instructions", "check of the tray", "On paper"}, {"instructions", "cautions shown", "On paper"}, {"instructions", "pause", "On paper"},
		}},
	} {
		g := newGame(t).toSealed(planOf(3, triangles(2)))
		g.do(OpenLobby{})
		for seat := 1; seat <= 3; seat++ {
			if c.byHand[seat] {
				g.do(SitByHand{Seat: seat, Name: text("Odo")})
			} else {
				g.do(sit(seat, seat))
			}
		}
		g.do(FreezeList{}, Open{releases()}, Serve{Round: 1})
		for seat := 1; seat <= 3; seat++ {
			lock := g.answer(seat, 1, 0, true)
			lock.Paper = c.byHand[seat]
			if seat < 3 || len(c.byHand) != 1 { // with one on paper the third gives no answer
				g.do(lock)
			}
		}
		g.reveal()
		r := reportOf(t, g)
		for _, w := range c.wants {
			if got := r.part(t, w[0]).says(t, w[1]); !strings.Contains(got, w[2]) {
				t.Errorf("%s: %s, %s: %q does not say %q", c.name, w[0], w[1], got, w[2])
			}
		}
		for _, w := range c.not {
			if got := r.part(t, w[0]).says(t, w[1]); strings.Contains(got, w[2]) {
				t.Errorf("%s: %s, %s: %q says %q", c.name, w[0], w[1], got, w[2])
			}
		}
	}
}

// What was not measured is called so with its reason, replacements as well.
func TestReportOfTemperatures(t *testing.T) {
	g := newGame(t).toOpen(gated(), 2)
	g.do(Serve{1, 0, text("the thermometer broke.")}, g.answer(1, 1, 0, true), Void{Seat: 2, Set: 1, Reason: text("spilt"), Replace: true},
		ServeAgain{2, 1, 1, 62, Text{}}, g.answer(2, 1, 1, true), Serve{2, 58.5, Text{}}, Void{Seat: 1, Set: 2, Reason: text("spilt"), Replace: true},
		ServeAgain{1, 2, 1, 0, text("it broke again")})
	g.reveal()
	want := "Set 1 not measured (the thermometer broke), set 2 58.5 °C, set 1 poured again for seat 2 62 °C, set 2 poured again for seat 1 not measured (it broke again)."
	if got := reportOf(t, g).part(t, "samples").says(t, "serving temperature, measured"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// The assessors are told of together, by the register; nobody is named.
func TestReportOfThePanelsExperience(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell", "Ulm Ray", "Tal Ash")
	for i, s := range []Status{StatusExpert, StatusTrained, StatusTrained, StatusResting} {
		p := d.l.People[i]
		p.Status = s
		d.do(ChangePerson{p.ID, p.PersonFacts})
	}
	d.do(SetRule{Rule{Name: "Dilution", Method: Triangle.Key, Kind: KindControl, Label: "a tenth", Trials: 2, Mark: 1}})
	g, _ := played(t, planOf(6, triangles(1)), 6, 3)
	ask := func(lab *Lab) (experience, training string) {
		r, err := NewTestReport(g.s, ReportSources{Zone: time.UTC, Lab: lab})
		if err != nil {
			t.Fatal(err)
		}
		p := r.part(t, "panel")
		return p.says(t, "experience of the assessors"), p.says(t, "training of the assessors")
	}
	for name, lab := range map[string]*Lab{"no register": nil, "nobody tied": d.l} {
		if e, tr := ask(lab); e != NotRecorded || tr != NotRecorded {
			t.Errorf("%s: %q, %q", name, e, tr)
		}
	}
	for i := 1; i <= 4; i++ {
		d.do(TieSeats{d.l.People[i-1].ID, []SeatRef{{g.s.ID, i}}})
	}
	e, tr := ask(d.l)
	if e != "1 expert, 2 trained, 1 resting, their standing before that not recorded, 2 not tied to a person of the register. By the laboratory’s register, as it stands when this report is made." {
		t.Errorf("experience: %q", e)
	}
	if tr != "None of 4 held a rule of the register when the tasting began. Of 2 more nobody has said who they were." {
		t.Errorf("training: %q", tr)
	}
	d.l.Qualifications = []Qualification{
		{Person: d.l.People[0].ID, Rule: "dilution", Held: true, DecidedAt: noon},
		{Person: d.l.People[1].ID, Rule: "Dilution", Held: true, DecidedAt: noon.AddDate(1, 0, 0)}, // later
	}
	if _, tr = ask(d.l); !strings.HasPrefix(tr, "1 of 4 held the rule “Dilution” when the tasting began.") {
		t.Errorf("training: %q", tr)
	}
	for _, name := range []string{"Ena", "Ori", "Judge"} {
		if strings.Contains(e+tr, name) {
			t.Errorf("the report names %s", name)
		}
	}
}
