package web

import (
	"encoding/json"
	"fmt"
	"net/url"
	"os/exec"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// What TestBlind asks for beside the routes as they are meant to be asked.

// oddAddresses are pages of one seat, and what is refused: another take, another
// seat, other names.
func (r *recorder) oddAddresses(side string) []string {
	s := r.room.State()
	if side == "tasters" {
		return []string{"/j/" + s.PlaceDoor(3), "/j/NOPE", "/?door=" + s.Door(), "/?door=nope", "/nothing", "/ws", "/a/0000000000000000/app.js"}
	}
	at := "/s/" + string(s.ID)
	var all []string
	for _, query := range []string{
		"seat=1&set=1&take=0", "seat=1&set=1&take=1", "seat=2&set=2&take=1", "seat=3&set=3&take=1", "seat=2&set=1&take=2",
		"seat=2&set=1&take=-1", "seat=0&set=1", "seat=9&set=1", "seat=2&set=9", "seat=two", "seat=2",
	} {
		all = append(all, at+"/print/labels?"+query, at+"/print/labels.pdf?"+query)
	}
	for _, query := range []string{"seat=1&set=1&take=1", "seat=2&set=1&take=1", "seat=2&set=2&take=1"} {
		for _, what := range []string{"trays", "ballots"} {
			all = append(all, at+"/print/"+what+"?"+query)
		}
	}
	all = append(all, at+"/print/labels?on=letter-30&from=4", at+"/print/labels.pdf?on=roll-57", at+"/print/labels.pdf?on=none",
		at+"/print/trays.pdf?paper=letter", at+"/report.pdf?paper=letter", at+"/print/ballots.pdf?seat=2")
	all = append(all, at+"/seats/2/ballot", at+"/seats/4/ballot", at+"/seats/9/ballot", at+"/amend?seat=1&set=1&take=0", at+"/amend?seat=9")
	return append(all, at+"/print/ballots?seat=2", at+"/print/ballots?seat=9", at+"/board?seat=2", at+"/lobby?seat=2", at+"/board?seat=x",
		at+"/live", at+"/live?page=board", at+"/nothing", "/s/none/board", "/s/lab/board", "/pour/none", "/nothing", "/a/0000000000000000/host.css")
}

// askOddly asks for headers alone, for a part, for what has changed since, and
// by a method that the page doesn't know.
func (r *recorder) askOddly(side, path, name string) {
	r.t.Helper()
	r.ask(side, "HEAD", path, nil, name)
	for _, h := range [][2]string{{"If-None-Match", "*"}, {"If-Modified-Since", "Mon, 13 Apr 2026 08:00:00 GMT"}, {"Range", "bytes=0-99"}} {
		r.askWith(side, "GET", path, nil, name+", "+h[0], h)
	}
	r.ask(side, "PUT", path, url.Values{"seat": {"1"}}, name)
}

// inMemory records what a page could be given of the session: every exported
// field of the state, and what its methods give to whoever calls them. Left out
// are the pour sheet and, in record, the hashes that cover the sealed entry.
func (r *recorder) inMemory(name string) {
	r.t.Helper()
	s := r.room.State()
	fields, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		r.t.Fatal(err)
	}
	r.record(name+": state", strings.ReplaceAll(string(fields), s.Head.String(), "HEAD"))
	v, called := reflect.ValueOf(s), 0
	for i := range v.NumMethod() {
		m, what := v.Method(i), v.Type().Method(i).Name
		if what == "PourSheet" || what == "Position" || what == "Clone" {
			continue
		}
		for _, args := range numbersFor(m.Type()) {
			called++
			var got []any
			for _, out := range m.Call(args) {
				got = append(got, out.Interface())
			}
			r.record(name+": state."+what, fmt.Sprintf("%v: %v", args, got))
		}
	}
	if called < 20 {
		r.t.Fatalf("called %d methods of the state", called)
	}
}

// numbersFor gives arguments for a method that takes whole numbers only; none
// for another.
func numbersFor(m reflect.Type) [][]reflect.Value {
	all := [][]reflect.Value{nil}
	for i := range m.NumIn() {
		if m.In(i).Kind() != reflect.Int {
			return nil
		}
		var more [][]reflect.Value
		for _, args := range all {
			for n := range 4 {
				more = append(more, append(slices.Clone(args), reflect.ValueOf(n).Convert(m.In(i))))
			}
		}
		all = more
	}
	return all
}

var (
	// threeDigits are what could be a code.
	threeDigits = regexp.MustCompile(`\b[1-9][0-9][0-9]\b`)
	// geometry is of drawings: sizes and paths.
	geometry = regexp.MustCompile(`\b(width|height|viewBox|d|x|y|x1|x2|y1|y2|cx|cy|r|rx|transform|points)="[^"]*"`)
)

// TestReplacementCodesStayHidden: nothing that leaves holds the codes of a
// replacement that was not called.
func TestReplacementCodesStayHidden(t *testing.T) {
	p := testPlan(4, 2)
	r := &recorder{bench: newBench(t, p, drawn(t, zeros{})), got: recording{}, hit: map[string]bool{}}
	s := r.room.State()
	hidden := map[string]string{} // by code, whose it is
	for seat := 1; seat <= p.Seats; seat++ {
		for set := 1; set <= p.SetsPerSeat(); set++ {
			for _, code := range s.Codes(seat, set, 1) {
				hidden[fmt.Sprint(code)] = fmt.Sprintf("seat %d, set %d", seat, set)
			}
		}
	}
	r.play()
	shown, called := 0, 0
	seen := map[string]bool{} // many pages are asked for more than once
	for key, got := range r.got {
		if strings.Contains(key, "state.Codes") || strings.Contains(key, "HEAD ") {
			continue // how many bytes a page has is compared by TestBlind
		}
		_, body, ok := strings.Cut(got, "\r\n\r\n")
		if !ok {
			body = got
		}
		if seen[body] {
			continue
		}
		seen[body] = true
		if at := strings.Index(got, "%PDF-"); at >= 0 {
			body = pdfText(t, got[at:]) // the digits of compressed bytes are no codes
		}
		body = geometry.ReplaceAllString(body, "")
		for _, number := range threeDigits.FindAllString(body, -1) {
			switch of := hidden[number]; of {
			case "":
				shown++
			case "seat 2, set 1":
				called++ // by the host, in the play
			default:
				delete(hidden, number) // said once is enough
				t.Errorf("%s: code %s of the replacement of %s is shown, which nobody called: %q", key, number, of, around(body, strings.Index(body, number)))
			}
		}
	}
	if shown < 300 || called < 10 {
		t.Errorf("%d other numbers and %d codes of the called replacement: the play shows too little", shown, called)
	}
}

// pdfText is what a reader sees of a PDF, by pdftotext.
func pdfText(t *testing.T, pdf string) string {
	t.Helper()
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = strings.NewReader(pdf)
	text, err := cmd.Output()
	if err != nil {
		t.Fatalf("pdftotext (Debian: apt-get install poppler-utils): %v", err)
	}
	return string(text)
}
