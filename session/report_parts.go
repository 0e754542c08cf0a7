package session

import (
	"fmt"
	"slices"
	"strings"
)

func (w *reporter) cautions() ReportPart {
	p := ReportPart{Key: "cautions", Title: "Cautions", Note: "To be read with the answer."}
	if len(w.res.Cautions) == 0 {
		p.item("cautions", "None: nothing has to be added to the answer.")
		return p
	}
	p.item("cautions", w.res.Cautions...)
	return p
}

func (w *reporter) samples() ReportPart {
	plan := w.s.Plan
	c, s := plan.Conditions, plan.Serving
	p := ReportPart{Key: "samples", Title: "Samples"}
	a, b := plan.Untreated, plan.Processed
	p.item("nature of the treatment", treatmentWords(a), treatmentWords(b))
	p.item("untreated lot", "Lot "+a.Words()+".")
	p.item("processed lot", "Lot "+b.Words()+".")
	var origin []string
	for _, l := range []Lot{a, b} {
		if note := strings.TrimSpace(l.Note); note != "" {
			origin = append(origin, fmt.Sprintf("Lot %s: %s", l.Words(), sentence(note)))
		}
	}
	p.item("origin, as noted in the register", origin...)
	p.item("releases for tasting", w.releases()...)
	p.typed("roast, planned", c.Roast)
	p.item("preparation, planned", fmt.Sprintf("%s g of ground coffee per litre of brewing water.", plain(s.DoseGPerL)))
	p.typed("brewing water, planned", c.Water)
	supplies := plan.Supplies()
	quantity := []string{fmt.Sprintf("For each lot %.0f g of ground coffee in %.2f kg of water, replacements included.", supplies.CoffeeEachG, supplies.WaterEachG/1000)}
	if supplies.Second.CoffeeG > 0 {
		quantity = append(quantity, fmt.Sprintf("For the blank test’s second brew %.0f g in %.2f kg.", supplies.Second.CoffeeG, supplies.Second.WaterG/1000))
	}
	p.item("quantity, planned", quantity...)
	brews := "One brew of each lot was planned, and all its cups poured from it."
	if w.severalFlights() {
		brews = fmt.Sprintf("One brew of each lot was planned for each of the %d flights, and all its cups poured from it.", len(w.flights))
	}
	p.item("brews, planned", brews)
	p.item("brews as made: time, mass, strength")
	holding := ""
	if hold := c.holding(); hold != "" {
		holding = "A brew was to be held " + hold + "."
	}
	p.item("holding of the brew, planned", holding)
	p.typed("storage of the lots and of the roasted coffee", c.Storage)
	p.item("portion, planned", fmt.Sprintf("%s g in each cup, %s for each assessor, replacements aside.", plain(s.FillG), counted(plan.CupsPerSeat(), "cup")))
	vessels := ""
	if c.Vessels != "" {
		vessels = sentence(capitalFirst(strings.TrimSpace(c.Vessels)))
		if c.Lids {
			vessels += " Each cup had a lid."
		}
	} else if c.Lids {
		vessels = "Each cup had a lid."
	}
	p.item("cups, planned", vessels)
	p.item("serving temperature, planned", "Cups were to be served at "+s.window()+".")
	p.item("serving temperature, measured", w.temperatures()...)
	return p
}

func treatmentWords(l Lot) string {
	if l.Untreated() {
		return "Lot " + l.Number + ": no treatment."
	}
	return "Lot " + l.Number + ": decaffeinated, process family " + l.Treatment + "."
}

// releases are those on which any flight was opened, each once.
func (w *reporter) releases() []string {
	var say []string
	for _, step := range w.s.Trail {
		e, ok := step.Event.(*Opened)
		if !ok {
			continue
		}
		for _, r := range e.Releases {
			lot := w.s.Plan.Untreated
			if r.Lot == w.s.Plan.Processed.ID {
				lot = w.s.Plan.Processed
			}
			line := fmt.Sprintf("Lot %s: released on %s by %s, report %s.", lot.Words(), w.when(r.At), typedOrErased(r.By), r.Report)
			if !slices.Contains(say, line) {
				say = append(say, line)
			}
		}
	}
	return say
}

func typedOrErased(t Text) string {
	if t.Words == "" {
		return "(words erased)"
	}
	return t.Words
}

