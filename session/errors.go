package session

import "errors"

// What a command can be refused for. A caller tells them apart with errors.Is;
// the error's text adds which seat, set or code it was.
var (
	ErrPhase    = errors.New("not in this phase")
	ErrFlight   = errors.New("this seat belongs to another flight")
	ErrRound    = errors.New("the round is not whole")
	ErrStopped  = errors.New("the registered rule has said stop")
	ErrFull     = errors.New("every seat is taken")
	ErrFrozen   = errors.New("the list is closed")
	ErrTaken    = errors.New("this seat is taken")
	ErrNoSeat   = errors.New("no such seat")
	ErrNotHere  = errors.New("nobody sits there")
	ErrNotFront = errors.New("this set is not in front of the seat")
	ErrNotInSet = errors.New("this code is not in the set")
	ErrAnswered = errors.New("another answer to this set is kept")
	ErrVoided   = errors.New("this set was taken out")
	ErrNoMore   = errors.New("there is no further replacement")
	ErrSealed   = errors.New("the serving key is sealed until the reveal")
	ErrPin      = errors.New("a PIN has 4 to 12 digits")
	ErrPinEasy  = errors.New("a PIN of digits over and over or in a row, or that is a year, is guessed at once")
	ErrPinWait  = errors.New("too many wrong PINs")
	ErrNoPin    = errors.New("no PIN for the pourer has been set")
	ErrReleased = errors.New("not released for tasting")
	ErrNoLot    = errors.New("no such lot")
	ErrWords    = errors.New("words are missing or too long")
	ErrSeal     = errors.New("the seal does not fit the plan")
	ErrPours    = errors.New("who pours does not taste")
	ErrNoRole   = errors.New("no such role")
	ErrNoCheck  = errors.New("the plan has no such check")

	ErrNoPerson    = errors.New("no such person on the register")
	ErrErased      = errors.New("this person has been erased")
	ErrMerged      = errors.New("these entries are one person")
	ErrTogether    = errors.New("both tasted in one session")
	ErrTellsName   = errors.New("a name can't stand where it could not be erased")
	ErrTied        = errors.New("this seat is another person's")
	ErrNoSeries    = errors.New("no such series")
	ErrSeriesEnded = errors.New("this series has ended")
	ErrLines       = errors.New("the counts don't end the series")
	ErrTerms       = errors.New("the terms can't be kept")
	ErrNoRule      = errors.New("no such rule")
	ErrMark        = errors.New("the rule is not met")

	ErrAgainstRecord = errors.New("the record says otherwise")

	ErrNotEligible = errors.New("nobody holds this rule now")
	ErrRecords     = errors.New("a record can't be taken")

	ErrNoTemperature = errors.New("a cup's temperature must be measured")
	ErrOutsideWindow = errors.New("outside the serving temperature")
	ErrScald         = errors.New("so hot that it scalds")
)
