package console

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"oddcup/session"
)

// trailLine is one entry of the journal in words.
type trailLine struct {
	Seq   uint64
	At    time.Time
	Who   string
	What  string
	Heads string // what begins with this entry: "Flight 2 of 6, seats 13 to 24"
}

// trailView is the audit trail as its template shows it.
type trailView struct {
	ID     session.ID
	Title  string
	Phase  session.Phase
	Answer string
	Lines  []trailLine
	Digest session.Hash
	Proof  proofView
	Next   navItem // where the session goes on
	Seal   sealView
	Copies int // of the data file, made while the key was sealed
	Form   *form
}

func (c *Console) showTrail(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	return c.trailPage(w, room.State(), http.StatusOK, filled())
}

func (c *Console) trailPage(w http.ResponseWriter, s *session.State, status int, f *form) error {
	v := trailView{
		ID: s.ID, Title: head(s).Title, Phase: s.Phase, Digest: s.Digest, Proof: proofOf(s), Next: nextPage(s),
		Seal: sealOf(s, f), Copies: c.Rooms.Lab().State().CopiesBeforeReveal(s), Form: f,
	}
	v.Lines = trailLines(s)
	v.Answer = fmt.Sprintf("%s, each bound to the one before.", entries(len(v.Lines)))
	return c.renderAs(w, status, "trail.html", Page{Title: "Audit trail", Nav: "trail", Session: head(s), Body: v})
}

// trailLines are all entries in words; the first of each flight says which it
// is.
func trailLines(s *session.State) []trailLine {
	var lines []trailLine
	all := spans(s.Plan)
	flight, headed := 1, 0
	for _, step := range s.Trail {
		line := trailLineOf(s, step)
		switch e := step.Event.(type) {
		case *session.LobbyOpened:
			if severalFlights(s.Plan) && headed != flight {
				at := all[flight-1]
				line.Heads = fmt.Sprintf("Flight %d of %d, seats %d to %d", flight, len(all), at.First, at.Last)
				headed = flight
			}
		case *session.FlightEnded:
			flight = e.Flight + 1
		case *session.Closed, *session.Abandoned:
			if headed > 0 {
				line.Heads = "After the last flight"
			}
		}
		lines = append(lines, line)
	}
	return lines
}

