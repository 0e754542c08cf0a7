package session

import "time"

// Event is something that happened, as a journal keeps it. Kinds are only ever
// added; a body that changes its form gets the next version and is upcast on
// reading. The json tags of this file are the journal's format.
type Event interface{ Kind() string }

// kind says how entries of one kind are read.
type kind struct {
	version int // the newest that this program writes
	make    func() Event
}

var kinds = map[string]kind{}

func register(version int, make func() Event) {
	kinds[make().Kind()] = kind{version, make}
}

func init() {
	for _, m := range []func() Event{
		func() Event { return new(Drafted) },
		func() Event { return new(PinSet) },
		func() Event { return new(Sealed) },
		func() Event { return new(LobbyOpened) },
		func() Event { return new(Joined) },
		func() Event { return new(SeatFreed) },
		func() Event { return new(SeatMoved) },
		func() Event { return new(ListFrozen) },
		func() Event { return new(Opened) },
		func() Event { return new(RoundServed) },
		func() Event { return new(Paused) },
		func() Event { return new(Resumed) },
		func() Event { return new(Locked) },
		func() Event { return new(Voided) },
		func() Event { return new(ReplacementCalled) },
		func() Event { return new(ReplacementServed) },
		func() Event { return new(SeatLeft) },
		func() Event { return new(FlightEnded) },
		func() Event { return new(Looked) },
		func() Event { return new(SealBroken) },
		func() Event { return new(Amended) },
		func() Event { return new(DeviationNoted) },
		func() Event { return new(RoleNamed) },
		func() Event { return new(Confirmed) },
		func() Event { return new(PourSheetOpened) },
		func() Event { return new(PourSheetSeen) },
		func() Event { return new(PourSheetPrinted) },
		func() Event { return new(PinRefused) },
		func() Event { return new(Closed) },
		func() Event { return new(Revealed) },
		func() Event { return new(Abandoned) },
		func() Event { return new(LabNamed) },
		func() Event { return new(LotEntered) },
		func() Event { return new(LotReleased) },
		func() Event { return new(PersonEntered) },
		func() Event { return new(PersonChanged) },
		func() Event { return new(PeopleMerged) },
		func() Event { return new(PersonErased) },
		func() Event { return new(ErasureFinished) },
		func() Event { return new(SeatsTied) },
		func() Event { return new(SeatUntied) },
		func() Event { return new(SeriesBegun) },
		func() Event { return new(SeriesEnded) },
		func() Event { return new(RuleSet) },
		func() Event { return new(Qualified) },
		func() Event { return new(RecordsImported) },
		func() Event { return new(BackedUp) },
	} {
		register(1, m)
	}
}

// Drafted states the plan as it now stands. The first one begins the session
// and says whether it is a demonstration, which never counts.
type Drafted struct {
	Plan Plan `json:"plan"`
	Demo bool `json:"demo,omitempty"`
}

// PinSet keeps what is needed to check the pourer's PIN.
type PinSet struct {
	Pin Pin `json:"pin"`
}

// Sealed fixes plan and layout. Orders and codes stand here as drawn: reading
// a journal does not depend on a generator.
type Sealed struct {
	Plan   Plan   `json:"plan"`
	Layout Layout `json:"layout"`
	Seed   Hash   `json:"seed"`
	Salt   Hash   `json:"salt"`
	Digest Hash   `json:"digest"`

	// Eligible are those who held the plan's rule then.
	Eligible []Eligible `json:"eligible,omitempty"`
}

// LobbyOpened lets people take seats.
type LobbyOpened struct{}

// Joined gives a seat. Person is an opaque number of this session; Token is the
// SHA-256 of the phone's token, all zero for who answers on paper.
type Joined struct {
	Seat   int    `json:"seat"`
	Person string `json:"person"`
	Name   Text   `json:"name"`
	Token  Hash   `json:"token"`
}

// SeatFreed takes a person off a seat in the lobby; the seat can be taken again.
type SeatFreed struct {
	Seat int `json:"seat"`
}

// SeatMoved lets the person at a seat go on with another phone: the next phone
// that claims the seat gets it. Token is that phone's, once it has come.
type SeatMoved struct {
	Seat  int   `json:"seat"`
	Token *Hash `json:"token,omitempty"`
}

