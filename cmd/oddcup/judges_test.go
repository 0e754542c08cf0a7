package main

import (
	"crypto/rand"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"oddcup/session"
	"oddcup/store"
)

// withJudges enters invented people into a bench file and says who had the seats of
// its revealed session.
func withJudges(t *testing.T, f benchFile) {
	t.Helper()
	db, err := store.Open(f.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rooms, err := session.NewRooms(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	defer rooms.Close()
	at := time.Date(2031, 3, 6, 12, 0, 0, 0, time.UTC)
	do := func(a session.Act) {
		t.Helper()
		at = at.Add(time.Second)
		if _, err := rooms.Lab().Do(t.Context(), session.Command{At: at, Actor: session.Host, Act: a}); err != nil {
			t.Fatal(err)
		}
	}
	do(session.SetRule{Rule: session.Rule{Name: "Level", Method: session.Triangle.Key, Kind: session.KindRoutine, Trials: 12, Mark: 8}})
	for n := 1; n <= 3; n++ {
		name, err := session.NewText(fmt.Sprintf("Invented Person%d", n), rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		do(session.EnterPerson{Facts: session.PersonFacts{Pseudonym: fmt.Sprintf("J 0%d", n), Name: name}})
		if n < 3 {
			do(session.TieSeats{Person: session.PersonID(fmt.Sprintf("p-%d", n)), Seats: []session.SeatRef{{Session: f.revealed, Seat: n}}})
		}
	}
}

const paperTable = "person,date,method,kind,control,dprime,sets,right,source\n" +
	"J 01,2024-01-02,triangle,control,brew diluted to 90 %,1.5,20,12,binder 2\n" +
	"J 01,2024-01-03,triangle,control,brew diluted to 90 %,1.5,20,11,binder 2\n" +
	"J 02,2024-01-02,triangle,control,brew diluted to 90 %,1.5,5,4,binder 2\n"

func TestJudgesCommands(t *testing.T) {
	f := newBenchFile(t)
	withJudges(t, f)
	dir := t.TempDir()
	write := func(name, table string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(table), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}

	// Nothing of a table with a fault is taken, unless that is said.
	bad := write("bad.csv", paperTable+"Nobody,2024-01-02,triangle,control,x,1,5,4,binder 2\nJ 03,2024-01-02,triangle,control,brew diluted to 90 %,1.5,5,6,binder 2\n")
	out, errs, code := command(t, "judges", "import", bad, "--data", f.path)
	if code != 1 || out != "" || !strings.Contains(errs, "line 5: nobody on the register") || !strings.Contains(errs, "line 6: 6 right of 5") ||
		!strings.Contains(errs, "nothing was taken") || !strings.Contains(errs, "--skip-bad") {
		t.Errorf("code %d, %q, %q", code, out, errs)
	}
	if out, _, code := command(t, "judges", "--data", f.path, "--json"); code != 0 || strings.Contains(out, `"right": 4`) {
		t.Errorf("code %d, and a record was taken: %s", code, out)
	}
	out, errs, code = command(t, "judges", "import", bad, "--data", f.path, "--skip-bad")
	if code != 0 || out != f.path+": 3 records taken\n2 wrong rows left out\n" || !strings.Contains(errs, "line 5") {
		t.Errorf("code %d, %q, %q", code, out, errs)
	}
	// Taken twice, every row is a fault.
	if _, errs, code := command(t, "judges", "import", write("good.csv", paperTable), "--data", f.path, "--skip-bad"); code != 1 || !strings.Contains(errs, "in the register already") {
		t.Errorf("code %d, %q", code, errs)
	}
	if _, errs, code := command(t, "judges", "import", write("empty.csv", "person,date,method,kind,sets,right,source\n"), "--data", f.path); code != 1 || !trouble(errs) {
		t.Errorf("code %d, %q", code, errs)
	}

	// A sheet for each judge would make a test of each; a day to come is a fault of its row.
	sheets := write("sheets.csv", "person,date,method,kind,control,dprime,sets,right,source\n"+
		"J 01,2024-02-02,triangle,control,thin,1,5,4,sheet 1\nJ 02,2024-02-02,triangle,control,thin,1,5,4,sheet 2\nJ 02,2099-02-02,triangle,control,thin,1,5,4,sheet 2\n")
	out, errs, code = command(t, "judges", "import", sheets, "--data", f.path, "--skip-bad")
	if code != 1 || out != "" || !strings.Contains(errs, "2 sources (“sheet 1”, “sheet 2”)") || !strings.Contains(errs, "--apart") ||
		!strings.Contains(errs, "line 4: the date 2099-02-02 is still to come") {
		t.Errorf("code %d, %q, %q", code, out, errs)
	}

	// The panel, by pseudonym unless names are asked for. Reading changes nothing.
	before := sum(t, f.path)
	out, errs, code = command(t, "judges", "--data", f.path)
	for _, want := range []string{"One has enough sets to read. J 02 and J 03 do not yet.", "23 of 40", "4 of 5", "adjusted by Holm", "A triangle by 3 judges", "seats that nobody was said to have had",
		"Signals of a drift, among each judge's last 40 sets", "Of 2 judges with a chart fewer than 0.1 would stand here by luck", "No chart has given one of late",
		"Rule “Level”\n  Nobody holds it now.\n"} {
		if code != 0 || errs != "" || !strings.Contains(out, want) {
			t.Errorf("code %d, %q: %q is missing in\n%s", code, errs, want, out)
		}
	}
	for _, args := range [][]string{{"judges"}, {"judges", "--json"}, {"judges", "show", "J 01"}, {"judges", "show", "J 01", "--json"}, {"judges", "show", "J 01", "--own"}} {
		quiet, _, code := command(t, append(args, "--data", f.path)...)
		if code != 0 || strings.Contains(quiet, "Invented Person") {
			t.Errorf("%v: code %d, or a name: %s", args, code, quiet)
		}
		if args[len(args)-1] == "--own" {
			continue
		}
		if named, _, code := command(t, append(args, "--data", f.path, "--names")...); code != 0 || !strings.Contains(named, "Invented Person1") {
			t.Errorf("%v: code %d, no name: %s", args, code, named)
		}
	}
	// 40 sets that are 23 right weigh more than 5 that are 4 right.
	out, _, _ = command(t, "judges", "--data", f.path, "--json")
	var panel panelOut
	if err := json.Unmarshal([]byte(out), &panel); err != nil {
		t.Fatal(err)
	}
	if j := panel.Judges[0]; len(panel.Judges) != 3 || j.Pseudonym != "J 01" || j.Control != (countOut{40, 23}) || j.Tests < 2 || j.DPrimeFrom > j.DPrime || panel.UntiedSeats != 1 || panel.Drift.Charts != 2 || !(panel.Drift.ByLuck < 0.05) || len(panel.Rules) != 1 || panel.Rules[0].Rule != "Level" {
		t.Errorf("%+v", panel)
	}
	out, _, _ = command(t, "judges", "--by-estimate", "--data", f.path, "--json")
	var ordered panelOut
	if err := json.Unmarshal([]byte(out), &ordered); err != nil {
		t.Fatal(err)
	}
	// Those with too few sets to read stand below, in their own order.
	var order []string
	for _, j := range ordered.Judges {
		order = append(order, j.Pseudonym)
	}
	if !slices.Equal(order, []string{"J 01", "J 02", "J 03"}) || ordered.Judges[1].Ability < ordered.Judges[2].Ability {
		t.Errorf("not in the order of estimates, too few apart: %+v", ordered.Judges)
	}

	out, _, code = command(t, "judges", "show", "j 01", "--data", f.path)
	for _, want := range []string{"By method and difficulty", "“brew diluted to 90 %”: 23 right of 40 sets", "No series was begun.", "on paper", string(f.revealed), "Counts: a control of known size.",
		fmt.Sprintf("By the rule “Level”, undecided: %d right of 1 set from ", panel.Judges[0].Routine.Right), "11 more to a whole block."} {
		if code != 0 || !strings.Contains(out, want) {
			t.Errorf("code %d: %q is missing in\n%s", code, want, out)
		}
	}
	if _, errs, code := command(t, "judges", "show", "J 09", "--data", f.path); code != 1 || !trouble(errs) {
		t.Errorf("code %d, %q", code, errs)
	}

	// The table: a row a set of the revealed session, a row a record.
	table := filepath.Join(dir, "records.csv")
	if out, errs, code := command(t, "judges", "export", "--data", f.path, "--out", table); code != 0 || out != table+": 3 sets and 3 records from paper, people by pseudonym\n" {
		t.Errorf("code %d, %q, %q", code, out, errs)
	}
	file, err := os.Open(table)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if rows, err := csv.NewReader(file).ReadAll(); err != nil || len(rows) != 1+6 || rows[1][0] != "J 01" || rows[3][0] != "" {
		t.Errorf("%v, %v", rows, err)
	}
	if _, errs, code := command(t, "judges", "export", "--data", f.path, "--out", table); code != 1 || !trouble(errs) {
		t.Errorf("written over: code %d, %q", code, errs)
	}
	if sum(t, f.path) != before {
		t.Error("reading altered the data file")
	}

	if out, errs, code := command(t, "judges", "import", sheets, "--data", f.path, "--skip-bad", "--apart"); code != 0 || out != f.path+": 2 records taken\n1 wrong row left out\n" {
		t.Errorf("code %d, %q, %q", code, out, errs)
	}

	// No command makes a file that is not there.
	none := filepath.Join(dir, "none.oddcup")
	for _, args := range [][]string{{"judges"}, {"judges", "show", "J 01"}, {"judges", "import", bad}, {"judges", "export", "--out", filepath.Join(dir, "x.csv")}} {
		if _, errs, code := command(t, append(args, "--data", none)...); code != 1 || !trouble(errs) {
			t.Errorf("%v: code %d, %q", args, code, errs)
		}
	}
	if _, err := os.Stat(none); err == nil {
		t.Error("a data file was made")
	}
}

// The words of the simulation and its JSON say one thing, and the rates lie within
// the stated ones; what the procedures find is held in the package stats.
func TestJudgesSimulate(t *testing.T) {
	out, errs, code := command(t, "judges", "simulate", "--panels", "12", "--json")
	if code != 0 {
		t.Fatalf("code %d, %q", code, errs)
	}
	var sim judgesSimulateOut
	if err := json.Unmarshal([]byte(out), &sim); err != nil {
		t.Fatal(err)
	}
	if len(sim.Kinds) != 3 || sim.Level != 0.05 || len(sim.Kinds[2].Judges) != 5 {
		t.Fatalf("%+v", sim)
	}
	for _, k := range sim.Kinds {
		for _, n := range []anyOut{k.AnyFlag, k.AnyDrift} {
			if n.Count > n.High || n.High < 1 || n.High > 5 {
				t.Errorf("%s: %+v", k.Name, n)
			}
		}
	}
	odd := sim.Kinds[2].Judges
	if odd[2].Name != "guessing" || odd[2].Weak < 10 || odd[3].Strong < 10 || odd[4].Strong > 2 || odd[1].Drifting < 5 {
		t.Errorf("%+v", odd)
	}
	words, _, _ := command(t, "judges", "simulate", "--panels", "12")
	for _, want := range []string{"twelve of equal ability, d′ 1.5", "stated at most 0.05", "brilliant, five tests", "every\n500 tests, among the last 40 sets", fmt.Sprintf("%d of 12 panels", sim.Kinds[0].AnyFlag.Count)} {
		if !strings.Contains(words, want) {
			t.Errorf("%q is missing in\n%s", want, words)
		}
	}
	if _, errs, code := command(t, "judges", "simulate", "--panels", "0"); code != 2 || !trouble(errs) {
		t.Errorf("code %d, %q", code, errs)
	}
}
