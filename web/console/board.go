package console

import (
	"fmt"
	"html/template"
	"net/http"
	"time"

	"oddcup/session"
	"oddcup/web/taster"
)

// boardView is the table from above as its templates show it. Nothing in it is
// read from the serving orders, and no answer's code.
type boardView struct {
	ID     session.ID
	Title  string
	Phase  session.Phase
	Taste  bool   // a flight tastes: there is a table to look at
	Flight string // at the table, "" where all seats are one
	Others string // the other flights, in a line

	FlightNumber int // at the table, from 1

	Answer string // how things stand, for the heading
	Sub    string // below it, where nobody tastes
	Blind  string // what is not told here
	Single string // why the session is single blind, a sentence; "" where nothing tells so
	Broken bool   // the seal was broken before the reveal
	What   string // which set of which test is out
	Locked int    // seats that are through with the newest set
	Of     int    // seats that it was served to and that have not left
	Tally  []boardCount
	Tables []boardTable
	Many   bool
	Next   boardNext
	Needs  []boardNeed
	Twice  []string // seats that one person may have taken
	Chosen *boardSeat
	Again  []boardAgain
	Paper  []ballotDue
	Noted  deviationsView
	Lately []trailLine
	Form   *form
	Go     string
}

type boardCount struct {
	Mark, Word string
	N          int
}

type boardTable struct {
	Label string
	Key   string // what the circles of a tile are; at the first table only
	Rows  [][]boardTile
}

// boardTile is one seat from above.
type boardTile struct {
	Session    session.ID
	Number     int
	Done, Sets int
	Mark, Word string
	Note       string // before At, or alone
	At         time.Time
	Ago        bool
	State      seatState
	Out        bool // a tray is in front, not answered yet
	Chosen     bool
}

// boardNext is the one next step of the table.
type boardNext struct {
	Rule   string // what the registered rule of a sequential test said last
	Say    string
	Warn   string // what serving now would fix
	Serve  int    // the round to be served, 0 for none
	Before string // asks whether it is served while seats still have the set before; "" where none has
	Look   bool   // the act takes a look, and serves nothing
	Gate   bool   // serving wants a cup's temperature
	Window string // the serving temperature
	// BeforeSeats are the seats that Before names, as the form sends them back: it
	// confirms these and no others.
	BeforeSeats string
	Words       string // of the act that serves it
	Ready       bool   // the first act offered is the primary one
	Paused      bool
	Stopped     bool   // nothing more is served
	End         string // words of the act that ends the flight, "" where there is none
	EndWarn     string // what ending it now leaves unanswered, "" for nothing
	Close       bool   // every set is served and in
	Early       string // what closing now leaves unanswered
}

// boardNeed is a seat that wants the host.
type boardNeed struct {
	boardSeat
	Calling string // the reason in words, "" if it does not call
	CallAt  time.Time
	Wrong   *wrongTray
	Chosen  bool // singled out: what can be done stands in its panel
	Spill   bool // its tray is taken out first of all
	Primary bool // the host's going there is the page's primary act
}

// wrongTray is a code that is not the leftmost of the tray in front.
type wrongTray struct {
	Typed session.Code
	At    time.Time
	Whose string // where this code stands, in a sentence
	Left  session.Code
}

// boardSeat is a seat with what can be done about it.
type boardSeat struct {
	Session session.ID
	Number  int
	Name    string
	Says    string
	Trays   []boardTray
	Waiting bool // for another phone
	ByHand  bool // answers on paper
	Taken   bool
	Form    *form
}

// boardTray is a take that can be taken out.
type boardTray struct {
	Session         session.ID
	Seat, Set, Take int
	Codes           []session.Code
	Says            string
	Open            bool // can be taken out
	Front           bool // the one to be answered now
	Ballot          bool // its paper ballot can be typed in
	Again           bool // its replacement can be called
	Why             string
	Field           string // id of the field for the reason
	Reason          string
	Form            *form
	Primary         bool
}

// boardAgain is a replacement that has been called and is not answered yet.
type boardAgain struct {
	calledTray
	Session session.ID
	ByHand  bool // the seat answers on paper
	Waits   bool // a cup's temperature is to be measured before it is served
	Served  bool // it was, and At is when
	Window  string
	Form    *form
}

// CupField and ReasonField are where its temperature and a reason are typed.
func (a boardAgain) CupField() string { return againField(cupField, a.Seat, a.Set) }

func (a boardAgain) ReasonField() string { return againField(reasonField, a.Seat, a.Set) }

func againField(field string, seat, set int) string { return fmt.Sprintf("%s-%d-%d", field, seat, set) }

// windowWords are the planned serving temperature.
func windowWords(s session.Serving) string { return num(s.LowC) + " to " + num(s.HighC) + " °C" }