// ListFrozen fixes who is poured for.
type ListFrozen struct {
	Seats []int `json:"seats"`
}

// Opened starts the tasting of a flight, on the releases that it names.
type Opened struct {
	Releases []Release `json:"releases"`
}

// RoundServed puts the set with this number, from 1, in front of all seats of
// the flight. CupC is a cup's measured temperature then, °C; 0 where none was
// given.
type RoundServed struct {
	Round int     `json:"round"`
	CupC  float64 `json:"cupC,omitempty"`
}

// Paused stops serving for a while; answers in hand are still kept.
type Paused struct{}

// Resumed ends a pause.
type Resumed struct{}

// Locked is a final answer. Also is the second cup of an answer of two. PhoneAt
// is the phone's own clock, no evidence. Paper marks a ballot that the host
// typed in.
type Locked struct {
	Seat    int       `json:"seat"`
	Set     int       `json:"set"`
	Take    int       `json:"take"`
	Pick    Code      `json:"pick"`
	Also    Code      `json:"also,omitempty"`
	Guess   bool      `json:"guess,omitempty"`
	PhoneAt time.Time `json:"phoneAt"`
	Paper   bool      `json:"paper,omitempty"`
}

// Voided takes a set out, with a reason.
type Voided struct {
	Seat   int  `json:"seat"`
	Set    int  `json:"set"`
	Take   int  `json:"take"`
	Reason Text `json:"reason"`
}

// ReplacementCalled asks for a voided set to be poured again, under the codes
// sealed for it.
type ReplacementCalled struct {
	Seat int `json:"seat"`
	Set  int `json:"set"`
	Take int `json:"take"`
}

// ReplacementServed puts a replacement in front of its seat, where the plan's gate
// made it wait for a cup's measured temperature, CupC in °C. Reason is why it was
// served unmeasured, CupC 0, or outside the planned temperature.
type ReplacementServed struct {
	Seat   int     `json:"seat"`
	Set    int     `json:"set"`
	Take   int     `json:"take"`
	CupC   float64 `json:"cupC,omitempty"`
	Reason *Text   `json:"reason,omitempty"`
}

// SeatLeft records that a person left before the end.
type SeatLeft struct {
	Seat   int  `json:"seat"`
	Reason Text `json:"reason"`
}

// FlightEnded ends a flight, from 1; the next one's lobby can be opened.
type FlightEnded struct {
	Flight int `json:"flight"`
}

// Looked is a look of a sequential test after a whole round. Stop is the one
// thing before the reveal that depends on the key.
type Looked struct {
	Flight int  `json:"flight"`
	Round  int  `json:"round"`
	Stop   bool `json:"stop"`
}

// SealBroken opens the serving key before the reveal, with a reason.
type SealBroken struct {
	Reason Text `json:"reason"`
}

// Amended takes a set out after the close. The registered result stands; the
// result without such sets is shown beside it.
type Amended struct {
	Seat   int  `json:"seat"`
	Set    int  `json:"set"`
	Take   int  `json:"take"`
	Reason Text `json:"reason"`
}

// DeviationNoted records that something was not as planned. Round is the set of
// the flight at the table that was served outside the planned temperature for
// this reason, 0 for anything else.
type DeviationNoted struct {
	Words Text `json:"words"`
	Round int  `json:"round,omitempty"`
}

// RoleNamed says who has a role from now on.
type RoleNamed struct {
	Role Role `json:"role"`
	Name Text `json:"name"`
}

// Confirmed says how a check of the plan was found for the flight at the table,
// by its key: as planned, or not, for a reason.
type Confirmed struct {
	Check string `json:"check"`
	Held  bool   `json:"held"`
	Note  *Text  `json:"note,omitempty"`
}

// PourSheetOpened records an opening of the pour sheet with the PIN.
type PourSheetOpened struct{}

// PourSheetSeen records a further look at the pour sheet where it was open: no PIN
// was asked for it.
type PourSheetSeen struct{}

