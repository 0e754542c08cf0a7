package store

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"go/parser"
	"go/token"
	"regexp"
	"strings"
	"testing"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
)

// drawn is a line of the drawing in the package comment.
type drawn struct {
	name, value string // value is "" for a bucket
	below       []*drawn
	met         int // times found in a file
}

func (d *drawn) String() string { return strings.TrimSpace(d.name + " " + d.value) }

// drawing reads the indented lines of the package comment that begin with the
// root bucket.
func drawing(t *testing.T) *drawn {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "doc.go", nil, parser.ParseComments|parser.PackageClauseOnly)
	if err != nil {
		t.Fatal(err)
	}
	root := &drawn{}
	path := []*drawn{root}
	for line := range strings.Lines(file.Doc.Text()) {
		line = strings.TrimRight(line, "\n")
		body := strings.TrimLeft(strings.TrimPrefix(line, "\t"), " ")
		if !strings.HasPrefix(line, "\t") || body == "" {
			continue
		}
		depth := (len(line) - 1 - len(body)) / 2
		if depth >= len(path) {
			t.Fatalf("the drawing steps in by more than one: %q", line)
		}
		d := &drawn{}
		d.name, d.value, _ = strings.Cut(body, " → ")
		path = append(path[:depth+1], d)
		path[depth].below = append(path[depth].below, d)
	}
	return root
}

// keyForms say what the names in brackets stand for, valueForms what the words
// behind an arrow mean. A name or word that is missing here fails the test.
var keyForms = map[string]func(key []byte) bool{
	"<journal id>":              func(k []byte) bool { return session.ID(k).Valid() },
	"<session id>":              func(k []byte) bool { return session.ID(k).Valid() && session.ID(k) != session.LabID },
	"<sequence number, uint64>": func(k []byte) bool { return len(k) == 8 && k[0] == 0 },
	"<session id, space, laboratory>": func(k []byte) bool {
		id, laboratory, ok := strings.Cut(string(k), " ")
		return ok && session.ID(id).Valid() && laboratory != ""
	},
	"<digest, 32 bytes>": func(k []byte) bool { return len(k) == 32 },
}

var valueForms = []struct {
	words *regexp.Regexp
	fits  func(key, value []byte) bool
}{
	{regexp.MustCompile(`^uint64: 1, and one more for each migration done$`), func(_, v []byte) bool {
		return len(v) == 8 && binary.BigEndian.Uint64(v) == 1+uint64(len(migrations))
	}},
	{regexp.MustCompile(`^32 bytes: SHA-256 of the rest; the entry's stored bytes$`), func(k, v []byte) bool {
		e, err := session.ParseEntry(v[32:])
		return err == nil && e.Hash == session.Hash(v[:32]) && e.Seq == binary.BigEndian.Uint64(k)
	}},
	{regexp.MustCompile(`^uint32: length of the salt; salt; uint32: length of the words; words \(nothing at all where erased\)$`), func(k, v []byte) bool {
		if len(v) == 0 {
			return true
		}
		salt := v[4 : 4+binary.BigEndian.Uint32(v)]
		words := v[4+len(salt)+4:]
		return int(binary.BigEndian.Uint32(v[4+len(salt):])) == len(words) &&
			session.Text{Digest: session.Hash(k), Salt: salt, Words: string(words)}.Matches()
	}},
	{regexp.MustCompile(`^uint64: the journal's last number; the form of the rest, one byte; the session's judged sets \(nothing after the number where it tells nothing\)$`), func(k, v []byte) bool {
		j, ok, err := decodeJudged(session.ID(k), v)
		return err == nil && j.Seq == binary.BigEndian.Uint64(v) && (len(v) == 8 || v[8] == 1 && ok && len(j.Sets) > 0)
	}},
	{regexp.MustCompile(`^a session file of another laboratory, as it came, or without erased words$`), func(k, v []byte) bool {
		d, err := session.ReadDossier(v)
		return err == nil && strings.HasPrefix(string(k), string(d.Session)+" ")
	}},
	{regexp.MustCompile(`^JSON of session.Row, without the words of its reason$`), func(k, v []byte) bool {
		var row session.Row
		return json.Unmarshal(v, &row) == nil && row.ID == session.ID(k) && !strings.Contains(string(v), "grinder")
	}},
}

func (d *drawn) isKey(key []byte) (bool, error) {
	if !strings.HasPrefix(d.name, "<") {
		return d.name == string(key), nil
	}
	form, ok := keyForms[d.name]
	if !ok {
		return false, fmt.Errorf("the drawing's %q is not known to this test", d.name)
	}
	return form(key), nil
}

// meet finds the line of the drawing for a key, and compares its value.
func (d *drawn) meet(t *testing.T, where string, key, value []byte) *drawn {
	t.Helper()
	for _, line := range d.below {
		is, err := line.isKey(key)
		if err != nil {
			t.Fatal(err)
		}
		if !is {
			continue
		}
		line.met++
		if (line.value == "") != (value == nil) {
			t.Errorf("%s%q: drawn as a bucket: %v, in the file a bucket: %v", where, key, line.value == "", value == nil)
			return nil
		}
		if value == nil {
			return line
		}
		for _, form := range valueForms {
			if form.words.MatchString(line.value) {
				if !form.fits(key, value) {
					t.Errorf("%s%q: the value is not as drawn (%s): %q", where, key, line.value, value)
				}
				return line
			}
		}
		t.Fatalf("the drawing's value %q is not known to this test", line.value)
	}
	t.Errorf("%s%q is not in the drawing", where, key)
	return nil
}

// The drawing in the package comment is the tree of a real file: every key is
// drawn, and everything drawn is there.
func TestDrawing(t *testing.T) {
	root := drawing(t)
	db := mustOpen(t, filePath(t))
	entries, reason := threeEntries(t, "tuesday")
	mustAppend(t, db, "tuesday", entries, reason)
	lab := chain{id: session.LabID}
	mustAppend(t, db, session.LabID, lab.next(t, &session.LabNamed{Name: "Back room"}), session.Text{Digest: session.Hash{1}})

	if _, added, err := db.Receive(t.Context(), oldFile(t, "triangle")); err != nil || !added {
		t.Fatal(added, err)
	}

	mustAppend(t, db, "wednesday", revealedEntries(t, "wednesday", 2))
	if all, err := db.JudgedSessions(t.Context()); err != nil || len(all) != 1 {
		t.Fatal(len(all), err)
	}

	var walk func(d *drawn, where string, b *bolt.Bucket) error
	walk = func(d *drawn, where string, b *bolt.Bucket) error {
		return b.ForEach(func(k, v []byte) error {
			line := d.meet(t, where, k, v)
			if line == nil || v != nil {
				return nil
			}
			return walk(line, fmt.Sprintf("%s%s/", where, k), b.Bucket(k))
		})
	}
	err := db.bolt.View(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
			if line := root.meet(t, "", name, nil); line != nil {
				return walk(line, string(name)+"/", b)
			}
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	lines := 0
	var all func(d *drawn)
	all = func(d *drawn) {
		for _, line := range d.below {
			lines++
			if line.met == 0 {
				t.Errorf("drawn, and not in the file: %v", line)
			}
			all(line)
		}
	}
	all(root)
	if lines == 0 {
		t.Fatal("no drawing in the package comment")
	}
}
