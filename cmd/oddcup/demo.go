package main

import (
	"context"
	crand "crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"oddcup/cmd/oddcup/panel"
	"oddcup/session"
	"oddcup/web/console"
)

// demoCommand runs the main job whole, with nothing set up: an invented
// session, simulated tasters over real websockets, the reveal, the answer.
type demoCommand struct {
	Once    bool    `help:"End after printing the answer."`
	DPrime  float64 `name:"dprime" help:"Size of the difference that the simulated tasters perceive, in units of their own noise. 0: none." default:"2" placeholder:"D"`
	Seed    *uint64 `help:"Repeats layout, picks and result." placeholder:"N"`
	Tasters *int    `help:"Number of simulated tasters. Default: 24, or as many as the flights have." placeholder:"N"`
	Flights []int   `help:"Tasters of each flight, such as 12,12. Default: all taste at once." placeholder:"N"`
	Method  string  `help:"One of triangle, duo-trio, tetrad, paired-comparison, 3-afc. Default: a triangle, then a paired comparison." placeholder:"METHOD"`
	Goal    string  `help:"What the first test is to show: difference, similarity or both." default:"difference" placeholder:"GOAL"`
	Sets    int     `help:"Sets of the first test for each taster." default:"1" placeholder:"N"`
	JSON    bool    `help:"Print the result as JSON."`
	Console string  `help:"Address of the console, on loopback." default:"127.0.0.1:7760" placeholder:"ADDRESS:PORT"`
}

const (
	demoPin  = "4790"
	demoNote = "invented: a demonstration with simulated tasters, it never counts"
	demoHint = "choose others of --tasters, --flights, --sets, --method and --goal"
)

// Run implements the command.
func (c *demoCommand) Run(ctx context.Context, to streams) error {
	if c.DPrime < 0 || c.DPrime > 10 || c.DPrime != c.DPrime {
		return usage(fmt.Sprintf("--dprime %v is outside 0 to 10", c.DPrime), "2 is a difference that most people hear now and then")
	}
	plan, err := c.plan()
	if err != nil {
		return err
	}
	seed, err := c.seed()
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "oddcup-demo-")
	if err != nil {
		return fmt.Errorf("a place for the demonstration's file: %w", err)
	}
	defer os.RemoveAll(dir)
	o := houseOptions{
		data: filepath.Join(dir, "demo.oddcup"), console: c.Console, tasters: "127.0.0.1:0",
		draw: func(p session.Plan) (session.Sealing, error) { return session.Seal(p, seeded(seed, "layout")) },
		log:  newLog(to.err),
	}
	if c.Once {
		o.console = "127.0.0.1:0" // nobody looks at it
	}
	h, err := openHouse(ctx, o)
	if err != nil {
		return err
	}
	defer h.close()
	fmt.Fprintf(to.err, "An invented session: %d simulated tasters, d′ %g, seed %d (repeat it with --seed %d).\n", plan.Seats, c.DPrime, seed, seed)

	d := demo{h: h, seed: seed, dPrime: c.DPrime, plan: plan}
	state, err := d.run(ctx)
	if err != nil {
		return err
	}
	if err := report(to.out, state, c.JSON); err != nil {
		return err
	}
	if c.Once {
		return nil
	}
	fmt.Fprintf(to.err, "\nLook at it: %s/s/%s/result\nIt is gone when you stop with Ctrl-C.\n", h.console, state.ID)
	select {
	case <-ctx.Done():
		return nil
	case err := <-h.failed:
		return err
	}
}

// plan is the demonstration's plan without its lots.
func (c *demoCommand) plan() (session.Plan, error) {
	p := session.UsualPlan()
	p.Flights = c.Flights
	if len(c.Flights) > 0 {
		p.Seats = 0
		for _, n := range c.Flights {
			p.Seats += n
		}
	}
	if c.Tasters != nil {
		p.Seats = *c.Tasters
	}
	if c.Method != "" {
		m, err := methodRow(c.Method)
		if err != nil {
			return p, err
		}
		if m.Overall {
			p.Tests = p.Tests[:1]
		} else {
			p.Tests = p.Tests[1:]
		}
		p.Tests[0].Method = m.Key
	}
	if c.Goal != session.GoalDifference && c.Goal != session.GoalSimilarity && c.Goal != session.GoalBoth {
		return p, usage(fmt.Sprintf("--goal %q is not known", c.Goal), "use difference, similarity or both")
	}
	first := &p.Tests[0]
	first.Goal, first.Sets = c.Goal, c.Sets
	if c.Goal != session.GoalDifference {
		first.Beta, first.PdLimit = 0.05, 0.5
		first.TwoSided = first.Method == session.PairedComparison.Key
	}
	tried := p
	tried.Title = "Demonstration"
	tried.Untreated, tried.Processed = session.Lot{ID: "lot-1"}, session.Lot{ID: "lot-2"}
	if f := tried.Check(); f != nil {
		return p, usage(f.Error(), demoHint)
	}
	return p, nil
}

