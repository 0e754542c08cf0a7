package session

import (
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"io"
)

// Text is something that a person typed: a name, a reason. The journal's entry
// holds only Digest, the SHA-256 of salt and words; salt and words are kept
// beside the journal, so that they can be erased and every chain still checks.
// Words is empty where they were erased.
type Text struct {
	Digest Hash   `json:"digest"`
	Salt   []byte `json:"-"`
	Words  string `json:"-"`
}

// NewText salts the words with 16 bytes of chance.
func NewText(words string, chance io.Reader) (Text, error) {
	salt := make([]byte, 16)
	if _, err := io.ReadFull(chance, salt); err != nil {
		return Text{}, fmt.Errorf("salt for a text: %w", err)
	}
	return Text{Digest: digestText(salt, words), Salt: salt, Words: words}, nil
}

// Matches reports whether the words beside the journal are those that the
// entry's digest was made of.
func (t Text) Matches() bool {
	d := digestText(t.Salt, t.Words)
	return subtle.ConstantTimeCompare(d[:], t.Digest[:]) == 1
}

func digestText(salt []byte, words string) Hash {
	h := sha256.New()
	h.Write(salt)
	h.Write([]byte(words))
	return Hash(h.Sum(nil))
}
