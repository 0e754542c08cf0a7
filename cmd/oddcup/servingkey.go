package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"reflect"
	"strconv"

	"oddcup/session"
)

// servingKey is a sealed layout with its key, as `oddcup layout` writes it: JSON
// with
//
//	oddcup  "serving key"
//	v       1
//	digest  SHA-256 in hexadecimal digits, over the 32 bytes of salt followed by
//	        the JSON object {"draw", "plan", "layout", "seed"} without white
//	        space; draw is layout.version and the others stand as they are here,
//	        their fields in the order in which this program writes them, with the
//	        characters <, > and & as \u003c, \u003e and \u0026
//	salt    64 hexadecimal digits
//	seed    64 hexadecimal digits: the layout is drawn from it
//	plan    the plan. A is the untreated lot and B the processed one; in a blank
//	        test they are two brews of one lot
//	layout  serving orders and codes, by seat and set: test is an index into
//	        plan.tests, takes are the codes from left to right of the tray and of
//	        its replacement. The door codes are of use in a session with phones
//	cups    what each code holds, A or B
type servingKey struct {
	Oddcup string            `json:"oddcup"`
	V      int               `json:"v"`
	Digest session.Hash      `json:"digest"`
	Salt   session.Hash      `json:"salt"`
	Seed   session.Hash      `json:"seed"`
	Plan   session.Plan      `json:"plan"`
	Layout session.Layout    `json:"layout"`
	Cups   map[string]string `json:"cups"`
}

const (
	keyKind    = "serving key"
	keyVersion = 1
	// mostKey bounds the bytes of a key: one of the largest session has less
	// than a tenth.
	mostKey = 4 << 20
)

var (
	errNoKey  = errors.New("it is no serving key of oddcup")
	errNewer  = errors.New("it was made by a newer oddcup")
	errBroken = errors.New("plan, layout, seed and salt do not give its digest: the key was altered")
)

func keyOf(s session.Sealing) servingKey {
	return servingKey{
		Oddcup: keyKind, V: keyVersion, Digest: s.Digest, Salt: session.Hash(s.Salt), Seed: session.Hash(s.Seed),
		Plan: s.Plan, Layout: s.Layout, Cups: cupsOf(s.Layout),
	}
}

func cupsOf(l session.Layout) map[string]string {
	cups := map[string]string{}
	for _, sets := range l.Seats {
		for _, set := range sets {
			for _, codes := range set.Takes {
				for i, c := range codes {
					cups[strconv.Itoa(int(c))] = set.Order[i : i+1]
				}
			}
		}
	}
	return cups
}

func (k servingKey) bytes() ([]byte, error) {
	var b bytes.Buffer
	err := printJSON(&b, k)
	return b.Bytes(), err
}

// readKey reads a key file and makes sure that its digest is that of its plan
// and layout.
func readKey(path string) (servingKey, error) {
	b, err := readAll(path, mostKey)
	if err != nil {
		return servingKey{}, hinted{err, "name the key file that oddcup layout wrote"}
	}
	k, err := parseKey(b)
	switch {
	case errors.Is(err, errNewer):
		return k, hinted{fmt.Errorf("%s: %w", path, err), "use the newer oddcup"}
	case err != nil:
		return k, hinted{fmt.Errorf("%s: %w", path, err), "use the key file as oddcup layout wrote it, or a copy of it"}
	}
	return k, nil
}

func parseKey(b []byte) (servingKey, error) {
	var head struct {
		Oddcup string `json:"oddcup"`
		V      int    `json:"v"`
	}
	if err := json.Unmarshal(b, &head); err != nil || head.Oddcup != keyKind {
		return servingKey{}, errNoKey
	}
	if head.V != keyVersion {
		return servingKey{}, errNewer
	}
	var k servingKey
	if err := strictJSON(b, &k); err != nil {
		return servingKey{}, fmt.Errorf("%w: %w", errNoKey, err)
	}
	if k.Layout.Version > session.DrawVersion {
		return servingKey{}, errNewer
	}
	if err := k.check(); err != nil {
		return servingKey{}, err
	}
	return k, nil
}

// strictJSON reads one JSON value that has no field but those of v.
func strictJSON(b []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something follows its end")
	}
	return nil
}

// check seals the plan again with the key's own seed and salt: the same draw
// must give the same layout and digest.
func (k servingKey) check() error {
	again, err := sealWith(k.Plan, session.Seed(k.Seed), k.Salt)
	if err != nil {
		return err
	}
	if again.Digest != k.Digest || !reflect.DeepEqual(again.Layout, k.Layout) || !maps.Equal(k.Cups, cupsOf(k.Layout)) {
		return errBroken
	}
	return nil
}

// sealWith seals a plan with a given seed and salt: session.Seal takes the one
// and then the other from its chance.
func sealWith(p session.Plan, seed session.Seed, salt [32]byte) (session.Sealing, error) {
	return session.Seal(p, io.MultiReader(bytes.NewReader(seed[:]), bytes.NewReader(salt[:])))
}

// layoutVersion is the version of the layout file.
const layoutVersion = 1

// layoutCSV is the layout without lots: what a host, a runner and a printer of
// labels may see. It is the same whatever cup holds which lot, but for the
// digest, whose salt is in the key. As CSV, version 1:
//
//	oddcup layout,1
//	title,the session's title
//	digest,64 hexadecimal digits
//	test 1,method,question,definition       one row for each test
//	flight,seat,set,test,method,cup 1,…,again 1,…
//
// and a row for each set of each seat: the codes from left to right, then those
// of its replacement. Sets are numbered for each seat through all tests.
func layoutCSV(p session.Plan, l session.Layout, digest session.Hash) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write([]string{"oddcup layout", strconv.Itoa(layoutVersion)})
	w.Write([]string{"title", p.Title})
	w.Write([]string{"digest", digest.String()})
	cups := 0
	for i, t := range p.Tests {
		m, _ := session.MethodByKey(t.Method)
		cups = max(cups, m.Cups)
		w.Write([]string{fmt.Sprintf("test %d", i+1), t.Method, m.Ask(t), t.Definition})
	}
	head := []string{"flight", "seat", "set", "test", "method"}
	for _, take := range []string{"cup", "again"} {
		for i := range cups {
			head = append(head, fmt.Sprintf("%s %d", take, i+1))
		}
	}
	w.Write(head)
	for i, sets := range l.Seats {
		flight, _ := p.FlightOf(i + 1)
		for j, set := range sets {
			row := []string{
				strconv.Itoa(flight), strconv.Itoa(i + 1), strconv.Itoa(j + 1), strconv.Itoa(set.Test + 1), p.Tests[set.Test].Method,
			}
			for _, codes := range set.Takes {
				for place := range cups {
					cell := ""
					if place < len(codes) {
						cell = strconv.Itoa(int(codes[place]))
					}
					row = append(row, cell)
				}
			}
			w.Write(row)
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}