// temperatures are the measured ones, set by set.
func (w *reporter) temperatures() []string {
	var say []string
	for _, f := range w.flights {
		var sets []string
		measured := false
		served := func(what string, r heldRound) {
			words := what + " " + NotRecorded
			switch {
			case r.CupC > 0:
				words, measured = fmt.Sprintf("%s %s °C", what, plain(r.CupC)), true
			case r.Why != nil:
				words, measured = fmt.Sprintf("%s not measured (%s)", what, strings.TrimSuffix(typedOrErased(*r.Why), ".")), true
			}
			sets = append(sets, words)
		}
		for i, r := range f.Rounds {
			served(fmt.Sprintf("set %d", i+1), r)
		}
		for _, r := range f.Again {
			served(fmt.Sprintf("set %d poured again for seat %d", r.Set, r.Seat), r.heldRound)
		}
		if measured {
			line := strings.Join(sets, ", ") + "."
			if w.severalFlights() {
				line = fmt.Sprintf("Flight %d: %s", f.Number, line)
			}
			say = append(say, capitalFirst(line))
		}
	}
	return say
}

func (w *reporter) panel() ReportPart {
	s := w.s
	p := ReportPart{Key: "panel", Title: "Panel", Note: "Assessors are seat numbers. What a seat answered is not told."}
	listed := s.Listed()
	p.item("number of assessors", fmt.Sprintf("%d on the list, of %s planned.", len(listed), counted(s.Plan.Seats, "seat")))
	if w.severalFlights() {
		var say []string
		for _, f := range w.flights {
			say = append(say, fmt.Sprintf("Flight %d: %s, %s.", f.Number, counted(len(f.Seats), "assessor"), seatsInOrder(f.Seats)))
		}
		p.item("by flight", say...)
	}
	phones, paper, none := w.answeredOn()
	p.item("answered on phones alone", countedSeats(phones))
	p.item("paper ballots", countedSeats(paper))
	if len(none) > 0 {
		p.item("gave no answer", countedSeats(none))
	}
	p.item("experience of the assessors", w.experience()...)
	p.item("training of the assessors", w.training()...)
	p.item("age and sex of the assessors", "Not asked.")
	var odd [][]string
	for _, n := range listed {
		seat := &s.Seats[n-1]
		answered, served, out := 0, 0, 0
		for _, x := range seat.Sets {
			if len(x.Takes) > 0 {
				served++
			}
			if x.Kept() != nil {
				answered++
			}
			for _, t := range x.Takes {
				if t.Void != nil {
					out++
				}
			}
		}
		if answered == served && out == 0 && !seat.Left {
			continue
		}
		left := "no"
		if seat.Left {
			left = "yes"
		}
		odd = append(odd, []string{fmt.Sprint(n), fmt.Sprintf("%d of %d", answered, served), fmt.Sprint(out), left})
	}
	if len(odd) == 0 {
		p.item("sets answered", "Every assessor answered every set that was served, and none was taken out at the table.")
		return p
	}
	p.item("sets answered", fmt.Sprintf("%s answered every set that was served, with none taken out at the table. The others are below.", assessorsOf(len(listed)-len(odd))))
	p.Tables = append(p.Tables, ReportTable{
		Caption: "Seats with something to tell", Heads: []string{"seat", "sets answered, of those served", "trays taken out at the table", "left before the end"}, Rows: odd,
	})
	return p
}

// answeredOn parts the listed seats by what they answered on: phones alone, paper
// for one set or more, nothing.
func (w *reporter) answeredOn() (phones, paper, none []int) {
	for _, n := range w.s.Listed() {
		byPhone, byPaper := false, false
		for _, x := range w.s.Seats[n-1].Sets {
			for _, t := range x.Takes {
				byPaper = byPaper || t.Answer != nil && t.Answer.Paper
				byPhone = byPhone || t.Answer != nil && !t.Answer.Paper
			}
		}
		switch {
		case byPaper:
			paper = append(paper, n)
		case byPhone:
			phones = append(phones, n)
		default:
			none = append(none, n)
		}
	}
	return phones, paper, none
}

// onEither tells of phones and of paper what holds for each, where it was used.
func (w *reporter) onEither(phone, ballot string) []string {
	phones, paper, none := w.answeredOn()
	var say []string
	if len(phones) > 0 || len(none) > 0 || len(paper) == 0 {
		say = append(say, phone)
	}
	if len(paper) > 0 {
		say = append(say, "On paper: "+ballot)
	}
	return say
}

func assessorsOf(n int) string { return counted(n, "assessor") }

// countedSeats say how many seats, and which.
func countedSeats(seats []int) string {
	if len(seats) == 0 {
		return "None."
	}
	return fmt.Sprintf("%s, %s.", counted(len(seats), "assessor"), seatsInOrder(seats))
}

