package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// canonical writes what a seal is made of, by hand, from its description: salt,
// then drawing version, plan, layout and seed as JSON, in the order of their
// types, without white space.
func canonical(p Plan, l Layout, seed Seed, salt [32]byte) []byte {
	var b bytes.Buffer
	str := func(s string) string { return string(must(json.Marshal(s))) }
	lot := func(l Lot) {
		fmt.Fprintf(&b, `{"id":%s,"number":%s,"treatment":%s`, str(string(l.ID)), str(l.Number), str(l.Treatment))
		if l.Note != "" {
			fmt.Fprintf(&b, `,"note":%s`, str(l.Note))
		}
		b.WriteString("}")
	}
	b.Write(salt[:])
	fmt.Fprintf(&b, `{"draw":%d,"plan":{"title":%s,"untreated":`, l.Version, str(p.Title))
	lot(p.Untreated)
	b.WriteString(`,"processed":`)
	lot(p.Processed)
	b.WriteString(`,"tests":[`)
	for i, t := range p.Tests {
		if i > 0 {
			b.WriteString(",")
		}
		fmt.Fprintf(&b, `{"method":%s,"goal":%s,"sets":%d,"alpha":%v,"pd":%v,"power":%v`, str(t.Method), str(t.Goal), t.Sets, t.Alpha, t.Pd, t.Power)
		if t.Attribute != "" {
			fmt.Fprintf(&b, `,"attribute":%s,"definition":%s`, str(t.Attribute), str(t.Definition))
		}
		if t.TwoSided {
			b.WriteString(`,"twoSided":true`)
		}
		b.WriteString("}")
	}
	s := p.Serving
	fmt.Fprintf(&b, `],"seats":%d,"serving":{"fillG":%v,"lowC":%v,"highC":%v,"doseGPerL":%v,"rinseS":%d,"swallow":%s,"allergens":%s,"redLight":%v,"ownResult":%v}}`,
		p.Seats, s.FillG, s.LowC, s.HighC, s.DoseGPerL, s.RinseS, str(s.Swallow), str(s.Allergens), s.RedLight, s.OwnResult)
	fmt.Fprintf(&b, `,"layout":{"version":%d,"disc":%s,"door":%s,"places":%s,"seats":[`, l.Version, str(l.Disc), str(l.Door), must(json.Marshal(l.Places)))
	for i, sets := range l.Seats {
		if i > 0 {
			b.WriteString(",")
		}
		b.WriteString("[")
		for j, set := range sets {
			if j > 0 {
				b.WriteString(",")
			}
			fmt.Fprintf(&b, `{"test":%d,"order":%s,"takes":%s}`, set.Test, str(set.Order), must(json.Marshal(set.Takes)))
		}
		b.WriteString("]")
	}
	fmt.Fprintf(&b, `]},"seed":"%x"}`, seed)
	return b.Bytes()
}

// TestSealDigest holds the canonical form for ever: a session's digest stands on
// paper, so a field that Plan or Layout gains must leave old bytes as they are.
func TestSealDigest(t *testing.T) {
	p := usual()
	p.Serving.Swallow, p.Untreated.Note, p.Tests[1].TwoSided = "Spit <or> swallow & rinse", "sieve 17", true
	s := sealing(t, p, 8)
	if !reflect.DeepEqual(s.Layout, Draw(p, s.Seed)) {
		t.Error("the layout is not drawn from the seed")
	}
	if want := Hash(sha256.Sum256(canonical(p, s.Layout, s.Seed, s.Salt))); s.Digest != want {
		t.Errorf("digest %v, recomputed %v", s.Digest, want)
	}
	if Seed(s.Salt) == s.Seed || s.Seed == (Seed{}) {
		t.Error("salt and seed are not from chance")
	}
	if got, want := ShortDigest(s.Digest), fmt.Sprintf("%x %x %x %x", s.Digest[:2], s.Digest[2:4], s.Digest[4:6], s.Digest[6:8]); got != want {
		t.Errorf("short digest %q, want %q", got, want)
	}
}

// oldPlan is a plan as they were before goals other than a difference, before
// references, blank and sequential tests, flights and practice.
func oldPlan() Plan {
	p := usual()
	p.Serving.Swallow, p.Untreated.Note, p.Tests[1].TwoSided = "Spit <or> swallow", "sieve 17", true
	return p
}

