package console

import (
	"strings"
	"testing"

	"oddcup/session"
)

// A session that is single blind says so wherever its result is at hand.
func TestSingleBlindIsMarked(t *testing.T) {
	b := tasted(t, tablePlan(6), 5)
	for _, home := range []string{b.home(), b.page("board")} {
		if strings.Contains(strings.ToLower(home), "single blind") {
			t.Error("the mark stands before there is a reason")
		}
	}
	b.do(session.NameRole{Role: session.RoleHost, Name: b.text("Mira Tal")})
	b.do(session.NameRole{Role: session.RolePourer, Name: b.text("Mira Tal")})
	b.wants(b.page("board"), "Single blind.", "nor to you, before the reveal.")
	b.do(session.Close{})
	b.wants(b.page("reveal"), "Single blind.", "The host also poured.")
	b.wants(b.home(), "single blind: The host also poured.")
	b.do(session.Reveal{})
	b.wants(b.page("result"), `<p class="standing-what">Single blind.</p>`)
	b.wants(b.home(), "single blind: The host also poured.")
}

// Who pours learns before the PIN that the seal is broken.
func TestPourDoorBearsTheBrokenSeal(t *testing.T) {
	d := newDesk(t)
	id := d.sealed(6)
	d.saysNot(d.page("/pour/"+string(id)), "Seal broken")
	d.do(id, session.BreakSeal{Reason: d.text("the vessels were mixed up")})
	d.says(d.page("/pour/"+string(id)), "Seal broken at ", "before the reveal: the vessels were mixed up.", "The host steps aside.")
}

// The result says who was to taste and did not, and leads to where names are tied.
func TestResultLeadsToTheNames(t *testing.T) {
	b := tasted(t, tablePlan(6), 5)
	b.revealed()
	b.wants(b.page("result"), "Of 6 seats nobody has said who had them", `href="/people/ties"`)
	person := b.room.State().ID
	b.lab(session.EnterPerson{Facts: session.PersonFacts{Name: b.text("Ena Sol")}})
	var seats []session.SeatRef
	for _, n := range upTo(6) {
		seats = append(seats, session.SeatRef{Session: person, Seat: n})
	}
	b.lab(session.TieSeats{Person: "p-1", Seats: seats[:5]})
	b.wants(b.page("result"), "Of 1 seat nobody has said who had it")
	b.lab(session.TieSeats{Person: "p-1", Seats: seats[5:]})
	if body := b.page("result"); strings.Contains(body, "/people/ties") {
		t.Error("all seats are tied, and the page leads on to tie them")
	}
}

// Files bear the date of their issue, and sheets show it.
func TestFilesAreDatedByTheirIssue(t *testing.T) {
	b := tasted(t, tablePlan(6), 5)
	b.revealed()
	made := b.at.UTC().Format("D:20060102150405")
	for _, file := range []string{"report.pdf", "print/ballots.pdf", "print/trays.pdf", "print/labels.pdf"} {
		if _, body := b.get(file); !strings.Contains(body, made) {
			t.Errorf("%s is not dated %s", file, made)
		}
	}
	b.wants(b.page("report"), "Issued "+day(b.at)+", "+clock(b.at)+".")
}

// Who was to taste and who did stand among the cautions.
func TestResultTellsWhoWasToTaste(t *testing.T) {
	p := tablePlan(6)
	p.Eligible = "Dilution"
	b := newTable(t, p, func(s *session.Sealing) {
		s.Eligible = []session.Eligible{{Person: "p-1", Pseudonym: "Judge 1"}}
	}, true)
	b.do(session.OpenLobby{})
	b.sit(1, 2)
	b.do(session.FreezeList{})
	b.press("open", "board")
	b.do(session.Close{})
	b.do(session.Reveal{})
	b.wants(b.page("result"), "Planned for people who hold the rule “Dilution”; nobody has said who had 2 seats.")
}
