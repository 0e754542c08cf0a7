package session

import (
	"encoding/json"
	"errors"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// verified checks a game's journal.
func (g *game) verified(paper Paper) Report {
	return Verify(g.s.ID, g.entries, g.texts, paper)
}

func paperOf(t tester, digest, head string) Paper {
	t.Helper()
	p, err := ReadPaper(digest, head)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func (r Report) check(name string) CheckState {
	for _, c := range r.Checks {
		if c.What == name {
			return c.State
		}
	}
	return ""
}

// Sessions of every method, goal and turn that the other tests play verify, and
// paper shows where they come from.
func TestWholeSessionsVerify(t *testing.T) {
	games := map[string]*game{"small": smallSession(t)}
	for _, m := range Methods {
		for _, goal := range goalsOf(m) {
			g, _ := played(t, planOf(12, testOf(m, goal, 1)), 11, 9)
			games[m.Key+" for "+goal] = g
		}
	}
	games["six sets a seat"], _ = played(t, planOf(6, testOf(Tetrad, GoalSimilarity, 6)), 6, 20)
	games["blank and constant"], _ = played(t, planOf(8, constantDuoTrio(), blankTest()), 8, 6, 5)
	games["nobody right"], _ = played(t, planOf(8, triangles(1)), 8, 0)
	looks, _ := walkLooks(t, inFlights(planOf(8, sequential(2)), 4, 4))
	looks.do(Reveal{})
	games["looks"] = looks
	empty := newGame(t).toOpen(planOf(8, triangles(1)), 3)
	empty.do(Close{}, Reveal{})
	games["no answer"] = empty
	for name, g := range games {
		r := g.verified(Paper{})
		if !r.OK() || r.Phase != PhaseRevealed || r.Entries != len(g.entries) || r.Digest != g.s.Digest || r.ClosedAt != g.s.ClosedAt {
			t.Errorf("%s: %v, %+v", name, r.Findings, r)
		}
		for _, what := range []string{checkChain, checkOrder, checkWordsOf, checkDigest, checkDrawing, checkClose, checkResult} {
			if r.check(what) != Holds {
				t.Errorf("%s: %s is %q", name, what, r.check(what))
			}
		}
		if name == "looks" && r.check(checkLooks) != Holds {
			t.Errorf("the looks: %q", r.check(checkLooks))
		}
		want := "consistent with itself; origin not shown"
		if name == "small" { // a name in it was erased
			want += "; 1 of 6 typed words are not there: erased, or taken out"
		}
		if r.Words() != want || r.Origin != (Origin{}) ||
			r.check(checkSheet) != NotShown || r.check(checkHead) != NotShown {
			t.Errorf("%s, without paper: %q, %+v", name, r.Words(), r.Checks)
		}
		r = g.verified(paperOf(t, ShortDigest(g.s.Digest), ""))
		if !r.OK() || r.Origin != (Origin{Sealed: true}) || !strings.Contains(r.Words(), "of answers and all else, origin not shown") {
			t.Errorf("%s, with the digest: %q, %+v", name, r.Words(), r.Origin)
		}
		r = g.verified(paperOf(t, g.s.Digest.String(), strings.ToUpper(ShortDigest(g.s.ClosedAt))))
		if !r.OK() || !r.Origin.Sealed || r.Origin.Through == 0 || g.entries[r.Origin.Through].Kind != "closed" ||
			!r.Origin.Tasting || !strings.Contains(r.Words(), "and the result follows from it") || strings.Contains(r.Words(), "not shown") != (name == "small") {
			t.Errorf("%s, with both: %q, %+v", name, r.Words(), r.Origin)
		}
		r = g.verified(paperOf(t, "", g.s.Head.String()))
		if !r.OK() || int(r.Origin.Through) != r.Entries || strings.Contains(r.Words(), "not shown") {
			t.Errorf("%s, with the last head: %q", name, r.Words())
		}
	}
}

// The head hash of the close vouches for what was in then, and not for what was
// added; one taken down later, with its number, does, and misses what was cut off.
func TestPaperOfTheCloseAndLater(t *testing.T) {
	g := newGame(t).toOpen(planOf(6, triangles(1)), 6)
	g.play(6, counting(4)).do(Close{})
	atClose, n := g.s.ClosedAt.String(), g.s.Seq-1
	g.do(NoteDeviation{text("one kettle")}, Amend{Seat: 1, Set: 1, Reason: text("wrong vessel")}, Reveal{}, Amend{Seat: 2, Set: 1, Reason: text("wrong vessel")})
	later, m := g.s.Head.String(), g.s.Seq
	numbered := func(head string, n uint64) Paper {
		p, err := paperOf(t, "", head).OfEntry(n)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	cut := *g
	cut.entries = g.entries[:len(g.entries)-1]
	bare, _ := played(t, planOf(6, triangles(1)), 6, 4)
	for _, c := range []struct {
		name  string
		g     *game
		paper Paper
		ok    bool
		says  string
	}{
		{"at the close", g, numbered(atClose, n), true, "all up to the close is what the head hash on paper stands for, and the result follows from it; of 3 entries after, origin not shown (1 deviation noted, 2 amended): that hash does not cover what came after it"},
		{"without the number", g, paperOf(t, "", atClose), true, "of 3 entries after, origin not shown (1 deviation noted, 2 amended)"},
		{"another number", g, numbered(atClose, n+1), false, "the number beside it on paper is"},
		{"later", g, numbered(later, m), true, "what came after the close included, are those of the head hash on paper, and the result follows from them; amendments after that hash that were cut off would not be noticed without a later hash and its number"},
		{"at the close, nothing after the reveal", bare, paperOf(t, "", bare.s.ClosedAt.String()), true, "and the result follows from it; amendments after that hash that were cut off would not be noticed"},
		{"later, the last one cut off", &cut, numbered(later, m), false, "no entry has the head hash on paper: it was of entry"},
		{"at the close, the last one cut off", &cut, numbered(atClose, n), true, "(1 deviation noted, 1 amended)"},
	} {
		r := c.g.verified(c.paper)
		if r.OK() != c.ok || !strings.Contains(r.Words(), c.says) {
			t.Errorf("%s: %q, want %q", c.name, r.Words(), c.says)
		}
		if c.name == "later" && strings.Contains(r.Words(), "not shown") {
			t.Errorf("%s: %q", c.name, r.Words())
		}
	}
	if _, err := (Paper{}).OfEntry(3); err == nil {
		t.Error("a number without its hash is taken")
	}
}

// Before the reveal the chain is checked and the key is not looked at.
func TestUnrevealedSessionsVerify(t *testing.T) {
	n := 0
	for _, stage := range stages {
		g := newGame(t)
		stage.play(g)
		if len(g.entries) == 0 {
			continue
		}
		r := g.verified(Paper{})
		if !r.OK() || r.Phase != g.s.Phase || r.check(checkChain) != Holds {
			t.Errorf("%s: %v", stage.name, r.Findings)
		}
		if stage.name == "revealed" {
			continue
		}
		n++
		if r.check(checkDigest) != NotShown || r.check(checkResult) != NotShown {
			t.Errorf("%s: seal %q, result %q", stage.name, r.check(checkDigest), r.check(checkResult))
		}
		// A seal that doesn't hold is not looked at before the reveal.
		bad := rechained(t, g.entries, func(_ int, s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				if err := json.Unmarshal(s.Body, &e); err != nil {
					t.Fatal(err)
				}
				e.Salt[0] ^= 1
				s.Body = must(json.Marshal(e))
			}
		})
		if r := Verify(g.s.ID, bad, g.texts, Paper{}); !r.OK() {
			t.Errorf("%s, another salt: %v", stage.name, r.Findings)
		}
	}
	if n < 5 {
		t.Errorf("only %d stages", n)
	}
}

// A journal that was written anew, all hashes recomputed, is found where it
// contradicts itself, by the entry; where it does not, by paper alone.
func TestRechainedJournals(t *testing.T) {
	g, _ := played(t, planOf(6, triangles(1), pairOn("body")), 6, 5, 5)
	at := func(kind string) uint64 {
		for _, e := range g.entries {
			if e.Kind == kind {
				return e.Seq
			}
		}
		t.Fatalf("no entry %q", kind)
		return 0
	}
	edit := func(s *stored, into any, f func()) {
		if err := json.Unmarshal(s.Body, into); err != nil {
			t.Fatal(err)
		}
		f()
		s.Body = must(json.Marshal(into))
	}
	last := uint64(len(g.entries))
	other := func(order string) string {
		return map[bool]string{true: "AAB", false: "BBA"}[order != "AAB"]
	}
	for _, c := range []struct {
		name  string
		spoil func(s *stored)
		entry uint64
		kind  FindingKind // "" where only paper finds it
	}{
		{"an order in the key", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() { e.Layout.Seats[2][0].Order = other(e.Layout.Seats[2][0].Order) })
			}
		}, at("sealed"), FoundDigest},
		{"the digest", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() { e.Digest[4] ^= 1 })
			}
		}, at("sealed"), FoundDigest},
		{"an order, and its digest made anew", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() {
					e.Layout.Seats[2][0].Order = other(e.Layout.Seats[2][0].Order)
					e.Digest = must(sealDigest(e.Plan, e.Layout, Seed(e.Seed), e.Salt))
				})
			}
		}, at("sealed"), FoundDrawing},
		{"a drawing version of a newer program", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() {
					e.Layout.Version = DrawVersion + 1
					e.Digest = must(sealDigest(e.Plan, e.Layout, Seed(e.Seed), e.Salt))
				})
			}
		}, at("sealed"), FoundNewer},
		{"a drawing version that never was", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() {
					e.Layout.Version = 0
					e.Digest = must(sealDigest(e.Plan, e.Layout, Seed(e.Seed), e.Salt))
				})
			}
		}, at("sealed"), FoundDrawing},
		{"the sealed plan", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() { e.Plan.Tests[0].Alpha = 0.1 })
			}
		}, at("sealed"), FoundSense},
		{"a layout of one seat less", func(s *stored) {
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() { e.Layout.Seats = e.Layout.Seats[1:] })
			}
		}, at("sealed"), FoundSense},
		{"plan and seal, in both places", func(s *stored) {
			if s.Kind == "drafted" {
				var e Drafted
				edit(s, &e, func() { e.Plan.Tests[0].Alpha = 0.1 })
			}
			if s.Kind == "sealed" {
				var e Sealed
				edit(s, &e, func() {
					e.Plan.Tests[0].Alpha = 0.1
					e.Digest = must(sealDigest(e.Plan, e.Layout, Seed(e.Seed), e.Salt))
				})
			}
		}, 0, ""}, // with a salt and all, and no outcome changes
		{"an answer", func(s *stored) {
			if s.Seq == at("locked") {
				var e Locked
				edit(s, &e, func() {
					codes := g.s.Codes(e.Seat, e.Set, e.Take)
					e.Pick = codes[(slices.Index(codes, e.Pick)+1)%len(codes)]
				})
			}
		}, last, FoundResult},
		{"an answer with a code of another tray", func(s *stored) {
			if s.Seq == at("locked") {
				var e Locked
				edit(s, &e, func() { e.Pick = g.s.Codes(5, 1, 0)[0] })
			}
		}, at("locked"), FoundSense},
		{"an answer for a seat that is none", func(s *stored) {
			if s.Seq == at("locked") {
				var e Locked
				edit(s, &e, func() { e.Seat = 60 })
			}
		}, at("locked"), FoundSense},
		{"an answer twice", func(s *stored) {
			if s.Seq == at("locked")+1 {
				s.Body = g.entries[s.Seq-2].Body
			}
		}, at("locked") + 1, FoundSense},
		{"the count", func(s *stored) {
			if s.Kind == "revealed" {
				var e Revealed
				edit(s, &e, func() { e.Tests[0].Correct++ })
			}
		}, last, FoundResult},
		{"p in the tenth digit", func(s *stored) {
			if s.Kind == "revealed" {
				var e Revealed
				edit(s, &e, func() { e.Tests[0].P *= 1 + 1e-10 })
			}
		}, last, FoundResult},
		{"p in the last bit, as another processor has it", func(s *stored) {
			if s.Kind == "revealed" {
				var e Revealed
				edit(s, &e, func() { e.Tests[0].P *= 1 + 3e-16 })
			}
		}, 0, ""},
		{"the outcome", func(s *stored) {
			if s.Kind == "revealed" {
				var e Revealed
				edit(s, &e, func() { e.Tests[0].Outcome = Similar })
			}
		}, last, FoundResult},
		{"a test's result left out", func(s *stored) {
			if s.Kind == "revealed" {
				var e Revealed
				edit(s, &e, func() { e.Tests = e.Tests[:1] })
			}
		}, last, FoundResult},
		{"the seal said not to hold", func(s *stored) {
			if s.Kind == "revealed" {
				var e Revealed
				edit(s, &e, func() { e.SealHolds = false })
			}
		}, last, FoundResult},
		{"a round left out", func(s *stored) {
			if s.Kind == (*RoundServed)(nil).Kind() {
				var e RoundServed
				edit(s, &e, func() { e.Round++ })
			}
		}, at((*RoundServed)(nil).Kind()), FoundSense},
		{"a kind of a newer program", func(s *stored) {
			if s.Seq == 5 {
				s.Kind = "scored"
			}
		}, 5, FoundNewer},
		{"a body that is none", func(s *stored) {
			if s.Seq == 5 {
				s.Body = []byte(`{"seat":"one"}`)
			}
		}, 5, FoundBytes},
		{"an entry of the register", func(s *stored) {
			if s.Seq == 5 {
				s.Kind, s.Body = "lab named", []byte(`{"name":"x"}`)
			}
		}, 5, FoundSense},
		{"the first entry", func(s *stored) {
			if s.Seq == 1 {
				s.Kind, s.Body = "paused", []byte(`{}`)
			}
		}, 1, FoundSense},
		{"a time", func(s *stored) {
			if s.Seq == at("locked") {
				s.At = s.At.Add(1)
			}
		}, 0, ""},
		{"nothing", func(*stored) {}, 0, ""},
	} {
		entries := rechained(t, g.entries, func(_ int, s *stored) { c.spoil(s) })
		if same := reflect.DeepEqual(entries, g.entries); same != (c.name == "nothing") {
			t.Errorf("%s: unchanged: %v", c.name, same)
			continue
		}
		r := Verify(g.s.ID, entries, g.texts, Paper{})
		f, bad := r.First()
		if bad != (c.kind != "") || f.Kind != c.kind || f.Entry != c.entry {
			t.Errorf("%s: found %v, want %q at entry %d", c.name, r.Findings, c.kind, c.entry)
		}
		if !bad && !strings.Contains(r.Words(), "origin not shown") {
			t.Errorf("%s: without paper it says %q", c.name, r.Words())
		}
		if c.name == "nothing" {
			continue
		}
		// Paper of the close covers all before it; the revealed entry, behind it,
		// has its own checks.
		r = Verify(g.s.ID, entries, g.texts, paperOf(t, "", g.s.ClosedAt.String()))
		if before := entries[last-2].Hash != g.entries[last-2].Hash; found(r, FoundPaper) != before {
			t.Errorf("%s: with the head hash: %v", c.name, r.Findings)
		}
	}
}

