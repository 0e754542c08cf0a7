package console

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// handRoutes are what the host does for people without a phone, and for what
// did not go as planned.
func (c *Console) handRoutes(r chi.Router) {
	r.Post("/s/{id}/byhand", c.page(c.sitByHand))
	r.Get("/s/{id}/seats/{n}/ballot", c.page(c.showBallot))
	r.Post("/s/{id}/seats/{n}/ballot", c.page(c.typeBallot))
	r.Post("/s/{id}/deviations", c.page(c.noteDeviation))
}

// Fields of the lobby's form for who has no phone.
const (
	handName = "byhand-name"
	handSeat = "byhand-seat"
)

// handView is that form.
type handView struct {
	ID   session.ID
	Next int   // the next free seat; 0 where there is none
	Free []int // seats that can be chosen
	Form *form
}

// handOf offers the seats that can still be taken, nil where none can.
func handOf(s *session.State, f *form) *handView {
	if !s.LobbyOpen {
		return nil
	}
	v := &handView{ID: s.ID, Next: s.NextFree(), Form: f}
	for _, seat := range flightSeats(s) {
		if seat.Person == "" {
			v.Free = append(v.Free, seat.Number)
		}
	}
	return v
}

// sitByHand seats somebody without a phone and leads to the seat.
func (c *Console) sitByHand(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	name, err := c.words(f.Value(handName))
	if err != nil {
		return err
	}
	seat, err := strconv.Atoi(f.text(handSeat))
	if err != nil || seat < 0 {
		f.bad(handSeat, "choose the seat")
	}
	if !f.Bad() {
		recs, err := c.do(r.Context(), room, session.SitByHand{Seat: seat, Name: name})
		switch {
		case errors.Is(err, session.ErrWords):
			f.bad(handName, "give a name of 1 to 40 characters")
		case errors.Is(err, session.ErrPours):
			f.bad(handName, "this name is down for pouring, and who pours can't taste; another person of the same name adds an initial")
		case errors.Is(err, session.ErrTaken):
			f.bad(handSeat, fmt.Sprintf("seat %d has been taken meanwhile: choose another one", seat))
		case errors.Is(err, session.ErrFull):
			f.bad(handSeat, "every seat is taken: free one first, if somebody has gone")
		case err != nil:
			return err
		default:
			return seeOther(w, r, sessionPath(room.State(), fmt.Sprintf("lobby?seat=%d#chosen", joinedSeat(recs))))
		}
	}
	f.Refused = "Nobody was seated."
	return c.lobbyPage(w, r, room.State(), http.StatusUnprocessableEntity, f)
}

func joinedSeat(recs []session.Recorded) int {
	for _, rec := range recs {
		if e, ok := rec.Event.(*session.Joined); ok {
			return e.Seat
		}
	}
	return 0
}

// ballotStage is how far the typing of a ballot is.
type ballotStage string

const (
	ballotType    ballotStage = "type"    // codes are chosen
	ballotSure    ballotStage = "sure"    // what will be locked is shown
	ballotRefused ballotStage = "refused" // what was typed is shown, and can't be locked
	ballotNone    ballotStage = "none"    // there is nothing to type in
)

// ballotView is a paper ballot as it is typed in. Nothing in it is read from the
// serving orders.
type ballotView struct {
	ID        session.ID
	Title     string
	Stage     ballotStage
	Seat      int
	Name      string
	Set, Take int
	Sets      int
	Test      string
	Ask       string
	Cups      []ballotCup
	Picks     int
	Picked    []session.Code // left to right
	Guess     bool
	Phone     bool // the seat has a phone, which may answer too
	Broken    bool // the seal was broken
	Answered  bool // another answer is kept
	Answer    string
	Sub       string
	Front     bool // another set is in front of the seat
	Next      navItem
	Form      *form
}

type ballotCup struct {
	Code      session.Code
	Place     string
	Reference bool // no answer
	Picked    bool
}

// ballotSeat finds the seat that the address names.
func ballotSeat(r *http.Request, s *session.State) (*session.Seat, error) {
	n, err := seatInPath(r)
	if err != nil {
		return nil, err
	}
	if n < 1 || n > len(s.Seats) {
		return nil, fmt.Errorf("seat %d: %w", n, session.ErrNoSeat)
	}
	return &s.Seats[n-1], nil
}

