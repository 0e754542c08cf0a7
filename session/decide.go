package session

import (
	"encoding/hex"
	"fmt"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"
)

// Decide says which events a command causes, or why it is refused. It changes
// nothing. A command whose id has been accepted before causes none: see
// [State.Outcome].
func (s *State) Decide(c Command) ([]Event, error) {
	switch a := c.Act.(type) {
	case Draft:
		return s.decideDraft(a)
	case SetPin:
		if err := s.want(PhaseDrafted); err != nil {
			return nil, err
		}
		return one(&PinSet{a.Pin})
	case SealPlan:
		return s.decideSeal(a.Sealing)
	case OpenLobby:
		if err := s.beforeTasting(); err != nil {
			return nil, err
		}
		if s.LobbyOpen || s.Frozen {
			return nil, fmt.Errorf("the lobby: %w", ErrPhase)
		}
		return one(&LobbyOpened{})
	case Sit:
		return s.decideSit(a)
	case SitByHand:
		return s.decideSitByHand(a)
	case FreeSeat:
		return s.decideFree(a.Seat)
	case MoveSeat:
		seat, err := s.occupied(a.Seat)
		if err != nil {
			return nil, err
		}
		if seat.Claiming {
			return nil, nil
		}
		return one(&SeatMoved{Seat: a.Seat})
	case FreezeList:
		return s.decideFreeze()
	case Open:
		return s.decideOpen(a.Releases)
	case Serve:
		return s.decideServe(a)
	case EndFlight:
		return s.decideEndFlight()
	case Pause:
		if err := s.want(PhaseOpen); err != nil || s.Paused {
			return nil, err
		}
		return one(&Paused{})
	case Resume:
		if err := s.want(PhaseOpen); err != nil || !s.Paused {
			return nil, err
		}
		return one(&Resumed{})
	case Lock:
		return s.decideLock(a)
	case ServeAgain:
		return s.decideServeAgain(a)
	case Void:
		return s.decideVoid(a)
	case LeaveSeat:
		if _, err := s.occupied(a.Seat); err != nil {
			return nil, err
		}
		if !s.Frozen {
			return nil, fmt.Errorf("seat %d: free it in the lobby: %w", a.Seat, ErrPhase)
		}
		if err := checkWords(a.Reason); err != nil {
			return nil, err
		}
		return one(&SeatLeft{a.Seat, a.Reason})
	case OpenPourSheet:
		return s.decidePourSheet(a.Pin, c.At)
	case SeePourSheet:
		if err := s.poured(); err != nil {
			return nil, err
		}
		return one(&PourSheetSeen{})
	case PrintPourSheet:
		if err := s.poured(); err != nil {
			return nil, err
		}
		return one(&PourSheetPrinted{})
	case BreakSeal:
		return s.decideBreak(a)
	case NoteDeviation:
		switch s.Phase {
		case PhaseSealed, PhaseOpen, PhaseClosed:
		default:
			return nil, s.want(PhaseOpen)
		}
		if err := checkWords(a.Words); err != nil {
			return nil, err
		}
		return one(&DeviationNoted{Words: a.Words})
	case NameRole:
		return s.decideRole(a)
	case Confirm:
		return s.decideConfirm(a)
	case Amend:
		return s.decideAmend(a)
	case Close:
		if err := s.want(PhaseOpen); err != nil {
			return nil, err
		}
		return one(&Closed{Head: s.Head})
	case Reveal:
		if err := s.want(PhaseClosed); err != nil {
			return nil, err
		}
		return one(s.reveal())
	case Abandon:
		switch s.Phase {
		case PhaseNone, PhaseRevealed, PhaseAbandoned:
			return nil, s.want(PhaseDrafted)
		}
		if err := checkWords(a.Reason); err != nil {
			return nil, err
		}
		return one(&Abandoned{a.Reason})
	}
	return nil, fmt.Errorf("a session can't do %T: %w", c.Act, ErrPhase)
}

// Outcome gives what the same command has caused before, nil if nothing.
func (s *State) Outcome(c Command) []Recorded { return s.outcomes.of(c) }

func one(e Event) ([]Event, error) { return []Event{e}, nil }

