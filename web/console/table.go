package console

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"oddcup/session"
)

// tableRoutes are the pages while people are at the table: the lobby, where they
// come, and the board, where they taste.
func (c *Console) tableRoutes(r chi.Router) {
	r.Get("/s/{id}/lobby", c.page(c.showLobby))
	r.Post("/s/{id}/lobby", c.page(c.press("lobby", func(*http.Request) (session.Act, error) { return session.OpenLobby{}, nil })))
	r.Post("/s/{id}/freeze", c.page(c.press("lobby", func(*http.Request) (session.Act, error) { return session.FreezeList{}, nil })))
	r.Post("/s/{id}/open", c.page(c.openTasting))
	r.Get("/s/{id}/live", c.page(c.liveTable))

	r.Post("/s/{id}/seats/{n}/free", c.page(c.press("", func(r *http.Request) (session.Act, error) {
		n, err := seatInPath(r)
		return session.FreeSeat{Seat: n}, err
	})))
	r.Post("/s/{id}/seats/{n}/move", c.page(c.press("", func(r *http.Request) (session.Act, error) {
		n, err := seatInPath(r)
		return session.MoveSeat{Seat: n}, err
	})))
	r.Post("/s/{id}/seats/{n}/coming", c.page(c.goThere))
	r.Post("/s/{id}/seats/{n}/leave", c.page(c.leaveSeat))

	r.Get("/s/{id}/board", c.page(c.showBoard))
	r.Post("/s/{id}/serve", c.page(c.serveSet))
	r.Post("/s/{id}/serve/again", c.page(c.serveAgain))
	r.Post("/s/{id}/pause", c.page(c.press("board", func(*http.Request) (session.Act, error) { return session.Pause{}, nil })))
	r.Post("/s/{id}/resume", c.page(c.press("board", func(*http.Request) (session.Act, error) { return session.Resume{}, nil })))
	r.Post("/s/{id}/void", c.page(c.voidSet))
	r.Post("/s/{id}/flight/end", c.page(c.endFlight))
	r.Post("/s/{id}/close", c.page(c.press("reveal", func(*http.Request) (session.Act, error) { return session.Close{}, nil })))
}

// press answers a form that has nothing typed in it: one command, then on to a
// page; "" is the lobby or the board, whichever the session is at.
func (c *Console) press(to string, act func(*http.Request) (session.Act, error)) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		room, err := c.room(r)
		if err != nil {
			return err
		}
		a, err := act(r)
		if err != nil {
			return err
		}
		if _, err := c.do(r.Context(), room, a); err != nil {
			return err
		}
		if to == "" {
			return seeOther(w, r, tableOf(room.State()))
		}
		return seeOther(w, r, sessionPath(room.State(), to))
	}
}

// sessionPath is the address of a session's page.
func sessionPath(s *session.State, page string) string { return "/s/" + string(s.ID) + "/" + page }

// tableOf is the page where a session's seats are seen now.
func tableOf(s *session.State) string {
	if s.Phase == session.PhaseOpen && !atLobby(s) {
		return sessionPath(s, "board")
	}
	return sessionPath(s, "lobby")
}

// endFlight ends the flight at the table and leads to the lobby of the next
// one, or back to the board where the registered rule says stop.
func (c *Console) endFlight(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	flight, err := number(r, "flight")
	if err != nil {
		return err
	}
	// A page of before would end the flight after the one that it shows.
	if s := room.State(); flight != s.Flight && s.Phase == session.PhaseOpen {
		return problem{
			http.StatusConflict, fmt.Sprintf("Flight %d is not at the table.", flight), "Its end may have been pressed in another window. The session's page shows the flight at the table.",
		}
	}
	if _, err := c.do(r.Context(), room, session.EndFlight{}); err != nil {
		return err
	}
	return seeOther(w, r, tableOf(room.State()))
}

// seatInPath reads the seat number of an address.
func seatInPath(r *http.Request) (int, error) {
	n, err := strconv.Atoi(chi.URLParam(r, "n"))
	if err != nil {
		return 0, fmt.Errorf("seat %q: %w", chi.URLParam(r, "n"), session.ErrNoSeat)
	}
	return n, nil
}

// number reads a whole number that a form sends without showing it.
func number(r *http.Request, field string) (int, error) {
	n, err := strconv.Atoi(r.PostFormValue(field))
	if err != nil {
		return 0, problem{http.StatusUnprocessableEntity,
			"The form came without its " + field + ", so nothing was done.", "Go back to the board and press the button again."}
	}
	return n, nil
}

// trayNumbers reads which tray a form is about.
func trayNumbers(r *http.Request) (seat, set, take int, err error) {
	for _, x := range []struct {
		name string
		to   *int
	}{{"seat", &seat}, {"set", &set}, {"take", &take}} {
		if *x.to, err = number(r, x.name); err != nil {
			return 0, 0, 0, err
		}
	}
	return seat, set, take, nil
}

