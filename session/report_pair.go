package session

import (
	"context"
	"fmt"
	"strings"
)

// PairSession is another session on the same pair of lots, as a test report
// lists it. It holds nothing that depends on the key before its reveal.
type PairSession struct {
	Row
	Practice bool
	Broken   bool // its seal was broken before the reveal
	Amended  bool // sets were taken out after the close
	Answers  int  // that were in when it was abandoned
	Served   int  // sets served by then, of all seats
	Unread   bool // its journal can't be read: what is known is the index's row
}

// samePair gives the other sessions on the lots of a session, the newest first.
func (r *Rooms) samePair(ctx context.Context, s *State) ([]PairSession, error) {
	rows, err := r.Rows(ctx)
	if err != nil {
		return nil, err
	}
	var all []PairSession
	for _, row := range rows {
		if row.ID == s.ID || !onPair(row.Lots, s.Plan.Untreated.ID, s.Plan.Processed.ID) {
			continue
		}
		p := PairSession{Row: row}
		room, err := r.Session(ctx, row.ID)
		if err != nil {
			p.Unread = true
			all = append(all, p)
			continue
		}
		x := room.State()
		p.Reason, p.Practice, p.Broken = x.AbandonedFor, x.Plan.Practice, x.Broken != nil
		for _, seat := range x.Seats {
			p.Answers += seat.Answered()
			for _, set := range seat.Sets {
				if len(set.Takes) > 0 {
					p.Served++
				}
			}
		}
		for _, step := range x.Trail {
			if _, ok := step.Event.(*Amended); ok {
				p.Amended = true
			}
		}
		all = append(all, p)
	}
	return all, nil
}

// onPair reports whether lots are the two, either way round.
func onPair(lots [2]Lot, a, b LotID) bool {
	x, y := lots[0].ID, lots[1].ID
	return x != "" && y != "" && (x == a && y == b || x == b && y == a)
}

// pair lists every session on the same lots, so that none that is unwelcome is
// left in a drawer.
func (w *reporter) pair() ReportPart {
	p := ReportPart{
		Key: "pair", Title: "All sessions on this pair of lots",
		Note: "Every other session in this data file that names the same two lots, whatever became of it. Sessions that are not revealed have no outcome.",
	}
	if len(w.from.Pair) == 0 {
		p.item("other sessions", "None: this is the only one in this file.")
		return p
	}
	p.item("other sessions", fmt.Sprintf("%d beside this one.", len(w.from.Pair)))
	t := ReportTable{Heads: []string{"session", "begun", "phase", "outcome"}}
	for _, x := range w.from.Pair {
		title := x.Title
		if title == "" {
			title = "without a title"
		}
		t.Rows = append(t.Rows, []string{
			fmt.Sprintf("%s (%s)", title, x.ID), w.when(x.Begun), x.phaseWords(), x.outcomeWords(),
		})
	}
	p.Tables = append(p.Tables, t)
	return p
}

// phaseWords are the phase, and what has to be known of the session.
func (x PairSession) phaseWords() string {
	say := string(x.Phase)
	if x.Phase == PhaseAbandoned && !x.Unread {
		say += ": " + strings.TrimSuffix(words(x.Reason), ".")
	}
	for _, more := range []struct {
		is  bool
		say string
	}{
		{x.Broken, "seal broken before the reveal"}, {x.Amended, "amended after the close"},
		{x.Demo, "demonstration, invented"}, {x.Practice, "practice"}, {x.Unread, "its journal can’t be read"},
	} {
		if more.is {
			say += "; " + more.say
		}
	}
	return say
}

// outcomeWords are the registered outcome of each test.
func (x PairSession) outcomeWords() string {
	switch {
	case x.Phase == PhaseAbandoned && x.Unread:
		return "none: abandoned"
	case x.Phase == PhaseAbandoned && x.Served == 0:
		return "none: abandoned before a set was served"
	case x.Phase == PhaseAbandoned:
		return fmt.Sprintf("none: abandoned with %s in, of %s served", counted(x.Answers, "answer"), counted(x.Served, "set"))
	case x.Phase != PhaseRevealed:
		return "none yet: not revealed"
	case x.Practice:
		return "none: practice never counts"
	}
	var say []string
	for _, t := range x.Tests {
		m, _ := MethodByKey(t.Method)
		outcome := string(t.Outcome)
		if !t.Decided {
			outcome = "not decided"
		}
		say = append(say, fmt.Sprintf("%s, %d of %d: %s", m.Name, t.Correct, t.N, outcome))
	}
	return strings.Join(say, "; ")
}
