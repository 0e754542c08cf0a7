package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"

	"oddcup/session"
)

// encodeEntry gives an entry's key and value.
func encodeEntry(e session.Entry) (key, value []byte) {
	return binary.BigEndian.AppendUint64(nil, e.Seq), append(e.Hash[:], e.Stored...)
}

// decodeEntry reads what encodeEntry gave. Nothing in the entry refers to key or
// value, which end with the transaction. The error names the entry, not the
// journal.
func decodeEntry(key, value []byte) (session.Entry, error) {
	if len(key) != 8 {
		return session.Entry{}, damaged("key %x: not a sequence number", key)
	}
	seq := binary.BigEndian.Uint64(key)
	if len(value) < sha256.Size {
		return session.Entry{}, damaged("entry %d: too short, %d bytes", seq, len(value))
	}
	hash, raw := session.Hash(value[:sha256.Size]), value[sha256.Size:]
	if session.Hash(sha256.Sum256(raw)) != hash {
		return session.Entry{}, damaged("entry %d: its hash is not that of its bytes", seq)
	}
	e, err := session.ParseEntry(raw)
	if err != nil {
		return session.Entry{}, damaged("entry %d: %v", seq, err)
	}
	if e.Seq != seq {
		return session.Entry{}, damaged("entry %d: stands in place %d", e.Seq, seq)
	}
	return e, nil
}

// encodeText gives a text's value; its key is the digest. An erased text, or one
// that came without its words, has the empty value.
func encodeText(t session.Text) []byte {
	if len(t.Salt) == 0 && t.Words == "" {
		return []byte{}
	}
	v := binary.BigEndian.AppendUint32(nil, uint32(len(t.Salt)))
	v = append(v, t.Salt...)
	v = binary.BigEndian.AppendUint32(v, uint32(len(t.Words)))
	return append(v, t.Words...)
}

// decodeText reads what encodeText gave and checks it against the digest. An
// erased text has neither salt nor words.
func decodeText(key, value []byte) (session.Text, error) {
	if len(key) != sha256.Size {
		return session.Text{}, damaged("text %x: not a digest", key)
	}
	t := session.Text{Digest: session.Hash(key)}
	if len(value) == 0 {
		return t, nil
	}
	salt, rest, ok := cutField(value)
	words, rest, ok2 := cutField(rest)
	if !ok || !ok2 || len(rest) > 0 {
		return session.Text{}, damaged("text %s: its lengths don't add up", t.Digest)
	}
	t.Salt, t.Words = bytes.Clone(salt), string(words)
	if !t.Matches() {
		return session.Text{}, damaged("text %s: its digest is not that of its salt and words", t.Digest)
	}
	return t, nil
}

// cutField takes a field with its length off the front.
func cutField(b []byte) (field, rest []byte, ok bool) {
	if len(b) < 4 {
		return nil, nil, false
	}
	n := uint64(binary.BigEndian.Uint32(b))
	if b = b[4:]; uint64(len(b)) < n {
		return nil, nil, false
	}
	return b[:n], b[n:], true
}
