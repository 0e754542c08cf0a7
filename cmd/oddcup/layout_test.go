package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"oddcup/session"
)

const seedHex = "000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f"

// layoutIn draws a layout into a new folder and gives the names of its files.
func layoutIn(t *testing.T, args ...string) (layout, key string) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "tuesday")
	out, errs, code := command(t, append([]string{"layout", "--out", name}, args...)...)
	if code != 0 || !strings.Contains(out, "Digest") {
		t.Fatalf("oddcup layout %v: code %d: %s%s", args, code, out, errs)
	}
	return name + "-layout.csv", name + "-key.json"
}

func contents(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// layoutCases are layouts of every method.
var layoutCases = [][]string{
	{"--method", "triangle", "--seats", "12", "--sets", "2"},
	{"--method", "triangle", "--flights", "7,6", "--goal", "both", "--beta", "0.05", "--pd-limit", "0.3"},
	{"--method", "duo-trio", "--seats", "9"},
	{"--method", "duo-trio", "--seats", "8", "--reference", "constant"},
	{"--method", "tetrad", "--seats", "12", "--goal", "similarity", "--pd-limit", "0.3"},
	{"--method", "paired-comparison", "--seats", "11", "--sets", "3", "--attribute", "body", "--definition", "How full it feels."},
	{"--method", "paired-comparison", "--attribute", "body", "--definition", "How full it feels.", "--two-sided", "--more"},
	{"--method", "3-afc", "--seats", "9", "--attribute", "body", "--definition", "How full it feels."},
}

// TestLayout: both files fit each other, the key alone gives the digest, and it
// is for its owner only.
func TestLayout(t *testing.T) {
	for _, args := range layoutCases {
		layout, key := layoutIn(t, args...)
		out, errs, code := command(t, "layout", "check", key, layout)
		if code != 0 {
			t.Errorf("%v: %s%s", args, out, errs)
		}
		for path, mode := range map[string]fs.FileMode{key: 0o600, layout: 0o644} {
			info, err := os.Stat(path)
			if err != nil {
				t.Fatal(err)
			}
			if runtime.GOOS != "windows" && info.Mode().Perm() != mode {
				t.Errorf("%s has permissions %v, want %v", path, info.Mode().Perm(), mode)
			}
		}
		entries, err := os.ReadDir(filepath.Dir(key))
		if err != nil || len(entries) != 2 {
			t.Errorf("%d files in the folder, %v", len(entries), err)
		}

		// The digest by its description in servingKey, from the file alone.
		var k struct {
			Digest, Salt, Seed string
			Plan, Layout       json.RawMessage
		}
		if err := json.Unmarshal(contents(t, key), &k); err != nil {
			t.Fatal(err)
		}
		var canonical bytes.Buffer
		if err := json.Compact(&canonical, fmt.Appendf(nil, `{"draw":1,"plan":%s,"layout":%s,"seed":%q}`, k.Plan, k.Layout, k.Seed)); err != nil {
			t.Fatal(err)
		}
		salt, err := hex.DecodeString(k.Salt)
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(append(salt, canonical.Bytes()...))
		digest := hex.EncodeToString(sum[:])
		if digest != k.Digest || !strings.Contains(out, digest) || !bytes.Contains(contents(t, layout), []byte(digest)) {
			t.Errorf("%v: digest %s, by its description %s, check prints %s", args, k.Digest, digest, out)
		}
	}
}

// TestLayoutSameUnderEveryKey: nothing in the layout file depends on which cup
// holds which lot. The digest does, and is held fixed: its salt, which nobody
// has before the key, makes it as good as random.
func TestLayoutSameUnderEveryKey(t *testing.T) {
	for _, args := range layoutCases {
		layout, path := layoutIn(t, args...)
		k, err := readKey(path)
		if err != nil {
			t.Fatal(err)
		}
		want := contents(t, layout)
		orders := map[string]int{}
		for shift := range 6 {
			l := k.Layout
			l.Disc = string("AB"[shift%2])
			l.Seats = nil
			for seat, sets := range k.Layout.Seats {
				sets = slices.Clone(sets)
				for i := range sets {
					all := k.Plan.Tests[sets[i].Test].Orders()
					sets[i].Order = all[(slices.Index(all, sets[i].Order)+shift+seat*shift)%len(all)]
					orders[sets[i].Order]++
				}
				l.Seats = append(l.Seats, sets)
			}
			got, err := layoutCSV(k.Plan, l, k.Digest)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("%v: under another key the layout is another:\n%s\n%s", args, got, want)
			}
		}
		if len(orders) < 2 {
			t.Errorf("%v: only the orders %v were tried", args, orders)
		}
	}
}