func (s *State) want(p Phase) error {
	if s.Phase != p {
		now := string(s.Phase)
		if s.Phase == PhaseNone {
			now = "not drafted"
		}
		return fmt.Errorf("the session is %s, and this needs it %s: %w", now, p, ErrPhase)
	}
	return nil
}

func (s *State) decideDraft(a Draft) ([]Event, error) {
	if s.Phase != PhaseNone && s.Phase != PhaseDrafted {
		return nil, s.want(PhaseDrafted)
	}
	if a.Plan.figuresMissing() {
		return nil, fmt.Errorf("a figure is no number: %w", ErrPlan)
	}
	return one(&Drafted{Plan: a.Plan, Demo: a.Demo && s.Phase == PhaseNone})
}

func (s *State) decideSeal(seal Sealing) ([]Event, error) {
	if err := s.want(PhaseDrafted); err != nil {
		return nil, err
	}
	if f := s.Plan.Check(); f != nil {
		return nil, f
	}
	if !s.pin.isSet() {
		return nil, ErrNoPin
	}
	if !reflect.DeepEqual(seal.Plan, s.Plan) {
		return nil, fmt.Errorf("%w: the plan has changed since", ErrSeal)
	}
	if err := seal.Layout.fits(s.Plan); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrSeal, err)
	}
	if err := s.Plan.checkEligible(seal.Eligible); err != nil {
		return nil, err
	}
	return one(&Sealed{
		Plan: s.Plan, Layout: seal.Layout, Seed: Hash(seal.Seed), Salt: seal.Salt, Digest: seal.Digest, Eligible: seal.Eligible,
	})
}

// beforeTasting is nil while people of a flight can take their seats and the
// flight's tasting has not begun.
func (s *State) beforeTasting() error {
	switch {
	case s.Phase == PhaseSealed:
		return nil
	case s.Phase != PhaseOpen || s.Tasting:
		return s.want(PhaseSealed)
	case s.Stopped:
		return ErrStopped
	case s.Flight > len(s.Plan.FlightSizes()):
		return fmt.Errorf("the last flight has been served: %w", ErrPhase)
	}
	return nil
}

// occupied finds a seat that somebody has, in a phase where this matters.
func (s *State) occupied(n int) (*Seat, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseOpen)
	}
	seat := s.seat(n)
	switch {
	case seat == nil:
		return nil, fmt.Errorf("seat %d: %w", n, ErrNoSeat)
	case !s.InFlight(n):
		return nil, fmt.Errorf("seat %d: %w", n, ErrFlight)
	case !seat.Taken():
		return nil, fmt.Errorf("seat %d: %w", n, ErrNotHere)
	}
	return seat, nil
}

// decideSit gives a seat. A phone that has one keeps it, whatever it asks for;
// a seat that is being moved goes to the phone that claims it. Seats of a flight
// that has ended are not claimed: the phone may have another one there.
func (s *State) decideSit(a Sit) ([]Event, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseSealed)
	}
	if s.InFlight(s.SeatOfToken(a.Token)) {
		return nil, nil
	}
	if seat := s.seat(a.Seat); seat != nil && seat.Claiming && seat.Taken() && s.InFlight(a.Seat) {
		token := a.Token
		return one(&SeatMoved{Seat: a.Seat, Token: &token})
	}
	if s.Frozen {
		return nil, ErrFrozen
	}
	if !s.LobbyOpen {
		return nil, fmt.Errorf("the lobby is not open: %w", ErrPhase)
	}
	return s.giveSeat(a.Seat, a.Name, a.Token)
}

// giveSeat gives a free seat of the flight, the next one where n is 0.
func (s *State) giveSeat(n int, name Text, token Hash) ([]Event, error) {
	if n == 0 {
		if n = s.NextFree(); n == 0 {
			return nil, ErrFull
		}
	}
	seat := s.seat(n)
	switch {
	case seat == nil:
		return nil, fmt.Errorf("seat %d: %w", n, ErrNoSeat)
	case !s.InFlight(n):
		return nil, fmt.Errorf("seat %d: %w", n, ErrFlight)
	case seat.Person != "":
		return nil, fmt.Errorf("seat %d: %w", n, ErrTaken)
	}
	if err := checkName(name); err != nil {
		return nil, err
	}
	if s.pours(name.Words) {
		return nil, ErrPours
	}
	return one(&Joined{Seat: n, Person: personOf(token, s.Seq+1), Name: name, Token: token})
}

