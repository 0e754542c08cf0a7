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
	Seq  uint64
	At   time.Time
	Who  string
	What string
}

// trailView is the audit trail as its template shows it.
type trailView struct {
	ID       session.ID
	Title    string
	Phase    session.Phase
	Answer   string
	Lines    []trailLine
	Digest   session.Hash
	ClosedAt session.Hash
	Next     navItem // where the session goes on
}

func (c *Console) showTrail(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	v := trailView{ID: s.ID, Title: head(s).Title, Phase: s.Phase, Digest: s.Digest, ClosedAt: s.ClosedAt, Next: nextPage(s)}
	for _, step := range s.Trail {
		v.Lines = append(v.Lines, trailLineOf(s, step))
	}
	v.Answer = fmt.Sprintf("%s, each bound to the one before.", entries(len(v.Lines)))
	return c.render(w, "trail.html", Page{Title: "Trail", Nav: "trail", Session: head(s), Body: v})
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
		return at("board", "Go to the board")
	case session.PhaseClosed:
		return at("reveal", "Go to the reveal")
	case session.PhaseRevealed:
		return at("result", "Go to the result")
	}
	return navItem{"home", "Go to the home page", "/"}
}

func trailLineOf(s *session.State, step session.Step) trailLine {
	return trailLine{step.Seq, step.At, string(step.Actor), eventWords(step.Event, s.Plan, s.Phase == session.PhaseRevealed)}
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
	case *session.SeatLeft:
		return fmt.Sprintf("Seat %d left: %s.", e.Seat, typedWords(e.Reason))
	case *session.PourSheetOpened:
		return "Pour sheet opened with the PIN."
	case *session.PourSheetPrinted:
		return "Pour sheet sent to a printer."
	case *session.PinRefused:
		return "A wrong PIN was typed at the pour sheet."
	case *session.Closed:
		return "Tasting closed."
	case *session.Revealed:
		return revealedWords(e)
	case *session.Abandoned:
		return fmt.Sprintf("Session abandoned: %s.", typedWords(e.Reason))
	}
	return capital(event.Kind()) + "."
}

func lockedWords(e *session.Locked, revealed bool) string {
	say := fmt.Sprintf("Seat %d locked %s", e.Seat, trayWords(e.Set, e.Take))
	if !revealed {
		return say + "."
	}
	if e.Guess {
		return fmt.Sprintf("%s: %d, marked as a guess.", say, e.Pick)
	}
	return fmt.Sprintf("%s: %d.", say, e.Pick)
}

func revealedWords(e *session.Revealed) string {
	say := "Key revealed; the seal holds."
	if !e.SealHolds {
		say = "Key revealed; the seal does not hold."
	}
	for i, t := range e.Tests {
		m, _ := session.MethodByKey(t.Method)
		say += fmt.Sprintf(" Test %d, %s: %d of %d, p %s, %s.", i+1, m.Name, t.Correct, t.N, pvalue(t.P), t.Outcome)
	}
	return say
}

func planWords(p session.Plan) string {
	var tests []string
	for _, t := range p.Tests {
		tests = append(tests, fmt.Sprintf("%s (%s a seat, α %s)", nameOf(t), counted(t.Sets, "set"), num(t.Alpha)))
	}
	say := counted(p.Seats, "seat")
	if len(tests) > 0 {
		say += "; " + strings.Join(tests, ", then ")
	}
	if p.Title != "" {
		say = "“" + p.Title + "”, " + say
	}
	return say
}

// typedWords are what a person typed, which may have been erased since.
func typedWords(t session.Text) string {
	if t.Words == "" {
		return "(words erased)"
	}
	return t.Words
}