// TestLayoutSeed: a seed gives both files again to the byte, no seed another
// layout each time.
func TestLayoutSeed(t *testing.T) {
	args := []string{"--method", "triangle", "--seats", "12"}
	seeded := append(slices.Clone(args), "--seed", seedHex)
	layout, key := layoutIn(t, seeded...)
	again, keyAgain := layoutIn(t, seeded...)
	if !bytes.Equal(contents(t, layout), contents(t, again)) || !bytes.Equal(contents(t, key), contents(t, keyAgain)) {
		t.Error("the same seed gave other files")
	}
	one, _ := layoutIn(t, args...)
	two, _ := layoutIn(t, args...)
	if bytes.Equal(contents(t, one), contents(t, two)) || bytes.Equal(contents(t, one), contents(t, layout)) {
		t.Error("two drawings without a seed are alike")
	}
	_, errs, _ := command(t, append([]string{"layout", "--out", filepath.Join(t.TempDir(), "x")}, seeded...)...)
	if !strings.Contains(errs, "they know the key") {
		t.Errorf("a given seed is not called known: %q", errs)
	}
}

// TestLayoutOverwritesNothing: where either name is taken both files stay as
// they are and no other is left behind.
func TestLayoutOverwritesNothing(t *testing.T) {
	for _, taken := range []string{"a-layout.csv", "a-key.json"} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, taken), []byte("mine"), 0o600); err != nil {
			t.Fatal(err)
		}
		_, errs, code := command(t, "layout", "--method", "triangle", "--out", filepath.Join(dir, "a"))
		entries, err := os.ReadDir(dir)
		if code != 1 || !strings.Contains(errs, taken) || !strings.Contains(errs, "--out") || err != nil || len(entries) != 1 || string(contents(t, filepath.Join(dir, taken))) != "mine" {
			t.Errorf("%s taken: code %d, %q, %d files, %v", taken, code, errs, len(entries), err)
		}
	}
	_, errs, code := command(t, "layout", "--method", "triangle", "--out", filepath.Join(t.TempDir(), "none", "a"))
	if code != 1 || !strings.Contains(errs, "hint") {
		t.Errorf("no such folder: code %d, %q", code, errs)
	}
}

// TestWriteNew: what can't be written whole leaves nothing, and a name that is
// taken in the last moment is not written over.
func TestWriteNew(t *testing.T) {
	dir := t.TempDir()
	good := newFile{filepath.Join(dir, "good"), 0o600, []byte("good")}
	bad := newFile{filepath.Join(dir, "none", "bad"), 0o600, []byte("bad")}
	if err := writeNew(good, bad); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no such folder: %v", err)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 0 {
		t.Errorf("%d files are left, %v", len(entries), err)
	}
	if err := writeNew(good); err != nil || string(contents(t, good.path)) != "good" {
		t.Errorf("%v", err)
	}
	if err := (newFile{good.path, 0o600, []byte("late")}).write(); !errors.Is(err, fs.ErrExist) || string(contents(t, good.path)) != "good" {
		t.Errorf("a taken name: %v, %s", err, contents(t, good.path))
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("%d files are left, %v", len(entries), err)
	}
}

