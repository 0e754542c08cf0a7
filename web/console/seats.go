package console

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/web/taster"
)

// seatState is how a seat at the table stands.
type seatState int

// The states, in the order in which the tally lists them.
const (
	seatLocked seatState = iota
	seatTasting
	seatHere
	seatAway
	seatCalling
	seatPaper
	seatMoving
	seatVoid
	seatLeft
	seatEmpty
)

// seatStates are the marks and words of the states. The tally lists the first
// five always, so that it doesn't jump, and the others where there are any.
var seatStates = []struct{ mark, word string }{
	seatLocked:  {"locked", "locked"},
	seatTasting: {"tasting", "tasting"},
	seatHere:    {"here", "here"},
	seatAway:    {"away", "away"},
	seatCalling: {"calling", "calling"},
	seatPaper:   {"paper", "on paper"},
	seatMoving:  {"expected", "expected"},
	seatVoid:    {"void", "taken out"},
	seatLeft:    {"empty", "left"},
	seatEmpty:   {"empty", "empty"},
}

const alwaysCounted = 5

func tallyOf(counts map[seatState]int) []boardCount {
	var all []boardCount
	for state, m := range seatStates {
		if n := counts[seatState(state)]; n > 0 || state < alwaysCounted {
			all = append(all, boardCount{m.mark, m.word, n})
		}
	}
	return all
}

// tileOf says how one seat stands, from its journalled sets and from the last
// that was heard of its phone.
func tileOf(s *session.State, seat *session.Seat, sign taster.Sign) boardTile {
	t := boardTile{Session: s.ID, Number: seat.Number, Done: seat.Answered(), Sets: len(seat.Sets)}
	set, take, front := seat.Front()
	_, _, awaits := seat.Awaits()
	t.Out = (front || awaits) && seat.Taken()
	switch {
	case seat.Person == "" || s.Frozen && !seat.Listed:
		t.State = seatEmpty
	case seat.Left:
		t.State = seatLeft
	case sign.Calling != "":
		t.State, t.Note = seatCalling, callWords(sign.Calling)
	case seat.Claiming:
		t.State, t.Note = seatMoving, waitsFor(seat)
	case awaits && seat.ByHand():
		t.State, t.Note, t.At = seatPaper, "poured again, called", calledAt(seat)
	case awaits && sign.InTouch:
		t.State, t.Note, t.At = seatHere, "poured again, called", calledAt(seat)
	case !front && !awaits && len(s.Rounds) > 0:
		t.through(seat, sign)
	case seat.ByHand() && front:
		t.State, t.Note, t.At = seatPaper, "since", seat.Sets[set-1].Last().At
	case seat.ByHand():
		t.State, t.Note, t.At = seatPaper, "came at", seat.Joined
	case !sign.InTouch:
		t.State = seatAway
		if t.Note = "no sign yet"; !sign.Since.IsZero() {
			t.Note, t.At, t.Ago = "quiet for", sign.Since, true
		}
	case front && sign.CheckedSet == set && sign.CheckedTake == take:
		t.State, t.Note, t.At = seatTasting, "since", sign.CheckedAt
	case front:
		t.State, t.Note, t.At = seatHere, "since", seat.Sets[set-1].Last().At
		if sign.Since.After(t.At) {
			t.Note, t.At = "back at", sign.Since
		}
	default:
		t.State, t.Note, t.At = seatHere, "came at", seat.Joined
	}
	t.Mark, t.Word = seatStates[t.State].mark, seatStates[t.State].word
	return t
}

// calledAt is when the replacement was called that a seat waits for.
func calledAt(seat *session.Seat) time.Time {
	set, take, _ := seat.Awaits()
	return seat.Sets[set-1].Takes[take].At
}

// through is a seat with nothing in front: its newest set is in, or taken out.
func (t *boardTile) through(seat *session.Seat, sign taster.Sign) {
	t.State = seatLocked
	for i := range seat.Sets {
		last := seat.Sets[i].Last()
		switch {
		case last == nil:
		case last.Void != nil:
			t.State, t.Note, t.At = seatVoid, fmt.Sprintf("set %d,", seat.Sets[i].Number), last.Void.At
		default:
			t.State, t.Note, t.At = seatLocked, "", last.Answer.At
			if last.Answer.Paper {
				t.Note = "from paper,"
			}
		}
	}
	if !sign.InTouch && t.State == seatLocked && t.Note == "" {
		t.Note = "phone sleeps,"
	}
}

