package session

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Conditions are how and where the cups are roasted for, brewed and tasted, as
// planned. All may be left out. Texts have at most 200 characters.
type Conditions struct {
	Place      string `json:"place,omitempty"`      // of the tasting
	Light      string `json:"light,omitempty"`      // in the tasting room
	Partitions string `json:"partitions,omitempty"` // what keeps tasters from seeing each other
	Masking    string `json:"masking,omitempty"`    // what hides how the cups look

	Vessels    string `json:"vessels,omitempty"`    // what the cups are
	Lids       bool   `json:"lids,omitempty"`       // each cup has one
	DiscardMin int    `json:"discardMin,omitempty"` // a poured cup is thrown away after, min; 1 to 120

	Storage   string  `json:"storage,omitempty"`   // of the lots and of the roasted coffee
	Roast     string  `json:"roast,omitempty"`     // how, and by what rule for both lots
	Water     string  `json:"water,omitempty"`     // for brewing
	HoldMin   int     `json:"holdMin,omitempty"`   // longest time that a brew is held, min; 1 to 240
	HoldLowC  float64 `json:"holdLowC,omitempty"`  // a brew is held from this temperature, °C
	HoldHighC float64 `json:"holdHighC,omitempty"` // up to this one; both within 5 to 95

	WarmUp   string `json:"warmUp,omitempty"`   // the cup before set 1: what it is
	Cleanser string `json:"cleanser,omitempty"` // of the palate, between cups or sets
	Retaste  string `json:"retaste,omitempty"`  // "", RetasteAllowed or RetasteNot
}

// Whether tasters may go back to a cup of the set in front of them. Where the
// plan says nothing it is allowed (ISO 4120: if the product allows it).
const (
	RetasteAllowed = "allowed"
	RetasteNot     = "not allowed"
)

const mayRetaste = " You may go back and taste again."

// Hint says how to taste a set of a method in this session.
func (p Plan) Hint(m Method) string {
	if p.Conditions.Retaste == RetasteNot {
		return strings.TrimSuffix(m.Hint, mayRetaste) + " Do not go back to a cup that you have tasted."
	}
	return m.Hint
}

// BenchCheck is one thing to be looked at before a flight's tasting begins.
type BenchCheck struct {
	Key   string // stays the same whatever the words become
	Name  string // in a word or two
	Group string // GroupRoom, GroupCups, GroupCoffee or GroupPeople
	Words string // how it should be, as planned; a sentence
}

// The groups of checks, in their order.
const (
	GroupRoom   = "room"
	GroupCups   = "cups"
	GroupCoffee = "coffee"
	GroupPeople = "people"
)

var benchNames = map[string]string{
	"light": "light", "partitions": "partitions", "masking": "looks",
	"cups": "number of cups", "alike": "cups alike", "lids": "lids", "instruments": "scales and thermometer", "discard": "throwing cups away",
	"release": "releases", "roast": "roast", "water": "brewing water", "hold": "holding of brews",
	"hot": "caution of hot coffee", "allergens": "allergens", "warmUp": "warm-up cup", "cleanser": "palate cleanser", "retaste": "tasting again",
}

// CheckName names a check by its key, in a word or two; "" where there is none.
func CheckName(key string) string { return benchNames[key] }