func (c *demoCommand) seed() (uint64, error) {
	if c.Seed != nil {
		return *c.Seed, nil
	}
	var b [4]byte
	if _, err := crand.Read(b[:]); err != nil {
		return 0, fmt.Errorf("a seed: %w", err)
	}
	return uint64(binary.LittleEndian.Uint32(b[:])), nil
}

// seeded is a stream of chance that repeats with the seed.
func seeded(seed uint64, name string) io.Reader { return rand.NewChaCha8(seedBytes(seed, name)) }

func seedBytes(seed uint64, name string) (b [32]byte) {
	binary.LittleEndian.PutUint64(b[:], seed)
	copy(b[8:], name)
	return b
}

// demo plays host, pourer and panel of one invented session.
type demo struct {
	h      *house
	seed   uint64
	dPrime float64
	plan   session.Plan // without its lots
	room   *session.Room[*session.State]

	// taste gives the nose of a seat that has thin[code] in its cups; nil means
	// panel.Nose with dPrime.
	taste func(seat int, thin map[int]bool) func(panel.Tray, *rand.Rand) (places []int, guess bool)
}

// demoTime bounds a demonstration.
const demoTime = 2 * time.Minute

func (d *demo) run(ctx context.Context) (*session.State, error) {
	ctx, cancel := context.WithTimeout(ctx, demoTime)
	defer cancel()
	if err := d.draft(ctx); err != nil {
		return nil, err
	}
	pin, err := session.NewPin(demoPin, crand.Reader)
	if err != nil {
		return nil, err
	}
	sealing, err := session.Seal(d.room.State().Plan, seeded(d.seed, "layout"))
	if err != nil {
		return nil, hinted{err, demoHint}
	}
	for _, act := range []session.Act{session.SetPin{Pin: pin}, session.SealPlan{Sealing: sealing}} {
		if err := d.do(ctx, session.Host, act); err != nil {
			return nil, err
		}
	}
	for flight := range d.plan.FlightSizes() {
		if err := d.flight(ctx, flight+1); err != nil {
			return nil, err
		}
	}
	for _, act := range []session.Act{session.Close{}, session.Reveal{}} {
		if err := d.do(ctx, session.Host, act); err != nil {
			return nil, err
		}
	}
	return d.room.State(), nil
}

// draft enters the invented scenario and its plan.
func (d *demo) draft(ctx context.Context) error {
	lab := d.h.rooms.Lab()
	by, err := session.NewText("Laboratory on duty (invented)", crand.Reader)
	if err != nil {
		return err
	}
	for _, act := range []session.Act{
		session.NameLab{Name: "Lab of the Tall Window (invented)"},
		session.EnterLot{Lot: session.Lot{Number: "TW-2207", Treatment: "untreated", Note: demoNote}},
		session.EnterLot{Lot: session.Lot{Number: "TW-2207", Treatment: "water", Note: demoNote}},
		session.ReleaseLot{Lot: "lot-1", By: by, Report: "R-118 (invented)"},
		session.ReleaseLot{Lot: "lot-2", By: by, Report: "R-119 (invented)"},
	} {
		if _, err := lab.Do(ctx, session.Command{At: time.Now(), Actor: session.Host, Act: act}); err != nil {
			return err
		}
	}
	id, err := session.NewID(time.Now(), crand.Reader)
	if err != nil {
		return err
	}
	if d.room, err = d.h.rooms.New(ctx, id); err != nil {
		return err
	}
	p := d.plan
	p.Title = "Tall Window session (invented)"
	p.Untreated, p.Processed = lab.State().Lots[0], lab.State().Lots[1]
	p.Serving.RinseS = 0
	p.Serving.OwnResult = true
	if f := p.Check(); f != nil {
		return hinted{f, demoHint}
	}
	return d.do(ctx, session.Host, session.Draft{Plan: p, Demo: true})
}