// TestOldPlansAreSealedAsBefore holds what a program without those fields wrote
// of that plan: its bytes, its seal, and the journal of a whole session up to
// the close. Each was taken from that program, with these seeds.
func TestOldPlansAreSealedAsBefore(t *testing.T) {
	const plan = `{"title":"Wednesday table",` +
		`"untreated":{"id":"lot-1","number":"QX-301","treatment":"untreated","note":"sieve 17"},` +
		`"processed":{"id":"lot-2","number":"QX-302","treatment":"water"},` +
		`"tests":[{"method":"triangle","goal":"difference","sets":1,"alpha":0.05,"pd":0.4,"power":0.8},` +
		`{"method":"paired-comparison","goal":"difference","sets":1,"alpha":0.05,"pd":0.4,"power":0.8,"attribute":"body",` +
		`"definition":"Body: how full, heavy and thick the coffee feels in the mouth. Not bitterness, not strength of taste.","twoSided":true}],` +
		`"seats":24,"serving":{"fillG":30,"lowC":55,"highC":65,"doseGPerL":60,"rinseS":60,` +
		`"swallow":"Spit \u003cor\u003e swallow","allergens":"","redLight":false,"ownResult":false}}`
	if got := string(must(json.Marshal(oldPlan()))); got != plan {
		t.Errorf("the plan reads\n%s\nwant\n%s", got, plan)
	}
	if got := sealing(t, oldPlan(), 8).Digest.String(); got != "2997d2e7a479e306f15fb05e9eaa21db38b38295fa993accc697d058612473e9" {
		t.Errorf("the seal is %s", got)
	}
	g, r := played(t, oldPlan(), 24, 13, 18)
	if !r.Seal || r.Tests[0].Outcome != Different || r.Tests[1].Outcome != Different {
		t.Errorf("the session shows %+v", r)
	}
	h := sha256.New()
	for _, e := range g.entries[:len(g.entries)-1] {
		h.Write(e.Stored)
	}
	if got := fmt.Sprintf("%d %x", len(g.entries), h.Sum(nil)); got != "83 c615f761fc2d580e92ee9dc75d3ce87e19c3294fa39f18bb9c0942cba8ee1cd3" {
		t.Errorf("the journal's entries have the number and sum %s", got)
	}
}

// Each field that plans have got since is written where it is set, and nowhere
// else: by the plan's own words for it.
func TestNewFieldsAreWrittenWhereTheyAreSet(t *testing.T) {
	for _, c := range []struct {
		set  func(*Plan)
		want string
	}{
		{func(p *Plan) { p.Flights = []int{12, 12} }, `"flights":[12,12]`},
		{func(p *Plan) { p.Practice = true }, `"practice":true`},
		{func(p *Plan) { p.Tests[0].Beta = 0.05 }, `"beta":0.05`},
		{func(p *Plan) { p.Tests[0].PdLimit = 0.3 }, `"pdLimit":0.3`},
		{func(p *Plan) { p.Tests[0].Reference = ReferenceConstant }, `"reference":"constant"`},
		{func(p *Plan) { p.Tests[0].Blank = BlankUntreated }, `"blank":"untreated"`},
		{func(p *Plan) { p.Tests[0].Sequential = true }, `"sequential":true`},
		{func(p *Plan) { p.Tests[1].More = true }, `"more":true`},
	} {
		p := oldPlan()
		old := string(must(json.Marshal(p)))
		c.set(&p)
		got := string(must(json.Marshal(p)))
		if strings.Contains(old, c.want) || !strings.Contains(got, c.want) || strings.Replace(got, ","+c.want, "", 1) != old {
			t.Errorf("%s: %s", c.want, got)
		}
		l := Draw(oldPlan(), seedOf(1))
		before, after := must(sealDigest(oldPlan(), l, seedOf(1), [32]byte{})), must(sealDigest(p, l, seedOf(1), [32]byte{}))
		if before == after {
			t.Errorf("%s: the seal does not show it", c.want)
		}
	}
}

// The digest names the version that the layout was drawn by, not the one that
// this program draws by: else every old seal breaks on the day of version 2.
func TestSealDigestKeepsTheLayoutsVersion(t *testing.T) {
	p := usual()
	l := Draw(p, seedOf(1))
	l.Version = DrawVersion + 1
	got, err := sealDigest(p, l, seedOf(1), [32]byte{})
	if err != nil {
		t.Fatal(err)
	}
	if want := Hash(sha256.Sum256(canonical(p, l, seedOf(1), [32]byte{}))); got != want {
		t.Errorf("a layout of version %d is sealed as one of version %d", l.Version, DrawVersion)
	}
}

func TestSealNeedsAPlanAndChance(t *testing.T) {
	if _, err := Seal(UsualPlan(), chance(1)); !errors.Is(err, ErrPlan) {
		t.Errorf("a plan with faults: %v", err)
	}
	for _, n := range []int{0, 31, 32, 63} {
		if _, err := Seal(usual(), bytes.NewReader(make([]byte, n))); !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
			t.Errorf("%d bytes of chance: %v", n, err)
		}
	}
}