func found(r Report, kind FindingKind) bool {
	return slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Kind == kind })
}

// An attacker with the file plays another session to its end: nothing in it is
// wrong but that it is not the one of the paper.
func TestSwappedJournal(t *testing.T) {
	real, _ := played(t, planOf(6, triangles(1)), 6, 2)
	forged := newGame(t)
	forged.do(Draft{Plan: planOf(6, triangles(1))}, SetPin{testPin}, SealPlan{sealing(t, planOf(6, triangles(1)), 6)}, OpenLobby{})
	for i := 1; i <= 6; i++ {
		forged.do(Sit{Seat: i, Name: text("Taster"), Token: phone(i)})
	}
	forged.do(FreezeList{}, Open{Releases: releases()})
	forged.play(6, func(int, int) bool { return true }).reveal()
	for name, c := range map[string]struct {
		paper Paper
		ok    bool
	}{
		"no paper":  {Paper{}, true},
		"digest":    {paperOf(t, ShortDigest(real.s.Digest), ""), false},
		"head":      {paperOf(t, "", real.s.ClosedAt.String()), false},
		"own sheet": {paperOf(t, ShortDigest(forged.s.Digest), ""), true},
	} {
		r := forged.verified(c.paper)
		if r.OK() != c.ok || r.OK() && c.paper.IsZero() && r.Words() != "consistent with itself; origin not shown" {
			t.Errorf("%s: %q, %v", name, r.Words(), r.Findings)
		}
		if !c.ok && !found(r, FoundPaper) {
			t.Errorf("%s: %v", name, r.Findings)
		}
	}
}