// chosenSeat is the seat that the address singles out, 0 for none. A number
// that no seat has singles out none: the page is whole without it.
func chosenSeat(r *http.Request, s *session.State) int {
	n, err := strconv.Atoi(r.URL.Query().Get("seat"))
	if err != nil || n < 1 || n > len(s.Seats) {
		return 0
	}
	return n
}

// goThere takes the call off a seat: the host is on the way.
func (c *Console) goThere(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	n, err := seatInPath(r)
	if err != nil {
		return err
	}
	s := room.State()
	if n < 1 || n > len(s.Seats) {
		return fmt.Errorf("seat %d: %w", n, session.ErrNoSeat)
	}
	c.Presence.Answer(s.ID, n)
	return seeOther(w, r, tableOf(s))
}

// openTasting starts the tasting on the releases that the register has for both
// lots. Without them the lobby says which lot waits for one.
func (c *Console) openTasting(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	plan := room.State().Plan
	releases := c.Rooms.Lab().State().ReleasesOf(plan.Untreated.ID, plan.Processed.ID)
	_, err = c.do(r.Context(), room, session.Open{Releases: releases})
	if errors.Is(err, session.ErrReleased) {
		return c.lobbyPage(w, r, room.State(), http.StatusConflict, filled())
	}
	if err != nil {
		return err
	}
	return seeOther(w, r, sessionPath(room.State(), "board"))
}

// Fields of the board's form that serves a set.
const (
	cupField    = "cup-temperature"
	reasonField = "serve-reason"
)

// serveSet serves the next set, with a cup's temperature where it was measured.
// What the plan's gate refuses is shown again as it was typed.
func (c *Console) serveSet(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	act := session.Serve{}
	if act.Round, err = number(r, "round"); err != nil {
		return err
	}
	at := servingFields{cupField, reasonField}
	if act.CupC, act.Reason, err = c.readServing(f, at); err != nil {
		return err
	}
	if err := servedBefore(room.State(), act.Round, r.PostFormValue("before")); err != nil {
		return err
	}
	if !f.Bad() {
		_, err = c.do(r.Context(), room, act)
		if err = at.refuse(f, room.State().Plan.Serving, act.CupC, err); err != nil {
			return err
		}
	}
	if !f.Bad() {
		return seeOther(w, r, sessionPath(room.State(), "board"))
	}
	f.Refused = fmt.Sprintf("Set %d was not served.", act.Round)
	return c.boardPage(w, room.State(), 0, http.StatusUnprocessableEntity, f)
}

// servedBefore refuses to serve a set while seats still have the one before, but
// for those that the host was shown and confirmed. More may have come since: a
// replacement called in another window. A rule that looks at whole rounds has its
// own refusal.
func servedBefore(s *session.State, round int, confirmed string) error {
	if s.Phase != session.PhaseOpen || round != len(s.Rounds)+1 || round == 1 || s.AllIn() || lookDue(s) {
		return nil
	}
	seats := stillOut(s)
	for _, n := range seats {
		if !slices.Contains(strings.Fields(strings.Trim(confirmed, "[]")), strconv.Itoa(n)) {
			return problem{http.StatusConflict, fmt.Sprintf("Set %d was not served: %s %s not locked set %d.", round, seatsInWords(seats), isOne(len(seats), "has", "have"), round-1),
				"Go back to the board. There it can be served before they have locked, once you have said so."}
		}
	}
	return nil
}

// serveAgain serves a replacement that waits for a cup's temperature.
func (c *Console) serveAgain(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	var act session.ServeAgain
	if act.Seat, act.Set, act.Take, err = trayNumbers(r); err != nil {
		return err
	}
	at := servingFields{againField(cupField, act.Seat, act.Set), againField(reasonField, act.Seat, act.Set)}
	if act.CupC, act.Reason, err = c.readServing(f, at); err != nil {
		return err
	}
	if !f.Bad() {
		_, err = c.do(r.Context(), room, act)
		if err = at.refuse(f, room.State().Plan.Serving, act.CupC, err); err != nil {
			return err
		}
	}
	if !f.Bad() {
		return seeOther(w, r, sessionPath(room.State(), "board"))
	}
	f.Refused = fmt.Sprintf("The replacement for seat %d, set %d was not served.", act.Seat, act.Set)
	return c.boardPage(w, room.State(), 0, http.StatusUnprocessableEntity, f)
}

// servingFields are where a cup's temperature, and a reason to serve all the
// same, are typed.
type servingFields struct{ cup, reason string }

func (c *Console) readServing(f *form, at servingFields) (cupC float64, reason session.Text, err error) {
	if typed := f.text(at.cup); typed != "" {
		cupC = f.number(at.cup, "cup temperature")
		if cupC == 0 {
			f.bad(at.cup, "cup temperature: 0 °C is not measured in coffee; leave the field empty where nothing was measured")
		}
	}
	if typed := f.text(at.reason); typed != "" {
		reason, err = c.words(typed)
	}
	return cupC, reason, err
}

