package console

import (
	"fmt"
	"html/template"
	"net/http"
	"strings"
	"time"

	"oddcup/session"
	"oddcup/web/look"
	"oddcup/web/taster"
)

// lobbyView is the lobby as its templates show it.
type lobbyView struct {
	ID       session.ID
	Title    string // of the session
	Phase    session.Phase
	At       bool   // people can come, or are about to
	Flight   string // at the table, "" where all seats are one
	Range    string // its seats, in words
	Others   string // the other flights, in a line
	Answer   string // how things stand
	Sub      string
	Opened   time.Time // when the lobby was opened
	Open     bool      // seats can be taken
	Frozen   bool
	Seats    []lobbySeat
	Came     int    // have a seat
	Many     bool   // the act stands above the grid, or nobody would find it
	Quiet    string // what to do about quiet phones before the list is closed
	Gap      string // the seats taken are no unbroken run from 1
	First    string // which seats are poured for, in words
	Join     string // the address that the QR code holds
	Address  string // the same, to be typed
	QR       template.HTML
	Trouble  string // why phones may not arrive, "" if nothing is known
	Chosen   *lobbySeat
	Unsafe   []session.Lot // lots without a release
	Refused  bool          // the start was just refused because of them
	Go       string        // where the page leads by itself, "" for nowhere
	Expected int
	Start    string       // words of the act that begins the tasting
	Left     string       // how far the bench's checks are, "" where all are confirmed
	Hand     *handView    // seats somebody without a phone; nil where nobody can come
	Twice    []string     // seats that one person may have taken
	Besides  []otherLobby // lobbies of other sessions that are open as well
	Noted    deviationsView
	Form     *form
}

type lobbySeat struct {
	Session session.ID
	Number  int
	Mark    string
	Word    string
	At      time.Time // of what the word says; zero if it has no time
	Ago     bool      // At is shown as a duration
	Name    string
	Taken   bool
	ByHand  bool // answers on paper
	Waiting bool // for a phone
	Chosen  bool
}

// many is from how many seats on a page is too long for its act to stand last.
const many = 48

func (c *Console) showLobby(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	return c.lobbyPage(w, r, room.State(), http.StatusOK, filled())
}

func (c *Console) lobbyPage(w http.ResponseWriter, r *http.Request, s *session.State, status int, f *form) error {
	v, err := c.lobby(s, chosenSeat(r, s), f)
	if err != nil {
		return err
	}
	v.Refused = status != http.StatusOK && !f.Bad()
	p := Page{Title: "Lobby", Nav: "lobby", Session: head(s), Body: v}
	if s.Phase == session.PhaseSealed || s.Phase == session.PhaseOpen {
		p.Live = liveAddress(s, "lobby", v.Chosen != nil, chosenSeat(r, s))
	}
	return c.renderAs(w, status, "lobby.html", p)
}

func liveAddress(s *session.State, page string, chosen bool, seat int) string {
	to := sessionPath(s, "live?page="+page)
	if chosen {
		to += fmt.Sprintf("&seat=%d", seat)
	}
	return to
}

// lobby makes the view of a state; chosen is the seat singled out, 0 for none.
// f is a form that was refused, or an empty one.
func (c *Console) lobby(s *session.State, chosen int, f *form) (*lobbyView, error) {
	v := &lobbyView{
		ID: s.ID, Title: head(s).Title, Phase: s.Phase, At: atLobby(s), Open: s.LobbyOpen, Frozen: s.Frozen,
		Flight: flightWords(s), Others: otherFlights(s), Trouble: c.JoinTrouble, Start: startWords(s),
		Hand: handOf(s, f), Twice: twiceWords(s), Noted: deviationsOf(s, f), Form: f,
	}
	if s.LobbyOpen {
		v.Besides = c.otherLobbies(s.ID)
	}
	if confirmed, _, all := benchCount(s); confirmed < all {
		v.Left = benchWords(s)
	}
	seats := flightSeats(s)
	v.Many = len(seats) > many
	if v.Flight != "" {
		v.Range = fmt.Sprintf("seats %d to %d", seats[0].Number, seats[len(seats)-1].Number)
	}
	for _, step := range s.Trail {
		if _, ok := step.Event.(*session.LobbyOpened); ok {
			v.Opened = step.At
		}
	}
	var taken, quiet []int
	for i, seat := range seats {
		sign := c.Presence.Seat(s.ID, seat.Number)
		ls := lobbySeatOf(s, seat, sign)
		ls.Chosen = seat.Number == chosen
		v.Seats = append(v.Seats, ls)
		if seat.Taken() {
			taken = append(taken, seat.Number)
			if !sign.InTouch && !seat.Claiming && !seat.ByHand() {
				quiet = append(quiet, seat.Number)
			}
		}
		if ls.Chosen && seat.Taken() {
			v.Chosen = &v.Seats[i]
		}
	}
	v.Came, v.Expected = len(taken), len(seats)-len(taken)
	if v.At {
		v.Unsafe = c.unreleased(s.Plan)
	}
	v.sentences(s, taken, quiet)
	if v.At {
		if door := s.Door(); c.Join != "" && (s.LobbyOpen || s.Frozen) {
			v.Join = c.Join + "/j/" + door
			v.Address = strings.TrimPrefix(v.Join, "http://")
			var err error
			if v.QR, err = look.QR(v.Join, 216); err != nil {
				return nil, err
			}
		}
	}
	return v, nil
}

