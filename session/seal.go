package session

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
)

// Sealing is what is fixed when a plan is sealed: the layout, the seed that it
// was drawn from, and the commitment to both.
type Sealing struct {
	Plan   Plan // that the layout was drawn for
	Layout Layout
	Seed   Seed
	Salt   [32]byte
	Digest Hash
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

// ShortDigest is the form printed on sheets: the first 16 hexadecimal digits in
// groups of four.
func ShortDigest(h Hash) string {
	s := h.String()
	return s[0:4] + " " + s[4:8] + " " + s[8:12] + " " + s[12:16]
}
