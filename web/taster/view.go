package taster

import (
	"fmt"

	"oddcup/session"
)

// The steps of a phone, as the host sees them.
const (
	stepDoor    = "door"
	stepLobby   = "lobby"
	stepWait    = "wait"
	stepSet     = "set"
	stepDone    = "done"
	stepOver    = "over"
	stepResults = "results"
)

// caffeineWords say about how much a taster may take in. A phone does not
// know of which kind the coffee is.
func caffeineWords(s session.Supplies) string {
	return fmt.Sprintf("about %.0f mg if all is swallowed, robusta about %.0f mg (an estimate)", s.CaffeineMg, s.RobustaMg)
}

// viewOf draws the picture for a phone: asked is the seat that its door gives,
// 0 for the next free one; token is its claim.
func viewOf(s *session.State, sign func(seat int) Sign, asked int, token session.Hash) viewOut {
	p := s.Plan
	v := viewOut{
		T: "view", V: WireVersion, Title: p.Title, Demo: s.Demo, Practice: p.Practice,
		Sets: p.SetsPerSeat(), Cups: p.CupsPerSeat(),
		Serving:   fmt.Sprintf("%.0f to %.0f °C", p.Serving.LowC, p.Serving.HighC),
		Swallow:   p.Serving.Swallow,
		Allergens: p.Serving.Allergens,
		Caffeine:  caffeineWords(p.Supplies()),
		Rinse:     p.Serving.RinseS, Paused: s.Paused, Kept: []keptEntry{},
	}
	if p.Serving.RedLight {
		v.Light = "red"
	}
	v.Seat = s.SeatOfToken(token)
	if v.Seat == 0 || comesAgain(s, v.Seat, asked) {
		v.atDoor(s, asked)
		return v
	}
	v.Calling = sign(v.Seat).Calling != ""
	seat := &s.Seats[v.Seat-1]
	v.keep(s, seat)
	switch s.Phase {
	case session.PhaseSealed:
		v.inLobby(s)
	case session.PhaseOpen:
		if s.Tasting || !s.InFlight(v.Seat) {
			v.atTable(s, seat)
		} else {
			v.inLobby(s)
		}
	case session.PhaseClosed:
		v.Step, v.Say = stepDone, "The host has closed the session. Nothing more is asked of you."
	case session.PhaseRevealed:
		v.Step, v.Say = stepDone, "The session is over. Thank you."
		if p.Serving.OwnResult {
			v.withResults(s)
		}
	default:
		v.Step, v.Say = stepOver, "The host has ended this session without a result. Leave the cups as they are."
	}
	return v
}

// comesAgain reports whether a phone with a seat of an earlier flight asks for
// one of the flight at the table.
func comesAgain(s *session.State, seat, asked int) bool {
	if s.Phase != session.PhaseOpen || s.InFlight(seat) || s.Tasting {
		return false
	}
	return asked == 0 && s.LobbyOpen || asked != seat && s.InFlight(asked)
}

func (v *viewOut) inLobby(s *session.State) {
	v.Step = stepLobby
	v.Say = "The host waits for the others. The phone may sleep and come back."
	if s.Frozen {
		v.Say = "The list is closed. The host has the first set poured."
	}
}

func (v *viewOut) atDoor(s *session.State, asked int) {
	v.Step, v.Seat = stepDoor, asked
	claiming := asked > 0 && s.Seats[asked-1].Claiming
	switch {
	case s.Phase == session.PhaseAbandoned:
		v.Step, v.Say = stepOver, "The host has ended this session without a result."
	case s.Phase == session.PhaseClosed || s.Phase == session.PhaseRevealed:
		v.Step, v.Say = stepOver, "This session is over."
	case asked > 0 && !s.InFlight(asked) && s.Flight > 0:
		v.Say = fmt.Sprintf("Seat %d belongs to another flight. Ask the host when it is.", asked)
	case claiming:
		v.Here, v.Say = true, "The host lets this seat go on with this phone."
	case s.Frozen:
		v.Say = "The list is closed: the cups are being poured for those who came. Ask the host for the next session."
	case !s.LobbyOpen:
		v.Say = "The host has not opened the table yet. Stay on this page."
	case asked > 0 && s.Seats[asked-1].Person != "":
		v.Say = fmt.Sprintf("Seat %d is taken. Look at the number on your card, or ask the host.", asked)
	case asked == 0 && s.NextFree() == 0:
		v.Say = "Every seat is taken. Ask the host whether one can be freed."
	default:
		v.Here = true
	}
}