// decideSitByHand seats somebody with no phone, as long as seats can be taken.
func (s *State) decideSitByHand(a SitByHand) ([]Event, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseSealed)
	}
	if s.Frozen {
		return nil, ErrFrozen
	}
	if !s.LobbyOpen {
		return nil, fmt.Errorf("the lobby is not open: %w", ErrPhase)
	}
	return s.giveSeat(a.Seat, a.Name, Hash{})
}

// decideBreak opens the key early. A second time changes nothing.
func (s *State) decideBreak(a BreakSeal) ([]Event, error) {
	switch s.Phase {
	case PhaseSealed, PhaseOpen, PhaseClosed:
	default:
		return nil, s.want(PhaseSealed)
	}
	if s.Broken != nil {
		return nil, nil
	}
	if err := checkWords(a.Reason); err != nil {
		return nil, err
	}
	return one(&SealBroken{a.Reason})
}

// decideAmend takes a set out after the close: the registered result stands.
func (s *State) decideAmend(a Amend) ([]Event, error) {
	if s.Phase != PhaseClosed && s.Phase != PhaseRevealed {
		return nil, s.want(PhaseClosed)
	}
	seat := s.seat(a.Seat)
	if seat == nil || a.Set < 1 || a.Set > len(seat.Sets) || a.Take < 0 || a.Take >= len(seat.Sets[a.Set-1].Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	if t := &seat.Sets[a.Set-1].Takes[a.Take]; t.Void != nil || t.Amend != nil {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	}
	if err := checkWords(a.Reason); err != nil {
		return nil, err
	}
	return one(&Amended{a.Seat, a.Set, a.Take, a.Reason})
}

// personOf makes a session's opaque name for who sat down with a phone at an
// entry: the same phone, later, may be in other hands.
func personOf(token Hash, seq uint64) string {
	h := HashToken(append(fmt.Appendf(nil, "person at entry %d ", seq), token[:]...))
	return "p-" + hex.EncodeToString(h[:6])
}

func checkName(t Text) error { return checkText(t, "a name", 40) }

// mostWords is the most characters of a text that is not a name.
const mostWords = 200

func checkWords(t Text) error { return checkText(t, "a reason", mostWords) }

func checkText(t Text, what string, most int) error {
	if strings.TrimSpace(t.Words) == "" || utf8.RuneCountInString(t.Words) > most || !utf8.ValidString(t.Words) {
		return fmt.Errorf("%s has 1 to %d characters: %w", what, most, ErrWords)
	}
	return nil
}

func (s *State) decideFree(n int) ([]Event, error) {
	if _, err := s.occupied(n); err != nil {
		return nil, err
	}
	if s.Frozen {
		return nil, fmt.Errorf("seat %d: %w", n, ErrFrozen)
	}
	return one(&SeatFreed{n})
}

func (s *State) decideFreeze() ([]Event, error) {
	if err := s.beforeTasting(); err != nil {
		return nil, err
	}
	if s.Frozen {
		return nil, ErrFrozen
	}
	seats := s.Occupied()
	if len(seats) == 0 {
		return nil, fmt.Errorf("nobody has taken a seat: %w", ErrNotHere)
	}
	return one(&ListFrozen{seats})
}

func (s *State) decideOpen(releases []Release) ([]Event, error) {
	if err := s.beforeTasting(); err != nil {
		return nil, err
	}
	if !s.Frozen {
		return nil, fmt.Errorf("the list is not closed yet: %w", ErrPhase)
	}
	for _, lot := range []Lot{s.Plan.Untreated, s.Plan.Processed} {
		found := false
		for _, r := range releases {
			found = found || r.Lot == lot.ID
		}
		if !found {
			return nil, fmt.Errorf("lot %s: %w", lot.Words(), ErrReleased)
		}
	}
	return one(&Opened{releases})
}

func (s *State) decideServe(a Serve) ([]Event, error) {
	round := a.Round
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	switch {
	case !s.Tasting:
		return nil, fmt.Errorf("the flight has not been opened: %w", ErrPhase)
	case s.Paused:
		return nil, fmt.Errorf("the table is paused: %w", ErrPhase)
	case round == len(s.Rounds):
		return nil, nil // pressed twice
	case round != len(s.Rounds)+1 || round > s.Plan.SetsPerSeat():
		return nil, fmt.Errorf("set %d can't be served after set %d of %d: %w", round, len(s.Rounds), s.Plan.SetsPerSeat(), ErrNotFront)
	}
	looked, err := s.look()
	if err != nil {
		return nil, err
	}
	if looked != nil {
		return one(looked)
	}
	outside, err := s.Plan.Serving.checkTemperature(a.CupC, a.Reason)
	if err != nil {
		return nil, err
	}
	served := &RoundServed{round, a.CupC}
	if !outside {
		return one(served)
	}
	return []Event{served, &DeviationNoted{Words: a.Reason, Round: round}}, nil
}

// decideServeAgain serves a replacement that the gate holds back. One that is
// served already changes nothing.
func (s *State) decideServeAgain(a ServeAgain) ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	seat := s.seat(a.Seat)
	if seat == nil || a.Set < 1 || a.Set > len(seat.Sets) || a.Take < 1 || a.Take >= len(seat.Sets[a.Set-1].Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	take := &seat.Sets[a.Set-1].Takes[a.Take]
	switch {
	case take.Void != nil:
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	case !take.Waits || take.Answer != nil:
		return nil, nil
	case !seat.Taken():
		return nil, fmt.Errorf("seat %d: %w", a.Seat, ErrNotHere)
	case !s.InFlight(a.Seat):
		return nil, fmt.Errorf("seat %d: %w", a.Seat, ErrFlight)
	case s.Paused:
		return nil, fmt.Errorf("the table is paused: %w", ErrPhase)
	}
	outside, err := s.Plan.Serving.checkTemperature(a.CupC, a.Reason)
	if err != nil {
		return nil, err
	}
	served := &ReplacementServed{Seat: a.Seat, Set: a.Set, Take: a.Take, CupC: a.CupC}
	if outside {
		served.Reason = &a.Reason
	}
	return one(served)
}

// decideEndFlight ends the flight at the table, with the look that a sequential
// test wants before another one.
func (s *State) decideEndFlight() ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	switch {
	case !s.Tasting:
		return nil, fmt.Errorf("the flight has not been opened: %w", ErrPhase)
	case s.Flight >= len(s.Plan.FlightSizes()):
		return nil, fmt.Errorf("this is the last flight; close the session instead: %w", ErrPhase)
	}
	ended := &FlightEnded{s.Flight}
	looked, err := s.look()
	if err != nil {
		return nil, err
	}
	if looked == nil {
		return one(ended)
	}
	return []Event{looked, ended}, nil
}

