package session

import "time"

// Row is a session's line in the index. It is the fold of the journal's
// entries, and holds nothing that depends on the key before the reveal.
type Row struct {
	ID      ID          `json:"id"`
	Seq     uint64      `json:"seq"`
	Phase   Phase       `json:"phase"`
	Demo    bool        `json:"demo,omitempty"`
	Title   string      `json:"title"`
	Lots    [2]Lot      `json:"lots"` // untreated, processed
	Methods []string    `json:"methods"`
	Begun   time.Time   `json:"begun"`
	Changed time.Time   `json:"changed"`
	Reason  Text        `json:"reason"` // of an abandoned session
	Tests   []Revealing `json:"tests,omitempty"`
}

// FoldRow takes entries into a row.
func FoldRow(row Row, entries []Entry) (Row, error) {
	for _, e := range entries {
		rec, err := e.Record(nil)
		if err != nil {
			return row, err
		}
		row.apply(rec)
	}
	return row, nil
}

func (r *Row) apply(rec Recorded) {
	if r.Seq == 0 {
		r.Begun = rec.At
	}
	r.Seq, r.Changed = rec.Seq, rec.At
	switch e := rec.Event.(type) {
	case *Drafted:
		if r.Phase == PhaseNone {
			r.Phase, r.Demo = PhaseDrafted, e.Demo
		}
		r.Title, r.Lots = e.Plan.Title, [2]Lot{e.Plan.Untreated, e.Plan.Processed}
		r.Methods = nil
		for _, t := range e.Plan.Tests {
			r.Methods = append(r.Methods, t.Method)
		}
	case *Sealed:
		r.Phase = PhaseSealed
	case *Opened:
		r.Phase = PhaseOpen
	case *Closed:
		r.Phase = PhaseClosed
	case *Revealed:
		r.Phase, r.Tests = PhaseRevealed, e.Tests
	case *Abandoned:
		r.Phase, r.Reason = PhaseAbandoned, e.Reason
	}
}