// unreleased are the plan's lots that the register has no release for.
func (c *Console) unreleased(p session.Plan) []session.Lot {
	var lots []session.Lot
	lab := c.Rooms.Lab().State()
	for _, lot := range []session.Lot{p.Untreated, p.Processed} {
		if len(lab.ReleasesOf(lot.ID)) == 0 {
			lots = append(lots, lot)
		}
	}
	return lots
}

// lobbySeatOf says how one seat stands before anything is served.
func lobbySeatOf(s *session.State, seat *session.Seat, sign taster.Sign) lobbySeat {
	l := lobbySeat{Session: s.ID, Number: seat.Number, Name: seat.Name.Words, Taken: seat.Taken(), ByHand: seat.ByHand(), Waiting: seat.Claiming}
	switch {
	case seat.Left:
		l.Mark, l.Word = "empty", "left"
	case !seat.Taken() && (s.Frozen || !s.LobbyOpen):
		l.Mark, l.Word = "empty", "empty"
	case !seat.Taken():
		l.Mark, l.Word = "expected", "expected"
	case seat.Claiming:
		l.Mark, l.Word = "expected", waitsFor(seat)
	case seat.ByHand():
		l.Mark, l.Word, l.At = "paper", "on paper", seat.Joined
	case sign.InTouch:
		l.Mark, l.Word, l.At = "here", "here", seat.Joined
	case sign.Since.IsZero():
		l.Mark, l.Word = "away", "no sign yet"
	default:
		l.Mark, l.Word, l.At, l.Ago = "away", "quiet", sign.Since, true
	}
	return l
}

// waitsFor says what a seat that is handed over waits for.
func waitsFor(seat *session.Seat) string {
	if seat.ByHand() {
		return "waits for a phone"
	}
	return "waits for another phone"
}