func (w *reporter) instructions() ReportPart {
	plan := w.s.Plan
	p := ReportPart{Key: "instructions", Title: "Instructions to the assessors", Note: "As phones and ballots showed them."}
	for i, t := range plan.Tests {
		m, _ := MethodByKey(t.Method)
		p.item(fmt.Sprintf("test %d, %s", i+1, m.Name), m.Ask(t), t.Definition, plan.Hint(m))
	}
	p.item("forced choice", "One answer was given for each set, and none could be “no difference”. The mark “I was guessing” could be set; such an answer counts. A locked answer was final.")
	p.typed("swallowing", plan.Serving.Swallow)
	p.item("check of the tray", w.onEither(
		"Before a phone showed the question, the code of the leftmost cup was typed, so that a wrong tray was noticed.",
		"nothing was typed. A ballot bears the codes of its tray, to be compared by eye.")...)
	pause := []string{"None was set."}
	if plan.SetsPerSeat() == 1 {
		pause = []string{"None: each assessor had one set."}
	}
	if plan.Serving.RinseS > 0 && plan.SetsPerSeat() > 1 {
		pause = w.onEither(fmt.Sprintf("%d s after each set but the last, to rinse, counted by the phone.", plan.Serving.RinseS),
			fmt.Sprintf("%d s were planned, and no phone counted them.", plan.Serving.RinseS))
	}
	p.item("pause", pause...)
	cautions := w.onEither("Hot coffee, an estimate of the caffeine, and the right to sit out without a reason were shown on the phone before a seat was taken.",
		"no phone showed them. The ballots that are printed here bear them, above the cups.")
	if a := strings.TrimSpace(plan.Serving.Allergens); a != "" {
		cautions = append(cautions, "Allergens named: "+sentence(a))
	} else {
		cautions = append(cautions, "No allergen was named in the plan.")
	}
	p.item("cautions shown", cautions...)
	return p
}

func (w *reporter) environment() ReportPart {
	plan := w.s.Plan
	c := plan.Conditions
	p := ReportPart{Key: "environment", Title: "Test environment"}
	p.item("laboratory", sentenceOrNone(w.from.Laboratory))
	p.typed("place of the tasting", c.Place)
	p.item("dates", w.dates()...)
	leader := ""
	if name := w.s.Roles[RoleHost]; name.Digest != (Hash{}) {
		leader = sentence(typedOrErased(name))
	}
	p.item("panel leader", leader)
	p.typed("booths or partitions, planned", c.Partitions)
	p.item("presentation", "Simultaneous, as planned and as the sheets instruct: all cups of a set on one tray, in the order of tasting from left to right, with a three-digit code each, and each set taken away before the next.")
	retaste := "Allowed within the set in front."
	if c.Retaste == RetasteNot {
		retaste = "Not allowed."
	}
	p.item("tasting again", retaste)
	light := []string{}
	if l := strings.TrimSpace(c.Light); l != "" {
		light = append(light, sentence(capitalFirst(l)))
	}
	if plan.Serving.RedLight {
		light = append(light, "Phones were set to the red-light theme.")
	}
	p.item("light, planned", light...)
	p.typed("masking of looks, planned", c.Masking)
	p.typed("warm-up cup, planned", c.WarmUp)
	p.typed("palate cleanser, planned", c.Cleanser)
	disclosed := "Not by this program: phones showed nobody the own answers, and no lot is named on them. Whether somebody was told otherwise: " + NotRecorded + "."
	switch {
	case plan.Practice:
		disclosed = "Each phone told at once whether an answer was right, since this was practice. No lot is named on phones. Whether somebody was told otherwise: " + NotRecorded + "."
	case plan.Serving.OwnResult:
		disclosed = "After the reveal each phone could show the own answers, by code, and which were right. No lot is named on phones. Whether somebody was told otherwise: " + NotRecorded + "."
	}
	p.item("whether identities were disclosed afterwards, and how", disclosed)
	return p
}

func sentenceOrNone(words string) string {
	if words == "" {
		return ""
	}
	return sentence(words)
}

// dates say when each flight tasted.
func (w *reporter) dates() []string {
	var say []string
	for _, f := range w.flights {
		line := "not held."
		if !f.Opened.IsZero() {
			line = fmt.Sprintf("%s, %s", w.day(f.Opened), w.clock(f.Opened))
			if !f.Ended.IsZero() {
				end := w.clock(f.Ended)
				if w.day(f.Ended) != w.day(f.Opened) {
					end = w.day(f.Ended) + ", " + end
				}
				line += " to " + end
			}
			line += "."
		}
		if w.severalFlights() {
			line = fmt.Sprintf("Flight %d: %s", f.Number, line)
		}
		say = append(say, line)
	}
	return append(say, "Times are those of the host’s laptop, in its zone: UTC"+w.s.Times[PhaseRevealed].In(w.from.Zone).Format("-07:00")+" at the reveal.")
}

