package session

import (
	"crypto/sha256"
	"fmt"
	"math/bits"
	"math/rand/v2"
	"slices"
	"strings"
	"unicode"
)

// DrawVersion is the version of the drawing rules below. It stands in the seal:
// the same version, plan and seed give the same layout for ever.
const DrawVersion = 1

// Seed is the one source of a layout's chance.
type Seed [32]byte

// Layout is the serving orders and codes of all sets of a session, drawn
// once, at sealing.
type Layout struct {
	Version int          `json:"version"`
	Disc    string       `json:"disc"`   // what the vessel marked with the disc holds, "A" or "B"
	Door    string       `json:"door"`   // the join code that gives the next free seat
	Places  []string     `json:"places"` // the join codes of the seat cards, by seat
	Seats   [][]DealtSet `json:"seats"`  // by seat, then set
}

// DealtSet is one set of one seat. Takes[0] are the codes on its tray, left to
// right; Takes[1] those of its replacement, which keeps the order.
type DealtSet struct {
	Test  int      `json:"test"` // index into the plan's tests
	Order string   `json:"order"`
	Takes [][]Code `json:"takes"`
}

// takesPerSet: a set and one replacement.
const takesPerSet = 2

// stream is a source of uniform numbers: raw ChaCha8 output of a seed made from
// the layout's seed and the stream's name, so that orders, codes and tokens
// never share chance. The uniform draw is our own: it must not change under us.
type stream struct{ raw *rand.ChaCha8 }

func newStream(seed Seed, name string) stream {
	sub := sha256.Sum256(append(fmt.Appendf(nil, "oddcup draw %d %s\n", DrawVersion, name), seed[:]...))
	return stream{rand.NewChaCha8(sub)}
}

// below draws uniformly from 0 to n-1, by rejection of the uneven remainder of
// a 64 × 64 bit product.
func (s stream) below(n int) int {
	threshold := -uint64(n) % uint64(n)
	for {
		hi, lo := bits.Mul64(s.raw.Uint64(), uint64(n))
		if lo >= threshold {
			return int(hi)
		}
	}
}

// shuffle permutes uniformly (Fisher and Yates, from the end).
func shuffle[T any](s stream, x []T) {
	for i := len(x) - 1; i > 0; i-- {
		j := s.below(i + 1)
		x[i], x[j] = x[j], x[i]
	}
}

// Draw deals the layout of a plan from a seed. The plan must pass Check.
//
// Orders: for each round anew, the seats of a flight in seat order get whole
// blocks of the method's orders, each block permuted at random; a flight's last
// block may be cut (ISO 4120:2021, 7.1: equal use, dealt at random within
// blocks across assessors). Nothing balances the sets of one seat.
//
// Codes: a uniform draw from all ways to give every cup, replacements
// included, its own usable code with no swapped neighbours inside a set:
// the deck is shuffled until no set breaks the rule.
func Draw(p Plan, seed Seed) Layout {
	l := Layout{Version: DrawVersion, Seats: make([][]DealtSet, p.Seats)}
	l.drawOrders(p, newStream(seed, "orders"))
	l.drawCodes(newStream(seed, "codes"))
	l.drawDoors(p, newStream(seed, "doors"))
	return l
}

func (l *Layout) drawOrders(p Plan, s stream) {
	l.Disc = []string{"A", "B"}[s.below(2)]
	for i, t := range p.Tests {
		orders := t.Orders()
		for range t.Sets {
			var block []string
			for seat := range l.Seats {
				_, number := p.FlightOf(seat + 1)
				at := (number - 1) % len(orders)
				if at == 0 {
					block = append([]string(nil), orders...)
					shuffle(s, block)
				}
				l.Seats[seat] = append(l.Seats[seat], DealtSet{Test: i, Order: block[at]})
			}
		}
	}
}

func (l *Layout) drawCodes(s stream) {
	deck := append([]Code(nil), usableCodes...)
	for {
		shuffle(s, deck)
		if l.dealCodes(deck) {
			return
		}
	}
}

// dealCodes gives out the deck from the top and reports whether every set
// keeps the rule.
func (l *Layout) dealCodes(deck []Code) bool {
	for seat := range l.Seats {
		for i := range l.Seats[seat] {
			set := &l.Seats[seat][i]
			set.Takes = make([][]Code, takesPerSet)
			for take := range set.Takes {
				n := len(set.Order)
				set.Takes[take], deck = append([]Code(nil), deck[:n]...), deck[n:]
				if hasSwap(set.Takes[take]) {
					return false
				}
			}
		}
	}
	return true
}

func hasSwap(codes []Code) bool {
	for i, a := range codes {
		for _, b := range codes[i+1:] {
			if a.swaps(b) {
				return true
			}
		}
	}
	return false
}

// doorLetters leaves out letters and digits that are taken for one another.
const doorLetters = "2345679ACDEFGHJKMNPQRTUVWXY"

const doorLength = 6

// LikeDoor reports whether words are more likely a join code, perhaps mistyped,
// than a name: as long as one, of its letters and digits, in capitals, and with a
// digit before a letter. Whole words pass, because many names are spelled with these
// letters alone.
func LikeDoor(words string) bool {
	if len(words) != doorLength || strings.Trim(words, doorLetters) != "" {
		return false
	}
	digit := strings.IndexFunc(words, unicode.IsDigit)
	return digit >= 0 && strings.ContainsFunc(words[digit:], unicode.IsLetter)
}

func (l *Layout) drawDoors(p Plan, s stream) {
	seen := map[string]bool{}
	door := func() string {
		for {
			b := make([]byte, 6)
			for i := range b {
				b[i] = doorLetters[s.below(len(doorLetters))]
			}
			if d := string(b); !seen[d] {
				seen[d] = true
				return d
			}
		}
	}
	l.Door = door()
	for range p.Seats {
		l.Places = append(l.Places, door())
	}
}

// fits reports why a layout can't belong to a plan, nil if it can.
func (l Layout) fits(p Plan) error {
	if len(l.Seats) != p.Seats || len(l.Places) != p.Seats || l.Door == "" {
		return fmt.Errorf("layout: made for %d seats, the plan has %d", len(l.Seats), p.Seats)
	}
	if l.Disc != "A" && l.Disc != "B" {
		return fmt.Errorf("layout: no vessel is marked")
	}
	seen := map[Code]bool{}
	for seat, sets := range l.Seats {
		if len(sets) != p.SetsPerSeat() {
			return fmt.Errorf("layout: seat %d has %d sets, the plan %d", seat+1, len(sets), p.SetsPerSeat())
		}
		for i, set := range sets {
			if set.Test != p.TestOfSet(i+1) || len(set.Takes) != takesPerSet {
				return fmt.Errorf("layout: seat %d, set %d: not the plan's", seat+1, i+1)
			}
			m, _ := MethodByKey(p.Tests[set.Test].Method)
			if !slices.Contains(p.Tests[set.Test].Orders(), set.Order) {
				return fmt.Errorf("layout: seat %d, set %d: %q is no serving order of the %s", seat+1, i+1, set.Order, m.Name)
			}
			for _, codes := range set.Takes {
				if len(codes) != m.Cups || hasSwap(codes) {
					return fmt.Errorf("layout: seat %d, set %d: codes %v", seat+1, i+1, codes)
				}
				for _, c := range codes {
					if c < 100 || c > 999 || !c.usable() || seen[c] {
						return fmt.Errorf("layout: seat %d, set %d: code %d", seat+1, i+1, c)
					}
					seen[c] = true
				}
			}
		}
	}
	return nil
}
