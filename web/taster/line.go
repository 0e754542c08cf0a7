package taster

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/gorilla/websocket"
	"golang.org/x/time/rate"

	"oddcup/session"
	"oddcup/web/say"
)

const (
	helloWithin = 10 * time.Second
	writeWithin = 10 * time.Second
	pingEvery   = 15 * time.Second
	silentFor   = 40 * time.Second // no frame and no pong for so long: the line is dead
	hardLimit   = 1 << 16          // bytes; beyond it the library cuts the line at once
	// A thumb can't be faster; a program gone wild is held up.
	framesPerSecond = 20
	framesAtOnce    = 60
	// outQueue is in frames: an answer to each frame that may come at once fits. A
	// phone that takes none is cut off and asks again.
	outQueue = framesAtOnce + 4
	// calm bounds how often a busy table draws a phone's view anew.
	calm = 20 * time.Millisecond
)

// line is one phone's websocket. Its reading goroutine is the handler's; the
// one started by serve writes, so that at most one writer is ever at work.
type line struct {
	t      *Tasters
	ws     *websocket.Conn
	out    chan []byte   // never closed
	gone   chan struct{} // closed when the line ends
	end    sync.Once
	room   *session.Room[*session.State]
	asked  int // the seat that the door gives, 0 for the next free one
	token  session.Hash
	limits *rate.Limiter

	// Owned by the writing goroutine.
	seat int // the seat that the phone last had
	last string
}

var (
	// errFinal ends a line after its refusal was sent.
	errFinal = errors.New("refused for good")
	// errGone is the end of a line that never said hello: nobody is there to be
	// told, and the log of a day would be full of it.
	errGone = errors.New("the line ended before hello")
)

// serve reads until the line ends, and returns after its writer has.
func (l *line) serve(ctx context.Context) {
	defer l.ws.Close()
	l.ws.SetReadLimit(hardLimit)
	l.ws.SetReadDeadline(time.Now().Add(helloWithin))
	l.ws.SetPingHandler(func(data string) error {
		if err := l.limits.Wait(ctx); err != nil {
			return err
		}
		return l.ws.WriteControl(websocket.PongMessage, []byte(data), time.Now().Add(writeWithin))
	})
	if err := l.hello(); errors.Is(err, errGone) {
		return
	} else if err != nil {
		l.ws.SetWriteDeadline(time.Now().Add(writeWithin))
		l.ws.WriteJSON(l.refusal("", err, true))
		return
	}
	var writing sync.WaitGroup
	writing.Go(l.write)
	defer writing.Wait()
	defer l.stop()
	l.ws.SetPongHandler(func(string) error {
		return l.ws.SetReadDeadline(time.Now().Add(silentFor))
	})
	for {
		l.ws.SetReadDeadline(time.Now().Add(silentFor))
		_, b, err := l.ws.ReadMessage()
		if err != nil {
			return
		}
		if err := l.limits.Wait(ctx); err != nil {
			return
		}
		f, err := parseFrame(b)
		if err == nil {
			err = l.take(ctx, f)
		}
		if err != nil {
			l.send(l.refusal(f.ID, err, false))
		}
	}
}

func (l *line) stop() { l.end.Do(func() { close(l.gone) }) }

// hello reads the first frame and finds the session.
func (l *line) hello() error {
	_, b, err := l.ws.ReadMessage()
	if err != nil {
		return fmt.Errorf("%w: %v", errGone, err)
	}
	f, err := parseFrame(b)
	if err != nil {
		return err
	}
	if f.T != "hello" {
		return fmt.Errorf("%w: the first frame is hello", errFrame)
	}
	if f.V != WireVersion {
		return errVersion
	}
	token, err := hex.DecodeString(f.Token)
	if err != nil || len(token) != 16 {
		return fmt.Errorf("%w: token", errFrame)
	}
	room, ok := l.t.Rooms.ByDoor(normalDoor(f.Door))
	if !ok {
		return errDoor
	}
	l.room, l.token = room, session.HashToken(token)
	l.asked, _ = room.State().SeatOfDoor(normalDoor(f.Door))
	return nil
}

var (
	errDoor    = errors.New("no session has this code")
	errVersion = errors.New("another version of the protocol")
	errCode    = errors.New("the name is a join code")
	errMoved   = errors.New("a newer phone has the seat")
	errOther   = errors.New("the seat was handed to another phone")
	errNoSeat  = errors.New("this phone has no seat")
)