// TestLayoutCheck: no altered cell and no altered key passes; what a spreadsheet
// changes in form does.
func TestLayoutCheck(t *testing.T) {
	layout, key := layoutIn(t, "--method", "duo-trio", "--seats", "8", "--sets", "2")
	good := contents(t, layout)
	dir := t.TempDir()
	check := func(layout, key []byte) (string, int) {
		t.Helper()
		l, k := filepath.Join(dir, "l.csv"), filepath.Join(dir, "k.json")
		if err := errors.Join(os.WriteFile(l, layout, 0o600), os.WriteFile(k, key, 0o600)); err != nil {
			t.Fatal(err)
		}
		_, errs, code := command(t, "layout", "check", k, l)
		return errs, code
	}
	wholeKey := contents(t, key)
	form := bytes.ReplaceAll(good, []byte("\n"), []byte(",,\r\n"))
	if errs, code := check(append([]byte("\ufeff"), form...), wholeKey); code != 0 {
		t.Errorf("saved by a spreadsheet: %s", errs)
	}
	rows, err := csv.NewReader(bytes.NewReader(good)).Read()
	if err != nil || len(rows) != 2 {
		t.Fatalf("%v, %v", rows, err)
	}
	altered := 0
	for i := range good {
		if good[i] < '0' || good[i] > '9' {
			continue
		}
		altered++
		other := slices.Clone(good)
		other[i] = '0' + (other[i]-'0'+1)%10
		// Whole rows of a large file: one digit in seven is enough.
		if altered%7 != 0 {
			continue
		}
		if _, code := check(other, wholeKey); code != 1 {
			t.Fatalf("digit %d of the layout was altered, and the check says %d", i, code)
		}
	}
	if altered < 100 {
		t.Errorf("%d digits", altered)
	}
	for _, cut := range [][]byte{good[:len(good)/2], append(slices.Clone(good), "1,9,1\n"...), nil, []byte("seat,set,pick\n")} {
		if _, code := check(cut, wholeKey); code != 1 {
			t.Errorf("a layout of %d bytes for %d passes", len(cut), len(good))
		}
	}

	var k map[string]any
	if err := json.Unmarshal(wholeKey, &k); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(k map[string]any){
		"digest": func(k map[string]any) { k["digest"] = seedHex },
		"salt":   func(k map[string]any) { k["salt"] = seedHex },
		"seed":   func(k map[string]any) { k["seed"] = seedHex },
		"order": func(k map[string]any) {
			set := k["layout"].(map[string]any)["seats"].([]any)[0].([]any)[0].(map[string]any)
			set["order"] = map[string]string{"AAB": "ABA", "ABA": "AAB", "BAB": "BBA", "BBA": "BAB"}[set["order"].(string)]
		},
		"cups": func(k map[string]any) {
			cups := k["cups"].(map[string]any)
			for code, lot := range cups {
				cups[code] = map[string]string{"A": "B", "B": "A"}[lot.(string)]
				return
			}
		},
		"door":          func(k map[string]any) { k["layout"].(map[string]any)["door"] = "AAAAAA" },
		"alpha":         func(k map[string]any) { k["plan"].(map[string]any)["tests"].([]any)[0].(map[string]any)["alpha"] = 0.1 },
		"title":         func(k map[string]any) { k["plan"].(map[string]any)["title"] = "Another" },
		"seats":         func(k map[string]any) { k["plan"].(map[string]any)["seats"] = 1e9 },
		"unknown field": func(k map[string]any) { k["more"] = 1 },
		"kind":          func(k map[string]any) { k["oddcup"] = "layout" },
		"version":       func(k map[string]any) { k["v"] = 2 },
		"null layout":   func(k map[string]any) { k["layout"] = nil },
		"wrong type":    func(k map[string]any) { k["plan"] = "plan" },
	} {
		var other map[string]any
		if err := json.Unmarshal(wholeKey, &other); err != nil {
			t.Fatal(err)
		}
		change(other)
		b, err := json.Marshal(other)
		if err != nil {
			t.Fatal(err)
		}
		errs, code := check(good, b)
		if code != 1 || !strings.Contains(errs, "hint") || strings.Contains(errs, "panic") {
			t.Errorf("key with another %s: code %d, %q", name, code, errs)
		}
		if name == "version" && !strings.Contains(errs, "newer") {
			t.Errorf("a newer key: %q", errs)
		}
	}
	for _, b := range [][]byte{nil, []byte("{"), wholeKey[:len(wholeKey)-9], append(slices.Clone(wholeKey), "{}"...), good} {
		if errs, code := check(good, b); code != 1 || !strings.Contains(errs, "k.json") {
			t.Errorf("a key of %d bytes: code %d, %q", len(b), code, errs)
		}
	}
}

// TestLayoutPour: the pourer's list has every cup once, with the mark of the
// vessel that the first line gives the lot which the key's cups name; no row names
// a lot.
func TestLayoutPour(t *testing.T) {
	_, path := layoutIn(t, "--method", "tetrad", "--flights", "7,6", "--sets", "2", "--untreated", "T-1", "--processed", "T-2")
	k, err := readKey(path)
	if err != nil {
		t.Fatal(err)
	}
	out, errs, code := command(t, "layout", "pour", path)
	if code != 0 {
		t.Fatal(errs)
	}
	first, list, _ := strings.Cut(out, "\n")
	marks := map[string]string{"A": "disc", "B": "diamond"}
	legend := "# vessels: disc is the untreated lot T-1; diamond is the processed lot T-2"
	if k.Layout.Disc == "B" {
		marks = map[string]string{"A": "diamond", "B": "disc"}
		legend = "# vessels: disc is the processed lot T-2; diamond is the untreated lot T-1"
	}
	if first != legend {
		t.Errorf("the first line is %q, want %q", first, legend)
	}
	for _, lot := range []string{"untreated", "processed", "T-1", "T-2"} {
		if strings.Contains(list, lot) {
			t.Errorf("below the first line the list names %s", lot)
		}
	}
	rows, err := csv.NewReader(strings.NewReader(list)).ReadAll()
	if err != nil || len(rows) != 1+13*2*2*4 || len(k.Cups) != 13*2*2*4 {
		t.Fatalf("%d rows of %d cups, %v", len(rows), len(k.Cups), err)
	}
	for _, r := range rows[1:] {
		if marks[k.Cups[r[5]]] != r[6] {
			t.Errorf("%v: the key has %s", r, k.Cups[r[5]])
		}
		delete(k.Cups, r[5])
	}
	if rows[1][1] != "1" || rows[len(rows)-1][1] != "2" || len(k.Cups) != 0 {
		t.Errorf("%v, %v, %d cups left over", rows[1], rows[len(rows)-1], len(k.Cups))
	}
}

