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

// viewOf draws the picture for a phone: asked is the seat that its door gives,
// 0 for the next free one; token is its claim.
func viewOf(s *session.State, sign func(seat int) Sign, asked int, token session.Hash) viewOut {
	p := s.Plan
	v := viewOut{
		T: "view", V: WireVersion, Title: p.Title, Demo: s.Demo,
		Sets: p.SetsPerSeat(), Cups: p.CupsPerSeat(),
		Serving:   fmt.Sprintf("%.0f to %.0f °C", p.Serving.LowC, p.Serving.HighC),
		Swallow:   p.Serving.Swallow,
		Allergens: p.Serving.Allergens,
		Caffeine:  fmt.Sprintf("at most about %.0f mg if all is swallowed (an estimate)", p.Supplies().CaffeineMg),
		Rinse:     p.Serving.RinseS, Paused: s.Paused, Kept: []keptEntry{},
	}
	if p.Serving.RedLight {
		v.Light = "red"
	}
	v.Seat = s.SeatOfToken(token)
	if v.Seat == 0 {
		v.atDoor(s, asked)
		return v
	}
	v.Calling = sign(v.Seat).Calling != ""
	seat := &s.Seats[v.Seat-1]
	v.keep(seat)
	switch s.Phase {
	case session.PhaseSealed:
		v.Step = stepLobby
		v.Say = "The host waits for the others. The phone may sleep and come back."
		if s.Frozen {
			v.Say = "The list is closed. The host has the first set poured."
		}
	case session.PhaseOpen:
		v.atTable(s, seat)
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

func (v *viewOut) atDoor(s *session.State, asked int) {
	v.Step, v.Seat = stepDoor, asked
	claiming := asked > 0 && s.Seats[asked-1].Claiming
	switch {
	case s.Phase == session.PhaseAbandoned:
		v.Step, v.Say = stepOver, "The host has ended this session without a result."
	case s.Phase == session.PhaseClosed || s.Phase == session.PhaseRevealed:
		v.Step, v.Say = stepOver, "This session is over."
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

func (v *viewOut) keep(seat *session.Seat) {
	for i := range seat.Sets {
		if a := seat.Sets[i].Kept(); a != nil {
			v.Kept = append(v.Kept, keptEntry{seat.Sets[i].Number, seat.Sets[i].Last().Number, a.Pick, a.Guess, a.At})
		}
	}
}

func (v *viewOut) atTable(s *session.State, seat *session.Seat) {
	if seat.Left {
		v.Step, v.Say = stepOver, "The host has noted that you left. What you answered is kept."
		return
	}
	set, take, ok := seat.Front()
	if ok {
		test := s.Plan.Tests[s.Plan.TestOfSet(set)]
		m, _ := session.MethodByKey(test.Method)
		v.Step = stepSet
		v.Front = &setOut{
			N: set, Take: take, Method: m.Key,
			Question: m.Ask(test), Hint: m.Hint, Define: test.Definition,
			Codes: s.Codes(v.Seat, set, take), Again: take > 0,
		}
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
		if a.Answer == nil || a.Void != nil {
			continue
		}
		m, _ := session.MethodByKey(s.Plan.Tests[a.Test].Method)
		v.Results = append(v.Results, resultOut{
			N: a.Set, Method: m.Key, Codes: a.Codes, Pick: a.Answer.Pick, Answer: a.Counted, Right: a.Correct, Chance: m.Luck,
		})
	}
	if len(v.Results) > 0 {
		v.Step = stepResults
	}
}
