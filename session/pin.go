package session

import (
	"crypto/pbkdf2"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"io"
	"regexp"
)

// Pin is what is kept of the pourer's PIN: enough to check one, not to read it.
// A short PIN can be tried out by who owns the file; it keeps the host from
// opening the sheet by accident.
type Pin struct {
	Salt []byte `json:"salt"`
	Sum  []byte `json:"sum"`
}

var pinPattern = regexp.MustCompile(`^[0-9]{4,12}$`)

const pinRounds = 20_000

// easyPin reports whether a PIN is one digit over and over, or a run up or down.
func easyPin(pin string) bool {
	step := int(pin[1]) - int(pin[0])
	if step < -1 || step > 1 {
		return false
	}
	for i := 1; i < len(pin); i++ {
		if int(pin[i])-int(pin[i-1]) != step {
			return false
		}
	}
	return true
}

// NewPin salts and hashes a PIN of 4 to 12 digits. The error is ErrPinEasy for one
// that is tried first: 0000, 1234, 9876.
func NewPin(pin string, chance io.Reader) (Pin, error) {
	if !pinPattern.MatchString(pin) {
		return Pin{}, ErrPin
	}
	if easyPin(pin) {
		return Pin{}, ErrPinEasy
	}
	salt := make([]byte, 16)
	if _, err := io.ReadFull(chance, salt); err != nil {
		return Pin{}, fmt.Errorf("salt for a PIN: %w", err)
	}
	sum, err := pbkdf2.Key(sha256.New, pin, salt, pinRounds, sha256.Size)
	if err != nil {
		return Pin{}, fmt.Errorf("pin: %w", err)
	}
	return Pin{Salt: salt, Sum: sum}, nil
}

func (p Pin) isSet() bool { return len(p.Sum) > 0 }

func (p Pin) matches(pin string) bool {
	if !p.isSet() || !pinPattern.MatchString(pin) {
		return false
	}
	sum, err := pbkdf2.Key(sha256.New, pin, p.Salt, pinRounds, sha256.Size)
	return err == nil && subtle.ConstantTimeCompare(sum, p.Sum) == 1
}