func TestSealShowsEveryChange(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*Sealed)
	}{
		{"title", func(s *Sealed) { s.Plan.Title += "." }},
		{"seats", func(s *Sealed) { s.Plan.Seats-- }},
		{"lots swapped", func(s *Sealed) { s.Plan.Untreated, s.Plan.Processed = s.Plan.Processed, s.Plan.Untreated }},
		{"alpha", func(s *Sealed) { s.Plan.Tests[0].Alpha = 0.1 }},
		{"two-sided", func(s *Sealed) { s.Plan.Tests[1].TwoSided = true }},
		{"serving", func(s *Sealed) { s.Plan.Serving.FillG++ }},
		{"an order", func(s *Sealed) {
			o := &s.Layout.Seats[1][0].Order
			*o = map[bool]string{true: "AAB", false: "BBA"}[*o != "AAB"]
		}},
		{"a code", func(s *Sealed) { s.Layout.Seats[1][0].Takes[1][0]++ }},
		{"disc", func(s *Sealed) { s.Layout.Disc = map[string]string{"A": "B", "B": "A"}[s.Layout.Disc] }},
		{"door", func(s *Sealed) { s.Layout.Door = "222222" }},
		{"a place", func(s *Sealed) { s.Layout.Places[2] = "222222" }},
		{"seed", func(s *Sealed) { s.Seed[31] ^= 1 }},
		{"salt", func(s *Sealed) { s.Salt[0] ^= 1 }},
		{"digest", func(s *Sealed) { s.Digest[5] ^= 1 }},
		{"nothing", func(*Sealed) {}},
	} {
		g := newGame(t).toOpen(planOf(6, triangles(1), pairOn("body")), 3)
		c.spoil(g.s.sealed)
		r := g.s.compute()
		if want := c.name == "nothing"; r.Seal != want {
			t.Errorf("%s changed: the seal holds: %v", c.name, r.Seal)
		}
		caution := slices.ContainsFunc(r.Cautions, func(s string) bool { return bytes.Contains([]byte(s), []byte("seal does not hold")) })
		if caution == r.Seal {
			t.Errorf("%s changed: the seal holds %v, and the caution stands %v", c.name, r.Seal, caution)
		}
	}
}

// The host may state the plan anew while a seal is being made of the old one.
// Sealing must refuse it: else the session is served, and the seal does not hold
// at the reveal.
func TestSealOfAnotherPlanIsRefused(t *testing.T) {
	p := planOf(6, triangles(1))
	q := p
	q.Tests = []TestPlan{triangles(1)}
	q.Tests[0].Alpha = 0.1
	g := newGame(t)
	g.do(Draft{Plan: q}, SetPin{testPin})
	g.refuse(SealPlan{sealing(t, p, 5)}, ErrSeal)
}

func TestKeyIsShutUntilTheReveal(t *testing.T) {
	shut := func(s *State, at string) {
		t.Helper()
		_, err := s.Key()
		_, err2 := s.Compute()
		_, err3 := s.AnswersOf(1)
		for _, err := range []error{err, err2, err3} {
			if !errors.Is(err, ErrSealed) {
				t.Errorf("%s: %v, want ErrSealed", at, err)
			}
		}
	}
	opened := 0
	for _, stage := range stages {
		g := newGame(t)
		stage.play(g)
		if stage.name != "revealed" {
			shut(g.s, stage.name)
			continue
		}
		opened++
		l, err := g.s.Key()
		if err != nil || !reflect.DeepEqual(l, g.s.sealed.Layout) {
			t.Errorf("after the reveal: %v", err)
		}
		if a, err := g.s.AnswersOf(2); err != nil || len(a) != 1 || !a[0].Correct {
			t.Errorf("seat 2's own answers: %+v, %v", a, err)
		}
		for _, seat := range []int{0, 4} {
			if _, err := g.s.AnswersOf(seat); !errors.Is(err, ErrNoSeat) {
				t.Errorf("seat %d: %v", seat, err)
			}
		}
	}
	if opened != 1 {
		t.Error("no stage has the key open")
	}
	shut(&State{}, "zero")
}