// keptOf is an answer as the phone hears of it; whether it was right is told
// in practice sessions only.
func keptOf(s *session.State, seat, set, take int, a *session.Answer) keptEntry {
	k := keptEntry{Set: set, Take: take, Pick: a.Pick, Also: a.Also, Guess: a.Guess, At: a.At}
	if right, counted, ok := s.Practised(seat, set, take); ok {
		k.Right, k.Answer = &right, counted[0]
		if len(counted) > 1 {
			k.AnswerAlso = counted[1]
		}
	}
	return k
}

func (v *viewOut) keep(s *session.State, seat *session.Seat) {
	for i := range seat.Sets {
		if a := seat.Sets[i].Kept(); a != nil {
			v.Kept = append(v.Kept, keptOf(s, seat.Number, seat.Sets[i].Number, seat.Sets[i].Last().Number, a))
		}
	}
}

func (v *viewOut) atTable(s *session.State, seat *session.Seat) {
	if seat.Left {
		v.Step, v.Say = stepOver, "The host has noted that you left. What you answered is kept."
		return
	}
	set, take, ok := seat.Front()
	if ok && !s.InFlight(seat.Number) {
		v.Step, v.Say = stepDone, "Your flight has ended. Leave the tray as it is."
		return
	}
	if ok {
		test := s.Plan.Tests[s.Plan.TestOfSet(set)]
		m, _ := session.MethodByKey(test.Method)
		v.Step = stepSet
		v.Front = &setOut{
			N: set, Take: take, Method: m.Key,
			Question: m.Ask(test), Hint: s.Plan.Hint(m), Define: test.Definition,
			Codes: s.Codes(v.Seat, set, take), Again: take > 0,
			Picks: m.Picks, References: m.References(),
		}
		for earlier := range take {
			v.Front.Old = append(v.Front.Old, s.Codes(v.Seat, set, earlier)...)
		}
		return
	}
	if _, _, ok := seat.Awaits(); ok && s.InFlight(seat.Number) {
		v.Step, v.Say = stepWait, "Your tray is poured again. The host is bringing it."
		return
	}
	if !s.InFlight(seat.Number) {
		v.Step, v.Say = stepDone, "Your flight has ended. The others follow; nothing more is asked of you for this seat."
		return
	}
	if s.Stopped {
		v.Step, v.Say = stepDone, "The test has ended early, as was planned. No further tray comes. The host closes the session when everybody has answered."
		return
	}
	if len(s.Rounds) == len(seat.Sets) {
		v.Step, v.Say = stepDone, "All sets are in. The host closes the session when everybody has answered."
		return
	}
	v.Step = stepWait
	switch {
	case s.Paused:
		v.Say = "The host has paused the table. Stay where you are."
	case len(s.Rounds) == 0:
		v.Say = "The host is pouring the first set."
	default:
		v.Say = fmt.Sprintf("Set %d follows when the host serves it.", len(s.Rounds)+1)
	}
}

func (v *viewOut) withResults(s *session.State) {
	own, err := s.AnswersOf(v.Seat)
	if err != nil {
		return
	}
	for _, a := range own {
		if a.Answer == nil || a.Void != nil || a.Amend != nil { // a set taken out is neither right nor wrong
			continue
		}
		m, _ := session.MethodByKey(s.Plan.Tests[a.Test].Method)
		v.Results = append(v.Results, resultOut{
			N: a.Set, Method: m.Key, Codes: a.Codes, Pick: a.Answer.Pick, Also: a.Answer.Also,
			Answer: a.Counted[0], Right: a.Correct, Chance: m.Luck,
		})
		if len(a.Counted) > 1 {
			v.Results[len(v.Results)-1].AnswerAlso = a.Counted[1]
		}
	}
	if len(v.Results) > 0 {
		v.Step = stepResults
	}
}
