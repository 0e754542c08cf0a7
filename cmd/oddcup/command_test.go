package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"oddcup/session"
	"oddcup/store"
)

// command runs the program in this process and gives what it printed.
func command(t *testing.T, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	var out, errs bytes.Buffer
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	code = exitCode(run(ctx, args, &out, &errs), &errs)
	return out.String(), errs.String(), code
}

// TestDemo runs the main job on one command.
func TestDemo(t *testing.T) {
	out, errs, code := command(t, "demo", "--once", "--seed", "1")
	if code != 0 {
		t.Fatalf("exit code %d: %s", code, errs)
	}
	for _, want := range []string{
		"of 24 found the odd cup; guessing alone gives 8 on average.",
		"of 24 picked the processed lot as the one with less body; guessing alone gives 12 on average.",
		"simulated tasters. It is invented and never counts",
		"holds, plan and layout are those sealed before anyone tasted",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the demonstration does not print %q:\n%s", want, out)
		}
	}
	again, _, _ := command(t, "demo", "--once", "--seed", "1")
	// The seal's salt and the releases differ from run to run; picks and result don't.
	if out != again {
		t.Errorf("the same seed printed something else:\n%s\n%s", out, again)
	}
	other, _, _ := command(t, "demo", "--once", "--seed", "2")
	if out == other {
		t.Error("another seed printed the same")
	}
}

// TestDemoJSON reads the result back, and holds the picks to the seed.
func TestDemoJSON(t *testing.T) {
	type result struct {
		V             int
		Demonstration bool
		Tests         []struct {
			N, Correct int
			P          float64
		}
		Seats json.RawMessage
	}
	var first string
	for i := range 2 {
		out, errs, code := command(t, "demo", "--once", "--json", "--seed", "7", "--tasters", "12", "--sets", "2")
		if code != 0 {
			t.Fatalf("exit code %d: %s", code, errs)
		}
		var r result
		if err := json.Unmarshal([]byte(out), &r); err != nil {
			t.Fatalf("%v:\n%s", err, out)
		}
		if r.V != 2 || !r.Demonstration || len(r.Tests) != 2 || r.Tests[0].N != 24 || r.Tests[1].N != 12 {
			t.Fatalf("read back %+v", r)
		}
		// Times and the session's id are those of the run.
		out = regexp.MustCompile(`"\d{4}-\d\d-\d\dT[^"]*"|"\d{8}-\d{6}-[0-9a-f]+"|"[0-9a-f]{64}"`).ReplaceAllString(out, `"-"`)
		if i == 0 {
			first = out
		} else if out != first {
			t.Errorf("the same seed gave something else:\n%s\n%s", first, out)
		}
	}
}

// TestDemoNull: without a difference most sessions are undecided.
func TestDemoNull(t *testing.T) {
	different := 0
	for _, seed := range []string{"1", "2", "3", "4", "5", "6"} {
		out, errs, code := command(t, "demo", "--once", "--dprime", "0", "--seed", seed)
		if code != 0 {
			t.Fatal(errs)
		}
		if strings.HasPrefix(out, "Yes.") {
			different++
		}
	}
	// Exact size 0.028: three or more of six have probability 0.0004.
	if different >= 3 {
		t.Errorf("%d of 6 sessions without a difference were called different", different)
	}
}

// TestDemoMethods plays every method over real sockets, in one flight and in
// several, and for each goal.
func TestDemoMethods(t *testing.T) {
	type result struct {
		ListedSeats int
		Tests       []struct {
			Method, Goal string
			N, Missing   int
			P            float64
			Outcome      string
		}
	}
	for _, c := range []struct {
		args    string
		n       int
		outcome string
	}{
		// d′ 8 is heard by everybody: the odd one of three is found nearly always.
		{"--method triangle --dprime 8 --tasters 6", 6, "different"},
		{"--method duo-trio --dprime 8 --tasters 8", 8, "different"},
		{"--method tetrad --dprime 8 --flights 6,6 --sets 2", 24, "different"},
		{"--method paired-comparison --dprime 8 --flights 4,2,2", 8, "different"},
		{"--method 3-afc --dprime 8 --tasters 9", 9, "different"},
	} {
		out, errs, code := command(t, append([]string{"demo", "--once", "--json", "--seed", "4"}, strings.Fields(c.args)...)...)
		var r result
		if err := json.Unmarshal([]byte(out), &r); err != nil || code != 0 {
			t.Fatalf("demo %s: %v, code %d: %s%s", c.args, err, code, out, errs)
		}
		method := strings.Fields(c.args)[1]
		if len(r.Tests) != 1 || r.Tests[0].Method != method || r.Tests[0].N != c.n || r.Tests[0].Missing != 0 || r.Tests[0].Outcome != c.outcome {
			t.Errorf("demo %s: %+v", c.args, r)
		}
	}
	out, errs, code := command(t, "demo", "--once", "--seed", "4", "--dprime", "0", "--goal", "both", "--tasters", "36")
	if code != 0 || !strings.Contains(out, "If 50 % of people perceived the difference") || !strings.Contains(out, "maximum of 18 for similarity") {
		t.Errorf("both goals: code %d, %s%s", code, out, errs)
	}
}