// decideLock takes the first answer to the set in front of the seat. The same
// answer again changes nothing, because a phone resends what it was not told
// of; a different one is refused.
func (s *State) decideLock(a Lock) ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	seat := s.seat(a.Seat)
	if seat == nil || !seat.Taken() || a.Set < 1 || a.Set > len(seat.Sets) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	set := &seat.Sets[a.Set-1]
	if a.Take < 0 || a.Take >= len(set.Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	take := &set.Takes[a.Take]
	switch {
	case take.Void != nil:
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	case take.Answer != nil && s.sameAnswer(take.Answer, a):
		return nil, nil
	case take.Answer != nil:
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrAnswered)
	}
	if n, t, ok := seat.Front(); !ok || n != a.Set || t != a.Take {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	pick, also, ok := s.methodOf(a.Set).Answer(s.Codes(a.Seat, a.Set, a.Take), a.Pick, a.Also)
	if !ok {
		return nil, fmt.Errorf("seat %d, set %d, code %d: %w", a.Seat, a.Set, a.Pick, ErrNotInSet)
	}
	return one(&Locked{a.Seat, a.Set, a.Take, pick, also, a.Guess, phoneClock(a.PhoneAt), a.Paper})
}

// sameAnswer reports whether a lock says again what is kept.
func (s *State) sameAnswer(kept *Answer, a Lock) bool {
	pick, also, ok := s.methodOf(a.Set).Answer(s.Codes(a.Seat, a.Set, a.Take), a.Pick, a.Also)
	return ok && pick == kept.Pick && also == kept.Also && a.Guess == kept.Guess
}