func voidField(seat, set, take int) string { return fmt.Sprintf("void-%d-%d-%d", seat, set, take) }

func (c *Console) showBoard(w http.ResponseWriter, r *http.Request) error {
	room, err := c.room(r)
	if err != nil {
		return err
	}
	s := room.State()
	return c.boardPage(w, s, chosenSeat(r, s), http.StatusOK, filled())
}

// boardRefused shows the board again with a reason that can't stand.
func (c *Console) boardRefused(w http.ResponseWriter, s *session.State, seat int, field, typed string) error {
	f := filled(field, typed)
	f.bad(field, "give a reason of 1 to 200 characters: it goes on the report")
	return c.boardPage(w, s, seat, http.StatusUnprocessableEntity, f)
}

func (c *Console) boardPage(w http.ResponseWriter, s *session.State, chosen, status int, f *form) error {
	v := c.board(s, chosen, f)
	p := Page{Title: "Board", Nav: "board", Session: head(s), Body: v}
	if v.Taste {
		p.Live = liveAddress(s, "board", v.Chosen != nil, chosen)
	}
	return c.renderAs(w, status, "board.html", p)
}

// board makes the view of a state; chosen is the seat singled out, 0 for none.
func (c *Console) board(s *session.State, chosen int, f *form) *boardView {
	return boardOf(s, func(seat int) taster.Sign { return c.Presence.Seat(s.ID, seat) }, chosen, f)
}

func boardOf(s *session.State, sign func(seat int) taster.Sign, chosen int, f *form) *boardView {
	sign = onlyPhones(s, sign)
	seats := flightSeats(s)
	v := &boardView{
		ID: s.ID, Title: head(s).Title, Phase: s.Phase, Taste: s.Phase == session.PhaseOpen && s.Tasting,
		Flight: flightWords(s), FlightNumber: s.Flight, Others: otherFlights(s), Many: len(seats) > many, Form: f, Broken: s.Broken != nil,
		Blind: "Right or wrong is not known here, nor to you, before the reveal.",
	}
	if s.Broken != nil {
		v.Blind = "The seal is broken: who has seen the key can know what is right."
	}
	if s.Plan.Practice {
		v.Blind = "Practice: each phone tells its taster at once. It never counts."
	}
	v.Single, _ = s.SingleBlind()
	v.Twice = twiceWords(s)
	counts := map[seatState]int{}
	var tiles []boardTile
	for _, seat := range seats {
		t := tileOf(s, seat, sign(seat.Number))
		t.Chosen = seat.Number == chosen
		tiles = append(tiles, t)
		counts[t.State]++
		v.count(s, seat)
	}
	v.Tables = tables(tiles, v.Many)
	v.Tally = tallyOf(counts)
	v.What = whatIsOut(s)
	v.Next = nextOf(s, tiles)
	v.headline(s)
	ready := v.Next.Ready
	for _, seat := range seats {
		if need, ok := needOf(s, seat, sign(seat.Number), f, ready, seat.Number == chosen); ok {
			ready = true // one primary act a page
			v.Needs = append(v.Needs, need)
		}
	}
	if chosen > 0 {
		v.choose(s, &s.Seats[chosen-1], tiles, callReason(sign(chosen)), f)
	}
	v.Again, v.Paper, v.Noted = againOf(s, f), ballotsDue(s), deviationsOf(s, f)
	v.Lately = lately(s, 6)
	return v
}

// onlyPhones leaves out what was last heard of a phone that had a seat before
// somebody took it who answers on paper.
func onlyPhones(s *session.State, sign func(seat int) taster.Sign) func(seat int) taster.Sign {
	return func(seat int) taster.Sign {
		if s.Seats[seat-1].ByHand() {
			return taster.Sign{}
		}
		return sign(seat)
	}
}

// choose singles a seat out. One of another flight has no tile; its trays can be
// taken out all the same, and nothing else can be done about it.
func (v *boardView) choose(s *session.State, seat *session.Seat, tiles []boardTile, reason string, f *form) {
	b := seatPanel(s, seat, reason, f)
	b.Says = fmt.Sprintf("Of flight %d, which is not at the table.", flightOf(s.Plan, seat.Number))
	for _, t := range tiles {
		if t.Number == seat.Number {
			b.Says = t.says()
		}
	}
	v.Chosen = &b
}

func flightOf(p session.Plan, seat int) int {
	flight, _ := p.FlightOf(seat)
	return flight
}

// count adds a seat to those that the newest set was served to.
func (v *boardView) count(s *session.State, seat *session.Seat) {
	if !seat.Listed || seat.Left {
		return
	}
	v.Of++
	_, _, out := seat.Front()
	_, _, awaits := seat.Awaits()
	if !out && !awaits && len(s.Rounds) > 0 {
		v.Locked++
	}
}

