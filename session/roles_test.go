package session

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

func TestEveryRoleHasADeed(t *testing.T) {
	if len(Roles) != len(roleDeeds) {
		t.Fatalf("%d roles, %d deeds", len(Roles), len(roleDeeds))
	}
	for _, r := range Roles {
		if r.Deed() == "" {
			t.Errorf("role %s has no deed", r)
		}
	}
}

func TestNamingAgainReplacesAndStaysInTheTrail(t *testing.T) {
	g := newGame(t).toSealed(stagePlan)
	g.do(NameRole{RoleRoaster, text("Pia")}, NameRole{RoleRoaster, text("Jun")}, NameRole{RoleRunner, text("Pia")})
	g.nothing(NameRole{RoleRoaster, text("Jun")})
	if g.s.Roles[RoleRoaster].Words != "Jun" || g.s.Roles[RoleRunner].Words != "Pia" || len(g.s.Roles) != 2 {
		t.Errorf("roles %v", g.s.Roles)
	}
	var named []string
	for _, step := range g.s.Trail {
		if e, ok := step.Event.(*RoleNamed); ok {
			named = append(named, string(e.Role)+" "+e.Name.Words)
		}
	}
	if got := strings.Join(named, ", "); got != "roaster Pia, roaster Jun, runner Pia" {
		t.Errorf("the trail names %s", got)
	}
	for _, words := range []string{"", " \t", strings.Repeat("x", 41), "\xff"} {
		g.refuse(NameRole{RoleRoaster, text(words)}, ErrWords)
	}
}

// What a published state holds must not change under its readers.
func TestRolesOfAnOlderStateStay(t *testing.T) {
	g := newGame(t).toSealed(stagePlan)
	g.do(NameRole{RoleRunner, text("Pia")}, Confirm{Check: "cups", Held: true})
	older := g.s.Clone()
	g.do(NameRole{RoleRunner, text("Jun")}, Confirm{Check: "cups", Note: text("two short")})
	if older.Roles[RoleRunner].Words != "Pia" || !older.Confirmed["cups"].Held {
		t.Errorf("the older state has %q, %+v", older.Roles[RoleRunner].Words, older.Confirmed["cups"])
	}
}

func TestNobodyPoursAndTastes(t *testing.T) {
	ways := map[string]func(name string) Act{
		"by phone":            func(name string) Act { return Sit{Name: text(name), Token: phone(8)} },
		"by phone, at a card": func(name string) Act { return Sit{Seat: 3, Name: text(name), Token: phone(8)} },
		"by hand":             func(name string) Act { return SitByHand{Name: text(name)} },
	}
	for way, sit := range ways {
		g := newGame(t).toSealed(stagePlan)
		g.do(NameRole{RolePourer, text("Zoë Brandt")}, NameRole{RoleRoaster, text("Jun")}, OpenLobby{})
		g.refuse(sit(" zoe  BRANDT "), ErrPours)
		g.do(sit("Jun")) // who roasts may taste
		g.refuse(NameRole{RolePourer, text("JUN")}, ErrPours)
		if g.s.Roles[RolePourer].Words != "Zoë Brandt" {
			t.Errorf("%s: the pourer is %q", way, g.s.Roles[RolePourer].Words)
		}
		g.do(FreeSeat{g.s.seatNamed("jun")}, NameRole{RolePourer, text("Jun")}, sit("Zoe Brandt"))
	}
}

func TestWhoTastedInAnEarlierFlightOrLeftDoesNotPour(t *testing.T) {
	g := newGame(t).toOpen(inFlights(planOf(4, triangles(1)), 2, 2), 2)
	g.do(Serve{Round: 1}, LeaveSeat{2, text("ill")}, EndFlight{})
	for _, name := range []string{"Taster 1", "Taster 2"} {
		g.refuse(NameRole{RolePourer, text(name)}, ErrPours)
	}
	g.do(NameRole{RolePourer, text("Taster 3")})
}

func TestSingleBlind(t *testing.T) {
	for _, c := range []struct {
		roles  map[Role]string
		reason string
	}{
		{nil, ""},
		{map[Role]string{RoleHost: "Ena", RolePourer: "Pia", RoleRunner: "Jun"}, ""},
		{map[Role]string{RoleHost: "Ena", RolePreparer: "Ena", RoleRoaster: "Ena", RoleTrainer: "Ena"}, ""},
		{map[Role]string{RoleHost: "Ena", RolePourer: "ENA"}, "The host also poured."},
		{map[Role]string{RoleHost: "taster 2"}, "The host also tasted."},
		{map[Role]string{RolePourer: "Pia", RoleRunner: "pia "}, "Who poured also carried the trays."},
		{map[Role]string{RoleHost: "Pia", RolePourer: "Pia", RoleRunner: "Pia"}, "The host also poured, and who poured also carried the trays."},
	} {
		g := newGame(t).toOpen(stagePlan, 2)
		for _, r := range Roles {
			if c.roles[r] != "" {
				g.do(NameRole{r, text(c.roles[r])})
			}
		}
		reason, yes := g.s.SingleBlind()
		if reason != c.reason || yes != (c.reason != "") {
			t.Errorf("%v: %q, %v; want %q", c.roles, reason, yes, c.reason)
		}
		g.do(Serve{Round: 1})
		told := strings.Contains(strings.Join(g.reveal().Cautions, "\n"), "Single blind: ")
		if told != yes {
			t.Errorf("%v: the result's cautions tell it: %v", c.roles, told)
		}
	}
}