// Checks are what a plan wants looked at before each flight's tasting: its
// conditions, and what every session needs. They are common practice, no source.
func Checks(p Plan) []BenchCheck {
	var all []BenchCheck
	c, s := p.Conditions, p.Serving
	add := func(group, key, format string, args ...any) {
		all = append(all, BenchCheck{key, benchNames[key], group, fmt.Sprintf(format, args...)})
	}
	planned := func(group, key, say, words string) {
		if words = strings.TrimSpace(words); words != "" {
			add(group, key, "%s: %s", say, sentence(words))
		}
	}
	switch {
	case s.RedLight && c.Light == "":
		add(GroupRoom, "light", "The room has red light, as the phones do.")
	default:
		planned(GroupRoom, "light", "The light is as planned", c.Light)
	}
	planned(GroupRoom, "partitions", "Tasters can't see each other", c.Partitions)
	planned(GroupRoom, "masking", "Looks are hidden", c.Masking)

	most := 0
	for _, seats := range p.FlightSizes() {
		f := p.FlightSupplies(seats)
		most = max(most, f.Cups+f.Spare)
	}
	of := ""
	if len(p.FlightSizes()) > 1 {
		of = " for a flight"
	}
	add(GroupCups, "cups", "%s are found and washed%s, spare ones included.", counted(most, "cup"), of)
	if strings.TrimSpace(c.Vessels) == "" {
		add(GroupCups, "alike", "All cups are alike: shape, size, colour, no mark but the label.")
	}
	planned(GroupCups, "alike", "All cups are alike", c.Vessels)
	if c.Lids {
		add(GroupCups, "lids", "Every cup has a lid.")
	}
	add(GroupCups, "instruments", "Scales and a thermometer are at hand. Cups hold %s g each, and are served at %s.", plain(s.FillG), s.window())
	if c.DiscardMin > 0 {
		add(GroupCups, "discard", "Who pours knows: a poured cup is thrown away after %d min.", c.DiscardMin)
	}

	add(GroupCoffee, "release", "The releases of both lots for tasting were read, and they are of these lots.")
	planned(GroupCoffee, "roast", "Both lots are roasted by one rule", c.Roast)
	planned(GroupCoffee, "water", "Brewing water is as planned", c.Water)
	if hold := c.holding(); hold != "" {
		add(GroupCoffee, "hold", "Who brews writes down when each brew is ready. It is held %s.", hold)
	}

	add(GroupPeople, "hot", "Everybody was told: the coffee is hot, it has caffeine, and anybody may sit out without a reason.")
	if strings.TrimSpace(s.Allergens) == "" {
		add(GroupPeople, "allergens", "No allergen stands near the cups; the plan names none.")
	}
	planned(GroupPeople, "allergens", "Allergens near the cups were named to everybody", s.Allergens)
	planned(GroupPeople, "warmUp", "The warm-up cup is at hand", c.WarmUp)
	planned(GroupPeople, "cleanser", "The palate cleanser is at hand", c.Cleanser)
	switch c.Retaste {
	case RetasteAllowed:
		add(GroupPeople, "retaste", "Everybody was told: within a set a cup may be tasted again.")
	case RetasteNot:
		add(GroupPeople, "retaste", "Everybody was told: no cup is tasted again.")
	}
	return all
}

// holding says how long and how warm a brew is held, "" where the plan says
// nothing.
func (c Conditions) holding() string {
	var say []string
	if c.HoldMin > 0 {
		say = append(say, fmt.Sprintf("for %d min at most", c.HoldMin))
	}
	if c.HoldHighC > 0 {
		say = append(say, fmt.Sprintf("at %s to %s °C", plain(c.HoldLowC), plain(c.HoldHighC)))
	}
	return strings.Join(say, ", ")
}

// window is the range of temperatures in which cups are served.
func (s Serving) window() string { return fmt.Sprintf("%s to %s °C", plain(s.LowC), plain(s.HighC)) }

// plain writes a figure as it was typed.
func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Confirmation is how a check was found.
type Confirmation struct {
	At   time.Time
	Held bool
	Note Text // why it did not hold; may be empty where it did
}

// Opening is how a flight stood when its tasting began.
type Opening struct {
	Flight    int
	At        time.Time
	Confirmed map[string]Confirmation // by key; what is not here was not confirmed
}

// Unconfirmed are the checks of a plan that nobody had confirmed by then.
func (o Opening) Unconfirmed(p Plan) []BenchCheck { return unconfirmed(p, o.Confirmed) }

// Unconfirmed are the checks that nobody has confirmed for the flight at the
// table.
func (s *State) Unconfirmed() []BenchCheck { return unconfirmed(s.Plan, s.Confirmed) }

func unconfirmed(p Plan, have map[string]Confirmation) []BenchCheck {
	var left []BenchCheck
	for _, c := range Checks(p) {
		if _, ok := have[c.Key]; !ok {
			left = append(left, c)
		}
	}
	return left
}

func checkByKey(p Plan, key string) (BenchCheck, bool) {
	for _, c := range Checks(p) {
		if c.Key == key {
			return c, true
		}
	}
	return BenchCheck{}, false
}

// scaldC is the temperature, °C, above which no cup is served.
const scaldC = 75

