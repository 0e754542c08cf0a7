package console

import (
	"fmt"
	"strings"

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
	t.Out = front && seat.Taken()
	switch {
	case seat.Person == "" || s.Frozen && !seat.Listed:
		t.State = seatEmpty
	case seat.Left:
		t.State, t.Note = seatLeft, seat.LeftFor.Words
	case sign.Calling != "":
		t.State, t.Note = seatCalling, callWords(sign.Calling)
	case seat.Claiming:
		t.State, t.Note = seatMoving, "waits for another phone"
	case !front && len(s.Rounds) > 0:
		t.through(seat, sign)
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
		}
	}
	if !sign.InTouch && t.State == seatLocked {
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
					case other.Number == seat.Number:
						return fmt.Sprintf("It stands on this seat’s own tray of %s.", trayWords(set, take))
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
		Session: s.ID, Number: seat.Number, Name: seat.Name.Words, Waiting: seat.Claiming, Taken: seat.Taken(),
		Leave: leaveField(seat.Number), Form: f,
	}
	b.Reason = f.Value(b.Leave)
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
			case set.Number == front && take.Number == frontTake:
				t.Says, t.Open, t.Front = "in front of the seat", true, true
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
	if s.CanReplace(t.Seat, t.Set, t.Take) == nil {
		return true, ""
	}
	if t.Take > 0 {
		return false, "It can't be poured again: this is its one replacement."
	}
	return false, "It can't be poured again: a later set has been served to this seat."
}

// againOf are the replacements on their way.
func againOf(s *session.State) []boardAgain {
	var all []boardAgain
	if s.Phase != session.PhaseOpen {
		return nil
	}
	for i := range s.Seats {
		seat := &s.Seats[i]
		for _, set := range seat.Sets {
			if last := set.Last(); last != nil && last.Number > 0 && last.Answer == nil && last.Void == nil && seat.Taken() {
				all = append(all, boardAgain{s.ID, seat.Number, set.Number, last.Number, last.At})
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
	round, sets := len(s.Rounds), s.Plan.SetsPerSeat()
	n.Early = unanswered(s)
	switch {
	case s.Paused:
		n.Say, n.Paused, n.Ready = "The table is paused. Answers in hand are still kept; no set is served.", true, true
	case round == 0:
		n.Say = fmt.Sprintf("Set 1 is the %s. Serve it when its trays stand before the tasters: it opens on all phones at once.", testName(s.Plan, 1))
		n.Serve, n.Ready = 1, true
	case round == sets && s.AllIn():
		n.Say, n.Close, n.Ready = "Every set is in. Nothing more is to be served.", true, true
	case round == sets:
		n.Say = "The last set is out. The session can be closed when it is in: " + whoIsOut(tiles) + "."
	case s.AllIn():
		n.Serve, n.Ready = round+1, true
		n.Say = fmt.Sprintf("Set %d is in. Set %d is the %s.", round, round+1, testName(s.Plan, round+1))
		n.Warn = fmt.Sprintf("Once set %d is served, set %d can't be poured again.", round+1, round)
	default:
		n.Serve = round + 1
		n.Say = fmt.Sprintf("Set %d opens for all when the rest have locked: %s.", round+1, whoIsOut(tiles))
		n.Warn = fmt.Sprintf("Served now, it waits for those still at set %d, and set %d can't be poured again.", round, round)
	}
	return n
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
	for _, state := range []seatState{seatTasting, seatHere, seatAway, seatMoving, seatCalling} {
		if n := counts[state]; n > 0 {
			words = append(words, fmt.Sprintf("%d %s", n, seatStates[state].word))
		}
	}
	return listed(words)
}

// unanswered says what closing now would leave without an answer.
func unanswered(s *session.State) string {
	missing := 0
	var seats []int
	for _, n := range s.Listed() {
		seat := &s.Seats[n-1]
		if open := len(seat.Sets) - seat.Answered(); open > 0 {
			missing += open
			seats = append(seats, n)
		}
	}
	if missing == 0 {
		return "Every set of every seat has an answer."
	}
	return fmt.Sprintf("%s of %s would stay without an answer and count as missing on the report. No phone can send one afterwards.",
		counted(missing, "set"), seatsInWords(seats))
}
