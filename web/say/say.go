// Package say turns what went wrong into one plain sentence and a next step,
// for the console and for phones alike.
package say

import (
	"errors"
	"net/http"

	"oddcup/session"
)

// Words are what a person is told.
type Words struct {
	Why    string // one word, for a program
	Status int    // of HTTP
	Say    string // what happened
	Next   string // what to do
}

var known = []struct {
	err   error
	words Words
}{
	{session.ErrJournal, Words{"busy", 503, "The host laptop could not write to its disk. Nothing of this was kept.", "Look whether the disk is full, then do it again."}},
	{session.ErrClosedRoom, Words{"busy", 503, "The host program is stopping.", "Start it again; everything kept so far is still there."}},
	{session.ErrNewer, Words{"version", 500, "This session was written by a newer version of oddcup.", "Start the newer version on this file."}},
	{session.ErrBadEntry, Words{"journal", 500, "An entry of this session's journal can't be read.", "Keep the file as it is, and go on with a copy made before."}},
	{session.ErrChain, Words{"journal", 500, "This session's journal is not as it was written: its chain is broken.", "Keep the file as it is, and go on with a copy made before."}},
	{session.ErrDossier, Words{"file", 422, "This is no session file as oddcup writes it.", "Take a copy made before, or ask its laboratory for another."}},
	{session.ErrConflict, Words{"journal", 500, "Something else has written to this session's journal.", "Stop every oddcup that uses the file, then start one again."}},
	{session.ErrSenseless, Words{"journal", 500, "The entries of this session's journal don't follow from one another.", "Keep the file as it is: another hand has written to it. Go on with a copy made before."}},
	{session.ErrNoSession, Words{"door", 404, "There is no such session.", "Choose one on the home page."}},
	{session.ErrFull, Words{"full", 409, "Every seat is taken.", "Ask the host whether a seat can be freed."}},
	{session.ErrFrozen, Words{"frozen", 409, "The list is closed: the cups are being poured for those who came.", "Ask the host for the next session."}},
	{session.ErrTaken, Words{"taken", 409, "This one is taken already.", "Look at the number again, or ask the host."}},
	{session.ErrNoSeat, Words{"seat", 404, "There is no such seat in this session.", "Look at the number again."}},
	{session.ErrNotHere, Words{"seat", 409, "Nobody sits there now.", "Look at the lobby or the board: it shows who is here."}},
	{session.ErrAnswered, Words{"answered", 409, "Another answer to this set is kept already, and an answer can't be changed.", "Go on with the next set."}},
	{session.ErrVoided, Words{"set", 409, "The host has taken this set out.", "Leave the tray; the host brings what comes next."}},
	{session.ErrNotFront, Words{"set", 409, "This set is not the one in front of this seat.", "Go on with the set that the page shows."}},
	{session.ErrNotInSet, Words{"pick", 422, "This code is not on this tray.", "Look at the codes on the cups again; if they differ from the page, call the host."}},
	{session.ErrNoMore, Words{"set", 409, "This set can't be poured again: its replacement is used, or a later set has been served.", "Take it out without a replacement; the report counts it as missing."}},
	{session.ErrSealed, Words{"sealed", 403, "The serving key is sealed until the reveal.", "Close the session first, then reveal it."}},
	{session.ErrPinWait, Words{"pin", 429, "Too many wrong PINs in one minute.", "Wait a minute, then try again."}},
	{session.ErrPin, Words{"pin", 422, "The PIN has 4 to 12 digits.", "Type digits only, and the same ones twice."}},
	{session.ErrPinEasy, Words{"pin", 422, "A PIN of digits over and over or in a row, or that is a year, is guessed at once.", "Let the pourer choose another one, such as four digits that make no row."}},
	{session.ErrNoPin, Words{"pin", 409, "The pourer has not set a PIN yet.", "Let the pourer set one on the plan page; without it the pour sheet would stay shut."}},
	{session.ErrReleased, Words{"released", 409, "A lot of this session has not been released for tasting.", "Enter its release on the lots page: by whom, and on what laboratory report. Until then nobody tastes it."}},
	{session.ErrNoLot, Words{"lot", 404, "There is no such lot in the register.", "Enter it on the lots page."}},
	{session.ErrWords, Words{"words", 422, "Some words are missing or too long.", "Fill in the field and send it again."}},
	{session.ErrPlan, Words{"plan", 422, "The plan can't be sealed as it stands.", "Mend what the plan page names, then seal."}},
	{session.ErrSeal, Words{"seal", 500, "The drawn layout does not fit the plan.", "Open the plan page again and seal anew."}},
	{session.ErrFlight, Words{"flight", 409, "This seat belongs to another flight.", "Look at the number on the card, or ask the host when its flight is."}},
	{session.ErrRound, Words{"round", 409, "Not every seat has answered this set, and the registered rule looks at whole rounds only.", "Wait for the last answers, or take the open trays out with a reason."}},
	{session.ErrStopped, Words{"stopped", 409, "The registered rule has said stop: no further set is served.", "Close the session; the reveal shows what was decided."}},
	{session.ErrPours, Words{"pours", 409, "This name can't take a seat: it is down for work at the bench.", "Who pours knows the key and can't taste. Ask the host; another person of the same name adds an initial."}},
	{session.ErrNoRole, Words{"role", 422, "There is no such role at the bench.", "Choose one of those on the bench page."}},
	{session.ErrNoCheck, Words{"check", 422, "The plan has no such thing to confirm.", "Open the bench page again: it lists what the plan wants."}},
	{session.ErrNoTemperature, Words{"temperature", 422, "The plan wants a cup's measured temperature before a set is served.", "Measure one cup of the set, and type what the thermometer shows."}},
	{session.ErrOutsideWindow, Words{"window", 409, "The cup is outside the serving temperature of the plan.", "Wait, or brew anew. If it has to be served all the same, give the reason: it goes on the report."}},
	{session.ErrScald, Words{"scald", 409, "This is so hot that it scalds, and is not served.", "Let the cups cool to the serving temperature, then measure again."}},
	{session.ErrNoPerson, Words{"person", 404, "There is no such person on the register.", "Choose one of those that the register lists."}},
	{session.ErrErased, Words{"erased", 409, "This person’s name was erased. Nothing new can be said of them.", "Leave the entry as it is; counts stay under the pseudonym."}},
	{session.ErrMerged, Words{"merged", 409, "This entry was put together with another one.", "Go on with the person whom the register now names."}},
	{session.ErrTogether, Words{"together", 409, "Both tasted in one session, so they may be two people.", "Tick that one person had both seats, or leave the entries apart."}},
	{session.ErrTellsName, Words{"name", 422, "These words tell a person’s name, and stand where it could not be erased.", "Say it without the name: by pseudonym, or by where the paper is."}},
	{session.ErrTied, Words{"tied", 409, "This seat is another person’s already.", "Look who it was. Untie the seat first if that was a mistake."}},
	{session.ErrNoSeries, Words{"series", 404, "There is no such series.", "Choose one of those on the person’s page."}},
	{session.ErrSeriesEnded, Words{"series", 409, "This series has ended.", "Begin another one; all that were begun are counted."}},
	{session.ErrLines, Words{"series", 409, "These counts do not end the series.", "Go on until a line is reached, or give the series up with a reason."}},
	{session.ErrTerms, Words{"terms", 422, "These figures or words can’t be kept as they stand.", "Mend what is named, then send it again."}},
	{session.ErrNoRule, Words{"rule", 404, "There is no such rule of qualification.", "Write the rule first: the laboratory makes its own."}},
	{session.ErrAgainstRecord, Words{"rule", 409, "The record says otherwise, or has no such counts.", "Tick that you know it and decide so all the same, or take the record’s counts."}},
	{session.ErrMark, Words{"rule", 409, "The counts are not what the rule wants.", "Decide that it does not hold, or let the person taste on."}},
	{session.ErrNotEligible, Words{"eligible", 409, "Nobody holds the rule that the plan names, so nobody could be listed.", "Choose another rule on the plan page, or none."}},
	{session.ErrRecords, Words{"records", 422, "A record can’t be taken, and so none of the table was.", "Mend the row that is named, then send the table again."}},
	{session.ErrPhase, Words{"phase", 409, "The session is not at this step.", "Open it from the home page: it shows the next step."}},
}

// Of gives the words for an error. ok is false for one that nobody foresaw: it
// belongs in the log.
func Of(err error) (w Words, ok bool) {
	for _, k := range known {
		if errors.Is(err, k.err) {
			return k.words, true
		}
	}
	return Words{
		"host", http.StatusInternalServerError,
		"Something went wrong on the host laptop.",
		"Do it again; if it stays so, look into the terminal window of the host laptop.",
	}, false
}