// checkTemperature says why a set can't be served at a cup temperature; out is
// true where it is served outside the planned window, or not measured where the plan wants it,
// with a reason.
func (s Serving) checkTemperature(c float64, reason Text) (out bool, err error) {
	switch {
	case math.IsNaN(c) || c < 0:
		return false, fmt.Errorf("%v °C is no cup's temperature: %w", c, ErrNoTemperature)
	case c > scaldC:
		return false, fmt.Errorf("%s °C is above %d °C: %w", plain(c), scaldC, ErrScald)
	case c == 0 && s.Gate && strings.TrimSpace(reason.Words) != "":
		return true, checkWords(reason) // a broken thermometer does not end a session
	case c == 0 && s.Gate:
		return false, fmt.Errorf("cups are served at %s: %w", s.window(), ErrNoTemperature)
	case c == 0 || within(c, s.LowC, s.HighC):
		return false, nil
	case strings.TrimSpace(reason.Words) != "":
		return true, checkWords(reason)
	case s.Gate:
		return false, fmt.Errorf("%s °C measured, and cups are served at %s: %w", plain(c), s.window(), ErrOutsideWindow)
	}
	return false, nil
}

// decideConfirm takes how a check was found, from the seal to the close. The
// same again changes nothing.
func (s *State) decideConfirm(a Confirm) ([]Event, error) {
	if s.Phase != PhaseSealed && s.Phase != PhaseOpen {
		return nil, s.want(PhaseOpen)
	}
	if _, ok := checkByKey(s.Plan, a.Check); !ok {
		return nil, fmt.Errorf("check %q: %w", a.Check, ErrNoCheck)
	}
	noted := strings.TrimSpace(a.Note.Words) != ""
	if !a.Held || noted {
		if err := checkWords(a.Note); err != nil {
			return nil, err
		}
	}
	e := &Confirmed{Check: a.Check, Held: a.Held}
	if noted {
		note := a.Note
		e.Note = &note
	}
	if last, ok := s.Confirmed[a.Check]; ok && last.Held == a.Held && (!noted || last.Note.Words == a.Note.Words) {
		return nil, nil
	}
	return one(e)
}

// applyConfirmed keeps how a check was found. One that does not hold while
// people taste is a deviation at once; before, it can still be mended.
func (s *State) applyConfirmed(e *Confirmed, rec Recorded) {
	c := Confirmation{At: rec.At, Held: e.Held}
	if e.Note != nil {
		c.Note = *e.Note
	}
	s.Confirmed = maps.Clone(s.Confirmed)
	if s.Confirmed == nil {
		s.Confirmed = map[string]Confirmation{}
	}
	s.Confirmed[e.Check] = c
	if s.Tasting && !c.Held {
		s.deviate(e.Check, c)
	}
}

// applyOpening keeps how the flight stood, and what does not hold is from now
// on a deviation.
func (s *State) applyOpening(rec Recorded) {
	s.Openings = append(s.Openings, Opening{Flight: s.Flight, At: rec.At, Confirmed: s.Confirmed})
	for _, check := range Checks(s.Plan) {
		if c, ok := s.Confirmed[check.Key]; ok && !c.Held {
			s.deviate(check.Key, c)
		}
	}
}

func (s *State) deviate(key string, c Confirmation) {
	s.Deviations = append(s.Deviations, Noting{At: c.At, Words: c.Note, About: benchNames[key]})
	slices.SortStableFunc(s.Deviations, func(a, b Noting) int { return a.At.Compare(b.At) })
}

// servedWords say that trays were served outside the planned temperature, or with
// none measured, c being 0.
func (s *State) servedWords(what string, c float64) string {
	if c == 0 {
		return what + " was served and no cup’s temperature was measured"
	}
	return fmt.Sprintf("%s was served at %s °C, outside %s", what, plain(c), s.Plan.Serving.window())
}

// servedOutside says what a deviation of temperature is about, "" where round is
// 0.
func (s *State) servedOutside(round int) string {
	if round < 1 || round > len(s.Temperatures) {
		return ""
	}
	say := s.servedWords(fmt.Sprintf("set %d", round), s.Temperatures[round-1])
	if len(s.Plan.FlightSizes()) > 1 {
		say = fmt.Sprintf("flight %d, %s", s.Flight, say)
	}
	return say
}