// A journal that lost its end is whole in itself; the head hash of the close
// finds it, and says up to where it is the one of the paper.
func TestTruncatedJournal(t *testing.T) {
	g, _ := played(t, planOf(6, triangles(1)), 6, 5)
	head := paperOf(t, "", g.s.ClosedAt.String())
	n := 0
	for cut := 1; cut < len(g.entries); cut++ {
		r := Verify(g.s.ID, g.entries[:cut], g.texts, Paper{})
		if !r.OK() || !strings.Contains(r.Words(), "origin not shown") {
			t.Fatalf("cut to %d: %v", cut, r.Findings)
		}
		r = Verify(g.s.ID, g.entries[:cut], g.texts, head)
		if has := cut >= len(g.entries)-2; r.OK() != has || !has && !found(r, FoundPaper) {
			t.Errorf("cut to %d of %d, with the head hash: %v", cut, len(g.entries), r.Findings)
		}
		n++
	}
	if n < 10 {
		t.Errorf("%d cuts", n)
	}
	if r := Verify("a", nil, nil, Paper{}); r.OK() {
		t.Error("nothing at all verifies")
	}
}

// At the reveal, too, a layout that the seed does not give breaks the seal,
// whatever digest was made for it.
func TestSealNeedsTheDrawing(t *testing.T) {
	for _, forged := range []bool{false, true} {
		g := newGame(t).toOpen(planOf(6, triangles(1)), 3)
		e := g.s.sealed
		if forged {
			e.Layout.Seats[2][0].Takes[0], e.Layout.Seats[2][0].Takes[1] = e.Layout.Seats[2][0].Takes[1], e.Layout.Seats[2][0].Takes[0]
			e.Digest = must(sealDigest(e.Plan, e.Layout, Seed(e.Seed), e.Salt))
			if err := e.Layout.fits(e.Plan); err != nil {
				t.Fatal(err)
			}
		}
		if r := g.s.compute(); r.Seal == forged {
			t.Errorf("forged: %v, the seal holds: %v", forged, r.Seal)
		}
	}
}