func entries(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

// nextPage is where a session goes on from a page that is not of its phase.
func nextPage(s *session.State) navItem {
	at := func(page, name string) navItem { return navItem{page, name, sessionPath(s, page)} }
	switch s.Phase {
	case session.PhaseNone, session.PhaseDrafted:
		return at("plan", "Go to the plan")
	case session.PhaseSealed:
		return at("lobby", "Go to the lobby")
	case session.PhaseOpen:
		if atLobby(s) {
			return at("lobby", fmt.Sprintf("Go to the lobby of flight %d", s.Flight))
		}
		return at("board", "Go to the board")
	case session.PhaseClosed:
		return at("reveal", "Go to the reveal")
	case session.PhaseRevealed:
		return at("result", "Go to the result")
	}
	return navItem{"home", "Go to the home page", "/"}
}

func trailLineOf(s *session.State, step session.Step) trailLine {
	line := trailLine{
		Seq: step.Seq, At: step.At, Who: string(step.Actor),
		What: eventWords(step.Event, s.Plan, s.Phase == session.PhaseRevealed),
	}
	if e, ok := step.Event.(*session.DeviationNoted); ok && e.Round > 0 {
		line.What = servingWords(s, step.At, e)
	}
	return line
}

// servingWords say how a set was served that was not served as planned: outside
// the temperature, or with none measured.
func servingWords(s *session.State, at time.Time, e *session.DeviationNoted) string {
	for _, d := range s.Deviations {
		if d.About != "" && d.At.Equal(at) && d.Words.Digest == e.Words.Digest {
			return "Not as planned: " + d.About + ": " + ended(typedWords(d.Words))
		}
	}
	return eventWords(e, s.Plan, false)
}

// eventWords says what happened. Before the reveal it names neither what was
// picked nor anything that the key decides; the sealed layout it never shows.
func eventWords(event session.Event, plan session.Plan, revealed bool) string {
	switch e := event.(type) {
	case *session.Drafted:
		return "Plan drafted: " + planWords(e.Plan) + "."
	case *session.PinSet:
		return "The pourer set a PIN."
	case *session.Sealed:
		return "Plan and layout sealed, digest " + session.ShortDigest(e.Digest) + "."
	case *session.LobbyOpened:
		return "Lobby opened: seats can be taken."
	case *session.Joined:
		return fmt.Sprintf("Seat %d taken by %s.", e.Seat, typedWords(e.Name))
	case *session.SeatFreed:
		return fmt.Sprintf("Seat %d freed.", e.Seat)
	case *session.SeatMoved:
		if e.Token == nil {
			return fmt.Sprintf("Seat %d given up for another phone.", e.Seat)
		}
		return fmt.Sprintf("Seat %d goes on with another phone.", e.Seat)
	case *session.ListFrozen:
		return fmt.Sprintf("List closed: %s poured for, %s.", seatsAre(len(e.Seats)), seatsInWords(e.Seats))
	case *session.Opened:
		var lots []string
		for _, r := range e.Releases {
			lot := plan.Untreated
			if r.Lot == plan.Processed.ID {
				lot = plan.Processed
			}
			lots = append(lots, fmt.Sprintf("lot %s, by %s on report %s", lot.Words(), typedWords(r.By), r.Report))
		}
		return "Tasting opened on these releases: " + strings.Join(lots, "; ") + "."
	case *session.RoundServed:
		if e.CupC > 0 {
			return fmt.Sprintf("Set %d served, a cup at %s °C.", e.Round, num(e.CupC))
		}
		return fmt.Sprintf("Set %d served.", e.Round)
	case *session.Paused:
		return "Table paused."
	case *session.Resumed:
		return "Table resumed."
	case *session.Locked:
		return lockedWords(e, revealed)
	case *session.Voided:
		return fmt.Sprintf("Seat %d, %s taken out: %s.", e.Seat, trayWords(e.Set, e.Take), typedWords(e.Reason))
	case *session.ReplacementCalled:
		return fmt.Sprintf("Seat %d, set %d called to be poured again.", e.Seat, e.Set)
	case *session.ReplacementServed:
		say := fmt.Sprintf("Replacement for seat %d, set %d served", e.Seat, e.Set)
		if e.CupC > 0 {
			say += fmt.Sprintf(", a cup at %s °C", num(e.CupC))
		}
		switch {
		case e.Reason == nil:
			return say + "."
		case e.CupC > 0:
			return say + ", outside the serving temperature: " + ended(typedWords(*e.Reason))
		}
		return say + ", and no cup’s temperature was measured: " + ended(typedWords(*e.Reason))
	case *session.SeatLeft:
		return fmt.Sprintf("Seat %d left.", e.Seat)
	case *session.FlightEnded:
		return fmt.Sprintf("Flight %d ended.", e.Flight)
	case *session.Looked:
		after := fmt.Sprintf("Look after set %d", e.Round)
		if severalFlights(plan) {
			after += fmt.Sprintf(" of flight %d", e.Flight)
		}
		if e.Stop {
			return after + ": the registered rule says stop."
		}
		return after + ": the registered rule says go on."
	case *session.SealBroken:
		return "Seal broken before the reveal: " + ended(typedWords(e.Reason))
	case *session.Amended:
		return fmt.Sprintf("After the close, seat %d, %s taken out: %s The registered result stands.", e.Seat, trayWords(e.Set, e.Take), ended(typedWords(e.Reason)))
	case *session.DeviationNoted:
		if e.Round > 0 {
			return fmt.Sprintf("Not as planned: serving of set %d: ", e.Round) + ended(typedWords(e.Words))
		}
		return "Not as planned: " + ended(typedWords(e.Words))
	case *session.RoleNamed:
		return fmt.Sprintf("Named as who %s: %s.", e.Role.Deed(), typedWords(e.Name))
	case *session.Confirmed:
		return confirmedWords(e)
	case *session.PourSheetOpened:
		return "Pour sheet opened with the PIN."
	case *session.PourSheetSeen:
		return "Pour sheet seen again where it was open; no PIN was asked."
	case *session.PourSheetPrinted:
		return printedWords(e)
	case *session.PinRefused:
		return "A wrong PIN was typed at the pour sheet."
	case *session.Closed:
		return "Tasting closed."
	case *session.Revealed:
		return revealedWords(e, plan)
	case *session.Abandoned:
		return fmt.Sprintf("Session abandoned: %s.", typedWords(e.Reason))
	}
	return capital(event.Kind()) + "."
}

// printedWords say what went to a printer, or into a file.
func printedWords(e *session.PourSheetPrinted) string {
	what := "Pour sheet"
	if e.Vessels {
		what = "Page of vessels"
	}
	if e.File {
		return what + " made into a PDF, which can be printed at any time."
	}
	return what + " sent to a printer."
}

func confirmedWords(e *session.Confirmed) string {
	say := "Confirmed: " + session.CheckName(e.Check)
	if !e.Held {
		say = "Not as planned: " + session.CheckName(e.Check)
	}
	if e.Note != nil {
		return say + ": " + ended(typedWords(*e.Note))
	}
	return say + "."
}

func lockedWords(e *session.Locked, revealed bool) string {
	say := fmt.Sprintf("Seat %d locked %s", e.Seat, trayWords(e.Set, e.Take))
	if e.Paper {
		say = fmt.Sprintf("Seat %d, %s typed in from paper", e.Seat, trayWords(e.Set, e.Take))
	}
	if !revealed {
		return say + "."
	}
	say += fmt.Sprintf(": %d", e.Pick)
	if e.Also != 0 {
		say += fmt.Sprintf(" and %d", e.Also)
	}
	if e.Guess {
		say += ", marked as a guess"
	}
	return say + "."
}

func revealedWords(e *session.Revealed, plan session.Plan) string {
	say := "Key revealed; the seal holds."
	if !e.SealHolds {
		say = "Key revealed; the seal does not hold."
	}
	for i, t := range e.Tests {
		m, _ := session.MethodByKey(t.Method)
		name, goal := m.Name, session.GoalDifference
		var p session.TestPlan
		if i < len(plan.Tests) {
			p = plan.Tests[i]
			name, goal = nameOf(p), p.Goal
		}
		say += fmt.Sprintf(" Test %d, %s: %d of %d", i+1, name, t.Correct, t.N)
		if goal != session.GoalSimilarity && !p.Sequential {
			say += ", p " + pvalue(t.P)
		}
		if goal != session.GoalDifference && !p.Sequential {
			say += ", p of similarity " + pvalue(t.SimilarP)
		}
		say += ", " + string(t.Outcome) + "."
	}
	return say
}

func planWords(p session.Plan) string {
	var tests []string
	for _, t := range p.Tests {
		tests = append(tests, fmt.Sprintf("%s (%s a seat, %s)", nameOf(t), counted(t.Sets, "set"), risksOf(t)))
	}
	say := counted(p.Seats, "seat")
	if severalFlights(p) {
		say += fmt.Sprintf(" in %d flights", len(p.Flights))
	}
	if p.Practice {
		say = "practice, " + say
	}
	if len(tests) > 0 {
		say += "; " + strings.Join(tests, ", then ")
	}
	if p.Title != "" {
		say = "“" + p.Title + "”, " + say
	}
	return say
}

// risksOf says in short what a test may claim, and at which risks.
func risksOf(t session.TestPlan) string {
	var words []string
	if t.WantsDifference() {
		words = append(words, "α "+num(t.Alpha))
	}
	if t.WantsSimilarity() {
		words = append(words, fmt.Sprintf("similarity within pd %s, β %s", pct(t.PdLimit), num(t.Beta)))
	}
	if t.Sequential {
		words = append(words, "may stop early")
	}
	return strings.Join(words, ", ")
}

// ended ends words that a person typed with a full stop, if nothing else ends
// them.
func ended(words string) string {
	if strings.HasSuffix(words, ".") || strings.HasSuffix(words, "!") || strings.HasSuffix(words, "?") {
		return words
	}
	return words + "."
}

// typedWords are what a person typed, which may have been erased since.
func typedWords(t session.Text) string {
	if t.Words == "" {
		return "(words erased)"
	}
	return t.Words
}