// refuse says at its field what the gate refuses; any other error it gives back.
func (at servingFields) refuse(f *form, s session.Serving, cupC float64, err error) error {
	window := windowWords(s)
	switch {
	case errors.Is(err, session.ErrNoTemperature) && cupC < 0:
		f.bad(at.cup, num(cupC)+" °C is no temperature of a cup of coffee: look at the thermometer again; cups are served at "+window)
	case errors.Is(err, session.ErrNoTemperature):
		f.bad(at.cup, "measure one cup of the set, and type what the thermometer shows; cups are served at "+window)
		f.bad(at.reason, "or, where it can’t be measured, say why; it goes on the report")
	case errors.Is(err, session.ErrOutsideWindow):
		f.bad(at.cup, num(cupC)+" °C is outside "+window+": wait, or brew anew")
		f.bad(at.reason, "give the reason why it is served all the same; it goes on the report")
	case errors.Is(err, session.ErrScald):
		f.bad(at.cup, num(cupC)+" °C scalds, and is not served, whatever the reason: let the cups cool to "+window)
	case errors.Is(err, session.ErrWords):
		f.bad(at.reason, "give the reason in 1 to 200 characters")
	default:
		return err
	}
	return nil
}

// leaveSeat records that a person has left. Why is not asked: it may be a matter
// of health.
func (c *Console) leaveSeat(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	n, err := seatInPath(r)
	if err != nil {
		return err
	}
	reason, err := c.words("left before the end")
	if err != nil {
		return err
	}
	if _, err = c.do(r.Context(), room, session.LeaveSeat{Seat: n, Reason: reason}); err != nil {
		return err
	}
	return seeOther(w, r, tableOf(room.State()))
}

// voidSet takes a set out and, where the form asks for it, calls its replacement.
func (c *Console) voidSet(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	act := session.Void{Replace: r.PostFormValue("replace") == "1"}
	if act.Seat, act.Set, act.Take, err = trayNumbers(r); err != nil {
		return err
	}
	if act.Reason, err = c.words(r.PostFormValue("reason")); err != nil {
		return err
	}
	_, err = c.do(r.Context(), room, act)
	if errors.Is(err, session.ErrWords) {
		return c.boardRefused(w, room.State(), act.Seat, voidField(act.Seat, act.Set, act.Take), r.PostFormValue("reason"))
	}
	if err != nil {
		return err
	}
	// Who has seen to a spilled cup need not be told again that it was spilled.
	c.Presence.Answer(room.State().ID, act.Seat)
	return seeOther(w, r, sessionPath(room.State(), "board"))
}

// liveTable serves the websocket of the lobby, the board and the reveal.
func (c *Console) liveTable(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	seat := chosenSeat(r, room.State())
	switch r.URL.Query().Get("page") {
	case "lobby":
		return c.live(w, r, room, c.withSeal(func(s *session.State) (map[string]template.HTML, error) {
			v, err := c.lobby(s, seat, filled())
			if err != nil {
				return nil, err
			}
			return c.lobbyParts(v)
		}))
	case "board":
		return c.live(w, r, room, c.withSeal(func(s *session.State) (map[string]template.HTML, error) {
			return c.boardParts(c.board(s, seat, filled()))
		}))
	case "reveal":
		return c.live(w, r, room, c.withSeal(func(s *session.State) (map[string]template.HTML, error) {
			return c.fragments(map[string]string{"reveal-go": "reveal-go"}, revealOf(s, filled()))
		}))
	}
	return problem{http.StatusNotFound, "There is no such page.", "Go to the home page."}
}

// fragments renders several templates on one view, by the ids that they carry.
func (c *Console) fragments(names map[string]string, view any) (map[string]template.HTML, error) {
	parts := make(map[string]template.HTML, len(names))
	for id, name := range names {
		html, err := c.fragment(name, view)
		if err != nil {
			return nil, err
		}
		parts[id] = html
	}
	return parts, nil
}

// renderAs renders a page with a status other than 200.
func (c *Console) renderAs(w http.ResponseWriter, status int, name string, p Page) error {
	if status != http.StatusOK {
		// render writes nothing if the template fails, and then the status goes
		// out with an empty page: our own bug, which the log names.
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.WriteHeader(status)
	}
	return c.render(w, name, p)
}

var small = []string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// inWords writes a count as within a sentence: up to twelve as a word.
func inWords(n int) string {
	if n >= 0 && n < len(small) {
		return small[n]
	}
	return strconv.Itoa(n)
}

// areIs agrees the verb with a count.
func areIs(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// listed joins words as in a sentence: "4, 9 and 11".
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// seatsInWords names seats, runs of three or more drawn together: "seats 4 and
// 10 to 12".
func seatsInWords(seats []int) string {
	var words []string
	for i := 0; i < len(seats); {
		j := i
		for j+1 < len(seats) && seats[j+1] == seats[j]+1 {
			j++
		}
		switch {
		case j-i >= 2:
			words = append(words, fmt.Sprintf("%d to %d", seats[i], seats[j]))
		default:
			for k := i; k <= j; k++ {
				words = append(words, strconv.Itoa(seats[k]))
			}
		}
		i = j + 1
	}
	noun := "seats "
	if len(seats) == 1 {
		noun = "seat "
	}
	return noun + listed(words)
}

// capital begins a sentence.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
