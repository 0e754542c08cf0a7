package session

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Role is work at the bench that somebody is named for, beside tasting.
type Role string

// The roles of a session. Naming them is not demanded.
const (
	RoleHost     Role = "host"     // leads the panel, at this program
	RoleRoaster  Role = "roaster"  // roasted both lots
	RolePreparer Role = "preparer" // brews
	RolePourer   Role = "pourer"   // pours, and so has the serving key
	RoleRunner   Role = "runner"   // carries the trays, and sees no sheet
	RoleTrainer  Role = "trainer"  // trained the tasters
)

// Roles are all of them, in the order in which they are shown.
var Roles = []Role{RoleHost, RoleRoaster, RolePreparer, RolePourer, RoleRunner, RoleTrainer}

var roleDeeds = map[Role]string{
	RoleHost: "led the panel", RoleRoaster: "roasted", RolePreparer: "brewed",
	RolePourer: "poured", RoleRunner: "carried the trays", RoleTrainer: "trained the tasters",
}

// Deed says what who has the role did: "poured". "" for what is no role.
func (r Role) Deed() string { return roleDeeds[r] }

// SingleBlind reports whether who knows or may influence what is in the cups
// has also been with the tasters, as far as names tell; reason says how, in one
// sentence. Every name that a role has had since the pour sheet was first opened
// counts: another one named later takes nothing back. Roles that were not named and names that were erased
// tell nothing. A seal that was broken before the tasting ended opened the key to the host, whatever the names.
func (s *State) SingleBlind() (reason string, yes bool) {
	var why []string
	same := func(a, b Role) bool {
		return slices.ContainsFunc(s.Named[a], func(x Text) bool {
			return slices.ContainsFunc(s.Named[b], func(y Text) bool { return alike(x.Words, y.Words) })
		})
	}
	tasted := func(r Role) bool {
		return slices.ContainsFunc(s.Named[r], func(x Text) bool { return s.seatNamed(x.Words) > 0 })
	}
	if same(RoleHost, RolePourer) {
		why = append(why, "the host also poured")
	}
	if same(RoleRunner, RolePourer) {
		why = append(why, "who poured also carried the trays")
	}
	for _, r := range []struct {
		role Role
		who  string
	}{{RoleHost, "the host"}, {RolePourer, "who poured"}, {RolePreparer, "who brewed"}, {RoleRunner, "who carried the trays"}} {
		if tasted(r.role) {
			why = append(why, r.who+" also tasted")
		}
	}
	if s.brokenWhileTasting() {
		why = append(why, "the seal was broken before the tasting ended, so that the host could know the key")
	}
	if len(why) == 0 {
		return "", false
	}
	reason = strings.Join(why, ", and ")
	return strings.ToUpper(reason[:1]) + reason[1:] + ".", true
}

// brokenWhileTasting reports whether the seal was broken before the close.
func (s *State) brokenWhileTasting() bool {
	if s.Broken == nil {
		return false
	}
	for _, step := range s.Trail {
		switch step.Event.(type) {
		case *SealBroken:
			return true
		case *Closed:
			return false
		}
	}
	return true
}

// seatNamed is the first seat, of any flight, that somebody of this name has or
// had until leaving; 0 if there is none.
func (s *State) seatNamed(name string) int {
	for i := range s.Seats {
		if s.Seats[i].Person != "" && alike(s.Seats[i].Name.Words, name) {
			return i + 1
		}
	}
	return 0
}

// pours reports whether the name is that of who pours, or was to when the pour sheet was open.
func (s *State) pours(name string) bool {
	return slices.ContainsFunc(s.Named[RolePourer], func(x Text) bool { return alike(x.Words, name) })
}

func (s *State) nameRole(e *RoleNamed) {
	s.Roles = maps.Clone(s.Roles)
	if s.Roles == nil {
		s.Roles = map[Role]Text{}
	}
	s.Roles[e.Role] = e.Name
	before := s.Named[e.Role]
	if s.SheetOpenings == 0 && !s.Tasting {
		before = nil // nobody has poured yet: a name is put right
	}
	s.Named = maps.Clone(s.Named)
	if s.Named == nil {
		s.Named = map[Role][]Text{}
	}
	s.Named[e.Role] = append(slices.Clip(before), e.Name)
}

// alike reports whether two names may be one person's, typed with other marks,
// spaces or order of words. An empty one is nobody's.
func alike(a, b string) bool {
	bare := func(name string, ordered bool) string {
		words := strings.FieldsFunc(foldName(name), func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) && !unicode.Is(unicode.Cf, r)
		})
		if ordered {
			slices.Sort(words)
		}
		return strings.Map(func(r rune) rune {
			if unicode.Is(unicode.Cf, r) {
				return -1 // not to be seen
			}
			return r
		}, strings.Join(words, ""))
	}
	x := bare(a, false)
	return x != "" && (x == bare(b, false) || bare(a, true) == bare(b, true))
}

// foldName makes names equal that one person may type in several ways: without
// regard to case, to spaces around and between, and to accents of Latin,
// Cyrillic and Greek letters. Marks of other scripts are letters there and stay.
func foldName(name string) string {
	var plain strings.Builder
	for _, r := range norm.NFKD.String(cases.Fold().String(name)) {
		if r < 0x0300 || r > 0x036f { // a mark that stands behind its letter
			plain.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(strokes.Replace(norm.NFC.String(plain.String()))), " ")
}

// strokes are letters that Unicode takes for whole, and people for a letter with
// a stroke, or for two.
var strokes = strings.NewReplacer("đ", "d", "ð", "d", "ħ", "h", "ı", "i", "ł", "l", "ø", "o", "ŧ", "t", "æ", "ae", "œ", "oe", "þ", "th",
	"’", "'", "ʼ", "'", "`", "'", "´", "'", "‐", "-", "‑", "-", "–", "-")

// decideRole takes a name for a role, before the close. The same name again
// changes nothing; a name can be replaced, and not taken back.
func (s *State) decideRole(a NameRole) ([]Event, error) {
	switch s.Phase {
	case PhaseDrafted, PhaseSealed, PhaseOpen:
	default:
		return nil, s.want(PhaseOpen)
	}
	if a.Role.Deed() == "" {
		return nil, fmt.Errorf("role %q: %w", a.Role, ErrNoRole)
	}
	if err := checkName(a.Name); err != nil {
		return nil, err
	}
	if s.Roles[a.Role].Words == a.Name.Words {
		return nil, nil
	}
	if seat := s.seatNamed(a.Name.Words); a.Role == RolePourer && seat > 0 {
		return nil, fmt.Errorf("seat %d has this name: %w", seat, ErrPours)
	}
	return one(&RoleNamed{a.Role, a.Name})
}