// TestLayoutPlan: the plan of a key is a plan file; others are refused with the
// reason.
func TestLayoutPlan(t *testing.T) {
	dir := t.TempDir()
	p := session.UsualPlan()
	p.Title = "Tuesday"
	p.Tests = append([]session.TestPlan{{Method: "triangle", Goal: "difference", Sets: 1, Alpha: 0.05, Pd: 0.4, Power: 0.8, Blank: session.BlankUntreated}}, p.Tests...)
	p.Untreated, p.Processed = session.Lot{ID: "lot-1", Number: "T-1", Treatment: "untreated"}, session.Lot{ID: "lot-2", Number: "T-1", Treatment: "water"}
	write := func(name string, p session.Plan) string {
		t.Helper()
		b, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	layout, key := layoutIn(t, "--plan", write("good.json", p))
	if _, errs, code := command(t, "layout", "check", key, layout); code != 0 {
		t.Error(errs)
	}
	for _, want := range []string{"test 1,triangle", "test 3,paired-comparison,Which cup has less body?,"} {
		if !strings.Contains(string(contents(t, layout)), want) {
			t.Errorf("the layout has no %q", want)
		}
	}
	out, _, _ := command(t, "layout", "pour", key)
	if !strings.Contains(out, "; cross is a second brew of the untreated lot\n") || !strings.Contains(out, ",cross\n") {
		t.Error("the blank test's brews are not told apart")
	}

	twoSets := p
	twoSets.Tests = []session.TestPlan{{Method: "triangle", Goal: "difference", Sets: 2, Alpha: 0.05, Pd: 0.4, Power: 0.8, Beta: 0.1, Sequential: true}}
	order := p
	order.Tests = []session.TestPlan{p.Tests[2], p.Tests[1]}
	for path, want := range map[string]string{
		write("sequential.json", twoSets):      "stop early",
		write("order.json", order):             "must not come before",
		filepath.Join(dir, "none.json"):        "no such file",
		dir:                                    "folder",
		write("untitled.json", session.Plan{}): "title",
	} {
		_, errs, code := command(t, "layout", "--out", filepath.Join(dir, "x"), "--plan", path)
		if code != 1 || !strings.Contains(errs, want) || !strings.Contains(errs, "hint") {
			t.Errorf("%s: code %d, %q, want %q", path, code, errs, want)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "odd.json"), []byte(`{"title":"x","seatz":4}`), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := command(t, "layout", "--out", filepath.Join(dir, "x"), "--plan", filepath.Join(dir, "odd.json")); code != 1 || !strings.Contains(errs, "seatz") {
		t.Errorf("an unknown field: code %d, %q", code, errs)
	}
}

// TestLayoutSaysHowBallotsAreTyped: which columns a method needs, which cup is the
// reference, and by which flags a missing definition is given.
func TestLayoutSaysHowBallotsAreTyped(t *testing.T) {
	for method, want := range map[string][]string{
		"triangle": {"under seat,set,pick."},
		"tetrad":   {"under seat,set,pick,also.", "In a tetrad pick and also"},
		"duo-trio": {"under seat,set,pick.", "In a duo-trio test cup 1 is the reference"},
	} {
		out, errs, code := command(t, "layout", "--method", method, "--seats", "12", "--out", filepath.Join(t.TempDir(), "x"))
		for _, w := range want {
			if code != 0 || !strings.Contains(out, w) {
				t.Errorf("%s: no %q in %s%s", method, w, out, errs)
			}
		}
		if strings.Contains(out, "tetrad") != (method == "tetrad") || strings.Contains(out, "reference") != (method == "duo-trio") {
			t.Errorf("%s: %s", method, out)
		}
	}
	_, errs, code := command(t, "layout", "--method", "3-afc", "--attribute", "body", "--out", filepath.Join(t.TempDir(), "x"))
	if code != 2 || !strings.Contains(errs, "hint: give both, such as --attribute body --definition") {
		t.Errorf("code %d, %s", code, errs)
	}
}
