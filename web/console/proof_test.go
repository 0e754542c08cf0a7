package console

import (
	"fmt"
	"strings"
	"testing"

	"oddcup/session"
)

// What goes on paper has its number: at the close, and again once something came
// after it, which the hash of the close does not cover.
func TestHashesForPaper(t *testing.T) {
	b := tasted(t, tablePlan(6), 6)
	if body := b.page("trail"); strings.Contains(body, "head hash") {
		t.Error("before the close the trail has a hash for paper")
	}
	b.press("close", "reveal")
	s := b.room.State()
	atClose := fmt.Sprintf("head hash at the close, of entry %d,", s.Seq-1)
	for _, page := range []string{"reveal", "trail"} {
		body := b.page(page)
		b.wants(body, atClose, s.ClosedAt.String(), "take the newest one down too, with its number", "<span>oddcup verify</span> <span>FILE</span> <span>"+string(s.ID)+"</span> <span>--head HASH</span> <span>--entries NUMBER</span>")
		if strings.Contains(body, "head hash now") {
			t.Errorf("%s: nothing has come since the close", page)
		}
	}
	b.press("amend", "reveal#amended", "seat", "2", "set", "1", "take", "0", "amend-reason", "wrong vessel")
	now := func() (words, hash string) {
		s := b.room.State()
		return fmt.Sprintf("head hash now, of entry %d:", s.Seq), s.Head.String()
	}
	words, hash := now()
	b.wants(b.page("reveal"), atClose, words, hash)
	b.press("reveal", "result")
	words, hash = now()
	for _, page := range []string{"result", "trail"} {
		b.wants(b.page(page), atClose, words, hash)
	}
	s = b.room.State()
	b.wants(b.page("report"), fmt.Sprintf("%s, of entry %d.", s.ClosedAt, s.EntriesAtClose()), fmt.Sprintf("%s, of entry %d.", s.Head, s.Seq))
	_, file := b.get("result.oddcup-session")
	paper, err := session.ReadPaper("", session.ShortDigest(s.Head))
	if err == nil {
		paper, err = paper.OfEntry(s.Seq)
	}
	if err != nil {
		t.Fatal(err)
	}
	if r := session.VerifyDossier([]byte(file), paper); !r.OK() || !r.Origin.Beyond {
		t.Errorf("%v, %+v", r.Findings, r.Origin)
	}
}