// says is the state as a sentence.
func (t boardTile) says() string {
	say := capital(t.Word)
	switch {
	case t.Ago:
		return say + ", quiet since " + clock(t.At) + "."
	case t.Note != "" && !t.At.IsZero():
		return say + ", " + strings.TrimSuffix(t.Note, ",") + " " + clock(t.At) + "."
	case t.Note != "":
		return say + ", " + t.Note + "."
	case !t.At.IsZero():
		return say + " at " + clock(t.At) + "."
	}
	return say + "."
}

// callWords are a call's reason in words; a phone of another version may send
// one that is not known here.
func callWords(reason string) string {
	if w, ok := taster.CallReasons[reason]; ok {
		return w
	}
	return taster.CallReasons["other"]
}

// callReason is why a seat calls, in words, "" if it does not.
func callReason(sign taster.Sign) string {
	if sign.Calling == "" {
		return ""
	}
	return callWords(sign.Calling)
}

// needOf is what a seat wants of the host; ok is false for nothing. spoken is
// true where the page has its primary act already; chosen, where the seat's own
// panel stands on the page and has the forms, since an id may stand but once.
func needOf(s *session.State, seat *session.Seat, sign taster.Sign, f *form, spoken, chosen bool) (boardNeed, bool) {
	if s.Phase != session.PhaseOpen || !seat.Taken() || (sign.Calling == "" && sign.Wrong == 0) {
		return boardNeed{}, false
	}
	reason := callReason(sign)
	n := boardNeed{boardSeat: seatPanel(s, seat, reason, f), Calling: reason, CallAt: sign.CallAt, Chosen: chosen}
	if sign.Wrong != 0 {
		n.Wrong = &wrongTray{Typed: sign.Wrong, At: sign.WrongAt, Whose: whoseCode(s, seat, sign.Wrong)}
		if set, take, ok := seat.Front(); ok {
			n.Wrong.Left = s.Codes(seat.Number, set, take)[0]
		}
	}
	n.Trays = trayOfCall(n.Trays)
	n.Spill = sign.Calling == "spill" && len(n.Trays) > 0 && !chosen
	switch {
	case spoken:
	case n.Spill:
		n.Trays[0].Primary = true
	default:
		n.Primary = true
	}
	return n, true
}

// trayOfCall leaves the one tray that a call is about: the one in front, else
// the newest. The others stand in the seat's own panel.
func trayOfCall(trays []boardTray) []boardTray {
	var one []boardTray
	for i, t := range trays {
		if t.Open && (t.Front || len(one) == 0 || !one[0].Front) {
			one = trays[i : i+1]
		}
	}
	return one
}

// whoseCode says on which tray a typed code stands.
func whoseCode(s *session.State, seat *session.Seat, typed session.Code) string {
	front, frontTake, _ := seat.Front()
	for i := range s.Seats {
		other := &s.Seats[i]
		for set := 1; set <= len(other.Sets); set++ {
			for take := 0; ; take++ {
				codes := s.Codes(other.Number, set, take)
				if codes == nil {
					break
				}
				for at, c := range codes {
					if c != typed {
						continue
					}
					switch {
					case other.Number == seat.Number && set == front && take == frontTake:
						return fmt.Sprintf("It is the %s cup of this very tray: the tray is turned round, or its cups were moved.", place(at, len(codes)))
					case other.Number == seat.Number && set == front && take < frontTake:
						return "It stands on the tray of this set that was taken out: take that one away."
					case other.Number == seat.Number:
						return fmt.Sprintf("It stands on this seat’s own tray of %s.", trayWords(set, take))
					}
					if !s.InFlight(other.Number) {
						return fmt.Sprintf("It stands on the tray of %s of seat %d, of flight %d.", trayWords(set, take), other.Number, flightOf(s.Plan, other.Number))
					}
					return fmt.Sprintf("It stands on seat %d’s tray of %s.", other.Number, trayWords(set, take))
				}
			}
		}
	}
	return "It stands on no tray of this session."
}

func trayWords(set, take int) string {
	if take > 0 {
		return fmt.Sprintf("set %d, poured again", set)
	}
	return fmt.Sprintf("set %d", set)
}