// methodOf is the method of a set, numbered from 1.
func (s *State) methodOf(set int) Method {
	m, _ := MethodByKey(s.Plan.Tests[s.Plan.TestOfSet(set)].Method)
	return m
}

// phoneClock is a phone's time as a journal can hold it; a clock that is out of
// its mind gives the zero time and costs nobody an answer.
func phoneClock(at time.Time) time.Time {
	at = at.UTC()
	if at.Year() < 1 || at.Year() > 9999 {
		return time.Time{}
	}
	return at
}

// decideVoid takes a served set out. Its replacement can be called as long as
// the seat has been served no later set: nobody goes back to an earlier one,
// and a test for any difference must not follow an attribute test.
func (s *State) decideVoid(a Void) ([]Event, error) {
	if err := s.want(PhaseOpen); err != nil {
		return nil, err
	}
	seat := s.seat(a.Seat)
	if seat == nil || a.Set < 1 || a.Set > len(seat.Sets) || a.Take < 0 || a.Take >= len(seat.Sets[a.Set-1].Takes) {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrNotFront)
	}
	if seat.Sets[a.Set-1].Takes[a.Take].Void != nil {
		return nil, fmt.Errorf("seat %d, set %d: %w", a.Seat, a.Set, ErrVoided)
	}
	if err := checkWords(a.Reason); err != nil {
		return nil, err
	}
	events := []Event{&Voided{a.Seat, a.Set, a.Take, a.Reason}}
	if !a.Replace {
		return events, nil
	}
	if err := s.CanReplace(a.Seat, a.Set, a.Take); err != nil {
		return nil, err
	}
	return append(events, &ReplacementCalled{a.Seat, a.Set, a.Take + 1}), nil
}

// CanReplace says why a take that is voided could not be poured again, nil if
// it could.
func (s *State) CanReplace(seat, set, take int) error {
	st := s.seat(seat)
	if st == nil || set < 1 || set > len(st.Sets) {
		return fmt.Errorf("seat %d, set %d: %w", seat, set, ErrNotFront)
	}
	if !s.InFlight(seat) {
		return fmt.Errorf("seat %d: %w", seat, ErrFlight)
	}
	if s.Stopped {
		return fmt.Errorf("seat %d, set %d: %w", seat, set, ErrStopped)
	}
	if !st.Taken() {
		return fmt.Errorf("seat %d: %w", seat, ErrNotHere)
	}
	if set < len(st.Sets) && st.Sets[set].Last() != nil {
		return fmt.Errorf("seat %d, set %d: a later set has been served: %w", seat, set, ErrNoMore)
	}
	if s.Codes(seat, set, take+1) == nil {
		return fmt.Errorf("seat %d, set %d: %w", seat, set, ErrNoMore)
	}
	return nil
}

const (
	pinTries = 5
	pinWait  = time.Minute
)

// poured reports whether the pour sheet exists and is still of use.
func (s *State) poured() error {
	if s.sealed == nil || s.Phase == PhaseAbandoned {
		return s.want(PhaseSealed)
	}
	return nil
}

// decidePourSheet opens the pour sheet, or records that a PIN was wrong. After
// five wrong ones within a minute it listens to none until the minute is over.
func (s *State) decidePourSheet(pin string, at time.Time) ([]Event, error) {
	if err := s.poured(); err != nil {
		return nil, err
	}
	if n := len(s.pinMiss); n >= pinTries && at.Sub(s.pinMiss[n-pinTries]) < pinWait {
		return nil, ErrPinWait
	}
	if !s.pin.matches(pin) {
		return one(&PinRefused{})
	}
	return one(&PourSheetOpened{})
}
