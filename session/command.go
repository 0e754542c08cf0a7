package session

import (
	"slices"
	"time"
)

// Command is a wish to change a journal: who, when by the host laptop's clock,
// and the act.
type Command struct {
	At    time.Time
	Actor Actor
	ID    CommandID // may be zero
	Act   Act
}

// Act is what a command wants. The types that implement it are in this file.
type Act interface{ act() }

// outcomes are what accepted commands have caused, by who sent them and under
// which id. Another actor's id is another command: nobody reads an answer by
// guessing its id.
type outcomes map[sent][]Recorded

type sent struct {
	actor Actor
	id    CommandID
}

func (o outcomes) add(rec Recorded) {
	if rec.Command.IsZero() {
		return
	}
	key := sent{rec.Actor, rec.Command}
	// The slice is shared with older states: appending must not write into it.
	o[key] = append(slices.Clip(o[key]), rec)
}

func (o outcomes) of(c Command) []Recorded {
	if c.ID.IsZero() {
		return nil
	}
	return o[sent{c.Actor, c.ID}]
}

// Acts on a session.
type (
	// Draft states the plan; Demo counts in a session's first draft only.
	Draft struct {
		Plan Plan
		Demo bool
	}
	// SetPin sets the pourer's PIN, before the seal. See [NewPin].
	SetPin struct{ Pin Pin }
	// SealPlan fixes plan and layout. See [Seal].
	SealPlan struct{ Sealing Sealing }
	// OpenLobby lets people take seats.
	OpenLobby struct{}
	// Sit takes a seat: Seat, or the next free one where Seat is 0.
	Sit struct {
		Seat  int
		Name  Text
		Token Hash
	}
	// SitByHand takes a seat for somebody who answers on paper: Seat, or the next
	// free one where Seat is 0.
	SitByHand struct {
		Seat int
		Name Text
	}
	// FreeSeat takes a person off a seat in the lobby.
	FreeSeat struct{ Seat int }
	// MoveSeat lets the person at a seat go on with another phone.
	MoveSeat struct{ Seat int }
	// FreezeList fixes that the seats now taken are poured for.
	FreezeList struct{}
	// Open starts the tasting. Releases are the register's, for both lots.
	Open struct{ Releases []Release }
	// Serve puts the next set in front of all seats of the flight. Where the
	// registered rule of a sequential test wants a look first, that is taken and
	// nothing is served: the outcome is a Looked, and on "go on" the next Serve
	// serves. CupC is a cup's measured temperature, °C, 0 for none; a plan's gate
	// wants it, and outside the serving temperature it wants a Reason.
	Serve struct {
		Round  int
		CupC   float64
		Reason Text
	}
	// EndFlight ends the flight at the table; the next one follows.
	EndFlight struct{}
	// Pause and Resume interrupt the serving.
	Pause  struct{}
	Resume struct{}
	// Lock makes an answer final. Paper marks a ballot that the host types in.
	Lock struct {
		Seat, Set, Take int
		Pick, Also      Code
		Guess           bool
		PhoneAt         time.Time
		Paper           bool
	}
	// ServeAgain puts a replacement in front of its seat, once a cup's temperature
	// is measured: the plan's gate holds it back until then. CupC and Reason are as
	// in Serve.
	ServeAgain struct {
		Seat, Set, Take int
		CupC            float64
		Reason          Text
	}
	// Void takes a set out and, with Replace, calls its replacement.
	Void struct {
		Seat, Set, Take int
		Reason          Text
		Replace         bool
	}
	// LeaveSeat records that a person left.
	LeaveSeat struct {
		Seat   int
		Reason Text
	}
	// OpenPourSheet asks for the pour sheet with a PIN. A wrong one is no error:
	// it is journalled as PinRefused, which the caller looks for in the outcome.
	OpenPourSheet struct{ Pin string }
	// SeePourSheet records a further look at an open pour sheet.
	SeePourSheet struct{}
	// PrintPourSheet records a print; see [PourSheetPrinted].
	PrintPourSheet struct{ File, Vessels bool }
	// BreakSeal opens the serving key early, with a reason.
	BreakSeal struct{ Reason Text }
	// NoteDeviation records that something was not as planned.
	NoteDeviation struct{ Words Text }
	// NameRole says who has a role, until it is said anew.
	NameRole struct {
		Role Role
		Name Text
	}
	// Confirm says how one of the plan's [Checks] was found, by its key. What was
	// said last stands. A check that did not hold needs a note.
	Confirm struct {
		Check string
		Held  bool
		Note  Text
	}
	// Close ends the tasting.
	Close struct{}
	// Amend takes a set out after the close.
	Amend struct {
		Seat, Set, Take int
		Reason          Text
	}
	// Reveal opens the serving key.
	Reveal struct{}
	// Abandon ends the session without a result.
	Abandon struct{ Reason Text }
)