// seatPanel is a seat with all that can be done about it. reason is what the
// field for a void's reason begins with.
func seatPanel(s *session.State, seat *session.Seat, reason string, f *form) boardSeat {
	b := boardSeat{
		Session: s.ID, Number: seat.Number, Name: seat.Name.Words, Waiting: seat.Claiming, ByHand: seat.ByHand(), Taken: seat.Taken() && s.InFlight(seat.Number),
		Form: f,
	}
	if s.Phase != session.PhaseOpen {
		return b
	}
	front, frontTake, _ := seat.Front()
	for _, set := range seat.Sets {
		for _, take := range set.Takes {
			t := boardTray{
				Session: s.ID, Seat: seat.Number, Set: set.Number, Take: take.Number,
				Codes: s.Codes(seat.Number, set.Number, take.Number),
				Field: voidField(seat.Number, set.Number, take.Number), Form: f,
			}
			if t.Reason = f.Value(t.Field); t.Reason == "" && f.Fault(t.Field) == "" {
				t.Reason = reason
			}
			switch {
			case take.Void != nil:
				t.Says = "taken out at " + clock(take.Void.At)
			case take.Answer != nil:
				t.Says, t.Open = "locked at "+clock(take.Answer.At), true
				if take.Answer.Paper {
					t.Says = "typed in from paper at " + clock(take.Answer.At)
				}
			case set.Number == front && take.Number == frontTake:
				t.Says, t.Open, t.Front, t.Ballot = "in front of the seat", true, true, seat.Taken()
			case take.Waits:
				t.Says, t.Open = "poured again, to be measured before it is served", true
			default:
				t.Says, t.Open = "waits its turn", true
			}
			if t.Open {
				t.Again, t.Why = againOrWhy(s, t)
			}
			b.Trays = append(b.Trays, t)
		}
	}
	return b
}

// againOrWhy says whether a tray can be poured again, or why not.
func againOrWhy(s *session.State, t boardTray) (again bool, why string) {
	switch err := s.CanReplace(t.Seat, t.Set, t.Take); {
	case err == nil && !s.Stopped:
		return true, ""
	case err == nil:
		return false, "It can't be poured again: the registered rule has said stop."
	case errors.Is(err, session.ErrFlight):
		return false, "It can't be poured again: its flight has ended."
	}
	if t.Take > 0 {
		return false, "It can't be poured again: this is its one replacement."
	}
	return false, "It can't be poured again: a later set has been served to this seat."
}

// againOf are the replacements on their way.
func againOf(s *session.State, f *form) []boardAgain {
	var all []boardAgain
	if s.Phase != session.PhaseOpen {
		return nil
	}
	for _, seat := range flightSeats(s) {
		for _, set := range seat.Sets {
			if last := set.Last(); last != nil && last.Number > 0 && last.Answer == nil && last.Void == nil && seat.Taken() {
				all = append(all, boardAgain{
					calledTray: calledTray{seat.Number, set.Number, last.Number, last.At},
					Session:    s.ID, ByHand: seat.ByHand(), Waits: last.Waits, Served: s.Plan.Serving.Gate && !last.Waits, Window: windowWords(s.Plan.Serving), Form: f,
				})
			}
		}
	}
	return all
}

