package main

import (
	"bufio"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestMain lets the test binary stand in for the program, so that a test can
// start a real child and kill it.
func TestMain(m *testing.M) {
	if os.Getenv("ODDCUP_TEST_CHILD") != "" {
		main()
	}
	os.Exit(m.Run())
}

// child is the program running as a process of its own.
type child struct {
	cmd     *exec.Cmd
	console string
	join    string
	waited  chan error
}

// startServe starts `oddcup serve` and waits until it has said where it listens.
func startServe(t testing.TB, args ...string) *child {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := &child{cmd: exec.Command(self, append([]string{"serve"}, args...)...), waited: make(chan error, 1)}
	c.cmd.Env = append(os.Environ(), "ODDCUP_TEST_CHILD=1")
	c.cmd.Stderr = os.Stderr
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.kill() })
	ready := make(chan bool, 1)
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			if a, ok := strings.CutPrefix(lines.Text(), "Console, for the head cupper:"); ok {
				c.console = strings.TrimSpace(a)
			}
			if a, ok := strings.CutPrefix(lines.Text(), "Tasters' phones:"); ok {
				c.join = strings.TrimSpace(a)
			}
			if strings.HasPrefix(lines.Text(), "Stop with") {
				ready <- true
			}
		}
		close(ready)
		c.waited <- c.cmd.Wait()
	}()
	select {
	case ok := <-ready:
		if !ok {
			t.Fatalf("oddcup serve %v ended before it was ready", args)
		}
	case <-time.After(30 * time.Second):
		t.Fatalf("oddcup serve %v is not ready after 30 s", args)
	}
	return c
}

// kill ends the child at once, as a power cut would end the program.
func (c *child) kill() {
	if c.cmd.Process != nil {
		c.cmd.Process.Signal(syscall.SIGKILL)
		select {
		case <-c.waited:
			c.waited <- nil
		case <-time.After(10 * time.Second):
		}
	}
}
