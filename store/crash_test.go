package store

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"oddcup/session"
)

// childFile is the variable that makes the test binary a child that appends to
// the file it names, until it is killed.
const childFile = "ODDCUP_STORE_TEST_CHILD"

func TestMain(m *testing.M) {
	if path := os.Getenv(childFile); path != "" {
		if err := appendForEver(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		os.Exit(1)
	}
	if path := os.Getenv(eraserFile); path != "" {
		if err := eraseAndSay(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const crashID session.ID = "tuesday"

const maxBatch = 5 // entries that the child appends at once, at most

// crashEntry is the entry with this number; it says all in itself, so that the
// parent can tell what must be there.
func crashEntry(seq uint64, head session.Hash) (session.Entry, session.Text, error) {
	reason, err := session.NewText(fmt.Sprint("reason ", seq), chance(seq))
	if err != nil {
		return session.Entry{}, reason, err
	}
	e, err := session.NewEntry(seq, head, session.Recorded{
		At: noon, Actor: session.Host, Event: &session.Voided{Seat: int(seq), Reason: reason},
	})
	return e, reason, err
}

// appendForEver goes on where the file ends, and prints the last number of each
// batch once Append has returned.
func appendForEver(path string) error {
	ctx := context.Background()
	db, err := Open(path, Options{Timeout: 5 * time.Second})
	if err != nil {
		return err
	}
	before, _, err := db.Load(ctx, crashID)
	if err != nil {
		return err
	}
	var last session.Entry
	if len(before) > 0 {
		last = before[len(before)-1]
	}
	for {
		var entries []session.Entry
		var texts []session.Text
		for range 1 + last.Seq%maxBatch {
			e, text, err := crashEntry(last.Seq+1, last.Hash)
			if err != nil {
				return err
			}
			entries, texts, last = append(entries, e), append(texts, text), e
		}
		if err := db.Append(ctx, crashID, entries, texts); err != nil {
			return err
		}
		if _, err := fmt.Println(last.Seq); err != nil {
			return err
		}
	}
}

// A child is killed at a random moment, twenty times over. What it has said is
// kept is there; beyond that at most the one batch that it had in hand.
func TestKilled(t *testing.T) {
	rng := rand.New(rand.NewPCG(newSeed(t), 0))
	path := filePath(t)
	said, stored, tails := uint64(0), uint64(0), 0
	for round := range 20 {
		n := runAndKill(t, path, rng)
		if n > 0 {
			said = n
		} else {
			said = stored // killed before it said anything: what was there stays
		}
		stored = checkKilled(t, round, path, said)
		if stored > said {
			tails++
		}
	}
	t.Logf("%d entries acknowledged, %d stored, %d rounds ended with a batch in hand", said, stored, tails)
	if said < 100 {
		t.Errorf("the children acknowledged only %d entries: the test kills too early", said)
	}
}

// runAndKill starts a child, kills it and gives the last number that it said, 0
// for none.
func runAndKill(t *testing.T, path string, rng *rand.Rand) uint64 {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childFile+"="+path)
	var complaint bytes.Buffer
	child.Stderr = &complaint
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	// Most are killed while they append; some before, while the file is made
	// or opened.
	lines := bufio.NewReader(out)
	var last uint64
	read := func() error {
		line, err := lines.ReadString('\n')
		if err != nil {
			return err // a line without its end was not said
		}
		_, err = fmt.Sscan(line, &last)
		return err
	}
	// How far it gets goes by what it said, not by a clock alone: on a busy
	// machine a child would never get to say anything.
	var readErr error
	if rng.IntN(5) > 0 {
		for range 1 + rng.IntN(30) {
			if readErr = read(); readErr != nil {
				break
			}
		}
	}
	timer := time.AfterFunc(time.Duration(rng.IntN(10_000))*time.Microsecond, func() { _ = child.Process.Kill() })
	defer timer.Stop()
	for readErr == nil {
		readErr = read()
	}
	if !errors.Is(readErr, io.EOF) {
		t.Fatalf("reading what the child says: %v", readErr)
	}
	_ = child.Wait() // it was killed, and says so
	if complaint.Len() > 0 {
		t.Fatalf("child: %s", strings.TrimSpace(complaint.String()))
	}
	return last
}

// checkKilled opens the file after a kill and gives the last number stored.
func checkKilled(t *testing.T, round int, path string, said uint64) uint64 {
	t.Helper()
	ctx := context.Background()
	db, err := Open(path, Options{Timeout: 5 * time.Second})
	if err != nil {
		t.Fatalf("round %d: %v", round, err)
	}
	defer mustClose(t, db)
	if err := db.Check(ctx); err != nil {
		t.Fatalf("round %d: %v", round, err)
	}
	entries, texts, err := db.Load(ctx, crashID)
	if err != nil {
		t.Fatalf("round %d: %v", round, err)
	}
	stored := uint64(len(entries))
	if stored < said || stored > said+maxBatch {
		t.Fatalf("round %d: %d entries were acknowledged, %d are there; want them and at most %d more", round, said, stored, maxBatch)
	}
	var head session.Hash
	for i, e := range entries {
		want, reason, err := crashEntry(uint64(i)+1, head)
		if err != nil {
			t.Fatal(err)
		}
		if head = want.Hash; e.Hash != want.Hash || texts[reason.Digest].Words != reason.Words {
			t.Fatalf("round %d: entry %d or its text is not the one appended", round, i+1)
		}
	}
	return stored
}
