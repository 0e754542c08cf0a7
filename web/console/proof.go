package console

import (
	"time"

	"oddcup/session"
)

// proofView are the hashes that are written down on paper: of the seal, of the
// last entry before the close and, where more has come since, of the last entry
// now. A hash vouches for its entry and all before it.
type proofView struct {
	ID       session.ID
	Digest   session.Hash
	ClosedAt session.Hash
	Entry    uint64 // that ClosedAt is the hash of
	Closed   time.Time
	Head     session.Hash // zero where nothing but the close has come since
	Last     uint64
}

func proofOf(s *session.State) proofView {
	v := proofView{ID: s.ID, Digest: s.Digest, ClosedAt: s.ClosedAt, Entry: s.EntriesAtClose(), Closed: s.Times[session.PhaseClosed]}
	if !v.ClosedAt.IsZero() && s.Seq > v.Entry+1 {
		v.Head, v.Last = s.Head, s.Seq
	}
	return v
}