// TestRefusedCommands: bad flags, files and ports get a sentence and a next step.
func TestRefusedCommands(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "notes.txt")
	if err := os.WriteFile(text, []byte("cups to buy: 24\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	used := filepath.Join(dir, "used.oddcup")
	db, err := store.Open(used, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	newer := newerFile(t, dir)
	fresh := filepath.Join(dir, "fresh.oddcup")
	emptied := filepath.Join(dir, "emptied.oddcup")
	if err := os.WriteFile(emptied, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	lo := []string{"--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0"}
	for _, c := range []struct {
		name  string
		args  []string
		error string
	}{
		{"no such command", []string{"brew"}, "brew"},
		{"no such flag", []string{"serve", "--cups", "3"}, "--cups"},
		{"a file that is no database", append([]string{"serve", "--data", text}, lo...), "notes.txt"},
		{"a file in use", append([]string{"serve", "--data", used}, lo...), "in use"},
		{"a file of a newer version", append([]string{"serve", "--data", newer}, lo...), "newer"},
		{"a folder", append([]string{"serve", "--data", dir}, lo...), dir},
		{"a console port in use", []string{"serve", "--data", fresh, "--console", busy.Addr().String(), "--tasters", "127.0.0.1:0"}, "in use by another program"},
		{"a tasters' port in use", []string{"serve", "--data", fresh, "--console", "127.0.0.1:0", "--tasters", busy.Addr().String()}, "in use by another program"},
		{"a console open to the network", []string{"serve", "--data", fresh, "--console", "0.0.0.0:7760"}, "loopback"},
		{"an address that is none", []string{"serve", "--data", fresh, "--console", "127.0.0.1:0", "--tasters", "somewhere"}, "somewhere"},
		{"a name with a scheme", append([]string{"serve", "--data", fresh, "--name", "http://tasting.lan"}, lo...), "--name"},
		{"a name with a port", append([]string{"serve", "--data", fresh, "--name", "tasting.lan:7761"}, lo...), "--name"},
		{"a flag without its value", []string{"serve", "--data"}, "--data"},
		{"a number that is none", []string{"demo", "--once", "--tasters", "many"}, "--tasters"},
		{"a seed below nothing", []string{"demo", "--once", "--seed", "-1"}, "--seed"},
		{"a word too many", []string{"check", "now"}, "now"},
		{"no tasters", []string{"demo", "--once", "--tasters", "0"}, "2 to 500"},
		{"no sets", []string{"demo", "--once", "--sets", "0"}, "1 to 6"},
		{"no difference that is a number", []string{"demo", "--once", "--dprime", "NaN"}, "dprime"},
		{"no seats", []string{"simulate", "--sessions", "1", "--seats", "0"}, "2 to 500"},
		{"no sets to guess at", []string{"simulate", "--sessions", "1", "--sets", "0"}, "1 to 6"},
		{"more seats than codes", []string{"simulate", "--sessions", "1", "--seats", "500"}, "codes"},
		{"flights that don't add up", []string{"demo", "--once", "--tasters", "12", "--flights", "6,7"}, "flights"},
		{"two sets of a 3-AFC test", []string{"demo", "--once", "--method", "3-afc", "--sets", "2"}, "one 3-AFC test set per seat"},
		{"a difference below nothing", []string{"demo", "--once", "--dprime=-1"}, "dprime"},
		{"too many tasters", []string{"demo", "--once", "--tasters", "400"}, "codes"},
		{"one taster", []string{"demo", "--once", "--tasters", "1"}, "2 to 500"},
		{"a check of nothing", []string{"check", "--data", filepath.Join(dir, "none.oddcup")}, "none.oddcup"},
		{"a check of an emptied file", []string{"check", "--data", emptied}, "it is empty"},
		{"an import of no plain file", []string{"import", os.DevNull}, "no plain file"},
		{"ballots of no plain file", []string{"result", os.DevNull, "--method", "triangle"}, "no plain file"},
		{"a check of no database", []string{"check", "--data", text}, "notes.txt"},
		{"no sessions", []string{"simulate", "--sessions", "0"}, "outside"},
	} {
		_, errs, code := command(t, c.args...)
		if code == 0 {
			t.Errorf("%s: exit code 0", c.name)
		}
		if !strings.Contains(errs, "oddcup: error: ") || !strings.Contains(errs, c.error) {
			t.Errorf("%s: says %q, want an error with %q", c.name, errs, c.error)
		}
		if !strings.Contains(errs, "oddcup: hint: ") {
			t.Errorf("%s: names no next step: %q", c.name, errs)
		}
		if strings.Contains(errs, "panic") || strings.Contains(errs, "goroutine") {
			t.Errorf("%s: %s", c.name, errs)
		}
	}
	if b, err := os.ReadFile(text); err != nil || string(b) != "cups to buy: 24\n" {
		t.Errorf("the text file was altered: %q, %v", b, err)
	}
	if info, err := os.Stat(emptied); err != nil || info.Size() != 0 {
		t.Errorf("a check filled an emptied file: %v, %v", info, err)
	}
	if _, err := os.Stat(filepath.Join(dir, "none.oddcup")); !errorsIsNotExist(err) {
		t.Error("a check made a file")
	}
}

func errorsIsNotExist(err error) bool {
	_, isPath := err.(*fs.PathError)
	return isPath && os.IsNotExist(err)
}

// newerFile makes a file with an entry of a kind that this program doesn't know.
func newerFile(t *testing.T, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "newer.oddcup")
	db, err := store.Open(path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	err = b.Update(func(tx *bolt.Tx) error {
		v1 := tx.Bucket([]byte("v1"))
		return v1.Put([]byte("version"), []byte{0, 0, 0, 0, 0, 0, 0, 99})
	})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// TestHelp: the help names every command, and no command is like help.
func TestHelp(t *testing.T) {
	for _, args := range [][]string{{}, {"--help"}} {
		out, errs, code := command(t, args...)
		if code != 0 {
			t.Fatalf("%v: %s", args, errs)
		}
		for _, want := range []string{"serve", "demo", "check", "verify", "export", "import", "plan", "layout", "simulate", "result"} {
			if !strings.Contains(out, want) {
				t.Errorf("oddcup %v does not name %s:\n%s", args, want, out)
			}
		}
	}
}

// TestServeComesBack: what was kept is there after a stop and a new start, and a
// file that is served is not served twice.
func TestServeComesBack(t *testing.T) {
	file := filepath.Join(t.TempDir(), "lab.oddcup")
	c := startServe(t, "--data", file, "--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0")
	_, errs, code := command(t, "serve", "--data", file, "--console", "127.0.0.1:0", "--tasters", "127.0.0.1:0")
	if code == 0 || !strings.Contains(errs, "in use") {
		t.Errorf("a second start on the file: code %d, %q", code, errs)
	}
	c.kill()
	out, errs, code := command(t, "check", "--data", file)
	if code != 0 || !strings.Contains(out, "consistent with itself") {
		t.Errorf("check: code %d, %q, %q", code, out, errs)
	}
}

// TestTerminalQR: the code in the terminal is square and has its quiet zone.
func TestTerminalQR(t *testing.T) {
	code, err := terminalQR("http://192.0.2.14:7761/")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(code, "\n"), "\n")
	strip := regexp.MustCompile("\x1b\\[[0-9;]*m")
	wide := len([]rune(strip.ReplaceAllString(lines[0], "")))
	if wide < 29 || (wide+1)/2 != len(lines) {
		t.Errorf("%d modules wide, %d lines of two", wide, len(lines))
	}
	for i, l := range lines {
		l = strip.ReplaceAllString(l, "")
		if quiet := []rune(l); i < 2 && strings.TrimSpace(l) != "" || strings.TrimSpace(string(quiet[:4])) != "" {
			t.Errorf("line %d has no quiet zone: %q", i, l)
		}
	}
}

var _ session.Journal = (*store.DB)(nil)
