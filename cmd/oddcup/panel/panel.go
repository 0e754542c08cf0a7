// Package panel is a panel of simulated tasters: clients of the phones'
// protocol, written from its description alone. It imports nothing of ours.
package panel

import (
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
	// Taste answers a tray: it gives the places, from 0, of the cups that the
	// answer names, as many as the tray's Picks, and whether it was a guess.
	Taste func(t Tray, chance *rand.Rand) (places []int, guess bool)
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
	Front *Tray  `json:"front"`
}

// Tray is the tray in front of a taster. Of its Codes, from left to right, the
// first References are no answer; an answer names Picks of the others, or of
// all where there is no reference.
type Tray struct {
	N          int    `json:"n"`
	Take       int    `json:"take"`
	Method     string `json:"method"`
	Codes      []int  `json:"codes"`
	Picks      int    `json:"picks"`
	References int    `json:"references"`
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

func (t *Taster) answer(ctx context.Context, ws *websocket.Conn, s Tray) error {
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
	places, guess := t.Taste(s, t.Chance)
	lock := map[string]any{
		"t": "lock", "id": t.hex16(), "set": s.N, "take": s.Take, "pick": s.Codes[places[0]],
		"guess": guess, "at": time.Now().UTC().Format(time.RFC3339Nano),
	}
	if s.Picks == 2 {
		lock["also"] = s.Codes[places[1]]
	}
	return ws.WriteJSON(lock)
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
// picked; in a duo-trio test the cup nearer to the reference; in a tetrad the two
// lowest make a pair; in the others the lowest cup is picked. With dPrime 0
// every answer is a guess. These rules give the proportions of Thurstone's model
// (Ennis, 1993, from memory).
func Nose(dPrime float64, thinner func(code int) bool) func(Tray, *rand.Rand) ([]int, bool) {
	return func(t Tray, chance *rand.Rand) ([]int, bool) {
		felt := make([]float64, len(t.Codes))
		for i, c := range t.Codes {
			felt[i] = chance.NormFloat64()
			if thinner(c) {
				felt[i] -= dPrime
			}
		}
		places, clear := decide(t, felt)
		// Who hears little between the cups says so, mostly.
		return places, clear < 0.5 && chance.Float64() < 0.7
	}
}

// decide gives the answer to what was felt, and how clear it was.
func decide(t Tray, felt []float64) (places []int, clear float64) {
	switch {
	case t.Method == "triangle":
		pick, clear := oddOf(felt)
		return []int{pick}, clear
	case t.References > 0:
		a, b := math.Abs(felt[1]-felt[0]), math.Abs(felt[2]-felt[0])
		if a < b {
			return []int{1}, b - a
		}
		return []int{2}, a - b
	}
	rising := make([]int, len(felt))
	for i := range rising {
		rising[i] = i
	}
	slices.SortFunc(rising, func(i, j int) int { return cmp.Compare(felt[i], felt[j]) })
	n := max(t.Picks, 1)
	return rising[:n], felt[rising[n]] - felt[rising[n-1]]
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