func (w *reporter) roles() ReportPart {
	s := w.s
	p := ReportPart{Key: "roles", Title: "Who did what"}
	for _, r := range Roles {
		name := ""
		if _, ok := s.Roles[r]; ok {
			var names []string
			for _, t := range s.Named[r] {
				names = append(names, typedOrErased(t))
			}
			name = sentence(strings.Join(names, ", then "))
		}
		p.item(r.Deed(), name)
	}
	blind := "No sign of it in the names that are recorded."
	reason, single := s.SingleBlind()
	switch {
	case single:
		blind = "Yes. " + reason
		if w.s.brokenWhileTasting() {
			blind += " The key was known from " + w.when(s.Broken.At) + " on."
		}
	case s.Broken != nil:
		blind = "The key was known from " + w.when(s.Broken.At) + " on, when the tasting was over."
	case s.Roles[RoleHost].Words == "" || s.Roles[RolePourer].Words == "":
		blind = "" // nothing can be told of it
	}
	p.item("single blind", blind)
	printed, files, refused := 0, 0, 0
	for _, step := range s.Trail {
		switch e := step.Event.(type) {
		case *PourSheetPrinted:
			if e.File {
				files++
			} else {
				printed++
			}
		case *PinRefused:
			refused++
		}
	}
	p.item("pour sheet, which shows the key", fmt.Sprintf("Opened with the pourer’s PIN before the close: %s, for %s. Seen again where it was open, with no PIN asked: %s. Sent to a printer: %s. Made into a PDF: %s. Wrong PINs: %d.",
		times(s.SheetOpenings), counted(len(w.flights), "flight"), times(s.SheetLooks), times(printed), times(files), refused))
	copies := ""
	if w.from.Lab != nil {
		copies = fmt.Sprintf("%d, as the register notes them. Each holds the key in clear.", w.from.Lab.CopiesBeforeReveal(s))
	}
	p.item("copies of the data file made between seal and reveal", copies)
	return p
}