// Another name takes nothing back once the pour sheet was opened.
func TestNamedAgainIsStillSingleBlind(t *testing.T) {
	g := newGame(t)
	g.do(Draft{Plan: stagePlan}, NameRole{RoleHost, text("Pia")}, NameRole{RolePourer, text("Pia")}, NameRole{RolePourer, text("Tom")})
	if reason, yes := g.s.SingleBlind(); yes {
		t.Errorf("a name put right before anybody poured: %s", reason)
	}
	g = newGame(t).toOpen(stagePlan, 2)
	g.do(OpenPourSheet{Pin: "4711"}, NameRole{RoleHost, text("Pia")}, NameRole{RolePourer, text("Pia")}, NameRole{RolePourer, text("Tom")})
	if reason, _ := g.s.SingleBlind(); reason != "The host also poured." {
		t.Errorf("renamed after the sheet was opened: %q", reason)
	}
	for _, c := range []struct {
		role Role
		want string
	}{{RolePreparer, "who brewed also tasted"}, {RoleRunner, "who carried the trays also tasted"}} {
		g.do(NameRole{c.role, g.s.Seats[0].Name})
		if reason, _ := g.s.SingleBlind(); !strings.Contains(reason, c.want) {
			t.Errorf("%s tastes: %q", c.role, reason)
		}
	}
	if !g.s.pours("PIA") || !g.s.pours("tom") {
		t.Error("who was to pour gets a seat")
	}
}

func TestNamesAlike(t *testing.T) {
	for _, name := range []string{"PETR POURER.", "Petr-Pourer", "PetrPourer", "Petr\u200b Pourer", "Pe\u00adtr Pourer", "Pourer Petr", "Pourer, Pétr"} {
		if !alike(name, "Petr Pourer") {
			t.Errorf("%q is somebody else", name)
		}
	}
	for _, name := range []string{"", "-", "Petra Pourer", "Petr"} {
		if alike(name, "Petr Pourer") || alike(name, "") {
			t.Errorf("%q is Petr Pourer, or nobody", name)
		}
	}
	if !alike("Taster 1", "Taster1") || !alike("1 Taster", "Taster 1") || alike("Taster 1", "Taster 2") {
		t.Error("numbers in names")
	}
}

func TestFoldName(t *testing.T) {
	for _, same := range [][]string{
		{"Zoë Brandt", " zoe  brandt ", "ZOË BRANDT", "Zoe\u0308 Brandt", "zoe\u00a0brandt"},
		{"Ångström", "angstrom", "A\u030angstro\u0308m"},
		{"Łucja Żak", "lucja zak"}, {"Weiß", "WEISS", "weiss"}, {"Sæmundur", "SAEMUNDUR"},
		{"Йосип", "йосип", "И\u0306осип"}, {"Νίκος", "ΝΙΚΟΣ", "νικος"}, {"Işıl", "IŞIL", "isil"}, {"D’Arc", "d'arc"},
	} {
		for _, name := range same {
			if foldName(name) != foldName(same[0]) {
				t.Errorf("%q is %q and %q is %q; want one name", name, foldName(name), same[0], foldName(same[0]))
			}
		}
	}
	for _, other := range [][2]string{{"Ena", "Enna"}, {"Ena Kol", "Enakol"}, {"นิด", "นุด"}, {"किरण", "कुरण"}, {"Ана", "Ена"}} {
		if foldName(other[0]) == foldName(other[1]) {
			t.Errorf("%q and %q are one name", other[0], other[1])
		}
	}
	for _, empty := range []string{"", " ", "\u00a0\t"} {
		if foldName(empty) != "" {
			t.Errorf("%q is %q", empty, foldName(empty))
		}
	}
}

// Names that were erased are nobody's.
func TestErasedNamesMeetNobody(t *testing.T) {
	g := newGame(t).toOpen(stagePlan, 2)
	g.do(NameRole{RoleHost, text("Pia")}, NameRole{RolePourer, text("Pia")})
	for _, r := range []Role{RoleHost, RolePourer} {
		x := g.s.Roles[r]
		x.Words = ""
		g.s.Roles[r] = x
		g.s.Named[r] = []Text{x}
	}
	g.s.Seats[0].Name.Words = ""
	if reason, yes := g.s.SingleBlind(); yes {
		t.Errorf("single blind: %s", reason)
	}
	if g.s.pours("") || g.s.seatNamed("") != 0 {
		t.Error("an erased name is somebody's")
	}
}

func TestSameNamesInFlightsAreFolded(t *testing.T) {
	p := inFlights(planOf(4, triangles(1)), 2, 2)
	g := newGame(t).toSealed(p)
	g.do(OpenLobby{}, Sit{Name: text("Zoë"), Token: phone(1)}, Sit{Name: text("Ori"), Token: phone(2)}, FreezeList{}, Open{releases()}, EndFlight{})
	g.do(OpenLobby{}, Sit{Name: text("ZOE"), Token: phone(3)}, Sit{Name: text("Ulm"), Token: phone(4)}, FreezeList{}, Open{releases()})
	if got := g.s.sameNames(); !strings.HasPrefix(got, "1 name ") {
		t.Errorf("%q", got)
	}
}

func TestRefusalOfARoleNamesTheSeat(t *testing.T) {
	g := newGame(t).toOpen(stagePlan, 2)
	_, err := g.try(Command{Act: NameRole{RolePourer, text("taster 2")}})
	if !errors.Is(err, ErrPours) || !strings.Contains(fmt.Sprint(err), "seat 2") {
		t.Errorf("%v", err)
	}
}