// nextOf is the table's next step.
func nextOf(s *session.State, tiles []boardTile) boardNext {
	var n boardNext
	if s.Phase != session.PhaseOpen {
		return n
	}
	n.Early, n.Rule = unanswered(s), ruleWords(s)
	if s.Stopped {
		n.Stopped, n.Close, n.Ready = true, true, true
		n.Early = "Answers served so far are kept."
		return n
	}
	round, sets := len(s.Rounds), s.Plan.SetsPerSeat()
	last := s.Flight == len(s.Plan.FlightSizes())
	due, in := lookDue(s), s.AllIn()
	if due && in {
		n.Rule = "" // of the look before; the next one is at hand
	}
	n.Words = fmt.Sprintf("Serve set %d", round+1)
	n.Gate, n.Window = s.Plan.Serving.Gate, windowWords(s.Plan.Serving)
	switch {
	case !s.Tasting:
	case s.Paused:
		n.Say, n.Paused, n.Ready = "The table is paused. Answers in hand are still kept; no set is served.", true, true
	case round == 0:
		n.Say = fmt.Sprintf("Set 1 is the %s. Serve it when its trays stand before the tasters: it opens on all phones at once.", testName(s.Plan, 1))
		n.Serve, n.Ready = 1, true
	case round == sets && in && last:
		n.Say, n.Close, n.Ready = "Every set is in. Nothing more is to be served.", true, true
	case round == sets && in:
		n.Say = fmt.Sprintf("Every set of flight %d is in. Flight %d follows, from its own brews.", s.Flight, s.Flight+1)
		n.Ready = true
	case round == sets && last:
		n.Say = "The last set is out. The session can be closed when it is in: " + whoIsOut(tiles) + "."
	case round == sets:
		n.Say = "The last set of this flight is out. The flight can end when it is in: " + whoIsOut(tiles) + "."
	case in && due:
		n.Serve, n.Look, n.Words, n.Ready = round+1, true, "Take the look", true
		n.Say = fmt.Sprintf("Set %d is in. The registered rule looks at the whole round before set %d is poured. You hear go on or stop, and nothing else.", round, round+1)
	case in:
		n.Serve, n.Ready = round+1, true
		n.Say = fmt.Sprintf("Set %d is in. Set %d is the %s.", round, round+1, testName(s.Plan, round+1))
		n.Warn = fmt.Sprintf("Once set %d is served, set %d can't be poured again.", round+1, round)
	case due:
		n.Say = fmt.Sprintf("The registered rule looks at whole rounds only. Set %d can be served after the look, when all have locked set %d: %s.", round+1, round, whoIsOut(tiles))
		n.Warn = "Who can't go on is marked as gone, or the set is taken out with a reason."
	default:
		n.Serve = round + 1
		n.Words += " now"
		n.Say = fmt.Sprintf("Set %d can be served when the rest have locked: %s.", round+1, whoIsOut(tiles))
		seats := stillOut(s)
		n.Before = fmt.Sprintf("Serve set %d to all while %s %s not locked set %d?", round+1, seatsInWords(seats), isOne(len(seats), "has", "have"), round)
		n.BeforeSeats = fmt.Sprint(seats)
		n.Warn = fmt.Sprintf("It waits on their phones until set %d is locked. Set %d can't be poured again for anybody then.", round, round)
	}
	if !last && s.Tasting && !n.Paused && (in || !due) {
		n.ending(s, round == sets && in, due)
	}
	return n
}

// ending offers the end of the flight: as the next act once all of it is in,
// before that with what it would leave unanswered.
func (n *boardNext) ending(s *session.State, whole, due bool) {
	n.End = "End this flight"
	if due {
		n.End += ", after the look"
	}
	if !whole {
		missing, seats := missingOf(s, s.Listed())
		n.EndWarn = fmt.Sprintf("%s of %s would stay without an answer and count as missing on the report.", counted(missing, "set"), seatsInWords(seats))
	}
}

// whoIsOut counts the seats that still have a tray to answer, by state.
func whoIsOut(tiles []boardTile) string {
	counts := map[seatState]int{}
	for _, t := range tiles {
		if t.Out {
			counts[t.State]++
		}
	}
	var words []string
	for _, state := range []seatState{seatTasting, seatHere, seatPaper, seatAway, seatMoving, seatCalling} {
		if n := counts[state]; n > 0 {
			words = append(words, fmt.Sprintf("%d %s", n, seatStates[state].word))
		}
	}
	return listed(words)
}

// stillOut are the seats that still have a set to answer, one that is poured
// again included.
func stillOut(s *session.State) []int {
	var seats []int
	for _, seat := range flightSeats(s) {
		_, _, front := seat.Front()
		_, _, awaits := seat.Awaits()
		if seat.Taken() && (front || awaits) {
			seats = append(seats, seat.Number)
		}
	}
	return seats
}

// missingOf counts the sets of seats that have no answer, and names the seats.
func missingOf(s *session.State, among []int) (missing int, seats []int) {
	for _, n := range among {
		seat := &s.Seats[n-1]
		if open := len(seat.Sets) - seat.Answered(); open > 0 {
			missing += open
			seats = append(seats, n)
		}
	}
	return missing, seats
}

// unanswered says what closing now would leave without an answer, in all
// flights that were poured for, and which flights would never taste.
func unanswered(s *session.State) string {
	var poured []int
	for i := range s.Seats {
		if s.Seats[i].Listed {
			poured = append(poured, i+1)
		}
	}
	say := "Every set of every seat has an answer."
	if missing, seats := missingOf(s, poured); missing > 0 {
		say = fmt.Sprintf("%s of %s would stay without an answer and count as missing on the report. No phone can send one afterwards, and no ballot can be typed in.",
			counted(missing, "set"), seatsInWords(seats))
	}
	if !severalFlights(s.Plan) {
		return say
	}
	later := spans(s.Plan)[s.Flight:]
	if betweenFlights(s) {
		later = spans(s.Plan)[s.Flight-1:]
	}
	if len(later) > 0 {
		say += " " + capital(runOf(later)) + " would never taste."
	}
	return say
}
