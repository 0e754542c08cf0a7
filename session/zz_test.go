package session
import ("testing";"fmt";"time";"oddcup/stats")
func TestZZ(t *testing.T){ d:=.15; s:=time.Now(); for _,m:=range Methods { stats.Assessors(m.Chance(),.2,.2,m.Curve.PC(d),stats.OneSided); fmt.Println(m.Key,time.Since(s)) }; s=time.Now(); Comparison{d,GoalDifference,.2,.05,.8,Serving{}}.Compare(); fmt.Println(time.Since(s)) }