// taster makes the simulated person of a seat. What is poured into the cups
// comes from the pour sheet, as in a real session.
func (d *demo) taster(seat int, sheet session.PourSheet) *panel.Taster {
	thin := map[int]bool{}
	for _, round := range sheet.Rounds {
		for _, tray := range round.Trays {
			for _, cup := range tray.Cups {
				thin[int(cup.Code)] = !sheet.Lots[cup.Vessel].Untreated()
			}
		}
	}
	taste := panel.Nose(d.dPrime, func(code int) bool { return thin[code] })
	if d.taste != nil {
		taste = d.taste(seat, thin)
	}
	return &panel.Taster{
		Base: d.h.join, Door: d.room.State().PlaceDoor(seat), Name: fmt.Sprintf("Simulated %d", seat),
		Chance: rand.New(rand.NewChaCha8(seedBytes(d.seed, fmt.Sprint("taster ", seat)))),
		Taste:  taste,
		Pause:  40 * time.Millisecond,
	}
}

// flight seats a flight's tasters and serves each round when the one before is
// in.
func (d *demo) flight(ctx context.Context, number int) error {
	if number > 1 {
		if err := d.do(ctx, session.Host, session.EndFlight{}); err != nil {
			return err
		}
	}
	if err := d.do(ctx, session.Host, session.OpenLobby{}); err != nil {
		return err
	}
	if err := d.do(ctx, session.Pourer, session.OpenPourSheet{Pin: demoPin}); err != nil {
		return err
	}
	sheet, err := d.room.State().PourSheet()
	if err != nil {
		return err
	}
	seats := d.room.State().Listed()
	seated := make(chan error, len(seats))
	for _, seat := range seats {
		t := d.taster(seat, sheet)
		go func() { seated <- t.Sit(ctx) }()
	}
	err = d.until(ctx, seated, func(s *session.State) bool { return len(s.Occupied()) == len(seats) })
	if err != nil {
		return err
	}
	lab := d.h.rooms.Lab().State()
	for _, act := range []session.Act{session.FreezeList{}, session.Open{Releases: lab.ReleasesOf("lot-1", "lot-2")}} {
		if err := d.do(ctx, session.Host, act); err != nil {
			return err
		}
	}
	for round := 1; round <= d.plan.SetsPerSeat(); round++ {
		if err := d.do(ctx, session.Host, session.Serve{Round: round}); err != nil {
			return err
		}
		if err := d.until(ctx, seated, (*session.State).AllIn); err != nil {
			return err
		}
	}
	return nil
}

// until waits for the session to get somewhere, or for a taster to fail.
func (d *demo) until(ctx context.Context, seated <-chan error, there func(*session.State) bool) error {
	changes, stop := d.room.Watch()
	defer stop()
	for !there(d.room.State()) {
		select {
		case <-changes:
		case err := <-seated:
			if err != nil {
				return err
			}
		case <-ctx.Done():
			return fmt.Errorf("the demonstration did not come to its end: %w", errors.Join(errDemo, ctx.Err()))
		}
	}
	return nil
}

var errDemo = errors.New("some simulated taster did not answer")

func (d *demo) do(ctx context.Context, who session.Actor, act session.Act) error {
	_, err := d.room.Do(ctx, session.Command{At: time.Now(), Actor: who, Act: act})
	return err
}

// report prints what a session showed.
func report(w io.Writer, s *session.State, asJSON bool) error {
	if asJSON {
		b, err := console.ResultJSON(s)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(w, "%s\n", b)
		return err
	}
	r, err := s.Compute()
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%s\n", r.Answer())
	for _, t := range r.Tests {
		tellTest(w, t)
	}
	if len(r.Cautions) > 0 {
		fmt.Fprintln(w, "\nRead with the answer:")
		for _, c := range r.Cautions {
			fmt.Fprintf(w, "  - %s\n", c)
		}
	}
	fmt.Fprintf(w, "\nSeal %s: %s\n", session.ShortDigest(s.Digest), map[bool]string{
		true: "holds, plan and layout are those sealed before anyone tasted", false: "DOES NOT HOLD"}[r.Seal])
	return nil
}

// tellTest prints what one test of a session showed.
func tellTest(w io.Writer, t session.TestResult) {
	fmt.Fprintf(w, "\nTest %d, %s\n", t.Number, t.Method.Name)
	for _, say := range []string{t.Sentence(), t.PSentence(), t.SimilarSentence(), t.LimitSentence(), t.Verdict()} {
		if say != "" {
			fmt.Fprintf(w, "  %s\n", say)
		}
	}
	if t.N > 0 {
		fmt.Fprintf(w, "  Share who perceive it, pd: %s.\n  Size of the difference, d′: %s.\n", t.PdWords(), t.DPrimeWords())
		if t.Plan.TwoSided && !math.IsNaN(t.Pd) {
			fmt.Fprintln(w, "  "+signed)
		}
	}
}