func (c *Console) showBallot(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	seat, err := ballotSeat(r, s)
	if err != nil {
		return err
	}
	set, take, ok := seat.Front()
	if !ok || !seat.Taken() || s.Phase != session.PhaseOpen {
		v := ballotOf(s, seat, 0, 0, filled())
		v.Stage, v.Answer = ballotNone, fmt.Sprintf("There is no ballot of seat %d to type in.", seat.Number)
		v.Sub = "Nothing is in front of the seat. A ballot can be typed in once its set has been served, and before the close."
		if set, _, waits := seat.Awaits(); waits && s.Phase == session.PhaseOpen {
			v.Sub = fmt.Sprintf("Its set %d is poured again, and waits for a cup’s temperature. Serve it on the board first; the ballot can be typed in then.", set)
		}
		return c.ballotPage(w, s, http.StatusOK, v)
	}
	return c.ballotPage(w, s, http.StatusOK, ballotOf(s, seat, set, take, filled()))
}

func (c *Console) ballotPage(w http.ResponseWriter, s *session.State, status int, v *ballotView) error {
	return c.renderAs(w, status, "ballot.html", Page{Title: fmt.Sprintf("Ballot, seat %d", v.Seat), Nav: "board", Session: head(s), Body: v})
}

// ballotOf makes the view of a seat's tray with what the form holds. set is 0
// where there is no tray.
func ballotOf(s *session.State, seat *session.Seat, set, take int, f *form) *ballotView {
	v := &ballotView{
		ID: s.ID, Title: head(s).Title, Stage: ballotType, Seat: seat.Number, Name: seat.Name.Words,
		Set: set, Take: take, Sets: len(seat.Sets), Guess: f.Is("guess", "1"), Phone: !seat.ByHand(), Broken: s.Broken != nil, Next: nextPage(s), Form: f,
	}
	if set < 1 || set > len(seat.Sets) {
		return v
	}
	test := s.Plan.Tests[s.Plan.TestOfSet(set)]
	m, _ := session.MethodByKey(test.Method)
	v.Test, v.Ask, v.Picks = nameOf(test), m.Ask(test), m.Picks
	codes := s.Codes(seat.Number, set, take)
	for i, code := range codes {
		cup := ballotCup{Code: code, Place: place(i, len(codes)), Reference: i < m.References()}
		cup.Picked = slices.Contains(f.values["pick"], strconv.Itoa(int(code)))
		if cup.Picked {
			v.Picked = append(v.Picked, code)
		}
		v.Cups = append(v.Cups, cup)
	}
	v.Answer = fmt.Sprintf("What did seat %d mark?", seat.Number)
	return v
}

// PickWords are the codes that were chosen, as in a sentence.
func (v ballotView) PickWords() string {
	var words []string
	for _, c := range v.Picked {
		words = append(words, strconv.Itoa(int(c)))
	}
	return listed(words)
}

// SetWords name the tray: "set 1", "set 1, poured again".
func (v ballotView) SetWords() string { return trayWords(v.Set, v.Take) }

// typeBallot takes a ballot in two steps: what was chosen is shown first, then
// locked. A refusal keeps what was typed.
func (c *Console) typeBallot(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	seat, err := ballotSeat(r, s)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	set, err := number(r, "set")
	if err != nil {
		return err
	}
	take, err := number(r, "take")
	if err != nil {
		return err
	}
	v := ballotOf(s, seat, set, take, f)
	if len(v.Cups) == 0 {
		return fmt.Errorf("seat %d, set %d: %w", seat.Number, set, session.ErrNotFront)
	}
	act := session.Lock{Seat: seat.Number, Set: set, Take: take, Guess: v.Guess, Paper: true}
	if n := len(v.Picked); n == v.Picks && n == len(f.values["pick"]) {
		act.Pick = v.Picked[0]
		if n == 2 {
			act.Also = v.Picked[1]
		}
	} else {
		act.Pick = v.Cups[len(v.Cups)-1].Code // any: whether the set can be answered at all is asked first
		if v.Picks == 2 {
			act.Also = v.Cups[len(v.Cups)-2].Code
		}
		f.bad("pick", pickFault(v.Picks, n))
	}
	// Decide changes nothing: it says whether the lock would be taken.
	_, err = s.Decide(session.Command{At: c.Now(), Actor: session.Host, Act: act})
	switch {
	case err != nil:
		return c.ballotRefused(w, s, seat, v, err)
	case f.Bad():
		return c.ballotPage(w, s, http.StatusUnprocessableEntity, v)
	case f.Is("step", string(ballotType)):
		return c.ballotPage(w, s, http.StatusOK, v)
	case !f.Is("step", "lock"):
		v.Stage = ballotSure
		v.Answer = fmt.Sprintf("Lock %s for seat %d?", v.PickWords(), v.Seat)
		return c.ballotPage(w, s, http.StatusOK, v)
	}
	if _, err := c.do(r.Context(), room, act); err != nil {
		return c.ballotRefused(w, room.State(), seat, v, err)
	}
	return seeOther(w, r, sessionPath(room.State(), "board"))
}

