package session

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
)

// Sealing is what is fixed when a plan is sealed: the layout, the seed that it
// was drawn from, and the commitment to both.
type Sealing struct {
	Plan   Plan // that the layout was drawn for
	Layout Layout
	Seed   Seed
	Salt   [32]byte
	Digest Hash

	// Eligible are those who hold the plan's rule now, as [Lab.Holders] gives them;
	// the digest does not cover it.
	Eligible []Eligible
}

// Seal draws a plan's layout and commits to it, with 64 bytes of chance.
func Seal(p Plan, chance io.Reader) (Sealing, error) {
	var s Sealing
	if f := p.Check(); f != nil {
		return s, f
	}
	if _, err := io.ReadFull(chance, s.Seed[:]); err != nil {
		return s, fmt.Errorf("seed: %w", err)
	}
	if _, err := io.ReadFull(chance, s.Salt[:]); err != nil {
		return s, fmt.Errorf("salt: %w", err)
	}
	s.Plan, s.Layout = p, Draw(p, s.Seed)
	var err error
	s.Digest, err = sealDigest(p, s.Layout, s.Seed, s.Salt)
	return s, err
}

// sealDigest is SHA-256 over the salt and the canonical bytes of plan, layout
// and seed: the JSON of the three in this order, fields in the order of their
// types, no white space.
func sealDigest(p Plan, l Layout, seed Seed, salt [32]byte) (Hash, error) {
	canonical, err := json.Marshal(struct {
		Draw   int    `json:"draw"`
		Plan   Plan   `json:"plan"`
		Layout Layout `json:"layout"`
		Seed   Hash   `json:"seed"`
	}{l.Version, p, l, Hash(seed)})
	if err != nil {
		return Hash{}, fmt.Errorf("seal: %w", err)
	}
	h := sha256.New()
	h.Write(salt[:])
	h.Write(canonical)
	return Hash(h.Sum(nil)), nil
}

// What is wrong with a seal that does not hold.
var (
	errDigest  = errors.New("the digest is not that of plan, layout, seed and salt")
	errDrawing = errors.New("the layout is not the one that the seed gives")
)

// check seals again what a Sealed entry holds: the digest must be that of plan,
// layout, seed and salt, and the layout the one that the seed gives by the rules
// of its drawing version. The error wraps errDigest, errDrawing, or [ErrNewer]
// for a drawing version that this program does not know.
func (e *Sealed) check() error {
	d, err := sealDigest(e.Plan, e.Layout, Seed(e.Seed), e.Salt)
	if err != nil || d != e.Digest {
		return errDigest
	}
	again, err := redraw(e.Layout.Version, e.Plan, e.Layout, Seed(e.Seed))
	if err != nil {
		return err
	}
	if !reflect.DeepEqual(again, e.Layout) {
		return errDrawing
	}
	return nil
}

// redraw draws a plan's layout by the rules of a version. Another hand may have
// written plan and layout: what no drawing could give is refused beforehand,
// since Draw relies on [Plan.Check]. Check itself is not asked, for its rules may
// become stricter than those that an old session was sealed by.
func redraw(version int, p Plan, drawn Layout, seed Seed) (Layout, error) {
	if version > DrawVersion {
		return Layout{}, fmt.Errorf("layout of drawing version %d: %w", version, ErrNewer)
	}
	if version != DrawVersion {
		return Layout{}, fmt.Errorf("%w: there is no drawing version %d", errDrawing, version)
	}
	for i, t := range p.Tests {
		if t.Sets < 1 {
			return Layout{}, fmt.Errorf("%w: test %d has %d sets", errDrawing, i+1, t.Sets)
		}
	}
	left := p.Seats
	for i, n := range p.FlightSizes() {
		if left -= n; n < 1 || left < 0 {
			return Layout{}, fmt.Errorf("%w: flight %d has %d seats", errDrawing, i+1, n)
		}
	}
	if left != 0 {
		return Layout{}, fmt.Errorf("%w: %d seats are in no flight", errDrawing, left)
	}
	if err := drawn.fits(p); err != nil {
		return Layout{}, fmt.Errorf("%w: %w", errDrawing, err)
	}
	return Draw(p, seed), nil
}

// ShortDigest is the form printed on sheets: the first 16 hexadecimal digits in
// groups of four.
func ShortDigest(h Hash) string {
	s := h.String()
	return s[0:4] + " " + s[4:8] + " " + s[8:12] + " " + s[12:16]
}