// sentences says how the lobby stands.
func (v *lobbyView) sentences(s *session.State, taken, quiet []int) {
	here := len(taken) - len(quiet)
	n, first := len(v.Seats), 1
	if n > 0 {
		first = v.Seats[0].Number
	}
	if len(quiet) > 0 {
		v.Quiet = capital(seatsInWords(quiet)) + " went quiet. A phone that sleeps comes back by itself. " +
			"If nobody sits there, free the seat before you close the list, or its cups are poured for no one."
	}
	if gaps := gapsIn(taken, first); len(gaps) > 0 {
		v.Gap = fmt.Sprintf("%s %s empty. Serving orders are as even as they can be only where the seats taken run from %d without a gap: let whoever comes next sit there.",
			capital(seatsInWords(gaps)), areIs(len(gaps)), first)
	}
	v.First = seatsInWords(taken)
	switch {
	case s.Phase == session.PhaseNone || s.Phase == session.PhaseDrafted:
		v.Answer = "There is no lobby yet: the plan is not sealed."
		v.Sub = "Sealing draws the orders and codes. After it people can take seats."
	case s.Phase == session.PhaseOpen && !v.At:
		v.Answer, v.Go = "The tasting has begun.", sessionPath(s, "board")
		v.Sub = "Everything from here on stands on the board."
		if s.Stopped {
			v.Answer, v.Sub = "Nobody can come any more.", ruleWords(s)
		}
	case s.Phase == session.PhaseAbandoned:
		v.Answer, v.Sub = "This session was abandoned.", "Nobody can come to it any more. Plan another one from the home page."
	case !v.At:
		v.Answer, v.Sub = "The tasting is over.", "Nobody can come to it any more."
	case s.Frozen:
		v.Answer = fmt.Sprintf("%s poured for. The list is closed.", peopleAre(len(taken)))
		v.Sub = fmt.Sprintf("Cups are poured for %s. Start when the first trays are poured; the first set is still served by hand.", v.First)
		if len(v.Unsafe) > 0 {
			v.Sub = fmt.Sprintf("Cups are to be poured for %s, once nothing below stands in the way.", v.First)
		}
	case !s.LobbyOpen:
		v.shut(s, n)
	case len(taken) == 0:
		v.Answer = fmt.Sprintf("Nobody is here yet. %s expected.", peopleAre(n))
		v.Sub = "A seat fills as soon as its phone has read the code on the seat card, or the one on this page."
		if betweenFlights(s) {
			v.Sub = "Put the cards of this flight on the places first. Each person sits down, then scans the card in front of them; a phone of an earlier flight can be used again."
		}
	default:
		v.Answer = arrivals(n, here, len(quiet))
	}
}

// shut says how things stand before the lobby of a flight is opened.
func (v *lobbyView) shut(s *session.State, seats int) {
	v.Answer = "The lobby is shut. Nobody can take a seat yet."
	v.Sub = fmt.Sprintf("%s sealed. Lay out the seat cards, then open the lobby.", seatsAre(seats))
	if !betweenFlights(s) {
		return
	}
	v.Answer = fmt.Sprintf("Flight %d is done. Flight %d is next.", s.Flight-1, s.Flight)
	v.Sub = fmt.Sprintf("Brew anew, lay out the cards of %s, then open the lobby. It may be on another day.", v.Range)
	if rule := ruleWords(s); rule != "" {
		v.Sub = rule + " " + v.Sub
	}
}

// arrivals is the lobby's headline while people come.
func arrivals(seats, here, quiet int) string {
	say := peopleAre(here) + " here."
	if here == 0 {
		say = "Nobody is in touch."
	}
	if here == seats {
		return fmt.Sprintf("All %d are here.", seats)
	}
	var rest []string
	if expected := seats - here - quiet; expected > 0 {
		rest = append(rest, inWords(expected)+" "+areIs(expected)+" expected")
	}
	if quiet > 0 {
		word := "phones"
		if quiet == 1 {
			word = "phone"
		}
		rest = append(rest, inWords(quiet)+" "+word+" went quiet")
	}
	return say + " " + sentence(strings.Join(rest, ", "))
}

// peopleAre begins a sentence: "1 is", "22 are".
func peopleAre(n int) string { return fmt.Sprintf("%d %s", n, areIs(n)) }

// seatsAre begins a sentence: "24 seats are".
func seatsAre(n int) string { return counted(n, "seat") + " " + areIs(n) }

// gapsIn are the numbers that a rising list leaves out between the first seat
// and its last.
func gapsIn(seats []int, first int) []int {
	var gaps []int
	next := first
	for _, n := range seats {
		for ; next < n; next++ {
			gaps = append(gaps, next)
		}
		next = n + 1
	}
	return gaps
}

// lobbyParts are the parts of the lobby that change.
func (c *Console) lobbyParts(v *lobbyView) (map[string]template.HTML, error) {
	parts, err := c.fragments(map[string]string{
		"lobby-title": "lobby-title", "lobby-act": "lobby-act", "lobby-chosen": "lobby-chosen", "lobby-join": "lobby-join",
		"lobby-hand": "lobby-hand", "lobby-help": "lobby-help",
	}, v)
	if err != nil {
		return nil, err
	}
	if parts["deviations"], err = c.fragment("deviations", v.Noted); err != nil {
		return nil, err
	}
	for _, seat := range v.Seats {
		html, err := c.fragment("lobby-seat", seat)
		if err != nil {
			return nil, err
		}
		parts[fmt.Sprintf("seat-%d", seat.Number)] = html
	}
	return parts, nil
}