func (v *boardView) headline(s *session.State) {
	switch s.Phase {
	case session.PhaseOpen:
		switch {
		case s.Stopped:
			v.Answer = "The registered rule says stop: close the session."
			v.Sub = "Nothing more is served. What was decided is told at the reveal."
		case !s.Tasting:
			v.Answer = fmt.Sprintf("Flight %d is done. Flight %d is next.", s.Flight-1, s.Flight)
			v.Sub, v.Go = otherFlights(s), sessionPath(s, "lobby")
		case s.Paused:
			v.Answer = "The table is paused."
		case len(s.Rounds) == 0:
			v.Answer = flightPrefix(s) + fmt.Sprintf("%d at the table. Nothing is served yet.", v.Of)
		default:
			v.Answer = flightPrefix(s) + fmt.Sprintf("%d of %d have locked set %d.", v.Locked, v.Of, len(s.Rounds))
		}
	case session.PhaseClosed:
		v.Answer, v.Go = closedWords(s), sessionPath(s, "reveal")
	case session.PhaseRevealed:
		v.Answer, v.Go = "The tasting is over and revealed.", sessionPath(s, "result")
	case session.PhaseAbandoned:
		v.Answer, v.Go = "This session was abandoned.", sessionPath(s, "trail")
	default:
		v.Answer = "The tasting has not begun."
	}
}

// whatIsOut names the newest set and its test.
func whatIsOut(s *session.State) string {
	round, sets := len(s.Rounds), s.Plan.SetsPerSeat()
	if round == 0 {
		return fmt.Sprintf("%s a seat, none served yet", counted(sets, "set"))
	}
	return fmt.Sprintf("%s, set %d of %d", capital(testName(s.Plan, round)), round, sets)
}

// testName is the method of a set, with the attribute where there is one.
func testName(p session.Plan, set int) string {
	i := p.TestOfSet(set)
	if i < 0 {
		return ""
	}
	return nameOf(p.Tests[i])
}

func nameOf(t session.TestPlan) string {
	m, _ := session.MethodByKey(t.Method)
	switch {
	case t.Blank != "":
		return m.Name + ", blank test"
	case t.Attribute != "":
		return m.Name + ", " + t.Attribute
	}
	return m.Name
}

// tables lays the tiles out as they are seen from above: two rows of six to a
// table, or of eight where there are many.
func tables(tiles []boardTile, crowd bool) []boardTable {
	row := 6
	if crowd {
		row = 8
	}
	var all []boardTable
	for len(tiles) > 0 {
		n := min(2*row, len(tiles))
		t := boardTable{Label: fmt.Sprintf("seats %d to %d", tiles[0].Number, tiles[n-1].Number)}
		if n == 1 {
			t.Label = fmt.Sprintf("seat %d", tiles[0].Number)
		}
		t.Rows = append(t.Rows, tiles[:min(row, n)])
		if n > row {
			t.Rows = append(t.Rows, tiles[row:n])
		}
		if len(all) == 0 {
			t.Key = circlesAre(tiles[0].Sets)
		}
		all, tiles = append(all, t), tiles[n:]
	}
	return all
}

func circlesAre(sets int) string {
	if sets == 1 {
		return "the circle: the set, full when done"
	}
	return fmt.Sprintf("the %s circles: sets done, of %d", inWords(sets), sets)
}

// lately are the newest lines of the trail, the newest first.
func lately(s *session.State, n int) []trailLine {
	var lines []trailLine
	for i := len(s.Trail) - 1; i >= 0 && len(lines) < n; i-- {
		lines = append(lines, trailLineOf(s, s.Trail[i]))
	}
	return lines
}

// boardParts are the parts of the board that change.
func (c *Console) boardParts(v *boardView) (map[string]template.HTML, error) {
	if !v.Taste { // the table is gone: the page leads on, or says what is left to do
		return c.fragments(map[string]string{"board-title": "board-title"}, v)
	}
	parts, err := c.fragments(map[string]string{
		"board-title": "board-title", "board-counts": "board-counts", "board-next": "board-next",
		"board-needs": "board-needs", "board-chosen": "board-chosen", "board-again": "board-again",
		"board-lately": "board-lately", "board-paper": "board-paper",
	}, v)
	if err != nil {
		return nil, err
	}
	if parts["deviations"], err = c.fragment("deviations", v.Noted); err != nil {
		return nil, err
	}
	for _, table := range v.Tables {
		for _, row := range table.Rows {
			for _, tile := range row {
				html, err := c.fragment("board-tile", tile)
				if err != nil {
					return nil, err
				}
				parts[fmt.Sprintf("seat-%d", tile.Number)] = html
			}
		}
	}
	return parts, nil
}