// own words for what only a line can meet, and for what a taster can do less
// about than the host.
var own = []struct {
	err  error
	why  string
	say  string
	next string
}{
	{errDoor, "door", "No session here has this code.", "Look at the code on your seat card again, or ask the host."},
	{errCode, "code", "That is the code of a seat card, not a name.", "Type your name here, and the code where the page asks for one."},
	{errVersion, "version", "This page is from another version of the host program.", "Reload the page."},
	{errOther, "moved", "Another phone has this seat now.", "Lay this one aside. If nobody handed the seat over, call the host."},
	{errMoved, "moved", "This seat goes on with another phone or page.", "Lay this one aside. If you moved nothing, call the host."},
	{errNoSeat, "seat", "This phone has no seat at this table now.", "Take a seat on this page, or ask the host."},
	{session.ErrJournal, "busy", "The host laptop could not write to its disk. Nothing of this was kept.", "Leave the page open: it sends this again by itself. If it stays so, call the host."},
	{session.ErrClosedRoom, "busy", "The host program is stopping. Nothing of this was kept.", "Leave the page open: it goes on when the host is back."},
	{session.ErrPhase, "phase", "The table is not at this step.", "Go on with what this page shows, or ask the host."},
	{errFrame, "frame", "The host could not read what this page sent.", "Reload the page; your answers are safe."},
}

func (l *line) refusal(id string, err error, final bool) refusedOut {
	r := refusedOut{T: "refused", ID: id, Final: final}
	for _, o := range own {
		if errors.Is(err, o.err) {
			r.Why, r.Say, r.Next = o.why, o.say, o.next
			return r
		}
	}
	w, foreseen := say.Of(err)
	if !foreseen {
		l.t.Log.Error("phone", "err", err)
	}
	r.Why, r.Say, r.Next = w.Why, w.Say, w.Next
	return r
}

// take carries out one frame.
func (l *line) take(ctx context.Context, f frameIn) error {
	seat := l.room.State().SeatOfToken(l.token)
	switch f.T {
	case "beat":
		l.send(beatOut{"beat"})
		return nil
	case "sit":
		return l.sit(ctx, f, seat)
	case "lock":
		return l.lock(ctx, f, seat)
	case "tray":
		if seat == 0 {
			return errNoSeat
		}
		l.tray(f, seat)
		return nil
	case "call", "uncall":
		if seat == 0 {
			return errNoSeat
		}
		why := f.Why
		if f.T == "uncall" {
			why = ""
		} else if CallReasons[why] == "" {
			why = "other"
		}
		l.t.Presence.call(l.room.State().ID, seat, why)
		return nil
	}
	return fmt.Errorf("%w: t is %.20q", errFrame, f.T)
}

// sit asks for a seat; had is the one that the phone has already, 0 for none.
func (l *line) sit(ctx context.Context, f frameIn, had int) error {
	id, err := session.ParseCommandID(f.ID)
	if err != nil {
		return fmt.Errorf("%w: %v", errFrame, err)
	}
	if l.t.isCode(f.Name) {
		return errCode
	}
	name, err := session.NewText(cleanName(f.Name), l.t.Chance)
	if err != nil {
		return err
	}
	recorded, err := l.room.Do(ctx, session.Command{
		At: l.t.Now(), Actor: "phone", ID: id,
		Act: session.Sit{Seat: l.asked, Name: name, Token: l.token},
	})
	if err != nil {
		return err
	}
	s := l.room.State()
	now := s.SeatOfToken(l.token)
	if now == 0 {
		// The same id got its first outcome, and the host has freed that seat since.
		return errNoSeat
	}
	for _, rec := range recorded {
		if _, ok := rec.Event.(*session.Joined); ok && had == 0 {
			l.t.Presence.newcomer(s.ID, now)
		}
	}
	return nil
}

