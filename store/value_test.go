package store

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"testing"

	"oddcup/session"
)

// Bytes that are no value give ErrDamaged and no panic; those that are one are
// written again as they were. With fit, the hash is made to fit, which chance never
// would, so that the reading behind it is tried as well.
func FuzzDecodeEntry(f *testing.F) {
	entries, _ := threeEntries(f, "tuesday")
	for _, e := range entries {
		k, v := encodeEntry(e)
		f.Add(k, v, false)
		f.Add(k, v, true)
		f.Add(k, v[:40], true)
		f.Add(k[:7], v, false)
	}
	f.Add([]byte(nil), []byte(nil), false)
	f.Fuzz(func(t *testing.T, key, value []byte, fit bool) {
		if fit && len(value) >= sha256.Size {
			sum := sha256.Sum256(value[sha256.Size:])
			value = append(sum[:], value[sha256.Size:]...)
		}
		e, err := decodeEntry(key, value)
		if err != nil {
			if !errors.Is(err, ErrDamaged) || e.Stored != nil {
				t.Fatalf("got entry %+v with error %v", e, err)
			}
			return
		}
		k, v := encodeEntry(e)
		if !bytes.Equal(k, key) || !bytes.Equal(v, value) {
			t.Fatalf("encoded again: got %x %x, want %x %x", k, v, key, value)
		}
	})
}

func FuzzDecodeText(f *testing.F) {
	text := mustText(f, "the grinder broke ☕", chance(3))
	value := encodeText(text)
	f.Add(text.Digest[:], value)
	f.Add(text.Digest[:], value[:10])
	f.Add(text.Digest[:], []byte{})
	f.Add(text.Digest[:], []byte{0xff, 0xff, 0xff, 0xff, 1})
	f.Add(text.Digest[:], append(bytes.Clone(value), 0))
	f.Add(text.Digest[:3], value)
	f.Fuzz(func(t *testing.T, key, value []byte) {
		x, err := decodeText(key, value)
		if err != nil {
			if !errors.Is(err, ErrDamaged) || x.Words != "" || x.Salt != nil {
				t.Fatalf("got text %+v with error %v", x, err)
			}
			return
		}
		if len(value) > 0 && !x.Matches() {
			t.Fatalf("read %+v, which does not match its digest", x)
		}
		if v := encodeText(x); !bytes.Equal(v, value) {
			t.Fatalf("encoded again: got %x, want %x", v, value)
		}
	})
}

// What was read does not change when the transaction's memory does.
func TestDecodedAreCopies(t *testing.T) {
	entries, reason := threeEntries(t, "tuesday")
	key, value := encodeEntry(entries[2])
	e, err := decodeEntry(key, value)
	if err != nil {
		t.Fatal(err)
	}
	textKey, textValue := reason.Digest, encodeText(reason)
	x, err := decodeText(textKey[:], textValue)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range [][]byte{key, value, textKey[:], textValue} {
		for i := range b {
			b[i] = 'x'
		}
	}
	if err := session.CheckChain([]session.Entry{entries[0], entries[1], e}); err != nil {
		t.Error(err)
	}
	if bytes.Contains(e.Body, []byte("xx")) || !x.Matches() {
		t.Errorf("changed: body %s, text %+v", e.Body, x)
	}
}