func pickFault(picks, got int) string {
	switch {
	case picks == 2 && got < 2:
		return "choose the two cups that are marked on the ballot; with fewer marked, ask the taster"
	case picks == 2:
		return "choose two cups, no more: the answer is one pair"
	}
	return "choose the cup that is marked on the ballot; with none marked, ask the taster: the choice is forced"
}

// ballotRefused shows what was typed with the reason why it is not kept.
func (c *Console) ballotRefused(w http.ResponseWriter, s *session.State, seat *session.Seat, v *ballotView, err error) error {
	set := fmt.Sprintf("Seat %d, %s", v.Seat, trayWords(v.Set, v.Take))
	switch {
	case errors.Is(err, session.ErrAnswered):
		v.Answered, v.Answer = true, set+" is locked already, with another answer. The ballot was not kept."
		v.Sub = "An answer can’t be changed. Which of the two was the taster’s own? If it is not the one that is kept, take the set out with a reason, or note a deviation."
	case errors.Is(err, session.ErrVoided):
		v.Answer = set + " was taken out. The ballot was not kept."
		v.Sub = "A ballot of a set that was taken out does not count. Its replacement, if there is one, has other codes and a ballot of its own."
	case errors.Is(err, session.ErrNotFront):
		v.Answer = set + " is not in front of the seat. The ballot was not kept."
		v.Sub = "Ballots are typed in in the order in which the sets were served, and of people who are here."
	case errors.Is(err, session.ErrPhase):
		v.Answer = set + " can’t be answered any more. The ballot was not kept."
		v.Sub = "After the close nothing is added. Keep the paper with the report; if the set counts as missing, the report says so."
	default:
		return err
	}
	v.Stage, v.Next = ballotRefused, nextPage(s)
	_, _, v.Front = s.Seats[seat.Number-1].Front()
	v.Front = v.Front && s.Phase == session.PhaseOpen
	return c.ballotPage(w, s, http.StatusConflict, v)
}

// ballotDue is a set in front of a seat that answers on paper.
type ballotDue struct {
	Session         session.ID
	Seat, Set, Take int
	Name            string
}

// ballotsDue are the ballots that are still to be typed in, in seat order.
func ballotsDue(s *session.State) []ballotDue {
	var all []ballotDue
	if s.Phase != session.PhaseOpen {
		return nil
	}
	for i := range s.Seats {
		seat := &s.Seats[i]
		if set, take, ok := seat.Front(); ok && seat.Taken() && seat.ByHand() {
			all = append(all, ballotDue{s.ID, seat.Number, set, take, seat.Name.Words})
		}
	}
	return all
}

// deviationField is where words about a deviation are typed.
const deviationField = "deviation"

// deviationsView is what did not go as planned, and the form to note more.
type deviationsView struct {
	ID    session.ID
	Noted []session.Noting // oldest first
	Can   bool             // more can be noted
	Not   int              // checks of the bench that do not hold
	Here  bool             // on the bench page
	Bench string           // how far its checks are, for the link to it
	Form  *form
}

func deviationsOf(s *session.State, f *form) deviationsView {
	can := s.Phase == session.PhaseSealed || s.Phase == session.PhaseOpen || s.Phase == session.PhaseClosed
	_, not, _ := benchCount(s)
	return deviationsView{ID: s.ID, Noted: s.Deviations, Not: not, Can: can, Bench: benchWords(s), Form: f}
}

// noteDeviation writes down what was not as planned, and leads back to where
// the session is.
func (c *Console) noteDeviation(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	words, err := c.words(f.Value(deviationField))
	if err != nil {
		return err
	}
	_, err = c.do(r.Context(), room, session.NoteDeviation{Words: words})
	s := room.State()
	if errors.Is(err, session.ErrWords) {
		f.bad(deviationField, "say in 1 to 200 characters what was not as planned")
		f.Refused = "The deviation was not noted."
		switch {
		case f.Is("from", "bench"):
			return c.benchPage(w, s, http.StatusUnprocessableEntity, f)
		case s.Phase == session.PhaseClosed:
			return c.revealPage(w, s, http.StatusUnprocessableEntity, f)
		case s.Phase == session.PhaseOpen && !atLobby(s):
			return c.boardPage(w, s, 0, http.StatusUnprocessableEntity, f)
		}
		return c.lobbyPage(w, r, s, http.StatusUnprocessableEntity, f)
	}
	if err != nil {
		return err
	}
	switch {
	case f.Is("from", "bench"):
		return seeOther(w, r, sessionPath(s, "bench#deviations"))
	case s.Phase == session.PhaseClosed:
		return seeOther(w, r, sessionPath(s, "reveal"))
	}
	return seeOther(w, r, tableOf(s))
}