func times(n int) string {
	switch n {
	case 0:
		return "never"
	case 1:
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// conditions hold what was planned against what was confirmed before each
// flight's tasting began.
func (w *reporter) conditions() ReportPart {
	p := ReportPart{Key: "conditions", Title: "Conditions, as planned and as confirmed", Note: "Confirmed means: somebody looked, before the flight’s tasting was started."}
	checks := Checks(w.s.Plan)
	open, wrong := 0, 0
	t := ReportTable{Heads: []string{"planned", "before the tasting"}}
	for _, c := range checks {
		var say []string
		for _, o := range w.s.Openings {
			words := "not confirmed"
			got, ok := o.Confirmed[c.Key]
			switch {
			case !ok:
				open++
			case got.Held:
				words = "confirmed, " + w.clock(got.At)
				if got.Note.Words != "" {
					words += ": " + strings.TrimSuffix(got.Note.Words, ".")
				}
			default:
				wrong++
				words = "not so, " + w.clock(got.At) + ": " + strings.TrimSuffix(typedOrErased(got.Note), ".")
			}
			if w.severalFlights() {
				words = fmt.Sprintf("flight %d: %s", o.Flight, words)
			}
			say = append(say, words)
		}
		if len(say) == 0 {
			say = []string{NotRecorded}
		}
		t.Rows = append(t.Rows, []string{c.Words, strings.Join(say, "; ")})
	}
	all := len(checks) * len(w.s.Openings)
	switch {
	case all == 0:
		p.item("confirmed")
	default:
		say := fmt.Sprintf("%d of %d.", all-open-wrong, all)
		if wrong > 0 {
			say = fmt.Sprintf("%d of %d; %d not as planned.", all-open-wrong, all, wrong)
		}
		p.item("confirmed", say)
	}
	gate := "Serving did not wait for a measured temperature."
	if w.s.Plan.Serving.Gate {
		gate = "Serving waited for a cup’s measured temperature within " + w.s.Plan.Serving.window() + ", or for a reason."
	}
	p.item("temperature gate", gate)
	p.Tables = append(p.Tables, t)
	return p
}

// departures are all that was not as planned.
func (w *reporter) departures() ReportPart {
	s := w.s
	p := ReportPart{Key: "departures", Title: "Departures from the plan"}
	var deviations, voids, called, left, moved []string
	for _, d := range s.Deviations {
		deviations = append(deviations, fmt.Sprintf("%s: %s", w.when(d.At), capitalFirst(d.Say())))
	}
	for _, step := range s.Trail {
		switch e := step.Event.(type) {
		case *Voided:
			voids = append(voids, fmt.Sprintf("Seat %d, %s: %s", e.Seat, takeWords(e.Set, e.Take), sentence(words(e.Reason))))
		case *ReplacementCalled:
			called = append(called, fmt.Sprintf("Seat %d, set %d.", e.Seat, e.Set))
		case *SeatMoved:
			if e.Token != nil {
				moved = append(moved, fmt.Sprintf("Seat %d, on %s.", e.Seat, w.when(step.At)))
			}
		case *SeatLeft:
			left = append(left, fmt.Sprintf("Seat %d, on %s.", e.Seat, w.when(step.At)))
		}
	}
	missing := 0
	for i := range w.res.Tests {
		missing += w.res.Tests[i].Missing
	}
	broken := ""
	if s.Broken != nil {
		broken = w.broken()
	}
	for _, x := range []struct {
		name string
		says []string
	}{
		{"deviations noted", deviations},
		{"seal broken early", []string{broken}},
		{"sets taken out at the table", voids},
		{"replacements called", called},
		{"sets taken out after the close", w.amendments()},
		{"seats that left", left},
		{"seats handed to another phone", moved},
	} {
		if len(x.says) == 0 || x.says[0] == "" {
			x.says = []string{"None."}
		}
		p.item(x.name, x.says...)
	}
	p.item("sets without an answer that counts", fmt.Sprintf("%d.", missing))
	return p
}

func takeWords(set, take int) string {
	if take > 0 {
		return fmt.Sprintf("set %d, poured again", set)
	}
	return fmt.Sprintf("set %d", set)
}

// amendments are the sets taken out after the close, without their seats: beside
// the registered count and the amended one a seat would stand with its answer.
func (w *reporter) amendments() []string {
	var all []string
	for _, step := range w.s.Trail {
		if e, ok := step.Event.(*Amended); ok {
			all = append(all, fmt.Sprintf("A set of test %d, on %s: %s The audit trail names the seat.", w.s.Plan.TestOfSet(e.Set)+1, w.when(step.At), sentence(words(e.Reason))+knownWords(w.s.take(e.Seat, e.Set, e.Take).Amend.Known)))
		}
	}
	return all
}

func (w *reporter) proof() ReportPart {
	s, v := w.s, w.from.Checked
	p := ReportPart{Key: "proof", Title: "Proof"}
	p.item("session", string(s.ID)+".")
	p.item("digest of the seal", s.Digest.String())
	p.item("head hash at the close", fmt.Sprintf("%s, of entry %d.", s.ClosedAt, s.EntriesAtClose()),
		"It vouches for the plan and every answer, and not for what came after the close.")
	p.item("head hash now", fmt.Sprintf("%s, of entry %d.", s.Head, s.Seq), "It vouches for amendments too, up to that entry.")
	p.item("sealed, opened, closed, revealed", fmt.Sprintf("%s; %s; %s; %s.",
		w.when(s.Times[PhaseSealed]), w.when(s.Times[PhaseOpen]), w.when(s.Times[PhaseClosed]), w.when(s.Times[PhaseRevealed])))
	p.item("journal", entriesOf(int(s.Seq))+", each with the hash of the one before.")
	p.item("checked again for this report", sentence(capitalFirst(v.Words())))
	t := ReportTable{Caption: "What was checked", Heads: []string{"check", "state", "what it showed"}}
	for _, c := range v.Checks {
		t.Rows = append(t.Rows, []string{c.What, string(c.State), c.Say})
	}
	if len(t.Rows) > 0 {
		p.Tables = append(p.Tables, t)
	}
	return p
}

func (w *reporter) limits() ReportPart {
	p := ReportPart{Key: "limits", Title: "What this report can’t say"}
	p.item("precision and bias", "They can’t be stated for a test of this kind: its result is a conclusion about one pair of lots and one panel, not a measured quantity.") // from memory of ISO 4120
	p.item("“not significant”", "It does not mean that the lots are the same. Only a test registered for similarity can show that they are alike, and within its limit alone.")
	p.item("safety", "Solvent residue, caffeine content and mould are never judged by taste. The licensed laboratory’s release and local codes come first.")
	return p
}