// PourSheetPrinted records that the pour sheet went to a printer, or into a file
// that can be printed at any time.
type PourSheetPrinted struct {
	File    bool `json:"file,omitempty"`    // a PDF
	Vessels bool `json:"vessels,omitempty"` // the page that says which lot is in which vessel, and not the sheet
}

// PinRefused records a wrong PIN at the pour sheet.
type PinRefused struct{}

// Closed ends the tasting. Head is the hash of the entry before, for paper.
type Closed struct {
	Head Hash `json:"head"`
}

// Revealed opens the serving key. Tests holds the registered results as they
// were computed then.
type Revealed struct {
	SealHolds bool        `json:"sealHolds"`
	Tests     []Revealing `json:"tests"`
}

// Revealing is a test's registered result in a Revealed entry. P is the test of
// difference's p, 1 where the goal has none.
type Revealing struct {
	Method  string  `json:"method"`
	N       int     `json:"n"`
	Correct int     `json:"correct"`
	P       float64 `json:"p"`
	Decided bool    `json:"decided"`
	Outcome Outcome `json:"outcome"`

	// SimilarP is the similarity test's p; 0 where the goal has none.
	SimilarP float64 `json:"similarP,omitempty"`
}

// Abandoned ends a session without a result.
type Abandoned struct {
	Reason Text `json:"reason"`
}

// LabNamed gives the laboratory its name.
type LabNamed struct {
	Name string `json:"name"`
}

// LotEntered puts a lot into the register.
type LotEntered struct {
	Lot Lot `json:"lot"`
}

// LotReleased says that a lot is safe to taste.
type LotReleased struct {
	Release Release `json:"release"`
}

// PersonEntered puts a person on the register.
type PersonEntered struct {
	Person PersonID    `json:"person"`
	Facts  PersonFacts `json:"facts"`
}

// PersonChanged states a person's facts anew.
type PersonChanged struct {
	Person PersonID    `json:"person"`
	Facts  PersonFacts `json:"facts"`
}

// PeopleMerged says that two entries of the register are one person. Together is that
// both had seats in one session, and who merged them knew it.
type PeopleMerged struct {
	From     PersonID `json:"from"`
	Into     PersonID `json:"into"`
	Together bool     `json:"together,omitempty"`
}

// PersonErased says that a person's words are to be erased; Everywhere, that the
// name is to go wherever it was typed. InClear is in how many places a part of the name
// then stood in entries, which nothing changes.
type PersonErased struct {
	Person     PersonID `json:"person"`
	Everywhere bool     `json:"everywhere,omitempty"`
	InClear    int      `json:"inClear,omitempty"`
}

// ErasureFinished says that they are.
type ErasureFinished struct {
	Person PersonID `json:"person"`
}

// SeatsTied says that a person had seats.
type SeatsTied struct {
	Person PersonID  `json:"person"`
	Seats  []SeatRef `json:"seats"`
}

// SeatUntied takes back that a person had a seat.
type SeatUntied struct {
	Seat SeatRef `json:"seat"`
}

// SeriesBegun fixes a series of a person's sets before the first of them.
type SeriesBegun struct {
	Series SeriesID    `json:"series"`
	Person PersonID    `json:"person"`
	Terms  SeriesTerms `json:"terms"`
}

// SeriesEnded ends a series at a line, or for a reason.
type SeriesEnded struct {
	Series  SeriesID      `json:"series"`
	Outcome SeriesOutcome `json:"outcome"`
	Right   int           `json:"right,omitempty"`
	Of      int           `json:"of,omitempty"`
	Reason  *Text         `json:"reason,omitempty"`
}

// RuleSet states a rule of qualification; one of the same name is replaced.
type RuleSet struct {
	Rule Rule `json:"rule"`
}

// Qualified is a decision on a person by a rule.
type Qualified struct {
	Qualification Qualification `json:"qualification"`
}

// RecordsImported takes counts from paper into the register.
type RecordsImported struct {
	Records []PaperRecord `json:"records"`
}

// BackedUp says that a copy of the laboratory's file was made, under this name.
type BackedUp struct {
	File string `json:"file"`
}

