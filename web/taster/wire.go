package taster

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"oddcup/session"
)

// WireVersion is the version of the phones' protocol, which the comment of
// package web writes down.
const WireVersion = 1

// Limits of a phone's frames.
const (
	maxFrame = 4096 // bytes of one frame
	maxName  = 40   // characters
)

// frameIn is any frame from a phone; which fields count depends on T.
type frameIn struct {
	T     string    `json:"t"`
	V     int       `json:"v"`
	ID    string    `json:"id"`
	Door  string    `json:"door"`
	Token string    `json:"token"`
	Name  string    `json:"name"`
	Set   int       `json:"set"`
	Take  int       `json:"take"`
	Code  int       `json:"code"`
	Pick  int       `json:"pick"`
	Also  int       `json:"also"`
	Guess bool      `json:"guess"`
	Why   string    `json:"why"`
	At    time.Time `json:"at"`
}

var errFrame = errors.New("not a frame of the protocol")

func parseFrame(b []byte) (frameIn, error) {
	var f frameIn
	if len(b) > maxFrame {
		return f, fmt.Errorf("%w: %d bytes", errFrame, len(b))
	}
	if err := json.Unmarshal(b, &f); err != nil {
		return f, fmt.Errorf("%w: %v", errFrame, err)
	}
	if f.T == "" {
		return f, fmt.Errorf("%w: no t", errFrame)
	}
	return f, nil
}

// viewOut is the whole picture for one phone. No field tells which lot is in a
// cup, so no encoder can; Results is filled after the reveal only.
type viewOut struct {
	T         string      `json:"t"`
	V         int         `json:"v"`
	Title     string      `json:"title"`
	Demo      bool        `json:"demo"`
	Practice  bool        `json:"practice,omitempty"`
	Light     string      `json:"light"`
	Step      string      `json:"step"`
	Seat      int         `json:"seat"`
	Sets      int         `json:"sets"`
	Here      bool        `json:"here"`
	Cups      int         `json:"cups"`
	Serving   string      `json:"serving"`
	Swallow   string      `json:"swallow"`
	Allergens string      `json:"allergens"`
	Caffeine  string      `json:"caffeine"`
	Rinse     int         `json:"rinse"`
	Paused    bool        `json:"paused"`
	Calling   bool        `json:"calling"`
	Say       string      `json:"say"`
	Front     *setOut     `json:"front,omitempty"`
	Kept      []keptEntry `json:"kept"`
	Results   []resultOut `json:"results,omitempty"`
}

type setOut struct {
	N        int            `json:"n"`
	Take     int            `json:"take"`
	Method   string         `json:"method"`
	Question string         `json:"question"`
	Hint     string         `json:"hint"`
	Define   string         `json:"define"`
	Codes    []session.Code `json:"codes"`
	Again    bool           `json:"again"`

	// Old are the codes of the set's trays that were taken back, which the phone
	// had shown before.
	Old []session.Code `json:"old,omitempty"`

	// Picks is how many cups an answer names, References how many cups at the
	// left are the reference and no answer.
	Picks      int `json:"picks"`
	References int `json:"references"`
}

type keptEntry struct {
	Set   int          `json:"set"`
	Take  int          `json:"take"`
	Pick  session.Code `json:"pick"`
	Also  session.Code `json:"also,omitempty"`
	Guess bool         `json:"guess"`
	At    time.Time    `json:"at"`

	// Right is told in practice sessions only.
	Right *bool `json:"right,omitempty"`
	// Answer and AnswerAlso are the right answer, told with Right.
	Answer     session.Code `json:"answer,omitempty"`
	AnswerAlso session.Code `json:"answerAlso,omitempty"`
}

type resultOut struct {
	N      int            `json:"n"`
	Method string         `json:"method"`
	Codes  []session.Code `json:"codes"`
	Pick   session.Code   `json:"pick"`
	Answer session.Code   `json:"answer"`
	Right  bool           `json:"right"`
	Chance string         `json:"chance"`

	// Also and AnswerAlso are the second cups of answers of two.
	Also       session.Code `json:"also,omitempty"`
	AnswerAlso session.Code `json:"answerAlso,omitempty"`
}

type keptOut struct {
	T  string `json:"t"`
	ID string `json:"id"`
	keptEntry
}

type refusedOut struct {
	T     string `json:"t"`
	ID    string `json:"id,omitempty"`
	Why   string `json:"why"`
	Say   string `json:"say"`
	Next  string `json:"next"`
	Final bool   `json:"final"`
}

type beatOut struct {
	T string `json:"t"`
}
