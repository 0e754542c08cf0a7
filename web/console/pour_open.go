package console

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"sync"
	"time"

	"oddcup/session"
)

const (
	pourCookie = "pour"
	// pourStay is how long an opened sheet stays open after the last look at it.
	pourStay = 10 * time.Minute
	// printedStay is how long it stays open after a print, whatever is looked at:
	// long enough to print the vessels, too.
	printedStay = 2 * time.Minute
	// oneLook is how soon after a look another page of the sheet is the same look.
	oneLook = time.Minute
	// toldShut is for how long the door says that a sheet closed by itself, and when.
	toldShut = time.Hour
)

// pourers knows which browsers have the pour sheet open. The zero value knows
// none.
type pourers struct {
	mu   sync.Mutex // guards the following field
	open map[[sha256.Size]byte]pouring
}

// pouring is one opened sheet: from its opening to its end, unless somebody looks
// at it before that.
type pouring struct {
	session         session.ID
	from, seen, til time.Time
	printed         bool // a look keeps it open no longer
}

// closes says when an open sheet closes by itself.
func (o pouring) closes() string {
	if o.printed {
		return fmt.Sprintf("Printed %s, closes by itself at %s.", clock(o.til.Add(-printedStay)), clock(o.til))
	}
	return fmt.Sprintf("It closes by itself at %s, or two minutes after a print.", clock(o.til))
}

// shut says when a sheet closed by itself, and why.
func (o pouring) shut() string {
	why := "ten minutes after the last look"
	if o.printed {
		why = "two minutes after a print"
	}
	return fmt.Sprintf("It closed by itself at %s, %s.", clock(o.til), why)
}

// admit makes a token for a session's sheet.
func (p *pourers) admit(id session.ID, now time.Time, chance io.Reader) (string, error) {
	var b [16]byte
	if _, err := io.ReadFull(chance, b[:]); err != nil {
		return "", fmt.Errorf("token for the pour sheet: %w", err)
	}
	token := hex.EncodeToString(b[:])
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.open == nil {
		p.open = map[[sha256.Size]byte]pouring{}
	}
	for k, o := range p.open {
		if now.Sub(o.til) >= toldShut {
			delete(p.open, k)
		}
	}
	p.open[sha256.Sum256([]byte(token))] = pouring{session: id, from: now, seen: now, til: now.Add(pourStay)}
	return token, nil
}

// find gives what the request's cookie stands for; ok is false without one, or
// with one of another session or of a sheet that has closed by itself, which is
// given for a while.
func (p *pourers) find(r *http.Request, id session.ID, now time.Time) (pouring, bool) {
	cookie, err := r.Cookie(pourCookie)
	if err != nil {
		return pouring{}, false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	o, ok := p.open[sha256.Sum256([]byte(cookie.Value))]
	if !ok || o.session != id || now.Sub(o.til) >= toldShut {
		return pouring{}, false
	}
	return o, now.Before(o.til)
}

// see notes a look at the sheet that the request's cookie stands for. Further says
// whether it is another one than the last.
func (p *pourers) see(r *http.Request, now time.Time) (seen pouring, further bool) {
	return p.change(r, func(o *pouring) bool {
		further := now.Sub(o.seen) >= oneLook
		if further {
			o.seen = now
		}
		if !o.printed {
			o.til = now.Add(pourStay)
		}
		return further
	})
}

// print notes a print, which lets the sheet close soon.
func (p *pourers) print(r *http.Request, now time.Time) pouring {
	o, _ := p.change(r, func(o *pouring) bool {
		if end := now.Add(printedStay); !o.printed || end.Before(o.til) {
			o.printed, o.til = true, end
		}
		return false
	})
	return o
}

func (p *pourers) change(r *http.Request, do func(*pouring) bool) (pouring, bool) {
	cookie, err := r.Cookie(pourCookie)
	if err != nil {
		return pouring{}, false
	}
	key := sha256.Sum256([]byte(cookie.Value))
	p.mu.Lock()
	defer p.mu.Unlock()
	o, ok := p.open[key]
	if !ok {
		return pouring{}, false
	}
	did := do(&o)
	p.open[key] = o
	return o, did
}

// drop closes the sheet that the request's cookie stands for.
func (p *pourers) drop(r *http.Request) {
	if cookie, err := r.Cookie(pourCookie); err == nil {
		p.mu.Lock()
		defer p.mu.Unlock()
		delete(p.open, sha256.Sum256([]byte(cookie.Value)))
	}
}

// seconds are whole ones, rounded up, so that nobody leaves before the end.
func seconds(d time.Duration) int { return int((d + time.Second - 1) / time.Second) }