// lock asks the Room, and says "kept" only after the Room has: by then the
// answer is on disk.
func (l *line) lock(ctx context.Context, f frameIn, seat int) error {
	id, err := session.ParseCommandID(f.ID)
	if err != nil {
		return fmt.Errorf("%w: %v", errFrame, err)
	}
	if seat == 0 {
		return errNoSeat
	}
	act := session.Lock{
		Seat: seat, Set: f.Set, Take: f.Take,
		Pick: session.Code(f.Pick), Also: session.Code(f.Also), Guess: f.Guess, PhoneAt: f.At.Truncate(time.Millisecond),
	}
	recorded, err := l.room.Do(ctx, session.Command{At: l.t.Now(), Actor: session.Taster(seat), ID: id, Act: act})
	if err != nil {
		return err
	}
	set, take := f.Set, f.Take
	for _, rec := range recorded {
		// The first outcome of this id counts, whatever is asked for now.
		if e, ok := rec.Event.(*session.Locked); ok {
			set, take = e.Set, e.Take
		}
	}
	k := keptOut{T: "kept", ID: f.ID}
	s := l.room.State()
	if a := s.Seats[seat-1].Sets[set-1].Takes[take].Answer; a != nil {
		k.keptEntry = keptOf(s, seat, set, take, a)
	}
	l.send(k)
	return nil
}

func (l *line) tray(f frameIn, seat int) {
	s := l.room.State()
	codes := s.Codes(seat, f.Set, f.Take)
	set, take, ok := s.Seats[seat-1].Front()
	if !ok || set != f.Set || take != f.Take || len(codes) == 0 || f.Code < 0 || f.Code > 999 {
		return
	}
	l.t.Presence.tray(s.ID, seat, set, take, session.Code(f.Code), session.Code(f.Code) == codes[0])
}

// send queues a frame; a phone whose queue is full is cut off and will ask again.
func (l *line) send(frame any) {
	b, err := json.Marshal(frame)
	if err != nil {
		panic(fmt.Sprintf("taster: frame %T: %v", frame, err))
	}
	select {
	case l.out <- b:
	default:
		l.stop()
	}
}

// write is the line's one writer: queued frames, the view whenever it changes,
// and pings.
func (l *line) write() {
	defer l.ws.Close() // wakes the reader
	changes, stop := l.room.Watch()
	defer stop()
	signs, stopSigns := l.t.Presence.Watch()
	defer stopSigns()
	ping := time.NewTicker(pingEvery)
	defer ping.Stop()
	defer func() { l.t.leave(l, l.seat) }()
	for {
		if err := l.drain(); err != nil {
			return
		}
		if err := l.show(); err != nil {
			return
		}
		select {
		case <-l.gone:
			l.drain()
			return
		case <-l.room.Done():
			return
		case b := <-l.out:
			if err := l.put(b); err != nil {
				return
			}
			continue
		case <-ping.C:
			if err := l.ws.WriteControl(websocket.PingMessage, nil, time.Now().Add(writeWithin)); err != nil {
				return
			}
			continue
		case <-changes:
		case <-signs:
		}
		// Frames go at once; a view may wait for what comes close behind.
		settle := time.NewTimer(calm)
	wait:
		for {
			select {
			case b := <-l.out:
				if err := l.put(b); err != nil {
					settle.Stop()
					return
				}
			case <-settle.C:
				break wait
			}
		}
	}
}

func (l *line) put(b []byte) error {
	l.ws.SetWriteDeadline(time.Now().Add(writeWithin))
	return l.ws.WriteMessage(websocket.TextMessage, b)
}

func (l *line) drain() error {
	for {
		select {
		case b := <-l.out:
			if err := l.put(b); err != nil {
				return err
			}
		default:
			return nil
		}
	}
}

// show sends the view if it differs from the one sent last, and notices when
// the seat was taken over.
func (l *line) show() error {
	s := l.room.State()
	v := viewOf(s, func(seat int) Sign { return l.t.Presence.Seat(s.ID, seat) }, l.asked, l.token)
	have := s.SeatOfToken(l.token)
	if l.seat != 0 && have == 0 && s.Seats[l.seat-1].Person != "" || l.seat == 0 && s.MovedOn(l.token) {
		return l.moved(errOther)
	}
	if have != l.seat {
		l.t.leave(l, l.seat)
		l.t.arrive(l, have)
	}
	l.seat = have
	if have != 0 && !l.t.holds(l, have) {
		return l.moved(errMoved)
	}
	b, err := json.Marshal(v)
	if err != nil {
		panic(fmt.Sprintf("taster: view: %v", err))
	}
	if string(b) == l.last {
		return nil
	}
	l.last = string(b)
	return l.put(b)
}

func (l *line) moved(why error) error {
	b, err := json.Marshal(l.refusal("", why, true))
	if err == nil {
		err = l.put(b)
	}
	if err != nil {
		return err
	}
	return errFinal
}
