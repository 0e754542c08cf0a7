package session

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"time"
)

// ID names a journal: a session's, or the laboratory's own ([LabID]). It holds
// 1 to 40 characters of a–z, 0–9 and hyphen, so that it fits into an address
// and sorts by the time it was made.
type ID string

// LabID names the laboratory's own journal.
const LabID ID = "lab"

var idPattern = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// Valid reports whether the ID has the form that NewID gives.
func (id ID) Valid() bool { return idPattern.MatchString(string(id)) }

// NewID makes a session's ID from the time and five random bytes of chance.
func NewID(at time.Time, chance io.Reader) (ID, error) {
	var b [5]byte
	if _, err := io.ReadFull(chance, b[:]); err != nil {
		return "", fmt.Errorf("session id: %w", err)
	}
	return ID(at.UTC().Format("20060102-150405-") + hex.EncodeToString(b[:])), nil
}

// CommandID is 16 random bytes made by who sends a command. The same id sent
// again gets the first outcome. The zero value means that the sender made none.
type CommandID [16]byte

// ParseCommandID reads 32 hexadecimal digits.
func ParseCommandID(s string) (CommandID, error) {
	var id CommandID
	if len(s) != 2*len(id) {
		return id, errors.New("command id: want 32 hexadecimal digits")
	}
	if _, err := hex.Decode(id[:], []byte(s)); err != nil {
		return id, errors.New("command id: want 32 hexadecimal digits")
	}
	return id, nil
}

func (id CommandID) String() string { return hex.EncodeToString(id[:]) }

// IsZero reports whether the sender made no id.
func (id CommandID) IsZero() bool { return id == CommandID{} }

// Hash is a SHA-256 sum. In JSON it is a string of 64 hexadecimal digits.
type Hash [sha256.Size]byte

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// IsZero reports whether h is the all-zero hash that stands before a first entry.
func (h Hash) IsZero() bool { return h == Hash{} }

// MarshalJSON writes the hash as hexadecimal digits.
func (h Hash) MarshalJSON() ([]byte, error) { return json.Marshal(h.String()) }

// UnmarshalJSON reads what MarshalJSON writes.
func (h *Hash) UnmarshalJSON(b []byte) error {
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return err
	}
	return unhex(h[:], s)
}

func unhex(to []byte, s string) error {
	if len(s) != 2*len(to) {
		return fmt.Errorf("want %d hexadecimal digits, have %d characters", 2*len(to), len(s))
	}
	_, err := hex.Decode(to, []byte(s))
	return err
}

// HashToken gives what a journal keeps of a phone's token: its SHA-256. Who
// reads the journal can't take the seat.
func HashToken(token []byte) Hash { return sha256.Sum256(token) }

// Actor says who caused an entry.
type Actor string

// The actors of a session. A taster is named by the seat, see [Taster].
const (
	Host   Actor = "host"
	Pourer Actor = "pourer"
)

// Taster is the actor at a seat.
func Taster(seat int) Actor { return Actor(fmt.Sprintf("seat %d", seat)) }