// Acts on the laboratory's register.
type (
	// NameLab names the laboratory.
	NameLab struct{ Name string }
	// EnterLot puts a lot into the register.
	EnterLot struct{ Lot Lot }
	// ReleaseLot says that a lot is safe to taste, by whom and on what report.
	ReleaseLot struct {
		Lot    LotID
		By     Text
		Report string
	}
	// EnterPerson puts a person on the register. Without a pseudonym the person
	// gets "Judge" and a number, without a status that of a candidate, and without
	// Since the time of the command.
	EnterPerson struct{ Facts PersonFacts }
	// ChangePerson states the facts anew. A field that is empty is emptied, but
	// for name, pseudonym, status and Since, which then stay.
	ChangePerson struct {
		Person PersonID
		Facts  PersonFacts
	}
	// MergePeople says that From is the same person as Into. Nothing undoes it.
	// Together says that one person had the seats of both in one session, where they
	// had any: see [Lab.Together].
	MergePeople struct {
		From, Into PersonID
		Together   bool
	}
	// ErasePerson wishes that a person's words be erased; see [Rooms.Erase], which
	// carries it out. Everywhere takes the name away wherever it was typed, but at
	// seats that are tied to another person: see [Rooms.Mentions]. InClear is counted
	// by [Rooms.Erase].
	ErasePerson struct {
		Person     PersonID
		Everywhere bool
		InClear    int
	}
	// FinishErasure notes that an erasure is done; [Rooms.Erase] sends it.
	FinishErasure struct{ Person PersonID }
	// TieSeats says that a person had these seats. A name typed at a seat proves
	// nothing, so the host says it. Seats of a received session are nobody's here
	// until then.
	TieSeats struct {
		Person PersonID
		Seats  []SeatRef
	}
	// UntieSeat takes that back.
	UntieSeat struct{ Seat SeatRef }
	// BeginSeries fixes a series: only sets answered after it count.
	BeginSeries struct {
		Person PersonID
		Terms  SeriesTerms
	}
	// EndSeries ends a series at the line that Right of Of sets have reached with
	// the last of them; or gives it up, where there is a Reason.
	EndSeries struct {
		Series    SeriesID
		Right, Of int
		Reason    Text
	}
	// SetRule states a rule of qualification, in place of one of the same name.
	// What was decided by that one stays as it is.
	SetRule struct{ Rule Rule }
	// Qualify decides on a person by a rule: Held wants that Right of Of sets are
	// what the rule wants. At is the day of the decision, zero for now. Record is what
	// the record has, nil where nobody looked; where it says otherwise, Against says
	// that whoever decides knows it.
	Qualify struct {
		Person    PersonID
		Rule      string
		Held      bool
		Basis     string
		Right, Of int
		At        time.Time
		Record    *RuleCounts
		Against   bool
	}
	// ImportRecords takes counts from paper, all or none. See
	// [Lab.ParsePaperRecords].
	ImportRecords struct{ Records []PaperRecord }
	// NoteBackup records that a copy of the laboratory's file is made, under this
	// name.
	NoteBackup struct{ File string }
)

func (Draft) act()          {}
func (SetPin) act()         {}
func (SealPlan) act()       {}
func (OpenLobby) act()      {}
func (Sit) act()            {}
func (SitByHand) act()      {}
func (FreeSeat) act()       {}
func (MoveSeat) act()       {}
func (FreezeList) act()     {}
func (Open) act()           {}
func (Serve) act()          {}
func (EndFlight) act()      {}
func (Pause) act()          {}
func (Resume) act()         {}
func (Lock) act()           {}
func (Void) act()           {}
func (ServeAgain) act()     {}
func (LeaveSeat) act()      {}
func (OpenPourSheet) act()  {}
func (SeePourSheet) act()   {}
func (PrintPourSheet) act() {}
func (BreakSeal) act()      {}
func (NoteDeviation) act()  {}
func (NameRole) act()       {}
func (Confirm) act()        {}
func (Close) act()          {}
func (Amend) act()          {}
func (Reveal) act()         {}
func (Abandon) act()        {}
func (NameLab) act()        {}
func (EnterLot) act()       {}
func (ReleaseLot) act()     {}
func (EnterPerson) act()    {}
func (ChangePerson) act()   {}
func (MergePeople) act()    {}
func (ErasePerson) act()    {}
func (FinishErasure) act()  {}
func (TieSeats) act()       {}
func (UntieSeat) act()      {}
func (BeginSeries) act()    {}
func (EndSeries) act()      {}
func (SetRule) act()        {}
func (Qualify) act()        {}
func (ImportRecords) act()  {}
func (NoteBackup) act()     {}
