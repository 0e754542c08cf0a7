package session

import (
	"crypto/pbkdf2"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"io"
	"regexp"
	"strings"
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

// easyPin reports whether a PIN is tried first by whoever guesses: a few digits
// over and over, a run up or down with 0 after 9, such a run in pairs, the middle
// column of keys, or a year of this century or the last.
func easyPin(pin string) bool {
	for period := 1; period <= len(pin)/2; period++ {
		if len(pin)%period == 0 && strings.Repeat(pin[:period], len(pin)/period) == pin {
			return true
		}
	}
	run := func(digits string) bool {
		step := (int(digits[1]) - int(digits[0]) + 10) % 10
		for i := 1; i < len(digits); i++ {
			if (int(digits[i])-int(digits[i-1])+10)%10 != step {
				return false
			}
		}
		return step == 1 || step == 9
	}
	pairs := ""
	for i := 0; i+1 < len(pin) && len(pin)%2 == 0 && pin[i] == pin[i+1]; i += 2 {
		pairs += pin[i : i+1]
	}
	return run(pin) || 2*len(pairs) == len(pin) && run(pairs) ||
		pin == "2580" || pin == "0852" || len(pin) == 4 && (pin[:2] == "19" || pin[:2] == "20")
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
