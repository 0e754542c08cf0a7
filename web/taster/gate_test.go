package taster

import (
	"testing"

	"oddcup/session"
)

// A replacement that the gate holds back is not shown before it is served.
func TestViewOfAReplacementHeldBack(t *testing.T) {
	b := newTable(t, func(p *session.Plan) { p.Serving.Gate = true })
	b.begin()
	b.do(session.Serve{Round: 1, CupC: 60})
	b.void(2, 1, 0, true)
	if v := viewOf(b.room.State(), func(int) Sign { return Sign{} }, 0, claim(2)); v.Step != stepWait || v.Front != nil || v.Say != "Your tray is poured again. The host is bringing it." {
		t.Errorf("before: %+v", v)
	}
	b.do(session.ServeAgain{Seat: 2, Set: 1, Take: 1, CupC: 60})
	if v := viewOf(b.room.State(), func(int) Sign { return Sign{} }, 0, claim(2)); v.Step != stepSet || v.Front == nil || !v.Front.Again {
		t.Errorf("after: %+v", v)
	}
}
