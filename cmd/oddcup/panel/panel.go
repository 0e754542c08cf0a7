// Package panel is a panel of simulated tasters: clients of the phones'
// protocol, written from its description alone. It imports nothing of ours.
package panel

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"github.com/gorilla/websocket"
)

// Taster is one simulated person with a phone.
type Taster struct {
	// Base is the tasters' address, such as http://192.0.2.14:7761.
	Base string
	Door string // the code of a seat card
	Name string
	// Chance drives the phone's token and ids, and the nose.
	Chance *rand.Rand
	// Taste picks a cup: it gets the method and the codes on the tray from left
	// to right, and gives the place of the pick, from 0, and whether it was a guess.
	Taste func(method string, codes []int, chance *rand.Rand) (pick int, guess bool)
	// Pause is the longest time spent on a tray.
	Pause time.Duration
}

type view struct {
	T     string `json:"t"`
	Step  string `json:"step"`
	Seat  int    `json:"seat"`
	Here  bool   `json:"here"`
	Say   string `json:"say"`
	Next  string `json:"next"`
	Why   string `json:"why"`
	Final bool   `json:"final"`
	Front *tray  `json:"front"`
}

type tray struct {
	N      int    `json:"n"`
	Take   int    `json:"take"`
	Method string `json:"method"`
	Codes  []int  `json:"codes"`
}

// Sit joins, answers every set that is put in front of the taster and returns
// when nothing more is asked, or with the host's words when it refuses.
func (t *Taster) Sit(ctx context.Context) error {
	address := "ws" + strings.TrimPrefix(t.Base, "http") + "/ws"
	dialer := websocket.Dialer{HandshakeTimeout: 10 * time.Second}
	ws, _, err := dialer.DialContext(ctx, address, map[string][]string{"Origin": {t.Base}})
	if err != nil {
		return fmt.Errorf("taster %s: %w", t.Name, err)
	}
	defer ws.Close()
	stop := context.AfterFunc(ctx, func() { ws.Close() })
	defer stop()
	if err := ws.WriteJSON(map[string]any{"t": "hello", "v": 1, "door": t.Door, "token": t.hex16()}); err != nil {
		return fmt.Errorf("taster %s: %w", t.Name, err)
	}
	asked, answered := false, [2]int{}
	for {
		var v view
		ws.SetReadDeadline(time.Now().Add(2 * time.Minute))
		if err := ws.ReadJSON(&v); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return fmt.Errorf("taster %s: %w", t.Name, err)
		}
		switch {
		case v.T == "refused":
			return fmt.Errorf("taster %s: %w: %s %s", t.Name, ErrRefused, v.Say, v.Next)
		case v.T != "view":
		case v.Step == "door" && v.Here && !asked:
			asked = true
			err = ws.WriteJSON(map[string]any{"t": "sit", "id": t.hex16(), "name": t.Name})
		case v.Step == "set" && v.Front != nil:
			if s := *v.Front; answered != [2]int{s.N, s.Take} {
				answered = [2]int{s.N, s.Take}
				err = t.answer(ctx, ws, s)
			}
		case v.Step == "done" || v.Step == "over" || v.Step == "results":
			return nil
		}
		if err != nil {
			return fmt.Errorf("taster %s: %w", t.Name, err)
		}
	}
}

// ErrRefused is returned when the host refuses.
var ErrRefused = errors.New("the host refused")

func (t *Taster) answer(ctx context.Context, ws *websocket.Conn, s tray) error {
	if t.Pause > 0 {
		select {
		case <-time.After(time.Duration(t.Chance.Int64N(int64(t.Pause)))):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	if err := ws.WriteJSON(map[string]any{"t": "tray", "set": s.N, "take": s.Take, "code": s.Codes[0]}); err != nil {
		return err
	}
	pick, guess := t.Taste(s.Method, s.Codes, t.Chance)
	return ws.WriteJSON(map[string]any{
		"t": "lock", "id": t.hex16(), "set": s.N, "take": s.Take, "pick": s.Codes[pick],
		"guess": guess, "at": time.Now().UTC().Format(time.RFC3339Nano),
	})
}

func (t *Taster) hex16() string {
	var b [16]byte
	for i := range b {
		b[i] = byte(t.Chance.Uint32())
	}
	return hex.EncodeToString(b[:])
}

// Nose gives a Taste for people who perceive cups along one line with unit
// normal noise: thinner(code) cups lie dPrime below the others. In a triangle
// the two cups nearest to each other are taken as the same and the third is
// picked; in a pair the lower one is. With dPrime 0 every answer is a guess.
// These rules give the proportions of Thurstone's model (Ennis, 1993, from
// memory).
func Nose(dPrime float64, thinner func(code int) bool) func(string, []int, *rand.Rand) (int, bool) {
	return func(method string, codes []int, chance *rand.Rand) (int, bool) {
		felt := make([]float64, len(codes))
		for i, c := range codes {
			felt[i] = chance.NormFloat64()
			if thinner(c) {
				felt[i] -= dPrime
			}
		}
		pick, clear := 0, 0.0
		if method == "triangle" {
			pick, clear = oddOf(felt)
		} else {
			for i := range felt {
				if felt[i] < felt[pick] {
					pick = i
				}
			}
			clear = math.Abs(felt[0] - felt[len(felt)-1])
		}
		// Who hears little between the cups says so, mostly.
		return pick, clear < 0.5 && chance.Float64() < 0.7
	}
}

// oddOf picks the one outside the nearest two, and how much clearer it lies apart.
func oddOf(felt []float64) (int, float64) {
	odd, near, far := 0, math.Inf(1), 0.0
	for i := range felt {
		a, b := felt[(i+1)%3], felt[(i+2)%3]
		if d := math.Abs(a - b); d < near {
			odd, near = i, d
			far = math.Min(math.Abs(felt[i]-a), math.Abs(felt[i]-b))
		}
	}
	return odd, far - near
}
