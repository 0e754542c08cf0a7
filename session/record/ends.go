package record

import (
	"sync"

	"oddcup/session"
	"oddcup/stats"
)

// mostEnds bounds what [Ends] keeps.
const mostEnds = 200

type ending struct {
	plan stats.Sequential
	pc   float64
}

var ends = struct {
	sync.Mutex // guards the following field
	kept       map[ending]stats.SequentialOutcome
}{kept: map[ending]stats.SequentialOutcome{}}

// Ends is how a record ends between the lines of a rule or series, for one who is
// right with probability pc. It is kept, since lines close together take long and
// every judge's page asks for the same.
func Ends(lines session.RuleLines, pc float64) stats.SequentialOutcome {
	k := ending{rulePlan(lines), pc}
	ends.Lock()
	out, ok := ends.kept[k]
	ends.Unlock()
	if ok {
		return out
	}
	out = k.plan.Outcome(pc)
	ends.Lock()
	defer ends.Unlock()
	if len(ends.kept) >= mostEnds {
		clear(ends.kept)
	}
	ends.kept[k] = out
	return out
}

func rulePlan(l session.RuleLines) stats.Sequential {
	return stats.Sequential{P0: l.P0, P1: l.P1, Alpha: l.Alpha, Beta: l.Beta, Every: 1}
}