// The package says that the serving key is an unexported part of State. Whoever
// prints or encodes a State, or walks its trail, can't come upon it then.
func TestNoExportedFieldHoldsTheKey(t *testing.T) {
	found := map[string]bool{}
	key := map[reflect.Type]bool{reflect.TypeFor[Layout](): true, reflect.TypeFor[DealtSet](): true, reflect.TypeFor[Seed](): true}
	var walk func(at string, v reflect.Value, depth int)
	walk = func(at string, v reflect.Value, depth int) {
		if depth > 20 {
			t.Fatalf("%s: too deep", at)
		}
		switch v.Kind() {
		case reflect.Pointer, reflect.Interface:
			if !v.IsNil() {
				walk(at, v.Elem(), depth+1)
			}
		case reflect.Struct:
			if v.Type() == reflect.TypeFor[time.Time]() {
				return
			}
			if key[v.Type()] && !v.IsZero() {
				found[at] = true
				return
			}
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					walk(at+"."+f.Name, v.Field(i), depth+1)
				}
			}
		case reflect.Slice, reflect.Array:
			for i := range v.Len() {
				walk(at+"[]", v.Index(i), depth+1)
			}
		case reflect.Map:
			for _, k := range v.MapKeys() {
				walk(at+"[]", v.MapIndex(k), depth+1)
			}
		case reflect.String:
			for _, m := range Methods {
				if slices.Contains(m.Orders, v.String()) {
					found[at] = true
				}
			}
		}
	}
	g := newGame(t)
	stageServed(g)
	walk("State", reflect.ValueOf(g.s), 0)
	// A sequential test that looked, of every method, in flights; and practice,
	// which tells each taster.
	for _, m := range Methods {
		test := testOf(m, GoalDifference, 1)
		test.Sequential, test.Beta = true, 0.1
		for _, practice := range []bool{false, true} {
			p := inFlights(planOf(8, test), 4, 4)
			p.Practice = practice
			g, _ := walkLooks(t, p)
			walk("State", reflect.ValueOf(g.s), 0)
		}
	}
	for at := range found {
		t.Errorf("%s holds the key", at)
	}
	// The walk finds a key where one is.
	clear(found)
	walk("Layout", reflect.ValueOf(struct{ L []Layout }{[]Layout{g.s.sealed.Layout}}), 0)
	if len(found) == 0 {
		t.Fatal("the walk finds nothing")
	}
}

// walkLooks plays a sequential session up to its last round, closed but not
// revealed.
func walkLooks(t *testing.T, p Plan) (*game, int) {
	t.Helper()
	n := 0
	g, answers := walk(t, p, func() bool { n++; return n%2 == 0 })
	if len(g.s.looks) == 0 || len(answers) != n {
		t.Fatalf("%d looks, %d answers", len(g.s.looks), n)
	}
	g.do(Void{Seat: 1, Set: 1, Reason: text("spilt")}, Close{})
	return g, n
}

// Before the reveal all that a State exports is the same under another key: the
// two sessions have the same codes, and the same cups are named in them.
func TestNothingExportedDependsOnTheKey(t *testing.T) {
	for _, m := range Methods {
		test := testOf(m, GoalDifference, 1)
		test.Sequential, test.Alpha, test.Beta = true, 0.0001, 0.0001 // twelve answers can't decide
		p := inFlights(planOf(12, test), 6, 6)
		if m.Overall {
			p.Tests = []TestPlan{testOf(m, GoalBoth, 1), blankTest()}
		}
		shown, hidden, looks := map[string]bool{}, map[string]bool{}, 0
		for turn := range 2 {
			seal := sealing(t, p, 5)
			for _, sets := range seal.Layout.Seats {
				for i := range sets {
					orders := p.Tests[sets[i].Test].Orders()
					sets[i].Order = orders[(indexOf(orders, sets[i].Order)+turn)%len(orders)]
				}
			}
			seal.Layout.Disc = []string{"A", "B"}[turn]
			seal.Digest = must(sealDigest(p, seal.Layout, seal.Seed, seal.Salt))
			g := newGame(t)
			g.do(Draft{Plan: p}, SetPin{testPin}, SealPlan{seal})
			for flight := range 2 {
				if flight > 0 {
					g.do(EndFlight{})
				}
				for i, seat := range g.seatFlight() {
					if i == 0 {
						g.do(Serve{Round: 1})
					}
					codes := g.s.Codes(seat, 1, 0)
					lock := Lock{Seat: seat, Set: 1, Pick: codes[m.References()+(i/2)%(m.Cups-m.References())], PhoneAt: noon}
					if m.Picks == 2 {
						lock.Pick, lock.Also = codes[0], codes[1+i%3]
					}
					g.do(lock)
				}
			}
			g.do(Void{Seat: 8, Set: 1, Reason: text("spilt"), Replace: true}, Close{})
			looks += len(g.s.looks)
			hidden[fmt.Sprint(g.s.sealed.Layout)] = true
			s := g.s.Clone()
			s.Digest, s.Head, s.ClosedAt = Hash{}, Hash{}, Hash{}
			for i, step := range s.Trail {
				switch step.Event.(type) {
				case *Sealed, *Closed: // digest of the key, hash of the entries
					s.Trail[i].Event = nil
				}
			}
			shown[string(must(json.Marshal(s)))] = true
		}
		if len(hidden) != 2 || len(shown) != 1 {
			t.Errorf("%s: under %d keys the state shows %d faces", m.Key, len(hidden), len(shown))
		}
		if !m.Overall && looks != 2 {
			t.Errorf("%s: %d looks", m.Key, looks)
		}
	}
}