// What no drawing can give is no reason to draw: another hand may have written
// numbers that would draw for ever, or panic.
func TestRedrawRefusesImpossiblePlans(t *testing.T) {
	p := planOf(6, triangles(1), pairOn("body"))
	l := Draw(p, seedOf(1))
	if again, err := redraw(DrawVersion, p, l, seedOf(1)); err != nil || !reflect.DeepEqual(again, l) {
		t.Fatal(err)
	}
	// Sets that even out: two a seat, all of the first test, as in this layout.
	q, two := planOf(6, triangles(1_000_000_000), triangles(-999_999_998)), planOf(6, triangles(2))
	if _, err := redraw(DrawVersion, q, Draw(two, seedOf(1)), seedOf(1)); !errors.Is(err, errDrawing) {
		t.Errorf("sets that even out: %v", err)
	}
	for name, spoil := range map[string]func(p *Plan){
		"flights of nothing":   func(p *Plan) { p.Flights = []int{0, 6} },
		"flights below zero":   func(p *Plan) { p.Flights = []int{7, -1} },
		"flights that are few": func(p *Plan) { p.Flights = []int{3} },
		"another number":       func(p *Plan) { p.Seats = 1_000_000_000 },
		"an unknown method":    func(p *Plan) { p.Tests[0].Method = "pentad" },
		"no test":              func(p *Plan) { p.Tests = nil },
	} {
		q := p
		q.Tests = slices.Clone(p.Tests)
		spoil(&q)
		if _, err := redraw(DrawVersion, q, l, seedOf(1)); !errors.Is(err, errDrawing) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A look that says stop, or goes on, against the registered rule.
func TestFalseLookIsFound(t *testing.T) {
	g, _ := walkLooks(t, inFlights(planOf(8, sequential(2)), 4, 4))
	g.do(Reveal{})
	var seq uint64
	entries := rechained(t, g.entries, func(_ int, s *stored) {
		if s.Kind == "looked" && seq == 0 {
			seq = s.Seq
			var e Looked
			if err := json.Unmarshal(s.Body, &e); err != nil {
				t.Fatal(err)
			}
			e.Stop = !e.Stop
			s.Body = must(json.Marshal(e))
		}
	})
	if f, _ := Verify(g.s.ID, entries, g.texts, Paper{}).First(); seq == 0 || f.Entry != seq || f.Kind != FoundLook {
		t.Errorf("entry %d: %v", seq, f)
	}
}

func TestClosingHashIsHeldToTheChain(t *testing.T) {
	g, _ := played(t, planOf(6, triangles(1)), 6, 5)
	var all []Entry
	var prev Hash
	for i, e := range g.entries {
		rec, err := e.Record(nil)
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := rec.Event.(*Closed); ok {
			c.Head[0] ^= 1
		}
		n, err := NewEntry(uint64(i)+1, prev, rec)
		if err != nil {
			t.Fatal(err)
		}
		all, prev = append(all, n), n.Hash
	}
	if f, _ := Verify(g.s.ID, all, nil, Paper{}).First(); f.Kind != FoundClose || int(f.Entry) != len(all)-1 {
		t.Errorf("found %v", f)
	}
}

func TestTypedWordsAreHeldToTheirDigests(t *testing.T) {
	g := smallSession(t)
	x := text("Taster 1")
	x.Words = "Taster 9"
	g.texts[x.Digest] = x
	if f, _ := g.verified(Paper{}).First(); f.Kind != FoundText || g.entries[f.Entry-1].Kind != "joined" {
		t.Errorf("found %v", f)
	}
}

func TestReadPaper(t *testing.T) {
	h := phone(3)
	for _, typed := range []string{h.String(), strings.ToUpper(h.String()), ShortDigest(h), strings.ReplaceAll(ShortDigest(h), " ", "-"), " " + ShortDigest(h) + " "} {
		p, err := ReadPaper(typed, "")
		if err != nil || !strings.HasPrefix(h.String(), p.digest) || p.digest == "" || p.head != "" || p.IsZero() {
			t.Errorf("%q: %+v, %v", typed, p, err)
		}
	}
	for _, typed := range []string{" ", "12", ShortDigest(h) + "0", h.String()[:63], "g" + h.String()[1:], "0x" + h.String()[:14]} {
		if p, err := ReadPaper("", typed); err == nil || p != (Paper{}) {
			t.Errorf("%q: %+v", typed, p)
		}
	}
	if p, err := ReadPaper("", ""); err != nil || !p.IsZero() {
		t.Errorf("nothing: %v", err)
	}
}

func TestLabVerifies(t *testing.T) {
	var entries []Entry
	var prev Hash
	for i, ev := range []Event{&LabNamed{"Bench 2"}, &LotEntered{lotWater}, &LotReleased{releases()[1]}} {
		e, err := NewEntry(uint64(i)+1, prev, Recorded{At: noon, Actor: Host, Event: ev})
		if err != nil {
			t.Fatal(err)
		}
		entries, prev = append(entries, e), e.Hash
	}
	if r := VerifyLab(entries, nil); !r.OK() || r.check(checkChain) != Holds {
		t.Error(r.Findings)
	}
	if f, _ := VerifyLab(entries[1:], nil).First(); f.Kind != FoundChain {
		t.Errorf("the first entry taken out: %v", f)
	}
	entries[1] = must(NewEntry(2, entries[0].Hash, Recorded{At: noon, Actor: Host, Event: &Paused{}}))
	if f, _ := VerifyLab(entries[:2], nil).First(); f.Kind != FoundSense || f.Entry != 2 {
		t.Errorf("an entry of a session: %v", f)
	}
}

// Typed words that are not there are counted: which of them were erased, and which
// taken out of a file, nothing shows.
func TestMissingWordsAreCounted(t *testing.T) {
	g, _ := played(t, planOf(6, triangles(1)), 6, 4)
	if r := g.verified(Paper{}); r.Typed != 7 || r.Missing != 0 { // six names, and who released both lots
		t.Errorf("%d of %d typed words are missing", r.Missing, r.Typed)
	}
	few := maps.Clone(g.texts)
	delete(few, g.s.Seats[2].Name.Digest)
	delete(few, g.s.Seats[4].Name.Digest)
	for _, c := range []struct {
		texts map[Hash]Text
		state CheckState
		says  string
	}{{few, Holds, "2 of 7"}, {nil, NotShown, "7 of 7"}} {
		r := Verify(g.s.ID, g.entries, c.texts, Paper{})
		want := c.says + " typed words are not there: erased, or taken out"
		if !r.OK() || !strings.Contains(r.Words(), want) || r.check(checkWordsOf) != c.state {
			t.Errorf("%q, want %q; %q", r.Words(), want, r.check(checkWordsOf))
		}
	}
}