func (*Drafted) Kind() string           { return "drafted" }
func (*PinSet) Kind() string            { return "pin set" }
func (*Sealed) Kind() string            { return "sealed" }
func (*LobbyOpened) Kind() string       { return "lobby opened" }
func (*Joined) Kind() string            { return "joined" }
func (*SeatFreed) Kind() string         { return "seat freed" }
func (*SeatMoved) Kind() string         { return "seat moved" }
func (*ListFrozen) Kind() string        { return "list frozen" }
func (*Opened) Kind() string            { return "opened" }
func (*RoundServed) Kind() string       { return "round served" }
func (*Paused) Kind() string            { return "paused" }
func (*Resumed) Kind() string           { return "resumed" }
func (*Locked) Kind() string            { return "locked" }
func (*Voided) Kind() string            { return "voided" }
func (*ReplacementCalled) Kind() string { return "replacement called" }
func (*ReplacementServed) Kind() string { return "replacement served" }
func (*SeatLeft) Kind() string          { return "seat left" }
func (*FlightEnded) Kind() string       { return "flight ended" }
func (*Looked) Kind() string            { return "looked" }
func (*SealBroken) Kind() string        { return "seal broken" }
func (*Amended) Kind() string           { return "amended" }
func (*DeviationNoted) Kind() string    { return "deviation noted" }
func (*RoleNamed) Kind() string         { return "role named" }
func (*Confirmed) Kind() string         { return "confirmed" }
func (*PourSheetOpened) Kind() string   { return "pour sheet opened" }
func (*PourSheetSeen) Kind() string     { return "pour sheet seen again" }
func (*PourSheetPrinted) Kind() string  { return "pour sheet printed" }
func (*PinRefused) Kind() string        { return "pin refused" }
func (*Closed) Kind() string            { return "closed" }
func (*Revealed) Kind() string          { return "revealed" }
func (*Abandoned) Kind() string         { return "abandoned" }
func (*LabNamed) Kind() string          { return "lab named" }
func (*LotEntered) Kind() string        { return "lot entered" }
func (*LotReleased) Kind() string       { return "lot released" }
func (*PersonEntered) Kind() string     { return "person entered" }
func (*PersonChanged) Kind() string     { return "person changed" }
func (*PeopleMerged) Kind() string      { return "people merged" }
func (*PersonErased) Kind() string      { return "person erased" }
func (*ErasureFinished) Kind() string   { return "erasure finished" }
func (*SeatsTied) Kind() string         { return "seats tied" }
func (*SeatUntied) Kind() string        { return "seat untied" }
func (*SeriesBegun) Kind() string       { return "series begun" }
func (*SeriesEnded) Kind() string       { return "series ended" }
func (*RuleSet) Kind() string           { return "rule set" }
func (*Qualified) Kind() string         { return "qualified" }
func (*RecordsImported) Kind() string   { return "records imported" }
func (*BackedUp) Kind() string          { return "backed up" }

// textsOf gives the typed words that an event holds by digest.
func textsOf(e Event) []*Text {
	switch e := e.(type) {
	case *Joined:
		return []*Text{&e.Name}
	case *Voided:
		return []*Text{&e.Reason}
	case *ReplacementServed:
		if e.Reason != nil {
			return []*Text{e.Reason}
		}
	case *SeatLeft:
		return []*Text{&e.Reason}
	case *SealBroken:
		return []*Text{&e.Reason}
	case *Amended:
		return []*Text{&e.Reason}
	case *DeviationNoted:
		return []*Text{&e.Words}
	case *RoleNamed:
		return []*Text{&e.Name}
	case *Confirmed:
		if e.Note != nil {
			return []*Text{e.Note}
		}
	case *Abandoned:
		return []*Text{&e.Reason}
	case *LotReleased:
		return []*Text{&e.Release.By}
	case *PersonEntered:
		return []*Text{&e.Facts.Name}
	case *PersonChanged:
		return []*Text{&e.Facts.Name}
	case *SeriesEnded:
		if e.Reason != nil {
			return []*Text{e.Reason}
		}
	case *Opened:
		var texts []*Text
		for i := range e.Releases {
			texts = append(texts, &e.Releases[i].By)
		}
		return texts
	}
	return nil
}
